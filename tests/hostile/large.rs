//! Files of a gigabyte, lines of many megabytes, a million rows, thousands of records.

use std::fmt::Write;
use std::fs;
use std::path::Path;

use super::LOG;
use super::refused;
use super::run;
use super::shop;
use super::told;
use crate::demo;

/// A file of one gigabyte that takes no room on the disk.
fn gigabyte(folder: &Path, name: &str) {
    fs::File::create(folder.join(name)).unwrap().set_len(1 << 30).unwrap();
}

/// Each file a command reads, as what it is and where it lies, and the command.
const FILES: [(&str, &str, &[&str]); 19] = [
    ("certificate", "c.pdf", &["verify", "c.pdf"]),
    ("root", "keys/root.pem", &["verify", "c.pdf", "--trust", "keys/root.pem"]),
    ("proof", "c.tlog-proof", &["verify", "c.pdf", "--trust", "keys/root.pem"]),
    ("log key", "key.txt", &["verify", "c.pdf", "--trust", "keys/root.pem", "--checkpoint-key", "key.txt"]),
    ("register", "register.sqlite", &["verify", "c.pdf", "--register", "register.sqlite"]),
    ("withheld record", "evidence.json", &["verify", "c.pdf", "--evidence", "evidence.json"]),
    ("record", "lots/L-26-0411.yaml", &["check", "L-26-0411"]),
    ("shop", "shop.yaml", &["check", "L-26-0411"]),
    ("baths", "baths.yaml", &["check", "L-26-0411"]),
    ("pack", "pack.yaml", &["rules", "check", "pack.yaml"]),
    ("log of a record", "logs/N-2-2026-11-24.csv", &["check", "L-26-0551"]),
    ("log", "logs/N-2-2026-11-24.csv", &LOG),
    ("trace, X3P", "t.x3p", &["calculate", "roughness", "t.x3p"]),
    ("trace, text", "t.csv", &["calculate", "roughness", "t.csv", "--form", "PR-1-text"]),
    ("sheet, XLSX", "s.xlsx", &["intake", "s.xlsx"]),
    ("sheet, CSV", "s.csv", &["intake", "s.csv"]),
    ("head kept", "register-head.txt", &["issue", "L-26-0405", "--by", demo::RELEASES]),
    ("seal key", "keys/seal-key.pem", &["issue", "L-26-0405", "--by", demo::RELEASES]),
    ("journal", "journal/L-26-0411.jsonl", &["check", "L-26-0411"]),
];

#[test]
fn a_gigabyte_is_not_read() {
    let mut tried = 0;
    for (what, file, command) in FILES {
        let folder = shop("large");
        if what == "seal key" && !folder.join(file).exists() {
            panic!("{file} is not where it was");
        }
        gigabyte(&folder, file);
        if what == "seal key" {
            owner_only(&folder.join(file));
        }
        refused(&format!("1 GB as {what}"), &folder, command, file.rsplit('/').next().unwrap());
        tried += 1;
    }
    println!("{tried} files of a gigabyte tried, {tried} refused");
}

fn owner_only(path: &Path) {
    use std::os::unix::fs::PermissionsExt;
    fs::set_permissions(path, fs::Permissions::from_mode(0o600)).unwrap();
}

#[test]
fn a_line_of_many_megabytes_is_refused() {
    let folder = shop("line");
    let lot = fs::read_to_string(folder.join("lots/L-26-0411.yaml")).unwrap();
    fs::write(folder.join("lots/L-26-0411.yaml"), format!("{lot}remarks: {}\n", "x".repeat(4_100_000)))
        .unwrap();
    let ended = run(&folder, &["check", "L-26-0411"]);
    told("a remark of 4 MB in one line", &ended);
    fs::write(folder.join("lots/L-26-0411.yaml"), format!("lot: {}", "x".repeat(30_000_000))).unwrap();
    refused("a record of 30 MB in one line", &folder, &["check", "L-26-0411"], "L-26-0411.yaml");
    fs::write(folder.join(LOG[2]), "1,".repeat(30_000_000)).unwrap();
    refused("a log of 60 MB in one line", &folder, &LOG, "N-2-2026-11-24.csv");
    fs::write(folder.join("s.csv"), "a,".repeat(2_000_000)).unwrap();
    refused("a sheet of 4 MB in one line", &folder, &["intake", "s.csv"], "headings");
    fs::write(folder.join("c.tlog-proof"), "c2sp.org/tlog-proof@v1\n".repeat(2_000_000)).unwrap();
    refused(
        "a proof of 46 MB",
        &folder,
        &["verify", "c.pdf", "--trust", "keys/root.pem"],
        "proof        FAIL",
    );
}

#[test]
fn a_million_rows_of_a_log_are_read() {
    let folder = shop("rows");
    let mut text = String::from("Recorder,N-2\nDate and time,N-2 (°F)\n");
    // From midnight of the first on, ten readings a second would be another form: a row each second of twelve days.
    for second in 0..1_000_000_u32 {
        let (day, rest) = (second / 86_400 + 14, second % 86_400);
        let (hour, minute, left) = (rest / 3600, rest / 60 % 60, rest % 60);
        writeln!(text, "2026-11-{day:02} {hour:02}:{minute:02}:{left:02},78.{}", second % 10).unwrap();
    }
    fs::write(folder.join(LOG[2]), text).unwrap();
    let ended = run(&folder, &LOG);
    assert!(ended.success, "{}", ended.said);
    told("a log of 1,000,000 rows", &ended);
}

fn many_lots(count: usize) {
    let folder = shop("many");
    let lot = fs::read_to_string(folder.join("lots/L-26-0411.yaml")).unwrap();
    for turn in 0..count {
        let name = format!("L-27-{turn:06}");
        fs::write(folder.join(format!("lots/{name}.yaml")), lot.replace("L-26-0411", &name)).unwrap();
    }
    let ended = run(&folder, &["check", "L-26-0411"]);
    told(&format!("one of {count} lots"), &ended);
    let ended = run(&folder, &["check"]);
    told(&format!("all of {count} lots"), &ended);
    assert!(ended.said.contains(&format!("L-27-{:06}", count - 1)));
}

#[test]
fn a_folder_of_many_lots_is_judged() {
    many_lots(500);
}

#[test]
#[ignore = "5,000 lots: minutes without optimisation"]
fn a_folder_of_thousands_of_lots_is_judged() {
    many_lots(5_000);
}
