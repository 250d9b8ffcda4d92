//! What the shop's own book and people must have before the lot is done: the house's rules, with what they come to
//! for this plan.

use serde::Serialize;

use crate::pack::Subject;
use crate::pack::TreatmentStep;
use crate::plan::Input;
use crate::plan::Plan;
use crate::record::TestKind;
use crate::shop::InstrumentKind;

/// One thing the shop must have.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Need {
    /// The house's requirement.
    pub requirement: String,
    /// What it looks at.
    pub subject: String,
    /// What that is for this plan.
    pub what: Vec<String>,
}

/// The tests that will be made: those ordered, else those the shop chooses among.
fn tests(plan: &Plan) -> Vec<TestKind> {
    let mut all = Vec::new();
    for kind in plan.demands().filter_map(|d| d.test) {
        if !all.contains(&kind) {
            all.push(kind);
        }
    }
    all
}

/// What each of the house's rules comes to; nothing for those with nothing to look at here.
pub fn needs(input: &Input, plan: &Plan) -> Vec<Need> {
    let Some(house) = input.house() else { return Vec::new() };
    let tests = tests(plan);
    let asks = |subject| plan.demands().any(|d| d.subject == subject && !d.advice);
    let treated = plan.call_outs.iter().any(|c| !c.treatments.is_empty());
    let names = |kinds: &[InstrumentKind]| kinds.iter().map(|k| k.name()).collect::<Vec<_>>().join(" or ");
    let gauges: Vec<String> = plan
        .call_outs
        .iter()
        .filter_map(|c| c.limit.as_ref())
        .map(|l| l.what)
        .chain(
            (asks(Subject::Roughness) || asks(Subject::MeanRoughness))
                .then_some(crate::record::Characteristic::Ra),
        )
        .map(|what| format!("{}: {}", what.name(), names(InstrumentKind::for_measurement(what))))
        .collect();
    let mut strengths: Vec<String> = Vec::new();
    for demand in plan.demands().filter(|d| !d.advice) {
        let bath = match demand.subject {
            Subject::NitricAcid | Subject::SodiumDichromate | Subject::CitricAcid | Subject::BathPh => {
                demand.subject.name().to_owned()
            }
            Subject::PostDipNitric => "nitric acid of the dip after electropolishing".to_owned(),
            Subject::PostTreatmentDichromate => "sodium dichromate of the chromate bath".to_owned(),
            _ => continue,
        };
        if !strengths.contains(&bath) {
            strengths.push(bath);
        }
    }
    let mut all = Vec::new();
    for requirement in &house.pack.requirements {
        let of_tests: Vec<&TestKind> = tests.iter().filter(|t| requirement.when.tests.contains(t)).collect();
        let what: Vec<String> = match requirement.subject {
            Subject::RuleAdopted => plan
                .call_outs
                .iter()
                .filter(|c| c.pack.is_some())
                .map(|c| match &c.adopted {
                    Some(by) => format!("{}: adopted {} by {}, {}", c.name, by.on, by.by, by.copy),
                    None => format!("{}: not adopted yet", c.name),
                })
                .collect(),
            Subject::CallOutsReviewed => {
                let said = |review: &Option<crate::part::Review>| {
                    review.as_ref().map_or("not yet".to_owned(), |r| format!("by {} on {}", r.by, r.on))
                };
                vec![
                    format!("part specification: {}", said(&input.part.reviewed)),
                    format!("order: {}", said(&input.order.reviewed)),
                ]
            }
            Subject::AnalysisAge if treated => {
                let of = if strengths.is_empty() {
                    String::new()
                } else {
                    format!(" that says {}", strengths.join(", "))
                };
                vec![format!(
                    "an analysis{of}, drawn before use and no older than the shop's procedure allows"
                )]
            }
            Subject::BathCalibration if treated => {
                vec!["a thermometer in calibration at every treatment bath, dip and chromate bath".to_owned()]
            }
            Subject::RinseCalibration if treated => {
                vec!["a meter for total solids or conductivity in calibration, at the final rinse".to_owned()]
            }
            Subject::RectifierCalibration if plan.has(TreatmentStep::Electropolish) => {
                vec!["a rectifier in calibration, where current density or voltage is read".to_owned()]
            }
            Subject::TestCalibration => of_tests
                .iter()
                .map(|t| format!("{}: {} in calibration", t.name(), names(InstrumentKind::for_test(**t))))
                .collect(),
            Subject::TestSpecimen if !of_tests.is_empty() => {
                vec!["parts of the lot; coupons only where the order allows them".to_owned()]
            }
            Subject::LimitCalibration => gauges.iter().map(|g| format!("{g} in calibration")).collect(),
            Subject::OperatorQualified => vec!["whoever runs a step, for its kind of work".to_owned()],
            Subject::AnalystQualified if treated => vec!["whoever analyses the baths".to_owned()],
            Subject::InspectorQualified if asks(Subject::Visual) => {
                vec!["whoever looks at the surface".to_owned()]
            }
            Subject::TesterQualified if !of_tests.is_empty() => {
                vec!["whoever tests, and whoever mixes the solution".to_owned()]
            }
            Subject::LimitQualified if !gauges.is_empty() => vec!["whoever measures".to_owned()],
            Subject::ApprovalsHeld => {
                let asked = input.part.needs_approvals.iter().chain(&input.order.needs_approvals);
                asked.cloned().collect()
            }
            Subject::ReleaseNamed => {
                let all: Vec<&str> = input.line.releases.iter().map(|r| r.release.as_str()).collect();
                if all.is_empty() { Vec::new() } else { vec![format!("one of: {}", all.join(", "))] }
            }
            Subject::FieldAnswered => {
                let asked = input.part.fields.iter().chain(&input.line.fields);
                asked.map(|field| field.name.clone()).collect()
            }
            Subject::CountsReconcile => {
                vec![
                    "received is accepted, rejected, used up, held, split off and returned together"
                        .to_owned(),
                ]
            }
            _ => Vec::new(),
        };
        if !what.is_empty() {
            all.push(Need {
                requirement: format!("{}/{}", house.pack.pack, requirement.id),
                subject: requirement.subject.name().to_owned(),
                what,
            });
        }
    }
    let periodic = plan.demands().find(|d| d.subject == Subject::PeriodicTest);
    all.extend(periodic.map(|d| Need {
        requirement: d.requirement.clone(),
        subject: d.subject.name().to_owned(),
        what: vec![format!("the bath's last periodic test, {} ({}, {})", d.limit, d.standard, d.clause)],
    }));
    all
}
