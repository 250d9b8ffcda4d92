//! A purchaser's clauses beside a standard: they tighten, add and choose. How could one loosen what it builds on, or
//! say nothing where no lot can meet what is asked?
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test stops at the first surprise"
)]

mod any;
mod refused;

use brightproof::adoption::Figures;
use brightproof::app::adopt;
use brightproof::app::adopt::Adopter;
use brightproof::app::adopt::Answer;
use brightproof::finding::Finding;
use brightproof::finding::Verdict;
use brightproof::judge::Asked;
use brightproof::judge::Dossier;
use brightproof::judge::Together;
use brightproof::judge::conforms;
use brightproof::judge::judge;
use brightproof::judge::together;
use brightproof::pack::Pack;
use brightproof::part::CallOut;
use brightproof::part::OrderOption;
use brightproof::record::Step;
use brightproof::rulebook;
use brightproof::rulebook::EffectivePack;

use crate::support::book;
use crate::support::brief;
use crate::support::dossier;
use crate::support::read;

/// The lot that meets standard and clauses.
const MEETS: &str = "L-26-0521";
/// The lot within the standard's window and beyond the clauses'.
const MISSES: &str = "L-26-0522";
/// A lot by the standard alone: nitric 2 on 316L, water immersion.
const PLAIN: &str = "L-26-0401";

const AGREE: &str = "house/call-outs.agree";
const STRICTER: &str = "house/call-outs.stricter";

/// Clauses of an invented purchaser on top of a pack; `rest` is what stands after the head.
fn clauses(base: &str, rest: &str) -> Pack {
    let text = format!(
        "pack: pc-1\ndesignation: Invented PC 1\neditions: [A]\nabout: invented\nbuilds_on: {base}\n{rest}"
    );
    brightproof::yaml::parse(&text).unwrap_or_else(|fault| panic!("{fault}\n{text}"))
}

/// One clause of a pack.
fn clause(id: &str, rest: &str) -> String {
    format!("  - {{ id: {id}, clause: \"1.{}\", basis: read, remedy: re-treat, {rest} }}\n", id.len())
}

fn requirements(all: &[&str]) -> String {
    let each = all.iter().enumerate().map(|(i, rest)| clause(&"r".repeat(i + 1), rest));
    format!("requirements:\n{}", each.collect::<String>())
}

/// A pack with all its figures adopted.
fn adopted(pack: &Pack) -> EffectivePack {
    let adopter = Adopter { by: "M. Sorrel", on: read("2026-09-01"), copy: "invented copy" };
    let confirmed = |_: &_| Ok(Answer { figures: Figures::Confirmed, check: None, note: None });
    let adoption = adopt::adopt(pack, &pack.editions[0], &adopter, confirmed).unwrap();
    rulebook::effective(pack, &pack.editions[0], Some(&adoption)).unwrap()
}

fn call(standard: &str) -> CallOut {
    CallOut { standard: Some(standard.to_owned()), ..CallOut::default() }
}

/// A dossier under clauses too.
fn with(lot: &str, pack: &Pack) -> Dossier {
    let mut changed = dossier(lot);
    changed.packs.push(adopted(pack));
    changed.part.calls_for.push(call(&pack.named(&pack.editions[0])));
    changed
}

fn under(lot: &str, base: &str, all: &[&str]) -> Vec<Finding> {
    judge(&with(lot, &clauses(base, &requirements(all))))
}

fn gaps(findings: &[Finding]) -> Vec<String> {
    findings.iter().filter(|f| f.is_gap()).map(|f| f.requirement.clone()).collect()
}

fn said<'a>(findings: &'a [Finding], requirement: &str) -> Vec<&'a Finding> {
    findings.iter().filter(|f| f.requirement == requirement).collect()
}

fn heat(dossier: &mut Dossier, to: &str) {
    for step in dossier.record.runs.iter_mut().flat_map(|r| &mut r.steps) {
        if let Step::Passivate(bath) = step {
            bath.temperature = Some(read(to));
            bath.temperature_out = None;
        }
    }
}

