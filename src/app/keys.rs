//! The shop's keys as its register tells of them: which seal key is in force, which key signs the register's heads,
//! which were retired, and which are declared to be in others' hands.
//!
//! A key is taken into use, replaced and declared compromised by entries of the register, so that nobody can say
//! otherwise later. The root never changes: seal keys are made under it, and its fingerprint is what purchasers have.
//! The register's key names the one after it in a signed note, so that whoever knows the old one can go on to the new.

use std::path::Path;

use chrono::DateTime;
use chrono::Utc;
use serde_json::Value;
use serde_json::json;

use crate::app::desk;
use crate::app::desk::files;
use crate::app::error::Error;
use crate::app::issue;
use crate::app::world::World;
use crate::checkpoint;
use crate::checkpoint::Checkpoint;
use crate::checkpoint::CheckpointError;
use crate::checkpoint::SigningKey;
use crate::checkpoint::VerifyKey;
use crate::folder;
use crate::folder::Folder;
use crate::moment::Moment;
use crate::register::Entry;
use crate::register::Kind;
use crate::register::NewEntry;
use crate::register::Register;
use crate::register::Transaction;
use crate::seal;

/// What is put behind a file's name until the register has the key in it.
const NEXT: &str = ".next";

/// That a key may have been in others' hands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Compromise {
    /// From when on.
    pub since: DateTime<Utc>,
    /// Why it is thought so.
    pub why: String,
}

/// A key's standing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Standing<K> {
    /// Which key: a seal certificate's fingerprint, or the register's verifier key.
    pub key: K,
    /// The entry that took it into use, and its time.
    pub added: (u64, String),
    /// The entry that put another in its place, and its time.
    pub retired: Option<(u64, String)>,
    /// Whether it is declared compromised.
    pub compromised: Option<Compromise>,
}

impl<K> Standing<K> {
    fn new(key: K, entry: &Entry) -> Self {
        Self { key, added: (entry.position, entry.at.clone()), retired: None, compromised: None }
    }

    /// Whether it may be used now.
    pub fn in_force(&self) -> bool {
        self.retired.is_none() && self.compromised.is_none()
    }
}

/// All keys a register tells of, oldest first.
#[derive(Debug, Clone)]
pub struct Keys {
    /// The root's fingerprint.
    pub root: String,
    /// Seal keys.
    pub seals: Vec<Standing<String>>,
    /// Keys that sign heads.
    pub heads: HeadKeys,
}

/// The keys that signed a register's heads, one after the other.
#[derive(Debug, Clone)]
pub struct HeadKeys(pub Vec<Standing<VerifyKey>>);

fn text<'e>(entry: &'e Entry, name: &str) -> &'e str {
    entry.detail.get(name).and_then(Value::as_str).unwrap_or_default()
}

fn compromise(entry: &Entry) -> Option<Compromise> {
    let since = DateTime::parse_from_rfc3339(text(entry, "since")).ok()?.to_utc();
    (text(entry, "act") == "compromised").then(|| Compromise { since, why: text(entry, "why").to_owned() })
}

/// Every handover of the register's key, as the old keys signed them, oldest first.
///
/// # Errors
/// When the register cannot be read.
pub fn handovers(register: &Register) -> Result<String, Error> {
    let entries = register.of_kind(Kind::Key)?;
    Ok(entries
        .iter()
        .filter(|entry| text(entry, "act") == "renewed")
        .map(|entry| text(entry, "signed"))
        .collect())
}

impl HeadKeys {
    /// The keys from the one a certificate names on. A handover counts only when the key before signed it: the
    /// register alone cannot put another in its place.
    ///
    /// # Errors
    /// When the register cannot be read.
    pub fn from(register: &Register, first: VerifyKey) -> Result<HeadKeys, Error> {
        let genesis = register.of_kind(Kind::Genesis)?;
        Ok(HeadKeys::told(&genesis, &register.of_kind(Kind::Key)?, first))
    }

