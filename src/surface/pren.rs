//! Pitting resistance equivalent number of a heat.

use std::collections::BTreeMap;
use std::fmt;

use rust_decimal::Decimal;
use serde::Deserialize;
use serde::Serialize;

use crate::solution::exact::half_even;
use crate::solution::exact::product;
use crate::surface::fault::SurfaceError;
use crate::units::Quantity;
use crate::units::Unit;

/// Which formula a number was reckoned by (all three common practice; no standard settles one for all
/// alloys).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Formula {
    /// The usual one.
    #[serde(rename = "Cr + 3.3 Mo + 16 N")]
    N16,
    /// Tungsten counts half as molybdenum: duplex grades with tungsten.
    #[serde(rename = "Cr + 3.3 (Mo + 0.5 W) + 16 N")]
    Tungsten,
    /// Nitrogen counts more: austenitic grades with much nitrogen.
    #[serde(rename = "Cr + 3.3 Mo + 30 N")]
    N30,
}

impl Formula {
    /// As printed beside every number.
    pub const fn name(self) -> &'static str {
        match self {
            Formula::N16 => "Cr + 3.3 Mo + 16 N",
            Formula::Tungsten => "Cr + 3.3 (Mo + 0.5 W) + 16 N",
            Formula::N30 => "Cr + 3.3 Mo + 30 N",
        }
    }

    /// Symbol and weight, in hundredths.
    const fn terms(self) -> &'static [(&'static str, i64)] {
        match self {
            Formula::N16 => &[("Cr", 100), ("Mo", 330), ("N", 1600)],
            Formula::Tungsten => &[("Cr", 100), ("Mo", 330), ("W", 165), ("N", 1600)],
            Formula::N30 => &[("Cr", 100), ("Mo", 330), ("N", 3000)],
        }
    }
}

impl fmt::Display for Formula {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// A pitting resistance equivalent number.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pren {
    /// To 0.01.
    pub value: Decimal,
    /// The formula.
    pub formula: Formula,
    /// Elements of the formula the chemistry does not state. They count as nought: with any of them, the
    /// number is the least it can be.
    pub not_stated: Vec<&'static str>,
}

impl fmt::Display for Pren {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let least = if self.not_stated.is_empty() { "" } else { "at least " };
        write!(f, "{least}{} ({})", self.value, self.formula)?;
        if self.not_stated.is_empty() {
            Ok(())
        } else {
            write!(f, "; not stated: {}", self.not_stated.join(", "))
        }
    }
}

/// The number of a heat by its chemistry (symbol to wt%), to 0.01.
///
/// It ranks alloys against pitting in chloride; it says nothing about a finish. Errors: no chromium, an
/// element of the formula in another unit or outside 0 to 100 wt%, more than 100 wt% in all of them.
pub fn pren(chemistry: &BTreeMap<String, Quantity>, formula: Formula) -> Result<Pren, SurfaceError> {
    let overflow = || SurfaceError::Overflow("the chemistry");
    let (mut total, mut counted, mut not_stated) = (Decimal::ZERO, Decimal::ZERO, Vec::new());
    for (element, hundredths) in formula.terms() {
        let Some(found) = chemistry.get(*element) else {
            if *element == "Cr" {
                return Err(SurfaceError::NoChromium);
            }
            not_stated.push(*element);
            continue;
        };
        let value = found.value();
        let possible = value >= Decimal::ZERO && value <= Decimal::ONE_HUNDRED;
        if found.unit() != Unit::MassPercent || !possible {
            return Err(SurfaceError::Alloying { element, found: *found });
        }
        counted = counted.checked_add(value).ok_or_else(overflow)?;
        let term = product(&[value, Decimal::new(*hundredths, 2)]).ok_or_else(overflow)?;
        total = total.checked_add(term).ok_or_else(overflow)?;
    }
    if counted > Decimal::ONE_HUNDRED {
        return Err(SurfaceError::TooMuch(counted));
    }
    Ok(Pren { value: half_even(total, 2), formula, not_stated })
}
