//! What a heat's own analysis says: whether it can be the grade, and what bath and test may hang on.
//!
//! Whether material conforms to its own specification is the mill's and the purchaser's affair. Here it matters for
//! one reason: bath and test were chosen for a grade, and an analysis that cannot be that grade's says that one of
//! the two is wrong.

use std::cmp::Ordering;

use rust_decimal::Decimal;

use crate::alloy::Alloy;
use crate::alloy::ElementLimits;
use crate::finding::Reason;
use crate::judge::Dossier;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::path::Path;
use crate::record::Analysis;
use crate::record::Heat;
use crate::units::Quantity;

/// From so much chromium on the copper sulfate test is valid on a ferritic grade, as the standards' packs have it. The
/// border for the choice of a bath is another, and stands in the house's rules.
const TEST_BORDER: Decimal = Decimal::from_parts(16, 0, 0, false, 0);
/// A heat with so much sulfur machines freely, whatever its grade is called: the least any free-machining grade has.
const SULFUR: Decimal = Decimal::from_parts(10, 0, 0, false, 2);
/// A heat with so much selenium, likewise.
const SELENIUM: Decimal = Decimal::from_parts(15, 0, 0, false, 2);

fn heats(dossier: &Dossier) -> impl Iterator<Item = (Path, &Heat)> {
    let path = |i| Path::root().key("material").key("heats").index(i).key("chemistry");
    dossier.record.material.heats.iter().enumerate().map(move |(i, heat)| (path(i), heat))
}

fn nothing() -> Evidence {
    Evidence::record(Path::root().key("material"), Found::NotApplicable)
}

/// Each element given in a heat's own analysis against the grade's limits. Elements without a limit say nothing.
pub fn analysis(dossier: &Dossier) -> Evidence {
    let Some(alloy) = &dossier.alloy else { return nothing() }; // that the grade is unknown is a gap of its own
    let (mut outside, mut unknown, mut met): (Vec<Element>, Vec<Element>, Vec<String>) = Default::default();
    for (path, heat) in heats(dossier) {
        let mut within = Vec::new();
        for (symbol, value) in &heat.chemistry {
            let Some(limits) = alloy.element(symbol) else { continue };
            let element = Element::of(dossier, &path, heat, limits, *value);
            if limits.holds(value, element.tolerance) {
                within.push(format!("{symbol} {value}"));
            } else if element.unsure {
                unknown.push(element);
            } else {
                outside.push(element);
            }
        }
        if !within.is_empty() {
            met.push(format!("heat {}: {}", heat.heat, within.join(", ")));
        }
    }
    if let Some(first) = outside.first() {
        let told = |words: fn(&Element) -> String| outside.iter().map(words).collect::<Vec<_>>().join("; ");
        let found = Found::Own {
            observed: told(|e| format!("heat {}: {} {}", e.heat, e.limits.element, e.value)),
            limit: format!("{}: {}", whose(alloy), told(|e| e.limit.clone())),
            met: false,
        };
        return Evidence::record(first.path.clone(), found);
    }
    if let Some(first) = unknown.first() {
        let what = format!(
            "how far a product analysis may lie outside the limit of {} for {}; heat {} has {}",
            alloy.grade, first.limits, first.heat, first.value
        );
        return Evidence::record(first.path.clone(), Found::Missing(Reason::Unknown(what)));
    }
    if met.is_empty() {
        return nothing();
    }
    let limit = format!("limits of {}", alloy.grade);
    let found = Found::Own { observed: met.join("; "), limit, met: true };
    Evidence::record(Path::root().key("material").key("heats"), found)
}

/// A grade with the standard its limits are taken from, and how they are known: what a purchaser must be told who is
/// asked which of grade and analysis is wrong.
fn whose(alloy: &Alloy) -> String {
    let standard = alloy.standard.as_ref().map(|s| format!(" by {s}")).unwrap_or_default();
    let known = match alloy.confidence.as_str() {
        "seen" => String::new(),
        "conflict" => {
            let note =
                alloy.note.as_ref().map(|n| format!(": {}", n.trim_end_matches('.'))).unwrap_or_default();
            format!(" (sources disagree{note})")
        }
        _ => " (recalled)".to_owned(),
    };
    format!("{}{standard}{known}", alloy.grade)
}

