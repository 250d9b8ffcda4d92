//! A new root: certificates under the old one stand as before, nobody is led to a stranger's, and each way from the one to
//! the other is told apart.

use std::fs;
use std::path::Path;

use brightproof::app::desk::files;

use crate::demo;

use super::FIRST;
use super::SECOND;
use super::compromised::ago;
use super::compromised::declare;
use super::compromised::key;
use super::ends;
use super::has;
use super::issue;
use super::number;
use super::renew_seal;
use super::run;
use super::secrets::waiting;
use super::shop;
use super::text;

const RENEW: [&str; 8] =
    ["keys", "renew", "root", "--open-keys", "--by", demo::RELEASES, "--why", "the shop has another name"];

fn renew_root(shop: &Path, more: &[&str]) -> String {
    ends(shop, 0, &[&RENEW[..], more].concat())
}

/// A shop with a certificate under each of two roots; the old root's certificate and fingerprint kept.
fn two(name: &str, more: &[&str]) -> std::path::PathBuf {
    let shop = shop(name);
    fs::copy(shop.join(files::ROOT), shop.join("old.pem")).unwrap();
    fs::write(shop.join("old.txt"), key(&shop, "root")).unwrap();
    if more.contains(&"--without-old-key") {
        has(&ends(&shop, 2, &[&RENEW[..], more].concat()), "leave --without-old-key out");
        fs::remove_file(shop.join(files::ROOT_KEY)).unwrap();
    }
    renew_root(&shop, more);
    issue(&shop, "L-26-0401");
    fs::write(shop.join("handovers.txt"), ends(&shop, 0, &["keys", "handovers"])).unwrap();
    shop
}

fn asked(shop: &Path, of: &str, trust: &str, more: &[&str]) -> (i32, String) {
    let file = format!("certificates/{}.pdf", number(of));
    let (code, out, err) = run(shop, &[&["verify", &file, "--trust", trust], more].concat());
    (code, out + &err)
}

#[track_caller]
fn answers(shop: &Path, of: &str, trust: &str, more: &[&str], code: i32, words: &str) {
    let (found, said) = asked(shop, of, trust, more);
    assert_eq!(found, code, "{of} under {trust} {more:?}\n{said}");
    has(&said, words);
}

const REGISTER: [&str; 2] = ["--register", files::REGISTER];
const HANDOVERS: [&str; 2] = ["--handovers", "handovers.txt"];

#[test]
fn a_root_that_signs_leads_on_and_the_new_one_leads_back() {
    let shop = two("root", &[]);
    let old = text(&shop, "old.txt");
    let new = key(&shop, "root");
    assert_ne!(old, new);
    assert_eq!(waiting(&shop), Vec::<String>::new());
    for more in [&REGISTER, &HANDOVERS] {
        // By the certificate and by the fingerprint alone.
        for trust in ["old.pem", &old] {
            answers(&shop, FIRST, trust, more, 0, "issuer       pass");
            answers(
                &shop,
                SECOND,
                trust,
                more,
                0,
                &format!("the root you trust signed that {new} follows it"),
            );
        }
        for trust in [files::ROOT, &new] {
            answers(
                &shop,
                FIRST,
                trust,
                more,
                0,
                &format!("the root you trust signed that {old} came before it"),
            );
            answers(&shop, SECOND, trust, more, 0, "issuer       pass");
        }
    }
    // Without either, a verifier knows the root it was given and no other.
    answers(&shop, FIRST, "old.pem", &[], 0, "issuer       pass");
    answers(&shop, SECOND, "old.pem", &[], 1, "sealed under root");
    answers(&shop, FIRST, files::ROOT, &[], 1, "sealed under root");
    ends(&shop, 0, &["register", "audit"]);

    let shown = ends(&shop, 0, &["keys", "show"]);
    assert_eq!(shown.matches("root      ").count(), 2, "{shown}");
    has(&shown, "what purchasers know the shop by, since ");
    let all: serde_json::Value =
        serde_json::from_str(&run(&shop, &["--format", "json", "keys", "show"]).1).unwrap();
    let stand: Vec<(&str, bool)> = all
        .as_array()
        .unwrap()
        .iter()
        .map(|one| (one["what"].as_str().unwrap(), one["in_force"].as_bool().unwrap()))
        .collect();
    assert_eq!(stand, [("root", false), ("root", true), ("seal", false), ("seal", true), ("register", true)]);
    // The new root makes seal keys; what is reissued is the file of before, under the old root.
    renew_seal(&shop);
    issue(&shop, "L-26-0402");
    let before = demo::file(&shop, &number(FIRST));
    let out = "reissued";
    fs::create_dir_all(shop.join(out)).unwrap();
    ends(
        &shop,
        0,
        &[
            "reissue",
            &number(FIRST),
            "--to",
            "R. Fathom, receiving inspection",
            "--by",
            demo::RELEASES,
            "--why",
            "lost",
            "--out",
            out,
        ],
    );
    let files: Vec<_> = fs::read_dir(shop.join(out)).unwrap().map(|e| e.unwrap().path()).collect();
    assert!(files.iter().any(|file| fs::read(file).unwrap() == before), "{files:?}");
    // An export carries both roots.
    ends(&shop, 0, &["register", "export", "--out", "proof"]);
    assert_eq!(text(&shop, "proof/keys/older-roots.pem"), text(&shop, "old.pem"));
    assert_eq!(text(&shop, "proof/keys/root.pem"), text(&shop, files::ROOT));
    has(&text(&shop, "proof/keys/handovers.txt"), "brightproof root handover v1");
}

