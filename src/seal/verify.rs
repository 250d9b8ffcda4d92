//! Checking a seal, and what it rests on.

use chrono::DateTime;
use chrono::Utc;
use der::Decode;
use der::Encode;
use der::asn1::AnyRef;
use p256::ecdsa::VerifyingKey;
use sha2::Digest;
use sha2::Sha256;

use super::SealError;
use super::Trust;
use super::anchor;
use super::chain;
use super::cms;
use super::ecdsa;
use super::profile::Kind;

/// The answer to one question.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Check {
    /// Yes.
    Pass,
    /// No, and why.
    Fail(String),
    /// Could not be asked, and why.
    NotChecked(String),
}

/// Who sealed, as the seal itself says. Believe it only if both checks of the report pass.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sealer {
    /// The organisation named in both certificates.
    pub organisation: String,
    /// SHA-256 of the root certificate, lower-case hex: what a trust anchor is compared with.
    pub root_fingerprint: String,
    /// SHA-256 of the seal certificate, lower-case hex: which of the shop's seal keys it was.
    pub seal_fingerprint: String,
    /// From when on the seal certificate is valid.
    pub valid_from: DateTime<Utc>,
    /// How many bytes a file keeps for a seal under these certificates: see [`super::SealKey::reserve`].
    pub reserve: usize,
}

/// What a seal proves.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SealReport {
    /// Not a byte changed since sealing, neither of the sealed pieces nor of the seal.
    pub intact: Check,
    /// The seal's root is the trust anchor, and the claimed time is not before its certificate.
    pub issuer: Check,
    /// Who sealed; none if the seal is not well formed enough to say.
    pub sealer: Option<Sealer>,
}

/// Checks a seal over two pieces of a file.
///
/// `padded` is the DER container followed by zero bytes only. `claimed` is the time of sealing that the
/// file claims. Any change to `padded` or the pieces makes `intact` fail, whatever the trust anchor.
///
/// # Errors
/// Only if the trust anchor cannot be read.
pub fn verify(
    padded: &[u8],
    pieces: [&[u8]; 2],
    trust: &Trust<'_>,
    claimed: DateTime<Utc>,
) -> Result<SealReport, SealError> {
    let known = anchor::trusted_root(trust)?;
    let (intact, sealer) = match examine(padded) {
        Err(reason) => (Err(reason), None),
        Ok(examined) => (examined.sealed(pieces), Some(examined.sealer)),
    };
    let (intact, issuer) = match (intact, &sealer) {
        (Ok(()), Some(sealer)) => (Check::Pass, anchor::issuer(sealer, known.as_deref(), claimed)),
        (Ok(()), None) => (Check::Fail("no signer".into()), not_intact()),
        (Err(reason), _) => (Check::Fail(reason), not_intact()),
    };
    Ok(SealReport { intact, issuer, sealer })
}

fn not_intact() -> Check {
    Check::NotChecked("the seal is not intact".into())
}

/// A seal whose two certificates are in order.
struct Examined {
    der: Vec<u8>,
    parts: cms::Parts,
    key: VerifyingKey,
    sealer: Sealer,
}

fn examine(padded: &[u8]) -> Result<Examined, String> {
    let (_, padding) = AnyRef::from_der_partial(padded).map_err(|e| format!("no seal found: {e}"))?;
    let der = padded.get(..padded.len().saturating_sub(padding.len())).unwrap_or_default();
    if padding.iter().any(|byte| *byte != 0) {
        return Err("bytes other than zero follow the seal".into());
    }
    let parts = cms::parse(der)?;
    let root = chain::check(Kind::Root, &parts.root, None).map_err(|e| format!("root certificate: {e}"))?;
    let leaf = chain::check(Kind::Seal, &parts.leaf, Some(&root.key))
        .and_then(|leaf| chain::follows(&leaf, &root).map(|()| leaf))
        .map_err(|e| format!("seal certificate: {e}"))?;
    let hash = |c: &x509_cert::Certificate| {
        c.to_der().map(|d| hex::encode(Sha256::digest(d))).map_err(|e| e.to_string())
    };
    let sealer = Sealer {
        organisation: leaf.organisation,
        root_fingerprint: hash(&parts.root)?,
        seal_fingerprint: hash(&parts.leaf)?,
        valid_from: leaf.not_before,
        reserve: cms::room(&parts.leaf, &parts.root).map_err(|e| e.to_string())?,
    };
    Ok(Examined { der: der.to_vec(), parts, key: leaf.key, sealer })
}

