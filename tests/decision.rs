//! Decision rules: rounding, guard bands, probability of conformance.
#![allow(clippy::unwrap_used, reason = "a test stops at the first surprise")]

use brightproof::decision::GuardBand;
use brightproof::decision::GuardError;
use brightproof::decision::Limits;
use brightproof::decision::Method;
use brightproof::decision::Outcome;
use brightproof::decision::Ratio;
use brightproof::decision::Ties;
use brightproof::decision::conformance;
use brightproof::decision::conforms;
use brightproof::decision::judge;
use brightproof::decision::round_significant;
use brightproof::decision::round_to;
use brightproof::decision::test_uncertainty_ratio;
use brightproof::decision::too_coarse;
use brightproof::decision::unit_of_last_place;
use proptest::prelude::*;
use rust_decimal::Decimal;

fn d(text: &str) -> Decimal {
    text.parse().unwrap()
}

/// NIST SP 811 (2008), B.7.1 and B.7.2; the last three from a university page on rounding (chem.fsu.edu).
#[test]
fn significant_digits() {
    for (value, digits, text) in [
        ("6.9749515", 3, "6.97"),
        ("6.9749515", 2, "7.0"),
        ("6.9749515", 5, "6.9750"),
        ("6.9749515", 7, "6.974952"),
        ("6.9749505", 7, "6.974950"),
        ("10.9728", 3, "11.0"),
        ("6.65", 2, "6.6"),
        ("6.35", 2, "6.4"),
        ("3.05", 2, "3.0"),
        // By hand: rounding that reaches the next power of ten takes one decimal less.
        ("9.96", 2, "10"),
        ("99.95", 3, "100"),
        ("0.0996", 2, "0.10"),
    ] {
        assert_eq!(round_significant(d(value), digits, Ties::HalfEven).unwrap().to_string(), text, "{value}");
    }
    assert_eq!(d("36") * d("0.3048"), d("10.9728"));
}

/// NIST PS 20-20, table 3: dressed inches become whole millimetres, ties to even. 7.5 in tells the two rules apart.
#[test]
fn inches_of_ps_20() {
    let table = "0.3125 8 0.4375 11 0.5625 14 0.625 16 0.75 19 1 25 1.25 32 1.5 38 2 51 2.5 64 3 76 3.5 89 4 102 \
                 4.5 114 5.5 140 6.5 165 7.25 184 7.5 190 8.25 210 8.5 216 9.25 235 9.5 241 10.25 260 11.25 286 \
                 11.5 292 13.25 337 13.5 343 15.25 387 15.5 394";
    let words: Vec<Decimal> = table.split_whitespace().map(d).collect();
    assert_eq!(words.len(), 58);
    for pair in words.chunks(2) {
        let exact = pair[0] * d("25.4");
        assert_eq!(round_to(exact, Decimal::ONE, Ties::HalfEven).unwrap(), pair[1], "{}", pair[0]);
    }
    assert_eq!(round_to(d("190.5"), Decimal::ONE, Ties::HalfUp).unwrap(), d("191"));
}

/// Cases in the manner of ASTM E29 (inputs recalled, outcomes worked by hand).
#[test]
fn both_methods_of_e29() {
    let (psi, share, most) =
        (Limits::at_least(d("36000")), Limits::at_least(d("57")), Limits::at_most(d("0.5")));
    for (limits, unit, reading, used, yes) in [
        (psi, "1000", "35940", "36000", true),
        (psi, "1000", "35450", "35000", false),
        (share, "1", "56.4", "56", false),
        (share, "1", "56.5", "56", false),
        (share, "1", "56.6", "57", true),
        (most, "0.1", "0.54", "0.5", true),
        (most, "0.1", "0.55", "0.6", false),
        (most, "0.1", "0.56", "0.6", false),
    ] {
        let method = Method::Rounding { unit: d(unit), ties: Ties::HalfEven };
        let found = conforms(d(reading), &limits, method).unwrap();
        assert_eq!((found.used, found.conforms), (d(used), yes), "{reading}");
        assert!(!conforms(d(reading), &limits, Method::Absolute).unwrap().conforms, "{reading}");
    }
    assert_eq!(unit_of_last_place(d("36000")), None);
    assert_eq!(unit_of_last_place(d("0.5")), Some(d("0.1")));
    // The nearest binary numbers round to 2.67, 0.28 and 1.00; decimals do not.
    for (value, rounded) in [("2.675", "2.68"), ("0.285", "0.28"), ("1.005", "1.00")] {
        let found = round_to(d(value), d("0.01"), Ties::HalfEven).unwrap();
        assert_eq!(found.to_string(), rounded);
    }
}