    fn told(genesis: &[Entry], entries: &[Entry], first: VerifyKey) -> HeadKeys {
        let began = |entry: &Entry| Standing::new(first.clone(), entry);
        let mut all: Vec<Standing<VerifyKey>> = genesis.iter().take(1).map(began).collect();
        for entry in entries {
            let named = text(entry, "checkpoint_key");
            if let Some(one) = all.iter_mut().find(|one| one.key.to_string() == named)
                && let Some(compromised) = compromise(entry)
            {
                one.compromised.get_or_insert(compromised);
                continue;
            }
            let (Some(last), Ok(new)) = (all.last_mut(), VerifyKey::parse(named)) else { continue };
            let renewed = text(entry, "act") == "renewed" && text(entry, "retires") == last.key.to_string();
            if renewed && checkpoint::handed_over(text(entry, "signed"), &last.key, &new).is_ok() {
                last.retired = Some((entry.position, entry.at.clone()));
                all.push(Standing::new(new, entry));
            }
        }
        HeadKeys(all)
    }

    /// The key that signs the head of so many entries: a new key signs the head that has its own entry.
    fn at(&self, size: u64) -> Option<&VerifyKey> {
        let signs = |one: &&Standing<VerifyKey>| one.retired.as_ref().is_none_or(|(at, _)| size <= *at);
        self.0.iter().find(signs).or(self.0.last()).map(|one| &one.key)
    }

    /// Reads a head, signed by the key that signed heads of its size.
    ///
    /// # Errors
    /// [`CheckpointError`] says what was found.
    pub fn open(&self, head: &str) -> Result<Checkpoint, CheckpointError> {
        // A head without a readable size is refused by whatever key.
        let size = head.lines().nth(1).and_then(|line| line.parse().ok()).unwrap_or_default();
        checkpoint::open(head, self.at(size).map(std::slice::from_ref).unwrap_or_default())
    }

    /// The one that signs now.
    pub fn last(&self) -> Option<&Standing<VerifyKey>> {
        self.0.last()
    }
}

impl Keys {
    /// Reads what the register tells of its keys.
    ///
    /// # Errors
    /// When the register cannot be read, or does not begin with its keys.
    pub fn read(register: &Register) -> Result<Keys, Error> {
        Keys::told(&register.of_kind(Kind::Genesis)?, &register.of_kind(Kind::Key)?)
    }

    /// The same under the register's lock: nobody renews a key between this and the commit.
    ///
    /// # Errors
    /// As [`Keys::read`].
    pub fn under(tx: &Transaction) -> Result<Keys, Error> {
        Keys::told(&tx.of_kind(Kind::Genesis)?, &tx.of_kind(Kind::Key)?)
    }

    fn told(genesis: &[Entry], entries: &[Entry]) -> Result<Keys, Error> {
        let began = genesis
            .first()
            .ok_or_else(|| Error::cannot("the register has no first entry", "audit it: `register audit`"))?;
        let first = VerifyKey::parse(text(began, "checkpoint_key"))?;
        let mut seals: Vec<Standing<String>> = Vec::new();
        for entry in entries {
            let named = text(entry, "seal");
            if named.is_empty() {
                continue;
            }
            if let Some(compromised) = compromise(entry) {
                if let Some(one) = seals.iter_mut().find(|one| one.key == named) {
                    one.compromised.get_or_insert(compromised);
                }
                continue;
            }
            let retires = text(entry, "retires");
            if let Some(old) = seals.iter_mut().find(|one| one.key == retires && one.retired.is_none()) {
                old.retired = Some((entry.position, entry.at.clone()));
            }
            seals.push(Standing::new(named.to_owned(), entry));
        }
        let root = text(began, "root").to_owned();
        Ok(Keys { root, seals, heads: HeadKeys::told(genesis, entries, first) })
    }

    /// That the keys in the shop folder are those in force.
    ///
    /// # Errors
    /// Names the key that is not, and what to do.
    pub fn allow(&self, seal: &str, head: &VerifyKey) -> Result<(), Error> {
        let renew = |which: &str| format!("make a new one: `brightproof keys renew {which}`");
        match self.seals.iter().find(|one| one.key == seal) {
            Some(one) if one.in_force() => {}
            Some(Standing { compromised: Some(_), .. }) => {
                return Err(Error::cannot("the seal key is declared compromised", &renew("seal")));
            }
            Some(_) => return Err(other("seal key", "it was replaced")),
            None => return Err(other("seal key", "the register never took it into use")),
        }
        match self.heads.last() {
            Some(one) if one.key == *head && !one.in_force() => {
                Err(Error::cannot("the register's key is declared compromised", &renew("register")))
            }
            _ => self.signs(head),
        }
    }

