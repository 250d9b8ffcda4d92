//! An invented shop for one call-out: every figure nobody knows is invented, and its baths, instruments, solutions
//! and people are such that whatever is written within the limits conforms.

use std::collections::BTreeMap;

use brightproof::adoption::Figures;
use brightproof::app::adopt;
use brightproof::app::adopt::Adopter;
use brightproof::app::adopt::Answer;
use brightproof::app::book::Book;
use brightproof::app::book::Sourced;
use brightproof::folder::Folder;
use brightproof::pack::Bound;
use brightproof::pack::Check;
use brightproof::pack::Pack;
use brightproof::pack::Requirement;
use brightproof::pack::Subject;
use brightproof::pack::Window;
use brightproof::part::CallOut;
use brightproof::part::PartCondition;
use brightproof::part::Use;
use brightproof::shop::Bath;
use brightproof::shop::Instrument;
use brightproof::shop::InstrumentKind;
use brightproof::shop::Person;
use brightproof::shop::Solution;
use brightproof::units::Quantity;
use brightproof::units::Unit;

use crate::support;
use crate::support::read;

pub const WHO: &str = "A. Teasel";
pub const ORDER: &str = "QI-90001";
pub const PART: &str = "PL-1";
pub const PIECES: u64 = 30;

/// A figure for a unit nobody knows one of; low and high end.
fn invented(subject: Subject, unit: Unit) -> (Quantity, Quantity) {
    let (low, high) = match unit {
        // Some standards set it twice, once by option; what is invented must be met with what is known.
        Unit::Fahrenheit if subject == Subject::PostTreatmentTemperature => ("140", "160"),
        Unit::Fahrenheit => ("104", "122"),
        Unit::Celsius => ("40", "50"),
        Unit::Second => ("20", "30"),
        Unit::Minute => ("20", "40"),
        Unit::Hour => ("2", "30"),
        Unit::Day => ("1", "14"),
        Unit::VolumePercent => ("20", "25"),
        Unit::MassPercent => ("4", "6"),
        Unit::Ph => ("6.5", "7.2"),
        Unit::RelativeHumidity => ("95", "99"),
        Unit::Gram => ("4", "10"),
        Unit::Millilitre => ("1", "2"),
        Unit::GramPerLitre => ("40", "60"),
        Unit::Ppm => ("1", "200"),
        Unit::Ratio => ("1", "2"),
        Unit::Microinch => ("5", "20"),
        Unit::Micrometre => ("0.1", "0.5"),
        Unit::Angstrom => ("15", "40"),
        Unit::Cycle => ("12", "24"),
        Unit::Lux => ("1000", "2000"),
        Unit::Footcandle => ("100", "200"),
        _ => ("3", "12"),
    };
    let quantity = |value: &str| Quantity::new(read(value), unit);
    (quantity(low), quantity(high))
}

/// The check with every figure nobody knows invented; `None` where there is none.
fn own(subject: Subject, check: &Check) -> Option<Check> {
    let unit = |unit: Option<Unit>| invented(subject, unit.unwrap());
    let bound = |b: &Bound, high: bool| match b.value {
        Some(_) => b.clone(),
        None => {
            let (low, top) = unit(b.unit);
            Bound { value: Some(if high { top } else { low }), unit: None, basis: None }
        }
    };
    match check {
        Check::Within(all) if all.iter().any(|w| w.from.is_none() || w.to.is_none()) => {
            let window = |w: &Window| {
                if w.from.is_some() && w.to.is_some() {
                    return w.clone();
                }
                let (low, high) = unit(w.from.or(w.to).map(|q| q.unit()).or(w.unit));
                Window { from: w.from.or(Some(low)), to: w.to.or(Some(high)), unit: None, basis: None }
            };
            Some(Check::Within(all.iter().map(window).collect()))
        }
        Check::AtLeast(all) if all.iter().any(|b| b.value.is_none()) => {
            Some(Check::AtLeast(all.iter().map(|b| bound(b, false)).collect()))
        }
        Check::AtMost(all) if all.iter().any(|b| b.value.is_none()) => {
            Some(Check::AtMost(all.iter().map(|b| bound(b, true)).collect()))
        }
        _ => None,
    }
}

/// The sample shop's papers, with one edition of one pack adopted and nothing unsure in it.
pub fn book(pack: &Pack, edition: &str) -> Book {
    let mut book = Book::open(Folder::new(support::folder())).unwrap();
    let adopter = Adopter { by: WHO, on: read("2026-09-01"), copy: "invented copy" };
    let adoption = adopt::adopt(pack, edition, &adopter, |requirement| {
        let check = own(requirement.subject, &requirement.check);
        let figures = if check.is_some() { Figures::Own } else { Figures::Confirmed };
        Ok(Answer { figures, check, note: None })
    });
    let document = adoption.unwrap();
    let text = adopt::to_yaml(&document).unwrap();
    book.adoptions = vec![Sourced { file: adopt::file_name(&document), text, document }];
    let people: brightproof::shop::People = brightproof::yaml::parse(&format!(
        "people:\n  - name: {WHO}\n    function: everything\n    qualified:\n{}",
        ["passivation", "electropolishing", "cleaning", "testing", "inspection", "measuring"]
            .map(|work| format!("      - {{ for: {work}, from: 2026-01-01 }}\n"))
            .concat()
    ))
    .unwrap();
    let mut people: Vec<Person> = people.people;
    book.people.people.append(&mut people);
    book
}

