//! Tables as the shop keeps them: a text table (CSV) or a worksheet of a workbook (XLSX), cell by cell with its name.
//!
//! Nothing is guessed here. A cell says whether it held a text, a number, a day, a formula or an error; what it means is
//! decided by whoever knows the column.

mod text;
mod workbook;

use std::fmt;

/// One table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Table {
    /// Name of the worksheet; none of a text table.
    pub sheet: Option<String>,
    /// Rows that hold anything, in their order.
    pub rows: Vec<Row>,
}

/// One row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// Line of the file or row of the worksheet, from 1.
    pub number: u64,
    /// Cells from the first column on; a worksheet's rows end with their last cell that holds anything.
    pub cells: Vec<Cell>,
}

/// What one cell holds.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum Cell {
    /// Nothing.
    #[default]
    Empty,
    /// Text, without blanks at its ends.
    Text(String),
    /// A number of a worksheet, in its shortest decimal form.
    Number(String),
    /// A day and a time of a worksheet; either may be missing.
    When {
        /// Year, month, day.
        day: Option<String>,
        /// Hours, minutes and seconds since midnight.
        second: Option<u32>,
    },
    /// Yes or no.
    Truth(bool),
    /// A formula, as it stands.
    Formula(String),
    /// What nobody can read as a value, and why.
    Unreadable(String),
}

/// What kind of file it is, by its name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// A text table.
    Csv,
    /// A workbook.
    Xlsx,
}

/// Where a cell stands: `B7` in a worksheet, `line 7, column 2` in a text table.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// Row, from 1.
    pub row: u64,
    /// Column, from 0; none for the row as a whole.
    pub column: Option<usize>,
    /// Whether it is named as in a worksheet.
    pub lettered: bool,
}

/// Why a file is no table.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SheetError {
    /// Neither CSV nor XLSX.
    #[error("`{0}` is no day sheet: a file ending in .csv or .xlsx is expected")]
    Form(String),
    /// Larger than any day sheet.
    #[error("the file has {size} bytes; a day sheet has at most {most}")]
    Size {
        /// Bytes found.
        size: usize,
        /// Most bytes read.
        most: usize,
    },
    /// More rows, columns or cells than any day sheet.
    #[error("more than {most} {what}; no day sheet needs them")]
    TooMany {
        /// Rows, columns, bytes in a cell.
        what: &'static str,
        /// Most of them.
        most: u64,
    },
    /// Not UTF-8.
    #[error("line {line}: the text is not UTF-8")]
    NotText {
        /// Line, from 1.
        line: u64,
    },
    /// A row breaks off, or runs over.
    #[error("line {line} has {found} cells, the first line has {expected}")]
    Uneven {
        /// Line, from 1.
        line: u64,
        /// Cells found.
        found: usize,
        /// Cells of the first line.
        expected: usize,
    },
    /// A quotation mark that is never closed, or another fault of form.
    #[error("line {line}: {message}")]
    Broken {
        /// Line, from 1.
        line: u64,
        /// What is wrong.
        message: String,
    },
    /// The workbook cannot be read.
    #[error("the workbook cannot be read: {0}")]
    Workbook(String),
    /// The workbook has no such worksheet, or several to choose from.
    #[error("{found}; the workbook has {}", .known.join(", "))]
    Worksheet {
        /// What was looked for.
        found: String,
        /// Worksheets there are.
        known: Vec<String>,
    },
}

impl SheetError {
    /// How to mend it.
    pub fn hint(&self) -> Option<String> {
        Some(
            match self {
                SheetError::Form(_) => "save the sheet as CSV or as XLSX",
                SheetError::Size { .. } | SheetError::TooMany { .. } => {
                    "check that it is the right file; split it by days, and clear cells far off the table"
                }
                SheetError::NotText { .. } => "save it as CSV UTF-8",
                SheetError::Uneven { .. } => {
                    "check `separator` in sheets.yaml, quotation marks, and that the file was saved whole"
                }
                SheetError::Broken { .. } => "mend the line, or save the sheet again",
                SheetError::Workbook(_) => {
                    "open it in the program it was made with and save it as XLSX, without a password"
                }
                SheetError::Worksheet { .. } => "name the worksheet under `tab` in sheets.yaml",
            }
            .to_owned(),
        )
    }
}

