//! Operating characteristics and zero acceptance, against published points and SciPy.

use brightproof::decision::Ties;
use brightproof::decision::round_significant;
use brightproof::sampling::CurveError;
use brightproof::sampling::Model;
use brightproof::sampling::acceptance;
use brightproof::sampling::acceptances;
use brightproof::sampling::outgoing_limit;
use brightproof::sampling::quality_at;
use brightproof::sampling::zero_acceptance_pieces;
use rust_decimal::Decimal;

use super::d;
use super::facts;

fn digits(value: Decimal, digits: u32) -> Decimal {
    round_significant(value, digits, Ties::HalfEven).unwrap()
}

/// MIL-STD-105E tables X, every single plan at nine probabilities, computed with SciPy to four digits.
#[test]
fn points_of_the_curves() {
    let facts = facts(include_str!("oc_points.csv"));
    assert_eq!(facts.len(), 512);
    for row in facts {
        let (n, c) = (row[1].parse().unwrap(), row[2].parse().unwrap());
        let model = if row[3].starts_with("binomial") { Model::Binomial } else { Model::Poisson };
        for (pa, cell) in
            ["0.99", "0.95", "0.90", "0.75", "0.50", "0.25", "0.10", "0.05", "0.01"].iter().zip(&row[4..])
        {
            if cell.is_empty() {
                continue;
            }
            let found = quality_at(model, n, c, d(pa), 12).unwrap();
            let expected = cell.parse::<Decimal>().or_else(|_| Decimal::from_scientific(cell)).unwrap();
            assert_eq!(digits(found, 4), expected, "{row:?} {pa}");
        }
    }
}

/// MIL-STD-105E tables X-A and X-F (recalled), three digits.
#[test]
fn published_curves() {
    let pa = ["0.99", "0.95", "0.90", "0.75", "0.50", "0.25", "0.10", "0.05", "0.01"];
    let two = ["0.501", "2.53", "5.13", "13.4", "29.3", "50.0", "68.4", "77.6", "90.0"];
    let twenty = ["0.0502", "0.256", "0.525", "1.43", "3.41", "6.70", "10.9", "13.9", "20.6"];
    for (n, table) in [(2, two), (20, twenty)] {
        for (pa, quality) in pa.iter().zip(table) {
            assert_eq!(digits(quality_at(Model::Binomial, n, 0, d(pa), 12).unwrap(), 3), d(quality));
        }
    }
    // Czech decree 294/1997 Sb., table C-4, first row: n 5, c 1.
    let row = ["1.00", "0.92", "0.74", "0.53", "0.34", "0.19", "0.09", "0.03", "0.01"];
    for (tens, pa) in (0_i64..).zip(row) {
        assert_eq!(acceptance(Model::Binomial, 5, 1, Decimal::from(tens * 10), 2).unwrap(), d(pa));
    }
    // A published forum posting on n 68, c 2: 0.95 at 0.01213, 0.05 at 0.089704.
    assert_eq!(quality_at(Model::Binomial, 68, 2, d("0.95"), 5).unwrap(), d("1.21313"));
    assert_eq!(quality_at(Model::Binomial, 68, 2, d("0.05"), 5).unwrap(), d("8.97036"));
    // Birolini, Reliability Engineering (2007), 7.1: c 1, risk 0.1, 2 % gives m 3.9 and n 195.
    assert_eq!(quality_at(Model::Poisson, 1, 1, d("0.1"), 2).unwrap(), d("388.97"));
    assert!(acceptance(Model::Poisson, 195, 1, d("2"), 6).unwrap() <= d("0.1"));
    assert!(acceptance(Model::Poisson, 194, 1, d("2"), 6).unwrap() > d("0.1"));
}

