//! Day sheets taken in, and blank records filled: what a careless or dishonest hand might put in a cell does not pass.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test stops at the first surprise")]

use std::fs;
use std::path::Path;
use std::path::PathBuf;

use brightproof::app::blank;
use brightproof::app::book::Book;
use brightproof::app::intake;
use brightproof::app::intake::Taken;
use brightproof::app::plan::Request;
use brightproof::finding::Reason;
use brightproof::finding::Verdict;
use brightproof::folder::Folder;
use brightproof::record::TestKind;
use rust_xlsxwriter::ExcelDateTime;
use rust_xlsxwriter::Format;
use rust_xlsxwriter::Formula;
use rust_xlsxwriter::Workbook;

use crate::demo;
use crate::support;

const DAY: &str = "nitric-line-2026-11-23.csv";

fn sheet(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("samples/sheets").join(name)
}

/// A shop of its own for one test.
fn shop(name: &str) -> PathBuf {
    let folder = demo::fresh(&format!("intake-{name}"));
    demo::copy(&support::folder(), &folder);
    folder
}

fn take(shop: &Path, file: &Path, write: bool) -> Result<Taken, String> {
    let book = Book::open(Folder::new(shop)).unwrap();
    intake::take(&book, file, None, write).map_err(|e| e.to_string())
}

/// The day sheet with one text changed, taken in by a shop of its own.
fn changed(name: &str, from: &str, to: &str) -> Result<Taken, String> {
    let folder = shop(name);
    let text = fs::read_to_string(sheet(DAY)).unwrap();
    assert!(text.contains(from), "{from}");
    let file = folder.join("day.csv");
    fs::write(&file, text.replacen(from, to, 1)).unwrap();
    take(&folder, &file, true)
}

fn gaps(text: &str) -> Vec<String> {
    let record = brightproof::yaml::parse(text).unwrap();
    support::through_book(record).gaps()
}

#[test]
fn a_day_sheet_becomes_records_that_conform() {
    let folder = shop("day");
    let shown = take(&folder, &sheet(DAY), false).unwrap();
    assert!(shown.faults.is_empty() && !shown.written, "{:?}", shown.faults);
    assert!(!folder.join("lots/L-26-0511.yaml").exists());
    let taken = take(&folder, &sheet(DAY), true).unwrap();
    assert_eq!(
        taken.files.iter().map(|f| f.file.as_str()).collect::<Vec<_>>(),
        ["lots/L-26-0511.yaml", "lots/L-26-0512.yaml"]
    );
    let text = fs::read_to_string(folder.join("lots/L-26-0511.yaml")).unwrap();
    assert!(text.starts_with("# From nitric-line-2026-11-23.csv (SHA-256 "), "{text}");
    assert!(text.lines().next().unwrap().ends_with(", lines 3, 4."), "{text}");
    assert_eq!(gaps(&text), Vec::<String>::new());
    // Once more: nothing new. A reading retouched in the sheet: the record stays, the difference is told.
    let again = take(&folder, &sheet(DAY), true).unwrap();
    assert_eq!((again.files.len(), again.there.len(), again.otherwise.len()), (0, 2, 0));
    let retouched = folder.join("day.csv");
    let csv = fs::read_to_string(sheet(DAY)).unwrap();
    fs::write(&retouched, csv.replacen(",78,", ",88,", 1)).unwrap();
    let other = take(&folder, &retouched, true).unwrap();
    assert_eq!(
        other.otherwise[0].values,
        [("runs[0].steps[1].passivate.temperature".to_owned(), "78 °F".to_owned(), "88 °F".to_owned())]
    );
    assert_eq!(fs::read_to_string(folder.join("lots/L-26-0511.yaml")).unwrap(), text);
}

