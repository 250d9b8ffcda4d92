//! Files of this and of earlier releases, kept for ever: whatever a release wrote under a frozen form, every later one
//! must read, verify, audit and send again.
//!
//! `tests/golden/v1/shop/` is the invented shop's folder as the release that froze the forms left it; its keys protect
//! nothing. `tests/golden/v1/answers.json` is what `verify` says of each certificate, `tests/golden/v1/reports/` what
//! each command answers with `--format json`. None of it is ever written anew: a later form gets a folder of its own,
//! by `GOLDEN=v2 cargo test --test tests golden::made -- --ignored`.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a test stops at the first surprise"
)]

mod made;
mod other_release;
mod pages;
mod reports;

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::path::PathBuf;

use brightproof::app::desk::files;
use brightproof::app::verify;
use brightproof::app::verify::Anchor;
use brightproof::app::verify::Answer;
use brightproof::app::verify::Verification;
use brightproof::canonical;
use brightproof::certificate::Certificate;
use brightproof::judge::JUDGE;
use brightproof::pdf::DRAWING;
use brightproof::pdf::read_sealed;
use brightproof::register::Register;

use crate::demo;
use crate::journeys::at;

/// The frozen forms, oldest first: a folder of `tests/golden/` each.
const FORMS: [&str; 1] = ["v1"];

fn kept(form: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden").join(form)
}

/// A copy of the kept shop to work in, its keys readable by nobody else: git keeps no such modes.
fn shop(form: &str, name: &str) -> PathBuf {
    let folder = demo::fresh(name);
    demo::copy(&kept(form).join("shop"), &folder.join("shop"));
    #[cfg(unix)]
    for entry in fs::read_dir(folder.join("shop/keys")).unwrap() {
        use std::os::unix::fs::PermissionsExt;
        fs::set_permissions(entry.unwrap().path(), fs::Permissions::from_mode(0o600)).unwrap();
    }
    folder
}

/// Number and file of each certificate.
fn certificates(shop: &Path) -> BTreeMap<String, Vec<u8>> {
    let all = fs::read_dir(shop.join(files::CERTIFICATES)).unwrap().map(|f| f.unwrap().path());
    all.filter(|f| f.extension().is_some_and(|e| e == "pdf"))
        .map(|f| (f.file_stem().unwrap().to_str().unwrap().to_owned(), fs::read(&f).unwrap()))
        .collect()
}

/// What each check answers, without its reasons: those are words, and words may be mended.
fn answers(found: &Verification) -> BTreeMap<String, String> {
    let word = |answer: &Answer| match answer {
        Answer::Pass => "pass",
        Answer::Fail(_) => "fail",
        Answer::NotChecked(_) => "not checked",
    };
    found.lines.iter().map(|l| (l.check.to_owned(), word(&l.answer).to_owned())).collect()
}

/// What `verify` says of every certificate of a shop, with its root and register.
fn all_answers(shop: &Path) -> BTreeMap<String, BTreeMap<String, String>> {
    let anchor = Anchor::read(shop.join(files::ROOT).to_str().unwrap()).unwrap();
    let register = demo::register(shop);
    let verified = |bytes: &[u8]| answers(&demo::verify(bytes, &anchor, Some(&register)));
    certificates(shop).iter().map(|(number, bytes)| (number.clone(), verified(bytes))).collect()
}

#[test]
fn what_an_earlier_release_issued_verifies() {
    for form in FORMS {
        let folder = shop(form, &format!("golden-verified-{form}"));
        let shop = folder.join("shop");
        let text = fs::read_to_string(kept(form).join("answers.json")).unwrap();
        let expected: BTreeMap<String, BTreeMap<String, String>> = serde_json::from_str(&text).unwrap();
        let (found, files) = (all_answers(&shop), certificates(&shop));
        assert_eq!(found.keys().collect::<Vec<_>>(), expected.keys().collect::<Vec<_>>());
        assert!(expected.len() >= 12, "{form}: {}", expected.len());
        for (number, expected) in &expected {
            let certificate = data(&files[number]);
            for (check, expected) in expected {
                let answer = &found[number][check];
                // Another drawing or judge may leave its question open, and only its own; this one's may not.
                let open = match check.as_str() {
                    "page" => certificate.renderer.drawing < DRAWING,
                    "judgement" => certificate.judge.judge < JUDGE,
                    _ => false,
                };
                let may = open && answer == "not checked";
                assert!(answer == expected || may, "{form} {number}: {check} {answer}, it was {expected}");
            }
        }
        let with = |check: &str, answer: &str| {
            expected.values().filter(|answers| answers.get(check).is_some_and(|a| a == answer)).count()
        };
        // The kept shop holds what it is kept for.
        assert!(with("page", "pass") == expected.len() && with("current", "fail") >= 2, "{expected:#?}");
    }
}

fn data(file: &[u8]) -> Certificate {
    serde_json::from_slice(&read_sealed(file).unwrap().attachment).unwrap()
}

