//! Which certificates rest on a thing that proved wrong.

use rusqlite::Row;

use super::certificate::Facet;
use super::entry::Status;
use super::error::RegisterError;
use super::reading::Reading;
use super::reading::from_stored;
use super::rules::Known;
use super::search::folded;
use crate::certificate::Thing;
use crate::certificate::Use;
use crate::moment::Date;

/// What proved wrong, and when. An end left out is open.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Asked {
    /// The kind of thing.
    pub thing: Thing,
    /// Which, whole; letter case and surrounding spaces do not matter.
    pub name: String,
    /// First day.
    pub from: Option<Date>,
    /// Last day.
    pub to: Option<Date>,
}

/// A certificate that rests on it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Resting {
    /// Its number.
    pub number: String,
    /// When it was issued, RFC 3339 UTC.
    pub at: String,
    /// How it stands.
    pub status: Status,
    /// What it is filed under.
    pub facets: Vec<(Facet, String)>,
    /// The uses that were asked for.
    pub uses: Vec<Use>,
    /// The lots of those uses, and how many pieces of each it certifies.
    pub pieces: Vec<(String, u64)>,
}

/// A row of the table, nothing checked.
pub(super) struct UsedRow {
    pub number: String,
    pub lot: String,
    pub thing: String,
    pub name: String,
    pub first: Option<String>,
    pub last: String,
    pub how: String,
}

pub(super) fn used_row(row: &Row<'_>) -> rusqlite::Result<UsedRow> {
    Ok(UsedRow {
        number: row.get(0)?,
        lot: row.get(1)?,
        thing: row.get(2)?,
        name: row.get(3)?,
        first: row.get(4)?,
        last: row.get(5)?,
        how: row.get(6)?,
    })
}

impl UsedRow {
    /// The use it stands for, if it is one.
    pub(super) fn read(&self) -> Option<Use> {
        Some(Use {
            lot: self.lot.clone(),
            thing: Thing::ALL.into_iter().find(|thing| thing.name() == self.thing)?,
            name: self.name.clone(),
            first: match &self.first {
                Some(day) => Some(day.parse().ok()?),
                None => None,
            },
            last: self.last.parse().ok()?,
            how: self.how.clone(),
        })
    }
}

/// The certificates that rest on it within the days asked, the latest first.
pub(super) fn resting(register: Reading<'_>, asked: &Asked) -> Result<Vec<Resting>, RegisterError> {
    // Days of one form compare as text.
    let sql = "SELECT u.number, u.lot, u.thing, u.name, u.first, u.last, u.how
               FROM used u JOIN certificate c ON c.number = u.number
               WHERE u.thing = ?1 AND u.folded = ?2 AND u.last >= ?3 AND (u.first IS NULL OR u.first <= ?4)
               ORDER BY c.position DESC, u.turn";
    let day = |day: Option<Date>, open: &str| day.map_or(open.to_owned(), |day| day.to_string());
    let bound = (
        asked.thing.name(),
        folded(asked.name.trim()),
        day(asked.from, "0000-01-01"),
        day(asked.to, "9999-12-31"),
    );
    let mut all: Vec<Resting> = Vec::new();
    for row in register.all(sql, bound, used_row)? {
        let one = row.read().ok_or_else(|| RegisterError::Damaged {
            position: 0,
            what: format!("a use of certificate {} is unreadable", row.number),
        })?;
        match all.last_mut().filter(|last| last.number == row.number) {
            Some(last) => last.uses.push(one),
            None => all.push(started(register, row.number, one)?),
        }
    }
    for certificate in &mut all {
        let sql = "SELECT lot, pieces FROM piece WHERE number = ?1 ORDER BY lot";
        let pieces: Vec<(String, u64)> =
            register.all(sql, [&certificate.number], |row| Ok((row.get(0)?, from_stored(row.get(1)?))))?;
        let used = |lot: &String| certificate.uses.iter().any(|u| u.lot == *lot);
        certificate.pieces = pieces.into_iter().filter(|(lot, _)| used(lot)).collect();
    }
    Ok(all)
}

fn started(register: Reading<'_>, number: String, first: Use) -> Result<Resting, RegisterError> {
    let unknown = || RegisterError::UnknownCertificate { number: number.clone() };
    Ok(Resting {
        at: register.issued(&number)?.ok_or_else(unknown)?.at,
        status: register.status(&number)?.ok_or_else(unknown)?,
        facets: register.facets(&number)?,
        uses: vec![first],
        pieces: Vec::new(),
        number,
    })
}

/// Every name of a kind of thing that any certificate rests on.
pub(super) fn names(register: Reading<'_>, thing: Thing) -> Result<Vec<String>, RegisterError> {
    let sql = "SELECT DISTINCT name FROM used WHERE thing = ?1 ORDER BY name";
    register.all(sql, [thing.name()], |row| row.get(0))
}
