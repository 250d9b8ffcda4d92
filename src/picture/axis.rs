//! Scales and their ticks: steps of 1, 2 or 5 times a power of ten with exact decimals, round minutes and
//! hours.

use chrono::DateTime;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

/// Beyond this nothing is measured in a shop; such values are drawn at the edge, so that no difference
/// overflows.
const MOST: i64 = 1_000_000_000_000_000;
/// Least span of a scale; anything closer together is drawn as equal.
const LEAST: (i64, u32) = (1, 10);

/// A value held to what can be drawn.
pub(super) fn tame(value: Decimal) -> Decimal {
    value.clamp(Decimal::from(-MOST), Decimal::from(MOST))
}

/// Least and greatest of some values, tamed.
pub(super) fn range(values: impl IntoIterator<Item = Decimal>) -> Option<(Decimal, Decimal)> {
    values.into_iter().map(tame).fold(None, |span, v| match span {
        None => Some((v, v)),
        Some((low, high)) => Some((low.min(v), high.max(v))),
    })
}

/// Printed with a true minus sign.
pub(super) fn said(value: Decimal) -> String {
    value.to_string().replace('-', "\u{2212}")
}

/// From values to places along one axis.
#[derive(Debug, Clone, Copy)]
pub(super) struct Scale {
    low: Decimal,
    high: Decimal,
    from: i64,
    to: i64,
}

impl Scale {
    /// `low` is drawn at `from`, `high` at `to`; a span of nothing is widened.
    pub(super) fn new((low, high): (Decimal, Decimal), (from, to): (i64, i64)) -> Scale {
        let (low, high) = (tame(low.min(high)), tame(low.max(high)));
        if high - low >= Decimal::new(LEAST.0, LEAST.1) {
            return Scale { low, high, from, to };
        }
        let wide = (low.abs() / Decimal::from(20)).max(Decimal::new(1, 2));
        Scale { low: low - wide, high: high + wide, from, to }
    }

    /// The same with room below and above, in hundredths of the span.
    pub(super) fn padded(self, below: i64, above: i64) -> Scale {
        let span = (self.high - self.low) / Decimal::ONE_HUNDRED;
        let (below, above) = (span * Decimal::from(below), span * Decimal::from(above));
        Scale { low: self.low - below, high: self.high + above, ..self }
    }

    /// The place of a value; beyond the scale it is the scale's end.
    pub(super) fn at(&self, value: Decimal) -> i64 {
        let above = value.clamp(self.low, self.high) - self.low;
        let part = above.checked_div(self.high - self.low).unwrap_or_default();
        let along = (part * Decimal::from(self.to - self.from)).round();
        self.from + along.to_i64().unwrap_or_default()
    }

    /// Ticks inside the scale, at most `most` spans apart.
    pub(super) fn ticks(&self, most: i64) -> Vec<Decimal> {
        let step = step(self.high - self.low, most);
        let mut ticks = Vec::new();
        let Some(mut nth) = self.low.checked_div(step).map(|n| n.ceil()) else { return ticks };
        while ticks.len() < 40 {
            let Some(mut tick) = nth.checked_mul(step) else { break };
            if tick > self.high {
                break;
            }
            tick.rescale(step.scale());
            ticks.push(if tick.is_zero() { Decimal::new(0, step.scale()) } else { tick });
            nth += Decimal::ONE;
        }
        ticks
    }
}

/// The least round step that cuts `span` into at most `most` parts: 1, 2 or 5 times a power of ten.
pub(super) fn step(span: Decimal, most: i64) -> Decimal {
    let most = Decimal::from(most.clamp(1, 30));
    for power in -12_i32..16 {
        for times in [1_i64, 2, 5] {
            let step = match u32::try_from(power) {
                Ok(up) => Decimal::from(times.saturating_mul(10_i64.saturating_pow(up))),
                Err(_) => Decimal::new(times, power.unsigned_abs()),
            };
            if step * most >= span {
                return step;
            }
        }
    }
    Decimal::from(MOST)
}

const SECOND_STEPS: [i64; 24] = [
    1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1_800, 3_600, 7_200, 10_800, 21_600, 43_200, DAY, 172_800,
    604_800, 1_209_600, 2_592_000, 7_776_000, 31_536_000,
];
const DAY: i64 = 86_400;
/// First and last second of the years 1 and 9999, which have four figures.
const CALENDAR: (i64, i64) = (-62_135_596_800, 253_402_300_799);

/// From seconds to places along the x axis.
#[derive(Debug, Clone, Copy)]
pub(super) struct TimeScale {
    begin: i64,
    end: i64,
    left: i64,
    right: i64,
    offset: i64,
}

impl TimeScale {
    /// Seconds since 1970 UTC; `offset` is the wall clock's, in seconds east.
    pub(super) fn new((begin, end): (i64, i64), (left, right): (i64, i64), offset: i64) -> TimeScale {
        let hold = |t: i64| t.clamp(CALENDAR.0, CALENDAR.1);
        let (begin, end) = (hold(begin.min(end)), hold(begin.max(end)));
        let (begin, end) = if begin == end { (begin - 30, end + 30) } else { (begin, end) };
        TimeScale { begin, end, left, right, offset: offset.clamp(-DAY, DAY) }
    }

    /// The place of an instant.
    pub(super) fn at(&self, time: i64) -> i64 {
        let past = i128::from(time.clamp(self.begin, self.end) - self.begin);
        let along = past * i128::from(self.right - self.left) / i128::from(self.end - self.begin);
        self.left + i64::try_from(along).unwrap_or_default()
    }

