//! The files of keys and certificates, PEM; a key may come in PKCS#12 too.
//!
//! Keys are written as PKCS#8, encrypted with PBES2: scrypt (N = 2^14, r = 8, p = 5) and AES-256-CBC. A higher N
//! would be stronger, but OpenSSL 3.0 refuses to open it, and a shop must be able to reach its own key
//! without this tool.

use const_oid::ObjectIdentifier;
use der::Decode;
use der::Document;
use der::Encode;
use der::SecretDocument;
use der::asn1::OctetStringRef;
use der::pem::LineEnding;
use der::pem::PemLabel;
use p256::ecdsa::SigningKey;
use pkcs8::DecodePrivateKey;
use pkcs8::EncodePrivateKey;
use pkcs8::EncryptedPrivateKeyInfoRef;
use pkcs8::PrivateKeyInfoRef;
use pkcs8::pkcs5::EncryptionScheme as Pkcs5Scheme;
use pkcs8::pkcs5::pbes2;
use spki::AlgorithmIdentifierRef;
use x509_cert::Certificate;
use zeroize::Zeroizing;

use super::SealError;
use super::chain;
use super::keys::Random;
use super::pkcs12;

/// Cost of scrypt: 128 · N · r bytes of memory, p times.
const SCRYPT_N: u64 = 1 << 14;
const SCRYPT_R: u16 = 8;
const SCRYPT_P: u16 = 5;

/// Whether a private key's file is encrypted, so that one need ask for a passphrase only then.
///
/// # Errors
/// [`SealError::Pem`] and [`SealError::Label`].
pub fn is_encrypted(key_pem: &[u8]) -> Result<bool, SealError> {
    const WHAT: &str = "the key's file";
    if pkcs12::is_one(key_pem) {
        return Ok(true);
    }
    let found =
        der::pem::decode_label(key_pem).map_err(|e| SealError::Pem { what: WHAT, reason: e.to_string() })?;
    if found == EncryptedPrivateKeyInfoRef::PEM_LABEL {
        Ok(true)
    } else if found == PrivateKeyInfoRef::PEM_LABEL {
        Ok(false)
    } else {
        let expected = "\"PRIVATE KEY\" or \"ENCRYPTED PRIVATE KEY\" (PKCS#8)";
        Err(SealError::Label { what: WHAT, found: found.into(), expected })
    }
}

/// One certificate, PEM or DER.
pub(super) fn one_certificate(bytes: &[u8], what: &'static str) -> Result<Certificate, SealError> {
    if bytes.first() == Some(&0x30) {
        return chain::decode(bytes).map_err(|reason| SealError::Certificate { what, reason });
    }
    let found = certificates(bytes, what)?;
    let count = found.len();
    let [only] = <[Certificate; 1]>::try_from(found).map_err(|_| SealError::Count {
        what,
        found: count,
        expected: "one",
    })?;
    Ok(only)
}

pub(super) fn cert_to_pem(found: &Certificate) -> Result<String, SealError> {
    Ok(Document::encode_msg(found)?.to_pem(Certificate::PEM_LABEL, LineEnding::LF)?)
}

pub(super) fn key_to_pem(
    key: &SigningKey,
    passphrase: Option<&[u8]>,
    random: &mut Random<'_>,
) -> Result<Zeroizing<String>, SealError> {
    let encode = |e: pkcs8::Error| SealError::Encode(e.to_string());
    let open = key.to_pkcs8_der().map_err(encode)?;
    let Some(passphrase) = passphrase else {
        return Ok(open.to_pem(PrivateKeyInfoRef::PEM_LABEL, LineEnding::LF)?);
    };
    if passphrase.is_empty() {
        return Err(SealError::EmptyPassphrase);
    }
    let mut salt = [0; 16];
    let mut iv = [0; 16];
    random(&mut salt).map_err(SealError::Random)?;
    random(&mut iv).map_err(SealError::Random)?;
    let kdf = pbes2::ScryptParams {
        salt: pbes2::Salt::new(salt)?,
        cost_parameter: SCRYPT_N,
        block_size: SCRYPT_R,
        parallelization: SCRYPT_P,
        key_length: None,
    };
    let encryption = pbes2::EncryptionScheme::Aes256Cbc { iv };
    let parameters = pbes2::Parameters { kdf: pbes2::Kdf::Scrypt(kdf), encryption };
    let info = PrivateKeyInfoRef::try_from(open.as_bytes()).map_err(encode)?;
    let closed = info.encrypt_with_params(parameters, passphrase).map_err(encode)?;
    Ok(closed.to_pem(EncryptedPrivateKeyInfoRef::PEM_LABEL, LineEnding::LF)?)
}

