//! A certificate's credential, signed with the register's key: the data of one certificate that stands, in a form
//! that others' programs read. What may leave is what an export may hold ([`portable::handed_out`]).

use std::path::Path;

use crate::app::book::Book;
use crate::app::desk;
use crate::app::error::Error;
use crate::app::keys::Keys;
use crate::app::keys::Standing;
use crate::app::portable;
use crate::app::world::World;
use crate::canonical;
use crate::checkpoint::VerifyKey;
use crate::credential;
use crate::credential::Registered;
use crate::folder;
use crate::folder::FolderError;
use crate::merkle::sha256;
use crate::register::KeptHead;
use crate::register::Register;
use crate::register::Status;
use crate::register::StoredCertificate;

/// What was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Written {
    /// The certificate.
    pub number: String,
    /// Its stamp.
    pub stamp: String,
    /// Index of its entry.
    pub entry: u64,
    /// Who signed: the register's key as a decentralized identifier.
    pub issuer: String,
}

/// Writes the credential of a certificate to a new file, whole or not at all.
///
/// # Errors
/// When the file is there already; the certificate is not known, controlled, older than the register, amended or
/// withdrawn; a key of it is declared compromised; or the key in the shop's folder is not the one in force.
pub fn write(
    book: &Book,
    register: &Register,
    number: &str,
    out: &Path,
    world: &World,
) -> Result<Written, Error> {
    if out.symlink_metadata().is_ok() {
        return Err(FolderError::InTheWay(out.display().to_string()).into());
    }
    let (stored, certificate) = portable::handed_out(book, register, number)?;
    stands(register, &stored)?;
    let signer = desk::read_signer(&book.folder)?;
    let keys = Keys::read(register)?;
    keys.signs(&signer.verify_key())?;
    if !keys.heads.last().is_some_and(Standing::in_force) {
        return Err(Error::cannot(
            "the register's key is declared compromised",
            "make a new one: `brightproof keys renew register`",
        ));
    }
    if let Some(known) = keys.compromised_at(stored.position) {
        return Err(Error::cannot(
            format!("{number} does not stand by itself: a key of it may be known to others ({})", known.why),
            "amend it under a new key, and write the credential of that one",
        ));
    }
    let registered = registered(register, &stored)?;
    let public = signer.verify_key().public();
    let document = credential::document(&certificate, &registered, &public);
    let config = credential::config(&public, &world.utc());
    let signature = signer.sign_digests(&credential::message(&document, &config)?);
    let bytes = credential::secured(document, config, &signature)?;
    check(&bytes, &signer.verify_key())?;
    folder::write_whole(out, &bytes)?;
    let issuer = credential::did(&public);
    Ok(Written { number: number.to_owned(), stamp: stored.stamp, entry: stored.position, issuer })
}

/// That a credential is whole and was signed by a register's key. What it says is not held against the register.
///
/// # Errors
/// Says what is wrong with it.
pub fn check(bytes: &[u8], key: &VerifyKey) -> Result<(), Error> {
    let opened = credential::opened(bytes)?;
    if opened.public != key.public() {
        return Err(Error::cannot(
            format!("the credential is by {}, not by {}", credential::did(&opened.public), key.name()),
            "compare the key with what the shop told you by another way",
        ));
    }
    if !key.signed_digests(&opened.message, &opened.signature) {
        return Err(Error::cannot(
            "the credential's signature does not fit it",
            "the credential or its signature was changed; take the file as it was sent",
        ));
    }
    Ok(())
}

/// A credential says that a certificate stands, so it must, by the newest register there is.
fn stands(register: &Register, stored: &StoredCertificate) -> Result<(), Error> {
    if let KeptHead::Refused { why } = register.kept_head()? {
        return Err(Error::cannot(
            format!("this is not the register written last: {why}"),
            "put the newest copy of the register back: in an old one a certificate may still seem to stand",
        ));
    }
    let number = &stored.number;
    match &stored.status {
        Status::Current | Status::Legacy => Ok(()),
        Status::Withdrawn { reason, at } => Err(Error::cannot(
            format!("{number} was withdrawn at {at} ({reason}), and nothing replaces it"),
            "a credential would say that it stands",
        )),
        Status::Amended { by } => {
            let mut newest = by.clone();
            let fate = loop {
                match register.status(&newest)? {
                    Status::Amended { by } => newest = by,
                    fate => break fate,
                }
            };
            let told = format!("{number} was amended: {newest} replaces it");
            Err(match fate {
                Status::Withdrawn { .. } => Error::cannot(format!("{told}, and was withdrawn"), ""),
                _ => Error::cannot(told, &format!("`brightproof register credential {newest} --out FILE`")),
            })
        }
    }
}

/// What the register knows of a certificate; a register whose own copy was changed is not signed for.
fn registered(register: &Register, stored: &StoredCertificate) -> Result<Registered, Error> {
    let (data, pdf) = (sha256(&stored.data), sha256(&stored.pdf));
    let entry = register.entry(stored.position)?;
    let fits = entry.as_ref().is_some_and(|entry| {
        entry.stamp.as_deref() == Some(&*canonical::stamp(&stored.data))
            && entry.pdf_sha256.as_deref() == Some(&*canonical::stamp(&stored.pdf))
    });
    match entry {
        Some(entry) if fits => Ok(Registered {
            data,
            pdf,
            origin: register.head()?.origin,
            index: entry.position,
            entry: sha256(&entry.leaf),
        }),
        _ => Err(Error::cannot(
            format!("what the register keeps of {} is not what its entry says", stored.number),
            "see `brightproof register audit`",
        )),
    }
}
