//! The judge: one lot's dossier in, findings out. Pure: no file, no clock, no chance.
//!
//! Every call-out is resolved to a pack and its treatment and tests; every requirement of the pack and of
//! the house's own rules is held against the last treatment of every piece and the looks, readings and
//! tests made after it. What cannot be told is a gap, never a pass.

mod applies;
mod approvals;
mod asked;
mod beside;
mod calibration;
mod called;
mod changed;
mod clauses;
mod compare;
mod decided;
mod each;
mod equipment;
mod estimates;
mod evidence;
mod family;
mod gaps;
mod gauges;
mod grade;
mod heat;
mod immersion;
mod later;
mod limit;
mod looks;
mod lot;
mod names;
mod ordered;
mod orders;
mod outside;
mod papers;
mod part;
mod people;
mod periodic;
mod permitted;
mod plausible;
mod raw;
mod rounds;
mod runs;
mod shared;
mod shown;
mod step;
mod strength;
mod switching;
mod tests_made;
mod together;
mod whole;

use serde::Deserialize;
use serde::Serialize;

use crate::alloy::Alloy;
use crate::alloy::ProductTolerances;
use crate::changes::Checks;
use crate::computed::Computed;
use crate::correction::Correction;
use crate::deviation::Deviation;
use crate::evidence::HeldFile;
use crate::finding::Document;
use crate::finding::Finding;
use crate::finding::Place;
use crate::finding::Reason;
use crate::finding::Verdict;
use crate::load::Load;
use crate::load::TestReport;
use crate::logger::Logger;
use crate::order::Order;
use crate::pack::Basis;
use crate::pack::Check;
use crate::pack::Remedy;
use crate::pack::Requirement;
use crate::pack::SamplingTable;
use crate::pack::Scope;
use crate::pack::Subject;
use crate::part::PartSpecification;
use crate::path::Path;
use crate::periodic::PeriodicTest;
use crate::record::Record;
use crate::record::Relative;
use crate::record::TestKind;
use crate::rulebook::EffectivePack;
use crate::rulebook::Standing;
use crate::shipment::CoveredRuns;
use crate::shop::Approval;
use crate::shop::Bath;
use crate::shop::Instrument;
use crate::shop::Person;
use crate::shop::Solution;
use crate::trace_form::NamedForm;

use called::Called;
use called::Resolved;
use called::call_outs;
use called::line_of;
use called::pack_named;
use evidence::Evidence;
use evidence::Found;
use gaps::drop_beside;
use gaps::drop_owned;
use gaps::remedy;
use runs::FinalRun;

pub use applies::Applies;
pub use applies::applies;
pub use applies::selects;
pub use approvals::is_printed as approval_is_printed;
pub use approvals::needed as approvals_needed;
pub use asked::Ground;
pub use asked::answer;
pub use asked::fields;
pub use asked::ground;
pub use asked::statements;
pub use changed::papers;
pub use clauses::asked_for;
pub use clauses::builds_on;
pub use clauses::chosen;
pub use compare::limit_text;
pub use estimates::told as removal_estimates;
pub use family::takings;
pub use grade::About;
pub use grade::Consequence;
pub use grade::GradeAnswer;
pub use grade::consequences;
pub use later::Later;
pub use later::LaterAnalyses;
pub use later::LaterCalibrations;
pub use later::later_analyses;
pub use later::later_of as later_calibrations;
pub use later::later_requirements;
pub use later::settled;
pub use looks::by_plan as looked_at_by_plan;
pub use names::standard_name;
pub use names::test_subject;
pub use papers::files_named;
pub use part::Claim;
pub use part::Overdrawn;
pub use part::fits;
pub use people::Deed;
pub use people::deeds;
pub use periodic::failed_after;
pub use periodic::last_before;
pub use permitted::reaches;
pub use raw::count as readings_judged;
pub use shared::treatment_baths;
pub use shown::Carried;
pub use shown::analysis_used;
pub use shown::carried;
pub use shown::counts;
pub use shown::is_final;
pub use shown::is_shown;
pub use shown::limit_words;
pub use step::is_named as treatment_is_named;
pub use switching::Inspected;
pub use switching::inspected;
pub use switching::switched;
pub use switching::told as inspection_told;
pub use tests_made::planned;
pub use tests_made::sample_of;
pub use tests_made::table_of;
pub use together::Asked;
pub use together::Conflict;
pub use together::Together;
pub use together::Twice;
pub use together::together;
pub use whole::whole;

