//! Nothing that is thrown at it makes the module panic; what it accepts, it answers with numbers.
#![allow(clippy::unwrap_used, reason = "a test stops at the first surprise")]

use brightproof::roughness::CutoffRule;
use brightproof::roughness::Ends;
use brightproof::roughness::Form;
use brightproof::roughness::GaussianFilter;
use brightproof::roughness::Grade;
use brightproof::roughness::Limit;
use brightproof::roughness::Profile;
use brightproof::roughness::Rule;
use brightproof::roughness::Settings;
use brightproof::roughness::Side;
use brightproof::roughness::evaluate;
use brightproof::roughness::improvement;
use brightproof::roughness::judge;
use brightproof::roughness::microinches;
use brightproof::roughness::ordered;
use brightproof::roughness::raw_parameters;
use brightproof::roughness::rms_to_ra;
use brightproof::roughness::short_procedure;
use brightproof::units::Quantity;
use brightproof::units::Unit;
use proptest::prelude::*;
use rust_decimal::Decimal;

/// Any decimal there is, the greatest among them, in any unit.
fn quantity() -> impl Strategy<Value = Quantity> {
    let value = prop_oneof![
        (any::<i64>(), 0_u32..=28).prop_map(|(m, s)| Decimal::new(m, s)),
        (0_i64..100_000, 0_u32..=4).prop_map(|(m, s)| Decimal::new(m, s)),
        Just(Decimal::MAX),
        Just(Decimal::MIN),
        Just(Decimal::ZERO),
    ];
    let unit = prop_oneof![
        Just(Unit::Micrometre),
        Just(Unit::Microinch),
        Just(Unit::Millimetre),
        Just(Unit::Inch),
        Just(Unit::Angstrom),
        Just(Unit::Celsius),
    ];
    (value, unit).prop_map(|(value, unit)| Quantity::new(value, unit))
}

fn um(whole: i64) -> Quantity {
    Quantity::new(Decimal::from(whole), Unit::Micrometre)
}

fn height() -> impl Strategy<Value = f64> {
    prop_oneof![8 => -10.0..10.0_f64, 1 => any::<f64>(), 1 => Just(1e6), 1 => Just(-0.0)]
}

fn tame_height() -> impl Strategy<Value = f64> {
    prop_oneof![8 => -10.0..10.0_f64, 1 => Just(1e6), 1 => Just(5e-324)]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_numbers_as_a_profile(spacing in any::<f64>(), heights in prop::collection::vec(height(), 0..60)) {
        let _ = Profile::new(spacing, heights.clone());
        let halves = heights.split_at(heights.len() / 2);
        if let Some(raw) = raw_parameters(&heights, &[halves.0, halves.1]) {
            let _ = raw.rounded(4);
            let _ = raw.rounded(99);
        }
    }

    #[test]
    fn any_evaluation(
        spacing in prop_oneof![Just(0.5), 0.001..300.0_f64, any::<f64>()],
        heights in prop::collection::vec(tame_height(), 10..700),
        cutoff in prop_oneof![4 => (1_i64..800).prop_map(um), 1 => quantity()],
        short in prop::option::of(quantity()),
        lengths in prop_oneof![8 => 1_u32..7, 1 => any::<u32>()],
        places in 0_u32..12,
        normalise in any::<bool>(),
        line in any::<bool>(),
    ) {
        let settings = Settings {
            cutoff,
            short_cutoff: short,
            form: if line { Form::Line } else { Form::None },
            lengths,
            ends: if normalise { Ends::Normalise } else { Ends::Drop },
            places,
        };
        if let Ok(profile) = Profile::new(spacing, heights) {
            match evaluate(&profile, &settings) {
                Err(error) => prop_assert!(!error.to_string().is_empty()),
                Ok(found) => {
                    prop_assert!(found.curves.roughness.iter().all(|z| z.is_finite()));
                    prop_assert!(found.raw.ra <= found.raw.rq * (1.0 + 1e-12));
                    prop_assert!(found.raw.rz <= found.raw.rt * (1.0 + 1e-12) + 1e-300);
                    prop_assert_eq!(found.each.len(), usize::try_from(lengths).unwrap());
                    prop_assert!(!found.ends.to_string().is_empty());
                    prop_assert!(found.warnings.iter().all(|w| !w.to_string().is_empty()));
                }
            }
        }
    }

    /// The mean line lies between the lowest and the highest point: its weights are all positive and make
    /// one.
    #[test]
    fn any_trace_through_the_filter(
        cutoff in prop_oneof![2.0..400.0_f64, any::<f64>()],
        heights in prop::collection::vec(height(), 0..900),
    ) {
        // A cut-off of a million points takes a while to make, and no trace here reaches it.
        if let Ok(filter) = GaussianFilter::new(if cutoff > 1e4 { f64::NAN } else { cutoff }, 1.0)
            && let Ok(line) = filter.mean_line(&heights)
        {
            prop_assert_eq!(line.len(), heights.len());
            if heights.iter().all(|z| z.abs() <= 1e6) {
                let top = heights.iter().copied().fold(f64::MIN, f64::max);
                let foot = heights.iter().copied().fold(f64::MAX, f64::min);
                let room = 1e-9 * top.abs().max(foot.abs());
                prop_assert!(line.iter().all(|z| *z <= top + room && *z >= foot - room));
            }
        }
    }

    #[test]
    fn any_decision(
        limit in quantity(),
        values in prop::collection::vec(quantity(), 0..15),
        upper in any::<bool>(),
        places in any::<u32>(),
        text in "\\PC{0,8}",
    ) {
        let limit = Limit { side: if upper { Side::Upper } else { Side::Lower }, value: limit };
        for rule in [Rule::SixteenPercent, Rule::Maximum, Rule::Mean] {
            if let Ok(found) = judge(rule, &limit, &values) {
                prop_assert_eq!(found.of, values.len());
            }
        }
        let _ = short_procedure(&limit, &values);
        for value in &values {
            for rule in CutoffRule::ALL {
                let _ = rule.choose(value);
            }
            let _ = ordered(value);
            let _ = (Grade::of(value), Grade::holding(value), rms_to_ra(value, places));
            let _ = improvement(value, &limit.value);
            let _ = microinches(value.value(), places);
        }
        let _ = Grade::named(&text);
    }

    /// Wherever the maximum rule is met, so are the 16 % rule, the short procedure and the mean.
    #[test]
    fn the_maximum_rule_is_the_sharpest(
        list in prop::collection::vec(0_i64..200, 12..20),
        limit in 0_i64..200,
    ) {
        let values: Vec<Quantity> = list.into_iter().map(um).collect();
        let limit = Limit { side: Side::Upper, value: um(limit) };
        if judge(Rule::Maximum, &limit, &values).unwrap().met {
            prop_assert!(judge(Rule::SixteenPercent, &limit, &values).unwrap().met);
            prop_assert!(judge(Rule::Mean, &limit, &values).unwrap().met);
            let short = short_procedure(&limit, &values).unwrap();
            let met = matches!(short, brightproof::roughness::ShortOutcome::Met { .. });
            prop_assert!(met);
        }
    }
}
