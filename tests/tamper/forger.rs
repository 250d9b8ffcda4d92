//! What a forger can do to a file with an editor, and with a stolen seal key.

use std::ops::Range;

use brightproof::app::issue;
use brightproof::certificate::Certificate;
use brightproof::pdf::read_sealed;
use brightproof::seal::SealKey;

use crate::demo;

/// What a certificate says.
pub fn certificate(bytes: &[u8]) -> Certificate {
    serde_json::from_slice(&read_sealed(bytes).unwrap().attachment).unwrap()
}

pub fn find(bytes: &[u8], mark: &[u8]) -> usize {
    bytes.windows(mark.len()).position(|window| window == mark).unwrap()
}

/// Where the seal's digits are, and where the four numbers of its range are.
pub fn gap(bytes: &[u8]) -> (Range<usize>, Range<usize>) {
    let range = find(bytes, b"/ByteRange[") + 11;
    let close = range + find(&bytes[range..], b"]");
    let first = close + find(&bytes[close..], b"/Contents<") + 10;
    (first..first + find(&bytes[first..], b">"), range..close)
}

/// Draws the page from data of the forger's choice, and seals it.
pub fn sealed(certificate: &Certificate, key: &SealKey) -> Vec<u8> {
    try_sealed(certificate, key).unwrap()
}

/// The same, if a page can be drawn from them.
pub fn try_sealed(certificate: &Certificate, key: &SealKey) -> Option<Vec<u8>> {
    let data = certificate.canonical().ok()?;
    let drawn = issue::draw(demo::renderer(), certificate, &data, key.reserve().unwrap()).ok()?;
    Some(reseal(&drawn.bytes, key))
}

/// Makes table, range and seal fit a file that was damaged elsewhere, if the seal's place is still there.
pub fn cover_up(bytes: &[u8], key: &SealKey) -> Option<Vec<u8>> {
    let place = |bytes: &[u8], mark: &[u8]| bytes.windows(mark.len()).position(|window| window == mark);
    let table = place(bytes, b"\nxref\n0 ")? + 1;
    let trailer = table + place(&bytes[table..], b"trailer\n")?;
    let last = trailer + place(&bytes[trailer..], b"\nstartxref\n")?;
    let mut text = String::new();
    let (mut from, mut count) = (0, 1);
    while let Some(at) = place(&bytes[from..table], format!("{count} 0 obj\n").as_bytes()) {
        text.push_str(&format!("{:010} 00000 n \n", from + at));
        (from, count) = (from + at + 1, count + 1);
    }
    let head = format!("xref\n0 {count}\n0000000000 65535 f \n");
    let tail = format!("\nstartxref\n{table}\n%%EOF");
    let parts = [&bytes[..table], head.as_bytes(), text.as_bytes(), &bytes[trailer..last], tail.as_bytes()];
    let bytes = parts.concat();

    let range = place(&bytes, b"/ByteRange[")?;
    let near = &bytes[range..bytes.len().min(range + 100)];
    let contents = range + place(near, b"/Contents<")? + 10;
    let digits = bytes[contents..].iter().take_while(|b| b.is_ascii_hexdigit()).count();
    let whole = digits >= key.reserve().unwrap() * 2 && bytes.get(contents + digits) == Some(&b'>');
    let closed = place(near, b"]").is_some_and(|at| range + at < contents - 10);
    let blank = bytes[range..contents].iter().filter(|b| **b == b' ').count() > 20;
    (whole && closed && blank).then(|| try_stretch(&bytes))?.map(|bytes| reseal(&bytes, key))
}

/// Seals whatever the file holds now.
pub fn reseal(bytes: &[u8], key: &SealKey) -> Vec<u8> {
    let (gap, _) = gap(bytes);
    let mut bytes = bytes.to_vec();
    let [before, after] = issue::pieces(&bytes, &gap).unwrap();
    let digits = hex::encode(key.sign([&before, &after]).unwrap());
    let room = &mut bytes[gap];
    room.fill(b'0');
    room[..digits.len()].copy_from_slice(digits.as_bytes());
    bytes
}

/// Makes the range cover the file as long as it is.
pub fn stretch(bytes: &[u8]) -> Vec<u8> {
    try_stretch(bytes).unwrap()
}