/// The version of the judgement: raised whenever the same dossier could give other findings.
pub const JUDGE: u64 = 4;

/// Everything the judge may look at for one lot. It rides in the certificate, so that anyone can judge again.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Dossier {
    /// What happened.
    pub record: Record,
    /// What the purchaser asks of the part.
    pub part: PartSpecification,
    /// The order, with the lot's line only.
    pub order: Order,
    /// The packs the call-outs name, and the house's own rules, as the shop adopted them.
    pub packs: Vec<EffectivePack>,
    /// The alloy table's row, where the grade is in it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub alloy: Option<Alloy>,
    /// How far product analyses of its heats may lie outside the grade's limits, where there are any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub product_tolerances: Option<ProductTolerances>,
    /// Baths the record names, with the analyses in force.
    pub baths: Vec<Bath>,
    /// Instruments the record and those baths name, with the calibrations in force.
    pub instruments: Vec<Instrument>,
    /// Test solutions the record names.
    pub solutions: Vec<Solution>,
    /// Sampling plans the call-outs name.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sampling: Vec<SamplingTable>,
    /// The people who did what counts: name, function, the qualifications that decide.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub people: Vec<Person>,
    /// What was found after use, when it was judged.
    #[serde(default, skip_serializing_if = "Later::is_empty")]
    pub later: Later,
    /// The shop's approvals that part specification or order ask for.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub approvals: Vec<Approval>,
    /// Most times the same pieces go through one treatment, by the shop's own procedure.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub most_rounds: Option<u64>,
    /// The purchaser's deviations that name this part, order or lot.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub deviations: Vec<Deviation>,
    /// The part of the lot that is shipped, when the rest stays; left out: the whole lot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub covers_runs: Option<CoveredRuns>,
    /// Lots this one was made from, and the others that were made from them or from this one.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub family: Vec<Relative>,
    /// Standards of the rulebook that are called out without an edition while the order names none, or two.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub without_edition: Vec<String>,
    /// Corrections of the shop's book that speak of these rows.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub corrections: Vec<Correction>,
    /// What the journal of the lot's checks says against these papers; absent where none is kept.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub checks: Option<Checks>,
    /// Files its papers name, as they were found.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub files: Vec<HeldFile>,
    /// What was computed of the raw files its record names.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub computed: Vec<Computed>,
    /// The loggers that wrote its logs, as the shop's book maps them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub loggers: Vec<Logger>,
    /// How the texts of its traces are laid out.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub trace_forms: Vec<NamedForm>,
    /// Whether its certificate shows pictures of them.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub pictures: bool,
    /// Loads it was in, with its own lines only.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub loads: Vec<Load>,
    /// Test reports that speak for it, with its own lines only.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub reports: Vec<TestReport>,
    /// Periodic tests of its treatment baths: the last before use, and the next where it failed.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub periodic: Vec<PeriodicTest>,
}

/// Pieces of the runs a certificate of this dossier covers: the lot to a sampling plan.
pub fn pieces_covered(dossier: &Dossier) -> u64 {
    runs::covered_runs(dossier).iter().fold(0_u64, |sum, run| sum.saturating_add(run.pieces))
}

/// Judges a lot. Findings come in the order of the call-outs and of each pack; the house's own rules first.
pub fn judge(dossier: &Dossier) -> Vec<Finding> {
    let whole = whole(dossier);
    let mut findings = judge_whole(&clauses::resolved(&whole), &whole);
    whole::place(dossier, &mut findings);
    findings
}

