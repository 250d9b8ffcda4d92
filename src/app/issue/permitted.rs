//! How far a purchaser's permission goes at issue: no more pieces than it is for, over all certificates in force,
//! and none before it was given.

use std::collections::BTreeMap;

use crate::app::error::Error;
use crate::app::issue::shipment::Shipment;
use crate::app::withheld;
use crate::certificate::Certificate;
use crate::deviation::Deviation;
use crate::finding::Finding;
use crate::judge::Dossier;
use crate::moment::Date;
use crate::register::Facet;
use crate::register::Query;
use crate::register::Status;
use crate::register::Term;
use crate::register::Transaction;

/// Pieces of a batch admitted so far, by purchaser and deviation.
pub(super) type Held = BTreeMap<(String, String), u64>;

/// The deviations a lot was accepted under.
fn used<'a>(dossier: &'a Dossier, findings: &'a [Finding]) -> impl Iterator<Item = &'a Deviation> {
    let named =
        |d: &&Deviation| findings.iter().filter_map(Finding::permission).any(|p| p.deviation == d.deviation);
    dossier.deviations.iter().filter(named)
}

/// Refuses a permission dated after the day of issue: nobody certifies on a letter yet to be written.
pub(super) fn given_by(dossier: &Dossier, findings: &[Finding], today: Date) -> Result<(), Error> {
    match used(dossier, findings).find(|d| d.on > today) {
        Some(late) => Err(Error::cannot(
            format!("deviation {} is dated {}, the clock says {today}", late.deviation, late.on),
            "correct the deviation, or the clock",
        )),
        None => Ok(()),
    }
}

/// Refuses a shipment that would take a deviation beyond its pieces. `replaced` no longer counts.
pub(super) fn admit(
    tx: &Transaction,
    shipment: &Shipment,
    replaced: Option<&str>,
    held: &mut Held,
) -> Result<(), Error> {
    let mut asked: BTreeMap<(String, String), (u64, Option<u64>)> = BTreeMap::new();
    for lot in &shipment.lots {
        for deviation in used(&lot.case.dossier, &lot.findings) {
            let key = (deviation.purchaser.clone(), deviation.deviation.clone());
            let entry = asked.entry(key).or_insert((0, deviation.reach.pieces));
            entry.0 = entry.0.saturating_add(lot.quantity);
        }
    }
    for (key, (pieces, most)) in &asked {
        let Some(most) = most else { continue };
        let before =
            certified(tx, &key.0, &key.1, replaced)?.saturating_add(held.get(key).copied().unwrap_or(0));
        if before.saturating_add(*pieces) > *most {
            return Err(Error::cannot(
                format!(
                    "deviation {}: {pieces} pieces cannot be certified under it: it is for {most}, {before} are \
                     certified already",
                    key.1
                ),
                &format!("`brightproof find {}` lists the certificates; ask the purchaser for more", key.1),
            ));
        }
    }
    for (key, (pieces, _)) in asked {
        let sum = held.entry(key).or_default();
        *sum = sum.saturating_add(pieces);
    }
    Ok(())
}

/// Pieces certified under a deviation by the certificates in force.
fn certified(tx: &Transaction, purchaser: &str, number: &str, replaced: Option<&str>) -> Result<u64, Error> {
    let term = Term { facet: Some(Facet::Deviation), text: number.to_owned(), exact: true };
    let found =
        tx.find(&Query { terms: vec![term], limit: u32::MAX, from: None, to: None, standing: None })?;
    let mut sum = 0_u64;
    for one in found.iter().filter(|f| f.status == Status::Current && Some(f.number.as_str()) != replaced) {
        let unread = |why: String| {
            Error::cannot(
                format!("{}: its pieces cannot be counted against deviation {number}: {why}", one.number),
                "use the release that issued it",
            )
        };
        let stored = tx.certificate(&one.number)?.ok_or_else(|| unread("it has no data".to_owned()))?;
        let certificate: Certificate =
            serde_json::from_slice(&stored.data).map_err(|e| unread(e.to_string()))?;
        let evidence = withheld::kept(&stored).unwrap_or(None);
        for lot in &certificate.lots {
            // Whose it is cannot be seen: it counts.
            let dossier = withheld::dossier_of(lot, evidence.as_ref()).ok().flatten();
            let others = dossier.is_some_and(|dossier| dossier.order.purchaser != purchaser);
            let under = lot.findings.iter().filter_map(Finding::permission).any(|p| p.deviation == number);
            if under && !others {
                sum = sum.saturating_add(lot.quantity);
            }
        }
    }
    Ok(sum)
}
