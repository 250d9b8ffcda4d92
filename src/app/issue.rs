//! Judging and issuing: the lots of a shipment in, a sealed and registered certificate or the gaps out.
//!
//! A batch is judged on all cores; then, inside one transaction of the register, numbers are taken, every
//! certificate is drawn and sealed on all cores over one shared head, and all are committed at once. Files are
//! written after the commit and can be written again from the register.

use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::path::Path;
use std::path::PathBuf;

use rayon::prelude::*;
use serde_json::json;

use crate::app::book::Book;
use crate::app::desk::Desk;
use crate::app::desk::sign_head;
use crate::app::dossier::Case;
use crate::app::error::Error;
use crate::app::world::World;
use crate::canonical;
use crate::certificate;
use crate::certificate::Certificate;
use crate::certificate::Issuer;
use crate::certificate::JudgeVersion;
use crate::certificate::Party;
use crate::certificate::RegisterHead;
use crate::certificate::RendererIdentity;
use crate::certificate::Replaces;
use crate::certificate::Shipped;
use crate::certificate::ShippedLine;
use crate::certificate::Signature;
use crate::finding::Finding;
use crate::folder;
use crate::judge;
use crate::moment::Moment;
use crate::pdf::Paper;
use crate::pdf::Prepared;
use crate::pdf::Renderer;
use crate::pdf::SealField;
use crate::pdf::Sheet;
use crate::register::Facet;
use crate::register::Kind;
use crate::register::NewCertificate;
use crate::register::NewEntry;
use crate::register::RegisterError;
use crate::seal::SealKey;
use crate::shop::Person;
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
    purchaser: Purchaser,
    /// Its lots.
    pub lots: Vec<Judged>,
    /// Digest of what was judged.
    input: String,
    /// Which shipment it is.
    pub key: String,
}

/// What came of one target.
pub enum Outcome {
    /// A new certificate.
    Issued {
        /// Its number.
        number: String,
        /// Where its file was written.
        file: PathBuf,
    },
    /// The certificate there was, written again.
    Again {
        /// Its number.
        number: String,
        /// Where its file was written.
        file: PathBuf,
    },
    /// Gaps: nothing was issued.
    Held(Box<Shipment>),
    /// It could not be done.
    Failed(Error),
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
        .map(|lot| json!({ "dossier": lot.case.dossier, "findings": lot.findings, "quantity": lot.quantity }))
        .collect();
    let whole = json!({ "lots": judged, "slip": slip, "purchaser": purchaser, "judge": judge::JUDGE });
    let input = canonical::stamp(&canonical::canonical(&whole)?);
    Ok(Shipment { slip, purchaser, lots, input, key })
}

/// The person who releases, if entitled to on the day.
pub fn releaser<'a>(book: &'a Book, name: &str, world: &World) -> Result<&'a Person, Error> {
    let today = world.today();
    let entitled = |p: &Person| {
        p.may_release_from.is_some_and(|from| from <= today)
            && p.may_release_until.is_none_or(|until| today <= until)
    };
    let all = &book.people.people;
    match all.iter().find(|p| p.name == name) {
        Some(person) if entitled(person) => Ok(person),
        Some(_) => Err(Error::cannot(
            format!("{name} may not release shipments on {today}"),
            "people.yaml says who may: `may_release_from`, `may_release_until`",
        )),
        None => {
            let who: Vec<&str> = all.iter().filter(|p| entitled(p)).map(|p| p.name.as_str()).collect();
            Err(Error::cannot(
                format!("people.yaml knows no {name}"),
                &format!("may release today: {}", who.join(", ")),
            ))
        }
    }
}

/// The one person entitled to release, when the shop has just one.
pub fn sole_releaser(book: &Book, world: &World) -> Result<String, Error> {
    let entitled: Vec<&Person> =
        book.people.people.iter().filter(|p| releaser(book, &p.name, world).is_ok()).collect();
    match entitled.as_slice() {
        [one] => Ok(one.name.clone()),
        [] => {
            Err(Error::cannot("nobody may release shipments today", "set `may_release_from` in people.yaml"))
        }
        many => {
            let names: Vec<&str> = many.iter().map(|p| p.name.as_str()).collect();
            Err(Error::cannot(
                "several people may release shipments",
                &format!("say who: --by with one of {}", names.join(", ")),
            ))
        }
    }
}

