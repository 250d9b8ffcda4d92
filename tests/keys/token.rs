//! A seal key in a token: made there, never given away, asked for each seal. The token is softhsm2, a PKCS#11 library that
//! is not ours. Without the feature `pkcs11` the program says that it knows no tokens.

use std::fs;
#[cfg(feature = "pkcs11")]
use std::path::Path;

use brightproof::app::desk::files;

use crate::demo;

#[cfg(not(feature = "pkcs11"))]
use super::ends;
use super::has;
use super::shop;

const RENEW: [&str; 7] = ["keys", "renew", "seal", "--by", demo::RELEASES, "--why", "a token"];

/// What a program without tokens does with a folder that needs one.
#[cfg(not(feature = "pkcs11"))]
#[test]
fn without_the_feature_tokens_are_named() {
    let shop = shop("token-none");
    fs::write(shop.join("pin.txt"), "1234\n").unwrap();
    let before = fs::read(shop.join(files::SEAL)).unwrap();
    let token = ["--token", "seal", "--token-module", "/no/library.so", "--passphrase-file", "pin.txt"];
    let said = ends(&shop, 2, &[&RENEW[..], &token].concat());
    has(&said, "this program was built without the feature `pkcs11`");
    has(&said, "cargo build --release --features pkcs11");
    assert_eq!(fs::read(shop.join(files::SEAL)).unwrap(), before);
    // A shop whose seal lies in a token, on a computer with such a program: no other key seals in its place.
    let seal = brightproof::seal::seal_fingerprint(&before).unwrap();
    let place = |seal: &str| {
        format!("{{\"module\": \"m.so\", \"token\": \"t\", \"key\": \"k\", \"seal\": \"{seal}\"}}")
    };
    fs::write(shop.join(files::SEAL_TOKEN), place(&seal)).unwrap();
    let issue = ["issue", "L-26-0401", "--by", demo::RELEASES, "--passphrase-file", "pin.txt"];
    has(&ends(&shop, 2, &issue), "the key lies in a token");
    // One that names another seal is left over, and a broken one is said to be.
    fs::write(shop.join(files::SEAL_TOKEN), "{\"module\": 1}").unwrap();
    has(&ends(&shop, 2, &issue), "keys/seal-token.json:1:");
    fs::write(shop.join(files::SEAL_TOKEN), place(&"ab".repeat(32))).unwrap();
    ends(&shop, 0, &issue);
    super::verifies(&shop, super::SECOND);
}

#[cfg(feature = "pkcs11")]
mod with {
    use super::*;

    use std::path::PathBuf;
    use std::process::Command;
    use std::process::Output;

    use super::super::FIRST;
    use super::super::SECOND;
    use super::super::compromised::key;
    use super::super::number;
    use super::super::renew_seal;
    use super::super::secrets::waiting;
    use super::super::verifies;

    /// Where distributions put the library.
    const MODULES: [&str; 4] = [
        "/usr/lib/softhsm/libsofthsm2.so",
        "/usr/lib/x86_64-linux-gnu/softhsm/libsofthsm2.so",
        "/usr/lib/aarch64-linux-gnu/softhsm/libsofthsm2.so",
        "/usr/lib64/pkcs11/libsofthsm2.so",
    ];
    const PIN: &str = "271828";

    /// A shop with tokens of its own beside it.
    struct Tokens {
        shop: PathBuf,
        module: &'static str,
    }

    impl Tokens {
        fn new(name: &str, labels: &[&str]) -> Option<Tokens> {
            let Some(module) = MODULES.into_iter().find(|module| Path::new(module).exists()) else {
                demo::absent("softhsm2");
                return None;
            };
            let tokens = Tokens { shop: shop(name), module };
            fs::create_dir_all(tokens.shop.join("tokens")).unwrap();
            let conf = "directories.tokendir = tokens\nobjectstore.backend = file\nlog.level = ERROR\n";
            fs::write(tokens.shop.join("softhsm2.conf"), conf).unwrap();
            tokens.secret("pin.txt", PIN);
            for label in labels {
                let made = tokens.run_of(
                    "softhsm2-util",
                    &["--init-token", "--free", "--label", label, "--so-pin", "314159", "--pin", PIN],
                );
                assert!(made.status.success(), "{}", demo::printed(&made));
            }
            Some(tokens)
        }

