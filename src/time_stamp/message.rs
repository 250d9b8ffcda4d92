//! Request, answer and what is signed (RFC 3161 sections 2.4.1 and 2.4.2).
//!
//! ```text
//! TimeStampReq    version 1, SHA-256 of the bytes, policy asked for, nonce, certificates wanted
//! TimeStampResp   status, then a CMS SignedData whose content is
//! TSTInfo           version 1, policy, SHA-256 of the bytes, serial, time, accuracy, nonce, the service's name
//! ```

use chrono::DateTime;
use chrono::NaiveDate;
use chrono::TimeDelta;
use chrono::Utc;
use const_oid::ObjectIdentifier;
use const_oid::db::rfc5912::ID_SHA_256;
use der::Decode;
use der::Encode;
use der::Sequence;
use der::Tag;
use der::Tagged;
use der::asn1::Any;
use der::asn1::BitString;
use der::asn1::Int;
use der::asn1::OctetString;
use der::asn1::Uint;
use spki::AlgorithmIdentifierOwned;
use x509_cert::ext::Extensions;
use x509_cert::ext::pkix::name::GeneralName;

use super::TimeStampError;
use super::certificate::Certified;
use super::certificate::plain;

/// A stamp that may be further off than this, in seconds, is refused: else a service could date what it likes.
const COARSEST: u32 = 600;

#[derive(Debug, Clone, Sequence)]
struct MessageImprint {
    algorithm: AlgorithmIdentifierOwned,
    digest: OctetString,
}

#[derive(Debug, Sequence)]
struct TimeStampReq {
    version: u8,
    imprint: MessageImprint,
    #[asn1(optional = "true")]
    policy: Option<ObjectIdentifier>,
    #[asn1(optional = "true")]
    nonce: Option<Uint>,
    certificates: bool,
}

#[derive(Debug, Sequence)]
struct StatusInfo {
    status: u8,
    #[asn1(optional = "true")]
    said: Option<Vec<String>>,
    #[asn1(optional = "true")]
    failure: Option<BitString>,
}

#[derive(Debug, Sequence)]
struct TimeStampResp {
    status: StatusInfo,
    #[asn1(optional = "true")]
    token: Option<Any>,
}

#[derive(Debug, Sequence)]
struct Accuracy {
    #[asn1(optional = "true")]
    seconds: Option<u32>,
    #[asn1(context_specific = "0", tag_mode = "IMPLICIT", optional = "true")]
    millis: Option<u16>,
    #[asn1(context_specific = "1", tag_mode = "IMPLICIT", optional = "true")]
    micros: Option<u16>,
}

fn unordered() -> bool {
    false
}

#[derive(Debug, Sequence)]
struct TstInfo {
    version: u8,
    policy: ObjectIdentifier,
    imprint: MessageImprint,
    serial: Int,
    time: Any,
    #[asn1(optional = "true")]
    accuracy: Option<Accuracy>,
    #[asn1(default = "unordered")]
    ordering: bool,
    #[asn1(optional = "true")]
    nonce: Option<Uint>,
    #[asn1(context_specific = "0", tag_mode = "EXPLICIT", optional = "true")]
    service: Option<GeneralName>,
    #[asn1(context_specific = "1", tag_mode = "IMPLICIT", constructed = "true", optional = "true")]
    extensions: Option<Extensions>,
}

/// A request for a stamp over some bytes.
#[derive(Debug, Clone)]
pub struct Request {
    imprint: [u8; 32],
    policy: Option<ObjectIdentifier>,
    nonce: Uint,
}

