//! Switching, worked by hand after MIL-STD-105E 4.7, ANSI/ASQ Z1.4 8.3 and ISO 2859-1 9.3 (the score is recalled).
//!
//! Lots of 1000, level II, AQL 1.5: letter J. Normal 80 pieces, Ac 3 Re 4; tightened 80, Ac 2 Re 3; reduced 32, Ac 1
//! Re 4. Ten normal lots are 800 units, for which the limit number is 7.

use brightproof::sampling::Level;
use brightproof::sampling::Next;
use brightproof::sampling::NotReduced;
use brightproof::sampling::Past;
use brightproof::sampling::Rules;
use brightproof::sampling::Severity;
use brightproof::sampling::Standard;
use brightproof::sampling::State;
use brightproof::sampling::Verdict;
use brightproof::sampling::Why;
use brightproof::sampling::state;
use brightproof::sampling::verdict;

use super::aql;
use super::tables;

const NEXT: Next = Next { steady: true, corrected: false };

fn rules(level: &str) -> Rules {
    Rules {
        standard: Standard::MilStd105E,
        level: Level::II,
        aql: aql(level),
        begins: Severity::Normal,
        reduced_authorised: true,
        limit_numbers: true,
    }
}

/// A lot of `lot` pieces with `found` failures, at the plan of that severity.
fn past(rules: &Rules, lot: u64, severity: Severity, found: u64) -> Past {
    let plan = tables().plan(lot, rules.level, rules.aql, severity).unwrap();
    Past {
        lot,
        severity,
        sample: plan.sample,
        accept: plan.accept,
        reject: plan.reject,
        found,
        original: true,
        steady: true,
        corrected: false,
    }
}

/// Lots of 1000 with these failures, each inspected as the rules ask.
fn run(rules: &Rules, history: &mut Vec<Past>, found: &[u64]) -> State {
    for found in found {
        let now = state(&tables(), rules, history, &NEXT);
        history.push(past(rules, 1000, now.severity, *found));
    }
    let last = state(&tables(), rules, history, &NEXT);
    assert!(last.departures.is_empty());
    last
}

/// Lots 2 and 6 fail: both among five consecutive lots. Lots 1 and 6 do not lie among five.
#[test]
fn two_of_five() {
    let found = run(&rules("1.5"), &mut vec![], &[0, 4, 0, 0, 0, 4]);
    assert_eq!((found.severity, found.why, found.since), (Severity::Tightened, Why::TwoOfFive, 6));
    let found = run(&rules("1.5"), &mut vec![], &[4, 0, 0, 0, 0, 4]);
    assert_eq!((found.severity, found.why), (Severity::Normal, Why::Begins));
    // Two failures in two lots are enough, and Ac itself accepts.
    assert_eq!(run(&rules("1.5"), &mut vec![], &[4, 4]).severity, Severity::Tightened);
    assert_eq!(run(&rules("1.5"), &mut vec![], &[3, 3]).severity, Severity::Normal);
}

/// Tightened from lot 3. Four accepted and a failure begin the count again; five accepted end it.
#[test]
fn back_to_normal() {
    let mut history = vec![];
    let found = run(&rules("1.5"), &mut history, &[4, 4, 0, 0, 0, 0, 3, 2, 2, 2, 2]);
    assert_eq!(found.severity, Severity::Tightened);
    let found = run(&rules("1.5"), &mut history, &[2]);
    assert_eq!((found.severity, found.why, found.since), (Severity::Normal, Why::FiveAccepted, 12));
    assert_eq!(history[2].accept, 2);
}

/// Five failures of one stretch stop it, whatever lies between; corrective action leads back to tightened.
#[test]
fn stopped() {
    let rules = rules("1.5");
    let mut history = vec![];
    let found = run(&rules, &mut history, &[4, 4, 3, 0, 3, 0, 0, 3, 0, 3]);
    assert!(!found.stopped);
    let found = run(&rules, &mut history, &[3]);
    assert!(found.stopped && found.why == Why::Stopped);
    let after = state(&tables(), &rules, &history, &Next { steady: true, corrected: true });
    assert_eq!((after.stopped, after.severity, after.why), (false, Severity::Tightened, Why::Corrected));
    // A lot inspected while stopped is a departure and changes nothing.
    history.push(past(&rules, 1000, Severity::Tightened, 0));
    let found = state(&tables(), &rules, &history, &NEXT);
    assert!(found.stopped && found.departures == [11]);
}

