//! What the register takes and what it refuses.

use brightproof::checkpoint;
use brightproof::checkpoint::EntryProof;
use brightproof::merkle;
use brightproof::register::KeptHead;
use brightproof::register::Kind;
use brightproof::register::Register;
use brightproof::register::RegisterError;
use brightproof::register::Status;
use serde_json::json;

use super::shop::Folder;
use super::shop::NOW;
use super::shop::ORIGIN;
use super::shop::amend;
use super::shop::certificate;
use super::shop::check;
use super::shop::entry;
use super::shop::issue;
use super::shop::issue_one;
use super::shop::key;
use super::shop::sign;
use super::shop::withdrawal;

#[test]
fn a_certificate_comes_back_byte_for_byte_and_its_entry_is_proved_offline() {
    let folder = Folder::new();
    let mut register = folder.started();
    let mut tx = register.begin(NOW).unwrap();
    tx.append(entry(Kind::Adoption, None, json!({"pack": "a"})), None).unwrap();
    tx.append(entry(Kind::Key, None, json!({"act": "added", "seal": "b", "under": "a"})), None).unwrap();
    let number = issue(&mut tx, "S-1", "i", &[("L-26-0417", 240, 240)]).unwrap();
    let head = tx.commit(&sign).unwrap();
    assert_eq!((number.as_str(), head.size), ("LBF-2026-000001", 4));
    assert_eq!(register.head().unwrap(), head);

    let register = folder.open();
    let stored = register.certificate(&number).unwrap().unwrap();
    let given = certificate(&number, "S-1", "i", &[("L-26-0417", 240, 240)]);
    assert_eq!((stored.data, stored.pdf, stored.stamp), (given.data, given.pdf, given.stamp.clone()));
    assert_eq!((stored.position, stored.status, stored.at.as_str()), (3, Status::Current, NOW));
    assert_eq!(register.by_stamp(&given.stamp).unwrap(), Some(number.clone()));
    assert_eq!(register.by_input("i").unwrap(), Some(number));
    assert_eq!(register.certificate("LBF-2026-000002").unwrap(), None);
    assert_eq!(register.of_kind(Kind::Adoption).unwrap()[0].detail, json!({"pack": "a"}));

    let entry = register.entry(3).unwrap().unwrap();
    let hashes = register.inclusion(3, head.size).unwrap();
    let proof = EntryProof { extra: None, index: 3, hashes, checkpoint: head.checkpoint.clone().unwrap() };
    proof.verify(&entry.leaf, &[key().verify_key()]).unwrap();
    let mut salted = entry.salt.to_vec();
    salted.extend(&entry.rest);
    let leaf: serde_json::Value = serde_json::from_slice(&entry.leaf).unwrap();
    assert_eq!(leaf["rest"], hex::encode(merkle::sha256(&salted)));
    // the public leaf gives away neither lot nor who
    let leaf = String::from_utf8(entry.leaf).unwrap();
    assert!(!leaf.contains("L-26-0417") && !leaf.contains("Sorrel"), "{leaf}");
    assert!(register.audit_with(&check).unwrap().is_sound());
}

#[test]
fn every_head_extends_the_ones_before() {
    let folder = Folder::new();
    let mut register = folder.started();
    let mut heads = vec![register.head().unwrap()];
    for nth in 0..9 {
        issue_one(&mut register, &format!("S-{nth}"), &[("L-1", 1, 100)]);
        heads.push(register.head().unwrap());
    }
    let now = heads.last().unwrap();
    for old in &heads {
        let proof = register.consistency(old.size, now.size).unwrap();
        merkle::verify_consistency(old.size, &old.root, now.size, &now.root, &proof).unwrap();
        let opened = checkpoint::open(old.checkpoint.as_ref().unwrap(), &[key().verify_key()]).unwrap();
        assert_eq!((opened.size, opened.root), (old.size, old.root));
    }
    for (old, new) in [(0, 5), (5, 4), (3, 11), (11, 11)] {
        assert!(matches!(register.consistency(old, new), Err(RegisterError::NoSuchProof { size: 10 })));
    }
    assert!(matches!(register.inclusion(10, 10), Err(RegisterError::NoSuchProof { .. })));
    assert!(matches!(register.inclusion(0, u64::MAX), Err(RegisterError::NoSuchProof { .. })));
}

