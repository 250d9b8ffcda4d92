//! A report: headings, texts, tables and charts on numbered pages. No certificate: it carries no data, stamp or
//! seal, and says in its foot what it is.

use lopdf::Dictionary;
use lopdf::Object;
use lopdf::StringFormat;
use printpdf::PdfDocument;
use sha2::Digest;
use sha2::Sha256;

use super::Paper;
use super::Renderer;
use super::chart::Chart;
use super::chart::Plot;
use super::description::Block;
use super::description::Column;
use super::description::Para;
use super::description::RowDef;
use super::description::Style;
use super::draw::Canvas;
use super::error::PdfError;
use super::finish;
use super::form::FormColumn;
use super::form::FormRow;
use super::layout::Layout;
use super::layout::SMALL;
use super::layout::TITLE;
use super::rows;
use super::rows::Align;
use super::rows::Cell;
use super::rows::Row;
use super::running::SIDE;
use super::shape::Shaper;
use super::subset::Codes;
use super::tags::Role;
use super::tags::Tags;

/// Reports are written in English.
const LANGUAGE: &str = "en";
const MOST_PAGES: usize = 200;
const ABOVE: f64 = 40.0;
const FOOT: f64 = 44.0;

/// A column of a table: heading, share of the width, whether it holds numbers.
pub type ReportColumn = (String, u16, bool);

/// One thing in a report.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Part {
    /// A heading.
    Heading(String),
    /// A paragraph.
    Text(String),
    /// A paragraph in small print.
    Small(String),
    /// A table.
    Table(Vec<ReportColumn>, Vec<Vec<String>>),
    /// A chart.
    Chart(Chart),
    /// Paragraphs in a frame, the first of them strong.
    Frame(Vec<String>),
    /// A table with boxes to fill in by hand.
    Form(Vec<FormColumn>, Vec<FormRow>),
}

/// A report.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Report {
    /// Its title.
    pub title: String,
    /// Smaller lines under it.
    pub under: Vec<String>,
    /// What stands in the foot of every page.
    pub foot: String,
    /// The rest, in reading order.
    pub parts: Vec<Part>,
}

fn block(part: &Part) -> Option<Block> {
    Some(match part {
        Part::Heading(text) => Block::Heading { level: 2, text: text.clone() },
        Part::Text(text) => Block::Text { style: Style::Body, text: text.clone() },
        Part::Small(text) => Block::Text { style: Style::Small, text: text.clone() },
        Part::Table(columns, rows) => {
            let column = |(head, share, right): &ReportColumn| Column {
                head: head.clone(),
                share: f64::from(*share),
                right: *right,
            };
            let row = |cells: &Vec<String>| RowDef {
                cells: cells.clone(),
                note: String::new(),
                across: String::new(),
            };
            Block::Table {
                columns: columns.iter().map(column).collect(),
                rows: rows.iter().map(row).collect(),
            }
        }
        Part::Frame(paras) => {
            let para = |(i, text): (usize, &String)| Para {
                style: if i == 0 { Style::Strong } else { Style::Body },
                text: text.clone(),
            };
            Block::Frame { paras: paras.iter().enumerate().map(para).collect() }
        }
        Part::Chart(_) | Part::Form(..) => return None,
    })
}

