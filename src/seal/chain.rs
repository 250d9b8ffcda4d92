//! The two certificates behind a seal: the shop's root, and the seal certificate it signs.
//!
//! Each is a function of four facts: organisation, serial number, first day and public key. So
//! checking one is making it again from its own facts and comparing: names, basic constraints, key
//! usage, extended key usage, key identifiers and validity then have one permitted form, and nothing
//! can be added that nobody looks at.

use chrono::DateTime;
use chrono::Utc;
use const_oid::db::rfc4519::ORGANIZATION_NAME;
use der::Decode;
use der::Encode;
use der::asn1::BitString;
use der::asn1::Utf8StringRef;
use der::referenced::OwnedToRef;
use p256::ecdsa::SigningKey;
use p256::ecdsa::VerifyingKey;
use x509_cert::Certificate;
use x509_cert::builder::Builder;

use super::SealError;
use super::ecdsa;
use super::profile;
use super::profile::Facts;
use super::profile::Kind;
use super::profile::Public;
use super::profile::SERIAL_LEN;

/// The longest common name is 64 characters (RFC 5280 appendix A.1), and " seal root" takes ten.
const MAX_ORGANISATION: usize = 54;

/// The organisation's name, if it fits a certificate and can be printed on one line.
pub(super) fn organisation(name: &str) -> Result<(), SealError> {
    let refuse = |reason: String| Err(SealError::Organisation { name: name.into(), reason });
    let length = name.chars().count();
    if name.trim().is_empty() {
        refuse("is empty".into())
    } else if name.trim() != name {
        refuse("begins or ends with white space".into())
    } else if name.chars().any(char::is_control) {
        refuse("holds control characters".into())
    } else if length > MAX_ORGANISATION {
        refuse(format!("has {length} characters; at most {MAX_ORGANISATION} fit"))
    } else {
        Ok(())
    }
}

/// Makes and signs a certificate.
pub(super) fn issue(kind: Kind, facts: &Facts, issuer: &SigningKey) -> Result<Certificate, SealError> {
    organisation(&facts.organisation)?;
    let public = Public(*issuer.verifying_key());
    let mut builder = profile::builder(kind, facts).map_err(SealError::Encode)?;
    let message = builder.finalize(&public).map_err(|e| SealError::Encode(e.to_string()))?;
    let signature = BitString::from_bytes(&ecdsa::sign(issuer, &message)?)?;
    builder.assemble(signature, &public).map_err(|e| SealError::Encode(e.to_string()))
}

/// Reads the facts of a certificate, and checks that it is exactly the one they make and that
/// `issuer` signed it; a root is its own issuer.
pub(super) fn check(kind: Kind, found: &Certificate, issuer: Option<&VerifyingKey>) -> Result<Facts, String> {
    let facts = facts(found)?;
    let issuer = issuer.copied().unwrap_or(facts.key);
    let public = Public(issuer);
    let mut builder = profile::builder(kind, &facts)?;
    let message = builder.finalize(&public).map_err(|e| e.to_string())?;
    let expected = builder.assemble(found.signature().clone(), &public).map_err(|e| e.to_string())?;
    let (a, b) = (found.tbs_certificate(), expected.tbs_certificate());
    let parts = [
        (a.issuer() == b.issuer(), "issuer name"),
        (a.subject() == b.subject(), "subject name"),
        (a.validity().not_after == b.validity().not_after, "end of validity"),
        (a.subject_public_key_info() == b.subject_public_key_info(), "form of the public key"),
        (a.extensions() == b.extensions(), "set of extensions (constraints and key usages)"),
    ];
    if let Some((_, part)) = parts.iter().find(|(same, _)| !same) {
        return Err(format!("the {part} is not that of a {} made by this tool", kind.what()));
    }
    if found.to_der().map_err(|e| e.to_string())? != expected.to_der().map_err(|e| e.to_string())? {
        return Err(format!("this is not the form of a {} made by this tool", kind.what()));
    }
    let signature = found.signature().as_bytes().ok_or("signature is not whole bytes")?;
    ecdsa::verify(&issuer, &message, signature).map_err(|reason| match kind {
        Kind::Root => format!("its own {reason}"),
        Kind::Seal => format!("the root's {reason}"),
    })?;
    Ok(facts)
}

/// Whether a seal certificate's facts fit those of the root that signed it.
pub(super) fn follows(seal: &Facts, root: &Facts) -> Result<(), String> {
    if seal.organisation != root.organisation {
        Err("it names another organisation than its root".into())
    } else if seal.serial == root.serial {
        Err("it has the serial number of its root".into())
    } else if seal.key == root.key {
        Err("it has the key of its root".into())
    } else if seal.not_before < root.not_before {
        Err("it begins before its root".into())
    } else {
        Ok(())
    }
}

/// [`check`] and, for a seal certificate, [`follows`].
pub(super) fn checked(kind: Kind, found: &Certificate, root: Option<&Facts>) -> Result<Facts, SealError> {
    let refuse = |reason| SealError::Certificate { what: kind.what(), reason };
    let facts = check(kind, found, root.map(|root| &root.key)).map_err(refuse)?;
    if let Some(root) = root {
        follows(&facts, root).map_err(refuse)?;
    }
    Ok(facts)
}

