//! A lot with every step and every test and not one reading, for the judge: what is still a gap then, although
//! nothing was written down yet, lies in the papers.

use crate::finding::Finding;
use crate::judge;
use crate::judge::Dossier;
use crate::judge::Later;
use crate::moment::Moment;
use crate::pack::Subject;
use crate::pack::Treatment;
use crate::pack::TreatmentStep;
use crate::part::CallOut;
use crate::plan::Input;
use crate::plan::Origin;
use crate::record::Characteristic;
use crate::record::Counts;
use crate::record::Done;
use crate::record::Immersion;
use crate::record::Material;
use crate::record::Measurement;
use crate::record::OrderLine;
use crate::record::Record;
use crate::record::Rinse;
use crate::record::Run;
use crate::record::Specimen;
use crate::record::Step;
use crate::record::Test;
use crate::record::TestKind;
use crate::record::Visual;
use crate::rulebook::EffectivePack;

/// One call-out and the paper it stands in.
#[derive(Debug, Clone, Copy)]
pub struct Called<'a> {
    pub origin: Origin,
    pub call_out: &'a CallOut,
}

/// One call-out of a standard, judged dry under each treatment that could carry it out.
pub struct DryRun<'a> {
    pub input: &'a Input<'a>,
    pub called: &'a Called<'a>,
    pub pack: &'a EffectivePack,
    /// The treatments that could carry it out.
    pub options: Vec<&'a Treatment>,
    /// Tests that count: those ordered, else those the shop may choose among.
    pub tests: Vec<TestKind>,
    /// What the judge found under each of them; one without treatment where the standard has none.
    pub judged: Vec<(Option<&'a Treatment>, Vec<Finding>)>,
}

