//! Looking back: which certificates rest on a bath, an instrument, a solution, a person, a heat or a load that proved
//! wrong, whom to tell, and what to run next. Only reads; what is to be done is for people to decide.

use crate::app::addressees::Addressees;
use crate::app::addressees::folded;
use crate::app::addressees::same;
use crate::app::addressees::values;
use crate::app::book;
use crate::app::desk::open_register;
use crate::app::error::Error;
use crate::app::holders::Holders;
use crate::app::holders::holders;
use crate::certificate::Thing;
use crate::certificate::Use;
use crate::folder::Folder;
use crate::register::Asked;
use crate::register::Facet;
use crate::register::Found;
use crate::register::Query;
use crate::register::Register;
use crate::register::Resting;
use crate::register::Standing;
use crate::register::Status;
use crate::shop::Baths;
use crate::shop::Instruments;
use crate::shop::Solutions;

/// One certificate that rests on it.
pub struct Row {
    /// Its number.
    pub number: String,
    /// Day of issue.
    pub issued: String,
    /// How it stands.
    pub status: Status,
    /// Purchaser.
    pub purchaser: String,
    /// Purchase orders on it.
    pub orders: Vec<String>,
    /// Parts on it.
    pub parts: Vec<String>,
    /// The lots that used it.
    pub lots: Vec<Lot>,
    /// Whom to tell, and what keeps that list from being whole.
    pub told: Holders,
    /// Command lines to act on it; none when it no longer stands.
    pub commands: Vec<String>,
}

/// A lot that used it.
pub struct Lot {
    /// The shop's lot.
    pub lot: String,
    /// Pieces of it on the certificate.
    pub pieces: u64,
    /// When and how.
    pub uses: Vec<Use>,
}

/// Everything found.
pub struct Affected {
    /// What was asked.
    pub asked: Asked,
    /// Certificates, the latest first.
    pub rows: Vec<Row>,
    /// Legacy certificates that stand and were issued no earlier than the first day asked: nobody filed what they
    /// rest on.
    pub legacy: Vec<Found>,
}

/// Looks back. `purchaser` keeps to the certificates of one; `shop` is the folder as command lines name it.
pub fn affected(
    folder: &Folder,
    asked: Asked,
    purchaser: Option<&str>,
    shop: &str,
) -> Result<Affected, Error> {
    if asked.name.trim().is_empty() {
        return Err(Error::cannot(format!("no {} is named", asked.thing.name()), "name one"));
    }
    if let (Some(from), Some(to)) = (asked.from, asked.to)
        && from > to
    {
        return Err(Error::cannot(format!("{from} comes after {to}"), "exchange --from and --to"));
    }
    let addressees = Addressees::read(folder)?;
    let register = open_register(folder)?;
    known(folder, &register, &addressees, &asked)?;
    let purchaser = purchaser.map(|name| purchaser_named(&addressees, name)).transpose()?;
    let wanted = |facets: &[(Facet, String)]| {
        purchaser.as_deref().is_none_or(|name| values(facets, Facet::Purchaser).iter().any(|n| same(n, name)))
    };
    let mut rows = Vec::new();
    for resting in register.resting_on(&asked)? {
        if wanted(&resting.facets) {
            let told = holders(&register, &addressees, &resting.number)?;
            rows.push(row(resting, told, &asked, shop));
        }
    }
    let legacy =
        Query { limit: u32::MAX, from: asked.from, standing: Some(Standing::Legacy), ..Query::default() };
    let mut legacy = register.find(&legacy)?;
    legacy.retain(|found| wanted(&found.facets));
    Ok(Affected { asked, rows, legacy })
}

/// A purchaser's name, given by name or by id.
pub fn purchaser_named(addressees: &Addressees, given: &str) -> Result<String, Error> {
    let all = &addressees.purchasers.purchasers;
    let found = all.iter().find(|p| p.id == given.trim() || same(&p.name, given));
    found.map(|p| p.name.clone()).ok_or_else(|| {
        let names: Vec<String> = all.iter().map(|p| format!("{} ({})", p.name, p.id)).collect();
        Error::cannot(
            format!("purchasers.yaml knows no `{given}`"),
            &format!("it knows: {}", names.join(", ")),
        )
    })
}

