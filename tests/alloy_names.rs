//! Grades as drawings, orders and mill certificates write them: what each way means, and what is not taken.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops at the first surprise")]

use brightproof::alloy::AlloyTable;
use brightproof::alloy::Unfound;
use brightproof::app::builtin;

use crate::support::table;

const SPELLINGS: &str = include_str!("alloy_names.csv");

fn alloys() -> AlloyTable {
    builtin::alloys().unwrap()
}

/// One line a spelling: the unified number it must come down to; `ask A, B` where several are meant; `near A` where
/// none is meant and A must be offered; `specification`; `none` where nothing may be offered either.
#[test]
fn every_spelling_comes_down_to_what_it_means() {
    let (alloys, rows) = (alloys(), table(SPELLINGS));
    assert!(rows.len() >= 200, "{} spellings", rows.len());
    let mut wrong = Vec::new();
    for row in &rows {
        let (written, means) = (row["written"].as_str(), row["means"].as_str());
        let found = alloys.find(written);
        let as_meant = match (&found, means.split_once(' ')) {
            (Ok(alloy), None) => alloy.uns == means,
            (Err(Unfound::Ambiguous { grades }), Some(("ask", wanted))) => grades.join("; ") == wanted,
            (Err(Unfound::Unknown { near }), Some(("near", wanted))) => near.iter().any(|n| n == wanted),
            (Err(Unfound::Unknown { near }), None) => means == "none" && near.is_empty(),
            (Err(Unfound::Specification), None) => means == "specification",
            _ => false,
        };
        if !as_meant {
            wrong.push(format!("`{written}`: {means}, found {:?}", found.map(|a| &a.uns)));
        }
    }
    assert!(wrong.is_empty(), "{} of {}:\n{}", wrong.len(), rows.len(), wrong.join("\n"));
}

/// A slip of one letter or figure never turns one grade's usual name into another name that is taken: what comes of
/// it is that other grade's own name, or nothing.
#[test]
fn a_slip_is_never_read_as_the_grade_meant() {
    let alloys = alloys();
    for alloy in &alloys.alloys {
        let name = alloy.uns.as_str();
        for (i, _) in name.char_indices().skip(1) {
            for figure in '0'..='9' {
                let slip: String =
                    name.char_indices().map(|(j, c)| if i == j { figure } else { c }).collect();
                match alloys.find(&slip) {
                    Ok(found) => assert_eq!(found.uns, slip),
                    Err(Unfound::Unknown { near }) => {
                        assert!(slip == *name || !near.is_empty(), "{slip}: nothing offered");
                    }
                    Err(other) => panic!("{slip}: {other:?}"),
                }
            }
        }
    }
}

/// Every name of the table, with the words people put before and behind it.
#[test]
fn words_beside_a_name_change_nothing() {
    let alloys = alloys();
    for alloy in &alloys.alloys {
        for name in alloy.names() {
            for written in [
                format!("AISI {name}"),
                format!("Type {name}"),
                format!("{name} stainless steel"),
                format!("ASTM A276 Type {name}"),
                format!("ASTM A276/A276M-17, {name}, annealed"),
                format!("{name} ({})", alloy.uns),
                format!("{}/{name}", alloy.uns),
                format!("  {}  cond A", name.to_lowercase()),
                format!("{name}, condition A"),
            ] {
                let found = alloys.find(&written).map(|a| a.uns.as_str());
                assert_eq!(found, Ok(alloy.uns.as_str()), "`{written}`");
            }
        }
    }
}

#[test]
fn names_of_several_grades_name_grades() {
    let alloys = alloys();
    for shared in &alloys.ambiguous {
        assert!(shared.grades.len() > 1, "{}", shared.name);
        for name in std::iter::once(&shared.name).chain(&shared.also_written) {
            match alloys.find(name) {
                Err(Unfound::Ambiguous { grades }) => {
                    let (mut named, mut wanted) = (grades, shared.grades.clone());
                    named.sort();
                    wanted.sort();
                    assert_eq!(named, wanted, "{name}");
                }
                other => panic!("{name}: {other:?}"),
            }
        }
    }
}

#[test]
fn hostile_names_are_no_grades() {
    let long = "316L ".repeat(5000);
    for name in ["", " ", "/", "///", "((((", "-", ".", "1.", "\u{0}", "304\u{301}", "𝟛𝟘𝟜", long.as_str()]
    {
        assert!(alloys().find(name).is_err(), "{name:?}");
    }
}
