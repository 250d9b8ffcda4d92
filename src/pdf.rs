//! The page: from a certificate's data to a PDF with the data attached and a gap for the seal,
//! and back.
//!
//! ```text
//! data (JSON) -> template -> description -> lines, rows -> pages -> PDF/A-3a file -> (seal)
//!   data         template     description    text, shape    draw      finish, tags,
//!                                            layout, table  running   subset, symbol,
//!                                            rows                     gap
//! file -> read, file, object -> the attached data, the seal's bytes, what they cover
//! ```
//!
//! Rules: [`Renderer::prepare`] is a function of its arguments alone, so that a verifier can make
//! the page again and compare it byte for byte; nothing the data hold can reach the file's own
//! structure; reading back trusts nothing.
//!
//! Only these modules name the PDF, font, template and QR crates.

mod chart;
mod data;
mod description;
mod draw;
mod error;
mod file;
mod finish;
mod fonts;
mod form;
mod gap;
mod layout;
mod object;
mod picture;
mod read;
mod report;
mod rows;
mod running;
mod shape;
mod spelling;
mod subset;
mod symbol;
mod table;
mod tags;
mod template;
#[cfg(test)]
mod tests;
mod text;

use std::ops::Range;
use std::sync::OnceLock;

use lopdf::Dictionary;
use lopdf::Object;
use lopdf::Stream;
use printpdf::PdfDocument;
use sha2::Digest;
use sha2::Sha256;

pub use chart::Bar;
pub use chart::Chart;
pub use chart::Reading;
pub use error::PdfError;
pub use form::FormColumn;
pub use form::FormRow;
pub use read::Sealed;
pub use read::read_sealed;
pub use report::Part;
pub use report::Report;
pub use report::ReportColumn;

use draw::Canvas;
use fonts::Fonts;
use layout::Layout;
use running::Running;
use shape::Shaper;
use subset::Codes;
use subset::Usual;
use tags::Tags;
use template::Template;

/// Pages after which a certificate is taken for a mistake.
const MOST_PAGES: usize = 400;
/// Bounds of the room for a seal, in bytes: a signature value alone, and a long chain with a time
/// stamp.
const RESERVE: std::ops::RangeInclusive<usize> = 64..=65_536;

/// The size of the paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Paper {
    /// 210 mm by 297 mm.
    A4,
    /// 8.5 in by 11 in.
    Letter,
}

impl Paper {
    /// Width and height in points.
    fn size(self) -> (f64, f64) {
        match self {
            Paper::A4 => (595.28, 841.89),
            Paper::Letter => (612.0, 792.0),
        }
    }

    /// Its name as the certificate's data write it.
    pub fn name(self) -> &'static str {
        match self {
            Paper::A4 => "A4",
            Paper::Letter => "Letter",
        }
    }

    /// The paper of that name, if there is one.
    pub fn from_name(name: &str) -> Option<Paper> {
        [Paper::A4, Paper::Letter].into_iter().find(|paper| paper.name() == name)
    }
}

/// What a page is made from.
#[derive(Debug, Clone)]
pub struct Sheet<'a> {
    /// The certificate's data, canonical JSON; attached unchanged as `<number>.json`.
    pub data: &'a [u8],
    /// The SHA-256 of `data`, lower hex.
    pub stamp: &'a str,
    /// The paper's size.
    pub paper: Paper,
    /// The seal's field, if the file will be sealed.
    pub seal: Option<SealField<'a>>,
}

/// What the file says about its seal beside the seal itself. Texts may be empty, but for the
/// signer.
#[derive(Debug, Clone)]
pub struct SealField<'a> {
    /// Whose seal it is.
    pub signer: &'a str,
    /// Why it is set.
    pub reason: &'a str,
    /// Where.
    pub location: &'a str,
    /// How to reach the signer.
    pub contact: &'a str,
    /// Bytes of DER the gap has room for.
    pub reserve: usize,
}

/// A file ready to be sealed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Prepared {
    /// The file.
    pub bytes: Vec<u8>,
    /// Where in it the seal's hexadecimal digits go: between `<` and `>`, exclusive of both.
    pub gap: Option<Range<usize>>,
}

/// The drawing: raised when the same data, template and fonts would give other bytes, and only then. Files kept from
/// earlier releases tell when it was forgotten.
pub const DRAWING: u64 = 1;

/// What a page's look depends on beside its data.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Identity {
    /// [`DRAWING`].
    pub drawing: u64,
    /// The template's name.
    pub template: String,
    /// SHA-256 over the SHA-256 digests of the template, the metadata's frame and the colour
    /// profile, lower hex.
    pub template_sha256: String,
    /// SHA-256 over the SHA-256 digests of the font files, lower hex.
    pub fonts_sha256: String,
}

/// Draws certificates. Fonts and template are read once; one renderer serves all threads.
pub struct Renderer {
    fonts: Fonts,
    usual: Usual,
    template: Template,
    profile: Stream,
    identity: OnceLock<Identity>,
}

impl Renderer {
    /// Reads the fonts and the template that ship with the program.
    ///
    /// # Errors
    /// [`PdfError::Font`] or [`PdfError::Template`] when they are unusable.
    pub fn new() -> Result<Renderer, PdfError> {
        let fonts = Fonts::new()?;
        let usual = Usual::new(&fonts)?;
        Ok(Renderer {
            fonts,
            usual,
            template: Template::new()?,
            profile: finish::profile(),
            identity: OnceLock::new(),
        })
    }

