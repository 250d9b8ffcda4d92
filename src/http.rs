//! Asking a service over HTTP: one request, one answer, within bounds of size and time.
//!
//! Plain HTTP and no TLS. What comes back is signed and bound to what was asked, so whoever sits between can hinder but
//! not forge it; whoever listens learns heads and digests, which tell nothing.

use std::time::Duration;

use thiserror::Error;
use ureq::Agent;
use ureq::http::Uri;

/// Why no answer came.
#[derive(Debug, Error)]
pub enum HttpError {
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
    #[error("{url} answers {found}; expected status 200 and {expected}")]
    Other {
        /// Who was asked.
        url: String,
        /// Status and media type.
        found: String,
        /// The media type of an answer.
        expected: String,
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

impl HttpError {
    /// How to mend it.
    pub fn hint(&self) -> Option<String> {
        let hint = match self {
            Self::Address { .. } => {
                "give the service's http:// address; https is not built in, and what comes back is signed"
            }
            Self::Silent { .. } => "see that the service can be reached from here, and ask again",
            Self::Other { .. } | Self::TooLong { .. } => {
                "check the address in shop.yaml; a page of a proxy may stand in the way"
            }
        };
        Some(hint.to_owned())
    }
}

/// What came back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answer {
    /// Status; one of refusal is an answer too.
    pub status: u16,
    /// Media type, where one is said.
    pub kind: Option<String>,
    /// All of its body.
    pub body: Vec<u8>,
}

/// What is sent, and what is taken.
#[derive(Debug, Clone, Copy)]
pub struct Question<'a> {
    /// Media type of the request.
    pub kind: &'a str,
    /// Media type asked for, where the service makes a difference.
    pub accept: Option<&'a str>,
    /// The request.
    pub body: &'a [u8],
    /// Most bytes of an answer.
    pub most: usize,
    /// For all of it.
    pub patience: Duration,
}

/// That an address can be asked at all.
///
/// # Errors
/// [`HttpError::Address`].
pub fn check_address(url: &str) -> Result<(), HttpError> {
    let wrong = |reason| Err(HttpError::Address { url: url.to_owned(), reason });
    let Ok(uri) = url.parse::<Uri>() else { return wrong("is no address") };
    match (uri.scheme_str(), uri.host()) {
        (Some("http"), Some(host)) if !host.is_empty() => Ok(()),
        (Some("https"), _) => wrong("asks for https, which is not built in"),
        _ => wrong("is no http:// address"),
    }
}

/// Posts a question. Redirections are not followed. A proxy named in the surroundings (`http_proxy`) is used.
///
/// # Errors
/// [`HttpError`] says what came instead; a status of refusal is an answer.
pub fn post(url: &str, question: &Question) -> Result<Answer, HttpError> {
    check_address(url)?;
    let most = question.most;
    let silent = |error: ureq::Error| HttpError::Silent { url: url.to_owned(), reason: error.to_string() };
    let agent: Agent = Agent::config_builder()
        .timeout_global(Some(question.patience))
        .max_redirects(0)
        .max_redirects_will_error(false)
        .http_status_as_error(false)
        .user_agent("brightproof")
        .build()
        .into();
    let mut request = agent.post(url).content_type(question.kind);
    if let Some(accept) = question.accept {
        request = request.header("Accept", accept);
    }
    let mut answer = request.send(question.body).map_err(silent)?;
    let (status, kind) = (answer.status().as_u16(), answer.body().mime_type().map(str::to_owned));
    // One byte more than is taken, to tell a long answer from a whole one.
    let limit = u64::try_from(most).unwrap_or(u64::MAX).saturating_add(1);
    let too_long = || HttpError::TooLong { url: url.to_owned(), most };
    match answer.body_mut().with_config().limit(limit).read_to_vec() {
        Ok(bytes) if bytes.len() > most => Err(too_long()),
        Ok(body) => Ok(Answer { status, kind, body }),
        Err(ureq::Error::BodyExceedsLimit(_)) => Err(too_long()),
        Err(other) => Err(silent(other)),
    }
}

/// Posts a question to which just one kind of answer is one: status 200, of the media type accepted.
///
/// # Errors
/// [`HttpError`] says what came instead.
pub fn ask(url: &str, question: &Question) -> Result<Vec<u8>, HttpError> {
    let expected = question.accept.unwrap_or_default();
    let answer = post(url, question)?;
    let kind = answer.kind.as_deref().unwrap_or("no media type");
    if answer.status == 200 && kind.eq_ignore_ascii_case(expected) {
        return Ok(answer.body);
    }
    let found = format!("status {}, {kind}", answer.status);
    let found = found.chars().filter(|c| !c.is_control()).take(200).collect();
    Err(HttpError::Other { url: url.to_owned(), found, expected: expected.to_owned() })
}
