//! What a lot's record rests on, and when: baths, instruments, solutions, people, heats, loads. A certificate is
//! filed under these, so that the day one of them proves wrong every certificate that used it is found.
//!
//! Days are those the record writes. A use without a time of its own lies between the steps before and after it;
//! with none before, its first day stays open, and with none after, it lies before the day of issue. An open end
//! counts as any day: what cannot be told is listed, not left out.

use std::collections::BTreeSet;

use serde::Deserialize;
use serde::Serialize;

use crate::judge;
use crate::judge::Dossier;
use crate::moment::Date;
use crate::record::Record;
use crate::record::Run;
use crate::record::Step;

/// What can prove wrong later.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Thing {
    /// A bath, by its id in the shop's book.
    Bath,
    /// A thermometer, meter, gauge or chamber, by its id in the shop's book.
    Instrument,
    /// A batch of test solution, by its id in the shop's book.
    Solution,
    /// Somebody who worked, tested, analysed, reviewed or released.
    Person,
    /// A heat of material.
    Heat,
    /// A load that shared a tank.
    Load,
}

impl Thing {
    /// Every kind of thing.
    pub const ALL: [Thing; 6] =
        [Thing::Bath, Thing::Instrument, Thing::Solution, Thing::Person, Thing::Heat, Thing::Load];

    /// Its word, in the register, on the command line and in reports.
    pub const fn name(self) -> &'static str {
        match self {
            Thing::Bath => "bath",
            Thing::Instrument => "instrument",
            Thing::Solution => "solution",
            Thing::Person => "person",
            Thing::Heat => "heat",
            Thing::Load => "load",
        }
    }
}

/// One use of one thing by one lot.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Use {
    /// The shop's lot.
    pub lot: String,
    /// What was used.
    pub thing: Thing,
    /// Which: its id or name as recorded.
    pub name: String,
    /// First day it may have been used; absent when nothing recorded bounds it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub first: Option<Date>,
    /// Last day it may have been used; the day of issue when nothing recorded bounds it.
    pub last: Date,
    /// How, in words: `run 1: passivate`.
    pub how: String,
}

/// A span of days, either end of which may be open.
type Days = (Option<Date>, Option<Date>);

/// Everything a lot rests on. `released` is who released the certificate, and the day of its issue: nothing a
/// certificate rests on was used after that.
pub fn uses(dossier: &Dossier, released: (&str, Date)) -> Vec<Use> {
    let (by, issued) = released;
    let whole = judge::whole(dossier);
    let dossier = whole.as_ref();
    let record = &dossier.record;
    let mut found = Found { lot: &record.lot, issued, all: BTreeSet::new() };
    found.add(Thing::Person, by, (Some(issued), Some(issued)), "released the certificate");
    for run in &record.runs {
        one_run(&mut found, dossier, run);
    }
    tested(&mut found, record);
    let treated = record.processed().map_or((None, None), |(first, last)| (Some(first), Some(last)));
    for heat in &record.material.heats {
        found.add(Thing::Heat, &heat.heat, treated, "material");
    }
    if let Some(by) = &record.counts.by {
        found.add(Thing::Person, by, (None, None), "counted the pieces");
    }
    for relative in &dossier.family {
        for heat in &relative.heats {
            found.add(Thing::Heat, &heat.heat, treated, &format!("material of lot {}", relative.lot));
        }
    }
    papers(&mut found, dossier);
    changed(&mut found, dossier);
    found.all.into_iter().collect()
}

struct Found<'a> {
    lot: &'a str,
    issued: Date,
    all: BTreeSet<Use>,
}

impl Found<'_> {
    fn add(&mut self, thing: Thing, name: &str, days: Days, how: &str) {
        let name = name.trim();
        if name.is_empty() {
            return;
        }
        self.all.insert(Use {
            lot: self.lot.to_owned(),
            thing,
            name: name.to_owned(),
            first: days.0,
            last: days.1.unwrap_or(self.issued),
            how: how.to_owned(),
        });
    }
}

