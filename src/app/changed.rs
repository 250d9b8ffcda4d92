//! What changed between a certificate and what it would say now: each field, whether the parts were judged by it,
//! and why. What a reader is not shown stays unshown here.

use serde::Serialize;
use serde_json::Value;
use serde_json::json;

use crate::app::book::Book;
use crate::app::error::Error;
use crate::app::issue::Shipment;
use crate::app::world::World;
use crate::certificate;
use crate::certificate::Certificate;
use crate::certificate::CertifiedLot;
use crate::certificate::ChangedRow;
use crate::certificate::Datum;
use crate::certificate::PrintedChange;
use crate::certificate::WITHHELD;
use crate::correction;
use crate::correction::Correction;
use crate::correction::NOTHING;
use crate::judge;
use crate::judge::Dossier;

/// Everything that changed.
pub struct Changes {
    /// Each field.
    pub fields: Vec<PrintedChange>,
    /// Rows of the page that read differently.
    pub rows: Vec<ChangedRow>,
    /// What was changed that the parts were judged by, on one line each.
    pub judged: Vec<String>,
    /// Whether anything changed that a new certificate is worth: not only the shop's own address or approvals.
    pub worth: bool,
}

/// One change.
struct Change {
    path: String,
    was: String,
    now: String,
    /// Whether the parts were judged by it.
    judged: bool,
    withheld: bool,
}

/// So many values of one entry are spelled out.
const MOST_VALUES: usize = 6;
/// Where the record of a lot stands in its data.
const RECORD: &str = ".dossier.disclosed.record.";

/// Compares the certificate whole: `old` with its withheld dossiers put back, `digests` those that stood for them.
pub fn changes(
    old: &Certificate,
    digests: &[Option<String>],
    shipment: &Shipment,
    book: &Book,
    why: &str,
    world: &World,
) -> Result<Changes, Error> {
    let mut lots: Vec<CertifiedLot> = Vec::new();
    let mut later: Vec<String> = Vec::new();
    let mut all: Vec<Change> = Vec::new();
    for (turn, lot) in shipment.lots.iter().enumerate() {
        let mut dossier = lot.case.dossier.clone();
        later.extend(judge::later_requirements(&dossier));
        // Seen as the old one was: what is newly shown or withheld is no change in what was found.
        if let Some(before) = dossier_of(old, turn) {
            for (name, was, now) in shown(before, &dossier) {
                if was != now {
                    let path = format!("lots[{turn}].{name}");
                    all.push(Change { path, was, now, judged: false, withheld: false });
                }
            }
            (
                dossier.order.discloses,
                dossier.part.discloses,
                dossier.order.controlled,
                dossier.part.controlled,
            ) = disclosure(before);
        }
        lots.push(certificate::certified_lot(dossier, lot.findings.clone(), lot.quantity));
    }
    let value =
        |lots: &[CertifiedLot]| serde_json::to_value(lots).map_err(|e| Error::cannot(e.to_string(), ""));
    let (before, now) = (value(&old.lots)?, value(&lots)?);
    walk("lots", &without_later(before, &later), &without_later(now, &later), &mut all);
    for (turn, lot) in shipment.lots.iter().enumerate() {
        let same = dossier_of(old, turn).is_some_and(|b| disclosure(b) == disclosure(&lot.case.dossier));
        let open = certificate::withheld(&lot.case.dossier).is_empty()
            && dossier_of(old, turn).is_none_or(|before| certificate::withheld(before).is_empty());
        let (place, inside) = (format!("lots[{turn}]."), format!("lots[{turn}].dossier"));
        let of_lot =
            |c: &&mut Change| c.path.starts_with(&place) && !SHOWN.iter().any(|end| c.path.ends_with(end));
        for change in all.iter_mut().filter(of_lot) {
            // Outside of the dossier stands what both certificates print, where both are shown alike.
            change.withheld = !open && (!same || change.path.starts_with(&inside));
        }
    }
    let party = json!({ "name": shipment.purchaser.name, "address": shipment.purchaser.address });
    walk("purchaser", &tree(&old.purchaser), &party, &mut all);
    walk("shipment.slip", &tree(&old.shipment.slip), &json!(shipment.slip), &mut all);
    let worth = !all.is_empty();
    let judged = all.iter().filter(|c| c.judged);
    let judged = judged.map(|c| printed(c, old, digests, shipment, &lots, why).words()).collect();
    let shop = &book.shop;
    let approvals = shop.approvals.iter().filter(|a| {
        judge::approval_is_printed(a, shipment.lots.iter().map(|lot| &lot.case.dossier), world.today())
    });
    let issuer = json!({
        "name": shop.name, "address": shop.address, "contact": shop.contact,
        "approvals": approvals.collect::<Vec<_>>(),
    });
    let mut told = tree(&old.issuer);
    if let Some(members) = told.as_object_mut() {
        members.remove("demo");
    }
    let from = all.len();
    walk("issuer", &told, &issuer, &mut all);
    walk("place", &json!(old.place), &json!(shop.place), &mut all);
    // Nothing of the shop's own name and papers is what the parts were judged by; what is, is in the lots.
    all.iter_mut().skip(from).for_each(|c| c.judged = false);
    Ok(Changes {
        fields: all.iter().map(|c| printed(c, old, digests, shipment, &lots, why)).collect(),
        rows: certificate::changed_rows(&old.lots, &lots),
        judged,
        worth,
    })
}

