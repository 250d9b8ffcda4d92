//! The integration tests: one binary, which links once.

mod attacks;
mod canonical_vectors;
mod layers;
mod limits;
mod looking_back;
mod merkle_vectors;
mod packs;
mod pdf_page;
mod register;
mod samples;
mod seal_vectors;
mod support;
mod validity;
