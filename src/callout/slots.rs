//! The slots of one standard's call-out: edition, treatment, class, tests and options.

use super::Ask;
use super::Assumption;
use super::items::Item;
use super::items::What;
use super::lexer::Token;
use super::reading::Answer;
use super::reading::Called;
use super::reading::Found;
use super::standards::Edition;
use super::standards::shown;
use super::treatment;
use super::treatment::Outcome;
use super::treatment::joined_by_or;
use super::vocabulary::PackFacts;
use super::vocabulary::Vocabulary;
use crate::part::CallOut;
use crate::part::OrderOption;
use crate::record::TestKind;

impl Answer {
    /// The call-out of one standard, and the treatment read.
    pub fn call_out(
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
                pack.pack.default_class.as_ref()?;
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
