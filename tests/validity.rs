//! Which test is valid for which grade and use: the table against the packs, the alloy table and the judge.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test stops at the first surprise")]

use brightproof::finding::Verdict;
use brightproof::judge::conforms;
use brightproof::judge::judge;
use brightproof::pack::Remedy;

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

#[test]
fn a_test_that_is_not_valid_holds_the_lot() {
    let rows = table(TABLE);
    assert!(rows.len() >= 130, "{} rows", rows.len());
    let mut disputed = 0;
    for row in &rows {
        let (grade, used_for) = (row["grade"].as_str(), row["used_for"].as_str());
        let said = format!("{} on {grade} for {used_for}: {}", row["test"], row["source"]);
        let mut dossier = tested(&row["test"]);
        set_grade(&mut dossier, grade);
        assert!(dossier.alloy.is_some(), "{said}: the alloy table has no such grade");
        dossier.record.material.heats.iter_mut().for_each(|h| h.chemistry.clear());
        dossier.part.used_for = Some(serde_json::from_value(used_for.into()).unwrap());
        let findings = judge(&dossier);
        let gaps: Vec<_> = findings.iter().filter(|f| f.is_gap()).collect();
        let told: Vec<String> = gaps.iter().map(|f| brief(f)).collect();
        if row["test"] == "copper sulfate" && ADVICE_ONLY.contains(&(grade, used_for)) {
            assert_eq!(row["valid"], "ask");
            let advised = |f: &&brightproof::finding::Finding| {
                f.requirement == "astm-a967/practice-d.use-with-care" && f.verdict == Verdict::Advice
            };
            assert!(gaps.is_empty() && findings.iter().any(|f| advised(&f)), "{said}: {told:#?}");
            disputed += 1;
            continue;
        }
        match row["valid"].as_str() {
            "yes" => assert!(conforms(&findings), "{said}: {told:#?}"),
            "no" | "ask" => {
                assert!(!gaps.is_empty(), "{said}: passes");
                for gap in gaps {
                    let of_validity =
                        [".alloy", ".chromium", ".use"].iter().any(|s| gap.requirement.ends_with(s));
                    assert!(of_validity, "{said}: {told:#?}");
                    assert_eq!(gap.remedy, Some(Remedy::Ask), "{said}: {told:#?}");
                }
            }
            other => unreachable!("{said}: `{other}`"),
        }
    }
    assert_eq!(disputed, ADVICE_ONLY.len());
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
