//! The area under the straight lines between readings, kept exact until it is rounded once.

use rust_decimal::Decimal;

use super::trace::Segment;

/// Twice the area, in units of the last digit times milliseconds: a whole number and a proper fraction.
#[derive(Debug, Clone, Copy)]
pub(super) struct Area {
    whole: i128,
    part: i128,
    of: i128,
    /// Milliseconds the lines cover.
    pub covered: i64,
}

impl Area {
    pub(super) const NOTHING: Area = Area { whole: 0, part: 0, of: 1, covered: 0 };

    /// Adds the part from `x` to `y` of a line. Only the first and the last line of an interval are ever cut,
    /// so that at most two fractions come together and their common denominator stays below 10^16.
    pub(super) fn add(&mut self, line: &Segment, x: i64, y: i64) {
        let (length, over) = (i128::from(y - x), i128::from(line.t1 - line.t0));
        let (v0, v1) = (i128::from(line.v0), i128::from(line.v1));
        self.covered += y - x;
        if length == over {
            self.whole += (v0 + v1) * length;
            return;
        }
        // Height at x and at y, added: 2·v0 + (v1 − v0)·((x − t0) + (y − t0))/(t1 − t0).
        let slope = (v1 - v0) * (i128::from(x - line.t0) + i128::from(y - line.t0)) * length;
        self.whole += 2 * v0 * length + slope.div_euclid(over);
        self.part = self.part * over + slope.rem_euclid(over) * self.of;
        self.of *= over;
        self.whole += self.part / self.of;
        self.part %= self.of;
    }

    /// Half of this, divided by `by` milliseconds, of readings with `places` digits after the point, rounded
    /// once to `to` digits, ties to the even digit. `None` when nothing is covered or it goes beyond a
    /// decimal.
    pub(super) fn divided(&self, by: i64, places: u32, to: u32) -> Option<Decimal> {
        let up = 10_i128.checked_pow(to.saturating_sub(places))?;
        let down = 10_i128.checked_pow(places.saturating_sub(to))?;
        let by = i128::from(by).checked_mul(2)?.checked_mul(down)?;
        if by <= 0 {
            return None;
        }
        let part = self.part.checked_mul(up)?;
        let total = self.whole.checked_mul(up)?.checked_add(part / self.of)?;
        let (quotient, rest) = (total.div_euclid(by), total.rem_euclid(by));
        let sticky = part % self.of != 0;
        let up_one = match (2 * rest).cmp(&by) {
            std::cmp::Ordering::Less => false,
            std::cmp::Ordering::Equal => sticky || quotient.rem_euclid(2) == 1,
            std::cmp::Ordering::Greater => true,
        };
        Decimal::try_from_i128_with_scale(quotient.checked_add(i128::from(up_one))?, to).ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn area(line: (i64, i64, i64, i64), x: i64, y: i64) -> Area {
        let mut area = Area::NOTHING;
        let (t0, v0, t1, v1) = line;
        area.add(&Segment { t0, v0, t1, v1 }, x, y);
        area
    }

    /// By hand: a line from 0 to 3 over 3 ms; from 1 to 2 it lies between 1 and 2, its mean 1.5. Ties go to
    /// even.
    #[test]
    fn cut_lines_and_ties() {
        assert_eq!(area((0, 0, 3, 3), 1, 2).divided(1, 0, 1).unwrap().to_string(), "1.5");
        assert_eq!(area((0, 0, 3, 3), 1, 2).divided(1, 0, 0).unwrap().to_string(), "2");
        assert_eq!(area((0, 0, 1, 1), 0, 1).divided(1, 0, 0).unwrap().to_string(), "0");
        assert_eq!(area((0, 0, 1, -1), 0, 1).divided(1, 0, 0).unwrap().to_string(), "0");
        assert_eq!(area((0, 0, 1, -3), 0, 1).divided(1, 0, 0).unwrap().to_string(), "-2");
        assert_eq!(area((0, 0, 1, -3), 0, 1).divided(0, 0, 0), None);
    }

    /// By hand: from 0 to 1 over 3 ms, its first ms has a mean of 1/6 = 0.1666…, its first two of 1/3.
    #[test]
    fn fractions_are_kept() {
        assert_eq!(area((0, 0, 3, 1), 0, 1).divided(1, 0, 4).unwrap().to_string(), "0.1667");
        assert_eq!(area((0, 0, 3, 1), 0, 2).divided(2, 0, 4).unwrap().to_string(), "0.3333");
        let most = 999_999_999_999_999_999;
        assert!(area((0, -most, 86_400_000, most), 1, 86_399_999).divided(86_399_998, 9, 10).is_some());
    }
}
