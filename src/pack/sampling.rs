//! Sampling plans for attributes, as tables over lot sizes.

use serde::Deserialize;
use serde::Serialize;

use crate::pack::Basis;

/// Sampling plans of one standard (`rules/sampling/*.yaml`).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SamplingPlans {
    /// Id of the standard.
    pub plan: String,
    /// Its designation.
    pub designation: String,
    /// How the rows are known.
    pub basis: Basis,
    /// One table a level.
    pub levels: Vec<SamplingTable>,
}

/// One sampling plan as a table over lot sizes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SamplingTable {
    /// The plan as orders name it.
    pub level: crate::part::SamplingPlan,
    /// Acceptable quality level, per cent nonconforming.
    pub aql: String,
    /// Rows, smallest lots first, without a hole.
    pub rows: Vec<SamplingRow>,
}

/// One row of a sampling table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SamplingRow {
    /// Smallest lot of the row.
    pub lot_from: u64,
    /// Largest lot of the row; left out in the last.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lot_to: Option<u64>,
    /// Pieces to inspect; the whole lot when it is smaller.
    pub sample: u64,
    /// Most failures with which the lot is accepted.
    pub accept: u64,
}

impl SamplingTable {
    /// Pieces to inspect and failures allowed for a lot of this size.
    pub fn for_lot(&self, size: u64) -> Option<(u64, u64)> {
        let row =
            self.rows.iter().find(|r| size >= r.lot_from && r.lot_to.is_none_or(|most| size <= most))?;
        Some((row.sample.min(size), row.accept))
    }
}
