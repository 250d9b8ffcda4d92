//! What is printed of a sampling plan: how the lot was inspected, by which numbers, and what such a plan lets through.

use rust_decimal::Decimal;
use serde::Deserialize;
use serde::Serialize;

use crate::certificate::picture::OcPicture;
use crate::certificate::pieces;
use crate::computed::curve_text;
use crate::judge;
use crate::judge::Dossier;
use crate::part::CallOut;
use crate::sampling;
use crate::sampling::Aql;
use crate::sampling::Model;
use crate::sampling::Name;

/// Decimals of a probability in per cent, and of a quality in per cent.
const PLACES: u32 = 1;
/// Points of a curve.
const POINTS: u32 = 40;

/// A sampling plan, as printed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PrintedSampling {
    /// Under which standard.
    pub standard: String,
    /// The plan ordered.
    pub plan: String,
    /// How severe inspection was, and why.
    pub inspection: String,
    /// Pieces to inspect, of how many; the most that may fail and the fewest that refuse the lot.
    pub numbers: String,
    /// Producer's and consumer's risk of the plan.
    pub risks: String,
}

/// A plan with its numbers for this lot.
struct Used<'a> {
    standard: &'a str,
    plan: Name,
    pieces: u64,
    sample: u64,
    accept: u64,
}

fn call_outs(dossier: &Dossier) -> impl Iterator<Item = &CallOut> {
    let line = dossier.order.lines.iter().find(|l| l.line == dossier.record.order.line);
    dossier.part.calls_for.iter().chain(line.into_iter().flat_map(|l| &l.also_calls_for))
}

fn used(dossier: &Dossier) -> Vec<Used<'_>> {
    let pieces = judge::pieces_covered(dossier);
    call_outs(dossier).filter_map(|call| of_call(dossier, call, pieces)).collect()
}

fn of_call<'a>(dossier: &Dossier, call: &'a CallOut, pieces: u64) -> Option<Used<'a>> {
    let (standard, plan) = (call.standard.as_deref()?, call.sampling?);
    let (sample, accept) = judge::planned(&dossier.sampling, &plan, Some(standard), pieces)?;
    Some(Used { standard, plan, pieces, sample, accept })
}

/// The acceptable quality level a plan is named after, where it is.
fn aql(dossier: &Dossier, used: &Used) -> Option<Decimal> {
    match used.plan {
        Name::B602(level) => level.aql().map(Aql::value),
        Name::Indexed { aql, .. } | Name::Iso4519(aql) => Some(aql.value()),
        Name::Zero(_) | Name::Every => None,
    }
    .or_else(|| {
        let table = judge::table_of(&dossier.sampling, &used.plan, Some(used.standard))?;
        table.aql.as_ref()?.parse().ok()
    })
}

/// What is printed of every plan ordered. `dossier` is whole.
pub(super) fn of_lot(dossier: &Dossier) -> Vec<PrintedSampling> {
    let printed = |used: &Used| PrintedSampling {
        standard: pieces::standard(dossier, used.standard),
        plan: used.plan.to_string(),
        inspection: inspection(dossier, used),
        numbers: numbers(used),
        risks: risks(dossier, used),
    };
    used(dossier).iter().map(printed).collect()
}

fn inspection(dossier: &Dossier, used: &Used) -> String {
    let table = judge::table_of(&dossier.sampling, &used.plan, Some(used.standard));
    match table.and_then(|t| t.switched.as_ref()) {
        Some(switched) => judge::inspection_told(switched),
        None => "as ordered; it does not change with earlier lots".to_owned(),
    }
}

fn numbers(used: &Used) -> String {
    let Used { pieces, sample, accept, .. } = used;
    if sample >= pieces {
        return format!("every one of {pieces} pieces; accepted with {accept} or fewer that fail");
    }
    let refused = accept.saturating_add(1);
    format!("{sample} of {pieces} pieces; accepted with {accept} or fewer that fail, refused with {refused}")
}

/// Risks by the binomial distribution: of a long series of lots, as the standards' own curves are.
fn risks(dossier: &Dossier, used: &Used) -> String {
    let Used { pieces, sample, accept, .. } = used;
    if sample >= pieces {
        return "none of sampling: nothing was left out".to_owned();
    }
    let mut words = Vec::new();
    if let Some(good) = aql(dossier, used)
        && let Some(risk) = producers(used, good)
    {
        words.push(format!("a lot with {good} % nonconforming is refused {risk} % of the time"));
    }
    if let Name::Zero(zero) = used.plan {
        let (ltpd, risk) = (zero.ltpd(), zero.risk());
        words.push(format!(
            "this lot with {ltpd} % nonconforming would be accepted at most {risk} % of the time"
        ));
    } else if let Ok(bad) = sampling::quality_at(Model::Binomial, *sample, *accept, tenth(), PLACES) {
        words.push(format!("one with {bad} % is accepted 10 % of the time"));
    }
    words.join("; ")
}

/// The probability that is called the consumer's risk where nobody names another: 10 per cent (common practice).
fn tenth() -> Decimal {
    Decimal::new(1, 1)
}

/// Producer's risk at a quality, per cent.
fn producers(used: &Used, quality: Decimal) -> Option<Decimal> {
    let places = PLACES.saturating_add(2);
    let accepted = sampling::acceptance(Model::Binomial, used.sample, used.accept, quality, places).ok()?;
    Decimal::ONE.checked_sub(accepted)?.checked_mul(Decimal::ONE_HUNDRED).map(|risk| risk.normalize())
}

/// The operating characteristic of every plan that leaves pieces out.
pub(super) fn curves(dossier: &Dossier) -> Vec<OcPicture> {
    used(dossier).iter().filter(|used| used.sample < used.pieces).filter_map(|u| curve(dossier, u)).collect()
}

fn curve(dossier: &Dossier, used: &Used) -> Option<OcPicture> {
    let Used { sample, accept, .. } = used;
    // As far as a quality that is hardly ever accepted.
    let last = sampling::quality_at(Model::Binomial, *sample, *accept, Decimal::new(1, 2), PLACES).ok()?;
    let step = last.checked_div(Decimal::from(POINTS))?.round_dp(4);
    let qualities: Vec<Decimal> = (0..=POINTS).filter_map(|i| step.checked_mul(Decimal::from(i))).collect();
    let points = sampling::curve(Model::Binomial, *sample, *accept, &qualities, 4).ok()?;
    let at = |quality: Decimal| {
        let pa = sampling::acceptance(Model::Binomial, *sample, *accept, quality, 4).ok()?;
        Some(curve_text([(quality, pa)]))
    };
    let tolerance = match used.plan {
        Name::Zero(zero) => Some(zero.ltpd()),
        _ => sampling::quality_at(Model::Binomial, *sample, *accept, tenth(), PLACES).ok(),
    };
    Some(OcPicture {
        title: format!(
            "What the plan lets through: {}, {}",
            pieces::standard(dossier, used.standard),
            used.plan
        ),
        sample: *sample,
        accept: *accept,
        curve: curve_text(points.into_iter().map(|p| (p.quality, p.acceptance))),
        aql: aql(dossier, used).and_then(at),
        ltpd: tolerance.and_then(at),
    })
}