/// A name nobody ever used is most likely a typing error, and "none" would be a false comfort.
fn known(folder: &Folder, register: &Register, addressees: &Addressees, asked: &Asked) -> Result<(), Error> {
    let mut names = register.used_names(asked.thing)?;
    let wanted = asked.name.trim().to_lowercase();
    let is = |names: &[String]| names.iter().any(|name| name.to_lowercase() == wanted);
    if is(&names) {
        return Ok(());
    }
    match asked.thing {
        Thing::Bath => {
            let all = book::read::<Baths>(folder, "baths.yaml", |_| Vec::new())?.document.baths;
            names.extend(all.into_iter().map(|b| b.bath));
        }
        Thing::Instrument => {
            let all = book::read::<Instruments>(folder, "instruments.yaml", |_| Vec::new())?;
            names.extend(all.document.instruments.into_iter().map(|i| i.instrument));
        }
        Thing::Solution => {
            let all = book::read::<Solutions>(folder, "solutions.yaml", |_| Vec::new())?;
            names.extend(all.document.solutions.into_iter().map(|s| s.solution));
        }
        Thing::Person => names.extend(addressees.people.people.iter().map(|p| p.name.clone())),
        Thing::Heat | Thing::Load => {}
    }
    if is(&names) {
        return Ok(());
    }
    names.sort();
    names.dedup();
    let likeness = |name: &str| strsim::jaro_winkler(&folded(name), &folded(&asked.name));
    names.retain(|name| likeness(name) > 0.75);
    names.sort_by(|a, b| likeness(b).total_cmp(&likeness(a)));
    let near: Vec<&str> = names.iter().take(5).map(String::as_str).collect();
    let hint = match near.as_slice() {
        [] => "look it up on a record; letter case does not matter, all else does".to_owned(),
        near => format!("did you mean {}?", near.join(", ")),
    };
    let what = asked.thing.name();
    let name = asked.name.trim();
    Err(Error::cannot(format!("no certificate and no list of the shop knows {what} `{name}`"), &hint))
}

fn row(resting: Resting, told: Holders, asked: &Asked, shop: &str) -> Row {
    let all = |facet| values(&resting.facets, facet).into_iter().map(str::to_owned).collect::<Vec<_>>();
    let lots = resting.pieces.iter().map(|(lot, pieces)| Lot {
        lot: lot.clone(),
        pieces: *pieces,
        uses: resting.uses.iter().filter(|u| u.lot == *lot).cloned().collect(),
    });
    Row {
        issued: all(Facet::Date).into_iter().next().unwrap_or_else(|| resting.at.clone()),
        purchaser: all(Facet::Purchaser).join(", "),
        orders: all(Facet::PurchaseOrder),
        parts: all(Facet::Part),
        lots: lots.collect(),
        commands: match resting.status {
            Status::Current => commands(&resting.number, asked, shop),
            _ => Vec::new(),
        },
        status: resting.status,
        number: resting.number,
        told,
    }
}

/// The days asked, in words.
pub fn days(asked: &Asked) -> String {
    match (asked.from, asked.to) {
        (None, None) => "on any day".to_owned(),
        (Some(from), None) => format!("from {from} on"),
        (None, Some(to)) => format!("up to {to}"),
        (Some(from), Some(to)) if from == to => format!("on {from}"),
        (Some(from), Some(to)) => format!("from {from} to {to}"),
    }
}

/// What is left to people stands in angle brackets, which a shell refuses: nothing is run half filled in.
fn commands(number: &str, asked: &Asked, shop: &str) -> Vec<String> {
    let shop = if shop == "." { String::new() } else { format!(" --shop {}", quoted(shop)) };
    let number = quoted(number);
    let why = quoted(&format!("rests on {} {}, used {}", asked.thing.name(), asked.name.trim(), days(asked)));
    vec![
        format!("brightproof{shop} withdraw {number} --why {why} --by <WHO> --parts <WHAT TO DO WITH THEM>"),
        format!("brightproof{shop} amend {number} --why {why} --by <WHO> --kind conformity"),
    ]
}

/// A text as one word of a POSIX shell.
fn quoted(text: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.' | '/');
    match !text.is_empty() && text.chars().all(plain) {
        true => text.to_owned(),
        false => format!("'{}'", text.replace('\'', "'\\''")),
    }
}

