//! How severely a lot is inspected, by the lots of the same purchaser, part and standard before it.
//!
//! Only original inspections count: looks and tests of pieces before anything was treated again (MIL-STD-105E 4.7,
//! ANSI/ASQ Z1.4 8.3). Those rules run apart for each class of defect; here one history is kept for a standard, and a
//! lot stands in it with the worst of its looks and tests (rule of the house: inspection gets stricter no later, and
//! laxer no sooner, than it would with a history for each).

use crate::finding::Reason;
use crate::judge::Dossier;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::judge::Resolved;
use crate::judge::tests_made::table_of;
use crate::moment::Date;
use crate::moment::Moment;
use crate::pack::SamplingEvent;
use crate::pack::SamplingHappened;
use crate::pack::SamplingTable;
use crate::pack::Switched;
use crate::part::CallOut;
use crate::record::Record;
use crate::record::Run;
use crate::sampling;
use crate::sampling::Name;
use crate::sampling::Next;
use crate::sampling::NotReduced;
use crate::sampling::Past;
use crate::sampling::PlanError;
use crate::sampling::Rules;
use crate::sampling::Severity;
use crate::sampling::Standard;
use crate::sampling::State;
use crate::sampling::Tables;

/// The original inspection of a lot under one call-out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Inspected {
    /// The lot.
    pub lot: String,
    /// When its last original look or test began.
    pub at: Moment,
    /// Its pieces.
    pub pieces: u64,
    /// Pieces inspected: the fewest of its looks and tests.
    pub sample: u64,
    /// Pieces that failed: the most of its looks and tests.
    pub failed: u64,
}

/// The original inspection of a lot, if it was inspected: `looked_at` says whether looks fall under the call-out's
/// plan, tests do when it orders them.
pub fn inspected(record: &Record, call_out: &CallOut) -> Option<Inspected> {
    let first: Vec<&Run> = record.runs.iter().filter(|r| r.treats_again.is_none()).collect();
    let original = |covers: &[String]| {
        !covers.is_empty() && covers.iter().all(|name| first.iter().any(|run| run.run == *name))
    };
    // Looks are one kind of inspection, each test ordered is another.
    let mut kinds: Vec<Vec<(Moment, u64, u64)>> = vec![
        record.visual.iter().filter(|v| original(&v.covers)).map(|v| (v.at, v.pieces, v.failed)).collect(),
    ];
    for kind in &call_out.tests {
        let made = record.tests.iter().filter(|t| t.test == *kind && original(&t.covers));
        kinds.push(made.map(|t| (t.started, t.pieces, t.failed)).collect());
    }
    kinds.retain(|kind| !kind.is_empty());
    let sum = |kind: &Vec<(Moment, u64, u64)>, of: fn(&(Moment, u64, u64)) -> u64| {
        kind.iter().fold(0_u64, |sum, one| sum.saturating_add(of(one)))
    };
    Some(Inspected {
        lot: record.lot.clone(),
        at: kinds.iter().flatten().map(|(at, _, _)| *at).max()?,
        pieces: first.iter().fold(0_u64, |sum, run| sum.saturating_add(run.pieces)),
        sample: kinds.iter().map(|kind| sum(kind, |one| one.1)).min()?,
        failed: kinds.iter().map(|kind| sum(kind, |one| one.2)).max()?,
    })
}

/// What held beside the lots on a day, from events in any order.
struct Beside<'a> {
    events: Vec<&'a SamplingEvent>,
}

impl Beside<'_> {
    /// The last of two kinds of event that stands on a day: whether it is the first kind.
    fn last(&self, day: Date, yes: SamplingHappened, no: SamplingHappened, else_: bool) -> bool {
        let those = self.events.iter().filter(|e| e.on <= day && (e.what == yes || e.what == no));
        // Of two on one day the later in the file stands.
        let mut last: Option<&&SamplingEvent> = None;
        for event in those {
            if last.is_none_or(|l| event.on >= l.on) {
                last = Some(event);
            }
        }
        last.map_or(else_, |event| event.what == yes)
    }

    fn steady(&self, day: Date) -> bool {
        self.last(day, SamplingHappened::Steady, SamplingHappened::Irregular, true)
    }

    fn reduced_authorised(&self, day: Date) -> bool {
        self.last(day, SamplingHappened::ReducedAuthorised, SamplingHappened::ReducedEnded, false)
    }

    /// Whether corrective action was taken after one day and by another.
    fn corrected(&self, after: Option<Date>, by: Date) -> bool {
        let action = |e: &&&SamplingEvent| e.what == SamplingHappened::CorrectiveAction;
        self.events.iter().filter(action).any(|e| e.on <= by && after.is_none_or(|after| e.on >= after))
    }
}

