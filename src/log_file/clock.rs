//! Reads times as a logger writes them.

use crate::bath_log::instant_ms;
use crate::logger::DateOrder;
use crate::logger::Offset;
use crate::logger::TimeColumn;
use crate::logger::TimeFormat;
use crate::moment::Date;

/// What is wrong with a time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Wrong {
    /// Written otherwise.
    Form,
    /// Not in the calendar.
    NoSuchDay,
    /// No such hour, minute, second or offset.
    NoSuchTime,
    /// The clock was put forward over it.
    Never,
    /// The clock was put back over it.
    Twice,
}

/// A time read.
#[derive(Debug, Clone, Copy)]
pub(super) struct Time {
    /// Milliseconds since 1970-01-01T00:00Z.
    pub at: i64,
    /// The offset it was written in.
    pub offset: Offset,
}

/// Reads the times of one logger. The date of the row before is kept, because it seldom changes.
pub(super) struct Clock<'a> {
    format: TimeFormat,
    apart: bool,
    offset: Offset,
    /// When the clock was put to which offset, in milliseconds.
    changes: Vec<(i64, Offset)>,
    epoch: Option<Date>,
    date: &'a [u8],
    /// Local midnight of that date, in milliseconds since 1970-01-01T00:00.
    midnight: i64,
}

/// Takes a number of as many digits, or of one where `short`; and what follows it.
fn number(text: &[u8], digits: usize, short: bool) -> Option<(i64, &[u8])> {
    let count = text.iter().take(digits).take_while(|b| b.is_ascii_digit()).count();
    if count != digits && !(short && count == 1) {
        return None;
    }
    let (taken, rest) = text.split_at_checked(count)?;
    Some((taken.iter().fold(0, |n, b| n * 10 + i64::from(b.wrapping_sub(b'0'))), rest))
}

fn mark(text: &[u8], mark: u8) -> Option<&[u8]> {
    match text {
        [first, rest @ ..] if *first == mark => Some(rest),
        _ => None,
    }
}

impl<'a> Clock<'a> {
    pub(super) fn new(time: &TimeColumn) -> Self {
        Clock {
            format: time.format,
            apart: time.clock.is_some(),
            offset: time.offset.unwrap_or(Offset::UTC),
            changes: time.changes.iter().map(|c| (instant_ms(&c.at), c.offset)).collect(),
            epoch: "1970-01-01".parse().ok(),
            date: &[],
            midnight: 0,
        }
    }

    /// The time of a row; `clock` is used where date and time of day stand apart.
    #[inline]
    pub(super) fn time(&mut self, date: &'a [u8], clock: &'a [u8]) -> Result<Time, Wrong> {
        let (date, clock) = if self.apart { (date, clock) } else { self.parted(date)? };
        if date != self.date || date.is_empty() {
            self.midnight = self.midnight(date)?;
            self.date = date;
        }
        let (of_day, rest) = self.of_day(clock)?;
        let local = self.midnight + of_day;
        if self.format.zone() {
            let offset = zone(rest)?;
            return Ok(Time { at: local - offset.millis(), offset });
        }
        if !rest.is_empty() {
            return Err(Wrong::Form);
        }
        if self.changes.is_empty() {
            return Ok(Time { at: local - self.offset.millis(), offset: self.offset });
        }
        self.among_changes(local)
    }

    fn parted(&self, text: &'a [u8]) -> Result<(&'a [u8], &'a [u8]), Wrong> {
        let between = self.format.between();
        if self.date.len() == 10
            && let Some((date, [first, clock @ ..])) = text.split_at_checked(10)
            && *first == between
        {
            return Ok((date, clock));
        }
        let at = text.iter().position(|b| *b == between).ok_or(Wrong::Form)?;
        Ok((text.get(..at).unwrap_or_default(), text.get(at + 1..).unwrap_or_default()))
    }

    fn midnight(&self, text: &[u8]) -> Result<i64, Wrong> {
        let (by, order) = (self.format.date_mark(), self.format.order());
        let short = order != DateOrder::YearFirst;
        let (first, second, third) = if short { (2, 2, 4) } else { (4, 2, 2) };
        let parts = || {
            let (a, rest) = number(text, first, short)?;
            let (b, rest) = number(mark(rest, by)?, second, short)?;
            let (c, rest) = number(mark(rest, by)?, third, false)?;
            rest.is_empty().then_some((a, b, c))
        };
        let (a, b, c) = parts().ok_or(Wrong::Form)?;
        let (year, month, day) = match order {
            DateOrder::YearFirst => (a, b, c),
            DateOrder::DayFirst => (c, b, a),
            DateOrder::MonthFirst => (c, a, b),
        };
        let date: Date = format!("{year:04}-{month:02}-{day:02}").parse().map_err(|_| Wrong::NoSuchDay)?;
        let epoch = self.epoch.ok_or(Wrong::NoSuchDay)?;
        Ok(date.days_since(epoch) * 86_400_000)
    }

