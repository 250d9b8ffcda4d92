//! Certificates and registers that do not belong together: withdrawn, replaced, rolled back, rewritten, another's.

use std::fs;
use std::path::Path;

use brightproof::app::delivery;
use brightproof::app::delivery::Reissue;
use brightproof::app::delivery::Which;
use brightproof::app::desk::files;
use brightproof::app::issue;
use brightproof::app::issue::Target;
use brightproof::app::lookup;
use brightproof::app::lookup::AmendRequest;
use brightproof::app::lookup::Amended;
use brightproof::app::verify;
use brightproof::app::verify::Overall;
use brightproof::certificate::AmendmentKind;
use brightproof::folder::Folder;
use brightproof::register::Kind;
use brightproof::register::NewCertificate;
use brightproof::register::NewEntry;
use brightproof::register::Register;
use serde_json::json;

use super::failed;
use super::refused;
use crate::demo;
use crate::demo::Demo;
use crate::demo::said;

fn lot(name: &str) -> [Target; 1] {
    [Target::Lot(name.to_owned())]
}

#[test]
fn a_withdrawn_certificate_does_not_stand() {
    let demo = Demo::get();
    let folder = demo.copy("tamper-withdrawn");
    let (number, bytes) = demo.certificate(demo::SMALL_LOT);
    let world = demo::world(demo::AFTER, "withdraw");
    lookup::withdraw(
        &Folder::new(&folder),
        number,
        "M. Sorrel",
        "mixed up with another lot",
        "send back",
        &world,
    )
    .unwrap();
    let register = demo::register(&folder);
    let found = demo::verify(bytes, &demo.anchor(), Some(&register));
    refused(&found, "current", "it was withdrawn at 2026-11-24T22:00:00Z: mixed up with another lot");
    assert_eq!(failed(&found), ["current"]);
    let paper = verify::paper(number, found.stamp.as_ref().unwrap(), &register).unwrap();
    refused(&paper, "current", "it was withdrawn");
    // Whoever has no register cannot know, and is told so.
    let found = demo::verify(bytes, &demo.anchor(), None);
    demo::verifies(&found);
    assert!(said(&found, "register").contains("amendments and withdrawals are not known"));
}

#[test]
fn an_amended_certificate_does_not_stand() {
    let demo = Demo::get();
    let folder = demo.copy("tamper-amended");
    let (number, bytes) = demo.certificate(demo::SMALL_LOT);
    let file = format!("lots/{}.yaml", demo::SMALL_LOT);
    let text = fs::read_to_string(folder.join(&file)).unwrap();
    fs::write(folder.join(&file), format!("{text}remarks: packed in two crates\n")).unwrap();
    let mut desk = demo::desk(&folder);
    let request =
        AmendRequest { number, by: demo::RELEASES, why: "remark left out", kind: AmendmentKind::Clerical };
    let amended = lookup::amend(&mut desk, &request, &demo::world(demo::AFTER, "amend")).unwrap();
    let Amended::New { number: new, .. } = amended else { panic!("held") };
    let register = demo::register(&folder);
    let found = demo::verify(bytes, &demo.anchor(), Some(&register));
    refused(&found, "current", &format!("it was replaced by {new}"));
    assert_eq!(failed(&found), ["current"]);
    let file = issue::write_out(&desk, &new, None).unwrap();
    let found = demo::verify(&fs::read(file).unwrap(), &demo.anchor(), Some(&register));
    demo::verifies(&found);
}

/// A shop with one certificate, two reissues of it, and a second certificate that has seen them; and the register as it
/// was after the first.
struct Past {
    folder: std::path::PathBuf,
    root: String,
    second: Vec<u8>,
    number: String,
}

const LATER: &str = "2026-11-24T18:00:00-05:00";

impl Past {
    fn new(name: &str) -> Past {
        let folder = demo::fresh(name);
        let root = demo::begin(&folder, name);
        let world = demo::world(demo::ISSUED, "first");
        let first = demo::issue_all(&mut demo::desk(&folder), &lot(demo::SMALL_LOT), &world);
        fs::copy(folder.join(files::REGISTER), folder.join("after-first.sqlite")).unwrap();
        reissue(&folder, &first[0], "the courier lost it");
        reissue(&folder, &first[0], "lost once more");
        let world = demo::world(LATER, "second");
        let second = demo::issue_all(&mut demo::desk(&folder), &lot("L-26-0410"), &world);
        let number = second[0].clone();
        let past = Past { root, second: demo::file(&folder, &number), folder, number };
        demo::verifies(&past.verify(&demo::register(&past.folder)));
        past
    }

    fn verify(&self, register: &Register) -> verify::Verification {
        demo::verify(&self.second, &verify::Anchor::read(&self.root).unwrap(), Some(register))
    }