/// The same, if the range can be written in its place.
fn try_stretch(bytes: &[u8]) -> Option<Vec<u8>> {
    let (gap, range) = gap(bytes);
    let mut bytes = bytes.to_vec();
    let after = gap.end + 1;
    let text = format!("0 {} {after} {}", gap.start - 1, bytes.len().checked_sub(after)?);
    // The range is followed by spaces kept for longer numbers.
    let room = range.end + bytes[range.end + 1..].iter().take_while(|b| **b == b' ').count();
    let place = range.start..room + 1;
    if text.len() >= place.len() {
        return None;
    }
    bytes[place.clone()].fill(b' ');
    bytes[place.start..][..text.len()].copy_from_slice(text.as_bytes());
    bytes[place.start + text.len()] = b']';
    Some(bytes)
}

/// An incremental update that replaces the document's information: how many bytes it adds, and the whole.
pub fn update(bytes: &[u8]) -> (usize, Vec<u8>) {
    let longer = update_of(bytes, 1, "<</Title(Something else)>>", &|trailer| trailer.to_owned());
    (longer.len() - bytes.len(), longer)
}

/// An incremental update that writes an object anew, with what is said of the trailer.
pub fn update_of(bytes: &[u8], number: usize, text: &str, trailer: &dyn Fn(&str) -> String) -> Vec<u8> {
    let (start, _) = table(bytes);
    let tail = String::from_utf8_lossy(&bytes[start..]).into_owned();
    let old = tail.split("trailer\n<<").nth(1).unwrap().split(">>\nstartxref").next().unwrap();
    let at = bytes.len() + 1;
    let object = format!("{number} 0 obj\n{text}\nendobj\n");
    let added = format!(
        "\n{object}xref\n{number} 1\n{at:010} 00000 n \ntrailer\n<<{}/Prev {start}>>\nstartxref\n{}\n%%EOF",
        trailer(old),
        at + object.len()
    );
    [bytes, added.as_bytes()].concat()
}

/// Where the cross-reference table begins, and the offsets in it from object 1 on.
fn table(bytes: &[u8]) -> (usize, Vec<usize>) {
    let mark = b"\nstartxref\n";
    let last = bytes.windows(mark.len()).rposition(|window| window == mark).unwrap() + mark.len();
    let number = |text: &[u8]| -> usize {
        std::str::from_utf8(text).unwrap().split_whitespace().next().unwrap().parse().unwrap()
    };
    let start = number(bytes[last..last + 12.min(bytes.len() - last)].split(|b| *b == b'\n').next().unwrap());
    let count = number(&bytes[start + 7..start + 17]);
    let first = start + 7 + count.to_string().len() + 1;
    (start, (1..count).map(|index| number(&bytes[first + index * 20..][..10])).collect())
}

/// Puts other bytes in the place of some, and sets right every offset that moves by it.
pub fn splice(bytes: &[u8], place: Range<usize>, with: &[u8]) -> Vec<u8> {
    let (start, offsets) = table(bytes);
    assert!(place.end <= start);
    let moved = |at: usize| if at >= place.end { at - place.len() + with.len() } else { at };
    let body = [&bytes[..place.start], with, &bytes[place.end..start]].concat();
    let tail = String::from_utf8_lossy(&bytes[start..]).into_owned();
    let trailer = tail.split("trailer\n").nth(1).unwrap().split("\nstartxref").next().unwrap();
    let mut text = format!("xref\n0 {}\n0000000000 65535 f \n", offsets.len() + 1);
    for offset in offsets {
        text.push_str(&format!("{:010} 00000 n \n", moved(offset)));
    }
    text.push_str(&format!("trailer\n{trailer}\nstartxref\n{}\n%%EOF", body.len()));
    stretch(&[&body, text.as_bytes()].concat())
}

/// The dictionary and stream, as written, of the object that holds a mark; without its number.
pub fn stream(bytes: &[u8], mark: &[u8]) -> Range<usize> {
    let at = find(bytes, mark);
    let begin = bytes[..at].windows(4).rposition(|window| window == b"obj\n").unwrap() + 4;
    begin..at + find(&bytes[at..], b"\nendobj\n")
}

/// One file with another's data attached.
pub fn with_attachment(bytes: &[u8], other: &[u8]) -> Vec<u8> {
    exchanged(bytes, other, b"/Type/EmbeddedFile")
}

/// One file with another's QR symbol.
pub fn with_symbol(bytes: &[u8], other: &[u8]) -> Vec<u8> {
    exchanged(bytes, other, b"/ImageMask true")
}

fn exchanged(bytes: &[u8], other: &[u8], mark: &[u8]) -> Vec<u8> {
    let (here, there) = (stream(bytes, mark), stream(other, mark));
    assert_ne!(&bytes[here.clone()], &other[there.clone()]);
    splice(bytes, here, &other[there])
}
