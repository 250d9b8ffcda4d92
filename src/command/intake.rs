//! intake, blank.

use super::Answer;
use super::Exit;
use super::Output;
use super::plan;
use crate::app::blank;
use crate::app::book::Book;
use crate::app::intake;
use crate::app::intake::Taken;
use crate::cli;
use crate::folder::Folder;
use crate::report::json::VERSION;
use crate::report::json::versioned;

/// Takes in a day sheet.
pub fn intake(folder: Folder, args: &cli::Intake, as_json: bool, output: &mut Output) -> Answer {
    let book = Book::open(folder)?;
    let taken = intake::take(&book, &args.file, args.sheet.as_deref(), args.write)?;
    let exit = if !taken.faults.is_empty() {
        Exit::CouldNot
    } else if !taken.otherwise.is_empty() {
        Exit::Gaps
    } else {
        Exit::Good
    };
    if as_json {
        output.json(&versioned(&taken))?;
    } else {
        text(&taken, output)?;
    }
    Ok(exit)
}

fn text(taken: &Taken, output: &mut Output) -> Result<(), super::Stop> {
    if !taken.faults.is_empty() {
        for fault in &taken.faults {
            output.say(fault)?;
            if !fault.mend.is_empty() {
                output.say(format_args!("  help: {}", fault.mend))?;
            }
        }
        output.say(format_args!("{} fault(s) in the sheet; nothing was written.", taken.faults.len()))?;
        return Ok(());
    }
    for new in &taken.files {
        if taken.written {
            output.say(format_args!("{}: written", new.file))?;
        } else {
            output.say(format_args!("--- {}", new.file))?;
            output.say(new.text.trim_end())?;
        }
    }
    for there in &taken.there {
        output.say(format_args!("{there}: there already, and the same"))?;
    }
    for other in &taken.otherwise {
        output.say(format_args!("{}: on record already, never written again", other.file))?;
        for (at, record, sheet) in &other.values {
            output.say(format_args!("  {at}: the record says {record}, the sheet says {sheet}"))?;
        }
    }
    if taken.files.is_empty() {
        output.say("Nothing is new.")
    } else if taken.written {
        output.say(format_args!("{} file(s) written; `brightproof check` judges them.", taken.files.len()))
    } else {
        output.say(format_args!("{} file(s) would be written: add --write.", taken.files.len()))
    }
}

/// Writes a blank record.
pub fn blank(folder: Folder, args: &cli::Blank, as_json: bool, output: &mut Output) -> Answer {
    let book = Book::open(folder)?;
    let text = blank::blank(&book, &args.lot, &plan::request_of(&args.planned))?;
    let file = format!("lots/{}.yaml", args.lot);
    if args.write {
        crate::folder::write_new(&book.folder.path(&file), text.as_bytes(), false)?;
    }
    if as_json {
        output.json(
            &serde_json::json!({ "version": VERSION, "file": file, "text": text, "written": args.write }),
        )?;
    } else if args.write {
        output.say(format_args!("{file}: written; fill it in before the lot is checked"))?;
    } else {
        output.say(text.trim_end())?;
    }
    Ok(Exit::Good)
}
