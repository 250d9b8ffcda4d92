//! What one requirement finds: facts with their place, or why there are none.

use crate::finding::Document;
use crate::finding::Place;
use crate::finding::Reason;
use crate::path::Path;
use crate::units::Quantity;

/// What one requirement found: facts, or why there are none.
pub(crate) struct Evidence {
    pub(super) place: Place,
    pub(super) found: Found,
    pub(super) uncertainty: Uncertainty,
    /// What more is known of a reading that lies beyond its limit: since when, for how long.
    pub(super) told: Option<String>,
}

/// What is known of the uncertainty of a measurement.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(crate) enum Uncertainty {
    /// It is a time, a count or no measurement: no rule asks for it.
    #[default]
    NotAsked,
    /// Expanded, k = 2: a difference.
    Known(Quantity),
    /// Nobody stated it: of what.
    Unknown(String),
}

/// One piece of evidence, or why it is missing.
pub(crate) enum Found {
    /// Nothing to judge, and why.
    Missing(Reason),
    /// A measurement.
    Quantity(crate::units::Quantity),
    /// Words to hold against a list.
    Words(Vec<String>),
    /// Something that is so or is not, and how it is shown.
    Fact { shown: String, holds: bool },
    /// A figure with the limit its own document sets.
    Own { observed: String, limit: String, met: bool },
    /// A sample: pieces failed of pieces looked at, and the failures allowed.
    Sample { pieces: u64, failed: u64, accept: u64 },
    /// Pieces against a number ordered, the lot's size capping it.
    Counted { pieces: u64, ordered: u64, lot: u64 },
    /// The requirement has nothing to look at here and says so.
    NotApplicable,
    /// A value an earlier check saw otherwise, and no correction says why.
    Changed { was: String, now: String, seen: String },
    /// An outside laboratory's accreditation, in place of what the shop's own book would have to say.
    Accredited { observed: String, limit: String, met: bool },
    /// Another's paper, relied on and not judged.
    Relied(String),
}

impl Evidence {
    pub(super) fn at(document: Document, path: Path, found: Found) -> Self {
        Evidence { place: Place { document, path }, found, uncertainty: Uncertainty::NotAsked, told: None }
    }

    /// The same with what is known of its uncertainty.
    pub(super) fn with(mut self, uncertainty: Uncertainty) -> Self {
        self.uncertainty = uncertainty;
        self
    }

    /// The same with what is to be told of it where it lies beyond its limit.
    pub(super) fn telling(mut self, told: Option<String>) -> Self {
        self.told = told;
        self
    }

    pub(super) fn record(path: Path, found: Found) -> Self {
        Evidence::at(Document::Record, path, found)
    }

    pub(super) fn missing(path: Path) -> Self {
        Evidence::record(path, Found::Missing(Reason::NotRecorded))
    }
}
