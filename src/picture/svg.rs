//! A scene as a file of its own: Scalable Vector Graphics 1.1 (W3C, 2011).

use std::fmt::Write as _;

use super::Anchor;
use super::Drawing;
use super::Form;
use super::Pen;
use super::Point;
use super::Shape;

/// Hundredths as a decimal with two places, whatever the size.
fn fixed(hundredths: i64) -> String {
    let sign = if hundredths < 0 { "-" } else { "" };
    let size = hundredths.unsigned_abs();
    format!("{sign}{}.{:02}", size / 100, size % 100)
}

/// Text between tags or in quotes. What XML 1.0 (2.2) has no character for becomes a space.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

fn grey(tone: u8) -> String {
    let level = (u32::from(tone.min(100)) * 255 + 50) / 100;
    format!("#{level:02x}{level:02x}{level:02x}")
}

fn listed(points: &[Point]) -> String {
    let each = points.iter().map(|(x, y)| format!("{},{}", fixed(*x), fixed(*y)));
    each.collect::<Vec<_>>().join(" ")
}

fn stroke(pen: &Pen) -> String {
    let mut out =
        format!("fill=\"none\" stroke=\"{}\" stroke-width=\"{}\"", grey(pen.tone), fixed(pen.width));
    if let Some((on, off)) = pen.dash.pattern() {
        let _ = write!(out, " stroke-dasharray=\"{} {}\"", fixed(on), fixed(off));
    }
    out
}

fn path(out: &mut String, segments: &[(Point, Point)], look: &str) {
    let each = segments.iter().map(|((x, y), (to_x, to_y))| {
        format!("M{} {}L{} {}", fixed(*x), fixed(*y), fixed(*to_x), fixed(*to_y))
    });
    let data = each.collect::<Vec<_>>().join("");
    let _ = writeln!(out, "<path d=\"{data}\" {look}/>");
}

fn shape(out: &mut String, shape: &Shape) {
    match shape {
        Shape::Line { from, to, pen } => path(out, &[(*from, *to)], &stroke(pen)),
        Shape::Hatch { strokes, pen } => path(out, strokes, &stroke(pen)),
        Shape::Polyline { points, pen } => {
            let _ = writeln!(
                out,
                "<polyline points=\"{}\" stroke-linejoin=\"round\" {}/>",
                listed(points),
                stroke(pen)
            );
        }
        Shape::Polygon { points, tone } => {
            let (points, fill) = (listed(points), grey(*tone));
            let _ = writeln!(out, "<polygon points=\"{points}\" fill=\"{fill}\" fill-rule=\"evenodd\"/>");
        }
        Shape::Mark { at: (x, y), radius, form } => {
            let (cx, cy) = (fixed(*x), fixed(*y));
            match form {
                Form::Dot => {
                    let _ = writeln!(out, "<circle cx=\"{cx}\" cy=\"{cy}\" r=\"{}\"/>", fixed(*radius));
                }
                Form::Ring => {
                    let radius = fixed(radius.saturating_sub(40).max(0));
                    let look = "fill=\"#ffffff\" stroke=\"#000000\" stroke-width=\"0.80\"";
                    let _ = writeln!(out, "<circle cx=\"{cx}\" cy=\"{cy}\" r=\"{radius}\" {look}/>");
                }
                Form::Cross => {
                    let (left, right) = (x.saturating_sub(*radius), x.saturating_add(*radius));
                    let (top, low) = (y.saturating_sub(*radius), y.saturating_add(*radius));
                    let strokes = [((left, top), (right, low)), ((left, low), (right, top))];
                    path(out, &strokes, "fill=\"none\" stroke=\"#000000\" stroke-width=\"1.10\"");
                }
            }
        }
        Shape::Text { anchor, at: (x, y), size, bold, content } => {
            let anchor = match anchor {
                Anchor::Start => "",
                Anchor::Middle => " text-anchor=\"middle\"",
                Anchor::End => " text-anchor=\"end\"",
            };
            let weight = if *bold { " font-weight=\"bold\"" } else { "" };
            let _ = writeln!(
                out,
                "<text x=\"{}\" y=\"{}\" font-size=\"{}\"{anchor}{weight}>{}</text>",
                fixed(*x),
                fixed(*y),
                fixed(*size),
                escaped(content)
            );
        }
    }
}

/// Room left around the drawing, 6 pt: a face wider than the one texts were reckoned with is not cut off.
const MARGIN: i64 = 600;

/// The drawing as a standalone SVG 1.1 file in UTF-8, its title and description inside; one unit is one
/// point. The same drawing always gives the same bytes.
pub fn to_svg(drawing: &Drawing) -> String {
    let both = MARGIN.saturating_mul(2);
    let (width, height) =
        (fixed(drawing.width.saturating_add(both)), fixed(drawing.height.saturating_add(both)));
    let corner = fixed(-MARGIN);
    let mut out = String::from("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
    let _ = writeln!(
        out,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" version=\"1.1\" width=\"{width}pt\" height=\"{height}pt\" \
         viewBox=\"{corner} {corner} {width} {height}\" font-family=\"sans-serif\" role=\"img\">"
    );
    let _ = writeln!(out, "<title>{}</title>", escaped(&drawing.title));
    let _ = writeln!(out, "<desc>{}</desc>", escaped(&drawing.description));
    for each in &drawing.shapes {
        shape(&mut out, each);
    }
    out.push_str("</svg>\n");
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_and_texts_by_hand() {
        assert_eq!([fixed(0), fixed(5), fixed(-5), fixed(12_345)], ["0.00", "0.05", "-0.05", "123.45"]);
        assert_eq!(fixed(i64::MIN), "-92233720368547758.08");
        assert_eq!(escaped("a<b & \"c\"\u{1}"), "a&lt;b &amp; &quot;c&quot; ");
        assert_eq!([grey(0), grey(100), grey(50), grey(255)], ["#000000", "#ffffff", "#808080", "#ffffff"]);
    }
}
