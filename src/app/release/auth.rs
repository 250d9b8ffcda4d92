//! People's own passphrases: set with the seal key open, checked before a release, wrong tries entered in the register.
//!
//! The verifier lies in `keys/people/`; the register has its digest, so that one swapped or made by hand is noticed.
//! After wrong tries the next is refused for a while, twice as long each time.

use chrono::DateTime;
use chrono::TimeDelta;
use chrono::Utc;
use serde_json::Value;
use serde_json::json;

use crate::app::desk;
use crate::app::desk::Desk;
use crate::app::desk::sign_head;
use crate::app::error::Error;
use crate::app::issue::kept;
use crate::app::journal::file_name;
use crate::app::world::World;
use crate::canonical;
use crate::certificate::How;
use crate::checkpoint::SigningKey;
use crate::folder;
use crate::folder::Folder;
use crate::folder::FolderError;
use crate::passphrase;
use crate::passphrase::Verifier;
use crate::register::Entry;
use crate::register::Kind;
use crate::register::NewEntry;
use crate::register::Register;
use crate::register::Transaction;

/// The folder of the verifiers.
pub const FOLDER: &str = "keys/people";
/// Longest wait after a wrong try, in seconds.
const LONGEST_WAIT: i64 = 900;

/// A person, and how the tool knows that it is that person. Made here alone.
#[derive(Debug, Clone)]
pub struct Authenticated {
    person: String,
    how: How,
    wrong_before: u64,
}

impl Authenticated {
    /// A person as named at the keyboard: known by nothing more.
    pub fn named(person: &str) -> Authenticated {
        Authenticated { person: person.to_owned(), how: How::Named, wrong_before: 0 }
    }

    /// Who.
    pub fn person(&self) -> &str {
        &self.person
    }

    /// How known.
    pub const fn how(&self) -> How {
        self.how
    }

    /// Wrong tries of the passphrase since it was last right; the person should know of them.
    pub const fn wrong_before(&self) -> u64 {
        self.wrong_before
    }
}

/// The verifier's file of a person.
pub fn file(person: &str) -> String {
    format!("{FOLDER}/{}.txt", file_name(person))
}

fn said<'a>(entry: &'a Entry, key: &str) -> &'a str {
    entry.detail.get(key).and_then(Value::as_str).unwrap_or_default()
}

/// What the register says of a person's passphrase.
struct History {
    /// Digest of the verifier, and when it was set.
    set: Option<(String, String)>,
    /// Wrong tries since it was set or right.
    wrong: u64,
    /// When the last of them was.
    last: Option<DateTime<Utc>>,
}

impl History {
    fn of(person: &str, entries: &[Entry]) -> History {
        let mut history = History { set: None, wrong: 0, last: None };
        for entry in entries.iter().filter(|e| said(e, "person") == person) {
            if said(entry, "act") == WRONG {
                history.wrong = history.wrong.saturating_add(1);
                history.last = DateTime::parse_from_rfc3339(&entry.at).ok().map(|at| at.to_utc());
                continue;
            }
            if said(entry, "act") == SET {
                history.set = Some((said(entry, "sha256").to_owned(), entry.at.clone()));
            }
            (history.wrong, history.last) = (0, None);
        }
        history
    }

    /// From when on the next try is taken.
    fn next_try(&self) -> Option<DateTime<Utc>> {
        let wait = match u32::try_from(self.wrong) {
            Ok(wrong) if wrong < 10 => 1_i64.checked_shl(wrong).unwrap_or(LONGEST_WAIT),
            _ => LONGEST_WAIT,
        };
        self.last.and_then(|last| last.checked_add_signed(TimeDelta::seconds(wait.min(LONGEST_WAIT))))
    }
}

const SET: &str = "set";
const WRONG: &str = "wrong";
const RIGHT: &str = "right again";

