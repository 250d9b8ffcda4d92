//! Words, numbers and marks of a drawing's text, with abbreviations written out and the clauses told apart.

/// What a token is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Letters.
    Word,
    /// Digits, with a decimal point where there is one.
    Number,
    /// Anything else, one character.
    Mark,
}

/// A word, a number or a mark, in capitals.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Token {
    pub kind: Kind,
    pub text: String,
    /// As it stands in the text.
    pub written: String,
    /// Nothing stands between it and the token before.
    pub glued: bool,
    /// Which clause it stands in.
    pub clause: usize,
    /// Which sentence: clauses between commas and spaced dashes are of one.
    pub sentence: usize,
}

impl Token {
    pub fn is(&self, text: &str) -> bool {
        self.text == text
    }

    pub fn is_word(&self) -> bool {
        self.kind == Kind::Word
    }

    pub fn is_number(&self) -> bool {
        self.kind == Kind::Number
    }

    /// `PER` or what stands for it.
    pub fn is_per(&self) -> bool {
        self.is("PER") || self.is("TO")
    }
}

/// Abbreviations whose full stop ends no clause.
const DOTTED: &[&str] = &["IN", "NO", "TY", "CL", "ACC", "METH", "FED", "SPEC", "PASS", "ED", "REV"];

/// Units whose full stop ends no clause where more of the same figure follows.
const UNITS: &[&str] = &["µIN", "UIN", "µM", "UM", "MM"];
const OF_A_FIGURE: &[&str] =
    &["RA", "RQ", "RZ", "RMS", "AA", "AARH", "CLA", "MAX", "MIN", "PER", "OR", "FINISH", "REMOVAL"];

/// Words that are written in more than one way, and the one used here.
const SAME: &[(&str, &str)] = &[
    ("IAW", "PER"),
    ("REV", "REVISION"),
    ("ED", "EDITION"),
    ("SULPHATE", "SULFATE"),
    ("AUTHORISED", "AUTHORIZED"),
    ("EP", "ELECTROPOLISH"),
    ("MAXIMUM", "MAX"),
    ("MINIMUM", "MIN"),
    ("TYPES", "TYPE"),
    ("CLASSES", "CLASS"),
    ("METHODS", "METHOD"),
    ("PRACTICES", "PRACTICE"),
    ("CODES", "CODE"),
    ("LEVELS", "LEVEL"),
    ("TESTS", "TEST"),
    ("COUPONS", "COUPON"),
    ("MICROINCHES", "MICROINCH"),
    ("INCHES", "INCH"),
    ("SPECIFICATION", "SPEC"),
];

/// Abbreviations that are one only before a number.
const BEFORE_A_NUMBER: &[(&str, &str)] = &[("TY", "TYPE"), ("CL", "CLASS"), ("METH", "METHOD")];

/// Several words that stand for others.
const PHRASES: &[(&[&str], &[&str])] = &[
    (&["IN", "ACCORDANCE", "WITH"], &["PER"]),
    (&["I", ".", "A", ".", "W", "."], &["PER"]),
    (&["ACC", "TO"], &["PER"]),
    (&["ACCORDING", "TO"], &["PER"]),
    (&["NOT", "TO", "EXCEED"], &["MAX"]),
    (&["OR", "BETTER"], &["MAX"]),
    (&["OR", "LESS"], &["MAX"]),
    (&["AT", "MOST"], &["MAX"]),
    (&["LESS", "THAN"], &["MAX"]),
    (&["AT", "LEAST"], &["MIN"]),
    (&["MORE", "THAN"], &["MIN"]),
    (&["GREATER", "THAN"], &["MIN"]),
    (&["OR", "LATER"], &[]),
    (&["OR", "NEWER"], &[]),
    (&["OR", "EQUIVALENT"], &["OR-EQUAL"]),
    (&["OR", "EQUIV"], &["OR-EQUAL"]),
    (&["OR", "EQUAL"], &["OR-EQUAL"]),
    (&["OR", "APPROVED", "EQUAL"], &["OR-EQUAL"]),
    (&["OR", "APPROVED", "EQUIVALENT"], &["OR-EQUAL"]),
    (&["SALT", "FOG"], &["SALT", "SPRAY"]),
    (&["NSS"], &["SALT", "SPRAY"]),
    (&["CUSO", "4"], &["COPPER", "SULFATE"]),
    (&["ELECTRO", "-", "POLISH"], &["ELECTROPOLISH"]),
    (&["ELECTRO", "-", "POLISHED"], &["ELECTROPOLISHED"]),
    (&["ELECTRO", "-", "POLISHING"], &["ELECTROPOLISHING"]),
    (&["ELECTRO", "POLISH"], &["ELECTROPOLISH"]),
    (&["ELECTRO", "POLISHED"], &["ELECTROPOLISHED"]),
    (&["ELECTRO", "POLISHING"], &["ELECTROPOLISHING"]),
    (&["PER", "CENT"], &["PERCENT"]),
    (&["<", "="], &["≤"]),
    (&[">", "="], &["≥"]),
    (&["W", "/", "O"], &["WITHOUT"]),
    (&["W", "/"], &["WITH"]),
];

