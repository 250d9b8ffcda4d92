//! Evidence: the records a certificate withholds, with the salts that open their digests. The shop keeps it and
//! hands it to whom it chooses; whoever holds certificate and evidence can judge again.
//!
//! ```text
//! in the certificate   "dossier":{"withheld":"<64 hexadecimal digits>"}
//!                      = SHA-256( salt, 32 bytes || the dossier, RFC 8785 canonical JSON )
//! the evidence         {"format":"brightproof evidence, 1",
//!                       "lots":[{"dossier":{...},"lot":"L-26-0501","salt":"<64 hexadecimal digits>"}],
//!                       "number":"LBF-2026-000124","stamp":"<the certificate's stamp>"}
//! ```
//!
//! Each salt is 32 random bytes of its own, drawn for one lot of one certificate, and stands in the evidence only:
//! not in the certificate, nor computed from anything in it. Else whoever holds the certificate could try what a
//! bath may have held until the digest fits.

use serde::Deserialize;
use serde::Serialize;
use serde_json::Value;
use sha2::Digest;
use sha2::Sha256;

use crate::canonical;
use crate::canonical::CanonicalError;
use crate::certificate::CertifiedLot;
use crate::certificate::Datum;
use crate::judge::Dossier;

/// The form of the evidence. Frozen: every later release reads it, and one that changes it gives it another name.
const FORMAT: &str = "brightproof evidence, 1";

/// What one certificate withholds.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Evidence {
    /// The form.
    pub format: String,
    /// The certificate's number.
    pub number: String,
    /// The certificate's stamp.
    pub stamp: String,
    /// Its lots whose records are withheld.
    pub lots: Vec<EvidenceLot>,
}

/// The record of one lot.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EvidenceLot {
    /// The shop's lot number.
    pub lot: String,
    /// 32 random bytes, hexadecimal.
    pub salt: String,
    /// The dossier as it was digested, every member kept.
    pub dossier: Value,
}

/// Why evidence cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum EvidenceError {
    /// It has no canonical form, or is not in it.
    #[error("the evidence cannot be read: {0}")]
    Canonical(#[from] CanonicalError),
    /// It is in another form.
    #[error("the evidence is in the form `{found}`, this release reads `{FORMAT}`")]
    Form {
        /// As it says.
        found: String,
    },
    /// It lacks something, or holds something else.
    #[error("the evidence is not whole: {0}")]
    Content(String),
    /// It does not open the certificate's digest.
    #[error(
        "the evidence of lot {lot} is not what the certificate was made from: its digest is {found}, the certificate has {expected}"
    )]
    Digest {
        /// Which lot.
        lot: String,
        /// What the evidence gives.
        found: String,
        /// What the certificate says.
        expected: String,
    },
}

impl EvidenceError {
    /// How to mend it.
    pub fn hint(&self) -> Option<String> {
        Some(
            match self {
                Self::Canonical(_) | Self::Content(_) => {
                    "ask the shop for the file once more, and do not edit it"
                }
                Self::Form { .. } => "use the release that issued the certificate",
                Self::Digest { .. } => "ask the shop for the evidence of this very certificate",
            }
            .to_owned(),
        )
    }
}

/// The digest that stands for a withheld dossier: SHA-256 of the salt's 32 bytes and the dossier's canonical bytes.
///
/// # Errors
/// As [`canonical::canonical`].
pub fn digest(salt: &[u8; 32], dossier: &Value) -> Result<String, CanonicalError> {
    let mut hash = Sha256::new();
    hash.update(salt);
    hash.update(canonical::canonical(dossier)?);
    Ok(hex::encode(hash.finalize()))
}

/// Takes the dossier out of a lot that withholds something, and leaves its digest; answers what was taken out. A
/// lot that withholds nothing keeps its dossier.
///
/// # Errors
/// When the dossier has no canonical form.
pub fn withhold(lot: &mut CertifiedLot, salt: &[u8; 32]) -> Result<Option<EvidenceLot>, CanonicalError> {
    if lot.withheld.is_empty() {
        return Ok(None);
    }
    let Datum::Disclosed(dossier) = &lot.dossier else { return Ok(None) };
    let value = serde_json::to_value(dossier).map_err(|e| CanonicalError::Write(e.to_string()))?;
    lot.dossier = Datum::Withheld(digest(salt, &value)?);
    Ok(Some(EvidenceLot { lot: lot.lot.clone(), salt: hex::encode(salt), dossier: value }))
}

