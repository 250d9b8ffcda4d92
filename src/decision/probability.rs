//! Probability that a quantity lies within its limits, given a reading (JCGM 106:2012, 7): normal model about the
//! reading, nothing known beforehand.

use rust_decimal::Decimal;

use crate::decision::Limits;
use crate::decision::RoundingError;
use crate::numeric::normal_cdf;
use crate::numeric::number;
use crate::numeric::rounded;

/// Decimals of a probability.
const PLACES: u32 = 12;

/// Probabilities, each rounded to twelve decimals by itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Conformance {
    /// Below the lower limit.
    pub below: Decimal,
    /// Within the limits.
    pub inside: Decimal,
    /// Above the upper limit.
    pub above: Decimal,
    /// Outside: the specific risk that accepting is wrong. Summed before rounding.
    pub false_acceptance: Decimal,
}

/// Why there is no probability.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ProbabilityError {
    /// Limits that cross, or none.
    #[error(transparent)]
    Limits(#[from] RoundingError),
    /// An uncertainty below nothing.
    #[error("standard uncertainty {0}: expected a number above 0 (U divided by k)")]
    Uncertainty(Decimal),
    /// Numbers too far apart.
    #[error("reading {0} lies too far from its limits to be computed; check its unit")]
    TooFar(Decimal),
}

/// Probabilities for a reading with standard uncertainty u = U / k, all in one unit:
/// `P(inside) = Φ((TU − y)/u) − Φ((TL − y)/u)`.
pub fn conformance(
    reading: Decimal,
    standard_uncertainty: Decimal,
    limits: &Limits,
) -> Result<Conformance, ProbabilityError> {
    limits.check()?;
    if standard_uncertainty <= Decimal::ZERO {
        return Err(ProbabilityError::Uncertainty(standard_uncertainty));
    }
    let far = || ProbabilityError::TooFar(reading);
    // Distances are exact decimals; only their ratio to u is binary.
    let tail = |distance: Option<Decimal>| {
        let distance = number(distance.ok_or_else(far)?);
        Ok::<f64, ProbabilityError>(normal_cdf(distance / number(standard_uncertainty)))
    };
    let below = limits.lower.map_or(Ok(0.0), |lower| tail(lower.checked_sub(reading)))?;
    let above = limits.upper.map_or(Ok(0.0), |upper| tail(reading.checked_sub(upper)))?;
    let outside = below + above;
    let share = |p: f64| rounded(p, PLACES).ok_or_else(far);
    Ok(Conformance {
        below: share(below)?,
        inside: share((1.0 - outside).max(0.0))?,
        above: share(above)?,
        false_acceptance: share(outside.min(1.0))?,
    })
}
