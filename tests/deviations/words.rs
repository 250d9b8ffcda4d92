//! The purchaser's words and particulars.

use brightproof::certificate::certified_lot;
use brightproof::part::Statement;

use super::*;

fn stated(needs: &[&str]) -> Dossier {
    let mut d = dossier("L-26-0401");
    let needs = needs.iter().map(|n| (*n).to_owned()).collect();
    d.part.statements = vec![Statement { text: "As asked.".to_owned(), needs, language: None }];
    d
}

/// What is printed of the statements: words and marks.
fn printed(d: &Dossier) -> Vec<(String, String)> {
    let lot = certified_lot(d.clone(), judge(d), 1);
    lot.statements.into_iter().map(|s| (s.text, s.mark)).collect()
}

#[test]
fn words_are_printed_only_when_something_carries_them() {
    for needs in [
        &["call-out ASTM A967/A967M-17"][..],
        &["call-out A967-17"],
        &["astm-a967/practice-a.result", "house/counts.reconcile"],
        &["astm-a967/nitric-2.time", "signatory"],
        &["signatory"],
    ] {
        let d = stated(needs);
        if came(&d).held() && needs == ["call-out A967-17"] {
            continue; // only the ways the pack says the designation is written
        }
        conforms(&format!("{needs:?}"), &d);
        assert_eq!(printed(&d).len(), 1, "{needs:?}");
    }
    let mark = |needs: &[&str]| printed(&stated(needs)).remove(0).1;
    assert_eq!(mark(&["signatory"]), "the signatory's own word; nothing of it was judged");
    assert!(mark(&["astm-a967/nitric-2.time", "signatory"]).contains("the rest is the signatory's own word"));
    assert_eq!(mark(&["astm-a967/nitric-2.time"]), "rests on astm-a967/nitric-2.time: found met");

    for needs in [
        &[][..],
        &["astm-a967/practice-d.result"],
        &["astm-a967/no.such"],
        &["call-out ASTM A967/A967M-13"],
        &["call-out ASTM B912-02(2018)"],
        &["astm-a967/practice-a.result", "astm-a967/practice-d.result"],
        // Does not apply to this lot, is advice, or another statement: none of them carries anything.
        &["astm-a967/retest.pieces"],
        &["astm-a967/advice.austenitic"],
        &["house/statement.founded"],
        &["house/deviation.used"],
    ] {
        held_by(&format!("{needs:?}"), &stated(needs), &[STATEMENT]);
        assert_eq!(printed(&stated(needs)), [], "{needs:?}");
    }
    for needs in [&["anything at all"][..], &["call-out "], &["signatory "], &["astm-a967/"]] {
        assert!(matches!(came(&stated(needs)), Came::Fault(_)), "{needs:?}");
    }
}

#[test]
fn what_is_accepted_is_said_beside_the_words() {
    let d = dossier(WARM);
    let said = printed(&d);
    assert_eq!(said.len(), 2, "{said:?}");
    assert!(said[0].1.contains("accepted under deviation QI-DEV-061"), "{said:?}");
    let lot = certified_lot(d.clone(), judge(&d), 120);
    assert!(lot.deviations[0].contains("found 93 °F, asked 70 °F to 90 °F, permitted 70 °F to 94 °F"));
    assert!(lot.deviations[0].contains("for order QI-88310; lot L-26-0441; at most 120 pieces in all"));
    let temperature = lot.treatments[0].facts.iter().find(|f| f.what == "bath temperature").unwrap();
    assert_eq!(temperature.value, "93 °F (33.9 °C)");
    assert_eq!(lot.fields.iter().map(|f| f.what.as_str()).collect::<Vec<_>>(), ["Melt source", "Heat code"]);
    // No conversion reaches the findings.
    assert!(lot.findings.iter().all(|f| f.observed.as_deref() != Some("93 °F (33.9 °C)")));

    let mut plain = d.clone();
    plain.order.print_conversions = false;
    let lot = certified_lot(plain.clone(), judge(&plain), 120);
    assert!(lot.treatments[0].facts.iter().any(|f| f.value == "93 °F") && lot.conversions.is_none());

    // Words about a gap go with the gap, and ask for the same thing to be done.
    let mut warm = d;
    warm.deviations.clear();
    let findings = judge(&warm);
    let remedies: Vec<_> = findings.iter().filter(|f| f.is_gap()).map(|f| f.remedy).collect();
    assert_eq!(remedies, [Some(brightproof::pack::Remedy::ReTreat); 2], "{findings:#?}");
    let lot = certified_lot(warm, findings, 120);
    assert_eq!(lot.statements.len(), 1, "only the signatory's own");
}

#[test]
fn particulars_asked_by_name_must_be_answered() {
    const FIELD: &str = "house/field.answered";
    let with = |change: &dyn Fn(&mut Dossier)| {
        let mut d = dossier(WARM);
        change(&mut d);
        d
    };
    held_by("none", &with(&|d| d.record.fields.clear()), &[FIELD]);
    let other = with(&|d| {
        let said = d.record.fields.remove("Melt source").unwrap();
        d.record.fields.insert("melt source".to_owned(), said);
    });
    held_by("another name", &other, &[FIELD]);
    let blank = with(&|d| drop(d.record.fields.insert("Melt source".to_owned(), "  ".to_owned())));
    assert!(matches!(came(&blank), Came::Fault(_)));
    let unknown = with(&|d| d.record.material.heats[0].known = brightproof::record::Knowledge::NotSupplied);
    held_by("a heat nobody knows", &unknown, &[FIELD]);
    // A book of house rules that has nothing to say about it lets nothing pass.
    let silent = with(&|d| {
        for pack in d.packs.iter_mut().filter(|p| p.pack.is_house()) {
            for subject in
                [brightproof::pack::Subject::FieldAnswered, brightproof::pack::Subject::StatementFounded]
            {
                let at = pack.pack.requirements.iter().position(|r| r.subject == subject).unwrap();
                pack.pack.requirements.remove(at);
                pack.standing.remove(at);
            }
        }
    });
    held_by("no rule", &silent, &["house/call-out-judged"; 4]);
}