/// Judges a dossier whose clauses are resolved; `ordered` is the same as it was written.
fn judge_whole(dossier: &Dossier, ordered: &Dossier) -> Vec<Finding> {
    let runs = runs::covered_runs(dossier);
    let mut findings = Vec::new();
    let Some(house) = dossier.packs.iter().find(|p| p.pack.is_house()) else {
        // Without the house's rules nothing is judged, and nothing may pass.
        findings.push(nothing_judged(
            dossier,
            "house",
            Place { document: Document::Record, path: Path::root() },
        ));
        return findings;
    };
    let judge = Judge { dossier, runs: &runs };

    for (position, requirement) in house.pack.requirements.iter().enumerate() {
        if let Some(each) = changed::evidence(dossier, requirement.subject) {
            for (subject, evidence) in each {
                let evidence = [evidence];
                judge.finding(house, position, requirement, "lot", &subject, &evidence, &mut findings);
            }
        } else if matches!(requirement.subject.scope(), Scope::Lot)
            && !lot::is_per_call_out(requirement.subject)
        {
            let evidence = lot::evidence(dossier, None, requirement.subject);
            judge.finding(
                house,
                position,
                requirement,
                "lot",
                requirement.subject.name(),
                &evidence,
                &mut findings,
            );
        }
        if people::once_a_run(requirement.subject) {
            for run in &runs {
                let evidence = people::evidence(dossier, run, requirement.subject);
                if evidence.is_empty() {
                    continue; // that nothing was done is another requirement's gap
                }
                let place = format!("run {}", run.run.run);
                let name = requirement.subject.name();
                judge.finding(house, position, requirement, &place, name, &evidence, &mut findings);
            }
        }
    }
    let called = call_outs(dossier);
    if called.is_empty() {
        let place = Place { document: Document::Part, path: Path::root().key("calls_for") };
        findings.push(nothing_judged(dossier, "no call-out", place));
    }
    for call in &called {
        match (&call.call_out.standard, call.call_out.limit) {
            (None, Some(_)) => judge.limit(house, call, &mut findings),
            (_, None) => judge.standard(house, call, &mut findings),
            // Two things in one: which of them was asked cannot be told.
            (Some(_), Some(_)) => {
                findings.push(nothing_judged(dossier, "standard and limit in one", call.place.clone()));
            }
        }
    }
    together::judge(&judge, ordered, house, &mut findings);
    asked::judge(&judge, house, &mut findings);
    findings
}

/// A gap of its own: nothing was judged where something had to be.
fn nothing_judged(dossier: &Dossier, limit: &str, place: Place) -> Finding {
    Finding {
        requirement: "house/call-out-judged".to_owned(),
        standard: format!("part {} {}", dossier.part.part, dossier.part.revision),
        clause: "house".to_owned(),
        basis: Basis::House,
        subject: "call-out".to_owned(),
        place_in_lot: "lot".to_owned(),
        limit: limit.to_owned(),
        observed: None,
        verdict: Verdict::NoEvidence,
        reason: Some(Reason::NothingJudged),
        remedy: Some(Remedy::Ask),
        shop_figure: false,
        converted: false,
        place,
    }
}

struct Judge<'a> {
    dossier: &'a Dossier,
    runs: &'a [FinalRun<'a>],
}

