//! From a description to rows: styles, columns, tables, and the structure that goes with them.

use super::description::Block;
use super::description::Para;
use super::description::Style;
use super::error::PdfError;
use super::fonts::Face;
use super::picture;
use super::picture::Laid;
use super::rows::Align;
use super::rows::Cell;
use super::rows::Ink;
use super::rows::Line;
use super::rows::Row;
use super::shape::Shaper;
use super::tags::NodeId;
use super::tags::Role;
use super::tags::Tags;
use crate::certificate::Picture;

/// Space between columns, in points.
pub(super) const GUTTER: f64 = 9.0;
/// Space at the left of a frame, which its bar stands in.
const BAR: f64 = 10.0;
/// Width of the labels of facts.
const LABEL: f64 = 76.0;
/// How high the pieces of a row are that is too tall for one: low enough to fill pages well.
const PIECE: f64 = 56.0;
/// Room for a list's bullet.
const BULLET: f64 = 11.0;

/// Size and look of a text.
#[derive(Debug, Clone, Copy)]
pub(super) struct Look {
    pub(super) face: Face,
    pub(super) size: f64,
    pub(super) leading: f64,
    pub(super) ink: Ink,
}

const fn look(face: Face, size: f64, leading: f64, ink: Ink) -> Look {
    Look { face, size, leading, ink }
}

pub(super) const TITLE: Look = look(Face::Strong, 19.0, 22.0, Ink::Slate);
pub(super) const NUMBER: Look = look(Face::Strong, 11.5, 14.5, Ink::Black);
pub(super) const SMALL: Look = look(Face::Text, 8.0, 10.4, Ink::Grey);
pub(super) const BANNER: Look = look(Face::Strong, 8.6, 11.2, Ink::Black);
pub(super) const DIGEST: Look = look(Face::Mono, 6.9, 9.0, Ink::Black);
const BODY: Look = look(Face::Text, 9.2, 12.0, Ink::Black);
const STRONG: Look = look(Face::Strong, 9.6, 12.4, Ink::Black);
const LABELS: Look = look(Face::Text, 8.0, 11.0, Ink::Grey);
const STATEMENT: Look = look(Face::Strong, 10.6, 14.2, Ink::Black);
const HEADING_2: Look = look(Face::Strong, 12.4, 15.6, Ink::Slate);
const HEADING_3: Look = look(Face::Strong, 9.4, 12.0, Ink::Slate);
pub(super) const CELL: Look = look(Face::Text, 8.5, 10.8, Ink::Black);
pub(super) const CELL_HEAD: Look = look(Face::Strong, 7.9, 10.2, Ink::Slate);
pub(super) const ACROSS: Look = look(Face::Strong, 8.3, 10.8, Ink::Black);
pub(super) const NOTE: Look = look(Face::Text, 8.0, 10.2, Ink::Grey);

fn of(style: Style) -> Look {
    match style {
        Style::Body => BODY,
        Style::Strong => STRONG,
        Style::Small => SMALL,
        Style::Label => LABELS,
        Style::Mono => DIGEST,
        Style::Statement => STATEMENT,
    }
}

/// Builds the rows of a document.
pub(super) struct Layout<'s, 'f> {
    pub(super) shaper: &'s mut Shaper<'f>,
    pub(super) tags: Tags,
    pub(super) rows: Vec<Row>,
    /// Table heads and group rows, to be repeated.
    pub(super) heads: Vec<Row>,
    /// Pictures, each with the row that holds its room open.
    pub(super) pictures: Vec<(usize, Laid)>,
    pub(super) width: f64,
    /// Whether the next row begins a page.
    break_next: bool,
    /// Rows taller than this are cut.
    most: f64,
    /// How much height is left before the document is taken for a mistake.
    left: f64,
}

impl<'s, 'f> Layout<'s, 'f> {
    /// For a body `width` wide, whose rows are at most `most` high and all together `left`.
    pub(super) fn new(
        shaper: &'s mut Shaper<'f>,
        tags: Tags,
        width: f64,
        most: f64,
        left: f64,
    ) -> Layout<'s, 'f> {
        Layout {
            shaper,
            tags,
            rows: Vec::new(),
            heads: Vec::new(),
            pictures: Vec::new(),
            width,
            break_next: false,
            most,
            left,
        }
    }

    /// Lines of a text that belong to one structure element.
    pub(super) fn lines(
        &mut self,
        text: &str,
        look: Look,
        width: f64,
        node: NodeId,
    ) -> Result<Vec<Line>, PdfError> {
        let broken = self.shaper.wrap(text, look.face, look.size, width)?;
        // The baseline sits where capitals stand in the middle of the line's height.
        let baseline = (look.leading + look.size * 0.66) / 2.0;
        Ok(broken
            .into_iter()
            .map(|text| Line { text, size: look.size, ink: look.ink, height: look.leading, baseline, node })
            .collect())
    }

