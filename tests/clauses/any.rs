//! Whatever clauses say: no lot that is held by a standard alone conforms under clauses beside it.

use brightproof::finding::Finding;
use brightproof::judge::judge;
use brightproof::pack::Pack;
use proptest::prelude::*;
use proptest::sample::select;

use super::clauses;
use super::requirements;
use super::with;
use crate::support::book;
use crate::support::brief;
use crate::support::dossier;

/// Parts of clauses, looser and stricter than any standard, for what applies and for what does not.
const WHEN: &[&str] = &[
    "",
    "when: { treatments: [nitric-2] }, ",
    "when: { treatments: [nitric-1, citric-2] }, ",
    "when: { series: [300 series] }, ",
    "when: { used_for: [general] }, ",
    "when: { conditions: [welded] }, ",
    "when: { options: [dichromate post-treatment] }, ",
    "when: { chromium_below: 17 wt% }, ",
];
const WHAT: &[&str] = &[
    "subject: bath temperature, check: { within: [{ from: 32 °F, to: 212 °F }] }",
    "subject: bath temperature, check: { within: [{ from: 75 °F, to: 85 °F }, { from: 24 °C, to: 29 °C }] }",
    "subject: bath temperature, check: { at_most: [{ value: 31 °C }] }",
    "subject: immersion time, check: { at_least: [{ value: 1 min }] }",
    "subject: immersion time, check: { at_least: [{ value: 2 h }] }",
    "subject: nitric acid, check: { within: [{ from: 1 vol%, to: 90 vol% }] }",
    "subject: citric acid, check: present",
    "subject: bath ingredients, check: { one_of: [nitric acid, water, citric acid, sodium dichromate] }",
    "subject: treatment, check: present",
    "subject: visual, check: present",
    "subject: visual, check: passed",
    "subject: pieces looked at, check: present",
    "subject: test, check: present",
    "subject: test result, check: present",
    "subject: pieces tested, check: { times_ordered: 1 }",
    "subject: age of test solution, check: { at_most: [{ value: 60 d }] }",
    "subject: alloy series, check: { none_of: [duplex] }",
    "subject: chromium, check: { at_least: [{ value: 1 wt% }] }",
    "subject: Ra, check: { at_most: [{ value: 900 µin }] }",
    "subject: test ordered, check: { none_of: [wipe] }",
    "subject: final rinse total solids, check: { at_most: [{ value: 900 ppm }] }",
];
const TESTS: &[&str] = &[
    "water immersion",
    "high humidity",
    "salt spray",
    "copper sulfate",
    "ferricyanide-nitric",
    "damp cloth",
];

fn some_clauses() -> impl Strategy<Value = (Vec<String>, Vec<&'static str>, bool, bool)> {
    let one = (select(WHEN), select(WHAT), any::<bool>()).prop_map(|(when, what, advice)| {
        format!("{when}{what}{}", if advice { ", advice: true" } else { "" })
    });
    let tests = proptest::sample::subsequence(TESTS, 0..3);
    (proptest::collection::vec(one, 0..5), tests, any::<bool>(), any::<bool>())
}

fn pack(base: &str, (all, tests, option, _): &(Vec<String>, Vec<&'static str>, bool, bool)) -> Pack {
    let tests: Vec<String> = tests.iter().map(|t| format!("{{ test: {t}, clause: \"2\" }}")).collect();
    let options = if *option { "{ option: dichromate post-treatment, clause: \"3\" }" } else { "" };
    let all: Vec<&str> = all.iter().map(String::as_str).collect();
    let requirements = if all.is_empty() { "requirements: []\n".to_owned() } else { requirements(&all) };
    clauses(
        base,
        &format!("chooses_tests: [{}]\nchooses_options: [{options}]\n{requirements}", tests.join(", ")),
    )
}

/// The lots that no certificate comes of, and some that conform.
fn lots() -> Vec<String> {
    let files = book().lot_files().unwrap();
    files.iter().map(|f| f.trim_start_matches("lots/").trim_end_matches(".yaml").to_owned()).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

    /// Every gap of the standard stays, so a held lot stays held; and without choices nothing found changes at all.
    #[test]
    fn clauses_take_no_gap_away(said in some_clauses(), pick in any::<prop::sample::Index>()) {
        let all = lots();
        let lot = &all[pick.index(all.len())];
        let base = if said.3 { "astm-a967" } else { "astm-b912" };
        let before = judge(&dossier(lot));
        let pack = pack(base, &said);
        let after = judge(&with(lot, &pack));
        let choosing = pack.chooses();
        // Which of several limits is the stricter names them all, so that one more is one more word there.
        let counts = |f: &&Finding| f.is_gap() || !choosing && f.requirement != "house/call-outs.stricter";
        for finding in before.iter().filter(counts) {
            prop_assert!(
                after.contains(finding),
                "{lot} under {pack:#?}: {} is gone; there is {:#?}",
                brief(finding),
                after.iter().filter(|f| f.requirement == finding.requirement).map(brief).collect::<Vec<_>>()
            );
        }
    }
}
