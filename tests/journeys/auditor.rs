//! The auditor: a file and the shop's fingerprint answer, years later; with the register they answer more.

use std::fs;

use brightproof::checkpoint;
use brightproof::checkpoint::EntryProof;
use brightproof::checkpoint::VerifyKey;

use super::at;
use crate::demo;
use crate::demo::Demo;

#[test]
fn a_folder_verifies_against_the_fingerprint_as_told_by_telephone() {
    let demo = Demo::get();
    let grouped = demo.root.as_bytes().chunks(8).map(|c| std::str::from_utf8(c).unwrap()).collect::<Vec<_>>();
    for trust in
        [demo.root.clone(), grouped.join(" ").to_uppercase(), grouped.join(":"), "keys/root.pem".to_owned()]
    {
        let done = at(&demo.folder, &["verify", "certificates", "--trust", &trust]).code(0);
        assert_eq!(done.out.matches(": verifies\n").count(), demo.files.len(), "{}", done.out);
        assert_eq!(done.out.matches("amendments and withdrawals are not known").count(), demo.files.len());
    }
    let json = at(
        &demo.folder,
        &[
            "--format",
            "json",
            "verify",
            "certificates",
            "--trust",
            &demo.root,
            "--register",
            "register.sqlite",
        ],
    )
    .code(0)
    .json();
    let all = json.as_array().unwrap();
    assert_eq!(all.len(), demo.files.len());
    for found in all {
        assert_eq!((&found["version"], &found["overall"]), (&1.into(), &"verifies".into()));
        let checks: Vec<&str> =
            found["checks"].as_array().unwrap().iter().map(|c| c["check"].as_str().unwrap()).collect();
        let expected = [
            "form",
            "seal",
            "issuer",
            "data",
            "page",
            "judgement",
            "signatures",
            "head",
            "registered",
            "current",
            "history",
        ];
        assert_eq!(checks, expected);
        assert!(found["checks"].as_array().unwrap().iter().all(|c| c["answer"] == "pass"));
    }
}

#[test]
fn without_an_anchor_nothing_is_claimed() {
    let demo = Demo::get();
    let (number, _) = demo.certificate(demo::SMALL_LOT);
    let file = format!("certificates/{number}.pdf");
    let done = at(&demo.folder, &["verify", &file]).code(2).says("could not be told");
    let issuer = done.out.lines().find(|l| l.trim_start().starts_with("issuer")).unwrap();
    assert!(issuer.contains("not checked"), "{issuer}");
    let json = at(&demo.folder, &["--format", "json", "verify", &file]).code(2).json();
    assert_eq!(json[0]["overall"], "could not tell");
    at(&demo.folder, &["verify", &file, "--trust", &"0".repeat(64)]).code(1).says("DOES NOT VERIFY");
    at(&demo.folder, &["verify", &file, "--trust", "abc"]).code(2).warns("neither a fingerprint");
    at(&demo.folder, &["verify", &file, "--trust", "shop.yaml"]).code(2).warns("error: ");
    at(&demo.folder, &["verify", &file, "--trust", &demo.root, "--register", "none.sqlite"])
        .code(2)
        .warns("no register at none.sqlite");
    at(&demo.folder, &["verify", &file, "--trust", &demo.root, "--register", "shop.yaml"])
        .code(2)
        .warns("shop.yaml is not a register");
}

#[test]
fn what_is_no_certificate_is_told_apart_from_what_is_missing() {
    let demo = Demo::get();
    let folder = demo::fresh("journey-verify");
    let (number, bytes) = demo.certificate(demo::SMALL_LOT);
    let (good, bad) = (format!("{number}.pdf"), "changed.pdf");
    fs::write(folder.join(&good), bytes).unwrap();
    let mut changed = bytes.to_vec();
    // Within a stream, wherever the streams of this release lie: the form stays whole.
    let stream = bytes.windows(7).position(|w| w == b"stream\n").unwrap();
    changed[stream + 60] ^= 4;
    fs::write(folder.join(bad), changed).unwrap();
    fs::write(folder.join("letter.PDF"), "Dear purchaser").unwrap();
    fs::write(folder.join("notes.txt"), "not looked at").unwrap();
    let trust = ["--trust", demo.root.as_str()];
    let verify = |files: &[&str]| at(&folder, &[&["verify"], files, &trust].concat());
    verify(&[&good]).code(0);
    verify(&[bad]).code(1).says("the file was changed after it was sealed");
    verify(&["letter.PDF"]).code(1).says("this is not a PDF file of the expected form");
    verify(&["none.pdf"]).code(2).warns("none.pdf does not exist");
    // Of many the worst answer counts, and one that fails outweighs one that is missing.
    verify(&[&good, bad]).code(1);
    verify(&[&good, "none.pdf"]).code(2).says("verifies");
    verify(&["none.pdf", bad]).code(1);
    let all = verify(&["."]).code(1);
    assert_eq!(
        (all.out.matches(": verifies").count(), all.out.matches(": DOES NOT VERIFY").count()),
        (1, 2),
        "{}",
        all.out
    );
    fs::create_dir(folder.join("empty")).unwrap();
    verify(&["empty"]).code(2).warns("no certificate to verify");
    at(&folder, &["verify"]).code(2).warns("no certificate to verify");
}

