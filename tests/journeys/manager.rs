//! The quality manager: no certificate for what does not conform, and none twice.

use std::fs;

use brightproof::app::issue;
use brightproof::app::issue::Target;

use super::at;
use super::entries;
use crate::demo;
use crate::demo::Demo;

#[test]
fn check_lists_gaps_with_their_place_clause_and_remedy() {
    let folder = &Demo::get().folder;
    at(folder, &["check", "L-26-0401"]).code(0).says("L-26-0401: conforms");
    at(folder, &["check", "lots/L-26-0412.yaml"])
        .code(1)
        .says("L-26-0412: does not conform, 1 gap")
        .says("Re-treat, or ask the purchaser for a deviation")
        .says("91 °F; asked: 70 °F to 90 °F")
        .says("ASTM A967/A967M-17, 6.1.1.2")
        .says("lots/L-26-0412.yaml:");
    let all = at(folder, &["check"]).code(1);
    // The tests' own lot conforms too; one lot of the demonstration is shipped in part, and does not conform as a whole.
    assert_eq!(all.out.matches(": conforms, ").count(), demo::CERTIFICATES + 1, "{}", all.out);
    assert_eq!(all.out.matches(": does not conform, 1 gap").count(), demo::HELD + 1, "{}", all.out);
    let json = at(folder, &["--format", "json", "check", "L-26-0401", "L-26-0412"]).code(1).json();
    assert_eq!((json[0]["conforms"].as_bool(), json[1]["conforms"].as_bool()), (Some(true), Some(false)));
    assert_eq!(json[0]["version"], 1);
    let gap = json[1]["findings"].as_array().unwrap().iter().find(|f| f["verdict"] == "not met").unwrap();
    assert_eq!((gap["observed"].as_str(), gap["remedy"].as_str()), (Some("91 °F"), Some("re-treat")));
}

#[test]
fn what_cannot_be_read_is_told_with_its_line_and_stops_nothing_else() {
    let folder = Demo::get().copy("journey-faults");
    at(&folder, &["check", "L-26-9999"]).code(2).warns("lots/L-26-9999.yaml does not exist");
    at(&folder, &["check", "no-such-file.yaml"]).code(2).warns("no-such-file.yaml does not exist");
    demo::change(&folder, "lots/L-26-0411.yaml", "temperature: 105 °F", "temperature: 105 °X");
    let done = at(&folder, &["check", "L-26-0411", "L-26-0410"]).code(2).says("L-26-0410: conforms");
    assert!(done.err.starts_with("error: lots/L-26-0411.yaml:15:26: "), "{}", done.err);
    let json = at(&folder, &["--format", "json", "check", "L-26-0411"]).code(2).json();
    assert!(json[0]["error"].as_str().unwrap().contains("°X"), "{json}");
    at(&folder, &["--shop", "lots", "check"]).code(2).warns("lots is no shop folder: it has no shop.yaml");
}

#[test]
fn issuing_twice_gives_the_same_bytes_and_one_entry() {
    let folder = demo::fresh("journey-twice");
    demo::begin(&folder, "journey-twice");
    let before = entries(&folder);
    let command = ["issue", "L-26-0411", "--by", "M. Sorrel"];
    at(&folder, &command).code(0).says("lot L-26-0411: LBF-2026-000001 issued: ");
    let bytes = demo::file(&folder, "LBF-2026-000001");
    fs::remove_file(folder.join("certificates/LBF-2026-000001.pdf")).unwrap();
    at(&folder, &command).code(0).says("issued before; the same file written again");
    assert_eq!(demo::file(&folder, "LBF-2026-000001"), bytes);
    // Another person asks: the certificate stands as released.
    at(&folder, &["issue", "L-26-0411", "--by", "R. Medlar", "--out", "copies"]).code(0);
    assert_eq!(fs::read(folder.join("copies/LBF-2026-000001.pdf")).unwrap(), bytes);
    assert_eq!(entries(&folder), before + 1);
    let json = at(&folder, &["--format", "json", "issue", "L-26-0411", "--by", "M. Sorrel"]).code(0).json();
    assert_eq!(
        (json[0]["outcome"].as_str(), json[0]["number"].as_str()),
        (Some("again"), Some("LBF-2026-000001"))
    );
}

