//! The integration tests: one binary, which links once.

mod attacks;
mod canonical_vectors;
mod faults;
mod journal;
mod layers;
mod limits;
mod merkle_vectors;
mod packs;
mod pdf_page;
mod register;
mod removal;
mod samples;
mod seal_vectors;
mod support;
mod validity;
