//! Finds what a text says beside its standards: verbs, treatments, tests, classes and options.

use super::lexer::Token;
use super::lexer::value;
use super::vocabulary::Acid;
use super::vocabulary::Vocabulary;
use crate::part::OrderOption;
use crate::record::TestKind;

/// One thing said, and where.
#[derive(Debug, Clone)]
pub struct Item {
    /// First token.
    pub from: usize,
    /// The token behind the last.
    pub to: usize,
    pub what: What,
}

/// What is said.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum What {
    /// Passivate, with the misspelt word where it is one.
    Passivate(Option<String>),
    /// Electropolish, likewise.
    Electropolish(Option<String>),
    /// A word with its number or letter: `NITRIC 2`, `PRACTICE D`.
    Numbered(String, String),
    /// A treatment's name without a number.
    Phrase(Vec<String>),
    /// The acid alone.
    Acid(Acid),
    /// Dichromate beside a treatment.
    Dichromate,
    /// A misspelt word of a treatment.
    BadTreatment(String),
    /// A test.
    Test(TestKind),
    /// A misspelt word of a test, or a name that several have.
    BadTest(String),
    /// A class.
    Class(String),
    /// An option.
    Option(OrderOption),
}

const PASSIVATE: &[&str] =
    &["PASSIVATE", "PASSIVATED", "PASSIVATING", "PASSIVATION", "PASSIVATES", "REPASSIVATE", "REPASSIVATED"];
const ELECTROPOLISH: &[&str] = &["ELECTROPOLISH", "ELECTROPOLISHED", "ELECTROPOLISHING", "ELECTROPOLISHES"];
const TREATMENT: &[&str] = &["NITRIC", "CITRIC", "METHOD", "DICHROMATE"];
const TEST: &[&str] =
    &["COPPER", "SULFATE", "SPRAY", "WATER", "IMMERSION", "HUMIDITY", "FERROXYL", "FERRICYANIDE", "PRACTICE"];

/// Test names of two words or more, the longest first.
const TESTS: &[(&[&str], TestKind)] = &[
    (&["WETTING", "AND", "DRYING"], TestKind::WettingAndDrying),
    (&["FERRICYANIDE", "-", "NITRIC"], TestKind::FerricyanideNitric),
    (&["FERRICYANIDE", "NITRIC"], TestKind::FerricyanideNitric),
    (&["FERRICYANIDE", "/", "NITRIC"], TestKind::FerricyanideNitric),
    (&["MODIFIED", "FERROXYL"], TestKind::ModifiedFerroxyl),
    (&["WATER", "IMMERSION"], TestKind::WaterImmersion),
    (&["HIGH", "HUMIDITY"], TestKind::HighHumidity),
    (&["HUMIDITY", "TEST"], TestKind::HighHumidity),
    (&["SALT", "SPRAY"], TestKind::SaltSpray),
    (&["COPPER", "SULFATE"], TestKind::CopperSulfate),
    (&["DAMP", "CLOTH"], TestKind::DampCloth),
    (&["WATER", "BREAK"], TestKind::WaterBreak),
    (&["WATER", "-", "BREAK"], TestKind::WaterBreak),
    (&["WIPE", "TEST"], TestKind::Wipe),
    (&["GD", "-", "OES"], TestKind::GlowDischarge),
    (&["GD", "OES"], TestKind::GlowDischarge),
    (&["GDOES"], TestKind::GlowDischarge),
    (&["FERROXYL"], TestKind::Ferroxyl),
    (&["FERRICYANIDE"], TestKind::FerricyanideNitric),
    (&["AES"], TestKind::Auger),
    (&["XPS"], TestKind::Photoelectron),
    (&["SEM"], TestKind::ElectronMicroscope),
];

/// Pairs of words of which one misspelt makes the test a misspelt one.
const PAIRS: &[(&str, &str)] = &[
    ("COPPER", "SULFATE"),
    ("SALT", "SPRAY"),
    ("WATER", "IMMERSION"),
    ("HIGH", "HUMIDITY"),
    ("HUMIDITY", "TEST"),
];

/// Whether the tokens from here on are these words.
pub fn fits(tokens: &[Token], from: usize, words: &[&str]) -> bool {
    words.iter().enumerate().all(|(k, word)| tokens.get(from + k).is_some_and(|t| t.is(word)))
}

