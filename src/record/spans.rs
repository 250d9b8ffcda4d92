//! What a record says of times and counts, worked out from its entries.

use crate::moment::Date;
use crate::moment::Moment;
use crate::record::Counts;
use crate::record::Coupon;
use crate::record::Immersion;
use crate::record::Record;
use crate::record::Step;
use crate::record::Test;

impl Step {
    /// The keys of the steps in a bath.
    pub const BATHS: &'static [&'static str] =
        &["clean", "descale", "passivate", "electropolish", "post-dip", "neutralize", "post-treat", "bake"];

    /// The bath step inside, if it is one, to change.
    pub const fn immersion_mut(&mut self) -> Option<&mut Immersion> {
        match self {
            Step::Clean(dip)
            | Step::Descale(dip)
            | Step::Passivate(dip)
            | Step::Electropolish(dip)
            | Step::PostDip(dip)
            | Step::Neutralize(dip)
            | Step::PostTreat(dip)
            | Step::Bake(dip) => Some(dip),
            Step::Rinse(_) | Step::Dry(_) => None,
        }
    }

    /// The same, to look at.
    pub const fn immersion(&self) -> Option<&Immersion> {
        match self {
            Step::Clean(i)
            | Step::Descale(i)
            | Step::Passivate(i)
            | Step::Electropolish(i)
            | Step::PostDip(i)
            | Step::Neutralize(i)
            | Step::PostTreat(i)
            | Step::Bake(i) => Some(i),
            Step::Rinse(_) | Step::Dry(_) => None,
        }
    }

    /// Its key in the record.
    pub const fn key(&self) -> &'static str {
        match self {
            Step::Clean(_) => "clean",
            Step::Descale(_) => "descale",
            Step::Passivate(_) => "passivate",
            Step::Electropolish(_) => "electropolish",
            Step::PostDip(_) => "post-dip",
            Step::Rinse(_) => "rinse",
            Step::Neutralize(_) => "neutralize",
            Step::PostTreat(_) => "post-treat",
            Step::Bake(_) => "bake",
            Step::Dry(_) => "dry",
        }
    }

    /// The latest instant the step names.
    pub fn end(&self) -> Option<Moment> {
        match self {
            Step::Rinse(rinse) => rinse.at,
            Step::Dry(done) => done.at,
            other => other.immersion().and_then(Immersion::end),
        }
    }

    /// The earliest instant the step names.
    pub fn begin(&self) -> Option<Moment> {
        match self {
            Step::Rinse(rinse) => rinse.at,
            Step::Dry(done) => done.at,
            other => other.immersion().and_then(|i| i.in_at.or(i.out_at)),
        }
    }
}

impl Immersion {
    /// When the pieces came out, as written down; else going in and the timer together, so that what is done
    /// while pieces are still in the bath is never taken for done after it.
    pub fn end(&self) -> Option<Moment> {
        let timed = || self.in_at.map(|at| self.time.and_then(|span| at.plus(&span)).unwrap_or(at));
        self.out_at.or_else(timed)
    }
}

impl Test {
    /// When it ended, as written down; else its start and the timer together.
    pub fn end(&self) -> Moment {
        let timed = || self.time.and_then(|span| self.started.plus(&span));
        self.ended.or_else(timed).unwrap_or(self.started)
    }
}

impl Coupon {
    /// The coupon in words.
    pub fn words(&self) -> String {
        format!("{}, heat {}, {}, load {}", self.alloy, self.heat, self.finish, self.load)
    }
}

impl Counts {
    /// Where pieces went, in words, in the order they are printed; the first is what came in.
    pub const fn named(&self) -> [(&'static str, u64); 8] {
        [
            ("received", self.received),
            ("accepted", self.accepted),
            ("rejected", self.rejected),
            ("destroyed in test", self.destroyed_in_test),
            ("held", self.held),
            ("split off", self.split_off),
            ("returned unprocessed", self.returned_unprocessed),
            ("missing", self.missing),
        ]
    }

    /// The sum of everything but `received`; `None` on overflow.
    pub fn accounted(&self) -> Option<u64> {
        self.named().iter().skip(1).try_fold(0_u64, |sum, (_, pieces)| sum.checked_add(*pieces))
    }
}

impl Record {
    /// The first and the last day any treatment step names.
    pub fn processed(&self) -> Option<(Date, Date)> {
        let steps = || self.runs.iter().flat_map(|run| &run.steps);
        let first = steps().filter_map(Step::begin).min()?;
        let last = steps().filter_map(Step::end).max()?;
        Some((first.date(), last.date()))
    }
}
