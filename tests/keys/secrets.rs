//! Passphrases, and who can read the files of keys.

use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;
use std::process::Stdio;

use crate::demo;

use super::ends;
use super::has;
use super::run;
use super::run_with;

const SECRET: &str = "wet rinse, twice";
const SHOP: [&str; 17] = [
    "init",
    "shop",
    "--name",
    "Fennmark Finishing",
    "--address",
    "1 Weir Street",
    "--place",
    "Nether Fenn",
    "--contact",
    "telephone 555-0100",
    "--register",
    "fennmark.example/register",
    "--prefix",
    "FF",
    "--releaser",
    "A. Teasel",
    "--format=text",
];

/// A folder in which a locked shop was made, with its passphrase coming through standard input.
fn locked(name: &str) -> PathBuf {
    let folder = demo::fresh(&format!("keys-{name}"));
    let arguments = [&SHOP[..], &["--passphrase-fd", "0"]].concat();
    let (code, out, err) = run_with(&folder, &arguments, &format!("{SECRET}\nanother line\n"), None);
    assert_eq!(code, 0, "{err}");
    has(&out, "root fingerprint: ");
    folder
}

/// Whether the key opened: the lot asked for is not there, which is noticed only behind the lock.
#[track_caller]
fn opened(found: (i32, String, String)) {
    assert_eq!(found.0, 2, "{found:?}");
    has(&found.2, "lots/X-1.yaml");
}

const ISSUE: [&str; 6] = ["--shop", "shop", "issue", "X-1", "--by", "A. Teasel"];

#[test]
fn a_passphrase_comes_by_file_descriptor_environment_or_file() {
    let folder = locked("ways");
    let with = |more: &[&str], input: &str, secret: Option<&str>| {
        run_with(&folder, &[&ISSUE[..], more].concat(), input, secret)
    };
    opened(with(&["--passphrase-fd", "0"], &format!("{SECRET}\n"), None));
    opened(with(&["--passphrase-fd", "0"], SECRET, None));
    opened(with(&["--passphrase-env", "SEAL_SECRET"], "", Some(SECRET)));
    fs::write(folder.join("secret"), format!("{SECRET}\r\n")).unwrap();
    opened(with(&["--passphrase-file", "secret"], "", None));
    if cfg!(unix) {
        // Descriptor 3, as an agent's pipe: the shell opens it, the program reads it.
        let line = format!(
            "printf '%s\\n' '{SECRET}' | {} --shop shop issue X-1 --by 'A. Teasel' --passphrase-fd 3 3<&0 </dev/null",
            env!("CARGO_BIN_EXE_brightproof")
        );
        let output =
            Command::new("sh").args(["-c", &line]).current_dir(&folder).stdin(Stdio::null()).output();
        has(&demo::printed(&output.unwrap()), "lots/X-1.yaml");
    }

    for (more, input, secret, words) in [
        (&["--passphrase-fd", "0"][..], "wrong rinse\n", None, "the passphrase does not open the key"),
        (&["--passphrase-fd", "0"], "", None, "the passphrase does not open the key"),
        (&["--passphrase-fd", "977"], "", None, "no passphrase from descriptor 977"),
        (&["--passphrase-env", "SEAL_SECRET"], "", None, "the environment has no variable SEAL_SECRET"),
        (&["--passphrase-env", "SEAL_SECRET"], "", Some("wet"), "the passphrase does not open the key"),
        (&[], "wet rinse, twice\n", Some(SECRET), "no passphrase was given"),
        (&["--passphrase-fd", "0", "--passphrase-file", "secret"], "", None, "cannot be used with"),
        (&["--passphrase-env", "A", "--passphrase-fd", "0"], "", None, "cannot be used with"),
        (&["--passphrase", SECRET], "", None, "unexpected argument"),
    ] {
        let (code, _, err) = with(more, input, secret);
        assert_eq!(code, 2, "{more:?}");
        has(&err, words);
        assert!(!err.contains(SECRET) || more.contains(&"--passphrase"), "{err}");
    }
    let long = "x".repeat(5000);
    has(&with(&["--passphrase-fd", "0"], &long, None).2, "more than 4096 bytes");
}

