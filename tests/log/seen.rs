//! A key that others may know: a proof that a witness cosigned before then lets the certificate stand.

use brightproof::app::keys;
use brightproof::app::keys::Keys;
use brightproof::app::keys::Told;
use brightproof::app::proofs;
use brightproof::app::verify;
use brightproof::app::verify::LogKeys;
use brightproof::app::verify::Overall;
use brightproof::checkpoint::Role;
use brightproof::folder::Folder;

use super::certificate;
use super::witness::Key;
use crate::demo;
use crate::demo::Demo;
use crate::demo::said;

/// Between issue (16:20:31) and whatever is done later (17:00) on the demonstration's day.
const SINCE: &str = "2026-11-24T16:50-05:00";

/// Seconds since 1970 of a moment of that day.
fn seconds(at: &str) -> u64 {
    let at = chrono::DateTime::parse_from_rfc3339(&format!("2026-11-24T{at}-05:00")).unwrap();
    u64::try_from(at.timestamp()).unwrap()
}

#[test]
fn a_witness_from_before_lets_it_stand_and_no_other_does() {
    let shop = Demo::get().copy("witness-before");
    let (number, bytes) = certificate();
    let register = demo::register(&shop);
    let (size, head) = proofs::newest(&register).unwrap();
    let text: String = head.split_inclusive('\n').take(3).collect();
    let (known, stranger) = (Key::new("witness.example/w1", 1), Key::new("witness.example/w2", 2));
    let proof = |by: &Key, at: u64| {
        let cosigned = format!("{head}{}", by.cosign(&text, at));
        proofs::of(&register, number, (size, cosigned)).unwrap().to_text()
    };
    let seal = Keys::read(&register).unwrap().seals[0].key.clone();
    let told = Told { by: demo::RELEASES, why: "a laptop was stolen" };
    let since = SINCE.parse().unwrap();
    let world = demo::world(demo::AFTER, "compromised");
    keys::declare_compromised(&Folder::new(&shop), &seal, &since, told, &world).unwrap();

    let register = demo::register(&shop);
    let of = |proof: &str, keys: &LogKeys| {
        let mut found = demo::verify(bytes, &Demo::get().anchor(), Some(&register));
        assert!(said(&found, "key").starts_with("not checked: a key of it may be known to others"));
        verify::proof(&mut found, bytes, proof, keys, Some(&register)).unwrap();
        (said(&found, "key"), found.overall())
    };
    let brought = |keys: &[&Key]| {
        let given: Vec<String> = keys.iter().map(|key| key.vkey()).collect();
        LogKeys { witnesses: verify::keys(&given, Role::Witness).unwrap(), ..LogKeys::default() }
    };
    let before = of(&proof(&known, seconds("16:30:00")), &brought(&[&known]));
    assert_eq!(before, ("pass".to_owned(), Overall::Verifies));
    // After the key was known; by a clock that ran before the entry was made; by nobody the verifier knows; not asked.
    let (after, overall) = of(&proof(&known, seconds("16:50:00")), &brought(&[&known]));
    assert!(after.contains("and witnesses cosigned at 2026-11-24"), "{after}");
    assert_eq!(overall, Overall::CouldNotTell);
    for (by, at, keys) in [
        (&known, "16:14:00", brought(&[&known])),
        (&stranger, "16:30:00", brought(&[&known])),
        (&known, "16:30:00", brought(&[&known, &stranger])),
        (&known, "16:30:00", LogKeys::default()),
    ] {
        let (key, overall) = of(&proof(by, seconds(at)), &keys);
        assert!(key.starts_with("not checked: "), "{key}");
        assert_eq!(overall, Overall::CouldNotTell);
    }
    // A time that was changed is no signature of the witness.
    let bent = proof(&known, seconds("16:55:00"));
    let line = bent.lines().last().unwrap().to_owned();
    let good = known.cosign(&text, seconds("16:30:00"));
    let forged = format!("{}{}", &good.trim_end()[..line.len() - 20], &line[line.len() - 20..]);
    let (key, overall) = of(&bent.replace(&line, &forged), &brought(&[&known]));
    assert!(key.starts_with("not checked: ") && overall == Overall::DoesNotVerify, "{key} {overall:?}");
}
