//! A heat's own analysis against the limits of its grade; what bath and test hang on; what the packs say of a grade.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "a test stops at the first surprise"
)]

use std::collections::BTreeMap;

use brightproof::app::builtin;
use brightproof::finding::Finding;
use brightproof::finding::Verdict;
use brightproof::judge::About;
use brightproof::judge::Dossier;
use brightproof::judge::GradeAnswer;
use brightproof::judge::consequences;
use brightproof::judge::judge;
use brightproof::pack::Remedy;
use brightproof::record::Analysis;
use brightproof::record::TestKind;
use brightproof::units::Quantity;
use rust_decimal::Decimal;

use crate::limits::tested;
use crate::support::book;
use crate::support::brief;
use crate::support::dossier;
use crate::support::read;
use crate::support::set_grade;
use crate::support::table;

const ANALYSIS: &str = "house/alloy.analysis";
const BATH: &str = "house/alloy.bath-chromium";
const FREE: &str = "house/alloy.free-machining-heat";

/// One heat of a grade with this analysis; the tolerances gathered as the program does.
fn analysed(dossier: &mut Dossier, grade: &str, chemistry: &str, analysis: Option<Analysis>) {
    set_grade(dossier, grade);
    let pairs = chemistry.split(' ').map(|pair| pair.split_once(':').unwrap());
    let chemistry: BTreeMap<String, Quantity> =
        pairs.map(|(symbol, value)| (symbol.to_owned(), read(&format!("{value} wt%")))).collect();
    let heat = &mut dossier.record.material.heats[0];
    heat.chemistry = chemistry;
    heat.analysis = analysis;
    let heats = &dossier.record.material.heats;
    dossier.product_tolerances =
        dossier.alloy.as_ref().and_then(|a| book().product_tolerances.used(a, heats));
}

fn gaps(findings: &[Finding]) -> Vec<&str> {
    findings.iter().filter(|f| f.is_gap()).map(|f| f.requirement.as_str()).collect()
}

fn advised(findings: &[Finding], requirement: &str) -> bool {
    findings.iter().any(|f| f.requirement == requirement && f.verdict == Verdict::Advice)
}

