//! What of a lot is withheld, and what stands in its place. Pure, and computed from the dossier alone: a verifier who
//! has the evidence masks what he judged in the same way and compares.
//!
//! - A finding is always shown, with its limit and verdict. What was found is replaced by `withheld` where it would
//!   tell bath chemistry or counts of pieces that were not accepted.
//! - A person's name is replaced by the function `people.yaml` gives, wherever a text of the shop's holds it. Who
//!   signs is named: a certificate nobody answers for is none.
//! - When anything is withheld, so is the dossier, which holds everything.

use serde_json::Value;

use crate::certificate::CertifiedLot;
use crate::certificate::Fact;
use crate::certificate::Picture;
use crate::correction::NOTHING;
use crate::finding::Finding;
use crate::finding::Reason;
use crate::judge;
use crate::judge::Dossier;
use crate::pack::Requirement;
use crate::pack::Subject;
use crate::part::Item;
use crate::part::YesNo;

/// What stands where a value is withheld.
pub const WITHHELD: &str = "withheld";

/// What stands for a person the shop's book of people says nothing of.
const SOMEBODY: &str = "a person of the shop";

/// What tells of a bath what it is made up of.
const CHEMISTRY: &[Subject] = &[
    Subject::BathIngredients,
    Subject::NitricAcid,
    Subject::SodiumDichromate,
    Subject::CitricAcid,
    Subject::BathPh,
    Subject::PostDipNitric,
    Subject::PostTreatmentDichromate,
    Subject::NextAnalysis,
    // Strengths stand in it beside what titrations come to.
    Subject::FiguresAgree,
];

/// What tells how many pieces came in, went through or were looked at, and so how many were lost.
const SCRAP: &[Subject] = &[
    Subject::CountsReconcile,
    Subject::PiecesTreated,
    Subject::VisualCount,
    Subject::Visual,
    Subject::CountByWeight,
    Subject::FamilyPieces,
    Subject::PartPieces,
    // How severe inspection is tells how earlier lots fared.
    Subject::SamplingPlan,
];

/// Where these are gaps they quote what earlier checks saw, which can be of any kind.
const HISTORY: &[Subject] = &[Subject::ChangesExplained, Subject::CorrectionsAgree, Subject::JournalWhole];

/// Everything the purchaser is not shown of a lot: each item the order line's papers do not disclose, and the record
/// whenever anything else is withheld or the parts are controlled.
pub fn withheld(dossier: &Dossier) -> Vec<Item> {
    let mut items: Vec<Item> = Item::ALL.into_iter().filter(|item| !disclosed(dossier, *item)).collect();
    if !items.contains(&Item::Record) && (!items.is_empty() || marking(dossier).is_some()) {
        items.push(Item::Record);
    }
    items
}

/// Whether the order, or else the part specification, discloses an item.
fn disclosed(dossier: &Dossier, item: Item) -> bool {
    let order = dossier.order.discloses.and_then(|d| d.says(item));
    let part = dossier.part.discloses.and_then(|d| d.says(item));
    order.or(part) == Some(YesNo::Yes)
}

/// Whether an item is withheld.
pub(super) fn hides(dossier: &Dossier, item: Item) -> bool {
    !disclosed(dossier, item)
}

/// The control marking of a lot: the part's and the order's.
pub(super) fn marking(dossier: &Dossier) -> Option<String> {
    let all = [&dossier.part.controlled, &dossier.order.controlled];
    joined(all.into_iter().flatten().map(String::as_str))
}

/// The control marking of a certificate: that of each of its lots.
pub fn controlled(lots: &[CertifiedLot]) -> Option<String> {
    joined(lots.iter().filter_map(|lot| lot.controlled.as_deref()))
}

/// The same from the lots' papers.
pub fn markings<'a>(dossiers: impl Iterator<Item = &'a Dossier>) -> Option<String> {
    let all: Vec<String> = dossiers.filter_map(marking).collect();
    joined(all.iter().map(String::as_str))
}

fn joined<'a>(all: impl Iterator<Item = &'a str>) -> Option<String> {
    let mut texts: Vec<&str> = Vec::new();
    for text in all.map(str::trim).filter(|text| !text.is_empty()) {
        if !texts.contains(&text) {
            texts.push(text);
        }
    }
    (!texts.is_empty()).then(|| texts.join("; "))
}