/// How the data say the seal field: the verifier draws it again from the same words.
pub fn seal_field(certificate: &Certificate, reserve: usize) -> SealField<'_> {
    SealField {
        signer: &certificate.issuer.name,
        reason: "Certificate of conformity",
        location: &certificate.place,
        contact: &certificate.issuer.contact,
        reserve,
    }
}

/// Draws a certificate with room for its seal.
pub fn draw(
    renderer: &Renderer,
    certificate: &Certificate,
    data: &[u8],
    reserve: usize,
) -> Result<Prepared, Error> {
    let stamp = canonical::stamp(data);
    let paper = Paper::from_name(&certificate.renderer.paper).ok_or_else(|| {
        Error::cannot(format!("there is no paper `{}`", certificate.renderer.paper), "A4 or Letter")
    })?;
    let sheet = Sheet { data, stamp: &stamp, paper, seal: Some(seal_field(certificate, reserve)) };
    Ok(renderer.prepare(&sheet)?)
}

/// The two pieces of a prepared file that the seal covers: all but `<...>`.
pub fn pieces(bytes: &[u8], gap: &std::ops::Range<usize>) -> Option<[Vec<u8>; 2]> {
    let before = bytes.get(..gap.start.checked_sub(1)?)?;
    let after = bytes.get(gap.end.checked_add(1)?..)?;
    Some([before.to_vec(), after.to_vec()])
}

/// Seals a prepared file.
fn seal_it(key: &SealKey, prepared: Prepared) -> Result<Vec<u8>, Error> {
    let Prepared { mut bytes, gap } = prepared;
    let broken = || Error::cannot("the page has no room for the seal", "report this");
    let gap = gap.ok_or_else(broken)?;
    let [before, after] = pieces(&bytes, &gap).ok_or_else(broken)?;
    let der = key.sign([&before, &after])?;
    let digits = hex::encode(der);
    let room = bytes.get_mut(gap).ok_or_else(broken)?;
    if digits.len() > room.len() {
        return Err(broken());
    }
    for (place, digit) in room.iter_mut().zip(digits.bytes()) {
        *place = digit;
    }
    Ok(bytes)
}

/// What every certificate of one batch shares.
struct Batch<'a> {
    desk: &'a Book,
    renderer: &'a Renderer,
    seal: &'a SealKey,
    head: RegisterHead,
    world: &'a World<'a>,
    person: &'a Person,
    fingerprint: String,
    reserve: usize,
}

