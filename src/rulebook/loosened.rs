//! Clauses that build on another pack may tighten, add and choose. What would loosen is refused: the base is judged
//! beside them anyway, so a looser clause would only mislead. A purchaser loosens by a deviation.

use std::cmp::Ordering;

use rust_decimal::Decimal;

use crate::pack::Bound;
use crate::pack::Check;
use crate::pack::Meeting;
use crate::pack::Pack;
use crate::pack::Requirement;
use crate::pack::Scope;
use crate::pack::Span;
use crate::pack::When;
use crate::pack::alike;
use crate::pack::meeting;
use crate::pack::spans;
use crate::rulebook::form;
use crate::units::Quantity;

/// A clause of a pack that builds on another, and what is wrong with it.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}; {}", self.found(), self.mend())]
pub struct Loosened {
    /// The clause's id.
    pub clause: String,
    /// Its limit, in words.
    pub asked: String,
    /// What it does to the base.
    pub why: &'static str,
    /// The base requirement: `pack/requirement`.
    pub base: String,
    /// Its clause.
    pub base_clause: String,
    /// Its limit, in words.
    pub limit: String,
}

impl Loosened {
    /// What the clause does.
    pub fn found(&self) -> String {
        let Loosened { clause, asked, why, base, base_clause, limit } = self;
        format!("`{clause}` ({asked}) {why} `{base}` (clause {base_clause}: {limit})")
    }

    /// What to do instead.
    pub fn mend(&self) -> String {
        format!(
            "clauses do not loosen what they build on. Leave it out, or let the purchaser permit it in writing for \
             named parts, orders or lots: a deviation, deviations/NUMBER.yaml with `requirement: {}`",
            self.base
        )
    }
}

/// Every clause that is looser than a mandatory demand of the base on the same thing, or that cannot be met beside it.
pub fn loosened(pack: &Pack, base: &Pack) -> Vec<Loosened> {
    let mut all = Vec::new();
    for clause in &pack.requirements {
        let same = base.requirements.iter().filter(|b| b.subject == clause.subject && !b.advice);
        for demand in same.filter(|b| overlap(clause, b)) {
            if let Some(why) = looser(clause, demand, base.test_pieces) {
                all.push(Loosened {
                    clause: clause.id.clone(),
                    asked: words(&clause.check),
                    why,
                    base: format!("{}/{}", base.pack, demand.id),
                    base_clause: demand.clause.clone(),
                    limit: words(&demand.check),
                });
            }
        }
    }
    all
}

fn words(check: &Check) -> String {
    crate::judge::limit_text(check, None)
}

/// Whether there can be a lot to which both apply. Options and conditions of a part do not exclude each other.
fn overlap(clause: &Requirement, base: &Requirement) -> bool {
    fn meet<T: PartialEq>(a: &[T], b: &[T]) -> bool {
        a.is_empty() || b.is_empty() || a.iter().any(|x| b.contains(x))
    }
    let (a, b): (&When, &When) = (&clause.when, &base.when);
    let tests = clause.subject.scope() != Scope::Test || meet(&a.tests, &b.tests);
    let free = a.free_machining.zip(b.free_machining).is_none_or(|(a, b)| a == b);
    tests
        && free
        && meet(&a.treatments, &b.treatments)
        && meet(&a.series, &b.series)
        && meet(&a.used_for, &b.used_for)
        && meet(&a.classes, &b.classes)
}

const UNDER: &str = "goes below";
const OVER: &str = "goes beyond";
const APART: &str = "cannot be met together with";
const ADDS: &str = "allows words that are not in";
const LESS: &str = "asks less than";
const OTHER: &str = "has another form than";
const ADVICE: &str = "makes advice of";

/// What a clause does to a demand of the base that it may not do.
fn looser(clause: &Requirement, base: &Requirement, pieces: Option<u64>) -> Option<&'static str> {
    let has =
        |words: &[String], word: &String| words.iter().any(|w| w.trim().eq_ignore_ascii_case(word.trim()));
    if clause.advice {
        // A tighter limit may be advice; the demand itself may not.
        return (words(&clause.check) == words(&base.check)).then_some(ADVICE);
    }
    if let (Some(own), Some(theirs)) = (spans(&clause.check), spans(&base.check)) {
        return figures(&own, &theirs);
    }
    match (&clause.check, &base.check) {
        (Check::OneOf(own), Check::OneOf(theirs)) => match own.iter().any(|w| !has(theirs, w)) {
            true => Some(ADDS),
            false => None,
        },
        (Check::Only(own), Check::Only(theirs)) => match own.iter().any(|w| !has(theirs, w)) {
            true => Some(ADDS),
            false if own.first().is_none_or(|w| theirs.first().is_some_and(|t| w != t)) => Some(APART),
            false => None,
        },
        (Check::OneOf(own), Check::NoneOf(theirs)) => own.iter().any(|w| has(theirs, w)).then_some(ADDS),
        // A plain number of pieces against the standard's own; a larger number ordered is judged beside it.
        (Check::AtLeast(own), Check::TimesOrdered(times)) => {
            let least = pieces.map(|n| Decimal::from(n.saturating_mul(u64::from(*times))));
            let fewer = |b: &Bound| b.value.zip(least).is_some_and(|(own, least)| own.value() < least);
            own.iter().any(fewer).then_some(UNDER)
        }
        (Check::OwnLimit, Check::TimesOrdered(1)) => None,
        (Check::TimesOrdered(own), Check::TimesOrdered(theirs)) => (own < theirs).then_some(LESS),
        // Anything is more than that something is recorded.
        (_, Check::Present) => None,
        (Check::Present, _) => Some(LESS),
        (Check::NoneOf(_), Check::OneOf(_) | Check::NoneOf(_) | Check::Only(_)) => None,
        (own, theirs) if form(own) == form(theirs) => None,
        _ => Some(OTHER),
    }
}

fn figures(own: &[Span], theirs: &[Span]) -> Option<&'static str> {
    for span in own {
        let unit = span.low.or(span.high).map(|q| q.unit())?;
        let unit_of = |s: &&Span| s.low.or(s.high).map(|q| q.unit());
        // As printed in the same unit system; where the base has none, across units.
        let beside = theirs.iter().find(|s| unit_of(s).is_some_and(|u| alike(u, unit)));
        let Some(base) = beside.or_else(|| theirs.first()) else { continue };
        let compared = |a: Option<Quantity>, b: Option<Quantity>| a?.compare(&b?);
        if compared(span.low, base.low) == Some(Ordering::Less) {
            return Some(UNDER);
        }
        if compared(span.high, base.high) == Some(Ordering::Greater) {
            return Some(OVER);
        }
    }
    let nowhere =
        !own.is_empty() && !theirs.is_empty() && matches!(meeting(&[own, theirs]), Meeting::Nowhere);
    nowhere.then_some(APART)
}
