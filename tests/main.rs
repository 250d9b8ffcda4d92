//! One test binary: it links once.

mod attacks;
mod canonical_vectors;
mod faults;
mod limits;
mod merkle_vectors;
mod packs;
mod removal;
mod samples;
mod seal_vectors;
mod support;
mod validity;
