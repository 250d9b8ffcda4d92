//! A register's key handing over to the next one: a signed note in which the old key names the new.
//!
//! ```text
//! brightproof key handover v1
//! larkspur.example/register+5c1f...+AZ...     the old key
//! larkspur.example/register+99ab...+AV...     the new key, of the same name
//!                                             one empty line
//! — larkspur.example/register XB8...          signed by the old key
//! ```
//!
//! No checkpoint reads like it: there the second line is a number.

use super::CheckpointError;
use super::SigningKey;
use super::VerifyKey;
use super::note;

/// How each handover begins.
pub const FIRST_LINE: &str = "brightproof key handover v1";

fn text(old: &VerifyKey, new: &VerifyKey) -> String {
    format!("{FIRST_LINE}\n{old}\n{new}\n")
}

/// Has `old` name `new` as the key after it.
///
/// # Errors
/// When the two are of different registers, or are one.
pub fn hand_over(old: &SigningKey, new: &VerifyKey) -> Result<String, CheckpointError> {
    let from = old.verify_key();
    fits(&from, new)?;
    note::sign(&text(&from, new), &[old])
}

/// Whether `old` named `new` as the key after it.
///
/// # Errors
/// [`CheckpointError`] says what was found.
pub fn handed_over(handover: &str, old: &VerifyKey, new: &VerifyKey) -> Result<(), CheckpointError> {
    fits(old, new)?;
    let note = note::open(handover.as_bytes(), std::slice::from_ref(old))?;
    if note.text == text(old, new) {
        Ok(())
    } else {
        Err(CheckpointError::Note("it hands over between other keys".to_owned()))
    }
}

/// One key that handed over to another.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Handover {
    /// The key that signed.
    pub old: VerifyKey,
    /// The key it named.
    pub new: VerifyKey,
}

/// Reads handovers that were written one after the other; each is signed by the key it says is the old one.
///
/// # Errors
/// [`CheckpointError`] says what was found. One that does not hold spoils all.
pub fn handovers(text: &str) -> Result<Vec<Handover>, CheckpointError> {
    let mut all = Vec::new();
    let starts: Vec<usize> = text.match_indices(FIRST_LINE).map(|(at, _)| at).collect();
    let unread =
        |what: &str| CheckpointError::Note(format!("{what}; expected handovers that begin `{FIRST_LINE}`"));
    if !text.get(..starts.first().copied().unwrap_or(text.len())).is_some_and(|t| t.trim().is_empty()) {
        return Err(unread("there is other text"));
    }
    for (turn, start) in starts.iter().enumerate() {
        let end = starts.get(turn.saturating_add(1)).copied().unwrap_or(text.len());
        let note = text.get(*start..end).ok_or_else(|| unread("it is cut"))?;
        let key = |line: usize| {
            note.lines().nth(line).ok_or_else(|| unread("a key is missing")).and_then(VerifyKey::parse)
        };
        let (old, new) = (key(1)?, key(2)?);
        // Files put one after the other may have empty lines between them.
        handed_over(&format!("{}\n", note.trim_end()), &old, &new)?;
        all.push(Handover { old, new });
    }
    Ok(all)
}

/// These keys, and those that follow from them by handovers. Never backwards: whoever has a new key of their own could
/// sign that it is handed over to any other, so that a handover proves nothing about the key that signed it.
///
/// # Errors
/// When a known key handed over to two: somebody else had it, and nobody can tell which way the register went.
pub fn follow(known: &[VerifyKey], all: &[Handover]) -> Result<Vec<VerifyKey>, CheckpointError> {
    let mut keys = known.to_vec();
    let mut next = 0;
    while let Some(key) = keys.get(next).cloned() {
        next = next.saturating_add(1);
        let mut named: Vec<&VerifyKey> = all.iter().filter(|h| h.old == key).map(|h| &h.new).collect();
        named.dedup();
        match named.as_slice() {
            [] => {}
            [one] if keys.contains(one) => {}
            [one] => keys.push((*one).clone()),
            _ => return Err(CheckpointError::Note(format!("the key {key} handed over to two keys"))),
        }
    }
    Ok(keys)
}

