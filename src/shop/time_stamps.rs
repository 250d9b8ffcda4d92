//! The time-stamping service that a shop's register heads are sent to.

use serde::Deserialize;
use serde::Serialize;

/// A time-stamping service (RFC 3161).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TimeStamps {
    /// Its `http://` address.
    pub url: String,
    /// File in the shop folder: the root certificate its stamps lead to, or its own certificate; PEM or DER.
    pub root: String,
    /// The policy asked for, as an object identifier; left out: the service's own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub policy: Option<String>,
    /// Most seconds to wait for its answer; left out: 10.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wait: Option<u64>,
}

/// Seconds to wait where the shop says nothing.
const WAIT: u64 = 10;

impl TimeStamps {
    /// Most seconds to wait for an answer.
    pub fn patience(&self) -> u64 {
        self.wait.unwrap_or(WAIT)
    }
}