impl<'a> DryRun<'a> {
    /// Judges a call-out dry.
    pub fn of(input: &'a Input<'a>, called: &'a Called<'a>, pack: &'a EffectivePack) -> DryRun<'a> {
        let call = called.call_out;
        let named =
            |t: &&Treatment| call.treatment.as_deref().is_none_or(|n| judge::treatment_is_named(t, n));
        let mut options: Vec<&Treatment> = pack.pack.treatments.iter().filter(named).collect();
        let chosen = |t: &Treatment| input.treatment.is_some_and(|n| judge::treatment_is_named(t, n));
        if call.treatment.is_none() && options.iter().any(|t| chosen(t)) {
            options.retain(|t| chosen(t));
        }
        let mut run = DryRun { input, called, pack, options, tests: Vec::new(), judged: Vec::new() };
        run.tests = run.counting_tests();
        let each: Vec<Option<&Treatment>> =
            if run.options.is_empty() { vec![None] } else { run.options.iter().copied().map(Some).collect() };
        for treatment in each {
            let found = judge::judge(&dossier(input, Some(called), treatment, &run.tests));
            run.judged.push((treatment, found));
        }
        run
    }

    /// The tests ordered; where the choice is the shop's, those that are not invalid here.
    fn counting_tests(&self) -> Vec<TestKind> {
        if !self.called.call_out.tests.is_empty() || !self.pack.pack.shop_chooses_tests {
            return self.called.call_out.tests.clone();
        }
        let named = self.pack.pack.tests.iter().map(|t| t.test);
        let possible: Vec<TestKind> = named.filter(|kind| self.test_is_possible(*kind)).collect();
        let chosen: Vec<TestKind> =
            possible.iter().copied().filter(|kind| self.input.chosen.contains(kind)).collect();
        if chosen.is_empty() { possible } else { chosen }
    }

    /// What the judge found with one test ordered.
    pub fn with_test(&self, kind: TestKind) -> Vec<Finding> {
        let call_out = CallOut { tests: vec![kind], ..self.called.call_out.clone() };
        let called = Called { origin: self.called.origin, call_out: &call_out };
        judge::judge(&dossier(self.input, Some(&called), self.options.first().copied(), &[kind]))
    }

    /// A dossier that says what the papers say, for the judge's question whether a requirement applies.
    pub fn papers(&self) -> Dossier {
        dossier(self.input, Some(self.called), self.options.first().copied(), &self.tests)
    }
}

/// An hour of the day planned for; every day has these.
fn hour(input: &Input, hour: u8) -> Option<Moment> {
    format!("{}T{hour:02}:00+00:00", input.on).parse().ok()
}

/// Pieces in a bath: when they went in, and no more, so that no time is taken for a reading.
fn immersion(input: &Input, from: u8) -> Immersion {
    Immersion {
        bath: String::new(),
        run_as: None,
        in_at: hour(input, from),
        out_at: None,
        time: None,
        temperature: None,
        temperature_out: None,
        current_density: None,
        voltage: None,
        by: String::new(),
        source: None,
        note: None,
        log: None,
        area: None,
        evidence: None,
    }
}

fn rinse(input: &Input, at: u8, last: bool) -> Step {
    Step::Rinse(Rinse {
        last,
        at: hour(input, at),
        total_solids: None,
        instrument: None,
        how: None,
        by: String::new(),
        source: None,
    })
}

/// The steps of the dry run: those any requirement of the packs looks at, so that none hides another's gap.
fn steps(input: &Input, treatment: Option<&Treatment>, called: Option<&Called>) -> Vec<Step> {
    let looked = |wanted: Subject| {
        input.packs.iter().flat_map(|p| &p.pack.requirements).any(|r| r.subject == wanted && !r.advice)
    };
    let mut steps = vec![Step::Clean(immersion(input, 8))];
    if looked(Subject::Descaled) {
        steps.push(Step::Descale(immersion(input, 8)));
    }
    if let Some(treatment) = treatment {
        let mut bath = immersion(input, 9);
        let named = called.is_some_and(|c| c.call_out.treatment.is_some());
        bath.run_as = (!named).then(|| treatment.name.clone());
        steps.push(match treatment.step {
            TreatmentStep::Passivate => Step::Passivate(bath),
            TreatmentStep::Electropolish => Step::Electropolish(bath),
        });
    }
    if looked(Subject::PostDip) {
        steps.push(Step::PostDip(immersion(input, 10)));
    }
    if looked(Subject::Neutralized) {
        steps.push(Step::Neutralize(immersion(input, 10)));
    }
    steps.extend([rinse(input, 11, false), rinse(input, 11, true)]);
    if looked(Subject::PostTreatment) {
        steps.extend([Step::PostTreat(immersion(input, 11)), rinse(input, 12, true)]);
    }
    if looked(Subject::HydrogenRelief) {
        steps.push(Step::Bake(immersion(input, 12)));
    }
    steps.push(Step::Dry(Done { at: hour(input, 13), by: String::new(), note: None }));
    steps
}

fn test(input: &Input, kind: TestKind) -> Option<Test> {
    Some(Test {
        test: kind,
        covers: vec!["1".to_owned()],
        pieces: input.quantity,
        failed: 0,
        started: hour(input, 14)?,
        ended: None,
        time: None,
        solution: None,
        instrument: None,
        water: None,
        cycles: None,
        wet: None,
        dry: None,
        temperature: None,
        humidity: None,
        salt: None,
        acidity: None,
        fallout: None,
        collected_over: None,
        angle: None,
        tower_temperature: None,
        tower_pressure: None,
        conductivity: None,
        density: None,
        chromium_to_iron: None,
        chromium_oxide_to_iron_oxide: None,
        atomic_percent: None,
        oxide_depth: None,
        defects: None,
        kept_wet: None,
        read_within: None,
        cleaned_with: None,
        observed: None,
        specimen: Specimen::Part,
        by: String::new(),
        source: None,
        laboratory: None,
        evidence: None,
        coupon: None,
    })
}

fn record(
    input: &Input,
    called: Option<&Called>,
    treatment: Option<&Treatment>,
    tests: &[TestKind],
) -> Record {
    let covers = vec!["1".to_owned()];
    let look = |at| Visual {
        covers: covers.clone(),
        at,
        pieces: input.quantity,
        failed: 0,
        light: None,
        observed: None,
        by: String::new(),
    };
    let gauge = |at| Measurement {
        what: called.and_then(|c| c.call_out.limit).unwrap_or(Characteristic::Ra),
        covers: covers.clone(),
        at,
        instrument: None,
        cutoff: None,
        how: None,
        readings: Vec::new(),
        before: Vec::new(),
        weighed: Vec::new(),
        dimensions: Vec::new(),
        charge: None,
        traces: Vec::new(),
        traces_before: Vec::new(),
        by: String::new(),
        source: None,
    };
    Record {
        lot: "planned".to_owned(),
        purchaser_lot: None,
        order: OrderLine {
            number: input.order.order.clone(),
            line: input.line.line.clone(),
            release: input.line.releases.first().map(|r| r.release.clone()),
        },
        material: Material { grade: input.grade.unwrap_or_default().to_owned(), heats: Vec::new() },
        counts: Counts {
            received: input.quantity,
            accepted: input.quantity,
            rejected: 0,
            destroyed_in_test: 0,
            held: 0,
            split_off: 0,
            returned_unprocessed: 0,
            missing: 0,
            by: None,
            by_weight: None,
        },
        serials: Vec::new(),
        runs: vec![Run {
            run: "1".to_owned(),
            load: None,
            pieces: input.quantity,
            treats_again: None,
            because: None,
            steps: steps(input, treatment, called),
        }],
        tests: tests.iter().filter_map(|kind| test(input, *kind)).collect(),
        visual: hour(input, 14).map(look).into_iter().collect(),
        measurements: hour(input, 14).map(gauge).into_iter().collect(),
        remarks: None,
        fields: std::collections::BTreeMap::new(),
        split_from: None,
        merged_from: Vec::new(),
        corrections: Vec::new(),
        test_reports: Vec::new(),
        received: None,
    }
}

/// The dossier of the dry run: one call-out, or none where none is known.
pub fn dossier(
    input: &Input,
    called: Option<&Called>,
    treatment: Option<&Treatment>,
    tests: &[TestKind],
) -> Dossier {
    let mut part = input.part.clone();
    // Statements and particulars are looked at over all call-outs together.
    (part.calls_for, part.statements, part.fields) = (Vec::new(), Vec::new(), Vec::new());
    let mut line = input.line.clone();
    (line.also_calls_for, line.statements, line.fields) = (Vec::new(), Vec::new(), Vec::new());
    match called {
        Some(Called { origin: Origin::Part, call_out }) => part.calls_for.push((*call_out).clone()),
        Some(Called { origin: Origin::Order, call_out }) => line.also_calls_for.push((*call_out).clone()),
        None => {}
    }
    let mut order = input.order.clone();
    order.lines = vec![line];
    // Whoever may work to the standard may work to a purchaser's clauses on it: approvals are asked about there.
    let named = called.and_then(|c| c.call_out.standard.as_deref());
    if named.and_then(|named| input.pack_named(named)).is_some_and(|p| p.pack.builds_on.is_some()) {
        part.needs_approvals.clear();
        order.needs_approvals.clear();
    }
    let record = record(input, called, treatment, tests);
    Dossier {
        record,
        part,
        order,
        packs: input.packs.to_vec(),
        alloy: input.alloy.cloned(),
        baths: Vec::new(),
        instruments: Vec::new(),
        solutions: Vec::new(),
        sampling: input.sampling.to_vec(),
        people: Vec::new(),
        later: Later::default(),
        approvals: input.approvals.to_vec(),
        most_rounds: None,
        deviations: Vec::new(),
        covers_runs: None,
        family: Vec::new(),
        without_edition: input.without_edition.to_vec(),
        corrections: Vec::new(),
        checks: None,
        files: Vec::new(),
        computed: Vec::new(),
        loggers: Vec::new(),
        trace_forms: Vec::new(),
        pictures: false,
        loads: Vec::new(),
        reports: Vec::new(),
        periodic: Vec::new(),
        product_tolerances: None,
    }
}
