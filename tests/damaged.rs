//! Damaged files: whatever is cut, swapped, spliced or overwritten, the answer is an error or that it does not verify,
//! within a bounded time and without a panic.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops at the first surprise")]

use std::time::Duration;
use std::time::Instant;

use brightproof::app::verify;
use brightproof::app::verify::Anchor;
use brightproof::app::verify::Overall;
use brightproof::certificate::Certificate;
use brightproof::pdf::read_sealed;
use brightproof::seal::SealKey;
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::sample::Index;
use serde_json::Value;

use crate::demo;
use crate::demo::Demo;
use crate::tamper::forger;

/// Far above what verifying takes on a busy machine; an input that costs more is a way to stop a verifier.
const LONGEST: Duration = Duration::from_secs(20);

/// One thing done to a file. Places are chosen freely; most damage is small, so that it gets past the first check.
#[derive(Debug, Clone)]
enum Damage {
    /// Takes out some bytes.
    Cut(Index, usize),
    /// Puts bytes over others.
    Write(Index, Vec<u8>),
    /// Puts bytes between others.
    Insert(Index, Vec<u8>),
    /// Repeats some bytes elsewhere.
    Repeat(Index, usize, Index),
    /// Exchanges two stretches.
    Swap(Index, Index, usize),
    /// Continues with another certificate from there on.
    Splice(Index, Index),
    /// Changes a number written in the file: a length, an offset, a reference.
    Number(Index, u64),
}

fn damage() -> impl Strategy<Value = Damage> {
    let bytes = || {
        prop_oneof![vec(any::<u8>(), 1..40), "[0-9 /<>\\[\\]()a-zA-Z%\n]{1,40}".prop_map(String::into_bytes)]
    };
    let place = any::<Index>;
    prop_oneof![
        (place(), prop_oneof![1..50_usize, 1..90_000_usize]).prop_map(|(at, length)| Damage::Cut(at, length)),
        (place(), bytes()).prop_map(|(at, bytes)| Damage::Write(at, bytes)),
        (place(), bytes()).prop_map(|(at, bytes)| Damage::Insert(at, bytes)),
        (place(), 1..5_000_usize, place()).prop_map(|(from, length, to)| Damage::Repeat(from, length, to)),
        (place(), place(), 1..5_000_usize).prop_map(|(one, two, length)| Damage::Swap(one, two, length)),
        (place(), place()).prop_map(|(here, there)| Damage::Splice(here, there)),
        (place(), prop_oneof![0..400_u64, any::<u64>()])
            .prop_map(|(which, number)| Damage::Number(which, number)),
    ]
}

impl Damage {
    fn to(&self, bytes: &[u8], other: &[u8]) -> Vec<u8> {
        if bytes.is_empty() {
            return other.to_vec();
        }
        let at = |index: &Index| index.index(bytes.len());
        let stretch = |from: usize, length: usize| from..(from + length).min(bytes.len());
        match self {
            Damage::Cut(place, length) => {
                let cut = stretch(at(place), *length);
                [&bytes[..cut.start], &bytes[cut.end..]].concat()
            }
            Damage::Write(place, with) => {
                let over = stretch(at(place), with.len());
                let mut bytes = bytes.to_vec();
                let length = over.len();
                bytes[over].copy_from_slice(&with[..length]);
                bytes
            }
            Damage::Insert(place, with) => [&bytes[..at(place)], with, &bytes[at(place)..]].concat(),
            Damage::Repeat(from, length, to) => {
                [&bytes[..at(to)], &bytes[stretch(at(from), *length)], &bytes[at(to)..]].concat()
            }
            Damage::Swap(one, two, length) => {
                let mut swapped = bytes.to_vec();
                for turn in 0..*length {
                    let (a, b) = (at(one) + turn, at(two) + turn);
                    if a < bytes.len() && b < bytes.len() {
                        swapped.swap(a, b);
                    }
                }
                swapped
            }
            Damage::Splice(here, there) => [&bytes[..at(here)], &other[there.index(other.len())..]].concat(),
            Damage::Number(which, number) => {
                let starts: Vec<usize> = (1..bytes.len())
                    .filter(|i| bytes[*i].is_ascii_digit() && !bytes[i - 1].is_ascii_alphanumeric())
                    .collect();
                let Some(start) = starts.get(which.index(starts.len().max(1))) else { return bytes.to_vec() };
                let length = bytes[*start..].iter().take_while(|b| b.is_ascii_digit()).count();
                [&bytes[..*start], number.to_string().as_bytes(), &bytes[start + length..]].concat()
            }
        }
    }
}

fn stolen() -> SealKey {
    demo::desk(&Demo::get().folder).seal
}

/// Verifies; an error is an answer too.
fn answer(bytes: &[u8], anchor: &Anchor) -> Option<Overall> {
    let begun = Instant::now();
    let found = verify::file("damaged.pdf", bytes, anchor, None, demo::renderer());
    assert!(begun.elapsed() < LONGEST, "{} bytes took {:?}", bytes.len(), begun.elapsed());
    found.ok().map(|found| found.overall())
}

fn settings(cases: u32) -> ProptestConfig {
    ProptestConfig { cases, failure_persistence: None, max_shrink_iters: 200, ..ProptestConfig::default() }
}

