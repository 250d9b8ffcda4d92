//! Changing the shop's keys: new ones in the place of old ones, and declaring that others may have one.
//!
//! New files wait under another name until the register has taken the keys into use; see [`settle`].

use std::path::Path;

use serde_json::Value;
use serde_json::json;
use zeroize::Zeroizing;

use super::Keys;
use super::other;
use crate::app::book::Book;
use crate::app::desk;
use crate::app::desk::files;
use crate::app::error::Error;
use crate::app::issue;
use crate::app::world::World;
use crate::checkpoint;
use crate::checkpoint::SigningKey;
use crate::folder;
use crate::folder::Folder;
use crate::moment::Moment;
use crate::register::Entry;
use crate::register::Kind;
use crate::register::NewEntry;
use crate::register::Register;
use crate::seal;
use crate::seal::KeyFile;
use crate::seal::OldRoot;
use crate::seal::Root;
use crate::token;
use crate::token::Place;

/// What is put behind a file's name until the register has the key in it.
const NEXT: &str = ".next";

/// Who replaces or accuses a key, and why.
#[derive(Debug, Clone, Copy)]
pub struct Told<'a> {
    /// Who.
    pub by: &'a str,
    /// Why.
    pub why: &'a str,
}

impl Told<'_> {
    fn check(&self) -> Result<(), Error> {
        if [self.by, self.why].iter().any(|text| text.trim().is_empty()) {
            return Err(Error::cannot("a key's entry needs who and why", "give --by and --why"));
        }
        Ok(())
    }
}

/// A private key's file, PEM or PKCS#12, and what opens it.
#[derive(Clone, Copy)]
pub struct KeyAt<'a> {
    /// Where it lies.
    pub file: &'a Path,
    /// Its passphrase, where it is locked.
    pub passphrase: Option<&'a [u8]>,
}

impl KeyAt<'_> {
    fn read(&self) -> Result<Zeroizing<Vec<u8>>, Error> {
        Ok(Zeroizing::new(folder::read_private(self.file)?))
    }
}

/// What makes a new seal key.
pub struct NewSeal<'a> {
    /// The root's private key, taken out of where it is locked away.
    pub root: KeyAt<'a>,
    /// Where the new key comes from.
    pub key: NewSealKey<'a>,
}

/// Where a new seal key comes from.
pub enum NewSealKey<'a> {
    /// It is drawn, or taken from a file that somebody else made; without a passphrase it stays open, for trials.
    Kept {
        /// The file.
        given: Option<KeyAt<'a>>,
        /// The passphrase it is kept under.
        passphrase: Option<&'a [u8]>,
    },
    /// A token makes it, and never gives it away.
    Token {
        /// Path of its manufacturer's library.
        module: &'a str,
        /// Its label.
        token: &'a str,
        /// The label of the new key; left out, one that names the moment.
        key: Option<&'a str>,
        /// What opens it.
        pin: &'a [u8],
    },
}

/// Where the key of a seal certificate lies, if a token holds it.
///
/// # Errors
/// When the file that says so cannot be read.
pub fn token_of(folder: &Folder, certificate: &[u8]) -> Result<Option<Place>, Error> {
    if !folder.has(files::SEAL_TOKEN) {
        return Ok(None);
    }
    let text = folder.text(files::SEAL_TOKEN)?;
    let place: Place = serde_json::from_str(&text).map_err(|e| {
        Error::cannot(
            format!("{}:{}:{}: {e}", files::SEAL_TOKEN, e.line(), e.column()),
            "it holds module, token, key and seal, as `keys renew seal --token` wrote it",
        )
    })?;
    // One that names another seal is left over from before.
    Ok((place.seal == seal::seal_fingerprint(certificate)?).then_some(place))
}

