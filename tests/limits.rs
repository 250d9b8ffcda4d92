//! The boundary table against the packs and the judge: at each limit a lot conforms, one step outside it has
//! exactly that gap; every figure of the packs is named by a row, and every row names a figure.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test stops at the first surprise"
)]

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use brightproof::finding::Finding;
use brightproof::finding::Verdict;
use brightproof::judge::Dossier;
use brightproof::pack::Basis;
use brightproof::pack::Check;
use brightproof::pack::Pack;
use brightproof::pack::Requirement;
use brightproof::record::Immersion;
use brightproof::record::Step;
use brightproof::shop::Constituent;
use brightproof::shop::Ingredient;
use brightproof::units::Quantity;
use brightproof::units::Unit;
use rust_decimal::Decimal;

use crate::support::Came;
use crate::support::book;
use crate::support::brief;
use crate::support::came;
use crate::support::dossier;
use crate::support::later;
use crate::support::read;
use crate::support::set_grade;
use crate::support::table;

const TABLE: &str = include_str!("limits.csv");

struct Row {
    standard: String,
    case: String,
    subject: String,
    low: bool,
    limit: Quantity,
    outside: Quantity,
    basis: String,
}

fn rows() -> Vec<Row> {
    let row = |cells: BTreeMap<String, String>| Row {
        standard: cells["standard"].clone(),
        case: cells["case"].clone(),
        subject: cells["subject"].clone(),
        low: match cells["side"].as_str() {
            "low" => true,
            "high" => false,
            other => panic!("side `{other}`"),
        },
        limit: read(&cells["limit"]),
        outside: read(&cells["outside"]),
        basis: cells["basis"].clone(),
    };
    table(TABLE).into_iter().map(row).collect()
}

impl Row {
    fn said(&self) -> String {
        format!("{}, {}, {} {}", self.standard, self.case, self.subject, self.limit)
    }

    fn pack(&self) -> &'static Pack {
        let named = |p: &&Pack| !p.is_house() && p.edition_named(&self.standard).is_some();
        book().packs.iter().find(named).unwrap_or_else(|| panic!("{}: no pack", self.said()))
    }
}

/// One figure of a pack.
struct Figure<'a> {
    requirement: &'a Requirement,
    low: bool,
    value: Quantity,
    basis: Basis,
}

/// Every figure a mandatory requirement holds readings against. Figures nobody knows have no value.
fn figures(pack: &Pack) -> Vec<Figure<'_>> {
    let mut all = Vec::new();
    for requirement in pack.requirements.iter().filter(|r| !r.advice) {
        let mut add = |low, value: Option<Quantity>, basis: Option<Basis>| {
            if let Some(value) = value {
                all.push(Figure { requirement, low, value, basis: basis.unwrap_or(requirement.basis) });
            }
        };
        match &requirement.check {
            Check::Within(windows) => {
                for window in windows {
                    add(true, window.from, window.basis);
                    add(false, window.to, window.basis);
                }
            }
            Check::AtLeast(bounds) => bounds.iter().for_each(|b| add(true, b.value, b.basis)),
            Check::AtMost(bounds) => bounds.iter().for_each(|b| add(false, b.value, b.basis)),
            // A multiple of what the standard itself asks for; without a number of its own it has no figure.
            Check::TimesOrdered(times) => {
                let number = pack.test_pieces.map(|n| n * u64::from(*times));
                add(true, number.map(|n| Quantity::new(Decimal::from(n), Unit::Piece)), None);
            }
            _ => {}
        }
    }
    all
}

/// The cases of the table a requirement is judged in.
fn cases(requirement: &Requirement) -> Vec<String> {
    let when = &requirement.when;
    if let Check::TimesOrdered(_) = requirement.check {
        return vec!["any".to_owned()];
    }
    let mut cases = when.treatments.clone();
    cases.extend(when.tests.iter().map(|t| t.name().to_owned()));
    cases.extend(when.options.iter().map(|o| serde_json::to_value(o).unwrap().as_str().unwrap().to_owned()));
    cases
}

