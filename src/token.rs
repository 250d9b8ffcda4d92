//! A seal key that never leaves its smart card or security module, reached over PKCS#11 (OASIS, version 2.40).
//!
//! The manufacturer's library is loaded into this program and asked to sign; it is not ours, and whoever names another
//! one in its place names a program that runs with the shop's rights. Built with the feature `pkcs11` only; without it,
//! the same questions answer [`TokenError::NotBuilt`].

#[cfg(feature = "pkcs11")]
mod pkcs11;

use serde::Deserialize;
use serde::Serialize;
use thiserror::Error;

/// A key in a token, opened.
pub trait Key: Send + Sync {
    /// The public key, as SEC 1 writes it uncompressed: 65 bytes.
    fn public(&self) -> &[u8];

    /// ECDSA on P-256 over SHA-256 of the message: r and s, 32 bytes each; not the same each time.
    ///
    /// # Errors
    /// What the token said.
    fn sign(&self, message: &[u8]) -> Result<Vec<u8>, String>;
}

/// Where a key lies: what `keys/seal-token.json` says.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Place {
    /// The library of the token's manufacturer, a path.
    pub module: String,
    /// The token's label.
    pub token: String,
    /// The key's label.
    pub key: String,
    /// Fingerprint of the seal certificate that is made for it.
    pub seal: String,
}

/// Why a token did not answer.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum TokenError {
    /// The program knows no tokens.
    #[error("the key lies in a token, and this program was built without the feature `pkcs11`")]
    NotBuilt,
    /// The library cannot be used.
    #[error("{module} cannot be used as a PKCS#11 library: {reason}")]
    Module {
        /// Its path.
        module: String,
        /// What the system said.
        reason: String,
    },
    /// Not exactly one token of this label.
    #[error("{count} tokens are labelled {token:?}; expected one; there are {there}")]
    Token {
        /// The label.
        token: String,
        /// How many have it.
        count: usize,
        /// Labels of all that are there.
        there: String,
    },
    /// The PIN is wrong, or counts no more.
    #[error("the token {token:?} does not take the PIN: {reason}")]
    Pin {
        /// The token's label.
        token: String,
        /// What it said.
        reason: String,
    },
    /// Not exactly one private key of this label.
    #[error("the token {token:?} has {count} private keys labelled {key:?}; expected {expected}")]
    Key {
        /// The token's label.
        token: String,
        /// The key's label.
        key: String,
        /// How many have it.
        count: usize,
        /// How many should.
        expected: &'static str,
    },
    /// It refused something else.
    #[error("the token {token:?} cannot {what}: {reason}")]
    Refused {
        /// The token's label.
        token: String,
        /// What it was asked for.
        what: &'static str,
        /// What it said.
        reason: String,
    },
}

impl TokenError {
    /// How to mend it.
    pub fn hint(&self) -> Option<String> {
        let hint = match self {
            Self::NotBuilt => "build it with `cargo build --release --features pkcs11`",
            Self::Module { .. } => "name the library that the token's manufacturer gives for this system",
            Self::Token { .. } => {
                "plug the token in, and see that its label is the one in keys/seal-token.json"
            }
            Self::Pin { .. } => {
                "type it with care: after a few wrong ones the token locks itself, and its manufacturer's tool must \
                 unlock it"
            }
            Self::Key { expected: "none", .. } => "choose another label for the new key",
            Self::Key { .. } => "see that this is the token the key was made in",
            Self::Refused { .. } => "see its manufacturer's manual: keys on P-256 and ECDSA are needed",
        };
        Some(hint.to_owned())
    }
}

/// Opens the key at a place.
///
/// # Errors
/// [`TokenError`] says what was found.
pub fn open(place: &Place, pin: &[u8]) -> Result<Box<dyn Key>, TokenError> {
    #[cfg(feature = "pkcs11")]
    return pkcs11::open(place, pin);
    #[cfg(not(feature = "pkcs11"))]
    {
        let _ = (place, pin);
        Err(TokenError::NotBuilt)
    }
}

/// Has the token make a key pair whose private key it never gives away; answers the public key, as SEC 1 writes it
/// uncompressed: 65 bytes.
///
/// # Errors
/// [`TokenError`] says what was found; a label that is taken is refused.
pub fn create(place: &Place, pin: &[u8]) -> Result<Vec<u8>, TokenError> {
    #[cfg(feature = "pkcs11")]
    return pkcs11::create(place, pin);
    #[cfg(not(feature = "pkcs11"))]
    {
        let _ = (place, pin);
        Err(TokenError::NotBuilt)
    }
}
