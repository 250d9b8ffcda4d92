//! Who did what was judged, and whether each was qualified for it on the day.
//!
//! A person the book does not know is a gap; so is a day nobody wrote down. Of people in order only their number
//! is shown: a certificate does not need their names.

use std::collections::BTreeSet;

use crate::finding::Document;
use crate::finding::Reason;
use crate::judge::Dossier;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::judge::runs::FinalRun;
use crate::judge::runs::final_runs;
use crate::judge::shown::carried_by;
use crate::moment::Date;
use crate::moment::Moment;
use crate::pack::Subject;
use crate::path::Path;
use crate::record::Immersion;
use crate::record::Measurement;
use crate::record::Record;
use crate::record::Run;
use crate::record::Step;
use crate::record::Test;
use crate::record::Visual;
use crate::shop::Bath;
use crate::shop::Solution;
use crate::shop::Work;

/// Something a person did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Deed<'a> {
    /// Who, as written.
    pub by: &'a str,
    /// Any of these qualifications will do.
    pub work: &'static [Work],
    /// The days it took; none when nobody wrote down when.
    pub days: Vec<Date>,
    /// What was done.
    what: String,
    document: Document,
    path: Path,
}

/// Whether a run's own requirement is judged once for the run, not for each call-out.
pub const fn once_a_run(subject: Subject) -> bool {
    matches!(subject, Subject::OperatorQualified | Subject::AnalystQualified | Subject::InspectorQualified)
}

/// The kind of work a step is. Whoever runs any bath of the line may rinse and dry.
const fn work_of(step: &Step) -> &'static [Work] {
    match step {
        Step::Clean(_) | Step::Descale(_) => &[Work::Cleaning],
        Step::Passivate(_) | Step::PostTreat(_) => &[Work::Passivation],
        Step::Electropolish(_) | Step::PostDip(_) => &[Work::Electropolishing],
        Step::Neutralize(_) => &[Work::Passivation, Work::Electropolishing],
        Step::Rinse(_) | Step::Dry(_) | Step::Bake(_) => {
            &[Work::Cleaning, Work::Passivation, Work::Electropolishing]
        }
    }
}

fn by_of(step: &Step) -> Option<&str> {
    match step {
        Step::Rinse(rinse) => Some(&rinse.by),
        Step::Dry(done) => Some(&done.by),
        other => other.immersion().map(|i| i.by.as_str()),
    }
}

/// The days of a step; without a time of its own, those of the steps next to it that have one.
fn days_of(run: &Run, position: usize) -> Vec<Date> {
    let own = run.steps.get(position).into_iter().flat_map(|s| [s.begin(), s.end()]).flatten();
    let mut days: BTreeSet<Date> = own.map(|at| at.date()).collect();
    if days.is_empty() {
        let before = run.steps.iter().take(position).rev().find_map(Step::end);
        let after = run.steps.iter().skip(position.saturating_add(1)).find_map(Step::begin);
        days.extend(before.into_iter().chain(after).map(|at| at.date()));
    }
    days.into_iter().collect()
}

/// What people did in one run.
fn of_run(record: &Record, index: usize) -> Vec<Deed<'_>> {
    let Some(run) = record.runs.get(index) else { return Vec::new() };
    let path = Path::root().key("runs").index(index).key("steps");
    let deed = |(i, step): (usize, &'_ Step)| -> Option<Deed<'_>> {
        // Borrowed from the record, not from the closure's argument.
        let by = run.steps.get(i).and_then(by_of)?;
        // Whoever did it elsewhere is nobody of this shop's.
        if step.immersion().is_some_and(|i| i.evidence.is_some()) {
            return None;
        }
        let path = path.index(i).key(step.key()).key("by");
        let what = step.key().to_owned();
        Some(Deed { by, work: work_of(step), days: days_of(run, i), what, document: Document::Record, path })
    };
    run.steps.iter().enumerate().filter_map(deed).collect()
}

