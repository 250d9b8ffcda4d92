//! Which test is valid for which grade and use: the table against the packs, the alloy table and the judge.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test stops at the first surprise")]

use std::collections::BTreeMap;

use brightproof::finding::Finding;
use brightproof::finding::Verdict;
use brightproof::judge::Dossier;
use brightproof::judge::judge;
use brightproof::pack::Pack;
use brightproof::pack::Remedy;
use brightproof::part::Use;
use brightproof::record::TestKind;

use crate::filled::Ask;
use crate::filled::standards;
use crate::limits::tested;
use crate::support::brief;
use crate::support::read;
use crate::support::set_grade;
use crate::support::table;

const TABLE: &str = include_str!("validity.csv");

/// Rows on which the pack and the table differ: the table would ask, the pack gives advice only.
///
/// Surgical and dental instruments under copper sulfate: one reader recalled that the practice shuts them out,
/// others did not. A controlled copy settles it.
const ADVICE_ONLY: &[(&str, &str)] = &[("304", "medical"), ("17-4PH", "medical")];

/// A lot on which the test was made, otherwise as good as it can be, on this grade and for this use.
fn lot(row: &BTreeMap<String, String>) -> (&'static Pack, TestKind, Dossier) {
    let standard = &row["standard"];
    let pack = standards().find(|p| p.edition_named(standard).is_some()).unwrap();
    let kind = *TestKind::ALL.iter().find(|t| t.name() == row["test"]).unwrap();
    let used_for: Use = serde_json::from_value(row["used_for"].clone().into()).unwrap();
    let ask = Ask {
        edition: pack.edition_named(standard).unwrap(),
        tests: vec![kind],
        grade: row["grade"].clone(),
        used_for,
        ..Ask::of(pack)
    };
    let mut dossier = ask.lot();
    // What was put in to make it conform is taken back: the grade and the use are what is asked about.
    set_grade(&mut dossier, &row["grade"]);
    dossier.record.material.heats.iter_mut().for_each(|h| h.chemistry.clear());
    dossier.part.used_for = Some(used_for);
    (pack, kind, dossier)
}

#[test]
fn a_test_that_is_not_valid_holds_the_lot() {
    let rows = table(TABLE);
    assert!(rows.len() >= 500, "{} rows", rows.len());
    let mut disputed = 0;
    let mut differ = Vec::new();
    for row in &rows {
        let (grade, used_for) = (row["grade"].as_str(), row["used_for"].as_str());
        let said =
            format!("{}: {} on {grade} for {used_for}: {}", row["standard"], row["test"], row["source"]);
        let (pack, kind, dossier) = lot(row);
        assert!(dossier.alloy.is_some(), "{said}: the alloy table has no such grade");
        let findings = judge(&dossier);
        // What the test itself demands; a bath may not suit the grade for reasons of its own.
        let of_test = |f: &&Finding| {
            let id = f.requirement.strip_prefix(&format!("{}/", pack.pack));
            let found = id.and_then(|id| pack.requirements.iter().find(|r| r.id == id));
            found.is_some_and(|r| r.when.tests.contains(&kind))
        };
        let gaps: Vec<&Finding> = findings.iter().filter(|f| f.is_gap()).filter(of_test).collect();
        let told: Vec<String> = gaps.iter().map(|f| brief(f)).collect();
        if row["test"] == "copper sulfate"
            && pack.pack.starts_with("astm-a967")
            && ADVICE_ONLY.contains(&(grade, used_for))
        {
            assert_eq!(row["valid"], "ask");
            let advised = |f: &&Finding| {
                f.requirement.ends_with("/practice-d.use-with-care") && f.verdict == Verdict::Advice
            };
            assert!(gaps.is_empty() && findings.iter().any(|f| advised(&f)), "{said}: {told:#?}");
            disputed += 1;
            continue;
        }
        match row["valid"].as_str() {
            "yes" if gaps.is_empty() => {}
            "no" | "ask" if !gaps.is_empty() => {
                for gap in gaps {
                    let of_validity =
                        [".alloy", ".chromium", ".use"].iter().any(|s| gap.requirement.ends_with(s));
                    assert!(of_validity, "{said}: {told:#?}");
                    assert_eq!(gap.remedy, Some(Remedy::Ask), "{said}: {told:#?}");
                }
            }
            _ => differ.push(format!("{said}: should be `{}`: {told:?}", row["valid"])),
        }
    }
    assert!(differ.is_empty(), "{}:\n{}", differ.len(), differ.join("\n"));
    assert_eq!(disputed, 2 * ADVICE_ONLY.len());
}

/// A ferritic grade that may have less than 16 wt% chromium, with heats that say what they have.
#[test]
fn the_heats_own_chromium_decides() {
    let cases: &[(&[Option<&str>], bool)] = &[
        (&[], false),
        (&[None], false),
        (&[Some("16 wt%")], true),
        (&[Some("16.0 wt%"), Some("16.4 wt%")], true),
        (&[Some("15.99 wt%")], false),
        (&[Some("16.4 wt%"), Some("15.9 wt%")], false),
        (&[Some("16.4 wt%"), None], false),
    ];
    for (heats, valid) in cases {
        let mut dossier = tested("copper sulfate");
        set_grade(&mut dossier, "429");
        let heat = dossier.record.material.heats[0].clone();
        dossier.record.material.heats = heats
            .iter()
            .map(|chromium| {
                let mut heat = heat.clone();
                heat.chemistry = chromium.iter().map(|c| ("Cr".to_owned(), read(c))).collect();
                heat
            })
            .collect();
        let findings = judge(&dossier);
        let gaps = findings.iter().filter(|f| f.is_gap()).map(|f| f.requirement.clone());
        // That such a heat can hardly be 429 is a gap of its own.
        let gaps: Vec<String> = gaps.filter(|g| g != "house/alloy.analysis").collect();
        let expected: &[&str] = if *valid { &[] } else { &["astm-a967/practice-d.chromium"] };
        assert_eq!(gaps, expected, "{heats:?}");
    }
}
