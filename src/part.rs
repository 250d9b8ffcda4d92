//! A part specification: what a purchaser asks of a part number and revision, reviewed.

mod disclosure;

use serde::Deserialize;
use serde::Serialize;

pub use disclosure::Discloses;
pub use disclosure::Item;
pub use disclosure::YesNo;

use crate::moment::Date;
use crate::record::Characteristic;
use crate::record::TestKind;
use crate::sampling::Name;
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
    /// What of its making decides what may be done with it: `[welded]`; `[]` when nothing in the list fits. Left
    /// out, nobody said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub conditions: Option<Vec<PartCondition>>,
    /// Who compared this file with the drawing and the order, and when.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reviewed: Option<Review>,
    /// The call-outs, each one thing asked.
    pub calls_for: Vec<CallOut>,
    /// Approvals of the shop the purchaser asks for, by name or number.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub needs_approvals: Vec<String>,
    /// Statements to print word for word on every certificate of this part.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub statements: Vec<Statement>,
    /// Named particulars to print on every certificate of this part.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub fields: Vec<AskedField>,
    /// What the purchaser may see of what the shop recorded, where the order does not say.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub discloses: Option<Discloses>,
    /// A control marking: printed on every page, and the record is withheld whatever is disclosed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub controlled: Option<String>,
}

/// Words of the purchaser's that a certificate must carry, and what they rest on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Statement {
    /// The words, printed as they stand.
    pub text: String,
    /// What must be found for them to be true: requirement ids, `call-out` and a standard, or [`SIGNATORY`].
    #[serde(default)]
    pub needs: Vec<String>,
    /// Their language, as a tag of BCP 47: `de`, `fr-CA`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub language: Option<String>,
}

/// The need of a statement that no finding can carry: whoever signs answers for it.
pub const SIGNATORY: &str = "signatory";

/// How the need of a whole call-out begins; the standard follows.
pub const CALL_OUT: &str = "call-out ";

/// A particular the purchaser wants to read under a name of its own.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AskedField {
    /// Its name: `melt source`.
    pub name: String,
    /// What of the record answers it; left out: the record's `fields`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<FieldSource>,
}

/// What of a record can answer a named particular.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum FieldSource {
    /// The shop's lot number.
    #[serde(rename = "lot")]
    Lot,
    /// The purchaser's own lot number.
    #[serde(rename = "purchaser lot")]
    PurchaserLot,
    /// The grade.
    #[serde(rename = "grade")]
    Grade,
    /// The heat numbers.
    #[serde(rename = "heats")]
    Heats,
    /// First and last day of processing.
    #[serde(rename = "processed")]
    Processed,
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

impl Use {
    /// Every use.
    pub const ALL: &'static [Use] = &[
        Use::FoodContact,
        Use::Pharmaceutical,
        Use::Medical,
        Use::Implant,
        Use::Semiconductor,
        Use::Aerospace,
        Use::General,
    ];

    /// Its name in part specifications and packs.
    pub const fn name(self) -> &'static str {
        match self {
            Use::FoodContact => "food contact",
            Use::Pharmaceutical => "pharmaceutical",
            Use::Medical => "medical",
            Use::Implant => "implant",
            Use::Semiconductor => "semiconductor",
            Use::Aerospace => "aerospace",
            Use::General => "general",
        }
    }
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
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CallOut {
    /// Designation with edition: `ASTM A967/A967M-17`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub standard: Option<String>,
    /// Treatment of that standard: `Nitric 2`. Left out, the shop chooses and the record says which.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub treatment: Option<String>,
    /// Class of that standard: `2`. Left out, the standard's own default stands, where it has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub class: Option<String>,
    /// Tests ordered under that standard.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub tests: Vec<TestKind>,
    /// Pieces to test per lot and test, where the order asks for more than the standard does.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub test_pieces: Option<u64>,
    /// Sampling plan for looks and tests.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sampling: Option<Name>,
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
    /// Cut-off of the filter, roughness.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cutoff: Option<Quantity>,
    /// How roughness values are held against the limit; left out: none may lie beyond it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rule: Option<RoughnessRule>,
    /// Pieces to measure.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pieces: Option<u64>,
}

