//! Time stamps (RFC 3161, RFC 5816): somebody else's signed word that some bytes were there at a time.
//!
//! The shop's own clock says when a certificate was issued, and nobody can check a clock. So a service that purchasers
//! trust is sent the SHA-256 of a signed head of the register, and signs it together with the time. Whatever stood
//! in the register at that head stood there before that time.
//!
//! Rules of this module:
//! - It reads no clock, draws no random bytes, opens no connection: bytes in, bytes or an answer out.
//! - Trust comes from outside the stamp: the certificate of the service, or of a root above it.
//! - What is kept is cut down to what signatures cover: of the answer the token, of its certificates those that lead
//!   to the root, no unsigned attributes. Checking builds it again from its parts and compares every byte.
//! - Revocation is not looked up: a stamp is as good as the service's key was at its time.

mod certificate;
mod cms;
mod error;
mod message;
mod path;
mod signature;

use chrono::DateTime;
use chrono::TimeDelta;
use chrono::Utc;
use sha2::Digest;
use sha2::Sha256;

pub use certificate::Anchor;
pub use error::TimeStampError;
pub use message::Request;

use cms::Token;
use message::Info;

/// No answer of a service is longer than this, in bytes.
pub const LONGEST: usize = 64 << 10;
/// Media type of a request (RFC 3161 section 3.4).
pub const QUERY: &str = "application/timestamp-query";
/// Media type of an answer.
pub const REPLY: &str = "application/timestamp-reply";

/// What a stamp says, once everything about it was checked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TimeStamp {
    /// The time the service signed.
    pub at: DateTime<Utc>,
    /// How far off the service says it may be, if it says.
    pub accuracy: Option<TimeDelta>,
    /// The service, as its certificate names it.
    pub by: String,
    /// The policy it was made under, as an object identifier.
    pub policy: String,
    /// The stamp's serial number, hexadecimal.
    pub serial: String,
    /// SHA-256 of the trusted certificate it was checked under, lower-case hex.
    pub anchor: String,
}

/// Checks the answer to `request` under `anchor`; answers what to keep of it, and what it says.
///
/// # Errors
/// [`TimeStampError`] says what was found. Nothing of such an answer is worth keeping.
pub fn accept(
    request: &Request,
    answer: &[u8],
    anchor: &Anchor,
) -> Result<(Vec<u8>, TimeStamp), TimeStampError> {
    if answer.len() > LONGEST {
        let found = format!("{} bytes; at most {LONGEST} are read", answer.len());
        return Err(TimeStampError::Form(found));
    }
    let token = Token::read(&message::granted(answer)?)?;
    let (info, way) = checked(&token, request.imprint(), anchor)?;
    request.answered_by(&info)?;
    let kept = message::answer(&token.cut(way.certificates())?)?;
    let stamp = stamp(&info, &way.subject(), anchor);
    // What is kept must check as it will be checked; if not, better to learn of it now.
    if check(&kept, request.imprint(), anchor)? != stamp {
        return Err(TimeStampError::Form("it says something else once cut down to what is signed".into()));
    }
    Ok((kept, stamp))
}

/// Checks a kept stamp, offline: that it is about the bytes whose SHA-256 is `imprint`, that every byte of it is what
/// was kept, and that the service's certificate leads to `anchor` and was valid at the stamp's time.
///
/// # Errors
/// [`TimeStampError`] says what was found.
pub fn check(kept: &[u8], imprint: &[u8; 32], anchor: &Anchor) -> Result<TimeStamp, TimeStampError> {
    let token = Token::read(&message::granted(kept)?)?;
    let (info, way) = checked(&token, imprint, anchor)?;
    way.uses_all(&token, anchor)?;
    if message::answer(&token.cut(&token.certificates)?)? != kept {
        return Err(TimeStampError::Form("it is not in the one form that is kept".into()));
    }
    Ok(stamp(&info, &way.subject(), anchor))
}

/// SHA-256 of the bytes to be stamped.
pub fn imprint(bytes: &[u8]) -> [u8; 32] {
    Sha256::digest(bytes).into()
}

/// Everything that can be checked without the request.
fn checked<'t>(
    token: &'t Token,
    imprint: &[u8; 32],
    anchor: &Anchor,
) -> Result<(Info, path::Way<'t>), TimeStampError> {
    let info = Info::read(&token.content)?;
    info.is_about(imprint)?;
    let signer = token.signer()?;
    token.signed_by(signer)?;
    signer.may_stamp()?;
    info.names(signer)?;
    let way = path::find(token, signer, anchor, info.at.timestamp())?;
    Ok((info, way))
}

fn stamp(info: &Info, by: &str, anchor: &Anchor) -> TimeStamp {
    TimeStamp {
        at: info.at,
        accuracy: info.accuracy,
        by: by.to_owned(),
        policy: info.policy.clone(),
        serial: info.serial.clone(),
        anchor: anchor.fingerprint(),
    }
}
