//! The points of one row, from the list in `main.xml` or from a binary member.

use std::ops::RangeInclusive;

use super::super::LARGEST;
use super::super::number;
use super::super::number::shown;
use super::agree;
use super::archive::Archive;
use super::error::X3pError;
use super::header::Axis;
use super::header::DATUM;
use super::header::Header;
use super::header::Kind;
use super::header::Link;
use super::xml;

/// The coordinates of one row, in µm; those of incremental axes are left out.
#[derive(Debug, Default)]
pub(super) struct Line {
    pub x: Option<Vec<f64>>,
    pub y: Option<Vec<f64>>,
    pub z: Vec<f64>,
}

impl Line {
    /// A row without points, with the columns that are stored.
    fn of(header: &Header) -> Self {
        Line { x: header.x.map(|_| Vec::new()), y: header.y.map(|_| Vec::new()), z: Vec::new() }
    }

    /// Adds one point from its stored numbers, in the order X, Y, Z of those that are stored.
    fn add(&mut self, header: &Header, mut next: impl FnMut(Kind) -> Option<f64>) -> Result<(), X3pError> {
        let point = self.z.len();
        let mut one = |axis: &Axis| match next(axis.kind) {
            Some(stored) => metres(axis, stored, point),
            None => Err(X3pError::Hole { point, why: "it is not there" }),
        };
        let columns = [(&header.x, &mut self.x), (&header.y, &mut self.y)];
        for (axis, column) in columns {
            if let (Some(axis), Some(column)) = (axis, column) {
                column.push(one(axis)?);
            }
        }
        self.z.push(one(&header.z)?);
        Ok(())
    }

    /// Reads a row from the list.
    pub fn inline(text: &str, header: &Header, wanted: &RangeInclusive<u64>) -> Result<Self, X3pError> {
        if header.listed != header.points() {
            return Err(X3pError::Count { found: header.listed, expected: header.points() });
        }
        let expected =
            [header.x.is_some(), header.y.is_some(), true].iter().filter(|stored| **stored).count();
        let (mut line, mut at) = (Line::of(header), 0_u64);
        xml::walk(text, |path, says| {
            if path != DATUM {
                return Ok(());
            }
            let place = at;
            at = at.saturating_add(1);
            if !wanted.contains(&place) {
                return Ok(());
            }
            let point = line.z.len();
            if says.is_empty() {
                return Err(X3pError::Hole { point, why: "its datum is empty" });
            }
            let datum = || X3pError::Datum { point: place, found: shown(says), expected };
            let mut numbers = [0.0; 3];
            let mut count = 0;
            for part in says.split(';') {
                let part = part.trim();
                if part.eq_ignore_ascii_case("nan") {
                    return Err(X3pError::Hole { point, why: "NaN" });
                }
                *numbers.get_mut(count).ok_or_else(datum)? =
                    number::read(part, '.', 1, 0).ok_or_else(datum)?;
                count += 1;
            }
            if count != expected {
                return Err(datum());
            }
            let mut numbers = numbers.into_iter();
            line.add(header, |_| numbers.next())
        })?;
        Ok(line)
    }

    /// Reads a row from a binary member.
    pub fn linked(
        archive: &mut Archive<'_>,
        link: &Link,
        header: &Header,
        wanted: &RangeInclusive<u64>,
    ) -> Result<Self, X3pError> {
        let width = |axis: &Option<Axis>| axis.map_or(0, |axis| axis.kind.width());
        let stride = width(&header.x) + width(&header.y) + header.z.kind.width();
        let (points, bytes) = (header.points(), stride as u64);
        let (first, last) = (*wanted.start(), *wanted.end());
        let range = first.saturating_mul(bytes)..=last.saturating_mul(bytes).saturating_add(bytes - 1);
        let expected = points.saturating_mul(bytes);
        let stored = archive.part(&link.points, expected, range)?;
        fits(&link.points, stored.size, expected, points)?;
        agree(&link.points, &link.md5, &stored.md5)?;

        if let Some((name, sum)) = &link.valid {
            let expected = points.div_ceil(8);
            let bits = archive.part(name, expected, first / 8..=last / 8)?;
            fits(name, bits.size, expected, points)?;
            if let Some(sum) = sum {
                agree(name, sum, &bits.md5)?;
            }
            let valid = |place: u64| {
                let byte = usize::try_from(place / 8 - first / 8).ok().and_then(|i| bits.bytes.get(i));
                byte.is_some_and(|byte| byte & (1 << (place % 8)) != 0)
            };
            if let Some(point) = wanted.clone().position(|place| !valid(place)) {
                return Err(X3pError::Hole { point, why: "its bit says so" });
            }
        }

        let mut line = Line::of(header);
        for record in stored.bytes.chunks_exact(stride) {
            let mut rest = record;
            line.add(header, |kind| {
                let (number, after) = rest.split_at_checked(kind.width())?;
                rest = after;
                value(kind, number)
            })?;
        }
        Ok(line)
    }
}

/// A stored number, least significant byte first.
fn value(kind: Kind, bytes: &[u8]) -> Option<f64> {
    Some(match kind {
        Kind::Int16 => f64::from(i16::from_le_bytes(bytes.try_into().ok()?)),
        Kind::Int32 => f64::from(i32::from_le_bytes(bytes.try_into().ok()?)),
        Kind::Float32 => f64::from(f32::from_le_bytes(bytes.try_into().ok()?)),
        Kind::Float64 => f64::from_le_bytes(bytes.try_into().ok()?),
    })
}

/// A coordinate in µm.
fn metres(axis: &Axis, stored: f64, point: usize) -> Result<f64, X3pError> {
    if !stored.is_finite() {
        return Err(X3pError::Hole { point, why: if stored.is_nan() { "NaN" } else { "infinite" } });
    }
    let metres = stored * axis.increment + axis.offset;
    let micrometres = metres * 1e6;
    if micrometres.is_finite() && micrometres.abs() <= LARGEST {
        return Ok(micrometres);
    }
    Err(X3pError::OutOfRange { point, found: metres })
}

/// Whether a member has the bytes its points need.
fn fits(name: &str, found: u64, expected: u64, points: u64) -> Result<(), X3pError> {
    if found == expected {
        return Ok(());
    }
    Err(X3pError::Size { name: shown(name), found, expected, points })
}