/// Decodes a certificate whose bytes have one form only.
pub(super) fn decode(bytes: &[u8]) -> Result<Certificate, String> {
    let found = Certificate::from_der(bytes).map_err(|e| format!("not an X.509 certificate: {e}"))?;
    match found.to_der() {
        Ok(again) if again == bytes => Ok(found),
        Ok(_) => Err("not in the one form DER allows".into()),
        Err(error) => Err(error.to_string()),
    }
}

fn facts(found: &Certificate) -> Result<Facts, String> {
    let tbs = found.tbs_certificate();
    let name: Utf8StringRef<'_> = tbs
        .subject()
        .by_oid(ORGANIZATION_NAME)
        .map_err(|e| format!("organisation: {e}"))?
        .ok_or("it names no organisation")?;
    organisation(name.as_ref()).map_err(|e| e.to_string())?;
    let serial: [u8; SERIAL_LEN] = tbs
        .serial_number()
        .as_bytes()
        .try_into()
        .map_err(|_| format!("its serial number is not {SERIAL_LEN} bytes long"))?;
    if serial.first().is_none_or(|first| first & 0xc0 != 0x40) {
        return Err("its serial number is not one made by this tool".into());
    }
    let seconds = i64::try_from(tbs.validity().not_before.to_unix_duration().as_secs());
    let not_before =
        seconds.ok().and_then(|s| DateTime::from_timestamp(s, 0)).ok_or("its first day is unreadable")?;
    let key = VerifyingKey::try_from(tbs.subject_public_key_info().owned_to_ref())
        .map_err(|_| "its key is not an elliptic curve P-256 key")?;
    Ok(Facts { organisation: name.to_string(), serial, not_before, key })
}

/// The moment as a certificate writes it: whole seconds, 1970 to 9999.
pub(super) fn whole_seconds(time: DateTime<Utc>) -> Result<DateTime<Utc>, SealError> {
    let refuse = || SealError::NotBefore { found: time.to_rfc3339() };
    let seconds = time.timestamp();
    profile::der_time(seconds).map_err(|_| refuse())?;
    DateTime::from_timestamp(seconds, 0).ok_or_else(refuse)
}

#[cfg(test)]
mod tests {
    use super::*;
    use spki::SubjectPublicKeyInfoOwned;
    use spki::SubjectPublicKeyInfoRef;
    use x509_cert::TbsCertificate;
    use x509_cert::builder::CertificateBuilder;
    use x509_cert::builder::profile::BuilderProfile;
    use x509_cert::ext::Extension;
    use x509_cert::ext::ToExtension;
    use x509_cert::ext::pkix::BasicConstraints;
    use x509_cert::name::Name;
    use x509_cert::serial_number::SerialNumber;
    use x509_cert::time::Time;
    use x509_cert::time::Validity;

    fn key(byte: u8) -> SigningKey {
        SigningKey::from_slice(&[byte; 32]).unwrap()
    }

    fn facts_of(key: &SigningKey, organisation: &str, serial: u8) -> Facts {
        Facts {
            organisation: organisation.into(),
            serial: [serial; SERIAL_LEN],
            not_before: DateTime::from_timestamp(1_790_000_000, 0).unwrap(),
            key: *key.verifying_key(),
        }
    }

    #[test]
    fn a_made_chain_checks() {
        let (root_key, seal_key) = (key(1), key(2));
        let root = issue(Kind::Root, &facts_of(&root_key, "Larkspur", 0x41), &root_key).unwrap();
        let seal = issue(Kind::Seal, &facts_of(&seal_key, "Larkspur", 0x42), &root_key).unwrap();
        let root_facts = check(Kind::Root, &root, None).unwrap();
        let seal_facts = check(Kind::Seal, &seal, Some(&root_facts.key)).unwrap();
        assert_eq!(seal_facts.organisation, "Larkspur");
        assert_eq!(seal_facts.serial, [0x42; SERIAL_LEN]);
        assert_eq!(seal_facts.not_before.timestamp(), 1_790_000_000);
        assert_eq!(root.tbs_certificate().subject().to_string(), "CN=Larkspur seal root,O=Larkspur");
        assert_eq!(seal.tbs_certificate().issuer(), root.tbs_certificate().subject());
        assert_eq!(seal.tbs_certificate().validity().not_after.to_string(), "9999-12-31T23:59:59Z");
    }

    #[test]
    fn one_kind_is_not_taken_for_the_other() {
        let root_key = key(1);
        let root = issue(Kind::Root, &facts_of(&root_key, "Larkspur", 0x41), &root_key).unwrap();
        let seal = issue(Kind::Seal, &facts_of(&key(2), "Larkspur", 0x42), &root_key).unwrap();
        let own = issue(Kind::Seal, &facts_of(&root_key, "Larkspur", 0x43), &root_key).unwrap();
        assert!(check(Kind::Root, &seal, None).unwrap_err().contains("subject name"));
        assert!(
            check(Kind::Seal, &root, Some(root_key.verifying_key())).unwrap_err().contains("subject name")
        );
        assert!(check(Kind::Root, &own, None).is_err());
    }