/// Puts a new seal key under the same root in the old one's place; answers the old and the new fingerprint. What the
/// old one sealed goes on to verify.
///
/// # Errors
/// When the root key cannot be opened or is another's; nothing is changed then.
pub fn renew_seal(
    folder: &Folder,
    new: &NewSeal,
    told: Told,
    world: &World,
) -> Result<(String, String), Error> {
    told.check()?;
    settle(folder)?;
    let signer = desk::read_signer(folder)?;
    let root_key = new.root.read()?;
    let root = folder::read(&folder.path(files::ROOT))?;
    let mut random = |buffer: &mut [u8]| world.fill(buffer);
    let now = world.now().to_utc();
    let mut register = desk::open_register(folder)?;
    let keys = Keys::read(&register)?;
    // Before a token makes a key that nobody then needs.
    keys.allow_root(&seal::fingerprint(&root)?)?;
    let under =
        Root { certificate: &root, key: KeyFile { file: &root_key, passphrase: new.root.passphrase } };
    let (certificate, kept) = match &new.key {
        NewSealKey::Kept { given, passphrase } => {
            let file = given.as_ref().map(KeyAt::read).transpose()?;
            let made = seal::create_seal_key(under, opening(given, &file), now, *passphrase, &mut random)?;
            (made.seal_cert_pem, made.seal_key_pem)
        }
        NewSealKey::Token { module, token, key, pin } => {
            seal::opens(under)?;
            let mut place = Place {
                module: (*module).to_owned(),
                token: (*token).to_owned(),
                key: key
                    .map_or_else(|| now.format("brightproof %Y-%m-%d %H:%M:%S").to_string(), str::to_owned),
                seal: String::new(),
            };
            let public = token::create(&place, pin)?;
            let certificate = seal::certify_remote_key(under, &public, now, &mut random)?;
            place.seal = seal::seal_fingerprint(certificate.as_bytes())?;
            let text = serde_json::to_string_pretty(&place)
                .map_err(|e| Error::cannot(format!("cannot write where the key lies: {e}"), ""))?;
            (certificate, Zeroizing::new(format!("{text}\n")))
        }
    };
    if seal::same_key(&folder::read(&folder.path(files::SEAL))?, certificate.as_bytes())? {
        return Err(Error::cannot("the seal in force has that key already", "give a file with another key"));
    }
    let fingerprint = seal::seal_fingerprint(certificate.as_bytes())?;
    let old = keys.seals.last().map(|one| one.key.clone()).unwrap_or_default();
    let private = match &new.key {
        NewSealKey::Kept { .. } => files::SEAL_KEY,
        NewSealKey::Token { .. } => files::SEAL_TOKEN,
    };
    folder::write_private(&next(folder, private), kept.as_bytes())?;
    folder::write_whole(&next(folder, files::SEAL), certificate.as_bytes())?;
    let detail = json!({
        "act": "renewed", "seal": fingerprint, "under": keys.root(), "retires": old,
        "by": told.by, "why": told.why,
    });
    enter(&mut register, detail, (&signer, &signer), world)?;
    settle(folder)?;
    Ok((old, fingerprint))
}

/// A key's file as it was read, and what opens it.
fn opening<'a>(at: &'a Option<KeyAt<'a>>, file: &'a Option<Zeroizing<Vec<u8>>>) -> Option<KeyFile<'a>> {
    let passphrase = at.as_ref().and_then(|at| at.passphrase);
    file.as_ref().map(|file| KeyFile { file, passphrase })
}

/// What makes a new root and its first seal key.
pub struct NewRoot<'a> {
    /// The old root's key; none where it is lost, or others may have it.
    pub old: Option<KeyAt<'a>>,
    /// The new root's key, where somebody else made it; else it is drawn.
    pub given: Option<KeyAt<'a>>,
    /// Passphrase of both new keys; without one they stay open, for trials.
    pub passphrase: Option<&'a [u8]>,
}

/// What a new root came to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Renewed {
    /// Fingerprint of the root before.
    pub old: String,
    /// Fingerprint of the root after.
    pub new: String,
    /// Whether the old one signed that.
    pub by_old: bool,
    /// The shop's name in both certificates, where it changed.
    pub name: Option<String>,
}

