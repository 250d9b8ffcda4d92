//! One entry: its leaf, which everybody may see, and the rest, which stays in the shop.
//!
//! ```text
//! leaf  {"at":"2026-11-25T14:05:00Z","kind":"issue","number":"LBF-2026-000124",
//!        "pdf_sha256":"9f86...","rest":"60303...","stamp":"2c26..."}
//! rest  {"detail":{...who, why, to whom...},"filed":{...}}     leaf.rest = SHA-256(salt || rest)
//! ```
//!
//! Both are RFC 8785 canonical JSON. The leaf's bytes are what the tree hashes.

use std::fmt;

use serde::Deserialize;
use serde::Serialize;
use serde_json::Value;

use super::certificate::Filed;
use super::error::RegisterError;
use crate::merkle::Hash;
use crate::merkle::sha256;

/// What an entry records.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    /// The first entry: which register this is, and its keys.
    Genesis,
    /// A key was added, retired or found compromised.
    Key,
    /// A pack was adopted.
    Adoption,
    /// A certificate was issued.
    Issue,
    /// A certificate's stored file was handed out again.
    Reissue,
    /// A certificate was replaced by another.
    Amendment,
    /// A certificate no longer stands.
    Withdrawal,
    /// A certificate went to somebody.
    Delivery,
    /// A certificate older than the register was taken in as received, not judged.
    Legacy,
    /// A shipment was prepared for release.
    Preparation,
    /// A person's own passphrase was set, tried wrongly, or right again after that.
    Passphrase,
}

impl Kind {
    /// The word used in leaves and messages.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Genesis => "genesis",
            Self::Key => "key",
            Self::Adoption => "adoption",
            Self::Issue => "issue",
            Self::Reissue => "reissue",
            Self::Amendment => "amendment",
            Self::Withdrawal => "withdrawal",
            Self::Delivery => "delivery",
            Self::Legacy => "legacy",
            Self::Preparation => "preparation",
            Self::Passphrase => "passphrase",
        }
    }
}

/// How a certificate stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Status {
    /// In force.
    Current,
    /// Replaced by another.
    Amended {
        /// The number of the one that replaces it.
        by: String,
    },
    /// No longer stands, and nothing replaces it.
    Withdrawn {
        /// The stated reason.
        reason: String,
        /// When, RFC 3339 UTC.
        at: String,
    },
    /// Older than the register: taken in as received, not judged, and not withdrawn since.
    Legacy,
}

impl fmt::Display for Status {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Current => write!(f, "current"),
            Self::Amended { by } => write!(f, "amended by {by}"),
            Self::Withdrawn { reason, at } => write!(f, "withdrawn at {at} ({reason})"),
            Self::Legacy => write!(f, "legacy: registered as received, not judged"),
        }
    }
}

/// An entry to be added. Its time is the transaction's, so that none can be back-dated.
#[derive(Debug, Clone)]
pub struct NewEntry {
    /// What it records; never `Genesis`, which only creating a register adds.
    pub kind: Kind,
    /// The certificate it speaks of: all kinds but genesis, key, adoption, preparation and
    /// passphrase have one.
    pub number: Option<String>,
    /// The certificate an amendment replaces.
    pub replaces: Option<String>,
    /// Who, why, to whom and the like. A withdrawal needs a text `reason`, a delivery a text `to` and `how`.
    pub detail: Value,
    /// 32 random bytes, drawn by the caller for this entry alone.
    pub salt: [u8; 32],
}

/// An entry as stored.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// Its index in the tree, from 0.
    pub position: u64,
    /// What it records.
    pub kind: Kind,
    /// When, RFC 3339 UTC, whole seconds.
    pub at: String,
    /// The certificate it speaks of.
    pub number: Option<String>,
    /// The certificate's stamp, hexadecimal.
    pub stamp: Option<String>,
    /// SHA-256 of the certificate's file, hexadecimal.
    pub pdf_sha256: Option<String>,
    /// The certificate an amendment replaces.
    pub replaces: Option<String>,
    /// Who, why, to whom and the like.
    pub detail: Value,
    /// The leaf's bytes: what the tree hashes.
    pub leaf: Vec<u8>,
    /// The rest's bytes, to show somebody what the leaf's digest stands for.
    pub rest: Vec<u8>,
    /// The salt of that digest.
    pub salt: [u8; 32],
}

/// The public part of an entry, one field a JSON member.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Leaf {
    /// When, RFC 3339 UTC, whole seconds.
    pub at: String,
    /// What it records.
    pub kind: Kind,
    /// The certificate it speaks of.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub number: Option<String>,
    /// SHA-256 of the certificate's file, hexadecimal.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pdf_sha256: Option<String>,
    /// The certificate an amendment replaces.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub replaces: Option<String>,
    /// Salted digest of what stays in the shop, hexadecimal.
    pub rest: String,
    /// The certificate's stamp, hexadecimal.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stamp: Option<String>,
}