impl Request {
    /// Asks for a stamp over the bytes whose SHA-256 is `imprint`. The nonce is drawn at random by the caller for
    /// this request alone; the answer must repeat it. The policy is an object identifier.
    ///
    /// # Errors
    /// [`TimeStampError::Request`] when the policy is none.
    pub fn new(imprint: [u8; 32], policy: Option<&str>, nonce: [u8; 16]) -> Result<Request, TimeStampError> {
        let policy = policy
            .map(|text| {
                ObjectIdentifier::new(text).map_err(|e| {
                    TimeStampError::Request(format!("policy {text:?} is no object identifier: {e}"))
                })
            })
            .transpose()?;
        let nonce = Uint::new(&nonce).map_err(|e| TimeStampError::Request(e.to_string()))?;
        Ok(Request { imprint, policy, nonce })
    }

    /// What is sent: DER, of the media type `application/timestamp-query`.
    ///
    /// # Errors
    /// [`TimeStampError::Request`], which is not expected.
    pub fn to_der(&self) -> Result<Vec<u8>, TimeStampError> {
        let written = || {
            let imprint = MessageImprint {
                algorithm: AlgorithmIdentifierOwned { oid: ID_SHA_256, parameters: None },
                digest: OctetString::new(self.imprint)?,
            };
            let nonce = Some(self.nonce.clone());
            TimeStampReq { version: 1, imprint, policy: self.policy, nonce, certificates: true }.to_der()
        };
        written().map_err(|e: der::Error| TimeStampError::Request(e.to_string()))
    }

    pub(super) fn imprint(&self) -> &[u8; 32] {
        &self.imprint
    }

    /// That a stamp was made for this very request.
    pub(super) fn answered_by(&self, info: &Info) -> Result<(), TimeStampError> {
        let shown = |nonce: Option<&Uint>| nonce.map_or("none".to_owned(), |n| hex::encode(n.as_bytes()));
        if info.nonce.as_ref() != Some(&self.nonce) {
            let expected = shown(Some(&self.nonce));
            return Err(TimeStampError::differs("nonce", shown(info.nonce.as_ref()), expected));
        }
        match self.policy.map(|policy| policy.to_string()) {
            Some(asked) if asked != info.policy => {
                Err(TimeStampError::differs("policy", &info.policy, asked))
            }
            _ => Ok(()),
        }
    }
}

/// The token of an answer that grants one, as DER.
pub(super) fn granted(answer: &[u8]) -> Result<Vec<u8>, TimeStampError> {
    let answer = TimeStampResp::from_der(answer).map_err(TimeStampError::der)?;
    let status = match answer.status.status {
        0 | 1 => None,
        2 => Some("rejected".to_owned()),
        3 => Some("waiting".to_owned()),
        4 => Some("warning, a revocation is imminent".to_owned()),
        5 => Some("its certificate is revoked".to_owned()),
        other => Some(format!("status {other}")),
    };
    if let Some(status) = status {
        let said = answer.status.said.unwrap_or_default();
        let said = said.iter().map(|text| plain(text)).chain(answer.status.failure.as_ref().map(failure));
        let said: String = said.filter(|text| !text.is_empty()).map(|text| format!(": {text}")).collect();
        return Err(TimeStampError::Refused { status, said });
    }
    let token =
        answer.token.ok_or_else(|| TimeStampError::Form("it grants a stamp and holds none".into()))?;
    token.to_der().map_err(TimeStampError::der)
}

/// The failure bits of RFC 3161 section 2.4.2.
fn failure(bits: &BitString) -> String {
    const NAMES: [(usize, &str); 8] = [
        (0, "algorithm not taken"),
        (2, "request not allowed"),
        (5, "data in the wrong form"),
        (14, "its clock is not available"),
        (15, "policy not given"),
        (16, "extension not taken"),
        (17, "information not available"),
        (25, "failure of the service"),
    ];
    let set: Vec<usize> = bits.bits().enumerate().filter_map(|(at, set)| set.then_some(at)).collect();
    let named = NAMES.iter().filter(|(at, _)| set.contains(at)).map(|(_, name)| *name);
    named.collect::<Vec<_>>().join(", ")
}

