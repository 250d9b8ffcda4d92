//! Whole pages: what a certificate's file must be, checked on the finished bytes.
//!
//! Shop, purchasers and people are invented.

use serde_json::Value;
use serde_json::json;
use sha2::Digest;
use sha2::Sha256;

use super::*;

fn finding(n: usize) -> Value {
    let table = [
        ("bath temperature", "6.1.1.2", "70 °F to 90 °F", "84 °F"),
        ("nitric acid", "6.1.1.2", "20 vol% to 25 vol%", "24.6 vol%"),
        ("immersion time", "6.1.1.2", "at least 20 min", "34 min"),
        ("cleaning before treatment", "5.2", "done, and recorded", "alkaline cleaner AC-1, 12 min at 150 °F"),
        ("rinse after treatment", "6.3", "done, immediately after", "deionized water, 60 ppm total solids"),
        (
            "water immersion test",
            "practice A",
            "no rust after 24 h",
            "no rust, 12 cycles of 1 h wet and 1 h dry",
        ),
        ("mean roughness", "part 7731-04 C", "Ra ≤ 16 µin", "Ra 12.4 µin ± 0.6 µin"),
        ("visual examination", "11", "no etching, pitting or frosting", "none seen, 5 pieces"),
    ];
    let (subject, clause, limit, observed) = table[n % table.len()];
    json!({
        "requirement": format!("astm-a967-17/demo-{n}"), "standard": if n % table.len() == 6 { "Purchaser's own" } else { "ASTM A967/A967M-17" },
        "clause": clause, "subject": subject, "where": format!("run {}", 1 + n / table.len()),
        "limit": limit, "observed": observed, "verdict": "met",
        "basis": if n % 7 == 3 { "house" } else { "recalled" },
        "note": if n % 11 == 5 { "Read off the chart recorder; the gauge agreed within 1 °F." } else { "" },
    })
}

fn lot(name: &str, findings: usize, runs: usize) -> Value {
    let mut all: Vec<Value> = (0..findings).map(finding).collect();
    all.push(json!({"subject": "chromate rinse", "verdict": "not applicable"}));
    all.push(json!({"subject": "bath analysis", "where": "bath N-2", "observed": "6 days old at time of use", "verdict": "advice",
        "note": "the shop analyses weekly", "standard": "ASTM A967/A967M-17", "clause": "6.4"}));
    json!({
        "lot": name, "part": "7731-04", "revision": "C", "description": "Valve body, machined, 316L bar", "quantity": 240,
        "material": {"grade": "316L", "heats": [{"heat": "H4471", "known": "stated by purchaser"}]},
        "counts": [{"what": "received", "pieces": 241}, {"what": "accepted", "pieces": 240}, {"what": "destroyed in test", "pieces": 1}],
        "dates": [{"what": "received", "when": "2026-11-20"}, {"what": "processed", "when": "2026-11-24"}, {"what": "released", "when": "2026-11-25"}],
        "call_outs": ["ASTM A967/A967M-17, Nitric 2, water immersion", "Ra at most 16 µin on sealing faces"],
        "treatments": (1..=runs).map(|run| json!({
            "run": run.to_string(), "pieces": 240, "what": "passivation, Nitric 2", "bath": "N-2",
            "from": "2026-11-24T09:40-05:00", "to": "2026-11-24T10:14-05:00",
            "facts": [{"what": "bath temperature", "value": "84 °F"}, {"what": "nitric acid", "value": "24.6 vol%"}, {"what": "time", "value": "34 min"}],
            "history": run < runs,
        })).collect::<Vec<_>>(),
        "tests": [{"what": "water immersion", "pieces": 1, "nonconforming": 0, "when": "2026-11-25T11:30-05:00",
            "facts": [{"what": "cycles", "value": "12"}], "result": "no rust", "history": false}],
        "deviations": [], "findings": all,
        "record": {"disclosed": {"x": "records are attached, never printed: UNPRINTED"}},
    })
}

