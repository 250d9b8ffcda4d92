//! What the commands answer with `--format json`: examples kept with each form. A later release may add members; one
//! that is gone, renamed or of another kind breaks whoever reads them.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::sync::OnceLock;

use serde_json::Value;

use super::FORMS;
use super::kept;
use crate::demo;
use crate::journeys::at;

/// One after another in one invented shop, as `demo` makes it; `YEAR` stands for the year of issue. The name is that
/// of the example's file.
const COMMANDS: &str = include_str!("commands.txt");

/// Name and command of each.
pub fn commands() -> impl Iterator<Item = (&'static str, &'static str)> {
    COMMANDS.lines().filter(|l| !l.is_empty() && !l.starts_with('#')).filter_map(|l| l.split_once(": "))
}

/// What each command printed; they are run once.
fn answered() -> &'static BTreeMap<String, Value> {
    static ANSWERED: OnceLock<BTreeMap<String, Value>> = OnceLock::new();
    ANSWERED.get_or_init(run)
}

fn run() -> BTreeMap<String, Value> {
    let folder = demo::fresh("golden-reports");
    at(&folder, &["demo", "shop"]).code(0);
    let sheet = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples/sheets/nitric-line-2026-11-23.csv");
    fs::copy(sheet, folder.join("nitric-line-2026-11-23.csv")).unwrap();
    fs::write(folder.join("old.pdf"), "%PDF-1.4\n% invented\n").unwrap();
    let first = fs::read_dir(folder.join("shop/certificates")).unwrap().next().unwrap().unwrap().file_name();
    let year = first.to_str().unwrap().split('-').nth(1).unwrap().to_owned();
    let mut all = BTreeMap::new();
    for (name, command) in commands() {
        let command = command.replace("YEAR", &year);
        // Words, some of them in quotation marks.
        let words: Vec<&str> = command
            .split('"')
            .enumerate()
            .flat_map(|(i, part)| if i % 2 == 1 { vec![part] } else { part.split_whitespace().collect() })
            .collect();
        let done = at(&folder, &[&["--shop", "shop", "--format", "json"], &words[..]].concat());
        println!("{name}");
        assert!(all.insert(name.to_owned(), done.json()).is_none(), "{name} is there twice");
    }
    all
}

/// Writes the examples, when a form is frozen.
pub fn keep(to: &Path) {
    fs::create_dir_all(to).unwrap();
    for (name, value) in answered() {
        let text = serde_json::to_string_pretty(&value).unwrap();
        fs::write(to.join(format!("{name}.json")), text + "\n").unwrap();
    }
}

fn kind(value: &Value) -> &'static str {
    match value {
        Value::Null => "null",
        Value::Bool(_) => "boolean",
        Value::Number(_) => "number",
        Value::String(_) => "text",
        Value::Array(_) => "list",
        Value::Object(_) => "object",
    }
}

/// Every path of a value with the kinds found there: `findings[].limit`. Keys that are names of things, such as
/// ingredients, count as paths too: the commands are always the same.
fn kinds(at: &str, value: &Value, all: &mut BTreeMap<String, Vec<&'static str>>) {
    let known = all.entry(at.to_owned()).or_default();
    if !known.contains(&kind(value)) {
        known.push(kind(value));
    }
    match value {
        Value::Object(members) => {
            for (key, member) in members {
                let path = if at.is_empty() { key.clone() } else { format!("{at}.{key}") };
                kinds(&path, member, all);
            }
        }
        Value::Array(items) => {
            for item in items {
                kinds(&format!("{at}[]"), item, all);
            }
        }
        _ => {}
    }
}

fn paths(value: &Value) -> BTreeMap<String, Vec<&'static str>> {
    let mut all = BTreeMap::new();
    kinds("", value, &mut all);
    all
}

/// What in the new answer breaks a reader of the old one.
fn breaks(old: &Value, new: &Value) -> Vec<String> {
    let (old, new) = (paths(old), paths(new));
    let mut all = Vec::new();
    for (path, kinds) in &old {
        match new.get(path) {
            None => all.push(format!("`{path}` is gone")),
            Some(now) => all.extend(
                now.iter()
                    .filter(|k| **k != "null" && !kinds.contains(k) && kinds != &["null"])
                    .map(|k| format!("`{path}` is {k}, it was {}", kinds.join(" or "))),
            ),
        }
    }
    all
}

#[test]
fn reports_keep_the_members_they_had() {
    let new = answered();
    for form in FORMS {
        let mut files = 0;
        for file in fs::read_dir(kept(form).join("reports")).unwrap().map(|f| f.unwrap().path()) {
            let name = file.file_stem().unwrap().to_str().unwrap().to_owned();
            let old: Value = serde_json::from_str(&fs::read_to_string(&file).unwrap()).unwrap();
            let now = new.get(&name).unwrap_or_else(|| panic!("no command answers {name} any more"));
            assert_eq!(breaks(&old, now), [] as [String; 0], "{form} {name}");
            files += 1;
        }
        assert!(files >= 40, "{form}: {files}");
    }
}

#[test]
fn every_object_says_its_version() {
    let version = |value: &Value| value["version"] == 1;
    for (name, value) in answered() {
        let all = match &value {
            Value::Array(items) => items.iter().all(version),
            value => version(value),
        };
        assert!(all, "{name} does not say its version: {value:#}");
    }
}

#[test]
fn what_breaks_a_reader_is_seen() {
    let old = serde_json::json!([{ "number": "1", "lots": [{ "lot": "A", "pieces": 2 }], "by": null }]);
    let same = |new: Value| breaks(&old, &new);
    assert_eq!(
        same(
            serde_json::json!([{ "number": "2", "lots": [{ "lot": "B", "pieces": 3, "new": 1 }], "by": "C" }])
        ),
        [] as [String; 0]
    );
    assert_eq!(
        same(serde_json::json!([{ "number": 2, "lots": [{ "lot": "B", "pieces": 3 }], "by": null }])),
        ["`[].number` is number, it was text"]
    );
    assert_eq!(
        same(serde_json::json!([{ "number": "2", "lots": [{ "lot": "B" }], "by": null }])),
        ["`[].lots[].pieces` is gone"]
    );
    assert_eq!(same(serde_json::json!([{ "number": "2", "lots": [], "by": null }])).len(), 3);
}
