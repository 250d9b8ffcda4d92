//! Pipes nobody writes into, devices without an end, links that lead back to themselves.

use std::fs;
use std::os::unix::fs::symlink;
use std::path::Path;
use std::process::Command;

use super::LOG;
use super::refused;
use super::run;
use super::shop;
use super::told;
use crate::demo;

fn pipe(path: &Path) {
    let _ = fs::remove_file(path);
    assert!(Command::new("mkfifo").arg(path).status().unwrap().success());
}

fn loops(path: &Path) {
    let _ = fs::remove_file(path);
    symlink(path.file_name().unwrap(), path).unwrap();
}

fn zeros(path: &Path) {
    let _ = fs::remove_file(path);
    symlink("/dev/zero", path).unwrap();
}

const FILES: [(&str, &[&str]); 13] = [
    ("c.pdf", &["verify", "c.pdf"]),
    ("c.tlog-proof", &["verify", "c.pdf", "--proof", "c.tlog-proof"]),
    ("keys/root.pem", &["verify", "c.pdf", "--trust", "keys/root.pem"]),
    ("register.sqlite", &["verify", "c.pdf", "--register", "register.sqlite"]),
    ("register-head.txt", &["issue", "L-26-0405", "--by", demo::RELEASES]),
    ("lots/L-26-0411.yaml", &["check", "L-26-0411"]),
    ("lots/L-26-0411.yaml", &["check"]),
    ("shop.yaml", &["check", "L-26-0411"]),
    ("pack.yaml", &["rules", "check", "pack.yaml"]),
    ("logs/N-2-2026-11-24.csv", &LOG),
    ("t.x3p", &["calculate", "roughness", "t.x3p"]),
    ("s.xlsx", &["intake", "s.xlsx"]),
    ("journal/L-26-0411.jsonl", &["check", "L-26-0411"]),
];

#[test]
fn nothing_waits_for_a_pipe_or_reads_a_device_or_follows_a_loop() {
    let mut tried = 0;
    for (what, make) in [("pipe", pipe as fn(&Path)), ("link to itself", loops), ("endless device", zeros)] {
        for (file, command) in FILES {
            let folder = shop("endless");
            make(&folder.join(file));
            let what = format!("{what} as {file} for {}", command[0]);
            refused(&what, &folder, command, file.rsplit('/').next().unwrap());
            tried += 1;
        }
    }
    println!("{tried} pipes, devices and loops tried, {tried} refused");
}

#[test]
fn folders_that_hold_themselves_are_not_walked_for_ever() {
    let folder = shop("loops");
    for place in ["lots/round", "certificates/round.pdf", "evidence/round", "orders/round.yaml"] {
        fs::create_dir_all(folder.join(place).parent().unwrap()).unwrap();
        symlink("..", folder.join(place)).unwrap();
    }
    for command in [
        &["check", "L-26-0411"][..],
        &["verify", "certificates", "--trust", "keys/root.pem"],
        &["evidence", "check"],
        &["register", "audit"],
    ] {
        told(&format!("folders that hold themselves, {}", command.join(" ")), &run(&folder, command));
    }
}
