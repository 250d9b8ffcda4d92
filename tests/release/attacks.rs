//! What somebody at the shop's own keyboard may try, and what comes of it.

use super::*;

const NOT_PREPARED: &str = "is not what was prepared: it was edited, or made up";

#[test]
fn nothing_is_issued_in_one_step_past_the_policy() {
    let folder = shop("release-direct", TWO);
    let mut desk = demo::desk(&folder);
    let came = issue::issue(&mut desk, &lot(), "M. Sorrel", None, &world(demo::ISSUED), &|| {});
    let error = came.err().unwrap();
    assert_eq!(
        error.to_string(),
        "shop.yaml asks for two people, each with a passphrase of their own, to release a shipment"
    );
    assert!(demo::register(&folder).of_kind(Kind::Issue).unwrap().is_empty());
}

#[test]
fn nobody_releases_who_may_not() {
    let folder = shop("release-who", TWO);
    let slip = [Target::Slip("PS-26-0315".to_owned())];
    assert_eq!(prepare(&folder, &slip, &known("M. Sorrel"), demo::ISSUED), ["queue/slip_PS-26-0315.json"]);
    // An operator, with the own passphrase.
    let came = release_all(&folder, &known("T. Quince"), demo::ISSUED);
    assert_eq!(came, ["T. Quince may not release shipments on 2026-11-24"]);
    // One who may for other purchasers only.
    let came = release_all(&folder, &known("R. Medlar"), demo::ISSUED);
    assert_eq!(came, ["R. Medlar may not release shipments for Halyard Aerostructures"]);
    // One who prepared it; naming somebody else as the preparer takes that person's passphrase.
    let came = release_all(&folder, &known("M. Sorrel"), demo::ISSUED);
    assert_eq!(came, ["M. Sorrel prepared it, and may not release it too"]);
    let came = prepare(&folder, &slip, &Authenticated::named("T. Quince"), demo::ISSUED);
    assert!(came[0].contains("T. Quince gave none"), "{came:?}");
    let came = prepare(&folder, &slip, &Authenticated::named("N. Obody"), demo::ISSUED);
    assert_eq!(came, ["people.yaml knows no N. Obody"]);
    assert!(demo::register(&folder).of_kind(Kind::Issue).unwrap().is_empty());
    assert!(folder.join("queue/slip_PS-26-0315.json").exists());
}

/// Prepared under an easier policy, released under a stricter one.
#[test]
fn the_policy_of_the_day_of_release_counts() {
    let folder = shop("release-stricter", "");
    prepare(&folder, &lot(), &Authenticated::named("T. Quince"), demo::ISSUED);
    demo::change(&folder, "shop.yaml", "most_rounds: 3\n", &format!("most_rounds: 3\n{TWO}"));
    let came = release_all(&folder, &known("M. Sorrel"), demo::ISSUED);
    assert_eq!(came, ["T. Quince prepared it and gave no passphrase"]);
}

#[test]
fn an_edited_queue_file_grants_nothing() {
    let folder = shop("release-edited", TWO);
    prepare(&folder, &lot(), &known("M. Sorrel"), demo::ISSUED);
    let file = folder.join(QUEUED);
    let whole = fs::read_to_string(&file).unwrap();
    let entry = demo::register(&folder).of_kind(Kind::Preparation).unwrap()[0].position;
    let edits = [
        ("\"M. Sorrel\"".to_owned(), "\"T. Quince\"".to_owned()),
        ("\"pieces\": 200".to_owned(), "\"pieces\": 20".to_owned()),
        ("\"input\": \"".to_owned(), "\"input\": \"0".to_owned()),
        ("16:20:31".to_owned(), "16:20:30".to_owned()),
        ("\"lot L-26-0411\"".to_owned(), "\"lot L-26-0401\"".to_owned()),
        // Entries of other kinds, and one that is not there.
        (format!("\"entry\": {entry}"), "\"entry\": 0".to_owned()),
        (format!("\"entry\": {entry}"), format!("\"entry\": {}", entry - 1)),
        (format!("\"entry\": {entry}"), "\"entry\": 999999".to_owned()),
        ("\n}".to_owned(), "\n }".to_owned()),
    ];
    let sorrel = known("M. Sorrel");
    for (from, to) in edits {
        assert!(whole.contains(&from), "{from}");
        fs::write(&file, whole.replace(&from, &to)).unwrap();
        let came = release_all(&folder, &sorrel, demo::ISSUED);
        assert_eq!(came, [format!("{QUEUED} {NOT_PREPARED}")], "{from} -> {to}");
    }
    for (text, said) in [
        (whole.replace("\"format\"", "\"more\": 1, \"format\""), "unknown field `more`"),
        (whole.replace("queue, 1", "queue, 9"), "this release reads"),
        (whole.replace(&format!("\"entry\": {entry}"), "\"entry\": -1"), "invalid value"),
        (
            whole.replace(&format!("\"entry\": {entry}"), "\"entry\": 18446744073709551615"),
            "18446744073709551615",
        ),
        ("{".to_owned(), "EOF"),
        (String::new(), "EOF"),
    ] {
        fs::write(&file, text).unwrap();
        let came = release_all(&folder, &sorrel, demo::ISSUED);
        assert!(came[0].contains(said), "{came:?}, not {said}");
    }
    // The true text under another shipment's name.
    fs::remove_file(&file).unwrap();
    fs::write(folder.join("queue/lot_L-26-0401.json"), &whole).unwrap();
    assert!(release_all(&folder, &sorrel, demo::ISSUED)[0].contains(NOT_PREPARED));
    assert!(demo::register(&folder).of_kind(Kind::Issue).unwrap().is_empty());
}

