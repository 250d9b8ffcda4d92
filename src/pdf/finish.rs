//! What makes the drawn pages a PDF/A-3a, PDF/UA-1 file with its data attached
//! (ISO 19005-3; ISO 14289-1).

use lopdf::Dictionary;
use lopdf::Document;
use lopdf::Object;
use lopdf::ObjectId;
use lopdf::Stream;
use lopdf::StringFormat;
use lopdf::xref::XrefType;
use printpdf::Op;
use printpdf::PdfDocument;
use printpdf::PdfPage;
use printpdf::PdfSaveOptions;
use printpdf::Pt;
use printpdf::Rect;

use super::SealField;
use super::error::PdfError;
use super::spelling::PdfTime;
use super::subset::length;
use super::subset::packed;
use super::tags::Role;
use super::tags::Tags;
use super::tags::words;

/// An sRGB profile made for this program from the published primaries and curve of
/// IEC 61966-2-1; see the note beside it.
pub(super) const SRGB: &[u8] = include_bytes!("../../templates/srgb.icc");
/// The frame of the metadata.
pub(super) const XMP: &str = include_str!("../../templates/metadata.xmp");
/// Named as the program that made the file; the release is in the data, so that a mended
/// release that draws the same page makes the same bytes.
const MAKER: &str = "brightproof";

/// What the finished file says about itself.
pub(super) struct About<'a> {
    pub(super) title: &'a str,
    pub(super) number: &'a str,
    pub(super) language: &'a str,
    pub(super) issued: &'a PdfTime,
    pub(super) stamp: &'a str,
    pub(super) data: &'a [u8],
}

fn name(text: &str) -> Object {
    Object::Name(text.as_bytes().to_vec())
}

fn ascii(text: &str) -> Object {
    Object::String(text.as_bytes().to_vec(), StringFormat::Literal)
}

/// The colour profile, compressed once per process.
pub(super) fn profile() -> Stream {
    packed(Dictionary::from_iter([("N", Object::Integer(3))]), SRGB.to_vec())
}

/// Completes a document: pages as `drawn`, structure, metadata, attachment and, if asked, the
/// seal's field. `doc` holds what `resources` refers to.
///
/// # Errors
/// [`PdfError::Engine`] when the drawing library's document is not shaped as it documents.
pub(super) fn finish(
    doc: &mut Document,
    drawn: Document,
    about: &About<'_>,
    mut tags: Tags,
    resources: Dictionary,
    profile: &Stream,
    seal: Option<&SealField<'_>>,
) -> Result<(), PdfError> {
    let resources = doc.add_object(resources);
    let (root, pages) = take_pages(doc, drawn, resources)?;
    let field = match seal {
        Some(_) => Some(widget(doc, &mut tags, &pages)?),
        None => None,
    };
    if let (Some(first), Some(field)) = (pages.first(), field) {
        let dict = doc.get_dictionary_mut(*first).map_err(engine)?;
        dict.set("Annots", Object::Array(vec![Object::Reference(field)]));
        dict.set("Tabs", name("S"));
    }
    let mut catalog = archived(doc, (root, &pages), tags, about.language, profile)?;
    let said = xmp(&title(about), about.language, Some(about.issued));
    catalog.set("Metadata", Object::Reference(metadata(doc, said)));
    let (file, names) = attach(doc, about);
    catalog.set("AF", Object::Array(vec![Object::Reference(file)]));
    catalog.set("Names", Object::Dictionary(Dictionary::from_iter([("EmbeddedFiles", names)])));
    if let (Some(seal), Some(field)) = (seal, field) {
        let form = Dictionary::from_iter([
            ("Fields", Object::Array(vec![Object::Reference(field)])),
            // 1: signatures exist; 2: append only.
            ("SigFlags", Object::Integer(3)),
        ]);
        catalog.set("AcroForm", Object::Dictionary(form));
        let value = doc.add_object(signature(seal, about.issued));
        doc.get_dictionary_mut(field).map_err(engine)?.set("V", Object::Reference(value));
    }
    let catalog = doc.add_object(catalog);
    let mut info = information(&title(about));
    info.set("CreationDate", ascii(&about.issued.pdf()));
    info.set("ModDate", ascii(&about.issued.pdf()));
    let info = doc.add_object(info);
    let id = Object::String(half_digest(about.stamp), StringFormat::Hexadecimal);
    doc.trailer = Dictionary::from_iter([
        ("Root", Object::Reference(catalog)),
        ("Info", Object::Reference(info)),
        ("ID", Object::Array(vec![id.clone(), id])),
    ]);
    Ok(())
}

