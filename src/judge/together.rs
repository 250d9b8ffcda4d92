//! What several call-outs ask of one thing: which limit stands, and whether a lot can meet them all. Known from the
//! papers before any work begins; looked at again for every lot.

use std::collections::BTreeMap;

use crate::alloy::Alloy;
use crate::finding::Document;
use crate::finding::Finding;
use crate::finding::Place;
use crate::finding::Verdict;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::judge::Judge;
use crate::judge::Resolved;
use crate::judge::applies::Applies;
use crate::judge::applies::Facts;
use crate::judge::applies::applies_to;
use crate::judge::called::call_outs;
use crate::judge::called::pack_named;
use crate::judge::clauses;
use crate::judge::clauses::Trouble;
use crate::judge::heat;
use crate::judge::heat::chromium;
use crate::judge::names::standard_name;
use crate::judge::names::test_subject;
use crate::judge::nothing_judged;
use crate::judge::orders;
use crate::judge::step;
use crate::order::Order;
use crate::pack::Check;
use crate::pack::Meeting;
use crate::pack::Requirement;
use crate::pack::Scope;
use crate::pack::Span;
use crate::pack::Subject;
use crate::pack::TreatmentStep;
use crate::pack::meeting;
use crate::pack::spans;
use crate::part::CallOut;
use crate::part::PartSpecification;
use crate::path::Path;
use crate::record::TestKind;
use crate::rulebook::EffectivePack;
use crate::rulebook::Standing;
use crate::units::Quantity;

/// What is asked of one order line, before there is a lot.
#[derive(Debug, Clone, Copy)]
pub struct Asked<'a> {
    /// The part specification.
    pub part: &'a PartSpecification,
    /// The order.
    pub order: &'a Order,
    /// The line of it.
    pub line: &'a str,
    /// The packs its call-outs name, as the shop adopted them.
    pub packs: &'a [EffectivePack],
    /// The alloy, where it is known.
    pub alloy: Option<&'a Alloy>,
    /// Chromium of the heat; left out, the least the alloy may have counts.
    pub chromium: Option<Quantity>,
    /// Whether a heat is free-machining by its own analysis; left out, the alloy says.
    pub free_machining: Option<bool>,
}

/// What several call-outs ask of one thing.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Together {
    /// Limits on one thing that a lot can meet together.
    pub twice: Vec<Twice>,
    /// What no lot can meet; ask the purchaser before work begins.
    pub conflicts: Vec<Conflict>,
}

/// One thing limited more than once.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Twice {
    /// What is limited: `bath temperature`.
    pub what: String,
    /// Each limit with the clause that sets it.
    pub asked: String,
    /// Which of them stands.
    pub stands: String,
}

/// Call-outs that do not go together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Conflict {
    /// What they disagree about: `bath temperature`; `call-outs` where it is about them as a whole.
    pub what: String,
    /// What each asks, with its clause.
    pub asked: String,
    /// What a lot would need instead.
    pub wanted: String,
    /// The requirements it is between; none where it is about call-outs as a whole.
    pub requirements: Vec<String>,
    /// The call-out.
    pub place: Place,
}

