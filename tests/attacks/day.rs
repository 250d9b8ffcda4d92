//! Who did it, with what, under which approvals, how often, and what was found afterwards: each attack is held by
//! the gap it earns, and each harmless change next to it passes.

use brightproof::judge::Dossier;
use brightproof::judge::LaterCalibrations;
use brightproof::judge::approval_is_printed;
use brightproof::shop::Approval;
use brightproof::shop::Bath;
use brightproof::shop::Calibration;
use brightproof::shop::Constituent;
use brightproof::shop::Instrument;
use brightproof::shop::InstrumentKind;
use brightproof::shop::OutOfService;
use brightproof::shop::Qualification;
use brightproof::shop::Work;

use super::bath as step_of;
use super::expect;
use super::finals;
use super::none_slips;
use super::step;
use super::steps;
use crate::support::book;
use crate::support::came;
use crate::support::dossier;
use crate::support::read;

type Attack = (&'static str, &'static str, fn(&mut Dossier), &'static [&'static str]);

fn qualification<'a>(d: &'a mut Dossier, name: &str, work: Work) -> &'a mut Qualification {
    let person = d.people.iter_mut().find(|p| p.name == name).unwrap();
    person.qualified.iter_mut().find(|q| q.work == work).unwrap()
}

fn instrument<'a>(d: &'a mut Dossier, id: &str) -> &'a mut Instrument {
    d.instruments.iter_mut().find(|i| i.instrument == id).unwrap()
}

fn bath<'a>(d: &'a mut Dossier, id: &str) -> &'a mut Bath {
    d.baths.iter_mut().find(|b| b.bath == id).unwrap()
}

/// What the analysis after use found.
fn found_later(d: &mut Dossier, id: &str, constituent: Constituent, value: &str) {
    let later = d.later.baths.iter_mut().find(|b| b.bath == id).unwrap();
    later.analyses[0].found.insert(constituent, read(value));
}

fn failed_on(day: &str) -> Calibration {
    Calibration {
        on: read(day),
        due: read(day),
        certificate: "later".to_owned(),
        passed: false,
        uncertainty: None,
    }
}

fn fails_later(d: &mut Dossier, id: &str, day: &str) {
    let calibrations = vec![failed_on(day)];
    d.later.instruments.retain(|i| i.instrument != id);
    d.later.instruments.push(LaterCalibrations { instrument: id.to_owned(), calibrations });
}

