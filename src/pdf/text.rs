//! From a string to lines of positioned glyphs: normalising, choosing fonts, shaping, breaking.

use std::collections::HashMap;
use std::rc::Rc;

use harfrust::Buffer;
use harfrust::BufferFlags;
use harfrust::ClusterLevel;
use harfrust::Direction;
use harfrust::Script;
use harfrust::ShapeOptions;
use harfrust::ShaperFont;
use unicode_bidi::BidiInfo;
use unicode_bidi::Level;
use unicode_linebreak::BreakOpportunity;
use unicode_linebreak::linebreaks;
use unicode_normalization::UnicodeNormalization;
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

/// One line of text.
#[derive(Debug, Clone, Default)]
pub(super) struct TextLine {
    pub(super) words: Vec<Rc<Word>>,
    /// Width without trailing spaces, in points.
    pub(super) width: f64,
}

/// Shapes and breaks texts, remembering the words it has seen.
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

    /// Breaks a text into lines no wider than `width` points.
    ///
    /// A newline forces a break; a word wider than a line is broken between characters.
    ///
    /// # Errors
    /// [`PdfError::NoGlyph`] for a character no font can draw.
    pub(super) fn wrap(
        &mut self,
        text: &str,
        face: Face,
        size: f64,
        width: f64,
    ) -> Result<Vec<TextLine>, PdfError> {
        let normal: String;
        let text = if text.is_ascii() {
            text
        } else {
            normal = text.nfc().collect();
            &normal
        };
        let mut lines = Vec::new();
        for paragraph in text.split('\n') {
            let paragraph = paragraph.replace('\t', " ");
            if paragraph.chars().any(is_right_to_left) {
                self.wrap_mixed(&paragraph, face, size, width, &mut lines)?;
            } else {
                self.wrap_western(&paragraph, face, size, width, &mut lines)?;
            }
        }
        Ok(lines)
    }

    fn wrap_western(
        &mut self,
        text: &str,
        face: Face,
        size: f64,
        width: f64,
        lines: &mut Vec<TextLine>,
    ) -> Result<(), PdfError> {
        let mut line = TextLine::default();
        // Width of the line with its trailing spaces.
        let mut pen = 0.0;
        for segment in segments(text) {
            let word = segment.trim_end_matches(' ');
            let shaped = self.word(word, face, false)?;
            let wide = shaped.width * size / 1000.0;
            if pen > 0.0 && pen + wide > width {
                lines.push(std::mem::take(&mut line));
                pen = 0.0;
            }
            if wide > width {
                for piece in self.chop(word, face, size, width)? {
                    if pen > 0.0 {
                        lines.push(std::mem::take(&mut line));
                    }
                    pen = piece.width * size / 1000.0;
                    line.width = pen;
                    line.words.push(piece);
                }
            } else if !word.is_empty() {
                pen += wide;
                line.width = pen;
                line.words.push(shaped);
            }
            for _ in word.len()..segment.len() {
                let space = self.word(" ", face, false)?;
                pen += space.width * size / 1000.0;
                line.words.push(space);
            }
        }
        lines.push(line);
        Ok(())
    }

    /// Cuts a word that is wider than a line between its characters.
    fn chop(&mut self, word: &str, face: Face, size: f64, width: f64) -> Result<Vec<Rc<Word>>, PdfError> {
        let mut pieces = Vec::new();
        let mut piece = String::new();
        let mut pen = 0.0;
        for cluster in clusters(word) {
            let wide = self.word(cluster, face, false)?.width * size / 1000.0;
            if !piece.is_empty() && pen + wide > width {
                pieces.push(self.word(&piece, face, false)?);
                piece.clear();
                pen = 0.0;
            }
            piece.push_str(cluster);
            pen += wide;
        }
        if !piece.is_empty() {
            pieces.push(self.word(&piece, face, false)?);
        }
        Ok(pieces)
    }

    /// Breaks a paragraph with right-to-left letters (UAX #9, paragraph level left to right).
    fn wrap_mixed(
        &mut self,
        text: &str,
        face: Face,
        size: f64,
        width: f64,
        lines: &mut Vec<TextLine>,
    ) -> Result<(), PdfError> {
        let bidi = BidiInfo::new(text, Some(Level::ltr()));
        let Some(paragraph) = bidi.paragraphs.first() else { return Ok(()) };
        let mut start = 0;
        let mut end = 0;
        let mut pen = 0.0;
        let mut cuts = Vec::new();
        for segment in segments(text) {
            let mut atoms: Vec<&str> = vec![segment];
            let measured = self.measure(segment.trim_end_matches(' '), face)? * size / 1000.0;
            if measured > width {
                atoms = clusters(segment).collect();
            }
            for atom in atoms {
                let bare = self.measure(atom.trim_end_matches(' '), face)? * size / 1000.0;
                if pen > 0.0 && pen + bare > width {
                    cuts.push(start..end);
                    start = end;
                    pen = 0.0;
                }
                pen += self.measure(atom, face)? * size / 1000.0;
                end += atom.len();
            }
        }
        cuts.push(start..end);
        for range in cuts {
            let bare = text.get(range.clone()).unwrap_or_default().trim_end_matches(' ').len();
            let range = range.start..range.start.saturating_add(bare);
            let mut line = TextLine::default();
            let (levels, runs) = bidi.visual_runs(paragraph, range);
            for run in runs {
                let rtl = levels.get(run.start).is_some_and(Level::is_rtl);
                let Some(part) = text.get(run) else { continue };
                let part = plain(part);
                if part.is_empty() {
                    continue;
                }
                let word = self.word(&part, face, rtl)?;
                line.width += word.width * size / 1000.0;
                line.words.push(word);
            }
            lines.push(line);
        }
        Ok(())
    }

    /// Width of a piece in thousandths of the em, each direction shaped as such.
    fn measure(&mut self, text: &str, face: Face) -> Result<f64, PdfError> {
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
    fn word(&mut self, text: &str, face: Face, rtl: bool) -> Result<Rc<Word>, PdfError> {
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
            let next = starts.iter().copied().find(|&s| s > start).unwrap_or(text.len());
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
fn plain(text: &str) -> String {
    text.chars().filter(|c| !('\u{2066}'..='\u{2069}').contains(c)).collect()
}

fn writing(c: char) -> Writing {
    match c {
        '\u{590}'..='\u{5ff}' | '\u{fb1d}'..='\u{fb4f}' => Writing::Hebrew,
        '\u{600}'..='\u{8ff}' | '\u{fb50}'..='\u{fdff}' | '\u{fe70}'..='\u{fefc}' => Writing::Arabic,
        _ => Writing::Western,
    }
}

/// The pieces between which a line may end (UAX #14).
fn segments(text: &str) -> impl Iterator<Item = &str> {
    let mut start = 0;
    linebreaks(text).filter_map(move |(end, kind)| {
        let segment = text.get(start..end);
        start = end;
        // The end of the text counts as a mandatory break; an empty text has no segment.
        segment.filter(|s| !s.is_empty() || kind == BreakOpportunity::Allowed)
    })
}

/// A letter with the marks on it.
fn clusters(text: &str) -> impl Iterator<Item = &str> {
    let mut rest = text;
    std::iter::from_fn(move || {
        let mut chars = rest.char_indices();
        chars.next()?;
        let end = chars
            .find(|&(_, c)| !is_combining_mark(c) && c != '\u{200c}' && c != '\u{200d}')
            .map_or(rest.len(), |(i, _)| i);
        let (cluster, tail) = rest.split_at_checked(end)?;
        rest = tail;
        Some(cluster)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(line: &TextLine) -> String {
        let runs = line.words.iter().flat_map(|w| w.runs.iter());
        runs.flat_map(|r| r.glyphs.iter()).map(|g| &*g.text).collect()
    }

    fn lines(text: &str, width: f64) -> Vec<String> {
        let fonts = Fonts::new().unwrap();
        let mut shaper = Shaper::new(&fonts);
        let lines = shaper.wrap(text, Face::Text, 10.0, width).unwrap();
        assert!(lines.iter().all(|l| l.width <= width + 0.01), "{text}");
        lines.iter().map(said).collect()
    }

    #[test]
    fn lines_break_at_spaces_and_newlines() {
        assert_eq!(lines("one two three", 40.0), ["one two ", "three"]);
        assert_eq!(lines("one\ntwo", 400.0), ["one", "two"]);
        assert_eq!(lines("", 40.0), [""]);
    }

    #[test]
    fn numbers_stay_with_their_units() {
        assert_eq!(lines("at 84\u{a0}°F", 30.0), ["at ", "84 °F"]);
    }

    #[test]
    fn a_word_wider_than_the_line_is_cut() {
        let cut = lines("xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx", 50.0);
        assert!(cut.len() > 2);
        assert_eq!(cut.concat(), "xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx");
    }

    #[test]
    fn right_to_left_words_are_drawn_from_the_right() {
        // In visual order the first letter of the name comes last.
        assert_eq!(lines("a \u{2068}שלום\u{2069} b", 400.0), ["a םולש b"]);
        let wrapped = lines("שלום שלום שלום שלום", 45.0);
        assert!(wrapped.len() > 1, "{wrapped:?}");
    }

    #[test]
    fn arabic_letters_join() {
        let fonts = Fonts::new().unwrap();
        let mut shaper = Shaper::new(&fonts);
        let line = shaper.wrap("سلم", Face::Text, 10.0, 400.0).unwrap().remove(0);
        let glyphs: Vec<u16> = line
            .words
            .iter()
            .flat_map(|w| w.runs.iter())
            .flat_map(|r| r.glyphs.iter())
            .map(|g| g.gid)
            .collect();
        let alone = fonts.face(Face::Wide).glyph('س').unwrap();
        assert_eq!(glyphs.len(), 3);
        assert!(!glyphs.contains(&alone), "the first letter takes its initial form");
    }

    #[test]
    fn marks_stay_with_their_letters() {
        assert_eq!(lines("e\u{301}", 400.0), ["é"]);
        assert_eq!(lines("x\u{304}", 400.0), ["x\u{304}"]);
    }
}
