//! What a logger read, and what can be said of it: readings over time as exact decimals, and figures over an
//! interval.
//!
//! Between two readings the course is taken as a straight line. Over a gap longer than allowed nothing is
//! taken: such a gap hides what happened, so it counts neither as inside nor as outside a window, and adds
//! nothing to a mean or a charge. All arithmetic is in whole numbers; times are milliseconds since
//! 1970-01-01T00:00Z.

mod area;
mod charge;
mod correction;
mod immersion;
mod summary;
mod thin;
mod trace;
mod window;

use rust_decimal::Decimal;

use crate::logger::Measures;
use crate::logger::Offset;
use crate::moment::Date;
use crate::moment::Moment;
use crate::units::Quantity;
use crate::units::Unit;

pub use charge::Charge;
pub use charge::ChargeError;
pub use charge::charge;
pub use correction::Correction;
pub use correction::CorrectionError;
pub use immersion::Fall;
pub use immersion::Immersion;
pub use immersion::ImmersionError;
pub use immersion::Source;
pub use immersion::immersion;
pub use immersion::steepest_fall;
pub use summary::Coverage;
pub use summary::Gap;
pub use summary::Summary;
pub use summary::summary;
pub use thin::thin;
pub use trace::Trace;
pub use window::Excursion;
pub use window::Side;
pub use window::Window;
pub use window::WindowError;
pub use window::Within;
pub use window::within;

/// Longest time between readings that can be allowed, a day: across more than that no line is drawn.
pub const LONGEST_ALLOWED: i64 = 86_400_000;

/// Stands in [`Channel`] where there was no reading.
pub const NO_READING: i64 = i64::MIN;

/// Largest reading in units of its last digit: nine digits before and nine after the point.
pub(crate) const MOST: i64 = 999_999_999_999_999_999;

/// Latest time, the end of the year 9999; earliest, the year 1.
const TIMES: std::ops::RangeInclusive<i64> = -62_135_596_800_000..=253_402_300_799_999;

/// Readings of one logger.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Log {
    times: Vec<i64>,
    channels: Vec<Channel>,
    offset: Offset,
}

/// The readings of one column, each in units of the last digit: 20.5 with two places is 2050.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Channel {
    /// Header in the file.
    pub header: String,
    /// What was measured.
    pub measures: Measures,
    /// Unit of the readings.
    pub unit: Unit,
    /// Digits after the point, the most of any reading; at most 9.
    pub places: u32,
    /// How finely the column reads, where the map says; else one of the last digit.
    pub resolution: Option<Decimal>,
    /// Readings, [`NO_READING`] where there was none.
    pub readings: Vec<i64>,
    correction: Option<Correction>,
}

/// One reading and when it was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reading {
    /// Milliseconds since 1970-01-01T00:00Z.
    pub at: i64,
    /// The value in the channel's unit.
    pub value: Decimal,
}

/// A time from one instant to a later one, both ends included.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Interval {
    from: i64,
    to: i64,
}

/// Why readings are no log.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LogError {
    /// No reading.
    #[error("no reading: expected at least one")]
    Empty,
    /// A channel of another length.
    #[error("`{header}` has {found} readings, there are {expected} times: give one reading a time")]
    Length {
        /// Header.
        header: String,
        /// Readings.
        found: usize,
        /// Times.
        expected: usize,
    },
    /// Time does not go forward.
    #[error("reading {0} (from 0) is not later than the one before it: expected times that only go forward")]
    Order(usize),
    /// Outside the calendar.
    #[error("a time lies outside the years 1 to 9999: correct the times")]
    Calendar,
    /// More digits than any meter shows.
    #[error("`{0}` has a reading of more than 9 digits before or after the point: correct the readings")]
    Digits(String),
}

impl Channel {
    /// A channel as it was read, without correction.
    pub fn new(header: &str, measures: Measures, unit: Unit, places: u32, readings: Vec<i64>) -> Self {
        let header = header.to_owned();
        Channel { header, measures, unit, places, resolution: None, readings, correction: None }
    }

    /// The same with the resolution its map states.
    #[must_use]
    pub fn with_resolution(self, resolution: Option<Decimal>) -> Self {
        Channel { resolution, ..self }
    }

    /// The correction these readings carry; `None` where they are as the logger wrote them.
    pub fn correction(&self) -> Option<&Correction> {
        self.correction.as_ref()
    }

    /// A reading in units of the last digit as a decimal.
    pub fn decimal(&self, reading: i64) -> Decimal {
        Decimal::try_from_i128_with_scale(i128::from(reading), self.places).unwrap_or_default()
    }

