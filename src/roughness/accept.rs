//! Whether measured roughness values meet a limit, and by which rule.
//!
//! ISO 4288:1996 takes the 16 % rule where nothing is said (read in secondary texts), ISO 21920-3:2021 the
//! maximum rule (recalled): the same symbol on a drawing is judged otherwise by the two. So the rule is
//! always an argument.

use std::cmp::Ordering;
use std::fmt;

use rust_decimal::Decimal;

use crate::units::Dimension;
use crate::units::Quantity;

/// Which side a limit bounds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Values above it are beyond it.
    Upper,
    /// Values below it are beyond it.
    Lower,
}

/// A limit of a roughness parameter. A value equal to it is within.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limit {
    /// Which side it bounds.
    pub side: Side,
    /// The limit, a length.
    pub value: Quantity,
}

/// How several values are held against one limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rule {
    /// At most 16 % of the values of the most critical area are beyond the limit (ISO 4288:1996, 5.2).
    SixteenPercent,
    /// No value is beyond the limit (the suffix `max`; the default of ISO 21920-3:2021; recalled).
    Maximum,
    /// The mean of the values is not beyond the limit (common practice of ASME B46.1 call-outs).
    Mean,
}

/// What a rule found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// Whether the limit is met.
    pub met: bool,
    /// The rule that was followed.
    pub rule: Rule,
    /// The limit.
    pub limit: Limit,
    /// Values beyond the limit.
    pub beyond: usize,
    /// All values.
    pub of: usize,
}

/// What the short procedure found so far.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ShortOutcome {
    /// The limit is met; so many values were needed.
    Met {
        /// Values looked at.
        after: usize,
    },
    /// The limit is not met.
    NotMet {
        /// Values looked at.
        after: usize,
        /// Of them beyond the limit.
        beyond: usize,
    },
    /// It cannot be told yet.
    Measure {
        /// Values to have in all.
        until: usize,
        /// Values there are.
        have: usize,
    },
}

/// Why values cannot be judged.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum AcceptError {
    /// No value.
    #[error("no value to judge: expected one or more, best one for each sampling length")]
    NoValue,
    /// Not a length.
    #[error(
        "{found} cannot be held against a roughness limit: expected a length, as in `0.38 µm` or `15 µin`"
    )]
    NotALength {
        /// As found.
        found: String,
    },
    /// Below nought.
    #[error("{found} is below nought: no roughness parameter of a limit is; look for a slip of the pen")]
    Negative {
        /// As found.
        found: String,
    },
    /// The mean needs one unit.
    #[error(
        "the values are in {first} and {second}: expected one unit for a mean; restate them in one of the two"
    )]
    Units {
        /// Unit of the first.
        first: String,
        /// The other.
        second: String,
    },
    /// Beyond a decimal.
    #[error("{found} is too large to compute with: expected a roughness below a metre")]
    TooLarge {
        /// As found.
        found: String,
    },
}

impl Limit {
    /// Whether a value lies beyond the limit.
    fn exceeded_by(&self, value: &Quantity) -> Result<bool, AcceptError> {
        let order = value.compare(&self.value).ok_or_else(|| too_large(value))?;
        Ok(match self.side {
            Side::Upper => order == Ordering::Greater,
            Side::Lower => order == Ordering::Less,
        })
    }
}

fn too_large(value: &Quantity) -> AcceptError {
    AcceptError::TooLarge { found: value.to_string() }
}

/// Values and limit are lengths, and none is below nought.
fn checked(limit: &Limit, values: &[Quantity]) -> Result<(), AcceptError> {
    if values.is_empty() {
        return Err(AcceptError::NoValue);
    }
    for value in values.iter().chain(std::iter::once(&limit.value)) {
        if value.dimension() != Dimension::Length {
            return Err(AcceptError::NotALength { found: value.to_string() });
        }
        if value.value() < Decimal::ZERO {
            return Err(AcceptError::Negative { found: value.to_string() });
        }
    }
    Ok(())
}

/// How many of some values are beyond the limit.
fn beyond<'a>(limit: &Limit, values: impl IntoIterator<Item = &'a Quantity>) -> Result<usize, AcceptError> {
    let mut count = 0_usize;
    for value in values {
        count = count.saturating_add(usize::from(limit.exceeded_by(value)?));
    }
    Ok(count)
}