/// What part specification and order line ask of one thing, and whether a lot can meet it. Pure, and without a
/// record: what depends on a choice the order leaves to the shop is left out.
pub fn together(asked: &Asked) -> Together {
    let part = asked.part.calls_for.iter().enumerate().map(|(i, call)| {
        (call.clone(), Place { document: Document::Part, path: Path::root().key("calls_for").index(i) })
    });
    let lines = asked.order.lines.iter().enumerate().filter(|(_, l)| l.line == asked.line).take(1);
    let line = lines.flat_map(|(j, l)| {
        let base = Path::root().key("lines").index(j).key("also_calls_for");
        l.also_calls_for
            .iter()
            .enumerate()
            .map(move |(i, call)| (call.clone(), Place { document: Document::Order, path: base.index(i) }))
    });
    let built = clauses::build(asked.order, asked.packs, part.chain(line).collect(), asked.alloy);
    let mut demands = Vec::new();
    let mut found = Together::default();
    found.conflicts.extend(built.troubles.into_iter().map(Conflict::from));
    for (number, (call, place)) in built.calls.iter().enumerate() {
        if call.limit.is_some() {
            demands.extend(own_limit(asked.part, asked.order, asked.line, number, call, place));
            continue;
        }
        let named = call.standard.as_deref();
        let is_named = |p: &&EffectivePack| {
            !p.pack.is_house() && named.is_some_and(|n| orders::is_called_by(asked.order, p, n))
        };
        let Some(pack) = built.packs.iter().find(is_named) else { continue };
        let facts = Facts {
            alloy: asked.alloy,
            chromium: asked.chromium.or_else(|| asked.alloy.and_then(|a| a.element("Cr")?.from)),
            free_machining: asked.free_machining.or_else(|| asked.alloy.map(|a| a.free_machining)),
            part: asked.part,
        };
        let treatment = call.treatment.as_deref().and_then(|name| {
            pack.pack.treatments.iter().find(|t| step::matches(&t.name, name) || step::matches(&t.id, name))
        });
        let mut kinds: Vec<TreatmentStep> = pack.pack.treatments.iter().map(|t| t.step).collect();
        kinds.dedup();
        let kind = treatment.map(|t| t.step).or(match kinds.as_slice() {
            [one] => Some(*one),
            _ => None,
        });
        let spot = kind.map(|kind| Spot::Planned(kind == TreatmentStep::Passivate));
        let source = Source { number, pack, call, place, facts: &facts };
        demands.extend(source.demands(treatment.map(|t| t.id.as_str()), spot.as_ref(), true));
    }
    compare(&demands, &mut found);
    forbidden(&demands, &built.calls, &built.packs, &mut found);
    found
}

impl From<Trouble> for Conflict {
    fn from(trouble: Trouble) -> Conflict {
        Conflict {
            what: "call-outs".to_owned(),
            asked: trouble.found,
            wanted: trouble.wanted,
            requirements: Vec::new(),
            place: trouble.place,
        }
    }
}

/// Where a demand looks.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
enum Spot {
    Lot,
    Test(TestKind),
    /// One step of one run: indices of both.
    Step(usize, usize),
    /// The treatment to come: whether it is a passivation.
    Planned(bool),
}

/// One mandatory demand of one call-out.
struct Demand {
    /// Position of its call-out.
    call: usize,
    /// `pack/requirement`.
    requirement: String,
    /// The pack, or the paper a limit of the purchaser's own stands in, with the clause.
    by: String,
    subject: Option<Subject>,
    what: String,
    spot: Spot,
    check: Check,
    place: Place,
}

/// One call-out with what its demands are gathered from.
struct Source<'a> {
    number: usize,
    pack: &'a EffectivePack,
    call: &'a CallOut,
    place: &'a Place,
    facts: &'a Facts<'a>,
}

impl Source<'_> {
    fn demand(&self, requirement: &Requirement, what: String, spot: Spot) -> Demand {
        Demand {
            call: self.number,
            requirement: format!("{}/{}", self.pack.pack.pack, requirement.id),
            by: format!("{}, {}", standard_name(self.pack), requirement.clause),
            subject: Some(requirement.subject),
            what,
            spot,
            check: requirement.check.clone(),
            place: self.place.clone(),
        }
    }

    /// The demands that surely apply to what was treated so, in this step; with those on lot and tests.
    fn demands(&self, treatment: Option<&str>, spot: Option<&Spot>, whole: bool) -> Vec<Demand> {
        let mut all = Vec::new();
        for (position, requirement) in self.pack.pack.requirements.iter().enumerate() {
            let when = &requirement.when;
            let treated = when.treatments.is_empty()
                || treatment.is_some_and(|id| when.treatments.iter().any(|t| t == id));
            let absent = self.pack.standing.get(position) == Some(&Standing::Absent);
            let tested =
                || self.call.tests.iter().filter(|t| when.tests.is_empty() || when.tests.contains(t));
            if requirement.advice
                || absent
                || !treated
                || (!when.tests.is_empty() && tested().next().is_none())
                || !matches!(applies_to(self.facts, self.call, self.pack, when), Applies::Yes)
            {
                continue;
            }
            let name = requirement.subject.name();
            match (requirement.subject.scope(), spot) {
                (Scope::Run, Some(spot)) => all.push(self.demand(requirement, name.to_owned(), spot.clone())),
                (Scope::Lot, _) if whole => all.push(self.demand(requirement, name.to_owned(), Spot::Lot)),
                (Scope::Test, _) if whole => all.extend(tested().map(|kind| {
                    self.demand(requirement, test_subject(requirement.subject, *kind), Spot::Test(*kind))
                })),
                _ => {}
            }
        }
        all
    }
}