impl Batch<'_> {
    fn certificate(
        &self,
        shipment: &Shipment,
        number: &str,
        salt: &[u8; 32],
        replaces: Option<Replaces>,
    ) -> Certificate {
        let shop = &self.desk.shop;
        let today = self.world.today();
        let identity = self.renderer.identity();
        let lines = shipment.lots.iter().map(|lot| {
            let dossier = &lot.case.dossier;
            let record = &dossier.record;
            let whole = lot.quantity == record.counts.accepted;
            ShippedLine {
                order: record.order.number.clone(),
                line: record.order.line.clone(),
                part: dossier.part.part.clone(),
                revision: dossier.part.revision.clone(),
                description: dossier.part.description.clone(),
                lot: record.lot.clone(),
                purchaser_lot: record.purchaser_lot.clone(),
                quantity: lot.quantity,
                serials: if whole { record.serials.clone() } else { Vec::new() },
            }
        });
        let rule = shipment.lots.first().map(|l| l.case.dossier.order.decision_rule).unwrap_or_default();
        Certificate {
            format: certificate::FORMAT.to_owned(),
            number: number.to_owned(),
            issued: self.world.printed(),
            place: shop.place.clone(),
            salt: hex::encode(salt),
            issuer: Issuer {
                name: shop.name.clone(),
                address: shop.address.clone(),
                contact: shop.contact.clone(),
                approvals: shop.approvals.iter().filter(|a| a.until >= today).cloned().collect(),
                demo: shop.demo.clone(),
            },
            purchaser: Party {
                name: shipment.purchaser.name.clone(),
                address: shipment.purchaser.address.clone(),
            },
            shipment: Shipped { slip: shipment.slip.clone(), lines: lines.collect() },
            conformity: certificate::conformity(&shop.name, shipment.lots.len()),
            replaces,
            decision_rule: rule.words().to_owned(),
            controlled: None,
            lots: shipment
                .lots
                .iter()
                .map(|l| certificate::certified_lot(l.case.dossier.clone(), l.findings.clone(), l.quantity))
                .collect(),
            not_covered: certificate::not_covered(),
            signatures: vec![Signature {
                person: self.person.name.clone(),
                function: self.person.function.clone(),
                meaning: "released for shipment".to_owned(),
                authenticated: "named at the keyboard by whoever holds the shop's seal key".to_owned(),
                at: self.world.printed(),
            }],
            judge: JudgeVersion { release: env!("CARGO_PKG_VERSION").to_owned(), judge: judge::JUDGE },
            renderer: RendererIdentity {
                release: env!("CARGO_PKG_VERSION").to_owned(),
                template: identity.template,
                template_sha256: identity.template_sha256,
                fonts_sha256: identity.fonts_sha256,
                paper: match shop.paper {
                    crate::shop::Paper::A4 => Paper::A4.name().to_owned(),
                    crate::shop::Paper::Letter => Paper::Letter.name().to_owned(),
                },
            },
            how_to_check: vec![
                format!("Get the shop's key fingerprint by another way than this file: {}.", shop.contact),
                format!("brightproof verify {number}.pdf --trust FINGERPRINT"),
            ],
            seal_fingerprint: self.fingerprint.clone(),
            register: self.head.clone(),
        }
    }

    /// Draws and seals one certificate.
    fn make(
        &self,
        shipment: &Shipment,
        number: &str,
        salt: &[u8; 32],
        replaces: Option<Replaces>,
    ) -> Result<NewCertificate, Error> {
        let certificate = self.certificate(shipment, number, salt, replaces);
        let data = certificate.canonical()?;
        let pdf = seal_it(self.seal, draw(self.renderer, &certificate, &data, self.reserve)?)?;
        Ok(NewCertificate {
            number: number.to_owned(),
            stamp: canonical::stamp(&data),
            pdf,
            input_digest: shipment.input.clone(),
            shipment_key: shipment.key.clone(),
            facets: facets(&certificate),
            pieces: shipment.lots.iter().map(|l| (l.case.dossier.record.lot.clone(), l.quantity)).collect(),
            accepted: shipment
                .lots
                .iter()
                .map(|l| (l.case.dossier.record.lot.clone(), l.case.dossier.record.counts.accepted))
                .collect(),
            signer: self.person.name.clone(),
            data,
        })
    }
}

/// What a certificate is found by.
fn facets(certificate: &Certificate) -> Vec<(Facet, String)> {
    let mut all: BTreeSet<(Facet, String)> = BTreeSet::new();
    all.insert((Facet::Purchaser, certificate.purchaser.name.clone()));
    all.insert((Facet::Date, certificate.issued.chars().take(10).collect()));
    all.extend(certificate.shipment.slip.iter().map(|s| (Facet::Slip, s.clone())));
    for line in &certificate.shipment.lines {
        all.insert((Facet::PurchaseOrder, line.order.clone()));
        all.insert((Facet::Lot, line.lot.clone()));
        all.insert((Facet::Part, line.part.clone()));
        all.extend(line.purchaser_lot.iter().map(|l| (Facet::PurchaserLot, l.clone())));
        all.extend(line.serials.iter().map(|s| (Facet::Serial, s.clone())));
    }
    for lot in &certificate.lots {
        all.extend(lot.material.heats.iter().map(|h| (Facet::Heat, h.heat.clone())));
    }
    all.into_iter().collect()
}

/// A record dated after the clock is a typing error or a wrong clock; neither may be certified.
fn not_from_the_future(shipment: &Shipment, world: &World) -> Result<(), Error> {
    let now = Moment::from_clock(world.now());
    for lot in &shipment.lots {
        let record = &lot.case.dossier.record;
        let steps = record.runs.iter().flat_map(|r| &r.steps).filter_map(crate::record::Step::end);
        let tests = record.tests.iter().map(|t| t.ended.unwrap_or(t.started));
        let looks = record.visual.iter().map(|v| v.at).chain(record.measurements.iter().map(|m| m.at));
        if let Some(late) = steps.chain(tests).chain(looks).find(|at| *at > now) {
            return Err(Error::cannot(
                format!("{}: something is dated {late}, the clock says {now}", lot.case.record.file),
                "correct the record, or the clock",
            ));
        }
    }
    Ok(())
}

