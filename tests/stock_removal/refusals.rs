//! What stock removal refuses, and in which words.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test stops at the first surprise")]

use brightproof::removal::Limits;

use super::*;

/// Every refusal in its words: what was found, what was expected, how to mend.
#[test]
fn refusals() {
    let alloy = ew(M304, Valences::Fe3Cr3);
    let density = Density::of_grade("304").unwrap();
    let none = ChargeUncertainty::default();
    let by_charge = |passage: &Passage| removal::faraday(passage, &alloy, &density, None, &none).unwrap_err();
    let weigh = |before: &str, after: &str, area: &str| {
        let weighings = Weighings {
            before: q(before),
            after: q(after),
            area: q(area),
            weighing_uncertainty: None,
            area_uncertainty: None,
            density_uncertainty: None,
        };
        removal::weighing(&weighings, &density).unwrap_err()
    };
    let sizes = |feature, before: &str, after: &str| {
        removal::dimensions(&Across { feature, before: q(before), after: q(after), uncertainty: None })
            .unwrap_err()
    };
    let machine = |size: (&str, &str), band: (&str, &str), digits| {
        let finished = Size { min: q(size.0), max: q(size.1) };
        removal::machine_to(Feature::Bore, &finished, &Band { from: q(band.0), to: q(band.1) }, digits)
            .unwrap_err()
    };
    let of = |text: &str| composition(text).equivalent_weight(Valences::Fe3Cr3).unwrap_err();
    let limits = [Limits { symbol: "Cr".into(), min: Some(d("20")), max: Some(d("18")) }];
    let unknown = [Limits { symbol: "Xx".into(), min: None, max: Some(d("18")) }];
    let too_sure = ChargeUncertainty { area: Some(d("2")), ..none };
    let passage = Passage::Charge { charge: q("75 A·min"), area: q("1 dm²") };
    let other = Efficiency::stated(d("0.8"), None, Valences::Lowest, "coupons").unwrap();
    let cases: Vec<(RemovalError, &[&str])> = vec![
        (of("Cr:18 Zz:2"), &["`Zz`", "chemical symbol", "leave the element out"]),
        (of("Cr:-1"), &["Cr is -1 wt%", "0 to 100"]),
        (of("Cr:60 Ni:50"), &["110 wt%", "at most 100"]),
        (of("Fe:0.5"), &["1 wt% or more"]),
        (of(""), &["1 wt% or more"]),
        (Composition::mid_range(&limits, "b").unwrap_err(), &["20 to 18 wt%", "swap"]),
        (Composition::mid_range(&unknown, "b").unwrap_err(), &["`Xx`"]),
        (by_charge(&density_minutes("15 V", "5 min")), &["`15 V`", "A/dm² or A/ft²"]),
        (by_charge(&density_minutes("15 A/dm²", "5 mm")), &["the time is `5 mm`", "s, min or h"]),
        (
            by_charge(&density_minutes("0 A/ft²", "5 min")),
            &["the current density is `0 A/ft²`", "more than 0"],
        ),
        (by_charge(&Passage::Charge { charge: q("-1 A·h"), area: q("1 dm²") }), &["`-1 A·h`", "more than 0"]),
        (
            by_charge(&Passage::Charge { charge: q("1 g"), area: q("1 dm²") }),
            &["the charge is `1 g`", "A·min"],
        ),
        (by_charge(&Passage::Charge { charge: q("1 A·h"), area: q("0 cm²") }), &["the area is `0 cm²`"]),
        (
            removal::faraday(&passage, &alloy, &density, None, &too_sure).unwrap_err(),
            &["uncertainty of area is 2", "0.02 for 2 %"],
        ),
        (
            removal::faraday(&passage, &alloy, &density, Some(&other), &none).unwrap_err(),
            &["Fe2 Cr3 Ni2 Mo3", "Fe3 Cr3 Ni2 Mo6", "the same"],
        ),
        (Efficiency::stated(d("85"), None, Valences::Lowest, "s").unwrap_err(), &["is 85", "0.85 for 85 %"]),
        (
            Efficiency::stated(d("0.8"), Some(d("3")), Valences::Lowest, "s").unwrap_err(),
            &["uncertainty of the efficiency is 3"],
        ),
        (Density::stated(d("7940"), "s").unwrap_err(), &["7940 g/cm³", "6 to 10", "7.94"]),
        (Density::of_grade("3O4").unwrap_err(), &["`3O4`", "state the density"]),
        (weigh("50 g", "50 g", "1 dm²"), &["`50 g`", "expected less after", "swapped"]),
        (weigh("50 g", "51 mm", "1 dm²"), &["the mass after is `51 mm`", "a mass in g"]),
        (weigh("50 g", "-1 g", "1 dm²"), &["the mass after is `-1 g`", "0 or more"]),
        (weigh("50 g", "49 g", "1 mm"), &["the area is `1 mm`", "dm²"]),
        (sizes(Feature::Bore, "12 mm", "11 mm"), &["bore was `12 mm`", "larger after"]),
        (sizes(Feature::Outside, "11 mm", "12 mm"), &["outside diameter", "smaller after"]),
        (sizes(Feature::OneSide, "11 g", "12 mm"), &["the size before is `11 g`", "length"]),
        (sizes(Feature::OneSide, "0 mm", "0 mm"), &["the size before is `0 mm`"]),
        (removal::calibrate(&coupons(&["1 g", "1 g"])).unwrap_err(), &["2 weighed coupons", "at least 3"]),
        (removal::calibrate(&coupons(&["1 g", "1 g", "0 g"])).unwrap_err(), &["the mass lost is `0 g`"]),
        (
            removal::calibrate(&coupons(&["9 g", "9 g", "9 g"])).unwrap_err(),
            &["efficiency is", "valences or the charge"],
        ),
        (machine(("10 mm", "9 mm"), ("1 µm", "2 µm"), 3), &["`10 mm` to `9 mm`", "smaller first"]),
        (machine(("9 mm", "10 mm"), ("3 µm", "2 µm"), 3), &["`3 µm` to `2 µm`", "swap"]),
        (machine(("9 mm", "10 mm"), ("-3 µm", "2 µm"), 3), &["`-3 µm`", "0 or more"]),
        (
            machine(("9.000 mm", "9.010 mm"), ("5 µm", "11 µm"), 3),
            &["12 µm across bore", "tolerance is 10 µm", "hold the removal closer"],
        ),
        (machine(("9.0001 mm", "9.0004 mm"), ("0 µm", "0 µm"), 3), &["3 digits", "at least one step"]),
        (machine(("0.001 mm", "1 mm"), ("5 µm", "5 µm"), 3), &["`-9 µm`", "more than 0"]),
        (machine(("9 mm", "10 mm"), ("5 µm", "5 µm"), 13), &["number of digits"]),
        (Size::nominal(q("1 in"), q("1 mm")).unwrap_err(), &["`1 mm`", "the unit of the size"]),
        (Size::nominal(q("1 in"), q("-1 in")).unwrap_err(), &["`-1 in`", "0 or more"]),
        (removal::thread_pitch_change(&q("-1 µm")).unwrap_err(), &["`-1 µm`"]),
        (removal::charge_needed(&q("0 µm"), &alloy, &density, None).unwrap_err(), &["the depth is `0 µm`"]),
        (removal::charge_needed(&q("1 µm"), &alloy, &density, Some(&other)).unwrap_err(), &["calibrated"]),
        (removal::per_square_foot(Decimal::MAX).unwrap_err(), &["too large or too small"]),
    ];
    for (error, parts) in cases {
        let words = error.to_string();
        for part in parts {
            assert!(words.contains(part), "`{words}` lacks `{part}`");
        }
    }
    let mut mixed = coupons(&["1 g", "1 g", "1 g"]);
    mixed[2].alloy = ew(M304, Valences::Lowest);
    assert!(matches!(removal::calibrate(&mixed).unwrap_err(), RemovalError::OtherValences { .. }));
}
