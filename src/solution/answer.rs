//! What a titration comes to.

use std::fmt;

use rust_decimal::Decimal;

use crate::solution::exact::combined;
use crate::solution::exact::half_even;
use crate::solution::exact::product;
use crate::solution::exact::quotient;
use crate::solution::fault::SolutionError;
use crate::solution::titration::Analyte;
use crate::solution::titration::Basis;
use crate::solution::titration::Indicator;
use crate::solution::titration::Titration;
use crate::units::Quantity;
use crate::units::Unit;

/// What a strength is expressed in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Measure {
    /// mol/L.
    MolePerLitre,
    /// g/L.
    GramPerLitre,
    /// g in 100 mL.
    GramPer100Millilitres,
    /// Per cent by volume of the concentrate the basis names.
    VolumePercent,
    /// Per cent by mass.
    MassPercent,
    /// mg/L.
    MilligramPerLitre,
}

impl Measure {
    /// Digits after the point its values are rounded to.
    pub const fn places(self) -> u32 {
        match self {
            Measure::MolePerLitre | Measure::GramPer100Millilitres => 3,
            Measure::GramPerLitre | Measure::VolumePercent | Measure::MassPercent => 2,
            Measure::MilligramPerLitre => 1,
        }
    }

    /// As printed.
    pub const fn symbol(self) -> &'static str {
        match self {
            Measure::MolePerLitre => "mol/L",
            Measure::GramPerLitre => "g/L",
            Measure::GramPer100Millilitres => "g/100 mL",
            Measure::VolumePercent => "vol%",
            Measure::MassPercent => "wt%",
            Measure::MilligramPerLitre => "mg/L",
        }
    }

    /// The unit a record may use for it; `None` where records have none.
    pub const fn unit(self) -> Option<Unit> {
        match self {
            Measure::MolePerLitre => Some(Unit::MolePerLitre),
            Measure::GramPerLitre => Some(Unit::GramPerLitre),
            Measure::VolumePercent => Some(Unit::VolumePercent),
            Measure::MassPercent => Some(Unit::MassPercent),
            Measure::GramPer100Millilitres | Measure::MilligramPerLitre => None,
        }
    }
}

/// A strength and the basis it is stated on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Strength {
    /// Rounded to the places of its measure.
    pub value: Decimal,
    /// What it is expressed in.
    pub measure: Measure,
    /// The basis; `None` where the figure does not depend on one.
    pub basis: Option<Basis>,
    /// Expanded uncertainty, `k = 2`, in the same measure, to two places more than the value. `None` where
    /// the record gives no uncertainties. The molar masses and the basis count as exact.
    pub expanded: Option<Decimal>,
}

impl Strength {
    /// As a record would hold it; `None` for a measure records have no unit for.
    pub fn quantity(&self) -> Option<Quantity> {
        self.measure.unit().map(|unit| Quantity::new(self.value, unit))
    }
}

impl fmt::Display for Strength {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.value, self.measure.symbol())?;
        if let Some(basis) = self.basis {
            write!(f, ", basis {basis}")?;
        }
        if let Some(expanded) = self.expanded {
            write!(f, ", ± {expanded} (k = 2)")?;
        }
        Ok(())
    }
}

/// What a reader must know beside a strength.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Warning {
    /// Phenolphthalein in a bath with dissolved metals.
    PhenolphthaleinWithMetals,
    /// Per cent by mass was left out.
    NoDensity,
    /// A density read in a bath that has treated parts.
    MetalsRaiseDensity,
    /// Rows of the table far apart.
    WideGap,
}

impl fmt::Display for Warning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Warning::PhenolphthaleinWithMetals => {
                "phenolphthalein reads high once metals are dissolved, for they take up alkali before pH 8: \
                 titrate to methyl orange"
            }
            Warning::NoDensity => "no per cent by mass: the density of the bath is not on record",
            Warning::MetalsRaiseDensity => {
                "a density reads high once metals are dissolved: titrate a bath that has treated parts"
            }
            Warning::WideGap => {
                "the rows of the table lie far apart here: read between them, the strength may be off by 0.3 \
                 wt%"
            }
        })
    }
}

