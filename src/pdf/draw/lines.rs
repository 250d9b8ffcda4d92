//! Strokes on a page, as decoration: what they say is told in words beside them.

use printpdf::Line;
use printpdf::LineDashPattern;
use printpdf::LinePoint;
use printpdf::Op;
use printpdf::Point;
use printpdf::Pt;

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
        let height = self.height;
        let place = |(x, y): &(f64, f64)| LinePoint {
            p: Point { x: Pt(pt(*x)), y: Pt(pt(height - y)) },
            bezier: false,
        };
        let line = Line { points: points.iter().map(place).collect(), is_closed: false };
        self.ops.push(Op::DrawLine { line });
        self.ops.push(Op::RestoreGraphicsState);
        self.close();
    }
}
