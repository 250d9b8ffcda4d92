//! A picture on a page: the scene of layer 3, its lines and fills as decoration, its texts in the page's own fonts and
//! in its structure, so that what it says can be read aloud.

use super::draw::Canvas;
use super::error::PdfError;
use super::fonts::Face;
use super::layout::Layout;
use super::layout::Look;
use super::rows::Align;
use super::rows::Cell;
use super::rows::Ink;
use super::tags::NodeId;
use crate::picture::Anchor;
use crate::picture::Drawing;
use crate::picture::Form;
use crate::picture::Pen;
use crate::picture::Point;
use crate::picture::Shape;

/// Points of a hundredth: a scene counts in these.
const UNIT: f64 = 100.0;
/// Room kept right of a text, so that rounding never breaks a line in two.
const SPARE: f64 = 24.0;

/// A picture laid out: its texts are shaped, its place on the page is not yet known.
pub(super) struct Laid {
    /// Its height, in points.
    pub(super) height: f64,
    /// Its width, in points.
    pub(super) width: f64,
    /// What stands for it, for those who cannot see it.
    pub(super) alt: String,
    /// The structure element of the figure.
    pub(super) node: NodeId,
    texts: Vec<(Cell, f64)>,
    drawing: Drawing,
}

/// How a line is broken up: drawn and left out, in points.
fn dash(pen: &Pen) -> Option<(f32, f32)> {
    pen.dash.pattern().map(|(drawn, left_out)| (drawn as f32 / 100.0, left_out as f32 / 100.0))
}

fn tone(per_cent: u8) -> f32 {
    f32::from(per_cent.min(100)) / 100.0
}

fn length(value: i64) -> f64 {
    value as f64 / UNIT
}

/// Lays a picture out; its texts belong to `node`.
///
/// # Errors
/// [`PdfError::NoGlyph`].
pub(super) fn lay(drawing: Drawing, layout: &mut Layout<'_, '_>, node: NodeId) -> Result<Laid, PdfError> {
    let mut texts = Vec::new();
    for shape in &drawing.shapes {
        let Shape::Text { anchor, at, size, bold, content } = shape else { continue };
        let face = if *bold { Face::Strong } else { Face::Text };
        let size = length(*size);
        let look = Look { face, size, leading: size * 1.2, ink: Ink::Black };
        let wide = layout.width + 2.0 * SPARE;
        let mut cell = layout.cell(content, look, 0.0, wide, node)?;
        let own = cell.lines.first().map_or(0.0, |line| line.text.width);
        cell.align = Align::Left;
        cell.x = length(at.0)
            - match anchor {
                Anchor::Start => 0.0,
                Anchor::Middle => own / 2.0,
                Anchor::End => own,
            };
        let top = length(at.1) - cell.lines.first().map_or(0.0, |line| line.baseline);
        texts.push((cell, top));
    }
    let alt = format!("{}. {}", drawing.title, drawing.description);
    Ok(Laid { height: length(drawing.height), width: length(drawing.width), alt, node, texts, drawing })
}

impl Laid {
    /// Draws it with its top left corner at `x`, `y`.
    ///
    /// # Errors
    /// As [`Canvas::cell`].
    pub(super) fn draw(&self, canvas: &mut Canvas<'_, '_>, x: f64, y: f64) -> Result<(), PdfError> {
        let place = |point: &Point| (x + length(point.0), y + length(point.1));
        for shape in &self.drawing.shapes {
            match shape {
                Shape::Line { from, to, pen } => {
                    let line = vec![place(from), place(to)];
                    canvas.strokes(&[line], length(pen.width), tone(pen.tone), dash(pen));
                }
                Shape::Polyline { points, pen } => {
                    let line = points.iter().map(place).collect();
                    canvas.strokes(&[line], length(pen.width), tone(pen.tone), dash(pen));
                }
                Shape::Polygon { points, tone: grey } => {
                    let points: Vec<_> = points.iter().map(place).collect();
                    canvas.area(&points, tone(*grey));
                }
                Shape::Hatch { strokes, pen } => {
                    let lines: Vec<_> = strokes.iter().map(|(a, b)| vec![place(a), place(b)]).collect();
                    canvas.strokes(&lines, length(pen.width), tone(pen.tone), dash(pen));
                }
                Shape::Mark { at, radius, form } => mark(canvas, place(at), length(*radius), *form),
                Shape::Text { .. } => {}
            }
        }
        for (cell, top) in &self.texts {
            canvas.cell(cell, x, y + top, true)?;
        }
        Ok(())
    }
}

/// Sine and cosine of 45 degrees.
const DIAGONAL: f64 = std::f64::consts::FRAC_1_SQRT_2;

/// Corners of the polygon a small circle is drawn as; more are not seen in print.
const CORNERS: [(f64, f64); 16] = [
    (1.0, 0.0),
    (0.923_88, 0.382_68),
    (DIAGONAL, DIAGONAL),
    (0.382_68, 0.923_88),
    (0.0, 1.0),
    (-0.382_68, 0.923_88),
    (-DIAGONAL, DIAGONAL),
    (-0.923_88, 0.382_68),
    (-1.0, 0.0),
    (-0.923_88, -0.382_68),
    (-DIAGONAL, -DIAGONAL),
    (-0.382_68, -0.923_88),
    (0.0, -1.0),
    (0.382_68, -0.923_88),
    (DIAGONAL, -DIAGONAL),
    (0.923_88, -0.382_68),
];

fn mark(canvas: &mut Canvas<'_, '_>, (x, y): (f64, f64), radius: f64, form: Form) {
    let circle = |radius: f64| -> Vec<(f64, f64)> {
        CORNERS.iter().map(|(across, down)| (x + across * radius, y + down * radius)).collect()
    };
    match form {
        Form::Dot => canvas.area(&circle(radius), 0.0),
        Form::Ring => {
            canvas.area(&circle(radius), 0.0);
            canvas.area(&circle((radius - 0.8).max(0.0)), 1.0);
        }
        Form::Cross => {
            let down = vec![(x - radius, y - radius), (x + radius, y + radius)];
            let up = vec![(x - radius, y + radius), (x + radius, y - radius)];
            canvas.strokes(&[down, up], 1.1, 0.0, None);
        }
    }
}
