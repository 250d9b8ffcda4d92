//! Packs in words: their demands, and how well each is known.

use std::fmt;

use serde::Serialize;

use crate::pack::Basis;
use crate::pack::Pack;
use crate::pack::Requirement;
use crate::pack::When;
use crate::rulebook::Standing;

/// One pack in a list.
#[derive(Debug, Serialize)]
pub struct PackRow {
    /// Id.
    pub pack: String,
    /// Designation.
    pub designation: String,
    /// Editions.
    pub editions: Vec<String>,
    /// Requirements in all.
    pub requirements: usize,
    /// Read in a published text.
    pub read: usize,
    /// Recalled.
    pub recalled: usize,
    /// Without a figure.
    pub unsure: usize,
    /// The house's own.
    pub house: usize,
    /// Adoptions.
    pub adopted: Vec<String>,
}

impl PackRow {
    /// Counts a pack.
    pub fn of(pack: &Pack, adopted: Vec<String>) -> PackRow {
        let count = |basis: Basis| pack.requirements.iter().filter(|r| r.basis == basis).count();
        PackRow {
            pack: pack.pack.clone(),
            designation: pack.designation.clone(),
            editions: pack.editions.clone(),
            requirements: pack.requirements.len(),
            read: count(Basis::Read),
            recalled: count(Basis::Recalled),
            unsure: count(Basis::Unsure),
            house: count(Basis::House),
            adopted,
        }
    }
}

impl fmt::Display for PackRow {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{:<12} {:<18} {:>3} requirements: {} read, {} recalled, {} unsure, {} house; editions {}",
            self.pack,
            self.designation,
            self.requirements,
            self.read,
            self.recalled,
            self.unsure,
            self.house,
            self.editions.join(", ")
        )?;
        if self.pack == "house" {
            write!(f, "\n{:12} always in force", "")
        } else if self.adopted.is_empty() {
            write!(f, "\n{:12} not adopted here", "")
        } else {
            write!(f, "\n{:12} adopted: {}", "", self.adopted.join("; "))
        }
    }
}

/// A basis in a word.
pub const fn basis(basis: Basis) -> &'static str {
    match basis {
        Basis::Read => "read",
        Basis::Recalled => "recalled",
        Basis::Unsure => "unsure",
        Basis::House => "house",
    }
}

/// How a requirement stands in the shop, as an addition to its basis.
pub fn standing(standing: &Standing) -> String {
    match standing {
        Standing::Confirmed => "; confirmed here",
        Standing::Own => "; this shop's own figure",
        Standing::Unsure => "; without a figure here",
        Standing::Absent => "; not in this shop's copy",
        Standing::NotAdopted => "; not adopted here",
        Standing::Changed => "; changed since adopted: adopt again",
    }
    .to_owned()
}

/// A requirement in words.
pub fn requirement(requirement: &Requirement) -> String {
    let limit = crate::judge::limit_words(&requirement.check);
    format!("{}: {limit}{}", requirement.subject.name(), condition(&requirement.when))
}

/// A condition in words, in brackets after a blank; nothing where there is none.
pub fn condition(when: &When) -> String {
    let mut all = Vec::new();
    let list = |items: Vec<&str>| (!items.is_empty()).then(|| items.join(" or "));
    all.extend(list(when.treatments.iter().map(String::as_str).collect()));
    all.extend(list(when.tests.iter().map(|t| t.name()).collect()));
    all.extend(list(when.series.iter().map(|s| s.name()).collect()));
    all.extend(
        when.free_machining.map(|yes| if yes { "free-machining" } else { "not free-machining" }.to_owned()),
    );
    all.extend(when.chromium_below.map(|q| format!("chromium below {q}")));
    let classes = list(when.classes.iter().map(String::as_str).collect());
    all.extend(classes.map(|classes| format!("class {classes}")));
    let conditions = list(when.conditions.iter().map(|c| c.name()).collect());
    all.extend(conditions.map(|conditions| format!("parts: {conditions}")));
    let options = list(when.options.iter().map(|o| o.name()).collect());
    all.extend(options.map(|options| format!("ordered: {options}")));
    let uses = list(when.used_for.iter().map(|u| u.name()).collect());
    all.extend(uses.map(|uses| format!("used for {uses}")));
    let editions = list(when.editions.iter().map(String::as_str).collect());
    all.extend(editions.map(|editions| format!("edition {editions}")));
    if all.is_empty() { String::new() } else { format!(" ({})", all.join("; ")) }
}
