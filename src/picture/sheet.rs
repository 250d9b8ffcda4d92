//! The sheet a chart is drawn on: knows what stands where, so that texts do not collide, and cuts hatching to
//! its area.

use super::Anchor;
use super::Dash;
use super::Drawing;
use super::Form;
use super::Pen;
use super::Point;
use super::Shape;
use super::metrics::HEAD;
use super::metrics::TEXT;
use super::metrics::clean;
use super::metrics::clipped;
use super::metrics::text_width;

/// Distance between strokes of hatching, measured along the x axis.
const HATCH: i64 = 260;
/// From baseline to baseline.
const LEADING: i64 = 850;
/// Strokes after which a hatch would be a smear.
const MOST_STROKES: usize = 4_000;

pub(super) const fn pen(width: i64, tone: u8) -> Pen {
    Pen { width, tone, dash: Dash::Solid }
}

/// Hairline of a scale.
pub(super) const GRID: Pen = pen(30, 80);
/// Frame and ticks.
pub(super) const FRAME: Pen = pen(60, 0);
/// A limit.
pub(super) const LIMIT: Pen = Pen { width: 80, tone: 0, dash: Dash::Dashed };
/// What was measured.
pub(super) const TRACE: Pen = pen(100, 0);
/// Measures between two places.
pub(super) const MEASURE: Pen = pen(45, 0);

/// A box: left, top, right, bottom.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Area {
    pub(super) left: i64,
    pub(super) top: i64,
    pub(super) right: i64,
    pub(super) bottom: i64,
}

impl Area {
    fn meets(&self, other: &Area) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }

    /// Whether a straight line touches the box: neither beside it nor all corners on one side of the line.
    fn cut_by(&self, (a, b): (Point, Point)) -> bool {
        if a.0.max(b.0) < self.left
            || a.0.min(b.0) > self.right
            || a.1.max(b.1) < self.top
            || a.1.min(b.1) > self.bottom
        {
            return false;
        }
        let side = |x: i64, y: i64| {
            let (dx, dy) = (i128::from(b.0 - a.0), i128::from(b.1 - a.1));
            (dx * i128::from(y - a.1) - dy * i128::from(x - a.0)).signum()
        };
        let corners = [
            side(self.left, self.top),
            side(self.right, self.top),
            side(self.left, self.bottom),
            side(self.right, self.bottom),
        ];
        !(corners.iter().all(|s| *s > 0) || corners.iter().all(|s| *s < 0))
    }
}

/// Where a text may go: anchor and baseline.
pub(super) type Spot = (Anchor, i64, i64);

pub(super) struct Sheet {
    pub(super) width: i64,
    height: i64,
    title: String,
    shapes: Vec<Shape>,
    texts: Vec<Shape>,
    taken: Vec<Area>,
    /// Lines no text should cover if it can be helped.
    traces: Vec<(Point, Point)>,
}

/// The box of a text, from its estimated width.
fn text_area((anchor, x, y): Spot, text: &str, size: i64, bold: bool) -> Area {
    let width = text_width(text, size, bold);
    let left = match anchor {
        Anchor::Start => x,
        Anchor::Middle => x - width / 2,
        Anchor::End => x - width,
    };
    Area { left, top: y - size * 74 / 100, right: left + width, bottom: y + size * 22 / 100 }
}

/// The box around lines of text under each other.
fn lines_area((anchor, x, y): Spot, lines: &[(String, bool)]) -> Option<Area> {
    let mut base = y;
    let areas = lines.iter().map(|(text, bold)| {
        let area = text_area((anchor, x, base), text, TEXT, *bold);
        base += LEADING;
        area
    });
    areas.reduce(|a, b| Area {
        left: a.left.min(b.left),
        top: a.top.min(b.top),
        right: a.right.max(b.right),
        bottom: a.bottom.max(b.bottom),
    })
}