/// Holds values (one for each sampling length, or one for each place) against a limit.
///
/// - 16 % rule: met where `100 · beyond ≤ 16 · all`, in whole numbers. So none of 5 or 6 may be beyond, 1 of
///   7, 2 of 13. ISO 4288 annex A allows 1 of 6; that is [`short_procedure`].
/// - Maximum rule: met where none is beyond.
/// - Mean: met where `Σ values ≤ n · limit` (or `≥`), exactly; the mean itself is never rounded.
///
/// # Errors
/// Where there is no value, one is no length or below nought, or a mean is asked of several units.
pub fn judge(rule: Rule, limit: &Limit, values: &[Quantity]) -> Result<Finding, AcceptError> {
    checked(limit, values)?;
    let beyond = beyond(limit, values)?;
    let of = values.len();
    let met = match rule {
        Rule::SixteenPercent => sixteen_percent(beyond, of),
        Rule::Maximum => beyond == 0,
        Rule::Mean => mean_within(limit, values)?,
    };
    Ok(Finding { met, rule, limit: *limit, beyond, of })
}

/// Whether so many values beyond a limit are at most 16 in a hundred of all.
pub const fn sixteen_percent(beyond: usize, of: usize) -> bool {
    beyond.saturating_mul(100) <= of.saturating_mul(16)
}

/// Whether the mean is within the limit, sums against sums.
fn mean_within(limit: &Limit, values: &[Quantity]) -> Result<bool, AcceptError> {
    let Some(first) = values.first() else { return Err(AcceptError::NoValue) };
    let mut sum = Decimal::ZERO;
    for value in values {
        if value.unit() != first.unit() {
            let (first, second) = (first.unit().to_string(), value.unit().to_string());
            return Err(AcceptError::Units { first, second });
        }
        sum = sum.checked_add(value.value()).ok_or_else(|| too_large(value))?;
    }
    let count = Decimal::from(values.len());
    let bound = limit.value.value().checked_mul(count).ok_or_else(|| too_large(&limit.value))?;
    let whole = Limit { side: limit.side, value: Quantity::new(bound, limit.value.unit()) };
    Ok(!whole.exceeded_by(&Quantity::new(sum, first.unit()))?)
}

/// The short procedure of ISO 4288:1996 annex A for the 16 % rule (recalled), with values in the order
/// measured:
/// 1. met where the first value is at most 70 % of an upper limit (there is no such step for a lower one);
/// 2. met where none of the first 3 is beyond;
/// 3. met where at most 1 of the first 6 is beyond;
/// 4. met where at most 2 of the first 12 are beyond; otherwise not met.
///
/// Values after the twelfth are not looked at. Three values beyond the limit end it early, as no step can be
/// met then.
///
/// # Errors
/// Where there is no value, or one is no length or below nought.
pub fn short_procedure(limit: &Limit, values: &[Quantity]) -> Result<ShortOutcome, AcceptError> {
    checked(limit, values)?;
    let times = |q: &Quantity, by: i64| {
        let value = q.value().checked_mul(Decimal::from(by)).ok_or_else(|| too_large(q))?;
        Ok::<_, AcceptError>(Quantity::new(value, q.unit()))
    };
    if let (Side::Upper, Some(first)) = (limit.side, values.first()) {
        let order = times(first, 100)?.compare(&times(&limit.value, 70)?).ok_or_else(|| too_large(first))?;
        if order != Ordering::Greater {
            return Ok(ShortOutcome::Met { after: 1 });
        }
    }
    let have = values.len();
    for (until, allowed) in [(3, 0), (6, 1), (12, 2)] {
        let seen = have.min(until);
        let count = beyond(limit, values.iter().take(until))?;
        if count > 2 {
            return Ok(ShortOutcome::NotMet { after: seen, beyond: count });
        }
        if count > allowed {
            continue;
        }
        return Ok(if have < until {
            ShortOutcome::Measure { until, have }
        } else {
            ShortOutcome::Met { after: until }
        });
    }
    // At most two beyond always meets the last step.
    Ok(ShortOutcome::Measure { until: 12, have })
}

impl fmt::Display for Rule {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Rule::SixteenPercent => "16 % rule",
            Rule::Maximum => "maximum rule",
            Rule::Mean => "mean of all values",
        })
    }
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let side = if self.limit.side == Side::Upper { "above the upper" } else { "below the lower" };
        let met = if self.met { "met" } else { "not met" };
        write!(
            f,
            "{}: {met}; {} of {} values {side} limit {}",
            self.rule, self.beyond, self.of, self.limit.value
        )
    }
}
