//! Releasing in two steps: who may, known how, and what a certificate then says. The attacks are those of somebody at
//! the shop's own keyboard.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops at the first surprise")]

mod attacks;
mod command;
mod forged;

use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::sync::OnceLock;

use brightproof::app::desk::Desk;
use brightproof::app::issue;
use brightproof::app::issue::Came;
use brightproof::app::issue::Outcome;
use brightproof::app::issue::Target;
use brightproof::app::lookup;
use brightproof::app::lookup::AmendRequest;
use brightproof::app::lookup::Amended;
use brightproof::app::release;
use brightproof::app::release::Authenticated;
use brightproof::app::release::Look;
use brightproof::app::release::Office;
use brightproof::app::release::auth;
use brightproof::app::release::auth::Old;
use brightproof::app::world::World;
use brightproof::certificate::AmendmentKind;
use brightproof::certificate::Certificate;
use brightproof::certificate::Thing;
use brightproof::folder::Folder;
use brightproof::register::Asked;
use brightproof::register::Kind;

use crate::demo;
use crate::tamper::forger;

const LOT: &str = demo::SMALL_LOT;
const QUEUED: &str = "queue/lot_L-26-0411.json";
/// Invented, like the people.
const SECRETS: [(&str, &str); 3] = [
    ("M. Sorrel", "lantern gravel osprey tin"),
    ("R. Medlar", "saddle orchid number fog"),
    ("T. Quince", "kettle moss ninety yarn"),
];
const TWO: &str = "release: { preparer_may_release: false, authentication: passphrase }\n";

fn secret(person: &str) -> &'static str {
    SECRETS.iter().find(|(name, _)| *name == person).unwrap().1
}

/// A shop of its own for one test, with this policy; three people have passphrases.
fn shop(name: &str, policy: &str) -> PathBuf {
    static BASE: OnceLock<PathBuf> = OnceLock::new();
    let base = BASE.get_or_init(|| {
        let folder = demo::fresh("release-base");
        demo::begin(&folder, "release");
        let mut desk = demo::desk(&folder);
        for (person, secret) in SECRETS {
            let world = demo::world(demo::BEGUN, person);
            auth::set(&mut desk, person, secret.as_bytes(), Old::None, &world).unwrap();
        }
        folder
    });
    let folder = demo::fresh(name);
    demo::copy(base, &folder);
    let file = folder.join("shop.yaml");
    fs::write(&file, format!("{}{policy}", fs::read_to_string(&file).unwrap())).unwrap();
    folder
}

fn world(at: &str) -> World<'static> {
    demo::world(at, at)
}

/// Later moments of the day of issue.
fn minute(minute: u32) -> String {
    format!("2026-11-24T18:{minute:02}:00-05:00")
}

/// Checks a passphrase at a moment.
fn known_at(folder: &Path, person: &str, given: &str, at: &str) -> Result<Authenticated, String> {
    let mut office = Office::open(Folder::new(folder)).unwrap();
    let Office { book, register, signer } = &mut office;
    auth::authenticate(&book.folder, register, signer, (person, given.as_bytes()), &world(at))
        .map_err(|e| e.to_string())
}

/// A person who gave the own passphrase. Checked once: each check costs what a guess costs.
fn known(person: &str) -> Authenticated {
    static KNOWN: OnceLock<Vec<Authenticated>> = OnceLock::new();
    let all = KNOWN.get_or_init(|| {
        let folder = shop("release-known", TWO);
        SECRETS.iter().map(|(name, given)| known_at(&folder, name, given, demo::ISSUED).unwrap()).collect()
    });
    all.iter().find(|known| known.person() == person).unwrap().clone()
}

fn prepare(folder: &Path, targets: &[Target], by: &Authenticated, at: &str) -> Vec<String> {
    let mut office = Office::open(Folder::new(folder)).unwrap();
    match issue::prepare(&mut office, targets, by, &world(at), &|| {}) {
        Err(error) => vec![error.to_string()],
        Ok(all) => all
            .into_iter()
            .map(|one| match one {
                Came::Queued { file, .. } => file,
                Came::Certified { number } => format!("certified by {number}"),
                Came::Held(_) => "held".to_owned(),
                Came::Failed(error) => error.to_string(),
            })
            .collect(),
    }
}

