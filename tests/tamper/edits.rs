//! Edits of more than a bit: random ones, cuts at every length, and the files that lie beside a certificate.

use std::time::Instant;

use brightproof::app::verify;
use brightproof::app::verify::LogKeys;
use brightproof::app::verify::Overall;
use brightproof::checkpoint;
use brightproof::checkpoint::Role;
use rayon::prelude::*;
use sha2::Digest;
use sha2::Sha256;

use super::by_purchaser;
use super::flips::refused_by_form_or_seal;
use super::victim;
use crate::demo;
use crate::demo::Demo;

/// Numbers that are the same in each run.
struct Chance(u64, u64);

impl Chance {
    fn below(&mut self, most: usize) -> usize {
        self.1 += 1;
        let block = Sha256::digest(format!("edits {} {}", self.0, self.1));
        let number = u64::from_be_bytes(block[..8].try_into().unwrap());
        usize::try_from(number % most as u64).unwrap()
    }
}

/// Two to forty edits, each of up to sixteen bytes: written over, taken out, put in, moved.
fn edited(bytes: &[u8], seed: u64) -> Vec<u8> {
    let mut chance = Chance(seed, 0);
    let mut bytes = bytes.to_vec();
    for _ in 0..2 + chance.below(39) {
        let length = 1 + chance.below(16);
        let at = chance.below(bytes.len() - length);
        let some: Vec<u8> = (0..length).map(|_| u8::try_from(chance.below(256)).unwrap()).collect();
        match chance.below(8) {
            0 => drop(bytes.drain(at..at + length)),
            1 => drop(bytes.splice(at..at, some)),
            2 => {
                let from = chance.below(bytes.len() - length);
                bytes.copy_within(from..from + length, at);
            }
            _ => bytes[at..at + length].copy_from_slice(&some),
        }
    }
    bytes
}

fn random_edits(count: u64, whole_each: u64) {
    let (bytes, _) = victim();
    let begun = Instant::now();
    let verify: Vec<u64> = (0..count)
        .into_par_iter()
        .filter(|seed| {
            let changed = edited(bytes, *seed);
            let same = changed == bytes;
            let caught = refused_by_form_or_seal(&changed)
                && (seed % whole_each != 0 || by_purchaser(&changed).overall() == Overall::DoesNotVerify);
            !same && !caught
        })
        .collect();
    println!("{count} random edits of a certificate tried in {:?}, {} verify", begun.elapsed(), verify.len());
    assert_eq!(verify, Vec::<u64>::new());
}

#[test]
fn random_edits_are_found() {
    random_edits(400, 20);
}

#[test]
#[ignore = "10,000 edits"]
fn ten_thousand_random_edits_are_found() {
    random_edits(10_000, 100);
}

fn cuts(stride: usize) {
    let (bytes, _) = victim();
    let begun = Instant::now();
    let lengths: Vec<usize> = (0..bytes.len()).step_by(stride).chain(bytes.len() - 60..bytes.len()).collect();
    let verify: Vec<&usize> =
        lengths.par_iter().filter(|length| !refused_by_form_or_seal(&bytes[..**length])).collect();
    println!(
        "{} cuts of a certificate tried in {:?}, {} verify",
        lengths.len(),
        begun.elapsed(),
        verify.len()
    );
    assert_eq!(verify, Vec::<&usize>::new());
}

#[test]
fn a_cut_certificate_is_found() {
    cuts(101);
}

#[test]
#[ignore = "every length of a certificate"]
fn a_certificate_cut_at_any_length_is_found() {
    cuts(1);
}

/// Each bit of each byte, and three further values.
fn changes(bytes: &[u8]) -> Vec<Vec<u8>> {
    let masks = (0..8).map(|bit| 1_u8 << bit).chain([0xff, 0x55, 0x0f]);
    let masks: Vec<u8> = masks.collect();
    let at = |place: usize, mask: u8| {
        let mut changed = bytes.to_vec();
        changed[place] ^= mask;
        changed
    };
    (0..bytes.len()).flat_map(|place| masks.iter().map(move |mask| at(place, *mask))).collect()
}

