//! The evidence store: every file a certificate rests on, copied at issue under its own SHA-256, and kept until
//! its purchaser's day or for as long as a legal hold stands. The tool never deletes one; it says which may go.
//!
//! ```text
//! evidence/sha256/ab/cdef…   the bytes whose SHA-256 is abcdef…
//! ```

use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::path::PathBuf;

use serde_json::Value;
use serde_json::json;

use crate::app::book::Book;
use crate::app::error::Error;
use crate::app::withheld;
use crate::canonical;
use crate::certificate::Certificate;
use crate::evidence::HeldFile;
use crate::folder;
use crate::folder::Folder;
use crate::folder::FolderError;
use crate::judge::Dossier;
use crate::moment::Date;
use crate::register::Kind;
use crate::register::Register;
use crate::register::StoredCertificate;
use crate::shop::Purchaser;

/// The folder of the store, within the shop's.
pub const STORE: &str = "evidence";

/// The key of a register entry's detail: the files a certificate rests on.
pub const DETAIL: &str = "evidence";

/// The key of the day until which they are kept.
const KEEP: &str = "keep_until";

/// Where a digest lies in a store; `None` for what is no SHA-256.
pub fn place(digest: &str) -> Option<String> {
    let plain = digest.len() == 64 && digest.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'));
    let (head, rest) = digest.split_at_checked(2).filter(|_| plain)?;
    Some(format!("sha256/{head}/{rest}"))
}

/// The files a dossier rests on: those its papers name, and the letters of the deviations in it.
pub fn of_dossier(dossier: &Dossier) -> BTreeSet<HeldFile> {
    let letters = dossier.deviations.iter().map(|d| &d.letter);
    let letters = letters.map(|l| HeldFile { path: l.file.clone(), sha256: l.sha256.clone() });
    dossier.files.iter().cloned().chain(letters).collect()
}

/// Copies files into the store. One that is there already, whole, is left alone.
///
/// # Errors
/// When a file is no longer the one that was judged, or cannot be read or written. Nothing may be issued then.
pub fn keep(folder: &Folder, files: &BTreeSet<HeldFile>) -> Result<(), Error> {
    for file in files {
        let Some(place) = place(&file.sha256) else {
            return Err(Error::cannot(format!("`{}` is no SHA-256", file.sha256), "report this"));
        };
        let target = folder.path(STORE).join(place);
        if intact(&target, &file.sha256)? == Some(true) {
            continue;
        }
        let bytes = folder.inside(&file.path)?.filter(|bytes| canonical::stamp(bytes) == file.sha256);
        let bytes = bytes.ok_or_else(|| {
            Error::cannot(
                format!("{} is not the file that was judged: it is gone or changed", file.path),
                "put it back, or judge the lot again",
            )
        })?;
        folder::write_whole(&target, &bytes)?;
    }
    Ok(())
}

/// Whether a stored file is what its name says; `None` when it is not there.
fn intact(path: &std::path::Path, digest: &str) -> Result<Option<bool>, Error> {
    match folder::read(path) {
        Ok(bytes) => Ok(Some(canonical::stamp(&bytes) == digest)),
        Err(FolderError::Missing(_)) => Ok(None),
        // Too large, a folder, unreadable: not the file that was put there.
        Err(FolderError::TooLarge { .. }) => Ok(Some(false)),
        Err(error) => Err(error.into()),
    }
}

/// What an entry says of the files a certificate rests on; nothing when it rests on none.
pub fn detail(files: &BTreeSet<HeldFile>, purchaser: &Purchaser, issued: Date) -> Vec<(&'static str, Value)> {
    if files.is_empty() {
        return Vec::new();
    }
    let mut all = vec![(DETAIL, json!(files))];
    if let Some(until) = purchaser.keep_years.and_then(|years| issued.plus_years(years)) {
        all.push((KEEP, json!(until)));
    }
    all
}

/// Writes copies of the papers that an order asks for beside a certificate, into `NUMBER-papers` in its folder;
/// answers them, none where the order does not ask.
///
/// # Errors
/// When the certificate's data cannot be read, or a paper is not whole in the store.
pub fn beside(
    folder: &Folder,
    stored: &StoredCertificate,
    pdf: &std::path::Path,
) -> Result<Vec<PathBuf>, Error> {
    if stored.legacy {
        return Ok(Vec::new());
    }
    let certificate: Certificate = serde_json::from_slice(&stored.data).map_err(|e| {
        Error::cannot(format!("the data of {} cannot be read: {e}", stored.number), "see `register audit`")
    })?;
    let kept = withheld::kept(stored)?;
    let mut files = BTreeSet::new();
    for lot in &certificate.lots {
        let dossier = withheld::dossier_of(lot, kept.as_ref())?;
        if let Some(dossier) = dossier.filter(|d| d.order.papers_with_certificate) {
            files.extend(of_dossier(&dossier));
        }
    }
    let papers = pdf.with_file_name(format!("{}-papers", stored.number));
    let mut written = Vec::new();
    for file in files {
        let bytes = match place(&file.sha256).map(|place| folder::read(&folder.path(STORE).join(place))) {
            Some(Ok(bytes)) if canonical::stamp(&bytes) == file.sha256 => bytes,
            _ => {
                return Err(Error::cannot(
                    format!("{} of {} is not whole in the evidence store", file.path, stored.number),
                    "see `brightproof evidence check`; put back a copy with that SHA-256",
                ));
            }
        };
        // Two papers of one name differ by their digests.
        let name = file.path.rsplit('/').next().unwrap_or_default();
        let plain = papers.join(name);
        let short = file.sha256.get(..8).unwrap_or_default();
        let target = if written.contains(&plain) { papers.join(format!("{short}-{name}")) } else { plain };
        folder::write_whole(&target, &bytes)?;
        written.push(target);
    }
    Ok(written)
}

