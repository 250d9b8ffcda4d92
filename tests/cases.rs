//! The case tables beside the packs (`rules/cases/`): for each requirement evidence that meets it and evidence that
//! does not, where it is asked, and where it is not.
//!
//! `asked` and `spared` name what a lot must be for the requirement to be looked at, or to be left alone:
//! treatments, tests, grades, options, uses, editions, classes, conditions. Every one of them is tried.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a case that cannot be made fails the test"
)]

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::PathBuf;

use brightproof::finding::Finding;
use brightproof::finding::Verdict;
use brightproof::judge::Dossier;
use brightproof::judge::judge;
use brightproof::pack::Basis;
use brightproof::pack::Check;
use brightproof::pack::Pack;
use brightproof::pack::Requirement;
use brightproof::pack::Subject;
use brightproof::part::OrderOption;
use brightproof::part::PartCondition;
use brightproof::part::Use;
use brightproof::record::TestKind;
use brightproof::rulebook::EffectivePack;

use crate::filled::Ask;
use crate::filled::GRADES;
use crate::filled::Value;
use crate::filled::in_force;
use crate::filled::set;
use crate::filled::standards;
use crate::support::book;
use crate::support::brief;
use crate::support::read;
use crate::support::set_grade;
use crate::support::table;

/// One requirement's case.
pub struct Case {
    pub requirement: String,
    asked: BTreeMap<String, Vec<String>>,
    spared: BTreeMap<String, Vec<String>>,
    /// Whether it holds a lot, or advises only.
    advises: bool,
    /// Each meets it.
    met: Vec<String>,
    /// None meets it.
    not_met: Vec<String>,
}

fn file(pack: &Pack) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(format!("rules/cases/{}.csv", pack.pack))
}

/// `tests copper sulfate | salt spray; grades 430`.
fn keys(text: &str) -> BTreeMap<String, Vec<String>> {
    let mut all = BTreeMap::new();
    for part in text.split(';').map(str::trim).filter(|p| !p.is_empty()) {
        let (key, values) = part.split_once(' ').unwrap_or_else(|| panic!("`{part}`"));
        all.insert(key.to_owned(), values.split('|').map(|v| v.trim().to_owned()).collect());
    }
    all
}

/// The cases of a pack.
pub fn cases(pack: &Pack) -> Vec<Case> {
    let text = std::fs::read_to_string(file(pack)).unwrap_or_else(|e| panic!("{}: {e}", pack.pack));
    let case = |row: BTreeMap<String, String>| Case {
        requirement: row["requirement"].clone(),
        asked: row.get("asked").map(|t| keys(t)).unwrap_or_default(),
        spared: row.get("spared").map(|t| keys(t)).unwrap_or_default(),
        advises: match row["weight"].as_str() {
            "holds" => false,
            "advises" => true,
            other => panic!("weight `{other}`"),
        },
        met: row["met"].split('|').map(|v| v.trim().to_owned()).collect(),
        not_met: row["not_met"].split('|').map(|v| v.trim().to_owned()).collect(),
    };
    table(&text).into_iter().map(case).collect()
}

/// Makes an ask be one of these.
fn put(ask: &mut Ask, key: &str, value: &str) {
    match key {
        "treatments" => ask.treatment = Some(value.to_owned()),
        "tests" if value == "none" => ask.tests.clear(),
        "tests" => ask.tests = vec![*TestKind::ALL.iter().find(|t| t.name() == value).unwrap()],
        "grades" => ask.grade = value.to_owned(),
        "options" if value == "none" => ask.options.clear(),
        "options" => ask.options = vec![*OrderOption::ALL.iter().find(|o| o.name() == value).unwrap()],
        "used_for" => ask.used_for = serde_json::from_value(value.into()).unwrap(),
        "editions" => ask.edition = value.to_owned(),
        "classes" => ask.class = Some(value.to_owned()),
        "conditions" if value == "none" => ask.conditions.clear(),
        "conditions" => {
            ask.conditions = vec![*PartCondition::ALL.iter().find(|c| c.name() == value).unwrap()];
        }
        other => panic!("no key `{other}`"),
    }
}

/// Every lot a map of keys names: each value once, the other keys at their first.
fn each<'a>(pack: &'a Pack, case: &Case, vary: &BTreeMap<String, Vec<String>>) -> Vec<(Ask<'a>, String)> {
    let mut base = Ask::of(pack);
    for (key, values) in &case.asked {
        put(&mut base, key, &values[0]);
    }
    let mut all = Vec::new();
    for (key, values) in vary {
        for value in values {
            let mut ask = base.clone();
            put(&mut ask, key, value);
            all.push((ask, format!("{key} {value}")));
        }
    }
    all
}

