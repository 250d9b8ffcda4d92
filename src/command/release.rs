//! prepare, queue, release, people.

use std::io;
use std::io::IsTerminal;
use std::path::Path;

use zeroize::Zeroizing;

use super::Answer;
use super::Exit;
use super::Output;
use super::Stop;
use super::certificates;
use super::open_desk;
use super::passphrase;
use super::progress;
use crate::app::book::Book;
use crate::app::desk::Desk;
use crate::app::desk::open_register;
use crate::app::error::Error;
use crate::app::issue;
use crate::app::issue::Came;
use crate::app::issue::Outcome;
use crate::app::issue::Target;
use crate::app::release;
use crate::app::release::Authenticated;
use crate::app::release::Office;
use crate::app::release::auth;
use crate::app::release::auth::Old;
use crate::app::release::queue;
use crate::app::world::World;
use crate::checkpoint::SigningKey;
use crate::cli;
use crate::folder::Folder;
use crate::register::Register;
use crate::report;
use crate::report::json;
use crate::report::release::PersonReport;

/// A passphrase from a file's first line, else from a prompt.
fn secret(file: Option<&Path>, prompt: &str, option: &str) -> Result<Zeroizing<Vec<u8>>, Error> {
    if let Some(file) = file {
        return passphrase::of_file(file);
    }
    let hint = format!("give {option}");
    if !io::stdin().is_terminal() {
        return Err(Error::cannot(format!("{prompt}: nobody is there to ask"), &hint));
    }
    rpassword::prompt_password(format!("{prompt}: "))
        .map(|text| Zeroizing::new(text.into_bytes()))
        .map_err(|e| Error::cannot(format!("no passphrase: {e}"), &hint))
}

/// What checking a passphrase needs.
struct Door<'a> {
    folder: &'a Folder,
    register: &'a mut Register,
    signer: &'a SigningKey,
}

/// Who it is: by the own passphrase where one is asked or given, else as named.
fn who(
    door: Door,
    (person, asked): (&str, bool),
    (file, option): (Option<&Path>, &str),
    world: &World,
    output: &mut Output,
) -> Result<Authenticated, Stop> {
    if !asked && file.is_none() {
        return Ok(Authenticated::named(person));
    }
    // What was written so far is to be read before the answer is typed.
    output.out.flush().map_err(Stop::Output)?;
    let given = secret(file, &format!("Passphrase of {person}"), option)?;
    let known = auth::authenticate(door.folder, door.register, door.signer, (person, &given), world)?;
    if known.wrong_before() > 0 {
        output.note(format_args!(
            "warning: wrong tries of {person}'s passphrase before this one: {}",
            known.wrong_before()
        ))?;
    }
    Ok(known)
}

const OWN: &str = "--person-passphrase-file";

pub fn prepare(
    folder: Folder,
    args: &cli::Prepare,
    as_json: bool,
    world: &World,
    output: &mut Output,
) -> Answer {
    let mut office = Office::open(folder)?;
    for fault in &office.book.faults {
        output.error(fault)?;
    }
    let targets: Vec<Target> = if args.all {
        certificates::all_targets(&office.book)?
    } else {
        let lots = args.lots.iter().map(|l| Target::Lot(l.clone()));
        let all = lots.chain(args.slips.iter().map(|s| Target::Slip(s.clone()))).collect();
        issue::expand(&office.book, all)
    };
    if targets.is_empty() {
        return Err(Error::cannot("nothing to prepare", "name lots, give --slip, or --all").into());
    }
    let asked = release::preparer_asks_passphrase(&office.book);
    let Office { book, register, signer } = &mut office;
    let door = Door { folder: &book.folder, register, signer };
    let file = args.own.person_passphrase_file.as_deref();
    let by = who(door, (&args.by, asked), (file, OWN), world, output)?;
    let bar = progress(targets.len());
    let all = issue::prepare(&mut office, &targets, &by, world, &|| bar.inc(1))?;
    bar.finish_and_clear();
    came(&office.book, &targets, &all, as_json, output)
}

/// Tells what came of each target.
fn came(book: &Book, targets: &[Target], all: &[Came], as_json: bool, output: &mut Output) -> Answer {
    let mut exit = Exit::Good;
    let mut reports = Vec::new();
    for (target, one) in targets.iter().zip(all) {
        let name = target.to_string();
        match one {
            Came::Queued { queued, file } if as_json => {
                reports.push(json::prepared(&name, &queued.input, file))
            }
            Came::Queued { queued, file } => {
                output.say(format_args!("{}\n    {file}", report::release::waiting(queued)))?;
            }
            Came::Certified { number } if as_json => reports.push(json::certified(&name, number)),
            Came::Certified { number } => {
                output.say(format_args!("{name}: certified already by {number}, from the same facts"))?;
            }
            Came::Held(shipment) => {
                exit = exit.max(Exit::Gaps);
                reports.extend(certificates::held(book, &name, shipment, as_json, output)?);
            }
            Came::Failed(error) => {
                exit = Exit::CouldNot;
                match as_json {
                    true => reports.push(json::not_issued(&name, &error.to_string())),
                    false => output.note(format_args!("{name}: not prepared"))?,
                }
                output.error(error)?;
            }
        }
    }
    if as_json {
        output.json(&reports)?;
    }
    Ok(exit)
}

