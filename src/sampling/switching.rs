//! Switching: how severe the inspection of the next lot is, from the lots before it.
//!
//! MIL-STD-105E 4.7 and ANSI/ASQ Z1.4 8.3 (2003), read; ISO 2859-1:1999 differs on the way to reduced inspection (a
//! score; its steps are recalled). Inspection stops when 5 lots of one stretch of tightened inspection were not
//! accepted. (MIL-STD-105D stopped after 10 consecutive lots on tightened inspection, recalled; it is not offered
//! here.) ASTM B602 does not switch. Rules run on original inspections alone, and apart for each class of defect.

use crate::sampling::Aql;
use crate::sampling::Level;
use crate::sampling::LimitNumber;
use crate::sampling::Severity;
use crate::sampling::Standard;
use crate::sampling::Tables;
use crate::sampling::Verdict;
use crate::sampling::verdict;

/// Lots looked back at for the way to tightened inspection.
const WINDOW: usize = 5;
/// Lots accepted in a row that end tightened inspection.
const BACK: u32 = 5;
/// Lots not accepted on tightened inspection that stop it.
const STOP: u32 = 5;
/// Lots accepted in a row that may open reduced inspection.
const RUN: usize = 10;
/// Score of ISO 2859-1 that opens reduced inspection.
const SCORE: u32 = 30;

/// By which rules.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rules {
    /// The standard.
    pub standard: Standard,
    /// Inspection level.
    pub level: Level,
    /// Acceptable quality level.
    pub aql: Aql,
    /// Severity with which inspection begins; normal unless told otherwise.
    pub begins: Severity,
    /// Whether the responsible authority wants reduced inspection.
    pub reduced_authorised: bool,
    /// Whether limit numbers count; ANSI/ASQ Z1.4 8.5 lets the parties drop them. They always count in MIL-STD-105E.
    pub limit_numbers: bool,
}

/// A lot that was inspected.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Past {
    /// Pieces of the lot.
    pub lot: u64,
    /// How severely it was inspected.
    pub severity: Severity,
    /// Pieces inspected.
    pub sample: u64,
    /// Acceptance number of the plan used.
    pub accept: u64,
    /// Rejection number of the plan used.
    pub reject: u64,
    /// Nonconforming found.
    pub found: u64,
    /// First inspection of the lot; a lot presented again does not count.
    pub original: bool,
    /// Whether production was steady when it was made.
    pub steady: bool,
    /// Whether it is the first after the corrective action that followed a stop.
    pub corrected: bool,
}

/// The lot that comes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Next {
    /// Whether production is steady.
    pub steady: bool,
    /// Whether corrective action followed a stop.
    pub corrected: bool,
}

/// Why inspection is as severe as it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// Inspection begins so.
    Begins,
    /// Two of five or fewer consecutive lots were not accepted.
    TwoOfFive,
    /// Five consecutive lots were accepted on tightened inspection.
    FiveAccepted,
    /// Five lots of one stretch of tightened inspection were not accepted: stopped.
    Stopped,
    /// Corrective action was taken after a stop.
    Corrected,
    /// Ten or more lots were accepted, with no more nonconforming than the limit number, if that counts.
    GoodRun {
        /// Lots counted.
        lots: usize,
        /// Nonconforming in their samples.
        found: u64,
        /// Limit number; none where the parties dropped it.
        limit: Option<u64>,
    },
    /// The switching score of ISO 2859-1 reached 30.
    Score(u32),
    /// A lot was not accepted on reduced inspection.
    NotAccepted,
    /// A lot fell between Ac and Re on reduced inspection.
    BetweenNumbers,
    /// Production was not steady.
    Irregular,
    /// A lot was inspected more severely than the rules ask, which is taken as directed.
    Directed,
}

/// Why inspection of the next lot is not reduced.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotReduced {
    /// Inspection is tightened or stopped.
    NotNormal,
    /// The responsible authority has not asked for it.
    NotAuthorised,
    /// Production is not steady.
    NotSteady,
    /// Fewer than ten consecutive lots were accepted on normal inspection.
    FewLots(usize),
    /// Too few sample units for a limit number, however many lots of the run are counted.
    FewUnits(u64),
    /// The limit number is not known here: sources differ, or it is beyond the printed range.
    LimitNotKnown(u64),
    /// More nonconforming than the limit number.
    TooMany {
        /// Nonconforming in the samples.
        found: u64,
        /// Limit number.
        limit: u64,
    },
    /// The switching score has not reached 30.
    Score(u32),
}

/// One change.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Step {
    /// Place in the history of the first lot it holds for; the length of the history means the next lot.
    pub from: usize,
    /// Severity from there.
    pub severity: Severity,
    /// Why.
    pub why: Why,
}

