//! What is printed of a lot, computed from its dossier. Pure, so that a verifier computes it again and compares.

use crate::certificate::CertifiedLot;
use crate::certificate::Datum;
use crate::certificate::Fact;
use crate::certificate::PrintedCount;
use crate::certificate::PrintedDate;
use crate::certificate::PrintedHeat;
use crate::certificate::PrintedMaterial;
use crate::certificate::PrintedTest;
use crate::certificate::PrintedTreatment;
use crate::certificate::asked;
use crate::certificate::corrected;
use crate::certificate::picture;
use crate::certificate::pieces;
use crate::certificate::raw;
use crate::certificate::sampled;
use crate::certificate::withheld;
use crate::certificate::withheld::View;
use crate::evidence::Accreditation;
use crate::evidence::Relied;
use crate::finding::Finding;
use crate::finding::Verdict;
use crate::judge;
use crate::judge::Dossier;
use crate::part::CallOut;
use crate::part::Item;
use crate::part::RoughnessRule;
use crate::path::Path;
use crate::record::Coupon;
use crate::record::Immersion;
use crate::record::Step;
use crate::record::Test;
use crate::record::TestKind;
use crate::units::Quantity;

/// What is never covered, whatever the call-outs.
pub fn not_covered() -> Vec<String> {
    [
        "The composition, heat and properties of the material: stated by whoever is named, not verified here \
         unless said so.",
        "Fitness of the parts for their use, and conformity with anything not listed under call-outs.",
        "Pieces not listed, and pieces treated, worked or marked after the dates above.",
        "Safety of the process or of handling the parts: see the safety data sheets, local codes and licensed \
         practice.",
        "Results of tests speak for the sample tested, and for the lot only as the standard or order provides.",
    ]
    .map(str::to_owned)
    .to_vec()
}

/// The statement of conformity; it says so when a purchaser's permission was used.
pub fn conformity(issuer: &str, certified: &[CertifiedLot]) -> String {
    let lots = if certified.len() == 1 { "the lot listed" } else { "the lots listed" };
    let under = asked::under_deviations(certified).map(|s| format!(" {s}")).unwrap_or_default();
    let relies = certified.iter().flat_map(|lot| &lot.findings).any(|f| f.verdict == Verdict::ReliedOn);
    let relied = if relies { RELIED } else { "" };
    format!(
        "{issuer} states under its sole responsibility that the pieces of {lots} were processed, tested and inspected as \
         recorded, and conform to the call-outs listed, requirement by requirement as found below.{under}{relied}"
    )
}

/// What the statement must not leave unsaid: that somebody else's word stands for some of it.
const RELIED: &str = " Requirements marked as relied on were not judged: they rest on the papers of others named \
                      beside them, as the order allows.";

/// What is printed and kept of one lot, from its dossier and findings, as far as the purchaser may see it. The
/// dossier is still in it: [`crate::certificate::withhold`] takes it out. Pure: a verifier calls it again.
pub fn certified_lot(dossier: Dossier, findings: Vec<Finding>, quantity: u64) -> CertifiedLot {
    let whole = judge::whole(&dossier).into_owned();
    let findings = withheld::masked(&whole, findings);
    let mut lot = printed(&whole, findings, quantity);
    View::of(&whole).lot(&mut lot);
    lot.dossier = Datum::Disclosed(Box::new(dossier));
    lot
}

fn printed(dossier: &Dossier, findings: Vec<Finding>, quantity: u64) -> CertifiedLot {
    let record = &dossier.record;
    CertifiedLot {
        lot: record.lot.clone(),
        part: dossier.part.part.clone(),
        revision: dossier.part.revision.clone(),
        description: dossier.part.description.clone(),
        quantity,
        material: PrintedMaterial {
            grade: record.material.grade.clone(),
            heats: record
                .material
                .heats
                .iter()
                .map(|h| PrintedHeat { heat: h.heat.clone(), known: h.known })
                .collect(),
        },
        counts: record
            .counts
            .named()
            .into_iter()
            .enumerate()
            .filter(|(i, (_, pieces))| *i < 2 || *pieces > 0)
            .map(|(_, (what, pieces))| PrintedCount { what: what.to_owned(), pieces })
            .collect(),
        dates: dates(dossier),
        call_outs: call_outs(dossier),
        treatments: treatments(dossier),
        tests: tests(dossier),
        sampling: sampled::of_lot(dossier),
        deviations: asked::deviations(dossier, &findings),
        statements: asked::statements(dossier, &findings),
        fields: asked::fields(dossier),
        conversions: dossier.order.print_conversions.then(|| asked::CONVERSIONS.to_owned()),
        covers_runs: dossier.covers_runs.as_ref().map(|part| part.runs.clone()).unwrap_or_default(),
        pieces_notes: pieces::notes(dossier),
        descends_from: pieces::descent(dossier),
        findings,
        corrections: corrected::corrections(dossier),
        entered_late: corrected::entered_late(dossier),
        pictures: picture::of_lot(dossier),
        withheld: withheld::withheld(dossier),
        controlled: withheld::marking(dossier),
        // Put in its place by the caller.
        dossier: Datum::Withheld(String::new()),
    }
}

