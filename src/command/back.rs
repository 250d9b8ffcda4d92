//! find, affected, delivered, reissue, withdraw, legacy.

use super::Answer;
use super::Exit;
use super::Output;
use super::Stop;
use crate::app::affected;
use crate::app::delivery;
use crate::app::delivery::Reissue;
use crate::app::delivery::Sending;
use crate::app::delivery::Which;
use crate::app::desk::open_register;
use crate::app::error::Error;
use crate::app::holders::Holders;
use crate::app::legacy;
use crate::app::legacy::NewLegacy;
use crate::app::lookup;
use crate::app::notice;
use crate::app::world::World;
use crate::certificate::Thing;
use crate::cli;
use crate::folder;
use crate::folder::Folder;
use crate::order::Way;
use crate::register::Asked;
use crate::register::Facet;
use crate::register::Query;
use crate::register::Standing;
use crate::register::Status;
use crate::register::Term;
use crate::report;
use crate::report::back;
use crate::report::json;

const fn way(how: cli::How) -> Way {
    match how {
        cli::How::EMail => Way::EMail,
        cli::How::Paper => Way::Paper,
        cli::How::Portal => Way::Portal,
    }
}

pub fn find(folder: &Folder, args: &cli::Find, as_json: bool, output: &mut Output) -> Answer {
    let exact = args.exact;
    let texts = args.texts.iter().map(|text| Term { facet: None, text: text.clone(), exact });
    let named = [
        (Facet::PurchaseOrder, &args.order),
        (Facet::Lot, &args.lot),
        (Facet::PurchaserLot, &args.purchaser_lot),
        (Facet::Part, &args.part),
        (Facet::Heat, &args.heat),
        (Facet::Serial, &args.serial),
        (Facet::Slip, &args.slip),
        (Facet::Purchaser, &args.purchaser),
    ];
    let named = named.into_iter().filter_map(|(facet, text)| {
        text.as_ref().map(|text| Term { facet: Some(facet), text: text.clone(), exact })
    });
    let query = Query {
        terms: texts.chain(named).collect(),
        limit: args.limit,
        from: args.from,
        to: args.to,
        standing: args.status.map(|status| match status {
            cli::Stands::Current => Standing::Current,
            cli::Stands::Amended => Standing::Amended,
            cli::Stands::Withdrawn => Standing::Withdrawn,
            cli::Stands::Legacy => Standing::Legacy,
        }),
    };
    let found = lookup::find_by(folder, &query)?;
    if as_json {
        let all: Vec<_> = found.iter().map(json::found).collect();
        output.json(&all)?;
    } else {
        for certificate in &found {
            output.say(report::found(certificate))?;
        }
    }
    if found.is_empty() {
        output.note("nothing found")?;
        return Ok(Exit::Gaps);
    }
    Ok(Exit::Good)
}

pub fn affected(folder: &Folder, args: &cli::Affected, as_json: bool, output: &mut Output) -> Answer {
    let named = [
        (Thing::Bath, &args.thing.bath),
        (Thing::Instrument, &args.thing.instrument),
        (Thing::Solution, &args.thing.solution),
        (Thing::Person, &args.thing.person),
        (Thing::Heat, &args.thing.heat),
        (Thing::Load, &args.thing.load),
    ];
    let named = named.into_iter().find_map(|(thing, name)| name.clone().map(|name| (thing, name)));
    let (thing, name) = named.ok_or_else(|| Error::cannot("nothing is named", "name a bath, or the like"))?;
    let asked = Asked { thing, name, from: args.from, to: args.to };
    let shop = folder.root().display().to_string();
    let found = affected::affected(folder, asked, args.purchaser.as_deref(), &shop)?;
    if let Some(file) = &args.write {
        // Never over an older one: somebody may have written on it what was done.
        folder::write_new(file, affected::worksheet(&found).as_bytes(), false)?;
    }
    if as_json {
        output.json(&back::affected(&found))?;
    } else {
        output.say(back::affected_words(&found))?;
        if let Some(file) = &args.write {
            output.note(format_args!("worksheet written to {}", file.display()))?;
        }
    }
    Ok(Exit::Good)
}

/// Warns of a certificate that went out though it no longer stands, or never was judged.
fn standing(number: &str, status: &Status, to: &str, output: &mut Output) -> Result<(), Stop> {
    match status {
        Status::Current => Ok(()),
        other => output.note(format_args!("warning: {number} is {other}; tell {to} so")),
    }
}

pub fn delivered(
    folder: &Folder,
    args: &cli::Delivered,
    as_json: bool,
    world: &World,
    output: &mut Output,
) -> Answer {
    let (number, to) = (args.number.as_str(), args.to.trim());
    let sending = Sending { number, to, how: way(args.how), by: &args.by, on: args.on };
    let done = delivery::delivered(folder, &sending, world)?;
    let on = done.on.to_string();
    if as_json {
        output.json(&back::sent(number, to, &done.status, None, Some(on), done.stranger.is_none()))?;
    } else {
        output.say(format_args!("{number}: entered as delivered to {to} on {on}"))?;
    }
    if let Some(why) = &done.stranger {
        output.note(format_args!(
            "warning: {to} is no contact on the order of {number} ({why}): ask the purchaser whether it may have it"
        ))?;
    }
    standing(number, &done.status, to, output)?;
    Ok(Exit::Good)
}

