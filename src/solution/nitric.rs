//! Nitric acid by density, degree Baumé, and from one way of stating its strength to another.

use rust_decimal::Decimal;

use crate::solution::answer::NITRIC;
use crate::solution::answer::Warning;
use crate::solution::exact::between;
use crate::solution::exact::half_even;
use crate::solution::exact::product;
use crate::solution::exact::quotient;
use crate::solution::exact::root;
use crate::solution::fault::SolutionError;
use crate::solution::titration::Analyte;
use crate::solution::titration::Basis;
use crate::units::Quantity;
use crate::units::Unit;

/// How a row of the density table is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Confidence {
    /// Read in a handbook.
    Seen,
    /// From memory.
    Recalled,
    /// Read, but another source differs.
    Disputed,
}

impl Confidence {
    /// As printed.
    pub const fn name(self) -> &'static str {
        match self {
            Confidence::Seen => "seen",
            Confidence::Recalled => "recalled",
            Confidence::Disputed => "disputed",
        }
    }
}

/// A row of the density table of nitric acid at 20 °C.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Row {
    /// wt%.
    pub mass_percent: Decimal,
    /// g/mL at 20 °C.
    pub density: Decimal,
    /// How it is known.
    pub confidence: Confidence,
}

/// wt%, 0.00001 g/mL, how known. Handbook densities at 20 °C. Of 70 wt% one handbook gives 989 g/L at 20 °C,
/// another source 1.406 g/mL at 25 °C; they agree only roughly.
const ROWS: [(i64, i64, Confidence); 19] = [
    (1, 100_364, Confidence::Seen),
    (2, 100_909, Confidence::Seen),
    (3, 101_457, Confidence::Seen),
    (4, 102_008, Confidence::Seen),
    (5, 102_563, Confidence::Seen),
    (6, 103_122, Confidence::Seen),
    (7, 103_690, Confidence::Seen),
    (8, 104_270, Confidence::Seen),
    (9, 104_850, Confidence::Seen),
    (10, 105_430, Confidence::Seen),
    (11, 106_020, Confidence::Seen),
    (12, 106_610, Confidence::Seen),
    (13, 107_210, Confidence::Seen),
    (14, 107_810, Confidence::Seen),
    (52, 132_190, Confidence::Seen),
    (60, 136_670, Confidence::Recalled),
    (65, 139_130, Confidence::Recalled),
    (68, 140_480, Confidence::Seen),
    (70, 141_340, Confidence::Disputed),
];

/// The density table, weakest acid first.
pub fn density_rows() -> impl Iterator<Item = Row> {
    ROWS.iter().map(|(mass, density, confidence)| Row {
        mass_percent: Decimal::from(*mass),
        density: Decimal::new(*density, 5),
        confidence: *confidence,
    })
}

/// A strength read from a density.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ByDensity {
    /// wt%, to 0.01.
    pub mass_percent: Quantity,
    /// g/L of nitric acid, to 0.01.
    pub grams_per_litre: Quantity,
    /// mol/L, to 0.001.
    pub mole_per_litre: Quantity,
    /// The rows it was read between; both the same where it is a row's own density.
    pub rows: (Row, Row),
    /// Warnings; that metals raise a density always stands.
    pub warnings: Vec<Warning>,
}

/// Most a density's temperature may lie from 20 °C, °C: at 60 wt% one degree is about 0.0015 g/mL, a quarter
/// of a per cent by mass (recalled).
const MOST_APART: Decimal = Decimal::ONE;

/// Reads the strength of nitric acid from its density (g/mL) at 20 °C, straight between the rows of the
/// table.
///
/// `within` is how far the temperature may lie from 20 °C, 0 to 1 °C. Between 14 and 52 wt% no rows are on
/// record: a straight line there differs from handbook densities (recalled) by up to 0.3 wt%, which a warning
/// says.
/// Errors: another unit, a temperature outside, a density beyond the table (nothing is extrapolated).
pub fn strength_by_density(
    density: &Quantity,
    temperature: &Quantity,
    within: Decimal,
) -> Result<ByDensity, SolutionError> {
    at_twenty(temperature, within)?;
    let found = density.value();
    in_unit("density", density, Unit::GramPerMillilitre)?;
    let rows = bracket(found, |row| row.density).ok_or_else(|| beyond("density", density))?;
    let overflow = SolutionError::Overflow("the density");
    let by_density = |row: Row| (row.density, row.mass_percent);
    let mass = if rows.0 == rows.1 {
        rows.0.mass_percent
    } else {
        between(found, by_density(rows.0), by_density(rows.1)).ok_or_else(|| overflow.clone())?
    };
    let grams = product(&[mass, found, Decimal::TEN]).ok_or_else(|| overflow.clone())?;
    let moles = quotient(grams, NITRIC).ok_or(overflow)?;
    let mut warnings = vec![Warning::MetalsRaiseDensity];
    if wide(rows) {
        warnings.push(Warning::WideGap);
    }
    Ok(ByDensity {
        mass_percent: Quantity::new(half_even(mass, 2), Unit::MassPercent),
        grams_per_litre: Quantity::new(half_even(grams, 2), Unit::GramPerLitre),
        mole_per_litre: Quantity::new(half_even(moles, 3), Unit::MolePerLitre),
        rows,
        warnings,
    })
}

