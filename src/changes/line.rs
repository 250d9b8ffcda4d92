//! The journal's lines: what one check saw, chained by digest.
//!
//! ```text
//! {"at":"2026-11-24T16:20:11-05:00","corrections":[],"digest":"5f0c…","gaps":["astm-a967/…, run 1"],
//!  "lot":"L-26-0417","previous":"9e1b…","record":{…},"rows":{"baths.N-2.analyses.2026-…":"…"}}
//! ```
//!
//! RFC 8785 canonical JSON, one line a state of the papers. `previous` is the SHA-256 of the line before, without
//! its line end; `digest` that of `corrections`, `record` and `rows` together.

use std::collections::BTreeMap;

use serde::Deserialize;
use serde::Serialize;
use serde_json::Value;
use serde_json::json;

use crate::canonical;
use crate::canonical::CanonicalError;
use crate::correction::Correction;
use crate::moment::Moment;

/// One check as the journal keeps it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Line {
    /// When.
    pub at: Moment,
    /// Corrections of the shop's book that spoke of these rows.
    pub corrections: Vec<Correction>,
    /// Digest of what was seen.
    pub digest: String,
    /// Requirements that were gaps, each with what it spoke for.
    pub gaps: Vec<String>,
    /// The lot.
    pub lot: String,
    /// SHA-256 of the line before; empty in the first.
    pub previous: String,
    /// The record, whole.
    pub record: Value,
    /// The rows of the other papers the lot rested on.
    pub rows: BTreeMap<String, String>,
}

/// What a check sees.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct State {
    /// The lot.
    pub lot: String,
    /// The record.
    pub record: Value,
    /// Rows of the other papers.
    pub rows: BTreeMap<String, String>,
    /// Corrections of the shop's book that speak of them.
    pub corrections: Vec<Correction>,
}

/// A journal as read.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Chain {
    /// The lines that could be read.
    pub lines: Vec<Line>,
    /// SHA-256 of each line of the file.
    pub heads: Vec<String>,
    /// What does not hold.
    pub broken: Vec<String>,
}

fn digest(
    corrections: &[Correction],
    record: &Value,
    rows: &BTreeMap<String, String>,
) -> Result<String, CanonicalError> {
    let whole = json!({ "corrections": corrections, "record": record, "rows": rows });
    Ok(canonical::stamp(&canonical::canonical(&whole)?))
}

impl State {
    /// Digest of what is seen.
    ///
    /// # Errors
    /// When a count is beyond what JSON numbers hold exactly.
    pub fn digest(&self) -> Result<String, CanonicalError> {
        digest(&self.corrections, &self.record, &self.rows)
    }
}

impl Chain {
    /// Reads a journal. A last line without its end was never written whole and does not count.
    pub fn read(text: &str, lot: &str) -> Chain {
        let mut chain = Chain::default();
        let mut previous = String::new();
        for (index, line) in text.split_inclusive('\n').filter_map(|l| l.strip_suffix('\n')).enumerate() {
            let number = index.saturating_add(1);
            let head = canonical::stamp(line.as_bytes());
            match read(line) {
                Ok(line) => {
                    if line.previous != previous {
                        chain.broken.push(format!("line {number} does not follow on the line before it"));
                    }
                    if line.lot != lot {
                        chain.broken.push(format!("line {number} is about lot {}", line.lot));
                    }
                    if digest(&line.corrections, &line.record, &line.rows).as_ref() != Ok(&line.digest) {
                        chain.broken.push(format!("line {number} is not what was written"));
                    }
                    chain.lines.push(line);
                }
                Err(why) => chain.broken.push(format!("line {number} cannot be read: {why}")),
            }
            previous.clone_from(&head);
            chain.heads.push(head);
        }
        chain
    }

    /// The line to add for a state, unless the last line saw the same.
    ///
    /// # Errors
    /// As [`State::digest`].
    pub fn next(&self, state: &State, at: Moment, gaps: &[String]) -> Result<Option<String>, CanonicalError> {
        let digest = state.digest()?;
        if self.lines.last().is_some_and(|last| last.digest == digest) {
            return Ok(None);
        }
        let line = Line {
            at,
            corrections: state.corrections.clone(),
            digest,
            gaps: gaps.to_vec(),
            lot: state.lot.clone(),
            previous: self.heads.last().cloned().unwrap_or_default(),
            record: state.record.clone(),
            rows: state.rows.clone(),
        };
        let value = serde_json::to_value(&line).map_err(|e| CanonicalError::Write(e.to_string()))?;
        let bytes = canonical::canonical(&value)?;
        String::from_utf8(bytes).map(Some).map_err(|e| CanonicalError::Write(e.to_string()))
    }
}

fn read(line: &str) -> Result<Line, String> {
    let value = canonical::parse_canonical(line.as_bytes()).map_err(|e| e.to_string())?;
    serde_json::from_value(value).map_err(|e| e.to_string())
}
