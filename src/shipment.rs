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
}
