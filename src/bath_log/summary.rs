//! Least, most, mean, duration and how well the readings cover an interval.

use rust_decimal::Decimal;

use super::Channel;
use super::Correction;
use super::Interval;
use super::Reading;
use super::Trace;
use super::area::Area;
use super::trace::Step;
use crate::logger::Measures;
use crate::units::Unit;

/// What the readings of a channel say over an interval.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Summary {
    /// Header in the file.
    pub header: String,
    /// What was measured.
    pub measures: Measures,
    /// Unit of all values.
    pub unit: Unit,
    /// The interval.
    pub interval: Interval,
    /// Readings inside it.
    pub readings: usize,
    /// First reading inside it.
    pub first: Option<Reading>,
    /// Last reading inside it.
    pub last: Option<Reading>,
    /// Least reading, the first of equals.
    pub min: Option<Reading>,
    /// Greatest reading, the first of equals.
    pub max: Option<Reading>,
    /// Time-weighted mean over the time the readings cover: area under the straight lines between them
    /// (trapezoidal rule) by that time, rounded once, ties to even, to [`Channel::mean_places`]. `None` where
    /// nothing is covered.
    pub mean: Option<Decimal>,
    /// How well the readings cover the interval.
    pub coverage: Coverage,
    /// The correction the readings carry; `None` where they are as the logger wrote them.
    pub correction: Option<Correction>,
}

/// How well readings cover an interval.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Coverage {
    /// Time between readings that was allowed, in milliseconds.
    pub allowed: i64,
    /// Milliseconds covered by lines between readings no further apart than allowed.
    pub covered: i64,
    /// Milliseconds from the beginning of the interval to where the readings set in; 0 where one lies before
    /// it.
    pub missing_before: i64,
    /// Milliseconds from where the readings end to the end of the interval; 0 where one lies after it.
    pub missing_after: i64,
    /// Longest time between two successive readings whose line overlaps the interval, the first of equals.
    pub longest: Option<Gap>,
    /// Times between readings that were longer than allowed, in order.
    pub gaps: Vec<Gap>,
}

/// The time between two successive readings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Gap {
    /// The reading before it.
    pub from: i64,
    /// The reading after it.
    pub to: i64,
}

impl Gap {
    /// Its length in milliseconds.
    pub const fn length(&self) -> i64 {
        self.to - self.from
    }
}

impl Coverage {
    /// Whether the readings reach to the beginning, within the gap allowed.
    pub const fn reaches_start(&self) -> bool {
        self.missing_before <= self.allowed
    }

    /// Whether the readings reach to the end, within the gap allowed.
    pub const fn reaches_end(&self) -> bool {
        self.missing_after <= self.allowed
    }

    /// Whether the readings reach to both ends and no gap is longer than allowed.
    pub fn complete(&self) -> bool {
        self.covered > 0 && self.reaches_start() && self.reaches_end() && self.gaps.is_empty()
    }
}

/// A time and a reading in units of the last digit.
type Point = Option<(i64, i64)>;

/// Summary of a channel over an interval; `allowed` is the longest time between readings that is taken as
/// covered, in milliseconds, from 0 to a day.
pub fn summary(trace: &Trace<'_>, interval: &Interval, allowed: i64) -> Summary {
    let allowed = allowed.clamp(0, super::LONGEST_ALLOWED);
    let mut area = Area::NOTHING;
    let (mut readings, mut gaps) = (0_usize, Vec::new());
    let (mut first, mut last): (Point, Point) = (None, None);
    let (mut min, mut max): (Point, Point) = (None, None);
    let mut longest: Option<Gap> = None;
    // Where known readings set in and end, those just outside the interval taken at its ends.
    let (mut begins, mut ends) = (None, None);
    trace.walk(interval, allowed, |step| match step {
        Step::Line(line, x, y, gap) => {
            let span = Gap { from: line.t0, to: line.t1 };
            if longest.is_none_or(|l| span.length() > l.length()) {
                longest = Some(span);
            }
            if gap {
                gaps.push(span);
            } else {
                area.add(&line, x, y);
            }
            begins = begins.or(Some(x));
            ends = Some(y);
        }
        Step::Point(t, v) => {
            readings += 1;
            first = first.or(Some((t, v)));
            last = Some((t, v));
            if min.is_none_or(|(_, least)| v < least) {
                min = Some((t, v));
            }
            if max.is_none_or(|(_, most)| v > most) {
                max = Some((t, v));
            }
            begins = begins.or(Some(t));
            ends = Some(t);
        }
    });
    let channel: &Channel = trace.channel();
    let known = |point: Point| point.map(|(t, v)| trace.reading(t, v));
    let length = interval.length();
    Summary {
        header: channel.header.clone(),
        measures: channel.measures,
        unit: channel.unit,
        interval: *interval,
        readings,
        first: known(first),
        last: known(last),
        min: known(min),
        max: known(max),
        mean: area.divided(area.covered, channel.places, channel.mean_places()),
        coverage: Coverage {
            allowed,
            covered: area.covered,
            missing_before: begins.map_or(length, |t| t - interval.from()),
            missing_after: ends.map_or(length, |t| interval.to() - t),
            longest,
            gaps,
        },
        correction: channel.correction().cloned(),
    }
}
