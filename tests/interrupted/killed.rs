//! The process dies in the middle of a write: the system kills it when a file would grow beyond a limit.

use std::os::unix::process::ExitStatusExt;
use std::path::Path;
use std::process::Command;
use std::process::Output;
use std::process::Stdio;
use std::time::Duration;
use std::time::Instant;

use brightproof::app::desk::files;

use super::FIRST;
use super::VERBS;
use super::Verb;
use super::WHY;
use super::copied;
use super::finished;
use super::head_is_kept;
use super::made;
use crate::demo;

/// File size exceeded, on Linux.
const SIGXFSZ: i32 = 25;

pub fn command(verb: Verb) -> Vec<&'static str> {
    match verb {
        Verb::Issue => vec!["issue", "L-26-0410", "L-26-0408", "--by", "M. Sorrel"],
        Verb::Reissue => vec![
            "reissue",
            FIRST,
            "--by",
            "D. Yarrow",
            "--to",
            "R. Fathom, receiving inspection",
            "--why",
            WHY,
            "--out",
            "sent",
        ],
        Verb::Amend => vec!["amend", FIRST, "--by", "M. Sorrel", "--why", WHY, "--kind", "conformity"],
        Verb::Withdraw => vec!["withdraw", FIRST, "--by", "M. Sorrel", "--why", WHY, "--parts", "hold them"],
    }
}

pub fn run(folder: &Path, verb: Verb) -> Command {
    let mut program = Command::new(env!("CARGO_BIN_EXE_brightproof"));
    program.args(command(verb)).current_dir(folder);
    program
}

/// Runs the verb with no file allowed beyond so many blocks of the shell's.
fn limited(folder: &Path, verb: Verb, blocks: u64) -> Output {
    let script = format!("ulimit -c 0; ulimit -f {blocks}; exec \"$0\" \"$@\"");
    let mut shell = Command::new("sh");
    shell.args(["-c", &script, env!("CARGO_BIN_EXE_brightproof")]).args(command(verb));
    shell.current_dir(folder).output().unwrap()
}

/// Limits to try: small ones, that stop the journal and the copy, then ever larger ones from the register's size on.
fn limits(folder: &Path) -> impl Iterator<Item = u64> {
    let register = std::fs::metadata(folder.join(files::REGISTER)).unwrap().len() / BLOCK;
    [0, 1, 2, 9, 20, 60, 120, 180].into_iter().chain((register..).step_by(48))
}

/// What the shell counts in.
const BLOCK: u64 = 512;

#[test]
fn a_process_that_dies_while_it_writes_leaves_all_or_nothing() {
    let mut died = 0;
    for verb in VERBS {
        for blocks in limits(&super::base().0) {
            let folder = copied("killed");
            let output = limited(&folder, verb, blocks);
            let there = made(verb, &folder);
            assert!(there == 0 || there == verb.adds(), "{verb:?} within {blocks} blocks: {there} entries");
            if output.status.success() {
                assert_eq!(there, verb.adds());
                finished(verb, &folder);
                break;
            }
            assert_eq!(output.status.signal(), Some(SIGXFSZ), "{}", demo::printed(&output));
            died += 1;
            let again = run(&folder, verb).output().unwrap();
            assert!(again.status.success(), "{verb:?} after {blocks} blocks: {}", demo::printed(&again));
            finished(verb, &folder);
        }
    }
    println!("{died} processes died while they wrote");
    assert!(died >= 32, "{died}");
}

/// The head is first written beside its place. A pipe there holds the process still, after its entry was committed
/// and before any file of it was written; there it is killed.
#[test]
fn a_process_killed_between_register_and_files_has_issued() {
    for verb in VERBS {
        let folder = copied("killed-between");
        let pipe = folder.join(format!("{}.new", files::HEAD));
        assert!(Command::new("mkfifo").arg(&pipe).status().unwrap().success());
        let mut child = run(&folder, verb).stdout(Stdio::null()).spawn().unwrap();
        let committed =
            || demo::register(&folder).head().is_ok_and(|head| head.size == 7 + verb.adds() as u64);
        let begun = Instant::now();
        while !committed() {
            assert!(begun.elapsed() < Duration::from_secs(60), "{verb:?} does not come to its end");
            std::thread::sleep(Duration::from_millis(10));
        }
        assert_eq!(child.try_wait().unwrap(), None);
        child.kill().unwrap();
        child.wait().unwrap();
        std::fs::remove_file(&pipe).unwrap();
        assert_eq!(made(verb, &folder), verb.adds(), "{verb:?}");
        assert!(!head_is_kept(&folder), "{verb:?}");
        // The files are written by issuing again: what is certified already comes back as it is.
        let lots = match verb {
            Verb::Issue => run(&folder, verb).output().unwrap(),
            Verb::Amend => issue_again(&folder, demo::SMALL_LOT),
            Verb::Reissue | Verb::Withdraw => issue_again(&folder, "L-26-0408"),
        };
        assert!(lots.status.success(), "{verb:?}: {}", demo::printed(&lots));
        assert!(head_is_kept(&folder), "{verb:?}");
        if matches!(verb, Verb::Issue | Verb::Amend) {
            finished(verb, &folder);
        }
    }
}

pub fn issue_again(folder: &Path, lot: &str) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_brightproof"));
    command.args(["issue", lot, "--by", "M. Sorrel"]).current_dir(folder).output().unwrap()
}
