//! The certificate's data: one versioned JSON document that holds everything printed and everything needed to
//! judge again. Data first, page second.
//!
//! Values are strings as recorded, because a JSON number drops trailing zeros; counts are integers. What is
//! printed of a lot is computed from its dossier by [`certified_lot`], so a verifier computes it again and
//! compares.

use serde::Deserialize;
use serde::Serialize;

use crate::canonical;
use crate::canonical::CanonicalError;
use crate::finding::Finding;
use crate::judge;
use crate::judge::Dossier;
use crate::part::CallOut;
use crate::record::Immersion;
use crate::record::Knowledge;
use crate::record::Record;
use crate::record::Step;
use crate::record::Test;
use crate::units::Quantity;

/// The form of the data. Draft: another release may refuse it and says so.
pub const FORMAT: &str = "brightproof certificate, draft 0";

/// Everything a certificate says.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Certificate {
    /// [`FORMAT`].
    pub format: String,
    /// Certificate number, never used again.
    pub number: String,
    /// When it was issued: RFC 3339, to the second, with the shop's offset.
    pub issued: String,
    /// Where.
    pub place: String,
    /// 32 random bytes, hexadecimal: without them nobody guesses a lot's facts from the public stamp.
    pub salt: String,
    /// The shop.
    pub issuer: Issuer,
    /// Whom it is for.
    pub purchaser: Party,
    /// What it covers.
    pub shipment: Shipped,
    /// The statement of conformity.
    pub conformity: String,
    /// The certificate it replaces, for an amendment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub replaces: Option<Replaces>,
    /// How results at a limit were decided.
    pub decision_rule: String,
    /// Control marking printed on every page.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub controlled: Option<String>,
    /// Lots.
    pub lots: Vec<CertifiedLot>,
    /// What it does not cover.
    pub not_covered: Vec<String>,
    /// Who released it.
    pub signatures: Vec<Signature>,
    /// Who judged.
    pub judge: JudgeVersion,
    /// What drew the page.
    pub renderer: RendererIdentity,
    /// How a holder checks it.
    pub how_to_check: Vec<String>,
    /// SHA-256 of the shop's root certificate, as a hint only: nothing inside the file is a trust anchor.
    pub seal_fingerprint: String,
    /// A signed head of the register, no newer than this certificate's own entry.
    pub register: RegisterHead,
}

/// The shop, as printed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Issuer {
    /// Name.
    pub name: String,
    /// Postal address, line by line.
    pub address: Vec<String>,
    /// Whom to ring or write.
    pub contact: String,
    /// Approvals in force on the day of issue.
    pub approvals: Vec<crate::shop::Approval>,
    /// What every page says when this is no real shop.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub demo: Option<String>,
}

/// A party.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Party {
    /// Name.
    pub name: String,
    /// Postal address, line by line.
    pub address: Vec<String>,
}

/// A shipment, as printed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Shipped {
    /// Packing slip, where one was named.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub slip: Option<String>,
    /// One line a lot.
    pub lines: Vec<ShippedLine>,
}

/// One line of a shipment.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ShippedLine {
    /// Purchase order.
    pub order: String,
    /// Its line.
    pub line: String,
    /// Part number.
    pub part: String,
    /// Drawing revision.
    pub revision: String,
    /// What the part is.
    pub description: String,
    /// The shop's lot.
    pub lot: String,
    /// The purchaser's own lot number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub purchaser_lot: Option<String>,
    /// Pieces certified.
    pub quantity: u64,
    /// Serial numbers, when every accepted piece is on the shipment.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub serials: Vec<String>,
}

/// What an amendment replaces.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Replaces {
    /// Number of the replaced certificate.
    pub number: String,
    /// Its stamp.
    pub stamp: String,
    /// Why.
    pub reason: String,
    /// Clerical, or conformity.
    pub kind: AmendmentKind,
    /// What changed, in words.
    pub changed: Vec<String>,
}

