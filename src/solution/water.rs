//! Rinse water: dissolved solids and resistivity by conductivity.

use std::fmt;
use std::str::FromStr;

use rust_decimal::Decimal;
use serde::Deserialize;
use serde::Deserializer;
use serde::Serialize;
use serde::Serializer;

use crate::solution::exact::between;
use crate::solution::exact::half_even;
use crate::solution::exact::quotient;
use crate::solution::fault::SolutionError;
use crate::units::Quantity;
use crate::units::Unit;
use crate::units::plain_decimal;

/// Stands beside every figure of solids computed from a conductivity.
pub const FACTOR_CAUTION: &str = "ppm computed from a conductivity rest on the factor named, which depends \
    on the salts dissolved: against a limit in ppm state the factor, or weigh the residue; against a limit \
    in µS/cm use the conductivity itself";

/// How conductivity is brought over to dissolved solids.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Factor {
    /// As potassium chloride, by table.
    PotassiumChloride,
    /// As sodium chloride, by table.
    SodiumChloride,
    /// As natural water (40 % sodium sulfate, 40 % bicarbonate, 20 % chloride, recalled), by table.
    Natural442,
    /// A number somebody stands for, ppm per µS/cm, 0.3 to 1.0.
    Stated(Decimal),
}

impl fmt::Display for Factor {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Factor::PotassiumChloride => f.write_str("KCl"),
            Factor::SodiumChloride => f.write_str("NaCl"),
            Factor::Natural442 => f.write_str("442"),
            Factor::Stated(number) => number.fmt(f),
        }
    }
}

impl FromStr for Factor {
    type Err = SolutionError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        match text.trim() {
            "KCl" => Ok(Factor::PotassiumChloride),
            "NaCl" => Ok(Factor::SodiumChloride),
            "442" => Ok(Factor::Natural442),
            other => {
                let number = plain_decimal(other).ok_or_else(|| SolutionError::Factor(text.to_owned()))?;
                stated(number).map(Factor::Stated)
            }
        }
    }
}

impl Serialize for Factor {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Factor {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

/// A stated factor, if water can have it. Natural waters lie at 0.55 to 0.8, pure salts from 0.45 (read in a
/// meter's manual); what lies far outside is a slip.
fn stated(number: Decimal) -> Result<Decimal, SolutionError> {
    if number >= Decimal::new(3, 1) && number <= Decimal::ONE {
        return Ok(number);
    }
    Err(SolutionError::Range {
        field: "factor",
        found: number.to_string(),
        expected: "0.3 to 1 ppm per µS/cm".to_owned(),
    })
}

/// µS/cm at 25 °C, and the factors of potassium chloride, sodium chloride and natural water in
/// ten-thousandths; read in the manuals of conductivity meters. The row of 84 is the one that fits its own
/// ppm (40.38 / 84 = 0.4807): another manual prints 0.5048, 0.4755 and 0.6563 there.
const FACTORS: [(i64, [i64; 3]); 6] = [
    (84, [4807, 4529, 6012]),
    (447, [5047, 4822, 6712]),
    (1413, [5270, 4969, 7078]),
    (1500, [5047, 4914, 7000]),
    (8974, [5685, 5000, 8478]),
    (12880, [5782, 5613, 8825]),
];

/// Dissolved solids by conductivity.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Solids {
    /// ppm, to 0.1.
    pub solids: Quantity,
    /// The factor used, ppm per µS/cm, to 0.0001; a stated one as stated.
    pub factor: Decimal,
    /// How it was come by; to be printed beside the solids, with [`FACTOR_CAUTION`].
    pub by: Factor,
}

impl fmt::Display for Solids {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.by {
            Factor::Stated(_) => write!(f, "{} (factor {}, stated)", self.solids, self.factor),
            by => write!(f, "{} (factor {}, {by})", self.solids, self.factor),
        }
    }
}