    /// A cell with one text.
    pub(super) fn cell(
        &mut self,
        text: &str,
        look: Look,
        x: f64,
        width: f64,
        node: NodeId,
    ) -> Result<Cell, PdfError> {
        Ok(Cell { x, width, align: Align::Left, lines: self.lines(text, look, width, node)? })
    }

    /// Adds a row, cut where it is too tall.
    ///
    /// # Errors
    /// [`PdfError::TooLong`].
    pub(super) fn push(&mut self, mut row: Row) -> Result<(), PdfError> {
        row.begins_page = std::mem::take(&mut self.break_next);
        self.left -= row.height();
        if self.left < 0.0 {
            return Err(PdfError::TooLong { limit: super::MOST_PAGES });
        }
        self.rows.extend(row.split(self.most, PIECE));
        Ok(())
    }

    /// Lays out blocks under a structure element.
    ///
    /// # Errors
    /// [`PdfError::NoGlyph`] for a character no font can draw, [`PdfError::TooLong`].
    pub(super) fn blocks(&mut self, blocks: &[Block], parent: NodeId) -> Result<(), PdfError> {
        for block in blocks {
            self.block(block, parent)?;
        }
        Ok(())
    }

    fn block(&mut self, block: &Block, parent: NodeId) -> Result<(), PdfError> {
        match block {
            Block::Heading { level, text } => self.heading(*level, text, parent),
            Block::Text { style, text } => self.paragraph(of(*style), text, parent),
            Block::Sides { left, right } => self.sides(left, right, parent),
            Block::Facts { columns, pairs } => self.facts(*columns, pairs, parent),
            Block::Table { columns, rows } => self.table(columns, rows, parent),
            Block::List { items } => self.list(items, parent),
            Block::Frame { paras } => self.frame(paras, parent),
            Block::Keep { blocks } => {
                let first = self.rows.len();
                self.blocks(blocks, parent)?;
                let last = self.rows.len().saturating_sub(1);
                for row in self.rows.get_mut(first..last).unwrap_or_default() {
                    row.keep_next = true;
                }
                Ok(())
            }
            Block::Picture { of } => self.picture(of, parent),
            Block::NewPage => {
                self.break_next = true;
                Ok(())
            }
            Block::End { text } => self.end(text, parent),
            Block::Nothing => Ok(()),
        }
    }

    fn heading(&mut self, level: u8, text: &str, parent: NodeId) -> Result<(), PdfError> {
        let (role, look, space, rule) = match level {
            2 => (Role::H2, HEADING_2, 13.0, 0.7),
            _ => (Role::H3, HEADING_3, 7.5, 0.0),
        };
        let node = self.tags.add(parent, role);
        let cell = self.cell(text, look, 0.0, self.width, node)?;
        let pad_bottom = if rule > 0.0 { 1.5 } else { 0.5 };
        self.push(Row { cells: vec![cell], space, pad_bottom, rule, keep_next: true, ..Row::default() })
    }

    fn paragraph(&mut self, look: Look, text: &str, parent: NodeId) -> Result<(), PdfError> {
        let node = self.tags.add(parent, Role::Paragraph);
        let cell = self.cell(text, look, 0.0, self.width, node)?;
        self.push(Row { cells: vec![cell], space: 4.0, ..Row::default() })
    }

    fn stacked(&mut self, paras: &[Para], x: f64, width: f64, parent: NodeId) -> Result<Cell, PdfError> {
        let mut lines = Vec::new();
        for para in paras {
            let node = self.tags.add(parent, Role::Paragraph);
            lines.extend(self.lines(&para.text, of(para.style), width, node)?);
        }
        Ok(Cell { x, width, align: Align::Left, lines })
    }

    fn sides(&mut self, left: &[Para], right: &[Para], parent: NodeId) -> Result<(), PdfError> {
        let width = (self.width - 2.0 * GUTTER) / 2.0;
        let first = self.tags.add(parent, Role::Section);
        let left = self.stacked(left, 0.0, width, first)?;
        let second = self.tags.add(parent, Role::Section);
        let right = self.stacked(right, width + 2.0 * GUTTER, width, second)?;
        self.push(Row { cells: vec![left, right], space: 8.0, ..Row::default() })
    }

