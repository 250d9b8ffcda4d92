//! check, issue, verify, amend.

use std::fmt::Display;
use std::path::Path;
use std::path::PathBuf;

use rayon::prelude::*;

use super::Answer;
use super::Exit;
use super::Output;
use super::Stop;
use super::open_desk;
use super::progress;
use crate::app::book::Book;
use crate::app::error::Error;
use crate::app::holders::Holders;
use crate::app::issue;
use crate::app::issue::Outcome;
use crate::app::issue::Shipment;
use crate::app::issue::Target;
use crate::app::journal;
use crate::app::lookup;
use crate::app::lookup::AmendRequest;
use crate::app::lookup::Amended;
use crate::app::verify;
use crate::app::verify::Anchor;
use crate::app::verify::Overall;
use crate::app::verify::Verification;
use crate::app::withheld;
use crate::app::world::World;
use crate::certificate::AmendmentKind;
use crate::certificate::Evidence;
use crate::cli;
use crate::folder;
use crate::folder::Folder;
use crate::moment::Moment;
use crate::pdf::Renderer;
use crate::register::Register;
use crate::report;
use crate::report::json;
use crate::time_stamp;

pub fn check(folder: Folder, lots: &[String], as_json: bool, world: &World, output: &mut Output) -> Answer {
    let book = Book::open(folder)?;
    for fault in &book.faults {
        output.error(fault)?;
    }
    let names = if lots.is_empty() { book.lot_files()? } else { lots.to_vec() };
    let bar = progress(names.len());
    let judged: Vec<_> = names
        .par_iter()
        .map(|name| {
            let lot = issue::judge_lot(&book, name, None, world).or_else(|error| match error {
                // A lot with nothing accepted is still worth its list of gaps.
                Error::Cannot { .. } => lot_without_pieces(&book, name, error, world),
                other => Err(other),
            });
            bar.inc(1);
            lot
        })
        .collect();
    bar.finish_and_clear();
    let mut exit = if book.faults.is_empty() { Exit::Good } else { Exit::CouldNot };
    let mut reports = Vec::new();
    for (name, lot) in names.iter().zip(judged) {
        match lot {
            Err(error) => {
                exit = Exit::CouldNot;
                output.error(&error)?;
                reports.push(json::failed(name, &error.to_string()));
            }
            Ok(lot) => {
                let conforms = crate::judge::conforms(&lot.findings);
                exit = exit.max(if conforms { Exit::Good } else { Exit::Gaps });
                let locate = |place: &_| lot.case.locate(&book, place);
                let number = &lot.case.dossier.record.lot;
                if let Some(why) = &lot.journal.unkept {
                    output
                        .note(format_args!("warning: {number}: this check is not in its journal: {why}"))?;
                }
                if as_json {
                    reports.push(json::lot(number, &lot.findings, locate));
                } else {
                    output.say(report::lot(number, &lot.findings, locate))?;
                }
            }
        }
    }
    if lots.is_empty() {
        for file in journal::without_record(&book)? {
            output.note(format_args!(
                "warning: {file}: a lot was checked of which no record is left in lots/"
            ))?;
        }
    }
    if as_json {
        output.json(&reports)?;
    }
    Ok(exit)
}

fn lot_without_pieces(book: &Book, name: &str, error: Error, world: &World) -> Result<issue::Judged, Error> {
    let mut case = book.case(book.lot(name)?)?;
    if case.dossier.record.counts.accepted > 0 {
        return Err(error);
    }
    let now = Moment::from_clock(world.now());
    let (findings, journal) = journal::judge_and_keep(book, &mut case, now)?;
    Ok(issue::Judged { case, findings, quantity: 0, journal })
}

/// Every packing slip, and every lot that is on none.
pub fn all_targets(book: &Book) -> Result<Vec<Target>, Error> {
    let mut targets = Vec::new();
    let mut on_a_slip = std::collections::BTreeSet::new();
    for file in book.folder.yaml_files("shipments")? {
        let slip = file.trim_start_matches("shipments/").trim_end_matches(".yaml");
        // An unreadable slip is still a target: its fault is told when it is judged.
        if let Ok(shipment) = book.shipment(slip) {
            on_a_slip.extend(shipment.document.lots.into_iter().map(|l| l.lot));
        }
        targets.push(Target::Slip(slip.to_owned()));
    }
    for file in book.lot_files()? {
        let lot = file.trim_start_matches("lots/").trim_end_matches(".yaml");
        if !on_a_slip.contains(lot) {
            targets.push(Target::Lot(lot.to_owned()));
        }
    }
    Ok(issue::expand(book, targets))
}