/// Dissolved solids (ppm) of water by its conductivity at 25 °C (µS/cm): conductivity times factor; the
/// factor of a table is read straight between its rows.
///
/// The tables begin at 84 µS/cm, above the usual limits of a rinse: weaker water needs a stated factor. Their
/// rows of 1413 and 1500 µS/cm come from two series and do not quite fit together. Errors: another unit,
/// nothing or more than 1 000 000 µS/cm, beyond the table, a stated factor outside 0.3 to 1.
pub fn dissolved_solids(conductivity: &Quantity, by: Factor) -> Result<Solids, SolutionError> {
    let value = microsiemens(conductivity)?;
    let overflow = || SolutionError::Overflow("the conductivity");
    let (factor, shown) = match by {
        Factor::Stated(number) => {
            let number = stated(number)?;
            (number, number)
        }
        Factor::PotassiumChloride => tabulated(conductivity, |[k, _, _]| k)?,
        Factor::SodiumChloride => tabulated(conductivity, |[_, n, _]| n)?,
        Factor::Natural442 => tabulated(conductivity, |[_, _, w]| w)?,
    };
    let exact = value.checked_mul(factor).ok_or_else(overflow)?;
    Ok(Solids { solids: Quantity::new(half_even(exact, 1), Unit::Ppm), factor: shown, by })
}

/// The factor, exact and rounded for print.
fn tabulated(
    conductivity: &Quantity,
    of: impl Fn([i64; 3]) -> i64,
) -> Result<(Decimal, Decimal), SolutionError> {
    let x = conductivity.value();
    let mut below: Option<(Decimal, Decimal)> = None;
    for (at, factors) in FACTORS {
        let here = (Decimal::from(at), Decimal::new(of(factors), 4));
        if here.0 == x {
            return Ok((here.1, here.1));
        }
        if here.0 > x {
            let Some(low) = below else { break };
            let factor = between(x, low, here).ok_or(SolutionError::Overflow("the conductivity"))?;
            return Ok((factor, half_even(factor, 4)));
        }
        below = Some(here);
    }
    let ends = |row: Option<&(i64, [i64; 3])>| row.map(|(at, _)| format!("{at} µS/cm")).unwrap_or_default();
    Err(SolutionError::Beyond {
        field: "conductivity",
        found: conductivity.to_string(),
        from: ends(FACTORS.first()),
        to: ends(FACTORS.last()),
    })
}

fn microsiemens(found: &Quantity) -> Result<Decimal, SolutionError> {
    if found.unit() != Unit::Microsiemens {
        let field = "conductivity";
        return Err(SolutionError::Unit { field, found: *found, expected: Unit::Microsiemens });
    }
    inverse_range("conductivity", found.value(), "µS/cm")
}

fn inverse_range(field: &'static str, value: Decimal, unit: &str) -> Result<Decimal, SolutionError> {
    if value >= Decimal::new(1, 6) && value <= Decimal::from(1_000_000) {
        return Ok(value);
    }
    let expected = format!("0.000001 to 1000000 {unit}");
    Err(SolutionError::Range { field, found: format!("{value} {unit}"), expected })
}

/// Resistivity in MΩ·cm by conductivity in µS/cm: its inverse, to 0.001.
///
/// Errors: another unit, outside 0.000001 to 1 000 000 µS/cm.
pub fn resistivity(conductivity: &Quantity) -> Result<Decimal, SolutionError> {
    let value = microsiemens(conductivity)?;
    let exact = quotient(Decimal::ONE, value).ok_or(SolutionError::Overflow("the conductivity"))?;
    Ok(half_even(exact, 3))
}

/// Conductivity in µS/cm by resistivity in MΩ·cm: its inverse, to 0.0001 µS/cm.
///
/// Errors: outside 0.000001 to 1 000 000 MΩ·cm.
pub fn conductivity(megohm_centimetres: Decimal) -> Result<Quantity, SolutionError> {
    let value = inverse_range("resistivity", megohm_centimetres, "MΩ·cm")?;
    let exact = quotient(Decimal::ONE, value).ok_or(SolutionError::Overflow("the resistivity"))?;
    Ok(Quantity::new(half_even(exact, 4), Unit::Microsiemens))
}