fn dates(dossier: &Dossier) -> Vec<PrintedDate> {
    let mut record = dossier.record.clone();
    let mut index = 0;
    record.runs.retain(|_| {
        index += 1;
        judge::is_shown(dossier, index - 1)
    });
    let Some((first, last)) = record.processed() else { return Vec::new() };
    let when = if first == last { first.to_string() } else { format!("{first} to {last}") };
    vec![PrintedDate { what: "processed".to_owned(), when }]
}

/// Every call-out in words. A standard under which no test was ordered says so, because a certificate must not
/// imply one.
fn call_outs(dossier: &Dossier) -> Vec<String> {
    let line = dossier.order.lines.iter().find(|l| l.line == dossier.record.order.line);
    let all = dossier.part.calls_for.iter().chain(line.into_iter().flat_map(|l| &l.also_calls_for));
    all.map(|call| call_out(dossier, call)).collect()
}

fn call_out(dossier: &Dossier, call: &CallOut) -> String {
    let mut words = Vec::new();
    if let Some(standard) = &call.standard {
        words.push(pieces::standard(dossier, standard));
        // Test methods and chamber standards have no treatment to leave to anybody.
        if call.treatment.is_some() || pieces::has_treatments(dossier, standard) {
            words.push(call.treatment.clone().unwrap_or_else(|| "treatment left to the shop".to_owned()));
        }
        let chosen = judge::chosen(dossier, standard);
        if call.class.is_some() || !chosen.iter().any(|(what, _)| what.starts_with("class ")) {
            words.extend(pieces::class(dossier, standard, call));
        }
        let builds_on = judge::builds_on(dossier, standard);
        if let Some(base) = &builds_on {
            words.push(format!("clauses beside {base}"));
        }
        let chose_test = call_names_none(call, &chosen);
        if call.tests.is_empty() && builds_on.is_none() && !chose_test {
            words.push("no test ordered, none claimed".to_owned());
        }
        words.extend(call.tests.iter().map(|t| t.name().to_owned()));
        let said = |what: &str| {
            call.tests.iter().any(|t| t.name() == what)
                || call.options.iter().any(|o| o.name() == what)
                || call.class.as_ref().is_some_and(|class| what.strip_prefix("class ") == Some(class))
        };
        let more = chosen.iter().filter(|(what, _)| !said(what));
        words.extend(more.map(|(what, by)| format!("{what} (by {by})")));
        if let Some(pieces) = call.test_pieces {
            words.push(format!("{pieces} pieces a test"));
        }
    }
    if let Some(limit) = call.limit {
        words.push(limit.name().to_owned());
        words.extend(call.at_least.map(|q| format!("at least {q}")));
        words.extend(call.at_most.map(|q| format!("at most {q}")));
        words.extend(call.cutoff.map(|q| format!("cut-off {q}")));
        words.extend((call.rule == Some(RoughnessRule::SixteenPercent)).then(|| "16 % rule".to_owned()));
        words
            .extend(call.pieces.map(|n| format!("{n} {} measured", if n == 1 { "piece" } else { "pieces" })));
    }
    let named = |value: Result<serde_json::Value, _>| -> Option<String> {
        value.ok().and_then(|v: serde_json::Value| v.as_str().map(str::to_owned))
    };
    words.extend(call.options.iter().filter_map(|o| named(serde_json::to_value(o))));
    words.extend(call.sampling.map(|plan| format!("sampling {plan}")));
    words.join(", ")
}

