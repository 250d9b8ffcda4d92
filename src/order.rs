//! A purchase order, as the shop took it in.

use serde::Deserialize;
use serde::Serialize;

use crate::moment::Date;
use crate::part::AskedField;
use crate::part::CallOut;
use crate::part::Review;
use crate::part::Statement;

/// A purchase order.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Order {
    /// Purchase order number.
    pub order: String,
    /// The purchaser, by its id in the shop's book.
    pub purchaser: String,
    /// Day of the order.
    pub dated: Date,
    /// Who compared this file with the purchaser's paper, and when.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reviewed: Option<Review>,
    /// How results at the limit are decided.
    #[serde(default)]
    pub decision_rule: DecisionRule,
    /// Lines.
    pub lines: Vec<Line>,
    /// Whether readings are printed in the other unit system too, in parentheses.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub print_conversions: bool,
}

/// One line of an order.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Line {
    /// Line number.
    pub line: String,
    /// Part number.
    pub part: String,
    /// Drawing revision.
    pub revision: String,
    /// Pieces ordered.
    pub quantity: u64,
    /// Call-outs of this line beyond those of the part specification.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub also_calls_for: Vec<CallOut>,
    /// Statements to print word for word, beyond those of the part specification.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub statements: Vec<Statement>,
    /// Named particulars to print, beyond those of the part specification.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub fields: Vec<AskedField>,
}

/// How a reading is held against a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum DecisionRule {
    /// The reading itself, unrounded; the limit itself conforms. No allowance for uncertainty.
    #[default]
    #[serde(rename = "simple acceptance")]
    SimpleAcceptance,
}

impl DecisionRule {
    /// The rule in the words of the certificate.
    pub const fn words(self) -> &'static str {
        match self {
            DecisionRule::SimpleAcceptance => {
                "Simple acceptance: each reading is compared with the limit as recorded, unrounded, in the \
                 unit of the record; a reading at the limit conforms; measurement uncertainty is not added."
            }
        }
    }
}
