//! Signed tree heads: C2SP tlog-checkpoint, signed as a C2SP signed-note with Ed25519 (RFC 8032).
//!
//! ```text
//! larkspur.example/register                          origin: which register
//! 300                                                entries, decimal
//! uOFX43LgplkYF+m6FycVizU0Mm4LziPGKx5aICkAixU=       root, base64
//!                                                    one empty line
//! — larkspur.example/register MyeC5DXi+PBOKHsp...    key name, base64(key id || signature)
//! ```
//!
//! The register's own key carries the origin as its name. Others may add their lines below: a
//! witness (C2SP tlog-cosignature) states at what time this was the largest head it had seen.

mod consistency;
mod handover;
mod key;
mod note;
mod proof;
mod witness;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use thiserror::Error;

use crate::merkle::Hash;
use crate::merkle::ProofError;
use crate::merkle::head_text;

pub use self::consistency::Consistency;
pub use self::handover::FIRST_LINE as KEY_HANDOVER;
pub use self::handover::Handover;
pub use self::handover::follow;
pub use self::handover::hand_over;
pub use self::handover::handed_over;
pub use self::handover::handovers;
pub use self::key::Role;
pub use self::key::SigningKey;
pub use self::key::VerifyKey;
pub use self::note::Note;
pub use self::note::Verified;
pub use self::proof::EntryProof;
pub use self::witness::cosignatures;

/// What can be wrong with a checkpoint, a note, a key or a proof file.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum CheckpointError {
    /// The text is not a signed note.
    #[error("not a signed note: {0}")]
    Note(String),
    /// The note is sound, its text is no checkpoint.
    #[error("not a checkpoint: {0}")]
    Checkpoint(String),
    /// The text is no key.
    #[error("not a {kind} key: {what}")]
    Key {
        /// `verifier` or `signer`.
        kind: &'static str,
        /// What was found.
        what: String,
    },
    /// No line is by a key that was given.
    #[error("none of its {found} signatures is by a known key")]
    Unknown {
        /// Signature lines found.
        found: usize,
    },
    /// A line names a known key, and the signature is not that key's.
    #[error("the signature named {name} is not that key's: the text or the signature was changed")]
    Signature {
        /// The key's name.
        name: String,
    },
    /// Two of the given keys share name and key id.
    #[error("two of the given keys are called {name} and share one key id")]
    Ambiguous {
        /// Their name.
        name: String,
    },
    /// The checkpoint is for another register than the key.
    #[error("the checkpoint is of {origin}, and no signature is by a key of that name")]
    Origin {
        /// The checkpoint's origin line.
        origin: String,
    },
    /// The text is no proof file.
    #[error("not a proof file: {0}")]
    ProofFile(String),
    /// The proof does not lead from the entry to the signed head.
    #[error("the entry is not in the signed register: {0}")]
    Proof(#[from] ProofError),
}

impl CheckpointError {
    /// How to mend it, where that can be said.
    pub fn hint(&self) -> Option<String> {
        let hint = match self {
            Self::Note(_) | Self::Checkpoint(_) | Self::ProofFile(_) => {
                "take the file again as it was sent, unedited: line ends and spaces count"
            }
            Self::Key { .. } => "copy the key whole, as one line without spaces",
            Self::Unknown { .. } | Self::Origin { .. } => {
                "give the register's verifier key, obtained from the shop by another way than this file"
            }
            Self::Signature { .. } | Self::Proof(_) => {
                "do not rely on this file; ask the shop, by a way you trust, for its register's head"
            }
            Self::Ambiguous { .. } => "give each key once",
        };
        Some(hint.to_owned())
    }
}

/// A head whose signature was checked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Checkpoint {
    /// Which register: the name of its key.
    pub origin: String,
    /// How many entries it had.
    pub size: u64,
    /// The root over them.
    pub root: Hash,
    /// Known witnesses that cosigned, with the time they state (seconds since 1970, UTC).
    pub witnesses: Vec<(String, u64)>,
}

/// Signs the head of the register `key` is named after; answers the whole checkpoint.
///
/// # Errors
/// When `origin` is not the key's name: a key signs for one register only.
pub fn sign(key: &SigningKey, origin: &str, size: u64, root: &Hash) -> Result<String, CheckpointError> {
    if origin != key.name() {
        return Err(CheckpointError::Origin { origin: origin.to_owned() });
    }
    note::sign(&head_text(origin, size, root), &[key])
}

