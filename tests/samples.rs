//! The sample lots: those said to conform do, and each of the others has the one gap it was made for.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test stops at the first surprise")]

use brightproof::finding::Verdict;
use brightproof::judge::conforms;
use brightproof::judge::judge;

use crate::support::CONFORMING;
use crate::support::UNDER_DEVIATION;
use crate::support::book;
use crate::support::brief;
use crate::support::dossier;

#[test]
fn conforming_lots_conform() {
    for lot in CONFORMING.into_iter().chain(UNDER_DEVIATION) {
        let findings = judge(&dossier(lot));
        let gaps: Vec<String> = findings.iter().filter(|f| f.is_gap()).map(brief).collect();
        assert!(conforms(&findings), "{lot}: {gaps:#?}");
        let met = findings.iter().filter(|f| f.verdict == Verdict::Met).count();
        assert!(met >= 15, "{lot}: only {met} requirements met");
    }
}

struct Fault {
    lot: &'static str,
    requirement: &'static str,
    verdict: Verdict,
    observed: Option<&'static str>,
    place: &'static str,
}

const FAULTS: &[Fault] = &[
    Fault {
        lot: "L-26-0412",
        requirement: "astm-a967/nitric-2.temperature",
        verdict: Verdict::NotMet,
        observed: Some("91 °F"),
        place: "lots/L-26-0412.yaml:14:103",
    },
    Fault {
        lot: "L-26-0413",
        requirement: "astm-a967/practice-d.alloy",
        verdict: Verdict::NotMet,
        observed: Some("martensitic 400 series"),
        place: "lots/L-26-0413.yaml:6:20",
    },
    Fault {
        lot: "L-26-0414",
        requirement: "house/bath.thermometer",
        verdict: Verdict::NotMet,
        observed: Some("TI-5: passed 2026-05-08, due 2026-11-08"),
        place: "instruments.yaml:30:9",
    },
    Fault {
        lot: "L-26-0415",
        requirement: "astm-a967/practice-d.solution-age",
        verdict: Verdict::NotMet,
        observed: Some("15 d 5 h 20 min"),
        place: "solutions.yaml:11:12",
    },
    Fault {
        lot: "L-26-0416",
        requirement: "astm-a967/nitric-2.time",
        verdict: Verdict::NotMet,
        observed: Some("28 min"),
        place: "lots/L-26-0416.yaml:27:66",
    },
    Fault {
        lot: "L-26-0417",
        requirement: "astm-a967/nitric.final-rinse-solids",
        verdict: Verdict::NoEvidence,
        observed: None,
        place: "lots/L-26-0417.yaml:16:9",
    },
    Fault {
        lot: "L-26-0418",
        requirement: "house/counts.reconcile",
        verdict: Verdict::NotMet,
        observed: Some("149 accounted for"),
        place: "lots/L-26-0418.yaml:7:1",
    },
    Fault {
        lot: "L-26-0419",
        requirement: "astm-a967/practice-d.chromium",
        verdict: Verdict::NotMet,
        observed: Some("15.8 wt%"),
        place: "lots/L-26-0419.yaml:6:1",
    },
    Fault {
        lot: "L-26-0420",
        requirement: "house/bath.analysis",
        verdict: Verdict::NotMet,
        observed: Some("10 d 1 h 56 min old, of 2026-11-09T06:34-05:00"),
        place: "baths.yaml:79:9",
    },
    Fault {
        lot: "L-26-0421",
        requirement: "astm-a967/tests.made",
        verdict: Verdict::NoEvidence,
        observed: None,
        place: "lots/L-26-0421.yaml:27:1",
    },
    Fault {
        lot: "L-26-0461",
        requirement: "house/operator.qualified",
        verdict: Verdict::NotMet,
        observed: Some("S. Sedge: passivation until 2026-11-16"),
        place: "people.yaml:26:5",
    },
    Fault {
        lot: "L-26-0462",
        requirement: "house/bath.next-analysis",
        verdict: Verdict::NotMet,
        observed: Some("19.4 vol% in N-5, drawn 2026-11-23T07:01-05:00"),
        place: "baths.yaml:132:54",
    },
    Fault {
        lot: "L-26-0443",
        requirement: "astm-a967/nitric-2.temperature",
        verdict: Verdict::NotMet,
        observed: Some("93 °F"),
        place: "lots/L-26-0443.yaml:14:103",
    },
    Fault {
        lot: "L-26-0444",
        requirement: "house/statement.founded",
        verdict: Verdict::NoEvidence,
        observed: None,
        place: "orders/QI-88310.yaml:17:9",
    },
    Fault {
        lot: "L-26-0472",
        requirement: "astm-a967/nitric-2.time",
        verdict: Verdict::NotMet,
        observed: Some("28 min"),
        place: "lots/L-26-0472.yaml:23:66",
    },
    Fault {
        lot: "L-26-0522",
        requirement: "halyard-hps-14/nitric-2.temperature",
        verdict: Verdict::NotMet,
        observed: Some("87 °F"),
        place: "lots/L-26-0522.yaml:13:103",
    },
    Fault {
        lot: "L-26-0552",
        requirement: "astm-a967/nitric-2.temperature",
        verdict: Verdict::NotMet,
        observed: Some("93.3 °F, above 90 °F for 8 min 7.5 s from 2026-11-25T09:51:15-05:00"),
        place: "lots/L-26-0552.yaml:14:13",
    },
    Fault {
        lot: "L-26-0554",
        requirement: "house/figures.agree",
        verdict: Verdict::NotMet,
        observed: Some("0.28 µm typed"),
        place: "lots/L-26-0554.yaml:47:16",
    },
    Fault {
        lot: "L-26-0555",
        requirement: "house/log.whole",
        verdict: Verdict::NotMet,
        observed: Some(
            "58 readings from 2026-11-27T09:40:00-05:00 to 2026-11-27T10:14:00-05:00, the longest gap 20 min",
        ),
        place: "lots/L-26-0555.yaml:14:13",
    },
    Fault {
        lot: "L-26-0556",
        requirement: "astm-a967/finish.clean",
        verdict: Verdict::NotMet,
        observed: Some("3 of 13 failed"),
        place: "lots/L-26-0556.yaml:32:5",
    },
    Fault {
        lot: "L-26-0557",
        requirement: "astm-a967/finish.clean",
        verdict: Verdict::NotMet,
        observed: Some("3 of 13 failed"),
        place: "lots/L-26-0557.yaml:32:5",
    },
    Fault {
        lot: "L-26-0558",
        requirement: "astm-a967/finish.clean",
        verdict: Verdict::NotMet,
        observed: Some("2 of 13 failed"),
        place: "lots/L-26-0558.yaml:32:5",
    },
    Fault {
        lot: "L-26-0475",
        requirement: "house/call-out-judged",
        verdict: Verdict::NoEvidence,
        observed: None,
        place: "parts/7742-01-A.yaml:10:5",
    },
];

