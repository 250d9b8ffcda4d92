//! Certificates older than the tool: a file and what it is found by, registered as received. Nothing of it is
//! judged, nothing vouches for it but the shop's own archive, and every answer about it says so.

use serde_json::json;

use crate::app::addressees::Addressees;
use crate::app::affected::purchaser_named;
use crate::app::desk;
use crate::app::desk::open_register;
use crate::app::desk::read_signer;
use crate::app::desk::sign_head;
use crate::app::error::Error;
use crate::app::issue;
use crate::app::world::World;
use crate::canonical;
use crate::folder;
use crate::folder::Folder;
use crate::moment::Date;
use crate::pdf;
use crate::register::Facet;
use crate::register::Kind;
use crate::register::NewCertificate;
use crate::register::NewEntry;
use crate::register::Register;

/// The form of what is kept beside a legacy file.
const FORMAT: &str = "brightproof legacy, 1";

/// A legacy certificate to register.
pub struct NewLegacy<'a> {
    /// The file.
    pub file: &'a std::path::Path,
    /// Its own number.
    pub number: &'a str,
    /// For whom it was made, by name or id.
    pub purchaser: &'a str,
    /// The day it says it was issued.
    pub issued: Date,
    /// What else it is found by.
    pub found_by: Vec<(Facet, String)>,
    /// Who takes it in; entitled to release.
    pub by: &'a str,
}

/// Registers a certificate older than the register; answers the SHA-256 of its file.
pub fn add(folder: &Folder, new: &NewLegacy, world: &World) -> Result<String, Error> {
    let addressees = Addressees::read(folder)?;
    let person = issue::entitled(&addressees.people, new.by, world)?;
    let purchaser = purchaser_named(&addressees, new.purchaser)?;
    let signer = read_signer(folder)?;
    let mut register = open_register(folder)?;
    let shop = crate::app::book::read::<crate::shop::Shop>(folder, "shop.yaml", |_| Vec::new())?.document;
    let number = new.number.trim();
    older(&register, new, number, &shop.number_prefix)?;
    let pdf = folder::read(new.file)?;
    let digest = canonical::stamp(&pdf);
    not_ours(new, &pdf)?;

    let mut facets: Vec<(Facet, String)> = Vec::new();
    for (facet, value) in &new.found_by {
        let value = value.trim();
        if value.is_empty() || value.chars().any(char::is_control) {
            let what = facet.as_str().replace('_', " ");
            return Err(Error::cannot(
                format!("the {what} reads `{}`", value.escape_debug()),
                "leave it out",
            ));
        }
        facets.push((*facet, value.to_owned()));
    }
    facets.push((Facet::Purchaser, purchaser.clone()));
    facets.push((Facet::Date, new.issued.to_string()));
    let words: Vec<(&str, &str)> = facets.iter().map(|(f, v)| (f.as_str(), v.as_str())).collect();
    let data = canonical::canonical(&json!({
        "format": FORMAT, "number": number, "found_by": words, "pdf_sha256": digest,
        "means": "registered as received, not judged",
    }))?;
    let certificate = NewCertificate {
        evidence: None,
        number: number.to_owned(),
        stamp: canonical::stamp(&data),
        data,
        pdf,
        input_digest: digest.clone(),
        shipment_key: format!("file {digest}"),
        facets,
        pieces: Vec::new(),
        accepted: Vec::new(),
        signer: person.name.clone(),
        uses: Vec::new(),
    };
    let entry = NewEntry {
        kind: Kind::Legacy,
        number: Some(number.to_owned()),
        replaces: None,
        detail: json!({ "by": person.name, "purchaser": purchaser, "issued": new.issued }),
        salt: world.salt()?,
    };
    let mut tx = desk::begin(&mut register, &signer, world)?;
    tx.append(entry, Some(certificate))?;
    issue::kept(tx.commit(&sign_head(&signer)))?;
    Ok(digest)
}

/// What was made since the register began is issued by it or not at all, and its numbers are nobody else's: else this
/// would be the way around the judge.
fn older(register: &Register, new: &NewLegacy, number: &str, prefix: &str) -> Result<(), Error> {
    let began = register.of_kind(Kind::Genesis)?.into_iter().next();
    let began = began.and_then(|entry| entry.at.get(..10).and_then(|day| day.parse::<Date>().ok()));
    let Some(began) = began else {
        return Err(Error::cannot("the register does not say when it began", "run `register audit`"));
    };
    if new.issued > began {
        return Err(Error::cannot(
            format!("{number} says it was issued on {}, but this register began on {began}", new.issued),
            "what was finished since then is judged and issued, never taken in as legacy",
        ));
    }
    let own = format!("{prefix}-").to_lowercase();
    let year = number
        .to_lowercase()
        .strip_prefix(&own)
        .map(|rest| rest.split('-').next().and_then(|year| year.parse::<i32>().ok()).unwrap_or(began.year()));
    if year.is_some_and(|year| year >= began.year()) {
        return Err(Error::cannot(
            format!("{number} looks like a number this register gives itself"),
            "an older certificate keeps its own number; if it really is this one, register it as `old NUMBER`",
        ));
    }
    Ok(())
}

/// A file that carries this tool's seal is verified, not taken in unjudged.
fn not_ours(new: &NewLegacy, pdf: &[u8]) -> Result<(), Error> {
    let file = new.file.display();
    if !pdf.starts_with(b"%PDF-") {
        return Err(Error::cannot(format!("{file} is not a PDF"), "scan or print it to one"));
    }
    if pdf::read_sealed(pdf).is_ok() {
        return Err(Error::cannot(
            format!("{file} is a sealed certificate of this tool, not one older than it"),
            "`brightproof verify` tells what it is",
        ));
    }
    Ok(())
}
