//! The token: CMS SignedData (RFC 5652) around what the service signed, as RFC 3161 section 2.4.2 asks.
//!
//! ```text
//! ContentInfo signedData
//!   SignedData version 3, content id-ct-TSTInfo
//!     certificates: the service's and those above it
//!     one SignerInfo
//!       signed: content-type, message-digest, signing-certificate-v2 (RFC 5035), others passed over
//!       signature over the DER SET OF those attributes
//! ```

use const_oid::ObjectIdentifier;
use const_oid::db::rfc3161::ID_CT_TST_INFO;
use const_oid::db::rfc5911::ID_AA_SIGNING_CERTIFICATE_V_2;
use const_oid::db::rfc5911::ID_CONTENT_TYPE;
use const_oid::db::rfc5911::ID_MESSAGE_DIGEST;
use const_oid::db::rfc5911::ID_SIGNED_DATA;
use der::Decode;
use der::Encode;
use der::Sequence;
use der::Tag;
use der::Tagged;
use der::ValueOrd;
use der::asn1::Any;
use der::asn1::OctetString;
use der::asn1::SetOfVec;
use spki::AlgorithmIdentifierOwned;
use x509_cert::attr::Attribute;
use x509_cert::ext::pkix::SubjectKeyIdentifier;
use x509_cert::name::Name;
use x509_cert::serial_number::SerialNumber;

use super::TimeStampError;
use super::certificate::Certified;
use super::signature;
use super::signature::Hash;

/// A token holds the service's certificate and the few above it.
const MOST_CERTIFICATES: usize = 16;

#[derive(Debug, Sequence)]
struct ContentInfo {
    content_type: ObjectIdentifier,
    #[asn1(context_specific = "0", tag_mode = "EXPLICIT")]
    content: SignedData,
}

#[derive(Debug, Sequence)]
struct SignedData {
    version: u8,
    digest_algorithms: SetOfVec<AlgorithmIdentifierOwned>,
    content: EncapsulatedContent,
    #[asn1(context_specific = "0", tag_mode = "IMPLICIT", constructed = "true", optional = "true")]
    certificates: Option<SetOfVec<Any>>,
    #[asn1(context_specific = "1", tag_mode = "IMPLICIT", constructed = "true", optional = "true")]
    revocations: Option<SetOfVec<Any>>,
    signers: SetOfVec<SignerInfo>,
}

#[derive(Debug, Clone, Sequence)]
struct EncapsulatedContent {
    content_type: ObjectIdentifier,
    #[asn1(context_specific = "0", tag_mode = "EXPLICIT")]
    content: OctetString,
}

#[derive(Debug, Clone, Sequence, ValueOrd)]
struct SignerInfo {
    version: u8,
    signer: Any,
    digest_algorithm: AlgorithmIdentifierOwned,
    #[asn1(context_specific = "0", tag_mode = "IMPLICIT", constructed = "true", optional = "true")]
    signed: Option<SetOfVec<Attribute>>,
    signature_algorithm: AlgorithmIdentifierOwned,
    signature: OctetString,
    #[asn1(context_specific = "1", tag_mode = "IMPLICIT", constructed = "true", optional = "true")]
    unsigned: Option<SetOfVec<Attribute>>,
}

#[derive(Debug, Sequence)]
struct IssuerAndSerial {
    issuer: Name,
    serial: SerialNumber,
}

#[derive(Debug, Sequence)]
struct EssCertIdV2 {
    /// SHA-256 where it is left out.
    #[asn1(optional = "true")]
    algorithm: Option<AlgorithmIdentifierOwned>,
    hash: OctetString,
    /// Issuer and serial number say less than the hash does.
    #[asn1(optional = "true")]
    issuer_serial: Option<Any>,
}

#[derive(Debug, Sequence)]
struct SigningCertificateV2 {
    certificates: Vec<EssCertIdV2>,
    #[asn1(optional = "true")]
    policies: Option<Any>,
}

/// A token taken apart.
pub(super) struct Token {
    pub(super) content: Vec<u8>,
    pub(super) certificates: Vec<Certified>,
    encapsulated: EncapsulatedContent,
    signer: SignerInfo,
}

impl Token {
    /// Takes a token apart. Nothing is verified yet.
    pub(super) fn read(der: &[u8]) -> Result<Token, TimeStampError> {
        let form = |what: String| TimeStampError::Form(what);
        let info = ContentInfo::from_der(der).map_err(TimeStampError::der)?;
        if info.content_type != ID_SIGNED_DATA {
            return Err(form(format!("its token is {}; expected signed data", info.content_type)));
        }
        let data = info.content;
        if data.content.content_type != ID_CT_TST_INFO {
            return Err(form(format!("it signs {}; expected a time stamp", data.content.content_type)));
        }
        let [signer] = <[SignerInfo; 1]>::try_from(Vec::from(data.signers))
            .map_err(|found| form(format!("it has {} signers; expected one", found.len())))?;
        // By issuer and serial number, or by key identifier (RFC 5652 section 5.3).
        let version = if signer.signer.tag() == Tag::Sequence { 1 } else { 3 };
        if signer.version != version {
            return Err(TimeStampError::differs("signer's version", signer.version, version));
        }
        let certificates = data.certificates.map(Vec::from).unwrap_or_default();
        if certificates.len() > MOST_CERTIFICATES {
            return Err(form(format!("it holds {} certificates", certificates.len())));
        }
        // Other kinds of certificates carry a tag of their own; none of them leads anywhere here.
        let plain = certificates.iter().filter(|c| c.tag() == Tag::Sequence);
        let certificates = plain
            .map(|c| c.to_der().map_err(TimeStampError::der).and_then(|der| Certified::read(&der)))
            .collect::<Result<_, _>>()?;
        let content = data.content.content.as_bytes().to_vec();
        Ok(Token { content, certificates, encapsulated: data.content, signer })
    }

