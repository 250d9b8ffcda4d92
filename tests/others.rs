//! Others' work, attacked: how would a shop get past a gap with a laboratory that is not accredited, or with a
//! paper the order does not allow?
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test stops at the first surprise"
)]

mod periodic;
mod shared;
mod store;

use brightproof::evidence::Laboratory;
use brightproof::finding::Verdict;
use brightproof::judge::Dossier;
use brightproof::judge::judge;
use brightproof::part::Statement;
use brightproof::record::Immersion;
use brightproof::record::Step;

use crate::support::came;
use crate::support::dossier;
use crate::support::read;

/// A lot whose salt spray was made by an outside laboratory.
const LABORATORY: &str = "L-26-0541";
/// A lot electropolished by a subcontractor.
const SUBCONTRACTED: &str = "L-26-0542";

#[track_caller]
fn held_by(name: &str, dossier: &Dossier, expected: &[&str]) {
    let gaps = came(dossier).gaps();
    let mut ids: Vec<&str> = gaps.iter().map(|g| g.split(", ").next().unwrap()).collect();
    let mut expected = expected.to_vec();
    ids.sort_unstable();
    expected.sort_unstable();
    assert_eq!(ids, expected, "{name}: {gaps:#?}");
}

#[track_caller]
fn fault(name: &str, dossier: &Dossier, words: &str) {
    let gaps = came(dossier).gaps();
    assert!(gaps.iter().any(|g| g.starts_with("fault: ") && g.contains(words)), "{name}: {gaps:#?}");
}

fn laboratory(dossier: &mut Dossier) -> &mut Laboratory {
    dossier.record.tests[0].laboratory.as_mut().unwrap()
}

fn polish(dossier: &mut Dossier) -> &mut Immersion {
    let steps = &mut dossier.record.runs[0].steps;
    steps.iter_mut().find_map(|s| if let Step::Electropolish(bath) = s { Some(bath) } else { None }).unwrap()
}

const ACCREDITED: &str = "house/laboratory.accredited";
const CHAMBER: &str = "house/test.instrument";

#[test]
fn a_laboratory_counts_in_its_scope_and_days() {
    let whole = dossier(LABORATORY);
    held_by("as it is", &whole, &[]);
    let found = judge(&whole);
    let one = found.iter().find(|f| f.requirement == CHAMBER).unwrap();
    assert_eq!(one.verdict, Verdict::Met);
    assert!(one.observed.as_ref().unwrap().contains("report BL-2210 of Brackenlight Laboratory"));
    assert_eq!(one.limit, "accredited for salt spray on 2026-11-17");

    let attack = |change: &dyn Fn(&mut Dossier)| {
        let mut changed = whole.clone();
        change(&mut changed);
        changed
    };
    let held = |name: &str, change: &dyn Fn(&mut Laboratory)| {
        let changed = attack(&|d| change(laboratory(d)));
        held_by(name, &changed, &[ACCREDITED, CHAMBER]);
    };
    held("no accreditation", &|l| l.accreditation = None);
    held("run out", &|l| l.accreditation.as_mut().unwrap().until = read("2026-11-16"));
    held("not begun", &|l| l.accreditation.as_mut().unwrap().from = read("2026-11-18"));
    held("another scope", &|l| {
        l.accreditation.as_mut().unwrap().scope.remove(0);
    });
    let until = |day: &'static str| {
        move |d: &mut Dossier| {
            laboratory(d).accreditation.as_mut().unwrap().until = read(day);
        }
    };
    held_by("its last day", &attack(&until("2026-11-17")), &[]);
    // What the report says of the test itself is judged like any other.
    let cold = attack(&|d| d.record.tests[0].temperature = Some(read("28.0 °C")));
    held_by("too cold", &cold, &["astm-a967/practice-c.temperature"]);
    let failed = attack(&|d| d.record.tests[0].failed = 1);
    held_by("failed there", &failed, &["astm-a967/practice-c.result"]);
    fault(
        "our chamber",
        &attack(&|d| d.record.tests[0].instrument = Some("SS-1".into())),
        "this shop's instrument",
    );
    fault("no name", &attack(&|d| laboratory(d).name = " ".into()), "a name is expected");
    fault("no report", &attack(&|d| laboratory(d).report = String::new()), "a name is expected");
    // Without its laboratory the same test needs a chamber and a tester of the shop's.
    let ours = attack(&|d| d.record.tests[0].laboratory = None);
    held_by("nobody's test", &ours, &[CHAMBER, "house/tester.qualified"]);
}

