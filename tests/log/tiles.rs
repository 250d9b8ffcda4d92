//! Static files of the log, read by a script that knows the format alone.

use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;

use brightproof::app::desk::sign_head;
use brightproof::app::tiles;
use brightproof::checkpoint::SigningKey;
use brightproof::folder::Folder;
use brightproof::register::Kind;
use brightproof::register::NewEntry;
use brightproof::register::Register;
use serde_json::json;

use super::grow;
use crate::demo;
use crate::demo::Demo;
use crate::support;

const ORIGIN: &str = "larkspur.example/register";
const NOW: &str = "2026-11-25T14:05:00Z";

/// What the script says of a folder: size and root, or its complaint.
fn read(folder: &Path) -> Option<Result<String, String>> {
    if !demo::has("python3", "--version") {
        return None;
    }
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/log/tiles.py");
    let output = Command::new("python3").arg(script).arg(folder).output().unwrap();
    let said = demo::printed(&output);
    Some(if output.status.success() { Ok(said.trim().to_owned()) } else { Err(said) })
}

/// A log of its own, which can grow to any size.
struct Log {
    folder: PathBuf,
    key: SigningKey,
    register: Register,
}

impl Log {
    fn new(name: &str) -> Log {
        let folder = demo::fresh(name);
        let key = SigningKey::from_seed(ORIGIN, &[3; 32]).unwrap();
        fs::create_dir_all(folder.join("keys")).unwrap();
        fs::write(folder.join("keys/register.txt"), format!("{}\n", key.verify_key())).unwrap();
        let path = folder.join("register.sqlite");
        let register = Register::create(&path, ORIGIN, json!({}), NOW, [1; 32]).unwrap();
        let mut log = Log { folder, key, register };
        log.grow_to(1);
        log
    }

    fn grow_to(&mut self, size: u64) {
        let from = self.register.head().unwrap().size;
        let mut tx = self.register.begin(NOW).unwrap();
        for i in from..size {
            let detail = json!({ "pack": i });
            let salt = brightproof::merkle::sha256(&i.to_be_bytes());
            let entry = NewEntry { kind: Kind::Adoption, number: None, replaces: None, detail, salt };
            tx.append(entry, None).unwrap();
        }
        tx.commit(&sign_head(&self.key)).unwrap();
    }

    fn export(&self) -> tiles::Tiles {
        tiles::export(&Folder::new(&self.folder), &self.register, &self.out()).unwrap()
    }

    fn out(&self) -> PathBuf {
        self.folder.join("published")
    }

    fn says(&self) -> String {
        let head = self.register.head().unwrap();
        format!("{} {}", head.size, hex::encode(head.root))
    }
}

#[test]
fn at_every_size_the_published_files_lead_to_the_signed_root() {
    let mut log = Log::new("log-tiles");
    let there = |log: &Log, path: &str| log.out().join("tile").join(path).is_file();
    for size in [1, 2, 255, 256, 257, 511, 512, 700] {
        log.grow_to(size);
        assert_eq!(log.export().size, size);
        if let Some(read) = read(&log.out()) {
            assert_eq!(read, Ok(log.says()));
        }
        match size {
            255 => {
                // heads published before still need theirs
                for partial in ["0/000.p/1", "0/000.p/2", "0/000.p/255", "entries/000.p/2"] {
                    assert!(there(&log, partial), "{partial}");
                }
            }
            256 => {
                assert!(there(&log, "0/000") && there(&log, "1/000.p/1") && there(&log, "entries/000"));
                for gone in ["0/000.p", "entries/000.p", "0/001.p"] {
                    assert!(!log.out().join("tile").join(gone).exists(), "{gone}");
                }
            }
            _ => {}
        }
    }
    assert!(there(&log, "0/002.p/188") && there(&log, "1/000.p/2") && !there(&log, "2/000.p/1"));
    // nothing new, nothing written; what was spoilt is put right
    assert_eq!(log.export().written, 0);
    let tile = log.out().join("tile/0/001");
    let mut bytes = fs::read(&tile).unwrap();
    bytes[100] ^= 1;
    fs::write(&tile, bytes).unwrap();
    if let Some(read) = read(&log.out()) {
        assert!(read.unwrap_err().contains("the root is another"));
    }
    assert_eq!(log.export().written, 1);
    // an entry that is another
    let bundle = log.out().join("tile/entries/001");
    let mut bytes = fs::read(&bundle).unwrap();
    bytes[10] ^= 1;
    fs::write(&bundle, bytes).unwrap();
    if let Some(read) = read(&log.out()) {
        assert!(read.unwrap_err().contains("is another"));
    }
}

