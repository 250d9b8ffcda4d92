//! rules list, show, check, adopt.

use std::collections::BTreeMap;
use std::io;
use std::io::BufRead;
use std::io::IsTerminal;

use super::Answer;
use super::Exit;
use super::Output;
use crate::adoption::Figures;
use crate::app::adopt;
use crate::app::adopt::Adopter;
use crate::app::book;
use crate::app::book::Book;
use crate::app::builtin;
use crate::app::desk;
use crate::app::error::Error;
use crate::app::world::World;
use crate::cli::Rest;
use crate::cli::Rules;
use crate::folder;
use crate::folder::Folder;
use crate::pack::Basis;
use crate::pack::Check;
use crate::pack::Pack;
use crate::pack::Requirement;
use crate::report;
use crate::rulebook;
use crate::yaml;

pub fn run(verb: &Rules, folder: &Folder, as_json: bool, world: &World, output: &mut Output) -> Answer {
    match verb {
        Rules::List => list(folder, as_json, output),
        Rules::Show { pack, edition } => show(folder, pack, edition.as_deref(), output),
        Rules::Check { file } => {
            let text = folder::read_text(file)?;
            let name = file.display().to_string();
            let pack: Pack =
                yaml::parse(&text).map_err(|fault| Error::Fault { file: name.clone(), fault })?;
            let packs = if folder.has("shop.yaml") { book::packs(folder)? } else { builtin::packs()? };
            let faults = report::pack_faults(&pack, &packs);
            for fault in &faults {
                output.say(format_args!("{name}: {fault}"))?;
            }
            if faults.is_empty() {
                output.say(format_args!("{name}: {} requirements, no fault", pack.requirements.len()))?;
                Ok(Exit::Good)
            } else {
                Ok(Exit::Gaps)
            }
        }
        Rules::Adopt { pack, edition, by, copy, answers, rest } => {
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
            let adoption =
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
        for row in &rows {
            output.say(row)?;
        }
    }
    Ok(Exit::Good)
}

fn show(folder: &Folder, id: &str, edition: Option<&str>, output: &mut Output) -> Answer {
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
    output.say(format_args!(
        "{} ({}), editions {}",
        pack.designation,
        pack.pack,
        pack.editions.join(", ")
    ))?;
    output.say(format_args!("{}\n", pack.about.trim()))?;
    if let Some(base) = &pack.builds_on {
        output.say(format_args!("builds on {base}"))?;
    }
    for chosen in &pack.chooses_tests {
        output.say(format_args!("chooses {}: clause {}", chosen.test.name(), chosen.clause))?;
    }
    for chosen in &pack.chooses_options {
        output.say(format_args!("chooses {}: clause {}", chosen.option.name(), chosen.clause))?;
    }
    if let Some(chosen) = &pack.chooses_class {
        output.say(format_args!("chooses class {}: clause {}", chosen.class, chosen.clause))?;
    }
    for treatment in &pack.treatments {
        output.say(format_args!(
            "treatment {} ({}): clause {}",
            treatment.name, treatment.id, treatment.clause
        ))?;
    }
    for test in &pack.tests {
        output.say(format_args!("test {} ({}): clause {}", test.test.name(), test.name, test.clause))?;
    }
    for (position, requirement) in pack.requirements.iter().enumerate() {
        let stands =
            standing.as_ref().and_then(|s| s.get(position)).map(report::standing).unwrap_or_default();
        output.say(format_args!(
            "\n{}  [{}, {}{}{stands}]\n  {}",
            requirement.id,
            requirement.clause,
            report::basis(requirement.basis),
            if requirement.advice { ", advice" } else { "" },
            report::requirement(requirement)
        ))?;
        if let Some(note) = &requirement.note {
            output.say(format_args!("  {}", note.trim()))?;
        }
        output.say(format_args!("  digest {}", rulebook::judging_digest(requirement)))?;
    }
    Ok(Exit::Good)
}