const PEOPLE: &[Attack] = &[
    (
        "a step by nobody the book knows",
        "L-26-0404",
        |d| step_of(&mut d.record, 0, "passivate").by = "N. Nobody".to_owned(),
        &["house/operator.qualified, run 1: NoEvidence (NotInBook"],
    ),
    (
        "a name that only looks like one the book knows",
        "L-26-0404",
        |d| step_of(&mut d.record, 0, "passivate").by = "T.  Quince".to_owned(),
        &["house/operator.qualified, run 1: NoEvidence (NotInBook"],
    ),
    (
        "the operator's qualification ran out the day before",
        "L-26-0404",
        |d| qualification(d, "T. Quince", Work::Passivation).until = Some(read("2026-10-12")),
        &["house/operator.qualified, run 1: NotMet [T. Quince: passivation until 2026-10-12]"],
    ),
    (
        "the operator's qualification began the day after",
        "L-26-0404",
        |d| qualification(d, "T. Quince", Work::Passivation).from = read("2026-10-14"),
        &["house/operator.qualified, run 1: NotMet [T. Quince: not qualified]"],
    ),
    (
        "qualified for the cleaning only",
        "L-26-0404",
        |d| d.people.iter_mut().for_each(|p| p.qualified.retain(|q| q.work != Work::Passivation)),
        &["house/operator.qualified, run 1: NotMet"],
    ),
    (
        "an inspector at the electropolish",
        "L-26-0403",
        |d| step_of(&mut d.record, 0, "electropolish").by = "R. Medlar".to_owned(),
        &["house/operator.qualified, run 1: NotMet [R. Medlar: not qualified]"],
    ),
    (
        "the final rinse by nobody, its time left out",
        "L-26-0404",
        |d| {
            let mut rinses = finals(&mut d.record, 0);
            rinses[0].at = None;
            rinses[0].by = "N. Nobody".to_owned();
        },
        &["house/operator.qualified, run 1: NoEvidence (NotInBook"],
    ),
    (
        "the second run only by somebody unqualified",
        "L-26-0401",
        |d| d.people.iter_mut().filter(|p| p.name == "I. Bramble").for_each(|p| p.qualified.clear()),
        &["house/operator.qualified, run 2: NotMet"],
    ),
    (
        "the run that treated again by somebody unqualified",
        "L-26-0409",
        |d| qualification(d, "I. Bramble", Work::Passivation).until = Some(read("2026-10-26")),
        &["house/operator.qualified, run 2: NotMet"],
    ),
    (
        "a tester nobody knows",
        "L-26-0404",
        |d| d.record.tests[0].by = "N. Nobody".to_owned(),
        &["house/tester.qualified, lot: NoEvidence (NotInBook"],
    ),
    (
        "the tester's qualification ran out while the test ran",
        "L-26-0401",
        |d| qualification(d, "R. Medlar", Work::Testing).until = Some(read("2026-10-06")),
        &["house/tester.qualified, lot: NotMet [R. Medlar: testing until 2026-10-06]"],
    ),
    (
        "a test solution mixed by nobody",
        "L-26-0404",
        |d| d.solutions[0].by = "N. Nobody".to_owned(),
        &["house/tester.qualified, lot: NoEvidence (NotInBook"],
    ),
    (
        "the analysis by nobody",
        "L-26-0404",
        |d| bath(d, "N-2").analyses[0].by = "N. Nobody".to_owned(),
        &["house/analyst.qualified, run 1: NoEvidence (NotInBook"],
    ),
    (
        "the analysis of the post-dip by nobody",
        "L-26-0403",
        |d| bath(d, "PD-1").analyses[0].by = "N. Nobody".to_owned(),
        &["house/analyst.qualified, run 1: NoEvidence (NotInBook"],
    ),
    (
        "the look by somebody whose eyes were tested too long ago",
        "L-26-0404",
        |d| qualification(d, "R. Medlar", Work::Inspection).until = Some(read("2026-10-12")),
        &["house/inspector.qualified, run 1: NotMet"],
    ),
    (
        "the gauge read by an operator",
        "L-26-0403",
        |d| d.record.measurements[0].by = "T. Quince".to_owned(),
        &["house/gauge-user.qualified, lot: NotMet"],
    ),
    (
        "two people of one name",
        "L-26-0404",
        |d| {
            let twin = d.people[0].clone();
            d.people.push(twin);
        },
        &["fault: people["],
    ),
    (
        "a qualification that ends before it begins",
        "L-26-0404",
        |d| qualification(d, "T. Quince", Work::Passivation).until = Some(read("2020-01-01")),
        &["fault: people["],
    ),
    (
        "nobody at all",
        "L-26-0404",
        |d| d.people.clear(),
        &["house/operator.qualified", "house/tester.qualified"],
    ),
];

