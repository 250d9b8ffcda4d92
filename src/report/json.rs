//! The reports for machines: own structs, versioned, never derived from the types inside.

use serde::Serialize;

use crate::app::verify::Answer;
use crate::app::verify::Overall;
use crate::app::verify::Verification;
use crate::finding::Finding;
use crate::finding::Place;
use crate::register::Facet;
use crate::register::Found;

/// Version of the JSON reports. Members may be added under it; none is renamed, removed or changed in kind.
pub const VERSION: u64 = 1;

/// A report with its version beside its members; one that is no object stays as it is.
pub fn versioned(report: &impl Serialize) -> serde_json::Value {
    let mut value = serde_json::to_value(report).unwrap_or_default();
    if let Some(members) = value.as_object_mut() {
        members.insert("version".to_owned(), VERSION.into());
    }
    value
}

/// `register audit` and `register backup --format json`.
#[derive(Debug, Serialize)]
pub struct AuditReport {
    /// Version of this form.
    pub version: u64,
    /// Whether everything is as it was entered.
    pub sound: bool,
    /// The first thing that is wrong, in words.
    pub first_bad: Option<String>,
    /// Everything that is wrong, in the order of the entries.
    pub bad: Vec<String>,
    /// Entries read.
    pub entries: u64,
    /// Certificates whose files were hashed.
    pub certificates: u64,
    /// Signed heads compared.
    pub heads: u64,
    /// The root over the entries, hexadecimal.
    pub root: String,
}

/// What an audit found.
pub fn audit(report: &crate::register::AuditReport) -> AuditReport {
    let bad: Vec<String> = report.problems.iter().map(ToString::to_string).collect();
    AuditReport {
        version: VERSION,
        sound: report.is_sound(),
        first_bad: bad.first().cloned(),
        bad,
        entries: report.size,
        certificates: report.certificates,
        heads: report.checkpoints,
        root: hex::encode(report.root),
    }
}

/// `register history --format json`: one object an entry.
#[derive(Debug, Serialize)]
pub struct EntryReport {
    /// Version of this form.
    pub version: u64,
    /// Index in the tree, from 0.
    pub position: u64,
    /// When it was entered, RFC 3339.
    pub at: String,
    /// What it records.
    pub kind: &'static str,
    /// The certificate it speaks of.
    pub number: Option<String>,
    /// The certificate an amendment replaces.
    pub replaces: Option<String>,
    /// Who, why, to whom, as it is kept.
    pub detail: serde_json::Value,
}

/// One entry.
pub fn entry(entry: crate::register::Entry) -> EntryReport {
    EntryReport {
        version: VERSION,
        position: entry.position,
        at: entry.at,
        kind: entry.kind.as_str(),
        number: entry.number,
        replaces: entry.replaces,
        detail: entry.detail,
    }
}
/// `check --format json`: one object a lot.
#[derive(Debug, Serialize)]
pub struct LotReport {
    /// Version of this form.
    pub version: u64,
    /// Lot number, or the file name when it could not be read.
    pub lot: String,
    /// Whether it conforms; absent when it could not be judged.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub conforms: Option<bool>,
    /// Why it could not be judged.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub error: Option<String>,
    /// Every finding.
    pub findings: Vec<FindingReport>,
}

/// One finding.
#[derive(Debug, Serialize)]
pub struct FindingReport {
    /// `pack/requirement`.
    pub requirement: String,
    /// Standard with edition.
    pub standard: String,
    /// Clause.
    pub clause: String,
    /// What it is about.
    pub subject: String,
    /// Part of the lot it speaks for.
    pub r#where: String,
    /// Limit as printed.
    pub limit: String,
    /// Found as recorded.
    pub observed: Option<String>,
    /// Verdict.
    pub verdict: serde_json::Value,
    /// What to do.
    pub remedy: serde_json::Value,
    /// In words.
    pub words: String,
    /// `file:line:column`.
    pub place: String,
    /// Path within that file.
    pub path: String,
}

/// The report of one judged lot.
pub fn lot(lot: &str, findings: &[Finding], locate: impl Fn(&Place) -> String) -> LotReport {
    let value = |v: Result<serde_json::Value, _>| v.unwrap_or(serde_json::Value::Null);
    LotReport {
        version: VERSION,
        lot: lot.to_owned(),
        conforms: Some(crate::judge::conforms(findings)),
        error: None,
        findings: findings
            .iter()
            .map(|f| FindingReport {
                requirement: f.requirement.clone(),
                standard: f.standard.clone(),
                clause: f.clause.clone(),
                subject: f.subject.clone(),
                r#where: f.place_in_lot.clone(),
                limit: f.limit.clone(),
                observed: f.observed.clone(),
                verdict: value(serde_json::to_value(f.verdict)),
                remedy: value(serde_json::to_value(f.remedy)),
                words: super::words(f),
                place: locate(&f.place),
                path: f.place.path.to_string(),
            })
            .collect(),
    }
}

/// A lot that could not be judged.
pub fn failed(lot: &str, error: &str) -> LotReport {
    LotReport {
        version: VERSION,
        lot: lot.to_owned(),
        conforms: None,
        error: Some(error.to_owned()),
        findings: Vec::new(),
    }
}