fn fits(old: &VerifyKey, new: &VerifyKey) -> Result<(), CheckpointError> {
    let wrong = |what: &str| Err(CheckpointError::Key { kind: "verifier", what: what.to_owned() });
    if old.name() != new.name() {
        return wrong("the new key is of another register");
    }
    if old == new {
        return wrong("the new key is the old one");
    }
    if old.role() != super::Role::Register || new.role() != super::Role::Register {
        return wrong("a witness's key hands nothing over");
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checkpoint;

    const ORIGIN: &str = "larkspur.example/register";

    fn key(name: &str, seed: u8) -> SigningKey {
        SigningKey::from_seed(name, &[seed; 32]).unwrap()
    }

    #[test]
    fn only_the_old_key_names_the_new() {
        let (old, new, third) = (key(ORIGIN, 1), key(ORIGIN, 2), key(ORIGIN, 3));
        let (o, n, t) = (old.verify_key(), new.verify_key(), third.verify_key());
        let note = hand_over(&old, &n).unwrap();
        assert_eq!(handed_over(&note, &o, &n), Ok(()));
        assert!(matches!(handed_over(&note, &o, &t), Err(CheckpointError::Note(_))));
        assert!(matches!(handed_over(&note, &n, &o), Err(CheckpointError::Unknown { .. })));
        // The new key cannot name itself.
        let own = note::sign(&text(&o, &n), &[&new]).unwrap();
        assert!(matches!(handed_over(&own, &o, &n), Err(CheckpointError::Unknown { .. })));
        for at in 0..note.len() {
            let mut bent = note.clone().into_bytes();
            bent[at] ^= 1;
            assert!(String::from_utf8(bent).map_or(true, |bent| handed_over(&bent, &o, &n).is_err()), "{at}");
        }
        assert!(matches!(hand_over(&old, &o), Err(CheckpointError::Key { .. })));
        let elsewhere = key("elsewhere.example/register", 2).verify_key();
        assert!(matches!(hand_over(&old, &elsewhere), Err(CheckpointError::Key { .. })));
    }

    #[test]
    fn keys_are_followed_forward_only_and_never_both_ways() {
        let keys: Vec<SigningKey> = (1..=5).map(|seed| key(ORIGIN, seed)).collect();
        let public: Vec<VerifyKey> = keys.iter().map(SigningKey::verify_key).collect();
        let to = |from: usize, to: usize| hand_over(&keys[from], &public[to]).unwrap();
        // Two renewals, in whatever order the file has them.
        for text in [to(0, 1) + &to(1, 2), to(1, 2) + "\n" + &to(0, 1), to(0, 1) + &to(1, 2) + &to(0, 1)] {
            let all = handovers(&text).unwrap();
            assert_eq!(follow(&public[..1], &all).unwrap(), public[..3]);
            assert_eq!(follow(&public[1..2], &all).unwrap(), public[1..3], "the older key is not believed");
            assert_eq!(follow(&public[3..4], &all).unwrap(), public[3..4], "a stranger stays alone");
        }
        assert_eq!(handovers("").unwrap(), []);
        // A circle ends, and two ways are no way.
        let circle = handovers(&(to(0, 1) + &to(1, 0))).unwrap();
        assert_eq!(follow(&public[..1], &circle).unwrap(), public[..2]);
        let fork = handovers(&(to(0, 1) + &to(0, 2))).unwrap();
        assert!(matches!(follow(&public[..1], &fork), Err(CheckpointError::Note(_))));
        // Signed by another than it says, and what is none.
        let forged = note::sign(&text(&public[0], &public[4]), &[&keys[4]]).unwrap();
        assert!(matches!(handovers(&forged), Err(CheckpointError::Unknown { .. })));
        for bad in [
            "words",
            "words\nbrightproof key handover v1\n",
            "brightproof key handover v1\n",
            &to(0, 1)[..90],
        ] {
            assert!(handovers(bad).is_err(), "{bad:?}");
        }
        let good = to(0, 1);
        for at in 0..good.trim_end().len() {
            let mut bent = good.clone().into_bytes();
            bent[at] ^= 1;
            let all = String::from_utf8(bent).map(|bent| handovers(&bent));
            assert!(!matches!(all, Ok(Ok(all)) if !all.is_empty()), "{at}");
        }
    }

    #[test]
    fn a_handover_is_no_checkpoint_and_a_checkpoint_no_handover() {
        let (old, new) = (key(ORIGIN, 1), key(ORIGIN, 2));
        let (o, n) = (old.verify_key(), new.verify_key());
        let note = hand_over(&old, &n).unwrap();
        assert!(checkpoint::open(&note, std::slice::from_ref(&o)).is_err());
        let head = checkpoint::sign(&old, ORIGIN, 3, &[7; 32]).unwrap();
        assert!(handed_over(&head, &o, &n).is_err());
    }
}
