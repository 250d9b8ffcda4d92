//! The readings of one bath: its analyses from the book, its temperatures from the records, and what the judge
//! found of both.

use std::collections::BTreeMap;

use crate::app::book::Book;
use crate::app::error::Error;
use crate::app::figures::Judged;
use crate::app::figures::Scope;
use crate::app::figures::judged;
use crate::app::figures::read;
use crate::app::world::World;
use crate::figures::Limit;
use crate::figures::Point;
use crate::figures::Series;
use crate::figures::series;
use crate::finding::Document;
use crate::finding::Finding;
use crate::finding::Verdict;
use crate::moment::Moment;
use crate::pack::Check;
use crate::pack::Subject;
use crate::path::Path;
use crate::path::Segment;
use crate::record::Immersion;
use crate::record::Step;
use crate::shop::Constituent;
use crate::units::Quantity;

/// A bath over time.
#[derive(Debug)]
pub struct BathReadings {
    /// What the bath is.
    pub what: String,
    /// Its readings, one series a kind and unit.
    pub series: Vec<Series>,
    /// Temperatures of dips that name no time: in no series.
    pub undated: u64,
    /// Dips in the bath without a temperature.
    pub unread_dips: u64,
    /// Records that could not be read or judged, and why.
    pub unread: Vec<String>,
}

/// What the judge looks at in a step of a kind: strength by constituent, temperature.
fn subjects(step: &Step, what: What) -> Option<Subject> {
    Some(match (step, what) {
        (Step::Passivate(_) | Step::Electropolish(_), What::Found(Constituent::NitricAcid)) => {
            Subject::NitricAcid
        }
        (Step::Passivate(_), What::Found(Constituent::SodiumDichromate)) => Subject::SodiumDichromate,
        (Step::Passivate(_), What::Found(Constituent::CitricAcid)) => Subject::CitricAcid,
        (Step::Passivate(_), What::Found(Constituent::Ph)) => Subject::BathPh,
        (Step::Passivate(_) | Step::Electropolish(_), What::Temperature) => Subject::BathTemperature,
        (Step::PostDip(_), What::Found(Constituent::NitricAcid)) => Subject::PostDipNitric,
        (Step::PostDip(_), What::Temperature) => Subject::PostDipTemperature,
        (Step::PostTreat(_), What::Found(Constituent::SodiumDichromate)) => Subject::PostTreatmentDichromate,
        (Step::PostTreat(_), What::Temperature) => Subject::PostTreatmentTemperature,
        _ => return None,
    })
}

/// A kind of reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum What {
    Temperature,
    Found(Constituent),
}

impl What {
    fn name(self) -> &'static str {
        match self {
            What::Temperature => "bath temperature",
            What::Found(Constituent::NitricAcid) => "nitric acid",
            What::Found(Constituent::SodiumDichromate) => "sodium dichromate",
            What::Found(Constituent::CitricAcid) => "citric acid",
            What::Found(Constituent::Ph) => "pH",
            What::Found(Constituent::SulfuricAcid) => "sulfuric acid",
            What::Found(Constituent::PhosphoricAcid) => "phosphoric acid",
            What::Found(Constituent::Iron) => "iron",
        }
    }
}

/// One use of the bath that the judge looked at.
struct Judgement {
    /// Findings of the run's subjects, with the windows of their requirements.
    found: Vec<(Finding, Vec<Limit>)>,
}

/// The windows of a finding's requirement, as the shop adopted it.
fn limits(judged: &Judged, finding: &Finding) -> Vec<Limit> {
    let Some((pack, id)) = finding.requirement.split_once('/') else { return Vec::new() };
    let packs = judged.case.dossier.packs.iter().filter(|p| p.pack.pack == pack);
    // Two editions of one pack may be called out together; the finding names its standard.
    let named = packs.filter(|p| {
        finding.standard.is_empty() || finding.standard.contains(&p.edition) || p.pack.is_house()
    });
    let requirement = named.flat_map(|p| &p.pack.requirements).find(|r| r.id == id);
    match requirement.map(|r| &r.check) {
        Some(Check::Within(windows)) => windows.iter().map(|w| Limit { low: w.from, high: w.to }).collect(),
        Some(Check::AtLeast(bounds)) => bounds.iter().map(|b| Limit { low: b.value, high: None }).collect(),
        Some(Check::AtMost(bounds)) => bounds.iter().map(|b| Limit { low: None, high: b.value }).collect(),
        _ => Vec::new(),
    }
}

/// A dip of a lot.
#[derive(Clone, Copy)]
struct Dip<'a> {
    judged: &'a Judged,
    run: usize,
    position: usize,
    step: &'a Step,
    dip: &'a Immersion,
}

