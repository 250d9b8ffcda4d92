//! Holds evidence against a check.
//!
//! A standard that prints two unit systems says that each stands alone: the window in the unit of the record
//! decides. Only when no window is printed in that unit is the reading compared across units, exactly, and the
//! finding says so.

use rust_decimal::Decimal;

use crate::finding::Place;
use crate::finding::Reason;
use crate::finding::Verdict;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::judge::decided::Decided;
use crate::judge::decided::Side;
use crate::order::DecisionRule;
use crate::pack::Basis;
use crate::pack::Bound;
use crate::pack::Check;
use crate::pack::Window;
use crate::rulebook::unit_of_bound;
use crate::rulebook::unit_of_window;
use crate::units::Quantity;
use crate::units::Unit;

/// What a requirement comes to.
pub struct Outcome {
    pub verdict: Verdict,
    pub reason: Option<Reason>,
    pub limit: String,
    pub observed: Option<String>,
    pub place: Option<Place>,
    pub converted: bool,
    pub basis: Option<Basis>,
}

/// The outcome of one piece of evidence.
struct One {
    verdict: Verdict,
    reason: Option<Reason>,
    limit: String,
    observed: Option<String>,
    converted: bool,
    basis: Option<Basis>,
}

impl One {
    fn missing(check: &Check, reason: Reason) -> One {
        One {
            verdict: Verdict::NoEvidence,
            reason: Some(reason),
            limit: limit_text(check, None),
            observed: None,
            converted: false,
            basis: None,
        }
    }

    fn plain(met: bool, limit: String, observed: String) -> One {
        One {
            verdict: if met { Verdict::Met } else { Verdict::NotMet },
            reason: (!met).then_some(Reason::Outside),
            limit,
            observed: Some(observed),
            converted: false,
            basis: None,
        }
    }
}

/// Holds all the evidence of one requirement against its check. The worst decides: against, then missing.
pub fn outcome(check: &Check, evidence: &[Evidence], rule: DecisionRule) -> Outcome {
    let judged = |e: &Evidence| one(check, &e.found, &Decided { rule, uncertainty: &e.uncertainty });
    let mut each: Vec<(One, &Place)> = evidence.iter().map(|e| (judged(e), &e.place)).collect();
    if each.is_empty() {
        let nothing = One::missing(check, Reason::NotRecorded);
        return finish(nothing, None);
    }
    let worst = each.iter().position(|(o, _)| o.verdict == Verdict::NotMet);
    let worst = worst.or_else(|| each.iter().position(|(o, _)| o.verdict == Verdict::NoEvidence));
    if let Some(index) = worst {
        let (mut one, place) = each.swap_remove(index);
        let told = evidence.get(index).and_then(|e| e.told.as_ref());
        if let (Some(told), Verdict::NotMet, Some(observed)) = (told, one.verdict, &mut one.observed) {
            *observed = format!("{observed}, {told}");
        }
        return finish(one, Some(place.clone()));
    }
    // One that is not judged leaves nothing plainly met.
    if let Some(index) = each.iter().position(|(o, _)| o.verdict == Verdict::ReliedOn) {
        each.swap(0, index);
    }
    // All met (or not applicable): show every different observation once.
    let mut shown: Vec<String> = Vec::new();
    for (one, _) in &each {
        if let Some(observed) = one.observed.as_ref().filter(|o| !shown.contains(o)) {
            shown.push(observed.clone());
        }
    }
    let converted = each.iter().any(|(o, _)| o.converted);
    let (mut first, place) = each.swap_remove(0);
    first.observed = (!shown.is_empty()).then(|| shown.join(", "));
    first.converted = converted;
    finish(first, Some(place.clone()))
}

fn finish(one: One, place: Option<Place>) -> Outcome {
    Outcome {
        verdict: one.verdict,
        reason: one.reason,
        limit: one.limit,
        observed: one.observed,
        place,
        converted: one.converted,
        basis: one.basis,
    }
}

