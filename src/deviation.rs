//! A deviation: a purchaser's written permission to loosen or leave out a requirement, for named parts, orders
//! or lots.
//!
//! ```yaml
//! deviation: QI-DEV-061
//! purchaser: quillmark
//! given_by: H. Lovage
//! on: 2026-11-12
//! reviewed: { by: D. Yarrow, on: 2026-11-12 }
//! letter: { file: deviations/letters/QI-DEV-061.txt, sha256: 5f1c… }
//! permits:
//!   - { requirement: astm-a967/nitric-2.temperature, act: limit, check: { within: [{ from: 70 °F, to: 94 °F }] } }
//! reach: { lots: [L-26-0422], pieces: 120 }
//! why: The thermostat stuck; the housings are spare parts for bench instruments.
//! ```
//!
//! Nothing else loosens a requirement. The house's own rules are not the purchaser's to loosen, and whether a
//! test means anything on an alloy is nobody's.

use serde::Deserialize;
use serde::Serialize;

use crate::moment::Date;
use crate::pack::Bound;
use crate::pack::Check;
use crate::pack::Pack;
use crate::pack::Requirement;
use crate::pack::Scope;
use crate::pack::Subject;
use crate::pack::Window;
use crate::part::Review;
use crate::record::TestKind;
use crate::units::Dimension;

/// A purchaser's written permission.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Deviation {
    /// The purchaser's number for it.
    pub deviation: String,
    /// The purchaser, by its id in the shop's book.
    pub purchaser: String,
    /// Who gave it, at the purchaser.
    pub given_by: String,
    /// On which day.
    pub on: Date,
    /// Who compared this file with the letter, and when.
    pub reviewed: Review,
    /// The letter itself.
    pub letter: Letter,
    /// What is permitted.
    pub permits: Vec<Permit>,
    /// For what.
    pub reach: Reach,
    /// Why it was given.
    pub why: String,
}

/// The paper a permission stands on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Letter {
    /// Its file within the shop folder.
    pub file: String,
    /// SHA-256 of that file, hexadecimal.
    pub sha256: String,
}

/// One thing permitted.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Permit {
    /// The requirement it is about: `pack/requirement`.
    pub requirement: String,
    /// The ordered test it is about, where the requirement speaks of several.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub test: Option<TestKind>,
    /// What may be done instead of meeting it.
    pub act: Act,
    /// For `limit`: what the evidence must show, in the form of the pack.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub check: Option<Check>,
    /// For `substitute`: the test that is made instead.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub instead: Option<TestKind>,
}

/// What a permission does to a requirement.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Act {
    /// Another limit holds.
    Limit,
    /// It need not be met.
    Omit,
    /// Another test is made in its place.
    Substitute,
}

/// What a permission is for. Everything given must fit; parts, orders or lots must be given.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reach {
    /// Parts.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub parts: Vec<PartReached>,
    /// Purchase orders.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub orders: Vec<String>,
    /// The shop's lots.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lots: Vec<String>,
    /// Most pieces that may be certified under it, all certificates together.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pieces: Option<u64>,
    /// Last day of processing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<Date>,
}

/// A part a permission is for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PartReached {
    /// Part number.
    pub part: String,
    /// Drawing revision; left out: every revision.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub revision: Option<String>,
}

/// What a permission is held against to see whether it reaches a lot.
#[derive(Debug, Clone, Copy)]
pub struct Wanted<'a> {
    /// Part number.
    pub part: &'a str,
    /// Drawing revision.
    pub revision: &'a str,
    /// Purchase order.
    pub order: &'a str,
    /// The shop's lot.
    pub lot: &'a str,
}

impl Reach {
    /// Whether part, order and lot all fit what is given; never when none of the three is given.
    pub fn names(&self, wanted: &Wanted) -> bool {
        let part = |p: &PartReached| {
            p.part == wanted.part && p.revision.as_deref().is_none_or(|r| r == wanted.revision)
        };
        let given = !(self.parts.is_empty() && self.orders.is_empty() && self.lots.is_empty());
        given
            && (self.parts.is_empty() || self.parts.iter().any(part))
            && (self.orders.is_empty() || self.orders.iter().any(|o| o == wanted.order))
            && (self.lots.is_empty() || self.lots.iter().any(|l| l == wanted.lot))
    }
}

impl Permit {
    /// The one test it is about: the one named, else the only one the requirement speaks of.
    pub fn kind(&self, requirement: &Requirement) -> Option<TestKind> {
        match requirement.when.tests.as_slice() {
            [only] if self.test.is_none_or(|test| test == *only) => Some(*only),
            [] | [_] => None,
            many => self.test.filter(|test| many.contains(test)),
        }
    }

    /// Whether it permits doing without a whole test, or making another in its place.
    pub fn is_about_the_test(&self, requirement: &Requirement) -> bool {
        requirement.subject == Subject::TestMade
            && self.kind(requirement).is_some()
            && matches!(self.act, Act::Omit | Act::Substitute)
    }

