//! What stands on every page: title, number, symbol and banners at the head, the stamp and the
//! page number at the foot.

use super::description::Description;
use super::draw::Canvas;
use super::error::PdfError;
use super::layout::BANNER;
use super::layout::DIGEST;
use super::layout::Layout;
use super::layout::Look;
use super::layout::NUMBER;
use super::layout::SMALL;
use super::layout::TITLE;
use super::rows::Align;
use super::rows::Cell;
use super::tags::NodeId;
use super::tags::Role;
use super::tags::Tags;

/// White margins left and right, above and below, in points.
pub(super) const SIDE: f64 = 48.0;
const ABOVE: f64 = 34.0;
const BELOW: f64 = 30.0;
/// Side of the QR symbol: its modules stay wider than a third of a millimetre.
const SYMBOL: f64 = 60.0;
/// Most lines of banners; more would crowd out the certificate.
const MOST_BANNER_LINES: usize = 8;

const SLATE: [f32; 3] = [0.09, 0.17, 0.26];

/// The running head and foot, laid out once.
pub(super) struct Running {
    head: Cell,
    banners: Vec<Cell>,
    stamp: Cell,
    symbol: NodeId,
    words: (String, String),
    width: f64,
    height: f64,
}

impl Running {
    /// Lays out the head and the foot for a page of this size.
    ///
    /// # Errors
    /// [`PdfError::HeadTooLong`] when they would leave no room for the rest.
    pub(super) fn new(
        layout: &mut Layout<'_, '_>,
        about: &Description,
        width: f64,
        height: f64,
    ) -> Result<Running, PdfError> {
        let inner = width - 2.0 * SIDE;
        let room = inner - SYMBOL - 14.0;
        let title = layout.tags.add(Tags::ROOT, Role::H1);
        let mut lines = layout.lines(&about.title, TITLE, room, title)?;
        let number = layout.tags.add(Tags::ROOT, Role::Paragraph);
        lines.extend(layout.lines(&about.number, NUMBER, room, number)?);
        for text in &about.under {
            let node = layout.tags.add(Tags::ROOT, Role::Paragraph);
            lines.extend(layout.lines(text, SMALL, room, node)?);
        }
        let head = Cell { x: SIDE, width: room, align: Align::Left, lines };

        let symbol = layout.tags.add(Tags::ROOT, Role::Figure);
        let left = width - SIDE - SYMBOL;
        let bottom = height - ABOVE - SYMBOL;
        layout.tags.describe(symbol, &about.qr_alt, [left, bottom, left + SYMBOL, bottom + SYMBOL]);

        let mut banners = Vec::new();
        for text in about.banners.iter().filter(|text| !text.is_empty()) {
            let node = layout.tags.add(Tags::ROOT, Role::Paragraph);
            let lines = layout.lines(text, BANNER, inner - 16.0, node)?;
            banners.push(Cell { x: SIDE + 8.0, width: inner - 16.0, align: Align::Middle, lines });
        }

        // At the foot both lines are decoration: the stamp is read out where the text tells how
        // to check it.
        let mut lines =
            layout.lines(&about.stamp_label, Look { size: 7.2, leading: 9.4, ..SMALL }, inner, 0)?;
        lines.extend(layout.lines(&about.stamp, DIGEST, inner, 0)?);
        let stamp = Cell { x: SIDE, width: inner, align: Align::Left, lines };

        let counted: usize = banners.iter().map(|cell| cell.lines.len()).sum();
        let tall = head.lines.len().saturating_add(counted);
        let limit = MOST_BANNER_LINES.saturating_add(8);
        if tall > limit {
            return Err(PdfError::HeadTooLong { lines: tall, limit });
        }
        Ok(Running { head, banners, stamp, symbol, words: about.page_words.clone(), width, height })
    }

    fn head_height(&self) -> f64 {
        let text: f64 = self.head.lines.iter().map(|line| line.height).sum();
        text.max(SYMBOL)
    }

    fn banner_height(cell: &Cell) -> f64 {
        cell.lines.iter().map(|line| line.height).sum::<f64>() + 3.5
    }

    /// Where the body begins, from the top of the page.
    pub(super) fn top(&self) -> f64 {
        let banners: f64 = self.banners.iter().map(|cell| Self::banner_height(cell) + 4.0).sum();
        ABOVE + self.head_height() + 10.0 + banners + 5.0
    }

    fn foot_height(&self) -> f64 {
        self.stamp.lines.iter().map(|line| line.height).sum::<f64>() + 5.0
    }

    /// How high the body is.
    pub(super) fn room(&self) -> f64 {
        self.height - BELOW - self.foot_height() - 10.0 - self.top()
    }

    /// Draws both on a page. `page` counts from 0.
    ///
    /// # Errors
    /// As [`Canvas::cell`] and [`Layout::lines`].
    pub(super) fn draw(
        &self,
        canvas: &mut Canvas<'_, '_>,
        numbers: &Cell,
        page: usize,
    ) -> Result<(), PdfError> {
        let first = page == 0;
        let inner = self.width - 2.0 * SIDE;
        canvas.cell(&self.head, 0.0, ABOVE, first)?;
        canvas.symbol(self.width - SIDE - SYMBOL, ABOVE, SYMBOL, first.then_some(self.symbol));
        let mut y = ABOVE + self.head_height() + 5.0;
        canvas.rule(SIDE, y, inner, 1.4, SLATE);
        y += 5.0;
        for banner in &self.banners {
            let height = Self::banner_height(banner);
            canvas.cell(banner, 0.0, y, first)?;
            canvas.rule(SIDE, y + height, inner, 0.6, SLATE);
            y += height + 4.0;
        }
        let foot = self.height - BELOW - self.foot_height();
        canvas.rule(SIDE, foot, inner, 0.6, SLATE);
        canvas.cell(&self.stamp, 0.0, foot + 4.0, false)?;
        canvas.cell(numbers, 0.0, foot + 4.0, false)
    }

    /// The page number, `page 1 of 2`, flush right at the foot.
    ///
    /// # Errors
    /// As [`Layout::lines`].
    pub(super) fn numbers(
        &self,
        layout: &mut Layout<'_, '_>,
        page: usize,
        pages: usize,
    ) -> Result<Cell, PdfError> {
        let (word, of) = &self.words;
        let text = format!("{word} {} {of} {pages}", page.saturating_add(1));
        let inner = self.width - 2.0 * SIDE;
        let look = Look { size: 8.6, leading: 9.4, ..NUMBER };
        let lines = layout.lines(&text, look, inner, 0)?;
        Ok(Cell { x: SIDE, width: inner, align: Align::Right, lines })
    }
}
