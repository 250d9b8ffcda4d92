//! Decision rules: what a reading says about a limit, once rounding and the uncertainty of the gauge are agreed.
//!
//! Everything that decides is an exact decimal. "At most" and "at least" include the limit (recalled of ASTM E29), and
//! a reading on an acceptance limit is accepted: ILAC-G8:09/2019 leaves equality open, so it is fixed here.

mod guard;
mod probability;
mod rounding;

pub use guard::Acceptance;
pub use guard::GuardBand;
pub use guard::GuardError;
pub use guard::Ratio;
pub use guard::Result as Outcome;
pub use guard::judge;
pub use guard::test_uncertainty_ratio;
pub use probability::Conformance;
pub use probability::ProbabilityError;
pub use probability::conformance;
pub use rounding::Compared;
pub use rounding::Limits;
pub use rounding::Method;
pub use rounding::RoundingError;
pub use rounding::Ties;
pub use rounding::conforms;
pub use rounding::round_significant;
pub use rounding::round_to;
pub use rounding::too_coarse;
pub use rounding::unit_of_last_place;
