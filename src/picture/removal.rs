//! How much metal came off, as told by several ways of finding out, against what was allowed.

use rust_decimal::Decimal;

use super::Anchor;
use super::Drawing;
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
use super::sheet::LIMIT;
use super::sheet::Sheet;
use super::sheet::pen;

/// Micrometres in an inch: 25 400 exactly, from 1 in = 25.4 mm.
const MICROMETRES: Decimal = Decimal::from_parts(25_400, 0, 0, false, 0);
/// Height of a bar and the space around it.
const ROW: i64 = 1_700;

/// What one way of finding out says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Estimate {
    /// The way: `Charge passed`, `Weighing`, `Dimensions`.
    pub name: String,
    /// Removal from one surface, µm.
    pub value: Decimal,
    /// Expanded uncertainty to either side, µm.
    pub uncertainty: Option<Decimal>,
}

/// Estimates of metal removed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Removal {
    /// Heading.
    pub title: String,
    /// Hundredths of a point, [`super::FULL`] or [`super::HALF`]; held to 160 to 2000 pt.
    pub width: i64,
    /// From top to bottom; the first twelve are drawn.
    pub estimates: Vec<Estimate>,
    /// Least removal allowed, µm.
    pub low: Option<Decimal>,
    /// Greatest removal allowed, µm.
    pub high: Option<Decimal>,
}

/// Draws a bar for each estimate with its uncertainty as a measure across its end, what is allowed as a light
/// band between dashed rules, µm and under them inches on the axis. A bar that ends outside is hatched
/// instead of grey, and its value says on which side. Without an estimate the drawing says so.
pub fn removal(data: &Removal) -> Drawing {
    let mut sheet = Sheet::new(data.width, &data.title);
    let estimates: Vec<&Estimate> = data.estimates.iter().take(12).collect();
    let spans = estimates.iter().flat_map(|e| {
        let (value, most) = (tame(e.value), tame(e.uncertainty.unwrap_or_default()).abs());
        [value - most, value, value + most]
    });
    let values = spans.chain(data.low).chain(data.high).chain([Decimal::ZERO]);
    let (Some(values), false) = (range(values), estimates.is_empty()) else {
        return sheet.nothing("no estimate of metal removed");
    };
    let texts: Vec<String> = estimates.iter().map(|e| value_text(e)).collect();
    let widest = |texts: &mut dyn Iterator<Item = &str>, bold: bool| {
        texts.map(|t| text_width(t, TEXT, bold)).max().unwrap_or(0)
    };
    let left = widest(&mut estimates.iter().map(|e| e.name.as_str()), false) + 500;
    let left = left.clamp(2_500, sheet.width * 28 / 100);
    let right = widest(&mut texts.iter().map(String::as_str), true) + 600;
    let right = sheet.width - right.clamp(2_000, sheet.width * 34 / 100);

    let top = 2_700;
    let rows = i64::try_from(estimates.len()).unwrap_or(12);
    let area = Area { left, top, right, bottom: top + rows * ROW + 300 };
    let below = if values.0 < Decimal::ZERO { 6 } else { 0 };
    let scale = Scale::new(values, (left, right)).padded(below, 8);
    let x_of = |value: Decimal| scale.at(tame(value));

    if data.low.is_some() || data.high.is_some() {
        let band = Area { left: data.low.map_or(left, x_of), right: data.high.map_or(right, x_of), ..area };
        sheet.fill(band, 92);
    }
    scales(&mut sheet, &scale, (values, below), area);
    let zero = x_of(Decimal::ZERO);
    sheet.line((zero, area.top), (zero, area.bottom), FRAME);
    let mut words = String::new();
    let mut y = top + 150;
    for (estimate, text) in estimates.iter().zip(&texts) {
        bar(&mut sheet, estimate, data, (zero, &x_of), y);
        let base = y + ROW / 2 + 240;
        let name = clipped(&estimate.name, TEXT, false, left - 400);
        sheet.put((Anchor::End, left - 400, base), &name, TEXT, false);
        let shown = clipped(text, TEXT, true, sheet.width - right - 400);
        match side(estimate, data) {
            None => {
                sheet.put((Anchor::Start, right + 400, base), &shown, TEXT, true);
                words.push_str(&format!("{}: {text}. ", estimate.name));
            }
            Some(side) => {
                sheet.put((Anchor::Start, right + 400, base - 390), &shown, TEXT, true);
                sheet.put((Anchor::Start, right + 400, base + 420), side, TEXT, false);
                words.push_str(&format!("{}: {text}, {side}. ", estimate.name));
            }
        }
        y += ROW;
    }
    let head = Area { left: 0, top: 0, right: sheet.width, bottom: area.top };
    for (word, value) in [("min", data.low), ("max", data.high)] {
        let Some(value) = value else { continue };
        let x = x_of(value);
        sheet.line((x, area.top - 950), (x, area.bottom), LIMIT);
        let text = format!("{word} {} µm", said(value));
        let base = area.top - 450;
        let mut spots = vec![(Anchor::Start, x + 250, base), (Anchor::End, x - 250, base)];
        // Two limits turn away from each other.
        if word == "min" {
            spots.reverse();
        }
        sheet.place(&spots, &text, false, head);
        words.push_str(&format!("{text}. "));
    }
    sheet.finish(area.bottom + 2_500, words)
}

