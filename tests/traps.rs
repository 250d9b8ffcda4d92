//! Traps: lots that fall for a public table, a trade sheet or a sister standard, and what the judge must answer.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a trap that cannot be set fails the test"
)]

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use brightproof::adoption::Figures;
use brightproof::app::adopt;
use brightproof::app::adopt::Adopter;
use brightproof::app::adopt::Answer;
use brightproof::judge::judge;
use brightproof::pack::Basis;
use brightproof::pack::Pack;
use brightproof::pack::Requirement;
use brightproof::part::OrderOption;
use brightproof::record::TestKind;
use brightproof::rulebook;
use brightproof::rulebook::EffectivePack;

use crate::filled::Ask;
use crate::filled::Value;
use crate::filled::in_force;
use crate::filled::set;
use crate::filled::standards;
use crate::support::brief;
use crate::support::read;
use crate::support::set_grade;
use crate::support::table;

const TABLE: &str = include_str!("traps.csv");

fn list(text: &str) -> Vec<&str> {
    text.split(';').map(str::trim).filter(|item| !item.is_empty()).collect()
}

/// The pack as a shop has it whose copy leaves unread what nobody could read.
fn unread(pack: &Pack, edition: &str) -> EffectivePack {
    let adopter = Adopter { by: "M. Sorrel", on: read("2026-09-01"), copy: "invented copy" };
    let answer = |requirement: &Requirement| Answer {
        figures: if requirement.basis == Basis::Unsure { Figures::Unsure } else { Figures::Confirmed },
        check: None,
        note: None,
    };
    let adoption = adopt::adopt(pack, edition, &adopter, |r| Ok(answer(r))).unwrap();
    rulebook::effective(pack, edition, Some(&adoption)).unwrap()
}

fn value(text: &str) -> Value {
    match text.strip_suffix(" failed") {
        Some(failed) => Value::Failed(read(failed)),
        None if text.starts_with(|c: char| c.is_ascii_digit()) || text.starts_with("pH") => {
            Value::Quantity(read(text))
        }
        None => Value::Words(vec![text.to_owned()]),
    }
}

/// The subjects on which a row's lot has gaps under the standard, and the findings in words.
fn gaps(row: &BTreeMap<String, String>) -> (BTreeSet<String>, Vec<String>) {
    let standard = &row["standard"];
    let pack =
        standards().find(|p| p.edition_named(standard).is_some()).unwrap_or_else(|| panic!("{standard}"));
    let edition = pack.edition_named(standard).unwrap();
    let some = |text: &String| (!text.is_empty()).then(|| text.clone());
    let kind =
        |name: &str| *TestKind::ALL.iter().find(|t| t.name() == name).unwrap_or_else(|| panic!("{name}"));
    let option =
        |name: &str| *OrderOption::ALL.iter().find(|o| o.name() == name).unwrap_or_else(|| panic!("{name}"));
    let ask = Ask {
        edition: edition.clone(),
        treatment: some(&row["treatment"]),
        class: some(&row["class"]).or(pack.default_class.clone()),
        tests: list(&row["tests"]).into_iter().map(kind).collect(),
        options: list(&row["options"]).into_iter().map(option).collect(),
        grade: row["grade"].clone(),
        used_for: serde_json::from_value(row["used_for"].clone().into()).unwrap(),
        ..Ask::of(pack)
    };
    let mut dossier = ask.lot();
    // What was put in to make it conform is taken back: grade and use are what the row says.
    set_grade(&mut dossier, &ask.grade);
    dossier.record.material.heats.iter_mut().for_each(|h| h.chemistry.clear());
    dossier.part.used_for = Some(ask.used_for);
    dossier.part.calls_for[0].class = ask.class.clone();
    for put in list(&row["puts"]) {
        let (subject, text) = put.split_once('=').unwrap_or_else(|| panic!("{put}"));
        let mut requirement = pack.requirements[0].clone();
        requirement.subject =
            serde_json::from_value(subject.trim().into()).unwrap_or_else(|_| panic!("{subject}"));
        set(&mut dossier, &requirement, &ask.tests, &value(text.trim()));
    }
    let effective = match row["figures"].as_str() {
        "known" => in_force(pack, &edition),
        "unread" => unread(pack, &edition),
        other => panic!("figures `{other}`"),
    };
    let place = dossier.packs.iter().position(|p| !p.pack.is_house()).unwrap();
    dossier.packs[place] = effective;
    let findings = judge(&dossier);
    let subject = |id: &str| {
        let own = pack.requirements.iter().find(|r| format!("{}/{}", pack.pack, r.id) == id)?;
        Some(own.subject.name().to_owned())
    };
    let held: Vec<_> = findings.iter().filter(|f| f.is_gap()).collect();
    // The treatment itself may not suit the grade; the rows are about one thing each.
    (held.iter().filter_map(|f| subject(&f.requirement)).collect(), held.iter().map(|f| brief(f)).collect())
}

#[test]
fn nobody_falls_in() {
    let mut fallen = Vec::new();
    let rows = table(TABLE);
    for row in &rows {
        let (found, told) = gaps(row);
        let wanted: BTreeSet<String> =
            list(&row["gaps"]).into_iter().filter(|g| *g != "none").map(str::to_owned).collect();
        if found != wanted {
            fallen.push(format!("{}: {found:?}, not {wanted:?}: {told:#?}", row["trap"]));
        }
    }
    assert!(fallen.is_empty(), "{} of {}:\n{}", fallen.len(), rows.len(), fallen.join("\n"));
    assert!(rows.len() >= 80, "{}", rows.len());
}
