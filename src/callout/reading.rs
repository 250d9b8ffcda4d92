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
use super::treatment;
use super::treatment::Outcome;
use super::treatment::joined_by_or;
use super::vocabulary::PackFacts;
use super::vocabulary::Vocabulary;
use crate::part::CallOut;
use crate::part::OrderOption;
use crate::part::SamplingPlan;
use crate::record::TestKind;

/// What stands in a text, before it is put together.
struct Found {
    tokens: Vec<Token>,
    named: Vec<Named>,
    sampling: Vec<standards::Sampling>,
    items: Vec<Item>,
    documents: Vec<String>,
    limits: Limits,
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
struct Called {
    known: Known,
    /// Where it is first named, and every place it is.
    places: Vec<usize>,
    items: Vec<Item>,
    sampling: Option<SamplingPlan>,
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
        let length = run.len();
        let inside = find(run, words);
        if anything(&inside) {
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
struct Answer {
    assumed: Vec<Said<Assumption>>,
    ask: Vec<Said<Ask>>,
}

impl Answer {
    fn assume(&mut self, what: Assumption, about: impl Into<String>) {
        self.assumed.push(Said { what, about: about.into() });
    }

    fn ask(&mut self, what: Ask, about: impl Into<String>) {
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
            match belongs::owner(item, &found.named, &found.tokens, words) {
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
        let Some((_, name)) = &words.sampling else { return };
        for sampling in &found.sampling {
            let sentence = found.tokens.get(sampling.from).map(|t| t.sentence);
            let level = (sampling.to..sampling.to + 6)
                .take_while(|i| found.tokens.get(*i).map(|t| t.sentence) == sentence)
                .find(|i| found.tokens.get(*i).is_some_and(|t| t.is("LEVEL")));
            let number = level.and_then(|i| found.tokens.get(i + 1)).and_then(value);
            let plan = number.and_then(|n| words.levels.iter().find(|(l, _)| *l == n)).map(|(_, plan)| *plan);
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

    /// The call-out of one standard, and the treatment read.
    fn call_out(
        &mut self,
        found: &Found,
        one: &Called,
        pack: &PackFacts,
        words: &Vocabulary,
    ) -> (CallOut, Option<usize>) {
        let edition = self.edition(one, pack);
        let name = match &edition {
            Some(edition) => pack.pack.named(edition),
            None => pack.pack.designation.clone(),
        };
        let treated = self.treatment(found, one, pack, words);
        let class = self.class(found, one, pack, &name);
        let (mut tests, said) = self.tests(found, one, pack, words);
        let mut options: Vec<OrderOption> = Vec::new();
        for item in &one.items {
            if let What::Option(option) = item.what
                && !options.contains(&option)
            {
                options.push(option);
            }
        }
        if pack.treatments.is_empty()
            && let [only] = pack.pack.tests.as_slice()
        {
            // A standard of one test, and of nothing else, always means that test.
            tests = vec![only.test];
        }
        let edition = edition.as_deref();
        if tests.is_empty() && !said && pack.wants_test(treated, edition) {
            self.ask(Ask::Test, name.clone());
        }
        if pack.wants_duration(&tests) && !found.limits.timed {
            self.ask(Ask::Duration, name.clone());
        }
        if pack.wants_authorization(treated, edition) && !options.contains(&OrderOption::MethodTwoAuthorized)
        {
            let treatment = treated.and_then(|t| pack.treatment_name(t)).unwrap_or_default();
            self.ask(Ask::Authorization, format!("{treatment} of {name}"));
        }
        if found.tokens.iter().enumerate().any(|(i, t)| t.is("OR-EQUAL") && serves(found, i, &one.places)) {
            self.ask(Ask::Equivalent, name.clone());
        }
        let treatment = treated.and_then(|t| pack.treatment_name(t)).map(str::to_owned);
        let call_out = CallOut {
            standard: Some(name),
            treatment,
            class,
            tests,
            options,
            sampling: one.sampling,
            ..CallOut::default()
        };
        (call_out, treated)
    }

    fn edition(&mut self, one: &Called, pack: &PackFacts) -> Option<String> {
        let bare = &pack.pack.designation;
        let read = match &one.known.edition {
            Edition::Read(edition) => Some(edition.clone()),
            Edition::None => {
                self.ask(Ask::Edition, bare.clone());
                None
            }
            Edition::Unknown => {
                self.ask(Ask::EditionUnknown, bare.clone());
                None
            }
        };
        if let Some(edition) = &read
            && one.known.half
        {
            self.assume(Assumption::PackFamily, pack.pack.named(edition));
        }
        match &read {
            Some(edition) => {
                if let Some(later) = pack.pack.superseded_by.get(edition) {
                    let named = pack.pack.named(edition);
                    self.ask(Ask::Superseded, format!("{named} was replaced by {}", successor(pack, later)));
                }
            }
            None if pack.replaced => {
                let later: Vec<String> =
                    pack.pack.superseded_by.values().map(|later| successor(pack, later)).collect();
                let later = later.last().map_or("", String::as_str);
                self.ask(
                    Ask::Superseded,
                    format!("Every edition of {bare} was replaced, the last by {later}"),
                );
            }
            None => {}
        }
        read
    }

    /// The treatment read.
    fn treatment(
        &mut self,
        found: &Found,
        one: &Called,
        pack: &PackFacts,
        words: &Vocabulary,
    ) -> Option<usize> {
        let name = &pack.pack.designation;
        let of_a_treatment = |item: &&Item| match &item.what {
            What::Numbered(..) => !of_a_test(&item.what, pack, words),
            What::Phrase(_) | What::Acid(_) | What::Dichromate | What::BadTreatment(_) => true,
            _ => false,
        };
        let said: Vec<&Item> = one.items.iter().filter(of_a_treatment).collect();
        if pack.treatments.is_empty() {
            let named = said.iter().find(|i| !matches!(i.what, What::Acid(_) | What::Dichromate));
            if let Some(item) = named {
                let written = shown(&found.tokens, item.from, item.to);
                self.ask(Ask::TreatmentUnknown, format!("`{written}` is no treatment of {name}"));
            }
            return None;
        }
        let only = (pack.treatments.len() == 1).then_some(0);
        match treatment::treatment(pack, &said, &found.tokens) {
            Outcome::Unnamed if only.is_some() => only,
            Outcome::Unnamed if pack.orders_treatment => {
                self.ask(Ask::Treatment, format!("No treatment of {name} is named"));
                None
            }
            Outcome::Unnamed => {
                self.assume(Assumption::ShopChooses, name);
                None
            }
            Outcome::Read(at, inferred) => {
                if inferred {
                    self.assume(Assumption::TypeIsMethod, pack.treatment_name(at).unwrap_or_default());
                }
                Some(at)
            }
            // The acid of a bath that is the only one is no half of a name.
            Outcome::Asked(Ask::Treatment, _) if only.is_some() => only,
            Outcome::Asked(ask, about) => {
                self.ask(ask, about);
                only
            }
        }
    }

    fn class(&mut self, found: &Found, one: &Called, pack: &PackFacts, name: &str) -> Option<String> {
        let mut classes: Vec<(&Item, &str)> = Vec::new();
        for item in &one.items {
            if let What::Class(class) = &item.what
                && !classes.iter().any(|(_, c)| c == class)
            {
                classes.push((item, class));
            }
        }
        match classes.as_slice() {
            [] => {
                if pack.pack.default_class.is_none() {
                    return None;
                }
                if pack.fastener_class && fasteners(&found.tokens) {
                    self.ask(Ask::Class, name);
                } else {
                    self.assume(Assumption::DefaultClass, name);
                }
                None
            }
            [(_, class)] if pack.has_class(class) => Some((*class).to_owned()),
            [(_, class)] => {
                self.ask(Ask::Contradiction, format!("Class {class} of {name}, which has no such class,"));
                None
            }
            [(first, a), (second, b), ..] => {
                let ask = if joined_by_or(&found.tokens, first.to, second.from) {
                    Ask::Alternative
                } else {
                    Ask::Contradiction
                };
                self.ask(ask, format!("Class {a} and class {b}"));
                None
            }
        }
    }

    /// The tests read, and whether the text names any at all.
    fn tests(
        &mut self,
        found: &Found,
        one: &Called,
        pack: &PackFacts,
        words: &Vocabulary,
    ) -> (Vec<TestKind>, bool) {
        let mut said: Vec<(&Item, TestKind)> = Vec::new();
        let mut unknown = false;
        for item in &one.items {
            let kind = match &item.what {
                What::Test(kind) => pack.has_test(*kind).then_some(*kind),
                What::Numbered(word, number) if of_a_test(&item.what, pack, words) => {
                    pack.test_called(word, number)
                }
                What::BadTest(_) => None,
                _ => continue,
            };
            match kind {
                Some(kind) => said.push((item, kind)),
                None => {
                    unknown = true;
                    let written = shown(&found.tokens, item.from, item.to);
                    let name = &pack.pack.designation;
                    self.ask(Ask::TestUnknown, format!("`{written}` names no test of {name}"));
                }
            }
        }
        let mut chosen: Vec<TestKind> = Vec::new();
        for pair in said.windows(2) {
            let [(first, a), (second, b)] = pair else { continue };
            let sentence = |item: &Item| found.tokens.get(item.from).map(|t| t.sentence);
            let joined = joined_by_or(&found.tokens, first.to, second.from);
            if a != b && sentence(first) == sentence(second) && joined {
                chosen.extend([*a, *b]);
                self.ask(Ask::Alternative, format!("{} and {}", a.name(), b.name()));
            }
        }
        let mut read: Vec<TestKind> = Vec::new();
        for (_, kind) in &said {
            if !read.contains(kind) && !chosen.contains(kind) {
                read.push(*kind);
            }
        }
        (read, unknown || !said.is_empty())
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

/// Whether a word with its number names a test of the standard, or would if it had it, and no treatment.
fn of_a_test(what: &What, pack: &PackFacts, words: &Vocabulary) -> bool {
    let What::Numbered(word, number) = what else { return false };
    if pack.test_called(word, number).is_some() {
        return true;
    }
    // METHOD names treatments by one figure and tests by three.
    let both = words.treatment_words.contains(word);
    pack.fitting(word, number).is_empty() && words.test_words.contains(word) && (!both || number.len() >= 3)
}

/// Whether words at this place speak of a standard: the last one named before.
fn serves(found: &Found, at: usize, places: &[usize]) -> bool {
    let before = found.named.iter().rposition(|n| n.to <= at);
    before.or(if found.named.is_empty() { None } else { Some(0) }).is_some_and(|n| places.contains(&n))
}

/// A successor as it is printed: another standard, or another edition of this one.
fn successor(pack: &PackFacts, later: &str) -> String {
    let edition = pack.pack.editions.iter().any(|e| e == later);
    if edition { pack.pack.named(later) } else { later.to_owned() }
}

/// Whether the text speaks of fasteners or standard parts.
fn fasteners(tokens: &[Token]) -> bool {
    const WORDS: [&str; 8] = ["BOLT", "BOLTS", "SCREW", "SCREWS", "NUT", "NUTS", "FASTENER", "FASTENERS"];
    tokens.iter().enumerate().any(|(i, t)| {
        let next = tokens.get(i + 1);
        let part = |t: &Token| t.is("PART") || t.is("PARTS");
        let series = matches!(t.text.as_str(), "AN" | "MS" | "NAS");
        WORDS.contains(&t.text.as_str())
            || t.is("STANDARD") && next.is_some_and(part)
            || series && next.is_some_and(|n| n.is_number() || n.is("STANDARD") || part(n))
    })
}
