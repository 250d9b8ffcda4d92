//! Taking in a day sheet: rows of a table become records of lots, or entries of the shop's books.
//!
//! The whole sheet or nothing of it: while one cell is at fault, nothing is written. A lot that is on record already is
//! never written again; what the sheet says otherwise is told.

mod books;
mod cells;
mod fault;
mod lots;
mod rows;

use std::path::Path as FilePath;

use serde::Serialize;
use serde_json::Value;

use crate::app::book;
use crate::app::book::Book;
use crate::app::book::Sourced;
use crate::app::error::Error;
use crate::canonical::stamp;
use crate::columns;
use crate::columns::Becomes;
use crate::columns::Sheet;
use crate::columns::Sheets;
use crate::correction;
use crate::folder;
use crate::sheet;
use crate::sheet::SheetError;
use crate::sheet::Table;

pub use fault::Fault;

use fault::Faults;
use lots::Draft;

/// The file of the mapping.
pub const MAPPING: &str = "sheets.yaml";

/// What taking in a sheet came to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Taken {
    /// The mapping used.
    pub sheet: String,
    /// What is wrong, cell by cell; while anything is, nothing is written.
    pub faults: Vec<Fault>,
    /// Files that were written, or would be, with their text; of a book, the lines that are new.
    pub files: Vec<Written>,
    /// Lots and entries that stand there just so.
    pub there: Vec<String>,
    /// Lots on record that the sheet tells otherwise.
    pub otherwise: Vec<Otherwise>,
    /// Whether anything was written.
    pub written: bool,
}

/// A file, and what is new in it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Written {
    /// Its name in the shop folder.
    pub file: String,
    /// What is new.
    pub text: String,
}

/// A lot on record that the sheet tells otherwise.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Otherwise {
    /// The lot.
    pub lot: String,
    /// Its file.
    pub file: String,
    /// Where, what the record says, what the sheet says.
    pub values: Vec<(String, String, String)>,
}

impl From<SheetError> for Error {
    fn from(error: SheetError) -> Error {
        Error::Cannot { message: error.to_string(), hint: error.hint() }
    }
}

/// Takes in a sheet; writes only when told to, and only a sheet without fault.
pub fn take(book: &Book, file: &FilePath, named: Option<&str>, write: bool) -> Result<Taken, Error> {
    let mapping: Sourced<Sheets> = book::read(&book.folder, MAPPING, columns::check)?;
    let name = file.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let form = sheet::form(&name)?;
    let bytes = folder::read(file)?;
    let placed =
        |error: SheetError| Error::Cannot { message: format!("{name}: {error}"), hint: error.hint() };
    let (mapped, table) = choose(&mapping.document, form, &bytes, named).map_err(|e| match e {
        Choice::Sheet(error) => placed(error),
        Choice::Other(error) => error,
    })?;
    let mut faults =
        Faults { file: &name, sheet: table.sheet.as_deref(), headings: Vec::new(), all: Vec::new() };
    let lines = rows::read(&table, mapped, book, &mut faults);
    let mut taken = Taken {
        sheet: mapped.name.clone(),
        faults: Vec::new(),
        files: Vec::new(),
        there: Vec::new(),
        otherwise: Vec::new(),
        written: false,
    };
    if mapped.sheet == Becomes::Day {
        let origin = origin(&name, table.sheet.as_deref(), &bytes);
        let one_run = mapped.columns.values().any(|target| target == columns::STEP);
        for draft in lots::drafts(&lines, one_run, &origin, book, &mut faults) {
            hold_against(book, draft, &mut taken)?;
        }
    } else {
        let entries = books::entries(&lines, mapped.sheet, book, &mut faults);
        if entries.there > 0 {
            taken.there.push(format!("{} entries of {}", entries.there, entries.file));
        }
        if !entries.added.is_empty() {
            let lines: Vec<String> =
                entries.added.iter().map(|(name, item)| format!("{name}: {item}\n")).collect();
            taken.files.push(Written { file: entries.file.to_owned(), text: lines.concat() });
        }
        if write && faults.all.is_empty() && !entries.added.is_empty() {
            folder::write_whole(&book.folder.path(entries.file), entries.text.as_bytes())?;
            taken.written = true;
        }
    }
    taken.faults = faults.sorted();
    if mapped.sheet == Becomes::Day && write && taken.faults.is_empty() {
        for new in &taken.files {
            folder::write_new(&book.folder.path(&new.file), new.text.as_bytes(), false)?;
            taken.written = true;
        }
    }
    Ok(taken)
}