fn asked(dossier: &Dossier) -> Together {
    together(&Asked {
        part: &dossier.part,
        order: &dossier.order,
        line: &dossier.record.order.line,
        packs: &dossier.packs,
        alloy: dossier.alloy.as_ref(),
        chromium: None,
        free_machining: None,
    })
}

/// The narrower window holds, in its own unit system, whatever the base allows; and the base's holds beside it.
#[test]
fn the_narrower_window_holds() {
    for (temperature, expected) in [
        ("75 °F", vec![]),
        ("85 °F", vec![]),
        ("85.1 °F", vec!["halyard-hps-14/nitric-2.temperature"]),
        ("74.9 °F", vec!["halyard-hps-14/nitric-2.temperature"]),
        ("29 °C", vec![]),
        ("29.5 °C", vec!["halyard-hps-14/nitric-2.temperature"]),
        ("69 °F", vec!["astm-a967/nitric-2.temperature", "halyard-hps-14/nitric-2.temperature"]),
    ] {
        let mut changed = dossier(MEETS);
        heat(&mut changed, temperature);
        assert_eq!(gaps(&judge(&changed)), expected, "{temperature}");
    }
    let held = judge(&dossier(MISSES));
    assert_eq!(gaps(&held), ["halyard-hps-14/nitric-2.temperature"]);
    let base = said(&held, "astm-a967/nitric-2.temperature");
    assert!(base.iter().all(|f| f.verdict == Verdict::Met), "the standard's own window is met");
}

/// Which of two limits stands is said once for the lot, with both clauses.
#[test]
fn the_stricter_stands_and_both_are_named() {
    let findings = judge(&dossier(MEETS));
    let told = said(&findings, STRICTER);
    let words: Vec<(&str, &str, &str)> =
        told.iter().map(|f| (f.subject.as_str(), f.observed.as_deref().unwrap(), f.limit.as_str())).collect();
    assert_eq!(
        words,
        [
            (
                "limits asked twice, bath temperature",
                "70 °F to 90 °F or 20 °C to 30 °C by ASTM A967/A967M-17, 6.1.1.2; \
                 75 °F to 85 °F or 24 °C to 29 °C by Halyard HPS 14-B, 3.2",
                "75 °F to 85 °F or 24 °C to 29 °C stands"
            ),
            (
                "limits asked twice, immersion time",
                "at least 30 min by ASTM A967/A967M-17, 6.1.1.2; at least 40 min by Halyard HPS 14-B, 3.3",
                "at least 40 min stands"
            ),
        ]
    );
    assert!(told.iter().all(|f| f.verdict == Verdict::Met && f.place_in_lot == "lot"));
    // It holds nothing, even where the lot misses the limit that stands.
    assert!(said(&judge(&dossier(MISSES)), STRICTER).iter().all(|f| f.verdict == Verdict::Met));
    assert!(said(&judge(&dossier(PLAIN)), STRICTER).is_empty(), "one call-out asks nothing twice");
}

/// A window of which each end is stricter elsewhere; one unit system against two; units that do not compare.
#[test]
fn each_unit_system_stands_alone() {
    let stands = |check: &str| {
        let clause = format!("when: {{ treatments: [nitric-2] }}, subject: bath temperature, check: {check}");
        let findings = under(PLAIN, "astm-a967", &[&clause]);
        said(&findings, STRICTER).iter().map(|f| f.limit.clone()).collect::<Vec<_>>()
    };
    assert_eq!(
        stands("{ within: [{ from: 60 °F, to: 85 °F }] }"),
        ["70 °F to 85 °F stands; in °C both stand"]
    );
    assert_eq!(stands("{ at_most: [{ value: 28 °C }] }"), ["20 °C to 28 °C stands; in °F both stand"]);
    assert_eq!(
        stands("{ within: [{ from: 75 °F, to: 85 °F }, { from: 24 °C, to: 29 °C }] }"),
        ["75 °F to 85 °F or 24 °C to 29 °C stands"]
    );

    // The purchaser's own limit in one unit system, the clauses' in the other.
    let mut metric = dossier(MEETS);
    metric
        .part
        .calls_for
        .push(brightproof::yaml::parse("{ limit: Ra, at_most: 0.8 µm, pieces: 1 }").unwrap());
    let findings = judge(&metric);
    let ra = said(&findings, STRICTER).into_iter().find(|f| f.subject.ends_with(", Ra")).unwrap();
    assert_eq!(ra.limit, "both stand: they are written in different units");
    assert_eq!(
        ra.observed.as_deref(),
        Some("at most 32 µin by Halyard HPS 14-B, 4.3; at most 0.8 µm by part HA-7250-2 A")
    );
    let mut same = dossier(MEETS);
    same.part.calls_for.push(brightproof::yaml::parse("{ limit: Ra, at_most: 20 µin, pieces: 1 }").unwrap());
    let findings = judge(&same);
    let ra = said(&findings, STRICTER).into_iter().find(|f| f.subject.ends_with(", Ra")).unwrap();
    assert_eq!(ra.limit, "at most 20 µin stands");
    assert_eq!(gaps(&findings), ["house/limit.reading"]);
}

