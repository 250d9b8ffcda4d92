//! Packs adopted for tests: figures nobody could read are made up, and stand as the shop's own.

use brightproof::adoption::Figures;
use brightproof::app::adopt;
use brightproof::app::adopt::Adopter;
use brightproof::app::adopt::Answer;
use brightproof::pack::Basis;
use brightproof::pack::Bound;
use brightproof::pack::Check;
use brightproof::pack::Pack;
use brightproof::pack::Requirement;
use brightproof::pack::Window;
use brightproof::rulebook;
use brightproof::rulebook::EffectivePack;
use brightproof::units::Quantity;
use brightproof::units::Unit;

/// A made-up limit: low and high, in one unit. Any would do that a record may hold.
fn invented(unit: Unit) -> (Quantity, Quantity) {
    let (low, high) = if unit == Unit::Ph { (2, 4) } else { (10, 40) };
    (Quantity::new(low.into(), unit), Quantity::new(high.into(), unit))
}

fn window(w: &Window) -> Window {
    let unit = rulebook::unit_of_window(w).unwrap();
    let (from, to) = (w.from.unwrap_or(invented(unit).0), w.to.unwrap_or(invented(unit).1));
    Window { from: Some(from), to: Some(to), unit: None, basis: None }
}

fn bound(b: &Bound, most: bool) -> Bound {
    let (low, high) = invented(rulebook::unit_of_bound(b).unwrap());
    Bound { value: Some(b.value.unwrap_or(if most { high } else { low })), unit: None, basis: None }
}

/// What a figure nobody knows might be: what the pack knows of the same subject elsewhere.
fn sister<'a>(pack: &'a Pack, requirement: &Requirement) -> Option<&'a Check> {
    let units = |check: &Check| match check {
        Check::Within(all) => all.iter().filter_map(rulebook::unit_of_window).collect::<Vec<_>>(),
        Check::AtLeast(all) | Check::AtMost(all) => {
            all.iter().filter_map(rulebook::unit_of_bound).collect::<Vec<_>>()
        }
        _ => Vec::new(),
    };
    let known = |r: &&Requirement| {
        r.basis != Basis::Unsure
            && r.subject == requirement.subject
            && r.when.treatments == requirement.when.treatments
            && r.when.tests == requirement.when.tests
            && rulebook::form(&r.check) == rulebook::form(&requirement.check)
            && !units(&r.check).is_empty()
            && units(&r.check).first() == units(&requirement.check).first()
    };
    pack.requirements.iter().find(known).map(|r| &r.check)
}

/// What the made-up copy says of a requirement.
fn answer(pack: &Pack, requirement: &Requirement) -> Answer {
    let own = |check| Answer { figures: Figures::Own, check: Some(check), note: None };
    let known = |basis: Option<Basis>| basis.unwrap_or(requirement.basis) != Basis::Unsure;
    match (&requirement.check, sister(pack, requirement)) {
        (_, Some(check)) if requirement.basis == Basis::Unsure => own(check.clone()),
        (Check::Within(all), _) if all.iter().any(|w| !known(w.basis)) => {
            own(Check::Within(all.iter().map(window).collect()))
        }
        (Check::AtLeast(all), _) if all.iter().any(|b| !known(b.basis)) => {
            own(Check::AtLeast(all.iter().map(|b| bound(b, false)).collect()))
        }
        (Check::AtMost(all), _) if all.iter().any(|b| !known(b.basis)) => {
            own(Check::AtMost(all.iter().map(|b| bound(b, true)).collect()))
        }
        _ => Answer { figures: Figures::Confirmed, check: None, note: None },
    }
}

/// An edition of a pack, every requirement in force.
pub fn adopted(pack: &Pack, edition: &str) -> EffectivePack {
    let adopter = Adopter { by: "M. Sorrel", on: "2026-09-01".parse().unwrap(), copy: "invented copy" };
    let adoption = adopt::adopt(pack, edition, &adopter, |requirement| Ok(answer(pack, requirement)));
    let adoption = adoption.unwrap_or_else(|e| panic!("{}: {e}", pack.pack));
    rulebook::effective(pack, edition, Some(&adoption)).unwrap_or_else(|e| panic!("{}: {e}", pack.pack))
}