/// Strengths one titration gives, and what to know beside them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answer {
    /// In the order: amount, mass in a volume, per cent by volume, per cent by mass, as far as they apply.
    pub strengths: Vec<Strength>,
    /// Warnings.
    pub warnings: Vec<Warning>,
}

impl Answer {
    /// The strength in one measure.
    pub fn given_in(&self, measure: Measure) -> Option<&Strength> {
        self.strengths.iter().find(|s| s.measure == measure)
    }
}

/// Molar mass of nitric acid, g/mol, from the conventional atomic weights (recalled).
pub(crate) const NITRIC: Decimal = Decimal::from_parts(63012, 0, 0, false, 3);

/// Chloride, mg/mol, rounded as Mohr's titration is reckoned with (common practice).
pub(super) const CHLORIDE: Decimal = Decimal::from_parts(35453, 0, 0, false, 0);

/// Molar mass of the crystals a basis names, g/mol, and the equivalents in a mole of them. Conventional atomic
/// weights (recalled) summed up.
pub(super) fn crystals(what: Analyte, basis: Option<Basis>) -> (Decimal, Decimal) {
    if what == Analyte::CitricAcid {
        let mass = if basis == Some(Basis::Monohydrate) { 21014 } else { 19212 };
        return (Decimal::new(mass, 2), Decimal::from(3));
    }
    let mass = if basis == Some(Basis::Dihydrate) { 297_995 } else { 261_965 };
    (Decimal::new(mass, 3), Decimal::from(6))
}

/// The readings of a titration in plain numbers, checked.
struct Bench {
    sample: Decimal,
    normality: Decimal,
    /// Titrant less blank.
    volume: Decimal,
    density: Option<Decimal>,
    /// Standard uncertainty of the volume; relative ones of sample and normality; relative one of the
    /// density.
    uncertain: Option<(Decimal, [Decimal; 2], Decimal)>,
}

const ABOVE: bool = false;
const FROM: bool = true;

/// The value, if it is in `unit` and from nought (`FROM`) or above nought (`ABOVE`) to `most`.
fn within(
    field: &'static str,
    found: &Quantity,
    unit: Unit,
    zero: bool,
    most: u32,
) -> Result<Decimal, SolutionError> {
    if found.unit() != unit {
        return Err(SolutionError::Unit { field, found: *found, expected: unit });
    }
    let (value, most) = (found.value(), Decimal::from(most));
    let low = if zero { value >= Decimal::ZERO } else { value > Decimal::ZERO };
    if low && value <= most {
        return Ok(value);
    }
    let least = if zero { "from 0" } else { "more than 0" };
    let expected = format!("{least} and at most {most} {unit}");
    Err(SolutionError::Range { field, found: found.to_string(), expected })
}

fn listed(names: &[&str]) -> String {
    let quoted: Vec<String> = names.iter().map(|n| format!("`{n}`")).collect();
    match quoted.split_last() {
        None => "none; leave it out".to_owned(),
        Some((last, [])) => last.clone(),
        Some((last, rest)) => format!("{} or {last}", rest.join(", ")),
    }
}

impl Titration {
    /// Titrant used less the blank's, mL: `volume`, or last less first reading of the burette.
    ///
    /// Errors: no volume or two of them, a burette that ran backwards, a blank above the volume, units and
    /// ranges.
    pub fn net_volume(&self) -> Result<Decimal, SolutionError> {
        let used = match (&self.volume, &self.burette) {
            (None, None) => return Err(SolutionError::NoVolume),
            (Some(_), Some(_)) => return Err(SolutionError::TwoVolumes),
            (Some(volume), None) => within("volume", volume, Unit::Millilitre, FROM, 1000)?,
            (None, Some(burette)) => {
                let from = within("burette from", &burette.from, Unit::Millilitre, FROM, 1000)?;
                let to = within("burette to", &burette.to, Unit::Millilitre, FROM, 1000)?;
                if to < from {
                    return Err(SolutionError::Burette { from: burette.from, to: burette.to });
                }
                to.checked_sub(from).ok_or(SolutionError::Overflow("the burette"))?
            }
        };
        let Some(blank) = &self.blank else { return Ok(used) };
        let taken = within("blank", blank, Unit::Millilitre, FROM, 1000)?;
        if taken > used {
            let volume = Quantity::new(used, Unit::Millilitre);
            return Err(SolutionError::Blank { blank: *blank, volume });
        }
        used.checked_sub(taken).ok_or(SolutionError::Overflow("the blank"))
    }

