//! From placed rows to page operations, each piece of text marked with its structure element and
//! everything else marked as decoration.

mod lines;

use std::collections::BTreeMap;

use printpdf::Color;
use printpdf::CurTransMat;
use printpdf::DictItem;
use printpdf::FontId;
use printpdf::Op;
use printpdf::PaintMode;
use printpdf::PdfFontHandle;
use printpdf::Pt;
use printpdf::Rect;
use printpdf::Rgb;
use printpdf::TextMatrix;
use printpdf::XObjectId;
use printpdf::XObjectTransform;

use super::error::PdfError;
use super::fonts::Fonts;
use super::rows::Align;
use super::rows::Cell;
use super::rows::Ink;
use super::rows::Line;
use super::rows::Row;
use super::subset::Codes;
use super::subset::FontKey;
use super::tags::NodeId;
use super::tags::Tags;

/// The name of the QR symbol in the pages' resources.
pub(super) const SYMBOL: &str = "Qr";

/// Points, rounded to a hundredth: enough for print, and the same digits everywhere.
fn pt(value: f64) -> f32 {
    ((value * 100.0).round() / 100.0) as f32
}

fn colour(red: f32, green: f32, blue: f32) -> Color {
    Color::Rgb(Rgb { r: red, g: green, b: blue, icc_profile: None })
}

fn ink(ink: Ink) -> Color {
    match ink {
        Ink::Black => colour(0.0, 0.0, 0.0),
        Ink::Slate => colour(0.09, 0.17, 0.26),
        Ink::Grey => colour(0.31, 0.33, 0.36),
    }
}

/// One page while it is drawn.
pub(super) struct Canvas<'a, 'u> {
    fonts: &'a Fonts,
    codes: &'a mut Codes<'u>,
    tags: &'a mut Tags,
    page: usize,
    height: f64,
    ops: Vec<Op>,
}

impl<'a, 'u> Canvas<'a, 'u> {
    /// A blank page, `height` points high.
    pub(super) fn new(
        fonts: &'a Fonts,
        codes: &'a mut Codes<'u>,
        tags: &'a mut Tags,
        page: usize,
        height: f64,
    ) -> Canvas<'a, 'u> {
        Canvas { fonts, codes, tags, page, height, ops: Vec::new() }
    }

    /// The finished page's operations.
    pub(super) fn into_ops(self) -> Vec<Op> {
        self.ops
    }

    fn open(&mut self, node: Option<NodeId>) {
        match node {
            Some(node) => {
                let number = self.tags.mark(node, self.page);
                let number = DictItem::Int(i64::try_from(number).unwrap_or_default());
                let map = BTreeMap::from([("MCID".to_owned(), number)]);
                self.ops.push(Op::BeginMarkedContentWithProperties {
                    tag: self.tags.name(node).to_owned(),
                    properties: DictItem::Dict { map },
                });
            }
            None => self.ops.push(Op::BeginMarkedContent { tag: "Artifact".to_owned() }),
        }
    }

    fn close(&mut self) {
        self.ops.push(Op::EndMarkedContent);
    }

    /// A filled box as decoration; `top` counts from the top of the page.
    pub(super) fn fill(&mut self, x: f64, top: f64, width: f64, height: f64, tone: [f32; 3]) {
        self.open(None);
        let [red, green, blue] = tone;
        self.ops.push(Op::SetFillColor { col: colour(red, green, blue) });
        self.ops.push(Op::DrawRectangle {
            rectangle: Rect {
                x: Pt(pt(x)),
                y: Pt(pt(self.height - top - height)),
                width: Pt(pt(width)),
                height: Pt(pt(height)),
                mode: Some(PaintMode::Fill),
                winding_order: None,
            },
        });
        self.close();
    }

    /// A horizontal line as decoration, its middle at `y`.
    pub(super) fn rule(&mut self, x: f64, y: f64, width: f64, thickness: f64, tone: [f32; 3]) {
        self.fill(x, y - thickness / 2.0, width, thickness, tone);
    }

    /// The QR symbol in a square, as content of `node` or as decoration.
    pub(super) fn symbol(&mut self, x: f64, top: f64, side: f64, node: Option<NodeId>) {
        self.open(node);
        self.ops.push(Op::SaveGraphicsState);
        self.ops.push(Op::SetFillColor { col: ink(Ink::Black) });
        let place = [pt(side), 0.0, 0.0, pt(side), pt(x), pt(self.height - top - side)];
        self.ops.push(Op::SetTransformationMatrix { matrix: CurTransMat::Raw(place) });
        let id = XObjectId(SYMBOL.to_owned());
        self.ops.push(Op::UseXobject { id, transform: XObjectTransform::default() });
        self.ops.push(Op::RestoreGraphicsState);
        self.close();
    }

