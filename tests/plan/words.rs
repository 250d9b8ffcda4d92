//! What a plan asks before the work, and how it says it: nothing that the judge would ask at the end is left for then.

use std::collections::BTreeSet;

use brightproof::app::blank;
use brightproof::app::book::Book;
use brightproof::app::plan::Request;
use brightproof::finding::Finding;
use brightproof::folder::Folder;
use brightproof::judge::judge;
use brightproof::pack::Remedy;
use brightproof::pdf::Paper;
use brightproof::pdf::Renderer;
use brightproof::plan::Caution;
use brightproof::plan::Fit;
use brightproof::plan::Plan;
use brightproof::plan::To;
use brightproof::record::TestKind;
use brightproof::report::plan as words;
use brightproof::report::traveler;
use brightproof::report::traveler::Head;

use crate::support;
use crate::support::brief;
use crate::support::read;

/// Requirements whose question can only come up with the record: what was found after use, the people who analysed,
/// what the journal and the certificate say.
const OF_THE_RECORD: &[&str] = &[
    "house/bath.next-analysis",
    "house/bath.thermometer.next-calibration",
    "house/bath.rectifier.next-calibration",
    "house/rinse.meter.next-calibration",
    "house/analyst.qualified",
    "house/rounds",
    "house/counts.by-weight",
    "house/subcontracting.allowed",
    "house/test.specimen",
    "house/order.line",
    // A statement rests on findings; that one is not met is the record's, that nothing asks for it is the plan's.
    "house/statement.founded",
    // A permission not used.
    "house/deviation.used",
];

fn plan(book: &Book, order: &str, line: &str, grade: Option<&str>, tests: &[TestKind]) -> Plan {
    let request = Request { order, line, grade, tests, ..Request::default() };
    book.plan(&request, read("2026-11-02")).unwrap()
}

/// The sample shop without any adoption, or with every edition adopted.
fn books() -> [Book; 2] {
    let open = || Book::open(Folder::new(support::folder())).unwrap();
    let mut adopted = open();
    adopted.adoptions.clone_from(&support::book().adoptions);
    [open(), adopted]
}

#[test]
fn every_question_of_a_sample_lot_was_in_its_plan() {
    let mut asked = 0;
    for book in books() {
        let mut wrong = Vec::new();
        for file in book.lot_files().unwrap() {
            let Ok(record) = book.lot(&file) else { continue };
            let Ok(case) = book.case(record) else { continue };
            let dossier = &case.dossier;
            let record = &dossier.record;
            let alloy = dossier.alloy.as_ref().map(|_| record.material.grade.as_str());
            let planned = plan(&book, &record.order.number, &record.order.line, alloy, &[]);
            let questions: BTreeSet<&str> =
                planned.questions.iter().map(|q| q.requirement.as_str()).collect();
            let ask = |f: &&Finding| f.is_gap() && matches!(f.remedy, Some(Remedy::Ask | Remedy::Adopt));
            for gap in judge(dossier).iter().filter(ask) {
                asked += 1;
                let known = questions.contains(gap.requirement.as_str());
                if !known && !OF_THE_RECORD.contains(&gap.requirement.as_str()) {
                    wrong.push(format!("{}: {}", record.lot, brief(gap)));
                }
            }
        }
        assert!(wrong.is_empty(), "{wrong:#?}");
    }
    assert!(asked > 20, "{asked}");
}

#[test]
fn without_a_grade_what_depends_on_it_is_open_and_with_it_decided() {
    let [_, book] = books();
    let open = plan(&book, "QI-88310", "2", None, &[]);
    let said = words::text(&open);
    assert!(said.contains("the grade is not known") && !said.contains("``"), "{said}");
    assert!(open.questions.iter().any(|q| q.holds && q.requirement == "house/alloy.grade"));
    let fit = |plan: &Plan, kind: TestKind| {
        let tests = plan.call_outs.iter().flat_map(|c| &c.tests);
        tests.into_iter().find(|t| t.test == kind).unwrap().fit.clone()
    };
    assert!(matches!(fit(&open, TestKind::CopperSulfate), Fit::CannotTell(_)));
    let decided = plan(&book, "QI-88310", "2", Some("410"), &[]);
    // Copper sulfate is not for martensitic steel: said before the work, with the clause.
    assert!(matches!(fit(&decided, TestKind::CopperSulfate), Fit::DoesNot(_)));
    assert!(decided.questions.iter().any(|q| q.holds && q.to == To::Purchaser));
    let good = plan(&book, "QI-88310", "2", Some("304"), &[]);
    assert_eq!(fit(&good, TestKind::CopperSulfate), Fit::Fits);
    assert!(good.questions.iter().all(|q| !q.holds), "{:#?}", good.questions);
}

#[test]
fn figures_not_in_force_say_so() {
    let [fresh, _] = books();
    let planned = plan(&fresh, "OS-30417", "1", Some("316L"), &[]);
    let said = words::text(&planned);
    assert!(said.contains("not adopted: its figures below are not in force"), "{said}");
    assert!(said.contains("no figure is known (in "), "{said}");
    assert!(planned.questions.iter().any(|q| q.holds && q.to == To::Copy));
}

