//! What the packs say of names, treatments, tests and classes, made ready for reading a text. Nothing here knows a
//! standard by name: a purchaser's own pack is read like any other.

use std::collections::BTreeSet;

use super::lexer;
use super::lexer::Token;
use super::lexer::value;
use crate::pack::Basis;
use crate::pack::Check;
use crate::pack::Pack;
use crate::pack::Requirement;
use crate::pack::SamplingPlans;
use crate::pack::Subject;
use crate::pack::TreatmentStep;
use crate::part::OrderOption;
use crate::record::TestKind;
use crate::sampling::Name as Plan;

/// The acid of a bath.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Acid {
    Nitric,
    Citric,
}

/// One part of a name: a word with its number or letter, or a word.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Piece {
    Numbered(String, String),
    Word(String),
}

/// A treatment with what a text may say of it.
#[derive(Debug)]
pub struct TreatmentFacts {
    pub pieces: Vec<Piece>,
    pub acid: Option<Acid>,
    /// Its bath holds dichromate, or may.
    pub dichromate: bool,
}

/// A standard with what a text may say of it.
#[derive(Debug)]
pub struct PackFacts<'a> {
    pub pack: &'a Pack,
    /// Its names as tokens run together, with whether each is the whole designation.
    pub names: Vec<Name>,
    pub treatments: Vec<TreatmentFacts>,
    /// The names of its tests: `practice A` as word and letter.
    pub tests: Vec<Option<(String, String)>>,
    /// The order itself must name the treatment.
    pub orders_treatment: bool,
    /// It has a class of its own for fasteners and standard parts.
    pub fastener_class: bool,
    /// Every edition was replaced by a later text.
    pub replaced: bool,
}

/// One way a designation is written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Name {
    /// Letters, digits and strokes, run together.
    pub run: String,
    /// It is written for one unit system where the designation has two.
    pub half: bool,
}

/// All packs, and the words they share.
#[derive(Debug)]
pub struct Vocabulary<'a> {
    pub packs: Vec<PackFacts<'a>>,
    /// Words with numbers that name treatments, and that name tests.
    pub treatment_words: BTreeSet<String>,
    pub test_words: BTreeSet<String>,
    /// Where a letter may stand for the number.
    pub lettered: BTreeSet<String>,
    /// Names of treatments without a number, longest first.
    pub phrases: Vec<Vec<String>>,
    /// The sampling standard, its name run together, and its levels.
    pub sampling: Option<(Name, String)>,
    pub levels: Vec<(String, Plan)>,
}

impl<'a> Vocabulary<'a> {
    pub fn of(packs: &'a [Pack], sampling: &'a SamplingPlans) -> Vocabulary<'a> {
        let packs: Vec<PackFacts> = packs.iter().filter(|p| !p.is_house()).map(facts).collect();
        let mut all = Vocabulary {
            treatment_words: BTreeSet::new(),
            test_words: BTreeSet::new(),
            lettered: BTreeSet::new(),
            phrases: Vec::new(),
            sampling: Some((name(&sampling.designation), sampling.designation.clone())),
            levels: sampling.levels.iter().filter_map(|l| level(l.level)).collect(),
            packs: Vec::new(),
        };
        for pack in &packs {
            for treatment in &pack.treatments {
                let mut words = Vec::new();
                for piece in &treatment.pieces {
                    match piece {
                        Piece::Numbered(word, number) => {
                            all.treatment_words.insert(word.clone());
                            if !number.bytes().all(|b| b.is_ascii_digit()) {
                                all.lettered.insert(word.clone());
                            }
                        }
                        Piece::Word(word) => words.push(word.clone()),
                    }
                }
                // What is said by its verb, and what every text may say of anything, is no name to look for.
                let telling = words.len() > 1 || words.iter().any(|w| !PLAIN.contains(&w.as_str()));
                if words.len() == treatment.pieces.len() && telling && !all.phrases.contains(&words) {
                    all.phrases.push(words);
                }
            }
            for (word, number) in pack.tests.iter().flatten() {
                all.test_words.insert(word.clone());
                if !number.bytes().all(|b| b.is_ascii_digit()) {
                    all.lettered.insert(word.clone());
                }
            }
        }
        all.phrases.sort_by_key(|words| std::cmp::Reverse(words.len()));
        all.packs = packs;
        all
    }
}

/// One-word names that are read by other means, or never: verbs, the acid alone, and `Other`.
const PLAIN: &[&str] = &["OTHER", "PASSIVATION", "PASSIVATE", "ELECTROPOLISH", "NITRIC", "CITRIC"];