    /// Puts the old register back, and forgets the head kept outside.
    fn roll_back(&self) {
        fs::copy(self.folder.join("after-first.sqlite"), self.folder.join(files::REGISTER)).unwrap();
        let refused = demo::desk(&self.folder).register.begin("2026-11-24T23:30:00Z").map(drop).unwrap_err();
        let words = "this register is not the one written last, so nothing is added";
        assert!(refused.to_string().starts_with(words), "{refused}");
        fs::remove_file(self.folder.join(files::HEAD)).unwrap();
    }
}

fn reissue(folder: &Path, number: &str, why: &str) {
    let world = demo::world(demo::AFTER, "reissue");
    let (shop, out) = (Folder::new(folder), folder.join("sent"));
    let (by, to) = ("D. Yarrow", "Halyard Aerostructures");
    let request = Reissue { by, to, why, how: None, approved_by: Some("M. Sorrel"), out: &out };
    delivery::reissue(&shop, &Which::Number(number), &request, &world).unwrap();
}

#[test]
fn a_register_rolled_back_does_not_know_the_certificate() {
    let past = Past::new("tamper-rolled-back");
    past.roll_back();
    let found = past.verify(&demo::register(&past.folder));
    refused(&found, "registered", &format!("the register has no certificate {}", past.number));

    // Issued again by the rolled-back register, the number is there, but neither its stamp nor its history fits.
    let world = demo::world(LATER, "second");
    let again = demo::issue_all(&mut demo::desk(&past.folder), &lot("L-26-0410"), &world);
    assert_eq!(again, [past.number.as_str()]);
    let found = past.verify(&demo::register(&past.folder));
    refused(&found, "registered", &format!("the register has {} with the stamp", past.number));
    refused(&found, "history", ROLLED_BACK);
}

#[test]
fn a_register_older_than_the_head_a_certificate_carries_was_rolled_back() {
    let past = Past::new("tamper-older");
    past.roll_back();
    put_in(&past);
    only_history_fails(&past, ROLLED_BACK);
}

#[test]
fn a_certificate_cannot_have_seen_what_came_after_it() {
    let past = Past::new("tamper-newer");
    past.roll_back();
    reissue(&past.folder, "LBF-2026-000001", "the courier lost it");
    put_in(&past);
    only_history_fails(&past, "the certificate carries a head newer than its own entry");
}

#[test]
fn a_rewritten_history_is_not_the_one_a_certificate_witnessed() {
    let past = Past::new("tamper-rewritten");
    past.roll_back();
    reissue(&past.folder, "LBF-2026-000001", "nobody lost anything");
    reissue(&past.folder, "LBF-2026-000001", "still not");
    put_in(&past);
    assert!(demo::register(&past.folder).audit().unwrap().is_sound());
    only_history_fails(&past, "the register's history was rewritten since this certificate was issued");
}

const ROLLED_BACK: &str = "the register is older than the head this certificate carries: it was rolled back";

/// The register has the very file, as current; what went before it is not what the certificate saw.
fn only_history_fails(past: &Past, words: &str) {
    let found = past.verify(&demo::register(&past.folder));
    refused(&found, "history", words);
    assert_eq!(failed(&found), ["history"], "{:?}", demo::unpassed(&found));
    assert_eq!((said(&found, "registered"), said(&found, "current")), ("pass".into(), "pass".into()));
}

/// The holder of all keys puts the second certificate, as it was issued, into the register there is now.
fn put_in(past: &Past) {
    let mut desk = demo::desk(&past.folder);
    let data = brightproof::pdf::read_sealed(&past.second).unwrap().attachment;
    let new = NewCertificate {
        evidence: None,
        number: past.number.clone(),
        stamp: brightproof::canonical::stamp(&data),
        data,
        pdf: past.second.clone(),
        input_digest: "any".to_owned(),
        shipment_key: "lot L-26-0410".to_owned(),
        facets: Vec::new(),
        pieces: vec![("L-26-0410".to_owned(), 1)],
        accepted: vec![("L-26-0410".to_owned(), 1)],
        signer: demo::RELEASES.to_owned(),
        uses: Vec::new(),
    };
    let entry = NewEntry {
        kind: Kind::Issue,
        number: Some(past.number.clone()),
        replaces: None,
        detail: json!({}),
        salt: [1; 32],
    };
    let mut tx = desk.register.begin("2026-11-24T23:00:00Z").unwrap();
    tx.append(entry, Some(new)).unwrap();
    tx.commit(&brightproof::app::desk::sign_head(&desk.signer)).unwrap();
}

#[test]
fn anothers_register_of_the_same_name_is_not_the_shops() {
    let demo = Demo::get();
    let past = Past::new("tamper-anothers");
    let found =
        demo::verify(demo.certificate("PS-26-0311").1, &demo.anchor(), Some(&demo::register(&past.folder)));
    assert_eq!(found.overall(), Overall::DoesNotVerify);
    refused(&found, "registered", "with the stamp");
    refused(&found, "history", "the register's head is not signed by the key the certificate names");
}
