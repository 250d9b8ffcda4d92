//! One X.509 certificate of a service or of an authority above it (RFC 5280), and what it allows.
//!
//! The bytes stay as they came: what is hashed and what was signed is cut out of them, never written anew.

use const_oid::ObjectIdentifier;
use const_oid::db::rfc5280::ANY_EXTENDED_KEY_USAGE;
use const_oid::db::rfc5280::ID_CE_BASIC_CONSTRAINTS;
use const_oid::db::rfc5280::ID_CE_CERTIFICATE_POLICIES;
use const_oid::db::rfc5280::ID_CE_EXT_KEY_USAGE;
use const_oid::db::rfc5280::ID_CE_KEY_USAGE;
use const_oid::db::rfc5280::ID_CE_SUBJECT_ALT_NAME;
use const_oid::db::rfc5280::ID_KP_TIME_STAMPING;
use der::Decode;
use der::Document;
use der::Encode;
use der::Sequence;
use der::asn1::Any;
use der::asn1::BitString;
use sha2::Digest;
use sha2::Sha256;
use spki::AlgorithmIdentifierOwned;
use x509_cert::TbsCertificate;
use x509_cert::certificate::Version;
use x509_cert::ext::pkix::BasicConstraints;
use x509_cert::ext::pkix::ExtendedKeyUsage;
use x509_cert::ext::pkix::KeyUsage;
use x509_cert::ext::pkix::SubjectAltName;
use x509_cert::ext::pkix::name::GeneralName;

use super::TimeStampError;
use super::signature;

/// Extensions that may be critical: those looked at here, and policies, none of which is asked for.
const KNOWN: [ObjectIdentifier; 5] = [
    ID_CE_BASIC_CONSTRAINTS,
    ID_CE_KEY_USAGE,
    ID_CE_EXT_KEY_USAGE,
    ID_CE_SUBJECT_ALT_NAME,
    ID_CE_CERTIFICATE_POLICIES,
];

#[derive(Debug, Sequence)]
struct Outer {
    tbs: Any,
    algorithm: AlgorithmIdentifierOwned,
    signature: BitString,
}

/// A certificate as it came, and its contents.
#[derive(Debug, Clone)]
pub(super) struct Certified {
    pub(super) der: Vec<u8>,
    signed: Vec<u8>,
    pub(super) tbs: TbsCertificate,
    algorithm: AlgorithmIdentifierOwned,
    signature: Vec<u8>,
}

/// The certificate that is trusted: the service's own, or one above it. It comes from outside the stamp.
#[derive(Debug, Clone)]
pub struct Anchor(pub(super) Certified);

impl Anchor {
    /// Reads the one certificate of a file, PEM or DER.
    ///
    /// # Errors
    /// [`TimeStampError::Anchor`] says what was found instead.
    pub fn read(file: &[u8]) -> Result<Anchor, TimeStampError> {
        let wrong = |reason: String| TimeStampError::Anchor(reason);
        let der = if file.first() == Some(&0x30) {
            file.to_vec()
        } else {
            let text = std::str::from_utf8(file).map_err(|_| wrong("it is neither PEM nor DER".into()))?;
            // Words before the first line of dashes are what other programs print of the certificate.
            let begin = text.find("-----BEGIN").ok_or_else(|| wrong("it is neither PEM nor DER".into()))?;
            let text = text.get(begin..).unwrap_or_default().trim();
            if text.matches("-----BEGIN").count() != 1 {
                return Err(wrong("it holds more than one thing; expected one certificate".into()));
            }
            let (label, file) = Document::from_pem(text).map_err(|e| wrong(format!("it is not PEM: {e}")))?;
            if label != "CERTIFICATE" {
                return Err(wrong(format!("it holds {label:?}; expected \"CERTIFICATE\"")));
            }
            file.into_vec()
        };
        Certified::read(&der).map(Anchor).map_err(|e| wrong(e.to_string()))
    }

    /// SHA-256 of the certificate, lower-case hex.
    pub fn fingerprint(&self) -> String {
        hex::encode(Sha256::digest(&self.0.der))
    }

    /// As the certificate names itself.
    pub fn subject(&self) -> String {
        self.0.subject()
    }
}

/// Text of others, without what could steer a terminal, and not without end.
pub(super) fn plain(text: &str) -> String {
    text.chars().filter(|c| !c.is_control()).take(200).collect()
}

impl Certified {
    pub(super) fn read(der: &[u8]) -> Result<Certified, TimeStampError> {
        let form = |e: der::Error| TimeStampError::Form(format!("a certificate in it: {e}"));
        let outer = Outer::from_der(der).map_err(form)?;
        let signed = outer.tbs.to_der().map_err(form)?;
        let tbs = TbsCertificate::from_der(&signed).map_err(form)?;
        let signature = outer.signature.as_bytes();
        let signature = signature
            .ok_or_else(|| TimeStampError::Form("a certificate's signature is no whole bytes".into()))?;
        let found = Certified {
            der: der.to_vec(),
            signed,
            tbs,
            algorithm: outer.algorithm,
            signature: signature.to_vec(),
        };
        if &found.algorithm != found.tbs.signature() {
            return Err(found.refuse("it names two signature algorithms"));
        }
        if found.tbs.version() != Version::V3 {
            return Err(found.refuse("it is not of version 3"));
        }
        Ok(found)
    }

