//! What a shop's book may be made to say: baths, instruments, solutions.

use brightproof::judge::Dossier;
use brightproof::shop::Bath;
use brightproof::shop::Constituent;
use brightproof::shop::Ingredient;

use super::expect;
use super::none_slips;
use crate::support::came;
use crate::support::dossier;
use crate::support::read;

type Attack = (&'static str, &'static str, fn(&mut Dossier), &'static [&'static str]);

fn bath<'a>(dossier: &'a mut Dossier, id: &str) -> &'a mut Bath {
    dossier.baths.iter_mut().find(|b| b.bath == id).unwrap()
}

fn calibrations<'a>(dossier: &'a mut Dossier, id: &str) -> &'a mut Vec<brightproof::shop::Calibration> {
    &mut dossier.instruments.iter_mut().find(|i| i.instrument == id).unwrap().calibrations
}

const ATTACKS: &[Attack] = &[
    (
        "nitric acid by mass",
        "L-26-0404",
        |d| {
            bath(d, "N-2").analyses[0].found.insert(Constituent::NitricAcid, read("26 wt%"));
        },
        &["fault: baths.N-2.analyses[0].found"],
    ),
    (
        "more acid than bath",
        "L-26-0404",
        |d| {
            bath(d, "N-2").analyses[0].found.insert(Constituent::NitricAcid, read("260 vol%"));
        },
        &["fault: baths.N-2.analyses[0].found"],
    ),
    (
        "an analysis of nobody's",
        "L-26-0404",
        |d| bath(d, "N-2").analyses[0].by.clear(),
        &["fault: baths.N-2.analyses[0].by"],
    ),
    (
        "no analysis",
        "L-26-0404",
        |d| bath(d, "N-2").analyses.clear(),
        &[
            "house/bath.analysis, run 1: NoEvidence (NoAnalysis)",
            "astm-a967/nitric-2.nitric-acid, run 1: NoEvidence (NoAnalysis)",
        ],
    ),
    (
        "an analysis drawn after the bath was used",
        "L-26-0404",
        |d| bath(d, "N-2").analyses[0].at = read("2026-10-13T12:00-05:00"),
        &["house/bath.analysis, run 1: NoEvidence (NoAnalysis)"],
    ),
    (
        "two analyses of one moment, one of them good",
        "L-26-0404",
        |d| {
            let mut other = bath(d, "N-2").analyses[0].clone();
            other.found.insert(Constituent::NitricAcid, read("9 vol%"));
            bath(d, "N-2").analyses.insert(0, other);
        },
        &["fault: baths.N-2.analyses[1].at"],
    ),
    (
        "no word on how long an analysis is good for",
        "L-26-0404",
        |d| bath(d, "N-2").analysis_good_for = None,
        &["house/bath.analysis, run 1: NoEvidence"],
    ),
    (
        "something in the bath the treatment does not hold",
        "L-26-0404",
        |d| bath(d, "N-2").ingredients.push("hydrofluoric acid".to_owned()),
        &["astm-a967/nitric-2.ingredients, run 1: NotMet"],
    ),
    (
        "a bath of nothing",
        "L-26-0404",
        |d| bath(d, "N-2").ingredients.clear(),
        &["astm-a967/nitric-2.ingredients, run 1: NotMet"],
    ),
    (
        "a bath without a thermometer",
        "L-26-0404",
        |d| bath(d, "N-2").thermometer = None,
        &["house/bath.thermometer, run 1: NoEvidence"],
    ),
    (
        "a thermometer in no book",
        "L-26-0404",
        |d| d.instruments.retain(|i| i.instrument != "TI-2"),
        &["house/bath.thermometer, run 1: NoEvidence (NotInBook"],
    ),
    (
        "a thermometer found out of its limits",
        "L-26-0404",
        |d| calibrations(d, "TI-2")[0].passed = false,
        &["house/bath.thermometer, run 1: NotMet"],
    ),
    (
        "a calibration that ran out the day before",
        "L-26-0404",
        |d| calibrations(d, "TI-2")[0].due = read("2026-10-12"),
        &["house/bath.thermometer, run 1: NotMet"],
    ),
    (
        "a calibration made the day after",
        "L-26-0404",
        |d| {
            calibrations(d, "TI-2")[0].on = read("2026-10-14");
        },
        &["house/bath.thermometer, run 1: NoEvidence (NoCalibration)"],
    ),
    (
        "calibrated twice in a day, failed and passed",
        "L-26-0404",
        |d| {
            let mut failed = calibrations(d, "TI-2")[0].clone();
            failed.passed = false;
            calibrations(d, "TI-2").insert(0, failed);
        },
        &["house/bath.thermometer, run 1: NotMet"],
    ),
    (
        "the analysis of the post-dip months old",
        "L-26-0403",
        |d| bath(d, "PD-1").analyses[0].at = read("2026-03-02T06:46-05:00"),
        &["house/bath.analysis, run 1: NotMet"],
    ),
    (
        "the post-dip without a thermometer",
        "L-26-0403",
        |d| bath(d, "PD-1").thermometer = None,
        &["house/bath.thermometer, run 1: NoEvidence"],
    ),
    (
        "the post-dip too weak",
        "L-26-0403",
        |d| {
            bath(d, "PD-1").analyses[0].found.insert(Constituent::NitricAcid, read("9.9 vol%"));
        },
        &["astm-b912/post-dip.nitric-acid, run 1: NotMet"],
    ),
    (
        "the analysis of the dichromate bath months old",
        "L-26-0405",
        |d| bath(d, "DC-1").analyses[0].at = read("2026-03-02T06:46-05:00"),
        &["house/bath.analysis, run 1: NotMet"],
    ),
    (
        "the thermometer of the dichromate bath found out of its limits",
        "L-26-0405",
        |d| calibrations(d, "TI-9")[0].passed = false,
        &["house/bath.thermometer, run 1: NotMet"],
    ),
    (
        "the chamber found out of its limits",
        "L-26-0402",
        |d| calibrations(d, "HC-1")[0].passed = false,
        &["house/test.instrument, lot: NotMet"],
    ),
    (
        "the roughness gauge found out of its limits",
        "L-26-0403",
        |d| calibrations(d, "PR-1")[0].passed = false,
        &["house/limit.gauge, lot: NotMet"],
    ),
    (
        "an acid in the test solution that does not belong there",
        "L-26-0404",
        |d| {
            d.solutions[0].recipe.insert(Ingredient::NitricAcid, read("200 mL"));
        },
        &["astm-a967/practice-d.copper-sulfate, lot: NoEvidence (Contradiction"],
    ),
    (
        "the test solution diluted after it was mixed",
        "L-26-0404",
        |d| {
            d.solutions[0].recipe.insert(Ingredient::MadeUpTo, read("5000 mL"));
        },
        &["astm-a967/practice-d.copper-sulfate, lot: NoEvidence (Contradiction"],
    ),
    (
        "a test solution without water",
        "L-26-0404",
        |d| {
            d.solutions[0].recipe.insert(Ingredient::DistilledWater, read("0 mL"));
        },
        &["astm-a967/practice-d.copper-sulfate, lot: NoEvidence"],
    ),
    (
        "a test solution by the wrong measure",
        "L-26-0404",
        |d| {
            d.solutions[0].recipe.insert(Ingredient::CopperSulfate, read("8 mL"));
        },
        &["astm-a967/practice-d.copper-sulfate, lot: NoEvidence"],
    ),
    (
        "a recipe of less than nothing",
        "L-26-0404",
        |d| {
            d.solutions[0].recipe.insert(Ingredient::SulfuricAcid, read("-2 mL"));
        },
        &["fault: solutions.CS-26-07.recipe"],
    ),
];

#[test]
fn no_book_slips_through() {
    let mut failures = Vec::new();
    for (name, lot, attack, expected) in ATTACKS {
        let mut changed = dossier(lot);
        attack(&mut changed);
        assert!(changed != dossier(lot), "{name}: nothing changed");
        failures.extend(expect(&format!("{name} ({lot})"), &came(&changed), expected));
    }
    none_slips(failures);
}
