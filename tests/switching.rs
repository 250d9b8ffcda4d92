//! How severely a lot is inspected, by the lots before it. The tables themselves are held cell by cell in
//! `tests/sampling.rs`, the rules alone in `src/sampling/switching.rs`; here they meet lots, days and events.

#![allow(clippy::unwrap_used, reason = "a test stops at the first surprise")]

use brightproof::app::builtin;
use brightproof::judge;
use brightproof::judge::Inspected;
use brightproof::pack::SamplingEvent;
use brightproof::pack::SamplingHappened;
use brightproof::pack::Switched;
use brightproof::sampling::Name;
use brightproof::sampling::Row;
use brightproof::sampling::Severity;
use brightproof::sampling::Tables;

fn tables() -> Tables {
    builtin::indexed_sampling().unwrap()
}

fn plan(name: &str) -> Name {
    name.parse().unwrap()
}

/// A lot of 100 inspected on a day of May: 105E letter F, AQL 1.5 leads to n = 32, Ac 1 on normal inspection.
fn lot(day: u32, sample: u64, failed: u64) -> Inspected {
    Inspected {
        lot: format!("L-{day}"),
        at: format!("2026-05-{day:02}T10:00+02:00").parse().unwrap(),
        pieces: 100,
        sample,
        failed,
    }
}

fn event(day: u32, what: SamplingHappened) -> SamplingEvent {
    SamplingEvent {
        on: format!("2026-05-{day:02}").parse().unwrap(),
        purchaser: "quillmark".to_owned(),
        part: "7731".to_owned(),
        standard: None,
        what,
        by: "a".to_owned(),
        why: "b".to_owned(),
    }
}

fn judged(history: &[Inspected], events: &[SamplingEvent]) -> (Switched, Vec<Row>) {
    let events: Vec<&SamplingEvent> = events.iter().collect();
    let day = "2026-05-31".parse().unwrap();
    let name = plan("MIL-STD-105E level II AQL 1.5");
    let table = judge::switched(&tables(), &name, "ASTM A967/A967M", history, &events, day).unwrap();
    (table.switched.unwrap(), table.rows)
}

fn row(rows: &[Row], lot: u64) -> (u64, u64, u64) {
    let row = rows.iter().find(|r| r.lot_from <= lot && r.lot_to.is_none_or(|to| lot <= to)).unwrap();
    (row.pieces(lot), row.accept, row.reject)
}

/// MIL-STD-105E 4.7.1 and 4.7.2, and its Tables II-A and II-B at letter F, AQL 1.5: normal 32/1/2 after the arrow,
/// tightened 32/0... the cell checks of the tables stand in tests/sampling.rs; here it is that the rule turns.
#[test]
fn two_of_five_tighten_and_five_good_ones_bring_back() {
    let bad = [lot(1, 32, 0), lot(2, 32, 3), lot(3, 32, 0), lot(4, 32, 2)];
    let (now, rows) = judged(&bad, &[]);
    assert_eq!((now.severity, now.since, now.lots), (Severity::Tightened, None, 4));
    assert_eq!(now.after.as_deref(), Some("L-4"));
    let (_, normal) = judged(&bad[..2], &[]);
    assert!(row(&rows, 100).0 >= row(&normal, 100).0 && row(&rows, 100).1 <= row(&normal, 100).1);
    assert_ne!(row(&rows, 100), row(&normal, 100));

    let good = |n: u32| (0..n).map(|i| lot(5 + i, 100, 0)).collect::<Vec<_>>();
    let four: Vec<Inspected> = bad.iter().cloned().chain(good(4)).collect();
    assert_eq!(judged(&four, &[]).0.severity, Severity::Tightened);
    let five: Vec<Inspected> = bad.iter().cloned().chain(good(5)).collect();
    assert_eq!(judged(&five, &[]).0.severity, Severity::Normal);
    // Lots of which too few pieces were inspected bring nothing back.
    let few: Vec<Inspected> = bad.iter().cloned().chain((0..5).map(|i| lot(5 + i, 8, 0))).collect();
    assert_eq!(judged(&few, &[]).0.severity, Severity::Tightened);
}

/// MIL-STD-105E 4.7.5 (as read; D's rule was another): five refused on tightened inspection stop it, until action.
#[test]
fn five_refused_on_tightened_inspection_stop_it_until_action_is_taken() {
    let mut lots = vec![lot(1, 32, 3), lot(2, 32, 3)];
    lots.extend((3..8).map(|day| lot(day, 100, 9)));
    assert!(!judged(&lots[..6], &[]).0.stopped);
    assert!(judged(&lots, &[]).0.stopped);
    // Action before the stop says nothing about it.
    assert!(judged(&lots, &[event(3, SamplingHappened::CorrectiveAction)]).0.stopped);
    let (now, _) = judged(&lots, &[event(8, SamplingHappened::CorrectiveAction)]);
    assert_eq!((now.stopped, now.severity), (false, Severity::Tightened));
}

/// MIL-STD-105E 4.7.3: ten accepted, few nonconforming, steady production, and the authority wants it. With 10
/// samples of 32 at AQL 1.5 (320 units) the limit number of Table VIII is 1 (cell of the facts' table, 320-499).
#[test]
fn reduced_only_when_all_conditions_stand() {
    let lots: Vec<Inspected> = (1..=10).map(|day| lot(day, 32, 0)).collect();
    let wanted = event(1, SamplingHappened::ReducedAuthorised);
    assert_eq!(judged(&lots, &[]).0.severity, Severity::Normal);
    assert_eq!(judged(&lots, std::slice::from_ref(&wanted)).0.severity, Severity::Reduced);
    assert_eq!(judged(&lots[..9], std::slice::from_ref(&wanted)).0.severity, Severity::Normal);
    let halted = [wanted.clone(), event(20, SamplingHappened::Irregular)];
    assert_eq!(judged(&lots, &halted).0.severity, Severity::Normal);
    let again = [wanted, event(20, SamplingHappened::Irregular), event(20, SamplingHappened::Steady)];
    assert_eq!(judged(&lots, &again).0.severity, Severity::Reduced);
}

#[test]
fn lots_of_iso_2859_are_never_reduced_here() {
    let lots: Vec<Inspected> = (1..=25).map(|day| lot(day, 50, 0)).collect();
    let name = plan("ISO 2859-1 level II AQL 1.5");
    let wanted = event(1, SamplingHappened::ReducedAuthorised);
    let day = "2026-05-31".parse().unwrap();
    let table = judge::switched(&tables(), &name, "ASTM B912", &lots, &[&wanted], day).unwrap();
    assert_eq!(table.switched.unwrap().severity, Severity::Normal);
}