/// What no lot can meet is a gap of its own, told before there is a record.
#[test]
fn what_no_lot_can_meet() {
    let nitric = "when: { treatments: [nitric-2] }";
    for (name, rest, what) in [
        (
            "windows apart",
            "subject: bath temperature, check: { within: [{ from: 95 °F, to: 99 °F }] }",
            "bath temperature",
        ),
        (
            "above the upper end",
            "subject: bath temperature, check: { at_least: [{ value: 91 °F }, { value: 31 °C }] }",
            "bath temperature",
        ),
        (
            "words without one in common",
            "subject: bath ingredients, check: { only: [citric acid, water] }",
            "bath ingredients",
        ),
        (
            "a forbidden first ingredient",
            "subject: bath ingredients, check: { none_of: [nitric acid] }",
            "bath ingredients",
        ),
        (
            "a test that is ordered",
            "subject: test ordered, check: { none_of: [water immersion] }",
            "test ordered",
        ),
        ("no test but another", "subject: test ordered, check: { one_of: [salt spray] }", "test ordered"),
        ("another treatment", "subject: treatment, check: { one_of: [Nitric 3] }", "treatment"),
    ] {
        let clause = if what == "bath temperature" { format!("{nitric}, {rest}") } else { rest.to_owned() };
        let changed = with(PLAIN, &clauses("astm-a967", &requirements(&[&clause])));
        let before = asked(&changed);
        assert_eq!(before.conflicts.iter().map(|c| c.what.as_str()).collect::<Vec<_>>(), [what], "{name}");
        let findings = judge(&changed);
        let told = said(&findings, AGREE);
        assert_eq!(told.len(), 1, "{name}: {:#?}", told.iter().map(|f| brief(f)).collect::<Vec<_>>());
        assert!(told[0].is_gap() && told[0].remedy == Some(brightproof::pack::Remedy::Ask), "{name}");
        assert_eq!(told[0].subject, format!("call-outs together, {what}"));
        assert!(told[0].observed.as_ref().unwrap().contains("Invented PC 1-A, 1.1"), "{name}: {:?}", told[0]);
        assert!(!conforms(&findings), "{name}");
    }
    // A reading in the other unit system could still meet both: then it is no conflict.
    let one = "when: { treatments: [nitric-2] }, subject: bath temperature, \
               check: { within: [{ from: 95 °F, to: 99 °F }, { from: 25 °C, to: 30 °C }] }";
    assert!(said(&under(PLAIN, "astm-a967", &[one]), AGREE).is_empty());
    assert!(asked(&dossier(MEETS)).conflicts.is_empty());
    assert_eq!(asked(&dossier(MEETS)).twice.len(), 2);
}

