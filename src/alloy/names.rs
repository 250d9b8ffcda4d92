//! Reading a grade as people write it: what belongs to the name, what only stands beside it (who numbers it, which
//! standard the bar was bought to, how it was heat treated), and what is no grade at all.
//!
//! Nothing is guessed here: a text either comes down to names of the table or it does not. Names that lie near are
//! offered by `near`, and never taken.

use std::collections::BTreeSet;

/// What a text comes down to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Reading {
    /// Names of the table, by their keys; more than one for `304/304L` or `316L (1.4404)`.
    Names(BTreeSet<String>),
    /// A material specification and nothing that names a grade.
    Specification,
    /// Neither.
    Unknown,
}

/// What the table answers for a key.
pub(super) trait Table {
    /// Whether a grade, or a name of several, is written so.
    fn knows(&self, key: &str) -> bool;
    /// Whether the grade written so is hardened by ageing, so that H900 and the like may stand behind it.
    fn ages(&self, key: &str) -> bool;
}

/// Longer than any way of writing a grade; more is not looked at.
const LONGEST: usize = 120;

/// Words that stand beside a grade and change nothing about it: who numbers it, what it is, in which form it came.
const BESIDE: &[&str] = &[
    "AISI",
    "SAE",
    "TYPE",
    "GRADE",
    "GR",
    "SS",
    "S/S",
    "SST",
    "CRES",
    "STAINLESS",
    "STEEL",
    "STL",
    "INOX",
    "SUS",
    "JIS",
    "UNS",
    "EN",
    "DIN",
    "BS",
    "ISO",
    "WNR",
    "W.NR",
    "W.-NR",
    "W-NR",
    "W",
    "NR",
    "NO",
    "NUMBER",
    "WERKSTOFF",
    "WERKSTOFFNR",
    "WERKSTOFF-NR",
    "WERKSTOFFNUMMER",
    "MAT",
    "MATERIAL",
    "MATL",
    "AUSTENITIC",
    "FERRITIC",
    "MARTENSITIC",
    "DUPLEX",
    "SUPER",
    "LEAN",
    "TP",
    "CORROSION",
    "RESISTANT",
    "RESISTING",
    "PER",
    "TO",
    "AND",
    "OR",
    "DUAL",
    "CERT",
    "CERTIFIED",
    "CERTIFICATION",
    "BAR",
    "BARS",
    "ROD",
    "WIRE",
    "SHEET",
    "PLATE",
    "STRIP",
    "COIL",
    "TUBE",
    "TUBING",
    "PIPE",
    "FORGING",
    "FORGINGS",
    "FORGED",
    "BILLET",
];

/// Words that say how the metal was treated or melted. The grade is the same.
const TREATED: &[&str] = &[
    "ANNEALED",
    "ANN",
    "ANL",
    "CW",
    "CD",
    "HR",
    "CR",
    "CF",
    "HT",
    "HOT",
    "COLD",
    "ROLLED",
    "DRAWN",
    "WORKED",
    "FINISHED",
    "SOLUTION",
    "SOLN",
    "TREATED",
    "HEAT-TREATED",
    "AGED",
    "HARDENED",
    "HARD",
    "TEMPERED",
    "QUENCHED",
    "Q&T",
    "H&T",
    "QT",
    "STRAIN",
    "SPRING",
    "TEMPER",
    "PICKLED",
    "CENTERLESS",
    "GROUND",
    "STRESS",
    "RELIEVED",
    "1/4",
    "1/2",
    "3/4",
    "FULL",
    "VIM",
    "VAR",
    "ESR",
    "AOD",
    "CEVM",
    "VIM-VAR",
    "VIM/VAR",
    "2B",
    "BA",
];

/// What may be written on to a name in front, and how the name must go on for it to be that.
const FRONT: &[&str] = &[
    "WERKSTOFFNR",
    "STAINLESSSTEEL",
    "STAINLESS",
    "MATERIAL",
    "AISI",
    "GRADE",
    "CRES",
    "INOX",
    "TYPE",
    "ALLOY",
    "SAE",
    "SST",
    "SUS",
    "UNS",
    "WNR",
    "DIN",
    "EN",
    "GR",
    "SS",
    "TP",
    "T",
    "F",
];

