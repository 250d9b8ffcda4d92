//! Time stamps of the register's heads: asked of the shop's service after an issue, kept in a folder, checked offline.
//!
//! ```text
//! time-stamps/300.checkpoint   the signed head of 300 entries: the very bytes that were stamped
//! time-stamps/300.tsr          what the service signed about them (RFC 3161)
//! ```
//!
//! A stamp says that the first 300 entries were there at its time, so it dates every certificate among them. None of it
//! touches a certificate or the register: without an answer there is no stamp, and the next one covers the same entries.

use std::path::Path;
use std::path::PathBuf;
use std::time::Duration;

use chrono::DateTime;
use chrono::TimeDelta;
use chrono::Utc;

use crate::app::error::Error;
use crate::app::keys::HeadKeys;
use crate::app::world::World;
use crate::checkpoint::Checkpoint;
use crate::folder;
use crate::folder::Folder;
use crate::folder::FolderError;
use crate::http;
use crate::merkle;
use crate::register::Register;
use crate::shop::TimeStamps;
use crate::time_stamp;
use crate::time_stamp::Anchor;
use crate::time_stamp::Request;
use crate::time_stamp::TimeStamp;

/// Where they are kept, within the shop folder.
pub const FOLDER: &str = "time-stamps";

/// The ending of what the service signed.
const TOKEN: &str = ".tsr";
/// The ending of what it signed about.
const STAMPED: &str = ".checkpoint";

/// How far the shop's clock and the service's may be apart, in minutes, beyond what the service says of its own.
const APART: i64 = 10;

/// What came of asking.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Came {
    /// Entries at the head that is stamped.
    pub size: u64,
    /// Whether it was stamped before.
    pub before: bool,
    /// What the stamp says.
    pub stamp: TimeStamp,
}

/// A stamp as it lies in a folder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Kept {
    /// Entries at the head, by the file's name.
    pub size: u64,
    /// Where it lies.
    pub file: PathBuf,
    /// The signed head.
    pub checkpoint: String,
    token: Vec<u8>,
}

/// Has the register's newest head stamped, unless it is.
///
/// # Errors
/// When the head is not signed, the service's root cannot be read, or no good answer came; nothing is kept then.
pub fn ask(folder: &Folder, service: &TimeStamps, register: &Register, world: &World) -> Result<Came, Error> {
    let head = register.head()?;
    let checkpoint = head
        .checkpoint
        .ok_or_else(|| Error::cannot("the head is not signed", "issue or reissue once to sign it"))?;
    let anchor = trusted(folder, service)?;
    let place = folder.path(FOLDER);
    let (file, beside) = files(&place, head.size);
    if file.exists() {
        let kept = read(&place, head.size)?;
        let stamp = kept.check(&anchor)?;
        return Ok(Came { size: head.size, before: true, stamp });
    }
    let mut nonce = [0_u8; 16];
    world.fill(&mut nonce).map_err(|e| Error::cannot(e, ""))?;
    let imprint = time_stamp::imprint(checkpoint.as_bytes());
    let request = Request::new(imprint, service.policy.as_deref(), nonce)?;
    let patience = Duration::from_secs(service.patience());
    let question = http::Question {
        kind: time_stamp::QUERY,
        accept: Some(time_stamp::REPLY),
        body: &request.to_der()?,
        most: time_stamp::LONGEST,
        patience,
    };
    let answer = http::ask(&service.url, &question)?;
    let (token, stamp) = time_stamp::accept(&request, &answer, &anchor)?;
    sane(&stamp, world.now().to_utc(), world.later().now().to_utc())?;
    // The stamp last: where it lies, what it is about lies beside it.
    folder::write_whole(&beside, checkpoint.as_bytes())?;
    folder::write_whole(&file, &token)?;
    Ok(Came { size: head.size, before: false, stamp })
}

/// The certificate that the shop trusts its service by.
///
/// # Errors
/// When it is not in the shop folder or no certificate.
pub fn trusted(folder: &Folder, service: &TimeStamps) -> Result<Anchor, Error> {
    let file = folder.inside(&service.root)?.ok_or_else(|| {
        Error::cannot(
            format!("{} is not in the shop folder", service.root),
            "put the root certificate that the service publishes there; shop.yaml names it under `time_stamps`",
        )
    })?;
    Ok(Anchor::read(&file)?)
}

fn files(place: &Path, size: u64) -> (PathBuf, PathBuf) {
    (place.join(format!("{size}{TOKEN}")), place.join(format!("{size}{STAMPED}")))
}

/// A service whose clock is far from this one's has a wrong clock, or this computer has.
fn sane(stamp: &TimeStamp, sent: DateTime<Utc>, came: DateTime<Utc>) -> Result<(), Error> {
    let apart = TimeDelta::minutes(APART) + stamp.accuracy.unwrap_or_default();
    let early = sent.checked_sub_signed(apart).is_some_and(|least| stamp.at < least);
    let late = came.checked_add_signed(apart).is_some_and(|most| stamp.at > most);
    if early || late {
        return Err(Error::cannot(
            format!("the service says that it is {}, this computer says {}", shown(&stamp.at), shown(&came)),
            "set the computer's clock right; if it is, ask another service",
        ));
    }
    Ok(())
}