fn enter(tx: &mut Transaction, detail: Value, world: &World) -> Result<(), Error> {
    let new = NewEntry { kind: Kind::Passphrase, number: None, replaces: None, detail, salt: world.salt()? };
    tx.append(new, None)?;
    Ok(())
}

const SET_IT: &str = "`brightproof people set-passphrase` sets one; the seal key is needed for it";

/// Checks a person's own passphrase. A wrong try is entered in the register before the answer is given.
///
/// # Errors
/// When none was set, the verifier is not the one registered, the passphrase is wrong, or the try comes too early after
/// wrong ones.
pub fn authenticate(
    folder: &Folder,
    register: &mut Register,
    signer: &SigningKey,
    (person, passphrase): (&str, &[u8]),
    world: &World,
) -> Result<Authenticated, Error> {
    // Under the lock throughout: tries made side by side wait for each other, and each is counted.
    let mut tx = desk::begin(register, signer, world)?;
    let history = History::of(person, &tx.of_kind(Kind::Passphrase)?);
    let Some((digest, _)) = &history.set else {
        return Err(Error::cannot(format!("no passphrase was set for {person}"), SET_IT));
    };
    let name = file(person);
    let text = match folder.text(&name) {
        Ok(text) => text,
        Err(FolderError::Missing(_)) => {
            return Err(Error::cannot(format!("{name} is gone"), SET_IT));
        }
        Err(error) => return Err(error.into()),
    };
    if canonical::stamp(text.as_bytes()) != *digest {
        return Err(Error::cannot(
            format!("{name} is not the verifier that was registered for {person}"),
            "put the registered file back, or set the passphrase again with --lost",
        ));
    }
    if let Some(next) = history.next_try().filter(|next| world.now() < *next) {
        return Err(Error::cannot(
            format!(
                "{} of {person}'s passphrase; the next is taken from {} on",
                tries(history.wrong),
                next.with_timezone(world.now().offset()).format("%Y-%m-%dT%H:%M:%S%:z")
            ),
            "wait; if it was not you, ask who was at the keyboard",
        ));
    }
    if !Verifier::read(&text)?.fits(passphrase)? {
        let wrong = history.wrong.saturating_add(1);
        enter(&mut tx, json!({ "act": WRONG, "person": person, "try": wrong.to_string() }), world)?;
        kept(tx.commit(&sign_head(signer)))?;
        return Err(Error::cannot(
            format!("that is not {person}'s passphrase; {} so far, entered in the register", tries(wrong)),
            "try again after a while; whoever forgot it has it set anew with --lost",
        ));
    }
    if history.wrong > 0 {
        let detail = json!({ "act": RIGHT, "person": person, "after": history.wrong.to_string() });
        enter(&mut tx, detail, world)?;
        kept(tx.commit(&sign_head(signer)))?;
    }
    Ok(Authenticated { person: person.to_owned(), how: How::Passphrase, wrong_before: history.wrong })
}

fn tries(count: u64) -> String {
    if count == 1 { "1 wrong try".to_owned() } else { format!("{count} wrong tries") }
}