#[test]
fn faults_are_told_by_cell_and_nothing_is_written() {
    for (i, (from, to, cell, found)) in [
        (",78,", ",78 °X,", "line 3, column 21", "`78 °X`"),
        (",78,", ",NaN,", "line 3, column 21", "`NaN`"),
        (",78,", ",=70+8,", "line 3, column 21", "`=70+8`"),
        (",78,", ",about 78,", "line 3, column 21", "`about 78`"),
        (",8:52,", ",8:12,", "line 3, column 20", "before in at"),
        (",8:52,", ",52,", "line 3, column 20", "`52`"),
        ("L-26-0512,QI-88411", "L-26-0512,QI-99999", "line 5, column 2", "no order `QI-99999`"),
        (",N-2,", ",N-22,", "line 3, column 18", "`N-22`"),
        ("T. Quince", "T. Qince", "line 3, column 17", "`T. Qince`"),
        ("L-26-0511", "../L-26-0511", "line 3, column 1", "`../L-26-0511`"),
        (",100,100,", ",100,99,", "line 4, column 8", "`100`"),
        ("11/23/2026", "23/11/2026", "line 3, column 11", "`23/11/2026`"),
        (",1,60,", ",,60,", "line 3", "no run"),
        (",1,60,", ",1,-60,", "line 3, column 13", "`-60`"),
        ("Truck", "Failed", "line 2, column 43", "the column `Failed`"),
        ("Truck", "Grade", "line 2, column 43", "`Grade` again"),
    ]
    .into_iter()
    .enumerate()
    {
        let taken = changed(&format!("fault-{i}"), from, to).unwrap();
        assert!(!taken.written, "{to}");
        let told = taken.faults.iter().any(|f| f.cell == cell && f.found.contains(found));
        assert!(told, "{to}: {:#?}", taken.faults);
    }
    // All of them, not the first.
    let folder = shop("all");
    let text = fs::read_to_string(sheet(DAY)).unwrap().replace("CM-1", "CM-7").replace(",6,", ",six,");
    fs::write(folder.join("day.csv"), text).unwrap();
    assert_eq!(take(&folder, &folder.join("day.csv"), true).unwrap().faults.len(), 6);
}

#[test]
fn damaged_and_strange_files_are_no_sheets() {
    let folder = shop("damaged");
    let csv = fs::read(sheet(DAY)).unwrap();
    let cases: Vec<(&str, Vec<u8>)> = vec![
        ("short.csv", csv[..csv.len() - 40].to_vec()),
        (
            "quote.csv",
            String::from_utf8(csv.clone()).unwrap().replacen("L-26-0511", "\"L-26-0511", 1).into_bytes(),
        ),
        ("latin.csv", [csv.as_slice(), b"\xff\n"].concat()),
        ("empty.csv", Vec::new()),
        ("rows.csv", [csv.as_slice(), "x\n".repeat(6000).as_bytes()].concat()),
        ("other.csv", b"a,b\n1,2\n".to_vec()),
        ("text.xlsx", csv.clone()),
        ("half.xlsx", workbook(|_| ())[..900].to_vec()),
        ("big.xlsx", vec![0; 2 << 20]),
        ("day.pdf", csv),
    ];
    for (name, bytes) in cases {
        fs::write(folder.join(name), bytes).unwrap();
        assert!(take(&folder, &folder.join(name), true).is_err(), "{name}");
    }
}

