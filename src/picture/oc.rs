//! What a sampling plan lets through: the probability of acceptance against the per cent nonconforming.

use rust_decimal::Decimal;

use super::Anchor;
use super::Dash;
use super::Drawing;
use super::Form;
use super::Pen;
use super::axis::Scale;
use super::axis::range;
use super::axis::said;
use super::axis::tame;
use super::metrics::TEXT;
use super::sheet::Area;
use super::sheet::FRAME;
use super::sheet::GRID;
use super::sheet::Sheet;
use super::sheet::TRACE;
use super::thin::thin_places;

/// A point of the curve: per cent nonconforming, probability of acceptance (0 to 1).
pub type OcPoint = (Decimal, Decimal);

/// The operating characteristic of a single sampling plan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OcCurve {
    /// Heading.
    pub title: String,
    /// Hundredths of a point, [`super::FULL`] or [`super::HALF`]; held to 160 to 2000 pt.
    pub width: i64,
    /// Pieces looked at.
    pub n: u64,
    /// Nonconforming pieces with which the lot is still accepted.
    pub ac: u64,
    /// In order of per cent nonconforming.
    pub points: Vec<OcPoint>,
    /// The acceptance quality limit, per cent, and the probability of acceptance there; the producer's risk
    /// is what is missing to 1.
    pub aql: Option<OcPoint>,
    /// The lot tolerance per cent defective and the probability of acceptance there, which is the consumer's
    /// risk.
    pub ltpd: Option<OcPoint>,
}

/// Draws the curve with the plan named on it. At the AQL (dot) the producer's risk is measured from the curve
/// up to 1, at the LTPD (ring) the consumer's from 0 up to the curve; both are written in per cent. Without
/// points the drawing says so.
pub fn oc_curve(data: &OcCurve) -> Drawing {
    let mut sheet = Sheet::new(data.width, &data.title);
    if data.points.is_empty() {
        return sheet.nothing("no curve");
    }
    let all = data.points.iter().chain(&data.aql).chain(&data.ltpd).map(|(p, _)| *p);
    let Some(per_cent) = range(all.chain([Decimal::ZERO])) else { return sheet.nothing("no curve") };
    let tall = if sheet.narrow() { 9_500 } else { 12_000 };
    let area = Area { left: 2_600, top: 2_500, right: sheet.width - 800, bottom: 2_500 + tall };
    let across = Scale::new(per_cent, (area.left, area.right));
    let up = Scale::new((Decimal::ZERO, Decimal::ONE), (area.bottom, area.top));
    let place = |(p, pa): &OcPoint| (across.at(tame(*p)), up.at(*pa));

    sheet.put((Anchor::Start, 0, 1_950), "Probability of acceptance", TEXT, false);
    for tick in up.ticks(5) {
        let y = up.at(tick);
        sheet.line((area.left, y), (area.right, y), GRID);
        sheet.line((area.left - 250, y), (area.left, y), FRAME);
        sheet.put((Anchor::End, area.left - 400, y + 240), &said(tick), TEXT, false);
    }
    for tick in across.ticks(if sheet.narrow() { 5 } else { 10 }) {
        let x = across.at(tick);
        sheet.line((x, area.bottom), (x, area.bottom + 250), FRAME);
        sheet.offer((Anchor::Middle, x, area.bottom + 1_000), &said(tick));
    }
    sheet.line((area.left, area.top), (area.left, area.bottom), FRAME);
    sheet.line((area.left, area.bottom), (area.right, area.bottom), FRAME);
    sheet.put((Anchor::End, area.right, area.bottom + 1_900), "per cent nonconforming", TEXT, false);

    let curve = thin_places(data.points.iter().map(place), 60);
    sheet.avoid(&curve);
    if let [alone] = curve.as_slice() {
        sheet.mark(*alone, Form::Dot);
    }
    let plan = format!("n = {}, Ac = {}", data.n, data.ac);
    let risks = [
        ("AQL", "producer's risk", Form::Dot, data.aql, Decimal::ONE, area.top),
        ("LTPD", "consumer's risk", Form::Ring, data.ltpd, Decimal::ZERO, area.bottom),
    ];
    let mut words = format!("{plan}. ");
    for (_, _, _, point, _, end) in &risks {
        let Some((x, y)) = point.as_ref().map(place) else { continue };
        let rule = Pen { width: 50, tone: 0, dash: Dash::Dotted };
        sheet.line((x, y), (x, area.bottom), rule);
        sheet.line((area.left, y), (x, y), rule);
        sheet.measure((x, y), (x, *end));
        sheet.avoid(&[(x, area.top), (x, area.bottom)]);
        sheet.avoid(&[(area.left, y), (x, y)]);
    }
    sheet.polyline(curve.clone(), TRACE);
    for (name, risk, form, point, from, _) in risks {
        let Some(point) = point else { continue };
        let at = place(&point);
        sheet.mark(at, form);
        let size = (from - point.1.clamp(Decimal::ZERO, Decimal::ONE)).abs() * Decimal::ONE_HUNDRED;
        let first = format!("{name} {} %", said(point.0));
        let second = format!("{risk} {} %", said(size.normalize()));
        words.push_str(&format!("{first}: accepted with probability {}, {second}. ", said(point.1)));
        let spots = beside(at, &[-300, -1_100, 500, 1_300, 2_100]);
        let _ = sheet.place_lines(&spots, &[(&first, true), (&second, false)], area)
            || sheet.place(&spots, &first, true, area);
    }
    // On the curve's right, about half way down.
    if let Some((x, y)) = curve.iter().min_by_key(|(_, y)| (y - (area.top + area.bottom) / 2).abs()) {
        let spots = beside((*x, *y + 240), &[0, -800, 800, -1_600]);
        sheet.place(&spots, &plan, true, area);
    }
    sheet.finish(area.bottom + 2_150, words)
}

/// Places beside a point, the nearest first, some steps up and down.
fn beside((x, y): (i64, i64), steps: &[i64]) -> Vec<(Anchor, i64, i64)> {
    let away = [500, 1_000, 1_600, 2_400, 3_600];
    let spots = away.into_iter().flat_map(|dx| steps.iter().map(move |dy| (dx, *dy)));
    spots.flat_map(|(dx, dy)| [(Anchor::Start, x + dx, y + dy), (Anchor::End, x - dx, y + dy)]).collect()
}
