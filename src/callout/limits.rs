//! Finds limits of roughness and stock removal, and figures that no call-out can hold.

use super::lexer::Token;
use super::standards::shown;
use super::words::Ask;
use super::words::Assumption;
use super::words::Said;
use crate::part::CallOut;
use crate::record::Characteristic;
use crate::units::Quantity;
use crate::units::Unit;
use crate::units::plain_decimal;

/// What the figures of a text come to.
#[derive(Debug, Default)]
pub struct Limits {
    /// Limits, with the token each begins at.
    pub read: Vec<(usize, CallOut)>,
    pub assumed: Vec<Said<Assumption>>,
    pub ask: Vec<Said<Ask>>,
    /// Figures of time, temperature or per cent, as written.
    pub not_carried: Vec<String>,
    /// A span of time is named.
    pub timed: bool,
    /// Anything of this was found.
    pub any: bool,
}

/// A figure, or a range of two.
#[derive(Debug, Clone)]
struct Figure {
    from: usize,
    to: usize,
    clause: usize,
    low: rust_decimal::Decimal,
    high: Option<rust_decimal::Decimal>,
    unit: Option<Unit>,
    /// It is written finer than in whole numbers.
    fine: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Parameter {
    Roughness(Characteristic),
    Rms,
    Removal,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Direction {
    Most,
    Least,
}

/// All figures of a text outside of what is `taken`.
pub fn limits(tokens: &[Token], taken: &[bool]) -> Limits {
    let mut all = Limits::default();
    let free = |i: usize| !taken.get(i).copied().unwrap_or(true);
    let figures = figures(tokens, &free, &mut all);
    grades(tokens, &free, &mut all);
    let removal = tokens.iter().any(|t| parameter(&t.text) == Some(Parameter::Removal));
    let mut from = 0;
    while from < tokens.len() {
        let clause = tokens.get(from).map_or(0, |t| t.clause);
        let length = tokens.get(from..).unwrap_or_default().iter().take_while(|t| t.clause == clause).count();
        let to = from + length.max(1);
        let own: Vec<&Figure> =
            figures.iter().filter(|f| f.clause == clause && f.from >= from && f.from < to).collect();
        Clause { tokens, free: &free, from, to, removal }.read(&own, &mut all);
        from = to;
    }
    all.read.sort_by_key(|(at, _)| *at);
    all
}

/// A number as an exact decimal.
fn decimal(text: &str) -> Option<rust_decimal::Decimal> {
    if text.starts_with('.') { plain_decimal(&format!("0{text}")) } else { plain_decimal(text) }
}

fn text(tokens: &[Token], i: usize) -> &str {
    tokens.get(i).map_or("", |t| t.text.as_str())
}

/// A unit of length, and how many tokens it takes.
fn unit(tokens: &[Token], i: usize) -> Option<(Unit, usize)> {
    let next = text(tokens, i + 1);
    let tight = tokens.get(i + 1).is_some_and(|t| t.glued);
    let dash = usize::from(next == "-");
    Some(match text(tokens, i) {
        "µIN" | "UIN" | "MICROINCH" | "µINCH" | "UINCH" => (Unit::Microinch, 1),
        "µ" | "U" if next == "\"" && tight => (Unit::Microinch, 2),
        "U" | "µ" if next == "-" && tight && text(tokens, i + 2) == "IN" => (Unit::Microinch, 3),
        "MICRO" => match text(tokens, i + 1 + dash) {
            "INCH" | "IN" => (Unit::Microinch, 2 + dash),
            "METER" | "METERS" | "METRE" | "METRES" => (Unit::Micrometre, 2 + dash),
            _ => return None,
        },
        "µM" | "UM" | "MICRON" | "MICRONS" | "MICROMETER" | "MICROMETERS" | "MICROMETRE" | "MICROMETRES" => {
            (Unit::Micrometre, 1)
        }
        "MM" => (Unit::Millimetre, 1),
        "IN" | "INCH" | "\"" => (Unit::Inch, 1),
        _ => return None,
    })
}

/// A unit of time, temperature or per cent, and how many tokens it takes.
fn other_unit(tokens: &[Token], i: usize) -> Option<(bool, usize)> {
    let next = text(tokens, i + 1);
    // 17-4 H900: letters before figures are a name.
    if tokens.get(i + 1).is_some_and(|t| t.glued && t.is_number()) {
        return None;
    }
    Some(match text(tokens, i) {
        "HR" | "HRS" | "HOUR" | "HOURS" | "H" | "MINUTE" | "MINUTES" => (true, 1),
        "%" | "PERCENT" => (false, 1),
        "°" | "DEG" if matches!(next, "F" | "C") => (false, 2),
        "°" => (false, 1),
        "F" | "C" => (false, 1),
        _ => return None,
    })
}

/// Figures of length and bare ones; those of time, temperature and per cent are put aside.
fn figures(tokens: &[Token], free: &impl Fn(usize) -> bool, all: &mut Limits) -> Vec<Figure> {
    let mut found: Vec<Figure> = Vec::new();
    let mut i = 0;
    while let Some(token) = tokens.get(i) {
        let start = i;
        i += 1;
        let before = start.checked_sub(1).and_then(|b| tokens.get(b));
        // A286, H900 and #4 are names; Ra0.4 is a figure.
        let named = before.is_some_and(|b| {
            (token.glued && b.is_word() && parameter(&b.text).is_none())
                || b.is("#")
                || b.is("NO.")
                || b.is("N°")
        });
        let Some(low) = decimal(&token.text).filter(|_| token.is_number() && free(start) && !named) else {
            continue;
        };
        let mut end = start + 1;
        let first = unit(tokens, end);
        end += first.map_or(0, |(_, length)| length);
        let mut high = None;
        let mut measure = first.map(|(unit, _)| unit);
        let span = matches!(text(tokens, end), "-" | "/" | "TO");
        if let Some(second) = tokens.get(end + 1).filter(|t| span && t.is_number() && free(end + 1))
            && let Some(value) = decimal(&second.text)
        {
            let unit_behind = unit(tokens, end + 2);
            let agree = first.is_none() || unit_behind.map(|(u, _)| u) == first.map(|(u, _)| u);
            if agree {
                high = Some(value);
                end += 2 + unit_behind.map_or(0, |(_, length)| length);
                measure = unit_behind.map(|(unit, _)| unit).or(measure);
            }
        }
        if measure.is_none() {
            let tail = tokens.get(end);
            if let Some((time, length)) = other_unit(tokens, end) {
                let letter = tail.is_some_and(|t| matches!(t.text.as_str(), "F" | "C"));
                let grade = before
                    .is_some_and(|b| matches!(b.text.as_str(), "TYPE" | "GRADE" | "AISI" | "SS" | "CRES"));
                let degrees = matches!(token.text.len(), 2 | 3) && !grade;
                if !letter || degrees {
                    all.not_carried.push(shown(tokens, start, end + length));
                    all.timed |= time;
                    all.any = true;
                }
                i = end + length;
                continue;
            }
            // How many to test is the part specification's to say, and is not read.
            let counted =
                matches!(text(tokens, end), "PIECES" | "PCS" | "PARTS" | "SAMPLES" | "COUPON" | "SPECIMENS")
                    && text(tokens, end + 1) == "PER"
                    && matches!(text(tokens, end + 2), "LOT" | "BATCH" | "LOAD");
            if counted {
                all.not_carried.push(shown(tokens, start, end + 3));
                all.any = true;
                i = end + 3;
                continue;
            }
            // 316L and 2B: letters glued to a figure make a name of it.
            let hangs = tail.is_some_and(|t| {
                t.glued
                    && t.is_word()
                    && parameter(&t.text).is_none()
                    && !matches!(t.text.as_str(), "U" | "µ")
            });
            if hangs {
                i = end + 1;
                continue;
            }
        }
        let fine = shown(tokens, start, end).contains('.');
        found.push(Figure { from: start, to: end, clause: token.clause, low, high, unit: measure, fine });
        i = end;
    }
    found
}

fn parameter(word: &str) -> Option<Parameter> {
    Some(match word {
        "RA" | "AA" | "AARH" | "CLA" => Parameter::Roughness(Characteristic::Ra),
        "RQ" => Parameter::Roughness(Characteristic::Rq),
        "RZ" => Parameter::Roughness(Characteristic::Rz),
        "RMS" => Parameter::Rms,
        "REMOVAL" | "REMOVE" | "REMOVED" | "REMOVES" | "REMOVING" => Parameter::Removal,
        _ => return None,
    })
}

fn direction(word: &str) -> Option<Direction> {
    Some(match word {
        "MAX" | "≤" | "<" | "UNDER" => Direction::Most,
        "MIN" | "≥" | ">" => Direction::Least,
        _ => return None,
    })
}

const fn is_surface(word: &str) -> bool {
    matches!(word.as_bytes(), b"FINISH" | b"ROUGHNESS" | b"SURFACE" | b"TEXTURE")
}

/// The grades N1 to N12 of roughness and what they stand for.
const GRADES: [&str; 12] =
    ["0.025", "0.05", "0.1", "0.2", "0.4", "0.8", "1.6", "3.2", "6.3", "12.5", "25", "50"];

fn grades(tokens: &[Token], free: &impl Fn(usize) -> bool, all: &mut Limits) {
    for (i, token) in tokens.iter().enumerate() {
        if !token.is("N") || !free(i) {
            continue;
        }
        let Some(number) = tokens.get(i + 1).filter(|t| t.is_number() && t.glued && free(i + 1)) else {
            continue;
        };
        let colon = usize::from(i > 0 && text(tokens, i - 1) == ":");
        let before = i.checked_sub(1 + colon).is_some_and(|b| is_surface(text(tokens, b)));
        let behind =
            text(tokens, i + 2) == "FINISH" || text(tokens, i + 2) == "ALL" && text(tokens, i + 3) == "OVER";
        let grade = number.text.parse::<usize>().ok().and_then(|n| GRADES.get(n.checked_sub(1)?));
        let Some(value) = grade.filter(|_| before || behind).and_then(|g| plain_decimal(g)) else { continue };
        let most = Quantity::new(value, Unit::Micrometre);
        all.any = true;
        let about = format!("N{} is read as {most} Ra at most", number.text);
        all.assumed.push(Said { what: Assumption::RoughnessGrade, about });
        let limit = CallOut { limit: Some(Characteristic::Ra), at_most: Some(most), ..CallOut::default() };
        all.read.push((i, limit));
    }
}

/// One clause of the text.
struct Clause<'a, F: Fn(usize) -> bool> {
    tokens: &'a [Token],
    free: &'a F,
    from: usize,
    to: usize,
    /// The text speaks of removal somewhere.
    removal: bool,
}

impl<F: Fn(usize) -> bool> Clause<'_, F> {
    fn places<T>(&self, what: impl Fn(&str) -> Option<T>) -> Vec<(usize, T)> {
        (self.from..self.to)
            .filter(|i| (self.free)(*i))
            .filter_map(|i| Some((i, what(text(self.tokens, i))?)))
            .collect()
    }

