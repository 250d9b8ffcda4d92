//! plan.

use super::Answer;
use super::Exit;
use super::Output;
use crate::app::book::Book;
use crate::app::plan::Request;
use crate::app::world::World;
use crate::cli;
use crate::folder::Folder;
use crate::report::plan as words;

/// Plans an order line.
pub fn run(folder: Folder, args: &cli::Plan, as_json: bool, world: &World, output: &mut Output) -> Answer {
    let book = Book::open(folder)?;
    for fault in &book.faults {
        output.error(fault)?;
    }
    let request = Request {
        order: &args.order,
        line: &args.line,
        part: args.part.as_deref(),
        grade: args.grade.as_deref(),
        quantity: args.quantity,
    };
    let plan = book.plan_today(&request, world)?;
    if as_json {
        output.json(&words::json(&plan))?;
    } else {
        output.say(words::text(&plan))?;
    }
    Ok(if plan.questions.iter().any(|q| q.holds) { Exit::Gaps } else { Exit::Good })
}
