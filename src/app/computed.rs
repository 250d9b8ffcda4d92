//! What is computed of the raw files a record names: read, evaluated, put into the dossier; and the same again from an
//! evidence store, when somebody verifies.

use std::collections::BTreeMap;

use rust_decimal::Decimal;

use crate::app::error::Error;
use crate::bath_log;
use crate::bath_log::Interval;
use crate::bath_log::Log;
use crate::bath_log::Side;
use crate::bath_log::Trace as Channel;
use crate::bath_log::Window;
use crate::canonical;
use crate::computed;
use crate::computed::ChannelFigures;
use crate::computed::Computed;
use crate::computed::Excursion;
use crate::computed::LogFigures;
use crate::computed::Reading;
use crate::computed::TraceFigures;
use crate::finding::Verdict;
use crate::judge;
use crate::judge::Dossier;
use crate::log_file;
use crate::logger::Logger;
use crate::logger::Measures;
use crate::moment::Date;
use crate::moment::Moment;
use crate::pack::Check;
use crate::pack::Subject;
use crate::part::CallOut;
use crate::path::Path;
use crate::path::Segment;
use crate::picture;
use crate::record::Characteristic;
use crate::record::Immersion;
use crate::record::LogFile;
use crate::record::Measurement;
use crate::record::RawFile;
use crate::record::Record;
use crate::record::Step;
use crate::record::TraceFile;
use crate::record::raw_files;
use crate::roughness;
use crate::roughness::CutoffRule;
use crate::roughness::Profile;
use crate::roughness::Settings;
use crate::trace_file;
use crate::units::Quantity;
use crate::units::Unit;

/// Pairs of readings kept of a log for its picture.
const LOG_COLUMNS: usize = 120;
/// Pairs of points kept of a profile.
const PROFILE_COLUMNS: usize = 160;
/// Pairs of points kept of a mean line, which is smooth.
const MEAN_COLUMNS: usize = 60;
/// Readings a logger may miss in a row: the gap is then twice its interval.
const MISSED: i64 = 2;
/// A current above which an electropolishing bath is taken to be at work.
const AT_WORK: Decimal = Decimal::ONE;

/// Bytes of a raw file by its path; `None` when it is not there.
pub type Files<'a> = dyn Fn(&str) -> Result<Option<Vec<u8>>, Error> + 'a;

/// Computes what the raw files of a dossier's record come to. What cannot be computed says why, in the place of the
/// figures: that is a gap of the lot, no error of the tool.
///
/// # Errors
/// When a file that is there cannot be read from the disk.
pub fn compute(dossier: &Dossier, files: &Files) -> Result<Vec<Computed>, Error> {
    // As it was written: what was computed before says nothing of when the pieces were in.
    let written = Dossier { computed: Vec::new(), ..dossier.clone() };
    let whole = judge::whole(&written).into_owned();
    let mut all = Vec::new();
    let mut logs: BTreeMap<String, Log> = BTreeMap::new();
    for (entry, raw) in raw_files(&whole.record) {
        let path = &raw.file().path;
        let Some(bytes) = files(path)? else {
            let found = Reading::Unreadable(format!("{path} is not in the shop folder"));
            all.push(Computed { path: path.clone(), sha256: String::new(), named_at: entry, found });
            continue;
        };
        let found = match raw {
            RawFile::Log(file) => of_log(&whole, &entry, file, &bytes, &mut logs),
            RawFile::Trace(file) => of_trace(&whole, &entry, file, &bytes),
        };
        let found = found.unwrap_or_else(|why| Reading::Unreadable(format!("{path}: {why}")));
        all.push(Computed { path: path.clone(), sha256: canonical::stamp(&bytes), named_at: entry, found });
    }
    // Which limits hold for a bath only the judge can say; excursions are reckoned against those.
    let limits = limits(dossier, &all);
    for computed in &mut all {
        if let (Reading::Log(figures), Some(window)) = (&mut computed.found, limits.get(&computed.named_at)) {
            let key = key(&figures.logger, &computed.sha256);
            if let Some(log) = logs.get(&key) {
                add_excursions(figures, log, window);
            }
        }
    }
    Ok(all)
}

fn key(logger: &str, sha256: &str) -> String {
    format!("{logger} {sha256}")
}

