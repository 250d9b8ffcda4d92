//! What a verifier remembers: heads only move forward, and only by proof.

use std::fs;
use std::path::Path;
use std::path::PathBuf;

use brightproof::app::proofs;
use brightproof::app::verify;
use brightproof::app::verify::Anchor;
use brightproof::app::verify::LogKeys;
use brightproof::app::verify::Overall;
use brightproof::app::verify::Verification;

use super::certificate;
use super::grow;
use super::proof_of;
use crate::demo;
use crate::demo::Demo;

const ORIGIN: &str = "larkspur.example/register";

/// A verifier with a folder of its own.
struct Verifier {
    folder: PathBuf,
    anchor: Anchor,
}

impl Verifier {
    fn new(name: &str) -> Verifier {
        Verifier { folder: demo::fresh(name), anchor: Demo::get().anchor() }
    }

    /// The head it remembers.
    fn kept(&self) -> Option<String> {
        fs::read_to_string(verify::remembered_at(&self.folder, ORIGIN)).ok()
    }

    /// Verifies with the proof a shop would make now, and with consistency proofs.
    fn by_proof(&self, shop: &Path, linked: &[(u64, u64)]) -> Verification {
        let (number, bytes) = certificate();
        let register = demo::register(shop);
        let consistency =
            linked.iter().map(|(from, to)| proofs::consistency(&register, *from, Some(*to)).unwrap());
        let keys = LogKeys { consistency: consistency.collect(), ..LogKeys::default() };
        let mut found = demo::verify(bytes, &self.anchor, None);
        let text = proof_of(&register, number).to_text();
        let shown = verify::proof(&mut found, bytes, &text, &keys, None).unwrap();
        verify::remembered(&mut found, bytes, shown.as_ref(), None, &keys, &self.folder).unwrap();
        found
    }

    /// Verifies with a shop's register.
    fn by_register(&self, shop: &Path) -> Verification {
        let (_, bytes) = certificate();
        let register = demo::register(shop);
        let keys = LogKeys::default();
        let mut found = demo::verify(bytes, &self.anchor, Some(&register));
        verify::remembered(&mut found, bytes, None, Some(&register), &keys, &self.folder).unwrap();
        found
    }
}

fn size(shop: &Path) -> u64 {
    demo::register(shop).head().unwrap().size
}

fn signed(shop: &Path) -> Option<String> {
    demo::register(shop).head().unwrap().checkpoint
}

#[test]
fn without_a_register_a_later_head_takes_its_place_only_with_a_consistency_proof() {
    let verifier = Verifier::new("pin-offline");
    let shop = Demo::get().copy("pin-offline-shop");
    let first = size(&shop);
    let found = verifier.by_proof(&shop, &[]);
    assert_eq!(found.overall(), Overall::Verifies, "{:?}", demo::unpassed(&found));
    assert_eq!(verifier.kept(), signed(&shop));
    assert_eq!(demo::said(&verifier.by_proof(&shop, &[]), "remembered"), "pass");

    let earlier = Demo::get().copy("pin-offline-earlier");
    grow(&shop, "one");
    let before = verifier.kept();
    let found = verifier.by_proof(&shop, &[]);
    let said = demo::said(&found, "remembered");
    assert!(said.starts_with("not checked: nothing links the head of"), "{said}");
    assert!(said.contains(&format!("register consistency {first} {}", first + 1)), "{said}");
    assert_eq!((found.overall(), verifier.kept()), (Overall::CouldNotTell, before.clone()));
    // a proof between other sizes is none
    grow(&shop, "two");
    let found = verifier.by_proof(&shop, &[(first, first + 1), (first + 1, first + 2)]);
    assert_eq!((found.overall(), verifier.kept()), (Overall::CouldNotTell, before));
    let found = verifier.by_proof(&shop, &[(first, first + 2)]);
    assert_eq!(found.overall(), Overall::Verifies, "{:?}", demo::unpassed(&found));
    assert_eq!(verifier.kept(), signed(&shop));

    // an older proof is no fault, but nothing says that it belongs to the same history
    let found = verifier.by_proof(&earlier, &[]);
    assert_eq!((found.overall(), verifier.kept()), (Overall::CouldNotTell, signed(&shop)));
    let (number, bytes) = certificate();
    let consistency = proofs::consistency(&demo::register(&shop), first, None).unwrap();
    let keys = LogKeys { consistency: vec![consistency], ..LogKeys::default() };
    let mut found = demo::verify(bytes, &verifier.anchor, None);
    let text = proof_of(&demo::register(&earlier), number).to_text();
    let shown = verify::proof(&mut found, bytes, &text, &keys, None).unwrap();
    verify::remembered(&mut found, bytes, shown.as_ref(), None, &keys, &verifier.folder).unwrap();
    assert_eq!((found.overall(), verifier.kept()), (Overall::Verifies, signed(&shop)), "it stays the newest");
}

