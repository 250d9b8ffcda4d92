//! Questions to the database, asked alike inside a transaction and outside of one.

use rusqlite::Connection;
use rusqlite::OptionalExtension;
use rusqlite::Params;
use rusqlite::Row;

use super::certificate::Facet;
use super::certificate::StoredCertificate;
use super::entry::Entry;
use super::entry::Kind;
use super::entry::Leaf;
use super::entry::Rest;
use super::entry::Status;
use super::error::RegisterError;
use super::rules::Known;
use super::rules::legacy_key;
use super::rules::reason;
use super::search::folded;
use crate::merkle::Frontier;
use crate::merkle::Hash;

/// A connection to read over.
#[derive(Clone, Copy)]
pub(super) struct Reading<'a>(pub &'a Connection);

/// A count or position as the database keeps it.
pub(super) fn to_stored(count: u64) -> Result<i64, RegisterError> {
    i64::try_from(count).map_err(|_| RegisterError::Canonical(format!("{count} is too large")))
}

/// A count or position as read; the schema keeps it from being negative.
pub(super) fn from_stored(count: i64) -> u64 {
    u64::try_from(count).unwrap_or(0)
}

impl Reading<'_> {
    /// Every row of a query, each read by `read`.
    pub(super) fn all<T>(
        self,
        sql: &str,
        params: impl Params,
        read: impl FnMut(&Row<'_>) -> rusqlite::Result<T>,
    ) -> Result<Vec<T>, RegisterError> {
        let mut statement = self.0.prepare_cached(sql)?;
        let rows = statement.query_map(params, read)?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    fn one<T>(
        self,
        sql: &str,
        params: impl Params,
        read: impl FnOnce(&Row<'_>) -> rusqlite::Result<T>,
    ) -> Result<Option<T>, RegisterError> {
        Ok(self.0.prepare_cached(sql)?.query_row(params, read).optional()?)
    }

    /// How many entries there are.
    pub(super) fn size(self) -> Result<u64, RegisterError> {
        let last: Option<i64> = self.one("SELECT max(position) FROM entry", [], |row| row.get(0))?.flatten();
        Ok(last.map_or(0, |last| from_stored(last) + 1))
    }

    /// A stored subtree hash.
    pub(super) fn node(self, level: u8, place: u64) -> Result<Hash, RegisterError> {
        let sql = "SELECT hash FROM node WHERE level = ?1 AND place = ?2";
        let hash: Option<Hash> = self.one(sql, (level, to_stored(place)?), |row| row.get(0))?;
        hash.ok_or_else(|| RegisterError::Damaged {
            position: place.checked_shl(u32::from(level)).unwrap_or(place),
            what: format!("the hash of level {level}, place {place} is gone"),
        })
    }

    /// The tree of the first `size` entries, from stored hashes.
    pub(super) fn frontier(self, size: u64) -> Result<Frontier, RegisterError> {
        Frontier::load(size, |level, place| self.node(level, place))
    }

    /// The signed head of exactly `size` entries.
    pub(super) fn checkpoint(self, size: u64) -> Result<Option<String>, RegisterError> {
        self.one("SELECT text FROM checkpoint WHERE size = ?1", [to_stored(size)?], |row| row.get(0))
    }

    /// The register's name, from its first entry.
    pub(super) fn origin(self) -> Result<String, RegisterError> {
        let rest: Option<String> =
            self.one("SELECT rest FROM entry WHERE position = 0", [], |row| row.get(0))?;
        let rest: Option<Rest> = rest.and_then(|rest| serde_json::from_str(&rest).ok());
        rest.and_then(|rest| rest.origin)
            .ok_or_else(|| RegisterError::Damaged { position: 0, what: "it names no register".to_owned() })
    }

    /// The time of the last entry.
    pub(super) fn last_time(self) -> Result<Option<String>, RegisterError> {
        self.one("SELECT at FROM entry ORDER BY position DESC LIMIT 1", [], |row| row.get(0))
    }

    /// Entries chosen by the end of a query, in order.
    pub(super) fn entries(self, chosen: &str, params: impl Params) -> Result<Vec<Entry>, RegisterError> {
        let sql = format!("SELECT position, leaf, rest, salt FROM entry {chosen} ORDER BY position");
        self.all(&sql, params, stored_entry)?.into_iter().map(StoredEntry::read).collect()
    }

    /// Everything that happened to a certificate, in order, the amendment that replaced it included.
    pub(super) fn history(self, number: &str) -> Result<Vec<Entry>, RegisterError> {
        self.entries("WHERE number = ?1 OR replaces = ?1", [number])
    }

    /// The number of the legacy certificate with this file; one that stands before one withdrawn.
    pub(super) fn legacy_by_file(self, pdf_sha256: &str) -> Result<Option<String>, RegisterError> {
        let sql = "SELECT c.number FROM certificate c JOIN standing s ON s.number = c.number
                   WHERE c.shipment = ?1 AND s.legacy ORDER BY s.withdrawn IS NOT NULL, c.position DESC";
        self.one(sql, [legacy_key(pdf_sha256)], |row| row.get(0))
    }

    /// The number of the certificate in force that was made from `input`.
    pub(super) fn by_input(self, input: &str) -> Result<Option<String>, RegisterError> {
        let sql = "SELECT s.number FROM certificate c JOIN standing s ON s.number = c.number
                   WHERE c.input = ?1 AND s.amended_by IS NULL AND s.withdrawn IS NULL AND NOT s.legacy";
        self.one(sql, [input], |row| row.get(0))
    }

    /// The latest certificate of a shipment, however it stands, and the position of its entry.
    pub(super) fn latest_of(self, shipment: &str) -> Result<Option<(String, u64)>, RegisterError> {
        let sql =
            "SELECT number, position FROM certificate WHERE shipment = ?1 ORDER BY position DESC LIMIT 1";
        self.one(sql, [shipment], |row| Ok((row.get(0)?, from_stored(row.get(1)?))))
    }

    /// The number of the certificate whose data have this stamp.
    pub(super) fn by_stamp(self, stamp: &str) -> Result<Option<String>, RegisterError> {
        let sql = "SELECT number FROM entry WHERE stamp = ?1 AND kind IN ('issue', 'amendment', 'legacy')";
        self.one(sql, [stamp], |row| row.get(0))
    }

    /// A certificate's columns and files, nothing checked.
    pub(super) fn certificate_row(self, number: &str) -> Result<Option<CertificateRow>, RegisterError> {
        let sql = "SELECT position, series, serial, input, shipment, signer, data, pdf, evidence
                   FROM certificate WHERE number = ?1";
        self.one(sql, [number], |row| {
            Ok(CertificateRow {
                position: from_stored(row.get(0)?),
                series: row.get(1)?,
                serial: row.get::<_, Option<i64>>(2)?.map(from_stored),
                input: row.get(3)?,
                shipment: row.get(4)?,
                signer: row.get(5)?,
                data: row.get(6)?,
                pdf: row.get(7)?,
                evidence: row.get(8)?,
            })
        })
    }

    /// The entry that issued a certificate.
    /// A certificate's data alone; empty when there is none of that number.
    pub(super) fn data(self, number: &str) -> Result<Vec<u8>, RegisterError> {
        let data = self.one("SELECT data FROM certificate WHERE number = ?1", [number], |row| row.get(0))?;
        Ok(data.unwrap_or_default())
    }

    pub(super) fn issued(self, number: &str) -> Result<Option<Entry>, RegisterError> {
        Ok(self.entries("WHERE number = ?1 AND kind IN ('issue', 'amendment', 'legacy')", [number])?.pop())
    }

    /// A certificate with its files.
    pub(super) fn certificate(self, number: &str) -> Result<Option<StoredCertificate>, RegisterError> {
        let Some(row) = self.certificate_row(number)? else { return Ok(None) };
        let damaged = |what: &str| RegisterError::Damaged { position: row.position, what: what.to_owned() };
        let entry = self.issued(number)?.ok_or_else(|| damaged("its certificate is there without it"))?;
        let status = self.status(number)?.ok_or_else(|| damaged("its certificate has no standing"))?;
        let (Some(stamp), Some(pdf_sha256)) = (entry.stamp, entry.pdf_sha256) else {
            return Err(damaged("it has no digests of its certificate"));
        };
        Ok(Some(StoredCertificate {
            number: number.to_owned(),
            position: row.position,
            at: entry.at,
            stamp,
            pdf_sha256,
            data: row.data,
            pdf: row.pdf,
            input_digest: row.input,
            shipment_key: row.shipment,
            signer: row.signer,
            status,
            legacy: entry.kind == Kind::Legacy,
            evidence: row.evidence,
        }))
    }

    /// Rows in one of our tables.
    pub(super) fn count(self, table: &'static str) -> Result<u64, RegisterError> {
        let rows: Option<i64> = self.one(&format!("SELECT count(*) FROM {table}"), [], |row| row.get(0))?;
        Ok(rows.map_or(0, from_stored))
    }

    /// What a certificate is found by.
    pub(super) fn facets(self, number: &str) -> Result<Vec<(Facet, String)>, RegisterError> {
        let sql = "SELECT facet, value FROM facet WHERE number = ?1";
        let rows: Vec<(String, String)> = self.all(sql, [number], |row| Ok((row.get(0)?, row.get(1)?)))?;
        let mut facets: Vec<_> =
            rows.into_iter().filter_map(|(facet, value)| Some((Facet::parse(&facet)?, value))).collect();
        facets.sort();
        Ok(facets)
    }
}

impl Known for Reading<'_> {
    fn status(&self, number: &str) -> Result<Option<Status>, RegisterError> {
        let sql = "SELECT amended_by, withdrawn, legacy FROM standing WHERE number = ?1";
        let read = |row: &Row<'_>| {
            Ok((row.get::<_, Option<String>>(0)?, row.get::<_, Option<i64>>(1)?, row.get::<_, bool>(2)?))
        };
        Ok(match self.one(sql, [number], read)? {
            None => None,
            Some((Some(by), ..)) => Some(Status::Amended { by }),
            Some((None, Some(position), _)) => {
                let entries = self.entries("WHERE position = ?1", [position])?;
                let entry = entries.first().ok_or_else(|| RegisterError::Damaged {
                    position: from_stored(position),
                    what: "a withdrawal is gone".to_owned(),
                })?;
                let reason = reason(&entry.detail)?.to_owned();
                Some(Status::Withdrawn { reason, at: entry.at.clone() })
            }
            Some((None, None, true)) => Some(Status::Legacy),
            Some((None, None, false)) => Some(Status::Current),
        })
    }

    fn holders(&self, lot: &str) -> Result<Vec<(String, u64)>, RegisterError> {
        let sql = "SELECT p.number, p.pieces FROM piece p JOIN standing s ON s.number = p.number
                   WHERE p.lot = ?1 AND s.amended_by IS NULL AND s.withdrawn IS NULL ORDER BY p.number";
        self.all(sql, [lot], |row| Ok((row.get(0)?, from_stored(row.get(1)?))))
    }

    fn for_shipment(&self, shipment: &str) -> Result<Option<(String, String)>, RegisterError> {
        let sql = "SELECT c.number, c.input FROM certificate c JOIN standing s ON s.number = c.number
                   WHERE c.shipment = ?1 AND s.amended_by IS NULL AND s.withdrawn IS NULL";
        self.one(sql, [shipment], |row| Ok((row.get(0)?, row.get(1)?)))
    }

    fn last_serial(&self, series: &str) -> Result<u64, RegisterError> {
        let sql = "SELECT max(serial) FROM certificate WHERE series = ?1";
        let last: Option<i64> = self.one(sql, [series], |row| row.get(0))?.flatten();
        Ok(last.map_or(0, from_stored))
    }

    fn legacy_of(&self, lot: &str) -> Result<Option<String>, RegisterError> {
        let sql = "SELECT s.number FROM facet f JOIN standing s ON s.number = f.number
                   WHERE f.folded = ?1 AND f.facet = 'lot' AND s.legacy AND s.withdrawn IS NULL
                   ORDER BY s.position";
        self.one(sql, [folded(lot)], |row| row.get(0))
    }
}

