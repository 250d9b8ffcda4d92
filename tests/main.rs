//! One test binary: it links once.
