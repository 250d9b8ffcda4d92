//! Conformity credentials: the proof checked by Python and openssl with the page's own script, every member of every
//! kept certificate mapped or said not to be, what may not leave, and the standards' rules. The shops are invented.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test stops at the first surprise"
)]

mod members;
mod proof;
mod refused;
mod rules;

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::sync::OnceLock;

use brightproof::app::book::Book;
use brightproof::app::credential;
use brightproof::app::credential::Written;
use brightproof::app::desk::files;
use brightproof::app::desk::open_register;
use brightproof::app::error::Error;
use brightproof::checkpoint::VerifyKey;
use brightproof::folder::Folder;
use brightproof::pdf::read_sealed;
use brightproof::register::Status;
use serde_json::Value;

use crate::demo;
use crate::demo::Demo;

const PAGE: &str = include_str!("../docs/formats/credential.md");

/// When credentials are signed here: after all that the shops did.
const SIGNED: &str = "2027-02-01T09:30:00+01:00";

/// Writes a credential, as the verb does.
fn write(shop: &Path, number: &str, out: &Path) -> Result<Written, Error> {
    let book = Book::open(Folder::new(shop)).unwrap();
    let world = demo::world(SIGNED, "credential");
    credential::write(&book, &open_register(&book.folder)?, number, out, &world)
}

/// The register's key as the shop hands it out.
fn key(shop: &Path) -> VerifyKey {
    VerifyKey::parse(fs::read_to_string(shop.join(files::CHECKPOINT)).unwrap().trim()).unwrap()
}

/// A certificate's data as they ride in its file.
fn data(file: &[u8]) -> Value {
    serde_json::from_slice(&read_sealed(file).unwrap().attachment).unwrap()
}

/// A certificate with its credential.
struct Pair {
    data: Value,
    credential: Value,
}

/// A copy of the shop of the form that is frozen, its keys readable by nobody else.
fn golden(name: &str) -> PathBuf {
    let shop = demo::fresh(name).join("shop");
    demo::copy(&Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden/v1/shop"), &shop);
    #[cfg(unix)]
    for entry in fs::read_dir(shop.join("keys")).unwrap() {
        use std::os::unix::fs::PermissionsExt;
        fs::set_permissions(entry.unwrap().path(), fs::Permissions::from_mode(0o600)).unwrap();
    }
    shop
}

/// Every certificate that stands and is not controlled, of the kept shop and of the demonstration's.
fn pairs() -> &'static BTreeMap<String, Pair> {
    static PAIRS: OnceLock<BTreeMap<String, Pair>> = OnceLock::new();
    PAIRS.get_or_init(|| {
        let mut all = BTreeMap::new();
        for (which, shop) in [("kept", golden("credential-kept")), ("demo", Demo::get().folder.clone())] {
            let out = demo::fresh(&format!("credential-{which}-out"));
            let register = demo::register(&shop);
            for entry in fs::read_dir(shop.join(files::CERTIFICATES)).unwrap() {
                let path = entry.unwrap().path();
                if path.extension().is_none_or(|e| e != "pdf") {
                    continue;
                }
                let number = path.file_stem().unwrap().to_str().unwrap().to_owned();
                let data = data(&fs::read(&path).unwrap());
                let file = out.join(&number);
                let done = write(&shop, &number, &file);
                let may =
                    data.get("controlled").is_none() && register.status(&number).unwrap() == Status::Current;
                assert_eq!(done.is_ok(), may, "{number}: {done:?}");
                assert_eq!(file.exists(), may, "{number}");
                if may {
                    let credential = serde_json::from_slice(&fs::read(&file).unwrap()).unwrap();
                    all.insert(format!("{which} {number}"), Pair { data, credential });
                }
            }
        }
        assert!(all.len() > 20, "{}", all.len());
        all
    })
}

/// A block of the page in a language.
fn block(language: &str) -> String {
    let rest = PAGE.split(&format!("```{language}\n")).nth(1).unwrap();
    rest.split("```").next().unwrap().to_owned()
}