    /// The certificate of the one who signed, by the reference in the token.
    pub(super) fn signer(&self) -> Result<&Certified, TimeStampError> {
        let mut named = Vec::new();
        for one in &self.certificates {
            if self.refers_to(one)? {
                named.push(one);
            }
        }
        match named.as_slice() {
            [one] => Ok(one),
            [] => Err(TimeStampError::Form("it does not hold its service's certificate".into())),
            _ => Err(TimeStampError::Form("it holds its service's certificate twice".into())),
        }
    }

    fn refers_to(&self, one: &Certified) -> Result<bool, TimeStampError> {
        let reference = &self.signer.signer;
        if reference.tag() == Tag::Sequence {
            let named: IssuerAndSerial = reference.decode_as().map_err(TimeStampError::der)?;
            return Ok(named.serial == *one.tbs.serial_number() && named.issuer == *one.tbs.issuer());
        }
        let own = one.tbs.get_extension::<SubjectKeyIdentifier>().map_err(TimeStampError::der)?;
        Ok(own.is_some_and(|(_, own)| own.0.as_bytes() == reference.value()))
    }

    /// That `by`'s key signed the content, meaning to use this very certificate.
    pub(super) fn signed_by(&self, by: &Certified) -> Result<(), TimeStampError> {
        let wrong = |what: &str| TimeStampError::Signature(what.to_owned());
        let hash = Hash::named(&self.signer.digest_algorithm)?;
        let signed = self.signer.signed.as_ref().ok_or_else(|| wrong("it has no signed attributes"))?;
        if *self.one(ID_CONTENT_TYPE)? != Any::encode_from(&ID_CT_TST_INFO).map_err(TimeStampError::der)? {
            return Err(wrong("the signed content type is another"));
        }
        let digest: OctetString = self.one(ID_MESSAGE_DIGEST)?.decode_as().map_err(TimeStampError::der)?;
        if digest.as_bytes() != hash.of(&self.content) {
            return Err(wrong("the stamp was changed after it was signed"));
        }
        self.means(by)?;
        let message = signed.to_der().map_err(TimeStampError::der)?;
        let (key, signature) = (by.tbs.subject_public_key_info(), self.signer.signature.as_bytes());
        signature::verify(key, &self.signer.signature_algorithm, Some(hash), &message, signature)
    }

    /// The one value of a signed attribute.
    fn one(&self, oid: ObjectIdentifier) -> Result<&Any, TimeStampError> {
        let all = self.signer.signed.iter().flat_map(SetOfVec::iter).filter(|a| a.oid == oid);
        let mut values = all.flat_map(|a| a.values.iter());
        match (values.next(), values.next()) {
            (Some(one), None) => Ok(one),
            _ if oid == ID_AA_SIGNING_CERTIFICATE_V_2 => Err(TimeStampError::Signature(
                "it does not name its certificate by a SHA-2 digest (signing-certificate-v2, RFC 5816)"
                    .into(),
            )),
            _ => Err(TimeStampError::Signature(format!("it has not one signed attribute {oid}"))),
        }
    }

    /// That the signed attributes name this certificate by its hash (RFC 5816): else another with the same key, or
    /// other dates, could be put in its place.
    fn means(&self, by: &Certified) -> Result<(), TimeStampError> {
        let named: SigningCertificateV2 =
            self.one(ID_AA_SIGNING_CERTIFICATE_V_2)?.decode_as().map_err(TimeStampError::der)?;
        let first = named.certificates.first();
        let first = first.ok_or_else(|| TimeStampError::Signature("it names no certificate".into()))?;
        let hash = first.algorithm.as_ref().map_or(Ok(Hash::Sha256), Hash::named)?;
        if hash.of(&by.der) != first.hash.as_bytes() {
            return Err(TimeStampError::Signature(
                "it was made for another certificate than it holds".into(),
            ));
        }
        Ok(())
    }

    /// The token with these certificates, and with nothing that no signature covers.
    pub(super) fn cut<'c>(
        &self,
        certificates: impl IntoIterator<Item = &'c Certified>,
    ) -> Result<Vec<u8>, TimeStampError> {
        let written = || {
            let certificates = certificates.into_iter().map(|c| Any::from_der(&c.der));
            let certificates = SetOfVec::try_from(certificates.collect::<der::Result<Vec<_>>>()?)?;
            let signer = SignerInfo { unsigned: None, ..self.signer.clone() };
            let content = SignedData {
                version: 3,
                digest_algorithms: SetOfVec::try_from([signer.digest_algorithm.clone()])?,
                content: self.encapsulated.clone(),
                certificates: Some(certificates),
                revocations: None,
                signers: SetOfVec::try_from([signer])?,
            };
            ContentInfo { content_type: ID_SIGNED_DATA, content }.to_der()
        };
        written().map_err(TimeStampError::der)
    }
}