/// Lots about corrections: what stands in their records conforms; one is held by its journal.
const CORRECTED: [&str; 2] = ["L-26-0431", "L-26-0432"];

#[test]
fn corrected_records_conform_by_themselves() {
    for lot in CORRECTED {
        let findings = judge(&dossier(lot));
        assert!(conforms(&findings), "{lot}");
    }
}

/// Every lot of the folder stands in one of the tables.
#[test]
fn no_lot_is_left_out() {
    let mut known: Vec<String> = CONFORMING
        .iter()
        .chain(&UNDER_DEVIATION)
        .copied()
        .chain(CORRECTED)
        .chain(FAULTS.iter().map(|f| f.lot))
        .map(|l| format!("lots/{l}.yaml"))
        .collect();
    known.sort();
    assert_eq!(book().lot_files().unwrap(), known);
}

#[test]
fn every_other_lot_has_the_one_gap_it_was_made_for() {
    for fault in FAULTS {
        let case = book().case(book().lot(fault.lot).unwrap()).unwrap();
        let findings = judge(&case.dossier);
        let gaps: Vec<_> = findings.iter().filter(|f| f.is_gap()).collect();
        let said: Vec<String> = gaps.iter().map(|f| brief(f)).collect();
        assert_eq!(gaps.len(), 1, "{}: {said:#?}", fault.lot);
        let gap = gaps[0];
        assert_eq!(gap.requirement, fault.requirement, "{}: {said:#?}", fault.lot);
        assert_eq!(gap.verdict, fault.verdict, "{}", fault.lot);
        assert_eq!(gap.observed.as_deref(), fault.observed, "{}", fault.lot);
        assert_eq!(case.locate(book(), &gap.place), fault.place, "{}", fault.lot);
    }
}
