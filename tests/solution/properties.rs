//! What holds of every titration and every bath, and that nothing panics.

use brightproof::computed::agree;
use brightproof::solution::Basis;
use brightproof::solution::Burette;
use brightproof::solution::Factor;
use brightproof::solution::Indicator;
use brightproof::solution::Level;
use brightproof::solution::MakeUp;
use brightproof::solution::Measure;
use brightproof::solution::TankUnit;
use brightproof::solution::TankVolume;
use brightproof::solution::Titration;
use brightproof::solution::Uncertainty;
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
use brightproof::units::Quantity;
use brightproof::units::Unit;
use proptest::prelude::*;
use rust_decimal::Decimal;

use super::q;
use super::titration;

/// Any decimal there is.
fn any_decimal() -> impl Strategy<Value = Decimal> {
    (any::<u32>(), any::<u32>(), any::<u32>(), any::<bool>(), 0_u32..=28, 0_u8..4).prop_map(
        |(lo, mid, hi, negative, scale, words)| {
            let (mid, hi) = (if words > 1 { mid } else { 0 }, if words > 2 { hi } else { 0 });
            Decimal::from_parts(lo, mid, hi, negative, scale)
        },
    )
}

fn any_in(units: &'static [Unit]) -> impl Strategy<Value = Quantity> {
    (any_decimal(), prop::sample::select(units)).prop_map(|(value, unit)| Quantity::new(value, unit))
}

fn volume() -> impl Strategy<Value = Quantity> {
    any_in(&[Unit::Millilitre])
}

fn maybe<T: std::fmt::Debug>(some: impl Strategy<Value = T>) -> impl Strategy<Value = Option<T>> {
    prop::option::of(some)
}

fn any_titration() -> impl Strategy<Value = Titration> {
    let normality = || any_in(&[Unit::MolePerLitre]);
    let density = || any_in(&[Unit::GramPerMillilitre]);
    let readings = (
        volume(),
        normality(),
        maybe(volume()),
        maybe((volume(), volume()).prop_map(|(from, to)| Burette { from, to })),
        maybe(volume()),
        maybe(density()),
    );
    let uncertainty = (volume(), volume(), normality(), maybe(density()))
        .prop_map(|(sample, volume, titrant, density)| Uncertainty { sample, volume, titrant, density });
    let words = (
        prop::sample::select(brightproof::solution::Analyte::ALL),
        maybe(prop::sample::select(Basis::ALL)),
        maybe(prop::sample::select(Indicator::ALL)),
        maybe(any::<bool>()),
        maybe(uncertainty),
    );
    (readings, words).prop_map(|(readings, (what, basis, indicator, dissolved_metals, uncertainty))| {
        let (sample, titrant, volume, burette, blank, density) = readings;
        Titration {
            what,
            sample,
            titrant,
            volume,
            burette,
            blank,
            basis,
            density,
            indicator,
            dissolved_metals,
            uncertainty,
        }
    })
}

fn strength(units: &'static [Unit]) -> impl Strategy<Value = Quantity> {
    (0_i64..=10_000, prop::sample::select(units))
        .prop_map(|(value, unit)| Quantity::new(Decimal::new(value, 2), unit))
}

