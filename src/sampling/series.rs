//! The closed series the tables are built on: levels, severities, code letters, acceptable quality levels.

use std::fmt;

use rust_decimal::Decimal;
use serde::Deserialize;
use serde::Serialize;

/// How a figure is known; the words are those of the rule packs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Basis {
    /// Read in a published text.
    Read,
    /// Recalled; a shop confirms it against its own copy.
    Recalled,
    /// Nobody is sure: no verdict until the shop enters its own copy's.
    Unsure,
    /// Arithmetic, or a rule of the house.
    House,
}

/// Inspection level: how many pieces for a lot of a given size. Special levels where a test is dear.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Level {
    /// S-1.
    S1,
    /// S-2.
    S2,
    /// S-3.
    S3,
    /// S-4.
    S4,
    /// General level I.
    I,
    /// General level II, the usual one.
    II,
    /// General level III.
    III,
}

impl Level {
    /// All levels, in the order of the table of code letters.
    pub const ALL: [Level; 7] = [Level::S1, Level::S2, Level::S3, Level::S4, Level::I, Level::II, Level::III];

    /// As orders write it.
    pub const fn name(self) -> &'static str {
        match self {
            Level::S1 => "S-1",
            Level::S2 => "S-2",
            Level::S3 => "S-3",
            Level::S4 => "S-4",
            Level::I => "I",
            Level::II => "II",
            Level::III => "III",
        }
    }

    /// The level written so, if any.
    pub fn of(text: &str) -> Option<Level> {
        Level::ALL.into_iter().find(|level| level.name() == text)
    }
}

impl fmt::Display for Level {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// How severe the inspection is; the laxest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Fewer pieces, after a good run.
    Reduced,
    /// Where inspection begins unless told otherwise.
    Normal,
    /// Fewer failures allowed, after a bad run.
    Tightened,
}

impl Severity {
    /// All three, the laxest first.
    pub const ALL: [Severity; 3] = [Severity::Reduced, Severity::Normal, Severity::Tightened];

    /// As orders write it.
    pub const fn name(self) -> &'static str {
        match self {
            Severity::Reduced => "reduced",
            Severity::Normal => "normal",
            Severity::Tightened => "tightened",
        }
    }
}

impl fmt::Display for Severity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// Sample size code letter, `A` to `S` without `I` and `O`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Letter(char);

impl Letter {
    /// The letters, smallest samples first.
    pub const ALL: &'static str = "ABCDEFGHJKLMNPQRS";

    /// The letter written so, if it is one.
    pub fn of(text: &str) -> Option<Letter> {
        let mut chars = text.chars();
        let letter = chars.next()?;
        (chars.next().is_none() && Letter::ALL.contains(letter)).then_some(Letter(letter))
    }
}

impl fmt::Display for Letter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}

/// Acceptable quality level: one of the 26 of the tables. Up to 10 it is per cent nonconforming or nonconformities
/// per hundred units; above 10 only the latter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Aql(usize);

impl Aql {
    /// The series, as written in the tables (MIL-STD-105E).
    pub const SERIES: [&'static str; 26] = [
        "0.010", "0.015", "0.025", "0.040", "0.065", "0.10", "0.15", "0.25", "0.40", "0.65", "1.0", "1.5",
        "2.5", "4.0", "6.5", "10", "15", "25", "40", "65", "100", "150", "250", "400", "650", "1000",
    ];

    /// All of them, the strictest first.
    pub fn all() -> impl Iterator<Item = Aql> {
        (0..Aql::SERIES.len()).map(Aql)
    }

    /// The level written so; `1` is not `1.0`, so that an order is written in one way.
    pub fn of(text: &str) -> Option<Aql> {
        Aql::SERIES.iter().position(|known| *known == text).map(Aql)
    }

    /// The level of that value, however it is written.
    pub fn near(value: Decimal) -> Option<Aql> {
        Aql::all().find(|aql| aql.value() == value)
    }

    /// As written in the tables.
    pub fn name(self) -> &'static str {
        Aql::SERIES.get(self.0).copied().unwrap_or_default()
    }

    /// Its value, per cent or per hundred units.
    pub fn value(self) -> Decimal {
        self.name().parse().unwrap_or_default()
    }

    /// Its place in the series, from 0.
    pub const fn index(self) -> usize {
        self.0
    }

    /// The next stricter one.
    pub fn tighter(self) -> Option<Aql> {
        self.0.checked_sub(1).map(Aql)
    }

    /// Whether only nonconformities per hundred units can be counted: above 10.
    pub fn per_hundred_units_only(self) -> bool {
        self.value() > Decimal::TEN
    }
}

impl fmt::Display for Aql {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}