    fn frame(&mut self, paras: &[Para], parent: NodeId) -> Result<(), PdfError> {
        let section = self.tags.add(parent, Role::Section);
        let cell = self.stacked(paras, BAR, self.width - 2.0 * BAR, section)?;
        self.push(Row {
            cells: vec![cell],
            space: 11.0,
            pad_top: 6.0,
            pad_bottom: 6.5,
            framed: true,
            ..Row::default()
        })
    }

    fn facts(&mut self, columns: u8, pairs: &[Vec<String>], parent: NodeId) -> Result<(), PdfError> {
        let columns = usize::from(columns.clamp(1, 2));
        let list = self.tags.add(parent, Role::List);
        let width = (self.width - GUTTER * (columns as f64 - 1.0)) / columns as f64;
        let shown: Vec<(&str, &str, Look)> = pairs
            .iter()
            .filter_map(|pair| match pair.as_slice() {
                [label, value] if !value.is_empty() => Some((label.as_str(), value.as_str(), CELL)),
                [label, value, _] if !value.is_empty() => Some((label.as_str(), value.as_str(), DIGEST)),
                _ => None,
            })
            .collect();
        for (index, chunk) in shown.chunks(columns).enumerate() {
            let mut cells = Vec::new();
            for (place, (label, value, look)) in chunk.iter().enumerate() {
                let x = place as f64 * (width + GUTTER);
                let item = self.tags.add(list, Role::Item);
                let name = self.tags.add(item, Role::Label);
                let body = self.tags.add(item, Role::Body);
                cells.push(self.cell(
                    label,
                    Look { leading: CELL.leading, ..LABELS },
                    x,
                    LABEL - 4.0,
                    name,
                )?);
                let look = Look { leading: CELL.leading, ..*look };
                cells.push(self.cell(value, look, x + LABEL, width - LABEL, body)?);
            }
            let space = if index == 0 { 4.0 } else { 1.2 };
            self.push(Row { cells, space, ..Row::default() })?;
        }
        Ok(())
    }

    fn list(&mut self, items: &[String], parent: NodeId) -> Result<(), PdfError> {
        let list = self.tags.add(parent, Role::Bullets);
        for (index, text) in items.iter().enumerate() {
            let item = self.tags.add(list, Role::Item);
            let mark = self.tags.add(item, Role::Label);
            let body = self.tags.add(item, Role::Body);
            let look = Look { leading: 11.6, size: 9.0, ..BODY };
            let bullet = self.cell("•", look, 0.0, BULLET, mark)?;
            let text = self.cell(text, look, BULLET, self.width - BULLET, body)?;
            let space = if index == 0 { 3.5 } else { 1.0 };
            self.push(Row { cells: vec![bullet, text], space, ..Row::default() })?;
        }
        Ok(())
    }

    fn picture(&mut self, of: &Picture, parent: NodeId) -> Result<(), PdfError> {
        let node = self.tags.add(parent, Role::Figure);
        let laid = picture::lay(of.drawing(), self, node)?;
        // A row of its own holds the room open; it has no lines, so it is never cut.
        let row = Row { pad_top: laid.height, space: 9.0, ..Row::default() };
        self.pictures.push((self.rows.len(), laid));
        self.push(row)
    }

    fn end(&mut self, text: &str, parent: NodeId) -> Result<(), PdfError> {
        let node = self.tags.add(parent, Role::Paragraph);
        let look = Look { size: 8.2, ..SMALL };
        let mut cell = self.cell(text, look, 0.0, self.width, node)?;
        cell.align = Align::Middle;
        // The end must not stand alone on a page of its own.
        if let Some(last) = self.rows.last_mut() {
            last.keep_next = true;
        }
        self.push(Row { cells: vec![cell], space: 12.0, ..Row::default() })
    }
}

#[cfg(test)]
mod tests {
    use super::super::fonts::Fonts;
    use super::*;

    #[test]
    fn lines_keep_to_their_cells() {
        let fonts = Fonts::new().unwrap();
        let mut shaper = Shaper::new(&fonts);
        let mut layout = Layout::new(&mut shaper, Tags::new(), 300.0, 500.0, 1e6);
        let pairs = vec![vec!["Part".into(), "7".repeat(300)], vec!["Empty".into(), String::new()], vec![]];
        layout.blocks(&[Block::Facts { columns: 2, pairs }], Tags::ROOT).unwrap();
        assert_eq!(layout.rows.len(), 1);
        for cell in layout.rows.iter().flat_map(|row| &row.cells) {
            assert!(cell.x + cell.width <= 300.01);
            assert!(cell.lines.iter().all(|line| line.text.width <= cell.width + 0.01));
        }
    }
}
