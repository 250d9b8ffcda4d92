//! Charts of a certificate as plain scenes: lines, fills and texts in hundredths of a point, from which a
//! page or an SVG file is made. Legible in black and white: what differs differs in form and is told in words
//! on the spot.
//!
//! Lengths are whole numbers, so that a scene is the same to the last byte on every machine. The origin is
//! the top left corner; x grows to the right, y grows downward.

mod axis;
mod bath;
mod metrics;
mod oc;
mod removal;
mod roughness;
mod sheet;
mod svg;
mod thin;

pub use bath::BathLog;
pub use bath::Panel;
pub use bath::bath_log;
pub use metrics::text_width;
pub use oc::OcCurve;
pub use oc::OcPoint;
pub use oc::oc_curve;
pub use removal::Estimate;
pub use removal::Removal;
pub use removal::removal;
pub use roughness::Profile;
pub use roughness::Roughness;
pub use roughness::roughness;
pub use svg::to_svg;
pub use thin::thin;

/// Width of a chart over the whole column: 480 pt.
pub const FULL: i64 = 48_000;
/// Width of a chart over half the column: 235 pt.
pub const HALF: i64 = 23_500;

/// A place: x, y in hundredths of a point from the top left corner.
pub type Point = (i64, i64);

/// A finished picture.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Drawing {
    /// Hundredths of a point.
    pub width: i64,
    /// Hundredths of a point.
    pub height: i64,
    /// What it shows, in a line; also drawn at its top.
    pub title: String,
    /// What can be read from it, in words, for those who cannot see it.
    pub description: String,
    /// In the order they are painted: later ones cover earlier ones. All lie inside `width` and `height`,
    /// save for half the width of a pen.
    pub shapes: Vec<Shape>,
}

/// How a line looks. Its ends are cut square at the end points, its corners are round.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pen {
    /// Hundredths of a point.
    pub width: i64,
    /// Grey in per cent of white: 0 is black, 100 white.
    pub tone: u8,
    /// Whole, dashed or dotted.
    pub dash: Dash,
}

/// How a line is broken up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dash {
    /// Whole.
    Solid,
    /// 4 pt drawn, 2 pt left out, beginning with a dash.
    Dashed,
    /// 0.8 pt drawn, 1.6 pt left out.
    Dotted,
}

impl Dash {
    /// Lengths drawn and left out, hundredths of a point; `None` for a whole line.
    pub const fn pattern(self) -> Option<(i64, i64)> {
        match self {
            Dash::Solid => None,
            Dash::Dashed => Some((400, 200)),
            Dash::Dotted => Some((80, 160)),
        }
    }
}

/// Which point of a text its x is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// Its left end.
    Start,
    /// Its middle.
    Middle,
    /// Its right end.
    End,
}

/// The form of a mark; told apart without colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// A filled circle, black.
    Dot,
    /// A white circle with a black rim of 0.8 pt, its outer edge at the radius.
    Ring,
    /// Two strokes of 1.1 pt from corner to corner of the square around the circle, black.
    Cross,
}

/// One thing drawn.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Shape {
    /// A straight line.
    Line {
        /// Where it begins.
        from: Point,
        /// Where it ends.
        to: Point,
        /// How it looks.
        pen: Pen,
    },
    /// A line through two or more points, not closed.
    Polyline {
        /// In their order.
        points: Vec<Point>,
        /// How it looks.
        pen: Pen,
    },
    /// A filled area without a rim, closed from its last point to its first; holes by the even-odd rule.
    Polygon {
        /// In their order, three or more.
        points: Vec<Point>,
        /// Grey in per cent of white: 0 is black, 100 white.
        tone: u8,
    },
    /// Hatching, already cut to its area: straight strokes that may be drawn as one path.
    Hatch {
        /// Each from its first point to its second.
        strokes: Vec<(Point, Point)>,
        /// How they look; always whole lines.
        pen: Pen,
    },
    /// A mark around a point.
    Mark {
        /// Its middle.
        at: Point,
        /// Hundredths of a point.
        radius: i64,
        /// What it looks like.
        form: Form,
    },
    /// One line of text, black, in a plain face without serifs. Widths were reckoned with [`text_width`], on
    /// the wide side: a face that is narrower fits too.
    Text {
        /// Which point `at` is.
        anchor: Anchor,
        /// On the baseline.
        at: Point,
        /// Hundredths of a point.
        size: i64,
        /// Whether in the bold (or semibold) face.
        bold: bool,
        /// Without control characters; never empty.
        content: String,
    },
}
