//! One test binary: it links once.

mod canonical_vectors;
mod packs;
mod samples;
mod seal_vectors;
mod support;
