//! Adding entries: all of a batch or none, under one lock, with one signed head.

use rusqlite::Params;
use rusqlite::TransactionBehavior;
use serde_json::Value;

use super::Head;
use super::Register;
use super::certificate::Facet;
use super::certificate::Filed;
use super::certificate::NewCertificate;
use super::certificate::StoredCertificate;
use super::certificate::number_of;
use super::certificate::series_of;
use super::entry::Entry;
use super::entry::Kind;
use super::entry::Leaf;
use super::entry::NewEntry;
use super::entry::Rest;
use super::entry::Status;
use super::entry::canonical;
use super::entry::hex_of;
use super::entry::is_instant;
use super::entry::rest_digest;
use super::error::RegisterError;
use super::kept;
use super::kept::KeptHead;
use super::reading::Reading;
use super::reading::to_stored;
use super::rules;
use super::rules::Known;
use super::search;
use super::search::Found;
use super::search::Query;
use super::search::Term;
use super::search::folded;
use crate::merkle;
use crate::merkle::Frontier;
use crate::merkle::Hash;

/// Signs a head: origin, size and root give the whole checkpoint text, or why there is none.
pub type Sign<'a> = dyn Fn(&str, u64, &Hash) -> Result<String, String> + 'a;

/// A batch of entries being added. Dropped without [`Transaction::commit`], nothing was added.
///
/// While it lives no other program can write; reading goes on. A refused entry leaves the batch as
/// it was; after a failed write only dropping is left.
pub struct Transaction<'a> {
    register: &'a Register,
    tx: rusqlite::Transaction<'a>,
    origin: String,
    now: String,
    frontier: Frontier,
    broken: bool,
}

impl<'a> Transaction<'a> {
    /// Takes the lock, then checks the kept head and the clock against what is there by then.
    pub(super) fn begin(
        register: &'a Register,
        now: &str,
        by_now: &dyn Fn() -> String,
    ) -> Result<Self, RegisterError> {
        if !is_instant(now) {
            return Err(RegisterError::BadTime { found: now.to_owned() });
        }
        // A deferred transaction would fail, not wait, when two writers upgrade at once.
        let tx = rusqlite::Transaction::new_unchecked(&register.db, TransactionBehavior::Immediate)?;
        let reading = Reading(&register.db);
        if let KeptHead::Refused { why } = kept::compare(register.head_file.as_deref(), reading)? {
            return Err(RegisterError::KeptHead(why));
        }
        let size = reading.size()?;
        let mut now = now.to_owned();
        if let Some(last) = reading.last_time()?
            && now < last
        {
            let by_now = by_now();
            if !is_instant(&by_now) || by_now < last {
                return Err(RegisterError::ClockBehind { now: by_now.max(now), last });
            }
            now = last;
        }
        let (origin, frontier) = (reading.origin()?, reading.frontier(size)?);
        Ok(Self { register, tx, origin, now, frontier, broken: false })
    }

    /// For a new file: the transaction that will hold the first entry.
    pub(super) fn first(
        register: &'a Register,
        tx: rusqlite::Transaction<'a>,
        origin: &str,
        now: &str,
    ) -> Self {
        let (origin, now) = (origin.to_owned(), now.to_owned());
        Self { register, tx, origin, now, frontier: Frontier::default(), broken: false }
    }