/// What stands in for the old passphrase when a new one is set.
#[derive(Debug, Clone, Copy)]
pub enum Old<'a> {
    /// Nothing: the person has none yet.
    None,
    /// The old passphrase.
    Given(&'a [u8]),
    /// It is lost; why the new one is set all the same.
    Lost(&'a str),
}

/// Whether a passphrase was set for a person.
///
/// # Errors
/// When the register cannot be read.
pub fn has_one(register: &Register, person: &str) -> Result<bool, Error> {
    Ok(History::of(person, &register.of_kind(Kind::Passphrase)?).set.is_some())
}

/// When a person's passphrase was set, and the wrong tries since it was last right.
///
/// # Errors
/// When the register cannot be read.
pub fn standing(register: &Register, person: &str) -> Result<(Option<String>, u64), Error> {
    let history = History::of(person, &register.of_kind(Kind::Passphrase)?);
    Ok((history.set.map(|(_, at)| at), history.wrong))
}

/// Sets a person's passphrase. That the desk is open shows that somebody with the seal key stands by.
///
/// # Errors
/// When people.yaml knows no such person, the new one is too short, or the old one is neither given nor said to be
/// lost.
pub fn set(desk: &mut Desk, person: &str, new: &[u8], old: Old, world: &World) -> Result<(), Error> {
    super::known(&desk.book, person)?;
    let had = has_one(&desk.register, person)?;
    let stood_in = match (had, old) {
        (false, _) => "there was none".to_owned(),
        (true, Old::None) => {
            return Err(Error::cannot(
                format!("{person} has a passphrase already"),
                "give the old one too; or --lost and why, which is entered in the register",
            ));
        }
        (true, Old::Given(passphrase)) => {
            let Desk { book, register, signer, .. } = &mut *desk;
            authenticate(&book.folder, register, signer, (person, passphrase), world)?;
            "given".to_owned()
        }
        (true, Old::Lost(why)) if why.trim().is_empty() => {
            return Err(Error::cannot("no reason is given", "say why after --lost"));
        }
        (true, Old::Lost(why)) => format!("lost: {why}"),
    };
    let salt = world.salt()?;
    let salt = salt.first_chunk::<{ passphrase::SALT }>();
    let salt = salt.ok_or_else(|| Error::cannot("there is too little chance for a salt", "report this"))?;
    let verifier = Verifier::new(new, *salt)?;
    let text = format!("{}\n", verifier.text());
    let mut tx = desk::begin(&mut desk.register, &desk.signer, world)?;
    let sha256 = canonical::stamp(text.as_bytes());
    enter(&mut tx, json!({ "act": SET, "person": person, "sha256": sha256, "old": stood_in }), world)?;
    kept(tx.commit(&sign_head(&desk.signer)))?;
    folder::write_private(&desk.book.folder.path(&file(person)), text.as_bytes())?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(act: &str, person: &str, at: &str) -> Entry {
        Entry {
            position: 1,
            kind: Kind::Passphrase,
            at: at.to_owned(),
            number: None,
            stamp: None,
            pdf_sha256: None,
            replaces: None,
            detail: json!({ "act": act, "person": person, "sha256": "d" }),
            leaf: Vec::new(),
            rest: Vec::new(),
            salt: [0; 32],
        }
    }

    fn after(wrong: usize) -> Option<String> {
        let at = "2026-11-25T14:00:00Z";
        let mut all = vec![entry(SET, "A", at)];
        all.extend((0..wrong).map(|_| entry(WRONG, "A", at)));
        // Another's tries keep nobody waiting.
        all.extend((0..20).map(|_| entry(WRONG, "B", at)));
        History::of("A", &all).next_try().map(|next| next.format("%H:%M:%S").to_string())
    }

    #[test]
    fn each_wrong_try_doubles_the_wait_up_to_a_quarter_of_an_hour() {
        assert_eq!(after(0), None);
        assert_eq!(after(1).as_deref(), Some("14:00:02"));
        assert_eq!(after(2).as_deref(), Some("14:00:04"));
        assert_eq!(after(9).as_deref(), Some("14:08:32"));
        for many in [10, 11, 40, 70] {
            assert_eq!(after(many).as_deref(), Some("14:15:00"), "{many}");
        }
    }

    #[test]
    fn a_right_one_or_a_new_one_ends_the_count() {
        for act in [RIGHT, SET] {
            let at = "2026-11-25T14:00:00Z";
            let all = [entry(SET, "A", at), entry(WRONG, "A", at), entry(act, "A", at)];
            let history = History::of("A", &all);
            assert_eq!((history.wrong, history.next_try()), (0, None), "{act}");
            assert!(history.set.is_some());
        }
        assert!(History::of("B", &[entry(SET, "A", "2026-11-25T14:00:00Z")]).set.is_none());
    }
}