fn wide(rows: (Row, Row)) -> bool {
    rows.1.mass_percent.checked_sub(rows.0.mass_percent).is_some_and(|gap| gap > Decimal::TEN)
}

fn in_unit(field: &'static str, found: &Quantity, expected: Unit) -> Result<(), SolutionError> {
    if found.unit() == expected {
        return Ok(());
    }
    Err(SolutionError::Unit { field, found: *found, expected })
}

/// Whether the temperature lies within `within` °C of 20 °C, exactly: °F are compared in ninths of a °C.
fn at_twenty(temperature: &Quantity, within: Decimal) -> Result<(), SolutionError> {
    if within < Decimal::ZERO || within > MOST_APART {
        let expected = "0 to 1 °C, for the table holds at 20 °C only".to_owned();
        let found = format!("{within} °C");
        return Err(SolutionError::Range { field: "allowed departure from 20 °C", found, expected });
    }
    let value = temperature.value();
    let nine = Decimal::from(9);
    let ninths = match temperature.unit() {
        Unit::Celsius => value.checked_sub(Decimal::from(20)).and_then(|d| d.checked_mul(nine)),
        Unit::Fahrenheit => {
            value.checked_sub(Decimal::from(68)).and_then(|d| d.checked_mul(Decimal::from(5)))
        }
        _ => {
            return Err(SolutionError::Unit {
                field: "temperature of the density",
                found: *temperature,
                expected: Unit::Celsius,
            });
        }
    };
    let allowed = within.checked_mul(nine).unwrap_or(Decimal::ZERO);
    if ninths.is_some_and(|n| n.abs() <= allowed) {
        return Ok(());
    }
    Err(SolutionError::Temperature { found: *temperature, within })
}

/// The rows on either side of `x`; one row twice where `x` is its own; `None` outside the table.
fn bracket(x: Decimal, of: impl Fn(&Row) -> Decimal) -> Option<(Row, Row)> {
    let mut below: Option<Row> = None;
    for row in density_rows() {
        let here = of(&row);
        if here == x {
            return Some((row, row));
        }
        if here > x {
            return below.map(|low| (low, row));
        }
        below = Some(row);
    }
    None
}

fn beyond(field: &'static str, found: &Quantity) -> SolutionError {
    let ends = |row: Option<Row>| {
        row.map(|r| match found.unit() {
            Unit::GramPerMillilitre => format!("{} g/mL", r.density),
            Unit::MassPercent => format!("{} wt%", r.mass_percent),
            _ => format!("{} g/L", half_even(grams(&r), 1)),
        })
        .unwrap_or_default()
    };
    let (from, to) = (ends(density_rows().next()), ends(density_rows().last()));
    SolutionError::Beyond { field, found: found.to_string(), from, to }
}

/// g/L of nitric acid at a row.
fn grams(row: &Row) -> Decimal {
    product(&[row.mass_percent, row.density, Decimal::TEN]).unwrap_or(Decimal::ZERO)
}

/// g/L of nitric acid in a bath of `volume` vol% of the concentrate `basis` names:
/// `vol% · Mc · 63.012 / 100`, to 0.01.
///
/// By ideal dilution: per cent by volume means parts of concentrate made up to a hundred parts of bath.
/// Errors: another unit, a strength outside 0 to 100, a basis of crystals.
pub fn grams_per_litre(volume: &Quantity, basis: Basis) -> Result<Quantity, SolutionError> {
    in_unit("strength", volume, Unit::VolumePercent)?;
    let value = volume.value();
    if value < Decimal::ZERO || value > Decimal::ONE_HUNDRED {
        let expected = "0 to 100 vol%".to_owned();
        return Err(SolutionError::Range { field: "strength", found: volume.to_string(), expected });
    }
    let exact = product(&[value, concentrate(basis)?, NITRIC, Decimal::new(1, 2)])
        .ok_or(SolutionError::Overflow("the strength"))?;
    Ok(Quantity::new(half_even(exact, 2), Unit::GramPerLitre))
}

/// vol% of the concentrate `basis` names in a bath of `grams` g/L of nitric acid, to 0.01:
/// [`grams_per_litre`] turned round.
///
/// Errors: another unit, less than nothing or more than the concentrate holds, a basis of crystals.
pub fn volume_percent(grams: &Quantity, basis: Basis) -> Result<Quantity, SolutionError> {
    in_unit("strength", grams, Unit::GramPerLitre)?;
    let overflow = || SolutionError::Overflow("the strength");
    let whole = product(&[concentrate(basis)?, NITRIC]).ok_or_else(overflow)?;
    if grams.value() < Decimal::ZERO || grams.value() > whole {
        let expected = format!("0 to {} g/L, what the concentrate holds", half_even(whole, 2));
        return Err(SolutionError::Range { field: "strength", found: grams.to_string(), expected });
    }
    let parts = product(&[grams.value(), Decimal::ONE_HUNDRED]).ok_or_else(overflow)?;
    let exact = quotient(parts, whole).ok_or_else(overflow)?;
    Ok(Quantity::new(half_even(exact, 2), Unit::VolumePercent))
}

