//! The integration tests: one binary, which links once.

mod canonical_vectors;
mod layers;
mod merkle_vectors;
mod packs;
mod pdf_page;
mod register;
mod seal_vectors;