#[test]
fn more_pieces_than_were_accepted_are_refused_and_the_holders_named() {
    let folder = Folder::new();
    let mut register = folder.started();
    let first = issue_one(&mut register, "S-1", &[("L-1", 150, 240)]);
    let mut tx = register.begin(NOW).unwrap();
    let second = issue(&mut tx, "S-2", "b", &[("L-1", 80, 240)]).unwrap();
    let refused = issue(&mut tx, "S-3", "c", &[("L-2", 1, 1), ("L-1", 11, 240)]).unwrap_err();
    insta::assert_snapshot!(refused, @"lot L-1: 240 accepted, 230 certified already (LBF-2026-000001: 150, LBF-2026-000002: 80), so 11 more cannot be certified");
    // the refused one left nothing: neither its other lot nor its number
    assert_eq!((tx.certified("L-2").unwrap(), tx.certified("L-1").unwrap()), (0, 230));
    let third = issue(&mut tx, "S-3", "c", &[("L-1", 10, 240)]).unwrap();
    assert_eq!(third, "LBF-2026-000003");
    // an amendment's pieces take the place of those it replaces
    assert!(amend(&mut tx, &second, "S-2", "b2", &[("L-1", 81, 240)]).is_err());
    amend(&mut tx, &second, "S-2", "b2", &[("L-1", 70, 240)]).unwrap();
    assert_eq!(tx.certified("L-1").unwrap(), 230);
    tx.append(withdrawal(&first), None).unwrap();
    assert_eq!(tx.certified("L-1").unwrap(), 80);
    issue(&mut tx, "S-4", "d", &[("L-1", 160, 240)]).unwrap();
    // a count that fell below what is certified holds even an empty addition
    assert!(issue(&mut tx, "S-5", "e", &[("L-1", 0, 239)]).is_err());
    tx.commit(&sign).unwrap();
    assert_eq!(register.certified("L-1").unwrap(), 240);
    assert!(register.audit().unwrap().is_sound());
}

#[test]
fn only_what_is_current_can_be_amended_or_withdrawn_but_anything_reissued() {
    let folder = Folder::new();
    let mut register = folder.started();
    let old = issue_one(&mut register, "S-1", &[("L-1", 1, 9)]);
    let mut tx = register.begin(NOW).unwrap();
    let new = amend(&mut tx, &old, "S-1", "b", &[("L-1", 2, 9)]).unwrap();
    assert_eq!(tx.status(&old).unwrap(), Status::Amended { by: new.clone() });
    let refused = amend(&mut tx, &old, "S-1", "c", &[("L-1", 2, 9)]).unwrap_err();
    insta::assert_snapshot!(refused, @"certificate LBF-2026-000001 is amended by LBF-2026-000002, so it cannot be amended");
    assert_eq!(refused.hint().unwrap(), "the one in force is LBF-2026-000002");
    assert!(matches!(tx.append(withdrawal(&old), None), Err(RegisterError::NotCurrent { .. })));
    tx.append(entry(Kind::Reissue, Some(&old), json!({"to": "Quillmark Instruments"})), None).unwrap();
    tx.append(withdrawal(&new), None).unwrap();
    insta::assert_snapshot!(tx.append(withdrawal(&new), None).unwrap_err(), @"certificate LBF-2026-000002 is withdrawn at 2026-11-25T14:05:00Z (wrong alloy), so it cannot be withdrawn");
    assert!(amend(&mut tx, &new, "S-1", "c", &[("L-1", 2, 9)]).is_err());
    tx.append(entry(Kind::Reissue, Some(&new), json!({})), None).unwrap();
    for unknown in [Kind::Reissue, Kind::Withdrawal] {
        let refused = tx.append(entry(unknown, Some("LBF-2026-000009"), json!({"reason": "x"})), None);
        assert!(matches!(refused, Err(RegisterError::UnknownCertificate { .. })), "{refused:?}");
    }
    tx.commit(&sign).unwrap();
    let kinds: Vec<Kind> = register.history(&old).unwrap().iter().map(|e| e.kind).collect();
    assert_eq!(kinds, [Kind::Issue, Kind::Amendment, Kind::Reissue]);
    let reissue = register.history(&old).unwrap().pop().unwrap();
    assert_eq!(reissue.stamp, register.certificate(&old).unwrap().map(|c| c.stamp));
    let reason = "wrong alloy".to_owned();
    assert_eq!(register.status(&new).unwrap(), Status::Withdrawn { reason, at: NOW.to_owned() });
    assert!(register.audit().unwrap().is_sound());
}