/// `issue --format json`: one object a target.
#[derive(Debug, Serialize)]
pub struct IssueReport {
    /// Version of this form.
    pub version: u64,
    /// `lot ...` or `slip ...`.
    pub target: String,
    /// `issued`, `again`, `prepared`, `certified` (already, when preparing), `held`, `unwritten` (registered, its file could not be written) or `failed`.
    pub outcome: &'static str,
    /// Certificate number.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub number: Option<String>,
    /// Where its file was written.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub file: Option<String>,
    /// Why nothing was issued.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub error: Option<String>,
    /// The lot that is held.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lot: Option<LotReport>,
    /// Digest of the facts that were prepared.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub input: Option<String>,
}

fn target(target: &str, outcome: &'static str) -> IssueReport {
    IssueReport {
        version: VERSION,
        target: target.to_owned(),
        outcome,
        number: None,
        file: None,
        error: None,
        lot: None,
        input: None,
    }
}

/// A certificate issued, or written again.
pub fn issued(name: &str, number: &str, file: &str, again: bool) -> IssueReport {
    let outcome = if again { "again" } else { "issued" };
    IssueReport { number: Some(number.to_owned()), file: Some(file.to_owned()), ..target(name, outcome) }
}

/// A shipment that waits for release.
pub fn prepared(name: &str, input: &str, file: &str) -> IssueReport {
    let (input, file) = (Some(input.to_owned()), Some(file.to_owned()));
    IssueReport { input, file, ..target(name, "prepared") }
}

/// A shipment that was to be prepared and is certified already.
pub fn certified(name: &str, number: &str) -> IssueReport {
    IssueReport { number: Some(number.to_owned()), ..target(name, "certified") }
}

/// A target that is held for a lot's gaps.
pub fn held(name: &str, lot: LotReport) -> IssueReport {
    IssueReport { lot: Some(lot), ..target(name, "held") }
}

/// A certificate that is registered, whose file could not be written.
pub fn unwritten(name: &str, number: &str, error: &str) -> IssueReport {
    IssueReport {
        number: Some(number.to_owned()),
        error: Some(error.to_owned()),
        ..target(name, "unwritten")
    }
}

/// A target that could not be issued for.
pub fn not_issued(name: &str, error: &str) -> IssueReport {
    IssueReport { error: Some(error.to_owned()), ..target(name, "failed") }
}

/// `verify --format json`: one object a file.
#[derive(Debug, Serialize)]
pub struct VerifyReport {
    /// Version of this form.
    pub version: u64,
    /// The file, or the number from paper.
    pub file: String,
    /// Certificate number.
    pub number: Option<String>,
    /// Stamp.
    pub stamp: Option<String>,
    /// `verifies`, `does not verify` or `could not tell`.
    pub overall: &'static str,
    /// Checks in order.
    pub checks: Vec<CheckReport>,
}

/// One check.
#[derive(Debug, Serialize)]
pub struct CheckReport {
    /// Stable name.
    pub check: &'static str,
    /// `pass`, `fail` or `not checked`.
    pub answer: &'static str,
    /// Why, when it is no pass.
    pub why: Option<String>,
    /// What a pass means.
    pub means: String,
    /// Whether the overall answer needs it.
    pub asked: bool,
}

/// The report of one verification.
pub fn verification(found: &Verification) -> VerifyReport {
    VerifyReport {
        version: VERSION,
        file: found.what.clone(),
        number: found.number.clone(),
        stamp: found.stamp.clone(),
        overall: match found.overall() {
            Overall::Verifies => "verifies",
            Overall::DoesNotVerify => "does not verify",
            Overall::CouldNotTell => "could not tell",
        },
        checks: found
            .lines
            .iter()
            .map(|line| {
                let (answer, why) = match &line.answer {
                    Answer::Pass => ("pass", None),
                    Answer::Fail(why) => ("fail", Some(why.clone())),
                    Answer::NotChecked(why) => ("not checked", Some(why.clone())),
                };
                CheckReport { check: line.check, answer, why, means: line.means.clone(), asked: line.asked }
            })
            .collect(),
    }
}

/// `find --format json`: one object a certificate.
#[derive(Debug, Serialize)]
pub struct FoundReport {
    /// Version of this form.
    pub version: u64,
    /// Certificate number.
    pub number: String,
    /// When it was issued, UTC; of a legacy one, the day it says.
    pub issued: String,
    /// How it stands.
    pub status: String,
    /// What it is filed under.
    pub filed: Vec<(String, String)>,
    /// Whether it is older than the register: registered as received, not judged.
    pub legacy: bool,
}

/// The report of one certificate found.
pub fn found(found: &Found) -> FoundReport {
    FoundReport {
        version: VERSION,
        number: found.number.clone(),
        issued: match found.facets.iter().find(|(facet, _)| *facet == Facet::Date) {
            Some((_, day)) if found.legacy => day.clone(),
            _ => found.at.clone(),
        },
        status: found.status.to_string(),
        filed: found.facets.iter().map(|(facet, value)| (facet.as_str().to_owned(), value.clone())).collect(),
        legacy: found.legacy,
    }
}

/// `rules show --format json`.
#[derive(Debug, Serialize)]
pub struct PackReport<'a> {
    /// Version of this form.
    pub version: u64,
    /// The pack, in the form of its file.
    pub pack: &'a crate::pack::Pack,
    /// How each requirement stands, in their order; empty when no edition was asked for.
    pub standing: &'a [crate::rulebook::Standing],
}

/// A pack as its shop applies it.
pub fn pack<'a>(pack: &'a crate::pack::Pack, standing: &'a [crate::rulebook::Standing]) -> PackReport<'a> {
    PackReport { version: VERSION, pack, standing }
}
