//! What is wrong with a pack beyond its form, and what is only worth a second look.
//!
//! A *fault* makes a requirement that can never be met, never applies, or says two things at once: whoever called for
//! the standard would be held for ever, or never judged. A *remark* may be meant.

mod checks;
mod clauses;
mod conditions;
mod whole;

use serde::Serialize;

use crate::alloy::AlloyTable;
use crate::pack::NamedTest;
use crate::pack::Pack;
use crate::pack::Requirement;
use crate::pack::Treatment;
use crate::path::Path;
use crate::path::Segment;

/// How much something weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Weight {
    /// The pack must not be used so.
    Fault,
    /// It may be meant.
    Remark,
}

/// Something found in a pack.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lint {
    /// Fault or remark.
    pub weight: Weight,
    /// Where in the pack's file.
    pub path: Path,
    /// The requirement it stands in, by id.
    pub requirement: Option<String>,
    /// What was found.
    pub found: String,
    /// What was expected.
    pub expected: String,
    /// How to mend it.
    pub mend: String,
}

impl Lint {
    /// The field within the requirement, or within the pack: `check.within[0].from`.
    pub fn field(&self) -> String {
        let segments = self.path.segments();
        match segments {
            [Segment::Key(key), Segment::Index(_), rest @ ..] if key == "requirements" => {
                rest.iter().fold(Path::root(), |path, segment| match segment {
                    Segment::Key(key) => path.key(key),
                    Segment::Index(index) => path.index(*index),
                })
            }
            _ => self.path.clone(),
        }
        .to_string()
    }
}

/// What a pack is held against beside itself.
#[derive(Debug, Clone, Copy, Default)]
pub struct Beside<'a> {
    /// The other packs of the rulebook; empty where they are not known.
    pub packs: &'a [Pack],
    /// The alloy table; without it no condition on grades is looked at.
    pub alloys: Option<&'a AlloyTable>,
}

/// Looks a pack over. What is found comes in the order of the pack's file, faults and remarks together.
pub fn lint(pack: &Pack, beside: Beside) -> Vec<Lint> {
    let mut lints = Lints { pack, beside, found: Vec::new() };
    whole::pack(&mut lints);
    clauses::pack(&mut lints);
    for (index, requirement) in pack.requirements.iter().enumerate() {
        let path = Path::root().key("requirements").index(index);
        whole::requirement(&mut lints, &path, index, requirement);
        conditions::when(&mut lints, &path, requirement);
        checks::check(&mut lints, &path, requirement);
    }
    lints.found
}

/// A pack looked over, and what was found so far.
struct Lints<'a> {
    pack: &'a Pack,
    beside: Beside<'a>,
    found: Vec<Lint>,
}

impl<'a> Lints<'a> {
    fn add(&mut self, weight: Weight, path: Path, found: String, expected: &str, mend: &str) {
        let requirement = match path.segments() {
            [Segment::Key(key), Segment::Index(index), ..] if key == "requirements" => {
                self.pack.requirements.get(*index).map(|r| r.id.clone())
            }
            _ => None,
        };
        let (expected, mend) = (expected.to_owned(), mend.to_owned());
        self.found.push(Lint { weight, path, requirement, found, expected, mend });
    }

    fn fault(&mut self, path: Path, found: impl Into<String>, expected: &str, mend: &str) {
        self.add(Weight::Fault, path, found.into(), expected, mend);
    }

    fn remark(&mut self, path: Path, found: impl Into<String>, expected: &str, mend: &str) {
        self.add(Weight::Remark, path, found.into(), expected, mend);
    }

    /// The pack this one builds on: none named, or the one named, where it is known.
    fn base(&self) -> Base<'a> {
        match &self.pack.builds_on {
            None => Base::None,
            Some(id) => {
                let there = |p: &&Pack| p.pack == *id && p.pack != self.pack.pack && !p.is_house();
                let known = self.beside.packs.iter().find(there);
                known.map_or(Base::Unknown, Base::Known)
            }
        }
    }

    /// Treatments its requirements may name; `None` where the pack it builds on is not known.
    fn treatments(&self) -> Option<Vec<&'a Treatment>> {
        self.own_and_base(|pack| &pack.treatments)
    }

    /// Tests its requirements may name.
    fn tests(&self) -> Option<Vec<&'a NamedTest>> {
        self.own_and_base(|pack| &pack.tests)
    }

    fn own_and_base<T>(&self, list: impl Fn(&'a Pack) -> &'a Vec<T>) -> Option<Vec<&'a T>> {
        let own = list(self.pack).iter();
        match self.base() {
            Base::None => Some(own.collect()),
            Base::Known(base) => Some(own.chain(list(base)).collect()),
            Base::Unknown => None,
        }
    }
}

/// The pack another builds on.
enum Base<'a> {
    None,
    Known(&'a Pack),
    Unknown,
}

/// ``did you mean `x`?``, or the list of what there is.
fn near<'n>(found: &str, names: impl Iterator<Item = &'n str>) -> String {
    let all: Vec<&str> = names.collect();
    if all.is_empty() {
        return "there is none".to_owned();
    }
    let distance = |name: &str| strsim::damerau_levenshtein(&name.to_lowercase(), &found.to_lowercase());
    let nearest = all.iter().copied().min_by_key(|name| distance(name));
    match nearest.filter(|name| distance(name) <= (found.chars().count() / 3).max(1)) {
        Some(name) => format!("did you mean `{name}`?"),
        None => format!("one of: {}", all.join(", ")),
    }
}

/// Items that stand a second time in a list, with their place.
fn twice<T: PartialEq>(items: &[T]) -> Vec<(usize, &T)> {
    let all = items.iter().enumerate();
    all.filter(|(index, item)| items.iter().take(*index).any(|earlier| earlier == *item)).collect()
}

/// Whether a requirement can hold a lot.
const fn mandatory(requirement: &Requirement) -> bool {
    !requirement.advice
}
