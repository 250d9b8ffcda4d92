//! The shape of `src/`: five layers, imported downwards only; pure judgement; one owner for each outside
//! crate; files that say what they are for and can be read at a sitting.
//!
//! The tables here are the law. A new module goes into one in `src/lib.rs` and here, a new dependency gets an
//! owner, and a file that must be long gives its reason.
#![allow(clippy::unwrap_used, reason = "a test stops at the first surprise")]

mod checks;
mod source;

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use checks::Layers;
use source::Source;

const LAYERS: Layers<'static> = &[
    // 1. values
    &["moment", "numeric", "path", "units"],
    // 2. documents
    &[
        "adoption",
        "alloy",
        "columns",
        "computed",
        "correction",
        "decision",
        "deviation",
        "evidence",
        "load",
        "logger",
        "order",
        "pack",
        "part",
        "periodic",
        "record",
        "removal",
        "sampling",
        "shipment",
        "shop",
        "solution",
        "surface",
        "trace_form",
        "validate",
    ],
    // 3. judgement
    &[
        "bath_log",
        "callout",
        "canonical",
        "certificate",
        "changes",
        "credential",
        "figures",
        "finding",
        "judge",
        "lint",
        "merkle",
        "picture",
        "plan",
        "roughness",
        "rulebook",
    ],
    // 4. edges
    &[
        "checkpoint",
        "folder",
        "http",
        "log_file",
        "passphrase",
        "pdf",
        "register",
        "seal",
        "sheet",
        "time_stamp",
        "token",
        "trace_file",
        "yaml",
    ],
    // 5. the tool
    &["app", "cli", "command", "report"],
];

/// Layers 1 to this one are pure.
const PURE: usize = 3;
const EDGES: usize = 4;
const TOOL: usize = 5;

/// The modules that may name an outside crate.
const OWNERS: &[(&str, &[&str])] = &[
    ("allsorts", &["pdf"]),
    ("bs58", &["credential"]),
    ("calamine", &["sheet"]),
    ("chrono", &["moment", "picture", "seal", "time_stamp", "app"]),
    ("clap", &["cli", "command"]),
    ("clap_complete", &["cli", "command"]),
    ("clap_mangen", &["command"]),
    ("const_oid", &["seal", "time_stamp"]),
    ("cryptoki", &["token"]),
    ("csv", &["sheet"]),
    ("der", &["seal", "time_stamp"]),
    ("ed25519_dalek", &["checkpoint"]),
    ("getrandom", &["app"]),
    ("harfrust", &["pdf"]),
    ("hmac", &["seal"]),
    ("indicatif", &["command"]),
    ("lopdf", &["pdf"]),
    ("md5", &["trace_file"]),
    ("minijinja", &["pdf"]),
    ("p256", &["seal", "time_stamp"]),
    ("p384", &["time_stamp"]),
    ("pkcs12", &["seal"]),
    ("pkcs8", &["seal"]),
    ("printpdf", &["pdf"]),
    ("qrcode", &["pdf"]),
    ("quick_xml", &["trace_file"]),
    ("rpassword", &["command"]),
    ("rsa", &["time_stamp"]),
    ("rusqlite", &["register"]),
    ("scrypt", &["passphrase"]),
    ("serde_json_canonicalizer", &["canonical"]),
    ("serde_yaml", &["yaml"]),
    ("spki", &["seal", "time_stamp"]),
    ("subtle", &["passphrase"]),
    ("unicode_bidi", &["pdf"]),
    ("unicode_linebreak", &["pdf"]),
    ("unicode_normalization", &["pdf"]),
    ("ureq", &["http"]),
    ("x509_cert", &["seal", "time_stamp"]),
    ("zip", &["trace_file"]),
];

/// Crates with no side of the outside world to keep in one place: any module may name them.
const SHARED: &[&str] = &[
    "base64",
    "hex",
    "libm",
    "rayon",
    "rust_decimal",
    "serde",
    "serde_json",
    "sha2",
    "strsim",
    "thiserror",
    "zeroize",
];

const LINES: usize = 600;

/// Files that may be longer, with how long and why.
const LONG: &[(&str, usize, &str)] = &[];

/// All files of the library's modules; the roots are looked at on their own.
fn modules() -> Vec<Source> {
    source::tree().into_iter().filter(|s| !matches!(s.module(), "lib" | "main")).collect()
}

fn none(faults: Vec<String>) {
    assert!(faults.is_empty(), "{} fault(s):\n{}", faults.len(), faults.join("\n"));
}

