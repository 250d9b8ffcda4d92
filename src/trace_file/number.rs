//! Numbers as instruments write them, read strictly and scaled by a power of ten without a second rounding.

/// Power of ten beyond which nothing a trace holds can lie.
const LARGEST_POWER: i32 = 400;

/// The binary number nearest to `text · factor · 10^shift`, rounded once: the digits are multiplied as a
/// whole number.
///
/// Reads a sign or none, digits, at most one `mark` with a digit on at least one side, and at most one power
/// of ten (`1.5E-07`). Everything else is `None`: separators of thousands, `NaN`, words, more digits than a
/// whole number of 128 bits holds (36 always fit), and results that are not finite.
pub(super) fn read(text: &str, mark: char, factor: u128, shift: i32) -> Option<f64> {
    let unsigned = text.strip_prefix(['-', '+']).unwrap_or(text);
    let (digits, power) = match unsigned.split_once(['e', 'E']) {
        Some((digits, power)) => (digits, whole(power)?),
        None => (unsigned, 0),
    };
    let (before, after) = digits.split_once(mark).unwrap_or((digits, ""));
    if before.is_empty() && after.is_empty() {
        return None;
    }
    let mut sum = 0_u128;
    for byte in before.bytes().chain(after.bytes()) {
        let digit = byte.is_ascii_digit().then(|| u128::from(byte & 0x0f))?;
        sum = sum.checked_mul(10)?.checked_add(digit)?;
    }
    let sum = sum.checked_mul(factor)?;
    let power = power.checked_add(shift)?.checked_sub(i32::try_from(after.len()).ok()?)?;
    let sign = if text.starts_with('-') { "-" } else { "" };
    let value: f64 = format!("{sign}{sum}e{power}").parse().ok()?;
    value.is_finite().then_some(value)
}

/// A power of ten: a sign or none, and digits.
fn whole(text: &str) -> Option<i32> {
    let unsigned = text.strip_prefix(['-', '+']).unwrap_or(text);
    if unsigned.is_empty() || !unsigned.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let value: i32 = text.parse().ok()?;
    (value.checked_abs()? <= LARGEST_POWER).then_some(value)
}

/// What was found, short and without control characters, to be put into a message.
pub(super) fn shown(text: &str) -> String {
    cut(text, 40)
}

/// The first `most` characters, control characters replaced.
pub(super) fn cut(text: &str, most: usize) -> String {
    let mut out: String =
        text.chars().take(most).map(|c| if c.is_control() { '\u{fffd}' } else { c }).collect();
    if text.chars().nth(most).is_some() {
        out.push('…');
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The nearest binary number to each decimal is what the compiler makes of the literal (IEEE 754).
    #[test]
    fn scaled_with_one_rounding() {
        let cases = [
            ("5e-7", '.', 1, 6, 0.5),
            ("-0,25", ',', 1, 0, -0.25),
            ("123.4", '.', 1, -3, 0.1234),
            ("+.5", '.', 1, 0, 0.5),
            ("5.", '.', 1, 0, 5.0),
            ("1.0E+02", '.', 1, 3, 100_000.0),
            ("0.3", '.', 1, -3, 0.0003),
            ("5.1", '.', 254, -4, 0.12954),
            ("0.000000000000000000000000000001234567", '.', 1, 30, 1.234567),
        ];
        for (text, mark, factor, shift, value) in cases {
            assert_eq!(
                read(text, mark, factor, shift).map(f64::to_bits),
                Some(f64::to_bits(value)),
                "{text}"
            );
        }
    }

    #[test]
    fn refused() {
        let long = "1".repeat(40);
        for text in [
            "", "-", ".", "e5", "1e", "1e+", "--1", "1 000", "1,5", "NaN", "inf", "0x10", "1e999", "1e-401",
            "1_0", &long,
        ] {
            assert_eq!(read(text, '.', 1, 0), None, "{text}");
        }
    }
}