/// The private key in a file, whatever its form.
pub(super) fn open_key(pem: &[u8], passphrase: Option<&[u8]>) -> Result<SigningKey, SealError> {
    let not_p256 = |e: pkcs8::Error| SealError::NotP256(e.to_string());
    if pkcs12::is_one(pem) {
        let open = pkcs12::private_key(pem, passphrase.ok_or(SealError::PassphraseNeeded)?)?;
        return SigningKey::from_pkcs8_der(open.as_bytes()).map_err(not_p256);
    }
    let encrypted = is_encrypted(pem)?;
    let bad = |reason: String| SealError::Pem { what: "the key's file", reason };
    let text = std::str::from_utf8(pem).map_err(|e| bad(e.to_string()))?;
    let (_, file) = SecretDocument::from_pem(text).map_err(|e| bad(e.to_string()))?;
    let open = match (encrypted, passphrase) {
        (false, None) => file,
        (false, Some(_)) => return Err(SealError::NotEncrypted),
        (true, None) => return Err(SealError::PassphraseNeeded),
        (true, Some(passphrase)) => decrypt(file.as_bytes(), passphrase)?,
    };
    SigningKey::from_pkcs8_der(open.as_bytes()).map_err(not_p256)
}

pub(super) fn decrypt(file: &[u8], passphrase: &[u8]) -> Result<SecretDocument, SealError> {
    let outer = Outer::from_der(file)
        .map_err(|e| SealError::Pem { what: "the key's file", reason: e.to_string() })?;
    let name = outer.algorithm.oid;
    if name != pbes2::PBES2_OID {
        return Err(SealError::Encryption { found: old_encryption(name) });
    }
    let info = EncryptedPrivateKeyInfoRef::try_from(file)
        .map_err(|e| SealError::Encryption { found: format!("PBES2 in a form not known here ({e})") })?;
    affordable(&info.encryption_algorithm)?;
    info.decrypt(passphrase).map_err(|error| match error {
        // A wrong passphrase gives bad padding, or by chance good padding around what is no key.
        pkcs8::Error::EncryptedPrivateKey(pkcs8::pkcs5::Error::DecryptFailed) | pkcs8::Error::Asn1(_) => {
            SealError::WrongPassphrase
        }
        other => SealError::Encryption { found: other.to_string() },
    })
}

#[derive(der::Sequence)]
struct Outer<'a> {
    algorithm: AlgorithmIdentifierRef<'a>,
    #[allow(dead_code, reason = "its place in the file")]
    data: &'a OctetStringRef,
}

/// PBES1 (PKCS#5 and PKCS#12), which old tools still write: 3DES, RC2 or DES under MD5 or SHA-1.
fn old_encryption(oid: ObjectIdentifier) -> String {
    let text = oid.to_string();
    if text.starts_with("1.2.840.113549.1.5.") || text.starts_with("1.2.840.113549.1.12.1.") {
        format!("PBES1, an old scheme ({text})")
    } else {
        text
    }
}

/// The file says how much work opening it takes; without a bound a bad one would fill the memory.
fn affordable(scheme: &Pkcs5Scheme) -> Result<(), SealError> {
    const SCRYPT_LIMIT: &str = "64 MiB, a power of two for N, and p = 16";
    const PBKDF2_LIMIT: u32 = 10_000_000;
    match scheme.pbes2().map(|p| &p.kdf) {
        Some(pbes2::Kdf::Scrypt(p)) => {
            let memory =
                p.cost_parameter.checked_mul(128).and_then(|m| m.checked_mul(u64::from(p.block_size)));
            let sane = p.cost_parameter.is_power_of_two()
                && p.cost_parameter > 1
                && memory.is_some_and(|m| (1..=64 << 20).contains(&m))
                && (1..=16).contains(&p.parallelization);
            let found =
                format!("scrypt N = {}, r = {}, p = {}", p.cost_parameter, p.block_size, p.parallelization);
            if sane { Ok(()) } else { Err(SealError::Cost { found, limit: SCRYPT_LIMIT }) }
        }
        Some(pbes2::Kdf::Pbkdf2(p)) if p.iteration_count > PBKDF2_LIMIT => {
            let found = format!("{} rounds of PBKDF2", p.iteration_count);
            Err(SealError::Cost { found, limit: "10,000,000 rounds" })
        }
        _ => Ok(()),
    }
}