/// What may be written on to a name behind.
const BEHIND: &[&str] = &["STAINLESSSTEEL", "STAINLESS", "ALLOY", "SST", "SS"];

/// Bodies that publish material specifications.
const BODIES: &[&str] =
    &["ASTM", "ASME", "AMS", "MIL", "QQ", "BS", "EN", "DIN", "ISO", "JIS", "GOST", "ASNA"];

/// A name without what people leave out: capitals and figures, and the point of a European number.
pub(super) fn key(name: &str) -> String {
    let all: Vec<char> = spelled(name).chars().collect();
    let figure = |at: Option<usize>| at.and_then(|i| all.get(i)).is_some_and(char::is_ascii_digit);
    let kept = |(i, c): (usize, &char)| {
        c.is_alphanumeric() || *c == '.' && figure(i.checked_sub(1)) && figure(i.checked_add(1))
    };
    all.iter().enumerate().filter(|(i, c)| kept((*i, c))).map(|(_, c)| *c).collect()
}

/// Capitals; one kind of dash, of blank and of slash.
fn spelled(text: &str) -> String {
    let plain = |c: char| match c {
        '\u{2010}'..='\u{2015}' | '\u{2212}' | '_' => '-',
        '\u{2044}' | '\u{2215}' | '|' => '/',
        c if c.is_whitespace() => ' ',
        c => c,
    };
    text.chars().map(plain).collect::<String>().to_uppercase()
}

/// Reads a text against the table.
pub(super) fn read(text: &str, table: &dyn Table) -> Reading {
    // Letters that only look like those of a grade, and accents, are no way of writing one.
    if text.chars().count() > LONGEST || !spelled(text).is_ascii() {
        return Reading::Unknown;
    }
    let whole = key(text);
    if table.knows(&whole) {
        return Reading::Names(BTreeSet::from([whole]));
    }
    let text = decimal_comma(&spelled(text));
    let mut names = BTreeSet::new();
    let (mut specification, mut aged) = (false, false);
    for part in text.split(['(', ')', '[', ']', ',', ';', '=']) {
        if part.trim().is_empty() {
            continue;
        }
        match one(part, table) {
            Part::Names(found) => names.extend(found),
            Part::Specification => specification = true,
            Part::Beside { aged: behind } => aged |= behind,
            Part::Unknown => return Reading::Unknown,
        }
    }
    if aged && !names.iter().all(|name| table.ages(name)) {
        return Reading::Unknown;
    }
    match (names.is_empty(), specification) {
        (false, _) => Reading::Names(names),
        (true, true) => Reading::Specification,
        (true, false) => Reading::Unknown,
    }
}

/// `1,4404` as it is written where the comma is the decimal sign.
fn decimal_comma(text: &str) -> String {
    let mut all: Vec<char> = text.chars().collect();
    for i in 1..all.len() {
        let four = all.iter().skip(i.saturating_add(1)).take_while(|c| c.is_ascii_digit()).count() == 4;
        let one = all.get(i.saturating_sub(1)) == Some(&'1');
        if let Some(sign) = all.get_mut(i).filter(|c| **c == ',' && four && one) {
            *sign = '.';
        }
    }
    all.into_iter().collect()
}

/// What a part between brackets or commas comes down to.
enum Part {
    Names(BTreeSet<String>),
    Specification,
    /// Only words that stand beside a grade, an ageing condition among them or not.
    Beside {
        aged: bool,
    },
    Unknown,
}

fn one(part: &str, table: &dyn Table) -> Part {
    // First with its hyphens (`17-4 PH`), then with words hung on by hyphens taken apart (`SS-316L`).
    let plain: Vec<String> = words(part);
    match tokens(&plain, table) {
        Part::Unknown => {}
        found => return found,
    }
    let apart: Vec<String> = plain.iter().flat_map(|w| w.split('-')).map(str::to_owned).collect();
    match tokens(&apart, table) {
        Part::Unknown => {}
        found => return found,
    }
    let slashes: Vec<&str> = part.split('/').collect();
    if slashes.len() < 2 {
        return Part::Unknown;
    }
    let mut names = BTreeSet::new();
    let first = slashes.first().copied().unwrap_or_default();
    for side in slashes {
        let letters = key(side);
        // `304/L`: the second name is the first with another letter.
        let short =
            !letters.is_empty() && letters.len() <= 2 && letters.chars().all(|c| c.is_ascii_uppercase());
        let said = if short { format!("{}{letters}", first.trim()) } else { side.to_owned() };
        let plain = words(&said);
        let apart: Vec<String> = plain.iter().flat_map(|w| w.split('-')).map(str::to_owned).collect();
        let found = match tokens(&plain, table) {
            Part::Unknown => tokens(&apart, table),
            found => found,
        };
        match found {
            Part::Names(found) => names.extend(found),
            Part::Beside { .. } | Part::Specification => {}
            Part::Unknown => return Part::Unknown,
        }
    }
    if names.is_empty() { Part::Unknown } else { Part::Names(names) }
}