/// One element of one heat against its limits.
struct Element<'a> {
    path: Path,
    heat: &'a str,
    limits: &'a ElementLimits,
    value: Quantity,
    /// By how much the limits are widened.
    tolerance: Decimal,
    /// Whether they would have to be widened by a figure nobody is sure of.
    unsure: bool,
    /// The limit in words, with the tolerance used.
    limit: String,
}

impl<'a> Element<'a> {
    fn of(
        dossier: &'a Dossier,
        path: &Path,
        heat: &'a Heat,
        limits: &'a ElementLimits,
        value: Quantity,
    ) -> Self {
        let product = heat.analysis == Some(Analysis::Product);
        let table = dossier.product_tolerances.as_ref().filter(|_| product);
        let allowed = table.and_then(|t| t.row(limits)).and_then(|row| row.tolerance);
        let limit = match (allowed, table) {
            (Some(tolerance), Some(table)) => {
                format!(
                    "{limits}, a product analysis {tolerance} outside it ({}, recalled)",
                    table.designation
                )
            }
            _ => limits.to_string(),
        };
        Element {
            path: path.key(&limits.element),
            heat: &heat.heat,
            limits,
            value,
            tolerance: allowed.map_or(Decimal::ZERO, |t| t.value()),
            unsure: product && allowed.is_none(),
            limit,
        }
    }
}

/// Chromium of the lot: the least of its heats' own analyses; a heat that gives none counts with the least its
/// grade may have. Unknown and mixed heats are judged as the worst of them.
pub fn chromium(dossier: &Dossier) -> Option<Quantity> {
    let heats = &dossier.record.material.heats;
    let mut values: Vec<Quantity> = heats.iter().filter_map(|h| h.chemistry.get("Cr").copied()).collect();
    if heats.is_empty() || values.len() < heats.len() {
        values.push(dossier.alloy.as_ref()?.element("Cr")?.from?);
    }
    let mut lowest = *values.first()?;
    for value in &values {
        if value.compare(&lowest)? == Ordering::Less {
            lowest = *value;
        }
    }
    Some(lowest)
}

/// The least chromium of the heats that say what they have and have enough for the tests, in the straight chromium
/// grades: there the choice of the bath hangs on a border of its own, which the house's rule names. Below the border
/// of the tests the standards advise for themselves; with nickel beside it, chromium does not choose the bath.
pub fn chromium_for_bath(dossier: &Dossier) -> Evidence {
    if !dossier.alloy.as_ref().is_some_and(Alloy::is_straight_chromium) {
        return nothing();
    }
    let given = heats(dossier).filter_map(|(path, heat)| Some((path, *heat.chemistry.get("Cr")?)));
    match given.filter(|(_, cr)| cr.value() >= TEST_BORDER).min_by_key(|(_, cr)| cr.value()) {
        Some((path, cr)) => Evidence::record(path.key("Cr"), Found::Quantity(cr)),
        None => nothing(),
    }
}

/// The first heat that machines freely by its own analysis, and by which element.
fn free_machining_heat(dossier: &Dossier) -> Option<(Path, &Heat, &'static str, Quantity)> {
    heats(dossier).find_map(|(path, heat)| {
        [("S", SULFUR), ("Se", SELENIUM)].into_iter().find_map(|(symbol, least)| {
            let value = *heat.chemistry.get(symbol)?;
            (value.value() >= least).then(|| (path.key(symbol), heat, symbol, value))
        })
    })
}

/// Whether the metal is to be judged as free-machining: the grade is, or a heat's own analysis says that it is. The
/// worst heat counts for the lot.
pub fn free_machining(dossier: &Dossier) -> Option<bool> {
    if free_machining_heat(dossier).is_some() {
        return Some(true);
    }
    dossier.alloy.as_ref().map(|alloy| alloy.free_machining)
}

/// That no heat of a grade that is not free-machining is so by its analysis.
pub fn machines_freely(dossier: &Dossier) -> Evidence {
    let Some(alloy) = dossier.alloy.as_ref().filter(|alloy| !alloy.free_machining) else { return nothing() };
    match free_machining_heat(dossier) {
        Some((path, heat, symbol, value)) => {
            let found = Found::Own {
                observed: format!("heat {}: {symbol} {value}", heat.heat),
                limit: format!(
                    "{} is not free-machining: S below {SULFUR}, Se below {SELENIUM} wt%",
                    alloy.grade
                ),
                met: false,
            };
            Evidence::record(path, found)
        }
        None => nothing(),
    }
}
