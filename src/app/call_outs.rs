//! Reads the text of drawings and orders by the shop's packs, or the built-in ones.

use crate::app::book::Book;
use crate::app::builtin;
use crate::app::error::Error;
use crate::callout;
use crate::callout::Reading;
use crate::folder::Folder;
use crate::pack::Pack;
use crate::pack::SamplingPlans;

/// The most characters read at once, over all notes.
pub const MOST: u64 = 1_000_000;

/// One note and what it calls for.
#[derive(Debug, Clone)]
pub struct Note {
    /// Which line of the input it is, from one.
    pub line: usize,
    /// As it stands.
    pub text: String,
    /// What it calls for.
    pub reading: Reading,
}

/// The packs a text is read by: the shop's, or without a shop the built-in ones.
fn packs(folder: &Folder) -> Result<(Vec<Pack>, SamplingPlans), Error> {
    let packs = if folder.has("shop.yaml") { Book::open(folder.clone())?.packs } else { builtin::packs()? };
    Ok((packs, builtin::sampling()?))
}

/// Reads notes, each with the number of its line. One that cannot be read stops them all.
pub fn read(folder: &Folder, notes: &[(usize, &str)]) -> Result<Vec<Note>, Error> {
    let (packs, sampling) = packs(folder)?;
    if notes.is_empty() {
        return Err(Error::cannot("there is no text to read", "give the note of the drawing, in quotes"));
    }
    let read = |(line, text): &(usize, &str)| {
        let reading = callout::read(text, &packs, &sampling).map_err(|too_long| {
            Error::cannot(format!("line {line}: {too_long}"), "give one note of the drawing at a time")
        })?;
        Ok(Note { line: *line, text: (*text).to_owned(), reading })
    };
    notes.iter().map(read).collect()
}
