//! Why a time stamp is not worth keeping, or does not hold.

use thiserror::Error;

/// What was found instead of a good time stamp.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum TimeStampError {
    /// The bytes are no answer of a time-stamping service, or not in the form that is kept.
    #[error("not a time stamp: {0}")]
    Form(String),
    /// The service answered that it gives no stamp.
    #[error("the service gives no time stamp: {status}{said}")]
    Refused {
        /// Its status, in words.
        status: String,
        /// What else it said, after a colon; or nothing.
        said: String,
    },
    /// The stamp answers another question.
    #[error("the stamp's {what} is {found}; expected {expected}")]
    Differs {
        /// Which part.
        what: &'static str,
        /// As found.
        found: String,
        /// As it should be.
        expected: String,
    },
    /// The service's certificate, or one above it, does not allow this.
    #[error("certificate {subject}: {reason}")]
    Certificate {
        /// As it names itself.
        subject: String,
        /// What is wrong.
        reason: String,
    },
    /// The service's certificate does not lead to the trusted one.
    #[error("the stamp is not by a service under the trusted certificate: {0}")]
    Untrusted(String),
    /// The signature is not that of the certificate's key over the stamp.
    #[error("the stamp's signature: {0}")]
    Signature(String),
    /// A signature or digest of a kind this tool does not check.
    #[error(
        "{found} is not checked by this tool; RSA (PKCS#1 v1.5, 2048 to 4096 bits) and ECDSA on P-256 or P-384, with SHA-256, SHA-384 or SHA-512, are"
    )]
    Algorithm {
        /// Name or object identifier.
        found: String,
    },
    /// The trusted certificate cannot be read.
    #[error("the trusted certificate of the time-stamping service: {0}")]
    Anchor(String),
    /// The request cannot be written.
    #[error("the request for a time stamp: {0}")]
    Request(String),
}

impl TimeStampError {
    /// How to mend it.
    pub fn hint(&self) -> Option<String> {
        let hint = match self {
            Self::Form(_) | Self::Differs { .. } | Self::Signature(_) => {
                "do not rely on it; ask the service again, and if it stays, another service"
            }
            Self::Refused { .. } => "ask the service; `policy` in shop.yaml must be one that it gives",
            Self::Certificate { .. } | Self::Algorithm { .. } => {
                "the service needs another certificate: ask it, or choose another service"
            }
            Self::Untrusted(_) => {
                "name the root certificate that the service publishes, checked by another way"
            }
            Self::Anchor(_) => "the file must hold one certificate, PEM or DER",
            Self::Request(_) => "a policy is an object identifier like 1.3.6.1.4.1.99999.1",
        };
        Some(hint.to_owned())
    }

    pub(super) fn differs(what: &'static str, found: impl ToString, expected: impl ToString) -> Self {
        Self::Differs { what, found: found.to_string(), expected: expected.to_string() }
    }

    pub(super) fn der(error: der::Error) -> Self {
        Self::Form(error.to_string())
    }
}
