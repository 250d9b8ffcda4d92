//! Analyses and calibrations from a sheet into the shop's books, each a line at the end of its bath or instrument.

use crate::app::book::Book;
use crate::app::intake::cells::Value;
use crate::app::intake::fault::Faults;
use crate::app::intake::rows::Line;
use crate::columns::Becomes;
use crate::columns::Block;
use crate::shop::Analysis;
use crate::shop::Baths;
use crate::shop::Calibration;
use crate::shop::Instruments;
use crate::validate;
use crate::validate::Wrong;
use crate::yaml;

/// Entries that would be added to a book, and the book with them.
#[derive(Debug, Clone, Default)]
pub(super) struct Entries {
    /// Each with the bath or instrument it is of.
    pub added: Vec<(String, String)>,
    /// How many stand there already, just so.
    pub there: usize,
    /// The book's file.
    pub file: &'static str,
    /// Its new text.
    pub text: String,
}

/// Adds the rows' entries to the book they belong to.
pub(super) fn entries(lines: &[Line], becomes: Becomes, book: &Book, faults: &mut Faults) -> Entries {
    let analyses = becomes == Becomes::Analyses;
    let (file, blocks, list, owner) = if analyses {
        ("baths.yaml", "baths", "analyses", "bath")
    } else {
        ("instruments.yaml", "instruments", "calibrations", "instrument")
    };
    let text = if analyses { &book.baths.text } else { &book.instruments.text };
    let mut all = Entries { file, text: text.clone(), ..Entries::default() };
    for line in lines {
        let told = |faults: &Faults| faults.all.iter().any(|(place, _)| place.row == line.place.row);
        let get = |key: &str| line.get(&Block::Entry, key).map(|said| &said.value);
        let needs: &[&str] = if analyses {
            &["bath", "at", "by"]
        } else {
            &["instrument", "on", "due", "certificate", "passed"]
        };
        for need in needs.iter().filter(|need| get(need).is_none()) {
            faults.say(&line.place, format!("no `{need}`"), "it is expected", "fill it in");
        }
        let found: Vec<String> = line
            .said
            .iter()
            .filter(|said| !["bath", "at", "by"].contains(&said.key.as_str()))
            .map(|said| format!("{}: {}", said.key, said.value.shown()))
            .collect();
        if analyses && found.is_empty() {
            faults.say(
                &line.place,
                "no finding",
                "at least one constituent is expected",
                "fill in what was found",
            );
        }
        if told(faults) {
            continue;
        }
        let shown = |key: &str| get(key).map(Value::shown).unwrap_or_default();
        let name = shown(owner);
        let item = if analyses {
            let by = yaml::scalar(&shown("by"), true);
            format!("{{ at: {}, by: {by}, found: {{ {} }} }}", shown("at"), found.join(", "))
        } else {
            let certificate = yaml::scalar(&shown("certificate"), true);
            let (on, due, passed) = (shown("on"), shown("due"), shown("passed"));
            format!("{{ on: {on}, due: {due}, certificate: {certificate}, passed: {passed} }}")
        };
        let standing =
            if analyses { of_bath(&all.text, &name, &item) } else { of_instrument(&all.text, &name, &item) };
        match standing {
            Standing::Same => all.there = all.there.saturating_add(1),
            Standing::Other(shown) => {
                let mend = "keep what is right; a value in the book is corrected there, with a correction";
                faults.say(&line.place, item, format!("the book says otherwise: {shown}"), mend);
            }
            Standing::New => match yaml::append_item(&all.text, blocks, &name, list, &item) {
                None => {
                    let mend = "write its entries one below the other, each behind a dash";
                    faults.say(
                        &line.place,
                        format!("`{name}`"),
                        format!("{file} cannot be added to there"),
                        mend,
                    );
                }
                Some(text) => {
                    let before = all.text.clone();
                    all.text = text;
                    all.added.push((name, item));
                    for wrong in wrongs(&all.text, analyses) {
                        let mend = wrong.hint.unwrap_or_default();
                        faults.say(
                            &line.place,
                            wrong.message,
                            format!("see `{}` of {file}", wrong.path),
                            &mend,
                        );
                    }
                    if told(faults) {
                        all.text = before;
                        all.added.pop();
                    }
                }
            },
        }
    }
    all
}

/// What the book says of the moment or day an entry is about.
enum Standing {
    New,
    Same,
    Other(String),
}

fn of_bath(text: &str, name: &str, item: &str) -> Standing {
    let (Ok(book), Ok(new)) = (yaml::parse::<Baths>(text), yaml::parse::<Analysis>(item)) else {
        return Standing::New;
    };
    let bath = book.baths.iter().find(|bath| bath.bath == name);
    match bath.and_then(|bath| bath.analyses.iter().find(|a| a.at == new.at)) {
        None => Standing::New,
        Some(old) if *old == new => Standing::Same,
        Some(old) => {
            let found: Vec<String> = old.found.values().map(ToString::to_string).collect();
            Standing::Other(format!("{} by {}, {}", old.at, old.by, found.join(", ")))
        }
    }
}

fn of_instrument(text: &str, name: &str, item: &str) -> Standing {
    let (Ok(book), Ok(new)) = (yaml::parse::<Instruments>(text), yaml::parse::<Calibration>(item)) else {
        return Standing::New;
    };
    let instrument = book.instruments.iter().find(|i| i.instrument == name);
    let same = |old: &&Calibration| old.on == new.on || old.certificate == new.certificate;
    match instrument.and_then(|i| i.calibrations.iter().find(same)) {
        None => Standing::New,
        Some(old) if *old == new => Standing::Same,
        Some(old) => {
            let passed = if old.passed { "passed" } else { "failed" };
            Standing::Other(format!("{} on {}, due {}, {passed}", old.certificate, old.on, old.due))
        }
    }
}

/// What the book may not say once the entry stands in it.
fn wrongs(text: &str, analyses: bool) -> Vec<Wrong> {
    let unread = |fault: yaml::Fault| {
        vec![Wrong { path: crate::path::Path::root(), message: fault.message.clone(), hint: fault.hint() }]
    };
    if analyses {
        yaml::parse::<Baths>(text).map_or_else(unread, |book| validate::baths(&book))
    } else {
        yaml::parse::<Instruments>(text).map_or_else(unread, |book| validate::instruments(&book))
    }
}
