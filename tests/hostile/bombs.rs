//! A few megabytes that unpack to gigabytes.

use std::fs;

use super::pack;
use super::pack::Member;
use super::refused;
use super::shop;
use crate::demo;
use crate::demo::Demo;
use crate::tamper::forger;

/// More than the program may have.
const SWELLS: u32 = 2_000_000_000;

#[test]
fn a_stream_of_a_certificate_that_swells_is_refused() {
    let (_, whole) = Demo::get().certificate(demo::SMALL_LOT);
    let key = demo::desk(&Demo::get().folder).seal;
    let folder = shop("bomb-pdf");
    let bomb = pack::zlib_zeros(SWELLS as usize);
    assert!(bomb.len() < 20_000_000);
    // In the place of the data, and in the place of a stream of the page; sealed again with the stolen key.
    for mark in [&b"/Type/EmbeddedFile"[..], b"/ImageMask true"] {
        let object = forger::stream(whole, mark);
        let text = &whole[object.clone()];
        let begin = text.windows(7).position(|window| window == b"stream\n").unwrap() + 7;
        let head = String::from_utf8_lossy(&text[..begin]).into_owned();
        let from = head.find("/Length ").unwrap() + 8;
        let to = from + head[from..].bytes().take_while(u8::is_ascii_digit).count();
        let head = format!("{}{}{}", &head[..from], bomb.len(), &head[to..]);
        let with = [head.as_bytes(), &bomb, b"\nendstream"].concat();
        let spliced = forger::splice(whole, object, &with);
        for (name, bytes) in
            [("not sealed", spliced.clone()), ("sealed again", forger::reseal(&spliced, &key))]
        {
            fs::write(folder.join("c.pdf"), bytes).unwrap();
            let what = format!("{} swells, {name}", String::from_utf8_lossy(mark));
            refused(&what, &folder, &["verify", "c.pdf", "--trust", "keys/root.pem"], "c.pdf");
        }
    }
}

#[test]
fn a_trace_that_swells_is_refused() {
    let folder = shop("bomb-x3p");
    let trace = fs::read(folder.join("traces/L-26-0553-1.x3p")).unwrap();
    for name in members(&trace) {
        for says in [SWELLS, 1_000] {
            let mut member = Member::swelling(SWELLS);
            member.size = says;
            fs::write(folder.join("t.x3p"), pack::with(&trace, &name, &member)).unwrap();
            let what = format!("{name} of a trace swells and says {says}");
            refused(&what, &folder, &["calculate", "roughness", "t.x3p"], "t.x3p");
        }
    }
}

fn members(archive: &[u8]) -> Vec<String> {
    let read = zip::ZipArchive::new(std::io::Cursor::new(archive)).unwrap();
    read.file_names().map(|name| name.unwrap().into_owned()).collect()
}

#[test]
fn a_workbook_that_swells_is_refused() {
    let folder = shop("bomb-xlsx");
    let mut book = rust_xlsxwriter::Workbook::new();
    let sheet = book.add_worksheet();
    sheet.set_name("Nitric line").unwrap();
    sheet.write_string(0, 0, "Lot").unwrap();
    let book = book.save_to_buffer().unwrap();
    for name in ["xl/worksheets/sheet1.xml", "xl/sharedStrings.xml", "xl/workbook.xml", "xl/styles.xml"] {
        // 100 MB is what fits in the largest workbook that is read.
        for (swells, says) in [(150_000_000, 150_000_000), (150_000_000, 1_000), (SWELLS, SWELLS)] {
            let mut member = Member::swelling(swells);
            member.size = says;
            fs::write(folder.join("s.xlsx"), pack::with(&book, name, &member)).unwrap();
            let what = format!("{name} of a workbook swells to {swells} and says {says}");
            refused(&what, &folder, &["intake", "s.xlsx"], "s.xlsx");
        }
    }
}