pub fn issue(folder: Folder, args: &cli::Issue, as_json: bool, world: &World, output: &mut Output) -> Answer {
    let mut desk = open_desk(folder, &args.key)?;
    for fault in &desk.book.faults {
        output.error(fault)?;
    }
    let targets: Vec<Target> = if args.all {
        all_targets(&desk.book)?
    } else {
        let lots = args.lots.iter().map(|l| Target::Lot(l.clone()));
        let all = lots.chain(args.slips.iter().map(|s| Target::Slip(s.clone()))).collect();
        issue::expand(&desk.book, all)
    };
    if targets.is_empty() {
        return Err(Error::cannot("nothing to issue", "name lots, give --slip, or --all").into());
    }
    let by = match &args.by {
        Some(by) => by.clone(),
        None => issue::sole_releaser(&desk.book, world)?,
    };
    let bar = progress(targets.len());
    let outcomes = issue::issue(&mut desk, &targets, &by, args.out.as_deref(), world, &|| bar.inc(1))?;
    bar.finish_and_clear();
    let exit = told(&desk.book, &targets, &outcomes, as_json, output)?;
    super::time_stamps::after(&desk, outcomes.iter().any(Outcome::is_new), world, output)?;
    super::log::after(&desk, &outcomes, output)?;
    for outcome in &outcomes {
        if let Outcome::Issued { number, .. } = outcome {
            for words in crate::app::over::shipped(&desk.book, &desk.register, number)? {
                output.note(format_args!("advice, {number}: {words}"))?;
            }
        }
    }
    Ok(exit)
}

