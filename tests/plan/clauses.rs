//! The plan of an order under a purchaser's clauses: they stand for what is ordered under the standard they build on,
//! and nothing is asked twice or for nothing; what no lot can meet is asked before anything else.

use brightproof::app::book::Book;
use brightproof::app::plan::Request;
use brightproof::folder::Folder;
use brightproof::units::Quantity;

use crate::support;
use crate::support::read;

fn book() -> Book {
    let mut book = Book::open(Folder::new(support::folder())).unwrap();
    book.adoptions.clone_from(&support::book().adoptions);
    book
}

fn held(book: &Book, grade: &str) -> Vec<String> {
    let request = Request { order: "HA-7801", line: "1", grade: Some(grade), ..Request::default() };
    let plan = book.plan(&request, read("2026-11-16")).unwrap();
    plan.questions.iter().filter(|q| q.holds).map(|q| q.subject.clone()).collect()
}

#[test]
fn nothing_is_asked_for_nothing() {
    let book = book();
    assert_eq!(held(&book, "316L"), Vec::<String>::new());
    assert_eq!(held(&book, "420"), ["alloy series for copper sulfate"]);
    let request = Request { order: "HA-7801", line: "1", grade: Some("316L"), ..Request::default() };
    let plan = book.plan(&request, read("2026-11-16")).unwrap();
    let windows: Vec<String> =
        plan.call_outs.iter().flat_map(|c| &c.demands).map(|d| format!("{d:?}")).collect();
    for limit in ["75", "85"] {
        assert!(
            windows.iter().any(|w| w.contains("halyard-hps-14/nitric-2.temperature") && w.contains(limit))
        );
    }
}

#[test]
fn what_no_lot_can_meet_is_asked_first() {
    let mut book = book();
    let part = book.parts.iter_mut().find(|p| p.document.part == "HA-7250-2").unwrap();
    let limit = |at_least: Option<Quantity>, at_most: Option<Quantity>| brightproof::part::CallOut {
        limit: Some(brightproof::record::Characteristic::Ra),
        at_least,
        at_most,
        ..brightproof::part::CallOut::default()
    };
    part.document.calls_for.push(limit(Some(read("20 µin")), None));
    part.document.calls_for.push(limit(None, Some(read("10 µin"))));
    let first = held(&book, "316L");
    assert_eq!(first.first().map(String::as_str), Some("Ra"), "{first:?}");
}
