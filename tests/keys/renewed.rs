//! Renewals: new certificates under new keys, old ones as good as before, old keys good for nothing.

use std::fs;
use std::path::Path;

use brightproof::app::desk;
use brightproof::app::desk::files;
use brightproof::app::issue;
use brightproof::app::issue::Target;
use brightproof::app::keys::HeadKeys;
use brightproof::app::keys::Keys;
use brightproof::app::verify;
use brightproof::app::verify::Anchor;
use brightproof::checkpoint;
use brightproof::checkpoint::EntryProof;
use brightproof::checkpoint::SigningKey;
use brightproof::checkpoint::VerifyKey;
use brightproof::register::Kind;
use brightproof::register::NewEntry;

use crate::demo;

use super::FIRST;
use super::SECOND;
use super::ends;
use super::has;
use super::issue as issue_lot;
use super::number;
use super::renew_register;
use super::renew_seal;
use super::run;
use super::secrets::waiting;
use super::shop;
use super::text;
use super::verifies;

#[test]
fn a_new_seal_key_leaves_what_the_old_one_sealed() {
    let shop = shop("seal");
    let (old, old_certificate) = (text(&shop, files::SEAL_KEY), text(&shop, files::SEAL));
    has(&renew_seal(&shop), "takes the place of");
    assert_ne!(text(&shop, files::SEAL_KEY), old);
    assert_eq!(waiting(&shop), Vec::<String>::new());
    issue_lot(&shop, "L-26-0401");
    verifies(&shop, FIRST);
    verifies(&shop, SECOND);
    ends(&shop, 0, &["register", "audit"]);
    // The fingerprint that purchasers have is the root's, and the same.
    let shown = ends(&shop, 0, &["keys", "show"]);
    assert_eq!(shown.matches("in force since").count(), 2, "{shown}");
    assert_eq!(shown.matches(", replaced at ").count(), 1, "{shown}");
    let json: serde_json::Value =
        serde_json::from_str(&run(&shop, &["--format", "json", "keys", "show"]).1).unwrap();
    assert_eq!(json.as_array().unwrap().len(), 4);
    assert_eq!((&json[1]["in_force"], &json[2]["in_force"]), (&false.into(), &true.into()));

    // The old key, put back from a copy, seals nothing.
    fs::write(shop.join(files::SEAL_KEY), &old).unwrap();
    fs::write(shop.join(files::SEAL), &old_certificate).unwrap();
    let said = ends(&shop, 2, &["issue", "L-26-0402", "--by", demo::RELEASES]);
    has(&said, "the seal key in keys/ is not in force: it was replaced");
    has(&ends(&shop, 0, &["keys", "show"]), "which is not in force");
}

#[test]
fn a_new_register_key_is_followed_from_the_old_one() {
    let shop = shop("register");
    let first = text(&shop, files::CHECKPOINT);
    let old = fs::read(shop.join(files::CHECKPOINT_KEY)).unwrap();
    has(&renew_register(&shop), "Tell the new key to witnesses and auditors");
    let second = text(&shop, files::CHECKPOINT);
    assert_ne!(first, second);
    issue_lot(&shop, "L-26-0401");
    renew_register(&shop);
    let third = text(&shop, files::CHECKPOINT);
    // The first certificate names the first key, the second the second; the head is signed by the third.
    verifies(&shop, FIRST);
    verifies(&shop, SECOND);
    ends(&shop, 0, &["register", "audit"]);
    let proof = run(&shop, &["register", "prove", &number(FIRST)]).1;
    let proof = EntryProof::parse(&proof).unwrap();
    let entry = demo::register(&shop).entry(proof.index).unwrap().unwrap();
    let by = |key: &str| proof.verify(&entry.leaf, &[VerifyKey::parse(key).unwrap()]).is_ok();
    assert_eq!((by(&first), by(&second), by(&third)), (false, false, true));

    // The old key, put back, adds nothing; and reading goes on.
    fs::write(shop.join(files::CHECKPOINT_KEY), old).unwrap();
    for verb in [
        &["issue", "L-26-0402", "--by", demo::RELEASES][..],
        &["withdraw", &number(FIRST), "--by", demo::RELEASES, "--why", "x", "--parts", "y"],
        &["keys", "renew", "register", "--by", demo::RELEASES, "--why", "x"],
        &["keys", "renew", "seal", "--open-keys", "--by", demo::RELEASES, "--why", "x"],
    ] {
        let said = ends(&shop, 2, verb);
        has(&said, "the register's key in keys/ is not in force: it is not the one that signs its heads now");
    }
    verifies(&shop, FIRST);
}

