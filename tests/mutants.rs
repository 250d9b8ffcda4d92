//! Slips put into the packs on purpose: one limit, condition or unit changed at a time. For each at least one row of
//! the boundary table or one case beside the pack must come out otherwise. Digests and kept ids do not count.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a slip that cannot be made fails the test"
)]

use brightproof::pack::Check;
use brightproof::pack::Pack;
use brightproof::pack::Requirement;
use brightproof::pack::When;
use brightproof::rulebook::EffectivePack;
use brightproof::units::Quantity;
use brightproof::units::Unit;
use rust_decimal::Decimal;

use crate::cases;
use crate::filled::in_force;
use crate::filled::standards;
use crate::limits;

/// One slip: what was changed, and the requirement as it then stands.
struct Slip {
    what: String,
    requirement: Requirement,
}

/// The value one step of its last digit higher or lower.
fn step(q: Quantity, up: bool) -> Quantity {
    let one = Decimal::new(1, q.value().scale());
    Quantity::new(if up { q.value() + one } else { q.value() - one }, q.unit())
}

/// The same number in another unit of the same dimension.
fn other_unit(q: Quantity) -> Option<Quantity> {
    let all = Unit::ALL.iter().filter(|u| u.dimension() == q.dimension() && **u != q.unit());
    all.into_iter().next().map(|unit| Quantity::new(q.value(), *unit))
}

/// Every quantity of a check, changed one at a time.
fn figures(check: &Check) -> Vec<(String, Check)> {
    let mut all = Vec::new();
    let changes = |q: Quantity| {
        let stepped = [(true, "up"), (false, "down")].map(|(up, word)| (format!("{q} {word}"), step(q, up)));
        stepped.into_iter().chain(other_unit(q).map(|o| (format!("{q} as {o}"), o))).collect::<Vec<_>>()
    };
    match check {
        Check::Within(windows) => {
            for (i, window) in windows.iter().enumerate() {
                for (end, q) in [window.from, window.to].into_iter().enumerate() {
                    for (what, changed) in q.map(changes).unwrap_or_default() {
                        let mut new = windows.clone();
                        let place = if end == 0 { &mut new[i].from } else { &mut new[i].to };
                        *place = Some(changed);
                        all.push((what, Check::Within(new)));
                    }
                }
            }
        }
        Check::AtLeast(bounds) | Check::AtMost(bounds) => {
            let least = matches!(check, Check::AtLeast(_));
            let form = |new| if least { Check::AtLeast(new) } else { Check::AtMost(new) };
            for (i, bound) in bounds.iter().enumerate() {
                for (what, changed) in bound.value.map(changes).unwrap_or_default() {
                    let mut new = bounds.clone();
                    new[i].value = Some(changed);
                    all.push((what, form(new)));
                }
            }
            if bounds.iter().any(|b| b.value.is_some()) {
                let turned =
                    if least { Check::AtMost(bounds.clone()) } else { Check::AtLeast(bounds.clone()) };
                all.push(("turned round".to_owned(), turned));
            }
        }
        Check::TimesOrdered(times) => {
            all.push(("once more".to_owned(), Check::TimesOrdered(times + 1)));
            all.push(("once less".to_owned(), Check::TimesOrdered(times - 1)));
        }
        _ => {}
    }
    all
}

/// A list without each of its items in turn; nothing where one is all there is.
fn shorter<T: Clone>(list: &[T]) -> Vec<Vec<T>> {
    let without =
        |i: usize| list.iter().enumerate().filter(|(j, _)| *j != i).map(|(_, item)| item.clone()).collect();
    if list.len() < 2 { Vec::new() } else { (0..list.len()).map(without).collect() }
}

fn conditions(when: &When) -> Vec<(String, When)> {
    let mut all = Vec::new();
    macro_rules! list {
        ($field:ident) => {
            if !when.$field.is_empty() {
                let name = stringify!($field);
                all.push((format!("{name} dropped"), When { $field: Vec::new(), ..when.clone() }));
                for short in shorter(&when.$field) {
                    all.push((format!("{name} shortened"), When { $field: short, ..when.clone() }));
                }
            }
        };
    }
    list!(treatments);
    list!(tests);
    list!(series);
    list!(options);
    list!(used_for);
    list!(editions);
    list!(classes);
    list!(conditions);
    if let Some(free) = when.free_machining {
        // No free-machining ferritic grade of the alloy table has so little chromium: nothing would change.
        if when.chromium_below.is_some() {
            all.push((
                "free_machining turned".to_owned(),
                When { free_machining: Some(!free), ..when.clone() },
            ));
            all.push(("chromium_below dropped".to_owned(), When { chromium_below: None, ..when.clone() }));
            return all;
        }
        all.push(("free_machining dropped".to_owned(), When { free_machining: None, ..when.clone() }));
        all.push(("free_machining turned".to_owned(), When { free_machining: Some(!free), ..when.clone() }));
    }
    if when.chromium_below.is_some() {
        all.push(("chromium_below dropped".to_owned(), When { chromium_below: None, ..when.clone() }));
    }
    all
}