fn same(row: &Row, figure: &Figure) -> bool {
    row.subject == figure.requirement.subject.name()
        && row.low == figure.low
        && row.limit.unit() == figure.value.unit()
        && row.limit.value() == figure.value.value()
        && cases(figure.requirement).contains(&row.case)
}

#[test]
fn every_figure_is_named_by_a_row_and_every_row_names_a_figure() {
    let rows = rows();
    assert!(rows.len() >= 100, "{} rows", rows.len());
    let mut count = 0;
    for pack in book().packs.iter().filter(|p| !p.is_house()) {
        for figure in figures(pack) {
            count += 1;
            for case in cases(figure.requirement) {
                // Section 8 of A967 has one rinse clause; the table names it once, for both its treatments.
                let case = if case == "electrochemical" { "other" } else { &case };
                let named: Vec<&Row> = rows
                    .iter()
                    .filter(|r| r.case == case && r.pack().pack == pack.pack && same(r, &figure))
                    .collect();
                let told = format!("{}/{} {} {case}", pack.pack, figure.requirement.id, figure.value);
                assert_eq!(named.len(), 1, "{told}: {} rows name this figure", named.len());
                let basis = if named[0].basis == "read" { Basis::Read } else { Basis::Recalled };
                assert_eq!(figure.basis, basis, "{told}: pack and table differ on how it is known");
            }
        }
    }
    assert!(count >= 90, "{count} figures");
    for row in &rows {
        assert!(figures(row.pack()).iter().any(|f| same(row, f)), "{}: no such figure", row.said());
    }
}

/// Good values of a treatment: name, bath temperature, minutes, what the bath is made of and what was found in it.
type Good =
    (&'static str, &'static str, i64, &'static [&'static str], &'static [(Constituent, &'static str)]);

fn good(case: &str) -> Good {
    use Constituent::CitricAcid;
    use Constituent::NitricAcid;
    use Constituent::Ph;
    use Constituent::SodiumDichromate;
    const NITRIC: &[&str] = &["nitric acid", "water"];
    const CITRIC: &[&str] = &["citric acid", "water"];
    match case {
        "nitric-1" => (
            "Nitric 1",
            "125 °F",
            25,
            &["nitric acid", "sodium dichromate", "water"],
            &[(NitricAcid, "22 vol%"), (SodiumDichromate, "2.5 wt%")],
        ),
        "nitric-2" => ("Nitric 2", "80 °F", 35, NITRIC, &[(NitricAcid, "25 vol%")]),
        "nitric-3" => ("Nitric 3", "130 °F", 25, NITRIC, &[(NitricAcid, "22 vol%")]),
        "nitric-4" => ("Nitric 4", "125 °F", 35, NITRIC, &[(NitricAcid, "50 vol%")]),
        "nitric-5" => ("Nitric 5", "110 °F", 15, NITRIC, &[(NitricAcid, "30 vol%")]),
        "citric-1" => ("Citric 1", "150 °F", 6, CITRIC, &[(CitricAcid, "7 wt%")]),
        "citric-2" => ("Citric 2", "130 °F", 12, CITRIC, &[(CitricAcid, "7 wt%")]),
        "citric-3" => ("Citric 3", "100 °F", 25, CITRIC, &[(CitricAcid, "7 wt%")]),
        "citric-4" => ("Citric 4", "100 °F", 5, CITRIC, &[(CitricAcid, "7 wt%")]),
        "citric-5" => ("Citric 5", "100 °F", 5, CITRIC, &[(CitricAcid, "7 wt%"), (Ph, "pH 2.0")]),
        "other" => ("Other", "100 °F", 5, &["invented salt", "water"], &[]),
        other => panic!("no treatment `{other}`"),
    }
}

fn treatment(dossier: &mut Dossier) -> &mut Immersion {
    let step = dossier.record.runs[0].steps.iter_mut().find_map(|s| match s {
        Step::Passivate(i) => Some(i),
        _ => None,
    });
    step.unwrap()
}

