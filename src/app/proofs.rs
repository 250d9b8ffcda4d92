//! Proof files: what an auditor needs beside a certificate instead of the register, and proofs that the register
//! only grew.

use std::path::Path;
use std::path::PathBuf;

use crate::app::desk::files;
use crate::app::error::Error;
use crate::app::keys::HeadKeys;
use crate::checkpoint;
use crate::checkpoint::Consistency;
use crate::checkpoint::EntryProof;
use crate::checkpoint::VerifyKey;
use crate::folder;
use crate::folder::Folder;
use crate::folder::FolderError;
use crate::register::Register;

/// How the files that lie beside certificates end, as the format recommends.
pub const ENDING: &str = "tlog-proof";

/// Where the proof of a certificate's file is looked for and written.
pub fn place(pdf: &Path) -> PathBuf {
    pdf.with_extension(ENDING)
}

/// The newest head and its signature.
///
/// # Errors
/// When the register cannot be read, or its head is not signed.
pub fn newest(register: &Register) -> Result<(u64, String), Error> {
    let head = register.head()?;
    let unsigned = || Error::cannot("the head is not signed", "issue or reissue once to sign it");
    Ok((head.size, head.checkpoint.ok_or_else(unsigned)?))
}

/// Where heads that witnesses cosigned are kept within the shop's folder.
pub const COSIGNED: &str = "cosigned";

/// The file of the cosigned head of `size` entries.
pub fn cosigned_at(size: u64) -> String {
    format!("{COSIGNED}/{size}.checkpoint")
}

/// The sizes of the heads that witnesses cosigned, largest first.
///
/// # Errors
/// When the folder cannot be listed.
pub fn cosigned_sizes(folder: &Folder) -> Result<Vec<u64>, Error> {
    let named = |file: &String| file.strip_prefix("cosigned/")?.strip_suffix(".checkpoint")?.parse().ok();
    let mut sizes: Vec<u64> = folder.files(COSIGNED, ".checkpoint")?.iter().filter_map(named).collect();
    sizes.sort_unstable_by(|a, b| b.cmp(a));
    Ok(sizes)
}

/// The register's head of `size` entries as witnesses cosigned it; nothing when there is none, or what is kept is not
/// this register's head under the shop's present key.
///
/// # Errors
/// When folder or register cannot be read.
pub fn cosigned(folder: &Folder, register: &Register, size: u64) -> Result<Option<String>, Error> {
    let text = match folder::read_text(&folder.path(&cosigned_at(size))) {
        Ok(text) => text,
        Err(FolderError::Missing(_)) => return Ok(None),
        Err(error) => return Err(error.into()),
    };
    let key = VerifyKey::parse(folder.text(files::CHECKPOINT)?.trim())?;
    let Ok(head) = checkpoint::open(&text, &[key]) else { return Ok(None) };
    let own = head.size == size && register.root_at(size)? == Some(head.root);
    Ok(own.then_some(text))
}

/// Copies the heads that witnesses cosigned beside a copy of the register, into `FILE.cosigned`, byte for byte;
/// answers how many. To restore, put them back as `cosigned` in the shop's folder.
///
/// # Errors
/// When one cannot be read or written; what stands in the way is never overwritten.
pub fn copy_cosigned(folder: &Folder, to: &Path) -> Result<usize, Error> {
    let mut beside = to.as_os_str().to_owned();
    beside.push(".cosigned");
    let sizes = cosigned_sizes(folder)?;
    for size in &sizes {
        let bytes = folder::read(&folder.path(&cosigned_at(*size)))?;
        folder::write_new(&Path::new(&beside).join(format!("{size}.checkpoint")), &bytes, false)?;
    }
    Ok(sizes.len())
}

/// What is wrong with the heads that witnesses cosigned: each must be signed by a key the register had, and be one of
/// its past. A head of more entries than there are says that an old copy was put back.
///
/// # Errors
/// When folder or register cannot be read.
pub fn audit_cosigned(folder: &Folder, register: &Register, keys: &HeadKeys) -> Result<Vec<String>, Error> {
    let mut wrong = Vec::new();
    for size in cosigned_sizes(folder)? {
        let name = cosigned_at(size);
        let text = folder::read_text(&folder.path(&name))?;
        match keys.open(&text) {
            Err(error) => wrong.push(format!("{name}: not signed by a key of this register: {error}")),
            Ok(head) if head.size != size => wrong.push(format!("{name}: it is of {} entries", head.size)),
            Ok(head) => match register.root_at(size)? {
                Some(root) if root == head.root => {}
                Some(_) => {
                    wrong.push(format!("{name}: witnesses saw other entries than the register now has"))
                }
                None => wrong.push(format!("{name}: witnesses saw more entries than the register now has")),
            },
        }
    }
    Ok(wrong)
}

