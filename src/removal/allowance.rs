//! What to machine so that the finished part is in tolerance once metal has come off.

use std::fmt;

use rust_decimal::Decimal;
use rust_decimal::RoundingStrategy;
use serde::Deserialize;
use serde::Serialize;

use super::RemovalError;
use super::amount::micrometres;
use super::within;
use crate::units::Quantity;
use crate::units::Unit;

/// What a size is measured across.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Feature {
    /// An outside diameter: two surfaces, gets smaller.
    Outside,
    /// A bore or the width of a slot: two surfaces, gets larger.
    Bore,
    /// A thickness polished on both faces: two surfaces, gets smaller.
    Thickness,
    /// One side measured from a datum that is not polished: gets smaller.
    OneSide,
}

impl Feature {
    /// Whether removal makes it larger.
    pub const fn grows(self) -> bool {
        matches!(self, Feature::Bore)
    }

    /// Polished surfaces across it.
    pub const fn surfaces(self) -> Decimal {
        if matches!(self, Feature::OneSide) { Decimal::ONE } else { Decimal::TWO }
    }
}

impl fmt::Display for Feature {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Feature::Outside => "outside diameter",
            Feature::Bore => "bore",
            Feature::Thickness => "thickness",
            Feature::OneSide => "one side",
        })
    }
}

/// Limits of a size.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Size {
    /// Smallest.
    pub min: Quantity,
    /// Largest.
    pub max: Quantity,
}

impl Size {
    /// A nominal size and the same tolerance either way, both in one unit.
    pub fn nominal(size: Quantity, tolerance: Quantity) -> Result<Self, RemovalError> {
        let what = "the tolerance";
        if size.unit() != tolerance.unit() {
            return Err(RemovalError::WrongUnit {
                what,
                found: tolerance.to_string(),
                expected: "the unit of the size it belongs to",
            });
        }
        if tolerance.value() < Decimal::ZERO {
            return Err(RemovalError::Negative { what, found: tolerance.to_string() });
        }
        let min = within(size.value().checked_sub(tolerance.value()), what)?;
        let max = within(size.value().checked_add(tolerance.value()), what)?;
        Ok(Size { min: Quantity::new(min, size.unit()), max: Quantity::new(max, size.unit()) })
    }
}

/// Removal per surface, as a run may give it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Band {
    /// Least.
    pub from: Quantity,
    /// Most.
    pub to: Quantity,
}

/// Limits to machine to, in the unit of the finished size. With `n` surfaces across it:
///
/// - what gets smaller: `min + n·to` to `max + n·from`;
/// - what gets larger: `min − n·from` to `max − n·to`.
///
/// Reckoned exactly in µm, then rounded inward to so many digits, so that both ends hold whatever the run
/// does within the band. Errors: a band that varies the size by more than its tolerance, limits the wrong way
/// round, figures that are no lengths, or removal that leaves nothing.
pub fn machine_to(
    feature: Feature,
    finished: &Size,
    removal: &Band,
    digits: u32,
) -> Result<Size, RemovalError> {
    let (min, max) = (micrometres(&finished.min, "the size")?, micrometres(&finished.max, "the size")?);
    let (from, to) = (micrometres(&removal.from, "the removal")?, micrometres(&removal.to, "the removal")?);
    let crossed = |what, from: &Quantity, to: &Quantity| {
        Err(RemovalError::Crossed { what, from: from.to_string(), to: to.to_string() })
    };
    if min > max {
        return crossed("the size", &finished.min, &finished.max);
    }
    if min <= Decimal::ZERO {
        return Err(RemovalError::NotPositive { what: "the size", found: finished.min.to_string() });
    }
    if from < Decimal::ZERO {
        return Err(RemovalError::Negative { what: "the removal", found: removal.from.to_string() });
    }
    if from > to {
        return crossed("the removal", &removal.from, &removal.to);
    }
    let what = "the size to machine to";
    let least = within(feature.surfaces().checked_mul(from), what)?;
    let most = within(feature.surfaces().checked_mul(to), what)?;
    let (low, high) = if feature.grows() {
        (min.checked_sub(least), max.checked_sub(most))
    } else {
        (min.checked_add(most), max.checked_add(least))
    };
    let (low, high) = (within(low, what)?, within(high, what)?);
    if low > high {
        let spread = within(most.checked_sub(least), what)?.normalize();
        let tolerance = within(max.checked_sub(min), what)?.normalize();
        return Err(RemovalError::BandTooWide { feature, spread, tolerance });
    }
    if low <= Decimal::ZERO {
        return Err(RemovalError::NotPositive { what, found: format!("{} µm", low.normalize()) });
    }
    let unit = finished.min.unit();
    let low = inward(low, unit, digits, RoundingStrategy::ToPositiveInfinity)?;
    let high = inward(high, unit, digits, RoundingStrategy::ToNegativeInfinity)?;
    if low > high || low <= Decimal::ZERO {
        return Err(RemovalError::NoStepInside(digits));
    }
    Ok(Size { min: Quantity::new(low, unit), max: Quantity::new(high, unit) })
}

/// µm in a unit of length, rounded one way to so many digits.
fn inward(value: Decimal, unit: Unit, digits: u32, way: RoundingStrategy) -> Result<Decimal, RemovalError> {
    let what = "the size to machine to";
    if digits > 12 {
        return Err(RemovalError::OutOfRange("the number of digits"));
    }
    let one = micrometres(&Quantity::new(Decimal::ONE, unit), what)?;
    let mut rounded = within(value.checked_div(one), what)?.round_dp_with_strategy(digits, way);
    rounded.rescale(digits);
    Ok(rounded)
}

/// Change of pitch diameter for a removal per surface of a 60° thread. Metal comes off square to the flank,
/// so each flank moves by `1/sin 30° = 2` times as much across the axis, and both sides of the diameter do
/// (common practice).
pub const THREAD_FACTOR: Decimal = Decimal::from_parts(4, 0, 0, false, 0);

/// Change of the pitch diameter of a 60° thread (unified, metric), in the unit of the removal per surface: `4
/// · removal` ([`THREAD_FACTOR`]). An outside thread gets smaller by it, an inside one larger. Errors: no
/// length, or below 0.
pub fn thread_pitch_change(removal: &Quantity) -> Result<Quantity, RemovalError> {
    let what = "the removal";
    if micrometres(removal, what)? < Decimal::ZERO {
        return Err(RemovalError::Negative { what, found: removal.to_string() });
    }
    let change = within(removal.value().checked_mul(THREAD_FACTOR), what)?;
    Ok(Quantity::new(change, removal.unit()))
}