        fn secret(&self, file: &str, words: &str) {
            fs::write(self.shop.join(file), format!("{words}\n")).unwrap();
        }

        fn run_of(&self, program: &str, arguments: &[&str]) -> Output {
            let mut command = Command::new(program);
            command.args(arguments).current_dir(&self.shop).env("SOFTHSM2_CONF", "softhsm2.conf");
            command.output().unwrap()
        }

        #[track_caller]
        fn ends(&self, code: i32, arguments: &[&str]) -> String {
            let output = self.run_of(env!("CARGO_BIN_EXE_brightproof"), arguments);
            let said = demo::printed(&output);
            assert_eq!(output.status.code(), Some(code), "{arguments:?}\n{said}");
            assert!(!said.contains("panicked"), "{said}");
            said
        }

        #[track_caller]
        fn renew(&self, code: i32, token: &str, more: &[&str]) -> String {
            let token = ["--token", token, "--token-module", self.module, "--passphrase-file", "pin.txt"];
            self.ends(code, &[&RENEW[..], &token, more].concat())
        }

        #[track_caller]
        fn issue(&self, code: i32, lot: &str) -> String {
            self.ends(code, &["issue", lot, "--by", demo::RELEASES, "--passphrase-file", "pin.txt"])
        }
    }

    #[test]
    fn a_key_made_in_a_token_seals() {
        let Some(tokens) = Tokens::new("token", &["seal"]) else { return };
        has(&tokens.renew(0, "seal", &[]), "takes the place of");
        let shop = &tokens.shop;
        assert!(!shop.join(files::SEAL_KEY).exists(), "the key in the file is good for nothing");
        assert_eq!(waiting(shop), Vec::<String>::new());
        tokens.issue(0, "L-26-0401");
        tokens.issue(0, "L-26-0402");
        // Verified without the token, by this program and by others.
        verifies(shop, FIRST);
        verifies(shop, SECOND);
        tokens.ends(0, &["register", "audit"]);
        let file = shop.join(format!("certificates/{}.pdf", number(SECOND)));
        if demo::has("pdfsig", "-v") {
            let output = Command::new("pdfsig").args(["-nocert"]).arg(&file).output().unwrap();
            has(&demo::printed(&output), "Signature is Valid");
        }
        // What is handed out again is the stored file: a token would not seal it the same way twice.
        let again = fs::read(&file).unwrap();
        tokens.issue(0, "L-26-0401");
        assert_eq!(fs::read(&file).unwrap(), again);
        // The private key does not leave the token.
        let text = fs::read_to_string(shop.join(files::SEAL_TOKEN)).unwrap();
        assert!(!text.contains(PIN), "{text}");
        // And back to a key in a file: the token is asked no more.
        renew_seal(shop);
        fs::rename(shop.join("tokens"), shop.join("unplugged")).unwrap();
        super::super::issue(shop, "L-26-0403");
        tokens.ends(0, &["register", "audit"]);
    }

