//! Puts what a text says together: its standards, each with what belongs to it, and its limits.

use super::Ask;
use super::Assumption;
use super::Reading;
use super::Said;
use super::belongs;
use super::belongs::Owner;
use super::document;
use super::items;
use super::items::Item;
use super::items::What;
use super::lexer;
use super::lexer::Token;
use super::lexer::value;
use super::limits;
use super::limits::Limits;
use super::standards;
use super::standards::Designation;
use super::standards::Edition;
use super::standards::Known;
use super::standards::Named;
use super::standards::shown;
use super::vocabulary::PackFacts;
use super::vocabulary::Vocabulary;
use crate::part::CallOut;
use crate::sampling::Aql;
use crate::sampling::Name as Plan;
use crate::sampling::Standard;

/// What stands in a text, before it is put together.
pub struct Found {
    pub tokens: Vec<Token>,
    pub named: Vec<Named>,
    sampling: Vec<standards::Sampling>,
    items: Vec<Item>,
    documents: Vec<String>,
    pub limits: Limits,
}

fn find(tokens: Vec<Token>, words: &Vocabulary) -> Found {
    let (named, sampling) = standards::standards(&tokens, words);
    let mut taken = vec![false; tokens.len()];
    let spans = named.iter().map(|n| n.from..n.to).chain(sampling.iter().map(|s| s.from..s.to));
    for i in spans.flatten() {
        if let Some(mark) = taken.get_mut(i) {
            *mark = true;
        }
    }
    let mut items = items::items(&tokens, words, &mut taken);
    items.retain(|item| in_place(item, &named, words));
    let documents = document::documents(&tokens, &named, &taken);
    let limits = limits::limits(&tokens, &taken);
    Found { tokens, named, sampling, items, documents, limits }
}

/// Short names and lettered ones are words of many trades: they count only beside their standard.
fn in_place(item: &Item, named: &[Named], words: &Vocabulary) -> bool {
    let beside =
        |fits: &dyn Fn(&PackFacts) -> bool| named.iter().filter_map(|n| belongs::facts(n, words)).any(fits);
    match &item.what {
        What::Phrase(name) if name.len() == 1 && name.iter().all(|w| w.chars().count() <= 3) => {
            beside(&|pack| !pack.called(name).is_empty())
        }
        What::Numbered(word, _) if words.lettered.contains(word) && !words.test_words.contains(word) => {
            beside(&|pack| {
                pack.treatments.iter().flat_map(|t| &t.pieces).any(|piece| match piece {
                    super::vocabulary::Piece::Numbered(own, _) => own == word,
                    super::vocabulary::Piece::Word(_) => false,
                })
            })
        }
        _ => true,
    }
}

/// One standard as it will be called out.
pub struct Called {
    pub known: Known,
    /// Where it is first named, and every place it is.
    pub places: Vec<usize>,
    pub items: Vec<Item>,
    pub sampling: Option<Plan>,
}

/// Reads a text.
pub fn reading(text: &str, words: &Vocabulary) -> Reading {
    let (kept, dropped) = document::negations(lexer::tokens(text));
    let mut out = Answer::default();
    let found = find(kept, words);
    let mut called = merged(&found, words);
    let lost = out.hand_out(&found, words, &mut called);
    let mut polished = false;
    let mut parts: Vec<(usize, CallOut)> = Vec::new();
    for one in &called {
        let Some(pack) = words.packs.get(one.known.pack) else { continue };
        let (call_out, treated) = out.call_out(&found, one, pack, words);
        polished |= pack.polishes(treated);
        let at = one.places.first().and_then(|p| found.named.get(*p)).map_or(0, |n| n.from);
        parts.push((at, call_out));
    }
    out.unknown(&found);
    out.verbs(&found, &called, words, polished, lost);
    for document in &found.documents {
        out.ask(Ask::Document, document.clone());
    }
    parts.extend(found.limits.read);
    out.assumed.extend(found.limits.assumed);
    out.ask.extend(found.limits.ask);
    if !found.limits.not_carried.is_empty() {
        out.ask(Ask::NotCarried, found.limits.not_carried.join(", "));
    }
    for run in dropped {
        let inside = find(run, words);
        if anything(&inside) {
            // Without the mark or the word that ended it.
            let told = |t: &Token| (t.is_word() || t.is_number()) && !CLOSING.contains(&t.text.as_str());
            let length = inside.tokens.iter().rposition(told).map_or(0, |last| last + 1);
            out.ask(Ask::Negation, shown(&inside.tokens, 0, length));
        }
    }
    parts.sort_by_key(|(at, _)| *at);
    Reading {
        calls_for: parts.into_iter().map(|(_, call_out)| call_out).collect(),
        assumed: once(out.assumed),
        ask: once(out.ask),
    }
}