/// The newest head, with the signatures of witnesses where there are any.
///
/// # Errors
/// As [`newest`].
pub fn published(folder: &Folder, register: &Register) -> Result<(u64, String), Error> {
    let (size, plain) = newest(register)?;
    Ok((size, cosigned(folder, register, size)?.unwrap_or(plain)))
}

/// The head a proof of entry `index` is made under: the newest that witnesses cosigned, else the newest.
///
/// # Errors
/// As [`newest`].
pub fn head_over(folder: &Folder, register: &Register, index: u64) -> Result<(u64, String), Error> {
    for size in cosigned_sizes(folder)?.into_iter().take_while(|size| *size > index) {
        if let Some(text) = cosigned(folder, register, size)? {
            return Ok((size, text));
        }
    }
    newest(register)
}

/// The proof of a certificate's entry under the head it is best shown with.
///
/// # Errors
/// As [`of`].
pub fn best(folder: &Folder, register: &Register, number: &str) -> Result<EntryProof, Error> {
    let index = register.certificate(number)?.map_or(0, |stored| stored.position);
    of(register, number, head_over(folder, register, index)?)
}

/// The proof that a certificate's entry is in the register, under a signed head of `size` entries. It carries the
/// entry itself, of which a certificate holds all but the time and the digest of what stays in the shop.
///
/// # Errors
/// When there is no such certificate, or the head is older than its entry.
pub fn of(register: &Register, number: &str, (size, checkpoint): (u64, String)) -> Result<EntryProof, Error> {
    let unknown =
        || Error::cannot(format!("the register has no certificate {number}"), "see `brightproof find`");
    let index = register.certificate(number)?.ok_or_else(unknown)?.position;
    let entry = register.entry(index)?.ok_or_else(unknown)?;
    let hashes = register.inclusion(index, size)?;
    Ok(EntryProof { extra: Some(entry.leaf), index, hashes, checkpoint })
}

/// Writes the proof of a certificate beside its file.
///
/// # Errors
/// When the proof cannot be made or written.
pub fn beside(folder: &Folder, register: &Register, number: &str, pdf: &Path) -> Result<PathBuf, Error> {
    let path = place(pdf);
    let proof = best(folder, register, number)?;
    folder::write_whole(&path, proof.to_text().as_bytes())?;
    Ok(path)
}

/// The proof that the register's first `from` entries are how its first `to` began; `to` left out: the newest head.
///
/// # Errors
/// When there are no such entries, or no head was signed at `to`.
pub fn consistency(register: &Register, from: u64, to: Option<u64>) -> Result<Consistency, Error> {
    let (size, checkpoint) = match to {
        None => newest(register)?,
        Some(size) => {
            let unsigned = || {
                let hint = match register.signed_sizes() {
                    Ok(sizes) => near(&sizes, size),
                    Err(_) => String::new(),
                };
                Error::cannot(format!("no head was signed at {size} entries"), &hint)
            };
            (size, register.signed_at(size)?.ok_or_else(unsigned)?)
        }
    };
    if from == 0 || from > size {
        return Err(Error::cannot(
            format!("from {from} to {size} entries there is nothing to prove"),
            "give the size of a head seen before, at least 1, and a later one",
        ));
    }
    Ok(Consistency { old: from, hashes: register.consistency(from, size)?, checkpoint })
}

/// The signed sizes next to one that is not.
fn near(sizes: &[u64], size: u64) -> String {
    let before = sizes.iter().rev().find(|s| **s < size);
    let after = sizes.iter().find(|s| **s > size);
    let both: Vec<String> = before.into_iter().chain(after).map(u64::to_string).collect();
    format!("a head was signed at {} entries; left out, the newest is taken", both.join(" and at "))
}