/// Ten lots with 7 failures reach the limit number, with 8 they do not; nine lots are too few.
#[test]
fn to_reduced() {
    let good = [1, 1, 1, 1, 1, 1, 1, 0, 0, 0];
    let found = run(&rules("1.5"), &mut vec![], &good);
    let why = Why::GoodRun { lots: 10, found: 7, limit: Some(7) };
    assert_eq!((found.severity, found.why, found.not_reduced), (Severity::Reduced, why, None));
    let found = run(&rules("1.5"), &mut vec![], &[2, 1, 1, 1, 1, 1, 1, 0, 0, 0]);
    assert_eq!(found.not_reduced, Some(NotReduced::TooMany { found: 8, limit: 7 }));
    assert_eq!(run(&rules("1.5"), &mut vec![], &good[..9]).not_reduced, Some(NotReduced::FewLots(9)));
    let not = Rules { reduced_authorised: false, ..rules("1.5") };
    assert_eq!(run(&not, &mut vec![], &good).not_reduced, Some(NotReduced::NotAuthorised));
    // Z1.4 8.5: without limit numbers the eight failures do not count.
    let z14 = Rules { standard: Standard::Z14, limit_numbers: false, ..rules("1.5") };
    let found = run(&z14, &mut vec![], &[2, 1, 1, 1, 1, 1, 1, 0, 0, 0]);
    assert_eq!(found.why, Why::GoodRun { lots: 10, found: 8, limit: None });
    // MIL-STD-105E has no such choice.
    let mil = Rules { limit_numbers: false, ..rules("1.5") };
    assert_eq!(run(&mil, &mut vec![], &[2, 1, 1, 1, 1, 1, 1, 0, 0, 0]).severity, Severity::Normal);
}

/// Reduced inspection that was earned goes on; whoever stays at normal then inspects more than is asked, and that is
/// no departure (MIL-STD-105E 4.7: normal to reduced is allowed, not demanded; recalled).
#[test]
fn reduced_goes_on_and_need_not_be_taken() {
    let rules = rules("1.5");
    let mut history = vec![];
    let found = run(&rules, &mut history, &[0; 13]);
    assert_eq!((found.severity, found.since), (Severity::Reduced, 10));
    assert!(history[10..].iter().all(|lot| lot.severity == Severity::Reduced));
    // Eleven lots at normal: the eleventh might have been reduced.
    let normal = past(&rules, 1000, Severity::Normal, 0);
    let found = state(&tables(), &rules, &[normal; 11], &NEXT);
    assert_eq!((found.severity, found.departures.len()), (Severity::Reduced, 0));
    assert_eq!((found.why, found.since), (Why::GoodRun { lots: 10, found: 0, limit: Some(7) }, 11));
    // A lot made irregularly at reduced leads back; the same at normal changes nothing.
    let begins = Rules { begins: Severity::Reduced, ..rules };
    let irregular = Past { steady: false, ..past(&begins, 1000, Severity::Reduced, 0) };
    let found = state(&tables(), &begins, &[irregular], &NEXT);
    assert_eq!((found.severity, found.why), (Severity::Normal, Why::Irregular));
    assert_eq!(found.departures, vec![0]);
    let found = state(&tables(), &rules, &[Past { steady: false, ..normal }], &NEXT);
    assert_eq!((found.severity, found.why), (Severity::Normal, Why::Begins));
    // One lot at reduced before it was earned is a departure.
    let early = past(&rules, 1000, Severity::Reduced, 0);
    let found = state(&tables(), &rules, &[normal, normal, early], &NEXT);
    assert_eq!((found.severity, found.departures), (Severity::Normal, vec![2]));
}

