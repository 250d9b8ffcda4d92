//! The shop's keys as its register tells of them: which seal key is in force, which key signs the register's heads,
//! which were retired, and which are declared to be in others' hands.
//!
//! A key is taken into use, replaced and declared compromised by entries of the register, so that nobody can say
//! otherwise later. Seal keys are made under the root, whose fingerprint is what purchasers have. The register's key
//! and the root name the one after them in a signed note, so that whoever knows the old one can go on to the new.

mod change;

use std::collections::BTreeMap;

use chrono::DateTime;
use chrono::Utc;
use serde_json::Value;

use crate::app::desk::files;
use crate::app::error::Error;
use crate::checkpoint;
use crate::checkpoint::Checkpoint;
use crate::checkpoint::CheckpointError;
use crate::checkpoint::Handover;
use crate::checkpoint::VerifyKey;
use crate::folder::Folder;
use crate::register::Entry;
use crate::register::Kind;
use crate::register::Register;
use crate::register::Transaction;
use crate::seal;
use crate::seal::RootHandover;

pub use change::KeyAt;
pub use change::NewRoot;
pub use change::NewSeal;
pub use change::NewSealKey;
pub use change::Renewed;
pub use change::Told;
pub use change::declare_compromised;
pub use change::renew_register;
pub use change::renew_root;
pub use change::renew_seal;
pub use change::settle;
pub use change::token_of;

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
    /// Roots.
    pub roots: Vec<Standing<String>>,
    /// The root that each seal key is under.
    pub under: BTreeMap<String, String>,
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

/// Every handover of the register's key, as the old keys signed them, and every one of the root, oldest first.
///
/// # Errors
/// When the register cannot be read.
pub fn handovers(register: &Register) -> Result<String, Error> {
    let entries = register.of_kind(Kind::Key)?;
    let renewed = entries.iter().filter(|entry| text(entry, "act") == "renewed");
    Ok(renewed.map(|entry| format!("{}{}", text(entry, "signed"), text(entry, "handover"))).collect())
}

/// Every handover of the root that a register holds, whoever holds the register: each stands by its own signatures.
///
/// # Errors
/// When the register cannot be read.
pub fn root_handovers(register: &Register) -> Result<Vec<RootHandover>, Error> {
    let entries = register.of_kind(Kind::Key)?;
    // One that does not hold is as none; the register's own audit tells of it.
    Ok(entries
        .iter()
        .filter_map(|entry| seal::root_handovers(text(entry, "handover")).ok())
        .flatten()
        .collect())
}

/// What `keys handovers` printed, of the register's key and of the root.
#[derive(Debug, Clone, Default)]
pub struct Handovers {
    /// Of the register's key.
    pub keys: Vec<Handover>,
    /// Of the root.
    pub roots: Vec<RootHandover>,
}

impl Handovers {
    /// Reads them in whatever order they stand.
    ///
    /// # Errors
    /// What was found that is none.
    pub fn read(text: &str) -> Result<Handovers, Error> {
        let (mut keys, mut roots) = (String::new(), String::new());
        let mut of_root = false;
        for line in text.split_inclusive('\n') {
            match line.trim_end() {
                seal::ROOT_HANDOVER => of_root = true,
                checkpoint::KEY_HANDOVER => of_root = false,
                _ => {}
            }
            if of_root { roots.push_str(line) } else { keys.push_str(line) }
        }
        Ok(Handovers { keys: checkpoint::handovers(&keys)?, roots: seal::root_handovers(&roots)? })
    }
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
        let mut roots = vec![Standing::new(text(began, "root").to_owned(), began)];
        let mut under = BTreeMap::new();
        let mut seals: Vec<Standing<String>> = Vec::new();
        for entry in entries {
            Keys::of_root(entry, &mut roots);
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
            if !text(entry, "under").is_empty() {
                under.insert(named.to_owned(), text(entry, "under").to_owned());
            }
        }
        Ok(Keys { roots, under, seals, heads: HeadKeys::told(genesis, entries, first) })
    }

    /// What an entry says of a root. A new one counts only with what it signed itself: that it follows the old one.
    fn of_root(entry: &Entry, roots: &mut Vec<Standing<String>>) {
        let named = text(entry, "root");
        if named.is_empty() {
            return;
        }
        if let Some(compromised) = compromise(entry) {
            if let Some(one) = roots.iter_mut().find(|one| one.key == named) {
                one.compromised.get_or_insert(compromised);
            }
            return;
        }
        let Some(last) = roots.last_mut() else { return };
        let said = seal::root_handovers(text(entry, "handover")).unwrap_or_default();
        if text(entry, "act") == "renewed" && said.iter().any(|h| h.old == last.key && h.new == named) {
            last.retired = Some((entry.position, entry.at.clone()));
            roots.push(Standing::new(named.to_owned(), entry));
        }
    }

    /// Fingerprint of the root in force; empty if the register names none.
    pub fn root(&self) -> &str {
        self.roots.last().map_or("", |one| one.key.as_str())
    }

    /// How the root stands that a seal key is under.
    pub fn root_of(&self, seal: &str) -> Option<&Standing<String>> {
        let under = self.under.get(seal)?;
        self.roots.iter().find(|one| one.key == *under)
    }

    /// Whether the seal key, its root or the register's key that were in force at an entry are declared compromised.
    pub fn compromised_at(&self, position: u64) -> Option<&Compromise> {
        fn at<K>(all: &[Standing<K>], position: u64) -> Option<&Standing<K>> {
            let before = |one: &&Standing<K>| one.added.0 <= position;
            let until =
                |one: &&Standing<K>| one.retired.as_ref().is_none_or(|(retired, _)| position < *retired);
            all.iter().filter(before).find(until)
        }
        let seal = at(&self.seals, position);
        let root = seal.and_then(|one| self.root_of(&one.key)).and_then(|one| one.compromised.as_ref());
        let head = at(&self.heads.0, position).and_then(|one| one.compromised.as_ref());
        seal.and_then(|one| one.compromised.as_ref()).or(root).or(head)
    }

    /// That a root is the one seal keys are made under now.
    ///
    /// # Errors
    /// When it was replaced, is another's, or is declared compromised.
    pub fn allow_root(&self, root: &str) -> Result<(), Error> {
        match self.roots.iter().find(|one| one.key == root) {
            Some(one) if one.in_force() => Ok(()),
            Some(one) if one.retired.is_some() => Err(other("root", "it was replaced")),
            Some(_) => Err(Error::cannot(
                "the root is declared compromised",
                "make a new one: `brightproof keys renew root`",
            )),
            None => Err(Error::cannot(
                format!("the root {root} is not the one this register was begun with"),
                "put the shop's own keys back into keys/, or the register that goes with these",
            )),
        }
    }

    /// That the keys in the shop folder are those in force.
    ///
    /// # Errors
    /// Names the key that is not, and what to do.
    pub fn allow(&self, seal: &str, head: &VerifyKey) -> Result<(), Error> {
        if let Some(root) = self.under.get(seal) {
            self.allow_root(root)?;
        }
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
