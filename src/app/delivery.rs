//! Certificates on their way: entering a delivery, sending a certificate again.
//!
//! A delivery is entered as it happened, to whomever it went: what went astray must be known most of all. Sending
//! again is asked for, so it goes to a contact on the order, or somebody entitled to release says so.

use std::path::Path;
use std::path::PathBuf;

use serde_json::json;

use crate::app::addressees::Addressees;
use crate::app::addressees::same;
use crate::app::addressees::values;
use crate::app::desk;
use crate::app::desk::open_register;
use crate::app::desk::read_signer;
use crate::app::desk::sign_head;
use crate::app::error::Error;
use crate::app::evidence;
use crate::app::issue;
use crate::app::notice;
use crate::app::proofs;
use crate::app::world::World;
use crate::checkpoint::SigningKey;
use crate::folder;
use crate::folder::Folder;
use crate::moment::Date;
use crate::order::Way;
use crate::pdf::Renderer;
use crate::register::Facet;
use crate::register::Kind;
use crate::register::NewEntry;
use crate::register::Query;
use crate::register::Register;
use crate::register::Status;
use crate::register::StoredCertificate;
use crate::register::Term;

/// A delivery to enter.
pub struct Sending<'a> {
    /// The certificate.
    pub number: &'a str,
    /// To whom it went.
    pub to: &'a str,
    /// By which way.
    pub how: Way,
    /// Who sent it.
    pub by: &'a str,
    /// On which day; today if `None`.
    pub on: Option<Date>,
}

/// A delivery entered.
pub struct Delivered {
    /// On which day it went.
    pub on: Date,
    /// How the certificate stands: whoever received one that no longer stands must be told.
    pub status: Status,
    /// Why the receiver is no contact on the certificate's order; `None` when it is one.
    pub stranger: Option<String>,
}

/// A text that says something on one line.
fn line<'a>(what: &str, text: &'a str) -> Result<&'a str, Error> {
    let text = text.trim();
    if text.is_empty() || text.chars().any(char::is_control) {
        return Err(Error::cannot(format!("{what} reads `{}`", text.escape_debug()), "give it on one line"));
    }
    Ok(text)
}

fn stored(register: &Register, number: &str) -> Result<StoredCertificate, Error> {
    register.certificate(number)?.ok_or_else(|| {
        Error::cannot(format!("the register has no certificate {number}"), "see `brightproof find`")
    })
}

/// Enters that a certificate went to somebody.
pub fn delivered(folder: &Folder, sending: &Sending, world: &World) -> Result<Delivered, Error> {
    let addressees = Addressees::read(folder)?;
    let by = addressees.person(sending.by)?;
    let to = line("--to", sending.to)?;
    let signer = read_signer(folder)?;
    let mut register = open_register(folder)?;
    let certificate = stored(&register, sending.number)?;
    let facets = register.facets(sending.number)?;
    let on = sending.on.unwrap_or(world.today());
    let issued = values(&facets, Facet::Date).first().and_then(|day| day.parse::<Date>().ok());
    if on > world.today() || issued.is_some_and(|issued| on < issued) {
        let issued = issued.map_or(String::new(), |day| format!("{day}, its day of issue, and "));
        return Err(Error::cannot(
            format!("{} cannot have been delivered on {on}", sending.number),
            &format!("give a day between {issued}today, {}", world.today()),
        ));
    }
    let stranger = addressees.stranger(&facets, to);
    let detail = json!({
        "by": by.name, "to": to, "how": sending.how.name(), "on": on, "contact": stranger.is_none(),
    });
    let mut tx = desk::begin(&mut register, &signer, world)?;
    let number = Some(sending.number.to_owned());
    let entry = NewEntry { kind: Kind::Delivery, number, replaces: None, detail, salt: world.salt()? };
    tx.append(entry, None)?;
    issue::kept(tx.commit(&sign_head(&signer)))?;
    Ok(Delivered { on, status: certificate.status, stranger })
}

/// What to send again.
pub enum Which<'a> {
    /// One certificate, however it stands.
    Number(&'a str),
    /// Every certificate of an order that stands.
    Order(&'a str),
}

/// How to send it again.
pub struct Reissue<'a> {
    /// Who sends it.
    pub by: &'a str,
    /// For whom.
    pub to: &'a str,
    /// Why.
    pub why: &'a str,
    /// By which way, if it is known yet.
    pub how: Option<Way>,
    /// Who, being entitled to release, says that somebody who is no contact on the order may have it.
    pub approved_by: Option<&'a str>,
    /// Folder the copies are written to.
    pub out: &'a Path,
}

/// One certificate sent again.
pub struct Reissued {
    /// Its number.
    pub number: String,
    /// Where the copy was written.
    pub file: PathBuf,
    /// How the certificate stands: whoever receives an old one must be told.
    pub status: Status,
    /// Whether the receiver is a contact on its order.
    pub contact: bool,
    /// The notice beside the copy, where it no longer stands.
    pub notice: Option<PathBuf>,
}

/// Sends certificates again: the same bytes, and an entry each that says who asked, why, for whom. All or none.
pub fn reissue(
    folder: &Folder,
    which: &Which,
    request: &Reissue,
    world: &World,
) -> Result<Vec<Reissued>, Error> {
    let addressees = Addressees::read(folder)?;
    let (signer, mut register) = (read_signer(folder)?, open_register(folder)?);
    let mut sent = reissue_from(&mut register, &signer, &addressees, which, request, world)?;
    for one in &mut sent {
        let certificate = stored(&register, &one.number)?;
        evidence::beside(folder, &certificate, &one.file)?;
        // What was never judged here has no proof that could be taken for a certificate's.
        if !certificate.legacy {
            proofs::beside(folder, &register, &one.number, &one.file)?;
        }
        // A copy of what no longer stands never goes out as if it stood.
        if matches!(one.status, Status::Amended { .. } | Status::Withdrawn { .. }) {
            let bytes = notice::draw(&register, &one.number, &Renderer::new()?)?;
            let file = one.file.with_extension("notice.pdf");
            folder::write_whole(&file, &bytes)?;
            one.notice = Some(file);
        }
    }
    Ok(sent)
}

