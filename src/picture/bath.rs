//! What a bath did while the lot was in it: readings over the wall clock's time against their window.

use rust_decimal::Decimal;

use super::Anchor;
use super::Dash;
use super::Drawing;
use super::Form;
use super::Pen;
use super::Point;
use super::axis::Scale;
use super::axis::TimeScale;
use super::axis::range;
use super::axis::said;
use super::axis::tame;
use super::metrics::TEXT;
use super::metrics::clipped;
use super::metrics::text_width;
use super::sheet::Area;
use super::sheet::FRAME;
use super::sheet::GRID;
use super::sheet::LIMIT;
use super::sheet::Sheet;
use super::sheet::TRACE;
use super::sheet::pen;
use super::thin::thin_places;

/// Excursions that are named by their depth; further ones are hatched only.
const MOST_NAMED: usize = 6;

/// One measured quantity of the log.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Panel {
    /// What was measured: `Temperature`.
    pub name: String,
    /// Its unit as printed: `°F`; empty for a pure number such as pH.
    pub unit: String,
    /// Seconds since 1970 UTC and the reading, in the unit. Put in order of time here.
    pub readings: Vec<(i64, Decimal)>,
    /// Lowest value allowed, in the unit.
    pub low: Option<Decimal>,
    /// Highest value allowed, in the unit.
    pub high: Option<Decimal>,
}

/// A bath's log.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BathLog {
    /// Heading.
    pub title: String,
    /// Hundredths of a point, [`super::FULL`] or [`super::HALF`]; held to 160 to 2000 pt.
    pub width: i64,
    /// The wall clock's offset, in seconds east of UTC.
    pub offset: i64,
    /// The quantity the window is about, usually temperature.
    pub main: Panel,
    /// A second one under it: current, pH.
    pub second: Option<Panel>,
    /// When the work went in and came out, seconds since 1970 UTC. What counts as an excursion, least or
    /// greatest is taken from these times only; without them, from the whole log.
    pub immersed: Option<(i64, i64)>,
    /// Longest time between two readings still joined by a line, in seconds; without it all are joined.
    pub longest_gap: Option<i64>,
}

/// Readings next to each other that lie beyond one limit.
struct Excursion {
    time: i64,
    value: Decimal,
    depth: Decimal,
    above: bool,
}