/// A root whose key is lost cannot lead on: whoever trusts it is told what is claimed, and believes nothing.
#[test]
fn a_lost_root_leads_nowhere_and_the_new_one_still_leads_back() {
    let shop = shop("lost");
    fs::copy(shop.join(files::ROOT), shop.join("old.pem")).unwrap();
    fs::remove_file(shop.join(files::ROOT_KEY)).unwrap();
    let said = ends(&shop, 2, &RENEW);
    has(&said, "the old root's key is not there");
    has(&said, "--without-old-key");
    let said = renew_root(&shop, &["--without-old-key"]);
    has(&said, "The old root did not sign that");
    issue(&shop, "L-26-0401");
    fs::write(shop.join("handovers.txt"), ends(&shop, 0, &["keys", "handovers"])).unwrap();
    for more in [&REGISTER, &HANDOVERS] {
        answers(&shop, FIRST, "old.pem", more, 0, "issuer       pass");
        answers(
            &shop,
            SECOND,
            "old.pem",
            more,
            2,
            "which says that it follows the one you trust; that one did not sign it",
        );
        answers(&shop, FIRST, files::ROOT, more, 0, "came before it");
        answers(&shop, SECOND, files::ROOT, more, 0, "issuer       pass");
    }
    ends(&shop, 0, &["register", "audit"]);
}

/// A root that others may have: nothing under it stands by itself, it hands nothing over, and the new one says so.
#[test]
fn a_root_that_others_may_have_hands_nothing_over() {
    let shop = shop("stolen-root");
    fs::copy(shop.join(files::ROOT), shop.join("old.pem")).unwrap();
    let old = key(&shop, "root");
    let said = declare(&shop, &old, &ago(5));
    has(&said, &format!("issued under that key since then: {}", number(FIRST)));
    has(&said, "keys renew root --without-old-key");
    let said = ends(&shop, 2, &["issue", "L-26-0401", "--by", demo::RELEASES]);
    has(&said, "the root is declared compromised");
    let renew = ["keys", "renew", "seal", "--open-keys", "--by", demo::RELEASES, "--why", "x"];
    has(&ends(&shop, 2, &renew), "the root is declared compromised");
    has(&ends(&shop, 2, &RENEW), "what it signs proves nothing");
    renew_root(&shop, &["--without-old-key"]);
    issue(&shop, "L-26-0401");
    fs::write(shop.join("handovers.txt"), ends(&shop, 0, &["keys", "handovers"])).unwrap();
    has(&text(&shop, "handovers.txt"), "\ncompromised 20");
    for trust in ["old.pem", files::ROOT] {
        answers(&shop, FIRST, trust, &REGISTER, 2, "(a laptop was stolen): it stands only with a time stamp");
    }
    answers(&shop, FIRST, files::ROOT, &HANDOVERS, 2, "may be known to others since");
    answers(&shop, SECOND, "old.pem", &REGISTER, 2, "that one did not sign it");
    answers(&shop, SECOND, files::ROOT, &REGISTER, 0, "issuer       pass");
    answers(&shop, SECOND, files::ROOT, &HANDOVERS, 0, "issuer       pass");
    ends(&shop, 0, &["register", "audit"]);
}

