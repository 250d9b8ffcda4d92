//! Reports of the invented shop: figures checked by hand, and what a shop that wants better ones could try.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test stops at the first surprise"
)]

use std::fs;
use std::path::Path;

use brightproof::app::book::Book;
use brightproof::app::figures;
use brightproof::app::figures::Scope;
use brightproof::app::lookup;
use brightproof::cli::Cli;
use brightproof::command;
use brightproof::command::Output;
use brightproof::figures::Days;
use brightproof::figures::Lot;
use brightproof::figures::Share;
use brightproof::figures::total_yield;
use brightproof::figures::turn_round;
use brightproof::folder::Folder;
use clap::Parser;
use serde_json::Value;

use crate::demo;
use crate::demo::Demo;

fn book(folder: &Path) -> Book {
    match Book::open(Folder::new(folder)) {
        Ok(book) => book,
        Err(error) => panic!("{error}"),
    }
}

fn everything() -> Scope {
    Scope::default()
}

fn days(from: &str, to: &str) -> Scope {
    let days = Days { from: Some(from.parse().unwrap()), to: Some(to.parse().unwrap()) };
    Scope { days, purchaser: None }
}

fn lots(folder: &Path, scope: &Scope) -> Vec<Lot> {
    figures::lots(&book(folder), scope, &demo::world(demo::AFTER, "figures")).unwrap().lots
}

fn lot<'a>(lots: &'a [Lot], name: &str) -> &'a Lot {
    lots.iter().find(|l| l.lot == name).unwrap_or_else(|| panic!("no {name}"))
}

/// Runs `report` with these words; answers exit code and what was written.
fn report(folder: &Path, words: &[&str]) -> (u8, String) {
    let shop = folder.display().to_string();
    let line: Vec<&str> =
        ["brightproof", "--shop", &shop, "report"].into_iter().chain(words.iter().copied()).collect();
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let exit = command::run(
        &Cli::try_parse_from(line).unwrap(),
        &demo::world(demo::AFTER, "figures"),
        &mut Output { out: &mut out, err: &mut err },
    );
    out.extend(err);
    (exit as u8, String::from_utf8(out).unwrap())
}

/// Worked by hand from the records. 5 to 16 October: 0401 treated 240, 0402 120, 0403 36, 0404 12 of which one was
/// used up by its test, 0405 60, 0406 500: treated 968, accepted at first 967, 99.9 %. 0409, treated twice: 100
/// treated, all of them again, 98 accepted: none at first, 98 in the end.
#[test]
fn yields_of_the_samples_by_hand() {
    let folder = Demo::get().copy("figures-yield");
    let october = lots(&folder, &days("2026-10-05", "2026-10-16"));
    let own: Vec<Lot> =
        october.into_iter().filter(|l| ("L-26-0401".."L-26-0407").contains(&l.lot.as_str())).collect();
    let sum = total_yield(&own);
    assert_eq!(sum.first_pass, Share { part: 967, whole: 968 });
    assert_eq!(sum.first_pass.percent().unwrap().to_string(), "99.9");
    assert_eq!(sum.lots_at_first, Share { part: 6, whole: 6 });
    let all = lots(&folder, &everything());
    let again = lot(&all, "L-26-0409");
    assert_eq!((again.treated, again.again, again.first_pass(), again.final_pass()), (100, 100, 0, 98));
    assert!(!again.at_first());
    // A bath at 91 °F: 160 pieces are written as accepted and count as none.
    let hot = lot(&all, "L-26-0412");
    assert_eq!((hot.treated, hot.accepted, hot.first_pass()), (160, 160, 0));
}

/// Worked by hand, issued 24 November: received 1 October 30 + 24 = 54 days (0402, on two certificates), 5 October 50
/// (0401, and the wordy lot, which is a copy of it), 8 October 47, 12 October 43, 20 October 35, 26 October 29. In
/// order 29 35 43 47 50 50 54 54: the middle two are 47 and 50, the median 48.5.
#[test]
fn turn_round_of_the_samples_by_hand() {
    let demo = Demo::get();
    let passages = figures::turn_round(&book(&demo.folder), &everything()).unwrap();
    let all = turn_round(&passages);
    assert_eq!((all.counted, all.without, all.impossible), (8, 5, 0), "{passages:?}");
    assert_eq!((all.least, all.most), (Some(29), Some(54)));
    assert_eq!(all.median.unwrap().to_string(), "48.5");
}

/// Putting a value right, or faking it, does not take the gap out of the figures: 0432's first check saw 91 °F.
#[test]
fn a_gap_that_was_seen_stays_counted() {
    let folder = Demo::get().copy("figures-seen");
    let all = lots(&folder, &everything());
    let seen = lot(&all, "L-26-0432");
    let gap = seen.gaps.iter().find(|g| g.requirement == "astm-a967/nitric-2.temperature").unwrap();
    assert!(!gap.open);
    assert_eq!(gap.subject, "bath temperature");
    assert_eq!(seen.first_check, Some(1));

    // Mend a lot honestly: it conforms, but not at first.
    demo::correct(&folder, "lots/L-26-0412.yaml", "temperature: 91 °F", "temperature: 89 °F");
    let all = lots(&folder, &everything());
    let mended = lot(&all, "L-26-0412");
    assert!(mended.conforms() && !mended.at_first(), "{mended:?}");
    assert_eq!(mended.gaps.len(), 1);
}