#[test]
fn one_shipment_has_one_certificate_in_force() {
    let folder = Folder::new();
    let mut register = folder.started();
    let number = issue_one(&mut register, "S-1", &[("L-1", 1, 9)]);
    let mut tx = register.begin(NOW).unwrap();
    let refused = issue(&mut tx, "S-1", "other", &[("L-1", 1, 9)]).unwrap_err();
    insta::assert_snapshot!(refused, @"shipment S-1 is certified already by LBF-2026-000001, from other facts");
    assert_eq!(refused.hint().unwrap(), "to change it, amend LBF-2026-000001");
    let again = issue(&mut tx, "S-1", "input of S-1", &[("L-1", 1, 9)]);
    assert!(matches!(again, Err(RegisterError::SameAgain { .. })));
    let other = issue(&mut tx, "S-2", "s2", &[("L-1", 1, 9)]).unwrap();
    // an amendment may not take another shipment over
    let over = amend(&mut tx, &other, "S-1", "x", &[("L-1", 1, 9)]);
    assert!(matches!(over, Err(RegisterError::ShipmentCertified { .. })));
    // amended away and back: by_input knows only what is in force
    let amended = amend(&mut tx, &number, "S-1", "new", &[("L-1", 1, 9)]).unwrap();
    assert_eq!(tx.by_input("input of S-1").unwrap(), None);
    assert_eq!(tx.by_input("new").unwrap(), Some(amended.clone()));
    assert!(issue(&mut tx, "S-1", "input of S-1", &[("L-1", 1, 9)]).is_err());
    tx.append(withdrawal(&amended), None).unwrap();
    issue(&mut tx, "S-1", "input of S-1", &[("L-1", 1, 9)]).unwrap();
    tx.commit(&sign).unwrap();
    assert!(register.audit().unwrap().is_sound());
}

