//! The text of a drawing.
#![no_main]

use std::sync::OnceLock;

use brightproof::app::builtin;
use brightproof::callout;
use brightproof::pack::Pack;
use brightproof::pack::SamplingPlans;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    static BOOK: OnceLock<(Vec<Pack>, SamplingPlans)> = OnceLock::new();
    let (packs, plans) = BOOK
        .get_or_init(|| (builtin::packs().expect("compiled in"), builtin::sampling().expect("compiled in")));
    let _ = callout::read(text, packs, plans);
});
