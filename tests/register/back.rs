//! Looking back: deliveries, certificates older than the register, and what certificates rest on.

use brightproof::certificate::Thing;
use brightproof::certificate::Use;
use brightproof::merkle::sha256;
use brightproof::register::Asked;
use brightproof::register::Facet;
use brightproof::register::Kind;
use brightproof::register::NewCertificate;
use brightproof::register::Query;
use brightproof::register::Register;
use brightproof::register::RegisterError;
use brightproof::register::Standing;
use brightproof::register::Status;
use brightproof::register::Transaction;
use serde_json::json;

use super::shop::Folder;
use super::shop::NOW;
use super::shop::amend;
use super::shop::behind;
use super::shop::certificate;
use super::shop::check;
use super::shop::entry;
use super::shop::issue;
use super::shop::sign;
use super::shop::withdrawal;

/// A certificate older than the register, of these lots.
pub fn older(number: &str, lots: &[&str]) -> NewCertificate {
    let pdf = format!("%PDF of {number}").into_bytes();
    let digest = hex::encode(sha256(&pdf));
    NewCertificate {
        evidence: None,
        pdf,
        input_digest: digest.clone(),
        shipment_key: format!("file {digest}"),
        facets: lots.iter().map(|lot| (Facet::Lot, (*lot).to_owned())).collect(),
        ..certificate(number, "", "", &[])
    }
}

/// Appends it.
pub fn take_in(tx: &mut Transaction<'_>, new: NewCertificate) -> Result<u64, RegisterError> {
    let number = new.number.clone();
    tx.append(entry(Kind::Legacy, Some(&number), json!({"by": "M. Sorrel"})), Some(new))
}

fn one(lot: &str, thing: Thing, name: &str, first: Option<&str>, last: &str) -> Use {
    Use {
        lot: lot.to_owned(),
        thing,
        name: name.to_owned(),
        first: first.map(|day| day.parse().unwrap()),
        last: last.parse().unwrap(),
        how: "run 1: passivate".to_owned(),
    }
}

/// Two certificates: the first used N-2 on one day and TI-5 on two, the second TI-5 on a day nobody wrote down.
fn used(folder: &Folder) -> Register {
    let mut register = folder.started();
    let mut tx = register.begin(NOW).unwrap();
    for (number, lot, uses) in [
        (
            "LBF-2026-000001",
            "L-1",
            vec![
                one("L-1", Thing::Bath, "N-2", Some("2026-11-05"), "2026-11-05"),
                one("L-1", Thing::Instrument, "TI-5", Some("2026-11-05"), "2026-11-06"),
                one("L-9", Thing::Heat, "TI-5", Some("2026-11-05"), "2026-11-06"),
            ],
        ),
        ("LBF-2026-000002", "L-2", vec![one("L-2", Thing::Instrument, "TI-5", None, "2026-11-20")]),
    ] {
        let mut new = certificate(number, lot, lot, &[(lot, 5, 9), ("L-7", 1, 9)]);
        new.uses = uses;
        tx.append(entry(Kind::Issue, Some(number), json!({})), Some(new)).unwrap();
    }
    tx.commit(&sign).unwrap();
    register
}

/// The last digits of the certificates found.
fn rest(register: &Register, name: &str, from: Option<&str>, to: Option<&str>) -> String {
    let day = |day: Option<&str>| day.map(|day| day.parse().unwrap());
    let asked = Asked { thing: Thing::Instrument, name: name.to_owned(), from: day(from), to: day(to) };
    let found = register.resting_on(&asked).unwrap();
    found.iter().map(|r| r.number.chars().last().unwrap()).collect()
}

#[test]
fn what_rests_on_a_thing_is_found_by_name_and_day() {
    let folder = Folder::new();
    let register = used(&folder);
    assert_eq!(rest(&register, "TI-5", None, None), "21");
    assert_eq!(rest(&register, " ti-5 ", None, None), "21");
    // both ends count; a use without a first day may have been on any day before its last
    assert_eq!(rest(&register, "TI-5", Some("2026-11-06"), Some("2026-11-06")), "21");
    assert_eq!(rest(&register, "TI-5", None, Some("2026-11-05")), "21");
    assert_eq!(rest(&register, "TI-5", None, Some("2026-11-04")), "2");
    assert_eq!(rest(&register, "TI-5", Some("2026-11-07"), None), "2");
    assert_eq!(rest(&register, "TI-5", Some("2026-11-20"), None), "2");
    assert_eq!(rest(&register, "TI-5", Some("2026-11-21"), None), "");
    // a whole name of the kind asked, nothing like it
    for other in ["TI-", "TI-55", "N-2", "", "%", "ti_5", "'; DROP TABLE used; --"] {
        assert_eq!(rest(&register, other, None, None), "", "{other}");
    }
    let asked = Asked { thing: Thing::Instrument, name: "TI-5".to_owned(), from: None, to: None };
    let first = register.resting_on(&asked).unwrap().pop().unwrap();
    // only the lot that used it, and only the uses asked for
    assert_eq!(first.pieces, [("L-1".to_owned(), 5)]);
    assert_eq!(first.uses, [one("L-1", Thing::Instrument, "TI-5", Some("2026-11-05"), "2026-11-06")]);
    assert_eq!(register.used_names(Thing::Bath).unwrap(), ["N-2"]);
    assert_eq!(register.used_names(Thing::Load).unwrap(), [""; 0]);
}

