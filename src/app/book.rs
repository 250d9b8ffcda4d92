//! The shop's book, read from its folder: every document with its file and text, so that a place in a document
//! can be shown as file, line and column. One faulty part or order never stops lots that do not need it.

use std::sync::OnceLock;

use serde::de::DeserializeOwned;

use crate::adoption::Adoption;
use crate::alloy::AlloyTable;
use crate::alloy::ProductTolerances;
use crate::app::builtin;
use crate::app::deviations;
use crate::app::error::Error;
use crate::app::shared::Shared;
use crate::correction::Corrections;
use crate::deviation::Deviation;
use crate::folder::Folder;
use crate::logger::Loggers;
use crate::order::Order;
use crate::pack::Pack;
use crate::pack::SamplingTable;
use crate::pack::ShopSampling;
use crate::part::PartSpecification;
use crate::path::Path;
use crate::record::Record;
use crate::sampling::Tables;
use crate::shipment::Shipment;
use crate::shop::Baths;
use crate::shop::Instruments;
use crate::shop::People;
use crate::shop::Purchasers;
use crate::shop::Shop;
use crate::shop::Solutions;
use crate::trace_form::TraceForms;
use crate::validate;
use crate::validate::Wrong;
use crate::yaml;

/// A document with the file it was read from.
#[derive(Debug, Clone)]
pub struct Sourced<T> {
    /// Path within the shop folder, or as given.
    pub file: String,
    /// Text as read.
    pub text: String,
    /// The document.
    pub document: T,
}

/// The file of the book's corrections.
const CORRECTIONS: &str = "corrections.yaml";

/// The file of the loggers.
const LOGGERS: &str = "loggers.yaml";
/// The file of what the shop knows about its sampling.
const SAMPLING: &str = "sampling.yaml";
/// The file of the layouts of traces.
const TRACES: &str = "traces.yaml";

/// Everything the shop has written down, lots apart.
pub struct Book {
    /// The folder.
    pub folder: Folder,
    /// Identity.
    pub shop: Shop,
    /// People.
    pub people: People,
    /// Baths.
    pub baths: Sourced<Baths>,
    /// Instruments.
    pub instruments: Sourced<Instruments>,
    /// Test solutions.
    pub solutions: Sourced<Solutions>,
    /// Purchasers.
    pub purchasers: Purchasers,
    /// Part specifications that could be read.
    pub parts: Vec<Sourced<PartSpecification>>,
    /// Orders that could be read.
    pub orders: Vec<Sourced<Order>>,
    /// What could not be read of parts and orders.
    pub faults: Vec<Error>,
    /// Packs: built in, and the shop's own, which replace built-in ones of the same id.
    pub packs: Vec<Pack>,
    /// Adoptions, with their files.
    pub adoptions: Vec<Sourced<Adoption>>,
    /// The alloy table.
    pub alloys: AlloyTable,
    /// Tolerances of product analyses.
    pub product_tolerances: ProductTolerances,
    /// Sampling tables of plans that never change.
    pub sampling: Vec<SamplingTable>,
    /// Tables of plans indexed by level and AQL.
    pub indexed_sampling: Tables,
    /// What the shop knows about its sampling; nothing when the file is not there.
    pub shop_sampling: ShopSampling,
    /// Text of `people.yaml`, for places in it.
    pub people_text: String,
    /// Text of `shop.yaml`, for places in it.
    pub shop_text: String,
    /// Purchasers' deviations that could be read, letter and all.
    pub deviations: Vec<Sourced<Deviation>>,
    /// Every record that can be read, once it is needed: lots made from other lots look for each other.
    pub(super) records: OnceLock<Vec<Record>>,
    /// Corrections of the book, of parts and of orders; none when the file is not there.
    pub corrections: Sourced<Corrections>,
    /// What several lots share.
    pub shared: Shared,
    /// How its loggers write; none when the file is not there.
    pub loggers: Loggers,
    /// How its traces are laid out; none when the file is not there.
    pub trace_forms: TraceForms,
}

/// Reads one document and holds it against what no such document may say.
pub fn read<T: DeserializeOwned>(
    folder: &Folder,
    file: &str,
    check: impl Fn(&T) -> Vec<Wrong>,
) -> Result<Sourced<T>, Error> {
    parse(file, folder.text(file)?, check)
}

/// The same from a text in hand.
pub fn parse<T: DeserializeOwned>(
    file: &str,
    text: String,
    check: impl Fn(&T) -> Vec<Wrong>,
) -> Result<Sourced<T>, Error> {
    let document: T = yaml::parse(&text).map_err(|fault| Error::Fault { file: file.to_owned(), fault })?;
    if let Some(first) = check(&document).into_iter().next() {
        return Err(Error::wrong(file, &text, first));
    }
    Ok(Sourced { file: file.to_owned(), text, document })
}

fn nothing<T>(_: &T) -> Vec<Wrong> {
    Vec::new()
}

/// Reads every document of a sub-folder; what cannot be read goes to `faults`.
pub(super) fn read_all<T: DeserializeOwned>(
    folder: &Folder,
    sub: &str,
    check: impl Fn(&T) -> Vec<Wrong>,
    faults: &mut Vec<Error>,
) -> Result<Vec<Sourced<T>>, Error> {
    let mut all = Vec::new();
    for file in folder.yaml_files(sub)? {
        match read(folder, &file, &check) {
            Ok(document) => all.push(document),
            Err(fault) => faults.push(fault),
        }
    }
    Ok(all)
}

