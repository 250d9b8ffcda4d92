//! The conforming part of a lot: some of its runs are shipped, kept apart from the rest, which stays.
//!
//! Only those runs are judged. What speaks for them and for others as well proves nothing of them alone, so it
//! does not count for them; where it speaks against them, it counts.

use std::collections::BTreeSet;

use crate::finding::Document;
use crate::finding::Reason;
use crate::judge::Dossier;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::judge::runs::FinalRun;
use crate::judge::runs::final_runs;
use crate::path::Path;
use crate::record::Record;
use crate::record::Specimen;

/// Whether an entry that covers these runs speaks for the part alone, or the whole lot is judged.
pub fn speaks_for_part(dossier: &Dossier, covers: &[String]) -> bool {
    let Some(part) = &dossier.covers_runs else { return true };
    let runs = final_runs(&dossier.record);
    runs.iter().filter(|r| r.covered_by(covers)).all(|r| part.runs.contains(&r.run.run))
}

/// Why an entry that is there does not count for a run of the part.
pub fn not_alone(run: &FinalRun) -> Reason {
    Reason::TestNotMade(format!("run {} by itself; there is one it shares with runs that stay", run.run.run))
}

/// How the part is kept apart from the rest.
pub fn segregated(dossier: &Dossier) -> Evidence {
    let path = Path::root().key("runs");
    let found = match &dossier.covers_runs {
        None => Found::NotApplicable,
        Some(part) => match part.segregated.as_deref().map(str::trim).filter(|words| !words.is_empty()) {
            Some(words) => Found::Fact { shown: words.to_owned(), holds: true },
            None => Found::Missing(Reason::NotRecorded),
        },
    };
    Evidence::record(path, found)
}

/// That the runs shipped are the last treatment of enough pieces.
pub fn pieces(dossier: &Dossier) -> Vec<Evidence> {
    let path = Path::root().key("runs");
    let Some(part) = &dossier.covers_runs else {
        return vec![Evidence::record(path, Found::NotApplicable)];
    };
    let claim = Claim { runs: part.runs.iter().cloned().collect(), pieces: part.pieces };
    let found = match fits(&dossier.record, std::slice::from_ref(&claim)) {
        Err(Overdrawn::NoSuchRun(run)) => Found::Missing(Reason::Contradiction(format!(
            "run {run} is no piece's last treatment, and is to be shipped"
        ))),
        Err(Overdrawn::TooManyGroups) => Found::Missing(Reason::Contradiction("too many runs".to_owned())),
        Err(Overdrawn::TooMany { claimed, most, .. }) => Found::Own {
            observed: format!("{claimed} shipped"),
            limit: format!("at most {most} of the runs named"),
            met: false,
        },
        Ok(()) => Found::Own {
            observed: format!("{} shipped", part.pieces),
            limit: format!("at most {} of the runs named", most_of(&dossier.record, &claim.runs)),
            met: part.pieces > 0 && !part.runs.is_empty(),
        },
    };
    vec![Evidence::at(Document::Record, path, found)]
}

/// Pieces certified, or to be certified, and the runs they are of. No run named: any of the lot's.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Claim {
    /// The runs.
    pub runs: BTreeSet<String>,
    /// The pieces.
    pub pieces: u64,
}

/// Why a lot cannot give all the pieces claimed of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Overdrawn {
    /// More than its runs can give.
    TooMany {
        /// The runs; empty for the whole lot.
        runs: Vec<String>,
        /// Pieces claimed of them.
        claimed: u64,
        /// The most they can give.
        most: u64,
    },
    /// A run that is no piece's last treatment.
    NoSuchRun(String),
    /// So many different groups of runs that it cannot be told.
    TooManyGroups,
}

/// So many different groups of runs are told apart at most: every union of them is looked at.
const MOST_GROUPS: usize = 12;

/// Whether a lot can give all the pieces claimed of it at once. It can when no set of runs is asked for more
/// than it has (Hall's condition); only unions of the groups that were named need looking at.
///
/// # Errors
/// The first set of runs that is asked for too much.
pub fn fits(record: &Record, claims: &[Claim]) -> Result<(), Overdrawn> {
    let all: BTreeSet<String> = final_runs(record).iter().map(|r| r.run.run.clone()).collect();
    let mut groups: Vec<&BTreeSet<String>> = Vec::new();
    for claim in claims.iter().filter(|c| !c.runs.is_empty()) {
        if let Some(unknown) = claim.runs.iter().find(|run| !all.contains(*run)) {
            return Err(Overdrawn::NoSuchRun(unknown.clone()));
        }
        if !groups.contains(&&claim.runs) {
            groups.push(&claim.runs);
        }
    }
    if groups.len() > MOST_GROUPS {
        return Err(Overdrawn::TooManyGroups);
    }
    for chosen in 0..(1_u32 << groups.len()) {
        let mut union: BTreeSet<String> = BTreeSet::new();
        for (bit, group) in groups.iter().enumerate() {
            if chosen >> bit & 1 == 1 {
                union.extend(group.iter().cloned());
            }
        }
        // The empty choice stands for the whole lot.
        if chosen == 0 {
            union.clone_from(&all);
        }
        let whole = union == all;
        let inside =
            |claim: &&Claim| if claim.runs.is_empty() { whole } else { claim.runs.is_subset(&union) };
        let claimed = claims.iter().filter(inside).fold(0_u64, |sum, c| sum.saturating_add(c.pieces));
        let most = most_of(record, &union);
        if claimed > most {
            let runs = if whole { Vec::new() } else { union.into_iter().collect() };
            return Err(Overdrawn::TooMany { runs, claimed, most });
        }
    }
    Ok(())
}

/// The most pieces that can be certified of these runs. Pieces that failed a look or a test, or were used up by
/// one, are taken off wherever they may have been of these runs: what cannot be told counts against them.
fn most_of(record: &Record, runs: &BTreeSet<String>) -> u64 {
    let finals = final_runs(record);
    let chosen: Vec<&FinalRun> = finals.iter().filter(|r| runs.contains(&r.run.run)).collect();
    let accepted = record.counts.accepted;
    if chosen.len() == finals.len() {
        return accepted;
    }
    let treated = chosen.iter().fold(0_u64, |sum, r| sum.saturating_add(r.pieces));
    let touches = |covers: &[String], at: crate::moment::Moment| {
        chosen.iter().any(|r| r.covered_by(covers) && r.end().is_some_and(|end| at >= end))
    };
    let looks = record.visual.iter().filter(|v| touches(&v.covers, v.at));
    let refused = looks.fold(0_u64, |sum, v| sum.saturating_add(v.failed));
    let tests = || record.tests.iter().filter(|t| touches(&t.covers, t.started));
    let failed = tests().fold(0_u64, |sum, t| sum.saturating_add(t.failed));
    let tested = tests().filter(|t| t.specimen == Specimen::Part);
    let tested = tested.fold(0_u64, |sum, t| sum.saturating_add(t.pieces));
    let used_up = record.counts.destroyed_in_test.min(tested);
    let lost = refused.saturating_add(failed).saturating_add(used_up);
    treated.saturating_sub(lost).min(accepted)
}
