//! evidence list, check, expired, record.

use std::path::Path;

use serde_json::json;

use super::Answer;
use super::Exit;
use super::Output;
use crate::app::book::Book;
use crate::app::desk::open_register;
use crate::app::evidence;
use crate::app::evidence::Kept;
use crate::app::evidence::State;
use crate::app::withheld;
use crate::app::world::World;
use crate::cli::EvidenceVerb;
use crate::folder::Folder;
use crate::report::json::VERSION;

fn line(kept: &Kept) -> String {
    let list = |all: &std::collections::BTreeSet<String>| all.iter().cloned().collect::<Vec<_>>().join(", ");
    let until = kept.keep_until.map_or_else(|| "without end".to_owned(), |day| format!("until {day}"));
    let holds = kept.holds.iter().map(|hold| format!("\n    {hold}")).collect::<String>();
    format!(
        "{}\n    {}  for {}, kept {until}{holds}",
        kept.sha256,
        list(&kept.paths),
        list(&kept.certificates)
    )
}

pub fn run(verb: &EvidenceVerb, folder: Folder, as_json: bool, world: &World, output: &mut Output) -> Answer {
    let register = open_register(&folder)?;
    let book = Book::open(folder)?;
    match verb {
        EvidenceVerb::List => {
            let all = evidence::list(&book, &register)?;
            if as_json {
                output.json(&json!({ "version": VERSION, "files": all }))?;
            } else {
                for kept in &all {
                    output.say(line(kept))?;
                }
                output.note(format_args!("{} files", all.len()))?;
            }
            Ok(Exit::Good)
        }
        EvidenceVerb::Check => {
            let all = evidence::check(&book, &register)?;
            let bad: Vec<_> = all.iter().filter(|(_, state)| *state != State::Whole).collect();
            if as_json {
                let rows: Vec<_> =
                    bad.iter().map(|(k, state)| json!({ "file": k, "state": state })).collect();
                output.json(&json!({ "version": VERSION, "checked": all.len(), "bad": rows }))?;
            } else {
                for (kept, state) in &bad {
                    let word = if *state == State::Missing { "MISSING" } else { "ALTERED" };
                    output.say(format_args!("{word} {}", line(kept)))?;
                }
                output.say(format_args!("{} of {} files are whole", all.len() - bad.len(), all.len()))?;
            }
            Ok(if bad.is_empty() { Exit::Good } else { Exit::Gaps })
        }
        EvidenceVerb::Expired { on } => {
            let day = on.unwrap_or_else(|| world.today());
            let all = evidence::expired(&book, &register, day)?;
            if as_json {
                output.json(&json!({ "version": VERSION, "on": day, "files": all }))?;
            } else {
                for kept in &all {
                    output.say(line(kept))?;
                }
                output.note(format_args!("{} files may go on {day}; none was removed", all.len()))?;
            }
            Ok(Exit::Good)
        }
        EvidenceVerb::Record { number, out } => record(&book.folder, number, out, as_json, output),
    }
}

/// Writes what a certificate withholds to a new file.
fn record(folder: &Folder, number: &str, out: &Path, as_json: bool, output: &mut Output) -> Answer {
    let handed = withheld::hand_out(folder, number, out)?;
    if as_json {
        output.json(&json!({
            "version": VERSION,
            "number": handed.number,
            "lots": handed.lots,
            "file": out.display().to_string(),
        }))?;
    } else {
        output.say(format_args!(
            "evidence of {}, with the record of {}: {}",
            handed.number,
            handed.lots.join(", "),
            out.display()
        ))?;
        output.note("it holds what the order withholds from the purchaser: give it to whom the shop chooses, and to nobody else")?;
    }
    Ok(Exit::Good)
}
