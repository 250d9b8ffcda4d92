//! Answers of a service, without any network: good ones of every kind of key, and each way to be wrong.

use rayon::prelude::*;

use brightproof::time_stamp::Anchor;
use brightproof::time_stamp::Request;
use brightproof::time_stamp::accept;
use brightproof::time_stamp::check;
use brightproof::time_stamp::imprint;

use super::BYTES;
use super::NONCE;
use super::POLICY;
use super::anchor;
use super::authority::Authority;
use super::authority::Content;
use super::authority::Keys;
use super::authority::SHA_512;
use super::authority::der;
use super::authority::granted;
use super::authority::imprint as imprint_der;
use super::authority::nonce;
use super::authority::openssl;
use super::came;
use super::refused;
use super::request;

/// OpenSSL reads our request, answers it, and verifies what we keep of its answer: RSA, P-256 and P-384, each digest,
/// with and without an authority between.
#[test]
fn openssl_stamps_what_we_ask_and_verifies_what_we_keep() {
    for (name, keys) in [("rsa", Keys::Rsa), ("p256", Keys::P256), ("p384", Keys::P384)] {
        let Some(authority) = Authority::new(name, keys) else { return };
        authority.service("between", "between", "root", keys);
        authority.service("below", "service", "between", keys);
        authority.write("bytes", BYTES);
        for (by, more) in [
            ("service", ""),
            ("service", "-sha384"),
            ("service", "-sha512"),
            ("service", "-chain root.pem"),
            ("below", "-chain between.pem"),
        ] {
            let answer = authority.answer(&request().to_der().unwrap(), by, more);
            let said = authority.openssl("ts -query -in request.tsq -text");
            for words in
                ["Hash Algorithm: sha256", &format!("Policy OID: {POLICY}"), "Certificate required: yes"]
            {
                assert!(said.contains(words), "{said}");
            }
            let (kept, stamp) =
                came(&authority, &answer).unwrap_or_else(|e| panic!("{name} {by} {more}: {e}"));
            assert!(stamp.by.contains(&format!("CN=Stamps {by}")), "{stamp:?}");
            assert_eq!((stamp.policy.as_str(), stamp.accuracy.unwrap().num_milliseconds()), (POLICY, 1500));
            assert!((stamp.at - chrono::Utc::now()).num_minutes().abs() < 5, "{stamp:?}");
            assert_eq!(check(&kept, &imprint(BYTES), &anchor(&authority)).unwrap(), stamp);
            authority.write("kept.tsr", &kept);
            let said = authority.openssl("ts -verify -data bytes -in kept.tsr -CAfile root.pem");
            assert!(said.contains("Verification: OK"), "{said}");
            let said = authority.openssl("ts -verify -queryfile request.tsq -in kept.tsr -CAfile root.pem");
            assert!(said.contains("Verification: OK"), "{said}");
        }
        // The service's own certificate may be trusted, and the one between.
        for (by, more, trusted) in
            [("service", "", "service.pem"), ("below", "-chain between.pem", "between.pem")]
        {
            let answer = authority.answer(&request().to_der().unwrap(), by, more);
            let own = Anchor::read(&authority.read(trusted)).unwrap();
            assert!(accept(&request(), &answer, &own).is_ok(), "{name} {trusted}");
        }
    }
}

/// Every byte of what is kept, and every cut, with a certificate between: under RSA every bit, under P-384, which is
/// slow, one bit of each byte.
#[test]
fn every_flipped_bit_is_refused() {
    for (name, keys, stride) in [("rsa", Keys::Rsa, 1), ("p384", Keys::P384, 9)] {
        let Some(authority) = Authority::new(&format!("bits-{name}"), keys) else { return };
        authority.service("between", "between", "root", keys);
        authority.service("below", "service", "between", keys);
        let answer = authority.answer(&request().to_der().unwrap(), "below", "-chain between.pem");
        let (kept, _) = came(&authority, &answer).unwrap();
        let (anchor, digest) = (anchor(&authority), imprint(BYTES));
        assert!(check(&kept, &digest, &anchor).is_ok());
        let passed: Vec<usize> = (0..kept.len() * 8)
            .into_par_iter()
            .step_by(stride)
            .filter(|bit| {
                let mut bent = kept.clone();
                bent[bit / 8] ^= 1 << (bit % 8);
                check(&bent, &digest, &anchor).is_ok()
            })
            .collect();
        assert_eq!(passed, Vec::<usize>::new(), "{name}: bits that can be changed");
        assert!((0..kept.len()).into_par_iter().all(|to| check(&kept[..to], &digest, &anchor).is_err()));
        assert!(check(&[&kept[..], &[0]].concat(), &digest, &anchor).is_err());
        assert!(check(&kept, &imprint(b"other bytes"), &anchor).is_err());
        // The same, whole, as an answer.
        assert!((0..answer.len()).into_par_iter().all(|to| came(&authority, &answer[..to]).is_err()));
    }
}

