//! Stock removal from charge, weighing and sizes, held against each other.

use rust_decimal::Decimal;

use super::Figure;
use super::Limits;
use super::Metal;
use super::Standing;
use super::Table;
use super::Worked;
use super::shown;
use crate::app::error::Error;
use crate::picture;
use crate::removal;
use crate::removal::Estimate;
use crate::removal::Method;
use crate::removal::document::Charge;
use crate::removal::document::Dimension;
use crate::removal::document::Weighed;
use crate::units::Quantity;
use crate::units::Unit;

/// Removal is told to a hundredth of a micrometre, 0.4 µin, as the judge tells it.
const STEP: Decimal = Decimal::from_parts(1, 0, 0, false, 2);

/// What is known of a removal.
#[derive(Debug, Clone, Default)]
pub struct RemovalRequest {
    /// The charge that passed.
    pub charge: Option<Charge>,
    /// A piece weighed before and after.
    pub weighed: Option<Weighed>,
    /// A size before and after.
    pub dimension: Option<Dimension>,
    /// The metal.
    pub metal: Metal,
    /// Limits per surface.
    pub limits: Limits,
}

/// Stock removal per surface by each way there is, which of them judges, and whether they agree.
///
/// # Errors
/// Nothing to reckon with, and those of the ways.
pub fn removal(request: &RemovalRequest) -> Result<Worked, Error> {
    let RemovalRequest { charge, weighed, dimension, metal, limits } = request;
    if charge.is_none() && weighed.is_none() && dimension.is_none() {
        return Err(Error::cannot(
            "nothing to tell a removal by",
            "give a charge (--current with --time and --area, --current-density with --time, or --charge \
            with --area), \
             a weighing (--mass-before, --mass-after, --weighed-area) or a size (--size-before, \
             --size-after, --across)",
        ));
    }
    let mut worked = Worked::new("removal", "Stock removal per surface");
    let mut all = Vec::new();
    if let Some(charge) = charge {
        let (density, alloy) = (metal.density()?, metal.equivalent_weight(charge.valences)?);
        let passed = charge.passage()?.per_square_decimetre()?;
        let found = charge.estimate(&alloy, &density)?;
        worked.figure("charge", "charge per surface", shown(passed, 2), "A·min/dm²");
        worked.figure("equivalent_weight", "equivalent weight", shown(alloy.value, 2), "g/mol");
        let share =
            charge.efficiency.map_or_else(|| "1".to_owned(), |e| e.fraction().normalize().to_string());
        worked.step(format!(
            "by charge: 6000 · Q · EW · η / (F · ρ) = 6000 · {} · {} · {share} / ({} · {}) = {} µm",
            shown(passed, 2),
            shown(alloy.value, 2),
            removal::FARADAY,
            density.value(),
            shown(found.depth, 2)
        ));
        worked.source("Faraday's law; equivalent weight by the method of ASTM G102 (recalled)");
        all.push(found);
    }
    if let Some(weighed) = weighed {
        let density = metal.density()?;
        let found = weighed.estimate(&density)?;
        let lost = weighed.before.value().checked_sub(weighed.after.value()).unwrap_or_default();
        worked.figure("mass_lost", "mass lost", lost, "g");
        let area = weighed.area.value_in(Unit::SquareCentimetre).unwrap_or_default();
        worked.step(format!(
            "by weighing: 10⁴ · Δm / (ρ · A) = 10000 · {lost} / ({} · {}) = {} µm, A in cm²",
            density.value(),
            area.normalize(),
            shown(found.depth, 2)
        ));
        all.push(found);
    }
    if let Some(size) = dimension {
        let found = size.estimate()?;
        let (more, less) =
            if size.kind.grows() { (size.after, size.before) } else { (size.before, size.after) };
        worked.step(format!(
            "by dimensions: ({more} − {less}) / {} = {} µm, by the surfaces across",
            size.kind.surfaces(),
            shown(found.depth, 2)
        ));
        all.push(found);
    }
    let compared = removal::compare(&all)?;
    let judge = depth(&compared.judge)?;
    let first = Figure::new("removal", "removal per surface", judge.value(), judge.unit().symbol());
    let uncertainty = expanded(&compared.judge);
    let note = match compared.judge.upper_bound {
        true => format!("{}; at most", compared.judge.method),
        false => compared.judge.method.to_string(),
    };
    let first = Figure { uncertainty: uncertainty.map(|u| u.value().to_string()), ..first.noted(note) };
    worked.figures.insert(0, first);
    if let Some(inches) = compared.judge.in_inches(Decimal::new(1, 6)) {
        worked.figures.insert(1, Figure::of("removal_inch", "the same in inches", &inches));
    }
    worked.tables.push(table(&compared.estimates)?);
    for estimate in &compared.estimates {
        worked.rests_on.extend(estimate.basis.iter().map(|basis| format!("{}: {basis}", estimate.method)));
        if !estimate.not_stated.is_empty() {
            let lacking = estimate.not_stated.join(", ");
            worked.mind(format!(
                "{}: no uncertainty stated of {lacking}; it counts as nothing",
                estimate.method
            ));
        }
    }
    if compared.estimates.len() > 1 {
        worked.step(format!("{} judges: {}", compared.judge.method, compared.reason));
        worked.steps.extend(compared.pairs.iter().map(|pair| pair.words.clone()));
        worked.source("ways compared by E_n = |a − b| / √(Ua² + Ub²), at most 1 (ISO 13528, recalled)");
    }
    worked.standing = standing(&compared, &judge, limits)?;
    worked.drawing = Some(drawing(&compared.estimates, limits)?);
    Ok(worked)
}