/// The owner of an item. Items joined by AND or OR are of one standard, which may follow the last of them.
fn owner(item: &Item, found: &Found, words: &Vocabulary) -> Owner {
    let link = |t: &Token| matches!(t.text.as_str(), "OR" | "AND" | "&" | "/" | "TEST");
    let mut last = item;
    for next in found.items.iter().filter(|next| next.from > item.from) {
        let between = found.tokens.get(last.to..next.from).unwrap_or_default();
        if between.is_empty() || !between.iter().all(link) {
            break;
        }
        last = next;
    }
    if last.to > item.to {
        let joined =
            belongs::owner(&Item { to: last.to, ..item.clone() }, &found.named, &found.tokens, words);
        if matches!(joined, Owner::Has(_)) {
            return joined;
        }
    }
    belongs::owner(item, &found.named, &found.tokens, words)
}

/// Words that end what is forbidden and are no part of it.
const CLOSING: &[&str] = &["REQUIRED", "ALLOWED", "PERMITTED", "ACCEPTABLE", "PROHIBITED", "IS", "ARE"];

fn once<W: PartialEq + Clone>(all: Vec<Said<W>>) -> Vec<Said<W>> {
    let mut kept: Vec<Said<W>> = Vec::new();
    for said in all {
        if !kept.contains(&said) {
            kept.push(said);
        }
    }
    kept
}

/// Whether anything the reader knows stands in a text.
fn anything(found: &Found) -> bool {
    let coupons = found.tokens.iter().any(|t| t.is("COUPON"));
    !found.named.is_empty()
        || !found.sampling.is_empty()
        || !found.items.is_empty()
        || !found.limits.read.is_empty()
        || found.limits.any
        || !found.documents.is_empty()
        || coupons
}

/// The standards of the packs, each once.
fn merged(found: &Found, words: &Vocabulary) -> Vec<Called> {
    let mut called: Vec<Called> = Vec::new();
    let known = |(at, named): (usize, &Named)| match &named.what {
        Designation::Known(known) if !named.alternative => Some((at, known.clone())),
        _ => None,
    };
    for (at, known) in found.named.iter().enumerate().filter_map(known) {
        let same = called.iter_mut().find(|c| {
            let other = &c.known;
            if known.edition == Edition::None {
                known.packs.contains(&other.pack)
            } else if other.edition == Edition::None {
                other.packs.contains(&known.pack)
            } else {
                known.pack == other.pack && known.edition == other.edition
            }
        });
        match same {
            Some(one) => {
                one.places.push(at);
                if one.known.edition == Edition::None {
                    one.known = known;
                }
            }
            None => called.push(Called { known, places: vec![at], items: Vec::new(), sampling: None }),
        }
    }
    called.retain(|c| words.packs.get(c.known.pack).is_some());
    called
}

/// What is assumed and asked so far.
#[derive(Default)]
pub struct Answer {
    assumed: Vec<Said<Assumption>>,
    ask: Vec<Said<Ask>>,
}

impl Answer {
    pub fn assume(&mut self, what: Assumption, about: impl Into<String>) {
        self.assumed.push(Said { what, about: about.into() });
    }

    pub fn ask(&mut self, what: Ask, about: impl Into<String>) {
        self.ask.push(Said { what, about: about.into() });
    }

    /// Gives every item to its standard. Answers what nobody serves: as written, the first of it.
    fn hand_out(&mut self, found: &Found, words: &Vocabulary, called: &mut [Called]) -> Option<String> {
        let mut lost = None;
        let nothing = found.named.is_empty();
        let mut lose = |item: &Item| {
            lost.get_or_insert_with(|| shown(&found.tokens, item.from, item.to));
        };
        for item in &found.items {
            let written = shown(&found.tokens, item.from, item.to);
            if matches!(item.what, What::Passivate(_) | What::Electropolish(_)) {
                continue;
            }
            let misspelt = match &item.what {
                What::BadTreatment(_) => Some(Ask::TreatmentUnknown),
                What::BadTest(_) => Some(Ask::TestUnknown),
                _ => None,
            };
            match owner(item, found, words) {
                Owner::Has(at) => {
                    if let Some(one) = called.iter_mut().find(|c| c.places.contains(&at)) {
                        one.items.push(item.clone());
                    }
                }
                Owner::Silent => {}
                Owner::Nobody => {
                    let option = matches!(item.what, What::Option(_));
                    if nothing && !option {
                        lose(item);
                    }
                    if let Some(ask) = misspelt {
                        self.ask(ask, format!("`{written}` is misspelt or has several meanings"));
                    }
                }
                // It stays with the standard it was written for, and is asked about there.
                Owner::Lacks(at) => {
                    if let Some(one) = called.iter_mut().find(|c| c.places.contains(&at)) {
                        one.items.push(item.clone());
                    }
                }
            }
        }
        self.sampling(found, words, called, &mut lost);
        lost
    }