#[test]
fn a_register_moves_it_forward_and_never_back() {
    let verifier = Verifier::new("pin-register");
    let shop = Demo::get().copy("pin-register-shop");
    assert_eq!(verifier.by_register(&shop).overall(), Overall::Verifies);
    let earlier = demo::fresh("pin-register-earlier");
    demo::copy(&shop, &earlier);
    grow(&shop, "one");
    grow(&shop, "two");
    assert_eq!(verifier.by_register(&shop).overall(), Overall::Verifies);
    assert_eq!(verifier.kept(), signed(&shop));

    // an old copy put back
    let found = verifier.by_register(&earlier);
    assert!(demo::said(&found, "remembered").contains("it was rolled back"), "{:?}", demo::unpassed(&found));
    assert_eq!((found.overall(), verifier.kept()), (Overall::DoesNotVerify, signed(&shop)));
    // another history, grown past it
    for seed in ["a", "b", "c"] {
        grow(&earlier, seed);
    }
    let found = verifier.by_register(&earlier);
    assert!(demo::said(&found, "remembered").contains("its history was rewritten"));
    assert_eq!((found.overall(), verifier.kept()), (Overall::DoesNotVerify, signed(&shop)));
}

#[test]
fn two_heads_of_one_size_are_a_fork() {
    let verifier = Verifier::new("pin-fork");
    let (ours, theirs) = (Demo::get().copy("pin-fork-ours"), Demo::get().copy("pin-fork-theirs"));
    grow(&ours, "ours");
    grow(&theirs, "theirs");
    assert_eq!(verifier.by_proof(&ours, &[]).overall(), Overall::Verifies);
    let found = verifier.by_proof(&theirs, &[]);
    assert!(demo::said(&found, "remembered").contains("the register's history was forked"));
    assert_eq!((found.overall(), verifier.kept()), (Overall::DoesNotVerify, signed(&ours)));
    assert_eq!(verifier.by_register(&theirs).overall(), Overall::DoesNotVerify);
    // a fork's own proof of growth does not link it with what was seen
    grow(&theirs, "theirs again");
    let now = size(&theirs);
    let found = verifier.by_proof(&theirs, &[(now - 1, now)]);
    assert_eq!((found.overall(), verifier.kept()), (Overall::CouldNotTell, signed(&ours)));
}

/// The head printed on a certificate is held against what was remembered too.
#[test]
fn the_head_a_certificate_carries_is_held_against_the_remembered_one() {
    let (number, bytes) = certificate();
    let shop = Demo::get().copy("pin-carried");
    let carried = crate::tamper::forger::certificate(bytes).register;
    let key = brightproof::checkpoint::SigningKey::parse(
        fs::read_to_string(shop.join("keys/register-key.txt")).unwrap().trim(),
    )
    .unwrap();
    let verifier = Verifier::new("pin-carried-verifier");
    let other = brightproof::checkpoint::sign(&key, key.name(), carried.size, &[7; 32]).unwrap();
    fs::write(verify::remembered_at(&verifier.folder, ORIGIN), &other).unwrap();
    let found = verifier.by_proof(&shop, &[]);
    let said = demo::said(&found, "remembered");
    assert!(said.contains("two different heads of"), "{number}: {said}");
    assert_eq!(verifier.kept(), Some(other));
}