/// Who tested, and who mixed the solution tested with.
pub fn of_test<'a>(test: &'a Test, solutions: &'a [Solution], path: &Path) -> Vec<Deed<'a>> {
    if test.made_outside() {
        return Vec::new();
    }
    let mut days = vec![test.started.date()];
    days.extend(test.ended.map(|at| at.date()).filter(|day| *day != test.started.date()));
    let tested = Deed {
        by: &test.by,
        work: &[Work::Testing],
        days,
        what: test.test.name().to_owned(),
        document: Document::Record,
        path: path.key("by"),
    };
    let mixed = solutions.iter().filter(|s| test.solution.as_deref() == Some(s.solution.as_str()));
    let mixed = mixed.map(|solution| Deed {
        by: &solution.by,
        work: &[Work::Testing],
        days: vec![solution.mixed.date()],
        what: format!("mixing {}", solution.solution),
        document: Document::Solutions,
        path: Path::root().key("solutions").key(&solution.solution).key("by"),
    });
    std::iter::once(tested).chain(mixed).collect()
}

/// Who looked.
fn of_look<'a>(look: &'a Visual, path: &Path) -> Deed<'a> {
    Deed {
        by: &look.by,
        work: &[Work::Inspection],
        days: vec![look.at.date()],
        what: "look".to_owned(),
        document: Document::Record,
        path: path.key("by"),
    }
}

/// Who measured.
pub fn of_measurement<'a>(measurement: &'a Measurement, path: &Path) -> Deed<'a> {
    Deed {
        by: &measurement.by,
        work: &[Work::Measuring],
        days: vec![measurement.at.date()],
        what: measurement.what.name().to_owned(),
        document: Document::Record,
        path: path.key("by"),
    }
}

/// Who made the analysis in force when a treatment bath was used.
fn of_analysis<'a>(baths: &'a [Bath], immersion: &Immersion) -> Option<Deed<'a>> {
    let bath = baths.iter().find(|b| b.bath == immersion.bath)?;
    let when: Moment = immersion.in_at.or(immersion.out_at)?;
    let (_, analysis) = bath.analysis_at(&when)?;
    let path = Path::root().key("baths").key(&bath.bath).key("analyses").key(&analysis.at.to_string());
    Some(Deed {
        by: &analysis.by,
        work: &[Work::Testing],
        days: vec![analysis.at.date()],
        what: format!("analysis of {}", bath.bath),
        document: Document::Baths,
        path: path.key("by"),
    })
}

/// The treatment baths of a run.
fn treatment_baths(run: &Run) -> impl Iterator<Item = &Immersion> {
    let judged = |s: &&Step| {
        matches!(s, Step::Passivate(_) | Step::Electropolish(_) | Step::PostDip(_) | Step::PostTreat(_))
    };
    run.steps.iter().filter(judged).filter_map(Step::immersion)
}

/// The runs whose steps count for the pieces of a final run: itself, the earlier ones up to the one a treatment
/// was carried out in, and those before it up to the cleaning it rests on.
fn counting_runs(dossier: &Dossier, run: &FinalRun) -> Vec<usize> {
    let chain: Vec<usize> = std::iter::once(run.index).chain(run.earlier.iter().copied()).collect();
    let carried: BTreeSet<usize> =
        carried_by(dossier, std::slice::from_ref(run)).into_iter().map(|c| c.run).collect();
    let last = chain.iter().rposition(|index| carried.contains(index)).unwrap_or(0);
    let cleans = |index: &usize| {
        let run = dossier.record.runs.get(*index);
        run.is_some_and(|r| {
            r.steps.iter().any(|s| matches!(s, Step::Clean(_) | Step::Descale(_) | Step::Electropolish(_)))
        })
    };
    let cleaned = chain.iter().skip(last).position(cleans).map_or(last, |more| last.saturating_add(more));
    chain.into_iter().take(cleaned.saturating_add(1)).collect()
}

/// Who ran the steps that count for a run.
fn operators<'a>(dossier: &'a Dossier, run: &FinalRun) -> Vec<Deed<'a>> {
    counting_runs(dossier, run).into_iter().flat_map(|index| of_run(&dossier.record, index)).collect()
}

/// Who made the analyses in force for its treatment baths.
fn analysts<'a>(dossier: &'a Dossier, run: &FinalRun) -> Vec<Deed<'a>> {
    let counting = counting_runs(dossier, run);
    let runs = counting.iter().filter_map(|index| dossier.record.runs.get(*index));
    runs.flat_map(treatment_baths).filter_map(|i| of_analysis(&dossier.baths, i)).collect()
}