/// What the part is and how it was made.
#[derive(Debug, Clone)]
pub struct Part {
    pub used_for: Option<Use>,
    pub conditions: Option<Vec<PartCondition>>,
}

/// Puts order and part of one call-out into the book, in place of any there.
pub fn order(book: &mut Book, part: &Part, call_out: &CallOut) {
    let mut document = book.parts.iter().find(|p| p.document.part == "7790-06").unwrap().clone();
    document.document.part = PART.to_owned();
    document.document.used_for = part.used_for;
    document.document.conditions.clone_from(&part.conditions);
    document.document.calls_for = vec![call_out.clone()];
    book.parts.retain(|p| p.document.part != PART);
    book.parts.push(document);
    let mut order = book.orders.iter().find(|o| o.document.order == "QI-88411").unwrap().clone();
    order.document.order = ORDER.to_owned();
    let line = order.document.lines.first_mut().unwrap();
    line.part = PART.to_owned();
    line.quantity = PIECES;
    book.orders.retain(|o| o.document.order != ORDER);
    book.orders.push(order);
}

/// The requirements in force, by `pack/id`, with the shop's own figures.
pub fn requirements(book: &Book, pack: &Pack, edition: &str) -> BTreeMap<String, Requirement> {
    let adopted = book.adopted(pack, edition).unwrap();
    let all = adopted.pack.requirements.into_iter();
    all.map(|r| (format!("{}/{}", pack.pack, r.id), r)).collect()
}

/// Takes all equipment away: each case has its own.
pub fn empty(book: &mut Book) {
    book.baths.document.baths.clear();
    book.instruments.document.instruments.clear();
    book.solutions.document.solutions.clear();
}

pub fn bath(book: &mut Book, bath: Bath) {
    book.baths.document.baths.push(bath);
}

pub fn solution(book: &mut Book, solution: Solution) {
    book.solutions.document.solutions.push(solution);
}

/// An instrument of a kind, in calibration; its id.
pub fn instrument(book: &mut Book, kind: InstrumentKind) -> String {
    let id = format!("I-{}", kind.name().replace(' ', "-"));
    let text = format!(
        "instrument: {id}\nwhat: invented\nkind: {}\ncalibrations:\n  - {{ on: 2026-10-01, due: 2027-10-01, certificate: K-1, passed: true }}\n",
        kind.name()
    );
    let made: Instrument = brightproof::yaml::parse(&text).unwrap();
    let all = &mut book.instruments.document.instruments;
    if !all.iter().any(|i| i.instrument == id) {
        all.push(made);
    }
    id
}

/// Whether a quantity meets a check, as the judge compares: in its own unit where that is printed, else in any.
pub fn meets(check: &Check, quantity: &Quantity) -> bool {
    use std::cmp::Ordering::Greater;
    use std::cmp::Ordering::Less;
    let pick = |units: Vec<Unit>| {
        units
            .iter()
            .position(|u| *u == quantity.unit())
            .or_else(|| units.iter().position(|u| u.dimension() == quantity.dimension()))
    };
    let bound = |all: &[Bound], wrong| {
        let at = pick(all.iter().map(|b| b.value.unwrap().unit()).collect()).unwrap();
        quantity.compare(&all[at].value.unwrap()) != Some(wrong)
    };
    match check {
        Check::Within(all) => {
            let at = pick(all.iter().map(|w| w.from.unwrap().unit()).collect()).unwrap();
            let window = &all[at];
            quantity.compare(&window.from.unwrap()) != Some(Less)
                && quantity.compare(&window.to.unwrap()) != Some(Greater)
        }
        Check::AtLeast(all) => bound(all, Less),
        Check::AtMost(all) => bound(all, Greater),
        _ => true,
    }
}

/// A quantity that meets all checks: an end of one of them; without any, the fallback.
pub fn inside(checks: &[&Check], fallback: &str) -> Quantity {
    let mut ends: Vec<Quantity> = Vec::new();
    for check in checks {
        match check {
            Check::Within(all) => ends.extend(all.iter().flat_map(|w| [w.from.unwrap(), w.to.unwrap()])),
            Check::AtLeast(all) | Check::AtMost(all) => ends.extend(all.iter().map(|b| b.value.unwrap())),
            _ => {}
        }
    }
    if ends.is_empty() {
        return read(fallback);
    }
    *ends.iter().find(|q| checks.iter().all(|c| meets(c, q))).unwrap_or_else(|| panic!("{checks:?}"))
}