fn certificate(lots: Vec<Value>) -> Value {
    let lines: Vec<Value> = lots.iter().map(|lot| json!({
        "order": "QI-88231", "line": "3", "part": "7731-04", "revision": "C", "description": "Valve body, machined, 316L bar",
        "lot": lot["lot"], "quantity": 240, "serials": [],
    })).collect();
    json!({
        "format": "brightproof certificate, 1", "number": "LBF-2026-000123", "issued": "2026-11-25T16:20:31-05:00",
        "place": "Alder Falls", "salt": "00",
        "issuer": {"name": "Larkspur Bright Finishing", "address": ["14 Foundry Row", "Alder Falls"], "contact": "quality@larkspur.example",
            "approvals": [{"what": "Nitric passivation, Orrery Semicon Supply", "number": "OSS-114", "until": "2027-05-01"}],
            "demo": "Demonstration: Larkspur Bright Finishing is invented, and so is everything on this certificate."},
        "purchaser": {"name": "Quillmark Instruments", "address": ["Goods inward, Dock 2", "9 Tern Street", "Port Sedge"]},
        "shipment": {"slip": "PS-2041", "lines": lines},
        "conformity": "The pieces listed here were treated and tested as the purchaser's order calls for, and conform to every requirement judged on this certificate.",
        "replaces": null, "decision_rule": "Simple acceptance: a value at or within its limit, as recorded, conforms.",
        "controlled": null, "lots": lots,
        "not_covered": ["The conformity of the material itself: grade and heat are the purchaser's statement.", "Dimensions, and fitness for any use."],
        "signatures": [{"person": "M. Sorrel", "function": "quality manager", "meaning": "released for shipment",
            "authenticated": "own key, passphrase", "at": "2026-11-25T16:20:12-05:00"}],
        "judge": {"release": "0.1.0", "judge": 1},
        "renderer": {"release": "0.1.0", "template": "certificate", "paper": "A4"},
        "how_to_check": ["Ask the shop for its key fingerprint by telephone at 555 0142 before trusting the one printed here.",
            "Then run: brightproof verify LBF-2026-000123.pdf --trust FINGERPRINT"],
        "seal_fingerprint": "9f2c".repeat(16),
        "register": {"origin": "larkspur.example/register", "size": 12, "root": "ab34".repeat(16)},
    })
}

fn bytes_of(value: &Value) -> (Vec<u8>, String) {
    let data = value.to_string().into_bytes();
    let stamp = hex::encode(Sha256::digest(&data));
    (data, stamp)
}

fn sealed(stamp: &str, data: &[u8], paper: Paper) -> Prepared {
    let seal = SealField {
        signer: "Larkspur Bright Finishing",
        reason: "Certificate of conformity /ByteRange[0 1 2 3]",
        location: "Alder Falls",
        contact: "",
        reserve: 2048,
    };
    let sheet = Sheet { data, stamp, paper, seal: Some(seal) };
    Renderer::new().unwrap().prepare(&sheet).unwrap()
}

#[test]
fn a_sealed_page_reads_back() {
    let (data, stamp) = bytes_of(&certificate(vec![lot("L-26-0417", 12, 1)]));
    let mut page = sealed(&stamp, &data, Paper::A4);
    let gap = page.gap.clone().unwrap();
    assert_eq!(gap.len(), 4096);
    page.bytes[gap.start..gap.start + 4].copy_from_slice(b"3081");
    let read = read_sealed(&page.bytes).unwrap();
    assert_eq!(read.contents_hex, gap);
    assert_eq!(read.byte_range, [0, gap.start - 1, gap.end + 1, page.bytes.len() - gap.end - 1]);
    assert_eq!(read.der.len(), 2048);
    assert_eq!(read.der[..2], [0x30, 0x81]);
    assert_eq!(read.attachment, data);
    assert_eq!(read.attachment_name, "LBF-2026-000123.json");
    assert_eq!(read.claimed_signer, "Larkspur Bright Finishing");
    assert_eq!(read.claimed_time, "D:20261125162031-05'00'");
    assert_eq!(read.claimed_reason, "Certificate of conformity /ByteRange[0 1 2 3]");
    assert_eq!(read.claimed_location, "Alder Falls");
    assert_eq!(read.claimed_contact, "");
    // What the reader gives is what a verifier needs to draw the page again.
    let seal = SealField {
        signer: &read.claimed_signer,
        reason: &read.claimed_reason,
        location: &read.claimed_location,
        contact: &read.claimed_contact,
        reserve: read.der.len(),
    };
    let sheet = Sheet { data: &read.attachment, stamp: &stamp, paper: Paper::A4, seal: Some(seal) };
    let again = Renderer::new().unwrap().prepare(&sheet).unwrap();
    assert_eq!(again.gap, Some(read.contents_hex.clone()));
    assert_eq!(again.bytes[..gap.start], page.bytes[..gap.start]);
    assert_eq!(again.bytes[gap.end..], page.bytes[gap.end..]);
}