#[test]
fn a_lot_with_gaps_is_held_and_the_others_are_issued() {
    let folder = demo::fresh("journey-held");
    demo::begin(&folder, "journey-held");
    let before = entries(&folder);
    at(&folder, &["issue", "--slip", "PS-26-0317", "--by", "M. Sorrel"])
        .code(1)
        .says("slip PS-26-0317: held, nothing issued")
        .says("91 °F");
    assert_eq!(entries(&folder), before);
    assert_eq!(fs::read_dir(folder.join("certificates")).map_or(0, Iterator::count), 0);
    let all = at(&folder, &["issue", "--all", "--by", "M. Sorrel"]).code(1);
    assert_eq!(all.out.matches(" issued: ").count(), demo::CERTIFICATES + 1, "{}", all.out);
    assert_eq!(all.out.matches(": held, nothing issued").count(), demo::HELD, "{}", all.out);
    assert_eq!(entries(&folder), before + u64::try_from(demo::CERTIFICATES + 1).unwrap());
    at(&folder, &["issue", "--by", "M. Sorrel"]).code(2).warns("nothing to issue");
    at(&folder, &["issue", "--all", "L-26-0411"]).code(2).warns("cannot be used with");
}

#[test]
fn a_changed_record_needs_an_amendment() {
    let demo = Demo::get();
    let folder = demo.copy("journey-amend");
    let (number, old) = demo.certificate(demo::SMALL_LOT);
    let before = entries(&folder);
    at(&folder, &["amend", number, "--by", "M. Sorrel", "--why", "none", "--kind", "clerical"])
        .code(2)
        .warns(&format!("nothing that certificate {number} says has changed"));
    demo::correct(&folder, "lots/L-26-0411.yaml", "temperature: 105 °F", "temperature: 106 °F");
    at(&folder, &["issue", "L-26-0411", "--by", "M. Sorrel"])
        .code(2)
        .warns(&format!("lot L-26-0411 is certified already by {number}, from other facts"))
        .warns(&format!("`brightproof amend {number}` replaces it"));
    at(&folder, &["amend", number, "--by", "M. Sorrel", "--why", "misread", "--kind", "clerical"])
        .code(2)
        .warns("this is no clerical change: ")
        .warns("`105 °F` became `106 °F`");
    assert_eq!(entries(&folder), before);

    let new = "LBF-2026-000013";
    at(&folder, &["amend", number, "--by", "M. Sorrel", "--why", "misread", "--kind", "conformity"])
        .code(0)
        .says(&format!("{new} replaces {number}: "))
        .says("`105 °F` became `106 °F`")
        .says("whoever holds the old certificate must be told")
        .says("tell R. Fathom, receiving inspection (e-mail; contact on order QI-88274)");
    assert_eq!(entries(&folder), before + 1);
    let verify =
        |file: &str| at(&folder, &["verify", file, "--trust", &demo.root, "--register", "register.sqlite"]);
    verify(&format!("certificates/{new}.pdf")).code(0).says("verifies");
    verify(&format!("certificates/{number}.pdf")).code(1).says(&format!("it was replaced by {new}"));
    // The old file is as it was; the new one says what it replaces.
    assert_eq!(demo::file(&folder, number), old);
    let data = brightproof::pdf::read_sealed(&demo::file(&folder, new)).unwrap().attachment;
    let data: serde_json::Value = serde_json::from_slice(&data).unwrap();
    assert_eq!(
        (&data["replaces"]["number"], &data["replaces"]["kind"]),
        (&number.into(), &"conformity".into())
    );
    at(&folder, &["amend", number, "--by", "M. Sorrel", "--why", "again", "--kind", "conformity"])
        .code(2)
        .warns(&format!("certificate {number} is "))
        .warns("amend the one that is current");
    at(&folder, &["issue", "L-26-0411", "--by", "M. Sorrel"]).code(0).says(new);
    at(&folder, &["register", "audit"]).code(0);
}

