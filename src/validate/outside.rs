//! What a document may not say of others' work: a paper without a number, a file outside the shop folder, an
//! outside test made with an instrument of the shop.

use crate::evidence::FileName;
use crate::evidence::Relied;
use crate::order::Order;
use crate::path::Path;
use crate::record::Immersion;
use crate::record::Step;
use crate::record::Test;
use crate::record::TestKind;
use crate::validate::Wrongs;

/// Folders whose files are never taken for papers: a key must not be copied among them.
const PRIVATE: [&str; 2] = ["keys", "evidence"];

/// Whether a name leads to a file within a folder, on any system.
pub(super) fn is_inside(name: &str) -> bool {
    let inside = |part: &str| !matches!(part, "" | "." | "..");
    name.split('/').all(inside) && !name.contains(['\\', ':']) && !name.chars().any(char::is_control)
}

/// A file lies within the shop folder, whatever system it is read on.
pub(super) fn file(wrongs: &mut Wrongs, path: &Path, file: &FileName) {
    let name = &file.path;
    if !is_inside(name) {
        let hint = "name it within the shop folder, as in `papers/report-1.pdf`";
        wrongs.say(path.key("path"), format!("`{name}` is no file of the shop folder"), hint);
    } else if name.split('/').next().is_some_and(|first| PRIVATE.contains(&first.to_lowercase().as_str())) {
        let hint = "put the paper in a folder of its own, as in `papers/report-1.pdf`";
        wrongs.say(path.key("path"), format!("`{name}` is no paper: nothing is copied from there"), hint);
    }
    if let Some(digest) = &file.sha256 {
        sha256(wrongs, path.key("sha256"), digest);
    }
}

/// A SHA-256 in small hexadecimal digits.
pub(super) fn sha256(wrongs: &mut Wrongs, path: Path, digest: &str) {
    if digest.len() != 64 || !digest.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f')) {
        let message = format!("`{digest}` is no SHA-256: 64 digits, in small letters, are expected");
        wrongs.say(path, message, "`sha256sum` prints it");
    }
}

fn relied(wrongs: &mut Wrongs, path: &Path, relied: &Relied) {
    wrongs.text(path.key("from"), &relied.from);
    wrongs.text(path.key("number"), &relied.number);
    if let Some(named) = &relied.file {
        file(wrongs, &path.key("file"), named);
    }
}

/// A bath step is in a bath of the shop, or rests on another's paper and says when the pieces were back.
pub(super) fn immersion(wrongs: &mut Wrongs, at: &Path, immersion: &Immersion) {
    let Some(paper) = &immersion.evidence else {
        wrongs.text(at.key("bath"), &immersion.bath);
        return;
    };
    relied(wrongs, &at.key("evidence"), paper);
    if !immersion.bath.is_empty() {
        let hint = "leave `bath` out; or leave `evidence` out, if the shop did it";
        wrongs.say(at.key("bath"), "another's work was in no bath of this shop", hint);
    }
    if immersion.out_at.is_none() {
        let hint = "write in `out` when the pieces were back: what was done before proves nothing of them";
        wrongs.say(at.clone(), "another's work without the time the pieces were back", hint);
    }
}

/// What a test may not say of who made it.
pub(super) fn test(wrongs: &mut Wrongs, path: &Path, test: &Test) {
    if let Some(paper) = &test.evidence {
        relied(wrongs, &path.key("evidence"), paper);
    }
    if let Some(laboratory) = &test.laboratory {
        let at = path.key("laboratory");
        wrongs.text(at.key("name"), &laboratory.name);
        wrongs.text(at.key("report"), &laboratory.report);
        if let Some(named) = &laboratory.file {
            file(wrongs, &at.key("file"), named);
        }
        if let Some(held) = &laboratory.accreditation {
            let at = at.key("accreditation");
            wrongs.text(at.key("body"), &held.body);
            wrongs.text(at.key("number"), &held.number);
            if held.until < held.from {
                let message = format!("it ends {}, before it begins {}", held.until, held.from);
                wrongs.say(at.key("until"), message, "correct one of the two days");
            }
        }
    }
    if test.laboratory.is_some() && test.evidence.is_some() {
        let hint = "a laboratory's report is judged, another's paper is relied on: give one of the two";
        wrongs.say(path.clone(), "both `laboratory` and `evidence`", hint);
    }
    if test.made_outside() {
        for (key, named) in [("instrument", &test.instrument), ("solution", &test.solution)] {
            if named.is_some() {
                let message = format!("a test made elsewhere names this shop's {key}");
                wrongs.say(path.key(key), message, "leave it out; the laboratory's paper speaks for it");
            }
        }
    }
}

/// What may be done elsewhere is named as records name it.
pub(super) fn order(wrongs: &mut Wrongs, order: &Order) {
    for (key, named) in
        [("subcontracting", &order.subcontracting), ("purchaser_states", &order.purchaser_states)]
    {
        let base = Path::root().key(key);
        for (i, what) in named.iter().enumerate() {
            let known =
                Step::BATHS.contains(&what.as_str()) || TestKind::ALL.iter().any(|k| k.name() == what);
            if !known {
                let hint = format!("a step ({}), or a test by its name", Step::BATHS.join(", "));
                wrongs.say(base.index(i), format!("`{what}` is no step and no test"), &hint);
            }
        }
        wrongs.twice(&base, named);
    }
}
