//! Time inside a window of limits, and each excursion out of it.

mod limit;
mod stretch;

use rust_decimal::Decimal;

use super::Interval;
use super::Reading;
use super::Trace;
use super::trace::Step;
use crate::units::Quantity;
use crate::units::Unit;
use limit::Bounds;
use stretch::Stretches;

/// A window of limits; a reading on a limit is inside.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Window {
    /// Least; `None`: open.
    pub lo: Option<Quantity>,
    /// Most; `None`: open.
    pub hi: Option<Quantity>,
}

/// Why a window cannot be held against a channel.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum WindowError {
    /// No limit.
    #[error("the window has no limit: give the least, the most, or both")]
    Open,
    /// A limit of another kind.
    #[error("the limit {limit} cannot be held against readings in {unit}: give a limit in {unit}")]
    Unit {
        /// As given.
        limit: Quantity,
        /// Of the channel.
        unit: Unit,
    },
    /// Limits the wrong way round.
    #[error("the least, {lo}, is more than the most, {hi}: exchange them")]
    Reversed {
        /// As given.
        lo: Quantity,
        /// As given.
        hi: Quantity,
    },
    /// More digits than any limit has.
    #[error("the limit {0} has more than 9 digits before or after the point: round it")]
    Digits(Quantity),
}

/// On which side of a window a time lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Below the least.
    Below,
    /// In the window.
    Inside,
    /// Above the most.
    Above,
}

/// A time out of the window, without a break.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Excursion {
    /// Above or below.
    pub side: Side,
    /// Where the straight line between two readings left the window, or the beginning of what is known.
    pub start: i64,
    /// Where it came back, or the end of what is known; equal to `start` for a single reading between two
    /// gaps.
    pub end: i64,
    /// The reading furthest out, the first of equals; `None` where the line to a reading outside the interval
    /// is all there is.
    pub worst: Option<Reading>,
    /// By how much the worst reading lies beyond the limit, in the channel's unit. Exact where limit and
    /// readings share a unit; else rounded up to one digit more than either has, so that it is never shown
    /// smaller than it was.
    pub beyond: Option<Decimal>,
}

impl Excursion {
    /// Its length in milliseconds.
    pub const fn length(&self) -> i64 {
        self.end - self.start
    }
}

/// How long a channel was inside a window, above and below it, in milliseconds. The four add up to the
/// interval.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Within {
    /// Inside. Where a line crosses a limit within a millisecond, that millisecond is not counted as inside.
    pub inside: i64,
    /// Above.
    pub above: i64,
    /// Below.
    pub below: i64,
    /// Not known: before the first reading, after the last, and across gaps longer than allowed.
    pub unknown: i64,
    /// Excursions in order of time. A gap ends an excursion, for nobody knows how it went on; two that touch
    /// in an instant on the limit are one.
    pub excursions: Vec<Excursion>,
}

/// Holds a channel against a window over an interval; a time between readings longer than `allowed`
/// milliseconds counts as unknown. Limits in the other temperature scale are compared exactly.
pub fn within(
    trace: &Trace<'_>,
    interval: &Interval,
    window: &Window,
    allowed: i64,
) -> Result<Within, WindowError> {
    let bounds = Bounds::new(window, trace.channel())?;
    let mut stretches = Stretches::new(&bounds);
    trace.walk(interval, allowed, |step| match step {
        Step::Line(_, _, _, true) => stretches.gap(),
        Step::Line(line, x, y, false) => stretches.line(&line, x, y),
        Step::Point(t, v) => stretches.point(t, v),
    });
    let (inside, found) = stretches.finish();
    let (mut above, mut below) = (0, 0);
    let mut excursions = Vec::with_capacity(found.len());
    for stretch in found {
        let length = stretch.to - stretch.from;
        match stretch.side {
            Side::Above => above += length,
            Side::Below => below += length,
            Side::Inside => {}
        }
        excursions.push(Excursion {
            side: stretch.side,
            start: stretch.from,
            end: stretch.to,
            worst: stretch.worst.map(|(t, v)| trace.reading(t, v)),
            beyond: stretch.worst.and_then(|(_, v)| bounds.beyond(stretch.side, v, trace.channel().places)),
        });
    }
    let unknown = interval.length() - inside - above - below;
    Ok(Within { inside, above, below, unknown, excursions })
}