pub fn reissue(
    folder: &Folder,
    args: &cli::Reissue,
    as_json: bool,
    world: &World,
    output: &mut Output,
) -> Answer {
    let which = match (&args.number, &args.order) {
        (Some(number), _) => Which::Number(number),
        (None, Some(order)) => Which::Order(order),
        (None, None) => return Err(Error::cannot("nothing to send", "give a number, or --order").into()),
    };
    let request = Reissue {
        by: &args.by,
        to: args.to.trim(),
        why: &args.why,
        how: args.how.map(way),
        approved_by: args.approved_by.as_deref(),
        out: &args.out,
    };
    let sent = delivery::reissue(folder, &which, &request, world)?;
    let mut reports = Vec::new();
    for one in &sent {
        let file = one.file.display().to_string();
        if as_json {
            let mut report = back::sent(&one.number, request.to, &one.status, Some(file), None, one.contact);
            report.notice = one.notice.as_ref().map(|file| file.display().to_string());
            reports.push(report);
        } else {
            output.say(format_args!("{}: the same bytes, written to {file}", one.number))?;
        }
        standing(&one.number, &one.status, request.to, output)?;
        if let (Some(file), false) = (&one.notice, as_json) {
            output.say(format_args!("{}: send its notice with it: {}", one.number, file.display()))?;
        }
    }
    if as_json {
        output.json(&reports)?;
    }
    Ok(Exit::Good)
}

/// Whom to tell, or that nobody is on record.
pub fn tell(told: &Holders, output: &mut Output) -> Result<(), Stop> {
    output.say(back::tell(told))
}

pub fn withdraw(
    folder: &Folder,
    (number, by, why, parts): (&str, &str, &str, &str),
    as_json: bool,
    world: &World,
    output: &mut Output,
) -> Answer {
    let told = lookup::withdraw(folder, number, by, why, parts, world)?;
    if as_json {
        output.json(&back::ended(number, None, &[], &told))?;
    } else {
        output.say(format_args!(
            "{number}: withdrawn; whoever holds it must be told, and what to do with the parts"
        ))?;
        tell(&told, output)?;
    }
    noticed(folder, number, as_json, output)
}

/// Writes the notice of a certificate that ended. The register has it either way, so it can be written later.
pub fn noticed(folder: &Folder, number: &str, as_json: bool, output: &mut Output) -> Answer {
    match open_register(folder).and_then(|register| notice::write(folder, &register, number)) {
        Ok(_) if as_json => Ok(Exit::Good),
        Ok(file) => {
            output.say(format_args!("notice to its holders: {}", file.display()))?;
            Ok(Exit::Good)
        }
        Err(error) => {
            output
                .note(format_args!("no notice was written; `brightproof notice {number}` writes it later"))?;
            output.error(&error)?;
            Ok(Exit::CouldNot)
        }
    }
}

/// The same notice again.
pub fn notice(folder: &Folder, number: &str, as_json: bool, output: &mut Output) -> Answer {
    let file = notice::write(folder, &open_register(folder)?, number)?;
    if as_json {
        let file = file.display().to_string();
        output.json(&serde_json::json!({ "version": json::VERSION, "number": number, "file": file }))?;
    } else {
        output.say(format_args!("{number}: notice written to {}", file.display()))?;
    }
    Ok(Exit::Good)
}

pub fn legacy(
    folder: &Folder,
    verb: &cli::Legacy,
    as_json: bool,
    world: &World,
    output: &mut Output,
) -> Answer {
    let cli::Legacy::Add(args) = verb;
    let many = [
        (Facet::Lot, &args.lots),
        (Facet::PurchaseOrder, &args.orders),
        (Facet::Part, &args.parts),
        (Facet::Heat, &args.heats),
        (Facet::Slip, &args.slips),
        (Facet::Serial, &args.serials),
        (Facet::PurchaserLot, &args.purchaser_lots),
    ];
    let found_by =
        many.into_iter().flat_map(|(facet, values)| values.iter().map(move |v| (facet, v.clone()))).collect();
    let new = NewLegacy {
        file: &args.file,
        number: &args.number,
        purchaser: &args.purchaser,
        issued: args.issued,
        found_by,
        by: &args.by,
    };
    let digest = legacy::add(folder, &new, world)?;
    if as_json {
        output.json(&back::legacy(args.number.trim(), &digest))?;
    } else {
        output.say(format_args!(
            "{}: legacy: registered as received, not judged; SHA-256 of the file {digest}",
            args.number.trim()
        ))?;
    }
    Ok(Exit::Good)
}
