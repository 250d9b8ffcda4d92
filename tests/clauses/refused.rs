//! Clauses that would loosen, and what the program says to do instead.

use std::collections::BTreeMap;

use brightproof::adoption::Adoption;
use brightproof::app::adopt;
use brightproof::app::adopt::Adopter;
use brightproof::app::adopt::Answer;
use brightproof::app::book;
use brightproof::folder::Folder;
use brightproof::lint;
use brightproof::pack::Pack;
use brightproof::rulebook::loosened;

use super::clauses;
use super::requirements;
use crate::demo;
use crate::support::book as shop;
use crate::support::read;

fn base(id: &str) -> &'static Pack {
    shop().packs.iter().find(|p| p.pack == id).unwrap()
}

fn said(base_id: &str, rest: &str) -> Vec<String> {
    let pack = clauses(base_id, &requirements(&[rest]));
    loosened(&pack, base(base_id)).iter().map(ToString::to_string).collect()
}

#[test]
fn loosening_is_refused_in_each_form() {
    let nitric = "when: { treatments: [nitric-2] }, subject: ";
    for (name, rest, why, by) in [
        (
            "a lower end",
            format!("{nitric}bath temperature, check: {{ within: [{{ from: 69 °F, to: 85 °F }}] }}"),
            "goes below",
            "nitric-2.temperature",
        ),
        (
            "an upper end",
            format!("{nitric}bath temperature, check: {{ within: [{{ from: 75 °F, to: 91 °F }}] }}"),
            "goes beyond",
            "nitric-2.temperature",
        ),
        (
            "in the other unit system",
            format!("{nitric}bath temperature, check: {{ within: [{{ from: 24 °C, to: 31 °C }}] }}"),
            "goes beyond",
            "nitric-2.temperature",
        ),
        (
            "one end of the window",
            format!("{nitric}bath temperature, check: {{ at_most: [{{ value: 95 °F }}] }}"),
            "goes beyond",
            "nitric-2.temperature",
        ),
        (
            "a shorter time",
            format!("{nitric}immersion time, check: {{ at_least: [{{ value: 29 min }}] }}"),
            "goes below",
            "nitric-2.time",
        ),
        (
            "a shorter time in hours",
            format!("{nitric}immersion time, check: {{ at_least: [{{ value: 0.4 h }}] }}"),
            "goes below",
            "nitric-2.time",
        ),
        (
            "more solids",
            "subject: final rinse total solids, check: { at_most: [{ value: 300 ppm }] }".to_owned(),
            "goes beyond",
            "nitric.final-rinse-solids",
        ),
        (
            "windows apart",
            format!("{nitric}bath temperature, check: {{ at_least: [{{ value: 92 °F }}] }}"),
            "cannot be met together with",
            "nitric-2.temperature",
        ),
        (
            "a further ingredient",
            format!("{nitric}bath ingredients, check: {{ only: [nitric acid, water, inhibitor] }}"),
            "allows words",
            "nitric-2.ingredients",
        ),
        (
            "a further word",
            "when: { tests: [water immersion] }, subject: test water, check: { one_of: [distilled, tap] }"
                .to_owned(),
            "allows words",
            "practice-a.water",
        ),
        (
            "only that something is recorded",
            "when: { tests: [water immersion] }, subject: test result, check: present".to_owned(),
            "asks less than",
            "practice-a.result",
        ),
        ("any look at all", "subject: visual, check: present".to_owned(), "asks less than", "finish.clean"),
        (
            "fewer pieces",
            "when: { tests: [water immersion] }, subject: pieces retested, check: { times_ordered: 1 }"
                .to_owned(),
            "asks less than",
            "retest.pieces",
        ),
        (
            "another form",
            format!("{nitric}bath temperature, check: {{ one_of: [warm] }}"),
            "has another form than",
            "nitric-2.temperature",
        ),
        (
            "advice of a demand",
            "subject: visual, check: passed, advice: true".to_owned(),
            "makes advice of",
            "finish.clean",
        ),
        (
            "without saying for which treatment",
            "subject: immersion time, check: { at_least: [{ value: 20 min }] }".to_owned(),
            "goes below",
            "nitric-2.time",
        ),
    ] {
        let found = said("astm-a967", &rest);
        let expected = format!(" {why}");
        let named = format!("`astm-a967/{by}`");
        let first = found.iter().find(|f| f.contains(&named)).unwrap_or_else(|| panic!("{name}: {found:#?}"));
        assert!(first.contains(&expected) && first.contains("a deviation"), "{name}: {first}");
        let pack = clauses("astm-a967", &requirements(&[&rest]));
        assert!(!pack_faults(&pack, &shop().packs).is_empty(), "{name}");
    }
    let limit =
        said("astm-a967", &format!("{nitric}immersion time, check: {{ at_least: [{{ value: 10 min }}] }}"));
    assert!(limit[0].contains("at least 30 min") && limit[0].contains("6.1.1.2"), "{limit:?}");
}

