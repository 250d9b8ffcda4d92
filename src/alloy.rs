//! The alloy table: grades, ways of writing them, and what the judge needs of each.

mod names;
mod tolerance;

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use rust_decimal::Decimal;
use serde::Deserialize;
use serde::Serialize;

use crate::units::Quantity;
use crate::units::did_you_mean;
use names::Reading;

pub use tolerance::ProductTolerances;
pub use tolerance::Tolerance;

/// The table (`rules/alloys.yaml`).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AlloyTable {
    /// Grades.
    pub alloys: Vec<Alloy>,
    /// Names that mean no one grade.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ambiguous: Vec<SharedName>,
}

/// One grade.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Alloy {
    /// Common name: `316L`.
    pub grade: String,
    /// Unified number: `S31603`.
    pub uns: String,
    /// European number: `1.4404`, where there is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub en: Option<String>,
    /// Other ways of writing it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub also_written: Vec<String>,
    /// Series as the standards speak of them.
    pub series: Series,
    /// Sub-family, for people.
    pub kind: String,
    /// Alloyed with sulfur or selenium for machining.
    pub free_machining: bool,
    /// Composition limits, per cent by mass.
    pub composition: Vec<ElementLimits>,
    /// Limits no table row can hold, in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub other_limits: Option<String>,
    /// Density, g/cm³, as tabulated.
    pub density: String,
    /// How the composition is known: `seen`, `memory` or `conflict`.
    pub confidence: String,
    /// Standard the composition is taken from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub standard: Option<String>,
    /// A word more, for people.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// Limits of one element.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ElementLimits {
    /// Chemical symbol.
    pub element: String,
    /// Least.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<Quantity>,
    /// Most.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<Quantity>,
}

/// The series a standard's lists speak of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Series {
    /// Chromium-nickel-manganese austenitic, S2xxxx.
    #[serde(rename = "200 series")]
    Series200,
    /// Chromium-nickel austenitic, S3xxxx.
    #[serde(rename = "300 series")]
    Series300,
    /// Ferritic 400 series.
    #[serde(rename = "ferritic 400 series")]
    Ferritic400,
    /// Martensitic 400 series.
    #[serde(rename = "martensitic 400 series")]
    Martensitic400,
    /// Precipitation hardening.
    #[serde(rename = "precipitation hardening")]
    PrecipitationHardening,
    /// Austenitic-ferritic.
    #[serde(rename = "duplex")]
    Duplex,
    /// Everything the lists do not name (N-numbered austenitics, S1xxxx ferritics).
    #[serde(rename = "other")]
    Other,
}

impl Series {
    /// Every series.
    pub const ALL: &'static [Series] = &[
        Series::Series200,
        Series::Series300,
        Series::Ferritic400,
        Series::Martensitic400,
        Series::PrecipitationHardening,
        Series::Duplex,
        Series::Other,
    ];

    /// Its name in packs and reports.
    pub const fn name(self) -> &'static str {
        match self {
            Series::Series200 => "200 series",
            Series::Series300 => "300 series",
            Series::Ferritic400 => "ferritic 400 series",
            Series::Martensitic400 => "martensitic 400 series",
            Series::PrecipitationHardening => "precipitation hardening",
            Series::Duplex => "duplex",
            Series::Other => "other",
        }
    }
}

impl Alloy {
    /// The limits of an element, where the table has them.
    pub fn element(&self, symbol: &str) -> Option<&ElementLimits> {
        self.composition.iter().find(|limits| limits.element == symbol)
    }

    /// Whether it has so much carbon that it is hardened to be a blade or a bearing: 440A and beyond.
    pub fn is_high_carbon(&self) -> bool {
        let least = Decimal::from_parts(60, 0, 0, false, 2);
        self.element("C").and_then(|carbon| carbon.from).is_some_and(|from| from.value() >= least)
    }

    /// Whether chromium is the only alloying element the standards class it by.
    pub fn is_straight_chromium(&self) -> bool {
        matches!(self.series, Series::Ferritic400 | Series::Martensitic400)
    }

    /// Whether a name is one of this grade's, however it is written.
    pub fn is_named(&self, name: &str) -> bool {
        let own = AlloyTable { alloys: vec![self.clone()], ambiguous: Vec::new() };
        own.find(name).is_ok()
    }

    /// Every way this grade is written.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        [self.grade.as_str(), self.uns.as_str()]
            .into_iter()
            .chain(self.en.as_deref())
            .chain(self.also_written.iter().map(String::as_str))
    }
}

