//! Other papers the text points at, and what it leaves out or forbids.

use super::lexer::Token;
use super::standards::Named;
use super::standards::shown;

/// Papers a text may point at.
const PAPERS: &[&str] =
    &["NOTE", "NOTES", "DRAWING", "PRINT", "DWG", "CUSTOMER", "PURCHASER", "PO", "PROCEDURE"];

/// Words behind which TO names what is to be met.
const MEETS: &[&str] = &[
    "PASSIVATE",
    "PASSIVATED",
    "PASSIVATING",
    "PASSIVATION",
    "ELECTROPOLISH",
    "ELECTROPOLISHED",
    "ELECTROPOLISHING",
    "FINISH",
    "FINISHED",
    "CLEAN",
    "CLEANED",
    "CONFORM",
    "TEST",
    "TESTED",
];

/// The papers a text points at, as written. `taken` marks what was read otherwise.
pub fn documents(tokens: &[Token], named: &[Named], taken: &[bool]) -> Vec<String> {
    let mut found = Vec::new();
    for (i, token) in tokens.iter().enumerate() {
        let refers = token.is("TO") && i > 0 && tokens.get(i - 1).is_some_and(|t| t.is("REFER"));
        let meets = i > 0 && tokens.get(i - 1).is_some_and(|t| MEETS.contains(&t.text.as_str()));
        // A standard or another paper: the paper must be seen before anything is chosen.
        let or = token.is("OR") && named.iter().any(|n| n.to <= i);
        let points = token.is("PER") || token.is("SEE") || token.is("TO") || or;
        if !points {
            continue;
        }
        // PER and SEE point; TO does so behind a word that says what is to meet something, or before a paper's name.
        let strong = !or && (!token.is("TO") || refers || meets);
        if let Some(to) = paper(tokens, i + 1, named, taken, strong) {
            found.push(shown(tokens, i + 1, to));
        }
    }
    found
}

fn paper(tokens: &[Token], from: usize, named: &[Named], taken: &[bool], strong: bool) -> Option<usize> {
    let clause = tokens.get(from)?.clause;
    let mut maybe = None;
    let mut i = from;
    while i < from + 6 {
        if named.iter().any(|n| n.from <= i && i < n.to) {
            return None;
        }
        let Some(token) = tokens.get(i).filter(|t| t.clause == clause) else { break };
        let word = token.text.as_str();
        if taken.get(i).copied().unwrap_or(true) || matches!(word, "AND" | "&" | "OR" | "WITH" | "THEN") {
            break;
        }
        if PAPERS.contains(&word) {
            let more = (i + 1..i + 5).take_while(|k| {
                tokens.get(*k).is_some_and(|t| {
                    t.clause == clause
                        && (t.is_number()
                            || PAPERS.contains(&t.text.as_str())
                            || matches!(t.text.as_str(), "'" | "S" | "SPEC"))
                })
            });
            return Some(i + 1 + more.count());
        }
        if matches!(word, "SPEC" | "FED" | "STANDARD") {
            maybe = Some(i + 1).filter(|_| word == "SPEC");
            i += 1;
            continue;
        }
        let at_front = i == from || maybe == Some(i) || word == "THE";
        if at_front && let Some(to) = code(tokens, i).filter(|_| strong) {
            return Some(to);
        }
        if maybe.is_some() {
            break;
        }
        i += 1;
    }
    maybe.filter(|_| strong)
}

/// Short words behind PER that begin no number of a paper.
const OTHER: &[&str] = &["SIDE", "LOT", "PIECE", "PART", "BATCH", "LOAD", "TYPE", "CLASS"];

/// Letters and figures run together, or a long number: another paper's. The token behind it.
fn code(tokens: &[Token], from: usize) -> Option<usize> {
    let mut to = from;
    let (mut letters, mut digits, mut dashes) = (false, 0, false);
    while let Some(token) = tokens.get(to) {
        if to > from && !token.glued {
            break;
        }
        if token.is_word() {
            letters = true;
        } else if token.is_number() {
            digits += token.text.len();
        } else if token.is("-") || token.is("/") {
            dashes = true;
        } else {
            break;
        }
        to += 1;
    }
    let first_is_word = tokens.get(from).is_some_and(Token::is_word);
    // QMK 0042: letters and a number apart.
    let apart = tokens
        .get(from + 1)
        .filter(|t| !t.glued && t.is_number() && t.text.bytes().all(|b| b.is_ascii_digit()));
    let short = tokens.get(from).is_some_and(|t| {
        t.is_word() && (2..=5).contains(&t.text.chars().count()) && !OTHER.contains(&t.text.as_str())
    });
    if short && to == from + 1 && apart.is_some_and(|t| t.text.len() >= 3) {
        return Some(from + 2);
    }
    let coded = digits > 0 && (letters && dashes || letters && first_is_word && digits >= 2) || digits >= 4;
    coded.then_some(to)
}

/// What of a text stands, and what it leaves out or forbids: each a run of tokens as it would read without its NOT.
pub fn negations(tokens: Vec<Token>) -> (Vec<Token>, Vec<Vec<Token>>) {
    let mut gone = vec![false; tokens.len()];
    let mut nots = vec![false; tokens.len()];
    for (i, token) in tokens.iter().enumerate() {
        let next = tokens.get(i + 1);
        let is = |k: usize, words: &[&str]| tokens.get(k).is_some_and(|t| words.contains(&t.text.as_str()));
        let whole = token.is("PROHIBITED")
            || token.is("NOT") && is(i + 1, &["REQUIRED", "ALLOWED", "PERMITTED", "ACCEPTABLE"]);
        let rest = token.is("NO") && !next.is_some_and(Token::is_number)
            || matches!(token.text.as_str(), "NOT" | "WITHOUT" | "OMIT" | "NEVER");
        if !whole && !rest || !token.is_word() {
            continue;
        }
        let same = |k: &usize| tokens.get(*k).is_some_and(|t| t.clause == token.clause);
        let first = if whole { (0..i).rev().take_while(same).last().unwrap_or(i) } else { i };
        for k in (first..tokens.len()).take_while(same) {
            if let Some(gone) = gone.get_mut(k) {
                *gone = true;
            }
        }
        if let Some(not) = nots.get_mut(i) {
            *not = true;
        }
    }
    let (mut kept, mut dropped): (Vec<Token>, Vec<Vec<Token>>) = (Vec::new(), Vec::new());
    let mut before = false;
    for (k, token) in tokens.into_iter().enumerate() {
        let out = gone.get(k).copied().unwrap_or(false);
        if !out {
            // What stood before is gone: nothing is glued to it any more.
            kept.push(if before { Token { glued: false, ..token } } else { token });
        } else if before && let Some(run) = dropped.last_mut() {
            run.push(token);
        } else {
            dropped.push(vec![token]);
        }
        before = out;
        if out
            && nots.get(k).copied().unwrap_or(false)
            && let Some(run) = dropped.last_mut()
        {
            run.pop();
        }
    }
    (kept, dropped)
}
