//! The signatures that services and the certificates above them use, checked by the RustCrypto crates.
//!
//! RSA with PKCS#1 v1.5 padding and ECDSA on P-256 and P-384, each with SHA-256, SHA-384 or SHA-512. Others are refused
//! by name: SHA-1, because two texts of one digest can be made; RSA-PSS, Ed25519 and P-521, because few services use
//! them.

use const_oid::ObjectIdentifier;
use const_oid::db::rfc5912::ECDSA_WITH_SHA_256;
use const_oid::db::rfc5912::ECDSA_WITH_SHA_384;
use const_oid::db::rfc5912::ECDSA_WITH_SHA_512;
use const_oid::db::rfc5912::ID_EC_PUBLIC_KEY;
use const_oid::db::rfc5912::ID_SHA_256;
use const_oid::db::rfc5912::ID_SHA_384;
use const_oid::db::rfc5912::ID_SHA_512;
use const_oid::db::rfc5912::RSA_ENCRYPTION;
use const_oid::db::rfc5912::SECP_256_R_1;
use const_oid::db::rfc5912::SECP_384_R_1;
use const_oid::db::rfc5912::SHA_256_WITH_RSA_ENCRYPTION;
use const_oid::db::rfc5912::SHA_384_WITH_RSA_ENCRYPTION;
use const_oid::db::rfc5912::SHA_512_WITH_RSA_ENCRYPTION;
use der::referenced::OwnedToRef;
use p256::ecdsa::signature::hazmat::PrehashVerifier;
use rsa::Pkcs1v15Sign;
use rsa::traits::PublicKeyParts;
use sha2::Digest;
use sha2::Sha256;
use sha2::Sha384;
use sha2::Sha512;
use spki::AlgorithmIdentifierOwned;
use spki::SubjectPublicKeyInfoOwned;

use super::TimeStampError;
use super::message::absent_or_null;

/// Sizes of RSA moduli that are taken, in bytes: 2048 bits are the least that is still given out.
const RSA_BYTES: std::ops::RangeInclusive<usize> = 256..=512;

/// A digest that is taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Hash {
    Sha256,
    Sha384,
    Sha512,
}

impl Hash {
    /// Which one an identifier names.
    pub(super) fn named(algorithm: &AlgorithmIdentifierOwned) -> Result<Hash, TimeStampError> {
        let found = match algorithm.oid {
            ID_SHA_256 => Hash::Sha256,
            ID_SHA_384 => Hash::Sha384,
            ID_SHA_512 => Hash::Sha512,
            _ => return Err(refused("digest", algorithm.oid)),
        };
        if absent_or_null(algorithm) {
            Ok(found)
        } else {
            Err(refused("digest with parameters", algorithm.oid))
        }
    }

    /// The digest of some bytes.
    pub(super) fn of(self, bytes: &[u8]) -> Vec<u8> {
        match self {
            Hash::Sha256 => Sha256::digest(bytes).to_vec(),
            Hash::Sha384 => Sha384::digest(bytes).to_vec(),
            Hash::Sha512 => Sha512::digest(bytes).to_vec(),
        }
    }

    fn padding(self) -> Pkcs1v15Sign {
        match self {
            Hash::Sha256 => Pkcs1v15Sign::new::<Sha256>(),
            Hash::Sha384 => Pkcs1v15Sign::new::<Sha384>(),
            Hash::Sha512 => Pkcs1v15Sign::new::<Sha512>(),
        }
    }
}

/// Which family a signature is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Family {
    Rsa,
    Ecdsa,
}

fn refused(what: &str, oid: ObjectIdentifier) -> TimeStampError {
    let name = const_oid::db::DB.by_oid(&oid).map(|name| format!(" ({name})")).unwrap_or_default();
    TimeStampError::Algorithm { found: format!("the {what} {oid}{name}") }
}