/// Findings as the purchaser may see them.
pub fn masked(dossier: &Dossier, mut findings: Vec<Finding>) -> Vec<Finding> {
    View::of(dossier).findings(&mut findings);
    findings
}

/// A lot as the purchaser may see it.
pub(super) struct View<'a> {
    dossier: &'a Dossier,
    names: Vec<Name>,
}

impl<'a> View<'a> {
    pub(super) fn of(dossier: &'a Dossier) -> View<'a> {
        let names = if hides(dossier, Item::Names) { names(dossier) } else { Vec::new() };
        View { dossier, names }
    }

    /// A text without names.
    fn text(&self, text: &str) -> String {
        without(&self.names, text)
    }

    fn rename(&self, text: &mut String) {
        if !self.names.is_empty() {
            *text = self.text(text);
        }
    }

    pub(super) fn findings(&self, findings: &mut [Finding]) {
        for finding in findings {
            self.finding(finding);
        }
    }

    fn finding(&self, finding: &mut Finding) {
        let judged = requirement(self.dossier, &finding.requirement);
        let subject = judged.map(|r| r.subject);
        let among = |all: &[Subject]| subject.is_some_and(|s| all.contains(&s));
        let history = finding.is_gap() && among(HISTORY);
        let chemistry = hides(self.dossier, Item::BathChemistry);
        let scrap = hides(self.dossier, Item::Scrap);
        let hidden =
            chemistry && among(CHEMISTRY) || scrap && among(SCRAP) || (chemistry || scrap) && history;
        if hidden {
            finding.observed = finding.observed.take().map(|_| WITHHELD.to_owned());
            if let Some(words) = finding.reason.as_mut().and_then(words) {
                *words = WITHHELD.to_owned();
            }
            // A limit may count the lot's pieces, or quote what an earlier check saw: the rule's own words stay.
            if (!among(CHEMISTRY) || subject == Some(Subject::FiguresAgree))
                && let Some(judged) = judged
            {
                finding.limit = judge::limit_words(&judged.check);
            }
        }
        if history && hides(self.dossier, Item::Record) {
            finding.subject = subject.map_or_else(String::new, |s| s.name().to_owned());
        }
        for text in finding.observed.iter_mut().chain(finding.reason.as_mut().and_then(words)) {
            self.rename(text);
        }
        self.rename(&mut finding.subject);
        self.rename(&mut finding.limit);
    }

    /// Masks what is printed of a lot; its findings are masked already.
    pub(super) fn lot(&self, lot: &mut CertifiedLot) {
        if hides(self.dossier, Item::Scrap) {
            lot.counts.retain(|count| count.what == "accepted");
            for treatment in &mut lot.treatments {
                treatment.pieces = None;
            }
            for look in lot.tests.iter_mut().filter(|test| test.what == "visual") {
                look.pieces = None;
                look.nonconforming = None;
                look.result = "see the findings".to_owned();
            }
            // How many pieces there were, and how earlier lots fared.
            lot.sampling.clear();
            lot.pictures.retain(|picture| !matches!(picture, Picture::OcCurve(_)));
        }
        if self.names.is_empty() {
            return;
        }
        let facts = |facts: &mut Vec<Fact>| facts.iter_mut().for_each(|fact| self.rename(&mut fact.value));
        for treatment in &mut lot.treatments {
            self.rename(&mut treatment.run);
            facts(&mut treatment.facts);
        }
        for test in &mut lot.tests {
            self.rename(&mut test.result);
            facts(&mut test.facts);
        }
        facts(&mut lot.fields);
        lot.deviations.iter_mut().chain(&mut lot.pieces_notes).for_each(|text| self.rename(text));
        for change in &mut lot.corrections {
            let texts = [&mut change.what, &mut change.was, &mut change.now, &mut change.by, &mut change.why];
            texts.into_iter().for_each(|text| self.rename(text));
        }
        for late in &mut lot.entered_late {
            self.rename(&mut late.what);
            self.rename(&mut late.value);
        }
    }
}

/// The first of these names that still stands in a lot that withholds names: one the dossier does not tell of.
pub fn still_named<'a>(lot: &CertifiedLot, all: &[&'a str]) -> Option<&'a str> {
    if !lot.withheld.contains(&Item::Names) {
        return None;
    }
    let mut tree = serde_json::to_value(lot).unwrap_or(Value::Null);
    if let Some(members) = tree.as_object_mut() {
        members.remove("dossier");
    }
    let mut texts = Vec::new();
    strings(&tree, &mut texts);
    named(&texts, all)
}

