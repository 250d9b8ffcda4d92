//! Fewer points that draw the same: of every column of the picture the lowest and the highest are kept.

use rust_decimal::Decimal;

use super::Point;
use crate::numeric;

/// Thins a trace of evenly spaced heights to at most `2 * columns` points that keep the extremes of every
/// column, the first of equals, in their order along the trace. x = index × `spacing`, with `places.0`
/// decimals; z with `places.1` decimals (ties to even; units are the caller's, mm and µm as a rule). Heights
/// that are not numbers, or cannot be a decimal, are left out. A trace short enough already is only rounded.
pub fn thin(heights: &[f64], spacing: f64, columns: usize, places: (u32, u32)) -> Vec<(Decimal, Decimal)> {
    let columns = columns.max(1);
    let mut kept: Vec<usize> = Vec::new();
    let usable = |z: f64| z.is_finite() && z.abs() < 1e15;
    if heights.len() <= columns.saturating_mul(2) {
        kept.extend(0..heights.len());
    } else {
        // Columns differ by one point at most.
        let (each, rest) = (heights.len() / columns, heights.len() % columns);
        let mut begin = 0_usize;
        for column in 0..columns {
            let end = begin.saturating_add(each).saturating_add(usize::from(column < rest));
            let mut ends: Option<((usize, f64), (usize, f64))> = None;
            for (i, z) in
                heights.iter().copied().enumerate().take(end).skip(begin).filter(|(_, z)| usable(*z))
            {
                ends = Some(match ends {
                    None => ((i, z), (i, z)),
                    Some((low, high)) => {
                        (if z < low.1 { (i, z) } else { low }, if z > high.1 { (i, z) } else { high })
                    }
                });
            }
            if let Some(((low, _), (high, _))) = ends {
                kept.push(low.min(high));
                if low != high {
                    kept.push(low.max(high));
                }
            }
            begin = end;
        }
    }
    let point = |i: usize| {
        let z = numeric::rounded(heights.get(i).copied()?, places.1)?;
        Some((numeric::rounded(i as f64 * spacing, places.0)?, z))
    };
    kept.into_iter().filter_map(point).collect()
}

/// Places of a trace, oldest first, with of every `column` the first, lowest, highest and last.
pub(super) fn thin_places(points: impl IntoIterator<Item = Point>, column: i64) -> Vec<Point> {
    let mut out: Vec<Point> = Vec::new();
    // First, least, greatest, last: each with its number in the trace.
    let mut held: Option<(i64, [(usize, Point); 4])> = None;
    let flush = |held: Option<(i64, [(usize, Point); 4])>, out: &mut Vec<Point>| {
        if let Some((_, mut four)) = held {
            four.sort_by_key(|(i, _)| *i);
            for (_, point) in four {
                if out.last() != Some(&point) {
                    out.push(point);
                }
            }
        }
    };
    for (i, point) in points.into_iter().enumerate() {
        let this = point.0.div_euclid(column.max(1));
        match &mut held {
            Some((number, [_, low, high, last])) if *number == this => {
                if point.1 < low.1.1 {
                    *low = (i, point);
                }
                if point.1 > high.1.1 {
                    *high = (i, point);
                }
                *last = (i, point);
            }
            _ => {
                flush(held.take(), &mut out);
                held = Some((this, [(i, point); 4]));
            }
        }
    }
    flush(held, &mut out);
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn extremes_stay() {
        let heights: Vec<f64> = (0..1_000_003_u64).map(|i| (i * 7_919 % 10_007) as f64).collect();
        let points = thin(&heights, 0.001, 400, (3, 1));
        assert!(points.len() <= 800);
        assert!(points.iter().any(|p| p.1 == Decimal::ZERO));
        assert!(points.iter().any(|p| p.1 == Decimal::from(10_006)));
        assert!(points.windows(2).all(|w| w[0].0 < w[1].0));
    }

    #[test]
    fn odd_traces() {
        assert_eq!(thin(&[], 1.0, 10, (3, 3)), []);
        assert_eq!(thin(&[f64::NAN, 1.0], 1.0, 0, (0, 0)), [(Decimal::ONE, Decimal::ONE)]);
        assert_eq!(thin(&[f64::NAN; 50], f64::INFINITY, 2, (0, 0)), []);
    }
}
