//! The comparison and the chain, on small records.

use super::*;
use serde_json::json;

fn moment(text: &str) -> Moment {
    text.parse().unwrap()
}

fn record(temperature: &str) -> Value {
    json!({ "lot": "L-1", "runs": [{ "run": "1", "steps": [
        { "passivate": { "bath": "N-2", "in": "2026-11-24T09:40-05:00", "temperature": temperature } },
    ]}]})
}

fn state(record: Value) -> State {
    State { lot: "L-1".to_owned(), record, rows: BTreeMap::new(), corrections: Vec::new() }
}

/// A journal of some states, an hour apart.
fn journal(states: &[State]) -> String {
    let mut text = String::new();
    for (hour, state) in states.iter().enumerate() {
        let at = moment(&format!("2026-11-25T{:02}:00-05:00", hour + 8));
        if let Some(line) = Chain::read(&text, "L-1").next(state, at, &["x/y, run 1".to_owned()]).unwrap() {
            text.push_str(&line);
            text.push('\n');
        }
    }
    text
}

fn compared(text: &str, now: &Value) -> Checks {
    let (none, chain) = (Rows::default(), Chain::read(text, "L-1"));
    assert_eq!(chain.broken, Vec::<String>::new());
    compare(&chain.lines, &Present { record: now, rests_on: &none, whole: &none, corrections: &[] })
}

fn said(checks: &Checks) -> Vec<String> {
    checks.changes.iter().map(|c| format!("{}: {} > {}", c.at, c.was, c.now)).collect()
}

const T: &str = "runs[0].steps[0].passivate.temperature";

#[test]
fn every_earlier_value_counts_and_each_once() {
    let text = journal(&["91 °F", "90 °F", "91 °F", "89 °F"].map(|t| state(record(t))));
    let found = compared(&text, &record("89 °F"));
    assert_eq!(said(&found), [format!("{T}: 91 °F > 89 °F"), format!("{T}: 90 °F > 89 °F")]);
    assert_eq!(found.changes[0].seen, moment("2026-11-25T08:00-05:00"));
    assert_eq!(found.late, []);
    // The same state twice in a row is one line.
    let once = journal(&[state(record("91 °F")), state(record("91 °F"))]);
    assert_eq!(once.lines().count(), 1);
    assert_eq!(said(&compared(&once, &record("91 °F"))), Vec::<String>::new());
}

#[test]
fn what_had_not_happened_is_not_late() {
    let text = journal(&[state(record("89 °F"))]);
    let mut now = record("89 °F");
    let steps = now["runs"][0]["steps"].as_array_mut().unwrap();
    steps.push(json!({ "rinse": { "at": "2026-11-24T09:50-05:00", "by": "Q" } }));
    steps.push(json!({ "dry": { "at": "2026-11-26T09:50-05:00", "by": "Q" } }));
    let late: Vec<String> = compared(&text, &now).late.into_iter().map(|l| l.at).collect();
    assert_eq!(late, ["runs[0].steps[1]"]);
}

#[test]
fn corrections_stand_for_ever() {
    let correction = json!({ "at": T, "was": "91 °F", "now": "89 °F", "by": "Q",
        "when": "2026-11-24T12:00-05:00", "why": "misread" });
    let mut before = record("89 °F");
    before["corrections"] = json!([correction]);
    let text = journal(&[state(before.clone())]);
    assert_eq!(said(&compared(&text, &before)), Vec::<String>::new());
    assert_eq!(compared(&text, &record("89 °F")).changes.len(), 1);
    // Moved with its step, it is the same.
    before["corrections"][0]["at"] = json!("runs[0].steps[1].passivate.temperature");
    assert_eq!(said(&compared(&text, &before)), Vec::<String>::new());
    before["corrections"][0]["by"] = json!("somebody else");
    assert_eq!(compared(&text, &before).changes.len(), 1);
}

#[test]
fn a_chain_shows_what_was_done_to_it() {
    let text = journal(&["91 °F", "90 °F", "89 °F"].map(|t| state(record(t))));
    let lines: Vec<&str> = text.lines().collect();
    let broken = |text: &str, lot: &str| Chain::read(text, lot).broken;
    assert_eq!(broken(&text, "L-1"), Vec::<String>::new());
    let without_second = format!("{}\n{}\n", lines[0], lines[2]);
    let attacks = [
        text.replacen("91 °F", "89 °F", 1),
        without_second,
        format!("{}\n{}\n", lines[1], lines[2]),
        text.replacen("\"gaps\":[\"x/y, run 1\"]", "\"gaps\":[]", 1),
        text.replacen("{\"at\"", "{ \"at\"", 1),
        text.replacen("}\n", "}\nx\n", 1),
        text.replacen("\"lot\":\"L-1\",\"previous\"", "\"lot\":\"L-2\",\"previous\"", 1),
    ];
    for attack in attacks {
        assert!(!broken(&attack, "L-1").is_empty(), "{attack}");
    }
    assert_eq!(broken(&text, "L-2").len(), 3);
    // A line cut short does not count; what was cut off whole at the end only the register can know.
    assert_eq!(Chain::read(&format!("{text}{{\"at\""), "L-1"), Chain::read(&text, "L-1"));
    assert_eq!(broken(&format!("{}\n", lines[0]), "L-1"), Vec::<String>::new());
}
