//! Runs a script of ours with general-purpose Python packages, to hold what we reckon and write against theirs.
#![allow(dead_code, clippy::print_stdout, clippy::unwrap_used, reason = "each module uses what it needs")]

use std::io::Write;
use std::process::Command;
use std::process::Stdio;

/// What `script` prints when `input` is on its standard input, with SciPy at hand; see [`run`].
pub fn scipy(script: &str, input: &str) -> Option<String> {
    run(&["scipy", "numpy"], script, input)
}

/// What `script` prints when `input` is on its standard input; `None` where Python or one of the packages it needs
/// is missing and `BRIGHTPROOF_REQUIRE_TOOLS` does not ask for them.
pub fn run(packages: &[&str], script: &str, input: &str) -> Option<String> {
    let import = format!("import {}", packages.join(", "));
    let there = Command::new("python3").args(["-c", &import]).output();
    if !there.is_ok_and(|o| o.status.success()) {
        assert!(
            std::env::var_os("BRIGHTPROOF_REQUIRE_TOOLS").is_none(),
            "python3 with {} is missing",
            packages.join(", ")
        );
        println!("not compared: python3 with {} is missing", packages.join(", "));
        return None;
    }
    let mut child = Command::new("python3")
        .args(["-c", script])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut stdin = child.stdin.take().unwrap();
    let text = input.to_owned();
    let writer = std::thread::spawn(move || stdin.write_all(text.as_bytes()));
    let output = child.wait_with_output().unwrap();
    writer.join().unwrap().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    Some(String::from_utf8(output.stdout).unwrap())
}