/// A certificate's columns.
pub(super) struct CertificateRow {
    pub position: u64,
    pub series: Option<String>,
    pub serial: Option<u64>,
    pub input: String,
    pub shipment: String,
    pub signer: String,
    pub data: Vec<u8>,
    pub pdf: Vec<u8>,
    pub evidence: Option<Vec<u8>>,
}

/// An entry's columns, nothing checked.
pub(super) struct StoredEntry {
    pub position: u64,
    pub leaf: String,
    pub rest: String,
    pub salt: Vec<u8>,
}

pub(super) fn stored_entry(row: &Row<'_>) -> rusqlite::Result<StoredEntry> {
    Ok(StoredEntry {
        position: from_stored(row.get(0)?),
        leaf: row.get(1)?,
        rest: row.get(2)?,
        salt: row.get(3)?,
    })
}

impl StoredEntry {
    /// Leaf and rest as values.
    pub(super) fn parse(&self) -> Result<(Leaf, Rest), RegisterError> {
        let damaged = |what: String| RegisterError::Damaged { position: self.position, what };
        let leaf =
            serde_json::from_str(&self.leaf).map_err(|e| damaged(format!("its leaf is unreadable: {e}")))?;
        let rest =
            serde_json::from_str(&self.rest).map_err(|e| damaged(format!("its rest is unreadable: {e}")))?;
        Ok((leaf, rest))
    }

    fn read(self) -> Result<Entry, RegisterError> {
        let (leaf, rest): (Leaf, Rest) = self.parse()?;
        let salt = self.salt.as_slice().try_into().map_err(|_| RegisterError::Damaged {
            position: self.position,
            what: "its salt is not 32 bytes".to_owned(),
        })?;
        Ok(Entry {
            position: self.position,
            kind: leaf.kind,
            at: leaf.at,
            number: leaf.number,
            stamp: leaf.stamp,
            pdf_sha256: leaf.pdf_sha256,
            replaces: leaf.replaces,
            detail: rest.detail,
            leaf: self.leaf.into_bytes(),
            rest: self.rest.into_bytes(),
            salt,
        })
    }
}