/// Reads a text into tokens.
pub fn tokens(text: &str) -> Vec<Token> {
    let mut found = clauses(raw(text));
    for token in &mut found {
        if let Some((_, same)) = SAME.iter().find(|(word, _)| token.is(word)) {
            token.text = (*same).to_owned();
        }
    }
    let found = phrases(found);
    expanded(found)
}

/// One character as it is compared: capital, one mu, one dash, one quotation mark.
fn plain(c: char) -> char {
    match c {
        'µ' | 'μ' | 'Μ' => 'µ',
        '\u{2010}'..='\u{2015}' | '\u{2212}' => '-',
        '“' | '”' | '″' | '„' => '"',
        '’' | '‘' | '′' => '\'',
        '⩽' | '≦' => '≤',
        '⩾' | '≧' => '≥',
        '\n' | '\r' | '\u{85}' | '\u{2028}' | '\u{2029}' | '\u{b}' | '\u{c}' => '\n',
        c if c.is_whitespace() => ' ',
        c => {
            let mut upper = c.to_uppercase();
            match (upper.next(), upper.next()) {
                (Some(one), None) => one,
                _ => c,
            }
        }
    }
}

fn raw(text: &str) -> Vec<Token> {
    let as_is: Vec<char> = text.chars().collect();
    let chars: Vec<char> = as_is.iter().copied().map(plain).collect();
    let at = |i: usize| chars.get(i).copied().unwrap_or(' ');
    let digit = |i: usize| at(i).is_ascii_digit();
    let mut found = Vec::new();
    let mut i = 0;
    let mut glued = false;
    while i < chars.len() {
        let start = i;
        let c = at(i);
        if c == ' ' {
            i += 1;
            glued = false;
            continue;
        }
        let kind = if c.is_alphabetic() {
            while i < chars.len() && at(i).is_alphabetic() {
                i += 1;
            }
            Kind::Word
        } else if digit(i) || c == '.' && digit(i + 1) && !(start > 0 && digit(start - 1)) {
            while digit(i) {
                i += 1;
            }
            if matches!(at(i), '.' | ',') && digit(i + 1) {
                i += 1;
                while digit(i) {
                    i += 1;
                }
            }
            Kind::Number
        } else {
            i += 1;
            Kind::Mark
        };
        let text: String = chars.get(start..i).unwrap_or_default().iter().collect();
        let written = as_is.get(start..i).unwrap_or_default().iter().collect();
        let text = if kind == Kind::Number { text.replace(',', ".") } else { text };
        found.push(Token { kind, text, written, glued, clause: 0, sentence: 0 });
        glued = c != '\n';
    }
    found
}

/// Tells the clauses apart; the full stops of abbreviations and the line breaks themselves go.
fn clauses(raw: Vec<Token>) -> Vec<Token> {
    let mut kept: Vec<Token> = Vec::with_capacity(raw.len());
    let (mut clause, mut sentence) = (0, 0);
    // The dots of I.A.W. are no ends.
    let letter = |i: usize| raw.get(i).is_some_and(|t| t.is_word() && t.text.chars().count() == 1);
    for (i, token) in raw.iter().enumerate() {
        let next_apart = raw.get(i + 1).is_none_or(|next| !next.glued || next.is("\n"));
        let more = raw.get(i + 1).is_some_and(|next| OF_A_FIGURE.contains(&next.text.as_str()));
        let abbreviation = token.glued
            && kept.last().is_some_and(|last| {
                let word = last.text.as_str();
                last.is_word() && (DOTTED.contains(&word) || more && UNITS.contains(&word))
            });
        if token.is(".") && abbreviation {
            if let Some(last) = kept.last_mut().filter(|last| last.is("NO")) {
                last.text = "NO.".to_owned();
            }
            continue;
        }
        let acronym = i > 0 && letter(i - 1) && i > 1 && raw.get(i - 2).is_some_and(|t| t.is("."));
        let ends = match token.text.as_str() {
            ";" | "\n" => true,
            "." => next_apart && !acronym,
            "," => next_apart,
            "-" => !token.glued && next_apart,
            _ => false,
        };
        if !token.is("\n") {
            kept.push(Token { clause, sentence, ..token.clone() });
        }
        if ends {
            clause += 1;
            sentence += usize::from(matches!(token.text.as_str(), ";" | "\n" | "."));
        }
    }
    kept
}

