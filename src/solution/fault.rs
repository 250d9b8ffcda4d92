//! What can be wrong with a bath's analysis.

use rust_decimal::Decimal;

use crate::solution::titration::Analyte;
use crate::solution::titration::Basis;
use crate::solution::titration::Indicator;
use crate::units::Quantity;
use crate::units::Unit;

/// Why a strength cannot be computed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SolutionError {
    /// A quantity of the wrong kind.
    #[error("{field} is {found}: expected a value in {expected}")]
    Unit {
        /// Which entry.
        field: &'static str,
        /// As recorded.
        found: Quantity,
        /// The unit it must have.
        expected: Unit,
    },
    /// A quantity no titration, density or tank has.
    #[error("{field} is {found}: expected {expected}")]
    Range {
        /// Which entry.
        field: &'static str,
        /// As recorded.
        found: String,
        /// What is taken.
        expected: String,
    },
    /// A strength without the basis it is stated on.
    #[error(
        "the {what} titration has no basis: state {expected}, for the same titration reads differently on \
         each"
    )]
    NoBasis {
        /// What was titrated.
        what: Analyte,
        /// Those to choose from.
        expected: String,
    },
    /// A basis of something else.
    #[error("basis `{found}` does not belong to a {what} titration: expected {expected}")]
    WrongBasis {
        /// What was titrated.
        what: Analyte,
        /// As recorded.
        found: Basis,
        /// Those to choose from.
        expected: String,
    },
    /// An indicator that changes in the wrong place.
    #[error("indicator `{found}` does not show the end of a {what} titration: expected {expected}")]
    WrongIndicator {
        /// What was titrated.
        what: Analyte,
        /// As recorded.
        found: Indicator,
        /// Those to choose from.
        expected: String,
    },
    /// No titrant volume.
    #[error("no titrant volume: give `volume`, or both readings of the burette in `burette`")]
    NoVolume,
    /// Two titrant volumes.
    #[error("`volume` and `burette` are both given: give one of them, so that they cannot differ")]
    TwoVolumes,
    /// A burette that ran backwards.
    #[error(
        "the burette reads {to} after {from}: expected a last reading not below the first; look whether they \
         are swapped"
    )]
    Burette {
        /// First reading.
        from: Quantity,
        /// Last reading.
        to: Quantity,
    },
    /// A blank above the titration.
    #[error(
        "the blank took {blank}, the sample only {volume}: expected a blank not above the sample's volume"
    )]
    Blank {
        /// The blank's volume.
        blank: Quantity,
        /// The titrant volume before the blank is taken off.
        volume: Quantity,
    },
    /// A density read at another temperature than the table's.
    #[error(
        "the density was read at {found}: expected 20 °C ± {within} °C; bring the sample to 20 °C and read \
         again"
    )]
    Temperature {
        /// As recorded.
        found: Quantity,
        /// Departure allowed.
        within: Decimal,
    },
    /// Beyond the ends of a table.
    #[error("{field} {found} lies outside the table, {from} to {to}: nothing is read beyond its ends")]
    Beyond {
        /// Which figure.
        field: &'static str,
        /// As recorded.
        found: String,
        /// First of the table.
        from: String,
        /// Last of the table.
        to: String,
    },
    /// Strengths of a make-up that do not go together.
    #[error(
        "strengths {found} are not alike: expected bath, target and concentrate all in vol%, all in g/L or \
         all in mol/L"
    )]
    Unlike {
        /// The three, as recorded.
        found: String,
    },
    /// A concentrate that cannot bring the bath to its target.
    #[error(
        "a concentrate of {concentrate} cannot bring a bath to {target}: expected one stronger than the \
         target"
    )]
    Weak {
        /// Its strength.
        concentrate: Quantity,
        /// Strength wanted.
        target: Quantity,
    },
    /// Volumes of a make-up in two units.
    #[error("volumes {found} are in two units: state the bath and the tank both in L or both in US gal")]
    TwoUnits {
        /// As recorded.
        found: String,
    },
    /// A text that is no tank volume.
    #[error("`{0}` is no volume of a tank: expected a number and `L` or `US gal`, as in `400 L`")]
    TankVolume(String),
    /// A text that is no factor.
    #[error(
        "`{0}` is no factor from conductivity to solids: expected `KCl`, `NaCl`, `442` or a number, as in \
         `0.64`"
    )]
    Factor(String),
    /// Figures too large to reckon with.
    #[error(
        "the figures of {0} are too large or too finely written to compute with: look for a slip in them"
    )]
    Overflow(&'static str),
}