/// Draws the log. The window is a light band between dashed limits, each named with value and unit; the
/// immersion is measured above the panel; what lies beyond a limit is hatched down to it and the depth of its
/// worst reading written; readings further apart than the longest gap are not joined; least and greatest
/// reading are ringed and named. Without a reading of the main quantity the drawing says so.
pub fn bath_log(log: &BathLog) -> Drawing {
    let mut sheet = Sheet::new(log.width, &log.title);
    let mut main = log.main.clone();
    main.readings.sort_by_key(|(time, _)| *time);
    let second = log.second.clone().filter(|p| !p.readings.is_empty()).map(|mut panel| {
        panel.readings.sort_by_key(|(time, _)| *time);
        panel
    });
    let immersed = log.immersed.map(|(a, b)| (a.min(b), a.max(b)));
    let times = main.readings.iter().chain(second.iter().flat_map(|p| &p.readings)).map(|(time, _)| *time);
    let times = times.chain(immersed.into_iter().flat_map(|(a, b)| [a, b]));
    let span =
        times.fold(None, |s, t| s.map_or(Some((t, t)), |(a, b): (i64, i64)| Some((a.min(t), b.max(t)))));
    let (Some(span), false) = (span, main.readings.is_empty()) else { return sheet.nothing("no readings") };

    let widest = [Some(&main), second.as_ref()].into_iter().flatten().flat_map(limits);
    let widest = widest.map(|(text, _)| text_width(&text, TEXT, false)).max().unwrap_or(0);
    let right = sheet.width - (widest + 500).clamp(1_200, sheet.width / 4);
    let time = TimeScale::new(span, (3_600, right), log.offset);

    let top = if immersed.is_some() { 3_500 } else { 2_500 };
    let tall = if sheet.narrow() { 8_500 } else { 11_000 };
    let area = Area { left: 3_600, top, right, bottom: top + tall };
    let lower = Area { top: area.bottom + 1_900, bottom: area.bottom + 1_900 + tall / 2, ..area };
    let bottom = if second.is_some() { lower.bottom } else { area.bottom };

    sheet.put((Anchor::Start, 0, 1_950), &named(&main), TEXT, false);
    if let Some((from, to)) = immersed {
        for x in [time.at(from), time.at(to)] {
            sheet.avoid(&[(x, area.top), (x, bottom)]);
        }
    }
    panel(&mut sheet, &main, &time, area, immersed, log.longest_gap);
    if let Some(second) = &second {
        sheet.put((Anchor::Start, 0, lower.top - 550), &named(second), TEXT, false);
        panel(&mut sheet, second, &time, lower, immersed, log.longest_gap);
    }
    if let Some(times) = immersed {
        immersion(&mut sheet, &time, times, area, bottom);
    }
    for (at, text) in time.ticks(if sheet.narrow() { 3_600 } else { 4_200 }) {
        let x = time.at(at);
        sheet.line((x, bottom), (x, bottom + 250), FRAME);
        sheet.offer((Anchor::Middle, x, bottom + 1_000), &text);
    }
    sheet.put((Anchor::End, right, bottom + 1_950), &time.caption(), TEXT, false);
    let mut words = described(&main, &time, immersed);
    if let Some(second) = &second {
        words.push(' ');
        words.push_str(&described(second, &time, immersed));
    }
    sheet.finish(bottom + 2_200, words)
}

/// `Temperature, °F`.
fn named(panel: &Panel) -> String {
    if panel.unit.is_empty() { panel.name.clone() } else { format!("{}, {}", panel.name, panel.unit) }
}

fn with_unit(value: Decimal, panel: &Panel) -> String {
    format!("{} {}", said(value), panel.unit).trim_end().to_owned()
}

/// The limits with what is written at each, the higher one first.
fn limits(panel: &Panel) -> Vec<(String, Decimal)> {
    let high = panel.high.map(|v| (format!("max {}", with_unit(v, panel)), v));
    let low = panel.low.map(|v| (format!("min {}", with_unit(v, panel)), v));
    high.into_iter().chain(low).collect()
}

fn within(time: i64, immersed: Option<(i64, i64)>) -> bool {
    immersed.is_none_or(|(from, to)| (from..=to).contains(&time))
}

/// The readings that count: those of the immersion, or all where none fell into it.
fn extremes(panel: &Panel, immersed: Option<(i64, i64)>) -> Option<((i64, Decimal), (i64, Decimal))> {
    let counted = |inside: bool| panel.readings.iter().filter(move |(t, _)| !inside || within(*t, immersed));
    let inside = counted(true).next().is_some();
    let low = counted(inside).min_by_key(|(_, v)| *v)?;
    // The first of equals.
    let high = counted(inside).rev().max_by_key(|(_, v)| *v)?;
    Some((*low, *high))
}

fn described(panel: &Panel, time: &TimeScale, immersed: Option<(i64, i64)>) -> String {
    let mut words = format!("{}: {} readings", named(panel), panel.readings.len());
    if let Some((low, high)) = extremes(panel, immersed) {
        words.push_str(&format!(
            ", least {} at {}, greatest {} at {}",
            with_unit(low.1, panel),
            time.clock(low.0),
            with_unit(high.1, panel),
            time.clock(high.0)
        ));
    }
    for (text, _) in limits(panel) {
        words.push_str(&format!(", {text}"));
    }
    if let Some((from, to)) = immersed {
        words.push_str(&format!("; in {}, out {}", time.clock(from), time.clock(to)));
    }
    for e in excursions(panel, immersed, None).iter().take(MOST_NAMED) {
        let side = if e.above { "above" } else { "below" };
        words.push_str(&format!("; {} {side} at {}", with_unit(e.depth, panel), time.clock(e.time)));
    }
    words.push('.');
    words
}