/// JCGM 106:2012, 7.4: 13.6 with u 1.8 between 12.5 and 16.3.
#[test]
fn conformance_of_jcgm_106() {
    let found = conformance(d("13.6"), d("1.8"), &Limits::between(d("12.5"), d("16.3"))).unwrap();
    let four = |p: Decimal| p.round_dp(4);
    assert_eq!(
        (four(found.inside), four(found.below), four(found.above)),
        (d("0.6626"), d("0.2706"), d("0.0668"))
    );
}

/// ILAC-G8:09/2019 (guard bands of 0, 1, 1.5 and 3 U) and ISO 14253-1:2017 (0.83 U): wrong acceptance on the
/// acceptance limit, U = 2 u.
#[test]
fn wrong_acceptance_of_guard_bands() {
    let limits = Limits::at_most(d("10"));
    for (band, low, high) in [
        (GuardBand::None, "0.5", "0.5"),
        (GuardBand::Iso14253, "0.048455", "0.048465"),
        (GuardBand::Full, "0.022745", "0.022755"),
        (GuardBand::Times(d("1.5")), "0.00134985", "0.00134995"),
        (GuardBand::Times(d("3")), "0.0000000009860", "0.0000000009872"),
    ] {
        let edge = band.acceptance(&limits, d("2")).unwrap().limits.upper.unwrap();
        let risk = conformance(edge, d("1"), &limits).unwrap().false_acceptance;
        assert!(d(low) <= risk && risk <= d(high), "{band:?} {risk}");
    }
}

/// A worked example on a metrology page: limit 3 µm, U 1 µm. 1.7 passes, 2.5 lies in the grey zone.
#[test]
fn guard_band_by_hand() {
    let limits = Limits::at_most(d("3"));
    let band = GuardBand::Full.acceptance(&limits, d("1.0")).unwrap();
    assert_eq!(band.limits.upper, Some(d("2")));
    for (reading, outcome) in [
        ("1.7", Outcome::Accept),
        ("2", Outcome::Accept),
        ("2.5", Outcome::Conditional),
        ("3", Outcome::Conditional),
        ("3.0001", Outcome::Reject),
    ] {
        assert_eq!(judge(d(reading), &limits, &band), outcome, "{reading}");
    }
    let both = Limits::between(d("1"), d("2"));
    assert!(matches!(GuardBand::Full.acceptance(&both, d("0.6")), Err(GuardError::NoRoom { .. })));
    // Worked by hand: a span of 1 over 2 · 0.125 is 4 to 1.
    let ratio = test_uncertainty_ratio(&both, d("0.125"), None).unwrap();
    assert_eq!(ratio, Ratio::TwoSided { value: d("4"), low: false });
}

/// By hand: a limit of 0.50 is not told from a reading of 0.5, whichever side it stands on; zeros written count.
#[test]
fn readings_too_coarse_for_their_limit() {
    for (reading, limits, coarse) in [
        ("0.5", Limits::at_most(d("0.50")), true),
        ("0.50", Limits::at_most(d("0.50")), false),
        ("0.500", Limits::at_most(d("0.50")), false),
        ("1", Limits::between(d("0"), d("2.0")), true),
        ("1", Limits::between(d("0.5"), d("2")), true),
        ("1.0", Limits::between(d("0.5"), d("2")), false),
    ] {
        assert_eq!(too_coarse(d(reading), &limits), coarse, "{reading} {limits:?}");
    }
}