fn phrases(tokens: Vec<Token>) -> Vec<Token> {
    let mut done: Vec<Token> = Vec::with_capacity(tokens.len());
    let mut i = 0;
    while let Some(token) = tokens.get(i) {
        let fits = |phrase: &[&str]| {
            phrase.iter().enumerate().all(|(k, word)| {
                tokens.get(i + k).is_some_and(|t| {
                    // Letters and digits, and a shortened word with its stroke, stand together.
                    let together = k == 0 || !matches!(phrase, ["CUSO", ..] | ["W", ..]) || t.glued;
                    t.is(word) && together && t.sentence == token.sentence
                })
            })
        };
        let Some((phrase, words)) = PHRASES.iter().find(|(phrase, _)| fits(phrase)) else {
            done.push(token.clone());
            i += 1;
            continue;
        };
        for (k, word) in words.iter().enumerate() {
            let kind =
                if word.chars().all(|c| c.is_alphabetic() || c == '-') { Kind::Word } else { Kind::Mark };
            let glued = k == 0 && token.glued;
            // What stood there, for people: the last word takes the rest.
            let last = if k + 1 == words.len() { phrase.len() } else { k + 1 };
            let stood: Vec<&str> =
                tokens.get(i + k..i + last).unwrap_or_default().iter().map(|t| t.written.as_str()).collect();
            let written = stood.join(if kind == Kind::Word { " " } else { "" });
            done.push(Token { kind, text: (*word).to_owned(), written, glued, ..token.clone() });
        }
        i += phrase.len();
    }
    done
}

fn expanded(mut tokens: Vec<Token>) -> Vec<Token> {
    for i in 0..tokens.len() {
        let before = tokens.get(i + 1).is_some_and(|next| next.is_number() || roman(&next.text).is_some());
        if let Some(token) = tokens.get_mut(i)
            && let Some((_, whole)) = BEFORE_A_NUMBER.iter().find(|(short, _)| before && token.is(short))
        {
            token.text = (*whole).to_owned();
        }
    }
    tokens
}

/// A Roman number up to 39.
pub fn roman(text: &str) -> Option<u32> {
    const UNITS: [&str; 10] = ["", "I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX"];
    let tens = text.chars().take_while(|c| *c == 'X').count();
    let rest: String = text.chars().skip(tens).collect();
    let unit = UNITS.iter().position(|u| *u == rest)?;
    let number = u32::try_from(tens * 10 + unit).ok()?;
    (tens <= 3 && number > 0).then_some(number)
}

/// The number or letter behind a word like TYPE or CODE: arabic and Roman numbers are the same.
pub fn value(token: &Token) -> Option<String> {
    match token.kind {
        Kind::Number if token.text.bytes().all(|b| b.is_ascii_digit()) => {
            let bare = token.text.trim_start_matches('0');
            Some(if bare.is_empty() { "0" } else { bare }.to_owned())
        }
        Kind::Word => match roman(&token.text) {
            Some(number) => Some(number.to_string()),
            None if token.text.chars().count() == 1 => Some(token.text.clone()),
            None => None,
        },
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn roman_numbers_are_read() {
        for (text, number) in [("I", 1), ("IV", 4), ("VI", 6), ("VIII", 8), ("IX", 9), ("XII", 12)] {
            assert_eq!(roman(text), Some(number));
        }
        for wrong in ["", "IIII", "VX", "A", "XXXXI", "IC"] {
            assert_eq!(roman(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn abbreviations_end_no_clause() {
        let read = tokens("Removal .0002 in. min per side, Ra 0,4 µm. Passivate I.A.W. A967");
        let shown: Vec<(usize, &str)> = read.iter().map(|t| (t.clause, t.text.as_str())).collect();
        assert_eq!(shown.first(), Some(&(0, "REMOVAL")));
        assert!(shown.contains(&(0, "MIN")) && shown.contains(&(1, "0.4")) && shown.contains(&(2, "PER")));
    }
}
