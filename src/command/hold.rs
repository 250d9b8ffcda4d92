//! hold-note.

use super::Answer;
use super::Exit;
use super::Output;
use crate::app::book::Book;
use crate::app::hold;
use crate::app::world::World;
use crate::folder::Folder;
use crate::report;

/// Writes a hold note to standard output.
pub fn note(folder: Folder, name: &str, as_json: bool, world: &World, output: &mut Output) -> Answer {
    let book = Book::open(folder)?;
    let note = hold::note(&book, name, &report::words, world)?;
    if as_json {
        output.json(&report::json::versioned(&note))?;
    } else {
        output.say(note.text())?;
    }
    Ok(Exit::Good)
}
