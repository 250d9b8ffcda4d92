//! What is known of a grade, and what the packs in force say of it.

use crate::alloy::Alloy;
use crate::alloy::Unfound;
use crate::app::book::Book;
use crate::app::builtin;
use crate::app::error::Error;
use crate::folder::Folder;
use crate::judge;
use crate::judge::Consequence;
use crate::pack::Check;
use crate::pack::Pack;
use crate::pack::Subject;
use crate::rulebook;
use crate::rulebook::EffectivePack;
use crate::units::Quantity;

/// A grade with everything the packs say of it.
#[derive(Debug)]
pub struct Described {
    /// The table's row.
    pub alloy: Alloy,
    /// Every pack that says something of it, in the order of the rulebook.
    pub standards: Vec<Standard>,
    /// The chromium below which the house advises of the bath.
    pub bath_border: Option<Quantity>,
}

/// What one edition of a standard says of a grade.
#[derive(Debug)]
pub struct Standard {
    /// Designation with edition.
    pub named: String,
    /// Whether the shop adopted it; nothing where there is no shop.
    pub adopted: Option<bool>,
    /// What it says.
    pub says: Vec<Consequence>,
}

/// Looks a grade up: with the shop's packs as adopted, or without a shop with the built-in ones.
pub fn describe(folder: &Folder, name: &str) -> Result<Result<Described, Unfound>, Error> {
    let shop = folder.has("shop.yaml");
    let (alloys, packs) = if shop {
        let book = Book::open(folder.clone())?;
        let packs = in_force(&book)?;
        (book.alloys, packs)
    } else {
        let packs = builtin::packs()?;
        let packs = packs.iter().filter_map(latest).collect();
        (builtin::alloys()?, packs)
    };
    let alloy = match alloys.find(name) {
        Ok(alloy) => alloy.clone(),
        Err(why) => return Ok(Err(why)),
    };
    let standards = packs.iter().filter(|p| !p.pack.is_house()).map(|pack| Standard {
        named: pack.pack.named(&pack.edition),
        adopted: shop.then_some(pack.adopted.is_some()),
        says: judge::consequences(&alloy, pack),
    });
    let standards = standards.filter(|s| !s.says.is_empty()).collect();
    let house = packs.iter().find(|p| p.pack.is_house());
    Ok(Ok(Described { alloy, standards, bath_border: house.and_then(bath_border) }))
}

/// Each pack in the editions the shop adopted; in its latest where it adopted none.
fn in_force(book: &Book) -> Result<Vec<EffectivePack>, Error> {
    let mut all = Vec::new();
    for pack in &book.packs {
        let adopted = |edition: &&String| {
            book.adoptions.iter().any(|a| a.document.pack == pack.pack && a.document.edition == **edition)
        };
        let editions: Vec<&String> = pack.editions.iter().filter(adopted).collect();
        if editions.is_empty() {
            all.extend(latest(pack));
        }
        for edition in editions {
            all.push(book.adopted(pack, edition)?);
        }
    }
    Ok(all)
}

fn latest(pack: &Pack) -> Option<EffectivePack> {
    rulebook::effective(pack, pack.editions.last()?, None).ok()
}

fn bath_border(house: &EffectivePack) -> Option<Quantity> {
    house.pack.requirements.iter().find_map(|r| match (r.subject, &r.check) {
        (Subject::HeatChromium, Check::AtLeast(bounds)) => bounds.iter().find_map(|b| b.value),
        _ => None,
    })
}