/// Nobody but the owner reads what the shop's keys are kept in.
#[cfg(unix)]
#[test]
fn a_key_that_others_can_read_is_not_used() {
    use std::os::unix::fs::PermissionsExt;
    let folder = demo::fresh("keys-modes");
    demo::begin(&folder, "modes");
    let mode = |file: &str| fs::metadata(folder.join(file)).unwrap().permissions().mode() & 0o777;
    let set = |file: &str, mode: u32| {
        fs::set_permissions(folder.join(file), fs::Permissions::from_mode(mode)).unwrap();
    };
    const KEYS: [&str; 3] = ["keys/seal-key.pem", "keys/register-key.txt", "keys/root-key.pem"];
    for key in KEYS {
        assert_eq!(mode(key), 0o600, "{key}");
    }
    let issue = ["issue", demo::SMALL_LOT, "--by", demo::RELEASES];
    for key in &KEYS[..2] {
        for open in [0o644, 0o640, 0o604, 0o660, 0o610, 0o602] {
            set(key, open);
            let said = ends(&folder, 2, &issue);
            has(&said, &format!("{key} can be read or changed by others than its owner (mode {open:o})"));
            has(&said, "chmod 600");
        }
        set(key, 0o600);
    }
    set(KEYS[2], 0o640);
    let renew = ["keys", "renew", "seal", "--open-keys", "--by", "M. Sorrel", "--why", "new"];
    has(&ends(&folder, 2, &renew), "keys/root-key.pem can be read or changed by others");
    // The root's key is not needed to issue, and may lie elsewhere.
    set(KEYS[0], 0o400);
    ends(&folder, 0, &issue);
}

/// What a renewal makes is locked, and for the owner's eyes only.
#[test]
fn a_renewed_seal_key_is_locked_anew() {
    let folder = locked("relocked");
    fs::write(folder.join("root-secret"), SECRET).unwrap();
    let renew = |more: &[&str], input: &str| {
        let words =
            ["--shop", "shop", "keys", "renew", "seal", "--by", "A. Teasel", "--why", "a lost laptop"];
        run_with(&folder, &[&words[..], more].concat(), input, None)
    };
    let root = ["--root-passphrase-file", "root-secret", "--passphrase-fd", "0"];
    has(&renew(&root, "short\n").2, "fewer than 8 characters");
    fs::write(folder.join("wrong"), "no such words").unwrap();
    let wrong = ["--root-passphrase-file", "wrong", "--passphrase-fd", "0"];
    has(&renew(&wrong, "a new secret\n").2, "the passphrase does not open the key");
    has(&renew(&["--passphrase-fd", "0"], "a new secret\n").2, "no passphrase was given");
    // Nothing of these tries counts.
    opened(run_with(&folder, &[&ISSUE[..], &["--passphrase-fd", "0"]].concat(), SECRET, None));
    let (code, out, err) = renew(&root, "a new secret\n");
    assert_eq!(code, 0, "{err}");
    has(&out, "takes the place of");
    let with =
        |secret: &str| run_with(&folder, &[&ISSUE[..], &["--passphrase-fd", "0"]].concat(), secret, None);
    opened(with("a new secret"));
    has(&with(SECRET).2, "the passphrase does not open the key");
    assert!(waiting(&folder.join("shop")).is_empty());
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = fs::metadata(folder.join("shop/keys/seal-key.pem")).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o600);
    }
    // The root key put away, and named where it lies.
    fs::rename(folder.join("shop/keys/root-key.pem"), folder.join("root-key.pem")).unwrap();
    has(&renew(&root, "third secret\n").2, "root-key.pem does not exist");
    let named = [&root[..], &["--root-key", "root-key.pem"]].concat();
    assert_eq!(renew(&named, "third secret\n").0, 0);
    // Another root's key does not fit.
    let other = locked("other-root");
    fs::copy(other.join("shop/keys/root-key.pem"), folder.join("other-key.pem")).unwrap();
    let strange = [&root[..], &["--root-key", "other-key.pem"]].concat();
    has(&renew(&strange, "fourth secret\n").2, "does not belong to the certificate");
    opened(with("third secret"));
    assert_eq!(run(&folder, &["--shop", "shop", "register", "audit"]).0, 0);
}

/// Files of a renewal that is not in place yet.
pub fn waiting(shop: &Path) -> Vec<String> {
    let names =
        fs::read_dir(shop.join("keys")).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap());
    names.filter(|name| name.ends_with(".next")).collect()
}
