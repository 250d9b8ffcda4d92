//! Finding certificates by what people remember of them.
//!
//! A whole value is looked up in the index, three letters or more anywhere in a value in the
//! full-text index, and shorter ones at its beginning. Letter case never matters. What is typed
//! reaches the database as a bound value only, and the full-text index as one quoted phrase.

use rusqlite::types::Value;

use super::certificate::Facet;
use super::entry::Status;
use super::error::RegisterError;
use super::reading::Reading;
use super::rules::Known;
use crate::moment::Date;

/// What to look for: every term must fit. Without terms, the latest certificates.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Query {
    /// What must fit.
    pub terms: Vec<Term>,
    /// At most so many rows, the latest first.
    pub limit: u32,
    /// First day of issue.
    pub from: Option<Date>,
    /// Last day of issue.
    pub to: Option<Date>,
    /// How it stands.
    pub standing: Option<Standing>,
}

/// How a certificate stands, as something to look for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// In force.
    Current,
    /// Replaced by another.
    Amended,
    /// Withdrawn, legacy or not.
    Withdrawn,
    /// Older than the register, not withdrawn.
    Legacy,
}

impl Standing {
    const fn condition(self) -> &'static str {
        match self {
            Self::Current => "amended_by IS NULL AND withdrawn IS NULL AND NOT legacy",
            Self::Amended => "amended_by IS NOT NULL",
            Self::Withdrawn => "withdrawn IS NOT NULL",
            Self::Legacy => "legacy AND withdrawn IS NULL",
        }
    }
}

/// One text a certificate must have.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Term {
    /// Where; anywhere if `None`.
    pub facet: Option<Facet>,
    /// The text; surrounding spaces do not count.
    pub text: String,
    /// The whole value, instead of a part of it.
    pub exact: bool,
}

/// One certificate found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Found {
    /// Its number.
    pub number: String,
    /// When it was issued, RFC 3339 UTC; when it was registered, of a legacy one.
    pub at: String,
    /// How it stands.
    pub status: Status,
    /// What it is filed under.
    pub facets: Vec<(Facet, String)>,
    /// Whether it is older than the register: registered as received, not judged.
    pub legacy: bool,
}

/// The form values are compared in.
pub(super) fn folded(text: &str) -> String {
    text.to_lowercase()
}

pub(super) fn find(register: Reading<'_>, query: &Query) -> Result<Vec<Found>, RegisterError> {
    let mut sql = "SELECT number, at, legacy FROM standing".to_owned();
    let mut bound: Vec<Value> = Vec::new();
    let mut conditions: Vec<String> = Vec::new();
    for term in query.terms.iter().filter(|term| !term.text.trim().is_empty()) {
        // No stored value holds a control character, and the index's own parser stops at a NUL.
        if term.text.trim().chars().any(char::is_control) {
            return Ok(Vec::new());
        }
        let mut fits = condition(term, &mut bound).to_owned();
        if let Some(facet) = term.facet {
            fits.push_str(" AND f.facet = ?");
            bound.push(Value::Text(facet.as_str().to_owned()));
        }
        conditions.push(format!("number IN ({fits})"));
    }
    if query.from.is_some() || query.to.is_some() {
        // Days of one form compare as text; a certificate without a day is never within any.
        let day = |day: Option<Date>, open: &str| day.map_or(open.to_owned(), |day| day.to_string());
        bound.push(Value::Text(day(query.from, "0000-01-01")));
        bound.push(Value::Text(day(query.to, "9999-12-31")));
        let days = "SELECT f.number FROM facet f WHERE f.folded BETWEEN ? AND ? AND f.facet = 'date'";
        conditions.push(format!("number IN ({days})"));
    }
    conditions.extend(query.standing.map(|standing| standing.condition().to_owned()));
    for (nth, condition) in conditions.iter().enumerate() {
        sql.push_str(if nth == 0 { " WHERE " } else { " AND " });
        sql.push_str(condition);
    }
    sql.push_str(" ORDER BY position DESC LIMIT ?");
    bound.push(Value::Integer(query.limit.into()));
    let rows: Vec<(String, String, bool)> = register
        .all(&sql, rusqlite::params_from_iter(bound), |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?;
    let found = rows.into_iter().map(|(number, at, legacy)| {
        let status = register.status(&number)?;
        let status = status.ok_or_else(|| RegisterError::UnknownCertificate { number: number.clone() })?;
        Ok(Found { facets: register.facets(&number)?, number, at, status, legacy })
    });
    found.collect()
}

/// The numbers with a facet that fits; what is typed goes to `bound`.
fn condition(term: &Term, bound: &mut Vec<Value>) -> &'static str {
    let text = folded(term.text.trim());
    if term.exact {
        bound.push(Value::Text(text));
        "SELECT f.number FROM facet f WHERE f.folded = ?"
    } else if text.chars().count() >= 3 {
        // Inside a quoted phrase only the quote itself means anything.
        bound.push(Value::Text(format!("\"{}\"", text.replace('"', "\"\""))));
        "SELECT f.number FROM facet_text t JOIN facet f ON f.id = t.rowid WHERE t.folded MATCH ?"
    } else {
        // Everything that begins with it, by the index: up to the last character there is.
        bound.push(Value::Text(text.clone()));
        bound.push(Value::Text(format!("{text}\u{10ffff}")));
        "SELECT f.number FROM facet f WHERE f.folded >= ? AND f.folded < ?"
    }
}