/// Exact fractions worked with whole numbers: P of no failure, at the sample found and at one less.
#[test]
fn zero_acceptance_by_hand() {
    for (lot, ltpd, n, pa, before) in [
        (50, "10", 18, "0.095044", "0.112016"),
        (100, "10", 20, "0.095116", "0.108513"),
        (100, "5", 37, "0.093360", "0.101272"),
        (200, "5", 41, "0.094959", "0.101289"),
        (1000, "1", 205, "0.099677", "0.100945"),
        (25, "20", 9, "0.082213", "0.116469"),
        // 2 of 13: 15 % of 13 is 1.95, so D is 2.
        (13, "15", 9, "0.076923", "0.128205"),
    ] {
        assert_eq!(zero_acceptance_pieces(lot, d(ltpd), d("10")).unwrap(), n);
        assert_eq!(acceptance(Model::Lot(lot), n, 0, d(ltpd), 6).unwrap(), d(pa));
        assert_eq!(acceptance(Model::Lot(lot), n - 1, 0, d(ltpd), 6).unwrap(), d(before));
    }
}

/// A risk that is met exactly is met. By hand: one of two, and half of 2^24, leave a half after the first piece; one
/// bad of 64 leaves 1/64 = 1.5625 % after the 63rd.
#[test]
fn a_risk_met_exactly_is_met() {
    for (lot, ltpd, risk, n) in [
        (2, "50", "50", 1),
        (64, "1.5625", "1.5625", 63),
        (64, "1.5625", "1.5624", 64),
        (16_777_216, "50", "50", 1),
        (16_777_216, "50", "49.9999", 2),
    ] {
        assert_eq!(zero_acceptance_pieces(lot, d(ltpd), d(risk)).unwrap(), n, "{lot} {ltpd} {risk}");
    }
}

/// Lots of millions, with exact fractions of Python: P is 0.099103, 0.099102 and 0.047101 at the sample found and
/// above the risk at one less. Where millions of pieces do not find it, that is said.
#[test]
fn zero_acceptance_of_very_large_lots() {
    for (lot, ltpd, risk, n) in
        [(20_000_000, "1", "10", 230), (16_777_216, "1", "10", 230), (16_777_217, "10", "5", 29)]
    {
        assert_eq!(zero_acceptance_pieces(lot, d(ltpd), d(risk)).unwrap(), n, "{lot} {ltpd} {risk}");
    }
    // By hand: of 4·10⁹ pieces 4000 are bad, and (1 − 1/2000)^4000 is e⁻² after two million of them.
    let endless = zero_acceptance_pieces(4_000_000_000, d("0.0001"), d("10"));
    assert!(endless.unwrap_err().to_string().contains("agree on a larger LTPD"));
}

/// Qualities that are none have no probability; the others of the same call keep theirs. By hand: n 5, Ac 1 at 10 %
/// is 0.9⁵ + 5 · 0.1 · 0.9⁴ = 0.91854; a Poisson mean of 5 · 1000 never accepts; of 50 pieces 5 are bad, and 18 find
/// none with 0.095044.
#[test]
fn qualities_out_of_range_have_no_probability() {
    let close = |found: f64, expected: f64| (found - expected).abs() < 1e-6;
    let found = acceptances(Model::Binomial, 5, 1, &[-1.0, 10.0, 100.0, 100.1, f64::NAN]).unwrap();
    assert!(found[0].is_nan() && close(found[1], 0.91854) && close(found[2], 0.0), "{found:?}");
    assert!(found[3].is_nan() && found[4].is_nan(), "{found:?}");
    let found =
        acceptances(Model::Poisson, 5, 1, &[-1.0, 10.0, 100_000.0, 100_001.0, f64::INFINITY]).unwrap();
    // 1.5 · exp(−0.5), by hand.
    assert!(found[0].is_nan() && close(found[1], 0.909_796) && close(found[2], 0.0), "{found:?}");
    assert!(found[3].is_nan() && found[4].is_nan(), "{found:?}");
    let found = acceptances(Model::Lot(50), 18, 0, &[-1.0, 0.0, 10.0, 100.0, 101.0]).unwrap();
    assert!(found[0].is_nan() && close(found[1], 1.0) && close(found[2], 0.095_044), "{found:?}");
    assert!(close(found[3], 0.0) && found[4].is_nan(), "{found:?}");
}

