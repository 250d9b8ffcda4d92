//! Judging and issuing: the lots of a shipment in, a sealed and registered certificate or the gaps out.
//!
//! A batch is judged on all cores; then, inside one transaction of the register, numbers are taken, every
//! certificate is drawn and sealed on all cores over one shared head, and all are committed at once. Files are
//! written after the commit and can be written again from the register.

mod batch;
mod draw;
mod netting;
mod permitted;
mod prepare;
mod shipment;
mod signing;

use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::path::Path;
use std::path::PathBuf;

use rayon::prelude::*;
use serde_json::json;

use crate::app::addressees::Addressees;
use crate::app::book::Book;
use crate::app::desk::Desk;
use crate::app::desk::sign_head;
use crate::app::error::Error;
use crate::app::evidence;
use crate::app::holders;
use crate::app::holders::Holders;
use crate::app::journal;
use crate::app::keys::Keys;
use crate::app::proofs;
use crate::app::release;
use crate::app::world::World;
use crate::certificate::AmendmentKind;
use crate::certificate::Certificate;
use crate::certificate::RegisterHead;
use crate::certificate::Replaces;
use crate::folder;
use crate::moment::Moment;
use crate::register::Kind;
use crate::register::NewCertificate;
use crate::register::NewEntry;
use crate::register::RegisterError;
use crate::shop::People;
use crate::shop::Person;

use batch::Batch;
use batch::Salts;
pub(in crate::app) use batch::withheld_name;
use netting::Held;

pub use draw::draw;
pub use draw::pieces;
pub use draw::seal_field;
pub use prepare::Came;
pub use prepare::prepare;
pub use shipment::Judged;
pub use shipment::Shipment;
pub use shipment::Target;
pub use shipment::expand;
pub use shipment::judge_lot;
pub use shipment::judge_target;
pub use shipment::target_of;
pub use signing::Prepared;
pub use signing::Signing;

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
    /// A certificate that is in the register, whose file could not be written: issuing again writes it.
    Unwritten {
        /// Its number.
        number: String,
        /// Why its file could not be written.
        error: Error,
    },
    /// It could not be done.
    Failed(Error),
}

impl Outcome {
    /// Whether a new certificate is in the register.
    pub fn is_new(&self) -> bool {
        matches!(self, Outcome::Issued { .. } | Outcome::Unwritten { .. })
    }
}

/// The person who releases, if entitled to on the day.
pub fn releaser<'a>(book: &'a Book, name: &str, world: &World) -> Result<&'a Person, Error> {
    entitled(&book.people, name, world)
}

/// The same, of the people alone.
pub fn entitled<'a>(people: &'a People, name: &str, world: &World) -> Result<&'a Person, Error> {
    let today = world.today();
    let entitled = |p: &Person| {
        p.may_release_from.is_some_and(|from| from <= today)
            && p.may_release_until.is_none_or(|until| today <= until)
    };
    let all = &people.people;
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