#[test]
fn a_clerical_amendment_is_taken_as_such() {
    let demo = Demo::get();
    let folder = demo.copy("journey-clerical");
    let (number, _) = demo.certificate("PS-26-0311");
    demo::correct(&folder, "lots/L-26-0401.yaml", "purchaser_lot: QM-5512", "purchaser_lot: QM-5521");
    let done =
        at(&folder, &["amend", number, "--by", "M. Sorrel", "--why", "typing error", "--kind", "clerical"])
            .code(0)
            .says("purchaser lot: `QM-5512` became `QM-5521`; misread");
    assert!(!done.err.contains("must be told"), "{}", done.err);
    at(&folder, &["find", "QM-5521"]).code(0).says("LBF-2026-000013");
    at(&folder, &["register", "audit"]).code(0);
}

#[test]
fn what_no_longer_conforms_is_not_amended_but_withdrawn() {
    let demo = Demo::get();
    let folder = demo.copy("journey-withdraw");
    let (number, _) = demo.certificate(demo::SMALL_LOT);
    let before = entries(&folder);
    demo::correct(&folder, "lots/L-26-0411.yaml", "temperature: 105 °F", "temperature: 205 °F");
    at(&folder, &["amend", number, "--by", "M. Sorrel", "--why", "misread", "--kind", "conformity"])
        .code(1)
        .says("205 °F")
        .warns("the old certificate still stands");
    assert_eq!(entries(&folder), before);
    at(&folder, &["withdraw", number, "--by", "M. Sorrel", "--why", " ", "--parts", "hold"])
        .code(2)
        .warns("a withdrawal needs who, why");
    let withdraw =
        ["withdraw", number, "--by", "M. Sorrel", "--why", "bath too hot", "--parts", "return them"];
    at(&folder, &withdraw).code(0).says(&format!("{number}: withdrawn"));
    at(&folder, &withdraw).code(2).warns("so it cannot be withdrawn");
    let file = format!("certificates/{number}.pdf");
    at(&folder, &["verify", &file, "--trust", &demo.root, "--register", "register.sqlite"])
        .code(1)
        .says("FAIL")
        .says("bath too hot");
    at(&folder, &["withdraw", "LBF-2026-000099", "--by", "x", "--why", "y", "--parts", "z"])
        .code(2)
        .warns("no certificate LBF-2026-000099");
    // Its pieces may be certified again, once they conform.
    at(&folder, &["issue", "L-26-0411", "--by", "M. Sorrel"]).code(1);
    demo::correct(&folder, "lots/L-26-0411.yaml", "temperature: 205 °F", "temperature: 104 °F");
    at(&folder, &["issue", "L-26-0411", "--by", "M. Sorrel"]).code(0).says("LBF-2026-000013 issued: ");
    at(&folder, &["register", "audit"]).code(0);
}