impl Examined {
    /// Whether the container is the one its parts and these pieces make, and the signature is right.
    fn sealed(&self, pieces: [&[u8]; 2]) -> Result<(), String> {
        let digest = digest(pieces);
        if self.parts.digest.as_deref().is_some_and(|claimed| claimed != digest) {
            return Err("the file was changed after it was sealed".into());
        }
        let text = |e: der::Error| e.to_string();
        let signed = cms::attributes(&digest, &self.parts.leaf).map_err(text)?;
        let message = signed.to_der().map_err(text)?;
        let expected =
            cms::build(&self.parts.leaf, &self.parts.root, signed, &self.parts.signature).map_err(text)?;
        if expected != self.der {
            return Err("the seal is not in the one form this tool writes".into());
        }
        ecdsa::verify(&self.key, &message, &self.parts.signature)
    }
}

/// SHA-256 over both pieces, one after the other.
pub(super) fn digest(pieces: [&[u8]; 2]) -> [u8; 32] {
    let mut hasher = Sha256::new();
    pieces.iter().for_each(|piece| hasher.update(piece));
    hasher.finalize().into()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seal::SealKey;
    use crate::seal::create_keys;
    use crate::seal::fingerprint;
    use crate::seal::load_key;
    use p256::ecdsa::Signature;

    const PIECES: [&[u8]; 2] = [b"%PDF-1.7 before <", b"> after %%EOF\n"];

    fn day(n: i64) -> DateTime<Utc> {
        DateTime::from_timestamp(1_790_000_000 + n * 86_400, 0).unwrap()
    }

    /// A shop: its root certificate as PEM, and its seal key.
    fn shop(organisation: &str, seed: u8) -> (String, SealKey) {
        let mut n = seed;
        let mut random = move |bytes: &mut [u8]| {
            n = n.wrapping_add(101);
            bytes.fill(n);
            Ok(())
        };
        let set = create_keys(organisation, day(0), None, &mut random).unwrap();
        let key = load_key(set.seal_key_pem.as_bytes(), set.seal_cert_pem.as_bytes(), None).unwrap();
        (set.root_cert_pem, key)
    }

    fn padded(der: &[u8]) -> Vec<u8> {
        let mut all = der.to_vec();
        all.resize(super::super::MAX_SEAL_BYTES, 0);
        all
    }

    fn reason(check: &Check) -> &str {
        match check {
            Check::Pass => "pass",
            Check::Fail(reason) | Check::NotChecked(reason) => reason,
        }
    }

    #[test]
    fn a_seal_verifies_under_each_anchor() {
        let (root, key) = shop("Larkspur", 1);
        let der = key.sign(PIECES).unwrap();
        assert_eq!(der, key.sign(PIECES).unwrap());
        let root_der = der::Document::from_pem(&root).unwrap().1.into_vec();
        let print = fingerprint(root.as_bytes()).unwrap();
        assert_eq!(fingerprint(&root_der).unwrap(), print);
        assert_eq!(key.root_fingerprint().unwrap(), print);
        let pairs: Vec<String> =
            print.as_bytes().chunks(2).map(|c| String::from_utf8_lossy(c).to_uppercase()).collect();
        let colons = pairs.join(":");
        let anchors = [
            Trust::Root(root.as_bytes()),
            Trust::Root(&root_der),
            Trust::Fingerprint(&print),
            Trust::Fingerprint(&colons),
        ];
        for bytes in [der.clone(), padded(&der)] {
            for trust in &anchors {
                let report = verify(&bytes, PIECES, trust, day(0)).unwrap();
                assert_eq!((&report.intact, &report.issuer), (&Check::Pass, &Check::Pass), "{trust:?}");
                let sealer = report.sealer.unwrap();
                assert_eq!((sealer.organisation.as_str(), sealer.valid_from), ("Larkspur", day(0)));
                assert_eq!(sealer.seal_fingerprint, key.seal_fingerprint().unwrap());
                assert_eq!(sealer.root_fingerprint, print);
            }
        }
        let report = verify(&der, PIECES, &Trust::None, day(0)).unwrap();
        assert_eq!(report.intact, Check::Pass);
        assert!(matches!(report.issuer, Check::NotChecked(_)));
    }

    #[test]
    fn changed_pieces() {
        let (root, key) = shop("Larkspur", 1);
        let seal = padded(&key.sign(PIECES).unwrap());
        let trust = Trust::Root(root.as_bytes());
        for pieces in [
            [&PIECES[0][1..], PIECES[1]],
            [PIECES[0], &b"> after %%EOF\n "[..]],
            [PIECES[1], PIECES[0]],
            [b"", b""],
        ] {
            let report = verify(&seal, pieces, &trust, day(0)).unwrap();
            assert_eq!(reason(&report.intact), "the file was changed after it was sealed");
            assert_eq!(report.issuer, Check::NotChecked("the seal is not intact".into()));
            assert_eq!(report.sealer.unwrap().organisation, "Larkspur");
        }
    }

    /// Every bit of the container, then of the padding: any change is found, even with no anchor.
    #[test]
    fn every_flipped_bit_is_found() {
        use rayon::prelude::*;
        let (_, key) = shop("Larkspur", 1);
        let seal = padded(&key.sign(PIECES).unwrap());
        let passed: Vec<usize> = (0..seal.len() * 8)
            .into_par_iter()
            .filter(|bit| {
                let mut bad = seal.clone();
                bad[bit / 8] ^= 1 << (bit % 8);
                let report = verify(&bad, PIECES, &Trust::None, day(0)).unwrap();
                !matches!(report.intact, Check::Fail(_))
            })
            .collect();
        assert_eq!(passed, Vec::<usize>::new());
    }

    #[test]
    fn cut_short_or_empty() {
        let (_, key) = shop("Larkspur", 1);
        let seal = key.sign(PIECES).unwrap();
        for length in 0..seal.len() {
            let report = verify(&seal[..length], PIECES, &Trust::None, day(0)).unwrap();
            assert!(matches!(report.intact, Check::Fail(_)), "{length}");
        }
        let report = verify(&[0; 64], PIECES, &Trust::None, day(0)).unwrap();
        assert!(matches!(report.intact, Check::Fail(_)));
    }

    #[test]
    fn another_shop_of_the_same_name() {
        let (root, _) = shop("Larkspur", 1);
        let (_, forger) = shop("Larkspur", 2);
        let seal = forger.sign(PIECES).unwrap();
        let print = fingerprint(root.as_bytes()).unwrap();
        for trust in [Trust::Root(root.as_bytes()), Trust::Fingerprint(&print)] {
            let report = verify(&seal, PIECES, &trust, day(0)).unwrap();
            assert_eq!(report.intact, Check::Pass);
            assert!(reason(&report.issuer).contains("sealed under root"), "{report:?}");
        }
    }

    #[test]
    fn anothers_root_beside_ones_own_certificate() {
        let (_, key) = shop("Larkspur", 1);
        let (_, forger) = shop("Larkspur", 2);
        let signed = cms::attributes(&digest(PIECES), &forger.leaf).unwrap();
        let signature = forger.key.sign(&signed.to_der().unwrap(), &forger.facts.key).unwrap();
        let seal = cms::build(&forger.leaf, &key.root, signed, &signature).unwrap();
        let report = verify(&seal, PIECES, &Trust::None, day(0)).unwrap();
        assert!(reason(&report.intact).starts_with("seal certificate: "), "{report:?}");
    }

    #[test]
    fn the_certificates_are_not_interchangeable() {
        let (root, key) = shop("Larkspur", 1);
        let (_, other) = shop("Larkspur", 2);
        // Signed by the right key, but naming another certificate in the signed attributes.
        let signed = cms::attributes(&digest(PIECES), &other.leaf).unwrap();
        let signature = key.key.sign(&signed.to_der().unwrap(), &key.facts.key).unwrap();
        let seal = cms::build(&key.leaf, &key.root, signed, &signature).unwrap();
        let report = verify(&seal, PIECES, &Trust::Root(root.as_bytes()), day(0)).unwrap();
        assert_eq!(reason(&report.intact), "the seal is not in the one form this tool writes");
        let signed = cms::attributes(&digest(PIECES), &key.leaf).unwrap();
        let signature = other.key.sign(&signed.to_der().unwrap(), &other.facts.key).unwrap();
        let seal = cms::build(&key.leaf, &key.root, signed, &signature).unwrap();
        let report = verify(&seal, PIECES, &Trust::Root(root.as_bytes()), day(0)).unwrap();
        assert_eq!(reason(&report.intact), "signature is wrong");
    }

    #[test]
    fn the_other_half_of_the_signature() {
        let (_, key) = shop("Larkspur", 1);
        let signed = cms::attributes(&digest(PIECES), &key.leaf).unwrap();
        let low =
            Signature::from_der(&key.key.sign(&signed.to_der().unwrap(), &key.facts.key).unwrap()).unwrap();
        let (r, s) = low.split_scalars();
        let high = Signature::from_scalars(r, -*s).unwrap();
        let seal = cms::build(&key.leaf, &key.root, signed, high.to_der().as_bytes()).unwrap();
        let report = verify(&seal, PIECES, &Trust::None, day(0)).unwrap();
        assert!(reason(&report.intact).contains("the high one"), "{report:?}");
    }

    #[test]
    fn what_follows_the_seal() {
        let (_, key) = shop("Larkspur", 1);
        let mut seal = padded(&key.sign(PIECES).unwrap());
        *seal.last_mut().unwrap() = 1;
        let report = verify(&seal, PIECES, &Trust::None, day(0)).unwrap();
        assert_eq!(reason(&report.intact), "bytes other than zero follow the seal");
    }

    #[test]
    fn a_claimed_time_before_the_certificate() {
        let (root, key) = shop("Larkspur", 1);
        let seal = key.sign(PIECES).unwrap();
        let at = |n| verify(&seal, PIECES, &Trust::Root(root.as_bytes()), day(n)).unwrap();
        assert!(reason(&at(-1).issuer).contains("before its certificate began"));
        assert_eq!(at(-1).intact, Check::Pass);
        assert_eq!(at(0).issuer, Check::Pass);
        assert_eq!(at(365 * 90).issuer, Check::Pass);
    }

    #[test]
    fn anchors_that_are_none() {
        let (root, key) = shop("Larkspur", 1);
        let seal = key.sign(PIECES).unwrap();
        let with = |trust: &Trust<'_>| verify(&seal, PIECES, trust, day(0));
        for bad in ["", "abc", &"g".repeat(64), &"0".repeat(63), &"0".repeat(65)] {
            assert!(matches!(with(&Trust::Fingerprint(bad)), Err(SealError::Fingerprint { .. })), "{bad}");
        }
        let leaf = key.leaf.to_der().unwrap();
        assert!(matches!(with(&Trust::Root(&leaf)), Err(SealError::Certificate { .. })));
        let two = format!("{root}{root}");
        assert!(matches!(with(&Trust::Root(two.as_bytes())), Err(SealError::Count { found: 2, .. })));
        assert!(matches!(with(&Trust::Root(b"")), Err(SealError::Pem { .. })));
        let own = key.seal_fingerprint().unwrap();
        let report = with(&Trust::Fingerprint(&own)).unwrap();
        assert!(reason(&report.issuer).contains("expected the root certificate's"));
        assert_eq!(with(&Trust::Fingerprint(&"0".repeat(64))).unwrap().intact, Check::Pass);
    }

    #[test]
    fn a_seal_fits_the_room_reserved() {
        for name in ["L", "Larkspur Bright Finishing (demo shop, invented)", &"\u{1f600}".repeat(54)] {
            let (_, key) = shop(name, 1);
            let length = key.sign(PIECES).unwrap().len();
            let reserve = key.reserve().unwrap();
            assert!(
                length <= reserve && reserve <= super::super::MAX_SEAL_BYTES,
                "{name}: {length}, {reserve}"
            );
            assert!(reserve - length <= 4, "{name}: {length}, {reserve}");
        }
    }
}