#[test]
fn entries_have_the_parts_of_their_kind() {
    let folder = Folder::new();
    let mut register = folder.started();
    let mut tx = register.begin(NOW).unwrap();
    let some = || Some(certificate("LBF-2026-000001", "S-1", "a", &[("L-1", 1, 1)]));
    let mut refuse = |entry, certificate| tx.append(entry, certificate).unwrap_err().to_string();
    let number = Some("LBF-2026-000001");
    insta::assert_snapshot!(refuse(entry(Kind::Issue, number, json!({})), None), @"this issue entry cannot be added: it needs a certificate");
    insta::assert_snapshot!(refuse(entry(Kind::Issue, None, json!({})), some()), @"this issue entry cannot be added: its number is not its certificate's, LBF-2026-000001");
    insta::assert_snapshot!(refuse(entry(Kind::Amendment, number, json!({})), some()), @"this amendment entry cannot be added: it needs a number it replaces");
    insta::assert_snapshot!(refuse(entry(Kind::Adoption, number, json!({})), None), @"this adoption entry cannot be added: it cannot have a certificate number");
    insta::assert_snapshot!(refuse(entry(Kind::Genesis, None, json!({})), None), @"this genesis entry cannot be added: only creating a register adds one");
    insta::assert_snapshot!(refuse(entry(Kind::Withdrawal, number, json!({"reason": " "})), None), @"this withdrawal entry cannot be added: it states no reason");
    for (detail, what) in [
        (json!({}), "it says no `act`"),
        (json!({"act": "lost", "seal": "a"}), "it says no `act`"),
        (json!({"act": "added", "seal": "a"}), "it does not say `under`"),
        (
            json!({"act": "renewed", "seal": "a", "by": "M. Sorrel", "why": "new"}),
            "it does not say `retires`",
        ),
        (json!({"act": "renewed", "retires": "a", "by": "M. Sorrel", "why": "new"}), "it is about one key"),
        (
            json!({"act": "compromised", "seal": "a", "by": "M. Sorrel", "why": " ", "since": NOW}),
            "say `why`",
        ),
        (
            json!({"act": "compromised", "seal": "a", "by": "M", "why": "w", "since": "May"}),
            "`since` is no time",
        ),
        (
            json!({"act": "compromised", "seal": "a", "checkpoint_key": "b", "by": "M", "why": "w", "since": NOW}),
            "it is about one key",
        ),
        (
            json!({"act": "compromised", "seal": "a", "root": "b", "by": "M", "why": "w", "since": NOW}),
            "it is about one key",
        ),
        (json!({"act": "renewed", "root": "b", "retires": "a", "by": "M", "why": "w"}), "a new root needs"),
        (
            json!({"act": "renewed", "root": "b", "seal": "a", "retires": "a", "by": "M", "why": "w"}),
            "it is about one key",
        ),
        (
            json!({
                "act": "renewed", "root": "b", "checkpoint_key": "a", "retires": "a", "retires_root": "c",
                "handover": "d", "by": "M", "why": "w",
            }),
            "it is about one key",
        ),
    ] {
        let refused = refuse(entry(Kind::Key, None, detail), None);
        assert!(refused.contains(what), "{refused}");
    }
    let mut stamp = some().unwrap();
    stamp.stamp = "00".to_owned();
    assert!(refuse(entry(Kind::Issue, number, json!({})), Some(stamp)).contains("its stamp is 00"));
    for (number, expected) in
        [("LBF-2026-000002", "the next is LBF-2026-000001"), ("LBF-9", "is not a number")]
    {
        let new = certificate(number, "S-1", "a", &[("L-1", 1, 1)]);
        assert!(refuse(entry(Kind::Issue, Some(number), json!({})), Some(new)).contains(expected));
    }
    // each series counts for itself, and after all those refusals the first number is still free
    tx.append(entry(Kind::Issue, number, json!({})), some()).unwrap();
    assert_eq!(tx.next_number("LBF", 2026).unwrap(), "LBF-2026-000002");
    assert_eq!(tx.next_number("LBF", 2027).unwrap(), "LBF-2027-000001");
}

/// Judging takes time, and so does waiting for the lock: another program wrote meanwhile, at a later second.
#[test]
fn who_waited_for_another_writer_enters_at_the_others_time() {
    let folder = Folder::new();
    let mut register = folder.started();
    let (before, last, after) = ("2026-11-25T14:04:57Z", "2026-11-25T14:05:00Z", "2026-11-25T14:05:01Z");
    for by_now in [before, "2026-11-25T14:04:59Z", "soon"] {
        let refused = register.begin_since(before, &|| by_now.to_owned()).err().unwrap();
        assert!(
            refused.to_string().contains("but the last entry was made at 2026-11-25T14:05:00Z"),
            "{refused}"
        );
    }
    for by_now in [last, after] {
        let mut tx = register.begin_since(before, &|| by_now.to_owned()).unwrap();
        let position = tx.append(entry(Kind::Adoption, None, json!({})), None).unwrap();
        tx.commit(&sign).unwrap();
        assert_eq!(register.entry(position).unwrap().unwrap().at, last);
    }
    assert!(register.audit().unwrap().is_sound());
}

