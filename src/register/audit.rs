//! Everything in the register, read and hashed again.
//!
//! From the entries alone the audit works out the tree, the standing of each certificate and every
//! derived table, and compares. It catches whatever was changed behind the program, except by
//! somebody who rewrites all of it and holds the checkpoint key: that shows only against a head
//! that somebody else kept.

use std::fmt;

use rusqlite::Connection;
use rusqlite::TransactionBehavior;

use super::certificate::Facet;
use super::certificate::Filed;
use super::certificate::series_of;
use super::entry::Kind;
use super::entry::Leaf;
use super::entry::Rest;
use super::entry::canonical;
use super::entry::hex_of;
use super::entry::is_instant;
use super::entry::rest_digest;
use super::error::RegisterError;
use super::reading::Reading;
use super::reading::StoredEntry;
use super::reading::from_stored;
use super::reading::stored_entry;
use super::replay::Replay;
use super::rules;
use super::search::folded;
use super::used::used_row;
use crate::merkle;
use crate::merkle::Frontier;
use crate::merkle::Hash;

/// After so many problems the rest say nothing new.
const ENOUGH: usize = 100;

/// What an audit found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AuditReport {
    /// Entries read.
    pub size: u64,
    /// The root over them, worked out anew.
    pub root: Hash,
    /// Certificates whose files were hashed.
    pub certificates: u64,
    /// Signed heads compared.
    pub checkpoints: u64,
    /// What is wrong, in the order of the entries; none if all is well.
    pub problems: Vec<Problem>,
}

/// One thing that is wrong.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// The entry, where it is one entry's.
    pub position: Option<u64>,
    /// The certificate, where it is one certificate's.
    pub number: Option<String>,
    /// What was found.
    pub what: String,
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.position, &self.number) {
            (Some(position), Some(number)) => write!(f, "entry {position} ({number}): {}", self.what),
            (Some(position), None) => write!(f, "entry {position}: {}", self.what),
            (None, _) => write!(f, "{}", self.what),
        }
    }
}

impl AuditReport {
    /// Whether nothing is wrong.
    pub fn is_sound(&self) -> bool {
        self.problems.is_empty()
    }

    /// The first entry something is wrong with.
    pub fn first_bad(&self) -> Option<&Problem> {
        self.problems.iter().find(|problem| problem.position.is_some())
    }
}

pub(super) fn audit(
    db: &Connection,
    check: &dyn Fn(&str) -> Result<(), String>,
) -> Result<AuditReport, RegisterError> {
    // One snapshot: what others add meanwhile is not part of it.
    let _snapshot = rusqlite::Transaction::new_unchecked(db, TransactionBehavior::Deferred)?;
    let mut audit = Audit {
        reading: Reading(db),
        check,
        origin: String::new(),
        last_time: String::new(),
        frontier: Frontier::default(),
        replay: Replay::default(),
        checkpoints: 0,
        problems: Vec::new(),
    };
    // A damaged file makes the database itself give up: that too is a finding.
    if let Err(error) = audit.run() {
        let problem = Problem { position: None, number: None, what: error.to_string() };
        audit.problems.push(problem);
    }
    Ok(AuditReport {
        size: audit.frontier.size(),
        root: audit.frontier.root(),
        certificates: audit.replay.certificates(),
        checkpoints: audit.checkpoints,
        problems: audit.problems,
    })
}

struct Audit<'a> {
    reading: Reading<'a>,
    check: &'a dyn Fn(&str) -> Result<(), String>,
    origin: String,
    last_time: String,
    frontier: Frontier,
    replay: Replay,
    checkpoints: u64,
    problems: Vec<Problem>,
}