/// Written from the limits of ASTM A240, A276, A582 and the tolerances of ASTM A484, apart from the tables.
#[test]
fn an_analysis_is_held_against_the_limits_of_the_grade() {
    use Verdict::Met;
    use Verdict::NoEvidence;
    use Verdict::NotApplicable;
    use Verdict::NotMet;
    let (ladle, product) = (Some(Analysis::Ladle), Some(Analysis::Product));
    for (grade, chemistry, analysis, verdict) in [
        ("316L", "Cr:16.0", None, Met),
        ("316L", "Cr:16", ladle, Met),
        ("316L", "Cr:15.99", None, NotMet),
        ("316L", "Cr:15.99", ladle, NotMet),
        ("316L", "Cr:18.0", None, Met),
        ("316L", "Cr:18.001", None, NotMet),
        ("316L", "Cr:15.99", product, Met),
        ("316L", "Cr:15.80", product, Met),
        ("316L", "Cr:15.799", product, NotMet),
        ("316L", "Cr:18.2", product, Met),
        ("316L", "Cr:18.21", product, NotMet),
        ("316L", "C:0.030", None, Met),
        ("316L", "C:0.031", None, NotMet),
        ("316L", "C:0.035", product, Met),
        ("316L", "C:0.0351", product, NotMet),
        ("316L", "Ni:9.85", product, Met),
        ("316L", "Ni:9.84", product, NotMet),
        ("316L", "Mo:1.90", product, Met),
        ("316L", "Mo:1.9", None, NotMet),
        ("304", "S:0.030", None, Met),
        ("304", "S:0.035", product, Met),
        ("304", "S:0.036", product, NotMet),
        ("303", "S:0.15", None, Met),
        ("303", "S:0.149", None, NotMet),
        // No row tells how far an analysis may lie under a lower limit that has no upper beside it.
        ("303", "S:0.149", product, NoEvidence),
        ("303Se", "Se:0.12", product, Met),
        ("420", "C:0.14", product, NoEvidence),
        // The upper limit tells the row, for both ends.
        ("A286", "Cr:13.3", product, Met),
        ("A286", "Cr:13.29", product, NotMet),
        ("A286", "Ti:2.36", product, NoEvidence),
        ("A286", "Ti:2.35", product, Met),
        // Elements without a limit say nothing.
        ("316L", "Cu:2.9", None, NotApplicable),
        ("316L", "Cu:2.9 Cr:16.2", None, Met),
        ("316L", "Cu:2.9 Cr:16.2 Mo:4.1", None, NotMet),
    ] {
        let mut lot = dossier("L-26-0401");
        analysed(&mut lot, grade, chemistry, analysis);
        let findings = judge(&lot);
        let found: Vec<_> = findings.iter().filter(|f| f.requirement == ANALYSIS).collect();
        let said = format!(
            "{grade} {chemistry} {analysis:?}: {:?}",
            found.iter().map(|f| brief(f)).collect::<Vec<_>>()
        );
        assert_eq!(found.len(), 1, "{said}");
        assert_eq!(found[0].verdict, verdict, "{said}");
        if found[0].is_gap() {
            assert_eq!(found[0].remedy, Some(Remedy::Ask), "{said}");
            assert_eq!(gaps(&findings), [ANALYSIS], "{said}");
            let symbol = chemistry.split(' ').next_back().unwrap().split_once(':').unwrap().0;
            let place = found[0].place.path.to_string();
            assert!(place.ends_with(&format!("material.heats[0].chemistry.{symbol}")), "{said}: {place}");
        }
    }
}

#[test]
fn every_element_that_contradicts_the_grade_is_told_with_its_limit_and_tolerance() {
    let mut lot = dossier("L-26-0401");
    analysed(&mut lot, "316L", "C:0.04 Cr:15.7 Ni:11", Some(Analysis::Product));
    let findings = judge(&lot);
    let found = findings.iter().find(|f| f.requirement == ANALYSIS).unwrap();
    let heat = &lot.record.material.heats[0].heat;
    assert_eq!(
        found.observed.as_deref(),
        Some(format!("heat {heat}: C 0.04 wt%; heat {heat}: Cr 15.7 wt%").as_str())
    );
    assert_eq!(
        found.limit,
        "316L by ASTM A276: C at most 0.030 wt%, a product analysis 0.005 wt% outside it (ASTM A484/A484M, recalled); \
         Cr 16.0 to 18.0 wt%, a product analysis 0.20 wt% outside it (ASTM A484/A484M, recalled)"
    );
}

/// The dossier holds the rows that judge, and no others; and no rows, no wider limits.
#[test]
fn only_the_tolerances_used_ride_along() {
    let mut lot = dossier("L-26-0401");
    analysed(&mut lot, "316L", "Cr:15.9 Cu:1.0", Some(Analysis::Product));
    let rows = lot.product_tolerances.clone().unwrap().tolerances;
    assert_eq!(rows.iter().map(|r| r.element.as_str()).collect::<Vec<_>>(), ["Cr"]);
    assert!(gaps(&judge(&lot)).is_empty());
    lot.product_tolerances = None;
    assert_eq!(gaps(&judge(&lot)), [ANALYSIS]);
    analysed(&mut lot, "316L", "Cr:15.9", None);
    assert_eq!(lot.product_tolerances, None);
    let gathered = dossier("L-26-0419").product_tolerances.unwrap().tolerances;
    assert_eq!(gathered.iter().map(|r| r.element.as_str()).collect::<Vec<_>>(), ["C", "Cr"]);
}