impl Sheet {
    /// A sheet of a sensible width (160 to 2000 pt), with its heading.
    pub(super) fn new(width: i64, title: &str) -> Sheet {
        let mut sheet = Sheet {
            width: width.clamp(16_000, 200_000),
            height: 0,
            title: clean(title),
            shapes: Vec::new(),
            texts: Vec::new(),
            taken: Vec::new(),
            traces: Vec::new(),
        };
        // A chart may be taller than this only where the caller says so before placing texts.
        sheet.height = 1_000_000;
        let room = sheet.width;
        let head = clipped(title, HEAD, true, room);
        sheet.put((Anchor::Start, 0, 800), &head, HEAD, true);
        sheet
    }

    /// Whether the sheet is narrow, so that there is room for less.
    pub(super) fn narrow(&self) -> bool {
        self.width < 34_000
    }

    pub(super) fn line(&mut self, from: Point, to: Point, pen: Pen) {
        self.shapes.push(Shape::Line { from, to, pen });
    }

    pub(super) fn polyline(&mut self, points: Vec<Point>, pen: Pen) {
        if points.len() > 1 {
            self.shapes.push(Shape::Polyline { points, pen });
        }
    }

    /// Keeps texts off the line where there is another place for them.
    pub(super) fn avoid(&mut self, points: &[Point]) {
        for (a, b) in points.iter().zip(points.iter().skip(1)) {
            self.traces.push((*a, *b));
        }
    }

    pub(super) fn fill(&mut self, area: Area, tone: u8) {
        let Area { left, top, right, bottom } = area;
        if right > left && bottom > top {
            let points = vec![(left, top), (right, top), (right, bottom), (left, bottom)];
            self.shapes.push(Shape::Polygon { points, tone });
        }
    }

    pub(super) fn outline(&mut self, area: Area, pen: Pen) {
        let Area { left, top, right, bottom } = area;
        let points = vec![(left, top), (right, top), (right, bottom), (left, bottom), (left, top)];
        self.polyline(points, pen);
    }

    pub(super) fn mark(&mut self, at: Point, form: Form) {
        self.shapes.push(Shape::Mark { at, radius: 210, form });
    }

    /// A measure from `from` to `to` along one axis: a thin line with a stroke across each end.
    pub(super) fn measure(&mut self, from: Point, to: Point) {
        self.line(from, to, MEASURE);
        let across = if from.1 == to.1 { (0, 220) } else { (220, 0) };
        for (x, y) in [from, to] {
            self.line((x - across.0, y - across.1), (x + across.0, y + across.1), pen(80, 0));
        }
    }

    /// Strokes rising to the right inside a polygon, on one grid over the whole sheet.
    pub(super) fn hatch(&mut self, polygon: &[Point], pen: Pen) {
        let rows = || polygon.iter().map(|(x, y)| x + y);
        let (Some(low), Some(high)) = (rows().min(), rows().max()) else { return };
        let mut strokes = Vec::new();
        let mut at = low.div_euclid(HATCH) * HATCH;
        while at <= high && strokes.len() < MOST_STROKES {
            let mut cuts = Vec::new();
            for (a, b) in polygon.iter().zip(polygon.iter().cycle().skip(1)) {
                let (first, last) = (a.0 + a.1, b.0 + b.1);
                // Half open, so that a corner is met once.
                if (first <= at) != (last <= at) {
                    let part = i128::from(b.0 - a.0) * i128::from(at - first) / i128::from(last - first);
                    cuts.push(a.0 + i64::try_from(part).unwrap_or_default());
                }
            }
            cuts.sort_unstable();
            for pair in cuts.chunks_exact(2) {
                if let [from, to] = pair
                    && to > from
                {
                    strokes.push(((*from, at - from), (*to, at - to)));
                }
            }
            at += HATCH;
        }
        if !strokes.is_empty() {
            self.shapes.push(Shape::Hatch { strokes, pen });
        }
    }

    /// Writes a text where it is told to, moved sideways into the sheet if need be.
    pub(super) fn put(&mut self, (anchor, x, y): Spot, text: &str, size: i64, bold: bool) {
        let content = clipped(text, size, bold, self.width);
        if content.is_empty() {
            return;
        }
        let area = text_area((anchor, x, y), &content, size, bold);
        let shift = (-area.left).max(0) - (area.right - self.width).max(0);
        let x = x + shift;
        self.taken.push(text_area((anchor, x, y), &content, size, bold));
        self.texts.push(Shape::Text { anchor, at: (x, y), size, bold, content });
    }

