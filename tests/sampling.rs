//! Sampling: every cell of the tables, the plans derived from them, the curves, zero acceptance, switching.
#![allow(clippy::unwrap_used, reason = "a test stops at the first surprise")]

mod curves;
mod properties;
mod switching;
mod tables;

use brightproof::sampling::Aql;
use brightproof::sampling::Tables;
use rust_decimal::Decimal;

/// The tables of the house.
pub fn tables() -> Tables {
    serde_yaml::from_str(include_str!("../rules/sampling/mil-std-105e.yaml")).unwrap()
}

/// A decimal.
pub fn d(text: &str) -> Decimal {
    text.parse().unwrap()
}

/// An acceptable quality level.
pub fn aql(text: &str) -> Aql {
    Aql::of(text).unwrap()
}

/// Rows of a file of facts, without the heading.
pub fn facts(text: &str) -> Vec<Vec<String>> {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    reader.records().map(|row| row.unwrap().iter().map(str::to_owned).collect()).collect()
}