/// The day sheet as a workbook: numbers as numbers, days and times as the program keeps them.
fn workbook(change: impl Fn(&mut rust_xlsxwriter::Worksheet)) -> Vec<u8> {
    let mut book = Workbook::new();
    let tab = book.add_worksheet();
    tab.set_name("Nitric line").unwrap();
    let (clock, date) = (Format::new().set_num_format("h:mm"), Format::new().set_num_format("m/d/yyyy"));
    let csv = fs::read_to_string(sheet(DAY)).unwrap();
    for (row, line) in (0_u32..).zip(csv.lines()) {
        for (column, text) in (0_u16..).zip(line.split(',')) {
            let time = text.split_once(':').filter(|(h, _)| h.parse::<u16>().is_ok());
            if let Some((hour, rest)) = time {
                let afternoon = if rest.ends_with("pm") && hour != "12" { 12 } else { 0 };
                let (hour, minute) = (hour.parse::<u16>().unwrap() + afternoon, &rest[..2]);
                let at = ExcelDateTime::from_hms(hour, minute.parse().unwrap(), 0).unwrap();
                tab.write_with_format(row, column, &at, &clock).unwrap();
            } else if text == "11/23/2026" {
                tab.write_with_format(row, column, ExcelDateTime::from_ymd(2026, 11, 23).unwrap(), &date)
                    .unwrap();
            } else if let Ok(number) = text.parse::<f64>() {
                tab.write(row, column, number).unwrap();
            } else if !text.is_empty() {
                tab.write(row, column, text).unwrap();
            }
        }
    }
    change(tab);
    book.add_worksheet().set_name("Notes").unwrap();
    book.save_to_buffer().unwrap()
}

#[test]
fn a_workbook_says_the_same_as_the_text_table() {
    let folder = shop("workbook");
    let plain = take(&folder, &sheet(DAY), false).unwrap();
    let file = folder.join("day.xlsx");
    fs::write(&file, workbook(|_| ())).unwrap();
    let taken = take(&folder, &file, true).unwrap();
    assert!(taken.faults.is_empty(), "{:#?}", taken.faults);
    let below = |taken: &Taken| {
        taken.files.iter().map(|f| f.text.split_once('\n').unwrap().1.to_owned()).collect::<Vec<_>>()
    };
    assert_eq!(below(&taken), below(&plain));
    let first = taken.files[0].text.lines().next().unwrap().to_owned();
    assert!(first.contains("worksheet Nitric line") && first.ends_with("rows 3, 4."), "{first}");
}

#[test]
fn formulas_errors_and_far_cells_of_a_workbook_do_not_pass() {
    type Change = fn(&mut rust_xlsxwriter::Worksheet);
    let cases: [(Change, &str, &str); 5] = [
        (
            |t| {
                t.write(2, 20, Formula::new("=70+8").set_result("78")).unwrap();
            },
            "U3",
            "the formula =70+8",
        ),
        (
            |t| {
                t.write(2, 20, 0.1 + 0.2).unwrap();
            },
            "U3",
            "which no gauge shows",
        ),
        (
            |t| {
                t.write(2, 20, true).unwrap();
            },
            "U3",
            "the truth value true",
        ),
        (
            |t| {
                t.write(2, 18, 0.35).unwrap();
            },
            "S3",
            "the number 0.35",
        ),
        (
            |t| {
                t.write(2, 60, "91").unwrap();
            },
            "BI3",
            "`91`",
        ),
    ];
    for (i, (change, cell, found)) in cases.into_iter().enumerate() {
        let folder = shop(&format!("cell-{i}"));
        fs::write(folder.join("day.xlsx"), workbook(change)).unwrap();
        let taken = take(&folder, &folder.join("day.xlsx"), true).unwrap();
        let told = taken.faults.iter().any(|f| f.cell == cell && f.found.contains(found));
        assert!(told && !taken.written, "{cell}: {:#?}", taken.faults);
    }
    let folder = shop("far");
    fs::write(
        folder.join("day.xlsx"),
        workbook(|t| {
            t.write(1_048_575, 16_383, 1).unwrap();
        }),
    )
    .unwrap();
    assert!(take(&folder, &folder.join("day.xlsx"), true).is_err());
}

