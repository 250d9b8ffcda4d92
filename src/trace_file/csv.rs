//! A trace from a table of text: a column of heights, with a column of positions or a step the shop gives.
//!
//! Lines end in `\n` or `\r\n`. Rows in messages are lines of the file and columns are cells of a line, both
//! counted from 1. Cells may stand in double quotes; a quote within them is doubled (common practice, RFC
//! 4180).

use std::borrow::Cow;
use std::str;

use super::FEWEST_POINTS;
use super::LARGEST;
use super::LARGEST_FILE;
use super::MOST_POINTS;
use super::SMALLEST_STEP;
use super::Told;
use super::Trace;
use super::TraceForm;
use super::TraceUnit;
use super::Uneven;
use super::even_step;
use super::number::shown;
use super::said;
use crate::trace_form::Column;
use crate::trace_form::Delimiter;
use crate::trace_form::Encoding;
use crate::trace_form::FormError;
use crate::units::did_you_mean;

/// Most cells of a line. Our own limit.
const MOST_CELLS: usize = 256;

/// Most lines before the heights that are kept to be shown.
const MOST_TOLD: usize = 40;

/// Why a table of text is no trace.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CsvError {
    /// The layout is at fault, not the file.
    #[error(transparent)]
    Form(#[from] FormError),
    /// More bytes than are read.
    #[error("the file has {0} bytes: expected at most 67108864; export the one trace alone")]
    TooLarge(usize),
    /// A ZIP archive.
    #[error("the file is a ZIP archive: expected a table of text; read it as X3P, or export it as text")]
    Archive,
    /// Two bytes a letter.
    #[error("the file is coded as UTF-16: expected UTF-8 or Latin-1; save it as UTF-8 text")]
    Utf16,
    /// Bytes that are no UTF-8.
    #[error(
        "row {row}: byte {byte} of the line is no UTF-8: save the file as UTF-8, or say `encoding: Latin-1` \
         in the layout"
    )]
    NotUtf8 {
        /// Line.
        row: usize,
        /// Byte of the line, from 1.
        byte: usize,
    },
    /// Nothing after the lines to skip.
    #[error(
        "the file has {lines} lines and the layout skips {skipped}{}: expected heights after them; mend \
         `skip_lines`, or export the trace again",
        if *header { " and reads a header" } else { "" }
    )]
    NoData {
        /// Lines of the file.
        lines: usize,
        /// Lines the layout skips.
        skipped: u32,
        /// Whether a header stands after them.
        header: bool,
    },
    /// No column of that name.
    #[error(
        "row {row}: no column is headed `{name}`{}: found {}; mend the layout",
        did_you_mean(near),
        listed(headers)
    )]
    NoHeader {
        /// Line of the header.
        row: usize,
        /// Name in the layout.
        name: String,
        /// Headers that lie near.
        near: Vec<String>,
        /// Headers there are.
        headers: Vec<String>,
    },
    /// Two columns of that name.
    #[error(
        "row {row}: columns {first} and {second} are both headed `{name}`: name the column by its number"
    )]
    HeaderTwice {
        /// Line of the header.
        row: usize,
        /// Name in the layout.
        name: String,
        /// Number of the one.
        first: usize,
        /// Number of the other.
        second: usize,
    },
    /// A column beyond the line's end.
    #[error(
        "row {row}: the line has {} and the layout reads column {column}: mend `delimiter` or the column",
        counted(*cells)
    )]
    NoColumn {
        /// Line.
        row: usize,
        /// Column of the layout.
        column: usize,
        /// Cells of the line.
        cells: usize,
    },
    /// A line longer or shorter than the first.
    #[error(
        "row {row}: found {}, expected {expected} as in row {first}: a cell is missing or one too many; \
         export the trace again",
        counted(*cells)
    )]
    Shifted {
        /// Line.
        row: usize,
        /// Cells of the line.
        cells: usize,
        /// Cells of the first line.
        expected: usize,
        /// The first line.
        first: usize,
    },
    /// A line of too many cells.
    #[error("row {row}: the line has more than 256 cells: mend `delimiter`, or export the one trace alone")]
    TooManyCells {
        /// Line.
        row: usize,
    },
    /// A quote that does not end, or goes on after it ended.
    #[error("row {row}, column {column}: the quotes of the cell do not close before its end: mend the cell")]
    Quotes {
        /// Line.
        row: usize,
        /// Cell.
        column: usize,
    },
    /// An empty line between heights.
    #[error(
        "row {row}: the line is empty and heights follow: a hole in a trace is not closed up; export the \
         trace again"
    )]
    EmptyLine {
        /// Line.
        row: usize,
    },
    /// An empty cell.
    #[error(
        "row {row}, column {column}: the cell is empty: expected a number; a hole in a trace is not filled \
         in, measure again"
    )]
    Empty {
        /// Line.
        row: usize,
        /// Cell.
        column: usize,
    },
    /// No number.
    #[error(
        "row {row}, column {column}: `{found}` is no number: expected one such as `-0{mark}25`{}",
        hint(found, *mark)
    )]
    NotANumber {
        /// Line.
        row: usize,
        /// Cell.
        column: usize,
        /// As found.
        found: String,
        /// What parts whole and fraction.
        mark: char,
    },
    /// A number no trace reaches.
    #[error(
        "row {row}, column {column}: `{found}` {unit} is more than 1 m: mend the unit in the layout, or the \
         cell"
    )]
    OutOfRange {
        /// Line.
        row: usize,
        /// Cell.
        column: usize,
        /// As found.
        found: String,
        /// Unit of the column.
        unit: &'static str,
    },
    /// More points than are read.
    #[error("row {row}: the trace has more than 5000000 points: export fewer, or one trace alone")]
    TooManyPoints {
        /// Line.
        row: usize,
    },
    /// One point, which has no step.
    #[error("the file holds one height: expected at least 2; export the trace again")]
    TooFew,
    /// A position that does not lie beyond the one before.
    #[error(
        "row {row}: the position does not lie beyond the one of the row before: expected positions that \
         increase; export the trace again, sorted and without repeats"
    )]
    NotIncreasing {
        /// Line.
        row: usize,
    },
    /// Positions that are no even grid.
    #[error(
        "row {row}: the step from the row before is {} µm and the mean step {} µm: expected positions \
         within {} of a step of an even grid; a point is missing or the file prints too few \
         digits (then say `uniform_within`)",
        said(*step), said(*mean), said(*within)
    )]
    Uneven {
        /// Line whose step is furthest from the mean.
        row: usize,
        /// Its step, in µm.
        step: f64,
        /// The mean step, in µm.
        mean: f64,
        /// Share of the step allowed.
        within: f64,
    },
    /// A step no instrument makes.
    #[error("the mean step is {} µm: expected at least 0.000001 µm; mend `unit_x` in the layout", said(*.0))]
    StepTooSmall(f64),
}