/// The two kinds of amendment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum AmendmentKind {
    /// A name, a number, a date: nothing the parts were judged by.
    Clerical,
    /// Something the parts were judged by: whoever holds the old one must be told.
    Conformity,
}

/// A datum that is disclosed, or withheld behind its salted digest.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Datum<T> {
    /// The datum itself.
    Disclosed(T),
    /// SHA-256 of salt and datum, hexadecimal; the datum is in the shop's evidence bundle.
    Withheld(String),
}

/// One lot of a certificate.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CertifiedLot {
    /// The shop's lot number.
    pub lot: String,
    /// Part number.
    pub part: String,
    /// Drawing revision.
    pub revision: String,
    /// What the part is.
    pub description: String,
    /// Pieces certified.
    pub quantity: u64,
    /// Grade and heats.
    pub material: PrintedMaterial,
    /// Where every piece went.
    pub counts: Vec<PrintedCount>,
    /// Dates.
    pub dates: Vec<PrintedDate>,
    /// Call-outs in words.
    pub call_outs: Vec<String>,
    /// Treatments with their readings.
    pub treatments: Vec<PrintedTreatment>,
    /// Tests, looks and measurements with their readings.
    pub tests: Vec<PrintedTest>,
    /// The purchaser's written permissions that were used.
    pub deviations: Vec<String>,
    /// Every finding.
    pub findings: Vec<Finding>,
    /// What was judged.
    pub dossier: Datum<Box<Dossier>>,
}

/// Grade and heats, as printed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PrintedMaterial {
    /// Grade.
    pub grade: String,
    /// Heats.
    pub heats: Vec<PrintedHeat>,
}

/// A heat, as printed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PrintedHeat {
    /// Heat number.
    pub heat: String,
    /// How the shop knows it.
    pub known: Knowledge,
}

/// A count, as printed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PrintedCount {
    /// Of what.
    pub what: String,
    /// How many.
    pub pieces: u64,
}

/// A date, as printed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PrintedDate {
    /// Of what.
    pub what: String,
    /// When.
    pub when: String,
}

/// A reading, as printed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Fact {
    /// Of what.
    pub what: String,
    /// As recorded.
    pub value: String,
}

/// A treatment, as printed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PrintedTreatment {
    /// Run.
    pub run: String,
    /// Pieces in it.
    pub pieces: u64,
    /// What was done.
    pub what: String,
    /// In which bath.
    pub bath: String,
    /// From when.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<String>,
    /// To when.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<String>,
    /// Readings.
    pub facts: Vec<Fact>,
    /// Whether all its pieces were treated again later.
    pub history: bool,
}

/// A test, a look or a measurement, as printed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PrintedTest {
    /// Which.
    pub what: String,
    /// Pieces.
    pub pieces: u64,
    /// Pieces that failed.
    pub nonconforming: u64,
    /// When.
    pub when: String,
    /// Readings.
    pub facts: Vec<Fact>,
    /// What came of it.
    pub result: String,
    /// Whether it was made before the pieces' last treatment.
    pub history: bool,
}

/// A signature: a person's word, apart from the seal.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Signature {
    /// Who.
    pub person: String,
    /// Function.
    pub function: String,
    /// What the signature means.
    pub meaning: String,
    /// How the person was authenticated.
    pub authenticated: String,
    /// When.
    pub at: String,
}

/// The judge's version.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct JudgeVersion {
    /// Release of the program.
    pub release: String,
    /// [`judge::JUDGE`].
    pub judge: u64,
}

/// What drew the page: the same identity draws the same bytes from the same data.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RendererIdentity {
    /// Release of the program.
    pub release: String,
    /// Template.
    pub template: String,
    /// Digest of the template.
    pub template_sha256: String,
    /// Digest of the fonts.
    pub fonts_sha256: String,
    /// Paper.
    pub paper: String,
}

/// A signed head of the register.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RegisterHead {
    /// Register name.
    pub origin: String,
    /// Entries.
    pub size: u64,
    /// Root over them, hexadecimal.
    pub root: String,
    /// The signed text of this head.
    pub checkpoint: String,
    /// Verifier key of the register's checkpoints, as a hint only.
    pub key: String,
}

