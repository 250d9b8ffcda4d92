//! Atomic percentages of a surface, and the ratios made of them.

use std::cmp::Ordering;
use std::collections::BTreeMap;
use std::fmt;
use std::str::FromStr;

use rust_decimal::Decimal;
use serde::Deserialize;
use serde::Deserializer;
use serde::Serialize;
use serde::Serializer;

use crate::solution::exact::combined;
use crate::solution::exact::half_even;
use crate::solution::exact::quotient;
use crate::surface::fault::SurfaceError;
use crate::units::Quantity;
use crate::units::Unit;
use crate::units::plain_decimal;

/// Per cent of atoms, 0 to 100, with its trailing zeros.
#[derive(Debug, Clone, Copy)]
pub struct AtPercent(Decimal);

impl AtPercent {
    /// The number.
    pub const fn value(self) -> Decimal {
        self.0
    }
}

impl PartialEq for AtPercent {
    /// Equal as recorded: the same digits.
    fn eq(&self, other: &Self) -> bool {
        self.0.to_string() == other.0.to_string()
    }
}

impl Eq for AtPercent {}

impl fmt::Display for AtPercent {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} at%", self.0)
    }
}

impl FromStr for AtPercent {
    type Err = SurfaceError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let wrong = || SurfaceError::AtPercent(text.to_owned());
        let number = text.trim().strip_suffix("at%").ok_or_else(wrong)?;
        let value = plain_decimal(number.trim_end()).ok_or_else(wrong)?;
        let possible = !value.is_sign_negative() && value <= Decimal::ONE_HUNDRED;
        possible.then_some(AtPercent(value)).ok_or_else(wrong)
    }
}

impl Serialize for AtPercent {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for AtPercent {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

/// How a surface was analysed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Method {
    /// X-ray photoelectron spectroscopy, also called ESCA; tells oxide from metal.
    #[serde(rename = "XPS")]
    Xps,
    /// Auger electron spectroscopy.
    #[serde(rename = "AES")]
    Aes,
    /// Glow-discharge optical emission spectroscopy; sees elements, not their binding.
    #[serde(rename = "GD-OES")]
    GdOes,
}

impl fmt::Display for Method {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Method::Xps => "XPS",
            Method::Aes => "AES",
            Method::GdOes => "GD-OES",
        })
    }
}

/// What of one element was found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Content {
    /// All of it.
    pub total: AtPercent,
    /// Of it, as oxide or hydroxide.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub oxide: Option<AtPercent>,
    /// Of it, as metal.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub metal: Option<AtPercent>,
    /// Standard uncertainty (`k = 1`) of the total.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uncertainty: Option<AtPercent>,
    /// Standard uncertainty (`k = 1`) of the oxide.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub oxide_uncertainty: Option<AtPercent>,
}

/// Sputtering before the spectrum was taken; left out where the surface was analysed as received.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sputtered {
    /// For how long.
    #[serde(rename = "for")]
    pub time: Quantity,
}

/// One analysis of one place of a surface.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AtomicPercent {
    /// How it was analysed.
    pub method: Method,
    /// Take-off angle from the surface; `XPS` and `AES` only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub take_off_angle: Option<Quantity>,
    /// Sputtering before it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sputtered: Option<Sputtered>,
    /// How far the sum may lie from 100, at most 2 at%.
    pub sum_within: AtPercent,
    /// Every element found, by symbol; carbon and oxygen must be among them.
    pub elements: BTreeMap<String, Content>,
}

/// Which ratio.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum RatioKind {
    /// All chromium to all iron.
    CrFe,
    /// Chromium as oxide to iron as oxide.
    CrOxFeOx,
}

impl fmt::Display for RatioKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            RatioKind::CrFe => "Cr/Fe",
            RatioKind::CrOxFeOx => "CrOx/FeOx",
        })
    }
}

/// A ratio, and all that it must be read with.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SurfaceRatio {
    /// Which one.
    pub kind: RatioKind,
    /// How it was measured.
    pub method: Method,
    /// Take-off angle.
    pub take_off_angle: Option<Quantity>,
    /// Whether the surface was sputtered before.
    pub sputtered: Option<Sputtered>,
    /// To 0.01.
    pub value: Decimal,
    /// Expanded uncertainty, `k = 2`, to 0.0001; where both percentages have theirs. They count as
    /// independent.
    pub expanded: Option<Decimal>,
}

