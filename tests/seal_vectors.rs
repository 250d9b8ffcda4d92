//! The seal against OpenSSL, an implementation that shares no code with ours.
//!
//! Without OpenSSL these tests say so and pass; with BRIGHTPROOF_REQUIRE_TOOLS=1 they fail instead.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stderr,
    reason = "a test stops at the first surprise"
)]

use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;
use std::process::Output;

use brightproof::seal::KeySet;
use brightproof::seal::SealError;
use brightproof::seal::create_keys;
use brightproof::seal::load_key;

const PIECES: [&[u8]; 2] = [b"%PDF-1.7 before <", b"> after %%EOF\n"];
const PASSPHRASE: &str = "wet rinse";

fn shop(seed: u8, passphrase: Option<&[u8]>) -> KeySet {
    let mut n = seed;
    let mut random = |bytes: &mut [u8]| {
        n = n.wrapping_add(89);
        bytes.iter_mut().zip(0_u8..).for_each(|(byte, i)| *byte = n.wrapping_mul(31).wrapping_add(i));
        Ok(())
    };
    let day = chrono::DateTime::from_timestamp(1_700_000_000, 0).unwrap();
    create_keys("Larkspur Bright Finishing", day, passphrase, &mut random).unwrap()
}

/// A fresh folder of this test's own, or nothing if OpenSSL is missing and may be.
fn folder(name: &str) -> Option<PathBuf> {
    if Command::new("openssl").arg("version").output().is_err() {
        if std::env::var_os("BRIGHTPROOF_REQUIRE_TOOLS").is_some() {
            panic!("openssl is not installed");
        }
        eprintln!("skipped: openssl is not installed");
        return None;
    }
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("seal-{name}"));
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).unwrap();
    Some(folder)
}

/// Runs OpenSSL in a folder; the arguments are split at spaces.
fn openssl(folder: &Path, arguments: &str) -> Output {
    Command::new("openssl").args(arguments.split(' ')).current_dir(folder).output().unwrap()
}

fn good(output: &Output) -> String {
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8_lossy(&[&output.stdout[..], &output.stderr[..]].concat()).into_owned()
}

fn write(folder: &Path, name: &str, bytes: impl AsRef<[u8]>) {
    fs::write(folder.join(name), bytes).unwrap();
}

#[test]
fn openssl_verifies_the_seal() {
    let Some(folder) = folder("verify") else { return };
    let (set, other) = (shop(1, None), shop(2, None));
    let key = load_key(set.seal_key_pem.as_bytes(), set.seal_cert_pem.as_bytes(), None).unwrap();
    write(&folder, "seal.der", key.sign(PIECES).unwrap());
    write(&folder, "content", PIECES.concat());
    write(&folder, "changed", [PIECES[0], b">  after %%EOF\n"].concat());
    write(&folder, "root.pem", &set.root_cert_pem);
    write(&folder, "other.pem", &other.root_cert_pem);
    let verify = |content: &str, root: &str| {
        let arguments = "cms -verify -cades -binary -inform DER -in seal.der -out out";
        openssl(&folder, &format!("{arguments} -content {content} -CAfile {root}"))
    };
    let said = good(&verify("content", "root.pem"));
    assert!(said.contains("CAdES Verification successful"), "{said}");
    assert_eq!(fs::read(folder.join("out")).unwrap(), PIECES.concat());
    assert!(!verify("changed", "root.pem").status.success());
    assert!(!verify("content", "other.pem").status.success());
}

#[test]
fn openssl_accepts_the_chain_strictly() {
    let Some(folder) = folder("chain") else { return };
    let set = shop(1, None);
    write(&folder, "root.pem", &set.root_cert_pem);
    write(&folder, "seal.pem", &set.seal_cert_pem);
    let said = good(&openssl(&folder, "verify -x509_strict -purpose smimesign -CAfile root.pem seal.pem"));
    assert_eq!(said.trim(), "seal.pem: OK");
    // Path length 0 and the usages: the seal certificate cannot serve as a server's or an authority's.
    let server = openssl(&folder, "verify -x509_strict -purpose sslserver -CAfile root.pem seal.pem");
    assert!(!server.status.success());
    let text = good(&openssl(&folder, "x509 -in seal.pem -noout -text"));
    for expected in [
        "CA:FALSE",
        "Digital Signature, Non Repudiation",
        "1.3.6.1.5.5.7.3.36",
        "E-mail Protection",
        "Not After : Dec 31 23:59:59 9999 GMT",
        "ecdsa-with-SHA256",
    ] {
        assert!(text.contains(expected), "{expected} not in {text}");
    }
    let text = good(&openssl(&folder, "x509 -in root.pem -noout -text"));
    for expected in ["CA:TRUE, pathlen:0", "Certificate Sign"] {
        assert!(text.contains(expected), "{expected} not in {text}");
    }
    let printed = good(&openssl(&folder, "x509 -in root.pem -noout -fingerprint -sha256"));
    let printed = printed.trim().split('=').next_back().unwrap().replace(':', "").to_lowercase();
    assert_eq!(printed, brightproof::seal::fingerprint(set.root_cert_pem.as_bytes()).unwrap());
}