/// The form of the data and the canonical bytes: read and written again, they are the same, and hash to the stamp that
/// is in the register.
#[test]
fn the_data_of_an_earlier_release_are_read_and_written_to_the_same_bytes() {
    for form in FORMS {
        let shop = kept(form).join("shop");
        for (number, file) in certificates(&shop) {
            let attached = read_sealed(&file).unwrap().attachment;
            let certificate = data(&file);
            assert_eq!(certificate.number, number);
            assert_eq!(certificate.canonical().unwrap(), attached, "{form} {number}");
            let again = canonical::parse_canonical(&attached).unwrap();
            assert_eq!(canonical::canonical(&again).unwrap(), attached);
        }
    }
}

/// A register of an earlier release is sound, answers, and is written on: the three people's ways over it.
#[test]
fn a_register_of_an_earlier_release_is_audited_asked_and_written_on() {
    for form in FORMS {
        let folder = shop(form, &format!("golden-register-{form}"));
        let shop = folder.join("shop");
        let all = certificates(&shop);
        let (first, last) = (all.keys().next().unwrap(), all.keys().next_back().unwrap());
        let run = |words: &[&str]| at(&folder, &[&["--shop", "shop"], words].concat());
        run(&["register", "audit"]).code(0);
        run(&["find", first]).code(0).says(first);
        let before = demo::register(&shop).head().unwrap();
        let sent =
            ["reissue", last, "--by", "D. Yarrow", "--to", "goods in", "--why", "lost", "--out", "copies"];
        run(&[&sent[..], &["--approved-by", "M. Sorrel"]].concat()).code(0);
        assert_eq!(fs::read(folder.join(format!("copies/{last}.pdf"))).unwrap(), all[last]);
        let why = ["--why", "a gauge was found out", "--parts", "return them"];
        run(&[&["withdraw", last, "--by", "M. Sorrel"], &why[..]].concat()).code(0);
        run(&["register", "audit"]).code(0);
        let after = demo::register(&shop).head().unwrap();
        assert_eq!(after.size, before.size + 2);
        let words = ["verify", &format!("shop/certificates/{last}.pdf"), "--trust", "shop/keys/root.pem"];
        at(&folder, &[&words[..], &["--register", "shop/register.sqlite"]].concat()).code(1);
        // A head that somebody was given years ago is still in its past.
        let grown = [&before.size.to_string()[..], &after.size.to_string()];
        run(&["register", "consistency", grown[0], grown[1], "--out", "grown.txt"]).code(0);
    }
}

/// Proofs that lie beside the certificates are checked without the register.
#[test]
fn a_proof_of_an_earlier_release_is_checked_offline() {
    for form in FORMS {
        let folder = shop(form, &format!("golden-proof-{form}"));
        let keys = fs::read_to_string(kept(form).join("register-keys.txt")).unwrap();
        let mut words = Vec::new();
        for (index, key) in keys.lines().enumerate() {
            let file = format!("key-{index}.txt");
            fs::write(folder.join(&file), format!("{key}\n")).unwrap();
            words.extend(["--checkpoint-key".to_owned(), file]);
        }
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        let mut proofs = 0;
        for number in certificates(&folder.join("shop")).keys() {
            let file = format!("shop/certificates/{number}.pdf");
            if !folder.join(format!("shop/certificates/{number}.tlog-proof")).exists() {
                continue;
            }
            let verify = ["verify", &file, "--trust", "shop/keys/root.pem", "--format", "json"];
            let found = at(&folder, &[&verify[..], &words].concat()).json();
            let lines = found[0]["checks"].as_array().unwrap();
            let line = lines.iter().find(|l| l["check"] == "proof");
            assert!(line.is_some_and(|l| l["answer"] == "pass"), "{number}: {found:#}");
            proofs += 1;
        }
        assert!(proofs >= 10, "{form}: {proofs}");
    }
}

/// The register's tables and their version are one frozen form: changing the one asks for changing the other.
#[test]
fn the_registers_tables_are_those_of_the_kept_file() {
    let last = FORMS.last().unwrap();
    let tables = |path: &Path| -> Vec<(String, String)> {
        let db =
            rusqlite::Connection::open_with_flags(path, rusqlite::OpenFlags::SQLITE_OPEN_READ_ONLY).unwrap();
        let mut all =
            db.prepare("SELECT name, sql FROM sqlite_schema WHERE sql IS NOT NULL ORDER BY name").unwrap();
        let rows = all.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap();
        rows.collect::<Result<_, _>>().unwrap()
    };
    let new = demo::fresh("golden-tables").join("register.sqlite");
    Register::create(
        &new,
        "larkspur.example/register",
        serde_json::json!({}),
        "2026-11-24T22:20:31Z",
        [7; 32],
    )
    .unwrap();
    assert_eq!(tables(&new), tables(&kept(last).join("shop/register.sqlite")));
}

/// Every verification by name, so that a renamed check is seen.
#[test]
fn the_names_of_the_checks_stay() {
    let demo = crate::demo::Demo::get();
    let (_, bytes) = demo.certificate(demo::SMALL_LOT);
    let found =
        verify::file("x", bytes, &demo.anchor(), Some(&demo::register(&demo.folder)), demo::renderer())
            .unwrap();
    let names: Vec<&str> = found.lines.iter().map(|l| l.check).collect();
    let kept = fs::read_to_string(kept("v1").join("answers.json")).unwrap();
    for name in names {
        assert!(kept.contains(&format!("\"{name}\"")), "{name} is in no kept answer");
    }
}
