//! Two editions side by side, demand by demand. Pure: what they differ in, not what to do about it.

use crate::pack::Basis;
use crate::pack::Bound;
use crate::pack::Check;
use crate::pack::Pack;
use crate::pack::Requirement;
use crate::pack::When;
use crate::pack::Window;

/// One edition of a pack.
#[derive(Debug, Clone, Copy)]
pub struct Edition<'a> {
    /// The pack.
    pub pack: &'a Pack,
    /// The edition, as the pack lists it.
    pub edition: &'a str,
}

impl<'a> Edition<'a> {
    /// The requirements in force under this edition.
    pub fn requirements(&self) -> impl Iterator<Item = &'a Requirement> {
        let edition = self.edition;
        let in_force = move |r: &&Requirement| {
            r.when.editions.is_empty() || r.when.editions.iter().any(|e| e == edition)
        };
        self.pack.requirements.iter().filter(in_force)
    }

    /// The designation with the edition.
    pub fn name(&self) -> String {
        self.pack.named(self.edition)
    }
}

/// What a demand differs in. The first of each pair is the first edition's.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Difference {
    /// The limit.
    Limit(Check, Check),
    /// How it is known: as a whole, or a figure of it.
    Basis(Vec<Basis>, Vec<Basis>),
    /// When it applies, editions apart.
    Condition(Box<(When, When)>),
    /// What it looks at.
    Subject(&'static str, &'static str),
    /// Whether it is advice.
    Advice(bool, bool),
}

/// A demand that stands in both editions, and not alike.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Changed<'a> {
    /// As the first edition has it.
    pub first: &'a Requirement,
    /// As the second has it.
    pub second: &'a Requirement,
    /// In what they differ.
    pub differences: Vec<Difference>,
}

/// What stands beside the requirements and differs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Beside {
    /// What it is: `treatments`, `pieces tested`.
    pub what: &'static str,
    /// In the first edition; empty where it has none.
    pub first: String,
    /// In the second.
    pub second: String,
}

/// Two editions side by side.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Comparison<'a> {
    /// Demands of the first alone.
    pub only_first: Vec<&'a Requirement>,
    /// Demands of the second alone.
    pub only_second: Vec<&'a Requirement>,
    /// Demands of both that differ.
    pub changed: Vec<Changed<'a>>,
    /// What differs beside the requirements.
    pub beside: Vec<Beside>,
    /// How many demands are the same in both.
    pub same: usize,
}

/// Compares two editions. A demand is the same one when it bears the same id; else when it looks at the same thing
/// under the same condition, and no other does.
pub fn compare<'a>(first: Edition<'a>, second: Edition<'a>) -> Comparison<'a> {
    let mut left: Vec<&Requirement> = second.requirements().collect();
    let mut unpaired: Vec<&Requirement> = Vec::new();
    let mut pairs: Vec<(&Requirement, &Requirement)> = Vec::new();
    for requirement in first.requirements() {
        match left.iter().position(|r| r.id == requirement.id) {
            Some(index) => pairs.push((requirement, left.remove(index))),
            None => unpaired.push(requirement),
        }
    }
    let mut all = Comparison::default();
    for requirement in &unpaired {
        let alike = |r: &&Requirement| is_of_one_kind(r, requirement);
        let alone = unpaired.iter().filter(|r| is_of_one_kind(r, requirement)).count() == 1
            && left.iter().copied().filter(alike).count() == 1;
        match left.iter().position(|r| alone && is_of_one_kind(r, requirement)) {
            Some(index) => pairs.push((requirement, left.remove(index))),
            None => all.only_first.push(requirement),
        }
    }
    all.only_second = left;
    for (one, other) in pairs {
        let differences = differences(one, other);
        if differences.is_empty() {
            all.same = all.same.saturating_add(1);
        } else {
            all.changed.push(Changed { first: one, second: other, differences });
        }
    }
    all.changed.sort_by_key(|changed| first.pack.requirements.iter().position(|r| r.id == changed.first.id));
    all.beside = beside(first.pack, second.pack);
    all
}

/// A condition without the editions, which are what is compared.
fn condition(requirement: &Requirement) -> When {
    When { editions: Vec::new(), ..requirement.when.clone() }
}

fn is_of_one_kind(one: &Requirement, other: &Requirement) -> bool {
    one.subject == other.subject && condition(one) == condition(other)
}

fn differences(one: &Requirement, other: &Requirement) -> Vec<Difference> {
    let mut all = Vec::new();
    if one.subject != other.subject {
        all.push(Difference::Subject(one.subject.name(), other.subject.name()));
    }
    let (before, after) = (super::without_basis(&one.check), super::without_basis(&other.check));
    if before != after {
        all.push(Difference::Limit(before, after));
    }
    let (before, after) = (bases(one), bases(other));
    if before != after {
        all.push(Difference::Basis(before, after));
    }
    let (before, after) = (condition(one), condition(other));
    if before != after {
        all.push(Difference::Condition(Box::new((before, after))));
    }
    if one.advice != other.advice {
        all.push(Difference::Advice(one.advice, other.advice));
    }
    all
}

/// How a demand and its figures are known, each word once.
fn bases(requirement: &Requirement) -> Vec<Basis> {
    let of_figures: Vec<Option<Basis>> = match &requirement.check {
        Check::Within(windows) => windows.iter().map(|w: &Window| w.basis).collect(),
        Check::AtLeast(bounds) | Check::AtMost(bounds) => bounds.iter().map(|b: &Bound| b.basis).collect(),
        _ => Vec::new(),
    };
    let mut all = vec![requirement.basis];
    for basis in of_figures.into_iter().flatten() {
        if !all.contains(&basis) {
            all.push(basis);
        }
    }
    all
}

fn beside(first: &Pack, second: &Pack) -> Vec<Beside> {
    let list = |names: Vec<&str>| names.join(", ");
    let of = |pack: &Pack| {
        [
            ("treatments", list(pack.treatments.iter().map(|t| t.name.as_str()).collect())),
            ("tests", list(pack.tests.iter().map(|t| t.test.name()).collect())),
            (
                "pieces for a test, where the order names no number",
                pack.test_pieces.map_or(String::new(), |n| n.to_string()),
            ),
            ("classes", list(pack.classes.iter().map(|c| c.name.as_str()).collect())),
            ("class, where the order names none", pack.default_class.clone().unwrap_or_default()),
            (
                "test, where the order names none",
                if pack.shop_chooses_tests { "the shop's choice".to_owned() } else { String::new() },
            ),
        ]
    };
    let both = of(first).into_iter().zip(of(second));
    both.filter(|((_, one), (_, other))| one != other)
        .map(|((what, first), (_, second))| Beside { what, first, second })
        .collect()
}
