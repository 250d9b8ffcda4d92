//! What is wrong with a sheet, cell by cell.

use std::fmt;

use serde::Serialize;

use crate::sheet::Place;

/// One thing wrong, and how to mend it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Fault {
    /// The file.
    pub file: String,
    /// Its worksheet.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sheet: Option<String>,
    /// The cell, or the row where one is missing.
    pub cell: String,
    /// The column's heading.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub column: Option<String>,
    /// What stands there.
    pub found: String,
    /// What is expected.
    pub expected: String,
    /// How to mend it.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub mend: String,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.file)?;
        if let Some(sheet) = &self.sheet {
            write!(f, ", {sheet}")?;
        }
        write!(f, ", {}", self.cell)?;
        if let Some(column) = &self.column {
            write!(f, " ({column})")?;
        }
        write!(f, ": {}; {}", self.found, self.expected)
    }
}

/// Faults as they are found, of one table.
pub(super) struct Faults<'a> {
    pub file: &'a str,
    pub sheet: Option<&'a str>,
    /// Headings by column.
    pub headings: Vec<String>,
    pub all: Vec<(Place, Fault)>,
}

impl Faults<'_> {
    pub fn say(&mut self, place: &Place, found: impl Into<String>, expected: impl Into<String>, mend: &str) {
        let column = place.column.and_then(|c| self.headings.get(c)).filter(|h| !h.is_empty()).cloned();
        let fault = Fault {
            file: self.file.to_owned(),
            sheet: self.sheet.map(str::to_owned),
            cell: place.to_string(),
            column,
            found: found.into(),
            expected: expected.into(),
            mend: mend.to_owned(),
        };
        if !self.all.iter().any(|(_, f)| *f == fault) {
            self.all.push((place.clone(), fault));
        }
    }

    /// In the order of the sheet.
    pub fn sorted(mut self) -> Vec<Fault> {
        self.all.sort_by(|a, b| a.0.cmp(&b.0));
        self.all.into_iter().map(|(_, fault)| fault).collect()
    }
}
