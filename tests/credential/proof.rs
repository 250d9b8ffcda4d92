//! The proof by published values, by the page's script with openssl, and with bytes changed.

use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;

use brightproof::app::credential;
use brightproof::checkpoint::SigningKey;
use brightproof::credential::message;
use brightproof::credential::opened;
use serde_json::json;

use super::block;
use super::key;
use super::write;
use crate::demo;
use crate::demo::Demo;

/// W3C Data Integrity EdDSA Cryptosuites, appendix B (repository w3c/vc-di-eddsa, TestVectors/eddsa-jcs-2022:
/// signedJCS.json, docHashJCS.txt, proofHashJCS.txt; keyPair.json). Two editions of it: they differ in the
/// verification method, so in proof hash and signature. Values only. Both were also checked with Python and openssl.
#[test]
fn the_cryptosuites_own_vectors() {
    let context =
        json!(["https://www.w3.org/ns/credentials/v2", "https://www.w3.org/ns/credentials/examples/v2"]);
    let document = json!({
        "@context": context,
        "id": "urn:uuid:58172aac-d8ba-11ed-83dd-0b3aef56cc33",
        "type": ["VerifiableCredential", "AlumniCredential"],
        "name": "Alumni Credential",
        "description": "A minimum viable example of an Alumni Credential.",
        "issuer": "https://vc.example/issuers/5678",
        "validFrom": "2023-01-01T00:00:00Z",
        "credentialSubject": { "id": "did:example:abcdefgh", "alumniOf": "The School of Examples" },
    });
    let seed = hex::decode("c96ef9ea10c5e414c471723aff9de72c35fa5b70fae97e8832ecac7d2e2b8ed6").unwrap();
    let signer = SigningKey::from_seed("vector", &seed.try_into().unwrap()).unwrap();
    let multikey = "z6MkrJVnaZkeFzdQyMZu1cgjg7k1pZZ6pvBQ7XJPt4swbTQ2";
    let did = brightproof::credential::did(&signer.verify_key().public());
    assert_eq!(did, format!("did:key:{multikey}"));
    for (method, proof_hash, signature) in [
        (
            format!("{did}#{multikey}"),
            "66ab154f5c2890a140cb8388a22a160454f80575f6eae09e5a097cabe539a1db",
            "407cd12654b33d718ecbb99179a1506daaa849450bf3fc523cce3e1c96f8b80351da3f253d725c6f00b07c9e5448d50b\
             3ef78012b9ab54255116d069c6dd2808",
        ),
        (
            format!("https://vc.example/issuers/5678#{multikey}"),
            "ac75a9fbdb9b5606c064a88bb59ab355900074f6def99d16a82dd071a7a67066",
            "fc91dec6565f35fbe185a77352e7fc512f95d1904da305cfef32ab8135469301f5a72d4e7a58368fc6ffc497b4463399\
             3bac054e3bc1436e3c846db8f1544503",
        ),
    ] {
        let config = json!({
            "type": "DataIntegrityProof",
            "cryptosuite": "eddsa-jcs-2022",
            "created": "2023-02-24T23:36:38Z",
            "verificationMethod": method,
            "proofPurpose": "assertionMethod",
            "@context": context,
        });
        let message = message(&document, &config).unwrap();
        assert_eq!(hex::encode(&message[..32]), proof_hash);
        let document_hash = "59b7cb6251b8991add1ce0bc83107e3db9dbbab5bd2c28f687db1a03abc92f19";
        assert_eq!(hex::encode(&message[32..]), document_hash);
        let made = signer.sign_digests(&message);
        assert_eq!(hex::encode(made), signature);
        assert!(signer.verify_key().signed_digests(&message, &made));
    }
}

/// A folder with the credential of a certificate, its file, the shop's key in PEM and the page's script.
fn sent(shop: &Path, number: &str, name: &str) -> PathBuf {
    let folder = demo::fresh(name);
    write(shop, number, &folder.join("credential.json")).unwrap();
    fs::write(folder.join(format!("{number}.pdf")), demo::file(shop, number)).unwrap();
    fs::write(folder.join("register.pem"), key(shop).to_pem().unwrap()).unwrap();
    fs::write(folder.join("check.py"), block("python")).unwrap();
    folder
}

fn script(folder: &Path) -> Result<String, String> {
    let output = Command::new("sh").args(["-e", "-c", &block("sh")]).current_dir(folder).output().unwrap();
    let said = demo::printed(&output);
    if output.status.success() { Ok(said) } else { Err(said) }
}

