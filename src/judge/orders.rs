//! Evidence about what the order says beyond its call-outs: editions in force, releases, quantities, how far off
//! a count by weight may be.

use crate::finding::Document;
use crate::finding::Reason;
use crate::judge::Dossier;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::judge::Resolved;
use crate::judge::line_of;
use crate::order::Order;
use crate::path::Path;
use crate::rulebook::EffectivePack;

/// Whether a call-out means this edition of this pack.
pub fn is_called(dossier: &Dossier, pack: &EffectivePack, named: &str) -> bool {
    is_called_by(&dossier.order, pack, named)
}

/// The same with the order in hand.
pub fn is_called_by(order: &Order, pack: &EffectivePack, named: &str) -> bool {
    pack.pack.edition_in_force(order, named).is_some_and(|edition| edition == pack.edition)
}

/// Why no pack is found for a call-out: the purchaser must be asked which edition, or the rulebook lacks it.
pub fn not_found(dossier: &Dossier, named: &str) -> Reason {
    if dossier.without_edition.iter().any(|n| n == named) {
        return Reason::Unknown(format!("which edition of {named} is in force"));
    }
    match dossier.order.editions.get(named) {
        Some(edition) => Reason::NotInRulebook(format!("{named}-{edition}")),
        None => Reason::NotInRulebook(named.to_owned()),
    }
}

/// Whether a later edition took the place of the one ordered. What the order asks holds; the shop is told.
pub fn edition(resolved: Option<&Resolved>) -> Evidence {
    let Some(resolved) = resolved else { return Evidence::record(Path::root(), Found::NotApplicable) };
    let pack = &resolved.pack.pack;
    let found = match pack.superseded_by.get(&resolved.pack.edition) {
        Some(later) => Found::Own {
            observed: format!("{} is ordered", resolved.name),
            limit: format!("{}, which took its place", pack.successor_named(later)),
            met: false,
        },
        None => Found::NotApplicable,
    };
    Evidence::at(resolved.place.document, resolved.place.path.clone(), found)
}

/// The release of a blanket line, and a release only there.
pub fn release(dossier: &Dossier) -> Evidence {
    let path = Path::root().key("order");
    let named = dossier.record.order.release.as_deref();
    // Without its line the order line is the gap.
    let Some((_, line)) = line_of(dossier) else { return Evidence::record(path, Found::NotApplicable) };
    let there: Vec<&str> = line.releases.iter().map(|r| r.release.as_str()).collect();
    let found = match named {
        None if there.is_empty() => Found::NotApplicable,
        None => Found::Missing(Reason::NotRecorded),
        Some(name) => Found::Own {
            observed: format!("release {name}"),
            limit: match there.as_slice() {
                [] => format!("order {} line {} has no releases", dossier.order.order, line.line),
                all => format!("one of the releases {}", all.join(", ")),
            },
            met: there.contains(&name),
        },
    };
    Evidence::record(if named.is_some() { path.key("release") } else { path }, found)
}

/// Pieces of this lot against the pieces the line, or its release, asks.
pub fn quantity(dossier: &Dossier) -> Evidence {
    let accepted = dossier.record.counts.accepted;
    let pieces = dossier.covers_runs.as_ref().map_or(accepted, |part| part.pieces);
    let release = dossier.record.order.release.as_deref();
    let asked = line_of(dossier).and_then(|(index, line)| Some((index, line.asked(release)?)));
    let Some((index, asked)) = asked else {
        return Evidence::record(Path::root().key("order"), Found::NotApplicable);
    };
    let of = release.map_or_else(String::new, |name| format!(" by release {name}"));
    let found = Found::Own {
        observed: format!("{pieces} pieces of this lot"),
        limit: format!("{asked} ordered{of}"),
        met: pieces <= asked,
    };
    Evidence::at(Document::Order, Path::root().key("lines").index(index), found)
}

/// How far off a count by weight may be: the purchaser says it, not the one who counts.
pub fn by_weight(dossier: &Dossier) -> Evidence {
    let path = Path::root().key("counts").key("by_weight");
    let found = match (&dossier.record.counts.by_weight, dossier.order.count_by_weight_within) {
        (None, _) => Found::NotApplicable,
        (Some(_), None) => {
            Found::Missing(Reason::Unknown("how far off a count by weight may be, by the order".to_owned()))
        }
        (Some(counted), Some(allowed)) => Found::Own {
            observed: format!("counted within {}", counted.tolerance),
            limit: format!("within {allowed}, by the order"),
            met: counted.tolerance <= allowed,
        },
    };
    Evidence::record(path, found)
}
