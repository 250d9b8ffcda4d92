//! A surface before and after: two profiles under each other on one scale.

use rust_decimal::Decimal;

use super::Anchor;
use super::Dash;
use super::Drawing;
use super::Pen;
use super::axis::Scale;
use super::axis::range;
use super::axis::said;
use super::axis::tame;
use super::metrics::TEXT;
use super::metrics::clipped;
use super::metrics::text_width;
use super::sheet::Area;
use super::sheet::FRAME;
use super::sheet::GRID;
use super::sheet::Sheet;
use super::sheet::pen;
use super::thin::thin_places;

/// One traced profile.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Profile<'a> {
    /// What it is: `Before electropolishing`.
    pub name: &'a str,
    /// Distance along the trace in mm and height in µm, in order of distance.
    pub points: &'a [(Decimal, Decimal)],
    /// The filtered mean line in the same units; empty where there is none.
    pub mean_line: &'a [(Decimal, Decimal)],
    /// Where the evaluation length begins and ends, mm.
    pub evaluation: Option<(Decimal, Decimal)>,
    /// Ra as printed, with its unit: `0.82 µm`.
    pub ra: Option<&'a str>,
}

/// Two profiles.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Roughness<'a> {
    /// Heading.
    pub title: &'a str,
    /// Hundredths of a point, [`super::FULL`] or [`super::HALF`]; held to 160 to 2000 pt.
    pub width: i64,
    /// Before the treatment.
    pub before: Option<Profile<'a>>,
    /// After it.
    pub after: Option<Profile<'a>>,
}

/// Draws the profiles on the same scales, each with its mean line dashed, its evaluation length measured
/// above it and its Ra written at its head. Of points closer together than the print shows, lowest and
/// highest stay. Without a point the drawing says so.
pub fn roughness(data: &Roughness<'_>) -> Drawing {
    let mut sheet = Sheet::new(data.width, data.title);
    let profiles: Vec<Profile> = [data.before, data.after].into_iter().flatten().collect();
    let drawn = || profiles.iter().filter(|p| !p.points.is_empty());
    let heights = range(drawn().flat_map(|p| p.points.iter().chain(p.mean_line)).map(|(_, z)| *z));
    let lengths = drawn().flat_map(|p| p.points.iter().chain(p.mean_line)).map(|(x, _)| *x);
    let lengths = range(lengths.chain(drawn().filter_map(|p| p.evaluation).flat_map(|(a, b)| [a, b])));
    let (Some(heights), Some(lengths)) = (heights, lengths) else { return sheet.nothing("no profile") };

    let tall = if sheet.narrow() { 5_200 } else { 6_000 };
    let (left, right) = (2_800, sheet.width - 800);
    let across = Scale::new(lengths, (left, right));
    let mut words = String::new();
    let mut top = 2_900;
    let mut bottom = top;
    for profile in &profiles {
        let area = Area { left, top, right, bottom: top + tall };
        bottom = area.bottom;
        let ra = profile.ra.map(|ra| format!("Ra {ra}")).unwrap_or_default();
        let ra = clipped(&ra, TEXT, true, sheet.width / 2);
        let room = sheet.width - text_width(&ra, TEXT, true) - 800;
        let name = clipped(&format!("{}, µm", profile.name), TEXT, false, room);
        sheet.put((Anchor::Start, 0, top - 950), &name, TEXT, false);
        sheet.put((Anchor::End, right, top - 950), &ra, TEXT, true);
        let up = Scale::new(heights, (area.bottom, area.top)).padded(6, 6);
        for tick in up.ticks(6) {
            let y = up.at(tick);
            sheet.line((left, y), (right, y), GRID);
            sheet.line((left - 250, y), (left, y), FRAME);
            let text = clipped(&said(tick), TEXT, false, left - 400);
            sheet.put((Anchor::End, left - 400, y + 240), &text, TEXT, false);
        }
        sheet.line((left, area.top), (left, area.bottom), FRAME);
        sheet.line((left, area.bottom), (right, area.bottom), FRAME);
        trace(&mut sheet, profile, &across, &up, area);
        words.push_str(&format!("{}: {} points, {}", profile.name, profile.points.len(), ra));
        if let Some((low, high)) = range(profile.points.iter().map(|(_, z)| *z)) {
            words.push_str(&format!(", heights from {} to {} µm", said(low), said(high)));
        }
        words.push_str(". ");
        top = area.bottom + 2_300;
    }
    for tick in across.ticks(if sheet.narrow() { 4 } else { 8 }) {
        let x = across.at(tick);
        sheet.line((x, bottom), (x, bottom + 250), FRAME);
        sheet.offer((Anchor::Middle, x, bottom + 1_000), &said(tick));
    }
    sheet.put((Anchor::End, right, bottom + 1_900), "along the trace, mm", TEXT, false);
    sheet.finish(bottom + 2_150, words)
}

fn trace(sheet: &mut Sheet, profile: &Profile<'_>, across: &Scale, up: &Scale, area: Area) {
    let place = |(x, z): &(Decimal, Decimal)| (across.at(tame(*x)), up.at(tame(*z)));
    if let Some((from, to)) = profile.evaluation {
        let (from, to) = (across.at(tame(from.min(to))), across.at(tame(from.max(to))));
        let rule = Pen { width: 50, tone: 0, dash: Dash::Dotted };
        for x in [from, to] {
            sheet.line((x, area.top - 550), (x, area.bottom), rule);
        }
        let y = area.top - 330;
        sheet.measure((from, y), (to, y));
        let head = Area { left: from + 300, top: 0, right: to - 300, bottom: area.top + 200 };
        sheet.place(&[(Anchor::Middle, (from + to) / 2, y + 240)], "evaluation length", false, head);
    }
    let points = thin_places(profile.points.iter().map(place), 60);
    if points.is_empty() {
        let middle = ((area.left + area.right) / 2, (area.top + area.bottom) / 2);
        sheet.place(&[(Anchor::Middle, middle.0, middle.1 + 240)], "no profile", false, area);
    }
    if let [alone] = points.as_slice() {
        sheet.mark(*alone, super::Form::Dot);
    }
    sheet.polyline(points, pen(45, 0));
    let mean = thin_places(profile.mean_line.iter().map(place), 60);
    // White under it, so that it shows on a dense trace.
    sheet.polyline(mean.clone(), pen(160, 100));
    sheet.polyline(mean, Pen { width: 90, tone: 0, dash: Dash::Dashed });
}
