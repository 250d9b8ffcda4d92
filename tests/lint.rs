//! `rules check`: a sound pack has nothing said of it, and of one changed in a single place just that is said, at
//! that place. The changes are those a quality engineer makes by mistake.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test stops at the first surprise"
)]

mod cases;

use std::path::PathBuf;

use brightproof::alloy::Series;
use brightproof::app::builtin;
use brightproof::lint::Beside;
use brightproof::lint::Weight::Fault;
use brightproof::lint::Weight::Remark;
use brightproof::lint::lint;
use brightproof::pack::Form;
use brightproof::pack::Pack;
use brightproof::pack::Subject;
use brightproof::pack::form;
use brightproof::pack::is_house_only;
use brightproof::part::OrderOption;
use brightproof::part::PartCondition;
use brightproof::part::Use;
use brightproof::record::TestKind;
use brightproof::report::lints::Checked;
use brightproof::units::Unit;
use brightproof::yaml;

use cases::CASES;
use cases::Case;

/// An invented standard without a fault.
const SOUND: &str = r#"pack: own-9
designation: Own 9
also_written: [OWN9]
editions: ["A", "B"]
superseded_by: { A: B }
about: An invented standard.
test_pieces: 1
shop_chooses_tests: true
classes:
  - { class: "1", name: Class 1, clause: "1" }
  - { class: "2", name: Class 2, clause: "1" }
default_class: "2"
treatments:
  - { id: warm, name: Warm, clause: "2.1", step: passivate }
  - { id: cold, name: Cold, clause: "2.2", step: passivate }
tests:
  - { test: salt spray, name: fog, clause: "3.1" }
  - { test: copper sulfate, name: swab, clause: "3.2" }
requirements:
  - id: treatment.named
    clause: "2"
    basis: read
    subject: treatment
    check: { one_of: [Warm, Cold] }
    remedy: record it
  - id: warm.temperature
    clause: "2.1"
    basis: read
    when: { treatments: [warm], editions: ["B"] }
    subject: bath temperature
    check: { within: [{ from: 120 °F, to: 140 °F }, { from: 50 °C, to: 60 °C }] }
    remedy: re-treat
  - id: cold.temperature
    clause: "2.2"
    basis: recalled
    when: { treatments: [cold] }
    subject: bath temperature
    check: { within: [{ from: 70 °F, to: 90 °F }, { unit: °C, basis: unsure }] }
    remedy: re-treat
  - id: class-1.time
    clause: "2"
    basis: read
    when: { classes: ["1"] }
    subject: immersion time
    check: { at_least: [{ value: 30 min }] }
    remedy: re-treat
  - id: class-2.time
    clause: "2"
    basis: read
    when: { classes: ["2"] }
    subject: immersion time
    check: { at_least: [{ value: 20 min }] }
    remedy: re-treat
  - id: bath
    clause: "2"
    basis: read
    when: { series: [martensitic 400 series], free_machining: true, chromium_below: 13 wt% }
    subject: bath ingredients
    check: { only: [nitric acid, water] }
    remedy: re-treat
  - id: parts
    clause: "2"
    basis: read
    subject: condition of the part
    check: { none_of: [carburized] }
    remedy: ask the purchaser
  - id: tests.made
    clause: "3"
    basis: read
    when: { tests: [salt spray, copper sulfate] }
    subject: test
    check: present
    remedy: test it
  - id: tests.pieces
    clause: "3"
    basis: read
    when: { tests: [salt spray, copper sulfate] }
    subject: pieces tested
    check: { times_ordered: 1 }
    remedy: test it
  - id: tests.result
    clause: "3"
    basis: read
    when: { tests: [salt spray, copper sulfate] }
    subject: test result
    check: passed
    remedy: re-treat
  - id: swab.alloy
    clause: "3.2"
    basis: read
    when: { tests: [copper sulfate] }
    subject: alloy series
    check: { one_of: [300 series] }
    remedy: ask the purchaser
  - id: swab.chromium
    clause: "3.2"
    basis: read
    when: { tests: [copper sulfate] }
    subject: chromium
    check: { at_least: [{ value: 16 wt% }] }
    remedy: ask the purchaser
  - id: swab.use
    clause: "3.2"
    basis: read
    when: { tests: [copper sulfate] }
    subject: use of the part
    check: { one_of: [aerospace, general] }
    remedy: ask the purchaser
