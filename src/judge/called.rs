//! What was called out, and under which pack each call-out is judged.

use crate::finding::Document;
use crate::finding::Place;
use crate::judge::Dossier;
use crate::judge::orders;
use crate::judge::runs::final_runs;
use crate::judge::step::treatment;
use crate::order::Line;
use crate::pack::TreatmentStep;
use crate::part::CallOut;
use crate::path::Path;
use crate::rulebook::EffectivePack;

/// One call-out with where it stands.
pub struct Called<'a> {
    pub call_out: &'a CallOut,
    pub place: Place,
}

/// A call-out resolved against the rulebook.
pub struct Resolved<'a> {
    pub call_out: &'a CallOut,
    pub place: &'a Place,
    pub pack: &'a EffectivePack,
    pub name: String,
}

/// The lot's call-outs: those of the part, then those of the order line.
pub fn call_outs(dossier: &Dossier) -> Vec<Called<'_>> {
    let part = dossier.part.calls_for.iter().enumerate().map(|(i, call_out)| Called {
        call_out,
        place: Place { document: Document::Part, path: Path::root().key("calls_for").index(i) },
    });
    let line = line_of(dossier).into_iter().flat_map(|(j, line)| {
        line.also_calls_for.iter().enumerate().map(move |(i, call_out)| Called {
            call_out,
            place: Place {
                document: Document::Order,
                path: Path::root().key("lines").index(j).key("also_calls_for").index(i),
            },
        })
    });
    part.chain(line).collect()
}

/// Each call-out of a standard with its pack and the kinds of treatment it was carried out by; where none was,
/// all kinds the standard has. One that nobody knows is a gap of its own.
pub fn called_steps(dossier: &Dossier) -> Vec<(&EffectivePack, Vec<TreatmentStep>)> {
    let runs = final_runs(&dossier.record);
    let mut all = Vec::new();
    for call in call_outs(dossier) {
        let Some(pack) = call.call_out.standard.as_deref().and_then(|named| pack_named(dossier, named))
        else {
            continue;
        };
        if pack.pack.builds_on.is_some() {
            continue; // who may work to the standard they build on may work to them
        }
        let resolved = Resolved { call_out: call.call_out, place: &call.place, pack, name: String::new() };
        let made = runs.iter().filter_map(|run| treatment(dossier, &resolved, run).kind());
        let mut steps: Vec<TreatmentStep> = Vec::new();
        let add = |steps: &mut Vec<TreatmentStep>, step| {
            if !steps.contains(&step) {
                steps.push(step);
            }
        };
        made.for_each(|step| add(&mut steps, step));
        if steps.is_empty() {
            pack.pack.treatments.iter().for_each(|t| add(&mut steps, t.step));
        }
        all.push((pack, steps));
    }
    all
}

/// The pack, in the edition, that a designation names.
pub fn pack_named<'a>(dossier: &'a Dossier, named: &str) -> Option<&'a EffectivePack> {
    let standards = dossier.packs.iter().filter(|p| !p.pack.is_house());
    standards.into_iter().find(|p| orders::is_called(dossier, p, named))
}

/// The order line the record names.
pub fn line_of(dossier: &Dossier) -> Option<(usize, &Line)> {
    dossier.order.lines.iter().enumerate().find(|(_, line)| line.line == dossier.record.order.line)
}
