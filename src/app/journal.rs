//! The check journal: every check and every issue of a lot leaves a line of what it saw, unless the last line saw
//! the same. No option avoids it.
//!
//! One file a lot, `journal/LOT.jsonl`. What was issued names the line it rested on in its register entry, so a
//! journal cut or rewritten afterwards is noticed.

use serde_json::Value;

use crate::app::book::Book;
use crate::app::desk::files;
use crate::app::dossier::Case;
use crate::app::error::Error;
use crate::changes;
use crate::changes::Chain;
use crate::changes::Papers;
use crate::changes::Present;
use crate::changes::Rows;
use crate::changes::State;
use crate::correction::Correction;
use crate::finding::Finding;
use crate::folder;
use crate::judge;
use crate::moment::Moment;
use crate::register::Facet;
use crate::register::Query;
use crate::register::Register;
use crate::register::RegisterError;
use crate::register::Term;

/// The folder of the journals.
pub const FOLDER: &str = "journal";

/// The key of a register entry's detail: the journal's last line for each lot.
pub const DETAIL: &str = "journal";

/// How many certificates of one lot are looked up.
const MOST_CERTIFICATES: u32 = 10_000;

/// What the journal came to hold.
#[derive(Debug)]
pub struct Kept {
    /// SHA-256 of its last line; `None` when it could not be written.
    pub head: Option<String>,
    /// Why it could not be written.
    pub unkept: Option<Error>,
}

/// The file of a lot's journal. What a file name cannot hold is written as the hexadecimal code of its bytes.
pub fn file(lot: &str) -> String {
    format!("{FOLDER}/{}.jsonl", file_name(lot))
}

/// A text as a file name that no other text has.
pub(super) fn file_name(text: &str) -> String {
    let mut name = String::new();
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'_') || (byte == b'.' && !name.is_empty()) {
            name.push(char::from(byte));
        } else {
            name.push_str(&format!("%{byte:02X}"));
        }
    }
    name
}

/// Judges a case against the journal of its lot and adds what this check saw.
///
/// # Errors
/// When the papers have no canonical form: a count beyond what can be written exactly. A journal that cannot be
/// written is no error; [`Kept`] says so.
pub fn judge_and_keep(book: &Book, case: &mut Case, now: Moment) -> Result<(Vec<Finding>, Kept), Error> {
    let lot = case.dossier.record.lot.clone();
    let path = book.folder.path(&file(&lot));
    let (text, unread) = match folder::read_text(&path) {
        Ok(text) => (text, None),
        Err(folder::FolderError::Missing(_)) => (String::new(), None),
        Err(error) => (String::new(), Some(format!("it cannot be read: {error}"))),
    };
    let mut chain = Chain::read(&text, &lot);
    chain.broken.extend(unread);
    chain.broken.extend(cut(book, &lot, &chain.heads));

    let rests_on = Rows::of(&judge::papers(&case.dossier));
    let whole = whole(book, case);
    let record = serde_json::to_value(&case.dossier.record)
        .map_err(|e| Error::cannot(e.to_string(), "report this"))?;
    let all = &book.corrections.document.corrections;
    let present = Present { record: &record, rests_on: &rests_on, whole: &whole, corrections: all };
    let mut checks = changes::compare(&chain.lines, &present);
    checks.broken = chain.broken.clone();
    let speaks = |c: &&Correction| {
        rests_on.text(&c.at).is_some() || checks.changes.iter().any(|change| change.at == c.at)
    };
    // Only those: what was corrected for another purchaser's order is not shown here.
    let corrections: Vec<Correction> = all.iter().filter(speaks).cloned().collect();
    case.dossier.corrections = corrections.clone();
    case.dossier.checks = Some(checks);
    let findings = judge::judge(&case.dossier);

    let state = State { lot: lot.clone(), record, rows: rests_on.texts(), corrections };
    let gaps: Vec<String> = findings
        .iter()
        .filter(|f| f.is_gap())
        .map(|f| format!("{}, {}", f.requirement, f.place_in_lot))
        .collect();
    let mut refused = None;
    let written = folder::append_line(&path, |text| {
        // Read again under the lock: another check may have added a line since.
        Chain::read(text, &lot).next(&state, now, &gaps).unwrap_or_else(|error| {
            refused = Some(error);
            None
        })
    });
    if let Some(error) = refused {
        return Err(error.into());
    }
    let kept = match written {
        Ok(text) => Kept { head: Chain::read(&text, &lot).heads.pop(), unkept: None },
        Err(error) => Kept { head: None, unkept: Some(error.into()) },
    };
    Ok((findings, kept))
}

/// The same papers with everything the book says of them, in force or not.
fn whole(book: &Book, case: &Case) -> Rows {
    let dossier = &case.dossier;
    let baths: Vec<_> = book
        .baths
        .document
        .baths
        .iter()
        .filter(|b| dossier.baths.iter().any(|kept| kept.bath == b.bath))
        .cloned()
        .collect();
    let instruments: Vec<_> = book
        .instruments
        .document
        .instruments
        .iter()
        .filter(|i| dossier.instruments.iter().any(|kept| kept.instrument == i.instrument))
        .cloned()
        .collect();
    // The dossier's order holds the lot's line only; a record that names another line changes no order.
    let order = book.orders.iter().map(|o| &o.document).find(|o| o.order == dossier.order.order);
    let order = order.unwrap_or(&dossier.order);
    Rows::of(&Papers { baths: &baths, instruments: &instruments, order, ..judge::papers(dossier) })
}

/// Certificates of the lot that rested on a line the journal no longer has.
fn cut(book: &Book, lot: &str, heads: &[String]) -> Vec<String> {
    let path = book.folder.path(files::REGISTER);
    if !path.is_file() {
        return Vec::new();
    }
    match rested_on(&path, lot) {
        Ok(all) => all
            .into_iter()
            .filter(|(_, head)| !heads.contains(head))
            .map(|(number, _)| format!("the line certificate {number} rested on is gone"))
            .collect(),
        // What cannot be told is a gap.
        Err(error) => vec![format!("the register cannot be asked where it stood: {error}")],
    }
}

/// Numbers of the lot's certificates with the last line of the journal when each was issued.
fn rested_on(path: &std::path::Path, lot: &str) -> Result<Vec<(String, String)>, RegisterError> {
    let register = Register::open(path, None)?;
    let term = Term { facet: Some(Facet::Lot), text: lot.to_owned(), exact: true };
    let mut all = Vec::new();
    for found in register.find(&Query {
        terms: vec![term],
        limit: MOST_CERTIFICATES,
        from: None,
        to: None,
        standing: None,
    })? {
        for entry in register.history(&found.number)? {
            let head = entry.detail.get(DETAIL).and_then(|of| of.get(lot)).and_then(Value::as_str);
            all.extend(head.map(|head| (found.number.clone(), head.to_owned())));
        }
    }
    Ok(all)
}

/// Lots with a journal and no record: checked once, and gone or renamed since.
pub fn without_record(book: &Book) -> Result<Vec<String>, Error> {
    let known: Vec<String> = book
        .lot_files()?
        .iter()
        .filter_map(|name| name.strip_prefix("lots/")?.strip_suffix(".yaml").map(file))
        .collect();
    let all = book.folder.files(FOLDER, ".jsonl")?;
    Ok(all.into_iter().filter(|name| !known.contains(name)).collect())
}