/// `12.4 ± 1.1 µm`.
fn value_text(estimate: &Estimate) -> String {
    let value = said(estimate.value);
    match estimate.uncertainty {
        Some(most) => format!("{value} ± {} µm", most.abs()),
        None => format!("{value} µm"),
    }
}

/// Whether the value itself lies outside.
fn side(estimate: &Estimate, data: &Removal) -> Option<&'static str> {
    if data.low.is_some_and(|low| estimate.value < low) {
        Some("below min")
    } else if data.high.is_some_and(|high| estimate.value > high) {
        Some("above max")
    } else {
        None
    }
}

/// Micrometres, and inches under them.
fn scales(sheet: &mut Sheet, scale: &Scale, (values, below): ((Decimal, Decimal), i64), area: Area) {
    // The units stand first; a tick in their way is not written.
    for (unit, y) in [("µm", area.bottom + 1_000), ("in", area.bottom + 2_300)] {
        sheet.put((Anchor::Start, area.right + 400, y), unit, TEXT, false);
    }
    let most = ((area.right - area.left) / 2_600).clamp(2, 10);
    for tick in scale.ticks(most) {
        let x = scale.at(tick);
        sheet.line((x, area.top), (x, area.bottom), GRID);
        sheet.line((x, area.bottom), (x, area.bottom + 250), FRAME);
        sheet.offer((Anchor::Middle, x, area.bottom + 1_000), &said(tick));
    }
    let inches = (tame(values.0) / MICROMETRES, tame(values.1) / MICROMETRES);
    let second = area.bottom + 1_300;
    // The same span, so that the same places fit.
    let lower = Scale::new(inches, (area.left, area.right)).padded(below, 8);
    for tick in lower.ticks((most * 2 / 3).max(4)) {
        let Some(value) = tick.checked_mul(MICROMETRES) else { continue };
        let x = scale.at(value);
        sheet.line((x, second), (x, second + 250), FRAME);
        sheet.offer((Anchor::Middle, x, second + 1_000), &said(tick));
    }
    sheet.line((area.left, second), (area.right, second), FRAME);
    sheet.line((area.left, area.bottom), (area.right, area.bottom), FRAME);
}

fn bar(
    sheet: &mut Sheet,
    e: &Estimate,
    data: &Removal,
    (zero, x_of): (i64, &impl Fn(Decimal) -> i64),
    y: i64,
) {
    let end = x_of(e.value);
    let area = Area { left: zero.min(end), right: zero.max(end), top: y + 350, bottom: y + ROW - 350 };
    if side(e, data).is_some() {
        sheet.fill(area, 100);
        let Area { left, top, right, bottom } = area;
        sheet.hatch(&[(left, top), (right, top), (right, bottom), (left, bottom)], pen(55, 0));
    } else {
        sheet.fill(area, 68);
    }
    sheet.outline(area, pen(60, 0));
    if let Some(most) = e.uncertainty {
        let (value, most) = (tame(e.value), tame(most).abs());
        let middle = y + ROW / 2;
        // White under it, so that it shows on grey and hatching.
        sheet.line((x_of(value - most), middle), (x_of(value + most), middle), pen(200, 100));
        sheet.measure((x_of(value - most), middle), (x_of(value + most), middle));
    }
}