/// [`reissue`] from an open register.
pub fn reissue_from(
    register: &mut Register,
    signer: &SigningKey,
    addressees: &Addressees,
    which: &Which,
    request: &Reissue,
    world: &World,
) -> Result<Vec<Reissued>, Error> {
    if [request.by, request.to, request.why].iter().any(|text| text.trim().is_empty()) {
        return Err(Error::cannot(
            "a reissue needs who sends it, to whom and why",
            "give --by, --to and --why",
        ));
    }
    let to = line("--to", request.to)?;
    addressees.person(request.by)?;
    let approver =
        request.approved_by.map(|name| approver(addressees, name, request.by, world)).transpose()?;
    let numbers = match which {
        Which::Number(number) => vec![(*number).to_owned()],
        Which::Order(order) => of_order(register, order)?,
    };
    let mut contacts = Vec::new();
    for number in &numbers {
        stored(register, number)?;
        let stranger = addressees.stranger(&register.facets(number)?, to);
        if let (Some(why), None) = (&stranger, &approver) {
            return Err(Error::cannot(
                format!("{to} is no contact for certificate {number}: {why}"),
                "add the contact to the order when the purchaser says so, or name somebody entitled to release \
                 with --approved-by",
            ));
        }
        contacts.push(stranger.is_none());
    }
    // Copies are written first: an entry without a copy would say something was sent that was not.
    let mut sent = Vec::new();
    for (number, contact) in numbers.iter().zip(&contacts) {
        let certificate = stored(register, number)?;
        let file = request.out.join(file_name(number));
        folder::write_whole(&file, &certificate.pdf)?;
        sent.push(Reissued {
            number: number.clone(),
            file,
            status: certificate.status,
            contact: *contact,
            notice: None,
        });
    }
    let mut tx = desk::begin(register, signer, world)?;
    for (number, contact) in numbers.into_iter().zip(contacts) {
        let mut detail = json!({ "by": request.by, "to": to, "reason": request.why, "contact": contact });
        if let Some(more) = detail.as_object_mut() {
            more.extend(request.how.map(|how| ("how".to_owned(), json!(how.name()))));
            more.extend(approver.as_ref().map(|name| ("approved_by".to_owned(), json!(name))));
        }
        let number = Some(number);
        let entry = NewEntry { kind: Kind::Reissue, number, replaces: None, detail, salt: world.salt()? };
        tx.append(entry, None)?;
    }
    issue::kept(tx.commit(&sign_head(signer)))?;
    Ok(sent)
}

/// Whoever approves is entitled to release, and is not the one who sends.
fn approver(addressees: &Addressees, name: &str, by: &str, world: &World) -> Result<String, Error> {
    let person = issue::entitled(&addressees.people, name, world)?;
    if same(&person.name, by) {
        return Err(Error::cannot(
            format!("{name} cannot approve what {name} sends"),
            "somebody else entitled to release must approve it, or add the contact to the order",
        ));
    }
    Ok(person.name.clone())
}

/// The certificates of an order that stand, in the order they were registered.
fn of_order(register: &Register, order: &str) -> Result<Vec<String>, Error> {
    let term = Term { facet: Some(Facet::PurchaseOrder), text: order.to_owned(), exact: true };
    let found = register.find(&Query { terms: vec![term], limit: u32::MAX, ..Query::default() })?;
    let mut purchasers: Vec<&str> =
        found.iter().flat_map(|certificate| values(&certificate.facets, Facet::Purchaser)).collect();
    purchasers.sort_unstable();
    purchasers.dedup();
    if purchasers.len() > 1 {
        return Err(Error::cannot(
            format!("order {order} is an order of {}", purchasers.join(" and of ")),
            "no purchaser is sent another's certificates: send them by number",
        ));
    }
    let stands = |status: &Status| matches!(status, Status::Current | Status::Legacy);
    let numbers: Vec<String> =
        found.iter().rev().filter(|c| stands(&c.status)).map(|c| c.number.clone()).collect();
    if order.trim().is_empty() || numbers.is_empty() {
        return Err(Error::cannot(
            format!("no certificate that stands is of order {order}"),
            "see `brightproof find`",
        ));
    }
    Ok(numbers)
}

/// The name of a certificate's copy. A legacy number may hold anything, a file name may not; the digest keeps two
/// numbers that look alike apart.
pub fn file_name(number: &str) -> String {
    let plain: String = number
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() || matches!(c, '-' | '_') { c } else { '_' })
        .take(80)
        .collect();
    if plain == number {
        return format!("{number}.pdf");
    }
    let digest = crate::canonical::stamp(number.as_bytes());
    format!("{plain}-{}.pdf", digest.get(..12).unwrap_or(&digest))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_never_names_a_file_elsewhere() {
        assert_eq!(file_name("LBF-2026-000001"), "LBF-2026-000001.pdf");
        for number in ["../../etc/x", "C/2019/55", ".hidden", "C:\\x", "ä", "a b", &"9".repeat(300)] {
            let name = file_name(number);
            let safe = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '_');
            assert!(name.strip_suffix(".pdf").unwrap().chars().all(safe), "{name}");
            assert!(name.len() < 120, "{name}");
        }
        assert_ne!(file_name("C/1"), file_name("C.1"));
        assert_ne!(file_name("C/1"), file_name("C_1"));
    }
}
