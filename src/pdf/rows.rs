//! The one building stone of a page: a row of cells of lines, and how it is cut when it is
//! taller than there is room.

use super::tags::NodeId;
use super::text::TextLine;

/// How dark something is printed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Ink {
    /// Text.
    Black,
    /// Title and headings: a dark slate that prints as near black.
    Slate,
    /// Labels.
    Grey,
}

/// One line of text in its place in a cell.
#[derive(Debug, Clone)]
pub(super) struct Line {
    pub(super) text: TextLine,
    pub(super) size: f64,
    pub(super) ink: Ink,
    /// Height it takes, and where in it the baseline lies.
    pub(super) height: f64,
    pub(super) baseline: f64,
    /// The structure element it belongs to.
    pub(super) node: NodeId,
}

/// Which side of its cell a line keeps to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Align {
    Left,
    Right,
    Middle,
}

/// Lines under each other.
#[derive(Debug, Clone)]
pub(super) struct Cell {
    /// From the left edge of the row.
    pub(super) x: f64,
    pub(super) width: f64,
    pub(super) align: Align,
    pub(super) lines: Vec<Line>,
}

impl Cell {
    fn height(&self) -> f64 {
        self.lines.iter().map(|line| line.height).sum()
    }
}

/// Cells side by side.
#[derive(Debug, Clone, Default)]
pub(super) struct Row {
    pub(super) cells: Vec<Cell>,
    /// White space above the row, dropped at the top of a page.
    pub(super) space: f64,
    /// Room between the row's edges and its text.
    pub(super) pad_top: f64,
    pub(super) pad_bottom: f64,
    /// Thickness of the line under it.
    pub(super) rule: f64,
    /// Boxes as high as the row, to be filled in by hand: where each begins, and its width.
    pub(super) boxes: Vec<(f64, f64)>,
    /// Whether its ground is shaded, with a bar at its left.
    pub(super) framed: bool,
    /// Whether its ground is lightly shaded.
    pub(super) tinted: bool,
    /// Whether it begins a page.
    pub(super) begins_page: bool,
    /// Whether it must not be the last on a page.
    pub(super) keep_next: bool,
    /// The table head to repeat above it at the top of a page.
    pub(super) head: Option<usize>,
    /// The group's row to repeat under that head.
    pub(super) group: Option<usize>,
}

impl Row {
    /// Height without the space above.
    pub(super) fn height(&self) -> f64 {
        let inner = self.cells.iter().map(Cell::height).fold(0.0, f64::max);
        self.pad_top + inner + self.pad_bottom
    }

    /// Cuts a row that is taller than `most` into pieces about `piece` high, between its lines.
    ///
    /// Each cell goes on in the next piece where it stopped; nothing is lost. A single line is
    /// never cut.
    pub(super) fn split(mut self, most: f64, piece: f64) -> Vec<Row> {
        if self.height() <= most {
            return vec![self];
        }
        let mut pieces = Vec::new();
        let mut rest: Vec<_> = self
            .cells
            .iter_mut()
            .map(|cell| std::mem::take(&mut cell.lines).into_iter().peekable())
            .collect();
        loop {
            let room = piece - self.pad_top;
            let mut part = self.clone_frame();
            for (cell, lines) in self.cells.iter().zip(&mut rest) {
                let mut taken = Vec::new();
                let mut tall = 0.0;
                while let Some(line) = lines.next_if(|line| taken.is_empty() || tall + line.height <= room) {
                    tall += line.height;
                    taken.push(line);
                }
                part.cells.push(Cell { lines: taken, ..*cell });
            }
            if rest.iter_mut().all(|lines| lines.peek().is_none()) {
                pieces.push(part);
                return pieces;
            }
            // What marks the row's foot belongs to its last piece alone, what marks its top to
            // the first.
            part.rule = 0.0;
            part.pad_bottom = 0.0;
            part.keep_next = false;
            pieces.push(part);
            self.space = 0.0;
            self.pad_top = 0.0;
        }
    }

    fn clone_frame(&self) -> Row {
        Row { cells: Vec::new(), boxes: self.boxes.clone(), ..*self }
    }
}

/// What stands where on a page.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Placed {
    /// Index of the row, or of the repeated head.
    pub(super) row: usize,
    /// Whether it is a table head repeated (and so no part of the document's structure).
    pub(super) repeated: bool,
    /// Top edge, from the top of the page's body.
    pub(super) y: f64,
}

