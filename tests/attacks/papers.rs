//! What papers may be made to say: call-outs, orders, packs and their adoption.

use std::collections::BTreeMap;

use brightproof::adoption::Figures;
use brightproof::app::adopt;
use brightproof::app::adopt::Adopter;
use brightproof::app::adopt::Answer;
use brightproof::app::book::Book;
use brightproof::app::book::Sourced;
use brightproof::folder::Folder;
use brightproof::judge::Dossier;
use brightproof::part::Use;
use brightproof::record::TestKind;
use brightproof::rulebook::Standing;

use super::expect;
use super::none_slips;
use crate::support::book;
use crate::support::came;
use crate::support::dossier;
use crate::support::folder;
use crate::support::later;
use crate::support::read;

type Attack = (&'static str, &'static str, fn(&mut Dossier), &'static [&'static str]);

/// The same lot with 300 pieces in place of 36, and the plan of its order.
fn many(dossier: &mut Dossier) {
    dossier.record.counts.received = 300;
    dossier.record.counts.accepted = 300;
    dossier.record.runs[0].pieces = 300;
    dossier.record.visual[0].pieces = 300;
    dossier.record.tests[0].pieces = 50;
}

const ATTACKS: &[Attack] = &[
    (
        "nothing is called out",
        "L-26-0402",
        |d| d.part.calls_for.clear(),
        &["house/call-out-judged, lot: NoEvidence"],
    ),
    (
        "a standard nobody knows",
        "L-26-0402",
        |d| d.part.calls_for[0].standard = Some("ASTM A9999-17".to_owned()),
        &["house/call-out-judged, lot: NoEvidence (NotInRulebook"],
    ),
    (
        "an edition nobody knows",
        "L-26-0402",
        |d| d.part.calls_for[0].standard = Some("ASTM A967/A967M-99".to_owned()),
        &["house/call-out-judged, lot: NoEvidence (NotInRulebook"],
    ),
    (
        "a standard without its edition",
        "L-26-0402",
        |d| d.part.calls_for[0].standard = Some("ASTM A967/A967M".to_owned()),
        &["house/call-out-judged, lot: NoEvidence (NotInRulebook"],
    ),
    (
        "a treatment the standard does not have",
        "L-26-0402",
        |d| d.part.calls_for[0].treatment = Some("Citric 7".to_owned()),
        &["astm-a967/treatment.named, run 1: NoEvidence (NotInRulebook"],
    ),
    (
        "a test the standard does not name",
        "L-26-0402",
        |d| d.part.calls_for[0].tests.push(TestKind::ModifiedFerroxyl),
        &["house/call-out-judged, lot: NoEvidence (NotInRulebook"],
    ),
    (
        "a test more than was made",
        "L-26-0402",
        |d| d.part.calls_for[0].tests.push(TestKind::WaterImmersion),
        &["astm-a967/tests.made, lot: NoEvidence"],
    ),
    (
        "more pieces to test than were tested",
        "L-26-0402",
        |d| d.part.calls_for[0].test_pieces = Some(3),
        &["astm-a967/tests.pieces, lot: NotMet [1 piece]"],
    ),
    (
        "no pieces to test",
        "L-26-0402",
        |d| d.part.calls_for[0].test_pieces = Some(0),
        &["fault: calls_for[0].test_pieces"],
    ),
    (
        "a standard and a limit in one call-out",
        "L-26-0403",
        |d| d.part.calls_for[1].standard = Some("ASTM A967/A967M-17".to_owned()),
        &["fault: calls_for[1]"],
    ),
    (
        "neither standard nor limit",
        "L-26-0402",
        |d| d.part.calls_for[0].standard = None,
        &["fault: calls_for[0]"],
    ),
    (
        "a limit without a figure",
        "L-26-0403",
        |d| d.part.calls_for[1].at_most = None,
        &["fault: calls_for[1]"],
    ),
    (
        "copper sulfate on what touches food",
        "L-26-0404",
        |d| d.part.used_for = Some(Use::FoodContact),
        &["astm-a967/practice-d.use, lot: NotMet"],
    ),
    (
        "copper sulfate on nobody knows what",
        "L-26-0404",
        |d| d.part.used_for = None,
        &["astm-a967/practice-d.use, lot: NoEvidence"],
    ),
    (
        "a treatment that only a test proves, and no test",
        "L-26-0411",
        |d| {
            d.part.calls_for[0].treatment = Some("Nitric 5".to_owned());
        },
        &["astm-a967/nitric-5.test, lot: NoEvidence (NoTestOrdered)"],
    ),
    (
        "electropolishing that no test proves",
        "L-26-0403",
        |d| d.part.calls_for[0].tests.clear(),
        &["astm-b912/verification.test, lot: NoEvidence (NoTestOrdered)"],
    ),
    (
        "failures of a sampling plan spread over two tests",
        "L-26-0403",
        |d| {
            many(d);
            let mut second = d.record.tests[0].clone();
            d.record.tests[0].pieces = 25;
            d.record.tests[0].failed = 2;
            second.pieces = 25;
            second.failed = 2;
            second.started = later(&second.started, 10);
            d.record.tests.push(second);
        },
        &["astm-b912/water-immersion.result, lot: NotMet [4 of 50 failed]"],
    ),
    (
        "failures of a sampling plan spread over two looks",
        "L-26-0403",
        |d| {
            many(d);
            let mut second = d.record.visual[0].clone();
            d.record.visual[0].pieces = 25;
            d.record.visual[0].failed = 2;
            second.pieces = 25;
            second.failed = 2;
            second.at = later(&second.at, 10);
            d.record.visual.push(second);
        },
        &["astm-b912/appearance, run 1: NotMet [4 of 50 failed]"],
    ),
    (
        "one failure more than the plan accepts",
        "L-26-0403",
        |d| {
            many(d);
            d.record.tests[0].failed = 3;
        },
        &["astm-b912/water-immersion.result, lot: NotMet [3 of 50 failed]"],
    ),
    (
        "a piece fewer than the plan asks",
        "L-26-0403",
        |d| {
            many(d);
            d.record.tests[0].pieces = 49;
        },
        &["astm-b912/tests.pieces, lot: NotMet [49 pieces]"],
    ),
    (
        "a plan smaller than the number ordered beside it",
        "L-26-0403",
        |d| d.part.calls_for[0].test_pieces = Some(30),
        &["astm-b912/tests.pieces, lot: NotMet [8 pieces]"],
    ),
    (
        "a plan that is not at hand",
        "L-26-0403",
        |d| d.part.calls_for[0].sampling = Some("B602 level I".parse().unwrap()),
        &["astm-b912/tests.pieces, lot: NoEvidence"],
    ),
    (
        "no word on how many pieces",
        "L-26-0403",
        |d| d.part.calls_for[0].sampling = None,
        &["astm-b912/tests.pieces, lot: NoEvidence"],
    ),
    (
        "cleaned before the test with a blank",
        "L-26-0407",
        |d| d.record.tests[0].cleaned_with = Some("  ".to_owned()),
        &["astm-b912/humidity.cleaned, lot: NotMet"],
    ),
    (
        "the call-outs reviewed by nobody",
        "L-26-0402",
        |d| d.part.reviewed = None,
        &["house/call-outs.reviewed, lot: NoEvidence"],
    ),
    (
        "the order reviewed by nobody",
        "L-26-0402",
        |d| d.order.reviewed = None,
        &["house/call-outs.reviewed, lot: NoEvidence"],
    ),
    (
        "reviewed by a blank",
        "L-26-0402",
        |d| d.part.reviewed.as_mut().unwrap().by = " ".to_owned(),
        &["fault: reviewed.by"],
    ),
    (
        "another part than ordered",
        "L-26-0402",
        |d| d.part.part = "TF-9999".to_owned(),
        &["house/order.line, lot: NotMet"],
    ),
    (
        "another revision than ordered",
        "L-26-0402",
        |d| d.part.revision = "A".to_owned(),
        &["house/order.line, lot: NotMet"],
    ),
    (
        "another purchaser's part",
        "L-26-0402",
        |d| d.part.purchaser = "quillmark".to_owned(),
        &["house/order.line, lot: NotMet"],
    ),
    (
        "another order than the record names",
        "L-26-0402",
        |d| d.order.order = "TF-9999".to_owned(),
        &["house/order.line, lot: NotMet"],
    ),
    (
        "an order without the line",
        "L-26-0402",
        |d| d.order.lines.clear(),
        &["house/order.line, lot: NoEvidence"],
    ),
    (
        "no rules of the house",
        "L-26-0402",
        |d| d.packs.retain(|p| !p.pack.is_house()),
        &["house/call-out-judged, lot: NoEvidence"],
    ),
    (
        "no rules of the standard",
        "L-26-0402",
        |d| d.packs.retain(|p| p.pack.is_house()),
        &["house/call-out-judged, lot: NoEvidence (NotInRulebook"],
    ),
    (
        "an edition nobody adopted",
        "L-26-0402",
        |d| {
            for pack in d.packs.iter_mut().filter(|p| !p.pack.is_house()) {
                pack.adopted = None;
                pack.standing.iter_mut().for_each(|s| *s = Standing::NotAdopted);
            }
        },
        &["house/adoption, lot: NoEvidence"],
    ),
    (
        "a limit that changed since it was adopted",
        "L-26-0402",
        |d| {
            let pack = d.packs.iter_mut().find(|p| !p.pack.is_house()).unwrap();
            let at = pack.pack.requirements.iter().position(|r| r.id == "citric-2.time").unwrap();
            pack.standing[at] = Standing::Changed;
        },
        &["astm-a967/citric-2.time, run 1: NoEvidence"],
    ),
    (
        "a figure the shop could not read",
        "L-26-0402",
        |d| {
            let pack = d.packs.iter_mut().find(|p| !p.pack.is_house()).unwrap();
            let at = pack.pack.requirements.iter().position(|r| r.id == "citric-2.time").unwrap();
            pack.standing[at] = Standing::Unsure;
        },
        &["astm-a967/citric-2.time, run 1: NoEvidence"],
    ),
    (
        "an adoption that breaks off",
        "L-26-0402",
        |d| {
            let pack = d.packs.iter_mut().find(|p| !p.pack.is_house()).unwrap();
            pack.standing.truncate(3);
        },
        &["astm-a967/citric-2.time, run 1: NoEvidence [14 min] (NotAdopted)"],
    ),
    (
        "the requirements of a treatment gone from the pack",
        "L-26-0411",
        |d| {
            let pack = d.packs.iter_mut().find(|p| !p.pack.is_house()).unwrap();
            pack.pack.requirements.clear();
            pack.standing.clear();
        },
        &["house/call-out-judged, lot: NoEvidence"],
    ),
    (
        "the result of a test gone from the pack",
        "L-26-0402",
        |d| {
            let pack = d.packs.iter_mut().find(|p| !p.pack.is_house()).unwrap();
            let at = pack.pack.requirements.iter().position(|r| r.id == "practice-b.result").unwrap();
            pack.pack.requirements.remove(at);
            pack.standing.remove(at);
        },
        &["house/call-out-judged, lot: NoEvidence (NotInRulebook"],
    ),
    ("the alloy table left out", "L-26-0402", |d| d.alloy = None, &["house/alloy.grade, lot: NoEvidence"]),
];

