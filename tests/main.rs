//! One test binary: it links once.

mod attacks;
mod canonical_vectors;
mod limits;
mod packs;
mod removal;
mod samples;
mod seal_vectors;
mod support;
mod validity;
