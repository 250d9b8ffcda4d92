//! Changes behind the program's back, and copies.

use brightproof::register::AuditReport;
use brightproof::register::Kind;
use brightproof::register::Register;
use brightproof::register::RegisterError;
use serde_json::json;

use super::shop::Folder;
use super::shop::NOW;
use super::shop::amend;
use super::shop::behind;
use super::shop::check;
use super::shop::entry;
use super::shop::issue;
use super::shop::issue_one;
use super::shop::sign;
use super::shop::withdrawal;

/// Entries: 0 genesis, 1 issue, 2 adoption, 3 issue, 4 amendment of 1, 5 withdrawal, 6 reissue.
fn filled(folder: &Folder) {
    let mut register = folder.started();
    issue_one(&mut register, "S-1", &[("L-1", 100, 240)]);
    let mut tx = register.begin("2026-11-26T08:00:00Z").unwrap();
    tx.append(entry(Kind::Adoption, None, json!({"pack": "a", "by": "M. Sorrel"})), None).unwrap();
    let second = issue(&mut tx, "S-2", "b", &[("L-1", 90, 240), ("L-2", 5, 5)]).unwrap();
    tx.commit(&sign).unwrap();
    let mut tx = register.begin("2026-11-27T08:00:00Z").unwrap();
    amend(&mut tx, "LBF-2026-000001", "S-1", "a2", &[("L-1", 110, 240)]).unwrap();
    tx.append(withdrawal(&second), None).unwrap();
    tx.append(entry(Kind::Reissue, Some("LBF-2026-000003"), json!({"to": "R. Medlar"})), None).unwrap();
    tx.commit(&sign).unwrap();
}

fn audited(folder: &Folder) -> AuditReport {
    Register::open(&folder.register(), None).unwrap().audit_with(&check).unwrap()
}

#[test]
fn an_untouched_register_audits_well() {
    let folder = Folder::new();
    filled(&folder);
    let audit = audited(&folder);
    assert_eq!(audit.problems, []);
    assert_eq!((audit.size, audit.certificates, audit.checkpoints), (7, 3, 4));
    assert_eq!(audit.root, folder.open().head().unwrap().root);
}