/// A conforming lot treated as the case says: the passivation of a sample, with the line slowed down so that any
/// time fits.
fn treated(case: &str) -> Dossier {
    let mut dossier = dossier("L-26-0402");
    let (name, temperature, minutes, ingredients, found) = good(case);
    dossier.part.calls_for[0].treatment = Some(name.to_owned());
    // What is left of the run comes after noon, the test in the afternoon.
    let start = read("2026-10-07T08:30-05:00");
    let mut at = later(&start, 200);
    for step in dossier.record.runs[0].steps.iter_mut().skip(3) {
        match step {
            Step::Rinse(rinse) => rinse.at = Some(at),
            Step::Dry(dry) => dry.at = Some(at),
            _ => {}
        }
        at = later(&at, 5);
    }
    dossier.record.visual[0].at = read("2026-10-07T13:00-05:00");
    let step = treatment(&mut dossier);
    step.in_at = Some(start);
    step.out_at = Some(later(&start, minutes));
    step.temperature = Some(read(temperature));
    let bath = step.bath.clone();
    let bath = dossier.baths.iter_mut().find(|b| b.bath == bath).unwrap();
    bath.ingredients = ingredients.iter().map(|i| (*i).to_owned()).collect();
    bath.analyses[0].found = found.iter().map(|(c, v)| (*c, read(v))).collect();
    dossier
}

/// The sample lot on which a test was made.
pub fn tested(kind: &str) -> Dossier {
    dossier(match kind {
        "water immersion" => "L-26-0401",
        "high humidity" => "L-26-0402",
        "salt spray" => "L-26-0406",
        "copper sulfate" => "L-26-0404",
        "ferricyanide-nitric" => "L-26-0408",
        "damp cloth" => "L-26-0410",
        other => panic!("no test `{other}`"),
    })
}

fn minutes(value: &Quantity) -> i64 {
    let scale = match value.unit() {
        Unit::Minute => 1,
        Unit::Hour => 60,
        Unit::Day => 1440,
        other => panic!("{other} is no time"),
    };
    i64::try_from(value.value()).unwrap() * scale
}

