//! The three ways to tell a removal: by charge (Faraday), by weighing, by dimensions.

use std::fmt;

use rust_decimal::Decimal;
use rust_decimal::RoundingStrategy;

use super::Density;
use super::Efficiency;
use super::EquivalentWeight;
use super::FARADAY;
use super::Feature;
use super::Passage;
use super::RemovalError;
use super::amount::grams;
use super::amount::micrometres;
use super::amount::not_negative;
use super::amount::quadrature;
use super::amount::round_half_even;
use super::amount::square_centimetres;
use super::amount::to_step;
use super::within;
use crate::units::Quantity;
use crate::units::Unit;

/// How a removal was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Method {
    /// From the charge that passed.
    Charge,
    /// From the mass lost.
    Weighing,
    /// From sizes before and after.
    Dimensions,
}

impl fmt::Display for Method {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Method::Charge => "by charge",
            Method::Weighing => "by weighing",
            Method::Dimensions => "by dimensions",
        })
    }
}

/// Removal per surface as one method tells it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Estimate {
    /// How.
    pub method: Method,
    /// µm, not rounded.
    pub depth: Decimal,
    /// Expanded uncertainty (k = 2), µm, not rounded; of what was stated.
    pub expanded: Decimal,
    /// Uncertainties nobody stated; they count as nothing, so that `expanded` is too small by them.
    pub not_stated: Vec<&'static str>,
    /// Whether the depth is the most it can be, because no efficiency was calibrated.
    pub upper_bound: bool,
    /// What it rests on, in words: composition, density, efficiency.
    pub basis: Vec<String>,
}

impl Estimate {
    /// The depth rounded half-even to a step, in µm (0.1 gives tenths). `None` when the step is not above 0.
    pub fn in_micrometres(&self, step: Decimal) -> Option<Quantity> {
        Some(Quantity::new(round_half_even(self.depth, step)?, Unit::Micrometre))
    }

    /// The depth in inch (`µm / 25400`, exact ratio), rounded half-even to a step in inch.
    pub fn in_inches(&self, step: Decimal) -> Option<Quantity> {
        let inches = self.depth.checked_div(Decimal::from(25_400))?;
        Some(Quantity::new(round_half_even(inches, step)?, Unit::Inch))
    }

    /// The expanded uncertainty rounded up to a step, in µm: an uncertainty is not made smaller by rounding
    /// (JCGM 100, 7.2.6; recalled).
    pub fn uncertainty(&self, step: Decimal) -> Option<Quantity> {
        let rounded = to_step(self.expanded, step, RoundingStrategy::AwayFromZero)?;
        Some(Quantity::new(rounded, Unit::Micrometre))
    }

    /// The method, the depth and its uncertainty, and what it rests on, rounded to a step in µm.
    pub fn in_words(&self, step: Decimal) -> Option<String> {
        let bound = if self.upper_bound { "at most " } else { "" };
        let depth = self.in_micrometres(step)?;
        let mut words = format!("{}: {bound}{depth}", self.method);
        // A zero would read as certainty where nobody stated any.
        if !self.expanded.is_zero() {
            words.push_str(&format!(" ± {} (k = 2)", self.uncertainty(step)?.value()));
        }
        for basis in &self.basis {
            words.push_str("; ");
            words.push_str(basis);
        }
        if !self.not_stated.is_empty() {
            words.push_str("; no uncertainty stated of ");
            words.push_str(&self.not_stated.join(", "));
        }
        Some(words)
    }
}

/// Parts of an uncertainty as fractions of the depth, and names of those not stated.
#[derive(Default)]
struct Parts {
    fractions: Vec<Decimal>,
    not_stated: Vec<&'static str>,
}

impl Parts {
    /// Adds one as a fraction of its value, 0 to 1.
    fn fraction(&mut self, part: Option<Decimal>, what: &'static str) -> Result<(), RemovalError> {
        match part {
            None => self.not_stated.push(what),
            Some(found) if found < Decimal::ZERO || found > Decimal::ONE => {
                return Err(RemovalError::BadFraction { what, found });
            }
            Some(found) => self.fractions.push(found),
        }
        Ok(())
    }