impl Judge<'_> {
    /// Judges one call-out of a standard.
    fn standard(&self, house: &EffectivePack, call: &Called, findings: &mut Vec<Finding>) {
        let named = call.call_out.standard.as_deref().unwrap_or_default();
        let Some(pack) = pack_named(self.dossier, named) else {
            let mut gap = nothing_judged(self.dossier, named, call.place.clone());
            gap.reason = Some(orders::not_found(self.dossier, named));
            findings.push(gap);
            return;
        };
        let base = clauses::base_of(self.dossier, pack);
        if pack.pack.builds_on.is_some() && base.is_none() {
            return; // that the call-outs do not go together is a gap of its own
        }
        let (mut call_out, swapped) = permitted::tests(self.dossier, pack, call.call_out, self.runs);
        if let Some(base) = base {
            call_out = permitted::tests(self.dossier, base, &call_out, self.runs).0;
        }
        if call_out.tests.is_empty() && pack.pack.shop_chooses_tests {
            call_out.tests = tests_made::chosen(self.dossier, pack, self.runs);
        }
        let resolved = Resolved { call_out: &call_out, place: &call.place, pack, name: standard_name(pack) };
        let before = findings.len();
        let mut own = Vec::new();
        match base {
            Some(base) => self.house_beside(house, base, &resolved, &mut own),
            None => self.requirements(house, &resolved, &mut own),
        }
        self.requirements(pack, &resolved, &mut own);
        let prefix = format!("{}/", pack.pack.pack);
        let judged = own.iter().any(|f| {
            f.requirement.starts_with(&prefix)
                && !matches!(f.verdict, Verdict::NotApplicable | Verdict::Advice)
        });
        // An ordered test the standard does not name, or of which the pack demands no result, is never passed over.
        let made = own.iter().filter(|f| f.requirement.starts_with(&prefix));
        let subjects: Vec<&str> = made.map(|f| f.subject.as_str()).collect();
        let unjudged: Vec<TestKind> = call_out
            .tests
            .iter()
            .copied()
            // What clauses inherit is judged under the standard they build on.
            .filter(|kind| !base.is_some_and(|b| b.pack.tests.iter().any(|t| t.test == *kind)))
            .filter(|kind| {
                !pack.pack.tests.iter().any(|t| t.test == *kind)
                    || !subjects.contains(&test_subject(Subject::TestMade, *kind).as_str())
                    || !subjects.contains(&test_subject(Subject::TestResult, *kind).as_str())
            })
            .collect();
        permitted::told(self.dossier, pack, swapped, &call.place, &mut own);
        self.gauges(house, pack, &call.place, &mut own);
        findings.append(&mut own);
        for kind in unjudged {
            let place = Place { document: call.place.document, path: call.place.path.key("tests") };
            let mut gap = nothing_judged(self.dossier, kind.name(), place);
            gap.reason =
                Some(Reason::NotInRulebook(format!("the test {} of {}", kind.name(), resolved.name)));
            findings.push(gap);
        }
        // Clauses that only choose are judged where they build on.
        if !(judged || base.is_some() && pack.pack.chooses()) {
            findings.push(nothing_judged(self.dossier, named, call.place.clone()));
        }
        match base {
            Some(base) => drop_beside(findings, before, &format!("{}/", base.pack.pack)),
            None => drop_owned(findings, before),
        }
    }

    /// Judges every requirement of `pack` (the standard's own, or the house's) for one call-out.
    fn requirements(&self, pack: &EffectivePack, resolved: &Resolved, findings: &mut Vec<Finding>) {
        for (position, requirement) in pack.pack.requirements.iter().enumerate() {
            match requirement.subject.scope() {
                Scope::Lot => self.lot_requirement(pack, position, requirement, resolved, findings),
                Scope::Run => self.run_requirement(pack, position, requirement, resolved, findings),
                Scope::Test => self.test_requirement(pack, position, requirement, resolved, findings),
            }
        }
    }

    /// The house's own rules for a purchaser's clauses: that they are adopted, what their limits say of the next
    /// analysis, and the tests that only they name. All else is judged under the standard they build on.
    fn house_beside(
        &self,
        house: &EffectivePack,
        base: &EffectivePack,
        resolved: &Resolved,
        findings: &mut Vec<Finding>,
    ) {
        let mut call_out = resolved.call_out.clone();
        call_out.tests.retain(|kind| !base.pack.tests.iter().any(|t| t.test == *kind));
        let own = Resolved {
            call_out: &call_out,
            place: resolved.place,
            pack: resolved.pack,
            name: resolved.name.clone(),
        };
        for (position, requirement) in house.pack.requirements.iter().enumerate() {
            match requirement.subject.scope() {
                Scope::Lot => self.lot_requirement(house, position, requirement, resolved, findings),
                Scope::Test => self.test_requirement(house, position, requirement, &own, findings),
                Scope::Run if requirement.subject == Subject::NextAnalysis => {
                    let before = findings.len();
                    self.run_requirement(house, position, requirement, resolved, findings);
                    let mut at = 0;
                    findings.retain(|f| {
                        at += 1;
                        at <= before || f.verdict != Verdict::NotApplicable
                    });
                }
                Scope::Run => {}
            }
        }
    }

    /// Holds evidence against a requirement and adds the finding. Several pieces of evidence make one finding:
    /// the first that fails, else the first that is missing, else all that was found.
    #[allow(clippy::too_many_arguments)]
    fn finding(
        &self,
        pack: &EffectivePack,
        position: usize,
        requirement: &Requirement,
        place_in_lot: &str,
        subject: &str,
        evidence: &[Evidence],
        findings: &mut Vec<Finding>,
    ) {
        let standing = pack.standing.get(position).copied().unwrap_or(Standing::NotAdopted);
        // A pack nobody adopted is one gap of its own; its figures are still shown against the record.
        let held = match standing {
            Standing::Confirmed | Standing::Own => None,
            Standing::NotAdopted if pack.adopted.is_none() => None,
            Standing::NotAdopted => Some(Reason::NotAdopted),
            Standing::Changed => Some(Reason::RuleChanged),
            Standing::Unsure => Some(Reason::FigureUnsure),
            // The shop's controlled copy has no such demand.
            Standing::Absent => None,
        };
        let absent = [Evidence::record(Path::root(), Found::NotApplicable)];
        let evidence = if standing == Standing::Absent { &absent } else { evidence };
        let mut outcome = compare::outcome(&requirement.check, evidence, self.dossier.order.decision_rule);
        if outcome.verdict == Verdict::NotApplicable {
            outcome.reason = None;
        } else if let Some(reason) = held {
            outcome.verdict = Verdict::NoEvidence;
            outcome.reason = Some(reason);
        }
        if requirement.advice {
            if !outcome.verdict.is_gap() {
                return;
            }
            outcome.verdict = Verdict::Advice;
        }
        if outcome.verdict.is_gap()
            && let Some(permission) = permitted::covering(
                self.dossier,
                pack,
                requirement,
                subject,
                evidence,
                outcome.reason.as_ref(),
            )
        {
            outcome.verdict = Verdict::Accepted;
            outcome.reason = Some(Reason::Permitted(permission));
        }
        let remedy =
            outcome.verdict.is_gap().then(|| remedy(requirement, outcome.reason.as_ref(), outcome.verdict));
        let place = outcome.place.unwrap_or(Place { document: Document::Record, path: Path::root() });
        findings.push(Finding {
            requirement: format!("{}/{}", pack.pack.pack, requirement.id),
            standard: standard_name(pack),
            clause: requirement.clause.clone(),
            basis: outcome.basis.unwrap_or(requirement.basis),
            subject: subject.to_owned(),
            place_in_lot: place_in_lot.to_owned(),
            limit: outcome.limit,
            observed: outcome.observed,
            verdict: outcome.verdict,
            reason: outcome.reason,
            remedy,
            shop_figure: standing == Standing::Own,
            converted: outcome.converted,
            place,
        });
    }
}

/// Whether a lot conforms: no finding is a gap, and something was judged.
pub fn conforms(findings: &[Finding]) -> bool {
    !findings.is_empty() && findings.iter().all(|f| !f.is_gap())
}

/// The check of a requirement needs no figure (used by the pack tests).
pub const fn is_figure(check: &Check) -> bool {
    matches!(check, Check::Within(_) | Check::AtLeast(_) | Check::AtMost(_))
}
