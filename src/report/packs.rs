//! Packs in words: their demands, how well each is known, what is wrong with one.

use std::collections::BTreeSet;
use std::fmt;

use serde::Serialize;

use crate::pack::Basis;
use crate::pack::Check;
use crate::pack::Pack;
use crate::pack::Remedy;
use crate::pack::Requirement;
use crate::part::OrderOption;
use crate::rulebook;
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

/// What is wrong with a pack, beyond its form. `packs` are those it may build on.
pub fn pack_faults(pack: &Pack, packs: &[Pack]) -> Vec<String> {
    let mut faults = Vec::new();
    let base = pack.builds_on.as_ref().and_then(|id| packs.iter().find(|p| p.pack == *id && !p.is_house()));
    builds_on(pack, base, packs, &mut faults);
    let treatments = || pack.treatments.iter().chain(base.into_iter().flat_map(|b| &b.treatments));
    let tests = || pack.tests.iter().chain(base.into_iter().flat_map(|b| &b.tests));
    let of = if base.is_some() { "the pack or of the one it builds on" } else { "the pack" };
    let mut ids = BTreeSet::new();
    for requirement in &pack.requirements {
        let id = &requirement.id;
        if !ids.insert(id) {
            faults.push(format!("`{id}` stands twice"));
        }
        if requirement.clause.trim().is_empty() {
            faults.push(format!("`{id}` names no clause"));
        }
        for treatment in &requirement.when.treatments {
            if !treatments().any(|t| t.id == *treatment) {
                faults.push(format!("`{id}` applies to `{treatment}`, which is no treatment of {of}"));
            }
        }
        for test in &requirement.when.tests {
            if !pack.is_house() && !tests().any(|t| t.test == *test) {
                faults.push(format!("`{id}` applies to {}, which is no test of {of}", test.name()));
            }
        }
        if requirement.remedy == Remedy::Adopt && !pack.is_house() {
            faults.push(format!("`{id}`: `adopt the rule` is no remedy of a standard's requirement"));
        }
        figures(requirement, &mut faults);
    }
    if pack.editions.is_empty() {
        faults.push("it speaks for no edition".to_owned());
    }
    faults
}

/// What is wrong with clauses that build on another pack.
fn builds_on(pack: &Pack, base: Option<&Pack>, packs: &[Pack], faults: &mut Vec<String>) {
    let Some(wanted) = &pack.builds_on else {
        if pack.chooses() {
            faults.push("it chooses of a pack, and names none with `builds_on:`".to_owned());
        }
        return;
    };
    let Some(base) = base else {
        let there: Vec<&str> = packs.iter().filter(|p| !p.is_house()).map(|p| p.pack.as_str()).collect();
        faults.push(format!("it builds on `{wanted}`, which is no pack; there are: {}", there.join(", ")));
        return;
    };
    if base.builds_on.is_some() {
        faults.push(format!("it builds on `{wanted}`, which builds on another itself: build on that one"));
    }
    if base.pack == pack.pack {
        faults.push("it builds on itself".to_owned());
    }
    // Their own would stand in the way of the names that call-outs use.
    if !pack.treatments.is_empty() || !pack.classes.is_empty() {
        faults.push(format!("treatments and classes are those of `{wanted}`: leave out its own"));
    }
    let names = || std::iter::once(&pack.designation).chain(&pack.also_written);
    for other in packs.iter().filter(|p| p.pack != pack.pack) {
        if let Some(name) = names().find(|name| other.is_designated(name)) {
            faults.push(format!(
                "`{name}` is what call-outs of `{}` write: give it a name of its own",
                other.pack
            ));
        }
    }
    for chosen in &pack.chooses_tests {
        if !base.tests.iter().any(|t| t.test == chosen.test) {
            faults.push(format!("it chooses {}, which is no test of `{wanted}`", chosen.test.name()));
        }
    }
    if let Some(chosen) = &pack.chooses_class
        && !base.classes.iter().any(|c| c.class == chosen.class)
    {
        faults.push(format!("it chooses class {}, which is no class of `{wanted}`", chosen.class));
    }
    for chosen in &pack.chooses_options {
        if !base.requirements.iter().any(|r| r.when.options.contains(&chosen.option))
            && !is_general(chosen.option)
        {
            faults
                .push(format!("it chooses `{}`, which `{wanted}` does not leave open", chosen.option.name()));
        }
    }
    faults.extend(rulebook::loosened(pack, base).iter().map(ToString::to_string));
}

/// Options that the program itself knows, whatever the standard.
const fn is_general(option: OrderOption) -> bool {
    matches!(
        option,
        OrderOption::CouponsAllowed | OrderOption::MethodTwoAuthorized | OrderOption::RecordsOpen
    )
}

fn figures(requirement: &Requirement, faults: &mut Vec<String>) {
    let id = &requirement.id;
    let mut dimensions = BTreeSet::new();
    let mut units = BTreeSet::new();
    let mut unit = |unit: Option<crate::units::Unit>| match unit {
        Some(unit) => {
            dimensions.insert(format!("{:?}", unit.dimension()));
            if !units.insert(unit.symbol()) {
                faults.push(format!("`{id}` gives two figures in {unit}"));
            }
        }
        None => faults.push(format!("`{id}` has a figure without value and without unit")),
    };
    match &requirement.check {
        Check::Within(windows) => {
            for window in windows {
                unit(rulebook::unit_of_window(window));
            }
            for window in windows {
                let basis = window.basis.unwrap_or(requirement.basis);
                let known = window.from.is_some() && window.to.is_some();
                if known == (basis == Basis::Unsure) {
                    faults.push(format!("`{id}`: a figure has a value exactly when it is not unsure"));
                }
                if let (Some(from), Some(to)) = (&window.from, &window.to)
                    && from.compare(to).is_none_or(|o| o == std::cmp::Ordering::Greater)
                {
                    faults.push(format!("`{id}`: {from} to {to} is no window"));
                }
            }
        }
        Check::AtLeast(bounds) | Check::AtMost(bounds) => {
            for bound in bounds {
                unit(rulebook::unit_of_bound(bound));
            }
            for bound in bounds {
                let basis = bound.basis.unwrap_or(requirement.basis);
                if bound.value.is_some() == (basis == Basis::Unsure) {
                    faults.push(format!("`{id}`: a figure has a value exactly when it is not unsure"));
                }
            }
        }
        _ => {}
    }
    if dimensions.len() > 1 {
        faults.push(format!("`{id}` mixes figures that measure different things"));
    }
}
