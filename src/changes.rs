//! What changed between the checks of a lot: the values a report was once made from, against those that stand
//! now. Pure: the journal's lines in, changes and late entries out.
//!
//! A list of gaps tells exactly which value fails. Without a memory of it the shortest way to a pass would be to
//! type another value.

mod align;
mod line;
mod rows;

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use serde::Deserialize;
use serde::Serialize;
use serde_json::Value;

use crate::correction;
use crate::correction::Correction;
use crate::correction::NOTHING;
use crate::finding::Document;
use crate::moment::Date;
use crate::moment::Moment;

use align::Difference;

pub use line::Chain;
pub use line::Line;
pub use line::State;
pub use rows::Papers;
pub use rows::Row;
pub use rows::Rows;
pub use rows::document;

/// What the journal of a lot's checks says against its present papers.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Checks {
    /// Values that differ from what an earlier check saw.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub changes: Vec<Change>,
    /// Values that were not there at an earlier check, though what they tell had happened.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub late: Vec<Late>,
    /// Why the journal itself cannot be relied on.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub broken: Vec<String>,
}

/// A value that an earlier check saw otherwise.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Change {
    /// In which document.
    pub document: Document,
    /// Where, as a correction of it would write.
    pub at: String,
    /// What the check saw.
    pub was: String,
    /// What stands there now, or `nothing`.
    pub now: String,
    /// When the check was made.
    pub seen: Moment,
}

/// A value that an earlier check did not see.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Late {
    /// In which document.
    pub document: Document,
    /// Where.
    pub at: String,
    /// The value, or the block of values in words.
    pub value: String,
    /// The first check that did not see it.
    pub after: Moment,
}

/// A lot's papers now.
pub struct Present<'a> {
    /// The record as a tree.
    pub record: &'a Value,
    /// The rows of the other papers the lot rests on.
    pub rests_on: &'a Rows,
    /// The same papers whole, with the analyses and calibrations that were not in force.
    pub whole: &'a Rows,
    /// Every correction of the shop's book.
    pub corrections: &'a [Correction],
}

/// Holds every earlier check against the present papers.
pub fn compare(lines: &[Line], now: &Present) -> Checks {
    let mut checks = Checks::default();
    for line in lines {
        record_changes(line, now, &mut checks);
        row_changes(line, now, &mut checks);
        lost_corrections(line, now, &mut checks);
    }
    checks
}

impl Checks {
    /// The first check that saw a value counts; later ones that saw the same add nothing.
    fn change(&mut self, change: Change) {
        let known = |c: &Change| c.document == change.document && c.at == change.at && c.was == change.was;
        if !self.changes.iter().any(known) {
            self.changes.push(change);
        }
    }

    fn late(&mut self, late: Late) {
        if !self.late.iter().any(|l| l.document == late.document && l.at == late.at) {
            self.late.push(late);
        }
    }
}

/// A record without its corrections, which explain and are not explained.
fn told(record: &Value) -> Value {
    let mut record = record.clone();
    if let Some(members) = record.as_object_mut() {
        members.remove("corrections");
    }
    record
}

fn record_changes(line: &Line, now: &Present, checks: &mut Checks) {
    let document = Document::Record;
    let seen = line.at;
    for difference in align::differences(&told(&line.record), &told(now.record)) {
        match difference {
            Difference::Other { at, was, now } => checks.change(Change { document, at, was, now, seen }),
            Difference::Gone { at, was } => {
                checks.change(Change { document, at, was, now: NOTHING.to_owned(), seen });
            }
            Difference::New { at, value } => {
                let path = at.parse().unwrap_or_default();
                // What had not happened by then could not have been written down.
                let later = correction::happened(now.record, &path).is_some_and(|(_, end)| end >= seen);
                if !later {
                    checks.late(Late { document, at, value, after: seen });
                }
            }
        }
    }
}

