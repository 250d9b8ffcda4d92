//! Trust anchors: what tells the shop's seal from one that anybody could make in its name.

use chrono::DateTime;
use chrono::Utc;
use sha2::Digest;
use sha2::Sha256;

use super::Check;
use super::SealError;
use super::Sealer;
use super::chain;
use super::pem;
use super::profile::Kind;

/// What the one who verifies brings along. Nothing inside a file can make it trustworthy.
#[derive(Debug, Clone, Copy)]
pub enum Trust<'a> {
    /// The shop's root certificate, PEM or DER.
    Root(&'a [u8]),
    /// The root certificate's fingerprint: its SHA-256 in hex; colons, spaces and capitals do no harm.
    Fingerprint(&'a str),
    /// Nothing: the seal can be found intact, but its issuer stays unknown.
    None,
}

/// The fingerprint of one certificate, PEM or DER: SHA-256 of its DER form, lower-case hex.
///
/// # Errors
/// If the file does not hold exactly one certificate.
pub fn fingerprint(certificate: &[u8]) -> Result<String, SealError> {
    let found = pem::one_certificate(certificate, "the certificate's file")?;
    Ok(hex::encode(Sha256::digest(pem::to_der(&found)?)))
}

/// The fingerprint of the seal certificate in the file that holds it and its root.
///
/// # Errors
/// If the file does not hold the two.
pub fn seal_fingerprint(certificates: &[u8]) -> Result<String, SealError> {
    const WHAT: &str = "the seal certificate's file";
    match pem::certificates(certificates, WHAT)?.as_slice() {
        [seal, _] => Ok(hex::encode(Sha256::digest(pem::to_der(seal)?))),
        other => Err(SealError::Count {
            what: WHAT,
            found: other.len(),
            expected: "two, the seal's and then the root's",
        }),
    }
}

/// Whether the seal certificates in two files, each followed by its root, are of one key.
///
/// # Errors
/// If a file does not hold the two.
pub fn same_key(a: &[u8], b: &[u8]) -> Result<bool, SealError> {
    let key = |file: &[u8]| -> Result<_, SealError> {
        let found = pem::certificates(file, "the seal certificate's file")?;
        Ok(found.first().map(|seal| seal.tbs_certificate().subject_public_key_info().clone()))
    };
    Ok(key(a)? == key(b)?)
}

/// The organisation that a root certificate names.
///
/// # Errors
/// If the file does not hold exactly one root certificate.
pub fn organisation(root: &[u8]) -> Result<String, SealError> {
    let root = pem::one_certificate(root, "the root certificate's file")?;
    Ok(chain::checked(Kind::Root, &root, None)?.organisation)
}

/// The anchor as a root fingerprint: a root certificate is known by its hash as well as by its bytes.
///
/// # Errors
/// If the anchor cannot be read.
pub fn trusted_root(trust: &Trust<'_>) -> Result<Option<String>, SealError> {
    match trust {
        Trust::None => Ok(None),
        Trust::Root(bytes) => {
            let root = pem::one_certificate(bytes, "the trust anchor")?;
            chain::checked(Kind::Root, &root, None)?;
            Ok(Some(hex::encode(Sha256::digest(pem::to_der(&root)?))))
        }
        Trust::Fingerprint(text) => {
            let plain: String = text.chars().filter(|c| *c != ':' && !c.is_whitespace()).collect();
            let plain = plain.to_ascii_lowercase();
            if plain.len() == 64 && plain.bytes().all(|b| b.is_ascii_hexdigit()) {
                Ok(Some(plain))
            } else {
                Err(SealError::Fingerprint { found: (*text).into() })
            }
        }
    }
}

/// Whether the seal was made under the anchor, at a time when its certificate had begun.
pub(super) fn issuer(sealer: &Sealer, anchor: Option<&str>, claimed: DateTime<Utc>) -> Check {
    let Some(anchor) = anchor else {
        return Check::NotChecked(
            "no trust anchor: bring the shop's root certificate or its fingerprint".into(),
        );
    };
    if anchor == sealer.seal_fingerprint {
        return Check::Fail(
            "the fingerprint given is the seal certificate's; expected the root certificate's".into(),
        );
    }
    if anchor != sealer.root_fingerprint {
        return Check::Fail(format!(
            "sealed under root {}; the trust anchor is {anchor}",
            sealer.root_fingerprint
        ));
    }
    if claimed < sealer.valid_from {
        return Check::Fail(format!(
            "claims to be sealed at {}, before its certificate began at {}",
            claimed.to_rfc3339(),
            sealer.valid_from.to_rfc3339()
        ));
    }
    Check::Pass
}
