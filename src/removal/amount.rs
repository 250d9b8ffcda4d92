//! Figures brought over to one measure, exactly: minutes, A, g, µm, cm², A·min, and charge per surface.

use std::cmp::Ordering;

use rust_decimal::Decimal;
use rust_decimal::RoundingStrategy;
use rust_decimal::prelude::ToPrimitive;

use super::RemovalError;
use super::within;
use crate::units::Quantity;
use crate::units::Unit;

/// `value · scale`, of a unit of the list; the scale is mantissa and decimals.
fn scaled(
    quantity: &Quantity,
    what: &'static str,
    expected: &'static str,
    list: &[(Unit, i64, u32)],
) -> Result<Decimal, RemovalError> {
    let Some((_, mantissa, scale)) = list.iter().find(|(unit, ..)| *unit == quantity.unit()) else {
        return Err(RemovalError::WrongUnit { what, found: quantity.to_string(), expected });
    };
    within(times(quantity.value(), Decimal::new(*mantissa, *scale)), what)
}

/// A product, exact for anything a record can hold (18 digits and a factor of 9); `None` beyond decimals.
/// Trailing zeros are taken off first, so that they take no room.
fn times(a: Decimal, b: Decimal) -> Option<Decimal> {
    a.normalize().checked_mul(b.normalize())
}

/// A length in µm (1 in = 25.4 mm exactly).
pub(crate) fn micrometres(quantity: &Quantity, what: &'static str) -> Result<Decimal, RemovalError> {
    const UNITS: [(Unit, i64, u32); 5] = [
        (Unit::Micrometre, 1, 0),
        (Unit::Millimetre, 1_000, 0),
        (Unit::Inch, 25_400, 0),
        (Unit::Microinch, 254, 4),
        (Unit::Angstrom, 1, 4),
    ];
    scaled(quantity, what, "a length in µm, mm, in or µin", &UNITS)
}

/// An area in cm².
pub(crate) fn square_centimetres(quantity: &Quantity, what: &'static str) -> Result<Decimal, RemovalError> {
    const UNITS: [(Unit, i64, u32); 4] = [
        (Unit::SquareCentimetre, 1, 0),
        (Unit::SquareDecimetre, 100, 0),
        (Unit::SquareInch, 64_516, 4),
        (Unit::SquareFoot, 9_290_304, 4),
    ];
    let area = scaled(quantity, what, "an area in cm², dm², in² or ft²", &UNITS)?;
    positive(area, quantity, what)
}

/// A time in minutes.
pub(crate) fn minutes(quantity: &Quantity) -> Result<Decimal, RemovalError> {
    let what = "the time";
    // A second is no terminating decimal of a minute; a sixtieth is taken at the end.
    const UNITS: [(Unit, i64, u32); 4] =
        [(Unit::Second, 1, 0), (Unit::Minute, 60, 0), (Unit::Hour, 3_600, 0), (Unit::Day, 86_400, 0)];
    let seconds = scaled(quantity, what, "a time in s, min or h", &UNITS)?;
    positive(within(seconds.checked_div(Decimal::from(60)), what)?, quantity, what)
}

/// A mass in g.
pub(crate) fn grams(quantity: &Quantity, what: &'static str) -> Result<Decimal, RemovalError> {
    scaled(quantity, what, "a mass in g", &[(Unit::Gram, 1, 0)])
}

/// A charge in A·min.
pub(crate) fn ampere_minutes(quantity: &Quantity) -> Result<Decimal, RemovalError> {
    let what = "the charge";
    let units = [(Unit::AmpereMinute, 1, 0), (Unit::AmpereHour, 60, 0)];
    positive(scaled(quantity, what, "a charge in A·min or A·h", &units)?, quantity, what)
}

fn positive(value: Decimal, quantity: &Quantity, what: &'static str) -> Result<Decimal, RemovalError> {
    match value.cmp(&Decimal::ZERO) {
        Ordering::Greater => Ok(value),
        _ => Err(RemovalError::NotPositive { what, found: quantity.to_string() }),
    }
}

/// The value, once converted, of a figure that carries no sign.
pub(crate) fn not_negative(
    value: Decimal,
    quantity: &Quantity,
    what: &'static str,
) -> Result<Decimal, RemovalError> {
    if value < Decimal::ZERO {
        return Err(RemovalError::Negative { what, found: quantity.to_string() });
    }
    Ok(value)
}

/// What went through the surface, as the record tells it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Passage {
    /// Current held for a time through an area.
    Current {
        /// A.
        current: Quantity,
        /// s, min or h.
        time: Quantity,
        /// cm², dm², in² or ft².
        area: Quantity,
    },
    /// Charge, as summed up from a log, through an area.
    Charge {
        /// A·min or A·h.
        charge: Quantity,
        /// cm², dm², in² or ft².
        area: Quantity,
    },
    /// Current density held for a time.
    Density {
        /// A/dm² or A/ft².
        current_density: Quantity,
        /// s, min or h.
        time: Quantity,
    },
}

