//! One requirement under one call-out: for the lot, for each run, for each test.

use crate::finding::Finding;
use crate::finding::Reason;
use crate::finding::Verdict;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::judge::Judge;
use crate::judge::Resolved;
use crate::judge::applies;
use crate::judge::applies::Applies;
use crate::judge::compare;
use crate::judge::lot;
use crate::judge::names::standard_name;
use crate::judge::names::test_subject;
use crate::judge::people;
use crate::judge::permitted;
use crate::judge::step;
use crate::judge::tests_made;
use crate::pack::Remedy;
use crate::pack::Requirement;
use crate::pack::Subject;
use crate::path::Path;
use crate::record::TestKind;
use crate::rulebook::EffectivePack;

impl Judge<'_> {
    pub(super) fn lot_requirement(
        &self,
        pack: &EffectivePack,
        position: usize,
        requirement: &Requirement,
        resolved: &Resolved,
        findings: &mut Vec<Finding>,
    ) {
        if pack.pack.is_house()
            && !matches!(
                requirement.subject,
                Subject::RuleAdopted | Subject::EditionInForce | Subject::SamplingPlan
            )
        {
            return; // judged once for the lot, or for limits of the purchaser's own
        }
        let tests = &requirement.when.tests;
        if !applies::selects(&requirement.when, &self.treatments(resolved), &resolved.call_out.tests) {
            return;
        }
        if let Some(finding) =
            self.not_applied(pack, requirement, resolved, "lot", requirement.subject.name())
        {
            findings.push(finding);
            return;
        }
        let evidence = lot::evidence(self.dossier, Some(resolved), requirement.subject);
        if evidence.is_empty() && requirement.subject == Subject::SamplingPlan {
            return; // no plan is ordered
        }
        let subject = match (requirement.subject, tests.first()) {
            (Subject::RuleAdopted, _) | (_, None) => requirement.subject.name().to_owned(),
            (subject, Some(_)) => {
                let ordered = tests.iter().filter(|t| resolved.call_out.tests.contains(t)).map(|t| t.name());
                format!("{} for {}", subject.name(), ordered.collect::<Vec<_>>().join(", "))
            }
        };
        self.finding(pack, position, requirement, "lot", &subject, &evidence, findings);
    }

    pub(super) fn run_requirement(
        &self,
        pack: &EffectivePack,
        position: usize,
        requirement: &Requirement,
        resolved: &Resolved,
        findings: &mut Vec<Finding>,
    ) {
        if pack.pack.is_house() && people::once_a_run(requirement.subject) {
            return; // judged once for each run
        }
        if pack.pack.is_house()
            && resolved.pack.pack.treatments.is_empty()
            && step::needs_treatment(requirement.subject)
        {
            return; // a standard for tests alone: the baths are judged under the call-out of the treatment
        }
        for run in self.runs {
            let place = format!("run {}", run.run.run);
            let treatment = step::treatment(self.dossier, resolved, run);
            let carried: Vec<String> = treatment.id().into_iter().collect();
            if !applies::selects(&requirement.when, &carried, &resolved.call_out.tests) {
                continue;
            }
            let name = requirement.subject.name();
            if let Some(finding) = self.not_applied(pack, requirement, resolved, &place, name) {
                findings.push(finding);
                continue;
            }
            let evidence =
                step::evidence(self.dossier, resolved, self.runs, run, &treatment, requirement.subject);
            self.finding(pack, position, requirement, &place, name, &evidence, findings);
        }
    }

    pub(super) fn test_requirement(
        &self,
        pack: &EffectivePack,
        position: usize,
        requirement: &Requirement,
        resolved: &Resolved,
        findings: &mut Vec<Finding>,
    ) {
        let wanted = &requirement.when.tests;
        let carried = self.treatments(resolved);
        if !applies::selects(&requirement.when, &carried, TestKind::ALL) {
            return;
        }
        // A treatment that is proven by its test, under an order that names no test: nothing proves it. Where the
        // shop may choose, a test on record would have been taken for the order's.
        if requirement.subject == Subject::TestMade
            && wanted.is_empty()
            && !pack.pack.is_house()
            && resolved.call_out.tests.is_empty()
        {
            let name = Subject::TestMade.name();
            if let Some(finding) = self.not_applied(pack, requirement, resolved, "lot", name) {
                findings.push(finding);
                return;
            }
            let evidence = if pack.pack.shop_chooses_tests {
                let reason = Reason::TestNotMade(String::new());
                Evidence::record(Path::root().key("tests"), Found::Missing(reason))
            } else {
                let path = resolved.place.path.key("tests");
                Evidence::at(resolved.place.document, path, Found::Missing(Reason::NoTestOrdered))
            };
            self.finding(pack, position, requirement, "lot", name, &[evidence], findings);
            return;
        }
        for kind in &resolved.call_out.tests {
            if !applies::selects(&requirement.when, &carried, &[*kind]) {
                continue;
            }
            let subject = test_subject(requirement.subject, *kind);
            if let Some(finding) = self.not_applied(pack, requirement, resolved, "lot", &subject) {
                findings.push(finding);
                continue;
            }
            let evidence =
                tests_made::evidence(self.dossier, resolved, self.runs, *kind, requirement.subject);
            self.finding(pack, position, requirement, "lot", &subject, &evidence, findings);
        }
    }

    /// The treatments the runs carried out, by id.
    fn treatments(&self, resolved: &Resolved) -> Vec<String> {
        self.runs.iter().filter_map(|run| step::treatment(self.dossier, resolved, run).id()).collect()
    }

    /// The finding for a requirement that does not apply, or of which that cannot be told.
    fn not_applied(
        &self,
        pack: &EffectivePack,
        requirement: &Requirement,
        resolved: &Resolved,
        place_in_lot: &str,
        subject: &str,
    ) -> Option<Finding> {
        let (verdict, reason, remedy) = match applies::applies(
            self.dossier,
            resolved.call_out,
            if pack.pack.is_house() { resolved.pack } else { pack },
            &requirement.when,
        ) {
            Applies::Yes => return None,
            Applies::No => (Verdict::NotApplicable, None, None),
            // Advice whose condition is unknown holds nothing.
            Applies::Unknown(_) if requirement.advice => (Verdict::NotApplicable, None, None),
            Applies::Unknown(what) => {
                let unknown = Reason::Unknown(what);
                let permission =
                    permitted::covering(self.dossier, pack, requirement, subject, &[], Some(&unknown));
                match permission {
                    Some(given) => (Verdict::Accepted, Some(Reason::Permitted(given)), None),
                    None => (Verdict::NoEvidence, Some(unknown), Some(Remedy::Ask)),
                }
            }
        };
        Some(Finding {
            requirement: format!("{}/{}", pack.pack.pack, requirement.id),
            standard: standard_name(pack),
            clause: requirement.clause.clone(),
            basis: requirement.basis,
            subject: subject.to_owned(),
            place_in_lot: place_in_lot.to_owned(),
            limit: compare::limit_text(&requirement.check, None),
            observed: None,
            verdict,
            reason,
            remedy,
            shop_figure: false,
            converted: false,
            place: resolved.place.clone(),
        })
    }
}
