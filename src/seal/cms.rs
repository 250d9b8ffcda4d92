//! The container of a seal: CMS SignedData (RFC 5652) as PAdES baseline B-B wants it.
//!
//! ```text
//! ContentInfo signedData
//!   SignedData version 1, SHA-256, content id-data (detached)
//!     certificates: seal certificate, root certificate
//!     one SignerInfo version 1, by issuer and serial number
//!       signed: content-type, message-digest, signing-certificate-v2 (RFC 5035)
//!       ecdsa-with-SHA256 over the DER SET OF those attributes
//! ```
//! No signing-time (the PDF carries the claimed time) and no unsigned attributes: whatever lies in a
//! container unsigned can be changed unnoticed.

use const_oid::ObjectIdentifier;
use const_oid::db::rfc5911::ID_AA_SIGNING_CERTIFICATE_V_2;
use const_oid::db::rfc5911::ID_CONTENT_TYPE;
use const_oid::db::rfc5911::ID_DATA;
use const_oid::db::rfc5911::ID_MESSAGE_DIGEST;
use const_oid::db::rfc5911::ID_SIGNED_DATA;
use const_oid::db::rfc5912::ECDSA_WITH_SHA_256;
use const_oid::db::rfc5912::ID_SHA_256;
use der::Decode;
use der::Encode;
use der::Sequence;
use der::ValueOrd;
use der::asn1::Any;
use der::asn1::OctetString;
use der::asn1::SetOfVec;
use sha2::Digest;
use sha2::Sha256;
use spki::AlgorithmIdentifierOwned;
use x509_cert::Certificate;
use x509_cert::attr::Attribute;
use x509_cert::name::Name;
use x509_cert::serial_number::SerialNumber;

use super::ecdsa;

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
    certificates: Option<SetOfVec<Certificate>>,
    signers: SetOfVec<SignerInfo>,
}

#[derive(Debug, Sequence)]
struct EncapsulatedContent {
    content_type: ObjectIdentifier,
}

#[derive(Debug, Sequence, ValueOrd)]
struct SignerInfo {
    version: u8,
    signer: IssuerAndSerial,
    digest_algorithm: AlgorithmIdentifierOwned,
    #[asn1(context_specific = "0", tag_mode = "IMPLICIT", constructed = "true", optional = "true")]
    signed: Option<SetOfVec<Attribute>>,
    signature_algorithm: AlgorithmIdentifierOwned,
    signature: OctetString,
}

#[derive(Debug, Sequence, ValueOrd)]
struct IssuerAndSerial {
    issuer: Name,
    serial: SerialNumber,
}

/// The hash algorithm is left out, since SHA-256 is its default, which DER forbids to write.
#[derive(Debug, Sequence)]
struct EssCertIdV2 {
    hash: OctetString,
}

#[derive(Debug, Sequence)]
struct SigningCertificateV2 {
    certificates: Vec<EssCertIdV2>,
}

/// The parts of a container that are not the same in every seal.
#[derive(Debug)]
pub(super) struct Parts {
    pub(super) leaf: Certificate,
    pub(super) root: Certificate,
    pub(super) signature: Vec<u8>,
    /// The digest it claims; none if the attribute is missing or odd.
    pub(super) digest: Option<Vec<u8>>,
}

/// `ecdsa-with-SHA256`, whose parameters are absent (RFC 5758 section 3.2).
pub(super) fn ecdsa_with_sha256() -> AlgorithmIdentifierOwned {
    AlgorithmIdentifierOwned { oid: ECDSA_WITH_SHA_256, parameters: None }
}

fn sha256() -> AlgorithmIdentifierOwned {
    AlgorithmIdentifierOwned { oid: ID_SHA_256, parameters: None }
}

fn attribute(oid: ObjectIdentifier, value: Any) -> der::Result<Attribute> {
    let mut values = SetOfVec::new();
    values.insert(value)?;
    Ok(Attribute { oid, values })
}

/// The signed attributes for a content digest.
pub(super) fn attributes(digest: &[u8], leaf: &Certificate) -> der::Result<SetOfVec<Attribute>> {
    let hash = OctetString::new(Sha256::digest(leaf.to_der()?).to_vec())?;
    let signing = SigningCertificateV2 { certificates: vec![EssCertIdV2 { hash }] };
    let mut all = SetOfVec::new();
    all.insert(attribute(ID_CONTENT_TYPE, Any::encode_from(&ID_DATA)?)?)?;
    all.insert(attribute(ID_MESSAGE_DIGEST, Any::encode_from(&OctetString::new(digest)?)?)?)?;
    all.insert(attribute(ID_AA_SIGNING_CERTIFICATE_V_2, Any::encode_from(&signing)?)?)?;
    Ok(all)
}

/// The length of the longest container under these certificates.
pub(super) fn room(leaf: &Certificate, root: &Certificate) -> der::Result<usize> {
    Ok(build(leaf, root, attributes(&[0; 32], leaf)?, &[0; ecdsa::MAX_LEN])?.len())
}

/// The container's bytes.
pub(super) fn build(
    leaf: &Certificate,
    root: &Certificate,
    signed: SetOfVec<Attribute>,
    signature: &[u8],
) -> der::Result<Vec<u8>> {
    let tbs = leaf.tbs_certificate();
    let signer = SignerInfo {
        version: 1,
        signer: IssuerAndSerial { issuer: tbs.issuer().clone(), serial: tbs.serial_number().clone() },
        digest_algorithm: sha256(),
        signed: Some(signed),
        signature_algorithm: ecdsa_with_sha256(),
        signature: OctetString::new(signature)?,
    };
    let content = SignedData {
        version: 1,
        digest_algorithms: SetOfVec::try_from([sha256()])?,
        content: EncapsulatedContent { content_type: ID_DATA },
        certificates: Some(SetOfVec::try_from([leaf.clone(), root.clone()])?),
        signers: SetOfVec::try_from([signer])?,
    };
    ContentInfo { content_type: ID_SIGNED_DATA, content }.to_der()
}

/// Takes a container apart. Whether it has the one permitted form is for the caller to check, by
/// building it again from the parts.
pub(super) fn parse(bytes: &[u8]) -> Result<Parts, String> {
    let info = ContentInfo::from_der(bytes).map_err(|e| format!("not a seal of the expected form: {e}"))?;
    let data = info.content;
    let [signer] = <[SignerInfo; 1]>::try_from(Vec::from(data.signers))
        .map_err(|found| format!("{} signers; expected one", found.len()))?;
    let certificates = data.certificates.map(Vec::from).unwrap_or_default();
    let [a, b] = <[Certificate; 2]>::try_from(certificates)
        .map_err(|found| format!("{} certificates; expected the seal's and the root's", found.len()))?;
    let is_signer = |c: &Certificate| {
        let tbs = c.tbs_certificate();
        tbs.serial_number() == &signer.signer.serial && tbs.issuer() == &signer.signer.issuer
    };
    let (leaf, root) = match (is_signer(&a), is_signer(&b)) {
        (true, false) => (a, b),
        (false, true) => (b, a),
        _ => return Err("the signer's certificate is not exactly one of the two".into()),
    };
    let digest = signer.signed.iter().flat_map(SetOfVec::iter).find(|a| a.oid == ID_MESSAGE_DIGEST);
    let digest = digest
        .and_then(|a| a.values.get(0))
        .and_then(|value| value.decode_as::<OctetString>().ok())
        .map(|octets| octets.as_bytes().to_vec());
    Ok(Parts { leaf, root, signature: signer.signature.into_bytes().into_vec(), digest })
}
