//! Keys in PKCS#12 files, as openssl writes them: the shop's root kept that way, and keys that somebody else made.

use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::process::Command;

use brightproof::app::desk::files;

use crate::demo;

use super::FIRST;
use super::SECOND;
use super::compromised::key;
use super::ends;
use super::has;
use super::issue;
use super::run_with;
use super::shop;
use super::text;
use super::verifies;

/// Runs openssl in a folder; false where there is none.
#[track_caller]
fn openssl(folder: &Path, arguments: &[&str]) -> bool {
    let Ok(output) = Command::new("openssl").args(arguments).current_dir(folder).output() else {
        demo::absent("openssl");
        return false;
    };
    assert!(output.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
    true
}

/// Makes a key and a PKCS#12 file of it, readable by its owner alone.
fn pack(folder: &Path, name: &str, kind: &[&str], more: &[&str]) -> bool {
    let pem = format!("{name}.pem");
    let made = openssl(folder, &[&["genpkey", "-out", &pem], kind].concat());
    made && pack_of(folder, name, &pem, more)
}

fn pack_of(folder: &Path, name: &str, pem: &str, more: &[&str]) -> bool {
    let (p12, certificate) = (format!("{name}.p12"), format!("{name}.crt"));
    let subject = ["-subj", "/O=Fennmark Finishing/CN=an authority of ours", "-days", "30"];
    let made =
        openssl(folder, &[&["req", "-x509", "-key", pem, "-out", &certificate][..], &subject].concat());
    let export =
        ["pkcs12", "-export", "-inkey", pem, "-in", &certificate, "-out", &p12, "-passout", "pass:wet rinse"];
    let made = made && openssl(folder, &[&export[..], more].concat());
    if made {
        let mode = fs::Permissions::from_mode(0o600);
        fs::set_permissions(folder.join(p12), mode).unwrap();
    }
    made
}

const P256: [&str; 4] = ["-algorithm", "EC", "-pkeyopt", "ec_paramgen_curve:P-256"];
const RENEW: [&str; 8] =
    ["keys", "renew", "seal", "--open-keys", "--by", demo::RELEASES, "--why", "another computer"];

fn secret(folder: &Path, words: &str) {
    fs::write(folder.join("secret.txt"), format!("{words}\n")).unwrap();
}

/// The public key of a certificate or private key, as openssl prints it.
fn public(folder: &Path, arguments: &[&str]) -> String {
    let output = Command::new("openssl").args(arguments).current_dir(folder).output().unwrap();
    assert!(output.status.success(), "{arguments:?}");
    String::from_utf8(output.stdout).unwrap()
}

/// The root's key, packed by openssl's own settings, by stronger and by weaker ones, makes seal keys.
#[test]
fn a_root_key_kept_in_pkcs12_makes_seal_keys() {
    let shop = shop("p12-root");
    secret(&shop, "wet rinse");
    let take = ["--root-key", "root.p12", "--root-passphrase-file", "secret.txt"];
    for (turn, more) in [
        &[][..],
        &["-macalg", "sha512", "-iter", "100000"],
        &["-keypbe", "AES-128-CBC", "-certpbe", "NONE"],
        &["-nomac"],
    ]
    .iter()
    .enumerate()
    {
        if !pack_of(&shop, "root", files::ROOT_KEY, more) {
            return;
        }
        ends(&shop, 0, &[&RENEW[..], &take].concat());
        if turn == 0 {
            issue(&shop, "L-26-0401");
        }
    }
    verifies(&shop, FIRST);
    verifies(&shop, SECOND);
    ends(&shop, 0, &["register", "audit"]);
    // By a descriptor and by a variable.
    let by = |words: [&str; 2], input: &str, variable: Option<&str>| {
        let words = [&RENEW[..], &["--root-key", "root.p12"], &words].concat();
        run_with(&shop, &words, input, variable)
    };
    assert_eq!(by(["--root-passphrase-fd", "0"], "wet rinse\n", None).0, 0);
    assert_eq!(by(["--root-passphrase-env", "SEAL_SECRET"], "", Some("wet rinse")).0, 0);
    let (code, _, said) = by(["--root-passphrase-fd", "0"], "wet  rinse\n", None);
    assert_eq!(code, 2);
    has(&said, "the passphrase does not open the key");
}

/// A key that somebody else made seals under the shop's own root; the certificate that came with it is left.
#[test]
fn a_key_made_elsewhere_is_taken_in() {
    let shop = shop("p12-seal");
    secret(&shop, "wet rinse");
    if !pack(&shop, "given", &P256, &[]) {
        return;
    }
    let take = ["--take-key", "given.p12", "--take-passphrase-file", "secret.txt"];
    ends(&shop, 0, &[&RENEW[..], &take].concat());
    let given = public(&shop, &["pkey", "-in", "given.pem", "-pubout"]);
    assert_eq!(public(&shop, &["x509", "-in", files::SEAL, "-noout", "-pubkey"]), given);
    issue(&shop, "L-26-0401");
    verifies(&shop, FIRST);
    verifies(&shop, SECOND);
    // The same key twice is no new key.
    has(&ends(&shop, 2, &[&RENEW[..], &take].concat()), "has that key already");

    // And one for the root.
    if !pack(&shop, "root", &P256, &[]) {
        return;
    }
    let renew = ["keys", "renew", "root", "--open-keys", "--by", demo::RELEASES, "--why", "from the vault"];
    let take = ["--take-key", "root.p12", "--take-passphrase-file", "secret.txt"];
    ends(&shop, 0, &[&renew[..], &take].concat());
    let given = public(&shop, &["pkey", "-in", "root.pem", "-pubout"]);
    assert_eq!(public(&shop, &["x509", "-in", files::ROOT, "-noout", "-pubkey"]), given);
    // The root's own key seals nothing.
    let own = ["--take-key", "root.p12", "--take-passphrase-file", "secret.txt"];
    has(&ends(&shop, 2, &[&RENEW[..], &own].concat()), "the seal key is the root's own key");
}

/// Whatever cannot be taken says why and what to do, and nothing is changed.
#[test]
fn what_cannot_be_taken_is_named() {
    let shop = shop("p12-bad");
    let before =
        (demo::register(&shop).head().unwrap().size, key(&shop, "seal"), text(&shop, files::SEAL_KEY));
    secret(&shop, "wet rinse");
    let p384 = ["-algorithm", "EC", "-pkeyopt", "ec_paramgen_curve:P-384"];
    if !pack(&shop, "good", &P256, &[]) {
        return;
    }
    pack(&shop, "rsa", &["-algorithm", "RSA", "-pkeyopt", "rsa_keygen_bits:2048"], &[]);
    pack(&shop, "p384", &p384, &[]);
    pack(&shop, "legacy", &P256, &["-legacy"]);
    pack(&shop, "sha1", &P256, &["-macalg", "sha1"]);
    let owner = fs::Permissions::from_mode(0o600);
    let only = |name: &str, words: &[&str]| {
        openssl(&shop, &[&["pkcs12", "-export", "-out", name, "-passout", "pass:wet rinse"], words].concat());
        fs::set_permissions(shop.join(name), owner.clone()).unwrap();
    };
    only("certificate.p12", &["-nokeys", "-in", "good.crt"]);
    let mut damaged = fs::read(shop.join("good.p12")).unwrap();
    let middle = damaged.len() / 2;
    damaged[middle] ^= 1;
    fs::write(shop.join("damaged.p12"), &damaged).unwrap();
    fs::write(shop.join("cut.p12"), &damaged[..middle]).unwrap();
    fs::copy(shop.join("good.p12"), shop.join("open.p12")).unwrap();
    for name in ["damaged.p12", "cut.p12"] {
        fs::set_permissions(shop.join(name), owner.clone()).unwrap();
    }
    fs::set_permissions(shop.join("open.p12"), fs::Permissions::from_mode(0o644)).unwrap();
    for (name, words) in [
        ("rsa.p12", "the key is not an elliptic curve P-256 key"),
        ("p384.p12", "the key is not an elliptic curve P-256 key"),
        ("legacy.p12", "SHA-1, an old scheme"),
        ("sha1.p12", "SHA-1, an old scheme"),
        ("certificate.p12", "it holds 0 private keys that can be read; expected one"),
        ("damaged.p12", "the passphrase does not open the key"),
        ("cut.p12", "it cannot be read"),
        ("open.p12", "can be read or changed by others than its owner"),
        ("nowhere.p12", "nowhere.p12"),
    ] {
        let take = ["--take-key", name, "--take-passphrase-file", "secret.txt"];
        let said = ends(&shop, 2, &[&RENEW[..], &take].concat());
        has(&said, words);
        has(&said, "help: ");
    }
    secret(&shop, "wet Rinse");
    let take = ["--take-key", "good.p12", "--take-passphrase-file", "secret.txt"];
    has(&ends(&shop, 2, &[&RENEW[..], &take].concat()), "the passphrase does not open the key");
    let now = (demo::register(&shop).head().unwrap().size, key(&shop, "seal"), text(&shop, files::SEAL_KEY));
    assert_eq!(now, before);
    // The way out that the help names is one.
    openssl(
        &shop,
        &[
            "pkcs12",
            "-legacy",
            "-in",
            "legacy.p12",
            "-nocerts",
            "-aes256",
            "-passin",
            "pass:wet rinse",
            "-passout",
            "pass:wet rinse",
            "-out",
            "out.pem",
        ],
    );
    fs::set_permissions(shop.join("out.pem"), owner).unwrap();
    secret(&shop, "wet rinse");
    let take = ["--take-key", "out.pem", "--take-passphrase-file", "secret.txt"];
    ends(&shop, 0, &[&RENEW[..], &take].concat());
}

/// Every bit of the file and every cut of it: refused or the same key, and never a panic.
#[test]
fn a_changed_file_gives_no_other_key() {
    let folder = demo::fresh("p12-flips");
    if !pack(&folder, "good", &P256, &["-iter", "1", "-nomaciter"]) {
        return;
    }
    let good = fs::read(folder.join("good.p12")).unwrap();
    let set = {
        let mut n = 0_u8;
        let mut random = move |bytes: &mut [u8]| {
            n += 1;
            bytes.fill(n);
            Ok(())
        };
        let day = chrono::DateTime::from_timestamp(1_790_000_000, 0).unwrap();
        brightproof::seal::create_keys("Fennmark", day, None, &mut random).unwrap()
    };
    let take = |file: &[u8]| {
        let given = brightproof::seal::KeyFile { file, passphrase: Some(b"wet rinse") };
        let own = brightproof::seal::KeyFile { file: set.root_key_pem.as_bytes(), passphrase: None };
        let root = brightproof::seal::Root { certificate: set.root_cert_pem.as_bytes(), key: own };
        let day = chrono::DateTime::from_timestamp(1_790_000_000, 0).unwrap();
        let mut random = |bytes: &mut [u8]| {
            bytes.fill(77);
            Ok(())
        };
        brightproof::seal::create_seal_key(root, Some(given), day, None, &mut random)
            .map(|pair| pair.seal_key_pem.to_string())
    };
    let whole = take(&good).unwrap();
    let mut taken = 0;
    for at in 0..good.len() {
        for bit in 0..8 {
            let mut bent = good.clone();
            bent[at] ^= 1 << bit;
            if let Ok(found) = take(&bent) {
                assert_eq!(found, whole, "{at} {bit}");
                taken += 1;
            }
        }
        assert!(take(&good[..at]).is_err(), "{at}");
    }
    println!("{} bits, {taken} of them do no harm, {} cuts", good.len() * 8, good.len());
}
