//! Guard bands: how far inside a limit a reading must lie, so that the gauge's uncertainty does not accept for it.

use rust_decimal::Decimal;

use crate::decision::Limits;
use crate::decision::RoundingError;

/// Width of the guard band in expanded uncertainties U (95 %, k = 2).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GuardBand {
    /// None: simple acceptance; a reading on the limit is wrong in up to half of all cases.
    None,
    /// w = U: at most 2.5 % wrongly accepted (ILAC-G8:09/2019).
    Full,
    /// w = 0.83 U: at most 5 % wrongly accepted (ISO 14253-1:2017, as a secondary text gives it).
    Iso14253,
    /// w = r U, 0 to 10.
    Times(Decimal),
}

/// Limits a reading is held against, inside the limits of the order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Acceptance {
    /// Width of the guard band.
    pub width: Decimal,
    /// The limits moved inwards by it.
    pub limits: Limits,
}

/// What a reading says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Result {
    /// Within the acceptance limits.
    Accept,
    /// Within the limits, but in the guard band: the gauge cannot tell.
    Conditional,
    /// Outside the limits.
    Reject,
}

/// Why a reading cannot be judged.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum GuardError {
    /// Limits that cross, or none.
    #[error(transparent)]
    Limits(#[from] RoundingError),
    /// An uncertainty below nothing.
    #[error("expanded uncertainty {0}: expected a number above 0, as the calibration certificate states it")]
    Uncertainty(Decimal),
    /// A multiplier out of range.
    #[error("guard band of {0} U: expected 0 to 10")]
    Multiplier(Decimal),
    /// Guard bands that leave nothing.
    #[error("a guard band of {width} at both ends leaves nothing of {lower} to {upper}; use a finer gauge")]
    NoRoom {
        /// Width of the band.
        width: Decimal,
        /// Lower limit.
        lower: Decimal,
        /// Upper limit.
        upper: Decimal,
    },
    /// Numbers too large to be exact.
    #[error("limits and uncertainty have too many digits to be exact; write them in a larger unit")]
    TooLong,
}

impl GuardBand {
    /// r of w = r U.
    pub fn multiplier(self) -> Decimal {
        match self {
            GuardBand::None => Decimal::ZERO,
            GuardBand::Full => Decimal::ONE,
            GuardBand::Iso14253 => Decimal::new(83, 2),
            GuardBand::Times(r) => r,
        }
    }

    /// Acceptance limits for an expanded uncertainty in the unit of the limits: `TL + w` and `TU − w`, exact.
    pub fn acceptance(
        self,
        limits: &Limits,
        expanded: Decimal,
    ) -> std::result::Result<Acceptance, GuardError> {
        limits.check()?;
        let r = self.multiplier();
        if r < Decimal::ZERO || r > Decimal::TEN {
            return Err(GuardError::Multiplier(r));
        }
        if expanded <= Decimal::ZERO && self != GuardBand::None {
            return Err(GuardError::Uncertainty(expanded));
        }
        let exact =
            |a: Decimal, b: Decimal| a.checked_mul(b).filter(|_| a.scale().saturating_add(b.scale()) <= 28);
        let width = exact(r, expanded).ok_or(GuardError::TooLong)?;
        let fits = |limit: Decimal| {
            limit.scale().max(width.scale()) <= 18 && limit.abs() < Decimal::from(1_000_000_000_u64)
        };
        let moved = |limit: Option<Decimal>, inwards: Decimal| match limit {
            None => Ok(None),
            Some(limit) if fits(limit) => limit.checked_add(inwards).map(Some).ok_or(GuardError::TooLong),
            Some(_) => Err(GuardError::TooLong),
        };
        let moved = Limits { lower: moved(limits.lower, width)?, upper: moved(limits.upper, -width)? };
        if let (Some(lower), Some(upper)) = (limits.lower, limits.upper)
            && moved.check().is_err()
        {
            return Err(GuardError::NoRoom { width, lower, upper });
        }
        Ok(Acceptance { width, limits: moved })
    }
}

impl Result {
    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Result::Accept => "accepted",
            Result::Conditional => "within the limit, but not by the guard band",
            Result::Reject => "outside the limit",
        }
    }
}

/// Judges a reading: accepted on and within the acceptance limits, conditional between them and the limits of the
/// order (those included), rejected beyond. The words "conditional fail" of ILAC-G8 (outside by less than w) are a
/// rejection here.
pub fn judge(reading: Decimal, limits: &Limits, acceptance: &Acceptance) -> Result {
    if !limits.hold(reading) {
        Result::Reject
    } else if acceptance.limits.hold(reading) {
        Result::Accept
    } else {
        Result::Conditional
    }
}

/// Test uncertainty ratio.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ratio {
    /// `(TU − TL) / (2 U)`.
    TwoSided {
        /// To four decimals, rounded down.
        value: Decimal,
        /// Below 4, told exactly (common practice asks for 4 to 1).
        low: bool,
    },
    /// `|limit − target| / U`: one limit and a value the process aims at.
    ToTarget {
        /// To four decimals, rounded down.
        value: Decimal,
        /// Below 4, told exactly.
        low: bool,
    },
    /// One limit and no target: there is no span to compare with, and none is invented.
    Undefined,
}

/// Test uncertainty ratio for an expanded uncertainty in the unit of the limits (recalled of ANSI/NCSL Z540.3).
pub fn test_uncertainty_ratio(
    limits: &Limits,
    expanded: Decimal,
    target: Option<Decimal>,
) -> std::result::Result<Ratio, GuardError> {
    limits.check()?;
    if expanded <= Decimal::ZERO {
        return Err(GuardError::Uncertainty(expanded));
    }
    let ratio = |span: Option<Decimal>, times: Decimal| {
        let span = span.ok_or(GuardError::TooLong)?;
        let of = expanded.checked_mul(times).ok_or(GuardError::TooLong)?;
        let value = span.checked_div(of).ok_or(GuardError::TooLong)?;
        let low = of.checked_mul(Decimal::from(4)).is_none_or(|four| span < four);
        Ok::<_, GuardError>((value.trunc_with_scale(4), low))
    };
    match (limits.lower, limits.upper, target) {
        (Some(lower), Some(upper), _) => {
            let (value, low) = ratio(upper.checked_sub(lower), Decimal::TWO)?;
            Ok(Ratio::TwoSided { value, low })
        }
        (Some(limit), None, Some(target)) | (None, Some(limit), Some(target)) => {
            let (value, low) = ratio(limit.checked_sub(target).map(|d| d.abs()), Decimal::ONE)?;
            Ok(Ratio::ToTarget { value, low })
        }
        _ => Ok(Ratio::Undefined),
    }
}
