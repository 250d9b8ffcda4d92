//! Comparing a reading with a limit after ASTM E29: the absolute method and the rounding method.

use rust_decimal::Decimal;

/// Where a tie goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Ties {
    /// To the even digit: ASTM E29, NIST SP 811 B.7.1.
    HalfEven,
    /// Away from zero; some specifiers replace the tie rule of E29 by this one.
    HalfUp,
}

/// How a reading is compared with a limit. A reference to E29 means nothing unless the method is named.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Method {
    /// As read; any excess, however small, counts.
    Absolute,
    /// Rounded once to the nearest `unit`, then compared.
    Rounding {
        /// Unit in the last place of the limit: 1000, 1, 0.1.
        unit: Decimal,
        /// Where a tie goes.
        ties: Ties,
    },
}

/// One limit or two; the limit itself conforms.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// At least.
    pub lower: Option<Decimal>,
    /// At most.
    pub upper: Option<Decimal>,
}

/// A reading compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Compared {
    /// The value compared: as read, or rounded.
    pub used: Decimal,
    /// Whether it lies within the limits.
    pub conforms: bool,
}

/// Why a reading cannot be compared.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RoundingError {
    /// A unit that is none.
    #[error("cannot round to the nearest {0}: expected a number above 0, as 1000 or 0.1")]
    Unit(Decimal),
    /// A number of digits that is none.
    #[error("cannot round to {0} significant digits: expected 1 to 28")]
    Digits(u32),
    /// Numbers too large.
    #[error("{0} has too many digits to be rounded exactly; write it in a larger unit")]
    TooLong(Decimal),
    /// No limit, or limits that cross.
    #[error("limits {lower} to {upper}: expected at least one, the lower not above the upper")]
    Limits {
        /// Lower, `-` where there is none.
        lower: String,
        /// Upper, `-` where there is none.
        upper: String,
    },
}

impl Limits {
    /// At most.
    pub const fn at_most(upper: Decimal) -> Limits {
        Limits { lower: None, upper: Some(upper) }
    }

    /// At least.
    pub const fn at_least(lower: Decimal) -> Limits {
        Limits { lower: Some(lower), upper: None }
    }

    /// From one to the other.
    pub const fn between(lower: Decimal, upper: Decimal) -> Limits {
        Limits { lower: Some(lower), upper: Some(upper) }
    }

    /// Whether a value lies within them; the limits themselves do.
    pub fn hold(&self, value: Decimal) -> bool {
        self.lower.is_none_or(|lower| lower <= value) && self.upper.is_none_or(|upper| value <= upper)
    }

    /// Refuses no limit at all, and limits that cross.
    pub fn check(&self) -> Result<(), RoundingError> {
        let sound = match (self.lower, self.upper) {
            (None, None) => false,
            (Some(lower), Some(upper)) => lower <= upper,
            _ => true,
        };
        let text = |limit: Option<Decimal>| limit.map_or_else(|| "-".to_owned(), |l| l.to_string());
        sound
            .then_some(())
            .ok_or_else(|| RoundingError::Limits { lower: text(self.lower), upper: text(self.upper) })
    }
}

/// The multiple of `unit` nearest to a value, exactly. Written with the decimals of the unit.
pub fn round_to(value: Decimal, unit: Decimal, ties: Ties) -> Result<Decimal, RoundingError> {
    if unit <= Decimal::ZERO {
        return Err(RoundingError::Unit(unit));
    }
    let long = || RoundingError::TooLong(value);
    let size = value.abs();
    let rest = size.checked_rem(unit).ok_or_else(long)?;
    let below = size.checked_sub(rest).ok_or_else(long)?;
    let above = below.checked_add(unit).ok_or_else(long)?;
    let up = match rest.checked_add(rest).ok_or_else(long)?.cmp(&unit) {
        std::cmp::Ordering::Less => false,
        std::cmp::Ordering::Greater => true,
        std::cmp::Ordering::Equal => match ties {
            Ties::HalfUp => true,
            Ties::HalfEven => {
                let two = unit.checked_add(unit).ok_or_else(long)?;
                !below.checked_rem(two).ok_or_else(long)?.is_zero()
            }
        },
    };
    let mut rounded = if up { above } else { below };
    // Multiples of the unit have no digits after its last, so nothing is lost here.
    rounded.rescale(unit.scale());
    if value.is_sign_negative() && !rounded.is_zero() {
        rounded.set_sign_negative(true);
    }
    Ok(rounded)
}

/// A value to a number of significant digits, as NIST SP 811 B.7.1 rounds.
pub fn round_significant(value: Decimal, digits: u32, ties: Ties) -> Result<Decimal, RoundingError> {
    if !(1..=28).contains(&digits) {
        return Err(RoundingError::Digits(digits));
    }
    if value.is_zero() {
        return Ok(value);
    }
    let once =
        |value: Decimal| round_to(value, place(value, digits).ok_or(RoundingError::TooLong(value))?, ties);
    // 9.96 to two digits is 10, not 10.0: the place moves when the rounding reaches the next power of ten.
    let rounded = once(value)?;
    match (place(value, digits), place(rounded, digits)) {
        (Some(before), Some(after)) if before < after => round_to(rounded, after, ties),
        _ => Ok(rounded),
    }
}

/// Power of ten of the last of some significant digits.
fn place(value: Decimal, digits: u32) -> Option<Decimal> {
    let mut mantissa = value.mantissa().unsigned_abs();
    let mut count = 0_i64;
    while mantissa > 0 {
        mantissa /= 10;
        count = count.checked_add(1)?;
    }
    let power = count.checked_sub(i64::from(value.scale()))?.checked_sub(i64::from(digits))?;
    if power > 0 {
        let mut unit = Decimal::ONE;
        for _ in 0..power {
            unit = unit.checked_mul(Decimal::TEN)?;
        }
        return Some(unit);
    }
    let scale = u32::try_from(power.checked_neg()?).ok()?;
    Decimal::try_new(1, scale).ok()
}

/// Unit in the last place of a limit as written: 0.1 for 0.5, 1 for 57. The zeros that end a whole number say nothing
/// about it: 36000 gives `None`, and the order must name the unit.
pub fn unit_of_last_place(limit: Decimal) -> Option<Decimal> {
    if limit.scale() == 0 && !limit.is_zero() && limit.checked_rem(Decimal::TEN)?.is_zero() {
        return None;
    }
    Decimal::try_new(1, limit.scale()).ok()
}

/// Whether a reading was written more coarsely than a limit, so that the limit's last digit cannot be told from it.
/// Common practice: read at least to the last place of the limit, for the rounding method one place further.
pub fn too_coarse(reading: Decimal, limits: &Limits) -> bool {
    [limits.lower, limits.upper].into_iter().flatten().any(|limit| limit.scale() > reading.scale())
}

/// Compares a reading with limits. Rounding is done once, from the value as read.
pub fn conforms(reading: Decimal, limits: &Limits, method: Method) -> Result<Compared, RoundingError> {
    limits.check()?;
    let used = match method {
        Method::Absolute => reading,
        Method::Rounding { unit, ties } => round_to(reading, unit, ties)?,
    };
    Ok(Compared { used, conforms: limits.hold(used) })
}