/// The days of a step: its own, or those its neighbours leave it.
fn days_of(run: &Run, index: usize) -> Days {
    let step = run.steps.get(index);
    let before = || run.steps.iter().take(index).rev().find_map(Step::end);
    let after = || run.steps.iter().skip(index.saturating_add(1)).find_map(Step::begin);
    // The way in alone does not say when a step ended, nor the way out when it began.
    let into = step.and_then(|s| match s.immersion() {
        Some(i) => i.in_at,
        None => s.begin(),
    });
    let first = into.or_else(before);
    let out = step.and_then(|s| match s.immersion() {
        Some(i) => i.out_at.or(if i.time.is_some() { i.end() } else { None }),
        None => s.end(),
    });
    (first.map(|m| m.date()), out.or_else(after).map(|m| m.date()))
}

fn one_run(found: &mut Found, dossier: &Dossier, run: &Run) {
    let mut whole: Days = (None, None);
    for (index, step) in run.steps.iter().enumerate() {
        let days = days_of(run, index);
        if index == 0 {
            whole.0 = days.0;
        }
        whole.1 = days.1;
        let how = format!("run {}: {}", run.run, step.key());
        match step {
            Step::Rinse(rinse) => {
                found.add(Thing::Person, &rinse.by, days, &how);
                if let Some(meter) = &rinse.instrument {
                    found.add(Thing::Instrument, meter, days, &format!("{how}, total solids"));
                }
            }
            Step::Dry(done) => found.add(Thing::Person, &done.by, days, &how),
            other => {
                let Some(immersion) = other.immersion() else { continue };
                // Another's work was in no bath of the shop; a thing without a name is not entered.
                found.add(Thing::Bath, &immersion.bath, days, &how);
                found.add(Thing::Person, &immersion.by, days, &how);
                let bath = dossier.baths.iter().find(|b| b.bath == immersion.bath);
                if let Some(thermometer) = bath.and_then(|b| b.thermometer.as_deref()) {
                    let how = format!("{how}, temperature of {}", immersion.bath);
                    found.add(Thing::Instrument, thermometer, days, &how);
                }
                let metered = immersion.current_density.is_some()
                    || immersion.voltage.is_some()
                    || immersion.log.is_some();
                if let Some(rectifier) = bath.and_then(|b| b.rectifier.as_deref()).filter(|_| metered) {
                    let how = format!("{how}, current of {}", immersion.bath);
                    found.add(Thing::Instrument, rectifier, days, &how);
                }
            }
        }
    }
    if let Some(load) = &run.load {
        found.add(Thing::Load, load, whole, &format!("run {}", run.run));
    }
}

fn tested(found: &mut Found, record: &Record) {
    for test in &record.tests {
        let how = format!("test: {}", test.test.name());
        let end = test.ended.or_else(|| test.time.and_then(|span| test.started.plus(&span)));
        let days = (Some(test.started.date()), end.map(|m| m.date()));
        found.add(Thing::Person, &test.by, days, &how);
        if let Some(coupon) = &test.coupon {
            found.add(Thing::Heat, &coupon.heat, days, &format!("{how}, coupon"));
        }
        if let Some(solution) = &test.solution {
            found.add(Thing::Solution, solution, days, &how);
        }
        if let Some(instrument) = &test.instrument {
            found.add(Thing::Instrument, instrument, days, &how);
        }
    }
    for look in &record.visual {
        let day = Some(look.at.date());
        found.add(Thing::Person, &look.by, (day, day), "visual");
    }
    for measurement in &record.measurements {
        let day = Some(measurement.at.date());
        let how = format!("measured: {}", measurement.what.name());
        found.add(Thing::Person, &measurement.by, (day, day), &how);
        if let Some(gauge) = &measurement.instrument {
            found.add(Thing::Instrument, gauge, (day, day), &how);
        }
    }
}