/// On reduced inspection 1 accepts, 2 and 3 accept and lead back, 4 refuses and leads back.
#[test]
fn from_reduced() {
    assert_eq!([1, 2, 3, 4].map(|f| verdict(f, 1, 4)).map(Verdict::accepted), [true, true, true, false]);
    let begins = Rules { begins: Severity::Reduced, ..rules("1.5") };
    assert_eq!(run(&begins, &mut vec![], &[1, 0, 1]).severity, Severity::Reduced);
    for (failures, why) in [(2, Why::BetweenNumbers), (3, Why::BetweenNumbers), (4, Why::NotAccepted)] {
        let found = run(&begins, &mut vec![], &[0, failures]);
        assert_eq!((found.severity, found.why, found.since), (Severity::Normal, why, 2));
    }
    let unsteady = Next { steady: false, corrected: false };
    let found = state(&tables(), &begins, &[], &unsteady);
    assert_eq!((found.severity, found.why), (Severity::Normal, Why::Irregular));
}

/// Lots of 100, AQL 0.65: 20 pieces each. Ten are 200 units, too few; with sixteen there are 320, limit 0.
/// Lots of 2000, AQL 4.0: ten are 1250 units, where sources differ.
#[test]
fn too_few_units() {
    let few = rules("0.65");
    let lots = |rules: &Rules, lot, count| vec![past(rules, lot, Severity::Normal, 0); count];
    let found = state(&tables(), &few, &lots(&few, 100, 15), &NEXT);
    assert_eq!(found.not_reduced, Some(NotReduced::FewUnits(300)));
    let found = state(&tables(), &few, &lots(&few, 100, 16), &NEXT);
    assert_eq!(found.why, Why::GoodRun { lots: 16, found: 0, limit: Some(0) });
    let four = rules("4.0");
    let found = state(&tables(), &four, &lots(&four, 2000, 10), &NEXT);
    assert_eq!(found.not_reduced, Some(NotReduced::LimitNotKnown(1250)));
}

/// ISO 2859-1: Ac 3, one step stricter Ac 2. Ten lots with 2 failures score 3 each; 3 failures begin again at 0. At
/// AQL 0.65 Ac is 1 and a lot scores 2, so that fifteen are needed.
#[test]
fn score() {
    let iso = Rules { standard: Standard::Iso2859, ..rules("1.5") };
    let nine = run(&iso, &mut vec![], &[2; 9]);
    assert_eq!((nine.not_reduced, nine.score), (Some(NotReduced::Score(27)), Some(27)));
    assert_eq!(run(&iso, &mut vec![], &[2; 10]).why, Why::Score(30));
    assert_eq!(run(&iso, &mut vec![], &[2, 2, 2, 3, 2]).score, Some(3));
    let one = Rules { standard: Standard::Iso2859, ..rules("0.65") };
    assert_eq!(run(&one, &mut vec![], &[1; 14]).score, Some(28));
    assert_eq!(run(&one, &mut vec![], &[1; 15]).why, Why::Score(30));
}

/// A lot presented again does not count; a lot inspected too laxly is a departure; too severely is as directed.
#[test]
fn what_does_not_count() {
    let rules = rules("1.5");
    let bad = past(&rules, 1000, Severity::Normal, 4);
    let again = Past { original: false, ..bad };
    assert_eq!(state(&tables(), &rules, &[bad, again], &NEXT).severity, Severity::Normal);
    let lax = past(&rules, 1000, Severity::Normal, 0);
    let history = [bad, bad, lax, lax, lax, lax, lax];
    let found = state(&tables(), &rules, &history, &NEXT);
    assert_eq!((found.severity, found.departures), (Severity::Tightened, vec![2, 3, 4, 5, 6]));
    let strict = past(&rules, 1000, Severity::Tightened, 0);
    let found = state(&tables(), &rules, &[strict], &NEXT);
    assert_eq!((found.severity, found.why), (Severity::Tightened, Why::Directed));
}