#[test]
fn analyses_and_calibrations_go_to_the_end_of_their_lists() {
    let folder = shop("books");
    for (name, file) in
        [("laboratory-2026-11-24.csv", "baths.yaml"), ("gauges-2026-11.csv", "instruments.yaml")]
    {
        let before = fs::read_to_string(folder.join(file)).unwrap();
        assert!(take(&folder, &sheet(name), true).unwrap().written);
        let after = fs::read_to_string(folder.join(file)).unwrap();
        let new: Vec<&str> = after.lines().filter(|l| !before.lines().any(|b| b == *l)).collect();
        assert_eq!(after.lines().count(), before.lines().count() + new.len());
        assert!(before.lines().all(|l| after.lines().any(|a| a == l)));
        // Once more: nothing is entered twice.
        let again = take(&folder, &sheet(name), true).unwrap();
        assert!(!again.written && again.faults.is_empty() && again.there.len() == 1, "{again:?}");
    }
    let baths = fs::read_to_string(folder.join("baths.yaml")).unwrap();
    assert!(
        baths.contains("{ at: 2026-11-24T06:12-05:00, by: J. Teasel, found: { nitric acid: 26.20 vol% } }")
    );
    // Another finding for the same sample is no new analysis.
    let text = fs::read_to_string(sheet("laboratory-2026-11-24.csv")).unwrap();
    for (from, to) in [("26,20", "24,90"), ("26,20", "26.20"), ("26,20", "260"), (";26,20;", ";;")] {
        fs::write(folder.join("lab.csv"), text.replace(from, to)).unwrap();
        let taken = take(&folder, &folder.join("lab.csv"), true).unwrap();
        assert!(!taken.faults.is_empty() && !taken.written, "{to}");
    }
    assert_eq!(fs::read_to_string(folder.join("baths.yaml")).unwrap(), baths);
}

/// What is written in a blank, by the block it stands in and its key.
fn filled(blank: &str, bath: &str, test: Option<TestKind>, grade: &str, celsius: bool) -> String {
    let mut block = String::new();
    let mut all = String::new();
    for line in blank.lines() {
        let plain = line.split("  #").next().unwrap();
        let key = plain.trim().trim_start_matches("- ").trim_end_matches(':');
        if let Some(named) = plain.trim().strip_prefix("- ").filter(|n| n.ends_with(':')) {
            if !["heat:"].contains(&named) {
                block = named.trim_end_matches(':').to_owned();
            }
        } else if plain.trim().starts_with("- test:") {
            block = "test".to_owned();
        } else if plain.trim().starts_with("- run:") {
            block = "run".to_owned();
        }
        if plain == "visual:" || plain == "measurements:" {
            block = plain.trim_end_matches(':').to_owned();
        }
        if plain.trim() == "final: true" {
            block = "final".to_owned();
        }
        let swab = matches!(test, Some(TestKind::CopperSulfate | TestKind::FerricyanideNitric));
        let value = match (block.as_str(), key) {
            (_, "grade") => grade,
            (_, "heat") => "H1",
            (_, "known") => "verified",
            ("", "received" | "accepted") | ("run", "pieces") => "20",
            ("", "by") => "R. Medlar",
            ("clean", "bath") => "AC-1",
            ("post-dip", "bath") => "PD-1",
            (_, "bath") => bath,
            ("clean", "in") => "2026-10-20T08:00-05:00",
            ("clean", "out") => "2026-10-20T08:10-05:00",
            ("post-dip", "in") => "2026-10-20T09:00-05:00",
            ("post-dip", "out") => "2026-10-20T09:15-05:00",
            (_, "in") => "2026-10-20T08:20-05:00",
            (_, "out") => {
                if bath == "EP-1" {
                    "2026-10-20T08:32-05:00"
                } else {
                    "2026-10-20T08:52-05:00"
                }
            }
            ("electropolish", "temperature") => "55 °C",
            ("post-dip", "temperature") => "25 °C",
            ("electropolish", "current_density") => "20 A/dm²",
            ("test", "temperature") => match test {
                Some(TestKind::SaltSpray) => {
                    if celsius {
                        "35 °C"
                    } else {
                        "95 °F"
                    }
                }
                Some(TestKind::DampCloth) => "75 °F",
                _ => {
                    if celsius {
                        "38 °C"
                    } else {
                        "100 °F"
                    }
                }
            },
            (_, "temperature") => {
                if bath == "C-1" {
                    "110 °F"
                } else {
                    "80 °F"
                }
            }
            ("rinse", "at") => "2026-10-20T09:20-05:00",
            ("final", "at") => "2026-10-20T09:25-05:00",
            ("final", "total_solids") => "50 ppm",
            ("final", "instrument") => "CM-1",
            ("dry", "at") => "2026-10-20T09:40-05:00",
            ("visual", "at") => "2026-10-20T10:00-05:00",
            ("measurements", "at") => "2026-10-20T11:00-05:00",
            ("measurements", "instrument") => "PR-1",
            ("measurements", "readings") => "[9 µin, 10 µin, 9 µin, 9 µin, 9 µin, 9 µin]",
            ("visual", "pieces") => "20",
            ("test", "pieces") => "5",
            (_, "failed") => "0",
            (_, "observed") => "clean",
            ("test", "started") => {
                if test == Some(TestKind::FerricyanideNitric) {
                    "2026-10-23T13:00-05:00"
                } else {
                    "2026-10-20T13:00-05:00"
                }
            }
            ("test", "ended") => {
                if swab {
                    if test == Some(TestKind::FerricyanideNitric) {
                        "2026-10-23T13:06-05:00"
                    } else {
                        "2026-10-20T13:06-05:00"
                    }
                } else {
                    "2026-10-21T13:30-05:00"
                }
            }
            ("test", "solution") => {
                if test == Some(TestKind::FerricyanideNitric) {
                    "FN-26-03"
                } else {
                    "CS-26-07"
                }
            }
            ("test", "cleaned_with") => "acetone",
            ("test", "water") => "distilled",
            ("test", "cycles") => "12",
            ("test", "wet" | "dry") => "1 h",
            ("test", "humidity") => "97 %RH",
            ("test", "salt") => "5 wt%",
            ("test", "acidity") => "pH 6.9",
            ("test", "fallout") => "1.5 mL",
            ("test", "kept_wet") => "6 min",
            ("test", "read_within") => "30 s",
            ("test", "instrument") => match test {
                Some(TestKind::HighHumidity) => "HC-1",
                Some(TestKind::SaltSpray) => "SS-1",
                Some(TestKind::DampCloth) => "TI-10",
                Some(TestKind::WaterImmersion) => "WI-1",
                _ => "TM-1",
            },
            ("test" | "visual" | "measurements", "by") => "R. Medlar",
            (_, "by") => "T. Quince",
            _ => "",
        };
        let open = plain.trim_end().ends_with(':');
        all.push_str(plain.trim_end());
        if open && !value.is_empty() {
            all.push_str(&format!(" {value}"));
        }
        all.push('\n');
    }
    all
}

