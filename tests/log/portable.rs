//! An export, checked by the page that says how: its own blocks, run with openssl, sha256sum and Python alone.

use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;

use brightproof::app::book::Book;
use brightproof::app::issue::Target;
use brightproof::app::portable;
use brightproof::app::portable::Exported;
use brightproof::folder::Folder;

use super::certificate;
use super::grow;
use super::witness::Host;
use crate::demo;
use crate::demo::Demo;

const PAGE: &str = include_str!("../../docs/formats/portable-proof.md");
/// A lot of a controlled part, and the words of its marking.
const CONTROLLED: &str = "L-26-0502";

fn export(shop: &Path, only: &[String], out: &Path) -> Exported {
    let book = Book::open(Folder::new(shop)).unwrap();
    portable::export(&book, &demo::register(shop), only, out).unwrap()
}

/// A block of the page in a language.
fn block(language: &str) -> String {
    let rest = PAGE.split(&format!("```{language}\n")).nth(1).unwrap();
    rest.split("```").next().unwrap().to_owned()
}

/// Runs the page's own check in an export; `None` where a tool is missing.
fn checked(out: &Path) -> Option<Result<String, String>> {
    if !demo::has("python3", "--version") || !demo::has("openssl", "version") {
        return None;
    }
    fs::write(out.join("check.py"), block("python")).unwrap();
    let output = Command::new("sh").args(["-e", "-c", &block("sh")]).current_dir(out).output().unwrap();
    let said = demo::printed(&output);
    Some(if output.status.success() { Ok(said) } else { Err(said) })
}

/// Only what Python says: whoever spoils a file also mends the sums.
fn by_python(out: &Path) -> Result<String, String> {
    let output = Command::new("python3").arg("check.py").current_dir(out).output().unwrap();
    let said = demo::printed(&output);
    if output.status.success() { Ok(said) } else { Err(said) }
}

/// Every file under a folder.
fn files(folder: &Path) -> Vec<PathBuf> {
    let mut all = Vec::new();
    for entry in fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()) {
        if entry.is_dir() { all.extend(files(&entry)) } else { all.push(entry) }
    }
    all
}

#[test]
fn an_export_is_checked_without_a_line_of_ours() {
    let demo = Demo::get();
    let shop = demo.copy("portable-shop");
    grow(&shop, "portable");
    let out = demo::fresh("portable").join("out");
    let done = export(&shop, &[], &out);
    assert_eq!(done.whole, demo.files.keys().cloned().collect::<Vec<_>>());
    let Some(said) = checked(&out) else { return };
    let said = said.unwrap();
    assert_eq!(said.lines().count(), done.whole.len(), "{said}");
    for (number, bytes) in &demo.files {
        assert!(said.contains(&format!("{number} is entry ")), "{said}");
        assert_eq!(&fs::read(out.join(format!("certificates/{number}.pdf"))).unwrap(), bytes);
    }
    // the second block of the page: the leaf of one entry
    let shown = PAGE.split("```sh\n").nth(2).unwrap().split("```").next().unwrap();
    let leaf = Command::new("bash").args(["-c", shown]).current_dir(&out).output().unwrap();
    let entry = fs::read(out.join("entries/000001.json")).unwrap();
    let expected = hex::encode(brightproof::merkle::leaf(&entry));
    assert!(demo::printed(&leaf).starts_with(&expected));
    assert!(block("python").lines().count() < 50, "it should be read at a sitting");

    let (number, _) = certificate();
    let other = demo.numbers.values().find(|n| *n != number).unwrap();
    let spoil = |name: &str, change: &dyn Fn(Vec<u8>) -> Vec<u8>, expected: &str| {
        let path = out.join(name);
        let whole = fs::read(&path).unwrap();
        let changed = change(whole.clone());
        assert_ne!(changed, whole, "{name}");
        fs::write(&path, changed).unwrap();
        assert!(checked(&out).unwrap().unwrap_err().contains("FAILED"), "{name}: the sums see it");
        let said = by_python(&out).unwrap_err();
        assert!(said.contains(expected), "{name}: {said}");
        fs::write(&path, whole).unwrap();
    };
    let flip = |at: usize| {
        move |mut bytes: Vec<u8>| {
            bytes[at] ^= 1;
            bytes
        }
    };
    let pdf = format!("certificates/{number}.pdf");
    spoil(&pdf, &flip(2000), "the file is not the one registered");
    spoil(
        &format!("certificates/{number}.json"),
        &|mut b| {
            b.push(b'\n');
            b
        },
        "the data are not those registered",
    );
    spoil("entries/000003.json", &flip(8), "the entries are not those of the signed head");
    let text = |from: &'static str, to: &'static str| {
        move |bytes: Vec<u8>| String::from_utf8(bytes).unwrap().replacen(from, to, 1).into_bytes()
    };
    spoil("checkpoint", &text("\n", "x\n"), "StopIteration");
    let size = done.size.to_string();
    let more = (done.size + 1).to_string();
    let grown = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap().replacen(&size, &more, 1).into_bytes();
    spoil("checkpoint", &grown, "openssl");
    let theirs = fs::read(out.join(format!("certificates/{other}.tlog-proof"))).unwrap();
    let proof = format!("certificates/{number}.tlog-proof");
    spoil(&proof, &|_| theirs.clone(), "is another certificate");
    spoil(&proof, &text("index ", "index 1"), "is not in the register");
    assert_eq!(by_python(&out).unwrap().lines().count(), done.whole.len(), "all is as it was");
}