    #[test]
    fn another_root_did_not_sign_it() {
        let seal = issue(Kind::Seal, &facts_of(&key(2), "Larkspur", 0x42), &key(1)).unwrap();
        let found = check(Kind::Seal, &seal, Some(key(3).verifying_key())).unwrap_err();
        // The authority key identifier already names the other key.
        assert!(found.contains("set of extensions"), "{found}");
    }

    /// A root for signing anything, or a seal that may itself sign certificates, has other extensions.
    #[test]
    fn other_extensions_are_refused() {
        struct Loose(profile::Profile, u8);
        impl BuilderProfile for Loose {
            fn get_issuer(&self, subject: &Name) -> Name {
                self.0.get_issuer(subject)
            }
            fn get_subject(&self) -> Name {
                self.0.get_subject()
            }
            fn build_extensions(
                &self,
                key: SubjectPublicKeyInfoRef<'_>,
                issuer_key: SubjectPublicKeyInfoRef<'_>,
                tbs: &TbsCertificate,
            ) -> x509_cert::builder::Result<Vec<Extension>> {
                let mut made = self.0.build_extensions(key, issuer_key, tbs)?;
                let constraints = BasicConstraints { ca: true, path_len_constraint: None };
                match self.1 {
                    0 => made[0] = constraints.to_extension(tbs.subject(), &[])?,
                    1 => made[1].critical = false,
                    2 => {
                        made.remove(2);
                    }
                    _ => made.swap(0, 1),
                }
                Ok(made)
            }
        }
        let (root_key, seal_key) = (key(1), key(2));
        for change in 0..4 {
            let facts = facts_of(&seal_key, "Larkspur", 0x42);
            let profile = profile::Profile {
                kind: Kind::Seal,
                subject: profile::name("Larkspur", Kind::Seal).unwrap(),
                issuer: profile::name("Larkspur", Kind::Root).unwrap(),
            };
            let mut made = CertificateBuilder::new(
                Loose(profile, change),
                SerialNumber::new(&facts.serial).unwrap(),
                Validity::new(profile::der_time(facts.not_before.timestamp()).unwrap(), Time::INFINITY),
                SubjectPublicKeyInfoOwned::from_key(&facts.key).unwrap(),
            )
            .unwrap();
            let public = Public(*root_key.verifying_key());
            let message = made.finalize(&public).unwrap();
            let signature = BitString::from_bytes(&ecdsa::sign(&root_key, &message).unwrap()).unwrap();
            let found = made.assemble(signature, &public).unwrap();
            let reason = check(Kind::Seal, &found, Some(root_key.verifying_key())).unwrap_err();
            assert!(reason.contains("set of extensions"), "{change}: {reason}");
        }
    }

    #[test]
    fn a_seal_follows_from_its_root() {
        let root = facts_of(&key(1), "Larkspur", 0x41);
        let seal = facts_of(&key(2), "Larkspur", 0x42);
        assert_eq!(follows(&seal, &root), Ok(()));
        let early = root.not_before - chrono::TimeDelta::seconds(1);
        for (bad, reason) in [
            (Facts { organisation: "Larkspur 2".into(), ..seal.clone() }, "organisation"),
            (Facts { serial: root.serial, ..seal.clone() }, "serial number"),
            (Facts { key: root.key, ..seal.clone() }, "key"),
            (Facts { not_before: early, ..seal.clone() }, "begins before"),
        ] {
            let found = follows(&bad, &root).unwrap_err();
            assert!(found.contains(reason), "{found}");
        }
    }

    #[test]
    fn names_that_fit() {
        for good in [
            "L",
            "Larkspur Bright Finishing (demo shop, invented)",
            "Émaillerie, \"A\" + B = C",
            &"µ".repeat(54),
        ] {
            let root_key = key(1);
            let root = issue(Kind::Root, &facts_of(&root_key, good, 0x41), &root_key).unwrap();
            assert_eq!(check(Kind::Root, &root, None).unwrap().organisation, good);
        }
        for bad in ["", "  ", " a", "a\n", "a\u{7}b", &"x".repeat(55)] {
            assert!(matches!(organisation(bad), Err(SealError::Organisation { .. })), "{bad:?}");
        }
    }

    #[test]
    fn times_that_fit() {
        let at = |seconds| whole_seconds(DateTime::from_timestamp(seconds, 999_999_999).unwrap());
        assert_eq!(at(0).unwrap().timestamp(), 0);
        assert_eq!(at(1_790_000_000).unwrap().timestamp_subsec_nanos(), 0);
        assert!(at(-1).is_err());
        assert!(at(253_402_300_800).is_err());
        let root_key = key(1);
        let late = Facts { not_before: at(4_000_000_000).unwrap(), ..facts_of(&root_key, "Larkspur", 0x41) };
        let root = issue(Kind::Root, &late, &root_key).unwrap();
        assert_eq!(
            check(Kind::Root, &decode(&root.to_der().unwrap()).unwrap(), None)
                .unwrap()
                .not_before
                .timestamp(),
            4_000_000_000
        );
    }
}
