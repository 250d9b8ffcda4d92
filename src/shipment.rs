//! A shipment: a packing slip and what lies on it. One certificate covers one shipment.

use serde::Deserialize;
use serde::Serialize;

/// What one packing slip sends.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Shipment {
    /// Packing slip number.
    pub slip: String,
    /// The purchaser, by its id in the shop's book.
    pub purchaser: String,
    /// Lots on the slip.
    pub lots: Vec<ShippedLot>,
}

/// Pieces of one lot on a slip.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ShippedLot {
    /// The shop's lot number.
    pub lot: String,
    /// Pieces sent. Left out: all that were accepted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pieces: Option<u64>,
    /// The runs they are of, when a part of the lot is sent and the rest stays. Left out: any run.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub runs: Vec<String>,
    /// How that part is kept apart from the rest: where it lies, and who counted it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub segregated: Option<String>,
}

/// The part of a lot a certificate covers, when it is not the whole. It rides in what was judged.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CoveredRuns {
    /// The runs.
    pub runs: Vec<String>,
    /// Pieces of them.
    pub pieces: u64,
    /// How they are kept apart from the rest.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub segregated: Option<String>,
}
