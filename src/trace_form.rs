//! How a table of text is laid out: said once by the shop for each instrument's export.

use rust_decimal::Decimal;
use serde::Deserialize;
use serde::Serialize;

use crate::logger::DecimalMark;
use crate::numeric;
use crate::units::Quantity;
use crate::units::Unit;

/// Largest height either way, and largest step, in µm: one metre. Our own limit; beyond it a unit is wrong.
pub const LARGEST: f64 = 1e6;

/// Smallest step, in µm: one picometre. Our own limit; below it a unit is wrong.
pub const SMALLEST_STEP: f64 = 1e-6;

/// How far a point may lie from its place on an even grid, as a share of the step, unless the caller says
/// otherwise. Our own choice: 1 %.
pub const UNIFORM_WITHIN: f64 = 0.01;

/// Layouts of traces (`traces.yaml`).
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TraceForms {
    /// Every layout a record may name.
    pub traces: Vec<NamedForm>,
}

/// A layout with its id.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NamedForm {
    /// Id, as records write it.
    pub form: String,
    /// Whose export it is.
    pub what: String,
    /// The layout.
    pub layout: TraceForm,
}

/// Layout of a table of text. Either `x` and `unit_x` are said, or `spacing`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TraceForm {
    /// What parts the cells of a line.
    pub delimiter: Delimiter,
    /// What parts whole and fraction of a number; left out: the point.
    #[serde(default)]
    pub decimal: DecimalMark,
    /// How the file's letters are coded; left out: UTF-8.
    #[serde(default)]
    pub encoding: Encoding,
    /// Lines before the header, or before the first height where no column is named by its header.
    #[serde(default)]
    pub skip_lines: u32,
    /// Column of the positions along the trace; left out where the file has none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub x: Option<Column>,
    /// Column of the heights.
    pub z: Column,
    /// Unit of the positions.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit_x: Option<TraceUnit>,
    /// Unit of the heights.
    pub unit_z: TraceUnit,
    /// Step between neighbouring points, where the file has no positions.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spacing: Option<Quantity>,
    /// How far a position may lie from its place on an even grid, as a share of the step, above 0 and below
    /// 0.5, as in `0.05 ratio`; left out: [`UNIFORM_WITHIN`]. An export that prints few digits needs more.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uniform_within: Option<Quantity>,
}

/// A column, by its number counted from 1, or by its header exactly as the file has it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Column {
    /// Its number, from 1.
    Number(u32),
    /// Its header.
    Header(String),
}

/// What parts the cells of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Delimiter {
    /// `,`
    #[serde(rename = ",")]
    Comma,
    /// `;`
    #[serde(rename = ";")]
    Semicolon,
    /// A tab.
    #[serde(rename = "tab")]
    Tab,
    /// Spaces or tabs, any number of them.
    #[serde(rename = "space")]
    Space,
}

impl Delimiter {
    /// The character, a space for spaces.
    pub const fn mark(self) -> char {
        match self {
            Delimiter::Comma => ',',
            Delimiter::Semicolon => ';',
            Delimiter::Tab => '\t',
            Delimiter::Space => ' ',
        }
    }
}

/// How the letters of a file are coded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum Encoding {
    /// UTF-8, with or without a mark at its beginning.
    #[default]
    #[serde(rename = "UTF-8")]
    Utf8,
    /// One byte a letter (ISO 8859-1), as older instruments write µ.
    #[serde(rename = "Latin-1")]
    Latin1,
}

/// Why a layout cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum FormError {
    /// Neither a step nor positions.
    #[error("the layout says neither `spacing` nor `x`: expected one of them; add the step, as in `0.5 µm`")]
    NoSpacing,
    /// Both.
    #[error(
        "the layout says `spacing` and `x`: expected one of them; the step of a file with positions is theirs"
    )]
    SpacingTwice,
    /// Positions without unit.
    #[error("the layout says `x` without `unit_x`: expected nm, µm, mm, m, µin or in")]
    NoUnitX,
    /// A unit of positions without positions.
    #[error("the layout says `unit_x` without `x`: name the column of the positions, or take the unit away")]
    UnitXAlone,
    /// A step that is none.
    #[error("the layout says `spacing: {0}`: expected a length from 0.000001 µm to 1 m, as in `0.5 µm`")]
    Spacing(Quantity),
    /// Column numbers begin at 1.
    #[error("the layout says column 0: columns count from 1")]
    ColumnZero,
    /// Positions and heights from one column.
    #[error("the layout takes `x` and `z` from one column: expected two")]
    OneColumn,
    /// A comma cannot do both.
    #[error("the layout parts cells and decimals by a comma: expected another delimiter, as in `;`")]
    CommaTwice,
    /// A tolerance that is none.
    #[error(
        "the layout says `uniform_within: {0}`: expected a share of the step above 0 and below 0.5, as in \
         `0.05 ratio`"
    )]
    Within(Quantity),
}

