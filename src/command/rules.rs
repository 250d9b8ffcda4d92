//! rules list, show, check, compare, adopt.

use std::collections::BTreeMap;
use std::io;
use std::io::BufRead;
use std::io::IsTerminal;
use std::path::Path;

use super::Answer;
use super::Exit;
use super::Output;
use crate::adoption::Figures;
use crate::app::adopt;
use crate::app::adopt::Adopter;
use crate::app::book::Book;
use crate::app::builtin;
use crate::app::desk;
use crate::app::editions;
use crate::app::error::Error;
use crate::app::world::World;
use crate::cli::Rest;
use crate::cli::Rules;
use crate::folder;
use crate::folder::Folder;
use crate::lint;
use crate::pack::Basis;
use crate::pack::Check;
use crate::pack::Pack;
use crate::pack::Requirement;
use crate::report;
use crate::rulebook;
use crate::rulebook::compare::Edition;
use crate::yaml;

pub fn run(verb: &Rules, folder: &Folder, as_json: bool, world: &World, output: &mut Output) -> Answer {
    match verb {
        Rules::List => list(folder, as_json, output),
        Rules::Show { pack, edition } => show(folder, pack, edition.as_deref(), as_json, output),
        Rules::Check { file } => check(folder, file, as_json, output),
        Rules::Compare { first, second, third } => {
            let (one, other) = match third {
                Some(later) => ((first.as_str(), second.as_str()), (first.as_str(), later.as_str())),
                None => (edition_of(first)?, edition_of(second)?),
            };
            compare(folder, one, other, as_json, output)
        }
        Rules::Adopt { pack, edition, by, copy, superseded_by, answers, rest } => {
            let book = Book::open(folder.clone())?;
            let pack = find(&book.packs, pack)?;
            let written: BTreeMap<String, adopt::Answer> = match answers {
                Some(file) => {
                    let name = file.display().to_string();
                    yaml::parse(&folder::read_text(file)?)
                        .map_err(|fault| Error::Fault { file: name, fault })?
                }
                None => BTreeMap::new(),
            };
            if let Some(id) = written.keys().find(|id| !pack.requirements.iter().any(|r| r.id == **id)) {
                return Err(Error::cannot(
                    format!("the pack `{}` has no requirement `{id}`", pack.pack),
                    "`brightproof rules show` lists them",
                )
                .into());
            }
            let adopter = Adopter { by, on: world.today(), copy };
            let mut adoption =
                adopt::adopt(pack, edition, &adopter, |requirement| match written.get(&requirement.id) {
                    Some(answer) => Ok(answer.clone()),
                    None => match rest {
                        Some(Rest::Confirmed) if requirement.basis != Basis::Unsure => {
                            Ok(plain(Figures::Confirmed))
                        }
                        Some(_) => Ok(plain(Figures::Unsure)),
                        None => ask(requirement),
                    },
                })?;
            adoption.superseded_by.clone_from(superseded_by);
            let adoptions: Vec<_> = book.adoptions.iter().map(|a| &a.document).collect();
            adopt::loosens_nothing(&book.packs, &adoptions, &adoption)?;
            let text = adopt::to_yaml(&adoption)?;
            let file = adopt::file_name(&adoption);
            desk::register_adoption(folder, &adoption, &text, world)?;
            folder::write_whole(&folder.path(&file), text.as_bytes())?;
            let unsure = adoption.requirements.values().filter(|a| a.figures == Figures::Unsure).count();
            output.say(format_args!(
                "{file}: {} requirements adopted, {unsure} of them without a figure yet",
                adoption.requirements.len()
            ))?;
            Ok(Exit::Good)
        }
    }
}

/// Looks a pack over, beside the other packs that would stand with it.
fn check(folder: &Folder, file: &Path, as_json: bool, output: &mut Output) -> Answer {
    let text = folder::read_text(file)?;
    let name = file.display().to_string();
    let pack: Pack = yaml::parse(&text).map_err(|fault| Error::Fault { file: name.clone(), fault })?;
    let mut packs = builtin::packs()?;
    // A shop's other pack that cannot be read is found when that one is checked.
    for own in folder.yaml_files("rules").unwrap_or_default() {
        if let Ok(own) =
            folder.text(&own).map_err(|_| ()).and_then(|t| yaml::parse::<Pack>(&t).map_err(|_| ()))
        {
            packs.retain(|p| p.pack != own.pack);
            packs.push(own);
        }
    }
    let alloys = builtin::alloys()?;
    let lints = lint::lint(&pack, lint::Beside { packs: &packs, alloys: Some(&alloys) });
    let checked = report::lints::Checked::of(&name, &text, &pack, &lints);
    if as_json {
        output.json(&checked)?;
    } else {
        output.say(&checked)?;
    }
    Ok(if checked.faults.is_empty() { Exit::Good } else { Exit::Gaps })
}

/// Pack and edition, as in `astm-a967:17`.
fn edition_of(text: &str) -> Result<(&str, &str), Error> {
    text.split_once(':').ok_or_else(|| {
        Error::cannot(
            format!("`{text}` names no edition"),
            "give a pack and two editions, as in `rules compare ams-2700 E F`, or two packs with theirs, as in \
             `rules compare astm-a967-05:05 astm-a967:17`",
        )
    })
}

