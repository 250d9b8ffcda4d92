//! What an order says about decisions, and what an instrument says about its uncertainty; as documents write it.

use std::fmt;

use rust_decimal::Decimal;
use serde::Deserialize;
use serde::Deserializer;
use serde::Serialize;
use serde::Serializer;

use crate::decision::Acceptance;
use crate::decision::Conformance;
use crate::decision::GuardBand;
use crate::decision::GuardError;
use crate::decision::Limits;
use crate::decision::Method;
use crate::decision::Outcome;
use crate::decision::ProbabilityError;
use crate::decision::RoundingError;
use crate::decision::Ties;
use crate::decision::conformance;
use crate::decision::conforms;
use crate::decision::judge;
use crate::units::Quantity;
use crate::units::Unit;

/// An exact number in a document: a text, or a whole number. A binary number is refused, since it has no digits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Figure(pub Decimal);

impl Serialize for Figure {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(&self.0)
    }
}

impl<'de> Deserialize<'de> for Figure {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Reads;
        impl serde::de::Visitor<'_> for Reads {
            type Value = Figure;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a number; put one with a decimal point in quotes, as `\"0.83\"`")
            }

            fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<Figure, E> {
                let plain =
                    text.len() <= 20 && text.bytes().all(|b| b.is_ascii_digit() || b == b'.' || b == b'-');
                let value = plain.then(|| text.parse::<Decimal>().ok()).flatten();
                value.map(Figure).ok_or_else(|| E::custom(format!("`{text}` is not a number, as `\"0.83\"`")))
            }

            fn visit_u64<E: serde::de::Error>(self, value: u64) -> Result<Figure, E> {
                Ok(Figure(Decimal::from(value)))
            }

            fn visit_i64<E: serde::de::Error>(self, value: i64) -> Result<Figure, E> {
                Ok(Figure(Decimal::from(value)))
            }
        }
        deserializer.deserialize_any(Reads)
    }
}

/// Method of ASTM E29.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum MethodName {
    /// As read.
    Absolute,
    /// Rounded to the last place of the limit.
    Rounding,
}

/// Where a tie goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum TiesName {
    /// ASTM E29.
    #[serde(rename = "half to even")]
    HalfEven,
    /// Where a specifier says so.
    #[serde(rename = "half up")]
    HalfUp,
}

/// How uncertainty is taken into account.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum RuleName {
    /// Not at all.
    #[serde(rename = "simple acceptance")]
    Simple,
    /// A guard band of U, ILAC-G8:09/2019.
    #[serde(rename = "guard band U")]
    Full,
    /// A guard band of 0.83 U, ISO 14253-1:2017.
    #[serde(rename = "guard band 0.83 U")]
    Iso14253,
    /// A guard band of r times U; `r` says how many.
    #[serde(rename = "guard band r U")]
    Times,
    /// Probability of conformance, JCGM 106:2012; `at_least` says how much.
    #[serde(rename = "probability of conformance")]
    Probability,
}

/// An order's decision rule.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DecisionRuleDoc {
    /// How a reading is compared with a limit.
    pub method: MethodName,
    /// For the rounding method: where a tie goes; left out, as in E29.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ties: Option<TiesName>,
    /// For the rounding method: unit of the last place, where the limit's digits do not say it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit_of_last_place: Option<Figure>,
    /// How uncertainty is taken into account.
    pub rule: RuleName,
    /// For `guard band r U`: r, 0 to 10.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub r: Option<Figure>,
    /// For `probability of conformance`: least probability, above 0.5 and below 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_least: Option<Figure>,
}

/// A decision rule that was checked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DecisionRule {
    /// Compared as E29 says, no uncertainty.
    Simple {
        /// Tie rule of the rounding method, and its unit where the order names one; none for the absolute method.
        rounding: Option<(Ties, Option<Decimal>)>,
    },
    /// Held against acceptance limits.
    Guarded(GuardBand),
    /// Accepted when the probability of conformance is large enough.
    Probability(Decimal),
}

