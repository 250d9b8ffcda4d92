//! The ids of all built-in requirements, each with the digest of what it judges, as `tests/ids/*.txt` keep them, so
//! that one renamed, taken away or changed shows in review.
//!
//! Certificates and adoptions name requirements by id for ever. A renamed id orphans them: give the new demand a new
//! id and leave the old one to the editions it stood in. A changed digest makes every shop adopt that requirement
//! again, and holds its lots until then: it belongs in the change log.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops at the first surprise")]

use std::collections::BTreeMap;
use std::fmt::Write;
use std::fs;
use std::path::PathBuf;

use brightproof::app::builtin;
use brightproof::rulebook::judging_digest;

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/ids")
}

#[test]
fn ids_and_what_they_judge_are_as_kept() {
    let overwrite = std::env::var("IDS").is_ok_and(|word| word == "overwrite");
    let mut said = Vec::new();
    let mut files = Vec::new();
    for pack in builtin::packs().unwrap() {
        let mut text = String::new();
        for requirement in &pack.requirements {
            let digest = judging_digest(requirement);
            writeln!(text, "{}/{} {digest}", pack.pack, requirement.id).unwrap();
        }
        let file = format!("{}.txt", pack.pack);
        let path = folder().join(&file);
        if overwrite {
            fs::create_dir_all(folder()).unwrap();
            fs::write(&path, &text).unwrap();
        }
        let kept = fs::read_to_string(&path).unwrap_or_default();
        said.extend(differences(&kept, &text));
        files.push(file);
    }
    for entry in fs::read_dir(folder()).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        if !files.contains(&name) {
            said.push(format!("tests/ids/{name} is of no built-in pack: take it away"));
        }
    }
    assert!(
        said.is_empty(),
        "{}\n\nIf each of these is meant, say so in CHANGELOG.md, run `IDS=overwrite cargo test --test tests ids` \
         and commit what changed in tests/ids.",
        said.join("\n")
    );
}

fn rows(text: &str) -> BTreeMap<&str, &str> {
    text.lines().filter_map(|line| line.split_once(' ')).collect()
}

/// What differs, and what comes of it.
fn differences(kept: &str, found: &str) -> Vec<String> {
    let (kept, found) = (rows(kept), rows(found));
    let mut all = Vec::new();
    for (id, digest) in &kept {
        match found.get(id) {
            None => all.push(format!(
                "{id} is gone: adoptions that name it are refused, certificates name what nobody finds"
            )),
            Some(other) if other != digest => all.push(format!(
                "{id} judges something else ({digest} before, {other} now): every shop must adopt it again"
            )),
            Some(_) => {}
        }
    }
    all.extend(found.keys().filter(|id| !kept.contains_key(*id)).map(|id| format!("{id} is new")));
    all
}

/// The test can fail, and says what comes of it.
#[test]
fn a_renamed_or_changed_requirement_shows() {
    let kept = "p/one 11\np/two 22\np/three 33\n";
    assert_eq!(differences(kept, kept), Vec::<String>::new());
    let said = differences(kept, "p/one 11\np/zwei 22\np/three 34\n");
    assert_eq!(said.len(), 3, "{said:#?}");
    assert!(said.iter().any(|s| s.starts_with("p/two is gone")), "{said:#?}");
    assert!(said.iter().any(|s| s == "p/zwei is new"), "{said:#?}");
    assert!(said.iter().any(|s| s.contains("33 before, 34 now")), "{said:#?}");
}
