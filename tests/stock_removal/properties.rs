//! What holds of stock removal for any figures.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test stops at the first surprise")]

use brightproof::units::Unit;
use proptest::prelude::*;

use brightproof::removal::IronShare;
use brightproof::removal::Limits;

use super::*;

/// Any decimal at all, the largest and the finest among them.
fn any_decimal() -> impl Strategy<Value = Decimal> {
    let parts = (any::<u32>(), any::<u32>(), any::<u32>(), any::<bool>(), 0_u32..=28);
    let wild = parts.prop_map(|(lo, mid, hi, minus, scale)| Decimal::from_parts(lo, mid, hi, minus, scale));
    let edge = prop::sample::select(vec![
        Decimal::MAX,
        Decimal::MIN,
        Decimal::ZERO,
        Decimal::ONE,
        Decimal::new(1, 28),
        Decimal::new(-1, 28),
        Decimal::from(50),
    ]);
    let usual = (1_i64..100_000, 0_u32..4).prop_map(|(mantissa, scale)| Decimal::new(mantissa, scale));
    prop_oneof![wild, edge, usual]
}

fn any_quantity() -> impl Strategy<Value = Quantity> {
    (any_decimal(), prop::sample::select(Unit::ALL)).prop_map(|(value, unit)| Quantity::new(value, unit))
}

fn of(units: &'static [Unit]) -> impl Strategy<Value = Quantity> {
    (any_decimal(), prop::sample::select(units)).prop_map(|(value, unit)| Quantity::new(value, unit))
}

fn any_feature() -> impl Strategy<Value = Feature> {
    prop::sample::select(vec![Feature::Outside, Feature::Bore, Feature::Thickness, Feature::OneSide])
}

const LENGTHS: &[Unit] = &[Unit::Inch, Unit::Millimetre, Unit::Micrometre, Unit::Microinch];
const AREAS: &[Unit] = &[Unit::SquareCentimetre, Unit::SquareDecimetre, Unit::SquareInch, Unit::SquareFoot];
const TIMES: &[Unit] = &[Unit::Second, Unit::Minute, Unit::Hour, Unit::Day];
const CHARGES: &[Unit] = &[Unit::AmpereMinute, Unit::AmpereHour];
const DENSITIES: &[Unit] = &[Unit::AmperePerDm2, Unit::AmperePerFt2];

