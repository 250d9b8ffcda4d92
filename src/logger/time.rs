//! How a logger writes its time: a closed list of formats, and the offset where the file has none.

use std::fmt;
use std::str::FromStr;

use serde::Deserialize;
use serde::Deserializer;
use serde::Serialize;
use serde::Serializer;

use crate::moment::Moment;

/// Where the time stands in a file and how it is written.
///
/// A logger whose clock follows summer time lists each change; a wall-clock time that came twice (the hour
/// put back) is then refused, because nobody can tell which of the two it was, and one that never came (the
/// hour put forward) as impossible. Without a list the offset holds for the whole file, and the hour put back
/// is refused because time runs backward.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TimeColumn {
    /// Header of the column of the time; of the date alone, where `clock` names another column.
    pub header: String,
    /// Header of the column of the time of day, where it stands apart from the date.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clock: Option<String>,
    /// How date and time of day are written; where they stand apart, each its part of it.
    pub format: TimeFormat,
    /// Offset of the logger's clock from UTC, such as `-05:00`; where the format has none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub offset: Option<Offset>,
    /// When the logger's clock was put to another offset, oldest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub changes: Vec<OffsetChange>,
}

/// The clock of a logger put forward or back.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OffsetChange {
    /// The instant of the change.
    pub at: Moment,
    /// The offset from then on.
    pub offset: Offset,
}

/// An offset from UTC, in minutes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Offset(i32);

/// Not an offset.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{0}` is not an offset from UTC: expected a sign, hours (at most 14) and minutes, as in -05:00")]
pub struct OffsetError(String);

impl Offset {
    /// Universal time.
    pub const UTC: Offset = Offset(0);

    /// An offset of so many minutes east; `None` beyond 14 h 59 min.
    pub const fn minutes(minutes: i32) -> Option<Self> {
        if minutes < -899 || minutes > 899 { None } else { Some(Offset(minutes)) }
    }

    /// Seconds east of UTC.
    pub const fn seconds(self) -> i32 {
        self.0 * 60
    }

    /// Milliseconds east of UTC.
    pub const fn millis(self) -> i64 {
        self.0 as i64 * 60_000
    }
}

impl FromStr for Offset {
    type Err = OffsetError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let wrong = || OffsetError(text.to_owned());
        let (sign, rest) = match (text.strip_prefix('+'), text.strip_prefix('-')) {
            (Some(rest), _) => (1, rest),
            (_, Some(rest)) => (-1, rest),
            _ => return Err(wrong()),
        };
        let (hours, minutes) = rest.split_once(':').ok_or_else(wrong)?;
        let two = |s: &str| {
            let plain = s.len() == 2 && s.bytes().all(|b| b.is_ascii_digit());
            if plain { s.parse::<i32>().ok() } else { None }
        };
        match (two(hours), two(minutes)) {
            (Some(h), Some(m)) if h <= 14 && m <= 59 => Ok(Offset(sign * (h * 60 + m))),
            _ => Err(wrong()),
        }
    }
}

impl fmt::Display for Offset {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.0 < 0 { '-' } else { '+' };
        write!(f, "{sign}{:02}:{:02}", self.0.abs() / 60, self.0.abs() % 60)
    }
}

impl Serialize for Offset {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Offset {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer)?.parse().map_err(serde::de::Error::custom)
    }
}

/// In which order year, month and day stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DateOrder {
    /// Year, month, day.
    YearFirst,
    /// Day, month, year.
    DayFirst,
    /// Month, day, year.
    MonthFirst,
}

macro_rules! formats {
    ($(
        $name:ident, $word:literal, $order:ident, $mark:literal, $between:literal, $seconds:literal,
        $half:literal, $zone:literal, $example:literal;
    )*) => {
        /// How a time is written. A closed list; day and month are never guessed.
        ///
        /// Years have four digits. Formats that do not begin with the year may leave out the leading zero of
        /// day, month and hour. Where seconds are written, a fraction of one to three digits may follow a
        /// point.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
        pub enum TimeFormat { $(
            #[doc = concat!("As in `", $example, "`.")]
            #[serde(rename = $word)]
            $name,
        )* }

        impl TimeFormat {
            /// All formats, in the order of the table.
            pub const ALL: &'static [TimeFormat] = &[ $( TimeFormat::$name ),* ];

            /// The word a map writes.
            pub const fn word(self) -> &'static str { match self { $( TimeFormat::$name => $word ),* } }

            /// A time so written, for messages.
            pub const fn example(self) -> &'static str { match self { $( TimeFormat::$name => $example ),* } }

            /// Order of the date.
            pub const fn order(self) -> DateOrder {
                match self { $( TimeFormat::$name => DateOrder::$order ),* }
            }

            /// What stands between year, month and day.
            pub const fn date_mark(self) -> u8 { match self { $( TimeFormat::$name => $mark ),* } }

            /// What stands between date and time of day.
            pub const fn between(self) -> u8 { match self { $( TimeFormat::$name => $between ),* } }

            /// Whether seconds are written.
            pub const fn seconds(self) -> bool { match self { $( TimeFormat::$name => $seconds ),* } }

            /// Whether hours count to 12 and AM or PM follows.
            pub const fn half_days(self) -> bool { match self { $( TimeFormat::$name => $half ),* } }

            /// Whether the offset from UTC is written.
            pub const fn zone(self) -> bool { match self { $( TimeFormat::$name => $zone ),* } }
        }
    };
}

formats! {
    IsoZone, "YYYY-MM-DDThh:mm:ss+hh:mm", YearFirst, b'-', b'T', true, false, true,
        "2026-11-24T09:40:00-05:00";
    IsoPlain, "YYYY-MM-DDThh:mm:ss", YearFirst, b'-', b'T', true, false, false, "2026-11-24T09:40:00";
    YearSeconds, "YYYY-MM-DD hh:mm:ss", YearFirst, b'-', b' ', true, false, false, "2026-11-24 09:40:00";
    YearMinutes, "YYYY-MM-DD hh:mm", YearFirst, b'-', b' ', false, false, false, "2026-11-24 09:40";
    YearSlashSeconds, "YYYY/MM/DD hh:mm:ss", YearFirst, b'/', b' ', true, false, false, "2026/11/24 09:40:00";
    DotSeconds, "DD.MM.YYYY hh:mm:ss", DayFirst, b'.', b' ', true, false, false, "24.11.2026 09:40:00";
    DotMinutes, "DD.MM.YYYY hh:mm", DayFirst, b'.', b' ', false, false, false, "24.11.2026 09:40";
    DaySeconds, "DD/MM/YYYY hh:mm:ss", DayFirst, b'/', b' ', true, false, false, "24/11/2026 09:40:00";
    DayMinutes, "DD/MM/YYYY hh:mm", DayFirst, b'/', b' ', false, false, false, "24/11/2026 09:40";
    MonthSeconds, "MM/DD/YYYY hh:mm:ss", MonthFirst, b'/', b' ', true, false, false, "11/24/2026 09:40:00";
    MonthMinutes, "MM/DD/YYYY hh:mm", MonthFirst, b'/', b' ', false, false, false, "11/24/2026 09:40";
    MonthSecondsHalf, "MM/DD/YYYY hh:mm:ss AM", MonthFirst, b'/', b' ', true, true, false,
        "11/24/2026 09:40:00 AM";
    MonthMinutesHalf, "MM/DD/YYYY hh:mm AM", MonthFirst, b'/', b' ', false, true, false,
        "11/24/2026 09:40 AM";
}
