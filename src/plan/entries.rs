//! What has to be written down of the lot: the blocks of its record with their fields, and the limits beside each.
//! Blank and traveler are made from this, so that neither asks for what the other leaves out.

use std::collections::BTreeMap;

use crate::pack::Basis;
use crate::pack::Subject;
use crate::pack::TreatmentStep;
use crate::plan::Demand;
use crate::plan::Fit;
use crate::plan::Plan;
use crate::plan::PlannedCall;
use crate::plan::PlannedTreatment;
use crate::plan::places::STEPS;
use crate::plan::places::Spot;
use crate::plan::places::fields;
use crate::record::Characteristic;
use crate::record::TestKind;
use crate::rulebook::Standing;

/// Fields of one block, each with what is remarked beside it.
pub type Fields = BTreeMap<&'static str, Vec<String>>;

/// One block of the record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// Where in the run it stands.
    pub spot: Spot,
    /// Its word in a record: `passivate`, `rinse`.
    pub key: &'static str,
    /// Treatments that could be meant, by name; for the treatment itself only.
    pub treatments: Vec<String>,
    /// Its fields.
    pub fields: Fields,
}

/// Everything that has to be written down.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Entries {
    /// Steps of a run, in order.
    pub steps: Vec<Entry>,
    /// Tests.
    pub tests: BTreeMap<TestKind, Fields>,
    /// Tests the shop chooses among, where the order names none.
    pub choice: Vec<TestKind>,
    /// The look at the surface.
    pub visual: Option<Fields>,
    /// Gauge readings.
    pub measurements: BTreeMap<Characteristic, Fields>,
}

const VISUAL: &[&str] = &["at", "pieces", "failed", "observed", "by"];
const TEST: &[&str] = &["pieces", "failed", "started", "observed", "by"];

fn add(fields: &mut Fields, key: &'static str, said: Option<&String>) {
    let remarks = fields.entry(key).or_default();
    if let Some(said) = said.filter(|said| !remarks.contains(said)) {
        remarks.push(said.clone());
    }
}

/// The limit in words with its clause; under treatments the shop chooses among, with their names. A figure from
/// memory that the shop has not held against its own copy says so.
fn remark(demand: &Demand, alone: bool) -> Option<String> {
    if !demand.says_limit {
        return None;
    }
    let which = if alone || demand.treatments.is_empty() {
        String::new()
    } else {
        format!("{}: ", demand.treatments.join(", "))
    };
    let subject = match demand.subject {
        Subject::BathTemperature | Subject::TestTemperature | Subject::PostDipTemperature => String::new(),
        subject => format!("{} ", subject.name()),
    };
    let confirmed = matches!(demand.standing, Standing::Confirmed | Standing::Own);
    let unconfirmed = if demand.basis == Basis::Recalled && !confirmed {
        "; recalled, not read: compare with your copy"
    } else {
        ""
    };
    let unless = demand.unless_known.as_ref();
    let unless = unless.map(|what| format!("; applies or not: {what} is not known")).unwrap_or_default();
    Some(format!(
        "{which}{subject}{} ({}, {}{unconfirmed}{unless})",
        demand.limit, demand.standard, demand.clause
    ))
}

/// The treatments of a call-out by one kind of step, without those that do not fit.
fn of_kind(call: &PlannedCall, kind: TreatmentStep) -> Vec<&PlannedTreatment> {
    let all: Vec<&PlannedTreatment> = call.treatments.iter().filter(|t| t.step == kind).collect();
    let fits = |t: &&&PlannedTreatment| !matches!(t.fit, Fit::DoesNot(_));
    // Ordered by name it is what it is; the purchaser is asked.
    if call.treatment_named { all } else { all.iter().filter(fits).copied().collect() }
}

const fn word(spot: Spot, kind: TreatmentStep) -> &'static str {
    match (spot, kind) {
        (Spot::Clean, _) => "clean",
        (Spot::Descale, _) => "descale",
        (Spot::Treatment, TreatmentStep::Electropolish) => "electropolish",
        (Spot::Treatment, TreatmentStep::Passivate) => "passivate",
        (Spot::PostDip, _) => "post-dip",
        (Spot::Neutralize, _) => "neutralize",
        (Spot::PostTreat, _) => "post-treat",
        (Spot::Bake, _) => "bake",
        (Spot::Dry, _) => "dry",
        _ => "rinse",
    }
}