    /// Whether a purchaser can permit this of that requirement.
    ///
    /// # Errors
    /// What stands against it, in words.
    pub fn fits(&self, pack: &Pack, requirement: &Requirement) -> Result<(), String> {
        if pack.is_house() {
            return Err("the house's own rules are not the purchaser's to loosen".to_owned());
        }
        if requirement.advice {
            return Err("it is advice and holds no lot".to_owned());
        }
        match requirement.subject {
            Subject::TreatmentNamed => {
                return Err("another treatment, or none, is another order".to_owned());
            }
            Subject::AlloySeries | Subject::Chromium | Subject::PartUse => {
                return Err(
                    "whether a process or test suits the part is a fact nobody can permit away".to_owned()
                );
            }
            _ => {}
        }
        match (requirement.when.tests.as_slice(), self.test) {
            ([], Some(test)) => return Err(format!("it does not speak of the test `{}`", test.name())),
            ([], None) => {}
            (tests, Some(test)) if !tests.contains(&test) => {
                return Err(format!("it does not speak of the test `{}`", test.name()));
            }
            ([_, _, ..], None) => return Err("it speaks of several tests: say which with `test:`".to_owned()),
            _ => {}
        }
        self.act_fits(pack, requirement)
    }

    fn act_fits(&self, pack: &Pack, requirement: &Requirement) -> Result<(), String> {
        match (self.act, &self.check, self.instead) {
            (Act::Limit, Some(check), None) => limit_fits(&requirement.check, check),
            (Act::Limit, ..) => Err("`act: limit` takes a `check:` and nothing else".to_owned()),
            (Act::Omit, None, None) => Ok(()),
            (Act::Omit, ..) => Err("`act: omit` takes neither `check:` nor `instead:`".to_owned()),
            (Act::Substitute, None, Some(instead)) => {
                let Some(kind) = self.kind(requirement).filter(|_| requirement.subject == Subject::TestMade)
                else {
                    return Err("only the demand that a test be made can be met by another test".to_owned());
                };
                if kind == instead {
                    return Err(format!("`{}` cannot stand in for itself", kind.name()));
                }
                if !pack.tests.iter().any(|t| t.test == instead) {
                    return Err(format!("{} has no test `{}`", pack.designation, instead.name()));
                }
                Ok(())
            }
            (Act::Substitute, ..) => {
                Err("`act: substitute` takes the other test as `instead:` and nothing else".to_owned())
            }
        }
    }

    /// Whether it speaks of this finding of a requirement: of one test only, where that speaks of several.
    pub fn speaks_of(&self, requirement: &Requirement, kind: Option<TestKind>) -> bool {
        match requirement.subject.scope() {
            Scope::Test if !requirement.when.tests.is_empty() => {
                kind.is_some() && self.kind(requirement) == kind
            }
            _ => true,
        }
    }
}

/// A limit of the same form, with every figure given and measuring the same.
fn limit_fits(pack: &Check, own: &Check) -> Result<(), String> {
    let ends = |w: &Window| w.from.zip(w.to).map(|(from, to)| [from, to]);
    let value = |b: &Bound| b.value.map(|v| [v, v]);
    let (figures, allowed) = match (pack, own) {
        (Check::Within(theirs), Check::Within(ours)) => (
            ours.iter().map(ends).collect::<Option<Vec<_>>>(),
            theirs.iter().filter_map(dimension_of_window).collect::<Vec<_>>(),
        ),
        (Check::AtLeast(theirs), Check::AtLeast(ours)) | (Check::AtMost(theirs), Check::AtMost(ours)) => (
            ours.iter().map(value).collect::<Option<Vec<_>>>(),
            theirs.iter().filter_map(dimension_of_bound).collect::<Vec<_>>(),
        ),
        (Check::OneOf(_), Check::OneOf(words)) | (Check::Only(_), Check::Only(words)) => {
            return if words.is_empty() { Err("the list is empty".to_owned()) } else { Ok(()) };
        }
        (Check::TimesOrdered(_), Check::TimesOrdered(times)) => {
            return if *times == 0 { Err("no piece is no limit: permit `omit`".to_owned()) } else { Ok(()) };
        }
        (Check::Within(_) | Check::AtLeast(_) | Check::AtMost(_), _)
        | (Check::OneOf(_) | Check::Only(_) | Check::TimesOrdered(_), _) => {
            return Err("the limit must have the form of the requirement's own `check:`".to_owned());
        }
        _ => return Err("it has no limit to move: permit `omit`, or nothing".to_owned()),
    };
    let Some(figures) = figures.filter(|f| !f.is_empty()) else {
        return Err("a limit without a figure".to_owned());
    };
    for [from, to] in figures {
        for end in [from, to] {
            if !allowed.contains(&end.dimension()) {
                return Err(format!("`{end}` does not measure what this requirement limits"));
            }
        }
        match from.compare(&to) {
            Some(std::cmp::Ordering::Greater) => return Err(format!("the window {from} to {to} is empty")),
            None => return Err(format!("`{from}` and `{to}` do not measure the same")),
            _ => {}
        }
    }
    Ok(())
}

fn dimension_of_window(window: &Window) -> Option<Dimension> {
    window.from.or(window.to).map(|q| q.dimension()).or(window.unit.map(|u| u.dimension()))
}

fn dimension_of_bound(bound: &Bound) -> Option<Dimension> {
    bound.value.map(|q| q.dimension()).or(bound.unit.map(|u| u.dimension()))
}