/// A limit of the purchaser's own, as demands.
fn own_limit(
    part: &PartSpecification,
    order: &Order,
    line: &str,
    call: usize,
    call_out: &CallOut,
    place: &Place,
) -> Vec<Demand> {
    let Some(what) = call_out.limit else { return Vec::new() };
    let by = match place.document {
        Document::Order => format!("order {} line {line}", order.order),
        _ => format!("part {} {}", part.part, part.revision),
    };
    let bound = |value: Quantity| vec![crate::pack::Bound { value: Some(value), unit: None, basis: None }];
    let checks = [
        call_out.at_least.map(|q| Check::AtLeast(bound(q))),
        call_out.at_most.map(|q| Check::AtMost(bound(q))),
    ];
    let demand = |check: Check| Demand {
        call,
        requirement: "house/limit.reading".to_owned(),
        by: by.clone(),
        subject: None,
        what: what.name().to_owned(),
        spot: Spot::Lot,
        check,
        place: place.clone(),
    };
    checks.into_iter().flatten().map(demand).collect()
}

/// Holds against each other what looks at one thing in one place.
fn compare(demands: &[Demand], found: &mut Together) {
    let mut groups: Vec<Vec<&Demand>> = Vec::new();
    let mut known: BTreeMap<(&str, &Spot), usize> = BTreeMap::new();
    for demand in demands {
        let at = *known.entry((demand.what.as_str(), &demand.spot)).or_insert(groups.len());
        match groups.get_mut(at) {
            Some(group) => group.push(demand),
            None => groups.push(vec![demand]),
        }
    }
    for group in groups {
        if group.first().is_some_and(|first| group.iter().any(|d| d.call != first.call)) {
            figures(&group, found);
            words(&group, found);
        }
    }
}

fn figures(all: &[&Demand], found: &mut Together) {
    let mut asked: Vec<(&Demand, Vec<Span>)> = Vec::new();
    for demand in all {
        let Some(spans) = spans(&demand.check).filter(|s| !s.is_empty()) else { continue };
        // One requirement called out twice is one limit.
        if !asked.iter().any(|(d, s)| d.by == demand.by && d.requirement == demand.requirement && *s == spans)
        {
            asked.push((demand, spans));
        }
    }
    let Some((first, _)) = asked.first() else { return };
    if asked.iter().all(|(d, _)| d.call == first.call) {
        return;
    }
    let each: Vec<&[Span]> = asked.iter().map(|(_, spans)| spans.as_slice()).collect();
    let shown: Vec<String> = asked
        .iter()
        .map(|(d, spans)| {
            let limits: Vec<String> = spans.iter().map(Span::to_string).collect();
            format!("{} by {}", limits.join(" or "), d.by)
        })
        .collect();
    let shown = shown.join("; ");
    match meeting(&each) {
        Meeting::Stands(stands) => {
            let twice = Twice { what: first.what.clone(), asked: shown, stands };
            if !found.twice.contains(&twice) {
                found.twice.push(twice);
            }
        }
        Meeting::Nowhere => {
            let last = asked.iter().rev().find(|(d, _)| d.call != first.call).map_or(first, |(d, _)| d);
            found.conflict(&first.what, shown, &last.place, asked.iter().map(|(d, _)| *d));
        }
    }
}

