//! Zero acceptance: the smallest sample that finds a bad lot with the risk agreed. Exact: whole numbers decide.

use rust_decimal::Decimal;

/// Largest lot, so that no product overflows.
const LARGEST: u64 = u32::MAX as u64;
/// Longest search; beyond it a sample is larger than any bench can inspect.
const LONGEST: u64 = 2_000_000;

/// Why there is no such sample.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ZeroError {
    /// A lot that is empty or beyond what is computed.
    #[error("a lot of {0} pieces: expected 1 to {LARGEST}; check the size of the lot")]
    Lot(u64),
    /// A quality that is no share.
    #[error("LTPD {0} %: expected more than 0 and at most 100, with at most 4 decimals")]
    Quality(Decimal),
    /// A risk that is no share.
    #[error("risk {0} %: expected more than 0 and less than 100, with at most 4 decimals")]
    Risk(Decimal),
    /// A sample of millions.
    #[error("LTPD {0} % at this risk asks for more than {LONGEST} pieces; agree on a larger LTPD")]
    TooLong(Decimal),
}

/// A share in per cent as a whole number of millionths.
pub(crate) fn millionths(percent: Decimal) -> Option<u64> {
    let scaled = percent.checked_mul(Decimal::from(10_000))?;
    (scaled.fract().is_zero() && scaled > Decimal::ZERO).then(|| u64::try_from(scaled).ok())?
}

/// Nonconforming pieces in the lot that is easiest to miss at or above the LTPD: `D = ceil(p · N)`.
pub(crate) fn nonconforming(lot: u64, millionths: u64) -> u64 {
    let exact = u128::from(lot).saturating_mul(u128::from(millionths)).div_ceil(1_000_000);
    u64::try_from(exact).unwrap_or(u64::MAX).min(lot)
}

/// Smallest `n` with `P(0 found) = C(N − D, n) / C(N, n) <= risk`, `D = ceil(LTPD · N)`; both shares in per cent.
///
/// Hypergeometric (sampling without putting back). P is kept as a whole number of 2⁻⁴⁰, always rounded down, so that
/// after k steps the true value lies less than k units above it; where that leaves the comparison open, it is made
/// with whole numbers of any length. Errors: a lot of 0 or above 2³² − 1, shares out of range or with more than four
/// decimals.
pub fn pieces(lot: u64, ltpd: Decimal, risk: Decimal) -> Result<u64, ZeroError> {
    if lot == 0 || lot > LARGEST {
        return Err(ZeroError::Lot(lot));
    }
    let share = millionths(ltpd).filter(|m| *m <= 1_000_000).ok_or(ZeroError::Quality(ltpd))?;
    let risk = millionths(risk).filter(|m| *m < 1_000_000).ok_or(ZeroError::Risk(risk))?;
    let bad = nonconforming(lot, share);
    let good = lot.saturating_sub(bad);
    let coarse = lot < 1 << 24;
    let bits: u32 = if coarse { 40 } else { 90 };
    // Whether risk · 2^bits is a whole number or not, P > risk as soon as its lower bound reaches the next one.
    let scaled = u128::from(risk) << bits;
    let (limit, above) = (scaled / 1_000_000, scaled.div_ceil(1_000_000));
    let open = |step: u64| exactly_at_most(lot, bad, step, risk);
    if coarse {
        let (limit, above) = (u64::try_from(limit).unwrap_or(0), u64::try_from(above).unwrap_or(0));
        let mut low: u64 = 1 << bits;
        for step in 1..=good {
            let (left, of) =
                (good.saturating_sub(step).saturating_add(1), lot.saturating_sub(step).saturating_add(1));
            low = low.saturating_mul(left) / of;
            if low > above || (low == above && above > limit) {
                continue;
            }
            if low.saturating_add(step) <= limit || open(step) {
                return Ok(step);
            }
        }
    } else {
        let mut low: u128 = 1 << bits;
        for step in 1..=good.min(LONGEST) {
            let left = u128::from(good.saturating_sub(step).saturating_add(1));
            let of = u128::from(lot.saturating_sub(step).saturating_add(1));
            low = low.saturating_mul(left) / of;
            if low > above || (low == above && above > limit) {
                continue;
            }
            if low.saturating_add(u128::from(step)) <= limit || open(step) {
                return Ok(step);
            }
        }
        if good > LONGEST {
            return Err(ZeroError::TooLong(ltpd));
        }
    }
    // One piece more than there are good ones must find a bad one.
    Ok(good.saturating_add(1))
}

/// Whether `C(N − D, n) / C(N, n) <= risk` exactly. The ratio is also `C(N − n, D) / C(N, D)`: the shorter product is
/// taken.
fn exactly_at_most(lot: u64, bad: u64, sample: u64, risk: u64) -> bool {
    let (short, long) = if bad < sample { (bad, sample) } else { (sample, bad) };
    let (mut top, mut bottom) = (vec![1_000_000_u64], vec![risk]);
    for j in 0..short {
        times(&mut top, lot.saturating_sub(long).saturating_sub(j));
        times(&mut bottom, lot.saturating_sub(j));
    }
    at_most(&top, &bottom)
}

/// Multiplies a whole number of any length, least significant word first.
fn times(number: &mut Vec<u64>, by: u64) {
    let mut carry = 0_u128;
    for word in number.iter_mut() {
        // 64 bits times 64 bits plus 64 bits fits into 128.
        let wide = u128::from(*word).saturating_mul(u128::from(by)).saturating_add(carry);
        *word = (wide & u128::from(u64::MAX)) as u64;
        carry = wide >> 64;
    }
    if carry > 0 {
        number.push(carry as u64);
    }
}

fn at_most(a: &[u64], b: &[u64]) -> bool {
    let trimmed = |n: &[u64]| n.iter().rposition(|w| *w != 0).map_or(0, |i| i.saturating_add(1));
    let (la, lb) = (trimmed(a), trimmed(b));
    if la != lb {
        return la < lb;
    }
    a.iter().take(la).rev().cmp(b.iter().take(lb).rev()) != std::cmp::Ordering::Greater
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked by hand: 2⁶⁴ − 1 squared is 2¹²⁸ − 2⁶⁵ + 1.
    #[test]
    fn long_numbers() {
        let mut number = vec![u64::MAX];
        times(&mut number, u64::MAX);
        assert_eq!(number, [1, u64::MAX - 1]);
        assert!(at_most(&[5, 0], &[5]) && at_most(&[4, 1], &[0, 2]) && !at_most(&[0, 2], &[9, 1]));
    }

    /// Worked by hand: of 100 pieces one is bad; 90 leave 10/100 = 0.1 exactly, 89 leave 0.11.
    #[test]
    fn equality_is_decided_exactly() {
        assert!(exactly_at_most(100, 1, 90, 100_000));
        assert!(!exactly_at_most(100, 1, 90, 99_999));
        assert!(!exactly_at_most(100, 1, 89, 100_000));
    }
}
