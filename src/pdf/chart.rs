//! Charts of a report: bars by kind, readings over time against limits. Legible in black and white: what differs
//! differs in form and is told in words, never by colour alone.

use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use super::draw::Canvas;
use super::error::PdfError;
use super::fonts::Face;
use super::layout::Layout;
use super::layout::Look;
use super::rows::Align;
use super::rows::Cell;
use super::rows::Ink;
use super::tags::NodeId;
use crate::moment::Moment;

/// One bar.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bar {
    /// What it stands for.
    pub label: String,
    /// How long it is; negative ones are drawn as nothing.
    pub value: Decimal,
    /// What is written at its end.
    pub said: String,
}

/// One reading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reading {
    /// When.
    pub at: Moment,
    /// What, in the chart's unit.
    pub value: Decimal,
    /// Whether it is marked with a cross instead of a square.
    pub marked: bool,
}

/// A chart.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Chart {
    /// Bars under each other, in their order.
    Bars {
        /// What the chart shows, for those who cannot see it too.
        title: String,
        /// The bars.
        bars: Vec<Bar>,
    },
    /// Readings over time; days are those of the wall calendar where each was recorded.
    Times {
        /// What the chart shows, for those who cannot see it too.
        title: String,
        /// Oldest first.
        readings: Vec<Reading>,
        /// Lines across, each with what is written at its end.
        limits: Vec<(String, Decimal)>,
        /// Whether readings are joined by a line: where each stands until the next.
        joined: bool,
    },
}

/// Readings after which a chart would be a smear.
const MOST_READINGS: usize = 5_000;
const BAR: f64 = 14.0;
const LABELS: f64 = 190.0;
const PLOT: f64 = 150.0;
const SMALL: Look = Look { face: Face::Text, size: 7.6, leading: 9.6, ink: Ink::Black };
const DAY: i64 = 86_400;

enum Shape {
    Fill { x: f64, y: f64, width: f64, height: f64 },
    Stroke { points: Vec<(f64, f64)>, width: f64, tone: f32, dashed: bool },
}

/// A chart laid out, from its own left and top edge.
pub(super) struct Plot {
    pub(super) height: f64,
    texts: Vec<(Cell, f64)>,
    shapes: Vec<Shape>,
}

impl Chart {
    /// The words that stand for it.
    pub(super) fn title(&self) -> &str {
        match self {
            Chart::Bars { title, .. } | Chart::Times { title, .. } => title,
        }
    }

    /// Lays it out in the layout's width; its texts belong to `node`.
    ///
    /// # Errors
    /// [`PdfError::NoGlyph`]; [`PdfError::Engine`] when there are too many readings.
    pub(super) fn plot(&self, layout: &mut Layout<'_, '_>, node: NodeId) -> Result<Plot, PdfError> {
        let mut plot = Plot { height: 0.0, texts: Vec::new(), shapes: Vec::new() };
        match self {
            Chart::Bars { bars, .. } => plot.bars(bars, layout, node)?,
            Chart::Times { readings, limits, joined, .. } => {
                if readings.len() > MOST_READINGS {
                    let detail = format!("{} readings in a chart, at most {MOST_READINGS}", readings.len());
                    return Err(PdfError::Engine { detail });
                }
                plot.times(readings, limits, *joined, layout, node)?;
            }
        }
        Ok(plot)
    }
}

fn number(value: Decimal) -> f64 {
    value.to_f64().unwrap_or_default()
}

/// A round step that cuts `span` into at most `most` parts: 1, 2 or 5 times a power of ten.
fn step(span: f64, most: f64) -> f64 {
    let mut step = 0.001;
    for factor in [2.0, 2.5, 2.0].into_iter().cycle().take(40) {
        if span / step <= most {
            break;
        }
        step *= factor;
    }
    step
}

/// Days between marks of the calendar, so that there are at most eight.
fn day_step(days: i64) -> i64 {
    [1, 2, 7, 14, 28, 91, 182, 364].into_iter().find(|step| days / step < 8).unwrap_or(3_640)
}

/// Seconds of the wall clock.
fn wall(at: &Moment) -> i64 {
    at.instant().naive_local().and_utc().timestamp()
}

impl Plot {
    fn text(
        &mut self,
        text: &str,
        (x, y, width): (f64, f64, f64),
        align: Align,
        layout: &mut Layout<'_, '_>,
        node: NodeId,
    ) -> Result<(), PdfError> {
        let mut cell = layout.cell(text, SMALL, x, width, node)?;
        let mut kept = text.chars().count();
        while cell.lines.len() > 1 && kept > 1 {
            kept = kept.saturating_sub(1);
            let short: String = text.chars().take(kept).collect();
            cell = layout.cell(&format!("{}…", short.trim_end()), SMALL, x, width, node)?;
        }
        cell.lines.truncate(1);
        cell.align = align;
        self.texts.push((cell, y));
        Ok(())
    }

    fn line(&mut self, from: (f64, f64), to: (f64, f64), width: f64, tone: f32, dashed: bool) {
        self.shapes.push(Shape::Stroke { points: vec![from, to], width, tone, dashed });
    }

    fn bars(&mut self, bars: &[Bar], layout: &mut Layout<'_, '_>, node: NodeId) -> Result<(), PdfError> {
        let most = bars.iter().map(|bar| number(bar.value)).fold(0.0, f64::max);
        let room = (layout.width - LABELS - 130.0).max(40.0);
        let mut y = 2.0;
        for bar in bars {
            let value = number(bar.value).max(0.0);
            let width = if most > 0.0 { value / most * room } else { 0.0 };
            self.text(&bar.label, (0.0, y + 1.6, LABELS - 6.0), Align::Right, layout, node)?;
            if width > 0.0 {
                self.shapes.push(Shape::Fill { x: LABELS, y: y + 2.5, width, height: BAR - 5.0 });
            }
            self.text(&bar.said, (LABELS + width + 5.0, y + 1.6, 125.0), Align::Left, layout, node)?;
            y += BAR;
        }
        self.line((LABELS, 0.0), (LABELS, y + 2.0), 0.7, 0.0, false);
        self.height = y + 4.0;
        Ok(())
    }