fn lot() -> [Target; 1] {
    [Target::Lot(LOT.to_owned())]
}

fn review(desk: &Desk) -> Vec<Look> {
    release::review(desk, &[], &world(demo::ISSUED)).unwrap()
}

fn word(outcome: Outcome) -> String {
    match outcome {
        Outcome::Issued { number, .. } => format!("issued {number}"),
        Outcome::Again { number, .. } => format!("again {number}"),
        Outcome::Held(_) => "held".to_owned(),
        Outcome::Failed(error) | Outcome::Unwritten { error, .. } => error.to_string(),
    }
}

/// Releases all that waits; what came of it, in words.
fn release_all(folder: &Path, by: &Authenticated, at: &str) -> Vec<String> {
    let mut desk = demo::desk(folder);
    let looks = review(&desk);
    match release::release(&mut desk, looks, by, None, &world(at)) {
        Ok(all) => all.into_iter().map(word).collect(),
        Err(error) => vec![error.to_string()],
    }
}

fn withdraw(folder: &Path, number: &str, at: &str) {
    let folder = Folder::new(folder);
    lookup::withdraw(&folder, number, "M. Sorrel", "a trial", "hold them", &world(at)).unwrap();
}

fn issued(folder: &Path, number: &str) -> Certificate {
    forger::certificate(&demo::file(folder, number))
}

/// Verifies against the shop's own root and register.
fn verifies(folder: &Path, number: &str) {
    let anchor = brightproof::app::verify::Anchor::read(folder.join("keys/root.pem").to_str().unwrap());
    let register = demo::register(folder);
    demo::verifies(&demo::verify(&demo::file(folder, number), &anchor.unwrap(), Some(&register)));
    assert_eq!(register.audit().unwrap().problems, []);
}

#[test]
fn two_people_release_a_shipment() {
    let folder = shop("release-two", &format!("{TWO}wet_signature_line: true\n"));
    let slip = Target::Slip("PS-26-0314".to_owned());
    let held = Target::Slip("PS-26-0317".to_owned());
    let came = prepare(&folder, &[lot()[0].clone(), slip, held], &known("T. Quince"), demo::ISSUED);
    assert_eq!(came, [QUEUED, "queue/slip_PS-26-0314.json", "held"]);
    assert_eq!(demo::register(&folder).of_kind(Kind::Preparation).unwrap().len(), 2);

    let came = release_all(&folder, &known("M. Sorrel"), &minute(0));
    assert_eq!(came, ["issued LBF-2026-000001", "issued LBF-2026-000002"]);
    assert!(!folder.join(QUEUED).exists());
    for number in ["LBF-2026-000001", "LBF-2026-000002"] {
        verifies(&folder, number);
        let certificate = issued(&folder, number);
        let signed: Vec<[&str; 5]> = certificate
            .signatures
            .iter()
            .map(|s| [&*s.person, &*s.function, &*s.meaning, &*s.authenticated, &*s.at])
            .collect();
        let prepared = "own passphrase, verified when prepared";
        let released = "own passphrase, verified at release";
        let at = minute(0);
        assert_eq!(
            signed,
            [
                ["T. Quince", "operator", "prepared", prepared, demo::ISSUED],
                ["M. Sorrel", "quality manager", "released for shipment", released, &at]
            ]
        );
        assert!(certificate.hand_signature.is_some());
    }
    // Whoever prepared is found by what rests on a person.
    let register = demo::register(&folder);
    let asked = Asked { thing: Thing::Person, name: "T. Quince".to_owned(), from: None, to: None };
    let rests = register.resting_on(&asked).unwrap();
    let how: Vec<&str> = rests.iter().flat_map(|r| &r.uses).map(|u| u.how.as_str()).collect();
    assert!(how.contains(&"prepared the certificate"), "{how:?}");
    // The register says the same as the page.
    let entry = register.history("LBF-2026-000001").unwrap().remove(0);
    assert_eq!(entry.detail["by"], "M. Sorrel");
    assert_eq!(entry.detail["authenticated"], "own passphrase, verified at release");
    assert_eq!(entry.detail["prepared"]["by"], "T. Quince");
    // What is certified is not prepared again.
    let came = prepare(&folder, &lot(), &known("T. Quince"), &minute(1));
    assert_eq!(came, ["certified by LBF-2026-000001"]);
    assert_eq!(release_all(&folder, &known("M. Sorrel"), &minute(2)), [] as [String; 0]);
}