/// Puts a new root, and a seal key under it, in the place of the old ones. What was sealed under the old root goes on to
/// verify for who trusts that one; who trusts the new one is told by it that the old one was the shop's.
///
/// # Errors
/// When the old root's key cannot be opened or is another's, or was given though others may have it; nothing is changed
/// then.
pub fn renew_root(folder: &Folder, new: &NewRoot, told: Told, world: &World) -> Result<Renewed, Error> {
    told.check()?;
    settle(folder)?;
    let name = Book::open(folder.clone())?.shop.name;
    let signer = desk::read_signer(folder)?;
    let certificate = folder::read(&folder.path(files::ROOT))?;
    let old = seal::fingerprint(&certificate)?;
    let mut register = desk::open_register(folder)?;
    let keys = Keys::read(&register)?;
    let standing = keys.roots.last().filter(|one| one.key == old);
    let standing = standing.ok_or_else(|| other("root", "it is not the register's newest"))?;
    let compromised = standing.compromised.as_ref().map(|one| one.since);
    if compromised.is_some() && new.old.is_some() {
        return Err(Error::cannot(
            "the old root is declared compromised: what it signs proves nothing",
            "give --without-old-key in the place of --root-key",
        ));
    }
    if compromised.is_none() && new.old.is_none() && folder.has(files::ROOT_KEY) {
        // What the old root did not sign can never be made up for.
        return Err(Error::cannot(
            format!("the old root's key is there: {}", folder.path(files::ROOT_KEY).display()),
            "leave --without-old-key out, so that it signs; only if its passphrase is lost, move the file away first",
        ));
    }
    let old_file = new.old.as_ref().map(KeyAt::read).transpose()?;
    let given = new.given.as_ref().map(KeyAt::read).transpose()?;
    let mut random = |buffer: &mut [u8]| world.fill(buffer);
    let now = world.now().to_utc();
    let own = opening(&new.given, &given);
    let made = seal::create_keys_with(own, &name, now, new.passphrase, &mut random)?;
    let own = KeyFile { file: made.root_key_pem.as_bytes(), passphrase: new.passphrase };
    let before = OldRoot { certificate: &certificate, key: opening(&new.old, &old_file), compromised };
    let handover = seal::hand_over_root(before, own, made.root_cert_pem.as_bytes())?;
    let root = seal::fingerprint(made.root_cert_pem.as_bytes())?;
    let detail = json!({
        "act": "renewed", "root": root, "retires_root": old, "handover": handover,
        "seal": seal::seal_fingerprint(made.seal_cert_pem.as_bytes())?, "under": root,
        "retires": keys.seals.last().map(|one| one.key.clone()).unwrap_or_default(),
        "by": told.by, "why": told.why,
    });
    folder::write_private(&next(folder, files::ROOT_KEY), made.root_key_pem.as_bytes())?;
    folder::write_private(&next(folder, files::SEAL_KEY), made.seal_key_pem.as_bytes())?;
    folder::write_whole(&next(folder, files::ROOT), made.root_cert_pem.as_bytes())?;
    folder::write_whole(&next(folder, files::SEAL), made.seal_cert_pem.as_bytes())?;
    enter(&mut register, detail, (&signer, &signer), world)?;
    settle(folder)?;
    let changed = seal::organisation(&certificate)? != name;
    Ok(Renewed { old, new: root, by_old: new.old.is_some(), name: changed.then_some(name) })
}

/// Puts a new key in the place of the one that signs the register's heads; answers the old and the new. The old one
/// signs that the new follows it.
///
/// # Errors
/// When the old key is not at hand; nothing is changed then.
pub fn renew_register(folder: &Folder, told: Told, world: &World) -> Result<(String, String), Error> {
    told.check()?;
    settle(folder)?;
    let old = desk::read_signer(folder)?;
    let mut register = desk::open_register(folder)?;
    let keys = Keys::read(&register)?;
    keys.signs(&old.verify_key())?;
    let new = desk::new_signer(old.name(), world)?;
    let (from, to) = (old.verify_key().to_string(), new.verify_key().to_string());
    let signed = checkpoint::hand_over(&old, &new.verify_key())?;
    folder::write_private(&next(folder, files::CHECKPOINT_KEY), new.to_text().as_bytes())?;
    folder::write_whole(&next(folder, files::CHECKPOINT), format!("{to}\n").as_bytes())?;
    let detail = json!({
        "act": "renewed", "checkpoint_key": to, "retires": from, "signed": signed,
        "by": told.by, "why": told.why,
    });
    enter(&mut register, detail, (&old, &new), world)?;
    settle(folder)?;
    Ok((from, to))
}

