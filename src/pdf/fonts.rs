//! The four typefaces of the page, parsed once per process.
//!
//! Source Sans 3 for the text, DejaVu Sans Mono for digests, and DejaVu Sans for every character
//! the others lack (Hebrew and Arabic among them).

use harfrust::Direction;
use harfrust::Feature;
use harfrust::Font;
use harfrust::GlyphId;
use harfrust::Script;
use harfrust::ShapePlan;
use harfrust::Tag;

use super::error::PdfError;

const TEXT: &[u8] = include_bytes!("../../templates/fonts/SourceSans3-Regular.ttf");
const STRONG: &[u8] = include_bytes!("../../templates/fonts/SourceSans3-Semibold.ttf");
const MONO: &[u8] = include_bytes!("../../templates/fonts/DejaVuSansMono.ttf");
const WIDE: &[u8] = include_bytes!("../../templates/fonts/DejaVuSans.ttf");

/// A typeface of the page.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) enum Face {
    /// Source Sans 3 Regular.
    Text,
    /// Source Sans 3 Semibold.
    Strong,
    /// DejaVu Sans Mono.
    Mono,
    /// DejaVu Sans, for what the others lack.
    Wide,
}

impl Face {
    /// All of them, in a fixed order.
    pub(super) const ALL: [Face; 4] = [Face::Text, Face::Strong, Face::Mono, Face::Wide];

    /// Place in [`Face::ALL`].
    pub(super) fn index(self) -> usize {
        match self {
            Face::Text => 0,
            Face::Strong => 1,
            Face::Mono => 2,
            Face::Wide => 3,
        }
    }
}

/// The writing systems that need their own shaping rules.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Writing {
    Western,
    Hebrew,
    Arabic,
}

/// One typeface, ready to shape and to embed.
pub(super) struct Typeface {
    /// PostScript name.
    pub(super) name: &'static str,
    /// The font file.
    pub(super) bytes: &'static [u8],
    /// The parsed font.
    pub(super) font: Font,
    /// Font units to the em.
    pub(super) units: f64,
    /// Highest ascent, lowest descent, capital height, in thousandths of the em.
    pub(super) ascent: f64,
    pub(super) descent: f64,
    pub(super) cap_height: f64,
    /// Box around every glyph, in thousandths of the em.
    pub(super) bounds: [f64; 4],
    /// Thickness of upright stems in thousandths of the em; no font table holds it.
    pub(super) stem: i64,
    /// Features passed to the shaper with every plan of this face.
    pub(super) features: Vec<Feature>,
    western: ShapePlan,
    western_rtl: ShapePlan,
    hebrew: ShapePlan,
    arabic: ShapePlan,
}

impl Typeface {
    fn new(
        name: &'static str,
        bytes: &'static [u8],
        stem: i64,
        ligatures: bool,
    ) -> Result<Typeface, PdfError> {
        let font = Font::new(bytes, 0)
            .ok_or_else(|| PdfError::Font { name, detail: "it does not parse".to_owned() })?;
        // Western ligatures would put two letters into one glyph, which makes copied text and
        // line breaking needlessly fragile; Arabic cannot be written without its own.
        let features = if ligatures {
            Vec::new()
        } else {
            [b"liga", b"clig", b"calt"].map(|tag| Feature::new(Tag::new(tag), 0, ..)).to_vec()
        };
        let plan = |direction, script| ShapePlan::new(&font, direction, Some(script), None, &features);
        let western = plan(Direction::LeftToRight, Script::LATIN);
        let western_rtl = plan(Direction::RightToLeft, Script::LATIN);
        let hebrew = plan(Direction::RightToLeft, Script::HEBREW);
        let arabic = plan(Direction::RightToLeft, Script::ARABIC);
        let metrics = *font.metrics();
        let units = f64::from(metrics.units_per_em).max(1.0);
        let scale = 1000.0 / units;
        let line = metrics.hhea_line.unwrap_or_default();
        let capital = metrics.cap_height.unwrap_or(line.ascender).to_f64();
        let bounds = metrics.bounds;
        Ok(Typeface {
            name,
            bytes,
            units,
            ascent: (line.ascender.to_f64() * scale).round(),
            descent: (line.descender.to_f64() * scale).round(),
            cap_height: (capital * scale).round(),
            bounds: [bounds.x_min, bounds.y_min, bounds.x_max, bounds.y_max]
                .map(|edge| (edge.to_f64() * scale).round()),
            stem,
            features,
            western,
            western_rtl,
            hebrew,
            arabic,
            font,
        })
    }