/// Words between blanks and points, without the signs that hang on them. The point of a European number stays.
fn words(text: &str) -> Vec<String> {
    let text = text.replace("S.S", "SS").replace("P.H", "PH");
    let all: Vec<char> = text.chars().collect();
    let figure = |at: Option<usize>| at.and_then(|i| all.get(i)).is_some_and(char::is_ascii_digit);
    let point = |(i, c): (usize, &char)| match c {
        '.' if !figure(i.checked_sub(1)) || !figure(i.checked_add(1)) => ' ',
        c => *c,
    };
    let text: String = all.iter().enumerate().map(point).collect();
    let all = text.split([' ', ':', '#', '"', '+']).map(|w| w.trim_matches(['-', '/', '\'']));
    all.filter(|w| !w.is_empty()).map(str::to_owned).collect()
}

fn tokens(all: &[String], table: &dyn Table) -> Part {
    if let Some(name) = joined(all, table) {
        return Part::Names(BTreeSet::from([name]));
    }
    let (mut kept, mut aged, specification) = taken_apart(all, table);
    kept.retain(|w| !TREATED.contains(&w.as_str()));
    if kept.is_empty() {
        return if specification { Part::Specification } else { Part::Beside { aged } };
    }
    let mut names = BTreeSet::new();
    if let Some(name) = joined(&kept, table) {
        names.insert(name);
    } else if let Some(name) = aged_name(&key(&kept.concat()), table) {
        aged = true;
        names.insert(name);
    } else {
        // Several names side by side: `316L S31603`. Each must be one.
        for word in &kept {
            match joined(std::slice::from_ref(word), table) {
                Some(name) => drop(names.insert(name)),
                None => return Part::Unknown,
            }
        }
    }
    // An ageing condition behind a grade that does not age contradicts it.
    if aged && !names.iter().all(|name| table.ages(name)) {
        return Part::Unknown;
    }
    Part::Names(names)
}

/// The words without those beside the name; whether an ageing condition was among them; whether a specification was.
fn taken_apart(all: &[String], table: &dyn Table) -> (Vec<String>, bool, bool) {
    let (mut kept, mut aged, mut specification) = (Vec::new(), false, false);
    let mut at = 0;
    while let Some(word) = all.get(at) {
        let next = all.get(at.saturating_add(1)).map(String::as_str);
        let mut used = 1;
        if matches!(word.as_str(), "COND" | "CONDITION" | "CLASS" | "CL") && next.is_some() {
            // `COND A` goes as one: taken apart, `440 COND A` would read like 440A.
            aged |= next.is_some_and(is_ageing);
            used = 2;
        } else if is_ageing(word) {
            aged = true;
        } else if let Some(length) = specification_at(all, at, table) {
            specification = true;
            used = length;
        } else if !BESIDE.contains(&word.as_str()) {
            kept.push(undated(word).to_owned());
        }
        at = at.saturating_add(used);
    }
    (kept, aged, specification)
}

/// H900, H1150-M, RH950, TH1050, CH900.
fn is_ageing(word: &str) -> bool {
    let word = word.replace('-', "");
    let rest = ["RH", "TH", "CH", "DH", "H"].into_iter().find_map(|p| word.strip_prefix(p));
    let Some(rest) = rest else { return false };
    let figures = rest.trim_end_matches(['M', 'D']);
    rest.len() <= figures.len().saturating_add(1)
        && (3..=4).contains(&figures.len())
        && figures.chars().all(|c| c.is_ascii_digit())
}

