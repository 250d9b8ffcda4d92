//! Evidence about lots made from other lots: that the other lots are on record, that pieces and material were
//! carried over whole, and that nothing that failed is forgotten on the way.

use std::collections::BTreeSet;

use crate::finding::Reason;
use crate::judge::Dossier;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::path::Path;
use crate::record::Heat;
use crate::record::Parentage;
use crate::record::Relative;
use crate::record::TestKind;

fn path() -> Path {
    Path::root().key("counts")
}

fn against(what: String) -> Vec<Evidence> {
    vec![Evidence::record(path(), Found::Missing(Reason::Contradiction(what)))]
}

/// Whether the lot came from others, or others came from it.
fn has_family(dossier: &Dossier) -> bool {
    dossier.record.parents().next().is_some()
        || dossier.record.counts.split_off > 0
        || !dossier.family.is_empty()
}

fn relative<'a>(dossier: &'a Dossier, lot: &str) -> Option<&'a Relative> {
    dossier.family.iter().find(|r| r.lot == lot)
}

/// No family of lots reaches back further.
const FURTHEST: usize = 200;

/// The lots this one descends from, nearest first, each once; `Err` says what is wrong with the line of descent.
fn forebears(dossier: &Dossier) -> Result<Vec<&Relative>, String> {
    // Depth first, with the way taken kept: meeting a lot of the way again is a circle.
    fn visit<'a>(
        dossier: &'a Dossier,
        from: &[&'a Parentage],
        way: &mut Vec<&'a str>,
        all: &mut Vec<&'a Relative>,
    ) -> Result<(), String> {
        for parent in from {
            if way.contains(&parent.lot.as_str()) {
                return Err(format!("lot {} descends from itself", parent.lot));
            }
            if way.len() > FURTHEST {
                return Err(format!("the lots before lot {} go back further than is followed", parent.lot));
            }
            let Some(row) = relative(dossier, &parent.lot) else { continue };
            if all.iter().any(|known| known.lot == row.lot) {
                continue;
            }
            all.push(row);
            way.push(&row.lot);
            visit(dossier, &row.from.iter().collect::<Vec<_>>(), way, all)?;
            way.pop();
        }
        Ok(())
    }
    let mut all = Vec::new();
    let mut way = vec![dossier.record.lot.as_str()];
    visit(dossier, &dossier.record.parents().collect::<Vec<_>>(), &mut way, &mut all)?;
    Ok(all)
}

/// That every lot named is on record, is the same part of the same purchaser, and none descends from itself.
pub fn lots(dossier: &Dossier) -> Vec<Evidence> {
    if !has_family(dossier) {
        return vec![Evidence::record(path(), Found::NotApplicable)];
    }
    let mut seen = BTreeSet::from([dossier.record.lot.as_str()]);
    if let Some(twice) = dossier.family.iter().find(|r| !seen.insert(&r.lot)) {
        return against(format!("there are two records of lot {}", twice.lot));
    }
    if let Some(other) = dossier.family.iter().find(|r| !r.same_part) {
        return against(format!("lot {} is another part, or another purchaser's", other.lot));
    }
    let all = match forebears(dossier) {
        Ok(all) => all,
        Err(why) => return against(why),
    };
    let named = dossier.record.parents().chain(all.iter().flat_map(|r| &r.from));
    let mut evidence = Vec::new();
    for parent in named {
        match relative(dossier, &parent.lot) {
            None => {
                let reason = Reason::NotInBook(format!("record of lot {}", parent.lot));
                evidence.push(Evidence::record(path(), Found::Missing(reason)));
            }
            Some(_) => {
                let shown = format!("{} from lot {}", parent.pieces, parent.lot);
                evidence.push(Evidence::record(path(), Found::Fact { shown, holds: true }));
            }
        }
    }
    for (child, taken) in children(dossier, &dossier.record.lot) {
        let shown = format!("{taken} into lot {child}");
        evidence.push(Evidence::record(path(), Found::Fact { shown, holds: true }));
    }
    if evidence.is_empty() {
        // Pieces were split off, and no record says where they are.
        evidence.push(Evidence::missing(path().key("split_off")));
    }
    evidence
}

/// The lots that say they took pieces from this one, and how many.
fn children<'a>(dossier: &'a Dossier, lot: &str) -> Vec<(&'a str, u64)> {
    let own = dossier.record.parents().map(|p| (dossier.record.lot.as_str(), p));
    let others = dossier.family.iter().flat_map(|r| r.from.iter().map(|p| (r.lot.as_str(), p)));
    own.chain(others).filter(|(_, p)| p.lot == lot).map(|(child, p)| (child, p.pieces)).collect()
}

fn sum(pieces: impl Iterator<Item = u64>) -> u64 {
    pieces.fold(0, u64::saturating_add)
}

