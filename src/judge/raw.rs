//! What was computed of the raw files a record names: that each could be read, that a log covers the whole immersion,
//! that what somebody typed agrees with what the file says. The computed figures themselves are judged where the
//! typed ones are.

use std::cmp::Ordering;
use std::collections::BTreeSet;

use rust_decimal::Decimal;

use crate::computed;
use crate::computed::ChannelFigures;
use crate::computed::Computed;
use crate::computed::Excursion;
use crate::computed::LogFigures;
use crate::computed::Reading;
use crate::computed::TraceFigures;
use crate::finding::Reason;
use crate::judge::Dossier;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::judge::calibration::calibration;
use crate::judge::estimates;
use crate::judge::immersion::metered;
use crate::judge::strength;
use crate::path::Path;
use crate::record::Characteristic;
use crate::record::Immersion;
use crate::record::Measurement;
use crate::record::raw_files;
use crate::shop::InstrumentKind;
use crate::units::Quantity;
use crate::units::Unit;

/// What was computed of the file this entry names.
pub(super) fn of_entry<'a>(dossier: &'a Dossier, entry: &Path) -> Option<&'a Computed> {
    dossier.computed.iter().find(|c| c.named_at == *entry)
}

/// What the log of a step comes to; nothing without a log, or with one that cannot be read.
pub(super) fn log_of<'a>(dossier: &'a Dossier, step: &Path) -> Option<&'a LogFigures> {
    of_entry(dossier, &step.key("log"))?.log()
}

/// The least and the greatest reading of a channel during a step, as evidence. `meter` is what measures where the
/// logger names no sensor of its own.
pub(super) fn extremes(
    dossier: &Dossier,
    immersion: &Immersion,
    step: &Path,
    measures: &str,
    meter: Option<&str>,
) -> Vec<Evidence> {
    let Some(channel) = log_of(dossier, step).and_then(|log| log.channel(measures)) else {
        return Vec::new();
    };
    let known = metered(dossier, immersion, channel.instrument.as_deref().or(meter));
    let (least, most) = ends(channel);
    [(least, false), (most, true)]
        .map(|(reading, above)| {
            let evidence = Evidence::record(step.key("log"), Found::Quantity(reading));
            evidence.with(known.clone()).telling(beyond(channel, above))
        })
        .into()
}

/// What of a channel is held against limits: its extremes. The current is switched on after the pieces went in and off
/// before they come out, so that its least reading and that of the voltage are nothing: there the mean stands below.
fn ends(channel: &ChannelFigures) -> (Quantity, Quantity) {
    let switched = matches!(channel.measures.as_str(), "current" | "voltage");
    (if switched { channel.mean } else { channel.minimum }, channel.maximum)
}

/// How long a channel lay beyond a limit on one side, in words: the longest stretch first, and how many more there are.
fn beyond(channel: &ChannelFigures, above: bool) -> Option<String> {
    let mut all: Vec<&Excursion> = channel.excursions.iter().filter(|e| e.above == above).collect();
    all.sort_by(|a, b| b.lasts.compare(&a.lasts).unwrap_or(Ordering::Equal));
    let (first, rest) = all.split_first()?;
    let side = if above { "above" } else { "below" };
    let more = if rest.is_empty() { String::new() } else { format!(", and {} more times", rest.len()) };
    Some(format!("{side} {} for {} from {}{more}", first.limit, lasting(&first.lasts), first.from))
}

/// A span as people say it: minutes and seconds.
fn lasting(span: &Quantity) -> String {
    let sixty = Decimal::from(60);
    match span.value_in(Unit::Second) {
        Some(seconds) if span.unit() == Unit::Second && seconds >= sixty => {
            let (minutes, rest) = ((seconds / sixty).floor().normalize(), (seconds % sixty).normalize());
            format!("{minutes} min {rest} s")
        }
        _ => span.spoken(),
    }
}

