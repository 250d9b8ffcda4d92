//! What can keep the register from answering, or make it refuse an entry.

use std::path::PathBuf;

use thiserror::Error;

use super::entry::Status;

/// An error of the register. A refusal leaves the file as it was.
#[derive(Debug, Error)]
pub enum RegisterError {
    /// There is no file at that place.
    #[error("no register at {}", path.display())]
    Missing {
        /// Where it was looked for.
        path: PathBuf,
    },
    /// There is one already, so none is created.
    #[error("{} exists already", path.display())]
    Exists {
        /// The file in the way.
        path: PathBuf,
    },
    /// The file is something else.
    #[error("{} is not a register", path.display())]
    NotARegister {
        /// The file.
        path: PathBuf,
    },
    /// The file has the layout of another release.
    #[error("this register was made by another release: layout {found}, this release reads {expected}")]
    OtherRelease {
        /// The layout found.
        found: i64,
        /// The layout this release reads.
        expected: i64,
    },
    /// Somebody else is writing, and went on for longer than the register waits.
    #[error("the register is busy: another program is writing to it")]
    Busy,
    /// The database answered with an error.
    #[error("the register's database: {0}")]
    Database(rusqlite::Error),
    /// A file beside the database could not be read or written.
    #[error("{}: {source}", path.display())]
    Io {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// What is stored cannot be right.
    #[error("the register is damaged at entry {position}: {what}")]
    Damaged {
        /// The entry.
        position: u64,
        /// What was found.
        what: String,
    },
    /// The clock says an earlier time than the last entry.
    #[error("the clock says {now}, but the last entry was made at {last}")]
    ClockBehind {
        /// What the clock says.
        now: String,
        /// The last entry's time.
        last: String,
    },
    /// Not a time of the one form used.
    #[error("{found:?} is not a time like 2026-11-25T14:05:00Z (UTC, whole seconds)")]
    BadTime {
        /// What was given.
        found: String,
    },
    /// The kept head does not fit: the file was rolled back, replaced or rewritten.
    #[error("this register is not the one written last, so nothing is added: {0}")]
    KeptHead(String),
    /// The entries are in, but the head could not be kept outside the database.
    #[error("the entries are in the register, but its head could not be kept: {0}")]
    HeadNotKept(String),
    /// An entry does not have what its kind needs.
    #[error("this {kind} entry cannot be added: {what}")]
    BadEntry {
        /// Its kind.
        kind: &'static str,
        /// What is wrong.
        what: String,
    },
    /// The certificate's number is not the next of its series.
    #[error("certificate number {found} is out of turn: the next is {expected}")]
    OutOfTurn {
        /// The number given.
        found: String,
        /// The number that is next.
        expected: String,
    },
    /// More pieces of a lot than were accepted.
    #[error(
        "lot {lot}: {accepted} accepted, {certified} certified already{}, so {asked} more cannot be certified",
        held(holders)
    )]
    MoreThanAccepted {
        /// The lot.
        lot: String,
        /// Pieces accepted.
        accepted: u64,
        /// Pieces certified already, net of withdrawn and replaced certificates.
        certified: u64,
        /// Pieces this certificate would add.
        asked: u64,
        /// The certificates that hold them, and how many each.
        holders: Vec<(String, u64)>,
    },
    /// The same shipment with other facts.
    #[error("shipment {shipment} is certified already by {number}, from other facts")]
    ShipmentCertified {
        /// The shipment.
        shipment: String,
        /// The certificate in force.
        number: String,
    },
    /// The same shipment with the same facts.
    #[error("shipment {shipment} is certified already by {number}, from the same facts")]
    SameAgain {
        /// The shipment.
        shipment: String,
        /// The certificate in force.
        number: String,
    },
    /// No such certificate.
    #[error("no certificate {number} in this register")]
    UnknownCertificate {
        /// The number asked about.
        number: String,
    },
    /// Another certificate has this number.
    #[error("there is a certificate {number} already")]
    NumberTaken {
        /// The number.
        number: String,
    },
    /// The file was taken in before.
    #[error("this very file is registered already, as legacy {number}")]
    SameFile {
        /// Under which number.
        number: String,
    },
    /// A lot cannot be certified both here and by a legacy certificate: its pieces there were never counted.
    #[error(
        "lot {lot} is on certificate {number} already; one of the two is legacy, whose pieces were not counted"
    )]
    LotElsewhere {
        /// The lot.
        lot: String,
        /// The certificate it is on.
        number: String,
    },
    /// Only a current certificate can be amended or withdrawn.
    #[error("certificate {number} is {status}, so it cannot be {verb}")]
    NotCurrent {
        /// The certificate.
        number: String,
        /// How it stands.
        status: Status,
        /// What was asked: `amended` or `withdrawn`.
        verb: &'static str,
    },
    /// A proof about entries that are not there.
    #[error("the register has {size} entries; there is no such proof")]
    NoSuchProof {
        /// Entries in the register.
        size: u64,
    },
    /// Signing the head failed, so nothing was added.
    #[error("the register's head could not be signed: {0}")]
    Sign(String),
    /// An earlier step of this transaction failed, so it cannot be committed.
    #[error("an earlier step failed, so nothing of this batch is added")]
    Broken,
    /// The text has no canonical form.
    #[error("not a value that can be registered: {0}")]
    Canonical(String),
    /// A copy does not audit.
    #[error("the copy was not kept: {0}")]
    Backup(String),
    /// A test asked for a failure here.
    #[doc(hidden)]
    #[error("failure asked for: {0}")]
    Fault(String),
}