fn lasted(seconds: i64) -> String {
    match seconds {
        s if s % 60 == 0 => format!("{} min", s / 60),
        s if s < 60 => format!("{s} s"),
        s => format!("{} min {} s", s / 60, s % 60),
    }
}

/// The rules of immersion and its measure above the panel.
fn immersion(sheet: &mut Sheet, time: &TimeScale, (from, to): (i64, i64), area: Area, bottom: i64) {
    let (left, right, y) = (time.at(from), time.at(to), area.top - 600);
    for x in [left, right] {
        sheet.line((x, y - 220), (x, bottom), pen(70, 0));
    }
    sheet.measure((left, y), (right, y));
    let row = Area { left: 0, top: 0, right: sheet.width, bottom: area.top };
    let base = y + 240;
    let (came, went) = (format!("in {}", time.clock(from)), format!("out {}", time.clock(to)));
    let lasted = lasted(to.saturating_sub(from));
    let room = right - left - text_width(&lasted, TEXT, false);
    sheet.place(&[(Anchor::End, left - 250, base), (Anchor::Start, 0, base)], &came, true, row);
    sheet.place(&[(Anchor::Start, right + 250, base), (Anchor::End, sheet.width, base)], &went, true, row);
    if room > 700 {
        sheet.place(&[(Anchor::Middle, (left + right) / 2, base)], &lasted, false, row);
    }
}

fn panel(
    sheet: &mut Sheet,
    panel: &Panel,
    time: &TimeScale,
    area: Area,
    immersed: Option<(i64, i64)>,
    longest: Option<i64>,
) {
    let values = panel.readings.iter().map(|(_, v)| *v).chain(panel.low).chain(panel.high);
    let Some(values) = range(values) else { return };
    let scale = Scale::new(values, (area.bottom, area.top)).padded(16, 16);
    let up = |value: Decimal| scale.at(tame(value));

    let band =
        Area { top: panel.high.map_or(area.top, up), bottom: panel.low.map_or(area.bottom, up), ..area };
    if panel.high.is_some() || panel.low.is_some() {
        sheet.fill(band, 93);
    }
    let most = if area.bottom - area.top < 6_000 { 3 } else { 5 };
    for tick in scale.ticks(most) {
        let y = up(tick);
        sheet.line((area.left, y), (area.right, y), GRID);
        sheet.line((area.left - 250, y), (area.left, y), FRAME);
        let text = clipped(&said(tick), TEXT, false, area.left - 400);
        sheet.put((Anchor::End, area.left - 400, y + 240), &text, TEXT, false);
    }
    sheet.line((area.left, area.top), (area.left, area.bottom), FRAME);
    sheet.line((area.left, area.bottom), (area.right, area.bottom), FRAME);
    let mut free = area.top;
    for (text, value) in limits(panel) {
        let y = up(value);
        sheet.line((area.left, y), (area.right, y), LIMIT);
        sheet.avoid(&[(area.left, y), (area.right, y)]);
        let text = clipped(&text, TEXT, false, sheet.width - area.right - 250);
        let base = (y + 240).max(free);
        sheet.put((Anchor::Start, area.right + 250, base), &text, TEXT, false);
        free = base + 850;
    }

    let runs = runs(&panel.readings, longest);
    let traces: Vec<Vec<Point>> =
        runs.iter().map(|run| thin_places(run.iter().map(|(t, v)| (time.at(*t), up(*v))), 80)).collect();
    let stretch = immersed.map_or((area.left, area.right), |(a, b)| (time.at(a), time.at(b)));
    for trace in &traces {
        for (limit, above) in [(panel.high, true), (panel.low, false)] {
            let Some(limit) = limit.map(up) else { continue };
            for polygon in beyond(trace, stretch, limit, above) {
                sheet.hatch(&polygon, pen(55, 0));
            }
        }
        sheet.avoid(trace);
        if let [alone] = trace.as_slice() {
            sheet.mark(*alone, Form::Dot);
        }
        sheet.polyline(trace.clone(), TRACE);
    }
    gaps(sheet, &runs, time, area, &up);
    marks(sheet, panel, (time, &up), area, immersed, longest);
}

