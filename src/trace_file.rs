//! A roughness trace as the instrument exported it: a table of text ([`csv`]) or an X3P file ([`x3p`]).
//!
//! What a file says about itself (instrument, date, probe, comment) is kept to be shown and never judged. A
//! hole in a trace, an uneven step or a damaged file is a fault that names its place; nothing is filled in,
//! closed up or guessed, because a roughness figure would follow from it.
//!
//! Whether a trace is long enough, on the right material and rightly filtered is not for this module.

pub mod csv;
mod number;
pub mod x3p;

use serde::Serialize;

use crate::numeric;
use crate::trace_form::LARGEST;
use crate::trace_form::SMALLEST_STEP;
use crate::trace_form::TraceForm;
use crate::trace_form::TraceUnit;
use crate::trace_form::UNIFORM_WITHIN;

pub use self::csv::CsvError;
pub use self::csv::read_csv;
pub use x3p::X3pError;
pub use x3p::read_x3p;

/// Largest file that is read, in bytes: 64 MiB. Our own limit.
pub const LARGEST_FILE: usize = 64 * 1024 * 1024;

/// Most points a trace may have. Our own limit; a trace of 100 mm in steps of 0.1 µm has 1,000,001.
pub const MOST_POINTS: usize = 5_000_000;

/// Fewest points a trace may have: with two there is a step.
pub const FEWEST_POINTS: usize = 2;

/// A roughness trace: heights at an even step.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    /// Step between neighbouring points, in µm; from [`SMALLEST_STEP`] to [`LARGEST`].
    pub spacing: f64,
    /// Heights in µm, in the order of the trace; each finite and within [`LARGEST`] either way.
    pub heights: Vec<f64>,
    /// Unit the file gave the heights in.
    pub unit_of_file: TraceUnit,
    /// What the file says about itself, in its own order; shown and never judged.
    pub told: Vec<Told>,
}

/// One thing a file says about itself.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Told {
    /// What it is about: an element of the file, or the line it stands on.
    pub about: String,
    /// As the file says it, cut after 200 characters.
    pub says: String,
}

impl Told {
    /// One thing said, cut to a length a page can show, control characters replaced.
    fn new(about: &str, says: &str) -> Self {
        let clean = |c: char| if c.is_control() { ' ' } else { c };
        Told { about: about.to_owned(), says: says.trim().chars().take(200).map(clean).collect() }
    }
}

/// The binary number nearest to what is written in a unit, in µm.
fn micrometres(unit: TraceUnit, text: &str, mark: char) -> Option<f64> {
    let (factor, power) = unit.factor();
    number::read(text, mark, factor, power)
}

/// Why positions are no even grid. Points count from 0.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Uneven {
    /// The point does not lie beyond the one before it.
    NotIncreasing { point: usize },
    /// The step before the point is furthest from the mean step.
    Step { point: usize, step: f64, mean: f64 },
}

/// The mean step of positions, `(last − first) / (n − 1)`, when each lies within `share` of a step of its
/// place `first + i · step`. Measured against places and not step by step, so that one lost point cannot hide
/// among many and rounding of the printed positions does not add up.
fn even_step(positions: &[f64], share: f64) -> Result<f64, Uneven> {
    let (Some(first), Some(last)) = (positions.first(), positions.last()) else { return Ok(0.0) };
    let pairs = || positions.iter().zip(positions.iter().skip(1)).enumerate();
    if let Some((i, _)) = pairs().find(|(_, (before, this))| this <= before) {
        return Err(Uneven::NotIncreasing { point: i.saturating_add(1) });
    }
    let steps = positions.len().saturating_sub(1).max(1) as f64;
    let mean = (last - first) / steps;
    let off = |(i, x): (usize, &f64)| (x - (first + i as f64 * mean)).abs() > share * mean;
    if !positions.iter().enumerate().any(off) {
        return Ok(mean);
    }
    let (mut point, mut step) = (1, mean);
    for (i, (before, this)) in pairs() {
        // Steps that differ by rounding only are alike: the first of them is named.
        if ((this - before) - mean).abs() > (step - mean).abs() * (1.0 + 1e-9) {
            (point, step) = (i.saturating_add(1), this - before);
        }
    }
    Err(Uneven::Step { point, step, mean })
}

/// A figure for a message: at most nine digits after the point, without trailing zeros; with a power of ten
/// where that would leave nothing.
fn said(value: f64) -> String {
    match numeric::rounded(value, 9) {
        Some(decimal) if !decimal.is_zero() || value == 0.0 => decimal.normalize().to_string(),
        _ => format!("{value:e}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trace_form::length_in_micrometres;

    /// A point lost in the middle of a long trace is found where it was lost.
    #[test]
    fn a_lost_point_is_found() {
        let mut xs: Vec<f64> = (0..4000).map(|i| f64::from(i) * 0.5).collect();
        assert_eq!(even_step(&xs, UNIFORM_WITHIN), Ok(0.5));
        xs.remove(1234);
        assert!(matches!(even_step(&xs, UNIFORM_WITHIN), Err(Uneven::Step { point: 1234, step: 1.0, .. })));
        xs.swap(10, 11);
        assert_eq!(even_step(&xs, UNIFORM_WITHIN), Err(Uneven::NotIncreasing { point: 11 }));
    }

    /// A point may lie up to the share from its place, and no further.
    #[test]
    fn the_share_is_a_limit() {
        let grid = |off: f64| [0.0, 1.0 + off, 2.0, 3.0, 4.0];
        assert_eq!(even_step(&grid(0.0099), 0.01), Ok(1.0));
        assert!(matches!(even_step(&grid(0.0101), 0.01), Err(Uneven::Step { point: 1, mean: 1.0, .. })));
        assert_eq!(even_step(&grid(0.0101), 0.0102), Ok(1.0));
        assert_eq!(even_step(&grid(-0.2), 0.25), Ok(1.0));
    }

    /// 1 in = 25.4 mm (Federal Register 24 FR 5348, 1959).
    #[test]
    fn lengths() {
        for (text, value) in [("0.5 µm", 0.5), ("20 µin", 0.508), ("0.0005 mm", 0.5), ("0.00002 in", 0.508)]
        {
            assert_eq!(length_in_micrometres(&text.parse().unwrap()), Some(value), "{text}");
        }
        assert_eq!(length_in_micrometres(&"3 min".parse().unwrap()), None);
    }
}
