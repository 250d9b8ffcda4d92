//! What is worth a second look and decides nothing: a gain in roughness that one step seldom makes, a gauge too coarse
//! for its tolerance.

use crate::decision::Limits;
use crate::decision::Ratio;
use crate::decision::test_uncertainty_ratio;
use crate::judge::Dossier;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::judge::calibration;
use crate::judge::evidence::Uncertainty;
use crate::judge::raw;
use crate::part::CallOut;
use crate::path::Path;
use crate::record::Characteristic;
use crate::record::Measurement;
use crate::roughness::improvement;
use crate::units::Quantity;
use crate::units::Unit;

/// The roughest of several readings.
fn roughest(readings: impl Iterator<Item = Quantity>) -> Option<Quantity> {
    readings.filter(|q| q.value_in(Unit::Micrometre).is_some()).max_by_key(|q| q.value_in(Unit::Micrometre))
}

/// Roughness before against roughness after, where both were measured: the roughest of each.
pub(super) fn gain(dossier: &Dossier) -> Vec<Evidence> {
    let rough = |m: &&(usize, &Measurement)| m.1.what != Characteristic::StockRemoval;
    let all: Vec<(usize, &Measurement)> = dossier.record.measurements.iter().enumerate().collect();
    let found = all.iter().filter(rough).filter_map(|(i, m)| {
        let path = Path::root().key("measurements").index(*i);
        let traced =
            raw::traces_before(dossier, *i, m).into_iter().filter_map(|t| t.parameter(m.what.name()));
        let before = roughest(m.before.iter().copied().chain(traced))?;
        let after =
            roughest(raw::readings(dossier, *i, m).into_iter().filter_map(|(_, reading, _)| reading.ok()))?;
        let gain = improvement(&before, &after).ok()?;
        let why = gain.warning.map(|warning| format!("; {warning}")).unwrap_or_default();
        let found = Found::Own {
            observed: format!("{before} before, {after} after: {} % less{why}", gain.percent),
            limit: "a gain that one step makes, up to 75 % (common practice)".to_owned(),
            met: gain.warning.is_none(),
        };
        Some(Evidence::record(path, found))
    });
    or_none(found.collect())
}

/// Expanded uncertainties against the tolerance, where a limit of the purchaser's own has two sides.
pub(super) fn ratio(dossier: &Dossier) -> Vec<Evidence> {
    let line = dossier.order.lines.iter().find(|l| l.line == dossier.record.order.line);
    let also = line.map(|l| l.also_calls_for.as_slice()).unwrap_or_default();
    let mut all = Vec::new();
    for call in dossier.part.calls_for.iter().chain(also) {
        let CallOut { limit: Some(what), at_least: Some(low), at_most: Some(high), .. } = call else {
            continue;
        };
        for (i, m) in dossier.record.measurements.iter().enumerate().filter(|(_, m)| m.what == *what) {
            // Several estimates of one way may tell one uncertainty.
            let mut each = uncertainties(dossier, i, m);
            each.dedup();
            for expanded in each {
                let unit = low.unit();
                let (Some(high), Some(u)) = (high.value_in(unit), expanded.difference_in(unit)) else {
                    continue;
                };
                let limits = Limits { lower: Some(low.value()), upper: Some(high) };
                let Ok(Ratio::TwoSided { value, low: coarse }) = test_uncertainty_ratio(&limits, u, None)
                else {
                    continue;
                };
                let found = Found::Own {
                    observed: format!("{} to 1 with U = {expanded}", value.trunc_with_scale(1).normalize()),
                    limit: "4 to 1 or more (common practice)".to_owned(),
                    met: !coarse,
                };
                all.push(Evidence::record(Path::root().key("measurements").index(i), found));
            }
        }
    }
    or_none(all)
}

/// The expanded uncertainties of a measurement: those of its estimates, else of its gauge.
fn uncertainties(dossier: &Dossier, index: usize, m: &Measurement) -> Vec<Quantity> {
    let mut all: Vec<Quantity> =
        raw::readings(dossier, index, m).into_iter().filter_map(|(_, _, expanded)| expanded).collect();
    if all.is_empty()
        && let Uncertainty::Known(gauge) =
            calibration::uncertainty(dossier, m.instrument.as_deref(), Some(m.at.date()))
    {
        all.push(gauge);
    }
    all
}

fn or_none(all: Vec<Evidence>) -> Vec<Evidence> {
    if all.is_empty() { vec![Evidence::record(Path::root(), Found::NotApplicable)] } else { all }
}
