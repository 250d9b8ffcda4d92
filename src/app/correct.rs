//! Correcting one value of a lot's record, or entering one late: the value and the correction that says what stood
//! there, both or neither, with everything else in the file as people wrote it.

use serde_json::Value;

use crate::app::book;
use crate::app::book::Sourced;
use crate::app::error::Error;
use crate::app::world::World;
use crate::correction;
use crate::folder;
use crate::folder::Folder;
use crate::path::Path;
use crate::record::Record;
use crate::validate;
use crate::yaml;
use crate::yaml::Places;

/// What is corrected, and who says so.
pub struct Request<'a> {
    /// The lot.
    pub lot: &'a str,
    /// Where: a path as reports print it, or the line and column of a gap and the key that is missing there, as in
    /// `16:9.total_solids`.
    pub at: &'a str,
    /// What stands there from now on.
    pub now: &'a str,
    /// Who changes it.
    pub by: &'a str,
    /// Why.
    pub why: &'a str,
}

/// What was changed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Corrected {
    /// The record's file.
    pub file: String,
    /// Line, from 1.
    pub line: u64,
    /// The value's path.
    pub at: String,
    /// What stood there; `nothing` where no value did.
    pub was: String,
    /// What stands there now.
    pub now: String,
}

/// Changes the record's file.
///
/// # Errors
/// Where the record cannot be read, the path leads to no single value, the value is not one that may stand there, or
/// the file is written in a way that cannot be changed by itself. Then nothing is written.
pub fn correct(folder: &Folder, request: &Request, world: &World) -> Result<Corrected, Error> {
    if [request.by, request.why, request.now].iter().any(|text| text.trim().is_empty()) {
        return Err(Error::cannot("a correction needs its value, who and why", "give --now, --by and --why"));
    }
    let file = format!("lots/{}.yaml", request.lot);
    let before: Sourced<Record> = book::read(folder, &file, validate::record)?;
    if before.document.lot != request.lot {
        return Err(Error::cannot(
            format!("{file} is the record of lot `{}`", before.document.lot),
            "correct the lot number, or the name of the file",
        ));
    }
    let path = place(&before.text, request.at)?;
    let old = tree(&before.document);
    let was = standing(&old, &path)?;
    let by_hand = || {
        Error::cannot(
            format!("{path} of {file} cannot be changed by this command"),
            "change it in the file, and write the correction below `corrections`: at, was, now, by, when, why",
        )
    };
    let changed = yaml::set(&before.text, &path, request.now).ok_or_else(by_hand)?;
    let changed: Sourced<Record> = book::parse(&file, changed, |_| Vec::new())?;
    let new = tree(&changed.document);
    let now = standing(&new, &path)?;
    if was == now {
        return Err(Error::cannot(format!("`{now}` stands at {path} already"), ""));
    }
    if !only(&old, &new, &path) {
        return Err(by_hand());
    }
    let when = world.now().format("%Y-%m-%dT%H:%M%:z").to_string();
    let at = path.to_string();
    let entry = [
        ("at", at.as_str()),
        ("was", was.as_str()),
        ("now", now.as_str()),
        ("by", request.by),
        ("when", when.as_str()),
        ("why", request.why),
    ];
    let whole = yaml::append(&changed.text, "corrections", &entry).ok_or_else(by_hand)?;
    let whole: Sourced<Record> = book::parse(&file, whole, validate::record)?;
    // Read again: nothing but the value and one correction is new.
    let fresh = whole.document.corrections.len() == before.document.corrections.len().saturating_add(1);
    let last = whole.document.corrections.last().is_some_and(|c| {
        c.at == at && c.was == was && c.now == now && c.by == request.by && c.why == request.why
    });
    if !(fresh && last && only(&old, &tree(&whole.document), &path)) {
        return Err(by_hand());
    }
    folder::write_whole(&folder.path(&file), whole.text.as_bytes())?;
    let (line, _) = Places::of(&whole.text).find(&path);
    Ok(Corrected { file, line, at, was, now })
}

/// The record without its corrections.
fn tree(record: &Record) -> Value {
    let mut tree = serde_json::to_value(record).unwrap_or_default();
    if let Some(members) = tree.as_object_mut() {
        members.remove("corrections");
    }
    tree
}

fn standing(tree: &Value, path: &Path) -> Result<String, Error> {
    match correction::find(tree, path) {
        None => Ok(correction::NOTHING.to_owned()),
        Some(Value::Object(_) | Value::Array(_)) => Err(Error::cannot(
            format!("{path} is not a single value"),
            "name one, as in `runs[0].steps[1].passivate.temperature`",
        )),
        Some(value) => Ok(correction::text(value)),
    }
}

/// Whether two trees differ at this path alone.
fn only(old: &Value, new: &Value, path: &Path) -> bool {
    let leaves = |tree: &Value| {
        let mut all = Vec::new();
        correction::leaves("", tree, &mut all);
        all
    };
    let (old, new) = (leaves(old), leaves(new));
    let path = path.to_string();
    // A list of plain values is one leaf.
    let meant = |at: &str| at == path || path.strip_prefix(at).is_some_and(|rest| rest.starts_with('['));
    let rest =
        |all: &[(String, String)]| all.iter().filter(|(at, _)| !meant(at)).cloned().collect::<Vec<_>>();
    rest(&old) == rest(&new)
}

/// The path meant: as it stands, or below the value that stands at a line and column.
fn place(text: &str, at: &str) -> Result<Path, Error> {
    let wrong = |why: String| {
        Error::cannot(
            why,
            "name the value by its path, as in `runs[0].steps[4].rinse.total_solids`, or by the line and column of \
             the gap and the key that is missing there, as in `16:9.total_solids`",
        )
    };
    let (first, rest) = at.split_once('.').map_or((at, None), |(first, rest)| (first, Some(rest)));
    let numbers = first
        .split_once(':')
        .and_then(|(line, column)| Some((line.parse::<u64>().ok()?, column.parse::<u64>().ok()?)));
    let path = match numbers {
        None => at.to_owned(),
        Some((line, column)) => {
            let block = Places::of(text)
                .at(line, column)
                .ok_or_else(|| wrong(format!("no value begins at {line}:{column}")))?;
            rest.map_or_else(|| block.to_string(), |rest| format!("{block}.{rest}"))
        }
    };
    let path: Path = path.parse().map_err(|_| wrong(format!("`{at}` is not a path")))?;
    if path.segments().is_empty() {
        return Err(wrong(format!("`{at}` names no value")));
    }
    if path.to_string() == "lot" {
        return Err(wrong("the lot's number names the file; it is not corrected in it".to_owned()));
    }
    if path.to_string().starts_with("corrections") {
        return Err(wrong("a correction is not corrected; correct the value again".to_owned()));
    }
    Ok(path)
}
