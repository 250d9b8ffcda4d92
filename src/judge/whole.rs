//! A dossier made whole: a run that names its load has the load's steps, a report that speaks for the lot is one of its
//! tests, and a step whose log alone tells when the pieces were in has its times from there. What is found in loads and
//! reports is placed in their own files.

use std::borrow::Cow;

use crate::computed::Computed;
use crate::finding::Document;
use crate::finding::Finding;
use crate::finding::Place;
use crate::judge::Dossier;
use crate::judge::raw::of_entry;
use crate::path::Path;
use crate::path::Segment;
use crate::record::Record;
use crate::record::Run;

/// The dossier with loads, reports and what logs tell of times taken into its record.
pub fn whole(dossier: &Dossier) -> Cow<'_, Dossier> {
    let untold = dossier.computed.iter().any(|c| c.log().is_some_and(|log| log.tells_times()));
    if dossier.loads.is_empty() && dossier.reports.is_empty() && !untold {
        return Cow::Borrowed(dossier);
    }
    let mut whole = dossier.clone();
    for run in &mut whole.record.runs {
        if let Some(load) = load_of(dossier, run) {
            run.steps.clone_from(&load.steps);
        }
    }
    for i in 0..whole.record.runs.len() {
        let steps = Path::root().key("runs").index(i).key("steps");
        for (j, step) in whole.record.runs.get_mut(i).into_iter().flat_map(|r| &mut r.steps).enumerate() {
            let log = of_entry(dossier, &steps.index(j).key(step.key()).key("log")).and_then(Computed::log);
            // Where the current rose and fell; what was written down stands.
            if let Some(log) = log.filter(|log| log.tells_times())
                && let Some(dip) = step.immersion_mut()
            {
                dip.in_at = dip.in_at.or(Some(log.from));
                dip.out_at = dip.out_at.or(Some(log.to));
            }
        }
    }
    whole.record.tests.extend(dossier.reports.iter().filter_map(|r| r.for_own()));
    Cow::Owned(whole)
}

/// The load whose steps stand for a run's own: it has none and names one that is there.
fn load_of<'a>(dossier: &'a Dossier, run: &Run) -> Option<&'a crate::load::Load> {
    let named = run.load.as_deref().filter(|_| run.steps.is_empty())?;
    dossier.loads.iter().find(|l| l.load == named)
}

/// Places what was found in a load or a report in its own file.
pub fn place(dossier: &Dossier, findings: &mut [Finding]) {
    if dossier.loads.is_empty() && dossier.reports.is_empty() {
        return;
    }
    for finding in findings {
        if let Some(place) = own_place(dossier, &dossier.record, &finding.place) {
            finding.place = place;
        }
    }
}

fn own_place(dossier: &Dossier, record: &Record, place: &Place) -> Option<Place> {
    if place.document != Document::Record {
        return None;
    }
    let moved = |document: Document, base: Path, rest: &[Segment]| {
        let path = rest.iter().fold(base, |path, segment| match segment {
            Segment::Key(key) => path.key(key),
            Segment::Index(index) => path.index(*index),
        });
        Some(Place { document, path })
    };
    match place.path.segments() {
        [Segment::Key(runs), Segment::Index(i), Segment::Key(steps), rest @ ..]
            if runs == "runs" && steps == "steps" =>
        {
            let load = load_of(dossier, record.runs.get(*i)?)?;
            moved(Document::Load, Path::root().key("loads").key(&load.load).key("steps"), rest)
        }
        [Segment::Key(tests), Segment::Index(i), rest @ ..] if tests == "tests" => {
            let position = i.checked_sub(record.tests.len())?;
            let report = dossier.reports.iter().filter(|r| r.for_own().is_some()).nth(position)?;
            let base = Path::root().key("reports").key(&report.report);
            match rest {
                [Segment::Key(covers), ..] if covers == "covers" => {
                    moved(Document::Report, base.key("speaks_for"), &[])
                }
                _ => moved(Document::Report, base.key("test"), rest),
            }
        }
        _ => None,
    }
}