fn one() -> (Vec<u8>, String) {
    bytes_of(&certificate(vec![lot("L-26-0417", 12, 1)]))
}

fn replaced(bytes: &[u8], from: &[u8], to: &[u8]) -> Vec<u8> {
    let at = gap::positions(bytes, from).next().unwrap();
    [&bytes[..at], to, &bytes[at + from.len()..]].concat()
}

#[test]
fn a_renderer_serves_all_threads() {
    fn check<T: Send + Sync>() {}
    check::<Renderer>();
}

#[test]
fn the_renderer_is_named_by_what_it_draws_with() {
    let identity = Renderer::new().unwrap().identity();
    assert_eq!(identity.template, "certificate");
    assert_eq!(identity.template_sha256.len(), 64);
    // The fonts ship unmodified, so this changes only when they are replaced.
    assert_eq!(identity.fonts_sha256, "00200e566329e04e5325b4317393e742c09a505638ac3fc108a6440e955bf913");
    assert_eq!(identity, Renderer::new().unwrap().identity());
}

#[test]
fn the_same_arguments_make_the_same_bytes() {
    let (data, stamp) = one();
    let first = sealed(&stamp, &data, Paper::A4);
    let renderer = Renderer::new().unwrap();
    let seal = SealField { signer: "x", reason: "", location: "", contact: "", reserve: 100 };
    let other = Sheet { data: &data, stamp: &stamp, paper: Paper::Letter, seal: Some(seal) };
    std::thread::scope(|scope| {
        let again: Vec<_> = (0..4)
            .map(|_| {
                scope.spawn(|| {
                    renderer.prepare(&other).unwrap();
                    (sealed(&stamp, &data, Paper::A4), renderer.prepare(&other).unwrap())
                })
            })
            .collect();
        let mut others = Vec::new();
        for thread in again {
            let (same, other) = thread.join().unwrap();
            assert!(same == first);
            others.push(other);
        }
        assert!(others.windows(2).all(|pair| pair[0] == pair[1]));
        assert!(others[0] != first);
    });
}

#[test]
fn a_changed_datum_changes_the_page_and_its_identifier() {
    let (data, stamp) = one();
    let first = sealed(&stamp, &data, Paper::A4).bytes;
    let mut value = certificate(vec![lot("L-26-0417", 12, 1)]);
    value["lots"][0]["findings"][0]["observed"] = json!("85 °F");
    let (data, stamp) = bytes_of(&value);
    let second = sealed(&stamp, &data, Paper::A4).bytes;
    let id = |bytes: &[u8]| {
        let at = gap::positions(bytes, b"/ID[<").next().unwrap() + 5;
        String::from_utf8(bytes[at..at + 32].to_vec()).unwrap()
    };
    assert_ne!(id(&first), id(&second));
    assert_eq!(id(&second), stamp[..32].to_uppercase());
}

#[test]
fn a_stamp_of_other_data_is_refused() {
    let (data, _) = one();
    let sheet = Sheet { data: &data, stamp: &"0".repeat(64), paper: Paper::A4, seal: None };
    let error = Renderer::new().unwrap().prepare(&sheet).unwrap_err();
    assert!(matches!(error, PdfError::Stamp { .. }), "{error}");
}

#[test]
fn a_reserve_out_of_range_is_refused() {
    let (data, stamp) = one();
    let renderer = Renderer::new().unwrap();
    for reserve in [0, 63, 65_537, usize::MAX] {
        let seal = SealField { signer: "x", reason: "", location: "", contact: "", reserve };
        let sheet = Sheet { data: &data, stamp: &stamp, paper: Paper::A4, seal: Some(seal) };
        assert!(matches!(renderer.prepare(&sheet), Err(PdfError::Reserve { .. })), "{reserve}");
    }
}

#[test]
fn an_unsealed_page_has_no_seal_to_read() {
    let (data, stamp) = one();
    let sheet = Sheet { data: &data, stamp: &stamp, paper: Paper::A4, seal: None };
    let page = Renderer::new().unwrap().prepare(&sheet).unwrap();
    assert_eq!(page.gap, None);
    assert_eq!(read_sealed(&page.bytes), Err(PdfError::NoSeal));
}