fn held(holders: &[(String, u64)]) -> String {
    if holders.is_empty() {
        return String::new();
    }
    let each: Vec<String> = holders.iter().map(|(number, pieces)| format!("{number}: {pieces}")).collect();
    format!(" ({})", each.join(", "))
}

impl RegisterError {
    /// How to mend it, where that can be said.
    pub fn hint(&self) -> Option<String> {
        let hint = match self {
            Self::Missing { .. } => "create the register first, or name the folder it is in".to_owned(),
            Self::Exists { .. } => "a register or copy is never overwritten: choose another name".to_owned(),
            Self::NotARegister { .. } => "name the register's own file".to_owned(),
            Self::OtherRelease { .. } => "use the release that made it; nothing was changed".to_owned(),
            Self::Busy => "wait for the other program to finish, then try again".to_owned(),
            Self::Damaged { .. } => "audit the register, and compare with a copy that audits well".to_owned(),
            Self::ClockBehind { .. } => {
                "set the computer's clock right; no entry can be back-dated".to_owned()
            }
            Self::KeptHead(_) => "an older copy was put back, or the file was changed: find the newest copy \
                                  that audits well; reading still works"
                .to_owned(),
            Self::HeadNotKept(_) => "see that the head file's folder can be written, then issue again: the \
                                     stored file comes back and the head is kept"
                .to_owned(),
            Self::OutOfTurn { expected, .. } => format!("use {expected}"),
            Self::MoreThanAccepted { .. } => "certify fewer, correct the accepted count in the record, or \
                                              withdraw or amend a certificate that holds too many"
                .to_owned(),
            Self::ShipmentCertified { number, .. } => format!("to change it, amend {number}"),
            Self::SameAgain { number, .. } => format!("nothing to issue: hand out {number} again"),
            Self::NotCurrent { status: Status::Amended { by }, .. } => format!("the one in force is {by}"),
            Self::NumberTaken { number } => {
                format!("see what it is: `brightproof register history {number}`")
            }
            Self::SameFile { number } => format!("nothing to add; `reissue {number}` sends it again"),
            Self::LotElsewhere { number, .. } => {
                format!("correct the lot, or withdraw {number} if it no longer stands")
            }
            Self::UnknownCertificate { .. } => "look for it by purchase order, lot or part".to_owned(),
            _ => return None,
        };
        Some(hint)
    }

    pub(super) fn io(path: impl Into<PathBuf>) -> impl FnOnce(std::io::Error) -> Self {
        let path = path.into();
        move |source| Self::Io { path, source }
    }
}

impl From<rusqlite::Error> for RegisterError {
    fn from(error: rusqlite::Error) -> Self {
        match error.sqlite_error_code() {
            Some(rusqlite::ErrorCode::DatabaseBusy | rusqlite::ErrorCode::DatabaseLocked) => Self::Busy,
            _ => Self::Database(error),
        }
    }
}
