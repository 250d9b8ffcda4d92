//! Issued certificates in the hands of programs that share no code with ours: poppler, qpdf, pyHanko, OpenSSL, NSS
//! and a reader of QR symbols must find in them what we say is there.
//!
//! A missing program is told and passed over; with BRIGHTPROOF_REQUIRE_TOOLS=1 it is a failure.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stderr,
    reason = "a test stops at the first surprise"
)]

use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;

use brightproof::app::desk::files;
use brightproof::canonical;
use brightproof::pdf::read_sealed;
use brightproof::seal::create_keys;

use crate::demo;
use crate::demo::Demo;

/// Runs a program in a folder and expects it to succeed; answers what it printed.
fn run(folder: &Path, program: &str, arguments: &[&str]) -> String {
    let output = Command::new(program).args(arguments).current_dir(folder).output().unwrap();
    let said = demo::printed(&output);
    assert!(output.status.success(), "{program} {arguments:?}: {said}");
    said
}

/// The issued files in a folder of their own, with the shop's root, and a root of the same name by somebody else.
fn laid_out(name: &str) -> (PathBuf, Vec<String>) {
    let demo = Demo::get();
    let folder = demo::fresh(name);
    for (number, bytes) in &demo.files {
        fs::write(folder.join(format!("{number}.pdf")), bytes).unwrap();
    }
    fs::copy(demo.folder.join(files::ROOT), folder.join("root.pem")).unwrap();
    let world = demo::world(demo::BEGUN, "stranger");
    let mut random = |buffer: &mut [u8]| world.fill(buffer);
    let begun = world.now().to_utc();
    let stranger = create_keys("Larkspur Bright Finishing", begun, None, &mut random).unwrap();
    fs::write(folder.join("stranger.pem"), stranger.root_cert_pem).unwrap();
    (folder, demo.files.keys().map(|number| format!("{number}.pdf")).collect())
}

/// A certificate database of NSS that trusts one root.
fn nss(folder: &Path, name: &str, root: &str) -> String {
    fs::create_dir(folder.join(name)).unwrap();
    let database = format!("sql:{name}");
    run(folder, "certutil", &["-N", "-d", &database, "--empty-password"]);
    run(folder, "certutil", &["-A", "-d", &database, "-n", "root", "-t", "CT,C,C", "-i", root]);
    database
}

#[test]
fn pdfsig_finds_the_seal_valid_and_over_the_whole_file() {
    if !demo::has("pdfsig", "-v") {
        return;
    }
    let (folder, names) = laid_out("pdfsig");
    for name in &names {
        let said = run(&folder, "pdfsig", &["-nocert", name]);
        assert!(said.contains("Signature is Valid."), "{said}");
        assert!(said.contains("Total document signed"), "{said}");
        assert!(said.contains("Signature Type: ETSI.CAdES.detached"), "{said}");
        assert!(said.contains("CN=Larkspur Bright Finishing seal,O=Larkspur Bright Finishing"), "{said}");
        assert_eq!(said.matches("Signature #").count(), 1, "{said}");
    }
    // One byte of the page's text: poppler must see it.
    let mut bytes = fs::read(folder.join(&names[0])).unwrap();
    let at = bytes.len() / 3;
    bytes[at] ^= 1;
    fs::write(folder.join("changed.pdf"), bytes).unwrap();
    let output =
        Command::new("pdfsig").args(["-nocert", "changed.pdf"]).current_dir(&folder).output().unwrap();
    let said = demo::printed(&output);
    assert!(!said.contains("Signature is Valid."), "{said}");
}

#[test]
fn pdfsig_trusts_the_seal_under_our_root_and_no_other() {
    if !demo::has("pdfsig", "-v") || !demo::has("certutil", "-H") {
        return;
    }
    let (folder, names) = laid_out("pdfsig-trust");
    let (ours, strangers) = (nss(&folder, "ours", "root.pem"), nss(&folder, "strangers", "stranger.pem"));
    for name in &names {
        let said = run(&folder, "pdfsig", &["-nssdir", &ours, name]);
        assert!(said.contains("Signature is Valid."), "{said}");
        assert!(said.contains("Total document signed"), "{said}");
        assert!(said.contains("Certificate is Trusted."), "{said}");
    }
    let said = run(&folder, "pdfsig", &["-nssdir", &strangers, &names[0]]);
    assert!(said.contains("Signature is Valid.") && !said.contains("Certificate is Trusted."), "{said}");
}