/// Calibrations of the sensors that a step's log names beside the bath's own thermometer.
pub(super) fn sensors(dossier: &Dossier, step: &Path, immersion: &Immersion) -> Vec<Evidence> {
    let Some(log) = log_of(dossier, step) else { return Vec::new() };
    let temperature = log.channels.iter().filter(|c| c.measures == "temperature");
    let sensors: BTreeSet<&str> = temperature.filter_map(|c| c.instrument.as_deref()).collect();
    let day = log.from.date();
    let bath = dossier.baths.iter().find(|b| b.bath == immersion.bath);
    let own = bath.and_then(|b| b.thermometer.as_deref());
    let others = sensors.into_iter().filter(|id| Some(*id) != own);
    others.map(|id| calibration(dossier, id, day, step.key("log"), &[InstrumentKind::Thermometer])).collect()
}

/// Current density by the log: its current over the surface in the bath.
pub(super) fn current_densities(dossier: &Dossier, step: &Path, immersion: &Immersion) -> Vec<Evidence> {
    densities(dossier, step, immersion)
        .into_iter()
        .flat_map(|(least, most)| [least, most])
        .map(|density| Evidence::record(step.key("log"), Found::Quantity(density)))
        .collect()
}

fn densities(dossier: &Dossier, step: &Path, immersion: &Immersion) -> Option<(Quantity, Quantity)> {
    let channel = log_of(dossier, step)?.channel("current")?;
    let area = immersion.area?.value_in(Unit::SquareDecimetre)?;
    let density = |current: Quantity| {
        let value = current.value_in(Unit::Ampere)?.checked_div(area)?;
        Some(Quantity::new(value.round_dp(2), Unit::AmperePerDm2))
    };
    let (least, most) = ends(channel);
    Some((density(least)?, density(most)?))
}

/// A reading that is judged: its place, what it is or why there is none, and its own uncertainty where one was reckoned.
pub(super) type Judged = (Path, Result<Quantity, Reason>, Option<Quantity>);

/// The readings of a measurement that are judged: computed ones where there are raw readings, and typed ones beyond
/// them.
pub(super) fn readings(dossier: &Dossier, index: usize, m: &Measurement) -> Vec<Judged> {
    let path = Path::root().key("measurements").index(index);
    let mut all: Vec<Judged> = Vec::new();
    if m.what == Characteristic::StockRemoval {
        for one in estimates::judging(dossier, index, m) {
            let (value, expanded) = match one.estimate {
                Ok(estimate) => match estimates::reading(&estimate) {
                    Some((value, expanded)) => (Ok(value), expanded),
                    None => (Err(Reason::NotRecorded), None),
                },
                Err(reason) => (Err(reason), None),
            };
            all.push((one.at, value, expanded));
        }
    }
    for (j, _) in m.traces.iter().enumerate() {
        let at = path.key("traces").index(j);
        let reading = match of_entry(dossier, &at).map(|c| &c.found) {
            Some(Reading::Trace(figures)) => figures.parameter(m.what.name()).ok_or(Reason::NotRecorded),
            Some(Reading::Unreadable(why)) => Err(Reason::Unreadable(why.clone())),
            _ => Err(Reason::NotRecorded),
        };
        all.push((at, reading, None));
    }
    let typed = m.readings.iter().enumerate().skip(all.len());
    all.extend(typed.map(|(j, reading)| (path.key("readings").index(j), Ok(*reading), None)));
    all
}

/// How many readings of a measurement are judged.
pub fn count(dossier: &Dossier, index: usize, m: &Measurement) -> u64 {
    readings(dossier, index, m).len() as u64
}

/// The traces of a measurement that could be read.
pub(super) fn traces<'a>(dossier: &'a Dossier, index: usize, m: &Measurement) -> Vec<&'a TraceFigures> {
    traces_at(dossier, index, "traces", m.traces.len())
}

/// The same of those before treatment.
pub(super) fn traces_before<'a>(
    dossier: &'a Dossier,
    index: usize,
    m: &Measurement,
) -> Vec<&'a TraceFigures> {
    traces_at(dossier, index, "traces_before", m.traces_before.len())
}

