//! The same through the program and its register: parts, lines, lots made from lots, hold notes.

use std::fs;
use std::path::Path;
use std::path::PathBuf;

use brightproof::app::issue;
use brightproof::app::issue::Outcome;
use brightproof::app::issue::Target;
use brightproof::correction;
use brightproof::record::Record;

use crate::demo;

/// A shop of its own for one test.
pub fn shop(name: &str) -> PathBuf {
    let folder = demo::fresh(name);
    demo::begin(&folder, name);
    folder
}

/// A packing slip.
pub fn slip(folder: &Path, slip: &str, lots: &str) {
    let text = format!("slip: {slip}\npurchaser: quillmark\nlots:\n{lots}");
    fs::write(folder.join(format!("shipments/{slip}.yaml")), text).unwrap();
}

/// Issues, and answers what came of each target, in words.
pub fn issued(folder: &Path, targets: Vec<Target>) -> Vec<String> {
    let mut desk = demo::desk(folder);
    let targets = issue::expand(&desk.book, targets);
    let world = demo::world(demo::ISSUED, "pieces");
    let outcomes = issue::issue(&mut desk, &targets, demo::RELEASES, None, &world, &|| {}).unwrap();
    let word = |(target, outcome): (&Target, Outcome)| {
        let came = match outcome {
            Outcome::Issued { number, .. } => format!("issued {number}"),
            Outcome::Again { number, .. } => format!("again {number}"),
            Outcome::Held(held) => {
                let gaps = held.lots.iter().flat_map(|lot| lot.findings.iter().filter(|f| f.is_gap()));
                format!("held: {:?}", gaps.collect::<Vec<_>>())
            }
            Outcome::Failed(error) | Outcome::Unwritten { error, .. } => error.to_string(),
        };
        format!("{target}: {came}")
    };
    targets.iter().zip(outcomes).map(word).collect()
}

pub fn slips(names: &[&str]) -> Vec<Target> {
    names.iter().map(|s| Target::Slip((*s).to_owned())).collect()
}

#[test]
fn a_certificate_a_line_and_a_part_that_verifies() {
    let folder = shop("pieces-lines");
    let came = issued(&folder, slips(&["PS-26-0341", "PS-26-0342"]));
    assert_eq!(
        came,
        [
            "slip PS-26-0341 line QI-88361/1: issued LBF-2026-000001",
            "slip PS-26-0341 line QI-88361/2: issued LBF-2026-000002",
            "slip PS-26-0342 line QI-88361/2: issued LBF-2026-000003",
        ]
    );
    assert_eq!(
        issued(&folder, slips(&["PS-26-0341"]))[1],
        "slip PS-26-0341 line QI-88361/2: again LBF-2026-000002"
    );
    let register = demo::register(&folder);
    let anchor = brightproof::app::verify::Anchor::none();
    for number in ["LBF-2026-000001", "LBF-2026-000002", "LBF-2026-000003"] {
        let found = demo::verify(&demo::file(&folder, number), &anchor, Some(&register));
        assert_eq!(demo::said(&found, "judgement"), "pass", "{number}");
        assert_eq!(demo::said(&found, "page"), "pass", "{number}");
        assert_eq!(demo::said(&found, "current"), "pass", "{number}");
    }
    let stored = register.certificate("LBF-2026-000002").unwrap().unwrap();
    let data = String::from_utf8(stored.data).unwrap();
    assert!(data.contains("Not covered: run 2 of this lot, held at the shop"), "{data}");
    assert!(!data.contains("L-26-0471"), "another line's lot stands on it");
    // The pieces split off are found by the lot they came from.
    let desk = demo::desk(&folder);
    let over = brightproof::app::over::shipped(&desk.book, &desk.register, "LBF-2026-000003").unwrap();
    assert_eq!(over, ["order QI-88361 line 2: 280 pieces are certified, 250 were ordered"]);
    let found =
        brightproof::app::lookup::find(&desk.book.folder, &["L-26-0473".to_owned()], true, 9).unwrap();
    assert_eq!(found.len(), 2);
}

#[test]
fn partial_shipments_never_take_more_than_a_run_has() {
    let folder = shop("pieces-parts");
    let entry = |pieces: u64| {
        format!("  - {{ lot: L-26-0472, runs: [\"1\"], pieces: {pieces}, segregated: bin 1 }}\n")
    };
    slip(&folder, "PS-A", &entry(50));
    slip(&folder, "PS-B", &entry(31));
    slip(&folder, "PS-C", &entry(30));
    let came = issued(&folder, slips(&["PS-A", "PS-B"]));
    assert!(came[0].ends_with("issued LBF-2026-000001"), "{came:?}");
    assert!(
        came[1].contains("31 pieces cannot be certified: 80 were accepted, 50 are certified already"),
        "{came:?}"
    );
    // The shop calls run 2's pieces accepted too, to make room.
    demo::correct(&folder, "lots/L-26-0472.yaml", "accepted: 80, held: 80", "accepted: 160");
    let came = issued(&folder, slips(&["PS-B"]));
    assert!(came[0].contains("of run 1 81 would be certified, it has 80"), "{came:?}");
    assert!(issued(&folder, slips(&["PS-C"]))[0].contains("issued"), "the last thirty");
    // A run renamed since would be a fresh one, were the correction all that was looked at.
    let file = folder.join("lots/L-26-0472.yaml");
    let record: Record = brightproof::yaml::parse(&fs::read_to_string(&file).unwrap()).unwrap();
    let run = correction::text(&serde_json::to_value(&record.runs[0]).unwrap());
    demo::correct(&folder, "lots/L-26-0472.yaml", "run: \"1\"", "run: \"9\"");
    demo::correct(&folder, "lots/L-26-0472.yaml", "covers: [\"1\"]", "covers: [\"9\"]");
    let gone = format!(
        "  - {{ at: runs, was: {run:?}, now: nothing, by: M. Sorrel, when: 2026-11-24T16:10-05:00, why: misnamed }}\n"
    );
    fs::write(&file, fs::read_to_string(&file).unwrap() + &gone).unwrap();
    slip(&folder, "PS-D", "  - { lot: L-26-0472, runs: [\"9\"], pieces: 5, segregated: bin 1 }\n");
    let came = issued(&folder, slips(&["PS-D"]));
    assert!(came[0].contains("run 1 was certified, and is no piece's last treatment"), "{came:?}");
}

