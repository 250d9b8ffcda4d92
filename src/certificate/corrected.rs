//! Corrections and late entries as a certificate prints them: what stood there first stays readable.

use serde::Deserialize;
use serde::Serialize;
use serde_json::Value;

use crate::certificate::withheld;
use crate::correction;
use crate::correction::Correction;
use crate::correction::NOTHING;
use crate::finding::Document;
use crate::judge::Dossier;
use crate::path::Path;
use crate::path::Segment;
use crate::record::Record;

/// A correction, as printed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PrintedCorrection {
    /// Of what.
    pub what: String,
    /// What was written first.
    pub was: String,
    /// What is written now.
    pub now: String,
    /// Who changed it.
    pub by: String,
    /// When.
    pub when: String,
    /// Why.
    pub why: String,
    /// Whether it was entered only after the day it speaks of.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub late: bool,
}

/// A value an earlier check did not see, as printed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PrintedLate {
    /// Of what.
    pub what: String,
    /// The value.
    pub value: String,
    /// The first check that did not see it.
    pub after: String,
}

/// So many values of one entry are spelled out; a test or a run is printed in its own table anyway.
const MOST_VALUES: usize = 4;

/// Every correction of the record and of the rows it rests on.
pub fn corrections(dossier: &Dossier) -> Vec<PrintedCorrection> {
    let record = &dossier.record;
    let tree = serde_json::to_value(record).unwrap_or(Value::Null);
    let shown = |own: bool, at: &str, value: &str| match withheld::hidden_value(dossier, own, at) {
        true if value != NOTHING => withheld::WITHHELD.to_owned(),
        _ => value.to_owned(),
    };
    let printed = |own: bool, c: &Correction, what: String, late: bool| PrintedCorrection {
        what,
        was: shown(own, &c.at, &c.was),
        now: shown(own, &c.at, &c.now),
        by: c.by.clone(),
        when: c.when.to_string(),
        why: c.why.clone(),
        late,
    };
    let own = record.corrections.iter();
    let own = own.map(|c| printed(true, c, in_record(record, &c.at), correction::is_late(&tree, c)));
    let book = dossier.corrections.iter().map(|c| printed(false, c, in_book(&c.at), c.was == NOTHING));
    own.chain(book).collect()
}

/// Every value an earlier check did not see, and of which no correction tells.
pub fn entered_late(dossier: &Dossier) -> Vec<PrintedLate> {
    let record = &dossier.record;
    let all = dossier.checks.iter().flat_map(|c| &c.late);
    let told = |at: &str| {
        record.corrections.iter().chain(&dossier.corrections).any(|c| c.at == at && c.was == NOTHING)
    };
    all.filter(|late| !told(&late.at))
        .map(|late| {
            let own = late.document == Document::Record;
            let values = late.value.split("; ").count();
            PrintedLate {
                what: if own { in_record(record, &late.at) } else { in_book(&late.at) },
                value: if withheld::hidden_value(dossier, own, &late.at) {
                    withheld::WITHHELD.to_owned()
                } else if own && values > MOST_VALUES {
                    format!("an entry of {values} values")
                } else {
                    late.value.clone()
                },
                after: late.after.to_string(),
            }
        })
        .collect()
}

/// A place of the record in words: `run 1, passivate, temperature`.
pub fn in_record(record: &Record, at: &str) -> String {
    let path: Path = at.parse().unwrap_or_default();
    let mut words: Vec<String> = Vec::new();
    for segment in path.segments() {
        match segment {
            Segment::Key(key) if key == "steps" => {}
            Segment::Key(key) => words.push(key.replace('_', " ")),
            Segment::Index(index) => {
                let number = index.saturating_add(1);
                let named = match words.last().map(String::as_str) {
                    Some("runs") => record.runs.get(*index).map(|r| format!("run {}", r.run)),
                    Some("tests") => record.tests.get(*index).map(|t| t.test.name().to_owned()),
                    Some("measurements") => record.measurements.get(*index).map(|m| m.what.name().to_owned()),
                    // A step is told by its own key, which follows; alone, by its turn.
                    Some(run) if run.starts_with("run ") && path.segments().last() == Some(segment) => {
                        words.push(format!("step {number}"));
                        None
                    }
                    Some(run) if run.starts_with("run ") => None,
                    Some(list) => Some(format!("{list} {number}")),
                    None => None,
                };
                if let (Some(named), Some(last)) = (named, words.last_mut()) {
                    *last = named;
                }
            }
        }
    }
    words.join(", ")
}

/// A row of the book in words: `bath N-2, analyses, 2026-11-02T06:12-05:00`.
fn in_book(at: &str) -> String {
    let mut parts = at.splitn(4, '.');
    let (list, id) = (parts.next().unwrap_or_default(), parts.next().unwrap_or_default());
    let thing = list.strip_suffix('s').unwrap_or(list);
    let mut words = vec![format!("{thing} {id}")];
    words.extend(parts.map(|part| part.replace('_', " ")));
    words.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_in_words() {
        let record: Record = crate::yaml::parse(
            "{ lot: L, order: { number: O, line: '1' }, material: { grade: 316L }, counts: { received: 1, accepted: 1 },\n\
               runs: [{ run: rack B, pieces: 1, steps: [{ dry: { by: Q } }] }] }",
        )
        .unwrap();
        for (at, words) in [
            ("runs[0].steps[1].passivate.temperature_out", "run rack B, passivate, temperature out"),
            ("runs[0].steps[0]", "run rack B, step 1"),
            ("runs[0].steps", "run rack B"),
            ("material.heats[1].heat", "material, heats 2, heat"),
            ("serials[0]", "serials 1"),
            ("counts.rejected", "counts, rejected"),
        ] {
            assert_eq!(in_record(&record, at), words);
        }
        assert_eq!(in_book("baths.N-2.analysis_good_for"), "bath N-2, analysis good for");
        assert_eq!(in_book("solutions.CS-1.mixed"), "solution CS-1, mixed");
    }
}
