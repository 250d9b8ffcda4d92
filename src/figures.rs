//! Figures a shop reports about itself: yield, gaps by kind, turn-round, certificates of a month. Pure and exact;
//! each definition stands at its function. They are common practice, no standard's.
//!
//! What cannot be told never improves a figure: a lot with gaps has no good pieces, a lot whose first check is not on
//! record did not conform at first, and whatever was left out is counted and said.

mod bath;
mod month;
mod turn_round;

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use rust_decimal::Decimal;
use rust_decimal::RoundingStrategy;

use crate::moment::Date;
use crate::record::Record;

pub use bath::Limit;
pub use bath::Point;
pub use bath::Series;
pub use bath::series;
pub use month::Event;
pub use month::EventKind;
pub use month::MonthRow;
pub use month::month_rows;
pub use turn_round::Passage;
pub use turn_round::TurnRound;
pub use turn_round::turn_round;

/// Some days, both ends included; an end left out is open.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Days {
    /// First day.
    pub from: Option<Date>,
    /// Last day.
    pub to: Option<Date>,
}

impl Days {
    /// Whether a day is among them.
    pub fn hold(&self, day: Date) -> bool {
        self.from.is_none_or(|from| from <= day) && self.to.is_none_or(|to| day <= to)
    }
}

/// A part of a whole, both counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Share {
    /// The part.
    pub part: u64,
    /// The whole.
    pub whole: u64,
}

impl Share {
    /// `100 · part / whole`, to one decimal, halves away from zero; `None` when the whole is nothing.
    ///
    /// Never 100.0 unless the part is the whole: 9999 of 10000 reads 99.9.
    pub fn percent(self) -> Option<Decimal> {
        let hundred = Decimal::from(self.part).checked_mul(Decimal::ONE_HUNDRED)?;
        let exact = hundred.checked_div(Decimal::from(self.whole))?;
        let rounded = exact.round_dp_with_strategy(1, RoundingStrategy::MidpointAwayFromZero);
        let mut shown = if rounded >= Decimal::ONE_HUNDRED && self.part < self.whole {
            exact.round_dp_with_strategy(1, RoundingStrategy::ToZero)
        } else {
            rounded
        };
        shown.rescale(1);
        Some(shown)
    }
}

/// One gap of a lot, open or mended since.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Gap {
    /// `pack/requirement`.
    pub requirement: String,
    /// What it looks at.
    pub subject: String,
    /// Which part of the lot.
    pub place: String,
    /// Whether it stands now.
    pub open: bool,
}

/// What the figures need of a lot.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Lot {
    /// Its number.
    pub lot: String,
    /// Day its last treatment step ended.
    pub day: Option<Date>,
    /// Purchaser's name.
    pub purchaser: String,
    /// Pieces treated, each counted once.
    pub treated: u64,
    /// Of them, pieces treated again.
    pub again: u64,
    /// Pieces accepted.
    pub accepted: u64,
    /// Pieces used up by tests.
    pub used_up: u64,
    /// Gaps ever seen by a check, each once.
    pub gaps: Vec<Gap>,
    /// Gaps its first check saw; `None` when the journal of its checks cannot be relied on.
    pub first_check: Option<u64>,
}

impl Lot {
    /// Whether no gap stands now.
    pub fn conforms(&self) -> bool {
        !self.gaps.iter().any(|gap| gap.open)
    }

    /// Whether its first check saw no gap, nothing was treated again, and no gap stands now.
    pub fn at_first(&self) -> bool {
        self.first_check == Some(0) && self.again == 0 && self.conforms()
    }

    /// Pieces accepted on their first treatment: `accepted − treated again`, the least it can be, since a record does
    /// not say which piece was refused; none of a lot with gaps.
    pub fn first_pass(&self) -> u64 {
        if self.conforms() { self.accepted.min(self.treated).saturating_sub(self.again) } else { 0 }
    }

    /// Pieces accepted in the end; none of a lot with gaps.
    pub fn final_pass(&self) -> u64 {
        if self.conforms() { self.accepted.min(self.treated) } else { 0 }
    }
}