/// Some other heat of the lot contradicts the grade: the worst counts.
#[test]
fn the_worst_heat_counts() {
    let mut lot = dossier("L-26-0401");
    analysed(&mut lot, "304", "S:0.004 Cr:18.2", None);
    let mut second = lot.record.material.heats[0].clone();
    second.heat = "B2".to_owned();
    second.chemistry = BTreeMap::from([("S".to_owned(), read("0.15 wt%"))]);
    lot.record.material.heats.push(second);
    let findings = judge(&lot);
    assert_eq!(gaps(&findings), [ANALYSIS]);
    for advice in [FREE, "astm-a967/advice.free-machining"] {
        assert!(advised(&findings, advice), "{advice}");
    }
    assert!(!advised(&findings, "astm-a967/advice.austenitic"));
}

/// 304 that machines like 303: grade and analysis contradict, and the bath is advised of as for 303.
#[test]
fn a_heat_with_sulfur_is_judged_as_free_machining() {
    for (chemistry, free) in
        [("S:0.15", true), ("S:0.10", true), ("S:0.099", false), ("Se:0.15", true), ("Se:0.14", false)]
    {
        let mut lot = dossier("L-26-0401");
        analysed(&mut lot, "304", chemistry, None);
        let findings = judge(&lot);
        assert_eq!(advised(&findings, FREE), free, "{chemistry}");
        assert_eq!(advised(&findings, "astm-a967/advice.free-machining"), free, "{chemistry}");
        let told = findings.iter().find(|f| f.requirement == FREE && f.verdict == Verdict::Advice);
        assert_eq!(told.is_some_and(|f| f.limit.contains("304 is not free-machining")), free);
    }
    // The grade says it already.
    let mut lot = dossier("L-26-0401");
    analysed(&mut lot, "303", "S:0.22", None);
    assert!(!advised(&judge(&lot), FREE));
}

#[test]
fn free_machining_grades_are_advised_of_their_baths() {
    for grade in ["303", "303Se", "416", "430F", "420F", "440F"] {
        let mut lot = dossier("L-26-0401");
        set_grade(&mut lot, grade);
        lot.record.material.heats.iter_mut().for_each(|h| h.chemistry.clear());
        assert!(advised(&judge(&lot), "astm-a967/advice.free-machining"), "{grade}");
    }
}

/// Sixteen per cent says whether the test is valid, seventeen what the trade advises of the bath: two figures for two
/// purposes, and neither stands in for the other.
#[test]
fn two_borders_of_chromium_for_two_purposes() {
    for (grade, chromium, analysis, invalid, advice) in [
        ("430", "15.9", Some(Analysis::Product), true, false),
        ("430", "16.0", None, false, true),
        ("430", "16.99", None, false, true),
        ("430", "17.0", None, false, false),
        ("430", "17.4", None, false, false),
        ("429", "15.9", None, true, false),
        ("429", "16.0", None, false, true),
        // With nickel, chromium chooses no bath; and precipitation hardening grades are named whatever they have.
        ("316L", "16.4", None, false, false),
        ("17-4PH", "16.4", None, false, false),
        ("17-4PH", "15.2", None, false, false),
    ] {
        let mut lot = tested("copper sulfate");
        analysed(&mut lot, grade, &format!("Cr:{chromium}"), analysis);
        let findings = judge(&lot);
        let expected: &[&str] = if invalid { &["astm-a967/practice-d.chromium"] } else { &[] };
        assert_eq!(gaps(&findings), expected, "{grade} {chromium}");
        assert_eq!(advised(&findings, BATH), advice, "{grade} {chromium}");
    }
}