    fn sampling(
        &mut self,
        found: &Found,
        words: &Vocabulary,
        called: &mut [Called],
        lost: &mut Option<String>,
    ) {
        for sampling in &found.sampling {
            let named =
                sampling.indexed.map(Standard::name).or(words.sampling.as_ref().map(|(_, n)| n.as_str()));
            let Some(name) = named.map(str::to_owned) else { continue };
            let sentence = found.tokens.get(sampling.from).map(|t| t.sentence);
            let behind: Vec<&Token> = found
                .tokens
                .iter()
                .skip(sampling.to)
                .take(BEHIND_SAMPLING)
                .take_while(|t| Some(t.sentence) == sentence)
                .collect();
            let plan = match sampling.indexed {
                Some(standard) => indexed_plan(standard, &behind),
                None => named_plan(words, behind.get(..6).unwrap_or(&behind)),
            };
            let Some(plan) = plan else {
                self.ask(Ask::Level, name.clone());
                continue;
            };
            let before = found.named.iter().rposition(|n| n.to <= sampling.from);
            let owner = before.or(if found.named.is_empty() { None } else { Some(0) });
            match owner.map(|at| called.iter_mut().find(|c| c.places.contains(&at))) {
                Some(Some(one)) => one.sampling = Some(plan),
                Some(None) => {}
                None => {
                    lost.get_or_insert_with(|| name.clone());
                }
            }
        }
    }

    /// Designations nobody here knows, and those left to choose from.
    fn unknown(&mut self, found: &Found) {
        let mut choices = Vec::new();
        for named in &found.named {
            let written = shown(&found.tokens, named.from, named.to);
            match &named.what {
                _ if named.alternative => choices.push(written),
                Designation::Unknown(number) => self.ask(Ask::StandardUnknown, number.clone()),
                Designation::Known(_) => {}
            }
        }
        if !choices.is_empty() {
            self.ask(Ask::Alternative, choices.join(" and "));
        }
    }

    /// Misspelt verbs, and verbs no standard serves.
    fn verbs(
        &mut self,
        found: &Found,
        called: &[Called],
        words: &Vocabulary,
        polished: bool,
        lost: Option<String>,
    ) {
        // A choice, a number nobody knows and another paper may all serve.
        let open = !found.documents.is_empty()
            || found.named.iter().any(|n| n.alternative || matches!(n.what, Designation::Unknown(_)));
        let treats = called
            .iter()
            .filter_map(|c| words.packs.get(c.known.pack))
            .any(|pack| !pack.treatments.is_empty());
        let mut unserved = lost;
        for item in &found.items {
            let (served, misspelt, assumption) = match &item.what {
                What::Passivate(bad) => (treats, bad, Assumption::PassivationMeant),
                What::Electropolish(bad) => (polished, bad, Assumption::ElectropolishMeant),
                _ => continue,
            };
            if let Some(bad) = misspelt {
                self.assume(assumption, bad.clone());
            }
            if !served && unserved.is_none() {
                unserved = Some(shown(&found.tokens, item.from, item.to));
            }
        }
        if let Some(what) = unserved.filter(|_| !open) {
            self.ask(Ask::Standard, format!("`{what}`"));
        }
    }
}

/// How far behind a sampling standard its level and AQL may stand.
const BEHIND_SAMPLING: usize = 14;

/// The token behind a word.
fn behind_word<'a>(tokens: &[&'a Token], word: &str) -> Option<(usize, &'a Token)> {
    let at = tokens.iter().position(|t| t.is(word))?.checked_add(1)?;
    tokens.get(at).map(|t| (at, *t))
}

/// A plan of the standard that has named levels alone.
fn named_plan(words: &Vocabulary, behind: &[&Token]) -> Option<Plan> {
    let number = behind_word(behind, "LEVEL").and_then(|(_, t)| value(t))?;
    words.levels.iter().find(|(level, _)| *level == number).map(|(_, plan)| *plan)
}

/// A plan by level and AQL. Neither is guessed: without one of them the text is asked about.
fn indexed_plan(standard: Standard, behind: &[&Token]) -> Option<Plan> {
    let (at, first) = behind_word(behind, "LEVEL")?;
    let level = match value(first)?.as_str() {
        "1" => "I".to_owned(),
        "2" => "II".to_owned(),
        "3" => "III".to_owned(),
        "S" => {
            let rest = behind.get(at.checked_add(1)?..)?;
            let number = rest.iter().find(|t| !t.is("-")).and_then(|t| value(t))?;
            format!("S-{number}")
        }
        _ => return None,
    };
    let (_, quality) = behind_word(behind, "AQL").filter(|(_, t)| t.is_number())?;
    let aql = Aql::near(quality.text.parse().ok()?)?;
    let begins = ["TIGHTENED", "REDUCED"].into_iter().find(|word| behind.iter().any(|t| t.is(word)));
    let begins = begins.map(|word| format!(" {}", word.to_lowercase())).unwrap_or_default();
    format!("{} level {level} AQL {aql}{begins}", standard.name()).parse().ok()
}