/// A value as a tree; what cannot be written as one would have failed before.
fn tree(value: &impl Serialize) -> Value {
    serde_json::to_value(value).unwrap_or(Value::Null)
}

/// What is said of what is shown: it gives nothing of it away.
const SHOWN: [&str; 2] = ["].withheld", "].controlled"];

/// What two dossiers withhold, and how they are marked.
fn shown(before: &Dossier, now: &Dossier) -> [(&'static str, String, String); 2] {
    let withheld = |d: &Dossier| match correction::text(&tree(&certificate::withheld(d))) {
        none if none.is_empty() => NOTHING.to_owned(),
        items => items,
    };
    let marking =
        |d: &Dossier| certificate::markings(std::iter::once(d)).unwrap_or_else(|| NOTHING.to_owned());
    [("withheld", withheld(before), withheld(now)), ("controlled", marking(before), marking(now))]
}

type Disclosure =
    (Option<crate::part::Discloses>, Option<crate::part::Discloses>, Option<String>, Option<String>);

/// What of a lot is shown, and its control markings.
fn disclosure(d: &Dossier) -> Disclosure {
    (d.order.discloses, d.part.discloses, d.order.controlled.clone(), d.part.controlled.clone())
}

fn dossier_of(old: &Certificate, turn: usize) -> Option<&Dossier> {
    match &old.lots.get(turn)?.dossier {
        Datum::Disclosed(dossier) => Some(dossier),
        Datum::Withheld(_) => None,
    }
}

/// Which lot a path is of.
fn turn_of(path: &str) -> Option<usize> {
    path.strip_prefix("lots[")?.split_once(']')?.0.parse().ok()
}

fn printed(
    change: &Change,
    old: &Certificate,
    digests: &[Option<String>],
    shipment: &Shipment,
    lots: &[CertifiedLot],
    why: &str,
) -> PrintedChange {
    let Change { path, was, now, withheld, .. } = change;
    let turn = turn_of(path);
    let lot = turn.and_then(|turn| shipment.lots.get(turn));
    let own = lot.zip(turn).and_then(|(lot, turn)| {
        let before = dossier_of(old, turn)?;
        // Printed reasons are masked as the old certificate was; where the new one shows less they are left out.
        let same = disclosure(before) == disclosure(&lot.case.dossier);
        let before = Some(before).filter(|_| same)?;
        reason(change, before, &lot.case.dossier, lots.get(turn)?)
    });
    let shown = |value: &String| if *withheld { WITHHELD.to_owned() } else { value.clone() };
    PrintedChange {
        what: in_words(path, lot.map(|lot| &lot.case.dossier), turn.and_then(|turn| lots.get(turn))),
        at: path.replace(".dossier.disclosed", ""),
        was: shown(was),
        now: shown(now),
        why: own.unwrap_or_else(|| why.to_owned()),
        old_digest: turn.filter(|_| *withheld).and_then(|turn| digests.get(turn).cloned().flatten()),
    }
}

/// The reasons of the corrections made since, of this very value: as the certificate prints them, without names that
/// it withholds. Nothing where none was made.
fn reason(change: &Change, before: &Dossier, now: &Dossier, lot: &CertifiedLot) -> Option<String> {
    let at = change.path.split_once(RECORD).map(|(_, at)| at);
    let in_dossier = change.path.contains(".dossier.disclosed.");
    let known: Vec<&Correction> = before.record.corrections.iter().chain(&before.corrections).collect();
    let own = now.record.corrections.iter().map(|c| (true, c));
    let book = now.corrections.iter().map(|c| (false, c));
    let mut reasons: Vec<String> = Vec::new();
    // The certificate prints them in this order.
    for ((of_record, correction), printed) in own.chain(book).zip(&lot.corrections) {
        let fits = match of_record {
            true => at.is_some_and(|at| covers(&correction.at, at) || covers(at, &correction.at)),
            false => {
                let key = |path: &str| path.rsplit('.').next().unwrap_or_default().to_owned();
                at.is_none()
                    && in_dossier
                    && key(&correction.at) == key(&change.path)
                    && correction.was == change.was
            }
        };
        if fits && !known.contains(&correction) && !reasons.contains(&printed.why) {
            reasons.push(printed.why.clone());
        }
    }
    (!reasons.is_empty()).then(|| reasons.join("; "))
}

/// Whether a path is another or lies below it.
fn covers(above: &str, path: &str) -> bool {
    path.strip_prefix(above).is_some_and(|rest| rest.is_empty() || rest.starts_with(['.', '[']))
}

/// A place of the data in words.
fn in_words(path: &str, dossier: Option<&Dossier>, shown: Option<&CertifiedLot>) -> String {
    let plain = |path: &str| path.replace('_', " ").replace('.', ", ");
    let Some(dossier) = dossier else { return plain(path) };
    let lot = &dossier.record.lot;
    if let Some((_, at)) = path.split_once(RECORD) {
        return format!("lot {lot}: {}", certificate::in_record(&dossier.record, at));
    }
    let below = path.split_once(']').map_or(path, |(_, rest)| rest).trim_start_matches('.');
    let below = below.strip_prefix("dossier.disclosed.").unwrap_or(below);
    // A finding by its subject, as the certificate prints it; its turn says nothing to a reader.
    let finding = below.strip_prefix("findings[").and_then(|rest| rest.split_once("]."));
    let found = finding.and_then(|(turn, key)| {
        let finding = shown?.findings.get(turn.parse::<usize>().ok()?)?;
        Some(format!("lot {lot}: finding on {}, {}", finding.subject, plain(key)))
    });
    found.unwrap_or_else(|| format!("lot {lot}: {}", plain(below)))
}

/// Lots without what was found after use: of a shipment that conforms it is in order, and not what changed.
fn without_later(mut lots: Value, later: &[String]) -> Value {
    for lot in lots.as_array_mut().into_iter().flatten() {
        if let Some(findings) = lot.get_mut("findings").and_then(Value::as_array_mut) {
            findings.retain(|f| {
                let id = f.get("requirement").and_then(Value::as_str);
                !id.is_some_and(|id| later.iter().any(|l| l == id))
            });
        }
        let dossier = lot.get_mut("dossier").and_then(|d| d.get_mut("disclosed"));
        if let Some(dossier) = dossier.and_then(Value::as_object_mut) {
            dossier.remove("later");
        }
    }
    lots
}

/// Compares two values; each leaf that differs is one change. Printed copies of recorded facts are left to the
/// record itself, so that one correction reads as one change.
fn walk(path: &str, old: &Value, new: &Value, all: &mut Vec<Change>) {
    match (old, new) {
        (Value::Object(a), Value::Object(b)) => {
            let mut keys: Vec<&String> = a.keys().chain(b.keys().filter(|k| !a.contains_key(*k))).collect();
            keys.sort();
            for key in keys {
                // Those stand directly under a lot; a record's own tests, counts and material are the facts.
                let derived = path.matches('[').count() == 1
                    && path.ends_with(']')
                    && matches!(
                        key.as_str(),
                        "treatments"
                            | "tests"
                            | "counts"
                            | "dates"
                            | "call_outs"
                            | "material"
                            | "description"
                            | "statements"
                            | "fields"
                            | "deviations"
                            | "conversions"
                            | "corrections"
                            | "entered_late"
                            | "withheld"
                            | "controlled"
                    );
                // Corrections and what the journal says of them explain changes; they are none.
                let explains = path.ends_with(".dossier.disclosed")
                    && (key == "checks" || key == "corrections")
                    || path.ends_with(".record") && key == "corrections";
                if derived || explains {
                    continue;
                }
                let next = format!("{path}.{key}");
                walk(&next, a.get(key).unwrap_or(&Value::Null), b.get(key).unwrap_or(&Value::Null), all);
            }
        }
        (Value::Array(a), Value::Array(b)) => {
            for i in 0..a.len().max(b.len()) {
                let next = format!("{path}[{i}]");
                walk(&next, a.get(i).unwrap_or(&Value::Null), b.get(i).unwrap_or(&Value::Null), all);
            }
        }
        (a, b) if a == b => {}
        (a, b) => {
            let plain = path.replace(".dossier.disclosed", "");
            let clerical =
                [".remarks", ".note", ".purchaser_lot", ".order.dated", ".part.description", ".heats"];
            let judged = path.starts_with("lots") && !clerical.iter().any(|c| plain.contains(c));
            all.push(Change { path: path.to_owned(), was: text(a), now: text(b), judged, withheld: false });
        }
    }
}

/// A value as printed; a long entry by how much it holds.
fn text(value: &Value) -> String {
    let mut leaves = Vec::new();
    correction::leaves("", value, &mut leaves);
    match leaves.len() {
        many if many > MOST_VALUES => format!("an entry of {many} values"),
        _ => correction::text(value),
    }
}