/// Certificates looked at together must show one history, remembered or not.
#[test]
fn two_certificates_of_two_histories_are_told_when_looked_at_together() {
    let (number, bytes) = certificate();
    let shops = ["heads-ours", "heads-theirs"].map(|name| {
        let shop = Demo::get().copy(name);
        grow(&shop, name);
        shop
    });
    let keys = LogKeys::default();
    let mut heads = verify::Heads::default();
    let mut looked_at = |shop: &Path| {
        let mut found = demo::verify(bytes, &Demo::get().anchor(), None);
        let text = proof_of(&demo::register(shop), number).to_text();
        let shown = verify::proof(&mut found, bytes, &text, &keys, None).unwrap();
        heads.compare(&mut found, bytes, shown.as_ref(), &keys);
        demo::said(&found, "heads")
    };
    assert_eq!(looked_at(&shops[0]), "absent");
    assert_eq!(looked_at(&shops[0]), "absent");
    assert!(looked_at(&shops[1]).contains("the register's history was forked"));
    assert_eq!(looked_at(&shops[0]), "absent");
}

#[test]
fn nothing_is_remembered_of_whom_nobody_vouches_for() {
    let mut verifier = Verifier::new("pin-stranger");
    let shop = &Demo::get().folder;
    verifier.anchor = Anchor::none();
    let found = verifier.by_proof(shop, &[]);
    assert!(demo::said(&found, "remembered").starts_with("not checked: a first head is remembered only of"));
    assert_eq!(verifier.kept(), None);
    // a certificate that does not verify teaches nothing, whatever its proof says
    verifier.anchor = Anchor::read(&"0".repeat(64)).unwrap();
    let found = verifier.by_proof(shop, &[]);
    assert!(demo::said(&found, "remembered").starts_with("not checked: another check failed"));
    assert_eq!(verifier.kept(), None);
    // neither proof nor register
    let (_, bytes) = certificate();
    let mut found = demo::verify(bytes, &Demo::get().anchor(), None);
    let keys = LogKeys::default();
    verify::remembered(&mut found, bytes, None, None, &keys, &verifier.folder).unwrap();
    assert!(demo::said(&found, "remembered").starts_with("not checked: neither a proof"));
    assert_eq!(verifier.kept(), None);
}

#[test]
fn a_remembered_head_that_was_changed_is_no_first_sight() {
    let verifier = Verifier::new("pin-changed");
    let shop = Demo::get().copy("pin-changed-shop");
    verifier.by_proof(&shop, &[]);
    let kept = verifier.kept().unwrap();
    let bent = kept.replacen(&size(&shop).to_string(), "1", 1);
    assert_ne!(bent, kept);
    fs::write(verify::remembered_at(&verifier.folder, ORIGIN), &bent).unwrap();
    let found = verifier.by_proof(&shop, &[]);
    assert!(demo::said(&found, "remembered").contains("is not signed by a key that is known here"));
    assert_eq!((found.overall(), verifier.kept()), (Overall::DoesNotVerify, Some(bent)));
}

#[test]
fn the_name_of_a_register_never_names_a_file_elsewhere() {
    let folder = Path::new("kept");
    for origin in ["../../etc/x", "a/b", "a_b", "/x", "C:\\x", &"o".repeat(500)] {
        let path = verify::remembered_at(folder, origin);
        assert_eq!(path.parent(), Some(folder), "{origin}");
        assert!(path.file_name().unwrap().len() < 120);
    }
    assert_ne!(verify::remembered_at(folder, "a/b"), verify::remembered_at(folder, "a_b"));
}
