//! What lots share, as the book keeps it: loads, test reports, periodic tests, and the files papers lie in; and of
//! each what one lot's dossier may hold.

use crate::app::book::Book;
use crate::app::book::Sourced;
use crate::app::book::read_all;
use crate::app::error::Error;
use crate::evidence::HeldFile;
use crate::folder::Folder;
use crate::judge;
use crate::judge::Dossier;
use crate::load::Load;
use crate::load::OtherLot;
use crate::load::TestReport;
use crate::path::Path;
use crate::periodic::PeriodicTest;
use crate::record::Record;
use crate::validate;
use crate::validate::Wrong;

/// Loads, reports and periodic tests that could be read.
#[derive(Debug, Clone, Default)]
pub struct Shared {
    /// Loads.
    pub loads: Vec<Sourced<Load>>,
    /// Test reports for several lots.
    pub reports: Vec<Sourced<TestReport>>,
    /// Periodic tests.
    pub periodic: Vec<Sourced<PeriodicTest>>,
}

impl Shared {
    /// Reads the three folders; what cannot be read goes to `faults`.
    pub(super) fn read(folder: &Folder, faults: &mut Vec<Error>) -> Result<Shared, Error> {
        let loads = read_all(folder, "loads", validate::load, faults)?;
        let reports = read_all(folder, "reports", validate::report_file, faults)?;
        let periodic = read_all(folder, "periodic", validate::periodic, faults)?;
        Ok(Shared {
            loads: distinct(loads, "load", |l| &l.load, faults),
            reports: distinct(reports, "report", |r| &r.report, faults),
            periodic: distinct(periodic, "periodic", |p| &p.periodic, faults),
        })
    }

    /// File and text of one of them, by its document's folder and its number.
    pub(super) fn source(&self, folder: &str, name: &str) -> Option<(&str, &str)> {
        fn of<T>(all: &[Sourced<T>], named: impl Fn(&T) -> bool) -> Option<(&str, &str)> {
            all.iter().find(|one| named(&one.document)).map(|one| (one.file.as_str(), one.text.as_str()))
        }
        match folder {
            "loads" => of(&self.loads, |l| l.load == name),
            "reports" => of(&self.reports, |r| r.report == name),
            _ => of(&self.periodic, |p| p.periodic == name),
        }
    }
}

/// Keeps those whose number no other has: which of two is meant cannot be told.
fn distinct<T>(
    all: Vec<Sourced<T>>,
    key: &str,
    name: impl Fn(&T) -> &String,
    faults: &mut Vec<Error>,
) -> Vec<Sourced<T>> {
    let names: Vec<String> = all.iter().map(|s| name(&s.document).clone()).collect();
    let mut kept = Vec::new();
    for one in all {
        let own = name(&one.document);
        if names.iter().filter(|n| *n == own).count() == 1 {
            kept.push(one);
            continue;
        }
        let wrong = Wrong {
            path: Path::root().key(key),
            message: format!("`{own}` stands in two files"),
            hint: Some("give each its own number, or keep one".to_owned()),
        };
        faults.push(Error::wrong(&one.file, &one.text, wrong));
    }
    kept
}

impl Book {
    /// A record with the reports that speak for it among its tests.
    pub(super) fn with_reports(&self, mut record: Record) -> Record {
        let lot = record.lot.clone();
        let own = self.shared.reports.iter().filter_map(|r| own_lines(&r.document, &lot));
        record.tests.extend(own.filter_map(|report| report.for_own()));
        record
    }

    /// Loads, reports and files for a dossier whose record, part and order are gathered.
    pub(super) fn add_shared(&self, dossier: &mut Dossier) -> Result<(), Error> {
        let lot = dossier.record.lot.clone();
        let runs = &dossier.record.runs;
        let loads = self.shared.loads.iter().map(|l| l.document.of_lot(&lot));
        dossier.loads = loads
            .filter(|l| {
                !l.carried.is_empty() || runs.iter().any(|r| r.load.as_deref() == Some(l.load.as_str()))
            })
            .collect();
        let named = &dossier.record.test_reports;
        let mut reports = Vec::new();
        for report in self.shared.reports.iter().map(|r| &r.document) {
            match own_lines(report, &lot) {
                Some(own) => reports.push(TestReport { others: self.others(report, &lot), ..own }),
                None if named.contains(&report.report) => {
                    reports.push(TestReport { speaks_for: Vec::new(), ..report.clone() })
                }
                None => {}
            }
        }
        dossier.reports = reports;
        dossier.files = self.files(dossier)?;
        Ok(())
    }