const EQUIPMENT: &[Attack] = &[
    (
        "a thermometer for a roughness gauge",
        "L-26-0403",
        |d| d.record.measurements[0].instrument = Some("TI-7".to_owned()),
        &["house/limit.gauge, lot: NotMet [TI-7: thermometer]"],
    ),
    (
        "a roughness gauge in the bath",
        "L-26-0403",
        |d| bath(d, "EP-1").thermometer = Some("PR-1".to_owned()),
        &["house/bath.thermometer, run 1: NotMet [PR-1: roughness gauge]"],
    ),
    (
        "a thermometer for the solids meter",
        "L-26-0403",
        |d| finals(&mut d.record, 0)[0].instrument = Some("TI-7".to_owned()),
        &["house/rinse.meter, run 1: NotMet [TI-7: thermometer]"],
    ),
    (
        "the salt spray made in the rinse meter",
        "L-26-0406",
        |d| d.record.tests[0].instrument = Some("CM-1".to_owned()),
        &["house/test.instrument, lot: NotMet [CM-1: solids meter]"],
    ),
    (
        "water immersion timed by a thermometer",
        "L-26-0403",
        |d| d.record.tests[0].instrument = Some("TI-7".to_owned()),
        &["house/test.instrument-kind, lot: NotMet [TI-7: thermometer]"],
    ),
    (
        "water immersion in a tank nobody has",
        "L-26-0403",
        |d| d.record.tests[0].instrument = Some("WI-9".to_owned()),
        &["house/test.instrument-kind, lot: NoEvidence (NotInBook"],
    ),
    (
        "an instrument that says no kind among others that do",
        "L-26-0403",
        |d| instrument(d, "PR-1").kind = None,
        &["fault: instruments.PR-1"],
    ),
    (
        "an instrument of no particular kind",
        "L-26-0403",
        |d| instrument(d, "PR-1").kind = Some(InstrumentKind::Other),
        &["house/limit.gauge, lot: NotMet [PR-1: other instrument]"],
    ),
    (
        "the thermometer in the workshop that day",
        "L-26-0404",
        |d| {
            let out = OutOfService {
                from: read("2026-10-13"),
                to: Some(read("2026-10-13")),
                why: "bent".to_owned(),
            };
            instrument(d, "TI-2").out_of_service.push(out);
        },
        &["house/bath.thermometer, run 1: NotMet [TI-2: out of service 2026-10-13 to 2026-10-13, bent]"],
    ),
    (
        "the chamber out until further notice",
        "L-26-0402",
        |d| {
            let out = OutOfService { from: read("2026-09-01"), to: None, why: "leaks".to_owned() };
            instrument(d, "HC-1").out_of_service.push(out);
        },
        &["house/test.instrument, lot: NotMet [HC-1: out of service 2026-09-01 until further notice, leaks]"],
    ),
    (
        "volts off no rectifier",
        "L-26-0403",
        |d| bath(d, "EP-1").rectifier = None,
        &["house/bath.rectifier, run 1: NoEvidence (NotRecorded)"],
    ),
    (
        "the thermometer named as rectifier",
        "L-26-0403",
        |d| bath(d, "EP-1").rectifier = Some("TI-7".to_owned()),
        &["house/bath.rectifier, run 1: NotMet [TI-7: thermometer]"],
    ),
    (
        "a rectifier found out of limits",
        "L-26-0403",
        |d| instrument(d, "RE-1").calibrations[0].passed = false,
        &["house/bath.rectifier, run 1: NotMet"],
    ),
    (
        "a rectifier nobody calibrated",
        "L-26-0403",
        |d| instrument(d, "RE-1").calibrations.clear(),
        &["house/bath.rectifier, run 1: NoEvidence (NoCalibration)"],
    ),
];

const APPROVALS: &[Attack] = &[
    (
        "an approval the shop has not",
        "L-26-0404",
        |d| d.approvals.clear(),
        &["house/approvals.held, lot: NoEvidence (NotInBook"],
    ),
    (
        "an approval the order asks for and the shop has not",
        "L-26-0401",
        |d| d.order.needs_approvals.push("SP-9".to_owned()),
        &["house/approvals.held, lot: NoEvidence (NotInBook"],
    ),
    (
        "an approval that ended the day before",
        "L-26-0404",
        |d| d.approvals[0].until = read("2026-10-12"),
        &["house/approvals.held, lot: NotMet [SP-1184, 2025-04-01 to 2026-10-12]"],
    ),
    (
        "an approval given the day after",
        "L-26-0404",
        |d| d.approvals[0].from = Some(read("2026-10-14")),
        &["house/approvals.held, lot: NotMet [SP-1184, 2026-10-14 to 2027-03-31]"],
    ),
    (
        "an approval that does not say from when",
        "L-26-0404",
        |d| d.approvals[0].from = None,
        &["house/approvals.held, lot: NoEvidence (Unknown"],
    ),
    (
        "an approval for another treatment",
        "L-26-0404",
        |d| d.approvals[0].scope = vec!["electropolishing".to_owned()],
        &["house/approvals.held, lot: NotMet [SP-1184 covers electropolishing]"],
    ),
    (
        "an approval for another edition",
        "L-26-0404",
        |d| d.approvals[0].scope = vec!["ASTM A967/A967M-13".to_owned()],
        &["house/approvals.held, lot: NotMet [SP-1184 covers ASTM A967/A967M-13]"],
    ),
    (
        "an approval that does not say what for",
        "L-26-0404",
        |d| d.approvals[0].scope.clear(),
        &["house/approvals.held, lot: NoEvidence (Unknown"],
    ),
    (
        "an approval another purchaser gave",
        "L-26-0404",
        |d| d.approvals[0].given_by = Some("orrery".to_owned()),
        &["house/approvals.held, lot: NoEvidence (NotInBook"],
    ),
    (
        "two call-outs, an approval for one of them",
        "L-26-0407",
        |d| d.part.needs_approvals.retain(|n| n == "SP-1184"),
        &["house/approvals.held, lot: NotMet [SP-1184 covers ASTM A967/A967M]"],
    ),
    (
        "a second approval of the name that leaves a day between",
        "L-26-0401",
        |d| {
            d.part.needs_approvals.push("SP-1".to_owned());
            let one = approval("SP-1", "2025-01-01", "2026-10-05", "passivation");
            let two = approval("SP-1", "2026-10-07", "2027-10-05", "passivation");
            d.approvals.extend([one, two]);
        },
        &["house/approvals.held, lot: NotMet [SP-1, 2026-10-07 to 2027-10-05]"],
    ),
];

