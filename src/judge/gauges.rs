//! Gauge readings of the finished surface: those made after the last treatment of every piece, against a limit of
//! the purchaser's own or of a standard; and the gauge they were made with.

use crate::finding::Finding;
use crate::finding::Place;
use crate::finding::Reason;
use crate::finding::Verdict;
use crate::judge::Dossier;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::judge::Judge;
use crate::judge::calibration::uncertainty;
use crate::judge::called::call_outs;
use crate::judge::decided::Decided;
use crate::judge::decided::Side;
use crate::judge::evidence::Uncertainty;
use crate::judge::lot;
use crate::judge::part;
use crate::judge::raw;
use crate::judge::runs;
use crate::judge::runs::FinalRun;
use crate::pack::Subject;
use crate::part::CallOut;
use crate::path::Path;
use crate::record::Characteristic;
use crate::record::Measurement;
use crate::roughness::sixteen_percent as sixteen_percent_holds;
use crate::rulebook::EffectivePack;
use crate::units::Quantity;
use rust_decimal::Decimal;

/// Whether a measurement speaks for a run: it covers it and was made after its end.
fn counts_for(measurement: &Measurement, run: &FinalRun) -> bool {
    run.covered_by(&measurement.covers) && run.end().is_some_and(|end| measurement.at >= end)
}

/// Measurements of one characteristic, each with its place.
fn made(dossier: &Dossier, what: Characteristic) -> impl Iterator<Item = (usize, &Measurement)> {
    dossier.record.measurements.iter().enumerate().filter(move |(_, m)| m.what == what)
}

/// One piece of evidence for each run without a reading that counts, and one for each reading that does.
pub fn readings(
    dossier: &Dossier,
    what: Characteristic,
    runs: &[FinalRun],
    found: impl Fn(&Quantity, &Uncertainty) -> Found,
) -> Vec<Evidence> {
    let path = Path::root().key("measurements");
    let counting = || made(dossier, what).filter(|(_, m)| runs.iter().any(|r| counts_for(m, r)));
    let mut all = Vec::new();
    for run in runs {
        let alone = |m: &Measurement| part::speaks_for_part(dossier, &m.covers);
        if !counting().any(|(_, m)| counts_for(m, run) && alone(m)) {
            let reason = if counting().any(|(_, m)| counts_for(m, run)) {
                part::not_alone(run)
            } else if made(dossier, what).any(|(_, m)| run.covered_by(&m.covers)) {
                Reason::TestTooEarly
            } else {
                Reason::TestNotMade(format!("run {}", run.run.run))
            };
            all.push(Evidence::record(path.clone(), Found::Missing(reason)));
        }
    }
    for (i, measurement) in counting() {
        let readings = raw::readings(dossier, i, measurement);
        if readings.is_empty() {
            all.push(Evidence::missing(path.index(i).key("readings")));
        }
        let known = uncertainty(dossier, measurement.instrument.as_deref(), Some(measurement.at.date()));
        for (at, reading, own) in readings {
            let known = own.map_or_else(|| known.clone(), Uncertainty::Known);
            let found = reading.map_or_else(Found::Missing, |reading| found(&reading, &known));
            all.push(Evidence::record(at, found).with(known.clone()));
        }
    }
    all
}

