//! Evidence about what changed since the lot's first check: each change without a correction is a gap of its own.

use serde_json::Value;

use crate::changes;
use crate::changes::Change;
use crate::changes::Papers;
use crate::changes::Rows;
use crate::correction;
use crate::correction::NOTHING;
use crate::finding::Document;
use crate::finding::Reason;
use crate::judge::Dossier;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::pack::Subject;
use crate::path::Path;

/// What was judged under one subject: each entry is one finding, with what it is about.
pub fn evidence(dossier: &Dossier, subject: Subject) -> Option<Vec<(String, Evidence)>> {
    match subject {
        Subject::ChangesExplained => Some(unexplained(dossier)),
        Subject::CorrectionsAgree => Some(vec![(subject.name().to_owned(), agree(dossier))]),
        Subject::JournalWhole => Some(vec![(subject.name().to_owned(), whole(dossier))]),
        _ => None,
    }
}

/// A lot that was judged without a journal, as before there was one, has nothing to hold against.
fn none() -> Evidence {
    Evidence::record(Path::root(), Found::NotApplicable)
}

fn unexplained(dossier: &Dossier) -> Vec<(String, Evidence)> {
    let name = Subject::ChangesExplained.name().to_owned();
    let Some(checks) = &dossier.checks else { return vec![(name, none())] };
    let left: Vec<&Change> = checks
        .changes
        .iter()
        .filter(|c| !changes::explained(c, &dossier.record.corrections, &dossier.corrections))
        .collect();
    if left.is_empty() {
        // The same words whether anything was corrected or not: a corrected remark must not change what was found.
        let found = Found::Own {
            observed: "none left unexplained".to_owned(),
            limit: "a correction for every value changed since the first check".to_owned(),
            met: true,
        };
        return vec![(name, Evidence::record(Path::root(), found))];
    }
    left.into_iter()
        .map(|change| {
            let path = place(change);
            let found = Found::Changed {
                was: change.was.clone(),
                now: change.now.clone(),
                seen: change.seen.to_string(),
            };
            (format!("{name}: {}", change.at), Evidence::at(change.document, path, found))
        })
        .collect()
}

/// Where to look. A row is named by its date and not by its place, so its thing is shown.
fn place(change: &Change) -> Path {
    if change.document == Document::Record {
        return change.at.parse().unwrap_or_default();
    }
    match change.document {
        Document::Baths
        | Document::Instruments
        | Document::Solutions
        | Document::Load
        | Document::Report
        | Document::Periodic => {
            let mut parts = change.at.splitn(3, '.');
            let (list, id) = (parts.next().unwrap_or_default(), parts.next().unwrap_or_default());
            Path::root().key(list).key(id)
        }
        _ => Path::root(),
    }
}

/// Corrections that say something else than the papers explain nothing.
fn agree(dossier: &Dossier) -> Evidence {
    let path = Path::root().key("corrections");
    let wrong = |message: String| Found::Missing(Reason::Contradiction(message));
    let tree = serde_json::to_value(&dossier.record).unwrap_or(Value::Null);
    if let Some(fault) = correction::faults(&tree, &dossier.record.corrections).into_iter().next() {
        return Evidence::record(path.index(fault.index).key(fault.key), wrong(fault.message));
    }
    let rows = Rows::of(&papers(dossier));
    let book = &dossier.corrections;
    for (index, this) in book.iter().enumerate() {
        let at = |key: &str| path.index(index).key(key);
        let told = |key, message| Evidence::at(Document::Corrections, at(key), wrong(message));
        if let Some(fault) = correction::plain_faults(std::slice::from_ref(this)).into_iter().next() {
            return told(fault.key, fault.message);
        }
        let last = !book.iter().skip(index.saturating_add(1)).any(|c| c.at == this.at);
        let changed = dossier.checks.iter().flat_map(|c| &c.changes).find(|c| c.at == this.at);
        let standing = rows.text(&this.at).or(changed.map(|c| c.now.as_str())).unwrap_or(NOTHING);
        if last && this.now != standing {
            return told("now", format!("`{}` is said to stand at {}, `{standing}` does", this.now, this.at));
        }
    }
    let found = Found::Own {
        observed: "they agree".to_owned(),
        limit: "each leaves what stands there now".to_owned(),
        met: true,
    };
    Evidence::record(path, found)
}

fn whole(dossier: &Dossier) -> Evidence {
    let Some(checks) = &dossier.checks else { return none() };
    let found = Found::Own {
        observed: checks.broken.first().cloned().unwrap_or_else(|| "whole".to_owned()),
        limit: "every line follows on the one before it, and none is gone".to_owned(),
        met: checks.broken.is_empty(),
    };
    Evidence::at(Document::Journal, Path::root(), found)
}

/// The papers a dossier holds beside the record.
pub fn papers(dossier: &Dossier) -> Papers<'_> {
    Papers {
        baths: &dossier.baths,
        instruments: &dossier.instruments,
        solutions: &dossier.solutions,
        part: &dossier.part,
        order: &dossier.order,
        loads: &dossier.loads,
        reports: &dossier.reports,
        files: &dossier.files,
        periodic: &dossier.periodic,
    }
}
