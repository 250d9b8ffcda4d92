//! Periodic tests, asked by a pack of the shop's own.

use brightproof::judge::Dossier;
use brightproof::pack::Requirement;
use brightproof::periodic::PeriodicTest;
use brightproof::rulebook::Standing;

use super::held_by;
use crate::support::dossier;
use crate::support::read;

fn test(number: &str, ended: &str, failed: u64) -> PeriodicTest {
    let text = format!(
        "periodic: {number}\nprocess: Nitric 2\nbath: N-2\ninterval: 30 d\ntest:\n  test: salt spray\n  pieces: 3\n  \
         failed: {failed}\n  started: 2026-10-01T08:00-05:00\n  ended: {ended}\n  by: R. Medlar\n"
    );
    let test: PeriodicTest = brightproof::yaml::parse(&text).unwrap();
    assert!(brightproof::validate::periodic(&test).is_empty());
    test
}

/// A lot under a pack that asks a periodic test of every treatment.
fn asked() -> Dossier {
    let mut dossier = dossier("L-26-0401");
    let text = "id: periodic\nclause: the shop's own\nbasis: house\nsubject: periodic test\ncheck: own_limit\n\
                remedy: test it\n";
    let requirement: Requirement = brightproof::yaml::parse(text).unwrap();
    let pack = dossier.packs.iter_mut().find(|p| p.pack.pack == "astm-a967").unwrap();
    pack.pack.requirements.push(requirement);
    pack.standing.push(Standing::Confirmed);
    dossier
}

#[test]
fn the_last_test_before_use_decides_and_a_failing_one_after_it() {
    let whole = asked();
    let used = whole.record.processed().unwrap();
    assert_eq!((used.0, used.1), (read("2026-10-06"), read("2026-10-06")), "the days below rest on it");
    const ASKED: &str = "astm-a967/periodic";
    let with = |tests: &[PeriodicTest]| {
        let mut changed = whole.clone();
        changed.periodic = tests.to_vec();
        changed
    };
    let good = test("PT-1", "2026-10-02T08:00-05:00", 0);
    held_by("passed lately", &with(std::slice::from_ref(&good)), &[]);
    held_by("none", &with(&[]), &[ASKED, ASKED]);
    held_by("failed", &with(&[test("PT-1", "2026-10-02T08:00-05:00", 1)]), &[ASKED, ASKED]);
    let of = |change: &dyn Fn(&mut PeriodicTest)| {
        let mut changed = good.clone();
        change(&mut changed);
        with(&[changed])
    };
    held_by("too old", &of(&|p| p.interval = read("3 d")), &[ASKED, ASKED]);
    held_by("another bath", &of(&|p| p.bath = "N-4".into()), &[ASKED, ASKED]);
    held_by("another process", &of(&|p| p.process = "Nitric 4".into()), &[ASKED, ASKED]);
    held_by("no piece", &of(&|p| p.test.pieces = 0), &[ASKED, ASKED]);
    // Made after the bath was used it proves nothing; failing after, it holds.
    held_by("after use", &with(&[test("PT-2", "2026-10-09T08:00-05:00", 0)]), &[ASKED, ASKED]);
    let failed = test("PT-2", "2026-10-09T08:00-05:00", 1);
    held_by("failed afterwards", &with(&[good.clone(), failed]), &[ASKED, ASKED]);
    held_by("two", &with(&[test("PT-0", "2026-10-01T09:00-05:00", 1), good]), &[]);
}
