//! A grade in words, and as JSON: what is in it, and what it means for baths and tests.

use std::cmp::Ordering;
use std::fmt;
use std::fmt::Write as _;

use serde::Serialize;

use crate::alloy::Alloy;
use crate::alloy::ElementLimits;
use crate::alloy::Unfound;
use crate::app::grade::Described;
use crate::app::grade::Standard;
use crate::judge::About;
use crate::judge::Consequence;
use crate::judge::GradeAnswer;
use crate::report::json::VERSION;
use crate::report::packs::basis;

/// The answer in text.
pub fn text(name: &str, found: &Result<Described, Unfound>) -> String {
    match found {
        Ok(described) => of(described),
        Err(why) => format!("`{name}`: {why}"),
    }
}

/// How a composition is known, in a word.
fn known(confidence: &str) -> &str {
    match confidence {
        "seen" => "the main ones read",
        "memory" => "recalled",
        "conflict" => "sources disagree",
        other => other,
    }
}

fn of(described: &Described) -> String {
    let alloy = &described.alloy;
    let machining = if alloy.free_machining { "free-machining" } else { "not free-machining" };
    let names: Vec<&str> = alloy.names().skip(1).filter(|n| *n != alloy.grade).collect();
    let mut text = format!("{}: {}, {machining}\n", alloy.grade, alloy.series.name());
    let mut line = |words: String| {
        let _ = writeln!(text, "{words}");
    };
    line(format!("  also written {}", names.join(", ")));
    let limits: Vec<String> = alloy.composition.iter().map(ElementLimits::to_string).collect();
    let other = alloy.other_limits.iter().map(|o| format!("; {o}")).collect::<String>();
    let standard = alloy.standard.as_deref().unwrap_or("no one standard");
    line(format!("  {}{other}", limits.join(", ")));
    line(format!("  limits of {standard}, {}; density {} g/cm³", known(&alloy.confidence), alloy.density));
    if let Some(note) = &alloy.note {
        line(format!("  {note}"));
    }
    type Pick = fn(&Consequence) -> bool;
    let sections: [(&str, Pick); 4] = [
        ("Not for it", |c| c.answer == GradeAnswer::No && !c.advice),
        ("Hangs on the heat's own analysis", |c| c.answer == GradeAnswer::ByTheHeat && !c.advice),
        ("Demanded for it", |c| c.answer == GradeAnswer::ToDo && !c.advice),
        ("Advice, which holds no lot", |c| c.advice),
    ];
    for (heading, pick) in sections {
        let all = described.standards.iter();
        let said = all.flat_map(|s| s.says.iter().filter(|c| pick(c)).map(move |c| (s, c)));
        let grouped = grouped(said);
        if !grouped.is_empty() {
            line(format!("\n{heading}"));
            grouped.iter().for_each(|group| line(group.to_string()));
        }
    }
    let cautions = cautions(described);
    if !cautions.is_empty() {
        line("\nCaution".to_owned());
        cautions.into_iter().for_each(|c| line(format!("  {c}")));
    }
    text
}

fn about(about: &About) -> String {
    match about {
        About::Standard => "the standard as a whole".to_owned(),
        About::Tests(tests) => tests.iter().map(|t| t.name()).collect::<Vec<_>>().join(", "),
        About::Treatments(ids) => ids.join(", "),
        About::Choice => "treatment".to_owned(),
        About::Options(options) => options.iter().map(|o| o.name()).collect::<Vec<_>>().join(", "),
        About::TestOrdered => "test".to_owned(),
    }
}

/// The same demand of several standards.
struct Group {
    says: String,
    by: Vec<String>,
    notes: Vec<String>,
}

impl fmt::Display for Group {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "  {}", self.says)?;
        for line in self.by.iter().chain(&self.notes) {
            write!(f, "\n    {line}")?;
        }
        Ok(())
    }
}

fn grouped<'a>(all: impl Iterator<Item = (&'a Standard, &'a Consequence)>) -> Vec<Group> {
    let mut groups: Vec<Group> = Vec::new();
    for (standard, c) in all {
        let says = match &c.about {
            About::Choice => c.asks.clone(),
            what => format!("{}: {}", about(what), c.asks),
        };
        let adopted = if standard.adopted == Some(false) { ", not adopted here" } else { "" };
        let by = format!("{}, {} ({}{adopted})", standard.named, c.clause, basis(c.basis));
        let group = match groups.iter().position(|g| g.says == says) {
            Some(at) => at,
            None => {
                groups.push(Group { says, by: Vec::new(), notes: Vec::new() });
                groups.len().saturating_sub(1)
            }
        };
        let Some(group) = groups.get_mut(group) else { continue };
        group.by.push(by);
        let note = c.note.iter().map(|n| n.trim().to_owned());
        group.notes.extend(note.filter(|n| !group.notes.contains(n)).collect::<Vec<_>>());
    }
    groups
}