#[test]
fn what_no_longer_stands_is_still_found_and_says_so() {
    let folder = Folder::new();
    let mut register = used(&folder);
    let mut tx = register.begin(NOW).unwrap();
    tx.append(withdrawal("LBF-2026-000002"), None).unwrap();
    amend(&mut tx, "LBF-2026-000001", "L-1", "new", &[("L-1", 5, 9)]).unwrap();
    tx.commit(&sign).unwrap();
    let asked = Asked { thing: Thing::Instrument, name: "TI-5".to_owned(), from: None, to: None };
    let statuses: Vec<Status> = register.resting_on(&asked).unwrap().into_iter().map(|r| r.status).collect();
    assert!(matches!(statuses[0], Status::Withdrawn { .. }));
    assert_eq!(statuses[1], Status::Amended { by: "LBF-2026-000003".to_owned() });
}

#[test]
fn a_use_changed_or_hidden_behind_the_program_is_found() {
    for sql in [
        "UPDATE used SET last = '2026-11-01' WHERE number = 'LBF-2026-000001' AND thing = 'instrument'",
        "UPDATE used SET folded = 'ti-6' WHERE number = 'LBF-2026-000001' AND thing = 'instrument'",
        "UPDATE used SET first = '2026-11-20' WHERE first IS NULL",
        "UPDATE used SET thing = 'chamber' WHERE thing = 'bath'",
        "UPDATE used SET how = 'x' WHERE thing = 'bath'",
        "DELETE FROM used WHERE thing = 'bath'",
        "INSERT INTO used VALUES ('LBF-2026-000001', 9, 'L-1', 'bath', 'N-4', 'n-4', NULL, '2026-11-20', 'x')",
    ] {
        let folder = Folder::new();
        drop(used(&folder));
        assert!(behind(&folder.register(), sql) > 0, "{sql}");
        let audit = folder.open().audit_with(&check).unwrap();
        let found: Vec<&str> = audit.problems.iter().map(|p| p.what.as_str()).collect();
        assert!(
            found.contains(&"what the certificate rests on is not what its entry says"),
            "{sql}: {found:?}"
        );
    }
    // and the file itself stops accidents
    let folder = Folder::new();
    drop(used(&folder));
    let db = rusqlite::Connection::open(folder.register()).unwrap();
    for sql in ["DELETE FROM used", "UPDATE used SET how = how"] {
        assert!(db.execute(sql, []).unwrap_err().to_string().contains("append-only"), "{sql}");
    }
}

#[test]
fn uses_that_say_nothing_are_refused() {
    let folder = Folder::new();
    let mut register = folder.started();
    let mut tx = register.begin(NOW).unwrap();
    for bad in ["", " ", "N-2\n"] {
        let mut new = certificate("LBF-2026-000001", "S", "i", &[("L-1", 1, 1)]);
        new.uses = vec![one("L-1", Thing::Bath, bad, None, "2026-11-05")];
        let refused = tx.append(entry(Kind::Issue, Some("LBF-2026-000001"), json!({})), Some(new));
        assert!(matches!(refused, Err(RegisterError::BadEntry { .. })), "{bad:?}: {refused:?}");
    }
}

