//! A logger's file over an interval: least, greatest, mean, time inside a window, excursions, gaps.

use std::path::PathBuf;

use rust_decimal::Decimal;

use super::Figure;
use super::Limits;
use super::Standing;
use super::Table;
use super::Worked;
use crate::app::book;
use crate::app::error::Error;
use crate::bath_log;
use crate::bath_log::Interval;
use crate::bath_log::Log;
use crate::bath_log::Side;
use crate::bath_log::Summary;
use crate::bath_log::Trace;
use crate::bath_log::Window;
use crate::bath_log::Within;
use crate::folder;
use crate::folder::Folder;
use crate::log_file;
use crate::logger::Logger;
use crate::logger::Loggers;
use crate::logger::Measures;
use crate::logger::span_ms;
use crate::moment::Moment;
use crate::picture;
use crate::picture::BathLog;
use crate::picture::Drawing;
use crate::picture::Panel;
use crate::units::Quantity;
use crate::units::Unit;
use crate::validate;

/// A log and what is asked of it.
#[derive(Debug, Clone)]
pub struct LogRequest {
    /// The file.
    pub file: PathBuf,
    /// The logger that wrote it, by its id in `loggers.yaml`.
    pub logger: String,
    /// What is looked at, in the words of the map; left out: its first column.
    pub measures: Option<String>,
    /// Where the interval begins; left out: with the first reading.
    pub from: Option<Moment>,
    /// Where it ends; left out: with the last reading.
    pub to: Option<Moment>,
    /// The window.
    pub window: Limits,
    /// Longest time between readings that is taken as covered; left out: twice the logger's interval.
    pub allowed_gap: Option<Quantity>,
}

/// Readings a logger may miss in a row, as the judge lets it: the gap is then twice its interval.
const MISSED: i64 = 2;

/// A channel of a log over an interval.
///
/// # Errors
/// No such logger, a file that does not fit its map, no such channel, an interval without readings, a window
/// of another kind.
pub fn log(folder: &Folder, request: &LogRequest) -> Result<Worked, Error> {
    let logger = logger(folder, &request.logger)?;
    let file = request.file.display().to_string();
    let bytes = folder::read(&request.file)?;
    let log = log_file::read(&bytes, &logger)
        .map_err(|fault| Error::Cannot { message: format!("{file}: {fault}"), hint: None })?;
    let traces: Vec<Trace> = log.traces().collect();
    let trace = channel(&traces, request.measures.as_deref(), &logger)?;
    let interval = interval(&log, request)?;
    let allowed = allowed(&logger, request)?;
    let found = bath_log::summary(trace, &interval, allowed);
    let word = found.measures.word();
    let (Some(least), Some(most)) = (found.min, found.max) else {
        let message = format!(
            "{file}: no reading of `{}` between {} and {}",
            found.header,
            time(&log, interval.from()),
            time(&log, interval.to())
        );
        let ends = trace.ends().map(|(a, b)| format!("it reads from {} to {}", time(&log, a), time(&log, b)));
        return Err(Error::Cannot { message, hint: ends });
    };
    let over = format!("{} to {}", time(&log, interval.from()), time(&log, interval.to()));
    let mut worked = Worked::new("log", format!("{word} by {} over {over}", logger.logger));
    let reading = |value: Decimal| Quantity::new(value, found.unit);
    for (name, title, at) in [("least", "least reading", least), ("most", "greatest reading", most)] {
        let figure = Figure::of(name, title, &reading(at.value));
        worked.figures.push(figure.noted(format!("at {}", time(&log, at.at))));
    }
    if let Some(mean) = found.mean {
        let figure = Figure::of("mean", "mean", &reading(mean));
        worked.figures.push(figure.noted("over the time the readings cover"));
    }
    worked.figures.push(span("length", "length of the interval", interval.length()));
    worked.figure("readings", "readings in it", found.readings, "");
    coverage(&log, &found, &mut worked);
    if let Ok(charge) = bath_log::charge(trace, &interval, allowed) {
        let figure =
            Figure::new("charge", "charge passed", charge.ampere_minutes, Unit::AmpereMinute.symbol());
        let note = if charge.whole { "over the whole interval" } else { "of the time covered only" };
        worked.figures.push(figure.noted(note));
    }
    if !request.window.is_open() {
        let window = Window { lo: request.window.at_least, hi: request.window.at_most };
        let within = bath_log::within(trace, &interval, &window, allowed)?;
        against(&log, found.unit, &within, request, &mut worked);
        worked.standing = Some(standing(&within, &found, request));
    }
    worked.step("mean = area under the straight lines between readings / time they cover (trapezoidal rule)");
    worked.step(format!(
        "a time between readings over {} counts as unknown: neither inside nor outside",
        spoken(allowed)
    ));
    worked.source(format!("the map of {} in loggers.yaml: {}", logger.logger, logger.what));
    if request.allowed_gap.is_none() {
        worked.source("the gap allowed is twice the logger's interval: a rule of this tool");
    }
    worked.mind("Readings as the logger wrote them: no correction of its sensor is applied.");
    worked.drawing = Some(drawing(&log, trace, &interval, allowed, request));
    Ok(worked)
}