/// Two editions side by side: as the shop adopted them where it did, with the open orders that call them.
fn compare(
    folder: &Folder,
    (one, one_edition): (&str, &str),
    (other, other_edition): (&str, &str),
    as_json: bool,
    output: &mut Output,
) -> Answer {
    let book = if folder.has("shop.yaml") { Some(Book::open(folder.clone())?) } else { None };
    let packs = match &book {
        Some(book) => book.packs.clone(),
        None => builtin::packs()?,
    };
    let side = |id: &str, edition: &str| -> Result<Pack, Error> {
        let pack = find(&packs, id)?;
        if !pack.editions.iter().any(|e| e == edition) {
            return Err(Error::cannot(
                format!("the pack `{id}` has no edition `{edition}`"),
                &format!("it has: {}", pack.editions.join(", ")),
            ));
        }
        match &book {
            Some(book) => Ok(book.adopted(pack, edition)?.pack),
            None => Ok(pack.clone()),
        }
    };
    let (first, second) = (side(one, one_edition)?, side(other, other_edition)?);
    let first = Edition { pack: &first, edition: one_edition };
    let second = Edition { pack: &second, edition: other_edition };
    let open = match &book {
        Some(book) => Some([
            editions::open_lines(book, first.pack, first.edition)?,
            editions::open_lines(book, second.pack, second.edition)?,
        ]),
        None => None,
    };
    let compared =
        report::editions::Compared::of((first, second), &rulebook::compare::compare(first, second), open);
    if as_json {
        output.json(&compared)?;
    } else {
        output.say(&compared)?;
    }
    Ok(Exit::Good)
}

const fn plain(figures: Figures) -> adopt::Answer {
    adopt::Answer { figures, check: None, note: None }
}

fn find<'a>(packs: &'a [Pack], id: &str) -> Result<&'a Pack, Error> {
    packs.iter().find(|p| p.pack == id).ok_or_else(|| {
        let names: Vec<&str> = packs.iter().map(|p| p.pack.as_str()).collect();
        Error::cannot(format!("there is no pack `{id}`"), &format!("there are: {}", names.join(", ")))
    })
}

/// Asks the person at the terminal what the controlled copy says.
fn ask(requirement: &Requirement) -> Result<adopt::Answer, Error> {
    if !io::stdin().is_terminal() {
        return Err(Error::cannot(
            format!("nobody answers for `{}`", requirement.id),
            "give --answers with a line for it, or --rest",
        ));
    }
    let mut prompt = String::new();
    prompt.push_str(&format!(
        "\n{} (clause {}): {}\n",
        requirement.id,
        requirement.clause,
        report::requirement(requirement)
    ));
    if let Some(note) = &requirement.note {
        prompt.push_str(&format!("  {note}\n"));
    }
    prompt.push_str(
        "  your copy: [y] says so  [o] has other figures  [u] cannot be read  [a] makes no such demand: ",
    );
    let answer = line(&prompt)?;
    match answer.as_str() {
        "y" => Ok(plain(Figures::Confirmed)),
        "u" => Ok(plain(Figures::Unsure)),
        "a" => Ok(plain(Figures::Absent)),
        "o" => {
            let text =
                line("  its figures, as in the pack, for example { at_least: [{ value: 60 min }] }: ")?;
            let check: Check = yaml::parse(&text)
                .map_err(|fault| Error::Fault { file: "(your answer)".to_owned(), fault })?;
            Ok(adopt::Answer { figures: Figures::Own, check: Some(check), note: None })
        }
        other => Err(Error::cannot(format!("`{other}` is none of y, o, u, a"), "adopt again")),
    }
}

fn line(prompt: &str) -> Result<String, Error> {
    let told = |e: io::Error| Error::cannot(format!("no answer: {e}"), "");
    io::Write::write_all(&mut io::stderr(), prompt.as_bytes()).map_err(told)?;
    let mut text = String::new();
    io::stdin().lock().read_line(&mut text).map_err(told)?;
    Ok(text.trim().to_owned())
}

fn list(folder: &Folder, as_json: bool, output: &mut Output) -> Answer {
    // Without a shop the built-in packs are listed.
    let (packs, adoptions) = if folder.has("shop.yaml") {
        let book = Book::open(folder.clone())?;
        (book.packs, book.adoptions)
    } else {
        (builtin::packs()?, Vec::new())
    };
    let mut rows = Vec::new();
    for pack in &packs {
        let adopted: Vec<String> = adoptions
            .iter()
            .filter(|a| a.document.pack == pack.pack)
            .map(|a| format!("{} ({}, {})", a.document.edition, a.document.by, a.document.on))
            .collect();
        rows.push(report::PackRow::of(pack, adopted));
    }
    if as_json {
        output.json(&rows)?;
    } else {
        output.say(report::PackTable(&rows))?;
    }
    Ok(Exit::Good)
}

fn show(folder: &Folder, id: &str, edition: Option<&str>, as_json: bool, output: &mut Output) -> Answer {
    let (pack, standing) = if folder.has("shop.yaml") {
        let book = Book::open(folder.clone())?;
        let pack = find(&book.packs, id)?.clone();
        match edition {
            Some(edition) => {
                let effective = book.adopted(&pack, edition)?;
                (effective.pack, Some(effective.standing))
            }
            None => (pack, None),
        }
    } else {
        (find(&builtin::packs()?, id)?.clone(), None)
    };
    let standing = standing.unwrap_or_default();
    if as_json {
        output.json(&report::json::pack(&pack, &standing))?;
        return Ok(Exit::Good);
    }
    // The last line ends of itself.
    let shown = report::Shown { pack: &pack, standing: &standing }.to_string();
    output.say(shown.trim_end())?;
    Ok(Exit::Good)
}
