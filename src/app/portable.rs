//! The register's word as plain files that somebody else checks with general tools: certificates, their data, every
//! public entry, proofs, the signed head and the keys. `docs/formats/portable-proof.md` says how.
//!
//! Nothing of a controlled part is among them: neither file nor data of a certificate over a lot, part or order that
//! carries a control marking anywhere in the register or in the shop's book. Its entry is: a digest tells nothing.

use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::path::Path;

use crate::app::book::Book;
use crate::app::desk::files;
use crate::app::error::Error;
use crate::app::keys;
use crate::app::proofs;
use crate::canonical;
use crate::certificate::Certificate;
use crate::checkpoint::VerifyKey;
use crate::folder;
use crate::register::Kind;
use crate::register::Register;
use crate::register::StoredCertificate;

/// What an export holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Exported {
    /// Entries under the head.
    pub size: u64,
    /// Certificates whose file and data are in it.
    pub whole: Vec<String>,
    /// Certificates that are not, and why.
    pub withheld: BTreeMap<String, String>,
}

const README: &str = "# A register's word, to be checked without its program

    checkpoint       the register's signed head: name, entries, root, signatures
    entries/         every public entry, byte for byte; its index is its name
    certificates/    certificates (.pdf), their data (.json), the proofs of their entries (.tlog-proof)
    keys/            the shop's public keys; compare them with what the shop told you by another way
    withheld.txt     certificates that are not among these, and why
    SHA256SUMS       `sha256sum -c SHA256SUMS` finds what was damaged on the way; it proves no more

The formats are RFC 6962, RFC 8785 and c2sp.org/tlog-checkpoint, tlog-proof and tlog-cosignature. How to check each by
hand stands in the program's documentation, docs/formats/portable-proof.md.
";

/// Certificates by number; none where this release cannot read the data.
type Certificates = BTreeMap<String, Option<Certificate>>;

/// Marks that keep a certificate from being handed out.
#[derive(Default)]
struct Controlled {
    lots: BTreeSet<String>,
    parts: BTreeSet<String>,
    orders: BTreeSet<String>,
}

impl Controlled {
    /// From the book as it stands and every certificate there ever was.
    fn of(book: &Book, all: &Certificates) -> Controlled {
        let mut marked = Controlled::default();
        let parts = book.parts.iter().map(|p| &p.document).filter(|p| p.controlled.is_some());
        marked.parts.extend(parts.map(|p| p.part.clone()));
        let orders = book.orders.iter().map(|o| &o.document).filter(|o| o.controlled.is_some());
        marked.orders.extend(orders.map(|o| o.order.clone()));
        for certificate in all.values().flatten() {
            let whole = certificate.controlled.is_some();
            for lot in certificate.lots.iter().filter(|lot| whole || lot.controlled.is_some()) {
                marked.lots.insert(lot.lot.clone());
                marked.parts.insert(lot.part.clone());
            }
        }
        marked
    }

    fn covers(&self, certificate: &Certificate) -> bool {
        certificate.controlled.is_some()
            || certificate.lots.iter().any(|lot| {
                lot.controlled.is_some() || self.lots.contains(&lot.lot) || self.parts.contains(&lot.part)
            })
            || certificate.shipment.lines.iter().any(|line| {
                self.orders.contains(&line.order)
                    || self.lots.contains(&line.lot)
                    || self.parts.contains(&line.part)
            })
    }
}

/// Writes an export into a new folder. `only`: these certificates; empty: all.
///
/// # Errors
/// When the folder is there already, a certificate is not known, or the book does not say what is controlled because
/// a part or an order cannot be read.
pub fn export(book: &Book, register: &Register, only: &[String], out: &Path) -> Result<Exported, Error> {
    if std::fs::read_dir(out).is_ok_and(|mut there| there.next().is_some()) {
        return Err(Error::cannot(
            format!("{} is not empty", out.display()),
            "choose a new folder: what an earlier export left there might be handed out with it",
        ));
    }
    let (all, marked) = known(book, register, only)?;
    let (size, head) = proofs::published(&book.folder, register)?;
    let mut to = Writer { out, sums: BTreeMap::new() };
    to.put("README.md", README.as_bytes())?;
    to.put("checkpoint", head.as_bytes())?;
    let root = folder::read(&book.folder.path(files::ROOT))?;
    to.put("keys/root.pem", &root)?;
    let older: String = keys::root_handovers(register)?.into_iter().map(|one| one.old_pem).collect();
    if !older.is_empty() {
        to.put("keys/older-roots.pem", older.as_bytes())?;
    }
    let key = book.folder.text(files::CHECKPOINT)?;
    to.put("keys/register.txt", key.as_bytes())?;
    to.put("keys/register.pem", VerifyKey::parse(key.trim())?.to_pem()?.as_bytes())?;
    let handovers = keys::handovers(register)?;
    if !handovers.is_empty() {
        to.put("keys/handovers.txt", handovers.as_bytes())?;
    }
    let witnesses: String = book.shop.witnesses.iter().map(|w| format!("{}\n", w.key.trim())).collect();
    if !witnesses.is_empty() {
        to.put("keys/witnesses.txt", witnesses.as_bytes())?;
    }
    for (index, leaf) in register.leaves(0, size)?.iter().enumerate() {
        to.put(&format!("entries/{index:06}.json"), leaf)?;
    }
    let mut done = Exported { size, whole: Vec::new(), withheld: BTreeMap::new() };
    for (number, certificate) in &all {
        if !only.is_empty() && !only.contains(number) {
            continue;
        }
        let Some(stored) = register.certificate(number)? else { continue };
        match why_withheld(&stored, certificate.as_ref(), &marked) {
            Some(why) => drop(done.withheld.insert(number.clone(), why.to_owned())),
            None => {
                to.put(&format!("certificates/{number}.pdf"), &stored.pdf)?;
                to.put(&format!("certificates/{number}.json"), &stored.data)?;
                let proof = proofs::of(register, number, (size, head.clone()))?.to_text();
                to.put(&format!("certificates/{number}.{}", proofs::ENDING), proof.as_bytes())?;
                done.whole.push(number.clone());
            }
        }
    }
    let mut withheld = String::new();
    for (number, why) in &done.withheld {
        let _ = writeln!(withheld, "{number}: {why}");
    }
    to.put("withheld.txt", withheld.as_bytes())?;
    to.finish()?;
    Ok(done)
}