/// How many tokens a name takes here, a hyphen between its words or none.
fn spelt(tokens: &[Token], from: usize, words: &[&str]) -> Option<usize> {
    let mut at = from;
    for (k, word) in words.iter().enumerate() {
        if k > 0 && *word != "-" && tokens.get(at).is_some_and(|t| t.is("-") && t.glued) {
            at += 1;
        }
        tokens.get(at).filter(|t| t.is(word))?;
        at += 1;
    }
    Some(at - from)
}

/// Whether a word is a listed one with one letter wrong, missing, extra or swapped.
fn near(text: &str, words: &[&str]) -> bool {
    let length = text.chars().count();
    length >= 5
        && words.iter().any(|word| word.len().abs_diff(length) <= 1 && strsim::osa_distance(text, word) == 1)
}

fn listed(text: &str) -> bool {
    [PASSIVATE, ELECTROPOLISH, TREATMENT, TEST].iter().any(|words| words.contains(&text))
}

/// All that is said outside of the designations; `taken` marks their tokens, and what is found here is marked too.
pub fn items(tokens: &[Token], words: &Vocabulary, taken: &mut [bool]) -> Vec<Item> {
    let mut found = Vec::new();
    let mut i = 0;
    while i < tokens.len() {
        if taken.get(i).copied().unwrap_or(true) {
            i += 1;
            continue;
        }
        let all = at(tokens, words, i, taken);
        let next = all.iter().map(|item| item.to).max().unwrap_or(i + 1).max(i + 1);
        if !all.is_empty() {
            for mark in taken.get_mut(i..next.min(tokens.len())).unwrap_or_default() {
                *mark = true;
            }
        }
        found.extend(all);
        i = next;
    }
    found
}

fn at(tokens: &[Token], words: &Vocabulary, i: usize, taken: &[bool]) -> Vec<Item> {
    let one = |length: usize, what: What| vec![Item { from: i, to: i + length, what }];
    let Some(token) = tokens.get(i).filter(|t| t.is_word()) else { return Vec::new() };
    // Letters behind a figure without a space are part of another word: 316SEM.
    let inside = token.glued && i.checked_sub(1).and_then(|b| tokens.get(b)).is_some_and(Token::is_number);
    if inside {
        return Vec::new();
    }
    let text = token.text.as_str();
    if let Some((length, option)) = option(tokens, i) {
        let mut all = one(length, What::Option(option));
        if option == OrderOption::MethodTwoAuthorized {
            all.extend(one(length, What::Numbered("METHOD".to_owned(), "2".to_owned())));
        }
        return all;
    }
    if let Some(phrase) = words.phrases.iter().find(|p| phrase_fits(tokens, i, p)) {
        let marking = text == "ELECTROCHEMICAL"
            && tokens.get(i + 1).is_some_and(|t| t.text.starts_with("ETCH") || t.text.starts_with("MARK"));
        return if marking { Vec::new() } else { one(phrase.len(), What::Phrase(phrase.clone())) };
    }
    if let Some((length, kind)) = TESTS.iter().find_map(|(name, kind)| Some((spelt(tokens, i, name)?, *kind)))
    {
        return one(length, What::Test(kind));
    }
    if fits(tokens, i, &["FREE", "IRON", "TEST"]) {
        return one(3, What::BadTest("FREE IRON TEST".to_owned()));
    }
    // `HUMIDITY AND SALT SPRAY TESTS`, `WIPE AND WATER BREAK TESTS`
    let listed_test = matches!(text, "HUMIDITY" | "WIPE")
        && tokens.get(i + 1).is_some_and(|t| matches!(t.text.as_str(), "AND" | "OR" | "&" | "/" | ","))
        && TESTS.iter().any(|(name, _)| {
            fits(tokens, i + 2, name) && tokens.get(i + 2 + name.len()).is_some_and(|t| t.is("TEST"))
        });
    if listed_test {
        let kind = if text == "WIPE" { TestKind::Wipe } else { TestKind::HighHumidity };
        return one(1, What::Test(kind));
    }
    if let Some(shown) = bad_test(tokens, i) {
        return one(shown.split(' ').count(), What::BadTest(shown));
    }
    if PASSIVATE.contains(&text) {
        return one(1, What::Passivate(None));
    }
    if ELECTROPOLISH.contains(&text) {
        return one(1, What::Electropolish(None));
    }
    if text == "CLASS" {
        return class(tokens, i);
    }
    if words.treatment_words.contains(text) || words.test_words.contains(text) {
        let all = numbered(tokens, words, i, taken);
        if !all.is_empty() {
            return all;
        }
    }
    match text {
        "NITRIC" => return one(1, What::Acid(Acid::Nitric)),
        "CITRIC" => return one(1, What::Acid(Acid::Citric)),
        "DICHROMATE" => return one(1, What::Dichromate),
        _ => {}
    }
    if listed(text) {
        return Vec::new();
    }
    if near(text, PASSIVATE) {
        return one(1, What::Passivate(Some(text.to_owned())));
    }
    if near(text, ELECTROPOLISH) {
        return one(1, What::Electropolish(Some(text.to_owned())));
    }
    if near(text, TREATMENT) {
        return one(1, What::BadTreatment(text.to_owned()));
    }
    Vec::new()
}

