//! The known attacks on signed PDF files, one by one: the nine that were held against other verifiers (`pdfsig` and
//! pyHanko call several of them valid), and the three families in the literature on shadow, wrapping and exclusion.

use brightproof::app::verify::Overall;

use super::by_purchaser;
use super::find;
use super::forger;
use super::refused;
use super::victim;
use crate::demo;

/// Every variant must be refused.
fn none_verifies(attack: &str, variants: &[(&str, Vec<u8>)]) {
    let (whole, _) = victim();
    for (variant, bytes) in variants {
        assert_ne!(bytes.as_slice(), whole, "{attack}, {variant}: nothing was changed");
        let found = by_purchaser(bytes);
        assert_eq!(
            found.overall(),
            Overall::DoesNotVerify,
            "{attack}, {variant}: {:?}",
            demo::unpassed(&found)
        );
    }
    println!("{attack}: {} tried, {} refused, 0 verify", variants.len(), variants.len());
}

fn changed(at: usize, to: &[u8]) -> Vec<u8> {
    let mut bytes = victim().0.to_vec();
    bytes[at..at + to.len()].copy_from_slice(to);
    bytes
}

fn same(trailer: &str) -> String {
    trailer.to_owned()
}

/// The number that a reference after a mark names.
fn number(mark: &str) -> usize {
    let (bytes, _) = victim();
    let at = find(bytes, mark.as_bytes()) + mark.len();
    let text = std::str::from_utf8(&bytes[at..at + 8]).unwrap();
    text.split(' ').next().unwrap().parse().unwrap()
}

/// The number and text of the object that holds a mark.
fn object(mark: &[u8]) -> (usize, String) {
    let (bytes, _) = victim();
    let place = forger::stream(bytes, mark);
    let head = String::from_utf8_lossy(&bytes[place.start - 24..place.start]).into_owned();
    let number = head.trim_end().trim_end_matches(" 0 obj").rsplit('\n').next().unwrap().parse().unwrap();
    (number, String::from_utf8_lossy(&bytes[place]).into_owned())
}

#[test]
fn a_byte_of_the_page_changed() {
    let (bytes, _) = victim();
    let page = format!("\n{} 0 obj\n", number("/Resources 17 0 R/Contents "));
    let stream = find(bytes, page.as_bytes()) + 100;
    let variants: Vec<_> =
        (0..40).map(|turn| ("text", changed(stream + turn, &[bytes[stream + turn] ^ 1]))).collect();
    none_verifies("a byte of the page changed", &variants);
}

#[test]
fn the_reason_changed() {
    let (bytes, _) = victim();
    let at = find(bytes, b"/Reason<FEFF") + 12;
    let other = if bytes[at + 3] == b'3' { b'4' } else { b'3' };
    none_verifies("the reason changed", &[("one letter", changed(at + 3, &[other]))]);
}

#[test]
fn a_bit_of_the_signature_changed() {
    let (bytes, _) = victim();
    let (gap, _) = forger::gap(bytes);
    // The signature's value ends the seal; its digits are followed by zeros to the room's end.
    let last = gap.clone().rev().find(|at| bytes[*at] != b'0').unwrap();
    let digit = |digit: u8| u8::try_from((digit as char).to_digit(16).unwrap()).unwrap();
    let variants: Vec<_> = (last - 100..last)
        .map(|at| ("a digit", changed(at, format!("{:x}", digit(bytes[at]) ^ 1).as_bytes())))
        .collect();
    none_verifies("a bit of the signature changed", &variants);
}

#[test]
fn a_comment_appended() {
    let (bytes, _) = victim();
    let with = |text: &str| [bytes, text.as_bytes()].concat();
    none_verifies(
        "a comment appended",
        &[("comment", with("\n% reviewed\n")), ("line end", with("\n")), ("second end", with("\n%%EOF"))],
    );
}

#[test]
fn an_incremental_update_that_replaces_the_page() {
    let (bytes, _) = victim();
    let contents = number("/Resources 17 0 R/Contents ");
    let text = "<</Length 35>>stream\nBT /F1 12 Tf (All conforms) Tj ET   \nendstream";
    let update = forger::update_of(bytes, contents, text, &same);
    none_verifies(
        "an incremental update replaces the page",
        &[("as it is", update.clone()), ("range stretched", forger::stretch(&update))],
    );
}