fn row_changes(line: &Line, now: &Present, checks: &mut Checks) {
    let seen = line.at;
    for (at, was) in &line.rows {
        let document = rows::document(at);
        match now.whole.text(at) {
            Some(text) if text == was => {}
            Some(text) => {
                let (at, was, now) = (at.clone(), was.clone(), text.to_owned());
                checks.change(Change { document, at, was, now, seen });
            }
            // What the lot no longer names at all is explained by the change of the record that names another.
            None if now.whole.has_thing(at) => {
                checks.change(Change {
                    document,
                    at: at.clone(),
                    was: was.clone(),
                    now: NOTHING.to_owned(),
                    seen,
                });
            }
            None => {}
        }
    }
    let same_uses = instants(&line.record).is_subset(&instants(now.record));
    for row in now.rests_on.rows() {
        // What the lot did not name at all came with a change of the record, which is told there.
        let named = line.rows.keys().any(|at| rows::is_of(at, &row.thing));
        if line.rows.contains_key(&row.at) || !named || happened_after(&row.at, seen) {
            continue;
        }
        let document = rows::document(&row.at);
        let displaced = row.list.as_ref().is_some_and(|list| {
            line.rows.iter().any(|(at, text)| {
                at.starts_with(list.as_str())
                    && now.rests_on.text(at).is_none()
                    && now.whole.text(at) == Some(text.as_str())
            })
        });
        if displaced && same_uses {
            // Entered afterwards, and now in force instead of the row the check saw: somebody must say why.
            let (at, was, now) = (row.at.clone(), NOTHING.to_owned(), row.text.clone());
            checks.change(Change { document, at, was, now, seen });
        } else {
            checks.late(Late { document, at: row.at.clone(), value: row.text.clone(), after: seen });
        }
    }
}

/// Whether a row's own date lies after the check.
fn happened_after(at: &str, seen: Moment) -> bool {
    let key = rows::key(at);
    let instant = key.parse::<Moment>().is_ok_and(|at| at >= seen);
    instant || key.parse::<Date>().is_ok_and(|day| day >= seen.date())
}

/// Every instant a record names.
fn instants(value: &Value) -> BTreeSet<String> {
    let mut all = Vec::new();
    correction::leaves("", value, &mut all);
    all.into_iter().map(|(_, text)| text).filter(|text| text.parse::<Moment>().is_ok()).collect()
}

/// A correction stands for ever: one that is gone is a change nobody can explain, only put back.
fn lost_corrections(line: &Line, now: &Present, checks: &mut Checks) {
    let of_record: Vec<Correction> = line
        .record
        .get("corrections")
        .and_then(|all| serde_json::from_value(all.clone()).ok())
        .unwrap_or_default();
    let standing: Vec<Correction> = now
        .record
        .get("corrections")
        .and_then(|all| serde_json::from_value(all.clone()).ok())
        .unwrap_or_default();
    let pairs = [
        (Document::Record, of_record.as_slice(), standing.as_slice()),
        (Document::Corrections, line.corrections.as_slice(), now.corrections),
    ];
    for (document, before, after) in pairs {
        let mut left: BTreeMap<String, usize> = BTreeMap::new();
        for correction in after {
            *left.entry(said(correction)).or_default() += 1;
        }
        // One dated after the check that saw it was never true, and no certificate could be issued with it.
        for correction in before.iter().filter(|c| c.when <= line.at) {
            match left.get_mut(&said(correction)) {
                Some(count) if *count > 0 => *count -= 1,
                _ => checks.change(Change {
                    document,
                    at: "corrections".to_owned(),
                    was: said(correction),
                    now: NOTHING.to_owned(),
                    seen: line.at,
                }),
            }
        }
    }
}

/// A correction in words, without its place, which moves when a step is entered above it.
fn said(correction: &Correction) -> String {
    let Correction { at: _, was, now, by, when, why } = correction;
    format!("{was} became {now}, by {by}, {when}: {why}")
}

/// Whether corrections explain a change.
pub fn explained(change: &Change, of_record: &[Correction], of_book: &[Correction]) -> bool {
    let all = if change.document == Document::Record { of_record } else { of_book };
    correction::leads(all.iter(), &change.at, &change.was, &change.now)
}

#[cfg(test)]
mod tests;