/// Issues for many targets at once; one outcome a target, in their order. `done` is called as each is judged.
pub fn issue(
    desk: &mut Desk,
    targets: &[Target],
    by: &str,
    out: Option<&Path>,
    world: &World,
    done: &(dyn Fn() + Sync),
) -> Result<Vec<Outcome>, Error> {
    let person = releaser(&desk.book, by, world)?.clone();
    let book = &desk.book;
    let judged: Vec<Result<Shipment, Error>> = targets
        .par_iter()
        .map(|target| {
            let shipment = judge_target(book, target)
                .and_then(|s| if s.conforms() { not_from_the_future(&s, world).map(|()| s) } else { Ok(s) });
            done();
            shipment
        })
        .collect();

    let mut outcomes: BTreeMap<usize, Outcome> = BTreeMap::new();
    let mut ready: Vec<(usize, Shipment)> = Vec::new();
    for (position, shipment) in judged.into_iter().enumerate() {
        match shipment {
            Err(error) => drop(outcomes.insert(position, Outcome::Failed(error))),
            Ok(shipment) if !shipment.conforms() => {
                drop(outcomes.insert(position, Outcome::Held(Box::new(shipment))))
            }
            Ok(shipment) => ready.push((position, shipment)),
        }
    }
    let files =
        if ready.is_empty() { Vec::new() } else { commit(desk, ready, &person, world, &mut outcomes)? };
    for (position, number, new) in files {
        let outcome = write_out(desk, &number, out)
            .map(|file| if new { Outcome::Issued { number, file } } else { Outcome::Again { number, file } });
        outcomes.insert(position, outcome.unwrap_or_else(Outcome::Failed));
    }
    Ok(outcomes.into_values().collect())
}

/// Writes a registered certificate's file.
pub fn write_out(desk: &Desk, number: &str, out: Option<&Path>) -> Result<PathBuf, Error> {
    let stored = desk.register.certificate(number)?.ok_or_else(|| {
        Error::cannot(format!("the register has no certificate {number}"), "see `brightproof find`")
    })?;
    let path = desk.certificate_path(out, number);
    folder::write_whole(&path, &stored.pdf)?;
    Ok(path)
}

/// Draws, seals and registers what may be; answers position, number and whether it is new.
fn commit(
    desk: &mut Desk,
    ready: Vec<(usize, Shipment)>,
    person: &Person,
    world: &World,
    outcomes: &mut BTreeMap<usize, Outcome>,
) -> Result<Vec<(usize, String, bool)>, Error> {
    let Desk { book, register, seal, signer, renderer } = desk;
    let mut tx = register.begin(&world.utc())?;
    let mut files = Vec::new();
    let mut admitted: Vec<(usize, Shipment)> = Vec::new();
    let mut held: BTreeMap<String, u64> = BTreeMap::new();
    let mut keys: BTreeSet<String> = BTreeSet::new();
    for (position, shipment) in ready {
        match admit(&tx, &shipment, &mut held, &mut keys) {
            Ok(None) => admitted.push((position, shipment)),
            Ok(Some(number)) => files.push((position, number, false)),
            Err(error) => drop(outcomes.insert(position, Outcome::Failed(error))),
        }
    }
    if admitted.is_empty() {
        return Ok(files);
    }
    let batch = Batch {
        head: signed_head(&tx.head()?, signer)?,
        desk: book,
        renderer,
        seal,
        world,
        person,
        fingerprint: seal.root_fingerprint()?,
        reserve: seal.reserve()?,
    };
    let year = u16::try_from(world.today().year()).unwrap_or(0);
    let numbers = tx.next_numbers(&book.shop.number_prefix, year, admitted.len() as u64)?;
    let salts = admitted.iter().map(|_| world.salt()).collect::<Result<Vec<_>, _>>()?;
    let made: Vec<Result<NewCertificate, Error>> = admitted
        .par_iter()
        .zip(numbers.par_iter())
        .zip(salts.par_iter())
        .map(|(((_, shipment), number), salt)| batch.make(shipment, number, salt, None))
        .collect();
    // A page that cannot be drawn (a character no font has) drops out; those behind it take its number.
    let whole = made.iter().all(Result::is_ok);
    let mut turn = 0_usize;
    for (((position, shipment), salt), new) in admitted.iter().zip(&salts).zip(made) {
        let new = match new {
            Ok(new) if whole => Ok(new),
            Ok(_) => match numbers.get(turn) {
                Some(number) => batch.make(shipment, number, salt, None),
                None => Err(Error::cannot("the numbers ran out", "report this")),
            },
            Err(error) => Err(error),
        };
        match new {
            Err(error) => drop(outcomes.insert(*position, Outcome::Failed(error))),
            Ok(new) => {
                let number = new.number.clone();
                let entry = NewEntry {
                    kind: Kind::Issue,
                    number: Some(number.clone()),
                    replaces: None,
                    detail: json!({ "by": person.name, "shipment": shipment.key, "purchaser": shipment.purchaser.name }),
                    salt: world.salt()?,
                };
                tx.append(entry, Some(new))?;
                files.push((*position, number, true));
                turn += 1;
            }
        }
    }
    kept(tx.commit(&sign_head(signer)))?;
    Ok(files)
}

