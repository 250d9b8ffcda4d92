//! A pack: one standard (or the house's own rules) as data.
//!
//! A requirement is one testable demand with a clause, a basis, a condition, a subject and one check
//! from a closed list. There is no expression language.

mod form;
mod sampling;
mod span;
mod subject;

use std::collections::BTreeMap;

use serde::Deserialize;
use serde::Serialize;

pub use form::Form;
pub use form::dimensions;
pub use form::form;
pub use form::is_house_only;
pub use sampling::OwnPlan;
pub use sampling::SamplingEvent;
pub use sampling::SamplingHappened;
pub use sampling::SamplingPlans;
pub use sampling::SamplingTable;
pub use sampling::ShopSampling;
pub use sampling::Switched;
pub use span::Meeting;
pub use span::Span;
pub use span::alike;
pub use span::meeting;
pub use span::spans;
pub use subject::Scope;
pub use subject::Subject;

use crate::alloy::Series;
use crate::part::OrderOption;
use crate::part::PartCondition;
use crate::part::Use;
use crate::record::TestKind;
use crate::units::Quantity;
use crate::units::Unit;

/// One standard as data (`rules/*.yaml`).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Pack {
    /// Stable id: `astm-a967`.
    pub pack: String,
    /// The designation printed, without edition: `ASTM A967/A967M`.
    pub designation: String,
    /// Other ways orders write the designation.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub also_written: Vec<String>,
    /// What stands between designation and edition in print: `-`, `:` or nothing.
    #[serde(default = "hyphen", skip_serializing_if = "is_hyphen")]
    pub joined_by: String,
    /// Editions this pack speaks for, as printed after the hyphen: `13`, `17`, `02(2018)`.
    pub editions: Vec<String>,
    /// What the standard is about, in our words.
    pub about: String,
    /// Treatments an order may name.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub treatments: Vec<Treatment>,
    /// Tests an order may name under it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub tests: Vec<NamedTest>,
    /// Pieces per lot and test when the order names no number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub test_pieces: Option<u64>,
    /// Classes an order may name.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub classes: Vec<NamedClass>,
    /// The class that stands when the order names none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub default_class: Option<String>,
    /// Whether the shop may choose among the tests when the order names none.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub shop_chooses_tests: bool,
    /// The pack whose treatments and tests a purchaser's clauses speak of.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub builds_on: Option<String>,
    /// Options of that pack they order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub chooses_options: Vec<ChosenOption>,
    /// Tests of that pack they order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub chooses_tests: Vec<ChosenTest>,
    /// The class of that pack they order.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub chooses_class: Option<ChosenClass>,
    /// Demands.
    pub requirements: Vec<Requirement>,
    /// Editions that a later one of this pack took the place of, and which.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub superseded_by: BTreeMap<String, String>,
}

fn hyphen() -> String {
    "-".to_owned()
}

fn is_hyphen(text: &String) -> bool {
    text == "-"
}

/// An option of the pack built on, and the clause that orders it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ChosenOption {
    /// The option.
    pub option: OrderOption,
    /// Clause.
    pub clause: String,
    /// The series it is ordered for; left out: every grade.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub series: Vec<Series>,
}

/// A test of the pack built on, and the clause that orders it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ChosenTest {
    /// The test.
    pub test: TestKind,
    /// Clause.
    pub clause: String,
    /// Pieces a lot, where the clauses ask for more than the standard does.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pieces: Option<u64>,
    /// The series it is ordered for; left out: every grade.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub series: Vec<Series>,
}

/// A class of the pack built on, and the clause that orders it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ChosenClass {
    /// The class, as call-outs write it.
    pub class: String,
    /// Clause.
    pub clause: String,
}

/// A class of a standard.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NamedClass {
    /// As call-outs write it: `2`.
    pub class: String,
    /// Its name in print: `Class 2`.
    pub name: String,
    /// Clause.
    pub clause: String,
}

/// A treatment of a standard.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Treatment {
    /// Id within the pack: `nitric-2`.
    pub id: String,
    /// Name as orders write it: `Nitric 2`.
    pub name: String,
    /// Clause.
    pub clause: String,
    /// The step of a record that carries it out.
    pub step: TreatmentStep,
}