/// A report shows gaps, so it must leave a check's line like any check: no look without a trace.
#[test]
fn a_report_leaves_its_line_in_the_journal() {
    let folder = demo::fresh("figures-trace");
    demo::begin(&folder, "figures-trace");
    let journal = folder.join("journal/L-26-0412.jsonl");
    assert!(!journal.exists());
    let (exit, _) = report(&folder, &["gaps", "--from", "2026-11-04", "--to", "2026-11-04"]);
    assert_eq!(exit, 0);
    let line = fs::read_to_string(&journal).unwrap();
    assert!(line.contains("astm-a967/nitric-2.temperature, run 1"), "{line}");
    // Lots of other days were not looked at.
    assert!(!folder.join("journal/L-26-0413.jsonl").exists());
}

/// A journal thrown away takes nothing out of "first": the lot's certificate says that a line is gone.
#[test]
fn a_lost_journal_is_no_first_check() {
    let folder = Demo::get().copy("figures-lost");
    assert!(lot(&lots(&folder, &everything()), "L-26-0401").at_first());
    fs::remove_file(folder.join("journal/L-26-0401.jsonl")).unwrap();
    let found = figures::lots(&book(&folder), &everything(), &demo::world(demo::AFTER, "lost")).unwrap();
    let lost = lot(&found.lots, "L-26-0401");
    assert_eq!(lost.first_check, None);
    assert!(!lost.at_first());
    assert!(found.journals.iter().any(|j| j.contains("L-26-0401")), "{:?}", found.journals);
}

/// Worked by hand: N-2 in November has three readings outside 70 to 90 °F: 91 (0412), 93 permitted by deviation
/// (0441), 93 after its deviation ran out (0443). Every bath analysis lies within 20 to 45 vol%.
#[test]
fn a_bath_by_hand() {
    let folder = Demo::get().copy("figures-bath");
    let scope = days("2026-11-01", "2026-11-30");
    let found = figures::bath(&book(&folder), "N-2", &scope, &demo::world(demo::AFTER, "bath")).unwrap();
    let of = |what: &str| found.series.iter().find(|s| s.what == what).unwrap();
    let temperature = of("bath temperature");
    let mut outside: Vec<String> =
        temperature.points.iter().filter(|p| p.outside).map(|p| format!("{} {}", p.value, p.whose)).collect();
    outside.sort();
    assert_eq!(
        outside,
        [
            "87 °F lot L-26-0522, run 1",
            "91 °F lot L-26-0412, run 1",
            "93 °F lot L-26-0441, run 1",
            "93 °F lot L-26-0443, run 1"
        ]
    );
    // The standard's window, and that of a purchaser's clauses.
    assert_eq!(temperature.limits.len(), 2);
    let acid = of("nitric acid");
    assert_eq!(acid.points.len(), 4);
    assert_eq!(acid.outside(), 0);
    let (low, high) = acid.reach().unwrap();
    assert_eq!((low.to_string(), high.to_string()), ("26.3 vol%".to_owned(), "28.2 vol%".to_owned()));
    assert!(figures::bath(&book(&folder), "N-9", &scope, &demo::world(demo::AFTER, "bath")).is_err());
}

/// A load's reading is one, however many lots went through in it.
#[test]
fn a_reading_of_a_load_is_counted_once() {
    let folder = Demo::get().copy("figures-load");
    let mut loads = 0;
    for bath in &book(&folder).baths.document.baths {
        let world = demo::world(demo::AFTER, "load");
        let found = figures::bath(&book(&folder), &bath.bath, &everything(), &world).unwrap();
        for series in &found.series {
            let mut own: Vec<String> = series
                .points
                .iter()
                .filter(|p| p.whose.starts_with("load "))
                .map(|p| format!("{} {} {}", p.whose, p.at, p.value))
                .collect();
            loads += own.len();
            own.sort();
            let all = own.len();
            own.dedup();
            assert_eq!(own.len(), all, "{own:?}");
        }
    }
    assert!(loads > 0, "the samples have loads");
}

/// A report for one purchaser is for giving away: it holds nothing of another, not even what cannot be read.
#[test]
fn a_purchasers_report_shows_nothing_of_another() {
    let folder = Demo::get().copy("figures-purchaser");
    fs::write(folder.join("lots/L-26-0599.yaml"), "lot: L-26-0599 # Halyard\n").unwrap();
    for words in [vec!["month", "2026-11"], vec!["yield"], vec!["gaps"], vec!["turn-round"]] {
        for form in ["text", "json", "csv"] {
            let own: Vec<&str> =
                words.iter().copied().chain(["--purchaser", "tarn-fell", "--format", form]).collect();
            let (_, said) = report(&folder, &own);
            for other in ["Quillmark", "Orrery", "Halyard", "L-26-0401", "L-26-0404", "L-26-0599"] {
                assert!(!said.contains(other), "{own:?} names {other}:\n{said}");
            }
        }
    }
    let (exit, said) = report(&folder, &["yield"]);
    assert_eq!(exit, 2, "a record that cannot be read leaves the report open");
    assert!(said.contains("L-26-0599"), "{said}");
}

