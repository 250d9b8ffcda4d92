//! Finds the standards a text names: those of the packs with their editions, the sampling standard, and
//! designations nobody here knows.

use super::lexer::Token;
use super::vocabulary::Name;
use super::vocabulary::PackFacts;
use super::vocabulary::Vocabulary;
use crate::sampling::Standard;

/// A designation in the text.
#[derive(Debug, Clone)]
pub struct Named {
    /// First token.
    pub from: usize,
    /// The token behind the last.
    pub to: usize,
    pub what: Designation,
    /// It is one of two or more joined by OR.
    pub alternative: bool,
}

/// What a designation means.
#[derive(Debug, Clone)]
pub enum Designation {
    /// A standard of the packs.
    Known(Known),
    /// A number no pack has, as written.
    Unknown(String),
}

/// A standard of the packs as the text names it.
#[derive(Debug, Clone)]
pub struct Known {
    /// Which pack.
    pub pack: usize,
    /// Every pack the name fits.
    pub packs: Vec<usize>,
    pub edition: Edition,
    /// Written for one unit system where the designation has two.
    pub half: bool,
}

/// The edition a text names.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Edition {
    /// None, or the latest.
    None,
    /// One of the pack's, as the pack writes it.
    Read(String),
    /// One no pack has.
    Unknown,
}

/// A sampling standard, and where its name stands.
#[derive(Debug, Clone, Copy)]
pub struct Sampling {
    pub from: usize,
    pub to: usize,
    /// The standard whose plans are indexed by level and AQL; none: the one with named levels alone.
    pub indexed: Option<Standard>,
}

/// Names of the sampling standards whose plans are indexed by level and AQL, run together.
const INDEXED: &[(&str, Standard)] = &[
    ("MILSTD105E", Standard::MilStd105E),
    ("ANSI/ASQZ1.4", Standard::Z14),
    ("ANSI/ASQCZ1.4", Standard::Z14),
    ("ANSIZ1.4", Standard::Z14),
    ("ASQZ1.4", Standard::Z14),
    ("Z1.4", Standard::Z14),
    ("ISO2859-1", Standard::Iso2859),
    ("ISO28591", Standard::Iso2859),
];

/// Whose numbers are designations.
const ISSUERS: &[&str] = &[
    "ASTM", "SAE", "AMS", "ISO", "EN", "DIN", "BS", "JIS", "ASME", "ANSI", "SEMI", "MIL", "QQ", "NASA", "NF",
    "GOST",
];

/// National bodies that put their letters before another's standard.
const TAKEN_OVER: &[&str] = &["DIN", "BS", "EN", "NF", "ANSI"];

/// All designations of a text, in order.
pub fn standards(tokens: &[Token], words: &Vocabulary) -> (Vec<Named>, Vec<Sampling>) {
    let (mut named, mut sampling) = (Vec::new(), Vec::new());
    let mut i = 0;
    while i < tokens.len() {
        if let Some(to) = words.sampling.as_ref().and_then(|(name, _)| sampling_at(tokens, i, name)) {
            sampling.push(Sampling { from: i, to, indexed: None });
            i = to;
        } else if let Some((to, standard)) = indexed_at(tokens, i) {
            sampling.push(Sampling { from: i, to, indexed: Some(standard) });
            i = to;
        } else if let Some(found) = known(tokens, i, words).or_else(|| unknown(tokens, i)) {
            i = found.to.max(i + 1);
            named.push(found);
        } else {
            i += 1;
        }
    }
    mark_alternatives(tokens, &mut named);
    (named, sampling)
}

/// The token behind a name that begins here. Dashes and spaces inside it do not count.
fn run_at(tokens: &[Token], from: usize, run: &str) -> Option<usize> {
    let first = tokens.get(from)?;
    // No name begins in the middle of another.
    let inside = first.glued && from.checked_sub(1).and_then(|i| tokens.get(i)).is_some_and(alphanumeric);
    if inside || !alphanumeric(first) {
        return None;
    }
    let mut rest = run;
    let mut i = from;
    while !rest.is_empty() {
        let token = tokens.get(i)?;
        i += 1;
        if token.is("-") && i > from + 1 {
            continue;
        }
        rest = rest.strip_prefix(token.text.as_str())?;
    }
    Some(i)
}

fn alphanumeric(token: &Token) -> bool {
    token.is_word() || token.is_number()
}