/// One day or two, in words; an open beginning says so.
pub fn when(one: &Use) -> String {
    match one.first {
        Some(first) if first == one.last => first.to_string(),
        Some(first) => format!("{first} to {}", one.last),
        None => format!("day not recorded, up to {}", one.last),
    }
}

/// The worksheet's columns.
const COLUMNS: [&str; 14] = [
    "certificate",
    "stands",
    "issued",
    "purchaser",
    "orders",
    "parts",
    "lot",
    "pieces",
    "used",
    "to tell",
    "not known",
    "withdraw",
    "amend",
    "done, by, on",
];

/// The worksheet: one line a lot, comma-separated values (RFC 4180), for a spreadsheet.
pub fn worksheet(found: &Affected) -> String {
    let mut text = csv_line(COLUMNS.iter().map(|c| (*c).to_owned()));
    for row in &found.rows {
        let tell: Vec<String> = row.told.holders.iter().map(super::holders::words).collect();
        for lot in &row.lots {
            let uses: Vec<String> = lot.uses.iter().map(|u| format!("{}: {}", when(u), u.how)).collect();
            let command = |nth: usize| row.commands.get(nth).cloned().unwrap_or_default();
            text.push_str(&csv_line([
                row.number.clone(),
                row.status.to_string(),
                row.issued.clone(),
                row.purchaser.clone(),
                row.orders.join("; "),
                row.parts.join("; "),
                lot.lot.clone(),
                lot.pieces.to_string(),
                uses.join("; "),
                tell.join("; "),
                row.told.gaps.join("; "),
                command(0),
                command(1),
                String::new(),
            ]));
        }
    }
    for legacy in &found.legacy {
        let all = |facet| values(&legacy.facets, facet).join("; ");
        text.push_str(&csv_line([
            legacy.number.clone(),
            legacy.status.to_string(),
            all(Facet::Date),
            all(Facet::Purchaser),
            all(Facet::PurchaseOrder),
            all(Facet::Part),
            all(Facet::Lot),
            String::new(),
            "not known: look at its papers".to_owned(),
            String::new(),
            String::new(),
            String::new(),
            String::new(),
            String::new(),
        ]));
    }
    text
}

/// One line of comma-separated values, its end included.
pub fn csv_line(cells: impl IntoIterator<Item = String>) -> String {
    let cells: Vec<String> = cells.into_iter().map(|text| cell(&text)).collect();
    format!("{}\r\n", cells.join(","))
}

/// One cell. A spreadsheet takes what begins like a formula for one, so an apostrophe goes before it.
fn cell(text: &str) -> String {
    let formula = text.trim_start().starts_with(['=', '+', '-', '@']) || text.starts_with(['\t', '\r', '\n']);
    let guard = if formula { "'" } else { "" };
    format!("\"{guard}{}\"", text.replace('"', "\"\""))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cell_is_never_a_formula_and_never_ends_early() {
        for (text, expected) in [
            ("plain", "\"plain\""),
            ("a \"b\", c", "\"a \"\"b\"\", c\""),
            ("=HYPERLINK(1)", "\"'=HYPERLINK(1)\""),
            (" +1", "\"' +1\""),
            ("-1", "\"'-1\""),
            ("@x", "\"'@x\""),
            ("", "\"\""),
        ] {
            assert_eq!(cell(text), expected);
        }
    }

    #[test]
    fn a_command_line_keeps_names_whole_and_cannot_run_half_filled_in() {
        let asked = Asked {
            thing: Thing::Person,
            name: "T. O'Quince; rm -r .".to_owned(),
            from: "2026-11-01".parse().ok(),
            to: None,
        };
        let lines = commands("LBF-2026-000001", &asked, "my shop");
        insta::assert_snapshot!(lines.join("\n"), @r"
        brightproof --shop 'my shop' withdraw LBF-2026-000001 --why 'rests on person T. O'\''Quince; rm -r ., used from 2026-11-01 on' --by <WHO> --parts <WHAT TO DO WITH THEM>
        brightproof --shop 'my shop' amend LBF-2026-000001 --why 'rests on person T. O'\''Quince; rm -r ., used from 2026-11-01 on' --by <WHO> --kind conformity
        ");
        assert_eq!(quoted(""), "''");
        assert_eq!(quoted("$(x)"), "'$(x)'");
    }
}
