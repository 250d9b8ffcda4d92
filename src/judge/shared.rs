//! What a lot shares with others: a load in the tanks, a test report for the inspection lot. The lot says what it
//! shared, the shared paper says it too, and the two agree.

use std::collections::BTreeSet;

use crate::alloy::Series;
use crate::finding::Document;
use crate::finding::Reason;
use crate::judge::Dossier;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::load::OtherLot;
use crate::load::TestReport;
use crate::moment::Date;
use crate::path::Path;
use crate::record::Record;
use crate::record::Step;
use crate::record::TestKind;

/// Most days from the first to the last treatment of an inspection lot beyond its first: the next day still counts.
const MOST_DAYS: i64 = 1;

/// Every load the lot says it was in, and every load that says so of the lot.
pub fn loads(dossier: &Dossier) -> Vec<Evidence> {
    let record = &dossier.record;
    let mut all = Vec::new();
    let mut names: BTreeSet<&str> = dossier.loads.iter().map(|l| l.load.as_str()).collect();
    // A label beside a run's own steps is all there is of a load nobody wrote down.
    names.extend(record.runs.iter().filter(|r| r.steps.is_empty()).filter_map(|r| r.load.as_deref()));
    for name in names {
        let runs = record.runs.iter().enumerate().filter(|(_, r)| r.load.as_deref() == Some(name));
        let runs: Vec<_> = runs.collect();
        let path = runs
            .first()
            .map_or(Path::root().key("runs"), |(i, _)| Path::root().key("runs").index(*i).key("load"));
        let Some(load) = dossier.loads.iter().find(|l| l.load == name) else {
            all.push(Evidence::record(path, Found::Missing(Reason::NotInBook(format!("load `{name}`")))));
            continue;
        };
        let said = runs.iter().find(|(_, run)| !run.steps.is_empty() && run.steps != load.steps);
        if let Some((_, run)) = said {
            let why = format!("run {} has steps of its own, load {name} has others", run.run);
            all.push(Evidence::record(path, Found::Missing(Reason::Contradiction(why))));
            continue;
        }
        let pieces = runs.iter().fold(0_u64, |sum, (_, run)| sum.saturating_add(run.pieces));
        let carried = load.pieces();
        let found = Found::Own {
            observed: format!("load {name}: {pieces} pieces in its runs"),
            limit: format!("{carried} pieces of this lot carried by the load"),
            met: pieces == carried && pieces > 0,
        };
        let at = Path::root().key("loads").key(name).key("carried");
        all.push(Evidence::at(Document::Load, at, found));
    }
    or_nothing(all)
}

/// Every report the record names, and every report that speaks for the lot.
pub fn reports(dossier: &Dossier) -> Vec<Evidence> {
    let record = &dossier.record;
    let mut all = Vec::new();
    for (i, name) in record.test_reports.iter().enumerate() {
        let path = Path::root().key("test_reports").index(i);
        let found = match dossier.reports.iter().find(|r| r.report == *name) {
            None => Found::Missing(Reason::NotInBook(format!("test report `{name}`"))),
            Some(report) if report.for_own().is_none() => {
                let why = format!("report {name} does not speak for this lot");
                Found::Missing(Reason::Contradiction(why))
            }
            Some(_) => Found::Fact { shown: format!("report {name}"), holds: true },
        };
        all.push(Evidence::record(path, found));
    }
    // One that speaks for the lot and goes unnamed is the one that failed.
    for report in dossier.reports.iter().filter(|r| !record.test_reports.contains(&r.report)) {
        let why = format!("report {} speaks for this lot, its record does not name it", report.report);
        let found = Found::Missing(Reason::Contradiction(why));
        all.push(Evidence::record(Path::root().key("test_reports"), found));
    }
    or_nothing(all)
}

/// The treatment baths of a record, in order of their ids.
pub fn treatment_baths(record: &Record) -> Vec<String> {
    let treats = |s: &&Step| matches!(s, Step::Passivate(_) | Step::Electropolish(_));
    let steps = record.runs.iter().flat_map(|run| run.steps.iter().filter(treats));
    let baths: BTreeSet<String> = steps.filter_map(Step::immersion).map(|i| i.bath.clone()).collect();
    baths.into_iter().collect()
}

/// That the lots a report speaks for can be one lot to a standard: one kind of metal, the same treatment baths,
/// the same day or the next. `dossier` is whole.
pub fn one_kind(dossier: &Dossier) -> Vec<Evidence> {
    let shared = dossier.reports.iter().filter(|r| !r.others.is_empty() && r.for_own().is_some());
    let all = shared.map(|report| {
        let path = Path::root().key("reports").key(&report.report).key("speaks_for");
        Evidence::at(Document::Report, path, kind_of(dossier, report))
    });
    or_nothing(all.collect())
}

fn kind_of(dossier: &Dossier, report: &TestReport) -> Found {
    let record = &dossier.record;
    let unknown = |what: &str| {
        Found::Missing(Reason::Unknown(format!("{what} of every lot report {} speaks for", report.report)))
    };
    let days = record.processed();
    let own = OtherLot {
        series: dossier.alloy.as_ref().map(|a| a.series),
        baths: treatment_baths(record),
        first: days.map(|(first, _)| first),
        last: days.map(|(_, last)| last),
        pieces: 0,
    };
    let every = || std::iter::once(&own).chain(&report.others);
    let Some(series) = every().map(|o| o.series).collect::<Option<Vec<Series>>>() else {
        return unknown("the alloy");
    };
    let Some(days) = every().map(|o| Some((o.first?, o.last?))).collect::<Option<Vec<(Date, Date)>>>() else {
        return unknown("the days of processing");
    };
    if every().any(|o| o.baths.is_empty()) {
        return unknown("the treatment baths");
    }
    let (first, last) = (days.iter().map(|d| d.0).min(), days.iter().map(|d| d.1).max());
    let (Some(first), Some(last)) = (first, last) else { return unknown("the days of processing") };
    let named: BTreeSet<&str> = series.iter().map(|s| s.name()).collect();
    let baths: BTreeSet<String> = every().map(|o| o.baths.join(" and ")).collect();
    let span = last.days_since(first);
    let count = report.others.len().saturating_add(1);
    let days = if first == last { format!("on {first}") } else { format!("from {first} to {last}") };
    Found::Own {
        observed: format!(
            "report {}: {count} lots, {}, bath {}, {days}",
            report.report,
            named.iter().copied().collect::<Vec<_>>().join(", "),
            baths.iter().cloned().collect::<Vec<_>>().join(", ")
        ),
        limit: "one alloy series, the same treatment baths, the same day or the next".to_owned(),
        met: named.len() == 1 && baths.len() == 1 && span <= MOST_DAYS,
    }
}

/// Pieces of other lots in the inspection lot a kind of test was made for.
pub fn others_pieces(dossier: &Dossier, kind: TestKind) -> u64 {
    let shared = dossier.reports.iter().filter(|r| r.test.test == kind && r.for_own().is_some());
    shared.map(TestReport::others_pieces).max().unwrap_or(0)
}

fn or_nothing(all: Vec<Evidence>) -> Vec<Evidence> {
    if all.is_empty() { vec![Evidence::record(Path::root().key("runs"), Found::NotApplicable)] } else { all }
}
