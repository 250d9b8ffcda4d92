//! The register as a file on disk: what it takes, what it refuses, and what is left when a write is
//! cut short, two write at once, or somebody changes the file behind it. All data are invented.

// A test stops where it finds a fault.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod audit;
mod back;
mod crash;
mod random;
mod rules;
mod search;
mod shop;
mod speed;
