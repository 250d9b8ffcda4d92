//! The disk and the clock fail at each call in turn: a small library (shim.c) stands between the program and the
//! system. In everyday tests a stride of the calls, all of them where it is asked for.

use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;
use std::process::Output;
use std::sync::OnceLock;
use std::time::Instant;

use rayon::prelude::*;

use super::VERBS;
use super::Verb;
use super::copied;
use super::finished;
use super::head_is_kept;
use super::killed::issue_again;
use super::killed::run;
use super::made;
use crate::demo;

/// How a call fails; shim.c says what each means.
const WAYS: [&str; 7] = ["kill", "torn", "full", "halffull", "short", "broken", "clock"];

/// The library that stands between, made once by the C compiler that also makes the database.
fn shim() -> Option<&'static PathBuf> {
    static SHIM: OnceLock<Option<PathBuf>> = OnceLock::new();
    SHIM.get_or_init(|| {
        if !demo::has("cc", "--version") {
            return None;
        }
        let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/interrupted/shim.c");
        let made = demo::fresh("shim").join("shim.so");
        let done = Command::new("cc")
            .args(["-shared", "-fPIC", "-O1", "-o"])
            .arg(&made)
            .arg(source)
            .arg("-ldl")
            .output()
            .unwrap();
        assert!(done.status.success(), "{}", demo::printed(&done));
        Some(made)
    })
    .as_ref()
}

fn failing(folder: &Path, verb: Verb, how: &str, at: usize) -> Output {
    let mut program = run(folder, verb);
    program.env("LD_PRELOAD", shim().unwrap()).env("FAULT_HOW", how).env("FAULT_AT", at.to_string());
    program.output().unwrap()
}

/// How many calls the verb makes that can fail so.
fn calls(verb: Verb, how: &str) -> usize {
    let folder = copied(&format!("points-count-{verb:?}-{how}"));
    let file = folder.join("count");
    let (how, at) = if how == "clock" { ("clock", "1000000") } else { ("count", "0") };
    let mut program = run(&folder, verb);
    program.env("LD_PRELOAD", shim().unwrap()).env("FAULT_HOW", how).env("FAULT_AT", at);
    let output = program.env("FAULT_COUNT", &file).output().unwrap();
    assert!(output.status.success(), "{}", demo::printed(&output));
    finished(verb, &folder);
    fs::read_to_string(file).unwrap().parse().unwrap()
}

/// What became of the points tried.
#[derive(Debug, Default, Clone, Copy, PartialEq, Eq)]
struct Tally {
    tried: usize,
    /// The process died or answered with an error.
    failed: usize,
    /// The entries were in all the same.
    in_all_the_same: usize,
    /// Hidden files of a process that was killed, which bear no certificate's name.
    hidden: usize,
}

impl Tally {
    fn and(self, other: Tally) -> Tally {
        Tally {
            tried: self.tried + other.tried,
            failed: self.failed + other.failed,
            in_all_the_same: self.in_all_the_same + other.in_all_the_same,
            hidden: self.hidden + other.hidden,
        }
    }
}

/// One point: everything is there or nothing, and the verb, run again, brings it to its end. `made` fails for an
/// entry lost, a register that does not audit, and a file that is not the registered one to the byte.
fn point(verb: Verb, how: &str, at: usize) -> Tally {
    let name = format!("points-{verb:?}-{how}-{at}");
    let folder = copied(&name);
    let output = failing(&folder, verb, how, at);
    let said = demo::printed(&output);
    let there = made(verb, &folder);
    let place = format!("{verb:?}, {how} at {at}: {said}");
    // A lot that fails before the register is written is left out of its batch, and that is said.
    let left_out = verb == Verb::Issue && there == 1 && said.matches("nothing issued").count() == 1;
    assert!(there == 0 || there == verb.adds() || left_out, "{there} entries: {place}");
    if output.status.success() {
        assert_eq!(there, verb.adds(), "it says that it is done: {place}");
    } else if output.status.code().is_some() {
        assert!(said.contains("error: ") || said.contains("could not"), "no word of it: {place}");
        assert!(!said.contains("panicked"), "{place}");
    }
    let hidden = super::left_over(&folder).iter().filter(|name| name.ends_with(".part")).count();
    let again = if there == 0 || matches!(verb, Verb::Issue) {
        run(&folder, verb).output().unwrap()
    } else {
        issue_again(&folder, if verb == Verb::Amend { demo::SMALL_LOT } else { "L-26-0408" })
    };
    assert!(again.status.success(), "again: {}: {place}", demo::printed(&again));
    assert!(head_is_kept(&folder), "{place}");
    if there == 0 || matches!(verb, Verb::Issue | Verb::Amend) {
        finished(verb, &folder);
    } else {
        assert!(demo::register(&folder).audit().unwrap().is_sound(), "{place}");
    }
    fs::remove_dir_all(&folder).unwrap();
    let in_all_the_same = usize::from(there > 0 && !output.status.success());
    Tally { tried: 1, failed: usize::from(!output.status.success()), in_all_the_same, hidden }
}