/// Cells for a message.
fn counted(cells: usize) -> String {
    if cells == 1 { "1 cell".to_owned() } else { format!("{cells} cells") }
}

/// The headers for a message, the first few of them.
fn listed(headers: &[String]) -> String {
    let mut words: Vec<String> = headers.iter().take(8).map(|h| format!("`{}`", shown(h))).collect();
    if headers.len() > 8 {
        words.push("…".to_owned());
    }
    words.join(", ")
}

/// What to mend about a cell that is no number, as far as it can be told.
fn hint(found: &str, mark: char) -> &'static str {
    let other = if mark == '.' { ',' } else { '.' };
    if found.contains(other) && found.bytes().any(|b| b.is_ascii_digit()) {
        "; if the file parts decimals otherwise, mend `decimal` in the layout"
    } else if ["nan", "inf", "-inf", "+inf"].contains(&found.to_ascii_lowercase().as_str()) {
        "; a hole in a trace is not filled in, measure again"
    } else {
        "; mend the cell, or `skip_lines` and columns of the layout"
    }
}

/// Headers that differ from the name by a letter or two, or by capitals and spaces only.
fn near(name: &str, headers: &[String]) -> Vec<String> {
    let plain =
        |s: &str| s.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect::<String>();
    let name: String = plain(name).chars().take(100).collect();
    let close = |h: &&String| {
        let header: String = plain(h).chars().take(100).collect();
        !header.is_empty() && strsim::damerau_levenshtein(&name, &header) <= name.chars().count().min(6) / 3
    };
    headers.iter().filter(close).take(3).map(|h| shown(h)).collect()
}

/// A column of numbers to read.
struct Wanted {
    /// Place in the line, from 0.
    index: usize,
    unit: TraceUnit,
}

