//! How each data logger or chart recorder of the shop writes its file: mapped once, used for every run.
//!
//! A map says where the time and each measurement stand, in which unit and with which decimal mark. Nothing
//! is guessed from a file: what a file does not say and the map does not say is a fault.

mod check;
mod header;
mod time;

use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::Deserialize;
use serde::Serialize;

use crate::columns::Separator;
use crate::units::Dimension;
use crate::units::Quantity;
use crate::units::Unit;

pub use check::Fault;
pub use check::MapFault;
pub(crate) use check::contradicts;
pub use header::HeaderUnit;
pub use header::header_unit;
pub use header::plain_header;
pub use time::DateOrder;
pub use time::Offset;
pub use time::OffsetChange;
pub use time::OffsetError;
pub use time::TimeColumn;
pub use time::TimeFormat;

/// Loggers (`loggers.yaml`).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Loggers {
    /// Every logger or recorder whose files a record may name.
    pub loggers: Vec<Logger>,
}

/// One logger and how it writes its file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Logger {
    /// Id, as records write it.
    pub logger: String,
    /// What it is.
    pub what: String,
    /// The calibrated sensor or meter behind it, by its id in the book of instruments.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub instrument: Option<String>,
    /// What stands between cells.
    pub delimiter: Separator,
    /// What stands before the fraction of a number.
    pub decimal: DecimalMark,
    /// Lines before the line of headers.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub skip_lines: u32,
    /// Where the time stands and how it is written.
    pub time: TimeColumn,
    /// What is measured, column by column; other columns of the file are passed over.
    pub columns: Vec<Column>,
    /// Cells that say there was no reading, letter for letter, such as `---`; an empty cell only where `""`
    /// is listed.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub no_reading: Vec<String>,
    /// Time from one reading to the next.
    pub interval: Quantity,
}

fn is_zero(lines: &u32) -> bool {
    *lines == 0
}

/// What stands before the fraction of a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum DecimalMark {
    /// `20.5`.
    #[default]
    Point,
    /// `20,5`.
    Comma,
}

impl DecimalMark {
    /// The byte in the file.
    pub const fn byte(self) -> u8 {
        match self {
            DecimalMark::Point => b'.',
            DecimalMark::Comma => b',',
        }
    }
}

/// One column of measurements.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Column {
    /// Its header in the file.
    pub header: String,
    /// What it measures.
    pub measures: Measures,
    /// The unit of its numbers.
    pub unit: Unit,
    /// How finely it reads, in the same unit, such as `0.5 °C`; left out: as the digits in the file say.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub resolution: Option<Quantity>,
    /// The calibrated sensor of this column, where it is another than the logger's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub instrument: Option<String>,
}

/// What a column measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Measures {
    /// Temperature of the bath, the rinse or the chamber.
    #[serde(rename = "temperature")]
    Temperature,
    /// Acidity.
    #[serde(rename = "pH")]
    Ph,
    /// Conductivity of rinse water.
    #[serde(rename = "conductivity")]
    Conductivity,
    /// Current of a rectifier.
    #[serde(rename = "current")]
    Current,
    /// Voltage of a rectifier.
    #[serde(rename = "voltage")]
    Voltage,
    /// Relative humidity of a chamber.
    #[serde(rename = "humidity")]
    Humidity,
}

impl Measures {
    /// The dimension its unit must have.
    pub const fn dimension(self) -> Dimension {
        match self {
            Measures::Temperature => Dimension::Temperature,
            Measures::Ph => Dimension::Acidity,
            Measures::Conductivity => Dimension::Conductivity,
            Measures::Current => Dimension::Current,
            Measures::Voltage => Dimension::Voltage,
            Measures::Humidity => Dimension::Humidity,
        }
    }

    /// The word a map writes.
    pub const fn word(self) -> &'static str {
        match self {
            Measures::Temperature => "temperature",
            Measures::Ph => "pH",
            Measures::Conductivity => "conductivity",
            Measures::Current => "current",
            Measures::Voltage => "voltage",
            Measures::Humidity => "humidity",
        }
    }
}

/// A span of time in whole milliseconds; `None` when it is no time, negative, not whole, or longer than
/// 10,000 years.
pub fn span_ms(span: &Quantity) -> Option<i64> {
    let each: i64 = match span.unit() {
        Unit::Second => 1_000,
        Unit::Minute => 60_000,
        Unit::Hour => 3_600_000,
        Unit::Day => 86_400_000,
        _ => return None,
    };
    let ms = span.value().checked_mul(Decimal::from(each))?;
    if !ms.fract().is_zero() || ms.is_sign_negative() {
        return None;
    }
    ms.to_i64().filter(|ms| *ms < 320_000_000_000_000)
}
