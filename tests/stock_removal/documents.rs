//! What a record carries of stock removal: read from YAML, written back, reckoned with.
#![allow(clippy::unwrap_used, reason = "a test stops at the first surprise")]

use brightproof::removal::document::Charge;
use brightproof::removal::document::Dimension;
use brightproof::removal::document::Weighed;

use super::*;

const WEIGHED: &str = "
specimen: coupon 3
before: 50.0794 g
after: 50.0000 g
area: 1 dm²
weighing_uncertainty: 0.0003 g
area_uncertainty: 4 %
density_uncertainty: 3 %
";

const DIMENSION: &str = "
feature: Ø 0.5 bore
kind: bore
before: 0.5000 in
after: 0.5004 in
uncertainty: 50 µin
";

/// Figures worked by hand as in the tests of the functions: 1 µm ± 0.0503 µm; 5.08 µm ± √2 · 1.27 / 2 = 0.898
/// µm.
#[test]
fn records_give_the_figures_of_the_functions() {
    let density = Density::of_grade("304").unwrap();
    let weighed: Weighed = serde_yaml::from_str(WEIGHED).unwrap();
    let found = weighed.estimate(&density).unwrap();
    assert_eq!((found.depth, found.expanded.round_dp(6)), (Decimal::ONE, d("0.050285")));
    let again: Weighed = serde_json::from_str(&serde_json::to_string(&weighed).unwrap()).unwrap();
    assert_eq!(again, weighed);

    let dimension: Dimension = serde_yaml::from_str(DIMENSION).unwrap();
    let found = dimension.estimate().unwrap();
    assert_eq!((found.depth, found.expanded.round_dp(3)), (d("5.08"), d("0.898")));
    assert!(serde_json::to_string(&dimension).unwrap().contains("\"kind\":\"bore\""));
    for (kind, feature) in
        [("outside", Feature::Outside), ("thickness", Feature::Thickness), ("one_side", Feature::OneSide)]
    {
        let text = DIMENSION.replace("kind: bore", &format!("kind: {kind}"));
        assert_eq!(serde_yaml::from_str::<Dimension>(&text).unwrap().kind, feature);
    }
}

/// 75 A·min/dm² on 304 are 11.15 µm at 100 % (worked check beside the facts); 0.8 of it is 8.92.
#[test]
fn a_charge_in_its_three_ways() {
    let density = Density::of_grade("304").unwrap();
    let alloy = ew(M304, Valences::Fe3Cr3);
    for text in [
        "current: 150 A\ntime: 5 min\narea: 10 dm²",
        "current_density: 15 A/dm²\ntime: 300 s",
        "current_density: 15 A/dm²\ntime: 300 s\narea: 10 dm²",
        "charge: 750 A.min\narea: 10 dm²",
    ] {
        let charge: Charge = serde_yaml::from_str(text).unwrap();
        let found = charge.estimate(&alloy, &density).unwrap();
        assert!(found.upper_bound);
        assert_eq!(found.in_micrometres(d("0.01")).unwrap().to_string(), "11.15 µm");
        let calibrated = format!("{text}\nefficiency: 80 %\nefficiency_uncertainty: 4 %\nvalences: fe3_cr3");
        let charge: Charge = serde_yaml::from_str(&calibrated).unwrap();
        let found = charge.estimate(&alloy, &density).unwrap();
        assert!(!found.upper_bound);
        // 0.04 of 0.80 is a twentieth.
        assert_eq!(found.expanded.round_dp(20), (found.depth / d("20")).round_dp(20));
        assert_eq!(found.in_micrometres(d("0.01")).unwrap().to_string(), "8.92 µm");
    }
    let charge: Charge = serde_yaml::from_str("charge: 750 A·min\narea: 10 dm²").unwrap();
    let words = charge.estimate(&alloy, &density).unwrap().in_words(d("0.1")).unwrap();
    assert_eq!(
        words,
        "by charge: at most 11.2 µm; equivalent weight 18.99 (Fe3 Cr3 Ni2 Mo6; mid-range, for a test); \
         density 7.94 g/cm³ (ASTM G1 table X1.1, 304 (recalled)); current efficiency not calibrated, taken \
         as 100 %: an upper bound for these valences; no uncertainty stated of current, area, equivalent \
         weight, density"
    );
    let stated: Charge =
        serde_yaml::from_str("charge: 750 A·min\narea: 10 dm²\narea_uncertainty: 4 %").unwrap();
    let words = stated.estimate(&alloy, &density).unwrap().in_words(d("0.1")).unwrap();
    assert!(words.starts_with("by charge: at most 11.2 µm ± 0.5 (k = 2); "), "{words}");
    let lowest = ew(M304, Valences::Lowest);
    assert!(charge.estimate(&lowest, &density).is_err(), "valences of the alloy and of the record differ");
}

#[test]
fn a_charge_told_twice_or_not_at_all() {
    for (text, given) in [
        ("{}", "nothing"),
        ("current: 150 A\ntime: 5 min", "current, time"),
        ("charge: 750 A·min\ntime: 5 min\narea: 1 dm²", "charge, time, area"),
        (
            "current: 1 A\ncurrent_density: 1 A/dm²\ntime: 5 min\narea: 1 dm²",
            "current, current_density, time, area",
        ),
    ] {
        let charge: Charge = serde_yaml::from_str(text).unwrap();
        let words = charge.passage().unwrap_err().to_string();
        assert!(words.contains(&format!("told by {given}: expected one of")), "{words}");
    }
}

#[test]
fn fields_nobody_knows_are_refused() {
    for (text, field) in [(WEIGHED, "weigher: 1 g"), (DIMENSION, "surfaces: 2")] {
        let text = format!("{text}{field}\n");
        let weighed = serde_yaml::from_str::<Weighed>(&text).is_err();
        let dimension = serde_yaml::from_str::<Dimension>(&text).is_err();
        assert!(weighed && dimension, "{field}");
    }
    let unknown = serde_yaml::from_str::<Charge>("current: 1 A\nvolts: 3 V").unwrap_err().to_string();
    assert!(unknown.contains("volts"), "{unknown}");
    assert!(serde_yaml::from_str::<Charge>("efficiency: 120 %").is_err());
}