/// Reads a trace from a table of text laid out as `form` says.
///
/// Heights and positions are the binary numbers nearest to what is written, in µm. The step is the layout's,
/// or `(last − first) / (n − 1)` of the positions. Lines before the heights are kept in [`Trace::told`].
///
/// # Errors
/// Names row and column of the first fault, what was found, what was expected, and how to mend it.
pub fn read_csv(bytes: &[u8], form: &TraceForm) -> Result<Trace, CsvError> {
    form.check()?;
    let text = decoded(bytes, form.encoding)?;
    let text = without_empty_end(&text);
    let skipped = usize::try_from(form.skip_lines).unwrap_or(usize::MAX);
    let lines = || text.split('\n').map(|line| line.strip_suffix('\r').unwrap_or(line)).enumerate();

    let before = skipped.saturating_add(usize::from(form.has_header()));
    let told = lines().take(before.min(MOST_TOLD)).filter(|(_, line)| !line.trim().is_empty());
    let told = told.map(|(i, line)| Told::new(&format!("line {}", i.saturating_add(1)), line)).collect();

    let mut rows = lines().skip(skipped);
    let header = if form.has_header() { rows.next() } else { None };
    let mut rows = rows.peekable();
    if text.is_empty() || rows.peek().is_none() {
        let count = if text.is_empty() { 0 } else { lines().count() };
        return Err(CsvError::NoData { lines: count, skipped: form.skip_lines, header: form.has_header() });
    }
    let header = match header {
        Some((i, line)) => {
            let mut cells = Vec::new();
            split(line, form.delimiter, i.saturating_add(1), &mut cells)?;
            Some((i.saturating_add(1), cells.iter().map(|c| c.trim().to_owned()).collect::<Vec<_>>()))
        }
        None => None,
    };
    let z = Wanted { index: place(&form.z, header.as_ref())?, unit: form.unit_z };
    let x = match (&form.x, form.unit_x) {
        (Some(column), Some(unit)) => Some(Wanted { index: place(column, header.as_ref())?, unit }),
        _ => None,
    };

    let mut expected = header.map(|(row, cells)| (row, cells.len()));
    let (mut heights, mut positions, mut first_row) = (Vec::new(), Vec::new(), None);
    let mut cells = Vec::new();
    for (i, line) in rows {
        let row = i.saturating_add(1);
        first_row.get_or_insert(row);
        if line.trim().is_empty() {
            return Err(CsvError::EmptyLine { row });
        }
        split(line, form.delimiter, row, &mut cells)?;
        let (first, count) = *expected.get_or_insert((row, cells.len()));
        if cells.len() != count {
            return Err(CsvError::Shifted { row, cells: cells.len(), expected: count, first });
        }
        if heights.len() >= MOST_POINTS {
            return Err(CsvError::TooManyPoints { row });
        }
        if let Some(x) = &x {
            positions.push(cell(&cells, x, form, row)?);
        }
        heights.push(cell(&cells, &z, form, row)?);
    }
    if heights.len() < FEWEST_POINTS {
        return Err(CsvError::TooFew);
    }
    let first_row = first_row.unwrap_or(1);
    let spacing = match form.step() {
        Some(step) => step,
        None => step_of(&positions, form.share(), first_row)?,
    };
    Ok(Trace { spacing, heights, unit_of_file: form.unit_z, told })
}

/// The step of the positions.
fn step_of(positions: &[f64], share: f64, first_row: usize) -> Result<f64, CsvError> {
    let row = |point: usize| first_row.saturating_add(point);
    match even_step(positions, share) {
        Ok(step) if step < SMALLEST_STEP => Err(CsvError::StepTooSmall(step)),
        Ok(step) => Ok(step),
        Err(Uneven::NotIncreasing { point }) => Err(CsvError::NotIncreasing { row: row(point) }),
        Err(Uneven::Step { point, step, mean }) => {
            Err(CsvError::Uneven { row: row(point), step, mean, within: share })
        }
    }
}

/// The file's letters.
fn decoded(bytes: &[u8], encoding: Encoding) -> Result<Cow<'_, str>, CsvError> {
    if bytes.len() > LARGEST_FILE {
        return Err(CsvError::TooLarge(bytes.len()));
    }
    if bytes.starts_with(b"PK\x03\x04") {
        return Err(CsvError::Archive);
    }
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        return Err(CsvError::Utf16);
    }
    if encoding == Encoding::Latin1 {
        return Ok(Cow::Owned(bytes.iter().map(|b| char::from(*b)).collect()));
    }
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    match str::from_utf8(bytes) {
        Ok(text) => Ok(Cow::Borrowed(text)),
        Err(error) => {
            let good = bytes.get(..error.valid_up_to()).unwrap_or_default();
            let row = good.iter().filter(|b| **b == b'\n').count().saturating_add(1);
            let byte = good.iter().rev().take_while(|b| **b != b'\n').count().saturating_add(1);
            Err(CsvError::NotUtf8 { row, byte })
        }
    }
}

