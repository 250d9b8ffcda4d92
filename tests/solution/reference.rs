//! The same figures by NumPy and SciPy: other code, other arithmetic, and for uncertainties another method.

use brightproof::solution::Factor;
use brightproof::solution::Level;
use brightproof::solution::MakeUp;
use brightproof::solution::Measure;
use brightproof::solution::TankUnit;
use brightproof::solution::TankVolume;
use brightproof::solution::density_rows;
use brightproof::solution::dissolved_solids;
use brightproof::solution::grams_per_litre_of_mass;
use brightproof::solution::mass_percent;
use brightproof::solution::strength_by_density;
use brightproof::units::Quantity;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde_json::Value;
use serde_json::json;

use super::d;
use super::q;
use super::titration;

const SCRIPT: &str = include_str!("reference.py");

/// What is titrated, basis, sample, volume, titrant and density with their uncertainties; the measure and its
/// factor beside `V N / S`.
type Case = (&'static str, &'static str, [&'static str; 4], [&'static str; 4], Measure, f64);

/// Invented titrations of all four kinds.
const TITRATIONS: &[Case] = &[
    (
        "nitric acid",
        "42 °Bé",
        ["5.00", "18.80", "1.000", "1.134"],
        ["0.010", "0.030", "0.002", "0.001"],
        Measure::VolumePercent,
        100.0 / 15.0,
    ),
    (
        "nitric acid",
        "70 %",
        ["10.00", "12.35", "2.500", "1.150"],
        ["0.050", "0.020", "0.001", "0.0005"],
        Measure::MassPercent,
        6.3012,
    ),
    (
        "citric acid",
        "monohydrate",
        ["10.00", "8.80", "1.000", "1.030"],
        ["0.020", "0.060", "0.003", "0.002"],
        Measure::MassPercent,
        210.14 / 30.0,
    ),
    (
        "citric acid",
        "anhydrous",
        ["5.00", "8.15", "0.9870", "1.030"],
        ["0.015", "0.020", "0.006", "0.002"],
        Measure::GramPer100Millilitres,
        192.12 / 30.0,
    ),
    (
        "sodium dichromate",
        "dihydrate",
        ["2.00", "9.90", "0.1000", "1.100"],
        ["0.006", "0.050", "0.0002", "0.001"],
        Measure::MassPercent,
        297.995 / 60.0,
    ),
    (
        "chloride",
        "",
        ["100.0", "3.40", "0.01410", "1.000"],
        ["0.2", "0.03", "0.00005", "0"],
        Measure::MilligramPerLitre,
        35453.0,
    ),
];

const DENSITIES: &[&str] =
    &["1.00364", "1.0123", "1.0543", "1.0991", "1.2500", "1.3219", "1.3500", "1.3990", "1.4134"];
const MASSES: &[&str] = &["1", "2.5", "10", "13.99", "20", "33.3", "52", "61.7", "67.2", "69", "70"];
const GRAMS: &[&str] = &["10.1", "94.5", "150.9", "151", "236.3", "472.6", "687.5", "900", "989"];
const CONDUCTIVITIES: &[&str] = &["84", "100", "446.9", "1000", "1450", "1500", "5000", "12879", "12880"];
/// Volume, strength, target, concentrate, final volume.
const ADDITIONS: &[[i32; 5]] = &[
    [400, 20, 25, 100, 400],
    [380, 20, 25, 100, 400],
    [300, 20, 25, 100, 400],
    [400, 31, 25, 100, 400],
    [100, 31, 25, 100, 400],
    [400, 31, 25, 60, 300],
    [400, 20, 25, 60, 300],
    [10, 60, 40, 50, 100],
    [0, 0, 25, 100, 400],
    [400, 0, 50, 67, 401],
];

fn floats(texts: &[&str]) -> Vec<f64> {
    texts.iter().map(|text| text.parse().unwrap()).collect()
}

fn near(what: &str, found: Decimal, reference: &Value, allowed: f64) {
    let (found, reference) = (found.to_f64().unwrap(), reference.as_f64().unwrap());
    assert!((found - reference).abs() <= allowed, "{what}: {found}, reference {reference} ± {allowed}");
}

fn monte_carlo() -> Vec<Value> {
    let case = |(_, _, [s, v, n, p], [us, uv, un, up], measure, factor): &Case| {
        let pair = |a: &str, b: &str| json!([a.parse::<f64>().unwrap(), b.parse::<f64>().unwrap()]);
        let mut case = json!({"sample": pair(s, us), "volume": pair(v, uv), "titrant": pair(n, un)});
        case["factor"] = json!(factor);
        if *measure == Measure::MassPercent {
            case["density"] = pair(p, up);
        }
        case
    };
    TITRATIONS.iter().map(case).collect()
}