    #[test]
    fn what_a_token_refuses_is_named_and_changes_nothing() {
        let Some(tokens) = Tokens::new("token-bad", &["seal", "twin", "twin"]) else { return };
        let shop = &tokens.shop;
        let state = || (demo::register(shop).head().unwrap().size, key(shop, "seal"), waiting(shop));
        let before = state();
        has(&tokens.renew(2, "none", &[]), "0 tokens are labelled \"none\"; expected one; there are ");
        has(&tokens.renew(2, "twin", &[]), "2 tokens are labelled \"twin\"");
        let module = ["--token", "seal", "--token-module", "pin.txt", "--passphrase-file", "pin.txt"];
        has(&tokens.ends(2, &[&RENEW[..], &module].concat()), "cannot be used as a PKCS#11 library");
        let module = ["--token", "seal", "--token-module", "nowhere.so", "--passphrase-file", "pin.txt"];
        has(&tokens.ends(2, &[&RENEW[..], &module].concat()), "nowhere.so cannot be used");
        tokens.secret("pin.txt", "161803");
        let said = tokens.renew(2, "seal", &[]);
        has(&said, "the token \"seal\" does not take the PIN");
        has(&said, "after a few wrong ones the token locks itself");
        assert_eq!(state(), before);

        tokens.secret("pin.txt", PIN);
        tokens.renew(0, "seal", &["--token-key", "one"]);
        let twice = tokens.renew(2, "seal", &["--token-key", "one"]);
        has(&twice, "has 1 private keys labelled \"one\"; expected none");
        let before = state();
        tokens.secret("pin.txt", "161803");
        has(&tokens.issue(2, "L-26-0401"), "does not take the PIN");
        tokens.secret("pin.txt", PIN);
        fs::rename(shop.join("tokens"), shop.join("unplugged")).unwrap();
        fs::create_dir(shop.join("tokens")).unwrap();
        has(&tokens.issue(2, "L-26-0401"), "0 tokens are labelled \"seal\"; expected one");
        fs::remove_dir_all(shop.join("tokens")).unwrap();
        fs::rename(shop.join("unplugged"), shop.join("tokens")).unwrap();
        // Another key of the token in the place of the seal's: it belongs to no certificate.
        tokens.renew(0, "seal", &["--token-key", "two"]);
        let place = fs::read_to_string(shop.join(files::SEAL_TOKEN)).unwrap();
        fs::write(shop.join(files::SEAL_TOKEN), place.replace("\"two\"", "\"one\"")).unwrap();
        has(&tokens.issue(2, "L-26-0401"), "the key does not belong to the certificate");
        fs::write(shop.join(files::SEAL_TOKEN), place.replace("\"two\"", "\"three\"")).unwrap();
        has(&tokens.issue(2, "L-26-0401"), "has 0 private keys labelled \"three\"");
        assert_eq!(demo::register(shop).head().unwrap().size, before.0 + 1);
        fs::write(shop.join(files::SEAL_TOKEN), place).unwrap();
        tokens.issue(0, "L-26-0401");
        verifies(shop, SECOND);
    }

    /// The last step of a renewal into a token, cut short at each place, is taken by the next command.
    #[test]
    fn a_renewal_into_a_token_cut_short_is_finished() {
        for done in 0..2 {
            let Some(tokens) = Tokens::new(&format!("token-cut-{done}"), &["seal"]) else { return };
            let shop = &tokens.shop;
            for file in [files::SEAL_KEY, files::SEAL] {
                fs::copy(shop.join(file), shop.join(format!("{file}.old"))).unwrap();
            }
            tokens.renew(0, "seal", &[]);
            let next = |file: &str| shop.join(format!("{file}.next"));
            fs::rename(shop.join(files::SEAL), next(files::SEAL)).unwrap();
            fs::copy(shop.join(format!("{}.old", files::SEAL)), shop.join(files::SEAL)).unwrap();
            fs::copy(shop.join(format!("{}.old", files::SEAL_KEY)), shop.join(files::SEAL_KEY)).unwrap();
            if done == 0 {
                fs::rename(shop.join(files::SEAL_TOKEN), next(files::SEAL_TOKEN)).unwrap();
            }
            tokens.issue(0, "L-26-0401");
            assert!(!shop.join(files::SEAL_KEY).exists());
            assert_eq!(waiting(shop), Vec::<String>::new());
            verifies(shop, SECOND);
        }
    }
}