/// Clauses of two purchasers' papers on one standard, each within it and nothing within both.
#[test]
fn clauses_that_exclude_each_other() {
    let within = |from: u32, to: u32| {
        let window = format!("{{ within: [{{ from: {from} °F, to: {to} °F }}] }}");
        let rest = format!("when: {{ treatments: [nitric-2] }}, subject: bath temperature, check: {window}");
        clauses("astm-a967", &requirements(&[&rest]))
    };
    let mut other = within(82, 90);
    other.pack = "pc-2".to_owned();
    other.designation = "Invented PC 2".to_owned();
    let mut changed = with(PLAIN, &within(70, 80));
    changed.packs.push(adopted(&other));
    changed.order.lines[0].also_calls_for.push(call("Invented PC 2-A"));
    let before = asked(&changed);
    let [one] = before.conflicts.as_slice() else { panic!("{before:#?}") };
    assert!(
        one.asked.contains("by Invented PC 1-A, 1.1; 82 °F to 90 °F by Invented PC 2-A, 1.1"),
        "{one:#?}"
    );
    assert_eq!(one.place.document, brightproof::finding::Document::Order);
    let held = gaps(&judge(&changed));
    assert!(
        held.iter().all(|g| g == AGREE || g == "pc-2/r") && held.contains(&AGREE.to_owned()),
        "{held:#?}"
    );
}

/// Two limits of the purchaser's own that leave nothing between them.
#[test]
fn a_floor_above_a_ceiling() {
    let mut changed = dossier("L-26-0403");
    changed
        .part
        .calls_for
        .push(brightproof::yaml::parse("{ limit: Ra, at_most: 16 µin, pieces: 1 }").unwrap());
    changed
        .part
        .calls_for
        .push(brightproof::yaml::parse("{ limit: Ra, at_least: 20 µin, pieces: 1 }").unwrap());
    let before = asked(&changed);
    assert_eq!(before.conflicts.len(), 1, "{before:#?}");
    assert!(gaps(&judge(&changed)).contains(&AGREE.to_owned()));
}

/// Electropolishing and passivation of one lot look at different baths, and so do the tests of each.
#[test]
fn two_treatments_of_one_lot_do_not_conflict() {
    let both = dossier("L-26-0407");
    assert!(both.packs.len() > 2, "two standards are called out");
    assert!(asked(&both).conflicts.is_empty(), "{:#?}", asked(&both).conflicts);
    assert!(said(&judge(&both), AGREE).is_empty());
}

/// A deviation for one of two that exclude each other: they no longer disagree.
#[test]
fn a_deviation_settles_a_conflict() {
    let clause = "when: { treatments: [nitric-2] }, subject: bath temperature, \
                  check: { within: [{ from: 92 °F, to: 99 °F }] }";
    let mut changed = with("L-26-0441", &clauses("astm-a967", &requirements(&[clause])));
    let findings = judge(&changed);
    assert!(said(&findings, AGREE).is_empty(), "{:#?}", gaps(&findings));
    assert!(conforms(&findings), "{:#?}", gaps(&findings));
    changed.deviations.clear();
    let held = gaps(&judge(&changed));
    assert!(held.contains(&AGREE.to_owned()) && held.contains(&"astm-a967/nitric-2.temperature".to_owned()));
}