    fn has(&self, words: &[&str]) -> bool {
        (self.from..self.to).any(|i| words.contains(&text(self.tokens, i)))
    }

    fn read(&self, figures: &[&Figure], all: &mut Limits) {
        let parameters = self.places(parameter);
        let directions = self.places(direction);
        all.any |= parameters.iter().any(|(_, p)| *p != Parameter::Removal);
        let mut used = vec![false; parameters.len()];
        let mut kept: Option<&Figure> = None;
        for figure in figures.iter().filter(|f| f.unit.is_some()) {
            if let Some(first) = kept.filter(|first| self.bracketed(first, figure)) {
                let about = shown(self.tokens, figure.from, figure.to);
                all.assumed.push(Said { what: Assumption::BracketConverts, about });
                kept = Some(first);
                continue;
            }
            // `32 Ra MAX (0.8 µm)`: what stands in front has no unit, and is asked about.
            let front = figures.iter().rfind(|f| f.from < figure.from);
            if front.is_some_and(|front| front.unit.is_none() && self.bracketed(front, figure)) {
                continue;
            }
            kept = Some(figure);
            let nearest = nearest(figure, &parameters, figures);
            let small = matches!(figure.unit, Some(Unit::Microinch | Unit::Micrometre));
            let close = |at: usize| at + 1 >= figure.from && at <= figure.to;
            // `MIN REMOVAL .0002 IN PER SIDE, MAX .0005 IN PER SIDE`: the second clause goes on with it.
            if parameters.is_empty() && self.removal && self.per_side() {
                self.removal(figure, nearest_direction(figure, &directions, figures), all);
                continue;
            }
            match nearest.and_then(|n| Some((n, *parameters.get(n)?))) {
                Some((n, (_, Parameter::Removal))) => {
                    mark(&mut used, n);
                    self.removal(figure, nearest_direction(figure, &directions, figures), all);
                }
                Some((n, (at, parameter))) if small || close(at) => {
                    mark(&mut used, n);
                    self.roughness(figure, parameter, nearest_direction(figure, &directions, figures), all);
                }
                None if small
                    && (self.has(&["MAX"])
                        || (self.from..self.to).any(|i| is_surface(text(self.tokens, i)))) =>
                {
                    self.ask(Ask::Parameter, figure, all);
                }
                _ => {}
            }
        }
        self.bare(figures, &parameters, &used, !directions.is_empty(), all);
    }