impl Certificate {
    /// The canonical bytes (RFC 8785): what is stamped, attached and registered.
    pub fn canonical(&self) -> Result<Vec<u8>, CanonicalError> {
        let value = serde_json::to_value(self).map_err(|e| CanonicalError::Write(e.to_string()))?;
        canonical::canonical(&value)
    }
}

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

/// The statement of conformity.
pub fn conformity(issuer: &str, lots: usize) -> String {
    let lots = if lots == 1 { "the lot listed" } else { "the lots listed" };
    format!(
        "{issuer} states under its sole responsibility that the pieces of {lots} were processed, tested and inspected as \
         recorded, and conform to the call-outs listed, requirement by requirement as found below."
    )
}

/// What is printed and kept of one lot, from its dossier and findings. Pure: a verifier calls it again.
pub fn certified_lot(dossier: Dossier, findings: Vec<Finding>, quantity: u64) -> CertifiedLot {
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
        dates: dates(record),
        call_outs: call_outs(&dossier),
        treatments: treatments(&dossier),
        tests: tests(&dossier),
        deviations: Vec::new(),
        findings,
        dossier: Datum::Disclosed(Box::new(dossier)),
    }
}

fn dates(record: &Record) -> Vec<PrintedDate> {
    let Some((first, last)) = record.processed() else { return Vec::new() };
    let when = if first == last { first.to_string() } else { format!("{first} to {last}") };
    vec![PrintedDate { what: "processed".to_owned(), when }]
}

/// Every call-out in words. A standard under which no test was ordered says so, because a certificate must not
/// imply one.
fn call_outs(dossier: &Dossier) -> Vec<String> {
    let line = dossier.order.lines.iter().find(|l| l.line == dossier.record.order.line);
    let all = dossier.part.calls_for.iter().chain(line.into_iter().flat_map(|l| &l.also_calls_for));
    all.map(call_out).collect()
}

fn call_out(call: &CallOut) -> String {
    let mut words = Vec::new();
    if let Some(standard) = &call.standard {
        words.push(standard.clone());
        words.push(call.treatment.clone().unwrap_or_else(|| "treatment left to the shop".to_owned()));
        if call.tests.is_empty() {
            words.push("no test ordered, none claimed".to_owned());
        }
        words.extend(call.tests.iter().map(|t| t.name().to_owned()));
        if let Some(pieces) = call.test_pieces {
            words.push(format!("{pieces} pieces a test"));
        }
    }
    if let Some(limit) = call.limit {
        words.push(limit.name().to_owned());
        words.extend(call.at_least.map(|q| format!("at least {q}")));
        words.extend(call.at_most.map(|q| format!("at most {q}")));
        words.extend(call.pieces.map(|n| format!("{n} pieces measured")));
    }
    let named = |value: Result<serde_json::Value, _>| -> Option<String> {
        value.ok().and_then(|v: serde_json::Value| v.as_str().map(str::to_owned))
    };
    words.extend(call.options.iter().filter_map(|o| named(serde_json::to_value(o))));
    words.extend(call.sampling.and_then(|s| named(serde_json::to_value(s))).map(|s| format!("sampling {s}")));
    words.join(", ")
}

fn push(facts: &mut Vec<Fact>, what: &str, value: Option<impl ToString>) {
    if let Some(value) = value {
        facts.push(Fact { what: what.to_owned(), value: value.to_string() });
    }
}

fn treatments(dossier: &Dossier) -> Vec<PrintedTreatment> {
    let carried = judge::carried(dossier);
    let mut all = Vec::new();
    for (run_index, run) in dossier.record.runs.iter().enumerate() {
        for (step_index, step) in run.steps.iter().enumerate() {
            let base = match step {
                Step::Passivate(_) => "passivation",
                Step::Electropolish(_) => "electropolishing",
                Step::PostDip(_) => "post-dip",
                Step::PostTreat(_) => "dichromate treatment",
                Step::Descale(_) => "descaling",
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
                pieces: run.pieces,
                what,
                bath: immersion.bath.clone(),
                from: immersion.in_at.map(|m| m.to_string()),
                to: immersion.out_at.map(|m| m.to_string()),
                facts: bath_facts(dossier, immersion),
                history: !judge::is_final(dossier, run_index),
            });
        }
    }
    all
}