/// A name with the ageing condition written on to it: `17-4PHH900`.
fn aged_name(joined: &str, table: &dyn Table) -> Option<String> {
    let starts = joined.char_indices().filter(|(i, c)| *i > 0 && c.is_ascii_uppercase()).map(|(i, _)| i);
    let mut splits = starts.filter_map(|i| Some((joined.get(..i)?, joined.get(i..)?)));
    let (name, _) = splits.find(|(name, rest)| is_ageing(rest) && stripped(name, table).is_some())?;
    stripped(name, table).filter(|name| table.ages(name))
}

/// Words that make up a material specification from a place on, and how many: `ASTM A276`, `AMS 5643`,
/// `A240/A240M-20`, `QQ-S-763`. A word that names a grade is none.
fn specification_at(all: &[String], at: usize, table: &dyn Table) -> Option<usize> {
    let word = all.get(at)?.as_str();
    let next = all.get(at.saturating_add(1)).map(String::as_str).unwrap_or_default();
    if stripped(&key(undated(word)), table).is_some() {
        return None;
    }
    let figures = |w: &str, least: usize| {
        let head = w.split(['-', '/']).next().unwrap_or_default();
        let head = head.trim_end_matches(|c: char| c.is_ascii_uppercase());
        head.len() >= least && head.len() <= 5 && head.chars().all(|c| c.is_ascii_digit())
    };
    if matches!(word, "ASTM" | "ASME") {
        // ASTM F138 is the name of what is in it; the table says so.
        let names = stripped(&key(undated(next)), table).is_some() && next.starts_with('F');
        return Some(if designation(next) && !names { 2 } else { 1 });
    }
    if BODIES.contains(&word) {
        let least = if word == "BS" { 3 } else { 4 };
        let lettered = matches!(word, "JIS") && next.starts_with('G');
        let least_met = figures(next, least) && !next.contains('.');
        return (least_met || lettered || matches!(word, "QQ" | "MIL")).then_some(2);
    }
    let glued = BODIES.iter().filter(|b| b.len() >= 2).find_map(|b| word.strip_prefix(b));
    let glued = glued.map(|rest| rest.trim_start_matches('-'));
    if let Some(rest) = glued.filter(|r| figures(r, 4) && !r.contains('.')) {
        return (!rest.is_empty()).then_some(1);
    }
    if word.starts_with("QQ-") || word.starts_with("MIL-") {
        return Some(1);
    }
    let bare = word.strip_prefix("ASTM").or_else(|| word.strip_prefix("ASME")).unwrap_or(word);
    designation(bare.trim_start_matches('-')).then_some(1)
}

/// F138 for `F138-19`, of the standards that stand for what is in them.
fn undated(word: &str) -> &str {
    match word.split_once('-') {
        Some((name, year)) if name.starts_with('F') && is_year(year) => name,
        _ => word,
    }
}

/// A year and a letter, as standards are dated: 17, 20A, 2018.
fn is_year(text: &str) -> bool {
    let year = text.strip_suffix(|c: char| c.is_ascii_uppercase()).unwrap_or(text);
    matches!(year.len(), 2 | 4) && year.chars().all(|c| c.is_ascii_digit())
}

/// `A276`, `A276/A276M-17`, `SA-240`, `F899-12`.
fn designation(word: &str) -> bool {
    let mut pieces = word.split('/');
    pieces.all(|piece| {
        let piece = piece.strip_prefix("SA").or_else(|| piece.strip_prefix(['A', 'B', 'F'])).unwrap_or("");
        let piece = piece.trim_start_matches('-');
        let number: String = piece.chars().take_while(char::is_ascii_digit).collect();
        let rest = piece.get(number.len()..).unwrap_or_default();
        let edition = rest.trim_start_matches('M');
        // `A276-316L` names a grade behind the hyphen, no edition.
        (2..=4).contains(&number.len())
            && (edition.is_empty() || edition.strip_prefix('-').is_some_and(is_year))
    })
}

/// The words as one name.
fn joined(all: &[String], table: &dyn Table) -> Option<String> {
    stripped(&key(&all.concat()), table)
}

