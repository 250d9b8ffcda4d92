//! The reports for machines: own structs, versioned, never derived from the types inside.

use serde::Serialize;

use crate::finding::Finding;
use crate::finding::Place;

/// Version of the JSON reports; draft until the formats are frozen.
pub const VERSION: u64 = 0;

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
