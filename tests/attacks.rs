//! Dossiers a careless or dishonest shop could write. Each must be held: by a fault of the document, or by the
//! very gap it earns, never by a lucky other one.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test stops at the first surprise"
)]

mod day;
mod papers;
mod records;
mod shop;

use brightproof::record::Immersion;
use brightproof::record::Record;
use brightproof::record::Rinse;
use brightproof::record::Step;

use crate::support::Came;
use crate::support::each_time;
use crate::support::immersion;
use crate::support::later;

/// What must be among the gaps: the beginning of each, as [`Came::gaps`] writes them.
fn expect(name: &str, came: &Came, expected: &[&str]) -> Option<String> {
    let gaps = came.gaps();
    if !came.held() {
        return Some(format!("{name}: PASSES"));
    }
    let missing: Vec<&&str> = expected.iter().filter(|e| !gaps.iter().any(|g| g.starts_with(**e))).collect();
    (!missing.is_empty()).then(|| format!("{name}: held, but not by {missing:?}: {gaps:#?}"))
}

fn none_slips(failures: Vec<String>) {
    assert!(failures.is_empty(), "{} attacks slip through:\n{}", failures.len(), failures.join("\n"));
}

/// A step as a record writes it.
fn step(text: &str) -> Step {
    brightproof::yaml::parse(text).unwrap()
}

/// The steps of a run.
fn steps(record: &mut Record, run: usize) -> &mut Vec<Step> {
    &mut record.runs[run].steps
}

/// The first step of this key in a run.
fn bath<'a>(record: &'a mut Record, run: usize, key: &str) -> &'a mut Immersion {
    let step = steps(record, run).iter_mut().find(|s| s.key() == key);
    immersion(step.unwrap()).unwrap()
}

/// The rinses of a run marked final.
fn finals(record: &mut Record, run: usize) -> Vec<&mut Rinse> {
    let mut all = Vec::new();
    for step in steps(record, run) {
        match step {
            Step::Rinse(rinse) if rinse.last => all.push(rinse),
            _ => {}
        }
    }
    all
}

/// Moves everything that happened to a run by so many minutes.
fn shift(record: &mut Record, run: usize, minutes: i64) {
    for step in steps(record, run) {
        each_time(step, |at| Some(later(&at, minutes)));
    }
}

/// Leaves out every time of a run's steps but those of the cleaning.
fn forget_times(record: &mut Record, run: usize, keep: &[&str]) {
    for step in steps(record, run).iter_mut().filter(|s| !keep.contains(&s.key())) {
        each_time(step, |_| None);
    }
}
