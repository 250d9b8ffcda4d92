//! What a shop reckons before it polishes: current density in the other unit, charge for a depth, hydrogen to
//! vent.

use rust_decimal::Decimal;

use super::Density;
use super::Efficiency;
use super::EquivalentWeight;
use super::FARADAY;
use super::RemovalError;
use super::amount::ampere_minutes;
use super::amount::micrometres;
use super::within;
use crate::units::Quantity;
use crate::units::Unit;

/// Removal per surface that is usual, in inches: from, to (common practice).
pub const TYPICAL_REMOVAL: (Decimal, Decimal) =
    (Decimal::from_parts(1, 0, 0, false, 4), Decimal::from_parts(2, 0, 0, false, 4));

/// What to heed where hydrogen comes off the cathode.
pub const HYDROGEN_CAUTION: &str = "hydrogen comes off the cathode and burns in air from 4 vol% on: \
    ventilate so that it stays far below, keep flames, sparks and welding away, and break foam that holds gas";

/// 1 A/ft² = 15625/145161 A/dm², from 1 ft = 3.048 dm exactly.
const RATIO: (i64, i64) = (15_625, 145_161);

/// A current density in A/dm², as given or by the exact ratio (to 28 digits).
pub(crate) fn amperes_per_square_decimetre(quantity: &Quantity) -> Result<Decimal, RemovalError> {
    let what = "the current density";
    match quantity.unit() {
        Unit::AmperePerDm2 => Ok(quantity.value()),
        Unit::AmperePerFt2 => per_square_decimetre(quantity.value()),
        _ => Err(RemovalError::WrongUnit {
            what,
            found: quantity.to_string(),
            expected: "a current density in A/dm² or A/ft²",
        }),
    }
}

/// A/ft² → A/dm²: `· 15625/145161`. Also A·min/ft² → A·min/dm².
pub fn per_square_decimetre(per_square_foot: Decimal) -> Result<Decimal, RemovalError> {
    convert(per_square_foot, RATIO.0, RATIO.1)
}

/// A/dm² → A/ft²: `· 145161/15625` = 9.290304 exactly.
pub fn per_square_foot(per_square_decimetre: Decimal) -> Result<Decimal, RemovalError> {
    convert(per_square_decimetre, RATIO.1, RATIO.0)
}

fn convert(value: Decimal, times: i64, over: i64) -> Result<Decimal, RemovalError> {
    let product = value.checked_mul(Decimal::from(times));
    within(product.and_then(|v| v.checked_div(Decimal::from(over))), "the current density")
}

/// Charge per surface for a depth, A·min/dm²: `depth · F · ρ / (6000 · EW · η)`, depth in µm, ρ in g/cm³; η
/// is 1 where there is no efficiency, and the charge then the least that can do. Errors: a depth not above 0
/// or in no unit of length, an efficiency of other valences.
pub fn charge_needed(
    depth: &Quantity,
    alloy: &EquivalentWeight,
    density: &Density,
    efficiency: Option<&Efficiency>,
) -> Result<Decimal, RemovalError> {
    let what = "the depth";
    let micrometres = micrometres(depth, what)?;
    if micrometres <= Decimal::ZERO {
        return Err(RemovalError::NotPositive { what, found: depth.to_string() });
    }
    let efficiency = match efficiency {
        Some(efficiency) => efficiency.for_valences(alloy.valences)?,
        None => Decimal::ONE,
    };
    let needed = || {
        let per_charge = Decimal::from(6_000).checked_mul(alloy.value)?.checked_mul(efficiency)?;
        micrometres.checked_mul(FARADAY)?.checked_mul(density.value())?.checked_div(per_charge)
    };
    within(needed(), "the charge needed")
}

/// Litres of hydrogen a charge sets free at 25 °C and 1 atm: 0.456419 L per A·h, from `R·T/(2·F·p)` with
/// R = 8.314462618 J/(mol·K), T = 298.15 K, p = 101325 Pa. See [`HYDROGEN_CAUTION`].
pub fn hydrogen_litres(charge: &Quantity) -> Result<Decimal, RemovalError> {
    let charge = ampere_minutes(charge)?;
    let litres = || {
        // 60 C an A·min, 1000 L a m³.
        let joules = Decimal::new(8_314_462_618, 9).checked_mul(Decimal::new(29_815, 2))?;
        let volume = joules.checked_mul(Decimal::from(30_000))?.checked_div(Decimal::from(101_325))?;
        volume.checked_div(FARADAY)?.checked_mul(charge)
    };
    within(litres(), "the charge")
}
