//! What the judge found: one requirement against one piece of evidence.
//!
//! A finding carries facts: never a printed sentence, never a line number. The report turns it into
//! words, the edge that read the file turns its place into line and column.

use serde::Deserialize;
use serde::Serialize;

use crate::deviation::Act;
use crate::pack::Basis;
use crate::pack::Remedy;
use crate::path::Path;

/// One requirement against its evidence.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Finding {
    /// `pack/requirement`, stable for ever.
    pub requirement: String,
    /// The standard with its edition, or the document a limit stands in.
    pub standard: String,
    /// Clause.
    pub clause: String,
    /// How the requirement is known.
    pub basis: Basis,
    /// What the evidence is about, in the words of the subject; a test is named.
    pub subject: String,
    /// What part of the lot it speaks for: `run 1`, `lot`.
    #[serde(rename = "where")]
    pub place_in_lot: String,
    /// The limit, as printed.
    pub limit: String,
    /// What was found, as recorded.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub observed: Option<String>,
    /// The verdict.
    pub verdict: Verdict,
    /// Why, when it is not plainly met.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<Reason>,
    /// What to do, when it is a gap.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub remedy: Option<Remedy>,
    /// Whether the figures are the shop's own, entered at adoption.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub shop_figure: bool,
    /// Whether the reading was converted because its unit is not printed in the standard.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub converted: bool,
    /// Where in which document the evidence stands, or should.
    pub place: Place,
}

/// The verdict of one finding.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Verdict {
    /// The evidence shows it.
    #[serde(rename = "met")]
    Met,
    /// The evidence shows the contrary.
    #[serde(rename = "not met")]
    NotMet,
    /// There is no evidence, or it cannot be told whether the requirement applies.
    #[serde(rename = "no evidence")]
    NoEvidence,
    /// The requirement does not apply.
    #[serde(rename = "not applicable")]
    NotApplicable,
    /// The purchaser permits it in writing.
    #[serde(rename = "accepted")]
    Accepted,
    /// Not mandatory; shown because it is worth knowing.
    #[serde(rename = "advice")]
    Advice,
    /// Not judged: it rests on another's paper, as the order allows.
    #[serde(rename = "relied on")]
    ReliedOn,
}

impl Verdict {
    /// Whether a mandatory finding with this verdict holds the lot.
    pub const fn is_gap(self) -> bool {
        matches!(self, Verdict::NotMet | Verdict::NoEvidence)
    }
}

/// Why a finding is not plainly met. A closed list; the report has words for each.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Reason {
    /// Nothing is recorded.
    NotRecorded,
    /// Outside the limit.
    Outside,
    /// The book has no such thing: what, and its id.
    NotInBook(String),
    /// The bath has no analysis drawn before it was used.
    NoAnalysis,
    /// The analysis in force says nothing of this constituent.
    NotAnalysed,
    /// The instrument has no calibration made before it was used.
    NoCalibration,
    /// Its calibration found it out of limits.
    CalibrationFailed,
    /// The test was not made for these pieces.
    TestNotMade(String),
    /// A test was made, but before the last treatment of these pieces.
    TestTooEarly,
    /// The treatment is proven by passing a test, and the order names none.
    NoTestOrdered,
    /// The figure is in nobody's copy yet.
    FigureUnsure,
    /// The shop has not adopted the edition.
    NotAdopted,
    /// The requirement changed since the shop adopted it.
    RuleChanged,
    /// It cannot be told whether the requirement applies, because this is unknown.
    Unknown(String),
    /// Two entries contradict each other.
    Contradiction(String),
    /// The test is not valid for this alloy or use.
    NotValidHere,
    /// No mandatory requirement was judged under this call-out.
    NothingJudged,
    /// The call-out names something no pack has.
    NotInRulebook(String),
    /// The recorded unit measures something else.
    WrongUnit,
    /// An earlier check saw another value, and no correction leads from it to this one.
    Changed,
    /// The purchaser permits it in writing.
    Permitted(Permission),
    /// A permission that was not needed, or does not reach this lot: why.
    NotUsed(String),
    /// A raw file nothing can be computed of: where and why, and how to mend it.
    Unreadable(String),
    /// A statement to be printed whose ground is missing: which.
    Unfounded(String),
}

/// The permission under which a finding is accepted.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Permission {
    /// The purchaser's number for the deviation.
    pub deviation: String,
    /// What it does.
    pub act: Act,
    /// What holds instead: the limit, or the test made. Nothing for a requirement left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub instead: Option<String>,
    /// Whether the reading was converted to be held against that limit.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub converted: bool,
}

/// Where evidence stands.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Place {
    /// Which document.
    pub document: Document,
    /// Where in it.
    pub path: Path,
}

/// The documents evidence can stand in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Document {
    /// The lot's record.
    Record,
    /// The part specification.
    Part,
    /// The order.
    Order,
    /// The shop's baths.
    Baths,
    /// The shop's instruments.
    Instruments,
    /// The shop's test solutions.
    Solutions,
    /// The adoption of a pack.
    Adoption,
    /// The shop's people.
    People,
    /// The shop's identity and ways.
    Shop,
    /// The purchaser's deviations.
    Deviations,
    /// The corrections of the shop's book.
    Corrections,
    /// The journal of the lot's checks.
    Journal,
    /// The loads.
    Load,
    /// The test reports for several lots.
    Report,
    /// Files named by other documents.
    Files,
    /// The periodic tests.
    Periodic,
}

impl Finding {
    /// The permission it is accepted under.
    pub const fn permission(&self) -> Option<&Permission> {
        match &self.reason {
            Some(Reason::Permitted(permission)) => Some(permission),
            _ => None,
        }
    }

    /// Whether it holds the lot.
    pub fn is_gap(&self) -> bool {
        self.verdict.is_gap()
    }
}
