//! A load: what went through the tanks together, whosever it was; and a test report that speaks for an inspection
//! lot made up of several lots.
//!
//! Both are written once and named by the lots concerned. A lot's dossier holds its own lines of them only: no
//! other lot's number, nor its purchaser, ever enters it.

use serde::Deserialize;
use serde::Serialize;

use crate::alloy::Series;
use crate::moment::Date;
use crate::record::Step;
use crate::record::Test;

/// What went through the tanks together (`loads/*.yaml`).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Load {
    /// Its number, as runs name it.
    pub load: String,
    /// What was done, in order, as in a run.
    pub steps: Vec<Step>,
    /// The lots in it.
    pub carried: Vec<Carried>,
}

/// One lot's pieces in a load.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Carried {
    /// The lot.
    pub lot: String,
    /// Pieces of it.
    pub pieces: u64,
}

/// A test made for several lots at once (`reports/*.yaml`).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TestReport {
    /// Its number, as records name it.
    pub report: String,
    /// The test, as in a record but for the runs it covers.
    pub test: Test,
    /// The lots it speaks for.
    pub speaks_for: Vec<SpeaksFor>,
    /// What must be known of the other lots, without their names; never written in the file.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub others: Vec<OtherLot>,
}

/// One lot a report speaks for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SpeaksFor {
    /// The lot.
    pub lot: String,
    /// Its runs.
    pub runs: Vec<String>,
}

/// What makes several lots one inspection lot: metal, process and days.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OtherLot {
    /// Series of its grade; absent when it cannot be told.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub series: Option<Series>,
    /// The baths that treated it, by their ids, in order of id.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub baths: Vec<String>,
    /// First day of processing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub first: Option<Date>,
    /// Last day of processing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub last: Option<Date>,
    /// Pieces of the runs the report speaks for.
    pub pieces: u64,
}

impl Load {
    /// The load as a lot's dossier may hold it: with that lot's lines only.
    #[must_use]
    pub fn of_lot(&self, lot: &str) -> Load {
        let mut own = self.clone();
        own.carried.retain(|c| c.lot == lot);
        own
    }

    /// Pieces of the lots it names.
    pub fn pieces(&self) -> u64 {
        self.carried.iter().fold(0, |sum, c| sum.saturating_add(c.pieces))
    }
}

impl TestReport {
    /// The test as it stands for the lot whose lines are left: nothing when it speaks for none of its runs.
    pub fn for_own(&self) -> Option<Test> {
        let covers: Vec<String> = self.speaks_for.iter().flat_map(|s| s.runs.iter().cloned()).collect();
        (!covers.is_empty()).then(|| Test { covers, ..self.test.clone() })
    }

    /// Pieces of the other lots it speaks for.
    pub fn others_pieces(&self) -> u64 {
        self.others.iter().fold(0, |sum, other| sum.saturating_add(other.pieces))
    }
}
