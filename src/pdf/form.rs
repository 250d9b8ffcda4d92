//! A table to fill in by hand: printed words at the left, empty boxes at the right.

use super::error::PdfError;
use super::layout::ACROSS;
use super::layout::CELL;
use super::layout::CELL_HEAD;
use super::layout::GUTTER;
use super::layout::Layout;
use super::rows::Row;
use super::tags::NodeId;
use super::tags::Role;

/// Height a hand needs to write in.
const HAND: f64 = 22.0;

/// A column: its heading, its share of the width, whether it is filled in by hand.
pub type FormColumn = (String, u16, bool);

/// A row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FormRow {
    /// A heading across all columns.
    Across(String),
    /// The words of the printed columns, in order; the others are boxes.
    Fill(Vec<String>),
}

impl Layout<'_, '_> {
    /// Lays out a form.
    ///
    /// # Errors
    /// As [`Layout::blocks`].
    pub(super) fn form(
        &mut self,
        columns: &[FormColumn],
        rows: &[FormRow],
        parent: NodeId,
    ) -> Result<(), PdfError> {
        let table = self.tags.add(parent, Role::Table);
        let total: f64 = columns.iter().map(|(_, share, _)| f64::from((*share).max(1))).sum();
        let usable = self.width - GUTTER * (columns.len() as f64 - 1.0);
        let mut places = Vec::new();
        let mut x = 0.0;
        for (_, share, _) in columns {
            let width = usable * f64::from((*share).max(1)) / total.max(1.0);
            places.push((x, width));
            x += width + GUTTER;
        }
        let head_group = self.tags.add(table, Role::Head);
        let head_row = self.tags.add(head_group, Role::Row);
        let mut cells = Vec::new();
        for ((head, ..), (x, width)) in columns.iter().zip(&places) {
            let node = self.tags.add(head_row, Role::HeadCell);
            cells.push(self.cell(head, CELL_HEAD, *x, *width, node)?);
        }
        let (head, head_index) = self.head_row(cells);
        self.push(head)?;

        let body = self.tags.add(table, Role::Rows);
        let mut group = None;
        for row in rows {
            let node = self.tags.add(body, Role::Row);
            match row {
                FormRow::Across(text) => {
                    let of = self.tags.add(node, Role::Cell(columns.len()));
                    let cell = self.cell(text, ACROSS, 3.0, self.width - 6.0, of)?;
                    let row = Row {
                        cells: vec![cell],
                        pad_top: 2.6,
                        pad_bottom: 2.4,
                        rule: 0.3,
                        tinted: true,
                        keep_next: true,
                        head: Some(head_index),
                        ..Row::default()
                    };
                    group = Some(self.heads.len());
                    self.heads.push(row.clone());
                    self.push(row)?;
                }
                FormRow::Fill(words) => {
                    let mut words = words.iter();
                    let (mut cells, mut boxes) = (Vec::new(), Vec::new());
                    for ((_, _, by_hand), (x, width)) in columns.iter().zip(&places) {
                        let of = self.tags.add(node, Role::Cell(1));
                        if *by_hand {
                            boxes.push((*x, *width));
                            continue;
                        }
                        let text = words.next().map_or("", String::as_str);
                        cells.push(self.cell(text, CELL, *x, *width, of)?);
                    }
                    let mut row = Row {
                        cells,
                        boxes,
                        pad_top: 4.2,
                        pad_bottom: 4.2,
                        rule: 0.3,
                        head: Some(head_index),
                        group,
                        ..Row::default()
                    };
                    // Short words stand in the middle of their boxes.
                    let more = (HAND - row.height()).max(0.0) / 2.0;
                    (row.pad_top, row.pad_bottom) = (row.pad_top + more, row.pad_bottom + more);
                    self.push(row)?;
                }
            }
        }
        Ok(())
    }
}