/// Every certificate, and the marks that keep some of them in the shop; `wanted` must be among them.
fn known(book: &Book, register: &Register, wanted: &[String]) -> Result<(Certificates, Controlled), Error> {
    if let Some(fault) = book.faults.first() {
        return Err(Error::cannot(
            format!("what is controlled cannot be told: {fault}"),
            "mend the document, so that nothing controlled is handed out by mistake",
        ));
    }
    let all = certificates(register)?;
    if let Some(unknown) = wanted.iter().find(|number| !all.contains_key(*number)) {
        return Err(Error::cannot(
            format!("the register has no certificate {unknown}"),
            "see `brightproof find`",
        ));
    }
    let marked = Controlled::of(book, &all);
    Ok((all, marked))
}

/// One certificate and its data, by the rule of an export: nothing controlled, nothing older than the register.
///
/// # Errors
/// When it is not handed out, saying why; when it is not known; and as [`export`] where the book cannot be read.
pub fn handed_out(
    book: &Book,
    register: &Register,
    number: &str,
) -> Result<(StoredCertificate, Certificate), Error> {
    let number = number.to_owned();
    let (mut all, marked) = known(book, register, std::slice::from_ref(&number))?;
    let certificate = all.remove(&number).flatten();
    let unknown =
        || Error::cannot(format!("the register has no certificate {number}"), "see `brightproof find`");
    let stored = register.certificate(&number)?.ok_or_else(unknown)?;
    match (why_withheld(&stored, certificate.as_ref(), &marked), certificate) {
        (None, Some(certificate)) => Ok((stored, certificate)),
        (why, _) => Err(Error::cannot(
            format!("{number} is not handed out: {}", why.unwrap_or("its data are of another release")),
            "`brightproof register export` leaves it out by the same rule",
        )),
    }
}

/// Every certificate the register ever had; those whose data this release cannot read without them.
fn certificates(register: &Register) -> Result<Certificates, Error> {
    let mut all = BTreeMap::new();
    for kind in [Kind::Issue, Kind::Amendment, Kind::Legacy] {
        for number in register.of_kind(kind)?.into_iter().filter_map(|entry| entry.number) {
            let data = register.certificate(&number)?.map(|stored| stored.data).unwrap_or_default();
            all.insert(number, serde_json::from_slice(&data).ok());
        }
    }
    Ok(all)
}

fn why_withheld(
    stored: &StoredCertificate,
    certificate: Option<&Certificate>,
    marked: &Controlled,
) -> Option<&'static str> {
    if stored.legacy {
        return Some("registered as received, not judged; nobody said what it holds");
    }
    match certificate {
        None => Some("its data are of another release"),
        Some(certificate) if marked.covers(certificate) => Some("controlled"),
        Some(_) => None,
    }
}

/// Writes files and keeps their digests.
struct Writer<'a> {
    out: &'a Path,
    sums: BTreeMap<String, String>,
}

impl Writer<'_> {
    fn put(&mut self, name: &str, bytes: &[u8]) -> Result<(), Error> {
        folder::write_new(&self.out.join(name), bytes, false)?;
        self.sums.insert(name.to_owned(), canonical::stamp(bytes));
        Ok(())
    }

    fn finish(self) -> Result<(), Error> {
        let sums: String = self.sums.iter().map(|(name, sum)| format!("{sum}  {name}\n")).collect();
        Ok(folder::write_new(&self.out.join("SHA256SUMS"), sums.as_bytes(), false)?)
    }
}