fn phrase_fits(tokens: &[Token], from: usize, phrase: &[String]) -> bool {
    let together =
        phrase.iter().enumerate().all(|(k, word)| tokens.get(from + k).is_some_and(|t| t.is(word)));
    // GP 3 or HP40 is another thing's name.
    together && !tokens.get(from + phrase.len()).is_some_and(|t| t.glued && t.is_number())
}

fn option(tokens: &[Token], i: usize) -> Option<(usize, OrderOption)> {
    let fit = |words: &[&str]| fits(tokens, i, words);
    let at = |k: usize| tokens.get(i + k).map_or("", |t| t.text.as_str());
    if fit(&["DICHROMATE"]) {
        let dash = usize::from(at(1) == "-");
        let after = matches!(at(1 + dash), "POST" | "POSTTREATMENT" | "AFTER");
        if after && (at(1 + dash) != "AFTER" || matches!(at(2 + dash), "-" | "TREATMENT")) {
            let tail = [1 + dash + 1, 1 + dash + 2].into_iter().find(|k| at(*k).starts_with("TREAT"));
            return Some((tail.map_or(2 + dash, |k| k + 1), OrderOption::DichromatePostTreatment));
        }
        let post = i.saturating_sub(4)..i;
        let clause = tokens.get(i)?.clause;
        let before = tokens.get(post).unwrap_or_default().iter();
        if before.into_iter().any(|t| t.is("POST") && t.clause == clause) {
            return Some((1, OrderOption::DichromatePostTreatment));
        }
        return None;
    }
    if fit(&["COUPON"]) {
        let allowed =
            matches!(at(1), "ALLOWED" | "ACCEPTABLE" | "PERMITTED") || fit(&["COUPON", "MAY", "BE", "USED"]);
        let length = if at(1) == "MAY" { 4 } else { 2 };
        return allowed.then_some((length, OrderOption::CouponsAllowed));
    }
    if fit(&["METHOD", "2", "AUTHORIZED"]) || fit(&["METHOD", "II", "AUTHORIZED"]) {
        return Some((3, OrderOption::MethodTwoAuthorized));
    }
    if ["NEUTRALIZ", "NEUTRALIS"].iter().any(|stem| at(0).starts_with(stem)) {
        return Some((1, OrderOption::Neutralization));
    }
    if fit(&["HYDROGEN", "RELIEF"]) {
        return Some((2, OrderOption::HydrogenRelief));
    }
    if fit(&["HYDROGEN", "EMBRITTLEMENT", "RELIEF"]) {
        return Some((3, OrderOption::HydrogenRelief));
    }
    let records = ["OPEN", "AVAILABLE"]
        .iter()
        .any(|open| ["TO", "FOR"].iter().any(|to| fit(&["RECORDS", open, to, "INSPECTION"])));
    records.then_some((4, OrderOption::RecordsOpen))
}

fn bad_test(tokens: &[Token], i: usize) -> Option<String> {
    let text = |k: usize| tokens.get(k).map_or("", |t| t.text.as_str());
    let (word, next) = (text(i), text(i + 1));
    let wrong = |found: &str, meant: &str| !listed(found) && near(found, &[meant]);
    for (first, second) in PAIRS {
        // HIGH, SALT and TEST are short: they must be right.
        if wrong(word, first) && next == *second || word == *first && wrong(next, second) {
            return Some(format!("{word} {next}"));
        }
    }
    let letter = tokens.get(i + 1).and_then(value).is_some();
    let alone = wrong(word, "FERROXYL") || wrong(word, "FERRICYANIDE") || wrong(word, "PRACTICE") && letter;
    alone.then(|| word.to_owned())
}

