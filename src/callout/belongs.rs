//! Whose a treatment, class, test or option is: each belongs to one of the standards the text names.

use super::items::Item;
use super::items::What;
use super::lexer::Token;
use super::standards::Designation;
use super::standards::Named;
use super::vocabulary::PackFacts;
use super::vocabulary::Vocabulary;

/// Where an item belongs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Owner {
    /// To this designation of the text, which has it.
    Has(usize),
    /// To a designation nobody here knows, or to one of two that are left to choose from: nothing can be said.
    Silent,
    /// To this standard, which does not have it, and no other before it does either.
    Lacks(usize),
    /// The text names no standard.
    Nobody,
}

/// Words that may stand between what is asked for and its PER.
const FILLER: &[&str] = &[
    "TEST",
    "TESTING",
    "TESTED",
    "ACID",
    "SOLUTION",
    "PASSIVATE",
    "PASSIVATED",
    "PASSIVATION",
    "PASSIVATING",
    "ELECTROPOLISH",
    "ELECTROPOLISHED",
    "ELECTROPOLISHING",
    "TREATMENT",
    "TREAT",
    "TREATED",
    "REQUIRED",
    "CLEAN",
    ")",
];

/// Finds the owner of an item.
pub fn owner(item: &Item, named: &[Named], tokens: &[Token], words: &Vocabulary) -> Owner {
    let before = named.iter().rposition(|n| n.to <= item.from);
    let Some(first) = per(item, named, tokens).or(before).or(if named.is_empty() { None } else { Some(0) })
    else {
        return Owner::Nobody;
    };
    let has = |at: &usize| {
        named
            .get(*at)
            .is_some_and(|n| !n.alternative && facts(n, words).is_some_and(|pack| has(pack, &item.what)))
    };
    let Some(own) = named.get(first) else { return Owner::Nobody };
    if own.alternative {
        return Owner::Silent;
    }
    if let Some(found) = (0..=first).rev().find(has) {
        return Owner::Has(found);
    }
    match own.what {
        Designation::Known(_) => Owner::Lacks(first),
        // What stands behind a number nobody knows may belong to the standard that follows.
        Designation::Unknown(_) => (first..named.len()).find(has).map_or(Owner::Silent, Owner::Has),
    }
}

/// The standard that follows directly behind PER.
fn per(item: &Item, named: &[Named], tokens: &[Token]) -> Option<usize> {
    let sentence = tokens.get(item.from)?.sentence;
    let mut i = item.to;
    let mut fillers = 0;
    loop {
        let token = tokens.get(i).filter(|t| t.sentence == sentence)?;
        i += 1;
        if token.is_per() {
            break;
        }
        fillers += 1;
        if fillers > 4 || !FILLER.contains(&token.text.as_str()) {
            return None;
        }
    }
    while tokens.get(i).is_some_and(|t| matches!(t.text.as_str(), "THE" | "SPEC" | "FED" | "STANDARD")) {
        i += 1;
    }
    named.iter().position(|n| n.from == i)
}

/// The pack of a designation.
pub fn facts<'a, 'b>(named: &Named, words: &'b Vocabulary<'a>) -> Option<&'b PackFacts<'a>> {
    match &named.what {
        Designation::Known(known) => words.packs.get(known.pack),
        Designation::Unknown(_) => None,
    }
}

fn has(pack: &PackFacts, what: &What) -> bool {
    match what {
        What::Passivate(_) | What::Electropolish(_) => false,
        What::Numbered(word, number) => {
            pack.test_called(word, number).is_some() || !pack.fitting(word, number).is_empty()
        }
        What::Phrase(words) => !pack.called(words).is_empty(),
        What::Acid(_) | What::Dichromate | What::BadTreatment(_) | What::Option(_) => {
            !pack.treatments.is_empty()
        }
        What::Test(kind) => pack.has_test(*kind),
        What::BadTest(_) => !pack.pack.tests.is_empty(),
        What::Class(class) => pack.has_class(class),
    }
}