fn words(check: &Check) -> Vec<(String, Check)> {
    let form = |make: fn(Vec<String>) -> Check, list: &Vec<String>| {
        let short = shorter(list).into_iter();
        short.map(|new| (format!("words shortened to {new:?}"), make(new))).collect::<Vec<_>>()
    };
    match check {
        Check::OneOf(list) => form(Check::OneOf, list),
        Check::Only(list) => form(Check::Only, list),
        Check::NoneOf(list) => form(Check::NoneOf, list),
        _ => Vec::new(),
    }
}

/// Whether the changed condition holds for just the lots the first one holds for: a list that named all there is.
fn is_same(pack: &Pack, was: &When, now: &When) -> bool {
    let all = |named: bool, count: usize, of: usize| named && count == of;
    let treatments = was.treatments != now.treatments && now.treatments.is_empty();
    let tests = was.tests != now.tests && now.tests.is_empty();
    let editions = was.editions != now.editions && now.editions.is_empty();
    let classes = was.classes != now.classes && now.classes.is_empty();
    all(treatments, was.treatments.len(), pack.treatments.len())
        || all(tests, was.tests.len(), pack.tests.len())
        || all(editions, was.editions.len(), pack.editions.len())
        || all(classes, was.classes.len(), pack.classes.len())
}

/// Every slip of one requirement: limits, units, conditions, words of a list, advice instead of a demand.
fn slips(pack: &Pack, requirement: &Requirement) -> Vec<Slip> {
    let checks = figures(&requirement.check).into_iter().chain(words(&requirement.check));
    let checks =
        checks.map(|(what, check)| Slip { what, requirement: Requirement { check, ..requirement.clone() } });
    let whens = conditions(&requirement.when)
        .into_iter()
        .filter(|(_, now)| !is_same(pack, &requirement.when, now))
        .map(|(what, when)| Slip { what, requirement: Requirement { when, ..requirement.clone() } });
    let mut all: Vec<Slip> = checks.chain(whens).collect();
    all.push(Slip {
        what: "advice turned".to_owned(),
        requirement: Requirement { advice: !requirement.advice, ..requirement.clone() },
    });
    all
}

/// Whether any row or case comes out otherwise with the slip in the pack.
fn is_seen(pack: &'static Pack, index: usize, slip: &Slip, cases: &[cases::Case]) -> bool {
    let id = &pack.requirements[index].id;
    let mut changed = pack.clone();
    changed.requirements[index] = slip.requirement.clone();
    // The table against the pack is read first: it costs nothing.
    if !limits::differences(&changed).is_empty() {
        return true;
    }
    let seen = |edition: &String| {
        let mut effective: EffectivePack = in_force(pack, edition);
        let own = effective.pack.requirements[index].clone();
        // Where the shop's made-up figure stands in for one nobody knows, the slip is in the condition alone.
        let check = if slip.requirement.check == pack.requirements[index].check {
            own.check
        } else {
            slip.requirement.check.clone()
        };
        effective.pack.requirements[index] = Requirement { check, ..slip.requirement.clone() };
        let wrong = || !cases::wrong(&effective, edition, Some(id), cases).is_empty();
        std::panic::catch_unwind(std::panic::AssertUnwindSafe(wrong)).unwrap_or(true)
    };
    pack.editions.iter().rev().any(seen)
}

/// Tries every slip, in two halves side by side; the number tried, and those nobody saw.
fn tried() -> (usize, Vec<String>) {
    let packs: Vec<&'static Pack> = standards().collect();
    let half = |which: usize| {
        let mut tried = 0;
        let mut unseen = Vec::new();
        let mut number = 0;
        for pack in &packs {
            let cases = cases::cases(pack);
            for (index, requirement) in pack.requirements.iter().enumerate() {
                for slip in slips(pack, requirement) {
                    number += 1;
                    if number % 2 != which {
                        continue;
                    }
                    tried += 1;
                    if !is_seen(pack, index, &slip, &cases) {
                        unseen.push(format!("{}/{}: {}", pack.pack, requirement.id, slip.what));
                    }
                }
            }
        }
        (tried, unseen)
    };
    std::thread::scope(|scope| {
        let half = &half;
        let other = scope.spawn(move || half(1));
        let (one, mut unseen) = half(0);
        let (two, more) = other.join().unwrap();
        unseen.extend(more);
        (one + two, unseen)
    })
}

#[test]
fn every_slip_in_every_pack_is_seen() {
    let (tried, unseen) = tried();
    println!("{tried} slips tried, {} nobody saw", unseen.len());
    assert!(unseen.is_empty(), "{} of {tried} slips nobody saw:\n{}", unseen.len(), unseen.join("\n"));
    assert!(tried > 3000, "{tried}");
}