    /// That a key is the one that signs the register's heads now.
    ///
    /// # Errors
    /// When it is not.
    pub fn signs(&self, head: &VerifyKey) -> Result<(), Error> {
        match self.heads.last() {
            Some(one) if one.key == *head => Ok(()),
            _ => Err(other("register's key", "it is not the one that signs its heads now")),
        }
    }
}

fn other(what: &str, why: &str) -> Error {
    Error::cannot(
        format!("the {what} in keys/ is not in force: {why}"),
        "put the newest copy of keys/ back; `brightproof keys show` tells which are in force",
    )
}

/// The register's keys, as the shop's own tool trusts them: from the first on, if they end in the one in keys/.
///
/// # Errors
/// When they do not.
pub fn own_head_keys(folder: &Folder, register: &Register) -> Result<HeadKeys, Error> {
    let own = VerifyKey::parse(folder.text(files::CHECKPOINT)?.trim())?;
    let all = Keys::read(register)?.heads;
    match all.last() {
        Some(last) if last.key == own => Ok(all),
        // As before there was more than one: the file in keys/ is what the shop trusts.
        _ => HeadKeys::from(register, own),
    }
}

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

/// What makes a new seal key.
pub struct NewSeal<'a> {
    /// The root's private key, taken out of where it is locked away.
    pub root_key: &'a Path,
    /// Its passphrase, where it is locked.
    pub root_passphrase: Option<&'a [u8]>,
    /// The new key's passphrase; without one it stays open, for trials.
    pub passphrase: Option<&'a [u8]>,
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
    let root_key = zeroize::Zeroizing::new(folder::read_private(new.root_key)?);
    let root = folder::read(&folder.path(files::ROOT))?;
    let mut random = |buffer: &mut [u8]| world.fill(buffer);
    let now = world.now().to_utc();
    let pair =
        seal::create_seal_key(&root_key, &root, new.root_passphrase, now, new.passphrase, &mut random)?;
    let fingerprint = seal::seal_fingerprint(pair.seal_cert_pem.as_bytes())?;
    let mut register = desk::open_register(folder)?;
    let keys = Keys::read(&register)?;
    if keys.root != seal::fingerprint(&root)? {
        return Err(other("root", "it is not the one the register was begun with"));
    }
    let old = keys.seals.last().map(|one| one.key.clone()).unwrap_or_default();
    folder::write_private(&next(folder, files::SEAL_KEY), pair.seal_key_pem.as_bytes())?;
    folder::write_whole(&next(folder, files::SEAL), pair.seal_cert_pem.as_bytes())?;
    let detail = json!({
        "act": "renewed", "seal": fingerprint, "under": keys.root, "retires": old,
        "by": told.by, "why": told.why,
    });
    enter(&mut register, detail, (&signer, &signer), world)?;
    settle(folder)?;
    Ok((old, fingerprint))
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
    let (name, named, from, until, before) = match (seal, head) {
        (Some(one), _) => ("seal", one.key.clone(), one.added.0, &one.retired, &one.compromised),
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
    let pairs = [(files::SEAL_KEY, files::SEAL), (files::CHECKPOINT_KEY, files::CHECKPOINT)];
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
        let in_force = if public == files::SEAL {
            let waiting = seal::seal_fingerprint(&folder::read(&waiting)?)?;
            keys.seals.last().is_some_and(|one| one.key == waiting)
        } else {
            let waiting = folder::read_text(&waiting)?;
            keys.heads.last().is_some_and(|one| one.key.to_string() == waiting.trim())
        };
        if in_force {
            if next(folder, private).exists() {
                folder::put_in_place(&next(folder, private), &folder.path(private))?;
            }
            folder::put_in_place(&waiting, &folder.path(public))?;
        }
    }
    Ok(())
}