/// Whether what follows a name without a space makes another name of it.
fn ends(tokens: &[Token], to: usize, lettered: bool) -> bool {
    match tokens.get(to) {
        Some(next) if next.glued && next.is_word() => lettered && next.text.chars().count() == 1,
        Some(next) => !(next.glued && next.is_number()),
        None => true,
    }
}

fn sampling_at(tokens: &[Token], from: usize, name: &Name) -> Option<usize> {
    let bare = ISSUERS.iter().find_map(|issuer| name.run.strip_prefix(issuer)).unwrap_or(&name.run);
    let to = run_at(tokens, from, &name.run).or_else(|| run_at(tokens, from, bare))?;
    ends(tokens, to, false).then_some(to)
}

fn indexed_at(tokens: &[Token], from: usize) -> Option<(usize, Standard)> {
    let at = |(name, standard): &(&str, Standard)| {
        let to = run_at(tokens, from, name).filter(|to| ends(tokens, *to, false))?;
        Some((to, *standard))
    };
    INDEXED.iter().find_map(at)
}

fn known(tokens: &[Token], from: usize, words: &Vocabulary) -> Option<Named> {
    // Letters of a national body in front are part of the name.
    let mut skip = from;
    while tokens.get(skip).is_some_and(|t| TAKEN_OVER.contains(&t.text.as_str())) {
        skip += 1;
        if tokens.get(skip).is_some_and(|t| t.is("-")) {
            skip += 1;
        }
    }
    let mut best: Option<(usize, usize, bool, Vec<usize>)> = None;
    for start in from..=skip {
        for (position, pack) in words.packs.iter().enumerate() {
            let lettered = pack.pack.joined_by.is_empty();
            for name in &pack.names {
                let Some(to) = run_at(tokens, start, &name.run) else { continue };
                if !ends(tokens, to, lettered) || !own_issuer(tokens, start, name) {
                    continue;
                }
                match &mut best {
                    Some((_, longest, _, _)) if *longest > to => {}
                    Some((_, longest, half, packs)) if *longest == to => {
                        // The same letters may name two packs, which have other editions.
                        if !packs.contains(&position) {
                            packs.push(position);
                            *half |= name.half;
                        }
                    }
                    _ => best = Some((from, to, name.half, vec![position])),
                }
            }
        }
        if best.is_some() {
            break;
        }
    }
    let (from, to, half, packs) = best?;
    let (edition, to, pack) = edition(tokens, to, &packs, words);
    // The half name of a pack that has no other is its whole one.
    let half = half && words.packs.get(pack).is_some_and(|p| p.pack.designation.contains('/'));
    Some(Named {
        from,
        to,
        what: Designation::Known(Known { pack, packs, edition, half }),
        alternative: false,
    })
}

/// Whether no other issuer's word stands before a name that has none of its own.
fn own_issuer(tokens: &[Token], from: usize, name: &Name) -> bool {
    if ISSUERS.iter().any(|issuer| name.run.starts_with(issuer)) {
        return true;
    }
    let mut before = from;
    while let Some(token) = before.checked_sub(1).and_then(|i| tokens.get(i)) {
        if !token.is("-") {
            return !ISSUERS.contains(&token.text.as_str());
        }
        before -= 1;
    }
    true
}

/// The edition behind a name: which, the token behind it, and the pack that has it.
fn edition(tokens: &[Token], to: usize, packs: &[usize], words: &Vocabulary) -> (Edition, usize, usize) {
    let facts: Vec<(usize, &PackFacts)> =
        packs.iter().filter_map(|p| Some((*p, words.packs.get(*p)?))).collect();
    let lettered = facts.iter().any(|(_, f)| f.pack.joined_by.is_empty());
    // Without an edition that decides: the pack that is still in force.
    let current = facts.iter().find(|(_, f)| !f.replaced).or(facts.first()).map_or(0, |(p, _)| *p);
    let Some((written, end)) = written(tokens, to, lettered) else { return (Edition::None, to, current) };
    for (position, pack) in &facts {
        if let Some(edition) = pack.pack.editions.iter().find(|e| same_edition(e, &written)) {
            return (Edition::Read(edition.clone()), end, *position);
        }
    }
    // `-17 (2017)` says one year twice.
    let twice = written.split_once('(').and_then(|(first, second)| {
        let second = second.strip_suffix(')')?;
        (second == first || second.strip_prefix("20").or(second.strip_prefix("19")) == Some(first))
            .then_some(first)
    });
    let once = |(position, pack): &(usize, &PackFacts)| {
        let edition = pack.pack.editions.iter().find(|e| twice.is_some_and(|t| same_edition(e, t)))?;
        Some((Edition::Read(edition.clone()), end, *position))
    };
    facts.iter().find_map(once).unwrap_or((Edition::Unknown, end, current))
}

