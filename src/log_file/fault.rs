//! Why a file of a logger is refused: where, what was found, what was expected, how to mend it.

use crate::bath_log::LogError;
use crate::logger::DecimalMark;
use crate::logger::Fault;
use crate::units::Unit;
use crate::units::did_you_mean;

/// Why a file is refused. Lines are those of the file, from 1; columns are named by their header.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LogFault {
    /// The map itself is at fault.
    #[error("the map of logger `{logger}` cannot be used: {fault}")]
    Map {
        /// Its id.
        logger: String,
        /// Its first fault.
        fault: Fault,
    },
    /// Nothing in it.
    #[error("the file is empty: expected headers and readings, export it again")]
    Empty,
    /// Too many bytes.
    #[error("the file has {found} bytes, at most {most} are read: export a shorter time")]
    TooLarge {
        /// Bytes found.
        found: usize,
        /// Bytes allowed.
        most: usize,
    },
    /// Too many rows.
    #[error("line {line}: more than {most} readings: export a shorter time")]
    TooManyRows {
        /// Line.
        line: u64,
        /// Readings allowed.
        most: usize,
    },
    /// Too many columns.
    #[error(
        "line {line}: more than {most} columns: this is no table of readings, export it as text with \
            delimiters"
    )]
    TooManyColumns {
        /// Line.
        line: u64,
        /// Columns allowed.
        most: usize,
    },
    /// Control characters.
    #[error(
        "line {line}: a byte {found:#04x} that no text has: export the readings as text, not in the logger's \
            own form"
    )]
    NoText {
        /// Line.
        line: u64,
        /// The byte.
        found: u8,
    },
    /// UTF-16 that breaks off.
    #[error("the file begins as UTF-16 but breaks off within a character: it is damaged, export it again")]
    HalfCharacter,
    /// No headers where the map has them.
    #[error("line {line} is empty or missing, expected headers there: correct `skip_lines` of the map")]
    NoHeaders {
        /// Line.
        line: u64,
    },
    /// A header is missing.
    #[error(
        "line {line}: no column `{header}`{}, found {found}: correct the map or `skip_lines`, or export that \
            column",
        did_you_mean(near)
    )]
    MissingHeader {
        /// Line.
        line: u64,
        /// Header as mapped.
        header: String,
        /// The headers of the file.
        found: String,
        /// Headers that lie nearest.
        near: Vec<String>,
    },
    /// A header stands there twice.
    #[error(
        "line {line}: two columns `{header}`: nobody can tell which is meant, name them apart in the logger"
    )]
    HeaderTwice {
        /// Line.
        line: u64,
        /// The header.
        header: String,
    },
    /// Unit of the header against the map.
    #[error(
        "line {line}, column `{column}`: the header says {says}, the map says {mapped}: correct whichever is \
            wrong"
    )]
    Unit {
        /// Line.
        line: u64,
        /// Column.
        column: String,
        /// In the header.
        says: String,
        /// In the map.
        mapped: Unit,
    },
    /// More or fewer cells than headers.
    #[error(
        "line {line}: {found} cells, expected {expected} as in the headers: cells are lost or shifted, \
            export it again"
    )]
    Shifted {
        /// Line.
        line: u64,
        /// Cells found.
        found: usize,
        /// Headers.
        expected: usize,
    },
    /// A quote that is not closed, or closed too early.
    #[error(
        "line {line}: the quotes around `{found}` are not closed, or not at the end of the cell: export it \
            again"
    )]
    Quote {
        /// Line.
        line: u64,
        /// As far as it was read.
        found: String,
    },
    /// No text in a cell of readings.
    #[error(
        "line {line}, column `{column}`: an empty cell, expected a number: if it means no reading, list \"\" \
            in `no_reading`"
    )]
    EmptyCell {
        /// Line.
        line: u64,
        /// Column.
        column: String,
    },
    /// The other decimal mark.
    #[error(
        "line {line}, column `{column}`: `{found}`, expected a decimal {expected}: correct `decimal` of the \
            map"
    )]
    Mark {
        /// Line.
        line: u64,
        /// Column.
        column: String,
        /// As written.
        found: String,
        /// As mapped.
        expected: &'static str,
    },
    /// No number.
    #[error(
        "line {line}, column `{column}`: `{found}` is no number, expected digits as in {example} (at most 9 \
            before and 9 after the mark): if it means no reading, list it in `no_reading`"
    )]
    NoNumber {
        /// Line.
        line: u64,
        /// Column.
        column: String,
        /// As written.
        found: String,
        /// A number so written.
        example: &'static str,
    },
    /// A time otherwise written.
    #[error(
        "line {line}, column `{column}`: `{found}` is not written {expected}, as in {example}: correct \
            `format` of the map"
    )]
    TimeForm {
        /// Line.
        line: u64,
        /// Column.
        column: String,
        /// As written.
        found: String,
        /// The format of the map.
        expected: &'static str,
        /// A time so written.
        example: &'static str,
    },
    /// A day the calendar does not have.
    #[error(
        "line {line}, column `{column}`: `{found}` read as {read_as} is not in the calendar: correct \
            `format` of the map, or the logger's clock"
    )]
    NoSuchDay {
        /// Line.
        line: u64,
        /// Column.
        column: String,
        /// As written.
        found: String,
        /// The format of the map.
        read_as: &'static str,
    },
    /// A time of day that does not exist.
    #[error(
        "line {line}, column `{column}`: `{found}` names an hour, minute, second or offset that does not \
            exist: the line is damaged, export it again"
    )]
    NoSuchTime {
        /// Line.
        line: u64,
        /// Column.
        column: String,
        /// As written.
        found: String,
    },
    /// Skipped by a change of the clock.
    #[error(
        "line {line}, column `{column}`: `{found}` never came, the clock was put forward over it: correct \
            `changes` of the map"
    )]
    TimeNeverCame {
        /// Line.
        line: u64,
        /// Column.
        column: String,
        /// As written.
        found: String,
    },
    /// Repeated by a change of the clock.
    #[error(
        "line {line}, column `{column}`: `{found}` came twice, the clock was put back over it: nobody can \
            tell which is meant, export it with offsets or keep the logger on one time"
    )]
    TimeCameTwice {
        /// Line.
        line: u64,
        /// Column.
        column: String,
        /// As written.
        found: String,
    },
    /// The time of the line before again.
    #[error(
        "line {line}, column `{column}`: `{found}` is the time of the line before again: expected each \
            reading later than the one before, choose a format with seconds or export it again"
    )]
    TimeRepeats {
        /// Line.
        line: u64,
        /// Column.
        column: String,
        /// As written.
        found: String,
    },
    /// Earlier than the line before.
    #[error(
        "line {line}, column `{column}`: `{found}` is earlier than the line before: expected each reading \
            later than the one before; if the clock was put back, export it with offsets or list `changes` \
            in the map"
    )]
    TimeRunsBack {
        /// Line.
        line: u64,
        /// Column.
        column: String,
        /// As written.
        found: String,
    },
    /// Headers only.
    #[error(
        "no reading below the headers up to line {line}: expected at least one, export the time of the run"
    )]
    NoRows {
        /// Last line.
        line: u64,
    },
    /// Readings that make no log.
    #[error(transparent)]
    Log(#[from] LogError),
}