fn facts(pack: &Pack) -> PackFacts<'_> {
    let applies = |r: &Requirement| !r.advice && r.when.is_always();
    let written = std::iter::once(&pack.designation).chain(&pack.also_written);
    let both = pack.designation.contains('/');
    let mut names: Vec<Name> = Vec::new();
    let mut add = |run: String, half: bool| {
        if run.chars().any(char::is_alphanumeric) && !names.iter().any(|n| n.run == run) {
            names.push(Name { run, half });
        }
    };
    for text in written {
        let run = name(text).run;
        add(run.clone(), both && !run.contains('/'));
        // `A967/A967M` is one standard in two unit systems: either stands for it.
        if both && let Some((first, second)) = run.split_once('/') {
            let issuer = first.strip_suffix(second.trim_end_matches('M')).unwrap_or_default();
            add(first.to_owned(), true);
            add(format!("{issuer}{second}"), true);
        }
    }
    PackFacts {
        pack,
        names,
        treatments: pack.treatments.iter().map(|t| treatment(pack, &t.id, &t.name)).collect(),
        tests: pack.tests.iter().map(|t| numbered(&t.name)).collect(),
        orders_treatment: pack
            .requirements
            .iter()
            .any(|r| r.subject == Subject::TreatmentOrdered && applies(r)),
        fastener_class: pack
            .requirements
            .iter()
            .any(|r| r.when.options.contains(&OrderOption::FastenersOrStandardParts)),
        replaced: pack.editions.iter().all(|e| pack.superseded_by.contains_key(e)),
    }
}

fn treatment(pack: &Pack, id: &str, name: &str) -> TreatmentFacts {
    let about = |r: &&Requirement| !r.advice && r.when.treatments.iter().any(|t| t == id);
    let bath: Vec<&Requirement> = pack.requirements.iter().filter(about).collect();
    let held = |what: &str| {
        bath.iter().any(|r| match &r.check {
            Check::Only(words) | Check::OneOf(words) => {
                r.subject == Subject::BathIngredients && words.iter().any(|w| w.contains(what))
            }
            _ => false,
        })
    };
    let asked = |subject| bath.iter().any(|r| r.subject == subject);
    let pieces = pieces(name);
    let named = |word: &str| {
        pieces.iter().any(|p| match p {
            Piece::Numbered(text, _) | Piece::Word(text) => text == word,
        })
    };
    let acid = if named("NITRIC") || asked(Subject::NitricAcid) || held("nitric acid") {
        Some(Acid::Nitric)
    } else if named("CITRIC") || asked(Subject::CitricAcid) || held("citric acid") || held("citrate") {
        Some(Acid::Citric)
    } else {
        None
    };
    // A nitric bath of which nothing is laid down may hold it too.
    let free = acid == Some(Acid::Nitric) && !asked(Subject::NitricAcid) && !asked(Subject::BathIngredients);
    let dichromate = named("DICHROMATE") || asked(Subject::SodiumDichromate) || held("dichromate") || free;
    TreatmentFacts { pieces, acid, dichromate }
}

/// A name in its pieces.
pub fn pieces(name: &str) -> Vec<Piece> {
    let tokens: Vec<Token> = lexer::tokens(name);
    let mut found = Vec::new();
    let mut i = 0;
    while let Some(token) = tokens.get(i) {
        i += 1;
        if !token.is_word() {
            continue;
        }
        let skip = usize::from(tokens.get(i).is_some_and(|t| t.is("-")));
        match tokens.get(i + skip).and_then(value) {
            Some(number) => {
                found.push(Piece::Numbered(token.text.clone(), number));
                i += skip + 1;
            }
            None => found.push(Piece::Word(token.text.clone())),
        }
    }
    found
}

fn numbered(name: &str) -> Option<(String, String)> {
    match pieces(name).as_slice() {
        [Piece::Numbered(word, number)] => Some((word.clone(), number.clone())),
        _ => None,
    }
}

/// A designation run together: letters, digits and strokes.
fn name(text: &str) -> Name {
    let wanted = |t: &Token| t.is_word() || t.is_number() || t.is("/");
    Name { run: lexer::tokens(text).into_iter().filter(wanted).map(|t| t.text).collect(), half: false }
}

fn level(plan: Plan) -> Option<(String, Plan)> {
    let pieces = pieces(&plan.to_string());
    pieces.into_iter().rev().find_map(|p| match p {
        Piece::Numbered(word, number) if word == "LEVEL" => Some((number, plan)),
        _ => None,
    })
}