/// Readings under the 16 % rule: of all values, those of the traces' sampling lengths where there are traces, at most
/// 16 in a hundred lie beyond the limit (ISO 4288:1996, recalled; its default, and on request since ISO 21920-3:2021).
pub fn sixteen_percent(
    dossier: &Dossier,
    call_out: &CallOut,
    what: Characteristic,
    runs: &[FinalRun],
) -> Vec<Evidence> {
    let mut missing = readings(dossier, what, runs, |reading, _| Found::Quantity(*reading));
    missing.retain(|e| matches!(e.found, Found::Missing(_)));
    if !missing.is_empty() {
        return missing;
    }
    let path = Path::root().key("measurements");
    let counting = made(dossier, what).filter(|(_, m)| runs.iter().any(|r| counts_for(m, r)));
    let mut values: Vec<(Quantity, Uncertainty)> = Vec::new();
    for (i, m) in counting {
        let known = uncertainty(dossier, m.instrument.as_deref(), Some(m.at.date()));
        let traces = raw::traces(dossier, i, m);
        let of_traces = what == Characteristic::Ra && !traces.is_empty();
        let each: Vec<Quantity> = if of_traces {
            let typed = m.readings.iter().skip(m.traces.len());
            traces.iter().flat_map(|t| &t.each_ra).chain(typed).copied().collect()
        } else {
            raw::readings(dossier, i, m).into_iter().filter_map(|(_, reading, _)| reading.ok()).collect()
        };
        values.extend(each.into_iter().map(|value| (value, known.clone())));
    }
    let rule = dossier.order.decision_rule;
    let found = |limit: &Quantity, side: Side| {
        let mut beyond = 0_usize;
        for (value, known) in &values {
            match (Decided { rule, uncertainty: known }).met(value, limit, side) {
                Ok(met) => beyond = beyond.saturating_add(usize::from(!met)),
                Err(reason) => return Found::Missing(reason),
            }
        }
        let share = raw::share(beyond, values.len()).unwrap_or_default();
        Found::Own {
            observed: format!("{beyond} of {} values beyond it ({share} %)", values.len()),
            limit: format!("{} {limit}, by the 16 % rule", side.word()),
            met: sixteen_percent_holds(beyond, values.len()),
        }
    };
    let limits = [(call_out.at_least, Side::AtLeast), (call_out.at_most, Side::AtMost)];
    let each = limits.into_iter().filter_map(|(limit, side)| Some(found(&limit?, side)));
    each.map(|found| Evidence::record(path.clone(), found)).collect()
}

/// Roughness a standard limits: every reading, or the mean of each measurement's readings.
pub fn roughness(dossier: &Dossier, subject: Subject) -> Vec<Evidence> {
    let runs = runs::covered_runs(dossier);
    let what = Characteristic::Ra;
    let each = readings(dossier, what, &runs, |reading, _| Found::Quantity(*reading));
    if subject == Subject::Roughness || each.iter().any(|e| matches!(e.found, Found::Missing(_))) {
        return each;
    }
    let path = Path::root().key("measurements");
    let counting = made(dossier, what).filter(|(_, m)| runs.iter().any(|r| counts_for(m, r)));
    counting
        .map(|(i, m)| {
            let readings =
                raw::readings(dossier, i, m).into_iter().filter_map(|(_, reading, _)| reading.ok());
            let found = mean(&readings.collect::<Vec<_>>()).map_or_else(
                || Found::Missing(Reason::Contradiction("readings in different units".to_owned())),
                Found::Quantity,
            );
            let known = uncertainty(dossier, m.instrument.as_deref(), Some(m.at.date()));
            Evidence::record(path.index(i).key("readings"), found).with(known)
        })
        .collect()
}

/// The mean of readings in one unit, to 28 digits; `None` for none, or where their units differ.
fn mean(readings: &[Quantity]) -> Option<Quantity> {
    let unit = readings.first()?.unit();
    let mut sum = Decimal::ZERO;
    for reading in readings {
        if reading.unit() != unit {
            return None;
        }
        sum = sum.checked_add(reading.value())?;
    }
    Some(Quantity::new(sum.checked_div(Decimal::from(readings.len()))?.normalize(), unit))
}

impl Judge<'_> {
    /// The house's own rules for the gauge behind a roughness that a standard limits. Where the purchaser has a
    /// limit of its own as well, the gauge is judged there.
    pub(super) fn gauges(
        &self,
        house: &EffectivePack,
        pack: &EffectivePack,
        place: &Place,
        findings: &mut Vec<Finding>,
    ) {
        let what = Characteristic::Ra;
        let asked = pack
            .pack
            .requirements
            .iter()
            .filter(|r| matches!(r.subject, Subject::Roughness | Subject::MeanRoughness) && !r.advice);
        let applied = asked.into_iter().any(|r| {
            let id = format!("{}/{}", pack.pack.pack, r.id);
            findings.iter().any(|f| f.requirement == id && f.verdict != Verdict::NotApplicable)
        });
        if !applied || call_outs(self.dossier).iter().any(|call| call.call_out.limit == Some(what)) {
            return;
        }
        let call_out = CallOut { limit: Some(what), ..CallOut::default() };
        for (position, requirement) in house.pack.requirements.iter().enumerate() {
            let own = [Subject::LimitCalibration, Subject::LimitQualified, Subject::NextLimitCalibration];
            if !own.contains(&requirement.subject) {
                continue;
            }
            let evidence =
                lot::limit_evidence(self.dossier, &call_out, place, self.runs, requirement.subject);
            if let Some((subject, evidence)) = evidence {
                self.finding(house, position, requirement, "lot", &subject, &evidence, findings);
            }
        }
    }
}
