//! Breaking a text into lines (Unicode UAX #14), with right-to-left parts in their order
//! (UAX #9).

use std::rc::Rc;

use unicode_bidi::BidiInfo;
use unicode_bidi::Level;
use unicode_linebreak::BreakOpportunity;
use unicode_linebreak::linebreaks;
use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

use super::data::is_right_to_left;
use super::error::PdfError;
use super::fonts::Face;
use super::shape::Shaper;
use super::shape::Word;
use super::shape::plain;

/// One line of text.
#[derive(Debug, Clone, Default)]
pub(super) struct TextLine {
    pub(super) words: Vec<Rc<Word>>,
    /// Width without trailing spaces, in points.
    pub(super) width: f64,
}

impl Shaper<'_> {
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
            if range.is_empty() {
                lines.push(line);
                continue;
            }
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
    use super::super::fonts::Fonts;
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