/// Largest text table, in bytes.
pub const LARGEST_CSV: usize = 4 << 20;
/// Largest workbook, in bytes; it is packed and grows when it is read.
pub const LARGEST_XLSX: usize = 1 << 20;
/// Most rows.
pub const MOST_ROWS: u64 = 5_000;
/// Most columns.
pub const MOST_COLUMNS: u64 = 200;
/// Most bytes of one cell.
pub const LONGEST: usize = 2_000;

/// The kind of file, by its name.
pub fn form(name: &str) -> Result<Form, SheetError> {
    let name = name.to_lowercase();
    if name.ends_with(".csv") {
        Ok(Form::Csv)
    } else if name.ends_with(".xlsx") {
        Ok(Form::Xlsx)
    } else {
        Err(SheetError::Form(name))
    }
}

/// Names of a workbook's worksheets; none of a text table.
pub fn tabs(form: Form, bytes: &[u8]) -> Result<Vec<String>, SheetError> {
    match form {
        Form::Csv => Ok(Vec::new()),
        Form::Xlsx => workbook::tabs(bytes),
    }
}

/// Reads a table: a text table whose cells `separator` divides, or the worksheet named; the only one where none is.
pub fn read(form: Form, bytes: &[u8], separator: u8, tab: Option<&str>) -> Result<Table, SheetError> {
    match form {
        Form::Csv => text::read(bytes, separator),
        Form::Xlsx => workbook::read(bytes, tab),
    }
}

impl Cell {
    /// Whether it holds nothing.
    pub fn is_empty(&self) -> bool {
        *self == Cell::Empty
    }

    /// As a message quotes it.
    pub fn shown(&self) -> String {
        match self {
            Cell::Empty => "nothing".to_owned(),
            Cell::Text(text) => {
                let plain: String =
                    text.chars().map(|c| if c.is_control() { ' ' } else { c }).take(60).collect();
                format!("`{plain}`")
            }
            Cell::Number(number) => format!("the number {number}"),
            Cell::When { day, second } => {
                let mut parts: Vec<String> = day.iter().cloned().collect();
                parts.extend(second.map(clock));
                format!("the date or time {}", parts.join(" "))
            }
            Cell::Truth(truth) => format!("the truth value {truth}"),
            Cell::Formula(formula) => {
                format!(
                    "the formula ={}",
                    formula.chars().filter(|c| !c.is_control()).take(60).collect::<String>()
                )
            }
            Cell::Unreadable(why) => why.clone(),
        }
    }
}

/// Seconds since midnight as `09:40`, or `09:40:15`.
pub fn clock(second: u32) -> String {
    let (hours, minutes, seconds) = (second / 3600, second / 60 % 60, second % 60);
    if seconds == 0 {
        format!("{hours:02}:{minutes:02}")
    } else {
        format!("{hours:02}:{minutes:02}:{seconds:02}")
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.lettered, self.column) {
            (true, Some(column)) => write!(f, "{}{}", letters(column), self.row),
            (true, None) => write!(f, "row {}", self.row),
            (false, Some(column)) => write!(f, "line {}, column {}", self.row, column.saturating_add(1)),
            (false, None) => write!(f, "line {}", self.row),
        }
    }
}

/// Letters of a column, from 0: `A` to `Z`, then `AA`.
fn letters(column: usize) -> String {
    let mut rest = column;
    let mut letters = Vec::new();
    loop {
        letters.push(char::from(b'A'.saturating_add(u8::try_from(rest % 26).unwrap_or_default())));
        match (rest / 26).checked_sub(1) {
            Some(next) => rest = next,
            None => break,
        }
    }
    letters.iter().rev().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_have_the_names_people_know() {
        let at = |row, column, lettered| Place { row, column, lettered }.to_string();
        assert_eq!(at(7, Some(1), true), "B7");
        assert_eq!(at(7, Some(1), false), "line 7, column 2");
        assert_eq!(at(1, Some(25), true), "Z1");
        assert_eq!(at(1, Some(26), true), "AA1");
        assert_eq!(at(1, Some(51), true), "AZ1");
        assert_eq!(at(1, Some(702), true), "AAA1");
        assert_eq!(at(9, None, false), "line 9");
        assert_eq!(clock(34_800), "09:40");
        assert_eq!(clock(86_399), "23:59:59");
    }
}