/// A credential would say that a certificate stands.
#[test]
fn no_credential_is_written_under_a_key_that_others_may_have() {
    let credential = |shop: &Path, of: &str, code: i32, out: &str| {
        ends(shop, code, &["register", "credential", &number(of), "--out", out])
    };
    for what in ["root", "seal", "register"] {
        let shop = shop(&format!("credential-{what}"));
        credential(&shop, FIRST, 0, "before.json");
        let known = key(&shop, what);
        match what {
            "root" => drop(renew_root(&shop, &[])),
            "seal" => drop(renew_seal(&shop)),
            _ => drop(super::renew_register(&shop)),
        }
        issue(&shop, "L-26-0401");
        declare(&shop, &known, &ago(0));
        has(&credential(&shop, FIRST, 2, "after.json"), "does not stand by itself: a key of it may be known");
        assert!(!shop.join("after.json").exists());
        credential(&shop, SECOND, 0, "second.json");
    }
}

/// Declared after it was replaced: what it signed before may be a thief's by now, for all that a verifier can tell.
#[test]
fn a_root_known_to_others_later_leads_on_no_more() {
    let shop = two("later", &[]);
    answers(&shop, SECOND, "old.pem", &REGISTER, 0, "follows it");
    declare(&shop, &text(&shop, "old.txt"), &ago(0));
    answers(&shop, SECOND, "old.pem", &REGISTER, 2, "may be known to others since");
    answers(&shop, FIRST, files::ROOT, &REGISTER, 2, "it stands only with a time stamp");
    answers(&shop, SECOND, files::ROOT, &REGISTER, 0, "issuer       pass");
    // Who trusts the old one, and has only the notes, cannot know it: said in the documents.
    answers(&shop, SECOND, "old.pem", &HANDOVERS, 0, "follows it");
}

/// Another shop's register and handovers, whose owner says that his root follows ours.
#[test]
fn a_stranger_who_says_that_his_root_follows_ours_is_not_believed() {
    let ours = two("ours", &[]);
    let theirs = two("theirs", &["--without-old-key"]);
    let beside = |file: &str| theirs.join(file).display().to_string();
    let trust = ours.join("old.pem").display().to_string();
    // His own notes, and a forged one with our root's certificate and his signature in the place of ours.
    let (his, own) = (text(&theirs, "handovers.txt"), text(&ours, "handovers.txt"));
    let pem = |notes: &str, nth: usize| {
        let block = notes.split("-----BEGIN CERTIFICATE-----").nth(nth).unwrap();
        format!("-----BEGIN CERTIFICATE-----{block}")
    };
    let ours_old = pem(&own, 1);
    let forged = his.replace(pem(&his, 1).trim(), ours_old.trim());
    let forged = forged.replace(&text(&theirs, "old.txt"), &text(&ours, "old.txt"));
    for (notes, code) in [(his.clone(), 1), (format!("{own}\n{his}"), 1), (forged, 2)] {
        fs::write(theirs.join("notes.txt"), &notes).unwrap();
        let (found, said) = asked(&theirs, SECOND, &trust, &["--handovers", "notes.txt"]);
        assert_eq!(found, code, "{said}");
        assert!(!said.contains("issuer       pass"), "{said}");
    }
    let (found, said) = asked(&theirs, SECOND, &trust, &["--register", &beside(files::REGISTER)]);
    assert_eq!(found, 1, "{said}");
    // And a register of ours from before the new root knows nothing of what it sealed.
    let early = shop("early");
    let early = early.join(files::REGISTER).display().to_string();
    let (found, said) = asked(&ours, SECOND, files::ROOT, &["--register", &early]);
    assert_eq!(found, 1, "{said}");
}

