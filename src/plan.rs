//! What will be checked of a lot that is not begun: from order, part specification, grade and rulebook to the
//! windows, the tests and their samples, the records, the cautions, and what the purchaser must be asked first.
//!
//! Pure, and made with the judge's own functions: a plan that promised other than the judge demands would be worse
//! than none. What the order leaves open is found by judging a lot that has every step and test but no reading.

mod allowance;
mod cautions;
mod demands;
mod dry_run;
mod entries;
mod needs;
mod places;
mod questions;
mod treatments;

use serde::Serialize;

use crate::alloy::Alloy;
use crate::alloy::Series;
use crate::finding::Reason;
use crate::judge;
use crate::moment::Date;
use crate::order::Line;
use crate::order::Order;
use crate::pack::SamplingTable;
use crate::part::CallOut;
use crate::part::OrderOption;
use crate::part::PartCondition;
use crate::part::PartSpecification;
use crate::part::Use;
use crate::record::Characteristic;
use crate::record::TestKind;
use crate::rulebook::AdoptedBy;
use crate::rulebook::EffectivePack;
use crate::shop::Approval;
use crate::units::Quantity;

pub use allowance::Allowance;
pub use allowance::Span;
pub use cautions::Caution;
pub use demands::Decided;
pub use demands::Demand;
pub use demands::Figure;
pub use entries::Entries;
pub use entries::Entry;
pub use entries::Fields;
pub use entries::entries;
pub use needs::Need;
pub use places::ORDER as FIELD_ORDER;
pub use places::STEPS;
pub use places::Spot;
pub use places::fields;
pub use questions::About;
pub use questions::Question;
pub use questions::To;
pub use treatments::Fit;
pub use treatments::PlannedTest;
pub use treatments::PlannedTreatment;
pub use treatments::Why;

/// Everything a plan is made from.
#[derive(Debug, Clone, Copy)]
pub struct Input<'a> {
    /// The part specification.
    pub part: &'a PartSpecification,
    /// The order; only the line below counts.
    pub order: &'a Order,
    /// Its line.
    pub line: &'a Line,
    /// The grade, as somebody named it.
    pub grade: Option<&'a str>,
    /// Its row of the alloy table.
    pub alloy: Option<&'a Alloy>,
    /// The house's rules and the packs called out, as the shop adopted them.
    pub packs: &'a [EffectivePack],
    /// Standards called out without an edition while the order names none, or two.
    pub without_edition: &'a [String],
    /// Sampling plans.
    pub sampling: &'a [SamplingTable],
    /// The shop's approvals that part specification or order ask for.
    pub approvals: &'a [Approval],
    /// Pieces of the lot.
    pub quantity: u64,
    /// The treatment the shop chose, where an order leaves the choice to it.
    pub treatment: Option<&'a str>,
    /// Tests the shop chose, where an order leaves the choice to it.
    pub chosen: &'a [TestKind],
    /// The day the work is planned for.
    pub on: Date,
}

impl<'a> Input<'a> {
    /// The call-outs: those of the part, then those of the order line.
    fn call_outs(&self) -> impl Iterator<Item = (Origin, &'a CallOut)> + use<'a> {
        let part = self.part.calls_for.iter().map(|call| (Origin::Part, call));
        part.chain(self.line.also_calls_for.iter().map(|call| (Origin::Order, call)))
    }

    fn house(&self) -> Option<&'a EffectivePack> {
        self.packs.iter().find(|p| p.pack.is_house())
    }

    /// The pack, in the edition, that a designation names.
    fn pack_named(&self, named: &str) -> Option<&'a EffectivePack> {
        let standards = self.packs.iter().filter(|p| !p.pack.is_house());
        standards
            .into_iter()
            .find(|p| p.pack.edition_in_force(self.order, named).is_some_and(|e| e == p.edition))
    }
}

/// In which paper a call-out stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Origin {
    /// The part specification.
    Part,
    /// The order line.
    Order,
}

