//! The fonts as they are embedded: cut down to the glyphs in use (ISO 32000-1, 9.7 and 9.8).
//!
//! A subset with the characters nearly every certificate is written in is cut and compressed
//! once per process and embedded unchanged; a character outside it goes into a second, small
//! subset made for that certificate. Glyph codes depend on nothing but the text.

use std::collections::BTreeMap;
use std::collections::HashMap;
use std::rc::Rc;

use allsorts::binary::read::ReadScope;
use allsorts::font_data::FontData;
use allsorts::subset::CmapTarget;
use allsorts::subset::SubsetProfile;
use allsorts::subset::subset;
use allsorts::tag;
use lopdf::Dictionary;
use lopdf::Document;
use lopdf::Object;
use lopdf::ObjectId;
use lopdf::Stream;
use lopdf::StringFormat;
use sha2::Digest;
use sha2::Sha256;

use super::error::PdfError;
use super::fonts::Face;
use super::fonts::Fonts;
use super::fonts::Typeface;

/// What certificates are usually written in.
const USUAL: &str = " !\"#$%&'()*+,-./0123456789:;<=>?@ABCDEFGHIJKLMNOPQRSTUVWXYZ[\\]^_`\
    abcdefghijklmnopqrstuvwxyz{|}~§°±²³µ·×Øø–—‘’“”•≤≥";
/// The same for digests, commands and other typewriter text.
const USUAL_MONO: &str = " 0123456789abcdef";

/// The filter that writes bytes as hexadecimal digits (ISO 32000-1, 7.4.2).
pub(super) const HEXADECIMAL: &str = "ASCIIHexDecode";

/// The tables a font program embedded by glyph number needs (ISO 32000-1, 9.9); names and
/// character maps would only add weight.
const TABLES: [u32; 7] = [tag::HEAD, tag::CVT, tag::FPGM, tag::HHEA, tag::HMTX, tag::MAXP, tag::PREP];

/// A font as a content stream names it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) enum FontKey {
    /// The prepared subset of a face.
    Usual(Face),
    /// The subset made for this certificate.
    Extra(Face),
}

impl FontKey {
    /// Its name in the page's resources.
    pub(super) fn name(self) -> &'static str {
        match self {
            FontKey::Usual(Face::Text) => "Tx",
            FontKey::Usual(Face::Strong) => "Sx",
            FontKey::Usual(Face::Mono) => "Mx",
            FontKey::Usual(Face::Wide) => "Wx",
            FontKey::Extra(Face::Text) => "Ty",
            FontKey::Extra(Face::Strong) => "Sy",
            FontKey::Extra(Face::Mono) => "My",
            FontKey::Extra(Face::Wide) => "Wy",
        }
    }
}

/// A font ready to be added to a document.
struct Embedded {
    base_name: String,
    program: Stream,
    to_unicode: Stream,
    widths: Vec<Object>,
    /// Glyph of each code; `None` when a code is its own glyph number.
    glyph_map: Option<Stream>,
}

/// The prepared subsets.
pub(super) struct Usual {
    fonts: Vec<(Face, Embedded)>,
    codes: [HashMap<u16, (u16, char)>; 4],
}

impl Usual {
    /// Cuts and compresses the usual subsets.
    ///
    /// # Errors
    /// [`PdfError::Font`] when a font cannot be cut down.
    pub(super) fn new(fonts: &Fonts) -> Result<Usual, PdfError> {
        let mut made = Usual { fonts: Vec::new(), codes: Default::default() };
        for face in [Face::Text, Face::Strong, Face::Mono] {
            let typeface = fonts.face(face);
            let chars = if face == Face::Mono { USUAL_MONO } else { USUAL };
            let mut wanted: BTreeMap<u16, char> = BTreeMap::new();
            for c in chars.chars() {
                if let Some(gid) = typeface.glyph(c) {
                    wanted.entry(gid).or_insert(c);
                }
            }
            let mut entries = Vec::new();
            for ((gid, c), code) in wanted.into_iter().zip(1u16..) {
                entries.push((code, gid, Rc::from(c.to_string())));
                if let Some(codes) = made.codes.get_mut(face.index()) {
                    codes.insert(gid, (code, c));
                }
            }
            made.fonts.push((face, embed(typeface, &entries)?));
        }
        Ok(made)
    }