    /// Writes the value of a tick, unless another text or the sheet's edge is in the way.
    pub(super) fn offer(&mut self, (anchor, x, y): Spot, text: &str) {
        let content = clean(text);
        let area = text_area((anchor, x, y), &content, TEXT, false);
        let wide = Area { left: area.left - 200, right: area.right + 200, ..area };
        let fits = area.left >= 0 && area.right <= self.width && !content.is_empty();
        if fits && !self.taken.iter().any(|t| t.meets(&wide)) {
            self.taken.push(area);
            self.texts.push(Shape::Text { anchor, at: (x, y), size: TEXT, bold: false, content });
        }
    }

    /// Writes a text at the first of the spots that is free of other texts and least crossed by traces; not
    /// at all when every spot is taken.
    pub(super) fn place(&mut self, spots: &[Spot], text: &str, bold: bool, within: Area) -> bool {
        self.place_lines(spots, &[(text, bold)], within)
    }

    /// As [`Sheet::place`] for lines under each other, each with whether it is bold; the spots are the first
    /// line's.
    pub(super) fn place_lines(&mut self, spots: &[Spot], lines: &[(&str, bool)], within: Area) -> bool {
        let lines = lines.iter().map(|(text, bold)| (clipped(text, TEXT, *bold, self.width), *bold));
        let lines: Vec<(String, bool)> = lines.filter(|(text, _)| !text.is_empty()).collect();
        let mut best: Option<(usize, Spot, Area)> = None;
        for spot in spots {
            let Some(area) = lines_area(*spot, &lines) else { return false };
            let wide = Area { left: area.left - 150, right: area.right + 150, ..area };
            let outside = area.left < within.left.max(0)
                || area.right > within.right.min(self.width)
                || area.top < within.top.max(0)
                || area.bottom > within.bottom;
            if outside || self.taken.iter().any(|t| t.meets(&wide)) {
                continue;
            }
            let near = Area {
                left: area.left - 200,
                top: area.top - 100,
                right: area.right + 200,
                bottom: area.bottom + 100,
            };
            let crossed = self.traces.iter().filter(|t| near.cut_by(**t)).count();
            if best.as_ref().is_none_or(|(least, ..)| crossed < *least) {
                best = Some((crossed, *spot, area));
            }
        }
        let Some((_, (anchor, x, mut y), area)) = best else { return false };
        // A white ground keeps it legible over hatching and hairlines.
        let ground = Area { left: area.left - 60, right: area.right + 60, ..area };
        let ground = Area { left: ground.left.max(0), right: ground.right.min(self.width), ..ground };
        let Area { left, top, right, bottom } = ground;
        let points = vec![(left, top), (right, top), (right, bottom), (left, bottom)];
        self.texts.push(Shape::Polygon { points, tone: 100 });
        self.taken.push(area);
        for (content, bold) in lines {
            self.texts.push(Shape::Text { anchor, at: (x, y), size: TEXT, bold, content });
            y += LEADING;
        }
        true
    }

    /// Where nothing can be drawn: the frame with words in it.
    pub(super) fn nothing(mut self, words: &str) -> Drawing {
        let area = Area { left: 30, top: 1_400, right: self.width - 30, bottom: 5_400 };
        self.outline(area, Pen { width: 60, tone: 40, dash: Dash::Dashed });
        self.put((Anchor::Middle, self.width / 2, 3_650), words, TEXT, false);
        let description = words.to_owned();
        self.finish(5_500, description)
    }

    /// The drawing, texts above everything else.
    pub(super) fn finish(mut self, height: i64, description: String) -> Drawing {
        self.shapes.append(&mut self.texts);
        Drawing {
            width: self.width,
            height,
            title: self.title,
            description: clean(&description),
            shapes: self.shapes,
        }
    }
}
