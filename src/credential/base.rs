//! How keys, digests and signatures are written in credentials: multibase base58btc with multicodec and multihash
//! headers (W3C Controlled Identifiers 1.0, did:key), and names by digest (RFC 6920).

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;

use super::CredentialError;
use crate::merkle::Hash;

/// Multibase's letter for base58btc.
const BASE58BTC: char = 'z';
/// Multicodec `ed25519-pub`, as an unsigned varint.
const ED25519_PUB: [u8; 2] = [0xed, 0x01];
/// Multihash `sha2-256` of 32 bytes.
const SHA2_256: [u8; 2] = [0x12, 0x20];
const DID_KEY: &str = "did:key:";

fn multibase(parts: &[&[u8]]) -> String {
    format!("{BASE58BTC}{}", bs58::encode(parts.concat()).into_string())
}

fn bytes(text: &str, what: &'static str) -> Result<Vec<u8>, CredentialError> {
    let wrong = || CredentialError::Encoding { what, expected: "base58btc with a leading z" };
    bs58::decode(text.strip_prefix(BASE58BTC).ok_or_else(wrong)?).into_vec().map_err(|_| wrong())
}

/// A key as the part of did:key behind the method's name, which is its fragment too.
pub(super) fn multikey(public: &[u8; 32]) -> String {
    multibase(&[&ED25519_PUB, public])
}

/// The decentralized identifier of whoever holds an Ed25519 key: the key itself, so that nothing is looked up.
pub fn did(public: &[u8; 32]) -> String {
    format!("{DID_KEY}{}", multikey(public))
}

/// The key of a did:key.
///
/// # Errors
/// When it is no Ed25519 key.
pub fn key(did: &str) -> Result<[u8; 32], CredentialError> {
    let wrong = || CredentialError::Encoding { what: "the issuer", expected: "did:key of an Ed25519 key" };
    let all = bytes(did.strip_prefix(DID_KEY).ok_or_else(wrong)?, "the issuer's key")?;
    all.strip_prefix(&ED25519_PUB).and_then(|public| public.try_into().ok()).ok_or_else(wrong)
}

/// A digest as `digestMultibase`.
pub fn digest(hash: &Hash) -> String {
    multibase(&[&SHA2_256, hash])
}

/// A thing's name by its digest.
pub fn named(hash: &Hash) -> String {
    format!("ni:///sha-256;{}", URL_SAFE_NO_PAD.encode(hash))
}

/// A signature as `proofValue`.
pub(super) fn proof_value(signature: &[u8; 64]) -> String {
    multibase(&[signature])
}

/// The signature of a `proofValue`.
pub(super) fn signature(text: &str) -> Result<[u8; 64], CredentialError> {
    let wrong = |_| CredentialError::Encoding { what: "proofValue", expected: "64 bytes" };
    bytes(text, "proofValue")?.try_into().map_err(wrong)
}
