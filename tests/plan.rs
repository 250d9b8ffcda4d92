//! Plans and blanks: what is planned is what is judged. For every standard, treatment and test the blank is filled in
//! by rule and must conform; with any one field left out it must not, and what is missed must be that field's own.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a blank that does not read fails every test that wants it"
)]

mod clauses;
mod filling;
mod matrix;
mod shop;
mod words;