/// A head signed by a key that nobody handed over to: by whoever has the register's file and makes a key of its name.
#[test]
fn a_key_that_was_not_handed_over_to_is_not_followed() {
    let shop = shop("handed");
    let old_key = text(&shop, files::CHECKPOINT_KEY);
    renew_register(&shop);
    let register = demo::register(&shop);
    let head = register.head().unwrap();
    let last = register.entry(head.size - 1).unwrap().unwrap();
    has(last.detail["signed"].as_str().unwrap(), "brightproof key handover v1");
    let own = Keys::read(&register).unwrap().heads;
    assert_eq!(own.0.len(), 2);
    assert!(own.open(head.checkpoint.as_ref().unwrap()).is_ok());
    let stranger = SigningKey::from_seed(&head.origin, &[9; 32]).unwrap();
    let forged = checkpoint::sign(&stranger, &head.origin, head.size, &head.root).unwrap();
    assert!(own.open(&forged).is_err());
    // Nothing leads on from a key that the register does not know.
    let followed = HeadKeys::from(&register, stranger.verify_key()).unwrap();
    assert_eq!(followed.0.len(), 1);
    assert!(followed.open(head.checkpoint.as_ref().unwrap()).is_err());
    // The old key signs no head that is younger than its handover, and the new none that is older.
    let old = SigningKey::parse(&old_key).unwrap();
    let late = checkpoint::sign(&old, &head.origin, head.size, &head.root).unwrap();
    assert!(own.open(&late).is_err());
    let new = SigningKey::parse(&text(&shop, files::CHECKPOINT_KEY)).unwrap();
    for (signer, holds) in [(&new, false), (&old, true)] {
        let early = checkpoint::sign(signer, &head.origin, head.size - 1, &head.root).unwrap();
        assert_eq!(own.open(&early).is_ok(), holds);
    }
}

/// Whoever holds the register's file writes that another key follows: without the old key's signature it does not.
#[test]
fn an_entry_alone_hands_nothing_over() {
    let shop = shop("alone");
    let own = SigningKey::parse(&text(&shop, files::CHECKPOINT_KEY)).unwrap();
    let stranger = SigningKey::from_seed(own.name(), &[9; 32]).unwrap();
    let (from, to) = (own.verify_key(), stranger.verify_key());
    let third = SigningKey::from_seed(own.name(), &[8; 32]).unwrap().verify_key();
    let by_stranger = checkpoint::hand_over(&stranger, &from).unwrap();
    let to_third = checkpoint::hand_over(&own, &third).unwrap();
    for (turn, signed) in ["", "nothing", &by_stranger, &to_third].into_iter().enumerate() {
        let detail = serde_json::json!({
            "act": "renewed", "checkpoint_key": to.to_string(), "retires": from.to_string(), "signed": signed,
            "by": "nobody", "why": "nothing",
        });
        let mut register = demo::register(&shop);
        let now = chrono::Utc::now().format("%Y-%m-%dT%H:%M:%SZ").to_string();
        let mut tx = register.begin(&now).unwrap();
        let salt = [u8::try_from(turn).unwrap(); 32];
        tx.append(NewEntry { kind: Kind::Key, number: None, replaces: None, detail, salt }, None).unwrap();
        let head = tx.commit(&desk::sign_head(&stranger)).unwrap();
        let keys = Keys::read(&register).unwrap().heads;
        assert_eq!(keys.0.len(), 1, "{signed}");
        assert!(keys.open(&head.checkpoint.unwrap()).is_err());
    }
    // The certificate of before sees a head that is not its register's.
    let (code, said) = super::verify(&shop, FIRST, &["--register", files::REGISTER]);
    assert_eq!(code, 1, "{said}");
    has(&said, "the register's head is not signed by the key the certificate names");
    ends(&shop, 1, &["register", "audit"]);
}