#[test]
fn an_amendment_takes_no_more_either() {
    let folder = shop("pieces-amend");
    let entry = |pieces: u64| {
        format!("  - {{ lot: L-26-0472, runs: [\"1\"], pieces: {pieces}, segregated: bin 1 }}\n")
    };
    slip(&folder, "PS-A", &entry(50));
    slip(&folder, "PS-B", &entry(30));
    assert!(issued(&folder, slips(&["PS-A", "PS-B"])).iter().all(|w| w.contains("issued")));
    demo::correct(&folder, "lots/L-26-0472.yaml", "accepted: 80, held: 80", "accepted: 160");
    slip(&folder, "PS-B", &entry(31));
    let mut desk = demo::desk(&folder);
    let world = demo::world(demo::AFTER, "amend");
    let request = brightproof::app::lookup::AmendRequest {
        number: "LBF-2026-000002",
        by: demo::RELEASES,
        why: "counted again",
        kind: brightproof::certificate::AmendmentKind::Conformity,
    };
    match brightproof::app::lookup::amend(&mut desk, &request, &world) {
        Err(error) => assert!(error.to_string().contains("of run 1 81 would be certified"), "{error}"),
        Ok(_) => panic!("81 pieces of a run of 80"),
    }
}

#[test]
fn pieces_split_off_are_not_certified_twice() {
    let folder = shop("pieces-family");
    // The whole lot is certified before anybody writes down that some of it was split off.
    let lot = folder.join("lots/L-26-0473.yaml");
    let split = fs::read_to_string(&lot).unwrap();
    let whole =
        split.replace("accepted: 140, split_off: 60", "accepted: 200").replace("pieces: 140", "pieces: 200");
    fs::write(&lot, whole).unwrap();
    let came =
        issued(&folder, vec![Target::Lot("L-26-0473".to_owned()), Target::Lot("L-26-0474".to_owned())]);
    assert!(came[0].contains("issued"), "{came:?}");
    assert!(came[1].contains(": held: ") && came[1].contains("family.pieces"), "{came:?}");
    fs::write(&lot, &split).unwrap();
    let came = issued(&folder, vec![Target::Lot("L-26-0474".to_owned())]);
    assert!(came[0].contains("200 pieces are certified and only 140 remain accepted"), "{came:?}");
}

#[test]
fn a_lot_made_from_another_is_not_forgotten_to_certify_the_other_whole() {
    let folder = shop("pieces-forgotten");
    slip(&folder, "PS-A", "  - { lot: L-26-0473, pieces: 100 }\n");
    let came = issued(&folder, vec![Target::Lot("L-26-0474".to_owned())]);
    assert!(came[0].contains("issued"), "{came:?}");
    assert!(issued(&folder, slips(&["PS-A"]))[0].contains("issued"));
    // The other record is put away, and the sixty pieces are written back where they came from.
    fs::remove_file(folder.join("lots/L-26-0474.yaml")).unwrap();
    demo::correct(&folder, "lots/L-26-0473.yaml", "accepted: 140, split_off: 60", "accepted: 200");
    demo::correct(&folder, "lots/L-26-0473.yaml", "pieces: 140", "pieces: 200");
    slip(&folder, "PS-B", "  - { lot: L-26-0473, pieces: 100 }\n");
    let came = issued(&folder, slips(&["PS-B"]));
    assert!(came[0].contains("100 are certified already, 60 more in lots made from it"), "{came:?}");
    slip(&folder, "PS-C", "  - { lot: L-26-0473, pieces: 40 }\n");
    assert!(issued(&folder, slips(&["PS-C"]))[0].contains("issued"));
}

#[test]
fn a_hold_note_only_where_it_is_allowed_and_something_is_open() {
    let folder = shop("pieces-hold");
    let desk = demo::desk(&folder);
    let world = demo::world(demo::AFTER, "hold");
    let note = |name: &str| {
        brightproof::app::hold::note(&desk.book, name, &brightproof::report::words, &world)
            .map_err(|e| e.to_string())
    };
    let text = note("L-26-0475").unwrap().text();
    assert!(text.starts_with("HOLD NOTE - NOT A CERTIFICATE"), "{text}");
    assert!(text.contains("No statement of conformity is made"), "{text}");
    assert!(text.contains("which edition of ASTM A967/A967M is in force"), "{text}");
    assert!(text.contains("50 pieces of part 7742-01"), "{text}");
    for refused in ["L-26-0412", "PS-26-0317", "PS-26-0341"] {
        assert!(
            note(refused).unwrap_err().contains("does not say that a certificate may follow"),
            "{refused}"
        );
    }
    demo::change(
        &folder,
        "orders/QI-88362.yaml",
        "certificate_to_follow",
        "editions: { A967: \"17\" }\ncertificate_to_follow",
    );
    let book = demo::desk(&folder).book;
    let closed = brightproof::app::hold::note(&book, "L-26-0475", &brightproof::report::words, &world);
    assert!(closed.unwrap_err().to_string().contains("nothing is open"));
}