fn one(check: &Check, found: &Found, decided: &Decided) -> One {
    match (check, found) {
        (_, Found::Missing(reason)) => One::missing(check, reason.clone()),
        (_, Found::NotApplicable) => One {
            verdict: Verdict::NotApplicable,
            reason: None,
            limit: limit_text(check, None),
            observed: None,
            converted: false,
            basis: None,
        },
        (_, Found::Changed { was, now, seen }) => One {
            reason: Some(Reason::Changed),
            ..One::plain(false, format!("{was} when checked {seen}"), now.clone())
        },
        (_, Found::Relied(shown)) => {
            One { verdict: Verdict::ReliedOn, ..One::plain(true, limit_text(check, None), shown.clone()) }
        }
        (_, Found::Accredited { observed, limit, met }) => One::plain(*met, limit.clone(), observed.clone()),
        // Anything recorded is present.
        (Check::Present, Found::Quantity(q)) => One::plain(true, limit_text(check, None), q.to_string()),
        (Check::Present, Found::Words(words)) => {
            // A blank says nothing.
            let said = !words.is_empty() && words.iter().all(|w| !w.trim().is_empty());
            One::plain(said, limit_text(check, None), words.join(", "))
        }
        (Check::Present | Check::OwnLimit | Check::Passed, Found::Fact { shown, holds }) => {
            One::plain(*holds, limit_text(check, None), shown.clone())
        }
        (Check::OwnLimit | Check::Present, Found::Own { observed, limit, met }) => {
            One::plain(*met, limit.clone(), observed.clone())
        }
        // A treatment against a list of treatments.
        (Check::OneOf(words), Found::Own { observed, met, .. }) => {
            let met = *met && words.iter().any(|w| same_word(w, observed));
            One::plain(met, limit_text(check, None), observed.clone())
        }
        (Check::OneOf(words), Found::Words(found)) => {
            let met = !found.is_empty() && found.iter().all(|f| words.iter().any(|w| same_word(w, f)));
            One::plain(met, limit_text(check, None), found.join(", "))
        }
        (Check::NoneOf(words), Found::Words(found)) => {
            let met = !found.iter().any(|f| words.iter().any(|w| same_word(w, f)));
            let shown = if found.is_empty() { "none".to_owned() } else { found.join(", ") };
            One::plain(met, limit_text(check, None), shown)
        }
        (Check::Only(words), Found::Words(found)) => {
            let only = found.iter().all(|f| words.iter().any(|w| same_word(w, f)));
            let has_first = words.first().is_none_or(|first| found.iter().any(|f| same_word(first, f)));
            One::plain(only && has_first, limit_text(check, None), found.join(", "))
        }
        (Check::Passed, Found::Sample { pieces, failed, accept }) => {
            let limit =
                if *accept == 0 { "none failed".to_owned() } else { format!("at most {accept} failed") };
            One::plain(*failed <= *accept && *pieces > 0, limit, format!("{failed} of {pieces} failed"))
        }
        (Check::OwnLimit, Found::Counted { .. }) => one(&Check::TimesOrdered(1), found, decided),
        (Check::TimesOrdered(times), Found::Counted { pieces, ordered, lot }) => {
            let needed = ordered.saturating_mul(u64::from(*times)).min(*lot);
            One::plain(*pieces >= needed, format!("at least {}", count(needed)), count(*pieces))
        }
        (Check::Within(windows), Found::Quantity(q)) => within(check, windows, q, decided),
        (Check::AtLeast(bounds), Found::Quantity(q)) => bound(check, bounds, q, Side::AtLeast, decided),
        (Check::AtMost(bounds), Found::Quantity(q)) => bound(check, bounds, q, Side::AtMost, decided),
        // Pieces counted against a plain number.
        (Check::AtLeast(_) | Check::AtMost(_) | Check::Within(_), Found::Counted { pieces, .. }) => {
            one(check, &Found::Quantity(Quantity::new((*pieces).into(), Unit::Piece)), decided)
        }
        // The pack asks something its subject cannot answer: never a pass.
        _ => {
            One::missing(check, Reason::Contradiction("the rule's check does not fit its subject".to_owned()))
        }
    }
}

fn same_word(a: &str, b: &str) -> bool {
    a.trim().eq_ignore_ascii_case(b.trim())
}

fn count(pieces: u64) -> String {
    if pieces == 1 { "1 piece".to_owned() } else { format!("{pieces} pieces") }
}

