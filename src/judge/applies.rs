//! Whether a requirement applies: yes, no, or it cannot be told.

use std::cmp::Ordering;

use crate::judge::Dossier;
use crate::pack::When;
use crate::part::CallOut;
use crate::record::TestKind;
use crate::rulebook::EffectivePack;
use crate::units::Quantity;

/// The answer; `Unknown` names what would have to be known.
pub enum Applies {
    /// It applies.
    Yes,
    /// It does not.
    No,
    /// It cannot be told without this.
    Unknown(String),
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

/// Whether a requirement speaks of one of these treatments and of one of these tests, as far as it names any. What
/// is left is asked by [`applies`].
pub fn selects(when: &When, treatments: &[String], tests: &[TestKind]) -> bool {
    (when.treatments.is_empty() || when.treatments.iter().any(|t| treatments.contains(t)))
        && (when.tests.is_empty() || when.tests.iter().any(|t| tests.contains(t)))
}

/// Holds the conditions beyond treatment and test (which select a requirement before this) against the lot.
/// One plain no decides; otherwise one unknown does.
pub fn applies(dossier: &Dossier, call_out: &CallOut, pack: &EffectivePack, when: &When) -> Applies {
    let (options, edition) = (&call_out.options, pack.edition.as_str());
    let mut unknown = None;
    let mut no = false;
    let mut ask = |answer: Option<bool>, what: &str| match answer {
        Some(true) => {}
        Some(false) => no = true,
        None => unknown = Some(what.to_owned()),
    };
    let alloy = dossier.alloy.as_ref();
    if !when.series.is_empty() {
        ask(alloy.map(|a| when.series.contains(&a.series)), "the alloy's series");
    }
    if let Some(wanted) = when.free_machining {
        ask(alloy.map(|a| a.free_machining == wanted), "whether the alloy is free-machining");
    }
    if let Some(below) = &when.chromium_below {
        let less = chromium(dossier).and_then(|cr| cr.compare(below)).map(|o| o == Ordering::Less);
        ask(less, "the chromium content");
    }
    if !when.used_for.is_empty() {
        ask(dossier.part.used_for.map(|u| when.used_for.contains(&u)), "what the part is used for");
    }
    if !when.options.is_empty() {
        ask(Some(when.options.iter().any(|o| options.contains(o))), "the options ordered");
    }
    if !when.editions.is_empty() {
        ask(Some(when.editions.iter().any(|e| e == edition)), "the edition");
    }
    if !when.classes.is_empty() {
        let class = pack.pack.class_of(call_out);
        ask(class.map(|class| when.classes.iter().any(|c| c == class)), "the class ordered");
    }
    if !when.conditions.is_empty() {
        let said = dossier.part.conditions.as_ref();
        ask(said.map(|all| when.conditions.iter().any(|c| all.contains(c))), "how the part was made");
    }
    match (no, unknown) {
        (true, _) => Applies::No,
        (false, Some(what)) => Applies::Unknown(what),
        (false, None) => Applies::Yes,
    }
}