impl PackFacts<'_> {
    /// The treatments a word with its number may name.
    pub fn fitting(&self, word: &str, number: &str) -> Vec<usize> {
        self.those(|t| {
            t.pieces.iter().any(|p| matches!(p, Piece::Numbered(w, n) if w == word && n == number))
        })
    }

    /// The treatment that has just these words for its name.
    pub fn called(&self, words: &[String]) -> Vec<usize> {
        let same = |p: &Piece, w: &String| matches!(p, Piece::Word(text) if text == w);
        self.those(|t| t.pieces.len() == words.len() && t.pieces.iter().zip(words).all(|(p, w)| same(p, w)))
    }

    fn those(&self, fits: impl Fn(&TreatmentFacts) -> bool) -> Vec<usize> {
        self.treatments.iter().enumerate().filter(|(_, t)| fits(t)).map(|(i, _)| i).collect()
    }

    /// The test a word with its letter or number names.
    pub fn test_called(&self, word: &str, number: &str) -> Option<TestKind> {
        let at = self.tests.iter().position(|t| t.as_ref().is_some_and(|(w, n)| w == word && n == number))?;
        self.pack.tests.get(at).map(|t| t.test)
    }

    pub fn has_test(&self, kind: TestKind) -> bool {
        self.pack.tests.iter().any(|t| t.test == kind)
    }

    pub fn has_class(&self, class: &str) -> bool {
        self.pack.classes.iter().any(|c| c.class == class)
    }

    /// The name of a treatment, as call-outs write it.
    pub fn treatment_name(&self, at: usize) -> Option<&str> {
        self.pack.treatments.get(at).map(|t| t.name.as_str())
    }

    fn treatment_id(&self, at: usize) -> Option<&str> {
        self.pack.treatments.get(at).map(|t| t.id.as_str())
    }

    /// Whether electropolishing can be asked for under it, with this treatment or with none named.
    pub fn polishes(&self, treatment: Option<usize>) -> bool {
        let polish =
            |at: usize| self.pack.treatments.get(at).is_some_and(|t| t.step == TreatmentStep::Electropolish);
        let any = (0..self.pack.treatments.len()).any(polish);
        let all = any && (0..self.pack.treatments.len()).all(polish);
        all || any && self.orders_treatment || treatment.is_some_and(polish)
    }

    /// Whether a demand of this kind holds for the treatment and edition read.
    fn demands(&self, subjects: &[Subject], treatment: Option<usize>, edition: Option<&str>) -> bool {
        let id = treatment.and_then(|at| self.treatment_id(at));
        self.pack.requirements.iter().any(|r| {
            let when = &r.when;
            let treated =
                when.treatments.is_empty() || id.is_some_and(|id| when.treatments.iter().any(|t| t == id));
            let dated = when.editions.is_empty()
                || edition.is_some_and(|edition| when.editions.iter().any(|e| e == edition));
            let narrower = !when.tests.is_empty()
                || !when.series.is_empty()
                || !when.options.is_empty()
                || !when.conditions.is_empty()
                || !when.classes.is_empty()
                || !when.used_for.is_empty()
                || when.free_machining.is_some()
                || when.chromium_below.is_some();
            subjects.contains(&r.subject)
                && !r.advice
                && r.basis != Basis::Unsure
                && treated
                && dated
                && !narrower
        })
    }

    /// Whether the order must name a test, for nothing else shows that the treatment worked.
    pub fn wants_test(&self, treatment: Option<usize>, edition: Option<&str>) -> bool {
        !self.pack.shop_chooses_tests
            && !self.pack.tests.is_empty()
            && self.demands(&[Subject::TestOrdered, Subject::TestMade], treatment, edition)
    }

    /// Whether the purchaser must authorize the treatment.
    pub fn wants_authorization(&self, treatment: Option<usize>, edition: Option<&str>) -> bool {
        treatment.is_some() && self.demands(&[Subject::Authorization], treatment, edition)
    }

    /// Whether the order must say how long a test lasts, because the standard does not.
    pub fn wants_duration(&self, tests: &[TestKind]) -> bool {
        self.pack.requirements.iter().any(|r| {
            r.subject == Subject::TestDuration
                && r.check == Check::Present
                && !r.advice
                && (r.when.tests.is_empty() || r.when.tests.iter().any(|t| tests.contains(t)))
        })
    }
}
