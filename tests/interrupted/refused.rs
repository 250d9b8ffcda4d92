//! The system refuses to write a file: something else lies where it should go.

use std::fs;
use std::path::Path;
use std::process::Command;
use std::process::Output;

use brightproof::app::issue;
use brightproof::app::issue::Outcome;

use super::FIRST;
use super::SECOND;
use super::Verb;
use super::act;
use super::batch;
use super::copied;
use super::finished;
use super::left_over;
use super::made;
use crate::demo;

fn run(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_brightproof")).args(arguments).current_dir(folder).output().unwrap()
}

#[test]
fn a_certificate_whose_file_cannot_be_written_is_said_to_be_registered() {
    let folder = copied("refused-issue");
    fs::remove_dir_all(folder.join("certificates")).unwrap();
    fs::write(folder.join("certificates"), "in the way").unwrap();
    let mut desk = demo::desk(&folder);
    let world = demo::world(demo::AFTER, "refused");
    let outcomes = issue::issue(&mut desk, &batch(), demo::RELEASES, None, &world, &|| {}).unwrap();
    let numbers: Vec<&str> = outcomes
        .iter()
        .map(|outcome| match outcome {
            Outcome::Unwritten { number, .. } => number.as_str(),
            _ => panic!("not unwritten"),
        })
        .collect();
    assert_eq!(numbers, [SECOND, "LBF-2026-000003"]);
    drop(desk);
    assert_eq!(made(Verb::Issue, &folder), 2);
    assert_eq!(fs::read_to_string(folder.join("certificates")).unwrap(), "in the way");

    let command = ["issue", "L-26-0410", "L-26-0408", "--by", "M. Sorrel"];
    let output = run(&folder, &command);
    let said = demo::printed(&output);
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert!(
        said.contains(&format!("{SECOND} is issued and registered, but its file could not be written")),
        "{said}"
    );
    assert!(!said.contains("nothing issued"), "{said}");
    let json = run(&folder, &[&["--format", "json"][..], &command].concat());
    let json: serde_json::Value = serde_json::from_slice(&json.stdout).unwrap();
    assert_eq!((&json[0]["outcome"], &json[0]["number"]), (&"unwritten".into(), &SECOND.into()));

    fs::remove_file(folder.join("certificates")).unwrap();
    fs::create_dir(folder.join("certificates")).unwrap();
    fs::write(folder.join("certificates").join(format!("{FIRST}.pdf")), demo::file(&super::base().0, FIRST))
        .unwrap();
    act(Verb::Issue, &folder, None).unwrap();
    finished(Verb::Issue, &folder);
}

#[test]
fn a_folder_where_the_file_should_go_is_left_alone() {
    let folder = copied("refused-folder");
    fs::create_dir(folder.join("certificates").join(format!("{SECOND}.pdf"))).unwrap();
    act(Verb::Issue, &folder, None).unwrap_err();
    assert_eq!(left_over(&folder), Vec::<String>::new());
    fs::remove_dir(folder.join("certificates").join(format!("{SECOND}.pdf"))).unwrap();
    act(Verb::Issue, &folder, None).unwrap();
    finished(Verb::Issue, &folder);
}

#[test]
fn an_amendment_whose_file_cannot_be_written_is_written_by_issuing() {
    let folder = copied("refused-amend");
    fs::create_dir(folder.join("certificates").join(format!("{SECOND}.pdf"))).unwrap();
    let amend = ["amend", FIRST, "--by", "M. Sorrel", "--why", super::WHY, "--kind", "conformity"];
    let output = run(&folder, &amend);
    let said = demo::printed(&output);
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert!(said.contains(&format!("{SECOND} replaces {FIRST}")), "{said}");
    assert!(
        said.contains(&format!("{SECOND} is issued and registered, but its file could not be written")),
        "{said}"
    );
    assert_eq!(left_over(&folder), Vec::<String>::new());
    fs::remove_dir(folder.join("certificates").join(format!("{SECOND}.pdf"))).unwrap();
    assert_eq!(made(Verb::Amend, &folder), 1);
    let output = run(&folder, &["issue", demo::SMALL_LOT, "--by", "M. Sorrel"]);
    assert_eq!(output.status.code(), Some(0), "{}", demo::printed(&output));
    finished(Verb::Amend, &folder);
}

#[test]
fn a_copy_that_cannot_be_written_was_not_sent() {
    let folder = copied("refused-reissue");
    fs::write(folder.join("sent"), "in the way").unwrap();
    act(Verb::Reissue, &folder, None).unwrap_err();
    fs::remove_file(folder.join("sent")).unwrap();
    assert_eq!(made(Verb::Reissue, &folder), 0);
    act(Verb::Reissue, &folder, None).unwrap();
    finished(Verb::Reissue, &folder);
}

#[test]
fn a_head_that_cannot_be_read_stops_all_writing() {
    for verb in super::VERBS {
        let folder = copied("refused-head");
        let head = folder.join("register-head.txt");
        let kept = fs::read(&head).unwrap();
        fs::remove_file(&head).unwrap();
        fs::create_dir(&head).unwrap();
        act(verb, &folder, None).unwrap_err();
        assert_eq!(made(verb, &folder), 0, "{verb:?}");
        fs::remove_dir(&head).unwrap();
        fs::write(&head, kept).unwrap();
        act(verb, &folder, None).unwrap();
        finished(verb, &folder);
    }
}