impl Together {
    fn conflict<'a>(&mut self, what: &str, asked: String, at: &Place, all: impl Iterator<Item = &'a Demand>) {
        if self.conflicts.iter().any(|c| c.what == what && c.asked == asked) {
            return;
        }
        self.conflicts.push(Conflict {
            what: what.to_owned(),
            asked,
            wanted: format!("a {what} that meets both"),
            requirements: all.map(|d| d.requirement.clone()).collect(),
            place: at.clone(),
        });
    }
}

/// Subjects that say what the part is or what the order says: no two standards use the same words for them, or no
/// lot could change them.
const fn is_given(subject: Option<Subject>) -> bool {
    matches!(
        subject,
        None | Some(
            Subject::AlloySeries
                | Subject::Chromium
                | Subject::PartUse
                | Subject::PartConditions
                | Subject::TreatmentNamed
                | Subject::TreatmentOrdered
                | Subject::TestOrdered
                | Subject::ClassNamed
        )
    )
}

fn same(a: &str, b: &str) -> bool {
    a.trim().eq_ignore_ascii_case(b.trim())
}

fn has(words: &[String], word: &str) -> bool {
    words.iter().any(|w| same(w, word))
}

/// Whether no words can meet both.
fn exclude(one: &Check, other: &Check) -> bool {
    match (one, other) {
        (Check::OneOf(a), Check::OneOf(b)) => !a.iter().any(|w| has(b, w)),
        (Check::OneOf(a), Check::NoneOf(b)) | (Check::NoneOf(b), Check::OneOf(a)) => {
            a.iter().all(|w| has(b, w))
        }
        (Check::Only(a), Check::NoneOf(b)) | (Check::NoneOf(b), Check::Only(a)) => {
            a.first().is_some_and(|w| has(b, w))
        }
        (Check::Only(a), Check::Only(b)) => {
            a.first().is_some_and(|w| !has(b, w)) || b.first().is_some_and(|w| !has(a, w))
        }
        _ => false,
    }
}

fn said(demand: &Demand) -> String {
    format!("{} by {}", crate::judge::limit_text(&demand.check, None), demand.by)
}

fn words(all: &[&Demand], found: &mut Together) {
    for (i, one) in all.iter().enumerate() {
        for other in all.iter().skip(i.saturating_add(1)).filter(|o| o.call != one.call) {
            if !is_given(one.subject) && exclude(&one.check, &other.check) {
                let asked = format!("{}; {}", said(one), said(other));
                found.conflict(&one.what, asked, &other.place, [*one, *other].into_iter());
            }
        }
    }
}

/// Treatments and tests that one call-out orders and another forbids.
fn forbidden(demands: &[Demand], calls: &[(CallOut, Place)], packs: &[EffectivePack], found: &mut Together) {
    for demand in demands {
        let builds = packs.iter().any(|p| {
            p.pack.builds_on.is_some() && demand.requirement.split('/').next() == Some(p.pack.pack.as_str())
        });
        for (number, (call, place)) in calls.iter().enumerate() {
            // What clauses allow is said of what is ordered under the standard they build on, which they inherit.
            let own = number == demand.call;
            let ordered: Vec<&str> = match demand.subject {
                Some(Subject::TestOrdered) => call.tests.iter().map(|t| t.name()).collect(),
                Some(Subject::TreatmentNamed | Subject::TreatmentOrdered) => {
                    call.treatment.as_deref().into_iter().collect()
                }
                Some(Subject::ClassNamed) => call.class.as_deref().into_iter().collect(),
                _ => continue,
            };
            let against: Vec<&str> = match &demand.check {
                Check::NoneOf(words) if own && builds || demand.subject == Some(Subject::TestOrdered) => {
                    ordered.into_iter().filter(|o| has(words, o)).collect()
                }
                Check::OneOf(words) if own && builds => {
                    ordered.into_iter().filter(|o| !has(words, o)).collect()
                }
                _ => continue,
            };
            if !against.is_empty() {
                let asked = format!("{} ordered; {}", against.join(", "), said(demand));
                found.conflict(&demand.what, asked, place, [demand].into_iter());
            }
        }
    }
}