/// A key, or what is left of it without what is written on to it, that the table knows.
fn stripped(key: &str, table: &dyn Table) -> Option<String> {
    let mut name = key;
    loop {
        if table.knows(name) {
            return Some(name.to_owned());
        }
        // PH 17-4 and 17-4 PH.
        if let Some(turned) =
            name.strip_prefix("PH").map(|rest| format!("{rest}PH")).filter(|n| table.knows(n))
        {
            return Some(turned);
        }
        let front = || FRONT.iter().find_map(|p| name.strip_prefix(p).filter(|rest| goes_on(p, rest)));
        let shorter = BEHIND.iter().find_map(|p| name.strip_suffix(p)).or_else(front);
        name = shorter.filter(|rest| !rest.is_empty())?;
    }
}

/// Whether a name goes on as one does behind such a word.
fn goes_on(front: &str, rest: &str) -> bool {
    let figures = rest.chars().take_while(char::is_ascii_digit).count();
    match front {
        // T316 and F316L. Tool steels are called T and a figure or two, other forgings F and as many, and ASTM has
        // standards of F and three.
        "T" | "F" => figures == 3 && rest.starts_with(['3', '4']),
        "ALLOY" => rest.chars().any(|c| c.is_ascii_digit()),
        _ => figures > 0 || rest.starts_with(['S', 'N', 'X']) && rest.chars().any(|c| c.is_ascii_digit()),
    }
}

/// Names of the table that lie near, the likeliest first: letters and figures that are taken for each other, then
/// two that changed places, then one more, one less or one other. A word of the text that is a name is near.
pub(super) fn near<'a>(text: &str, names: impl Iterator<Item = &'a str>) -> Vec<String> {
    if text.chars().count() > LONGEST {
        return Vec::new();
    }
    let mut wanted = vec![bare(&key(text))];
    let words = words(&spelled(text));
    if words.iter().any(|w| w == "SERIES") {
        return Vec::new(); // all of one are meant
    }
    let words = words.iter().filter(|w| !BESIDE.contains(&w.as_str()) && !TREATED.contains(&w.as_str()));
    wanted.extend(words.map(|w| bare(&key(w))));
    let mut all: Vec<(u8, usize, String)> = Vec::new();
    for name in names {
        let own = key(name);
        let ranked = wanted.iter().filter_map(|wanted| rank(wanted, &own)).min();
        if let Some((rank, far)) = ranked.filter(|_| !all.iter().any(|(_, _, known)| known == name)) {
            all.push((rank, far, name.to_owned()));
        }
    }
    all.sort();
    all.truncate(6);
    all.into_iter().map(|(_, _, name)| name).collect()
}

/// How near a name of the table lies to what is wanted; nothing when it does not.
fn rank(wanted: &str, own: &str) -> Option<(u8, usize)> {
    let figures = wanted.chars().all(|c| c.is_ascii_digit());
    // Aluminium, carbon and alloy steels are called by four figures: 4140 is no slip for 410. Five are those of a
    // unified or a European number.
    let other = figures && wanted.len() >= 4 && wanted.len() != 5 && own.len() != wanted.len();
    if wanted.chars().count() < 3 || other {
        return None;
    }
    let most = if own.chars().count() >= 8 { 2 } else { 1 };
    let far = strsim::damerau_levenshtein(own, wanted);
    let alike = alike(own) == alike(wanted);
    if !alike && far > most {
        return None;
    }
    let turned = own.len() == wanted.len() && far == 1 && strsim::levenshtein(own, wanted) == 2;
    let rank = match (alike, turned) {
        (true, _) => 0,
        (_, true) => 1,
        _ => 2,
    };
    Some((rank, far))
}

/// A key without what is written on to it in front, whether it is then known or not.
fn bare(key: &str) -> String {
    let mut name = key;
    while let Some(rest) = FRONT.iter().find_map(|p| name.strip_prefix(p).filter(|rest| goes_on(p, rest))) {
        name = rest;
    }
    name.to_owned()
}

/// Letters that are taken for figures, as figures.
fn alike(key: &str) -> String {
    let figure = |c: char| match c {
        'O' | 'Q' | 'D' => '0',
        'I' | 'L' => '1',
        'Z' => '2',
        'S' => '5',
        'G' => '6',
        'B' => '8',
        c => c,
    };
    // The letters behind the figures are part of the name: 316L is not 3161.
    let tail: String = key.chars().rev().take_while(char::is_ascii_uppercase).collect();
    let head = key.get(..key.len().saturating_sub(tail.len())).unwrap_or(key);
    head.chars().map(figure).chain(tail.chars().rev()).collect()
}
