//! A sampling plan for one lot: how many pieces, how many may fail, and what the plan lets through.

use rust_decimal::Decimal;

use super::Figure;
use super::Standing;
use super::Table;
use super::Worked;
use super::shown;
use crate::app::builtin;
use crate::app::error::Error;
use crate::picture;
use crate::picture::OcCurve;
use crate::picture::OcPoint;
use crate::sampling;
use crate::sampling::Basis;
use crate::sampling::Model;
use crate::sampling::Name;
use crate::sampling::Row;
use crate::sampling::Severity;
use crate::sampling::Standard;
use crate::sampling::Tables;

/// A plan and a lot.
#[derive(Debug, Clone)]
pub struct SamplingRequest {
    /// The plan, as orders write it.
    pub plan: Name,
    /// Pieces of the lot.
    pub lot: u64,
    /// How severe the inspection is; left out: as the plan begins.
    pub severity: Option<Severity>,
    /// The quality for which the producer's risk is told, per cent; left out: the plan's AQL.
    pub good: Option<Decimal>,
    /// The quality for which the consumer's risk is told, per cent; left out: the plan's LTPD, or the quality
    /// that is accepted one time in ten.
    pub bad: Option<Decimal>,
    /// Whether the risks are those of this one lot; else of a long series.
    pub this_lot: bool,
    /// Pieces of the sample that failed, where it is inspected already.
    pub failed: Option<u64>,
}

/// Digits of a probability; the last two of a table are per cent's.
const PLACES: u32 = 6;
/// Probabilities of acceptance for which tables of operating characteristics state the quality, in per cent.
const STATED: [(i64, u32); 9] =
    [(99, 2), (95, 2), (90, 2), (75, 2), (50, 2), (25, 2), (10, 2), (5, 2), (1, 2)];
/// Points of the curve that is drawn.
const POINTS: u32 = 120;

/// The plan's numbers for a lot and its risks, with the curve.
///
/// # Errors
/// A lot of no pieces, a severity the plan does not have, figures nobody could read, qualities out of range.
pub fn sampling(request: &SamplingRequest) -> Result<Worked, Error> {
    let SamplingRequest { plan, lot, .. } = request;
    let tables = builtin::indexed_sampling()?;
    let severity = request.severity.unwrap_or_else(|| plan.begins());
    let row = sampling::row_for(&tables, plan, severity, *lot)?;
    let pieces = row.pieces(*lot);
    let named = if plan.begins() == severity { plan.to_string() } else { format!("{plan}, {severity}") };
    let mut worked = Worked::new("sampling", format!("{named}, lot of {lot}"));
    let every = if pieces == *lot { "every piece of the lot" } else { "taken at random from the whole lot" };
    worked.figures.push(Figure::new("sample", "sample", pieces, "pieces").noted(every));
    worked.figures.push(Figure::new("accept", "accept with failures up to", row.accept, ""));
    worked.figures.push(Figure::new("reject", "do not accept with failures from", row.reject, ""));
    letters(&tables, request, severity, &mut worked);
    let basis = sampling::basis(&tables, plan, severity)?;
    worked.source(source(plan, &tables, basis));
    if basis == Basis::Unsure {
        worked.mind(
            "Nobody here could read this plan: hold its numbers against the controlled copy before use.",
        );
    }
    if row.reject > row.accept.saturating_add(1) {
        worked.mind(format!(
            "Between {} and {} failures the lot is accepted, and the next is inspected normally.",
            row.accept, row.reject
        ));
    }
    if plan.switches() {
        worked.mind(
            "The plan goes with its switching rules: the risks of one severity are not those of the scheme.",
        );
    }
    if let Some(failed) = request.failed {
        worked.standing = Some(verdict(failed, pieces, &row)?);
    }
    risks(request, &row, pieces, &mut worked)?;
    Ok(worked)
}

/// The code letter asked for and used, where the plan has them.
fn letters(tables: &Tables, request: &SamplingRequest, severity: Severity, worked: &mut Worked) {
    let Name::Indexed { level, aql, .. } = request.plan else { return };
    let Ok(plan) = tables.plan(request.lot, level, aql, severity) else { return };
    worked.step(format!("a lot of {} at level {level} has the code letter {}", request.lot, plan.asked));
    if plan.used != plan.asked {
        worked.step(format!(
            "its arrow at AQL {aql} leads to letter {}: its sample, Ac and Re are taken",
            plan.used
        ));
    }
    worked.step(format!(
        "letter {}, AQL {aql}, {severity}: n = {}, Ac = {}, Re = {}",
        plan.used, plan.table_sample, plan.accept, plan.reject
    ));
    if plan.whole_lot {
        worked.step("the sample is as large as the lot or larger: every piece is inspected");
    }
}

