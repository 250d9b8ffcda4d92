//! What was called out, and under which pack each call-out is judged.

use crate::finding::Document;
use crate::finding::Place;
use crate::judge::Dossier;
use crate::judge::orders;
use crate::order::Line;
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

/// The packs of the standards called out, each call-out's in its order; one nobody knows is a gap of its own.
pub fn called_packs(dossier: &Dossier) -> Vec<&EffectivePack> {
    let named = call_outs(dossier).into_iter().filter_map(|call| call.call_out.standard.as_deref());
    named.filter_map(|named| pack_named(dossier, named)).collect()
}

pub fn pack_named<'a>(dossier: &'a Dossier, named: &str) -> Option<&'a EffectivePack> {
    let standards = dossier.packs.iter().filter(|p| !p.pack.is_house());
    standards.into_iter().find(|p| orders::is_called(dossier, p, named))
}

/// The order line the record names.
pub fn line_of(dossier: &Dossier) -> Option<(usize, &Line)> {
    dossier.order.lines.iter().enumerate().find(|(_, line)| line.line == dossier.record.order.line)
}
