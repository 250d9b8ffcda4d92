//! Witnesses, written here from c2sp.org/tlog-witness and c2sp.org/tlog-cosignature: nothing of ours signs for them.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use brightproof::merkle::sha256;
use ed25519_dalek::Signer;
use ed25519_dalek::SigningKey;

/// A witness's key (type 0x04).
pub struct Key {
    name: String,
    key: SigningKey,
}

impl Key {
    pub fn new(name: &str, seed: u8) -> Key {
        Key { name: name.to_owned(), key: SigningKey::from_bytes(&[seed; 32]) }
    }

    /// Type byte and public key.
    fn public(&self) -> Vec<u8> {
        [&[4_u8], self.key.verifying_key().as_bytes().as_slice()].concat()
    }

    /// First four bytes of SHA-256 of name, line end, type byte and public key.
    fn id(&self) -> [u8; 4] {
        let hashed = [self.name.as_bytes(), b"\n", &self.public()].concat();
        sha256(&hashed)[..4].try_into().unwrap()
    }

    /// `name+id+key`, as c2sp.org/signed-note writes verifier keys.
    pub fn vkey(&self) -> String {
        format!("{}+{}+{}", self.name, hex::encode(self.id()), STANDARD.encode(self.public()))
    }

    /// The signature line over a checkpoint's three lines, stating `at` (seconds since 1970).
    pub fn cosign(&self, head: &str, at: u64) -> String {
        let signature = self.key.sign(format!("cosignature/v1\ntime {at}\n{head}").as_bytes());
        let line = [&self.id()[..], &at.to_be_bytes(), &signature.to_bytes()].concat();
        format!("\u{2014} {} {}\n", self.name, STANDARD.encode(line))
    }
}
