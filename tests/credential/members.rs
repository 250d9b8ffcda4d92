//! The page's two tables against the certificates: what maps stands where the page says, and nothing is forgotten.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use brightproof::certificate::Certificate;
use brightproof::credential::Registered;
use brightproof::credential::document;
use brightproof::credential::named;
use brightproof::deviation::Act;
use brightproof::finding::Permission;
use brightproof::finding::Reason;
use brightproof::finding::Verdict;
use serde_json::Value;
use serde_json::json;

use super::PAGE;
use super::golden;
use super::pairs;
use crate::demo;
use crate::demo::Demo;

const FORM: &str = include_str!("../../docs/formats/certificate.md");

/// The first columns of the rows of a section's table, with the second.
fn table(page: &str, section: &str) -> Vec<(String, String)> {
    let text = page.split(&format!("\n## {section}\n")).nth(1).unwrap().split("\n## ").next().unwrap();
    let rows = text.lines().filter_map(|line| line.strip_prefix("| `"));
    rows.map(|row| {
        let (first, rest) = row.split_once("` | ").unwrap();
        (first.to_owned(), rest.split(" | ").next().unwrap().trim_matches('`').to_owned())
    })
    .collect()
}

/// Where a member of the page's second column stands, written out.
fn written_out(place: &str) -> String {
    let place = place.replacen("P.", "A.assessedProduct[].product.", usize::from(place.starts_with("P.")));
    place.replacen("A.", "credentialSubject.conformityAssessment[].", usize::from(place.starts_with("A.")))
}

/// Whatever stands at a path with `[]` for each item of a list.
fn at<'v>(value: &'v Value, path: &str) -> Vec<&'v Value> {
    let mut found = vec![value];
    for step in path.split('.') {
        let (name, listed) = match step.strip_suffix("[]") {
            Some(name) => (name, true),
            None => (step, false),
        };
        found = found.into_iter().filter_map(|one| one.get(name)).collect();
        if listed {
            found = found.into_iter().flat_map(|one| one.as_array().unwrap()).collect();
        }
    }
    found
}

/// Every member of a value, as the pages write them, with its ends: texts, numbers, yes and no.
fn walk<'v>(value: &'v Value, path: &str, ends: &mut BTreeMap<String, Vec<&'v Value>>) {
    match value {
        Value::Object(members) => {
            for (name, member) in members {
                let path = if path.is_empty() { name.clone() } else { format!("{path}.{name}") };
                ends.entry(path.clone()).or_default();
                walk(member, &path, ends);
            }
        }
        // A list of plain values is one member.
        Value::Array(items) => items.iter().for_each(|item| match item {
            Value::Object(_) => walk(item, &format!("{path}[]"), ends),
            _ => walk(item, path, ends),
        }),
        end => ends.entry(path.to_owned()).or_default().push(end),
    }
}

/// Whether a member, or one it lies in, is among those that do not map.
fn is_left<'s>(path: &'s str, left: &BTreeSet<&str>) -> bool {
    let above = |short: &'s str| short.rfind('.').map(|dot| short[..dot].trim_end_matches("[]"));
    std::iter::successors(Some(path), |short| above(short)).any(|short| left.contains(short))
}