/// Withdrawing and amending move certificates from one column to another and never count pieces twice.
#[test]
fn a_month_counts_what_stands() {
    let folder = Demo::get().copy("figures-month");
    let number = Demo::get().numbers["L-26-0405"].clone();
    let table = |folder: &Path| -> Value {
        let (exit, said) = report(folder, &["month", "2026-11", "--format", "json"]);
        assert_eq!(exit, 0, "{said}");
        let all: Value = serde_json::from_str(&said).unwrap();
        all["tables"]["certificates"].as_array().unwrap().last().unwrap().clone()
    };
    let before = table(&folder);
    let issued = Demo::get().numbers.len().to_string();
    assert_eq!((before["issued"].as_str(), before["stand"].as_str()), (Some(&*issued), Some(&*issued)));
    let world = demo::world(demo::AFTER, "withdraw");
    lookup::withdraw(&Folder::new(&folder), &number, demo::RELEASES, "mixed up", "keep them", &world)
        .unwrap_or_else(|e| panic!("{e}"));
    let after = table(&folder);
    assert_eq!(after["issued"], before["issued"]);
    assert_eq!(after["pieces"], before["pieces"]);
    assert_eq!(after["withdrawn"], "1");
    let count = |row: &Value, key: &str| row[key].as_str().unwrap().parse::<u64>().unwrap();
    assert_eq!(count(&before, "standing_pieces") - count(&after, "standing_pieces"), 60);
}

/// A later day of arrival would shorten the turn-round: it may not come after treatment begins, and once checked it
/// is changed by a correction or not at all.
#[test]
fn the_day_of_arrival_is_a_value_like_any_other() {
    let folder = Demo::get().copy("figures-received");
    let file = "lots/L-26-0401.yaml";
    demo::change(&folder, file, "received: 2026-10-05", "received: 2026-10-06");
    let all = lots(&folder, &everything());
    let open: Vec<&str> =
        lot(&all, "L-26-0401").gaps.iter().filter(|g| g.open).map(|g| g.requirement.as_str()).collect();
    assert_eq!(open, ["house/record.unexplained-change"]);
    demo::change(&folder, file, "received: 2026-10-06", "received: 2026-10-07");
    let error = book(&folder).lot("L-26-0401").err().unwrap().to_string();
    assert!(error.contains("received 2026-10-07, but treatment begins"), "{error}");
}

/// The PDF has the same bytes each time, its text comes out again, and no file is written over.
#[test]
fn pages_repeat_and_their_text_comes_out() {
    let folder = Demo::get().copy("figures-pdf");
    for (nth, words) in
        [vec!["month", "2026-11"], vec!["yield"], vec!["gaps"], vec!["bath", "N-2"], vec!["turn-round"]]
            .into_iter()
            .enumerate()
    {
        let mut bytes = Vec::new();
        for turn in ["a", "b"] {
            let file = folder.join(format!("report-{nth}-{turn}.pdf"));
            let name = file.display().to_string();
            let own: Vec<&str> = words.iter().copied().chain(["--pdf", &name]).collect();
            let (exit, said) = report(&folder, &own);
            assert_eq!(exit, 0, "{said}");
            bytes.push(fs::read(&file).unwrap());
            let (exit, said) = report(&folder, &own);
            assert_eq!(exit, 2, "written over: {said}");
        }
        assert!(bytes[0].starts_with(b"%PDF-1.7"));
        assert!(bytes[0] == bytes[1], "{words:?}");
    }
    if demo::has("pdftotext", "-v") {
        let page = folder.join("report-3-a.pdf");
        let out = std::process::Command::new("pdftotext").arg(&page).arg("-").output().unwrap();
        let text = String::from_utf8(out.stdout).unwrap();
        for word in ["Bath N-2", "70 °F to 90 °F", "accepted by deviation", "no certificate", "page 1 of"] {
            assert!(text.contains(word), "{word}:\n{text}");
        }
    }
}

#[test]
fn comma_separated_values_are_for_reports_only() {
    let folder = Demo::get().folder.display().to_string();
    let line = ["brightproof", "--shop", &folder, "--format", "csv", "find", "H4471"];
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let world = demo::world(demo::AFTER, "csv");
    let mut output = Output { out: &mut out, err: &mut err };
    let exit = command::run(&Cli::try_parse_from(line).unwrap(), &world, &mut output);
    assert_eq!(exit as u8, 2);
    assert!(String::from_utf8(err).unwrap().contains("for reports"));
    let copy = Demo::get().copy("figures-csv");
    let (exit, said) = report(&copy, &["turn-round", "--format", "csv"]);
    assert_eq!(exit, 0);
    assert!(
        said.starts_with("\"lot\",\"certificate\",\"purchaser\",\"received\",\"issued\",\"days\"\r\n"),
        "{said}"
    );
    assert!(said.lines().all(|line| line.matches("\",\"").count() == 5), "{said}");
}
