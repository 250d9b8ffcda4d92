//! Shaping: from a piece of text to positioned glyphs, each from a font that has it.

use std::collections::HashMap;
use std::rc::Rc;

use harfrust::Buffer;
use harfrust::BufferFlags;
use harfrust::ClusterLevel;
use harfrust::Direction;
use harfrust::Script;
use harfrust::ShapeOptions;
use harfrust::ShaperFont;
use unicode_normalization::char::is_combining_mark;

use super::data::is_right_to_left;
use super::error::PdfError;
use super::error::list_chars;
use super::fonts::Face;
use super::fonts::Fonts;
use super::fonts::Writing;

/// One glyph as the shaper placed it; lengths in thousandths of the em.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Glyph {
    pub(super) gid: u16,
    /// Pen movement after it.
    pub(super) advance: f64,
    /// Displacement of its drawing from the pen.
    pub(super) shift: (f64, f64),
    /// The characters it stands for.
    pub(super) text: Rc<str>,
}

/// Glyphs of one face in drawing order.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Run {
    pub(super) face: Face,
    pub(super) glyphs: Vec<Glyph>,
}

/// A shaped piece of text, independent of its size.
#[derive(Debug, PartialEq)]
pub(super) struct Word {
    pub(super) runs: Vec<Run>,
    /// Width in thousandths of the em.
    pub(super) width: f64,
}

/// Shapes texts, remembering the words it has seen.
pub(super) struct Shaper<'f> {
    fonts: &'f Fonts,
    shapers: [ShaperFont<'f, 'static>; 4],
    buffer: Buffer,
    /// Shaped words, by face and direction.
    known: [[HashMap<String, Rc<Word>>; 2]; 4],
}

