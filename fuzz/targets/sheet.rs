//! A day sheet: XLSX when it begins as a zip does, else CSV, parted by commas and by semicolons.
#![no_main]

use brightproof::sheet;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let name = if bytes.starts_with(b"PK") { "a.xlsx" } else { "a.csv" };
    let Ok(form) = sheet::form(name) else { return };
    let _ = sheet::tabs(form, bytes);
    let _ = sheet::read(form, bytes, b',', None);
    let _ = sheet::read(form, bytes, b';', None);
});
