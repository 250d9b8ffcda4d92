//! Stock removal in electropolishing: how much came off, told three ways (charge, weighing, dimensions), how
//! far the ways agree, and what to machine so that the finished part is in tolerance.
//!
//! Rules of this module:
//! - all figures are decimals; nothing is rounded before the caller asks for it;
//! - every uncertainty is an expanded one (k = 2, about 95 %), as calibration certificates state it, and
//!   expanded ones are combined in quadrature; one that was not stated counts as nothing and is named in the
//!   result;
//! - depth is removal per surface: a diameter changes by twice as much.

mod allowance;
mod alloy;
mod amount;
mod compare;
mod density;
pub mod document;
mod efficiency;
mod estimate;
mod plan;
mod tables;

use rust_decimal::Decimal;

pub use allowance::Band;
pub use allowance::Feature;
pub use allowance::Size;
pub use allowance::THREAD_FACTOR;
pub use allowance::machine_to;
pub use allowance::thread_pitch_change;
pub use alloy::Composition;
pub use alloy::Counted;
pub use alloy::EquivalentWeight;
pub use alloy::IronShare;
pub use alloy::Limits;
pub use alloy::Valences;
pub use amount::Passage;
pub use amount::round_half_even;
pub use compare::Comparison;
pub use compare::Limit;
pub use compare::Pair;
pub use compare::compare;
pub use density::Density;
pub use density::Family;
pub use efficiency::Coupon;
pub use efficiency::Efficiency;
pub use efficiency::calibrate;
pub use estimate::Across;
pub use estimate::ChargeUncertainty;
pub use estimate::Estimate;
pub use estimate::Method;
pub use estimate::Weighings;
pub use estimate::dimensions;
pub use estimate::faraday;
pub use estimate::weighing;
pub use plan::HYDROGEN_CAUTION;
pub use plan::TYPICAL_REMOVAL;
pub use plan::charge_needed;
pub use plan::hydrogen_litres;
pub use plan::per_square_decimetre;
pub use plan::per_square_foot;
pub use tables::atomic_weight;
pub use tables::grubbs;
pub use tables::student_t;

/// Faraday constant, C/mol: 96485.33212, the ten digits usually printed of what the SI of 2019 fixes (CODATA
/// 2018).
pub const FARADAY: Decimal = Decimal::from_parts(1_058_598_620, 2, 0, false, 5);