fn approval(number: &str, from: &str, until: &str, scope: &str) -> Approval {
    Approval {
        what: "An invented approval".to_owned(),
        number: number.to_owned(),
        until: read(until),
        from: Some(read(from)),
        scope: vec![scope.to_owned()],
        given_by: None,
    }
}

const LATER: &[Attack] = &[
    (
        "the next analysis found too little acid",
        "L-26-0404",
        |d| found_later(d, "N-2", Constituent::NitricAcid, "19.9 vol%"),
        &["house/bath.next-analysis, run 1: NotMet [19.9 vol% in N-2, drawn 2026-10-19"],
    ),
    (
        "of two constituents the second was out",
        "L-26-0406",
        |d| found_later(d, "N-1", Constituent::SodiumDichromate, "1.9 wt%"),
        &["house/bath.next-analysis, run 1: NotMet", "house/bath.next-analysis, run 2: NotMet"],
    ),
    (
        "the post-dip was found too weak",
        "L-26-0403",
        |d| found_later(d, "PD-1", Constituent::NitricAcid, "9.0 vol%"),
        &["house/bath.next-analysis, run 1: NotMet"],
    ),
    (
        "the dichromate bath was found too weak",
        "L-26-0405",
        |d| found_later(d, "DC-1", Constituent::SodiumDichromate, "3.9 wt%"),
        &["house/bath.next-analysis, run 1: NotMet"],
    ),
    (
        "an analysis that leaves the acid out is slipped in before the one that fails",
        "L-26-0406",
        |d| {
            found_later(d, "N-1", Constituent::NitricAcid, "19.0 vol%");
            let later = &mut d.later.baths.iter_mut().find(|b| b.bath == "N-1").unwrap().analyses;
            let mut partial = later[0].clone();
            partial.at = read("2026-10-16T15:00-05:00");
            partial.found.remove(&Constituent::NitricAcid);
            later.insert(0, partial);
        },
        &["house/bath.next-analysis, run 1: NotMet [19.0 vol%"],
    ),
    (
        "the thermometer failed its next calibration",
        "L-26-0404",
        |d| fails_later(d, "TI-2", "2027-01-11"),
        &["house/bath.thermometer.next-calibration, run 1: NotMet [TI-2: found out of limits 2027-01-11]"],
    ),
    (
        "the same, in the instrument's own list",
        "L-26-0404",
        |d| instrument(d, "TI-2").calibrations.push(failed_on("2026-10-14")),
        &["house/bath.thermometer.next-calibration, run 1: NotMet"],
    ),
    (
        "failed, and passed on the same day",
        "L-26-0404",
        |d| {
            fails_later(d, "TI-2", "2027-01-11");
            let passed = Calibration { passed: true, ..failed_on("2027-01-11") };
            d.later.instruments.last_mut().unwrap().calibrations.insert(0, passed);
        },
        &["house/bath.thermometer.next-calibration, run 1: NotMet"],
    ),
    (
        "the rectifier failed its next calibration",
        "L-26-0403",
        |d| fails_later(d, "RE-1", "2027-08-28"),
        &["house/bath.rectifier.next-calibration, run 1: NotMet"],
    ),
    (
        "the rinse meter failed its next calibration",
        "L-26-0404",
        |d| fails_later(d, "CM-1", "2026-12-01"),
        &["house/rinse.meter.next-calibration, run 1: NotMet"],
    ),
    (
        "the chamber failed its next calibration",
        "L-26-0402",
        |d| fails_later(d, "HC-1", "2027-06-23"),
        &["house/test.instrument.next-calibration, lot: NotMet"],
    ),
    (
        "the roughness gauge failed its next calibration",
        "L-26-0403",
        |d| fails_later(d, "PR-1", "2027-03-16"),
        &["house/limit.gauge.next-calibration, lot: NotMet"],
    ),
];

