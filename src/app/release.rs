//! Releasing in two steps: one person prepares, one who may releases what was prepared, unchanged.
//!
//! The shop's policy says whether the two may be one, and whether the releaser's own passphrase is asked. It holds for
//! every way a certificate comes about: issue, release and amendment.

pub mod auth;
pub mod queue;

use std::collections::BTreeMap;
use std::path::Path;

use rayon::prelude::*;

use crate::app::book::Book;
use crate::app::desk::Desk;
use crate::app::desk::adoptions_as_registered;
use crate::app::desk::open_register;
use crate::app::desk::read_signer;
use crate::app::error::Error;
use crate::app::issue;
use crate::app::issue::Outcome;
use crate::app::issue::Prepared;
use crate::app::issue::Shipment;
use crate::app::issue::Signing;
use crate::app::world::World;
use crate::certificate::How;
use crate::checkpoint::SigningKey;
use crate::folder::Folder;
use crate::register::Register;
use crate::shop::Authentication;
use crate::shop::Person;
use crate::shop::ReleasePolicy;

pub use auth::Authenticated;
use queue::Waiting;

/// What preparing needs: the book and the register, no seal key.
pub struct Office {
    /// The book.
    pub book: Book,
    /// The register.
    pub register: Register,
    /// The register's key.
    pub signer: SigningKey,
}

impl Office {
    /// Opens a shop folder.
    ///
    /// # Errors
    /// When book or register cannot be read, or an adoption is not the one registered.
    pub fn open(folder: Folder) -> Result<Office, Error> {
        let book = Book::open(folder)?;
        let (register, signer) = (open_register(&book.folder)?, read_signer(&book.folder)?);
        adoptions_as_registered(&book, &register)?;
        Ok(Office { book, register, signer })
    }
}

fn policy(book: &Book) -> ReleasePolicy {
    let in_one_step = ReleasePolicy { preparer_may_release: true, authentication: Authentication::KeyHolder };
    book.shop.release.unwrap_or(in_one_step)
}

/// Whether own passphrases are asked.
pub fn asks_passphrase(book: &Book) -> bool {
    policy(book).authentication == Authentication::Passphrase
}

/// Whether whoever prepares must give a passphrase too: where two people are needed, a name typed in is none.
pub fn preparer_asks_passphrase(book: &Book) -> bool {
    asks_passphrase(book) && !policy(book).preparer_may_release
}

/// Whether certificates may be issued in one step by whoever holds the seal key.
///
/// # Errors
/// When the shop's policy asks for more.
pub fn direct(book: &Book) -> Result<(), Error> {
    let asked = match (asks_passphrase(book), policy(book).preparer_may_release) {
        (false, true) => return Ok(()),
        (true, true) => "the releaser's own passphrase",
        (true, false) => "two people, each with a passphrase of their own,",
        (false, false) => "two people",
    };
    Err(Error::cannot(
        format!("shop.yaml asks for {asked} to release a shipment"),
        "`brightproof prepare` it, and `brightproof release` it",
    ))
}

/// A person of the book.
pub(in crate::app) fn known<'a>(book: &'a Book, name: &str) -> Result<&'a Person, Error> {
    book.people.people.iter().find(|p| p.name == name).ok_or_else(|| {
        Error::cannot(format!("people.yaml knows no {name}"), "write the name as it stands there, or add it")
    })
}

/// The function of whoever prepares, if the policy lets the person.
pub(in crate::app) fn may_prepare(book: &Book, by: &Authenticated) -> Result<String, Error> {
    let person = known(book, by.person())?;
    if preparer_asks_passphrase(book) && by.how() != How::Passphrase {
        return Err(Error::cannot(
            format!("shop.yaml asks for the preparer's own passphrase, and {} gave none", person.name),
            "give --person-passphrase-file, or sit down at the keyboard",
        ));
    }
    Ok(person.function.clone())
}

