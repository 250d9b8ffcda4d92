//! Packs in words: their demands, and how well each is known.

use std::fmt;

use serde::Serialize;

use crate::judge;
use crate::pack::Basis;
use crate::pack::Bound;
use crate::pack::Check;
use crate::pack::Form;
use crate::pack::Pack;
use crate::pack::Requirement;
use crate::pack::When;
use crate::pack::form;
use crate::report::json::VERSION;
use crate::rulebook::Standing;
use crate::rulebook::unit_of_bound;
use crate::rulebook::unit_of_window;
use crate::units::Unit;

/// One pack in a list.
#[derive(Debug, Serialize)]
pub struct PackRow {
    /// Version of this form.
    pub version: u64,
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
            version: VERSION,
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

/// `rules list` in words: one row a pack, in columns, and what they come to.
#[derive(Debug)]
pub struct PackTable<'a>(pub &'a [PackRow]);

impl fmt::Display for PackTable<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let rows = self.0;
        let widest =
            |text: &dyn Fn(&PackRow) -> usize, least: usize| rows.iter().map(text).fold(least, usize::max);
        let id = widest(&|row| row.pack.chars().count(), 5);
        let name = widest(&|row| row.designation.chars().count(), 11);
        writeln!(
            f,
            "{:id$}  {:name$}  demands  read  recalled  unsure  house  editions",
            "pack", "designation"
        )?;
        let line = |f: &mut fmt::Formatter, pack: &str, designation: &str, n: [usize; 5]| {
            let [all, read, recalled, unsure, house] = n;
            write!(
                f,
                "{pack:id$}  {designation:name$}  {all:>7}  {read:>4}  {recalled:>8}  {unsure:>6}  {house:>5}"
            )
        };
        let mut total = [0_usize; 5];
        for row in rows {
            let counts = [row.requirements, row.read, row.recalled, row.unsure, row.house];
            total = std::array::from_fn(|i| {
                let add = |all: &[usize; 5]| all.get(i).copied().unwrap_or(0);
                add(&total).saturating_add(add(&counts))
            });
            line(f, &row.pack, &row.designation, counts)?;
            writeln!(f, "  {}", row.editions.join(", "))?;
            let standing = if row.pack == "house" {
                "always in force".to_owned()
            } else if row.adopted.is_empty() {
                "not adopted here".to_owned()
            } else {
                format!("adopted: {}", row.adopted.join("; "))
            };
            writeln!(f, "{:id$}  {standing}", "")?;
        }
        let counted = if rows.len() == 1 { "1 pack".to_owned() } else { format!("{} packs", rows.len()) };
        line(f, "total", &counted, total)
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
    format!("{}: {}{}", requirement.subject.name(), limit(requirement), condition(&requirement.when))
}

/// What the evidence must show, for people who read a pack: figures nobody knows are named once.
pub fn limit(requirement: &Requirement) -> String {
    let check = &requirement.check;
    if *check == Check::OwnLimit && form(requirement.subject) == Form::Count {
        return judge::limit_words(&Check::TimesOrdered(1));
    }
    let (unknown, known): (Vec<Unit>, Check) = match check {
        Check::Within(windows) => {
            let (known, unknown): (Vec<_>, Vec<_>) =
                windows.iter().cloned().partition(|w| w.from.is_some() || w.to.is_some());
            (unknown.iter().filter_map(unit_of_window).collect(), Check::Within(known))
        }
        Check::AtLeast(bounds) => parted(bounds, Check::AtLeast),
        Check::AtMost(bounds) => parted(bounds, Check::AtMost),
        _ => return judge::limit_words(check),
    };
    let units = unknown.iter().map(|u| u.symbol()).collect::<Vec<_>>().join(" or ");
    let words = judge::limit_words(&known);
    match (words.is_empty(), units.is_empty()) {
        (_, true) => words,
        (false, false) => format!("{words}; in {units} not known"),
        (true, false) => {
            let figure = match check {
                Check::AtLeast(_) => "at least a figure",
                Check::AtMost(_) => "at most a figure",
                _ => "a window",
            };
            format!("{figure} in {units}, not known")
        }
    }
}

/// The units of the figures nobody knows, and the others.
fn parted(bounds: &[Bound], check: impl Fn(Vec<Bound>) -> Check) -> (Vec<Unit>, Check) {
    let (known, unknown): (Vec<_>, Vec<_>) = bounds.iter().cloned().partition(|b| b.value.is_some());
    (unknown.iter().filter_map(unit_of_bound).collect(), check(known))
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
