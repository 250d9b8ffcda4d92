//! What the figures are made from: the lots of some days, judged now, with what the journal of their checks saw; the
//! certificates of the register; the readings of a bath.
//!
//! A lot is of the day its last treatment step ended. Judging it for a figure is a check like any other and leaves
//! its line in the journal: a report must be no way to see gaps without a trace.

mod bath;
mod certificates;

use crate::app::addressees::Addressees;
use crate::app::affected::purchaser_named;
use crate::app::book::Book;
use crate::app::dossier::Case;
use crate::app::error::Error;
use crate::app::journal;
use crate::app::world::World;
use crate::changes::Chain;
use crate::figures;
use crate::figures::Days;
use crate::figures::Gap;
use crate::figures::Lot;
use crate::finding::Finding;
use crate::folder;
use crate::judge;
use crate::moment::Moment;
use crate::record::Record;

pub use bath::BathReadings;
pub use bath::bath;
pub use certificates::Month;
pub use certificates::month;
pub use certificates::turn_round;

/// Which lots and certificates.
#[derive(Debug, Clone, Default)]
pub struct Scope {
    /// Of which days.
    pub days: Days,
    /// Of which purchaser, by name; left out: all.
    pub purchaser: Option<String>,
}

impl Scope {
    /// Days and a purchaser given by name or id.
    pub fn new(book: &Book, days: Days, purchaser: Option<&str>) -> Result<Scope, Error> {
        if let (Some(from), Some(to)) = (days.from, days.to)
            && from > to
        {
            return Err(Error::cannot(format!("{from} comes after {to}"), "exchange --from and --to"));
        }
        let purchaser = purchaser.map(|name| purchaser_named(&Addressees::of(book), name)).transpose()?;
        Ok(Scope { days, purchaser })
    }

    /// Why a record is left out. Of a report for one purchaser nothing that may be another's.
    fn unread(&self, error: &Error) -> String {
        match self.purchaser {
            None => error.to_string(),
            Some(_) => "a record that cannot be read, so that nobody can tell whose it is".to_owned(),
        }
    }

    fn wants(&self, purchaser: &str) -> bool {
        self.purchaser.as_deref().is_none_or(|wanted| wanted == purchaser)
    }
}

/// The lots of some days.
#[derive(Debug, Default)]
pub struct Lots {
    /// Those that were judged, by lot number.
    pub lots: Vec<Lot>,
    /// Lots whose treatment names no day: in no figure.
    pub undated: Vec<String>,
    /// Records that could not be read or judged, and why: in no figure.
    pub unread: Vec<String>,
    /// Lots whose journal does not hold or could not be written, and why.
    pub journals: Vec<String>,
}

/// A lot judged for a figure.
struct Judged {
    case: Case,
    /// Its record with the steps of the loads it went through in.
    record: Record,
    findings: Vec<Finding>,
    unkept: Option<Error>,
}

/// A lot's papers, and its record with the steps of the loads it went through in.
fn read(book: &Book, file: &str) -> Result<(Case, Record), Error> {
    let case = book.case(book.lot(file)?)?;
    let record = judge::whole(&case.dossier).into_owned().record;
    Ok((case, record))
}

/// Judges a lot and leaves the check's line in its journal.
fn judged(book: &Book, (mut case, record): (Case, Record), world: &World) -> Result<Judged, Error> {
    let (findings, kept) = journal::judge_and_keep(book, &mut case, Moment::from_clock(world.now()))?;
    Ok(Judged { case, record, findings, unkept: kept.unkept })
}

/// The name of a purchaser by its id; the id where nobody knows it.
fn purchaser_of(book: &Book, id: &str) -> String {
    let found = book.purchasers.purchasers.iter().find(|p| p.id == id);
    found.map_or_else(|| id.to_owned(), |p| p.name.clone())
}

/// Reads and judges the lots in scope.
pub fn lots(book: &Book, scope: &Scope, world: &World) -> Result<Lots, Error> {
    let mut all = Lots::default();
    for file in book.lot_files()? {
        let papers = match read(book, &file) {
            Ok(papers) => papers,
            Err(error) => {
                all.unread.push(scope.unread(&error));
                continue;
            }
        };
        let purchaser = purchaser_of(book, &papers.0.dossier.order.purchaser);
        if !scope.wants(&purchaser) {
            continue;
        }
        match papers.1.processed() {
            None => all.undated.push(papers.1.lot),
            Some((_, last)) if !scope.days.hold(last) => {}
            Some(_) => match judged(book, papers, world) {
                Ok(judged) => all.lots.push(figures_of(book, purchaser, &judged, &mut all.journals)),
                Err(error) => all.unread.push(error.to_string()),
            },
        }
    }
    all.lots.sort_by(|a, b| a.lot.cmp(&b.lot));
    Ok(all)
}

fn figures_of(book: &Book, purchaser: String, judged: &Judged, journals: &mut Vec<String>) -> Lot {
    let record = &judged.record;
    let name = record.lot.clone();
    if let Some(why) = &judged.unkept {
        journals.push(format!("{name}: this check is not in its journal: {why}"));
    }
    let text = folder::read_text(&book.folder.path(&journal::file(&name))).unwrap_or_default();
    let chain = Chain::read(&text, &name);
    let broken = judged.case.dossier.checks.as_ref().map(|c| c.broken.clone()).unwrap_or_default();
    journals.extend(broken.first().map(|why| format!("{name}: {why}")));
    let holds = broken.is_empty() && chain.broken.is_empty() && judged.unkept.is_none();
    let first = chain.lines.first().filter(|_| holds);
    let first_check = first.map(|line| u64::try_from(line.gaps.len()).unwrap_or(u64::MAX));

    let mut gaps: Vec<Gap> = Vec::new();
    let mut add = |gap: Gap| {
        let same = |g: &Gap| g.requirement == gap.requirement && g.place == gap.place;
        if !gaps.iter().any(same) {
            gaps.push(gap);
        }
    };
    for finding in judged.findings.iter().filter(|f| f.is_gap()) {
        add(Gap {
            requirement: finding.requirement.clone(),
            subject: finding.subject.clone(),
            place: finding.place_in_lot.clone(),
            open: true,
        });
    }
    // The gaps of earlier checks, as their lines name them: requirement, comma, part of the lot.
    for seen in chain.lines.iter().flat_map(|line| &line.gaps) {
        let (requirement, place) = seen.split_once(", ").unwrap_or((seen, ""));
        add(Gap {
            requirement: requirement.to_owned(),
            subject: subject_of(book, requirement),
            place: place.to_owned(),
            open: false,
        });
    }
    let (treated, again) = figures::treated(record);
    Lot {
        day: record.processed().map(|(_, last)| last),
        purchaser,
        treated,
        again,
        accepted: record.counts.accepted,
        used_up: record.counts.destroyed_in_test,
        gaps,
        first_check,
        lot: name,
    }
}

/// What a requirement looks at, by the rulebook; nothing when no pack has it.
fn subject_of(book: &Book, requirement: &str) -> String {
    let Some((pack, id)) = requirement.split_once('/') else { return String::new() };
    let pack = book.packs.iter().find(|p| p.pack == pack);
    let found = pack.and_then(|p| p.requirements.iter().find(|r| r.id == id));
    found.map(|r| r.subject.name().to_owned()).unwrap_or_default()
}