fn concentrate(basis: Basis) -> Result<Decimal, SolutionError> {
    basis.concentrate().ok_or_else(|| SolutionError::WrongBasis {
        what: Analyte::NitricAcid,
        found: basis,
        expected: "a concentrate of nitric acid, as in `42 °Bé`".to_owned(),
    })
}

/// g/L of nitric acid of `mass` wt% at 20 °C, by the density table: `wt% · ρ · 10`, to 0.01. The warning
/// stands where the rows lie far apart. Errors: another unit, beyond the table.
pub fn grams_per_litre_of_mass(mass: &Quantity) -> Result<(Quantity, Option<Warning>), SolutionError> {
    in_unit("strength", mass, Unit::MassPercent)?;
    let rows = bracket(mass.value(), |row| row.mass_percent).ok_or_else(|| beyond("strength", mass))?;
    let by_mass = |row: Row| (row.mass_percent, row.density);
    let density = if rows.0 == rows.1 {
        Some(rows.0.density)
    } else {
        between(mass.value(), by_mass(rows.0), by_mass(rows.1))
    };
    let exact = density
        .and_then(|d| product(&[mass.value(), d, Decimal::TEN]))
        .ok_or(SolutionError::Overflow("the strength"))?;
    let warning = wide(rows).then_some(Warning::WideGap);
    Ok((Quantity::new(half_even(exact, 2), Unit::GramPerLitre), warning))
}

/// wt% of nitric acid that holds `grams` g/L at 20 °C, by the density table, to 0.01: the `w` for which
/// `10 w ρ(w)` is the g/L, with `ρ` straight between two rows, so a quadratic equation. The warning stands
/// where the rows lie far apart. Errors: another unit, beyond the table.
pub fn mass_percent(found: &Quantity) -> Result<(Quantity, Option<Warning>), SolutionError> {
    in_unit("strength", found, Unit::GramPerLitre)?;
    let rows = bracket(found.value(), grams).ok_or_else(|| beyond("strength", found))?;
    let exact = if rows.0 == rows.1 { Some(rows.0.mass_percent) } else { solve(found.value(), rows) };
    let exact = exact.ok_or(SolutionError::Overflow("the strength"))?;
    let warning = wide(rows).then_some(Warning::WideGap);
    Ok((Quantity::new(half_even(exact, 2), Unit::MassPercent), warning))
}

/// Solves `m w² + a w = g / 10`, where `ρ(w) = a + m w` runs through both rows.
fn solve(grams: Decimal, (low, high): (Row, Row)) -> Option<Decimal> {
    let run = high.mass_percent.checked_sub(low.mass_percent)?;
    let m = quotient(high.density.checked_sub(low.density)?, run)?;
    let a = low.density.checked_sub(m.checked_mul(low.mass_percent)?)?;
    let right = product(&[Decimal::from(4), m, grams, Decimal::new(1, 1)])?;
    let top = root(a.checked_mul(a)?.checked_add(right)?)?.checked_sub(a)?;
    quotient(top, m.checked_mul(Decimal::TWO)?)
}

/// Specific gravity at 60 °F of a liquid heavier than water by degree Baumé: `145 / (145 − °Bé)`, to 0.0001
/// (common practice, the American scale). Errors: outside 0 to 72 °Bé.
pub fn specific_gravity(baume: Decimal) -> Result<Decimal, SolutionError> {
    let out = || SolutionError::Range {
        field: "degree Baumé",
        found: baume.to_string(),
        expected: "0 to 72, liquids heavier than water".to_owned(),
    };
    if baume < Decimal::ZERO || baume > Decimal::from(72) {
        return Err(out());
    }
    let modulus = Decimal::from(145);
    let exact = modulus.checked_sub(baume).and_then(|b| quotient(modulus, b)).ok_or_else(out)?;
    Ok(half_even(exact, 4))
}

/// Degree Baumé by specific gravity at 60 °F: `145 − 145 / sg`, to 0.01. Errors: outside 1 to 2.
pub fn baume(gravity: Decimal) -> Result<Decimal, SolutionError> {
    let out = || SolutionError::Range {
        field: "specific gravity",
        found: gravity.to_string(),
        expected: "1 to 2, liquids heavier than water".to_owned(),
    };
    if gravity < Decimal::ONE || gravity > Decimal::TWO {
        return Err(out());
    }
    let modulus = Decimal::from(145);
    let exact = quotient(modulus, gravity).and_then(|q| modulus.checked_sub(q)).ok_or_else(out)?;
    Ok(half_even(exact, 2))
}
