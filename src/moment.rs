//! Dates and instants as people write them: `2026-11-24`, `2026-11-24T09:40-05:00`.
//!
//! Strict on purpose: a date has ten characters, an instant names its offset. What was written is what
//! is printed; nothing is turned into another zone.

use std::cmp::Ordering;
use std::fmt;
use std::str::FromStr;

use chrono::DateTime;
use chrono::FixedOffset;
use chrono::NaiveDate;
use chrono::TimeDelta;
use chrono::TimeZone;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::Deserialize;
use serde::Deserializer;
use serde::Serialize;
use serde::Serializer;

use crate::units::Quantity;
use crate::units::Unit;

/// A day of the calendar.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Date(NaiveDate);

/// An instant with the offset it was recorded in; to the minute or to the second, as recorded.
#[derive(Debug, Clone, Copy)]
pub struct Moment {
    at: DateTime<FixedOffset>,
    seconds: bool,
}

/// Why a text is not a date or an instant.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum MomentError {
    /// Not `YYYY-MM-DD`.
    #[error("`{0}` is not a date: expected year-month-day, as in 2026-11-24")]
    NotADate(String),
    /// The calendar has no such day.
    #[error("`{0}` is not in the calendar")]
    NoSuchDay(String),
    /// Not a date and time with an offset.
    #[error("`{0}` is not a time: expected date, time and offset, as in 2026-11-24T09:40-05:00")]
    NotAMoment(String),
    /// Hour, minute, second or offset out of range.
    #[error("`{0}` names an hour, minute, second or offset that does not exist")]
    NoSuchTime(String),
}

fn digits(text: &str, from: usize, to: usize) -> Option<u32> {
    let part = text.get(from..to)?;
    if part.bytes().all(|b| b.is_ascii_digit()) { part.parse().ok() } else { None }
}

impl Date {
    /// The day of a calendar date.
    pub const fn new(date: NaiveDate) -> Self {
        Date(date)
    }

    /// Days from `earlier` to this day; negative when this day comes first.
    pub fn days_since(self, earlier: Date) -> i64 {
        (self.0 - earlier.0).num_days()
    }

    /// The day so many days later; `None` beyond the calendar.
    pub fn later(self, days: i64) -> Option<Date> {
        self.0.checked_add_signed(TimeDelta::try_days(days)?).map(Date)
    }

    /// The same day some years later, the last of February for its 29th; `None` beyond the calendar.
    pub fn plus_years(self, years: u32) -> Option<Date> {
        self.0.checked_add_months(chrono::Months::new(years.checked_mul(12)?)).map(Date)
    }

    /// The year, for numbering.
    pub fn year(self) -> i32 {
        chrono::Datelike::year(&self.0)
    }
}

impl FromStr for Date {
    type Err = MomentError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let malformed = || MomentError::NotADate(text.to_owned());
        if text.len() != 10 || text.get(4..5) != Some("-") || text.get(7..8) != Some("-") {
            return Err(malformed());
        }
        let (year, month, day) = (digits(text, 0, 4), digits(text, 5, 7), digits(text, 8, 10));
        let (Some(year), Some(month), Some(day)) = (year, month, day) else { return Err(malformed()) };
        NaiveDate::from_ymd_opt(year as i32, month, day)
            .map(Date)
            .ok_or_else(|| MomentError::NoSuchDay(text.to_owned()))
    }
}

impl fmt::Display for Date {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0.format("%Y-%m-%d"))
    }
}

impl Moment {
    /// An instant from a clock, to the second.
    pub const fn from_clock(at: DateTime<FixedOffset>) -> Self {
        Moment { at, seconds: true }
    }

    /// The instant with its offset.
    pub const fn instant(&self) -> DateTime<FixedOffset> {
        self.at
    }

    /// The day on the wall calendar where it was recorded.
    pub fn date(&self) -> Date {
        Date(self.at.date_naive())
    }

    /// The instant a span of time later, fractions of a second rounded up. `None` when `span` is no time, or
    /// leads out of the calendar.
    pub fn plus(&self, span: &Quantity) -> Option<Moment> {
        let seconds = match span.unit() {
            Unit::Second => 1,
            Unit::Minute => 60,
            Unit::Hour => 3600,
            Unit::Day => 86_400,
            _ => return None,
        };
        let seconds = span.value().checked_mul(Decimal::from(seconds))?.ceil().to_i64()?;
        let at = self.at.checked_add_signed(TimeDelta::try_seconds(seconds)?)?;
        Some(Moment { at, seconds: self.seconds || seconds % 60 != 0 })
    }

    /// Time from `earlier` to this instant, in whole minutes where that is exact, else in seconds.
    /// `None` when this instant comes first.
    pub fn since(&self, earlier: &Moment) -> Option<Quantity> {
        let seconds = (self.at - earlier.at).num_seconds();
        if seconds < 0 {
            return None;
        }
        Some(if seconds % 60 == 0 {
            Quantity::new(Decimal::from(seconds / 60), Unit::Minute)
        } else {
            Quantity::new(Decimal::from(seconds), Unit::Second)
        })
    }
}

