//! Proof files: what an auditor needs beside a certificate instead of the register, and proofs that the register
//! only grew.

use std::path::Path;
use std::path::PathBuf;

use crate::app::error::Error;
use crate::checkpoint::Consistency;
use crate::checkpoint::EntryProof;
use crate::folder;
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
pub fn beside(register: &Register, number: &str, pdf: &Path) -> Result<PathBuf, Error> {
    let path = place(pdf);
    let proof = of(register, number, newest(register)?)?;
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