/// Pieces treated by a record, each once, and those of them treated again. A run that treats pieces of a first run
/// again adds to the second; a further round of the same pieces adds nothing to either.
pub fn treated(record: &Record) -> (u64, u64) {
    let first = |name: &str| record.runs.iter().any(|r| r.run == name && r.treats_again.is_none());
    let (mut treated, mut again) = (0_u64, 0_u64);
    for run in &record.runs {
        match &run.treats_again {
            None => treated = treated.saturating_add(run.pieces),
            Some(of) if first(of) => again = again.saturating_add(run.pieces),
            Some(_) => {}
        }
    }
    (treated, again.min(treated))
}

/// Yield of some lots.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Yield {
    /// First-pass yield: pieces accepted on their first treatment, of pieces treated.
    pub first_pass: Share,
    /// Final yield: pieces accepted after any number of treatments, of pieces treated.
    pub final_pass: Share,
    /// Lots that conformed at first ([`Lot::at_first`]), of all lots.
    pub lots_at_first: Share,
    /// Lots that conform now, of all lots.
    pub lots_now: Share,
    /// Pieces treated again.
    pub again: u64,
    /// Pieces used up by tests; they count as treated and not as accepted.
    pub used_up: u64,
    /// Pieces treated in lots with gaps: none of them counts as accepted.
    pub held: u64,
}

/// First-pass yield = Σ accepted on first treatment / Σ treated; final yield = Σ accepted / Σ treated.
pub fn total_yield<'a>(lots: impl IntoIterator<Item = &'a Lot>) -> Yield {
    let mut all = Yield::default();
    let add = |sum: &mut u64, more: u64| *sum = sum.saturating_add(more);
    for lot in lots {
        add(&mut all.first_pass.whole, lot.treated);
        add(&mut all.first_pass.part, lot.first_pass());
        add(&mut all.final_pass.whole, lot.treated);
        add(&mut all.final_pass.part, lot.final_pass());
        add(&mut all.lots_at_first.whole, 1);
        add(&mut all.lots_at_first.part, u64::from(lot.at_first()));
        add(&mut all.lots_now.whole, 1);
        add(&mut all.lots_now.part, u64::from(lot.conforms()));
        add(&mut all.again, lot.again);
        add(&mut all.used_up, lot.used_up);
        add(&mut all.held, if lot.conforms() { 0 } else { lot.treated });
    }
    all
}

/// One kind of gap.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ParetoRow {
    /// `pack/requirement`.
    pub requirement: String,
    /// What it looks at.
    pub subject: String,
    /// Gaps of the kind, one a lot and part of it.
    pub gaps: u64,
    /// Lots that had one.
    pub lots: u64,
    /// Gaps that stand now.
    pub open: u64,
    /// Of all gaps.
    pub share: Share,
    /// This row and those before it, of all gaps.
    pub cumulative: Share,
}

