//! When the parts were in the bath: as the record says, or, for electropolishing, as the current says.

use rust_decimal::Decimal;

use super::Interval;
use super::Side;
use super::Trace;
use super::Window;
use super::WindowError;
use super::instant_ms;
use super::within;
use crate::moment::Moment;
use crate::units::Quantity;
use crate::units::Unit;

/// When the parts were in, and how that is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Immersion {
    /// From in to out.
    pub interval: Interval,
    /// How the beginning is known.
    pub start: Source,
    /// How the end is known.
    pub end: Source,
}

/// How an end of an immersion is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Source {
    /// Written in the record.
    Recorded,
    /// The current rose above its threshold, or fell back to it: parts may lie in a bath without current
    /// before and after, so this is the time of treatment, not of wetting.
    Current,
}

/// Why the time of immersion is not known.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ImmersionError {
    /// In after out.
    #[error("in at {from} is not before out at {to}: correct the record")]
    Reversed {
        /// As recorded.
        from: Moment,
        /// As recorded.
        to: Moment,
    },
    /// Nothing to find it by.
    #[error("in or out is missing, and no current was logged to find it by: record both times")]
    NothingToGoBy,
    /// Not a current.
    #[error("`{0}` is not a current in A: only a current tells when parts were treated")]
    NoCurrent(String),
    /// A threshold of another kind, or with too many digits.
    #[error(transparent)]
    Threshold(#[from] WindowError),
    /// Never on.
    #[error("the current was never above {0} there: record the times in and out")]
    NeverOn(Quantity),
    /// On more than once.
    #[error("the current was above {threshold} {times} times there: record the times in and out of this run")]
    SeveralTimes {
        /// As given.
        threshold: Quantity,
        /// How often.
        times: usize,
    },
}

/// When the parts were in. Both times recorded: those. One or both missing: from where the current rises
/// above `threshold` to where it falls back to it, on the straight lines between readings, if that happens
/// just once within what the record leaves open; a gap longer than `allowed` milliseconds ends a time with
/// current.
pub fn immersion(
    recorded_in: Option<&Moment>,
    recorded_out: Option<&Moment>,
    current: Option<(&Trace<'_>, &Quantity)>,
    allowed: i64,
) -> Result<Immersion, ImmersionError> {
    if let (Some(from), Some(to)) = (recorded_in, recorded_out) {
        let interval =
            Interval::between(from, to).ok_or(ImmersionError::Reversed { from: *from, to: *to })?;
        return Ok(Immersion { interval, start: Source::Recorded, end: Source::Recorded });
    }
    let (trace, threshold) = current.ok_or(ImmersionError::NothingToGoBy)?;
    if trace.channel().unit != Unit::Ampere {
        return Err(ImmersionError::NoCurrent(trace.channel().header.clone()));
    }
    let never = || ImmersionError::NeverOn(*threshold);
    let ends = trace.ends().ok_or_else(never)?;
    let from = recorded_in.map_or(ends.0, instant_ms);
    let to = recorded_out.map_or(ends.1, instant_ms);
    let open = Interval::new(from, to).ok_or_else(never)?;
    let window = Window { lo: None, hi: Some(*threshold) };
    let found = within(trace, &open, &window, allowed)?;
    let mut on = found.excursions.iter().filter(|e| e.side == Side::Above && e.length() > 0);
    let first = on.next().ok_or_else(never)?;
    let more = on.count();
    if more > 0 {
        let times = more.saturating_add(1);
        return Err(ImmersionError::SeveralTimes { threshold: *threshold, times });
    }
    let source =
        |recorded: Option<&Moment>| if recorded.is_some() { Source::Recorded } else { Source::Current };
    let (start, end) = (source(recorded_in), source(recorded_out));
    let from = if start == Source::Recorded { from } else { first.start };
    let to = if end == Source::Recorded { to } else { first.end };
    let interval = Interval::new(from, to).ok_or_else(never)?;
    Ok(Immersion { interval, start, end })
}

/// The steepest fall between two successive readings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Fall {
    /// When the higher reading was read.
    pub from: i64,
    /// When the lower one was read.
    pub to: i64,
    /// By how much it fell, in the channel's unit.
    pub by: Decimal,
}

/// The greatest fall from one reading to the next, the first of equals; `None` where nothing falls.
///
/// Only a suggestion to a person who fills in a time that is missing: cold parts cool a bath, but so do
/// make-up water, a lid left open or a heater switched off. No judgement may hang on it.
pub fn steepest_fall(trace: &Trace<'_>, interval: &Interval) -> Option<Fall> {
    let mut last: Option<(i64, i64)> = None;
    let mut steepest: Option<(i64, i64, i128)> = None;
    for (t, v) in trace.inside(interval) {
        if let Some((t0, v0)) = last {
            let by = i128::from(v0) - i128::from(v);
            if by > steepest.map_or(0, |(_, _, most)| most) {
                steepest = Some((t0, t, by));
            }
        }
        last = Some((t, v));
    }
    let (from, to, by) = steepest?;
    let by = Decimal::try_from_i128_with_scale(by, trace.channel().places).ok()?;
    Some(Fall { from, to, by })
}
