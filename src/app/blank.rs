//! A blank record: every field that the call-outs of an order line need, with their limits beside them as remarks.
//! It is the part of the plan that is a record.
//!
//! Nothing in it counts as evidence: what is left empty is a fault or a gap, and a limit stands only in a remark.

use std::fmt::Write;

use crate::app::book::Book;
use crate::app::error::Error;
use crate::app::plan::Papers;
use crate::app::plan::Request;
use crate::part::FieldSource;
use crate::plan::Entries;
use crate::plan::Entry;
use crate::plan::FIELD_ORDER;
use crate::plan::Fields;
use crate::plan::Plan;
use crate::plan::Spot;
use crate::plan::entries;
use crate::yaml;

/// Whether a text can name a lot, and its file.
///
/// # Errors
/// When it cannot.
pub fn lot_named(lot: &str) -> Result<(), Error> {
    let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '.' | '_');
    if lot.chars().all(plain) && lot.starts_with(|c: char| c.is_ascii_alphanumeric()) {
        return Ok(());
    }
    Err(Error::cannot(
        format!("`{lot}` is no lot number"),
        "use letters, digits, `-`, `.` and `_`: it names the record's file",
    ))
}

/// Writes the blank record of a lot for an order line.
///
/// # Errors
/// Where the order, its line or the part specification is not on file, or the line names another part.
pub fn blank(book: &Book, lot: &str, request: &Request) -> Result<String, Error> {
    lot_named(lot)?;
    let papers = book.papers(request)?;
    // No field of a record rests on the day; approvals do, and a blank says nothing of them.
    let plan = book.plan(request, papers.order.dated)?;
    Ok(text(lot, &papers, &plan))
}

/// The blank record of a plan.
pub fn text(lot: &str, papers: &Papers, plan: &Plan) -> String {
    let (order, line, part) = (papers.order, papers.line, papers.part);
    let entries = entries(plan);
    let mut text = String::new();
    let quoted = |text: &str| serde_json::Value::from(text).to_string();
    let _ =
        writeln!(text, "# Blank record of part {} revision {}, to be filled in.", part.part, part.revision);
    let _ = writeln!(
        text,
        "# Remarks tell the limits ordered. Take out steps that were not made; nothing may stay empty."
    );
    let _ = writeln!(text, "lot: {}", yaml::scalar(lot, false));
    if plan.call_outs.is_empty() {
        text.push_str("# Nothing is called out: the lot will be held.\n");
    }
    let holding = plan.questions.iter().filter(|q| q.holds).count();
    // Without a grade there is always one.
    if holding > 0 && plan.grade.is_some() {
        let _ = writeln!(text, "# {holding} open question(s) would hold the lot: see `brightproof plan`.");
    }
    let fields = || part.fields.iter().chain(&line.fields);
    if fields().any(|f| f.from == Some(FieldSource::PurchaserLot)) {
        text.push_str("purchaser_lot:\n");
    }
    let _ = writeln!(text, "order:\n  number: {}\n  line: {}", quoted(&order.order), quoted(&line.line));
    if !line.releases.is_empty() {
        let all: Vec<&str> = line.releases.iter().map(|r| r.release.as_str()).collect();
        let _ = writeln!(text, "  release:  # one of: {}", all.join(", "));
    }
    let planned = plan.grade.as_ref().map(|g| format!("  # planned as {g}")).unwrap_or_default();
    let _ = writeln!(text, "material:\n  grade:{planned}");
    text.push_str("  heats:\n    - heat:\n      known:  # stated by purchaser, verified or not supplied\n");
    text.push_str("counts:\n  received:\n  accepted:\n");
    text.push_str("  by:\nruns:\n  - run: \"1\"\n    pieces:\n    steps:\n");
    if plan.call_outs.iter().all(|c| c.treatments.is_empty()) {
        text.push_str("      # No call-out names a treatment: write the steps that were made.\n");
    }
    for entry in &entries.steps {
        step(&mut text, entry);
    }
    tests(&mut text, &entries);
    if let Some(found) = &entries.visual {
        text.push_str("visual:\n  - covers: [\"1\"]\n");
        empty(&mut text, "    ", found);
    }
    for (index, (what, found)) in entries.measurements.iter().enumerate() {
        let head = if index == 0 { "measurements:\n" } else { "" };
        let _ = write!(text, "{head}  - what: {}\n    covers: [\"1\"]\n", what.name());
        empty(&mut text, "    ", found);
    }
    let own: Vec<&str> = fields().filter(|f| f.from.is_none()).map(|f| f.name.as_str()).collect();
    if !own.is_empty() {
        text.push_str("fields:\n");
        own.iter().for_each(|name| {
            let _ = writeln!(text, "  {}:", yaml::scalar(name, false));
        });
    }
    text
}

fn step(text: &mut String, entry: &Entry) {
    let _ = writeln!(text, "      - {}:", entry.key);
    if matches!(entry.spot, Spot::FinalRinse | Spot::PostRinse) {
        text.push_str("          final: true\n");
    }
    empty(text, "          ", &entry.fields);
}

fn tests(text: &mut String, entries: &Entries) {
    for (index, (test, found)) in entries.tests.iter().enumerate() {
        let head = if index == 0 { "tests:\n" } else { "" };
        let _ = write!(text, "{head}  - test: {}\n    covers: [\"1\"]\n", test.name());
        empty(text, "    ", found);
    }
    if !entries.choice.is_empty() {
        let names: Vec<&str> = entries.choice.iter().map(|t| t.name()).collect();
        let _ = writeln!(
            text,
            "# The order names no test; the shop makes and writes one of: {}",
            names.join(", ")
        );
    }
}

fn empty(text: &mut String, indent: &str, fields: &Fields) {
    for key in FIELD_ORDER.iter().filter(|key| fields.contains_key(*key)) {
        let remarks = fields.get(key).map(|all| all.join("; ")).unwrap_or_default();
        let remark = if remarks.is_empty() { String::new() } else { format!("  # {remarks}") };
        let _ = writeln!(text, "{indent}{key}:{remark}");
    }
}