proptest! {
    #![proptest_config(settings(200))]

    #[test]
    fn a_damaged_file_does_not_verify(all in vec(damage(), 1..4), one in any::<Index>(), two in any::<Index>()) {
        let demo = Demo::get();
        let files: Vec<&Vec<u8>> = demo.files.values().collect();
        let (whole, other) = (files[one.index(files.len())], files[two.index(files.len())]);
        let bytes = all.iter().fold(whole.clone(), |bytes, damage| damage.to(&bytes, other));
        prop_assume!(!demo.files.values().any(|file| *file == bytes));
        for anchor in [demo.anchor(), Anchor::none()] {
            prop_assert_ne!(answer(&bytes, &anchor), Some(Overall::Verifies));
        }
    }

    /// Damage that the holder of the key covers up: table, range and seal are right, so that everything behind them is tried.
    #[test]
    fn a_damaged_file_sealed_again_does_not_verify(damage in damage(), one in any::<Index>(), two in any::<Index>()) {
        let demo = Demo::get();
        let files: Vec<&Vec<u8>> = demo.files.values().collect();
        let (whole, other) = (files[one.index(files.len())], files[two.index(files.len())]);
        let damaged = damage.to(whole, other);
        let Some(bytes) = forger::cover_up(&damaged, &stolen()) else { return Ok(()) };
        prop_assume!(!demo.files.values().any(|file| *file == bytes));
        prop_assert_ne!(answer(&bytes, &demo.anchor()), Some(Overall::Verifies));
    }
}

/// Every place in a tree that holds a text or a number, and what to put there.
fn change(value: &mut Value, which: &mut usize, with: &Value) -> bool {
    match value {
        Value::Array(items) => items.iter_mut().any(|item| change(item, which, with)),
        Value::Object(members) => members.values_mut().any(|member| change(member, which, with)),
        leaf => {
            if *which > 0 {
                *which -= 1;
                return false;
            }
            let changed = leaf != with;
            *leaf = with.clone();
            changed
        }
    }
}

fn leaves(value: &Value) -> usize {
    match value {
        Value::Array(items) => items.iter().map(leaves).sum(),
        Value::Object(members) => members.values().map(leaves).sum(),
        _ => 1,
    }
}

proptest! {
    #![proptest_config(settings(400))]

    /// Any value of the data exchanged, the page drawn from it and sealed with the stolen key: the register knows.
    #[test]
    fn changed_data_are_not_the_registered_ones(
        which in any::<Index>(),
        with in prop_oneof![
            "\\PC{0,20}".prop_map(Value::from),
            "[0-9.]{1,8} (°F|µm|vol%|min)".prop_map(Value::from),
            (0..9_007_199_254_740_991_u64).prop_map(Value::from),
            "20[0-9]{2}-[01][0-9]-[0-3][0-9]T[0-2][0-9]:[0-5][0-9]:00[+-]0[0-9]:00".prop_map(Value::from),
            Just(Value::Null),
            any::<bool>().prop_map(Value::from),
        ],
    ) {
        let demo = Demo::get();
        let (_, bytes) = demo.certificate(demo::SMALL_LOT);
        let mut data: Value = serde_json::from_slice(&read_sealed(bytes).unwrap().attachment).unwrap();
        let mut turn = which.index(leaves(&data));
        prop_assume!(change(&mut data, &mut turn, &with));
        // Most such data are no certificate's, or cannot be drawn; then there is nothing to seal.
        let Ok(certificate) = serde_json::from_value::<Certificate>(data) else { return Ok(()) };
        let Some(forged) = forger::try_sealed(&certificate, &stolen()) else { return Ok(()) };
        let begun = Instant::now();
        let register = demo::register(&demo.folder);
        let found = verify::file("forged.pdf", &forged, &demo.anchor(), Some(&register), demo::renderer());
        prop_assert!(begun.elapsed() < LONGEST);
        prop_assert!(!found.is_ok_and(|found| found.overall() == Overall::Verifies), "{:?}", certificate.number);
    }

}

proptest! {
    #![proptest_config(settings(60))]

    /// A register damaged on the disk is told, or answers as before; it never makes a changed file verify.
    #[test]
    fn a_damaged_register_stops_nobody(places in vec((any::<Index>(), any::<u8>()), 1..30), cut in any::<Option<Index>>()) {
        let demo = Demo::get();
        let folder = demo::fresh("damaged-register");
        let mut bytes = std::fs::read(demo.folder.join("register.sqlite")).unwrap();
        for (place, byte) in places {
            let at = place.index(bytes.len());
            bytes[at] = byte;
        }
        if let Some(cut) = cut {
            bytes.truncate(cut.index(bytes.len()));
        }
        let path = folder.join("register.sqlite");
        std::fs::write(&path, bytes).unwrap();
        let begun = Instant::now();
        if let Ok(register) = brightproof::register::Register::open(&path, None) {
            let _ = register.audit();
            let (number, file) = demo.certificate(demo::SMALL_LOT);
            let _ = verify::file("whole.pdf", file, &demo.anchor(), Some(&register), demo::renderer());
            let _ = verify::paper(number, "00", &register);
            let mut changed = file.to_vec();
            changed[file.len() / 2] ^= 1;
            let found = verify::file("changed.pdf", &changed, &demo.anchor(), Some(&register), demo::renderer());
            prop_assert!(!found.is_ok_and(|found| found.overall() == Overall::Verifies));
        }
        prop_assert!(begun.elapsed() < LONGEST);
    }
}