/// Somebody had the shop open while the keys were renewed: what was read before counts no more.
#[test]
fn keys_read_before_a_renewal_are_refused_under_the_lock() {
    type Renewal = fn(&Path) -> String;
    let renewals: [(&str, Renewal, &str); 2] = [
        ("stale-seal", renew_seal, "the seal key"),
        ("stale-register", renew_register, "the register's key"),
    ];
    for (name, renew, words) in renewals {
        let shop = shop(name);
        let mut stale = demo::desk(&shop);
        let before = demo::register(&shop).head().unwrap().size;
        renew(&shop);
        let target = [Target::Lot("L-26-0401".to_owned())];
        let now = chrono::Local::now().to_rfc3339();
        let world = demo::world(&now, name);
        let refused = issue::issue(&mut stale, &target, demo::RELEASES, None, &world, &|| {}).err().unwrap();
        has(&refused.to_string(), words);
        has(&refused.to_string(), "not in force");
        assert_eq!(demo::register(&shop).head().unwrap().size, before + 1);
        issue_lot(&shop, "L-26-0401");
        ends(&shop, 0, &["register", "audit"]);
    }
}

/// A seal that the register has, by a key that it has not, or has no more: told, though all else fits.
#[test]
fn a_key_out_of_its_time_is_told() {
    let shop = shop("time");
    let stale = demo::desk(&shop);
    renew_seal(&shop);
    issue_lot(&shop, "L-26-0401");
    // Sealed anew with the old key, and looked up under the number that the new one sealed.
    let second = demo::file(&shop, &number(SECOND));
    let forged = crate::tamper::forger::reseal(&second, &stale.seal);
    let register = demo::register(&shop);
    let anchor = Anchor::read(&shop.join(files::ROOT).display().to_string()).unwrap();
    let found = verify::file("forged", &forged, &anchor, Some(&register), demo::renderer()).unwrap();
    has(&demo::said(&found, "key"), "its seal key was replaced at");
    has(&demo::said(&found, "registered"), "another file");
    let keys = super::shop("time-stranger");
    let strange = demo::desk(&keys).seal;
    let forged = crate::tamper::forger::reseal(&second, &strange);
    let found = verify::file("forged", &forged, &Anchor::none(), Some(&register), demo::renderer()).unwrap();
    has(&demo::said(&found, "key"), "never took its seal key into use");
    // The new key in a certificate from before it.
    let first = demo::file(&shop, &number(FIRST));
    let forged = crate::tamper::forger::reseal(&first, &demo::desk(&shop).seal);
    let found = verify::file("forged", &forged, &anchor, Some(&register), demo::renderer()).unwrap();
    has(&demo::said(&found, "key"), "its seal key was taken into use after it");
}

/// The last step of a renewal, cut short at each place, is taken by the next command.
#[test]
fn a_renewal_cut_short_is_finished_or_never_was() {
    for (name, private, public, renew) in [
        ("cut-seal", files::SEAL_KEY, files::SEAL, renew_seal as fn(&Path) -> String),
        ("cut-register", files::CHECKPOINT_KEY, files::CHECKPOINT, renew_register),
    ] {
        let shop = shop(name);
        let keep = |file: &str| fs::copy(shop.join(file), shop.join(format!("{file}.old"))).unwrap();
        keep(private);
        keep(public);
        renew(&shop);
        let next = |file: &str| shop.join(format!("{file}.next"));
        // After the commit, before either file was renamed; then, between the two.
        for both in [true, false] {
            fs::copy(shop.join(public), next(public)).unwrap();
            fs::copy(shop.join(format!("{public}.old")), shop.join(public)).unwrap();
            if both {
                fs::rename(shop.join(private), next(private)).unwrap();
                fs::copy(shop.join(format!("{private}.old")), shop.join(private)).unwrap();
            }
            ends(&shop, 0, &["keys", "show"]);
            assert_eq!(waiting(&shop), Vec::<String>::new());
        }
        issue_lot(&shop, "L-26-0401");
        verifies(&shop, FIRST);
        verifies(&shop, SECOND);
        ends(&shop, 0, &["register", "audit"]);
        // Written, and never committed: a second renewal that died first. The keys in force stay.
        fs::copy(shop.join(format!("{public}.old")), next(public)).unwrap();
        fs::copy(shop.join(format!("{private}.old")), next(private)).unwrap();
        issue_lot(&shop, "L-26-0402");
        assert_eq!(waiting(&shop).len(), 2);
        renew(&shop);
        assert_eq!(waiting(&shop), Vec::<String>::new());
        issue_lot(&shop, "L-26-0403");
        ends(&shop, 0, &["register", "audit"]);
    }
}

