//! An invented shop's register in a folder that goes away with the test.

use std::path::Path;
use std::path::PathBuf;
use std::sync::atomic::AtomicU32;
use std::sync::atomic::Ordering;

use brightproof::checkpoint;
use brightproof::checkpoint::SigningKey;
use brightproof::merkle::Hash;
use brightproof::merkle::sha256;
use brightproof::register::Facet;
use brightproof::register::Kind;
use brightproof::register::NewCertificate;
use brightproof::register::NewEntry;
use brightproof::register::Register;
use brightproof::register::RegisterError;
use brightproof::register::Transaction;
use serde_json::Value;
use serde_json::json;

pub const ORIGIN: &str = "larkspur.example/register";
pub const NOW: &str = "2026-11-25T14:05:00Z";

/// A folder of its own for one test.
pub struct Folder(PathBuf);

impl Folder {
    pub fn new() -> Self {
        static NEXT: AtomicU32 = AtomicU32::new(0);
        let nth = NEXT.fetch_add(1, Ordering::Relaxed);
        let path = std::env::temp_dir().join(format!("brightproof-register-{}-{nth}", std::process::id()));
        std::fs::create_dir_all(&path).unwrap();
        Self(path)
    }

    pub fn file(&self, name: &str) -> PathBuf {
        self.0.join(name)
    }

    pub fn register(&self) -> PathBuf {
        self.file("register.sqlite")
    }

    pub fn head(&self) -> PathBuf {
        self.file("register.head")
    }

    /// Creates the register, signs its first head, and opens it as the shop does.
    pub fn started(&self) -> Register {
        Register::create(&self.register(), ORIGIN, json!({"by": "M. Sorrel"}), NOW, [1; 32]).unwrap();
        let mut register = self.open();
        register.begin(NOW).unwrap().commit(&sign).unwrap();
        register
    }

    pub fn open(&self) -> Register {
        Register::open(&self.register(), Some(&self.head())).unwrap()
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

pub fn key() -> SigningKey {
    SigningKey::from_seed(ORIGIN, &[5; 32]).unwrap()
}

pub fn sign(origin: &str, size: u64, root: &Hash) -> Result<String, String> {
    checkpoint::sign(&key(), origin, size, root).map_err(|error| error.to_string())
}

pub fn check(text: &str) -> Result<(), String> {
    checkpoint::open(text, &[key().verify_key()]).map(|_| ()).map_err(|error| error.to_string())
}

pub fn entry(kind: Kind, number: Option<&str>, detail: Value) -> NewEntry {
    NewEntry { kind, number: number.map(str::to_owned), replaces: None, detail, salt: [2; 32] }
}

pub fn withdrawal(number: &str) -> NewEntry {
    entry(Kind::Withdrawal, Some(number), json!({"reason": "wrong alloy", "by": "M. Sorrel"}))
}

/// A certificate of `lots` (lot, pieces, accepted) for a shipment, made from `input`.
pub fn certificate(number: &str, shipment: &str, input: &str, lots: &[(&str, u64, u64)]) -> NewCertificate {
    let data = format!("{{\"number\":\"{number}\",\"input\":\"{input}\"}}").into_bytes();
    let mut facets = vec![(Facet::PurchaseOrder, "QI-88231".to_owned()), (Facet::Part, "7731-04".to_owned())];
    facets.extend(lots.iter().map(|(lot, ..)| (Facet::Lot, (*lot).to_owned())));
    NewCertificate {
        evidence: None,
        number: number.to_owned(),
        stamp: hex::encode(sha256(&data)),
        pdf: format!("%PDF of {number}").into_bytes(),
        data,
        input_digest: input.to_owned(),
        shipment_key: shipment.to_owned(),
        facets,
        pieces: lots.iter().map(|(lot, pieces, _)| ((*lot).to_owned(), *pieces)).collect(),
        accepted: lots.iter().map(|(lot, _, accepted)| ((*lot).to_owned(), *accepted)).collect(),
        signer: "M. Sorrel".to_owned(),
        uses: Vec::new(),
    }
}

/// Appends an issue under the next number; answers that number.
pub fn issue(
    tx: &mut Transaction<'_>,
    shipment: &str,
    input: &str,
    lots: &[(&str, u64, u64)],
) -> Result<String, RegisterError> {
    let number = tx.next_number("LBF", 2026)?;
    let new = certificate(&number, shipment, input, lots);
    tx.append(entry(Kind::Issue, Some(&number), json!({"by": "M. Sorrel"})), Some(new))?;
    Ok(number)
}

/// Appends an amendment of `replaced` under the next number; answers that number.
pub fn amend(
    tx: &mut Transaction<'_>,
    replaced: &str,
    shipment: &str,
    input: &str,
    lots: &[(&str, u64, u64)],
) -> Result<String, RegisterError> {
    let number = tx.next_number("LBF", 2026)?;
    let new = certificate(&number, shipment, input, lots);
    let mut amendment = entry(Kind::Amendment, Some(&number), json!({"why": "count corrected"}));
    amendment.replaces = Some(replaced.to_owned());
    tx.append(amendment, Some(new))?;
    Ok(number)
}

/// Appends one issue and commits it.
pub fn issue_one(register: &mut Register, shipment: &str, lots: &[(&str, u64, u64)]) -> String {
    let mut tx = register.begin(NOW).unwrap();
    let number = issue(&mut tx, shipment, &format!("input of {shipment}"), lots).unwrap();
    tx.commit(&sign).unwrap();
    number
}

/// Runs SQL against the file behind the register's back, its accident guards removed.
pub fn behind(path: &Path, sql: &str) -> usize {
    let db = rusqlite::Connection::open(path).unwrap();
    db.pragma_update(None, "foreign_keys", false).unwrap();
    let triggers: Vec<String> = db
        .prepare("SELECT name FROM sqlite_schema WHERE type = 'trigger'")
        .unwrap()
        .query_map([], |row| row.get(0))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    for trigger in triggers {
        db.execute_batch(&format!("DROP TRIGGER {trigger}")).unwrap();
    }
    db.execute(sql, []).unwrap()
}
