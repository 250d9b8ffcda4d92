//! The pages that describe the forms (`docs/formats/`), held against what is kept: no member of a certificate, kind of
//! an entry or answer of a command that a reader meets is without its words.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use serde_json::Value;

use super::FORMS;
use super::certificates;
use super::kept;
use super::reports;
use crate::demo;

fn page(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/formats").join(name);
    fs::read_to_string(path).unwrap()
}

/// Members of objects, those of objects in lists with `[]`. What a lot was judged on is not gone into: its documents
/// have the form of the shop's own files, and whoever withholds puts a digest in its place.
fn members(at: &str, value: &Value, all: &mut BTreeSet<String>) {
    match value {
        Value::Object(object) => {
            for (key, member) in object {
                let path = if at.is_empty() { key.clone() } else { format!("{at}.{key}") };
                if !path.contains(".dossier.disclosed.") {
                    all.insert(path.clone());
                }
                members(&path, member, all);
            }
        }
        Value::Array(items) => items.iter().for_each(|item| members(&format!("{at}[]"), item, all)),
        _ => {}
    }
}

#[test]
fn the_page_of_the_data_names_every_member() {
    let page = page("certificate.md");
    let mut all = BTreeSet::new();
    let mut dossiers = BTreeSet::new();
    for file in certificates(&kept(FORMS.last().unwrap()).join("shop")).values() {
        let attached = brightproof::pdf::read_sealed(file).unwrap().attachment;
        let value: Value = serde_json::from_slice(&attached).unwrap();
        members("", &value, &mut all);
        for lot in value["lots"].as_array().unwrap() {
            dossiers.extend(
                lot["dossier"]["disclosed"].as_object().into_iter().flatten().map(|(k, _)| k.clone()),
            );
        }
    }
    assert!(all.len() > 100 && dossiers.len() > 10, "{} {}", all.len(), dossiers.len());
    let missing: Vec<String> =
        all.iter().chain(&dossiers).filter(|path| !page.contains(&format!("`{path}`"))).cloned().collect();
    assert_eq!(missing, [] as [String; 0], "docs/formats/certificate.md");
}

#[test]
fn the_page_of_the_register_names_every_table_and_entry() {
    let page = page("register.md");
    let register = demo::register(&kept(FORMS.last().unwrap()).join("shop"));
    let mut kinds = BTreeSet::new();
    for position in 0..register.head().unwrap().size {
        let entry = register.entry(position).unwrap().unwrap();
        kinds.insert(entry.kind.as_str().to_owned());
        let rest: Value = serde_json::from_slice(&entry.rest).unwrap();
        let mut all = BTreeSet::new();
        members("", &rest, &mut all);
        for path in all.iter().filter(|p| p.split('.').count() <= 1) {
            assert!(page.contains(&format!("`{path}`")), "`{path}` of {} is not named", entry.kind.as_str());
        }
    }
    for kind in &kinds {
        assert!(page.contains(&format!("`{kind}`")), "{kind}");
    }
    assert!(kinds.len() >= 8, "{kinds:?}");
    for table in
        ["entry", "node", "checkpoint", "certificate", "piece", "facet", "facet_text", "used", "standing"]
    {
        assert!(page.contains(&format!("`{table}`")), "{table}");
    }
}

/// An example as the page shows it: of each list the first, long texts cut.
fn cut(value: &Value) -> Value {
    match value {
        Value::Object(members) => members.iter().map(|(k, v)| (k.clone(), cut(v))).collect(),
        Value::Array(items) => items.iter().take(1).map(cut).collect(),
        Value::String(text) if text.chars().count() > 72 => {
            Value::String(text.chars().take(69).chain("...".chars()).collect())
        }
        other => other.clone(),
    }
}

/// `PAGES=overwrite cargo test --test tests golden::pages` writes the examples anew.
#[test]
fn the_page_of_the_reports_shows_every_answer() {
    let mut examples = String::new();
    for (name, command) in reports::commands() {
        let file = kept(FORMS.last().unwrap()).join(format!("reports/{name}.json"));
        let example: Value = serde_json::from_str(&fs::read_to_string(file).unwrap()).unwrap();
        let text = serde_json::to_string_pretty(&cut(&example)).unwrap();
        let shown: String = text.lines().take(90).map(|l| format!("{l}\n")).collect();
        let more = if text.lines().count() > 90 { "...\n" } else { "" };
        examples.push_str(&format!(
            "\n### {name}\n\n`brightproof {command} --format json`\n\n```json\n{shown}{more}```\n"
        ));
    }
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/formats/reports.md");
    let text = fs::read_to_string(&path).unwrap();
    let (head, found) = text.split_once("\n## Examples\n").unwrap();
    if std::env::var_os("PAGES").is_some() {
        fs::write(&path, format!("{head}\n## Examples\n{examples}")).unwrap();
    } else {
        assert!(found == examples, "docs/formats/reports.md does not show the kept examples");
    }
}
