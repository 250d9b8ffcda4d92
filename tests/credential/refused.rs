//! What gets no credential, and what is not in one.

use std::fs;
use std::path::Path;
use std::sync::atomic::AtomicUsize;
use std::sync::atomic::Ordering;

use brightproof::app::issue::Target;
use brightproof::app::keys;
use brightproof::app::lookup;
use brightproof::folder::Folder;
use serde_json::Value;

use super::golden;
use super::pairs;
use super::write;
use crate::demo;
use crate::demo::Demo;
use crate::support;

/// A lot of a controlled part.
const CONTROLLED: &str = "L-26-0502";
/// A lot of an order that discloses nothing.
const CLOSED: &str = "L-26-0501";
/// Everyone of the invented shop but who releases and is its published contact.
const PEOPLE: [&str; 7] = ["Medlar", "Quince", "Bramble", "Sedge", "Teasel", "Tansy", "Yarrow"];

/// What refuses the credential of a certificate; nothing is written then.
fn refused(shop: &Path, number: &str) -> String {
    static FOLDERS: AtomicUsize = AtomicUsize::new(0);
    let nth = FOLDERS.fetch_add(1, Ordering::Relaxed);
    let folder = demo::fresh(&format!("credential-refused-{nth}"));
    let why = write(shop, number, &folder.join("c.json")).unwrap_err().to_string();
    assert_eq!(fs::read_dir(folder).unwrap().count(), 0, "{why}");
    why
}

#[test]
fn nothing_of_a_controlled_lot_and_nothing_withheld() {
    let shop = demo::fresh("credential-controlled");
    demo::begin(&shop, "credential-controlled");
    let world = demo::world(demo::ISSUED, "credential-controlled");
    let lots = [CONTROLLED, CLOSED, demo::SMALL_LOT].map(|lot| Target::Lot(lot.to_owned()));
    let numbers = demo::issue_all(&mut demo::desk(&shop), &lots, &world);
    assert_eq!(refused(&shop, &numbers[0]), format!("{} is not handed out: controlled", numbers[0]));

    let file = shop.join("c.json");
    write(&shop, &numbers[1], &file).unwrap();
    let text = fs::read_to_string(&file).unwrap();
    let dossier = support::dossier(CLOSED);
    let record = serde_json::to_string(&dossier.record).unwrap();
    for person in PEOPLE {
        assert!(!text.contains(person), "{person}");
    }
    assert!(PEOPLE.iter().any(|person| record.contains(person)), "the record has names to tell");
    let data: Value = super::data(&demo::file(&shop, &numbers[1]));
    assert!(!text.contains(data["salt"].as_str().unwrap()), "the salt");
    let digest = data["lots"][0]["dossier"]["withheld"].as_str().unwrap();
    assert!(!text.contains(digest), "the digest of what is withheld");
    let credential: Value = serde_json::from_str(&text).unwrap();
    let assessments = credential["credentialSubject"]["conformityAssessment"].as_array().unwrap();
    let told = |what: &str| {
        let seen = assessments.iter().filter_map(|one| one["description"].as_str());
        seen.filter(|seen| seen.contains(what)).count()
    };
    let baths = &dossier.baths;
    for found in baths.iter().flat_map(|b| &b.analyses).flat_map(|a| a.found.values()) {
        assert_eq!(told(&found.to_string()), 0, "{found}");
    }
    for ingredient in baths.iter().flat_map(|b| &b.ingredients) {
        assert_eq!(told(ingredient), 0, "{ingredient}");
    }
    assert!(told("withheld") > 3, "it says that something is withheld");
    let product = &assessments[0]["assessedProduct"][0]["product"];
    assert_eq!(product["characteristics"]["withheld"], data["lots"][0]["withheld"]);

    // Marked after it was issued, and papers that cannot be read.
    write(&shop, &numbers[2], &shop.join("before.json")).unwrap();
    let order = super::data(&demo::file(&shop, &numbers[2]))["shipment"]["lines"][0]["order"].clone();
    let order = shop.join(format!("orders/{}.yaml", order.as_str().unwrap()));
    let text = fs::read_to_string(&order).unwrap();
    fs::write(&order, format!("{text}\ncontrolled: marked since (invented)\n")).unwrap();
    assert!(refused(&shop, &numbers[2]).ends_with("is not handed out: controlled"));
    fs::write(&order, text).unwrap();
    fs::write(shop.join("orders/broken.yaml"), "order: [").unwrap();
    assert!(refused(&shop, &numbers[2]).starts_with("what is controlled cannot be told: "));
}

