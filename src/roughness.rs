//! Surface roughness from a profile trace: form taken off, Gaussian filter, the usual parameters, the choice
//! of the cut-off, and the rules by which measured values meet a limit.
//!
//! A trace is bulk data, so heights are binary numbers; they leave as decimals rounded to a declared
//! resolution, and every decision is taken on decimals.
//!
//! A roughness value means nothing without its cut-off: the same trace gives another Ra for another cut-off.
//! So a result always says which filter was used, over how many sampling lengths, and what was done at the
//! ends.

mod accept;
mod cutoff;
mod evaluate;
mod filter;
mod grade;
mod parameters;
mod profile;

use rust_decimal::Decimal;

use crate::units::Quantity;
use crate::units::Unit;

pub use accept::AcceptError;
pub use accept::Finding;
pub use accept::Limit;
pub use accept::Rule;
pub use accept::ShortOutcome;
pub use accept::Side;
pub use accept::judge;
pub use accept::short_procedure;
pub use accept::sixteen_percent;
pub use cutoff::Basis;
pub use cutoff::Choice;
pub use cutoff::CutoffError;
pub use cutoff::CutoffRule;
pub use cutoff::Row;
pub use cutoff::StylusRow;
pub use cutoff::ordered;
pub use cutoff::stylus_row;
pub use evaluate::Curves;
pub use evaluate::Ends;
pub use evaluate::EndsDone;
pub use evaluate::Evaluation;
pub use evaluate::EvaluationError;
pub use evaluate::SamplingLength;
pub use evaluate::Settings;
pub use evaluate::Warning;
pub use evaluate::evaluate;
pub use filter::FilterError;
pub use filter::GaussianFilter;
pub use grade::Grade;
pub use grade::GradeError;
pub use grade::Improvement;
pub use grade::ImprovementError;
pub use grade::ImprovementWarning;
pub use grade::RmsEstimate;
pub use grade::improvement;
pub use grade::rms_to_ra;
pub use parameters::Parameters;
pub use parameters::RawParameters;
pub use parameters::microinches;
pub use parameters::raw_parameters;
pub use profile::Form;
pub use profile::MOST_POINTS;
pub use profile::Profile;
pub use profile::ProfileError;

/// A length in µm, exactly: 1 µin = 0.0254 µm, 1 in = 25400 µm. `None` where it is no length or too large.
pub fn micrometres(length: &Quantity) -> Option<Decimal> {
    let factor = match length.unit() {
        Unit::Micrometre => Decimal::ONE,
        Unit::Microinch => Decimal::new(254, 4),
        Unit::Millimetre => Decimal::ONE_THOUSAND,
        Unit::Inch => Decimal::from(25_400),
        Unit::Angstrom => Decimal::new(1, 4),
        _ => return None,
    };
    length.value().checked_mul(factor)
}