#[test]
fn a_delivery_says_which_file_went_to_whom_and_how() {
    let folder = Folder::new();
    let mut register = folder.started();
    let mut tx = register.begin(NOW).unwrap();
    let number = issue(&mut tx, "S-1", "a", &[("L-1", 1, 1)]).unwrap();
    let mut deliver = |number: &str, detail| tx.append(entry(Kind::Delivery, Some(number), detail), None);
    for bad in [
        json!({}),
        json!({"to": "R. Fathom"}),
        json!({"to": " ", "how": "paper"}),
        json!({"to": 5, "how": "x"}),
    ] {
        let refused = deliver(&number, bad.clone()).unwrap_err().to_string();
        assert!(refused.contains("it does not say"), "{bad}: {refused}");
    }
    let good = json!({"to": "R. Fathom", "how": "e-mail"});
    let unknown = deliver("LBF-2026-000009", good.clone());
    assert!(matches!(unknown, Err(RegisterError::UnknownCertificate { .. })));
    deliver(&number, good.clone()).unwrap();
    // what no longer stands may have gone out all the same, and that must be known
    tx.append(withdrawal(&number), None).unwrap();
    tx.append(entry(Kind::Delivery, Some(&number), good), None).unwrap();
    tx.commit(&sign).unwrap();
    let history = register.history(&number).unwrap();
    let kinds: Vec<Kind> = history.iter().map(|e| e.kind).collect();
    assert_eq!(kinds, [Kind::Issue, Kind::Delivery, Kind::Withdrawal, Kind::Delivery]);
    assert_eq!((&history[1].stamp, &history[1].pdf_sha256), (&history[0].stamp, &history[0].pdf_sha256));
    let leaf = String::from_utf8(history[1].leaf.clone()).unwrap();
    assert!(!leaf.contains("Fathom"), "{leaf}");
    assert!(register.audit_with(&check).unwrap().is_sound());
}

#[test]
fn an_older_certificate_is_taken_in_as_received_and_never_as_judged() {
    let folder = Folder::new();
    let mut register = folder.started();
    let mut tx = register.begin(NOW).unwrap();
    take_in(&mut tx, older("C/2019-55", &["L-19-1"])).unwrap();
    assert_eq!(tx.status("C/2019-55").unwrap(), Status::Legacy);
    // it is nobody's turn in a series, and is amended by nothing
    assert_eq!(tx.next_number("LBF", 2026).unwrap(), "LBF-2026-000001");
    let refused = amend(&mut tx, "C/2019-55", "S-1", "a", &[("L-9", 1, 1)]).unwrap_err();
    insta::assert_snapshot!(refused, @"certificate C/2019-55 is legacy: registered as received, not judged, so it cannot be amended");
    assert_eq!(tx.certified("L-19-1").unwrap(), 0);
    for kind in [Kind::Reissue, Kind::Delivery] {
        let detail = json!({"to": "R. Fathom", "how": "paper"});
        tx.append(entry(kind, Some("C/2019-55"), detail), None).unwrap();
    }
    tx.commit(&sign).unwrap();
    let stored = register.certificate("C/2019-55").unwrap().unwrap();
    assert!(stored.legacy);
    assert_eq!(register.legacy_by_file(&stored.pdf_sha256).unwrap().as_deref(), Some("C/2019-55"));
    assert_eq!(register.by_input(&stored.input_digest).unwrap(), None);
    let by = |standing| {
        let query = Query { limit: 9, standing: Some(standing), ..Query::default() };
        register.find(&query).unwrap().len()
    };
    assert_eq!([by(Standing::Current), by(Standing::Legacy), by(Standing::Withdrawn)], [0, 1, 0]);
    let mut tx = register.begin(NOW).unwrap();
    tx.append(withdrawal("C/2019-55"), None).unwrap();
    assert!(tx.append(withdrawal("C/2019-55"), None).is_err());
    tx.commit(&sign).unwrap();
    assert!(matches!(register.status("C/2019-55").unwrap(), Status::Withdrawn { .. }));
    assert_eq!(register.legacy_by_file(&stored.pdf_sha256).unwrap().as_deref(), Some("C/2019-55"));
    assert!(register.audit_with(&check).unwrap().is_sound());
}