#[test]
fn a_renewal_says_who_and_why() {
    let shop = shop("why");
    for words in [["--by", " ", "--why", "x"], ["--by", "M. Sorrel", "--why", ""]] {
        let all = [&["keys", "renew", "register"][..], &words].concat();
        has(&ends(&shop, 2, &all), "needs who and why");
    }
    renew_register(&shop);
    let register = demo::register(&shop);
    let last = register.entry(register.head().unwrap().size - 1).unwrap().unwrap();
    assert_eq!((last.kind.as_str(), &last.detail["by"]), ("key", &demo::RELEASES.into()));
    assert_eq!(last.detail["why"], "a new computer");
}

/// An auditor who was told the first key years ago, and has a file, its proof and the handovers, but no register.
#[test]
fn handovers_lead_an_auditor_from_an_old_key_to_the_newest_head() {
    let shop = shop("handovers");
    fs::write(shop.join("first.txt"), text(&shop, files::CHECKPOINT)).unwrap();
    renew_register(&shop);
    fs::write(shop.join("second.txt"), text(&shop, files::CHECKPOINT)).unwrap();
    renew_register(&shop);
    let proof = ends(&shop, 0, &["register", "prove", &number(FIRST)]);
    fs::write(shop.join("new.tlog-proof"), proof).unwrap();
    let notes = ends(&shop, 0, &["keys", "handovers"]);
    assert_eq!(notes.matches("brightproof key handover v1").count(), 2, "{notes}");
    fs::write(shop.join("handovers.txt"), &notes).unwrap();

    let by = |key: &str, more: &[&str]| {
        let words = ["--proof", "new.tlog-proof", "--checkpoint-key", key];
        super::verify(&shop, FIRST, &[&words[..], more].concat())
    };
    let followed = ["--handovers", "handovers.txt"];
    let (code, said) = by("first.txt", &[]);
    assert_eq!(code, 1, "{said}");
    for key in ["first.txt", "second.txt"] {
        let (code, said) = by(key, &followed);
        assert_eq!(code, 0, "{key}: {said}");
    }
    let (code, said) = by(files::CHECKPOINT, &[]);
    assert_eq!(code, 0, "the newest key needs none: {said}");

    // A stranger's key that names itself the next, one that names the shop's as its next, and a second way.
    let origin = notes.lines().nth(1).unwrap().split('+').next().unwrap();
    let stranger = SigningKey::from_seed(origin, &[9; 32]).unwrap();
    let newest = VerifyKey::parse(&text(&shop, files::CHECKPOINT)).unwrap();
    fs::write(shop.join("stranger.txt"), stranger.verify_key().to_string()).unwrap();
    let to_ours = checkpoint::hand_over(&stranger, &newest).unwrap();
    fs::write(shop.join("handovers.txt"), format!("{notes}{to_ours}")).unwrap();
    let (code, said) = by("first.txt", &followed);
    assert_eq!(code, 0, "who knows the first key is not led astray: {said}");
    let own = fs::read_to_string(shop.join("second.txt")).unwrap();
    let bent = to_ours.replacen(&stranger.verify_key().to_string(), own.trim(), 1);
    fs::write(shop.join("handovers.txt"), bent).unwrap();
    let (code, said) = by("second.txt", &followed);
    assert_eq!(code, 2, "{said}");
    has(&said, "handovers.txt: ");
    // Nothing leads back: the head is signed by the newest, and an old proof by a key that nobody vouches for.
    fs::copy(shop.join(format!("certificates/{}.tlog-proof", number(FIRST))), shop.join("new.tlog-proof"))
        .unwrap();
    fs::write(shop.join("handovers.txt"), &notes).unwrap();
    let (code, said) = by(files::CHECKPOINT, &followed);
    assert_eq!(code, 1, "{said}");
    assert_eq!(by("first.txt", &followed).0, 0);
    // What is exported has them too.
    ends(&shop, 0, &["register", "export", "--out", "proof"]);
    assert_eq!(fs::read_to_string(shop.join("proof/keys/handovers.txt")).unwrap().trim(), notes.trim());
}