#[test]
fn every_member_of_a_certificate_maps_or_is_said_not_to() {
    let (maps, left) = (table(PAGE, "What maps"), table(PAGE, "What does not map"));
    let maps: BTreeMap<&str, String> = maps.iter().map(|(m, to)| (m.as_str(), written_out(to))).collect();
    let left: BTreeSet<&str> = left.iter().map(|(member, _)| member.as_str()).collect();
    assert!(maps.len() >= 40 && left.len() >= 40, "{} {}", maps.len(), left.len());

    // What the certificates hold.
    let shop = golden("credential-members");
    let mut seen: BTreeSet<String> = BTreeSet::new();
    let mut all: Vec<Value> = pairs().values().map(|pair| pair.data.clone()).collect();
    for entry in std::fs::read_dir(shop.join("certificates")).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|e| e == "pdf") {
            all.push(super::data(&std::fs::read(path).unwrap()));
        }
    }
    for data in &all {
        let mut ends = BTreeMap::new();
        walk(data, "", &mut ends);
        for (member, values) in &ends {
            // An object or a list of objects is told by its members.
            let told = maps.contains_key(member.as_str()) || is_left(member, &left) || values.is_empty();
            let inner = format!("{member}.");
            let listed = format!("{member}[].");
            let has = ends.keys().any(|one| one.starts_with(&inner) || one.starts_with(&listed));
            let empty = maps.contains_key(member.as_str()) || is_left(member, &left) || has;
            assert!(told && empty, "the page does not say what becomes of {member}");
        }
        seen.extend(ends.into_keys());
    }
    for (member, _) in table(FORM, "Members") {
        let inner = format!("{member}.");
        let listed = format!("{member}[].");
        let has = seen.iter().any(|one| one.starts_with(&inner) || one.starts_with(&listed));
        let told = maps.contains_key(member.as_str()) || is_left(&member, &left) || has;
        assert!(told, "the page does not say what becomes of {member}");
    }
    // The tables name nothing that is not there, or not in the form.
    let source = include_str!("../../src/certificate.rs").to_owned()
        + include_str!("../../src/finding.rs")
        + include_str!("../../src/shop.rs");
    for member in maps.keys().chain(&left) {
        let last = member.rsplit(['.', ']']).next().unwrap();
        let field = source.contains(&format!("pub {last}: ")) || source.contains(&format!("\"{last}\""));
        assert!(seen.contains(*member) || field, "the page names {member}, which there is not");
    }
}

#[test]
fn what_maps_stands_where_the_page_says() {
    let maps = table(PAGE, "What maps");
    let mut found: BTreeSet<&str> = BTreeSet::new();
    for (number, pair) in pairs() {
        let mut ends = BTreeMap::new();
        walk(&pair.data, "", &mut ends);
        for (member, to) in &maps {
            let there: Vec<&Value> = at(&pair.credential, &written_out(to));
            for value in ends.get(member).into_iter().flatten() {
                let fits = |one: &&&Value| match (one, value) {
                    (Value::String(whole), Value::String(part)) => whole.contains(part.as_str()),
                    (Value::String(whole), other) => whole.contains(&other.to_string()),
                    (one, other) => *one == other,
                };
                let absent = |member: &str| {
                    // What is said of requirements that do not apply is left out with them.
                    member.starts_with("lots[].findings[].")
                        && pair.data["lots"]
                            .as_array()
                            .unwrap()
                            .iter()
                            .flat_map(|lot| lot["findings"].as_array().unwrap())
                            .filter(|one| one["verdict"] != "not applicable")
                            .all(|one| !one.to_string().contains(&value.to_string()))
                };
                let stands = there.iter().any(|one| fits(&one));
                assert!(stands || absent(member), "{number}: {member} {value} is not in {to}");
                found.insert(member);
            }
        }
    }
    // Each row was put to the test by some certificate, but for what none here has.
    let none: Vec<&str> = maps.iter().map(|(m, _)| m.as_str()).filter(|m| !found.contains(m)).collect();
    assert_eq!(none, ["lots[].covers_runs", "lots[].pieces_notes", "shipment.lines[].release"]);
}

