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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::merkle::sha256;

    /// draft-msporny-base58, its test vectors; recalled, and recomputed with Python.
    #[test]
    fn base58_as_published() {
        let rows: [(&[u8], &str); 3] = [
            (b"Hello World!", "z2NEpo7TZRRrLZSi2U"),
            (
                b"The quick brown fox jumps over the lazy dog.",
                "zUSm3fpXnKG5EUBx2ndxBDMPVciP5hGey2Jh4NDv6gmeo1LkMeiKrLJUUBk6Z",
            ),
            (&[0, 0, 0x28, 0x7f, 0xb4, 0xcd], "z11233QC4"),
        ];
        for (plain, text) in rows {
            assert_eq!(multibase(&[plain]), text);
            assert_eq!(bytes(text, "it").unwrap(), plain);
        }
    }

    /// The did:key method's Ed25519 example: the key of a seed of 32 zero bytes (RFC 8032); W3C vc-di-eddsa,
    /// TestVectors/keyPair.json.
    #[test]
    fn keys_as_published() {
        for (public, text) in [
            (
                "3b6a27bcceb6a42d62a3a8d02a6f0d73653215771de243a63ac048a18b59da29",
                "did:key:z6MkiTBz1ymuepAQ4HEHYSF1H8quG5GLVVQR3djdX3mDooWp",
            ),
            (
                "b00d8d938e7f773d51565aad36a623f5344f7f5d1960f9cf3e8e12620ea2810f",
                "did:key:z6MkrJVnaZkeFzdQyMZu1cgjg7k1pZZ6pvBQ7XJPt4swbTQ2",
            ),
        ] {
            let public: [u8; 32] = hex::decode(public).unwrap().try_into().unwrap();
            assert_eq!(did(&public), text);
            assert_eq!(key(text).unwrap(), public);
        }
        for bad in
            ["did:key:z2NEpo7TZRRrLZSi2U", "did:web:shop.example", "did:key:", "did:key:z", "did:key:z0", ""]
        {
            assert!(key(bad).is_err(), "{bad}");
        }
    }

    /// RFC 6920 section 8.2 (the words "Hello World!"), and the multihash of nothing, recalled.
    #[test]
    fn digests_as_published() {
        let named_there = "ni:///sha-256;f4OxZX_x_FO5LcGBSKHWXfwtSx-j1ncoSt3SABJtkGk";
        assert_eq!(named(&sha256(b"Hello World!")), named_there);
        assert_eq!(digest(&sha256(b"")), "zQmdfTbBqBPQ7VNxZEYEj14VmRuZBkqFbiwReogJgS1zR1n");
    }

    #[test]
    fn signatures_are_64_bytes_of_base58() {
        let value = proof_value(&[7; 64]);
        assert_eq!(signature(&value).unwrap(), [7; 64]);
        for bad in ["", "z", "zz", &value[1..], &format!("{value}1"), &value[..value.len() - 1]] {
            assert!(signature(bad).is_err(), "{bad}");
        }
    }
}