    fn ask(&self, what: Ask, figure: &Figure, all: &mut Limits) {
        all.any = true;
        all.ask.push(Said { what, about: shown(self.tokens, figure.from, figure.to) });
    }

    /// Whether the second figure stands in brackets right behind the first, in another unit.
    fn bracketed(&self, first: &Figure, second: &Figure) -> bool {
        let open = second.from.checked_sub(1).filter(|i| matches!(text(self.tokens, *i), "(" | "["));
        let between = open.and_then(|open| open.checked_sub(first.to));
        // `0.4 µm Ra (16 µin)`: the parameter may stand between.
        between.is_some_and(|n| n <= 3) && first.unit != second.unit
    }

    fn removal(&self, figure: &Figure, direction: Option<Direction>, all: &mut Limits) {
        let diameter = self.has(&["TOTAL", "DIAMETER", "DIA", "DIAMETRAL", "DIAMETRICAL"]);
        if diameter {
            return self.ask(Ask::PerSide, figure, all);
        }
        let Some(limit) = bounds(figure, direction) else { return self.ask(Ask::Direction, figure, all) };
        if !self.per_side() {
            let about = shown(self.tokens, figure.from, figure.to);
            all.assumed.push(Said { what: Assumption::RemovalPerSide, about });
        }
        all.any = true;
        all.read.push((figure.from, CallOut { limit: Some(Characteristic::StockRemoval), ..limit }));
    }