impl Renderer {
    /// Draws a report; the same report makes the same bytes.
    ///
    /// # Errors
    /// [`PdfError`] when a text cannot be drawn or the report is longer than anyone reads.
    pub fn report(&self, report: &Report, paper: Paper) -> Result<Vec<u8>, PdfError> {
        let (width, height) = paper.size();
        let inner = width - 2.0 * SIDE;
        let mut shaper = Shaper::new(&self.fonts);
        let mut layout =
            Layout::new(&mut shaper, Tags::new(), inner, height * 0.3, height * MOST_PAGES as f64);
        let title = layout.tags.add(Tags::ROOT, Role::H1);
        let cell = layout.cell(&report.title, TITLE, 0.0, inner, title)?;
        layout.push(Row { cells: vec![cell], keep_next: true, ..Row::default() })?;
        for text in &report.under {
            let node = layout.tags.add(Tags::ROOT, Role::Paragraph);
            let cell = layout.cell(text, SMALL, 0.0, inner, node)?;
            layout.push(Row { cells: vec![cell], keep_next: true, ..Row::default() })?;
        }
        let mut plots: Vec<(usize, usize, Plot)> = Vec::new();
        for part in &report.parts {
            if let Part::Form(columns, rows) = part {
                layout.form(columns, rows, Tags::ROOT)?;
            }
            let Part::Chart(chart) = part else {
                layout.blocks(&block(part).into_iter().collect::<Vec<_>>(), Tags::ROOT)?;
                continue;
            };
            let caption = layout.tags.add(Tags::ROOT, Role::Paragraph);
            let cell = layout.cell(chart.title(), SMALL, 0.0, inner, caption)?;
            layout.push(Row { cells: vec![cell], space: 8.0, keep_next: true, ..Row::default() })?;
            let figure = layout.tags.add(Tags::ROOT, Role::Figure);
            let plot = chart.plot(&mut layout, figure)?;
            plots.push((layout.rows.len(), figure, plot));
            // A row of its own holds the room open; it has no lines, so it is never cut.
            let pad_top = plots.last().map_or(0.0, |(_, _, plot)| plot.height);
            layout.push(Row { pad_top, space: 3.0, ..Row::default() })?;
        }
        let room = height - ABOVE - FOOT;
        let pages = rows::paginate(&layout.rows, &layout.heads, room, MOST_PAGES)
            .ok_or(PdfError::TooLong { limit: MOST_PAGES })?;
        let mut feet = Vec::new();
        for page in 1..=pages.len() {
            let lines = layout.lines(&report.foot, SMALL, inner - 80.0, Tags::ROOT)?;
            let left = Cell { x: SIDE, width: inner - 80.0, align: Align::Left, lines };
            let lines = layout.lines(&format!("page {page} of {}", pages.len()), SMALL, 80.0, Tags::ROOT)?;
            feet.push([left, Cell { x: SIDE + inner - 80.0, width: 80.0, align: Align::Right, lines }]);
        }
        let Layout { mut tags, rows, heads, .. } = layout;
        for (index, figure, plot) in &plots {
            let place = pages.iter().flatten().find(|p| !p.repeated && p.row == *index);
            let title = report.parts.iter().filter_map(|part| match part {
                Part::Chart(chart) => Some(chart.title()),
                _ => None,
            });
            let nth = plots.iter().position(|(i, ..)| i == index).unwrap_or_default();
            if let (Some(place), Some(title)) = (place, title.clone().nth(nth)) {
                let bottom = height - ABOVE - place.y - plot.height;
                tags.describe(*figure, title, [SIDE, bottom, SIDE + inner, bottom + plot.height]);
            }
        }

        let mut codes = Codes::new(&self.usual);
        let mut document = PdfDocument::new("");
        for (index, (page, foot)) in pages.iter().zip(&feet).enumerate() {
            let mut canvas = Canvas::new(&self.fonts, &mut codes, &mut tags, index, height);
            for placed in page {
                let source = if placed.repeated { &heads } else { &rows };
                let Some(row) = source.get(placed.row) else { continue };
                let plot = plots.iter().find(|(row, ..)| !placed.repeated && *row == placed.row);
                match plot {
                    Some((_, _, plot)) => plot.draw(&mut canvas, SIDE, ABOVE + placed.y)?,
                    None => canvas.row(row, SIDE, ABOVE + placed.y, inner, !placed.repeated)?,
                }
            }
            canvas.rule(SIDE, height - FOOT + 6.0, inner, 0.6, [0.3, 0.3, 0.3]);
            for cell in foot {
                canvas.cell(cell, 0.0, height - FOOT + 10.0, false)?;
            }
            document.pages.push(finish::page(width, height, canvas.into_ops()));
        }
        let (drawn, mut doc) = finish::open(&document);
        let fonts = codes.add_fonts(&self.fonts, &mut doc)?;
        let resources = doc.add_object(Dictionary::from_iter([("Font", Object::Dictionary(fonts))]));
        let (root, leaves) = finish::take_pages(&mut doc, drawn, resources)?;
        let mut catalog = finish::archived(&mut doc, (root, &leaves), tags, LANGUAGE, &self.profile)?;
        let said = finish::xmp(&report.title, LANGUAGE, None);
        catalog.set("Metadata", Object::Reference(finish::metadata(&mut doc, said)));
        let catalog = doc.add_object(catalog);
        let info = doc.add_object(finish::information(&report.title));
        let digest = Sha256::digest(format!("{report:?}"));
        let half = digest.iter().take(16).copied().collect::<Vec<u8>>();
        let id = Object::String(half, StringFormat::Hexadecimal);
        doc.trailer = Dictionary::from_iter([
            ("Root", Object::Reference(catalog)),
            ("Info", Object::Reference(info)),
            ("ID", Object::Array(vec![id.clone(), id])),
        ]);
        let mut bytes = Vec::new();
        doc.save_to(&mut bytes).map_err(|e| PdfError::Engine { detail: e.to_string() })?;
        Ok(bytes)
    }
}

