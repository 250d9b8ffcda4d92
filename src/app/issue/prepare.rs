//! Preparing shipments for release: judged like for issue, entered in the register, put in the queue. No seal key is
//! needed: what is prepared is no certificate.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use rayon::prelude::*;
use serde_json::json;

use super::admit;
use super::judge_target;
use super::kept;
use super::netting;
use super::not_from_the_future;
use super::permitted;
use super::shipment::Shipment;
use super::shipment::Target;
use crate::app::desk;
use crate::app::desk::sign_head;
use crate::app::error::Error;
use crate::app::release;
use crate::app::release::Authenticated;
use crate::app::release::Office;
use crate::app::release::queue;
use crate::app::release::queue::Queued;
use crate::app::world::World;
use crate::canonical;
use crate::folder;
use crate::register::Kind;
use crate::register::NewEntry;

/// What came of preparing one target.
pub enum Came {
    /// It waits for release.
    Queued {
        /// What waits.
        queued: Queued,
        /// Its file.
        file: String,
    },
    /// It is certified already, from the same facts.
    Certified {
        /// By which certificate.
        number: String,
    },
    /// Gaps: nothing waits.
    Held(Box<Shipment>),
    /// It could not be done.
    Failed(Error),
}

/// Prepares targets; one answer each, in their order. `done` is called as each is judged.
///
/// # Errors
/// When the person may not prepare, or the register cannot be written.
pub fn prepare(
    office: &mut Office,
    targets: &[Target],
    by: &Authenticated,
    world: &World,
    done: &(dyn Fn() + Sync),
) -> Result<Vec<Came>, Error> {
    let book = &office.book;
    let function = release::may_prepare(book, by)?;
    let judged: Vec<Result<Shipment, Error>> = targets
        .par_iter()
        .map(|target| {
            let shipment = judge_target(book, target, world).and_then(|s| {
                if s.conforms() {
                    not_from_the_future(&s, world)?;
                    s.journals()?;
                }
                Ok(s)
            });
            done();
            shipment
        })
        .collect();

    let mut tx = desk::begin(&mut office.register, &office.signer, world)?;
    let (mut held, mut under) = (netting::Held::default(), permitted::Held::default());
    let mut keys: BTreeSet<String> = BTreeSet::new();
    let mut came: BTreeMap<usize, Came> = BTreeMap::new();
    let mut waiting: Vec<(usize, Queued, String)> = Vec::new();
    for (position, shipment) in judged.into_iter().enumerate() {
        let shipment = match shipment {
            Ok(shipment) if shipment.conforms() => shipment,
            Ok(shipment) => {
                came.insert(position, Came::Held(Box::new(shipment)));
                continue;
            }
            Err(error) => {
                came.insert(position, Came::Failed(error));
                continue;
            }
        };
        match admit(&tx, &shipment, &mut held, &mut keys, &mut under) {
            Ok(None) => {}
            Ok(Some(number)) => {
                came.insert(position, Came::Certified { number });
                continue;
            }
            Err(error) => {
                came.insert(position, Came::Failed(error));
                continue;
            }
        }
        let entry = tx.head()?.size;
        let queued = queue::of(&shipment, by.person(), &world.printed(), entry);
        let text = queue::to_text(&queued)?;
        let detail = json!({
            "shipment": queued.shipment, "input": queued.input, "by": by.person(), "function": function,
            "authenticated": by.how().prepared(), "at": queued.at, "sha256": canonical::stamp(text.as_bytes()),
        });
        let new =
            NewEntry { kind: Kind::Preparation, number: None, replaces: None, detail, salt: world.salt()? };
        tx.append(new, None)?;
        waiting.push((position, queued, text));
    }
    kept(tx.commit(&sign_head(&office.signer)))?;
    for (position, queued, text) in waiting {
        let file = queue::file(&queued.shipment);
        let one = match folder::write_whole(&book.folder.path(&file), text.as_bytes()) {
            Ok(()) => Came::Queued { queued, file },
            Err(error) => Came::Failed(error.into()),
        };
        came.insert(position, one);
    }
    Ok(came.into_values().collect())
}
