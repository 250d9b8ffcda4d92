//! Ed25519 keys in their text forms, as C2SP signed-note and the Go note package write them.
//!
//! ```text
//! verifier  name+hex(key id)+base64(type || public key)
//! signer    PRIVATE+KEY+name+hex(key id)+base64(0x01 || seed)
//! key id    first 4 bytes of SHA-256(name || 0x0A || type || public key)
//! type      0x01 Ed25519: signs the text     0x04: cosigns the text with a time
//! ```

#[cfg(test)]
mod vectors;

use std::fmt;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use ed25519_dalek::Signature;
use ed25519_dalek::Signer;
use ed25519_dalek::pkcs8::EncodePublicKey;
use ed25519_dalek::pkcs8::spki::der::pem::LineEnding;
use zeroize::Zeroizing;

use super::CheckpointError;
use crate::merkle::sha256;

const SIGNER: &str = "PRIVATE+KEY+";

/// What a key's signature says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// The register's own key (type 0x01): this text is mine.
    Register,
    /// A witness (type 0x04): at that time, this was the largest consistent head I had seen.
    Witness,
}

impl Role {
    fn byte(self) -> u8 {
        match self {
            Self::Register => 0x01,
            Self::Witness => 0x04,
        }
    }
}

/// A public key with its name and role.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct VerifyKey {
    name: String,
    role: Role,
    id: [u8; 4],
    key: ed25519_dalek::VerifyingKey,
}

impl VerifyKey {
    /// Reads the text form.
    ///
    /// # Errors
    /// When the text is not a key, its id does not fit it, or it is a weak (low-order) key, for
    /// which signatures can be made up.
    pub fn parse(text: &str) -> Result<Self, CheckpointError> {
        let wrong = |what: &str| CheckpointError::Key { kind: "verifier", what: what.to_owned() };
        let (name, id, bytes) = parts(text, "verifier")?;
        let (role, public) = match bytes.split_first() {
            Some((0x01, public)) => (Role::Register, public),
            Some((0x04, public)) => (Role::Witness, public),
            Some((other, _)) => return Err(wrong(&format!("key type {other:#04x} instead of 0x01 or 0x04"))),
            None => return Err(wrong("it is empty")),
        };
        let public: &[u8; 32] =
            public.try_into().map_err(|_| wrong(&format!("{} bytes instead of 32", public.len())))?;
        let key = ed25519_dalek::VerifyingKey::from_bytes(public)
            .map_err(|_| wrong("its bytes are no point of the curve"))?;
        if key.is_weak() {
            return Err(wrong("it is a weak key, for which signatures can be made up"));
        }
        let own = Self::new(name, role, key);
        if own.id != id {
            return Err(wrong(&format!(
                "its id is {} but should be {}",
                hex::encode(id),
                hex::encode(own.id)
            )));
        }
        Ok(own)
    }

    fn new(name: String, role: Role, key: ed25519_dalek::VerifyingKey) -> Self {
        let mut hashed = name.clone().into_bytes();
        hashed.extend([b'\n', role.byte()]);
        hashed.extend(key.as_bytes());
        let [a, b, c, d, ..] = sha256(&hashed);
        Self { name, role, id: [a, b, c, d], key }
    }

    /// The public key alone, as other programs read it (RFC 8410, PEM).
    ///
    /// # Errors
    /// When it cannot be encoded.
    pub fn to_pem(&self) -> Result<String, CheckpointError> {
        self.key
            .to_public_key_pem(LineEnding::LF)
            .map_err(|e| CheckpointError::Key { kind: "verifier", what: e.to_string() })
    }

    /// The 32 bytes of the public key (RFC 8032).
    pub fn public(&self) -> [u8; 32] {
        self.key.to_bytes()
    }

    /// Whether this key signed two digests, as [`SigningKey::sign_digests`] does.
    pub fn signed_digests(&self, digests: &[u8; 64], signature: &[u8; 64]) -> bool {
        self.holds(digests, signature)
    }

    /// The key's name; a register's key carries the register's origin.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// What its signatures say.
    pub fn role(&self) -> Role {
        self.role
    }

    /// The four bytes that lead its signatures: a hint which key to try, no proof of anything.
    pub(super) fn id(&self) -> [u8; 4] {
        self.id
    }

    /// Checks a signature without its key id; a witness's answers the time it states.
    pub(super) fn verify(&self, text: &str, signature: &[u8]) -> Result<Option<u64>, CheckpointError> {
        let refused = || CheckpointError::Signature { name: self.name.clone() };
        let (message, signature, at) = match self.role {
            Role::Register => (text.to_owned(), signature, None),
            Role::Witness => {
                let (at, signature) = signature.split_first_chunk::<8>().ok_or_else(refused)?;
                let at = u64::from_be_bytes(*at);
                (format!("cosignature/v1\ntime {at}\n{text}"), signature, Some(at))
            }
        };
        if self.holds(message.as_bytes(), signature) { Ok(at) } else { Err(refused()) }
    }

