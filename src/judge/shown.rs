//! What a certificate prints of a judgement beside its findings: which step carried out which treatment, which
//! entries speak for the pieces as they are, which analysis was in force.

use crate::judge::Dossier;
use crate::judge::Resolved;
use crate::judge::call_outs;
use crate::judge::compare;
use crate::judge::pack_named;
use crate::judge::runs;
use crate::judge::standard_name;
use crate::judge::step;
use crate::pack::Check;

/// A treatment as it was judged, for printing: which step of which run carried out which treatment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Carried {
    /// Index of the run in the record.
    pub run: usize,
    /// Index of the step in the run.
    pub step: usize,
    /// Treatment and standard: `Nitric 2, ASTM A967/A967M-17`.
    pub name: String,
}

/// Every treatment that was judged, in the order of the call-outs.
pub fn carried(dossier: &Dossier) -> Vec<Carried> {
    carried_by(dossier, &runs::covered_runs(dossier))
}

/// The same for the pieces of some runs only.
pub(super) fn carried_by(dossier: &Dossier, runs: &[runs::FinalRun]) -> Vec<Carried> {
    let mut all: Vec<Carried> = Vec::new();
    for call in call_outs(dossier) {
        let Some(named) = call.call_out.standard.as_deref() else { continue };
        let Some(pack) = pack_named(dossier, named) else { continue };
        let name = standard_name(pack);
        let resolved = Resolved { call_out: call.call_out, place: &call.place, pack, name: name.clone() };
        for run in runs {
            let treated = step::treatment(dossier, &resolved, run);
            if let (Some((run, step)), Some(treatment)) = (treated.at(), treated.name()) {
                let one = Carried { run, step, name: format!("{treatment}, {name}") };
                if !all.contains(&one) {
                    all.push(one);
                }
            }
        }
    }
    all
}

/// Whether an entry made at `at` for the runs `covers` speaks for pieces in their final state.
pub fn counts(dossier: &Dossier, covers: &[String], at: crate::moment::Moment) -> bool {
    let runs = runs::covered_runs(dossier);
    runs.iter().any(|r| r.covered_by(covers) && r.end().is_some_and(|end| at >= end))
}

/// Whether a run is the last treatment of any piece.
pub fn is_final(dossier: &Dossier, index: usize) -> bool {
    runs::covered_runs(dossier).iter().any(|r| r.index == index)
}

/// Whether a run has to do with the pieces certified: it was their last, or one before it.
pub fn is_shown(dossier: &Dossier, index: usize) -> bool {
    dossier.covers_runs.is_none()
        || runs::covered_runs(dossier).iter().any(|r| r.index == index || r.earlier.contains(&index))
}

/// The analysis in force when a bath was used, by the dossier's book.
pub fn analysis_used<'a>(
    dossier: &'a Dossier,
    immersion: &crate::record::Immersion,
) -> Option<&'a crate::shop::Analysis> {
    let bath = dossier.baths.iter().find(|b| b.bath == immersion.bath)?;
    bath.analysis_at(&immersion.in_at.or(immersion.out_at)?).map(|(_, analysis)| analysis)
}

/// A check as a limit in words.
pub fn limit_words(check: &Check) -> String {
    compare::limit_text(check, None)
}
