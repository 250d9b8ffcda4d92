//! What waits for release and what a releaser is shown. Text for people, own structs for machines.

use std::fmt::Write as _;

use serde::Serialize;

use crate::app::error::Error;
use crate::app::issue::Judged;
use crate::app::release::Reviewed;
use crate::app::release::queue::Queued;
use crate::app::release::queue::Waiting;
use crate::certificate::certified_lot;
use crate::finding::Finding;
use crate::finding::Verdict;
use crate::report::json::VERSION;
use crate::report::words;

/// What waits: one shipment with what it covers.
pub fn waiting(queued: &Queued) -> String {
    let mut text = format!(
        "{} for {}, prepared by {} at {}",
        queued.shipment, queued.purchaser, queued.prepared_by, queued.at
    );
    for one in &queued.covers {
        let _ = write!(
            text,
            "\n    lot {}: {} of part {}, order {}",
            one.lot,
            pieces(one.pieces),
            one.part,
            one.order
        );
    }
    text
}

fn pieces(count: u64) -> String {
    if count == 1 { "1 piece".to_owned() } else { format!("{count} pieces") }
}

/// Everything a releaser must see of a prepared shipment.
pub fn review(reviewed: &Reviewed) -> String {
    let queued = &reviewed.waiting.queued;
    let known = reviewed.waiting.prepared.how.prepared();
    let mut text = format!(
        "{} for {}, prepared by {} at {} ({known})\n",
        queued.shipment, queued.purchaser, queued.prepared_by, queued.at
    );
    for judged in &reviewed.shipment.lots {
        lot(&mut text, judged);
    }
    text
}

fn lot(text: &mut String, judged: &Judged) {
    let findings = &judged.findings;
    let dossier = &judged.case.dossier;
    let printed = certified_lot(dossier.clone(), findings.clone(), judged.quantity);
    let met = findings.iter().filter(|f| f.verdict == Verdict::Met).count();
    let order = &dossier.record.order;
    // Writing to a String cannot fail.
    let _ = writeln!(
        text,
        "  lot {}: {} of part {} {}, order {}/{}; {met} requirements met",
        printed.lot,
        pieces(judged.quantity),
        printed.part,
        printed.revision,
        order.number,
        order.line
    );
    for asked in &printed.call_outs {
        let _ = writeln!(text, "    called for: {asked}");
    }
    let line = |f: &Finding| format!("{}, {}: {}", f.subject, f.place_in_lot, words(f));
    for finding in findings.iter().filter(|f| f.verdict == Verdict::Advice) {
        let _ = writeln!(text, "    advice: {}", line(finding));
    }
    for finding in findings.iter().filter(|f| f.verdict == Verdict::Accepted) {
        let _ = writeln!(text, "    accepted under a deviation: {}", line(finding));
    }
    if !printed.corrections.is_empty() {
        let late = printed.corrections.iter().filter(|c| c.late).count();
        let late = if late > 0 { format!(", {late} of them entered late") } else { String::new() };
        let _ = writeln!(text, "    corrections: {}{late}", printed.corrections.len());
    }
    if !printed.entered_late.is_empty() {
        let _ = writeln!(text, "    entered after a check: {}", printed.entered_late.len());
    }
    for note in &printed.pieces_notes {
        let _ = writeln!(text, "    pieces: {note}");
    }
}

/// `queue --format json`: one object a file.
#[derive(Debug, Serialize)]
pub struct QueueReport {
    /// Version of this form.
    pub version: u64,
    /// `waits`, or `spoilt`.
    pub outcome: &'static str,
    /// What waits, as its file says.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub shipment: Option<Queued>,
    /// Why the file grants nothing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub error: Option<String>,
}

/// One file of the queue.
pub fn queue(one: &Result<Waiting, Error>) -> QueueReport {
    match one {
        Ok(one) => QueueReport {
            version: VERSION,
            outcome: "waits",
            shipment: Some(one.queued.clone()),
            error: None,
        },
        Err(error) => QueueReport {
            version: VERSION,
            outcome: "spoilt",
            shipment: None,
            error: Some(error.to_string()),
        },
    }
}

/// `people list --format json`: one object a person.
#[derive(Debug, Serialize)]
pub struct PersonReport {
    /// Version of this form.
    pub version: u64,
    /// Name.
    pub person: String,
    /// Function.
    pub function: String,
    /// Whether the person may release today.
    pub may_release: bool,
    /// When the passphrase was set.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub passphrase_set: Option<String>,
    /// Wrong tries since it was last right.
    pub wrong_tries: u64,
}

impl PersonReport {
    /// In words.
    pub fn words(&self) -> String {
        let release = if self.may_release { ", may release" } else { "" };
        let set = match &self.passphrase_set {
            Some(at) => format!("; passphrase set at {at}"),
            None => String::new(),
        };
        let wrong = match self.wrong_tries {
            0 => String::new(),
            1 => "; 1 wrong try since it was last right".to_owned(),
            many => format!("; {many} wrong tries since it was last right"),
        };
        format!("{}: {}{release}{set}{wrong}", self.person, self.function)
    }
}
