//! Every refusal, in its own words.

use brightproof::surface::AtPercent;
use brightproof::surface::AtomicPercent;
use brightproof::surface::Formula;
use brightproof::surface::oxide_depth;
use brightproof::surface::pren;
use brightproof::units::Quantity;

use super::SOUND;
use super::analysis;
use super::chemistry;
use super::d;
use super::profile;

#[test]
fn analyses_refused() {
    assert!(analysis(SOUND).oxide_ratio().is_ok());
    for (from, to, words) in [
        (
            "  C: { total: 21.4 at% }\n",
            "",
            "the percentages leave out C: give every element found, carbon and oxygen too, \
             `0.0 at%` where there is none",
        ),
        (
            "total: 50.2",
            "total: 49.6",
            "the percentages add up to 99.4 at%: expected 100 ± 0.5 at%; look for a missing element or a \
             slip",
        ),
        (
            "total: 50.2",
            "total: 60.2",
            "the percentages add up to 110.0 at%: expected 100 ± 0.5 at%; look for a missing element or a \
             slip",
        ),
        (
            "within: 0.5",
            "within: 2.1",
            "a tolerance of 2.1 at% on the sum says nothing: expected at most 2 at%",
        ),
        ("Ni:", "Nickel:", "`Nickel` is no chemical symbol: expected one as in `Cr`"),
        (
            "oxide: 5.2",
            "oxide: 5.4",
            "Fe is 8.1 at%, but its oxide 5.4 at% and metal 2.9 at% add up to 8.3 at%: expected the same",
        ),
        (", metal: 2.9 at%", "", "Fe has only one of `oxide` and `metal`: give both or neither"),
        (
            "XPS\ntake_off_angle: 45 deg",
            "GD-OES",
            "GD-OES does not tell Cr as oxide from Cr as metal: leave the split out, or correct the method",
        ),
        ("XPS", "GD-OES", "GD-OES has no take-off angle: leave it out, or correct the method"),
        (
            "45 deg",
            "91 deg",
            "take-off angle is 91 deg: expected more than 0 and at most 90 deg from the surface",
        ),
        (
            "take_off",
            "sputtered: { for: 25 h }\ntake_off",
            "sputtered for 25 h: expected more than 0 s and at most 24 h",
        ),
        (
            "  Fe: { total: 8.1 at%, oxide: 5.2 at%, metal: 2.9",
            "  Mn: { total: 8.1 at% }\n  Fe: { total: 0.0 at%, oxide: 0.0 at%, metal: 0.0",
            "no CrOx/FeOx ratio: no iron was found as oxide, and nothing divides by nought; \
             state the iron at the limit of detection",
        ),
        (
            "oxide: 5.2 at%, metal: 2.9 at%, ",
            "",
            "no CrOx/FeOx ratio: Fe as oxide is not among the percentages",
        ),
    ] {
        assert!(SOUND.contains(from), "{from}");
        let fault = analysis(&SOUND.replacen(from, to, 1)).oxide_ratio().unwrap_err();
        assert_eq!(fault.to_string(), words);
    }
    let no_iron = SOUND.replace("  Fe: { total: 8.1 at%, oxide: 5.2 at%, metal: 2.9", "  Mn: { total: 8.1");
    let fault = analysis(&no_iron).chromium_to_iron().unwrap_err();
    assert_eq!(fault.to_string(), "no Cr/Fe ratio: Fe is not among the percentages");
}

#[test]
fn documents_refused() {
    for (from, to) in [
        ("XPS", "ESCA"),
        ("21.4 at%", "-21.4 at%"),
        ("21.4 at%", "101 at%"),
        ("21.4 at%", "21.4"),
        ("21.4 at%", "21.4 wt%"),
        ("total: 21.4 at%", "total: 21.4 at%, ion: 0 at%"),
        ("sum_within", "within"),
        ("sum_within: 0.5 at%\n", ""),
    ] {
        assert!(serde_yaml::from_str::<AtomicPercent>(&SOUND.replacen(from, to, 1)).is_err(), "{to}");
    }
    let words =
        "`-1 at%` is no atomic percentage: expected a number from 0 to 100 and `at%`, as in `15.2 at%`";
    assert_eq!("-1 at%".parse::<AtPercent>().unwrap_err().to_string(), words);
}

