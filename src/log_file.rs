//! Reads the file a data logger or chart recorder wrote, by its map, into a log.
//!
//! A file that does not fit its map is refused with the line, the column, what was found and what was
//! expected. No line is left out, no cell is guessed at: a reading that vanished quietly could be the one
//! that was out of limits.

mod cells;
mod clock;
mod fault;
mod number;
mod text;

use crate::bath_log::Channel;
use crate::bath_log::Log;
use crate::bath_log::NO_READING;
use crate::logger::Column;
use crate::logger::Logger;
use crate::logger::Offset;
use crate::logger::contradicts;
use crate::logger::plain_header;
use crate::path::Path;
use cells::Cells;
use cells::Ending;
use clock::Clock;
pub use fault::LogFault;
use number::Figures;

/// Largest file that is read, in bytes.
pub const MOST_BYTES: usize = 64 * 1024 * 1024;

/// Most readings that are read from one file.
pub const MOST_ROWS: usize = 2_000_000;

/// Most columns a file may have, mapped or not.
const MOST_CELLS: usize = 1024;

/// What a column of the file is read as.
#[derive(Debug, Clone, Copy)]
enum Role {
    Passed,
    Time,
    Clock,
    Reading(usize),
}

/// Reads the file of a logger. Text is UTF-8 with or without a byte order mark, or UTF-16 with one; where it
/// is no UTF-8, single bytes (Latin-1), as older loggers write the degree sign. Lines end in LF or CR LF.
/// Cells may stand in double quotes, on one line. Lines are counted from 1, those before the headers too;
/// empty lines may stand only at the end.
pub fn read(bytes: &[u8], logger: &Logger) -> Result<Log, LogFault> {
    if let Some(fault) = logger.faults(&Path::root()).into_iter().next() {
        return Err(LogFault::Map { logger: logger.logger.clone(), fault });
    }
    let text = text::decoded(bytes)?;
    let mut rest: &[u8] = &text;
    for _ in 0..logger.skip_lines {
        rest = rest.iter().position(|b| *b == b'\n').and_then(|at| rest.get(at + 1..)).unwrap_or_default();
    }
    let line = u64::from(logger.skip_lines) + 1;
    let (headers, rest) = headers(rest, logger, line)?;
    let roles = roles(&headers, logger, line)?;
    Rows::new(logger, &roles, line, rest.len()).all(rest)
}

/// The headers of the file, and what stands below them.
fn headers<'a>(text: &'a [u8], logger: &Logger, line: u64) -> Result<(Vec<String>, &'a [u8]), LogFault> {
    let mut cells = Cells::new(text, logger.delimiter.byte());
    let mut headers = Vec::new();
    loop {
        let cell = cells.next().map_err(|found| LogFault::Quote { line, found })?;
        headers.push(plain_header(&cell.unquoted()));
        if headers.len() > MOST_CELLS {
            return Err(LogFault::TooManyColumns { line, most: MOST_CELLS });
        }
        if cell.ending != Ending::Cell {
            break;
        }
    }
    if headers.iter().all(String::is_empty) {
        return Err(LogFault::NoHeaders { line });
    }
    Ok((headers, cells.rest()))
}

/// What each column of the file is read as; every header of the map must stand there just once.
fn roles(headers: &[String], logger: &Logger, line: u64) -> Result<Vec<Role>, LogFault> {
    let mut roles = vec![Role::Passed; headers.len()];
    let mut find = |mapped: &str, role: Role| {
        let plain = plain_header(mapped);
        let mut places = headers.iter().zip(roles.iter_mut()).filter(|(h, _)| **h == plain);
        let Some((_, place)) = places.next() else {
            return Err(fault::missing(line, plain, headers));
        };
        *place = role;
        if places.next().is_some() {
            return Err(LogFault::HeaderTwice { line, header: plain });
        }
        Ok(())
    };
    find(&logger.time.header, Role::Time)?;
    if let Some(clock) = &logger.time.clock {
        find(clock, Role::Clock)?;
    }
    for (position, column) in logger.columns.iter().enumerate() {
        find(&column.header, Role::Reading(position))?;
        if let Some(says) = contradicts(&column.header, column.unit) {
            let column_name = plain_header(&column.header);
            return Err(LogFault::Unit { line, column: column_name, says, mapped: column.unit });
        }
    }
    Ok(roles)
}

/// The rows read so far.
struct Rows<'a> {
    logger: &'a Logger,
    roles: &'a [Role],
    line: u64,
    clock: Clock<'a>,
    times: Vec<i64>,
    figures: Vec<Figures>,
    no_reading: Vec<&'a [u8]>,
    /// Whether no word for no reading is a number, so that a number can be taken for one at once.
    words_only: bool,
    first_offset: Option<Offset>,
}

impl<'a> Rows<'a> {
    fn new(logger: &'a Logger, roles: &'a [Role], line: u64, bytes: usize) -> Self {
        // A row has some 20 bytes at least; a little too much room costs less than moving the readings.
        let room = (bytes / 32).min(MOST_ROWS);
        let mark = logger.decimal.byte();
        let number = |word: &String| number::decimal(word.trim().as_bytes(), mark).is_some();
        Rows {
            words_only: !logger.no_reading.iter().any(number),
            logger,
            roles,
            line,
            clock: Clock::new(&logger.time),
            times: Vec::with_capacity(room),
            figures: logger.columns.iter().map(|_| Figures::with_capacity(room)).collect(),
            no_reading: logger.no_reading.iter().map(|word| word.trim().as_bytes()).collect(),
            first_offset: None,
        }
    }

