//! Reads the text a drawing or an order carries into call-outs, with what the reading assumes and what it must ask
//! back. It never guesses: what the text does not say is assumed only where the standard itself says what stands
//! then, and everything else is a question.
//!
//! Designations, editions, treatments, tests and classes are the packs'. A purchaser's own pack is read like any
//! other. The rules followed stand in `tests/callouts/README.md`.

mod belongs;
mod document;
mod items;
mod lexer;
mod limits;
mod reading;
mod slots;
mod standards;
mod treatment;
mod vocabulary;
mod words;

pub use words::Ask;
pub use words::Assumption;
pub use words::Said;

use crate::pack::Pack;
use crate::pack::SamplingPlans;
use crate::part::CallOut;

/// The longest text that is read, in characters. A drawing's note is far shorter.
pub const LONGEST: usize = 10_000;

/// What a text calls for.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Reading {
    /// The call-outs, in the order of the text.
    pub calls_for: Vec<CallOut>,
    /// What was taken for granted.
    pub assumed: Vec<Said<Assumption>>,
    /// What must be asked.
    pub ask: Vec<Said<Ask>>,
}

/// Why a text was not read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the text has {found} characters; at most {LONGEST} are read at once")]
pub struct TooLong {
    /// How many it has.
    pub found: usize,
}

/// Reads a text by these packs.
pub fn read(text: &str, packs: &[Pack], sampling: &SamplingPlans) -> Result<Reading, TooLong> {
    let found = text.chars().count();
    if found > LONGEST {
        return Err(TooLong { found });
    }
    Ok(reading::reading(text, &vocabulary::Vocabulary::of(packs, sampling)))
}
