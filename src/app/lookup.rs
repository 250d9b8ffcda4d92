//! Finding, withdrawing and amending what was issued.

use serde_json::Value;
use serde_json::json;

use crate::app::addressees::Addressees;
use crate::app::desk;
use crate::app::desk::Desk;
use crate::app::desk::open_register;
use crate::app::desk::read_signer;
use crate::app::desk::sign_head;
use crate::app::error::Error;
use crate::app::holders;
use crate::app::holders::Holders;
use crate::app::issue;
use crate::app::issue::Shipment;
use crate::app::release;
use crate::app::release::Authenticated;
use crate::app::withheld;
use crate::app::world::World;
use crate::certificate;
use crate::certificate::AmendmentKind;
use crate::certificate::Certificate;
use crate::certificate::CertifiedLot;
use crate::certificate::Datum;
use crate::certificate::Replaces;
use crate::checkpoint::SigningKey;
use crate::folder::Folder;
use crate::judge;
use crate::judge::Dossier;
use crate::register::Found;
use crate::register::Kind;
use crate::register::NewEntry;
use crate::register::Query;
use crate::register::Register;
use crate::register::Status;
use crate::register::Term;

/// Certificates that hold every text given, latest first.
pub fn find(folder: &Folder, texts: &[String], exact: bool, limit: u32) -> Result<Vec<Found>, Error> {
    let register = open_register(folder)?;
    let terms = texts.iter().map(|text| Term { facet: None, text: text.clone(), exact }).collect();
    Ok(register.find(&Query { terms, limit, ..Query::default() })?)
}

/// Certificates a query fits, latest first.
pub fn find_by(folder: &Folder, query: &Query) -> Result<Vec<Found>, Error> {
    Ok(open_register(folder)?.find(query)?)
}

/// Takes a certificate back; answers who holds it.
pub fn withdraw(
    folder: &Folder,
    number: &str,
    by: &str,
    why: &str,
    parts: &str,
    world: &World,
) -> Result<Holders, Error> {
    let addressees = Addressees::read(folder)?;
    let (signer, mut register) = (read_signer(folder)?, open_register(folder)?);
    let request = WithdrawRequest { number, by, why, parts };
    withdraw_from(&mut register, &signer, &addressees, &request, world)
}

/// What a withdrawal says of itself.
pub struct WithdrawRequest<'a> {
    /// The certificate.
    pub number: &'a str,
    /// Who.
    pub by: &'a str,
    /// Why.
    pub why: &'a str,
    /// What is to be done with the parts.
    pub parts: &'a str,
}

/// [`withdraw`] from an open register.
pub fn withdraw_from(
    register: &mut Register,
    signer: &SigningKey,
    addressees: &Addressees,
    request: &WithdrawRequest,
    world: &World,
) -> Result<Holders, Error> {
    let WithdrawRequest { number, by, why, parts } = request;
    if [by, why, parts].iter().any(|text| text.trim().is_empty()) {
        return Err(Error::cannot(
            "a withdrawal needs who, why, and what is to be done with the parts",
            "give --by, --why and --parts",
        ));
    }
    let mut tx = desk::begin(register, signer, world)?;
    // Asked under the lock: whoever was sent it a moment ago is among them.
    let told = holders::holders(&tx, addressees, number)?;
    let notify = holders::detail(&told)?;
    let entry = NewEntry {
        kind: Kind::Withdrawal,
        number: Some((*number).to_owned()),
        replaces: None,
        detail: json!({ "by": by, "reason": why, "parts": parts, "notify": notify }),
        salt: world.salt()?,
    };
    tx.append(entry, None)?;
    issue::kept(tx.commit(&sign_head(signer)))?;
    Ok(told)
}

/// What an amendment came to.
pub enum Amended {
    /// A new certificate.
    New {
        /// Its number.
        number: String,
        /// What changed, in words.
        changed: Vec<String>,
        /// Who holds the old one.
        told: Holders,
    },
    /// The lots no longer conform: nothing was issued, the old one still stands.
    Held(Box<Shipment>),
}

/// What an amendment says of itself.
pub struct AmendRequest<'a> {
    /// The certificate to replace.
    pub number: &'a str,
    /// Who releases the new one.
    pub by: &'a str,
    /// Why.
    pub why: &'a str,
    /// Clerical or conformity.
    pub kind: AmendmentKind,
}

/// Judges the shipment of a certificate anew and replaces the certificate, released by whoever holds the seal key.
pub fn amend(desk: &mut Desk, request: &AmendRequest, world: &World) -> Result<Amended, Error> {
    amend_signed(desk, request, &Authenticated::named(request.by), None, world)
}

