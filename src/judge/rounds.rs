//! How often the same pieces went through the same treatment.

use crate::finding::Document;
use crate::judge::Dossier;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::judge::called::called_steps;
use crate::judge::runs::FinalRun;
use crate::judge::step::treating;
use crate::pack::TreatmentStep;
use crate::path::Path;
use crate::record::Step;

/// Treatments of one kind in the runs of the same pieces, divided among the call-outs that each ask for one.
fn rounds(dossier: &Dossier, run: &FinalRun, kind: TreatmentStep) -> u64 {
    let chain = std::iter::once(run.index).chain(run.earlier.iter().copied());
    let steps = chain.filter_map(|index| dossier.record.runs.get(index)).flat_map(|r| &r.steps);
    let made = steps.filter_map(treating).filter(|(step, _)| *step == kind).count() as u64;
    let asked = called_steps(dossier).iter().filter(|(_, steps)| steps.contains(&kind)).count() as u64;
    made.div_ceil(asked.max(1))
}

/// The runs' rounds against the fewest that order and shop allow.
pub fn evidence(dossier: &Dossier, runs: &[FinalRun]) -> Vec<Evidence> {
    let shop = dossier.most_rounds.map(|n| (n, Document::Shop, "the shop's procedure".to_owned()));
    let order =
        dossier.order.most_rounds.map(|n| (n, Document::Order, format!("order {}", dossier.order.order)));
    let path = Path::root().key("most_rounds");
    let Some((most, document, whose)) = [order, shop].into_iter().flatten().min_by_key(|(n, ..)| *n) else {
        return vec![Evidence::record(Path::root().key("runs"), Found::NotApplicable)];
    };
    if runs.is_empty() {
        return vec![Evidence::missing(Path::root().key("runs"))];
    }
    let limit = format!("at most {} ({whose})", times(most));
    let kinds = [TreatmentStep::Passivate, TreatmentStep::Electropolish];
    let each = runs.iter().map(|run| {
        let made = kinds.iter().map(|kind| rounds(dossier, run, *kind)).max().unwrap_or(0);
        let observed = format!("treated {}", times(made));
        let found = Found::Own { observed, limit: limit.clone(), met: made <= most };
        if made <= most {
            return Evidence::at(document, path.clone(), found);
        }
        let here = Path::root().key("runs").index(run.index);
        let last = run.run.steps.iter().rposition(|s| treating(s).is_some());
        let step =
            last.and_then(|i| run.run.steps.get(i).map(|s: &Step| here.key("steps").index(i).key(s.key())));
        Evidence::record(step.unwrap_or(here), found)
    });
    each.collect()
}

fn times(n: u64) -> String {
    match n {
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        n => format!("{n} times"),
    }
}