fn sweep(ways: &[&str], stride: usize) -> Tally {
    let (begun, mut all) = (Instant::now(), Tally::default());
    for how in ways.iter().copied() {
        let mut points = Vec::new();
        for (turn, verb) in VERBS.into_iter().enumerate() {
            let calls = calls(verb, how);
            assert!(calls >= if how == "clock" { 1 } else { 15 }, "{verb:?} {how}: {calls}");
            points.extend(
                (1..=calls)
                    .skip(if calls > stride { turn % stride } else { 0 })
                    .step_by(stride)
                    .map(|at| (verb, at)),
            );
        }
        let tally =
            points.into_par_iter().map(|(verb, at)| point(verb, how, at)).reduce(Tally::default, Tally::and);
        println!(
            "{how}: {} points tried, {} ended in failure ({} of them after the commit), 0 entries lost, \
             0 half-written files, {} hidden left-overs",
            tally.tried, tally.failed, tally.in_all_the_same, tally.hidden
        );
        match how {
            "kill" | "torn" => assert_eq!(tally.failed, tally.tried),
            "short" => assert_eq!(tally.failed, 0, "the rest is written by the next call"),
            _ => {}
        }
        all = all.and(tally);
    }
    println!("{} points in {:?}", all.tried, begun.elapsed());
    all
}

#[test]
fn a_disk_or_clock_that_fails_at_a_call_leaves_all_or_nothing() {
    if shim().is_some() {
        assert!(sweep(&WAYS, 83).tried >= 30);
    }
}

fn whole(how: &str) {
    if shim().is_some() {
        let least = if how == "clock" { 8 } else { 300 };
        assert!(sweep(&[how], 1).tried >= least);
    }
}

#[test]
#[ignore = "killed before every call of every verb: minutes"]
fn a_process_killed_before_any_call_leaves_all_or_nothing() {
    whole("kill");
}

#[test]
#[ignore = "killed within every write of every verb: minutes"]
fn a_process_killed_within_any_write_leaves_all_or_nothing() {
    whole("torn");
}

#[test]
#[ignore = "the disk full from every call of every verb on: minutes"]
fn a_disk_full_at_any_call_leaves_all_or_nothing() {
    whole("full");
    whole("halffull");
}

#[test]
#[ignore = "every write of every verb cut short: minutes"]
fn a_write_cut_short_is_gone_on_with() {
    whole("short");
}

#[test]
#[ignore = "every call of every verb fails once: minutes"]
fn a_call_that_fails_once_leaves_all_or_nothing() {
    whole("broken");
    whole("clock");
}

#[test]
fn a_folder_that_cannot_be_written_is_told_and_left_as_it_is() {
    if shim().is_none() {
        return;
    }
    for verb in VERBS {
        let folder = copied("points-read-only");
        let output = failing(&folder, verb, "readonly", 1);
        let said = demo::printed(&output);
        assert_eq!(output.status.code(), Some(2), "{verb:?}: {said}");
        assert!(said.contains("ead-only") || said.contains("readonly"), "{verb:?}: {said}");
        assert_eq!(made(verb, &folder), 0, "{verb:?}");
        assert!(run(&folder, verb).output().unwrap().status.success());
        finished(verb, &folder);
    }
    println!("read-only: 4 verbs tried, 4 refused, 0 entries lost, 0 half-written files");
}
