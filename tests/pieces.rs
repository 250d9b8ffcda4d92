//! Orders, releases, parts of lots and lots made from lots: what is let through, and what a careless or dishonest
//! shop would try.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test stops at the first surprise"
)]

mod attacks;
mod families;
mod histories;
mod register;

use brightproof::judge::Dossier;
use brightproof::shipment::CoveredRuns;

use crate::support::dossier;

/// The sample lot of two runs of which the second was too short in the bath.
const TWO_RUNS: &str = "L-26-0472";

/// A lot's dossier, for a part of it.
fn part_of(lot: &str, runs: &[&str], pieces: u64, segregated: Option<&str>) -> Dossier {
    let mut dossier = dossier(lot);
    dossier.covers_runs = Some(CoveredRuns {
        runs: runs.iter().map(|r| (*r).to_owned()).collect(),
        pieces,
        segregated: segregated.map(str::to_owned),
    });
    dossier
}
