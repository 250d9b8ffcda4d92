//! A certificate's file, verified whole as an auditor does: with the root, without the register.
#![no_main]

use std::sync::OnceLock;

use brightproof::app::verify;
use brightproof::app::verify::Anchor;
use brightproof::pdf::Renderer;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    static RENDERER: OnceLock<Renderer> = OnceLock::new();
    let renderer = RENDERER.get_or_init(|| Renderer::new().expect("the fonts are compiled in"));
    let _ = brightproof::pdf::read_sealed(bytes);
    let _ = verify::file("fuzz.pdf", bytes, &Anchor::none(), None, renderer);
});