fn same_edition(pack: &str, written: &str) -> bool {
    let pack = pack.to_uppercase();
    if pack == written {
        return true;
    }
    // A year of four figures counts as one of two.
    let year = written.get(..4).filter(|y| y.bytes().all(|b| b.is_ascii_digit()));
    let short = year.filter(|y| y.starts_with("19") || y.starts_with("20"));
    let next = written.get(4..).unwrap_or_default();
    short.is_some_and(|y| {
        !next.starts_with(|c: char| c.is_ascii_digit())
            && format!("{}{next}", y.get(2..).unwrap_or_default()) == pack
    })
}

/// The edition as written behind a name, run together: `02(2018)E1`, `F`; and the token behind it.
fn written(tokens: &[Token], to: usize, lettered: bool) -> Option<(String, usize)> {
    let at = |i: usize| tokens.get(i);
    let is = |i: usize, text: &str| at(i).is_some_and(|t| t.is(text));
    let year = |i: usize| {
        at(i).filter(|t| t.is_number() && t.text.bytes().all(|b| b.is_ascii_digit()) && !measured(tokens, i))
    };
    let letter = |i: usize| {
        at(i).filter(|t| {
            t.is_word() && t.text.chars().count() == 1 && !at(i + 1).is_some_and(|n| n.glued && n.is_number())
        })
    };
    // `, 2017 EDITION`, `EDITION 2017`, `, REVISION F`, `DATED 2017`
    let comma = usize::from(is(to, ","));
    let spoken = to + comma;
    if year(spoken).is_some() && is(spoken + 1, "EDITION") {
        return Some((at(spoken)?.text.clone(), spoken + 2));
    }
    for word in ["EDITION", "DATED", "REVISION"] {
        if is(spoken, word) {
            let value = spoken + 1 + usize::from(is(spoken + 1, "-") || is(spoken + 1, "("));
            if year(value).is_some() || letter(value).is_some() {
                let bracket = usize::from(is(value + 1, ")"));
                return Some((at(value)?.text.clone(), value + 1 + bracket));
            }
            return None;
        }
    }
    let (mut text, mut end) = (String::new(), to);
    if is(to, "-") || is(to, ":") {
        let next = to + 1;
        let tight = at(to).is_some_and(|t| t.glued) && at(next).is_some_and(|t| t.glued);
        if let Some(number) = year(next).filter(|t| tight || matches!(t.text.len(), 2 | 4)) {
            text.push_str(&number.text);
            end = next + 1;
        } else if let Some(word) = letter(next).filter(|_| lettered || tight) {
            text.push_str(&word.text);
            end = next + 1;
        } else {
            return None;
        }
    } else if let Some(number) = year(to).filter(|t| !t.glued && t.text.len() == 4) {
        text.push_str(&number.text);
        end = to + 1;
    } else if let Some(word) = letter(to).filter(|_| lettered) {
        text.push_str(&word.text);
        end = to + 1;
    }
    // Whatever is glued to it belongs to it: `05e1`.
    while let Some(more) = at(end).filter(|t| end > to && t.glued && alphanumeric(t)) {
        text.push_str(&more.text);
        end += 1;
    }
    // `(2018)`, `(R2018)`, `(F)`, and an editorial change behind it.
    if is(end, "(") {
        let marked = usize::from(is(end + 1, "R") && at(end + 2).is_some_and(|t| t.glued && t.is_number()));
        let value = end + 1 + marked;
        let dated = year(value).filter(|t| matches!(t.text.len(), 2 | 4));
        let inside = dated.or_else(|| letter(value).filter(|_| lettered && text.is_empty()));
        if let Some(inside) = inside.filter(|_| is(value + 1, ")")) {
            if text.is_empty() {
                text.push_str(&inside.text);
            } else {
                text.push_str(&format!("({})", inside.text));
            }
            end = value + 2;
            while let Some(more) = at(end).filter(|t| t.glued && alphanumeric(t)) {
                text.push_str(&more.text);
                end += 1;
            }
        }
    }
    (!text.is_empty()).then_some((text, end))
}

