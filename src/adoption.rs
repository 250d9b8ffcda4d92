//! Adoption: that the shop took a pack into use, against which controlled copy, figure by figure.
//!
//! Packs restate protected texts, some of it from memory. A shop confirms each recalled figure or enters
//! its own copy's; what nobody could read stays `unsure` and has no value until then.

use std::collections::BTreeMap;

use serde::Deserialize;
use serde::Serialize;

use crate::moment::Date;
use crate::pack::Check;

/// One edition of one pack taken into use (`adopted/*.yaml`).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Adoption {
    /// Id of the pack.
    pub pack: String,
    /// The edition adopted.
    pub edition: String,
    /// Who adopted it.
    pub by: String,
    /// On which day.
    pub on: Date,
    /// The controlled copy it was compared with.
    pub copy: String,
    /// The edition, or the other standard, that took this one's place, where the shop knows of one that the pack does
    /// not: orders that call this edition hold as before, and the shop is told.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub superseded_by: Option<String>,
    /// Requirement by requirement, by id.
    pub requirements: BTreeMap<String, Adopted>,
}

/// One requirement taken into use.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Adopted {
    /// Digest of what the requirement judged when it was adopted; a changed limit must be adopted again.
    pub digest: String,
    /// What the shop found in its copy.
    pub figures: Figures,
    /// The shop's own figures, when they replace recalled or unsure ones.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub check: Option<Check>,
    /// A word more, for people.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// What the shop found in its controlled copy.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Figures {
    /// As the pack has them.
    Confirmed,
    /// Others, entered from the copy.
    Own,
    /// Could not be read either: the requirement stays without evidence.
    Unsure,
    /// The copy makes no such demand. Only for requirements of which no figure is known.
    Absent,
}