/// The step an entry `runs[i].steps[j].key.log` belongs to.
fn step_of<'a>(record: &'a Record, entry: &Path) -> Option<(&'a str, &'a Step)> {
    match entry.segments() {
        [Segment::Key(_), Segment::Index(i), Segment::Key(_), Segment::Index(j), ..] => {
            let run = record.runs.get(*i)?;
            Some((&run.run, run.steps.get(*j)?))
        }
        _ => None,
    }
}

/// The day of the step whose log an entry names.
pub fn day_of(record: &Record, entry: &Path) -> Option<Date> {
    let immersion = step_of(record, entry)?.1.immersion()?;
    immersion.in_at.or(immersion.out_at).map(|at| at.date())
}

fn of_log(
    whole: &Dossier,
    entry: &Path,
    file: &LogFile,
    bytes: &[u8],
    logs: &mut BTreeMap<String, Log>,
) -> Result<Reading, String> {
    let logger = whole.loggers.iter().find(|l| l.logger == file.logger);
    let logger = logger.ok_or_else(|| format!("loggers.yaml has no logger `{}`", file.logger))?;
    let immersion = step_of(&whole.record, entry).and_then(|(_, step)| step.immersion());
    let immersion = immersion.ok_or("the step has no bath")?;
    let key = key(&file.logger, &canonical::stamp(bytes));
    if !logs.contains_key(&key) {
        logs.insert(key.clone(), log_file::read(bytes, logger).map_err(|fault| fault.to_string())?);
    }
    let log = logs.get(&key).ok_or("the log is gone")?;
    figures(log, logger, immersion).map(|figures| Reading::Log(Box::new(figures)))
}

fn figures(log: &Log, logger: &Logger, immersion: &Immersion) -> Result<LogFigures, String> {
    let step = crate::logger::span_ms(&logger.interval).ok_or("the logger's interval is no time")?;
    let allowed = step.saturating_mul(MISSED);
    let current = log.traces().find(|t| t.channel().measures == Measures::Current);
    let at_work = Quantity::new(AT_WORK, Unit::Ampere);
    let found = bath_log::immersion(
        immersion.in_at.as_ref(),
        immersion.out_at.as_ref(),
        current.as_ref().map(|trace| (trace, &at_work)),
        allowed,
    )
    .map_err(|error| error.to_string())?;
    let interval = found.interval;
    let at = |ms: i64| log.moment(ms).ok_or_else(|| "a time of the log is beyond the calendar".to_owned());
    let traces: Vec<Channel> = log.traces().collect();
    let mut channels = Vec::new();
    let (mut inside, mut longest) = (0_usize, 0_i64);
    for trace in &traces {
        let summary = bath_log::summary(trace, &interval, allowed);
        let (Some(least), Some(most)) = (summary.min, summary.max) else {
            return Err(format!(
                "no reading of `{}` between {} and {}: the log is of another time",
                summary.header,
                at(interval.from())?,
                at(interval.to())?
            ));
        };
        inside = inside.max(summary.readings);
        let edge = summary.coverage.missing_before.max(summary.coverage.missing_after);
        longest = longest.max(summary.coverage.longest.as_ref().map_or(0, bath_log::Gap::length)).max(edge);
        let unit = summary.unit;
        let charge = bath_log::charge(trace, &interval, allowed).ok().filter(|charge| charge.whole);
        channels.push(ChannelFigures {
            measures: summary.measures.word().to_owned(),
            instrument: instrument_of(logger, &summary.header),
            minimum: Quantity::new(least.value, unit),
            minimum_at: at(least.at)?,
            maximum: Quantity::new(most.value, unit),
            maximum_at: at(most.at)?,
            mean: Quantity::new(summary.mean.unwrap_or(least.value), unit),
            at_least: None,
            at_most: None,
            excursions: Vec::new(),
            charge: charge.map(|c| Quantity::new(c.ampere_minutes, Unit::AmpereMinute)),
            curve: curve_of(trace, &interval),
        });
    }
    Ok(LogFigures {
        logger: logger.logger.clone(),
        rows: log.times().len() as u64,
        inside: inside as u64,
        from: at(interval.from())?,
        to: at(interval.to())?,
        interval: match (found.start, found.end) {
            (bath_log::Source::Recorded, bath_log::Source::Recorded) => computed::RECORDED,
            _ => "from where the current rises to where it falls",
        }
        .to_owned(),
        longest_gap: bath_log::spoken_span(longest),
        allowed_gap: bath_log::spoken_span(allowed),
        channels,
    })
}