/// What clauses choose counts as if the standard's own call-out had named it.
#[test]
fn chosen_options_tests_and_class() {
    let none = "requirements: []\n";
    // A test nobody made.
    let test =
        clauses("astm-a967", &format!("chooses_tests: [{{ test: salt spray, clause: \"2.1\" }}]\n{none}"));
    assert_eq!(gaps(&judge(&with(PLAIN, &test))), ["astm-a967/tests.made"]);
    // One that was made and failed.
    let immersion = clauses(
        "astm-a967",
        &format!("chooses_tests: [{{ test: water immersion, clause: \"2.1\" }}]\n{none}"),
    );
    let mut open = with(PLAIN, &immersion);
    open.part.calls_for[0].tests.clear();
    assert!(conforms(&judge(&open)), "{:#?}", gaps(&judge(&open)));
    assert!(said(&judge(&open), "astm-a967/practice-a.result").iter().any(|f| f.verdict == Verdict::Met));
    open.record.tests[0].failed = 1;
    assert_eq!(gaps(&judge(&open)), ["astm-a967/practice-a.result"]);
    // The chromate treatment, on a grade for which the standard has it.
    let option = |lot: &str| {
        let chosen = "chooses_options: [{ option: dichromate post-treatment, clause: \"2.2\" }]\n";
        let mut changed = with(lot, &clauses("astm-a967", &format!("{chosen}{none}")));
        changed.part.calls_for[0].options.clear();
        changed
    };
    let made = judge(&option("L-26-0405"));
    assert!(conforms(&made), "{:#?}", gaps(&made));
    assert!(said(&made, "astm-a967/dichromate.time").iter().any(|f| f.verdict == Verdict::Met));
    let mut unmade = option("L-26-0405");
    for run in &mut unmade.record.runs {
        run.steps.retain(|s| s.key() != "post-treat");
    }
    assert!(!conforms(&judge(&unmade)));
    // What the call-out itself names otherwise is a conflict.
    let other =
        brightproof::yaml::parse::<CallOut>("{ standard: Invented PC 1-A, treatment: Nitric 3 }").unwrap();
    let mut changed = with(PLAIN, &immersion);
    *changed.part.calls_for.last_mut().unwrap() = other;
    assert_eq!(gaps(&judge(&changed)), [AGREE]);
    let mut open = changed.clone();
    open.part.calls_for[0].treatment = None;
    let held = gaps(&judge(&open));
    assert!(held.contains(&"astm-a967/nitric-3.temperature".to_owned()), "{held:#?}");
    assert!(!held.contains(&AGREE.to_owned()), "{held:#?}");
}

/// A choice for some grades is made for those, and where the grade is not known.
#[test]
fn a_choice_by_grade_and_by_number() {
    let rest = "chooses_options: [{ option: dichromate post-treatment, clause: \"4.2\", series: [ferritic 400 series, \
                martensitic 400 series] }]\nchooses_tests: [{ test: copper sulfate, clause: \"4.1\", pieces: 2 }]\n\
                requirements: []\n";
    let base = book().packs.iter().find(|p| p.pack == "astm-a967").unwrap();
    let packs = [adopted(base), adopted(&clauses("astm-a967", rest))];
    let order = dossier(PLAIN).order;
    let of = |grade: Option<&str>| {
        let alloy = grade.map(|grade| book().alloys.find(grade).unwrap());
        let calls = [&call(&base.named(&base.editions[0])), &call("Invented PC 1-A")];
        brightproof::judge::asked_for(&order, &packs, &calls, alloy).1[0].clone()
    };
    for (grade, chosen) in [(Some("304"), false), (Some("420"), true), (Some("430"), true), (None, true)] {
        let call = of(grade);
        assert_eq!(call.options.contains(&OrderOption::DichromatePostTreatment), chosen, "{grade:?}");
        assert_eq!((call.tests.len(), call.test_pieces), (1, Some(2)), "{grade:?}");
    }
}

/// The class that clauses order takes the place of the standard's default, and never of the one called out.
#[test]
fn a_chosen_class() {
    let ams = book().packs.iter().find(|p| p.pack == "ams-2700").unwrap();
    let rest = "chooses_class: { class: \"4\", clause: \"1.3\" }\nrequirements: []\n";
    let pack = clauses("ams-2700", rest);
    let packs = [adopted(ams), adopted(&pack)];
    let order = dossier(PLAIN).order;
    let named = ams.named(&ams.editions[0]);
    let classes = |own: Option<&str>| {
        let base = CallOut { class: own.map(str::to_owned), ..call(&named) };
        let (_, calls) =
            brightproof::judge::asked_for(&order, &packs, &[&base, &call("Invented PC 1-A")], None);
        calls.into_iter().map(|c| c.class.unwrap()).collect::<Vec<_>>()
    };
    assert_eq!(classes(None), ["4", "4"]);
    assert_eq!(classes(Some("2")), ["2", "2"]);
    let mut part = dossier(PLAIN).part;
    part.calls_for = vec![CallOut { class: Some("2".to_owned()), ..call(&named) }, call("Invented PC 1-A")];
    let found = together(&Asked {
        part: &part,
        order: &order,
        line: "1",
        packs: &packs,
        alloy: None,
        chromium: None,
        free_machining: None,
    });
    let [one] = found.conflicts.as_slice() else { panic!("{found:#?}") };
    assert_eq!((one.what.as_str(), one.wanted.as_str()), ("call-outs", "one class"));
}