#[test]
fn the_clock_cannot_run_backwards() {
    let folder = Folder::new();
    let mut register = folder.started();
    let refused = register.begin("2026-11-25T14:04:59Z").err().unwrap();
    insta::assert_snapshot!(refused, @"the clock says 2026-11-25T14:04:59Z, but the last entry was made at 2026-11-25T14:05:00Z");
    assert!(refused.hint().is_some());
    let refused = register.begin("2026-11-25T14:05:00+00:00").err().unwrap();
    insta::assert_snapshot!(refused, @r#""2026-11-25T14:05:00+00:00" is not a time like 2026-11-25T14:05:00Z (UTC, whole seconds)"#);
    let mut tx = register.begin("2026-11-25T14:05:01Z").unwrap();
    issue(&mut tx, "S-1", "a", &[("L-1", 1, 1)]).unwrap();
    tx.commit(&sign).unwrap();
    assert!(register.begin(NOW).is_err());
}

#[test]
fn a_batch_dropped_or_not_signed_leaves_nothing() {
    let folder = Folder::new();
    let mut register = folder.started();
    let before = register.head().unwrap();
    let mut tx = register.begin(NOW).unwrap();
    issue(&mut tx, "S-1", "a", &[("L-1", 1, 1)]).unwrap();
    assert_eq!(tx.head().unwrap().size, 2);
    drop(tx);
    for bad in [Err("the card is not in the reader".to_owned()), sign(ORIGIN, 7, &[0; 32])] {
        let mut tx = register.begin(NOW).unwrap();
        issue(&mut tx, "S-1", "a", &[("L-1", 1, 1)]).unwrap();
        let refused = tx.commit(&move |_, _, _| bad.clone());
        assert!(matches!(refused, Err(RegisterError::Sign(_))), "{refused:?}");
    }
    assert_eq!(register.head().unwrap(), before);
    assert_eq!(register.begin(NOW).unwrap().next_number("LBF", 2026).unwrap(), "LBF-2026-000001");
    // an empty batch on a signed head does not sign it twice
    let asked_again = |_: &str, _: u64, _: &merkle::Hash| Err("asked to sign again".to_owned());
    assert_eq!(register.begin(NOW).unwrap().commit(&asked_again).unwrap(), before);
}

#[test]
fn an_older_copy_put_back_can_be_read_but_not_written() {
    let folder = Folder::new();
    let mut register = folder.started();
    assert_eq!(register.kept_head().unwrap(), KeptHead::Agrees { size: 1 });
    issue_one(&mut register, "S-1", &[("L-1", 1, 9)]);
    let older = std::fs::read(folder.register()).unwrap();
    issue_one(&mut register, "S-2", &[("L-1", 1, 9)]);
    drop(register);

    let newest = std::fs::read(folder.register()).unwrap();
    std::fs::write(folder.register(), &older).unwrap();
    let mut register = folder.open();
    let refused = register.begin(NOW).err().unwrap();
    insta::assert_snapshot!(refused, @"this register is not the one written last, so nothing is added: it has 2 entries, but 3 were kept as its head");
    assert!(register.certificate("LBF-2026-000001").unwrap().is_some());
    drop(register);

    // rolled back and gone on elsewhere: as long as before, but other entries
    let mut elsewhere = Register::open(&folder.register(), None).unwrap();
    issue_one(&mut elsewhere, "S-3", &[("L-1", 1, 9)]);
    issue_one(&mut elsewhere, "S-4", &[("L-1", 1, 9)]);
    drop(elsewhere);
    let refused = folder.open().begin(NOW).err().unwrap();
    insta::assert_snapshot!(refused, @"this register is not the one written last, so nothing is added: its first 3 entries are not those kept as its head");

    // another shop's register in its place
    std::fs::remove_file(folder.register()).unwrap();
    Register::create(&folder.register(), "other.example/register", json!({}), NOW, [0; 32]).unwrap();
    assert!(matches!(folder.open().begin(NOW), Err(RegisterError::KeptHead(_))));

    std::fs::write(folder.register(), &newest).unwrap();
    issue_one(&mut folder.open(), "S-3", &[("L-1", 1, 9)]);
    // a head that says nothing holds the register too; one that is gone is written anew
    for wrong in ["", "larkspur.example/register\n", "larkspur.example/register\n4\nAAAA\n", "\u{0}"] {
        std::fs::write(folder.head(), wrong).unwrap();
        assert!(matches!(folder.open().begin(NOW), Err(RegisterError::KeptHead(_))), "{wrong:?}");
    }
    std::fs::remove_file(folder.head()).unwrap();
    assert_eq!(folder.open().kept_head().unwrap(), KeptHead::Missing);
    issue_one(&mut folder.open(), "S-4", &[("L-1", 1, 9)]);
    assert_eq!(folder.open().kept_head().unwrap(), KeptHead::Agrees { size: 5 });
    let register = Register::open(&folder.register(), None).unwrap();
    assert_eq!(register.kept_head().unwrap(), KeptHead::NotAsked);
}

#[test]
fn other_files_are_not_taken_for_a_register() {
    let folder = Folder::new();
    let open = |path: &std::path::Path| Register::open(path, None).unwrap_err();
    assert!(matches!(open(&folder.register()), RegisterError::Missing { .. }));
    for (name, bytes) in [("empty", &b""[..]), ("text", b"not a database, but long enough to look at")] {
        let path = folder.file(name);
        std::fs::write(&path, bytes).unwrap();
        assert!(matches!(open(&path), RegisterError::NotARegister { .. }), "{name}");
    }
    let path = folder.file("other.sqlite");
    rusqlite::Connection::open(&path).unwrap().execute_batch("CREATE TABLE t (x)").unwrap();
    assert!(matches!(open(&path), RegisterError::NotARegister { .. }));
    assert!(matches!(
        Register::create(&path, ORIGIN, json!({}), NOW, [0; 32]),
        Err(RegisterError::Exists { .. })
    ));
    drop(folder.started());
    let again = Register::create(&folder.register(), ORIGIN, json!({}), NOW, [0; 32]);
    assert!(matches!(again, Err(RegisterError::Exists { .. })));
    rusqlite::Connection::open(folder.register()).unwrap().pragma_update(None, "user_version", 999).unwrap();
    insta::assert_snapshot!(open(&folder.register()), @"this register was made by another release: layout 999, this release reads 4");
    // an empty file is what a creation cut short leaves, and is no obstacle
    let path = folder.file("empty");
    Register::create(&path, ORIGIN, json!({}), NOW, [0; 32]).unwrap();
    for bad in ["", "two\nlines"] {
        let refused = Register::create(&folder.file("new"), bad, json!({}), NOW, [0; 32]);
        assert!(matches!(refused, Err(RegisterError::BadEntry { .. })));
    }
}

#[test]
fn accidents_are_stopped_by_the_file_itself() {
    let folder = Folder::new();
    issue_one(&mut folder.started(), "S-1", &[("L-1", 1, 9)]);
    let db = rusqlite::Connection::open(folder.register()).unwrap();
    for table in ["entry", "node", "checkpoint", "certificate", "piece", "facet"] {
        for sql in [format!("DELETE FROM {table}"), format!("UPDATE {table} SET rowid = rowid")] {
            let sql = match table {
                "node" => sql.replace("rowid = rowid", "hash = hash"),
                "piece" => sql.replace("rowid = rowid", "pieces = pieces"),
                _ => sql.replace(
                    "rowid",
                    match table {
                        "entry" => "salt",
                        "checkpoint" => "text",
                        "certificate" => "signer",
                        _ => "value",
                    },
                ),
            };
            let refused = db.execute(&sql, []).unwrap_err().to_string();
            assert!(refused.contains("append-only"), "{sql}: {refused}");
        }
    }
}

#[cfg(unix)]
#[test]
fn a_register_that_cannot_be_written_can_be_read() {
    use std::os::unix::fs::PermissionsExt;
    let folder = Folder::new();
    issue_one(&mut folder.started(), "S-1", &[("L-1", 1, 9)]);
    std::fs::set_permissions(folder.register(), std::fs::Permissions::from_mode(0o444)).unwrap();
    let mut register = folder.open();
    assert!(register.audit().unwrap().is_sound());
    // a superuser writes regardless, so nothing is asserted about `begin` but that it answers
    let _ = register.begin(NOW).is_ok();
}
