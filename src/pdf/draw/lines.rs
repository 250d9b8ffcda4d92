//! Strokes on a page, as decoration: what they say is told in words beside them.

use printpdf::Line;
use printpdf::LineDashPattern;
use printpdf::LinePoint;
use printpdf::Op;
use printpdf::PaintMode;
use printpdf::Point;
use printpdf::Polygon;
use printpdf::PolygonRing;
use printpdf::Pt;
use printpdf::WindingOrder;

use super::Canvas;
use super::colour;
use super::pt;

impl Canvas<'_, '_> {
    /// A line through points, `y` counted from the top of the page; dashed where asked.
    pub(in super::super) fn stroke(&mut self, points: &[(f64, f64)], width: f64, tone: f32, dashed: bool) {
        self.open(None);
        self.ops.push(Op::SaveGraphicsState);
        self.ops.push(Op::SetOutlineColor { col: colour(tone, tone, tone) });
        self.ops.push(Op::SetOutlineThickness { pt: Pt(pt(width)) });
        if dashed {
            self.ops.push(Op::SetLineDashPattern { dash: LineDashPattern::new(0.0, &[4.0, 2.5]) });
        }
        let line = Line { points: points.iter().map(|place| self.point(place)).collect(), is_closed: false };
        self.ops.push(Op::DrawLine { line });
        self.ops.push(Op::RestoreGraphicsState);
        self.close();
    }

    /// Lines of one look as one decoration, each through its points; `dash` is drawn and left out, in points.
    pub(in super::super) fn strokes(
        &mut self,
        lines: &[Vec<(f64, f64)>],
        width: f64,
        tone: f32,
        dash: Option<(f32, f32)>,
    ) {
        self.open(None);
        self.ops.push(Op::SaveGraphicsState);
        self.ops.push(Op::SetOutlineColor { col: colour(tone, tone, tone) });
        self.ops.push(Op::SetOutlineThickness { pt: Pt(pt(width)) });
        if let Some((drawn, left_out)) = dash {
            self.ops.push(Op::SetLineDashPattern { dash: LineDashPattern::new(0.0, &[drawn, left_out]) });
        }
        for points in lines {
            let points = points.iter().map(|place| self.point(place)).collect();
            self.ops.push(Op::DrawLine { line: Line { points, is_closed: false } });
        }
        self.ops.push(Op::RestoreGraphicsState);
        self.close();
    }

    /// A filled area as decoration, by the even-odd rule.
    pub(in super::super) fn area(&mut self, points: &[(f64, f64)], tone: f32) {
        self.open(None);
        self.ops.push(Op::SetFillColor { col: colour(tone, tone, tone) });
        let points = points.iter().map(|place| self.point(place)).collect();
        let polygon = Polygon {
            rings: vec![PolygonRing { points }],
            mode: PaintMode::Fill,
            winding_order: WindingOrder::EvenOdd,
        };
        self.ops.push(Op::DrawPolygon { polygon });
        self.close();
    }

    fn point(&self, (x, y): &(f64, f64)) -> LinePoint {
        LinePoint { p: Point { x: Pt(pt(*x)), y: Pt(pt(self.height - y)) }, bezier: false }
    }
}