/// Declares that a key may have been in others' hands from a moment on; answers the certificates issued under it since
/// then.
///
/// # Errors
/// When the register knows no such key, or it is declared already.
pub fn declare_compromised(
    folder: &Folder,
    key: &str,
    since: &Moment,
    told: Told,
    world: &World,
) -> Result<Vec<String>, Error> {
    told.check()?;
    settle(folder)?;
    let since = since.instant().to_utc();
    if since > world.now() {
        return Err(Error::cannot(
            "the day is still to come",
            "say since when the key may be known to others",
        ));
    }
    let plain: String = key.chars().filter(|c| !c.is_whitespace() && *c != ':').collect();
    let signer = desk::read_signer(folder)?;
    let mut register = desk::open_register(folder)?;
    let keys = Keys::read(&register)?;
    let seal = keys.seals.iter().find(|one| one.key == plain.to_lowercase());
    let head = keys.heads.0.iter().find(|one| one.key.to_string() == plain);
    let root = keys.roots.iter().find(|one| one.key == plain.to_lowercase());
    let (name, named, from, until, before) =
        match (seal.map(|s| ("seal", s)).or(root.map(|r| ("root", r))), head) {
            (Some((name, one)), _) => (name, one.key.clone(), one.added.0, &one.retired, &one.compromised),
            (None, Some(one)) => ("checkpoint_key", plain, one.added.0, &one.retired, &one.compromised),
            (None, None) => {
                return Err(Error::cannot(
                    format!("the register knows no key {key}"),
                    "`brightproof keys show` lists them; copy the whole of it",
                ));
            }
        };
    if before.is_some() {
        return Err(Error::cannot("that key is declared compromised already", "see `brightproof keys show`"));
    }
    let stated = since.format("%Y-%m-%dT%H:%M:%SZ").to_string();
    let within = |entry: &Entry| {
        entry.position >= from
            && until.as_ref().is_none_or(|(until, _)| entry.position < *until)
            && entry.at >= stated
    };
    let issued = [Kind::Issue, Kind::Amendment].map(|kind| register.of_kind(kind));
    let mut since_then = Vec::new();
    for entry in issued.into_iter().collect::<Result<Vec<_>, _>>()?.into_iter().flatten() {
        if within(&entry) {
            since_then.extend(entry.number);
        }
    }
    since_then.sort();
    let detail = json!({
        "act": "compromised", name: named, "since": stated, "by": told.by, "why": told.why,
    });
    enter(&mut register, detail, (&signer, &signer), world)?;
    Ok(since_then)
}

fn enter(
    register: &mut Register,
    detail: Value,
    (old, new): (&SigningKey, &SigningKey),
    world: &World,
) -> Result<(), Error> {
    let mut tx = desk::begin(register, old, world)?;
    let entry = NewEntry { kind: Kind::Key, number: None, replaces: None, detail, salt: world.salt()? };
    tx.append(entry, None)?;
    issue::kept(tx.commit(&desk::sign_head(new)))
}

fn next(folder: &Folder, file: &str) -> std::path::PathBuf {
    folder.path(&format!("{file}{NEXT}"))
}

/// Puts new keys in place that the register has taken into use: the last step of a renewal, taken again where it was cut
/// short. Files of a renewal that never came into the register are left for the next one to write over.
///
/// # Errors
/// When files cannot be read or renamed.
pub fn settle(folder: &Folder) -> Result<(), Error> {
    let pairs = [
        (files::ROOT_KEY, files::ROOT),
        (files::SEAL_KEY, files::SEAL),
        (files::CHECKPOINT_KEY, files::CHECKPOINT),
    ];
    // The public file is renamed last, so as long as it waits there is something to do.
    if !pairs.iter().any(|(_, public)| next(folder, public).exists()) {
        return Ok(());
    }
    let keys = Keys::read(&desk::open_register(folder)?)?;
    for (private, public) in pairs {
        let waiting = next(folder, public);
        if !waiting.exists() {
            continue;
        }
        let in_force = match public {
            files::ROOT => keys.root() == seal::fingerprint(&folder::read(&waiting)?)?,
            files::SEAL => {
                let waiting = seal::seal_fingerprint(&folder::read(&waiting)?)?;
                keys.seals.last().is_some_and(|one| one.key == waiting)
            }
            _ => {
                let waiting = folder::read_text(&waiting)?;
                keys.heads.last().is_some_and(|one| one.key.to_string() == waiting.trim())
            }
        };
        if in_force {
            if public == files::SEAL {
                settle_token(folder, &waiting)?;
            }
            if next(folder, private).exists() {
                folder::put_in_place(&next(folder, private), &folder.path(private))?;
            }
            folder::put_in_place(&waiting, &folder.path(public))?;
        }
    }
    Ok(())
}

/// A key in a token takes the place of one in a file, which is good for nothing then: the file is removed. What waits
/// counts only if it names the seal that waits; else it is of a renewal that never came about.
fn settle_token(folder: &Folder, waiting: &Path) -> Result<(), Error> {
    let seal = seal::seal_fingerprint(&folder::read(waiting)?)?;
    let place = next(folder, files::SEAL_TOKEN);
    if place.exists() {
        let names_it =
            serde_json::from_str::<Place>(&folder::read_text(&place)?).is_ok_and(|p| p.seal == seal);
        if names_it {
            folder::put_in_place(&place, &folder.path(files::SEAL_TOKEN))?;
        } else {
            folder::remove(&place)?;
        }
    }
    if token_of(folder, &folder::read(waiting)?)?.is_some() {
        for file in [folder.path(files::SEAL_KEY), next(folder, files::SEAL_KEY)] {
            folder::remove(&file)?;
        }
    }
    Ok(())
}