/// A service that answers something else than it was asked.
#[test]
fn what_was_not_asked_is_refused() {
    let Some(authority) = Authority::new("asked", Keys::P256) else { return };
    let honest = Content::honest();
    let lie = |content: &Content, words: &str| {
        refused(&authority, &authority.signed(&content.der(), "service", ""), words);
    };
    came(&authority, &authority.signed(&honest.der(), "service", "")).unwrap();

    lie(&Content { version: vec![2, 1, 2], ..honest.clone() }, "version is 2; expected 1");
    let digest = imprint(b"another head");
    lie(
        &Content { imprint: imprint_der(super::authority::SHA_256, &digest), ..honest.clone() },
        "imprint is",
    );
    lie(&Content { imprint: imprint_der(SHA_512, &[7; 64]), ..honest.clone() }, "expected SHA-256");
    lie(&Content { policy: vec![6, 3, 0x2a, 3, 4], ..honest.clone() }, "policy is 1.2.3.4; expected 1.3.6");
    lie(&honest.with_rest(&[&nonce(&[0x9d; 16])]), "nonce is 9d9d");
    lie(&honest.with_rest(&[]), "nonce is none");
    lie(&honest.with_time("20270101120000"), "its time reads");
    lie(&honest.with_time("20270101120000.0Z"), "its time reads");
    lie(&honest.with_time("20271301120000Z"), "its time reads");
    lie(&Content { time: der(0x17, &[b"270101120000Z"]), ..honest.clone() }, "its time reads");
    let coarse = der(0x30, &[&[2, 2, 0x0e, 0x10]]);
    lie(&honest.with_rest(&[&coarse, &nonce(&NONCE)]), "may be 3600 seconds off");
    let millis = der(0x30, &[&[0x80, 2, 3, 0xe8]]);
    lie(&honest.with_rest(&[&millis, &nonce(&NONCE)]), "accuracy has 1000 milliseconds");
    // Named [0] as a DNS name that its certificate does not have.
    let named = der(0xa0, &[&der(0x82, &[b"elsewhere.example"])]);
    lie(&honest.with_rest(&[&nonce(&NONCE), &named]), "service is another");
    let extension = |critical: &[u8]| {
        let one = der(0x30, &[&[6, 3, 0x2a, 3, 4], critical, &der(4, &[&[5, 0]])]);
        der(0xa1, &[&one])
    };
    lie(&honest.with_rest(&[&nonce(&NONCE), &extension(&[1, 1, 0xff])]), "critical extension 1.2.3.4");
    let mild = honest.with_rest(&[&nonce(&NONCE), &extension(&[])]);
    came(&authority, &authority.signed(&mild.der(), "service", "")).unwrap();
    // Without a policy asked for, any will do.
    let any = Request::new(imprint(BYTES), None, NONCE).unwrap();
    let other = Content { policy: vec![6, 3, 0x2a, 3, 4], ..honest.clone() };
    let answer = authority.signed(&other.der(), "service", "");
    assert_eq!(accept(&any, &answer, &anchor(&authority)).unwrap().1.policy, "1.2.3.4");
}

/// A service that refuses, in the words of RFC 3161 section 2.4.2.
#[test]
fn a_refusal_is_told_in_words() {
    let Some(authority) = Authority::new("refusal", Keys::P256) else { return };
    let unknown = Request::new(imprint(BYTES), Some("1.3.6.1.4.1.99999.9"), NONCE).unwrap();
    let answer = authority.answer(&unknown.to_der().unwrap(), "service", "");
    refused(
        &authority,
        &answer,
        "the service gives no time stamp: rejected: Requested policy is not supported",
    );
    refused(&authority, &answer, "policy not given");
    let status = |n: u8| der(0x30, &[&der(0x30, &[&[2, 1, n]])]);
    refused(&authority, &status(3), "waiting");
    refused(&authority, &status(5), "its certificate is revoked");
    refused(&authority, &status(9), "status 9");
    // Granted, and nothing there.
    refused(&authority, &status(0), "holds none");
    // Words that would steer a terminal lose what steers.
    let words = der(0x30, &[&der(0x0c, &[b"no\x1b[2J\r\nway"])]);
    let shouted = der(0x30, &[&der(0x30, &[&[2, 1, 2], &words])]);
    refused(&authority, &shouted, "rejected: no[2Jway");
}