/// The packs of a shop folder: built in, and its own, which take the place of built-in ones of the same id.
pub fn packs(folder: &Folder) -> Result<Vec<Pack>, Error> {
    let mut packs = builtin::packs()?;
    for file in folder.yaml_files("rules")? {
        let own = read::<Pack>(folder, &file, nothing)?.document;
        if own.is_house() {
            return Err(Error::cannot(
                format!("{file}: the house's own rules are part of the tool"),
                "give the shop's pack an id of its own",
            ));
        }
        // A standard replaced by clauses would leave nothing they could not loosen.
        if own.builds_on.is_some() && packs.iter().any(|p| p.pack == own.pack) {
            return Err(Error::cannot(
                format!("{file}: clauses cannot take the place of the pack `{}`", own.pack),
                "give them an id of their own",
            ));
        }
        packs.retain(|p| p.pack != own.pack);
        packs.push(own);
    }
    Ok(packs)
}

impl Book {
    /// Reads a shop folder.
    pub fn open(folder: Folder) -> Result<Book, Error> {
        if !folder.has("shop.yaml") {
            return Err(Error::cannot(
                format!("{} is no shop folder: it has no shop.yaml", folder.root().display()),
                "name the shop folder with `--shop`, or make one with `brightproof init`",
            ));
        }
        let mut faults = Vec::new();
        let packs = packs(&folder)?;
        let mut adoptions = Vec::new();
        for file in folder.yaml_files("adopted")? {
            adoptions.push(read::<Adoption>(&folder, &file, validate::adoption)?);
        }
        let parts = read_all(&folder, "parts", validate::part, &mut faults)?;
        let orders = read_all(&folder, "orders", validate::order, &mut faults)?;
        let shop = read::<Shop>(&folder, "shop.yaml", validate::shop)?;
        let people = read::<People>(&folder, "people.yaml", validate::people)?;
        let purchasers = read::<Purchasers>(&folder, "purchasers.yaml", nothing)?.document;
        let written = read_all(&folder, "deviations", validate::deviation, &mut faults)?;
        let deviations = deviations::sound(&folder, written, &packs, &purchasers, &mut faults);
        let shared = Shared::read(&folder, &mut faults)?;
        let corrections = if folder.has(CORRECTIONS) {
            read(&folder, CORRECTIONS, validate::corrections)?
        } else {
            Sourced { file: CORRECTIONS.to_owned(), text: String::new(), document: Corrections::default() }
        };
        let loggers = match folder.has(LOGGERS) {
            true => read(&folder, LOGGERS, validate::loggers)?.document,
            false => Loggers { loggers: Vec::new() },
        };
        let trace_forms = match folder.has(TRACES) {
            true => read(&folder, TRACES, validate::trace_forms)?.document,
            false => TraceForms::default(),
        };
        let shop_sampling = match folder.has(SAMPLING) {
            true => read(&folder, SAMPLING, validate::sampling)?.document,
            false => ShopSampling::default(),
        };
        Ok(Book {
            loggers,
            trace_forms,
            shop: shop.document,
            shop_text: shop.text,
            people: people.document,
            people_text: people.text,
            baths: read(&folder, "baths.yaml", validate::baths)?,
            instruments: read(&folder, "instruments.yaml", validate::instruments)?,
            solutions: read(&folder, "solutions.yaml", validate::solutions)?,
            purchasers,
            parts,
            orders,
            faults,
            packs,
            adoptions,
            alloys: builtin::alloys()?,
            product_tolerances: builtin::product_tolerances()?,
            sampling: builtin::sampling()?.levels,
            indexed_sampling: builtin::indexed_sampling()?,
            shop_sampling,
            deviations,
            records: OnceLock::new(),
            corrections,
            shared,
            folder,
        })
    }

    /// Reads one lot's record, by file or by lot number.
    pub fn lot(&self, name: &str) -> Result<Sourced<Record>, Error> {
        let file = if name.ends_with(".yaml") { name.to_owned() } else { format!("lots/{name}.yaml") };
        let direct = std::path::Path::new(name);
        if name.ends_with(".yaml") && !self.folder.has(&file) && direct.is_file() {
            return parse(name, crate::folder::read_text(direct)?, validate::record);
        }
        read(&self.folder, &file, |record: &Record| {
            let mut wrongs = validate::record(record);
            // Asked for by number: a file copied from another lot's must not stand for this one.
            if !name.ends_with(".yaml") && record.lot != name {
                wrongs.insert(
                    0,
                    Wrong {
                        path: Path::root().key("lot"),
                        message: format!("`{}` stands here, in the file of lot `{name}`", record.lot),
                        hint: Some("correct the lot number, or the name of the file".to_owned()),
                    },
                );
            }
            wrongs
        })
    }

    /// Every lot's file.
    pub fn lot_files(&self) -> Result<Vec<String>, Error> {
        Ok(self.folder.yaml_files("lots")?)
    }

    /// Reads one packing slip, by number.
    pub fn shipment(&self, slip: &str) -> Result<Sourced<Shipment>, Error> {
        read(&self.folder, &format!("shipments/{slip}.yaml"), validate::shipment)
    }
}
