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
/// Signatures that are checked to find a way: sixteen certificates that all fit each other would keep one busy for days.
const MOST_CHECKS: usize = 100;

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
    let mut climb =
        Climb { token, anchor: &anchor.0, second, way: vec![signer], why: None, checks: MOST_CHECKS };
    if climb.up() {
        return Ok(Way(climb.way));
    }
    // A certificate that names the trusted one and does not hold says more than that there is no way.
    Err(climb.why.unwrap_or_else(|| {
        TimeStampError::Untrusted(format!(
            "{}, issued by {}, does not lead to {}",
            signer.subject(),
            super::certificate::plain(&signer.tbs.issuer().to_string()),
            anchor.subject()
        ))
    }))
}

/// The search for a way.
struct Climb<'t, 'a> {
    token: &'t Token,
    anchor: &'a Certified,
    second: i64,
    /// As far as it goes by now.
    way: Vec<&'t Certified>,
    /// The first reason against a certificate that would have fitted by its names.
    why: Option<TimeStampError>,
    /// How many signatures may still be checked.
    checks: usize,
}

impl Climb<'_, '_> {
    /// Goes up from the last certificate of the way; whether it came to the trusted one.
    fn up(&mut self) -> bool {
        let Some(last) = self.way.last().copied() else { return false };
        // The service's own certificate may be the trusted one.
        if last.der == self.anchor.der {
            return true;
        }
        if let Err(error) = last.stood_at(self.second) {
            self.why.get_or_insert(error);
            return false;
        }
        if last.names_issuer(self.anchor) && self.signed(last, self.anchor) {
            return true;
        }
        if self.way.len() >= LONGEST {
            return false;
        }
        for next in &self.token.certificates {
            let been = self.way.iter().any(|w| w.der == next.der) || next.der == self.anchor.der;
            if been || !last.names_issuer(next) || !self.signed(last, next) {
                continue;
            }
            self.way.push(next);
            if self.up() {
                return true;
            }
            self.way.pop();
        }
        false
    }

    /// Whether `issuer` signed `last`, and may have.
    fn signed(&mut self, last: &Certified, issuer: &Certified) -> bool {
        let Some(left) = self.checks.checked_sub(1) else { return false };
        self.checks = left;
        // Authorities between this one and the service.
        let below = self.way.len().saturating_sub(1);
        match last.signed_by(issuer).and_then(|()| issuer.may_certify(below)) {
            Ok(()) => true,
            Err(error) => {
                self.why.get_or_insert(error);
                false
            }
        }
    }
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
