//! Several processes at one register: it is locked, or they all write at once.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::process::Child;
use std::process::Command;
use std::process::Stdio;
use std::time::Duration;
use std::time::Instant;

use brightproof::app::desk::files;
use brightproof::register::Kind;

use super::FIRST;
use super::VERBS;
use super::copied;
use super::finished;
use super::head_is_kept;
use super::killed::run;
use super::made;
use crate::demo;

/// What can be issued in the base shop beside its first certificate.
const FREE: [&str; 10] = [
    "PS-26-0311",
    "PS-26-0312",
    "PS-26-0313",
    "PS-26-0314",
    "PS-26-0315",
    "PS-26-0316",
    "L-26-0405",
    "L-26-0406",
    "L-26-0408",
    "L-26-0410",
];

fn start(folder: &Path, arguments: &[&str]) -> Child {
    Command::new(env!("CARGO_BIN_EXE_brightproof"))
        .args(arguments)
        .current_dir(folder)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap()
}

#[test]
fn a_register_that_another_holds_is_waited_for_and_then_told() {
    let mut waited = Duration::ZERO;
    std::thread::scope(|scope| {
        let tries = VERBS.map(|verb| {
            scope.spawn(move || {
                let folder = copied(&format!("locked-{verb:?}"));
                let held = rusqlite::Connection::open(folder.join(files::REGISTER)).unwrap();
                held.execute_batch("BEGIN EXCLUSIVE").unwrap();
                let begun = Instant::now();
                let output = run(&folder, verb).output().unwrap();
                let (took, said) = (begun.elapsed(), demo::printed(&output));
                held.execute_batch("ROLLBACK").unwrap();
                drop(held);
                assert_eq!(output.status.code(), Some(2), "{verb:?}: {said}");
                assert!(said.contains("locked") || said.contains("busy"), "{verb:?}: {said}");
                assert!(took < Duration::from_secs(60), "{verb:?}: {took:?}");
                assert_eq!(made(verb, &folder), 0, "{verb:?}");
                assert!(run(&folder, verb).output().unwrap().status.success(), "{verb:?}");
                finished(verb, &folder);
                took
            })
        });
        for tried in tries {
            waited = waited.max(tried.join().unwrap());
        }
    });
    println!("locked: 4 verbs tried, 4 refused within {waited:?}, 0 entries lost, 0 half-written files");
}

/// Starts the processes together, and counts what they made: numbers without gap or duplicate, nothing lost.
fn at_once(processes: usize) -> usize {
    let folder = copied(&format!("at-once-{processes}"));
    let mut children: Vec<Child> = (0..processes)
        .map(|turn| {
            // Each has some of its own, and one that all of them want.
            let own = FREE[1..].iter().skip(turn).step_by(processes);
            let all = std::iter::once(&FREE[0]).chain(own).copied();
            let targets: Vec<&str> = all
                .flat_map(|target| [if target.starts_with("PS") { "--slip" } else { "" }, target])
                .filter(|word| !word.is_empty())
                .collect();
            start(&folder, &[&["issue"][..], &targets, &["--by", demo::RELEASES]].concat())
        })
        .collect();
    children.push(start(
        &folder,
        &[
            "reissue",
            FIRST,
            "--by",
            "D. Yarrow",
            "--to",
            "R. Fathom, receiving inspection",
            "--why",
            "lost",
            "--out",
            "sent",
        ],
    ));
    for child in children {
        let output = child.wait_with_output().unwrap();
        assert!(output.status.success(), "{}", demo::printed(&output));
    }
    let register = demo::register(&folder);
    let audit = register.audit().unwrap();
    assert!(audit.is_sound(), "{:?}", audit.problems);
    let issued = register.of_kind(Kind::Issue).unwrap();
    let numbers: BTreeSet<String> =
        issued.iter().map(|entry| entry.number.clone().unwrap_or_default()).collect();
    let expected: BTreeSet<String> = (1..=FREE.len() + 1).map(|turn| format!("LBF-2026-{turn:06}")).collect();
    assert_eq!(issued.len(), expected.len(), "one entry each");
    assert_eq!(numbers, expected, "no gap, no duplicate");
    assert_eq!(register.of_kind(Kind::Reissue).unwrap().len(), 1);
    for number in &expected {
        let stored = register.certificate(number).unwrap().unwrap();
        assert_eq!(demo::file(&folder, number), stored.pdf, "{number}");
    }
    assert!(super::left_over(&folder).is_empty());
    assert!(head_is_kept(&folder));
    fs::remove_dir_all(folder).unwrap();
    issued.len() - 1
}

#[test]
fn processes_that_issue_at_once_leave_no_gap_no_duplicate_and_no_loss() {
    for processes in [2, 4] {
        let issued = at_once(processes);
        println!(
            "{processes} processes at once and a reissue: {issued} certificates, 0 gaps, 0 duplicates, \
             0 entries lost, 0 half-written files"
        );
    }
}

#[test]
fn a_clock_set_back_between_two_verbs_adds_nothing() {
    for verb in VERBS {
        let folder = copied("clock-between");
        let desk = &mut demo::desk(&folder);
        let before = desk.register.head().unwrap().size;
        let world = demo::world("2026-10-15T08:00:00-05:00", "back");
        let done = super::act_at(verb, desk, &folder, &world);
        assert!(done.is_err(), "{verb:?}");
        assert_eq!(desk.register.head().unwrap().size, before, "{verb:?}");
        assert_eq!(made(verb, &folder), 0, "{verb:?}");
        super::act(verb, &folder, None).unwrap();
        finished(verb, &folder);
    }
    println!("clock set back between verbs: 4 tried, 4 refused, 0 entries lost, 0 half-written files");
}
