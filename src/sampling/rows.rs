//! A plan as rows over lot sizes, so that a certificate can carry the whole plan it was judged by.

use serde::Deserialize;
use serde::Serialize;

use crate::sampling::Aql;
use crate::sampling::Basis;
use crate::sampling::Level;
use crate::sampling::Name;
use crate::sampling::PlanError;
use crate::sampling::Severity;
use crate::sampling::Standard;
use crate::sampling::Tables;
use crate::sampling::zero;

/// One row of a plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Row {
    /// Smallest lot of the row.
    pub lot_from: u64,
    /// Largest lot of the row; left out in the last.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lot_to: Option<u64>,
    /// Pieces to inspect; the whole lot when it is smaller. Left out: every piece.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sample: Option<u64>,
    /// Most failures with which the lot is accepted.
    pub accept: u64,
    /// Fewest failures with which it is not.
    pub reject: u64,
}

impl Row {
    /// Pieces to inspect of a lot.
    pub fn pieces(&self, lot: u64) -> u64 {
        self.sample.map_or(lot, |sample| sample.min(lot))
    }
}

/// Rows over all lot sizes from one piece, smallest first, neighbours with one plan merged.
///
/// B602 is MIL-STD-105D's level II at its AQL (its tables 1 to 3 say so); ISO 4519 is taken at level II, which nobody
/// could read ([`basis`] says `unsure`). Errors: the reduced tables of ISO 2859-1 are not known here; a plan without
/// other severities; zero acceptance, whose sample changes with nearly every lot size.
pub fn rows(tables: &Tables, name: &Name, severity: Severity) -> Result<Vec<Row>, PlanError> {
    let Some((level, aql)) = indexed(name, severity)? else {
        return match name {
            Name::Every => Ok(vec![Row { lot_from: 1, lot_to: None, sample: None, accept: 0, reject: 1 }]),
            other => Err(PlanError::NoTable { plan: other.to_string() }),
        };
    };
    let mut all: Vec<Row> = Vec::new();
    for (from, to) in tables.lot_ranges() {
        let plan = tables.plan(from, level, aql, severity)?;
        let numbers = (Some(plan.table_sample), plan.accept, plan.reject);
        match all.last_mut() {
            Some(last) if (last.sample, last.accept, last.reject) == numbers => last.lot_to = to,
            _ => {
                // A lot of one is inspected whole.
                let lot_from = if all.is_empty() { 1 } else { from };
                let (sample, accept, reject) = numbers;
                all.push(Row { lot_from, lot_to: to, sample, accept, reject });
            }
        }
    }
    Ok(all)
}

/// The row for one lot: that of [`rows`], or for zero acceptance a row for this lot size alone.
pub fn row_for(tables: &Tables, name: &Name, severity: Severity, lot: u64) -> Result<Row, PlanError> {
    if lot == 0 {
        return Err(PlanError::EmptyLot);
    }
    indexed(name, severity)?;
    if let Name::Zero(plan) = name {
        let sample = zero::pieces(lot, plan.ltpd(), plan.risk())?;
        return Ok(Row { lot_from: lot, lot_to: Some(lot), sample: Some(sample), accept: 0, reject: 1 });
    }
    let rows = rows(tables, name, severity)?;
    let row = rows.into_iter().find(|r| r.lot_from <= lot && r.lot_to.is_none_or(|to| lot <= to));
    row.ok_or(PlanError::NoRow { lot })
}

/// How the figures of a plan are known, the weakest of them.
pub fn basis(tables: &Tables, name: &Name, severity: Severity) -> Result<Basis, PlanError> {
    let mut weakest = match name {
        Name::Zero(_) | Name::Every => return Ok(Basis::House),
        // That its level is II is an assumption.
        Name::Iso4519(_) => Basis::Unsure,
        // How B602 groups its rows, and that ISO 2859-1 has the same normal and tightened plans, is recalled.
        Name::B602(_) | Name::Indexed { standard: Standard::Iso2859, .. } => Basis::Recalled,
        Name::Indexed { .. } => tables.letters_basis(),
    };
    if let Some((level, aql)) = indexed(name, severity)? {
        for (from, _) in tables.lot_ranges() {
            weakest = weakest.max(tables.plan(from, level, aql, severity)?.basis);
        }
    }
    Ok(weakest)
}

/// Level and AQL of a plan taken from the master tables, or why it has none at this severity.
pub(crate) fn indexed(name: &Name, severity: Severity) -> Result<Option<(Level, Aql)>, PlanError> {
    if !name.switches() && severity != Severity::Normal {
        return Err(PlanError::NoSuchSeverity { plan: name.to_string(), severity });
    }
    Ok(match name {
        Name::B602(level) => level.aql().map(|aql| (Level::II, aql)),
        Name::Iso4519(aql) => Some((Level::II, *aql)),
        Name::Indexed { standard: Standard::Iso2859, .. } if severity == Severity::Reduced => {
            let what = "the table of ISO 2859-1 for reduced inspection, which has no gap between Ac and Re,";
            return Err(PlanError::NotKnown { what });
        }
        Name::Indexed { level, aql, .. } => Some((*level, *aql)),
        Name::Zero(_) | Name::Every => None,
    })
}