    /// What they come to, of a depth.
    fn of(&self, depth: Decimal) -> Result<Decimal, RemovalError> {
        let expanded = quadrature(&self.fractions).and_then(|part| depth.checked_mul(part));
        within(expanded, "the uncertainty")
    }
}

/// Relative expanded uncertainties (k = 2) of what a charge is reckoned from, as fractions (0.02 for 2 %).
/// That of the efficiency comes with the efficiency.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct ChargeUncertainty {
    /// Of current, or of a charge from a log.
    pub current: Option<Decimal>,
    /// Of time; a charge from a log holds it already.
    pub time: Option<Decimal>,
    /// Of the area.
    pub area: Option<Decimal>,
    /// Of the equivalent weight: composition and valences.
    pub equivalent_weight: Option<Decimal>,
    /// Of the density.
    pub density: Option<Decimal>,
}

/// Removal from charge: `depth = 10⁴·I·t·EW·η / (F·ρ·A)` µm, with A, s, cm², g/cm³, F in C/mol; at 100 % that
/// is `0.0621856·EW/ρ` µm an A·min/dm². Without an efficiency the depth is an upper bound for the valences
/// assumed and says so. Uncertainties: relative ones in quadrature. Errors: a figure in a wrong unit or not
/// above 0, an efficiency of other valences, a fraction outside 0 to 1.
pub fn faraday(
    passage: &Passage,
    alloy: &EquivalentWeight,
    density: &Density,
    efficiency: Option<&Efficiency>,
    uncertainty: &ChargeUncertainty,
) -> Result<Estimate, RemovalError> {
    let charge = passage.per_square_decimetre()?;
    let mut basis = vec![alloy.to_string(), density.to_string()];
    let mut parts = Parts::default();
    parts.fraction(uncertainty.current, "current")?;
    if !matches!(passage, Passage::Charge { .. }) {
        parts.fraction(uncertainty.time, "time")?;
    }
    if !matches!(passage, Passage::Density { .. }) {
        parts.fraction(uncertainty.area, "area")?;
    }
    parts.fraction(uncertainty.equivalent_weight, "equivalent weight")?;
    parts.fraction(uncertainty.density, "density")?;
    let share = match efficiency {
        Some(efficiency) => {
            basis.push(efficiency.to_string());
            let share = efficiency.for_valences(alloy.valences)?;
            let relative = efficiency.expanded().and_then(|u| u.checked_div(share));
            parts.fraction(relative, "efficiency")?;
            share
        }
        None => {
            basis.push(
                "current efficiency not calibrated, taken as 100 %: an upper bound for these valences".into(),
            );
            Decimal::ONE
        }
    };
    // 60 s a minute, 100 cm² a dm², 10⁴ µm a cm.
    let depth = || {
        let dissolved =
            charge.checked_mul(Decimal::from(6_000))?.checked_mul(alloy.value)?.checked_mul(share)?;
        dissolved.checked_div(FARADAY)?.checked_div(density.value())
    };
    let depth = within(depth(), "the depth by charge")?;
    Ok(Estimate {
        method: Method::Charge,
        depth,
        expanded: parts.of(depth)?,
        not_stated: parts.not_stated,
        upper_bound: efficiency.is_none(),
        basis,
    })
}

/// A piece weighed before and after.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Weighings {
    /// g.
    pub before: Quantity,
    /// g.
    pub after: Quantity,
    /// Surface that dissolved, cm², dm², in² or ft².
    pub area: Quantity,
    /// Expanded uncertainty (k = 2) of each of the two weighings, g.
    pub weighing_uncertainty: Option<Quantity>,
    /// Relative expanded uncertainty of the area, a fraction.
    pub area_uncertainty: Option<Decimal>,
    /// Relative expanded uncertainty of the density, a fraction.
    pub density_uncertainty: Option<Decimal>,
}

