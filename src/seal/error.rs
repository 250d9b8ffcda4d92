//! What can go wrong with keys and anchors. That a seal does not verify is no error: it is an answer.

use thiserror::Error;

/// Why a key could not be made or opened, a seal not written, or an anchor not read.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum SealError {
    /// The organisation's name does not fit a certificate.
    #[error("organisation name {name:?} {reason}")]
    Organisation {
        /// The name as given.
        name: String,
        /// What is wrong with it.
        reason: String,
    },
    /// A certificate cannot begin at this time.
    #[error("a certificate cannot begin at {found}; expected a time from 1970 to 9999")]
    NotBefore {
        /// The time as given.
        found: String,
    },
    /// The source of random bytes failed or repeats itself.
    #[error("no random bytes for a key: {0}")]
    Random(String),
    /// The passphrase is empty.
    #[error("the passphrase is empty")]
    EmptyPassphrase,
    /// A file is not PEM.
    #[error("{what} is not a PEM file: {reason}")]
    Pem {
        /// Which file.
        what: &'static str,
        /// The reader's reason.
        reason: String,
    },
    /// A PKCS#12 file from which no key can be taken.
    #[error("the PKCS#12 file (.p12, .pfx): {reason}")]
    Pkcs12 {
        /// What was found.
        reason: String,
    },
    /// A PEM file holds another thing.
    #[error("{what} holds {found:?}; expected {expected}")]
    Label {
        /// Which file.
        what: &'static str,
        /// The PEM label found.
        found: String,
        /// The labels that would do.
        expected: &'static str,
    },
    /// A certificate file holds too many or too few certificates.
    #[error("{what} holds {found} certificates; expected {expected}")]
    Count {
        /// Which file.
        what: &'static str,
        /// How many there are.
        found: usize,
        /// How many there should be.
        expected: &'static str,
    },
    /// The key is encrypted and no passphrase came with it.
    #[error("the key is encrypted, and no passphrase was given")]
    PassphraseNeeded,
    /// The key is open, though a passphrase came with it.
    #[error("a passphrase was given, but the key is not encrypted")]
    NotEncrypted,
    /// The passphrase does not open the key.
    #[error("the passphrase does not open the key")]
    WrongPassphrase,
    /// The key is encrypted in a way this tool does not open.
    #[error("the key is encrypted with {found}; expected PBES2 (scrypt or PBKDF2, AES)")]
    Encryption {
        /// Name or object identifier of the encryption.
        found: String,
    },
    /// The key file asks for more work or memory than is sane.
    #[error("opening the key asks for {found}; at most {limit} is allowed")]
    Cost {
        /// The work asked for.
        found: String,
        /// What is allowed.
        limit: &'static str,
    },
    /// The private key is not one on P-256.
    #[error("the key is not an elliptic curve P-256 key: {0}")]
    NotP256(String),
    /// Private key and certificate do not belong together.
    #[error("the key does not belong to the certificate of {organisation:?}")]
    Mismatch {
        /// The organisation named in the certificate.
        organisation: String,
    },
    /// Whoever holds the key did not sign.
    #[error("the key's holder does not sign: {0}")]
    Remote(String),
    /// The seal would have the root's own key.
    #[error("the seal key is the root's own key; expected another")]
    SameKey,
    /// A certificate is not one of the two kinds made here.
    #[error("{what}: {reason}")]
    Certificate {
        /// Which certificate.
        what: &'static str,
        /// In what it differs.
        reason: String,
    },
    /// The trust anchor is not a fingerprint.
    #[error("{found:?} is not a fingerprint; expected the 64 hexadecimal digits of a SHA-256")]
    Fingerprint {
        /// The text as given.
        found: String,
    },
    /// What should say that one root follows another says nothing of the kind.
    #[error("root handover: {reason}")]
    Handover {
        /// What was found.
        reason: String,
    },
    /// The encoder refused; not expected.
    #[error("cannot encode the seal: {0}")]
    Encode(String),
}

impl SealError {
    /// How to mend it.
    pub fn hint(&self) -> Option<String> {
        let hint = match self {
            Self::Organisation { .. } => {
                "use the name as it should show in a PDF viewer, at most 54 characters"
            }
            Self::Random(_) => "try again; if it stays, the operating system has no entropy",
            Self::EmptyPassphrase => "choose a passphrase; an open key is for demonstrations only",
            Self::Pem { .. } => "the file must begin with -----BEGIN and be text",
            Self::Pkcs12 { .. } => {
                "take the key out: openssl pkcs12 -in FILE.p12 -nocerts -aes256 -out key.pem (with -legacy for RC2 or 3DES), and \
                 give key.pem"
            }
            Self::Label { found, .. } if found == "EC PRIVATE KEY" => {
                "convert it: openssl pkcs8 -topk8 -v2 aes256 -in old.pem -out new.pem"
            }
            Self::Label { .. } => "check that key and certificate were not taken for one another",
            Self::Count { .. } => {
                "the seal's file holds its certificate, then the root's; an anchor holds the root alone"
            }
            Self::PassphraseNeeded => "give the passphrase chosen when the keys were made",
            Self::NotEncrypted => {
                "leave the passphrase out, or encrypt the key: openssl pkcs8 -topk8 -v2 aes256"
            }
            Self::WrongPassphrase => "check capitals and keyboard layout; a damaged key file looks the same",
            Self::Encryption { .. } => {
                "convert it: openssl pkcs8 -topk8 -v2 aes256 -in old.pem -out new.pem; a PKCS#12 file by openssl pkcs12 \
                 -legacy -in FILE.p12 -nocerts -aes256 -out new.pem"
            }
            Self::Cost { .. } => {
                "make the key file again with ordinary settings: openssl pkcs8 -topk8 -v2 aes256"
            }
            Self::NotP256(_) => "only keys made by this tool, or P-256 keys, can seal",
            Self::Remote(_) => "see that the token is plugged in, and try again",
            Self::SameKey => "make a key for the seal alone: the root's is kept off the machine",
            Self::Mismatch { .. } => "use key and certificate that were made together",
            Self::Fingerprint { .. } => "copy the whole line; colons and spaces do no harm",
            Self::Handover { .. } => "take it whole, as `keys handovers` printed it",
            Self::NotBefore { .. } | Self::Certificate { .. } | Self::Encode(_) => return None,
        };
        Some(hint.into())
    }
}

impl From<der::Error> for SealError {
    fn from(error: der::Error) -> Self {
        Self::Encode(error.to_string())
    }
}