    /// The shape plan for a writing system and direction.
    pub(super) fn plan(&self, writing: Writing, rtl: bool) -> &ShapePlan {
        match (writing, rtl) {
            (_, false) => &self.western,
            (Writing::Western, true) => &self.western_rtl,
            (Writing::Hebrew, true) => &self.hebrew,
            (Writing::Arabic, true) => &self.arabic,
        }
    }

    /// The glyph of a character, if the font has one.
    pub(super) fn glyph(&self, c: char) -> Option<u16> {
        let glyph = self.font.charmap().map_unicode(c)?;
        u16::try_from(glyph.to_u32()).ok().filter(|&gid| gid != 0)
    }

    /// A glyph's own advance in thousandths of the em.
    pub(super) fn advance(&self, gid: u16) -> f64 {
        let units = self.font.glyph_metrics().h_advance(GlyphId::from(gid));
        f64::from(units) * 1000.0 / self.units
    }
}

/// All typefaces.
pub(super) struct Fonts {
    faces: [Typeface; 4],
}

impl Fonts {
    /// Parses the fonts that ship with the program.
    ///
    /// # Errors
    /// [`PdfError::Font`] when one does not parse.
    pub(super) fn new() -> Result<Fonts, PdfError> {
        Ok(Fonts {
            faces: [
                Typeface::new("SourceSans3-Regular", TEXT, 84, false)?,
                Typeface::new("SourceSans3-Semibold", STRONG, 122, false)?,
                Typeface::new("DejaVuSansMono", MONO, 88, false)?,
                Typeface::new("DejaVuSans", WIDE, 88, true)?,
            ],
        })
    }

    /// One typeface.
    pub(super) fn face(&self, face: Face) -> &Typeface {
        let [text, strong, mono, wide] = &self.faces;
        match face {
            Face::Text => text,
            Face::Strong => strong,
            Face::Mono => mono,
            Face::Wide => wide,
        }
    }

    /// Whether a text in `face` can show the character, by itself or through the fallback.
    pub(super) fn draws(&self, c: char) -> bool {
        matches!(c, '\n' | '\t' | '\u{200c}' | '\u{200d}' | '\u{2068}' | '\u{2069}')
            || self.face(Face::Text).glyph(c).is_some()
            || self.face(Face::Wide).glyph(c).is_some()
    }

    /// The font files in a fixed order, for their digest.
    pub(super) fn files(&self) -> impl Iterator<Item = &'static [u8]> {
        self.faces.iter().map(|face| face.bytes)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_fonts_hold_what_certificates_write() {
        let fonts = Fonts::new().unwrap();
        for c in "µ°±≤≥Åéüł×–—“”•Ωαж✓".chars() {
            assert!(fonts.draws(c), "{c}");
        }
        assert!(!fonts.draws('字'));
        for face in Face::ALL {
            let face = fonts.face(face);
            assert!(face.advance(face.glyph('0').unwrap()) > 300.0);
            // Figures must align in columns.
            assert_eq!(face.advance(face.glyph('1').unwrap()), face.advance(face.glyph('8').unwrap()));
            assert!(face.ascent > 500.0 && face.descent < 0.0 && face.cap_height > 500.0);
        }
    }
}