/// Each change, and the first entry the audit must name (`None`: no single entry) and why.
const CHANGES: [(&str, Option<u64>, &str); 28] = [
    (
        "UPDATE entry SET leaf = replace(leaf, '-26T', '-25T') WHERE position = 3",
        Some(3),
        "its leaf is not what was hashed",
    ),
    (
        "UPDATE entry SET leaf = replace(leaf, ',\"kind', ', \"kind') WHERE position = 2",
        Some(2),
        "not in canonical form",
    ),
    ("UPDATE entry SET leaf = json_insert(leaf, '$.x', 1) WHERE position = 2", Some(2), "unreadable"),
    (
        "UPDATE entry SET leaf = json_set(leaf, '$.at', '2026-11-24T00:00:00Z') WHERE position = 2",
        Some(2),
        "earlier than the entry before it",
    ),
    (
        "UPDATE entry SET leaf = json_set(leaf, '$.kind', 'key') WHERE position = 2",
        Some(2),
        "its leaf is not what was hashed",
    ),
    (
        "UPDATE entry SET rest = replace(rest, 'wrong alloy', 'right alloy') WHERE position = 5",
        Some(5),
        "its details are not those of its leaf",
    ),
    ("UPDATE entry SET rest = 'x' WHERE position = 5", Some(5), "unreadable"),
    (
        "UPDATE entry SET salt = zeroblob(32) WHERE position = 0",
        Some(0),
        "its details are not those of its leaf",
    ),
    ("DELETE FROM entry WHERE position = 6", Some(5), "no signed head ends with it"),
    ("DELETE FROM entry WHERE position = 5", Some(5), "it is missing"),
    ("DELETE FROM entry WHERE position = 0", Some(0), "it is missing"),
    ("DELETE FROM entry", None, "no entries"),
    (
        "UPDATE certificate SET pdf = CAST('%PDF forged' AS BLOB) WHERE number = 'LBF-2026-000002'",
        Some(3),
        "stored file was changed",
    ),
    (
        "UPDATE certificate SET data = CAST('{}' AS BLOB) WHERE number = 'LBF-2026-000003'",
        Some(4),
        "stored data were changed",
    ),
    (
        "UPDATE certificate SET evidence = CAST('{}' AS BLOB) WHERE number = 'LBF-2026-000002'",
        Some(3),
        "the certificate's stored evidence was changed",
    ),
    ("UPDATE certificate SET shipment = 'S-9' WHERE number = 'LBF-2026-000002'", Some(3), "other facts"),
    ("UPDATE certificate SET signer = 'T. Quince' WHERE number = 'LBF-2026-000002'", Some(3), "other facts"),
    ("UPDATE certificate SET serial = 9 WHERE number = 'LBF-2026-000003'", Some(4), "other facts"),
    ("DELETE FROM certificate WHERE number = 'LBF-2026-000003'", Some(4), "its certificate is gone"),
    ("UPDATE piece SET pieces = 1 WHERE number = 'LBF-2026-000001'", Some(1), "counts are not those"),
    ("UPDATE piece SET accepted = 999 WHERE number = 'LBF-2026-000001'", Some(1), "counts are not those"),
    ("DELETE FROM piece WHERE number = 'LBF-2026-000002' AND lot = 'L-2'", Some(3), "counts are not those"),
    (
        "UPDATE facet SET value = 'QI-1', folded = 'qi-1' WHERE number = 'LBF-2026-000001' AND facet = 'purchase_order'",
        Some(1),
        "found by",
    ),
    ("UPDATE node SET hash = zeroblob(32) WHERE level = 1 AND place = 1", Some(3), "stored hash of level 1"),
    ("DELETE FROM node WHERE level = 0 AND place = 4", Some(4), "stored hash of level 0 above it is gone"),
    ("INSERT INTO node VALUES (0, 7, zeroblob(32))", None, "table node has"),
    (
        "UPDATE checkpoint SET text = replace(text, char(10) || '2' || char(10), char(10) || '1' || char(10)) WHERE size = 2",
        Some(1),
        "signed head",
    ),
    (
        "UPDATE checkpoint SET text = replace(text, '= ', '=') || 'x' WHERE size = 4",
        Some(3),
        "its signed head does not hold",
    ),
];

#[test]
fn every_change_behind_the_program_is_found_and_the_entry_named() {
    for (sql, position, why) in CHANGES {
        let folder = Folder::new();
        filled(&folder);
        assert!(behind(&folder.register(), sql) > 0, "{sql}");
        let audit = audited(&folder);
        let found = match position {
            Some(_) => audit.first_bad(),
            None => audit.problems.first(),
        };
        let found = found.unwrap_or_else(|| panic!("{sql}: nothing found, {:?}", audit.problems));
        assert_eq!(found.position, position, "{sql}: {:?}", audit.problems);
        let all: Vec<&str> = audit
            .problems
            .iter()
            .filter(|problem| problem.position == position)
            .map(|problem| problem.what.as_str())
            .collect();
        assert!(all.iter().any(|what| what.contains(why)), "{sql}: {all:?}");
    }
}

