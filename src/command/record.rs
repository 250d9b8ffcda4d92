//! correct.

use super::Answer;
use super::Exit;
use super::Output;
use crate::app::correct;
use crate::app::correct::Request;
use crate::app::world::World;
use crate::cli;
use crate::folder::Folder;
use crate::report::json::VERSION;

pub fn correct(
    folder: &Folder,
    args: &cli::Correct,
    as_json: bool,
    world: &World,
    output: &mut Output,
) -> Answer {
    let cli::Correct { lot, at, now, by, why } = args;
    let done = correct::correct(folder, &Request { lot, at, now, by, why }, world)?;
    if as_json {
        let correct::Corrected { file, line, at, was, now } = done;
        output.json(&serde_json::json!({
            "version": VERSION, "file": file, "line": line, "at": at, "was": was, "now": now,
        }))?;
    } else {
        output
            .say(format_args!("{}:{}: {}: {}, was {}", done.file, done.line, done.at, done.now, done.was))?;
        output.say(format_args!("The correction stands in {}; the certificate will print it.", done.file))?;
    }
    Ok(Exit::Good)
}