/// Everything that will be checked of a lot of one order line.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Plan {
    /// Purchase order number.
    pub order: String,
    /// Its line.
    pub line: String,
    /// Part number.
    pub part: String,
    /// Drawing revision.
    pub revision: String,
    /// What the part is.
    pub description: String,
    /// The purchaser's id.
    pub purchaser: String,
    /// What the finished surface is for, where somebody said.
    pub used_for: Option<Use>,
    /// What was said of the part's making; nothing: nobody said.
    pub conditions: Option<Vec<PartCondition>>,
    /// Pieces.
    pub quantity: u64,
    /// The day it is planned for.
    pub on: Date,
    /// The grade, as named; nothing: it is not known yet.
    pub grade: Option<String>,
    /// Its number and series, where the alloy table knows it.
    pub alloy: Option<PlannedAlloy>,
    /// What to mind before anything else.
    pub cautions: Vec<Caution>,
    /// What must be asked or adopted first.
    pub questions: Vec<Question>,
    /// The call-outs.
    pub call_outs: Vec<PlannedCall>,
    /// What the shop's own book and people must have, by the house's rules.
    pub needs: Vec<Need>,
    /// Metal taken off by electropolishing, and what to add to the size for it.
    pub allowance: Option<Allowance>,
}

/// What the plan needs to know of a grade.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PlannedAlloy {
    /// Common name.
    pub grade: String,
    /// Unified number.
    pub uns: String,
    /// Series.
    pub series: Series,
    /// Whether it is alloyed for machining.
    pub free_machining: bool,
    /// The least chromium it may have; counted until a heat analysis says more.
    pub least_chromium: Option<Quantity>,
}

/// One call-out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PlannedCall {
    /// The standard with its edition, or the characteristic limited.
    pub name: String,
    /// As it is written.
    pub written: String,
    /// In which paper.
    pub origin: Origin,
    /// The pack it is judged by; nothing: there is none.
    pub pack: Option<String>,
    /// Who adopted the pack.
    pub adopted: Option<AdoptedBy>,
    /// Whether the order names the treatment.
    pub treatment_named: bool,
    /// Whether the shop chooses the treatment, and has to write which.
    pub shop_chooses_treatment: bool,
    /// The treatments that could carry it out.
    pub treatments: Vec<PlannedTreatment>,
    /// Whether the shop chooses the test.
    pub shop_chooses_tests: bool,
    /// The tests of the standard, ordered or not.
    pub tests: Vec<PlannedTest>,
    /// Everything demanded.
    pub demands: Vec<Demand>,
    /// Pieces to look at, and how many may fail.
    pub looked_at: Option<(u64, u64)>,
    /// The sampling plan ordered, and how severe inspection is for the next lot.
    pub sampling: Option<String>,
    /// Options ordered.
    pub options: Vec<OrderOption>,
    /// A limit of the purchaser's own.
    pub limit: Option<PlannedLimit>,
}

/// A limit of the purchaser's own.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PlannedLimit {
    /// Of what.
    pub what: Characteristic,
    /// Least.
    pub at_least: Option<Quantity>,
    /// Most.
    pub at_most: Option<Quantity>,
    /// Pieces to measure.
    pub pieces: u64,
}

impl Plan {
    /// The demands of all call-outs.
    pub fn demands(&self) -> impl Iterator<Item = &Demand> {
        self.call_outs.iter().flat_map(|call| &call.demands)
    }

    /// Whether any call-out can be carried out by this kind of step.
    pub fn has(&self, step: crate::pack::TreatmentStep) -> bool {
        self.call_outs.iter().flat_map(|c| &c.treatments).any(|t| t.step == step)
    }
}

impl Plan {
    /// Adds what no lot can meet, because two call-outs do not go together, in front of every other question.
    pub fn disagree(&mut self, together: &judge::Together) {
        let asked = together.conflicts.iter().map(|conflict| Question {
            to: To::Purchaser,
            holds: true,
            requirement: "house/call-outs.agree".to_owned(),
            standard: "house rules".to_owned(),
            clause: "house".to_owned(),
            subject: conflict.what.clone(),
            limit: conflict.wanted.clone(),
            observed: Some(conflict.asked.clone()),
            reason: Some(Reason::Contradiction(conflict.asked.clone())),
            about: None,
            treatments: Vec::new(),
        });
        let known =
            |q: &Question| self.questions.iter().any(|k| k.observed == q.observed && k.subject == q.subject);
        let new: Vec<Question> = asked.filter(|q| !known(q)).collect();
        self.questions.splice(0..0, new);
    }
}

