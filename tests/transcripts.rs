//! What the command says, word for word: the transcripts in `tests/cli/` and the console blocks of the README,
//! run as they stand. `TRYCMD=overwrite cargo test transcripts` writes those in `tests/cli/` anew.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops at the first surprise")]

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::path::PathBuf;

use brightproof::app::adopt::Answer;
use brightproof::app::builtin;
use brightproof::order::Order;
use brightproof::pack::Pack;
use brightproof::pack::Requirement;
use brightproof::part::CallOut;
use brightproof::part::PartSpecification;
use brightproof::record::Record;
use brightproof::shipment::Shipment;
use brightproof::shop::Baths;
use brightproof::shop::Instruments;
use brightproof::shop::People;
use brightproof::shop::Purchasers;
use brightproof::shop::Solutions;
use brightproof::yaml;
use chrono::Datelike;
use serde::de::DeserializeOwned;
use trycmd::TestCases;

fn project(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(name)
}

/// The command under test, in surroundings that do not depend on who runs it.
fn cases() -> TestCases {
    let cases = TestCases::new();
    cases
        .register_bin("brightproof", Path::new(env!("CARGO_BIN_EXE_brightproof")))
        .env("COLUMNS", "100")
        .env("NO_COLOR", "1");
    cases
}

#[test]
fn transcripts() {
    cases().case("tests/cli/*.md");
}

/// The README's blocks are run in turn in a folder of their own. What differs from run to run is left open:
/// fingerprints, stamps and times.
#[test]
fn readme() {
    page("README.md", "readme", 6);
}

/// So are those of the page that follows a whole day through the shop.
#[test]
fn a_day() {
    let files = Path::new(env!("CARGO_TARGET_TMPDIR")).join("a-day/README.in");
    fs::create_dir_all(&files).unwrap();
    for sheet in ["nitric-line-2026-11-23.csv", "laboratory-2026-11-24.csv"] {
        fs::copy(project("samples/sheets").join(sheet), files.join(sheet)).unwrap();
    }
    let old = "%PDF-1.4\n% An invented certificate of 2024, as a word processor wrote it.\n";
    fs::write(files.join("old-certificate.pdf"), old).unwrap();
    page("docs/a-day.md", "a-day", 6);
}

/// And those of the page for auditors.
#[test]
fn auditor() {
    page("docs/day/auditor.md", "auditor", 5);
}

/// And those of the page about a drawing's text.
#[test]
fn call_outs() {
    page("docs/day/call-outs.md", "call-outs", 2);
}

/// And those of the page about calculations.
#[test]
fn calculations() {
    page("docs/day/calculations.md", "calculations", 12);
}

/// And those of the page about time stamps, with a service on this machine.
#[test]
fn time_stamps() {
    let files = Path::new(env!("CARGO_TARGET_TMPDIR")).join("time-stamps/README.in");
    let _ = fs::remove_dir_all(&files);
    fs::create_dir_all(&files).unwrap();
    let Some(_service) = crate::time_stamps::shop::with_service(&files.join("shop")) else { return };
    page("docs/day/time-stamps.md", "time-stamps", 3);
}

/// And those of the page about keys.
#[test]
fn keys() {
    let files = Path::new(env!("CARGO_TARGET_TMPDIR")).join("keys/README.in");
    let _ = fs::remove_dir_all(&files);
    fs::create_dir_all(&files).unwrap();
    crate::demo::copy(&crate::keys::shop("page"), &files.join("shop"));
    page("docs/day/keys.md", "keys", 3);
}

fn page(name: &str, folder: &str, least: usize) {
    let readme = fs::read_to_string(project(name)).unwrap();
    let copy = Path::new(env!("CARGO_TARGET_TMPDIR")).join(folder);
    // A folder of expected files makes the commands run in a copy that is thrown away.
    fs::create_dir_all(copy.join("README.out")).unwrap();
    fs::create_dir_all(copy.join("README.in")).unwrap();
    let mut text = String::new();
    let mut console = false;
    for line in readme.lines() {
        let fence = line.starts_with("```");
        // The last line break of an output counts as the block's own, so one more is put behind it.
        let output = console && !text.ends_with("```console\n") && !text.ends_with("...\n");
        if output && (fence || line.starts_with("$ ")) {
            text.push('\n');
        }
        if fence {
            console = line == "```console";
        }
        match line.strip_prefix("$ ") {
            Some(command) => text.push_str(&format!("$ {}", command.replace("cargo run --", "brightproof"))),
            None => text.push_str(&open(line)),
        }
        text.push('\n');
    }
    // Certificates are numbered within the year they are issued in.
    let year = format!("LBF-{}-", chrono::Local::now().year());
    let text = text.replace("LBF-2026-", &year);
    fs::write(copy.join("README.md"), text).unwrap();
    assert!(readme.matches("```console").count() >= least);
    cases().case(copy.join("README.md"));
}

/// A line of output with its digests and times left open.
fn open(line: &str) -> String {
    let changing = |word: &str| {
        let bare = word.trim_matches(|c: char| !c.is_ascii_alphanumeric());
        let digest = bare.len() >= 8 && bare.bytes().all(|b| b.is_ascii_hexdigit());
        let instant =
            matches!(bare.len(), 20 | 25) && bare.as_bytes()[10] == b'T' && bare.ends_with(['Z', '0']);
        // The day the page was written on, and those counted from it.
        let day =
            bare.len() == 10 && bare.bytes().filter(|b| *b == b'-').count() == 2 && *bare > *"2026-11-24";
        digest || instant || day
    };
    let words = line.split(' ').map(|w| if changing(w) { "[..]".to_owned() } else { inner(w) });
    words.collect::<Vec<_>>().join(" ")
}

