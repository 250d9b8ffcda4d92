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

const FIRST_LINE: &str = "brightproof key handover v1";

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
    fn a_handover_is_no_checkpoint_and_a_checkpoint_no_handover() {
        let (old, new) = (key(ORIGIN, 1), key(ORIGIN, 2));
        let (o, n) = (old.verify_key(), new.verify_key());
        let note = hand_over(&old, &n).unwrap();
        assert!(checkpoint::open(&note, std::slice::from_ref(&o)).is_err());
        let head = checkpoint::sign(&old, ORIGIN, 3, &[7; 32]).unwrap();
        assert!(handed_over(&head, &o, &n).is_err());
    }
}
