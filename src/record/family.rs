//! Lots made from other lots, and pieces counted on a scale.

use serde::Deserialize;
use serde::Serialize;

use crate::record::Heat;
use crate::record::Record;
use crate::record::TestKind;
use crate::units::Percent;

/// Pieces that came from another lot.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Parentage {
    /// The lot they came from.
    pub lot: String,
    /// How many.
    pub pieces: u64,
}

/// That pieces were counted by weighing them.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ByWeight {
    /// How far the count may be off, of the pieces received.
    pub tolerance: Percent,
}

/// What a judge needs of another lot of the family: pieces and material, nothing of its order. Of a forebear
/// all of it; of the other lots made from a forebear only what they took.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Relative {
    /// Its lot number.
    pub lot: String,
    /// Whether it is of the same purchaser, part and revision. When it is not, nothing more of it stands here.
    pub same_part: bool,
    /// Pieces counted in; of forebears only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub received: Option<u64>,
    /// Pieces moved into other lots; of forebears only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub split_off: Option<u64>,
    /// Lots its own pieces came from.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub from: Vec<Parentage>,
    /// Grade.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub grade: Option<String>,
    /// Heats.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub heats: Vec<Heat>,
    /// Tests in which pieces of it failed.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub failed: Vec<TestKind>,
}

impl Relative {
    /// A forebear's record as its family needs it.
    pub fn forebear(record: &Record) -> Relative {
        let mut failed: Vec<TestKind> =
            record.tests.iter().filter(|t| t.failed > 0).map(|t| t.test).collect();
        failed.sort_unstable();
        failed.dedup();
        Relative {
            received: Some(record.counts.received),
            split_off: Some(record.counts.split_off),
            grade: Some(record.material.grade.clone()),
            heats: record.material.heats.clone(),
            failed,
            ..Relative::child(record)
        }
    }

    /// The record of another lot made from a forebear: what it took, and of whom.
    pub fn child(record: &Record) -> Relative {
        Relative {
            same_part: true,
            from: record.parents().cloned().collect(),
            ..Relative::stranger(&record.lot)
        }
    }

    /// A record of another purchaser or part: its number, which this family's records name, and nothing else.
    pub fn stranger(lot: &str) -> Relative {
        Relative {
            lot: lot.to_owned(),
            same_part: false,
            received: None,
            split_off: None,
            from: Vec::new(),
            grade: None,
            heats: Vec::new(),
            failed: Vec::new(),
        }
    }
}

impl Record {
    /// The lots this one was made from, by splitting or merging.
    pub fn parents(&self) -> impl Iterator<Item = &Parentage> {
        self.split_from.iter().chain(&self.merged_from)
    }
}
