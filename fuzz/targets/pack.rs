//! A pack of rules: read and looked over.
#![no_main]

use brightproof::lint;
use brightproof::pack::Pack;
use brightproof::rulebook;
use brightproof::yaml;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    let Ok(pack) = yaml::parse::<Pack>(text) else { return };
    for found in lint::lint(&pack, lint::Beside::default()) {
        let _ = found.field();
    }
    for edition in &pack.editions {
        let _ = rulebook::effective(&pack, edition, None);
    }
});
