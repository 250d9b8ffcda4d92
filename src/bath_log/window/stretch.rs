//! Puts the pieces of lines together to times on one side of a window.

use super::Side;
use super::limit::Bounds;
use crate::bath_log::trace::Segment;

/// A time out of the window, and the reading furthest out in it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stretch {
    pub side: Side,
    pub from: i64,
    pub to: i64,
    pub worst: Option<(i64, i64)>,
}

/// The times out of a window found so far.
pub(super) struct Stretches<'a> {
    bounds: &'a Bounds,
    found: Vec<Stretch>,
    open: Option<Stretch>,
    inside: i64,
}

impl<'a> Stretches<'a> {
    pub(super) fn new(bounds: &'a Bounds) -> Self {
        Stretches { bounds, found: Vec::new(), open: None, inside: 0 }
    }

    /// The part from `x` to `y` of a line between two readings.
    pub(super) fn line(&mut self, line: &Segment, x: i64, y: i64) {
        if self.bounds.hold(line) {
            self.piece(Side::Inside, x, y);
            return;
        }
        let (start, end) = (self.bounds.side(line.v0), self.bounds.side(line.v1));
        if start == end {
            self.piece(start, x, y);
            return;
        }
        // Cut by the whole line first, by the interval after, so that the parts of an interval add up.
        let (enters, leaves) = self.bounds.stay(line);
        let pieces = [(start, line.t0, enters), (Side::Inside, enters, leaves), (end, leaves, line.t1)];
        for (side, from, to) in pieces {
            self.piece(side, from.max(x), to.min(y));
        }
    }

    fn piece(&mut self, side: Side, from: i64, to: i64) {
        if from >= to {
            return;
        }
        if side == Side::Inside {
            self.inside += to - from;
            self.gap();
        } else {
            self.extend(side, from, to);
        }
    }

    fn extend(&mut self, side: Side, from: i64, to: i64) {
        match &mut self.open {
            Some(open) if open.side == side && open.to == from => open.to = to,
            _ => {
                self.gap();
                self.open = Some(Stretch { side, from, to, worst: None });
            }
        }
    }

    /// A reading inside the interval.
    pub(super) fn point(&mut self, t: i64, v: i64) {
        let side = self.bounds.side(v);
        if side == Side::Inside {
            return;
        }
        self.extend(side, t, t);
        if let Some(open) = &mut self.open {
            let further = |worst: i64| if side == Side::Above { v > worst } else { v < worst };
            if open.worst.is_none_or(|(_, worst)| further(worst)) {
                open.worst = Some((t, v));
            }
        }
    }

    /// What comes next does not go on from what was before.
    pub(super) fn gap(&mut self) {
        self.found.extend(self.open.take());
    }

    /// Time inside, and all times out of the window.
    pub(super) fn finish(mut self) -> (i64, Vec<Stretch>) {
        self.gap();
        (self.inside, self.found)
    }
}
