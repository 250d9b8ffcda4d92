//! A share of a whole in per cent, as orders write a tolerance: `0.5 %`.

use std::fmt;
use std::str::FromStr;

use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::Deserialize;
use serde::Deserializer;
use serde::Serialize;
use serde::Serializer;

/// Per cent, 0 to 100, exact.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Percent(Decimal);

/// Why a text is not a share in per cent.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{0}` is no share: expected a number from 0 to 100 and `%`, as in `0.5 %`")]
pub struct PercentError(String);

impl Percent {
    /// The share as a fraction of one, exact.
    pub fn fraction(self) -> Decimal {
        // A hundredth only moves the point.
        self.0.checked_mul(Decimal::new(1, 2)).unwrap_or_default()
    }

    /// This share of a number of pieces, whole pieces only: a part of a piece is no piece.
    pub fn of(self, pieces: u64) -> u64 {
        let share =
            Decimal::from(pieces).checked_mul(self.0).and_then(|v| v.checked_div(Decimal::ONE_HUNDRED));
        share.and_then(|v| v.floor().to_u64()).unwrap_or(0)
    }
}

impl FromStr for Percent {
    type Err = PercentError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let wrong = || PercentError(text.to_owned());
        let number = text.trim().strip_suffix('%').ok_or_else(wrong)?.trim_end();
        if number.is_empty() || number.len() > 12 || !number.bytes().all(|b| b.is_ascii_digit() || b == b'.')
        {
            return Err(wrong());
        }
        let value: Decimal = number.parse().map_err(|_| wrong())?;
        (value <= Decimal::ONE_HUNDRED).then_some(Percent(value)).ok_or_else(wrong)
    }
}

impl fmt::Display for Percent {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} %", self.0)
    }
}

impl Serialize for Percent {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Percent {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_share_is_read_exactly_and_never_rounded_up() {
        let half: Percent = "0.5 %".parse().unwrap();
        assert_eq!((half.of(1000), half.of(399), half.of(199), half.of(0)), (5, 1, 0, 0));
        assert_eq!(half.to_string(), "0.5 %");
        assert_eq!("0.50%".parse::<Percent>().unwrap().to_string(), "0.50 %");
        assert_eq!("100 %".parse::<Percent>().unwrap().of(u64::MAX), u64::MAX);
    }

    #[test]
    fn what_is_no_share_is_refused() {
        for bad in
            ["", "%", "0.5", "-1 %", "100.1 %", "0.5 wt%", "1,5 %", "1e2 %", "½ %", "0.0000000000001 %"]
        {
            assert!(bad.parse::<Percent>().is_err(), "{bad}");
        }
    }
}