/// How the next lot is inspected.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct State {
    /// Severity of the next lot.
    pub severity: Severity,
    /// Nothing is accepted until corrective action.
    pub stopped: bool,
    /// The last change.
    pub why: Why,
    /// Place in the history of the first lot it holds for.
    pub since: usize,
    /// Every change, the beginning included.
    pub steps: Vec<Step>,
    /// Places of lots that were inspected less severely than the rules ask, or while inspection was stopped. Their
    /// acceptance counts for nothing, their failure counts.
    pub departures: Vec<usize>,
    /// Why the next lot is not on reduced inspection; none when it is.
    pub not_reduced: Option<NotReduced>,
    /// Switching score, ISO 2859-1 only.
    pub score: Option<u32>,
}

impl Why {
    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Why::Begins => "inspection begins",
            Why::TwoOfFive => "two of five or fewer consecutive lots were not accepted",
            Why::FiveAccepted => "five consecutive lots were accepted on tightened inspection",
            Why::Stopped => "five lots were not accepted on tightened inspection",
            Why::Corrected => "corrective action was taken",
            Why::GoodRun { .. } => "ten or more consecutive lots were accepted with few nonconforming",
            Why::Score(_) => "the switching score reached 30",
            Why::NotAccepted => "a lot was not accepted on reduced inspection",
            Why::BetweenNumbers => "a lot fell between Ac and Re on reduced inspection",
            Why::Irregular => "production was not steady",
            Why::Directed => "a lot was inspected more severely than the rules ask",
        }
    }
}

/// The state after some lots.
struct Machine<'a> {
    tables: &'a Tables,
    rules: &'a Rules,
    severity: Severity,
    stopped: bool,
    steps: Vec<Step>,
    departures: Vec<usize>,
    /// Last lots on normal inspection, whether each was accepted.
    window: Vec<bool>,
    /// Lots accepted one after another on normal inspection: sample and nonconforming.
    run: Vec<(u64, u64)>,
    accepted: u32,
    refused: u32,
    score: u32,
}

/// Severity of the next lot, from the lots before it in their order.
pub fn state(tables: &Tables, rules: &Rules, history: &[Past], next: &Next) -> State {
    let mut machine = Machine::new(tables, rules);
    for (at, past) in history.iter().enumerate().filter(|(_, past)| past.original) {
        machine.before(at, past);
        machine.after(at, past);
    }
    machine.next(history.len(), next)
}

impl<'a> Machine<'a> {
    fn new(tables: &'a Tables, rules: &'a Rules) -> Self {
        let first = Step { from: 0, severity: rules.begins, why: Why::Begins };
        Machine {
            tables,
            rules,
            severity: rules.begins,
            stopped: false,
            steps: vec![first],
            departures: Vec::new(),
            window: Vec::new(),
            run: Vec::new(),
            accepted: 0,
            refused: 0,
            score: 0,
        }
    }

    /// Changes severity; counts of a stretch begin again.
    fn turn(&mut self, from: usize, severity: Severity, why: Why) {
        self.severity = severity;
        self.stopped = why == Why::Stopped;
        self.steps.push(Step { from, severity, why });
        self.window.clear();
        self.run.clear();
        (self.accepted, self.refused, self.score) = (0, 0, 0);
    }

    /// What holds before a lot of the history is inspected.
    fn before(&mut self, at: usize, past: &Past) {
        if self.stopped && past.corrected {
            self.turn(at, Severity::Tightened, Why::Corrected);
        }
        if self.severity == Severity::Reduced && !past.steady {
            self.turn(at, Severity::Normal, Why::Irregular);
        }
        if self.severity == Severity::Normal
            && past.severity == Severity::Reduced
            && let Ok(why) = self.may_reduce(past.steady)
        {
            self.turn(at, Severity::Reduced, why);
        }
        if past.severity > self.severity {
            self.turn(at, past.severity, Why::Directed);
        }
        if self.stopped || past.severity < self.severity {
            self.departures.push(at);
        }
    }