/// Everything that has to be written down of a plan.
pub fn entries(plan: &Plan) -> Entries {
    let mut entries = Entries::default();
    for kind in [TreatmentStep::Electropolish, TreatmentStep::Passivate] {
        entries.steps.extend(steps(plan, kind));
    }
    if entries.steps.is_empty() {
        // A run is told by its steps: without a treatment, by the last one before pieces are tested.
        let fields = Fields::from([("at", Vec::new()), ("by", Vec::new())]);
        entries.steps.push(Entry { spot: Spot::Dry, key: "dry", treatments: Vec::new(), fields });
    }
    for call in &plan.call_outs {
        for planned in call.tests.iter().filter(|t| t.ordered || t.chosen) {
            let fields = entries.tests.entry(planned.test).or_default();
            TEST.iter().for_each(|key| add(fields, key, None));
            let pieces = planned.sample.map(|(n, accept)| match accept {
                0 => format!("at least {n} of {}", plan.quantity),
                _ => format!("at least {n} of {}, at most {accept} may fail", plan.quantity),
            });
            add(fields, "pieces", pieces.as_ref());
            // A test that rests on no calibration may still name the instrument it was made with.
            add(fields, "instrument", None);
        }
        if call.shop_chooses_tests && !call.tests.iter().any(|t| t.chosen) {
            entries.choice.extend(call.demands.iter().filter_map(|d| d.test));
        }
        for demand in call.demands.iter().filter(|d| !d.advice) {
            others(&mut entries, plan, call, demand);
        }
        if let Some(limit) = &call.limit {
            let mut said: Vec<String> = limit.at_least.iter().map(|q| format!("at least {q}")).collect();
            said.extend(limit.at_most.iter().map(|q| format!("at most {q}")));
            said.push(format!("{} pieces", limit.pieces));
            add(measured(&mut entries, limit.what), "readings", Some(&said.join(", ")));
        }
    }
    entries.choice.sort_unstable();
    entries.choice.dedup();
    entries
}

fn measured(entries: &mut Entries, what: Characteristic) -> &mut Fields {
    let fields = entries.measurements.entry(what).or_default();
    ["at", "instrument", "readings", "by"].iter().for_each(|key| add(fields, key, None));
    fields
}

/// What a demand asks outside the steps of a run.
fn others(entries: &mut Entries, plan: &Plan, call: &PlannedCall, demand: &Demand) {
    let alone = call.treatment_named || call.treatments.len() < 2;
    let said = remark(demand, alone);
    let places = fields(demand.subject);
    for (index, (spot, key)) in places.iter().enumerate() {
        // The limit stands beside the last of several fields it is about.
        let said = said.as_ref().filter(|_| index.saturating_add(1) == places.len());
        match spot {
            Spot::Test => {
                let Some(kind) = demand.test else { continue };
                if let Some(fields) = entries.tests.get_mut(&kind) {
                    add(fields, key, said);
                }
            }
            Spot::Visual => {
                let looked = entries.visual.get_or_insert_default();
                VISUAL.iter().for_each(|key| add(looked, key, None));
                let count = call.looked_at.map(|(n, accept)| match accept {
                    0 => format!("at least {n} of {}", plan.quantity),
                    _ => format!("at least {n} of {}, at most {accept} may fail", plan.quantity),
                });
                add(looked, "pieces", count.as_ref());
                let said = said.filter(|_| demand.subject != Subject::VisualCount);
                add(looked, key, said);
            }
            Spot::Measurement => add(measured(entries, Characteristic::Ra), key, said),
            _ => {}
        }
    }
}

/// The steps of one kind of treatment, as far as anything is demanded of them.
fn steps(plan: &Plan, kind: TreatmentStep) -> Vec<Entry> {
    let mut blocks: BTreeMap<Spot, Fields> = BTreeMap::new();
    let mut names: Vec<String> = Vec::new();
    let mut chosen = false;
    for call in &plan.call_outs {
        let options = of_kind(call, kind);
        if options.is_empty() {
            continue;
        }
        let alone = call.treatment_named || call.treatments.len() < 2;
        chosen |= call.shop_chooses_treatment;
        for treatment in options.iter().filter(|t| !names.contains(&t.name)).collect::<Vec<_>>() {
            names.push(treatment.name.clone());
        }
        need(&mut blocks, Spot::Treatment);
        // The house asks for a final rinse and the meter that read it, whatever the standard says.
        add(need(&mut blocks, Spot::FinalRinse), "instrument", None);
        if kind == TreatmentStep::Electropolish {
            add(need(&mut blocks, Spot::Treatment), "current_density", None);
        }
        for demand in call.demands.iter().filter(|d| !d.advice) {
            if !options.iter().any(|t| demand.is_of(&t.name)) {
                continue;
            }
            let said = remark(demand, alone);
            let places = fields(demand.subject);
            for (index, (spot, key)) in places.iter().enumerate() {
                if !STEPS.iter().any(|(step, _)| step == spot) {
                    continue;
                }
                let said = said.as_ref().filter(|_| index.saturating_add(1) == places.len());
                add(need(&mut blocks, *spot), key, said);
            }
        }
    }
    // The meter that read the rinse after the chromate bath has to be known as well.
    if blocks.contains_key(&Spot::PostTreat) {
        add(need(&mut blocks, Spot::PostRinse), "instrument", None);
    }
    let mut all = Vec::new();
    for (spot, _) in STEPS {
        let Some(mut fields) = blocks.remove(spot) else { continue };
        let mut treatments = Vec::new();
        if *spot == Spot::Treatment {
            treatments.clone_from(&names);
            if chosen {
                fields.entry("as").or_default().push(format!("one of: {}", names.join(", ")));
            } else {
                fields.entry("bath").or_default().insert(0, names.join(", "));
            }
        }
        all.push(Entry { spot: *spot, key: word(*spot, kind), treatments, fields });
    }
    all
}

fn need(blocks: &mut BTreeMap<Spot, Fields>, spot: Spot) -> &mut Fields {
    let fields = blocks.entry(spot).or_default();
    let base = STEPS.iter().find(|(s, _)| *s == spot).map_or(&[][..], |(_, base)| base);
    base.iter().for_each(|key| add(fields, key, None));
    fields
}
