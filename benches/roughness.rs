//! Times the Gaussian filter against every way SciPy offers for the same result, on the same traces and one
//! thread: `PATH=<python with scipy>:$PATH cargo bench --bench roughness`. Without SciPy only our own times
//! are shown.
//!
//! Fails where we are not at least twice as fast as the fastest of them at 8,000 and at 1,000,000 points, or
//! where the two mean lines are further apart than 10⁻⁹ of the height of the trace.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::panic,
    reason = "a bench speaks, and stops at a surprise"
)]

use std::collections::BTreeMap;
use std::process::Command;
use std::time::Duration;
use std::time::Instant;

use brightproof::roughness::GaussianFilter;

const SPACING: f64 = 0.5;
const CUTOFF: f64 = 800.0;

#[derive(serde::Deserialize)]
struct Answer {
    points: usize,
    seconds: BTreeMap<String, f64>,
    line: String,
}

fn main() {
    let folder = std::env::temp_dir().join(format!("roughness-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let filter = GaussianFilter::new(CUTOFF, SPACING).unwrap();
    let mut ours = Vec::new();
    let mut traces = Vec::new();
    println!("cut-off {CUTOFF} µm, spacing {SPACING} µm; best of many, in ms");
    println!(
        "making the filter: {:.4}",
        1e3 * best(|| GaussianFilter::new(CUTOFF, SPACING).unwrap().reach())
    );
    for points in [8_000, 64_000, 1_000_000] {
        let heights = generated(points);
        let seconds = best(|| filter.mean_line(&heights).unwrap().len());
        let path = folder.join(format!("{points}.trace"));
        let bytes: Vec<u8> = heights.iter().flat_map(|z| z.to_le_bytes()).collect();
        std::fs::write(&path, bytes).unwrap();
        println!(
            "ours, {points:>9} points: {:>9.4}  ({:.2} ns a point)",
            1e3 * seconds,
            seconds * 1e9 / points as f64
        );
        traces.push(serde_json::json!({"path": path, "cutoff": CUTOFF / SPACING}));
        ours.push((points, seconds, filter.mean_line(&heights).unwrap()));
    }
    let order = folder.join("order.json");
    let order_text = serde_json::json!({"traces": traces, "repeats": 400, "seconds": 2.0}).to_string();
    std::fs::write(&order, order_text).unwrap();
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/benches/against_scipy.py");
    let run = Command::new("python3").arg(script).arg(&order).output();
    let failed = match run {
        Ok(run) if run.status.success() => {
            against(&ours, &serde_json::from_slice::<Vec<Answer>>(&run.stdout).unwrap())
        }
        Ok(run) => {
            println!("not compared: {}", String::from_utf8_lossy(&run.stderr));
            std::env::var_os("BRIGHTPROOF_REQUIRE_TOOLS").is_some()
        }
        Err(error) => {
            println!("not compared: {error}");
            std::env::var_os("BRIGHTPROOF_REQUIRE_TOOLS").is_some()
        }
    };
    std::fs::remove_dir_all(&folder).unwrap();
    assert!(!failed, "see above");
}

/// Prints the comparison; whether it failed.
fn against(ours: &[(usize, f64, Vec<f64>)], theirs: &[Answer]) -> bool {
    let mut failed = false;
    for ((points, seconds, line), answer) in ours.iter().zip(theirs) {
        assert_eq!(*points, answer.points);
        println!("{points} points");
        let mut ways: Vec<_> = answer.seconds.iter().collect();
        ways.sort_by(|a, b| a.1.total_cmp(b.1));
        for (way, time) in &ways {
            println!("  {way:<40} {:>11.4}  {:>8.1} times ours", 1e3 * **time, **time / seconds);
        }
        let bytes = std::fs::read(&answer.line).unwrap();
        let scipy = bytes.chunks_exact(8).map(|b| f64::from_le_bytes(b.try_into().unwrap()));
        let gap = line.iter().zip(scipy).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        let height = generated(*points).iter().fold(0.0_f64, |top, z| top.max(z.abs()));
        println!("  greatest distance of the two lines: {:.1e} of the height", gap / height);
        let fastest = ways.first().map_or(f64::INFINITY, |(_, time)| **time);
        let slow = *points != 64_000 && fastest < 2.0 * seconds;
        println!("  ratio to the fastest: {:.2}{}", fastest / seconds, if slow { "  TOO SLOW" } else { "" });
        failed |= slow || gap > 1e-9 * height;
    }
    if let (Some(first), Some(last)) = (ours.first(), ours.last()) {
        let growth = (last.1 / last.0 as f64) / (first.1 / first.0 as f64);
        println!("time a point, {} against {} points: {growth:.2} times", last.0, first.0);
    }
    failed
}

/// The least of many times.
fn best(mut run: impl FnMut() -> usize) -> f64 {
    let until = Instant::now() + Duration::from_secs(3);
    let mut least = f64::INFINITY;
    while Instant::now() < until {
        let start = Instant::now();
        std::hint::black_box(run());
        least = least.min(start.elapsed().as_secs_f64());
    }
    least
}

/// A generated trace: waves of several lengths and a rough part, in µm.
fn generated(points: usize) -> Vec<f64> {
    let mut state = 0x9E37_79B9_7F4A_7C15_u64;
    let height = |i: usize| {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        let x = i as f64 * SPACING;
        2.0 * (x / 3000.0).sin()
            + (x / 90.0).sin()
            + 0.3 * (x / 11.0).sin()
            + (state >> 11) as f64 / (1_u64 << 53) as f64
    };
    (0..points).map(height).collect()
}
