//! What signatures say, and whether those of a certificate fit each other.
//!
//! Whether a person truly gave a passphrase is known to the shop's tool at that moment and to nobody afterwards; what
//! can be told later is that the entries agree with the time of issue and with the policy the certificate states.

use crate::certificate::Certificate;
use crate::certificate::Signature;
use crate::moment::Moment;
use crate::shop::Authentication;

/// What the signature of whoever released means.
pub const RELEASED: &str = "released for shipment";
/// What the signature of whoever prepared means.
pub const PREPARED: &str = "prepared";

/// The sentence beside a line for a signature by hand.
pub const HAND_SIGNATURE: &str = "A signature by hand and the seal of the file are two things: the seal shows who issued this \
     certificate and that nothing in it changed; a signature by hand is its writer's own word on this sheet of paper, \
     which the seal does not cover and no verification sees.";

/// How a signatory was known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum How {
    /// By the person's own passphrase.
    Passphrase,
    /// Named by whoever sat at the keyboard.
    Named,
}

impl How {
    /// In words, for whoever released.
    pub const fn released(self) -> &'static str {
        match self {
            How::Passphrase => "own passphrase, verified at release",
            How::Named => "named at the keyboard by whoever holds the shop's seal key",
        }
    }

    /// In words, for whoever prepared.
    pub const fn prepared(self) -> &'static str {
        match self {
            How::Passphrase => "own passphrase, verified when prepared",
            How::Named => "named at the keyboard when prepared",
        }
    }

    /// From the words for whoever prepared.
    pub fn of_prepared(words: &str) -> Option<How> {
        [How::Passphrase, How::Named].into_iter().find(|how| how.prepared() == words)
    }
}

/// What is wrong with a certificate's signatures; nothing when they fit each other, its time of issue and the policy
/// it states.
pub fn wrong_signatures(certificate: &Certificate) -> Option<String> {
    check(certificate).err()
}

fn only<'a>(all: &'a [Signature], meaning: &str) -> Result<Option<&'a Signature>, String> {
    let mut found = all.iter().filter(|s| s.meaning == meaning);
    match (found.next(), found.next()) {
        (one, None) => Ok(one),
        _ => Err(format!("several people are said to have {meaning} it")),
    }
}

fn check(certificate: &Certificate) -> Result<(), String> {
    let all = &certificate.signatures;
    for signature in all {
        let person = &signature.person;
        if person.trim().is_empty() {
            return Err("somebody without a name signed".to_owned());
        }
        let known = match signature.meaning.as_str() {
            RELEASED => [How::Passphrase.released(), How::Named.released()],
            PREPARED => [How::Passphrase.prepared(), How::Named.prepared()],
            other => {
                return Err(format!("{person} signed with a meaning this release does not know: {other}"));
            }
        };
        if !known.contains(&signature.authenticated.as_str()) {
            let how = &signature.authenticated;
            return Err(format!("{person} was authenticated in a way this release does not know: {how}"));
        }
    }
    let Some(released) = only(all, RELEASED)? else {
        return Err("nobody released it".to_owned());
    };
    if released.at != certificate.issued {
        return Err(format!("it was released at {}, and issued at {}", released.at, certificate.issued));
    }
    let prepared = only(all, PREPARED)?;
    if let Some(prepared) = prepared {
        let moment = |text: &str| text.parse::<Moment>().map_err(|e| format!("{text}: {e}"));
        if moment(&prepared.at)? > moment(&certificate.issued)? {
            return Err(format!("it was prepared at {}, after it was issued", prepared.at));
        }
    }
    if let Some(policy) = certificate.release {
        let own = policy.authentication == Authentication::Passphrase;
        if own && released.authenticated != How::Passphrase.released() {
            return Err(format!("it states release by own passphrase, and {} gave none", released.person));
        }
        if !policy.preparer_may_release {
            match prepared {
                None => return Err("it states that two people are needed, and nobody prepared it".to_owned()),
                Some(prepared) if prepared.person == released.person => {
                    return Err(format!(
                        "it states that two people are needed, and {} did both",
                        released.person
                    ));
                }
                Some(prepared) if own && prepared.authenticated != How::Passphrase.prepared() => {
                    return Err(format!(
                        "it states release by own passphrase, and {}, who prepared it, gave none",
                        prepared.person
                    ));
                }
                Some(_) => {}
            }
        }
    }
    match &certificate.hand_signature {
        Some(text) if text != HAND_SIGNATURE => {
            Err("the words beside the line for a signature by hand are not this release's".to_owned())
        }
        _ => Ok(()),
    }
}
