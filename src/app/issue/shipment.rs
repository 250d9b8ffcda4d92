//! What is to be certified: a lot or a packing slip, judged.

use std::collections::BTreeSet;

use serde_json::json;

use crate::app::book::Book;
use crate::app::dossier::Case;
use crate::app::error::Error;
use crate::app::evidence;
use crate::app::journal;
use crate::app::journal::Kept;
use crate::app::world::World;
use crate::canonical;
use crate::evidence::HeldFile;
use crate::finding::Finding;
use crate::judge;
use crate::moment::Date;
use crate::moment::Moment;
use crate::order::CertificatePer;
use crate::record::Record;
use crate::shipment::CoveredRuns;
use crate::shop::Purchaser;

/// What to issue for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Target {
    /// All accepted pieces of one lot, by lot number or file.
    Lot(String),
    /// A packing slip, but for the lots whose order asks for a certificate of each line.
    Slip(String),
    /// Of a packing slip, the lots of one order line: slip, and order and line as in `QI-88231/2`.
    SlipLine(String, String),
}

/// The name of an order line within a slip.
fn line_name(record: &Record) -> String {
    format!("{}/{}", record.order.number, record.order.line)
}

/// The targets a target comes to: a slip with lots of orders that ask for a certificate of each line comes to
/// one a line, and one for the rest. What cannot be read stays as it is; judging it tells why.
pub fn expand(book: &Book, targets: Vec<Target>) -> Vec<Target> {
    let mut all = Vec::new();
    for target in targets {
        let Target::Slip(slip) = &target else {
            all.push(target);
            continue;
        };
        let Ok(shipment) = book.shipment(slip) else {
            all.push(target);
            continue;
        };
        let mut rest = false;
        let mut lines: Vec<String> = Vec::new();
        for entry in &shipment.document.lots {
            match book.lot(&entry.lot) {
                Ok(record) if per_line(book, &record.document) => {
                    let name = line_name(&record.document);
                    if !lines.contains(&name) {
                        lines.push(name);
                    }
                }
                _ => rest = true,
            }
        }
        let lines = lines.into_iter().map(|line| Target::SlipLine(slip.clone(), line)).collect::<Vec<_>>();
        if rest || lines.is_empty() {
            all.push(target);
        }
        all.extend(lines);
    }
    all
}

fn per_line(book: &Book, record: &Record) -> bool {
    let order = book.orders.iter().find(|o| o.document.order == record.order.number);
    order.is_some_and(|o| o.document.certificate_per == CertificatePer::Line)
}

/// The target a registered shipment was issued for.
pub fn target_of(key: &str) -> Option<Target> {
    match key.split_once(' ')? {
        ("slip", rest) => Some(match rest.split_once(" line ") {
            Some((slip, line)) => Target::SlipLine(slip.to_owned(), line.to_owned()),
            None => Target::Slip(rest.to_owned()),
        }),
        ("lot", lot) => Some(Target::Lot(lot.to_owned())),
        _ => None,
    }
}

impl std::fmt::Display for Target {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Target::Lot(lot) => write!(f, "lot {lot}"),
            Target::Slip(slip) => write!(f, "slip {slip}"),
            Target::SlipLine(slip, line) => write!(f, "slip {slip} line {line}"),
        }
    }
}

/// A judged lot.
pub struct Judged {
    /// Dossier and sources.
    pub case: Case,
    /// Findings.
    pub findings: Vec<Finding>,
    /// Pieces to certify.
    pub quantity: u64,
    /// What the check journal came to hold.
    pub journal: Kept,
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
    /// Whom it goes to.
    pub fn purchaser_name(&self) -> &str {
        &self.purchaser.name
    }

    /// The purchaser, as the shop's book has it.
    pub fn purchaser(&self) -> &Purchaser {
        &self.purchaser
    }

    /// Digest of everything that was judged.
    pub fn input_digest(&self) -> &str {
        &self.input
    }

