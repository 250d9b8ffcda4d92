//! What the purchaser permits in writing. A gap turns `accepted` only under a deviation that reaches the lot, and
//! only as far as it goes; a permission nobody needed is told.

use crate::deviation::Act;
use crate::deviation::Deviation;
use crate::deviation::Permit;
use crate::deviation::Wanted;
use crate::finding::Document;
use crate::finding::Finding;
use crate::finding::Permission;
use crate::finding::Place;
use crate::finding::Reason;
use crate::finding::Verdict;
use crate::judge::Dossier;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::judge::compare;
use crate::judge::nothing_judged;
use crate::judge::runs::FinalRun;
use crate::judge::standard_name;
use crate::judge::test_subject;
use crate::judge::tests_made::counts_for;
use crate::pack::Requirement;
use crate::pack::Subject;
use crate::part::CallOut;
use crate::path::Path;
use crate::record::TestKind;
use crate::rulebook::EffectivePack;
use crate::rulebook::Standing;

/// Whether a deviation reaches the lot; else why not.
pub fn reaches(dossier: &Dossier, deviation: &Deviation) -> Result<(), String> {
    let record = &dossier.record;
    if deviation.purchaser != dossier.order.purchaser || deviation.purchaser != dossier.part.purchaser {
        return Err("it is another purchaser's".to_owned());
    }
    let wanted = Wanted {
        part: &dossier.part.part,
        revision: &dossier.part.revision,
        order: &dossier.order.order,
        lot: &record.lot,
    };
    if !deviation.reach.names(&wanted) {
        return Err("it is not for this part, order and lot".to_owned());
    }
    let Some(until) = deviation.reach.until else { return Ok(()) };
    // A bath without a date could have been used after the last day.
    let undated = record.runs.iter().any(|run| {
        run.steps.is_empty() || run.steps.iter().filter_map(|s| s.immersion()).any(|i| i.end().is_none())
    });
    match record.processed() {
        Some((_, last)) if !undated && last <= until => Ok(()),
        Some((_, last)) if !undated => {
            Err(format!("the lot was processed until {last}, after its last day {until}"))
        }
        _ => Err(format!("it cannot be told that the lot was processed by its last day {until}")),
    }
}

/// What may turn `accepted`: evidence against a requirement, or none. Contradictions in the record stay, and so
/// does what the shop has not compared with its own copy.
const fn may_be_permitted(reason: Option<&Reason>) -> bool {
    !matches!(
        reason,
        Some(
            Reason::Contradiction(_)
                | Reason::NotAdopted
                | Reason::RuleChanged
                | Reason::NotInRulebook(_)
                | Reason::NothingJudged
        )
    )
}

fn permits<'a>(
    dossier: &'a Dossier,
    pack: &'a EffectivePack,
    requirement: &'a Requirement,
) -> impl Iterator<Item = (&'a Deviation, &'a Permit)> {
    let id = format!("{}/{}", pack.pack.pack, requirement.id);
    let reaching = dossier.deviations.iter().filter(|d| reaches(dossier, d).is_ok());
    reaching
        .flat_map(|d| d.permits.iter().map(move |p| (d, p)))
        .filter(move |(_, p)| p.requirement == id && p.fits(&pack.pack, requirement).is_ok())
}

/// The permission that covers a gap of one requirement, evidence in hand.
pub fn covering(
    dossier: &Dossier,
    pack: &EffectivePack,
    requirement: &Requirement,
    subject: &str,
    evidence: &[Evidence],
    reason: Option<&Reason>,
) -> Option<Permission> {
    if dossier.deviations.is_empty() || !may_be_permitted(reason) {
        return None;
    }
    let kind = TestKind::ALL.iter().copied().find(|k| test_subject(requirement.subject, *k) == subject);
    let mut all: Vec<(&Deviation, &Permit)> = permits(dossier, pack, requirement)
        .filter(|(_, p)| !p.is_about_the_test(requirement) && p.speaks_of(requirement, kind))
        .collect();
    // Where another limit is kept to, that is said, not that nothing was asked.
    all.sort_by_key(|(_, p)| p.act == Act::Omit);
    all.into_iter().find_map(|(deviation, permit)| {
        let permission = |instead, converted| Permission {
            deviation: deviation.deviation.clone(),
            act: permit.act,
            instead,
            converted,
        };
        match (permit.act, &permit.check) {
            (Act::Omit, _) => Some(permission(None, false)),
            (Act::Limit, Some(check)) => {
                let outcome = compare::outcome(check, evidence, dossier.order.decision_rule);
                (outcome.verdict == Verdict::Met).then(|| permission(Some(outcome.limit), outcome.converted))
            }
            _ => None,
        }
    })
}

/// A whole test the purchaser permits to leave out or to replace.
pub struct Swapped<'a> {
    requirement: &'a Requirement,
    kind: TestKind,
    instead: Option<TestKind>,
    permission: Permission,
}

