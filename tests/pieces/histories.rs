//! Histories nobody thought of: lots of a few runs, good and bad, shipped in parts in whatever order, some
//! certificates withdrawn. Whatever is asked, no piece is certified whose last treatment or test failed, and no
//! run gives more pieces than it has.

use std::collections::BTreeSet;
use std::sync::atomic::AtomicU64;
use std::sync::atomic::Ordering;

use brightproof::judge::Claim;
use brightproof::judge::Dossier;
use brightproof::judge::conforms;
use brightproof::judge::fits;
use brightproof::judge::judge;
use brightproof::record::Step;
use proptest::prelude::*;

use super::TWO_RUNS;
use super::part_of;
use crate::support::dossier;
use crate::support::later;

/// One run: pieces, whether it was long enough in the bath, its test, the pieces a look refused, and how many of
/// its pieces were treated again in a run of their own.
#[derive(Debug, Clone)]
struct Plan {
    pieces: u64,
    long_enough: bool,
    test: Tested,
    refused: u64,
    again: u64,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Tested {
    Passed,
    Failed,
    Not,
}

#[derive(Debug, Clone)]
enum Ask {
    Ship { runs: BTreeSet<usize>, pieces: u64 },
    Withdraw { which: usize },
}

fn plan() -> impl Strategy<Value = Plan> {
    let test = prop_oneof![8 => Just(Tested::Passed), 1 => Just(Tested::Failed), 1 => Just(Tested::Not)];
    (1..9_u64, prop::bool::weighted(0.8), test, prop_oneof![3 => Just(0_u64), 1 => 1..3_u64], 0..6_u64)
        .prop_map(|(pieces, long_enough, test, refused, again)| Plan {
            pieces,
            long_enough,
            test,
            refused,
            again,
        })
}

fn ask() -> impl Strategy<Value = Ask> {
    prop_oneof![
        6 => (prop::collection::btree_set(0..6_usize, 0..3), 1..9_u64)
            .prop_map(|(runs, pieces)| Ask::Ship { runs, pieces }),
        1 => (0..8_usize).prop_map(|which| Ask::Withdraw { which }),
    ]
}

/// What is true of the pieces of one final run, told apart from how the program counts.
#[derive(Debug, Clone)]
struct Truth {
    run: String,
    good: bool,
    fit: u64,
}

/// A record made from the plans, what is true of it, and a count of accepted pieces that may be too high by `lie`.
fn lot(plans: &[Plan], lie: u64) -> (Dossier, Vec<Truth>) {
    let mut dossier = dossier(TWO_RUNS);
    let record = &mut dossier.record;
    let (first, second) = (record.runs[0].clone(), record.runs[1].clone());
    let (test, look) = (record.tests[0].clone(), record.visual[0].clone());
    record.runs.clear();
    record.tests.clear();
    record.visual.clear();
    let mut truths = Vec::new();
    let mut finals: Vec<(String, u64, &Plan, bool)> = Vec::new();
    for (i, plan) in plans.iter().enumerate() {
        let mut run = first.clone();
        run.run = (i + 1).to_string();
        run.pieces = plan.pieces;
        set_time(&mut run.steps, plan.long_enough);
        record.runs.push(run);
        let again = plan.again.min(plan.pieces);
        finals.push(((i + 1).to_string(), plan.pieces - again, plan, plan.long_enough));
    }
    for (i, plan) in plans.iter().enumerate().filter(|(_, p)| p.again > 0) {
        let mut run = second.clone();
        run.run = format!("{} again", i + 1);
        run.pieces = plan.again.min(plan.pieces);
        run.treats_again = Some((i + 1).to_string());
        set_time(&mut run.steps, !plan.long_enough || plan.pieces % 2 == 0);
        let good = !plan.long_enough || plan.pieces % 2 == 0;
        finals.push((run.run.clone(), run.pieces, plan, good));
        record.runs.push(run);
    }
    let mut accepted = 0_u64;
    let mut rejected = 0_u64;
    for (run, pieces, plan, long_enough) in finals {
        let refused = plan.refused.min(pieces);
        let passed = plan.test == Tested::Passed;
        if plan.test != Tested::Not {
            let mut made = test.clone();
            made.covers = vec![run.clone()];
            made.failed = u64::from(!passed);
            record.tests.push(made);
        }
        let mut seen = look.clone();
        seen.covers = vec![run.clone()];
        seen.pieces = pieces;
        seen.failed = refused;
        record.visual.push(seen);
        if pieces > 0 {
            rejected += refused;
            let fit = pieces - refused;
            accepted += if long_enough && passed { fit } else { 0 };
            truths.push(Truth { run, good: long_enough && passed, fit });
        }
    }
    // Runs whose pieces were all treated again have no test or look of their own any more.
    let received: u64 = plans.iter().map(|p| p.pieces).sum();
    let last: BTreeSet<&String> = truths.iter().map(|t| &t.run).collect();
    record.tests.retain(|t| t.covers.iter().all(|r| last.contains(r)));
    record.visual.retain(|v| v.covers.iter().all(|r| last.contains(r)));
    record.counts.received = received;
    record.counts.rejected = rejected;
    record.counts.accepted = (accepted + lie).min(received - rejected);
    record.counts.held = received - rejected - record.counts.accepted;
    (dossier, truths)
}

fn set_time(steps: &mut [Step], long_enough: bool) {
    for step in steps {
        if let Step::Passivate(bath) = step {
            bath.out_at = bath.in_at.map(|at| later(&at, if long_enough { 34 } else { 29 }));
        }
    }
}

/// Whether the pieces certified can all be found, each in one of the runs it may be of: augmenting paths, piece by
/// piece, as plainly as it can be said.
fn can_be_found(claims: &[Claim], truths: &[Truth]) -> bool {
    let mut pieces: Vec<usize> = Vec::new();
    for (nth, claim) in claims.iter().enumerate() {
        pieces.extend(std::iter::repeat_n(nth, usize::try_from(claim.pieces).unwrap()));
    }
    let mut places: Vec<(usize, Option<usize>)> = Vec::new();
    for (run, truth) in truths.iter().enumerate() {
        places.extend(std::iter::repeat_n((run, None), usize::try_from(truth.fit).unwrap()));
    }
    let may = |claim: usize, run: usize| {
        claims[claim].runs.is_empty() || claims[claim].runs.contains(&truths[run].run)
    };
    fn place(
        piece: usize,
        pieces: &[usize],
        places: &mut [(usize, Option<usize>)],
        seen: &mut [bool],
        may: &dyn Fn(usize, usize) -> bool,
    ) -> bool {
        for at in 0..places.len() {
            if seen[at] || !may(pieces[piece], places[at].0) {
                continue;
            }
            seen[at] = true;
            if places[at].1.is_none_or(|other| place(other, pieces, places, seen, may)) {
                places[at].1 = Some(piece);
                return true;
            }
        }
        false
    }
    (0..pieces.len()).all(|piece| {
        let mut seen = vec![false; places.len()];
        place(piece, &pieces, &mut places, &mut seen, &may)
    })
}

static HISTORIES: AtomicU64 = AtomicU64::new(0);
static ASKED: AtomicU64 = AtomicU64::new(0);
static CERTIFIED: AtomicU64 = AtomicU64::new(0);
static OVERDRAWN: AtomicU64 = AtomicU64::new(0);

fn history(plans: &[Plan], lie: u64, asks: &[Ask]) -> Result<(), TestCaseError> {
    let (whole, truths) = lot(plans, lie);
    let names: Vec<String> = whole.record.runs.iter().map(|r| r.run.clone()).collect();
    let mut held: Vec<Claim> = Vec::new();
    HISTORIES.fetch_add(1, Ordering::Relaxed);
    for ask in asks {
        let (runs, pieces) = match ask {
            Ask::Withdraw { which } => {
                if *which < held.len() {
                    held.remove(*which);
                }
                continue;
            }
            Ask::Ship { runs, pieces } => (runs, *pieces),
        };
        ASKED.fetch_add(1, Ordering::Relaxed);
        let chosen: BTreeSet<String> = runs.iter().map(|i| names[i % names.len()].clone()).collect();
        let mut dossier = whole.clone();
        if !chosen.is_empty() {
            let listed: Vec<&str> = chosen.iter().map(String::as_str).collect();
            dossier.covers_runs = part_of(TWO_RUNS, &listed, pieces, Some("bin 3")).covers_runs;
        }
        let claim = Claim { runs: chosen, pieces };
        if !conforms(&judge(&dossier)) {
            continue;
        }
        let mut all = held.clone();
        all.push(claim.clone());
        if fits(&dossier.record, &all).is_err() {
            OVERDRAWN.fetch_add(1, Ordering::Relaxed);
            continue;
        }
        CERTIFIED.fetch_add(1, Ordering::Relaxed);
        held = all;
        let of = |t: &&Truth| claim.runs.is_empty() || claim.runs.contains(&t.run);
        for truth in truths.iter().filter(of) {
            prop_assert!(truth.good, "run {} is certified and did not conform", truth.run);
        }
        let total: u64 = held.iter().map(|c| c.pieces).sum();
        prop_assert!(total <= whole.record.counts.accepted, "more than accepted");
        prop_assert!(can_be_found(&held, &truths), "{held:?} cannot be found in {truths:?}");
    }
    Ok(())
}

#[test]
fn no_piece_is_certified_that_failed_or_is_not_there() {
    let plans = prop::collection::vec(plan(), 1..4);
    let asks = prop::collection::vec(ask(), 1..12);
    let config = ProptestConfig { cases: 600, failure_persistence: None, ..ProptestConfig::default() };
    proptest!(config, |(plans in plans, lie in prop_oneof![4 => Just(0_u64), 1 => 1..9_u64], asks in asks)| {
        history(&plans, lie, &asks)?;
    });
    let counted = |n: &AtomicU64| n.load(Ordering::Relaxed);
    // The test would prove nothing if nothing were certified, or nothing refused for want of pieces.
    assert!(counted(&CERTIFIED) > 200, "{} certified of {}", counted(&CERTIFIED), counted(&ASKED));
    assert!(counted(&OVERDRAWN) > 100, "{} overdrawn of {}", counted(&OVERDRAWN), counted(&ASKED));
    println!(
        "{} histories, {} shipments asked, {} certified, {} refused for want of pieces",
        counted(&HISTORIES),
        counted(&ASKED),
        counted(&CERTIFIED),
        counted(&OVERDRAWN)
    );
}