fn project(file: &str) -> String {
    fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(file)).unwrap()
}

#[test]
fn lib_lists_the_layers() {
    let mut sections: Vec<BTreeSet<String>> = Vec::new();
    for line in project("src/lib.rs").lines().filter(|l| !l.starts_with("//!") && !l.is_empty()) {
        if let Some(heading) = line.strip_prefix("// ") {
            assert!(
                heading.starts_with(&format!("{}. ", sections.len() + 1)),
                "heading out of order: {heading}"
            );
            sections.push(BTreeSet::new());
        } else {
            let name = line.strip_prefix("pub mod ").and_then(|l| l.strip_suffix(';'));
            let name = name.unwrap_or_else(|| panic!("lib.rs only lists modules, not: {line}"));
            sections.last_mut().unwrap().insert(name.to_owned());
        }
    }
    let table: Vec<BTreeSet<String>> =
        LAYERS.iter().map(|l| l.iter().map(|m| (*m).to_owned()).collect()).collect();
    assert_eq!(sections, table);
    let found: BTreeSet<String> = modules().iter().map(|s| s.module().to_owned()).collect();
    assert_eq!(found, table.into_iter().flatten().collect(), "files in src/ against the table");
}

#[test]
fn imports_go_down_only() {
    none(modules().iter().flat_map(|s| checks::imports(s, LAYERS, EDGES)).collect());
}

#[test]
fn main_calls_the_tool_only() {
    let main = source::tree().into_iter().find(|s| s.name == "src/main.rs").unwrap();
    let called = source::paths(&main.code);
    let called = called.iter().filter(|n| n.parts[0] == "brightproof");
    let below = called.filter(|n| !n.parts.get(1).is_some_and(|m| LAYERS[TOOL - 1].contains(m)));
    none(below.map(|n| format!("src/main.rs:{}: {}", n.line, n.parts.join("::"))).collect());
}

#[test]
fn judgement_is_pure() {
    let pure = LAYERS[..PURE].concat();
    none(modules().iter().filter(|s| pure.contains(&s.module())).flat_map(checks::impurities).collect());
}

#[test]
fn every_outside_crate_has_its_owner() {
    none(source::tree().iter().flat_map(|s| checks::trespasses(s, OWNERS)).collect());
}

#[test]
fn the_owners_are_the_dependencies() {
    let manifest = project("Cargo.toml");
    let section = manifest.split_once("\n[dependencies]\n").unwrap().1.split("\n[").next().unwrap();
    let wanted: BTreeSet<String> = section
        .lines()
        .filter(|l| !l.starts_with('#') && !l.is_empty())
        .map(|l| l.split(['=', '.', ' ']).next().unwrap().replace('-', "_"))
        .collect();
    let table = OWNERS.iter().map(|o| o.0).chain(SHARED.iter().copied()).map(str::to_owned);
    assert_eq!(table.collect::<BTreeSet<String>>(), wanted);
    for (name, owners) in OWNERS {
        assert!(
            owners.iter().all(|o| LAYERS.concat().contains(o)),
            "{name} is owned by no module: {owners:?}"
        );
    }
}

#[test]
fn imports_are_one_path_a_line() {
    none(source::tree().iter().flat_map(checks::groups).collect());
}

#[test]
fn files_say_what_they_are_for_and_stay_short() {
    let limit = |s: &Source| LONG.iter().find(|l| l.0 == s.name).map_or(LINES, |l| l.1);
    let sources = source::tree();
    let mut faults: Vec<String> = sources.iter().flat_map(|s| checks::form(s, limit(s))).collect();
    for (name, _, reason) in LONG {
        let lines = sources.iter().find(|s| s.name == *name).map_or(0, |s| s.raw.lines().count());
        if lines <= LINES {
            faults.push(format!("{name}: {lines} lines need no exception ({reason})"));
        }
    }
    none(faults);
}

/// A file of tests that `main.rs` does not list compiles nowhere and fails never.
#[test]
fn every_file_of_tests_runs() {
    let list = source::blank(&project("tests/main.rs"));
    let mut missing = Vec::new();
    for entry in fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests")).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        let module = name.strip_suffix(".rs").filter(|m| *m != "main");
        if let Some(module) = module.filter(|m| !list.lines().any(|l| l == format!("mod {m};"))) {
            missing.push(format!("tests/main.rs does not list {module}"));
        }
    }
    none(missing);
}