#[test]
fn information_added() {
    let (bytes, _) = victim();
    let added = forger::update_of(bytes, 9_999, "<</Title(Other)>>", &|trailer| {
        let kept = trailer.split("/Info").next().unwrap();
        format!("{kept}/Info 9999 0 R")
    });
    none_verifies("information added", &[("new object", added), ("the old one", forger::update(bytes).1)]);
}

#[test]
fn the_seal_stripped() {
    let (bytes, _) = victim();
    let name = |mark: &[u8]| {
        let at = find(bytes, mark) + 1;
        changed(at, &[bytes[at] ^ 0x20])
    };
    let (_, catalog) = object(b"/Type/Catalog");
    let (root, _) = object(b"/Type/Catalog");
    let form = catalog.find("/AcroForm").unwrap();
    let bare = format!("{}/Zcroform{}", &catalog[..form], &catalog[form + 9..]);
    none_verifies(
        "the seal stripped",
        &[
            ("form renamed", name(b"/AcroForm")),
            ("signature renamed", name(b"/Type/Sig")),
            ("field renamed", name(b"/FT/Sig")),
            ("by an update", forger::update_of(bytes, root, &bare, &same)),
        ],
    );
}

#[test]
fn bytes_in_the_padding_of_the_seal() {
    let (bytes, _) = victim();
    let (gap, _) = forger::gap(bytes);
    let last = gap.clone().rev().find(|at| bytes[*at] != b'0').unwrap();
    let padding = last + 2..gap.end;
    assert!(!padding.is_empty());
    let mut variants: Vec<_> = padding.clone().map(|at| ("a digit", changed(at, b"7"))).collect();
    variants.push(("blanks", changed(padding.start, &vec![b' '; padding.len()])));
    none_verifies("bytes in the padding of the seal", &variants);
}

#[test]
fn an_annotation_added() {
    let (bytes, _) = victim();
    let (page, text) = object(b"/Type/Page/");
    let note = "/Annots[<</Type/Annot/Subtype/FreeText/Rect[50 50 300 90]/Contents(accepted)/DA(/F 9 Tf)>>";
    let with = text.replace("/Annots[", note);
    assert_ne!(with, text);
    let update = forger::update_of(bytes, page, &with, &same);
    none_verifies(
        "an annotation added",
        &[("as it is", update.clone()), ("range stretched", forger::stretch(&update))],
    );
}

/// Something is shown that the signer did not see: objects exchanged after sealing by what an update names.
#[test]
fn shadow() {
    let (bytes, _) = victim();
    let (root, catalog) = object(b"/Type/Catalog");
    let (page, text) = object(b"/Type/Page/");
    let hidden = text.replace("/Contents ", "/Hidden ");
    let replaced = forger::update_of(bytes, page, &hidden, &same);
    let moved = forger::update_of(bytes, 9_999, &catalog, &|trailer| {
        trailer.replace(&format!("/Root {root} 0 R"), "/Root 9999 0 R")
    });
    // Hidden in the file before it was sealed cannot be tried from outside: the sealer draws the file itself.
    none_verifies(
        "shadow",
        &[
            ("hide", replaced.clone()),
            ("replace the catalog", moved.clone()),
            ("hide, range stretched", forger::stretch(&replaced)),
            ("replace, range stretched", forger::stretch(&moved)),
        ],
    );
}