/// Who looked at its pieces.
fn inspectors<'a>(dossier: &'a Dossier, run: &FinalRun) -> Vec<Deed<'a>> {
    let looks = dossier.record.visual.iter().enumerate();
    let counts = looks.filter(|(_, look)| counts_for(run, &look.covers, look.at));
    counts.map(|(i, look)| of_look(look, &Path::root().key("visual").index(i))).collect()
}

/// Whether an entry speaks for pieces as a run left them.
fn counts_for(run: &FinalRun, covers: &[String], at: Moment) -> bool {
    run.covered_by(covers) && run.end().is_some_and(|end| at >= end)
}

/// The days the steps that count for a run were made on.
pub fn days(dossier: &Dossier, run: &FinalRun) -> BTreeSet<Date> {
    operators(dossier, run).into_iter().flat_map(|deed| deed.days).collect()
}

/// Everything people did that counts for the pieces as they are; history is left out.
pub fn deeds(dossier: &Dossier) -> Vec<Deed<'_>> {
    let record = &dossier.record;
    let runs = final_runs(record);
    let mut all = Vec::new();
    for run in &runs {
        all.extend(operators(dossier, run));
        all.extend(analysts(dossier, run));
        all.extend(inspectors(dossier, run));
    }
    let path = Path::root();
    let counts = |covers: &[String], at: Moment| runs.iter().any(|run| counts_for(run, covers, at));
    for test in record.tests.iter().filter(|t| counts(&t.covers, t.started)) {
        all.extend(of_test(test, &dossier.solutions, &path));
    }
    let measured = record.measurements.iter().filter(|m| counts(&m.covers, m.at));
    all.extend(measured.map(|m| of_measurement(m, &path)));
    all
}

/// Evidence for one run.
pub fn evidence(dossier: &Dossier, run: &FinalRun, subject: Subject) -> Vec<Evidence> {
    let deeds = match subject {
        Subject::OperatorQualified => operators(dossier, run),
        Subject::AnalystQualified => analysts(dossier, run),
        _ => inspectors(dossier, run),
    };
    qualified(dossier, &deeds)
}

fn words(work: &[Work]) -> String {
    work.iter().map(|w| w.name()).collect::<Vec<_>>().join(" or ")
}

/// Holds deeds against the book's people: what is wrong, else one line that all is well. No deed, no evidence:
/// that nothing was done is another requirement's gap.
pub fn qualified(dossier: &Dossier, deeds: &[Deed]) -> Vec<Evidence> {
    if deeds.is_empty() {
        return Vec::new();
    }
    let mut wrong: Vec<Evidence> = Vec::new();
    for deed in deeds {
        let named = |found: Found| Evidence::at(deed.document, deed.path.clone(), found);
        let Some(person) = dossier.people.iter().find(|p| p.name == deed.by) else {
            wrong.push(named(Found::Missing(Reason::NotInBook(format!("person `{}`", deed.by)))));
            continue;
        };
        if deed.days.is_empty() {
            wrong.push(named(Found::Missing(Reason::Unknown(format!("the day of {}", deed.what)))));
        }
        for day in &deed.days {
            let held = person.qualification_on(deed.work, *day);
            if held.is_some_and(|(_, q)| q.in_force(*day)) {
                continue;
            }
            let observed = match held.and_then(|(_, q)| q.until.map(|until| (q.work, until))) {
                Some((work, until)) => format!("{}: {} until {until}", person.name, work.name()),
                None => format!("{}: not qualified", person.name),
            };
            let limit = format!("qualified for {} on {day} ({})", words(deed.work), deed.what);
            let path = Path::root().key("people").key(&person.name).key("qualified");
            wrong.push(Evidence::at(Document::People, path, Found::Own { observed, limit, met: false }));
        }
    }
    if !wrong.is_empty() {
        return wrong;
    }
    let people: BTreeSet<&str> = deeds.iter().map(|d| d.by).collect();
    let observed = match people.len() {
        1 => "1 person, qualified".to_owned(),
        n => format!("{n} people, all qualified"),
    };
    let limit = "known and qualified on the day".to_owned();
    let path = deeds.first().map_or(Path::root(), |d| d.path.clone());
    vec![Evidence::at(
        deeds.first().map_or(Document::Record, |d| d.document),
        path,
        Found::Own { observed, limit, met: true },
    )]
}