impl Dip<'_> {
    /// The load whose steps stand for the run's own.
    fn load(&self) -> Option<&str> {
        let written = self.judged.case.dossier.record.runs.get(self.run)?;
        written.load.as_deref().filter(|_| written.steps.is_empty())
    }

    /// Whose reading it is: a load's is one, however many lots went through in it.
    fn whose(&self) -> String {
        let run = self.judged.record.runs.get(self.run).map(|r| r.run.as_str()).unwrap_or_default();
        match self.load() {
            Some(load) => format!("load {load}"),
            None => format!("lot {}, run {run}", self.judged.record.lot),
        }
    }

    /// Whether a finding rests on this very step, or on an analysis of its bath: a run may hold several treatments.
    fn is_of(&self, finding: &Finding, what: What) -> bool {
        let Some(run) = self.judged.record.runs.get(self.run) else { return false };
        let segments = finding.place.path.segments();
        let (document, base) = match self.load() {
            None => (Document::Record, Path::root().key("runs").index(self.run)),
            Some(load) => (Document::Load, Path::root().key("loads").key(load)),
        };
        let there = match what {
            What::Temperature => {
                let step = base.key("steps").index(self.position);
                finding.place.document == document && segments.starts_with(step.segments())
            }
            What::Found(_) => {
                finding.place.document == Document::Baths
                    && segments.contains(&Segment::Key(self.dip.bath.clone()))
            }
        };
        there && finding.place_in_lot == format!("run {}", run.run)
    }

    fn judgement(&self, what: What) -> Judgement {
        let subject = subjects(self.step, what);
        let speaks = |f: &&Finding| {
            subject.is_some_and(|s| s.name() == f.subject)
                && f.verdict != Verdict::NotApplicable
                && self.is_of(f, what)
        };
        let found = self.judged.findings.iter().filter(speaks);
        Judgement { found: found.map(|f| (f.clone(), limits(self.judged, f))).collect() }
    }
}

impl Judgement {
    /// Whether the judge found it outside, permitted or not; of several readings of one dip, the one it names.
    fn outside(&self, value: Option<&Quantity>) -> bool {
        let named = |f: &Finding| match (value, &f.observed) {
            (Some(value), Some(observed)) => *observed == value.to_string(),
            _ => true,
        };
        let against = |f: &Finding| matches!(f.verdict, Verdict::NotMet | Verdict::Accepted);
        self.found.iter().any(|(f, _)| against(f) && named(f))
    }

    fn words(&self) -> String {
        let mut said: Vec<String> = Vec::new();
        for (finding, _) in &self.found {
            let verdict = match finding.verdict {
                Verdict::Met => "met",
                Verdict::NotMet => "not met",
                Verdict::NoEvidence => "no evidence",
                Verdict::Accepted => "accepted by deviation",
                Verdict::ReliedOn => "relied on",
                Verdict::Advice => "advice",
                Verdict::NotApplicable => continue,
            };
            let word = format!("{verdict} ({})", finding.limit);
            if !said.contains(&word) {
                said.push(word);
            }
        }
        said.join("; ")
    }
}

#[derive(Default)]
struct Gathered {
    points: BTreeMap<What, Vec<Point>>,
    limits: BTreeMap<What, Vec<Limit>>,
    /// Of each analysis: uses that rest on it, and those the judge found outside, by constituent.
    rest: BTreeMap<(Moment, What), (u64, u64)>,
    undated: u64,
    unread_dips: u64,
}

impl Gathered {
    fn dip(&mut self, of: Dip, scope: &Scope) {
        let dip = of.dip;
        let found = of.judgement(What::Temperature);
        let temperatures = [(dip.temperature, dip.in_at.or(dip.out_at)), (dip.temperature_out, dip.out_at)];
        if dip.temperature.is_none() && dip.temperature_out.is_none() {
            self.unread_dips = self.unread_dips.saturating_add(1);
        }
        for (value, at) in temperatures {
            match (value, at) {
                (None, _) => {}
                (Some(_), None) => self.undated = self.undated.saturating_add(1),
                (Some(value), Some(at)) if scope.days.hold(at.date()) => {
                    self.reading(Point {
                        at,
                        value,
                        whose: of.whose(),
                        verdict: found.words(),
                        outside: found.outside(Some(&value)),
                    });
                    let all = found.found.iter().flat_map(|(_, limits)| limits).copied();
                    self.limits.entry(What::Temperature).or_default().extend(all);
                }
                _ => {}
            }
        }
    }

