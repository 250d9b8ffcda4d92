//! The clock and chance: read once, at the edge, and handed down.

use std::time::Instant;

use chrono::DateTime;
use chrono::FixedOffset;
use chrono::Timelike;
use chrono::Utc;

use crate::app::error::Error;
use crate::moment::Date;

/// Fills a buffer with random bytes.
pub type Random = dyn Fn(&mut [u8]) -> Result<(), String> + Sync;

/// The time of a command and its source of chance.
pub struct World<'a> {
    now: DateTime<FixedOffset>,
    /// What the system's clock said to the fraction, and a clock that cannot be set, then; none where time is given.
    read: Option<(DateTime<FixedOffset>, Instant)>,
    random: &'a Random,
}

fn from_system(buffer: &mut [u8]) -> Result<(), String> {
    getrandom::fill(buffer).map_err(|e| format!("the system gives no random bytes: {e}"))
}

impl World<'_> {
    /// The system's clock, with the offset of this place, and the system's random bytes.
    pub fn system() -> World<'static> {
        let now = chrono::Local::now().fixed_offset();
        World { now: whole(now), read: Some((now, Instant::now())), random: &from_system }
    }
}

fn as_kept(time: DateTime<FixedOffset>) -> String {
    time.with_timezone(&Utc).format("%Y-%m-%dT%H:%M:%SZ").to_string()
}

fn whole(now: DateTime<FixedOffset>) -> DateTime<FixedOffset> {
    now.with_nanosecond(0).unwrap_or(now)
}

impl<'a> World<'a> {
    /// A given time and source of chance, for tests.
    pub fn new(now: DateTime<FixedOffset>, random: &'a Random) -> World<'a> {
        World { now: whole(now), read: None, random }
    }

    /// The same source of chance at the system's present time, for commands that do several things in turn.
    pub fn later(&self) -> World<'a> {
        let read = (chrono::Local::now().fixed_offset(), Instant::now());
        let passed = whole(read.0);
        World {
            now: if passed > self.now { passed } else { self.now },
            read: Some(read),
            random: self.random,
        }
    }

    /// Now, to the second.
    pub const fn now(&self) -> DateTime<FixedOffset> {
        self.now
    }

    /// Today, on the wall calendar of the shop.
    pub fn today(&self) -> Date {
        Date::new(self.now.date_naive())
    }

    /// Now as certificates print it.
    pub fn printed(&self) -> String {
        self.now.format("%Y-%m-%dT%H:%M:%S%:z").to_string()
    }

    /// Now as the register keeps it.
    pub fn utc(&self) -> String {
        as_kept(self.now)
    }

    /// What [`World::utc`] has come to since: judging takes time, and so does waiting for another program that
    /// writes. A clock set back meanwhile does not show in it, nor does one set forward.
    pub fn utc_by_now(&self) -> String {
        let passed = self.read.and_then(|(read, since)| {
            read.checked_add_signed(chrono::Duration::from_std(since.elapsed()).ok()?)
        });
        as_kept(passed.map_or(self.now, |passed| passed.max(self.now)))
    }

    /// 32 random bytes.
    pub fn salt(&self) -> Result<[u8; 32], Error> {
        let mut salt = [0_u8; 32];
        self.fill(&mut salt).map_err(|e| Error::cannot(e, ""))?;
        Ok(salt)
    }

    /// Fills a buffer with random bytes.
    pub fn fill(&self, buffer: &mut [u8]) -> Result<(), String> {
        (self.random)(buffer)
    }
}