/// Which clause chose what is printed with the call-out.
#[test]
fn the_certificate_says_which_clause_chose() {
    let dossier = dossier(MEETS);
    let chosen = brightproof::judge::chosen(&dossier, "ASTM A967/A967M-17");
    assert_eq!(chosen, [("copper sulfate".to_owned(), "Halyard HPS 14-B, 4.1".to_owned())]);
    let base = brightproof::judge::builds_on(&dossier, "Halyard HPS 14-B");
    assert_eq!(base.as_deref(), Some("ASTM A967/A967M-17"));
    assert_eq!(brightproof::judge::builds_on(&dossier, "ASTM A967/A967M-17"), None);
}

/// Clauses whose standard nobody called out say so; nothing of them is judged by guess.
#[test]
fn without_the_standard_they_build_on() {
    let mut alone = dossier(MEETS);
    alone.part.needs_approvals.clear();
    alone.part.calls_for.remove(0);
    alone.packs.retain(|p| p.pack.pack != "astm-a967");
    let findings = judge(&alone);
    assert_eq!(gaps(&findings), [AGREE], "{:#?}", findings.iter().map(brief).collect::<Vec<_>>());
    let gap = said(&findings, AGREE)[0];
    assert_eq!(
        gap.observed.as_deref(),
        Some("Halyard HPS 14-B builds on `astm-a967`, which is not called out")
    );
    assert_eq!(asked(&alone).conflicts.len(), 1);
    // A pack slipped in beside that no call-out names is no base.
    let mut slipped = dossier(MEETS);
    slipped.part.needs_approvals.clear();
    slipped.part.calls_for.remove(0);
    assert_eq!(gaps(&judge(&slipped)), [AGREE]);
    // By the order line alone it is one.
    let mut by_line = dossier(MEETS);
    let base = by_line.part.calls_for.remove(0);
    by_line.order.lines[0].also_calls_for.push(base);
    assert_eq!(gaps(&judge(&by_line)), Vec::<String>::new());
    // Two treatments, and nothing to say which the clauses mean.
    let mut two = dossier(MEETS);
    let mut other = two.part.calls_for[0].clone();
    other.treatment = Some("Citric 1".to_owned());
    two.order.lines[0].also_calls_for.push(other);
    assert!(gaps(&judge(&two)).contains(&AGREE.to_owned()));
}

/// Looser clauses that were never checked still loosen nothing: the standard is judged beside them.
#[test]
fn nothing_loosens_at_judging() {
    let looser = [
        "when: { treatments: [nitric-2] }, subject: bath temperature, check: { within: [{ from: 32 °F, to: 200 °F }] }",
        "when: { treatments: [nitric-2] }, subject: immersion time, check: { at_least: [{ value: 1 min }] }",
        "subject: bath ingredients, check: present",
        "subject: visual, check: present",
        "when: { tests: [water immersion] }, subject: test result, check: present",
        "when: { tests: [water immersion] }, subject: test duration, check: { at_least: [{ value: 1 h }] }",
    ];
    for file in book().lot_files().unwrap() {
        let lot = file.trim_start_matches("lots/").trim_end_matches(".yaml");
        let plain = judge(&dossier(lot));
        let beside = under(lot, "astm-a967", &looser);
        for gap in plain.iter().filter(|f| f.is_gap()) {
            assert!(beside.contains(gap), "{lot}: {} is gone", brief(gap));
        }
    }
}

/// Clauses nobody adopted, or that changed, hold the lot like any other pack.
#[test]
fn clauses_are_adopted_like_any_pack() {
    let pack = clauses("astm-a967", &requirements(&["subject: Ra, check: { at_most: [{ value: 99 µin }] }"]));
    let mut changed = with(MEETS, &pack);
    assert!(conforms(&judge(&changed)), "{:#?}", gaps(&judge(&changed)));
    *changed.packs.last_mut().unwrap() = rulebook::effective(&pack, "A", None).unwrap();
    assert_eq!(gaps(&judge(&changed)), ["house/adoption"]);
}
