//! The shop's papers: the first byte says which, the rest is the text.
#![no_main]

use std::sync::OnceLock;

use brightproof::adoption::Adoption;
use brightproof::app::book::Book;
use brightproof::app::book::Sourced;
use brightproof::app::book::parse;
use brightproof::folder::Folder;
use brightproof::judge::Dossier;
use brightproof::judge::judge;
use brightproof::load::Load;
use brightproof::order::Order;
use brightproof::part::PartSpecification;
use brightproof::record::Record;
use brightproof::shipment::Shipment;
use brightproof::shop::Baths;
use brightproof::shop::Instruments;
use brightproof::shop::People;
use brightproof::shop::Shop;
use brightproof::shop::Solutions;
use brightproof::validate;
use brightproof::yaml::Places;
use libfuzzer_sys::fuzz_target;

/// The sample shop's book, once.
fn book() -> &'static Book {
    static BOOK: OnceLock<Book> = OnceLock::new();
    BOOK.get_or_init(|| {
        Book::open(Folder::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../samples/larkspur")))
            .expect("its book")
    })
}

fn dossier() -> &'static Dossier {
    static DOSSIER: OnceLock<Dossier> = OnceLock::new();
    DOSSIER.get_or_init(|| {
        let record = book().lot("L-26-0403").expect("a lot of the shop");
        book().case(record).expect("its dossier").dossier
    })
}

fuzz_target!(|bytes: &[u8]| {
    let Some((which, text)) = bytes.split_first() else { return };
    let Ok(text) = std::str::from_utf8(text) else { return };
    let file = "fuzz.yaml";
    let text = text.to_owned();
    match which % 10 {
        0..=2 => {
            let Ok(record) = parse::<Record>(file, text, validate::record) else { return };
            let places = Places::of(&record.text);
            if let Ok(case) = book().case(Sourced { ..record }) {
                for finding in judge(&case.dossier) {
                    let _ = places.find(&finding.place.path);
                }
            }
        }
        3 => {
            let Ok(part) = parse::<PartSpecification>(file, text, validate::part) else { return };
            judge(&Dossier { part: part.document, ..dossier().clone() });
        }
        4 => {
            let Ok(order) = parse::<Order>(file, text, validate::order) else { return };
            judge(&Dossier { order: order.document, ..dossier().clone() });
        }
        5 => {
            let Ok(baths) = parse::<Baths>(file, text, validate::baths) else { return };
            judge(&Dossier { baths: baths.document.baths, ..dossier().clone() });
        }
        6 => {
            let Ok(all) = parse::<Instruments>(file, text.clone(), validate::instruments) else {
                let _ = parse::<Solutions>(file, text, validate::solutions);
                return;
            };
            judge(&Dossier { instruments: all.document.instruments, ..dossier().clone() });
        }
        7 => drop(parse::<Load>(file, text, validate::load)),
        8 => {
            let _ = parse::<Adoption>(file, text.clone(), validate::adoption);
            let _ = parse::<Shipment>(file, text, |_| Vec::new());
        }
        _ => {
            let _ = parse::<Shop>(file, text.clone(), |_| Vec::new());
            let _ = parse::<People>(file, text, |_| Vec::new());
        }
    }
});
