//! The density a depth is reckoned with, and where it comes from.

use std::fmt;

use rust_decimal::Decimal;
use serde::Deserialize;
use serde::Serialize;

use super::RemovalError;

/// A density and its source, which stands beside every depth reckoned with it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Density {
    value: Decimal,
    source: String,
}

/// Families a standard gives one density for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Family {
    /// Austenitic without molybdenum.
    Austenitic,
    /// Austenitic with molybdenum.
    AusteniticMolybdenum,
    /// Austenitic-ferritic.
    Duplex,
    /// Precipitation-hardening.
    PrecipitationHardening,
    /// Ferritic.
    Ferritic,
    /// Martensitic.
    Martensitic,
}

/// Grade, UNS number, hundredths of g/cm³: ASTM G1 table X1.1, recalled.
const GRADES: &[(&str, &str, i64)] = &[
    ("201", "S20100", 794),
    ("202", "S20200", 794),
    ("302", "S30200", 794),
    ("304", "S30400", 794),
    ("304L", "S30403", 794),
    ("309", "S30900", 798),
    ("310", "S31000", 798),
    ("316", "S31600", 798),
    ("316L", "S31603", 798),
    ("317", "S31700", 798),
    ("321", "S32100", 794),
    ("329", "S32900", 795),
    ("330", "N08330", 798),
    ("347", "S34700", 803),
    ("410", "S41000", 770),
    ("430", "S43000", 772),
    ("446", "S44600", 765),
];

impl Density {
    /// A density someone states, g/cm³, with its source. Range 6 to 10: a stainless steel outside is a unit
    /// mistaken.
    pub fn stated(value: Decimal, source: &str) -> Result<Self, RemovalError> {
        if value < Decimal::from(6) || value > Decimal::TEN {
            return Err(RemovalError::BadDensity(value));
        }
        Ok(Density { value, source: source.to_owned() })
    }

    /// Density of a grade by its usual number or UNS number: ASTM G1 table X1.1 (recalled).
    pub fn of_grade(grade: &str) -> Result<Self, RemovalError> {
        let row = GRADES.iter().find(|(number, uns, _)| *number == grade || *uns == grade);
        let Some((number, _, hundredths)) = row else {
            return Err(RemovalError::NoDensity(grade.to_owned()));
        };
        let source = format!("ASTM G1 table X1.1, {number} (recalled)");
        Ok(Density { value: Decimal::new(*hundredths, 2), source })
    }

    /// Density of a family: 7.9 austenitic, 8.0 with molybdenum, 7.8 duplex and precipitation-hardening, 7.7
    /// ferritic and martensitic (EN 10088-1, recalled). Within 1 % of a grade's own.
    pub fn of_family(family: Family) -> Self {
        let (tenths, name) = match family {
            Family::Austenitic => (79, "austenitic"),
            Family::AusteniticMolybdenum => (80, "austenitic with molybdenum"),
            Family::Duplex => (78, "duplex"),
            Family::PrecipitationHardening => (78, "precipitation-hardening"),
            Family::Ferritic => (77, "ferritic"),
            Family::Martensitic => (77, "martensitic"),
        };
        Density { value: Decimal::new(tenths, 1), source: format!("EN 10088-1, {name} (recalled)") }
    }

    /// g/cm³.
    pub const fn value(&self) -> Decimal {
        self.value
    }

    /// Which table or statement.
    pub fn source(&self) -> &str {
        &self.source
    }
}

impl fmt::Display for Density {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "density {} g/cm³ ({})", self.value, self.source)
    }
}