/// Whether a releaser, known so, may release what was prepared so.
fn may_release(book: &Book, by: &Authenticated, prepared: Option<&Prepared>) -> Result<(), Error> {
    let who = by.person();
    if asks_passphrase(book) && by.how() != How::Passphrase {
        return Err(Error::cannot(
            format!("shop.yaml asks for the releaser's own passphrase, and {who} gave none"),
            "give --person-passphrase-file, or sit down at the keyboard",
        ));
    }
    if policy(book).preparer_may_release {
        return Ok(());
    }
    match prepared {
        None => Err(Error::cannot(
            "shop.yaml asks for two people to release a shipment",
            "say who prepared it: `brightproof prepare`, or --prepared-by for an amendment",
        )),
        Some(hand) if hand.person == who => Err(Error::cannot(
            format!("{who} prepared it, and may not release it too"),
            "shop.yaml says so: `preparer_may_release: false`; let somebody else release it",
        )),
        Some(hand) if asks_passphrase(book) && hand.how != How::Passphrase => Err(Error::cannot(
            format!("{} prepared it and gave no passphrase", hand.person),
            "prepare it again: shop.yaml asks for the passphrases of both",
        )),
        Some(_) => Ok(()),
    }
}

/// Why a preparation is good for nothing any more.
pub(in crate::app) fn used_up(shipment: &str, number: &str) -> Error {
    Error::cannot(
        format!("{shipment} was certified by {number} since it was prepared, which no longer stands"),
        "look at the shipment, and prepare it again",
    )
}

/// Who releases, entitled to and known as the policy asks, and who prepared; for a certificate made in one go.
pub(in crate::app) struct Hands {
    person: Person,
    how: How,
    prepared: Option<Prepared>,
}

impl Hands {
    /// The signing of one shipment.
    pub(in crate::app) fn sign(&self, shipment: &str) -> Signing {
        let prepared = self.prepared.iter().map(|hand| (shipment.to_owned(), hand.clone())).collect();
        Signing { person: self.person.clone(), how: self.how, prepared }
    }
}

/// The hands of an amendment.
pub(in crate::app) fn hands(
    book: &Book,
    by: &Authenticated,
    prepared: Option<&Authenticated>,
    world: &World,
) -> Result<Hands, Error> {
    let person = issue::releaser(book, by.person(), world)?.clone();
    let prepared = prepared
        .map(|hand| {
            Ok::<_, Error>(Prepared {
                function: may_prepare(book, hand)?,
                person: hand.person().to_owned(),
                how: hand.how(),
                at: world.printed(),
                entry: None,
            })
        })
        .transpose()?;
    may_release(book, by, prepared.as_ref())?;
    Ok(Hands { person, how: by.how(), prepared })
}

/// A prepared shipment, judged again and found as it was.
pub struct Reviewed {
    /// What waits.
    pub waiting: Waiting,
    /// The shipment.
    pub shipment: Shipment,
}

/// One of the shipments asked for: its name, and what came of looking at it.
pub type Look = (String, Result<Reviewed, Outcome>);

/// Whether a name asks for a shipment: its whole name, or its lot or slip alone.
fn asks(name: &str, shipment: &str) -> bool {
    let bare = shipment.split_once(' ').map_or(shipment, |(_, bare)| bare);
    let slip = bare.split_once(" line ").map_or(bare, |(slip, _)| slip);
    [shipment, bare, slip].contains(&name)
}