#[test]
fn keys_go_both_ways() {
    let Some(folder) = folder("keys") else { return };
    let set = shop(1, Some(PASSPHRASE.as_bytes()));
    // OpenSSL reads two passphrases from one file as two lines.
    write(&folder, "pass", PASSPHRASE);
    write(&folder, "new-pass", PASSPHRASE);
    write(&folder, "seal.key", set.seal_key_pem.as_bytes());
    write(&folder, "root.key", set.root_key_pem.as_bytes());
    write(&folder, "seal.pem", &set.seal_cert_pem);
    write(&folder, "root.pem", &set.root_cert_pem);
    for name in ["seal", "root"] {
        let of_key = good(&openssl(&folder, &format!("pkey -in {name}.key -passin file:pass -pubout")));
        let of_cert = good(&openssl(&folder, &format!("x509 -in {name}.pem -noout -pubkey")));
        assert_eq!(of_key, of_cert);
    }
    let load = |name: &str, passphrase: Option<&str>| {
        let key = fs::read(folder.join(name)).unwrap();
        load_key(&key, set.seal_cert_pem.as_bytes(), passphrase.map(str::as_bytes))
    };
    let from = "-in seal.key -passin file:pass";
    good(&openssl(&folder, &format!("pkcs8 -topk8 -nocrypt {from} -out open.key")));
    assert!(load("open.key", None).is_ok());
    let to = "-passout file:new-pass";
    good(&openssl(&folder, &format!("pkcs8 -topk8 -v2 aes256 {from} {to} -out pbkdf2.key")));
    assert!(load("pbkdf2.key", Some(PASSPHRASE)).is_ok());
    assert_eq!(load("pbkdf2.key", Some("other")).unwrap_err(), SealError::WrongPassphrase);
    good(&openssl(&folder, &format!("pkcs8 -topk8 -v1 PBE-SHA1-3DES {from} {to} -out old.key")));
    let found = load("old.key", Some(PASSPHRASE)).unwrap_err();
    assert!(found.to_string().contains("PBES1"), "{found}");
    good(&openssl(&folder, &format!("pkey -traditional {from} -out sec1.key")));
    let found = load("sec1.key", None).unwrap_err();
    assert!(matches!(&found, SealError::Label { found, .. } if found == "EC PRIVATE KEY"), "{found}");
    good(&openssl(&folder, "genpkey -algorithm EC -pkeyopt ec_paramgen_curve:P-384 -out p384.key"));
    assert!(matches!(load("p384.key", None), Err(SealError::NotP256(_))));
    good(&openssl(&folder, "genpkey -algorithm ED25519 -out ed25519.key"));
    assert!(matches!(load("ed25519.key", None), Err(SealError::NotP256(_))));
}

/// A certificate of another authority cannot take the place of ours, even around our own key.
#[test]
fn foreign_certificates_are_refused() {
    let Some(folder) = folder("foreign") else { return };
    let set = shop(1, None);
    write(&folder, "seal.key", set.seal_key_pem.as_bytes());
    good(&openssl(&folder, "req -x509 -new -key seal.key -subj /O=Larkspur/CN=other -days 30 -out own.pem"));
    let own = fs::read_to_string(folder.join("own.pem")).unwrap();
    let chain = format!("{own}{}", set.root_cert_pem);
    let found = load_key(set.seal_key_pem.as_bytes(), chain.as_bytes(), None).unwrap_err();
    assert!(matches!(found, SealError::Certificate { what: "seal certificate", .. }), "{found}");
    let key = load_key(set.seal_key_pem.as_bytes(), set.seal_cert_pem.as_bytes(), None).unwrap();
    write(&folder, "content", PIECES.concat());
    let sign =
        "cms -sign -cades -binary -in content -signer own.pem -inkey seal.key -outform DER -out foreign.der";
    good(&openssl(&folder, sign));
    let foreign = fs::read(folder.join("foreign.der")).unwrap();
    let trust = brightproof::seal::Trust::Root(set.root_cert_pem.as_bytes());
    let report = brightproof::seal::verify(&foreign, PIECES, &trust, key.valid_from()).unwrap();
    assert!(matches!(report.intact, brightproof::seal::Check::Fail(_)), "{report:?}");
}
