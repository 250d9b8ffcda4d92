//! Histories of a lot and one split off it, through the whole program: shipped in parts, certificates withdrawn,
//! the split written back and made again, a record put away. Two hundred pieces came in; whatever is asked in
//! whatever order, no more are certified at any time.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::sync::atomic::AtomicUsize;
use std::sync::atomic::Ordering;

use brightproof::app::lookup;
use brightproof::folder::Folder;
use proptest::prelude::*;

use super::register::issued;
use super::register::shop;
use super::register::slip;
use super::register::slips;
use crate::demo;

const ELDER: &str = "L-26-0473";
const YOUNGER: &str = "L-26-0474";
const SPLIT: [(&str, &str); 2] = [
    ("accepted: 140, split_off: 60", "accepted: 200"),
    ("    pieces: 140\n    steps", "    pieces: 200\n    steps"),
];

#[derive(Debug, Clone)]
enum Act {
    /// Sends pieces of a lot.
    Ship(bool, u64),
    /// Takes a certificate back.
    Withdraw(prop::sample::Index),
    /// Writes the split back into the elder lot, or makes it again.
    Toggle,
    /// Puts the younger lot's record away, or back.
    Hide,
}

fn act() -> impl Strategy<Value = Act> {
    prop_oneof![
        6 => (any::<bool>(), 1..80_u64).prop_map(|(elder, pieces)| Act::Ship(elder, pieces)),
        1 => any::<prop::sample::Index>().prop_map(Act::Withdraw),
        2 => Just(Act::Toggle),
        1 => Just(Act::Hide),
    ]
}

static HISTORIES: AtomicUsize = AtomicUsize::new(0);
static CERTIFIED: AtomicUsize = AtomicUsize::new(0);
static REFUSED: AtomicUsize = AtomicUsize::new(0);

fn toggle(folder: &Path, whole: &mut bool) {
    for (split, one) in SPLIT {
        let (from, to) = if *whole { (one, split) } else { (split, one) };
        demo::correct(folder, &format!("lots/{ELDER}.yaml"), from, to);
    }
    *whole = !*whole;
}

fn history(acts: &[Act]) -> Result<(), TestCaseError> {
    let turn = HISTORIES.fetch_add(1, Ordering::Relaxed);
    let folder = shop(&format!("families-{turn}"));
    let (record, away) = (folder.join(format!("lots/{YOUNGER}.yaml")), folder.join("away.yaml"));
    let mut current: BTreeMap<String, (bool, u64)> = BTreeMap::new();
    let mut whole = false;
    for (step, act) in acts.iter().enumerate() {
        match act {
            Act::Ship(elder, pieces) => {
                let (lot, name) = (if *elder { ELDER } else { YOUNGER }, format!("PS-{step}"));
                slip(&folder, &name, &format!("  - {{ lot: {lot}, pieces: {pieces} }}\n"));
                let came = issued(&folder, slips(&[&name]));
                match came[0].split("issued ").nth(1) {
                    Some(number) => {
                        CERTIFIED.fetch_add(1, Ordering::Relaxed);
                        current.insert(number.to_owned(), (*elder, *pieces));
                    }
                    None => drop(REFUSED.fetch_add(1, Ordering::Relaxed)),
                }
            }
            Act::Withdraw(which) if !current.is_empty() => {
                let number = current.keys().nth(which.index(current.len())).unwrap().clone();
                let world = demo::world(demo::ISSUED, "families");
                lookup::withdraw(&Folder::new(&folder), &number, demo::RELEASES, "w", "kept here", &world)
                    .unwrap();
                current.remove(&number);
            }
            Act::Withdraw(_) => {}
            Act::Toggle => toggle(&folder, &mut whole),
            Act::Hide if record.exists() => fs::rename(&record, &away).unwrap(),
            Act::Hide => fs::rename(&away, &record).unwrap(),
        }
        let sum = |of: bool| current.values().filter(|(elder, _)| *elder == of).map(|(_, n)| n).sum::<u64>();
        prop_assert!(sum(true) + sum(false) <= 200, "{current:?} after {:?}", &acts[..=step]);
        prop_assert!(sum(false) <= 60, "{current:?} after {:?}", &acts[..=step]);
    }
    let register = demo::register(&folder);
    prop_assert!(register.audit().is_ok());
    drop(register);
    fs::remove_dir_all(&folder).unwrap();
    Ok(())
}

#[test]
fn no_more_is_certified_of_a_family_than_came_in() {
    let config = ProptestConfig {
        cases: 24,
        failure_persistence: None,
        max_shrink_iters: 40,
        ..ProptestConfig::default()
    };
    proptest!(config, |(acts in prop::collection::vec(act(), 4..12))| history(&acts)?);
    let count = |counter: &AtomicUsize| counter.load(Ordering::Relaxed);
    assert!(count(&CERTIFIED) > 3 && count(&REFUSED) > 3, "{CERTIFIED:?} certified, {REFUSED:?} refused");
}