#[test]
fn every_way_of_altering_a_sealed_file_is_named() {
    let (data, stamp) = one();
    let page = sealed(&stamp, &data, Paper::A4);
    let good = page.bytes.clone();
    let gap = page.gap.unwrap();
    assert!(read_sealed(&good).is_ok());

    let appended = [&good[..], b"\n% a remark"].concat();
    assert_eq!(read_sealed(&appended), Err(PdfError::Appended { bytes: 11 }));
    let second = [&good[..], b"\n9 0 obj\n<</ByteRange[0 1 2 3]/Contents<00>>>\nendobj\n"].concat();
    assert!(matches!(read_sealed(&second), Err(PdfError::Appended { .. })));
    assert!(matches!(read_sealed(&good[..good.len() - 1]), Err(PdfError::NotWhole { .. })));

    let mut upper = good.clone();
    upper[gap.start] = b'A';
    assert!(matches!(read_sealed(&upper), Err(PdfError::Hex { .. })));

    // Same length, so that the seal's range still fits.
    type Is = fn(&PdfError) -> bool;
    let structure: Is = |e| matches!(e, PdfError::Structure { .. });
    let attachment: Is = |e| matches!(e, PdfError::Attachment { .. });
    let cases: [(&[u8], &[u8], Is); 12] = [
        (b"/Contents<", b"/Contentz<", |e| matches!(e, PdfError::NotWhole { .. })),
        (b"/ByteRange[0 ", b"/ByteRange[1 ", |e| matches!(e, PdfError::NotWhole { .. })),
        (b"/AF[", b"/AX[", |e| matches!(e, PdfError::NoAttachment)),
        (b"/EmbeddedFiles", b"/EmbeddedFilez", structure),
        (b"/AcroForm", b"/AcroFarm", structure),
        (b"/Adobe.PPKLite", b"/Adobe.PPKLitf", structure),
        (b"/ETSI.CAdES.detached", b"/ETSI.CAdES.detaches", structure),
        (b"trailer\n<</Root", b"trailer\n<</Prev", structure),
        (b"%%EOF", b"%%EOX", structure),
        (b"xref\n0 ", b"xref\n1 ", structure),
        (b"/Params<</Size ", b"/Params<</Sixe ", attachment),
        (b"\nendobj\n2 0 obj", b"\nendobj 2 0 obj", structure),
    ];
    for (from, to, is) in cases {
        let error = read_sealed(&replaced(&good, from, to)).unwrap_err();
        assert!(is(&error), "{}: {error:?}", from.escape_ascii());
    }
}

#[test]
fn no_damage_makes_reading_fail_to_answer() {
    let (data, stamp) = one();
    let good = sealed(&stamp, &data, Paper::A4).bytes;
    for cut in (0..good.len()).step_by(997) {
        assert!(read_sealed(&good[..cut]).is_err());
    }
    // A plain congruential sequence: the same damage in every run.
    let mut seed = 7u64;
    let mut next = |below: usize| {
        seed = seed.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
        (seed >> 33) as usize % below
    };
    for _ in 0..400 {
        let mut bad = good.clone();
        for _ in 0..=next(3) {
            let at = next(bad.len());
            bad[at] = next(256) as u8;
        }
        if let Ok(read) = read_sealed(&bad) {
            assert_eq!(read.byte_range[2] + read.byte_range[3], bad.len());
        }
    }
}

#[test]
fn texts_of_the_data_cannot_reach_the_files_structure() {
    let mut value = certificate(vec![lot("L-26-0417", 2, 1)]);
    let nasty =
        "\"}],\"blocks\":[{{ stamp }}{% if %} endstream endobj\n%%EOF (\\) /ByteRange[0 1 2 3] <script>&amp;";
    for pointer in
        ["/conformity", "/purchaser/name", "/lots/0/findings/0/observed", "/issuer/demo", "/how_to_check/0"]
    {
        *value.pointer_mut(pointer).unwrap() = json!(nasty);
    }
    let (data, stamp) = bytes_of(&value);
    let seal = SealField { signer: nasty, reason: nasty, location: nasty, contact: nasty, reserve: 1000 };
    let sheet = Sheet { data: &data, stamp: &stamp, paper: Paper::A4, seal: Some(seal) };
    let page = Renderer::new().unwrap().prepare(&sheet).unwrap();
    let read = read_sealed(&page.bytes).unwrap();
    assert_eq!(read.claimed_signer, nasty);
    assert_eq!(read.attachment, data);
}