/// A commit that is in the register but whose head could not be kept outside stands; the next one keeps it.
pub fn kept<T>(committed: Result<T, RegisterError>) -> Result<(), Error> {
    match committed {
        Ok(_) | Err(RegisterError::HeadNotKept(_)) => Ok(()),
        Err(error) => Err(error.into()),
    }
}

/// The head certificates carry: signed by an earlier commit, or signed now.
pub fn signed_head(
    head: &crate::register::Head,
    signer: &crate::checkpoint::SigningKey,
) -> Result<RegisterHead, Error> {
    let checkpoint = match &head.checkpoint {
        Some(text) => text.clone(),
        None => crate::checkpoint::sign(signer, &head.origin, head.size, &head.root)?,
    };
    Ok(RegisterHead {
        origin: head.origin.clone(),
        size: head.size,
        root: hex::encode(head.root),
        checkpoint,
        key: signer.verify_key().to_string(),
    })
}

/// Whether a shipment may be certified: `Some` when it is already, from the same facts.
fn admit(
    tx: &crate::register::Transaction,
    shipment: &Shipment,
    held: &mut BTreeMap<String, u64>,
    keys: &mut BTreeSet<String>,
) -> Result<Option<String>, Error> {
    if let Some((number, input)) = tx.for_shipment(&shipment.key)? {
        if input == shipment.input {
            return Ok(Some(number));
        }
        return Err(Error::cannot(
            format!("{} is certified already by {number}, from other facts", shipment.key),
            &format!("`brightproof amend {number}` replaces it; `withdraw` takes it back"),
        ));
    }
    if !keys.insert(shipment.key.clone()) {
        return Err(Error::cannot(format!("{} is named twice", shipment.key), "name it once"));
    }
    for lot in &shipment.lots {
        let name = &lot.case.dossier.record.lot;
        let accepted = lot.case.dossier.record.counts.accepted;
        let before = tx.certified(name)?.saturating_add(held.get(name).copied().unwrap_or(0));
        if before.saturating_add(lot.quantity) > accepted {
            return Err(Error::cannot(
                format!(
                    "lot {name}: {} pieces cannot be certified: {accepted} were accepted, {before} are certified already",
                    lot.quantity
                ),
                &format!("`brightproof find {name}` lists the certificates that hold them"),
            ));
        }
    }
    for lot in &shipment.lots {
        let sum = held.entry(lot.case.dossier.record.lot.clone()).or_default();
        *sum = sum.saturating_add(lot.quantity);
    }
    Ok(None)
}

/// Issues an amendment: the same shipment judged anew, a new number, the old one named.
pub fn amend(
    desk: &mut Desk,
    shipment: &Shipment,
    replaces: Replaces,
    by: &str,
    world: &World,
) -> Result<String, Error> {
    let person = releaser(&desk.book, by, world)?.clone();
    let Desk { book, register, seal, signer, renderer } = desk;
    let mut tx = register.begin(&world.utc())?;
    let batch = Batch {
        head: signed_head(&tx.head()?, signer)?,
        desk: book,
        renderer,
        seal,
        world,
        person: &person,
        fingerprint: seal.root_fingerprint()?,
        reserve: seal.reserve()?,
    };
    let year = u16::try_from(world.today().year()).unwrap_or(0);
    let number = tx.next_number(&book.shop.number_prefix, year)?;
    let new = batch.make(shipment, &number, &world.salt()?, Some(replaces.clone()))?;
    let entry = NewEntry {
        kind: Kind::Amendment,
        number: Some(number.clone()),
        replaces: Some(replaces.number.clone()),
        detail: json!({
            "by": person.name, "reason": replaces.reason, "kind": replaces.kind, "changed": replaces.changed,
        }),
        salt: world.salt()?,
    };
    tx.append(entry, Some(new))?;
    kept(tx.commit(&sign_head(signer)))?;
    Ok(number)
}