/// What was sealed is moved away, and something else stands in its place.
#[test]
fn signature_wrapping() {
    let (bytes, _) = victim();
    let (gap, range) = forger::gap(bytes);
    let (before, seal, after) =
        (&bytes[..gap.start - 1], &bytes[gap.start - 1..gap.end + 1], &bytes[gap.end + 1..]);
    let mut variants = Vec::new();
    for put in ["1 0 obj\n<</Title(Other)>>\nendobj\n", " ", "\n%%EOF"] {
        // The second part is moved back; the first range is not touched, or names the new place.
        let moved = [before, seal, put.as_bytes(), after].concat();
        variants.push(("moved", moved.clone()));
        let text = format!("0 {} {} {}", before.len(), gap.end + 1 + put.len(), after.len());
        let mut named = moved;
        named[range.start..range.start + text.len()].copy_from_slice(text.as_bytes());
        variants.push(("moved and named", named));
    }
    // A second range, in the seal's own room, where nothing is signed.
    let last = gap.clone().rev().find(|at| bytes[*at] != b'0').unwrap();
    let text = format!(">/ByteRange[0 {} {} {}]", before.len(), gap.end + 1, after.len());
    if last + 2 + text.len() < gap.end {
        variants.push(("a second range in the room", changed(last + 2, text.as_bytes())));
    }
    variants.push(("the room closed early", changed(last + 2, b">")));
    variants.push(("the whole twice", [bytes, bytes].concat()));
    none_verifies("signature wrapping", &variants);
}

/// The signature is there, and is made unreadable so that a reader might not check it.
#[test]
fn signature_exclusion() {
    let (bytes, _) = victim();
    let (gap, range) = forger::gap(bytes);
    let blank = |text: &str| {
        let room = range.end - range.start;
        format!("{text:room$}").into_bytes()
    };
    let without = |from: usize, to: usize, put: &str| [&bytes[..from], put.as_bytes(), &bytes[to..]].concat();
    let contents = gap.start - "/Contents<".len();
    let mut variants = vec![
        ("no contents", without(contents, gap.end + 1, "")),
        ("contents are null", without(contents, gap.end + 1, "/Contents null")),
        ("contents are empty", without(gap.start, gap.end, "")),
        ("contents are zero", changed(gap.start, &vec![b'0'; gap.len()])),
        ("no range", without(range.start - 11, range.end + 1, "")),
        ("range is null", without(range.start - 11, range.end + 1, "/ByteRange null")),
        ("no filter", without(find(bytes, b"/SubFilter"), find(bytes, b"/ByteRange["), "")),
    ];
    let sub = find(bytes, b"/SubFilter/ETSI") + 11;
    variants.push(("another filter", changed(sub, b"XTSI")));
    for text in ["", "0 0 0 0", "0 -1 -1 0", "-1 1 1 1", "0 99999999999 1 1", "0 1 2", "0 1 2 3 4", "a b c d"]
    {
        variants.push(("range", changed(range.start, &blank(text))));
    }
    none_verifies("signature exclusion", &variants);
}

/// Ranges that leave something out, overlap, or are written otherwise, sealed again under a stranger's or stolen key
/// as well: the one allowed range is from the first byte to the last, but for the seal's digits.
#[test]
fn ranges_that_leave_something_out() {
    let (bytes, _) = victim();
    let (gap, range) = forger::gap(bytes);
    let (one, two, rest) = (gap.start - 1, gap.end + 1, bytes.len() - gap.end - 1);
    let key = demo::desk(&demo::Demo::get().folder).seal;
    let mut variants = Vec::new();
    for text in [
        format!("0 {} {two} {rest}", one - 1),
        format!("1 {} {two} {rest}", one - 1),
        format!("0 {one} {} {}", two + 1, rest - 1),
        format!("0 {one} {two} {}", rest - 1),
        format!("0 {one} {} {}", one, rest + two - one),
        format!("0 {two} {two} {rest}"),
        format!("0 {one} {two} 0"),
        format!("{two} {rest} 0 {one}"),
        format!("00 {one} {two} {rest}"),
        format!("0 {one} {two} +{rest}"),
        format!("0  {one} {two} {rest}"),
        format!("0 {one}.0 {two} {rest}"),
    ] {
        let mut moved = bytes.to_vec();
        let room =
            range.start..range.end + 1 + bytes[range.end + 1..].iter().take_while(|b| **b == b' ').count();
        assert!(text.len() < room.len(), "{text}");
        moved[room.clone()].fill(b' ');
        moved[room.start..room.start + text.len()].copy_from_slice(text.as_bytes());
        moved[room.start + text.len()] = b']';
        variants.push(("range", moved.clone()));
        variants.push(("range, sealed again", forger::reseal(&moved, &key)));
    }
    none_verifies("ranges that leave something out", &variants);
    refused(&by_purchaser(&variants[0].1), "form", "");
}
