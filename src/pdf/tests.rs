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
        "format": "brightproof certificate, draft 0", "number": "LBF-2026-000123", "issued": "2026-11-25T16:20:31-05:00",
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
