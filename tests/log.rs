//! The register as a log that others check: proofs beside certificates, heads remembered, tiles on a file host,
//! witnesses, and an export that is checked without a line of ours. The shop is invented.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test stops at the first surprise"
)]

mod portable;
mod proof;
mod remember;
mod seen;
mod tiles;
mod witness;

use std::path::Path;

use brightproof::app::delivery;
use brightproof::app::delivery::Sending;
use brightproof::app::proofs;
use brightproof::app::verify;
use brightproof::app::verify::LogKeys;
use brightproof::app::verify::Verification;
use brightproof::checkpoint::EntryProof;
use brightproof::checkpoint::Role;
use brightproof::folder::Folder;
use brightproof::order::Way;
use brightproof::register::Register;

use crate::demo;
use crate::demo::Demo;

/// The number of the smallest certificate, and its file.
fn certificate() -> (&'static str, &'static [u8]) {
    Demo::get().certificate(demo::SMALL_LOT)
}

/// Adds an entry to a shop's register: a delivery, whose salts come of `seed`.
fn grow(folder: &Path, seed: &str) {
    let (number, _) = certificate();
    let sending =
        Sending { number, to: "H. Curdle, goods in", how: Way::EMail, by: demo::RELEASES, on: None };
    delivery::delivered(&Folder::new(folder), &sending, &demo::world(demo::AFTER, seed)).unwrap();
}

/// The proof of a certificate under the register's newest head.
fn proof_of(register: &Register, number: &str) -> EntryProof {
    proofs::of(register, number, proofs::newest(register).unwrap()).unwrap()
}

/// The register's own key, as the shop hands it out.
fn own_key(folder: &Path) -> LogKeys {
    let file = folder.join("keys/register.txt").display().to_string();
    LogKeys { register: verify::keys(&[file], Role::Register).unwrap(), ..LogKeys::default() }
}

/// Verifies the small certificate as a holder of the root does, and its proof with it.
fn with_proof(proof: &str, keys: &LogKeys) -> Verification {
    let (_, bytes) = certificate();
    let mut found = demo::verify(bytes, &Demo::get().anchor(), None);
    verify::proof(&mut found, bytes, proof, keys, None).unwrap();
    found
}