/// Zero-acceptance samples computed with exact whole numbers, at risks of 10 and 5 per cent.
#[test]
fn zero_acceptance_table() {
    let facts = facts(include_str!("c0_hypergeometric.csv"));
    assert_eq!(facts.len(), 462);
    for row in facts {
        let (lot, ltpd) = (row[0].parse().unwrap(), d(&row[1]));
        for (risk, n, pa) in [("10", &row[3], &row[4]), ("5", &row[5], &row[6])] {
            let sample = zero_acceptance_pieces(lot, ltpd, d(risk)).unwrap();
            assert_eq!(sample.to_string(), *n, "{row:?}");
            assert_eq!(acceptance(Model::Lot(lot), sample, 0, ltpd, 6).unwrap(), d(pa), "{row:?}");
        }
        let endless: u64 = row[7].parse().unwrap();
        assert!(acceptance(Model::Binomial, endless, 0, ltpd, 12).unwrap() <= d("0.1"), "{row:?}");
        assert!(acceptance(Model::Binomial, endless - 1, 0, ltpd, 12).unwrap() > d("0.1"), "{row:?}");
    }
}

/// SciPy 1.17: binom, poisson and hypergeom, within 1e-10 (a drawing needs three digits; the terms lose four).
#[test]
fn scipy_agrees() {
    let mut asked = Vec::new();
    for (n, c) in [(2, 0), (5, 1), (20, 0), (80, 3), (125, 10), (500, 21), (2000, 21), (3150, 1), (800, 44)] {
        for q in ["0", "0.0001", "0.065", "0.5", "1", "2.5", "6.5", "10", "25", "60", "99.5", "100"] {
            for model in ["binomial", "poisson"] {
                asked.push((model, n, c, n, q));
            }
            for lot in [n, n + 1, 2 * n, 1_000 + n, 100_000] {
                asked.push(("lot", n, c, lot, q));
            }
        }
    }
    let lines: Vec<String> = asked.iter().map(|(m, n, c, lot, q)| format!("{m} {n} {c} {lot} {q}")).collect();
    let Some(out) = crate::python::scipy(include_str!("scipy.py"), &lines.join("\n")) else { return };
    let answers: Vec<f64> = out.lines().map(|line| line.parse().unwrap()).collect();
    assert_eq!(answers.len(), asked.len());
    for ((model, n, c, lot, q), expected) in asked.into_iter().zip(answers) {
        let model = match model {
            "binomial" => Model::Binomial,
            "poisson" => Model::Poisson,
            _ => Model::Lot(lot),
        };
        let one: f64 = acceptance(model, n, c, d(q), 12).unwrap().to_string().parse().unwrap();
        assert!((one - expected).abs() < 1e-10, "{model:?} {n} {c} {q}: {one}, {expected}");
        let many = acceptances(model, n, c, &[q.parse().unwrap()]).unwrap();
        assert!((many[0] - expected).abs() < 1e-10, "{model:?} {n} {c} {q}: {many:?}, {expected}");
    }
}

/// Large acceptance numbers and lots, on both sides of what is expected, without another program. Exact fractions of
/// Python, to nine digits; the first three of a lot by hand: 1 − 1/45, (21 + 105)/252, and 0 of 5 bad pieces.
#[test]
fn sums_of_exact_fractions() {
    for (model, n, c, quality, expected) in [
        (Model::Lot(10), 2, 1, "20", "0.977777778"),
        (Model::Lot(10), 5, 1, "30", "0.500000000"),
        (Model::Lot(10), 6, 0, "50", "0.000000000"),
        (Model::Lot(200), 50, 5, "10", "0.619996403"),
        (Model::Lot(200), 50, 3, "10", "0.211203286"),
        (Model::Binomial, 4000, 2100, "50", "0.999260294"),
        (Model::Binomial, 4000, 1950, "50", "0.058747534"),
        (Model::Binomial, 2500, 1100, "40", "0.999977843"),
        // Beyond 600 e-folds the term of no failure is too small to begin from.
        (Model::Binomial, 1300, 640, "50", "0.299117368"),
        (Model::Poisson, 700, 680, "100", "0.231424740"),
        (Model::Poisson, 2000, 1950, "100", "0.133990384"),
        (Model::Poisson, 2000, 2080, "100", "0.963422305"),
    ] {
        let found = acceptance(model, n, c, d(quality), 9).unwrap();
        assert_eq!(found, d(expected), "{model:?} {n} {c} {quality}");
        let many = acceptances(model, n, c, &[quality.parse().unwrap()]).unwrap();
        let expected: f64 = expected.parse().unwrap();
        assert!((many[0] - expected).abs() < 1e-9, "{model:?} {n} {c} {quality}: {many:?}");
    }
}