impl<'f> Shaper<'f> {
    /// A shaper over the page's fonts.
    pub(super) fn new(fonts: &'f Fonts) -> Shaper<'f> {
        Shaper {
            fonts,
            shapers: Face::ALL.map(|face| ShaperFont::new(&fonts.face(face).font)),
            buffer: Buffer::new(),
            known: Default::default(),
        }
    }

    /// Width of a piece in thousandths of the em, each direction shaped as such.
    pub(super) fn measure(&mut self, text: &str, face: Face) -> Result<f64, PdfError> {
        let mut width = 0.0;
        let mut part = String::new();
        let mut part_rtl = false;
        for c in text.chars().filter(|c| !('\u{2066}'..='\u{2069}').contains(c)) {
            let rtl = is_right_to_left(c) || (part_rtl && is_combining_mark(c));
            if rtl != part_rtl && !part.is_empty() {
                width += self.word(&part, face, part_rtl)?.width;
                part.clear();
            }
            part_rtl = rtl;
            part.push(c);
        }
        if !part.is_empty() {
            width += self.word(&part, face, part_rtl)?.width;
        }
        Ok(width)
    }

    /// Shapes a piece of text in one direction, or recalls it.
    pub(super) fn word(&mut self, text: &str, face: Face, rtl: bool) -> Result<Rc<Word>, PdfError> {
        let [known_ltr, known_rtl] = self.known.get(face.index()).ok_or_else(|| engine("no such face"))?;
        let known = if rtl { known_rtl } else { known_ltr };
        if let Some(word) = known.get(text) {
            return Ok(Rc::clone(word));
        }
        let mut runs = Vec::new();
        for (part, part_face, writing) in self.itemise(text, face)? {
            runs.push(self.shape(&part, part_face, writing, rtl)?);
        }
        if rtl {
            runs.reverse();
        }
        let width = runs.iter().flat_map(|run: &Run| run.glyphs.iter()).map(|g| g.advance).sum();
        let word = Rc::new(Word { runs, width });
        if let Some([known_ltr, known_rtl]) = self.known.get_mut(face.index()) {
            let known = if rtl { known_rtl } else { known_ltr };
            known.insert(text.to_owned(), Rc::clone(&word));
        }
        Ok(word)
    }

    /// Cuts a piece where its font or writing system changes.
    fn itemise(&self, text: &str, face: Face) -> Result<Vec<(String, Face, Writing)>, PdfError> {
        let mut parts: Vec<(String, Face, Writing)> = Vec::new();
        for c in text.chars() {
            // A no-break space has done its work once lines are broken; as a plain space it is
            // found again by whoever searches or copies.
            let c = if matches!(c, '\u{a0}' | '\u{202f}' | '\u{2007}') { ' ' } else { c };
            let joins = is_combining_mark(c) || c == '\u{200c}' || c == '\u{200d}';
            if let (true, Some(last)) = (joins, parts.last_mut()) {
                let fits = self.fonts.face(last.1).glyph(c).is_some() || !is_combining_mark(c);
                if !fits && last.1 != Face::Wide {
                    // The letter moves along to the font that has its mark.
                    if let Some(base) = last.0.pop() {
                        if last.0.is_empty() {
                            parts.pop();
                        }
                        parts.push((format!("{base}{c}"), Face::Wide, writing(base)));
                        continue;
                    }
                }
                last.0.push(c);
                continue;
            }
            let has = |face: Face| self.fonts.face(face).glyph(c).is_some();
            let own = if has(face) {
                face
            } else if has(Face::Wide) || !has(Face::Text) {
                Face::Wide
            } else {
                Face::Text
            };
            let neutral = !c.is_alphabetic();
            match parts.last_mut() {
                Some(last) if last.1 == own && (neutral || last.2 == writing(c)) => last.0.push(c),
                _ => parts.push((c.to_string(), own, writing(c))),
            }
        }
        Ok(parts)
    }

    fn shape(&mut self, text: &str, face: Face, writing: Writing, rtl: bool) -> Result<Run, PdfError> {
        let typeface = self.fonts.face(face);
        let buffer = &mut self.buffer;
        buffer.reset();
        buffer.push_str(text);
        buffer.set_direction(if rtl { Direction::RightToLeft } else { Direction::LeftToRight });
        buffer.set_script(Some(match (rtl, writing) {
            (true, Writing::Hebrew) => Script::HEBREW,
            (true, Writing::Arabic) => Script::ARABIC,
            _ => Script::LATIN,
        }));
        buffer.set_cluster_level(ClusterLevel::MonotoneCharacters);
        buffer.set_flags(BufferFlags::REMOVE_DEFAULT_IGNORABLES | BufferFlags::DO_NOT_INSERT_DOTTED_CIRCLE);
        let options =
            ShapeOptions::new().plan(Some(typeface.plan(writing, rtl))).features(&typeface.features);
        let shaper = self.shapers.get(face.index()).ok_or_else(|| engine("no such face"))?;
        harfrust::shape(shaper, buffer, options).map_err(|e| engine(&e.to_string()))?;

        let mut starts: Vec<usize> =
            buffer.glyph_infos().iter().filter_map(|info| usize::try_from(info.cluster).ok()).collect();
        starts.sort_unstable();
        starts.dedup();
        let scale = 1000.0 / typeface.units;
        let mut last_start = None;
        let mut glyphs = Vec::with_capacity(buffer.len());
        for (info, place) in buffer.glyph_infos().iter().zip(buffer.glyph_positions()) {
            let start = usize::try_from(info.cluster).unwrap_or_default();
            let next = starts.get(starts.partition_point(|&s| s <= start)).copied().unwrap_or(text.len());
            let whole = text.get(start..next).unwrap_or_default();
            let gid = u16::try_from(info.glyph_id).unwrap_or_default();
            if gid == 0 {
                let chars: Vec<char> = whole.chars().collect();
                return Err(PdfError::NoGlyph {
                    chars: list_chars(&chars, true),
                    text: text.to_owned(),
                    field: "the page".to_owned(),
                });
            }
            // A second glyph for the same characters must not repeat them when copied.
            let said = if last_start == Some(start) { "\u{200b}" } else { whole };
            last_start = Some(start);
            glyphs.push(Glyph {
                gid,
                advance: f64::from(place.x_advance) * scale,
                shift: (f64::from(place.x_offset) * scale, f64::from(place.y_offset) * scale),
                text: Rc::from(said),
            });
        }
        Ok(Run { face, glyphs })
    }
}

fn engine(detail: &str) -> PdfError {
    PdfError::Engine { detail: format!("text shaping: {detail}") }
}

/// Without the isolates, which have done their work once runs are ordered.
pub(super) fn plain(text: &str) -> String {
    text.chars().filter(|c| !('\u{2066}'..='\u{2069}').contains(c)).collect()
}

fn writing(c: char) -> Writing {
    match c {
        '\u{590}'..='\u{5ff}' | '\u{fb1d}'..='\u{fb4f}' => Writing::Hebrew,
        '\u{600}'..='\u{8ff}' | '\u{fb50}'..='\u{fdff}' | '\u{fe70}'..='\u{fefc}' => Writing::Arabic,
        _ => Writing::Western,
    }
}