/// Who stands behind the papers the record was judged by.
fn papers(found: &mut Found, dossier: &Dossier) {
    for bath in &dossier.baths {
        for analysis in &bath.analyses {
            let day = Some(analysis.at.date());
            let how = format!("analysed {}", bath.bath);
            found.add(Thing::Person, &analysis.by, (day, day), &how);
        }
    }
    for solution in &dossier.solutions {
        let day = Some(solution.mixed.date());
        found.add(Thing::Person, &solution.by, (day, day), &format!("mixed {}", solution.solution));
    }
    for bath in &dossier.later.baths {
        for analysis in &bath.analyses {
            let day = Some(analysis.at.date());
            found.add(Thing::Person, &analysis.by, (day, day), &format!("analysed {} afterwards", bath.bath));
        }
    }
    for deviation in &dossier.deviations {
        let (review, how) = (&deviation.reviewed, format!("reviewed deviation {}", deviation.deviation));
        found.add(Thing::Person, &review.by, (Some(review.on), Some(review.on)), &how);
    }
    let reviews = [
        (dossier.part.reviewed.as_ref(), "reviewed the part specification"),
        (dossier.order.reviewed.as_ref(), "reviewed the order"),
    ];
    for (review, how) in reviews {
        if let Some(review) = review {
            found.add(Thing::Person, &review.by, (Some(review.on), Some(review.on)), how);
        }
    }
}

/// Who corrected a value, of the record or of the book.
fn changed(found: &mut Found, dossier: &Dossier) {
    for correction in dossier.record.corrections.iter().chain(&dossier.corrections) {
        let day = Some(correction.when.date());
        found.add(Thing::Person, &correction.by, (day, day), &format!("corrected {}", correction.at));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn days(steps: serde_json::Value) -> Vec<String> {
        let run: Run = serde_json::from_value(json!({"run": "1", "pieces": 5, "steps": steps})).unwrap();
        let day = |d: Option<Date>| d.map_or("open".to_owned(), |d| d.to_string());
        (0..run.steps.len())
            .map(|i| days_of(&run, i))
            .map(|(a, b)| format!("{} to {}", day(a), day(b)))
            .collect()
    }

    #[test]
    fn a_step_without_a_time_lies_between_its_neighbours() {
        let found = days(json!([
            {"clean": {"bath": "AC-1", "by": "I. Bramble"}},
            {"passivate": {"bath": "N-2", "in": "2026-11-05T23:50-05:00", "out": "2026-11-06T00:20-05:00", "by": "I. Bramble"}},
            {"rinse": {"by": "I. Bramble"}},
            {"neutralize": {"bath": "NE-1", "out": "2026-11-08T08:00-05:00", "by": "I. Bramble"}},
            {"post-treat": {"bath": "DC-1", "in": "2026-11-09T23:50-05:00", "time": "30 min", "by": "I. Bramble"}},
            {"dry": {"by": "I. Bramble"}},
        ]));
        insta::assert_debug_snapshot!(found, @r#"
        [
            "open to 2026-11-05",
            "2026-11-05 to 2026-11-06",
            "2026-11-06 to 2026-11-08",
            "2026-11-06 to 2026-11-08",
            "2026-11-09 to 2026-11-10",
            "2026-11-10 to open",
        ]
        "#);
    }

    #[test]
    fn the_way_in_alone_does_not_end_a_step() {
        let found = days(json!([
            {"passivate": {"bath": "N-2", "in": "2026-11-05T08:00-05:00", "by": "I. Bramble"}},
            {"rinse": {"at": "2026-11-07T08:00-05:00", "by": "I. Bramble"}},
        ]));
        assert_eq!(found, ["2026-11-05 to 2026-11-07", "2026-11-07 to 2026-11-07"]);
    }

    #[test]
    fn things_have_their_words() {
        let words: Vec<_> = Thing::ALL.map(|t| serde_json::to_value(t).unwrap()).into();
        let names: Vec<_> = Thing::ALL.map(|t| json!(t.name())).into();
        assert_eq!(words, names);
    }
}