/// What a cell says, shortened, for a message.
pub(super) fn shown(cell: &[u8]) -> String {
    let text = String::from_utf8_lossy(cell);
    let mut short: String = text.trim().chars().take(40).filter(|c| !c.is_control()).collect();
    if text.trim().chars().count() > 40 {
        short.push('…');
    }
    short
}

/// A header of the map that the file does not have.
pub(super) fn missing(line: u64, header: String, headers: &[String]) -> LogFault {
    let plain = header.to_lowercase();
    let mut best = 4_usize;
    let mut near: Vec<String> = Vec::new();
    for candidate in headers.iter().filter(|h| h.chars().count() <= 60) {
        let distance = strsim::damerau_levenshtein(&candidate.to_lowercase(), &plain);
        if distance < best && distance < plain.chars().count() {
            (best, near) = (distance, Vec::new());
        }
        if distance == best && best < 4 {
            near.push(candidate.clone());
        }
    }
    let named: Vec<String> = headers.iter().take(12).map(|h| format!("`{}`", shown(h.as_bytes()))).collect();
    let more = if headers.len() > 12 { ", …" } else { "" };
    LogFault::MissingHeader { line, header, found: format!("{}{more}", named.join(", ")), near }
}

/// A cell of readings that is no number.
pub(super) fn unread(line: u64, column: String, cell: &[u8], mark: DecimalMark) -> LogFault {
    if cell.is_empty() {
        return LogFault::EmptyCell { line, column };
    }
    let (other, expected, example) = match mark {
        DecimalMark::Point => (b',', "point", "20.5"),
        DecimalMark::Comma => (b'.', "comma", "20,5"),
    };
    let found = shown(cell);
    if super::number::decimal(cell, other).is_some() {
        LogFault::Mark { line, column, found, expected }
    } else {
        LogFault::NoNumber { line, column, found, example }
    }
}