    /// The last line of each lot's journal, for the register.
    ///
    /// # Errors
    /// When one could not be written: what is issued must leave its line.
    pub(super) fn journals(&self) -> Result<serde_json::Value, Error> {
        let mut heads = serde_json::Map::new();
        for lot in &self.lots {
            let number = &lot.case.dossier.record.lot;
            let Some(head) = &lot.journal.head else {
                let why = lot.journal.unkept.as_ref().map(ToString::to_string).unwrap_or_default();
                return Err(Error::cannot(
                    format!("the check journal of lot {number} cannot be written: {why}"),
                    "nothing is issued without it: mend the folder's permissions or the disk",
                ));
            };
            heads.insert(number.clone(), head.clone().into());
        }
        Ok(heads.into())
    }

    /// The files its certificate rests on.
    pub(super) fn evidence(&self) -> BTreeSet<HeldFile> {
        self.lots.iter().flat_map(|lot| evidence::of_dossier(&lot.case.dossier)).collect()
    }

    /// An entry's detail with those files, and the day until which they are kept.
    pub(super) fn with_evidence(&self, mut detail: serde_json::Value, issued: Date) -> serde_json::Value {
        if let Some(members) = detail.as_object_mut() {
            let all = evidence::detail(&self.evidence(), &self.purchaser, issued);
            members.extend(all.into_iter().map(|(key, value)| (key.to_owned(), value)));
        }
        detail
    }

    /// Whether every lot conforms.
    pub fn conforms(&self) -> bool {
        self.lots.iter().all(|lot| judge::conforms(&lot.findings))
    }
}

/// Judges one lot and keeps what was seen in its journal: all its accepted pieces, or so many.
pub fn judge_lot(book: &Book, name: &str, pieces: Option<u64>, world: &World) -> Result<Judged, Error> {
    judge_entry(book, name, pieces, None, world)
}

/// Judges one lot as a slip sends it: whole, or the part of it that is named.
fn judge_entry(
    book: &Book,
    name: &str,
    pieces: Option<u64>,
    part: Option<CoveredRuns>,
    world: &World,
) -> Result<Judged, Error> {
    let mut case = book.case(book.lot(name)?)?;
    case.dossier.covers_runs = part;
    let (findings, journal) = journal::judge_and_keep(book, &mut case, Moment::from_clock(world.now()))?;
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
    Ok(Judged { case, findings, quantity, journal })
}

/// Judges a target.
pub fn judge_target(book: &Book, target: &Target, world: &World) -> Result<Shipment, Error> {
    let (slip, purchaser_id, lots) = match target {
        Target::Lot(name) => {
            let lot = judge_lot(book, name, None, world)?;
            (None, lot.case.dossier.order.purchaser.clone(), vec![lot])
        }
        Target::Slip(slip) | Target::SlipLine(slip, _) => {
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
                let record = book.lot(&entry.lot)?;
                let wanted = match target {
                    Target::SlipLine(_, line) => {
                        per_line(book, &record.document) && line_name(&record.document) == *line
                    }
                    _ => !per_line(book, &record.document),
                };
                if !wanted {
                    continue;
                }
                let part = (!entry.runs.is_empty()).then(|| CoveredRuns {
                    runs: entry.runs.clone(),
                    pieces: entry.pieces.unwrap_or(0),
                    segregated: entry.segregated.clone(),
                });
                let lot = judge_entry(book, &entry.lot, entry.pieces, part, world)?;
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
            if lots.is_empty() {
                return Err(Error::cannot(
                    format!("{}: nothing on it is certified as {target}", shipment.file),
                    "an order with `certificate_per: line` has one certificate a line: issue the whole slip",
                ));
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
        (Some(slip), _) => match target {
            Target::SlipLine(_, line) => format!("slip {slip} line {line}"),
            _ => format!("slip {slip}"),
        },
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
