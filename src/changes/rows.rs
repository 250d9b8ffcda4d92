//! The papers beside the record, row by row: `baths.N-2.analyses.2026-11-02T06:12-05:00` and what it says.
//!
//! Rows are named by what they are and when, never by their place in a list, so that the next analysis moves
//! none of the earlier ones. A row is explained whole: an analysis, a calibration, a batch, a call-out.

use std::collections::BTreeMap;

use serde::Serialize;
use serde_json::Value;

use crate::correction::text;
use crate::evidence::HeldFile;
use crate::finding::Document;
use crate::load::Load;
use crate::load::TestReport;
use crate::order::Order;
use crate::part::PartSpecification;
use crate::periodic::PeriodicTest;
use crate::shop::Bath;
use crate::shop::Instrument;
use crate::shop::Solution;

/// One row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// Its name, as a correction of it would write.
    pub at: String,
    /// What it says.
    pub text: String,
    /// The bath, instrument, batch, part or order it is of: `baths.N-2`.
    pub thing: String,
    /// The list it stands in, up to its own key: `baths.N-2.analyses.`
    pub list: Option<String>,
}

/// Rows by name.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Rows(BTreeMap<String, Row>);

/// Papers as rows.
pub struct Papers<'a> {
    /// Baths.
    pub baths: &'a [Bath],
    /// Instruments.
    pub instruments: &'a [Instrument],
    /// Test solutions.
    pub solutions: &'a [Solution],
    /// The part specification.
    pub part: &'a PartSpecification,
    /// The order, with the lot's line only.
    pub order: &'a Order,
    /// Loads, with the lot's own lines only.
    pub loads: &'a [Load],
    /// Test reports, with the lot's own lines only.
    pub reports: &'a [TestReport],
    /// Files others' papers lie in.
    pub files: &'a [HeldFile],
    /// Periodic tests.
    pub periodic: &'a [PeriodicTest],
}

/// The separator between a thing and what stands under it; no id written in a shop's book is likely to hold it.
const UNDER: char = '.';

impl Rows {
    /// The rows of some papers.
    pub fn of(papers: &Papers) -> Rows {
        let mut rows = Rows::default();
        for bath in papers.baths {
            rows.thing(format!("baths.{}", bath.bath), "bath", bath);
        }
        for instrument in papers.instruments {
            rows.thing(format!("instruments.{}", instrument.instrument), "instrument", instrument);
        }
        for solution in papers.solutions {
            rows.thing(format!("solutions.{}", solution.solution), "solution", solution);
        }
        let part = papers.part;
        rows.thing(format!("parts.{} {}", part.part, part.revision), "part", part);
        rows.thing(format!("orders.{}", papers.order.order), "order", papers.order);
        for load in papers.loads {
            rows.thing(format!("loads.{}", load.load), "load", load);
        }
        for report in papers.reports {
            // The other lots are looked up anew each time; their own records answer for what changes there.
            let own = TestReport { others: Vec::new(), ..report.clone() };
            rows.thing(format!("reports.{}", report.report), "report", &own);
        }
        for file in papers.files {
            rows.thing(format!("files.{}", file.path), "path", file);
        }
        for test in papers.periodic {
            rows.thing(format!("periodic.{}", test.periodic), "periodic", test);
        }
        rows
    }

    fn thing<T: Serialize>(&mut self, thing: String, id: &str, value: &T) {
        // Plain data always has a tree; were it not so the row would be missing, and missing is a change.
        let Ok(Value::Object(members)) = serde_json::to_value(value) else { return };
        for (key, member) in members.iter().filter(|(key, _)| *key != id) {
            self.member(&thing, &format!("{thing}{UNDER}{key}"), member);
        }
    }

    fn member(&mut self, thing: &str, at: &str, value: &Value) {
        match value {
            Value::Object(members) => {
                for (key, member) in members {
                    self.member(thing, &format!("{at}{UNDER}{key}"), member);
                }
            }
            Value::Array(items) if items.iter().any(Value::is_object) => {
                let list = format!("{at}{UNDER}");
                for (index, item) in items.iter().enumerate() {
                    let own = name(item).unwrap_or_else(|| index.to_string());
                    self.add(thing, &format!("{list}{own}"), item, Some(list.clone()));
                }
            }
            other => self.add(thing, at, other, None),
        }
    }

    fn add(&mut self, thing: &str, at: &str, value: &Value, list: Option<String>) {
        let mut name = at.to_owned();
        let mut turn = 1_u64;
        while self.0.contains_key(&name) {
            turn = turn.saturating_add(1);
            name = format!("{at}#{turn}");
        }
        let row = Row { at: name.clone(), text: text(value), thing: thing.to_owned(), list };
        self.0.insert(name, row);
    }

    /// Every row, by name.
    pub fn rows(&self) -> impl Iterator<Item = &Row> {
        self.0.values()
    }

    /// What a row says.
    pub fn text(&self, at: &str) -> Option<&str> {
        self.0.get(at).map(|row| row.text.as_str())
    }

    /// Whether anything is left of the bath, instrument, batch, part or order a row was of.
    pub fn has_thing(&self, at: &str) -> bool {
        self.0.values().any(|row| is_of(at, &row.thing))
    }

    /// Names and texts, as the journal keeps them.
    pub fn texts(&self) -> BTreeMap<String, String> {
        self.0.iter().map(|(at, row)| (at.clone(), row.text.clone())).collect()
    }
}

/// Whether a row is of this bath, instrument, batch, part or order.
pub fn is_of(at: &str, thing: &str) -> bool {
    at.strip_prefix(thing).is_some_and(|rest| rest.starts_with(UNDER))
}

/// The document a row stands in.
pub fn document(at: &str) -> Document {
    match at.split(UNDER).next() {
        Some("baths") => Document::Baths,
        Some("instruments") => Document::Instruments,
        Some("solutions") => Document::Solutions,
        Some("parts") => Document::Part,
        Some("loads") => Document::Load,
        Some("reports") => Document::Report,
        Some("files") => Document::Files,
        Some("periodic") => Document::Periodic,
        _ => Document::Order,
    }
}

/// A row's own key: the instant or day of an analysis or a calibration.
pub fn key(at: &str) -> &str {
    let key = at.rsplit(UNDER).next().unwrap_or(at);
    key.split('#').next().unwrap_or(key)
}

/// What an item of a list is called, by what tells it from its neighbours.
fn name(item: &Value) -> Option<String> {
    ["at", "on", "line", "standard", "limit"].iter().find_map(|key| item.get(key).map(text))
}