fn bath_facts(dossier: &Dossier, immersion: &Immersion) -> Vec<Fact> {
    let mut facts = Vec::new();
    push(&mut facts, "bath temperature", immersion.temperature);
    push(&mut facts, "bath temperature at the end", immersion.temperature_out);
    let span = match (&immersion.in_at, &immersion.out_at) {
        (Some(into), Some(out)) => out.since(into),
        _ => immersion.time,
    };
    push(&mut facts, "time", span);
    push(&mut facts, "current density", immersion.current_density);
    push(&mut facts, "voltage", immersion.voltage);
    if let Some(analysis) = judge::analysis_used(dossier, immersion) {
        for (constituent, value) in &analysis.found {
            let name = serde_json::to_value(constituent).ok().and_then(|v| v.as_str().map(str::to_owned));
            push(&mut facts, &name.unwrap_or_default(), Some(value));
        }
        push(&mut facts, "bath analysis of", Some(analysis.at));
    }
    facts
}

fn tests(dossier: &Dossier) -> Vec<PrintedTest> {
    let record = &dossier.record;
    let mut all: Vec<PrintedTest> = record.tests.iter().map(|t| test(dossier, t)).collect();
    all.extend(record.measurements.iter().map(|m| {
        let mut facts = Vec::new();
        let list = |readings: &[Quantity]| {
            let texts: Vec<String> = readings.iter().map(ToString::to_string).collect();
            (!texts.is_empty()).then(|| texts.join(", "))
        };
        push(&mut facts, "readings", list(&m.readings));
        push(&mut facts, "before treatment", list(&m.before));
        push(&mut facts, "cut-off", m.cutoff);
        push(&mut facts, "how", m.how.as_ref());
        push(&mut facts, "gauge", m.instrument.as_ref());
        push(&mut facts, "runs", Some(m.covers.join(", ")));
        PrintedTest {
            what: m.what.name().to_owned(),
            pieces: m.readings.len() as u64,
            nonconforming: 0,
            when: m.at.to_string(),
            facts,
            result: "see the findings".to_owned(),
            history: !judge::counts(dossier, &m.covers, m.at),
        }
    }));
    all.extend(record.visual.iter().map(|v| {
        let mut facts = Vec::new();
        push(&mut facts, "light", v.light);
        push(&mut facts, "runs", Some(v.covers.join(", ")));
        PrintedTest {
            what: "visual".to_owned(),
            pieces: v.pieces,
            nonconforming: v.failed,
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
    push(&mut facts, "temperature", t.temperature);
    push(&mut facts, "humidity", t.humidity);
    push(&mut facts, "salt", t.salt);
    push(&mut facts, "collected fog", t.acidity);
    push(&mut facts, "fall-out", t.fallout);
    push(&mut facts, "kept wet", t.kept_wet);
    push(&mut facts, "read within", t.read_within);
    push(&mut facts, "cleaned with", t.cleaned_with.as_ref());
    push(&mut facts, "test solution", t.solution.as_ref());
    push(&mut facts, "instrument", t.instrument.as_ref());
    push(&mut facts, "runs", Some(t.covers.join(", ")));
    if t.specimen == crate::record::Specimen::Coupon {
        push(&mut facts, "made on", Some("coupons"));
    }
    PrintedTest {
        what: t.test.name().to_owned(),
        pieces: t.pieces,
        nonconforming: t.failed,
        when: t.started.to_string(),
        facts,
        result: result(t.observed.as_deref(), t.failed),
        history: !judge::counts(dossier, &t.covers, t.started),
    }
}