impl TraceForm {
    /// Whether the layout can be used, whatever the file.
    ///
    /// # Errors
    /// Says what is missing or does not go together.
    pub fn check(&self) -> Result<(), FormError> {
        match (&self.x, &self.spacing) {
            (None, None) => return Err(FormError::NoSpacing),
            (Some(_), Some(_)) => return Err(FormError::SpacingTwice),
            _ => {}
        }
        if self.x.is_some() && self.unit_x.is_none() {
            return Err(FormError::NoUnitX);
        }
        if self.x.is_none() && self.unit_x.is_some() {
            return Err(FormError::UnitXAlone);
        }
        if let Some(spacing) = self.spacing {
            self.step().ok_or(FormError::Spacing(spacing))?;
        }
        if self.z == Column::Number(0) || self.x == Some(Column::Number(0)) {
            return Err(FormError::ColumnZero);
        }
        if self.x.as_ref() == Some(&self.z) {
            return Err(FormError::OneColumn);
        }
        if self.delimiter == Delimiter::Comma && self.decimal == DecimalMark::Comma {
            return Err(FormError::CommaTwice);
        }
        let whole = |share: Quantity| {
            let (least, most) = (Decimal::ZERO, Decimal::new(5, 1));
            share.unit() == Unit::Ratio && share.value() > least && share.value() < most
        };
        match self.uniform_within {
            Some(share) if !whole(share) => Err(FormError::Within(share)),
            _ => Ok(()),
        }
    }

    /// The step the layout gives, in µm, when it is one.
    pub fn step(&self) -> Option<f64> {
        let step = length_in_micrometres(self.spacing.as_ref()?)?;
        (SMALLEST_STEP..=LARGEST).contains(&step).then_some(step)
    }

    /// How far a position may lie from its place, as a share of the step.
    pub fn share(&self) -> f64 {
        self.uniform_within.map_or(UNIFORM_WITHIN, |share| numeric::number(share.value()))
    }

    /// Whether the line after those skipped is a header.
    pub fn has_header(&self) -> bool {
        matches!(self.z, Column::Header(_)) || matches!(self.x, Some(Column::Header(_)))
    }
}

/// Units a trace may be given in. A closed list of its own, since a trace may be in nanometres or metres,
/// which no record is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum TraceUnit {
    /// Nanometre, 0.001 µm.
    #[serde(rename = "nm")]
    Nanometre,
    /// Micrometre. Written with either code point of µ, or `um`.
    #[serde(rename = "µm", alias = "\u{3bc}m", alias = "um")]
    Micrometre,
    /// Millimetre, 1000 µm.
    #[serde(rename = "mm")]
    Millimetre,
    /// Metre, 1,000,000 µm.
    #[serde(rename = "m")]
    Metre,
    /// Microinch, 0.0254 µm exactly.
    #[serde(rename = "µin", alias = "\u{3bc}in", alias = "uin")]
    Microinch,
    /// Inch, 25,400 µm exactly.
    #[serde(rename = "in")]
    Inch,
}

impl TraceUnit {
    /// The one way it is printed.
    pub const fn symbol(self) -> &'static str {
        match self {
            TraceUnit::Nanometre => "nm",
            TraceUnit::Micrometre => "µm",
            TraceUnit::Millimetre => "mm",
            TraceUnit::Metre => "m",
            TraceUnit::Microinch => "µin",
            TraceUnit::Inch => "in",
        }
    }

    /// Whole factor and power of ten that lead to µm (1 in = 25.4 mm exactly).
    pub const fn factor(self) -> (u128, i32) {
        match self {
            TraceUnit::Nanometre => (1, -3),
            TraceUnit::Micrometre => (1, 0),
            TraceUnit::Millimetre => (1, 3),
            TraceUnit::Metre => (1, 6),
            TraceUnit::Microinch => (254, -4),
            TraceUnit::Inch => (254, 2),
        }
    }
}

/// A length as recorded, in µm; `None` when it is no length or beyond a decimal.
pub fn length_in_micrometres(length: &Quantity) -> Option<f64> {
    let factor = match length.unit() {
        Unit::Micrometre => Decimal::ONE,
        Unit::Millimetre => Decimal::from(1000),
        Unit::Microinch => Decimal::new(254, 4),
        Unit::Inch => Decimal::from(25_400),
        Unit::Angstrom => Decimal::new(1, 4),
        _ => return None,
    };
    length.value().checked_mul(factor).map(numeric::number)
}
