//! Faults of a map, each with the path of the field it stands in.

use std::collections::BTreeSet;

use rust_decimal::Decimal;

use super::DecimalMark;
use super::HeaderUnit;
use super::Logger;
use super::Loggers;
use super::header_unit;
use super::plain_header;
use crate::columns::Separator;
use crate::path::Path;
use crate::units::Dimension;
use crate::units::Quantity;
use crate::units::Unit;

/// A fault of a map and where it stands.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{path}: {fault}")]
pub struct Fault {
    /// The field.
    pub path: Path,
    /// What is wrong there.
    pub fault: MapFault,
}

/// What is wrong with the map of a logger.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum MapFault {
    /// A text that must say something.
    #[error("nothing is written here: expected {0}")]
    Nothing(&'static str),
    /// An id or a header named twice.
    #[error("`{0}` is named twice: give each its own")]
    Twice(String),
    /// No column of measurements.
    #[error("no column is mapped: list at least one with its header, what it measures and its unit")]
    NoColumn,
    /// More than anybody maps, by mistake or by malice.
    #[error("{found} found, at most {most} can be mapped")]
    TooMany {
        /// How many.
        found: usize,
        /// The limit.
        most: usize,
    },
    /// Comma between cells and in numbers.
    #[error("a comma cannot stand both between cells and in numbers: look into the file for `;` or a tab")]
    CommaTwice,
    /// No offset anywhere.
    #[error("`{0}` names no offset from UTC: add `offset`, such as -05:00, to `time`")]
    NoOffset(&'static str),
    /// Two offsets.
    #[error("`{0}` names the offset in the file: leave out `offset` and `changes`")]
    OffsetTwice(&'static str),
    /// A format with an offset cannot be split.
    #[error("`{0}` stands in one column: leave out `clock`, or choose a format without offset")]
    ClockApart(&'static str),
    /// Changes of the clock out of order.
    #[error("the change at {0} does not come after the one before it: list them oldest first")]
    ChangesOrder(String),
    /// A unit that does not measure this.
    #[error("{measures} is not measured in {unit}: give a unit of {measures}")]
    Dimension {
        /// As mapped.
        measures: &'static str,
        /// As mapped.
        unit: Unit,
    },
    /// Header against map.
    #[error("the header says {says}, the map says {mapped}: correct whichever is wrong")]
    HeaderUnit {
        /// In the header.
        says: String,
        /// In the map.
        mapped: Unit,
    },
    /// A resolution that is none.
    #[error("`{found}` is no resolution here: expected a positive amount of {unit}, such as `0.1 {unit}`")]
    Resolution {
        /// As mapped.
        found: Quantity,
        /// The unit of the column.
        unit: Unit,
    },
    /// An interval that is none.
    #[error(
        "`{0}` is no time between readings: expected more than nothing and at most a day, such as `10 s`"
    )]
    Interval(Quantity),
    /// A word with a quote or a line end in it.
    #[error("`{0}` cannot stand in a cell as it is: leave out quotes and line ends")]
    Word(String),
}

/// Most columns a map may name.
const MOST_COLUMNS: usize = 64;
/// Most words for a cell without reading.
const MOST_WORDS: usize = 16;
/// Most lines before the headers.
const MOST_SKIPPED: u32 = 1000;

impl Loggers {
    /// Faults of all maps, from the root of their document; empty when they can be used.
    pub fn faults(&self) -> Vec<Fault> {
        let mut faults = Vec::new();
        let mut ids = BTreeSet::new();
        for (position, logger) in self.loggers.iter().enumerate() {
            let at = Path::root().key("loggers").index(position);
            if !ids.insert(logger.logger.trim()) {
                let fault = MapFault::Twice(logger.logger.trim().to_owned());
                faults.push(Fault { path: at.key("logger"), fault });
            }
            faults.extend(logger.faults(&at));
        }
        faults
    }
}

impl Logger {
    /// Faults of this map, whose path in its document is `at`; empty when it can be used.
    pub fn faults(&self, at: &Path) -> Vec<Fault> {
        let mut faults = Vec::new();
        let mut say = |path: Path, fault: MapFault| faults.push(Fault { path, fault });
        if self.logger.trim().is_empty() {
            say(at.key("logger"), MapFault::Nothing("an id, as records write it"));
        }
        if self.what.trim().is_empty() {
            say(at.key("what"), MapFault::Nothing("what the logger is"));
        }
        if self.delimiter == Separator::Comma && self.decimal == DecimalMark::Comma {
            say(at.key("decimal"), MapFault::CommaTwice);
        }
        if self.skip_lines > MOST_SKIPPED {
            let (found, most) = (self.skip_lines as usize, MOST_SKIPPED as usize);
            say(at.key("skip_lines"), MapFault::TooMany { found, most });
        }
        let interval = super::span_ms(&self.interval);
        if !interval.is_some_and(|ms| ms > 0 && ms <= 86_400_000) {
            say(at.key("interval"), MapFault::Interval(self.interval));
        }
        if self.no_reading.len() > MOST_WORDS {
            say(at.key("no_reading"), MapFault::TooMany { found: self.no_reading.len(), most: MOST_WORDS });
        }
        for (position, word) in self.no_reading.iter().enumerate() {
            if word.contains(['"', '\n', '\r']) {
                say(at.key("no_reading").index(position), MapFault::Word(word.clone()));
            }
        }
        self.time_faults(at, &mut say);
        self.column_faults(at, &mut say);
        faults
    }

    fn time_faults(&self, at: &Path, say: &mut impl FnMut(Path, MapFault)) {
        let (at, time) = (at.key("time"), &self.time);
        let word = time.format.word();
        if time.format.zone() {
            if time.offset.is_some() || !time.changes.is_empty() {
                say(at.key("offset"), MapFault::OffsetTwice(word));
            }
            if time.clock.is_some() {
                say(at.key("clock"), MapFault::ClockApart(word));
            }
        } else if time.offset.is_none() {
            say(at.clone(), MapFault::NoOffset(word));
        }
        for (position, pair) in time.changes.windows(2).enumerate() {
            if let [earlier, later] = pair
                && later.at <= earlier.at
            {
                say(at.key("changes").index(position + 1), MapFault::ChangesOrder(later.at.to_string()));
            }
        }
    }

    fn column_faults(&self, at: &Path, say: &mut impl FnMut(Path, MapFault)) {
        let mut seen = BTreeSet::new();
        let mut named = |path: Path, header: &str, say: &mut dyn FnMut(Path, MapFault)| {
            let plain = plain_header(header);
            if plain.is_empty() {
                say(path, MapFault::Nothing("the header as the file writes it"));
            } else if !seen.insert(plain.clone()) {
                say(path, MapFault::Twice(plain));
            }
        };
        named(at.key("time").key("header"), &self.time.header, say);
        if let Some(clock) = &self.time.clock {
            named(at.key("time").key("clock"), clock, say);
        }
        let at = at.key("columns");
        if self.columns.is_empty() {
            say(at.clone(), MapFault::NoColumn);
        }
        if self.columns.len() > MOST_COLUMNS {
            say(at.clone(), MapFault::TooMany { found: self.columns.len(), most: MOST_COLUMNS });
        }
        for (position, column) in self.columns.iter().enumerate() {
            let at = at.index(position);
            named(at.key("header"), &column.header, say);
            if column.unit.dimension() != column.measures.dimension() {
                let fault = MapFault::Dimension { measures: column.measures.word(), unit: column.unit };
                say(at.key("unit"), fault);
            }
            if let Some(says) = contradicts(&column.header, column.unit) {
                say(at.key("unit"), MapFault::HeaderUnit { says, mapped: column.unit });
            }
            if let Some(found) = column.resolution {
                let fine = found.value() > Decimal::ZERO && found.value().scale() <= 9;
                if found.unit() != column.unit || !fine {
                    say(at.key("resolution"), MapFault::Resolution { found, unit: column.unit });
                }
            }
        }
    }
}

/// The unit the header names, where it is another than `mapped`.
pub(crate) fn contradicts(header: &str, mapped: Unit) -> Option<String> {
    match header_unit(header)? {
        HeaderUnit::Known(unit) if unit == mapped => None,
        // `%` alone is how many loggers print relative humidity.
        HeaderUnit::Other(text) if text == "%" && mapped.dimension() == Dimension::Humidity => None,
        HeaderUnit::Known(unit) => Some(unit.to_string()),
        HeaderUnit::Other(text) => Some(text),
    }
}