/// The table a lot is inspected by: `history` holds the lots before it in the order of their inspection, `day` is the
/// day of its own. A lot of which too few pieces were inspected is passed over unless it was not accepted.
///
/// # Errors
/// When the plan has no table at the severity the rules ask for.
pub fn switched(
    tables: &Tables,
    plan: &Name,
    standard: &str,
    history: &[Inspected],
    events: &[&SamplingEvent],
    day: Date,
) -> Result<SamplingTable, PlanError> {
    let Name::Indexed { standard: by, level, aql, begins } = plan else {
        let rows = sampling::rows(tables, plan, Severity::Normal)?;
        return Ok(SamplingTable { level: *plan, aql: None, switched: None, rows });
    };
    let beside = Beside { events: events.to_vec() };
    let rules = |day: Date| Rules {
        standard: *by,
        level: *level,
        aql: *aql,
        begins: *begins,
        // The reduced tables of ISO 2859-1 are not known here, so that its lots stay on normal inspection.
        reduced_authorised: *by != Standard::Iso2859 && beside.reduced_authorised(day),
        limit_numbers: true,
    };
    let mut past: Vec<Past> = Vec::new();
    let mut lots: Vec<&str> = Vec::new();
    let mut stopped_on: Option<Date> = None;
    let state = |past: &[Past], stopped_on: Option<Date>, day: Date| -> (State, Next) {
        let next = Next { steady: beside.steady(day), corrected: beside.corrected(stopped_on, day) };
        (sampling::state(tables, &rules(day), past, &next), next)
    };
    for lot in history {
        let day = lot.at.date();
        let (before, next) = state(&past, stopped_on, day);
        let row = sampling::row_for(tables, plan, before.severity, lot.pieces)?;
        if lot.sample < row.pieces(lot.pieces) && lot.failed < row.reject {
            continue;
        }
        past.push(Past {
            lot: lot.pieces,
            severity: before.severity,
            sample: row.pieces(lot.pieces),
            accept: row.accept,
            reject: row.reject,
            found: lot.failed,
            original: true,
            steady: next.steady,
            corrected: next.corrected,
        });
        lots.push(&lot.lot);
        let after =
            sampling::state(tables, &rules(day), &past, &Next { steady: next.steady, corrected: false });
        if after.stopped && !before.stopped {
            stopped_on = Some(day);
        }
    }
    let (now, _) = state(&past, stopped_on, day);
    let rows = sampling::rows(tables, plan, now.severity)?;
    Ok(SamplingTable {
        level: *plan,
        aql: Some(aql.to_string()),
        switched: Some(Switched {
            standard: standard.to_owned(),
            severity: now.severity,
            stopped: now.stopped,
            because: because(&now),
            since: lots.get(now.since).map(|lot| (*lot).to_owned()),
            lots: u64::try_from(lots.len()).unwrap_or(u64::MAX),
            after: lots.last().map(|lot| (*lot).to_owned()),
        }),
        rows,
    })
}

/// Evidence about the plan of a call-out: that it is known, and not stopped. None where no plan is ordered.
pub(super) fn plan(dossier: &Dossier, resolved: Option<&Resolved>) -> Vec<Evidence> {
    let Some((resolved, plan)) = resolved.and_then(|r| Some((r, r.call_out.sampling?))) else {
        return Vec::new();
    };
    let at = |found| vec![Evidence::at(resolved.place.document, resolved.place.path.key("sampling"), found)];
    if matches!(plan, Name::Every | Name::Zero(_)) {
        return at(Found::Fact { shown: plan.to_string(), holds: true });
    }
    let Some(table) = table_of(&dossier.sampling, &plan, resolved.call_out.standard.as_deref()) else {
        return at(Found::Missing(Reason::NotInBook(format!("the sampling plan {plan}"))));
    };
    at(match &table.switched {
        None => Found::Fact { shown: plan.to_string(), holds: true },
        Some(switched) => Found::Own {
            observed: format!("{plan}: {}", told(switched)),
            limit: "a plan by which lots are accepted".to_owned(),
            met: !switched.stopped,
        },
    })
}

/// How a lot is inspected and why, in words.
pub fn told(switched: &Switched) -> String {
    let since = switched.since.as_ref().map(|lot| format!(" since lot {lot}")).unwrap_or_default();
    let lots = match switched.lots {
        0 => "no lot before it".to_owned(),
        1 => "1 lot before it".to_owned(),
        n => format!("{n} lots before it"),
    };
    let how = if switched.stopped { "inspection stopped" } else { switched.severity.name() };
    let inspection = if switched.stopped { "" } else { " inspection" };
    format!("{how}{inspection}{since} ({}; {lots})", switched.because)
}

/// Why inspection is as severe as it is, and what keeps it from being reduced where that is near.
fn because(state: &State) -> String {
    let why = state.why.words().to_owned();
    match state.not_reduced {
        Some(NotReduced::TooMany { found, limit }) => {
            format!("{why}; not reduced: {found} failed in the last lots, the limit number is {limit}")
        }
        Some(NotReduced::LimitNotKnown(units)) => {
            format!("{why}; not reduced: the limit number for {units} pieces is not known here")
        }
        _ => why,
    }
}