const ROUNDS: &[Attack] = &[
    (
        "treated again where the shop allows one round",
        "L-26-0409",
        |d| d.most_rounds = Some(1),
        &["house/rounds, lot: NotMet [treated twice]"],
    ),
    (
        "treated again where the order allows one round",
        "L-26-0409",
        |d| d.order.most_rounds = Some(1),
        &["house/rounds, lot: NotMet [treated twice]"],
    ),
    (
        "the second round written into the first run",
        "L-26-0404",
        |d| {
            d.most_rounds = Some(1);
            let again = "passivate: { bath: N-2, in: 2026-10-13T08:05-05:00, out: 2026-10-13T08:05-05:00, \
                         temperature: 76 °F, by: T. Quince }\n";
            steps(&mut d.record, 0).insert(2, step(again));
        },
        &["house/rounds, lot: NotMet [treated twice]"],
    ),
    (
        "the second round as a run of its own, of nobody's pieces",
        "L-26-0409",
        |d| {
            d.most_rounds = Some(1);
            d.record.runs[1].treats_again = None;
        },
        &["house/pieces.treated, lot: NotMet"],
    ),
    (
        "electropolished twice where two standards ask for one treatment each",
        "L-26-0407",
        |d| {
            d.most_rounds = Some(1);
            let again = "electropolish: { bath: EP-1, in: 2026-10-20T08:03-05:00, out: 2026-10-20T08:03-05:00, \
                         temperature: 153 °F, by: I. Bramble }\n";
            steps(&mut d.record, 0).insert(2, step(again));
        },
        &["house/rounds, lot: NotMet [treated twice]"],
    ),
    ("no round at all", "L-26-0404", |d| d.order.most_rounds = Some(0), &["fault: most_rounds"]),
];

#[test]
fn no_day_of_the_shop_slips_through() {
    let mut failures = Vec::new();
    for (name, lot, attack, expected) in [PEOPLE, EQUIPMENT, APPROVALS, LATER, ROUNDS].concat() {
        let mut changed = dossier(lot);
        attack(&mut changed);
        assert!(changed != dossier(lot), "{name}: nothing changed");
        failures.extend(expect(&format!("{name} ({lot})"), &came(&changed), expected));
    }
    none_slips(failures);
}

/// Changes right beside the attacks that harm nothing.
#[test]
fn what_is_in_order_passes() {
    #[allow(clippy::type_complexity, reason = "a table read once")]
    let fine: &[(&str, &str, fn(&mut Dossier))] = &[
        ("qualified for the last day", "L-26-0404", |d| {
            qualification(d, "T. Quince", Work::Passivation).until = Some(read("2026-10-13"));
        }),
        ("qualified from the day on", "L-26-0404", |d| {
            qualification(d, "T. Quince", Work::Passivation).from = read("2026-10-13");
        }),
        ("back in service", "L-26-0404", |d| {
            let out = OutOfService {
                from: read("2026-10-01"),
                to: Some(read("2026-10-12")),
                why: "bent".to_owned(),
            };
            instrument(d, "TI-2").out_of_service.push(out);
        }),
        ("a book without kinds", "L-26-0403", |d| d.instruments.iter_mut().for_each(|i| i.kind = None)),
        ("an approval's last day", "L-26-0404", |d| d.approvals[0].until = read("2026-10-13")),
        ("an approval by treatment", "L-26-0404", |d| d.approvals[0].scope = vec!["Passivation ".to_owned()]),
        ("an approval this purchaser gave", "L-26-0404", |d| {
            d.approvals[0].given_by = Some("halyard".to_owned());
        }),
        ("an approval renewed between the two runs' days", "L-26-0401", |d| {
            d.part.needs_approvals.push("SP-1".to_owned());
            let one = approval("SP-1", "2025-01-01", "2026-10-05", "passivation");
            let two = approval("SP-1", "2026-10-06", "2027-10-05", "passivation");
            d.approvals.extend([one, two]);
        }),
        ("the next analysis at the limit", "L-26-0404", |d| {
            found_later(d, "N-2", Constituent::NitricAcid, "20 vol%");
        }),
        ("nothing found yet", "L-26-0404", |d| {
            d.later.baths.clear();
            d.later.instruments.clear();
        }),
        ("two rounds of two", "L-26-0409", |d| d.most_rounds = Some(2)),
        ("two treatments called out, each once", "L-26-0407", |d| d.most_rounds = Some(1)),
        ("no limit of rounds", "L-26-0409", |d| d.most_rounds = None),
    ];
    for (name, lot, change) in fine {
        let mut changed = dossier(lot);
        change(&mut changed);
        assert!(changed != dossier(lot), "{name}: nothing changed");
        let came = came(&changed);
        assert!(!came.held(), "{name}: {:#?}", came.gaps());
    }
}

