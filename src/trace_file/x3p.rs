//! A trace from an X3P file: a ZIP archive with `main.xml`, and the points either there or in a binary
//! member.
//!
//! Where the facts are from:
//! - recalled, of ISO 25178-72 and ISO 5436-2: four records (types and axes; what is told; the points; the
//!   checksum of `main.xml`), their elements and order, feature types, the four data types, lengths in
//!   metres, and the checksum file with 32 hexadecimal digits of MD5 before a file name;
//! - read, in the public description of the format by the open library that came with it (sourceforge.net,
//!   open-gps): `main.xml`, links relative to the archive, coordinates of a point in the order X, Y, Z, a bit
//!   set for a valid point, NaN for an invalid one, a profile stored as a matrix of one row;
//! - read, in documentation and source of the open-source Python library `x3pio` 2.0: coordinates stored of
//!   absolute axes only, the least significant bit of a byte first, the stored number times the increment, an
//!   increment left out taken as 1, an empty `Datum` for an invalid point.
//!
//! Our own choice is to be stricter than the format: checksums of `main.xml` and of the points must be there
//! and must agree, and an invalid point is a fault. A rotation of the axes is told and not applied, since the
//! heights of a trace are along its own axis.

mod archive;
mod error;
mod header;
mod points;
mod xml;

use std::ops::RangeInclusive;

use super::FEWEST_POINTS;
use super::LARGEST;
use super::LARGEST_FILE;
use super::MOST_POINTS;
use super::SMALLEST_STEP;
use super::Trace;
use super::TraceUnit;
use super::UNIFORM_WITHIN;
use super::Uneven;
use super::even_step;
use archive::Archive;
use header::Feature;
use header::Header;
use header::Store;
use points::Line;

pub use error::X3pError;

/// Most bytes one member of an archive may unpack to, in bytes: 512 MiB. Our own limit.
const LARGEST_MEMBER: u64 = 512 * 1024 * 1024;

/// Reads a trace from an X3P file. `row` names the row of a surface, from 1 in the order of the file; a
/// profile has but one.
///
/// Heights are `(stored · increment + offset) · 10⁶` µm, in this order, in binary double precision. The step
/// is the increment of the x axis, or `(last − first) / (n − 1)` of positions that lie within
/// [`UNIFORM_WITHIN`] of a step of an even grid. Points in messages count from 0 along the row.
///
/// # Errors
/// Names the member, the element or the point at fault, what was found and expected, and how to mend it.
pub fn read_x3p(bytes: &[u8], row: Option<u32>) -> Result<Trace, X3pError> {
    if bytes.len() > LARGEST_FILE {
        return Err(X3pError::TooLarge { what: "the file".to_owned(), limit: LARGEST_FILE as u64 });
    }
    let mut archive = Archive::open(bytes)?;
    let main = archive.all(xml::MAIN, LARGEST_FILE as u64)?;
    let text = xml::text(&main.bytes)?;
    let header = Header::read(text)?;

    let sum = archive.all(&header.checksum_file, 4096)?;
    let stated = String::from_utf8_lossy(&sum.bytes);
    let stated = stated.trim_start_matches('\u{feff}').split_ascii_whitespace().next().unwrap_or_default();
    agree(xml::MAIN, stated, &main.md5)?;

    let points = wanted(&header, row)?;
    let line = match &header.store {
        Store::Inline => Line::inline(text, &header, &points)?,
        Store::Linked(link) => Line::linked(&mut archive, link, &header, &points)?,
    };
    let spacing = spacing(&header, &line)?;
    Ok(Trace { spacing, heights: line.z, unit_of_file: TraceUnit::Metre, told: header.told })
}

/// The points of the row that is asked for, by their place in the file.
fn wanted(header: &Header, row: Option<u32>) -> Result<RangeInclusive<u64>, X3pError> {
    let (size_x, size_y) = (header.size_x, header.size_y);
    let row = match (header.feature, row) {
        (Feature::Surface, None) => return Err(X3pError::Surface { size_x, size_y }),
        (_, row) => u64::from(row.unwrap_or(1)),
    };
    if row == 0 || row > size_y {
        return Err(X3pError::NoRow { row, size_y });
    }
    if size_x < FEWEST_POINTS as u64 || size_x > MOST_POINTS as u64 {
        return Err(X3pError::Points { found: size_x });
    }
    let first = (row - 1).saturating_mul(size_x);
    Ok(first..=first.saturating_add(size_x - 1))
}

/// The step along the row, in µm.
fn spacing(header: &Header, line: &Line) -> Result<f64, X3pError> {
    let step = match (&line.x, header.step) {
        (Some(x), _) => match even_step(x, UNIFORM_WITHIN) {
            Ok(step) => step,
            Err(Uneven::NotIncreasing { point }) => return Err(X3pError::NotIncreasing { point }),
            Err(Uneven::Step { point, step, mean }) => return Err(X3pError::Uneven { point, step, mean }),
        },
        (None, Some(step)) => step,
        (None, None) => return Err(X3pError::Missing { element: "Record1/Axes/CX/Increment".to_owned() }),
    };
    if !(SMALLEST_STEP..=LARGEST).contains(&step) {
        return Err(X3pError::Step(step));
    }
    let Some(y) = &line.y else { return Ok(step) };
    let first = y.first().copied().unwrap_or(0.0);
    match y.iter().position(|y| (y - first).abs() > UNIFORM_WITHIN * step) {
        Some(point) => Err(X3pError::Oblique { point }),
        None => Ok(step),
    }
}

/// Whether a checksum is the stated one.
fn agree(of: &str, stated: &str, found: &str) -> Result<(), X3pError> {
    if stated.len() != 32 || !stated.bytes().all(|b| b.is_ascii_hexdigit()) {
        return Err(X3pError::NoChecksum { of: of.to_owned(), found: super::number::shown(stated) });
    }
    if stated.eq_ignore_ascii_case(found) {
        return Ok(());
    }
    let stated = stated.to_ascii_lowercase();
    Err(X3pError::Checksum { of: of.to_owned(), stated, found: found.to_owned() })
}
