//! Charge passed by a rectifier: the current over time.

use rust_decimal::Decimal;

use super::Interval;
use super::Trace;
use super::area::Area;
use super::trace::Step;
use crate::units::Unit;

/// Charge over an interval.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Charge {
    /// In ampere-minutes: the area under the straight lines between readings (trapezoidal rule), rounded
    /// once, ties to even, to the digits of a mean.
    pub ampere_minutes: Decimal,
    /// Milliseconds the readings cover; what passed in the rest of the interval is not known and not in the
    /// charge.
    pub covered: i64,
    /// Whether the whole interval is covered.
    pub whole: bool,
}

/// Why there is no charge.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ChargeError {
    /// Not a current.
    #[error("`{header}` is read in {unit}: a charge is the sum of a current over time, name a channel in A")]
    NoCurrent {
        /// Header.
        header: String,
        /// Its unit.
        unit: Unit,
    },
    /// No line between readings lies in the interval.
    #[error(
        "no two readings of `{0}` near enough to each other cover the interval: name the times the log covers"
    )]
    Uncovered(String),
}

/// Charge over an interval; a time between readings longer than `allowed` milliseconds adds nothing.
pub fn charge(trace: &Trace<'_>, interval: &Interval, allowed: i64) -> Result<Charge, ChargeError> {
    let channel = trace.channel();
    if channel.unit != Unit::Ampere {
        return Err(ChargeError::NoCurrent { header: channel.header.clone(), unit: channel.unit });
    }
    let mut area = Area::NOTHING;
    trace.walk(interval, allowed, |step| {
        if let Step::Line(line, x, y, false) = step {
            area.add(&line, x, y);
        }
    });
    let uncovered = || ChargeError::Uncovered(channel.header.clone());
    if area.covered == 0 {
        return Err(uncovered());
    }
    let ampere_minutes = area.divided(60_000, channel.places, channel.mean_places()).ok_or_else(uncovered)?;
    Ok(Charge { ampere_minutes, covered: area.covered, whole: area.covered == interval.length() })
}