/// The latest that something dated by a stamp may claim of its own time, the clocks allowed for.
pub fn latest(stamp: &TimeStamp) -> DateTime<Utc> {
    let apart = TimeDelta::minutes(APART) + stamp.accuracy.unwrap_or_default();
    stamp.at.checked_add_signed(apart).unwrap_or(stamp.at)
}

/// A stamp's time in words: UTC, whole seconds, or finer where the service is.
pub fn shown(at: &DateTime<Utc>) -> String {
    at.to_rfc3339_opts(chrono::SecondsFormat::AutoSi, true)
}

/// The stamps in a folder, by size; none when it is not there.
///
/// # Errors
/// When the folder or a file in it cannot be read.
pub fn kept(place: &Path) -> Result<Vec<Kept>, Error> {
    let mut sizes = Vec::new();
    for name in Folder::new(place).files("", TOKEN)? {
        let stem = name.trim_start_matches('/').trim_end_matches(TOKEN);
        let size = stem.parse::<u64>().ok().filter(|size| size.to_string() == stem).ok_or_else(|| {
            Error::cannot(
                format!("{} is no time stamp of this tool's", place.join(stem).display()),
                "their names are the number of entries, like 300.tsr; put it elsewhere",
            )
        })?;
        sizes.push(size);
    }
    sizes.sort_unstable();
    sizes.into_iter().map(|size| read(place, size)).collect()
}

fn read(place: &Path, size: u64) -> Result<Kept, Error> {
    let (file, beside) = files(place, size);
    let (token, checkpoint) = (folder::read(&file)?, folder::read_text(&beside)?);
    Ok(Kept { size, file, checkpoint, token })
}

impl Kept {
    /// What the stamp says, if it holds under a trusted certificate.
    ///
    /// # Errors
    /// What was found instead.
    pub fn check(&self, anchor: &Anchor) -> Result<TimeStamp, Error> {
        let imprint = time_stamp::imprint(self.checkpoint.as_bytes());
        time_stamp::check(&self.token, &imprint, anchor).map_err(|error| {
            let hint = error.hint().unwrap_or_default();
            Error::cannot(format!("{}: {error}", self.file.display()), &hint)
        })
    }

    /// What the stamp says, if besides its head is one of this register's, signed by the key of its size, and it is no older than
    /// the entries it dates say they are.
    ///
    /// # Errors
    /// What was found instead.
    pub fn dates(&self, anchor: &Anchor, register: &Register, keys: &HeadKeys) -> Result<TimeStamp, Error> {
        let stamp = self.check(anchor)?;
        let place = self.file.display();
        let wrong = |what: &str| {
            Error::cannot(
                format!("{place}: {what}"),
                "the stamp is of another register, or one was rewritten",
            )
        };
        let head = keys.open(&self.checkpoint)?;
        if head.size != self.size {
            return Err(wrong("its head is of another size than its name says"));
        }
        self.in_past(&head, register).map_err(|what| wrong(&what))?;
        let last = register.entry(head.size.saturating_sub(1))?;
        let last = last.and_then(|entry| DateTime::parse_from_rfc3339(&entry.at).ok());
        let apart = TimeDelta::minutes(APART) + stamp.accuracy.unwrap_or_default();
        if last.and_then(|at| at.to_utc().checked_sub_signed(apart)).is_none_or(|least| stamp.at < least) {
            return Err(wrong("its time is before that of an entry it dates"));
        }
        Ok(stamp)
    }

    /// That the register grew out of this head.
    fn in_past(&self, head: &Checkpoint, register: &Register) -> Result<(), String> {
        let now = register.head().map_err(|e| e.to_string())?;
        if head.origin != now.origin {
            return Err(format!("its head is of {}", head.origin));
        }
        let proof = register.consistency(head.size, now.size).map_err(|e| e.to_string())?;
        merkle::verify_consistency(head.size, &head.root, now.size, &now.root, &proof)
            .map_err(|_| "the register did not grow out of its head".to_owned())
    }
}

/// The first stamp in a folder that dates an entry: the earliest time it is known to have stood there. Those that do
/// not hold are passed over; when none does, the answer is why the first did not.
///
/// # Errors
/// When the folder cannot be read, or no stamp that covers the entry holds. `Ok(None)` when none covers it.
pub fn dating(
    place: &Path,
    position: u64,
    anchor: &Anchor,
    register: &Register,
    keys: &HeadKeys,
) -> Result<Option<(Kept, TimeStamp)>, Error> {
    let mut why = None;
    for kept in kept(place)?.into_iter().filter(|kept| kept.size > position) {
        match kept.dates(anchor, register, keys) {
            Ok(stamp) => return Ok(Some((kept, stamp))),
            Err(error) => drop(why.get_or_insert(error)),
        }
    }
    why.map_or(Ok(None), Err)
}

/// Reads a folder's name as a verifier gives it.
///
/// # Errors
/// When it is no folder.
pub fn place(folder: &Path) -> Result<&Path, Error> {
    if folder.is_dir() {
        return Ok(folder);
    }
    Err(FolderError::Missing(folder.display().to_string()).into())
}
