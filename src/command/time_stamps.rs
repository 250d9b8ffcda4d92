//! Time stamps of the register's heads: after an issue, by command, listed and checked.

use std::path::Path;

use serde::Serialize;

use super::Answer;
use super::Exit;
use super::Output;
use super::Stop;
use crate::app::book::Book;
use crate::app::desk::Desk;
use crate::app::error::Error;
use crate::app::keys::own_head_keys;
use crate::app::time_stamps;
use crate::app::world::World;
use crate::folder;
use crate::folder::Folder;
use crate::register::Register;
use crate::report::json::VERSION;
use crate::shop::TimeStamps;
use crate::time_stamp::Anchor;
use crate::time_stamp::TimeStamp;

/// A time stamp for machines.
#[derive(Debug, Serialize)]
struct StampReport {
    version: u64,
    /// Entries at the head.
    size: u64,
    /// Whether it holds; the rest is there only if it does.
    holds: bool,
    #[serde(skip_serializing_if = "Option::is_none")]
    at: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    by: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    policy: Option<String>,
    /// Why it does not hold.
    #[serde(skip_serializing_if = "Option::is_none")]
    why: Option<String>,
}

impl StampReport {
    fn new(size: u64, found: &Result<TimeStamp, Error>) -> StampReport {
        let stamp = found.as_ref().ok();
        StampReport {
            version: VERSION,
            size,
            holds: stamp.is_some(),
            at: stamp.map(|s| time_stamps::shown(&s.at)),
            by: stamp.map(|s| s.by.clone()),
            policy: stamp.map(|s| s.policy.clone()),
            why: found.as_ref().err().map(ToString::to_string),
        }
    }
}

/// After something was issued: has the new head stamped, if the shop names a service. Whatever comes of it, what was
/// issued stands and the exit code is that of the issue; a failure is told and can be tried again.
pub fn after(desk: &Desk, issued: bool, world: &World, output: &mut Output) -> Result<(), Stop> {
    let Some(service) = desk.book.shop.time_stamps.as_ref().filter(|_| issued) else { return Ok(()) };
    // What was issued is told before anybody is waited for.
    output.out.flush().map_err(Stop::Output)?;
    match time_stamps::ask(&desk.book.folder, service, &desk.register, world) {
        Ok(came) => output.note(words(came.size, &came.stamp)),
        Err(error) => {
            output.note(format_args!("no time stamp: {error}"))?;
            if let Some(hint) = error.hint() {
                output.note(format_args!("  help: {hint}"))?;
            }
            output.note("  what was issued stands; `brightproof register time-stamp` asks again")
        }
    }
}

fn words(size: u64, stamp: &TimeStamp) -> String {
    format!("head of {size} entries time-stamped {} by {}", time_stamps::shown(&stamp.at), stamp.by)
}

fn service(folder: &Folder) -> Result<TimeStamps, Error> {
    Book::open(folder.clone())?.shop.time_stamps.ok_or_else(|| {
        Error::cannot(
            "shop.yaml names no time-stamping service",
            "add `time_stamps: { url: http://..., root: time-stamps/root.pem }`",
        )
    })
}

/// register time-stamp.
pub fn ask(
    folder: &Folder,
    register: &Register,
    as_json: bool,
    world: &World,
    output: &mut Output,
) -> Answer {
    let came = time_stamps::ask(folder, &service(folder)?, register, world)?;
    if as_json {
        output.json(&StampReport::new(came.size, &Ok(came.stamp)))?;
    } else {
        let before = if came.before { " before; not asked again" } else { "" };
        output.say(format_args!("{}{before}", words(came.size, &came.stamp)))?;
    }
    Ok(Exit::Good)
}

/// register time-stamps.
pub fn list(
    folder: &Folder,
    register: &Register,
    root: Option<&Path>,
    as_json: bool,
    output: &mut Output,
) -> Answer {
    let anchor = match root {
        Some(root) => Anchor::read(&folder::read(root)?)?,
        None => time_stamps::trusted(folder, &service(folder)?)?,
    };
    let keys = own_head_keys(folder, register)?;
    let mut exit = Exit::Good;
    let mut reports = Vec::new();
    for kept in time_stamps::kept(&folder.path(time_stamps::FOLDER))? {
        let found = kept.dates(&anchor, register, &keys);
        if found.is_err() {
            exit = Exit::Gaps;
        }
        match &found {
            _ if as_json => reports.push(StampReport::new(kept.size, &found)),
            Ok(stamp) => {
                output.say(format_args!("holds: {}, policy {}", words(kept.size, stamp), stamp.policy))?
            }
            Err(error) => output.say(format_args!("DOES NOT HOLD: {error}"))?,
        }
    }
    if as_json {
        output.json(&reports)?;
    } else {
        output.say(format_args!("checked under {}, SHA-256 {}", anchor.subject(), anchor.fingerprint()))?;
        if root.is_none() {
            output
                .note("that certificate is the shop's own word; --root takes the one the service gave you")?;
        }
    }
    Ok(exit)
}

/// Size and checkpoint of the earliest stamped head that has an entry.
pub fn covering(folder: &Folder, register: &Register, position: u64) -> Result<(u64, String), Error> {
    let anchor = time_stamps::trusted(folder, &service(folder)?)?;
    let place = folder.path(time_stamps::FOLDER);
    let dating = time_stamps::dating(&place, position, &anchor, register, &own_head_keys(folder, register)?)?;
    let (kept, _) = dating.ok_or_else(|| {
        Error::cannot(
            "no time-stamped head has this certificate's entry",
            "`brightproof register time-stamp` has the newest head stamped",
        )
    })?;
    Ok((kept.size, kept.checkpoint))
}