/// The catalog of a PDF/A-3a, PDF/UA-1 file, but for its metadata: pages marked, their structure, language and what
/// colours mean.
///
/// # Errors
/// [`PdfError::Engine`] when a page is not there.
pub(super) fn archived(
    doc: &mut Document,
    (root, pages): (ObjectId, &[ObjectId]),
    tags: Tags,
    language: &str,
    profile: &Stream,
) -> Result<Dictionary, PdfError> {
    for (index, page) in pages.iter().enumerate() {
        doc.get_dictionary_mut(*page).map_err(engine)?.set("StructParents", length(index));
    }
    let structure = tags.write(doc, pages)?;
    let profile = doc.add_object(profile.clone());
    let intent = Dictionary::from_iter([
        ("Type", name("OutputIntent")),
        ("S", name("GTS_PDFA1")),
        ("OutputConditionIdentifier", ascii("sRGB")),
        ("Info", ascii("sRGB IEC61966-2.1")),
        ("DestOutputProfile", Object::Reference(profile)),
    ]);
    let shown = Dictionary::from_iter([("DisplayDocTitle", Object::Boolean(true))]);
    Ok(Dictionary::from_iter([
        ("Type", name("Catalog")),
        ("Pages", Object::Reference(root)),
        ("Lang", ascii(language)),
        ("MarkInfo", Object::Dictionary(Dictionary::from_iter([("Marked", Object::Boolean(true))]))),
        ("ViewerPreferences", Object::Dictionary(shown)),
        ("StructTreeRoot", Object::Reference(structure)),
        ("OutputIntents", Object::Array(vec![Object::Dictionary(intent)])),
    ]))
}

pub(super) fn engine(error: lopdf::Error) -> PdfError {
    PdfError::Engine { detail: error.to_string() }
}

/// A page of this size, in points.
pub(super) fn page(width: f64, height: f64, ops: Vec<Op>) -> PdfPage {
    let sheet = Rect::from_wh(Pt(width as f32), Pt(height as f32));
    PdfPage { media_box: sheet.clone(), trim_box: sheet.clone(), crop_box: sheet, ops }
}

/// The pages as the library draws them, and an empty file of ours to put them in.
pub(super) fn open(document: &PdfDocument) -> (Document, Document) {
    // Not `secure`: text is shown through an operation the library passes on unread.
    let options = PdfSaveOptions { optimize: false, secure: false, ..PdfSaveOptions::default() };
    let drawn = document.to_lopdf_document(&options, &mut Vec::new());
    let mut doc = Document::with_version("1.7");
    doc.reference_table.cross_reference_type = XrefType::CrossReferenceTable;
    (drawn, doc)
}

/// Takes over the pages and nothing else of what the drawing library made: its own catalog,
/// dates and identifiers come from a clock and a counter.
pub(super) fn take_pages(
    doc: &mut Document,
    mut drawn: Document,
    resources: ObjectId,
) -> Result<(ObjectId, Vec<ObjectId>), PdfError> {
    let root = doc.new_object_id();
    let mut pages = Vec::new();
    for page in drawn.page_iter().collect::<Vec<_>>() {
        let dict = drawn.get_dictionary(page).map_err(engine)?;
        let sheet = dict.get(b"MediaBox").map_err(engine)?.clone();
        let contents = dict.get(b"Contents").and_then(Object::as_reference).map_err(engine)?;
        let Some(Object::Stream(stream)) = drawn.objects.remove(&contents) else {
            return Err(PdfError::Engine { detail: "a page has no contents".to_owned() });
        };
        let contents = doc.add_object(packed(Dictionary::new(), stream.content));
        pages.push(doc.add_object(Dictionary::from_iter([
            ("Type", name("Page")),
            ("Parent", Object::Reference(root)),
            ("MediaBox", sheet),
            ("Resources", Object::Reference(resources)),
            ("Contents", Object::Reference(contents)),
        ])));
    }
    let kids = pages.iter().map(|page| Object::Reference(*page)).collect();
    let tree = Dictionary::from_iter([
        ("Type", name("Pages")),
        ("Count", length(pages.len())),
        ("Kids", Object::Array(kids)),
    ]);
    doc.objects.insert(root, Object::Dictionary(tree));
    Ok((root, pages))
}

fn title(about: &About<'_>) -> String {
    format!("{} {}", about.title, about.number)
}

/// The first sixteen bytes of the stamp.
fn half_digest(stamp: &str) -> Vec<u8> {
    let digits = stamp.as_bytes().get(..32).unwrap_or_default();
    digits
        .chunks_exact(2)
        .filter_map(|pair| std::str::from_utf8(pair).ok())
        .filter_map(|pair| u8::from_str_radix(pair, 16).ok())
        .collect()
}

