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
    let mut desk = demo::desk(folder);
    let number = &Shop::get().numbers[CLOSED];
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