    /// Names what the pages depend on beside their data. Two megabytes are hashed for it, once.
    pub fn identity(&self) -> Identity {
        self.identity.get_or_init(|| self.identify()).clone()
    }

    fn identify(&self) -> Identity {
        let mut template = Sha256::new();
        for part in [template::SOURCE.as_bytes(), finish::XMP.as_bytes(), finish::SRGB] {
            template.update(Sha256::digest(part));
        }
        let mut fonts = Sha256::new();
        for file in self.fonts.files() {
            fonts.update(Sha256::digest(file));
        }
        Identity {
            drawing: DRAWING,
            template: template::NAME.to_owned(),
            template_sha256: hex::encode(template.finalize()),
            fonts_sha256: hex::encode(fonts.finalize()),
        }
    }

    /// Draws a certificate; the same arguments make the same bytes.
    ///
    /// # Errors
    /// [`PdfError`] when the data lack what every certificate states, hold what cannot be
    /// printed, or the stamp is not theirs.
    pub fn prepare(&self, sheet: &Sheet<'_>) -> Result<Prepared, PdfError> {
        let expected = hex::encode(Sha256::digest(sheet.data));
        if sheet.stamp != expected {
            return Err(PdfError::Stamp { found: sheet.stamp.to_owned(), expected });
        }
        if let Some(seal) = &sheet.seal
            && !RESERVE.contains(&seal.reserve)
        {
            let (least, most) = (*RESERVE.start(), *RESERVE.end());
            return Err(PdfError::Reserve { found: seal.reserve, least, most });
        }
        let data = data::read(sheet.data, &|c| self.fonts.draws(c))?;
        let qr = symbol::payload(&data.number, sheet.stamp, &data.fingerprint);
        let description = self.template.describe(&data, sheet.stamp)?;

        let (width, height) = sheet.paper.size();
        let mut shaper = Shaper::new(&self.fonts);
        let inner = width - 2.0 * running::SIDE;
        let all = height * MOST_PAGES as f64;
        let mut layout = Layout::new(&mut shaper, Tags::new(), inner, height * 0.3, all);
        let running = Running::new(&mut layout, &description, width, height)?;
        layout.blocks(&description.blocks, Tags::ROOT)?;
        let pages = rows::paginate(&layout.rows, &layout.heads, running.room(), MOST_PAGES)
            .ok_or(PdfError::TooLong { limit: MOST_PAGES })?;
        let mut numbers = Vec::with_capacity(pages.len());
        for page in 0..pages.len() {
            numbers.push(running.numbers(&mut layout, page, pages.len())?);
        }
        let Layout { mut tags, rows, heads, pictures, .. } = layout;
        for (row, laid) in &pictures {
            if let Some(place) = pages.iter().flatten().find(|p| !p.repeated && p.row == *row) {
                let bottom = height - running.top() - place.y - laid.height;
                let frame = [running::SIDE, bottom, running::SIDE + laid.width, bottom + laid.height];
                tags.describe(laid.node, &laid.alt, frame);
            }
        }

        let mut codes = Codes::new(&self.usual);
        let mut document = PdfDocument::new("");
        for (index, (page, number)) in pages.iter().zip(&numbers).enumerate() {
            let mut canvas = Canvas::new(&self.fonts, &mut codes, &mut tags, index, height);
            running.draw(&mut canvas, number, index)?;
            for placed in page {
                let source = if placed.repeated { &heads } else { &rows };
                let Some(row) = source.get(placed.row) else { continue };
                let top = running.top() + placed.y;
                match pictures.iter().find(|(row, _)| !placed.repeated && *row == placed.row) {
                    Some((_, laid)) => laid.draw(&mut canvas, running::SIDE, top)?,
                    None => canvas.row(row, running::SIDE, top, inner, !placed.repeated)?,
                }
            }
            document.pages.push(finish::page(width, height, canvas.into_ops()));
        }

        let (drawn, mut doc) = finish::open(&document);
        let fonts = codes.add_fonts(&self.fonts, &mut doc)?;
        let symbol = doc.add_object(symbol::stencil(&qr)?);
        let symbols = Dictionary::from_iter([(draw::SYMBOL, Object::Reference(symbol))]);
        let resources = Dictionary::from_iter([
            ("Font", Object::Dictionary(fonts)),
            ("XObject", Object::Dictionary(symbols)),
        ]);
        let about = finish::About {
            title: &description.title,
            number: &data.number,
            language: &description.language,
            issued: &data.issued,
            stamp: sheet.stamp,
            data: sheet.data,
        };
        finish::finish(&mut doc, drawn, &about, tags, resources, &self.profile, sheet.seal.as_ref())?;
        let mut bytes = Vec::new();
        doc.save_to(&mut bytes).map_err(|e| PdfError::Engine { detail: e.to_string() })?;
        let gap = match &sheet.seal {
            Some(seal) => Some(gap::fill_range(&mut bytes, seal.reserve)?),
            None => None,
        };
        Ok(Prepared { bytes, gap })
    }
}