    /// A row whose left edge is at `x` and whose top edge is at `y`.
    ///
    /// # Errors
    /// [`PdfError::Engine`] when a certificate uses too many different glyphs.
    pub(super) fn row(
        &mut self,
        row: &Row,
        x: f64,
        y: f64,
        width: f64,
        structured: bool,
    ) -> Result<(), PdfError> {
        let height = row.height();
        if row.framed {
            self.fill(x, y, width, height, [0.945, 0.95, 0.955]);
            self.fill(x, y, 3.0, height, [0.09, 0.17, 0.26]);
        }
        if row.tinted {
            // Below the line of the row above, not over it.
            self.fill(x, y + 0.3, width, height - 0.3, [0.945, 0.95, 0.955]);
        }
        for (from, wide) in &row.boxes {
            let (left, top, low) = (x + from, y + 1.6, height - 3.2);
            let tone = [0.35, 0.37, 0.4];
            self.fill(left, top, *wide, 0.7, tone);
            self.fill(left, top + low - 0.7, *wide, 0.7, tone);
            self.fill(left, top, 0.7, low, tone);
            self.fill(left + wide - 0.7, top, 0.7, low, tone);
        }
        for cell in &row.cells {
            self.cell(cell, x, y + row.pad_top, structured)?;
        }
        if row.rule > 0.0 {
            let tone = if row.rule >= 0.6 { [0.09, 0.17, 0.26] } else { [0.62, 0.64, 0.66] };
            self.rule(x, y + height, width, row.rule, tone);
        }
        Ok(())
    }

    /// A cell in a row whose text begins at `y`.
    pub(super) fn cell(&mut self, cell: &Cell, x: f64, y: f64, structured: bool) -> Result<(), PdfError> {
        let mut top = y;
        let mut lines = cell.lines.iter().peekable();
        while let Some(first) = lines.next() {
            // Lines of one element that follow each other share a mark.
            let mut group = vec![first];
            while let Some(next) = lines.next_if(|next| next.node == first.node) {
                group.push(next);
            }
            self.open(structured.then_some(first.node));
            for line in group {
                let indent = match cell.align {
                    Align::Left => 0.0,
                    Align::Right => cell.width - line.text.width,
                    Align::Middle => (cell.width - line.text.width) / 2.0,
                };
                self.line(line, x + cell.x + indent, top + line.baseline)?;
                top += line.height;
            }
            self.close();
        }
        Ok(())
    }

    /// A line of text with its baseline at `y`.
    fn line(&mut self, line: &Line, x: f64, y: f64) -> Result<(), PdfError> {
        if line.text.words.is_empty() {
            return Ok(());
        }
        self.ops.push(Op::StartTextSection);
        self.ops.push(Op::SetFillColor { col: ink(line.ink) });
        let mut writer = Writer::new(line.size, x);
        let base = self.height - y;
        for run in line.text.words.iter().flat_map(|word| &word.runs) {
            for glyph in &run.glyphs {
                let (key, code) = self.codes.code(run.face, glyph.gid, &glyph.text)?;
                let x = writer.pen + glyph.shift.0 * line.size / 1000.0;
                if writer.key != Some(key) || writer.rise != glyph.shift.1 {
                    writer.flush(&mut self.ops);
                    if writer.key != Some(key) {
                        let font = PdfFontHandle::External(FontId(key.name().to_owned()));
                        self.ops.push(Op::SetFont { font, size: Pt(pt(line.size)) });
                    }
                    let height = base + glyph.shift.1 * line.size / 1000.0;
                    let place = [1.0, 0.0, 0.0, 1.0, pt(x), pt(height)];
                    self.ops.push(Op::SetTextMatrix { matrix: TextMatrix::Raw(place) });
                    writer.key = Some(key);
                    writer.rise = glyph.shift.1;
                    writer.drawn = f64::from(pt(x));
                }
                writer.glyph(code, x, self.fonts.face(run.face).advance(glyph.gid), glyph.advance);
            }
        }
        writer.flush(&mut self.ops);
        self.ops.push(Op::EndTextSection);
        Ok(())
    }
}

/// Collects the glyphs of one font on one baseline.
struct Writer {
    size: f64,
    /// Where the next glyph stands by the shaper's reckoning.
    pen: f64,
    /// Where a viewer's pen is, which knows the font's widths alone.
    drawn: f64,
    key: Option<FontKey>,
    rise: f64,
    /// The operand of `TJ`: codes, and moves between them.
    shown: Vec<DictItem>,
    codes: Vec<u8>,
}

impl Writer {
    fn new(size: f64, x: f64) -> Writer {
        Writer { size, pen: x, drawn: x, key: None, rise: 0.0, shown: Vec::new(), codes: Vec::new() }
    }

    /// Appends a glyph to be drawn at `x`; `width` is the font's own, `advance` the shaper's.
    fn glyph(&mut self, code: u16, x: f64, width: f64, advance: f64) {
        // In thousandths of the em, to the left when positive (ISO 32000-1, 9.4.3); what is less
        // than one is not worth writing down.
        let away = ((self.drawn - x) * 1000.0 / self.size).round();
        if away != 0.0 && !self.codes.is_empty() {
            self.shown.push(DictItem::String { data: std::mem::take(&mut self.codes), literal: true });
            self.shown.push(DictItem::Real(away as f32));
            self.drawn -= away * self.size / 1000.0;
        }
        self.codes.extend(code.to_be_bytes());
        self.drawn += width * self.size / 1000.0;
        self.pen += advance * self.size / 1000.0;
    }

    fn flush(&mut self, ops: &mut Vec<Op>) {
        if !self.codes.is_empty() {
            self.shown.push(DictItem::String { data: std::mem::take(&mut self.codes), literal: true });
            // The library's own operation writes each glyph as a string of its own, at three
            // times the size.
            let value = vec![DictItem::Array(std::mem::take(&mut self.shown))];
            ops.push(Op::Unknown { key: "TJ".to_owned(), value });
        }
    }
}
