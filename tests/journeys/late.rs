//! 16:55, and a reading is missing: from the gap to the sealed certificate in three commands, and what they leave.

use std::fs;
use std::path::Path;

use brightproof::app::desk::files;

use super::at;
use crate::demo;

/// L-26-0417 misses the total solids of its final rinse.
const LOT: &str = "L-26-0417";
const FILE: &str = "lots/L-26-0417.yaml";
const SOLIDS: &str = "runs[0].steps[4].rinse.total_solids";

fn shop(name: &str) -> std::path::PathBuf {
    let folder = demo::fresh(name);
    demo::begin(&folder, name);
    folder
}

fn text(folder: &Path) -> String {
    fs::read_to_string(folder.join(FILE)).unwrap()
}

#[test]
fn from_a_missing_reading_to_the_certificate_in_three_commands() {
    let folder = shop("late-reading");
    let gap =
        at(&folder, &["check", LOT]).code(1).says("final rinse total solids, run 1: nothing is recorded");
    // The place the report prints is what the next command takes.
    let place =
        gap.out.split(FILE).nth(1).unwrap().split_whitespace().next().unwrap().trim_start_matches(':');
    let (value, why) = (format!("{place}.total_solids"), "read at the rinse, noted on the meter's sheet");
    let before = text(&folder);
    at(&folder, &["correct", LOT, &value, "--now", "63 ppm", "--by", "T. Quince", "--why", why])
        .code(0)
        .says(&format!("{SOLIDS}: 63 ppm, was nothing"));
    at(&folder, &["issue", "--by", "M. Sorrel", LOT])
        .code(0)
        .says("issued: ./certificates/LBF-2026-000001.pdf");

    // The file is as it was but for the value and its correction.
    let after = text(&folder);
    let kept = after.lines().filter(|line| before.lines().any(|old| old == *line)).count();
    assert_eq!(kept, before.lines().count() - 1, "{after}");
    assert!(after.contains("total_solids: 63 ppm"), "{after}");
    // The trail: on the certificate, in its data, in the journal.
    let found = at(&folder, &["verify", "certificates/LBF-2026-000001.pdf", "--trust", files::ROOT]);
    found.code(0);
    let sealed = brightproof::pdf::read_sealed(&demo::file(&folder, "LBF-2026-000001")).unwrap();
    let data = String::from_utf8(sealed.attachment).unwrap();
    for words in [why, "\"was\":\"nothing\"", "\"now\":\"63 ppm\"", "\"by\":\"T. Quince\""] {
        assert!(data.contains(words), "{words}");
    }
    let journal = fs::read_to_string(folder.join(format!("journal/{LOT}.jsonl"))).unwrap();
    assert_eq!(journal.lines().count(), 2);
}

/// A reading outside its limit is entered as readily, and holds the lot all the same; so does one changed to fit
/// without its history being true.
#[test]
fn a_correction_judges_nothing() {
    let folder = shop("late-bad");
    let correct = |now: &str, by: &str| {
        let done = at(&folder, &["correct", LOT, SOLIDS, "--now", now, "--by", by, "--why", "read so"]);
        (done.code, done.out + &done.err)
    };
    assert_eq!(correct("240 ppm", "T. Quince").0, 0);
    at(&folder, &["issue", "--by", "M. Sorrel", LOT]).code(1).says("240 ppm; asked: at most 200 ppm");
    assert_eq!(correct("24 ppm", "T. Quince").0, 0);
    // It conforms, and both values stand on it.
    at(&folder, &["issue", "--by", "M. Sorrel", LOT]).code(0);
    let sealed = brightproof::pdf::read_sealed(&demo::file(&folder, "LBF-2026-000001")).unwrap();
    let data = String::from_utf8(sealed.attachment).unwrap();
    assert!(data.contains("\"was\":\"240 ppm\"") && data.contains("\"now\":\"24 ppm\""));
}

#[test]
fn what_cannot_stand_there_is_not_written() {
    let folder = shop("late-wrong");
    let before = text(&folder);
    let cases: &[(&str, &str, &str)] = &[
        (SOLIDS, "63", "has no unit"),
        (SOLIDS, "63 °F", "°F"),
        ("runs[0].steps[4].rinse", "63 ppm", "not a single value"),
        ("runs[0].steps[4].rinse.solids", "63 ppm", "unknown key `solids`"),
        ("runs[9].run", "2", "cannot be changed by this command"),
        ("runs[0].steps[4].rinse.by", "T. Quince", "stands at"),
        ("lot", "L-26-0999", "names the file"),
        ("corrections[0].why", "x", "a correction is not corrected"),
        ("999:1.total_solids", "63 ppm", "no value begins at 999:1"),
        ("a[b", "63 ppm", "is not a path"),
        ("", "63 ppm", "names no value"),
        (SOLIDS, "63 ppm\nlot: L-1", ""),
        (SOLIDS, "63 ppm } #", ""),
        (SOLIDS, " ", "a correction needs its value"),
    ];
    for (path, now, words) in cases {
        let done = at(&folder, &["correct", LOT, path, "--now", now, "--by", "T. Quince", "--why", "w"]);
        assert_eq!(done.code, 2, "{path} {now:?}: {}", done.out);
        assert!(done.err.contains(words), "{path} {now:?}: {}", done.err);
        assert_eq!(text(&folder), before, "{path} {now:?}");
    }
    at(&folder, &["correct", "L-26-0000", SOLIDS, "--now", "1 ppm", "--by", "a", "--why", "b"]).code(2);
    at(&folder, &["correct", "../shop", SOLIDS, "--now", "1 ppm", "--by", "a", "--why", "b"]).code(2);
}
