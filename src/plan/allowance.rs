//! Metal taken off by electropolishing, and what has to be added to a size before it so that it comes out right.

use rust_decimal::Decimal;
use serde::Serialize;

use crate::pack::TreatmentStep;
use crate::plan::Plan;
use crate::plan::PlannedLimit;
use crate::record::Characteristic;
use crate::units::Quantity;
use crate::units::Unit;

/// What is taken off, and what to add for it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Allowance {
    /// Whether the purchaser's own limit says it; otherwise it is common practice and no requirement.
    pub by_limit: bool,
    /// Taken off each surface; as much is added to it before.
    pub per_surface: Span,
    /// What a diameter, or a thickness polished on both sides, loses; twice as much.
    pub per_diameter: Span,
    /// About how closely removal is held: common practice.
    pub held_within: Span,
}

/// From and to, in both unit systems.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Span {
    /// Least; left out where no limit says it.
    pub from: Option<Quantity>,
    /// Most; left out where no limit says it.
    pub to: Option<Quantity>,
    /// The least in the other unit system.
    pub other_from: Option<Quantity>,
    /// The most in the other unit system.
    pub other_to: Option<Quantity>,
    /// Whether the other unit system's figures are exact; otherwise they are rounded.
    pub exact: bool,
}

impl Span {
    fn of(from: Option<Quantity>, to: Option<Quantity>) -> Span {
        let (low, high) = (from.and_then(other), to.and_then(other));
        let exact = [low, high].into_iter().flatten().all(|(_, exact)| exact);
        Span { from, to, other_from: low.map(|(q, _)| q), other_to: high.map(|(q, _)| q), exact }
    }

    fn doubled(&self) -> Span {
        Span::of(self.from.and_then(twice), self.to.and_then(twice))
    }
}

fn twice(one: Quantity) -> Option<Quantity> {
    Some(Quantity::new(one.value().checked_mul(Decimal::TWO)?, one.unit()))
}

/// A length in the other unit system, and whether that is exact.
fn other(one: Quantity) -> Option<(Quantity, bool)> {
    let (unit, factor, divide) = match one.unit() {
        Unit::Inch => (Unit::Millimetre, Decimal::new(254, 1), false),
        Unit::Microinch => (Unit::Micrometre, Decimal::new(254, 4), false),
        Unit::Millimetre => (Unit::Inch, Decimal::new(254, 1), true),
        Unit::Micrometre => (Unit::Microinch, Decimal::new(254, 4), true),
        _ => return None,
    };
    if !divide {
        return Some((Quantity::new(one.value().checked_mul(factor)?.normalize(), unit), true));
    }
    let value = one.value().checked_div(factor)?;
    // Seven places of an inch are a tenth of a microinch: finer than anything that is measured here.
    let rounded = value.round_dp(if unit == Unit::Inch { 7 } else { 1 });
    Some((Quantity::new(rounded.normalize(), unit), rounded == value))
}

fn inch(ten_thousandths: i64) -> Option<Quantity> {
    Some(Quantity::new(Decimal::new(ten_thousandths, 4), Unit::Inch))
}

/// The allowance, where something is electropolished or a removal is limited.
pub fn allowance(plan: &Plan) -> Option<Allowance> {
    let limits: Vec<&PlannedLimit> = plan
        .call_outs
        .iter()
        .filter_map(|call| call.limit.as_ref())
        .filter(|limit| limit.what == Characteristic::StockRemoval)
        .collect();
    if limits.is_empty() && !plan.has(TreatmentStep::Electropolish) {
        return None;
    }
    // Of several limits the tightest.
    let tightest = |ends: Vec<Quantity>, wrong| {
        ends.into_iter().reduce(|a, b| if b.compare(&a) == Some(wrong) { b } else { a })
    };
    let least = tightest(limits.iter().filter_map(|l| l.at_least).collect(), std::cmp::Ordering::Greater);
    let most = tightest(limits.iter().filter_map(|l| l.at_most).collect(), std::cmp::Ordering::Less);
    let by_limit = least.is_some() || most.is_some();
    let per_surface = if by_limit { Span::of(least, most) } else { Span::of(inch(1), inch(2)) };
    Some(Allowance {
        by_limit,
        per_diameter: per_surface.doubled(),
        per_surface,
        held_within: Span::of(None, inch(2)),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn inches_are_told_in_millimetres_exactly() {
        let span = Span::of(inch(1), inch(2));
        assert_eq!(span.other_from.unwrap().to_string(), "0.00254 mm");
        assert_eq!(span.other_to.unwrap().to_string(), "0.00508 mm");
        assert!(span.exact);
        let double = span.doubled();
        assert_eq!(double.to.unwrap().to_string(), "0.0004 in");
        assert_eq!(double.other_to.unwrap().to_string(), "0.01016 mm");
        let metric = Span::of(None, Some("0.005 mm".parse().unwrap()));
        assert_eq!((metric.other_to.unwrap().to_string().as_str(), metric.exact), ("0.0001969 in", false));
    }
}