#[test]
fn an_older_certificate_takes_no_number_file_or_lot_that_is_taken() {
    let folder = Folder::new();
    let mut register = folder.started();
    let mut tx = register.begin(NOW).unwrap();
    let number = issue(&mut tx, "S-1", "a", &[("L-1", 1, 9)]).unwrap();
    let mut refuse = |new: NewCertificate| take_in(&mut tx, new).unwrap_err().to_string();
    insta::assert_snapshot!(refuse(older(&number, &[])), @"there is a certificate LBF-2026-000001 already");
    insta::assert_snapshot!(refuse(older("LBF-2026-000002", &[])), @"this legacy entry cannot be added: numbers like LBF-2026-000002 are given by this register: LBF-2026 is its own series");
    insta::assert_snapshot!(refuse(older("C-1", &["L-0", "L-1"])), @"lot L-1 is on certificate LBF-2026-000001 already; one of the two is legacy, whose pieces were not counted");
    // what was not judged certifies nothing, rests on nothing known, and is filed under its very file
    let mut pieces = older("C-1", &[]);
    (pieces.pieces, pieces.accepted) = (vec![("L-5".to_owned(), 1)], vec![("L-5".to_owned(), 1)]);
    insta::assert_snapshot!(refuse(pieces), @"this legacy entry cannot be added: it was not judged, so it certifies no pieces");
    let mut uses = older("C-1", &[]);
    uses.uses = vec![one("L-1", Thing::Bath, "N-2", None, "2026-11-05")];
    assert!(refuse(uses).contains("not judged"));
    let mut elsewhere = older("C-1", &[]);
    elsewhere.shipment_key = "slip PS-1".to_owned();
    assert!(refuse(elsewhere).contains("not filed under its file"));

    take_in(&mut tx, older("C-1", &["L-5"])).unwrap();
    let mut again = older("C-2", &[]);
    (again.pdf, again.shipment_key) = (older("C-1", &[]).pdf, older("C-1", &[]).shipment_key);
    let refused = take_in(&mut tx, again.clone()).unwrap_err();
    insta::assert_snapshot!(refused, @"this very file is registered already, as legacy C-1");
    // a lot it names cannot be certified a second time here, in whatever letters, until it is withdrawn
    let refused = issue(&mut tx, "S-5", "e", &[("l-5", 1, 9)]).unwrap_err();
    assert!(matches!(refused, RegisterError::LotElsewhere { .. }), "{refused}");
    let refused = amend(&mut tx, &number, "S-1", "e", &[("L-1", 1, 9), ("L-5", 1, 9)]).unwrap_err();
    assert!(matches!(refused, RegisterError::LotElsewhere { .. }), "{refused}");
    tx.append(withdrawal("C-1"), None).unwrap();
    issue(&mut tx, "S-5", "e", &[("L-5", 1, 9)]).unwrap();
    take_in(&mut tx, again).unwrap();
    tx.commit(&sign).unwrap();
    let audit = register.audit_with(&check).unwrap();
    assert_eq!(audit.problems, []);
    assert_eq!(audit.certificates, 4);
}

#[test]
fn an_older_certificate_passed_off_as_judged_is_found() {
    for (sql, why) in [
        (
            "UPDATE certificate SET series = 'C', serial = 1 WHERE number = 'C-000001'",
            "filed under other facts",
        ),
        (
            "UPDATE certificate SET pdf = CAST('%PDF x' AS BLOB) WHERE number = 'C-000001'",
            "stored file was changed",
        ),
        (
            "UPDATE entry SET leaf = replace(leaf, 'legacy', 'issue') WHERE position = 1",
            "its leaf is not what was hashed",
        ),
        ("INSERT INTO piece VALUES ('C-000001', 'L-5', 1, 1)", "counts are not those"),
    ] {
        let folder = Folder::new();
        let mut register = folder.started();
        let mut tx = register.begin(NOW).unwrap();
        take_in(&mut tx, older("C-000001", &["L-5"])).unwrap();
        tx.commit(&sign).unwrap();
        drop(register);
        behind(&folder.register(), sql);
        let audit = folder.open().audit_with(&check).unwrap();
        assert!(audit.problems.iter().any(|p| p.what.contains(why)), "{sql}: {:?}", audit.problems);
    }
}

#[test]
fn certificates_are_found_by_day_of_issue_and_standing() {
    let folder = Folder::new();
    let mut register = folder.started();
    let mut tx = register.begin(NOW).unwrap();
    for (nth, day) in [(1, "2026-11-24"), (2, "2026-11-25"), (3, "2026-12-01")] {
        let number = format!("LBF-2026-00000{nth}");
        let mut new = certificate(&number, &number, &number, &[("L-1", 1, 9)]);
        new.facets.push((Facet::Date, day.to_owned()));
        tx.append(entry(Kind::Issue, Some(&number), json!({})), Some(new)).unwrap();
    }
    amend(&mut tx, "LBF-2026-000001", "LBF-2026-000001", "b", &[("L-1", 1, 9)]).unwrap();
    tx.append(withdrawal("LBF-2026-000002"), None).unwrap();
    tx.commit(&sign).unwrap();
    let find = |from: Option<&str>, to: Option<&str>, standing| {
        let day = |day: Option<&str>| day.map(|day| day.parse().unwrap());
        let query = Query { terms: vec![], limit: 50, from: day(from), to: day(to), standing };
        let found = register.find(&query).unwrap();
        found.iter().map(|f| f.number.chars().last().unwrap()).collect::<String>()
    };
    assert_eq!(find(Some("2026-11-25"), None, None), "32");
    assert_eq!(find(None, Some("2026-11-25"), None), "21");
    assert_eq!(find(Some("2026-11-25"), Some("2026-11-25"), None), "2");
    assert_eq!(find(Some("2026-12-02"), None, None), "");
    assert_eq!(find(None, None, Some(Standing::Current)), "43");
    assert_eq!(find(None, None, Some(Standing::Amended)), "1");
    assert_eq!(find(None, None, Some(Standing::Withdrawn)), "2");
    assert_eq!(find(Some("2026-11-25"), None, Some(Standing::Current)), "3");
}