#[test]
fn no_paper_slips_through() {
    let mut failures = Vec::new();
    for (name, lot, attack, expected) in ATTACKS {
        let mut changed = dossier(lot);
        attack(&mut changed);
        assert!(changed != dossier(lot), "{name}: nothing changed");
        failures.extend(expect(&format!("{name} ({lot})"), &came(&changed), expected));
    }
    none_slips(failures);
}

/// A certificate's data may be judged again by whoever holds them, so the judge does not lean on validation.
#[test]
fn a_standard_and_a_limit_in_one_call_out_are_not_judged_as_the_limit_alone() {
    let mut two = dossier("L-26-0403");
    two.part.calls_for[1].standard = Some("ASTM A967/A967M-17".to_owned());
    let findings = brightproof::judge::judge(&two);
    assert!(findings.iter().any(|f| f.is_gap() && f.requirement == "house/call-out-judged"));
}

/// At the plan's number of failures the lot is accepted: the plan's attacks above fail for one more.
#[test]
fn a_sampling_plan_accepts_what_it_accepts() {
    let mut lot = dossier("L-26-0403");
    many(&mut lot);
    lot.record.tests[0].failed = 2;
    assert!(!came(&lot).held(), "{:#?}", came(&lot).gaps());
}

/// The shop's own figures may not stand beside one that was read in a published text.
#[test]
fn a_read_figure_cannot_be_adopted_away() {
    // ASTM A967/A967M, 6.1.1.2: immersion for at least 30 min, 70 °F to 90 °F; both were read.
    let tries = [
        ("nitric-2.time", "{ at_least: [{ value: 1 s }, { value: 30 min }] }"),
        ("nitric-2.time", "{ at_least: [{ value: 30 min }, { value: 0 h }] }"),
        ("nitric-2.time", "{ at_least: [{ value: 20 min }] }"),
        ("nitric-2.time", "{ at_least: [{ unit: min }] }"),
        ("nitric-2.temperature", "{ within: [{ from: 10 °F, to: 200 °F }, { from: 70 °F, to: 90 °F }] }"),
        ("nitric-2.temperature", "{ within: [{ from: 70 °F, to: 90 °F }, { from: 10 °F, to: 200 °F }] }"),
        ("nitric-2.temperature", "{ within: [{ from: 20 °C, to: 30 °C }] }"),
        ("nitric-2.nitric-acid", "{ within: [{ from: 20 vol%, to: 45 vol% }, { from: 0 wt%, to: 99 wt% }] }"),
    ];
    let pack = book().packs.iter().find(|p| p.pack == "astm-a967").unwrap();
    let own = |id: &str, check: &str| {
        let mut adoption =
            book().adoptions.iter().find(|a| a.document.pack == pack.pack).unwrap().document.clone();
        let adopted = adoption.requirements.get_mut(id).unwrap();
        adopted.figures = Figures::Own;
        adopted.check = Some(brightproof::yaml::parse(check).unwrap());
        brightproof::rulebook::effective(pack, &adoption.edition.clone(), Some(&adoption))
    };
    for (id, check) in tries {
        assert!(own(id, check).is_err(), "{id}: {check} is taken");
    }
    // The recalled window in °C may be the shop's own.
    let honest = "{ within: [{ from: 70 °F, to: 90 °F }, { from: 21 °C, to: 32 °C }] }";
    assert!(own("nitric-2.temperature", honest).is_ok());
}

