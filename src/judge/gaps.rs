//! What to do about a gap, and which gaps only repeat another.

use crate::deviation::Act;
use crate::finding::Finding;
use crate::finding::Reason;
use crate::finding::Verdict;
use crate::judge::step;
use crate::pack::Remedy;
use crate::pack::Requirement;
use crate::pack::Subject;
use crate::record::TestKind;

/// What to do about a gap: what the requirement says when the evidence is against it, the way to get evidence
/// when there is none.
pub fn remedy(requirement: &Requirement, reason: Option<&Reason>, verdict: Verdict) -> Remedy {
    match reason {
        Some(Reason::FigureUnsure | Reason::NotAdopted | Reason::RuleChanged) => Remedy::Adopt,
        Some(
            Reason::Unfounded(_)
            | Reason::Unknown(_)
            | Reason::NotInRulebook(_)
            | Reason::NothingJudged
            | Reason::NotValidHere,
        ) => Remedy::Ask,
        Some(Reason::TestNotMade(_) | Reason::TestTooEarly) => Remedy::Test,
        _ if verdict == Verdict::NotMet => requirement.remedy,
        _ if requirement.remedy == Remedy::Test => Remedy::Test,
        _ if requirement.remedy == Remedy::Adopt => Remedy::Adopt,
        _ => Remedy::Record,
    }
}

/// The subject whose own gap already says all that a missing reading of this one could.
const fn owner(subject: Subject) -> Option<Subject> {
    match subject {
        Subject::FinalRinseSolids | Subject::RinseCalibration => Some(Subject::FinalRinse),
        Subject::PostDipNitric | Subject::PostDipTemperature | Subject::PostDipTime => Some(Subject::PostDip),
        Subject::PostTreatmentDelay
        | Subject::PostTreatmentDichromate
        | Subject::PostTreatmentTemperature
        | Subject::PostTreatmentTime
        | Subject::PostTreatmentRinseSolids
        | Subject::PostTreatmentDried => Some(Subject::PostTreatment),
        Subject::VisualCount => Some(Subject::Visual),
        _ => None,
    }
}

/// The same for a purchaser's clauses, whose owner may be a gap of the standard they build on: `base` is how its
/// requirements begin.
pub fn drop_beside(findings: &mut Vec<Finding>, from: usize, base: &str) {
    let is_base = |f: &Finding| f.requirement.starts_with(base);
    let own = findings.split_off(from.min(findings.len()));
    let of_base = findings.iter().filter(|f| is_base(f) && f.verdict == Verdict::NoEvidence);
    let mut both: Vec<Finding> = of_base.cloned().chain(own).collect();
    drop_owned(&mut both, 0);
    findings.extend(both.into_iter().filter(|f| !is_base(f)));
}

/// Drops what only repeats another gap: a step that is not recorded has no temperature either. A finding is
/// dropped only when its owner's gap is in the list, so nothing goes unsaid.
pub fn drop_owned(findings: &mut Vec<Finding>, from: usize) {
    let gaps: Vec<(String, String)> = findings
        .iter()
        .skip(from)
        .filter(|f| f.verdict == Verdict::NoEvidence)
        .map(|f| (f.subject.clone(), f.place_in_lot.clone()))
        .collect();
    let left_out: Vec<(String, String)> = findings
        .iter()
        .skip(from)
        .filter(|f| f.observed.is_none() && f.permission().is_some_and(|p| p.act == Act::Omit))
        .map(|f| (f.subject.clone(), f.place_in_lot.clone()))
        .collect();
    let mut position = 0;
    findings.retain(|finding| {
        position += 1;
        if position <= from || finding.verdict != Verdict::NoEvidence {
            return true;
        }
        if matches!(finding.reason, Some(Reason::NotAdopted | Reason::RuleChanged)) {
            return true;
        }
        let has_gap = |subject: &str| gaps.iter().any(|(s, p)| s == subject && *p == finding.place_in_lot);
        let by_subject = Subject::ALL.iter().find(|s| s.name() == finding.subject).and_then(|s| owner(*s));
        let treatment_gone = has_gap(Subject::TreatmentNamed.name())
            && Subject::ALL.iter().any(|s| {
                s.name() == finding.subject && step::needs_treatment(*s) && *s != Subject::TreatmentNamed
            });
        // `water immersion, test duration` is owned by `water immersion`.
        let test_gone = TestKind::ALL.iter().any(|kind| {
            has_gap(kind.name())
                && (finding.subject.starts_with(&format!("{}, ", kind.name()))
                    || finding.subject == format!("{} result", kind.name()))
        });
        // A step that need not be made has no temperature either.
        let by_permission = by_subject
            .is_some_and(|s| left_out.iter().any(|(o, p)| o == s.name() && *p == finding.place_in_lot));
        let owned =
            by_subject.is_some_and(|s| has_gap(s.name())) || treatment_gone || test_gone || by_permission;
        !owned
    });
}