#[test]
fn an_entry_rewritten_with_all_its_hashes_still_shows_against_the_signed_head() {
    let folder = Folder::new();
    filled(&folder);
    // the adoption's detail is changed, and digest, leaf and every hash above it are made to fit
    let db = rusqlite::Connection::open(folder.register()).unwrap();
    let read = |column: &str| {
        let sql = format!("SELECT {column} FROM entry WHERE position = 2");
        db.query_row(&sql, [], |row| row.get::<_, String>(0)).unwrap()
    };
    let (old_leaf, rest) = (read("leaf"), read("rest").replace("\"pack\":\"a\"", "\"pack\":\"b\""));
    let digest = hex::encode(brightproof::merkle::sha256(&[&[2u8; 32][..], rest.as_bytes()].concat()));
    let mut leaf: serde_json::Value = serde_json::from_str(&old_leaf).unwrap();
    leaf["rest"] = json!(digest);
    let leaf = serde_json::to_string(&leaf).unwrap();
    behind(&folder.register(), "UPDATE entry SET salt = salt");
    db.execute("UPDATE entry SET leaf = ?1, rest = ?2 WHERE position = 2", (&leaf, &rest)).unwrap();
    db.execute("DELETE FROM node", []).unwrap();
    let mut frontier = brightproof::merkle::Frontier::default();
    let mut select = db.prepare("SELECT leaf FROM entry ORDER BY position").unwrap();
    for leaf in select.query_map([], |row| row.get::<_, String>(0)).unwrap() {
        for node in frontier.push(brightproof::merkle::leaf(leaf.unwrap().as_bytes())) {
            let row = (node.level, node.index as i64, node.hash);
            db.execute("INSERT INTO node VALUES (?1, ?2, ?3)", row).unwrap();
        }
    }
    drop(select);
    drop(db);
    let audit = audited(&folder);
    let found: Vec<String> = audit.problems.iter().map(ToString::to_string).collect();
    insta::assert_snapshot!(found.join("\n"), @"
    entry 3 (LBF-2026-000002): the 4 entries up to here are not those of their signed head
    entry 6 (LBF-2026-000003): the 7 entries up to here are not those of their signed head
    ");
    // and the head kept outside holds it, too
    assert!(matches!(folder.open().begin("2026-11-28T08:00:00Z"), Err(RegisterError::KeptHead(_))));
}

#[test]
fn bytes_changed_in_the_file_itself_never_end_in_a_panic_or_a_clean_audit_of_other_entries() {
    let folder = Folder::new();
    filled(&folder);
    let whole = std::fs::read(folder.register()).unwrap();
    let root = audited(&folder).root;
    let mut refused = 0;
    for at in (0..whole.len()).step_by(97) {
        let mut bent = whole.clone();
        bent[at] ^= 0x41;
        std::fs::write(folder.register(), &bent).unwrap();
        // the byte may be in unused space: then everything is as it was
        match Register::open(&folder.register(), None).and_then(|register| register.audit_with(&check)) {
            Ok(audit) if audit.is_sound() => assert_eq!((audit.root, audit.size), (root, 7), "byte {at}"),
            _ => refused += 1,
        }
    }
    assert!(refused > 20, "{refused}");
}

#[test]
fn a_backup_is_audited_and_goes_on_by_itself() {
    let folder = Folder::new();
    filled(&folder);
    let register = folder.open();
    let copy = folder.file("copy.sqlite");
    assert_eq!(register.backup(&copy).unwrap().root, register.head().unwrap().root);
    assert!(matches!(register.backup(&copy), Err(RegisterError::Exists { .. })));
    let mut opened = Register::open(&copy, Some(&folder.head())).unwrap();
    issue_one_later(&mut opened);
    assert!(opened.audit().unwrap().is_sound());
    drop(register);

    behind(&folder.register(), "UPDATE piece SET pieces = 1 WHERE number = 'LBF-2026-000001'");
    let bad = Register::open(&folder.register(), None).unwrap().backup(&folder.file("bad.sqlite"));
    insta::assert_snapshot!(bad.unwrap_err(), @"the copy was not kept: entry 1 (LBF-2026-000001): the certificate's counts are not those its entry says");
    assert!(!folder.file("bad.sqlite").exists() && !folder.file("bad.sqlite.new").exists());
}

fn issue_one_later(register: &mut Register) {
    let mut tx = register.begin("2026-11-28T08:00:00Z").unwrap();
    issue(&mut tx, "S-7", "g", &[("L-7", 1, 1)]).unwrap();
    tx.commit(&sign).unwrap();
    assert!(register.begin(NOW).is_err());
}