/// A conforming lot of the row's case with this value at its subject.
fn lot(row: &Row, value: &Quantity) -> Dossier {
    let value = *value;
    let by_treatment =
        row.case.starts_with("nitric-") || row.case.starts_with("citric-") || row.case == "other";
    let mut dossier = match row.case.as_str() {
        _ if by_treatment => treated(&row.case),
        "dichromate post-treatment" => dossier("L-26-0405"),
        "any" if row.subject == "pieces retested" => dossier("L-26-0409"),
        "any" => dossier("L-26-0402"),
        kind => tested(kind),
    };
    match row.subject.as_str() {
        "nitric acid" | "sodium dichromate" | "citric acid" | "bath pH" | "dichromate treatment strength" => {
            let constituent = match row.subject.as_str() {
                "nitric acid" => Constituent::NitricAcid,
                "citric acid" => Constituent::CitricAcid,
                "bath pH" => Constituent::Ph,
                _ => Constituent::SodiumDichromate,
            };
            let step = if by_treatment { treatment(&mut dossier) } else { post_treatment(&mut dossier) };
            let bath = step.bath.clone();
            let bath = dossier.baths.iter_mut().find(|b| b.bath == bath).unwrap();
            *bath.analyses[0].found.get_mut(&constituent).unwrap() = value;
        }
        "bath temperature" => treatment(&mut dossier).temperature = Some(value),
        "immersion time" => {
            let step = treatment(&mut dossier);
            step.out_at = step.in_at.map(|at| later(&at, minutes(&value)));
        }
        "final rinse total solids" => {
            let rinse = dossier.record.runs[0].steps.iter_mut().find_map(|s| match s {
                Step::Rinse(rinse) if rinse.last => Some(rinse),
                _ => None,
            });
            rinse.unwrap().total_solids = Some(value);
        }
        "dichromate treatment temperature" => {
            let step = post_treatment(&mut dossier);
            step.temperature = Some(value);
            step.temperature_out = None;
        }
        "dichromate treatment time" => {
            let step = post_treatment(&mut dossier);
            step.out_at = step.in_at.map(|at| later(&at, minutes(&value)));
        }
        "delay before dichromate treatment" => delay(&mut dossier, minutes(&value)),
        "rinse after dichromate treatment" => {
            let last = dossier.record.runs[0].steps.iter_mut().rev().find_map(|s| match s {
                Step::Rinse(rinse) => Some(rinse),
                _ => None,
            });
            last.unwrap().total_solids = Some(value);
        }
        "chromium" => {
            // A grade that may have either side of the limit.
            set_grade(&mut dossier, "429");
            let chemistry = &mut dossier.record.material.heats[0].chemistry;
            *chemistry = BTreeMap::from([("Cr".to_owned(), value)]);
        }
        "pieces tested" => dossier.record.tests[0].pieces = u64::try_from(value.value()).unwrap(),
        "pieces retested" => dossier.record.tests[1].pieces = u64::try_from(value.value()).unwrap(),
        "age of test solution" => {
            let mixed = later(&dossier.record.tests[0].started, -minutes(&value));
            dossier.solutions[0].mixed = mixed;
        }
        "copper sulfate in test solution" => recipe(&mut dossier, Ingredient::CopperSulfate, value),
        "sulfuric acid in test solution" => recipe(&mut dossier, Ingredient::SulfuricAcid, value),
        "ferricyanide in test solution" => recipe(&mut dossier, Ingredient::PotassiumFerricyanide, value),
        "nitric acid in test solution" => recipe(&mut dossier, Ingredient::NitricAcid, value),
        subject => {
            let test = &mut dossier.record.tests[0];
            match subject {
                "test duration" => test.ended = Some(later(&test.started, minutes(&value))),
                "test cycles" => test.cycles = Some(u64::try_from(value.value()).unwrap()),
                "wet part of the cycle" => test.wet = Some(value),
                "dry part of the cycle" => test.dry = Some(value),
                "test temperature" => test.temperature = Some(value),
                "test humidity" => test.humidity = Some(value),
                "salt in spray solution" => test.salt = Some(value),
                "collected fog pH" => test.acidity = Some(value),
                "fog fall-out" => test.fallout = Some(value),
                "time kept wet" => test.kept_wet = Some(value),
                "time to reading" => test.read_within = Some(value),
                other => panic!("no way to set `{other}`"),
            }
        }
    }
    dossier
}

fn post_treatment(dossier: &mut Dossier) -> &mut Immersion {
    let step = dossier.record.runs[0].steps.iter_mut().find_map(|s| match s {
        Step::PostTreat(i) => Some(i),
        _ => None,
    });
    step.unwrap()
}

/// Puts the pieces into the dichromate bath so long after the final rinse, and all that follows after that.
fn delay(dossier: &mut Dossier, minutes: i64) {
    let steps = &mut dossier.record.runs[0].steps;
    let rinsed = steps.iter().find_map(|s| match s {
        Step::Rinse(rinse) if rinse.last => rinse.at,
        _ => None,
    });
    let into = later(&rinsed.unwrap(), minutes);
    let post = steps.iter().position(|s| matches!(s, Step::PostTreat(_))).unwrap();
    for (n, step) in steps.iter_mut().skip(post).enumerate() {
        let at = Some(later(&into, 32 + 4 * i64::try_from(n).unwrap()));
        match step {
            Step::PostTreat(dip) => {
                dip.in_at = Some(into);
                dip.out_at = at;
            }
            Step::Rinse(rinse) => rinse.at = at,
            Step::Dry(dry) => dry.at = at,
            _ => {}
        }
    }
}

fn recipe(dossier: &mut Dossier, ingredient: Ingredient, value: Quantity) {
    let recipe = &mut dossier.solutions[0].recipe;
    recipe.insert(ingredient, value);
    let base = match ingredient {
        Ingredient::CopperSulfate | Ingredient::SulfuricAcid => (Ingredient::DistilledWater, "250 mL"),
        _ => (Ingredient::MadeUpTo, "1000 mL"),
    };
    recipe.insert(base.0, read(base.1));
    // The other solid or acid of the same batch, in the amount of the smaller batch.
    let other = match ingredient {
        Ingredient::CopperSulfate => (Ingredient::SulfuricAcid, "1.0 mL"),
        Ingredient::SulfuricAcid => (Ingredient::CopperSulfate, "4.0 g"),
        Ingredient::NitricAcid => (Ingredient::PotassiumFerricyanide, "10.0 g"),
        _ => (Ingredient::NitricAcid, "30 mL"),
    };
    recipe.insert(other.0, read(other.1));
}