#[test]
fn the_head_is_written_last() {
    let mut log = Log::new("log-tiles-last");
    log.export();
    let before = fs::read_to_string(log.out().join("checkpoint")).unwrap();
    log.grow_to(300);
    // A tile that cannot be written: a folder stands in its place.
    fs::create_dir_all(log.out().join("tile/1/000.p/1/x")).unwrap();
    assert!(tiles::export(&Folder::new(&log.folder), &log.register, &log.out()).is_err());
    assert_eq!(fs::read_to_string(log.out().join("checkpoint")).unwrap(), before);
}

#[test]
fn an_old_register_or_another_one_publishes_nothing() {
    let mut log = Log::new("log-tiles-old");
    log.grow_to(10);
    log.export();
    let before = fs::read_to_string(log.out().join("checkpoint")).unwrap();
    let mut other = Log::new("log-tiles-other");
    other.grow_to(5);
    let refused = tiles::export(&Folder::new(&other.folder), &other.register, &log.out()).unwrap_err();
    assert!(refused.to_string().contains("is not in this register's past"), "{refused}");
    // of the same length and another history
    let mut forked = Log::new("log-tiles-forked");
    let mut tx = forked.register.begin(NOW).unwrap();
    let salt = [9; 32];
    let entry = NewEntry { kind: Kind::Adoption, number: None, replaces: None, detail: json!({}), salt };
    tx.append(entry, None).unwrap();
    tx.commit(&sign_head(&forked.key)).unwrap();
    forked.grow_to(20);
    assert!(tiles::export(&Folder::new(&forked.folder), &forked.register, &log.out()).is_err());
    assert_eq!(fs::read_to_string(log.out().join("checkpoint")).unwrap(), before);
}

/// Words that tell whom the shop works for and what it makes.
fn telling() -> Vec<String> {
    let book = support::book();
    let mut words = Vec::new();
    for purchaser in &book.purchasers.purchasers {
        words.extend(purchaser.name.split_whitespace().map(str::to_owned));
        words.push(purchaser.id.clone());
    }
    words.extend(book.parts.iter().map(|p| p.document.part.clone()));
    words.extend(book.orders.iter().map(|o| o.document.order.clone()));
    words.extend(book.people.people.iter().map(|p| p.name.clone()));
    words.extend(book.lot_files().unwrap().iter().map(|f| f["lots/".len()..f.len() - 5].to_owned()));
    words.extend(["L-26-", "PS-26-", "H4471", "304", "316"].map(str::to_owned));
    words.into_iter().map(|w| w.to_lowercase()).filter(|w| w.len() >= 3).collect()
}

#[test]
fn nothing_of_a_customer_can_be_read_from_what_is_published() {
    let folder = Demo::get().copy("log-tiles-demo");
    grow(&folder, "delivered");
    let out = folder.join("published");
    let register = demo::register(&folder);
    tiles::export(&Folder::new(&folder), &register, &out).unwrap();
    if let Some(read) = read(&out) {
        let head = register.head().unwrap();
        assert_eq!(read, Ok(format!("{} {}", head.size, hex::encode(head.root))));
    }
    let words = telling();
    assert!(words.len() > 100 && words.contains(&"quillmark".to_owned()));
    let mut pending = vec![out];
    let mut text = String::new();
    while let Some(path) = pending.pop() {
        if path.is_dir() {
            pending.extend(fs::read_dir(path).unwrap().map(|e| e.unwrap().path()));
        } else if path.to_string_lossy().contains("entries") || path.ends_with("checkpoint") {
            text.push_str(&String::from_utf8_lossy(&fs::read(path).unwrap()).to_lowercase());
        }
    }
    // digests and the signature hold any three digits by chance, so only what is not one is looked at
    let plain: Vec<&str> = text
        .split(|c: char| !(c.is_ascii_alphanumeric() || matches!(c, '-' | '.' | ' ' | '_')))
        .filter(|w| !(w.len() == 64 && w.bytes().all(|b| b.is_ascii_hexdigit())))
        .collect();
    let plain = plain.join("\n");
    let head = plain.find("larkspur.example/register").unwrap_or(plain.len());
    assert!(plain.contains("lbf-2026-000001") && plain.contains("delivery"));
    let said: Vec<&String> = words.iter().filter(|w| plain[..head].contains(w.as_str())).collect();
    assert_eq!(said, Vec::<&String>::new());
}
