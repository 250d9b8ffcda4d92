//! Current efficiency: what weighed coupons lost against what their charge would dissolve.

use std::fmt;

use rust_decimal::Decimal;

use super::EquivalentWeight;
use super::FARADAY;
use super::Passage;
use super::RemovalError;
use super::Valences;
use super::amount::grams;
use super::amount::quadrature;
use super::amount::root;
use super::amount::square_centimetres;
use super::tables::grubbs;
use super::tables::student_t;
use super::within;
use crate::units::Quantity;

/// The share of the charge that dissolves metal, for one set of valences. Above 1 it says that the metal
/// leaves with lower valences than assumed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Efficiency {
    value: Decimal,
    expanded: Option<Decimal>,
    valences: Valences,
    source: String,
    /// Efficiency of each coupon, in the order given; empty for a stated one.
    pub coupons: Vec<(String, Decimal)>,
    /// Standard deviation of the coupons.
    pub deviation: Option<Decimal>,
    /// Coupons that Grubbs' test (two-sided 5 %) calls outliers. They stay in the mean: whether to run them
    /// again is for the shop to say.
    pub outliers: Vec<String>,
}

impl Efficiency {
    /// An efficiency the shop states, a fraction above 0 and up to 1.5, with its expanded uncertainty
    /// (absolute) and where it comes from.
    pub fn stated(
        value: Decimal,
        expanded: Option<Decimal>,
        valences: Valences,
        source: &str,
    ) -> Result<Self, RemovalError> {
        if value <= Decimal::ZERO || value > Decimal::new(15, 1) {
            return Err(RemovalError::BadEfficiency(value));
        }
        if let Some(found) = expanded.filter(|u| *u < Decimal::ZERO || *u > value) {
            return Err(RemovalError::BadFraction { what: "the efficiency", found });
        }
        Ok(Efficiency {
            value,
            expanded,
            valences,
            source: source.to_owned(),
            coupons: Vec::new(),
            deviation: None,
            outliers: Vec::new(),
        })
    }

    /// The efficiency, a fraction.
    pub const fn value(&self) -> Decimal {
        self.value
    }

    /// Its expanded uncertainty, absolute: `t·s/√n` for coupons.
    pub const fn expanded(&self) -> Option<Decimal> {
        self.expanded
    }

    /// The valences it was found with.
    pub const fn valences(&self) -> Valences {
        self.valences
    }

    /// The efficiency for a reckoning with some valences; an error when it was found with others.
    pub fn for_valences(&self, used: Valences) -> Result<Decimal, RemovalError> {
        if used != self.valences {
            return Err(RemovalError::OtherValences { calibrated: self.valences, used });
        }
        Ok(self.value)
    }
}

impl fmt::Display for Efficiency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "current efficiency {} ({})", self.value.round_dp(3), self.source)?;
        if self.value > Decimal::ONE {
            f.write_str("; above 1, so the metal leaves with lower valences than assumed")?;
        }
        Ok(())
    }
}

/// A coupon weighed before and after.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Coupon {
    /// Its name.
    pub name: String,
    /// What went through it.
    pub passage: Passage,
    /// What it lost, g.
    pub lost: Quantity,
    /// Its surface, cm², dm², in² or ft².
    pub area: Quantity,
    /// Its alloy, with the valences the efficiency shall hold for.
    pub alloy: EquivalentWeight,
}

impl Coupon {
    /// `η = Δm·F / (60·Q·EW)`, Q in A·min.
    fn efficiency(&self) -> Result<Decimal, RemovalError> {
        let what = "the mass lost";
        let lost = grams(&self.lost, what)?;
        if lost <= Decimal::ZERO {
            return Err(RemovalError::NotPositive { what, found: self.lost.to_string() });
        }
        let charge = self.passage.per_square_decimetre()?;
        let area = square_centimetres(&self.area, "the area")?;
        let found = || {
            // 60 s a minute over 100 cm² a dm².
            let per_area = charge.checked_mul(area)?.checked_mul(Decimal::new(6, 1))?;
            lost.checked_mul(FARADAY)?.checked_div(per_area.checked_mul(self.alloy.value)?)
        };
        within(found(), "the efficiency of a coupon")
    }
}

/// Efficiency from at least three coupons: mean, standard deviation (n − 1), and expanded uncertainty
/// `t·s/√n` with Student's t for two-sided 95 % (JCGM 100, 4.2.3 and G.3; recalled). No coupon is dropped.
/// Errors: fewer than three, coupons of different valences, a mean above 1.5, figures not above 0.
pub fn calibrate(coupons: &[Coupon]) -> Result<Efficiency, RemovalError> {
    let count = coupons.len();
    let Some(first) = coupons.first().filter(|_| count >= 3) else {
        return Err(RemovalError::FewCoupons(count));
    };
    let mut found = Vec::new();
    for coupon in coupons {
        let (calibrated, used) = (first.alloy.valences, coupon.alloy.valences);
        if calibrated != used {
            return Err(RemovalError::OtherValences { calibrated, used });
        }
        found.push((coupon.name.clone(), coupon.efficiency()?));
    }
    let what = "the mean of the coupons";
    let number = Decimal::from(count);
    let sum = found.iter().try_fold(Decimal::ZERO, |sum, (_, value)| sum.checked_add(*value));
    let mean = within(sum.and_then(|s| s.checked_div(number)), what)?;
    let mut off = Vec::new();
    for (_, value) in &found {
        off.push(within(value.checked_sub(mean), what)?);
    }
    let spread = || {
        let freedom = number.checked_sub(Decimal::ONE)?;
        let squares = quadrature(&off)?;
        squares.checked_div(root(freedom)?)
    };
    let deviation = within(spread(), "the spread of the coupons")?;
    let expanded = || {
        let t = student_t(count.checked_sub(1)?)?;
        deviation.checked_div(root(number)?)?.checked_mul(t)
    };
    let expanded = within(expanded(), "the spread of the coupons")?;
    let far = grubbs(count).and_then(|limit| limit.checked_mul(deviation));
    let is_far = |off: &Decimal| far.is_some_and(|far| !deviation.is_zero() && off.abs() > far);
    let outliers = found.iter().zip(&off).filter(|(_, off)| is_far(off)).map(|((name, _), _)| name.clone());
    let outliers: Vec<String> = outliers.collect();
    if mean > Decimal::new(15, 1) {
        return Err(RemovalError::BadEfficiency(mean.round_dp(3)));
    }
    let mut source = format!("mean of {count} weighed coupons, {}", first.alloy.valences);
    if !outliers.is_empty() {
        source.push_str(", among them the outlier ");
        source.push_str(&outliers.join(" and "));
    }
    Ok(Efficiency {
        value: mean,
        expanded: Some(expanded),
        valences: first.alloy.valences,
        source,
        coupons: found,
        deviation: Some(deviation),
        outliers,
    })
}
