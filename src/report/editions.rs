//! Two editions side by side, in words and for machines.

use std::fmt;

use serde::Serialize;

use crate::app::editions::OpenLine;
use crate::pack::Basis;
use crate::pack::Check;
use crate::pack::Requirement;
use crate::pack::When;
use crate::report;
use crate::report::json::VERSION;
use crate::rulebook::compare::Changed;
use crate::rulebook::compare::Comparison;
use crate::rulebook::compare::Difference;
use crate::rulebook::compare::Edition;

/// `rules compare`.
#[derive(Debug, Serialize)]
pub struct Compared {
    /// Version of this form.
    pub version: u64,
    /// The first edition.
    pub first: Side,
    /// The second.
    pub second: Side,
    /// Demands that are the same in both.
    pub same: usize,
    /// Demands of both that differ.
    pub changed: Vec<ChangedDemand>,
    /// What differs beside the requirements: what, first, second.
    pub beside: Vec<BesideRow>,
}

/// One of the two.
#[derive(Debug, Serialize)]
pub struct Side {
    /// Pack id.
    pub pack: String,
    /// Edition.
    pub edition: String,
    /// As printed.
    pub name: String,
    /// Demands that the other does not have.
    pub only: Vec<Demand>,
    /// Open order lines that call it; absent outside of a shop folder.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub open: Option<Vec<OpenRow>>,
}

/// A demand.
#[derive(Debug, Serialize)]
pub struct Demand {
    /// Id.
    pub requirement: String,
    /// Clause.
    pub clause: String,
    /// How it is known.
    pub basis: &'static str,
    /// Whether it is advice.
    pub advice: bool,
    /// In words.
    pub words: String,
}

/// A demand that differs.
#[derive(Debug, Serialize)]
pub struct ChangedDemand {
    /// Its id in the first edition.
    pub requirement: String,
    /// Its id in the second, where it is another.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub second: Option<String>,
    /// Its clauses in the two.
    pub clauses: [String; 2],
    /// What it looks at, and when.
    pub about: String,
    /// What differs.
    pub differences: Vec<Row>,
}

/// One difference.
#[derive(Debug, Serialize)]
pub struct Row {
    /// `limit`, `basis`, `condition`, `subject`, `advice`.
    pub what: &'static str,
    /// In the first edition.
    pub first: String,
    /// In the second.
    pub second: String,
}

/// What differs beside the requirements.
#[derive(Debug, Serialize)]
pub struct BesideRow {
    /// What it is.
    pub what: &'static str,
    /// In the first edition.
    pub first: String,
    /// In the second.
    pub second: String,
}

/// An open order line.
#[derive(Debug, Serialize)]
pub struct OpenRow {
    /// Order.
    pub order: String,
    /// Line.
    pub line: String,
    /// Purchaser, by id.
    pub purchaser: String,
    /// Part and revision.
    pub part: String,
    /// The call-out, word for word.
    pub calls: String,
    /// Its lots that are not wholly certified; empty where none was started.
    pub lots: Vec<String>,
}

impl Compared {
    /// From a comparison, and the open lines of both editions where there is a shop.
    pub fn of(
        (first, second): (Edition, Edition),
        comparison: &Comparison,
        open: Option<[Vec<OpenLine>; 2]>,
    ) -> Compared {
        let [open_first, open_second] = open.map_or([None, None], |[a, b]| [Some(a), Some(b)]);
        Compared {
            version: VERSION,
            first: side(first, &comparison.only_first, open_first),
            second: side(second, &comparison.only_second, open_second),
            same: comparison.same,
            changed: comparison.changed.iter().map(changed).collect(),
            beside: comparison
                .beside
                .iter()
                .map(|b| BesideRow { what: b.what, first: or_none(&b.first), second: or_none(&b.second) })
                .collect(),
        }
    }
}

fn or_none(text: &str) -> String {
    if text.is_empty() { "none".to_owned() } else { text.to_owned() }
}

fn side(edition: Edition, only: &[&Requirement], open: Option<Vec<OpenLine>>) -> Side {
    Side {
        pack: edition.pack.pack.clone(),
        edition: edition.edition.to_owned(),
        name: edition.name(),
        only: only.iter().map(|r| demand(r)).collect(),
        open: open.map(|lines| lines.into_iter().map(row).collect()),
    }
}

