//! Two editions side by side: what changed between those of the built-in packs, what counts as a change, and the open
//! orders that call either.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test stops at the first surprise"
)]

use std::sync::OnceLock;

use brightproof::app::builtin;
use brightproof::app::editions::open_lines;
use brightproof::pack::Basis;
use brightproof::pack::Pack;
use brightproof::report::editions::Compared;
use brightproof::rulebook::compare::Difference;
use brightproof::rulebook::compare::Edition;
use brightproof::rulebook::compare::compare;
use brightproof::yaml;

use crate::support::book;

fn pack(id: &str) -> &'static Pack {
    static ALL: OnceLock<Vec<Pack>> = OnceLock::new();
    let all = ALL.get_or_init(|| builtin::packs().unwrap());
    all.iter().find(|p| p.pack == id).unwrap()
}

fn edition(id: &'static str, edition: &'static str) -> Edition<'static> {
    Edition { pack: pack(id), edition }
}

fn ids(all: &[&brightproof::pack::Requirement]) -> Vec<String> {
    all.iter().map(|r| r.id.clone()).collect()
}

/// A967 of 2005 prints degrees Fahrenheit alone, and has a demand on neutralising that 17 is not known to have.
#[test]
fn a967_of_2005_against_2017() {
    let found = compare(edition("astm-a967-05", "05"), edition("astm-a967", "17"));
    assert_eq!(ids(&found.only_first), ["neutralization.made"]);
    assert_eq!(ids(&found.only_second), Vec::<String>::new());
    let temperature = found.changed.iter().find(|c| c.first.id == "nitric-3.temperature").unwrap();
    let [Difference::Limit(before, after)] = temperature.differences.as_slice() else {
        panic!("{temperature:#?}")
    };
    let words = |check| brightproof::judge::limit_words(check);
    assert_eq!(words(before), "120 °F to 140 °F");
    assert_eq!(words(after), "120 °F to 140 °F or 50 °C to 60 °C");
    let acid = found.changed.iter().find(|c| c.first.id == "nitric-1.nitric-acid").unwrap();
    assert_eq!(acid.differences, [Difference::Basis(vec![Basis::Recalled], vec![Basis::Read])]);
    // Every demand of either stands in just one place.
    let (of_first, of_second) = (98, 97);
    let both = found.same + found.changed.len();
    assert_eq!((both + found.only_first.len(), both + found.only_second.len()), (of_first, of_second));
}

/// Between revisions E and F the demand for an authorization is one and the same, known less surely; it has an id in
/// each.
#[test]
fn ams_2700_e_against_f() {
    let found = compare(edition("ams-2700", "E"), edition("ams-2700", "F"));
    assert_eq!((ids(&found.only_first), ids(&found.only_second)), (vec![], vec![]));
    let [one] = found.changed.as_slice() else { panic!("{:#?}", found.changed) };
    assert_eq!(
        (one.first.id.as_str(), one.second.id.as_str()),
        ("method-2.authorized", "method-2.authorized-under-f")
    );
    assert_eq!(one.differences, [Difference::Basis(vec![Basis::Recalled], vec![Basis::Unsure])]);
    assert_eq!(found.beside, []);
}

/// An edition against itself differs in nothing, and one against another is the same read backwards.
#[test]
fn comparing_is_even_handed() {
    for pack in builtin::packs().unwrap() {
        for first in &pack.editions {
            let one = Edition { pack: &pack, edition: first };
            let same = compare(one, one);
            assert!(same.changed.is_empty() && same.only_first.is_empty() && same.only_second.is_empty());
            for second in &pack.editions {
                let other = Edition { pack: &pack, edition: second };
                let (there, back) = (compare(one, other), compare(other, one));
                assert_eq!(ids(&there.only_first), ids(&back.only_second), "{} {first} {second}", pack.pack);
                assert_eq!((there.same, there.changed.len()), (back.same, back.changed.len()));
            }
        }
    }
}

const INVENTED: &str = r#"pack: own
designation: Own
editions: ["1", "2"]
about: Invented.
test_pieces: 1
treatments: [{ id: bath, name: Bath, clause: "1", step: passivate }]
requirements:
  - { id: time, clause: "1", basis: read, subject: immersion time, check: { at_least: [{ value: 20 min }] }, remedy: re-treat }
  - { id: rinse, clause: "2", basis: read, subject: final rinse, check: present, remedy: record it }
  - { id: solids, clause: "2", basis: unsure, when: { editions: ["2"] }, subject: final rinse total solids, check: { at_most: [{ unit: ppm }] }, remedy: record it }
"#;