fn source(plan: &Name, tables: &Tables, basis: Basis) -> String {
    let known = match basis {
        Basis::Read => "read",
        Basis::Recalled => "in part recalled: confirm it against your copy",
        Basis::Unsure => "unsure",
        Basis::House => "arithmetic",
    };
    match plan {
        Name::Zero(_) => format!("smallest sample by the hypergeometric distribution ({known})"),
        Name::Every => "every piece is inspected".to_owned(),
        Name::Indexed { standard: Standard::MilStd105E, .. } => {
            format!("single plans of {} ({known})", tables.designation())
        }
        other => format!("{other}: taken from the single plans of {} ({known})", tables.designation()),
    }
}

fn verdict(failed: u64, pieces: u64, row: &Row) -> Result<Standing, Error> {
    if failed > pieces {
        let message = format!("{failed} failed of a sample of {pieces}");
        return Err(Error::cannot(message, "count the failures of the sample alone"));
    }
    let verdict = sampling::verdict(failed, row.accept, row.reject);
    let words = format!("{failed} of {pieces} failed: {}", verdict.words());
    Ok(if verdict.accepted() { Standing::Inside(words) } else { Standing::Outside(words) })
}

/// The plan as the risks are reckoned of it.
struct Reckoned {
    model: Model,
    sample: u64,
    accept: u64,
}

impl Reckoned {
    fn acceptance(&self, quality: Decimal) -> Result<Decimal, Error> {
        Ok(sampling::acceptance(self.model, self.sample, self.accept, quality, PLACES)?)
    }

    fn quality_at(&self, pa: Decimal, places: u32) -> Result<Decimal, Error> {
        Ok(sampling::quality_at(self.model, self.sample, self.accept, pa, places)?)
    }
}

fn risks(request: &SamplingRequest, row: &Row, pieces: u64, worked: &mut Worked) -> Result<(), Error> {
    let SamplingRequest { plan, lot, .. } = request;
    let aql = match plan {
        Name::Indexed { aql, .. } | Name::Iso4519(aql) => Some(*aql),
        Name::B602(level) => level.aql(),
        Name::Zero(_) | Name::Every => None,
    };
    let zero = match plan {
        Name::Zero(zero) => Some(zero),
        _ => None,
    };
    let whole = pieces == *lot;
    let counts = aql.is_some_and(sampling::Aql::per_hundred_units_only);
    if counts && request.this_lot {
        let message = format!("`{plan}` counts nonconformities per hundred units, not pieces of a lot");
        return Err(Error::cannot(message, "leave --this-lot out"));
    }
    if counts && whole {
        // Every unit is looked at: there is no chance in it.
        return Ok(());
    }
    let model = if request.this_lot || whole || zero.is_some() {
        Model::Lot(*lot)
    } else if counts {
        Model::Poisson
    } else {
        Model::Binomial
    };
    let reckoned = Reckoned { model, sample: pieces, accept: row.accept };
    let (unit, of) = match model {
        Model::Poisson => ("per 100 units", "nonconformities per hundred units of a long series (Poisson)"),
        Model::Binomial => ("%", "per cent nonconforming of a long series (binomial)"),
        Model::Lot(_) => ("%", "per cent nonconforming of this one lot (hypergeometric)"),
    };
    worked.source(format!("risks reckoned for {of}"));
    if let Model::Lot(lot) = model {
        worked.step(format!("a share of {lot} pieces is counted up to whole pieces"));
    }
    let mut marked = [None, None];
    if let Some(good) = request.good.or(aql.map(sampling::Aql::value)) {
        let pa = reckoned.acceptance(good)?;
        let risk = Decimal::ONE.checked_sub(pa).unwrap_or_default();
        let figure = Figure::new("producers_risk", "producer's risk", per_cent(risk), "%");
        let at = if request.good.is_some() { "given" } else { "the AQL" };
        worked.figures.push(figure.noted(format!("not accepted at {good} {unit}, {at}")));
        worked.step(format!(
            "producer's risk = 1 − Pa({good} {unit}) = 1 − {} % = {} %",
            per_cent(pa),
            per_cent(risk)
        ));
        marked[0] = Some((good, pa));
    }
    let bad = match (request.bad, zero) {
        (Some(bad), _) => Some((bad, "given")),
        (None, Some(zero)) => Some((zero.ltpd(), "the LTPD")),
        (None, None) if whole => None,
        (None, None) => match model {
            Model::Lot(lot) => {
                let bad = first_below(&reckoned, lot, Decimal::new(1, 1))?;
                share(bad, lot).map(|share| (share, "the best accepted at most one time in ten"))
            }
            _ => Some((reckoned.quality_at(Decimal::new(1, 1), 2)?, "accepted one time in ten")),
        },
    };
    if let Some((bad, whose)) = bad {
        let pa = reckoned.acceptance(bad)?;
        let figure = Figure::new("consumers_risk", "consumer's risk", per_cent(pa), "%");
        worked.figures.push(figure.noted(format!("accepted at {bad} {unit}, {whose}")));
        worked.step(format!("consumer's risk = Pa({bad} {unit}) = {} %", per_cent(pa)));
        marked[1] = Some((bad, pa));
    }
    if !matches!(model, Model::Lot(_)) {
        let limit = sampling::outgoing_limit(pieces, row.accept, *lot, 2)?;
        let figure = Figure::new("outgoing_limit", "average outgoing quality limit", limit, unit);
        worked.figures.push(figure.noted("where lots not accepted are sorted"));
    }
    let (rows, points) = match model {
        Model::Lot(lot) => lot_curve(&reckoned, lot)?,
        _ => series_curve(&reckoned)?,
    };
    let quality = if model == Model::Poisson { "per 100 units" } else { "nonconforming, %" };
    let columns = vec![quality, "accepted, %"];
    worked.tables.push(Table {
        table: "operating_characteristic",
        name: "What it lets through".to_owned(),
        columns,
        rows,
    });
    let [aql, ltpd] = marked.map(|point| point.map(|(quality, pa): OcPoint| (quality, pa.round_dp(4))));
    worked.drawing = Some(picture::oc_curve(&OcCurve {
        title: format!("Operating characteristic, {}", worked.of),
        width: picture::FULL,
        n: pieces,
        ac: row.accept,
        points,
        aql,
        ltpd,
    }));
    Ok(())
}