#[cfg(test)]
mod tests {
    use super::super::chart::Bar;
    use super::super::chart::Reading;
    use super::super::tests::text_of;
    use super::*;

    fn report() -> Report {
        let bar = |label: &str, value: i64| Bar {
            label: label.to_owned(),
            value: value.into(),
            said: format!("{value} of them"),
        };
        let reading =
            |at: &str, value: i64, marked| Reading { at: at.parse().unwrap(), value: value.into(), marked };
        Report {
            title: "Bath N-2".to_owned(),
            under: vec!["Larkspur Bright Finishing".to_owned()],
            foot: "a report".to_owned(),
            parts: vec![
                Part::Heading("Gaps".to_owned()),
                Part::Chart(Chart::Bars {
                    title: "Gaps by kind".to_owned(),
                    bars: vec![
                        bar("bath temperature", 3),
                        bar(&"very long words ".repeat(9), 0),
                        bar("", -4),
                    ],
                }),
                Part::Chart(Chart::Times {
                    title: "Temperature".to_owned(),
                    readings: vec![
                        reading("2026-10-06T08:00-05:00", 78, false),
                        reading("2026-10-08T08:00-05:00", 91, true),
                    ],
                    limits: vec![("90 °F".to_owned(), 90.into()), ("70 °F".to_owned(), 70.into())],
                    joined: true,
                }),
                Part::Table(vec![("Lot".to_owned(), 1, false)], vec![vec!["L-26-0401".to_owned()]; 90]),
                Part::Small("The end.".to_owned()),
            ],
        }
    }

    #[test]
    fn every_word_is_on_the_pages_and_the_bytes_repeat() {
        let renderer = Renderer::new().unwrap();
        let bytes = renderer.report(&report(), Paper::Letter).unwrap();
        assert_eq!(bytes, renderer.report(&report(), Paper::Letter).unwrap());
        let text = text_of(&bytes);
        for words in
            ["bath temperature", "3 of them", "90 °F", "70 °F", "2026-10-07", "The end.", "page 3 of 3"]
        {
            assert!(text.contains(words), "{words}:\n{text}");
        }
        assert!(text.contains("very long words") && text.contains('…'), "{text}");
        assert_eq!(text.matches("L-26-0401").count(), 90);
    }

    #[test]
    fn empty_charts_and_single_readings_are_drawn() {
        let renderer = Renderer::new().unwrap();
        let mut report = report();
        for part in &mut report.parts {
            match part {
                Part::Chart(Chart::Bars { bars, .. }) => bars.clear(),
                Part::Chart(Chart::Times { readings, limits, .. }) => {
                    readings.truncate(1);
                    limits.clear();
                }
                _ => {}
            }
        }
        let text = text_of(&renderer.report(&report, Paper::A4).unwrap());
        assert!(text.contains("2026-10-06"));
        if let Some(Part::Chart(Chart::Times { readings, .. })) = report.parts.get_mut(2) {
            readings.clear();
        }
        renderer.report(&report, Paper::A4).unwrap();
    }

    #[test]
    fn what_no_font_draws_is_refused() {
        let mut report = report();
        report.title = "\u{4e2d}".to_owned();
        assert!(matches!(Renderer::new().unwrap().report(&report, Paper::A4), Err(PdfError::NoGlyph { .. })));
    }
}
