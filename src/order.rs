//! A purchase order, as the shop took it in.

use std::collections::BTreeMap;

use serde::Deserialize;
use serde::Serialize;

use crate::moment::Date;
use crate::part::AskedField;
use crate::part::CallOut;
use crate::part::Discloses;
use crate::part::Review;
use crate::part::Statement;
use crate::units::Percent;

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
    /// Approvals of the shop the order asks for, by name or number.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub needs_approvals: Vec<String>,
    /// Most times the same pieces may go through one treatment, the first included.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub most_rounds: Option<u64>,
    /// Whether readings are printed in the other unit system too, in parentheses.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub print_conversions: bool,
    /// Editions in force for call-outs that name none: designation and edition, as in `ASTM A967/A967M: "17"`.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub editions: BTreeMap<String, String>,
    /// What one certificate covers.
    #[serde(default, skip_serializing_if = "CertificatePer::is_slip")]
    pub certificate_per: CertificatePer,
    /// Whether pieces may be shipped before their certificate.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub certificate_to_follow: Option<ToFollow>,
    /// How far off a count by weight may be; left out, the purchaser allows none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub count_by_weight_within: Option<Percent>,
    /// To whom its certificates go. Judges nothing, and never rides in a certificate.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub certificates_to: Vec<Contact>,
    /// Work that may be done by a subcontractor and relied on: steps and tests by name, as in `electropolish`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub subcontracting: Vec<String>,
    /// Work the purchaser did itself, or had done, and says so: steps and tests by name.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub purchaser_states: Vec<String>,
    /// Whether copies of the papers its lots rest on go out beside each certificate. The certificate's data name them
    /// by their SHA-256, so they need no seal of their own.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub papers_with_certificate: bool,
    /// What the purchaser may see of what the shop recorded, item by item.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub discloses: Option<Discloses>,
    /// Whether an evidence page with pictures of what was computed follows each certificate.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub pictures: bool,
    /// A control marking: printed on every page, and the record is withheld whatever is disclosed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub controlled: Option<String>,
}

/// Somebody certificates of an order go to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Contact {
    /// A person, or an office of the purchaser.
    pub name: String,
    /// By which way.
    pub how: Way,
}

/// By which way a certificate goes to somebody.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Way {
    /// Electronic mail.
    EMail,
    /// On paper, with the parts or by post.
    Paper,
    /// Put where the purchaser's own system takes it from.
    Portal,
}

impl Way {
    /// Its word, as orders and the register write it.
    pub const fn name(self) -> &'static str {
        match self {
            Way::EMail => "e-mail",
            Way::Paper => "paper",
            Way::Portal => "portal",
        }
    }
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
    /// Releases of a blanket line, as they came in.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub releases: Vec<Release>,
}

/// One release of a blanket line.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Release {
    /// Its number.
    pub release: String,
    /// Pieces released.
    pub quantity: u64,
    /// The day they are wanted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub due: Option<Date>,
}

/// What one certificate covers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum CertificatePer {
    /// Everything on a packing slip.
    #[default]
    Slip,
    /// The pieces of one order line on a packing slip.
    Line,
}

impl CertificatePer {
    /// Whether it is the usual one.
    pub const fn is_slip(&self) -> bool {
        matches!(self, CertificatePer::Slip)
    }
}

/// Whether pieces may be shipped before their certificate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum ToFollow {
    /// They may; the certificate follows.
    Allowed,
    /// They may not.
    Refused,
}

impl Line {
    /// The pieces asked for: of the release named, else of the line. `None` for a release nobody ordered.
    pub fn asked(&self, release: Option<&str>) -> Option<u64> {
        match release {
            None => Some(self.quantity),
            Some(name) => self.releases.iter().find(|r| r.release == name).map(|r| r.quantity),
        }
    }
}

/// How a reading is held against a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum DecisionRule {
    /// The reading itself, unrounded; the limit itself conforms. No allowance for uncertainty.
    #[default]
    #[serde(rename = "simple acceptance")]
    SimpleAcceptance,
    /// The reading rounded to the last place the limit is written with, ties to the even digit, as ASTM E29 calls the
    /// rounding method.
    #[serde(rename = "rounding method")]
    RoundingMethod,
    /// The reading must lie inside the limit by the expanded uncertainty of the instrument it was read on.
    #[serde(rename = "guard band U")]
    GuardBand,
}

impl DecisionRule {
    /// The rule in the words of the certificate.
    pub const fn words(self) -> &'static str {
        match self {
            DecisionRule::SimpleAcceptance => {
                "Simple acceptance: each reading is compared with the limit as recorded, unrounded, in the \
                 unit of the record; a reading at the limit conforms; measurement uncertainty is not added."
            }
            DecisionRule::RoundingMethod => {
                "Rounding method (as in ASTM E29): each reading is rounded to the last place its limit is written with, \
                 ties to the even digit, and then compared; one rounded to the limit conforms. A limit ending in \
                 zeros of a whole number, or in another unit, is compared unrounded. Measurement uncertainty is not \
                 added."
            }
            DecisionRule::GuardBand => {
                "Guard band: each reading of an instrument must lie inside its limit by the expanded uncertainty \
                 (k = 2) that the instrument's calibration states, so that at most 2.5 % of readings just accepted \
                 are in truth beyond the limit (ILAC-G8:09/2019, binary statement with guard band w = U). Times and \
                 counts are compared as recorded."
            }
        }
    }
}
