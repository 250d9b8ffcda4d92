//! A channel with its times, and the straight lines between its readings.

use super::Channel;
use super::Interval;
use super::LONGEST_ALLOWED;
use super::NO_READING;
use super::Reading;

/// A channel with its times.
#[derive(Debug, Clone, Copy)]
pub struct Trace<'a> {
    times: &'a [i64],
    channel: &'a Channel,
}

/// The line from one reading to the next.
#[derive(Debug, Clone, Copy)]
pub(super) struct Segment {
    pub t0: i64,
    pub v0: i64,
    pub t1: i64,
    pub v1: i64,
}

/// What a walk along a trace comes by, in order of time.
pub(super) enum Step {
    /// A line that overlaps the interval, with the part of it inside; whether it is a gap longer than
    /// allowed.
    Line(Segment, i64, i64, bool),
    /// A reading inside the interval.
    Point(i64, i64),
}

impl<'a> Trace<'a> {
    pub(super) fn new(times: &'a [i64], channel: &'a Channel) -> Self {
        Trace { times, channel }
    }

    /// The channel.
    pub const fn channel(&self) -> &'a Channel {
        self.channel
    }

    pub(super) fn reading(&self, at: i64, value: i64) -> Reading {
        Reading { at, value: self.channel.decimal(value) }
    }

    /// All readings in order of time, those left out passed over.
    pub fn readings(&self) -> impl DoubleEndedIterator<Item = Reading> + '_ {
        self.part(0, self.times.len()).map(|(at, value)| self.reading(at, value))
    }

    /// When the first and the last reading were read; `None` where there is none.
    pub fn ends(&self) -> Option<(i64, i64)> {
        let mut all = self.part(0, self.times.len());
        let (first, _) = all.next()?;
        Some((first, all.next_back().map_or(first, |(last, _)| last)))
    }

    pub(super) fn part(&self, from: usize, to: usize) -> impl DoubleEndedIterator<Item = (i64, i64)> + 'a {
        let times = self.times.get(from..to).unwrap_or_default();
        let readings = self.channel.readings.get(from..to).unwrap_or_default();
        times.iter().copied().zip(readings.iter().copied()).filter(|(_, value)| *value != NO_READING)
    }

    /// Readings inside an interval, its ends included.
    pub(super) fn inside(&self, interval: &Interval) -> impl DoubleEndedIterator<Item = (i64, i64)> + 'a {
        let (from, to) = self.bounds(interval);
        self.part(from, to)
    }

    fn bounds(&self, interval: &Interval) -> (usize, usize) {
        let from = self.times.partition_point(|t| *t < interval.from());
        (from, self.times.partition_point(|t| *t <= interval.to()))
    }

    /// Goes along the lines and readings of an interval. The reading before and the one after it are used for
    /// the lines that lead into it and out of it.
    pub(super) fn walk(&self, interval: &Interval, allowed: i64, mut step: impl FnMut(Step)) {
        let allowed = allowed.clamp(0, LONGEST_ALLOWED);
        let (from, to) = self.bounds(interval);
        let mut last = self.part(0, from).next_back();
        for (t, v) in self.part(from, to) {
            step_from(last, (t, v), interval, allowed, &mut step);
            step(Step::Point(t, v));
            last = Some((t, v));
        }
        if let Some((t, v)) = self.part(to, self.times.len()).next() {
            step_from(last, (t, v), interval, allowed, &mut step);
        }
    }
}

fn step_from(
    last: Option<(i64, i64)>,
    (t1, v1): (i64, i64),
    interval: &Interval,
    allowed: i64,
    step: &mut impl FnMut(Step),
) {
    let Some((t0, v0)) = last else { return };
    let (x, y) = (t0.max(interval.from()), t1.min(interval.to()));
    if x < y {
        step(Step::Line(Segment { t0, v0, t1, v1 }, x, y, t1 - t0 > allowed));
    }
}