/// Prints a line for each file; the moment is fixed, so that the test does not depend on the clock.
const PYHANKO: &str = r#"
import sys
from datetime import datetime
from pyhanko.keys import load_cert_from_pemder
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.validation import validate_pdf_signature
from pyhanko_certvalidator import ValidationContext

root = load_cert_from_pemder(sys.argv[1])
for name in sys.argv[2:]:
    with open(name, "rb") as file:
        reader = PdfFileReader(file, strict=True)
        seals = reader.embedded_signatures
        context = ValidationContext(
            trust_roots=[root], allow_fetching=False, moment=datetime.fromisoformat("2026-11-25T12:00:00+00:00")
        )
        found = validate_pdf_signature(seals[0], context)
        print(
            name, len(seals), "intact" if found.intact else "CHANGED", "valid" if found.valid else "INVALID",
            "trusted" if found.trusted else "UNTRUSTED", found.coverage.name, found.modification_level.name,
            len(list(reader.embedded_timestamp_signatures)), reader.xrefs.total_revisions,
            found.signer_reported_dt.isoformat(),
        )
"#;

#[test]
fn pyhanko_finds_the_seal_intact_valid_trusted_and_over_the_entire_file() {
    if !demo::has("python3", "--version") {
        return;
    }
    let there = Command::new("python3").args(["-c", "import pyhanko.sign.validation"]).output().unwrap();
    if !there.status.success() {
        return demo::absent("pyHanko");
    }
    let (folder, names) = laid_out("pyhanko");
    fs::write(folder.join("read.py"), PYHANKO).unwrap();
    let mut arguments = vec!["read.py", "root.pem"];
    arguments.extend(names.iter().map(String::as_str));
    let said = run(&folder, "python3", &arguments);
    let lines: Vec<&str> = said.lines().filter(|l| l.contains(".pdf ")).collect();
    assert_eq!(lines.len(), names.len(), "{said}");
    for (line, name) in lines.iter().zip(&names) {
        let expected = format!("{name} 1 intact valid trusted ENTIRE_FILE NONE 0 1 {}", demo::ISSUED);
        assert_eq!(*line, expected);
    }
    let said = run(&folder, "python3", &["read.py", "stranger.pem", &names[0]]);
    assert!(said.contains("intact valid UNTRUSTED ENTIRE_FILE"), "{said}");
}

#[test]
fn openssl_verifies_the_seal_over_the_two_ranges() {
    if !demo::has("openssl", "version") {
        return;
    }
    let (folder, names) = laid_out("openssl");
    let at = chrono::DateTime::parse_from_rfc3339(demo::AFTER).unwrap().timestamp().to_string();
    let verify = |root: &str, content: &str| {
        let arguments = ["cms", "-verify", "-cades", "-binary", "-inform", "DER", "-in", "seal.der"];
        let more = ["-content", content, "-CAfile", root, "-attime", &at, "-out", "out"];
        Command::new("openssl").args(arguments).args(more).current_dir(&folder).output().unwrap()
    };
    for name in &names {
        let bytes = fs::read(folder.join(name)).unwrap();
        // Taken apart here by the range the file states, not by our reader.
        let text = String::from_utf8_lossy(&bytes);
        let range = text.split("/ByteRange[").nth(1).unwrap().split(']').next().unwrap();
        let range: Vec<usize> = range.split_whitespace().map(|n| n.parse().unwrap()).collect();
        let (first, second) = (&bytes[..range[1]], &bytes[range[2]..range[2] + range[3]]);
        let digits = &bytes[range[1] + 1..range[2] - 1];
        assert_eq!((range[0], range[2] + range[3]), (0, bytes.len()));
        fs::write(folder.join("seal.der"), hex::decode(digits).unwrap()).unwrap();
        fs::write(folder.join("content"), [first, second].concat()).unwrap();
        fs::write(folder.join("changed"), [first, b" ", second].concat()).unwrap();
        let said = demo::printed(&verify("root.pem", "content"));
        assert!(said.contains("CAdES Verification successful"), "{name}: {said}");
        assert!(!verify("root.pem", "changed").status.success());
        assert!(!verify("stranger.pem", "content").status.success());
    }
}

#[test]
fn qpdf_finds_no_fault() {
    if !demo::has("qpdf", "--version") {
        return;
    }
    let (folder, names) = laid_out("qpdf");
    for name in &names {
        let said = run(&folder, "qpdf", &["--check", name]);
        assert!(said.contains("No syntax or stream encoding errors found"), "{said}");
        assert!(!said.contains("WARNING"), "{said}");
    }
}

