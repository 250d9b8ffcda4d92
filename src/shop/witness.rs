//! Witnesses: others who see each head of the register and sign that it only grew.

use serde::Deserialize;
use serde::Serialize;

/// A witness (C2SP tlog-witness).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Witness {
    /// Its submission prefix, an `http://` address.
    pub url: String,
    /// Its cosignature key, as it hands it out: `name+id+key`.
    pub key: String,
}
