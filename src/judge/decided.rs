//! One reading against one limit, under the order's decision rule.

use std::cmp::Ordering;

use crate::decision::GuardBand;
use crate::decision::Limits;
use crate::decision::Ties;
use crate::decision::round_to;
use crate::decision::unit_of_last_place;
use crate::finding::Reason;
use crate::judge::evidence::Uncertainty;
use crate::order::DecisionRule;
use crate::units::Dimension;
use crate::units::Quantity;

/// Which side of a limit conforms.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    /// The limit and more.
    AtLeast,
    /// The limit and less.
    AtMost,
}

impl Side {
    /// The words before the limit.
    pub(super) const fn word(self) -> &'static str {
        match self {
            Side::AtLeast => "at least",
            Side::AtMost => "at most",
        }
    }

    const fn wrong(self) -> Ordering {
        match self {
            Side::AtLeast => Ordering::Less,
            Side::AtMost => Ordering::Greater,
        }
    }
}

/// How readings are held against limits.
pub(super) struct Decided<'a> {
    /// The order's rule.
    pub(super) rule: DecisionRule,
    /// What is known of the reading's uncertainty.
    pub(super) uncertainty: &'a Uncertainty,
}

impl Decided<'_> {
    /// Whether a reading conforms to a limit.
    ///
    /// # Errors
    /// [`Reason::WrongUnit`] when they measure different things; [`Reason::Unknown`] when the rule needs an uncertainty
    /// that nobody stated.
    pub(super) fn met(&self, reading: &Quantity, limit: &Quantity, side: Side) -> Result<bool, Reason> {
        let plain = |reading: &Quantity, limit: &Quantity| {
            let order = reading.compare(limit).ok_or(Reason::WrongUnit)?;
            Ok(order != side.wrong())
        };
        let unsaid = Uncertainty::Unknown("the uncertainty of the reading".to_owned());
        let known = match self.uncertainty {
            Uncertainty::NotAsked if is_measured(reading.dimension()) => &unsaid,
            _ if is_counted(reading.dimension()) => &Uncertainty::NotAsked,
            said => said,
        };
        match (self.rule, known) {
            (DecisionRule::SimpleAcceptance, _) | (DecisionRule::GuardBand, Uncertainty::NotAsked) => {
                plain(reading, limit)
            }
            (DecisionRule::RoundingMethod, _) => plain(&rounded(reading, limit), limit),
            (DecisionRule::GuardBand, Uncertainty::Unknown(what)) => {
                // What is beyond the limit itself needs no uncertainty to be refused.
                if plain(reading, limit)? { Err(Reason::Unknown(what.clone())) } else { Ok(false) }
            }
            (DecisionRule::GuardBand, Uncertainty::Known(expanded)) => {
                let band = expanded.difference_in(limit.unit()).ok_or(Reason::WrongUnit)?;
                let limits = match side {
                    Side::AtLeast => Limits::at_least(limit.value()),
                    Side::AtMost => Limits::at_most(limit.value()),
                };
                // What cannot be reckoned exactly is not decided.
                let undecided = |_| Reason::Unknown(format!("a guard band of {expanded} inside {limit}"));
                let moved = GuardBand::Full.acceptance(&limits, band).map_err(undecided)?.limits;
                let guarded = moved.lower.or(moved.upper).ok_or(Reason::WrongUnit)?;
                plain(reading, &Quantity::new(guarded, limit.unit()))
            }
        }
    }

    /// The limit in words, with what the rule does to it.
    pub(super) fn words(&self, limit: String, of: &Quantity) -> String {
        match (self.rule, self.uncertainty) {
            (DecisionRule::GuardBand, Uncertainty::Known(expanded)) => {
                format!("{limit}, inside by {expanded}")
            }
            (DecisionRule::RoundingMethod, _) => match unit_of_last_place(of.value()) {
                Some(step) => format!("{limit}, rounded to {} first", Quantity::new(step, of.unit())),
                None => limit,
            },
            _ => limit,
        }
    }
}

