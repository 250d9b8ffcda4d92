//! Sampling for attributes: which pieces of a lot are inspected, how many may fail, when inspection gets stricter or
//! laxer, and what a plan lets through.
//!
//! The tables are facts and come in as data ([`Tables`]); the rules are here. Verdicts hang on whole numbers only.
//! Probabilities are binary and leave rounded; none of them decides about a lot. What nobody could read is said to be
//! not known ([`PlanError::NotKnown`]) and is never filled in.

mod curve;
mod name;
mod probability;
mod rows;
mod series;
mod switching;
mod tables;
mod verdict;
mod zero;

pub use curve::CurveError;
pub use curve::Model;
pub use curve::Point;
pub use curve::Risks;
pub use curve::acceptance;
pub use curve::acceptances;
pub use curve::curve;
pub use curve::outgoing_limit;
pub use curve::quality_at;
pub use curve::risks;
pub use name::B602Level;
pub use name::Name;
pub use name::NameError;
pub use name::Standard;
pub use name::Zero;
pub use rows::Row;
pub use rows::basis;
pub use rows::row_for;
pub use rows::rows;
pub use series::Aql;
pub use series::Basis;
pub use series::Letter;
pub use series::Level;
pub use series::Severity;
pub use switching::Next;
pub use switching::NotReduced;
pub use switching::Past;
pub use switching::Rules;
pub use switching::State;
pub use switching::Step;
pub use switching::Why;
pub use switching::state;
pub use tables::LimitNumber;
pub use tables::Plan;
pub use tables::PlanError;
pub use tables::Tables;
pub use tables::TablesError;
pub use verdict::Verdict;
pub use verdict::verdict;
pub use zero::ZeroError;
pub use zero::pieces as zero_acceptance_pieces;