pub fn queue(folder: &Folder, as_json: bool, output: &mut Output) -> Answer {
    let register = open_register(folder)?;
    let all = queue::all(folder, &register)?;
    if as_json {
        output.json(&all.iter().map(report::release::queue).collect::<Vec<_>>())?;
    } else if all.is_empty() {
        output.say("nothing waits for release")?;
    }
    let mut exit = Exit::Good;
    for one in &all {
        match one {
            Ok(one) if !as_json => output.say(report::release::waiting(&one.queued))?,
            Ok(_) => {}
            Err(error) => {
                exit = Exit::Gaps;
                output.error(error)?;
            }
        }
    }
    Ok(exit)
}

pub fn release(
    folder: Folder,
    args: &cli::Release,
    as_json: bool,
    world: &World,
    output: &mut Output,
) -> Answer {
    let mut desk = open_desk(folder, &args.key)?;
    for fault in &desk.book.faults {
        output.error(fault)?;
    }
    // Whoever may not release need not look, and is not asked for a passphrase.
    issue::releaser(&desk.book, &args.by, world)?;
    let looks = release::review(&desk, &args.names, world)?;
    if looks.is_empty() {
        let none: [json::IssueReport; 0] = [];
        if as_json {
            output.json(&none)?
        } else {
            output.say("nothing waits for release")?
        }
        return Ok(Exit::Good);
    }
    let mut fit = 0_usize;
    for (_, look) in &looks {
        if let Ok(reviewed) = look {
            fit = fit.saturating_add(1);
            let words = report::release::review(reviewed);
            if as_json { output.note(words)? } else { output.say(words)? }
        }
    }
    let asked = release::asks_passphrase(&desk.book) && fit > 0;
    let file = args.own.person_passphrase_file.as_deref().filter(|_| fit > 0);
    let Desk { book, register, signer, .. } = &mut desk;
    let door = Door { folder: &book.folder, register, signer };
    let by = who(door, (&args.by, asked), (file, OWN), world, output)?;
    // Somebody read and typed meanwhile.
    let later = world.later();
    let world = if asked && file.is_none() { &later } else { world };
    let targets: Vec<String> = looks.iter().map(|(name, _)| name.clone()).collect();
    let outcomes = release::release(&mut desk, looks, &by, args.out.as_deref(), world)?;
    let exit = certificates::told(&desk.book, &targets, &outcomes, as_json, output)?;
    super::time_stamps::after(&desk, outcomes.iter().any(Outcome::is_new), world, output)?;
    super::log::after(&desk, &outcomes, output)?;
    Ok(exit)
}

/// The hands of an amendment: who releases, and who prepared it.
pub fn hands(
    desk: &mut Desk,
    by: &str,
    args: &cli::Hands,
    world: &World,
    output: &mut Output,
) -> Result<(Authenticated, Option<Authenticated>), Stop> {
    let asked = release::asks_passphrase(&desk.book);
    let preparer_asked = release::preparer_asks_passphrase(&desk.book);
    let Desk { book, register, signer, .. } = desk;
    let prepared = match &args.prepared_by {
        None => None,
        Some(person) => {
            let door = Door { folder: &book.folder, register: &mut *register, signer };
            let file = args.preparer_passphrase_file.as_deref();
            let option = "--preparer-passphrase-file";
            Some(who(door, (person, preparer_asked), (file, option), world, output)?)
        }
    };
    let door = Door { folder: &book.folder, register, signer };
    let file = args.own.person_passphrase_file.as_deref();
    let by = who(door, (by, asked), (file, OWN), world, output)?;
    Ok((by, prepared))
}

pub fn people(
    folder: Folder,
    verb: &cli::People,
    as_json: bool,
    world: &World,
    output: &mut Output,
) -> Answer {
    match verb {
        cli::People::List => list(folder, as_json, world, output),
        cli::People::SetPassphrase(args) => set(folder, args, world, output),
    }
}

fn list(folder: Folder, as_json: bool, world: &World, output: &mut Output) -> Answer {
    let book = Book::open(folder)?;
    let register = open_register(&book.folder)?;
    let mut all = Vec::new();
    for person in &book.people.people {
        let (set, wrong) = auth::standing(&register, &person.name)?;
        all.push(PersonReport {
            version: json::VERSION,
            person: person.name.clone(),
            function: person.function.clone(),
            may_release: issue::releaser(&book, &person.name, world).is_ok(),
            passphrase_set: set,
            wrong_tries: wrong,
        });
    }
    if as_json {
        output.json(&all)?;
    } else {
        for person in &all {
            output.say(person.words())?;
        }
    }
    Ok(Exit::Good)
}

fn set(folder: Folder, args: &cli::SetPassphrase, world: &World, output: &mut Output) -> Answer {
    let mut desk = open_desk(folder, &args.key)?;
    let person = &args.person;
    let given = match &args.lost {
        None if auth::has_one(&desk.register, person)? => Some(secret(
            args.old_passphrase_file.as_deref(),
            &format!("Old passphrase of {person}"),
            "--old-passphrase-file, or --lost and why",
        )?),
        _ => None,
    };
    let old = match (&args.lost, &given) {
        (Some(why), _) => Old::Lost(why),
        (None, Some(given)) => Old::Given(given),
        (None, None) => Old::None,
    };
    let file = args.own.person_passphrase_file.as_deref();
    let new = secret(file, &format!("New passphrase of {person}"), OWN)?;
    if file.is_none() && *secret(None, "The same again", OWN)? != *new {
        return Err(Error::cannot("the two are not the same", "type it twice alike").into());
    }
    auth::set(&mut desk, person, &new, old, world)?;
    output.say(format_args!("{person}: passphrase set, and entered in the register"))?;
    Ok(Exit::Good)
}