    /// What the result of a lot changes for the next.
    fn after(&mut self, at: usize, past: &Past) {
        let next = at.saturating_add(1);
        let result = verdict(past.found, past.accept, past.reject);
        let counts = past.severity == self.severity;
        if self.stopped {
            return;
        }
        match self.severity {
            Severity::Normal => self.after_normal(next, past, result.accepted(), counts),
            Severity::Tightened if result.accepted() && counts => {
                self.accepted = self.accepted.saturating_add(1);
                if self.accepted >= BACK {
                    self.turn(next, Severity::Normal, Why::FiveAccepted);
                }
            }
            Severity::Tightened => {
                self.accepted = 0;
                self.refused = self.refused.saturating_add(u32::from(!result.accepted()));
                if self.refused >= STOP {
                    self.turn(next, Severity::Tightened, Why::Stopped);
                }
            }
            Severity::Reduced => match result {
                Verdict::Accept => {}
                Verdict::AcceptBackToNormal => self.turn(next, Severity::Normal, Why::BetweenNumbers),
                Verdict::Reject => self.turn(next, Severity::Normal, Why::NotAccepted),
            },
        }
    }

    fn after_normal(&mut self, next: usize, past: &Past, accepted: bool, counts: bool) {
        if accepted && !counts {
            self.run.clear();
            self.score = 0;
            return;
        }
        self.window.push(accepted);
        if self.window.len() > WINDOW {
            self.window.remove(0);
        }
        if self.window.iter().filter(|accepted| !**accepted).count() >= 2 {
            self.turn(next, Severity::Tightened, Why::TwoOfFive);
            return;
        }
        if !accepted {
            self.run.clear();
            self.score = 0;
            return;
        }
        self.run.push((past.sample, past.found));
        self.score = match past.accept {
            0 | 1 => self.score.saturating_add(2),
            _ if self.accepted_one_tighter(past) => self.score.saturating_add(3),
            _ => 0,
        };
    }

    /// Whether a lot would have been accepted with the AQL one step stricter, sample unchanged.
    fn accepted_one_tighter(&self, past: &Past) -> bool {
        let plan = self.tables.plan(past.lot, self.rules.level, self.rules.aql, Severity::Normal).ok();
        let tighter = plan.zip(self.rules.aql.tighter());
        let numbers = tighter.and_then(|(p, aql)| self.tables.of_letter(p.used, aql, Severity::Normal));
        numbers.is_some_and(|(_, _, accept, _, _)| past.found <= accept)
    }

    fn may_reduce(&self, steady: bool) -> Result<Why, NotReduced> {
        if self.severity != Severity::Normal {
            return Err(NotReduced::NotNormal);
        }
        if !self.rules.reduced_authorised {
            return Err(NotReduced::NotAuthorised);
        }
        if !steady {
            return Err(NotReduced::NotSteady);
        }
        if self.rules.standard == Standard::Iso2859 {
            return if self.score >= SCORE {
                Ok(Why::Score(self.score))
            } else {
                Err(NotReduced::Score(self.score))
            };
        }
        if self.run.len() < RUN {
            return Err(NotReduced::FewLots(self.run.len()));
        }
        let (mut lots, mut units, mut found) = (0_usize, 0_u64, 0_u64);
        let drop = self.rules.standard == Standard::Z14 && !self.rules.limit_numbers;
        for (sample, bad) in self.run.iter().rev() {
            lots = lots.saturating_add(1);
            units = units.saturating_add(*sample);
            found = found.saturating_add(*bad);
            if lots < RUN {
                continue;
            }
            if drop {
                return Ok(Why::GoodRun { lots, found, limit: None });
            }
            match self.tables.limit_number(units, self.rules.aql) {
                LimitNumber::MoreLots => {}
                LimitNumber::Unsure | LimitNumber::NotPrinted => {
                    return Err(NotReduced::LimitNotKnown(units));
                }
                LimitNumber::Number(limit) if found <= limit => {
                    return Ok(Why::GoodRun { lots, found, limit: Some(limit) });
                }
                LimitNumber::Number(limit) => return Err(NotReduced::TooMany { found, limit }),
            }
        }
        Err(NotReduced::FewUnits(units))
    }

    fn next(mut self, at: usize, next: &Next) -> State {
        if self.stopped && next.corrected {
            self.turn(at, Severity::Tightened, Why::Corrected);
        }
        if self.severity == Severity::Reduced && !next.steady {
            self.turn(at, Severity::Normal, Why::Irregular);
        }
        let mut not_reduced = None;
        let score = self.score;
        if self.severity != Severity::Reduced {
            match self.may_reduce(next.steady) {
                Ok(why) => self.turn(at, Severity::Reduced, why),
                Err(reason) => not_reduced = Some(reason),
            }
        }
        let first = Step { from: 0, severity: self.rules.begins, why: Why::Begins };
        let last = self.steps.last().copied().unwrap_or(first);
        State {
            severity: self.severity,
            stopped: self.stopped,
            why: last.why,
            since: last.from,
            steps: self.steps,
            departures: self.departures,
            not_reduced,
            score: (self.rules.standard == Standard::Iso2859).then_some(score),
        }
    }
}