fn any_passage() -> impl Strategy<Value = Passage> {
    let current = || of(&[Unit::Ampere]);
    prop_oneof![
        (any_quantity(), any_quantity()).prop_map(|(charge, area)| Passage::Charge { charge, area }),
        (of(CHARGES), of(AREAS)).prop_map(|(charge, area)| Passage::Charge { charge, area }),
        (of(DENSITIES), of(TIMES))
            .prop_map(|(current_density, time)| Passage::Density { current_density, time }),
        (current(), of(TIMES), of(AREAS)).prop_map(|(current, time, area)| Passage::Current {
            current,
            time,
            area
        }),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, failure_persistence: None, ..ProptestConfig::default() })]

    /// No figures whatever stop the reckoning otherwise than by an error.
    #[test]
    fn nothing_panics(
        passage in any_passage(),
        shares in prop::collection::btree_map("[A-Z][a-z]?", any_decimal(), 0..5),
        fe in any_decimal(),
        numbers in prop::collection::vec(any_decimal(), 6),
        masses in prop::collection::vec(of(&[Unit::Gram]), 3),
        area in of(AREAS),
        lengths in prop::collection::vec(of(LENGTHS), 4),
        feature in any_feature(),
        digits in 0_u32..30,
        other in any_quantity(),
    ) {
        let mut elements = shares;
        elements.insert("Fe".into(), fe);
        let wild = Composition { elements, basis: String::new() };
        for iron in [IronShare::Rest, IronShare::AsStated, IronShare::Normalised] {
            let _ = wild.equivalent_weight_with(Valences::Fe3Cr6, iron);
        }
        let limits = [Limits { symbol: "Cr".into(), min: Some(numbers[0]), max: Some(numbers[1]) }];
        let _ = Composition::mid_range(&limits, "");
        let density = Density::stated(numbers[2], "").unwrap_or_else(|_| Density::of_family(Family::Duplex));
        let mut alloy = ew(M304, Valences::Fe3Cr3);
        // Its fields are open, so anything may stand there.
        alloy.value = numbers[3];
        let efficiency = Efficiency::stated(numbers[4], Some(numbers[5]), Valences::Fe3Cr3, "").ok();
        let part = Some(numbers[5]).filter(|n| *n <= Decimal::ONE);
        let uncertainty = ChargeUncertainty {
            current: part,
            time: part,
            area: part,
            equivalent_weight: part,
            density: part,
        };
        let by_charge = removal::faraday(&passage, &alloy, &density, efficiency.as_ref(), &uncertainty);
        let _ = removal::charge_needed(&lengths[0], &alloy, &density, efficiency.as_ref());
        let weighings = Weighings {
            before: masses[0],
            after: masses[1],
            area,
            weighing_uncertainty: Some(masses[2]),
            area_uncertainty: part,
            density_uncertainty: part,
        };
        let weighed = removal::weighing(&weighings, &density);
        let across = Across { feature, before: lengths[0], after: lengths[1], uncertainty: Some(lengths[2]) };
        let sized = removal::dimensions(&across);
        let all: Vec<Estimate> = [by_charge, weighed, sized].into_iter().flatten().collect();
        for estimate in &all {
            let _ = (estimate.in_words(numbers[0]), estimate.in_inches(numbers[1]));
            let _ = estimate.uncertainty(numbers[2]);
        }
        let _ = removal::compare(&all).map(|c| c.conservative(Limit::AtMost).depth);
        let finished = Size { min: lengths[0], max: lengths[1] };
        let _ = removal::machine_to(feature, &finished, &Band { from: lengths[2], to: lengths[3] }, digits);
        let _ = Size::nominal(lengths[0], lengths[1]);
        let _ = (removal::thread_pitch_change(&other), removal::hydrogen_litres(&other));
        let _ = (removal::per_square_decimetre(numbers[0]), removal::per_square_foot(numbers[0]));
        let _ = removal::round_half_even(numbers[0], numbers[1]);
        let coupon = |lost: &Quantity| {
            let (passage, lost, alloy) = (passage, *lost, alloy.clone());
            Coupon { name: String::new(), passage, lost, area, alloy }
        };
        let coupons: Vec<Coupon> = masses.iter().map(coupon).collect();
        let _ = removal::calibrate(&coupons);
    }

    /// Twice the charge takes twice as much, to the last of 28 digits; so does half the surface.
    #[test]
    fn removal_grows_with_the_charge(
        charge in 1_i64..10_000_000,
        area in 1_i64..1_000_000,
        times in 2_i64..50,
    ) {
        let alloy = ew(M304, Valences::Fe3Cr3);
        let density = Density::of_grade("304").unwrap();
        let of = |charge: i64, area: i64| {
            let charge = Quantity::new(Decimal::new(charge, 2), Unit::AmpereMinute);
            let area = Quantity::new(Decimal::new(area, 3), Unit::SquareInch);
            depth(&Passage::Charge { charge, area }, &alloy, &density).depth
        };
        let (one, many) = (of(charge, area * times), of(charge * times, area * times));
        let same = of(charge, area);
        let near = |a: Decimal, b: Decimal| (a - b).abs() <= b * Decimal::new(1, 15) + Decimal::new(1, 24);
        prop_assert!(near(one * Decimal::from(times), many), "{} {}", one, many);
        prop_assert!(near(same, many), "{} {}", same, many);
    }

    /// The charge needed for a depth gives that depth.
    #[test]
    fn charge_needed_and_depth_are_inverse(microns in 1_i64..1_000_000, share in 1_i64..150) {
        let alloy = ew("Cr:17 Ni:12 Mo:2.5", Valences::LowestMo4);
        let density = Density::of_grade("316").unwrap();
        let efficiency = Efficiency::stated(Decimal::new(share, 2), None, Valences::LowestMo4, "").unwrap();
        let wanted = Quantity::new(Decimal::new(microns, 3), Unit::Micrometre);
        let needed = removal::charge_needed(&wanted, &alloy, &density, Some(&efficiency)).unwrap();
        let passage = Passage::Charge { charge: Quantity::new(needed, Unit::AmpereMinute), area: q("1 dm²") };
        let none = ChargeUncertainty::default();
        let found = removal::faraday(&passage, &alloy, &density, Some(&efficiency), &none).unwrap();
        prop_assert!((found.depth - wanted.value()).abs() < Decimal::new(1, 15), "{}", found.depth);
    }

    /// Both ends of the window, polished by both ends of the band, lie within the finished limits; one step
    /// of the last digit outside the window does not, for one of the ends at least, where the band is told in
    /// the part's unit.
    #[test]
    fn machined_and_polished_parts_are_in_tolerance(
        feature in any_feature(),
        inch in any::<bool>(),
        micro in any::<bool>(),
        size in 10_000_i64..1_000_000,
        tolerance in 0_i64..100,
        from in 0_i64..300,
        width in 0_i64..200,
    ) {
        let unit = if inch { Unit::Inch } else { Unit::Millimetre };
        let small = if micro { Unit::Microinch } else { Unit::Micrometre };
        let finished = Size {
            min: Quantity::new(Decimal::new(size - tolerance, 4), unit),
            max: Quantity::new(Decimal::new(size + tolerance, 4), unit),
        };
        let band = Band {
            from: Quantity::new(Decimal::new(from, 1), small),
            to: Quantity::new(Decimal::new(from + width, 1), small),
        };
        let microns = |quantity: &Quantity| {
            let each = match quantity.unit() {
                Unit::Inch => d("25400"),
                Unit::Millimetre => d("1000"),
                Unit::Microinch => d("0.0254"),
                _ => Decimal::ONE,
            };
            quantity.value() * each
        };
        let sign = if feature.grows() { Decimal::ONE } else { Decimal::NEGATIVE_ONE };
        let across = sign * feature.surfaces();
        let polished = |machined: Decimal, removed: &Quantity| machined + across * microns(removed);
        let good = |machined: Decimal| {
            [band.from, band.to].iter().all(|removed| {
                let end = polished(machined, removed);
                end >= microns(&finished.min) && end <= microns(&finished.max)
            })
        };
        match removal::machine_to(feature, &finished, &band, 6) {
            Ok(window) => {
                let (min, max) = (microns(&window.min), microns(&window.max));
                let step = microns(&Quantity::new(Decimal::new(1, 6), unit));
                prop_assert!(good(min) && good(max), "{:?}", window);
                prop_assert!(!good(min - step) && !good(max + step), "not the widest: {:?}", window);
            }
            Err(RemovalError::BandTooWide { .. }) => {
                let spread = feature.surfaces() * (microns(&band.to) - microns(&band.from));
                prop_assert!(spread > microns(&finished.max) - microns(&finished.min));
            }
            Err(RemovalError::NoStepInside(6)) => {}
            Err(other) => prop_assert!(false, "{other}"),
        }
    }
}