impl Leaf {
    /// Reads a leaf that came from elsewhere, as in a proof file.
    ///
    /// # Errors
    /// When the bytes are no leaf, or not in the one form a register writes.
    pub fn parse(bytes: &[u8]) -> Result<Self, RegisterError> {
        let leaf: Self =
            serde_json::from_slice(bytes).map_err(|e| RegisterError::Canonical(format!("no entry: {e}")))?;
        if canonical(&leaf)? != bytes {
            return Err(RegisterError::Canonical("no entry: not canonical JSON".to_owned()));
        }
        Ok(leaf)
    }
}

/// The part of an entry that stays in the shop.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Rest {
    pub detail: Value,
    /// What a certificate is filed and counted under, so that those tables are under the root too.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub filed: Option<Filed>,
    /// Of the first entry: the register's name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub origin: Option<String>,
}

/// The digest in a leaf that stands for the rest.
pub(super) fn rest_digest(salt: &[u8; 32], rest: &[u8]) -> String {
    let mut salted = salt.to_vec();
    salted.extend(rest);
    hex_of(&sha256(&salted))
}

pub(super) fn hex_of(hash: &Hash) -> String {
    hex::encode(hash)
}

/// RFC 8785 bytes of a value.
pub(super) fn canonical<T: Serialize>(value: &T) -> Result<Vec<u8>, RegisterError> {
    let value = serde_json::to_value(value).map_err(|e| RegisterError::Canonical(e.to_string()))?;
    crate::canonical::canonical(&value).map_err(|e| RegisterError::Canonical(e.to_string()))
}

/// Whether `text` is `YYYY-MM-DDThh:mm:ssZ`. One form, so that times compare as text.
pub(super) fn is_instant(text: &str) -> bool {
    const FORM: &[u8; 20] = b"dddd-dd-ddTdd:dd:ddZ";
    let shaped = text.len() == FORM.len()
        && text.bytes().zip(FORM).all(|(b, f)| if *f == b'd' { b.is_ascii_digit() } else { b == *f });
    let part = |from: usize, to: usize| text.get(from..to).and_then(|p| p.parse::<u32>().ok()).unwrap_or(99);
    shaped && {
        let (year, month, day) = (text.get(..4).and_then(|y| y.parse::<u32>().ok()), part(5, 7), part(8, 10));
        let leap = year.is_some_and(|y| y % 4 == 0 && (y % 100 != 0 || y % 400 == 0));
        let days = match month {
            4 | 6 | 9 | 11 => 30,
            2 => 28 + u32::from(leap),
            _ => 31,
        };
        (1..=12).contains(&month)
            && (1..=days).contains(&day)
            && part(11, 13) < 24
            && part(14, 16) < 60
            && part(17, 19) < 60
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_leaf_is_canonical_json_with_only_what_it_has() {
        let leaf = Leaf {
            at: "2026-11-25T14:05:00Z".to_owned(),
            kind: Kind::Withdrawal,
            number: Some("LBF-2026-000124".to_owned()),
            pdf_sha256: None,
            replaces: None,
            rest: rest_digest(&[0; 32], b"{}"),
            stamp: None,
        };
        // SHA-256 of 32 zero bytes and "{}", computed with Python's hashlib
        let expected =
            r#"{"at":"2026-11-25T14:05:00Z","kind":"withdrawal","number":"LBF-2026-000124","rest":"REST"}"#
                .replace("REST", "fb1634c4e6cd4b1f1afe3ce2d6ef080f7ac5d1f357d723ad4dfca782733b62db");
        assert_eq!(String::from_utf8(canonical(&leaf).unwrap()).unwrap(), expected);
        assert_eq!(serde_json::from_str::<Leaf>(&expected).unwrap(), leaf);
        let more = expected.replace("\"kind\"", "\"x\":1,\"kind\"");
        assert!(serde_json::from_str::<Leaf>(&more).is_err());
    }

    #[test]
    fn the_salt_hides_equal_rests_and_canonical_order_is_by_name() {
        assert_ne!(rest_digest(&[0; 32], b"x"), rest_digest(&[1; 32], b"x"));
        assert_eq!(canonical(&json!({"b": "µ", "a": 1})).unwrap(), "{\"a\":1,\"b\":\"µ\"}".as_bytes());
    }

    #[test]
    fn only_one_form_of_time_is_taken() {
        for good in ["2026-11-25T14:05:00Z", "2024-02-29T00:00:00Z", "2000-02-29T23:59:59Z"] {
            assert!(is_instant(good), "{good}");
        }
        for bad in [
            "2026-11-25T14:05:00+00:00",
            "2026-11-25 14:05:00Z",
            "2026-11-25T14:05:00.1Z",
            "2026-11-25T14:05Z",
            "2026-02-29T14:05:00Z",
            "1900-02-29T14:05:00Z",
            "2026-04-31T14:05:00Z",
            "2026-13-01T14:05:00Z",
            "2026-00-01T14:05:00Z",
            "2026-11-00T14:05:00Z",
            "2026-11-25T24:05:00Z",
            "2026-11-25T14:60:00Z",
            "2026-11-25T14:05:60Z",
            "2026-11-25t14:05:00z",
            "+026-11-25T14:05:00Z",
            "２026-11-25T14:05:0Z",
            "",
        ] {
            assert!(!is_instant(bad), "{bad}");
        }
    }
}
