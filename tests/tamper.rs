//! One issued certificate, attacked: every bit flipped, bytes added, the seal taken off or set by another hand, data
//! and page exchanged, the register rolled back or rewritten. Each attack is refused, by the check meant for it and
//! with its own words.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a test stops at the first surprise"
)]

mod edits;
mod flips;
pub mod forger;
mod history;
mod known;
mod lies;

use brightproof::app::verify::Anchor;
use brightproof::app::verify::Overall;
use brightproof::app::verify::Verification;
use brightproof::certificate::Certificate;
use brightproof::pdf::Paper;
use brightproof::pdf::Sheet;
use brightproof::pdf::read_sealed;
use brightproof::seal;
use brightproof::seal::SealKey;

use crate::demo;
use crate::demo::Demo;
use crate::demo::said;
use crate::demo::verify;

/// Expects the attack to be refused, by this check and with these words.
fn refused(found: &Verification, check: &str, words: &str) {
    assert_eq!(found.overall(), Overall::DoesNotVerify, "{:?}", demo::unpassed(found));
    let answer = said(found, check);
    assert!(answer.starts_with("fail: ") && answer.contains(words), "{check}: {answer}, not {words:?}");
}

/// The checks that failed, in order.
fn failed(found: &Verification) -> Vec<&'static str> {
    found.lines.iter().filter(|l| said(found, l.check).starts_with("fail")).map(|l| l.check).collect()
}

/// The certificate that is attacked: its bytes, and what it says.
fn victim() -> (&'static [u8], Certificate) {
    let (_, bytes) = Demo::get().certificate(demo::SMALL_LOT);
    (bytes, forger::certificate(bytes))
}

/// Verifies as a purchaser does, with the right anchor and no register.
fn by_purchaser(bytes: &[u8]) -> Verification {
    verify(bytes, &Demo::get().anchor(), None)
}

#[test]
fn untouched_it_verifies() {
    let demo = Demo::get();
    let register = demo::register(&demo.folder);
    for bytes in demo.files.values() {
        demo::verifies(&by_purchaser(bytes));
        demo::verifies(&verify(bytes, &demo.anchor(), Some(&register)));
    }
    let (bytes, _) = victim();
    let root = demo.folder.join("keys/root.pem");
    demo::verifies(&verify(bytes, &Anchor::read(root.to_str().unwrap()).unwrap(), None));
}

#[test]
fn without_an_anchor_it_could_not_be_told() {
    let (bytes, _) = victim();
    let found = verify(bytes, &Anchor::none(), None);
    assert_eq!(found.overall(), Overall::CouldNotTell);
    assert_eq!(failed(&found), Vec::<&str>::new());
    assert!(said(&found, "issuer").starts_with("not checked: "), "{}", said(&found, "issuer"));
    assert_eq!(said(&found, "seal"), "pass");
    let wrong = Anchor::read(&"5".repeat(64)).unwrap();
    refused(&verify(bytes, &wrong, None), "issuer", "sealed under root");
}

#[test]
fn without_its_seal_it_is_refused() {
    let (bytes, certificate) = victim();
    let data = certificate.canonical().unwrap();
    let stamp = brightproof::canonical::stamp(&data);
    let sheet = Sheet { data: &data, stamp: &stamp, paper: Paper::Letter, seal: None };
    let bare = demo::renderer().prepare(&sheet).unwrap().bytes;
    refused(&by_purchaser(&bare), "form", "the file carries no seal");

    let (gap, _) = forger::gap(bytes);
    let mut blank = bytes.to_vec();
    blank[gap].fill(b'0');
    let found = by_purchaser(&blank);
    refused(&found, "seal", "no seal found");
    assert_eq!(failed(&found), ["seal"]);

    let mut renamed = bytes.to_vec();
    let at = find(&renamed, b"/ByteRange[");
    renamed[at + 1] = b'b';
    refused(&by_purchaser(&renamed), "form", "the file carries no seal");
}

fn find(bytes: &[u8], mark: &[u8]) -> usize {
    bytes.windows(mark.len()).position(|window| window == mark).unwrap()
}

