//! A part specification: what a purchaser asks of a part number and revision, reviewed.

use serde::Deserialize;
use serde::Serialize;

use crate::moment::Date;
use crate::record::Characteristic;
use crate::record::TestKind;
use crate::units::Quantity;

/// What a purchaser asks of one part number at one revision.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PartSpecification {
    /// Part number.
    pub part: String,
    /// Drawing revision.
    pub revision: String,
    /// What the part is.
    pub description: String,
    /// The purchaser, by its id in the shop's book.
    pub purchaser: String,
    /// What the finished surface will touch or serve; decides which tests may be made on it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub used_for: Option<Use>,
    /// Who compared this file with the drawing and the order, and when.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reviewed: Option<Review>,
    /// The call-outs, each one thing asked.
    pub calls_for: Vec<CallOut>,
    /// Approvals of the shop the purchaser asks for, by name or number.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub needs_approvals: Vec<String>,
}

/// What the finished surface is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Use {
    /// Touches food or drink, or is used to make it.
    #[serde(rename = "food contact")]
    FoodContact,
    /// Makes or holds medicines.
    #[serde(rename = "pharmaceutical")]
    Pharmaceutical,
    /// Surgical and dental instruments.
    #[serde(rename = "medical")]
    Medical,
    /// Stays in a body.
    #[serde(rename = "implant")]
    Implant,
    /// Process gas, vacuum and chemicals for semiconductors.
    #[serde(rename = "semiconductor")]
    Semiconductor,
    /// Flies.
    #[serde(rename = "aerospace")]
    Aerospace,
    /// None of these.
    #[serde(rename = "general")]
    General,
}

/// That somebody compared a document with what the purchaser sent.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Review {
    /// Who.
    pub by: String,
    /// On which day.
    pub on: Date,
}

/// One call-out: a standard with its options, or a limit of the purchaser's own. Exactly one of
/// `standard` and `limit` is given.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CallOut {
    /// Designation with edition: `ASTM A967/A967M-17`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub standard: Option<String>,
    /// Treatment of that standard: `Nitric 2`. Left out, the shop chooses and the record says which.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub treatment: Option<String>,
    /// Tests ordered under that standard.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub tests: Vec<TestKind>,
    /// Pieces to test per lot and test, where the order asks for more than the standard does.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub test_pieces: Option<u64>,
    /// Sampling plan for looks and tests.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sampling: Option<SamplingPlan>,
    /// Options of the standard that apply only when ordered.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub options: Vec<OrderOption>,
    /// A limit of the purchaser's own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limit: Option<Characteristic>,
    /// Its upper limit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_most: Option<Quantity>,
    /// Its lower limit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_least: Option<Quantity>,
    /// Pieces to measure.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pieces: Option<u64>,
}

/// Options a standard leaves to the purchaser.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum OrderOption {
    /// The chromate treatment after passivation.
    #[serde(rename = "dichromate post-treatment")]
    DichromatePostTreatment,
    /// Coupons may stand for parts in tests.
    #[serde(rename = "coupons allowed")]
    CouponsAllowed,
}

/// A single sampling plan for attributes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum SamplingPlan {
    /// ASTM B602 level I: AQL 0.65 %.
    #[serde(rename = "B602 level I")]
    B602LevelI,
    /// ASTM B602 level II: AQL 1.5 %.
    #[serde(rename = "B602 level II")]
    B602LevelII,
    /// ASTM B602 level III: AQL 2.5 %.
    #[serde(rename = "B602 level III")]
    B602LevelIII,
}