/// The answer as it is kept: granted, without words, and the token.
pub(super) fn answer(token: &[u8]) -> Result<Vec<u8>, TimeStampError> {
    let kept = || {
        let status = StatusInfo { status: 0, said: None, failure: None };
        TimeStampResp { status, token: Some(Any::from_der(token)?) }.to_der()
    };
    kept().map_err(TimeStampError::der)
}

/// What the service signed.
pub(super) struct Info {
    pub(super) at: DateTime<Utc>,
    pub(super) accuracy: Option<TimeDelta>,
    pub(super) policy: String,
    pub(super) serial: String,
    nonce: Option<Uint>,
    imprint: MessageImprint,
    service: Option<GeneralName>,
}

impl Info {
    /// Reads the signed content.
    pub(super) fn read(content: &[u8]) -> Result<Info, TimeStampError> {
        let info = TstInfo::from_der(content).map_err(TimeStampError::der)?;
        if info.version != 1 {
            return Err(TimeStampError::differs("version", info.version, 1));
        }
        // An extension that must be understood is not; and one that need not says nothing we rely on.
        if let Some(unknown) = info.extensions.iter().flatten().find(|e| e.critical) {
            return Err(TimeStampError::Form(format!(
                "its critical extension {} is unknown",
                unknown.extn_id
            )));
        }
        Ok(Info {
            at: time(&info.time)?,
            accuracy: info.accuracy.as_ref().map(accuracy).transpose()?,
            policy: info.policy.to_string(),
            serial: hex::encode(info.serial.as_bytes()),
            nonce: info.nonce,
            imprint: info.imprint,
            service: info.service,
        })
    }

    /// That the stamp is about these bytes.
    pub(super) fn is_about(&self, imprint: &[u8; 32]) -> Result<(), TimeStampError> {
        let algorithm = &self.imprint.algorithm;
        if algorithm.oid != ID_SHA_256 {
            return Err(TimeStampError::differs("digest algorithm", algorithm.oid, "SHA-256"));
        }
        if !absent_or_null(algorithm) {
            return Err(TimeStampError::Form("the digest algorithm has parameters".into()));
        }
        if self.imprint.digest.as_bytes() != imprint {
            let found = hex::encode(self.imprint.digest.as_bytes());
            return Err(TimeStampError::differs("imprint", found, hex::encode(imprint)));
        }
        Ok(())
    }

    /// That a service named in the stamp is the one whose certificate signed it.
    pub(super) fn names(&self, signer: &Certified) -> Result<(), TimeStampError> {
        match &self.service {
            Some(name) if !signer.is_named(name)? => {
                Err(TimeStampError::differs("service", "another", signer.subject()))
            }
            _ => Ok(()),
        }
    }
}

/// SHA-2 is written with or without a NULL (RFC 5754 section 2); both are read, nothing else is.
pub(super) fn absent_or_null(algorithm: &AlgorithmIdentifierOwned) -> bool {
    algorithm.parameters.as_ref().is_none_or(Any::is_null)
}

/// `YYYYMMDDhhmmss[.f]Z`, with the fraction that RFC 3161 allows beyond RFC 5280.
fn time(value: &Any) -> Result<DateTime<Utc>, TimeStampError> {
    let text = std::str::from_utf8(value.value()).unwrap_or_default();
    let wrong = || TimeStampError::Form(format!("its time reads {text:?}"));
    if value.tag() != Tag::GeneralizedTime {
        return Err(wrong());
    }
    let (whole, fraction) = match text.strip_suffix('Z').ok_or_else(wrong)?.split_once('.') {
        Some((whole, fraction)) => (whole, Some(fraction)),
        None => (text.strip_suffix('Z').unwrap_or_default(), None),
    };
    if whole.len() != 14 || !whole.bytes().all(|b| b.is_ascii_digit()) {
        return Err(wrong());
    }
    let part = |from: usize, to: usize| whole.get(from..to).and_then(|p| p.parse::<u32>().ok()).unwrap_or(99);
    let year = whole.get(..4).and_then(|y| y.parse::<i32>().ok()).ok_or_else(wrong)?;
    let nanos = match fraction {
        None => 0,
        Some(digits) => nanos(digits).ok_or_else(wrong)?,
    };
    NaiveDate::from_ymd_opt(year, part(4, 6), part(6, 8))
        .and_then(|day| day.and_hms_nano_opt(part(8, 10), part(10, 12), part(12, 14), nanos))
        .map(|at| at.and_utc())
        .ok_or_else(wrong)
}

