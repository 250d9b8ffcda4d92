//! Whether the estimates agree, and which of them judges.

use std::collections::BTreeSet;

use rust_decimal::Decimal;
use rust_decimal::RoundingStrategy;

use super::Estimate;
use super::Method;
use super::RemovalError;
use super::amount::quadrature;
use super::within;

/// Two estimates held against each other.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pair {
    /// The one.
    pub one: Method,
    /// The other.
    pub other: Method,
    /// `|a − b| / √(Ua² + Ub²)`, not rounded; `None` where neither states an uncertainty and they differ.
    pub normalised: Option<Decimal>,
    /// Whether it is above 1, so that they differ by more than their uncertainties allow. Not where the
    /// larger one is an upper bound: less than a bound does not contradict it.
    pub disagree: bool,
    /// The same in words.
    pub words: String,
}

/// The estimates beside each other.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Comparison {
    /// Every pair, in the order charge, weighing, dimensions.
    pub pairs: Vec<Pair>,
    /// The estimate that judges.
    pub judge: Estimate,
    /// Why this one.
    pub reason: &'static str,
    /// All of them, in the same order.
    pub estimates: Vec<Estimate>,
}

/// Which way a requirement bounds the removal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Limit {
    /// No more than.
    AtMost,
    /// No less than.
    AtLeast,
}

impl Comparison {
    /// The estimate least favourable to a limit: the largest against a maximum, the smallest against a
    /// minimum.
    pub fn conservative(&self, limit: Limit) -> &Estimate {
        let mut chosen = &self.judge;
        for estimate in &self.estimates {
            let worse = match limit {
                Limit::AtMost => estimate.depth > chosen.depth,
                Limit::AtLeast => estimate.depth < chosen.depth,
            };
            if worse {
                chosen = estimate;
            }
        }
        chosen
    }
}

/// Holds one to three estimates against each other by the normalised difference `E_n = |a − b| / √(Ua² +
/// Ub²)` (ISO 13528, recalled); above 1 they disagree. The weighing judges if there is one, else the
/// dimensions, else the charge. No mean of them is formed: a mean of figures that disagree is none of them.
/// Errors: none, or two of one kind.
pub fn compare(estimates: &[Estimate]) -> Result<Comparison, RemovalError> {
    let mut estimates = estimates.to_vec();
    estimates.sort_by_key(|estimate| estimate.method);
    let mut pairs = Vec::new();
    for (at, one) in estimates.iter().enumerate() {
        for other in estimates.iter().skip(at.saturating_add(1)) {
            if one.method == other.method {
                return Err(RemovalError::SameMethod(one.method));
            }
            pairs.push(pair(one, other)?);
        }
    }
    let order = [
        (Method::Weighing, "a mass lost is measured on the whole surface, and needs no valence"),
        (Method::Dimensions, "no piece was weighed; sizes are measured, though in few places"),
        (Method::Charge, "nothing was weighed or measured; a charge gives an estimate only"),
    ];
    for (method, reason) in order {
        if let Some(judge) = estimates.iter().find(|estimate| estimate.method == method).cloned() {
            return Ok(Comparison { pairs, judge, reason, estimates });
        }
    }
    Err(RemovalError::NoEstimate)
}

fn pair(one: &Estimate, other: &Estimate) -> Result<Pair, RemovalError> {
    let what = "the difference of two estimates";
    let apart = within(one.depth.checked_sub(other.depth), what)?.abs();
    let allowed = within(quadrature(&[one.expanded, other.expanded]), what)?;
    let normalised = match (allowed.is_zero(), apart.is_zero()) {
        (false, _) => Some(within(apart.checked_div(allowed), what)?),
        (true, true) => Some(Decimal::ZERO),
        (true, false) => None,
    };
    // A charge reckoned at 100 % is the most it can be: less found by another way does not contradict it.
    let bounded =
        (one.upper_bound && one.depth >= other.depth) || (other.upper_bound && other.depth >= one.depth);
    let apart_too_far = normalised.is_none_or(|n| n > Decimal::ONE);
    let disagree = apart_too_far && !bounded;
    // E_n is shown rounded away from 1, so that 1.004 does not read as 1.00.
    let way = if apart_too_far { RoundingStrategy::AwayFromZero } else { RoundingStrategy::ToZero };
    let shown = match normalised {
        Some(n) => format!("E_n {}", n.round_dp_with_strategy(2, way)),
        None => "no uncertainty stated".to_owned(),
    };
    let verb = match (disagree, apart_too_far) {
        (true, _) => "disagrees with",
        (false, true) => "differs as an upper bound may from",
        (false, false) => "agrees with",
    };
    let mut words = format!(
        "removal {} ({} µm) {verb} removal {} ({} µm): {shown}",
        one.method,
        one.depth.round_dp(2),
        other.method,
        other.depth.round_dp(2),
    );
    let lacking: BTreeSet<&str> = one.not_stated.iter().chain(&other.not_stated).copied().collect();
    if !lacking.is_empty() {
        let lacking: Vec<&str> = lacking.into_iter().collect();
        words.push_str(", without the uncertainty of ");
        words.push_str(&lacking.join(", "));
    }
    Ok(Pair { one: one.method, other: other.method, normalised, disagree, words })
}
