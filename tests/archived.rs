//! What we write, held against a validator of PDF/A-3a (ISO 19005-3) and PDF/UA-1 (ISO 14289-1) that shares no code
//! with ours, and against poppler's reading of the structure. The validator is `page-validation` of PyPI; it is a
//! young program, so spoilt copies must be refused by it, each for what was spoilt.
#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "a test stops at the first surprise")]

use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;

use brightproof::canonical;
use brightproof::pdf::Paper;
use brightproof::pdf::Renderer;
use brightproof::pdf::Sheet;
use brightproof::pdf::read_sealed;
use serde_json::Value;
use serde_json::json;

use crate::demo;
use crate::demo::Demo;
use crate::journeys::at;
use crate::python;

/// Reads names of files, a line each; prints a line for each rule that a file breaks, then how many it looked at.
const SCRIPT: &str = r#"
import sys, page
looked = 0
for name in sys.stdin.read().splitlines():
    for profile in ("3a", "ua1"):
        report = page.validate_pdf(name, profile=profile)
        looked += report.rules.total
        for failure in report.failures:
            print(name.rsplit("/", 1)[-1], failure.rule_id, failure.message)
        assert report.is_compliant == (not report.failures)
print("looked", looked)
"#;

/// The rules that these files break, and how many rules were looked at in all; `None` without the validator.
fn broken(files: &[PathBuf]) -> Option<(Vec<String>, usize)> {
    let names: Vec<&str> = files.iter().map(|f| f.to_str().unwrap()).collect();
    let said = python::run(&["page"], SCRIPT, &names.join("\n"))?;
    let mut lines: Vec<String> = said.lines().map(str::to_owned).collect();
    let looked = lines.pop().unwrap().strip_prefix("looked ").unwrap().parse().unwrap();
    Some((lines, looked))
}

fn pdfs(folder: &Path) -> Vec<PathBuf> {
    let files = fs::read_dir(folder).unwrap().map(|f| f.unwrap().path());
    let mut files: Vec<PathBuf> = files.filter(|f| f.extension().is_some_and(|e| e == "pdf")).collect();
    files.sort();
    files
}

fn written(folder: &Path, name: &str, bytes: &[u8]) -> PathBuf {
    let file = folder.join(name);
    fs::write(&file, bytes).unwrap();
    file
}

/// Every certificate of the demonstration with its seal, every kind of report, a traveler, and a certificate for
/// somebody whose name is in other scripts.
#[test]
fn what_we_write_is_pdf_a_3a_and_pdf_ua_1() {
    let folder = demo::fresh("archived");
    at(&folder, &["demo", "shop"]).code(0);
    let (shop, out) = (folder.join("shop"), demo::fresh("archived-out"));
    let mut files = pdfs(&shop.join("certificates"));
    assert_eq!(files.len(), demo::CERTIFICATES);
    for report in [&["month", "2026-10"][..], &["yield"], &["gaps"], &["bath", "N-2"], &["turn-round"]] {
        let file = out.join(format!("report-{}.pdf", report.first().unwrap()));
        let words = [&["report"], report, &["--pdf", file.to_str().unwrap()]].concat();
        at(&shop, &words).code(0);
    }
    let plan =
        ["plan", "--order", "QI-88470", "--line", "1", "--grade", "316L", "--out", out.to_str().unwrap()];
    let _ = at(&shop, &plan);
    for (script, name) in SCRIPTS {
        written(&out, &format!("name-{script}.pdf"), &addressed_to(name));
    }
    let others = pdfs(&out);
    assert_eq!(others.len(), 6 + SCRIPTS.len());
    files.extend(others);
    let Some((broken, looked)) = broken(&files) else { return };
    assert_eq!(broken, [] as [String; 0]);
    println!("{} files, {looked} rules looked at", files.len());
    assert!(looked > 200 * files.len(), "{looked}");
}

/// Names in the scripts the typefaces hold.
const SCRIPTS: [(&str, &str); 5] = [
    ("greek", "Κατασκευές Ήλιος"),
    ("cyrillic", "Светлый завод"),
    ("hebrew", "מפעל אור"),
    ("arabic", "مصنع النور"),
    ("latin", "Žlutý kůň, Ðæg & Łódź"),
];

fn addressed_to(name: &str) -> Vec<u8> {
    let (_, bytes) = Demo::get().certificate(demo::SMALL_LOT);
    let mut data: Value = serde_json::from_slice(&read_sealed(bytes).unwrap().attachment).unwrap();
    *data.pointer_mut("/purchaser/name").unwrap() = json!(name);
    let data = canonical::canonical(&data).unwrap();
    let stamp = canonical::stamp(&data);
    let sheet = Sheet { data: &data, stamp: &stamp, paper: Paper::A4, seal: None };
    Renderer::new().unwrap().prepare(&sheet).unwrap().bytes
}