fn depth(estimate: &Estimate) -> Result<Quantity, Error> {
    let beyond = || Error::cannot("the removal is beyond what is reckoned with", "look for a slipped point");
    estimate.in_micrometres(STEP).ok_or_else(beyond)
}

/// Its uncertainty, where anybody stated one.
fn expanded(estimate: &Estimate) -> Option<Quantity> {
    (!estimate.expanded.is_zero()).then(|| estimate.uncertainty(STEP)).flatten()
}

fn table(estimates: &[Estimate]) -> Result<Table, Error> {
    let row = |e: &Estimate| {
        let uncertainty = expanded(e).map_or_else(|| "not stated".to_owned(), |u| u.value().to_string());
        let bound = if e.upper_bound { "at most" } else { "" };
        Ok(vec![e.method.to_string(), depth(e)?.value().to_string(), uncertainty, bound.to_owned()])
    };
    Ok(Table {
        table: "estimates",
        name: "Each way".to_owned(),
        columns: vec!["way", "removal, µm", "± (k = 2), µm", ""],
        rows: estimates.iter().map(row).collect::<Result<_, Error>>()?,
    })
}

/// Ways at odds with each other tell of no removal; else the judging one is held against the limits.
fn standing(
    compared: &removal::Comparison,
    judge: &Quantity,
    limits: &Limits,
) -> Result<Option<Standing>, Error> {
    let against = limits.standing(judge)?;
    let apart: Vec<&str> = compared.pairs.iter().filter(|p| p.disagree).map(|p| p.words.as_str()).collect();
    if !apart.is_empty() {
        return Ok(Some(Standing::Outside(format!("the ways disagree: {}", apart.join("; ")))));
    }
    // The most it can be says nothing of a least.
    if compared.judge.upper_bound && limits.at_least.is_some() && matches!(against, Some(Standing::Inside(_)))
    {
        let words = "without a calibrated efficiency the charge tells the most that came off, and no least";
        return Ok(Some(Standing::CannotTell(words.to_owned())));
    }
    if compared.judge.upper_bound
        && let (Some(Standing::Outside(_)), Some(most)) = (&against, limits.at_most)
        && judge.compare(&most) == Some(std::cmp::Ordering::Greater)
    {
        let words =
            format!("at most {judge} came off, which may be above {most} or not: weigh, or calibrate");
        return Ok(Some(Standing::CannotTell(words)));
    }
    if compared.pairs.is_empty() || against.is_some() {
        return Ok(against);
    }
    Ok(Some(Standing::Inside("the ways agree within their uncertainties".to_owned())))
}

fn drawing(estimates: &[Estimate], limits: &Limits) -> Result<picture::Drawing, Error> {
    let bar = |e: &Estimate| {
        let name = match e.method {
            Method::Charge => "by charge",
            Method::Weighing => "by weighing",
            Method::Dimensions => "by dimensions",
        };
        let uncertainty = expanded(e).map(|u| u.value());
        Ok(picture::Estimate { name: name.to_owned(), value: depth(e)?.value(), uncertainty })
    };
    let micrometres = |limit: Option<Quantity>| limit.and_then(|l| l.value_in(Unit::Micrometre));
    Ok(picture::removal(&picture::Removal {
        title: "Stock removal per surface".to_owned(),
        width: picture::FULL,
        estimates: estimates.iter().map(bar).collect::<Result<_, Error>>()?,
        low: micrometres(limits.at_least),
        high: micrometres(limits.at_most),
    }))
}