"#;

fn checked(text: &str) -> Checked {
    let pack: Pack = yaml::parse(text).unwrap_or_else(|fault| panic!("{fault}\n{text}"));
    let (packs, alloys) = (builtin::packs().unwrap(), builtin::alloys().unwrap());
    let lints = lint(&pack, Beside { packs: &packs, alloys: Some(&alloys) });
    Checked::of("own.yaml", text, &pack, &lints)
}

/// What is said, each as `weight line:column requirement field: found`.
fn said(text: &str) -> Vec<String> {
    let checked = checked(text);
    let each = [("fault", &checked.faults), ("remark", &checked.remarks)];
    let line = |weight: &str, told: &brightproof::report::lints::Told| {
        assert!(!told.expected.is_empty() && !told.mend.is_empty(), "{told:?}");
        let whose = told.requirement.as_deref().unwrap_or("-");
        format!("{weight} {}:{} {whose} {}: {}", told.line, told.column, told.field, told.found)
    };
    each.iter().flat_map(|(weight, all)| all.iter().map(|told| line(weight, told))).collect()
}

#[test]
fn a_sound_pack_has_nothing_said_of_it() {
    assert_eq!(said(SOUND), Vec::<String>::new());
    assert_eq!(checked(SOUND).to_string(), "own.yaml: 13 requirements, no fault, no remark");
}

/// Each mistake is said, at its requirement and field. Others may follow from it: a class taken away is missed.
#[test]
fn each_mistake_is_said_where_it_stands() {
    for Case { from, to, weight, requirement, field, found } in CASES {
        assert_eq!(SOUND.matches(from).count(), 1, "`{from}` does not stand once in the sound pack");
        let text = SOUND.replacen(from, to, 1);
        let all = said(&text);
        let word = if *weight == Fault { "fault" } else { "remark" };
        let this = |line: &&String| {
            let (head, tail) = line.split_once(": ").unwrap();
            let mut parts = head.splitn(4, ' ');
            let same = parts.next() == Some(word);
            let place = parts.next().unwrap();
            let whose = parts.next() == Some(requirement);
            let at = parts.next() == Some(field);
            same && whose && at && tail.contains(found) && place != "1:1"
        };
        let of_pack = *requirement == "-"
            && all.iter().any(|line| line.contains(&format!("- {field}: ")) && line.contains(found));
        assert!(all.iter().any(|line| this(&line)) || of_pack, "{to}: {all:#?}");
    }
}

/// The place is the line and column a person looks at.
#[test]
fn the_place_is_told() {
    let text = SOUND.replacen("{ value: 30 min }", "{ value: 30 °C }", 1);
    let line = 1 + SOUND.lines().position(|l| l.contains("30 min")).unwrap();
    let column = SOUND.lines().nth(line - 1).unwrap().find("30 min").unwrap() + 1;
    assert_eq!(said(&text), [format!("fault {line}:{column} class-1.time check.at_least[0].value: 30 °C")]);
    let words = checked(&text).to_string();
    let expected = format!(
        "own.yaml:{line}:{column}: fault: `class-1.time`, check.at_least[0].value\n  found: 30 °C; expected: a limit \
         on `immersion time`, which is measured in s, min, h, d\n  help: give the figure in one of these units, or \
         choose the subject that was meant\nown.yaml: 13 requirements, 1 fault, no remark"
    );
    assert_eq!(words, expected);
}