    fn times(
        &mut self,
        readings: &[Reading],
        limits: &[(String, Decimal)],
        joined: bool,
        layout: &mut Layout<'_, '_>,
        node: NodeId,
    ) -> Result<(), PdfError> {
        let (Some(first), Some(last)) = (readings.first(), readings.last()) else { return Ok(()) };
        let (left, right, top) = (38.0, layout.width - 66.0, 6.0);
        let values = readings.iter().map(|r| r.value).chain(limits.iter().map(|(_, value)| *value));
        let values: Vec<f64> = values.map(number).collect();
        let low = values.iter().copied().fold(f64::INFINITY, f64::min);
        let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let tick = step((high - low).max(0.1), 5.0);
        // Half a step of room, so that nothing lies on the frame.
        let low = (low / tick - 0.5).floor() * tick;
        let high = (high / tick + 0.5).ceil() * tick;
        let up = |value: f64| top + PLOT * (high - value) / (high - low);

        let begin = wall(&first.at).div_euclid(DAY).saturating_mul(DAY);
        let days = wall(&last.at).saturating_sub(begin).div_euclid(DAY).saturating_add(1);
        let along = |seconds: i64| left + (right - left) * seconds as f64 / (days as f64 * DAY as f64);

        let steps = ((high - low) / tick).round() as i32;
        for nth in 0..=steps {
            let value = low + f64::from(nth) * tick;
            let decimals = if tick < 0.01 {
                3
            } else if tick < 0.1 {
                2
            } else if tick < 1.0 {
                1
            } else {
                0
            };
            self.line((left, up(value)), (right, up(value)), 0.3, 0.75, false);
            let said = format!("{value:.decimals$}");
            self.text(&said, (0.0, up(value) - 4.8, left - 4.0), Align::Right, layout, node)?;
        }
        let every = day_step(days);
        let mut day = 0_i64;
        while day < days {
            let x = along(day.saturating_mul(DAY));
            self.line((x, top + PLOT), (x, top + PLOT + 3.0), 0.7, 0.0, false);
            if let Some(date) = first.at.date().later(day) {
                let said = date.to_string();
                self.text(&said, (x - 30.0, top + PLOT + 4.0, 60.0), Align::Middle, layout, node)?;
            }
            day = day.saturating_add(every);
        }
        self.line((left, top), (left, top + PLOT), 0.7, 0.0, false);
        self.line((left, top + PLOT), (right, top + PLOT), 0.7, 0.0, false);

        let mut sorted: Vec<&(String, Decimal)> = limits.iter().collect();
        sorted.sort_by_key(|pair| std::cmp::Reverse(pair.1));
        let mut free = f64::NEG_INFINITY;
        for (said, value) in sorted {
            let y = up(number(*value));
            self.line((left, y), (right, y), 0.9, 0.0, true);
            // Labels of limits that lie close together make room for each other.
            let at = (y - 4.8).max(free);
            self.text(said, (right + 4.0, at, 62.0), Align::Left, layout, node)?;
            free = at + SMALL.leading;
        }
        let place = |r: &Reading| (along(wall(&r.at).saturating_sub(begin)), up(number(r.value)));
        let places: Vec<(f64, f64)> = readings.iter().map(place).collect();
        if joined && places.len() > 1 {
            self.shapes.push(Shape::Stroke { points: places.clone(), width: 0.6, tone: 0.35, dashed: false });
        }
        for (reading, (x, y)) in readings.iter().zip(places) {
            if reading.marked {
                self.line((x - 3.2, y - 3.2), (x + 3.2, y + 3.2), 1.3, 0.0, false);
                self.line((x - 3.2, y + 3.2), (x + 3.2, y - 3.2), 1.3, 0.0, false);
            } else {
                self.shapes.push(Shape::Fill { x: x - 1.6, y: y - 1.6, width: 3.2, height: 3.2 });
            }
        }
        self.height = top + PLOT + 16.0;
        Ok(())
    }

    /// Draws it with its top left corner at `x`, `y`.
    ///
    /// # Errors
    /// As [`Canvas::cell`].
    pub(super) fn draw(&self, canvas: &mut Canvas<'_, '_>, x: f64, y: f64) -> Result<(), PdfError> {
        for shape in &self.shapes {
            match shape {
                Shape::Fill { x: left, y: top, width, height } => {
                    canvas.fill(x + left, y + top, *width, *height, [0.25, 0.25, 0.25]);
                }
                Shape::Stroke { points, width, tone, dashed } => {
                    let moved: Vec<_> = points.iter().map(|(px, py)| (x + px, y + py)).collect();
                    canvas.stroke(&moved, *width, *tone, *dashed);
                }
            }
        }
        for (cell, top) in &self.texts {
            canvas.cell(cell, x, y + top, true)?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round_and_few() {
        for (span, expected) in [(20.0, 5.0), (21.0, 5.0), (26.0, 10.0), (0.7, 0.2), (3.0, 1.0), (0.1, 0.02)]
        {
            let found = step(span, 5.0);
            assert!((found - expected).abs() < 1e-9, "{span}: {found}");
        }
        for days in [1, 7, 8, 31, 62, 366, 5_000] {
            assert!(days / day_step(days) < 8, "{days}");
        }
    }
}
