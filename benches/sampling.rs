//! Speed beside SciPy, one process each, best of several runs: the curves of every single plan, and zero-acceptance
//! samples. `cargo bench --bench sampling` with a Python that has SciPy on the path.
#![allow(clippy::unwrap_used, reason = "a bench stops at the first surprise")]
#![allow(clippy::print_stdout, reason = "a bench prints its figures")]

use std::hint::black_box;
use std::process::Command;
use std::time::Instant;

use brightproof::sampling::Model;
use brightproof::sampling::acceptances;
use brightproof::sampling::zero_acceptance_pieces;
use rust_decimal::Decimal;

/// Runs; the fastest counts, since others share the machine.
const RUNS: u32 = 20;

/// Sample sizes and acceptance numbers of the curves.
fn plans() -> Vec<(bool, u64, u64)> {
    let table = include_str!("../tests/sampling/oc_points.csv");
    let rows = table.lines().skip(1).map(|line| line.split(',').collect::<Vec<_>>());
    rows.map(|r| (r[3].starts_with("binomial"), r[1].parse().unwrap(), r[2].parse().unwrap())).collect()
}

/// Sum of all probabilities: 101 qualities a plan, from 0 to four times the quality c/n.
fn curves(plans: &[(bool, u64, u64)]) -> f64 {
    let mut sum = 0.0;
    for (binomial, n, c) in plans {
        let model = if *binomial { Model::Binomial } else { Model::Poisson };
        let most = (400.0 * (*c as f64 + 1.0) / *n as f64).min(100.0);
        let qualities: Vec<f64> = (0..101).map(|i| most * f64::from(i) / 100.0).collect();
        sum += acceptances(model, *n, *c, &qualities).unwrap().iter().sum::<f64>();
    }
    sum
}

/// Sum of the samples of lots 1 to 2000 at LTPD 1 to 5 per cent, risk 10 per cent.
fn zeros() -> u64 {
    let mut sum = 0;
    for percent in 1..=5_i64 {
        for lot in 1..=2000 {
            sum += zero_acceptance_pieces(lot, Decimal::from(percent), Decimal::TEN).unwrap();
        }
    }
    sum
}

/// Fewest milliseconds, and what came out.
fn best<T>(mut work: impl FnMut() -> T) -> (f64, T) {
    let mut fastest = f64::INFINITY;
    let mut last = work();
    for _ in 0..RUNS {
        let begun = Instant::now();
        last = black_box(work());
        fastest = fastest.min(begun.elapsed().as_secs_f64() * 1e3);
    }
    (fastest, last)
}

fn main() {
    let plans = plans();
    let (curve_time, curve_sum) = best(|| curves(black_box(&plans)));
    let (zero_time, zero_sum) = best(zeros);
    let table = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/sampling/oc_points.csv");
    let script = include_str!("sampling.py");
    let Some(out) = Command::new("python3").args(["-c", script, table]).output().ok() else {
        println!("curves {curve_time:.3} ms, zero acceptance {zero_time:.3} ms; not compared: no python3");
        return;
    };
    let text = String::from_utf8_lossy(&out.stdout).into_owned();
    let figures: Vec<f64> = text.split_whitespace().filter_map(|word| word.parse().ok()).collect();
    let [their_curves, their_sum, their_zeros, their_samples] = figures.as_slice() else {
        println!("curves {curve_time:.3} ms, zero acceptance {zero_time:.3} ms; not compared: no SciPy");
        return;
    };
    assert!((curve_sum - their_sum).abs() < 1e-6, "{curve_sum} {their_sum}");
    assert!((zero_sum as f64 - their_samples).abs() < 0.5, "{zero_sum} {their_samples}");
    let ratio = their_curves / curve_time;
    println!("{} curves: {curve_time:.3} ms, SciPy {their_curves:.3} ms, {ratio:.1} times", plans.len());
    let ratio = their_zeros / zero_time;
    println!("10000 zero-acceptance samples: {zero_time:.3} ms, SciPy {their_zeros:.3} ms, {ratio:.1} times");
}
