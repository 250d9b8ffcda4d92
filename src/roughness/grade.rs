//! Old ways to state roughness: N grades and RMS call-outs; and the gain of a finishing step.

use std::cmp::Ordering;
use std::fmt;

use rust_decimal::Decimal;
use rust_decimal::RoundingStrategy;

use crate::units::Dimension;
use crate::units::Quantity;
use crate::units::Unit;

use super::micrometres;

/// A roughness grade number of the ISO 1302 series: an Ra in µm, and in µin as charts print it.
///
/// Charts take 40 µin to the µm, so the two columns are not the same length: N7 is 1.6 µm or 63 µin, and 63
/// µin is 1.6002 µm exactly. A limit is judged in the column its order quotes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Grade {
    name: &'static str,
    thousandths: i64,
    hundredths: Option<i64>,
}

/// Read in secondary charts: N1 to N12 in both units; N01, N0, N13 and N14 are later additions, the last two
/// without µin.
const GRADES: [Grade; 16] = [
    grade("N01", 6, Some(25)),
    grade("N0", 12, Some(50)),
    grade("N1", 25, Some(100)),
    grade("N2", 50, Some(200)),
    grade("N3", 100, Some(400)),
    grade("N4", 200, Some(800)),
    grade("N5", 400, Some(1_600)),
    grade("N6", 800, Some(3_200)),
    grade("N7", 1_600, Some(6_300)),
    grade("N8", 3_200, Some(12_500)),
    grade("N9", 6_300, Some(25_000)),
    grade("N10", 12_500, Some(50_000)),
    grade("N11", 25_000, Some(100_000)),
    grade("N12", 50_000, Some(200_000)),
    grade("N13", 100_000, None),
    grade("N14", 200_000, None),
];

const fn grade(name: &'static str, thousandths: i64, hundredths: Option<i64>) -> Grade {
    Grade { name, thousandths, hundredths }
}

/// Why a text is no grade.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{0}` is no roughness grade: expected N01, N0, or N1 to N14; where it is a length, write its unit")]
pub struct GradeError(pub String);

impl Grade {
    /// All grades, the finest first.
    pub const ALL: &'static [Grade] = &GRADES;

    /// Its name, as `N7`.
    pub const fn name(self) -> &'static str {
        self.name
    }

    /// Its Ra in µm.
    pub fn micrometres(self) -> Quantity {
        Quantity::new(Decimal::new(self.thousandths, 3).normalize(), Unit::Micrometre)
    }

    /// Its Ra in µin as charts print it; `None` of N13 and N14.
    pub fn microinches(self) -> Option<Quantity> {
        Some(Quantity::new(Decimal::new(self.hundredths?, 2).normalize(), Unit::Microinch))
    }

    /// Reads a grade, as `N7`, `n 7` or `N07` (but `N01` is finer than `N0`, and not `N1`).
    ///
    /// # Errors
    /// Where there is no such grade.
    pub fn named(text: &str) -> Result<Grade, GradeError> {
        let plain: String = text.chars().filter(|c| !c.is_whitespace()).collect::<String>().to_uppercase();
        let short = plain.replacen("N0", "N", 1);
        let find = |name: &str| GRADES.iter().find(|g| g.name == name).copied();
        let found =
            find(&plain).or_else(|| if plain.len() == 3 && plain != "N00" { find(&short) } else { None });
        found.ok_or_else(|| GradeError(text.to_owned()))
    }

    /// The grade whose Ra is `ra`, in its own column: 1.6 µm and 63 µin are N7, 1.6002 µm is none.
    pub fn of(ra: &Quantity) -> Option<Grade> {
        GRADES.iter().copied().find(|g| {
            let column = if ra.unit() == Unit::Microinch { g.microinches() } else { Some(g.micrometres()) };
            column.is_some_and(|own| own.compare(ra) == Some(Ordering::Equal))
        })
    }

    /// The finest grade that holds a measured Ra: the first whose Ra, in the column of the unit measured in,
    /// is not below it. `None` where it is no length, below nought, or rougher than all.
    pub fn holding(ra: &Quantity) -> Option<Grade> {
        if ra.value() < Decimal::ZERO {
            return None;
        }
        GRADES.iter().copied().find(|g| {
            let column = if ra.unit() == Unit::Microinch { g.microinches() } else { Some(g.micrometres()) };
            column.is_some_and(|own| matches!(ra.compare(&own), Some(Ordering::Less | Ordering::Equal)))
        })
    }
}

/// What can be said of Ra where a drawing states an RMS roughness. It is an estimate and never a limit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RmsEstimate {
    /// As the drawing states it.
    pub rms: Quantity,
    /// Least Ra a usual surface of that Rq has: `Rq / 1.7`, rounded down.
    pub low: Quantity,
    /// Greatest Ra a usual surface of that Rq has: `Rq / 1.1`, rounded up.
    pub high: Quantity,
    /// Ra of a sine of that Rq, `Rq · 2√2 / π`; exact for a sine and for nothing else.
    pub sine: Quantity,
}

