//! Strength by titration or density, dissolved solids by conductivity.

use rust_decimal::Decimal;

use super::Figure;
use super::Limits;
use super::Worked;
use crate::app::error::Error;
use crate::solution;
use crate::solution::Analyte;
use crate::solution::Basis;
use crate::solution::Factor;
use crate::solution::Measure;
use crate::solution::Strength;
use crate::solution::Titration;
use crate::units::Quantity;
use crate::units::Unit;

/// What a strength is called for machines and for people.
const fn named(measure: Measure) -> (&'static str, &'static str) {
    match measure {
        Measure::MolePerLitre => ("amount", "amount in a litre"),
        Measure::GramPerLitre => ("mass_in_a_litre", "mass in a litre"),
        Measure::GramPer100Millilitres => ("mass_in_100_ml", "mass in 100 mL"),
        Measure::VolumePercent => ("volume_percent", "per cent by volume"),
        Measure::MassPercent => ("mass_percent", "per cent by mass"),
        Measure::MilligramPerLitre => ("chloride", "chloride"),
    }
}

/// The strength of a bath by titration, against limits in any of the measures it gives.
///
/// # Errors
/// Those of [`Titration::answer`]; limits in a unit the titration does not give.
pub fn strength(titration: &Titration, limits: &Limits) -> Result<Worked, Error> {
    let answer = titration.answer()?;
    let (of, titrant) = match titration.what {
        Analyte::NitricAcid => ("Nitric acid", "sodium hydroxide, one acidic hydrogen"),
        Analyte::CitricAcid => ("Citric acid", "sodium hydroxide, three acidic hydrogens"),
        Analyte::SodiumDichromate => ("Sodium dichromate", "iodide and thiosulfate, six equivalents"),
        Analyte::Chloride => ("Chloride", "silver nitrate in neutral solution (Mohr)"),
    };
    let mut worked = Worked::new("strength", format!("{of}, titrated with {titrant}"));
    for found in in_order(&answer.strengths) {
        let (word, name) = named(found.measure);
        worked.figures.push(Figure {
            uncertainty: found.expanded.map(|u| u.to_string()),
            note: found.basis.map(|basis| match basis.concentrate() {
                Some(_) => format!("100 vol% is acid of {basis}"),
                None => format!("as {basis}"),
            }),
            ..Figure::new(word, name, found.value, found.measure.symbol())
        });
    }
    worked.steps = titration.steps()?;
    worked.mind.extend(answer.warnings.iter().map(ToString::to_string));
    worked.source(match titration.what {
        Analyte::Chloride => "formula and the rounded 35.453 g/mol: common practice",
        _ => "molar masses from the conventional atomic weights (recalled)",
    });
    if let Some(basis) = titration.basis.filter(|b| b.concentrate().is_some()) {
        worked.source(concentrate_source(basis));
    }
    if titration.uncertainty.is_some() {
        worked.source("uncertainties combined in quadrature, k = 2 (JCGM 100:2008, 5.1)");
    }
    worked.standing = standing(&answer.strengths, limits)?;
    Ok(worked)
}

fn concentrate_source(basis: Basis) -> &'static str {
    match basis {
        Basis::Baume42 => "15.0 mol/L for acid of 42 °Bé as published; its 67.2 wt% are recalled",
        Basis::Percent70 => "15.7 mol/L for acid of 70 wt% as published",
        Basis::Molar15p5 => "15.5 mol/L read back from a published factor of 6.45 a mL",
        _ => "concentrate from handbook densities at 20 °C",
    }
}

/// What baths are ordered by comes first: per cent by volume, or the mass.
fn in_order(all: &[Strength]) -> impl Iterator<Item = &Strength> {
    let first = |s: &&Strength| s.measure == Measure::VolumePercent;
    all.iter().filter(first).chain(all.iter().filter(move |s| !first(s)))
}

fn standing(all: &[Strength], limits: &Limits) -> Result<Option<super::Standing>, Error> {
    limits.check()?;
    let Some(limit) = limits.at_least.or(limits.at_most) else { return Ok(None) };
    let units = all.iter().filter_map(|s| s.quantity());
    let Some(found) = units.clone().find(|q| q.dimension() == limit.dimension()) else {
        let given: Vec<&str> = units.map(|q| q.unit().symbol()).collect();
        let message = format!("this titration cannot be held against the limit {limit}");
        let hint = match given.as_slice() {
            [] => {
                "leave the limits out and compare the figure by eye: records have no unit for it".to_owned()
            }
            given if limit.unit() == Unit::MassPercent => {
                format!("give --density for per cent by mass, or the limit in {}", given.join(", "))
            }
            given => format!("give the limit in {}", given.join(", ")),
        };
        return Err(Error::cannot(message, &hint));
    };
    limits.standing(&found)
}