fn traces_at<'a>(dossier: &'a Dossier, index: usize, key: &str, count: usize) -> Vec<&'a TraceFigures> {
    let path = Path::root().key("measurements").index(index).key(key);
    (0..count).filter_map(|j| of_entry(dossier, &path.index(j))?.trace()).collect()
}

/// That every raw file named could be read. One that is not on file is a paper's gap.
pub(super) fn read(dossier: &Dossier) -> Vec<Evidence> {
    let named = raw_files(&dossier.record);
    let all = named.iter().filter_map(|(entry, file)| {
        let computed = of_entry(dossier, entry);
        let found = match computed.map(|c| (&c.found, c)) {
            Some((_, c)) if c.sha256.is_empty() => return None,
            Some((Reading::Unreadable(why), _)) => Found::Missing(Reason::Unreadable(why.clone())),
            Some((Reading::Log(log), _)) => shown(&file.file().path, log.rows, "readings"),
            Some((Reading::Trace(trace), _)) => shown(&file.file().path, trace.points, "points"),
            None => Found::Missing(Reason::NotRecorded),
        };
        Some(Evidence::record(entry.clone(), found))
    });
    or_nothing(all.collect())
}

fn shown(path: &str, count: u64, what: &str) -> Found {
    Found::Own { observed: format!("{path}: {count} {what}"), limit: "readable".to_owned(), met: true }
}

fn or_nothing(all: Vec<Evidence>) -> Vec<Evidence> {
    if all.is_empty() { vec![Evidence::record(Path::root(), Found::NotApplicable)] } else { all }
}

/// Logs of the record's steps, each with the step's place.
fn logs(dossier: &Dossier) -> impl Iterator<Item = (Path, &Immersion, &LogFigures)> {
    let runs = dossier.record.runs.iter().enumerate();
    runs.flat_map(move |(i, run)| {
        let steps = Path::root().key("runs").index(i).key("steps");
        run.steps.iter().enumerate().filter_map(move |(j, step)| {
            let path = steps.index(j).key(step.key());
            let log = log_of(dossier, &path)?;
            Some((path, step.immersion()?, log))
        })
    })
}

/// That each log covers the whole of its immersion without a gap in which anything could have happened.
pub(super) fn covers(dossier: &Dossier) -> Vec<Evidence> {
    let all = logs(dossier).map(|(path, _, log)| {
        let met = log.inside > 0
            && log.longest_gap.compare(&log.allowed_gap).is_some_and(|order| order != Ordering::Greater);
        let observed = format!(
            "{} readings from {} to {}, the longest gap {}",
            log.inside, log.from, log.to, log.longest_gap
        );
        let limit = format!("the whole immersion, no gap over {}", log.allowed_gap);
        Evidence::record(path.key("log"), Found::Own { observed, limit, met })
    });
    or_nothing(all.collect())
}