    fn per_side(&self) -> bool {
        (self.from..self.to).any(|i| {
            matches!(text(self.tokens, i), "PER" | "EACH")
                && matches!(text(self.tokens, i + 1), "SIDE" | "SURFACE")
        })
    }

    fn roughness(
        &self,
        figure: &Figure,
        parameter: Parameter,
        direction: Option<Direction>,
        all: &mut Limits,
    ) {
        let about = shown(self.tokens, figure.from, figure.to);
        let what = match parameter {
            Parameter::Roughness(what) => what,
            _ => {
                all.assumed.push(Said { what: Assumption::RmsAsRq, about: about.clone() });
                Characteristic::Rq
            }
        };
        let limit = bounds(figure, direction).unwrap_or_else(|| {
            all.assumed.push(Said { what: Assumption::SingleIsAtMost, about });
            bounds(figure, Some(Direction::Most)).unwrap_or_default()
        });
        all.any = true;
        all.read.push((figure.from, CallOut { limit: Some(what), ..limit }));
    }

    /// Figures without a unit, where one belongs.
    fn bare(
        &self,
        figures: &[&Figure],
        parameters: &[(usize, Parameter)],
        used: &[bool],
        directed: bool,
        all: &mut Limits,
    ) {
        let bare: Vec<&&Figure> = figures.iter().filter(|f| f.unit.is_none()).collect();
        let mut asked: Vec<usize> = Vec::new();
        for ((at, parameter), used) in parameters.iter().zip(used) {
            if *used {
                continue;
            }
            let found = bare.iter().find(|f| {
                if *parameter == Parameter::Removal {
                    return f.fine || directed || self.per_side();
                }
                let between = if *at < f.from { at + 1..f.from } else { f.to..*at };
                between.len() <= 4
                    && between.into_iter().all(|i| {
                        let word = text(self.tokens, i);
                        direction(word).is_some()
                            || matches!(word, "µ" | "U" | ":" | "=" | "OF" | "(" | ")" | "[" | "]" | "VALUE")
                            || is_surface(word)
                    })
            });
            if let Some(figure) = found {
                asked.push(figure.from);
                self.ask(Ask::Unit, figure, all);
            }
        }
        for figure in bare.iter().filter(|f| !asked.contains(&f.from)) {
            let beside = |i: Option<usize>| i.map_or("", |i| text(self.tokens, i));
            let colon = usize::from(beside(figure.from.checked_sub(1)) == ":");
            let before = beside(figure.from.checked_sub(1 + colon));
            let behind = beside(Some(figure.to));
            let names = |word: &str| matches!(word, "FINISH" | "ROUGHNESS" | "SURFACE" | "√");
            if names(before) || names(behind) {
                self.ask(Ask::Unit, figure, all);
                self.ask(Ask::Parameter, figure, all);
            }
        }
    }
}

