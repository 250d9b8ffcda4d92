//! ZIP archives and deflate streams written by hand, so that they can lie.

use std::io::Cursor;
use std::io::Read;

/// A member as it is written.
pub struct Member {
    method: u16,
    /// What the archive says of its size unpacked.
    pub size: u32,
    data: Vec<u8>,
}

impl Member {
    /// Not compressed.
    pub fn stored(bytes: &[u8]) -> Member {
        Member { method: 0, size: bytes.len() as u32, data: bytes.to_vec() }
    }

    /// Zeros that swell to so many bytes.
    pub fn swelling(size: u32) -> Member {
        Member { method: 8, size, data: deflated_zeros(size as usize).0 }
    }
}

/// RFC 1951: one block of fixed codes, a zero and then copies of 258 bytes from one byte before, thirteen bits each.
/// Answers the exact number of zeros as well.
pub fn deflated_zeros(about: usize) -> (Vec<u8>, usize) {
    let eights = (about / 258 / 8).max(1);
    // Eight copies are thirteen bytes, so that the same thirteen come again and again after the first two.
    let (once, twice) = (block(8), block(16));
    let mut bytes = once[..2].to_vec();
    for _ in 1..eights {
        bytes.extend_from_slice(&twice[2..15]);
    }
    bytes.extend_from_slice(&once[2..]);
    (bytes, 1 + eights * 8 * 258)
}

fn block(copies: usize) -> Vec<u8> {
    let mut bits = Bits::default();
    // The last block, of fixed codes; a zero.
    bits.push("1");
    bits.push("10");
    bits.push("00110000");
    for _ in 0..copies {
        bits.push("1100010100000");
    }
    bits.push("0000000");
    bits.bytes
}

/// Bits in the order of deflate: the first is the lowest of its byte.
#[derive(Default)]
struct Bits {
    bytes: Vec<u8>,
    /// Bits used in the last byte; 0 when it is full.
    used: u32,
}

impl Bits {
    fn push(&mut self, bits: &str) {
        for bit in bits.bytes() {
            if self.used == 0 {
                self.bytes.push(0);
            }
            *self.bytes.last_mut().unwrap() |= u8::from(bit == b'1') << self.used;
            self.used = (self.used + 1) % 8;
        }
    }
}

/// RFC 1950: the same with its head and check, for a stream in a PDF.
pub fn zlib_zeros(about: usize) -> Vec<u8> {
    let (deflated, count) = deflated_zeros(about);
    let sum = ((count % 65_521) as u32) << 16 | 1;
    [&[0x78, 0x9c][..], &deflated, &sum.to_be_bytes()].concat()
}

/// The archive with one member exchanged, the others kept.
pub fn with(archive: &[u8], name: &str, member: &Member) -> Vec<u8> {
    let mut read = zip::ZipArchive::new(Cursor::new(archive)).unwrap();
    let (mut body, mut table, mut count) = (Vec::new(), Vec::new(), 0_u16);
    let mut found = false;
    for index in 0..read.len() {
        let mut file = read.by_index(index).unwrap();
        let own = file.name().unwrap().into_owned();
        let mut bytes = Vec::new();
        file.read_to_end(&mut bytes).unwrap();
        let kept = Member::stored(&bytes);
        let (member, sum) = if own == name { (member, 0) } else { (&kept, file.crc32()) };
        found |= own == name;
        let mut facts = Vec::new();
        for word in [20, 0, member.method, 0, 0] {
            facts.extend_from_slice(&word.to_le_bytes());
        }
        for word in [sum, member.data.len() as u32, member.size] {
            facts.extend_from_slice(&word.to_le_bytes());
        }
        facts.extend_from_slice(&(own.len() as u16).to_le_bytes());
        facts.extend_from_slice(&[0, 0]);
        let at = body.len() as u32;
        body.extend_from_slice(b"PK\x03\x04");
        body.extend_from_slice(&facts);
        body.extend_from_slice(own.as_bytes());
        body.extend_from_slice(&member.data);
        table.extend_from_slice(b"PK\x01\x02\x14\x00");
        table.extend_from_slice(&facts);
        table.extend_from_slice(&[0; 10]);
        table.extend_from_slice(&at.to_le_bytes());
        table.extend_from_slice(own.as_bytes());
        count += 1;
    }
    assert!(found, "{name}");
    let (at, length) = (body.len() as u32, table.len() as u32);
    body.extend_from_slice(&table);
    body.extend_from_slice(b"PK\x05\x06\0\0\0\0");
    for _ in 0..2 {
        body.extend_from_slice(&count.to_le_bytes());
    }
    body.extend_from_slice(&length.to_le_bytes());
    body.extend_from_slice(&at.to_le_bytes());
    body.extend_from_slice(&[0, 0]);
    body
}

#[test]
fn what_swells_is_what_it_says() {
    // A library that shares nothing with these lines unpacks it, with its sum left out of account.
    let (_, count) = deflated_zeros(1_000_000);
    let zeros = vec![0; count];
    let mut made = zip::ZipWriter::new(Cursor::new(Vec::new()));
    made.start_file("zeros", zip::write::SimpleFileOptions::default()).unwrap();
    std::io::Write::write_all(&mut made, &zeros).unwrap();
    let honest = made.finish().unwrap().into_inner();
    let sum = zip::ZipArchive::new(Cursor::new(&honest)).unwrap().by_index(0).unwrap().crc32();
    let mut member = Member::swelling(1_000_000);
    member.size = count as u32;
    let mut swelling = with(&honest, "zeros", &member);
    for mark in [&b"PK\x03\x04"[..], b"PK\x01\x02"] {
        let at = swelling.windows(4).rposition(|window| window == mark).unwrap();
        let place = at + if mark[2] == 3 { 14 } else { 16 };
        swelling[place..place + 4].copy_from_slice(&sum.to_le_bytes());
    }
    let mut read = zip::ZipArchive::new(Cursor::new(&swelling)).unwrap();
    let mut bytes = Vec::new();
    read.by_index(0).unwrap().read_to_end(&mut bytes).unwrap();
    assert!(bytes == zeros);
}