/// The first of these names that stands in one of the texts about a certificate that withholds names.
pub fn told_name<'a>(lots: &[CertifiedLot], texts: &[&str], all: &[&'a str]) -> Option<&'a str> {
    lots.iter().any(|lot| lot.withheld.contains(&Item::Names)).then(|| named(texts, all)).flatten()
}

fn named<'a>(texts: &[&str], all: &[&'a str]) -> Option<&'a str> {
    all.iter().copied().find(|person| {
        let words = words_of(person);
        let name = [Name { any_case: words.len() > 1, words, function: String::new() }];
        texts.iter().any(|text| without(&name, text) != **text)
    })
}

fn strings<'v>(value: &'v Value, found: &mut Vec<&'v str>) {
    match value {
        Value::String(text) => found.push(text),
        Value::Array(items) => items.iter().for_each(|item| strings(item, found)),
        Value::Object(members) => members.values().for_each(|member| strings(member, found)),
        _ => {}
    }
}

fn words_of(name: &str) -> Vec<String> {
    name.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()).map(str::to_owned).collect()
}

/// Whether a value that was corrected or entered late tells what is withheld. `own` says whether the place is one of
/// the record, or of the shop's book.
pub(super) fn hidden_value(dossier: &Dossier, own: bool, at: &str) -> bool {
    let pieces = |at: &str| {
        at.starts_with("counts")
            || at.starts_with("visual")
            || at.starts_with("runs") && (at.ends_with(".pieces") || !at.contains(".steps"))
    };
    let chemistry = !own && at.starts_with("baths.") && hides(dossier, Item::BathChemistry);
    chemistry || own && pieces(at) && hides(dossier, Item::Scrap)
}

/// The requirement of an id, with the shop's figures.
fn requirement<'a>(dossier: &'a Dossier, id: &str) -> Option<&'a Requirement> {
    let (pack, id) = id.split_once('/')?;
    let pack = dossier.packs.iter().find(|p| p.pack.pack == pack)?;
    pack.pack.requirements.iter().find(|r| r.id == id)
}

/// The words a reason carries.
fn words(reason: &mut Reason) -> Option<&mut String> {
    match reason {
        Reason::NotInBook(text)
        | Reason::TestNotMade(text)
        | Reason::Unknown(text)
        | Reason::Contradiction(text)
        | Reason::NotInRulebook(text)
        | Reason::NotUsed(text)
        | Reason::Unreadable(text)
        | Reason::Unfounded(text) => Some(text),
        _ => None,
    }
}

/// A name to be looked for, and what stands in its place.
struct Name {
    /// Its words as written: `T`, `Quince`.
    words: Vec<String>,
    /// Whether upper and lower case are alike: not for one word, which could be a word of the trade.
    any_case: bool,
    function: String,
}

/// Everyone a dossier names, the longest name first, and each surname by itself.
fn names(dossier: &Dossier) -> Vec<Name> {
    let mut found: Vec<String> = dossier.people.iter().map(|p| p.name.clone()).collect();
    let tree = serde_json::to_value(dossier).unwrap_or(Value::Null);
    signed(&tree, &mut found);
    found.sort();
    found.dedup();
    let mut names: Vec<Name> = Vec::new();
    for name in &found {
        let person = dossier.people.iter().find(|p| p.name == *name);
        let function = person.map_or(SOMEBODY, |p| p.function.as_str()).to_owned();
        let words = words_of(name);
        if let [_, .., last] = words.as_slice()
            && last.chars().count() >= 3
        {
            for word in [last.clone(), last.to_uppercase()] {
                names.push(Name { words: vec![word], any_case: false, function: function.clone() });
            }
        }
        if !words.is_empty() {
            let any_case = words.len() > 1;
            names.push(Name { words, any_case, function });
        }
    }
    let length = |name: &Name| name.words.iter().map(String::len).sum::<usize>();
    names.sort_by_key(|name| std::cmp::Reverse((name.words.len(), length(name))));
    names
}

