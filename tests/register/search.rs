//! Finding certificates.

use brightproof::register::Facet;
use brightproof::register::Kind;
use brightproof::register::Query;
use brightproof::register::Register;
use brightproof::register::Status;
use brightproof::register::Term;
use serde_json::json;

use super::shop::Folder;
use super::shop::NOW;
use super::shop::amend;
use super::shop::certificate;
use super::shop::entry;
use super::shop::sign;

/// Three certificates for three purchasers, the first amended by a fourth.
fn filled(folder: &Folder) -> Register {
    let mut register = folder.started();
    let mut tx = register.begin(NOW).unwrap();
    for (nth, purchaser, order, heat, date) in [
        (1, "Quillmark Instruments", "QI-88231", "H4471", "2026-11-25"),
        (2, "Tarn & Fell Dairyworks", "TF/2026-17", "H4471", "2026-11-26"),
        (3, "Örrery \"Semicon\" Supply", "OS 100% 5_1", "é9", "2026-12-01"),
    ] {
        let number = format!("LBF-2026-00000{nth}");
        let lot = format!("L-26-041{nth}");
        let mut new = certificate(&number, &format!("S-{nth}"), &format!("i{nth}"), &[(&lot, 1, 9)]);
        new.facets = vec![
            (Facet::Purchaser, purchaser.to_owned()),
            (Facet::PurchaseOrder, order.to_owned()),
            (Facet::Heat, heat.to_owned()),
            (Facet::Lot, lot),
            (Facet::Date, date.to_owned()),
        ];
        tx.append(entry(Kind::Issue, Some(&number), json!({})), Some(new)).unwrap();
    }
    amend(&mut tx, "LBF-2026-000001", "S-1", "i1b", &[("L-26-0411", 2, 9)]).unwrap();
    tx.commit(&sign).unwrap();
    register
}

fn term(facet: Option<Facet>, text: &str, exact: bool) -> Term {
    Term { facet, text: text.to_owned(), exact }
}

/// The last digits of the numbers found.
fn found(register: &Register, terms: &[Term]) -> String {
    let rows = register.find(&Query { terms: terms.to_vec(), limit: 50, ..Query::default() }).unwrap();
    rows.iter().map(|row| row.number.chars().last().unwrap()).collect()
}

#[test]
fn certificates_are_found_by_any_part_of_what_is_remembered() {
    let folder = Folder::new();
    let register = filled(&folder);
    let any = |text| found(&register, &[term(None, text, false)]);
    let exactly = |text| found(&register, &[term(None, text, true)]);
    assert_eq!(any("quillmark"), "1");
    assert_eq!(any("MARK INSTR"), "1");
    assert_eq!(any("8823"), "41");
    assert_eq!(any("h4471"), "21");
    assert_eq!(any("000002"), "2");
    assert_eq!(any("0411"), "41");
    assert_eq!(any("örr"), "3");
    assert_eq!(any("ÖRRERY"), "3");
    assert_eq!(any("2026-11"), "21");
    assert_eq!(any(" dairy "), "2");
    // one or two letters: how a value begins
    assert_eq!((any("h4").as_str(), any("H").as_str(), any("4").as_str()), ("21", "21", ""));
    assert_eq!((any("É9"), any("é")), ("3".to_owned(), "3".to_owned()));
    assert_eq!(exactly("H4471"), "21");
    assert_eq!(exactly("h447"), "");
    assert_eq!(exactly("tarn & fell dairyworks"), "2");
    assert_eq!(any(""), "4321");
    assert_eq!(any("nowhere"), "");
}

#[test]
fn terms_narrow_each_other_and_keep_to_their_facet() {
    let folder = Folder::new();
    let register = filled(&folder);
    let heat = |text, exact| term(Some(Facet::Heat), text, exact);
    assert_eq!(found(&register, &[heat("4471", false), term(None, "dairy", false)]), "2");
    assert_eq!(
        found(&register, &[heat("4471", false), term(None, "dairy", false), term(None, "l-", false)]),
        "2"
    );
    assert_eq!(found(&register, &[heat("H4471", true), term(Some(Facet::Date), "2026-11-25", true)]), "1");
    assert_eq!(found(&register, &[term(Some(Facet::Lot), "4471", false)]), "");
    assert_eq!(found(&register, &[term(Some(Facet::Lot), "H4471", true)]), "");
    assert_eq!(found(&register, &[term(Some(Facet::Lot), "h", false)]), "");
    let rows = register.find(&Query { terms: vec![], limit: 2, ..Query::default() }).unwrap();
    let rows: Vec<_> = rows.into_iter().map(|row| (row.number, row.status)).collect();
    let (last, third) = ("LBF-2026-000004".to_owned(), "LBF-2026-000003".to_owned());
    assert_eq!(rows, [(last.clone(), Status::Current), (third, Status::Current)]);
    let first = register
        .find(&Query { terms: vec![term(None, "000001", false)], limit: 9, ..Query::default() })
        .unwrap()
        .remove(0);
    assert_eq!(first.status, Status::Amended { by: last });
    assert!(first.facets.contains(&(Facet::PurchaseOrder, "QI-88231".to_owned())));
    assert!(register.find(&Query { terms: vec![], limit: 0, ..Query::default() }).unwrap().is_empty());
}

#[test]
fn what_is_typed_is_only_ever_looked_for() {
    let folder = Folder::new();
    let register = filled(&folder);
    for text in [
        "'; DROP TABLE entry; --",
        "\" OR \"h4471",
        "H4471\" OR \"x",
        "folded:h44",
        "h44*",
        "NOT h44",
        "h44 AND tarn",
        "NEAR(h44 tarn)",
        "^h44",
        "(h44",
        "\"",
        "\"\"\"",
        "%",
        "_",
        "%%%",
        "___",
        "100\u{0}",
        "\u{0}\u{0}\u{0}",
        "a\nb",
        "\u{10ffff}",
        "\u{10ffff}\u{10ffff}\u{10ffff}",
        "-",
        "🔥🔥🔥",
        "?1",
        "?",
        ":a",
        "@x",
    ] {
        for exact in [false, true] {
            assert_eq!(found(&register, &[term(None, text, exact)]), "", "{text:?}");
            assert_eq!(found(&register, &[term(Some(Facet::Heat), text, exact)]), "", "{text:?}");
        }
    }
    for (text, expected) in [("100%", "3"), ("% 5_", "3"), ("\"semicon\"", "3"), ("n & f", "2"), ("tf/", "2")]
    {
        assert_eq!(found(&register, &[term(None, text, false)]), expected, "{text:?}");
    }
    let many = vec![term(None, "4471", false); 200];
    assert_eq!(found(&register, &many), "21");
}
