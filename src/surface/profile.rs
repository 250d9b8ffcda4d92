//! Thickness of an oxide by a sputter profile.

use std::fmt;

use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::Deserialize;
use serde::Serialize;

use crate::numeric;
use crate::surface::atomic::Method;
use crate::surface::fault::SurfaceError;

/// The oxide a sputter rate was measured on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum ReferenceOxide {
    /// Silicon dioxide grown on silicon.
    #[serde(rename = "SiO2")]
    SiO2,
    /// Anodic tantalum pentoxide.
    #[serde(rename = "Ta2O5")]
    Ta2O5,
}

impl fmt::Display for ReferenceOxide {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            ReferenceOxide::SiO2 => "SiO2",
            ReferenceOxide::Ta2O5 => "Ta2O5",
        })
    }
}

/// How fast the beam took away a reference oxide of known thickness.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SputterRate {
    /// Å/min, 0.01 to 10000.
    pub angstrom_per_minute: Decimal,
    /// Of which oxide.
    pub reference: ReferenceOxide,
}

/// One spectrum of a profile.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ProfileRow {
    /// Sputter time, min.
    pub minutes: f64,
    /// Oxygen, at%.
    pub oxygen: f64,
}

/// A profile from the surface inwards.
#[derive(Debug, Clone, PartialEq)]
pub struct DepthProfile {
    /// How it was measured; `AES`, `XPS` or `GD-OES`.
    pub method: Method,
    /// Rate on a reference.
    pub rate: SputterRate,
    /// How many of the deepest rows are the bulk; their mean is its oxygen. At least 1, at most half of all
    /// rows.
    pub bulk_rows: usize,
    /// Rows, in time.
    pub rows: Vec<ProfileRow>,
}

/// Thickness of an oxide.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OxideDepth {
    /// Å of the reference oxide, to 0.1: an equivalent depth, since the film sputters at another rate than
    /// the reference.
    pub angstrom: Decimal,
    /// The reference.
    pub reference: ReferenceOxide,
    /// The method.
    pub method: Method,
    /// Sputter time at that depth, min, to 0.001.
    pub minutes: Decimal,
    /// Most oxygen, at%, to 0.01.
    pub most: Decimal,
    /// Oxygen of the bulk, at%, to 0.01.
    pub bulk: Decimal,
    /// Whether oxygen rises above half again further in: noise, or a film in two layers. The first fall
    /// counts.
    pub rises_again: bool,
}

impl fmt::Display for OxideDepth {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{} Å equivalent of {} ({}, oxygen at half between {} and {} at%)",
            self.angstrom, self.reference, self.method, self.most, self.bulk
        )
    }
}

/// Most rows a profile may have.
const MOST_ROWS: usize = 100_000;

/// Depth where oxygen has fallen half way from its most to the bulk (common practice; the standards on depth
/// profiling leave the criterion to the parties, recalled).
///
/// The most is the largest oxygen of any row before the bulk, the first of equals; below it the first row at
/// or under `(most + bulk) / 2` is found, and the time read on a straight line between it and the row before.
/// Depth is that time multiplied by the rate.
/// Errors: fewer than 4 rows or more than 100 000, bulk rows that are none or more than half, a rate out of
/// range, a row that is not a number, outside 0 to 100 at% or 0 to 10 000 min, times that do not rise, no
/// film, a profile that does not reach the bulk. Each names its row.
pub fn oxide_depth(profile: &DepthProfile) -> Result<OxideDepth, SurfaceError> {
    check(profile)?;
    let count = profile.rows.len();
    let film = profile.rows.get(..count.saturating_sub(profile.bulk_rows)).unwrap_or_default();
    let bulk_rows = profile.rows.get(film.len()..).unwrap_or_default();
    let bulk = mean(bulk_rows);
    let mut top = (0_usize, f64::NEG_INFINITY);
    for (i, row) in film.iter().enumerate() {
        if row.oxygen > top.1 {
            top = (i, row.oxygen);
        }
    }
    let overflow = || SurfaceError::Overflow("the profile");
    let shown = |value: f64, places: u32| numeric::rounded(value, places).ok_or_else(overflow);
    // One last place of the figures shown: less is no film.
    if top.1 - bulk < 0.01 {
        return Err(SurfaceError::NoFilm { most: shown(top.1, 2)?, bulk: shown(bulk, 2)? });
    }
    let half = f64::midpoint(top.1, bulk);
    let inward = film.get(top.0..).unwrap_or_default();
    let Some(fall) = inward.windows(2).position(|pair| pair.iter().skip(1).any(|row| row.oxygen <= half))
    else {
        return Err(SurfaceError::NotThrough { half: shown(half, 2)? });
    };
    let [before, after] = inward.get(fall..).and_then(|rest| rest.first_chunk::<2>()).ok_or_else(overflow)?;
    let part = (before.oxygen - half) / (before.oxygen - after.oxygen);
    let minutes = before.minutes + part * (after.minutes - before.minutes);
    let rate = profile.rate.angstrom_per_minute.to_f64().ok_or_else(overflow)?;
    let rises_again = inward.iter().skip(fall).skip(2).chain(bulk_rows).any(|row| row.oxygen > half);
    Ok(OxideDepth {
        angstrom: shown(minutes * rate, 1)?,
        reference: profile.rate.reference,
        method: profile.method,
        minutes: shown(minutes, 3)?,
        most: shown(top.1, 2)?,
        bulk: shown(bulk, 2)?,
        rises_again,
    })
}

#[allow(clippy::cast_precision_loss, reason = "at most 100 000 rows")]
fn mean(rows: &[ProfileRow]) -> f64 {
    numeric::sum(rows.iter().map(|row| row.oxygen)) / rows.len() as f64
}

fn check(profile: &DepthProfile) -> Result<(), SurfaceError> {
    let found = profile.rows.len();
    if !(4..=MOST_ROWS).contains(&found) {
        return Err(SurfaceError::Rows { found, expected: format!("4 to {MOST_ROWS}") });
    }
    if profile.bulk_rows == 0 || profile.bulk_rows > found / 2 {
        let expected = format!("1 to half of them as bulk, not {}", profile.bulk_rows);
        return Err(SurfaceError::Rows { found, expected });
    }
    let rate = profile.rate.angstrom_per_minute;
    if rate < Decimal::new(1, 2) || rate > Decimal::from(10_000) {
        return Err(SurfaceError::Rate(rate));
    }
    let mut before: Option<f64> = None;
    for (row, at) in (1_usize..).zip(&profile.rows) {
        if !(0.0..=10_000.0).contains(&at.minutes) {
            let (column, found) = ("sputter time", at.minutes.to_string());
            return Err(SurfaceError::Row { row, column, found, expected: "0 to 10000 min" });
        }
        if !(0.0..=100.0).contains(&at.oxygen) {
            let (column, found) = ("oxygen", at.oxygen.to_string());
            return Err(SurfaceError::Row { row, column, found, expected: "0 to 100 at%" });
        }
        if let Some(before) = before.filter(|before| *before >= at.minutes) {
            let (found, before) = (at.minutes.to_string(), before.to_string());
            return Err(SurfaceError::Unsorted { row, found, before });
        }
        before = Some(at.minutes);
    }
    Ok(())
}