    /// Whether a bare signature over a message is this key's.
    fn holds(&self, message: &[u8], signature: &[u8]) -> bool {
        // The strict check also refuses low-order points, which would let one signature fit two texts.
        Signature::from_slice(signature).is_ok_and(|s| self.key.verify_strict(message, &s).is_ok())
    }
}

impl fmt::Display for VerifyKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut bytes = vec![self.role.byte()];
        bytes.extend(self.key.as_bytes());
        write!(f, "{}+{}+{}", self.name, hex::encode(self.id), STANDARD.encode(bytes))
    }
}

/// A register's private key. Its `Debug` shows the name only; the seed is wiped when dropped.
pub struct SigningKey {
    verify: VerifyKey,
    key: ed25519_dalek::SigningKey,
}

impl fmt::Debug for SigningKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "SigningKey({})", self.verify.name)
    }
}

impl SigningKey {
    /// The key made from 32 random bytes, which the caller draws (RFC 8032 section 5.1.5).
    ///
    /// # Errors
    /// When `name` cannot name a key: empty, or with spaces, control characters or a plus.
    pub fn from_seed(name: &str, seed: &[u8; 32]) -> Result<Self, CheckpointError> {
        if !is_name(name) {
            return Err(bad_name(name, "signer"));
        }
        let key = ed25519_dalek::SigningKey::from_bytes(seed);
        Ok(Self { verify: VerifyKey::new(name.to_owned(), Role::Register, key.verifying_key()), key })
    }

    /// Reads the text form.
    ///
    /// # Errors
    /// When the text is not a key or its id does not fit it. The message never repeats the text.
    pub fn parse(text: &str) -> Result<Self, CheckpointError> {
        let wrong = |what: &str| CheckpointError::Key { kind: "signer", what: what.to_owned() };
        let rest =
            text.strip_prefix(SIGNER).ok_or_else(|| wrong(&format!("it does not begin with {SIGNER}")))?;
        let (name, id, bytes) = parts(rest, "signer")?;
        let bytes = Zeroizing::new(bytes);
        let Some((0x01, seed)) = bytes.split_first() else {
            return Err(wrong("its key type is not 0x01"));
        };
        let seed: &[u8; 32] = seed.try_into().map_err(|_| wrong("its seed is not 32 bytes long"))?;
        let key = Self::from_seed(&name, seed)?;
        if key.verify.id != id {
            return Err(wrong("its id does not fit its seed"));
        }
        Ok(key)
    }

    /// The text form, to be kept secret.
    pub fn to_text(&self) -> Zeroizing<String> {
        let mut bytes = Zeroizing::new(vec![Role::Register.byte()]);
        bytes.extend(self.key.as_bytes());
        let seed = Zeroizing::new(STANDARD.encode(&*bytes));
        Zeroizing::new(format!("{SIGNER}{}+{}+{}", self.verify.name, hex::encode(self.verify.id), *seed))
    }

    /// The key's name.
    pub fn name(&self) -> &str {
        &self.verify.name
    }

    /// The public key that belongs to it.
    pub fn verify_key(&self) -> VerifyKey {
        self.verify.clone()
    }

    /// Key id and signature over `text`.
    pub(super) fn sign(&self, text: &str) -> Vec<u8> {
        let mut line = self.verify.id.to_vec();
        line.extend(self.signature(text.as_bytes()));
        line
    }

    /// Signs two SHA-256 digests, one behind the other, as Data Integrity proofs have it. No such signature passes for
    /// one of a head or a handover: those are lines of text, and nobody finds things whose digests are lines of text.
    pub fn sign_digests(&self, digests: &[u8; 64]) -> [u8; 64] {
        self.signature(digests)
    }

    fn signature(&self, message: &[u8]) -> [u8; 64] {
        self.key.sign(message).to_bytes()
    }
}

/// Name, key id and key bytes of `name+id+base64`.
fn parts(text: &str, kind: &'static str) -> Result<(String, [u8; 4], Vec<u8>), CheckpointError> {
    let wrong = |what: &str| CheckpointError::Key { kind, what: what.to_owned() };
    // Base64 itself may hold a plus, so only the first two divide.
    let mut split = text.splitn(3, '+');
    let (Some(name), Some(id), Some(key)) = (split.next(), split.next(), split.next()) else {
        return Err(wrong("it is not name+id+key"));
    };
    if !is_name(name) {
        return Err(bad_name(name, kind));
    }
    let lowercase = id.len() == 8 && id.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'));
    let id = hex::decode(id).ok().filter(|_| lowercase).and_then(|id| id.try_into().ok());
    let id = id.ok_or_else(|| wrong("its id is not 8 lower-case hexadecimal digits"))?;
    let key = STANDARD.decode(key).map_err(|_| wrong("its last part is not base64"))?;
    Ok((name.to_owned(), id, key))
}

