//! The same figures by NumPy and SciPy.

use brightproof::numeric::number;
use brightproof::surface::Formula;
use brightproof::surface::oxide_depth;
use brightproof::surface::pren;
use serde_json::Value;
use serde_json::json;

use super::SOUND;
use super::analysis;
use super::chemistry;
use super::profile;

const SCRIPT: &str = include_str!("reference.py");

/// Profiles as a film of given thickness and roundness would make them; invented.
fn profiles() -> Vec<Vec<(f64, f64)>> {
    let shape = |middle: f64, width: f64, carbon: f64, step: f64| -> Vec<(f64, f64)> {
        (0..60_u32)
            .map(|i| {
                let t = f64::from(i) * step;
                let film = 52.0 / (1.0 + libm::exp((t - middle) / width));
                // Carbon on top hides oxygen at first; the last term stands for noise.
                let wobble = 0.3 * libm::sin(f64::from(i) * 1.7);
                (t, (film * (1.0 - carbon * libm::exp(-t / 0.08)) + 1.2 + wobble).max(0.0))
            })
            .collect()
    };
    vec![shape(0.5, 0.08, 0.3, 0.025), shape(1.0, 0.2, 0.0, 0.05), shape(0.3, 0.05, 0.5, 0.04)]
}

const CHEMISTRIES: &[[&str; 4]] = &[
    ["18.25", "0.31", "0.01", "0.066"],
    ["16.8", "2.08", "0", "0.045"],
    ["25.4", "3.61", "0.72", "0.241"],
    ["20.1", "6.12", "0.03", "0.203"],
    ["11.9", "0", "0", "0.03"],
];

/// Standard uncertainties of chromium and iron, at%.
const UNCERTAINTIES: &[(&str, &str)] = &[("0.3", "0.1"), ("0.05", "0.16"), ("0.2", "0.0")];

/// Depths within half of 0.1 Å, times within half of 0.001 min; ratios within half of 0.01 and 0.1 %, their
/// expanded uncertainties within 1 % of 400 000 draws; pitting numbers within half of 0.01.
#[test]
fn the_same_as_numpy_and_scipy() {
    let profiles = profiles();
    let depth = |rows: &Vec<(f64, f64)>| json!({"rows": rows, "bulk_rows": 10, "rate": 40.0});
    let parse = |text: &str| text.parse::<f64>().unwrap();
    let ratio = |(cr, fe): &(&str, &str)| json!({"cr": [14.9, parse(cr)], "fe": [8.1, parse(fe)]});
    let input = json!({
        "depths": profiles.iter().map(depth).collect::<Vec<_>>(),
        "ratios": UNCERTAINTIES.iter().map(ratio).collect::<Vec<_>>(),
        "pren": CHEMISTRIES.iter().map(|[cr, mo, w, n]| [cr, mo, w, n].map(|t| parse(t))).collect::<Vec<_>>(),
    });
    let Some(printed) = crate::python::scipy(SCRIPT, &input.to_string()) else { return };
    let reference: Value = serde_json::from_str(&printed).unwrap();
    let near = |found, expected: &Value, allowed: f64| {
        let (found, expected) = (number(found), expected.as_f64().unwrap());
        assert!((found - expected).abs() <= allowed + 1e-9, "{found}, reference {expected} ± {allowed}");
    };
    for (rows, expected) in profiles.iter().zip(reference["depths"].as_array().unwrap()) {
        let found = oxide_depth(&profile(rows, 10)).unwrap();
        near(found.angstrom, &expected[0], 0.05);
        near(found.minutes, &expected[1], 0.0005);
    }
    for ((cr, fe), expected) in UNCERTAINTIES.iter().zip(reference["ratios"].as_array().unwrap()) {
        let text = SOUND
            .replace("uncertainty: 0.2 at%, oxide", &format!("uncertainty: {fe} at%, oxide"))
            .replace("uncertainty: 0.3 at%, oxide", &format!("uncertainty: {cr} at%, oxide"));
        let found = analysis(&text).chromium_to_iron().unwrap();
        near(found.value, &expected[0], 0.005 + 0.002);
        near(found.expanded.unwrap(), &expected[1], expected[1].as_f64().unwrap() * 0.01);
    }
    for ([cr, mo, w, n], expected) in CHEMISTRIES.iter().zip(reference["pren"].as_array().unwrap()) {
        let heat = chemistry(&format!("Cr {cr}, Mo {mo}, W {w}, N {n}"));
        for (i, formula) in [Formula::N16, Formula::Tungsten, Formula::N30].into_iter().enumerate() {
            near(pren(&heat, formula).unwrap().value, &expected[i], 0.005);
        }
    }
}