fn judged(row: &Row, edition: &str, value: &Quantity) -> Vec<Finding> {
    let mut dossier = lot(row, value);
    let pack = row.pack();
    let house = dossier.packs.iter().find(|p| p.pack.is_house()).cloned();
    dossier.packs = house.into_iter().chain([book().adopted(pack, edition).unwrap()]).collect();
    for call in dossier.part.calls_for.iter_mut().filter(|c| c.standard.is_some()) {
        call.standard = Some(format!("{}-{edition}", pack.designation));
        if pack.pack == "astm-b912" {
            call.treatment = None;
            call.test_pieces = Some(1);
        }
    }
    match came(&dossier) {
        Came::Judged(findings) => findings,
        Came::Fault(fault) => panic!("{}: {value}: {fault}", row.said()),
    }
}

fn gaps(findings: &[Finding]) -> BTreeSet<String> {
    findings.iter().filter(|f| f.is_gap()).map(|f| format!("{}, {}", f.requirement, f.place_in_lot)).collect()
}

/// The requirements of a pack that look at a subject.
fn of_subject(row: &Row, findings: &[Finding]) -> Vec<Finding> {
    let ids: BTreeSet<String> = row
        .pack()
        .requirements
        .iter()
        .filter(|r| r.subject.name() == row.subject && !r.advice && cases(r).contains(&row.case))
        .map(|r| format!("{}/{}", row.pack().pack, r.id))
        .collect();
    findings.iter().filter(|f| ids.contains(&f.requirement)).cloned().collect()
}

#[test]
fn met_at_the_limit_and_not_one_step_outside() {
    let mut judgements = 0;
    for row in rows() {
        for edition in &row.pack().editions {
            let (within, outside) = (judged(&row, edition, &row.limit), judged(&row, edition, &row.outside));
            let said = format!("{} ({edition})", row.said());
            let at = of_subject(&row, &within);
            let met = !at.is_empty() && at.iter().all(|f| f.verdict == Verdict::Met && !f.converted);
            assert!(met, "{said}, at the limit: {:#?}", at.iter().map(brief).collect::<Vec<_>>());
            let beyond = of_subject(&row, &outside);
            let not_met: BTreeSet<String> = beyond
                .iter()
                .filter(|f| f.verdict == Verdict::NotMet)
                .map(|f| format!("{}, {}", f.requirement, f.place_in_lot))
                .collect();
            assert!(
                !not_met.is_empty(),
                "{said}, outside: {:#?}",
                beyond.iter().map(brief).collect::<Vec<_>>()
            );
            // Nothing else hangs on it: the whole lot conforms at the limit, and has this gap alone outside.
            let before = gaps(&within);
            if row.pack().pack == "astm-a967" {
                assert!(before.is_empty(), "{said}: {before:?}");
            }
            let mut expected = not_met;
            if row.subject == "pieces tested" {
                // A test of no piece passed nothing either.
                expected.insert("astm-a967/practice-b.result, lot".to_owned());
            }
            let new: BTreeSet<String> = gaps(&outside).difference(&before).cloned().collect();
            assert_eq!(new, expected, "{said}");
            judgements += 2;
        }
    }
    assert!(judgements >= 430, "{judgements}");
}

/// A step outside is a step in the limit's own dimension, away from what is allowed.
#[test]
fn every_row_steps_outward() {
    for row in rows() {
        assert_eq!(row.limit.dimension(), row.outside.dimension(), "{}", row.said());
        let outward = if row.low { std::cmp::Ordering::Less } else { std::cmp::Ordering::Greater };
        assert_eq!(row.outside.compare(&row.limit), Some(outward), "{}", row.said());
    }
}
