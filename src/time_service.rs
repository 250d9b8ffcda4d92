//! Asking a time-stamping service over HTTP (RFC 3161 section 3.4): one request, one answer, within bounds.
//!
//! Plain HTTP and no TLS. The answer is signed and bound to the request, so whoever sits between can hinder but not
//! forge it; whoever listens learns a digest of the register's head, which tells nothing.

use std::time::Duration;

use thiserror::Error;
use ureq::Agent;
use ureq::http::Uri;

const QUERY: &str = "application/timestamp-query";
const REPLY: &str = "application/timestamp-reply";

/// Why a service gave no answer.
#[derive(Debug, Error)]
pub enum ServiceError {
    /// The address is none that can be asked.
    #[error("{url:?} {reason}")]
    Address {
        /// As given.
        url: String,
        /// What is wrong with it.
        reason: &'static str,
    },
    /// No answer came, or not all of it in time.
    #[error("{url} does not answer: {reason}")]
    Silent {
        /// Who was asked.
        url: String,
        /// What the system or the client said.
        reason: String,
    },
    /// An answer came that is none to this question.
    #[error("{url} answers {found}; expected status 200 and {REPLY}")]
    Other {
        /// Who was asked.
        url: String,
        /// Status and media type.
        found: String,
    },
    /// The answer is longer than any of its kind.
    #[error("{url} answers with more than {most} bytes")]
    TooLong {
        /// Who was asked.
        url: String,
        /// How many are read.
        most: usize,
    },
}

impl ServiceError {
    /// How to mend it.
    pub fn hint(&self) -> Option<String> {
        let hint = match self {
            Self::Address { .. } => {
                "give the service's http:// address; https is not built in, and stamps are signed"
            }
            Self::Silent { .. } => {
                "see that the service can be reached from here, then `brightproof register stamp`"
            }
            Self::Other { .. } | Self::TooLong { .. } => {
                "check the address in shop.yaml; a page of a proxy may stand in the way"
            }
        };
        Some(hint.to_owned())
    }
}

/// That an address can be asked at all.
///
/// # Errors
/// [`ServiceError::Address`].
pub fn check_address(url: &str) -> Result<(), ServiceError> {
    let wrong = |reason| Err(ServiceError::Address { url: url.to_owned(), reason });
    let Ok(uri) = url.parse::<Uri>() else { return wrong("is no address") };
    match (uri.scheme_str(), uri.host()) {
        (Some("http"), Some(host)) if !host.is_empty() => Ok(()),
        (Some("https"), _) => wrong("asks for https, which is not built in"),
        _ => wrong("is no http:// address"),
    }
}

/// Sends a request and answers what came back, at most `most` bytes, within `patience` all told. Redirections are not
/// followed. A proxy named in the surroundings (`http_proxy`) is used.
///
/// # Errors
/// [`ServiceError`] says what came instead.
pub fn ask(url: &str, request: &[u8], patience: Duration, most: usize) -> Result<Vec<u8>, ServiceError> {
    check_address(url)?;
    let silent = |error: ureq::Error| ServiceError::Silent { url: url.to_owned(), reason: error.to_string() };
    let agent: Agent = Agent::config_builder()
        .timeout_global(Some(patience))
        .max_redirects(0)
        .max_redirects_will_error(false)
        .http_status_as_error(false)
        .user_agent("brightproof")
        .build()
        .into();
    let mut answer =
        agent.post(url).content_type(QUERY).header("Accept", REPLY).send(request).map_err(silent)?;
    let kind = answer.body().mime_type().unwrap_or("no media type").to_owned();
    if answer.status() != 200 || !kind.eq_ignore_ascii_case(REPLY) {
        let found = format!("status {}, {kind}", answer.status().as_u16());
        let found = found.chars().filter(|c| !c.is_control()).take(200).collect();
        return Err(ServiceError::Other { url: url.to_owned(), found });
    }
    // One byte more than is taken, to tell a long answer from a whole one.
    let limit = u64::try_from(most).unwrap_or(u64::MAX).saturating_add(1);
    let body = answer.body_mut().with_config().limit(limit).read_to_vec();
    let too_long = || ServiceError::TooLong { url: url.to_owned(), most };
    match body {
        Ok(bytes) if bytes.len() > most => Err(too_long()),
        Ok(bytes) => Ok(bytes),
        Err(ureq::Error::BodyExceedsLimit(_)) => Err(too_long()),
        Err(other) => Err(silent(other)),
    }
}
