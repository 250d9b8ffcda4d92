//! The alloy table: grades, ways of writing them, and what the judge needs of each.

use serde::Deserialize;
use serde::Serialize;

use crate::units::Quantity;

/// The table (`rules/alloys.yaml`).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AlloyTable {
    /// Grades.
    pub alloys: Vec<Alloy>,
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

    /// Whether a name is one of this grade's.
    pub fn is_named(&self, name: &str) -> bool {
        self.names().any(|n| plain(n) == plain(name))
    }

    /// Every way this grade is written.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        [self.grade.as_str(), self.uns.as_str()]
            .into_iter()
            .chain(self.en.as_deref())
            .chain(self.also_written.iter().map(String::as_str))
    }
}

/// A name without what people add or leave out: `SS 316-L`, `type 316L` and `316 l` are one.
fn plain(name: &str) -> String {
    let letters: String =
        name.chars().filter(|c| c.is_alphanumeric() || *c == '.').collect::<String>().to_uppercase();
    let mut rest = letters.as_str();
    for prefix in ["TYPE", "AISI", "GRADE", "SS", "UNS", "EN"] {
        rest = rest
            .strip_prefix(prefix)
            .filter(|r| r.starts_with(|c: char| c.is_ascii_digit() || c == 'S'))
            .unwrap_or(rest);
    }
    rest.to_owned()
}

impl AlloyTable {
    /// The grade a name means; the error lists the names that lie nearest.
    pub fn find(&self, name: &str) -> Result<&Alloy, Vec<String>> {
        let wanted = plain(name);
        if let Some(alloy) = self.alloys.iter().find(|a| a.names().any(|n| plain(n) == wanted)) {
            return Ok(alloy);
        }
        let mut near: Vec<(usize, String)> = self
            .alloys
            .iter()
            .flat_map(Alloy::names)
            .map(|n| (strsim::damerau_levenshtein(&plain(n), &wanted), n.to_owned()))
            .filter(|(distance, _)| *distance <= 1)
            .collect();
        near.sort();
        near.truncate(4);
        Err(near.into_iter().map(|(_, name)| name).collect())
    }
}