#[test]
fn two_adoptions_of_one_edition_are_refused() {
    let mut book = Book::open(Folder::new(folder())).unwrap();
    let pack = book.packs.iter().find(|p| p.pack == "astm-a967").unwrap().clone();
    let adopter = Adopter { by: "M. Sorrel", on: read("2026-09-01"), copy: "invented copy" };
    let confirmed = |_: &_| Ok(Answer { figures: Figures::Confirmed, check: None, note: None });
    let adoption = adopt::adopt(&pack, "17", &adopter, confirmed).unwrap();
    for file in ["adopted/a.yaml", "adopted/b.yaml"] {
        let document = adoption.clone();
        book.adoptions.push(Sourced { file: file.to_owned(), text: String::new(), document });
    }
    let error = book.case(book.lot("L-26-0401").unwrap()).err().unwrap();
    assert_eq!(error.to_string(), "ASTM A967/A967M 17 is adopted in adopted/a.yaml and in adopted/b.yaml");
}

/// The record of a good lot under the name of another.
#[test]
fn a_lot_is_what_its_file_is_named_for() {
    let root = std::env::temp_dir().join(format!("brightproof-attacks-{}", std::process::id()));
    let copy = Folder::new(&root);
    for sub in ["", "lots", "orders", "parts"] {
        std::fs::create_dir_all(root.join(sub)).unwrap();
        for entry in std::fs::read_dir(folder().join(sub)).unwrap().map(Result::unwrap) {
            if entry.path().is_file() {
                std::fs::copy(entry.path(), root.join(sub).join(entry.file_name())).unwrap();
            }
        }
    }
    std::fs::copy(folder().join("lots/L-26-0401.yaml"), root.join("lots/L-26-0412.yaml")).unwrap();
    let book = Book::open(copy).unwrap();
    let error = book.lot("L-26-0412").err().unwrap().to_string();
    let same = book.lot("L-26-0401").is_ok() && book.lot("lots/L-26-0412.yaml").is_ok();
    std::fs::remove_dir_all(&root).unwrap();
    assert_eq!(
        error,
        "lots/L-26-0412.yaml:3:6: `lot`: `L-26-0401` stands here, in the file of lot `L-26-0412`"
    );
    assert!(same);
}

/// A changed limit must be adopted again; the digest is over what judges, each requirement by itself.
#[test]
fn a_changed_limit_is_noticed() {
    let pack = book().packs.iter().find(|p| p.pack == "astm-a967").unwrap();
    let adoption = &book().adoptions.iter().find(|a| a.document.edition == "17").unwrap().document;
    let mut standing = BTreeMap::new();
    for at in 0..pack.requirements.len() {
        let mut changed = pack.clone();
        let requirement = &mut changed.requirements[at];
        requirement.subject = match requirement.subject {
            brightproof::pack::Subject::Visual => brightproof::pack::Subject::Rinsed,
            _ => brightproof::pack::Subject::Visual,
        };
        let effective = brightproof::rulebook::effective(&changed, "17", Some(adoption)).unwrap();
        let changed = effective.standing.iter().filter(|s| **s == Standing::Changed).count();
        standing.insert(at, (effective.standing[at], changed));
    }
    assert!(standing.values().all(|s| *s == (Standing::Changed, 1)), "{standing:?}");
}