#[test]
fn from_paper_number_and_stamp_are_looked_up() {
    let demo = Demo::get();
    let (number, bytes) = demo.certificate(demo::SMALL_LOT);
    let stamp = brightproof::canonical::stamp(&brightproof::pdf::read_sealed(bytes).unwrap().attachment);
    let grouped =
        stamp.as_bytes().chunks(8).map(|c| std::str::from_utf8(c).unwrap()).collect::<Vec<_>>().join(" ");
    let paper = |number: &str, stamp: &str| {
        at(&demo.folder, &["verify", "--number", number, "--stamp", stamp, "--register", "register.sqlite"])
    };
    for stamp in [stamp.clone(), grouped, stamp.to_uppercase()] {
        paper(number, &stamp).code(0).says("verifies").says("the paper was not compared");
    }
    paper(number, &stamp.replace(&stamp[..1], "x"))
        .code(1)
        .says(&format!("the register has {number} with the stamp {stamp}"));
    paper("LBF-2026-000099", &stamp).code(1).says("the register has no certificate LBF-2026-000099");
    at(&demo.folder, &["verify", "--number", number, "--stamp", &stamp]).code(2).warns("give --register");
    at(&demo.folder, &["verify", "--number", number]).code(2).warns("--stamp");
    at(&demo.folder, &["verify", "x.pdf", "--number", number, "--stamp", &stamp])
        .code(2)
        .warns("cannot be used with");
}

#[test]
fn the_register_proves_itself() {
    let demo = Demo::get();
    let folder = demo.copy("journey-register");
    let (number, _) = demo.certificate(demo::SMALL_LOT);
    at(&folder, &["register", "audit"])
        .code(0)
        .says("12 certificates")
        .says("sound: everything is as it was entered");
    let json = at(&folder, &["--format", "json", "register", "audit"]).code(0).json();
    assert_eq!((&json["sound"], &json["first_bad"]), (&true.into(), &serde_json::Value::Null));

    let key = VerifyKey::parse(fs::read_to_string(folder.join("keys/register.txt")).unwrap().trim()).unwrap();
    let head = at(&folder, &["register", "head"]).code(0).out;
    let opened = checkpoint::open(&head, std::slice::from_ref(&key)).unwrap();
    assert_eq!((opened.origin.as_str(), opened.size), ("larkspur.example/register", 18));
    let proof = EntryProof::parse(&at(&folder, &["register", "prove", number]).code(0).out).unwrap();
    let entry = demo::register(&folder).entry(proof.index).unwrap().unwrap();
    assert_eq!(entry.number.as_deref(), Some(number));
    assert_eq!(proof.verify(&entry.leaf, std::slice::from_ref(&key)).unwrap(), opened);
    assert!(proof.verify(b"another entry", &[key]).is_err());
    at(&folder, &["register", "prove", "LBF-2026-000099"]).code(2).warns("the register has no certificate");

    at(&folder, &["register", "backup", "copy.sqlite"]).code(0).says("sound");
    at(&folder, &["register", "backup", "copy.sqlite"]).code(2).warns("copy.sqlite exists already");
    let file = format!("certificates/{number}.pdf");
    at(&folder, &["verify", &file, "--trust", &demo.root, "--register", "copy.sqlite"]).code(0);
    at(&folder, &["register", "history", number]).code(0).says("issue").says("M. Sorrel");
}

#[test]
fn a_register_changed_behind_the_program_does_not_audit() {
    let demo = Demo::get();
    let folder = demo.copy("journey-changed-register");
    let path = folder.join("register.sqlite");
    let mut bytes = fs::read(&path).unwrap();
    let mark = br#""shipment":"lot L-26-0411""#;
    let at_ = bytes.windows(mark.len()).position(|w| w == mark).unwrap();
    bytes[at_ + mark.len() - 2] = b'3';
    fs::write(&path, bytes).unwrap();
    at(&folder, &["register", "audit"])
        .code(1)
        .says("BAD entry ")
        .says("its details are not those of its leaf");
    let json = at(&folder, &["--format", "json", "register", "audit"]).code(1).json();
    assert_eq!(json["sound"], false);
    at(&folder, &["register", "backup", "copy.sqlite"]).code(2).warns("the copy was not kept");
    assert!(!folder.join("copy.sqlite").exists());

    // An older copy put back: reading warns, writing refuses.
    let folder = demo::fresh("journey-old-register");
    demo::begin(&folder, "journey-old-register");
    fs::copy(folder.join("register.sqlite"), folder.join("old")).unwrap();
    at(&folder, &["issue", "L-26-0411", "--by", "M. Sorrel"]).code(0);
    fs::copy(folder.join("old"), folder.join("register.sqlite")).unwrap();
    at(&folder, &["register", "head"]).code(0).warns("warning: this is not the register written last");
    at(&folder, &["issue", "L-26-0410", "--by", "M. Sorrel"])
        .code(2)
        .warns("this register is not the one written last, so nothing is added");
    fs::remove_file(folder.join("register-head.txt")).unwrap();
    at(&folder, &["register", "head"]).code(0).warns("warning: the kept head is missing");

    // A head that could not be kept lags behind; it is said, and the next writing brings it up.
    at(&folder, &["issue", "L-26-0411", "--by", "M. Sorrel"]).code(0);
    let kept = fs::read(folder.join("register-head.txt")).unwrap();
    assert_eq!(at(&folder, &["register", "head"]).code(0).err, "");
    at(&folder, &["issue", "L-26-0410", "L-26-0408", "--by", "M. Sorrel"]).code(0);
    fs::write(folder.join("register-head.txt"), kept).unwrap();
    at(&folder, &["register", "audit"]).code(0).warns("warning: the kept head is 2 entries behind");
    at(&folder, &["issue", "L-26-0408", "--by", "M. Sorrel"]).code(0);
    assert_eq!(at(&folder, &["register", "audit"]).code(0).err, "");
}