#[test]
fn nothing_can_be_appended() {
    let (bytes, _) = victim();
    for (added, count) in [("\n", 1), (" ", 1), ("\0", 1), ("\n% reviewed by nobody\n", 22)] {
        let longer = [bytes, added.as_bytes()].concat();
        let words = format!("{count} bytes were added after the end of the sealed file");
        refused(&by_purchaser(&longer), "form", &words);
    }
    let (update, longer) = forger::update(bytes);
    let words = format!("{update} bytes were added after the end of the sealed file");
    refused(&by_purchaser(&longer), "form", &words);

    // The range stretched over what was added: the form is refused for its second revision, whoever seals.
    let stretched = forger::stretch(&longer);
    refused(&by_purchaser(&stretched), "form", "the file holds 2 revisions");
    let resealed = forger::reseal(&stretched, &demo::desk(&Demo::get().folder).seal);
    refused(&by_purchaser(&resealed), "form", "the file holds 2 revisions");

    // A second seal after the first.
    let second = [bytes, &bytes[find(bytes, b"<</Type/Sig")..]].concat();
    refused(&by_purchaser(&second), "form", "bytes were added after the end of the sealed file");

    for shorter in [bytes.len() - 1, bytes.len() - 6, bytes.len() / 2, 20, 1, 0] {
        assert_eq!(by_purchaser(&bytes[..shorter]).overall(), Overall::DoesNotVerify, "{shorter}");
    }
    let cut = &bytes[..bytes.len() - 1];
    refused(&by_purchaser(cut), "form", "the file ends 1 bytes before the range does");
}

#[test]
fn the_seal_has_one_spelling() {
    let (bytes, _) = victim();
    let (gap, _) = forger::gap(bytes);
    let mut upper = bytes.to_vec();
    upper[gap.clone()].make_ascii_uppercase();
    refused(&by_purchaser(&upper), "form", "the seal's bytes are not lowercase hexadecimal");
    let one = gap.clone().find(|at| bytes[*at].is_ascii_lowercase()).unwrap();
    let mut upper = bytes.to_vec();
    upper[one].make_ascii_uppercase();
    refused(&by_purchaser(&upper), "form", "the seal's bytes are not lowercase hexadecimal");
    let mut spaced = bytes.to_vec();
    spaced[gap.end - 1] = b' ';
    refused(&by_purchaser(&spaced), "form", "the seal's bytes are not lowercase hexadecimal");
    let mut padded = bytes.to_vec();
    padded[gap.end - 1] = b'1';
    refused(&by_purchaser(&padded), "seal", "");
}

#[test]
fn another_key_is_not_the_shop() {
    let demo = Demo::get();
    let (bytes, certificate) = victim();
    refused(&by_purchaser(&forger::reseal(bytes, &stranger())), "issuer", "sealed under root");
    // Drawn anew with the room his own certificates need, nothing else is wrong.
    let forged = forger::sealed(&certificate, &stranger());
    let found = by_purchaser(&forged);
    refused(&found, "issuer", "sealed under root");
    assert_eq!(failed(&found), ["issuer"], "{:?}", demo::unpassed(&found));

    // The forger changes the data as well, and names his own root as the one to compare with.
    let mut lie = certificate;
    lie.purchaser.name = "Orrery Semicon Supply".to_owned();
    lie.seal_fingerprint = stranger().root_fingerprint().unwrap();
    let forged = forger::sealed(&lie, &stranger());
    refused(&by_purchaser(&forged), "issuer", "sealed under root");
    let found = verify(&forged, &Anchor::none(), None);
    assert_eq!(found.overall(), Overall::CouldNotTell, "{:?}", demo::unpassed(&found));
    assert!(said(&found, "issuer").starts_with("not checked: "), "{}", said(&found, "issuer"));
    let found = verify(&forged, &Anchor::none(), Some(&demo::register(&demo.folder)));
    refused(&found, "registered", "with the stamp");
}

/// Somebody's key of the same name.
fn stranger() -> SealKey {
    let world = demo::world(demo::BEGUN, "stranger");
    let mut random = |buffer: &mut [u8]| world.fill(buffer);
    let name = "Larkspur Bright Finishing";
    let keys = seal::create_keys(name, world.now().to_utc(), None, &mut random).unwrap();
    seal::load_key(keys.seal_key_pem.as_bytes(), keys.seal_cert_pem.as_bytes(), None).unwrap()
}

/// From here on the forger has stolen the shop's seal key: the seal proves nothing, the other checks must.
fn stolen() -> SealKey {
    demo::desk(&Demo::get().folder).seal
}

#[test]
fn one_certificates_data_do_not_fit_anothers_page() {
    let demo = Demo::get();
    let (bytes, _) = victim();
    let (_, other) = demo.certificate("L-26-0410");
    let exchanged = forger::with_attachment(bytes, other);
    assert_eq!(read_sealed(&exchanged).unwrap().attachment, read_sealed(other).unwrap().attachment);
    refused(&by_purchaser(&exchanged), "seal", "the file was changed after it was sealed");

    let found = by_purchaser(&forger::reseal(&exchanged, &stolen()));
    refused(&found, "page", "the page drawn from the data is laid out differently");
    assert_eq!(failed(&found), ["page"], "{:?}", demo::unpassed(&found));

    // Two certificates of one slip's halves have pages much alike; their data still do not.
    let (_, first) = demo.certificate("PS-26-0312");
    let (_, second) = demo.certificate("PS-26-0313");
    let exchanged = forger::with_attachment(first, second);
    refused(&by_purchaser(&exchanged), "seal", "the file was changed after it was sealed");
    refused(&by_purchaser(&forger::reseal(&exchanged, &stolen())), "page", "the page");
}

