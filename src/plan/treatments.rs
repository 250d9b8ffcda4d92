//! Which treatments a call-out leaves, and which tests may be made: for this grade, use and making.

use serde::Serialize;

use crate::finding::Finding;
use crate::finding::Reason;
use crate::finding::Verdict;
use crate::judge;
use crate::pack::Check;
use crate::pack::Requirement;
use crate::pack::Subject;
use crate::pack::TreatmentStep;
use crate::plan::demands::is_of_papers;
use crate::plan::dry_run::DryRun;
use crate::record::TestKind;

/// Whether something fits grade, use and making, as far as the papers tell.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Fit {
    /// It does.
    Fits,
    /// It does not: what stands against it.
    DoesNot(Vec<Why>),
    /// It cannot be told: what is not known.
    CannotTell(Vec<Why>),
}

/// What stands against a treatment or a test.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Why {
    /// What was looked at.
    pub subject: String,
    /// What stands there.
    pub observed: Option<String>,
    /// What is asked.
    pub limit: String,
    /// What is not known.
    pub unknown: Option<String>,
    /// Standard and clause.
    pub clause: String,
}

/// A treatment that could carry out a call-out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PlannedTreatment {
    /// Id within the pack.
    pub id: String,
    /// Name as orders write it.
    pub name: String,
    /// Clause.
    pub clause: String,
    /// The step that carries it out.
    pub step: TreatmentStep,
    /// Whether it is permitted for this grade.
    pub fit: Fit,
    /// Whether the standard's own advice names it for this grade; nothing: it advises nothing.
    pub advised: Option<bool>,
    /// Advice of the standard against it: it holds nothing.
    pub advice: Vec<Why>,
}

/// A test of a standard.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PlannedTest {
    /// Which.
    pub test: TestKind,
    /// Name or letter in the standard.
    pub name: String,
    /// Clause.
    pub clause: String,
    /// Whether it is ordered.
    pub ordered: bool,
    /// Whether the shop chose it, where the order leaves the choice to it.
    pub chosen: bool,
    /// Whether it is valid here.
    pub fit: Fit,
    /// Pieces to test and failures allowed; nothing: nobody said.
    pub sample: Option<(u64, u64)>,
}

fn why(finding: &Finding) -> Why {
    let unknown = match &finding.reason {
        Some(Reason::Unknown(what)) => Some(what.clone()),
        _ => None,
    };
    Why {
        subject: finding.subject.clone(),
        observed: finding.observed.clone(),
        limit: finding.limit.clone(),
        unknown,
        clause: finding.clause.clone(),
    }
}

fn fit<'a>(found: impl Iterator<Item = &'a Finding>) -> Fit {
    let all: Vec<&Finding> = found.collect();
    let with = |verdict| all.iter().filter(|f| f.verdict == verdict).map(|f| why(f)).collect::<Vec<_>>();
    let (against, untold) = (with(Verdict::NotMet), with(Verdict::NoEvidence));
    if !against.is_empty() {
        Fit::DoesNot(against)
    } else if !untold.is_empty() {
        Fit::CannotTell(untold)
    } else {
        Fit::Fits
    }
}

impl DryRun<'_> {
    /// What the judge found of some requirements.
    fn found<'f>(
        &self,
        findings: &'f [Finding],
        wanted: impl Fn(&Requirement) -> bool,
    ) -> impl Iterator<Item = &'f Finding> {
        let requirements = self.pack.pack.requirements.iter().filter(|r| wanted(r));
        let ids: Vec<String> = requirements.map(|r| format!("{}/{}", self.pack.pack.pack, r.id)).collect();
        findings.iter().filter(move |f| ids.contains(&f.requirement))
    }

    /// Whether the standard advises a choice of treatments for what the papers say.
    fn advises(&self) -> bool {
        let papers = self.papers();
        let choice = |r: &&Requirement| {
            r.advice && r.subject == Subject::TreatmentNamed && matches!(r.check, Check::OneOf(_))
        };
        let mut all = self.pack.pack.requirements.iter().filter(choice);
        all.any(|r| {
            matches!(judge::applies(&papers, self.called.call_out, self.pack, &r.when), judge::Applies::Yes)
        })
    }

    /// The treatments that could carry it out.
    pub fn treatments(&self) -> Vec<PlannedTreatment> {
        let each = self.judged.iter().filter_map(|(t, found)| Some(((*t)?, found)));
        let advises = self.advises();
        each.map(|(treatment, found)| {
            // What is said of this treatment by name, and which treatments are named for such an alloy.
            let own = |r: &Requirement| {
                (is_of_papers(r.subject) && r.when.treatments.contains(&treatment.id))
                    || (r.subject == Subject::TreatmentNamed && !matches!(r.check, Check::Present))
            };
            let advice: Vec<Why> =
                self.found(found, own).filter(|f| f.verdict == Verdict::Advice).map(why).collect();
            PlannedTreatment {
                id: treatment.id.clone(),
                name: treatment.name.clone(),
                clause: treatment.clause.clone(),
                step: treatment.step,
                fit: fit(self.found(found, own)),
                advised: advises.then_some(advice.is_empty()),
                advice,
            }
        })
        .collect()
    }

    /// Whether a test is not invalid here.
    pub fn test_is_possible(&self, kind: TestKind) -> bool {
        !matches!(self.fit_of(kind), Fit::DoesNot(_))
    }

    fn fit_of(&self, kind: TestKind) -> Fit {
        let found = self.with_test(kind);
        fit(self.found(&found, |r| is_of_papers(r.subject) && r.when.tests.contains(&kind)))
    }

    /// The tests of the standard, and those ordered that it does not name.
    pub fn tests(&self) -> Vec<PlannedTest> {
        let (call, pack) = (self.called.call_out, &self.pack.pack);
        let sample = judge::sample_of(self.input.sampling, call, pack, self.input.quantity);
        // No more than there are.
        let sample = sample.map(|(pieces, accept)| (pieces.min(self.input.quantity), accept));
        let named = pack.tests.iter().map(|t| (t.test, t.name.clone(), t.clause.clone()));
        let strange = call.tests.iter().filter(|kind| !pack.tests.iter().any(|t| t.test == **kind));
        let strange = strange.map(|kind| (*kind, kind.name().to_owned(), String::new()));
        named
            .chain(strange)
            .map(|(test, name, clause)| PlannedTest {
                test,
                name,
                clause,
                ordered: call.tests.contains(&test),
                chosen: call.tests.is_empty() && pack.shop_chooses_tests && self.input.chosen.contains(&test),
                fit: self.fit_of(test),
                sample,
            })
            .collect()
    }
}
