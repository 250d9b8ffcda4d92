//! What the holder of a replaced certificate reads on the new one: every changed value with what it was, what it is
//! and why, and a sign at each row that is printed otherwise.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops at the first surprise")]

use std::path::Path;

use brightproof::app::issue;
use brightproof::app::lookup;
use brightproof::app::lookup::AmendRequest;
use brightproof::app::lookup::Amended;
use brightproof::certificate::AmendmentKind;
use brightproof::certificate::Certificate;
use brightproof::certificate::ChangedValue;

use crate::demo;
use crate::demo::Demo;
use crate::demo::said;
use crate::tamper::forger;

const LOT: &str = "L-26-0411";
const WHY: &str = "the sheet of the day was misread";

fn amend(folder: &Path, kind: AmendmentKind) -> Result<(Certificate, Vec<u8>), String> {
    let (number, _) = Demo::get().certificate(LOT);
    let request = AmendRequest { number, by: demo::RELEASES, why: WHY, kind };
    let mut desk = demo::desk(folder);
    match lookup::amend(&mut desk, &request, &demo::world(demo::AFTER, "amended"))
        .map_err(|e| e.to_string())?
    {
        Amended::New { number, changed, .. } => {
            issue::write_out(&desk, &number, None).unwrap();
            let file = demo::file(folder, &number);
            let certificate = forger::certificate(&file);
            assert_eq!(certificate.replaces.as_ref().unwrap().changed, changed);
            Ok((certificate, file))
        }
        Amended::Held(_) => panic!("held"),
    }
}

fn change(what: &str, at: &str, was: &str, now: &str, why: &str) -> ChangedValue {
    let [what, at, was, now, why] = [what, at, was, now, why].map(str::to_owned);
    ChangedValue { what, at, was, now, why }
}

#[test]
fn each_value_is_named_with_its_own_reason_and_its_row_is_marked() {
    let folder = Demo::get().copy("amended-values");
    demo::correct(&folder, "lots/L-26-0411.yaml", "light: 1200 lx", "light: 1250 lx");
    demo::change(&folder, "purchasers.yaml", "14 Sextant Row", "16 Sextant Row");
    assert!(amend(&folder, AmendmentKind::Clerical).unwrap_err().contains("no clerical change"));
    let (new, file) = amend(&folder, AmendmentKind::Conformity).unwrap();
    let replaces = new.replaces.as_ref().unwrap();
    let address = |row: u32| format!("{row} Sextant Row, Merrow Quay, an invented town");
    assert_eq!(
        replaces.changed,
        [
            change("purchaser's address", "purchaser.address", &address(14), &address(16), WHY),
            // The correction says why it was made; the amendment says why for what no correction explains.
            change(
                "lot L-26-0411: visual 1, light",
                "lots[0].record.visual[0].light",
                "1200 lx",
                "1250 lx",
                "misread"
            ),
        ]
    );
    let visual = new.lots[0].tests.iter().position(|t| t.what == "visual").unwrap();
    assert_eq!(replaces.marked, ["purchaser".to_owned(), format!("lots[0].tests[{visual}]")]);
    assert_eq!(replaces.more, 0);

    // Both ways: the old file no longer stands and its register names the new one.
    let (old, bytes) = Demo::get().certificate(LOT);
    assert_eq!((replaces.number.as_str(), replaces.reason.as_str()), (old, WHY));
    let register = demo::register(&folder);
    demo::verifies(&demo::verify(&file, &Demo::get().anchor(), Some(&register)));
    let found = demo::verify(bytes, &Demo::get().anchor(), Some(&register));
    let current = said(&found, "current");
    assert!(current.starts_with("fail: ") && current.contains(&new.number), "{current}");
}

#[test]
fn the_page_says_so_in_words() {
    if !demo::has("pdftotext", "-v") {
        return;
    }
    let folder = Demo::get().copy("amended-page");
    demo::correct(&folder, "lots/L-26-0411.yaml", "light: 1200 lx", "light: 1250 lx");
    let (new, file) = amend(&folder, AmendmentKind::Conformity).unwrap();
    let path = folder.join("amended.pdf");
    std::fs::write(&path, file).unwrap();
    let output = std::process::Command::new("pdftotext").args(["-raw"]).arg(&path).arg("-").output().unwrap();
    let text = demo::printed(&output).split_whitespace().collect::<Vec<_>>().join(" ");
    let old = &new.replaces.unwrap().number;
    for words in [
        &format!("This certificate replaces {old}, which no longer stands."),
        &format!("What changed against certificate {old}"),
        "lot L-26-0411: visual 1, light 1200 lx 1250 lx misread",
        "† Otherwise on the certificate this one replaces.",
    ] {
        assert!(text.contains(words), "no {words:?} in {text}");
    }
    assert_eq!(text.matches("† Otherwise").count(), 1, "one row is other");
}

#[test]
fn a_purchasers_name_is_a_clerical_change_and_no_change_is_none() {
    let folder = Demo::get().copy("amended-name");
    assert!(amend(&folder, AmendmentKind::Clerical).unwrap_err().contains("has changed"));
    demo::change(
        &folder,
        "purchasers.yaml",
        "name: Quillmark Instruments",
        "name: Quillmark Instruments of Merrow",
    );
    let (new, _) = amend(&folder, AmendmentKind::Clerical).unwrap();
    let replaces = new.replaces.unwrap();
    assert_eq!(replaces.kind, AmendmentKind::Clerical);
    assert_eq!(replaces.changed.len(), 1, "{:#?}", replaces.changed);
    assert_eq!(replaces.changed[0].at, "purchaser.name");
    assert_eq!(replaces.marked, ["purchaser"]);
}

/// A finding is known by its requirement and its part of the lot: one that moved in the list is not other.
#[test]
fn what_a_finding_says_is_compared_where_it_speaks() {
    let folder = Demo::get().copy("amended-finding");
    let (was, now) = ("105 °F", "106 °F");
    demo::correct(
        &folder,
        "lots/L-26-0411.yaml",
        &format!("temperature: {was}"),
        &format!("temperature: {now}"),
    );
    let (new, _) = amend(&folder, AmendmentKind::Conformity).unwrap();
    let replaces = new.replaces.unwrap();
    let found: Vec<&ChangedValue> = replaces.changed.iter().filter(|c| c.at.contains("findings[")).collect();
    assert!(!found.is_empty(), "{:#?}", replaces.changed);
    for change in found {
        assert!(change.was.contains(was) && change.now.contains(now), "{change:?}");
        let row = change.at.trim_end_matches(".observed");
        assert!(replaces.marked.iter().any(|m| m == row), "{row} is not in {:?}", replaces.marked);
    }
    assert!(replaces.marked.len() < 8, "{:?}", replaces.marked);
}
