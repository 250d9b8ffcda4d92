//! Packs in words: their demands, and how well each is known.

use std::fmt;

use serde::Serialize;

use crate::pack::Basis;
use crate::pack::Pack;
use crate::pack::Requirement;
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
    let mut when = Vec::new();
    let w = &requirement.when;
    let list = |items: Vec<&str>| items.join(" or ");
    if !w.treatments.is_empty() {
        when.push(list(w.treatments.iter().map(String::as_str).collect()));
    }
    if !w.tests.is_empty() {
        when.push(list(w.tests.iter().map(|t| t.name()).collect()));
    }
    if !w.series.is_empty() {
        when.push(list(w.series.iter().map(|s| s.name()).collect()));
    }
    when.extend(
        w.free_machining.map(|yes| if yes { "free-machining" } else { "not free-machining" }.to_owned()),
    );
    when.extend(w.chromium_below.map(|q| format!("chromium below {q}")));
    when.extend((!w.classes.is_empty()).then(|| format!("class {}", w.classes.join(" or "))));
    if !w.conditions.is_empty() {
        when.push(list(w.conditions.iter().map(|c| c.name()).collect()));
    }
    if !w.options.is_empty() {
        when.push(format!("ordered: {}", list(w.options.iter().map(|o| o.name()).collect())));
    }
    let uses: Vec<String> = w
        .used_for
        .iter()
        .filter_map(|u| serde_json::to_value(u).ok())
        .filter_map(|v| v.as_str().map(str::to_owned))
        .collect();
    when.extend((!uses.is_empty()).then(|| format!("used for {}", uses.join(" or "))));
    when.extend((!w.editions.is_empty()).then(|| format!("edition {}", w.editions.join(", "))));
    let when = if when.is_empty() { String::new() } else { format!(" ({})", when.join("; ")) };
    format!("{}: {limit}{when}", requirement.subject.name())
}
