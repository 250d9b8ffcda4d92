//! The register as a log that others check: proofs beside certificates, heads remembered, growth proven.

use std::path::Path;
use std::path::PathBuf;

use serde_json::json;

use super::Answer;
use super::Exit;
use super::Output;
use super::Stop;
use crate::app::book::Book;
use crate::app::credential;
use crate::app::desk::Desk;
use crate::app::error::Error;
use crate::app::issue::Outcome;
use crate::app::keys::Handovers;
use crate::app::portable;
use crate::app::proofs;
use crate::app::tiles;
use crate::app::verify;
use crate::app::verify::Heads;
use crate::app::verify::LogKeys;
use crate::app::verify::Verification;
use crate::app::witness;
use crate::app::witness::Asked;
use crate::app::witness::Came;
use crate::app::world::World;
use crate::checkpoint::Consistency;
use crate::checkpoint::Handover;
use crate::checkpoint::Role;
use crate::cli;
use crate::folder;
use crate::folder::Folder;
use crate::folder::FolderError;
use crate::register::Register;
use crate::report::json::VERSION;

/// The handovers a verifier brings, of the register's key and of the root.
pub fn handovers(given: &cli::LogGiven) -> Result<Handovers, Error> {
    let Some(path) = &given.handovers else { return Ok(Handovers::default()) };
    Handovers::read(&folder::read_text(path)?).map_err(|error| {
        Error::cannot(format!("{}: {error}", path.display()), "take it as `keys handovers` printed it")
    })
}

/// Adds what proofs and remembered heads show to verifications already made.
pub fn checked(
    given: &cli::LogGiven,
    handovers: &[Handover],
    files: &[PathBuf],
    open: &dyn Fn() -> Result<Option<Register>, Error>,
    all: &mut [Result<Verification, Error>],
) -> Result<(), Error> {
    if given.proof.is_some() && files.len() > 1 {
        return Err(Error::cannot(
            "--proof is the proof of one certificate",
            "leave it out: the proof beside each certificate is taken",
        ));
    }
    let proof_of = |text: Result<String, FolderError>, path: &Path| -> Result<Consistency, Error> {
        Consistency::parse(&text?)
            .map_err(|error| Error::cannot(format!("{}: {error}", path.display()), "take it as it was sent"))
    };
    let consistency = given.consistency.iter().map(|path| proof_of(folder::read_text(path), path));
    let keys = LogKeys {
        register: verify::keys(&given.checkpoint_key, Role::Register)?,
        witnesses: verify::keys(&given.witness_key, Role::Witness)?,
        handovers: handovers.to_vec(),
        consistency: consistency.collect::<Result<_, _>>()?,
    };
    let register = open()?;
    let mut heads = Heads::default();
    for (path, found) in files.iter().zip(all) {
        let Ok(found) = found else { continue };
        let bytes = folder::read(path)?;
        let text = match &given.proof {
            Some(file) => Some(folder::read_text(file)?),
            // A register that is given says more than a file beside the certificate.
            None if register.is_some() && keys.witnesses.is_empty() => None,
            None => match folder::read_text(&proofs::place(path)) {
                Ok(text) => Some(text),
                Err(FolderError::Missing(_)) => None,
                Err(error) => return Err(error.into()),
            },
        };
        let shown = match text {
            Some(text) => verify::proof(found, &bytes, &text, &keys, register.as_ref())?,
            None => {
                unproven(found, &keys);
                None
            }
        };
        heads.compare(found, &bytes, shown.as_ref(), &keys);
        if let Some(folder) = &given.remember {
            verify::remembered(found, &bytes, shown.as_ref(), register.as_ref(), &keys, folder)?;
        }
    }
    Ok(())
}

/// A witness that was asked for can be found on a proof only.
fn unproven(found: &mut Verification, keys: &LogKeys) {
    if !keys.witnesses.is_empty() {
        verify::no_proof(found);
    }
}

/// Writes a proof that the register grew.
pub fn consistency(register: &Register, args: &cli::GrewFrom, output: &mut Output) -> Answer {
    let text = proofs::consistency(register, args.from, args.to)?.to_text();
    match &args.out {
        Some(path) => {
            folder::write_new(path, text.as_bytes(), false)?;
            output.note(format_args!("written to {}", path.display()))?;
        }
        None => output.say(text.trim_end())?,
    }
    Ok(Exit::Good)
}

/// Writes the log as static files.
pub fn tiles(
    folder: &Folder,
    register: &Register,
    args: &cli::Tiles,
    as_json: bool,
    output: &mut Output,
) -> Answer {
    let done = tiles::export(folder, register, &args.out)?;
    if as_json {
        output.json(&json!({ "version": VERSION, "size": done.size, "written": done.written }))?;
    } else {
        let out = args.out.display();
        output.say(format_args!("{out}: {} entries, {} files written", done.size, done.written))?;
    }
    Ok(Exit::Good)
}

