//! `docs/compliance.md` says which command and which test shows each point: they must be there.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops at the first surprise")]

use std::fs;
use std::path::PathBuf;

use clap::CommandFactory;

use brightproof::cli::Cli;

fn project(path: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(path)
}

/// Words between backticks, in their order.
fn ticked(text: &str) -> Vec<&str> {
    text.split('`').skip(1).step_by(2).collect()
}

/// Each file named is there; a function named after it stands in it as a test.
#[test]
fn every_test_named_is_there() {
    let page = fs::read_to_string(project("docs/compliance.md")).unwrap();
    let (mut file, mut functions) = (None, 0);
    for words in page.lines().filter(|l| l.starts_with('|')).flat_map(ticked) {
        if words.starts_with("tests/") {
            file = Some(fs::read_to_string(project(words)).unwrap_or_else(|e| panic!("{words}: {e}")));
        } else if words.contains('_') && words.chars().all(|c| c == '_' || c.is_ascii_lowercase()) {
            let text = file.as_deref().unwrap();
            assert!(text.contains(&format!("#[test]\nfn {words}()")), "no test {words}");
            functions += 1;
        }
    }
    assert!(functions > 15, "{functions} tests named");
}

/// Each command named is one of the tool's, with the options named beside it.
#[test]
fn every_command_named_is_there() {
    let page = fs::read_to_string(project("docs/compliance.md")).unwrap();
    let tool = Cli::command();
    let mut commands = 0;
    for words in page.lines().filter(|l| l.starts_with('|')).flat_map(ticked) {
        let plain = words.chars().all(|c| c.is_ascii_lowercase() || " -".contains(c));
        if !plain {
            continue;
        }
        let mut verb = &tool;
        for word in words.split(' ') {
            match word.strip_prefix("--") {
                Some(option) => {
                    let all = verb.get_arguments().filter_map(|a| a.get_long()).collect::<Vec<_>>();
                    assert!(all.contains(&option), "`{words}`: no option {option}");
                }
                None => verb = verb.find_subcommand(word).unwrap_or_else(|| panic!("`{words}`: no {word}")),
            }
        }
        commands += 1;
    }
    assert!(commands > 10, "{commands} commands named");
}