    /// The strengths this titration gives.
    ///
    /// - Nitric acid: `mol/L = V N / S`; `g/L` by 63.012 g/mol; `vol% = 100 V N / (S Mc)` with `Mc` mol/L of
    ///   the concentrate the basis names; `wt% = g/L / (10 ρ)` where the density is given.
    /// - Citric acid: `g/100 mL = V N E / (10 S)`, `E` a third of the molar mass of the basis; `wt%` by
    ///   density.
    /// - Sodium dichromate: the same with a sixth of the molar mass; also `g/L`.
    /// - Chloride: `mg/L = V N · 35453 / S` (common practice); no basis.
    ///
    /// `V` mL of titrant less blank, `N` its normality, `S` mL of sample, `ρ` g/mL. Expanded uncertainty as
    /// [`Strength::expanded`] says.
    pub fn answer(&self) -> Result<Answer, SolutionError> {
        self.check_words()?;
        let bench = self.bench()?;
        let mut warnings = Vec::new();
        if self.what == Analyte::NitricAcid
            && self.indicator == Some(Indicator::Phenolphthalein)
            && self.dissolved_metals != Some(false)
        {
            warnings.push(Warning::PhenolphthaleinWithMetals);
        }
        if self.what != Analyte::Chloride && bench.density.is_none() {
            warnings.push(Warning::NoDensity);
        }
        let strengths = self.strengths(&bench).ok_or(SolutionError::Overflow("the titration"))?;
        Ok(Answer { strengths, warnings })
    }

    fn check_words(&self) -> Result<(), SolutionError> {
        let (what, bases) = (self.what, self.what.bases());
        let names: Vec<&str> = bases.iter().map(|b| b.name()).collect();
        match self.basis {
            None if !bases.is_empty() => {
                return Err(SolutionError::NoBasis { what, expected: listed(&names) });
            }
            Some(found) if !bases.contains(&found) => {
                return Err(SolutionError::WrongBasis { what, found, expected: listed(&names) });
            }
            _ => {}
        }
        if let Some(found) = self.indicator
            && !what.indicators().contains(&found)
        {
            let names: Vec<&str> = what.indicators().iter().map(|i| i.name()).collect();
            return Err(SolutionError::WrongIndicator { what, found, expected: listed(&names) });
        }
        Ok(())
    }

    fn bench(&self) -> Result<Bench, SolutionError> {
        let sample = within("sample", &self.sample, Unit::Millilitre, ABOVE, 1000)?;
        let normality = within("titrant", &self.titrant, Unit::MolePerLitre, ABOVE, 20)?;
        let volume = self.net_volume()?;
        let density = match &self.density {
            Some(density) => Some(within("density", density, Unit::GramPerMillilitre, ABOVE, 2)?),
            None => None,
        };
        if let (Some(value), Some(found)) = (density, &self.density)
            && value < Decimal::new(9, 1)
        {
            let expected = "from 0.9 to 2 g/mL, as a water-based bath has".to_owned();
            return Err(SolutionError::Range { field: "density", found: found.to_string(), expected });
        }
        let Some(known) = &self.uncertainty else {
            return Ok(Bench { sample, normality, volume, density, uncertain: None });
        };
        let us = within("uncertainty of sample", &known.sample, Unit::Millilitre, FROM, 1000)?;
        let un = within("uncertainty of titrant", &known.titrant, Unit::MolePerLitre, FROM, 20)?;
        let uv = within("uncertainty of volume", &known.volume, Unit::Millilitre, FROM, 1000)?;
        if let (None, Some(found)) = (density, &known.density) {
            let expected = "none, for the density itself is not on record".to_owned();
            let field = "uncertainty of density";
            return Err(SolutionError::Range { field, found: found.to_string(), expected });
        }
        let ud = match &known.density {
            Some(u) => within("uncertainty of density", u, Unit::GramPerMillilitre, FROM, 2)?,
            None => Decimal::ZERO,
        };
        let too_large = SolutionError::Overflow("the uncertainties");
        let rs = quotient(us, sample).ok_or_else(|| too_large.clone())?;
        let rn = quotient(un, normality).ok_or_else(|| too_large.clone())?;
        let rd = match density {
            Some(density) => quotient(ud, density).ok_or(too_large)?,
            None => Decimal::ZERO,
        };
        Ok(Bench { sample, normality, volume, density, uncertain: Some((uv, [rs, rn], rd)) })
    }