/// Whether clauses order a test under a call-out that names none itself.
fn call_names_none(call: &CallOut, chosen: &[(String, String)]) -> bool {
    call.tests.is_empty() && chosen.iter().any(|(what, _)| TestKind::ALL.iter().any(|t| t.name() == what))
}

fn push(facts: &mut Vec<Fact>, what: &str, value: Option<impl ToString>) {
    if let Some(value) = value {
        facts.push(Fact { what: what.to_owned(), value: value.to_string() });
    }
}

/// Adds a reading, with the other unit system where the order asks it.
fn reading(facts: &mut Vec<Fact>, dossier: &Dossier, what: &str, value: Option<Quantity>) {
    push(facts, what, value.map(|q| shown(dossier, &q)));
}

fn shown(dossier: &Dossier, reading: &Quantity) -> String {
    if dossier.order.print_conversions { reading.with_conversion() } else { reading.to_string() }
}

fn treatments(dossier: &Dossier) -> Vec<PrintedTreatment> {
    let carried = judge::carried(dossier);
    let mut all = Vec::new();
    for (run_index, run) in dossier.record.runs.iter().enumerate() {
        if !judge::is_shown(dossier, run_index) {
            continue;
        }
        for (step_index, step) in run.steps.iter().enumerate() {
            let base = match step {
                Step::Passivate(_) => "passivation",
                Step::Electropolish(_) => "electropolishing",
                Step::PostDip(_) => "post-dip",
                Step::PostTreat(_) => "dichromate treatment",
                Step::Descale(_) => "descaling",
                Step::Bake(_) => "bake after treatment",
                _ => continue,
            };
            let Some(immersion) = step.immersion() else { continue };
            let names: Vec<&str> = carried
                .iter()
                .filter(|c| c.run == run_index && c.step == step_index)
                .map(|c| c.name.as_str())
                .collect();
            let what =
                if names.is_empty() { base.to_owned() } else { format!("{base}: {}", names.join("; ")) };
            all.push(PrintedTreatment {
                run: run.run.clone(),
                pieces: Some(run.pieces),
                what,
                bath: immersion.bath.clone(),
                from: immersion.in_at.map(|m| m.to_string()),
                to: immersion.out_at.map(|m| m.to_string()),
                facts: {
                    let mut facts = bath_facts(dossier, immersion);
                    let steps = Path::root().key("runs").index(run_index).key("steps");
                    raw::of_step(dossier, &mut facts, &steps.index(step_index).key(step.key()));
                    facts
                },
                history: !judge::is_final(dossier, run_index),
            });
        }
    }
    all
}

fn bath_facts(dossier: &Dossier, immersion: &Immersion) -> Vec<Fact> {
    let mut facts = Vec::new();
    push(&mut facts, "relied on, not judged", immersion.evidence.as_ref().map(Relied::words));
    reading(&mut facts, dossier, "bath temperature", immersion.temperature);
    reading(&mut facts, dossier, "bath temperature at the end", immersion.temperature_out);
    let span = match (&immersion.in_at, &immersion.out_at) {
        (Some(into), Some(out)) => out.since(into),
        _ => immersion.time,
    };
    // How long pieces were away is no time in a bath.
    push(&mut facts, "time", span.filter(|_| immersion.evidence.is_none()));
    reading(&mut facts, dossier, "current density", immersion.current_density);
    push(&mut facts, "voltage", immersion.voltage);
    if let Some(analysis) = judge::analysis_used(dossier, immersion) {
        let shown = !withheld::hides(dossier, Item::BathChemistry);
        for (constituent, value) in analysis.found.iter().filter(|_| shown) {
            let name = serde_json::to_value(constituent).ok().and_then(|v| v.as_str().map(str::to_owned));
            push(&mut facts, &name.unwrap_or_default(), Some(value));
        }
        push(&mut facts, "bath analysis of", Some(analysis.at));
    }
    facts
}

