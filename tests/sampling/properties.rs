//! What holds for every plan.

use brightproof::sampling::Aql;
use brightproof::sampling::Level;
use brightproof::sampling::Model;
use brightproof::sampling::Name;
use brightproof::sampling::Severity;
use brightproof::sampling::acceptance;
use brightproof::sampling::quality_at;
use brightproof::sampling::verdict;
use brightproof::sampling::zero_acceptance_pieces;
use proptest::prelude::*;
use rust_decimal::Decimal;

use super::tables;

fn model(which: u8, lot: u64) -> Model {
    match which {
        0 => Model::Binomial,
        1 => Model::Poisson,
        _ => Model::Lot(lot),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn the_sample_lies_in_the_lot(lot in 1_u64.., level in 0_usize..7, aql in 0_usize..26, s in 0_usize..3) {
        let aql = Aql::all().nth(aql).unwrap();
        let plan = tables().plan(lot, Level::ALL[level], aql, Severity::ALL[s]).unwrap();
        prop_assert!(plan.sample >= 1 && plan.sample <= lot && plan.reject > plan.accept);
        prop_assert_eq!(plan.whole_lot, plan.sample == lot);
    }

    #[test]
    fn worse_is_accepted_less(
        which in 0_u8..3, n in 1_u64..3000, c in 0_u64..60, more in 0_u64..5000, p in 0_i64..1_000_000,
        step in 1_i64..100_000,
    ) {
        let model = model(which, n + more);
        let at = |p: i64| acceptance(model, n, c, Decimal::new(p.min(1_000_000), 4), 10).unwrap();
        let (good, bad) = (at(p), at(p + step));
        prop_assert!(bad <= good && bad >= Decimal::ZERO && good <= Decimal::ONE, "{} {}", good, bad);
    }

    #[test]
    fn the_quality_found_is_accepted_so(poisson: bool, n in 1_u64..2000, c in 0_u64..45, pa in 1_i64..1000) {
        prop_assume!(c < n);
        let (model, pa) = (if poisson { Model::Poisson } else { Model::Binomial }, Decimal::new(pa, 3));
        let quality = quality_at(model, n, c, pa, 12).unwrap();
        let back = acceptance(model, n, c, quality, 12).unwrap();
        prop_assert!((back - pa).abs() < Decimal::new(1, 8), "{} {}", back, pa);
    }

    #[test]
    fn zero_acceptance_is_smallest(lot in 1_u64..5000, ltpd in 1_i64..=10_000, risk in 1_i64..10_000) {
        let (ltpd, risk) = (Decimal::new(ltpd, 2), Decimal::new(risk, 2));
        let n = zero_acceptance_pieces(lot, ltpd, risk).unwrap();
        prop_assert!(n >= 1 && n <= lot);
        let share = |n| acceptance(Model::Lot(lot), n, 0, ltpd, 12).unwrap() * Decimal::ONE_HUNDRED;
        let slack = Decimal::new(1, 9);
        prop_assert!(share(n) <= risk + slack);
        prop_assert!(n == 1 || share(n - 1) > risk - slack);
    }

    #[test]
    fn nothing_panics(
        which in 0_u8..3, n: u64, c: u64, lot: u64, low: u32, scale in 0_u32..=28, places: u32, text: String,
    ) {
        let q = Decimal::from_parts(low, low, 0, low % 2 == 0, scale);
        let _ = acceptance(model(which, lot), n, c, q, places);
        let _ = acceptance(model(which, lot), n & 0xffff_ffff, c & 0xffff_ffff, q, places % 13);
        let _ = zero_acceptance_pieces(lot, q, q);
        let _ = text.parse::<Name>();
        prop_assert_eq!(verdict(n, n, c).accepted(), true);
    }
}
