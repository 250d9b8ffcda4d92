//! Ways to change what failed, each by what the next check finds.

use super::CHANGE;
use super::HOT;
use super::Shop;
use super::correct;
use super::only;

type Edit = (&'static str, &'static str, &'static str);

struct Way {
    name: &'static str,
    lot: &'static str,
    /// Edits, with a check after each.
    edits: &'static [Edit],
    /// The gap left behind.
    gap: &'static str,
    /// What its place says.
    at: &'static str,
}

const WAYS: &[Way] = &[
    Way {
        name: "take the reading out, then enter a better one",
        lot: "L-26-0412",
        edits: &[
            (HOT, "temperature: 91 °F, ", ""),
            (HOT, "out: 2026-11-04T09:04-05:00,", "out: 2026-11-04T09:04-05:00, temperature: 78 °F,"),
        ],
        gap: CHANGE,
        at: "runs[0].steps[2].passivate.temperature",
    },
    Way {
        name: "the same reading in another unit",
        lot: "L-26-0412",
        edits: &[(HOT, "temperature: 91 °F", "temperature: 29 °C")],
        gap: CHANGE,
        at: "runs[0].steps[2].passivate.temperature",
    },
    Way {
        name: "put another step before it, so that the places move",
        lot: "L-26-0412",
        edits: &[(
            HOT,
            "      - passivate: { bath: N-2, in: 2026-11-04T08:30-05:00, out: 2026-11-04T09:04-05:00, temperature: 91 °F",
            "      - rinse: { at: 2026-11-04T08:27-05:00, by: T. Quince }\n      - passivate: { bath: N-2, in: 2026-11-04T08:30-05:00, out: 2026-11-04T09:04-05:00, temperature: 89 °F",
        )],
        gap: CHANGE,
        at: "runs[0].steps[3].passivate.temperature",
    },
    Way {
        name: "swap two runs' times",
        lot: "L-26-0416",
        edits: &[("lots/L-26-0416.yaml", "run: \"2\"", "run: \"9\"")],
        gap: "fault:",
        at: "",
    },
    Way {
        name: "another bath of the book, which had been in order",
        lot: "L-26-0412",
        edits: &[(HOT, "bath: N-2", "bath: N-1")],
        gap: CHANGE,
        at: "runs[0].steps[2].passivate.bath",
    },
    Way {
        name: "the analysis in the book",
        lot: "L-26-0401",
        edits: &[("baths.yaml", "nitric acid: 26.8 vol%", "nitric acid: 24.8 vol%")],
        gap: CHANGE,
        at: "baths.N-2.analyses.2026-10-05T06:10-05:00",
    },
    Way {
        name: "a better analysis of an earlier day, entered after the check",
        lot: "L-26-0401",
        edits: &[(
            "baths.yaml",
            "      - { at: 2026-10-12T06:13-05:00,",
            "      - { at: 2026-10-06T06:00-05:00, by: J. Teasel, found: { nitric acid: 22.5 vol% } }\n      - { at: 2026-10-12T06:13-05:00,",
        )],
        gap: CHANGE,
        at: "baths.N-2.analyses.2026-10-06T06:00-05:00",
    },
    Way {
        name: "the day the analysis was drawn",
        lot: "L-26-0401",
        edits: &[("baths.yaml", "at: 2026-10-05T06:10-05:00", "at: 2026-10-05T07:10-05:00")],
        gap: CHANGE,
        at: "baths.N-2.analyses.2026-10-05T06:10-05:00",
    },
    Way {
        name: "how long an analysis is good for",
        lot: "L-26-0401",
        edits: &[("baths.yaml", "analysis_good_for: 7 d", "analysis_good_for: 14 d")],
        gap: CHANGE,
        at: "baths.N-2.analysis_good_for",
    },
    Way {
        name: "the thermometer of the bath",
        lot: "L-26-0401",
        edits: &[("baths.yaml", "thermometer: TI-2", "thermometer: TI-1")],
        gap: CHANGE,
        at: "baths.N-2.thermometer",
    },
    Way {
        name: "the due day of a calibration",
        lot: "L-26-0414",
        edits: &[("instruments.yaml", "due: 2026-11-08", "due: 2026-12-08")],
        gap: CHANGE,
        at: "instruments.TI-5.calibrations.2026-05-08",
    },
    Way {
        name: "the day a test solution was mixed",
        lot: "L-26-0415",
        edits: &[("solutions.yaml", "mixed: 2026-10-26", "mixed: 2026-11-07")],
        gap: CHANGE,
        at: "solutions.CS-26-",
    },
    Way {
        name: "a laxer part specification",
        lot: "L-26-0404",
        edits: &[("parts/HA-6120-3-A.yaml", "tests: [copper sulfate]", "tests: []")],
        gap: CHANGE,
        at: "parts.HA-6120-3 A.calls_for.ASTM A967",
    },
    Way {
        name: "the order's line",
        lot: "L-26-0401",
        edits: &[("orders/QI-88231.yaml", "quantity: 240", "quantity: 24")],
        gap: CHANGE,
        at: "orders.QI-88231.lines.1",
    },
    Way {
        name: "a count",
        lot: "L-26-0418",
        edits: &[("lots/L-26-0418.yaml", "received: 150", "received: 149")],
        gap: CHANGE,
        at: "counts.received",
    },
    Way {
        name: "a count nobody had written, which stood for none",
        lot: "L-26-0418",
        edits: &[("lots/L-26-0418.yaml", "received: 150,", "received: 150, missing: 1,")],
        gap: CHANGE,
        at: "counts.missing",
    },
    Way {
        name: "the first value put back in silence",
        lot: "L-26-0412",
        edits: &[
            (HOT, "temperature: 91 °F", "temperature: 78 °F"),
            (HOT, "temperature: 78 °F", "temperature: 91 °F"),
        ],
        gap: CHANGE,
        at: "runs[0].steps[2].passivate.temperature",
    },
];

#[test]
fn every_way_leaves_something_behind() {
    let shop = Shop::new("ways");
    let mut failures = Vec::new();
    for way in WAYS {
        // The journals begin anew, the files are put back.
        let _ = std::fs::remove_dir_all(shop.path("journal"));
        let mut saved: Vec<(&str, String)> = Vec::new();
        for (file, ..) in way.edits {
            if !saved.iter().any(|(known, _)| known == file) {
                saved.push((file, std::fs::read_to_string(shop.path(file)).unwrap()));
            }
        }
        shop.check(way.lot);
        let mut found = Vec::new();
        for (file, from, to) in way.edits {
            shop.edit(file, from, to);
            found = match shop.judged(way.lot) {
                Ok(judged) => {
                    let gaps = judged.findings.iter().filter(|f| f.is_gap());
                    gaps.map(|f| format!("{} {}", f.requirement, f.subject)).collect()
                }
                Err(error) => vec![format!("fault: {error}")],
            };
        }
        if !found.iter().any(|gap| gap.starts_with(way.gap) && gap.contains(way.at)) {
            failures.push(format!("{}: {found:#?}", way.name));
        }
        for (file, text) in saved {
            std::fs::write(shop.path(file), text).unwrap();
        }
    }
    assert!(failures.is_empty(), "{} ways leave nothing:\n{}", failures.len(), failures.join("\n"));
}

/// One correction of a row of the book stands for every lot that rests on it, and for no other.
#[test]
fn the_book_is_corrected_once() {
    let shop = Shop::new("book");
    for lot in ["L-26-0401", "L-26-0404", "L-26-0409"] {
        assert_eq!(shop.check(lot), Vec::<String>::new());
    }
    shop.edit("baths.yaml", "nitric acid: 26.8 vol%", "nitric acid: 24.8 vol%");
    only(&shop.check("L-26-0401"), CHANGE);
    assert_eq!(shop.check("L-26-0404"), Vec::<String>::new());
    let row = |acid: &str| format!("at 2026-10-05T06:10-05:00; by J. Teasel; found.nitric acid {acid} vol%");
    let at = "baths.N-2.analyses.2026-10-05T06:10-05:00";
    let text = correct(at, &row("26.8"), &row("24.8"));
    let foreign = correct("orders.TF-5520.dated", "2026-10-01", "2026-10-02");
    shop.add("corrections.yaml", &format!("corrections:\n{text}{foreign}"));
    let judged = shop.judged("L-26-0401").unwrap();
    assert!(brightproof::judge::conforms(&judged.findings));
    // The other purchaser's order is nobody else's business.
    assert_eq!(judged.case.dossier.corrections.len(), 1);
    let lot = brightproof::certificate::certified_lot(judged.case.dossier, judged.findings, 1);
    assert_eq!(lot.corrections[0].what, "bath N-2, analyses, 2026-10-05T06:10-05:00");
    // One that says what the book does not is held, wherever the row is used.
    shop.edit("corrections.yaml", "24.8", "24.9");
    let gaps = shop.check("L-26-0401");
    assert!(gaps.iter().any(|g| g.starts_with("house/record.corrections")), "{gaps:#?}");
}

/// The time of use decides which analysis counts: correcting it changes nothing in the book.
#[test]
fn a_corrected_time_asks_for_no_second_correction() {
    let shop = Shop::new("times");
    assert_eq!(shop.check("L-26-0420").len(), 1);
    let file = "lots/L-26-0420.yaml";
    let text = std::fs::read_to_string(shop.path(file)).unwrap();
    std::fs::write(
        shop.path(file),
        text.replace("2026-11-19T", "2026-11-05T").replace("2026-11-20T", "2026-11-06T"),
    )
    .unwrap();
    let gaps = shop.check("L-26-0420");
    assert!(gaps.len() > 1 && gaps.iter().all(|g| g.starts_with(CHANGE)), "{gaps:#?}");
    let judged = shop.judged("L-26-0420").unwrap();
    let changes = judged.case.dossier.checks.unwrap().changes;
    let record = brightproof::finding::Document::Record;
    assert!(changes.iter().all(|c| c.document == record), "{changes:#?}");
}