/// A value in the words of a case.
fn value(requirement: &Requirement, text: &str) -> Value {
    let words = || Value::Words(text.split(';').map(|w| w.trim().to_owned()).collect());
    match text {
        "recorded" | "yes" => return Value::Recorded,
        "nothing" | "no" => return Value::Nothing,
        "none" => return Value::Words(Vec::new()),
        "every piece" | "within its limit" => return Value::Own(true),
        "beyond its limit" | "fewer" => return Value::Own(false),
        _ => {}
    }
    if let Some(failed) = text.strip_suffix(" failed") {
        return Value::Failed(failed.parse().unwrap());
    }
    match requirement.subject {
        Subject::AlloySeries
        | Subject::PartUse
        | Subject::PartConditions
        | Subject::BathIngredients
        | Subject::TestWater
        | Subject::TestCleanedWith
        | Subject::ClassNamed
        | Subject::TreatmentNamed
        | Subject::TreatmentOrdered => words(),
        Subject::TestOrdered | Subject::TestMade => Value::Recorded,
        _ => Value::Quantity(read(text)),
    }
}

/// What is found of one requirement in a lot.
fn found(effective: &EffectivePack, id: &str, dossier: &Dossier) -> Vec<Finding> {
    let id = format!("{}/{id}", effective.pack.pack);
    judge(dossier).into_iter().filter(|f| f.requirement == id).collect()
}

fn shown(findings: &[Finding]) -> String {
    findings.iter().map(brief).collect::<Vec<_>>().join(", ")
}

/// What is wrong with a pack by its cases; nothing when every case comes out as it says.
pub fn wrong(effective: &EffectivePack, edition: &str, only: Option<&str>, cases: &[Case]) -> Vec<String> {
    let pack = &effective.pack;
    let mut wrong = Vec::new();
    for case in cases.iter().filter(|c| only.is_none_or(|only| c.requirement == only)) {
        let Some(requirement) = pack.requirements.iter().find(|r| r.id == case.requirement) else {
            wrong.push(format!("{}: no such requirement", case.requirement));
            continue;
        };
        let unsure = case.met == ["unsure"];
        for (ask, what) in each(pack, case, &case.asked) {
            if ask.edition != edition {
                continue;
            }
            let kinds = &ask.tests;
            let said =
                |text: &str, f: &[Finding]| format!("{}, {what}, {text}: {}", case.requirement, shown(f));
            let mut whole = ask.lot_under(effective.clone());
            set_grade(&mut whole, &ask.grade);
            if unsure {
                // Its figure is made up for these tests; that it is looked at is all that can be said.
                let f = found(effective, &case.requirement, &whole);
                if !case.advises && (f.is_empty() || f.iter().any(|f| f.verdict == Verdict::NotApplicable)) {
                    wrong.push(said("unsure", &f));
                }
                // Kept, advice is not heard.
                if case.advises && !f.is_empty() {
                    wrong.push(said("unsure advice", &f));
                }
                continue;
            }
            for text in &case.met {
                let mut dossier = whole.clone();
                set(&mut dossier, requirement, kinds, &value(requirement, text));
                let f = found(effective, &case.requirement, &dossier);
                let good = |f: &Finding| matches!(f.verdict, Verdict::Met);
                // Advice is heard only when it is not kept.
                if !(case.advises && f.is_empty()) && (f.is_empty() || !f.iter().all(good)) {
                    wrong.push(said(text, &f));
                }
            }
            for text in &case.not_met {
                let mut dossier = whole.clone();
                set(&mut dossier, requirement, kinds, &value(requirement, text));
                let f = found(effective, &case.requirement, &dossier);
                let bad = |f: &Finding| if case.advises { f.verdict == Verdict::Advice } else { f.is_gap() };
                if !f.iter().any(bad) {
                    wrong.push(said(text, &f));
                }
            }
        }
        for (ask, what) in each(pack, case, &case.spared) {
            if ask.edition != edition {
                continue;
            }
            let mut dossier = ask.lot_under(effective.clone());
            set_grade(&mut dossier, &ask.grade);
            if !unsure && can_be_put(requirement, &case.not_met[0], what.split(' ').next().unwrap()) {
                set(&mut dossier, requirement, &ask.tests, &value(requirement, &case.not_met[0]));
            }
            let f = found(effective, &case.requirement, &dossier);
            if f.iter().any(|f| f.verdict != Verdict::NotApplicable) {
                wrong.push(format!("{}, spared by {what}: {}", case.requirement, shown(&f)));
            }
        }
    }
    wrong
}

