//! Stock removal from what was weighed, gauged or passed as charge: the estimates of a measurement, which of them
//! judges, and whether they tell of one removal.

use rust_decimal::Decimal;

use crate::computed::LogFigures;
use crate::finding::Reason;
use crate::judge::Dossier;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::judge::raw;
use crate::path::Path;
use crate::record::Measurement;
use crate::record::Step;
use crate::removal;
use crate::removal::Composition;
use crate::removal::Density;
use crate::removal::EquivalentWeight;
use crate::removal::Estimate;
use crate::removal::Limits;
use crate::removal::document::Charge;
use crate::units::Quantity;

/// Removal is told to a hundredth of a micrometre, 0.4 µin: a tenth of what shops hold.
const STEP: Decimal = Decimal::from_parts(1, 0, 0, false, 2);

/// One estimate with the entry it comes from.
pub struct Estimated {
    /// The entry.
    pub at: Path,
    /// The estimate, or why there is none.
    pub estimate: Result<Estimate, Reason>,
}

/// Every estimate of a measurement, weighings first, then sizes, then the charge: the first way there is judges.
pub fn estimates(dossier: &Dossier, index: usize, m: &Measurement) -> Vec<Estimated> {
    let path = Path::root().key("measurements").index(index);
    let density = density(dossier);
    let mut all = Vec::new();
    for (j, weighed) in m.weighed.iter().enumerate() {
        let estimate = density.clone().and_then(|d| weighed.estimate(&d).map_err(unreadable));
        all.push(Estimated { at: path.key("weighed").index(j), estimate });
    }
    for (j, size) in m.dimensions.iter().enumerate() {
        let estimate = size.estimate().map_err(unreadable);
        all.push(Estimated { at: path.key("dimensions").index(j), estimate });
    }
    if let Some(charge) = &m.charge {
        let charge = with_log(dossier, m, charge);
        let alloy = alloy(dossier, &charge);
        let both = density.and_then(|d| Ok((d, alloy?)));
        let estimate = both.and_then(|(d, alloy)| charge.estimate(&alloy, &d).map_err(unreadable));
        all.push(Estimated { at: path.key("charge"), estimate });
    }
    all
}

fn unreadable(error: removal::RemovalError) -> Reason {
    Reason::Unreadable(error.to_string())
}

/// The density the alloy table gives.
fn density(dossier: &Dossier) -> Result<Density, Reason> {
    let unknown = || Reason::Unknown("the density of the alloy".to_owned());
    let alloy = dossier.alloy.as_ref().ok_or_else(unknown)?;
    let value = alloy.density.parse().map_err(|_| unknown())?;
    Density::stated(value, "alloy table").map_err(unreadable)
}

/// The equivalent weight: of the heat's own analysis where there is one heat with chromium and nickel in it, else of
/// the middle of the grade's limits.
fn alloy(dossier: &Dossier, charge: &Charge) -> Result<EquivalentWeight, Reason> {
    let composition = match dossier.record.material.heats.as_slice() {
        [heat] if heat.chemistry.contains_key("Cr") && heat.chemistry.contains_key("Ni") => Composition {
            elements: heat.chemistry.iter().map(|(symbol, q)| (symbol.clone(), q.value())).collect(),
            basis: format!("analysis of heat {}", heat.heat),
        },
        _ => {
            let unknown = || Reason::Unknown("the composition of the alloy".to_owned());
            let alloy = dossier.alloy.as_ref().ok_or_else(unknown)?;
            let value = |q: &Option<Quantity>| q.map(|q| q.value());
            let limits = alloy.composition.iter().map(|e| Limits {
                symbol: e.element.clone(),
                min: value(&e.from),
                max: value(&e.to),
            });
            let basis = format!("middle of the limits of {}", alloy.grade);
            Composition::mid_range(&limits.collect::<Vec<_>>(), &basis).map_err(unreadable)?
        }
    };
    composition.equivalent_weight(charge.valences).map_err(unreadable)
}

/// The charge as written; where it says neither current nor charge, that of the log of the runs covered.
fn with_log(dossier: &Dossier, m: &Measurement, charge: &Charge) -> Charge {
    let mut charge = charge.clone();
    if charge.current.is_some() || charge.current_density.is_some() || charge.charge.is_some() {
        return charge;
    }
    for (i, run) in dossier.record.runs.iter().enumerate().filter(|(_, r)| m.covers.contains(&r.run)) {
        let steps = Path::root().key("runs").index(i).key("steps");
        for (j, step) in run.steps.iter().enumerate() {
            let Step::Electropolish(dip) = step else { continue };
            let log = raw::log_of(dossier, &steps.index(j).key(step.key()));
            let passed = |log: &LogFigures| log.channel("current").and_then(|c| c.charge);
            charge.charge = charge.charge.or(log.and_then(passed));
            charge.area = charge.area.or(dip.area);
        }
    }
    charge
}

/// An estimate as a reading, with its expanded uncertainty where anybody stated one.
pub fn reading(estimate: &Estimate) -> Option<(Quantity, Option<Quantity>)> {
    let value = estimate.in_micrometres(STEP)?;
    let expanded = (!estimate.expanded.is_zero()).then(|| estimate.uncertainty(STEP)).flatten();
    Some((value, expanded))
}

/// The estimates in words and figures, for print: the way, the removal, its expanded uncertainty.
pub fn told(dossier: &Dossier, index: usize, m: &Measurement) -> Vec<(String, Quantity, Option<Quantity>)> {
    let all = estimates(dossier, index, m).into_iter().filter_map(|e| e.estimate.ok());
    all.filter_map(|e| reading(&e).map(|(value, expanded)| (e.method.to_string(), value, expanded))).collect()
}

/// The estimates that judge: all of the first way there is.
pub fn judging(dossier: &Dossier, index: usize, m: &Measurement) -> Vec<Estimated> {
    let mut all = estimates(dossier, index, m);
    let first = all.iter().find_map(|e| e.estimate.as_ref().ok().map(|e| e.method));
    let failed = all.iter().any(|e| e.estimate.is_err());
    // What cannot be reckoned is a gap whatever way it is.
    all.retain(|e| e.estimate.as_ref().map_or(failed, |e| Some(e.method) == first));
    all
}

/// That the ways agree within their uncertainties.
pub fn agree(dossier: &Dossier) -> Vec<Evidence> {
    let mut all = Vec::new();
    for (i, m) in dossier.record.measurements.iter().enumerate() {
        let found: Vec<Estimate> =
            estimates(dossier, i, m).into_iter().filter_map(|e| e.estimate.ok()).collect();
        if found.len() < 2 {
            continue;
        }
        let path = Path::root().key("measurements").index(i);
        let Ok(comparison) = removal::compare(&found) else { continue };
        for pair in &comparison.pairs {
            let limit = "within their uncertainties together (E_n at most 1)".to_owned();
            let found = Found::Own { observed: pair.words.clone(), limit, met: !pair.disagree };
            all.push(Evidence::record(path.clone(), found));
        }
    }
    if all.is_empty() { vec![Evidence::record(Path::root(), Found::NotApplicable)] } else { all }
}