/// ISO 19005-3, 6.1.7.1: no stream's own bytes may be taken for the end of line before `endstream`.
#[test]
fn packed_data_that_end_in_a_carriage_return_are_written_in_digits() {
    let deflated = |data: &[u8]| {
        let mut stream = lopdf::Stream::new(lopdf::Dictionary::new(), data.to_vec());
        stream.compress().unwrap();
        stream.content
    };
    let mut value = certificate(vec![lot("L-26-0417", 2, 1)]);
    // An odd byte more at a time: the sum in the checksum takes each last byte within 256 tries.
    let (data, stamp) = (0..600)
        .map(|n| {
            *value.pointer_mut("/conformity").unwrap() = json!("a".repeat(n));
            bytes_of(&value)
        })
        .find(|(data, _)| deflated(data).ends_with(b"\r"))
        .unwrap();
    let bytes = sealed(&stamp, &data, Paper::A4).bytes;
    assert_eq!(read_sealed(&bytes).unwrap().attachment, data);
    let ends = bytes.windows(11).filter(|w| w == b"\r\nendstream").count();
    assert_eq!(ends, 0);
    let wrapped = b"/Filter[/ASCIIHexDecode/FlateDecode]";
    assert!(bytes.windows(wrapped.len()).any(|w| w == wrapped));
}

#[test]
fn the_file_is_built_as_archives_and_screen_readers_need() {
    let (data, stamp) = one();
    let page = sealed(&stamp, &data, Paper::A4);
    let doc = lopdf::Document::load_mem(&page.bytes).unwrap();
    let catalog = doc.catalog().unwrap();
    for key in ["Lang", "MarkInfo", "StructTreeRoot", "Metadata", "OutputIntents", "AF", "Names", "AcroForm"]
    {
        assert!(catalog.has(key.as_bytes()), "{key}");
    }
    // Every mark of every page leads to an element, and each is there once.
    let get = |id: &Object| doc.dereference(id).unwrap().1.clone();
    let root = get(catalog.get(b"StructTreeRoot").unwrap());
    let parents = get(root.as_dict().unwrap().get(b"ParentTree").unwrap());
    let numbers = parents.as_dict().unwrap().get(b"Nums").unwrap().as_array().unwrap().clone();
    let pages: Vec<_> = doc.page_iter().collect();
    assert_eq!(numbers.len(), 2 * (pages.len() + 1));
    for (index, id) in pages.iter().enumerate() {
        let content = doc.get_page_content(*id);
        let text = String::from_utf8_lossy(&content);
        let marks = text.matches("/MCID ").count();
        let listed = numbers[2 * index + 1].as_array().unwrap();
        assert_eq!(listed.len(), marks);
        assert!(marks > 20);
        assert_eq!(text.matches("BDC").count() + text.matches("BMC").count(), text.matches("EMC").count());
    }
    let metadata = get(catalog.get(b"Metadata").unwrap());
    let xmp = String::from_utf8(metadata.as_stream().unwrap().content.clone()).unwrap();
    for part in [
        "<pdfaid:part>3</pdfaid:part>",
        "<pdfaid:conformance>A</pdfaid:conformance>",
        "<pdfuaid:part>1</pdfuaid:part>",
        "Certificate of conformity LBF-2026-000123",
        "2026-11-25T16:20:31-05:00",
    ] {
        assert!(xmp.contains(part), "{part}");
    }
    // Fonts are embedded, with their text.
    let fonts = doc.get_page_fonts(pages[0]).unwrap();
    assert!(fonts.len() >= 3);
    for font in fonts.values() {
        assert!(font.has(b"ToUnicode"));
    }
    // Nothing is dated by a clock.
    assert_eq!(page.bytes.windows(4).filter(|w| w == b"(D:2").count(), 5);
    assert!(!page.bytes.windows(6).any(|w| w == b"D:1970"));
}