/// What a finisher should know of the metal itself.
fn cautions(described: &Described) -> Vec<String> {
    let alloy: &Alloy = &described.alloy;
    let mut all = Vec::new();
    if alloy.free_machining {
        all.push(
            "Free-machining: sulfides or selenides lie open in the surface, and plain nitric acid may attack them."
                .to_owned(),
        );
    }
    let chromium = alloy.element("Cr").filter(|_| alloy.is_straight_chromium());
    if let (Some(chromium), Some(border)) = (chromium, described.bath_border) {
        let below = |q: Option<crate::units::Quantity>| {
            q.and_then(|q| q.compare(&border)).is_some_and(|o| o == Ordering::Less)
        };
        if below(chromium.to) {
            all.push(format!(
                "Low chromium: always below {border}, where baths with dichromate or strong acid are usual."
            ));
        } else if below(chromium.from) {
            all.push(format!(
                "Low chromium: a heat may have less than {border}, where baths with dichromate or strong acid are usual."
            ));
        }
    }
    if alloy.is_high_carbon() {
        all.push(
            "High carbon: hot dichromate baths have etched it when hardened, and it may turn out poor in any bath."
                .to_owned(),
        );
    }
    all
}

/// The answer for machines.
#[derive(Debug, Serialize)]
pub struct AlloyJson<'a> {
    version: u64,
    asked: &'a str,
    found: bool,
    /// Why it was not found: `unknown`, `ambiguous`, `specification`.
    #[serde(skip_serializing_if = "Option::is_none")]
    why: Option<&'static str>,
    /// Names that lie near, or the grades it may be.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    candidates: Vec<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    alloy: Option<&'a Alloy>,
    standards: Vec<StandardJson<'a>>,
    cautions: Vec<String>,
}

#[derive(Debug, Serialize)]
struct StandardJson<'a> {
    standard: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    adopted: Option<bool>,
    says: Vec<SaysJson<'a>>,
}

#[derive(Debug, Serialize)]
struct SaysJson<'a> {
    requirement: &'a str,
    clause: &'a str,
    basis: &'static str,
    advice: bool,
    about: String,
    /// `no`, `by the heat`, `to do`.
    answer: &'static str,
    asks: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    note: Option<&'a str>,
}

/// The answer for machines.
pub fn json<'a>(asked: &'a str, found: &'a Result<Described, Unfound>) -> AlloyJson<'a> {
    let (why, candidates): (_, &[String]) = match found {
        Ok(_) => (None, &[]),
        Err(Unfound::Unknown { near }) => (Some("unknown"), near),
        Err(Unfound::Ambiguous { grades }) => (Some("ambiguous"), grades),
        Err(Unfound::Specification) => (Some("specification"), &[]),
    };
    let described = found.as_ref().ok();
    AlloyJson {
        version: VERSION,
        asked,
        found: described.is_some(),
        why,
        candidates: candidates.iter().map(String::as_str).collect(),
        alloy: described.map(|d| &d.alloy),
        standards: described.into_iter().flat_map(|d| &d.standards).map(standard_json).collect(),
        cautions: described.map(cautions).unwrap_or_default(),
    }
}

fn says(c: &Consequence) -> SaysJson<'_> {
    let Consequence { requirement, clause, basis: known, advice, about: what, answer, asks, note } = c;
    SaysJson {
        requirement,
        clause,
        basis: basis(*known),
        advice: *advice,
        about: about(what),
        answer: match answer {
            GradeAnswer::No => "no",
            GradeAnswer::ByTheHeat => "by the heat",
            GradeAnswer::ToDo => "to do",
        },
        asks,
        note: note.as_deref(),
    }
}

fn standard_json(standard: &Standard) -> StandardJson<'_> {
    StandardJson {
        standard: &standard.named,
        adopted: standard.adopted,
        says: standard.says.iter().map(says).collect(),
    }
}