/// Whether a number is a figure with a unit, and so no year.
fn measured(tokens: &[Token], at: usize) -> bool {
    tokens.get(at + 1).is_some_and(|t| {
        matches!(
            t.text.as_str(),
            "µIN"
                | "UIN"
                | "µM"
                | "UM"
                | "MICROINCH"
                | "MICRONS"
                | "MICRON"
                | "IN"
                | "INCH"
                | "MM"
                | "%"
                | "°"
                | "RA"
                | "RMS"
                | "\""
                | "HR"
                | "HRS"
                | "HOURS"
                | "H"
                | "MINUTES"
        )
    })
}

/// An issuer's word with a number no pack has.
fn unknown(tokens: &[Token], from: usize) -> Option<Named> {
    let issuer = |i: usize| tokens.get(i).is_some_and(|t| ISSUERS.contains(&t.text.as_str()));
    if !issuer(from) {
        return None;
    }
    let mut i = from;
    let mut letters = 0;
    let sentence = tokens.get(from)?.sentence;
    loop {
        let token = tokens.get(i).filter(|t| t.sentence == sentence)?;
        if token.is_number() {
            i += 1;
            break;
        }
        let between = token.is("-") || token.is("/") || issuer(i);
        if !between {
            // A few letters of the issuer's own, as in MIL-S-5002; no word of the language.
            letters += 1;
            let short = token.is_word() && token.text.chars().count() <= 4;
            if !short || letters > 2 || PLAIN_WORDS.contains(&token.text.as_str()) {
                return None;
            }
        }
        i += 1;
    }
    // Years, parts and letters that hang on it.
    while let Some(next) = tokens.get(i) {
        let hangs = next.glued
            && (alphanumeric(next)
                || matches!(next.text.as_str(), "-" | ":")
                    && tokens.get(i + 1).is_some_and(|t| t.glued && alphanumeric(t)));
        if !hangs {
            break;
        }
        i += 1;
    }
    // What is written first of `ASTM A240/A240M` stands for all of it.
    if tokens.get(i).is_some_and(|t| t.is("/") && t.glued)
        && tokens.get(i + 1).is_some_and(|t| t.glued && t.is_word() && !issuer(i + 1))
        && tokens.get(i + 2).is_some_and(|t| t.glued && t.is_number())
    {
        i += 3;
        while tokens.get(i).is_some_and(|t| {
            t.glued
                && (alphanumeric(t)
                    || t.is("-") && tokens.get(i + 1).is_some_and(|n| n.glued && n.is_number()))
        }) {
            i += 1;
        }
    }
    Some(Named { from, to: i, what: Designation::Unknown(shown(tokens, from, i)), alternative: false })
}

/// Words that may follow an issuer's without being part of a number.
const PLAIN_WORDS: &[&str] =
    &["CLASS", "TYPE", "CODE", "AND", "OR", "PER", "TO", "ALL", "THE", "MAX", "MIN", "RA", "NO."];

/// Tokens as they stood.
pub fn shown(tokens: &[Token], from: usize, to: usize) -> String {
    let mut text = String::new();
    for (k, token) in tokens.get(from..to.min(tokens.len())).unwrap_or_default().iter().enumerate() {
        if k > 0 && !token.glued && !token.written.is_empty() {
            text.push(' ');
        }
        text.push_str(&token.written);
    }
    text
}

/// Two standards joined by OR or by a stroke: what belongs to the first may stand between.
fn mark_alternatives(tokens: &[Token], named: &mut [Named]) {
    for second in 1..named.len() {
        let (Some(first), Some(next)) = (named.get(second - 1), named.get(second)) else { continue };
        let mut i = next.from;
        let joined = loop {
            let Some(token) = i.checked_sub(1).filter(|b| *b >= first.to).and_then(|b| tokens.get(b)) else {
                break false;
            };
            if token.is("OR") || token.is("/") {
                break true;
            }
            // `OR PER THE SPEC`
            if !(token.is_per() || matches!(token.text.as_str(), "SPEC" | "FED" | "THE" | "EITHER" | ",")) {
                break false;
            }
            i -= 1;
        };
        if joined {
            for one in [second - 1, second] {
                if let Some(named) = named.get_mut(one) {
                    named.alternative = true;
                }
            }
        }
    }
}
