//! Files made to exhaust whoever reads them: huge, deep, swelling when unpacked, endless. The program itself is run
//! with its memory limited. It must end by itself within a bounded time, with success or with an error that names the
//! file; never by a signal, a panic or for want of memory.
#![cfg(target_os = "linux")]
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a test stops at the first surprise"
)]

mod bombs;
mod deep;
mod endless;
mod large;
mod pack;

use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;
use std::process::Stdio;
use std::time::Duration;
use std::time::Instant;

use crate::demo;
use crate::demo::Demo;

/// Address space the program may have, in KiB: its threads reserve some of it without using it.
const MEMORY: u64 = 1_500 * 1024;
/// Far above what any of these takes on a busy machine without optimisation.
const LONGEST: Duration = Duration::from_secs(90);

/// A shop with its certificate at `c.pdf` and the proof beside it.
fn shop(name: &str) -> PathBuf {
    let demo = Demo::get();
    let folder = demo.copy(&format!("hostile-{name}"));
    let (number, bytes) = demo.certificate(demo::SMALL_LOT);
    fs::write(folder.join("c.pdf"), bytes).unwrap();
    let proof = folder.join(format!("certificates/{number}.tlog-proof"));
    fs::copy(proof, folder.join("c.tlog-proof")).unwrap();
    folder
}

/// What a run did.
struct Ended {
    success: bool,
    said: String,
    took: Duration,
    /// Most memory in use, in KiB, as last seen before the end.
    most: u64,
}

/// Runs the program with little memory; it must end by itself.
fn run(folder: &Path, arguments: &[&str]) -> Ended {
    let script = format!("ulimit -c 0; ulimit -v {MEMORY}; exec \"$0\" \"$@\"");
    let (out, err) = (folder.join("stdout"), folder.join("stderr"));
    let mut child = Command::new("sh")
        .args(["-c", &script, env!("CARGO_BIN_EXE_brightproof")])
        .args(arguments)
        .current_dir(folder)
        .stdin(Stdio::null())
        .stdout(fs::File::create(&out).unwrap())
        .stderr(fs::File::create(&err).unwrap())
        .spawn()
        .unwrap();
    let (begun, mut most) = (Instant::now(), 0);
    let status = loop {
        if let Some(status) = child.try_wait().unwrap() {
            break status;
        }
        most = most.max(high_water(child.id()).unwrap_or(0));
        if begun.elapsed() > LONGEST {
            child.kill().unwrap();
            child.wait().unwrap();
            panic!("{arguments:?} does not end");
        }
        std::thread::sleep(Duration::from_millis(5));
    };
    let said = [out, err].map(|file| String::from_utf8_lossy(&fs::read(file).unwrap()).into_owned()).concat();
    let code = status.code();
    let shown: String = said.chars().take(2_000).collect();
    assert!(matches!(code, Some(0..=2)), "{arguments:?}: {status}: {shown}");
    assert!(!said.contains("panicked"), "{arguments:?}: {shown}");
    Ended { success: code == Some(0), said, took: begun.elapsed(), most }
}

fn high_water(process: u32) -> Option<u64> {
    let status = fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    line.trim().trim_end_matches(" kB").parse().ok()
}

/// Expects the file to be named, and not taken for a good one.
fn refused(what: &str, folder: &Path, arguments: &[&str], file: &str) {
    let ended = run(folder, arguments);
    let shown: String = ended.said.chars().take(2_000).collect();
    assert!(!ended.success, "{what}: taken: {shown}");
    assert!(ended.said.contains(file), "{what}: {file} is not named: {shown}");
    assert!(ended.said.len() < 200_000, "{what}: {} bytes of words", ended.said.len());
    told(what, &ended);
}

fn told(what: &str, ended: &Ended) {
    let answer = if ended.success { "done" } else { "refused" };
    println!(
        "{what}: {answer} in {:.1} s, {} MB at most",
        ended.took.as_secs_f64(),
        ended.most.div_ceil(1024)
    );
}

/// A log of the recorder on N-2 with its calculation.
const LOG: [&str; 13] = [
    "calculate",
    "log",
    "logs/N-2-2026-11-24.csv",
    "--logger",
    "DL-1",
    "--from",
    "2026-11-24T07:10-05:00",
    "--to",
    "2026-11-24T07:30-05:00",
    "--at-least",
    "70 °F",
    "--at-most",
    "90 °F",
];