#[test]
fn a_blank_filled_in_leaves_no_evidence_out() {
    let nitric = [
        TestKind::WaterImmersion,
        TestKind::HighHumidity,
        TestKind::SaltSpray,
        TestKind::CopperSulfate,
        TestKind::FerricyanideNitric,
        TestKind::DampCloth,
    ];
    let mut cases: Vec<(String, &str, Option<TestKind>, &str, bool)> = Vec::new();
    for treatment in ["Nitric 2", "Citric 2"] {
        let bath = if treatment == "Nitric 2" { "N-2" } else { "C-1" };
        for test in nitric {
            let call = format!(
                "  - {{ standard: ASTM A967/A967M-17, treatment: {treatment}, tests: [{}] }}",
                test.name()
            );
            cases.push((call, bath, Some(test), "304", false));
        }
    }
    cases.push(("  - { standard: ASTM A967/A967M-17, treatment: Nitric 2 }\n  - { limit: Ra, at_most: 16 µin, pieces: 3 }".to_owned(), "N-2", None, "304", false));
    for (i, (call, bath, test, grade, celsius)) in cases.iter().enumerate() {
        let mut book = Book::open(Folder::new(support::folder())).unwrap();
        book.adoptions.clone_from(&support::book().adoptions);
        let part = book.parts.iter_mut().find(|p| p.document.part == "7790-06").unwrap();
        let (before, _) = part.text.split_once("calls_for:").unwrap();
        part.document = brightproof::yaml::parse(&format!("{before}calls_for:\n{call}\n")).unwrap();
        let request = Request { order: "QI-88411", line: "1", part: Some("7790-06"), ..Request::default() };
        let text = blank::blank(&book, "L-26-0513", &request).unwrap();
        assert!(
            brightproof::yaml::parse::<brightproof::record::Record>(&text).is_err(),
            "a blank is no record"
        );
        let text = filled(&text, bath, *test, grade, *celsius);
        let record =
            brightproof::app::book::parse("lots/x.yaml", text.clone(), brightproof::validate::record);
        let case = book.case(record.unwrap_or_else(|e| panic!("{i} {call}: {e}\n{text}"))).unwrap();
        let found = brightproof::judge::judge(&case.dossier);
        let open: Vec<_> = found.iter().filter(|f| f.is_gap() && f.verdict == Verdict::NoEvidence).collect();
        assert!(open.is_empty(), "{call}: {open:#?}\n{text}");
        assert!(found.iter().filter(|f| f.verdict == Verdict::Met).count() >= 12, "{call}");
    }
}

