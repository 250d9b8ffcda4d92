//! The private key in a PKCS#12 file (RFC 7292): how other programs hand a key over together with its certificates.
//!
//! The key is all that is taken. The certificates in the file are another authority's, or can be made anew from the key:
//! a seal's and a root's have one form, see [`super::profile`].

use const_oid::ObjectIdentifier;
use const_oid::db::rfc5911::ID_DATA;
use const_oid::db::rfc5912::ID_SHA_256;
use const_oid::db::rfc5912::ID_SHA_384;
use const_oid::db::rfc5912::ID_SHA_512;
use der::Decode;
use der::Encode;
use der::SecretDocument;
use der::asn1::AnyRef;
use der::asn1::ContextSpecific;
use der::asn1::OctetString;
use hmac::Hmac;
use hmac::KeyInit;
use hmac::Mac;
use pkcs12::MacData;
use pkcs12::cms::content_info::ContentInfo;
use pkcs12::kdf::Pkcs12KeyType;
use pkcs12::kdf::derive_key_utf8;
use pkcs12::pfx::Pfx;
use pkcs12::safe_bag::SafeBag;
use sha2::Sha256;
use sha2::Sha384;
use sha2::Sha512;
use zeroize::Zeroizing;

use super::SealError;
use super::pem;

/// Most rounds of a derivation: a file says how much work opening it takes.
const ROUNDS: i32 = 10_000_000;

fn refuse(reason: impl Into<String>) -> SealError {
    SealError::Pkcs12 { reason: reason.into() }
}

/// A PFX begins with a sequence whose first member is the version, 3 (RFC 7292, section 4). A bare private key
/// in DER has version 0 or 1 at that place.
pub(super) fn is_one(bytes: &[u8]) -> bool {
    let Some((&0x30, rest)) = bytes.split_first() else { return false };
    let Some((&length, rest)) = rest.split_first() else { return false };
    let more = if length < 0x80 { 0 } else { usize::from(length & 0x7f) };
    rest.get(more..).is_some_and(|content| content.starts_with(&[0x02, 0x01, 0x03]))
}

/// The one private key in the file, as PKCS#8.
pub(super) fn private_key(file: &[u8], passphrase: &[u8]) -> Result<SecretDocument, SealError> {
    let unread = |e: der::Error| refuse(format!("it cannot be read ({e})"));
    let pfx = Pfx::from_der(file).map_err(unread)?;
    let whole = content(&pfx.auth_safe)?
        .ok_or_else(|| refuse("it is sealed by a public key, not by a passphrase"))?;
    if let Some(mac) = &pfx.mac_data {
        unchanged(mac, whole.as_bytes(), passphrase)?;
    }
    let parts = Vec::<ContentInfo>::from_der(whole.as_bytes()).map_err(unread)?;
    let mut found = Vec::new();
    for part in &parts {
        // What is encrypted as a whole are certificates; keys are encrypted one by one.
        let Some(bags) = content(part)? else { continue };
        for bag in Vec::<SafeBag>::from_der(bags.as_bytes()).map_err(unread)? {
            found.extend(key(&bag, passphrase).transpose()?);
        }
    }
    let count = found.len();
    let [only] = <[SecretDocument; 1]>::try_from(found)
        .map_err(|_| refuse(format!("it holds {count} private keys that can be read; expected one")))?;
    Ok(only)
}

/// Plain data; none if it is something else, as encrypted data.
fn content(info: &ContentInfo) -> Result<Option<OctetString>, SealError> {
    if info.content_type != ID_DATA {
        return Ok(None);
    }
    let read = info.content.decode_as::<OctetString>();
    read.map(Some).map_err(|e| refuse(format!("it cannot be read ({e})")))
}

fn key(bag: &SafeBag, passphrase: &[u8]) -> Option<Result<SecretDocument, SealError>> {
    let unread = |e: der::Error| refuse(format!("a key in it cannot be read ({e})"));
    let inner = || -> Result<Zeroizing<Vec<u8>>, SealError> {
        let value = ContextSpecific::<AnyRef<'_>>::from_der(&bag.bag_value).map_err(unread)?;
        Ok(Zeroizing::new(value.value.to_der().map_err(unread)?))
    };
    match bag.bag_id {
        pkcs12::PKCS_12_PKCS8_KEY_BAG_OID => {
            Some(inner().and_then(|file| pem::decrypt(file.as_slice(), passphrase)))
        }
        pkcs12::PKCS_12_KEY_BAG_OID => {
            Some(inner().and_then(|file| SecretDocument::try_from(file.as_slice()).map_err(unread)))
        }
        _ => None,
    }
}

/// That the passphrase is the one, and nothing was changed since the file was made.
fn unchanged(mac: &MacData, whole: &[u8], passphrase: &[u8]) -> Result<(), SealError> {
    let text = std::str::from_utf8(passphrase).map_err(|_| SealError::WrongPassphrase)?;
    if !(1..=ROUNDS).contains(&mac.iterations) {
        let found = format!("{} rounds of the PKCS#12 derivation", mac.iterations);
        return Err(SealError::Cost { found, limit: "1 to 10,000,000 rounds" });
    }
    /// The derivation and the code of one hash.
    macro_rules! check {
        ($hash:ty, $length:literal) => {{
            let salt = mac.mac_salt.as_bytes();
            let derived = derive_key_utf8::<$hash>(text, salt, Pkcs12KeyType::Mac, mac.iterations, $length);
            let derived = Zeroizing::new(derived.map_err(|_| SealError::WrongPassphrase)?);
            let mut code = <Hmac<$hash> as KeyInit>::new_from_slice(&derived)
                .map_err(|e| SealError::Encode(e.to_string()))?;
            code.update(whole);
            code.verify_slice(mac.mac.digest.as_bytes()).map_err(|_| SealError::WrongPassphrase)
        }};
    }
    match mac.mac.algorithm.oid {
        ID_SHA_256 => check!(Sha256, 32),
        ID_SHA_384 => check!(Sha384, 48),
        ID_SHA_512 => check!(Sha512, 64),
        other => Err(refuse(format!("it is protected by {}", old(other)))),
    }
}

fn old(oid: ObjectIdentifier) -> String {
    match oid.to_string().as_str() {
        "1.3.14.3.2.26" => "SHA-1, an old scheme".to_owned(),
        "1.2.840.113549.1.5.14" => "PBMAC1, which is not read here".to_owned(),
        other => other.to_owned(),
    }
}
