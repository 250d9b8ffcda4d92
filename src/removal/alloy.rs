//! The equivalent weight of an alloy from its composition, by the method of ASTM G102.

use std::collections::BTreeMap;
use std::fmt;

use rust_decimal::Decimal;
use serde::Deserialize;
use serde::Serialize;

use super::RemovalError;
use super::tables::atomic_weight;
use super::tables::valence;
use super::within;

/// Which ions the metals leave as. The sets are the columns of the table of ASTM G102 (recalled). In every
/// set Ni, Mn and Co give 2 electrons, Al 3, Si and Ti 4, Nb, V and Ta 5, W 6; copper gives 1 in the lowest
/// sets, else 2.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Valences {
    /// Fe 2, Cr 3, Ni 2, Mo 3: the least charge an atom, so the greatest depth.
    Lowest,
    /// Fe 2, Cr 3, Ni 2, Mo 4.
    LowestMo4,
    /// Fe 3, Cr 3, Ni 2, Mo 6: fits what the trade weighs off (common practice).
    #[default]
    Fe3Cr3,
    /// Fe 3, Cr 6, Ni 2, Mo 6: chromium leaves as dichromate; the least depth.
    Fe3Cr6,
}

impl Valences {
    /// All sets, in the order of the table.
    pub const ALL: [Valences; 4] =
        [Valences::Lowest, Valences::LowestMo4, Valences::Fe3Cr3, Valences::Fe3Cr6];
}

impl fmt::Display for Valences {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Valences::Lowest => "Fe2 Cr3 Ni2 Mo3",
            Valences::LowestMo4 => "Fe2 Cr3 Ni2 Mo4",
            Valences::Fe3Cr3 => "Fe3 Cr3 Ni2 Mo6",
            Valences::Fe3Cr6 => "Fe3 Cr6 Ni2 Mo6",
        })
    }
}

/// What a specification allows of an element, in wt%; an end left out is no limit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Limits {
    /// Chemical symbol.
    pub symbol: String,
    /// Least, wt%.
    pub min: Option<Decimal>,
    /// Most, wt%.
    pub max: Option<Decimal>,
}

/// What an alloy is made of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Composition {
    /// wt% by chemical symbol. Iron may be left out: it is the rest.
    pub elements: BTreeMap<String, Decimal>,
    /// Where the figures come from: `heat 8841, own analysis`, `mid-range of ASTM A276 type 304`.
    pub basis: String,
}

/// How the mass fraction of iron is reckoned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum IronShare {
    /// Whatever the counted elements leave of 100 wt%: elements below 1 wt% count as iron. This alone gives
    /// the figures of the table of ASTM G102.
    #[default]
    Rest,
    /// As stated, or what *all* stated elements leave of 100 wt%; what is below 1 wt% dissolves without
    /// charge.
    AsStated,
    /// As stated, and the counted elements then brought up to 100 wt%.
    Normalised,
}

/// An element that takes part.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Counted {
    /// Chemical symbol.
    pub symbol: String,
    /// Its share, wt%.
    pub share: Decimal,
    /// Electrons an atom gives up.
    pub valence: u32,
}

/// The equivalent weight of an alloy: grams dissolved by one mole of electrons.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EquivalentWeight {
    /// g/mol, not rounded.
    pub value: Decimal,
    /// Ions assumed.
    pub valences: Valences,
    /// Elements that took part.
    pub counted: Vec<Counted>,
    /// Elements that did not: below 1 wt%, or carrying no charge as a metal.
    pub left_out: Vec<String>,
    /// Where the composition comes from.
    pub basis: String,
}

impl fmt::Display for EquivalentWeight {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "equivalent weight {} ({}; {})", self.value.round_dp(2), self.valences, self.basis)
    }
}