#[test]
fn chemistries_refused() {
    for (text, words) in [
        (
            "Mo 2.1",
            "the chemistry has no Cr: expected at least chromium in wt%, as the heat's certificate states it",
        ),
        ("Cr -1", "Cr is -1 wt%: expected 0 to 100 wt%"),
        ("Cr 18, Mo 101", "Mo is 101 wt%: expected 0 to 100 wt%"),
        ("Cr 60, Mo 50", "the chemistry counts 110 wt% in all: expected at most 100"),
    ] {
        assert_eq!(pren(&chemistry(text), Formula::N16).unwrap_err().to_string(), words);
    }
    let mut volume = chemistry("Cr 18");
    volume.insert("N".to_owned(), "0.1 vol%".parse::<Quantity>().unwrap());
    let fault = pren(&volume, Formula::N30).unwrap_err();
    assert_eq!(fault.to_string(), "N is 0.1 vol%: expected 0 to 100 wt%");
}

#[test]
fn profiles_refused() {
    let nan = f64::NAN;
    let falls = [(0.0, 50.0), (1.0, 40.0), (2.0, 10.0), (3.0, 2.0)];
    let with = |at: usize, row: (f64, f64)| {
        let mut rows = falls;
        rows[at] = row;
        rows
    };
    assert!(oxide_depth(&profile(&falls, 1)).is_ok());
    for (rows, bulk, words) in [
        (with(1, (1.0, nan)), 1, "row 2, oxygen: NaN is no measurement: expected 0 to 100 at%"),
        (with(2, (nan, 10.0)), 1, "row 3, sputter time: NaN is no measurement: expected 0 to 10000 min"),
        (with(3, (3.0, -0.5)), 1, "row 4, oxygen: -0.5 is no measurement: expected 0 to 100 at%"),
        (
            with(0, (f64::INFINITY, 1.0)),
            1,
            "row 1, sputter time: inf is no measurement: expected 0 to 10000 min",
        ),
        (
            with(2, (1.0, 10.0)),
            1,
            "row 3: sputter time 1 min comes after 1 min: expected times that rise from row to row",
        ),
        (
            with(2, (0.5, 10.0)),
            1,
            "row 3: sputter time 0.5 min comes after 1 min: expected times that rise from row to row",
        ),
        (falls, 0, "the profile has 4 rows: expected 1 to half of them as bulk, not 0"),
        (falls, 3, "the profile has 4 rows: expected 1 to half of them as bulk, not 3"),
        (
            with(3, (3.0, 51.0)),
            1,
            "oxygen at its most, 50.00 at%, does not stand above the bulk, 51.00 at%: no film is to be seen",
        ),
        (
            with(2, (2.0, 39.0)),
            1,
            "oxygen does not fall to 26.00 at% before the rows taken as bulk: \
             the profile is too short or its bulk not yet reached",
        ),
    ] {
        assert_eq!(oxide_depth(&profile(&rows, bulk)).unwrap_err().to_string(), words);
    }
    let fault = oxide_depth(&profile(&falls[..3], 1)).unwrap_err();
    assert_eq!(fault.to_string(), "the profile has 3 rows: expected 4 to 100000");
    let mut slow = profile(&falls, 1);
    slow.rate.angstrom_per_minute = d("0");
    let words = "sputter rate is 0 Å/min: expected 0.01 to 10000 Å/min of the reference oxide";
    assert_eq!(oxide_depth(&slow).unwrap_err().to_string(), words);
}