/// Everything a document signs: each text under `by`.
fn signed(value: &Value, found: &mut Vec<String>) {
    match value {
        Value::Array(items) => items.iter().for_each(|item| signed(item, found)),
        Value::Object(members) => {
            // A correction of who did it names both.
            let of_somebody = members.get("at").and_then(Value::as_str).is_some_and(|at| at.ends_with(".by"));
            let texts = ["was", "now", "value"].into_iter().filter_map(|key| members.get(key)?.as_str());
            found.extend(texts.filter(|t| of_somebody && *t != NOTHING).map(str::to_owned));
            for (key, member) in members {
                match member {
                    Value::String(name) if key == "by" => found.push(name.clone()),
                    other => signed(other, found),
                }
            }
        }
        _ => {}
    }
}

/// A text in which each name is replaced by its function.
fn without(names: &[Name], text: &str) -> String {
    let chars: Vec<char> = text.chars().collect();
    let mut out = String::with_capacity(text.len());
    let mut at = 0;
    let mut within = false;
    while let Some(c) = chars.get(at) {
        let found = if within {
            None
        } else {
            names.iter().find_map(|name| Some((name, ends(name, chars.get(at..)?)?)))
        };
        match found {
            Some((name, length)) => {
                out.push_str(&name.function);
                at = at.saturating_add(length);
            }
            None => {
                out.push(*c);
                within = c.is_alphanumeric();
                at = at.saturating_add(1);
            }
        }
    }
    out
}

/// How long a name is where a text begins with it: its words in turn, full stops and blanks between them, and no
/// letter behind.
fn ends(name: &Name, text: &[char]) -> Option<usize> {
    if name.words.is_empty() {
        return None;
    }
    let mut at = 0_usize;
    for (turn, word) in name.words.iter().enumerate() {
        if turn > 0 {
            let gap = text.iter().skip(at).take_while(|c| !c.is_alphanumeric()).count();
            let blank = text.iter().skip(at).take(gap).all(|c| matches!(c, '.' | '-') || c.is_whitespace());
            if gap == 0 || !blank {
                return None;
            }
            at = at.saturating_add(gap);
        }
        for letter in word.chars() {
            let found = text.get(at)?;
            let same =
                if name.any_case { letter.to_lowercase().eq(found.to_lowercase()) } else { letter == *found };
            if !same {
                return None;
            }
            at = at.saturating_add(1);
        }
    }
    (!text.get(at).is_some_and(|c| c.is_alphanumeric())).then_some(at)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shop() -> Vec<Name> {
        let name = |words: &[&str], function: &str| Name {
            words: words.iter().map(|w| (*w).to_owned()).collect(),
            any_case: words.len() > 1,
            function: function.to_owned(),
        };
        vec![
            name(&["T", "Quince"], "operator"),
            name(&["S", "Alt"], "laboratory"),
            name(&["Quince"], "operator"),
            name(&["Alt"], "laboratory"),
            name(&["Ash"], "inspector"),
        ]
    }

    #[test]
    fn names_become_functions() {
        for (text, masked) in [
            ("part by T. Quince", "part by operator"),
            ("T.Quince, t quince and T.  QUINCE", "operator, operator and operator"),
            ("Quince's note: Quince, T.", "operator's note: operator, T."),
            ("T.Quinces", "T.Quinces"),
            ("fine salt, alt, Basalt", "fine salt, alt, Basalt"),
            ("S. Alt, s-alt", "laboratory, laboratory"),
            ("S, Alt", "S, laboratory"),
            ("ash, Ash, Ashes, mAsh", "ash, inspector, Ashes, mAsh"),
            ("", ""),
            ("µin Ra≤16 T. Quince é", "µin Ra≤16 operator é"),
        ] {
            assert_eq!(without(&shop(), text), masked);
        }
    }

    #[test]
    fn markings_are_joined_once() {
        assert_eq!(joined(["A", " A ", "", "B"].into_iter()).as_deref(), Some("A; B"));
        assert_eq!(joined([" "].into_iter()), None);
    }
}
