//! Turn-round: days from a lot's arrival to its first certificate.

use rust_decimal::Decimal;

use crate::moment::Date;

/// A lot on a certificate.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Passage {
    /// The certificate's number.
    pub number: String,
    /// The lot.
    pub lot: String,
    /// Purchaser's name.
    pub purchaser: String,
    /// Day the lot was received, where its record says it.
    pub received: Option<Date>,
    /// Day the certificate was issued.
    pub issued: Date,
}

impl Passage {
    /// Days from arrival to issue, `issued − received`: 0 when both fall on one day. `None` when the arrival is not
    /// recorded, or comes after the issue and so is wrong.
    pub fn days(&self) -> Option<u64> {
        u64::try_from(self.issued.days_since(self.received?)).ok()
    }

    /// Whether the arrival is recorded and comes after the issue.
    pub fn impossible(&self) -> bool {
        self.received.is_some_and(|received| received > self.issued)
    }
}

/// Turn-round of some passages.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct TurnRound {
    /// Passages that have one.
    pub counted: u64,
    /// Passages whose arrival nobody recorded.
    pub without: u64,
    /// Passages whose arrival comes after the issue.
    pub impossible: u64,
    /// Shortest, in days.
    pub least: Option<u64>,
    /// Longest, in days.
    pub most: Option<u64>,
    /// The middle one in order, or the mean of the middle two, in days.
    pub median: Option<Decimal>,
    /// How many passages took how many days, every number of days from the shortest to the longest, at most 400.
    pub by_days: Vec<(u64, u64)>,
}

/// Sums up. The mean is left out on purpose: one forgotten lot would speak for all.
pub fn turn_round(passages: &[Passage]) -> TurnRound {
    let mut days: Vec<u64> = passages.iter().filter_map(Passage::days).collect();
    days.sort_unstable();
    let count = |n: usize| u64::try_from(n).unwrap_or(u64::MAX);
    let middle = days.len() / 2;
    let at = |i: usize| days.get(i).copied().map(Decimal::from);
    let median = if days.len() % 2 == 1 {
        at(middle)
    } else {
        let below = middle.checked_sub(1).and_then(at);
        below
            .zip(at(middle))
            .and_then(|(a, b)| Some(a.checked_add(b)?.checked_div(Decimal::TWO)?.normalize()))
    };
    let (least, most) = (days.first().copied(), days.last().copied());
    let by_days = match (least, most) {
        (Some(least), Some(most)) if most - least < 400 => {
            let of = |day| count(days.iter().filter(|d| **d == day).count());
            (least..=most).map(|day| (day, of(day))).collect()
        }
        _ => Vec::new(),
    };
    TurnRound {
        counted: count(days.len()),
        without: count(passages.iter().filter(|p| p.received.is_none()).count()),
        impossible: count(passages.iter().filter(|p| p.impossible()).count()),
        least,
        most,
        median,
        by_days,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn passage(received: Option<&str>, issued: &str) -> Passage {
        Passage {
            number: String::new(),
            lot: String::new(),
            purchaser: String::new(),
            received: received.map(|d| d.parse().unwrap()),
            issued: issued.parse().unwrap(),
        }
    }

    /// Worked by hand: 26 Feb to 2 Mar 2028 is 5 days (2028 is a leap year), to 29 Feb 3, same day 0, 28 Feb to
    /// 2 Mar 3; in order 0 3 3 5, the middle two 3 and 3: median 3. Without the first: 0 3 3, median 3; 0 and 5: 2.5.
    #[test]
    fn days_by_hand() {
        let all = [
            passage(Some("2028-02-26"), "2028-03-02"),
            passage(Some("2028-02-26"), "2028-02-29"),
            passage(Some("2028-03-02"), "2028-03-02"),
            passage(Some("2028-02-28"), "2028-03-02"),
            passage(None, "2028-03-02"),
            passage(Some("2028-03-03"), "2028-03-02"),
        ];
        let sum = turn_round(&all);
        assert_eq!((sum.counted, sum.without, sum.impossible), (4, 1, 1));
        assert_eq!((sum.least, sum.most), (Some(0), Some(5)));
        assert_eq!(sum.median, Some(Decimal::from(3)));
        assert_eq!(sum.by_days, [(0, 1), (1, 0), (2, 0), (3, 2), (4, 0), (5, 1)]);
        let two = turn_round(&[all[0].clone(), all[2].clone()]);
        assert_eq!(two.median.unwrap().to_string(), "2.5");
        assert_eq!(turn_round(&[]), TurnRound::default());
    }
}