/// Certificates that may not make time stamps, or do not lead to the trusted one.
#[test]
fn a_wrong_certificate_is_refused() {
    let Some(authority) = Authority::new("certificates", Keys::P256) else { return };
    let honest = Content::honest().der();
    for (section, words) in [
        ("mild", "extended key usage is not critical"),
        ("more", "expected time stamps and nothing else"),
        ("other", "it is for 1.3.6.1.5.5.7.3.3"),
        ("silent", "does not say that it is for time stamps"),
        ("enciphers", "key usage allows no signatures"),
        ("strange", "critical extension 1.3.6.1.4.1.99999.7"),
    ] {
        authority.service(section, section, "root", Keys::P256);
        refused(&authority, &authority.signed(&honest, section, ""), words);
    }
    // Expired, and stamped by OpenSSL's own service all the same.
    authority.expired("old", Keys::P256);
    let answer = authority.answer(&request().to_der().unwrap(), "old", "");
    refused(&authority, &answer, "valid from 2024-01-01T00:00:00Z to 2025-01-01T00:00:00Z");
    // Made while it was valid it holds, and so it does today.
    let then = Content::honest().with_time("20240601120000Z").der();
    refused(&authority, &authority.signed(&then, "old", ""), "CN=Stamp root,O=Invented: valid from");

    // Under an authority that is none, or is for something else, or allows none below it.
    for (section, words) in [("no-ca", "it is no authority's"), ("elsewhere", "it is not for time stamps")] {
        authority.service(section, section, "root", Keys::P256);
        authority.service("under", "service", section, Keys::P256);
        let more = format!("-certfile {section}.pem");
        refused(&authority, &authority.signed(&honest, "under", &more), words);
    }
    authority.service("between", "between", "root", Keys::P256);
    authority.service("lower", "between", "between", Keys::P256);
    authority.service("lowest", "service", "lower", Keys::P256);
    authority.write("chain.pem", &[authority.read("between.pem"), authority.read("lower.pem")].concat());
    let answer = authority.signed(&honest, "lowest", "-certfile chain.pem");
    refused(&authority, &answer, "more authorities stand below it than it allows");

    // Another's root of the same name, and no certificate between.
    let stranger = Authority::new("stranger", Keys::P256).unwrap();
    refused(&stranger, &authority.signed(&honest, "service", ""), "the signature of its issuer: it is wrong");
    authority.service("fits", "service", "between", Keys::P256);
    refused(&authority, &authority.signed(&honest, "fits", ""), "does not lead to");
    // No certificate at all, and only another one.
    refused(&authority, &authority.signed(&honest, "service", "-nocerts"), "does not hold its service's");
    let answer = authority.signed(&honest, "service", "-nocerts -certfile between.pem");
    refused(&authority, &answer, "does not hold its service's certificate");
    // By key identifier instead of issuer and serial number.
    came(&authority, &authority.signed(&honest, "service", "-keyid")).unwrap();
}

/// Certificates that all name and sign each other, and lead nowhere: the search for a way gives up.
#[test]
fn a_maze_of_certificates_is_left() {
    let Some(authority) = Authority::new("maze", Keys::P256) else { return };
    let mut chain = Vec::new();
    for turn in 0..14 {
        authority.openssl(&format!(
            "req -new -x509 -days 36500 -key root.key -out maze.pem -subj /O=Invented/CN=Stamp_root \
             -config openssl.cnf -extensions root -set_serial {}",
            turn + 100
        ));
        chain.extend(authority.read("maze.pem"));
    }
    authority.write("chain.pem", &chain);
    let answer = authority.signed(&Content::honest().der(), "service", "-certfile chain.pem");
    let stranger = Authority::new("maze-stranger", Keys::P384).unwrap();
    stranger.openssl(
        "req -new -x509 -days 36500 -key root.key -out root.pem -subj /O=Invented/CN=Elsewhere \
         -config openssl.cnf -extensions root",
    );
    let begun = std::time::Instant::now();
    refused(&stranger, &answer, "does not lead to CN=Elsewhere");
    assert!(begun.elapsed() < std::time::Duration::from_secs(10), "{:?}", begun.elapsed());
}