/// The text of every page, decoded through the fonts' own character maps.
pub(super) fn text_of(bytes: &[u8]) -> String {
    let doc = lopdf::Document::load_mem(bytes).unwrap();
    let mut out = String::new();
    for page in doc.page_iter() {
        let fonts = doc.get_page_fonts(page).unwrap();
        let maps: std::collections::BTreeMap<Vec<u8>, std::collections::BTreeMap<u16, String>> = fonts
            .iter()
            .map(|(name, font)| {
                let (_, map) = doc.dereference(font.get(b"ToUnicode").unwrap()).unwrap();
                let map =
                    String::from_utf8(map.as_stream().unwrap().decompressed_content().unwrap()).unwrap();
                (name.clone(), characters(&map))
            })
            .collect();
        let content = doc.get_page_content(page);
        let mut font = Vec::new();
        for operation in lopdf::content::Content::decode(&content).unwrap().operations {
            match operation.operator.as_str() {
                "Tf" => font = operation.operands[0].as_name().unwrap().to_vec(),
                "TJ" => {
                    for shown in operation.operands[0].as_array().unwrap() {
                        let Ok(codes) = shown.as_str() else { continue };
                        for code in codes.chunks(2) {
                            out.push_str(&maps[&font][&u16::from_be_bytes([code[0], code[1]])]);
                        }
                    }
                }
                "EMC" => out.push('\n'),
                _ => {}
            }
        }
    }
    out
}

/// `<0001> <00b5>` lines of a character map.
fn characters(map: &str) -> std::collections::BTreeMap<u16, String> {
    let lines =
        map.split("beginbfchar\n").skip(1).flat_map(|block| block.split("endbfchar").next().unwrap().lines());
    lines
        .map(|line| {
            let (code, text) = line.split_once("> <").unwrap();
            let units = text.trim_end_matches('>').as_bytes().chunks(4);
            let units: Vec<u16> = units
                .map(|hex| u16::from_str_radix(std::str::from_utf8(hex).unwrap(), 16).unwrap())
                .collect();
            (u16::from_str_radix(&code[1..], 16).unwrap(), String::from_utf16(&units).unwrap())
        })
        .collect()
}

#[test]
fn the_text_comes_back_as_it_was_written() {
    let mut value = certificate(vec![lot("L-26-0417", 12, 1)]);
    value["purchaser"]["address"] =
        json!(["Åre, Łódź, Αθήνα, Ленск", "0.3 µin is not 0.3 μm", "±0.5 °C, ≤ 2 %"]);
    let (data, stamp) = bytes_of(&value);
    let text = text_of(&sealed(&stamp, &data, Paper::Letter).bytes);
    for part in [
        "Certificate of conformity\nLBF-2026-000123\n",
        "Åre, Łódź, Αθήνα, Ленск",
        "0.3 \u{b5}in is not 0.3 \u{3bc}m",
        "±0.5 °C, ≤ 2 %",
        "70 °F to 90 °F",
        "page 1 of 2",
        "page 2 of 2",
        "1 further requirement does not apply",
        "End of certificate LBF-2026-000123",
        "5.2, shop rule",
    ] {
        assert!(text.contains(part), "{part}\n{text}");
    }
    // Both pages carry the stamp and the line for the demonstration.
    assert_eq!(text.matches(&spelling::grouped(&stamp)).count(), 3);
    assert_eq!(text.matches("Demonstration: Larkspur").count(), 2);
    assert!(!text.contains("UNPRINTED"));
}

#[test]
fn verdicts_are_printed_as_they_are() {
    let mut value = certificate(vec![lot("L-26-0417", 2, 1)]);
    value["lots"][0]["findings"] = json!([
        {"verdict": "met", "subject": "first subject", "standard": "S"},
        {"verdict": "accepted", "subject": "second subject", "standard": "S", "note": "under deviation D-7"},
        {"verdict": "not applicable", "subject": "third subject"},
        {"verdict": "advice", "subject": "fourth subject", "note": "noted"},
    ]);
    let (data, stamp) = bytes_of(&value);
    let text = text_of(&sealed(&stamp, &data, Paper::A4).bytes);
    for part in
        ["first subject\n", "accepted under a deviation", "under deviation D-7", "fourth subject: noted"]
    {
        assert!(text.replace("under a \ndeviation", "under a deviation").contains(part), "{part}\n{text}");
    }
    assert!(!text.contains("third subject"));
}

