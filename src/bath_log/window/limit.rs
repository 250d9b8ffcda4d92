//! A limit as an exact ratio in units of a channel's last digit.

use std::cmp::Ordering;

use rust_decimal::Decimal;

use super::Side;
use super::Window;
use super::WindowError;
use crate::bath_log::Channel;
use crate::bath_log::MOST;
use crate::bath_log::trace::Segment;
use crate::units::Quantity;
use crate::units::Unit;

/// `over / under` in units of the channel's last digit; lowest terms, `under` positive.
#[derive(Debug, Clone, Copy)]
pub(super) struct Limit {
    over: i128,
    under: i128,
    /// Digits after the point it was given with.
    places: u32,
}

/// Both limits of a window, and the whole readings nearest to them inside.
#[derive(Debug)]
pub(super) struct Bounds {
    lo: Option<Limit>,
    hi: Option<Limit>,
    least: i64,
    most: i64,
}

fn common_divisor(mut a: i128, mut b: i128) -> i128 {
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a.abs().max(1)
}

impl Limit {
    fn new(limit: &Quantity, channel: &Channel) -> Result<Self, WindowError> {
        let (value, places) = (limit.value(), limit.value().scale());
        let (mantissa, long) = (value.mantissa(), || WindowError::Digits(*limit));
        if places > 9 || channel.places > 9 || mantissa.abs() > i128::from(MOST) {
            return Err(long());
        }
        let power = |n: u32| 10_i128.checked_pow(n).ok_or_else(long);
        let (ten, up) = (power(places)?, power(channel.places)?);
        // NIST SP 811 (2008), B.8: °C = (°F − 32)/1.8, without rounding.
        let (over, under) = match (limit.unit(), channel.unit) {
            (a, b) if a == b => (mantissa, ten),
            (Unit::Fahrenheit, Unit::Celsius) => ((mantissa - 32 * ten) * 5, ten * 9),
            (Unit::Celsius, Unit::Fahrenheit) => (mantissa * 9 + 160 * ten, ten * 5),
            (_, unit) => return Err(WindowError::Unit { limit: *limit, unit }),
        };
        let over = over * up;
        let divisor = common_divisor(over, under);
        Ok(Limit { over: over / divisor, under: under / divisor, places })
    }

    #[inline]
    fn floor(&self) -> i128 {
        self.over.div_euclid(self.under)
    }

    fn ceil(&self) -> i128 {
        -(-self.over).div_euclid(self.under)
    }

    /// The millisecond in which a line crosses this limit: the last one before and the first one after the
    /// crossing.
    fn crossing(&self, line: &Segment) -> (i64, i64) {
        let (v0, v1) = (i128::from(line.v0), i128::from(line.v1));
        let (rise, height) = ((v1 - v0) * self.under, self.over - v0 * self.under);
        let length = line.t1 - line.t0;
        // Within 10^38: a line is a day at most, and readings and limits have 18 digits.
        let (over, under) = if rise < 0 { (-height, -rise) } else { (height, rise) };
        let Some(scaled) = over.checked_mul(i128::from(length)).filter(|_| under > 0) else {
            return (line.t0, line.t1);
        };
        // Whole numbers of 128 bits divide slowly, and nearly all of these fit into 64.
        let (before, exact) = match (i64::try_from(scaled), i64::try_from(under)) {
            (Ok(scaled), Ok(under)) => (scaled.div_euclid(under), scaled.rem_euclid(under) == 0),
            _ => {
                let before = i64::try_from(scaled.div_euclid(under)).unwrap_or(length);
                (before, scaled.rem_euclid(under) == 0)
            }
        };
        let after = before.saturating_add(i64::from(!exact)).clamp(0, length);
        let before = before.clamp(0, length);
        (line.t0 + before, line.t0 + after)
    }
}

impl Bounds {
    pub(super) fn new(window: &Window, channel: &Channel) -> Result<Self, WindowError> {
        if window.lo.is_none() && window.hi.is_none() {
            return Err(WindowError::Open);
        }
        let limit = |limit: &Quantity| Limit::new(limit, channel);
        let (lo, hi) =
            (window.lo.as_ref().map(limit).transpose()?, window.hi.as_ref().map(limit).transpose()?);
        if let (Some(lo), Some(hi)) = (window.lo, window.hi)
            && lo.compare(&hi) == Some(Ordering::Greater)
        {
            return Err(WindowError::Reversed { lo, hi });
        }
        // No reading lies beyond 64 bits, so that a limit there is as good as one at their end.
        let whole = |n: i128| i64::try_from(n).unwrap_or(if n < 0 { i64::MIN } else { i64::MAX });
        let least = lo.map_or(i64::MIN, |l| whole(l.ceil()));
        let most = hi.map_or(i64::MAX, |h| whole(h.floor()));
        Ok(Bounds { lo, hi, least, most })
    }

    pub(super) fn side(&self, value: i64) -> Side {
        if value < self.least {
            Side::Below
        } else if value > self.most {
            Side::Above
        } else {
            Side::Inside
        }
    }

    /// Whether a line lies inside from end to end.
    pub(super) fn hold(&self, line: &Segment) -> bool {
        self.side(line.v0) == Side::Inside && self.side(line.v1) == Side::Inside
    }

    /// Where a line that is not on one side throughout comes into the window, and where it leaves it. Rounded
    /// to whole milliseconds against the inside.
    pub(super) fn stay(&self, line: &Segment) -> (i64, i64) {
        let crossing = |limit: &Option<Limit>| limit.map_or((line.t0, line.t1), |l| l.crossing(line));
        let beyond = |side: Side| crossing(if side == Side::Below { &self.lo } else { &self.hi });
        let (start, end) = (self.side(line.v0), self.side(line.v1));
        let enters = if start == Side::Inside { line.t0 } else { beyond(start).1 };
        let leaves = if end == Side::Inside { line.t1 } else { beyond(end).0 };
        (enters, leaves.max(enters))
    }

    /// How far a reading lies beyond the limit of its side, in the channel's unit.
    pub(super) fn beyond(&self, side: Side, value: i64, places: u32) -> Option<Decimal> {
        let limit = match side {
            Side::Below => self.lo?,
            Side::Above => self.hi?,
            Side::Inside => return None,
        };
        let over = (i128::from(value) * limit.under - limit.over).abs();
        // In units of the last digit: over/under. Brought to as many digits as say it exactly, if there are
        // such.
        let most = places.max(limit.places);
        for to in [most, most + 1] {
            let scaled = over.checked_mul(10_i128.checked_pow(to.saturating_sub(places))?)?;
            if scaled % limit.under == 0 || to > most {
                let up = scaled / limit.under + i128::from(scaled % limit.under != 0);
                return Decimal::try_from_i128_with_scale(up, to).ok();
            }
        }
        None
    }
}