/// Family and digest of a signature algorithm. Plain `rsaEncryption`, which CMS allows (RFC 3370 section 3.2), takes
/// the digest named beside it.
fn kind(
    algorithm: &AlgorithmIdentifierOwned,
    beside: Option<Hash>,
) -> Result<(Family, Hash), TimeStampError> {
    let (family, hash) = match algorithm.oid {
        SHA_256_WITH_RSA_ENCRYPTION => (Family::Rsa, Hash::Sha256),
        SHA_384_WITH_RSA_ENCRYPTION => (Family::Rsa, Hash::Sha384),
        SHA_512_WITH_RSA_ENCRYPTION => (Family::Rsa, Hash::Sha512),
        RSA_ENCRYPTION => (Family::Rsa, beside.ok_or_else(|| refused("signature", algorithm.oid))?),
        ECDSA_WITH_SHA_256 => (Family::Ecdsa, Hash::Sha256),
        ECDSA_WITH_SHA_384 => (Family::Ecdsa, Hash::Sha384),
        ECDSA_WITH_SHA_512 => (Family::Ecdsa, Hash::Sha512),
        _ => return Err(refused("signature", algorithm.oid)),
    };
    if absent_or_null(algorithm) {
        Ok((family, hash))
    } else {
        Err(refused("signature with parameters", algorithm.oid))
    }
}

/// Whether `signature` is the key's over `message`. `beside` is the digest that a CMS signer names apart.
pub(super) fn verify(
    key: &SubjectPublicKeyInfoOwned,
    algorithm: &AlgorithmIdentifierOwned,
    beside: Option<Hash>,
    message: &[u8],
    signature: &[u8],
) -> Result<(), TimeStampError> {
    let (family, hash) = kind(algorithm, beside)?;
    let digest = hash.of(message);
    let wrong = || TimeStampError::Signature("it is wrong".into());
    let unlike = || TimeStampError::Signature("it is of another kind than the certificate's key".into());
    let unreadable = || TimeStampError::Signature("the certificate's key cannot be read".into());
    match (family, key.algorithm.oid) {
        (Family::Rsa, RSA_ENCRYPTION) => {
            let key = rsa::PublicKey::try_from(key.owned_to_ref()).map_err(|_| unreadable())?;
            if !RSA_BYTES.contains(&key.size()) {
                let bits = key.size().saturating_mul(8);
                return Err(TimeStampError::Algorithm { found: format!("an RSA key of about {bits} bits") });
            }
            key.verify(hash.padding(), &digest, signature).map_err(|_| wrong())
        }
        (Family::Ecdsa, ID_EC_PUBLIC_KEY) => match curve(key)? {
            SECP_256_R_1 => {
                let key =
                    p256::ecdsa::VerifyingKey::try_from(key.owned_to_ref()).map_err(|_| unreadable())?;
                let parsed = p256::ecdsa::Signature::from_der(signature).map_err(|_| wrong())?;
                key.verify_prehash(&digest, &parsed).map_err(|_| wrong())
            }
            SECP_384_R_1 => {
                let key =
                    p384::ecdsa::VerifyingKey::try_from(key.owned_to_ref()).map_err(|_| unreadable())?;
                let parsed = p384::ecdsa::Signature::from_der(signature).map_err(|_| wrong())?;
                key.verify_prehash(&digest, &parsed).map_err(|_| wrong())
            }
            other => Err(refused("curve", other)),
        },
        (_, RSA_ENCRYPTION | ID_EC_PUBLIC_KEY) => Err(unlike()),
        (_, other) => Err(refused("key", other)),
    }
}

fn curve(key: &SubjectPublicKeyInfoOwned) -> Result<ObjectIdentifier, TimeStampError> {
    let named = key.algorithm.parameters.as_ref().and_then(|p| p.decode_as::<ObjectIdentifier>().ok());
    named.ok_or_else(|| TimeStampError::Algorithm { found: "a curve that is not named".into() })
}