/// Whether what does not meet a requirement can be put into a lot that differs in this key, without undoing the
/// difference, and where nothing in the lot needs to be there for it.
fn can_be_put(requirement: &Requirement, text: &str, key: &str) -> bool {
    match requirement.subject {
        Subject::TreatmentNamed => key != "treatments" || text == "nothing",
        Subject::Chromium if requirement.when.chromium_below.is_none() => true,
        Subject::AlloySeries | Subject::Chromium => key != "grades",
        Subject::PartUse => key != "used_for",
        Subject::PartConditions => key != "conditions",
        Subject::TestOrdered => key != "tests",
        Subject::BathTemperature
        | Subject::NitricAcid
        | Subject::BathIngredients
        | Subject::VisualLight
        | Subject::HydrogenRelief
        | Subject::Descaled
        | Subject::Preparation => true,
        _ => false,
    }
}

#[test]
fn every_requirement_has_a_case_and_every_case_comes_out() {
    let packs: Vec<&'static Pack> = standards().collect();
    // Two halves side by side: there are thousands of lots to judge.
    let halves: Vec<(usize, Vec<String>)> = std::thread::scope(|scope| {
        let half = |which: usize| packs.iter().skip(which).step_by(2).copied().collect::<Vec<_>>();
        let threads: Vec<_> =
            [half(0), half(1)].map(|some| scope.spawn(move || all_of(&some))).into_iter().collect();
        threads.into_iter().map(|t| t.join().unwrap()).collect()
    });
    let count: usize = halves.iter().map(|(count, _)| count).sum();
    let bad: Vec<String> = halves.into_iter().flat_map(|(_, bad)| bad).collect();
    assert!(bad.is_empty(), "{} of {count} cases:\n{}", bad.len(), bad.join("\n"));
    assert!(count > 800, "{count}");
}

