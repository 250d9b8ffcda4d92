//! The shop's keys over the years: passphrases by every way but the command line, files that others can read, renewals
//! that leave old certificates standing, and keys that came into others' hands.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test stops at the first surprise"
)]

mod compromised;
mod pkcs12;
mod renewed;
mod root;
mod secrets;
mod token;

use std::fs;
use std::io::Write;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;
use std::process::Stdio;

use brightproof::app::desk::files;

use crate::demo;

/// Runs the program in a folder, with this on its standard input: exit code, standard output, standard error.
#[track_caller]
fn run_with(folder: &Path, arguments: &[&str], input: &str, secret: Option<&str>) -> (i32, String, String) {
    let mut command = Command::new(env!("CARGO_BIN_EXE_brightproof"));
    command.args(arguments).current_dir(folder);
    command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    if let Some(secret) = secret {
        command.env("SEAL_SECRET", secret);
    }
    let mut child = command.spawn().unwrap();
    // A program that reads nothing may be gone already.
    let _ = child.stdin.take().unwrap().write_all(input.as_bytes());
    let output = child.wait_with_output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    let (out, err) = (text(&output.stdout), text(&output.stderr));
    assert!(!err.contains("panicked"), "{arguments:?}: {err}");
    (output.status.code().unwrap(), out, err)
}

#[track_caller]
fn run(folder: &Path, arguments: &[&str]) -> (i32, String, String) {
    run_with(folder, arguments, "", None)
}

/// Runs it and expects an exit code; answers both streams together.
#[track_caller]
fn ends(folder: &Path, code: i32, arguments: &[&str]) -> String {
    let (found, out, err) = run(folder, arguments);
    assert_eq!(found, code, "{arguments:?}\n{out}{err}");
    out + &err
}

#[track_caller]
fn has(text: &str, words: &str) {
    assert!(text.contains(words), "no {words:?} in\n{text}");
}

/// A shop with one certificate, for one test.
pub fn shop(name: &str) -> PathBuf {
    let folder = demo::fresh(&format!("keys-{name}"));
    demo::begin(&folder, name);
    issue(&folder, demo::SMALL_LOT);
    folder
}

fn issue(shop: &Path, lot: &str) {
    ends(shop, 0, &["issue", lot, "--by", demo::RELEASES]);
}

const FIRST: &str = "LBF-2026-000001";
const SECOND: &str = "LBF-2026-000002";

/// A certificate of the year the test runs in.
fn number(of: &str) -> String {
    use chrono::Datelike;
    of.replace("2026", &chrono::Local::now().year().to_string())
}

fn verify(shop: &Path, of: &str, more: &[&str]) -> (i32, String) {
    let file = format!("certificates/{}.pdf", number(of));
    let (code, out, err) = run(shop, &[&["verify", &file, "--trust", files::ROOT], more].concat());
    (code, out + &err)
}

#[track_caller]
fn verifies(shop: &Path, of: &str) {
    for more in [&[][..], &["--register", files::REGISTER]] {
        let (code, said) = verify(shop, of, more);
        assert_eq!(code, 0, "{of} {more:?}\n{said}");
    }
}

fn renew_seal(shop: &Path) -> String {
    ends(
        shop,
        0,
        &["keys", "renew", "seal", "--open-keys", "--by", demo::RELEASES, "--why", "a new computer"],
    )
}

fn renew_register(shop: &Path) -> String {
    ends(shop, 0, &["keys", "renew", "register", "--by", demo::RELEASES, "--why", "a new computer"])
}

fn text(shop: &Path, file: &str) -> String {
    fs::read_to_string(shop.join(file)).unwrap().trim().to_owned()
}