    /// Milliseconds of the day, and what follows them.
    #[inline]
    fn of_day<'t>(&self, text: &'t [u8]) -> Result<(i64, &'t [u8]), Wrong> {
        let digit = |b: u8| i64::from(b.wrapping_sub(b'0'));
        let plain = |b: u8| b.is_ascii_digit();
        // By far the most common way, without further ado.
        if let [h1, h2, b':', m1, m2, b':', s1, s2] = text
            && self.format.seconds()
            && !self.format.half_days()
            && [h1, h2, m1, m2, s1, s2].into_iter().all(|b| plain(*b))
        {
            let (h, m, s) =
                (digit(*h1) * 10 + digit(*h2), digit(*m1) * 10 + digit(*m2), digit(*s1) * 10 + digit(*s2));
            if h > 23 || m > 59 || s > 59 {
                return Err(Wrong::NoSuchTime);
            }
            return Ok((((h * 60 + m) * 60 + s) * 1000, &[]));
        }
        self.any_of_day(text)
    }

    fn any_of_day<'t>(&self, text: &'t [u8]) -> Result<(i64, &'t [u8]), Wrong> {
        let short = self.format.order() != DateOrder::YearFirst;
        let parts = || {
            let (hour, rest) = number(text, 2, short)?;
            let (minute, mut rest) = number(mark(rest, b':')?, 2, false)?;
            let (mut second, mut ms) = (0, 0);
            if self.format.seconds() {
                (second, rest) = number(mark(rest, b':')?, 2, false)?;
                if let Some(fraction) = mark(rest, b'.') {
                    let digits = fraction.iter().take_while(|b| b.is_ascii_digit()).count();
                    let (value, after) = number(fraction, digits.clamp(1, 3), false)?;
                    ms = value * [100, 10, 1].get(digits.clamp(1, 3) - 1)?;
                    rest = after;
                }
            }
            Some((hour, minute, second, ms, rest))
        };
        let (mut hour, minute, second, ms, mut rest) = parts().ok_or(Wrong::Form)?;
        if self.format.half_days() {
            let half = match rest.trim_ascii() {
                [a, b'M' | b'm'] if a.eq_ignore_ascii_case(&b'A') => 0,
                [p, b'M' | b'm'] if p.eq_ignore_ascii_case(&b'P') => 12,
                _ => return Err(Wrong::Form),
            };
            if !(1..=12).contains(&hour) {
                return Err(Wrong::NoSuchTime);
            }
            hour = hour % 12 + half;
            rest = &[];
        }
        if hour > 23 || minute > 59 || second > 59 {
            return Err(Wrong::NoSuchTime);
        }
        Ok((((hour * 60 + minute) * 60 + second) * 1000 + ms, rest))
    }

    /// A wall-clock time, of a clock that was put forward or back: the one offset that was in force at that
    /// instant.
    fn among_changes(&self, local: i64) -> Result<Time, Wrong> {
        let mut found = None;
        let (mut from, mut offset) = (i64::MIN, self.offset);
        let next = self.changes.iter().copied().map(Some).chain(std::iter::once(None));
        for change in next {
            let at = local - offset.millis();
            let until = change.map_or(i64::MAX, |(at, _)| at);
            if from <= at && at < until && found.replace(Time { at, offset }).is_some() {
                return Err(Wrong::Twice);
            }
            if let Some((at, to)) = change {
                (from, offset) = (at, to);
            }
        }
        found.ok_or(Wrong::Never)
    }
}

/// `Z`, or sign, hours and minutes.
fn zone(text: &[u8]) -> Result<Offset, Wrong> {
    if text == b"Z" {
        return Ok(Offset::UTC);
    }
    let [b'+' | b'-', h1, h2, b':', m1, m2] = text else { return Err(Wrong::Form) };
    if ![h1, h2, m1, m2].into_iter().all(|b| b.is_ascii_digit()) {
        return Err(Wrong::Form);
    }
    std::str::from_utf8(text).ok().and_then(|t| t.parse().ok()).ok_or(Wrong::NoSuchTime)
}