/// One stored file: what it is, and how long it is kept.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Kept {
    /// SHA-256.
    pub sha256: String,
    /// Names it was judged under.
    pub paths: BTreeSet<String>,
    /// Certificates that rest on it.
    pub certificates: BTreeSet<String>,
    /// Last day it must be kept; absent: without end.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub keep_until: Option<Date>,
    /// Why it must be kept whatever the day.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub holds: Vec<String>,
}

/// What is wrong with a stored file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum State {
    /// As it was put there.
    Whole,
    /// Gone.
    Missing,
    /// Other bytes.
    Altered,
}

/// Every file any certificate rests on, by digest.
///
/// # Errors
/// When the register cannot be read.
pub fn list(book: &Book, register: &Register) -> Result<Vec<Kept>, Error> {
    let mut all: BTreeMap<String, (Kept, bool)> = BTreeMap::new();
    let mut purchasers: BTreeMap<String, String> = BTreeMap::new();
    for kind in [Kind::Issue, Kind::Amendment] {
        for entry in register.of_kind(kind)? {
            let number = entry.number.clone().unwrap_or_default();
            let text = |key: &str| entry.detail.get(key).and_then(Value::as_str).map(str::to_owned);
            // An amendment goes to whom the first certificate went.
            let replaced = entry.replaces.as_ref().and_then(|old| purchasers.get(old).cloned());
            let name = text("purchaser").or(replaced).unwrap_or_default();
            purchasers.insert(number.clone(), name.clone());
            let files: Vec<HeldFile> = entry
                .detail
                .get(DETAIL)
                .and_then(|files| serde_json::from_value(files.clone()).ok())
                .unwrap_or_default();
            let known = book.purchasers.purchasers.iter().find(|p| p.name == name);
            let until = until(known, text(KEEP), &entry.at);
            for file in files {
                let fresh = || Kept {
                    sha256: file.sha256.clone(),
                    paths: BTreeSet::new(),
                    certificates: BTreeSet::new(),
                    keep_until: until,
                    holds: Vec::new(),
                };
                let (kept, endless) = all.entry(file.sha256.clone()).or_insert_with(|| (fresh(), false));
                kept.paths.insert(file.path.clone());
                kept.certificates.insert(number.clone());
                *endless |= until.is_none();
                kept.keep_until = kept.keep_until.max(until);
                if let Some(hold) = known.and_then(|p| p.legal_hold.as_ref()) {
                    let words = format!("{name}: legal hold since {}, {}", hold.since, hold.why);
                    if !kept.holds.contains(&words) {
                        kept.holds.push(words);
                    }
                }
            }
        }
    }
    let each = all.into_values().map(|(mut kept, endless)| {
        if endless {
            kept.keep_until = None;
        }
        kept
    });
    Ok(each.collect())
}

/// The later of what was promised at issue and what the purchaser asks now. Without either it is kept without end.
fn until(purchaser: Option<&Purchaser>, promised: Option<String>, issued: &str) -> Option<Date> {
    let promised: Option<Date> = promised.and_then(|day| day.parse().ok());
    let day: Date = issued.get(..10)?.parse().ok()?;
    match purchaser.and_then(|p| p.keep_years) {
        Some(years) => promised.max(Some(day.plus_years(years)?)),
        // Asked no longer, or of a purchaser the book no longer has: nobody says that it may go.
        None => None,
    }
}

/// Every file any certificate rests on, and its state in the store.
///
/// # Errors
/// When register or store cannot be read.
pub fn check(book: &Book, register: &Register) -> Result<Vec<(Kept, State)>, Error> {
    let store = book.folder.path(STORE);
    let state = |kept: Kept| {
        let found = match place(&kept.sha256) {
            Some(place) => intact(&store.join(place), &kept.sha256)?,
            None => Some(false),
        };
        let state = match found {
            Some(true) => State::Whole,
            Some(false) => State::Altered,
            None => State::Missing,
        };
        Ok((kept, state))
    };
    list(book, register)?.into_iter().map(state).collect()
}

/// Files whose day is past on `day` and that no legal hold keeps.
///
/// # Errors
/// When the register cannot be read.
pub fn expired(book: &Book, register: &Register, day: Date) -> Result<Vec<Kept>, Error> {
    let past = |kept: &Kept| kept.holds.is_empty() && kept.keep_until.is_some_and(|until| until < day);
    Ok(list(book, register)?.into_iter().filter(past).collect())
}

/// Whether a store outside the shop has a file whole; `None` when it has none of that digest.
///
/// # Errors
/// When it cannot be read.
pub fn stored(store: &std::path::Path, digest: &str) -> Result<Option<bool>, Error> {
    let path: Option<PathBuf> = place(digest).map(|place| store.join(place));
    path.map_or(Ok(Some(false)), |path| intact(&path, digest))
}
