//! What a part is made of, as typed at the bench: a grade of the table, or a composition; and its pitting
//! resistance.

use std::collections::BTreeMap;
use std::str::FromStr;

use rust_decimal::Decimal;

use super::Figure;
use super::Limits;
use super::Worked;
use crate::alloy::Alloy;
use crate::app::builtin;
use crate::app::error::Error;
use crate::removal::Composition;
use crate::removal::Density;
use crate::removal::EquivalentWeight;
use crate::removal::Limits as ElementLimits;
use crate::removal::Valences;
use crate::surface;
use crate::surface::Formula;
use crate::units::Quantity;
use crate::units::Unit;
use crate::units::plain_decimal;

/// Figures by chemical symbol: `Cr 16.8, Ni 10.2, Mo 2.07`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Elements(pub BTreeMap<String, Decimal>);

/// Why a text lists no elements.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ElementsError {
    /// An entry that is none.
    #[error("`{0}` is no element and figure: expected them as in `Cr 16.8, Ni 10.2, Mo 2.07`")]
    Entry(String),
    /// An element twice.
    #[error("`{0}` is given twice: expected each element once")]
    Twice(String),
    /// Nothing.
    #[error("no element is given: expected them as in `Cr 16.8, Ni 10.2, Mo 2.07`")]
    Nothing,
}

impl FromStr for Elements {
    type Err = ElementsError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let mut all = BTreeMap::new();
        for entry in text.split(',').map(str::trim).filter(|entry| !entry.is_empty()) {
            let wrong = || ElementsError::Entry(entry.to_owned());
            let (symbol, figure) = entry.split_once([' ', '=']).ok_or_else(wrong)?;
            let symbol = symbol.trim();
            let letters = symbol.chars().all(|c| c.is_ascii_alphabetic());
            if !letters || !(1..=2).contains(&symbol.len()) {
                return Err(wrong());
            }
            let figure = figure.trim();
            let number = ["wt%", "at%", "%"].iter().find_map(|unit| figure.strip_suffix(unit));
            let value = plain_decimal(number.unwrap_or(figure).trim_end()).ok_or_else(wrong)?;
            if all.insert(symbol.to_owned(), value).is_some() {
                return Err(ElementsError::Twice(symbol.to_owned()));
            }
        }
        if all.is_empty() { Err(ElementsError::Nothing) } else { Ok(Elements(all)) }
    }
}

/// What a part is made of.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Metal {
    /// Grade, in any common way of writing it.
    pub grade: Option<String>,
    /// Composition in wt%; it comes before the grade's limits.
    pub composition: Option<Elements>,
    /// Density in g/cm³ (g/mL); it comes before the grade's.
    pub density: Option<Quantity>,
}

/// A grade of the table.
pub(super) fn grade(name: &str) -> Result<Alloy, Error> {
    builtin::alloys()?.find(name).cloned().map_err(|unfound| {
        Error::cannot(
            format!("`{name}`: {unfound}"),
            "name it as the drawing does, by its UNS or its European number; or give its composition",
        )
    })
}

impl Metal {
    fn named(&self) -> Result<Option<Alloy>, Error> {
        self.grade.as_deref().map(grade).transpose()
    }

    /// The density depths are reckoned with.
    pub(super) fn density(&self) -> Result<Density, Error> {
        if let Some(given) = self.density {
            if given.unit() != Unit::GramPerMillilitre {
                let message = format!("the density is {given}: expected one in g/cm³");
                return Err(Error::cannot(message, "write it as in `7.98 g/cm³`"));
            }
            return Ok(Density::stated(given.value(), "as stated")?);
        }
        let Some(alloy) = self.named()? else {
            return Err(Error::cannot("no density to reckon a depth with", "give --grade, or --density"));
        };
        let value = alloy.density.parse().map_err(|_| {
            Error::cannot(format!("the table has no density of {}", alloy.grade), "give --density")
        })?;
        Ok(Density::stated(value, &format!("alloy table, {}", alloy.grade))?)
    }