/// Tries all changes and all cuts of a small file, or one of so many.
fn each_change(what: &str, bytes: &[u8], stride: usize, holds: impl Fn(&[u8]) -> bool + Sync) {
    assert!(holds(bytes), "{what}");
    let mut all = changes(bytes);
    all.extend((0..bytes.len()).map(|length| bytes[..length].to_vec()));
    let all: Vec<Vec<u8>> = all.into_iter().step_by(stride).collect();
    let verify: Vec<&Vec<u8>> = all.par_iter().filter(|changed| holds(changed)).collect();
    let first: Vec<_> = verify.iter().take(3).map(|changed| String::from_utf8_lossy(changed)).collect();
    println!("{what}: {} changes of {} bytes tried, {} verify", all.len(), bytes.len(), verify.len());
    assert!(verify.is_empty(), "{what}: {} verify: {first:#?}", verify.len());
}

#[test]
fn a_changed_byte_of_a_proof_is_found() {
    proof(29);
}

#[test]
#[ignore = "every change of every byte of a proof"]
fn every_changed_byte_of_a_proof_is_found() {
    proof(1);
}

fn proof(stride: usize) {
    let demo = Demo::get();
    let (number, bytes) = demo.certificate(demo::SMALL_LOT);
    let proof = std::fs::read(demo.folder.join(format!("certificates/{number}.tlog-proof"))).unwrap();
    let whole = demo::verify(bytes, &demo.anchor(), None);
    let file = demo.folder.join("keys/register.txt").display().to_string();
    let keys = LogKeys { register: verify::keys(&[file], Role::Register).unwrap(), ..LogKeys::default() };
    each_change("a proof", &proof, stride, |changed| {
        let Ok(text) = std::str::from_utf8(changed) else { return false };
        let mut found = whole.clone();
        verify::proof(&mut found, bytes, text, &keys, None).is_ok() && found.overall() == Overall::Verifies
    });
}

#[test]
fn every_changed_byte_of_a_checkpoint_is_found() {
    let demo = Demo::get();
    let head = std::fs::read(demo.folder.join("register-head.txt")).unwrap();
    let file = demo.folder.join("keys/register.txt").display().to_string();
    let keys = verify::keys(&[file], Role::Register).unwrap();
    each_change("a checkpoint", &head, 1, |changed| checkpoint::open(changed, &keys).is_ok());
}

/// The certificate's data as a file by itself: only its own bytes have its stamp, so that a changed copy handed round
/// is not the one that was sealed, and most are no canonical data at all.
#[test]
fn a_changed_byte_of_the_data_gives_another_stamp() {
    let (bytes, _) = victim();
    let data = brightproof::pdf::read_sealed(bytes).unwrap().attachment;
    let stamp = brightproof::canonical::stamp(&data);
    let places: Vec<usize> = (0..data.len()).step_by(17).collect();
    let (tried, same) = (
        places.len() * 3,
        places
            .par_iter()
            .map(|place| {
                let mut changed = data.clone();
                [1, 0x20, 0xff]
                    .iter()
                    .filter(|mask| {
                        changed[*place] = data[*place] ^ **mask;
                        brightproof::canonical::stamp(&changed) == stamp
                    })
                    .count()
            })
            .sum::<usize>(),
    );
    println!("the data: {tried} changes of {} bytes tried, {same} have the same stamp", data.len());
    assert_eq!(same, 0);
}

/// A file that a certificate rests on, in the evidence store.
#[test]
fn every_changed_byte_of_a_stored_file_is_found() {
    let folder = demo::fresh("stored-file");
    let whole = std::fs::read(Demo::get().folder.join("logs/N-2-2026-11-24.csv")).unwrap();
    let digest = &hex::encode(Sha256::digest(&whole));
    let path = &folder.join("evidence").join(brightproof::app::evidence::place(digest).unwrap());
    std::fs::create_dir_all(path.parent().unwrap()).unwrap();
    std::fs::write(path, &whole).unwrap();
    let held = || brightproof::app::evidence::stored(&folder.join("evidence"), digest).unwrap();
    assert_eq!(held(), Some(true), "{digest}");
    let (mut tried, mut taken) = (0, 0);
    for place in (0..whole.len()).step_by(whole.len().div_ceil(4_000)) {
        let mut changed = whole.clone();
        changed[place] ^= 1 << (place % 8);
        std::fs::write(path, &changed).unwrap();
        tried += 1;
        taken += usize::from(held() == Some(true));
    }
    println!("a stored file of {} bytes: {tried} changes tried, {taken} taken for the file", whole.len());
    assert_eq!(taken, 0);
}