/// Without a policy everything is as it was, and preparing is there for whoever wants it.
#[test]
fn a_shop_that_says_nothing_may_do_either() {
    let folder = shop("release-either", "");
    let by = Authenticated::named("M. Sorrel");
    assert_eq!(prepare(&folder, &lot(), &by, demo::ISSUED), [QUEUED]);
    assert_eq!(release_all(&folder, &by, demo::ISSUED), ["issued LBF-2026-000001"]);
    let certificate = issued(&folder, "LBF-2026-000001");
    let how: Vec<&str> = certificate.signatures.iter().map(|s| s.authenticated.as_str()).collect();
    assert_eq!(
        how,
        ["named at the keyboard when prepared", "named at the keyboard by whoever holds the shop's seal key"]
    );
    assert_eq!((certificate.release, certificate.hand_signature), (None, None));
    verifies(&folder, "LBF-2026-000001");
}

#[test]
fn one_person_with_the_own_passphrase() {
    let policy = "release: { preparer_may_release: true, authentication: passphrase }\n";
    let folder = shop("release-one", policy);
    // A name is enough to prepare, where one person may do both.
    assert_eq!(prepare(&folder, &lot(), &Authenticated::named("R. Medlar"), demo::ISSUED), [QUEUED]);
    let refused = release_all(&folder, &Authenticated::named("R. Medlar"), demo::ISSUED);
    assert_eq!(refused, ["shop.yaml asks for the releaser's own passphrase, and R. Medlar gave none"]);
    let came = release_all(&folder, &known("R. Medlar"), demo::ISSUED);
    assert_eq!(came, ["issued LBF-2026-000001"]);
    verifies(&folder, "LBF-2026-000001");
}

#[test]
fn an_amendment_has_the_same_hands() {
    let folder = shop("release-amend", TWO);
    prepare(&folder, &lot(), &known("T. Quince"), demo::ISSUED);
    release_all(&folder, &known("M. Sorrel"), demo::ISSUED);
    demo::correct(&folder, &format!("lots/{LOT}.yaml"), "H2250", "H2251");
    let kind = AmendmentKind::Clerical;
    let request = AmendRequest { number: "LBF-2026-000001", by: "M. Sorrel", why: "misread", kind };
    let amend = |by: &Authenticated, prepared: Option<&Authenticated>| {
        let came = lookup::amend_signed(&mut demo::desk(&folder), &request, by, prepared, &world(&minute(3)));
        match came {
            Ok(Amended::New { number, .. }) => number,
            Ok(Amended::Held(_)) => "held".to_owned(),
            Err(error) => error.to_string(),
        }
    };
    let (sorrel, quince) = (known("M. Sorrel"), known("T. Quince"));
    let named = Authenticated::named;
    assert!(amend(&named("M. Sorrel"), Some(&quince)).contains("M. Sorrel gave none"));
    assert!(amend(&sorrel, None).contains("asks for two people"));
    assert!(amend(&sorrel, Some(&sorrel)).contains("may not release it too"));
    assert!(amend(&sorrel, Some(&named("T. Quince"))).contains("T. Quince gave none"));
    assert!(amend(&quince, Some(&sorrel)).contains("T. Quince may not release shipments"));
    assert!(lookup::amend(&mut demo::desk(&folder), &request, &world(&minute(3))).is_err());
    assert_eq!(amend(&sorrel, Some(&quince)), "LBF-2026-000002");
    let certificate =
        forger::certificate(&demo::register(&folder).certificate("LBF-2026-000002").unwrap().unwrap().pdf);
    assert_eq!(certificate.signatures.len(), 2);
    assert_eq!(certificate.signatures[0].person, "T. Quince");
}