/// The call-out with the tests that are left out or replaced by permission. An ordered test that was made, or
/// ever failed, is judged as ordered: nobody chooses the test by its result.
pub fn tests<'a>(
    dossier: &'a Dossier,
    pack: &'a EffectivePack,
    ordered: &CallOut,
    runs: &[FinalRun],
) -> (CallOut, Vec<Swapped<'a>>) {
    let mut call_out = ordered.clone();
    let mut swapped = Vec::new();
    if dossier.deviations.is_empty() {
        return (call_out, swapped);
    }
    let on_record = |kind: TestKind| dossier.record.tests.iter().filter(move |t| t.test == kind);
    for (position, requirement) in pack.pack.requirements.iter().enumerate() {
        let standing = pack.standing.get(position).copied().unwrap_or(Standing::NotAdopted);
        if requirement.subject != Subject::TestMade
            || (pack.adopted.is_some() && matches!(standing, Standing::NotAdopted | Standing::Changed))
        {
            continue;
        }
        for (deviation, permit) in permits(dossier, pack, requirement) {
            let Some(kind) = permit.kind(requirement).filter(|_| permit.is_about_the_test(requirement))
            else {
                continue;
            };
            let made = on_record(kind).any(|t| t.failed > 0 || runs.iter().any(|r| counts_for(t, r)));
            let instead = permit.instead;
            let replaced =
                instead.is_none_or(|other| on_record(other).any(|t| runs.iter().any(|r| counts_for(t, r))));
            let Some(at) = call_out.tests.iter().position(|t| *t == kind).filter(|_| !made && replaced)
            else {
                continue;
            };
            call_out.tests.remove(at);
            if let Some(other) = instead.filter(|other| !call_out.tests.contains(other)) {
                call_out.tests.insert(at, other);
            }
            let permission = Permission {
                deviation: deviation.deviation.clone(),
                act: permit.act,
                instead: instead.map(|other| other.name().to_owned()),
                converted: false,
            };
            swapped.push(Swapped { requirement, kind, instead, permission });
        }
    }
    (call_out, swapped)
}

/// Whether a finding is about a test, by its subject: `salt spray, test duration`, `alloy series for salt spray`.
fn about(finding: &Finding, kind: TestKind) -> bool {
    let (subject, name) = (&finding.subject, kind.name());
    *subject == test_subject(Subject::TestMade, kind)
        || *subject == test_subject(Subject::TestResult, kind)
        || subject.starts_with(&format!("{name}, "))
        || subject.split_once(" for ").is_some_and(|(_, tests)| tests.split(", ").any(|t| t == name))
}

/// Adds what came of the tests left out or replaced to the findings of their call-out. A replaced test is
/// accepted only when nothing about the one made in its place is a gap.
pub fn told(
    dossier: &Dossier,
    pack: &EffectivePack,
    swapped: Vec<Swapped>,
    place: &Place,
    findings: &mut Vec<Finding>,
) {
    for swap in swapped {
        let failed = swap.instead.is_some_and(|other| findings.iter().any(|f| f.is_gap() && about(f, other)));
        let (verdict, reason) = if failed {
            (Verdict::NoEvidence, Reason::TestNotMade(String::new()))
        } else {
            (Verdict::Accepted, Reason::Permitted(swap.permission))
        };
        let place = Place { document: place.document, path: place.path.key("tests") };
        findings.push(Finding {
            requirement: format!("{}/{}", pack.pack.pack, swap.requirement.id),
            standard: standard_name(pack),
            clause: swap.requirement.clause.clone(),
            basis: swap.requirement.basis,
            subject: test_subject(Subject::TestMade, swap.kind),
            limit: compare::limit_text(&swap.requirement.check, None),
            verdict,
            reason: Some(reason),
            remedy: failed.then_some(crate::pack::Remedy::Test),
            ..nothing_judged(dossier, "", place)
        });
    }
}

/// Every permission that loosened nothing, with why.
pub fn unused(dossier: &Dossier, findings: &[Finding]) -> Vec<(String, Vec<Evidence>)> {
    let mut all = Vec::new();
    for (i, deviation) in dossier.deviations.iter().enumerate() {
        for (j, permit) in deviation.permits.iter().enumerate() {
            let its = |f: &&Finding| {
                f.requirement == permit.requirement && permit.test.is_none_or(|kind| about(f, kind))
            };
            let used = findings.iter().filter(its).filter_map(Finding::permission);
            if used.into_iter().any(|p| p.deviation == deviation.deviation && p.act == permit.act) {
                continue;
            }
            let why = match reaches(dossier, deviation) {
                Err(why) => why,
                Ok(()) if findings.iter().filter(its).any(Finding::is_gap) => {
                    "it does not cover what was found".to_owned()
                }
                Ok(()) => "nothing needed it".to_owned(),
            };
            let path = Path::root().key("deviations").index(i).key("permits").index(j);
            let evidence = Evidence::at(Document::Deviations, path, Found::Missing(Reason::NotUsed(why)));
            let test = permit.test.map(|t| format!(" ({})", t.name())).unwrap_or_default();
            let subject = format!("deviation {}, {}{test}", deviation.deviation, permit.requirement);
            all.push((subject, vec![evidence]));
        }
    }
    all
}