#[test]
fn the_signatures_of_witnesses_are_in_it() {
    let shop = Demo::get().copy("portable-witnessed");
    let host = Host::of(&shop, "witness.example/w1", 1);
    let yaml = fs::read_to_string(shop.join("shop.yaml")).unwrap();
    let named = format!("{yaml}\nwitnesses: [{{ url: \"{}\", key: {} }}]\n", host.url, host.key.vkey());
    fs::write(shop.join("shop.yaml"), named).unwrap();
    brightproof::app::witness::ask(&Folder::new(&shop), &[host.named()], &demo::register(&shop)).unwrap();
    let out = demo::fresh("portable-witness").join("out");
    let (number, _) = certificate();
    assert_eq!(export(&shop, &[number.to_owned()], &out).whole, [number]);
    assert_eq!(fs::read_dir(out.join("certificates")).unwrap().count(), 3);
    assert_eq!(fs::read_to_string(out.join("keys/witnesses.txt")).unwrap().trim(), host.key.vkey());
    assert!(fs::read_to_string(out.join("checkpoint")).unwrap().contains("\u{2014} witness.example/w1 "));
    if let Some(said) = checked(&out) {
        assert_eq!(said.unwrap().lines().count(), 1);
    }
}

/// What a controlled part's certificate says, in words that no digest holds.
fn leaks(out: &Path, words: &[&str]) -> Vec<String> {
    let mut found = Vec::new();
    for path in files(out) {
        let bytes = fs::read(&path).unwrap();
        // Text as it stands, and the text of certificates' data inside PDFs.
        let text = match path.extension().is_some_and(|e| e == "pdf") {
            true => serde_json::to_string(&crate::tamper::forger::certificate(&bytes)).unwrap(),
            false => String::from_utf8_lossy(&bytes).into_owned(),
        };
        found.extend(words.iter().filter(|w| text.contains(**w)).map(|w| format!("{}: {w}", path.display())));
    }
    found
}

#[test]
fn nothing_of_a_controlled_lot_is_ever_in_it() {
    let shop = demo::fresh("portable-controlled");
    demo::begin(&shop, "portable-controlled");
    let world = demo::world(demo::ISSUED, "portable-controlled");
    let lots = [CONTROLLED, "L-26-0501", demo::SMALL_LOT].map(|lot| Target::Lot(lot.to_owned()));
    let numbers = demo::issue_all(&mut demo::desk(&shop), &lots, &world);
    let out = |name: &str| shop.join(name);
    let done = export(&shop, &[], &out("one"));
    assert!(!done.whole.contains(&numbers[0]) && done.whole.contains(&numbers[2]), "{done:?}");
    assert_eq!(done.withheld[&numbers[0]], "controlled");
    let certificate = crate::tamper::forger::certificate(&demo::file(&shop, &numbers[0]));
    let lot = &certificate.lots[0];
    let line = &certificate.shipment.lines[0];
    let marking = certificate.controlled.clone().unwrap();
    let words = [CONTROLLED, &marking, &lot.part, &line.order, &certificate.salt];
    assert_eq!(leaks(&out("one"), &words), Vec::<String>::new());
    // asked for by name it is no less controlled; its entry is there, and the rest still checks
    let done = export(&shop, std::slice::from_ref(&numbers[0]), &out("two"));
    assert_eq!((done.whole.len(), done.withheld.len()), (0, 1));
    assert_eq!(leaks(&out("two"), &words), Vec::<String>::new());
    assert!(leaks(&out("two"), &[&numbers[0]]).iter().any(|l| l.contains("entries")));
    if let Some(said) = checked(&out("one")) {
        assert_eq!(said.unwrap().lines().count(), 2);
    }

    // marked after its certificate was issued
    let plain = crate::tamper::forger::certificate(&demo::file(&shop, &numbers[2]));
    let line = &plain.shipment.lines[0];
    let order = format!("orders/{}.yaml", line.order);
    let text = fs::read_to_string(shop.join(&order)).unwrap();
    fs::write(shop.join(&order), format!("{text}\ncontrolled: marked since (invented)\n")).unwrap();
    let done = export(&shop, &[], &out("three"));
    assert_eq!(done.withheld[&numbers[2]], "controlled");
    fs::write(shop.join(&order), text).unwrap();
    assert!(export(&shop, &[], &out("four")).whole.contains(&numbers[2]));
    // a part or order that cannot be read might have said so
    fs::write(shop.join("orders/broken.yaml"), "order: [").unwrap();
    let book = Book::open(Folder::new(&shop)).unwrap();
    let refused = portable::export(&book, &demo::register(&shop), &[], &out("five")).unwrap_err();
    assert!(refused.to_string().starts_with("what is controlled cannot be told: "), "{refused}");
    assert!(!out("five").exists());
}

#[test]
fn an_export_goes_into_a_new_folder_and_knows_its_certificates() {
    let shop = &Demo::get().folder;
    let out = demo::fresh("portable-new");
    fs::write(out.join("x"), "y").unwrap();
    let book = Book::open(Folder::new(shop)).unwrap();
    let register = demo::register(shop);
    let refused = portable::export(&book, &register, &[], &out).unwrap_err();
    assert!(refused.to_string().contains("is not empty"), "{refused}");
    let refused = portable::export(&book, &register, &["X-1".to_owned()], &out.join("new")).unwrap_err();
    assert!(refused.to_string().contains("has no certificate X-1"), "{refused}");
}