impl Evidence {
    /// The evidence of a certificate.
    pub fn new(number: &str, stamp: &str, lots: Vec<EvidenceLot>) -> Evidence {
        Evidence { format: FORMAT.to_owned(), number: number.to_owned(), stamp: stamp.to_owned(), lots }
    }

    /// The canonical bytes (RFC 8785).
    ///
    /// # Errors
    /// When a value has no canonical form.
    pub fn canonical(&self) -> Result<Vec<u8>, CanonicalError> {
        let value = serde_json::to_value(self).map_err(|e| CanonicalError::Write(e.to_string()))?;
        canonical::canonical(&value)
    }

    /// Reads evidence.
    ///
    /// # Errors
    /// Every kind but [`EvidenceError::Digest`].
    pub fn parse(bytes: &[u8]) -> Result<Evidence, EvidenceError> {
        let value = canonical::parse_canonical(bytes)?;
        let form = value.get("format").and_then(Value::as_str).unwrap_or_default();
        if form != FORMAT {
            return Err(EvidenceError::Form { found: form.to_owned() });
        }
        serde_json::from_value(value).map_err(|e| EvidenceError::Content(e.to_string()))
    }

    /// The dossier of a lot, once it is shown to be the one the digest was made from; nothing when the evidence does
    /// not speak of the lot.
    ///
    /// # Errors
    /// [`EvidenceError::Content`] and [`EvidenceError::Digest`].
    pub fn open(&self, lot: &str, expected: &str) -> Result<Option<Dossier>, EvidenceError> {
        let Some(kept) = self.lots.iter().find(|l| l.lot == lot) else { return Ok(None) };
        let mut salt = [0_u8; 32];
        hex::decode_to_slice(&kept.salt, &mut salt).map_err(|_| {
            EvidenceError::Content(format!("the salt of lot {lot} is not 32 bytes in hexadecimal"))
        })?;
        let found = digest(&salt, &kept.dossier)?;
        if found != expected {
            return Err(EvidenceError::Digest { lot: lot.to_owned(), found, expected: expected.to_owned() });
        }
        let dossier = serde_json::from_value(kept.dossier.clone());
        dossier.map(Some).map_err(|e| EvidenceError::Content(format!("the record of lot {lot}: {e}")))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    /// The digest by hand: SHA-256 over the salt and the canonical text, joined.
    #[test]
    fn the_digest_is_salt_and_canonical_text() {
        let salt = [7_u8; 32];
        let mut bytes = salt.to_vec();
        bytes.extend_from_slice(br#"{"a":"24.6 vol%","b":1}"#);
        let digest = digest(&salt, &json!({"b": 1, "a": "24.6 vol%"})).unwrap();
        assert_eq!(digest, hex::encode(Sha256::digest(&bytes)));
    }

    #[test]
    fn only_its_own_evidence_opens_a_digest() {
        let kept = |salt: [u8; 32], dossier: Value| {
            let lots = vec![EvidenceLot { lot: "L".into(), salt: hex::encode(salt), dossier }];
            Evidence::parse(&Evidence::new("N", "S", lots).canonical().unwrap()).unwrap()
        };
        let dossier = json!({"record": "r"});
        let expected = digest(&[1; 32], &dossier).unwrap();
        assert_eq!(kept([1; 32], dossier.clone()).open("M", &expected), Ok(None));
        for wrong in [kept([2; 32], dossier.clone()), kept([1; 32], json!({"record": "s"}))] {
            assert!(matches!(wrong.open("L", &expected), Err(EvidenceError::Digest { .. })));
        }
        // The right bytes that are no dossier: told as that.
        assert!(matches!(
            kept([1; 32], dossier.clone()).open("L", &expected),
            Err(EvidenceError::Content(_))
        ));
        let mut short = kept([1; 32], dossier);
        short.lots[0].salt.pop();
        assert!(matches!(short.open("L", &expected), Err(EvidenceError::Content(_))));
    }

    #[test]
    fn what_is_no_evidence() {
        let whole = Evidence::new("N", "S", Vec::new()).canonical().unwrap();
        assert!(Evidence::parse(&whole).is_ok());
        let text = String::from_utf8(whole).unwrap();
        for (bad, hint) in [
            (text.replace("evidence, 1\"", "evidence, 9\""), "release"),
            (text.replace("\"stamp\"", "\"stamp2\""), "once more"),
            (format!("{text}\n"), "once more"),
            (String::new(), "once more"),
            ("[]".to_owned(), "release"),
        ] {
            let error = Evidence::parse(bad.as_bytes()).unwrap_err();
            assert!(error.hint().unwrap().contains(hint), "{bad}: {error}");
        }
    }
}
