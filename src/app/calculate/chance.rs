//! How likely a reading near a limit accepts what is outside, and whether the gauge is good enough to tell.

use rust_decimal::Decimal;

use super::Figure;
use super::Limits;
use super::Standing;
use super::Worked;
use super::shown;
use crate::app::error::Error;
use crate::decision;
use crate::decision::GuardBand;
use crate::decision::Outcome;
use crate::decision::Ratio;
use crate::units::Quantity;
use crate::units::Unit;

/// A reading, its limits and the gauge's uncertainty.
#[derive(Debug, Clone, Copy)]
pub struct ChanceRequest {
    /// The reading.
    pub reading: Quantity,
    /// Its limits.
    pub limits: Limits,
    /// Expanded uncertainty, as the calibration certificate states it.
    pub uncertainty: Quantity,
    /// The coverage factor it was stated with.
    pub factor: Decimal,
    /// The value aimed at, for the ratio at one limit.
    pub target: Option<Quantity>,
    /// A guard band in expanded uncertainties.
    pub guard_band: Option<Decimal>,
}

/// Decimals of a probability in per cent.
const PLACES: u32 = 4;

/// Probability of false acceptance, test uncertainty ratio, and how the reading stands.
///
/// # Errors
/// Figures in several units, no limit or limits that cross, an uncertainty or factor not above 0.
pub fn chance(request: &ChanceRequest) -> Result<Worked, Error> {
    let ChanceRequest { reading, limits, uncertainty, factor, target, .. } = request;
    let unit = reading.unit();
    let others = [limits.at_least, limits.at_most, Some(*uncertainty), *target];
    if let Some(other) = others.into_iter().flatten().find(|q| q.unit() != unit) {
        let message = format!("the reading is {reading}, and {other} is in another unit");
        return Err(Error::cannot(message, &format!("give reading, limits and uncertainty all in {unit}")));
    }
    if *factor < Decimal::ONE || *factor > Decimal::from(4) {
        let message = format!("a coverage factor of {factor}: expected 1 to 4, usually 2");
        return Err(Error::cannot(message, "take --k from the calibration certificate"));
    }
    let value = |q: Option<Quantity>| q.map(|q| q.value());
    let held = decision::Limits { lower: value(limits.at_least), upper: value(limits.at_most) };
    let expanded = uncertainty.value();
    let standard = expanded.checked_div(*factor).unwrap_or(expanded);
    let found = decision::conformance(reading.value(), standard, &held)?;
    let ratio = decision::test_uncertainty_ratio(&held, expanded, value(*target))?;
    let mut worked =
        Worked::new("chance", format!("{reading} ± {uncertainty} (k = {factor}), limits {}", limits.words()));
    let per_cent = |p: Decimal| shown(p.checked_mul(Decimal::ONE_HUNDRED).unwrap_or_default(), PLACES);
    worked.figures.push(
        Figure::new("outside", "probability that it is outside", per_cent(found.false_acceptance), "%")
            .noted("if it is accepted, that of false acceptance"),
    );
    worked.figure("inside", "probability that it is inside", per_cent(found.inside), "%");
    if limits.at_least.is_some() && limits.at_most.is_some() {
        worked.figure("below", "of it, below the lower limit", per_cent(found.below), "%");
        worked.figure("above", "of it, above the upper limit", per_cent(found.above), "%");
    }
    worked.step(format!(
        "u = U / k = {} {unit} / {factor} = {} {unit}",
        expanded,
        standard.normalize().round_dp(6)
    ));
    worked.step("P(inside) = Φ((TU − y) / u) − Φ((TL − y) / u), y the reading, TL and TU the limits");
    let said = match ratio {
        Ratio::TwoSided { value, low } => {
            let (upper, lower) = (held.upper.unwrap_or_default(), held.lower.unwrap_or_default());
            worked.step(format!(
                "TUR = (TU − TL) / (2 · U) = ({upper} − {lower}) / (2 · {expanded}) = {value}"
            ));
            Some((value, low))
        }
        Ratio::ToTarget { value, low } => {
            worked.step(format!("TUR = |limit − target| / U = {value}, by U = {expanded} {unit}"));
            Some((value, low))
        }
        Ratio::Undefined => None,
    };
    match said {
        Some((value, low)) => {
            let figure = Figure::new("tur", "test uncertainty ratio", value, "");
            worked.figures.push(figure.noted("to one; rounded down"));
            if low {
                worked.mind(format!(
                    "The test uncertainty ratio is {value} to 1, under the 4 to 1 that common practice \
                    asks for: use a finer gauge, or agree on a guard band."
                ));
            }
        }
        None => worked.mind(
            "With one limit there is no span to compare the uncertainty with: give --target for the test \
            uncertainty ratio.",
        ),
    }
    worked.standing = Some(standing(request, &held, &mut worked)?);
    worked.source("JCGM 106:2012, 7: normal model about the reading, nothing known beforehand");
    worked.source("4 to 1: common practice (ANSI/NCSL Z540.3, recalled)");
    if unit == Unit::Ph {
        worked.mind("pH is a logarithm: the model holds for small uncertainties only.");
    }
    Ok(worked)
}

fn standing(
    request: &ChanceRequest,
    held: &decision::Limits,
    worked: &mut Worked,
) -> Result<Standing, Error> {
    let ChanceRequest { reading, limits, uncertainty, guard_band, .. } = request;
    let band = guard_band.map_or(GuardBand::None, GuardBand::Times);
    let acceptance = band.acceptance(held, uncertainty.value())?;
    let unit = reading.unit();
    if let Some(times) = guard_band {
        let ends = [("lower", acceptance.limits.lower), ("upper", acceptance.limits.upper)];
        for (end, limit) in ends {
            let Some(limit) = limit else { continue };
            let (word, sign) = if end == "lower" { ("accept_from", '+') } else { ("accept_to", '−') };
            worked.figure(word, &format!("acceptance limit, {end}"), limit, unit.symbol());
            worked.step(format!("{end} acceptance limit = limit {sign} {times} · U = {limit} {unit}"));
        }
        worked.source("guard band in expanded uncertainties (ILAC-G8:09/2019; ISO 14253-1 takes 0.83)");
    }
    let outcome = decision::judge(reading.value(), held, &acceptance);
    let words = limits.words();
    Ok(match outcome {
        Outcome::Accept => Standing::Inside(format!("{reading} is accepted: {words}")),
        Outcome::Conditional => Standing::Outside(format!(
            "{reading} is within the limits, but in the guard band: the gauge cannot tell"
        )),
        Outcome::Reject => Standing::Outside(format!("{reading} is outside the limits: expected {words}")),
    })
}