/// What is read off an instrument with an uncertainty of its own; times and counts are not, nor is a heat's analysis
/// or what somebody else stated.
const fn is_measured(dimension: Dimension) -> bool {
    matches!(
        dimension,
        Dimension::Temperature
            | Dimension::Solids
            | Dimension::Length
            | Dimension::Humidity
            | Dimension::Acidity
            | Dimension::CurrentDensity
            | Dimension::Voltage
            | Dimension::Conductivity
    )
}

/// What a clock or a count tells.
const fn is_counted(dimension: Dimension) -> bool {
    matches!(dimension, Dimension::Time | Dimension::Cycles | Dimension::Pieces | Dimension::Defects)
}

/// A reading rounded to the last place of a limit in its unit, ties to the even digit. Left as it is where that place
/// cannot be told (the zeros that end `20 vol%` or `70 °F` say nothing) and in another unit.
fn rounded(reading: &Quantity, limit: &Quantity) -> Quantity {
    let step = unit_of_last_place(limit.value()).filter(|_| reading.unit() == limit.unit());
    let value = step.and_then(|step| round_to(reading.value(), step, Ties::HalfEven).ok());
    value.map_or(*reading, |value| Quantity::new(value, reading.unit()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn q(text: &str) -> Quantity {
        text.parse().unwrap()
    }

    fn met(rule: DecisionRule, uncertainty: &Uncertainty, reading: &str, limit: &str, side: Side) -> bool {
        Decided { rule, uncertainty }.met(&q(reading), &q(limit), side).unwrap()
    }

    /// Cases in the manner of ASTM E29 (recalled): a least 57 and 56.5 rounded to the even digit; a most of 0.5.
    #[test]
    fn rounding_method() {
        for (reading, limit, side, expected) in [
            ("56.4 wt%", "57 wt%", Side::AtLeast, false),
            ("56.5 wt%", "57 wt%", Side::AtLeast, false),
            ("56.6 wt%", "57 wt%", Side::AtLeast, true),
            ("0.54 wt%", "0.5 wt%", Side::AtMost, true),
            ("0.55 wt%", "0.5 wt%", Side::AtMost, false),
            ("0.56 wt%", "0.5 wt%", Side::AtMost, false),
            // What place the zero of 70 stands for nobody can tell, so nothing is rounded; nor in another unit.
            ("90.4 °F", "90 °F", Side::AtMost, false),
            ("90.4 °F", "90.0 °F", Side::AtMost, false),
            ("0.4065 µm", "16 µin", Side::AtMost, false),
        ] {
            let found = met(DecisionRule::RoundingMethod, &Uncertainty::NotAsked, reading, limit, side);
            assert_eq!(found, expected, "{reading} {limit}");
        }
    }

    /// A worked example of the metrology literature: limit 3 µm, U 1.0 µm, so 2.0 µm is the acceptance limit.
    #[test]
    fn guard_band() {
        let known = Uncertainty::Known(q("1.0 µm"));
        for (reading, expected) in [("1.7 µm", true), ("2.0 µm", true), ("2.1 µm", false), ("2.5 µm", false)]
        {
            assert_eq!(
                met(DecisionRule::GuardBand, &known, reading, "3 µm", Side::AtMost),
                expected,
                "{reading}"
            );
        }
        // 0.5 °C of uncertainty are 0.9 °F.
        let known = Uncertainty::Known(q("0.5 °C"));
        assert!(met(DecisionRule::GuardBand, &known, "70.9 °F", "70 °F", Side::AtLeast));
        assert!(!met(DecisionRule::GuardBand, &known, "70.8 °F", "70 °F", Side::AtLeast));
        // Nobody stated it: refused beyond the limit, undecided within.
        let unknown = Uncertainty::Unknown("the uncertainty of TI-2".to_owned());
        let decided = Decided { rule: DecisionRule::GuardBand, uncertainty: &unknown };
        assert_eq!(decided.met(&q("69 °F"), &q("70 °F"), Side::AtLeast), Ok(false));
        assert!(matches!(decided.met(&q("75 °F"), &q("70 °F"), Side::AtLeast), Err(Reason::Unknown(_))));
    }
}