/// That what each lot gave is what the others took, and that what was taken is what came in.
pub fn pieces(dossier: &Dossier) -> Vec<Evidence> {
    let record = &dossier.record;
    let all = match forebears(dossier) {
        Ok(all) => all,
        Err(why) => return against(why),
    };
    if !has_family(dossier) {
        return vec![Evidence::record(path(), Found::NotApplicable)];
    }
    let mut evidence = Vec::new();
    let mut balance = |observed: String, limit: String, met: bool, key: &str| {
        evidence.push(Evidence::record(path().key(key), Found::Own { observed, limit, met }));
    };
    if record.parents().next().is_some() {
        let came = sum(record.parents().map(|p| p.pieces));
        let met = came == record.counts.received;
        balance(
            format!("{came} from other lots"),
            format!("{} received", record.counts.received),
            met,
            "received",
        );
    }
    let own = (record.lot.as_str(), Some(record.counts.split_off));
    for (lot, split_off) in std::iter::once(own).chain(all.iter().map(|r| (r.lot.as_str(), r.split_off))) {
        let taken = sum(children(dossier, lot).into_iter().map(|(_, pieces)| pieces));
        let Some(split_off) = split_off else { continue };
        if split_off > 0 || taken > 0 {
            let limit = format!("{split_off} split off lot {lot}");
            balance(format!("{taken} taken from lot {lot}"), limit, taken == split_off, "split_off");
        }
    }
    for row in all.iter().filter(|r| !r.from.is_empty()) {
        let came = sum(row.from.iter().map(|p| p.pieces));
        let limit = format!("{} received in lot {}", row.received.unwrap_or(0), row.lot);
        balance(format!("{came} from other lots"), limit, row.received == Some(came), "received");
    }
    evidence
}

fn same_heats(ours: &[Heat], theirs: &[&Heat]) -> bool {
    ours.iter().all(|h| theirs.contains(&h)) && theirs.iter().all(|h| ours.contains(h))
}

/// That grade and heats, with their analyses, are those of the lots the pieces came from: all of them, because
/// nobody can tell which piece is which.
pub fn material(dossier: &Dossier) -> Vec<Evidence> {
    let here = Path::root().key("material");
    let all = match forebears(dossier) {
        Ok(all) => all,
        Err(why) => return against(why),
    };
    let record = &dossier.record;
    let own_from: Vec<&Parentage> = record.parents().collect();
    let own = (record.lot.as_str(), Some(&record.material.grade), record.material.heats.as_slice(), own_from);
    let others =
        all.iter().map(|r| (r.lot.as_str(), r.grade.as_ref(), r.heats.as_slice(), r.from.iter().collect()));
    let mut evidence = Vec::new();
    for (lot, grade, heats, from) in std::iter::once(own).chain(others) {
        let parents: Vec<&Relative> = from.iter().filter_map(|p| relative(dossier, &p.lot)).collect();
        if parents.is_empty() {
            continue;
        }
        let came: Vec<&Heat> = parents.iter().flat_map(|r| &r.heats).collect();
        let named = |heats: &mut dyn Iterator<Item = &Heat>| {
            let names: BTreeSet<&str> = heats.map(|h| h.heat.as_str()).collect();
            names.into_iter().collect::<Vec<_>>().join(", ")
        };
        let grades: BTreeSet<&str> = parents.iter().filter_map(|r| r.grade.as_deref()).collect();
        let same_grade = parents.iter().all(|r| r.grade.as_ref() == grade);
        let found = Found::Own {
            observed: format!(
                "lot {lot}: {}, heats {}",
                grade.map_or("no grade", String::as_str),
                named(&mut heats.iter())
            ),
            limit: format!(
                "as in the lots it came from: {}, heats {}, each as it stands there",
                grades.into_iter().collect::<Vec<_>>().join(", "),
                named(&mut came.iter().copied())
            ),
            met: same_grade && same_heats(heats, &came),
        };
        evidence.push(Evidence::record(here.clone(), found));
    }
    if evidence.is_empty() {
        evidence.push(Evidence::record(here, Found::NotApplicable));
    }
    evidence
}

/// Whether pieces of a lot this one came from failed such a test.
pub fn failed_before(dossier: &Dossier, kind: TestKind) -> bool {
    forebears(dossier).is_ok_and(|all| all.iter().any(|r| r.failed.contains(&kind)))
}

/// Everything that was taken out of a lot this one descends from, on the way to this one: who took it, and what.
pub fn takings(dossier: &Dossier) -> Vec<(&str, &Parentage)> {
    let own = dossier.record.parents().map(|p| (dossier.record.lot.as_str(), p));
    let all = forebears(dossier).unwrap_or_default();
    own.chain(all.into_iter().flat_map(|r| r.from.iter().map(|p| (r.lot.as_str(), p)))).collect()
}
