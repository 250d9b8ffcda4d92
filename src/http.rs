//! Asking a service over HTTP: one request, one answer, within bounds of size and time.
//!
//! Plain HTTP and no TLS: what comes back is signed, and what is sent tells nothing. Redirections are not followed.

use std::time::Duration;

use thiserror::Error;
use ureq::Agent;

/// Why no answer came.
#[derive(Debug, Error)]
pub enum HttpError {
    /// No answer came, or not all of it in time.
    #[error("{url} does not answer: {reason}")]
    Silent {
        /// Who was asked.
        url: String,
        /// What the system or the client said.
        reason: String,
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

/// Sends `body` and answers status and body, at most `most` bytes, within `patience` all told.
///
/// # Errors
/// [`HttpError`] says what came instead; a status of refusal is an answer.
pub fn post(
    url: &str,
    kind: &str,
    body: &[u8],
    most: usize,
    patience: Duration,
) -> Result<(u16, Vec<u8>), HttpError> {
    let silent = |error: ureq::Error| HttpError::Silent { url: url.to_owned(), reason: error.to_string() };
    let agent: Agent = Agent::config_builder()
        .timeout_global(Some(patience))
        .max_redirects(0)
        .max_redirects_will_error(false)
        .http_status_as_error(false)
        .user_agent("brightproof")
        .build()
        .into();
    let mut answer = agent.post(url).content_type(kind).send(body).map_err(silent)?;
    // One byte more than is taken, to tell a long answer from a whole one.
    let limit = u64::try_from(most).unwrap_or(u64::MAX).saturating_add(1);
    let too_long = || HttpError::TooLong { url: url.to_owned(), most };
    match answer.body_mut().with_config().limit(limit).read_to_vec() {
        Ok(bytes) if bytes.len() > most => Err(too_long()),
        Ok(bytes) => Ok((answer.status().as_u16(), bytes)),
        Err(ureq::Error::BodyExceedsLimit(_)) => Err(too_long()),
        Err(other) => Err(silent(other)),
    }
}