pub(super) fn certificates(pem: &[u8], what: &'static str) -> Result<Vec<Certificate>, SealError> {
    const END: &str = "-----END CERTIFICATE-----";
    let bad = |reason: String| SealError::Pem { what, reason };
    let text = std::str::from_utf8(pem).map_err(|e| bad(e.to_string()))?;
    if text.trim().is_empty() {
        return Err(bad("it is empty".into()));
    }
    let mut found = Vec::new();
    for block in text.trim().split_inclusive(END) {
        let (label, file) = Document::from_pem(block.trim()).map_err(|e| bad(e.to_string()))?;
        if label != Certificate::PEM_LABEL {
            return Err(SealError::Label { what, found: label.into(), expected: "\"CERTIFICATE\"" });
        }
        let refuse = |reason| SealError::Certificate { what, reason };
        found.push(chain::decode(file.as_bytes()).map_err(refuse)?);
    }
    Ok(found)
}

/// The DER bytes of a certificate.
pub(super) fn to_der(found: &Certificate) -> Result<Vec<u8>, SealError> {
    Ok(found.to_der()?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seal::KeySet;
    use crate::seal::create_keys;
    use crate::seal::load_key;

    fn made(passphrase: Option<&[u8]>) -> KeySet {
        let mut n = 0;
        let mut random = |bytes: &mut [u8]| {
            n += 1;
            bytes.fill(n);
            Ok(())
        };
        let day = chrono::DateTime::from_timestamp(1_790_000_000, 0).unwrap();
        create_keys("Larkspur Bright Finishing", day, passphrase, &mut random).unwrap()
    }

    fn closed(algorithm: &str, parameters: &[u8]) -> String {
        let oid = ObjectIdentifier::new(algorithm).unwrap();
        let parameters = der::asn1::AnyRef::from_der(parameters).unwrap();
        let algorithm = AlgorithmIdentifierRef { oid, parameters: Some(parameters) };
        let file = Outer { algorithm, data: OctetStringRef::new(&[0; 48]).unwrap() };
        let label = EncryptedPrivateKeyInfoRef::PEM_LABEL;
        Document::encode_msg(&file).unwrap().to_pem(label, LineEnding::LF).unwrap()
    }

    /// The first bytes are those that `openssl pkcs12 -export` (3.0.22) wrote, without and with -legacy.
    #[test]
    fn pkcs12_is_known_and_an_open_key_in_der_is_not_taken_for_it() {
        for start in [[0x30, 0x82, 0x04, 0x0c, 2, 1, 3], [0x30, 0x82, 0x03, 0x7a, 2, 1, 3]] {
            assert_eq!(is_encrypted(&start), Ok(true));
            assert_eq!(open_key(&start, None).err(), Some(SealError::PassphraseNeeded));
            let opened = open_key(&start, Some(b"x")).err().unwrap();
            assert!(matches!(opened, SealError::Pkcs12 { .. }), "{opened:?}");
            assert!(opened.hint().unwrap().contains("openssl pkcs12 -in"), "{opened:?}");
        }
        for other in [&[][..], &[0x30], &[0x30, 0x82], &[0x30, 0xff, 2, 1, 3], &[0x30, 0x82, 0, 9, 2, 1, 0]] {
            assert!(matches!(is_encrypted(other), Err(SealError::Pem { .. })), "{other:?}");
        }
    }

    /// `openssl pkcs12 -nocerts` writes its bag's attributes before the key; the hint leads there.
    #[test]
    fn a_key_as_openssl_takes_it_out_of_pkcs12_opens() {
        let made = made(Some(b"pickle"));
        let before = "Bag Attributes\n    localKeyID: 6A 4B \nKey Attributes: <No Attributes>\n";
        let text = format!("{before}{}", *made.root_key_pem);
        assert!(is_encrypted(text.as_bytes()).unwrap());
        assert!(open_key(text.as_bytes(), Some(b"pickle")).is_ok());
    }

    #[test]
    fn old_encryption_is_named_with_the_way_out() {
        let set = made(None);
        // Salt of eight bytes and 2048 rounds, as PKCS#12's SHA-1 with 3DES writes them.
        let parameters = hex::decode("300e04080102030405060708020208 00".replace(' ', "")).unwrap();
        for oid in ["1.2.840.113549.1.12.1.3", "1.2.840.113549.1.5.3"] {
            let pem = closed(oid, &parameters);
            let found = load_key(pem.as_bytes(), set.seal_cert_pem.as_bytes(), Some(b"x")).unwrap_err();
            assert!(found.to_string().contains("PBES1"), "{found}");
            assert!(found.hint().unwrap().contains("openssl pkcs8 -topk8"));
        }
    }

    #[test]
    fn a_key_file_cannot_ask_for_endless_work() {
        let set = made(None);
        for (n, r, p) in
            [(0, 8, 1), (3, 8, 1), (1 << 40, 8, 1), (1 << 17, 8, 1), (1 << 14, 8, 1000), (u64::MAX, 8, 1)]
        {
            let kdf = pbes2::ScryptParams {
                salt: pbes2::Salt::new([1; 16]).unwrap(),
                cost_parameter: n,
                block_size: r,
                parallelization: p,
                key_length: None,
            };
            let encryption = pbes2::EncryptionScheme::Aes256Cbc { iv: [2; 16] };
            let parameters = pbes2::Parameters { kdf: pbes2::Kdf::Scrypt(kdf), encryption }.to_der().unwrap();
            let pem = closed("1.2.840.113549.1.5.13", &parameters);
            let found = load_key(pem.as_bytes(), set.seal_cert_pem.as_bytes(), Some(b"x")).unwrap_err();
            assert!(matches!(found, SealError::Cost { .. }), "{n}: {found}");
        }
    }

    #[test]
    fn damaged_files_give_errors_not_panics() {
        let set = made(Some(b"pickle"));
        let (_, file) = SecretDocument::from_pem(&set.seal_key_pem).unwrap();
        let label = EncryptedPrivateKeyInfoRef::PEM_LABEL;
        // The headers and parameters; each further byte would cost a whole scrypt.
        for at in 0..90 {
            let mut bytes = file.as_bytes().to_vec();
            bytes[at] ^= 0xff;
            let Ok(bad) = Document::try_from(bytes) else { continue };
            let pem = bad.to_pem(label, LineEnding::LF).unwrap();
            assert!(load_key(pem.as_bytes(), set.seal_cert_pem.as_bytes(), Some(b"pickle")).is_err(), "{at}");
        }
    }

    #[test]
    fn files_of_another_kind_are_named() {
        let set = made(None);
        let (key, cert) = (set.seal_key_pem.as_bytes(), set.seal_cert_pem.as_bytes());
        let label = |found: SealError| match found {
            SealError::Label { found, .. } => found,
            other => panic!("{other}"),
        };
        assert_eq!(label(load_key(cert, cert, None).unwrap_err()), "CERTIFICATE");
        assert_eq!(label(load_key(key, key, None).unwrap_err()), "PRIVATE KEY");
        let sec1 = set.seal_key_pem.replace("PRIVATE KEY", "EC PRIVATE KEY");
        let found = load_key(sec1.as_bytes(), cert, None).unwrap_err();
        assert!(found.hint().unwrap().contains("openssl pkcs8 -topk8"));
        assert_eq!(label(found), "EC PRIVATE KEY");
        assert!(matches!(load_key(b"", cert, None), Err(SealError::Pem { .. })));
        assert!(matches!(load_key(key, b"", None), Err(SealError::Pem { .. })));
        assert!(matches!(load_key(key, b"\xff", None), Err(SealError::Pem { .. })));
        let root = set.root_cert_pem.as_bytes();
        assert!(matches!(load_key(key, root, None), Err(SealError::Count { found: 1, .. })));
    }

    #[test]
    fn windows_line_ends_do_no_harm() {
        let set = made(None);
        let crlf = |text: &str| text.replace('\n', "\r\n");
        let key = crlf(&set.seal_key_pem);
        assert!(load_key(key.as_bytes(), crlf(&set.seal_cert_pem).as_bytes(), None).is_ok());
    }
}
