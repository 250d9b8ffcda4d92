//! The seal: a digital signature over a PDF that ordinary viewers understand (PAdES baseline B-B).
//!
//! A shop has two keys. The *root* signs seal certificates and is what purchasers know the shop by; the
//! *seal key* signs certificates of conformity. Both certificates ride in every seal, so that the
//! root's fingerprint alone is enough to verify a file years later.
//!
//! Rules of this module:
//! - One key, one file: one seal. Signing draws no random numbers (RFC 6979) and reads no clock; only a key that a token
//!   holds signs as the token likes.
//! - A seal has one permitted form. Checking builds it again from its parts and compares every byte,
//!   so nothing can be changed or added, not even where it would do no harm.
//! - Trust comes from outside the file: a root certificate or a fingerprint.

mod anchor;
mod chain;
mod cms;
mod ecdsa;
mod error;
mod keys;
mod pem;
mod pkcs12;
mod profile;
mod succession;
mod verify;

use chrono::DateTime;
use chrono::Utc;
use der::Encode;
use sha2::Digest;
use sha2::Sha256;

pub use anchor::Trust;
pub use anchor::fingerprint;
pub use anchor::organisation;
pub use anchor::same_key;
pub use anchor::seal_fingerprint;
pub use anchor::trusted_root;
pub use error::SealError;
pub use keys::KeyFile;
pub use keys::KeySet;
pub use keys::Random;
pub use keys::RemoteKey;
pub use keys::Root;
pub use keys::SealKey;
pub use keys::SealPair;
pub use keys::certify_remote_key;
pub use keys::create_keys;
pub use keys::create_keys_with;
pub use keys::create_seal_key;
pub use keys::load_key;
pub use keys::load_remote_key;
pub use keys::opens;
pub use pem::is_encrypted;
pub use succession::FIRST_LINE as ROOT_HANDOVER;
pub use succession::OldRoot;
pub use succession::RootHandover;
pub use succession::Way;
pub use succession::hand_over_root;
pub use succession::root_handovers;
pub use succession::way;
pub use verify::Check;
pub use verify::SealReport;
pub use verify::Sealer;
pub use verify::verify;

/// No seal is longer than this, in bytes.
pub const MAX_SEAL_BYTES: usize = 4096;

impl SealKey {
    /// Seals two pieces of a file: in a PDF, all bytes before and all after the place of the seal.
    /// The answer is a DER container; the same key and pieces give the same bytes, unless somebody else holds the key.
    ///
    /// # Errors
    /// [`SealError::Encode`], which is not expected, and [`SealError::Remote`].
    pub fn sign(&self, pieces: [&[u8]; 2]) -> Result<Vec<u8>, SealError> {
        let signed = cms::attributes(&verify::digest(pieces), &self.leaf)?;
        let signature = self.key.sign(&signed.to_der()?, &self.facts.key)?;
        Ok(cms::build(&self.leaf, &self.root, signed, &signature)?)
    }

    /// How many bytes to keep free for a seal by this key: no seal of it is longer.
    ///
    /// # Errors
    /// [`SealError::Encode`], which is not expected.
    pub fn reserve(&self) -> Result<usize, SealError> {
        Ok(cms::room(&self.leaf, &self.root)?)
    }

    /// The organisation named in the certificates.
    pub fn organisation(&self) -> &str {
        &self.facts.organisation
    }

    /// From when on the seal certificate is valid; a seal that claims an earlier time does not verify.
    pub fn valid_from(&self) -> DateTime<Utc> {
        self.facts.not_before
    }

    /// SHA-256 of the root certificate, lower-case hex: what purchasers compare.
    ///
    /// # Errors
    /// [`SealError::Encode`], which is not expected.
    pub fn root_fingerprint(&self) -> Result<String, SealError> {
        Ok(hex::encode(Sha256::digest(self.root.to_der()?)))
    }

    /// SHA-256 of the seal certificate, lower-case hex.
    ///
    /// # Errors
    /// [`SealError::Encode`], which is not expected.
    pub fn seal_fingerprint(&self) -> Result<String, SealError> {
        Ok(hex::encode(Sha256::digest(self.leaf.to_der()?)))
    }
}