fn bad_name(name: &str, kind: &'static str) -> CheckpointError {
    let what = format!("the name {name:?} is empty or holds a space, a control character or a plus");
    CheckpointError::Key { kind, what }
}

/// Whether `name` can name a key.
pub(super) fn is_name(name: &str) -> bool {
    !name.is_empty() && !name.chars().any(|c| c.is_whitespace() || c.is_control() || c == '+')
}

#[cfg(test)]
mod tests {
    use super::*;

    /// golang.org/x/mod sumdb/note, example_test.go (BSD-3-Clause); values only.
    const SIGNER_TEXT: &str =
        "PRIVATE+KEY+PeterNeumann+c74f20a3+AYEKFALVFGyNhPJEMzD1QIDr+Y7hfZx09iUvxdXHKDFz";
    const VERIFIER_TEXT: &str = "PeterNeumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW";

    #[test]
    fn keys_read_and_write_their_text_forms() {
        let signer = SigningKey::parse(SIGNER_TEXT).unwrap();
        assert_eq!(*signer.to_text(), SIGNER_TEXT);
        assert_eq!(signer.verify_key().to_string(), VERIFIER_TEXT);
        assert_eq!(VerifyKey::parse(VERIFIER_TEXT).unwrap(), signer.verify_key());
        assert_eq!(format!("{signer:?}"), "SigningKey(PeterNeumann)");
        // seed of 32 zero bytes, same source
        let enoch = SigningKey::from_seed("EnochRoot", &[0; 32]).unwrap();
        let text = "EnochRoot+af0cfe78+ATtqJ7zOtqQtYqOo0CpvDXNlMhV3HeJDpjrASKGLWdop";
        assert_eq!(enoch.verify_key().to_string(), text);
        // sum.golang.org's public key, recalled; its id was recomputed and agrees
        VerifyKey::parse("sum.golang.org+033de0ae+Ac4zctda0e5eza+HJyk9SxEdh+s3Ux18htTTAD8OuAn8").unwrap();
    }

    #[test]
    fn every_shortened_and_every_changed_key_is_refused() {
        for good in [VERIFIER_TEXT, SIGNER_TEXT] {
            let parses = |text: &str| match good == SIGNER_TEXT {
                true => SigningKey::parse(text).is_ok(),
                false => VerifyKey::parse(text).is_ok(),
            };
            assert!(parses(good));
            for from in 0..good.len() {
                for to in from..=good.len() {
                    assert!(to - from == good.len() || !parses(&good[from..to]), "{}", &good[from..to]);
                }
            }
            for at in 0..good.len() {
                let mut bytes = good.as_bytes().to_vec();
                bytes[at] += 1;
                assert!(!parses(std::str::from_utf8(&bytes).unwrap()), "byte {at}");
            }
        }
    }

    /// One key has one text: its id in capital letters is another, which nothing writes.
    #[test]
    fn an_id_has_one_spelling() {
        for good in [VERIFIER_TEXT, SIGNER_TEXT] {
            let capital = good.replace("c74f20a3", "C74F20A3");
            assert_ne!(good, capital);
            assert!(SigningKey::parse(&capital).is_err() && VerifyKey::parse(&capital).is_err(), "{capital}");
        }
        let error = VerifyKey::parse(&VERIFIER_TEXT.replace("c74f20a3", "C74F20A3")).unwrap_err().to_string();
        assert!(error.contains("its id is not 8 lower-case hexadecimal digits"), "{error}");
    }

    #[test]
    fn keys_of_wrong_length_or_type_are_refused_though_their_id_fits() {
        // note_test.go of the same package
        for bad in [
            "PeterNeumann+cc469956+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TWBADKEY==",
            "PeterNeumann+173116ae+ZRpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW",
        ] {
            assert!(matches!(VerifyKey::parse(bad), Err(CheckpointError::Key { .. })), "{bad}");
        }
    }

    #[test]
    fn names_that_cannot_stand_in_a_line_are_refused() {
        for name in ["", "a b", "a+b", "a\nb", "a\u{2003}b", "a\u{0}"] {
            assert!(SigningKey::from_seed(name, &[1; 32]).is_err(), "{name:?}");
        }
    }

    #[test]
    fn a_refused_signer_key_is_not_repeated_in_the_message() {
        let bent = SIGNER_TEXT.replace("c74f20a3", "c74f20a4");
        let message = SigningKey::parse(&bent).unwrap_err().to_string();
        assert!(!message.contains("AYEKFALVFGyN"), "{message}");
    }
}