    /// What must be known of the other lots a report speaks for, and no more.
    fn others(&self, report: &TestReport, lot: &str) -> Vec<OtherLot> {
        let others = report.speaks_for.iter().filter(|s| s.lot != lot);
        let mut all: Vec<OtherLot> = others
            .map(|speaks| match self.lot(&speaks.lot) {
                Ok(read) => self.other(&read.document, &speaks.runs),
                // What cannot be read cannot be told to be of one kind.
                Err(_) => OtherLot { series: None, baths: Vec::new(), first: None, last: None, pieces: 0 },
            })
            .collect();
        // In an order that does not tell which lot is which.
        all.sort_by_key(|o| (o.first, o.last, o.pieces, o.baths.clone()));
        all
    }

    fn other(&self, record: &Record, runs: &[String]) -> OtherLot {
        let mut record = record.clone();
        for run in record.runs.iter_mut().filter(|r| r.steps.is_empty()) {
            let load = self.shared.loads.iter().find(|l| run.load.as_ref() == Some(&l.document.load));
            if let Some(load) = load {
                run.steps.clone_from(&load.document.steps);
            }
        }
        let days = record.processed();
        let spoken = record.runs.iter().filter(|r| runs.contains(&r.run));
        OtherLot {
            series: self.alloys.find(&record.material.grade).ok().map(|a| a.series),
            baths: judge::treatment_baths(&record),
            first: days.map(|(first, _)| first),
            last: days.map(|(_, last)| last),
            pieces: spoken.fold(0, |sum, r| sum.saturating_add(r.pieces)),
        }
    }

    /// Every file the lot's papers name that is there, hashed.
    fn files(&self, dossier: &Dossier) -> Result<Vec<HeldFile>, Error> {
        let mut all = Vec::new();
        for path in judge::files_named(&judge::whole(dossier)) {
            if let Some(bytes) = self.folder.inside(&path)? {
                all.push(HeldFile { sha256: crate::canonical::stamp(&bytes), path });
            }
        }
        Ok(all)
    }

    /// Periodic tests of the treatment baths: the last before each use, and the next where it failed. One entered
    /// later that passed makes no certificate another one.
    pub(super) fn periodic_for(&self, record: &Record) -> Vec<PeriodicTest> {
        let steps = record.runs.iter().flat_map(|run| &run.steps);
        let uses: Vec<_> = steps
            .filter_map(|s| s.immersion())
            .filter_map(|i| Some((i.bath.as_str(), i.in_at.or(i.out_at)?)))
            .collect();
        let all = || self.shared.periodic.iter().map(|p| &p.document);
        let mut kept: Vec<PeriodicTest> = Vec::new();
        for (bath, when) in uses {
            let mut processes: Vec<&str> =
                all().filter(|p| p.bath == bath).map(|p| p.process.as_str()).collect();
            processes.sort_unstable();
            processes.dedup();
            for process in processes {
                let its = || all().filter(|p| p.bath == bath && p.process == process);
                let found = [judge::last_before(its(), &when), judge::failed_after(its(), &when)];
                for test in found.into_iter().flatten() {
                    if !kept.contains(test) {
                        kept.push(test.clone());
                    }
                }
            }
        }
        kept
    }
}

/// A report with one lot's lines only; nothing when it does not speak for the lot.
fn own_lines(report: &TestReport, lot: &str) -> Option<TestReport> {
    let mut own = report.clone();
    own.speaks_for.retain(|s| s.lot == lot);
    (!own.speaks_for.is_empty()).then_some(own)
}