/// An approval another purchaser gave, one out of force and one for other work stay off the page.
#[test]
fn only_approvals_in_force_and_in_scope_are_printed() {
    let lot = dossier("L-26-0404");
    let printed = |change: fn(&mut Approval), day: &str| {
        let mut one = approval("SP-1", "2026-01-01", "2026-12-31", "passivation");
        change(&mut one);
        approval_is_printed(&one, [&lot], read(day))
    };
    assert!(printed(|_| {}, "2026-12-31") && printed(|_| {}, "2026-01-01"));
    assert!(printed(|a| a.given_by = Some("halyard".to_owned()), "2026-11-01"));
    assert!(printed(|a| a.scope = vec!["astm a967/a967m-17".to_owned()], "2026-11-01"));
    assert!(!printed(|_| {}, "2027-01-01") && !printed(|_| {}, "2025-12-31"));
    assert!(!printed(|a| a.given_by = Some("orrery".to_owned()), "2026-11-01"));
    assert!(!printed(|a| a.scope.clear(), "2026-11-01"));
    assert!(!printed(|a| a.scope = vec!["electropolishing".to_owned()], "2026-11-01"));
    assert!(!printed(|a| a.scope = vec!["ASTM A967/A967M-13".to_owned()], "2026-11-01"));
}

/// A dossier holds the people who did it and what they needed for it: no authority to release, no other
/// qualification, nobody else; and no analysis but those in force and those after.
#[test]
fn a_dossier_carries_no_more_than_was_used() {
    let lot = dossier("L-26-0404");
    let names: Vec<&str> = lot.people.iter().map(|p| p.name.as_str()).collect();
    assert_eq!(names, ["R. Medlar", "T. Quince", "J. Teasel"]);
    let work = |name: &str| -> Vec<Work> {
        lot.people.iter().find(|p| p.name == name).unwrap().qualified.iter().map(|q| q.work).collect()
    };
    assert_eq!(work("R. Medlar"), [Work::Testing, Work::Inspection]);
    assert!(lot.people.iter().all(|p| p.may_release.is_none() && p.may_release_from.is_none()));
    assert_eq!(lot.approvals.iter().map(|a| a.number.as_str()).collect::<Vec<_>>(), ["SP-1184"]);
    assert!(dossier("L-26-0401").approvals.is_empty());
    assert_eq!(lot.later.baths.len(), 1);
    let times: Vec<String> = lot.later.baths[0].analyses.iter().map(|a| a.at.to_string()).collect();
    assert_eq!(times, ["2026-10-19T06:11-05:00"]);
    assert!(lot.instruments.iter().all(|i| i.out_of_service.is_empty()));
    // What a certificate shows of people in order names nobody.
    let findings = brightproof::judge::judge(&lot);
    let shown = findings.iter().filter(|f| f.requirement.contains(".qualified"));
    for finding in shown {
        let words = format!("{} {:?}", finding.limit, finding.observed);
        assert!(!book().people.people.iter().any(|p| words.contains(&p.name)), "{words}");
    }
}