/// Duplex grades stand in no list, martensitic ones are shut out whatever their chromium.
#[test]
fn copper_sulfate_is_held_on_duplex_and_martensitic_grades_in_every_pack() {
    for grade in ["2205", "S31803", "2507", "329", "431", "440A", "440C", "410", "416"] {
        let mut lot = tested("copper sulfate");
        set_grade(&mut lot, grade);
        lot.record.material.heats.iter_mut().for_each(|h| h.chemistry.clear());
        assert_eq!(gaps(&judge(&lot)), ["astm-a967/practice-d.alloy"], "{grade}");
        let alloys = builtin::alloys().unwrap();
        let alloy = alloys.find(grade).unwrap();
        let mut packs = 0;
        for pack in builtin::packs().unwrap() {
            let named = pack.tests.iter().any(|t| t.test == TestKind::CopperSulfate);
            if !named || pack.is_house() {
                continue;
            }
            packs += 1;
            let effective =
                brightproof::rulebook::effective(&pack, pack.editions.last().unwrap(), None).unwrap();
            let says = consequences(alloy, &effective);
            let held = says.iter().any(|c| {
                let about =
                    matches!(&c.about, About::Tests(tests) if tests.contains(&TestKind::CopperSulfate));
                !c.advice && c.answer == GradeAnswer::No && (about || c.about == About::Standard)
            });
            assert!(held, "{grade} under {}", pack.pack);
        }
        assert!(packs >= 5, "{packs}");
    }
}

/// QQ-P-35 and AMS-QQ-P-35 let the stain test of 440C fall away; a lot without one is told so.
#[test]
fn a_440c_lot_without_a_test_is_told() {
    for id in ["qq-p-35", "ams-qq-p-35", "ams-2700"] {
        let pack = book().packs.iter().find(|p| p.pack == id).unwrap();
        let mut lot = dossier("L-26-0401");
        set_grade(&mut lot, "440C");
        lot.record.material.heats.iter_mut().for_each(|h| h.chemistry.clear());
        let call = &mut lot.part.calls_for[0];
        call.standard = Some(pack.named(pack.editions.last().unwrap()));
        call.treatment = Some(pack.treatments[0].name.clone());
        call.tests.clear();
        lot.record.tests.clear();
        let calls = [&lot.part.calls_for[0]];
        lot.packs = book().packs_in_force(&calls, &lot.order).unwrap();
        let advice = format!("{id}/advice.440c");
        let findings = judge(&lot);
        let told: Vec<String> = findings.iter().map(brief).collect();
        assert!(advised(&findings, &advice), "{id}: {told:#?}");
    }
}

/// The alloy table against what somebody else recalls of the product standards.
#[test]
fn compositions_are_as_recalled_apart() {
    let rows = table(include_str!("alloy_facts.csv"));
    assert!(rows.len() >= 25);
    let alloys = builtin::alloys().unwrap();
    let mut wrong = Vec::new();
    for row in &rows {
        let alloy = alloys.find(&row["grade"]).unwrap();
        for fact in row["limits"].split(' ') {
            let (symbol, limits) = fact.split_once(':').unwrap();
            let (from, to) = limits.split_once('-').unwrap();
            let figure = |text: &str| (!text.is_empty()).then(|| text.parse::<Decimal>().unwrap());
            let have = alloy.element(symbol);
            let have = have.map(|l| (l.from.map(|q| q.value()), l.to.map(|q| q.value())));
            if have != Some((figure(from), figure(to))) {
                wrong.push(format!("{} ({}): {fact}, the table has {have:?}", row["grade"], row["standard"]));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Every row of the tolerances can be told from every other, and one without a figure says that it is unsure.
#[test]
fn tolerances_follow_each_other() {
    let tolerances = builtin::product_tolerances().unwrap();
    let mut before: BTreeMap<&str, Option<Decimal>> = BTreeMap::new();
    for row in &tolerances.tolerances {
        let over = row.over.map(|q| q.value());
        if let Some(end) = before.get(row.element.as_str()) {
            assert_eq!(*end, over, "{row:?}: a gap or an overlap");
        }
        before.insert(&row.element, row.to.map(|q| q.value()));
        let unsure = row.basis == Some(brightproof::pack::Basis::Unsure);
        assert_eq!(row.tolerance.is_none(), unsure, "{row:?}");
    }
}