/// Makes the plan.
pub fn plan(input: &Input) -> Plan {
    let mut call_outs = Vec::new();
    let mut asked = questions::Asked::default();
    let mut any = false;
    for (origin, call) in input.call_outs() {
        any = true;
        call_outs.push(one(input, origin, call, &mut asked));
    }
    if !any {
        asked.add_findings(input, None, &judge::judge(&dry_run::dossier(input, None, None, &[])));
    }
    asked.of_statements(input);
    let mut plan = Plan {
        order: input.order.order.clone(),
        line: input.line.line.clone(),
        part: input.part.part.clone(),
        revision: input.part.revision.clone(),
        description: input.part.description.clone(),
        purchaser: input.order.purchaser.clone(),
        used_for: input.part.used_for,
        conditions: input.part.conditions.clone(),
        quantity: input.quantity,
        on: input.on,
        grade: input.grade.map(str::to_owned),
        alloy: input.alloy.map(|a| PlannedAlloy {
            grade: a.grade.clone(),
            uns: a.uns.clone(),
            series: a.series,
            free_machining: a.free_machining,
            least_chromium: a.element("Cr").and_then(|cr| cr.from),
        }),
        cautions: Vec::new(),
        questions: asked.done(),
        call_outs,
        needs: Vec::new(),
        allowance: None,
    };
    plan.cautions = cautions::cautions(&plan);
    plan.needs = needs::needs(input, &plan);
    plan.allowance = allowance::allowance(&plan);
    plan
}

fn one(input: &Input, origin: Origin, call: &CallOut, asked: &mut questions::Asked) -> PlannedCall {
    let mut planned = PlannedCall {
        name: call.standard.clone().unwrap_or_default(),
        written: call.standard.clone().unwrap_or_default(),
        origin,
        pack: None,
        adopted: None,
        treatment_named: call.treatment.is_some(),
        shop_chooses_treatment: false,
        treatments: Vec::new(),
        shop_chooses_tests: false,
        tests: Vec::new(),
        demands: Vec::new(),
        looked_at: None,
        sampling: None,
        options: call.options.clone(),
        limit: None,
    };
    if let (None, Some(what)) = (&call.standard, call.limit) {
        what.name().clone_into(&mut planned.name);
        what.name().clone_into(&mut planned.written);
        let pieces = call.pieces.unwrap_or(1).min(input.quantity);
        planned.limit = Some(PlannedLimit { what, at_least: call.at_least, at_most: call.at_most, pieces });
    }
    let pack = call.standard.as_deref().filter(|_| call.limit.is_none());
    let Some(pack) = pack.and_then(|named| input.pack_named(named)) else {
        let called = dry_run::Called { origin, call_out: call };
        asked.add_findings(input, None, &judge::judge(&dry_run::dossier(input, Some(&called), None, &[])));
        return planned;
    };
    planned.name = judge::standard_name(pack);
    planned.pack = Some(pack.pack.pack.clone());
    planned.adopted.clone_from(&pack.adopted);
    planned.shop_chooses_treatment = call.treatment.is_none() && pack.pack.treatments.len() > 1;
    planned.shop_chooses_tests = pack.pack.shop_chooses_tests && call.tests.is_empty();
    planned.sampling = call.sampling.map(|plan| {
        let table = judge::table_of(input.sampling, &plan, call.standard.as_deref());
        match table.and_then(|t| t.switched.as_ref()) {
            Some(switched) => format!("{plan}, {}", judge::inspection_told(switched)),
            None => plan.to_string(),
        }
    });
    planned.looked_at = Some(
        judge::looked_at_by_plan(input.sampling, call, &pack.pack, input.quantity)
            .unwrap_or((input.quantity, 0)),
    );
    let called = dry_run::Called { origin, call_out: call };
    let dry = dry_run::DryRun::of(input, &called, pack);
    (planned.treatments, planned.tests) = (dry.treatments(), dry.tests());
    planned.demands = dry.demands();
    asked.of_call(input, &dry, &planned);
    planned
}