/// What is not signed is not kept; what is not a stamp is none.
#[test]
fn tokens_of_another_kind() {
    let Some(authority) = Authority::new("tokens", Keys::P256) else { return };
    let honest = Content::honest().der();
    // Certificates that lead nowhere are left out of what is kept, and refused in it.
    let stranger = Authority::new("tokens-stranger", Keys::P256).unwrap();
    authority.write("stray.pem", &stranger.read("service.pem"));
    let answer = authority.signed(&honest, "service", "-certfile stray.pem");
    let (kept, _) = came(&authority, &answer).unwrap();
    assert!(kept.len() + 300 < answer.len(), "{} of {}", kept.len(), answer.len());
    let stray = check(&answer, &imprint(BYTES), &anchor(&authority)).unwrap_err();
    assert!(stray.to_string().contains("leads nowhere"), "{stray}");
    // A root that came along is kept neither.
    let answer = authority.signed(&honest, "service", "-certfile root.pem");
    let whole = check(&answer, &imprint(BYTES), &anchor(&authority));
    assert!(whole.is_ok(), "{whole:?}");

    // Two signers, none of them alone.
    authority.service("second", "service", "root", Keys::P256);
    let answer = authority.signed(&honest, "service", "-signer second.pem -inkey second.key");
    refused(&authority, &answer, "2 signers");
    // The certificate named by SHA-1 only.
    let answer = authority.answer(&request().to_der().unwrap(), "service", "-section weak");
    refused(&authority, &answer, "does not name its certificate by a SHA-2 digest");
    // Another certificate of the same key, issuer and serial number, with other days, in its place.
    for (name, days) in [("twin", 36500), ("other-twin", 36400)] {
        authority.openssl(&format!(
            "x509 -req -in service.csr -CA root.pem -CAkey root.key -set_serial 77 -days {days} \
             -extfile openssl.cnf -extensions service -out {name}.pem"
        ));
    }
    authority.write("twin.key", &authority.read("service.key"));
    came(&authority, &authority.signed(&honest, "twin", "")).unwrap();
    let answer = authority.signed(&honest, "twin", "-nocerts -certfile other-twin.pem");
    refused(&authority, &answer, "it was made for another certificate than it holds");
    // No attributes: the signature is over the content alone.
    authority.openssl(
        "cms -sign -binary -nodetach -noattr -outform DER -econtent_type 1.2.840.113549.1.9.16.1.4 \
         -in content.der -signer service.pem -inkey service.key -out bare.der",
    );
    refused(&authority, &granted(&authority.read("bare.der")), "no signed attributes");
    // Signed data, but no stamp; and data, not signed.
    authority.openssl(
        "cms -sign -binary -nodetach -outform DER -in content.der -signer service.pem -inkey service.key \
         -out data.der",
    );
    refused(&authority, &granted(&authority.read("data.der")), "expected a time stamp");
    authority.openssl("cms -data_create -in content.der -outform DER -out plain.der");
    refused(&authority, &granted(&authority.read("plain.der")), "not a time stamp");
    // RSA-PSS and a key too short are named.
    authority.service("rsa", "service", "root", Keys::Rsa);
    let answer = authority.signed(&honest, "rsa", "-keyopt rsa_padding_mode:pss");
    refused(&authority, &answer, "1.2.840.113549.1.1.10");
    let answer = authority.signed(&honest, "service", "-md sha1");
    refused(&authority, &answer, "1.3.14.3.2.26");
    for garbage in [&b""[..], b"<html>not found</html>", &[0x30; 500], &[0xff; 70_000]] {
        assert!(came(&authority, garbage).is_err());
    }
    // A short RSA key.
    authority.openssl("genpkey -algorithm RSA -pkeyopt rsa_keygen_bits:1024 -out short.key");
    authority.openssl("req -new -key short.key -out short.csr -subj /CN=short -config openssl.cnf");
    authority.openssl(
        "x509 -req -in short.csr -CA root.pem -CAkey root.key -CAcreateserial -days 36500 -extfile openssl.cnf \
         -extensions service -out short.pem",
    );
    refused(&authority, &authority.signed(&honest, "short", ""), "an RSA key of about 1024 bits");
}

#[test]
fn trusted_certificates_are_read_or_named() {
    let Some(authority) = Authority::new("trusted", Keys::P256) else { return };
    authority.openssl("x509 -in root.pem -outform DER -out root.der");
    authority.openssl("x509 -in root.pem -text -out words.pem");
    let print = |name: &str| Anchor::read(&authority.read(name)).unwrap().fingerprint();
    assert_eq!(print("root.pem"), print("root.der"));
    assert_eq!(print("root.pem"), print("words.pem"));
    let said = openssl(&authority.folder, "x509 -in root.pem -noout -fingerprint -sha256");
    let said = said.trim().rsplit('=').next().unwrap().replace(':', "").to_lowercase();
    assert_eq!(print("root.pem"), said);
    let two = [authority.read("root.pem"), authority.read("service.pem")].concat();
    for (file, words) in [
        (two, "more than one thing"),
        (authority.read("root.key"), "holds \"PRIVATE KEY\""),
        (Vec::new(), "neither PEM nor DER"),
        (b"\xff\xfe".to_vec(), "neither PEM nor DER"),
        (authority.read("root.der")[..100].to_vec(), "a certificate in it"),
    ] {
        let found = Anchor::read(&file).unwrap_err().to_string();
        assert!(found.contains(words), "no {words:?} in {found}");
    }
}