fn instrument_of(logger: &Logger, header: &str) -> Option<String> {
    let column = logger.columns.iter().find(|c| c.header == header);
    column.and_then(|c| c.instrument.clone()).or_else(|| logger.instrument.clone())
}

/// The readings of the interval and a tenth of it before and after, thinned, in seconds from its begin.
fn curve_of(trace: &Channel, interval: &Interval) -> String {
    let margin = interval.length() / 10;
    let wide = Interval::new(interval.from().saturating_sub(margin), interval.to().saturating_add(margin));
    let points = bath_log::thin(trace, &wide.unwrap_or(*interval), LOG_COLUMNS);
    let second = |ms: i64| Decimal::from(ms.saturating_sub(interval.from()).div_euclid(1000));
    computed::curve_text(points.into_iter().map(|(at, value)| (second(at), value)))
}

/// The limits of a bath's temperature that were judged, by the entry of its log.
type Limits = BTreeMap<Path, Vec<(Quantity, Quantity)>>;

fn limits(dossier: &Dossier, all: &[Computed]) -> Limits {
    if !all.iter().any(|c| c.log().is_some()) {
        return Limits::new();
    }
    let judged = Dossier { computed: all.to_vec(), ..dossier.clone() };
    let whole = judge::whole(&judged).into_owned();
    let findings = judge::judge(&judged);
    let mut limits = Limits::new();
    for computed in all.iter().filter(|c| c.log().is_some()) {
        let Some((run, step)) = step_of(&whole.record, &computed.named_at) else { continue };
        let subject = match step {
            Step::Passivate(_) | Step::Electropolish(_) => Subject::BathTemperature,
            Step::PostDip(_) => Subject::PostDipTemperature,
            Step::PostTreat(_) => Subject::PostTreatmentTemperature,
            Step::Bake(_) => Subject::HydrogenReliefTemperature,
            _ => continue,
        };
        let place = format!("run {run}");
        let of_run =
            findings.iter().filter(|f| f.place_in_lot == place && f.verdict != Verdict::NotApplicable);
        for finding in of_run {
            let Some((pack, id)) = finding.requirement.split_once('/') else { continue };
            let packs = whole.packs.iter().filter(|p| p.pack.pack == pack);
            let requirement = packs.flat_map(|p| &p.pack.requirements).find(|r| r.id == id);
            if let Some(Check::Within(windows)) =
                requirement.filter(|r| r.subject == subject && !r.advice).map(|r| &r.check)
            {
                let known = windows.iter().filter_map(|w| Some((w.from?, w.to?)));
                limits.entry(computed.named_at.clone()).or_default().extend(known);
            }
        }
    }
    limits
}

/// Adds the stretches beyond the window that stands in the log's own unit.
fn add_excursions(figures: &mut LogFigures, log: &Log, windows: &[(Quantity, Quantity)]) {
    let allowed = crate::logger::span_ms(&figures.allowed_gap).unwrap_or(0);
    let Some(interval) = Interval::between(&figures.from, &figures.to) else { return };
    let Some(trace) = log.traces().find(|t| t.channel().measures == Measures::Temperature) else { return };
    let Some(channel) = figures.channels.iter_mut().find(|c| c.measures == "temperature") else { return };
    let unit = channel.minimum.unit();
    let own = windows.iter().find(|(from, _)| from.unit() == unit).or_else(|| windows.first());
    let Some((lo, hi)) = own.copied() else { return };
    (channel.at_least, channel.at_most) = (Some(lo), Some(hi));
    let window = Window { lo: Some(lo), hi: Some(hi) };
    let Ok(within) = bath_log::within(&trace, &interval, &window, allowed) else { return };
    let each = within.excursions.iter().filter_map(|e| {
        let above = e.side == Side::Above;
        let from: Moment = log.moment(e.start)?;
        let worst = Quantity::new(e.worst.as_ref()?.value, unit);
        let limit = if above { hi } else { lo };
        Some(Excursion { limit, above, from, lasts: bath_log::spoken_span(e.length()), worst })
    });
    channel.excursions = each.collect();
}

/// The measurement an entry `measurements[i]...` belongs to.
fn measurement_of<'a>(record: &'a Record, entry: &Path) -> Option<&'a Measurement> {
    match entry.segments() {
        [Segment::Key(_), Segment::Index(i), ..] => record.measurements.get(*i),
        _ => None,
    }
}

