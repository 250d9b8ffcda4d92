//! The data of a certificate: read, written again, judged again, drawn.
#![no_main]

use std::sync::OnceLock;

use brightproof::app::issue;
use brightproof::canonical;
use brightproof::certificate;
use brightproof::certificate::Certificate;
use brightproof::certificate::Datum;
use brightproof::judge;
use brightproof::pdf::Renderer;
use brightproof::validate;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    static RENDERER: OnceLock<Renderer> = OnceLock::new();
    let Ok(value) = serde_json::from_slice::<serde_json::Value>(bytes) else { return };
    let Ok(same) = canonical::canonical(&value) else { return };
    let Ok(read) = serde_json::from_value::<Certificate>(value) else { return };
    for lot in &read.lots {
        let Datum::Disclosed(dossier) = &lot.dossier else { continue };
        let _ = validate::record(&dossier.record);
        let findings = judge::judge(dossier);
        let _ = certificate::certified_lot(dossier.as_ref().clone(), findings, lot.quantity);
    }
    let renderer = RENDERER.get_or_init(|| Renderer::new().expect("the fonts are compiled in"));
    let _ = issue::draw(renderer, &read, &same, 2000);
});