/// The same, released by one who gave the own passphrase, or prepared by another.
pub fn amend_signed(
    desk: &mut Desk,
    request: &AmendRequest,
    by: &Authenticated,
    prepared: Option<&Authenticated>,
    world: &World,
) -> Result<Amended, Error> {
    if request.why.trim().is_empty() {
        return Err(Error::cannot("an amendment needs its reason", "give --why"));
    }
    let number = request.number;
    let hands = release::hands(&desk.book, by, prepared, world)?;
    let stored = desk.register.certificate(number)?.ok_or_else(|| {
        Error::cannot(format!("the register has no certificate {number}"), "see `brightproof find`")
    })?;
    if stored.legacy {
        return Err(Error::cannot(
            format!("certificate {number} was registered as received, so there is nothing to judge anew"),
            "withdraw it if it must not stand, and issue for its lots",
        ));
    }
    if stored.status != Status::Current {
        return Err(Error::cannot(
            format!("certificate {number} is {}, so it cannot be amended", stored.status),
            "amend the one that is current",
        ));
    }
    let Some(target) = issue::target_of(&stored.shipment_key) else {
        return Err(Error::cannot(format!("certificate {number} names no shipment"), ""));
    };
    let shipment = issue::judge_target(&desk.book, &target, world)?;
    if !shipment.conforms() {
        return Ok(Amended::Held(Box::new(shipment)));
    }
    let mut old: Certificate = serde_json::from_slice(&stored.data).map_err(|e| {
        Error::cannot(format!("the stored data of {number} cannot be read: {e}"), "run `register audit`")
    })?;
    // Compared whole: what the old certificate withholds is put back from its evidence.
    let evidence = withheld::kept(&stored)?;
    for lot in &mut old.lots {
        let dossier = withheld::dossier_of(lot, evidence.as_ref())?.ok_or_else(|| {
            Error::cannot(
                format!("the evidence of {number} is gone, so nobody can tell what changed"),
                "run `register audit`",
            )
        })?;
        lot.dossier = Datum::Disclosed(Box::new(dossier));
    }
    let changed = changes(&old, &shipment)?;
    if changed.is_empty() {
        return Err(Error::cannot(
            format!("nothing that certificate {number} says has changed"),
            "correct the record, order or part specification first; a lost copy is sent again with `reissue`",
        ));
    }
    let judged = changed.iter().any(|c| c.judged);
    if judged && request.kind == AmendmentKind::Clerical {
        let what: Vec<&str> = changed.iter().filter(|c| c.judged).take(3).map(|c| c.words.as_str()).collect();
        return Err(Error::cannot(
            format!("this is no clerical change: {}", what.join("; ")),
            "give --kind conformity, and tell whoever holds the old certificate",
        ));
    }
    let changed: Vec<String> = changed.into_iter().map(|c| c.words).collect();
    let replaces = Replaces {
        number: number.to_owned(),
        stamp: stored.stamp.clone(),
        reason: request.why.to_owned(),
        kind: request.kind,
        changed: changed.clone(),
    };
    let (number, told) = issue::amend(desk, &shipment, replaces, &hands.sign(&shipment.key), world)?;
    Ok(Amended::New { number, changed, told })
}

/// One change between what a certificate says and what it would say now.
struct Change {
    words: String,
    /// Whether the parts were judged by it.
    judged: bool,
}

/// At most so many changes are spelled out on the page.
const MOST_CHANGES: usize = 12;

fn changes(old: &Certificate, shipment: &Shipment) -> Result<Vec<Change>, Error> {
    let mut lots: Vec<_> = Vec::new();
    let mut later: Vec<String> = Vec::new();
    let mut all = Vec::new();
    for (turn, lot) in shipment.lots.iter().enumerate() {
        let mut dossier = lot.case.dossier.clone();
        later.extend(judge::later_requirements(&dossier));
        // Seen as the old one was: what is newly shown or withheld is no change in what was found.
        if let Some(Datum::Disclosed(before)) = old.lots.get(turn).map(|l| &l.dossier) {
            let papers = |d: &Dossier| {
                (d.order.discloses, d.part.discloses, d.order.controlled.clone(), d.part.controlled.clone())
            };
            if papers(before) != papers(&dossier) {
                let words = format!("lots[{turn}]: what is disclosed, or its control marking, changed");
                all.push(Change { words, judged: false });
            }
            (
                dossier.order.discloses,
                dossier.part.discloses,
                dossier.order.controlled,
                dossier.part.controlled,
            ) = papers(before);
        }
        lots.push(certificate::certified_lot(dossier, lot.findings.clone(), lot.quantity));
    }
    let value =
        |lots: &[CertifiedLot]| serde_json::to_value(lots).map_err(|e| Error::cannot(e.to_string(), ""));
    let (old, new) = (value(&old.lots)?, value(&lots)?);
    walk("lots", &without_later(old, &later), &without_later(new, &later), &mut all);
    for (turn, lot) in shipment.lots.iter().enumerate() {
        if !certificate::withheld(&lot.case.dossier).is_empty() {
            let place = format!("lots[{turn}].");
            all.iter_mut().filter(|c| c.words.starts_with(&place)).for_each(Change::withhold);
        }
    }
    let more = all.len().saturating_sub(MOST_CHANGES);
    if more > 0 {
        let judged = all.iter().skip(MOST_CHANGES).any(|c| c.judged);
        all.truncate(MOST_CHANGES);
        all.push(Change { words: format!("and {more} more"), judged });
    }
    Ok(all)
}

impl Change {
    /// Leaves the place, and takes out what stood and stands there.
    fn withhold(&mut self) {
        if let Some((place, _)) = self.words.split_once(": ") {
            self.words = format!("{place}: changed; both values are withheld");
        }
    }
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
            let judged = !clerical.iter().any(|c| plain.contains(c));
            all.push(Change { words: format!("{plain}: {} became {}", text(a), text(b)), judged });
        }
    }
}

fn text(value: &Value) -> String {
    match value {
        Value::Null => "nothing".to_owned(),
        Value::String(text) => format!("`{text}`"),
        Value::Object(_) | Value::Array(_) => "several entries".to_owned(),
        other => other.to_string(),
    }
}