/// Of all that a credential says, nothing comes from elsewhere than the certificate, but for the words the page names.
#[test]
fn nothing_is_in_it_that_its_purchaser_was_not_shown() {
    for (number, pair) in pairs() {
        let mut shown = pair.data.clone();
        for lot in shown["lots"].as_array_mut().unwrap() {
            lot.as_object_mut().unwrap().remove("dossier");
        }
        let shown = shown.to_string();
        let assessments = pair.credential["credentialSubject"]["conformityAssessment"].as_array().unwrap();
        for one in assessments {
            let said = [
                &one["description"],
                &one["assessmentCriteria"][0]["name"],
                &one["assessmentCriteria"][0]["description"],
                &one["assessedPerformance"][0]["metric"]["name"],
                &one["referenceStandard"][0]["name"],
                &one["referenceStandard"][0]["description"],
                &one["assessedProduct"][0]["product"]["characteristics"]["grade"],
            ];
            for text in said.into_iter().filter(|text| !text.is_null()) {
                assert!(shown.contains(&text.to_string()), "{number}: {text}");
            }
        }
    }
}

#[test]
fn what_was_amended_or_withdrawn_gets_none() {
    let shop = golden("credential-amended");
    let why = refused(&shop, "LBF-2026-000003");
    assert_eq!(why, "LBF-2026-000003 was amended: LBF-2026-000013 replaces it");
    assert_eq!(refused(&shop, "LBF-2026-000099"), "the register has no certificate LBF-2026-000099");
    let number = "LBF-2026-000013";
    write(&shop, number, &shop.join("before.json")).unwrap();
    let world = demo::world("2027-01-02T10:00:00+00:00", "credential-withdrawn");
    lookup::withdraw(&Folder::new(&shop), number, demo::RELEASES, "gauge out", "keep them", &world).unwrap();
    let why = refused(&shop, number);
    let expected =
        "LBF-2026-000013 was withdrawn at 2027-01-02T10:00:00Z (gauge out), and nothing replaces it";
    assert_eq!(why, expected);
    // The one before it leads to the withdrawn one, not to one that stands.
    let why = refused(&shop, "LBF-2026-000003");
    assert_eq!(why, "LBF-2026-000003 was amended: LBF-2026-000013 replaces it, and was withdrawn");
}

#[test]
fn a_file_in_the_way_an_old_register_and_a_key_not_in_force() {
    let demo = Demo::get();
    let (number, _) = demo.certificate(demo::SMALL_LOT);
    let shop = demo.copy("credential-keys");
    let there = shop.join("there.json");
    fs::write(&there, "mine").unwrap();
    let why = write(&shop, number, &there).unwrap_err().to_string();
    assert!(why.ends_with("there.json is there already"), "{why}");
    assert_eq!(fs::read_to_string(&there).unwrap(), "mine");

    // An old copy of the register, put back beside the head that was written last.
    let register = shop.join("register.sqlite");
    let old = fs::read(&register).unwrap();
    let folder = Folder::new(&shop);
    let later = demo::world("2027-01-02T10:00:00+00:00", "credential-keys");
    lookup::withdraw(&folder, number, demo::RELEASES, "mixed up", "keep them", &later).unwrap();
    let new = fs::read(&register).unwrap();
    fs::write(&register, old).unwrap();
    assert!(refused(&shop, number).starts_with("this is not the register written last"));
    fs::write(&register, new).unwrap();
    assert!(refused(&shop, number).contains("was withdrawn at"));

    // Another's key, and one declared compromised.
    let shop = demo.copy("credential-key");
    let own = fs::read(shop.join("keys/register-key.txt")).unwrap();
    let seed = brightproof::checkpoint::SigningKey::from_seed("larkspur.example/register", &[9; 32]).unwrap();
    fs::write(shop.join("keys/register-key.txt"), seed.to_text().as_bytes()).unwrap();
    let why = refused(&shop, number);
    assert!(why.contains("register's key in keys/ is not in force"), "{why}");
    fs::write(shop.join("keys/register-key.txt"), own).unwrap();
    write(&shop, number, &shop.join("c.json")).unwrap();
    let since = "2026-11-20T08:00:00-05:00".parse().unwrap();
    let told = keys::Told { by: demo::RELEASES, why: "a copy was lost" };
    let folder = Folder::new(&shop);
    keys::declare_compromised(&folder, &super::key(&shop).to_string(), &since, told, &later).unwrap();
    assert_eq!(refused(&shop, number), "the register's key is declared compromised");
}

/// The stored file and data are what the entry says, or nothing is signed for.
#[test]
fn a_register_whose_copy_was_changed_is_not_signed_for() {
    let demo = Demo::get();
    let (number, _) = demo.certificate(demo::SMALL_LOT);
    let shop = demo.copy("credential-changed");
    let register = rusqlite::Connection::open(shop.join("register.sqlite")).unwrap();
    let triggers: Vec<String> = register
        .prepare("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        .unwrap()
        .query_map([], |row| row.get(0))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    for trigger in triggers {
        register.execute(&format!("DROP TRIGGER {trigger}"), []).unwrap();
    }
    let changed = register.execute("UPDATE certificate SET pdf = x'00' WHERE number = ?1", [number]).unwrap();
    drop(register);
    assert!(changed > 0);
    let why = refused(&shop, number);
    assert_eq!(why, format!("what the register keeps of {number} is not what its entry says"));
}