/// Exchanges one text of the file for another of the same length, so that the cross-references hold.
fn spoilt(bytes: &[u8], from: &str, to: &str) -> Vec<u8> {
    assert_eq!(from.len(), to.len());
    let places: Vec<usize> = bytes
        .windows(from.len())
        .enumerate()
        .filter(|(_, w)| *w == from.as_bytes())
        .map(|(at, _)| at)
        .collect();
    assert!(!places.is_empty(), "no {from:?} in the file");
    let mut bytes = bytes.to_vec();
    for at in places {
        bytes.splice(at..at + to.len(), to.bytes());
    }
    bytes
}

#[test]
fn the_validator_refuses_what_is_spoilt() {
    let (_, good) = Demo::get().certificate(demo::SMALL_LOT);
    let out = demo::fresh("archived-spoilt");
    let spoils = [
        ("part-of-pdf-a", "<pdfaid:part>3<", "<pdfaid:part>7<", "3A-ID"),
        ("part-of-pdf-ua", "<pdfuaid:part>1<", "<pdfuaid:part>9<", "UA1-ID"),
        ("not-marked", "/Marked true", "/Marked null", "TAGGED"),
        ("no-language", "/Lang(en", "/Lung(en", "LANGUAGE"),
        ("no-title-shown", "/DisplayDocTitle true", "/DisplayDocTitle null", "VIEWER-PREFERENCES"),
        ("no-alternative", "/Alt", "/Als", "ALTERNATIVE-TEXT"),
        ("colours-mean-nothing", "/OutputIntents", "/OutputIntends", "DEVICE-"),
        ("no-relationship", "/AFRelationship", "/AFRelationshap", "AF-RELATIONSHIP"),
        ("no-letters", "/ToUnicode", "/ToUnicade", "UNICODE"),
        ("no-program", "/FontFile2", "/FontFale2", "FONT"),
        ("no-scope", "/Scope", "/Scape", "TABLE-HEADERS"),
    ];
    let mut files = Vec::new();
    for (name, from, to, _) in spoils {
        let to = if name == "colours-mean-nothing" { "/OutputIntendz" } else { to };
        let to = &to[..from.len()];
        files.push(written(&out, &format!("{name}.pdf"), &spoilt(good, from, to)));
    }
    let Some((broken, _)) = broken(&files) else { return };
    for (name, .., rule) in spoils {
        let of: Vec<&String> = broken.iter().filter(|line| line.starts_with(name)).collect();
        assert!(of.iter().any(|line| line.contains(rule)), "{name}: no {rule} in {of:#?}");
    }
}

/// A screen reader follows the structure, not the places on the page. As poppler reads it, headings are nested, what
/// is said of the lot comes in the order of the work, and no row loses a cell.
#[test]
fn the_structure_is_read_in_the_order_of_the_page() {
    if !demo::has("pdfinfo", "-v") {
        return;
    }
    let (_, bytes) = Demo::get().certificate(demo::WORDY_LOT);
    let file = written(&demo::fresh("archived-order"), "one.pdf", bytes);
    let output = Command::new("pdfinfo").arg("-struct-text").arg(&file).output().unwrap();
    let said = demo::printed(&output);
    assert!(output.status.success(), "{said}");
    let mut from = 0;
    for words in [
        "\"Certificate of conformity\"",
        "\"Issued by\"",
        "\"Issued to\"",
        "\"Lot L-26-0451\"",
        "\"Called for\"",
        "\"Treatment\"",
        "\"nitric",
    ] {
        let at = said[from..].find(words).map(|at| from + at);
        assert!(at.is_some(), "no {words} after byte {from} of\n{said}");
        from = at.unwrap();
    }
    let level =
        |line: &str| line.trim().strip_prefix('H').and_then(|rest| rest.get(..1)?.parse::<u32>().ok());
    let levels: Vec<u32> = said.lines().filter_map(level).collect();
    assert_eq!(levels.first(), Some(&1));
    assert!(levels.windows(2).all(|pair| matches!(pair, [one, two] if *two <= one + 1)), "{levels:?}");
    // Rows of one table have as many cells as its head.
    let (mut tables, mut head, mut cells) = (0, 0, 0);
    for line in said.lines().map(str::trim) {
        match line.split([':', ' ']).next() {
            Some("Table") => (tables, head, cells) = (tables + 1, 0, 0),
            Some("TR") => {
                head = head.max(cells);
                assert!(cells == 0 || cells <= head, "a row of {cells} cells under {head}");
                cells = 0;
            }
            Some("TH" | "TD") => cells += 1,
            _ => {}
        }
    }
    assert!(tables >= 3, "{tables} tables in\n{said}");
}
