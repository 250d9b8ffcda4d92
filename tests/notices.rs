//! What the holders of a certificate that no longer stands are told: the printed notice, the same again later; and
//! what a backup and an audit make of heads that witnesses cosigned. The shop is invented.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test stops at the first surprise"
)]

use std::fs;
use std::path::Path;

use crate::demo;
use crate::demo::Demo;
use crate::journeys::at;

/// The page's words by a reader that shares no code with ours (poppler); `None` where it is missing.
fn words(file: &Path) -> Option<String> {
    if !demo::has("pdftotext", "-v") {
        demo::absent("pdftotext");
        return None;
    }
    let out = std::process::Command::new("pdftotext").arg("-layout").arg(file).arg("-").output().unwrap();
    Some(String::from_utf8(out.stdout).unwrap().split_whitespace().collect::<Vec<_>>().join(" "))
}

#[test]
fn the_notice_names_who_what_why_and_is_the_same_again() {
    let demo = Demo::get();
    let folder = demo.copy("amended-notice");
    let (number, _) = demo.certificate(demo::SMALL_LOT);
    at(&folder, &["notice", number]).code(2).warns("neither amended nor withdrawn");
    at(&folder, &["notice", "LBF-2026-000099"]).code(2).warns("has no certificate");
    let gone = ["withdraw", number, "--by", "M. Sorrel", "--why", "bath too hot", "--parts", "return them"];
    at(&folder, &gone).code(0).says("notice to its holders: ");
    let file = folder.join(format!("notices/{number}.pdf"));
    let first = fs::read(&file).unwrap();
    fs::remove_file(&file).unwrap();
    // What is entered later, and to whom it is sent later, changes nothing of it.
    let again =
        ["reissue", number, "--by", "D. Yarrow", "--to", "R. Fathom, receiving inspection", "--why", "lost"];
    at(&folder, &[&again[..], &["--out", "copies"]].concat()).code(0).says("send its notice with it");
    let json = [&["--format", "json"], &again[..], &["--out", "more"]].concat();
    let said = at(&folder, &json).code(0).json();
    assert_eq!(said[0]["notice"], format!("more/{number}.notice.pdf"));
    at(&folder, &["notice", number]).code(0);
    assert_eq!(fs::read(&file).unwrap(), first);
    assert_eq!(fs::read(folder.join(format!("copies/{number}.notice.pdf"))).unwrap(), first);
    let Some(page) = words(&file) else { return };
    for told in ["bath too hot", "return them", "M. Sorrel", "R. Fathom, receiving inspection", number] {
        assert!(page.contains(told), "{told}: {page}");
    }
    let register = demo::register(&folder);
    let history = register.history(number).unwrap();
    let entry = history.iter().find(|e| e.kind == brightproof::register::Kind::Withdrawal).unwrap();
    assert!(page.contains(&format!("index {}, entered {}", entry.position, entry.at)), "{page}");
}

/// A backup holds what witnesses signed, and the audit tells when it is not of this register.
#[test]
fn cosigned_heads_are_backed_up_and_audited() {
    let folder = Demo::get().copy("amended-cosigned");
    let head = demo::register(&folder).head().unwrap();
    let place = folder.join(format!("cosigned/{}.checkpoint", head.size));
    fs::create_dir_all(folder.join("cosigned")).unwrap();
    fs::write(&place, head.checkpoint.as_ref().unwrap()).unwrap();
    at(&folder, &["register", "audit"]).code(0);
    at(&folder, &["register", "backup", "copy.sqlite"]).code(0).says("1 cosigned heads");
    let copy = folder.join(format!("copy.sqlite.cosigned/{}.checkpoint", head.size));
    assert_eq!(fs::read(copy).unwrap(), fs::read(&place).unwrap());
    fs::rename(&place, folder.join(format!("cosigned/{}.checkpoint", head.size + 1))).unwrap();
    at(&folder, &["register", "audit"]).code(1).says("it is of ");
    fs::remove_dir_all(folder.join("cosigned")).unwrap();
    fs::create_dir_all(folder.join("cosigned")).unwrap();
    fs::write(&place, "no head").unwrap();
    at(&folder, &["register", "audit"]).code(1).says("not signed by a key of this register");
}
