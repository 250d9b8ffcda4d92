//! How a shop releases shipments: in one step or by two people, and how the releaser is known.

use serde::Deserialize;
use serde::Serialize;

/// How shipments are released. A shop that says nothing releases in one step, by whoever holds the seal key.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ReleasePolicy {
    /// Whether one person may prepare a shipment and release it too.
    pub preparer_may_release: bool,
    /// How the person is known.
    pub authentication: Authentication,
}

/// How a releaser is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Authentication {
    /// By the person's own passphrase.
    Passphrase,
    /// Not by the tool: whoever holds the seal key names the person.
    KeyHolder,
}
