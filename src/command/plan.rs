//! plan.

use super::Answer;
use super::Exit;
use super::Output;
use crate::app::blank;
use crate::app::book::Book;
use crate::app::error::Error;
use crate::app::plan::Request;
use crate::app::world::World;
use crate::cli;
use crate::folder;
use crate::folder::Folder;
use crate::pdf;
use crate::pdf::Renderer;
use crate::plan::Plan;
use crate::report::plan as words;
use crate::report::traveler;
use crate::report::traveler::Head;
use crate::shop;

/// Plans an order line.
pub fn run(folder: Folder, args: &cli::Plan, as_json: bool, world: &World, output: &mut Output) -> Answer {
    let book = Book::open(folder)?;
    for fault in &book.faults {
        output.error(fault)?;
    }
    if let Some(lot) = &args.lot {
        blank::lot_named(lot)?;
    }
    let request = request_of(&args.planned);
    let plan = book.plan_today(&request, world)?;
    if args.out.is_some() {
        write(&book, args, &request, &plan, output)?;
    }
    if as_json {
        output.json(&words::json(&plan))?;
    } else {
        output.say(words::text(&plan))?;
    }
    Ok(if plan.questions.iter().any(|q| q.holds) { Exit::Gaps } else { Exit::Good })
}

/// The request that a command line makes.
pub fn request_of(planned: &cli::Planned) -> Request<'_> {
    Request {
        order: &planned.order,
        line: &planned.line,
        part: planned.part.as_deref(),
        grade: planned.grade.as_deref(),
        quantity: planned.quantity,
        treatment: planned.treatment.as_deref(),
        tests: &planned.tests,
    }
}

/// A name for files: letters and figures of the order and its line, where the lot has no number yet.
fn name(args: &cli::Plan) -> String {
    let plain = |text: &str| {
        text.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '-' }).collect::<String>()
    };
    args.lot
        .clone()
        .unwrap_or_else(|| format!("{}-{}", plain(&args.planned.order), plain(&args.planned.line)))
}

fn write(
    book: &Book,
    args: &cli::Plan,
    request: &Request,
    plan: &Plan,
    output: &mut Output,
) -> Result<(), super::Stop> {
    let Some(out) = &args.out else { return Ok(()) };
    let papers = book.papers(request)?;
    let purchaser = book.purchasers.purchasers.iter().find(|p| p.id == papers.order.purchaser);
    let head = Head {
        shop: &book.shop,
        purchaser: purchaser.map_or(papers.order.purchaser.as_str(), |p| p.name.as_str()),
        lot: args.lot.as_deref(),
        controlled: [&papers.part.controlled, &papers.order.controlled]
            .into_iter()
            .flatten()
            .map(String::as_str)
            .collect(),
        reviewed: papers.part.reviewed.as_ref().and(papers.order.reviewed.as_ref()),
    };
    let paper = match book.shop.paper {
        shop::Paper::A4 => pdf::Paper::A4,
        shop::Paper::Letter => pdf::Paper::Letter,
    };
    let bytes = Renderer::new()?.report(&traveler::traveler(plan, &head), paper)?;
    std::fs::create_dir_all(out)
        .map_err(|e| Error::cannot(format!("{}: {e}", out.display()), "name a folder that can be written"))?;
    let file = out.join(format!("{}-plan.pdf", name(args)));
    // Never over another file.
    folder::write_new(&file, &bytes, false)?;
    output.note(format_args!("written to {}", file.display()))?;
    if let Some(lot) = &args.lot {
        let file = out.join(format!("{lot}.yaml"));
        folder::write_new(&file, blank::text(lot, &papers, plan).as_bytes(), false)?;
        output.note(format_args!("written to {}", file.display()))?;
    }
    Ok(())
}