/// Removal from mass lost: `depth = 10⁴·Δm / (ρ·A)` µm, with g, g/cm³, cm². `U² = (10⁴/(ρ·A))²·2·U_m² +
/// depth²·(u_A² + u_ρ²)`: both weighings count. Errors: mass not less after, figures in a wrong unit or not
/// above 0.
pub fn weighing(weighings: &Weighings, density: &Density) -> Result<Estimate, RemovalError> {
    let Weighings { before, after, area, weighing_uncertainty, area_uncertainty, density_uncertainty } =
        weighings;
    let what = "the depth by weighing";
    for (mass, name) in [(before, "the mass before"), (after, "the mass after")] {
        if grams(mass, name)? < Decimal::ZERO {
            return Err(RemovalError::Negative { what: name, found: mass.to_string() });
        }
    }
    let lost = within(before.value().checked_sub(after.value()), what)?;
    if lost <= Decimal::ZERO {
        return Err(RemovalError::NotLighter { before: before.to_string(), after: after.to_string() });
    }
    let area = square_centimetres(area, "the area")?;
    let per_gram = || Decimal::from(10_000).checked_div(density.value())?.checked_div(area);
    let per_gram = within(per_gram(), what)?;
    let depth = within(per_gram.checked_mul(lost), what)?;
    let mut parts = Parts::default();
    parts.fraction(*area_uncertainty, "area")?;
    parts.fraction(*density_uncertainty, "density")?;
    let mut all = vec![parts.of(depth)?];
    match weighing_uncertainty {
        None => parts.not_stated.push("weighing"),
        Some(quantity) => {
            let name = "the uncertainty of weighing";
            let each = not_negative(grams(quantity, name)?, quantity, name)?;
            let each = within(per_gram.checked_mul(each), name)?;
            all.extend([each, each]);
        }
    }
    Ok(Estimate {
        method: Method::Weighing,
        depth,
        expanded: within(quadrature(&all), "the uncertainty")?,
        not_stated: parts.not_stated,
        upper_bound: false,
        basis: vec![density.to_string()],
    })
}

/// A size measured before and after.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Across {
    /// What was measured, which says how many surfaces lie across it.
    pub feature: Feature,
    /// mm, in, µm or µin.
    pub before: Quantity,
    /// mm, in, µm or µin.
    pub after: Quantity,
    /// Expanded uncertainty (k = 2) of each of the two sizes, a length.
    pub uncertainty: Option<Quantity>,
}

/// Removal from sizes: `|before − after| / surfaces`, µm; two surfaces lie across a diameter or a thickness,
/// one where one side is measured from a datum. A bore grows. `U = √2·U_size / surfaces`. Errors: a size that
/// changed the wrong way, figures that are no lengths or not above 0.
pub fn dimensions(across: &Across) -> Result<Estimate, RemovalError> {
    let Across { feature, before, after, uncertainty } = across;
    let (start, end) = (micrometres(before, "the size before")?, micrometres(after, "the size after")?);
    for (value, quantity, what) in [(start, before, "the size before"), (end, after, "the size after")] {
        if value <= Decimal::ZERO {
            return Err(RemovalError::NotPositive { what, found: quantity.to_string() });
        }
    }
    let change = if feature.grows() { end.checked_sub(start) } else { start.checked_sub(end) };
    let what = "the depth by dimensions";
    let change = within(change, what)?;
    if change < Decimal::ZERO {
        return Err(RemovalError::WrongWay {
            feature: *feature,
            before: before.to_string(),
            after: after.to_string(),
            expected: if feature.grows() { "larger after" } else { "smaller after" },
        });
    }
    let depth = within(change.checked_div(feature.surfaces()), what)?;
    let (mut not_stated, mut expanded) = (Vec::new(), Decimal::ZERO);
    match uncertainty {
        None => not_stated.push("size"),
        Some(quantity) => {
            let name = "the uncertainty of the size";
            let each = not_negative(micrometres(quantity, name)?, quantity, name)?;
            let of_change = quadrature(&[each, each]).and_then(|u| u.checked_div(feature.surfaces()));
            expanded = within(of_change, name)?;
        }
    }
    let basis = vec![format!("{feature} {before} before, {after} after")];
    Ok(Estimate { method: Method::Dimensions, depth, expanded, not_stated, upper_bound: false, basis })
}
