//! The files a lot's papers name: each there, and the one that was named. Coupons, and what must be known of one
//! before it may stand for parts.

use crate::evidence::FileName;
use crate::finding::Reason;
use crate::judge::Dossier;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::path::Path;
use crate::record::Specimen;
use crate::record::Test;
use crate::record::raw_files;

/// A paper that must be on file, and the file named for it.
type Needed<'a> = (String, Option<&'a FileName>, Path);

/// Every paper others made that a record rests on. `dossier` is whole.
fn needed(dossier: &Dossier) -> Vec<Needed<'_>> {
    let mut all: Vec<Needed> = Vec::new();
    for (i, run) in dossier.record.runs.iter().enumerate() {
        let steps = Path::root().key("runs").index(i).key("steps");
        for (j, step) in run.steps.iter().enumerate() {
            if let Some(paper) = step.immersion().and_then(|m| m.evidence.as_ref()) {
                let path = steps.index(j).key(step.key()).key("evidence").key("file");
                all.push((paper.words(), paper.file.as_ref(), path));
            }
        }
    }
    for (i, test) in dossier.record.tests.iter().enumerate() {
        let path = Path::root().key("tests").index(i);
        if let Some(paper) = &test.evidence {
            all.push((paper.words(), paper.file.as_ref(), path.key("evidence").key("file")));
        }
        if let Some(laboratory) = &test.laboratory {
            let path = path.key("laboratory").key("file");
            all.push((laboratory.words(), laboratory.file.as_ref(), path));
        }
    }
    let raw = raw_files(&dossier.record).into_iter();
    all.extend(raw.map(|(path, file)| (file.words(), Some(file.file()), path.key("file"))));
    all
}

/// The files named, for whoever hashes them. `dossier` is whole.
pub fn files_named(dossier: &Dossier) -> Vec<String> {
    let named = needed(dossier).into_iter().filter_map(|(_, file, _)| Some(file?.path.clone()));
    let mut all: Vec<String> = named.collect();
    all.sort();
    all.dedup();
    all
}

/// That each is on file, and unchanged where its digest was written down.
pub fn held(dossier: &Dossier) -> Vec<Evidence> {
    let all = needed(dossier).into_iter().map(|(words, file, path)| {
        let Some(file) = file else { return Evidence::missing(path) };
        let Some(held) = dossier.files.iter().find(|f| f.path == file.path) else {
            let reason = Reason::NotInBook(format!("file `{}`", file.path));
            return Evidence::record(path.key("path"), Found::Missing(reason));
        };
        let met = file.sha256.as_ref().is_none_or(|digest| *digest == held.sha256);
        let limit = match &file.sha256 {
            Some(digest) => format!("the file with SHA-256 {digest}"),
            None => "on file".to_owned(),
        };
        let found = Found::Own { observed: format!("{words}: SHA-256 {}", held.sha256), limit, met };
        Evidence::record(path, found)
    });
    let all: Vec<Evidence> = all.collect();
    if all.is_empty() { vec![Evidence::record(Path::root(), Found::NotApplicable)] } else { all }
}

/// That a coupon is of the lot's alloy and went through with the runs it speaks for.
pub fn coupon(dossier: &Dossier, test: &Test, path: &Path) -> Evidence {
    if test.specimen != Specimen::Coupon {
        return Evidence::record(path.key("specimen"), Found::NotApplicable);
    }
    let path = path.key("coupon");
    let Some(coupon) = &test.coupon else { return Evidence::missing(path) };
    let grade = &dossier.record.material.grade;
    let same_alloy = dossier.alloy.as_ref().is_some_and(|alloy| alloy.is_named(&coupon.alloy));
    let runs = || dossier.record.runs.iter().filter(|run| test.covers.contains(&run.run));
    if let Some(run) = runs().find(|run| run.load.is_none()) {
        let what = format!("the load of run {}", run.run);
        return Evidence::record(path.key("load"), Found::Missing(Reason::Unknown(what)));
    }
    let same_load = runs().all(|run| run.load.as_deref() == Some(coupon.load.as_str()));
    let loads: Vec<&str> = runs().filter_map(|run| run.load.as_deref()).collect();
    let found = Found::Own {
        observed: format!("coupon of {}, heat {}, load {}", coupon.alloy, coupon.heat, coupon.load),
        limit: format!("of {grade}, in load {}", loads.join(", ")),
        met: same_alloy && same_load,
    };
    Evidence::record(path, found)
}