/// The step a treatment is carried out in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum TreatmentStep {
    /// `passivate`.
    Passivate,
    /// `electropolish`.
    Electropolish,
}

/// A test as a standard names it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NamedTest {
    /// Which test.
    pub test: TestKind,
    /// Name or letter in the standard: `practice A`.
    pub name: String,
    /// Clause, where known.
    pub clause: String,
}

/// One testable demand.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Requirement {
    /// Id within the pack, stable for ever: `nitric-2.temperature`.
    pub id: String,
    /// Clause of the standard; `house` for the shop's own rules.
    pub clause: String,
    /// Whether the demand and its figures were read in a published text or recalled.
    pub basis: Basis,
    /// When it applies; everything named must hold. Left out: always.
    #[serde(default, skip_serializing_if = "When::is_always")]
    pub when: When,
    /// The kind of evidence it looks at.
    pub subject: Subject,
    /// What the evidence must show.
    pub check: Check,
    /// What a shop does when it does not.
    pub remedy: Remedy,
    /// Advice is shown and never holds a lot.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub advice: bool,
    /// A word more, for people; never judged.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// How a figure or a demand is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Basis {
    /// Read in a published text.
    Read,
    /// Recalled by people who know the standard; confirmed by a shop against its own copy at adoption.
    Recalled,
    /// Nobody could read it and nobody is sure: no value until the shop enters its own copy's.
    Unsure,
    /// A rule of the house, or common practice.
    House,
}

/// When a requirement applies. Within one list any will do; all that is named must hold.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct When {
    /// Treatments by id.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub treatments: Vec<String>,
    /// Tests ordered.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub tests: Vec<TestKind>,
    /// Alloy series.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub series: Vec<Series>,
    /// Free-machining grade or not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub free_machining: Option<bool>,
    /// Chromium below this, per cent by mass.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub chromium_below: Option<Quantity>,
    /// Options ordered.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub options: Vec<OrderOption>,
    /// Uses of the part.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub used_for: Vec<Use>,
    /// Classes, ordered or by default.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub classes: Vec<String>,
    /// What is said of the part's making.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub conditions: Vec<PartCondition>,
    /// Editions.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub editions: Vec<String>,
}

impl When {
    /// Whether nothing is named.
    pub fn is_always(&self) -> bool {
        *self == When::default()
    }
}

/// What the evidence must show. A figure list gives each unit system as printed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Check {
    /// Between two limits, both included.
    Within(Vec<Window>),
    /// No less than.
    AtLeast(Vec<Bound>),
    /// No more than.
    AtMost(Vec<Bound>),
    /// One of these words.
    OneOf(Vec<String>),
    /// None of these words.
    NoneOf(Vec<String>),
    /// Nothing but these words (each need not occur, the first must).
    Only(Vec<String>),
    /// Something is recorded.
    Present,
    /// No piece failed, or no more than the sampling plan allows.
    Passed,
    /// At least this many times the pieces the order asks, at most the whole lot.
    TimesOrdered(u32),
    /// Against the limit that stands in the document itself: a calibration's due day, an analysis' age,
    /// the sum of counts.
    OwnLimit,
}

/// A window in one unit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Window {
    /// Lower limit; left out when nobody is sure of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<Quantity>,
    /// Upper limit; left out when nobody is sure of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<Quantity>,
    /// Unit, when the limits are left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<Unit>,
    /// Basis of these figures, where it differs from the requirement's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basis: Option<Basis>,
}

/// A single limit in one unit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Bound {
    /// The limit; left out when nobody is sure of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value: Option<Quantity>,
    /// Unit, when the limit is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<Unit>,
    /// Basis of this figure, where it differs from the requirement's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basis: Option<Basis>,
}

/// What a shop does about a gap.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Remedy {
    /// Write it down, if it was done.
    #[serde(rename = "record it")]
    Record,
    /// Test it and record it.
    #[serde(rename = "test it")]
    Test,
    /// Treat the pieces again, or ask for a deviation.
    #[serde(rename = "re-treat")]
    ReTreat,
    /// Ask the purchaser.
    #[serde(rename = "ask the purchaser")]
    Ask,
    /// Read the shop's controlled copy and adopt the rule.
    #[serde(rename = "adopt the rule")]
    Adopt,
}