/// Why a rule or an uncertainty does not hold together.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum OrderError {
    /// A field without its rule.
    #[error("`{field}` belongs to `{to}` only; leave it out, or order that rule")]
    Stray {
        /// The field.
        field: &'static str,
        /// What it belongs to.
        to: &'static str,
    },
    /// A rule without its field.
    #[error("`{rule}` needs `{field}`: {expected}")]
    Missing {
        /// The rule.
        rule: &'static str,
        /// The field.
        field: &'static str,
        /// What it must be.
        expected: &'static str,
    },
    /// A field out of range.
    #[error("`{field}` is {found}: expected {expected}")]
    Range {
        /// The field.
        field: &'static str,
        /// As written.
        found: Decimal,
        /// What it must be.
        expected: &'static str,
    },
    /// Rounding spoils a guard band.
    #[error("the rounding method and a guard band contradict each other; order the absolute method")]
    RoundingGuarded,
    /// The rule needs an uncertainty.
    #[error(
        "this decision rule needs the uncertainty of the instrument; enter it from the calibration certificate"
    )]
    NoUncertainty,
    /// The last place of a limit cannot be told.
    #[error("the last place of the limit cannot be told from its digits; enter `unit_of_last_place`")]
    NoUnit,
    /// Units that differ.
    #[error("the uncertainty is in {found}, the reading in {expected}; state it in the unit of the gauge")]
    Unit {
        /// Of the uncertainty.
        found: Unit,
        /// Of the reading.
        expected: Unit,
    },
    /// See there.
    #[error(transparent)]
    Rounding(#[from] RoundingError),
    /// See there.
    #[error(transparent)]
    Guard(#[from] GuardError),
    /// See there.
    #[error(transparent)]
    Probability(#[from] ProbabilityError),
}

impl DecisionRuleDoc {
    /// Checks that the fields fit each other.
    pub fn check(&self) -> Result<DecisionRule, OrderError> {
        let stray =
            |there: bool, field, to| if there { Err(OrderError::Stray { field, to }) } else { Ok(()) };
        let rounds = self.method == MethodName::Rounding;
        stray(self.ties.is_some() && !rounds, "ties", "method: rounding")?;
        stray(self.unit_of_last_place.is_some() && !rounds, "unit_of_last_place", "method: rounding")?;
        stray(self.r.is_some() && self.rule != RuleName::Times, "r", "rule: guard band r U")?;
        let probable = self.rule == RuleName::Probability;
        stray(self.at_least.is_some() && !probable, "at_least", "rule: probability of conformance")?;
        if rounds && self.rule != RuleName::Simple {
            return Err(OrderError::RoundingGuarded);
        }
        let in_range = |value: Option<Figure>, field, rule, expected, fits: fn(Decimal) -> bool| match value {
            None => Err(OrderError::Missing { rule, field, expected }),
            Some(Figure(v)) if fits(v) => Ok(v),
            Some(Figure(found)) => Err(OrderError::Range { field, found, expected }),
        };
        Ok(match self.rule {
            RuleName::Simple => {
                let unit = match self.unit_of_last_place {
                    None => None,
                    given => {
                        Some(in_range(given, "unit_of_last_place", "rounding", "a number above 0", |v| {
                            v > Decimal::ZERO
                        })?)
                    }
                };
                let ties = if self.ties == Some(TiesName::HalfUp) { Ties::HalfUp } else { Ties::HalfEven };
                DecisionRule::Simple { rounding: rounds.then_some((ties, unit)) }
            }
            RuleName::Full => DecisionRule::Guarded(GuardBand::Full),
            RuleName::Iso14253 => DecisionRule::Guarded(GuardBand::Iso14253),
            RuleName::Times => {
                let fits = |v: Decimal| v > Decimal::ZERO && v <= Decimal::TEN;
                let r = in_range(self.r, "r", "guard band r U", "a number above 0 and at most 10", fits)?;
                DecisionRule::Guarded(GuardBand::Times(r))
            }
            RuleName::Probability => {
                let fits = |v: Decimal| v > Decimal::new(5, 1) && v < Decimal::ONE && v.scale() <= 9;
                let expected = "above 0.5 and below 1, at most 9 decimals";
                let rule = "probability of conformance";
                DecisionRule::Probability(in_range(self.at_least, "at_least", rule, expected, fits)?)
            }
        })
    }
}

impl DecisionRule {
    /// Judges a reading by this rule; limits, reading and uncertainty in one unit.
    ///
    /// For a probability the rounded value of twelve decimals is compared; a reading outside the limits is rejected
    /// whatever its probability. Errors: a rule that needs an uncertainty and has none; a last place nobody can tell.
    pub fn judge(
        &self,
        reading: Decimal,
        limits: &Limits,
        uncertainty: Option<Uncertainty>,
    ) -> Result<Outcome, OrderError> {
        match *self {
            DecisionRule::Simple { rounding } => {
                let method = match rounding {
                    None => Method::Absolute,
                    Some((ties, unit)) => Method::Rounding { unit: last_place(limits, unit)?, ties },
                };
                let compared = conforms(reading, limits, method)?;
                Ok(if compared.conforms { Outcome::Accept } else { Outcome::Reject })
            }
            DecisionRule::Guarded(band) => {
                let expanded = uncertainty.ok_or(OrderError::NoUncertainty)?.expanded;
                let acceptance: Acceptance = band.acceptance(limits, expanded)?;
                Ok(judge(reading, limits, &acceptance))
            }
            DecisionRule::Probability(least) => {
                let u = uncertainty.ok_or(OrderError::NoUncertainty)?.standard()?;
                let found: Conformance = conformance(reading, u, limits)?;
                Ok(if !limits.hold(reading) {
                    Outcome::Reject
                } else if found.inside >= least {
                    Outcome::Accept
                } else {
                    Outcome::Conditional
                })
            }
        }
    }
}

/// The unit named, or the one that all limits show.
fn last_place(limits: &Limits, named: Option<Decimal>) -> Result<Decimal, OrderError> {
    if let Some(unit) = named {
        return Ok(unit);
    }
    let shown: Option<Vec<Decimal>> =
        [limits.lower, limits.upper].into_iter().flatten().map(crate::decision::unit_of_last_place).collect();
    match shown.as_deref() {
        Some([one]) => Ok(*one),
        Some([lower, upper]) if lower == upper => Ok(*lower),
        _ => Err(OrderError::NoUnit),
    }
}

/// Expanded uncertainty as a calibration certificate states it: `0.05 µm`, or per cent of the reading, `5 % of reading`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Expanded {
    /// In a unit.
    Absolute(Quantity),
    /// Per cent of the reading.
    OfReading(Decimal),
}

impl Serialize for Expanded {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            Expanded::Absolute(quantity) => quantity.serialize(serializer),
            Expanded::OfReading(percent) => serializer.collect_str(&format_args!("{percent} % of reading")),
        }
    }
}

