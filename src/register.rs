//! The register: an append-only log of everything issued, in one local SQLite file.
//!
//! Each entry's leaf is hashed into a Merkle tree (RFC 6962); each commit ends in a signed head.
//! Certificates are stored with the entries that issued them, byte for byte. Only this module
//! names the database. It reads no clock, draws no random bytes and holds no key: time and salts
//! are arguments, and the signature comes from a function the caller passes in.
//!
//! Rollback journal and not WAL, because WAL fails on network shares; `synchronous` EXTRA and not
//! FULL, because with FULL a power cut just after a commit may bring the state before it back
//! (SQLite, PRAGMA synchronous), and the head kept outside would then be ahead of the register.

mod audit;
mod backup;
mod certificate;
mod entry;
mod error;
mod kept;
mod log;
mod questions;
mod reading;
mod replay;
mod rules;
mod search;
mod transaction;
mod used;

use std::fmt;
use std::path::Path;
use std::path::PathBuf;
use std::time::Duration;

use rusqlite::Connection;
use rusqlite::OpenFlags;
use rusqlite::TransactionBehavior;
use rusqlite::config::DbConfig;
use serde_json::Value;

use crate::merkle;
use crate::merkle::Hash;

pub use self::audit::AuditReport;
pub use self::audit::Problem;
pub use self::certificate::Facet;
pub use self::certificate::NewCertificate;
pub use self::certificate::StoredCertificate;
pub use self::entry::Entry;
pub use self::entry::Kind;
pub use self::entry::Leaf;
pub use self::entry::NewEntry;
pub use self::entry::Status;
pub use self::error::RegisterError;
pub use self::kept::KeptHead;
pub use self::search::Found;
pub use self::search::Query;
pub use self::search::Standing;
pub use self::search::Term;
pub use self::transaction::Sign;
pub use self::transaction::Transaction;
pub use self::used::Asked;
pub use self::used::Resting;

use self::entry::is_instant;
use self::reading::Reading;

/// The layout this release reads and writes; another is refused, never converted in passing.
const LAYOUT: i64 = 4;
/// Marks the file as a register among SQLite files (`brpf`).
const APPLICATION: i64 = 0x6272_7066;
/// How long to wait for another program that writes.
const PATIENCE: Duration = Duration::from_secs(10);

const SCHEMA: &str = include_str!("register/schema.sql");

/// Asked before each step that changes a file; an answer of `Err` makes that step fail.
#[doc(hidden)]
pub type Fault = Box<dyn Fn(&str) -> Result<(), String> + Send>;

/// The register's size and root at a moment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Head {
    /// Which register: the name of its checkpoint key.
    pub origin: String,
    /// How many entries.
    pub size: u64,
    /// The root over them.
    pub root: Hash,
    /// The signed head of exactly this size, if there is one.
    pub checkpoint: Option<String>,
}

/// An open register.
pub struct Register {
    db: Connection,
    path: PathBuf,
    head_file: Option<PathBuf>,
    fault: Option<Fault>,
}

impl fmt::Debug for Register {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Register({})", self.path.display())
    }
}

impl Register {
    /// Creates a register named `origin`, whose first entry records `genesis_detail` at time `at`.
    /// Its head is signed by the first commit, which may be of an empty batch.
    ///
    /// # Errors
    /// When something is at `path` already, `at` is no time, `origin` does not fit on a line, or the
    /// file cannot be written.
    pub fn create(
        path: &Path,
        origin: &str,
        genesis_detail: Value,
        at: &str,
        salt: [u8; 32],
    ) -> Result<Self, RegisterError> {
        if !is_instant(at) {
            return Err(RegisterError::BadTime { found: at.to_owned() });
        }
        if !certificate::is_line(origin) {
            let what = format!("the register's name reads {origin:?}");
            return Err(RegisterError::BadEntry { kind: "genesis", what });
        }
        let exists = || RegisterError::Exists { path: path.to_owned() };
        // An empty file is what a creation cut short leaves behind.
        if std::fs::metadata(path).is_ok_and(|file| !file.is_file() || file.len() > 0) {
            return Err(exists());
        }
        let register = Self::connect(path, None, OpenFlags::SQLITE_OPEN_CREATE)?;
        let tx = rusqlite::Transaction::new_unchecked(&register.db, TransactionBehavior::Immediate)?;
        let tables: i64 = tx.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
        if tables > 0 {
            return Err(exists());
        }
        tx.execute_batch(SCHEMA)?;
        tx.pragma_update(None, "application_id", APPLICATION)?;
        tx.pragma_update(None, "user_version", LAYOUT)?;
        let mut first = Transaction::first(&register, tx, origin, at);
        first.add(transaction::genesis(genesis_detail, salt), None, Some(origin.to_owned()))?;
        first.commit_unsigned()?;
        Ok(register)
    }

    /// Opens a register. With a `head_file`, the last head is kept there outside the database, and
    /// a register that does not have it in its past can be read but not written
    /// ([`Register::kept_head`] says which it is). A file that cannot be written can be read.
    ///
    /// # Errors
    /// When the file is missing, no register, or of another release's layout.
    pub fn open(path: &Path, head_file: Option<&Path>) -> Result<Self, RegisterError> {
        if !path.is_file() {
            return Err(RegisterError::Missing { path: path.to_owned() });
        }
        let register = Self::connect(path, head_file, OpenFlags::empty())?;
        let pragma = |name| register.db.pragma_query_value(None, name, |row| row.get::<_, i64>(0));
        if pragma("application_id")? != APPLICATION {
            return Err(RegisterError::NotARegister { path: path.to_owned() });
        }
        let found = pragma("user_version")?;
        if found != LAYOUT {
            return Err(RegisterError::OtherRelease { found, expected: LAYOUT });
        }
        Ok(register)
    }