/// The strength of nitric acid by its density at 20 °C; in vol% where a basis is named.
///
/// # Errors
/// Another unit, a temperature beyond 20 °C ± 1 °C, a density beyond the table.
pub fn by_density(
    density: &Quantity,
    temperature: &Quantity,
    basis: Option<Basis>,
    limits: &Limits,
) -> Result<Worked, Error> {
    let found = solution::strength_by_density(density, temperature, Decimal::ONE)?;
    let mut worked =
        Worked::new("strength", format!("Nitric acid by its density, {density} at {temperature}"));
    let mut all = vec![found.mass_percent, found.grams_per_litre, found.mole_per_litre];
    let (low, high) = found.rows;
    if low == high {
        worked.step(format!("the table has {} wt% at {} g/mL", low.mass_percent, low.density));
    } else {
        let between = format!(
            "wt% = {} + ({} − {}) · ({} − {}) / ({} − {}) = {}, straight between two rows of the table",
            low.mass_percent,
            density.value(),
            low.density,
            high.mass_percent,
            low.mass_percent,
            high.density,
            low.density,
            found.mass_percent.value(),
        );
        worked.step(between);
    }
    worked.step(format!("g/L = 10 · wt% · ρ = {}", found.grams_per_litre.value()));
    worked.step(format!("mol/L = g/L / 63.012 = {}", found.mole_per_litre.value()));
    if let Some(basis) = basis {
        let volume = solution::volume_percent(&found.grams_per_litre, basis)?;
        let figure = Figure::of("volume_percent", "per cent by volume", &volume);
        worked.figures.push(figure.noted(format!("100 vol% is acid of {basis}")));
        let strong = basis.concentrate().unwrap_or_default();
        worked.step(format!("vol% = 100 · mol/L / {strong} = {}", volume.value()));
        worked.source(concentrate_source(basis));
        all.push(volume);
    }
    worked.quantity("mass_percent", "per cent by mass", &found.mass_percent);
    worked.quantity("mass_in_a_litre", "mass in a litre", &found.grams_per_litre);
    worked.quantity("amount", "amount in a litre", &found.mole_per_litre);
    let known = |row: solution::Row| format!("{} wt% {}", row.mass_percent, row.confidence.name());
    let rows = if low == high { known(low) } else { format!("{}, {}", known(low), known(high)) };
    worked.source(format!("handbook densities of nitric acid at 20 °C: {rows}"));
    worked.mind.extend(found.warnings.iter().map(ToString::to_string));
    limits.check()?;
    if let Some(limit) = limits.at_least.or(limits.at_most) {
        let of_kind = all.iter().find(|q| q.dimension() == limit.dimension());
        let of_kind = of_kind.ok_or_else(|| {
            let message = format!("this density cannot be held against the limit {limit}");
            Error::cannot(message, "give the limit in wt%, g/L or mol/L; for vol% name the --basis")
        })?;
        worked.standing = limits.standing(of_kind)?;
    }
    Ok(worked)
}

/// Dissolved solids of water by its conductivity at 25 °C. A limit in µS/cm is held against the conductivity
/// itself.
///
/// # Errors
/// Another unit, a conductivity beyond the factor's table, limits of another kind.
pub fn solids(conductivity: &Quantity, by: Factor, limits: &Limits) -> Result<Worked, Error> {
    let found = solution::dissolved_solids(conductivity, by)?;
    let resistivity = solution::resistivity(conductivity)?;
    let mut worked =
        Worked::new("solids", format!("Dissolved solids by conductivity, {conductivity} at 25 °C"));
    let whose = match by {
        Factor::Stated(_) => "stated".to_owned(),
        named => format!("{named}, by table"),
    };
    let figure = Figure::of("solids", "dissolved solids", &found.solids);
    worked.figures.push(figure.noted(format!("by factor {}, {whose}", found.factor)));
    worked.figures.push(Figure::new("factor", "factor, ppm a µS/cm", found.factor, "").noted(whose));
    worked.figure("resistivity", "resistivity", resistivity, "MΩ·cm");
    worked.step(format!(
        "ppm = µS/cm · factor = {} · {} = {}",
        conductivity.value(),
        found.factor,
        found.solids.value()
    ));
    worked.step(format!("MΩ·cm = 1 / µS/cm = {resistivity}"));
    worked.source(match by {
        Factor::Stated(_) => "the factor as stated by whoever asked",
        _ => "factors printed in manuals of conductivity meters, read straight between their rows",
    });
    worked.mind(solution::FACTOR_CAUTION);
    let own = [limits.at_least, limits.at_most].into_iter().flatten().any(|q| q.unit() == Unit::Microsiemens);
    worked.standing = limits.standing(if own { conductivity } else { &found.solids })?;
    Ok(worked)
}
