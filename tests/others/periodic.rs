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

/// The baths are used on 2026-10-06 at 08:00 and at 09:30: what counts is reckoned to the minute, by hand.
#[test]
fn the_ends_of_a_period_count() {
    let whole = asked();
    let with = |tests: &[&PeriodicTest]| {
        let mut changed = whole.clone();
        changed.periodic = tests.iter().map(|t| (*t).clone()).collect();
        changed
    };
    const ASKED: &str = "astm-a967/periodic";
    held_by("ended as the bath was used", &with(&[&test("PT-1", "2026-10-06T08:00-05:00", 0)]), &[]);
    held_by("a minute later", &with(&[&test("PT-1", "2026-10-06T08:01-05:00", 0)]), &[ASKED]);
    held_by("before the second use", &with(&[&test("PT-1", "2026-10-06T09:30-05:00", 0)]), &[ASKED]);
    let mut four_days = test("PT-1", "2026-10-02T08:00-05:00", 0);
    four_days.interval = read("4 d");
    held_by("four days to the minute, then more", &with(&[&four_days]), &[ASKED]);
    four_days.interval = read("5 d");
    held_by("within five days", &with(&[&four_days]), &[]);
    let good = test("PT-1", "2026-10-02T08:00-05:00", 0);
    let between = test("PT-2", "2026-10-06T09:00-05:00", 1);
    held_by("failed between two uses", &with(&[&good, &between]), &[ASKED, ASKED]);
}

/// The order in which the book has them does not matter, and of two that ended together the one that failed counts.
#[test]
fn a_failing_test_is_not_hidden_by_another() {
    let whole = asked();
    const ASKED: &str = "astm-a967/periodic";
    let each_way = |name: &str, tests: &[&PeriodicTest], expected: &[&str]| {
        let mut changed = whole.clone();
        changed.periodic = tests.iter().map(|t| (*t).clone()).collect();
        held_by(name, &changed, expected);
        changed.periodic.reverse();
        held_by(&format!("{name}, turned round"), &changed, expected);
    };
    let (first, last) = ("2026-10-02T08:00-05:00", "2026-10-05T08:00-05:00");
    let (good, later) = (test("PT-1", first, 0), test("PT-2", last, 0));
    each_way("the last passed", &[&test("PT-0", first, 1), &later], &[]);
    each_way("the last failed", &[&good, &test("PT-3", last, 1)], &[ASKED, ASKED]);
    each_way("two together", &[&good, &test("PT-0", first, 1)], &[ASKED, ASKED]);
    let (next, after) = ("2026-10-09T08:00-05:00", "2026-10-20T08:00-05:00");
    let (passed, failed) = (test("PT-4", next, 0), test("PT-5", next, 1));
    each_way("two together afterwards", &[&good, &passed, &failed], &[ASKED, ASKED]);
    // Once a test after use passed, a later one that fails speaks of what was done since.
    each_way("passed, then failed", &[&good, &passed, &test("PT-6", after, 1)], &[]);
    each_way("failed, then passed", &[&good, &failed, &test("PT-6", after, 0)], &[ASKED, ASKED]);
    let (mut bath, mut process) = (failed.clone(), failed.clone());
    (bath.bath, process.process) = ("N-4".into(), "Nitric 4".into());
    each_way("another bath and another process failed", &[&good, &bath, &process], &[]);
}