/// Tells what came of each target; the gaps of those that were held.
pub fn told(
    book: &Book,
    targets: &[impl Display],
    outcomes: &[Outcome],
    as_json: bool,
    output: &mut Output,
) -> Answer {
    let mut exit = Exit::Good;
    let mut reports = Vec::new();
    for (target, outcome) in targets.iter().zip(outcomes) {
        let name = target.to_string();
        match outcome {
            Outcome::Issued { number, file } | Outcome::Again { number, file } => {
                let again = matches!(outcome, Outcome::Again { .. });
                if as_json {
                    reports.push(json::issued(&name, number, &file.display().to_string(), again));
                } else {
                    let how = if again { "issued before; the same file written again" } else { "issued" };
                    output.say(format_args!("{name}: {number} {how}: {}", file.display()))?;
                }
            }
            Outcome::Held(shipment) => {
                exit = exit.max(Exit::Gaps);
                reports.extend(held(book, &name, shipment, as_json, output)?);
            }
            Outcome::Unwritten { number, error } => {
                exit = Exit::CouldNot;
                if as_json {
                    reports.push(json::unwritten(&name, number, &error.to_string()));
                } else {
                    output.note(format_args!("{name}: {}", unwritten(number)))?;
                }
                output.error(error)?;
            }
            Outcome::Failed(error) => {
                exit = Exit::CouldNot;
                if as_json {
                    reports.push(json::not_issued(&name, &error.to_string()));
                } else {
                    output.note(format_args!("{name}: nothing issued"))?;
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

/// Tells the gaps of a shipment that is held, or answers them as reports.
pub fn held(
    book: &Book,
    name: &str,
    shipment: &Shipment,
    as_json: bool,
    output: &mut Output,
) -> Result<Vec<json::IssueReport>, Stop> {
    let mut reports = Vec::new();
    for lot in shipment.lots.iter().filter(|l| !crate::judge::conforms(&l.findings)) {
        let locate = |place: &_| lot.case.locate(book, place);
        let number = &lot.case.dossier.record.lot;
        if as_json {
            reports.push(json::held(name, json::lot(number, &lot.findings, locate)));
        } else {
            output.say(format_args!("{name}: held, nothing issued\n"))?;
            output.say(report::lot(number, &lot.findings, locate))?;
        }
    }
    Ok(reports)
}

/// What has become of a certificate whose file could not be written.
fn unwritten(number: &str) -> String {
    format!("{number} is issued and registered, but its file could not be written; issue again to write it")
}

/// The files meant: each as given, and those in folders.
fn certificate_files(given: &[PathBuf]) -> Result<Vec<PathBuf>, Error> {
    let mut files = Vec::new();
    for path in given {
        if !path.is_dir() {
            files.push(path.clone());
            continue;
        }
        let told = |e| folder::FolderError::System { file: path.display().to_string(), source: e };
        let mut found = Vec::new();
        for entry in std::fs::read_dir(path).map_err(told)? {
            let file = entry.map_err(told)?.path();
            if file.extension().is_some_and(|e| e.eq_ignore_ascii_case("pdf")) {
                found.push(file);
            }
        }
        found.sort();
        files.append(&mut found);
    }
    Ok(files)
}

pub fn verify(args: &cli::Verify, as_json: bool, output: &mut Output) -> Answer {
    let handovers = super::log::handovers(&args.log)?;
    let anchor = args.trust.as_deref().map_or(Ok(Anchor::none()), Anchor::read)?.with(handovers.roots);
    let open = || -> Result<Option<Register>, Error> {
        // Read only: a verifier keeps no head of the shop's.
        Ok(args.register.as_deref().map(|path| Register::open(path, None)).transpose()?)
    };
    if let (Some(number), Some(stamp)) = (&args.number, &args.stamp) {
        let register = open()?.ok_or_else(|| {
            Error::cannot("number and stamp can only be looked up in the shop's register", "give --register")
        })?;
        let found = verify::paper(number, stamp, &register)?;
        return verified(&[Ok(found)], as_json, output);
    }
    let files = certificate_files(&args.files)?;
    if files.is_empty() {
        return Err(Error::cannot(
            "no certificate to verify",
            "name files or folders, or give --number and --stamp",
        )
        .into());
    }
    let evidence = withheld::read(&args.evidence)?;
    let evidence = (!evidence.is_empty()).then_some(evidence);
    let mut all = verify_files(&files, &anchor, &open, None, evidence.as_deref())?;
    if let Some(store) = &args.evidence_store {
        for (path, found) in files.iter().zip(&mut all) {
            if let Ok(found) = found {
                verify::evidence(
                    found,
                    &folder::read(path)?,
                    store,
                    evidence.as_deref().unwrap_or_default(),
                )?;
            }
        }
    }
    if let (Some(stamps), Some(root)) = (&args.time_stamps, &args.time_root) {
        let root = time_stamp::Anchor::read(&folder::read(root)?)?;
        let register = open()?;
        for (path, found) in files.iter().zip(&mut all) {
            if let Ok(found) = found {
                verify::time(found, &folder::read(path)?, register.as_ref(), stamps, &root)?;
            }
        }
    }
    super::log::checked(&args.log, &handovers.keys, &files, &open, &mut all)?;
    verified(&all, as_json, output)
}

/// Verifies files on all cores; each worker opens the register for itself.
pub fn verify_files(
    files: &[PathBuf],
    anchor: &Anchor,
    open: &(dyn Fn() -> Result<Option<Register>, Error> + Sync),
    renderer: Option<&Renderer>,
    evidence: Option<&[Evidence]>,
) -> Result<Vec<Result<Verification, Error>>, Error> {
    let own;
    let renderer = match renderer {
        Some(renderer) => renderer,
        None => {
            own = Renderer::new()?;
            &own
        }
    };
    let bar = progress(files.len());
    let all = files
        .par_iter()
        .map_init(open, |register, path: &PathBuf| {
            let register = match register {
                Ok(register) => register.as_ref(),
                Err(error) => {
                    return Err(Error::cannot(error.to_string(), &error.hint().unwrap_or_default()));
                }
            };
            let found = verify_one(path, anchor, register, renderer, evidence);
            bar.inc(1);
            found
        })
        .collect();
    bar.finish_and_clear();
    Ok(all)
}

fn verify_one(
    path: &Path,
    anchor: &Anchor,
    register: Option<&Register>,
    renderer: &Renderer,
    evidence: Option<&[Evidence]>,
) -> Result<Verification, Error> {
    let bytes = folder::read(path)?;
    verify::with_evidence(&path.display().to_string(), &bytes, anchor, register, renderer, evidence)
}

pub fn verified(all: &[Result<Verification, Error>], as_json: bool, output: &mut Output) -> Answer {
    let mut exit = Exit::Good;
    let mut reports = Vec::new();
    for found in all {
        match found {
            Err(error) => {
                exit = Exit::CouldNot;
                output.error(error)?;
            }
            Ok(found) => {
                // Of several files the worst answer counts; one that does not verify outweighs one untold.
                let own = match found.overall() {
                    Overall::Verifies => Exit::Good,
                    Overall::DoesNotVerify => Exit::Gaps,
                    Overall::CouldNotTell => Exit::CouldNot,
                };
                exit = match (exit, own) {
                    (Exit::Gaps, _) | (_, Exit::Gaps) => Exit::Gaps,
                    (a, b) => a.max(b),
                };
                if as_json {
                    reports.push(json::verification(found));
                } else {
                    output.say(report::verification(found))?;
                }
            }
        }
    }
    if as_json {
        output.json(&reports)?;
    }
    Ok(exit)
}

#[allow(clippy::too_many_arguments)]
pub fn amend(
    folder: Folder,
    number: &str,
    by: Option<&str>,
    why: &str,
    kind: cli::Amendment,
    key: &cli::Key,
    hands: &cli::Hands,
    as_json: bool,
    world: &World,
    output: &mut Output,
) -> Answer {
    let mut desk = open_desk(folder, key)?;
    let by = match by {
        Some(by) => by.to_owned(),
        None => issue::sole_releaser(&desk.book, world)?,
    };
    let kind = match kind {
        cli::Amendment::Clerical => AmendmentKind::Clerical,
        cli::Amendment::Conformity => AmendmentKind::Conformity,
    };
    let request = AmendRequest { number, by: &by, why, kind };
    let (signed, prepared) = super::release::hands(&mut desk, &by, hands, world, output)?;
    match lookup::amend_signed(&mut desk, &request, &signed, prepared.as_ref(), world)? {
        Amended::New { number: new, changed, told } => {
            let written = issue::write_out(&desk, &new, None);
            // A clerical amendment changes nothing the parts were judged by: nobody must be told.
            let told = if kind == AmendmentKind::Conformity { told } else { Holders::default() };
            if as_json {
                output.json(&report::back::ended(number, Some(&new), &changed, &told))?;
            } else {
                match &written {
                    Ok(file) => output.say(format_args!("{new} replaces {number}: {}", file.display()))?,
                    Err(_) => output.say(format_args!("{new} replaces {number}"))?,
                }
                for change in &changed {
                    output.say(format_args!("  {}; {}", lookup::words(change), change.why))?;
                }
                if kind == AmendmentKind::Conformity {
                    output.say("whoever holds the old certificate must be told")?;
                    super::back::tell(&told, output)?;
                }
            }
            let written = match written {
                Ok(file) => {
                    super::log::after(&desk, &[Outcome::Issued { number: new.clone(), file }], output)?;
                    Ok(())
                }
                Err(error) => Err(error),
            };
            super::time_stamps::after(&desk, true, world, output)?;
            let noticed = super::back::noticed(&desk.book.folder, number, as_json, output)?;
            if let Err(error) = written {
                output.note(unwritten(&new))?;
                output.error(&error)?;
                return Ok(Exit::CouldNot);
            }
            Ok(noticed)
        }
        Amended::Held(shipment) => {
            output.note(format_args!(
                "{number}: the lots no longer conform; nothing was issued, the old certificate still stands"
            ))?;
            for lot in shipment.lots.iter().filter(|l| !crate::judge::conforms(&l.findings)) {
                let locate = |place: &_| lot.case.locate(&desk.book, place);
                output.say(report::lot(&lot.case.dossier.record.lot, &lot.findings, locate))?;
            }
            output.note("if it must not stand, `withdraw` it")?;
            Ok(Exit::Gaps)
        }
    }
}