/// What none of these certificates has: put into one, it stands where the page says.
#[test]
fn what_is_rare_maps_too() {
    let (_, bytes) = Demo::get().certificate(demo::SMALL_LOT);
    let mut certificate: Certificate = serde_json::from_value(super::data(bytes)).unwrap();
    let lot = &mut certificate.lots[0];
    lot.covers_runs = vec!["2".to_owned(), "3".to_owned()];
    lot.pieces_notes = vec!["run 1 stays in the shop".to_owned()];
    let accepted = |deviation: &str| {
        let permission =
            Permission { deviation: deviation.to_owned(), act: Act::Omit, instead: None, converted: false };
        (Verdict::Accepted, Some(Reason::Permitted(permission)))
    };
    (lot.findings[0].verdict, lot.findings[0].reason) = accepted("QI-DEV-900");
    (lot.findings[1].verdict, lot.findings[1].reason) = (Verdict::NotMet, Some(Reason::Outside));
    for (at, verdict) in [Verdict::NoEvidence, Verdict::Advice, Verdict::ReliedOn].into_iter().enumerate() {
        lot.findings[2 + at].verdict = verdict;
    }
    certificate.shipment.lines[0].release = Some("R-7".to_owned());
    certificate.shipment.lines[0].serials = vec!["S1".to_owned(), "S2".to_owned()];
    let registered = Registered {
        data: [1; 32],
        pdf: [2; 32],
        origin: "log.example".to_owned(),
        index: 4,
        entry: [3; 32],
    };
    let document = document(&certificate, &registered, &[5; 32]);
    let assessments = document["credentialSubject"]["conformityAssessment"].as_array().unwrap();
    let known = &assessments[0]["assessedProduct"][0]["product"]["characteristics"];
    assert_eq!(known["coversRuns"], json!(["2", "3"]));
    assert_eq!(known["notes"], json!(["run 1 stays in the shop"]));
    assert_eq!(known["shipped"][0]["release"], "R-7");
    assert_eq!(known["shipped"][0]["serials"], json!(["S1", "S2"]));
    let place = certificate.lots[0].findings[0].place_in_lot.as_str();
    assert_eq!(assessments[0]["specifiedCondition"], json!([place, "deviation QI-DEV-900"]));
    let told: Vec<(&Value, Option<&Value>)> = assessments
        .iter()
        .take(5)
        .map(|one| (&one["assessedPerformance"][0]["score"]["code"], one.get("conformance")))
        .collect();
    let no = json!(false);
    let codes = ["accepted", "not met", "no evidence", "advice", "relied on"].map(Value::from);
    let expected = [None, Some(&no), None, None, None];
    assert_eq!(told, codes.iter().zip(expected).collect::<Vec<_>>());
    let link = &document["credentialSubject"]["auditableEvidence"];
    assert_eq!(link["linkName"], "entry 4 of log.example");
    assert_eq!(link["linkURL"], named(&[3; 32]));
    assert_eq!(document["credentialSubject"]["conformityCertificate"]["linkURL"], named(&[2; 32]));
    assert_eq!(document["credentialSubject"]["id"], named(&[1; 32]));
    // The credential's own name follows issuer and stamp, and nothing else.
    let other = brightproof::credential::document(&certificate, &registered, &[6; 32]);
    assert_ne!(document["id"], other["id"]);
}

/// Which finding says what, in order: a value in the right column of the wrong row would mislead.
#[test]
fn assessments_are_the_findings_that_apply_in_their_order() {
    for (number, pair) in pairs() {
        let stamp = pair.credential["credentialSubject"]["id"].as_str().unwrap();
        let mut expected = Vec::new();
        for (lot_at, lot) in pair.data["lots"].as_array().unwrap().iter().enumerate() {
            for (at, finding) in lot["findings"].as_array().unwrap().iter().enumerate() {
                if finding["verdict"] == "not applicable" {
                    continue;
                }
                let conformance = match finding["verdict"].as_str().unwrap() {
                    "met" => Value::Bool(true),
                    "not met" => Value::Bool(false),
                    _ => Value::Null,
                };
                expected.push((
                    format!("{stamp}#/lots/{lot_at}/findings/{at}"),
                    lot["lot"].clone(),
                    finding["requirement"].clone(),
                    finding["limit"].clone(),
                    finding.get("observed").cloned().unwrap_or_default(),
                    finding["verdict"].clone(),
                    conformance,
                ));
                // What the id says is what stands there.
                let pointer = format!("/lots/{lot_at}/findings/{at}/requirement");
                assert_eq!(pair.data.pointer(&pointer), Some(&finding["requirement"]));
            }
        }
        let assessments = pair.credential["credentialSubject"]["conformityAssessment"].as_array().unwrap();
        let found: Vec<_> = assessments
            .iter()
            .map(|one| {
                (
                    one["id"].as_str().unwrap().to_owned(),
                    one["assessedProduct"][0]["product"]["batchNumber"].clone(),
                    one["assessmentCriteria"][0]["name"].clone(),
                    one["assessmentCriteria"][0]["description"].clone(),
                    one.get("description").cloned().unwrap_or_default(),
                    one["assessedPerformance"][0]["score"]["code"].clone(),
                    one.get("conformance").cloned().unwrap_or_default(),
                )
            })
            .collect();
        assert_eq!(found.len(), expected.len(), "{number}");
        for (found, expected) in found.iter().zip(&expected) {
            assert_eq!(found, expected, "{number}");
        }
    }
}
