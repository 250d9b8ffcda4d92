//! Every flipped bit is found: the telling parts of a file in each run of the tests, all of it where it is asked for.

use std::sync::atomic::AtomicUsize;
use std::sync::atomic::Ordering;
use std::time::Instant;

use brightproof::app::issue;
use brightproof::app::verify::Overall;
use brightproof::pdf::read_sealed;
use brightproof::seal;
use brightproof::seal::Trust;
use rayon::prelude::*;

use super::by_purchaser;
use super::forger;
use super::victim;

/// Makes each flip named by byte and bit, one at a time, and expects each to be found; answers how many were tried.
fn flip(bytes: &[u8], flips: &[(usize, u8)], found: impl Fn(&[u8]) -> bool + Sync) -> usize {
    let (tried, start) = (AtomicUsize::new(0), Instant::now());
    let missed: Vec<(usize, u8)> = flips
        .par_iter()
        .map_init(
            || bytes.to_vec(),
            |copy, (at, bit)| {
                copy[*at] ^= 1 << bit;
                let found = found(copy);
                copy[*at] ^= 1 << bit;
                let count = tried.fetch_add(1, Ordering::Relaxed) + 1;
                if count.is_multiple_of(50_000) {
                    println!("{count} flips in {} s", start.elapsed().as_secs());
                }
                (!found).then_some((*at, *bit))
            },
        )
        .flatten()
        .collect();
    assert_eq!(missed, [], "byte and bit, of {} bytes", bytes.len());
    println!("{} flips, each found, in {:?}", tried.load(Ordering::Relaxed), start.elapsed());
    tried.into_inner()
}

/// All eight bits of each byte.
fn eight(places: impl Iterator<Item = usize>) -> Vec<(usize, u8)> {
    places.flat_map(|at| (0..8).map(move |bit| (at, bit))).collect()
}

/// One bit of each byte, another of the next.
fn one(places: impl Iterator<Item = usize>) -> Vec<(usize, u8)> {
    places.zip((0..8).cycle()).collect()
}

/// The whole verification does not verify.
fn refused(bytes: &[u8]) -> bool {
    by_purchaser(bytes).overall() == Overall::DoesNotVerify
}

/// Form or seal alone refuse it, and either is enough; drawing the page again is what takes the time.
pub fn refused_by_form_or_seal(bytes: &[u8]) -> bool {
    let Ok(sealed) = read_sealed(bytes) else { return true };
    let [before, after] = issue::pieces(bytes, &sealed.contents_hex).unwrap();
    let at = chrono::DateTime::UNIX_EPOCH;
    let report = seal::verify(&sealed.der, [&before, &after], &Trust::None, at).unwrap();
    matches!(report.intact, seal::Check::Fail(_))
}

#[test]
fn a_flipped_bit_of_the_seal_or_the_skeleton_is_found() {
    let (bytes, _) = victim();
    assert!(!refused_by_form_or_seal(bytes));
    let (gap, range) = forger::gap(bytes);
    // From the seal's dictionary on: the seal, the catalog, the cross-reference table, the trailer.
    let skeleton = range.start - 100..bytes.len();
    assert!(skeleton.len() > gap.len() + 7_000, "{skeleton:?}");
    let tried = flip(bytes, &one(skeleton.clone()), refused_by_form_or_seal);
    assert_eq!(tried, skeleton.len());
    let ends = (skeleton.start..gap.start + 100)
        .chain(gap.end - 100..gap.end + 100)
        .chain(bytes.len() - 300..bytes.len());
    assert!(flip(bytes, &eight(ends), refused_by_form_or_seal) > 5_000);
}

#[test]
fn a_flipped_bit_of_the_page_or_the_data_is_found() {
    let (bytes, _) = victim();
    let at = bytes.windows(18).position(|w| w == b"/Type/EmbeddedFile").unwrap();
    let attachment = at..at + 300;
    let some = (64..bytes.len()).step_by(97);
    assert!(flip(bytes, &eight((0..64).chain(attachment)), refused_by_form_or_seal) > 2_000);
    assert!(flip(bytes, &one(some), refused_by_form_or_seal) > 800);
    // And some by the whole verification.
    assert!(flip(bytes, &one((0..bytes.len()).step_by(997)), refused) > 80);
}

#[test]
#[ignore = "a bit of every byte of a whole certificate: minutes"]
fn a_flipped_bit_of_any_byte_is_found() {
    let (bytes, _) = victim();
    let tried = flip(bytes, &one(0..bytes.len()), refused_by_form_or_seal);
    println!("{tried} bytes of a certificate, a bit of each, none verifies");
    assert_eq!(tried, bytes.len());
}

#[test]
#[ignore = "every bit of a whole certificate: minutes, and only in the release profile"]
fn every_flipped_bit_is_found() {
    let (bytes, _) = victim();
    let tried = flip(bytes, &eight(0..bytes.len()), refused_by_form_or_seal);
    assert_eq!(tried, bytes.len() * 8);
    let tried = flip(bytes, &one(0..bytes.len()), refused);
    assert_eq!(tried, bytes.len());
}

#[test]
#[ignore = "every bit of a whole certificate by the whole verification: hours"]
fn every_flipped_bit_is_found_by_the_whole_verification() {
    let (bytes, _) = victim();
    let tried = flip(bytes, &eight(0..bytes.len()), refused);
    assert_eq!(tried, bytes.len() * 8);
}