fn input() -> String {
    let row = |r: brightproof::solution::Row| {
        json!([r.mass_percent.to_f64().unwrap(), r.density.to_f64().unwrap()])
    };
    json!({
        "rows": density_rows().map(row).collect::<Vec<_>>(),
        "monte_carlo": monte_carlo(),
        "densities": floats(DENSITIES),
        "masses": floats(MASSES),
        "grams": floats(GRAMS),
        "conductivities": floats(CONDUCTIVITIES),
        "factors": {
            "KCl": [
                [84, 0.4807], [447, 0.5047], [1413, 0.5270],
                [1500, 0.5047], [8974, 0.5685], [12880, 0.5782],
            ],
            "NaCl": [
                [84, 0.4529], [447, 0.4822], [1413, 0.4969],
                [1500, 0.4914], [8974, 0.5], [12880, 0.5613],
            ],
            "442": [
                [84, 0.6012], [447, 0.6712], [1413, 0.7078],
                [1500, 0.7], [8974, 0.8478], [12880, 0.8825],
            ],
        },
        "additions": ADDITIONS,
    })
    .to_string()
}

/// Half of the last place shown, and a hair for the reference's binary numbers.
fn half(places: i32) -> f64 {
    0.5 * 10_f64.powi(-places) + 1e-9
}

/// NumPy and SciPy: tables within half of the last place; strengths within 0.1 % and expanded uncertainties
/// within 1 % of 400 000 draws (the spread of that many draws is itself known to 0.11 %); additions within
/// half of 0.01.
#[test]
fn the_same_as_numpy_and_scipy() {
    let Some(printed) = crate::python::scipy(SCRIPT, &input()) else { return };
    let reference: Value = serde_json::from_str(&printed).unwrap();
    for (case, expected) in TITRATIONS.iter().zip(reference["monte_carlo"].as_array().unwrap()) {
        let (what, basis, [s, v, n, p], [us, uv, un, up], measure, _) = case;
        let basis = if basis.is_empty() { String::new() } else { format!("basis: {basis}\n") };
        let text = format!(
            "what: {what}\nsample: {s} mL\nvolume: {v} mL\ntitrant: {n} N\ndensity: {p} g/mL\n{basis}\
             uncertainty: {{ sample: {us} mL, volume: {uv} mL, titrant: {un} N, density: {up} g/mL }}\n"
        );
        let answer = titration(&text).answer().unwrap();
        let found = answer.given_in(*measure).unwrap();
        let (mean, expanded) = (expected[0].as_f64().unwrap(), expected[1].as_f64().unwrap());
        near(what, found.value, &expected[0], mean * 0.001 + half(i32::try_from(measure.places()).unwrap()));
        near(what, found.expanded.unwrap(), &expected[1], expanded * 0.01);
    }
    for (text, expected) in DENSITIES.iter().zip(reference["by_density"].as_array().unwrap()) {
        let found = strength_by_density(&q(&format!("{text} g/mL")), &q("20 °C"), d("0.5")).unwrap();
        near(text, found.mass_percent.value(), expected, half(2));
    }
    for (text, expected) in MASSES.iter().zip(reference["grams_of"].as_array().unwrap()) {
        let found = grams_per_litre_of_mass(&q(&format!("{text} wt%"))).unwrap().0;
        near(text, found.value(), expected, half(2));
    }
    for (text, expected) in GRAMS.iter().zip(reference["mass_of"].as_array().unwrap()) {
        let found = mass_percent(&q(&format!("{text} g/L"))).unwrap().0;
        near(text, found.value(), expected, half(2));
    }
    let factors = [Factor::PotassiumChloride, Factor::SodiumChloride, Factor::Natural442];
    for (factor, row) in factors.into_iter().zip(reference["solids"].as_array().unwrap()) {
        for (text, expected) in CONDUCTIVITIES.iter().zip(row.as_array().unwrap()) {
            let found = dissolved_solids(&q(&format!("{text} µS/cm")), factor).unwrap();
            near(text, found.solids.value(), expected, half(1));
        }
    }
    for (case, expected) in ADDITIONS.iter().zip(reference["additions"].as_array().unwrap()) {
        let [v, c, t, s, w] = case.map(Decimal::from);
        let strength = |value| Quantity::new(value, brightproof::units::Unit::VolumePercent);
        let litres = |value| TankVolume { value, unit: TankUnit::Litre };
        let order = MakeUp {
            volume: litres(v),
            strength: strength(c),
            target: strength(t),
            concentrate: strength(s),
            level: Level::EndsAt(litres(w)),
        };
        let found = order.addition().unwrap();
        for (volume, expected) in
            [found.draw_off, found.water, found.concentrate].iter().zip(expected.as_array().unwrap())
        {
            near(&format!("{case:?}"), volume.value, expected, half(2));
        }
    }
}