impl<'de> Deserialize<'de> for Expanded {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        if let Some(number) = text.strip_suffix(" % of reading") {
            let plain = number.len() <= 12 && number.bytes().all(|b| b.is_ascii_digit() || b == b'.');
            let percent = plain.then(|| number.parse::<Decimal>().ok()).flatten();
            let wrong = || serde::de::Error::custom(format!("`{text}`: expected as in `5 % of reading`"));
            return percent.map(Expanded::OfReading).ok_or_else(wrong);
        }
        text.parse().map(Expanded::Absolute).map_err(serde::de::Error::custom)
    }
}

/// An instrument's uncertainty.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct UncertaintyDoc {
    /// Expanded uncertainty U.
    pub expanded: Expanded,
    /// Coverage factor, 1 to 4; 2 is about 95 % (GUM).
    pub k: Figure,
}

/// Uncertainty for one reading, in the reading's unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Uncertainty {
    /// Expanded uncertainty U.
    pub expanded: Decimal,
    /// Coverage factor.
    pub k: Decimal,
}

impl UncertaintyDoc {
    /// U for a reading, in the reading's unit; nothing is converted. Errors: another unit, k or U out of range.
    pub fn at(&self, reading: &Quantity) -> Result<Uncertainty, OrderError> {
        let Figure(k) = self.k;
        if k < Decimal::ONE || k > Decimal::from(4) {
            return Err(OrderError::Range { field: "k", found: k, expected: "1 to 4" });
        }
        let expanded = match self.expanded {
            Expanded::Absolute(quantity) if quantity.unit() != reading.unit() => {
                return Err(OrderError::Unit { found: quantity.unit(), expected: reading.unit() });
            }
            Expanded::Absolute(quantity) => quantity.value(),
            Expanded::OfReading(percent) => {
                let product = reading.value().abs().checked_mul(percent);
                let share = product.and_then(|p| p.checked_mul(Decimal::new(1, 2)));
                share.ok_or(GuardError::TooLong)?
            }
        };
        if expanded <= Decimal::ZERO {
            return Err(OrderError::Range {
                field: "expanded",
                found: expanded,
                expected: "a number above 0",
            });
        }
        Ok(Uncertainty { expanded, k })
    }
}

impl Uncertainty {
    /// Standard uncertainty u = U / k.
    pub fn standard(&self) -> Result<Decimal, OrderError> {
        self.expanded.checked_div(self.k).ok_or(OrderError::Guard(GuardError::TooLong))
    }
}