fn logger(folder: &Folder, id: &str) -> Result<Logger, Error> {
    const FILE: &str = "loggers.yaml";
    if !folder.has(FILE) {
        return Err(Error::cannot(
            format!("{} has no {FILE}", folder.root().display()),
            "name the shop folder with --shop, and map the logger's file in loggers.yaml once",
        ));
    }
    let all = book::read::<Loggers>(folder, FILE, validate::loggers)?.document.loggers;
    let known: Vec<String> = all.iter().map(|l| l.logger.clone()).collect();
    all.into_iter().find(|l| l.logger == id).ok_or_else(|| {
        Error::cannot(format!("{FILE} has no logger `{id}`"), &format!("it has: {}", known.join(", ")))
    })
}

fn channel<'a, 'b>(
    traces: &'b [Trace<'a>],
    measures: Option<&str>,
    logger: &Logger,
) -> Result<&'b Trace<'a>, Error> {
    let found = match measures {
        None => traces.first(),
        Some(word) => traces.iter().find(|t| t.channel().measures.word() == word),
    };
    found.ok_or_else(|| {
        let known: Vec<&str> = traces.iter().map(|t| t.channel().measures.word()).collect();
        let message = format!("logger {} does not measure {}", logger.logger, measures.unwrap_or("anything"));
        Error::cannot(message, &format!("it measures: {}", known.join(", ")))
    })
}

fn interval(log: &Log, request: &LogRequest) -> Result<Interval, Error> {
    let (first, last) = match log.times() {
        [first, .., last] => (*first, *last),
        _ => return Err(Error::cannot("the log has one reading only", "give a log of a longer time")),
    };
    let from = request.from.as_ref().map_or(first, bath_log::instant_ms);
    let to = request.to.as_ref().map_or(last, bath_log::instant_ms);
    Interval::new(from, to).ok_or_else(|| {
        let message = format!("the interval from {} to {} has no length", time(log, from), time(log, to));
        let ends = format!(
            "give --from before --to; the log reads from {} to {}",
            time(log, first),
            time(log, last)
        );
        Error::cannot(message, &ends)
    })
}

fn allowed(logger: &Logger, request: &LogRequest) -> Result<i64, Error> {
    let span = request.allowed_gap.unwrap_or(logger.interval);
    let ms = span_ms(&span).filter(|ms| *ms > 0).ok_or_else(|| {
        Error::cannot(format!("a gap of {span} is no time"), "write it as in `30 s` or `2 min`")
    })?;
    let ms = if request.allowed_gap.is_some() { ms } else { ms.saturating_mul(MISSED) };
    if ms > bath_log::LONGEST_ALLOWED {
        let message = format!("a gap of {span}: no line is drawn across more than a day");
        return Err(Error::cannot(message, "allow a shorter gap"));
    }
    Ok(ms)
}

/// An instant by the logger's own clock.
fn time(log: &Log, at: i64) -> String {
    log.moment(at).map_or_else(|| "a time beyond the calendar".to_owned(), |moment| moment.to_string())
}

/// A span in seconds, and spoken beside it where it is long.
fn span(figure: &'static str, name: &str, ms: i64) -> Figure {
    let found = Figure::new(figure, name, Decimal::new(ms, 3).normalize(), Unit::Second.symbol());
    if ms < 120_000 { found } else { found.noted(spoken(ms)) }
}

/// `3 h 59 min 45 s`.
fn spoken(ms: i64) -> String {
    let (hours, minutes) = (ms.div_euclid(3_600_000), ms.rem_euclid(3_600_000).div_euclid(60_000));
    let seconds = Decimal::new(ms.rem_euclid(60_000), 3).normalize();
    let parts = [(Decimal::from(hours), "h"), (Decimal::from(minutes), "min"), (seconds, "s")];
    let said: Vec<String> =
        parts.iter().filter(|(n, _)| !n.is_zero()).map(|(n, unit)| format!("{n} {unit}")).collect();
    if said.is_empty() { "0 s".to_owned() } else { said.join(" ") }
}