#[test]
fn the_stamp_of_one_cannot_be_printed_on_another() {
    let (bytes, certificate) = victim();
    let (_, other) = Demo::get().certificate("L-26-0410");
    let data = certificate.canonical().unwrap();
    let stamp = brightproof::canonical::stamp(&read_sealed(other).unwrap().attachment);
    let sheet = Sheet { data: &data, stamp: &stamp, paper: Paper::Letter, seal: None };
    let error = demo::renderer().prepare(&sheet).unwrap_err().to_string();
    assert!(error.starts_with("the stamp does not belong to the data"), "{error}");

    // The other's QR symbol and stamp in the page's own bytes: exchanged as streams, and sealed again.
    let exchanged = forger::with_symbol(bytes, other);
    let found = by_purchaser(&forger::reseal(&exchanged, &stolen()));
    refused(&found, "page", "the page");
    assert_eq!(failed(&found), ["page"], "{:?}", demo::unpassed(&found));
}

#[test]
fn a_thief_of_the_key_is_found_by_the_register() {
    let demo = Demo::get();
    let register = demo::register(&demo.folder);
    let (_, certificate) = victim();
    let mut lie = certificate.clone();
    lie.purchaser.name = "Orrery Semicon Supply".to_owned();
    let forged = forger::sealed(&lie, &stolen());
    // Data, page and seal agree: without the register nobody could tell.
    demo::verifies(&by_purchaser(&forged));
    let found = verify(&forged, &demo.anchor(), Some(&register));
    refused(&found, "registered", &format!("the register has {} with the stamp", lie.number));
    assert_eq!(failed(&found), ["registered"]);

    let mut unheard = certificate.clone();
    unheard.number = "LBF-2026-000999".to_owned();
    let found = verify(&forger::sealed(&unheard, &stolen()), &demo.anchor(), Some(&register));
    refused(&found, "registered", "the register has no certificate LBF-2026-000999");

    // The very data, but another file: drawn on other paper the data would differ, so only the seal's bytes can.
    let other_seal = forger::sealed(&certificate, &second_key(&demo.folder));
    demo::verifies(&by_purchaser(&other_seal));
    let found = verify(&other_seal, &demo.anchor(), Some(&register));
    refused(&found, "registered", &format!("the register has another file under {}", certificate.number));
}

/// Another seal key under the shop's own root.
fn second_key(folder: &std::path::Path) -> SealKey {
    let read = |name: &str| std::fs::read(folder.join(name)).unwrap();
    let world = demo::world(demo::BEGUN, "second key");
    let mut random = |buffer: &mut [u8]| world.fill(buffer);
    let (key, root) = (read("keys/root-key.pem"), read("keys/root.pem"));
    let under = seal::Root { certificate: &root, key: seal::KeyFile { file: &key, passphrase: None } };
    let pair = seal::create_seal_key(under, None, world.now().to_utc(), None, &mut random).unwrap();
    seal::load_key(pair.seal_key_pem.as_bytes(), pair.seal_cert_pem.as_bytes(), None).unwrap()
}

#[test]
fn a_thief_of_the_key_cannot_make_the_judge_agree() {
    let (_, certificate) = victim();
    let lie = |change: &dyn Fn(&mut Certificate)| {
        let mut lie = certificate.clone();
        change(&mut lie);
        by_purchaser(&forger::sealed(&lie, &stolen()))
    };
    refused(
        &lie(&|c| {
            let at = c.lots[0].findings.iter().position(|f| f.observed.is_some()).unwrap();
            c.lots[0].findings[at].observed = Some("better than it was".to_owned());
        }),
        "judgement",
        "the findings do not follow from the recorded data",
    );
    refused(
        &lie(&|c| drop(c.lots[0].findings.pop())),
        "judgement",
        "the findings do not follow from the recorded data",
    );
    refused(&lie(&|c| c.lots[0].quantity += 1), "judgement", "the shipment's line does not follow");
    refused(
        &lie(&|c| c.lots[0].material.grade = "316L".to_owned()),
        "judgement",
        "what is printed does not follow",
    );
    refused(&lie(&|c| c.shipment.lines[0].quantity += 1), "judgement", "the shipment's line does not follow");
    refused(
        &lie(&|c| c.shipment.lines[0].part = "7731-04".to_owned()),
        "judgement",
        "the shipment's line does not follow",
    );
    refused(&lie(&|c| c.register.size += 1), "head", "it is about another head");
    refused(&lie(&|c| c.register.root = "0".repeat(64)), "head", "it is about another head");
    let found = lie(&|c| c.issued = "2026-09-30T08:00:00-05:00".to_owned());
    refused(&found, "issuer", "before its certificate began");
}
