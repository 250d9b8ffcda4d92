//! Every refusal, in its own words.

use brightproof::solution::Factor;
use brightproof::solution::Level;
use brightproof::solution::MakeUp;
use brightproof::solution::TankVolume;
use brightproof::solution::Titration;
use brightproof::solution::baume;
use brightproof::solution::conductivity;
use brightproof::solution::dissolved_solids;
use brightproof::solution::grams_per_litre;
use brightproof::solution::grams_per_litre_of_mass;
use brightproof::solution::mass_percent;
use brightproof::solution::resistivity;
use brightproof::solution::specific_gravity;
use brightproof::solution::strength_by_density;
use brightproof::solution::volume_percent;

use super::basis;
use super::d;
use super::q;
use super::titration;

const SOUND: &str = "what: nitric acid\nsample: 5 mL\ntitrant: 1.000 N\nvolume: 18.8 mL\nbasis: 42 °Bé\n";

#[test]
fn titrations_refused() {
    assert!(titration(SOUND).answer().is_ok());
    for (from, to, words) in [
        ("sample: 5 mL", "sample: 5 g", "sample is 5 g: expected a value in mL"),
        ("sample: 5 mL", "sample: 0 mL", "sample is 0 mL: expected more than 0 and at most 1000 mL"),
        ("1.000 N", "21 N", "titrant is 21 mol/L: expected more than 0 and at most 20 mol/L"),
        ("18.8 mL", "-0.1 mL", "volume is -0.1 mL: expected from 0 and at most 1000 mL"),
        (
            "volume: 18.8 mL\n",
            "",
            "no titrant volume: give `volume`, or both readings of the burette in `burette`",
        ),
        (
            "basis",
            "burette: { from: 0 mL, to: 18.8 mL }\nbasis",
            "`volume` and `burette` are both given: give one of them, so that they cannot differ",
        ),
        (
            "volume: 18.8 mL",
            "burette: { from: 18.8 mL, to: 0.0 mL }",
            "the burette reads 0.0 mL after 18.8 mL: expected a last reading not below the first; \
             look whether they are swapped",
        ),
        (
            "basis",
            "blank: 19 mL\nbasis",
            "the blank took 19 mL, the sample only 18.8 mL: expected a blank not above the sample's volume",
        ),
        (
            "basis: 42 °Bé\n",
            "",
            "the nitric acid titration has no basis: state `42 °Bé`, `67 %`, `68 %`, `15.5 mol/L` or `70 %`, \
             for the same titration reads differently on each",
        ),
        (
            "nitric acid",
            "citric acid",
            "basis `42 °Bé` does not belong to a citric acid titration: expected `monohydrate` or \
             `anhydrous`",
        ),
        (
            "nitric acid",
            "chloride",
            "basis `42 °Bé` does not belong to a chloride titration: expected none; leave it out",
        ),
        (
            "basis",
            "indicator: starch\nbasis",
            "indicator `starch` does not show the end of a nitric acid titration: \
             expected `methyl orange`, `phenolphthalein` or `electrode`",
        ),
        (
            "basis",
            "density: 0.5 g/mL\nbasis",
            "density is 0.5 g/mL: expected from 0.9 to 2 g/mL, as a water-based bath has",
        ),
        (
            "basis",
            "uncertainty: { sample: 0.1 mL, volume: 0.1 mL, titrant: 0.1 N, density: 0.1 g/mL }\nbasis",
            "uncertainty of density is 0.1 g/mL: expected none, for the density itself is not on record",
        ),
        (
            "basis",
            "uncertainty: { sample: -0.1 mL, volume: 0.1 mL, titrant: 0.1 N }\nbasis",
            "uncertainty of sample is -0.1 mL: expected from 0 and at most 1000 mL",
        ),
    ] {
        assert!(SOUND.contains(from));
        let fault = titration(&SOUND.replacen(from, to, 1)).answer().unwrap_err();
        assert_eq!(fault.to_string(), words);
    }
}

/// The same titration without its basis is refused for citric acid and dichromate too.
#[test]
fn no_basis_no_strength() {
    for (what, words) in
        [("citric acid", "`monohydrate` or `anhydrous`"), ("sodium dichromate", "`dihydrate` or `anhydrous`")]
    {
        let text = SOUND.replace("nitric acid", what).replace("basis: 42 °Bé\n", "");
        let expected = format!(
            "the {what} titration has no basis: state {words}, for the same titration reads differently on \
             each"
        );
        assert_eq!(titration(&text).answer().unwrap_err().to_string(), expected);
    }
}

#[test]
fn documents_refused() {
    for (from, to) in [
        ("sample", "probe"),
        ("42 °Bé", "42 Be"),
        ("nitric acid", "nitric_acid"),
        ("1.000 N", "1.000 M"),
        ("volume: 18.8 mL", "volume: 18.8"),
        ("basis", "indicator: litmus\nbasis"),
        ("basis", "uncertainty: { sample: 0.1 mL }\nbasis"),
    ] {
        assert!(serde_yaml::from_str::<Titration>(&SOUND.replacen(from, to, 1)).is_err(), "{to}");
    }
    let back = serde_json::to_string(&titration(SOUND)).unwrap();
    assert_eq!(
        back,
        "{\"what\":\"nitric acid\",\"sample\":\"5 mL\",\"titrant\":\"1.000 mol/L\",\"volume\":\"18.8 mL\",\
         \"basis\":\"42 °Bé\"}"
    );
}

