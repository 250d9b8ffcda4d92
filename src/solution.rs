//! Bath chemistry: what a titration, a density or a conductivity says about a solution, and what to add to
//! it.
//!
//! Rules of this module:
//! - every figure is an exact decimal, rounded once at the end, halves to the even digit, to the resolution
//!   its measure declares ([`Measure::places`]);
//! - a strength never stands without the basis it is stated on: `25 vol%` of one concentrate is `24 vol%` of
//!   another;
//! - nothing is read beyond the ends of a table;
//! - an expanded uncertainty (`k = 2`) is given where the record gives the uncertainties it comes from,
//!   combined in quadrature (JCGM 100:2008, 5.1), and never made up.

mod answer;
pub(crate) mod exact;
mod fault;
mod make_up;
mod nitric;
mod titration;
mod water;

use rust_decimal::Decimal;

use crate::units::Quantity;

pub use answer::Answer;
pub use answer::Measure;
pub use answer::Strength;
pub use answer::Warning;
pub use fault::SolutionError;
pub use make_up::Addition;
pub use make_up::Level;
pub use make_up::MakeUp;
pub use make_up::SAFETY;
pub use make_up::TankUnit;
pub use make_up::TankVolume;
pub use nitric::ByDensity;
pub use nitric::Confidence;
pub use nitric::Row;
pub use nitric::baume;
pub use nitric::density_rows;
pub use nitric::grams_per_litre;
pub use nitric::grams_per_litre_of_mass;
pub use nitric::mass_percent;
pub use nitric::specific_gravity;
pub use nitric::strength_by_density;
pub use nitric::volume_percent;
pub use titration::Analyte;
pub use titration::Basis;
pub use titration::Burette;
pub use titration::Indicator;
pub use titration::Titration;
pub use titration::Uncertainty;
pub use water::FACTOR_CAUTION;
pub use water::Factor;
pub use water::Solids;
pub use water::conductivity;
pub use water::dissolved_solids;
pub use water::resistivity;

/// Whether a strength somebody typed is the one its titration gives, as finely as both are written: they
/// differ by at most half a unit in the last place of the coarser of the two. `25.1 vol%` agrees with
/// `25.07 vol%`, `25.2 vol%` does not.
///
/// The uncertainty of the titration plays no part: two copies of one result must be the same result, however
/// uncertain it is. Quantities in different units never agree.
pub fn agrees(computed: &Quantity, typed: &Quantity) -> bool {
    if computed.unit() != typed.unit() {
        return false;
    }
    let coarser = computed.value().scale().min(typed.value().scale());
    let half = if coarser >= 27 {
        Decimal::ZERO
    } else {
        // Five in the place after the last one.
        Decimal::new(5, coarser.saturating_add(1))
    };
    computed.value().checked_sub(typed.value()).is_some_and(|d| d.abs() <= half)
}