    /// The equivalent weight, of the composition given, else of the middle of the grade's limits.
    pub(super) fn equivalent_weight(&self, valences: Valences) -> Result<EquivalentWeight, Error> {
        let composition = match (&self.composition, self.named()?) {
            (Some(elements), _) => {
                Composition { elements: elements.0.clone(), basis: "composition as stated".to_owned() }
            }
            (None, Some(alloy)) => {
                let value = |q: &Option<Quantity>| q.map(|q| q.value());
                let limits = alloy.composition.iter().map(|e| ElementLimits {
                    symbol: e.element.clone(),
                    min: value(&e.from),
                    max: value(&e.to),
                });
                let basis = format!("middle of the limits of {}", alloy.grade);
                Composition::mid_range(&limits.collect::<Vec<_>>(), &basis)?
            }
            (None, None) => {
                let message = "a charge tells a depth only for a known alloy";
                return Err(Error::cannot(message, "give --grade, or --composition with --density"));
            }
        };
        Ok(composition.equivalent_weight(valences)?)
    }
}

/// The pitting resistance equivalent number of a composition, or the span a grade's limits allow.
///
/// # Errors
/// Neither or an unknown grade; no chromium; shares out of range.
pub fn pren(metal: &Metal, formula: Formula, at_least: Option<Decimal>) -> Result<Worked, Error> {
    let weight = |value: Decimal| Quantity::new(value, Unit::MassPercent);
    let (of, spans) = match (&metal.composition, metal.named()?) {
        (Some(elements), _) => {
            let chemistry = elements.0.iter().map(|(s, v)| (s.clone(), weight(*v))).collect();
            ("the composition given".to_owned(), vec![("pren", "PREN", chemistry)])
        }
        (None, Some(alloy)) => {
            let of = format!("the limits of {}", alloy.grade);
            let limits = |end: fn(&crate::alloy::ElementLimits) -> Option<Quantity>| {
                let known = alloy.composition.iter().filter_map(|e| Some((e.element.clone(), end(e)?)));
                known.collect::<BTreeMap<String, Quantity>>()
            };
            let least = limits(|e| e.from);
            let most = limits(|e| e.to);
            (of, vec![("pren_least", "least PREN", least), ("pren_most", "greatest PREN", most)])
        }
        (None, None) => {
            let message = "no composition to reckon with";
            return Err(Error::cannot(
                message,
                "give --composition as the heat's certificate states it, or --grade",
            ));
        }
    };
    let mut worked = Worked::new("pren", format!("Pitting resistance equivalent number, {of}"));
    let mut least: Option<Decimal> = None;
    for (word, name, chemistry) in spans {
        let found = surface::pren(&chemistry, formula)?;
        let mut figure = Figure::new(word, name, found.value, "");
        if !found.not_stated.is_empty() {
            figure = figure.noted(format!("{} not stated, counted as nought", found.not_stated.join(", ")));
        }
        worked.figures.push(figure);
        worked.step(format!("{name} = {formula} = {} = {}", put_in(formula, &chemistry), found.value));
        least = least.or(Some(found.value));
    }
    if let (Some(limit), Some(found)) = (at_least, least) {
        let limits = Limits { at_least: Some(Quantity::new(limit, Unit::Ratio)), at_most: None };
        worked.standing = limits.standing(&Quantity::new(found, Unit::Ratio))?.map(|s| s.without(" ratio"));
    }
    worked.source(format!("{formula}: common practice; no standard settles one formula for all alloys"));
    worked.mind("It ranks alloys against pitting in chloride; it says nothing about a finish.");
    Ok(worked)
}

/// The formula with its elements put in.
fn put_in(formula: Formula, chemistry: &BTreeMap<String, Quantity>) -> String {
    let of = |symbol: &str| chemistry.get(symbol).map_or_else(|| "0".to_owned(), |q| q.value().to_string());
    match formula {
        Formula::N16 => format!("{} + 3.3 · {} + 16 · {}", of("Cr"), of("Mo"), of("N")),
        Formula::N30 => format!("{} + 3.3 · {} + 30 · {}", of("Cr"), of("Mo"), of("N")),
        Formula::Tungsten => {
            format!("{} + 3.3 · ({} + 0.5 · {}) + 16 · {}", of("Cr"), of("Mo"), of("W"), of("N"))
        }
    }
}