/// The text without empty lines and marks of a file's end after the last line; a last empty cell stays.
fn without_empty_end(text: &str) -> &str {
    let mut text = text;
    loop {
        text = text.trim_end_matches(['\n', '\r', '\u{1a}', '\0']);
        let (before, last) = text.rsplit_once('\n').unwrap_or(("", text));
        if text.is_empty() || !last.trim().is_empty() {
            return text;
        }
        text = before;
    }
}

/// Where a column stands in the line, from 0.
fn place(column: &Column, header: Option<&(usize, Vec<String>)>) -> Result<usize, CsvError> {
    let name = match column {
        Column::Number(number) => {
            return Ok(usize::try_from(*number).unwrap_or(usize::MAX).saturating_sub(1));
        }
        Column::Header(name) => name.trim(),
    };
    let (row, headers) = header.map_or((1, &[][..]), |(row, cells)| (*row, cells.as_slice()));
    let mut found = headers.iter().enumerate().filter(|(_, h)| h.as_str() == name).map(|(i, _)| i);
    match (found.next(), found.next()) {
        (Some(index), None) => Ok(index),
        (Some(first), Some(second)) => Err(CsvError::HeaderTwice {
            row,
            name: shown(name),
            first: first.saturating_add(1),
            second: second.saturating_add(1),
        }),
        (None, _) => Err(CsvError::NoHeader {
            row,
            name: shown(name),
            near: near(name, headers),
            headers: headers.to_vec(),
        }),
    }
}

/// The number in a cell, in µm.
fn cell(cells: &[Cow<'_, str>], wanted: &Wanted, form: &TraceForm, row: usize) -> Result<f64, CsvError> {
    let column = wanted.index.saturating_add(1);
    let Some(text) = cells.get(wanted.index) else {
        return Err(CsvError::NoColumn { row, column, cells: cells.len() });
    };
    let text = text.trim();
    if text.is_empty() {
        return Err(CsvError::Empty { row, column });
    }
    let mark = char::from(form.decimal.byte());
    match super::micrometres(wanted.unit, text, mark) {
        None => Err(CsvError::NotANumber { row, column, found: shown(text), mark }),
        Some(value) if value.abs() <= LARGEST => Ok(value),
        Some(_) => Err(CsvError::OutOfRange { row, column, found: shown(text), unit: wanted.unit.symbol() }),
    }
}

/// The cells of a line, without the quotes around them.
fn split<'t>(
    line: &'t str,
    delimiter: Delimiter,
    row: usize,
    cells: &mut Vec<Cow<'t, str>>,
) -> Result<(), CsvError> {
    cells.clear();
    let spaces = delimiter == Delimiter::Space;
    let ends = |c: char| if spaces { c == ' ' || c == '\t' } else { c == delimiter.mark() };
    let mut rest = if spaces { line.trim_matches([' ', '\t']) } else { line };
    loop {
        if cells.len() >= MOST_CELLS {
            return Err(CsvError::TooManyCells { row });
        }
        let column = cells.len().saturating_add(1);
        let after = match rest.trim_start_matches(' ').strip_prefix('"') {
            Some(quoted) => {
                let (cell, after) = unquoted(quoted).ok_or(CsvError::Quotes { row, column })?;
                cells.push(cell);
                let after = if spaces { after } else { after.trim_start_matches(' ') };
                if !after.is_empty() && !after.starts_with(ends) {
                    return Err(CsvError::Quotes { row, column });
                }
                after
            }
            None => {
                let (cell, after) = rest.split_at(rest.find(ends).unwrap_or(rest.len()));
                cells.push(Cow::Borrowed(cell));
                after
            }
        };
        let Some(next) = after.strip_prefix(ends) else { return Ok(()) };
        rest = if spaces { next.trim_start_matches([' ', '\t']) } else { next };
    }
}

/// What stands before the closing quote, and what follows it; `None` when there is none.
fn unquoted(text: &str) -> Option<(Cow<'_, str>, &str)> {
    let (first, mut rest) = text.split_once('"')?;
    let mut cell = Cow::Borrowed(first);
    while let Some(more) = rest.strip_prefix('"') {
        let (part, after) = more.split_once('"')?;
        let cell = cell.to_mut();
        cell.push('"');
        cell.push_str(part);
        rest = after;
    }
    Some((cell, rest))
}