/// Demands on the treatments and tests of the pack it builds on are sound; without that pack they are not looked at.
#[test]
fn a_pack_may_speak_of_the_one_it_builds_on() {
    let text = "pack: invented-clauses\ndesignation: Invented Clauses\neditions: [\"1\"]\nabout: what an invented \
                purchaser asks beside the standard\nbuilds_on: astm-a967\nrequirements:\n  - { id: room.time, clause: \
                \"1\", basis: read, when: { treatments: [nitric-2] }, subject: immersion time, check: { at_least: [{ \
                value: 40 min }] }, remedy: re-treat }\n";
    assert_eq!(said(text), Vec::<String>::new());
    let wrong = text.replace("nitric-2", "nitric-22");
    assert!(
        said(&wrong)[0].contains("room.time when.treatments[0]: treatment `nitric-22`"),
        "{:?}",
        said(&wrong)
    );
    let pack: Pack = yaml::parse(&wrong).unwrap();
    assert_eq!(lint(&pack, Beside::default()), []);
}

/// No built-in pack has a fault; what may be meant is meant, and listed here with why.
#[test]
fn built_in_packs_are_without_fault() {
    let (packs, alloys) = (builtin::packs().unwrap(), builtin::alloys().unwrap());
    let mut remarks = Vec::new();
    for (pack, (file, _)) in packs.iter().zip(builtin::PACKS) {
        for found in lint(pack, Beside { packs: &packs, alloys: Some(&alloys) }) {
            assert_eq!(found.weight, Remark, "{file}: {found:#?}");
            remarks.push(format!("{}/{}: {}", pack.pack, found.requirement.unwrap_or_default(), found.found));
        }
    }
    let meant = [
        // The source of the salt spray's temperature gives degrees Celsius alone.
        "astm-a967/practice-c.temperature: a figure in metric units only",
        // Read that class 3 is tested at intervals; not read at which.
        "ams-2700/class-3.interval: what `class-3.periodic` demands already",
    ];
    assert_eq!(remarks, meant);
}

/// The page for quality engineers lists every subject with its evidence, and every word a condition may name.
#[test]
fn the_page_lists_what_a_pack_may_say() {
    let page = std::fs::read_to_string(project("rules/README.md")).unwrap();
    let mut missing = Vec::new();
    for subject in Subject::ALL.iter().copied() {
        let evidence = match form(subject) {
            Form::Figure(dimensions) => {
                let units = Unit::ALL.iter().filter(|u| dimensions.contains(&u.dimension()));
                units.map(|u| u.symbol()).collect::<Vec<_>>().join(", ")
            }
            Form::Words => "words".to_owned(),
            Form::Treatment => "the treatment".to_owned(),
            Form::Record => "on record".to_owned(),
            Form::Sample => "pieces failed".to_owned(),
            Form::Count => "pieces".to_owned(),
        };
        let row = match is_house_only(subject) {
            true => format!("`{}`", subject.name()),
            false => format!("| `{}` | {} | {evidence} |", subject.name(), subject.about()),
        };
        missing.extend((!page.contains(&row)).then_some(row));
    }
    let words = OrderOption::ALL.iter().map(|o| o.name()).chain(PartCondition::ALL.iter().map(|c| c.name()));
    let words = words.chain(Use::ALL.iter().map(|u| u.name())).chain(Series::ALL.iter().map(|s| s.name()));
    let words = words.chain(TestKind::ALL.iter().map(|t| t.name())).map(|word| format!("`{word}`"));
    missing.extend(words.filter(|word| !page.contains(word)));
    let files = builtin::PACKS.iter().map(|(file, _)| format!("`{}`", file.trim_start_matches("rules/")));
    missing.extend(files.filter(|file| !page.contains(file)));
    assert!(missing.is_empty(), "rules/README.md lacks:\n{}", missing.join("\n"));
}

fn project(file: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(file)
}
