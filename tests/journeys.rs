//! The ways of the three people through the command line, run as they run it: the quality manager who judges and
//! issues, the auditor who verifies, customer service that finds and sends again. Exit codes, words and files.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops at the first surprise")]

mod afterwards;
mod auditor;
mod beginnings;
mod late;
mod manager;
mod sampling;
mod service;

use std::path::Path;
use std::process::Command;
use std::process::Stdio;

use crate::demo;

/// What a command did.
pub struct Done {
    code: i32,
    out: String,
    err: String,
}

/// Runs the program in a folder; nobody is at the keyboard.
pub fn at(folder: &Path, arguments: &[&str]) -> Done {
    let mut command = Command::new(env!("CARGO_BIN_EXE_brightproof"));
    let output = command.args(arguments).current_dir(folder).stdin(Stdio::null()).output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    let done =
        Done { code: output.status.code().unwrap(), out: text(&output.stdout), err: text(&output.stderr) };
    assert!(!done.err.contains("panicked"), "{arguments:?}: {}", done.err);
    done
}

impl Done {
    /// Expects an exit code.
    #[track_caller]
    pub fn code(self, expected: i32) -> Done {
        assert_eq!(self.code, expected, "\n{}\n{}", self.out, self.err);
        self
    }

    /// Expects words on standard output.
    #[track_caller]
    pub fn says(self, words: &str) -> Done {
        assert!(self.out.contains(words), "no {words:?} in\n{}\n{}", self.out, self.err);
        self
    }

    /// Expects words on standard error.
    #[track_caller]
    pub fn warns(self, words: &str) -> Done {
        assert!(self.err.contains(words), "no {words:?} in\n{}\n{}", self.err, self.out);
        self
    }

    /// Standard output as JSON.
    #[track_caller]
    pub fn json(&self) -> serde_json::Value {
        serde_json::from_str(&self.out).unwrap_or_else(|e| panic!("{e}: {}\n{}", self.out, self.err))
    }
}

/// How many entries the register has.
fn entries(folder: &Path) -> u64 {
    demo::register(folder).head().unwrap().size
}
