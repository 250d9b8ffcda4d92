//! Figures, printed; run by hand with `--ignored --nocapture`. The bounds are far above what was
//! measured, so that only a change of kind fails them.

use std::time::Duration;
use std::time::Instant;

use brightproof::register::Facet;
use brightproof::register::Kind;
use brightproof::register::Query;
use brightproof::register::Term;
use serde_json::json;

use super::shop::Folder;
use super::shop::NOW;
use super::shop::certificate;
use super::shop::entry;
use super::shop::sign;

const BATCH: u64 = 1_000;

#[test]
#[ignore = "figures"]
fn a_thousand_appends_in_one_batch_and_one_append_by_itself() {
    let folder = Folder::new();
    let mut register = folder.started();
    let new = |nth: u64| {
        let number = format!("LBF-2026-{nth:06}");
        let lot = format!("L-26-{nth}");
        let mut new = certificate(&number, &format!("S-{nth}"), &format!("i{nth}"), &[(&lot, 1, 9)]);
        new.facets.extend([
            (Facet::Heat, format!("H{}", nth % 97)),
            (Facet::Purchaser, "Tarn & Fell Dairyworks".to_owned()),
            (Facet::Slip, format!("SL-{nth}")),
            (Facet::Date, "2026-11-25".to_owned()),
        ]);
        new.pdf = vec![b'%'; 60_000];
        new
    };
    let ready: Vec<_> = (1..=BATCH).map(new).collect();
    let hashing = Instant::now();
    for certificate in &ready {
        std::hint::black_box(brightproof::merkle::sha256(&certificate.pdf));
    }
    let hashing = hashing.elapsed();
    let started = Instant::now();
    let mut tx = register.begin(NOW).unwrap();
    for new in ready {
        tx.append(entry(Kind::Issue, Some(&new.number.clone()), json!({"by": "M. Sorrel"})), Some(new))
            .unwrap();
    }
    let appended = started.elapsed();
    tx.commit(&sign).unwrap();
    let committed = started.elapsed();
    println!("{BATCH} appends {appended:?} of which hashing files {hashing:?}; with commit {committed:?}");
    assert!(appended < Duration::from_secs(3), "{appended:?}");

    let mut single: Vec<Duration> = (BATCH + 1..=BATCH + 50)
        .map(|nth| {
            let new = new(nth);
            let started = Instant::now();
            let mut tx = register.begin(NOW).unwrap();
            tx.append(entry(Kind::Issue, Some(&new.number.clone()), json!({})), Some(new)).unwrap();
            tx.commit(&sign).unwrap();
            started.elapsed()
        })
        .collect();
    single.sort();
    println!("one append with commit and kept head: median {:?}, slowest {:?}", single[25], single[49]);

    for (text, exact) in [("L-26-500", true), ("26-50", false), ("dairyworks", false), ("l", false)] {
        let term = Term { facet: None, text: text.to_owned(), exact };
        let started = Instant::now();
        let found = register.find(&Query { terms: vec![term], limit: 20, ..Query::default() }).unwrap().len();
        println!("find {text:?}: {found} in {:?}", started.elapsed());
    }
    let started = Instant::now();
    let audit = register.audit().unwrap();
    println!("audit of {} entries: {:?}", audit.size, started.elapsed());
    assert!(audit.is_sound());
}