fn within(check: &Check, windows: &[Window], q: &Quantity, decided: &Decided) -> One {
    let printed = windows.iter().find(|w| unit_of_window(w) == Some(q.unit()));
    let other = || windows.iter().find(|w| unit_of_window(w).is_some_and(|u| u.dimension() == q.dimension()));
    let Some(window) = printed.or_else(other) else {
        return wrong_unit(check, q);
    };
    let limit = window_text(window);
    let (Some(from), Some(to)) = (window.from, window.to) else {
        return unsure(limit, q, window.basis);
    };
    let met = match (decided.met(q, &from, Side::AtLeast), decided.met(q, &to, Side::AtMost)) {
        (Ok(low), Ok(high)) => low && high,
        (Err(Reason::WrongUnit), _) | (_, Err(Reason::WrongUnit)) => return wrong_unit(check, q),
        (Err(reason), _) | (_, Err(reason)) => return undecided(check, q, reason),
    };
    let limit = decided.words(limit, &from);
    // As with single limits: comparing minutes with hours converts nothing a standard prints twice.
    let converted = printed.is_none() && from.unit().system() != q.unit().system();
    One { converted, basis: window.basis, ..One::plain(met, limit, q.spoken()) }
}

fn bound(check: &Check, bounds: &[Bound], q: &Quantity, side: Side, decided: &Decided) -> One {
    let word = side.word();
    let printed = bounds.iter().find(|b| unit_of_bound(b) == Some(q.unit()));
    let other = || bounds.iter().find(|b| unit_of_bound(b).is_some_and(|u| u.dimension() == q.dimension()));
    let Some(bound) = printed.or_else(other) else {
        return wrong_unit(check, q);
    };
    let Some(value) = bound.value else {
        return unsure(bound_text(bound, word), q, bound.basis);
    };
    let met = match decided.met(q, &value, side) {
        Ok(met) => met,
        Err(Reason::WrongUnit) => return wrong_unit(check, q),
        Err(reason) => return undecided(check, q, reason),
    };
    // A duration or a count has one unit system: comparing minutes with hours converts nothing a standard
    // prints twice.
    let converted = printed.is_none() && value.unit().system() != q.unit().system();
    let limit = decided.words(bound_text(bound, word), &value);
    One { converted, basis: bound.basis, ..One::plain(met, limit, q.spoken()) }
}

/// Whether two durations differ by no more than a minute.
pub fn close(a: &Quantity, b: &Quantity) -> bool {
    let minutes = |q: &Quantity| -> Option<Decimal> {
        Some(match q.unit() {
            Unit::Second => q.value().checked_div(Decimal::from(60))?,
            Unit::Minute => q.value(),
            Unit::Hour => q.value().checked_mul(Decimal::from(60))?,
            Unit::Day => q.value().checked_mul(Decimal::from(1440))?,
            _ => return None,
        })
    };
    match (minutes(a), minutes(b)) {
        (Some(a), Some(b)) => (a - b).abs() <= Decimal::ONE,
        _ => false,
    }
}

fn wrong_unit(check: &Check, q: &Quantity) -> One {
    One { observed: Some(q.to_string()), ..One::missing(check, Reason::WrongUnit) }
}

fn undecided(check: &Check, q: &Quantity, reason: Reason) -> One {
    One { observed: Some(q.to_string()), ..One::missing(check, reason) }
}

fn unsure(limit: String, q: &Quantity, basis: Option<Basis>) -> One {
    One {
        verdict: Verdict::NoEvidence,
        reason: Some(Reason::FigureUnsure),
        limit,
        observed: Some(q.to_string()),
        converted: false,
        basis,
    }
}

fn window_text(window: &Window) -> String {
    let end = |q: Option<Quantity>| q.map_or_else(|| "(not known)".to_owned(), |q| q.to_string());
    match (window.from, window.to, window.unit) {
        (None, None, Some(unit)) => format!("a window in {unit}, not known"),
        (Some(from), Some(to), _) if from == to => format!("exactly {from}"),
        (from, to, _) => format!("{} to {}", end(from), end(to)),
    }
}

fn bound_text(bound: &Bound, word: &str) -> String {
    match (bound.value, bound.unit) {
        (Some(value), _) => format!("{word} {value}"),
        (None, Some(unit)) => format!("{word} a figure in {unit}, not known"),
        (None, None) => format!("{word} a figure not known"),
    }
}

