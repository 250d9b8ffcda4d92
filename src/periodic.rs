//! A periodic test: made of a process and a bath every so often, not of each lot.

use serde::Deserialize;
use serde::Serialize;

use crate::record::Test;
use crate::units::Quantity;

/// One periodic test (`periodic/*.yaml`).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PeriodicTest {
    /// Its number.
    pub periodic: String,
    /// The treatment it speaks for, by its name in the standard: `Nitric 2`.
    pub process: String,
    /// The bath, by its id in the shop's book.
    pub bath: String,
    /// How long it speaks for what is treated after it.
    pub interval: Quantity,
    /// The test, as in a record but for the runs it covers.
    pub test: Test,
}