/// What `rules check` finds wrong with a pack, each in a line.
fn pack_faults(pack: &Pack, packs: &[Pack]) -> Vec<String> {
    let lints = lint::lint(pack, lint::Beside { packs, alloys: None });
    let faults = lints.iter().filter(|l| l.weight == lint::Weight::Fault);
    // Advice alone holds nothing up; whether it may stand alone is not what these tests ask.
    let faults = faults.filter(|l| l.found != "nothing but advice");
    faults.map(|l| format!("{}; {}; {}", l.found, l.expected, l.mend)).collect()
}

#[test]
fn tightening_and_adding_is_not() {
    for rest in [
        "when: { treatments: [nitric-2] }, subject: bath temperature, check: { within: [{ from: 70 °F, to: 90 °F }] }",
        "when: { treatments: [nitric-2] }, subject: bath temperature, check: { at_most: [{ value: 85 °F }] }",
        "when: { treatments: [nitric-2] }, subject: immersion time, check: { at_least: [{ value: 0.5 h }] }",
        "when: { treatments: [nitric-2] }, subject: bath temperature, check: { at_most: [{ value: 99 °F }] }, advice: true",
        "when: { treatments: [nitric-2] }, subject: bath ingredients, check: { none_of: [sodium dichromate] }",
        "when: { tests: [salt spray] }, subject: test duration, check: { at_least: [{ value: 24 h }] }",
        "when: { tests: [water immersion] }, subject: pieces tested, check: { times_ordered: 3 }",
        "when: { tests: [water immersion] }, subject: pieces tested, check: { at_least: [{ value: 2 pieces }] }",
        "subject: Ra, check: { at_most: [{ value: 16 µin }] }",
        "subject: light on the surface, check: { at_least: [{ value: 1000 lx }] }",
        "subject: test ordered, check: { none_of: [copper sulfate] }",
    ] {
        assert_eq!(said("astm-a967", rest), Vec::<String>::new(), "{rest}");
        let pack = clauses("astm-a967", &requirements(&[rest]));
        assert_eq!(pack_faults(&pack, &shop().packs), Vec::<String>::new(), "{rest}");
    }
    let own = shop().packs.iter().find(|p| p.pack == "halyard-hps-14").unwrap();
    assert_eq!(pack_faults(own, &shop().packs), Vec::<String>::new());
}

