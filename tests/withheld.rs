//! Withheld data: what an order does not disclose stands nowhere in the file, and whoever is given the evidence
//! judges again from it. The shop is invented.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test stops at the first surprise"
)]

mod amended;
mod attacks;
mod handed;
mod seen;

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::OnceLock;

use brightproof::app::issue::Target;
use brightproof::app::verify;
use brightproof::app::verify::Verification;
use brightproof::app::withheld;
use brightproof::certificate::Certificate;
use brightproof::certificate::Evidence;
use brightproof::register::Register;

use crate::demo;

/// Discloses nothing; three pieces were lost on the way.
const CLOSED: &str = "L-26-0501";
/// Discloses everything, of a controlled part.
const CONTROLLED: &str = "L-26-0502";
/// Discloses everything.
const OPEN: &str = "L-26-0471";
/// The marking of the controlled part.
const MARKING: &str = "Controlled by Quillmark Instruments, mark QC-3 (invented): do not pass on";

/// A shop that issued for these three lots. No test changes it.
struct Shop {
    folder: PathBuf,
    root: String,
    numbers: BTreeMap<&'static str, String>,
}

impl Shop {
    fn get() -> &'static Shop {
        static SHOP: OnceLock<Shop> = OnceLock::new();
        SHOP.get_or_init(|| {
            let folder = demo::fresh("withheld");
            let root = demo::begin(&folder, "withheld");
            let lots = [CLOSED, CONTROLLED, OPEN];
            let targets = lots.map(|lot| Target::Lot(lot.to_owned()));
            let world = demo::world(demo::ISSUED, "withheld");
            let numbers = demo::issue_all(&mut demo::desk(&folder), &targets, &world);
            Shop { numbers: lots.into_iter().zip(numbers).collect(), folder, root }
        })
    }

    fn file(&self, lot: &str) -> Vec<u8> {
        demo::file(&self.folder, &self.numbers[lot])
    }

    fn certificate(&self, lot: &str) -> Certificate {
        crate::tamper::forger::certificate(&self.file(lot))
    }

    fn evidence(&self, lot: &str) -> Evidence {
        let stored = self.register().certificate(&self.numbers[lot]).unwrap().unwrap();
        withheld::kept(&stored).unwrap().unwrap()
    }

    fn register(&self) -> Register {
        demo::register(&self.folder)
    }

    /// Verifies as somebody with the root, no register, and perhaps evidence.
    fn verify(&self, bytes: &[u8], evidence: Option<&[Evidence]>) -> Verification {
        let anchor = verify::Anchor::read(&self.root).unwrap();
        verify::with_evidence("c.pdf", bytes, &anchor, None, demo::renderer(), evidence).unwrap()
    }
}
