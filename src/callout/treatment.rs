//! Which treatment of its standard a text names.

use super::items::Item;
use super::items::What;
use super::lexer::Token;
use super::standards::shown;
use super::vocabulary::Acid;
use super::vocabulary::PackFacts;
use super::vocabulary::Piece;
use super::words::Ask;

/// What the text says of the treatment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Outcome {
    /// Nothing.
    Unnamed,
    /// This one; part of its name was left out and follows from the rest.
    Read(usize, bool),
    /// Something that cannot be read, and what to ask about it.
    Asked(Ask, String),
}

/// Reads what is said of one standard's treatment.
pub fn treatment(pack: &PackFacts, said: &[&Item], tokens: &[Token]) -> Outcome {
    let shown_of = |item: &Item| shown(tokens, item.from, item.to);
    let name = &pack.pack.designation;
    if let Some(bad) = said.iter().find(|item| matches!(item.what, What::BadTreatment(_))) {
        return Outcome::Asked(Ask::TreatmentUnknown, format!("`{}` is misspelt", shown_of(bad)));
    }
    let mut narrowing: Vec<(&Item, Vec<usize>)> = Vec::new();
    let mut acids: Vec<Acid> = Vec::new();
    let mut dichromate = false;
    for item in said {
        match &item.what {
            What::Numbered(word, number) => {
                let mut fitting = pack.fitting(word, number);
                // `CODE F HOT`: the word behind tells treatments of one number apart.
                let told = |t: &usize| {
                    let behind = tokens.get(item.to).map_or("", |t| t.text.as_str());
                    pack.treatments
                        .get(*t)
                        .is_some_and(|t| t.pieces.contains(&Piece::Word(behind.to_owned())))
                };
                if fitting.iter().any(told) {
                    fitting.retain(told);
                }
                narrowing.push((item, fitting));
            }
            What::Phrase(words) => {
                let fitting = pack.called(words);
                let half = words.iter().any(|w| w == "NITRIC" || w == "CITRIC");
                if fitting.is_empty() && half {
                    // Another standard's name; here it says no more than its acid.
                    acids.push(if words.iter().any(|w| w == "NITRIC") { Acid::Nitric } else { Acid::Citric });
                    dichromate |= words.iter().any(|w| w == "DICHROMATE");
                } else {
                    narrowing.push((item, fitting));
                }
            }
            What::Acid(acid) => {
                let word = match acid {
                    Acid::Nitric => "NITRIC",
                    Acid::Citric => "CITRIC",
                };
                // Where the acid alone is a treatment's whole name, it is named.
                match pack.called(&[word.to_owned()]) {
                    none if none.is_empty() => acids.push(*acid),
                    whole => narrowing.push((item, whole)),
                }
            }
            What::Dichromate => dichromate = true,
            _ => {}
        }
    }
    if let Some((item, _)) = narrowing.iter().find(|(_, fitting)| fitting.is_empty()) {
        let about = format!("`{}` is no treatment of {name}", shown_of(item));
        return Outcome::Asked(Ask::TreatmentUnknown, about);
    }
    let half = |what: String| Outcome::Asked(Ask::Treatment, what);
    let Some((first, fitting)) = narrowing.first() else {
        if acids.is_empty() && !dichromate {
            return Outcome::Unnamed;
        }
        return half(format!("What is said of the bath names no treatment of {name}"));
    };
    let mut left = fitting.clone();
    for pair in narrowing.windows(2) {
        let [(before, one), (item, other)] = pair else { continue };
        left.retain(|t| other.contains(t));
        if one.iter().any(|t| other.contains(t)) && !left.is_empty() {
            continue;
        }
        let about = format!("`{}` and `{}`", shown_of(before), shown_of(item));
        let joined = joined_by_or(tokens, before.to, item.from);
        return Outcome::Asked(if joined { Ask::Alternative } else { Ask::Contradiction }, about);
    }
    let of = |at: &usize| pack.treatments.get(*at);
    for acid in acids {
        if left.iter().filter_map(of).all(|t| t.acid.is_some_and(|other| other != acid)) {
            let about = format!("`{}` and another acid than its own", shown_of(first));
            return Outcome::Asked(Ask::Contradiction, about);
        }
    }
    if dichromate && !left.iter().filter_map(of).any(|t| t.dichromate) {
        let about = format!("`{}`, whose bath holds no dichromate, and dichromate", shown_of(first));
        return Outcome::Asked(Ask::Contradiction, about);
    }
    let [only] = left.as_slice() else {
        let names: Vec<&str> = left.iter().filter_map(|t| pack.treatment_name(*t)).collect();
        let about = match names.as_slice() {
            few if few.len() <= 3 => few.join(" or "),
            many => format!("one of {} treatments", many.len()),
        };
        return half(format!("`{}` under {name} may mean {about}", shown_of(first)));
    };
    let spoken = |piece: &Piece| match piece {
        Piece::Numbered(word, number) => narrowing
            .iter()
            .any(|(item, _)| matches!(&item.what, What::Numbered(w, n) if w == word && n == number)),
        Piece::Word(_) => true,
    };
    let inferred = of(only).is_some_and(|t| !t.pieces.iter().all(spoken));
    let by_phrase = narrowing.iter().all(|(item, _)| !matches!(item.what, What::Numbered(..)));
    Outcome::Read(*only, inferred && !by_phrase)
}

/// Whether OR or a stroke stands between two places.
pub fn joined_by_or(tokens: &[Token], from: usize, to: usize) -> bool {
    tokens.get(from..to).unwrap_or_default().iter().any(|t| t.is("OR") || t.is("/"))
}
