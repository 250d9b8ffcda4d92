//! Limits as spans between two ends, so that several can be held against each other. Each unit system stands alone.

use std::cmp::Ordering;
use std::fmt;

use crate::pack::Check;
use crate::units::Quantity;
use crate::units::System;
use crate::units::Unit;

/// A limit: no less than one end, no more than the other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Span {
    /// Lower end.
    pub low: Option<Quantity>,
    /// Upper end.
    pub high: Option<Quantity>,
}

impl fmt::Display for Span {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.low, self.high) {
            (Some(low), Some(high)) if low == high => write!(f, "exactly {low}"),
            (Some(low), Some(high)) => write!(f, "{low} to {high}"),
            (Some(low), None) => write!(f, "at least {low}"),
            (None, Some(high)) => write!(f, "at most {high}"),
            (None, None) => f.write_str("no limit"),
        }
    }
}

impl Span {
    fn unit(&self) -> Option<Unit> {
        self.low.or(self.high).map(|q| q.unit())
    }

    /// Both at once; `None` when they measure different things.
    fn and(&self, other: &Span) -> Option<Span> {
        let pick = |a: Option<Quantity>, b: Option<Quantity>, wanted: Ordering| match (a, b) {
            (Some(a), Some(b)) => Some(Some(if b.compare(&a)? == wanted { b } else { a })),
            (a, b) => Some(a.or(b)),
        };
        let both = Span {
            low: pick(self.low, other.low, Ordering::Greater)?,
            high: pick(self.high, other.high, Ordering::Less)?,
        };
        both.is_empty().map(|_| both)
    }

    /// Whether nothing lies in it; `None` when that cannot be told.
    fn is_empty(&self) -> Option<bool> {
        match (self.low, self.high) {
            (Some(low), Some(high)) => Some(low.compare(&high)? == Ordering::Greater),
            _ => Some(false),
        }
    }
}

/// The spans of a check with figures, unknown ones left out.
pub fn spans(check: &Check) -> Option<Vec<Span>> {
    let known = |span: &Span| span.low.is_some() || span.high.is_some();
    Some(match check {
        Check::Within(all) => all.iter().map(|w| Span { low: w.from, high: w.to }).filter(known).collect(),
        Check::AtLeast(all) => all.iter().map(|b| Span { low: b.value, high: None }).filter(known).collect(),
        Check::AtMost(all) => all.iter().map(|b| Span { low: None, high: b.value }).filter(known).collect(),
        _ => return None,
    })
}

/// Where several limits meet.
pub enum Meeting {
    /// What stands, in words.
    Stands(String),
    /// In no unit.
    Nowhere,
}

/// Whether two units can be held against each other as printed: one measure, and one unit system.
pub fn alike(one: Unit, other: Unit) -> bool {
    one.dimension() == other.dimension() && one.system() == other.system()
}

/// Where limits meet, each given in one or more units.
pub fn meeting(all: &[&[Span]]) -> Meeting {
    let mut units: Vec<Unit> = Vec::new();
    for unit in all.iter().flat_map(|spans| spans.iter()).filter_map(Span::unit) {
        if !units.iter().any(|known| alike(*known, unit)) {
            units.push(unit);
        }
    }
    let mut stands: Vec<String> = Vec::new();
    let mut across: Vec<&str> = Vec::new();
    let mut apart: Vec<&str> = Vec::new();
    let mut nowhere = !units.is_empty();
    for unit in units {
        let own = |spans: &&[Span]| spans.iter().copied().find(|s| s.unit().is_some_and(|u| alike(u, unit)));
        let every: Vec<Option<Span>> = all.iter().map(own).collect();
        if every.iter().all(Option::is_some) {
            let mut each = every.into_iter().flatten();
            let first = each.next();
            let both = first.and_then(|first| each.try_fold(first, |sum, span| sum.and(&span)));
            match both {
                Some(span) if span.is_empty() == Some(true) => apart.push(unit.symbol()),
                Some(span) => {
                    nowhere = false;
                    stands.push(span.to_string());
                }
                // They measure different things: nothing can be said.
                None => nowhere = false,
            }
            continue;
        }
        // A reading in this unit is held against the limits in other units too, across units, exactly.
        let mut met = Some(Span { low: None, high: None });
        for (own, spans) in every.iter().zip(all) {
            let span = own.or_else(|| spans.first().copied());
            met = met.and_then(|sum| span.and_then(|span| sum.and(&span)));
        }
        if met.is_none_or(|span| span.is_empty() != Some(true)) {
            nowhere = false;
            across.push(match unit.system() {
                System::Either => "",
                _ => unit.symbol(),
            });
        } else {
            apart.push(unit.symbol());
        }
    }
    if nowhere {
        return Meeting::Nowhere;
    }
    let across: Vec<&str> = across.into_iter().filter(|symbol| !symbol.is_empty()).collect();
    let mut words = stands.join(" or ");
    if words.is_empty() {
        return Meeting::Stands("both stand: they are written in different units".to_owned());
    }
    words.push_str(" stands");
    if !across.is_empty() {
        words.push_str(&format!("; in {} both stand", across.join(" and ")));
    }
    Meeting::Stands(words)
}
