//! Reads decimals, exactly, from bytes.

/// A plain decimal: a sign or none, 1 to 9 digits, and after the mark 1 to 9 more. Its digits as a whole
/// number, and how many stand after the mark. `None` of anything else: exponents, separators of thousands,
/// words.
#[inline]
pub(super) fn decimal(cell: &[u8], mark: u8) -> Option<(i64, u32)> {
    let (negative, digits) = match cell {
        [b'-', rest @ ..] => (true, rest),
        [b'+', rest @ ..] => (false, rest),
        _ => (false, cell),
    };
    let (mut value, mut whole, mut seen, mut marked) = (0_u64, 0_u32, 0_u32, false);
    for byte in digits {
        let digit = byte.wrapping_sub(b'0');
        if digit < 10 {
            seen = seen.wrapping_add(1);
            if seen > 18 {
                return None;
            }
            value = value.wrapping_mul(10).wrapping_add(u64::from(digit));
        } else if *byte == mark && !marked {
            (marked, whole) = (true, seen);
        } else {
            return None;
        }
    }
    let places = if marked { seen.wrapping_sub(whole) } else { 0 };
    let whole = if marked { whole } else { seen };
    if whole == 0 || whole > 9 || places > 9 || (marked && places == 0) {
        return None;
    }
    let value = value as i64;
    Some((if negative { value.wrapping_neg() } else { value }, places))
}

/// The readings of one column, brought to one number of digits after the point.
#[derive(Debug)]
pub(super) struct Figures {
    places: u32,
    readings: Vec<i64>,
}

/// Stands where there was no reading until the column is done; no reading of 18 digits is as low.
const NOTHING: i64 = i64::MIN;

fn power(places: u32) -> i64 {
    10_i64.checked_pow(places).unwrap_or(1)
}

impl Figures {
    pub(super) fn with_capacity(room: usize) -> Self {
        Figures { places: 0, readings: Vec::with_capacity(room) }
    }

    /// A reading of at most nine digits before and nine after the point, so that no step here can overflow.
    #[inline]
    pub(super) fn push(&mut self, mantissa: i64, places: u32) {
        if places == self.places {
            self.readings.push(mantissa);
        } else if places < self.places {
            self.readings.push(mantissa.saturating_mul(power(self.places - places)));
        } else {
            let step = power(places - self.places);
            for earlier in self.readings.iter_mut().filter(|r| **r != NOTHING) {
                *earlier = earlier.saturating_mul(step);
            }
            self.places = places;
            self.readings.push(mantissa);
        }
    }

    pub(super) fn push_nothing(&mut self) {
        self.readings.push(NOTHING);
    }

    /// Digits after the point, and all readings, `nothing` where there was none.
    pub(super) fn finished(self, nothing: i64) -> (u32, Vec<i64>) {
        let mut readings = self.readings;
        if nothing != NOTHING {
            readings.iter_mut().filter(|r| **r == NOTHING).for_each(|r| *r = nothing);
        }
        (self.places, readings)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn read_and_refused() {
        let cases = [
            ("20.5", Some((205, 1))),
            ("-0.050", Some((-50, 3))),
            ("+7", Some((7, 0))),
            ("999999999.999999999", Some((999_999_999_999_999_999, 9))),
            ("1000000000", None),
            ("0.1234567890", None),
            ("9999999999999999999", None),
            (".5", None),
            ("5.", None),
            ("1.2.3", None),
            ("1e3", None),
            ("--1", None),
            ("-", None),
            ("", None),
            ("NaN", None),
            ("20,5", None),
        ];
        for (text, read) in cases {
            assert_eq!(decimal(text.as_bytes(), b'.'), read, "{text}");
        }
    }

    #[test]
    fn brought_to_one_number_of_digits() {
        let mut figures = Figures::with_capacity(0);
        for (value, places) in [(7, 0), (205, 1), (-3, 0), (1234, 2)] {
            figures.push(value, places);
        }
        figures.push_nothing();
        assert_eq!(figures.finished(-1), (2, vec![700, 2050, -300, 1234, -1]));
    }

    proptest! {
        /// Held against the exact reader of `rust_decimal`.
        #[test]
        fn as_the_exact_reader(value in -999_999_999_999_999_i64..=999_999_999_999_999, places in 0_u32..=9) {
            let exact = rust_decimal::Decimal::new(value, places);
            let fits = exact.trunc().abs() < rust_decimal::Decimal::from(1_000_000_000);
            let expected = fits.then_some((value, places));
            prop_assert_eq!(decimal(exact.to_string().as_bytes(), b'.'), expected);
        }
    }
}