#[test]
fn what_changed_since_is_not_released() {
    let folder = shop("release-changed", TWO);
    prepare(&folder, &lot(), &known("T. Quince"), demo::ISSUED);
    let sorrel = known("M. Sorrel");
    let record = format!("lots/{LOT}.yaml");
    // The purchaser's address is printed, so it is among the facts.
    demo::change(&folder, "purchasers.yaml", "Quillmark Instruments", "Quillmark Instruments Ltd");
    let came = release_all(&folder, &sorrel, &minute(0));
    assert!(came[0].contains("is not what T. Quince prepared at"), "{came:?}");
    demo::change(&folder, "purchasers.yaml", "Quillmark Instruments Ltd", "Quillmark Instruments");
    demo::correct(&folder, &record, "light: 1200 lx", "light: 1210 lx");
    let came = release_all(&folder, &sorrel, &minute(1));
    assert!(came[0].contains("is not what T. Quince prepared at"), "{came:?}");
    assert!(came[0].contains("its facts were"), "{came:?}");
    // What no longer conforms comes back with its gaps.
    demo::correct(&folder, &record, "accepted: 200", "accepted: 150");
    assert_eq!(release_all(&folder, &sorrel, &minute(2)), ["held"]);
    assert!(demo::register(&folder).of_kind(Kind::Issue).unwrap().is_empty());
    // Made good and prepared again, the new file counts and the old one is replaced.
    demo::correct(&folder, &record, "accepted: 150", "accepted: 200");
    assert_eq!(prepare(&folder, &lot(), &known("T. Quince"), &minute(3)), [QUEUED]);
    assert_eq!(release_all(&folder, &sorrel, &minute(4)), ["issued LBF-2026-000001"]);
}

#[test]
fn an_old_queue_file_put_back_after_a_withdrawal_grants_nothing() {
    let folder = shop("release-replay", TWO);
    prepare(&folder, &lot(), &known("T. Quince"), demo::ISSUED);
    let file = folder.join(QUEUED);
    let old = fs::read_to_string(&file).unwrap();
    let sorrel = known("M. Sorrel");
    // While it stands, the same release answers with the same certificate.
    assert_eq!(release_all(&folder, &sorrel, demo::ISSUED), ["issued LBF-2026-000001"]);
    fs::write(&file, &old).unwrap();
    assert_eq!(release_all(&folder, &sorrel, demo::ISSUED), ["again LBF-2026-000001"]);
    fs::write(&file, &old).unwrap();
    // Looked at while it stood, withdrawn before it is released.
    let mut desk = demo::desk(&folder);
    let looks = review(&desk);
    withdraw(&folder, "LBF-2026-000001", demo::AFTER);
    let came = release::release(&mut desk, looks, &sorrel, None, &world(&minute(0))).unwrap();
    let used = "lot L-26-0411 was certified by LBF-2026-000001 since it was prepared, which no longer stands";
    assert_eq!(came.into_iter().map(word).collect::<Vec<_>>(), [used]);
    // Looked at after that.
    assert_eq!(release_all(&folder, &sorrel, &minute(1)), [used]);
    let register = demo::register(&folder);
    let all = brightproof::app::release::queue::all(&Folder::new(&folder), &register).unwrap();
    assert_eq!(all[0].as_ref().unwrap_err().to_string(), used);
    // Prepared anew it is released anew.
    prepare(&folder, &lot(), &known("T. Quince"), &minute(2));
    assert_eq!(release_all(&folder, &sorrel, &minute(3)), ["issued LBF-2026-000002"]);
    verifies(&folder, "LBF-2026-000002");
}