impl fmt::Display for RmsEstimate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "estimate, not a limit: Rq (RMS) {} goes with Ra {} to {} on usual surfaces, {} on a pure \
            sine. A surface \
             that meets it as Rq also meets it as Ra, but not the other way round. Measure Rq, or have the \
             purchaser \
             restate the limit as Ra.",
            self.rms, self.low, self.high, self.sine
        )
    }
}

/// Estimates Ra from an RMS (Rq) call-out, to `places` digits after the point (at most 9). The trade divides
/// by 1.1; real surfaces lie between 1.1 and 1.7 (read in secondary charts), and only a sine has π / (2√2) =
/// 1.1107.
///
/// It gives no Ra limit: whoever wants one has to get it from the purchaser. `None` where the call-out is no
/// length above nought.
pub fn rms_to_ra(rms: &Quantity, places: u32) -> Option<RmsEstimate> {
    if rms.dimension() != Dimension::Length || rms.value() <= Decimal::ZERO {
        return None;
    }
    let places = places.min(9);
    let over = |by: Decimal, towards: RoundingStrategy| {
        let exact = rms.value().checked_div(by)?;
        let mut shown = exact.round_dp_with_strategy(places, towards);
        shown.rescale(places);
        Some(Quantity::new(shown, rms.unit()))
    };
    Some(RmsEstimate {
        rms: *rms,
        low: over(Decimal::new(17, 1), RoundingStrategy::ToZero)?,
        high: over(Decimal::new(11, 1), RoundingStrategy::AwayFromZero)?,
        // π / (2√2) to 15 digits; the result is shown to nine at most.
        sine: over(Decimal::new(1_110_720_734_539_592, 15), RoundingStrategy::MidpointNearestEven)?,
    })
}

/// What to ask about a pair of values.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ImprovementWarning {
    /// More than three quarters gone: seldom in one step; look for mixed cut-offs, units or pieces.
    TooGood,
    /// Rougher after than before.
    Worse,
}

impl fmt::Display for ImprovementWarning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            ImprovementWarning::TooGood => {
                "more than 75 % of the roughness is gone, which one step seldom does: were both measured \
                with the same \
                 cut-off, in the same unit, on the same piece and place?"
            }
            ImprovementWarning::Worse => {
                "rougher after than before: were the two values swapped, or the surface attacked?"
            }
        })
    }
}

/// Roughness before and after a step.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Improvement {
    /// `100 · (before − after) / before`, to one digit after the point, ties to the even digit; below nought
    /// where it became rougher.
    pub percent: Decimal,
    /// Something to ask about. It is no verdict.
    pub warning: Option<ImprovementWarning>,
}

/// Why no gain can be told.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ImprovementError {
    /// Not a roughness.
    #[error("{0} is no roughness: expected a length at or above nought, as in `0.38 µm` or `15 µin`")]
    NotARoughness(String),
    /// Nothing to improve on.
    #[error("the roughness before is nought: expected a value above it, since the gain is a share of it")]
    NothingBefore,
}

/// The gain of a step in per cent, in exact decimals. The thresholds of the warnings (above 75 %, below
/// nought) are common practice and compared exactly, not on the rounded figure.
///
/// # Errors
/// Where one is no length, below nought or too large, or the first is nought.
pub fn improvement(before: &Quantity, after: &Quantity) -> Result<Improvement, ImprovementError> {
    let read = |q: &Quantity| {
        let value = micrometres(q).filter(|um| *um >= Decimal::ZERO && *um <= Decimal::from(1_000_000));
        value.ok_or_else(|| ImprovementError::NotARoughness(q.to_string()))
    };
    let (from, to) = (read(before)?, read(after)?);
    if from.is_zero() {
        return Err(ImprovementError::NothingBefore);
    }
    let beyond = || ImprovementError::NotARoughness(before.to_string());
    let gone = from.checked_sub(to).and_then(|d| d.checked_mul(Decimal::ONE_HUNDRED)).ok_or_else(beyond)?;
    let exact = gone.checked_div(from).ok_or_else(beyond)?;
    let mut percent = exact.round_dp_with_strategy(1, RoundingStrategy::MidpointNearestEven);
    percent.rescale(1);
    let quarter = to.checked_mul(Decimal::from(4)).ok_or_else(beyond)?;
    let warning = if to > from {
        Some(ImprovementWarning::Worse)
    } else if quarter < from {
        Some(ImprovementWarning::TooGood)
    } else {
        None
    };
    Ok(Improvement { percent, warning })
}
