//! Handing the evidence out.

use std::fs;

use brightproof::app::evidence;
use brightproof::app::issue;
use brightproof::app::issue::Outcome;
use brightproof::app::issue::Target;
use brightproof::certificate::Evidence;
use brightproof::folder::Folder;

use super::CLOSED;
use super::OPEN;
use super::Shop;
use crate::demo;

#[test]
fn it_is_handed_out_once_to_a_new_private_file() {
    let shop = Shop::get();
    let folder = Folder::new(&shop.folder);
    let out = demo::fresh("withheld-out").join("evidence.json");
    let number = &shop.numbers[CLOSED];
    let handed = evidence::hand_out(&folder, number, &out).unwrap();
    assert_eq!((&handed.number, handed.lots), (number, vec![CLOSED.to_owned()]));
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        assert_eq!(fs::metadata(&out).unwrap().permissions().mode() & 0o777, 0o600);
    }
    let bytes = fs::read(&out).unwrap();
    let read = Evidence::parse(&bytes).unwrap();
    assert_eq!(read, shop.evidence(CLOSED));
    assert_eq!(read.stamp, brightproof::canonical::stamp(&shop.certificate(CLOSED).canonical().unwrap()));
    assert_eq!(evidence::read(std::slice::from_ref(&out)).unwrap(), [read]);
    let told = |result: Result<evidence::Handed, brightproof::app::error::Error>| match result {
        Ok(_) => panic!("handed out"),
        Err(error) => error.to_string(),
    };
    assert!(told(evidence::hand_out(&folder, number, &out)).contains("is there already"));
    let other = out.with_file_name("other.json");
    assert!(told(evidence::hand_out(&folder, &shop.numbers[OPEN], &other)).contains("withholds nothing"));
    assert!(told(evidence::hand_out(&folder, "LBF-2026-000999", &other)).contains("has no certificate"));
    assert!(!other.exists());
    fs::write(&other, b"{}").unwrap();
    assert!(evidence::read(&[other]).unwrap_err().to_string().contains("other.json"));
}

/// A name in the shop's own words of somebody the dossier does not tell of: refused, not printed.
#[test]
fn a_name_nobody_could_mask_is_not_certified() {
    let folder = demo::fresh("withheld-named");
    demo::begin(&folder, "withheld-named");
    demo::change(&folder, &format!("lots/{CLOSED}.yaml"), "seen by Medlar and T. Quince", "seen by S. Sedge");
    let world = demo::world(demo::ISSUED, "withheld-named");
    let mut desk = demo::desk(&folder);
    let targets = [Target::Lot(CLOSED.to_owned())];
    let outcomes = issue::issue(&mut desk, &targets, demo::RELEASES, None, &world, &|| {}).unwrap();
    let Outcome::Failed(error) = &outcomes[0] else { panic!("issued") };
    assert!(error.to_string().contains("S. Sedge is named in a text of it"), "{error}");
}