    fn all(mut self, rest: &'a [u8]) -> Result<Log, LogFault> {
        let mut cells = Cells::new(rest, self.logger.delimiter.byte());
        while !cells.is_done() {
            self.line += 1;
            if cells.only_blank_lines() {
                break;
            }
            self.row(&mut cells)?;
        }
        let Rows { logger, line, times, figures, first_offset, .. } = self;
        if times.is_empty() {
            return Err(LogFault::NoRows { line });
        }
        let channels = logger.columns.iter().zip(figures).map(|(column, figures)| channel(column, figures));
        let offset = first_offset.unwrap_or(Offset::UTC);
        Ok(Log::new(times, channels.collect(), offset)?)
    }

    /// One row: all its cells, then its time.
    fn row(&mut self, cells: &mut Cells<'a>) -> Result<(), LogFault> {
        let line = self.line;
        if self.times.len() >= MOST_ROWS {
            return Err(LogFault::TooManyRows { line, most: MOST_ROWS });
        }
        let row = cells.clone();
        let (mut date, mut clock): (&[u8], &[u8]) = (&[], &[]);
        let mut last = Ending::Cell;
        let mark = self.logger.decimal.byte();
        for role in self.roles {
            // A row too short is told from a bad cell first: after a lost cell every later one is in the
            // wrong column.
            if last != Ending::Cell {
                return Err(self.shifted(row));
            }
            if let Role::Reading(position) = role
                && self.words_only
                && let Some((mantissa, places, ending)) = cells.number(mark)
                && let Some(figures) = self.figures.get_mut(*position)
            {
                figures.push(mantissa, places);
                last = ending;
                continue;
            }
            let cell = cells.next().map_err(|found| LogFault::Quote { line, found })?;
            last = cell.ending;
            match role {
                Role::Passed => {}
                Role::Time => date = cell.text,
                Role::Clock => clock = cell.text,
                Role::Reading(position) => {
                    if self.reading(*position, cell.text).is_none() {
                        return Err(self.unread(row, *position, cell.text));
                    }
                }
            }
        }
        if last == Ending::Cell {
            return Err(self.shifted(row));
        }
        let before = self.times.last().copied();
        let time = self.clock.time(date, clock).map_err(|wrong| self.time_fault(date, clock, wrong))?;
        if let Some(before) = before
            && time.at <= before
        {
            let (found, column) = (self.shown_time(date, clock), plain_header(&self.logger.time.header));
            return Err(if time.at == before {
                LogFault::TimeRepeats { line, column, found }
            } else {
                LogFault::TimeRunsBack { line, column, found }
            });
        }
        if before.is_none() {
            self.first_offset = Some(time.offset);
        }
        self.times.push(time.at);
        Ok(())
    }

    fn reading(&mut self, position: usize, cell: &[u8]) -> Option<()> {
        let figures = self.figures.get_mut(position)?;
        // First, because the word for no reading may be a number, such as -999.9.
        if !self.no_reading.is_empty() && self.no_reading.contains(&cell) {
            figures.push_nothing();
        } else {
            let (mantissa, places) = number::decimal(cell, self.logger.decimal.byte())?;
            figures.push(mantissa, places);
        }
        Some(())
    }

    fn shifted(&self, row: Cells<'_>) -> LogFault {
        let (line, expected) = (self.line, self.roles.len());
        match row.count() {
            Ok(found) => LogFault::Shifted { line, found, expected },
            Err(found) => LogFault::Quote { line, found },
        }
    }

    fn unread(&self, row: Cells<'_>, position: usize, cell: &[u8]) -> LogFault {
        let expected = self.roles.len();
        if row.clone().count() != Ok(expected) {
            return self.shifted(row);
        }
        let header = self.logger.columns.get(position).map_or("", |c| c.header.as_str());
        fault::unread(self.line, plain_header(header), cell, self.logger.decimal)
    }

    fn shown_time(&self, date: &[u8], clock: &[u8]) -> String {
        let mut shown = fault::shown(date);
        if self.logger.time.clock.is_some() {
            shown.push(' ');
            shown.push_str(&fault::shown(clock));
        }
        shown
    }

    fn time_fault(&self, date: &[u8], clock: &[u8], wrong: clock::Wrong) -> LogFault {
        let (line, column) = (self.line, plain_header(&self.logger.time.header));
        let (found, format) = (self.shown_time(date, clock), self.logger.time.format);
        match wrong {
            clock::Wrong::Form => {
                LogFault::TimeForm { line, column, found, expected: format.word(), example: format.example() }
            }
            clock::Wrong::NoSuchDay => LogFault::NoSuchDay { line, column, found, read_as: format.word() },
            clock::Wrong::NoSuchTime => LogFault::NoSuchTime { line, column, found },
            clock::Wrong::Never => LogFault::TimeNeverCame { line, column, found },
            clock::Wrong::Twice => LogFault::TimeCameTwice { line, column, found },
        }
    }
}

fn channel(column: &Column, figures: Figures) -> Channel {
    let (places, readings) = figures.finished(NO_READING);
    let header = plain_header(&column.header);
    let channel = Channel::new(&header, column.measures, column.unit, places, readings);
    channel.with_resolution(column.resolution.map(|r| r.value()))
}