#[test]
fn a_blank_names_the_limits_ordered() {
    let book = support::book();
    let request = Request { order: "QI-88411", line: "1", part: None, ..Request::default() };
    let text = blank::blank(book, "L-26-0513", &request).unwrap();
    assert!(
        text.contains("temperature:  # 70 °F to 90 °F or 20 °C to 30 °C (ASTM A967/A967M-17, 6.1.1.2)"),
        "{text}"
    );
    for (lot, request) in [
        ("../x", Request { order: "QI-88411", line: "1", part: None, ..Request::default() }),
        ("L-1", Request { order: "QI-0", line: "1", part: None, ..Request::default() }),
        ("L-1", Request { order: "QI-88411", line: "9", part: None, ..Request::default() }),
        ("L-1", Request { order: "QI-88411", line: "1", part: Some("other"), ..Request::default() }),
    ] {
        assert!(blank::blank(book, lot, &request).is_err());
    }
}

/// A figure from memory is not shown as if it had been read, until the shop has held it against its own copy.
#[test]
fn a_blank_tells_what_is_only_recalled() {
    let request = Request { order: "QI-88411", line: "1", part: None, ..Request::default() };
    let said = |book: &Book| {
        let text = blank::blank(book, "L-26-0513", &request).unwrap();
        (text.matches("recalled, not read: compare with your copy").count(), text)
    };
    let fresh = Book::open(Folder::new(support::folder())).unwrap();
    assert!(fresh.adoptions.is_empty());
    let (count, text) = said(&fresh);
    assert!(count > 0, "{text}");
    assert_eq!(said(support::book()).0, 0);
}

/// B912: figures nobody could read stay without evidence until the shop enters them; nothing else may.
#[test]
fn a_blank_of_an_electropolished_part_leaves_nothing_else_out() {
    let book = support::book();
    let order = book.orders.iter().find(|o| o.document.lines.iter().any(|l| l.part == "OS-VF40")).unwrap();
    let line = order.document.lines.iter().find(|l| l.part == "OS-VF40").unwrap();
    let request =
        Request { order: &order.document.order, line: &line.line, part: None, ..Request::default() };
    let text = filled(
        &blank::blank(book, "L-26-0514", &request).unwrap(),
        "EP-1",
        Some(TestKind::WaterImmersion),
        "316L",
        true,
    );
    let record = brightproof::app::book::parse("lots/x.yaml", text.clone(), brightproof::validate::record);
    let case = book.case(record.unwrap_or_else(|e| panic!("{e}\n{text}"))).unwrap();
    let found = brightproof::judge::judge(&case.dossier);
    let open: Vec<_> = found
        .iter()
        .filter(|f| f.is_gap() && f.verdict == Verdict::NoEvidence && f.reason != Some(Reason::FigureUnsure))
        .collect();
    assert!(open.is_empty(), "{open:#?}\n{text}");
}