impl Composition {
    /// The middle of each element's limits, or its lower limit where there is no upper. An element with no
    /// lower limit is a residual and left out: the table of ASTM G102 (recalled) comes out only so, because
    /// manganese of `2.00 max` would otherwise count with 1 wt%. Errors: unknown symbols, limits the wrong
    /// way round.
    pub fn mid_range(limits: &[Limits], basis: &str) -> Result<Self, RemovalError> {
        let mut elements = BTreeMap::new();
        for limit in limits {
            let symbol = &limit.symbol;
            if atomic_weight(symbol).is_none() {
                return Err(RemovalError::UnknownElement(symbol.clone()));
            }
            let Some(min) = limit.min else { continue };
            let max = limit.max.unwrap_or(min);
            if min > max {
                return Err(RemovalError::LimitsCrossed { symbol: symbol.clone(), min, max });
            }
            let middle = min.checked_add(max).and_then(|sum| sum.checked_div(Decimal::TWO));
            elements.insert(symbol.clone(), within(middle, "a limit of the composition")?);
        }
        Ok(Composition { elements, basis: basis.to_owned() })
    }

    /// Equivalent weight as ASTM G102 does it (recalled; [`IronShare::Rest`]).
    pub fn equivalent_weight(&self, valences: Valences) -> Result<EquivalentWeight, RemovalError> {
        self.equivalent_weight_with(valences, IronShare::Rest)
    }

    /// Equivalent weight, g/mol: `EW = 1 / Σ n·f/W` over the elements of at least 1 wt%; `n` electrons an
    /// atom, `f` mass fraction of the element in the alloy, `W` atomic weight (ASTM G102, read in a summary).
    /// Errors: unknown symbols, shares outside 0 to 100 wt% or above 100 together, nothing that dissolves.
    pub fn equivalent_weight_with(
        &self,
        valences: Valences,
        iron: IronShare,
    ) -> Result<EquivalentWeight, RemovalError> {
        let what = "the composition";
        let (mut counted, mut left_out) = (Vec::new(), Vec::new());
        let (mut stated, mut taking_part) = (Decimal::ZERO, Decimal::ZERO);
        for (symbol, share) in &self.elements {
            if atomic_weight(symbol).is_none() {
                return Err(RemovalError::UnknownElement(symbol.clone()));
            }
            if *share < Decimal::ZERO || *share > Decimal::ONE_HUNDRED {
                return Err(RemovalError::BadShare { symbol: symbol.clone(), found: *share });
            }
            stated = within(stated.checked_add(*share), what)?;
            match valence(symbol, valences) {
                _ if symbol == "Fe" => {}
                Some(valence) if *share >= Decimal::ONE => {
                    taking_part = within(taking_part.checked_add(*share), what)?;
                    counted.push(Counted { symbol: symbol.clone(), share: *share, valence });
                }
                _ => left_out.push(symbol.clone()),
            }
        }
        // A full analysis may miss 100 by what its digits were rounded by.
        if stated > Decimal::new(1005, 1) {
            return Err(RemovalError::TooMuch(stated));
        }
        let stated_iron = self.elements.get("Fe").copied();
        let rest = match iron {
            IronShare::Rest => within(Decimal::ONE_HUNDRED.checked_sub(taking_part), what)?,
            IronShare::AsStated | IronShare::Normalised => {
                stated_iron.unwrap_or(within(Decimal::ONE_HUNDRED.checked_sub(stated), what)?)
            }
        };
        // An alloy whose iron is said to be below 1 wt% has no iron to count.
        let has_iron = stated_iron.is_none_or(|fe| fe >= Decimal::ONE) && rest >= Decimal::ONE;
        match valence("Fe", valences) {
            Some(valence) if has_iron && !self.elements.is_empty() => {
                counted.push(Counted { symbol: "Fe".to_owned(), share: rest, valence });
            }
            _ => {}
        }
        let whole = match iron {
            IronShare::Normalised => {
                let sum = counted.iter().try_fold(Decimal::ZERO, |sum, c| sum.checked_add(c.share));
                within(sum, what)?
            }
            IronShare::Rest | IronShare::AsStated => Decimal::ONE_HUNDRED,
        };
        let mut electrons = Decimal::ZERO;
        for element in &counted {
            let weight = atomic_weight(&element.symbol).unwrap_or(Decimal::ONE);
            let given = Decimal::from(element.valence).checked_mul(element.share);
            let term = given.and_then(|v| v.checked_div(weight)).and_then(|v| electrons.checked_add(v));
            electrons = within(term, what)?;
        }
        if electrons <= Decimal::ZERO {
            return Err(RemovalError::NothingDissolves);
        }
        let value = within(whole.checked_div(electrons), what)?;
        Ok(EquivalentWeight { value, valences, counted, left_out, basis: self.basis.clone() })
    }
}