/// Each kind of change between two packs is told as what it is.
#[test]
fn each_kind_of_change_is_told() {
    let old: Pack = yaml::parse(INVENTED).unwrap();
    let change = |from: &str, to: &str| {
        assert_eq!(INVENTED.matches(from).count(), 1, "{from}");
        let new: Pack = yaml::parse(&INVENTED.replace(from, to)).unwrap();
        let (one, other) = (Edition { pack: &old, edition: "2" }, Edition { pack: &new, edition: "2" });
        Compared::of((one, other), &compare(one, other), None).to_string()
    };
    let head = |counts: &str| format!("Own-2 against Own-2: {counts}");
    for (from, to, said) in [
        ("20 min", "30 min", "limit: at least 20 min -> at least 30 min"),
        ("basis: unsure", "basis: recalled", "basis: unsure -> recalled"),
        (
            "[{ unit: ppm }]",
            "[{ value: 200 ppm, basis: read }]",
            "limit: at most a figure in ppm, not known -> at most 200 ppm",
        ),
        (
            "subject: final rinse,",
            "when: { options: [coupons allowed] }, subject: final rinse,",
            "condition: always -> ordered: coupons allowed",
        ),
        (
            "check: present, remedy: record it",
            "check: present, advice: true, remedy: record it",
            "advice: holds a lot -> advice",
        ),
        (
            "subject: final rinse,",
            "subject: rinse after treatment,",
            "subject: final rinse -> rinse after treatment",
        ),
    ] {
        let words = change(from, to);
        assert!(words.starts_with(&head("2 the same, 1 changed")), "{words}");
        assert!(words.contains(said), "{words}");
    }
    // Clause and note are for people, and no change of what is judged.
    assert_eq!(change("clause: \"1\", basis", "clause: \"7\", note: moved, basis").lines().count(), 1);
    let words = change("test_pieces: 1", "test_pieces: 2");
    assert!(words.contains("pieces for a test, where the order names no number: 1 -> 2"), "{words}");
    // Renamed, and alone of its kind: the same demand.
    let words = change("id: time", "id: bath.time");
    assert!(words.starts_with(&head("3 the same, 0 changed")), "{words}");
    // What only one edition has.
    let (one, other) = (Edition { pack: &old, edition: "1" }, Edition { pack: &old, edition: "2" });
    let words = Compared::of((one, other), &compare(one, other), None).to_string();
    let alone = "in Own-2 alone\n  solids  [2, unsure]\n    final rinse total solids: at most a figure in ppm, \
                 not known (edition 2)";
    assert!(words.contains(alone), "{words}");
}

/// Of the invented shop, which has no register yet, every line is open; by the call-out of the part or of the line.
#[test]
fn open_orders_are_those_that_call_the_edition() {
    let a967 = book().packs.iter().find(|p| p.pack == "astm-a967").unwrap();
    let open = open_lines(book(), a967, "17").unwrap();
    assert!(open.len() >= 20, "{}", open.len());
    // Where a call-out names no edition the order's own word decides.
    let named: Vec<Option<String>> = open.iter().map(|line| a967.edition_named(&line.calls)).collect();
    assert!(named.iter().flatten().all(|edition| edition == "17"), "{named:?}");
    assert!(named.contains(&None) && open.iter().all(|line| line.calls.contains("A967")), "{open:#?}");
    let one = open.iter().find(|line| line.lots.contains(&"L-26-0412".to_owned())).unwrap();
    assert_eq!((one.order.as_str(), one.line.as_str(), one.part.as_str()), ("QI-88274", "2", "7731-04 C"));
    assert_eq!(open_lines(book(), a967, "13").unwrap(), []);
}

/// In a shop that issued, lines whose lots are certified are open no longer.
#[test]
fn certified_lines_are_not_open() {
    let shop = crate::editions::Shop::new();
    let book = brightproof::app::book::Book::open(shop.folder()).unwrap();
    let a967 = book.packs.iter().find(|p| p.pack == "astm-a967").unwrap();
    let open = open_lines(&book, a967, "17").unwrap();
    let lots: Vec<&str> = open.iter().flat_map(|line| line.lots.iter().map(String::as_str)).collect();
    assert!(lots.contains(&"L-26-0401"), "{lots:?}");
    // Nobody began with this line; it is open all the same.
    let begun = |line: &brightproof::app::editions::OpenLine| !line.lots.is_empty();
    assert!(open.iter().any(|line| line.order == "QI-88411" && !begun(line)), "{open:#?}");
    shop.issue("L-26-0401");
    let after = open_lines(&book, a967, "17").unwrap();
    let lots: Vec<&str> = after.iter().flat_map(|line| line.lots.iter().map(String::as_str)).collect();
    assert!(!lots.contains(&"L-26-0401") && lots.contains(&"L-26-0412"), "{lots:?}");
}
