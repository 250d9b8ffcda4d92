//! Arithmetic that gives the same figure on every machine: only operations that IEEE 754 fixes, functions of `libm`
//! instead of the system's, sums in a fixed order; rounded to a declared resolution before anybody judges by it.
//!
//! Measured values are decimals ([`crate::units::Quantity`]). Binary numbers come in where there are thousands of them
//! (a trace, a distribution), and leave through [`rounded`].

use rust_decimal::Decimal;
use rust_decimal::RoundingStrategy;
use rust_decimal::prelude::ToPrimitive;

/// The sum in the order given, with what each addition loses carried along (Neumaier, 1974).
pub fn sum(values: impl IntoIterator<Item = f64>) -> f64 {
    let (mut sum, mut lost) = (0.0_f64, 0.0_f64);
    for value in values {
        let next = sum + value;
        lost += if sum.abs() >= value.abs() { (sum - next) + value } else { (value - next) + sum };
        sum = next;
    }
    sum + lost
}

/// A binary number as a decimal with at most `places` digits after the point, ties to the even digit; trailing zeros
/// are kept, so that the result says how finely it was rounded. `None` when it is not finite or beyond a decimal.
pub fn rounded(value: f64, places: u32) -> Option<Decimal> {
    if !value.is_finite() || value.abs() >= 1e15 || places > 12 {
        return None;
    }
    let exact = Decimal::from_f64_retain(value)?;
    let mut rounded = exact.round_dp_with_strategy(places, RoundingStrategy::MidpointNearestEven);
    rounded.rescale(places);
    Some(if rounded.is_zero() { Decimal::new(0, places) } else { rounded })
}

/// The binary number nearest to a decimal.
pub fn number(value: Decimal) -> f64 {
    value.to_f64().unwrap_or(f64::NAN)
}

/// Probability that a standard normal variable is at most `z`.
pub fn normal_cdf(z: f64) -> f64 {
    0.5 * libm::erfc(-z / std::f64::consts::SQRT_2)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_lost_in_a_sum() {
        assert_eq!(sum([1.0, 1e100, 1.0, -1e100]).to_bits(), 2.0_f64.to_bits());
        assert_eq!(sum([]).to_bits(), 0.0_f64.to_bits());
    }

    /// NIST SP 811 (2008), B.7.1: ties go to the even digit. The nearest binary number to 2.675 lies below it.
    #[test]
    fn ties_go_to_the_even_digit() {
        let cases =
            [(0.5, 0, "0"), (1.5, 0, "2"), (2.675, 2, "2.67"), (0.125, 2, "0.12"), (-0.001, 2, "0.00")];
        for (value, places, text) in cases {
            assert_eq!(rounded(value, places).unwrap().to_string(), text, "{value}");
        }
        for bad in [f64::NAN, f64::INFINITY, 1e16] {
            assert_eq!(rounded(bad, 2), None);
        }
    }

    /// Tables of the normal distribution (common practice): 1.959964 leaves 2.5 % above it.
    #[test]
    fn the_normal_distribution() {
        for (z, p) in [(0.0, 0.5), (1.959_963_984_540_054, 0.975), (-3.0, 0.001_349_898_031_630_094_6)] {
            assert!((normal_cdf(z) - p).abs() < 1e-15, "{z}");
        }
    }
}
