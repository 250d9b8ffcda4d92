//! Tables: columns by share, a head and group rows that are repeated, notes across.

use super::description::Column;
use super::description::RowDef;
use super::error::PdfError;
use super::layout::ACROSS;
use super::layout::CELL;
use super::layout::CELL_HEAD;
use super::layout::GUTTER;
use super::layout::Layout;
use super::layout::Look;
use super::layout::NOTE;
use super::rows::Align;
use super::rows::Cell;
use super::rows::Row;
use super::tags::NodeId;
use super::tags::Role;

/// Room at the right of a column of numbers, which keeps them off the next column.
const FLUSH: f64 = 8.0;
impl Layout<'_, '_> {
    /// The heading row of a table, and its place among the headings that are drawn again on the next page.
    pub(super) fn head_row(&mut self, cells: Vec<Cell>) -> (Row, usize) {
        let head = Row {
            cells,
            space: 3.0,
            pad_top: 1.5,
            pad_bottom: 2.0,
            rule: 0.8,
            keep_next: true,
            ..Row::default()
        };
        let index = self.heads.len();
        self.heads.push(head.clone());
        (head, index)
    }

    /// Lays out a table.
    ///
    /// # Errors
    /// As [`Layout::blocks`].
    pub(super) fn table(
        &mut self,
        columns: &[Column],
        rows: &[RowDef],
        parent: NodeId,
    ) -> Result<(), PdfError> {
        let table = self.tags.add(parent, Role::Table);
        let total: f64 = columns.iter().map(|column| column.share.max(0.1)).sum();
        let usable = self.width - GUTTER * (columns.len() as f64 - 1.0);
        let mut places = Vec::new();
        let mut x = 0.0;
        for column in columns {
            let width = usable * column.share.max(0.1) / total.max(0.1);
            let last = places.len().saturating_add(1) == columns.len();
            let inset = if column.right && !last { FLUSH } else { 0.0 };
            places.push((x, width - inset, if column.right { Align::Right } else { Align::Left }));
            x += width + GUTTER;
        }

        let head_group = self.tags.add(table, Role::Head);
        let head_row = self.tags.add(head_group, Role::Row);
        let mut cells = Vec::new();
        for (column, (x, width, align)) in columns.iter().zip(&places) {
            let node = self.tags.add(head_row, Role::HeadCell);
            let cell = self.cell(&column.head, CELL_HEAD, *x, *width, node)?;
            cells.push(Cell { align: *align, ..cell });
        }
        let (head, head_index) = self.head_row(cells);
        self.rows.push(head);

        let body = self.tags.add(table, Role::Rows);
        let plain =
            || Row { pad_top: 2.1, pad_bottom: 2.4, rule: 0.3, head: Some(head_index), ..Row::default() };
        let mut group = None;
        for def in rows {
            if !def.across.is_empty() {
                let cell = self.across(&def.across, ACROSS, columns.len(), body)?;
                let row = Row { cells: vec![cell], keep_next: true, tinted: true, ..plain() };
                group = Some(self.heads.len());
                self.heads.push(row.clone());
                self.push(row)?;
                continue;
            }
            let row_node = self.tags.add(body, Role::Row);
            let mut cells = Vec::new();
            for (index, (x, width, align)) in places.iter().enumerate() {
                let node = self.tags.add(row_node, Role::Cell(1));
                let text = def.cells.get(index).map_or("", String::as_str);
                let cell = self.cell(text, CELL, *x, *width, node)?;
                cells.push(Cell { align: *align, ..cell });
            }
            let noted = !def.note.is_empty();
            let row = plain();
            let rule = if noted { 0.0 } else { row.rule };
            let pad_bottom = if noted { 0.0 } else { row.pad_bottom };
            let first = self.rows.len();
            self.push(Row { cells, rule, pad_bottom, group, ..row })?;
            if noted {
                // Only the last piece of a long row keeps to its note.
                if let Some(last) = self.rows.get_mut(first..).and_then(<[Row]>::last_mut) {
                    last.keep_next = true;
                }
                let mut cell = self.across(&def.note, NOTE, columns.len(), body)?;
                cell.x = 6.0;
                self.push(Row { cells: vec![cell], pad_top: 0.4, group, ..plain() })?;
            }
        }
        Ok(())
    }

    /// A cell across all of a table's columns, in a row of its own.
    fn across(&mut self, text: &str, look: Look, columns: usize, body: NodeId) -> Result<Cell, PdfError> {
        let row = self.tags.add(body, Role::Row);
        let node = self.tags.add(row, Role::Cell(columns));
        self.cell(text, look, 3.0, self.width - 6.0, node)
    }
}

#[cfg(test)]
mod tests {
    use super::super::description::Block;
    use super::super::fonts::Fonts;
    use super::super::shape::Shaper;
    use super::super::tags::Tags;
    use super::*;

    fn column(head: &str) -> Column {
        Column { head: head.to_owned(), share: 1.0, right: false }
    }

    #[test]
    fn every_word_of_a_table_reaches_a_row() {
        let fonts = Fonts::new().unwrap();
        let mut shaper = Shaper::new(&fonts);
        let mut layout = Layout::new(&mut shaper, Tags::new(), 300.0, 120.0, 1e6);
        let long = "word ".repeat(600);
        let rows = vec![
            RowDef { cells: vec![], note: String::new(), across: "Standard".into() },
            RowDef { cells: vec!["a".into(), long.clone()], note: "noted".into(), across: String::new() },
        ];
        let table = Block::Table { columns: vec![column("A"), column("B")], rows };
        layout.blocks(&[table], Tags::ROOT).unwrap();
        let said: String = layout
            .rows
            .iter()
            .flat_map(|row| &row.cells)
            .flat_map(|cell| &cell.lines)
            .flat_map(|line| &line.text.words)
            .flat_map(|word| &word.runs)
            .flat_map(|run| &run.glyphs)
            .map(|glyph| &*glyph.text)
            .collect();
        assert_eq!(said.matches("word").count(), 600);
        for word in ["Standard", "noted"] {
            assert!(said.contains(word), "{word}");
        }
        assert!(layout.rows.iter().all(|row| row.height() <= 120.01));
        assert!(layout.rows.len() > 4);
    }
}