/// A class, unless it is a clean room's or a thread's.
fn class(tokens: &[Token], i: usize) -> Vec<Item> {
    let skip = usize::from(tokens.get(i + 1).is_some_and(|t| t.is("-")));
    let at = i + 1 + skip;
    let clean = i.checked_sub(1).and_then(|b| tokens.get(b)).is_some_and(|t| t.is("ISO"))
        || tokens.get(at + 1).is_some_and(|t| t.text.starts_with("CLEAN"));
    let Some(number) = tokens.get(at).and_then(value).filter(|n| n.len() == 1 && !clean) else {
        return Vec::new();
    };
    let digits = number.bytes().all(|b| b.is_ascii_digit());
    if !digits || tokens.get(at + 1).is_some_and(|t| t.glued && t.is_word()) {
        return Vec::new();
    }
    let mut all = vec![Item { from: i, to: at + 1, what: What::Class(number) }];
    let more = tokens.get(at + 1).is_some_and(|t| matches!(t.text.as_str(), "OR" | "/" | "AND" | "&"));
    if let Some(number) = tokens
        .get(at + 2)
        .and_then(value)
        .filter(|n| more && n.len() == 1 && n.bytes().all(|b| b.is_ascii_digit()))
    {
        all.push(Item { from: at + 2, to: at + 3, what: What::Class(number) });
    }
    all
}

/// `NITRIC 2`, `METHOD 100 AND 104`, `TYPE VI OR VII`: one item a number.
fn numbered(tokens: &[Token], words: &Vocabulary, i: usize, taken: &[bool]) -> Vec<Item> {
    let Some(word) = tokens.get(i).map(|t| t.text.clone()) else { return Vec::new() };
    let lettered = words.lettered.contains(&word);
    let number = |at: usize| {
        let token = tokens.get(at).filter(|_| !taken.get(at).copied().unwrap_or(true))?;
        let number = value(token)?;
        let digits = number.bytes().all(|b| b.is_ascii_digit());
        let next = tokens.get(at + 1);
        // TYPE 316L and TYPE 17-4 are grades; NITRIC 20-25% is a strength; 0.4 µm is a measure.
        let hangs = next.is_some_and(|n| n.glued && (n.is_word() || n.is_number()));
        let runs_on = next.is_some_and(|n| n.is("-") && n.glued)
            && tokens.get(at + 2).is_some_and(|n| n.glued && n.is_number());
        let measured = next.is_some_and(|n| MEASURES.contains(&n.text.as_str())) && token.is_number();
        let long = if words.test_words.contains(&word) { 3 } else { 2 };
        let plain =
            digits && token.text.len() <= if token.is_number() { long } else { 4 } || !digits && lettered;
        (plain && !hangs && !runs_on && !measured).then_some(number)
    };
    let mut at = i + 1 + usize::from(tokens.get(i + 1).is_some_and(|t| t.is("-")));
    let mut all = Vec::new();
    let mut from = i;
    while let Some(number) = number(at) {
        all.push(Item { from, to: at + 1, what: What::Numbered(word.clone(), number) });
        let next = tokens.get(at + 1).map_or("", |t| t.text.as_str());
        // METHODS 101, 102; PRACTICES A, B AND D.
        let listed = next == "," && words.test_words.contains(&word) && in_a_list(tokens, at + 2);
        if !listed && !matches!(next, "OR" | "/" | "AND" | "&") {
            break;
        }
        at += 2;
        from = at;
    }
    all
}

/// Whether a test's number or letter stands here as one of a list.
fn in_a_list(tokens: &[Token], at: usize) -> bool {
    let ends = tokens.get(at + 1).is_none_or(|t| !t.is_word() || matches!(t.text.as_str(), "AND" | "OR"));
    tokens.get(at).is_some_and(|t| t.text.len() == if t.is_number() { 3 } else { 1 }) && ends
}

/// What makes a number behind a word a measure and no name.
const MEASURES: &[&str] = &[
    "%",
    "PERCENT",
    "°",
    "DEG",
    "µIN",
    "UIN",
    "U",
    "µ",
    "µM",
    "UM",
    "MICROINCH",
    "MICRO",
    "MICRON",
    "MICRONS",
    "MM",
    "INCH",
    "\"",
    "RA",
    "RQ",
    "RZ",
    "RMS",
    "AARH",
    "AA",
    "CLA",
    "HR",
    "HRS",
    "HOUR",
    "HOURS",
    "MINUTES",
    "FINISH",
];