/// Readings in stretches without a gap.
fn runs(readings: &[(i64, Decimal)], longest: Option<i64>) -> Vec<&[(i64, Decimal)]> {
    readings.chunk_by(|a, b| longest.is_none_or(|most| b.0.saturating_sub(a.0) <= most)).collect()
}

/// Between two stretches: dotted rules where the record stops and goes on, and how long nothing was recorded.
fn gaps(
    sheet: &mut Sheet,
    runs: &[&[(i64, Decimal)]],
    time: &TimeScale,
    area: Area,
    up: &impl Fn(Decimal) -> i64,
) {
    let rule = Pen { width: 50, tone: 0, dash: Dash::Dotted };
    for (before, after) in runs.iter().zip(runs.iter().skip(1)).take(40) {
        let (Some(last), Some(next)) = (before.last(), after.first()) else { continue };
        let (left, right) = (time.at(last.0), time.at(next.0));
        for x in [left, right] {
            sheet.line((x, area.top), (x, area.bottom), rule);
            sheet.avoid(&[(x, area.top), (x, area.bottom)]);
        }
        let lost = lasted(next.0.saturating_sub(last.0));
        let middle = (left + right) / 2;
        let y = (up(last.1) + up(next.1)) / 2 + 240;
        let spots = [y, area.bottom - 350, area.top + 900].map(|y| (Anchor::Middle, middle, y));
        let inside = Area { left: left + 150, right: right - 150, ..area };
        let words = format!("no record {lost}");
        let _ = sheet.place(&spots, &words, false, inside)
            || sheet.place_lines(&spots, &[("no record", false), (&lost, false)], inside)
            || sheet.place(&spots, "gap", false, inside);
    }
}

/// The parts of a trace beyond a limit inside a stretch of the x axis, each closed along the limit.
fn beyond(trace: &[Point], (from, to): (i64, i64), limit: i64, above: bool) -> Vec<Vec<Point>> {
    let out = |y: i64| if above { y < limit } else { y > limit };
    let mut found = Vec::new();
    let mut open: Vec<Point> = Vec::new();
    for (a, b) in trace.iter().zip(trace.iter().skip(1)) {
        let (left, right) = (a.0.max(from), b.0.min(to));
        if left > right {
            continue;
        }
        let (a, b) =
            if a.0 == b.0 { (*a, *b) } else { ((left, along(*a, *b, left)), (right, along(*a, *b, right))) };
        let crossing = (a.0 + part(b.0 - a.0, limit - a.1, b.1 - a.1), limit);
        match (out(a.1), out(b.1)) {
            (true, true) => {
                if open.is_empty() {
                    open.extend([(a.0, limit), a]);
                }
                open.push(b);
            }
            (false, true) => open.extend([crossing, b]),
            (true, false) => {
                if open.is_empty() {
                    open.extend([(a.0, limit), a]);
                }
                open.push(crossing);
                found.push(std::mem::take(&mut open));
            }
            (false, false) => {}
        }
    }
    if let Some((x, _)) = open.last().copied() {
        open.push((x, limit));
        found.push(open);
    }
    found
}

/// `size * of / whole`, nothing for a whole of nothing.
fn part(size: i64, of: i64, whole: i64) -> i64 {
    let product = i128::from(size) * i128::from(of);
    product.checked_div(i128::from(whole)).and_then(|p| i64::try_from(p).ok()).unwrap_or_default()
}

fn along(a: Point, b: Point, x: i64) -> i64 {
    a.1 + part(b.1 - a.1, x - a.0, b.0 - a.0)
}