/// Gaps by requirement, the most frequent first (a Pareto table): `share = gaps / Σ gaps`, `cumulative = Σ` of the
/// shares down to the row. Of equals, in the order of their names.
pub fn pareto<'a>(lots: impl IntoIterator<Item = &'a Lot>) -> Vec<ParetoRow> {
    #[derive(Default)]
    struct Kind<'a> {
        gaps: u64,
        open: u64,
        subjects: BTreeSet<&'a str>,
        lots: BTreeSet<&'a str>,
    }
    let mut kinds: BTreeMap<&str, Kind> = BTreeMap::new();
    let mut all = 0_u64;
    for lot in lots {
        for gap in &lot.gaps {
            let kind = kinds.entry(&gap.requirement).or_default();
            kind.gaps = kind.gaps.saturating_add(1);
            kind.open = kind.open.saturating_add(u64::from(gap.open));
            kind.subjects.insert(&gap.subject);
            kind.lots.insert(&lot.lot);
            all = all.saturating_add(1);
        }
    }
    let mut sorted: Vec<(&str, Kind)> = kinds.into_iter().collect();
    sorted.sort_by_key(|(_, row)| std::cmp::Reverse(row.gaps));
    let mut sum = 0_u64;
    let rows = sorted.into_iter().map(|(requirement, kind)| {
        sum = sum.saturating_add(kind.gaps);
        let said: Vec<&str> = kind.subjects.into_iter().filter(|s| !s.is_empty()).collect();
        ParetoRow {
            requirement: requirement.to_owned(),
            subject: said.join("; "),
            gaps: kind.gaps,
            lots: u64::try_from(kind.lots.len()).unwrap_or(u64::MAX),
            open: kind.open,
            share: Share { part: kind.gaps, whole: all },
            cumulative: Share { part: sum, whole: all },
        }
    });
    rows.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn percent(part: u64, whole: u64) -> Option<String> {
        Share { part, whole }.percent().map(|p| p.to_string())
    }

    fn gap(requirement: &str, open: bool) -> Gap {
        Gap { requirement: requirement.into(), subject: "s".into(), place: "run 1".into(), open }
    }

    fn lot(treated: u64, again: u64, accepted: u64, gaps: Vec<Gap>, first: Option<u64>) -> Lot {
        Lot { treated, again, accepted, gaps, first_check: first, ..Lot::default() }
    }

    /// Worked by hand: 1/3 = 33.33 %, 2/3 = 66.67 %, 1/16 = 6.25 % (half, up), 9999/10000 = 99.99 %, which must not
    /// read as all.
    #[test]
    fn shares_are_rounded_once_and_never_up_to_all() {
        for (part, whole, shown) in [
            (1, 3, "33.3"),
            (2, 3, "66.7"),
            (1, 16, "6.3"),
            (9_999, 10_000, "99.9"),
            (u64::MAX - 1, u64::MAX, "99.9"),
            (7, 7, "100.0"),
            (0, 5, "0.0"),
        ] {
            assert_eq!(percent(part, whole).as_deref(), Some(shown), "{part}/{whole}");
        }
        assert_eq!(percent(0, 0), None);
    }

    /// Worked by hand. Lot A: 240 treated, 240 accepted: 240 at first. Lot B: 100 treated, all 100 again, 98 accepted:
    /// 98 − 100 → 0 at first, 98 in the end. Lot C: 50 treated, 10 again, 49 accepted: 39 at first. Lot D: 60 treated,
    /// a gap open: 0. Σ treated 450; first 279 → 62.0 %; in the end 240 + 98 + 49 = 387 → 86.0 %.
    #[test]
    fn yields_by_hand() {
        let lots = [
            lot(240, 0, 240, vec![], Some(0)),
            lot(100, 100, 98, vec![gap("x", false)], Some(1)),
            lot(50, 10, 49, vec![], None),
            lot(60, 0, 60, vec![gap("x", true)], Some(0)),
        ];
        let all = total_yield(&lots);
        assert_eq!(all.first_pass, Share { part: 279, whole: 450 });
        assert_eq!(all.first_pass.percent().unwrap().to_string(), "62.0");
        assert_eq!(all.final_pass.percent().unwrap().to_string(), "86.0");
        assert_eq!(all.lots_at_first, Share { part: 1, whole: 4 });
        assert_eq!(all.lots_now, Share { part: 3, whole: 4 });
        assert_eq!((all.again, all.held), (110, 60));
    }

    /// A record that accepts more than it treated cannot lift the yield above 100 %.
    #[test]
    fn counts_beyond_what_was_treated_do_not_count() {
        let all = total_yield(&[lot(10, 0, 1_000, vec![], Some(0))]);
        assert_eq!(all.first_pass, Share { part: 10, whole: 10 });
    }

    /// Worked by hand: y 3 of 5 gaps = 60 %, x 2 of 5 = 40 %; cumulative 60, 100. A mended gap still counts.
    #[test]
    fn pareto_by_hand() {
        let mut one = lot(1, 0, 1, vec![gap("x", true), gap("y", false), gap("y", false)], None);
        one.lot = "A".into();
        let mut two = lot(1, 0, 1, vec![gap("x", true), gap("y", true)], None);
        two.lot = "B".into();
        let rows = pareto(&[one, two]);
        let shown: Vec<_> = rows
            .iter()
            .map(|r| (r.requirement.as_str(), r.gaps, r.lots, r.open, r.cumulative.percent().unwrap()))
            .map(|(r, g, l, o, c)| format!("{r} {g} {l} {o} {c}"))
            .collect();
        assert_eq!(shown, ["y 3 2 1 60.0", "x 2 2 2 100.0"]);
    }
}