/// A fraction of a second, which DER writes without a trailing zero.
fn nanos(digits: &str) -> Option<u32> {
    let plain = (1..=9).contains(&digits.len()) && digits.bytes().all(|b| b.is_ascii_digit());
    if !plain || digits.ends_with('0') {
        return None;
    }
    format!("{digits:0<9}").parse().ok()
}

fn accuracy(stated: &Accuracy) -> Result<TimeDelta, TimeStampError> {
    for (part, value) in [("milliseconds", stated.millis), ("microseconds", stated.micros)] {
        if value.is_some_and(|v| !(1..=999).contains(&v)) {
            return Err(TimeStampError::Form(format!(
                "its accuracy has {} {part}",
                value.unwrap_or_default()
            )));
        }
    }
    let seconds = stated.seconds.unwrap_or_default();
    if seconds > COARSEST {
        return Err(TimeStampError::Form(format!(
            "its time may be {seconds} seconds off, which dates nothing"
        )));
    }
    let seconds = TimeDelta::seconds(i64::from(seconds));
    let millis = TimeDelta::milliseconds(i64::from(stated.millis.unwrap_or_default()));
    let micros = TimeDelta::microseconds(i64::from(stated.micros.unwrap_or_default()));
    Ok(seconds + millis + micros)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Option<String> {
        let value = Any::new(Tag::GeneralizedTime, text.as_bytes()).unwrap();
        time(&value).ok().map(|at| at.to_rfc3339())
    }

    /// The forms are those of RFC 3161 section 2.4.2.
    #[test]
    fn times_with_and_without_a_fraction() {
        assert_eq!(read("19990609001326Z").as_deref(), Some("1999-06-09T00:13:26+00:00"));
        assert_eq!(read("19990609001326.34352Z").as_deref(), Some("1999-06-09T00:13:26.343520+00:00"));
        assert_eq!(read("20240229235959Z").as_deref(), Some("2024-02-29T23:59:59+00:00"));
        for bad in [
            "19990609001326",
            "199906090013Z",
            "19990609001326.Z",
            "19990609001326.340Z",
            "19990609001326,34Z",
            "19990609001326+0100",
            "19990631001326Z",
            "20230229000000Z",
            "19990609241326Z",
            "19990609001360Z",
            "+9990609001326Z",
            "19990609001326.1234567891Z",
            "",
        ] {
            assert_eq!(read(bad), None, "{bad}");
        }
        let utc = Any::new(Tag::UtcTime, b"19990609001326Z".as_slice()).unwrap();
        assert!(time(&utc).is_err());
    }

    /// The bytes are written out by hand from RFC 3161 section 2.4.1; OpenSSL reads the same in `tests/time_stamps`.
    #[test]
    fn a_request_is_written_as_the_standard_says() {
        let imprint: [u8; 32] = std::array::from_fn(|i| u8::try_from(i).unwrap());
        let mut nonce = [0; 16];
        nonce[15] = 0x80;
        let request = Request::new(imprint, Some("1.2.3.4"), nonce).unwrap();
        let expected = format!(
            "3040020101302f300b0609608648016503040201\
             0420{}06032a0304020200800101ff",
            hex::encode(imprint)
        );
        assert_eq!(hex::encode(request.to_der().unwrap()), expected);
        for bad in ["", "policy", "1", "1.2.", "9.9"] {
            assert!(
                matches!(Request::new(imprint, Some(bad), nonce), Err(TimeStampError::Request(_))),
                "{bad}"
            );
        }
    }
}
