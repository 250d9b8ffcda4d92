//! ECDSA on P-256 with SHA-256: the one signature a seal and its certificates use.
//!
//! From every valid signature (r, s) anyone can make a second one, (r, n − s). So that a seal has one
//! form only, we write the lower s and refuse the other.

use p256::ecdsa::Signature;
use p256::ecdsa::SigningKey;
use p256::ecdsa::VerifyingKey;
use p256::ecdsa::signature::Signer;
use p256::ecdsa::signature::Verifier;

use super::SealError;

/// The longest DER signature: two positive integers of 32 bytes with a leading zero, and three headers.
pub(super) const MAX_LEN: usize = 72;

/// Signs with the nonce of RFC 6979, so that the same key and message give the same DER bytes.
pub(super) fn sign(key: &SigningKey, message: &[u8]) -> Result<Vec<u8>, SealError> {
    let signature: Signature = key.try_sign(message).map_err(|e| SealError::Encode(e.to_string()))?;
    Ok(signature.normalize_s().to_der().as_bytes().to_vec())
}

/// The one form of a signature that somebody else made: r and s of 32 bytes each, as PKCS#11 gives them.
pub(super) fn normal(pair: &[u8]) -> Result<Vec<u8>, String> {
    let signature = Signature::from_slice(pair).map_err(|_| "its signature is none".to_string())?;
    Ok(signature.normalize_s().to_der().as_bytes().to_vec())
}

/// Whether these DER bytes are the low-s signature of the message.
pub(super) fn verify(key: &VerifyingKey, message: &[u8], signature: &[u8]) -> Result<(), String> {
    let parsed = Signature::from_der(signature).map_err(|_| "signature is not well formed".to_string())?;
    if parsed.to_der().as_bytes() != signature {
        return Err("signature is not in its shortest form".into());
    }
    if parsed.normalize_s() != parsed {
        return Err("signature was altered: its second number is the high one of the two".into());
    }
    key.verify(message, &parsed).map_err(|_| "signature is wrong".to_string())
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::Value;

    const N: &str = "ffffffff00000000ffffffffffffffffbce6faada7179e84f3b9cac2fc632551";

    /// RFC 6979 A.2.5. Its s for "sample" is the high one, so we write n − s there.
    #[test]
    fn rfc_6979_p256_sha256() {
        let x = hex::decode("c9afa9d845ba75166b5c215767b1d6934e50c3db36e89b127b8a622b120f6721").unwrap();
        let key = SigningKey::from_slice(&x).unwrap();
        let rows = [
            (
                "sample",
                "efd48b2aacb6a8fd1140dd9cd45e81d69d2c877b56aaf991c34d0ea84eaf3716",
                "f7cb1c942d657c41d436c7a1b6e29f65f3e900dbb9aff4064dc4ab2f843acda8",
                true,
            ),
            (
                "test",
                "f1abb023518351cd71d881567b1ea663ed3efcf6c5132b354f28d3b0b7d38367",
                "019f4113742a2b14bd25926b49c649155f267e60d3814b4c0cc84250e46f0083",
                false,
            ),
        ];
        for (message, r, s, high) in rows {
            let pair = hex::decode(format!("{r}{s}")).unwrap();
            let published = Signature::from_slice(&pair).unwrap();
            let raw: Signature = key.sign(message.as_bytes());
            assert_eq!(raw, published);
            let ours = sign(&key, message.as_bytes()).unwrap();
            assert_eq!(ours == published.to_der().as_bytes(), !high);
            assert_eq!(ours, published.normalize_s().to_der().as_bytes());
            assert_eq!(verify(key.verifying_key(), message.as_bytes(), &ours), Ok(()));
            assert_eq!(
                verify(key.verifying_key(), message.as_bytes(), published.to_der().as_bytes()).is_ok(),
                !high
            );
        }
    }

    /// The bytes of s, if these are a SEQUENCE of two INTEGERs with short lengths: enough to name the
    /// valid vectors we refuse, without the library under test.
    fn s_of(der: &[u8]) -> Option<&[u8]> {
        let r_len = usize::from(*der.get(3)?);
        let s = der.get(4 + r_len..)?;
        s.get(2..2 + usize::from(*s.get(1)?))
    }

    /// Every vector agrees, but for the valid ones whose s is above n/2: each of those, and no other,
    /// is refused, and for that reason.
    #[test]
    fn wycheproof() {
        let half = half_of_n();
        let file = include_str!("../../tests/vectors/wycheproof/ecdsa_secp256r1_sha256.json");
        let groups: Vec<Value> = serde_json::from_str(file).unwrap();
        let (mut taken, mut high, mut refused) = (0, 0, 0);
        for group in &groups {
            let key = hex::decode(group["key"].as_str().unwrap()).unwrap();
            let key = VerifyingKey::from_sec1_bytes(&key).unwrap();
            for test in group["tests"].as_array().unwrap() {
                let field = |name: &str| hex::decode(test[name].as_str().unwrap()).unwrap();
                let signature = field("sig");
                let found = verify(&key, &field("msg"), &signature);
                match (test["result"].as_str().unwrap(), found) {
                    ("valid", Ok(())) => taken += 1,
                    ("valid", Err(reason)) => {
                        assert!(reason.contains("high one"), "{test}: {reason}");
                        let s = s_of(&signature).unwrap();
                        let mut wide = vec![0; 33 - s.len()];
                        wide.extend_from_slice(s);
                        assert!(wide[1..] > half[..], "{test}: s is not high");
                        high += 1;
                    }
                    ("invalid", Err(_)) => refused += 1,
                    (result, found) => panic!("{test}: {result}, but {found:?}"),
                }
            }
        }
        assert_eq!((taken + high, refused), (174, 310));
        assert_eq!((taken, high), (EXPECTED_TAKEN, 174 - EXPECTED_TAKEN));
    }

    /// Counted from the vector file with exact integers, outside this program.
    const EXPECTED_TAKEN: usize = 103;

    fn half_of_n() -> Vec<u8> {
        let mut carry = 0;
        hex::decode(N)
            .unwrap()
            .into_iter()
            .map(|byte| {
                let half = (carry << 7) | (byte >> 1);
                carry = byte & 1;
                half
            })
            .collect()
    }

    #[test]
    fn a_second_form_of_the_same_signature_is_refused() {
        let key = SigningKey::from_slice(&[7; 32]).unwrap();
        let low = Signature::from_der(&sign(&key, b"lot").unwrap()).unwrap();
        let (r, s) = low.split_scalars();
        let high = Signature::from_scalars(r, -*s).unwrap();
        assert!(key.verifying_key().verify(b"lot", &high).is_ok());
        let found = verify(key.verifying_key(), b"lot", high.to_der().as_bytes()).unwrap_err();
        assert!(found.contains("high one"), "{found}");
        assert!(sign(&key, b"lot").unwrap().len() <= MAX_LEN);
    }
}
