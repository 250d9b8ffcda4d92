//! The demands of one call-out: each requirement that applies, or of which that cannot be told.

use serde::Serialize;

use crate::finding::Finding;
use crate::finding::Reason;
use crate::finding::Verdict;
use crate::judge;
use crate::judge::Applies;
use crate::pack::Basis;
use crate::pack::Check;
use crate::pack::Requirement;
use crate::pack::Scope;
use crate::pack::Subject;
use crate::plan::dry_run::DryRun;
use crate::record::TestKind;
use crate::rulebook::Standing;
use crate::rulebook::unit_of_bound;
use crate::rulebook::unit_of_window;
use crate::units::Quantity;
use crate::units::Unit;

/// One requirement of one call-out, as it will be judged.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Demand {
    /// `pack/requirement`.
    pub requirement: String,
    /// Standard with edition.
    pub standard: String,
    /// Clause.
    pub clause: String,
    /// How it is known.
    pub basis: Basis,
    /// How it stands in the shop.
    pub standing: Standing,
    /// What it looks at.
    pub subject: Subject,
    /// The limit in words, each unit system as printed.
    pub limit: String,
    /// Whether the limit says more than that something is recorded, or passed.
    #[serde(skip)]
    pub says_limit: bool,
    /// Its figures, one a unit system.
    pub figures: Vec<Figure>,
    /// The treatments it is about, by name; none: whichever is made.
    pub treatments: Vec<String>,
    /// The test it is about.
    pub test: Option<TestKind>,
    /// What would have to be known to tell whether it applies.
    pub unless_known: Option<String>,
    /// Whether it is advice, which holds nothing.
    pub advice: bool,
    /// A word more.
    pub note: Option<String>,
    /// What the papers decide of it already.
    pub decided: Option<Decided>,
}

/// One figure in one unit; neither end: nobody knows it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Figure {
    /// The unit.
    pub unit: Option<String>,
    /// Least.
    pub from: Option<Quantity>,
    /// Most.
    pub to: Option<Quantity>,
    /// Whether a reading in this unit can be judged.
    pub known: bool,
    /// How the figure is known.
    pub basis: Basis,
}

/// What the papers decide.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Decided {
    /// The verdict.
    pub verdict: Verdict,
    /// What stands there.
    pub observed: Option<String>,
    /// Why it is not plainly met.
    pub reason: Option<Reason>,
}

impl Demand {
    /// Whether a treatment falls under it.
    pub fn is_of(&self, treatment: &str) -> bool {
        self.treatments.is_empty() || self.treatments.iter().any(|t| t == treatment)
    }

    /// Whether it says how something is done or read, and is not decided by the papers alone.
    pub const fn is_work(&self) -> bool {
        !is_of_papers(self.subject)
    }
}

/// Whether order, part specification and grade alone decide a subject.
pub const fn is_of_papers(subject: Subject) -> bool {
    matches!(
        subject,
        Subject::AlloyGrade
            | Subject::AlloySeries
            | Subject::Chromium
            | Subject::PartUse
            | Subject::PartConditions
            | Subject::TreatmentOrdered
            | Subject::TestOrdered
            | Subject::ClassNamed
            | Subject::Authorization
            | Subject::EditionInForce
    )
}

/// The figures of a check.
pub fn figures(requirement: &Requirement) -> Vec<Figure> {
    let figure = |unit: Option<Unit>, from, to, known, basis: Option<Basis>| Figure {
        unit: unit.map(|u| u.symbol().to_owned()),
        from,
        to,
        known,
        basis: basis.unwrap_or(requirement.basis),
    };
    match &requirement.check {
        Check::Within(windows) => windows
            .iter()
            .map(|w| figure(unit_of_window(w), w.from, w.to, w.from.is_some() && w.to.is_some(), w.basis))
            .collect(),
        Check::AtLeast(bounds) => bounds
            .iter()
            .map(|b| figure(unit_of_bound(b), b.value, None, b.value.is_some(), b.basis))
            .collect(),
        Check::AtMost(bounds) => bounds
            .iter()
            .map(|b| figure(unit_of_bound(b), None, b.value, b.value.is_some(), b.basis))
            .collect(),
        _ => Vec::new(),
    }
}

/// What the judge found of one requirement.
pub fn decided(findings: &[Finding], requirement: &str) -> Option<Decided> {
    let found = findings.iter().find(|f| f.requirement == requirement)?;
    Some(Decided { verdict: found.verdict, observed: found.observed.clone(), reason: found.reason.clone() })
}

impl DryRun<'_> {
    /// The demands of the standard.
    pub fn demands(&self) -> Vec<Demand> {
        let papers = self.papers();
        let ids: Vec<String> = self.options.iter().map(|t| t.id.clone()).collect();
        let mut all = Vec::new();
        for (requirement, standing) in self.pack.pack.requirements.iter().zip(&self.pack.standing) {
            let when = &requirement.when;
            if *standing == Standing::Absent {
                continue;
            }
            let kinds: Vec<Option<TestKind>> = match requirement.subject.scope() {
                Scope::Test => self.tests.iter().copied().map(Some).collect(),
                _ => vec![None],
            };
            for kind in kinds {
                let tests = kind.map_or_else(|| self.tests.clone(), |kind| vec![kind]);
                if !judge::selects(when, &ids, &tests) {
                    continue;
                }
                let unless_known = match judge::applies(&papers, self.called.call_out, self.pack, when) {
                    Applies::No => continue,
                    Applies::Yes => None,
                    Applies::Unknown(what) => Some(what),
                };
                all.push(self.demand(requirement, *standing, kind, unless_known));
            }
        }
        all
    }

    fn demand(
        &self,
        requirement: &Requirement,
        standing: Standing,
        test: Option<TestKind>,
        unless_known: Option<String>,
    ) -> Demand {
        let id = format!("{}/{}", self.pack.pack.pack, requirement.id);
        let when = &requirement.when;
        let mine = |t: &Option<&crate::pack::Treatment>| {
            when.treatments.is_empty() || t.is_some_and(|t| when.treatments.contains(&t.id))
        };
        let found = self.judged.iter().filter(|(t, _)| mine(t)).find_map(|(_, f)| decided(f, &id));
        let named = self.options.iter().filter(|t| when.treatments.contains(&t.id));
        Demand {
            requirement: id,
            standard: judge::standard_name(self.pack),
            clause: requirement.clause.clone(),
            basis: requirement.basis,
            standing,
            subject: requirement.subject,
            limit: judge::limit_words(&requirement.check),
            says_limit: !matches!(
                requirement.check,
                Check::Present | Check::OwnLimit | Check::Passed | Check::TimesOrdered(_)
            ),
            figures: figures(requirement),
            treatments: named.map(|t| t.name.clone()).collect(),
            test,
            unless_known,
            advice: requirement.advice,
            note: requirement.note.clone(),
            decided: found.filter(|_| is_of_papers(requirement.subject)),
        }
    }
}
