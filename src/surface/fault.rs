//! What can be wrong with a surface analysis.

use rust_decimal::Decimal;

use crate::surface::atomic::AtPercent;
use crate::surface::atomic::Method;
use crate::surface::atomic::RatioKind;
use crate::units::Quantity;

/// Why a surface analysis gives no figure.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SurfaceError {
    /// A text that is no atomic percentage.
    #[error("`{0}` is no atomic percentage: expected a number from 0 to 100 and `at%`, as in `15.2 at%`")]
    AtPercent(String),
    /// A name no element has.
    #[error("`{0}` is no chemical symbol: expected one as in `Cr`")]
    Symbol(String),
    /// An element the sum needs.
    #[error(
        "the percentages leave out {0}: give every element found, carbon and oxygen too, `0.0 at%` where \
         there is none"
    )]
    LeftOut(&'static str),
    /// Percentages that do not make up a whole.
    #[error(
        "the percentages add up to {sum} at%: expected 100 ± {within}; look for a missing element or a slip"
    )]
    Sum {
        /// What they add up to.
        sum: Decimal,
        /// Departure allowed.
        within: AtPercent,
    },
    /// A stated tolerance too wide to catch anything.
    #[error("a tolerance of {0} on the sum says nothing: expected at most 2 at%")]
    Tolerance(AtPercent),
    /// Oxide and metal that are not the whole of an element.
    #[error(
        "{element} is {total}, but its oxide {oxide} and metal {metal} add up to {sum} at%: expected the same"
    )]
    Split {
        /// Symbol.
        element: String,
        /// All of it.
        total: AtPercent,
        /// As oxide.
        oxide: AtPercent,
        /// As metal.
        metal: AtPercent,
        /// Oxide and metal.
        sum: Decimal,
    },
    /// Only one of oxide and metal.
    #[error("{0} has only one of `oxide` and `metal`: give both or neither")]
    HalfSplit(String),
    /// Oxide and metal told apart by a method that cannot.
    #[error(
        "{method} does not tell {element} as oxide from {element} as metal: leave the split out, or correct \
         the method"
    )]
    NoSplitByMethod {
        /// The method.
        method: Method,
        /// Symbol.
        element: String,
    },
    /// An angle that is no take-off angle.
    #[error("take-off angle is {0}: expected more than 0 and at most 90 deg from the surface")]
    Angle(Quantity),
    /// An angle stated for a method without one.
    #[error("{0} has no take-off angle: leave it out, or correct the method")]
    AngleByMethod(Method),
    /// Sputtering that cannot be.
    #[error("sputtered for {0}: expected more than 0 s and at most 24 h")]
    SputterTime(Quantity),
    /// A ratio over nothing.
    #[error(
        "no {kind} ratio: no iron was found{how}, and nothing divides by nought; state the iron at the limit \
         of detection"
    )]
    NoIron {
        /// Which ratio.
        kind: RatioKind,
        /// ` as oxide` or nothing.
        how: &'static str,
    },
    /// A ratio of an element that is not there.
    #[error("no {kind} ratio: {element}{how} is not among the percentages")]
    NotMeasured {
        /// Which ratio.
        kind: RatioKind,
        /// Symbol.
        element: &'static str,
        /// ` as oxide` or nothing.
        how: &'static str,
    },
    /// Two ratios that are not alike.
    #[error("{left} does not compare with {right}: measure both in one way")]
    Unlike {
        /// The one.
        left: String,
        /// The other.
        right: String,
    },
    /// An alloying element without a usable figure.
    #[error("{element} is {found}: expected 0 to 100 wt%")]
    Alloying {
        /// Symbol.
        element: &'static str,
        /// As recorded.
        found: Quantity,
    },
    /// No chromium, no number.
    #[error(
        "the chemistry has no Cr: expected at least chromium in wt%, as the heat's certificate states it"
    )]
    NoChromium,
    /// Elements above a whole.
    #[error("the chemistry counts {0} wt% in all: expected at most 100")]
    TooMuch(Decimal),
    /// Too few rows of a profile.
    #[error("the profile has {found} rows: expected {expected}")]
    Rows {
        /// How many.
        found: usize,
        /// What is needed.
        expected: String,
    },
    /// A figure of a row that no measurement gives.
    #[error("row {row}, {column}: {found} is no measurement: expected {expected}")]
    Row {
        /// Row, first is 1.
        row: usize,
        /// Column.
        column: &'static str,
        /// As found.
        found: String,
        /// What is taken.
        expected: &'static str,
    },
    /// Times that do not rise.
    #[error(
        "row {row}: sputter time {found} min comes after {before} min: expected times that rise from row to \
         row"
    )]
    Unsorted {
        /// Row, first is 1.
        row: usize,
        /// Its time.
        found: String,
        /// The time before it.
        before: String,
    },
    /// A sputter rate that cannot be.
    #[error("sputter rate is {0} Å/min: expected 0.01 to 10000 Å/min of the reference oxide")]
    Rate(Decimal),
    /// No film to be seen.
    #[error(
        "oxygen at its most, {most} at%, does not stand above the bulk, {bulk} at%: no film is to be seen"
    )]
    NoFilm {
        /// Most oxygen.
        most: Decimal,
        /// Oxygen of the bulk.
        bulk: Decimal,
    },
    /// A profile that stops in the film.
    #[error(
        "oxygen does not fall to {half} at% before the rows taken as bulk: the profile is too short or its \
         bulk not yet reached"
    )]
    NotThrough {
        /// Half way between surface and bulk.
        half: Decimal,
    },
    /// Figures too large to reckon with.
    #[error(
        "the figures of {0} are too large or too finely written to compute with: look for a slip in them"
    )]
    Overflow(&'static str),
}
