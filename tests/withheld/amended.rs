//! Amending a certificate that withholds something: compared whole, told without the values.

use std::path::Path;

use brightproof::app::issue;
use brightproof::app::lookup;
use brightproof::app::lookup::AmendRequest;
use brightproof::app::lookup::Amended;
use brightproof::app::verify::Anchor;
use brightproof::certificate::AmendmentKind;
use brightproof::certificate::Datum;

use super::CLOSED;
use super::Shop;
use crate::demo;
use crate::tamper::forger;

fn copied(name: &str) -> std::path::PathBuf {
    let folder = demo::fresh(name);
    demo::copy(&Shop::get().folder, &folder);
    folder
}

fn amend(folder: &Path, kind: AmendmentKind) -> (Vec<String>, Vec<u8>) {
    amend_lot(folder, CLOSED, kind)
}

fn amend_lot(folder: &Path, lot: &str, kind: AmendmentKind) -> (Vec<String>, Vec<u8>) {
    let mut desk = demo::desk(folder);
    let number = &Shop::get().numbers[lot];
    let request = AmendRequest { number, by: demo::RELEASES, why: "misread", kind };
    match lookup::amend(&mut desk, &request, &demo::world(demo::AFTER, "amended")) {
        Ok(Amended::New { number, changed, .. }) => {
            issue::write_out(&desk, &number, None).unwrap();
            (changed.iter().map(lookup::words).collect(), demo::file(folder, &number))
        }
        Ok(Amended::Held(_)) => panic!("held"),
        Err(error) => panic!("{error}"),
    }
}

#[test]
fn the_change_is_told_without_what_it_was() {
    let folder = copied("withheld-amended");
    demo::correct(&folder, &format!("lots/{CLOSED}.yaml"), "temperature: 78 °F", "temperature: 79 °F");
    let (changed, file) = amend(&folder, AmendmentKind::Conformity);
    let place = "lot L-26-0501: run 1, passivate, temperature: changed; both values are withheld";
    assert!(changed.iter().any(|c| c == place), "{changed:?}");
    let all = changed.join("\n");
    assert!(!all.contains("Sorrel") && !all.contains("withheld: `"), "{all}");
    let anchor = Anchor::read(&Shop::get().root).unwrap();
    demo::verifies(&demo::verify(&file, &anchor, Some(&demo::register(&folder))));
    let data = serde_json::to_string(&forger::certificate(&file).lots).unwrap();
    assert!(!data.contains("Sorrel"), "who corrected is a function");
}

/// Disclosing more is no change in what the parts were judged by.
#[test]
fn disclosing_more_is_clerical() {
    let folder = copied("withheld-disclosed");
    let file = folder.join("orders/QI-88401.yaml");
    let text = std::fs::read_to_string(&file).unwrap();
    std::fs::write(&file, text + "discloses: { bath_chemistry: yes, names: yes, scrap: yes, record: yes }\n")
        .unwrap();
    let (changed, file) = amend(&folder, AmendmentKind::Clerical);
    assert_eq!(changed, ["lot L-26-0501: what is disclosed, or its control marking changed"]);
    let certificate = forger::certificate(&file);
    assert!(matches!(certificate.lots[0].dossier, Datum::Disclosed(_)));
    let anchor = Anchor::read(&Shop::get().root).unwrap();
    demo::verifies(&demo::verify(&file, &anchor, None));
}

/// Nothing changed: the fresh salt of a new digest is no change.
#[test]
fn nothing_changed_is_told() {
    let folder = copied("withheld-same");
    let number = &Shop::get().numbers[CLOSED];
    let request = AmendRequest { number, by: demo::RELEASES, why: "why not", kind: AmendmentKind::Clerical };
    let world = demo::world(demo::AFTER, "same");
    let error = lookup::amend(&mut demo::desk(&folder), &request, &world).err().unwrap();
    assert!(error.to_string().contains("has changed"), "{error}");
}

