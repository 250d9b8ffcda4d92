//! Roughness against analytic profiles, a plain sum, and SciPy. All traces are generated.
#![allow(clippy::unwrap_used, reason = "a test stops at the first surprise")]

mod decisions;
mod filter;
mod never_panics;
mod result;

use brightproof::units::Quantity;

/// A measurement from its text.
fn q(text: &str) -> Quantity {
    text.parse().unwrap()
}

/// Numbers between −1 and 1, always the same ones (xorshift, Marsaglia 2003).
fn noise(count: usize, seed: u64) -> Vec<f64> {
    let mut state = seed | 1;
    let mut next = || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state >> 11) as f64 / (1_u64 << 52) as f64 - 1.0
    };
    (0..count).map(|_| next()).collect()
}

/// A generated surface of `count` points, `spacing` µm apart: waviness, grinding marks, fine roughness, a
/// slope.
fn surface(count: usize, spacing: f64, seed: u64) -> Vec<f64> {
    let rough = noise(count, seed);
    let height = |(i, rough): (usize, &f64)| {
        let x = i as f64 * spacing;
        let waves = 1.5 * libm::sin(x / 640.0) + 0.4 * libm::sin(x / 17.0) + 0.2 * libm::sin(x / 5.0 + 1.0);
        30.0 + 0.004 * x + waves + 0.3 * rough * rough * rough
    };
    rough.iter().enumerate().map(height).collect()
}

/// The greatest distance of two lines.
fn gap(a: &[f64], b: &[f64]) -> f64 {
    assert_eq!(a.len(), b.len());
    a.iter().zip(b).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
}