fn per_cent(probability: Decimal) -> String {
    shown(probability.checked_mul(Decimal::ONE_HUNDRED).unwrap_or_default(), 2)
}

type Curve = (Vec<Vec<String>>, Vec<OcPoint>);

/// Qualities at the stated probabilities, and points for the drawing up to where next to nothing is accepted.
fn series_curve(reckoned: &Reckoned) -> Result<Curve, Error> {
    let mut rows = Vec::new();
    for (mantissa, scale) in STATED {
        let pa = Decimal::new(mantissa, scale);
        rows.push(vec![reckoned.quality_at(pa, 3)?.to_string(), per_cent(pa)]);
    }
    let last = reckoned.quality_at(Decimal::new(5, 3), 4)?;
    let mut points = Vec::new();
    for i in 0..=POINTS {
        let part = last.checked_mul(Decimal::from(i)).and_then(|p| p.checked_div(Decimal::from(POINTS)));
        let quality = part.unwrap_or_default().round_dp(4);
        points.push((quality, reckoned.acceptance(quality)?));
    }
    Ok((rows, points))
}

/// A number of nonconforming pieces as a share in per cent, never above the exact one, so that it stands for
/// just so many.
fn share(bad: u64, lot: u64) -> Option<Decimal> {
    let share = Decimal::from(bad).checked_mul(Decimal::ONE_HUNDRED)?.checked_div(Decimal::from(lot))?;
    Some(share.trunc_with_scale(4).normalize())
}

/// The fewest nonconforming pieces with which a lot is accepted with at most this probability; Pa falls with
/// each.
fn first_below(reckoned: &Reckoned, lot: u64, most: Decimal) -> Result<u64, Error> {
    let (mut low, mut high) = (0_u64, lot);
    while low < high {
        let middle = low.midpoint(high);
        if reckoned.acceptance(share(middle, lot).unwrap_or_default())? > most {
            low = middle.saturating_add(1);
        } else {
            high = middle;
        }
    }
    Ok(low)
}

/// Numbers of nonconforming pieces up to where next to nothing is accepted; a dozen of them as rows.
fn lot_curve(reckoned: &Reckoned, lot: u64) -> Result<Curve, Error> {
    let last = first_below(reckoned, lot, Decimal::new(5, 3))?;
    let step = last.div_ceil(u64::from(POINTS)).max(1);
    let stride = usize::try_from(last.div_ceil(step).div_ceil(12)).unwrap_or(1).max(1);
    let (mut rows, mut points) = (Vec::new(), Vec::new());
    let counts = (0..).map(|i: u64| i.saturating_mul(step)).take_while(|bad| *bad < last).chain([last]);
    for (i, bad) in counts.enumerate() {
        let Some(share) = share(bad, lot) else { continue };
        let pa = reckoned.acceptance(share)?;
        if i % stride == 0 || bad == last {
            rows.push(vec![share.to_string(), per_cent(pa)]);
        }
        points.push((share, pa));
    }
    Ok((rows, points))
}
