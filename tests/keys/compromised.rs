//! A key that others may know: what was issued under it stands only where somebody else's clock saw it before.

use std::fs;
use std::path::Path;

use brightproof::app::desk::files;

use crate::demo;
use crate::time_stamps::shop::with_service;

use super::FIRST;
use super::SECOND;
use super::ends;
use super::has;
use super::issue;
use super::number;
use super::renew_register;
use super::renew_seal;
use super::run;
use super::shop;
use super::text;
use super::verifies;
use super::verify;

const REGISTER: [&str; 2] = ["--register", files::REGISTER];
const DATED: [&str; 6] =
    ["--register", files::REGISTER, "--time-stamps", "time-stamps", "--time-root", "time-stamps/root.pem"];

/// The key in force, as `keys show` gives it to machines.
pub fn key(shop: &Path, what: &str) -> String {
    let all: serde_json::Value =
        serde_json::from_str(&run(shop, &["--format", "json", "keys", "show"]).1).unwrap();
    let all = all.as_array().unwrap();
    all.iter().rfind(|one| one["what"] == what).unwrap()["key"].as_str().unwrap().to_owned()
}

pub fn ago(minutes: i64) -> String {
    (chrono::Local::now() - chrono::Duration::minutes(minutes)).format("%Y-%m-%dT%H:%M%:z").to_string()
}

pub fn declare(shop: &Path, key: &str, since: &str) -> String {
    let told = ["--by", demo::RELEASES, "--why", "a laptop was stolen"];
    ends(shop, 0, &[&["keys", "compromised", key, "--since", since][..], &told].concat())
}

#[test]
fn what_a_known_key_sealed_does_not_stand_by_itself() {
    let shop = shop("known-seal");
    let said = declare(&shop, &key(&shop, "seal"), &ago(5));
    has(&said, &format!("issued under that key since then: {}", number(FIRST)));
    has(&said, "Next: `brightproof keys renew seal`");
    has(&ends(&shop, 0, &["keys", "show"]), "DECLARED COMPROMISED since ");
    let (code, said) = verify(&shop, FIRST, &REGISTER);
    assert_eq!(code, 2, "{said}");
    has(&said, "key          not checked");
    has(&said, "(a laptop was stolen): it stands only with a time stamp from before then");
    // Nothing more is sealed, until there is a new key; what that one seals stands.
    let said = ends(&shop, 2, &["issue", "L-26-0401", "--by", demo::RELEASES]);
    has(&said, "the seal key is declared compromised");
    has(&said, "brightproof keys renew seal");
    renew_seal(&shop);
    issue(&shop, "L-26-0401");
    verifies(&shop, SECOND);
    assert_eq!(verify(&shop, FIRST, &REGISTER).0, 2);
    ends(&shop, 0, &["register", "audit"]);
}

#[test]
fn a_time_stamp_from_before_lets_it_stand_and_a_later_one_does_not() {
    for (name, minutes, code, words) in [
        ("stamped-before", 0, 0, "key          pass"),
        ("stamped-after", 30, 1, "and the first time stamp of it says"),
    ] {
        let shop = demo::fresh(&format!("keys-{name}"));
        let Some(_service) = with_service(&shop) else { return };
        issue(&shop, demo::SMALL_LOT);
        // To the minute: a moment after the stamp, or half an hour before it.
        let since = if minutes == 0 {
            std::thread::sleep(std::time::Duration::from_millis(3000));
            chrono::Local::now().format("%Y-%m-%dT%H:%M:%S%:z").to_string()
        } else {
            ago(minutes)
        };
        declare(&shop, &key(&shop, "seal"), &since);
        assert_eq!(verify(&shop, FIRST, &REGISTER).0, 2, "{name}");
        let (found, said) = verify(&shop, FIRST, &DATED);
        assert_eq!(found, code, "{name}: {said}");
        has(&said, words);
    }
}

#[test]
fn a_known_register_key_is_replaced_and_its_certificates_say_so() {
    let shop = shop("known-register");
    let old = text(&shop, files::CHECKPOINT);
    has(&declare(&shop, &old, &ago(5)), "Next: `brightproof keys renew register`");
    let said = ends(&shop, 2, &["issue", "L-26-0401", "--by", demo::RELEASES]);
    has(&said, "the register's key is declared compromised");
    renew_register(&shop);
    issue(&shop, "L-26-0401");
    verifies(&shop, SECOND);
    let (code, said) = verify(&shop, FIRST, &REGISTER);
    assert_eq!(code, 2, "{said}");
    has(&said, "key          not checked");
    has(&said, "history      pass");
    ends(&shop, 0, &["register", "audit"]);
}

#[test]
fn only_keys_that_are_there_are_declared_and_once() {
    let shop = shop("declared");
    let told = ["--by", demo::RELEASES, "--why", "lost"];
    let declare = |key: &str, since: &str| {
        ends(&shop, 2, &[&["keys", "compromised", key, "--since", since][..], &told].concat())
    };
    has(&declare(&"0".repeat(64), &ago(5)), "the register knows no key");
    has(&declare(&key(&shop, "seal"), &ago(-60)), "the day is still to come");
    has(&declare(&key(&shop, "seal"), "yesterday"), "--since");
    // As it is printed: in groups of eight.
    let seal = key(&shop, "seal").to_uppercase();
    let grouped: Vec<String> =
        seal.as_bytes().chunks(8).map(|c| String::from_utf8(c.to_vec()).unwrap()).collect();
    super::compromised::declare(&shop, &grouped.join(" "), &ago(5));
    has(&declare(&seal, &ago(5)), "declared compromised already");
    // An issued certificate from before the key was known is in nobody's list.
    let other = super::shop("declared-later");
    fs::create_dir_all(other.join("time-stamps")).unwrap();
    std::thread::sleep(std::time::Duration::from_millis(2100));
    let now = chrono::Local::now().format("%Y-%m-%dT%H:%M:%S%:z").to_string();
    has(
        &super::compromised::declare(&other, &key(&other, "seal"), &now),
        "no certificate was issued under that key",
    );
}