/// Where a record came from, for its first line.
fn origin(name: &str, tab: Option<&str>, bytes: &[u8]) -> String {
    let plain = |text: &str| text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect::<String>();
    let tab = tab.map(|tab| format!(", worksheet {}", plain(tab))).unwrap_or_default();
    let digest: String = stamp(bytes).chars().take(16).collect();
    format!("From {}{tab} (SHA-256 {digest}...)", plain(name))
}

enum Choice {
    Sheet(SheetError),
    Other(Error),
}

impl From<SheetError> for Choice {
    fn from(error: SheetError) -> Choice {
        Choice::Sheet(error)
    }
}

/// The mapping meant, and the table read as it says: the one named, else the only one whose headings all stand there.
fn choose<'s>(
    sheets: &'s Sheets,
    form: sheet::Form,
    bytes: &[u8],
    named: Option<&str>,
) -> Result<(&'s Sheet, Table), Choice> {
    let read = |mapped: &Sheet| {
        let separator = mapped.separator.unwrap_or(columns::Separator::Comma).byte();
        sheet::read(form, bytes, separator, mapped.tab.as_deref())
    };
    let names: Vec<&str> = sheets.sheets.iter().map(|s| s.name.as_str()).collect();
    let names = names.join(", ");
    if let Some(named) = named {
        let mapped = sheets.sheets.iter().find(|s| s.name == named).ok_or_else(|| {
            let hint = format!("{MAPPING} has: {names}");
            Choice::Other(Error::cannot(format!("{MAPPING} has no sheet `{named}`"), &hint))
        })?;
        return Ok((mapped, read(mapped)?));
    }
    let tabs = sheet::tabs(form, bytes)?;
    let mut fitting = Vec::new();
    let mut refused = None;
    for mapped in &sheets.sheets {
        if mapped.tab.as_ref().is_some_and(|tab| form == sheet::Form::Xlsx && !tabs.contains(tab)) {
            continue;
        }
        match read(mapped) {
            Ok(table) => {
                if rows::head(&table, mapped).is_some_and(|(_, _, lacking)| lacking.is_empty()) {
                    fitting.push((mapped, table));
                }
            }
            Err(error) => refused = refused.or(Some(error)),
        }
    }
    if sheets.sheets.len() == 1
        && let (true, Some(error)) = (fitting.is_empty(), refused.clone())
    {
        return Err(Choice::Sheet(error));
    }
    let many = fitting.len();
    match (fitting.pop(), many, refused) {
        (Some(one), 1, _) => Ok(one),
        (None, _, Some(error)) if form == sheet::Form::Xlsx => Err(Choice::Sheet(error)),
        (first, _, _) => {
            let what = if first.is_some() { "more than one sheet" } else { "no sheet" };
            let message = format!("{what} of {MAPPING} has just these headings");
            Err(Choice::Other(Error::cannot(message, &format!("name the sheet with --sheet: {names}"))))
        }
    }
}

/// Whether the lot is on record, and as the sheet says.
fn hold_against(book: &Book, draft: Draft, taken: &mut Taken) -> Result<(), Error> {
    let file = format!("lots/{}.yaml", draft.lot);
    if !book.folder.has(&file) {
        taken.files.push(Written { file, text: draft.text });
        return Ok(());
    }
    let old = book.lot(&draft.lot)?.document;
    let tree = |record: &crate::record::Record| serde_json::to_value(record).unwrap_or_default();
    let (before, new) = (tree(&old), tree(&draft.record));
    let leaves = |tree: &Value| {
        let mut all = Vec::new();
        correction::leaves("", tree, &mut all);
        all
    };
    let stands = leaves(&before);
    let mut values = Vec::new();
    for (at, said) in leaves(&new) {
        let standing = stands.iter().find(|(path, _)| *path == at).map(|(_, value)| value);
        // A record may say more than the sheet, and what was corrected since was another way on it.
        let corrected = old.corrections.iter().any(|c| c.at == at && c.was == said);
        if at.ends_with(".source") || corrected || standing == Some(&said) {
            continue;
        }
        values.push((at, standing.cloned().unwrap_or_else(|| correction::NOTHING.to_owned()), said));
    }
    if values.is_empty() {
        taken.there.push(format!("lot {}", draft.lot));
    } else {
        taken.otherwise.push(Otherwise { lot: draft.lot, file, values });
    }
    Ok(())
}
