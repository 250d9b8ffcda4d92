//! Whether a requirement applies: yes, no, or it cannot be told.

use std::cmp::Ordering;

use crate::alloy::Alloy;
use crate::judge::Dossier;
use crate::judge::heat::chromium;
use crate::judge::heat::free_machining;
use crate::pack::When;
use crate::part::CallOut;
use crate::part::PartSpecification;
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

/// What conditions look at beside the call-out: known with the lot, or before it.
pub struct Facts<'a> {
    pub alloy: Option<&'a Alloy>,
    pub chromium: Option<Quantity>,
    pub free_machining: Option<bool>,
    pub part: &'a PartSpecification,
}

/// Whether a requirement speaks of one of these treatments and of one of these tests, as far as it names any. What
/// is left is asked by [`applies`].
pub fn selects(when: &When, treatments: &[String], tests: &[TestKind]) -> bool {
    (when.treatments.is_empty() || when.treatments.iter().any(|t| treatments.contains(t)))
        && (when.tests.is_empty() || when.tests.iter().any(|t| tests.contains(t)))
}

/// Holds the conditions beyond treatment and test (which select a requirement before this) against the lot.
pub fn applies(dossier: &Dossier, call_out: &CallOut, pack: &EffectivePack, when: &When) -> Applies {
    let chromium = when.chromium_below.as_ref().and_then(|_| chromium(dossier));
    let facts = Facts {
        alloy: dossier.alloy.as_ref(),
        chromium,
        free_machining: free_machining(dossier),
        part: &dossier.part,
    };
    applies_to(&facts, call_out, pack, when)
}

/// The same with the facts in hand. One plain no decides; otherwise one unknown does.
pub fn applies_to(facts: &Facts, call_out: &CallOut, pack: &EffectivePack, when: &When) -> Applies {
    let (options, edition) = (&call_out.options, pack.edition.as_str());
    let mut unknown = None;
    let mut no = false;
    let mut ask = |answer: Option<bool>, what: &str| match answer {
        Some(true) => {}
        Some(false) => no = true,
        None => unknown = Some(what.to_owned()),
    };
    let (alloy, part) = (facts.alloy, facts.part);
    if !when.series.is_empty() {
        ask(alloy.map(|a| when.series.contains(&a.series)), "the alloy's series");
    }
    if let Some(wanted) = when.free_machining {
        ask(facts.free_machining.map(|free| free == wanted), "whether the alloy is free-machining");
    }
    if let Some(below) = &when.chromium_below {
        let less = facts.chromium.and_then(|cr| cr.compare(below)).map(|o| o == Ordering::Less);
        ask(less, "the chromium content");
    }
    if !when.used_for.is_empty() {
        ask(part.used_for.map(|u| when.used_for.contains(&u)), "what the part is used for");
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
        let said = part.conditions.as_ref();
        ask(said.map(|all| when.conditions.iter().any(|c| all.contains(c))), "how the part was made");
    }
    match (no, unknown) {
        (true, _) => Applies::No,
        (false, Some(what)) => Applies::Unknown(what),
        (false, None) => Applies::Yes,
    }
}
