//! Purchasers' deviations as the shop keeps them: a letter that is there and unchanged, and permissions that the
//! rules know. One that is not sound is a fault and permits nothing.

use crate::app::book::Book;
use crate::app::book::Sourced;
use crate::app::error::Error;
use crate::canonical;
use crate::deviation::Deviation;
use crate::deviation::Wanted;
use crate::folder;
use crate::folder::Folder;
use crate::order::Order;
use crate::pack::Pack;
use crate::part::PartSpecification;
use crate::path::Path;
use crate::record::Record;
use crate::shop::Purchasers;
use crate::validate::Wrong;

/// Keeps the sound ones; of the others says why.
pub fn sound(
    folder: &Folder,
    written: Vec<Sourced<Deviation>>,
    packs: &[Pack],
    purchasers: &Purchasers,
    faults: &mut Vec<Error>,
) -> Vec<Sourced<Deviation>> {
    let name = |d: &Sourced<Deviation>| (d.document.purchaser.clone(), d.document.deviation.clone());
    let names: Vec<_> = written.iter().map(name).collect();
    let mut kept = Vec::new();
    for deviation in written {
        let twice = names.iter().filter(|n| **n == name(&deviation)).count() > 1;
        let wrong = if twice {
            Some(Wrong {
                path: Path::root().key("deviation"),
                message: format!("`{}` stands in two files", deviation.document.deviation),
                hint: Some("keep the one that agrees with the letter".to_owned()),
            })
        } else {
            let known = purchaser(&deviation.document, purchasers);
            known
                .or_else(|| letter(folder, &deviation.document))
                .or_else(|| permits(&deviation.document, packs))
        };
        match wrong {
            Some(wrong) => faults.push(Error::wrong(&deviation.file, &deviation.text, wrong)),
            None => kept.push(deviation),
        }
    }
    kept
}

fn purchaser(deviation: &Deviation, purchasers: &Purchasers) -> Option<Wrong> {
    let known = purchasers.purchasers.iter().any(|p| p.id == deviation.purchaser);
    (!known).then(|| Wrong {
        path: Path::root().key("purchaser"),
        message: format!("purchasers.yaml has no purchaser `{}`", deviation.purchaser),
        hint: Some("write its id as purchasers.yaml has it".to_owned()),
    })
}

/// The letter must be there, and the very one that was compared.
fn letter(folder: &Folder, deviation: &Deviation) -> Option<Wrong> {
    let (file, path) = (&deviation.letter.file, Path::root().key("letter"));
    let wrong =
        |path: Path, message: String, hint: &str| Some(Wrong { path, message, hint: Some(hint.to_owned()) });
    match folder::read(&folder.path(file)) {
        Err(error) => wrong(path.key("file"), error.to_string(), "put the purchaser's letter there"),
        Ok(bytes) => {
            let digest = canonical::stamp(&bytes);
            if digest == deviation.letter.sha256 {
                return None;
            }
            let message = format!("{file} is not the letter that was compared: its SHA-256 is {digest}");
            wrong(path.key("sha256"), message, "put the letter back, or compare this one and say so anew")
        }
    }
}

fn permits(deviation: &Deviation, packs: &[Pack]) -> Option<Wrong> {
    for (i, permit) in deviation.permits.iter().enumerate() {
        let path = Path::root().key("permits").index(i);
        let pack = permit.requirement.split_once('/');
        let found = pack.and_then(|(pack, id)| {
            let pack = packs.iter().find(|p| p.pack == pack)?;
            Some((pack, pack.requirements.iter().find(|r| r.id == id)?))
        });
        let Some((pack, requirement)) = found else {
            return Some(Wrong {
                path: path.key("requirement"),
                message: format!("no rule is called `{}`", permit.requirement),
                hint: Some("`brightproof rules show` lists the ids".to_owned()),
            });
        };
        if let Err(why) = permit.fits(pack, requirement) {
            let message = format!("`{}` cannot be permitted so: {why}", permit.requirement);
            return Some(Wrong { path, message, hint: None });
        }
    }
    None
}

impl Book {
    /// The deviations of the order's purchaser that name the part, the order or the lot: nobody else's, and none
    /// that would tell of other lots' troubles.
    pub fn deviations_for(&self, record: &Record, part: &PartSpecification, order: &Order) -> Vec<Deviation> {
        let wanted =
            Wanted { part: &part.part, revision: &part.revision, order: &order.order, lot: &record.lot };
        let all = self.deviations.iter().map(|d| &d.document);
        all.filter(|d| d.purchaser == order.purchaser && d.reach.names(&wanted)).cloned().collect()
    }
}