    fn reading(&self) -> Reading<'_> {
        Reading(&self.tx)
    }

    /// The head as it would be if this batch were committed now, not signed unless nothing was added.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn head(&self) -> Result<Head, RegisterError> {
        let size = self.frontier.size();
        let checkpoint = self.reading().checkpoint(size)?;
        Ok(Head { origin: self.origin.clone(), size, root: self.frontier.root(), checkpoint })
    }

    /// The next number of a series, as in `LBF-2026-000124`; without gaps, because it is taken
    /// under the lock and only a committed certificate uses one up.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn next_number(&self, prefix: &str, year: u16) -> Result<String, RegisterError> {
        let series = format!("{prefix}-{year:04}");
        let next = self.reading().last_serial(&series)?.saturating_add(1);
        Ok(number_of(&series, next))
    }

    /// The next `count` numbers of a series, in turn, for a batch that is drawn before it is added.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn next_numbers(&self, prefix: &str, year: u16, count: u64) -> Result<Vec<String>, RegisterError> {
        let series = format!("{prefix}-{year:04}");
        let last = self.reading().last_serial(&series)?;
        Ok((1..=count).map(|turn| number_of(&series, last.saturating_add(turn))).collect())
    }

    /// The certificate in force for a shipment with its input digest, this batch included.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn for_shipment(&self, shipment: &str) -> Result<Option<(String, String)>, RegisterError> {
        self.reading().for_shipment(shipment)
    }

    /// All entries of a kind, in order, this batch included.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn of_kind(&self, kind: Kind) -> Result<Vec<Entry>, RegisterError> {
        self.reading().entries("WHERE kind = ?1", [kind.as_str()])
    }

    /// The latest certificate of a shipment, however it stands, and the position of its entry; this batch included.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn latest_of(&self, shipment: &str) -> Result<Option<(String, u64)>, RegisterError> {
        self.reading().latest_of(shipment)
    }

    /// Pieces of a lot certified so far, net of what was withdrawn or replaced, this batch included.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn certified(&self, lot: &str) -> Result<u64, RegisterError> {
        Ok(rules::total(&self.reading().holders(lot)?))
    }

    /// Finds certificates, the latest first, this batch included.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn find(&self, query: &Query) -> Result<Vec<Found>, RegisterError> {
        search::find(self.reading(), query)
    }

    /// A certificate with its files, this batch included.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn certificate(&self, number: &str) -> Result<Option<StoredCertificate>, RegisterError> {
        self.reading().certificate(number)
    }

    /// The certificates in force that certify pieces of a lot: number, pieces and data; this batch included.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn holders(&self, lot: &str) -> Result<Vec<(String, u64, Vec<u8>)>, RegisterError> {
        let reading = self.reading();
        let held = reading.holders(lot)?;
        held.into_iter()
            .map(|(number, pieces)| Ok((number.clone(), pieces, reading.data(&number)?)))
            .collect()
    }

    /// The certificates in force that are filed under a lot, whether they certify pieces of it or of a lot made
    /// from it: number and data; this batch included.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn filed_under_lot(&self, lot: &str) -> Result<Vec<(String, Vec<u8>)>, RegisterError> {
        let reading = self.reading();
        let term = Term { facet: Some(Facet::Lot), text: lot.to_owned(), exact: true };
        let found = search::find(
            reading,
            &Query { terms: vec![term], limit: u32::MAX, from: None, to: None, standing: None },
        )?;
        let current = found.into_iter().filter(|f| f.status == Status::Current);
        current.map(|f| Ok((f.number.clone(), reading.data(&f.number)?))).collect()
    }

    /// A legacy certificate that stands and names a lot, so that nothing of the lot can be certified here.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn legacy_of(&self, lot: &str) -> Result<Option<String>, RegisterError> {
        self.reading().legacy_of(lot)
    }

    /// How a certificate stands, this batch included.
    ///
    /// # Errors
    /// When there is none of that number.
    pub fn status(&self, number: &str) -> Result<Status, RegisterError> {
        let status = self.reading().status(number)?;
        status.ok_or_else(|| RegisterError::UnknownCertificate { number: number.to_owned() })
    }

    /// The certificate in force made from these facts, this batch included.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn by_input(&self, digest: &str) -> Result<Option<String>, RegisterError> {
        self.reading().by_input(digest)
    }

    /// Everything that happened to a certificate, this batch included.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn history(&self, number: &str) -> Result<Vec<Entry>, RegisterError> {
        self.reading().history(number)
    }

    /// What a certificate is filed under; nothing when there is none of that number.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn facets(&self, number: &str) -> Result<Vec<(Facet, String)>, RegisterError> {
        self.reading().facets(number)
    }

    /// Adds an entry, with its certificate if it is an issue, amendment or legacy; answers its position.
    ///
    /// # Errors
    /// A refusal (the variants from [`RegisterError::BadEntry`] to [`RegisterError::NotCurrent`])
    /// leaves the batch as it was; any other error leaves it fit for dropping only.
    pub fn append(
        &mut self,
        entry: NewEntry,
        certificate: Option<NewCertificate>,
    ) -> Result<u64, RegisterError> {
        if entry.kind == Kind::Genesis {
            let what = "only creating a register adds one".to_owned();
            return Err(RegisterError::BadEntry { kind: "genesis", what });
        }
        self.add(entry, certificate, None)
    }

    /// Adds any entry; only the first names the register.
    pub(super) fn add(
        &mut self,
        entry: NewEntry,
        certificate: Option<NewCertificate>,
        origin: Option<String>,
    ) -> Result<u64, RegisterError> {
        if self.broken {
            return Err(RegisterError::Broken);
        }
        let filed = certificate.as_ref().map(|c| c.file(entry.kind)).transpose()?;
        if let Some(certificate) = &certificate
            && entry.number.as_deref() != Some(certificate.number.as_str())
        {
            let what = format!("its number is not its certificate's, {}", certificate.number);
            return Err(RegisterError::BadEntry { kind: entry.kind.as_str(), what });
        }
        let (stamp, pdf_sha256) = match (&certificate, entry.kind, &entry.number) {
            (Some(new), ..) => (Some(new.stamp.clone()), Some(hex_of(&merkle::sha256(&new.pdf)))),
            (None, kind, Some(number)) if rules::handed_out(kind) => {
                let issued = self.reading().issued(number)?;
                let unknown = || RegisterError::UnknownCertificate { number: number.clone() };
                issued.map(|entry| (entry.stamp, entry.pdf_sha256)).ok_or_else(unknown)?
            }
            _ => (None, None),
        };
        let rest = Rest { detail: entry.detail, filed, origin };
        let rest_bytes = canonical(&rest)?;
        let leaf = Leaf {
            at: self.now.clone(),
            kind: entry.kind,
            number: entry.number,
            pdf_sha256,
            replaces: entry.replaces,
            rest: rest_digest(&entry.salt, &rest_bytes),
            stamp,
        };
        let position = self.frontier.size();
        rules::admit(&self.reading(), position, &leaf, &rest.detail, rest.filed.as_ref())?;
        let leaf_bytes = canonical(&leaf)?;
        // From here on a failure may leave half an entry in the transaction.
        self.broken = true;
        self.store(position, &leaf_bytes, &rest_bytes, &entry.salt)?;
        if let (Some(certificate), Some(filed)) = (&certificate, &rest.filed) {
            self.store_certificate(position, leaf.kind, certificate, filed)?;
        }
        self.broken = false;
        Ok(position)
    }

    fn store(
        &mut self,
        position: u64,
        leaf: &[u8],
        rest: &[u8],
        salt: &[u8; 32],
    ) -> Result<(), RegisterError> {
        let text = |bytes| std::str::from_utf8(bytes).map_err(|e| RegisterError::Canonical(e.to_string()));
        let row = (to_stored(position)?, text(leaf)?, salt, text(rest)?);
        self.write("INSERT INTO entry (position, leaf, salt, rest) VALUES (?1, ?2, ?3, ?4)", row)?;
        for node in self.frontier.push(merkle::leaf(leaf)) {
            let row = (node.level, to_stored(node.index)?, node.hash);
            self.write("INSERT INTO node (level, place, hash) VALUES (?1, ?2, ?3)", row)?;
        }
        Ok(())
    }

    fn store_certificate(
        &self,
        position: u64,
        kind: Kind,
        certificate: &NewCertificate,
        filed: &Filed,
    ) -> Result<(), RegisterError> {
        let number = certificate.number.as_str();
        let bad = |what: String| RegisterError::BadEntry { kind: kind.as_str(), what };
        let (series, serial) = match series_of(number) {
            // A legacy number is nobody's turn, whatever it looks like.
            _ if kind == Kind::Legacy => (None, None),
            Some((series, serial)) => (Some(series), Some(to_stored(serial)?)),
            None => return Err(bad(format!("its number reads {number:?}"))),
        };
        self.write(
            "INSERT INTO certificate (number, position, series, serial, input, shipment, signer, data, pdf, evidence)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
            (
                number,
                to_stored(position)?,
                series,
                serial,
                &filed.input,
                &filed.shipment,
                &filed.signer,
                &certificate.data,
                &certificate.pdf,
                &certificate.evidence,
            ),
        )?;
        for lot in &filed.lots {
            let (pieces, accepted) =
                lot.counts().ok_or_else(|| bad(format!("lot {}: its counts are no numbers", lot.lot)))?;
            self.write(
                "INSERT INTO piece (number, lot, pieces, accepted) VALUES (?1, ?2, ?3, ?4)",
                (number, &lot.lot, to_stored(pieces)?, to_stored(accepted)?),
            )?;
        }
        // One statement for all of them, and then in the order of their ids: the full-text index
        // writes itself out after each statement with a trigger, and whenever an id goes back.
        let facets: Vec<[String; 3]> = filed
            .facets
            .iter()
            .map(|(facet, value)| [facet.as_str().to_owned(), value.clone(), folded(value)])
            .collect();
        let facets = serde_json::to_string(&facets).map_err(|e| RegisterError::Canonical(e.to_string()))?;
        self.write(
            "INSERT INTO facet (number, facet, value, folded)
             SELECT ?1, value ->> 0, value ->> 1, value ->> 2 FROM json_each(?2)",
            (number, facets),
        )?;
        self.write(
            "INSERT INTO facet_text (rowid, folded) SELECT id, folded FROM facet WHERE number = ?1 ORDER BY id",
            [number],
        )?;
        for (turn, one) in filed.uses.iter().enumerate() {
            self.write(
                "INSERT INTO used (number, turn, lot, thing, name, folded, first, last, how)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
                (
                    number,
                    to_stored(turn as u64)?,
                    &one.lot,
                    one.thing.name(),
                    &one.name,
                    folded(&one.name),
                    one.first.map(|day| day.to_string()),
                    one.last.to_string(),
                    &one.how,
                ),
            )?;
        }
        Ok(())
    }

    fn write(&self, sql: &str, row: impl Params) -> Result<(), RegisterError> {
        self.register.step(sql)?;
        self.tx.prepare_cached(sql)?.execute(row)?;
        Ok(())
    }

    /// Signs the head and commits, then keeps the head outside the database. A batch without
    /// entries signs the head there is, unless it is signed already.
    ///
    /// # Errors
    /// [`RegisterError::HeadNotKept`] when the entries are in but the head could not be kept; with
    /// every other error nothing was added.
    pub fn commit(self, sign: &Sign<'_>) -> Result<Head, RegisterError> {
        if self.broken {
            return Err(RegisterError::Broken);
        }
        let mut head = self.head()?;
        if head.checkpoint.is_none() {
            let text = sign(&head.origin, head.size, &head.root).map_err(RegisterError::Sign)?;
            let expected = merkle::head_text(&head.origin, head.size, &head.root) + "\n";
            if !text.starts_with(&expected) {
                return Err(RegisterError::Sign("what came back is not about this head".to_owned()));
            }
            let row = (to_stored(head.size)?, &text);
            self.write("INSERT INTO checkpoint (size, text) VALUES (?1, ?2)", row)?;
            head.checkpoint = Some(text);
        }
        let register = self.register;
        self.commit_unsigned()?;
        register.keep_head().map_err(|error| RegisterError::HeadNotKept(error.to_string()))?;
        Ok(head)
    }

    /// Commits without a signed head.
    pub(super) fn commit_unsigned(self) -> Result<(), RegisterError> {
        self.register.step("COMMIT")?;
        Ok(self.tx.commit()?)
    }
}

/// The detail of a genesis entry is the caller's; its name is added here.
pub(super) fn genesis(detail: Value, salt: [u8; 32]) -> NewEntry {
    NewEntry { kind: Kind::Genesis, number: None, replaces: None, detail, salt }
}
