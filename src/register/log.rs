//! The register as a log for others: roots of past sizes, signed heads, hashes and public leaves.

use super::Register;
use super::error::RegisterError;
use super::reading::from_stored;
use super::reading::to_stored;
use crate::merkle::Hash;

impl Register {
    /// The root over the first `size` entries; `None` when there are not as many.
    ///
    /// # Errors
    /// When the database cannot be read or hashes are missing.
    pub fn root_at(&self, size: u64) -> Result<Option<Hash>, RegisterError> {
        let reading = self.reading();
        if size > reading.size()? {
            return Ok(None);
        }
        Ok(Some(reading.frontier(size)?.root()))
    }

    /// The signed head of exactly `size` entries.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn signed_at(&self, size: u64) -> Result<Option<String>, RegisterError> {
        self.reading().checkpoint(size)
    }

    /// The sizes at which a head was signed, smallest first.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn signed_sizes(&self) -> Result<Vec<u64>, RegisterError> {
        self.reading()
            .all("SELECT size FROM checkpoint ORDER BY size", [], |row| Ok(from_stored(row.get(0)?)))
    }

    /// `count` hashes of complete subtrees of 2^`level` entries, from the `from`-th on.
    ///
    /// # Errors
    /// When one is not there.
    pub fn hashes(&self, level: u8, from: u64, count: u64) -> Result<Vec<Hash>, RegisterError> {
        let reading = self.reading();
        (from..from.saturating_add(count)).map(|place| reading.node(level, place)).collect()
    }

    /// The public leaves of `count` entries from `from` on, as the tree hashes them.
    ///
    /// # Errors
    /// When the database cannot be read, or has not as many.
    pub fn leaves(&self, from: u64, count: u64) -> Result<Vec<Vec<u8>>, RegisterError> {
        let sql = "SELECT leaf FROM entry WHERE position >= ?1 AND position < ?2 ORDER BY position";
        let range = (to_stored(from)?, to_stored(from.saturating_add(count))?);
        let leaves = self.reading().all(sql, range, |row| Ok(row.get::<_, String>(0)?.into_bytes()))?;
        if leaves.len() as u64 != count {
            let what = format!("{} of {count} entries are there", leaves.len());
            return Err(RegisterError::Damaged { position: from, what });
        }
        Ok(leaves)
    }
}
