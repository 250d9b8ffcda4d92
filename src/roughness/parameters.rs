//! Height parameters of a profile: Ra, Rq, Rp, Rv, Rz, Rt, Rsk, Rku.
//!
//! Editions differ (recalled). ISO 4287:1997 defines Ra, Rq, Rp, Rv, Rz, Rsk and Rku on one sampling length
//! and takes the mean of five of them; ISO 21920-2:2021 defines Ra, Rq, Rsk and Rku on the whole evaluation
//! length, and Rp, Rv and Rz as the mean over its sections. For Ra both give the same where the sections are
//! equally long. For Rq they do not, so both are given. Rz is the mean of the greatest heights of the
//! sampling lengths in both; old drawings that follow ISO 4287:1984 or JIS B 0601:1982 mean the ten-point
//! height by the same letters, which this is not.

use rust_decimal::Decimal;
use rust_decimal::RoundingStrategy;

use crate::numeric;

use super::profile::real;

/// Parameters of a profile in µm, not rounded; Rsk and Rku are plain numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RawParameters {
    /// `Σ |z| / n`.
    pub ra: f64,
    /// `√(Σ z² / n)` over the evaluation length.
    pub rq: f64,
    /// Mean of Rq of the sampling lengths.
    pub rq_mean: f64,
    /// Mean of the highest peaks of the sampling lengths.
    pub rp: f64,
    /// Mean of the deepest valleys of the sampling lengths, as a positive depth.
    pub rv: f64,
    /// Mean of `Rp + Rv` of the sampling lengths.
    pub rz: f64,
    /// Greatest `Rp + Rv` of a sampling length (Rz1max; Rmax of older editions).
    pub rz_max: f64,
    /// Highest peak and deepest valley of the evaluation length together.
    pub rt: f64,
    /// `Σ z³ / n / Rq³`; not a number where the profile is flat.
    pub rsk: f64,
    /// `Σ z⁴ / n / Rq⁴`, 3 for normally distributed heights; not a number where the profile is flat.
    pub rku: f64,
}

/// Parameters rounded to the resolution declared for them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Parameters {
    /// Ra in µm.
    pub ra: Decimal,
    /// Ra in µin, from the rounded µm: `Ra / 0.0254`.
    pub ra_microinches: Decimal,
    /// Rq in µm over the evaluation length (ISO 21920-2, ASME B46.1).
    pub rq: Decimal,
    /// Rq in µm as the mean of the sampling lengths (ISO 4287).
    pub rq_mean: Decimal,
    /// Rp in µm.
    pub rp: Decimal,
    /// Rv in µm.
    pub rv: Decimal,
    /// Rz in µm.
    pub rz: Decimal,
    /// Greatest Rz of a sampling length in µm.
    pub rz_max: Decimal,
    /// Rt in µm.
    pub rt: Decimal,
    /// Rsk; `None` where the profile is flat.
    pub rsk: Option<Decimal>,
    /// Rku; `None` where the profile is flat.
    pub rku: Option<Decimal>,
}

impl RawParameters {
    /// Rounded to `places` digits after the point (ties to the even digit), Ra in µin to `places − 2` of
    /// them, since a µin is about a fortieth of a µm. `None` where a value is beyond a decimal or `places`
    /// above 12.
    pub fn rounded(&self, places: u32) -> Option<Parameters> {
        let at = |value: f64| numeric::rounded(value, places);
        let ra = at(self.ra)?;
        Some(Parameters {
            ra,
            ra_microinches: microinches(ra, places.saturating_sub(2))?,
            rq: at(self.rq)?,
            rq_mean: at(self.rq_mean)?,
            rp: at(self.rp)?,
            rv: at(self.rv)?,
            rz: at(self.rz)?,
            rz_max: at(self.rz_max)?,
            rt: at(self.rt)?,
            rsk: at(self.rsk),
            rku: at(self.rku),
        })
    }
}

/// A length of µm in µin, `µm / 0.0254`, to `places` digits after the point, ties to the even digit. `None`
/// where it is too large.
pub fn microinches(micrometres: Decimal, places: u32) -> Option<Decimal> {
    let exact = micrometres.checked_mul(Decimal::from(5_000))?.checked_div(Decimal::from(127))?;
    let mut rounded = exact.round_dp_with_strategy(places, RoundingStrategy::MidpointNearestEven);
    rounded.rescale(places);
    Some(rounded)
}

/// Parameters of one stretch as `(Ra, Rq, highest, lowest)`.
pub(super) fn stretch(heights: &[f64]) -> (f64, f64, f64, f64) {
    let count = real(heights.len().max(1));
    let ra = numeric::sum(heights.iter().map(|z| z.abs())) / count;
    let rq = (numeric::sum(heights.iter().map(|z| z * z)) / count).sqrt();
    let top = heights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let foot = heights.iter().copied().fold(f64::INFINITY, f64::min);
    (ra, rq, top, foot)
}

/// Parameters of heights about their mean line (which is 0), `sections` being the sampling lengths they fall
/// into. The mean of the heights is not taken off: the filter has drawn the mean line. `None` of no heights,
/// of an empty section, and where a height is not a finite number.
pub fn raw_parameters(heights: &[f64], sections: &[&[f64]]) -> Option<RawParameters> {
    if heights.is_empty() || sections.is_empty() || sections.iter().any(|s| s.is_empty()) {
        return None;
    }
    if !heights.iter().chain(sections.iter().copied().flatten()).all(|z| z.is_finite()) {
        return None;
    }
    let count = real(heights.len());
    let (ra, rq, top, foot) = stretch(heights);
    let each: Vec<_> = sections.iter().map(|s| stretch(s)).collect();
    let over = real(each.len());
    let mean = |of: fn(&(f64, f64, f64, f64)) -> f64| numeric::sum(each.iter().map(of)) / over;
    // Heights in parts of Rq, so that no power runs over.
    let power = |n: i32| {
        let part = |z: &f64| {
            let z = z / rq;
            if n == 3 { z * z * z } else { (z * z) * (z * z) }
        };
        numeric::sum(heights.iter().map(part)) / count
    };
    Some(RawParameters {
        ra,
        rq,
        rq_mean: mean(|s| s.1),
        rp: mean(|s| s.2),
        rv: mean(|s| -s.3),
        rz: mean(|s| s.2 - s.3),
        rz_max: each.iter().map(|s| s.2 - s.3).fold(0.0, f64::max),
        rt: top - foot,
        rsk: power(3),
        rku: power(4),
    })
}