    /// Digits a mean is rounded to: one more than the readings resolve, and no more than one more than they
    /// show.
    pub fn mean_places(&self) -> u32 {
        let resolved = self.resolution.map_or(self.places, |step| step.scale());
        resolved.min(self.places).saturating_add(1)
    }
}

impl Log {
    /// A log of readings at times that only go forward; `offset` is the logger's, to print times by.
    pub fn new(times: Vec<i64>, channels: Vec<Channel>, offset: Offset) -> Result<Self, LogError> {
        let (Some(first), Some(last)) = (times.first(), times.last()) else { return Err(LogError::Empty) };
        if let Some(at) = times.iter().zip(times.iter().skip(1)).position(|(a, b)| b <= a) {
            return Err(LogError::Order(at.saturating_add(1)));
        }
        if !TIMES.contains(first) || !TIMES.contains(last) {
            return Err(LogError::Calendar);
        }
        for channel in &channels {
            if channel.readings.len() != times.len() {
                let (header, found) = (channel.header.clone(), channel.readings.len());
                return Err(LogError::Length { header, found, expected: times.len() });
            }
            let fits = |r: &i64| *r == NO_READING || (-MOST..=MOST).contains(r);
            if channel.places > 9 || !channel.readings.iter().all(fits) {
                return Err(LogError::Digits(channel.header.clone()));
            }
        }
        Ok(Log { times, channels, offset })
    }

    /// When readings were taken, in milliseconds since 1970-01-01T00:00Z.
    pub fn times(&self) -> &[i64] {
        &self.times
    }

    /// All channels, in the order of the map.
    pub fn channels(&self) -> &[Channel] {
        &self.channels
    }

    /// The offset the logger wrote its first time in.
    pub const fn offset(&self) -> Offset {
        self.offset
    }

    /// A channel with its times, by its place in the map; `None` where there is no such channel.
    pub fn trace(&self, position: usize) -> Option<Trace<'_>> {
        self.channels.get(position).map(|channel| Trace::new(&self.times, channel))
    }

    /// A channel with other readings at the same times, as [`Channel::corrected`] gives it.
    pub fn trace_of<'a>(&'a self, channel: &'a Channel) -> Option<Trace<'a>> {
        (channel.readings.len() == self.times.len()).then(|| Trace::new(&self.times, channel))
    }

    /// All channels with their times.
    pub fn traces(&self) -> impl Iterator<Item = Trace<'_>> {
        self.channels.iter().map(|channel| Trace::new(&self.times, channel))
    }

    /// From the first reading to the last; `None` when there is but one.
    pub fn span(&self) -> Option<Interval> {
        Interval::new(*self.times.first()?, *self.times.last()?)
    }

    /// An instant as the logger's clock shows it; a fraction of a second is left off.
    pub fn moment(&self, at: i64) -> Option<Moment> {
        moment(at, self.offset)
    }
}

impl Interval {
    /// From one instant to a later one within the years 1 to 9999; `None` otherwise.
    pub fn new(from: i64, to: i64) -> Option<Self> {
        (from < to && TIMES.contains(&from) && TIMES.contains(&to)).then_some(Interval { from, to })
    }

    /// From one moment to a later one; a moment recorded to the minute is taken at its full minute.
    pub fn between(from: &Moment, to: &Moment) -> Option<Self> {
        Interval::new(instant_ms(from), instant_ms(to))
    }

    /// Its beginning, in milliseconds since 1970-01-01T00:00Z.
    pub const fn from(&self) -> i64 {
        self.from
    }

    /// Its end.
    pub const fn to(&self) -> i64 {
        self.to
    }

    /// Its length in milliseconds.
    pub const fn length(&self) -> i64 {
        self.to - self.from
    }
}

/// Milliseconds since 1970-01-01T00:00Z of a moment.
pub fn instant_ms(moment: &Moment) -> i64 {
    moment.instant().timestamp_millis()
}

/// An instant in an offset, to the second; a fraction is left off. `None` outside the calendar.
pub fn moment(at: i64, offset: Offset) -> Option<Moment> {
    let local = at.checked_add(offset.millis())?.div_euclid(1000);
    let (day, second) = (local.div_euclid(86_400), local.rem_euclid(86_400));
    let date = "1970-01-01".parse::<Date>().ok()?.later(day)?;
    let (hour, minute) = (second / 3600, second / 60 % 60);
    format!("{date}T{hour:02}:{minute:02}:{:02}{offset}", second % 60).parse().ok()
}

/// A span of milliseconds as a time: whole minutes where it is, else seconds with at most three decimals.
pub fn spoken_span(ms: i64) -> Quantity {
    if ms % 60_000 == 0 {
        return Quantity::new(Decimal::from(ms / 60_000), Unit::Minute);
    }
    Quantity::new(Decimal::new(ms, 3).normalize(), Unit::Second)
}
