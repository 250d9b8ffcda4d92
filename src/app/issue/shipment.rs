//! What is to be certified: a lot or a packing slip, judged.

use std::collections::BTreeSet;

use serde_json::json;

use crate::app::book::Book;
use crate::app::dossier::Case;
use crate::app::error::Error;
use crate::canonical;
use crate::finding::Finding;
use crate::judge;
use crate::shop::Purchaser;

/// What to issue for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Target {
    /// All accepted pieces of one lot, by lot number or file.
    Lot(String),
    /// A packing slip.
    Slip(String),
}

/// A judged lot.
pub struct Judged {
    /// Dossier and sources.
    pub case: Case,
    /// Findings.
    pub findings: Vec<Finding>,
    /// Pieces to certify.
    pub quantity: u64,
}

/// A shipment that was judged.
pub struct Shipment {
    /// The packing slip, if one was named.
    pub slip: Option<String>,
    /// The purchaser.
    pub(super) purchaser: Purchaser,
    /// Its lots.
    pub lots: Vec<Judged>,
    /// Digest of what was judged.
    pub(super) input: String,
    /// Which shipment it is.
    pub key: String,
}

impl Shipment {
    /// Whether every lot conforms.
    pub fn conforms(&self) -> bool {
        self.lots.iter().all(|lot| judge::conforms(&lot.findings))
    }
}

/// Judges one lot: all its accepted pieces, or so many.
pub fn judge_lot(book: &Book, name: &str, pieces: Option<u64>) -> Result<Judged, Error> {
    let case = book.case(book.lot(name)?)?;
    let findings = judge::judge(&case.dossier);
    let accepted = case.dossier.record.counts.accepted;
    let quantity = pieces.unwrap_or(accepted);
    if quantity > accepted || quantity == 0 {
        return Err(Error::cannot(
            format!(
                "{}: {quantity} pieces of lot {} cannot be certified, {accepted} were accepted",
                case.record.file, case.dossier.record.lot
            ),
            "correct the pieces on the packing slip, or the counts of the lot",
        ));
    }
    Ok(Judged { case, findings, quantity })
}

/// Judges a target.
pub fn judge_target(book: &Book, target: &Target) -> Result<Shipment, Error> {
    let (slip, purchaser_id, lots) = match target {
        Target::Lot(name) => {
            let lot = judge_lot(book, name, None)?;
            (None, lot.case.dossier.order.purchaser.clone(), vec![lot])
        }
        Target::Slip(slip) => {
            let shipment = book.shipment(slip)?;
            if shipment.document.lots.is_empty() {
                return Err(Error::cannot(
                    format!("{}: no lot is on the slip", shipment.file),
                    "list the lots it sends",
                ));
            }
            let mut seen = BTreeSet::new();
            let mut lots = Vec::new();
            for entry in &shipment.document.lots {
                if !seen.insert(&entry.lot) {
                    return Err(Error::cannot(
                        format!("{}: lot {} stands twice", shipment.file, entry.lot),
                        "add its pieces up in one line",
                    ));
                }
                let lot = judge_lot(book, &entry.lot, entry.pieces)?;
                if lot.case.dossier.order.purchaser != shipment.document.purchaser {
                    return Err(Error::cannot(
                        format!(
                            "{}: lot {} is of purchaser `{}`, the slip is for `{}`",
                            shipment.file,
                            entry.lot,
                            lot.case.dossier.order.purchaser,
                            shipment.document.purchaser
                        ),
                        "a certificate never shows one purchaser's parts to another: split the slip",
                    ));
                }
                lots.push(lot);
            }
            (Some(shipment.document.slip.clone()), shipment.document.purchaser.clone(), lots)
        }
    };
    let found = book.purchasers.purchasers.iter().find(|p| p.id == purchaser_id);
    let purchaser = found.cloned().ok_or_else(|| {
        Error::cannot(
            format!("purchasers.yaml has no purchaser `{purchaser_id}`"),
            "add its name and address",
        )
    })?;
    let key = match (&slip, lots.first()) {
        (Some(slip), _) => format!("slip {slip}"),
        (None, Some(lot)) => format!("lot {}", lot.case.dossier.record.lot),
        (None, None) => return Err(Error::cannot("nothing to certify", "")),
    };
    let judged: Vec<serde_json::Value> = lots
        .iter()
        .map(|lot| {
            // An analysis or a calibration entered since, and in order, makes it no other shipment.
            let (dossier, findings) = judge::settled(&lot.case.dossier, &lot.findings);
            json!({ "dossier": dossier, "findings": findings, "quantity": lot.quantity })
        })
        .collect();
    let whole = json!({ "lots": judged, "slip": slip, "purchaser": purchaser, "judge": judge::JUDGE });
    let input = canonical::stamp(&canonical::canonical(&whole)?);
    Ok(Shipment { slip, purchaser, lots, input, key })
}
