//! Words of the calculations on raw files: traces and logs.

use std::path::PathBuf;

use clap::Args;
use clap::ValueEnum;

use super::Draw;
use super::Limits;
use crate::columns::Separator;
use crate::logger::DecimalMark;
use crate::moment::Moment;
use crate::trace_form::Column;
use crate::trace_form::Delimiter;
use crate::trace_form::TraceUnit;
use crate::units::Quantity;

/// What stands between cells.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Mark {
    /// A comma
    Comma,
    /// A semicolon
    Semicolon,
    /// A tab stop
    Tab,
}

impl From<Mark> for Separator {
    fn from(mark: Mark) -> Separator {
        match mark {
            Mark::Comma => Separator::Comma,
            Mark::Semicolon => Separator::Semicolon,
            Mark::Tab => Separator::Tab,
        }
    }
}

/// Decimal mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Point {
    /// 20.5
    Point,
    /// 20,5
    Comma,
}

impl From<Point> for DecimalMark {
    fn from(mark: Point) -> DecimalMark {
        match mark {
            Point::Point => DecimalMark::Point,
            Point::Comma => DecimalMark::Comma,
        }
    }
}

/// What parts the cells of a trace.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Parts {
    /// A comma
    Comma,
    /// A semicolon
    Semicolon,
    /// A tab stop
    Tab,
    /// Spaces or tabs, any number of them
    Space,
}

impl From<Parts> for Delimiter {
    fn from(parts: Parts) -> Delimiter {
        match parts {
            Parts::Comma => Delimiter::Comma,
            Parts::Semicolon => Delimiter::Semicolon,
            Parts::Tab => Delimiter::Tab,
            Parts::Space => Delimiter::Space,
        }
    }
}

/// What is done at the ends of a trace.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Ends {
    /// Half a cut-off or more is left out on each side
    Drop,
    /// The evaluation length may reach to the ends
    Normalise,
}

fn unit(text: &str) -> Result<TraceUnit, String> {
    match text.trim().replace('\u{3bc}', "µ").as_str() {
        "nm" => Ok(TraceUnit::Nanometre),
        "µm" | "um" => Ok(TraceUnit::Micrometre),
        "mm" => Ok(TraceUnit::Millimetre),
        "m" => Ok(TraceUnit::Metre),
        "µin" | "uin" => Ok(TraceUnit::Microinch),
        "in" => Ok(TraceUnit::Inch),
        _ => Err("one of: nm, µm, mm, m, µin, in".to_owned()),
    }
}

/// A column by its number from 1, or by its heading.
fn column(text: &str) -> Result<Column, String> {
    Ok(text.parse().map_or_else(|_| Column::Header(text.to_owned()), Column::Number))
}

/// How a table of text is laid out, where the shop's traces.yaml does not say it.
#[derive(Debug, Args)]
#[command(next_help_heading = "Layout of a table of text")]
pub struct TraceLayout {
    /// Column of the heights: its number from 1, or its heading
    #[arg(long, value_name = "COLUMN", value_parser = column, requires = "unit_z")]
    pub z: Option<Column>,
    /// Unit of the heights: nm, µm (um), mm, m, µin (uin), in
    #[arg(long, value_name = "UNIT", value_parser = unit, requires = "z")]
    pub unit_z: Option<TraceUnit>,
    /// Step between points, as in "0.5 µm", where no column has their positions
    #[arg(long, value_name = "LENGTH", requires = "z", conflicts_with = "x")]
    pub spacing: Option<Quantity>,
    /// Column of the positions
    #[arg(long, value_name = "COLUMN", value_parser = column, requires_all = ["z", "unit_x"])]
    pub x: Option<Column>,
    /// Unit of the positions
    #[arg(long, value_name = "UNIT", value_parser = unit, requires = "x")]
    pub unit_x: Option<TraceUnit>,
    /// What parts the cells of a line
    #[arg(long, value_name = "MARK", default_value = "semicolon")]
    pub delimiter: Parts,
    /// Decimal mark
    #[arg(long, value_name = "MARK", default_value = "point")]
    pub decimal: Point,
    /// Lines before the headings or the first height
    #[arg(long, value_name = "LINES", default_value = "0")]
    pub skip_lines: u32,
    /// The letters are coded as Latin-1, one byte each, and not as UTF-8
    #[arg(long)]
    pub latin_1: bool,
}

/// Arguments of `calculate roughness`.
#[derive(Debug, Args)]
pub struct Roughness {
    /// The trace: X3P, or a table of text
    pub file: PathBuf,
    /// A trace taken before the treatment, for the improvement
    #[arg(long, value_name = "FILE")]
    pub before: Option<PathBuf>,
    /// Form of the shop's traces.yaml that says how a table of text is laid out; an X3P file needs none
    #[arg(long, value_name = "FORM", conflicts_with = "z")]
    pub form: Option<String>,
    /// The same for the file before, where it is laid out otherwise
    #[arg(long, value_name = "FORM", requires = "before")]
    pub before_form: Option<String>,
    /// Row of an X3P surface, from 1
    #[arg(long, value_name = "ROW")]
    pub row: Option<u32>,
    /// Cut-off, as in "0.8 mm"; left out: chosen by the limit (ISO 21920-3), without one by the Ra found (ISO
    /// 4288)
    #[arg(long, value_name = "LENGTH")]
    pub cutoff: Option<Quantity>,
    /// Sampling lengths
    #[arg(long, value_name = "NUMBER", default_value = "5")]
    pub lengths: u32,
    /// What is done at the ends of the trace
    #[arg(long, value_name = "WHAT", default_value = "drop")]
    pub ends: Ends,
    /// Most Ra allowed
    #[arg(long, value_name = "LENGTH")]
    pub ra_at_most: Option<Quantity>,
    /// Most Rz allowed
    #[arg(long, value_name = "LENGTH")]
    pub rz_at_most: Option<Quantity>,
    /// The profiles.
    #[command(flatten)]
    pub draw: Draw,
    /// Its layout.
    #[command(flatten)]
    pub layout: TraceLayout,
}

/// Arguments of `calculate log`.
#[derive(Debug, Args)]
pub struct Log {
    /// The file the logger wrote
    pub file: PathBuf,
    /// The logger, by its id in the shop's loggers.yaml
    #[arg(long, value_name = "ID")]
    pub logger: String,
    /// What is looked at, as the map has it: temperature, pH, conductivity, current, voltage, humidity; left
    /// out: its first column
    #[arg(long, value_name = "WHAT")]
    pub measures: Option<String>,
    /// When the interval begins, with its offset, as in 2026-11-24T09:12-05:00; left out: with the first
    /// reading
    #[arg(long, value_name = "TIME")]
    pub from: Option<Moment>,
    /// When it ends; left out: with the last reading
    #[arg(long, value_name = "TIME")]
    pub to: Option<Moment>,
    /// The window.
    #[command(flatten)]
    pub window: Limits,
    /// Longest time between readings taken as covered; left out: twice the logger's interval
    #[arg(long, value_name = "TIME")]
    pub allowed_gap: Option<Quantity>,
    /// The log over the interval.
    #[command(flatten)]
    pub draw: Draw,
}