/// Reads a checkpoint and checks it against `keys`: the register's own signature must be among the
/// known ones, every known signature must hold, and unknown ones are passed over.
///
/// # Errors
/// [`CheckpointError`] says what was found.
pub fn open(text: impl AsRef<[u8]>, keys: &[VerifyKey]) -> Result<Checkpoint, CheckpointError> {
    let note = note::open(text.as_ref(), keys)?;
    let (origin, size, root) = parse(&note.text)?;
    let signed_by_register = note.verified.iter().any(|by| by.role == Role::Register && by.name == origin);
    if !signed_by_register {
        return Err(CheckpointError::Origin { origin });
    }
    let witnesses = note.verified.into_iter().filter_map(|by| by.seen_at.map(|at| (by.name, at))).collect();
    Ok(Checkpoint { origin, size, root, witnesses })
}

/// Origin, size and root of a checkpoint's text. Lines after the third are refused: nobody could
/// audit what they say.
fn parse(text: &str) -> Result<(String, u64, Hash), CheckpointError> {
    let wrong = |what: String| CheckpointError::Checkpoint(what);
    let lines: Vec<&str> = text.lines().collect();
    let [origin, size, root] = lines.as_slice() else {
        return Err(wrong(format!("{} lines instead of origin, size and root", lines.len())));
    };
    if origin.is_empty() {
        return Err(wrong("the origin line is empty".to_owned()));
    }
    let count = decimal(size).ok_or_else(|| wrong(format!("the size reads {size:?}")))?;
    let hash = hash(root).ok_or_else(|| wrong(format!("the root reads {root:?}")))?;
    // One text for one head: anything else would let two readers differ.
    if head_text(origin, count, &hash) != text {
        return Err(wrong("its lines do not end as they must".to_owned()));
    }
    Ok(((*origin).to_owned(), count, hash))
}

/// A decimal number without sign or leading zero.
fn decimal(text: &str) -> Option<u64> {
    let plain = text.bytes().all(|b| b.is_ascii_digit()) && (text == "0" || !text.starts_with('0'));
    if plain { text.parse().ok() } else { None }
}

/// A hash in base64, padded, without stray bits.
fn hash(text: &str) -> Option<Hash> {
    STANDARD.decode(text).ok()?.try_into().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    const ORIGIN: &str = "larkspur.example/register";

    fn key() -> SigningKey {
        SigningKey::from_seed(ORIGIN, &[7; 32]).unwrap()
    }

    #[test]
    fn a_signed_head_opens_to_what_was_signed() {
        let text = sign(&key(), ORIGIN, 300, &[0xb8; 32]).unwrap();
        let opened = open(&text, &[key().verify_key()]).unwrap();
        assert_eq!(
            opened,
            Checkpoint { origin: ORIGIN.to_owned(), size: 300, root: [0xb8; 32], witnesses: vec![] }
        );
    }

    #[test]
    fn a_key_signs_for_its_own_register_only() {
        let refused = sign(&key(), "elsewhere.example/register", 1, &[0; 32]);
        assert_eq!(refused, Err(CheckpointError::Origin { origin: "elsewhere.example/register".to_owned() }));
        // and a note with another register's head, soundly signed by this key, is not its checkpoint
        let foreign = note::sign(&head_text("elsewhere.example/register", 1, &[0; 32]), &[&key()]).unwrap();
        assert!(matches!(open(foreign, &[key().verify_key()]), Err(CheckpointError::Origin { .. })));
    }

    #[test]
    fn no_byte_of_a_checkpoint_can_be_changed_or_left_out() {
        let text = sign(&key(), ORIGIN, 300, &[0xb8; 32]).unwrap();
        let keys = [key().verify_key()];
        for at in 0..text.len() {
            let mut bent = text.clone().into_bytes();
            bent[at] ^= 1;
            assert!(open(&bent, &keys).is_err(), "byte {at} changed");
            bent.remove(at);
            assert!(open(&bent, &keys).is_err(), "byte {at} left out");
        }
    }

    #[test]
    fn only_the_one_way_of_writing_a_head_is_taken() {
        let root = "47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=";
        let good = format!("o\n0\n{root}\n");
        assert!(parse(&good).is_ok());
        for bad in [
            format!("o\n00\n{root}\n"),
            format!("o\n+1\n{root}\n"),
            format!("o\n-1\n{root}\n"),
            format!("o\n 1\n{root}\n"),
            format!("o\n\n{root}\n"),
            format!("o\n18446744073709551616\n{root}\n"),
            format!("o\n1\r\n{root}\n"),
            format!("\n1\n{root}\n"),
            format!("o\n1\n{root}\nextension\n"),
            format!("o\n1\n{}\n", root.trim_end_matches('=')),
            format!("o\n1\n{}\n", root.replace("FU=", "FV=")),
            "o\n1\nAAAA\n".to_owned(),
            "o\n1\n".to_owned(),
        ] {
            assert!(matches!(parse(&bad), Err(CheckpointError::Checkpoint(_))), "{bad:?}");
        }
        assert_eq!(parse(&format!("o\n18446744073709551615\n{root}\n")).unwrap().1, u64::MAX);
    }
}
