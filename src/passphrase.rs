//! A person's own passphrase: what is kept of it, so that it can be checked and not read.
//!
//! ```text
//! $scrypt$ln=17,r=8,p=1$c29tZSBzYWx0$Zm91ciBhbmQgdHdlbnR5...     the PHC string form
//! ```
//!
//! scrypt as in RFC 7914. Whoever reads the line can try passphrases against it without asking anybody, so each
//! try is made to cost memory and time, and the passphrase has a least length.

use base64::Engine;
use base64::engine::general_purpose::STANDARD_NO_PAD;
use scrypt::Params;
use subtle::ConstantTimeEq;
use zeroize::Zeroizing;

/// Fewest characters of a passphrase.
pub const SHORTEST: usize = 12;
/// Bytes of salt.
pub const SALT: usize = 16;
/// Bytes kept of the derived key.
const HASH: usize = 32;
/// What is paid for each try: 2^17 blocks of 1 KiB, 128 MiB.
const COST: u8 = Params::RECOMMENDED_LOG_N;
/// Costs a verifier may name: a cheaper one is as good as none, a dearer one would exhaust the machine.
const COSTS: std::ops::RangeInclusive<u8> = 14..=20;

/// Why a passphrase cannot be kept or checked.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PassphraseError {
    /// Too short.
    #[error("the passphrase has {found} characters, at least {SHORTEST} are asked")]
    TooShort {
        /// How many it has.
        found: usize,
    },
    /// No verifier.
    #[error("this is no passphrase verifier: {0}")]
    NoVerifier(String),
    /// The derivation refused its parameters.
    #[error("scrypt refused: {0}")]
    Scrypt(String),
}

impl PassphraseError {
    /// How to mend it.
    pub fn hint(&self) -> Option<String> {
        let hint = match self {
            Self::TooShort { .. } => "four or five unrelated words are long enough and easy to keep in mind",
            Self::NoVerifier(_) | Self::Scrypt(_) => "set the passphrase again",
        };
        Some(hint.to_owned())
    }
}

/// What is kept of a passphrase.
#[derive(Clone, PartialEq, Eq)]
pub struct Verifier {
    cost: u8,
    salt: Vec<u8>,
    hash: Vec<u8>,
}

impl std::fmt::Debug for Verifier {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Verifier").field("cost", &self.cost).finish_non_exhaustive()
    }
}

fn derive(passphrase: &[u8], salt: &[u8], cost: u8) -> Result<Zeroizing<[u8; HASH]>, PassphraseError> {
    let params = Params::new(cost, 8, 1).map_err(|e| PassphraseError::Scrypt(e.to_string()))?;
    let mut hash = Zeroizing::new([0_u8; HASH]);
    scrypt::scrypt(passphrase, salt, &params, hash.as_mut_slice())
        .map_err(|e| PassphraseError::Scrypt(e.to_string()))?;
    Ok(hash)
}

impl Verifier {
    /// What is to be kept of a new passphrase; `salt` is drawn for it alone.
    ///
    /// # Errors
    /// [`PassphraseError::TooShort`].
    pub fn new(passphrase: &[u8], salt: [u8; SALT]) -> Result<Verifier, PassphraseError> {
        let found = String::from_utf8_lossy(passphrase).trim().chars().count();
        if found < SHORTEST {
            return Err(PassphraseError::TooShort { found });
        }
        let hash = derive(passphrase, &salt, COST)?;
        Ok(Verifier { cost: COST, salt: salt.to_vec(), hash: hash.to_vec() })
    }

    /// Reads a verifier.
    ///
    /// # Errors
    /// [`PassphraseError::NoVerifier`] says what was found instead.
    pub fn read(text: &str) -> Result<Verifier, PassphraseError> {
        let no = |what: &str| PassphraseError::NoVerifier(what.to_owned());
        let mut parts = text.trim().split('$');
        let (Some(""), Some("scrypt"), Some(cost), Some(salt), Some(hash), None) =
            (parts.next(), parts.next(), parts.next(), parts.next(), parts.next(), parts.next())
        else {
            return Err(no("it does not read `$scrypt$...$salt$hash`"));
        };
        let cost = cost
            .strip_prefix("ln=")
            .and_then(|rest| rest.strip_suffix(",r=8,p=1"))
            .and_then(|cost| cost.parse::<u8>().ok())
            .filter(|cost| COSTS.contains(cost))
            .ok_or_else(|| no(&format!("its cost is `{cost}`, expected ln from 14 to 20, r=8, p=1")))?;
        let bytes = |text: &str, what: &str| {
            STANDARD_NO_PAD.decode(text).map_err(|e| no(&format!("its {what} is not base64: {e}")))
        };
        let (salt, hash) = (bytes(salt, "salt")?, bytes(hash, "hash")?);
        if !(8..=64).contains(&salt.len()) || hash.len() != HASH {
            return Err(no(&format!(
                "{} bytes of salt and {} of hash, expected 8 to 64 and {HASH}",
                salt.len(),
                hash.len()
            )));
        }
        Ok(Verifier { cost, salt, hash })
    }