fn litres(value: Decimal) -> TankVolume {
    TankVolume { value, unit: TankUnit::Litre }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1000))]

    /// No record, however odd, panics.
    #[test]
    fn a_titration_never_panics(record in any_titration()) {
        if let Ok(answer) = record.answer() {
            for strength in &answer.strengths {
                prop_assert!(strength.value >= Decimal::ZERO);
                prop_assert!(strength.expanded.is_none_or(|u| u >= Decimal::ZERO));
                let _ = strength.to_string();
            }
        }
    }

    /// No figure, however odd, panics.
    #[test]
    fn nothing_panics(
        a in any_decimal(), b in any_decimal(), c in any_decimal(), d in any_decimal(), e in any_decimal(),
    ) {
        for unit in Unit::ALL {
            let (x, y) = (Quantity::new(a, *unit), Quantity::new(b, *unit));
            for basis in Basis::ALL {
                let _ = (grams_per_litre(&x, *basis), volume_percent(&x, *basis));
            }
            let _ = (mass_percent(&x), grams_per_litre_of_mass(&x), resistivity(&x), agree(&x, &y));
            for factor in [Factor::PotassiumChloride, Factor::Stated(b)] {
                let _ = dissolved_solids(&x, factor);
            }
            for temperature in [Unit::Celsius, Unit::Fahrenheit, Unit::Second] {
                let _ = strength_by_density(&x, &Quantity::new(b, temperature), c);
            }
        }
        let _ = (specific_gravity(a), baume(a), conductivity(a));
        let volumes = [a, b].map(|value| TankVolume { value, unit: TankUnit::UsGallon });
        let _ = volumes[0].to(TankUnit::Litre);
        for unit in [Unit::VolumePercent, Unit::GramPerLitre] {
            let [strength, target, concentrate] = [c, d, e].map(|value| Quantity::new(value, unit));
            for level in [Level::RisesTo(volumes[1]), Level::EndsAt(volumes[1])] {
                let _ = MakeUp { volume: volumes[0], strength, target, concentrate, level }.addition();
            }
        }
    }

    /// Texts of any kind are read or refused.
    #[test]
    fn no_text_panics(text in "\\PC*") {
        let _ = text.parse::<Factor>();
        let _ = text.parse::<TankVolume>();
        let _ = format!("{text} US gal").parse::<TankVolume>();
    }

    /// What is in the bath afterwards: its volume, and as much acid as the target asks, within the rounding
    /// of three volumes to 0.01 L. Nothing is drawn off while there is room.
    #[test]
    fn an_addition_balances(
        v in 0_i64..=100_000, c in 0_i64..=10_000, t in 1_i64..10_000, more in 1_i64..=9_999,
        w in 1_i64..=100_000, rises in any::<bool>(),
    ) {
        let s = (t + more).min(10_000);
        let [strength, target, concentrate] =
            [c, t, s].map(|value| Quantity::new(Decimal::new(value, 2), Unit::VolumePercent));
        let (volume, tank) = (litres(Decimal::new(v, 2)), litres(Decimal::new(w, 2)));
        let level = if rises { Level::RisesTo(tank) } else { Level::EndsAt(tank) };
        let Ok(done) = (MakeUp { volume, strength, target, concentrate, level }).addition() else {
            prop_assert!(s <= t || (rises && (v > w || v == 0)), "refused");
            return Ok(());
        };
        let [draw, water, acid, end] =
            [done.draw_off, done.water, done.concentrate, done.ends_at].map(|volume| volume.value);
        prop_assert!([draw, water, acid].iter().all(|part| *part >= Decimal::ZERO));
        prop_assert!(draw <= volume.value && end <= tank.value);
        prop_assert!((volume.value - draw + water + acid - end).abs() <= Decimal::new(2, 2));
        let held = strength.value() * (volume.value - draw) + concentrate.value() * acid;
        // Hundred parts by half of 0.01 L, for each of three volumes.
        prop_assert!((held - target.value() * end).abs() <= Decimal::new(15, 1));
        prop_assert!(draw.is_zero() || water.is_zero() || acid.is_zero());
    }

    /// Twice the titrant is twice the strength; twice the sample half of it.
    #[test]
    fn strength_is_proportional(volume in 1_i64..50_000) {
        let run = |sample: &str, volume: i64| {
            let mut record = titration(
                "what: nitric acid\nsample: 5 mL\ntitrant: 1 N\nvolume: 1 mL\nbasis: 42 °Bé\n",
            );
            record.sample = q(sample);
            record.volume = Some(Quantity::new(Decimal::new(volume, 3), Unit::Millilitre));
            record.answer().unwrap().given_in(Measure::MolePerLitre).unwrap().value
        };
        let once = run("5 mL", volume);
        prop_assert!((run("5 mL", 2 * volume) - Decimal::TWO * once).abs() <= Decimal::new(2, 3));
        prop_assert_eq!(run("10 mL", 2 * volume), once);
    }

    /// Whatever is read is read back: mass per cent to g/L and again, within the rounding of both.
    #[test]
    fn there_and_back(mass in 100_i64..=7_000) {
        let mass = Quantity::new(Decimal::new(mass, 2), Unit::MassPercent);
        let grams = grams_per_litre_of_mass(&mass).unwrap().0;
        if grams.value() < Decimal::new(98_938, 2) {
            let back = mass_percent(&grams).unwrap().0;
            prop_assert!((back.value() - mass.value()).abs() <= Decimal::new(1, 2), "{mass} {grams} {back}");
        }
    }

    /// A figure agrees with itself however coarsely it is copied, halves to the even digit.
    #[test]
    fn a_rounded_copy_agrees(value in strength(&[Unit::VolumePercent]), places in 0_u32..=2) {
        let copy = Quantity::new(value.value().round_dp(places), value.unit());
        let mut written = copy.value();
        written.rescale(places);
        prop_assert_eq!(agree(&value, &Quantity::new(written, value.unit())), Some(true));
    }
}