fn coverage(log: &Log, found: &Summary, worked: &mut Worked) {
    let covered = &found.coverage;
    worked.figures.push(span("covered", "covered by readings", covered.covered));
    if let Some(longest) = &covered.longest {
        let figure = span("longest_gap", "longest time between readings", longest.length());
        worked.figures.push(figure.noted(format!("from {}", time(log, longest.from))));
    }
    let mut rows: Vec<Vec<String>> = Vec::new();
    let mut add = |from: i64, ms: i64| rows.push(vec![time(log, from), spoken(ms)]);
    if !covered.reaches_start() {
        add(found.interval.from(), covered.missing_before);
    }
    covered.gaps.iter().for_each(|gap| add(gap.from, gap.length()));
    if !covered.reaches_end() {
        add(found.interval.to().saturating_sub(covered.missing_after), covered.missing_after);
    }
    if !rows.is_empty() {
        let columns = vec!["from", "lasts"];
        worked.tables.push(Table {
            table: "gaps",
            name: "Gaps: what happened in them nobody knows".to_owned(),
            columns,
            rows,
        });
    }
}

fn against(log: &Log, unit: Unit, within: &Within, request: &LogRequest, worked: &mut Worked) {
    let times = [
        ("inside", "time inside the window", within.inside),
        ("above", "time above it", within.above),
        ("below", "time below it", within.below),
        ("unknown", "time not known", within.unknown),
    ];
    for (word, name, ms) in times {
        worked.figures.push(span(word, name, ms));
    }
    if within.excursions.is_empty() {
        return;
    }
    let row = |e: &bath_log::Excursion| {
        let limit = if e.side == Side::Above { request.window.at_most } else { request.window.at_least };
        let worst = e.worst.map_or_else(String::new, |r| format!("{} {unit}", r.value));
        let beyond = e.beyond.map_or_else(String::new, |b| format!("{b} {unit}"));
        let side = if e.side == Side::Above { "above" } else { "below" };
        vec![
            format!("{side} {}", limit.map(|l| l.to_string()).unwrap_or_default()),
            time(log, e.start),
            spoken(e.length()),
            worst,
            beyond,
        ]
    };
    worked.tables.push(Table {
        table: "excursions",
        name: "Excursions".to_owned(),
        columns: vec!["side", "from", "lasts", "worst", "beyond by"],
        rows: within.excursions.iter().map(row).collect(),
    });
}

fn standing(within: &Within, found: &Summary, request: &LogRequest) -> Standing {
    let words = request.window.words();
    let times = within.excursions.len();
    if times > 0 {
        let times = if times == 1 { "once".to_owned() } else { format!("{times} times") };
        return Standing::Outside(format!("out of the window {times}: expected {words}"));
    }
    if !found.coverage.complete() {
        return Standing::CannotTell(format!(
            "no reading is out of the window, but the readings do not cover the interval; expected \
            {words} throughout"
        ));
    }
    Standing::Inside(format!("every reading is {words}"))
}

fn drawing(log: &Log, trace: &Trace, interval: &Interval, allowed: i64, request: &LogRequest) -> Drawing {
    let channel = trace.channel();
    let second = |ms: i64| ms.div_euclid(1000);
    // All of them: thinned ones would lie further apart than a gap, and the picture leaves gaps open.
    let inside = trace.readings().filter(|r| (interval.from()..=interval.to()).contains(&r.at));
    let readings = inside.map(|r| (second(r.at), r.value));
    let limit = |limit: Option<Quantity>| limit.and_then(|l| l.value_in(channel.unit)).map(|v| v.round_dp(2));
    let name = match channel.measures {
        Measures::Temperature => "Temperature",
        Measures::Ph => "pH",
        Measures::Conductivity => "Conductivity",
        Measures::Current => "Current",
        Measures::Voltage => "Voltage",
        Measures::Humidity => "Humidity",
    };
    let unit = if channel.unit == Unit::Ph { "" } else { channel.unit.symbol() };
    picture::bath_log(&BathLog {
        title: format!("{name} by {}", request.logger),
        width: picture::FULL,
        offset: log.offset().millis().div_euclid(1000),
        main: Panel {
            name: name.to_owned(),
            unit: unit.to_owned(),
            readings: readings.collect(),
            low: limit(request.window.at_least),
            high: limit(request.window.at_most),
        },
        second: None,
        // Only whoever names the times says when work was in.
        immersed: request.from.or(request.to).map(|_| (second(interval.from()), second(interval.to()))),
        longest_gap: Some(allowed.div_euclid(1000)),
    })
}