fn tests(dossier: &Dossier) -> Vec<PrintedTest> {
    let record = &dossier.record;
    let mut all: Vec<PrintedTest> =
        record.tests.iter().filter(|t| pieces::shown(dossier, &t.covers)).map(|t| test(dossier, t)).collect();
    let measured = record.measurements.iter().enumerate().filter(|(_, m)| pieces::shown(dossier, &m.covers));
    all.extend(measured.map(|(i, m)| {
        let mut facts = Vec::new();
        let list = |readings: &[Quantity]| {
            let texts: Vec<String> = readings.iter().map(|q| shown(dossier, q)).collect();
            (!texts.is_empty()).then(|| texts.join(", "))
        };
        push(&mut facts, "readings", list(&m.readings));
        push(&mut facts, "before treatment", list(&m.before));
        reading(&mut facts, dossier, "cut-off", m.cutoff);
        raw::of_measurement(dossier, &mut facts, i, m);
        push(&mut facts, "how", m.how.as_ref());
        push(&mut facts, "gauge", m.instrument.as_ref());
        push(&mut facts, "runs", Some(m.covers.join(", ")));
        PrintedTest {
            what: m.what.name().to_owned(),
            pieces: Some(judge::readings_judged(dossier, i, m)),
            nonconforming: Some(0),
            when: m.at.to_string(),
            facts,
            result: "see the findings".to_owned(),
            history: !judge::counts(dossier, &m.covers, m.at),
        }
    }));
    all.extend(record.visual.iter().filter(|v| pieces::shown(dossier, &v.covers)).map(|v| {
        let mut facts = Vec::new();
        push(&mut facts, "light", v.light);
        push(&mut facts, "runs", Some(v.covers.join(", ")));
        PrintedTest {
            what: "visual".to_owned(),
            pieces: Some(v.pieces),
            nonconforming: Some(v.failed),
            when: v.at.to_string(),
            facts,
            result: result(v.observed.as_deref(), v.failed),
            history: !judge::counts(dossier, &v.covers, v.at),
        }
    }));
    all
}

fn result(observed: Option<&str>, failed: u64) -> String {
    observed.map_or_else(
        || if failed == 0 { "none failed".to_owned() } else { format!("{failed} failed") },
        str::to_owned,
    )
}

fn test(dossier: &Dossier, t: &Test) -> PrintedTest {
    let mut facts = Vec::new();
    let span = t.ended.as_ref().and_then(|ended| ended.since(&t.started)).map(|q| q.spoken());
    push(&mut facts, "duration", span.or_else(|| t.time.map(|q| q.to_string())));
    push(&mut facts, "cycles", t.cycles);
    push(&mut facts, "wet", t.wet);
    push(&mut facts, "dry", t.dry);
    push(&mut facts, "water", t.water.as_ref());
    reading(&mut facts, dossier, "temperature", t.temperature);
    push(&mut facts, "humidity", t.humidity);
    push(&mut facts, "salt", t.salt);
    push(&mut facts, "collected fog", t.acidity);
    push(&mut facts, "fall-out", t.fallout);
    push(&mut facts, "fog collected over", t.collected_over);
    push(&mut facts, "angle from the vertical", t.angle);
    reading(&mut facts, dossier, "air tower", t.tower_temperature);
    push(&mut facts, "air tower pressure", t.tower_pressure);
    push(&mut facts, "conductivity of water", t.conductivity);
    push(&mut facts, "density of collected fog", t.density);
    push(&mut facts, "Cr/Fe", t.chromium_to_iron);
    push(&mut facts, "CrOx/FeOx", t.chromium_oxide_to_iron_oxide);
    push(&mut facts, "oxide depth", t.oxide_depth);
    push(&mut facts, "most defects in a photograph", t.defects);
    push(&mut facts, "kept wet", t.kept_wet);
    push(&mut facts, "read within", t.read_within);
    push(&mut facts, "cleaned with", t.cleaned_with.as_ref());
    push(&mut facts, "test solution", t.solution.as_ref());
    push(&mut facts, "instrument", t.instrument.as_ref());
    push(&mut facts, "runs", Some(t.covers.join(", ")));
    if t.specimen == crate::record::Specimen::Coupon {
        push(&mut facts, "made on", Some("coupons"));
        push(&mut facts, "coupon", t.coupon.as_ref().map(Coupon::words));
    }
    push(&mut facts, "relied on, how it was made not judged", t.evidence.as_ref().map(Relied::words));
    if let Some(laboratory) = &t.laboratory {
        push(&mut facts, "made by an outside laboratory", Some(laboratory.words()));
        push(&mut facts, "laboratory", laboratory.accreditation.as_ref().map(Accreditation::words));
    }
    PrintedTest {
        what: t.test.name().to_owned(),
        pieces: Some(t.pieces),
        nonconforming: Some(t.failed),
        when: t.started.to_string(),
        facts,
        result: result(t.observed.as_deref(), t.failed),
        history: !judge::counts(dossier, &t.covers, t.started),
    }
}