impl PartialEq for Moment {
    fn eq(&self, other: &Self) -> bool {
        self.at == other.at
    }
}

impl Eq for Moment {}

impl PartialOrd for Moment {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Moment {
    fn cmp(&self, other: &Self) -> Ordering {
        self.at.cmp(&other.at)
    }
}

impl FromStr for Moment {
    type Err = MomentError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let malformed = || MomentError::NotAMoment(text.to_owned());
        let impossible = || MomentError::NoSuchTime(text.to_owned());
        if !text.is_ascii() || text.get(10..11) != Some("T") || text.get(13..14) != Some(":") {
            return Err(malformed());
        }
        let date: Date = text.get(..10).ok_or_else(malformed)?.parse()?;
        let (hour, minute) = (digits(text, 11, 13), digits(text, 14, 16));
        let seconds = text.get(16..17) == Some(":");
        let (second, rest) = if seconds { (digits(text, 17, 19), 19) } else { (Some(0), 16) };
        let (Some(hour), Some(minute), Some(second)) = (hour, minute, second) else {
            return Err(malformed());
        };
        let zone = text.get(rest..).ok_or_else(malformed)?;
        let offset = match zone {
            "Z" => 0,
            _ if zone.len() == 6 && zone.get(3..4) == Some(":") => {
                let (h, m) = (digits(zone, 1, 3), digits(zone, 4, 6));
                let (Some(h), Some(m)) = (h, m) else { return Err(malformed()) };
                if h > 14 || m > 59 {
                    return Err(impossible());
                }
                let size = (h * 3600 + m * 60) as i32;
                match zone.get(..1) {
                    Some("+") => size,
                    Some("-") => -size,
                    _ => return Err(malformed()),
                }
            }
            _ => return Err(malformed()),
        };
        let offset = FixedOffset::east_opt(offset).ok_or_else(impossible)?;
        let naive = date.0.and_hms_opt(hour, minute, second).ok_or_else(impossible)?;
        let at = offset.from_local_datetime(&naive).single().ok_or_else(impossible)?;
        Ok(Moment { at, seconds })
    }
}

impl fmt::Display for Moment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let format = if self.seconds { "%Y-%m-%dT%H:%M:%S%:z" } else { "%Y-%m-%dT%H:%M%:z" };
        write!(f, "{}", self.at.format(format))
    }
}

macro_rules! as_text {
    ($type:ty) => {
        impl Serialize for $type {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.collect_str(self)
            }
        }
        impl<'de> Deserialize<'de> for $type {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                String::deserialize(deserializer)?.parse().map_err(serde::de::Error::custom)
            }
        }
    };
}
as_text!(Date);
as_text!(Moment);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kept_as_recorded() {
        for text in ["2026-11-24T09:40-05:00", "2026-11-24T09:40:07+05:30", "2028-02-29T00:00+00:00"] {
            assert_eq!(text.parse::<Moment>().unwrap().to_string(), text);
        }
        assert_eq!("2026-11-24T09:40Z".parse::<Moment>().unwrap().to_string(), "2026-11-24T09:40+00:00");
    }

    #[test]
    fn refused() {
        for text in [
            "2026-02-30",
            "2026-1-2",
            "20260102",
            "2026-01-02 ",
            "26-01-02",
            "2026-13-01",
            "2026-00-10",
            "2027-02-29",
        ] {
            assert!(text.parse::<Date>().is_err(), "{text} must be refused");
        }
        for text in [
            "2026-11-24",
            "2026-11-24T09:40",
            "2026-11-24 09:40-05:00",
            "2026-11-24T24:00-05:00",
            "2026-11-24T09:60-05:00",
            "2026-11-24T09:40-15:00",
            "2026-11-24T09:40-0500",
            "2026-11-24T09:40:61Z",
            "2026-11-24T9:40-05:00",
            "2026-02-30T09:40Z",
            "2026-11-24T09:40\u{00e9}",
        ] {
            assert!(text.parse::<Moment>().is_err(), "{text} must be refused");
        }
    }

    #[test]
    fn spans_across_offsets() {
        let a: Moment = "2026-11-24T09:40-05:00".parse().unwrap();
        let b: Moment = "2026-11-24T15:14+00:00".parse().unwrap();
        assert_eq!(b.since(&a).unwrap().to_string(), "34 min");
        assert!(a.since(&b).is_none());
        let plus = |span: &str| a.plus(&span.parse().unwrap()).map(|m| m.to_string());
        assert_eq!(plus("34 min").as_deref(), Some("2026-11-24T10:14-05:00"));
        assert_eq!(plus("0.5 h").as_deref(), Some("2026-11-24T10:10-05:00"));
        assert_eq!(plus("1.5 s").as_deref(), Some("2026-11-24T09:40:02-05:00"));
        assert_eq!(plus("999999999 d"), None);
        assert_eq!(plus("34 °F"), None);
    }
}