    /// `None` on overflow.
    fn strengths(&self, bench: &Bench) -> Option<Vec<Strength>> {
        let basis = self.basis;
        let mut all = Vec::new();
        let grams_of = |mass: Decimal| (mass, Decimal::ONE);
        match (self.what, basis.and_then(Basis::concentrate)) {
            (Analyte::NitricAcid, Some(concentrate)) => {
                all.push(bench.strength(Measure::MolePerLitre, None, grams_of(Decimal::ONE))?);
                all.push(bench.strength(Measure::GramPerLitre, None, grams_of(NITRIC))?);
                all.push(bench.strength(
                    Measure::VolumePercent,
                    basis,
                    (Decimal::ONE_HUNDRED, concentrate),
                )?);
                all.extend(bench.by_mass(None, NITRIC, Decimal::ONE)?);
            }
            (Analyte::NitricAcid, None) => return None,
            (Analyte::CitricAcid, _) => {
                let (mass, hydrogens) = crystals(self.what, basis);
                let per_100 = product(&[hydrogens, Decimal::TEN])?;
                all.push(bench.strength(Measure::GramPer100Millilitres, basis, (mass, per_100))?);
                all.extend(bench.by_mass(basis, mass, hydrogens)?);
            }
            (Analyte::SodiumDichromate, _) => {
                let (mass, electrons) = crystals(self.what, basis);
                all.push(bench.strength(Measure::GramPerLitre, basis, (mass, electrons))?);
                all.extend(bench.by_mass(basis, mass, electrons)?);
            }
            (Analyte::Chloride, _) => {
                all.push(bench.strength(Measure::MilligramPerLitre, None, grams_of(CHLORIDE))?);
            }
        }
        Some(all)
    }
}

impl Bench {
    /// `V N / S · top / bottom` in `measure`; `None` on overflow.
    fn strength(
        &self,
        measure: Measure,
        basis: Option<Basis>,
        (top, bottom): (Decimal, Decimal),
    ) -> Option<Strength> {
        self.with(measure, basis, (top, bottom), Decimal::ZERO)
    }

    /// Per cent by mass, where the density is known; the outer `None` on overflow.
    fn by_mass(&self, basis: Option<Basis>, mass: Decimal, equivalents: Decimal) -> Option<Option<Strength>> {
        let Some(density) = self.density else { return Some(None) };
        let bottom = product(&[equivalents, Decimal::TEN, density])?;
        let density = self.uncertain.map_or(Decimal::ZERO, |(_, _, r)| r);
        self.with(Measure::MassPercent, basis, (mass, bottom), density).map(Some)
    }

    fn with(
        &self,
        measure: Measure,
        basis: Option<Basis>,
        (top, bottom): (Decimal, Decimal),
        density: Decimal,
    ) -> Option<Strength> {
        let places = measure.places();
        // One division at the very end, so that a terminating result stays exact.
        let over = product(&[self.sample, bottom])?;
        let exact = quotient(product(&[self.volume, self.normality, top])?, over)?;
        let expanded = match self.uncertain {
            None => None,
            Some((uv, [rs, rn], _)) => {
                let slope = quotient(product(&[self.normality, top])?, over)?;
                let u = combined(slope, self.volume, uv, &[rs, rn, density])?;
                Some(half_even(u.checked_mul(Decimal::TWO)?, places.saturating_add(2)))
            }
        };
        Some(Strength { value: half_even(exact, places), measure, basis, expanded })
    }
}