    /// The wall clock's time, to the minute, or to the second where that matters.
    pub(super) fn clock(&self, time: i64) -> String {
        let local = time.clamp(CALENDAR.0, CALENDAR.1) + self.offset;
        let of_day = local.rem_euclid(DAY);
        let (hour, minute, second) = (of_day / 3_600, of_day / 60 % 60, of_day % 60);
        if second == 0 {
            format!("{hour:02}:{minute:02}")
        } else {
            format!("{hour:02}:{minute:02}:{second:02}")
        }
    }

    /// The wall calendar's day.
    pub(super) fn day(&self, time: i64) -> String {
        let local = (time.clamp(CALENDAR.0, CALENDAR.1) + self.offset).clamp(CALENDAR.0, CALENDAR.1);
        DateTime::from_timestamp(local, 0).map(|at| at.format("%Y-%m-%d").to_string()).unwrap_or_default()
    }

    /// `2026-11-24, UTC−05:00`, with both days where there are two.
    pub(super) fn caption(&self) -> String {
        let (first, last) = (self.day(self.begin), self.day(self.end));
        let days = if first == last { first } else { format!("{first} to {last}") };
        let size = self.offset.abs();
        let sign = if self.offset < 0 { "\u{2212}" } else { "+" };
        format!("{days}, UTC{sign}{:02}:{:02}", size / 3_600, size / 60 % 60)
    }

    /// Round times inside the scale with what is written at each, at least `apart` from each other; a new day
    /// is written as its date. At most 60.
    pub(super) fn ticks(&self, apart: i64) -> Vec<(i64, String)> {
        let wide = i128::from(self.right - self.left);
        let fits =
            |step: i64| i128::from(step) * wide >= i128::from(apart) * i128::from(self.end - self.begin);
        let years = SECOND_STEPS.last().copied().unwrap_or(DAY);
        let mut step = SECOND_STEPS.into_iter().find(|s| fits(*s)).unwrap_or(years);
        while !fits(step) {
            step = step.saturating_mul(2);
        }
        let mut ticks = Vec::new();
        let local = self.begin + self.offset;
        let mut at = local.div_euclid(step) * step;
        if at < local {
            at += step;
        }
        while at - self.offset <= self.end && ticks.len() < 60 {
            let time = at - self.offset;
            let date = step >= DAY || (at.rem_euclid(DAY) == 0 && self.day(self.begin) != self.day(self.end));
            let text = if step > 20 * DAY {
                self.day(time).get(..7).unwrap_or_default().to_owned()
            } else if date {
                self.day(time).get(5..).unwrap_or_default().to_owned()
            } else {
                self.clock(time)
            };
            ticks.push((time, text));
            at += step;
        }
        ticks
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn d(text: &str) -> Decimal {
        text.parse().unwrap()
    }

    /// By hand.
    #[test]
    fn steps_are_round() {
        for (span, most, expected) in
            [("20", 5, "5"), ("21", 4, "10"), ("0.7", 5, "0.2"), ("3", 5, "1"), ("0.1", 5, "0.02")]
        {
            assert_eq!(step(d(span), most), d(expected), "{span}");
        }
    }

    #[test]
    fn ticks_are_exact_decimals() {
        let scale = Scale::new((d("-0.15"), d("0.31")), (0, 1_000));
        let found: Vec<String> = scale.ticks(5).into_iter().map(said).collect();
        assert_eq!(found, ["\u{2212}0.1", "0.0", "0.1", "0.2", "0.3"]);
        assert_eq!([scale.at(d("-0.15")), scale.at(d("0.08")), scale.at(d("9"))], [0, 500, 1_000]);
    }

    #[test]
    fn any_value_has_a_place() {
        for (low, high) in
            [(Decimal::MIN, Decimal::MAX), (Decimal::MAX, Decimal::MAX), (d("1e-28"), d("2e-28"))]
        {
            let scale = Scale::new((low, high), (100, 900)).padded(10, 10);
            for v in [low, high, Decimal::MIN, Decimal::MAX, Decimal::ZERO] {
                assert!((100..=900).contains(&scale.at(v)));
            }
            assert!(scale.ticks(5).len() < 10);
        }
    }

    /// 2026-11-24T09:40-05:00 is 1 795 531 200 s after 1970 (Python's datetime).
    #[test]
    fn times_are_the_wall_clocks() {
        let begin = 1_795_531_200;
        let scale = TimeScale::new((begin, begin + 2_040), (0, 40_000), -18_000);
        assert_eq!(scale.clock(begin), "09:40");
        assert_eq!(scale.clock(begin + 7), "09:40:07");
        assert_eq!(scale.caption(), "2026-11-24, UTC\u{2212}05:00");
        let texts: Vec<String> = scale.ticks(4_000).into_iter().map(|(_, t)| t).collect();
        assert_eq!(texts, ["09:40", "09:45", "09:50", "09:55", "10:00", "10:05", "10:10"]);
    }

    #[test]
    fn any_span_of_time_has_few_ticks() {
        for (begin, end) in [(i64::MIN, i64::MAX), (0, 0), (0, 1), (0, 86_400 * 3), (i64::MAX, i64::MAX)] {
            let scale = TimeScale::new((begin, end), (0, 40_000), i64::MIN);
            assert!(scale.ticks(3_500).len() <= 13, "{begin} {end}");
            assert!((0..=40_000).contains(&scale.at(end)));
        }
    }
}
