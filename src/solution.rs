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
mod steps;
mod titration;
mod water;

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
