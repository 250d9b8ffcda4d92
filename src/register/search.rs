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

/// What to look for: every term must fit. Without terms, the latest certificates.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Query {
    /// What must fit.
    pub terms: Vec<Term>,
    /// At most so many rows, the latest first.
    pub limit: u32,
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
    /// When it was issued, RFC 3339 UTC.
    pub at: String,
    /// How it stands.
    pub status: Status,
    /// What it is filed under.
    pub facets: Vec<(Facet, String)>,
}

/// The form values are compared in.
pub(super) fn folded(text: &str) -> String {
    text.to_lowercase()
}

pub(super) fn find(register: Reading<'_>, query: &Query) -> Result<Vec<Found>, RegisterError> {
    let mut sql = "SELECT number, at FROM standing".to_owned();
    let mut bound: Vec<Value> = Vec::new();
    let terms = query.terms.iter().filter(|term| !term.text.trim().is_empty());
    for (nth, term) in terms.enumerate() {
        // No stored value holds a control character, and the index's own parser stops at a NUL.
        if term.text.trim().chars().any(char::is_control) {
            return Ok(Vec::new());
        }
        sql.push_str(if nth == 0 { " WHERE number IN (" } else { " AND number IN (" });
        sql.push_str(condition(term, &mut bound));
        if let Some(facet) = term.facet {
            sql.push_str(" AND f.facet = ?");
            bound.push(Value::Text(facet.as_str().to_owned()));
        }
        sql.push(')');
    }
    sql.push_str(" ORDER BY position DESC LIMIT ?");
    bound.push(Value::Integer(query.limit.into()));
    let rows: Vec<(String, String)> =
        register.all(&sql, rusqlite::params_from_iter(bound), |row| Ok((row.get(0)?, row.get(1)?)))?;
    let found = rows.into_iter().map(|(number, at)| {
        let status = register.status(&number)?;
        let status = status.ok_or_else(|| RegisterError::UnknownCertificate { number: number.clone() })?;
        Ok(Found { facets: register.facets(&number)?, number, at, status })
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