/// A name the trade gives to several grades: `18-8`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SharedName {
    /// The name.
    pub name: String,
    /// Other ways of writing it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub also_written: Vec<String>,
    /// The grades it may mean.
    pub grades: Vec<String>,
}

/// Why a text names no grade of the table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Unfound {
    /// The table has no such grade; names that lie near, none of them taken.
    Unknown {
        /// As the table writes them, the likeliest first.
        near: Vec<String>,
    },
    /// It may be any of several grades.
    Ambiguous {
        /// Those.
        grades: Vec<String>,
    },
    /// It names a material specification: which grade was bought to it stands elsewhere.
    Specification,
}

impl std::fmt::Display for Unfound {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Unfound::Unknown { near } => write!(f, "no grade of the alloy table{}", did_you_mean(near)),
            Unfound::Ambiguous { grades } => write!(f, "it may be {}: say which", grades.join(", ")),
            Unfound::Specification => {
                f.write_str("a material specification, which is no grade: name the grade")
            }
        }
    }
}

/// The table's names by their keys.
struct Index<'a> {
    grades: BTreeMap<String, BTreeSet<usize>>,
    alloys: &'a [Alloy],
}

impl names::Table for Index<'_> {
    fn knows(&self, key: &str) -> bool {
        self.grades.contains_key(key)
    }

    fn ages(&self, key: &str) -> bool {
        let rows = self.grades.get(key).into_iter().flatten().filter_map(|i| self.alloys.get(*i));
        rows.into_iter().all(|a| a.series == Series::PrecipitationHardening)
    }
}

impl AlloyTable {
    /// The grade a name means, in any of the ways people write grades. What is not sure is not taken.
    ///
    /// # Errors
    /// Why it names none.
    pub fn find(&self, name: &str) -> Result<&Alloy, Unfound> {
        // As the table itself writes it, which records mostly do: nothing to make out, and a thousand lots to judge.
        if let Some(alloy) = self.alloys.iter().find(|a| a.grade == name || a.uns == name) {
            return Ok(alloy);
        }
        let index = self.index();
        let unknown = || {
            let shared = self.ambiguous.iter().map(|s| s.name.as_str());
            Unfound::Unknown {
                near: names::near(name, self.alloys.iter().flat_map(Alloy::names).chain(shared)),
            }
        };
        let keys = match names::read(name, &index) {
            Reading::Names(keys) => keys,
            Reading::Specification => return Err(Unfound::Specification),
            Reading::Unknown => return Err(unknown()),
        };
        let sets: Vec<&BTreeSet<usize>> = keys.iter().filter_map(|key| index.grades.get(key)).collect();
        let mut rows: BTreeSet<usize> = sets.iter().copied().flatten().copied().collect();
        // `18-8 (304)`: one of the names says which of several the other means.
        let exact: BTreeSet<usize> =
            sets.iter().filter(|s| s.len() == 1).copied().flatten().copied().collect();
        if sets.iter().all(|set| set.iter().any(|row| exact.contains(row))) {
            rows = exact;
        }
        if let (Some(row), 1) = (rows.first(), rows.len()) {
            return self.alloys.get(*row).ok_or_else(unknown);
        }
        // Dual certified: the row that the table gives to just these grades.
        let dual = self.alloys.iter().filter(|_| sets.iter().all(|set| set.len() == 1)).find(|alloy| {
            let both = alloy.also_written.iter().filter(|n| n.contains('/'));
            both.into_iter().any(|both| {
                let of = both.split('/').map(|side| index.grades.get(&names::key(side)));
                let of: Option<Vec<_>> = of.collect();
                of.is_some_and(|of| of.into_iter().flatten().copied().collect::<BTreeSet<usize>>() == rows)
            })
        });
        dual.ok_or_else(|| {
            let named = rows.iter().filter_map(|i| self.alloys.get(*i)).map(|a| a.grade.clone());
            Unfound::Ambiguous { grades: named.collect() }
        })
    }

    fn index(&self) -> Index<'_> {
        let mut grades: BTreeMap<String, BTreeSet<usize>> = BTreeMap::new();
        for (i, alloy) in self.alloys.iter().enumerate() {
            for name in alloy.names() {
                grades.entry(names::key(name)).or_default().insert(i);
            }
        }
        for shared in &self.ambiguous {
            let rows = self.alloys.iter().enumerate().filter(|(_, a)| shared.grades.contains(&a.grade));
            let rows: BTreeSet<usize> = rows.map(|(i, _)| i).collect();
            for name in std::iter::once(&shared.name).chain(&shared.also_written) {
                grades.insert(names::key(name), rows.clone());
            }
        }
        Index { grades, alloys: &self.alloys }
    }
}
