//! The deviation's file and its letter, as they lie in the shop's folder.

use brightproof::app::book::Book;
use brightproof::folder::Folder;

use crate::demo::change;
use crate::demo::copy;
use crate::demo::fresh;
use crate::support;

/// What a book says is wrong after a change to its folder; and how many deviations it kept.
fn said(name: &str, spoil: &dyn Fn(&std::path::Path)) -> (String, usize) {
    let folder = fresh(&format!("deviation-{name}"));
    copy(&support::folder(), &folder);
    spoil(&folder);
    let book = Book::open(Folder::new(&folder)).unwrap();
    let faults: Vec<String> = book.faults.iter().map(ToString::to_string).collect();
    (faults.join("\n"), book.deviations.len())
}

/// A name, what is spoiled, and what is said.
type Case = (&'static str, &'static dyn Fn(&std::path::Path), &'static str);

const FILE: &str = "deviations/QI-DEV-061.yaml";
const LETTER: &str = "deviations/letters/QI-DEV-061.txt";

#[test]
fn an_unsound_deviation_is_a_fault_and_permits_nothing() {
    assert_eq!(said("whole", &|_| {}), (String::new(), 3));
    let cases: [Case; 14] = [
        ("letter-changed", &|f| change(f, LETTER, "94", "99"), "is not the letter that was compared"),
        ("letter-gone", &|f| std::fs::remove_file(f.join(LETTER)).unwrap(), "does not exist"),
        (
            "letter-outside",
            &|f| change(f, FILE, "file: deviations/", "file: ../"),
            "no file of the shop folder",
        ),
        (
            "letter-absolute",
            &|f| change(f, FILE, "file: deviations/", "file: /"),
            "no file of the shop folder",
        ),
        ("digest-short", &|f| change(f, FILE, "sha256: ", "sha256: 0"), "no SHA-256"),
        (
            "no-rule",
            &|f| change(f, FILE, "nitric-2.temperature", "nitric-9.temperature"),
            "no rule is called",
        ),
        ("no-pack", &|f| change(f, FILE, "astm-a967/", "astm-a968/"), "no rule is called"),
        (
            "house",
            &|f| change(f, FILE, "astm-a967/nitric-2.temperature", "house/counts.reconcile"),
            "not the purchaser's to loosen",
        ),
        (
            "treatment",
            &|f| change(f, FILE, "nitric-2.temperature", "treatment.named"),
            "another treatment, or none, is another order",
        ),
        ("advice", &|f| change(f, FILE, "nitric-2.temperature", "advice.austenitic"), "advice"),
        ("form", &|f| change(f, FILE, "within: [{ from: 70 °F, to: 94 °F }]", "one_of: [warm]"), "the form"),
        ("purchaser", &|f| change(f, FILE, "purchaser: quillmark", "purchaser: quilmark"), "no purchaser"),
        (
            "reach",
            &|f| change(f, FILE, "orders: [QI-88310], lots: [L-26-0441], ", ""),
            "a deviation for everything",
        ),
        (
            "reviewed",
            &|f| {
                change(
                    f,
                    FILE,
                    "reviewed: { by: D. Yarrow, on: 2026-11-12 }",
                    "reviewed: { by: D. Yarrow, on: 2026-11-11 }",
                )
            },
            "before the letter",
        ),
    ];
    for (name, spoil, expected) in cases {
        let (faults, kept) = said(name, spoil);
        assert!(faults.contains(expected) && faults.starts_with(FILE), "{name}: {faults}");
        assert_eq!(kept, 2, "{name}");
    }
    let twice = |f: &std::path::Path| {
        std::fs::copy(f.join(FILE), f.join("deviations/again.yaml")).unwrap();
    };
    let (faults, kept) = said("twice", &twice);
    assert_eq!((faults.matches("stands in two files").count(), kept), (2, 2), "{faults}");
}

/// Nothing of another purchaser, and none of other lots' troubles, rides in a lot's dossier.
#[test]
fn a_dossier_holds_only_what_names_it() {
    for lot in support::CONFORMING {
        assert_eq!(support::dossier(lot).deviations, [], "{lot}");
    }
    for lot in ["L-26-0441", "L-26-0442", "L-26-0443", "L-26-0444"] {
        assert_eq!(support::dossier(lot).deviations.len(), 1, "{lot}");
    }
}