/// Lays rows on pages whose body is `room` high; `heads` are the heads that rows name.
///
/// The result has at least one page. `None` when more than `limit` pages are needed.
pub(super) fn paginate(rows: &[Row], heads: &[Row], room: f64, limit: usize) -> Option<Vec<Vec<Placed>>> {
    let mut pages: Vec<Vec<Placed>> = Vec::new();
    let mut page: Vec<Placed> = Vec::new();
    let mut y = 0.0;
    let mut group_end = 0;
    for (index, row) in rows.iter().enumerate() {
        let height = row.height();
        let mut needed = row.space + height;
        if index >= group_end {
            // A row that must not end a page brings those after it along, while they fit.
            let mut last = index;
            let mut whole = 0.0;
            for next in rows.get(index..).unwrap_or_default() {
                last = last.saturating_add(1);
                whole += next.space + next.height();
                if !next.keep_next || whole > room {
                    break;
                }
            }
            if whole <= room {
                needed = whole;
                group_end = last;
            }
        }
        if !page.is_empty() && (row.begins_page || y + needed > room + 0.01) {
            pages.push(std::mem::take(&mut page));
            y = 0.0;
            if pages.len() >= limit {
                return None;
            }
        }
        if page.is_empty() {
            for head in [row.head, row.group].into_iter().flatten() {
                if let Some(repeat) = heads.get(head) {
                    page.push(Placed { row: head, repeated: true, y });
                    y += repeat.height();
                }
            }
        } else {
            y += row.space;
        }
        page.push(Placed { row: index, repeated: false, y });
        y += height;
    }
    pages.push(page);
    Some(pages)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(height: f64) -> Line {
        Line { text: TextLine::default(), size: 9.0, ink: Ink::Black, height, baseline: 0.0, node: 0 }
    }

    fn row(lines: usize) -> Row {
        let cell = Cell { x: 0.0, width: 100.0, align: Align::Left, lines: vec![line(10.0); lines] };
        Row { cells: vec![cell], rule: 0.5, ..Row::default() }
    }

    fn count(rows: &[Row]) -> usize {
        rows.iter().flat_map(|r| &r.cells).map(|c| c.lines.len()).sum()
    }

    #[test]
    fn a_tall_row_is_cut_and_loses_nothing() {
        let pieces = row(25).split(100.0, 90.0);
        assert_eq!(pieces.len(), 3);
        assert_eq!(count(&pieces), 25);
        assert!(pieces.iter().all(|piece| piece.height() <= 90.0));
        assert_eq!(pieces.iter().map(|piece| piece.rule).collect::<Vec<_>>(), [0.0, 0.0, 0.5]);
        assert_eq!(row(3).split(100.0, 20.0).len(), 1);
        // A line taller than the room is kept whole rather than lost.
        assert_eq!(count(&row(2).split(5.0, 5.0)), 2);
    }

    #[test]
    fn headings_are_not_left_at_the_foot() {
        let mut rows = vec![row(8), row(1), row(1)];
        rows[1].keep_next = true;
        let pages = paginate(&rows, &[], 95.0, 10).unwrap();
        assert_eq!(pages.iter().map(Vec::len).collect::<Vec<_>>(), [1, 2]);
    }

    #[test]
    fn table_heads_are_repeated() {
        let head = row(1);
        let mut rows = vec![head.clone()];
        rows[0].keep_next = true;
        rows.extend((0..20).map(|_| Row { head: Some(0), group: Some(1), ..row(1) }));
        let pages = paginate(&rows, &[head.clone(), head], 100.0, 10).unwrap();
        assert_eq!(pages.len(), 3);
        assert!(!pages[0][0].repeated && pages[1][0].repeated && pages[2][1].repeated);
        assert_eq!((pages[1][0].row, pages[1][1].row, pages[1][2].y), (0, 1, 20.0));
        assert_eq!(pages.iter().flatten().filter(|p| !p.repeated).count(), 21);
        for page in &pages {
            assert!(page.last().unwrap().y <= 90.0);
        }
    }

    #[test]
    fn a_group_taller_than_a_page_is_not_lost() {
        let rows: Vec<Row> = (0..30).map(|_| Row { keep_next: true, ..row(1) }).collect();
        let pages = paginate(&rows, &[], 100.0, 10).unwrap();
        assert_eq!(pages.iter().map(Vec::len).sum::<usize>(), 30);
        assert!(paginate(&rows, &[], 100.0, 2).is_none());
    }
}