    fn connect(path: &Path, head_file: Option<&Path>, more: OpenFlags) -> Result<Self, RegisterError> {
        // SQLite falls back to reading only where the file cannot be written.
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX | more;
        let db = Connection::open_with_flags(path, flags)?;
        db.busy_timeout(PATIENCE)?;
        db.set_prepared_statement_cache_capacity(64);
        // Without this, SQLite plans a statement anew whenever other values are bound to it.
        db.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_QPSG, true)?;
        let prepare = || {
            db.pragma_update(None, "trusted_schema", false)?;
            db.pragma_update(None, "cell_size_check", true)?;
            db.pragma_update(None, "foreign_keys", true)?;
            db.pragma_update(None, "synchronous", "EXTRA")?;
            db.pragma_update_and_check(None, "journal_mode", "DELETE", |row| row.get::<_, String>(0))
        };
        match prepare() {
            Ok(mode) if mode == "delete" => {}
            Ok(mode) => {
                let source = std::io::Error::other(format!("its journal is {mode} and cannot be changed"));
                return Err(RegisterError::Io { path: path.to_owned(), source });
            }
            Err(error) if error.sqlite_error_code() == Some(rusqlite::ErrorCode::NotADatabase) => {
                return Err(RegisterError::NotARegister { path: path.to_owned() });
            }
            Err(error) => return Err(error.into()),
        }
        let (path, head_file) = (path.to_owned(), head_file.map(Path::to_owned));
        Ok(Self { db, path, head_file, fault: None })
    }

    /// Makes steps fail, to test what a failure leaves behind.
    #[doc(hidden)]
    pub fn set_fault(&mut self, fault: Option<Fault>) {
        self.fault = fault;
    }

    fn step(&self, what: &str) -> Result<(), RegisterError> {
        self.fault.as_ref().map_or(Ok(()), |fault| fault(what).map_err(RegisterError::Fault))
    }

    fn reading(&self) -> Reading<'_> {
        Reading(&self.db)
    }

    /// Begins a batch at time `now` (RFC 3339 UTC, whole seconds), waiting for other writers.
    ///
    /// # Errors
    /// When `now` is earlier than the last entry, the kept head does not fit, or another program
    /// keeps writing.
    pub fn begin(&mut self, now: &str) -> Result<Transaction<'_>, RegisterError> {
        Transaction::begin(self, now, &|| now.to_owned())
    }

    /// The same, where time has passed since `now` was read. Another program may have written meanwhile, at a later
    /// time: when `by_now`, asked once the lock is held, has reached that time, the batch has the last entry's.
    ///
    /// # Errors
    /// As [`Register::begin`]; a clock that was set back is still refused.
    pub fn begin_since(
        &mut self,
        now: &str,
        by_now: &dyn Fn() -> String,
    ) -> Result<Transaction<'_>, RegisterError> {
        Transaction::begin(self, now, by_now)
    }

    /// How the register stands to the head kept outside of it.
    ///
    /// # Errors
    /// When the head file or the database cannot be read.
    pub fn kept_head(&self) -> Result<KeptHead, RegisterError> {
        kept::compare(self.head_file.as_deref(), self.reading())
    }

    /// Writes the current head to the head file. Under the write lock, so that of two writers the
    /// slower one cannot put an older head over a newer.
    fn keep_head(&self) -> Result<(), RegisterError> {
        let Some(path) = &self.head_file else { return Ok(()) };
        let _lock = rusqlite::Transaction::new_unchecked(&self.db, TransactionBehavior::Immediate)?;
        let head = self.head()?;
        let text = head.checkpoint.unwrap_or_else(|| merkle::head_text(&head.origin, head.size, &head.root));
        kept::write(path, &text, &|step| self.step(step))
    }

    /// Size and root now.
    ///
    /// # Errors
    /// When the database cannot be read or hashes are missing.
    pub fn head(&self) -> Result<Head, RegisterError> {
        let reading = self.reading();
        let size = reading.size()?;
        let (origin, root) = (reading.origin()?, reading.frontier(size)?.root());
        Ok(Head { origin, size, root, checkpoint: reading.checkpoint(size)? })
    }

    /// Reads and hashes everything again and compares it with what is stored.
    ///
    /// # Errors
    /// When the file cannot be read at all; what is wrong with its contents is in the report.
    pub fn audit(&self) -> Result<AuditReport, RegisterError> {
        self.audit_with(&|_| Ok(()))
    }

    /// As [`Register::audit`], with each signed head also shown to `check`, which knows the keys.
    ///
    /// # Errors
    /// As [`Register::audit`].
    pub fn audit_with(
        &self,
        check: &dyn Fn(&str) -> Result<(), String>,
    ) -> Result<AuditReport, RegisterError> {
        audit::audit(&self.db, check)
    }

    /// Copies the register to a new file, audits the copy, and only then gives it its name.
    ///
    /// # Errors
    /// When `to` exists, cannot be written, or the copy does not audit.
    pub fn backup(&self, to: &Path) -> Result<AuditReport, RegisterError> {
        backup::backup(self, to)
    }
}