/// A check as a limit to print; in one unit only, when it is known which.
pub fn limit_text(check: &Check, unit: Option<Unit>) -> String {
    fn choose<T>(
        all: &[T],
        unit: Option<Unit>,
        of: impl Fn(&T) -> Option<Unit>,
        text: impl Fn(&T) -> String,
    ) -> String {
        let in_unit: Vec<String> =
            all.iter().filter(|w| unit.is_some() && of(w) == unit).map(&text).collect();
        let shown = if in_unit.is_empty() { all.iter().map(&text).collect() } else { in_unit };
        shown.join(" or ")
    }
    match check {
        Check::Within(windows) => choose(windows, unit, unit_of_window, window_text),
        Check::AtLeast(bounds) => choose(bounds, unit, unit_of_bound, |b| bound_text(b, "at least")),
        Check::AtMost(bounds) => choose(bounds, unit, unit_of_bound, |b| bound_text(b, "at most")),
        Check::OneOf(words) => match words.as_slice() {
            [word] => word.clone(),
            words => format!("one of: {}", words.join(", ")),
        },
        Check::NoneOf(words) => format!("none of: {}", words.join(", ")),
        Check::Only(words) => format!("only {}", words.join(", ")),
        Check::Present => "recorded".to_owned(),
        Check::Passed => "none failed".to_owned(),
        Check::TimesOrdered(1) => "as many as ordered".to_owned(),
        Check::TimesOrdered(times) => format!("{times} times as many as ordered"),
        Check::OwnLimit => "within its own limit".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::Document;
    use crate::path::Path;

    const SIMPLE: DecisionRule = DecisionRule::SimpleAcceptance;

    fn check(yaml: &str) -> Check {
        crate::yaml::parse(yaml).unwrap()
    }

    fn verdict(check: &Check, found: Found) -> Verdict {
        outcome(check, &[Evidence::at(Document::Record, Path::root(), found)], SIMPLE).verdict
    }

    fn q(text: &str) -> Found {
        Found::Quantity(text.parse().unwrap())
    }

    /// ASTM A967/A967M, Nitric 2: 70 °F to 90 °F and 20 °C to 30 °C stand alone.
    #[test]
    fn each_unit_system_stands_alone() {
        let window = check("within:\n  - { from: 70 °F, to: 90 °F }\n  - { from: 20 °C, to: 30 °C }\n");
        assert_eq!(verdict(&window, q("88 °F")), Verdict::Met);
        assert_eq!(verdict(&window, q("31 °C")), Verdict::NotMet);
        assert_eq!(verdict(&window, q("90 °F")), Verdict::Met);
        assert_eq!(verdict(&window, q("90.1 °F")), Verdict::NotMet);
        assert_eq!(verdict(&window, q("25 vol%")), Verdict::NoEvidence);
    }

    #[test]
    fn a_reading_is_converted_only_when_its_unit_is_not_printed() {
        let one = check("within: [{ from: 70 °F, to: 90 °F }]");
        let found = outcome(&one, &[Evidence::at(Document::Record, Path::root(), q("31 °C"))], SIMPLE);
        assert_eq!((found.verdict, found.converted), (Verdict::Met, true));
        let unsure = check("within:\n  - { from: 70 °F, to: 90 °F }\n  - { unit: °C, basis: unsure }\n");
        assert_eq!(verdict(&unsure, q("25 °C")), Verdict::NoEvidence);
    }

    #[test]
    fn the_worst_evidence_decides() {
        let least = check("at_least: [{ value: 30 min }]");
        let all = |texts: &[&str]| {
            let evidence: Vec<Evidence> =
                texts.iter().map(|t| Evidence::at(Document::Record, Path::root(), q(t))).collect();
            outcome(&least, &evidence, SIMPLE)
        };
        assert_eq!(all(&["40 min", "0.5 h"]).verdict, Verdict::Met);
        assert_eq!(all(&["40 min", "29 min", "0.5 h"]).observed.as_deref(), Some("29 min"));
        assert_eq!(outcome(&least, &[], SIMPLE).verdict, Verdict::NoEvidence);
    }
}
