//! The same through the command line, as people type it.

use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::journeys::Done;
use crate::journeys::at;

use super::*;

/// Nobody sits at the keyboard, so passphrases come from files.
fn secrets(folder: &Path) {
    for (person, secret) in SECRETS {
        fs::write(folder.join(person), format!("{secret}\nnot this line\n")).unwrap();
    }
}

fn as_json(done: &Done) -> Value {
    done.json()
}

#[test]
fn from_the_queue_to_the_certificate() {
    let folder = shop("release-command", TWO);
    secrets(&folder);
    at(&folder, &["queue"]).code(0).says("nothing waits for release");
    at(&folder, &["prepare", "--by", "T. Quince"]).code(2).warns("nothing to prepare");
    at(&folder, &["issue", LOT, "--by", "M. Sorrel"]).code(2).warns("`brightproof prepare` it");
    at(&folder, &["prepare", LOT, "--by", "T. Quince"]).code(2).warns("--person-passphrase-file");
    let own = ["--person-passphrase-file", "T. Quince"];
    at(&folder, &[&["prepare", LOT, "L-26-0412", "--by", "T. Quince"], &own[..]].concat())
        .code(1)
        .says("lot L-26-0411 for Quillmark Instruments, prepared by T. Quince at ")
        .says(
            "    lot L-26-0411: 200 pieces of part 7718-01 B, order QI-88274/1\n    queue/lot_L-26-0411.json",
        )
        .says("lot L-26-0412: held, nothing issued");
    at(&folder, &["queue"]).code(0).says("200 pieces of part 7718-01 B");
    let json = as_json(&at(&folder, &["--format", "json", "queue"]).code(0));
    assert_eq!((&json[0]["version"], &json[0]["outcome"]), (&1.into(), &"waits".into()));
    assert_eq!(json[0]["shipment"]["covers"][0]["pieces"], 200);

    at(&folder, &["release", "L-26-0401", "--by", "M. Sorrel"])
        .code(2)
        .warns("nothing called L-26-0401 waits");
    // Whoever may not release is not asked for a passphrase.
    at(&folder, &["release", "--all", "--by", "T. Quince"])
        .code(2)
        .warns("T. Quince may not release shipments");
    at(&folder, &["release", "--all", "--by", "M. Sorrel"])
        .code(2)
        .says("called for: ASTM A967/A967M-17")
        .warns("Passphrase of M. Sorrel: nobody is there to ask");
    let wrong = ["release", LOT, "--by", "M. Sorrel", "--person-passphrase-file", "R. Medlar"];
    at(&folder, &wrong).code(2).warns("that is not M. Sorrel's passphrase");
    at(&folder, &["people", "list"])
        .code(0)
        .says("M. Sorrel: quality manager, may release; passphrase set at 2026-10-01T13:00:00Z; 1 wrong try");
    std::thread::sleep(std::time::Duration::from_secs(2));
    let right = ["release", LOT, "--by", "M. Sorrel", "--person-passphrase-file", "M. Sorrel"];
    at(&folder, &right).code(0).says("lot L-26-0411: LBF-").warns("wrong tries of M. Sorrel's passphrase");
    at(&folder, &["release", "--all", "--by", "M. Sorrel"]).code(0).says("nothing waits for release");
    let json = as_json(&at(&folder, &["--format", "json", "people", "list"]).code(0));
    assert_eq!((&json[0]["person"], &json[0]["wrong_tries"]), (&"M. Sorrel".into(), &0.into()));
}

#[test]
fn a_spoilt_queue_is_told() {
    let folder = shop("release-spoilt", "");
    fs::create_dir_all(folder.join("queue")).unwrap();
    fs::write(folder.join(QUEUED), "{}").unwrap();
    at(&folder, &["queue"]).code(1).warns("queue/lot_L-26-0411.json: missing field");
    let json = as_json(&at(&folder, &["--format", "json", "queue"]).code(1));
    assert_eq!(json[0]["outcome"], "spoilt");
    for name in ["--all", LOT, "lot L-26-0411"] {
        at(&folder, &["release", name, "--by", "M. Sorrel"]).code(2).warns("missing field");
    }
}

#[test]
fn passphrases_by_the_command_line() {
    let folder = shop("release-passphrases", TWO);
    secrets(&folder);
    fs::write(folder.join("new"), "hammock violet ember\n").unwrap();
    let set = |person: &str, more: &[&str]| {
        at(
            &folder,
            &[&["people", "set-passphrase", person, "--person-passphrase-file", "new"], more].concat(),
        )
    };
    set("J. Teasel", &[]).code(0).says("J. Teasel: passphrase set, and entered in the register");
    set("M. Sorrel", &[]).code(2).warns("--old-passphrase-file, or --lost and why");
    set("M. Sorrel", &["--old-passphrase-file", "M. Sorrel"]).code(0);
    set("R. Medlar", &["--lost", "forgotten"]).code(0);
    set("N. Obody", &[]).code(2).warns("people.yaml knows no N. Obody");
    at(&folder, &["people", "set-passphrase", "D. Yarrow"]).code(2).warns("New passphrase of D. Yarrow");
}
