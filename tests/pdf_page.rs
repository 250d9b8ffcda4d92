//! The page as a caller sees it: drawn, read back, and drawn again elsewhere to the same bytes.
//!
//! Shop, purchaser and people are invented.

use std::process::Command;

use brightproof::pdf::Paper;
use brightproof::pdf::PdfError;
use brightproof::pdf::Renderer;
use brightproof::pdf::SealField;
use brightproof::pdf::Sheet;
use brightproof::pdf::read_sealed;
use sha2::Digest;
use sha2::Sha256;

const DATA: &str = r#"{"conformity":"The pieces listed here conform to every requirement judged on this certificate.","decision_rule":"Simple acceptance: a value at or within its limit, as recorded, conforms.","how_to_check":["Ask for the key fingerprint by telephone at 555 0142 before trusting it."],"issued":"2026-11-25T16:20:31-05:00","issuer":{"address":["14 Foundry Row","Alder Falls"],"demo":"Demonstration: everything on this certificate is invented.","name":"Larkspur Bright Finishing"},"lots":[{"call_outs":["ASTM A967/A967M-17, Nitric 2"],"findings":[{"basis":"house","clause":"6.1.1.2","limit":"70 °F to 90 °F","observed":"84 °F","standard":"ASTM A967/A967M-17","subject":"bath temperature","verdict":"met","where":"run 1"}],"lot":"L-26-0417","part":"7731-04","quantity":240,"revision":"C"}],"not_covered":["The conformity of the material itself."],"number":"LBF-2026-000123","place":"Alder Falls","purchaser":{"address":["9 Tern Street"],"name":"Quillmark Instruments"},"shipment":{"lines":[{"lot":"L-26-0417","order":"QI-88231","quantity":240}],"slip":"PS-2041"},"signatures":[{"at":"2026-11-25T16:20:12-05:00","authenticated":"own key","function":"quality manager","meaning":"released for shipment","person":"M. Sorrel"}]}"#;

fn draw(data: &str) -> Result<Vec<u8>, PdfError> {
    let stamp = hex::encode(Sha256::digest(data.as_bytes()));
    let seal = SealField {
        signer: "Larkspur Bright Finishing",
        reason: "certificate of conformity",
        location: "Alder Falls",
        contact: "",
        reserve: 2048,
    };
    let sheet = Sheet { data: data.as_bytes(), stamp: &stamp, paper: Paper::Letter, seal: Some(seal) };
    Ok(Renderer::new()?.prepare(&sheet)?.bytes)
}

#[test]
fn a_certificate_is_drawn_and_read_back() {
    let file = draw(DATA).unwrap();
    let read = read_sealed(&file).unwrap();
    assert_eq!(read.attachment, DATA.as_bytes());
    assert_eq!(read.attachment_name, "LBF-2026-000123.json");
    assert_eq!(read.der, vec![0; 2048]);
    assert!(file.len() < 80_000, "{} bytes", file.len());
}

#[test]
fn another_folder_time_zone_and_language_draw_the_same_bytes() {
    let here = hex::encode(Sha256::digest(draw(DATA).unwrap()));
    let child = Command::new(std::env::current_exe().unwrap())
        .args(["--ignored", "--exact", "--nocapture", "pdf_page::the_digest_for_another_process"])
        .env("TZ", "Asia/Kathmandu")
        .env("LC_ALL", "tr_TR.UTF-8")
        .env("LANG", "tr_TR.UTF-8")
        .current_dir(std::env::temp_dir())
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&child.stdout);
    assert!(said.contains(&format!("digest {here}")), "{said}");
}

#[test]
#[ignore = "run by the test above, in a process of its own"]
fn the_digest_for_another_process() {
    println!("digest {}", hex::encode(Sha256::digest(draw(DATA).unwrap())));
}

#[test]
fn what_cannot_be_drawn_is_named_with_its_place() {
    for (from, to, message) in [
        (
            "Quillmark",
            "字",
            "no font of the page can draw \"字\" U+5B57 in \"字 Instruments\" (purchaser.name)",
        ),
        (
            "Alder Falls\"],\"demo",
            "Alder\\u202eFalls\"],\"demo",
            "certificate field issuer.address[1] holds characters that cannot be printed: U+202E",
        ),
        (
            "\"met\"",
            "\"not met\"",
            "certificate field lots[0].findings[0].verdict: found \"not met\", expected met, accepted, relied on, advice or not applicable",
        ),
        ("\"place\":\"Alder Falls\",", "", "certificate field place: found nothing, expected a text"),
        (
            "2026-11-25T16:20:31-05:00",
            "yesterday",
            "certificate field issued: found yesterday, expected a date and time such as 2026-11-25T16:20:31-05:00",
        ),
    ] {
        let data = DATA.replacen(from, to, 1);
        assert_ne!(data, DATA);
        assert_eq!(draw(&data).unwrap_err().to_string(), message);
    }
}
