//! What was found in a pack, in words and for machines: file, line, column, requirement, field, and how to mend it.

use std::fmt;

use serde::Serialize;

use crate::lint::Lint;
use crate::lint::Weight;
use crate::pack::Pack;
use crate::report::json::VERSION;
use crate::yaml::Places;

/// `rules check`: a pack looked over.
#[derive(Debug, Serialize)]
pub struct Checked {
    /// Version of this form.
    pub version: u64,
    /// File as named.
    pub file: String,
    /// Id of the pack.
    pub pack: String,
    /// Requirements in all.
    pub requirements: usize,
    /// What must be mended before the pack is used.
    pub faults: Vec<Told>,
    /// What is worth a second look.
    pub remarks: Vec<Told>,
}

/// One fault or remark.
#[derive(Debug, Serialize)]
pub struct Told {
    /// Line, from 1.
    pub line: u64,
    /// Column, from 1.
    pub column: u64,
    /// Requirement by id; absent where the pack as a whole is meant.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub requirement: Option<String>,
    /// Field within the requirement, or within the pack.
    pub field: String,
    /// What was found.
    pub found: String,
    /// What was expected.
    pub expected: String,
    /// How to mend it.
    pub mend: String,
}

impl Checked {
    /// Places what was found in the pack's text.
    pub fn of(file: &str, text: &str, pack: &Pack, lints: &[Lint]) -> Checked {
        let places = Places::of(text);
        let told = |weight: Weight| {
            let of_weight = lints.iter().filter(|l| l.weight == weight);
            let mut all: Vec<Told> = of_weight.map(|lint| Told::of(lint, &places)).collect();
            all.sort_by_key(|told| (told.line, told.column));
            all
        };
        Checked {
            version: VERSION,
            file: file.to_owned(),
            pack: pack.pack.clone(),
            requirements: pack.requirements.len(),
            faults: told(Weight::Fault),
            remarks: told(Weight::Remark),
        }
    }
}

impl Told {
    fn of(lint: &Lint, places: &Places) -> Told {
        let (line, column) = places.find(&lint.path);
        Told {
            line,
            column,
            requirement: lint.requirement.clone(),
            field: lint.field(),
            found: lint.found.clone(),
            expected: lint.expected.clone(),
            mend: lint.mend.clone(),
        }
    }

    /// Requirement and field, as far as there are any.
    fn whose(&self) -> String {
        match (&self.requirement, self.field.as_str()) {
            (Some(id), "") => format!("`{id}`"),
            (Some(id), field) => format!("`{id}`, {field}"),
            (None, field) => field.to_owned(),
        }
    }
}

impl fmt::Display for Checked {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (word, all) in [("fault", &self.faults), ("remark", &self.remarks)] {
            for told in all {
                let Told { line, column, found, expected, mend, .. } = told;
                writeln!(f, "{}:{line}:{column}: {word}: {}", self.file, told.whose())?;
                writeln!(f, "  found: {found}; expected: {expected}")?;
                writeln!(f, "  help: {mend}")?;
            }
        }
        let counted = |count: usize, word: &str| match count {
            0 => format!("no {word}"),
            1 => format!("1 {word}"),
            more => format!("{more} {word}s"),
        };
        write!(
            f,
            "{}: {}, {}, {}",
            self.file,
            counted(self.requirements, "requirement"),
            counted(self.faults.len(), "fault"),
            counted(self.remarks.len(), "remark")
        )
    }
}
