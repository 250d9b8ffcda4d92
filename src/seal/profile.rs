//! What the two kinds of certificate look like.
//!
//! ```text
//! root   CN=<organisation> seal root, O=<organisation>   CA, path length 0, keyCertSign
//!  └ seal   CN=<organisation> seal, O=<organisation>     digitalSignature + nonRepudiation,
//!                                                        document signing + e-mail protection
//! ```
//! Neither ends (notAfter 99991231235959Z, RFC 5280 section 4.1.2.5): a baseline B-B seal carries no
//! proof of its time, so an end would make old certificates fail that were good when issued.

use std::time::Duration;

use chrono::DateTime;
use chrono::Utc;
use const_oid::ObjectIdentifier;
use const_oid::db::rfc4519::COMMON_NAME;
use const_oid::db::rfc4519::ORGANIZATION_NAME;
use const_oid::db::rfc5280::ID_KP_EMAIL_PROTECTION;
use der::Decode;
use der::Encode;
use der::asn1::Any;
use der::asn1::Utf8StringRef;
use p256::ecdsa::VerifyingKey;
use p256::ecdsa::signature::Keypair;
use spki::AlgorithmIdentifierOwned;
use spki::DynSignatureAlgorithmIdentifier;
use spki::SubjectPublicKeyInfoOwned;
use spki::SubjectPublicKeyInfoRef;
use x509_cert::TbsCertificate;
use x509_cert::attr::AttributeTypeAndValue;
use x509_cert::builder::CertificateBuilder;
use x509_cert::builder::profile::BuilderProfile;
use x509_cert::ext::Extension;
use x509_cert::ext::ToExtension;
use x509_cert::ext::pkix::AuthorityKeyIdentifier;
use x509_cert::ext::pkix::BasicConstraints;
use x509_cert::ext::pkix::ExtendedKeyUsage;
use x509_cert::ext::pkix::KeyUsage;
use x509_cert::ext::pkix::KeyUsages;
use x509_cert::ext::pkix::SubjectKeyIdentifier;
use x509_cert::name::Name;
use x509_cert::name::RdnSequence;
use x509_cert::name::RelativeDistinguishedName;
use x509_cert::serial_number::SerialNumber;
use x509_cert::time::Time;
use x509_cert::time::Validity;

/// Document signing (RFC 9336).
const DOCUMENT_SIGNING: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.3.6.1.5.5.7.3.36");

/// Length of a serial number in bytes; its first two bits are 01, so that it is positive and not short.
pub(super) const SERIAL_LEN: usize = 16;

/// Which of the two certificates.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// Signs itself and seal certificates.
    Root,
    /// Signs certificates of conformity.
    Seal,
}

impl Kind {
    /// As messages call it.
    pub(super) fn what(self) -> &'static str {
        match self {
            Self::Root => "root certificate",
            Self::Seal => "seal certificate",
        }
    }

    fn suffix(self) -> &'static str {
        match self {
            Self::Root => " seal root",
            Self::Seal => " seal",
        }
    }
}

/// What tells one certificate of its kind from another.
#[derive(Debug, Clone)]
pub(super) struct Facts {
    pub(super) organisation: String,
    pub(super) serial: [u8; SERIAL_LEN],
    /// Whole seconds.
    pub(super) not_before: DateTime<Utc>,
    pub(super) key: VerifyingKey,
}

pub(super) fn der_time(seconds: i64) -> Result<Time, String> {
    let seconds = u64::try_from(seconds).map_err(|_| "before 1970")?;
    let time = der::DateTime::from_unix_duration(Duration::from_secs(seconds)).map_err(|e| e.to_string())?;
    Ok(Time::from(time))
}

pub(super) fn builder(kind: Kind, facts: &Facts) -> Result<CertificateBuilder<Profile>, String> {
    let text = |e: der::Error| e.to_string();
    let profile = Profile {
        kind,
        subject: name(&facts.organisation, kind).map_err(text)?,
        issuer: name(&facts.organisation, Kind::Root).map_err(text)?,
    };
    let serial = SerialNumber::new(&facts.serial).map_err(text)?;
    let validity = Validity::new(der_time(facts.not_before.timestamp())?, Time::INFINITY);
    let key = SubjectPublicKeyInfoOwned::from_key(&facts.key).map_err(|e| e.to_string())?;
    CertificateBuilder::new(profile, serial, validity, key).map_err(|e| e.to_string())
}

pub(super) fn name(organisation: &str, kind: Kind) -> der::Result<Name> {
    let common = format!("{organisation}{}", kind.suffix());
    let mut parts = RdnSequence::default();
    for (oid, text) in [(ORGANIZATION_NAME, organisation), (COMMON_NAME, common.as_str())] {
        let value = Any::encode_from(&Utf8StringRef::new(text)?)?;
        let mut part = RelativeDistinguishedName::default();
        part.insert(AttributeTypeAndValue { oid, value })?;
        parts.push(part);
    }
    Name::from_der(&parts.to_der()?)
}

/// Which extensions the library's builder puts in.
pub(super) struct Profile {
    pub(super) kind: Kind,
    pub(super) subject: Name,
    pub(super) issuer: Name,
}

impl BuilderProfile for Profile {
    fn get_issuer(&self, _subject: &Name) -> Name {
        self.issuer.clone()
    }

    fn get_subject(&self) -> Name {
        self.subject.clone()
    }

    fn build_extensions(
        &self,
        key: SubjectPublicKeyInfoRef<'_>,
        issuer_key: SubjectPublicKeyInfoRef<'_>,
        tbs: &TbsCertificate,
    ) -> x509_cert::builder::Result<Vec<Extension>> {
        let name = tbs.subject();
        let subject_id = SubjectKeyIdentifier::try_from(key)?;
        let issuer_id = AuthorityKeyIdentifier::try_from(issuer_key)?;
        let mut made = Vec::new();
        match self.kind {
            Kind::Root => {
                let constraints = BasicConstraints { ca: true, path_len_constraint: Some(0) };
                made.push(constraints.to_extension(name, &made)?);
                made.push(KeyUsage(KeyUsages::KeyCertSign.into()).to_extension(name, &made)?);
            }
            Kind::Seal => {
                let constraints = BasicConstraints { ca: false, path_len_constraint: None };
                made.push(constraints.to_extension(name, &made)?);
                let usage = KeyUsage(KeyUsages::DigitalSignature | KeyUsages::NonRepudiation);
                made.push(usage.to_extension(name, &made)?);
                let purposes = ExtendedKeyUsage(vec![DOCUMENT_SIGNING, ID_KP_EMAIL_PROTECTION]);
                made.push(purposes.to_extension(name, &made)?);
            }
        }
        made.push(subject_id.to_extension(name, &made)?);
        made.push(issuer_id.to_extension(name, &made)?);
        Ok(made)
    }
}

/// The library asks the builder for a signer, even to lay out the bytes; checking has the public key only.
#[derive(Clone)]
pub(super) struct Public(pub(super) VerifyingKey);

impl Keypair for Public {
    type VerifyingKey = VerifyingKey;

    fn verifying_key(&self) -> VerifyingKey {
        self.0
    }
}

impl DynSignatureAlgorithmIdentifier for Public {
    fn signature_algorithm_identifier(&self) -> spki::Result<AlgorithmIdentifierOwned> {
        Ok(super::cms::ecdsa_with_sha256())
    }
}
