//! The way from a service's certificate up to the trusted one (RFC 5280 section 6, as far as time stamps need it).
//!
//! Each certificate names and is signed by the next, may certify, and was valid at the stamp's time. Names are compared
//! byte for byte. Revocation, name constraints and policies are not looked at; where they are critical, the certificate
//! is refused.

use super::TimeStampError;
use super::certificate::Anchor;
use super::certificate::Certified;
use super::cms::Token;

/// No way is longer than this.
const LONGEST: usize = 8;

/// The certificates from the service's up, without the trusted one.
pub(super) struct Way<'t>(Vec<&'t Certified>);

/// Finds a way that holds at `second` (Unix time).
pub(super) fn find<'t>(
    token: &'t Token,
    signer: &'t Certified,
    anchor: &Anchor,
    second: i64,
) -> Result<Way<'t>, TimeStampError> {
    anchor.0.stood_at(second)?;
    let mut way = vec![signer];
    let mut why = None;
    if climb(token, &anchor.0, second, &mut way, &mut why) {
        return Ok(Way(way));
    }
    // A certificate that names the trusted one and does not hold says more than that there is no way.
    Err(why.unwrap_or_else(|| {
        TimeStampError::Untrusted(format!(
            "{}, issued by {}, does not lead to {}",
            signer.subject(),
            super::certificate::plain(&signer.tbs.issuer().to_string()),
            anchor.subject()
        ))
    }))
}

/// Goes up from the last certificate of `way`; `why` keeps the first reason against one that would have fitted.
fn climb<'t>(
    token: &'t Token,
    anchor: &Certified,
    second: i64,
    way: &mut Vec<&'t Certified>,
    why: &mut Option<TimeStampError>,
) -> bool {
    let Some(last) = way.last().copied() else { return false };
    if last.der == anchor.der {
        // The service's own certificate may be the trusted one; one further up is the trusted one's copy.
        if way.len() > 1 {
            way.pop();
        }
        return true;
    }
    if let Err(error) = last.stood_at(second) {
        why.get_or_insert(error);
        return false;
    }
    // Authorities between the next one and the service.
    let below = way.len().saturating_sub(1);
    if last.names_issuer(anchor) {
        match last.signed_by(anchor).and_then(|()| anchor.may_certify(below)) {
            Ok(()) => return true,
            Err(error) => drop(why.get_or_insert(error)),
        }
    }
    if way.len() >= LONGEST {
        return false;
    }
    for next in &token.certificates {
        if !last.names_issuer(next) || way.iter().any(|w| w.der == next.der) || next.der == anchor.der {
            continue;
        }
        match last.signed_by(next).and_then(|()| next.may_certify(below)) {
            Ok(()) => {
                way.push(next);
                if climb(token, anchor, second, way, why) {
                    return true;
                }
                way.pop();
            }
            Err(error) => drop(why.get_or_insert(error)),
        }
    }
    false
}

impl<'t> Way<'t> {
    pub(super) fn certificates(&self) -> Vec<&'t Certified> {
        self.0.clone()
    }

    /// As the service's certificate names it.
    pub(super) fn subject(&self) -> String {
        self.0.first().map(|c| c.subject()).unwrap_or_default()
    }

    /// That the token holds no certificate whose bytes nothing vouches for: each is on the way, or is the trusted one,
    /// or stands above it and signed the one below.
    pub(super) fn uses_all(&self, token: &Token, anchor: &Anchor) -> Result<(), TimeStampError> {
        let used = |c: &&Certified| self.0.iter().any(|w| w.der == c.der) || c.der == anchor.0.der;
        let mut left: Vec<&Certified> = token.certificates.iter().filter(|c| !used(c)).collect();
        let mut top = &anchor.0;
        while let Some(at) = left.iter().position(|c| top.names_issuer(c) && top.signed_by(c).is_ok()) {
            top = left.remove(at);
        }
        match left.first() {
            Some(stray) => Err(TimeStampError::Form(format!(
                "it holds a certificate that leads nowhere: {}",
                stray.subject()
            ))),
            None => Ok(()),
        }
    }
}