/// The metadata's text. A file without a date of its own states none: not in here, nor in its information.
pub(super) fn xmp(title: &str, language: &str, made: Option<&PdfTime>) -> String {
    let mut text = String::new();
    for line in XMP.split_inclusive('\n') {
        match made {
            Some(made) => text.push_str(&line.replace("{date}", made.iso())),
            None if line.contains("{date}") => {}
            None => text.push_str(line),
        }
    }
    text.replace("{language}", &escaped(language))
        .replace("{maker}", MAKER)
        .replace("{title}", &escaped(title))
}

/// The information dictionary: the same as in the metadata (ISO 19005-3, 6.6.3).
pub(super) fn information(title: &str) -> Dictionary {
    Dictionary::from_iter([("Title", words(title)), ("Creator", ascii(MAKER)), ("Producer", ascii(MAKER))])
}

pub(super) fn metadata(doc: &mut Document, xmp: String) -> ObjectId {
    let dict = Dictionary::from_iter([("Type", name("Metadata")), ("Subtype", name("XML"))]);
    let mut stream = Stream::new(dict, xmp.into_bytes());
    // Metadata must be readable without decoding (ISO 19005-3, 6.6.2.1).
    stream.allows_compression = false;
    doc.add_object(stream)
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}

/// Attaches the data; the result is the file specification and the name tree with it.
fn attach(doc: &mut Document, about: &About<'_>) -> (ObjectId, Object) {
    let date = ascii(&about.issued.pdf());
    let params = Dictionary::from_iter([
        ("Size", length(about.data.len())),
        ("CreationDate", date.clone()),
        ("ModDate", date),
    ]);
    let dict = Dictionary::from_iter([
        ("Type", name("EmbeddedFile")),
        ("Subtype", name("application/json")),
        ("Params", Object::Dictionary(params)),
    ]);
    let stream = doc.add_object(packed(dict, about.data.to_vec()));
    let file_name = words(&format!("{}.json", about.number));
    let both = |value: Object| [("F", value.clone()), ("UF", value)];
    let mut spec = Dictionary::from_iter([("Type", name("Filespec"))]);
    spec.extend(&Dictionary::from_iter(both(file_name.clone())));
    // The page is made from the data: they are its source (ISO 19005-3, annex E).
    spec.set("AFRelationship", name("Source"));
    spec.set("Desc", words("The certificate's data, from which its pages are made"));
    spec.set("EF", Object::Dictionary(Dictionary::from_iter(both(Object::Reference(stream)))));
    let spec = doc.add_object(spec);
    let names = Object::Array(vec![file_name, Object::Reference(spec)]);
    (spec, Object::Dictionary(Dictionary::from_iter([("Names", names)])))
}

/// The seal's field: on page 1, without extent, because the seal has no picture.
fn widget(doc: &mut Document, tags: &mut Tags, pages: &[ObjectId]) -> Result<ObjectId, PdfError> {
    let Some(first) = pages.first() else {
        return Err(PdfError::Engine { detail: "no pages".to_owned() });
    };
    let node = tags.add(Tags::ROOT, Role::Form);
    let id = doc.new_object_id();
    let key = tags.annotate(node, id, 0, pages.len());
    let dict = Dictionary::from_iter([
        ("Type", name("Annot")),
        ("Subtype", name("Widget")),
        ("FT", name("Sig")),
        ("T", ascii("seal")),
        ("TU", ascii("The seal of the certificate")),
        ("Rect", Object::Array(vec![Object::Integer(0); 4])),
        // Print and locked.
        ("F", Object::Integer(132)),
        ("P", Object::Reference(*first)),
        ("StructParent", length(key)),
    ]);
    doc.objects.insert(id, Object::Dictionary(dict));
    Ok(id)
}

/// The signature dictionary (ISO 32000-1, 12.8.1; ETSI EN 319 142-1 for the sub-filter).
///
/// The range and the contents come first and everything a shop words is in hexadecimal, so that
/// both are found by their names without a doubt.
fn signature(seal: &SealField<'_>, issued: &PdfTime) -> Dictionary {
    let mut dict = Dictionary::from_iter([
        ("Type", name("Sig")),
        ("Filter", name("Adobe.PPKLite")),
        ("SubFilter", name("ETSI.CAdES.detached")),
        ("ByteRange", Object::Array(vec![Object::Integer(super::gap::HOLD); 4])),
        ("Contents", Object::String(vec![0; seal.reserve], StringFormat::Hexadecimal)),
        ("M", ascii(&issued.pdf())),
        ("Name", words(seal.signer)),
    ]);
    for (key, text) in [("Reason", seal.reason), ("Location", seal.location), ("ContactInfo", seal.contact)] {
        if !text.is_empty() {
            dict.set(key, words(text));
        }
    }
    dict
}
