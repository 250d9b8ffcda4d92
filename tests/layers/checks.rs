//! The checks: each takes one source and gives its faults in words, and each is tried on invented sources.

use super::source::Named;
use super::source::Source;
use super::source::paths;

/// The layers in order, each with its modules.
pub type Layers<'a> = &'a [&'a [&'a str]];

fn layer_of(layers: Layers<'_>, module: &str) -> Option<usize> {
    layers.iter().position(|modules| modules.contains(&module)).map(|i| i + 1)
}

fn fault(source: &Source, named: &Named<'_>, what: &str) -> String {
    format!("{}:{}: {what}", source.name, named.line)
}

/// Imports of our own modules: lower layers only, and no edge another edge.
pub fn imports(source: &Source, layers: Layers<'_>, edges: usize) -> Vec<String> {
    let module = source.module();
    let Some(own) = layer_of(layers, module) else {
        return vec![format!("{}: {module} is in no layer of src/lib.rs", source.name)];
    };
    let mut faults = Vec::new();
    for named in paths(&source.shipped) {
        let skip = usize::from(named.parts[0] == "self");
        let climbs = named.parts[skip..].iter().take_while(|p| **p == "super").count();
        if climbs >= source.modules().len() {
            faults.push(fault(source, &named, "climbs to the crate's root by `super`; write `crate::`"));
        }
        if named.parts[0] != "crate" {
            continue;
        }
        let Some(other) = named.parts.get(1) else {
            if matches!(named.open, Some('{' | '*')) || named.after == Some("use") {
                faults.push(fault(source, &named, "imports the crate whole or grouped; one path a line"));
            }
            continue;
        };
        match layer_of(layers, other) {
            _ if *other == module => {}
            None => faults.push(fault(source, &named, &format!("crate::{other} is no module of src/lib.rs"))),
            Some(layer) if layer > own => faults.push(fault(
                source,
                &named,
                &format!("{module} (layer {own}) imports {other} (layer {layer})"),
            )),
            Some(layer) if layer == own && own == edges => {
                faults.push(fault(source, &named, &format!("edge {module} imports edge {other}")));
            }
            Some(_) => {}
        }
    }
    faults
}

/// True when this path names `wanted`, or brings it into reach by a group, a glob or a shorter import.
fn reaches(named: &Named<'_>, wanted: &[&str]) -> bool {
    let whole = matches!(named.open, Some('{' | '*')) || named.open.is_none() && named.after == Some("use");
    named.parts.starts_with(wanted) || whole && wanted.starts_with(&named.parts)
}

/// What pure code must not name: files, environment, clock, chance, network, processes, database. Hash maps
/// too, since their order is chance.
const IMPURE: [&[&str]; 16] = [
    &["std", "fs"],
    &["std", "env"],
    &["std", "net"],
    &["std", "process"],
    &["std", "thread"],
    &["std", "io", "stdin"],
    &["std", "io", "stdout"],
    &["std", "io", "stderr"],
    &["std", "time", "SystemTime"],
    &["std", "time", "Instant"],
    &["std", "collections", "HashMap"],
    &["std", "collections", "HashSet"],
    &["chrono", "Local"],
    &["rand"],
    &["getrandom"],
    &["rusqlite"],
];

/// Names in layers 1 to 3 of what would make the same input judge differently, or touch the outside.
pub fn impurities(source: &Source) -> Vec<String> {
    let mut faults = Vec::new();
    for named in paths(&source.shipped) {
        // A single word is a name of its own unless it is imported.
        let alone = named.parts.len() == 1 && named.open.is_none() && named.after != Some("use");
        if let Some(wanted) = IMPURE.iter().find(|w| !alone && reaches(&named, w)) {
            faults.push(fault(source, &named, &format!("pure code reaches {}", wanted.join("::"))));
        }
        if named.parts.windows(2).any(|w| matches!(w, ["Utc" | "Local", "now"])) {
            faults.push(fault(source, &named, "pure code reads the clock"));
        }
    }
    faults
}

/// Names of an outside crate in a module that does not own it; tests count as well.
pub fn trespasses(source: &Source, owners: &[(&str, &[&str])]) -> Vec<String> {
    let mut faults = Vec::new();
    for named in paths(&source.code) {
        let outside =
            named.parts.len() > 1 || named.open.is_some() || matches!(named.after, Some("use" | "crate"));
        let owned = owners.iter().find(|(name, _)| outside && *name == named.parts[0]);
        if let Some((name, modules)) = owned.filter(|(_, modules)| !modules.contains(&source.module())) {
            let owner = modules.join(" or ");
            faults.push(fault(source, &named, &format!("names {name}, which belongs to {owner}")));
        }
    }
    faults
}

