//! No piece is certified twice: what a shipment asks of its lots is held against what certificates in force,
//! and the others of the same batch, have taken of them already; by lot, by run, and over lots made from lots.

use std::collections::BTreeMap;

use serde_json::Value;

use crate::app::error::Error;
use crate::app::issue::shipment::Judged;
use crate::app::issue::shipment::Shipment;
use crate::judge;
use crate::judge::Claim;
use crate::judge::Overdrawn;
use crate::register::Transaction;

/// What shipments of this batch take of each lot.
pub(super) type Held = BTreeMap<String, Vec<Claim>>;

fn claim(lot: &Judged) -> Claim {
    let part = lot.case.dossier.covers_runs.as_ref();
    let runs = part.map(|p| p.runs.iter().cloned().collect()).unwrap_or_default();
    Claim { runs, pieces: lot.quantity }
}

/// What a certificate's data take of a lot. Data that do not say it take all: nothing more is given then.
fn taken(data: &[u8], lot: &str, pieces: u64) -> Claim {
    let value: Value = serde_json::from_slice(data).unwrap_or(Value::Null);
    let lots = value.get("lots").and_then(Value::as_array);
    let entry = lots.and_then(|all| all.iter().find(|l| l.get("lot").and_then(Value::as_str) == Some(lot)));
    let runs = entry.and_then(|l| l.get("covers_runs")).and_then(Value::as_array);
    let runs = runs.into_iter().flatten().filter_map(Value::as_str).map(str::to_owned).collect();
    Claim { runs, pieces }
}

/// Refuses a shipment that asks more of a lot, of its runs or of the lots it came from than they have left;
/// otherwise it is counted into the batch.
pub(super) fn admit(tx: &Transaction, shipment: &Shipment, held: &mut Held) -> Result<(), Error> {
    for lot in &shipment.lots {
        one(tx, lot, held, None)?;
    }
    for lot in &shipment.lots {
        held.entry(lot.case.dossier.record.lot.clone()).or_default().push(claim(lot));
    }
    Ok(())
}

/// The same for a shipment that takes the place of a certificate, which then no longer counts.
pub(super) fn admit_instead(tx: &Transaction, shipment: &Shipment, replaced: &str) -> Result<(), Error> {
    shipment.lots.iter().try_for_each(|lot| one(tx, lot, &Held::new(), Some(replaced)))
}

fn one(tx: &Transaction, lot: &Judged, held: &Held, replaced: Option<&str>) -> Result<(), Error> {
    let whole = judge::whole(&lot.case.dossier);
    let record = &whole.record;
    let name = &record.lot;
    let mut claims: Vec<Claim> = Vec::new();
    for (number, pieces, data) in tx.holders(name)? {
        if Some(number.as_str()) != replaced {
            claims.push(taken(&data, name, pieces));
        }
    }
    claims.extend(held.get(name).into_iter().flatten().cloned());
    let before = claims.iter().fold(0_u64, |sum, c| sum.saturating_add(c.pieces));
    claims.push(claim(lot));
    let hint = format!("`brightproof find {name}` lists the certificates that hold them");
    match judge::fits(record, &claims) {
        Ok(()) => {}
        Err(Overdrawn::TooMany { runs, most, .. }) if runs.is_empty() => {
            return Err(Error::cannot(
                format!(
                    "lot {name}: {} pieces cannot be certified: {most} were accepted, {before} are certified already",
                    lot.quantity
                ),
                &hint,
            ));
        }
        Err(Overdrawn::TooMany { runs, claimed, most }) => {
            return Err(Error::cannot(
                format!(
                    "lot {name}: {} pieces cannot be certified: of run {} {claimed} would be certified, it has {most}",
                    lot.quantity,
                    runs.join(" and ")
                ),
                &hint,
            ));
        }
        Err(Overdrawn::NoSuchRun(run)) => {
            return Err(Error::cannot(
                format!(
                    "lot {name}: run {run} was certified, and is no piece's last treatment by the record now"
                ),
                "runs keep their names; what was treated again needs its certificate withdrawn first",
            ));
        }
        Err(Overdrawn::TooManyGroups) => {
            return Err(Error::cannot(
                format!(
                    "lot {name}: its runs were certified in too many different groups to tell what is left"
                ),
                "certify the rest of the lot as a whole, or split it",
            ));
        }
    }
    for (forebear, accepted) in &lot.case.forebears {
        let mine = tx.certified(forebear)?;
        let batch =
            held.get(forebear).into_iter().flatten().fold(0_u64, |sum, c| sum.saturating_add(c.pieces));
        let certified = mine.saturating_add(batch);
        if certified > *accepted {
            return Err(Error::cannot(
                format!(
                    "lot {name} came from lot {forebear}, of which {certified} pieces are certified and only {accepted} \
                     remain accepted: some would be certified twice"
                ),
                &format!(
                    "`brightproof find {forebear}` lists them; amend or withdraw what counts the pieces split off"
                ),
            ));
        }
    }
    let gone = gone(tx, name, replaced)?;
    let all = before.saturating_add(lot.quantity).saturating_add(gone);
    let there = record.counts.accepted.saturating_add(record.counts.split_off);
    if gone > 0 && all > there {
        return Err(Error::cannot(
            format!(
                "lot {name}: {} pieces cannot be certified: {before} are certified already, {gone} more in lots made from \
                 it, and it has {there} with those split off",
                lot.quantity
            ),
            &hint,
        ));
    }
    Ok(())
}

/// Pieces of a lot that are certified in other lots, which took them out of it. A lot that took pieces from
/// several gave at most what it took from this one.
fn gone(tx: &Transaction, lot: &str, replaced: Option<&str>) -> Result<u64, Error> {
    let mut by: BTreeMap<String, (u64, u64)> = BTreeMap::new();
    for (number, data) in tx.filed_under_lot(lot)? {
        if Some(number.as_str()) == replaced {
            continue;
        }
        let value: Value = serde_json::from_slice(&data).unwrap_or(Value::Null);
        for other in value.get("lots").and_then(Value::as_array).into_iter().flatten() {
            let taken = other.get("descends_from").and_then(Value::as_array);
            let text = |v: &Value, key: &str| v.get(key).and_then(Value::as_str).map(str::to_owned);
            let number = |v: &Value, key: &str| v.get(key).and_then(Value::as_u64).unwrap_or(0);
            let mut taken = taken.into_iter().flatten();
            let first = taken.find(|d| text(d, "lot").as_deref() == Some(lot));
            if let Some((first, child)) = first.and_then(|d| Some((d, text(d, "by")?))) {
                let entry = by.entry(child).or_default();
                entry.0 = entry.0.saturating_add(number(other, "quantity"));
                entry.1 = entry.1.max(number(first, "pieces"));
            }
        }
    }
    Ok(by.values().fold(0_u64, |sum, (certified, taken)| sum.saturating_add(*certified.min(taken))))
}