    /// The line to keep.
    pub fn text(&self) -> String {
        let base64 = |bytes: &[u8]| STANDARD_NO_PAD.encode(bytes);
        format!("$scrypt$ln={},r=8,p=1${}${}", self.cost, base64(&self.salt), base64(&self.hash))
    }

    /// Whether a passphrase is the one; takes as long whether it is or not.
    ///
    /// # Errors
    /// When nothing can be derived.
    pub fn fits(&self, passphrase: &[u8]) -> Result<bool, PassphraseError> {
        let hash = derive(passphrase, &self.salt, self.cost)?;
        Ok(hash.as_slice().ct_eq(&self.hash).into())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 7914, section 12, third vector: the first 32 of its 64 bytes, which are those of a key of 32.
    #[test]
    fn the_published_vector() {
        let hash = hex::decode("7023bdcb3afd7348461c06cd81fd38ebfda8fbba904f8e3ea9b543f6545da1f2").unwrap();
        let known = Verifier { cost: 14, salt: b"SodiumChloride".to_vec(), hash };
        assert!(known.fits(b"pleaseletmein").unwrap());
        assert!(!known.fits(b"pleaseletmeim").unwrap());
        assert!(!known.fits(b"").unwrap());
        let text = known.text();
        assert_eq!(
            text,
            "$scrypt$ln=14,r=8,p=1$U29kaXVtQ2hsb3JpZGU$cCO9yzr9c0hGHAbNgf046/2o+7qQT44+qbVD9lRdofI"
        );
        assert_eq!(Verifier::read(&text).unwrap(), known);
        assert_eq!(Verifier::read(&format!("{text}\n")).unwrap(), known);
    }

    #[test]
    fn short_ones_are_refused() {
        let refused = |text: &str| Verifier::new(text.as_bytes(), [7; SALT]).unwrap_err();
        assert_eq!(refused("eleven char"), PassphraseError::TooShort { found: 11 });
        // Bytes are not characters, and blanks at the ends are none.
        assert_eq!(refused("ßßßßßßß"), PassphraseError::TooShort { found: 7 });
        assert_eq!(refused("       pass       "), PassphraseError::TooShort { found: 4 });
    }

    #[test]
    fn what_is_no_verifier_is_refused() {
        let salt = "U29kaXVtQ2hsb3JpZGU";
        let hash = "cCO9yzr9c0hGHAbNgf046/2o+7qQT44+qbVD9lRdofI";
        for text in [
            String::new(),
            "open sesame".to_owned(),
            format!("$argon2id$ln=14,r=8,p=1${salt}${hash}"),
            // Nothing to pay, and more than any machine has.
            format!("$scrypt$ln=1,r=8,p=1${salt}${hash}"),
            format!("$scrypt$ln=40,r=8,p=1${salt}${hash}"),
            format!("$scrypt$ln=14,r=1,p=1${salt}${hash}"),
            format!("$scrypt$ln=14,r=8,p=1${salt}$"),
            format!("$scrypt$ln=14,r=8,p=1$${hash}"),
            format!("$scrypt$ln=14,r=8,p=1${salt}${hash}$more"),
            format!("$scrypt$ln=14,r=8,p=1${salt}$%%%"),
            format!("scrypt$ln=14,r=8,p=1${salt}${hash}"),
        ] {
            let found = Verifier::read(&text);
            assert!(matches!(found, Err(PassphraseError::NoVerifier(_))), "{text}");
        }
    }

    #[test]
    fn debug_output_tells_neither_salt_nor_hash() {
        let one = Verifier { cost: 14, salt: vec![1; SALT], hash: vec![2; HASH] };
        assert_eq!(format!("{one:?}"), "Verifier { cost: 14, .. }");
    }
}
