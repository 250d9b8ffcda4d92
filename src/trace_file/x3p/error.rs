//! Why an X3P file is no trace.

use super::super::said;

/// Why an X3P file is no trace.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum X3pError {
    /// More than is read.
    #[error("{what} has more than {limit} bytes: export the one trace alone")]
    TooLarge {
        /// What.
        what: String,
        /// Most bytes.
        limit: u64,
    },
    /// No archive that can be relied on.
    #[error("the file is no sound ZIP archive: {0}; copy or export it again")]
    NotZip(String),
    /// A member that is not there.
    #[error("the archive has no `{name}`: {}; export the trace again", hint(near))]
    NoMember {
        /// Member.
        name: String,
        /// A member of that name within a folder.
        near: Option<String>,
    },
    /// A member that cannot be unpacked.
    #[error("`{name}` cannot be unpacked: {why}; copy or export the file again")]
    Unpack {
        /// Member.
        name: String,
        /// Why.
        why: String,
    },
    /// A link that leads out of the archive.
    #[error(
        "`{element}` names `{found}`: expected a member of the archive, as in `bindata/data.bin`, without \
         `..`, `\\` or a drive"
    )]
    Link {
        /// Element.
        element: String,
        /// As found.
        found: String,
    },
    /// A checksum that does not agree.
    #[error(
        "`{of}` has the MD5 checksum {found} and {stated} is stated: the file was changed or damaged after \
         it was written; copy or export it again"
    )]
    Checksum {
        /// Member.
        of: String,
        /// Stated.
        stated: String,
        /// Of what is there.
        found: String,
    },
    /// No checksum stated.
    #[error(
        "no MD5 checksum of `{of}` is stated: found `{found}`, expected 32 hexadecimal digits; export it \
         again"
    )]
    NoChecksum {
        /// Member.
        of: String,
        /// As found.
        found: String,
    },
    /// Text that is no XML of this kind.
    #[error("main.xml, line {line}: {why}; export the trace again")]
    Xml {
        /// Line of `main.xml`.
        line: usize,
        /// Why.
        why: String,
    },
    /// An element that is not there.
    #[error("main.xml has no `{element}`, or it is empty: export the trace again")]
    Missing {
        /// Element.
        element: String,
    },
    /// An element that is there again.
    #[error("main.xml has `{element}` twice: expected it once; export the trace again")]
    Twice {
        /// Element.
        element: String,
    },
    /// An element that says something else.
    #[error("main.xml says `{found}` in `{element}`: expected {expected}")]
    Element {
        /// Element.
        element: String,
        /// As found.
        found: String,
        /// What it may say.
        expected: &'static str,
    },
    /// A surface and no row.
    #[error("the file holds a surface of {size_y} rows of {size_x} points: say which row is the trace")]
    Surface {
        /// Points of a row.
        size_x: u64,
        /// Rows.
        size_y: u64,
    },
    /// A row that is not there.
    #[error("row {row} is asked for and the file has {size_y}: rows count from 1")]
    NoRow {
        /// Row asked for.
        row: u64,
        /// Rows of the file.
        size_y: u64,
    },
    /// Too many points or too few.
    #[error("the number of points is {found}: expected from 2 to 5000000")]
    Points {
        /// Points.
        found: u64,
    },
    /// Bytes that do not fit the points.
    #[error(
        "`{name}` has {} bytes: expected {expected} for {points} points; it is cut short or of another \
         type, copy or export the file again",
        if found > expected { "more".to_owned() } else { found.to_string() }
    )]
    Size {
        /// Member.
        name: String,
        /// Bytes there are; of more than expected, one more.
        found: u64,
        /// Bytes expected.
        expected: u64,
        /// Points of the file.
        points: u64,
    },
    /// A list that does not fit the points.
    #[error("the list in main.xml has {found} points: expected {expected}; export the trace again")]
    Count {
        /// Points listed.
        found: u64,
        /// Points stated.
        expected: u64,
    },
    /// A list with a datum that is none.
    #[error(
        "point {point} of the list in main.xml says `{found}`: expected {expected} numbers with `;` between"
    )]
    Datum {
        /// Point, from 0.
        point: u64,
        /// As found.
        found: String,
        /// Numbers expected.
        expected: usize,
    },
    /// A hole in the trace.
    #[error("point {point} is not valid ({why}): a hole in a trace is not filled in; measure again")]
    Hole {
        /// Point along the row, from 0.
        point: usize,
        /// How it is told.
        why: &'static str,
    },
    /// A coordinate no trace reaches.
    #[error("point {point} lies at {found:e} m: expected less than 1 m; the increment of the axis is wrong")]
    OutOfRange {
        /// Point along the row, from 0.
        point: usize,
        /// Coordinate, in metres.
        found: f64,
    },
    /// A position that does not lie beyond the one before.
    #[error("point {point} does not lie beyond the one before it: expected positions that increase")]
    NotIncreasing {
        /// Point along the row, from 0.
        point: usize,
    },
    /// Positions that are no even grid.
    #[error(
        "the step before point {point} is {} µm and the mean step {} µm: expected positions within 0.01 of \
         a step of an even grid; measure again",
        said(*step), said(*mean)
    )]
    Uneven {
        /// Point along the row, from 0.
        point: usize,
        /// Step, in µm.
        step: f64,
        /// Mean step, in µm.
        mean: f64,
    },
    /// A step no instrument makes.
    #[error("the step is {} µm: expected from 0.000001 µm to 1 m, along increasing x", said(*.0))]
    Step(f64),
    /// A trace that does not run along x.
    #[error("the trace leaves its line at point {point}: expected one y for all points; export it along x")]
    Oblique {
        /// Point along the row, from 0.
        point: usize,
    },
}

/// What stands where the member was looked for.
fn hint(near: &Option<String>) -> String {
    match near {
        Some(name) => format!("found `{name}`, expected it outside of any folder"),
        None => "expected it as the format has it".to_owned(),
    }
}