impl Passage {
    /// Charge per surface, A·min/dm²: `I·t/A`, `Q/A` or `i·t`. Errors name a figure in a wrong unit or not
    /// above 0.
    pub fn per_square_decimetre(&self) -> Result<Decimal, RemovalError> {
        let what = "the charge per surface";
        let over = |charge: Decimal, area: &Quantity| {
            let area = square_centimetres(area, "the area")?;
            within(charge.checked_mul(Decimal::ONE_HUNDRED).and_then(|q| q.checked_div(area)), what)
        };
        match self {
            Passage::Current { current, time, area } => {
                let amperes = scaled(current, "the current", "a current in A", &[(Unit::Ampere, 1, 0)])?;
                let amperes = positive(amperes, current, "the current")?;
                over(within(amperes.checked_mul(minutes(time)?), what)?, area)
            }
            Passage::Charge { charge, area } => over(ampere_minutes(charge)?, area),
            Passage::Density { current_density, time } => {
                let density = super::plan::amperes_per_square_decimetre(current_density)?;
                let density = positive(density, current_density, "the current density")?;
                within(density.checked_mul(minutes(time)?), what)
            }
        }
    }
}

/// `value` rounded to a whole number of `step`s, ties to the even one (NIST SP 811, B.7.1); shown with the
/// decimals of `step`. `None` when the step is not above 0 or the value is beyond decimals.
pub fn round_half_even(value: Decimal, step: Decimal) -> Option<Decimal> {
    to_step(value, step, RoundingStrategy::MidpointNearestEven)
}

/// `value` rounded to a whole number of `step`s by a strategy.
pub(crate) fn to_step(value: Decimal, step: Decimal, strategy: RoundingStrategy) -> Option<Decimal> {
    if step <= Decimal::ZERO {
        return None;
    }
    let steps = value.checked_div(step)?.round_dp_with_strategy(0, strategy);
    let mut rounded = steps.checked_mul(step)?;
    rounded.rescale(step.scale());
    Some(if rounded.is_zero() { Decimal::new(0, step.scale()) } else { rounded })
}

/// A square root by Newton's rule from the binary one, which IEEE 754 fixes; good to about 26 digits. `None`
/// below 0.
pub(crate) fn root(value: Decimal) -> Option<Decimal> {
    if value.is_zero() {
        return Some(Decimal::ZERO);
    }
    if value < Decimal::ZERO {
        return None;
    }
    let mut guess = Decimal::from_f64_retain(value.to_f64()?.sqrt())?;
    for _ in 0..3 {
        guess = guess.checked_add(value.checked_div(guess)?)?.checked_div(Decimal::TWO)?;
    }
    Some(guess)
}

/// `√(Σ part²)`: independent uncertainties in quadrature (JCGM 100, 5.1.2; recalled).
pub(crate) fn quadrature(parts: &[Decimal]) -> Option<Decimal> {
    let mut sum = Decimal::ZERO;
    for part in parts {
        // Below a quadrillionth a part adds nothing, and its square would be lost anyway.
        let part = part.round_dp(15);
        sum = sum.checked_add(part.checked_mul(part)?)?;
    }
    root(sum)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn roots_by_hand_and_at_the_ends() {
        // √2 to 27 digits (OEIS A002193; recalled).
        let off = root(Decimal::TWO).unwrap() - "1.41421356237309504880168872".parse::<Decimal>().unwrap();
        assert!(off.abs() < Decimal::new(1, 25), "{off}");
        for value in [Decimal::MAX, Decimal::new(1, 28), Decimal::ONE, Decimal::new(25, 2)] {
            let root = root(value).unwrap();
            let back = value.checked_div(root).unwrap();
            assert!((back / root - Decimal::ONE).abs() < Decimal::new(1, 12), "{value}: {root}");
        }
        assert_eq!(root(Decimal::NEGATIVE_ONE), None);
    }

    #[test]
    fn ties_go_to_the_even_step() {
        for (value, step, text) in [
            ("0.25", "0.1", "0.2"),
            ("0.35", "0.1", "0.4"),
            ("7.5", "5", "10"),
            ("2.5", "5", "0"),
            ("-0.04", "0.1", "0.0"),
        ] {
            let shown = round_half_even(value.parse().unwrap(), step.parse().unwrap()).unwrap().to_string();
            assert_eq!(shown, text, "{value} to {step}");
        }
        assert_eq!(round_half_even(Decimal::ONE, Decimal::ZERO), None);
        assert_eq!(round_half_even(Decimal::MAX, Decimal::new(1, 3)), None);
    }
}