/// That the person may release this purchaser's shipments.
fn may_release(person: &Person, shipment: &Shipment) -> Result<(), Error> {
    let purchaser = &shipment.purchaser;
    if person.may_release.as_ref().is_none_or(|scope| scope.covers(&purchaser.id)) {
        return Ok(());
    }
    Err(Error::cannot(
        format!("{} may not release shipments for {}", person.name, purchaser.name),
        "people.yaml says for whom: `may_release`; name another with --by",
    ))
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

/// A record dated after the clock is a typing error or a wrong clock; neither may be certified.
fn not_from_the_future(shipment: &Shipment, world: &World) -> Result<(), Error> {
    let now = Moment::from_clock(world.now());
    for lot in &shipment.lots {
        let whole = crate::judge::whole(&lot.case.dossier);
        let record = &whole.record;
        let steps = record.runs.iter().flat_map(|r| &r.steps).filter_map(crate::record::Step::end);
        let tests = record.tests.iter().map(crate::record::Test::end);
        let corrected = record.corrections.iter().chain(&lot.case.dossier.corrections).map(|c| c.when);
        let looks = record.visual.iter().map(|v| v.at).chain(record.measurements.iter().map(|m| m.at));
        permitted::given_by(&lot.case.dossier, &lot.findings, now.date())?;
        if let Some(late) = steps.chain(tests).chain(looks).chain(corrected).find(|at| *at > now) {
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
    release::direct(&desk.book)?;
    let signing = Signing::alone(releaser(&desk.book, by, world)?);
    let book = &desk.book;
    let judged: Vec<Result<Shipment, Error>> = targets
        .par_iter()
        .map(|target| {
            let shipment = judge_target(book, target, world);
            done();
            shipment
        })
        .collect();
    issue_judged(desk, judged, &signing, out, world)
}

/// What every shipment must be before a certificate of it is made, whoever prepared it.
fn fit(person: &Person, shipment: &Shipment, world: &World) -> Result<(), Error> {
    not_from_the_future(shipment, world)?;
    may_release(person, shipment)?;
    shipment.journals()?;
    Ok(())
}

/// Issues for shipments judged already; one outcome a shipment, in their order.
pub(super) fn issue_judged(
    desk: &mut Desk,
    judged: Vec<Result<Shipment, Error>>,
    signing: &Signing,
    out: Option<&Path>,
    world: &World,
) -> Result<Vec<Outcome>, Error> {
    let mut outcomes: BTreeMap<usize, Outcome> = BTreeMap::new();
    let mut ready: Vec<(usize, Shipment)> = Vec::new();
    for (position, shipment) in judged.into_iter().enumerate() {
        match shipment {
            Err(error) => drop(outcomes.insert(position, Outcome::Failed(error))),
            Ok(shipment) if !shipment.conforms() => {
                drop(outcomes.insert(position, Outcome::Held(Box::new(shipment))))
            }
            // Kept before anything is issued: what a certificate rests on is there as long as the certificate.
            Ok(shipment) => match fit(&signing.person, &shipment, world)
                .and_then(|()| evidence::keep(&desk.book.folder, &shipment.evidence()))
            {
                Ok(()) => ready.push((position, shipment)),
                Err(error) => drop(outcomes.insert(position, Outcome::Failed(error))),
            },
        }
    }
    let files =
        if ready.is_empty() { Vec::new() } else { commit(desk, ready, signing, world, &mut outcomes)? };
    for (position, number, new) in files {
        let outcome = match write_out(desk, &number, out) {
            Ok(file) if new => Outcome::Issued { number, file },
            Ok(file) => Outcome::Again { number, file },
            Err(error) => Outcome::Unwritten { number, error },
        };
        outcomes.insert(position, outcome);
    }
    Ok(outcomes.into_values().collect())
}

/// Writes a registered certificate's file, and beside it the papers it goes with and the proof of its entry.
pub fn write_out(desk: &Desk, number: &str, out: Option<&Path>) -> Result<PathBuf, Error> {
    let stored = desk.register.certificate(number)?.ok_or_else(|| {
        Error::cannot(format!("the register has no certificate {number}"), "see `brightproof find`")
    })?;
    let path = desk.certificate_path(out, number);
    folder::write_whole(&path, &stored.pdf)?;
    evidence::beside(&desk.book.folder, &stored, &path)?;
    proofs::beside(&desk.book.folder, &desk.register, number, &path)?;
    Ok(path)
}

/// Draws, seals and registers what may be; answers position, number and whether it is new.
fn commit(
    desk: &mut Desk,
    ready: Vec<(usize, Shipment)>,
    signing: &Signing,
    world: &World,
    outcomes: &mut BTreeMap<usize, Outcome>,
) -> Result<Vec<(usize, String, bool)>, Error> {
    let Desk { book, register, seal, signer, renderer } = desk;
    let mut tx = register.begin_since(&world.utc(), &|| world.utc_by_now())?;
    Keys::under(&tx)?.allow(&seal.seal_fingerprint()?, &signer.verify_key())?;
    let mut files = Vec::new();
    let mut admitted: Vec<(usize, Shipment)> = Vec::new();
    let mut held = Held::default();
    let mut keys: BTreeSet<String> = BTreeSet::new();
    let mut under = permitted::Held::default();
    for (position, shipment) in ready {
        let admitted_or_not = admit(&tx, &shipment, &mut held, &mut keys, &mut under)
            .and_then(|there| unused(&tx, &shipment, signing, there));
        match admitted_or_not {
            Ok(None) => admitted.push((position, shipment)),
            Ok(Some(number)) => files.push((position, number, false)),
            Err(error) => drop(outcomes.insert(position, Outcome::Failed(error))),
        }
    }
    if admitted.is_empty() {
        // Nothing new, but a head that could not be kept the last time is kept now.
        kept(tx.commit(&sign_head(signer)))?;
        return Ok(files);
    }
    let batch = Batch {
        head: signed_head(&tx.head()?, signer)?,
        desk: book,
        renderer,
        seal,
        world,
        signing,
        fingerprint: seal.root_fingerprint()?,
        reserve: seal.reserve()?,
    };
    let year = u16::try_from(world.today().year()).unwrap_or(0);
    let numbers = tx.next_numbers(&book.shop.number_prefix, year, admitted.len() as u64)?;
    let salts = admitted.iter().map(|(_, s)| Salts::draw(s, world)).collect::<Result<Vec<_>, _>>()?;
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
                let journals = shipment.journals()?;
                let mut detail = json!({ "by": signing.person.name, "shipment": shipment.key, "purchaser": shipment.purchaser.name, journal::DETAIL: journals });
                signing.enter(&shipment.key, &mut detail);
                let entry = NewEntry {
                    kind: Kind::Issue,
                    number: Some(number.clone()),
                    replaces: None,
                    detail: shipment.with_evidence(detail, world.today()),
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
    held: &mut Held,
    keys: &mut BTreeSet<String>,
    under: &mut permitted::Held,
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
        if let Some(number) = tx.legacy_of(name)? {
            return Err(RegisterError::LotElsewhere { lot: name.clone(), number }.into());
        }
    }
    // Counted into the batch only when nothing refuses it.
    let mut counted = held.clone();
    netting::admit(tx, shipment, &mut counted)?;
    permitted::admit(tx, shipment, None, under)?;
    *held = counted;
    Ok(None)
}

/// A preparation is good for one certificate: what was issued and withdrawn since is prepared anew.
fn unused(
    tx: &crate::register::Transaction,
    shipment: &Shipment,
    signing: &Signing,
    there: Option<String>,
) -> Result<Option<String>, Error> {
    let entry = signing.prepared.get(&shipment.key).and_then(|prepared| prepared.entry);
    if let (None, Some(entry), Some((number, position))) = (&there, entry, tx.latest_of(&shipment.key)?)
        && position > entry
    {
        return Err(release::used_up(&shipment.key, &number));
    }
    Ok(there)
}

/// What an amendment replaces.
pub struct Replacing<'a> {
    /// As the new certificate names it; its marks are worked out when the rows are there.
    pub replaces: Replaces,
    /// The old certificate's data, as issued.
    pub old: &'a Certificate,
}

/// Issues an amendment: the same shipment judged anew, a new number, the old one named. Answers the number, and who
/// holds the old one.
pub fn amend(
    desk: &mut Desk,
    shipment: &Shipment,
    replacing: Replacing<'_>,
    signing: &Signing,
    world: &World,
) -> Result<(String, Holders), Error> {
    let replaces = &replacing.replaces;
    may_release(&signing.person, shipment)?;
    evidence::keep(&desk.book.folder, &shipment.evidence())?;
    let Desk { book, register, seal, signer, renderer } = desk;
    let mut tx = register.begin_since(&world.utc(), &|| world.utc_by_now())?;
    Keys::under(&tx)?.allow(&seal.seal_fingerprint()?, &signer.verify_key())?;
    permitted::admit(&tx, shipment, Some(&replaces.number), &mut permitted::Held::default())?;
    netting::admit_instead(&tx, shipment, &replaces.number)?;
    // Asked under the lock: whoever was sent the old one a moment ago is among them.
    let told = holders::holders(&tx, &Addressees::of(book), &replaces.number)?;
    let notify = match replaces.kind {
        AmendmentKind::Conformity => holders::detail(&told)?,
        AmendmentKind::Clerical => json!([]),
    };
    let batch = Batch {
        head: signed_head(&tx.head()?, signer)?,
        desk: book,
        renderer,
        seal,
        world,
        signing,
        fingerprint: seal.root_fingerprint()?,
        reserve: seal.reserve()?,
    };
    let year = u16::try_from(world.today().year()).unwrap_or(0);
    let number = tx.next_number(&book.shop.number_prefix, year)?;
    let new = batch.make(shipment, &number, &Salts::draw(shipment, world)?, Some(&replacing))?;
    let mut detail = json!({
        "by": signing.person.name, "reason": replaces.reason, "kind": replaces.kind, "changed": replaces.changed,
        journal::DETAIL: shipment.journals()?,
        "notify": notify,
    });
    signing.enter(&shipment.key, &mut detail);
    let entry = NewEntry {
        kind: Kind::Amendment,
        number: Some(number.clone()),
        replaces: Some(replaces.number.clone()),
        detail: shipment.with_evidence(detail, world.today()),
        salt: world.salt()?,
    };
    tx.append(entry, Some(new))?;
    kept(tx.commit(&sign_head(signer)))?;
    Ok((number, told))
}