/// What the treatments of a lot have to meet together, run by run.
fn of_runs(judge: &Judge, found: &mut Together) {
    let dossier = judge.dossier;
    let called = call_outs(dossier);
    let facts = Facts {
        alloy: dossier.alloy.as_ref(),
        chromium: chromium(dossier),
        free_machining: heat::free_machining(dossier),
        part: &dossier.part,
    };
    let mut demands = Vec::new();
    for (number, call) in called.iter().enumerate() {
        if call.call_out.limit.is_some() {
            let (order, line) = (&dossier.order, &dossier.record.order.line);
            demands.extend(own_limit(&dossier.part, order, line, number, call.call_out, &call.place));
            continue;
        }
        let named = call.call_out.standard.as_deref();
        let Some(pack) = named.and_then(|named| pack_named(dossier, named)) else { continue };
        let place = &call.place;
        let source = Source { number, pack, call: call.call_out, place, facts: &facts };
        let resolved = Resolved { call_out: call.call_out, place, pack, name: String::new() };
        let mut whole = true;
        for run in judge.runs {
            let treated = step::treatment(dossier, &resolved, run);
            let spot = treated.at().map(|(run, step)| Spot::Step(run, step));
            demands.extend(source.demands(treated.id().as_deref(), spot.as_ref(), whole));
            whole = false;
        }
    }
    compare(&demands, found);
}

/// Adds what several call-outs ask of one thing. `ordered` is the dossier as it was written.
pub(super) fn judge(
    judge: &Judge,
    ordered: &crate::judge::Dossier,
    house: &EffectivePack,
    findings: &mut Vec<Finding>,
) {
    if call_outs(ordered).len() < 2 && ordered.packs.iter().all(|p| p.pack.builds_on.is_none()) {
        return;
    }
    let mut found = Together::default();
    of_runs(judge, &mut found);
    let before = together(&Asked {
        part: &ordered.part,
        order: &ordered.order,
        line: &ordered.record.order.line,
        packs: &ordered.packs,
        alloy: ordered.alloy.as_ref(),
        chromium: chromium(ordered),
        free_machining: heat::free_machining(ordered),
    });
    for conflict in before.conflicts {
        if !found.conflicts.iter().any(|c| c.what == conflict.what && c.asked == conflict.asked) {
            found.conflicts.push(conflict);
        }
    }
    // Where the purchaser permits one of the two not to be met, they no longer disagree.
    let settled = |id: &String| {
        let mut own = findings.iter().filter(|f| f.requirement == *id);
        own.clone().any(|f| f.verdict == Verdict::Accepted) && own.all(|f| !f.is_gap())
    };
    found.conflicts.retain(|c| !c.requirements.iter().any(settled));
    for conflict in found.conflicts {
        let subject = format!("{}, {}", Subject::CallOutsTogether.name(), conflict.what);
        let said = Found::Own { observed: conflict.asked, limit: conflict.wanted, met: false };
        let evidence = Evidence::at(conflict.place.document, conflict.place.path, said);
        one(judge, house, Subject::CallOutsTogether, &subject, evidence, findings);
    }
    for twice in found.twice {
        let subject = format!("{}, {}", Subject::LimitsAskedTwice.name(), twice.what);
        let said = Found::Own { observed: twice.asked, limit: twice.stands, met: true };
        let path = Path::root().key("calls_for");
        one(
            judge,
            house,
            Subject::LimitsAskedTwice,
            &subject,
            Evidence::at(Document::Part, path, said),
            findings,
        );
    }
}

/// A house without the rule still lets no conflict pass.
fn one(
    judge: &Judge,
    house: &EffectivePack,
    wanted: Subject,
    subject: &str,
    evidence: Evidence,
    findings: &mut Vec<Finding>,
) {
    let rule = house.pack.requirements.iter().enumerate().find(|(_, r)| r.subject == wanted);
    match rule {
        Some((position, requirement)) => {
            judge.finding(house, position, requirement, "lot", subject, &[evidence], findings);
        }
        None if wanted == Subject::CallOutsTogether => {
            findings.push(nothing_judged(judge.dossier, subject, evidence.place));
        }
        None => {}
    }
}