/// How roughness values are held against a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum RoughnessRule {
    /// No value may lie beyond it.
    #[serde(rename = "maximum")]
    Maximum,
    /// At most 16 per cent of the values of all sampling lengths may lie beyond it.
    #[serde(rename = "16 %")]
    SixteenPercent,
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
    /// The purchaser's engineering authorises the second method of a standard that asks for it: citric acid.
    #[serde(rename = "method 2 authorized")]
    MethodTwoAuthorized,
    /// The parts are fasteners or standard parts, for which a standard sets a class of its own.
    #[serde(rename = "fasteners or standard parts")]
    FastenersOrStandardParts,
    /// The purchaser may look at the process records.
    #[serde(rename = "records open to inspection")]
    RecordsOpen,
    /// A separate neutralisation after the bath.
    #[serde(rename = "neutralization")]
    Neutralization,
    /// A bake after treatment, against hydrogen.
    #[serde(rename = "hydrogen relief")]
    HydrogenRelief,
}

impl OrderOption {
    /// Every option.
    pub const ALL: &'static [OrderOption] = &[
        OrderOption::DichromatePostTreatment,
        OrderOption::CouponsAllowed,
        OrderOption::MethodTwoAuthorized,
        OrderOption::FastenersOrStandardParts,
        OrderOption::RecordsOpen,
        OrderOption::Neutralization,
        OrderOption::HydrogenRelief,
    ];

    /// Its name in part specifications, orders and packs.
    pub const fn name(self) -> &'static str {
        match self {
            OrderOption::DichromatePostTreatment => "dichromate post-treatment",
            OrderOption::CouponsAllowed => "coupons allowed",
            OrderOption::MethodTwoAuthorized => "method 2 authorized",
            OrderOption::FastenersOrStandardParts => "fasteners or standard parts",
            OrderOption::RecordsOpen => "records open to inspection",
            OrderOption::Neutralization => "neutralization",
            OrderOption::HydrogenRelief => "hydrogen relief",
        }
    }
}

/// What of a part's making decides what may be done with it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum PartCondition {
    /// Has welds.
    #[serde(rename = "welded")]
    Welded,
    /// Has brazed or soldered joints.
    #[serde(rename = "brazed")]
    Brazed,
    /// Is a casting.
    #[serde(rename = "cast")]
    Cast,
    /// Has carburized surfaces.
    #[serde(rename = "carburized")]
    Carburized,
    /// Has nitrided surfaces.
    #[serde(rename = "nitrided")]
    Nitrided,
    /// Has scale from heat treatment on it.
    #[serde(rename = "heat-treat scale")]
    Scale,
    /// Has joints, threads or cavities in which acid stays.
    #[serde(rename = "acid-trapping joints")]
    Trapping,
    /// Is marked by laser or etching.
    #[serde(rename = "marked")]
    Marked,
    /// Is hardened.
    #[serde(rename = "hardened")]
    Hardened,
}

impl PartCondition {
    /// Every condition.
    pub const ALL: &'static [PartCondition] = &[
        PartCondition::Welded,
        PartCondition::Brazed,
        PartCondition::Cast,
        PartCondition::Carburized,
        PartCondition::Nitrided,
        PartCondition::Scale,
        PartCondition::Trapping,
        PartCondition::Marked,
        PartCondition::Hardened,
    ];

    /// Its name in part specifications and packs.
    pub const fn name(self) -> &'static str {
        match self {
            PartCondition::Welded => "welded",
            PartCondition::Brazed => "brazed",
            PartCondition::Cast => "cast",
            PartCondition::Carburized => "carburized",
            PartCondition::Nitrided => "nitrided",
            PartCondition::Scale => "heat-treat scale",
            PartCondition::Trapping => "acid-trapping joints",
            PartCondition::Marked => "marked",
            PartCondition::Hardened => "hardened",
        }
    }
}