fn mark(used: &mut [bool], at: usize) {
    if let Some(used) = used.get_mut(at) {
        *used = true;
    }
}

/// The limits a figure sets: a range both, a single one what its direction says.
fn bounds(figure: &Figure, direction: Option<Direction>) -> Option<CallOut> {
    let unit = figure.unit?;
    let quantity = |value| Some(Quantity::new(value, unit));
    let (at_least, at_most) = match (figure.high, direction) {
        (Some(high), _) => (quantity(figure.low.min(high)), quantity(figure.low.max(high))),
        (None, Some(Direction::Most)) => (None, quantity(figure.low)),
        (None, Some(Direction::Least)) => (quantity(figure.low), None),
        (None, None) => return None,
    };
    Some(CallOut { at_least, at_most, ..CallOut::default() })
}

fn distance(figure: &Figure, at: usize) -> usize {
    if at < figure.from { figure.from - at } else { at.saturating_sub(figure.to) + 1 }
}

/// The nearest word of a kind. Where two are as near, the side on which the clause puts the first of them.
fn nearest_of<T>(figure: &Figure, words: &[(usize, T)], figures: &[&Figure]) -> Option<usize> {
    let leads = words.first().zip(figures.first()).is_some_and(|((at, _), first)| *at < first.from);
    let mut best: Option<(usize, usize)> = None;
    for (n, (at, _)) in words.iter().enumerate() {
        let far = distance(figure, *at) * 2 + usize::from((*at < figure.from) != leads);
        if best.is_none_or(|(_, least)| far < least) {
            best = Some((n, far));
        }
    }
    best.map(|(n, _)| n)
}

fn nearest(figure: &Figure, parameters: &[(usize, Parameter)], figures: &[&Figure]) -> Option<usize> {
    nearest_of(figure, parameters, figures)
}

fn nearest_direction(
    figure: &Figure,
    directions: &[(usize, Direction)],
    figures: &[&Figure],
) -> Option<Direction> {
    let at = nearest_of(figure, directions, figures)?;
    directions.get(at).map(|(_, d)| *d)
}