fn row(line: OpenLine) -> OpenRow {
    let OpenLine { order, line, purchaser, part, calls, lots } = line;
    OpenRow { order, line, purchaser, part, calls, lots }
}

fn demand(requirement: &Requirement) -> Demand {
    Demand {
        requirement: requirement.id.clone(),
        clause: requirement.clause.clone(),
        basis: report::basis(requirement.basis),
        advice: requirement.advice,
        words: report::requirement(requirement),
    }
}

fn changed(changed: &Changed) -> ChangedDemand {
    let Changed { first, second, differences } = changed;
    let condition = report::condition(&When { editions: Vec::new(), ..second.when.clone() });
    ChangedDemand {
        requirement: first.id.clone(),
        second: (first.id != second.id).then(|| second.id.clone()),
        clauses: [first.clause.clone(), second.clause.clone()],
        about: format!("{}{condition}", second.subject.name()),
        differences: differences.iter().map(|d| difference(d, first)).collect(),
    }
}

fn difference(difference: &Difference, of: &Requirement) -> Row {
    let limit = |check: &Check| report::limit(&Requirement { check: check.clone(), ..of.clone() });
    let bases = |all: &[Basis]| all.iter().map(|b| report::basis(*b)).collect::<Vec<_>>().join(" and ");
    let when = |when: &When| or_always(report::condition(when));
    let advice = |yes: bool| if yes { "advice" } else { "holds a lot" }.to_owned();
    let (what, first, second) = match difference {
        Difference::Limit(a, b) => ("limit", limit(a), limit(b)),
        Difference::Basis(a, b) => ("basis", bases(a), bases(b)),
        Difference::Condition(both) => ("condition", when(&both.0), when(&both.1)),
        Difference::Subject(a, b) => ("subject", (*a).to_owned(), (*b).to_owned()),
        Difference::Advice(a, b) => ("advice", advice(*a), advice(*b)),
    };
    Row { what, first, second }
}

/// A condition without its brackets.
fn or_always(words: String) -> String {
    let plain = words.trim().trim_start_matches('(').trim_end_matches(')');
    if plain.is_empty() { "always".to_owned() } else { plain.to_owned() }
}

impl fmt::Display for Compared {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (first, second) = (&self.first, &self.second);
        write!(
            f,
            "{} against {}: {} the same, {} changed, {} in the first alone, {} in the second alone",
            first.name,
            second.name,
            self.same,
            self.changed.len(),
            first.only.len(),
            second.only.len()
        )?;
        if !self.changed.is_empty() {
            write!(f, "\n\nchanged")?;
        }
        for changed in &self.changed {
            let other = changed.second.as_ref().map_or_else(String::new, |id| format!(" / {id}"));
            let [a, b] = &changed.clauses;
            let clauses = if a == b { a.clone() } else { format!("{a} / {b}") };
            write!(f, "\n  {}{other}  [{clauses}]\n    {}", changed.requirement, changed.about)?;
            for row in &changed.differences {
                write!(f, "\n    {}: {} -> {}", row.what, row.first, row.second)?;
            }
        }
        for side in [first, second] {
            if !side.only.is_empty() {
                write!(f, "\n\nin {} alone", side.name)?;
            }
            for demand in &side.only {
                let advice = if demand.advice { ", advice" } else { "" };
                let Demand { requirement, clause, basis, words, .. } = demand;
                write!(f, "\n  {requirement}  [{clause}, {basis}{advice}]\n    {words}")?;
            }
        }
        if !self.beside.is_empty() {
            write!(f, "\n\nbeside the requirements")?;
        }
        for row in &self.beside {
            write!(f, "\n  {}: {} -> {}", row.what, row.first, row.second)?;
        }
        for side in [first, second] {
            let Some(open) = &side.open else { continue };
            write!(f, "\n\nopen orders that call {}", side.name)?;
            if open.is_empty() {
                write!(f, ": none")?;
            }
            for line in open {
                let lots = match line.lots.as_slice() {
                    [] => "no lot yet".to_owned(),
                    lots => format!("not certified: {}", lots.join(", ")),
                };
                let OpenRow { order, line, purchaser, part, calls, .. } = line;
                write!(f, "\n  {order} line {line}, {purchaser}, part {part}, calls {calls}; {lots}")?;
            }
        }
        Ok(())
    }
}
