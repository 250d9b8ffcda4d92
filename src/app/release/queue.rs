//! The queue: one file for each shipment that waits for release.
//!
//! The file is for people and for finding the register's entry; it grants nothing. What was prepared stands in the
//! register with the file's digest, so an edited file, or one put back after its certificate was withdrawn, is noticed.

use serde::Deserialize;
use serde::Serialize;
use serde_json::Value;

use crate::app::error::Error;
use crate::app::issue::Prepared;
use crate::app::issue::Shipment;
use crate::app::journal;
use crate::app::release::used_up;
use crate::canonical;
use crate::certificate::How;
use crate::folder::Folder;
use crate::register::Kind;
use crate::register::Register;
use crate::register::Status;

/// The folder of the queue.
pub const FOLDER: &str = "queue";
/// The form of its files. Frozen: every later release reads it, and one that changes it gives it another name.
const FORMAT: &str = "brightproof queue, 1";

/// A shipment that waits for release.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Queued {
    /// Which form this is.
    pub format: String,
    /// Which shipment: `lot L-26-0401`, `slip PS-26-0311`.
    pub shipment: String,
    /// Digest of everything that was judged.
    pub input: String,
    /// Who prepared it.
    pub prepared_by: String,
    /// When: RFC 3339, with the shop's offset.
    pub at: String,
    /// The register's entry of it.
    pub entry: u64,
    /// Whom it goes to.
    pub purchaser: String,
    /// What it covers.
    pub covers: Vec<Covered>,
}

/// One lot of a shipment.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Covered {
    /// The lot.
    pub lot: String,
    /// Pieces.
    pub pieces: u64,
    /// Part and revision.
    pub part: String,
    /// Order and line.
    pub order: String,
}

/// The file of a shipment. A blank, which every key has, reads as `_`; what else a name cannot hold, in hexadecimal.
pub fn file(shipment: &str) -> String {
    // An underline of the key's own must not read as a blank.
    let name = journal::file_name(shipment).replace('_', "%5F").replace("%20", "_");
    format!("{FOLDER}/{name}.json")
}

/// What is queued of a judged shipment.
pub(in crate::app) fn of(shipment: &Shipment, by: &str, at: &str, entry: u64) -> Queued {
    let covers = shipment.lots.iter().map(|lot| {
        let dossier = &lot.case.dossier;
        Covered {
            lot: dossier.record.lot.clone(),
            pieces: lot.quantity,
            part: format!("{} {}", dossier.part.part, dossier.part.revision),
            order: format!("{}/{}", dossier.record.order.number, dossier.record.order.line),
        }
    });
    Queued {
        format: FORMAT.to_owned(),
        shipment: shipment.key.clone(),
        input: shipment.input_digest().to_owned(),
        prepared_by: by.to_owned(),
        at: at.to_owned(),
        entry,
        purchaser: shipment.purchaser_name().to_owned(),
        covers: covers.collect(),
    }
}

/// The text of a queue file.
pub(in crate::app) fn to_text(queued: &Queued) -> Result<String, Error> {
    let text =
        serde_json::to_string_pretty(queued).map_err(|e| Error::cannot(e.to_string(), "report this"))?;
    Ok(format!("{text}\n"))
}

/// A queue file that is what was prepared, and still good for a certificate.
#[derive(Debug)]
pub struct Waiting {
    /// The file.
    pub file: String,
    /// What it says.
    pub queued: Queued,
    /// Who prepared it, as the register has it.
    pub prepared: Prepared,
}

/// Every file of the queue: what waits, or why a file grants nothing.
///
/// # Errors
/// When the folder cannot be read.
pub fn all(folder: &Folder, register: &Register) -> Result<Vec<Result<Waiting, Error>>, Error> {
    let files = folder.files(FOLDER, ".json")?;
    Ok(files.into_iter().map(|file| read(folder, register, file)).collect())
}

const AGAIN: &str = "look at the shipment, and prepare it again; or delete the file";

pub(super) fn read(folder: &Folder, register: &Register, file: String) -> Result<Waiting, Error> {
    let text = folder.text(&file)?;
    let queued: Queued =
        serde_json::from_str(&text).map_err(|e| Error::cannot(format!("{file}: {e}"), AGAIN))?;
    if queued.format != FORMAT {
        let what = format!("{file} is in the form `{}`, this release reads `{FORMAT}`", queued.format);
        return Err(Error::cannot(what, AGAIN));
    }
    let prepared = registered(register, &file, &text, &queued)?;
    if let Some((number, position)) = register.latest_of(&queued.shipment)?
        && position > queued.entry
        && register.status(&number)? != Status::Current
    {
        return Err(used_up(&queued.shipment, &number));
    }
    Ok(Waiting { file, queued, prepared })
}

/// Who prepared it, if the register says that this very file was.
fn registered(register: &Register, name: &str, text: &str, queued: &Queued) -> Result<Prepared, Error> {
    let other =
        || Error::cannot(format!("{name} is not what was prepared: it was edited, or made up"), AGAIN);
    let entry = register.entry(queued.entry)?.filter(|e| e.kind == Kind::Preparation).ok_or_else(other)?;
    let said = |key: &str| entry.detail.get(key).and_then(Value::as_str).unwrap_or_default();
    let same = said("sha256") == canonical::stamp(text.as_bytes())
        && said("shipment") == queued.shipment
        && said("input") == queued.input
        && said("by") == queued.prepared_by
        && said("at") == queued.at
        && file(&queued.shipment) == name;
    match How::of_prepared(said("authenticated")) {
        Some(how) if same => Ok(Prepared {
            person: said("by").to_owned(),
            function: said("function").to_owned(),
            how,
            at: said("at").to_owned(),
            entry: Some(queued.entry),
        }),
        _ => Err(other()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_shipments_share_a_file_and_none_leaves_the_folder() {
        assert_eq!(file("slip PS-26-0311"), "queue/slip_PS-26-0311.json");
        assert_eq!(file("slip PS-26-0341 line QI-88361/2"), "queue/slip_PS-26-0341_line_QI-88361%2F2.json");
        let names = ["lot a b", "lot a_b", "lot a%5Fb", "lot a%20b", "lot ../../keys/seal", "lot A B"];
        let files: std::collections::BTreeSet<String> = names.iter().map(|n| file(n)).collect();
        assert_eq!(files.len(), names.len());
        assert!(files.iter().all(|f| f.matches('/').count() == 1), "{files:?}");
    }
}
