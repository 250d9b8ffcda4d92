//! Sampling plans for attributes, as tables over lot sizes.

use serde::Deserialize;
use serde::Serialize;

use crate::moment::Date;
use crate::pack::Basis;
use crate::sampling::Name;
use crate::sampling::Row;
use crate::sampling::Severity;

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
    pub level: Name,
    /// Acceptable quality level, per cent nonconforming.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub aql: Option<String>,
    /// How severe inspection is, where earlier lots decide about it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub switched: Option<Switched>,
    /// Rows, smallest lots first, without a hole.
    pub rows: Vec<Row>,
}

/// How severely a lot is inspected, by the lots before it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Switched {
    /// The standard whose inspection it is: its history is its own.
    pub standard: String,
    /// The severity.
    pub severity: Severity,
    /// Whether inspection was stopped: nothing is accepted until corrective action.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub stopped: bool,
    /// Why, in words.
    pub because: String,
    /// The first lot it held for; left out: this one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub since: Option<String>,
    /// Lots before this one, of the same purchaser, part and standard, that were looked at.
    pub lots: u64,
    /// The last of them, so that the next is not judged without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub after: Option<String>,
}

impl SamplingTable {
    /// Pieces to inspect of a lot of this size, and the most failures with which it is accepted: one less than the
    /// rejection number, which is more than the acceptance number on reduced inspection.
    pub fn for_lot(&self, size: u64) -> Option<(u64, u64)> {
        let row =
            self.rows.iter().find(|r| size >= r.lot_from && r.lot_to.is_none_or(|most| size <= most))?;
        Some((row.pieces(size), row.reject.saturating_sub(1)))
    }

    /// Whether it is the table of this plan for inspection under this standard.
    pub fn is_for(&self, plan: &Name, standard: Option<&str>) -> bool {
        self.level == *plan
            && self.switched.as_ref().is_none_or(|switched| Some(switched.standard.as_str()) == standard)
    }
}

/// What the shop knows about its sampling (`sampling.yaml`): plans entered from its controlled copies, and what
/// happened beside the lots.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ShopSampling {
    /// Plans that are not known here, or not surely.
    #[serde(default)]
    pub plans: Vec<OwnPlan>,
    /// What decides about severity beside the lots.
    #[serde(default)]
    pub events: Vec<SamplingEvent>,
}

/// A plan as the shop's controlled copy has it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OwnPlan {
    /// The plan as orders name it.
    pub plan: Name,
    /// Which copy it was taken from.
    pub copy: String,
    /// By whom.
    pub by: String,
    /// When.
    pub on: Date,
    /// Rows, smallest lots first, without a hole.
    pub rows: Vec<Row>,
}

/// What happened.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum SamplingHappened {
    /// The cause of a bad run was found and removed: inspection that was stopped goes on, tightened.
    #[serde(rename = "corrective action")]
    CorrectiveAction,
    /// Production became irregular or was held up: reduced inspection ends.
    #[serde(rename = "irregular production")]
    Irregular,
    /// Production is steady again.
    #[serde(rename = "steady production")]
    Steady,
    /// The responsible authority wants reduced inspection where the rules allow it.
    #[serde(rename = "reduced inspection authorised")]
    ReducedAuthorised,
    /// The responsible authority wants it no longer.
    #[serde(rename = "reduced inspection ended")]
    ReducedEnded,
}

/// Something beside the lots that decides how severe inspection is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SamplingEvent {
    /// The day; it holds for lots inspected on that day and later.
    pub on: Date,
    /// The purchaser, by id.
    pub purchaser: String,
    /// The part, any revision.
    pub part: String,
    /// The standard whose inspection it is; left out: every one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub standard: Option<String>,
    /// What happened.
    pub what: SamplingHappened,
    /// Who says so.
    pub by: String,
    /// Why, or which action.
    pub why: String,
}