impl SurfaceRatio {
    /// Compares two ratios of one kind, method, take-off angle and sputtering; anything else is refused.
    pub fn compare(&self, other: &SurfaceRatio) -> Result<Ordering, SurfaceError> {
        let angle = match (&self.take_off_angle, &other.take_off_angle) {
            (None, None) => true,
            (Some(a), Some(b)) => a.compare(b) == Some(Ordering::Equal),
            _ => false,
        };
        let time = match (&self.sputtered, &other.sputtered) {
            (None, None) => true,
            (Some(a), Some(b)) => a.time.compare(&b.time) == Some(Ordering::Equal),
            _ => false,
        };
        if self.kind != other.kind || self.method != other.method || !angle || !time {
            return Err(SurfaceError::Unlike { left: self.way(), right: other.way() });
        }
        Ok(self.value.cmp(&other.value))
    }

    /// `XPS Cr/Fe`, with angle and sputtering.
    fn way(&self) -> String {
        let angle = self.take_off_angle.map(|a| format!(" at {a}")).unwrap_or_default();
        let time = self.sputtered.as_ref().map(|s| format!(" after {} of sputtering", s.time));
        format!("{} {}{angle}{}", self.method, self.kind, time.unwrap_or_default())
    }
}

impl fmt::Display for SurfaceRatio {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.way(), self.value)?;
        self.expanded.map_or(Ok(()), |u| write!(f, " ± {u} (k = 2)"))
    }
}

/// Every symbol from hydrogen to uranium.
const SYMBOLS: &str = "H He Li Be B C N O F Ne Na Mg Al Si P S Cl Ar K Ca Sc Ti V Cr Mn Fe Co Ni Cu Zn Ga Ge \
    As Se Br Kr Rb Sr Y Zr Nb Mo Tc Ru Rh Pd Ag Cd In Sn Sb Te I Xe Cs Ba La Ce Pr Nd Pm Sm Eu Gd Tb Dy \
    Ho Er Tm Yb Lu Hf Ta W Re Os Ir Pt Au Hg Tl Pb Bi Po At Rn Fr Ra Ac Th Pa U";

impl AtomicPercent {
    /// Whether the percentages are those of a whole surface.
    ///
    /// Errors: an unknown symbol, carbon or oxygen left out, a sum other than 100 within the stated
    /// tolerance, an oxide and metal that are not the element's total (within 1.5 units of the coarsest last
    /// place, what three roundings make), a split or angle the method cannot have, impossible angle or time.
    pub fn check(&self) -> Result<(), SurfaceError> {
        self.check_manner()?;
        for needed in ["C", "O"] {
            if !self.elements.contains_key(needed) {
                return Err(SurfaceError::LeftOut(needed));
            }
        }
        let overflow = || SurfaceError::Overflow("the percentages");
        let mut sum = Decimal::ZERO;
        for (symbol, content) in &self.elements {
            if !SYMBOLS.split(' ').any(|known| known == symbol) {
                return Err(SurfaceError::Symbol(symbol.clone()));
            }
            self.check_split(symbol, content)?;
            sum = sum.checked_add(content.total.0).ok_or_else(overflow)?;
        }
        let off = sum.checked_sub(Decimal::ONE_HUNDRED).ok_or_else(overflow)?;
        if off.abs() > self.sum_within.0 {
            return Err(SurfaceError::Sum { sum, within: self.sum_within });
        }
        Ok(())
    }