/// That typed values agree with computed ones, within the precision they were written with.
pub(super) fn agree(dossier: &Dossier) -> Vec<Evidence> {
    let mut all = Vec::new();
    for (path, immersion, log) in logs(dossier) {
        if let Some(channel) = log.channel("temperature") {
            for (key, typed) in
                [("temperature", immersion.temperature), ("temperature_out", immersion.temperature_out)]
            {
                all.extend(typed.map(|typed| by_channel(&path.key(key), &typed, channel)));
            }
        }
        if let (Some(typed), Some(channel)) = (immersion.voltage, log.channel("voltage")) {
            all.push(by_channel(&path.key("voltage"), &typed, channel));
        }
        if let (Some(typed), Some((least, most))) =
            (immersion.current_density, densities(dossier, &path, immersion))
        {
            all.push(between(&path.key("current_density"), &typed, &least, &most, "by the log"));
        }
    }
    for (i, m) in dossier.record.measurements.iter().enumerate() {
        let path = Path::root().key("measurements").index(i);
        for (j, typed) in m.readings.iter().enumerate() {
            let entry = path.key("traces").index(j);
            let trace = of_entry(dossier, &entry).and_then(Computed::trace);
            let Some(value) = trace.and_then(|t| t.parameter(m.what.name())) else { continue };
            all.push(against(&path.key("readings").index(j), typed, &value, "by the trace"));
        }
        if m.what == Characteristic::StockRemoval {
            let judging = estimates::judging(dossier, i, m);
            for (j, (typed, one)) in m.readings.iter().zip(&judging).enumerate() {
                let value = one.estimate.as_ref().ok().and_then(estimates::reading);
                let Some((value, _)) = value else { continue };
                all.push(against(&path.key("readings").index(j), typed, &value, "computed"));
            }
        }
        for (j, typed) in m.before.iter().enumerate() {
            let entry = path.key("traces_before").index(j);
            let trace = of_entry(dossier, &entry).and_then(Computed::trace);
            let Some(value) = trace.and_then(|t| t.parameter(m.what.name())) else { continue };
            all.push(against(&path.key("before").index(j), typed, &value, "by the trace"));
        }
    }
    all.extend(strength::agree(dossier));
    all.extend(surfaces(dossier));
    or_nothing(all)
}

/// Ratios of a surface that were typed, against the atomic percentages they come from.
fn surfaces(dossier: &Dossier) -> Vec<Evidence> {
    let mut all = Vec::new();
    for (i, test) in dossier.record.tests.iter().enumerate() {
        let Some(percent) = &test.atomic_percent else { continue };
        let path = Path::root().key("tests").index(i);
        let each = [
            ("chromium_to_iron", test.chromium_to_iron, percent.chromium_to_iron()),
            ("chromium_oxide_to_iron_oxide", test.chromium_oxide_to_iron_oxide, percent.oxide_ratio()),
        ];
        for (key, typed, ratio) in each {
            let Some(typed) = typed else { continue };
            let at = path.key(key);
            all.push(match ratio {
                Ok(ratio) => {
                    let value = Quantity::new(ratio.value, Unit::Ratio);
                    against(&at, &typed, &value, &format!("from the percentages, {}", ratio.method))
                }
                Err(error) => Evidence::record(at, Found::Missing(Reason::Unreadable(error.to_string()))),
            });
        }
    }
    all
}

fn by_channel(at: &Path, typed: &Quantity, channel: &ChannelFigures) -> Evidence {
    let (least, most) = ends(channel);
    between(at, typed, &least, &most, "by the log")
}

fn between(at: &Path, typed: &Quantity, least: &Quantity, most: &Quantity, by: &str) -> Evidence {
    let Some(met) = computed::between(typed, least, most) else {
        return Evidence::record(at.clone(), Found::Missing(Reason::WrongUnit));
    };
    let limit = if least == most { format!("{least} {by}") } else { format!("{least} to {most} {by}") };
    Evidence::record(at.clone(), Found::Own { observed: format!("{typed} typed"), limit, met })
}

/// A typed value against a computed one.
pub(super) fn against(at: &Path, typed: &Quantity, computed: &Quantity, by: &str) -> Evidence {
    between(at, typed, computed, computed, by)
}

/// That traces were filtered with the cut-off that the order, or else the standard rule for its limit, asks.
pub(super) fn filter(dossier: &Dossier) -> Vec<Evidence> {
    let mut all = Vec::new();
    let mut said = BTreeSet::new();
    for (i, m) in dossier.record.measurements.iter().enumerate() {
        if m.what == Characteristic::StockRemoval {
            continue;
        }
        let ordered = cutoff_ordered(dossier, m.what);
        let path = Path::root().key("measurements").index(i);
        let used: Vec<Quantity> = traces(dossier, i, m)
            .iter()
            .map(|t| t.cutoff)
            .chain(m.cutoff.filter(|_| m.traces.is_empty()))
            .collect();
        for cutoff in used {
            let Some(ordered) = ordered else { continue };
            let met = cutoff.compare(&ordered) == Some(Ordering::Equal);
            if said.insert((i, met)) {
                let found = Found::Own {
                    observed: format!("{}: cut-off {cutoff}", m.what.name()),
                    limit: format!("cut-off {ordered}, as ordered"),
                    met,
                };
                all.push(Evidence::record(path.key("cutoff"), found));
            }
        }
    }
    or_nothing(all)
}