/// Looks at prepared shipments by name, all when none is named: each is judged again and must be what was prepared.
///
/// # Errors
/// When the queue cannot be read, or a name fits nothing in it.
pub fn review(desk: &Desk, names: &[String], world: &World) -> Result<Vec<Look>, Error> {
    let mut chosen: Vec<(String, Result<Waiting, Error>)> = Vec::new();
    let mut fitted: Vec<&String> = Vec::new();
    for file in desk.book.folder.files(queue::FOLDER, ".json")? {
        let waiting = queue::read(&desk.book.folder, &desk.register, file.clone());
        let key = match &waiting {
            Ok(waiting) => waiting.queued.shipment.clone(),
            // What a spoilt file was for is known by its name alone.
            Err(_) => file.clone(),
        };
        let all_fit = |name: &&String| asks(name, &key) || queue::file(name) == file || is_file(name, &file);
        let mut fits = names.iter().filter(all_fit).peekable();
        if names.is_empty() || fits.peek().is_some() {
            fitted.extend(fits);
            chosen.push((key, waiting));
        }
    }
    if let Some(name) = names.iter().find(|name| !fitted.contains(name)) {
        return Err(Error::cannot(
            format!("nothing called {name} waits for release"),
            "`brightproof queue` lists what does; `brightproof prepare` adds to it",
        ));
    }
    let book = &desk.book;
    Ok(chosen
        .into_par_iter()
        .map(|(key, waiting)| {
            let look = waiting.map_err(Outcome::Failed).and_then(|waiting| as_prepared(book, waiting, world));
            (key, look)
        })
        .collect())
}

/// Whether a lot or slip alone names a file.
fn is_file(name: &str, file: &str) -> bool {
    ["lot", "slip"].iter().any(|kind| queue::file(&format!("{kind} {name}")) == file)
}

fn as_prepared(book: &Book, waiting: Waiting, world: &World) -> Result<Reviewed, Outcome> {
    let queued = &waiting.queued;
    let Some(target) = issue::target_of(&queued.shipment) else {
        let what = format!("{} names no shipment", waiting.file);
        return Err(Outcome::Failed(Error::cannot(what, "prepare it again")));
    };
    let shipment = issue::judge_target(book, &target, world).map_err(Outcome::Failed)?;
    if !shipment.conforms() {
        return Err(Outcome::Held(Box::new(shipment)));
    }
    let now = shipment.input_digest();
    if now != queued.input || shipment.key != queued.shipment {
        return Err(Outcome::Failed(Error::cannot(
            format!(
                "{} is not what {} prepared at {}: its facts were {} and are {now}",
                queued.shipment, queued.prepared_by, queued.at, queued.input
            ),
            "somebody changed record, order, part or book since: look at it, and prepare it again",
        )));
    }
    Ok(Reviewed { waiting, shipment })
}

/// Issues for what was looked at; one outcome each, in their order. What was released leaves the queue.
///
/// # Errors
/// When the person is not entitled to release, or the register cannot be written.
pub fn release(
    desk: &mut Desk,
    looks: Vec<Look>,
    by: &Authenticated,
    out: Option<&Path>,
    world: &World,
) -> Result<Vec<Outcome>, Error> {
    let person = issue::releaser(&desk.book, by.person(), world)?.clone();
    let mut outcomes: BTreeMap<usize, Outcome> = BTreeMap::new();
    let mut judged: Vec<Result<Shipment, Error>> = Vec::new();
    let mut places: Vec<(usize, String)> = Vec::new();
    let mut prepared = BTreeMap::new();
    for (place, (_, look)) in looks.into_iter().enumerate() {
        let reviewed = match look {
            Ok(reviewed) => reviewed,
            Err(outcome) => {
                outcomes.insert(place, outcome);
                continue;
            }
        };
        let hand = reviewed.waiting.prepared;
        match may_release(&desk.book, by, Some(&hand)) {
            Err(error) => drop(outcomes.insert(place, Outcome::Failed(error))),
            Ok(()) => {
                prepared.insert(reviewed.shipment.key.clone(), hand);
                judged.push(Ok(reviewed.shipment));
                places.push((place, reviewed.waiting.file));
            }
        }
    }
    let signing = Signing { person, how: by.how(), prepared };
    let issued = issue::issue_judged(desk, judged, &signing, out, world)?;
    for ((place, file), outcome) in places.into_iter().zip(issued) {
        if matches!(outcome, Outcome::Issued { .. } | Outcome::Again { .. } | Outcome::Unwritten { .. }) {
            // The register has it; a file that stays is noticed as used up.
            let _ = std::fs::remove_file(desk.book.folder.path(&file));
        }
        outcomes.insert(place, outcome);
    }
    Ok(outcomes.into_values().collect())
}