fn of_trace(whole: &Dossier, entry: &Path, file: &TraceFile, bytes: &[u8]) -> Result<Reading, String> {
    let trace = match &file.form {
        Some(id) => {
            let form = whole.trace_forms.iter().find(|f| f.form == *id);
            let form = form.ok_or_else(|| format!("traces.yaml has no form `{id}`"))?;
            trace_file::read_csv(bytes, &form.layout).map_err(|fault| fault.to_string())?
        }
        None => trace_file::read_x3p(bytes, None).map_err(|fault| fault.to_string())?,
    };
    let measurement = measurement_of(&whole.record, entry).ok_or("no measurement names it")?;
    let (cutoff, cutoff_by, advised) = cutoff(whole, measurement)?;
    let points = trace.heights.len() as u64;
    let profile = Profile::new(trace.spacing, trace.heights).map_err(|error| error.to_string())?;
    let row = roughness::micrometres(&cutoff).and_then(roughness::stylus_row);
    let short_cutoff = row.map(|row| Quantity::new(row.short, Unit::Micrometre));
    let settings = Settings { short_cutoff, ..Settings::new(cutoff) };
    let found = roughness::evaluate(&profile, &settings).map_err(|error| error.to_string())?;
    let micrometre = |value: Decimal| Quantity::new(value, Unit::Micrometre);
    let parameters = &found.parameters;
    let said = |value: Option<Decimal>| value.map_or_else(String::new, |value| value.to_string());
    let kept = |heights: &[f64], columns| {
        computed::curve_text(picture::thin(heights, found.curves.spacing, columns, (1, 3)))
    };
    let lengths = found.settings.lengths;
    let evaluated = cutoff.value().checked_mul(Decimal::from(lengths)).ok_or("the cut-off is too long")?;
    Ok(Reading::Trace(Box::new(TraceFigures {
        points,
        spacing: crate::numeric::rounded(trace.spacing, 6)
            .map_or_else(String::new, |s| s.normalize().to_string()),
        cutoff,
        cutoff_by,
        short_cutoff,
        evaluated: Quantity::new(evaluated, cutoff.unit()),
        sampling_lengths: u64::from(lengths),
        ends: found.ends.to_string(),
        ra: micrometre(parameters.ra),
        rq: micrometre(parameters.rq),
        rz: micrometre(parameters.rz),
        rt: micrometre(parameters.rt),
        rsk: said(parameters.rsk),
        rku: said(parameters.rku),
        each_ra: found.each.iter().map(|length| micrometre(length.ra)).collect(),
        warnings: found.warnings.iter().map(ToString::to_string).chain(advised).collect(),
        profile: kept(&found.curves.primary, PROFILE_COLUMNS),
        mean_line: kept(&found.curves.mean_line, MEAN_COLUMNS),
    })))
}

/// The cut-off of a trace: as recorded, else as ordered, else by the upper limit ordered (ISO 21920-3).
fn cutoff(whole: &Dossier, m: &Measurement) -> Result<(Quantity, String, Option<String>), String> {
    if let Some(recorded) = m.cutoff {
        return Ok((recorded, "as recorded".to_owned(), None));
    }
    let line = whole.order.lines.iter().find(|l| l.line == whole.record.order.line);
    let also = line.map(|l| l.also_calls_for.as_slice()).unwrap_or_default();
    let asked: Vec<&CallOut> =
        whole.part.calls_for.iter().chain(also).filter(|c| c.limit == Some(m.what)).collect();
    if let Some(ordered) = asked.iter().find_map(|c| c.cutoff) {
        return Ok((ordered, "as ordered".to_owned(), None));
    }
    let rule = match m.what {
        Characteristic::Ra => CutoffRule::Iso21920Ra,
        Characteristic::Rz => CutoffRule::Iso21920Rz,
        _ => return Err("no cut-off is recorded or ordered: add `cutoff:`, as in 0.8 mm".to_owned()),
    };
    let limit = asked.iter().find_map(|c| c.at_most);
    let limit = limit.ok_or("no cut-off is recorded or ordered: add `cutoff:`, as in 0.8 mm")?;
    let choice = rule.choose(&limit).map_err(|error| error.to_string())?;
    Ok((choice.cutoff, choice.why, choice.warning))
}