#[test]
fn no_piece_is_certified_twice() {
    let folder = Demo::get().copy("journey-pieces");
    let before = entries(&folder);
    at(&folder, &["issue", "L-26-0402", "--by", "M. Sorrel"])
        .code(2)
        .warns("lot L-26-0402: 120 pieces cannot be certified: 120 were accepted, 120 are certified already")
        .warns("`brightproof find L-26-0402` lists the certificates that hold them");
    let slip = "slip: PS-26-0399\npurchaser: tarn-fell\nlots:\n  - { lot: L-26-0402, pieces: 1 }\n";
    fs::write(folder.join("shipments/PS-26-0399.yaml"), slip).unwrap();
    at(&folder, &["issue", "--slip", "PS-26-0399", "--by", "M. Sorrel"])
        .code(2)
        .warns("1 pieces cannot be certified");
    // Of two in one batch, the second is refused.
    fs::write(folder.join("shipments/PS-26-0399.yaml"), slip.replace("pieces: 1", "pieces: 90")).unwrap();
    fs::write(
        folder.join("shipments/PS-26-0398.yaml"),
        slip.replace("pieces: 1", "pieces: 90").replace("0399", "0398"),
    )
    .unwrap();
    let numbers = &Demo::get().numbers;
    for slip in ["PS-26-0312", "PS-26-0313"] {
        let withdraw =
            ["withdraw", &numbers[slip], "--by", "M. Sorrel", "--why", "not sent", "--parts", "kept here"];
        at(&folder, &withdraw).code(0);
    }
    at(&folder, &["issue", "--slip", "PS-26-0398", "--slip", "PS-26-0399", "--by", "M. Sorrel"])
        .code(2)
        .says("slip PS-26-0398: LBF-2026-000013 issued: ")
        .warns("slip PS-26-0399: nothing issued")
        .warns("90 pieces cannot be certified: 120 were accepted, 90 are certified already");
    assert_eq!(entries(&folder), before + 3);
    fs::write(folder.join("shipments/PS-26-0399.yaml"), slip.replace("pieces: 1", "pieces: 121")).unwrap();
    at(&folder, &["issue", "--slip", "PS-26-0399", "--by", "M. Sorrel"])
        .code(2)
        .warns("121 pieces of lot L-26-0402 cannot be certified, 120 were accepted");
    // One lot named twice, by number and by file, in one batch.
    let folder = demo::fresh("journey-named-twice");
    demo::begin(&folder, "journey-named-twice");
    at(&folder, &["issue", "L-26-0411", "lots/L-26-0411.yaml", "--by", "M. Sorrel"])
        .code(2)
        .says("lot L-26-0411: LBF-2026-000001 issued: ")
        .warns("lot L-26-0411 is named twice");
    assert_eq!(entries(&folder), 7);
}

#[test]
fn only_those_entitled_release() {
    let folder = demo::fresh("journey-release");
    demo::begin(&folder, "journey-release");
    at(&folder, &["issue", "L-26-0411", "--by", "N. Nobody"])
        .code(2)
        .warns("people.yaml knows no N. Nobody")
        .warns("may release today: M. Sorrel, R. Medlar");
    at(&folder, &["issue", "L-26-0411", "--by", "T. Quince"])
        .code(2)
        .warns("T. Quince may not release shipments on ");
    at(&folder, &["issue", "L-26-0411"]).code(2).warns("several people may release shipments");
    demo::change(&folder, "people.yaml", ", may_release_from: 2026-06-01, may_release_until: 2027-05-31", "");
    assert_eq!(entries(&folder), 6);
    at(&folder, &["issue", "L-26-0411"]).code(0).says(" issued: ");
    demo::change(&folder, "people.yaml", ", may_release_from: 2025-02-03", "");
    at(&folder, &["issue", "L-26-0410"]).code(2).warns("nobody may release shipments today");
}

#[test]
fn nothing_from_the_future_is_certified_and_nothing_is_back_dated() {
    let folder = demo::fresh("journey-time");
    demo::begin(&folder, "journey-time");
    demo::change(&folder, "lots/L-26-0411.yaml", "at: 2026-11-03T10:00-05:00", "at: 2096-11-03T10:00-05:00");
    at(&folder, &["issue", "L-26-0411", "--by", "M. Sorrel"])
        .code(2)
        .warns("lots/L-26-0411.yaml: something is dated 2096-11-03T10:00-05:00, the clock says ");
    assert_eq!(entries(&folder), 6);

    // The clock goes back behind the last entry.
    let mut desk = demo::desk(&folder);
    demo::issue_all(&mut desk, &[Target::Lot("L-26-0410".to_owned())], &demo::world(demo::AFTER, "time"));
    let earlier = demo::world(demo::ISSUED, "earlier");
    let target = [Target::Lot("L-26-0408".to_owned())];
    let refused = issue::issue(&mut desk, &target, demo::RELEASES, None, &earlier, &|| {}).err().unwrap();
    assert_eq!(
        refused.to_string(),
        "the clock says 2026-11-24T21:20:31Z, but the last entry was made at 2026-11-24T22:00:00Z"
    );
    assert!(refused.hint().unwrap().contains("no entry can be back-dated"));
    assert_eq!(entries(&folder), 7);
}