/// Grouped imports, which hide a path from a reader who searches for it.
pub fn groups(source: &Source) -> Vec<String> {
    let grouped = |named: &Named<'_>| named.open == Some('{');
    paths(&source.code).iter().filter(|n| grouped(n)).map(|n| fault(source, n, "grouped import")).collect()
}

/// The head and the length of a file: a word on what it is for, and few enough lines to read at a sitting.
pub fn form(source: &Source, limit: usize) -> Vec<String> {
    let mut faults = Vec::new();
    let first = source.raw.lines().next().unwrap_or_default();
    if first.strip_prefix("//!").is_none_or(|words| words.trim().is_empty()) {
        faults.push(format!("{}:1: no module comment (//!)", source.name));
    }
    let lines = source.raw.lines().count();
    if lines > limit {
        faults.push(format!("{}: {lines} lines; at most {limit}: split it", source.name));
    }
    if source.code.contains("#[path") {
        faults.push(format!("{}: #[path] hides which module a file is", source.name));
    }
    faults
}

#[cfg(test)]
mod tests {
    use super::*;

    const LAYERS: Layers<'static> = &[&["units"], &["pack"], &["judge"], &["yaml", "pdf"], &["app"]];

    fn import_faults(name: &str, code: &str) -> usize {
        imports(&Source::new(name, code), LAYERS, 4).len()
    }

    #[test]
    fn imports_go_down_only() {
        for (name, code, faults) in [
            ("src/judge.rs", "use crate::units::Unit;", 0),
            ("src/judge.rs", "use crate::judge::step;", 0),
            ("src/app.rs", "use crate::app::x; fn f() { crate::pdf::draw() }", 0),
            ("src/judge.rs", "fn f() { crate::yaml::parse() }", 1),
            ("src/judge/step.rs", "use crate::yaml;", 1),
            ("src/judge/step.rs", "use crate::yaml as y; use crate::app;", 2),
            ("src/judge.rs", "#[cfg(test)] mod tests { use crate::yaml; }", 0),
            ("src/judge.rs", "// crate::yaml\n", 0),
            ("src/pdf.rs", "use crate::yaml;", 1),
            ("src/pdf/text.rs", "use crate\n  ::yaml;", 1),
            ("src/units.rs", "use crate::{pack};", 1),
            ("src/units.rs", "use crate::*;", 1),
            ("src/units.rs", "use crate as c;", 1),
            ("src/units.rs", "use super::pack;", 1),
            ("src/judge/step.rs", "use super::applies;", 0),
            ("src/judge/step.rs", "use self::super::super::yaml;", 1),
            ("src/judge.rs", "use crate::nothing;", 1),
            ("src/stray.rs", "", 1),
            ("src/units.rs", "pub(crate) fn f() {}", 0),
        ] {
            assert_eq!(import_faults(name, code), faults, "{name}: {code}");
        }
    }

    #[test]
    fn pure_code_touches_nothing() {
        for (code, faults) in [
            ("use std::fs;", 1),
            ("use std::fs::File;", 1),
            ("fn f() { std::env::var(x) }", 1),
            ("use std::time::Duration;", 0),
            ("use std::time::Instant;", 1),
            ("use std::time;", 2),
            ("use std::time::*;", 2),
            ("use std::io::Read;", 0),
            ("use std as s;", 12),
            ("use std::collections::BTreeMap;", 0),
            ("use std::collections::HashMap;", 1),
            ("use chrono::NaiveDate;", 0),
            ("use chrono::Utc; fn f() { Utc::now() }", 1),
            ("fn f() { chrono::Utc::now() }", 1),
            ("fn f() { chrono::Local::now() }", 2),
            ("fn f(rand: u8) { rand }", 0),
            ("use rand;", 1),
            ("fn f() { getrandom::fill(x) }", 1),
            ("#[serde(default = \"std::process::id\")] x: u32", 1),
            ("#[cfg(test)] mod tests { use std::fs; }", 0),
        ] {
            let found: usize = if code.contains("std as")
                || code.contains("time;")
                || code.contains("time::*")
            {
                // One path brings several into reach: count what it reaches.
                let source = Source::new("src/units.rs", code);
                assert_eq!(impurities(&source).len(), 1, "{code}");
                paths(&source.shipped).iter().map(|n| IMPURE.iter().filter(|w| reaches(n, w)).count()).sum()
            } else {
                impurities(&Source::new("src/units.rs", code)).len()
            };
            assert_eq!(found, faults, "{code}");
        }
    }

    #[test]
    fn a_crate_has_its_owner() {
        let owners: &[(&str, &[&str])] = &[("lopdf", &["pdf"]), ("der", &["seal"])];
        for (name, code, faults) in [
            ("src/pdf/read.rs", "use lopdf::Document;", 0),
            ("src/seal.rs", "use lopdf::Document;", 1),
            ("src/seal.rs", "use lopdf;", 1),
            ("src/seal.rs", "extern crate lopdf;", 1),
            ("src/seal.rs", "#[cfg(test)] mod tests { fn f() { ::lopdf::x() } }", 1),
            ("src/pdf.rs", "use lopdf::{Document}; use der::*;", 1),
            ("src/pdf.rs", "let der = 1; f(der)", 0),
        ] {
            assert_eq!(trespasses(&Source::new(name, code), owners).len(), faults, "{name}: {code}");
        }
    }

    #[test]
    fn files_have_a_head_and_an_end() {
        for (code, faults) in [
            ("//! What it is.\n", 0),
            ("//!\n", 1),
            ("\n//! Late.\n", 1),
            ("use a;\n", 1),
            ("", 1),
            ("//! Long.\n\n\n\n", 1),
            ("//! Hidden.\n#[path = \"b.rs\"] mod a;", 1),
        ] {
            assert_eq!(form(&Source::new("src/units.rs", code), 3).len(), faults, "{code}");
        }
        assert_eq!(groups(&Source::new("src/units.rs", "use a::b; use c::{d, e}; use f::*;")).len(), 1);
    }
}