#[test]
fn others_check_it_without_a_line_of_ours() {
    if !demo::has("python3", "--version") || !demo::has("openssl", "version") {
        return;
    }
    let demo = Demo::get();
    // Letters beyond ASCII and signs of units, too.
    for lot in [demo::SMALL_LOT, demo::WORDY_LOT] {
        let (number, bytes) = demo.certificate(lot);
        let folder = sent(&demo.folder, number, &format!("credential-sent-{lot}"));
        let said = script(&folder).unwrap();
        let stamp = brightproof::canonical::stamp(&brightproof::pdf::read_sealed(bytes).unwrap().attachment);
        let index = demo::register(&demo.folder).certificate(number).unwrap().unwrap().position;
        let expected = format!(
            "{number} stamp {} entry {index} of larkspur.example/register signed 2027-02-01T08:30:00Z\n",
            &stamp[..16]
        );
        assert_eq!(said, expected);
    }
    let (number, _) = demo.certificate(demo::WORDY_LOT);
    let folder = sent(&demo.folder, number, "credential-spoilt");
    let whole = fs::read_to_string(folder.join("credential.json")).unwrap();
    assert!(whole.contains(demo::WORDY), "the text beyond ASCII is in it");
    let other = "did:key:z6MkiTBz1ymuepAQ4HEHYSF1H8quG5GLVVQR3djdX3mDooWp";
    let own = brightproof::credential::did(&key(&demo.folder).public());
    let spoilt = [
        ("\"score\":{\"code\":\"met\"}", "\"score\":{\"code\":\"accepted\"}", "openssl"),
        ("\"quantity\":", "\"quantity\":1", "openssl"),
        ("2027-02-01T08:30:00Z", "2027-02-01T08:30:01Z", "openssl"),
        ("untp/0.7.0", "untp/0.7.1", "another proof"),
        ("\"proofValue\":\"z", "\"proofValue\":\"z2", "openssl"),
        ("eddsa-jcs-2022", "eddsa-jcs-2023", "another proof"),
        ("assertionMethod", "authentication", "another proof"),
        (own.as_str(), other, "the issuer is not the key"),
        ("{\"@context\"", "{ \"@context\"", "not canonical"),
        ("\"conformance\":true,", "\"conformance\":false,\"conformance\":true,", "not canonical"),
    ];
    for (from, to, expected) in spoilt {
        assert!(whole.contains(from), "{from}");
        fs::write(folder.join("credential.json"), whole.replacen(from, to, 1)).unwrap();
        let said = script(&folder).unwrap_err();
        assert!(said.contains(expected), "{from}: {said}");
        let bytes = fs::read(folder.join("credential.json")).unwrap();
        assert!(credential::check(&bytes, &key(&demo.folder)).is_err(), "{from}");
    }
    fs::write(folder.join("credential.json"), &whole).unwrap();
    fs::write(folder.join(format!("{number}.pdf")), "%PDF-1.7\n").unwrap();
    assert!(script(&folder).unwrap_err().contains("the PDF is not the one named"));
}

#[test]
fn a_changed_byte_anywhere_is_refused() {
    let demo = Demo::get();
    let (number, _) = demo.certificate(demo::SMALL_LOT);
    let file = demo::fresh("credential-bytes").join("c.json");
    write(&demo.folder, number, &file).unwrap();
    let (whole, key) = (fs::read(&file).unwrap(), key(&demo.folder));
    credential::check(&whole, &key).unwrap();
    let proof = whole.windows(8).position(|w| w == b"\"proof\":").unwrap();
    let places = (0..whole.len()).step_by(151).chain((proof..proof + 700).step_by(3));
    for at in places.filter(|at| *at < whole.len()) {
        for bit in [0x01, 0x20] {
            let mut changed = whole.clone();
            changed[at] ^= bit;
            assert!(credential::check(&changed, &key).is_err(), "byte {at} bit {bit}");
        }
    }
    for other in [&whole[..whole.len() - 1], &[&whole[..], b"\n"].concat(), b"", b"{}", b"[]"] {
        assert!(credential::check(other, &key).is_err());
    }
    // Sound, but by somebody else.
    let stranger = SigningKey::from_seed(key.name(), &[9; 32]).unwrap().verify_key();
    let refused = credential::check(&whole, &stranger).unwrap_err();
    assert!(refused.to_string().contains("is by did:key:"), "{refused}");
    // The same certificate says the same again; only the time in the proof is another.
    let again = demo::fresh("credential-again").join("c.json");
    write(&demo.folder, number, &again).unwrap();
    assert_eq!(opened(&whole).unwrap(), opened(&fs::read(&again).unwrap()).unwrap());
}
