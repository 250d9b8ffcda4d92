//! What `main.xml` says of the points: their axes, number and place; and of itself.

use std::collections::BTreeMap;

use super::super::Told;
use super::super::TraceUnit;
use super::super::number;
use super::super::number::shown;
use super::LARGEST_MEMBER;
use super::error::X3pError;
use super::xml;

/// Elements that are shown and never judged.
const TOLD: &[&str] = &[
    "Record1/Revision",
    "Record1/Axes/CX/Increment",
    "Record1/Axes/CZ/DataType",
    "Record1/Axes/CZ/Increment",
    "Record1/Axes/CZ/Offset",
    "Record1/Axes/Rotation/r11",
    "Record2/Date",
    "Record2/Creator",
    "Record2/Instrument/Manufacturer",
    "Record2/Instrument/Model",
    "Record2/Instrument/Serial",
    "Record2/Instrument/Version",
    "Record2/CalibrationDate",
    "Record2/ProbingSystem/Type",
    "Record2/ProbingSystem/Identification",
    "Record2/Comment",
];

/// Elements that are read besides.
const READ: &[&str] = &[
    "Record1/FeatureType",
    "Record1/Axes/CX/AxisType",
    "Record1/Axes/CX/DataType",
    "Record1/Axes/CX/Offset",
    "Record1/Axes/CY/AxisType",
    "Record1/Axes/CY/DataType",
    "Record1/Axes/CY/Increment",
    "Record1/Axes/CY/Offset",
    "Record1/Axes/CZ/AxisType",
    "Record3/MatrixDimension/SizeX",
    "Record3/MatrixDimension/SizeY",
    "Record3/MatrixDimension/SizeZ",
    "Record3/ListDimension",
    "Record3/DataLink/PointDataLink",
    "Record3/DataLink/MD5ChecksumPointData",
    "Record3/DataLink/ValidPointsLink",
    "Record3/DataLink/MD5ChecksumValidPoints",
    "Record4/ChecksumFile",
];

/// One point of a list.
pub(super) const DATUM: &str = "Record3/DataList/Datum";

/// A list without points.
const NO_DATUM: &str = "Record3/DataList";

/// What the points make up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Feature {
    /// A line.
    Profile,
    /// Rows of points.
    Surface,
}

/// How one coordinate is stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// `I`, 16 bits with sign.
    Int16,
    /// `L`, 32 bits with sign.
    Int32,
    /// `F`, 32 bits IEEE 754.
    Float32,
    /// `D`, 64 bits IEEE 754.
    Float64,
}

impl Kind {
    /// Bytes of one number.
    pub const fn width(self) -> usize {
        match self {
            Kind::Int16 => 2,
            Kind::Int32 | Kind::Float32 => 4,
            Kind::Float64 => 8,
        }
    }
}

/// An axis whose coordinates are stored: `stored · increment + offset`, in metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Axis {
    pub kind: Kind,
    pub increment: f64,
    pub offset: f64,
}

/// Where the points are in a binary member.
#[derive(Debug)]
pub(super) struct Link {
    pub points: String,
    pub md5: String,
    /// The member that says which points are valid, and its checksum when one is stated.
    pub valid: Option<(String, Option<String>)>,
}

/// Where the points are.
#[derive(Debug)]
pub(super) enum Store {
    Inline,
    Linked(Link),
}

/// What `main.xml` says.
#[derive(Debug)]
pub(super) struct Header {
    pub feature: Feature,
    /// Increment of the x axis in µm, when its positions are not stored.
    pub step: Option<f64>,
    pub x: Option<Axis>,
    pub y: Option<Axis>,
    pub z: Axis,
    pub size_x: u64,
    pub size_y: u64,
    pub store: Store,
    /// Points in the list.
    pub listed: u64,
    pub checksum_file: String,
    pub told: Vec<Told>,
}

