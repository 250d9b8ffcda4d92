//! Which run each piece went through last.

use crate::judge::Dossier;
use crate::moment::Moment;
use crate::record::Record;
use crate::record::Run;
use crate::record::Step;

/// A run with pieces that were not treated again.
pub struct FinalRun<'a> {
    /// The run.
    pub run: &'a Run,
    /// Its index in the record.
    pub index: usize,
    /// Pieces whose last treatment it is.
    pub pieces: u64,
    /// The runs the same pieces went through before, nearest first, by index.
    pub earlier: Vec<usize>,
}

impl FinalRun<'_> {
    /// The latest instant any step of the run names.
    pub fn end(&self) -> Option<Moment> {
        self.run.steps.iter().filter_map(Step::end).max()
    }

    /// Whether an entry that covers `names` speaks for this run.
    pub fn covered_by(&self, names: &[String]) -> bool {
        names.contains(&self.run.run)
    }
}

/// The runs that were the last for some pieces, in the order of the record.
pub fn final_runs(record: &Record) -> Vec<FinalRun<'_>> {
    let again = |name: &str| {
        record
            .runs
            .iter()
            .filter(|r| r.treats_again.as_deref() == Some(name))
            .fold(0_u64, |sum, r| sum.saturating_add(r.pieces))
    };
    record
        .runs
        .iter()
        .enumerate()
        .map(|(index, run)| FinalRun {
            run,
            index,
            pieces: run.pieces.saturating_sub(again(&run.run)),
            earlier: earlier(record, run),
        })
        .filter(|r| r.pieces > 0)
        .collect()
}

/// The final runs a dossier is about: all of them, or those of the part it says is shipped.
pub fn covered_runs(dossier: &Dossier) -> Vec<FinalRun<'_>> {
    let mut runs = final_runs(&dossier.record);
    if let Some(part) = &dossier.covers_runs {
        runs.retain(|r| part.runs.contains(&r.run.run));
    }
    runs
}

/// The chain of runs a run's pieces went through before. Bounded by the number of runs, so that a circle in
/// the record cannot hold it up.
fn earlier(record: &Record, run: &Run) -> Vec<usize> {
    let mut chain = Vec::new();
    let mut name = run.treats_again.as_deref();
    while let Some(wanted) = name {
        let Some(index) = record.runs.iter().position(|r| r.run == wanted) else { break };
        if chain.contains(&index) {
            break;
        }
        chain.push(index);
        name = record.runs.get(index).and_then(|r| r.treats_again.as_deref());
    }
    chain
}
