//! What a template produces: a page's wording in reading order, without any geometry.
//!
//! The vocabulary is closed on purpose: a template can choose and word, never draw.

use serde::Deserialize;

use crate::certificate::Picture;

/// The whole document as its template describes it.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Description {
    /// Language tag of the wording, such as `en`.
    pub(super) language: String,
    /// The document's title, on every page.
    pub(super) title: String,
    /// The certificate's number, on every page.
    pub(super) number: String,
    /// Smaller lines under the number, on every page.
    pub(super) under: Vec<String>,
    /// Framed lines under the head of every page (demo, controlled data); empty ones are skipped.
    pub(super) banners: Vec<String>,
    /// The words before the stamp at the foot of every page.
    pub(super) stamp_label: String,
    /// The stamp as it is printed.
    pub(super) stamp: String,
    /// `page` and `of`, around the page numbers.
    pub(super) page_words: (String, String),
    /// What the QR symbol is, for those who cannot see it.
    pub(super) qr_alt: String,
    /// What stands on the pages, in reading order.
    pub(super) blocks: Vec<Block>,
}

/// A style of text.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Style {
    Body,
    Strong,
    Small,
    Label,
    Mono,
    Statement,
}

/// One thing on the page.
#[derive(Debug, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub(super) enum Block {
    /// A heading of level 2 or 3.
    Heading { level: u8, text: String },
    /// A paragraph.
    Text { style: Style, text: String },
    /// Two columns side by side.
    Sides { left: Vec<Para>, right: Vec<Para> },
    /// Labelled values, one or two to a row; pairs with an empty value are skipped.
    Facts { columns: u8, pairs: Vec<Vec<String>> },
    /// A table with a head that is repeated on every page it reaches.
    Table { columns: Vec<Column>, rows: Vec<RowDef> },
    /// Bulleted items.
    List { items: Vec<String> },
    /// A shaded frame with a bar at its left.
    Frame { paras: Vec<Para> },
    /// Blocks that stay on one page if they can.
    Keep { blocks: Vec<Block> },
    /// A picture, from its data.
    Picture { of: Box<Picture> },
    /// What follows begins on a new page.
    NewPage,
    /// The mark after the last word.
    End { text: String },
    /// Nothing; lets a template end every block with a comma.
    Nothing,
}

/// A paragraph within a column or a frame.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Para {
    pub(super) style: Style,
    pub(super) text: String,
}

/// A column of a table.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Column {
    /// Its heading.
    pub(super) head: String,
    /// Its share of the width.
    pub(super) share: f64,
    /// Whether it holds numbers, set flush right.
    #[serde(default)]
    pub(super) right: bool,
}

/// A row of a table: cells and a note under them, or one text across all columns.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RowDef {
    #[serde(default)]
    pub(super) cells: Vec<String>,
    #[serde(default)]
    pub(super) note: String,
    #[serde(default)]
    pub(super) across: String,
}