/// What is no sample, no lot, no share and no risk is refused, with words for it.
#[test]
fn plans_out_of_range_are_refused() {
    for (model, n) in [
        (Model::Binomial, 0),
        (Model::Poisson, 0),
        (Model::Lot(10), 0),
        (Model::Lot(10), 11),
        (Model::Lot(4_294_967_296), 5),
    ] {
        let found = acceptance(model, n, 0, d("1"), 4);
        assert!(matches!(found, Err(CurveError::Sample { .. })), "{model:?} {n}: {found:?}");
    }
    assert_eq!(acceptance(Model::Lot(10), 10, 0, d("0"), 4).unwrap(), Decimal::ONE);
    for (model, quality) in [
        (Model::Binomial, "-0.1"),
        (Model::Binomial, "100.1"),
        (Model::Lot(10), "100.1"),
        (Model::Lot(10), "1.00001"),
        (Model::Poisson, "-0.1"),
        (Model::Poisson, "100000.1"),
    ] {
        let found = acceptance(model, 5, 1, d(quality), 4);
        assert_eq!(found, Err(CurveError::Quality(d(quality))), "{model:?}");
    }
    for (model, quality) in [(Model::Binomial, "100"), (Model::Lot(10), "100"), (Model::Poisson, "100000")] {
        assert_eq!(acceptance(model, 5, 1, d(quality), 4).unwrap(), Decimal::ZERO, "{model:?}");
    }
    for pa in ["0", "1", "-0.1", "1.1"] {
        assert_eq!(quality_at(Model::Binomial, 5, 1, d(pa), 4), Err(CurveError::Probability(d(pa))));
    }
    // A plan that accepts whatever is found has no quality.
    for accept in [5, 6] {
        let found = quality_at(Model::Binomial, 5, accept, d("0.5"), 4);
        assert_eq!(found, Err(CurveError::AcceptsAll { accept, sample: 5 }));
    }
    for (lot, ltpd, risk, words) in [
        (0, "1", "10", "a lot of 0 pieces"),
        (4_294_967_296, "1", "10", "a lot of 4294967296 pieces"),
        (100, "0", "10", "LTPD 0 %"),
        (100, "-1", "10", "LTPD -1 %"),
        (100, "100.0001", "10", "LTPD 100.0001 %"),
        (100, "1.00001", "10", "LTPD 1.00001 %"),
        (100, "1", "0", "risk 0 %"),
        (100, "1", "100", "risk 100 %"),
        (100, "1", "10.00001", "risk 10.00001 %"),
    ] {
        let error = zero_acceptance_pieces(lot, d(ltpd), d(risk)).unwrap_err().to_string();
        assert!(error.starts_with(words), "{lot} {ltpd} {risk}: {error}");
    }
    // All pieces bad: the first finds it.
    assert_eq!(zero_acceptance_pieces(100, d("100"), d("10")).unwrap(), 1);
}

/// Terms too small for a binary number end a sum. Worked by hand: 400 failures where 0.01 are expected do not happen.
#[test]
fn sums_end() {
    assert_eq!(acceptance(Model::Poisson, 1, 400, d("1"), 4).unwrap(), Decimal::ONE);
    assert_eq!(acceptance(Model::Binomial, 4_000_000_000, 2_000_000_000, d("90"), 4).unwrap(), Decimal::ZERO);
    assert_eq!(acceptance(Model::Poisson, 1, u64::MAX, d("1"), 4), Err(CurveError::Accept(u64::MAX)));
    assert!(acceptances(Model::Poisson, 1, 0, &[f64::MAX]).unwrap()[0].is_nan());
}

/// Worked by hand: for c 0 the hump m·exp(−m) is 1/e at m 1, so n 10 of an endless lot lets 3.679 % through; of a lot
/// of 100 a tenth less.
#[test]
fn outgoing() {
    assert_eq!(outgoing_limit(10, 0, 100, 3).unwrap(), d("3.311"));
    assert_eq!(outgoing_limit(10, 0, 10, 3).unwrap(), d("0.000"));
}