    pub(super) fn subject(&self) -> String {
        plain(&self.tbs.subject().to_string())
    }

    pub(super) fn refuse(&self, reason: impl Into<String>) -> TimeStampError {
        TimeStampError::Certificate { subject: self.subject(), reason: reason.into() }
    }

    fn extension<'a, T>(&'a self) -> Result<Option<(bool, T)>, TimeStampError>
    where
        T: Decode<'a, Error = der::Error> + const_oid::AssociatedOid,
    {
        self.tbs.get_extension::<T>().map_err(|e| self.refuse(format!("extension {}: {e}", T::OID)))
    }

    /// What holds for every certificate: valid at that second, and no critical extension left unread.
    pub(super) fn stood_at(&self, second: i64) -> Result<(), TimeStampError> {
        let validity = self.tbs.validity();
        let seconds = |time: &x509_cert::time::Time| {
            i64::try_from(time.to_unix_duration().as_secs()).unwrap_or(i64::MAX)
        };
        if second < seconds(&validity.not_before) || second > seconds(&validity.not_after) {
            let (from, until) = (&validity.not_before, &validity.not_after);
            return Err(self.refuse(format!("valid from {from} to {until}, not at the stamp's time")));
        }
        let unknown =
            |critical: &&x509_cert::ext::Extension| critical.critical && !KNOWN.contains(&critical.extn_id);
        match self.tbs.extensions().into_iter().flatten().find(unknown) {
            Some(one) => {
                Err(self.refuse(format!("its critical extension {} is not checked here", one.extn_id)))
            }
            None => Ok(()),
        }
    }

    /// That it is a service's certificate: for time stamps and nothing else, and that is critical (RFC 3161, 2.3).
    pub(super) fn may_stamp(&self) -> Result<(), TimeStampError> {
        match self.extension::<ExtendedKeyUsage>()? {
            Some((true, usage)) if usage.0 == [ID_KP_TIME_STAMPING] => {}
            Some((false, usage)) if usage.0 == [ID_KP_TIME_STAMPING] => {
                return Err(self.refuse("its extended key usage is not critical"));
            }
            Some((_, usage)) => {
                let found: Vec<String> = usage.0.iter().map(ToString::to_string).collect();
                let found = found.join(", ");
                return Err(self.refuse(format!("it is for {found}; expected time stamps and nothing else")));
            }
            None => return Err(self.refuse("it does not say that it is for time stamps")),
        }
        match self.extension::<KeyUsage>()? {
            Some((_, usage)) if !usage.digital_signature() && !usage.non_repudiation() => {
                Err(self.refuse("its key usage allows no signatures"))
            }
            _ => Ok(()),
        }
    }

    /// That it may sign certificates for services, with `below` further authorities under it.
    pub(super) fn may_certify(&self, below: usize) -> Result<(), TimeStampError> {
        match self.extension::<BasicConstraints>()? {
            Some((_, constraints)) if constraints.ca => {
                let most = constraints.path_len_constraint.map(usize::from);
                if most.is_some_and(|most| below > most) {
                    return Err(self.refuse("more authorities stand below it than it allows"));
                }
            }
            _ => return Err(self.refuse("it is no authority's, and has signed another")),
        }
        if self.extension::<KeyUsage>()?.is_some_and(|(_, usage)| !usage.key_cert_sign()) {
            return Err(self.refuse("its key usage does not allow to sign certificates"));
        }
        // Not asked by RFC 5280, but common practice: an authority's purposes limit those below it.
        let purposes = self.extension::<ExtendedKeyUsage>()?.map(|(_, usage)| usage.0);
        let fits = |oid: &ObjectIdentifier| [ID_KP_TIME_STAMPING, ANY_EXTENDED_KEY_USAGE].contains(oid);
        match purposes {
            Some(purposes) if !purposes.iter().any(fits) => Err(self.refuse("it is not for time stamps")),
            _ => Ok(()),
        }
    }

    /// Whether `issuer` is named as issuer; the signature is another question.
    pub(super) fn names_issuer(&self, issuer: &Certified) -> bool {
        self.tbs.issuer() == issuer.tbs.subject()
    }

    /// Whether `issuer` signed it.
    pub(super) fn signed_by(&self, issuer: &Certified) -> Result<(), TimeStampError> {
        let key = issuer.tbs.subject_public_key_info();
        signature::verify(key, &self.algorithm, None, &self.signed, &self.signature).map_err(|error| {
            match error {
                TimeStampError::Signature(reason) => {
                    self.refuse(format!("the signature of its issuer: {reason}"))
                }
                other => other,
            }
        })
    }

    /// Whether the certificate goes by this name.
    pub(super) fn is_named(&self, name: &GeneralName) -> Result<bool, TimeStampError> {
        if matches!(name, GeneralName::DirectoryName(name) if name == self.tbs.subject()) {
            return Ok(true);
        }
        let others = self.extension::<SubjectAltName>()?.map(|(_, names)| names.0).unwrap_or_default();
        Ok(others.contains(name))
    }
}