    /// Takes in a temperature; that of a load again for each lot that went through in it.
    fn reading(&mut self, point: Point) {
        let all = self.points.entry(What::Temperature).or_default();
        let same = |p: &&mut Point| p.at == point.at && p.value == point.value && p.whose == point.whose;
        let Some(known) = all.iter_mut().find(same) else {
            all.push(point);
            return;
        };
        known.outside |= point.outside;
        if known.verdict.is_empty() {
            known.verdict = point.verdict;
        } else if !point.verdict.is_empty() && !known.verdict.split("; ").any(|v| v == point.verdict) {
            known.verdict = format!("{}; {}", known.verdict, point.verdict);
        }
    }

    /// What the run was judged by, for the analysis it rests on.
    fn strength(&mut self, of: Dip, book: &Book) {
        let dip = of.dip;
        let bath = book.baths.document.baths.iter().find(|b| b.bath == dip.bath);
        let Some((bath, at)) = bath.zip(dip.in_at.or(dip.out_at)) else { return };
        let Some((_, analysis)) = bath.analysis_at(&at) else { return };
        for constituent in analysis.found.keys() {
            let what = What::Found(*constituent);
            let found = of.judgement(what);
            if found.found.is_empty() {
                continue;
            }
            let (uses, outside) = self.rest.entry((analysis.at, what)).or_default();
            *uses = uses.saturating_add(1);
            *outside = outside.saturating_add(u64::from(found.outside(None)));
            let all = found.found.iter().flat_map(|(_, limits)| limits).copied();
            self.limits.entry(what).or_default().extend(all);
        }
    }
}

/// Gathers a bath's readings within the days of the scope.
pub fn bath(book: &Book, name: &str, scope: &Scope, world: &World) -> Result<BathReadings, Error> {
    let baths = &book.baths.document.baths;
    let Some(bath) = baths.iter().find(|b| b.bath == name) else {
        let known: Vec<&str> = baths.iter().map(|b| b.bath.as_str()).collect();
        return Err(Error::cannot(
            format!("baths.yaml has no bath `{name}`"),
            &format!("it has {}", known.join(", ")),
        ));
    };
    let mut all = Gathered::default();
    let mut unread = Vec::new();
    for file in book.lot_files()? {
        let papers = match read(book, &file) {
            Ok(papers) => papers,
            Err(error) => {
                unread.push(error.to_string());
                continue;
            }
        };
        let dips = |immersion: &Immersion| immersion.bath == name;
        let used = papers.1.runs.iter().flat_map(|r| &r.steps).filter_map(Step::immersion).any(dips);
        let apart = papers.1.processed().is_some_and(|(first, last)| {
            scope.days.from.is_some_and(|from| last < from) || scope.days.to.is_some_and(|to| first > to)
        });
        if !used || apart {
            continue;
        }
        let judged = match judged(book, papers, world) {
            Ok(judged) => judged,
            Err(error) => {
                unread.push(error.to_string());
                continue;
            }
        };
        for (run_at, run) in judged.record.runs.iter().enumerate() {
            for (position, step) in run.steps.iter().enumerate() {
                if let Some(dip) = step.immersion().filter(|dip| dips(dip)) {
                    let of = Dip { judged: &judged, run: run_at, position, step, dip };
                    all.dip(of, scope);
                    all.strength(of, book);
                }
            }
        }
    }
    for analysis in bath.analyses.iter().filter(|a| scope.days.hold(a.at.date())) {
        for (constituent, value) in &analysis.found {
            all.analysis(analysis.at, &analysis.by, What::Found(*constituent), *value);
        }
    }
    let mut listed = Vec::new();
    for (what, points) in all.points {
        let limits = all.limits.get(&what).map(Vec::as_slice).unwrap_or_default();
        listed.extend(series(what.name(), points, limits));
    }
    Ok(BathReadings {
        what: bath.what.clone(),
        series: listed,
        undated: all.undated,
        unread_dips: all.unread_dips,
        unread,
    })
}

impl Gathered {
    fn analysis(&mut self, at: Moment, by: &str, what: What, value: Quantity) {
        let (uses, outside) = self.rest.get(&(at, what)).copied().unwrap_or_default();
        let verdict = match (uses, outside) {
            (0, _) => "no run was judged by it".to_owned(),
            (uses, 0) => format!("met by {uses} of {uses} runs"),
            (uses, outside) => format!("outside for {outside} of {uses} runs"),
        };
        self.points.entry(what).or_default().push(Point {
            at,
            value,
            whose: format!("analysed by {by}"),
            verdict,
            outside: outside > 0,
        });
    }
}