#[test]
fn wrong_passphrases_are_counted_and_slowed() {
    let folder = shop("release-wrong", TWO);
    let at = |second: u32| format!("2026-11-24T18:00:{second:02}-05:00");
    let first = known_at(&folder, "M. Sorrel", "lantern gravel osprey tim", &at(0)).unwrap_err();
    assert_eq!(first, "that is not M. Sorrel's passphrase; 1 wrong try so far, entered in the register");
    // Too early, even with the right one: else the wait would tell nothing.
    let early = known_at(&folder, "M. Sorrel", secret("M. Sorrel"), &at(1)).unwrap_err();
    assert_eq!(
        early,
        "1 wrong try of M. Sorrel's passphrase; the next is taken from 2026-11-24T18:00:02-05:00 on"
    );
    // Somebody else's.
    let second = known_at(&folder, "M. Sorrel", secret("R. Medlar"), &at(2)).unwrap_err();
    assert!(second.contains("2 wrong tries so far"), "{second}");
    assert!(
        known_at(&folder, "M. Sorrel", "", &at(5)).unwrap_err().contains("taken from 2026-11-24T18:00:06")
    );
    // Others are not kept waiting, and the count is in the register.
    assert_eq!(known_at(&folder, "R. Medlar", secret("R. Medlar"), &at(5)).unwrap().wrong_before(), 0);
    let register = demo::register(&folder);
    let (_, wrong) = auth::standing(&register, "M. Sorrel").unwrap();
    assert_eq!(wrong, 2);
    assert_eq!(known_at(&folder, "M. Sorrel", secret("M. Sorrel"), &at(6)).unwrap().wrong_before(), 2);
    assert_eq!(auth::standing(&register, "M. Sorrel").unwrap().1, 0);
    let acts: Vec<String> = register
        .of_kind(Kind::Passphrase)
        .unwrap()
        .iter()
        .filter(|e| e.detail["person"] == "M. Sorrel")
        .map(|e| e.detail["act"].as_str().unwrap().to_owned())
        .collect();
    assert_eq!(acts, ["set", "wrong", "wrong", "right again"]);
    assert!(known_at(&folder, "J. Teasel", "", &at(7)).unwrap_err().contains("no passphrase was set"));
    assert_eq!(register.audit().unwrap().problems, []);
}

#[test]
fn a_verifier_that_was_not_registered_opens_nothing() {
    let folder = shop("release-verifier", TWO);
    let (sorrel, medlar) = (folder.join(auth::file("M. Sorrel")), folder.join(auth::file("R. Medlar")));
    let whole = fs::read(&sorrel).unwrap();
    // Another person's verifier, whose passphrase is known.
    fs::copy(&medlar, &sorrel).unwrap();
    let refused = |given: &str| known_at(&folder, "M. Sorrel", given, demo::ISSUED).unwrap_err();
    assert!(refused(secret("R. Medlar")).contains("is not the verifier that was registered for M. Sorrel"));
    // None, and none that can be read.
    fs::write(&sorrel, "").unwrap();
    assert!(refused("").contains("is not the verifier"));
    fs::write(&sorrel, [0xff, 0xfe]).unwrap();
    assert!(refused("").contains("not UTF-8"));
    fs::remove_file(&sorrel).unwrap();
    assert!(refused(secret("M. Sorrel")).contains("is gone"));
    fs::write(&sorrel, whole).unwrap();
    known_at(&folder, "M. Sorrel", secret("M. Sorrel"), demo::ISSUED).unwrap();
}

#[test]
fn a_passphrase_is_not_replaced_behind_its_owners_back() {
    let folder = shop("release-replace", TWO);
    let mut desk = demo::desk(&folder);
    let new = "a quite different one";
    let mut set = |person: &str, new: &str, old: Old, at: &str| {
        auth::set(&mut desk, person, new.as_bytes(), old, &world(at)).map_err(|e| e.to_string())
    };
    let said = set("M. Sorrel", new, Old::None, &minute(0)).unwrap_err();
    assert_eq!(said, "M. Sorrel has a passphrase already");
    let said = set("M. Sorrel", new, Old::Given(b"lantern gravel osprey"), &minute(1)).unwrap_err();
    assert!(said.contains("1 wrong try so far"), "{said}");
    assert!(set("M. Sorrel", new, Old::Lost("  "), &minute(2)).unwrap_err().contains("no reason"));
    assert!(
        set("N. Obody", new, Old::None, &minute(2)).unwrap_err().contains("people.yaml knows no N. Obody")
    );
    assert!(set("J. Teasel", "short", Old::None, &minute(2)).unwrap_err().contains("5 characters"));
    set("M. Sorrel", new, Old::Lost("left for a month"), &minute(3)).unwrap();
    let entries = demo::register(&folder).of_kind(Kind::Passphrase).unwrap();
    assert_eq!(entries.last().unwrap().detail["old"], "lost: left for a month");
    known_at(&folder, "M. Sorrel", new, &minute(4)).unwrap();
    assert!(known_at(&folder, "M. Sorrel", secret("M. Sorrel"), &minute(5)).is_err());
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = fs::metadata(folder.join(auth::file("M. Sorrel"))).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o600);
    }
}