fn all_of(packs: &[&'static Pack]) -> (usize, Vec<String>) {
    let mut bad = Vec::new();
    let mut count = 0;
    for pack in packs {
        let cases = cases(pack);
        let ids: Vec<&str> = cases.iter().map(|c| c.requirement.as_str()).collect();
        let wanted: Vec<&str> = pack.requirements.iter().map(|r| r.id.as_str()).collect();
        assert_eq!(ids, wanted, "{}: one case for each requirement, in its order", pack.pack);
        count += cases.len();
        for edition in &pack.editions {
            let effective = in_force(pack, edition);
            let wrong = wrong(&effective, edition, None, &cases);
            bad.extend(wrong.iter().map(|w| format!("{} {edition}: {w}", pack.pack)));
        }
    }
    (count, bad)
}

/// Proposes `asked` and `spared` for tables that lack them. A person reads them before they are committed.
#[test]
#[ignore = "writes rules/cases"]
fn propose_where_requirements_are_asked() {
    for pack in standards() {
        let mut text = "requirement,weight,asked,spared,met,not_met\n".to_owned();
        for case in cases(pack) {
            let requirement = pack.requirements.iter().find(|r| r.id == case.requirement).unwrap();
            let (asked, spared) = proposal(pack, requirement);
            let (met, not_met) = words_proposed(pack, requirement)
                .unwrap_or_else(|| (case.met.join(" | "), case.not_met.join(" | ")));
            let _ = writeln!(
                text,
                "{},{},{},{},{},{}",
                case.requirement,
                if requirement.advice { "advises" } else { "holds" },
                quoted(&asked),
                quoted(&spared),
                quoted(&met),
                quoted(&not_met)
            );
        }
        std::fs::write(file(pack), text).unwrap();
    }
}

/// For a list of words: every word of it, and every other its subject may have.
fn words_proposed(pack: &Pack, requirement: &Requirement) -> Option<(String, String)> {
    const SERIES: &[(&str, &str)] = &[
        ("200 series", "201"),
        ("300 series", "304L"),
        ("ferritic 400 series", "430"),
        ("martensitic 400 series", "420"),
        ("precipitation hardening", "17-4PH"),
        ("duplex", "2205"),
        ("other", "904L"),
    ];
    let name = |u: &Use| serde_json::to_value(u).unwrap().as_str().unwrap().to_owned();
    let all: Vec<(String, String)> = match requirement.subject {
        Subject::AlloySeries => SERIES.iter().map(|(s, g)| ((*s).to_owned(), (*g).to_owned())).collect(),
        Subject::PartUse => Use::ALL.iter().map(|u| (name(u), name(u))).collect(),
        Subject::PartConditions => {
            PartCondition::ALL.iter().map(|c| (c.name().to_owned(), c.name().to_owned())).collect()
        }
        Subject::TreatmentNamed => pack.treatments.iter().map(|t| (t.name.clone(), t.name.clone())).collect(),
        Subject::TestWater | Subject::TestCleanedWith => {
            ["distilled", "deionised", "tap", "acetone", "methanol", "methyl alcohol", "soap"]
                .iter()
                .map(|w| ((*w).to_owned(), (*w).to_owned()))
                .collect()
        }
        _ => return None,
    };
    let (list, inside) = match &requirement.check {
        Check::OneOf(list) => (list, true),
        Check::NoneOf(list) => (list, false),
        _ => return None,
    };
    let (of, others): (Vec<_>, Vec<_>) = all.into_iter().partition(|(word, _)| list.contains(word));
    let text = |some: Vec<(String, String)>| some.into_iter().map(|(_, v)| v).collect::<Vec<_>>().join(" | ");
    let (of, others) = (text(of), text(others));
    Some(if inside { (of, others) } else { (others, of) })
}

fn quoted(text: &str) -> String {
    if text.contains(',') { format!("\"{text}\"") } else { text.to_owned() }
}

fn proposal(pack: &Pack, requirement: &Requirement) -> (String, String) {
    let when = &requirement.when;
    let mut asked: Vec<String> = Vec::new();
    let mut spared: Vec<String> = Vec::new();
    let mut key = |key: &str, yes: Vec<String>, no: Vec<String>| {
        if !yes.is_empty() {
            asked.push(format!("{key} {}", yes.join(" | ")));
        }
        if !no.is_empty() {
            spared.push(format!("{key} {}", no.join(" | ")));
        }
    };
    let needs_test = requirement.subject.scope() == brightproof::pack::Scope::Test && when.tests.is_empty();
    if !when.treatments.is_empty() {
        let no = pack.treatments.iter().map(|t| &t.id).filter(|id| !when.treatments.contains(id));
        key("treatments", when.treatments.clone(), no.cloned().collect());
    }
    let name = |t: &TestKind| t.name().to_owned();
    if !when.tests.is_empty() {
        let no = pack.tests.iter().map(|t| t.test).filter(|t| !when.tests.contains(t));
        let no: Vec<String> = no.map(|t| name(&t)).collect();
        key(
            "tests",
            when.tests.iter().map(name).collect(),
            if no.is_empty() { vec!["none".to_owned()] } else { no },
        );
    } else if needs_test || requirement.subject == Subject::TestOrdered {
        key("tests", pack.tests.iter().map(|t| name(&t.test)).collect(), Vec::new());
    }
    if !when.series.is_empty() || when.free_machining.is_some() || when.chromium_below.is_some() {
        let holds = |grade: &&&str| {
            let ask = Ask { grade: (**grade).to_owned(), ..Ask::of(pack) };
            ask.holds(&brightproof::pack::When {
                series: when.series.clone(),
                free_machining: when.free_machining,
                chromium_below: when.chromium_below,
                ..Default::default()
            })
        };
        let (yes, no): (Vec<&&str>, Vec<&&str>) = GRADES.iter().partition(holds);
        let text = |all: Vec<&&str>| all.into_iter().map(|g| (*g).to_owned()).collect();
        key("grades", text(yes), text(no));
    }
    if !when.options.is_empty() {
        key("options", when.options.iter().map(|o| o.name().to_owned()).collect(), vec!["none".to_owned()]);
    }
    let use_name = |u: &Use| serde_json::to_value(u).unwrap().as_str().unwrap().to_owned();
    if !when.used_for.is_empty() {
        let no = Use::ALL.iter().filter(|u| !when.used_for.contains(u)).map(use_name);
        key("used_for", when.used_for.iter().map(use_name).collect(), no.collect());
    }
    if !when.classes.is_empty() {
        let no = pack.classes.iter().map(|c| c.class.clone()).filter(|c| !when.classes.contains(c));
        key("classes", when.classes.clone(), no.collect());
    }
    if !when.conditions.is_empty() {
        key(
            "conditions",
            when.conditions.iter().map(|c| c.name().to_owned()).collect(),
            vec!["none".to_owned()],
        );
    }
    let editions = if when.editions.is_empty() { pack.editions.clone() } else { when.editions.clone() };
    let no = pack.editions.iter().filter(|e| !editions.contains(e)).cloned();
    key("editions", editions.iter().rev().cloned().collect(), no.collect());
    (asked.join("; "), spared.join("; "))
}

/// The unsure cases are those without a figure, and no other.
#[test]
fn cases_call_unsure_what_the_pack_has_no_figure_for() {
    for pack in standards() {
        for case in cases(pack) {
            let requirement = pack.requirements.iter().find(|r| r.id == case.requirement).unwrap();
            let figures = match &requirement.check {
                Check::Within(all) => all.iter().map(|w| w.from.is_some()).collect::<Vec<_>>(),
                Check::AtLeast(all) | Check::AtMost(all) => all.iter().map(|b| b.value.is_some()).collect(),
                _ => vec![true],
            };
            let none = figures.iter().all(|known| !known);
            assert_eq!(case.met == ["unsure"], none, "{}/{}", pack.pack, case.requirement);
            assert!(!none || requirement.basis == Basis::Unsure, "{}/{}", pack.pack, case.requirement);
        }
    }
    assert!(book().packs.len() >= 17);
}