#[test]
fn strengths_refused() {
    let cases = [
        (
            strength_by_density(&q("1.18 g/mL"), &q("21 °C"), d("0.5")).unwrap_err(),
            "the density was read at 21 °C: expected 20 °C ± 0.5 °C; bring the sample to 20 °C and read \
             again",
        ),
        (
            strength_by_density(&q("1.18 g/mL"), &q("69 °F"), d("0.5")).unwrap_err(),
            "the density was read at 69 °F: expected 20 °C ± 0.5 °C; bring the sample to 20 °C and read \
             again",
        ),
        (
            strength_by_density(&q("1.18 g/mL"), &q("20 °C"), d("5")).unwrap_err(),
            "allowed departure from 20 °C is 5 °C: expected 0 to 1 °C, for the table holds at 20 °C only",
        ),
        (
            strength_by_density(&q("1.4135 g/mL"), &q("20 °C"), d("0.5")).unwrap_err(),
            "density 1.4135 g/mL lies outside the table, 1.00364 g/mL to 1.41340 g/mL: \
             nothing is read beyond its ends",
        ),
        (
            strength_by_density(&q("1.18 g/mL"), &q("20 min"), d("0.5")).unwrap_err(),
            "temperature of the density is 20 min: expected a value in °C",
        ),
        (
            grams_per_litre(&q("101 vol%"), basis("70 %")).unwrap_err(),
            "strength is 101 vol%: expected 0 to 100 vol%",
        ),
        (
            grams_per_litre(&q("10 vol%"), basis("anhydrous")).unwrap_err(),
            "basis `anhydrous` does not belong to a nitric acid titration: \
             expected a concentrate of nitric acid, as in `42 °Bé`",
        ),
        (
            volume_percent(&q("990 g/L"), basis("70 %")).unwrap_err(),
            "strength is 990 g/L: expected 0 to 989.29 g/L, what the concentrate holds",
        ),
        (
            mass_percent(&q("5 g/L")).unwrap_err(),
            "strength 5 g/L lies outside the table, 10.0 g/L to 989.4 g/L: nothing is read beyond its ends",
        ),
        (
            grams_per_litre_of_mass(&q("70.1 wt%")).unwrap_err(),
            "strength 70.1 wt% lies outside the table, 1 wt% to 70 wt%: nothing is read beyond its ends",
        ),
        (
            specific_gravity(d("145")).unwrap_err(),
            "degree Baumé is 145: expected 0 to 72, liquids heavier than water",
        ),
        (
            baume(d("0.99")).unwrap_err(),
            "specific gravity is 0.99: expected 1 to 2, liquids heavier than water",
        ),
        (
            dissolved_solids(&q("50 µS/cm"), Factor::Natural442).unwrap_err(),
            "conductivity 50 µS/cm lies outside the table, 84 µS/cm to 12880 µS/cm: \
             nothing is read beyond its ends",
        ),
        (
            dissolved_solids(&q("50 ppm"), Factor::Natural442).unwrap_err(),
            "conductivity is 50 ppm: expected a value in µS/cm",
        ),
        (
            dissolved_solids(&q("50 µS/cm"), Factor::Stated(d("2"))).unwrap_err(),
            "factor is 2: expected 0.3 to 1 ppm per µS/cm",
        ),
        (
            "sea water".parse::<Factor>().unwrap_err(),
            "`sea water` is no factor from conductivity to solids: \
             expected `KCl`, `NaCl`, `442` or a number, as in `0.64`",
        ),
        (
            resistivity(&q("0 µS/cm")).unwrap_err(),
            "conductivity is 0 µS/cm: expected 0.000001 to 1000000 µS/cm",
        ),
        (conductivity(d("-1")).unwrap_err(), "resistivity is -1 MΩ·cm: expected 0.000001 to 1000000 MΩ·cm"),
        (
            "100 gal".parse::<TankVolume>().unwrap_err(),
            "`100 gal` is no volume of a tank: expected a number and `L` or `US gal`, as in `400 L`",
        ),
    ];
    for (fault, words) in cases {
        assert_eq!(fault.to_string(), words);
    }
}

#[test]
fn make_ups_refused() {
    for ([v, c, t, s, level], words) in [
        (
            ["400 L", "20 vol%", "25 vol%", "100 vol%", "100 US gal"],
            "volumes 400 L and 100 US gal are in two units: state the bath and the tank both in L or both in \
             US gal",
        ),
        (
            ["400 L", "20 vol%", "25 wt%", "100 vol%", "400 L"],
            "strengths 20 vol%, 25 wt% and 100 vol% are not alike: \
             expected bath, target and concentrate all in vol%, all in g/L or all in mol/L",
        ),
        (
            ["400 L", "20 wt%", "25 wt%", "67 wt%", "400 L"],
            "strengths 20 wt%, 25 wt% and 67 wt% are not alike: \
             expected bath, target and concentrate all in vol%, all in g/L or all in mol/L",
        ),
        (
            ["400 L", "20 vol%", "25 vol%", "25 vol%", "400 L"],
            "a concentrate of 25 vol% cannot bring a bath to 25 vol%: expected one stronger than the target",
        ),
        (
            ["401 L", "20 vol%", "25 vol%", "100 vol%", "400 L"],
            "volume of the bath is 401 L: expected at most the tank's 400 L",
        ),
        (
            ["0 L", "20 vol%", "25 vol%", "100 vol%", "400 L"],
            "volume of the bath is 0 L: expected more than 0 and at most 1000000 L",
        ),
        (
            ["400 L", "20 vol%", "0 vol%", "100 vol%", "400 L"],
            "target is 0 vol%: expected more than 0 and at most 100 vol%",
        ),
    ] {
        let order = MakeUp {
            volume: v.parse().unwrap(),
            strength: q(c),
            target: q(t),
            concentrate: q(s),
            level: Level::RisesTo(level.parse().unwrap()),
        };
        assert_eq!(order.addition().unwrap_err().to_string(), words);
    }
}
