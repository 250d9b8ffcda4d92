//! Deviations at issue: counted over all certificates in force, and told on the certificate.

use std::fs;

use brightproof::app::issue;
use brightproof::app::issue::Outcome;
use brightproof::app::issue::Target;
use brightproof::app::lookup;
use brightproof::app::verify::Anchor;
use brightproof::folder::Folder;

use crate::demo;

fn slip(name: &str, pieces: u64) -> String {
    format!("slip: {name}\npurchaser: quillmark\nlots:\n  - {{ lot: L-26-0441, pieces: {pieces} }}\n")
}

/// What came of each slip, in turn: a number, or why not.
fn issue(folder: &std::path::Path, slips: &[&str], at: &str, seed: &str) -> Vec<Result<String, String>> {
    let targets: Vec<Target> = slips.iter().map(|s| Target::Slip((*s).to_owned())).collect();
    let mut desk = demo::desk(folder);
    let world = demo::world(at, seed);
    let outcomes = issue::issue(&mut desk, &targets, demo::RELEASES, None, &world, &|| {}).unwrap();
    outcomes
        .into_iter()
        .map(|outcome| match outcome {
            Outcome::Issued { number, .. } | Outcome::Again { number, .. } => Ok(number),
            Outcome::Failed(error) | Outcome::Unwritten { error, .. } => Err(error.to_string()),
            Outcome::Held(_) => Err("held".to_owned()),
        })
        .collect()
}

#[test]
fn never_more_pieces_than_the_letter_says() {
    let folder = demo::fresh("deviation-pieces");
    let root = demo::begin(&folder, "deviation-pieces");
    demo::change(&folder, "deviations/QI-DEV-061.yaml", "pieces: 120", "pieces: 100");
    for (name, pieces) in [("PS-A", 80), ("PS-B", 40), ("PS-C", 20)] {
        fs::write(folder.join(format!("shipments/{name}.yaml")), slip(name, pieces)).unwrap();
    }
    // One batch: the second would go beyond, the third fills it up.
    let came = issue(&folder, &["PS-A", "PS-B", "PS-C"], demo::ISSUED, "one");
    let [Ok(first), Err(why), Ok(_)] = came.as_slice() else { panic!("{came:?}") };
    assert!(why.contains("deviation QI-DEV-061: 40 pieces") && why.contains("for 100, 80 are"), "{why}");
    let certificate = demo::file(&folder, first);
    let anchor = Anchor::read(&root).unwrap();
    demo::verifies(&demo::verify(&certificate, &anchor, Some(&demo::register(&folder))));
    let found = lookup::find(&Folder::new(&folder), &["QI-DEV-061".to_owned()], false, 10).unwrap();
    assert_eq!(found.len(), 2);
    // Over the register; and what was withdrawn no longer counts.
    let again = issue(&folder, &["PS-B"], demo::AFTER, "two");
    assert!(again[0].as_ref().is_err_and(|why| why.contains("100 are certified already")), "{again:?}");
    let world = demo::world(demo::AFTER, "three");
    lookup::withdraw(&Folder::new(&folder), first, demo::RELEASES, "sent twice", "return them", &world)
        .unwrap();
    let again = issue(&folder, &["PS-B"], demo::AFTER, "four");
    assert!(again[0].is_ok(), "{again:?}");
    // The same letter, the number of pieces changed in its file: told on the page, so the purchaser sees it.
    let text = String::from_utf8_lossy(&demo::register(&folder).certificate(first).unwrap().unwrap().data)
        .into_owned();
    assert!(text.contains("at most 100 pieces in all"));
}

#[test]
fn nobody_certifies_on_a_letter_to_come() {
    let folder = demo::fresh("deviation-late");
    demo::begin(&folder, "deviation-late");
    let dates = ["on: 2026-11-12\n", "by: D. Yarrow, on: 2026-11-12 }"];
    for from in dates {
        demo::change(&folder, "deviations/QI-DEV-061.yaml", from, &from.replace("2026-11-12", "2026-11-25"));
    }
    fs::write(folder.join("shipments/PS-A.yaml"), slip("PS-A", 80)).unwrap();
    let came = issue(&folder, &["PS-A"], demo::ISSUED, "late");
    assert!(came[0].as_ref().is_err_and(|why| why.contains("is dated 2026-11-25")), "{came:?}");
}