/// Writes the portable proof.
pub fn export(
    folder: &Folder,
    register: &Register,
    args: &cli::Export,
    as_json: bool,
    output: &mut Output,
) -> Answer {
    let book = Book::open(folder.clone())?;
    let done = portable::export(&book, register, &args.numbers, &args.out)?;
    if as_json {
        let report = json!({
            "version": VERSION, "size": done.size, "certificates": done.whole, "withheld": done.withheld,
        });
        output.json(&report)?;
        return Ok(Exit::Good);
    }
    let out = args.out.display();
    output.say(format_args!("{out}: {} entries, {} certificates", done.size, done.whole.len()))?;
    for (number, why) in &done.withheld {
        output.say(format_args!("{number} is not among them: {why}"))?;
    }
    Ok(Exit::Good)
}

/// Writes a certificate's credential.
pub fn credential(
    folder: &Folder,
    register: &Register,
    args: &cli::Credential,
    as_json: bool,
    world: &World,
    output: &mut Output,
) -> Answer {
    let book = Book::open(folder.clone())?;
    let done = credential::write(&book, register, &args.number, &args.out, world)?;
    if as_json {
        output.json(&json!({
            "version": VERSION, "number": done.number, "stamp": done.stamp, "entry": done.entry,
            "issuer": done.issuer,
        }))?;
    } else {
        let out = args.out.display();
        output.say(format_args!("{out}: {}, entry {}, by {}", done.number, done.entry, done.issuer))?;
    }
    Ok(Exit::Good)
}

/// Asks the witnesses by command.
pub fn witness(folder: &Folder, register: &Register, as_json: bool, output: &mut Output) -> Answer {
    let book = Book::open(folder.clone())?;
    if book.shop.witnesses.is_empty() {
        return Err(Error::cannot(
            "shop.yaml names no witness",
            "witnesses: [{ url: http://witness.example, key: name+id+key }]",
        )
        .into());
    }
    let (size, asked) = witness::ask(folder, &book.shop.witnesses, register)?;
    if as_json {
        let each = asked.iter().map(|one| {
            let (came, why) = told(&one.came);
            json!({ "name": one.name, "url": one.url, "came": came, "why": why })
        });
        output.json(&json!({ "version": VERSION, "size": size, "witnesses": each.collect::<Vec<_>>() }))?;
    } else {
        for one in &asked {
            match told(&one.came) {
                (word, None) => {
                    output.say(format_args!("{}: {word} the head of {size} entries", one.name))?
                }
                (word, Some(why)) => output.say(format_args!("{}: {word}: {why}", one.name))?,
            }
        }
    }
    Ok(asked.iter().map(|one| exit(&one.came)).fold(Exit::Good, worse))
}

/// Somebody who contradicts outweighs somebody who is silent.
fn worse(one: Exit, other: Exit) -> Exit {
    match (one, other) {
        (Exit::Gaps, _) | (_, Exit::Gaps) => Exit::Gaps,
        (one, other) => one.max(other),
    }
}

fn exit(came: &Came) -> Exit {
    match came {
        Came::Cosigned | Came::Before => Exit::Good,
        Came::Silent(_) | Came::Refused(_) => Exit::CouldNot,
        Came::Contradicts(_) => Exit::Gaps,
    }
}

/// What came of a witness in one word, and why.
fn told(came: &Came) -> (&'static str, Option<&str>) {
    match came {
        Came::Cosigned => ("cosigned", None),
        Came::Before => ("had cosigned", None),
        Came::Silent(why) => ("silent", Some(why)),
        Came::Refused(why) => ("refused", Some(why)),
        Came::Contradicts(why) => ("CONTRADICTS", Some(why)),
    }
}

/// After something was issued: shows the new head to the witnesses, if the shop names any, and writes the proofs again
/// with what they signed. Whatever comes of it, what was issued stays issued.
pub fn after(desk: &Desk, outcomes: &[Outcome], output: &mut Output) -> Result<(), Stop> {
    let issued: Vec<(&str, &Path)> = outcomes
        .iter()
        .filter_map(|outcome| match outcome {
            Outcome::Issued { number, file } => Some((number.as_str(), file.as_path())),
            _ => None,
        })
        .collect();
    if issued.is_empty() || desk.book.shop.witnesses.is_empty() {
        return Ok(());
    }
    let folder = &desk.book.folder;
    let asked = match witness::ask(folder, &desk.book.shop.witnesses, &desk.register) {
        Ok((_, asked)) => asked,
        Err(error) => return warned(&error, output),
    };
    for Asked { name, came, .. } in &asked {
        if let (word, Some(why)) = told(came) {
            output.note(format_args!("warning: witness {name}: {word}: {why}"))?;
        }
    }
    if asked.iter().any(|one| one.came == Came::Cosigned) {
        for (number, file) in issued {
            if let Err(error) = proofs::beside(folder, &desk.register, number, file) {
                warned(&error, output)?;
            }
        }
    }
    Ok(())
}

fn warned(error: &Error, output: &mut Output) -> Result<(), Stop> {
    output.note(format_args!("warning: the witnesses' word could not be had: {error}"))
}