/// Why a removal cannot be worked out.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RemovalError {
    /// A symbol that is no element of stainless steel here.
    #[error(
        "unknown element `{0}`: expected a chemical symbol such as `Cr`; write it as in the periodic table, \
             or leave the element out if it is below 1 wt%"
    )]
    UnknownElement(String),
    /// A share that cannot be.
    #[error("{symbol} is {found} wt%: expected 0 to 100; look for a slipped decimal point")]
    BadShare {
        /// The element.
        symbol: String,
        /// As given.
        found: Decimal,
    },
    /// Elements that leave no room.
    #[error("the elements come to {0} wt%: expected at most 100; look for an element given twice or in ppm")]
    TooMuch(Decimal),
    /// A lower limit above the upper.
    #[error("{symbol} is limited to {min} to {max} wt%: expected the lower limit first; swap them")]
    LimitsCrossed {
        /// The element.
        symbol: String,
        /// Lower limit.
        min: Decimal,
        /// Upper limit.
        max: Decimal,
    },
    /// No element at all takes part.
    #[error(
        "no element of 1 wt% or more with a valence is left to dissolve: give the composition with its main \
             elements"
    )]
    NothingDissolves,
    /// A figure in a unit of something else.
    #[error("{what} is `{found}`: expected {expected}")]
    WrongUnit {
        /// Which figure.
        what: &'static str,
        /// As given.
        found: String,
        /// Units that would do.
        expected: &'static str,
    },
    /// A figure that must be above nothing.
    #[error("{what} is `{found}`: expected more than 0; read it off the record again")]
    NotPositive {
        /// Which figure.
        what: &'static str,
        /// As given.
        found: String,
    },
    /// A figure that cannot be negative.
    #[error("{what} is `{found}`: expected 0 or more; an uncertainty and a removal carry no sign")]
    Negative {
        /// Which figure.
        what: &'static str,
        /// As given.
        found: String,
    },
    /// A relative uncertainty above the whole.
    #[error(
        "the uncertainty of {what} is {found} of its value: expected a fraction from 0 to 1, as 0.02 for 2 %"
    )]
    BadFraction {
        /// Which figure.
        what: &'static str,
        /// As given.
        found: Decimal,
    },
    /// A density no steel has.
    #[error("the density is {0} g/cm³: expected 6 to 10; 7940 kg/m³ is 7.94 g/cm³")]
    BadDensity(Decimal),
    /// A grade the table does not name.
    #[error(
        "no density is known for `{0}`: expected a grade of the table such as `304` or `S31603`; state the \
             density, or take the one of its family"
    )]
    NoDensity(String),
    /// An efficiency out of any bath's reach.
    #[error(
        "the current efficiency is {0}: expected a fraction above 0 and up to 1.5, as 0.85 for 85 %; above \
             1.5 the valences or the charge are wrong"
    )]
    BadEfficiency(Decimal),
    /// An efficiency found with other valences than the ones used.
    #[error(
        "the efficiency was calibrated with valences {calibrated}, the charge is reckoned with {used}: \
             expected the same; an efficiency holds for its valences only"
    )]
    OtherValences {
        /// Of the calibration.
        calibrated: Valences,
        /// Of this reckoning.
        used: Valences,
    },
    /// A piece heavier after than before.
    #[error(
        "the mass before is `{before}`, after it `{after}`: expected less after; look for swapped figures, \
             or a piece weighed wet"
    )]
    NotLighter {
        /// As given.
        before: String,
        /// As given.
        after: String,
    },
    /// A size that changed the wrong way.
    #[error(
        "{feature} was `{before}` before and `{after}` after: expected it {expected}; look for swapped \
             figures"
    )]
    WrongWay {
        /// What was measured.
        feature: Feature,
        /// As given.
        before: String,
        /// As given.
        after: String,
        /// Which way metal removal changes it.
        expected: &'static str,
    },
    /// Too few coupons for a mean.
    #[error("{0} weighed coupons: expected at least 3; run more coupons in the same bath")]
    FewCoupons(usize),
    /// Nothing to compare or judge by.
    #[error("no estimate: expected at least one of charge, weighing or dimensions")]
    NoEstimate,
    /// Two estimates of one kind.
    #[error("two estimates {0}: expected one of each kind; average repeats before comparing")]
    SameMethod(Method),
    /// Limits or a band the wrong way round.
    #[error("{what} runs from `{from}` to `{to}`: expected the smaller first; swap them")]
    Crossed {
        /// What.
        what: &'static str,
        /// As given.
        from: String,
        /// As given.
        to: String,
    },
    /// A removal band the tolerance cannot hold.
    #[error(
        "the removal may vary by {spread} µm across {feature}, the tolerance is {tolerance} µm: expected a \
             band no wider than the tolerance; hold the removal closer or widen the tolerance"
    )]
    BandTooWide {
        /// What is sized.
        feature: Feature,
        /// What the removal may vary the size by, µm.
        spread: Decimal,
        /// Width of the tolerance, µm.
        tolerance: Decimal,
    },
    /// A window that vanishes between two steps of the last digit.
    #[error(
        "no size with {0} digits after the point lies in the window: expected a window of at least one step; \
             ask for more digits"
    )]
    NoStepInside(u32),
    /// A charge told twice or not at all.
    #[error(
        "the charge is told by {found}: expected one of current with time and area, current density with \
             time, or charge with area"
    )]
    UnclearCharge {
        /// Fields that were given.
        found: String,
    },
    /// More digits than the arithmetic holds.
    #[error("{0} is too large or too small to reckon with: expected figures a gauge can show")]
    OutOfRange(&'static str),
}

/// The value, or the error that says which figure is beyond decimals.
pub(crate) fn within(value: Option<Decimal>, what: &'static str) -> Result<Decimal, RemovalError> {
    value.ok_or(RemovalError::OutOfRange(what))
}