/// An entry of a register's owner that says a root follows, without what the new root signs: it is not taken for one.
#[test]
fn an_entry_alone_makes_no_root() {
    use brightproof::app::desk;
    use brightproof::app::keys::Keys;
    use brightproof::checkpoint::SigningKey;
    use brightproof::register::Kind;
    use brightproof::register::NewEntry;
    let shop = two("entry", &[]);
    let own = SigningKey::parse(&text(&shop, files::CHECKPOINT_KEY)).unwrap();
    let last = key(&shop, "root");
    for (turn, handover) in ["nothing", &text(&shop, "handovers.txt")].into_iter().enumerate() {
        let detail = serde_json::json!({
            "act": "renewed", "root": "ab".repeat(32), "retires_root": last, "handover": handover,
            "seal": "cd".repeat(32), "under": "ab".repeat(32), "retires": "x", "by": "nobody", "why": "nothing",
        });
        let mut register = demo::register(&shop);
        let now = chrono::Utc::now().format("%Y-%m-%dT%H:%M:%SZ").to_string();
        let mut tx = register.begin(&now).unwrap();
        let salt = [u8::try_from(turn).unwrap(); 32];
        tx.append(NewEntry { kind: Kind::Key, number: None, replaces: None, detail, salt }, None).unwrap();
        tx.commit(&desk::sign_head(&own)).unwrap();
        let keys = Keys::read(&register).unwrap();
        assert_eq!((keys.roots.len(), keys.root()), (2, last.as_str()));
    }
}

/// The last step of a root's renewal, cut short at each place, is taken by the next command.
#[test]
fn a_renewal_cut_short_is_finished() {
    let all = [files::ROOT_KEY, files::SEAL_KEY, files::ROOT, files::SEAL];
    for done in 0..all.len() {
        let shop = shop(&format!("cut-root-{done}"));
        let keep = |file: &str| fs::copy(shop.join(file), shop.join(format!("{file}.old"))).unwrap();
        for file in all {
            keep(file);
        }
        renew_root(&shop, &[]);
        // As settle puts them in place: root key, root, seal key, seal.
        for file in [files::ROOT_KEY, files::ROOT, files::SEAL_KEY, files::SEAL].into_iter().skip(done) {
            fs::rename(shop.join(file), shop.join(format!("{file}.next"))).unwrap();
            fs::copy(shop.join(format!("{file}.old")), shop.join(file)).unwrap();
        }
        issue(&shop, "L-26-0401");
        assert_eq!(waiting(&shop), Vec::<String>::new());
        answers(&shop, SECOND, files::ROOT, &REGISTER, 0, "issuer       pass");
        ends(&shop, 0, &["register", "audit"]);
    }
}

/// What a program is told of a change, beside what a person is.
#[test]
fn changes_are_told_to_machines() {
    let shop = shop("json");
    let json = |arguments: &[&str]| -> serde_json::Value {
        let (code, out, err) = run(&shop, &[&["--format", "json"], arguments].concat());
        assert_eq!(code, 0, "{err}");
        serde_json::from_str(&out).unwrap()
    };
    let why = ["--by", demo::RELEASES, "--why", "x"];
    for (what, more) in [("seal", &["--open-keys"][..]), ("register", &[]), ("root", &["--open-keys"])] {
        let old = key(&shop, what);
        let told = json(&[&["keys", "renew", what][..], more, &why].concat());
        assert_eq!((told["what"].as_str(), told["old"].as_str()), (Some(what), Some(old.as_str())));
        assert_eq!(told["new"].as_str(), Some(key(&shop, what).as_str()));
        assert_eq!(told.get("signed_by_old"), (what == "root").then_some(&true.into()));
    }
    let told = json(&[&["keys", "compromised", &key(&shop, "seal"), "--since", &ago(0)][..], &why].concat());
    assert_eq!(told["certificates"], serde_json::json!([]));
}

/// The old root's key is asked for its passphrase; another's key, and a wrong passphrase, change nothing.
#[test]
fn only_the_old_roots_own_key_hands_over() {
    let shop = shop("own-root");
    let size = || demo::register(&shop).head().unwrap().size;
    let before = size();
    let seal = shop.join(files::SEAL_KEY).display().to_string();
    has(
        &ends(&shop, 2, &[&RENEW[..], &["--root-key", &seal]].concat()),
        "does not belong to the certificate",
    );
    has(&ends(&shop, 2, &[&RENEW[..], &["--root-key", "nowhere.pem"]].concat()), "is not there");
    assert_eq!((size(), waiting(&shop)), (before, Vec::new()));
}