    fn code(&self, face: Face, gid: u16, text: &str) -> Option<u16> {
        let (code, c) = self.codes.get(face.index())?.get(&gid)?;
        let mut chars = text.chars();
        (chars.next() == Some(*c) && chars.next().is_none()).then_some(*code)
    }
}

/// Gives every glyph of one certificate its code.
pub(super) struct Codes<'u> {
    usual: &'u Usual,
    used: [bool; 4],
    extra: [Extra; 4],
}

#[derive(Default)]
struct Extra {
    codes: HashMap<(u16, Rc<str>), u16>,
    entries: Vec<(u16, u16, Rc<str>)>,
}

impl<'u> Codes<'u> {
    /// None given yet.
    pub(super) fn new(usual: &'u Usual) -> Codes<'u> {
        Codes { usual, used: [false; 4], extra: Default::default() }
    }

    /// The font and the code in it for a glyph that stands for `text`.
    ///
    /// # Errors
    /// [`PdfError::Engine`] when one certificate uses more than 65 535 different glyphs.
    pub(super) fn code(&mut self, face: Face, gid: u16, text: &Rc<str>) -> Result<(FontKey, u16), PdfError> {
        if let Some(code) = self.usual.code(face, gid, text) {
            if let Some(used) = self.used.get_mut(face.index()) {
                *used = true;
            }
            return Ok((FontKey::Usual(face), code));
        }
        let full = || PdfError::Engine { detail: "more than 65535 different glyphs".to_owned() };
        let extra = self.extra.get_mut(face.index()).ok_or_else(full)?;
        if let Some(code) = extra.codes.get(&(gid, Rc::clone(text))) {
            return Ok((FontKey::Extra(face), *code));
        }
        let code = u16::try_from(extra.entries.len().saturating_add(1)).map_err(|_| full())?;
        extra.codes.insert((gid, Rc::clone(text)), code);
        extra.entries.push((code, gid, Rc::clone(text)));
        Ok((FontKey::Extra(face), code))
    }

    /// Adds the fonts in use to a document; the result is the pages' font dictionary.
    ///
    /// # Errors
    /// [`PdfError::Font`] when the extra subset cannot be cut.
    pub(super) fn add_fonts(&self, fonts: &Fonts, doc: &mut Document) -> Result<Dictionary, PdfError> {
        let mut names = Dictionary::new();
        for (face, embedded) in &self.usual.fonts {
            if self.used.get(face.index()) == Some(&true) {
                let id = add(doc, fonts.face(*face), embedded);
                names.set(FontKey::Usual(*face).name(), Object::Reference(id));
            }
        }
        for face in Face::ALL {
            let Some(extra) = self.extra.get(face.index()) else { continue };
            if !extra.entries.is_empty() {
                let typeface = fonts.face(face);
                let id = add(doc, typeface, &embed(typeface, &extra.entries)?);
                names.set(FontKey::Extra(face).name(), Object::Reference(id));
            }
        }
        Ok(names)
    }
}

/// Cuts a font down to some glyphs. `entries` are code, glyph and text, by rising code from 1.
fn embed(typeface: &Typeface, entries: &[(u16, u16, Rc<str>)]) -> Result<Embedded, PdfError> {
    let fault = |detail: String| PdfError::Font { name: typeface.name, detail };
    let mut glyphs: Vec<u16> = entries.iter().map(|(_, gid, _)| *gid).collect();
    glyphs.push(0);
    glyphs.sort_unstable();
    glyphs.dedup();
    let scope = ReadScope::new(typeface.bytes);
    let data = scope.read::<FontData<'_>>().map_err(|e| fault(e.to_string()))?;
    let provider = data.table_provider(0).map_err(|e| fault(e.to_string()))?;
    let program = subset(&provider, &glyphs, &SubsetProfile::Custom(TABLES.to_vec()), CmapTarget::Unicode)
        .map_err(|e| fault(e.to_string()))?;

    let place = |gid: u16| glyphs.binary_search(&gid).ok().and_then(|i| u16::try_from(i).ok()).unwrap_or(0);
    let identity = entries.iter().all(|(code, gid, _)| place(*gid) == *code);
    let glyph_map = (!identity).then(|| {
        let mut bytes = vec![0, 0];
        for (_, gid, _) in entries {
            bytes.extend(place(*gid).to_be_bytes());
        }
        packed(Dictionary::new(), bytes)
    });
    let mut dict = Dictionary::new();
    dict.set("Length1", length(program.len()));
    let base_name = format!("{}+{}", tag(&program), typeface.name);
    let widths = entries.iter().map(|(_, gid, _)| number(typeface.advance(*gid))).collect();
    Ok(Embedded {
        program: packed(dict, program),
        to_unicode: packed(Dictionary::new(), to_unicode(entries).into_bytes()),
        widths: vec![Object::Integer(1), Object::Array(widths)],
        glyph_map,
        base_name,
    })
}

/// A compressed stream. Compressing can only fail when memory writes do.
pub(super) fn packed(dict: Dictionary, bytes: Vec<u8>) -> Stream {
    let mut stream = Stream::new(dict, bytes);
    if stream.compress().is_err() {
        stream.allows_compression = false;
    }
    plain_end(&mut stream);
    stream
}

/// A stream is followed by a line feed. Where its own last byte is a carriage return, a reader that looks for the
/// end of line takes both, and finds `Length` one too great (ISO 19005-3, 6.1.7.1). Whether it is, chance decides:
/// the last byte is that of a checksum. Such a stream is written in hexadecimal digits.
fn plain_end(stream: &mut Stream) {
    if stream.content.last() != Some(&b'\r') {
        return;
    }
    let mut filters = vec![Object::Name(HEXADECIMAL.as_bytes().to_vec())];
    if let Ok(inner) = stream.dict.get(b"Filter") {
        filters.push(inner.clone());
    }
    let mut digits = hex::encode(&stream.content).into_bytes();
    digits.push(b'>');
    stream.dict.set("Filter", Object::Array(filters));
    stream.set_content(digits);
}

pub(super) fn length(bytes: usize) -> Object {
    Object::Integer(i64::try_from(bytes).unwrap_or(i64::MAX))
}

/// A width: whole where the font has it whole, else with three decimals.
fn number(value: f64) -> Object {
    let rounded = (value * 1000.0).round() / 1000.0;
    if rounded.fract() == 0.0 { Object::Integer(rounded as i64) } else { Object::Real(rounded as f32) }
}

/// The six capitals before a subset's name (ISO 32000-1, 9.6.4), from its digest.
fn tag(program: &[u8]) -> String {
    Sha256::digest(program).iter().take(6).map(|b| char::from(b'A' + b % 26)).collect()
}

/// The character map from codes to text (ISO 32000-1, 9.10.3).
fn to_unicode(entries: &[(u16, u16, Rc<str>)]) -> String {
    let mut out = String::from(
        "/CIDInit /ProcSet findresource begin\n12 dict begin\nbegincmap\n\
         /CIDSystemInfo <</Registry (Adobe) /Ordering (UCS) /Supplement 0>> def\n\
         /CMapName /Adobe-Identity-UCS def\n/CMapType 2 def\n\
         1 begincodespacerange\n<0000> <ffff>\nendcodespacerange\n",
    );
    for block in entries.chunks(100) {
        out.push_str(&format!("{} beginbfchar\n", block.len()));
        for (code, _, text) in block {
            let hex: String = text.encode_utf16().map(|unit| format!("{unit:04x}")).collect();
            out.push_str(&format!("<{code:04x}> <{hex}>\n"));
        }
        out.push_str("endbfchar\n");
    }
    out.push_str("endcmap\nCMapName currentdict /CMap defineresource pop\nend\nend\n");
    out
}

fn add(doc: &mut Document, typeface: &Typeface, embedded: &Embedded) -> ObjectId {
    let name = || Object::Name(embedded.base_name.clone().into_bytes());
    let program = doc.add_object(embedded.program.clone());
    let text = doc.add_object(embedded.to_unicode.clone());
    let map = match &embedded.glyph_map {
        Some(stream) => Object::Reference(doc.add_object(stream.clone())),
        None => Object::Name(b"Identity".to_vec()),
    };
    let whole = |value: f64| Object::Integer(value as i64);
    let fixed_pitch = if typeface.name.contains("Mono") { 1 } else { 0 };
    let descriptor = doc.add_object(Dictionary::from_iter([
        ("Type", Object::Name(b"FontDescriptor".to_vec())),
        ("FontName", name()),
        // Symbolic: the codes are glyph numbers, not those of a Latin encoding.
        ("Flags", Object::Integer(4 + fixed_pitch)),
        ("FontBBox", Object::Array(typeface.bounds.iter().map(|&edge| whole(edge)).collect())),
        ("ItalicAngle", Object::Integer(0)),
        ("Ascent", whole(typeface.ascent)),
        ("Descent", whole(typeface.descent)),
        ("CapHeight", whole(typeface.cap_height)),
        ("StemV", Object::Integer(typeface.stem)),
        ("FontFile2", Object::Reference(program)),
    ]));
    let system = Dictionary::from_iter([
        ("Registry", Object::String(b"Adobe".to_vec(), StringFormat::Literal)),
        ("Ordering", Object::String(b"Identity".to_vec(), StringFormat::Literal)),
        ("Supplement", Object::Integer(0)),
    ]);
    let descendant = Dictionary::from_iter([
        ("Type", Object::Name(b"Font".to_vec())),
        ("Subtype", Object::Name(b"CIDFontType2".to_vec())),
        ("BaseFont", name()),
        ("CIDSystemInfo", Object::Dictionary(system)),
        ("FontDescriptor", Object::Reference(descriptor)),
        ("DW", Object::Integer(0)),
        ("W", Object::Array(embedded.widths.clone())),
        ("CIDToGIDMap", map),
    ]);
    let descendant = doc.add_object(descendant);
    doc.add_object(Dictionary::from_iter([
        ("Type", Object::Name(b"Font".to_vec())),
        ("Subtype", Object::Name(b"Type0".to_vec())),
        ("BaseFont", name()),
        ("Encoding", Object::Name(b"Identity-H".to_vec())),
        ("DescendantFonts", Object::Array(vec![Object::Reference(descendant)])),
        ("ToUnicode", Object::Reference(text)),
    ]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_usual_subset_is_small_and_the_same_each_time() {
        let fonts = Fonts::new().unwrap();
        let usual = Usual::new(&fonts).unwrap();
        let again = Usual::new(&fonts).unwrap();
        for ((face, one), (_, two)) in usual.fonts.iter().zip(&again.fonts) {
            assert_eq!(one.program.content, two.program.content);
            assert_eq!(one.base_name, two.base_name);
            assert!(one.glyph_map.is_none());
            assert!(one.program.content.len() < 25_000, "{face:?}: {}", one.program.content.len());
        }
    }

    #[test]
    fn one_glyph_for_two_characters_keeps_both_apart() {
        let fonts = Fonts::new().unwrap();
        let usual = Usual::new(&fonts).unwrap();
        let mut codes = Codes::new(&usual);
        let gid = fonts.face(Face::Text).glyph('µ').unwrap();
        let (micro, _) = codes.code(Face::Text, gid, &Rc::from("µ")).unwrap();
        let (mu, code) = codes.code(Face::Text, gid, &Rc::from("\u{3bc}")).unwrap();
        assert_eq!(micro, FontKey::Usual(Face::Text));
        assert_eq!((mu, code), (FontKey::Extra(Face::Text), 1));
        assert_eq!(codes.code(Face::Text, gid, &Rc::from("\u{3bc}")).unwrap().1, 1);
    }
}