/// A guard band is 0 to 10 times the uncertainty, ends included; an uncertainty of nothing has none.
#[test]
fn guard_bands_out_of_range() {
    let limits = Limits::at_most(d("100"));
    for (r, upper) in [("0", "100"), ("10", "80")] {
        let found = GuardBand::Times(d(r)).acceptance(&limits, d("2")).unwrap();
        assert_eq!(found.limits.upper, Some(d(upper)), "{r}");
    }
    for r in ["-0.01", "10.01", "11"] {
        let found = GuardBand::Times(d(r)).acceptance(&limits, d("2"));
        assert_eq!(found, Err(GuardError::Multiplier(d(r))), "{r}");
    }
    for expanded in ["0", "-1"] {
        let found = GuardBand::Full.acceptance(&limits, d(expanded));
        assert_eq!(found, Err(GuardError::Uncertainty(d(expanded))), "{expanded}");
        assert_eq!(GuardBand::None.acceptance(&limits, d(expanded)).unwrap().limits, limits);
    }
}

/// SciPy 1.17 `stats.norm` within 1e-12: half of the last decimal and the error of two error functions.
#[test]
fn scipy_agrees() {
    let mut asked = Vec::new();
    for y in ["-40", "0", "1.25", "4.999", "5", "7.3", "9.99", "10", "10.4", "13.6", "800"] {
        for u in ["0.001", "0.05", "0.7", "1.8", "25"] {
            for (lower, upper) in [("5", "10"), ("-", "10"), ("5", "-"), ("7.3", "7.3")] {
                asked.push([y, u, lower, upper]);
            }
        }
    }
    let lines: Vec<String> = asked.iter().map(|row| row.join(" ")).collect();
    let Some(out) = crate::python::scipy(include_str!("decision/scipy.py"), &lines.join("\n")) else {
        return;
    };
    assert_eq!(out.lines().count(), asked.len());
    for ([y, u, lower, upper], line) in asked.into_iter().zip(out.lines()) {
        let limits = Limits { lower: lower.parse().ok(), upper: upper.parse().ok() };
        let found = conformance(d(y), d(u), &limits).unwrap();
        let expected: Vec<f64> = line.split(' ').map(|word| word.parse().unwrap()).collect();
        for (found, expected) in [found.below, found.inside, found.above].iter().zip(expected) {
            let found: f64 = found.to_string().parse().unwrap();
            assert!((found - expected).abs() < 1e-12, "{y} {u} {lower} {upper}: {found}, {expected}");
        }
    }
}

fn any_decimal() -> impl Strategy<Value = Decimal> {
    (any::<u32>(), any::<u32>(), any::<u32>(), any::<bool>(), 0_u32..=28)
        .prop_map(|(lo, mid, hi, negative, scale)| Decimal::from_parts(lo, mid, hi, negative, scale))
}

proptest! {
    #[test]
    fn rounding_goes_to_the_nearest(value in -10_000_000_i64..10_000_000, unit in 1_i64..5_000, s in 0_u32..6) {
        let (value, unit) = (Decimal::new(value, 4), Decimal::new(unit, s));
        for ties in [Ties::HalfEven, Ties::HalfUp] {
            let rounded = round_to(value, unit, ties).unwrap();
            prop_assert!((rounded % unit).is_zero());
            prop_assert!((rounded - value).abs() * Decimal::TWO <= unit);
            prop_assert_eq!(round_to(-value, unit, ties).unwrap(), -rounded);
        }
    }

    #[test]
    fn a_wider_band_accepts_less(reading in 0_i64..2000, u in 1_i64..300, r in 0_i64..100) {
        let (reading, u, limits) = (Decimal::new(reading, 2), Decimal::new(u, 2), Limits::between(d("5"), d("15")));
        let outcome = |r| GuardBand::Times(r).acceptance(&limits, u).map(|a| judge(reading, &limits, &a));
        let (narrow, wide) = (outcome(Decimal::new(r, 1)), outcome(Decimal::new(r, 1) + Decimal::new(1, 1)));
        if wide == Ok(Outcome::Accept) {
            prop_assert_eq!(narrow, Ok(Outcome::Accept));
        }
    }

    #[test]
    fn nothing_panics(a in any_decimal(), b in any_decimal(), c in any_decimal(), digits in 0_u32..40) {
        let limits = Limits::between(a, b);
        for ties in [Ties::HalfEven, Ties::HalfUp] {
            let _ = round_to(a, b, ties);
            let _ = round_significant(a, digits, ties);
        }
        let _ = conformance(c, b, &limits);
        let _ = GuardBand::Times(c).acceptance(&limits, a);
        let _ = test_uncertainty_ratio(&limits, c, Some(a));
        let _ = unit_of_last_place(a);
    }
}
