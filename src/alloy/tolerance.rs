//! How far a product analysis may lie outside the limits of a grade.
//!
//! A mill analyses the melt, and the grade's limits are limits of that. Whoever analyses a bar afterwards finds the
//! metal less even than the melt was; the product standards allow for it, by so much for each element.

use rust_decimal::Decimal;
use serde::Deserialize;
use serde::Serialize;

use crate::alloy::Alloy;
use crate::alloy::ElementLimits;
use crate::pack::Basis;
use crate::record::Analysis;
use crate::record::Heat;
use crate::units::Quantity;

/// The tolerances of one standard (`rules/product-tolerances.yaml`).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ProductTolerances {
    /// The standard.
    pub designation: String,
    /// How the rows are known.
    pub basis: Basis,
    /// Rows, by element, smallest limits first.
    pub tolerances: Vec<Tolerance>,
}

/// One row: an element, a range of its upper limit, and the tolerance.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tolerance {
    /// Chemical symbol.
    pub element: String,
    /// The grade's upper limit is over this; left out: from nothing on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub over: Option<Quantity>,
    /// And no more than this; left out: however much.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<Quantity>,
    /// What a product analysis may lie over the upper or under the lower limit; left out when nobody is sure.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tolerance: Option<Quantity>,
    /// Basis, where it differs from the table's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basis: Option<Basis>,
}

impl ProductTolerances {
    /// The row for an element's limits: by the upper limit, which decides for both ends. An element with a lower
    /// limit only has a row only where one row is for any limit.
    pub fn row(&self, limits: &ElementLimits) -> Option<&Tolerance> {
        let rows = self.tolerances.iter().filter(|row| row.element == limits.element);
        rows.into_iter().find(|row| match limits.to {
            Some(to) => {
                row.over.is_none_or(|over| to.value() > over.value())
                    && row.to.is_none_or(|most| to.value() <= most.value())
            }
            None => row.over.is_none() && row.to.is_none(),
        })
    }

    /// The table with the rows alone that judge these heats; nothing when none does.
    #[must_use]
    pub fn used(&self, alloy: &Alloy, heats: &[Heat]) -> Option<ProductTolerances> {
        let product = heats.iter().filter(|heat| heat.analysis == Some(Analysis::Product));
        let given: Vec<&String> = product.flat_map(|heat| heat.chemistry.keys()).collect();
        let limits = alloy.composition.iter().filter(|limits| given.contains(&&limits.element));
        let rows: Vec<&Tolerance> = limits.filter_map(|limits| self.row(limits)).collect();
        let tolerances: Vec<Tolerance> =
            self.tolerances.iter().filter(|row| rows.contains(row)).cloned().collect();
        (!tolerances.is_empty()).then(|| ProductTolerances { tolerances, ..self.clone() })
    }
}

impl ElementLimits {
    /// Whether a value lies within the limits, each widened by so much. Both limits are included.
    pub fn holds(&self, value: &Quantity, wider: Decimal) -> bool {
        let low = self.from.map(|from| from.value().saturating_sub(wider));
        let high = self.to.map(|to| to.value().saturating_add(wider));
        low.is_none_or(|low| value.value() >= low) && high.is_none_or(|high| value.value() <= high)
    }
}

impl std::fmt::Display for ElementLimits {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let element = &self.element;
        match (self.from, self.to) {
            (Some(from), Some(to)) => write!(f, "{element} {} to {to}", from.value()),
            (Some(from), None) => write!(f, "{element} at least {from}"),
            (None, Some(to)) => write!(f, "{element} at most {to}"),
            (None, None) => write!(f, "{element} any"),
        }
    }
}