/// The cut-off that a call-out for this parameter orders.
pub(super) fn cutoff_ordered(dossier: &Dossier, what: Characteristic) -> Option<Quantity> {
    let line =
        crate::judge::line_of(dossier).map(|(_, line)| line.also_calls_for.as_slice()).unwrap_or_default();
    dossier.part.calls_for.iter().chain(line).find(|c| c.limit == Some(what) && c.cutoff.is_some())?.cutoff
}

/// Share of values beyond an upper limit, in per cent to one decimal.
pub(super) fn share(beyond: usize, of: usize) -> Option<Decimal> {
    Some(Decimal::from(beyond).checked_mul(Decimal::ONE_HUNDRED)?.checked_div(Decimal::from(of))?.round_dp(1))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test stops at the first surprise")]

    use super::*;

    fn q(text: &str) -> Quantity {
        text.parse().unwrap()
    }

    /// By hand: 555 s are nine minutes and a quarter.
    #[test]
    fn spans_are_told_in_minutes_and_seconds() {
        for (span, words) in [
            ("59 s", "59 s"),
            ("60 s", "1 min 0 s"),
            ("555 s", "9 min 15 s"),
            ("3600 s", "60 min 0 s"),
            ("90.5 s", "1 min 30.5 s"),
            ("119 min", "119 min"),
            ("120 min", "2 h"),
        ] {
            assert_eq!(lasting(&q(span)), words, "{span}");
        }
    }

    /// The longest stretch of the side asked for, and how many more there are.
    #[test]
    fn the_longest_excursion_is_told_first() {
        let stretch = |above: bool, from: &str, lasts: &str| Excursion {
            limit: q(if above { "90 °F" } else { "70 °F" }),
            above,
            from: format!("2026-11-24T{from}-05:00").parse().unwrap(),
            lasts: q(lasts),
            worst: q(if above { "91 °F" } else { "69 °F" }),
        };
        let at = || "2026-11-24T09:00-05:00".parse().unwrap();
        let mut channel = ChannelFigures {
            measures: "temperature".to_owned(),
            instrument: None,
            minimum: q("69 °F"),
            minimum_at: at(),
            maximum: q("91 °F"),
            maximum_at: at(),
            mean: q("80.0 °F"),
            at_least: Some(q("70 °F")),
            at_most: Some(q("90 °F")),
            excursions: vec![stretch(true, "09:00", "30 s"), stretch(true, "09:10", "75 s")],
            charge: None,
            curve: String::new(),
        };
        assert_eq!(beyond(&channel, false), None);
        let words = |from: &str| format!("above 90 °F for 1 min 15 s from {from}");
        let from = channel.excursions.last().unwrap().from.to_string();
        assert_eq!(beyond(&channel, true), Some(format!("{}, and 1 more times", words(&from))));
        channel.excursions.remove(0);
        channel.excursions.push(stretch(false, "09:20", "3 min"));
        assert_eq!(beyond(&channel, true), Some(words(&from)));
        assert!(beyond(&channel, false).unwrap().starts_with("below 70 °F for 3 min from "));
    }

    /// By hand: two of twelve are 16.7 per cent, one of six as well; of none there is no share.
    #[test]
    fn shares_to_one_decimal() {
        for (beyond, of, percent) in [(2, 12, "16.7"), (1, 6, "16.7"), (0, 12, "0.0"), (12, 12, "100")] {
            assert_eq!(share(beyond, of), Some(percent.parse().unwrap()), "{beyond} of {of}");
        }
        assert_eq!(share(1, 0), None);
    }
}
