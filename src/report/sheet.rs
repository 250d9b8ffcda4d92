//! A report of figures in its four forms: text, comma-separated values, JSON, PDF. One sheet, so that none of them
//! says what the others do not.

use std::fmt::Write as _;

use serde_json::Map;
use serde_json::Value;
use serde_json::json;

use crate::app::affected::csv_line;
use crate::pdf::Chart;
use crate::pdf::Part;
use crate::pdf::Report;
use crate::report::json::VERSION;

/// A column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Column {
    /// Name for machines.
    pub key: &'static str,
    /// Heading for people.
    pub head: &'static str,
    /// Share of the page's width.
    pub share: u16,
    /// Whether it holds numbers.
    pub right: bool,
}

/// A column of words.
pub const fn words(key: &'static str, head: &'static str, share: u16) -> Column {
    Column { key, head, share, right: false }
}

/// A column of numbers.
pub const fn numbers(key: &'static str, head: &'static str, share: u16) -> Column {
    Column { key, head, share, right: true }
}

/// A table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Table {
    /// Name for machines.
    pub name: &'static str,
    /// Its columns.
    pub columns: &'static [Column],
    /// Its rows, one text a column.
    pub rows: Vec<Vec<String>>,
}

/// One thing on a sheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Section {
    /// A heading.
    Heading(String),
    /// A table.
    Table(Table),
    /// A chart; in the PDF only, since its table says the same.
    Chart(Chart),
}

/// A report.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sheet {
    /// Which report: the word of the command line.
    pub kind: &'static str,
    /// Title.
    pub title: String,
    /// Lines under it.
    pub under: Vec<String>,
    /// What stands on it.
    pub sections: Vec<Section>,
    /// What the figures are, and what is not in them.
    pub notes: Vec<String>,
    /// The table that comma-separated values hold.
    pub main: &'static str,
}

impl Sheet {
    fn tables(&self) -> impl Iterator<Item = &Table> {
        self.sections.iter().filter_map(|section| match section {
            Section::Table(table) => Some(table),
            _ => None,
        })
    }

    /// Plain text.
    pub fn text(&self) -> String {
        let mut text = format!("{}\n", self.title);
        for line in &self.under {
            let _ = writeln!(text, "{line}");
        }
        for section in &self.sections {
            match section {
                Section::Heading(heading) => {
                    let _ = writeln!(text, "\n{heading}");
                }
                Section::Table(table) => text.push_str(&table.text()),
                Section::Chart(_) => {}
            }
        }
        text.push('\n');
        for note in &self.notes {
            text.push_str(&wrapped(note));
        }
        text.trim_end().to_owned()
    }

    /// The main table, RFC 4180.
    pub fn csv(&self) -> String {
        let Some(table) = self.tables().find(|t| t.name == self.main) else { return String::new() };
        let mut text = csv_line(table.columns.iter().map(|c| c.key.to_owned()));
        for row in &table.rows {
            text.push_str(&csv_line(row.iter().cloned()));
        }
        text
    }

    /// All tables, each row an object; every value a text, as printed.
    pub fn json(&self) -> Value {
        let mut tables = Map::new();
        for table in self.tables() {
            let row = |cells: &Vec<String>| {
                let pairs = table.columns.iter().zip(cells);
                Value::Object(pairs.map(|(c, cell)| (c.key.to_owned(), json!(cell))).collect())
            };
            tables.insert(table.name.to_owned(), table.rows.iter().map(row).collect());
        }
        json!({
            "version": VERSION, "report": self.kind, "title": self.title, "about": self.under,
            "tables": tables, "notes": self.notes,
        })
    }

    /// As it is drawn.
    pub fn page(&self) -> Report {
        let mut parts: Vec<Part> = self.sections.iter().map(Section::part).collect();
        parts.extend(self.notes.iter().map(|note| Part::Small(note.clone())));
        Report {
            title: self.title.clone(),
            under: self.under.clone(),
            foot: format!("{} · a report of figures, no certificate", self.title),
            parts,
        }
    }
}

/// A note in lines a terminal holds.
fn wrapped(note: &str) -> String {
    let (mut text, mut width) = (String::new(), 0_usize);
    for word in note.split(' ') {
        let wide = word.chars().count();
        if width > 0 && width.saturating_add(wide) >= 100 {
            text.push('\n');
            width = 0;
        } else if width > 0 {
            text.push(' ');
        }
        text.push_str(word);
        width = width.saturating_add(wide).saturating_add(1);
    }
    text.push('\n');
    text
}

impl Section {
    fn part(&self) -> Part {
        match self {
            Section::Heading(text) => Part::Heading(text.clone()),
            Section::Chart(chart) => Part::Chart(chart.clone()),
            Section::Table(table) => {
                let columns = table.columns.iter().map(|c| (c.head.to_owned(), c.share, c.right));
                Part::Table(columns.collect(), table.rows.clone())
            }
        }
    }
}

impl Table {
    fn text(&self) -> String {
        let wide = |text: &str| text.chars().count();
        let mut widths: Vec<usize> = self.columns.iter().map(|c| wide(c.head)).collect();
        for row in &self.rows {
            for (width, cell) in widths.iter_mut().zip(row) {
                *width = (*width).max(wide(cell));
            }
        }
        let line = |cells: &mut dyn Iterator<Item = &str>| {
            let mut text = String::from("  ");
            for ((cell, width), column) in cells.zip(&widths).zip(self.columns) {
                let room = " ".repeat(width.saturating_sub(wide(cell)));
                let _ = match column.right {
                    true => write!(text, "{room}{cell}  "),
                    false => write!(text, "{cell}{room}  "),
                };
            }
            format!("{}\n", text.trim_end())
        };
        let mut text = line(&mut self.columns.iter().map(|c| c.head));
        for row in &self.rows {
            text.push_str(&line(&mut row.iter().map(String::as_str)));
        }
        if self.rows.is_empty() {
            text.push_str("  nothing\n");
        }
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const COLUMNS: &[Column] = &[words("lot", "Lot", 2), numbers("pieces", "Pieces", 1)];

    fn sheet(rows: &[[&str; 2]]) -> Sheet {
        let rows = rows.iter().map(|row| row.iter().map(|c| (*c).to_owned()).collect()).collect();
        Sheet {
            kind: "yield",
            title: "Yield".to_owned(),
            under: vec!["Larkspur".to_owned()],
            sections: vec![Section::Table(Table { name: "lots", columns: COLUMNS, rows })],
            notes: vec!["A note.".to_owned()],
            main: "lots",
        }
    }

    #[test]
    fn every_form_says_the_same() {
        let one = sheet(&[["L-1", "240"], ["=1+1, \"x\"", "7"]]);
        assert_eq!(one.csv(), "\"lot\",\"pieces\"\r\n\"L-1\",\"240\"\r\n\"'=1+1, \"\"x\"\"\",\"7\"\r\n");
        assert_eq!(one.json()["tables"]["lots"][1]["lot"], "=1+1, \"x\"");
        insta::assert_snapshot!(one.text(), @r#"
        Yield
        Larkspur
          Lot        Pieces
          L-1           240
          =1+1, "x"       7

        A note.
        "#);
    }
}