#[test]
fn anothers_work_is_relied_on_only_as_ordered() {
    let whole = dossier(SUBCONTRACTED);
    held_by("as it is", &whole, &[]);
    let found = judge(&whole);
    let relied: Vec<_> = found.iter().filter(|f| f.verdict == Verdict::ReliedOn).collect();
    assert!(relied.len() >= 8, "{relied:#?}");
    assert!(relied.iter().all(|f| f.observed.as_ref().unwrap().contains("FE-118")), "{relied:#?}");
    assert!(relied.iter().all(|f| f.place_in_lot == "run 1"), "{relied:#?}");

    let attack = |change: &dyn Fn(&mut Dossier)| {
        let mut changed = whole.clone();
        change(&mut changed);
        changed
    };
    const ALLOWED: &str = "house/subcontracting.allowed";
    held_by("not ordered", &attack(&|d| d.order.subcontracting.clear()), &[ALLOWED]);
    held_by("other work", &attack(&|d| d.order.subcontracting = vec!["passivate".into()]), &[ALLOWED]);
    // A subcontractor's paper is not the purchaser's word, and the other way round.
    let said = attack(&|d| {
        d.order.purchaser_states = std::mem::take(&mut d.order.subcontracting);
    });
    held_by("the purchaser's word", &said, &[ALLOWED]);
    // A test sent out without leave, because it would fail here.
    let sent = attack(&|d| {
        let paper = polish(d).evidence.clone();
        let test = &mut d.record.tests[0];
        (test.evidence, test.instrument) = (paper, None);
    });
    held_by("a test sent out", &sent, &[ALLOWED]);
    // What failed there failed.
    let failed = attack(&|d| {
        d.order.subcontracting.push("water immersion".into());
        let paper = polish(d).evidence.clone();
        let test = &mut d.record.tests[0];
        (test.evidence, test.instrument, test.failed) = (paper, None, 1);
    });
    held_by("failed there", &failed, &["astm-b912/water-immersion.result"]);
    fault("when it was back", &attack(&|d| polish(d).out_at = None), "the time the pieces were back");
    fault("in our bath", &attack(&|d| polish(d).bath = "EP-1".into()), "in no bath of this shop");
    fault("no paper, no bath", &attack(&|d| polish(d).evidence = None), "a name is expected");
    fault("any work", &attack(&|d| d.order.subcontracting.push("all".into())), "is no step and no test");
    let outside = attack(&|d| {
        polish(d).evidence.as_mut().unwrap().file.as_mut().unwrap().path = "../elsewhere.pdf".into();
    });
    fault("a file outside", &outside, "is no file of the shop folder");
    let key = attack(&|d| {
        polish(d).evidence.as_mut().unwrap().file.as_mut().unwrap().path = "Keys/seal-key.pem".into();
    });
    fault("the shop's key for a paper", &key, "nothing is copied from there");
    // The shop's own dip afterwards is judged like any other.
    let dipped = attack(&|d| {
        let mut dip = polish(&mut dossier("L-26-0403")).clone();
        (dip.in_at, dip.out_at) =
            (Some(read("2026-11-17T09:40-05:00")), Some(read("2026-11-17T09:50-05:00")));
        (dip.bath, dip.temperature) = ("NOT-A-BATH".into(), Some(read("300 °F")));
        d.record.runs[0].steps.push(Step::PostDip(dip));
    });
    let gaps = came(&dipped).gaps();
    assert!(gaps.iter().any(|g| g.starts_with("astm-b912/") && g.contains("300 °F")), "{gaps:#?}");
}

#[test]
fn words_do_not_rest_on_anothers_paper() {
    let mut changed = dossier(SUBCONTRACTED);
    let said = |need: &str| Statement {
        text: "Electropolished to the standard.".into(),
        needs: vec![need.to_owned()],
        language: None,
    };
    changed.part.statements = vec![said("call-out ASTM B912-02(2018)")];
    held_by("a whole call-out", &changed, &["house/statement.founded"]);
    changed.part.statements = vec![said("house/test.specimen")];
    held_by("what was judged", &changed, &[]);
}