/// What the notice and the new certificate print names nobody whom the order withholds, whoever typed it.
#[test]
fn a_reason_that_names_somebody_is_sent_back() {
    let folder = copied("withheld-reason");
    let number = &Shop::get().numbers[CLOSED];
    let world = demo::world(demo::AFTER, "reason");
    let shop = brightproof::folder::Folder::new(&folder);
    let size = || demo::register(&folder).head().unwrap().size;
    let before = size();
    for (why, parts) in [("M. Sorrel misread it", "hold them"), ("misread", "ask m. sorrel what to do")] {
        let refused = lookup::withdraw(&shop, number, demo::RELEASES, why, parts, &world).err().unwrap();
        let said = refused.to_string();
        assert!(said.contains("the reason of the withdrawal names M. Sorrel"), "{said}");
        assert!(refused.hint().unwrap().contains("say it without the name"));
    }
    demo::correct(&folder, &format!("lots/{CLOSED}.yaml"), "temperature: 78 °F", "temperature: 79 °F");
    let mut desk = demo::desk(&folder);
    let kind = AmendmentKind::Conformity;
    let request = AmendRequest { number, by: demo::RELEASES, why: "M. Sorrel misread it", kind };
    let refused = lookup::amend(&mut desk, &request, &world).err().unwrap().to_string();
    assert!(refused.contains("the reason of the amendment names M. Sorrel"), "{refused}");
    assert_eq!(size(), before);
    // Where names are disclosed it is as the shop likes it.
    let open = &Shop::get().numbers[super::OPEN];
    lookup::withdraw(&shop, open, demo::RELEASES, "M. Sorrel misread it", "hold them", &world).unwrap();
    lookup::withdraw(&shop, number, demo::RELEASES, "misread", "hold them", &world).unwrap();
    assert_eq!(size(), before + 2);
}

/// The drawing became controlled after the certificate went out: the new one shows less, the old one is out there.
#[test]
fn withholding_more_takes_it_out_of_the_new_one() {
    let folder = copied("withheld-more");
    let old = forger::certificate(&demo::file(&folder, &Shop::get().numbers[super::OPEN]));
    assert!(matches!(old.lots[0].dossier, Datum::Disclosed(_)));
    let order = folder.join(format!("orders/{}.yaml", old.shipment.lines[0].order));
    let text = std::fs::read_to_string(&order).unwrap();
    std::fs::write(&order, format!("{text}controlled: \"{}\"\n", super::MARKING)).unwrap();
    let (changed, bytes) = amend_lot(&folder, super::OPEN, AmendmentKind::Clerical);
    let told: Vec<&String> = changed.iter().filter(|c| c.contains("what is disclosed")).collect();
    assert_eq!(told.len(), 1, "{changed:?}");
    let new = forger::certificate(&bytes);
    assert!(matches!(new.lots[0].dossier, Datum::Withheld(_)));
    assert_eq!(new.controlled.as_deref(), Some(super::MARKING));
    let anchor = Anchor::read(&Shop::get().root).unwrap();
    demo::verifies(&demo::verify(&bytes, &anchor, Some(&demo::register(&folder))));
}

/// A controlled lot's amendment says that something changed, and neither value, though its order discloses all.
#[test]
fn a_controlled_lot_is_amended_without_its_values() {
    let folder = copied("withheld-controlled");
    let lot = super::CONTROLLED;
    let file = format!("lots/{lot}.yaml");
    let text = std::fs::read_to_string(folder.join(&file)).unwrap();
    let line = text.lines().find(|l| l.contains("temperature: ")).unwrap();
    let from = line[line.find("temperature: ").unwrap()..].split(',').next().unwrap().to_owned();
    let figure: u32 = from.chars().filter(char::is_ascii_digit).collect::<String>().parse().unwrap();
    let to = from.replace(&figure.to_string(), &(figure + 1).to_string());
    demo::correct(&folder, &file, &from, &to);
    let (changed, bytes) = amend_lot(&folder, lot, AmendmentKind::Conformity);
    assert!(changed.iter().any(|c| c.ends_with("changed; both values are withheld")), "{changed:?}");
    let new = forger::certificate(&bytes);
    assert_eq!(new.controlled.as_deref(), Some(super::MARKING));
    let replaces = serde_json::to_string(&new.replaces).unwrap();
    assert!(!replaces.contains(&format!("{figure} °")), "{replaces}");
    let anchor = Anchor::read(&Shop::get().root).unwrap();
    demo::verifies(&demo::verify(&bytes, &anchor, Some(&demo::register(&folder))));
    // And it goes into no export, neither the old nor the new.
    let book = brightproof::app::book::Book::open(brightproof::folder::Folder::new(&folder)).unwrap();
    let out = folder.join("export");
    let done = brightproof::app::portable::export(&book, &demo::register(&folder), &[], &out).unwrap();
    for number in [&new.number, &Shop::get().numbers[lot]] {
        assert_eq!(done.withheld[number], "controlled");
    }
}
