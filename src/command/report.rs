//! report.

use super::Answer;
use super::Exit;
use super::Output;
use super::Stop;
use crate::app::book::Book;
use crate::app::error::Error;
use crate::app::figures;
use crate::app::figures::Scope;
use crate::app::world::World;
use crate::cli;
use crate::cli::Format;
use crate::figures::Days;
use crate::folder;
use crate::folder::Folder;
use crate::moment::Date;
use crate::pdf;
use crate::pdf::Renderer;
use crate::report::figures as sheets;
use crate::report::sheet::Sheet;
use crate::shop;

/// The days of a month written `2026-10`.
fn days_of(month: &str) -> Result<Days, Error> {
    let wrong = || Error::cannot(format!("`{month}` is no month"), "write year and month, as in 2026-10");
    let first: Date = format!("{month}-01").parse().map_err(|_| wrong())?;
    // The last of four days the calendar may have.
    let last = [31, 30, 29, 28].into_iter().find_map(|day| format!("{month}-{day}").parse::<Date>().ok());
    Ok(Days { from: Some(first), to: Some(last.ok_or_else(wrong)?) })
}

pub fn run(verb: &cli::Report, folder: Folder, format: Format, world: &World, output: &mut Output) -> Answer {
    let book = Book::open(folder)?;
    for fault in &book.faults {
        output.error(fault)?;
    }
    let mut whole = book.faults.is_empty();
    let over = |over: &cli::Over| {
        Scope::new(&book, Days { from: over.from, to: over.to }, over.purchaser.as_deref())
    };
    let (sheet, page) = match verb {
        cli::Report::Month { month, purchaser, page } => {
            let scope = Scope::new(&book, days_of(month)?, purchaser.as_deref())?;
            let lots = figures::lots(&book, &scope, world)?;
            whole &= lots.unread.is_empty();
            let certificates = figures::month(&book, &scope)?;
            let passages = figures::turn_round(&book, &scope)?;
            (sheets::month(&book, &scope, world, month, (&certificates, &lots, &passages)), page)
        }
        cli::Report::Yield(args) | cli::Report::Gaps(args) => {
            let scope = over(args)?;
            let lots = figures::lots(&book, &scope, world)?;
            whole &= lots.unread.is_empty();
            let sheet = match verb {
                cli::Report::Gaps(_) => sheets::gaps(&book, &scope, world, &lots),
                _ => sheets::yields(&book, &scope, world, &lots),
            };
            (sheet, &args.page)
        }
        cli::Report::Bath { bath, from, to, page } => {
            let scope = Scope::new(&book, Days { from: *from, to: *to }, None)?;
            let found = figures::bath(&book, bath, &scope, world)?;
            whole &= found.unread.is_empty();
            (sheets::bath(&book, &scope, world, bath, &found), page)
        }
        cli::Report::TurnRound(args) => {
            let scope = over(args)?;
            let passages = figures::turn_round(&book, &scope)?;
            (sheets::turn_rounds(&book, &scope, world, &passages), &args.page)
        }
    };
    answer(&book, &sheet, page, format, output)?;
    if !whole {
        output.note("warning: not everything could be read or judged; the report says what is left out")?;
        return Ok(Exit::CouldNot);
    }
    Ok(Exit::Good)
}

fn answer(
    book: &Book,
    sheet: &Sheet,
    page: &cli::Page,
    format: Format,
    output: &mut Output,
) -> Result<(), Stop> {
    if let Some(file) = &page.pdf {
        let paper = match book.shop.paper {
            shop::Paper::A4 => pdf::Paper::A4,
            shop::Paper::Letter => pdf::Paper::Letter,
        };
        let bytes = Renderer::new()?.report(&sheet.page(), paper)?;
        // Never over another file.
        folder::write_new(file, &bytes, false)?;
        output.note(format_args!("written to {}", file.display()))?;
    }
    match format {
        Format::Text => output.say(sheet.text()),
        Format::Json => output.json(&sheet.json()),
        Format::Csv => output.out.write_all(sheet.csv().as_bytes()).map_err(Stop::Output),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn months_have_the_days_of_the_calendar() {
        for (month, last) in [("2026-10", "2026-10-31"), ("2028-02", "2028-02-29"), ("2100-02", "2100-02-28")]
        {
            let days = days_of(month).ok().unwrap();
            assert_eq!(days.from.unwrap().to_string(), format!("{month}-01"));
            assert_eq!(days.to.unwrap().to_string(), last);
        }
        for wrong in ["2026-13", "2026-1", "October", "2026-10-01", ""] {
            assert!(days_of(wrong).is_err(), "{wrong}");
        }
    }
}