#[test]
fn a_treatment_left_to_the_shop_is_told_with_the_standards_advice() {
    let [_, book] = books();
    let planned = plan(&book, "QI-88274", "1", Some("416"), &[]);
    let treatments = &planned.call_outs[0].treatments;
    let of = |name: &str| treatments.iter().find(|t| t.name == name).unwrap();
    assert_eq!((of("Nitric 1").advised, of("Nitric 2").advised), (Some(true), Some(false)));
    assert!(treatments.iter().all(|t| t.fit == Fit::Fits), "advice forbids nothing");
    assert!(
        planned
            .questions
            .iter()
            .any(|q| { !q.holds && words::question(q).contains("`dichromate post-treatment` is an option") })
    );
    assert!(planned.cautions.contains(&Caution::Dichromate));
}

#[test]
fn a_treatment_the_shop_chose_is_planned_alone_and_still_written_down() {
    let [_, book] = books();
    let request = Request {
        order: "QI-88274",
        line: "1",
        grade: Some("304"),
        treatment: Some("nitric 2"),
        ..Request::default()
    };
    let planned = book.plan(&request, read("2026-11-02")).unwrap();
    let names: Vec<&str> = planned.call_outs[0].treatments.iter().map(|t| t.name.as_str()).collect();
    assert_eq!(names, ["Nitric 2"]);
    assert!(planned.questions.iter().all(|q| !q.holds), "{:#?}", planned.questions);
    let text = blank::blank(&book, "L-1", &request).unwrap();
    assert!(text.contains("as:  # one of: Nitric 2") && !text.contains("electropolish"), "{text}");
    // Left open, what one of the treatments asks holds nothing: another can be chosen.
    let open = plan(&book, "QI-88274", "1", Some("304"), &[]);
    assert!(open.questions.iter().any(|q| q.treatments == ["Nitric 5"] && !q.holds));
    for wrong in ["Nitric 9", "Electropolish"] {
        assert!(book.plan(&Request { treatment: Some(wrong), ..request }, read("2026-11-02")).is_err());
    }
}

#[test]
fn stock_removal_is_common_practice_unless_a_limit_is_ordered() {
    let [_, mut book] = books();
    let said = words::text(&plan(&book, "OS-30417", "1", Some("316L"), &[]));
    for line in [
        "0.0001 in to 0.0002 in (0.00254 mm to 0.00508 mm) [common practice",
        "0.0002 in to 0.0004 in (0.00508 mm to 0.01016 mm)",
    ] {
        assert!(said.contains(line), "{line}\n{said}");
    }
    let part = book.parts.iter_mut().find(|p| p.document.part == "OS-VF40").unwrap();
    let limit = "{ limit: stock removal, at_least: 0.0003 in, at_most: 0.0005 in, pieces: 2 }";
    part.document.calls_for.push(brightproof::yaml::parse(limit).unwrap());
    let said = words::text(&plan(&book, "OS-30417", "1", Some("316L"), &[]));
    assert!(
        said.contains("0.0003 in to 0.0005 in (0.00762 mm to 0.0127 mm) [by the limit ordered]"),
        "{said}"
    );
}

#[test]
fn a_traveler_is_the_same_bytes_each_time_and_asks_what_the_blank_asks() {
    let [_, book] = books();
    let planned = plan(&book, "OS-30417", "2", Some("316L"), &[]);
    let head =
        Head { shop: &book.shop, purchaser: "Orrery", lot: None, controlled: vec!["MARKED"], reviewed: None };
    let report = traveler::traveler(&planned, &head);
    let renderer = Renderer::new().unwrap();
    let bytes = renderer.report(&report, Paper::A4).unwrap();
    assert_eq!(bytes, renderer.report(&report, Paper::A4).unwrap());
    let said = format!("{report:?}");
    for wanted in [
        "Cautions",
        "MARKED",
        "invented shop",
        "no certificate",
        "not yet compared",
        "time in",
        "140 °F to 160 °F or 60 °C to 70 °C",
        "1. electropolish",
        "final rinse",
        "high humidity",
        "received",
    ] {
        assert!(said.contains(wanted), "{wanted}");
    }
}

#[test]
fn what_cannot_be_planned_is_told() {
    let [_, book] = books();
    let request = Request { order: "QI-88411", line: "1", ..Request::default() };
    for (wrong, said) in [
        (Request { order: "QI-0", ..request }, "there is no order"),
        (Request { line: "9", ..request }, "has no line"),
        (Request { part: Some("other"), ..request }, "is for part"),
        (Request { grade: Some("3O4"), ..request }, "`3O4`: no grade of the alloy table"),
        (Request { quantity: Some(0), ..request }, "no pieces"),
        (Request { tests: &[TestKind::SaltSpray], ..request }, "not the shop's"),
    ] {
        let error = book.plan(&wrong, read("2026-11-02")).unwrap_err().to_string();
        assert!(error.contains(said), "{error}");
    }
}