#[test]
fn every_font_is_embedded_cut_down_and_has_its_letters_named() {
    if !demo::has("pdffonts", "-v") {
        return;
    }
    let (folder, names) = laid_out("pdffonts");
    for name in &names {
        let said = run(&folder, "pdffonts", &[name]);
        let fonts: Vec<&str> = said.lines().skip(2).collect();
        assert!(fonts.len() >= 2, "{said}");
        for font in fonts {
            // Columns: emb, sub, uni, object, generation.
            let columns: Vec<&str> = font.split_whitespace().rev().skip(2).take(3).collect();
            assert_eq!(columns, ["yes", "yes", "yes"], "{font}");
        }
    }
}

/// The row of the one signature.
const RELEASED: &str = "M. Sorrel quality manager released for shipment";

#[test]
fn the_text_comes_back_with_its_signs() {
    if !demo::has("pdftotext", "-v") {
        return;
    }
    let (folder, names) = laid_out("pdftotext");
    let joined = |name: &str| {
        run(&folder, "pdftotext", &["-raw", name, "-"]).split_whitespace().collect::<Vec<_>>().join(" ")
    };
    for name in &names {
        let text = joined(name);
        let number = name.trim_end_matches(".pdf");
        for word in ["Larkspur Bright Finishing", number, "Demonstration: invented shop", "°", RELEASED] {
            assert!(text.contains(word), "{name}: no {word:?} in {text}");
        }
    }
    let (number, _) = Demo::get().certificate(demo::WORDY_LOT);
    let text = joined(&format!("{number}.pdf"));
    for words in [demo::WORDY, "no rust; film ≤ 30 Å ± 2 Å"] {
        let unbroken = words.replace(' ', "");
        assert!(text.replace(' ', "").contains(&unbroken), "no {words:?} in {text}");
    }
    for sign in ['µ', '°', '±', '≤', '≥', 'Å', 'Ø'] {
        assert!(text.contains(sign), "no {sign:?} in {text}");
    }
}

#[test]
fn the_attachment_hashes_to_the_stamp_on_every_page_and_in_the_register() {
    if !demo::has("pdfdetach", "-v") || !demo::has("pdftotext", "-v") {
        return;
    }
    let demo = Demo::get();
    let (folder, names) = laid_out("pdfdetach");
    let register = demo::register(&demo.folder);
    for name in &names {
        let number = name.trim_end_matches(".pdf");
        run(&folder, "pdfdetach", &["-saveall", name]);
        let data = fs::read(folder.join(format!("{number}.json"))).unwrap();
        let stamp = canonical::stamp(&data);
        let stored = register.certificate(number).unwrap().unwrap();
        assert_eq!((&stored.stamp, &stored.data), (&stamp, &data), "{name}");
        assert_eq!(read_sealed(&demo.files[number]).unwrap().attachment, data);

        let text = run(&folder, "pdftotext", &["-layout", name, "-"]);
        let pages: Vec<&str> = text.split('\u{c}').filter(|page| !page.trim().is_empty()).collect();
        for (index, page) in pages.iter().enumerate() {
            let digits: String = page.chars().filter(|c| !c.is_whitespace()).collect();
            assert!(digits.contains(&stamp), "{name}, page {}: no {stamp} in {page}", index + 1);
            let of = format!("page {} of {}", index + 1, pages.len());
            assert!(page.contains(&of), "{name}: no {of:?} in {page}");
            assert!(page.contains(number) && page.contains("Demonstration: invented shop"), "{page}");
        }
    }
}

#[test]
fn the_symbol_on_every_page_says_number_stamp_and_fingerprint() {
    if !demo::has("zbarimg", "--version") || !demo::has("pdftoppm", "-v") {
        return;
    }
    let demo = Demo::get();
    let (folder, _) = laid_out("zbarimg");
    let (number, bytes) = demo.certificate(demo::SMALL_LOT);
    let stamp = canonical::stamp(&read_sealed(bytes).unwrap().attachment);
    let expected = format!("BRIGHTPROOF:1:{number}:{stamp}:{}", demo.root).to_uppercase();
    run(&folder, "pdftoppm", &["-r", "200", "-gray", "-png", &format!("{number}.pdf"), "page"]);
    let mut pages = 0;
    for entry in fs::read_dir(&folder).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        if !name.ends_with(".png") {
            continue;
        }
        let output =
            Command::new("zbarimg").args(["--raw", "-q", &name]).current_dir(&folder).output().unwrap();
        assert_eq!(String::from_utf8_lossy(&output.stdout).trim().to_uppercase(), expected, "{name}");
        pages += 1;
    }
    assert!(pages > 1, "{pages} pages");
}