#[test]
fn what_a_pack_of_clauses_may_not_say() {
    let faults = |base: &str, rest: &str| pack_faults(&clauses(base, rest), &shop().packs).join("\n");
    let none = "requirements: []\n";
    for (base, rest, expected) in [
        ("astm-a900", none.to_owned(), "the pack `astm-a900`"),
        ("house", none.to_owned(), "the pack `house`"),
        ("halyard-hps-14", none.to_owned(), "which builds on another itself"),
        (
            "astm-a967",
            format!("chooses_tests: [{{ test: XPS, clause: \"1\" }}]\n{none}"),
            "no test of `astm-a967`",
        ),
        (
            "astm-a967",
            format!("chooses_class: {{ class: \"2\", clause: \"1\" }}\n{none}"),
            "no class of `astm-a967`",
        ),
        (
            "astm-a967",
            format!("chooses_options: [{{ option: hydrogen relief, clause: \"1\" }}]\n{none}"),
            "does not leave open",
        ),
        ("astm-a967", format!("also_written: [A967]\n{none}"), "a name of its own"),
        (
            "astm-a967",
            format!("treatments: [{{ id: own, name: Own, clause: \"1\", step: passivate }}]\n{none}"),
            "leave out its own",
        ),
        (
            "astm-a967",
            requirements(&["when: { treatments: [nitric-9] }, subject: visual, check: passed"]),
            "`nitric-9`",
        ),
        ("astm-b912", requirements(&["when: { tests: [XPS] }, subject: test result, check: passed"]), "XPS"),
    ] {
        let found = faults(base, &rest);
        assert!(found.contains(expected), "{expected}: {found}");
    }
    let alone = "pack: a\ndesignation: A\neditions: [\"1\"]\nabout: a\nchooses_tests: [{ test: salt spray, clause: \"1\" }]\nrequirements: []\n";
    let alone: Pack = brightproof::yaml::parse(alone).unwrap();
    assert!(pack_faults(&alone, &shop().packs).join("").contains("names none with `builds_on:`"));
}

fn adopt_with(pack: &Pack, answers: &BTreeMap<String, Answer>) -> Adoption {
    let adopter = Adopter { by: "M. Sorrel", on: read("2026-09-01"), copy: "invented copy" };
    let confirmed = Answer { figures: brightproof::adoption::Figures::Confirmed, check: None, note: None };
    adopt::adopt(pack, "A", &adopter, |r| Ok(answers.get(&r.id).unwrap_or(&confirmed).clone())).unwrap()
}

/// What would loosen is not taken into use either, whether it stands in the pack or is entered with it.
#[test]
fn adoption_refuses_it() {
    let with = |rest: &str| {
        let pack = clauses("astm-a967", &requirements(&[rest]));
        let mut packs = shop().packs.clone();
        packs.push(pack.clone());
        (pack, packs)
    };
    let (loose, packs) = with("subject: immersion time, check: { at_least: [{ value: 5 min }] }");
    let told =
        adopt::loosens_nothing(&packs, &[], &adopt_with(&loose, &BTreeMap::new())).unwrap_err().to_string();
    assert!(told.contains("astm-a967/") && told.contains("deviations/"), "{told}");

    let text =
        "when: { treatments: [nitric-2] }, subject: immersion time, check: { at_least: [{ value: 40 min }] }";
    let (mut recalled, _) = with(text);
    recalled.requirements[0].basis = brightproof::pack::Basis::Recalled;
    let mut packs = shop().packs.clone();
    packs.push(recalled.clone());
    adopt::loosens_nothing(&packs, &[], &adopt_with(&recalled, &BTreeMap::new())).unwrap();
    let own: BTreeMap<String, Answer> =
        brightproof::yaml::parse("r: { figures: own, check: { at_least: [{ value: 25 min }] } }").unwrap();
    let told = adopt::loosens_nothing(&packs, &[], &adopt_with(&recalled, &own)).unwrap_err().to_string();
    assert!(told.contains("`astm-a967/nitric-2.time`"), "{told}");
}

/// The house, and a standard that ships with the program, are not replaced by a purchaser's clauses.
#[test]
fn clauses_take_nobodys_place() {
    let folder = demo::fresh("clauses-places");
    std::fs::create_dir_all(folder.join("rules")).unwrap();
    let own = |id: &str, rest: &str| {
        let text = format!(
            "pack: {id}\ndesignation: Invented PC 1\neditions: [A]\nabout: invented\n{rest}requirements: []\n"
        );
        std::fs::write(folder.join("rules/own.yaml"), text).unwrap();
        book::packs(&Folder::new(&folder)).map_err(|e| e.to_string())
    };
    assert!(own("house", "").unwrap_err().contains("part of the tool"));
    assert!(own("house", "builds_on: astm-a967\n").unwrap_err().contains("part of the tool"));
    assert!(own("astm-a967", "builds_on: astm-a967\n").unwrap_err().contains("cannot take the place"));
    assert!(own("pc-1", "builds_on: astm-a967\n").is_ok());
}