#[test]
fn a_mistake_of_a_certificate_is_stopped_early() {
    let mut value = certificate(vec![lot("L-26-0417", 2, 1)]);
    value["not_covered"] = json!(vec!["line"; 60_000]);
    let (data, stamp) = bytes_of(&value);
    let sheet = Sheet { data: &data, stamp: &stamp, paper: Paper::A4, seal: None };
    assert!(matches!(Renderer::new().unwrap().prepare(&sheet), Err(PdfError::TooLong { .. })));
    value["not_covered"] = json!(["line"]);
    value["issuer"]["demo"] = json!("line\n".repeat(30));
    let (data, stamp) = bytes_of(&value);
    let sheet = Sheet { data: &data, stamp: &stamp, paper: Paper::A4, seal: None };
    assert!(matches!(Renderer::new().unwrap().prepare(&sheet), Err(PdfError::HeadTooLong { .. })));
}

#[test]
fn records_are_attached_and_not_printed() {
    let (data, stamp) = one();
    let page = sealed(&stamp, &data, Paper::A4);
    assert!(String::from_utf8_lossy(&read_sealed(&page.bytes).unwrap().attachment).contains("UNPRINTED"));
    let data = data::read(&data, &|_| true).unwrap();
    assert!(!data.value.to_string().contains("UNPRINTED"));
}

#[test]
#[ignore = "writes samples to look at"]
fn samples() {
    let dir = std::env::temp_dir().join("pages");
    std::fs::create_dir_all(&dir).unwrap();
    let mut amended = certificate(vec![lot("L-26-0417", 12, 1)]);
    amended["replaces"] = json!({"number": "LBF-2026-000120", "reason": "the purchaser's address was last year's", "kind": "clerical", "changed": ["purchaser's address"]});
    amended["controlled"] =
        json!("Controlled data: the purchaser's marking CUI-9 applies; pass on only with its permission.");
    let mut long = certificate(vec![lot("L-26-0417", 12, 1)]);
    long["purchaser"]["name"] = json!(
        "Quillmark Instruments for the Measurement of Very Small Displacements and Very Long Company Names, Sons, Daughters and Successors"
    );
    long["purchaser"]["address"] = json!([
        "Ελληνική Μετρολογία Α.Ε.",
        "Кировская улица 12, Ленск",
        "חברת דוגמה בע\"מ, רחוב 5",
        "شركة المثال للقياس ٤٢",
        "Łódź, Žďár, Nguyễn, Åre"
    ]);
    long["signatures"][0]["person"] = json!("מ. סורל");
    long["shipment"]["lines"][0]["serials"] =
        json!((0..400).map(|n| format!("SN{n:05}")).collect::<Vec<_>>());
    long["lots"][0]["findings"][2]["observed"] = json!("a very long observation. ".repeat(300));
    long["lots"][0]["lot"] = json!("L".repeat(90));
    let many = certificate(vec![lot("L-26-0417", 40, 3), lot("L-26-0418", 40, 3), lot("L-26-0419", 40, 3)]);
    let cases = [
        ("one", certificate(vec![lot("L-26-0417", 12, 1)])),
        ("amended", amended),
        ("long", long),
        ("many", many),
    ];
    for (name, value) in cases {
        let (data, stamp) = bytes_of(&value);
        for paper in [Paper::A4, Paper::Letter] {
            let page = sealed(&stamp, &data, paper);
            std::fs::write(dir.join(format!("{name}-{}.pdf", paper.name())), &page.bytes).unwrap();
        }
    }
}

#[test]
#[ignore = "measures"]
fn timings() {
    let started = std::time::Instant::now();
    let renderer = Renderer::new().unwrap();
    println!("new: {:?}", started.elapsed());
    for (name, lots) in [
        ("one lot", vec![lot("L-26-0417", 12, 1)]),
        ("one page", vec![lot("L-26-0417", 3, 1)]),
        ("rare letter", vec![lot("Lé-26-0417", 12, 1)]),
        ("three lots", vec![lot("A", 40, 3), lot("B", 40, 3), lot("C", 40, 3)]),
    ] {
        let (data, stamp) = bytes_of(&certificate(lots));
        let seal = SealField { signer: "Larkspur", reason: "", location: "", contact: "", reserve: 2048 };
        let sheet = Sheet { data: &data, stamp: &stamp, paper: Paper::A4, seal: Some(seal) };
        let mut times = Vec::new();
        let mut size = 0;
        for _ in 0..60 {
            let started = std::time::Instant::now();
            size = renderer.prepare(&sheet).unwrap().bytes.len();
            times.push(started.elapsed());
        }
        times.sort();
        println!(
            "{name}: median {:?}, best {:?}, {size} bytes, data {} bytes",
            times[30],
            times[0],
            data.len()
        );
    }
}