/// The elements that were found.
struct Elements(BTreeMap<&'static str, String>);

impl Elements {
    /// What an element says; `None` when it is not there or empty.
    fn get(&self, element: &str) -> Option<&str> {
        self.0.get(element).map(String::as_str).filter(|text| !text.is_empty())
    }

    /// What an element says that must be there.
    fn need(&self, element: &str) -> Result<&str, X3pError> {
        self.get(element).ok_or_else(|| X3pError::Missing { element: element.to_owned() })
    }

    /// A number, or what it is when left out.
    fn number(&self, element: &str, absent: f64) -> Result<f64, X3pError> {
        let Some(text) = self.get(element) else { return Ok(absent) };
        number::read(text, '.', 1, 0).ok_or_else(|| wrong(element, text, "a number such as `5e-07`"))
    }

    /// A count of at least one.
    fn count(&self, element: &str) -> Result<u64, X3pError> {
        let text = self.need(element)?;
        let digits = text.len() <= 18 && text.bytes().all(|b| b.is_ascii_digit());
        let count = if digits { text.parse().unwrap_or(0) } else { 0_u64 };
        if count == 0 { Err(wrong(element, text, "a count from 1")) } else { Ok(count) }
    }

    /// Whether an axis is stored, and how.
    fn axis(&self, axis: &str) -> Result<Option<Axis>, X3pError> {
        let name = |what: &str| format!("Record1/Axes/{axis}/{what}");
        let element = name("AxisType");
        match self.need(&element)? {
            "I" => return Ok(None),
            "A" => {}
            other => return Err(wrong(&element, other, "I (incremental) or A (absolute)")),
        }
        let element = name("DataType");
        let kind = match self.need(&element)? {
            "I" => Kind::Int16,
            "L" => Kind::Int32,
            "F" => Kind::Float32,
            "D" => Kind::Float64,
            other => return Err(wrong(&element, other, "I, L, F or D")),
        };
        let element = name("Increment");
        let increment = self.number(&element, 1.0)?;
        if increment == 0.0 {
            return Err(wrong(&element, "0", "a number other than 0"));
        }
        Ok(Some(Axis { kind, increment, offset: self.number(&name("Offset"), 0.0)? }))
    }

    /// The name of a member of the archive.
    fn link(&self, element: &str) -> Result<Option<String>, X3pError> {
        let Some(text) = self.get(element) else { return Ok(None) };
        let leaves = |part: &str| part.is_empty() || part == "." || part == "..";
        if text.contains(['\\', ':', '\0']) || text.split('/').any(leaves) || text.len() > 255 {
            return Err(X3pError::Link { element: element.to_owned(), found: shown(text) });
        }
        Ok(Some(text.to_owned()))
    }
}

/// That an element says something else than it may.
fn wrong(element: &str, found: &str, expected: &'static str) -> X3pError {
    X3pError::Element { element: element.to_owned(), found: shown(found), expected }
}

impl Header {
    /// Reads `main.xml`, its list of points only counted.
    pub fn read(text: &str) -> Result<Self, X3pError> {
        let (mut elements, mut listed, mut told, mut inline) = (BTreeMap::new(), 0_u64, Vec::new(), false);
        xml::walk(text, |path, says| {
            inline |= path == DATUM || path == NO_DATUM;
            if path == DATUM {
                listed = listed.saturating_add(1);
            } else if let Some(known) = TOLD.iter().chain(READ).find(|known| **known == path) {
                if elements.insert(*known, says.to_owned()).is_some() {
                    return Err(X3pError::Twice { element: path.to_owned() });
                }
                if path == "Record1/Axes/Rotation/r11" {
                    told.push(Told::new("Record1/Axes/Rotation", "stated; not applied"));
                } else if TOLD.contains(known) && !says.is_empty() {
                    told.push(Told::new(known, says));
                }
            }
            Ok(())
        })?;
        let elements = Elements(elements);

        let feature = match elements.need("Record1/FeatureType")? {
            "PRF" => Feature::Profile,
            "SUR" => Feature::Surface,
            other => return Err(wrong("Record1/FeatureType", other, "PRF (a profile) or SUR (a surface)")),
        };
        let (x, y) = (elements.axis("CX")?, elements.axis("CY")?);
        let z = elements.axis("CZ")?;
        let z = z.ok_or_else(|| wrong("Record1/Axes/CZ/AxisType", "I", "A, since the heights are stored"))?;
        let step = match x {
            Some(_) => None,
            None => Some(step(elements.need("Record1/Axes/CX/Increment")?)?),
        };
        let (size_x, size_y) = size(&elements, feature)?;

        let link = elements.link("Record3/DataLink/PointDataLink")?;
        let store = match (link, inline) {
            (Some(_), true) => return Err(X3pError::Twice { element: "Record3, the points".to_owned() }),
            (None, false) => {
                return Err(X3pError::Missing { element: "Record3/DataLink/PointDataLink".to_owned() });
            }
            (None, true) => Store::Inline,
            (Some(points), false) => {
                let md5 = elements.need("Record3/DataLink/MD5ChecksumPointData")?.to_owned();
                let sum = elements.get("Record3/DataLink/MD5ChecksumValidPoints").map(str::to_owned);
                let valid = elements.link("Record3/DataLink/ValidPointsLink")?.map(|name| (name, sum));
                Store::Linked(Link { points, md5, valid })
            }
        };
        let checksum_file = elements.link("Record4/ChecksumFile")?;
        let checksum_file =
            checksum_file.ok_or_else(|| X3pError::Missing { element: "Record4/ChecksumFile".to_owned() })?;
        Ok(Header { feature, step, x, y, z, size_x, size_y, store, listed, checksum_file, told })
    }

    /// All points of the file.
    pub fn points(&self) -> u64 {
        self.size_x.saturating_mul(self.size_y)
    }
}

/// The step an incremental axis states, in µm, rounded once.
fn step(text: &str) -> Result<f64, X3pError> {
    let step = super::super::micrometres(TraceUnit::Metre, text, '.');
    step.ok_or_else(|| wrong("Record1/Axes/CX/Increment", text, "a number such as `5e-07`"))
}

/// Points of a row, and rows.
fn size(elements: &Elements, feature: Feature) -> Result<(u64, u64), X3pError> {
    if elements.get("Record3/ListDimension").is_some() {
        let count = elements.count("Record3/ListDimension")?;
        if feature == Feature::Surface {
            return Err(wrong("Record3/ListDimension", &count.to_string(), "a matrix, which has rows"));
        }
        return Ok((count, 1));
    }
    let [x, y, z] = ["SizeX", "SizeY", "SizeZ"].map(|size| format!("Record3/MatrixDimension/{size}"));
    let (size_x, size_y, size_z) = (elements.count(&x)?, elements.count(&y)?, elements.count(&z)?);
    if size_z != 1 {
        return Err(wrong(&z, &size_z.to_string(), "1, one layer"));
    }
    if feature == Feature::Profile && size_y != 1 {
        return Err(wrong(&y, &size_y.to_string(), "1 of a profile"));
    }
    if size_x.checked_mul(size_y).is_none_or(|points| points > LARGEST_MEMBER) {
        return Err(X3pError::TooLarge { what: "the matrix of points".to_owned(), limit: LARGEST_MEMBER });
    }
    Ok((size_x, size_y))
}
