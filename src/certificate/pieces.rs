//! What a certificate says of a lot's pieces beyond their number: which are not covered, where they came from,
//! how they were counted. Pure, like all that is printed.

use crate::certificate::Descent;
use crate::certificate::withheld;
use crate::judge;
use crate::judge::Dossier;
use crate::pack::Pack;
use crate::part::CallOut;
use crate::part::Item;

/// Whether an entry that covers these runs has to do with the pieces certified.
pub fn shown(dossier: &Dossier, covers: &[String]) -> bool {
    let runs = dossier.record.runs.iter().enumerate();
    dossier.covers_runs.is_none()
        || runs.filter(|(_, run)| covers.contains(&run.run)).any(|(index, _)| judge::is_shown(dossier, index))
}

/// A standard as called out; without an edition of its own, with the one the order says is in force.
pub fn standard(dossier: &Dossier, named: &str) -> String {
    let packs = dossier.packs.iter().map(|p| &p.pack).filter(|p| p.edition_named(named).is_none());
    let by_order = packs.filter_map(|p| Some((p, p.edition_in_force(&dossier.order, named)?))).next();
    match by_order {
        Some((pack, edition)) => {
            format!("{} (edition by order {})", pack.named(&edition), dossier.order.order)
        }
        None => named.to_owned(),
    }
}

/// The pack a call-out of a standard means, in whatever edition.
fn pack_of<'a>(dossier: &'a Dossier, named: &str) -> Option<&'a Pack> {
    let packs = dossier.packs.iter().map(|p| &p.pack).filter(|p| !p.is_house());
    packs.into_iter().find(|p| p.edition_in_force(&dossier.order, named).is_some())
}

/// Whether a standard has treatments to choose from; one that nobody knows is taken to have them.
pub fn has_treatments(dossier: &Dossier, named: &str) -> bool {
    pack_of(dossier, named).is_none_or(|pack| !pack.treatments.is_empty())
}

/// The class of a call-out, where its standard has classes.
pub fn class(dossier: &Dossier, named: &str, call_out: &CallOut) -> Option<String> {
    let pack = pack_of(dossier, named)?;
    let class = pack.class_of(call_out)?;
    let default = if call_out.class.is_none() { ", the standard's own where none is named" } else { "" };
    let name = pack.classes.iter().find(|known| known.class == class).map_or(class, |known| &known.name);
    Some(format!("{name}{default}"))
}

/// The notes, each a sentence.
pub fn notes(dossier: &Dossier) -> Vec<String> {
    let record = &dossier.record;
    let mut notes = Vec::new();
    if let Some(part) = &dossier.covers_runs {
        let word = |runs: &[String]| if runs.len() == 1 { "run" } else { "runs" };
        let mut covered = format!(
            "Part of the lot: {} pieces of {} {}",
            part.pieces,
            word(&part.runs),
            part.runs.join(", ")
        );
        if let Some(apart) = &part.segregated {
            covered.push_str(&format!(", kept apart: {apart}"));
        }
        notes.push(format!("{covered}."));
        let runs = record.runs.iter().enumerate();
        let left: Vec<String> = runs
            .filter(|(index, run)| !part.runs.contains(&run.run) && !judge::is_shown(dossier, *index))
            .map(|(_, run)| run.run.clone())
            .collect();
        if !left.is_empty() {
            notes.push(format!(
                "Not covered: {} {} of this lot, held at the shop; nothing is stated of those pieces.",
                word(&left),
                left.join(", ")
            ));
        }
    }
    let scrap = withheld::hides(dossier, Item::Scrap);
    let parents = record.parents().map(|p| match scrap {
        true => format!("lot {}", p.lot),
        false => format!("lot {} ({} pieces)", p.lot, p.pieces),
    });
    let from: Vec<String> = parents.collect();
    if !from.is_empty() {
        let how = if record.split_from.is_some() { "Split from" } else { "Put together from" };
        notes.push(format!("{how} {}.", from.join(", ")));
    }
    if let Some(by_weight) = &record.counts.by_weight {
        let off = by_weight.tolerance.of(record.counts.received);
        let off = if scrap { String::new() } else { format!(" ({off} pieces)") };
        notes.push(format!(
            "Counted by weight, within {} of the pieces received{off}, as the order allows.",
            by_weight.tolerance
        ));
    }
    notes
}

/// The lots its pieces descend from, each with the lot that took them out.
pub fn descent(dossier: &Dossier) -> Vec<Descent> {
    judge::takings(dossier)
        .into_iter()
        .map(|(by, taken)| Descent { lot: taken.lot.clone(), by: by.to_owned(), pieces: taken.pieces })
        .collect()
}
