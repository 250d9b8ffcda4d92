//! A bath over time: readings in one unit, the limits lots were judged by, how far they reached.

use std::cmp::Ordering;

use crate::moment::Moment;
use crate::units::Quantity;
use crate::units::Unit;

/// A window that lots in the bath were judged by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limit {
    /// Lower.
    pub low: Option<Quantity>,
    /// Upper.
    pub high: Option<Quantity>,
}

/// One reading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Point {
    /// When it was taken.
    pub at: Moment,
    /// What was read.
    pub value: Quantity,
    /// Whose: a lot and run, or who analysed.
    pub whose: String,
    /// What the judge found of it; empty when nothing was asked.
    pub verdict: String,
    /// Whether the judge found it outside a limit, permitted or not.
    pub outside: bool,
}

/// Readings of one kind in one unit, oldest first.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Series {
    /// What was read: `bath temperature`, `nitric acid`.
    pub what: String,
    /// Unit.
    pub unit: Unit,
    /// Readings.
    pub points: Vec<Point>,
    /// Limits printed in that unit.
    pub limits: Vec<Limit>,
}

impl Series {
    /// Lowest and highest reading.
    pub fn reach(&self) -> Option<(Quantity, Quantity)> {
        let order = |a: &&Quantity, b: &&Quantity| a.compare(b).unwrap_or(Ordering::Equal);
        let values = || self.points.iter().map(|p| &p.value);
        Some((*values().min_by(order)?, *values().max_by(order)?))
    }

    /// Readings the judge found outside.
    pub fn outside(&self) -> usize {
        self.points.iter().filter(|p| p.outside).count()
    }
}

/// One series a unit, in the order units first occur; a reading is never converted to be shown. Limits keep to the
/// series of their unit, each once.
pub fn series(what: &str, mut points: Vec<Point>, limits: &[Limit]) -> Vec<Series> {
    points.sort_by_key(|p| p.at);
    let mut all: Vec<Series> = Vec::new();
    for point in points {
        let unit = point.value.unit();
        match all.iter_mut().find(|s| s.unit == unit) {
            Some(series) => series.points.push(point),
            None => all.push(Series { what: what.to_owned(), unit, points: vec![point], limits: Vec::new() }),
        }
    }
    for one in &mut all {
        for limit in limits {
            let fits = [limit.low, limit.high].iter().flatten().all(|q| q.unit() == one.unit);
            if fits && (limit.low.is_some() || limit.high.is_some()) && !one.limits.contains(limit) {
                one.limits.push(*limit);
            }
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    fn point(at: &str, value: &str) -> Point {
        Point {
            at: at.parse().unwrap(),
            value: value.parse().unwrap(),
            whose: String::new(),
            verdict: String::new(),
            outside: false,
        }
    }

    #[test]
    fn units_are_kept_apart_and_time_runs_forward() {
        let window = |low: &str, high: &str| Limit { low: low.parse().ok(), high: high.parse().ok() };
        let limits = [window("70 °F", "90 °F"), window("20 °C", "30 °C"), window("70 °F", "90 °F")];
        let points = vec![
            point("2026-11-02T10:00-05:00", "91 °F"),
            point("2026-11-01T10:00-05:00", "72 °F"),
            point("2026-11-01T16:30+00:00", "31 °C"),
        ];
        let all = series("bath temperature", points, &limits);
        assert_eq!(all.len(), 2);
        let (low, high) = all[0].reach().unwrap();
        assert_eq!((low.to_string(), high.to_string()), ("72 °F".to_owned(), "91 °F".to_owned()));
        assert_eq!(all[0].limits.len(), 1);
        assert_eq!(all[1].limits, [window("20 °C", "30 °C")]);
    }
}