impl Audit<'_> {
    fn run(&mut self) -> Result<(), RegisterError> {
        let reading = self.reading;
        let mut statement =
            reading.0.prepare("SELECT position, leaf, rest, salt FROM entry ORDER BY position")?;
        let rows = statement.query_map([], stored_entry)?;
        for row in rows {
            let entry = row?;
            let expected = self.frontier.size();
            if entry.position != expected {
                self.note(Some(expected), None, "it is missing".to_owned());
                return Ok(());
            }
            self.entry(&entry)?;
            if self.problems.len() >= ENOUGH {
                return Ok(());
            }
        }
        self.whole()
    }

    fn note(&mut self, position: Option<u64>, number: Option<String>, what: String) {
        self.problems.push(Problem { position, number, what });
    }

    /// One entry: its own bytes, its place in the tree, its standing by the rules, its files.
    fn entry(&mut self, entry: &StoredEntry) -> Result<(), RegisterError> {
        let position = entry.position;
        let mut number = None;
        match entry.parse() {
            Err(RegisterError::Damaged { what, .. }) => self.note(Some(position), None, what),
            Err(other) => return Err(other),
            Ok((leaf, rest)) => {
                number.clone_from(&leaf.number);
                for what in self.wrong_with(entry, &leaf, &rest)? {
                    self.note(Some(position), number.clone(), what);
                }
                self.last_time.clone_from(&leaf.at);
                if position == 0 {
                    self.origin = rest.origin.unwrap_or_default();
                }
                self.replay.apply(&leaf, &rest.detail, rest.filed.as_ref());
            }
        }
        for node in self.frontier.push(merkle::leaf(entry.leaf.as_bytes())) {
            let stored = self.reading.node(node.level, node.index).ok();
            if stored != Some(node.hash) {
                let what = match (stored, node.level) {
                    (None, level) => format!("the stored hash of level {level} above it is gone"),
                    (_, 0) => "its leaf is not what was hashed when it was added".to_owned(),
                    (_, level) => format!("the stored hash of level {level} above it is another"),
                };
                self.note(Some(position), number.clone(), what);
            }
        }
        self.signed_head(position, number)
    }

    /// The signed head that ends with this entry, if one does.
    fn signed_head(&mut self, position: u64, number: Option<String>) -> Result<(), RegisterError> {
        let size = self.frontier.size();
        let Some(text) = self.reading.checkpoint(size)? else { return Ok(()) };
        self.checkpoints += 1;
        let head = merkle::head_text(&self.origin, size, &self.frontier.root()) + "\n";
        if !text.starts_with(&head) {
            let what = format!("the {size} entries up to here are not those of their signed head");
            self.note(Some(position), number, what);
        } else if let Err(why) = (self.check)(&text) {
            self.note(Some(position), number, format!("its signed head does not hold: {why}"));
        }
        Ok(())
    }

    fn wrong_with(
        &self,
        entry: &StoredEntry,
        leaf: &Leaf,
        rest: &Rest,
    ) -> Result<Vec<String>, RegisterError> {
        let mut wrong = Vec::new();
        let mut demand = |holds: bool, what: &str| {
            if !holds {
                wrong.push(what.to_owned());
            }
        };
        demand(canonical(leaf)? == entry.leaf.as_bytes(), "its leaf is not in canonical form");
        demand(canonical(rest)? == entry.rest.as_bytes(), "its details are not in canonical form");
        let salt = entry.salt.as_slice().try_into().ok();
        let digest = salt.map(|salt| rest_digest(salt, entry.rest.as_bytes()));
        demand(digest.as_deref() == Some(leaf.rest.as_str()), "its details are not those of its leaf");
        demand(is_instant(&leaf.at), "its time is not in the one form used");
        demand(leaf.at >= self.last_time, "it is earlier than the entry before it");
        demand(rest.origin.is_some() == (entry.position == 0), "only the first entry names the register");
        let first = leaf.number.as_deref().and_then(|number| self.replay.certificate(number));
        if let (true, Some(first)) = (rules::handed_out(leaf.kind), first) {
            let digests = (leaf.stamp.clone(), leaf.pdf_sha256.clone());
            demand(first.digests == digests, "it names other files than were issued");
        }
        match rules::admit(&self.replay, entry.position, leaf, &rest.detail, rest.filed.as_ref()) {
            Ok(()) => {}
            Err(refusal) => wrong.push(refusal.to_string()),
        }
        if let (Some(filed), Some(number)) = (&rest.filed, &leaf.number) {
            wrong.extend(self.wrong_with_certificate(entry.position, number, leaf, filed)?);
        }
        Ok(wrong)
    }

    /// The files and the derived tables of one certificate.
    fn wrong_with_certificate(
        &self,
        position: u64,
        number: &str,
        leaf: &Leaf,
        filed: &Filed,
    ) -> Result<Vec<String>, RegisterError> {
        let Some(stored) = self.reading.certificate_row(number)? else {
            return Ok(vec!["its certificate is gone".to_owned()]);
        };
        let mut wrong = Vec::new();
        let mut demand = |holds: bool, what: &str| {
            if !holds {
                wrong.push(what.to_owned());
            }
        };
        let digest = |bytes: &[u8]| Some(hex_of(&merkle::sha256(bytes)));
        demand(digest(&stored.data) == leaf.stamp, "the certificate's stored data were changed");
        demand(digest(&stored.pdf) == leaf.pdf_sha256, "the certificate's stored file was changed");
        let evidence = stored.evidence.as_deref().and_then(digest);
        demand(evidence == filed.evidence, "the certificate's stored evidence was changed");
        let series = series_of(number).filter(|_| leaf.kind != Kind::Legacy);
        let as_filed = (&stored.input, &stored.shipment, &stored.signer)
            == (&filed.input, &filed.shipment, &filed.signer)
            && stored.position == position
            && series == stored.series.as_deref().zip(stored.serial);
        demand(as_filed, "the certificate is filed under other facts than its entry says");
        let sql = "SELECT lot, pieces, accepted FROM piece WHERE number = ?1 ORDER BY lot";
        let pieces: Vec<(String, u64, u64)> = self.reading.all(sql, [number], |row| {
            Ok((row.get(0)?, from_stored(row.get(1)?), from_stored(row.get(2)?)))
        })?;
        let expected: Option<Vec<_>> = filed
            .lots
            .iter()
            .map(|lot| lot.counts().map(|(pieces, accepted)| (lot.lot.clone(), pieces, accepted)))
            .collect();
        demand(expected == Some(pieces), "the certificate's counts are not those its entry says");
        let facets = self.facet_rows(number)?;
        let expected: Vec<_> =
            filed.facets.iter().map(|(facet, value)| (Some(*facet), value.clone(), folded(value))).collect();
        demand(facets == expected, "what the certificate is found by is not what its entry says");
        let sql = "SELECT number, lot, thing, name, first, last, how, folded FROM used WHERE number = ?1 ORDER BY turn";
        let uses = self.reading.all(sql, [number], |row| Ok((used_row(row)?.read(), row.get(7)?)))?;
        let expected: Vec<_> = filed.uses.iter().map(|u| (Some(u.clone()), folded(&u.name))).collect();
        demand(uses == expected, "what the certificate rests on is not what its entry says");
        Ok(wrong)
    }

    fn facet_rows(&self, number: &str) -> Result<Vec<(Option<Facet>, String, String)>, RegisterError> {
        let sql = "SELECT facet, value, folded FROM facet WHERE number = ?1";
        let mut rows = self.reading.all(sql, [number], |row| {
            Ok((Facet::parse(&row.get::<_, String>(0)?), row.get(1)?, row.get(2)?))
        })?;
        rows.sort();
        Ok(rows)
    }

    /// What belongs to no single entry.
    fn whole(&mut self) -> Result<(), RegisterError> {
        let size = self.frontier.size();
        if size == 0 {
            self.note(None, None, "it has no entries, not even its first".to_owned());
            return Ok(());
        }
        if size > 1 && self.reading.checkpoint(size)?.is_none() {
            self.note(Some(size - 1), None, "no signed head ends with it".to_owned());
        }
        // n leaves have 2n - (bits set in n) complete subtrees.
        let nodes = size.saturating_mul(2) - u64::from(size.count_ones());
        for (table, expected) in [
            ("node", nodes),
            ("checkpoint", self.checkpoints),
            ("certificate", self.replay.certificates()),
            ("piece", self.replay.pieces),
            ("facet", self.replay.facets),
            ("used", self.replay.uses),
        ] {
            let rows = self.reading.count(table)?;
            if rows != expected {
                let what = format!("table {table} has {rows} rows, the entries account for {expected}");
                self.note(None, None, what);
            }
        }
        let damage: Vec<String> = self.reading.all("PRAGMA integrity_check(10)", [], |row| row.get(0))?;
        for what in damage.into_iter().filter(|what| what != "ok") {
            self.note(None, None, format!("the database file: {what}"));
        }
        Ok(())
    }
}
