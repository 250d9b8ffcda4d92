//! Finding, withdrawing and amending what was issued.

use serde_json::json;

use crate::app::addressees::Addressees;
use crate::app::amended;
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
use crate::certificate::ChangedValue;
use crate::certificate::Datum;
use crate::certificate::Replaces;
use crate::checkpoint::SigningKey;
use crate::folder::Folder;
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
    let stored = register.certificate(number)?;
    if let Some(certificate) = stored.and_then(|s| serde_json::from_slice::<Certificate>(&s.data).ok()) {
        // The notice prints both.
        let people: Vec<&str> = addressees.people.people.iter().map(|p| p.name.as_str()).collect();
        if let Some(name) = certificate::told_name(&certificate.lots, &[why, parts], &people) {
            return Err(issue::withheld_name(name, "withdrawal"));
        }
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
        /// What changed.
        changed: Vec<ChangedValue>,
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
    let issued: Certificate = serde_json::from_slice(&stored.data).map_err(|e| {
        Error::cannot(format!("the stored data of {number} cannot be read: {e}"), "run `register audit`")
    })?;
    let mut old = issued.clone();
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
    let mut changed = amended::changes(&old, &shipment, &desk.book.shop, request.why)?;
    if changed.is_empty() {
        return Err(Error::cannot(
            format!("nothing that certificate {number} says has changed"),
            "correct the record, order or part specification first; a lost copy is sent again with `reissue`",
        ));
    }
    let mut judged = changed.iter().filter(|c| c.judged).take(3).map(|c| words(&c.value)).peekable();
    if request.kind == AmendmentKind::Clerical && judged.peek().is_some() {
        return Err(Error::cannot(
            format!("this is no clerical change: {}", judged.collect::<Vec<_>>().join("; ")),
            "give --kind conformity, and tell whoever holds the old certificate",
        ));
    }
    drop(judged);
    let more = u64::try_from(changed.len().saturating_sub(MOST_CHANGES)).unwrap_or(u64::MAX);
    changed.truncate(MOST_CHANGES);
    let changed: Vec<ChangedValue> = changed.into_iter().map(|c| c.value).collect();
    let replaces = Replaces {
        number: number.to_owned(),
        stamp: stored.stamp.clone(),
        reason: request.why.to_owned(),
        kind: request.kind,
        changed: changed.clone(),
        more,
        marked: Vec::new(),
    };
    let (number, told) = issue::amend(
        desk,
        &shipment,
        issue::Replacing { replaces, old: &issued },
        &hands.sign(&shipment.key),
        world,
    )?;
    Ok(Amended::New { number, changed, told })
}

/// At most so many changes are spelled out on the page.
const MOST_CHANGES: usize = 40;

/// One change in words.
pub fn words(change: &ChangedValue) -> String {
    let ChangedValue { what, was, now, .. } = change;
    if was.is_empty() && now.is_empty() {
        format!("{what} changed")
    } else if was == now {
        format!("{what}: changed; both values are withheld")
    } else {
        format!("{what}: `{was}` became `{now}`")
    }
}