/// The worst reading of every stretch beyond a limit, the deepest first.
fn excursions(panel: &Panel, immersed: Option<(i64, i64)>, longest: Option<i64>) -> Vec<Excursion> {
    let side = |(time, value): &(i64, Decimal)| {
        let depth = |from: Option<Decimal>, above: bool| {
            let depth = if above { tame(*value) - tame(from?) } else { tame(from?) - tame(*value) };
            let counts = depth > Decimal::ZERO && within(*time, immersed);
            counts.then_some(Excursion { time: *time, value: *value, depth, above })
        };
        depth(panel.high, true).or_else(|| depth(panel.low, false))
    };
    let mut found: Vec<Excursion> = Vec::new();
    for run in runs(&panel.readings, longest) {
        let mut worst: Option<Excursion> = None;
        for reading in run {
            match (side(reading), &mut worst) {
                (Some(now), Some(held)) if now.above == held.above => {
                    if now.depth > held.depth {
                        *held = now;
                    }
                }
                (now, held) => found.extend(std::mem::replace(held, now)),
            }
        }
        found.extend(worst);
    }
    found.sort_by_key(|e| std::cmp::Reverse(e.depth));
    found
}

/// Excursions named by their depth, least and greatest reading by their value.
fn marks(
    sheet: &mut Sheet,
    panel: &Panel,
    (time, up): (&TimeScale, &impl Fn(Decimal) -> i64),
    area: Area,
    immersed: Option<(i64, i64)>,
    longest: Option<i64>,
) {
    let Some((low, high)) = extremes(panel, immersed) else { return };
    let found = excursions(panel, immersed, longest);
    let depth = |of: (i64, Decimal)| found.iter().find(|e| (e.time, e.value) == of);
    let signed = |e: &Excursion| format!("{}{}", if e.above { "+" } else { "\u{2212}" }, e.depth);
    let ends = if low.1 == high.1 { vec![(high, true)] } else { vec![(high, true), (low, false)] };
    for (reading, above) in &ends {
        let mut text = format!("{} {}", if *above { "highest" } else { "lowest" }, said(reading.1));
        if low.1 == high.1 {
            text = format!("all {}", said(reading.1));
        }
        if let Some(e) = depth(*reading) {
            text = format!("{text} ({})", signed(e));
        }
        let at = (time.at(reading.0), up(reading.1));
        sheet.mark(at, Form::Ring);
        let spots = around(at, *above);
        if !sheet.place(&spots, &text, false, area) {
            sheet.place(&spots, &said(reading.1), false, area);
        }
    }
    for e in found.iter().take(MOST_NAMED) {
        if ends.iter().any(|(reading, _)| *reading == (e.time, e.value)) {
            continue;
        }
        let at = (time.at(e.time), up(e.value));
        sheet.mark(at, Form::Cross);
        sheet.place(&around(at, e.above), &with_unit_text(&signed(e), panel), false, area);
    }
}

fn with_unit_text(text: &str, panel: &Panel) -> String {
    format!("{text} {}", panel.unit).trim_end().to_owned()
}

/// Places for the name of a point, on the side it points to first.
fn around((x, y): Point, above: bool) -> Vec<(Anchor, i64, i64)> {
    let near = if above { y - 450 } else { y + 900 };
    let far = if above { y - 1_150 } else { y + 1_600 };
    let (other, beyond) = if above { (y + 900, y + 1_700) } else { (y - 450, y - 1_250) };
    vec![
        (Anchor::Middle, x, near),
        (Anchor::Start, x + 400, near),
        (Anchor::End, x - 400, near),
        (Anchor::Start, x + 450, y + 240),
        (Anchor::End, x - 450, y + 240),
        (Anchor::Middle, x, far),
        (Anchor::Start, x + 400, far),
        (Anchor::End, x - 400, far),
        (Anchor::Middle, x, other),
        (Anchor::Start, x + 400, other),
        (Anchor::End, x - 400, other),
        (Anchor::Start, x + 400, beyond),
        (Anchor::End, x - 400, beyond),
    ]
}