    fn check_manner(&self) -> Result<(), SurfaceError> {
        if self.sum_within.0 > Decimal::TWO {
            return Err(SurfaceError::Tolerance(self.sum_within));
        }
        if let Some(angle) = self.take_off_angle {
            if self.method == Method::GdOes {
                return Err(SurfaceError::AngleByMethod(self.method));
            }
            let possible = angle.value() > Decimal::ZERO && angle.value() <= Decimal::from(90);
            if angle.unit() != Unit::Degree || !possible {
                return Err(SurfaceError::Angle(angle));
            }
        }
        if let Some(Sputtered { time }) = &self.sputtered {
            let day = Quantity::new(Decimal::from(24), Unit::Hour);
            let short = matches!(time.compare(&day), Some(Ordering::Less | Ordering::Equal));
            if time.value() <= Decimal::ZERO || !short {
                return Err(SurfaceError::SputterTime(*time));
            }
        }
        Ok(())
    }

    fn check_split(&self, symbol: &str, content: &Content) -> Result<(), SurfaceError> {
        let element = symbol.to_owned();
        let (oxide, metal) = match (content.oxide, content.metal) {
            (None, None) => return Ok(()),
            (Some(oxide), Some(metal)) => (oxide, metal),
            _ => return Err(SurfaceError::HalfSplit(element)),
        };
        if self.method == Method::GdOes {
            return Err(SurfaceError::NoSplitByMethod { method: self.method, element });
        }
        let overflow = || SurfaceError::Overflow("the percentages");
        let total = content.total;
        let sum = oxide.0.checked_add(metal.0).ok_or_else(overflow)?;
        let off = sum.checked_sub(total.0).ok_or_else(overflow)?;
        let coarsest = oxide.0.scale().min(metal.0.scale()).min(total.0.scale());
        // Read from text, a percentage has at most nine decimals.
        if off.abs() > Decimal::new(15, coarsest.min(9).saturating_add(1)) {
            return Err(SurfaceError::Split { element, total, oxide, metal, sum });
        }
        Ok(())
    }

    /// Chromium to iron, all of both.
    ///
    /// Errors: as [`AtomicPercent::check`]; chromium or iron left out; no iron.
    pub fn chromium_to_iron(&self) -> Result<SurfaceRatio, SurfaceError> {
        self.ratio(RatioKind::CrFe, "", |c| Some((c.total, c.uncertainty)))
    }

    /// Chromium as oxide to iron as oxide.
    ///
    /// Errors: as [`AtomicPercent::check`]; chromium or iron as oxide left out; no iron as oxide.
    pub fn oxide_ratio(&self) -> Result<SurfaceRatio, SurfaceError> {
        self.ratio(RatioKind::CrOxFeOx, " as oxide", |c| c.oxide.map(|oxide| (oxide, c.oxide_uncertainty)))
    }

    fn ratio(
        &self,
        kind: RatioKind,
        how: &'static str,
        of: impl Fn(&Content) -> Option<(AtPercent, Option<AtPercent>)>,
    ) -> Result<SurfaceRatio, SurfaceError> {
        self.check()?;
        let found = |element: &'static str| {
            let content = self.elements.get(element).and_then(&of);
            content.ok_or(SurfaceError::NotMeasured { kind, element, how })
        };
        let ((cr, ucr), (fe, ufe)) = (found("Cr")?, found("Fe")?);
        if fe.0.is_zero() {
            return Err(SurfaceError::NoIron { kind, how });
        }
        let overflow = || SurfaceError::Overflow("the percentages");
        let value = half_even(quotient(cr.0, fe.0).ok_or_else(overflow)?, 2);
        let expanded = match (ucr, ufe) {
            (Some(ucr), Some(ufe)) => Some(expanded(cr, ucr, fe, ufe).ok_or_else(overflow)?),
            _ => None,
        };
        Ok(SurfaceRatio {
            kind,
            method: self.method,
            take_off_angle: self.take_off_angle,
            sputtered: self.sputtered.clone(),
            value,
            expanded,
        })
    }
}

/// `2 · Cr/Fe · √((u(Cr)/Cr)² + (u(Fe)/Fe)²)` (JCGM 100:2008, 5.1.6); `None` on overflow.
fn expanded(cr: AtPercent, ucr: AtPercent, fe: AtPercent, ufe: AtPercent) -> Option<Decimal> {
    let slope = quotient(Decimal::ONE, fe.0)?;
    let u = combined(slope, cr.0, ucr.0, &[quotient(ufe.0, fe.0)?])?;
    Some(half_even(u.checked_mul(Decimal::TWO)?, 4))
}
