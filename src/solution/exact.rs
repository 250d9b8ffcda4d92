//! Decimal arithmetic that cannot overflow unseen, and rounding to the even digit.

use rust_decimal::Decimal;
use rust_decimal::RoundingStrategy;

/// Halvings from the largest decimal to its root are 48, those from one to the root of the smallest as many;
/// then every step doubles the digits.
const MOST_STEPS: u32 = 200;

/// Rounded to `places` digits after the point, halves to the even digit; trailing zeros are kept.
pub(crate) fn half_even(value: Decimal, places: u32) -> Decimal {
    let mut rounded = value.round_dp_with_strategy(places, RoundingStrategy::MidpointNearestEven);
    rounded.rescale(places);
    // There is no minus nought in a report.
    if rounded.is_zero() { Decimal::new(0, places.min(28)) } else { rounded }
}

/// The product of all; `None` on overflow.
pub(crate) fn product(factors: &[Decimal]) -> Option<Decimal> {
    factors.iter().try_fold(Decimal::ONE, |all, f| all.checked_mul(*f))
}

/// `top / bottom`; `None` on overflow or by nought.
pub(crate) fn quotient(top: Decimal, bottom: Decimal) -> Option<Decimal> {
    top.checked_div(bottom)
}

/// The square root by Newton's rule from above, to the last place or two; `None` of a negative number.
///
/// The decimal library's own root stops only once two guesses are equal, and asserts that they will be; here
/// the steps are bounded.
pub(crate) fn root(value: Decimal) -> Option<Decimal> {
    if value.is_zero() || value.is_sign_negative() {
        return value.is_zero().then_some(Decimal::ZERO);
    }
    // Never below the root: `(v + 1) / 2 >= √v`, and half of a large `v` is as good.
    let half = quotient(value, Decimal::TWO)?;
    let mut guess = half.checked_add(Decimal::new(5, 1))?;
    for _ in 0..MOST_STEPS {
        let next = quotient(guess.checked_add(quotient(value, guess)?)?, Decimal::TWO)?;
        // From above the guesses fall; once they do not, what is left is rounding.
        if next >= guess {
            break;
        }
        guess = next;
    }
    Some(guess)
}

/// Standard uncertainty of `k · x / (y₁ y₂ …)` where `x` may be nought:
/// `|k / (y₁ y₂ …)| · √(u(x)² + x² · Σ r²)`, with `r` the relative standard uncertainties of all other
/// factors. The same as relative terms in quadrature (JCGM 100:2008, 5.1.6), which cannot be formed at
/// nought.
pub(crate) fn combined(slope: Decimal, x: Decimal, ux: Decimal, relative: &[Decimal]) -> Option<Decimal> {
    let mut others = Decimal::ZERO;
    for r in relative {
        others = others.checked_add(r.checked_mul(*r)?)?;
    }
    let under = product(&[ux, ux])?.checked_add(product(&[x, x, others])?)?;
    slope.abs().checked_mul(root(under)?)
}

/// Linear interpolation of `y` at `x` between two points; `None` on overflow or where both points have one
/// `x`.
pub(crate) fn between(x: Decimal, low: (Decimal, Decimal), high: (Decimal, Decimal)) -> Option<Decimal> {
    let run = high.0.checked_sub(low.0)?;
    let rise = high.1.checked_sub(low.1)?;
    let step = x.checked_sub(low.0)?.checked_mul(rise)?;
    low.1.checked_add(quotient(step, run)?)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn d(text: &str) -> Decimal {
        text.parse().unwrap()
    }

    /// NIST SP 811 (2008), B.7.1: ties go to the even digit.
    #[test]
    fn ties_go_to_the_even_digit() {
        for (value, places, text) in [
            ("0.5", 0, "0"),
            ("1.5", 0, "2"),
            ("2.675", 2, "2.68"),
            ("2.665", 2, "2.66"),
            ("-0.001", 2, "0.00"),
        ] {
            assert_eq!(half_even(d(value), places).to_string(), text, "{value}");
        }
        assert_eq!(half_even(Decimal::MAX, 2), Decimal::MAX);
    }

    /// Squares come back; `√2` to 27 places (recalled); the largest and the smallest decimal have a root.
    #[test]
    fn roots() {
        for (square, side) in
            [("0", "0"), ("0.04", "0.2"), ("1", "1"), ("152.7696", "12.36"), ("1e-20", "1e-10")]
        {
            let parse = |text: &str| Decimal::from_scientific(text).unwrap_or_else(|_| d(text));
            assert_eq!(root(parse(square)).unwrap(), parse(side), "{square}");
        }
        let off = root(Decimal::TWO).unwrap() - d("1.414213562373095048801688724");
        assert!(off.abs() < d("0.000000000000000000000000001"), "{off}");
        for extreme in [Decimal::MAX, Decimal::new(1, 28), Decimal::new(3, 28)] {
            assert!(root(extreme).unwrap() > Decimal::ZERO, "{extreme}");
        }
        assert_eq!(root(d("-1")), None);
    }

    proptest::proptest! {
        /// The square of the root is the number, within what 28 digits hold.
        #[test]
        fn a_root_squares_back(lo: u32, mid: u32, hi in 0_u32..1_000_000, scale in 0_u32..=28) {
            let value = Decimal::from_parts(lo, mid, hi, false, scale);
            let side = root(value).unwrap();
            // A last place of the root changes the square by twice the root.
            let last = Decimal::new(1, side.scale().min(27)) + side * Decimal::new(1, 26);
            let allowed = side * last * Decimal::TWO + Decimal::new(1, 27);
            proptest::prop_assert!((side * side - value).abs() <= allowed, "{value} {side}");
        }
    }
}
