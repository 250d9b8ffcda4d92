//! Evidence the shop did not make itself: an outside laboratory's report, a subcontractor's certificate, a
//! purchaser's statement; and the files such papers lie in.

use serde::Deserialize;
use serde::Serialize;

use crate::moment::Date;
use crate::record::Test;
use crate::record::TestKind;

/// A file of the shop folder, as a document names it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FileName {
    /// Where it lies within the shop folder: `papers/BL-2210.pdf`.
    pub path: String,
    /// SHA-256 of its bytes, in small hexadecimal digits, when whoever wrote this wants to be told of a change.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sha256: Option<String>,
}

/// An outside laboratory and the report of a test it made.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Laboratory {
    /// Its name.
    pub name: String,
    /// Number of its report.
    pub report: String,
    /// Its accreditation; it stands in for the shop's own book of instruments, solutions and people.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub accreditation: Option<Accreditation>,
    /// The report.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub file: Option<FileName>,
}

/// What a laboratory is accredited for, by whom and when.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Accreditation {
    /// Who accredited it.
    pub body: String,
    /// Number of the accreditation.
    pub number: String,
    /// First day it stands.
    pub from: Date,
    /// Last day it stands.
    pub until: Date,
    /// The tests it covers.
    pub scope: Vec<TestKind>,
}

/// A paper of somebody else's that is relied on and not judged.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Relied {
    /// What it is.
    pub kind: Paper,
    /// Whose it is.
    pub from: String,
    /// Its number.
    pub number: String,
    /// The paper.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub file: Option<FileName>,
}

/// Papers that may be relied on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Paper {
    /// A subcontractor certifies the work it did.
    #[serde(rename = "subcontractor's certificate")]
    SubcontractorsCertificate,
    /// The purchaser says that it did the work, or had it done.
    #[serde(rename = "purchaser's statement")]
    PurchasersStatement,
}

impl Paper {
    /// Its name, as records write it.
    pub const fn name(self) -> &'static str {
        match self {
            Paper::SubcontractorsCertificate => "subcontractor's certificate",
            Paper::PurchasersStatement => "purchaser's statement",
        }
    }
}

impl Relied {
    /// The paper in words: `subcontractor's certificate FE-118 of Fernhollow Electropolishing`.
    pub fn words(&self) -> String {
        format!("{} {} of {}", self.kind.name(), self.number, self.from)
    }
}

impl Laboratory {
    /// The report in words: `report BL-2210 of Brackenlight Laboratory`.
    pub fn words(&self) -> String {
        format!("report {} of {}", self.report, self.name)
    }
}

impl Accreditation {
    /// The accreditation in words.
    pub fn words(&self) -> String {
        let scope: Vec<&str> = self.scope.iter().map(|kind| kind.name()).collect();
        format!(
            "accredited by {}, {}, {} to {}, for {}",
            self.body,
            self.number,
            self.from,
            self.until,
            scope.join(", ")
        )
    }

    /// Whether it covers a test on every day it took.
    pub fn covers(&self, test: &Test) -> bool {
        let (first, last) = (test.started.date(), test.end().date());
        self.scope.contains(&test.test) && self.from <= first && last <= self.until
    }
}

impl Test {
    /// Whether somebody else made it: the shop's books then say nothing about it.
    pub const fn made_outside(&self) -> bool {
        self.laboratory.is_some() || self.evidence.is_some()
    }
}

/// A file as it was found in the shop folder when the lot was judged.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HeldFile {
    /// Where it lay.
    pub path: String,
    /// SHA-256 of its bytes, hexadecimal.
    pub sha256: String,
}