/// A word that holds whole digests among other things, with those left open.
fn inner(word: &str) -> String {
    word.split('"')
        .map(|part| {
            let digest = part.len() == 64 && part.bytes().all(|b| b.is_ascii_hexdigit());
            if digest { "[..]" } else { part }
        })
        .collect::<Vec<_>>()
        .join("\"")
}

/// The README's examples of files are read by the program as what they are said to be.
#[test]
fn examples_of_files_are_read() {
    let readme = fs::read_to_string(project("README.md")).unwrap();
    let blocks = yaml_blocks(&readme);
    let kinds: Vec<&str> = blocks.iter().map(|block| kind(block)).collect();
    assert_eq!(
        kinds,
        ["lot", "part", "order", "slip", "baths", "instruments", "solutions", "purchasers", "people"]
    );
    for (block, kind) in blocks.iter().zip(kinds) {
        match kind {
            "lot" => reads::<Record>(block),
            "part" => reads::<PartSpecification>(block),
            "order" => reads::<Order>(block),
            "slip" => reads::<Shipment>(block),
            "baths" => reads::<Baths>(block),
            "instruments" => reads::<Instruments>(block),
            "solutions" => reads::<Solutions>(block),
            "purchasers" => reads::<Purchasers>(block),
            _ => reads::<People>(block),
        }
    }
}

fn yaml_blocks(text: &str) -> Vec<&str> {
    text.split("```yaml\n").skip(1).filter_map(|rest| rest.split("```").next()).collect()
}

/// So are those of the page about rules: a requirement as it stands in its pack, answers that fit it, a pack
/// without fault.
#[test]
fn examples_of_rules_are_read() {
    let page = fs::read_to_string(project("rules/README.md")).unwrap();
    let blocks = yaml_blocks(&page);
    let packs = builtin::packs().unwrap();
    let a967 = packs.iter().find(|pack| pack.pack == "astm-a967").unwrap();
    let known = |id: &str| a967.requirements.iter().find(|r| r.id == id);
    let [requirement, unsure, answers, pack, call_outs, own] = blocks.as_slice() else {
        panic!("{} examples", blocks.len())
    };

    for shown in yaml::parse::<Vec<Requirement>>(requirement).unwrap() {
        assert_eq!(known(&shown.id), Some(&shown));
    }
    for (id, _) in yaml::parse::<BTreeMap<String, Answer>>(answers).unwrap() {
        assert!(known(&id).is_some(), "{id}");
    }
    let pack = yaml::parse::<Pack>(pack).unwrap();
    let alloys = builtin::alloys().unwrap();
    let beside = brightproof::lint::Beside { packs: &packs, alloys: Some(&alloys) };
    assert_eq!(brightproof::lint::lint(&pack, beside), []);
    assert_eq!(pack.edition_named("Halyard HPS 14-B").as_deref(), Some("B"));
    let called: BTreeMap<String, Vec<CallOut>> = yaml::parse(call_outs).unwrap();
    let named = called["calls_for"].iter().filter_map(|c| c.standard.as_deref());
    let packs_named: Vec<bool> = named.map(|n| pack.is_named(n, "B") || a967.is_named(n, "17")).collect();
    assert_eq!(packs_named, [true, true]);
    // A figure nobody knows, and a pack that builds on no other.
    let own = yaml::parse::<Pack>(own).unwrap();
    assert_eq!(brightproof::lint::lint(&own, beside), []);
    let [unsure]: [Requirement; 1] = yaml::parse::<Vec<Requirement>>(unsure).unwrap().try_into().unwrap();
    assert_eq!(unsure.basis, brightproof::pack::Basis::Unsure);
    // What is said of a looser clause.
    let mut loose = pack;
    loose.requirements.truncate(1);
    let time = "{ id: room.time, clause: a, basis: read, when: { treatments: [nitric-2] }, subject: immersion time, \
                check: { at_least: [{ value: 20 min }] }, remedy: re-treat }";
    loose.requirements.push(yaml::parse(time).unwrap());
    let lints = brightproof::lint::lint(&loose, beside);
    let fault = lints.iter().find(|l| l.found.contains("room.time")).unwrap();
    assert!(
        page.contains(&format!(
            "  found: {}; expected: {}\n  help: {}\n",
            fault.found, fault.expected, fault.mend
        )),
        "{fault:#?}"
    );
}

/// The first key of a block says what it is.
fn kind(block: &str) -> &str {
    let first = block.lines().find(|line| !line.starts_with('#')).unwrap();
    first.split(':').next().unwrap()
}

fn reads<T: DeserializeOwned>(block: &str) {
    if let Err(fault) = yaml::parse::<T>(block) {
        panic!("{fault}\n{block}");
    }
}

/// The README's table of packs is what `rules list` prints.
#[test]
fn the_table_of_packs_is_true() {
    let readme = fs::read_to_string(project("README.md")).unwrap();
    for pack in builtin::packs().unwrap() {
        let counted = brightproof::report::PackRow::of(&pack, Vec::new());
        let row = readme.lines().find(|line| line.starts_with(&format!("| `{}` |", pack.pack)));
        let cells: Vec<&str> = row.unwrap().split('|').map(str::trim).skip(3).take(5).collect();
        let figures = [counted.requirements, counted.read, counted.recalled, counted.unsure, counted.house];
        let figures = figures.map(|n| if n == 0 { String::new() } else { n.to_string() });
        assert_eq!(cells, figures, "{}", pack.pack);
    }
}
