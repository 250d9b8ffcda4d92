//! What a register answers about its entries and certificates.

use super::Register;
use super::certificate::Facet;
use super::certificate::StoredCertificate;
use super::entry::Entry;
use super::entry::Kind;
use super::entry::Status;
use super::error::RegisterError;
use super::reading::from_stored;
use super::reading::to_stored;
use super::rules;
use super::rules::Known;
use super::search;
use super::search::Found;
use super::search::Query;
use super::used;
use super::used::Asked;
use super::used::Resting;
use crate::certificate::Thing;
use crate::merkle;
use crate::merkle::Hash;

impl Register {
    /// One entry.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn entry(&self, position: u64) -> Result<Option<Entry>, RegisterError> {
        let position = to_stored(position)?;
        Ok(self.reading().entries("WHERE position = ?1", [position])?.pop())
    }

    /// All entries of a kind, in order.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn of_kind(&self, kind: Kind) -> Result<Vec<Entry>, RegisterError> {
        self.reading().entries("WHERE kind = ?1", [kind.as_str()])
    }

    /// The latest certificate of a shipment, however it stands, and the position of its entry.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn latest_of(&self, shipment: &str) -> Result<Option<(String, u64)>, RegisterError> {
        self.reading().latest_of(shipment)
    }

    /// Everything that happened to a certificate, in order, the amendment that replaced it included.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn history(&self, number: &str) -> Result<Vec<Entry>, RegisterError> {
        self.reading().history(number)
    }

    /// A certificate with its files, as they were registered.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn certificate(&self, number: &str) -> Result<Option<StoredCertificate>, RegisterError> {
        self.reading().certificate(number)
    }

    /// How a certificate stands.
    ///
    /// # Errors
    /// When there is none of that number.
    pub fn status(&self, number: &str) -> Result<Status, RegisterError> {
        let status = self.reading().status(number)?;
        status.ok_or_else(|| RegisterError::UnknownCertificate { number: number.to_owned() })
    }

    /// Pieces of a lot certified, net of what was withdrawn or replaced.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn certified(&self, lot: &str) -> Result<u64, RegisterError> {
        Ok(rules::total(&self.reading().holders(lot)?))
    }

    /// The number of the certificate whose data have this stamp, however it stands.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn by_stamp(&self, stamp: &str) -> Result<Option<String>, RegisterError> {
        self.reading().by_stamp(stamp)
    }

    /// The number of the certificate in force that was made from these facts.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn by_input(&self, digest: &str) -> Result<Option<String>, RegisterError> {
        self.reading().by_input(digest)
    }

    /// Finds certificates, the latest first.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn find(&self, query: &Query) -> Result<Vec<Found>, RegisterError> {
        search::find(self.reading(), query)
    }

    /// What a certificate is filed under; nothing when there is none of that number.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn facets(&self, number: &str) -> Result<Vec<(Facet, String)>, RegisterError> {
        self.reading().facets(number)
    }

    /// Lots on a certificate, with how many pieces of each; nothing of a legacy one.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn pieces(&self, number: &str) -> Result<Vec<(String, u64)>, RegisterError> {
        let sql = "SELECT lot, pieces FROM piece WHERE number = ?1 ORDER BY lot";
        self.reading().all(sql, [number], |row| Ok((row.get(0)?, from_stored(row.get(1)?))))
    }

    /// The number of the legacy certificate with this very file, withdrawn or not; SHA-256 in hexadecimal.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn legacy_by_file(&self, pdf_sha256: &str) -> Result<Option<String>, RegisterError> {
        self.reading().legacy_by_file(pdf_sha256)
    }

    /// The certificates that rest on a thing within some days, the latest first.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn resting_on(&self, asked: &Asked) -> Result<Vec<Resting>, RegisterError> {
        used::resting(self.reading(), asked)
    }

    /// Every name of a kind of thing that any certificate rests on, sorted.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn used_names(&self, thing: Thing) -> Result<Vec<String>, RegisterError> {
        used::names(self.reading(), thing)
    }

    /// The proof that entry `index` is among the first `size`, lowest hash first.
    ///
    /// # Errors
    /// When there is no such entry or size.
    pub fn inclusion(&self, index: u64, size: u64) -> Result<Vec<Hash>, RegisterError> {
        let reading = self.reading();
        self.proof(size, merkle::inclusion(index, size, |level, place| reading.node(level, place)))
    }

    /// The proof that the first `old` entries are how the first `new` began.
    ///
    /// # Errors
    /// When there are no such sizes, or `old` is 0.
    pub fn consistency(&self, old: u64, new: u64) -> Result<Vec<Hash>, RegisterError> {
        let reading = self.reading();
        self.proof(new, merkle::consistency(old, new, |level, place| reading.node(level, place)))
    }

    fn proof(
        &self,
        asked: u64,
        proof: Result<Option<Vec<Hash>>, RegisterError>,
    ) -> Result<Vec<Hash>, RegisterError> {
        let size = self.reading().size()?;
        if asked > size {
            return Err(RegisterError::NoSuchProof { size });
        }
        proof?.ok_or(RegisterError::NoSuchProof { size })
    }
}
