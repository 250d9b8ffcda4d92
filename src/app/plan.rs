//! Planning an order line: everything that will be checked, before the first part is racked.

use crate::alloy::Alloy;
use crate::app::book::Book;
use crate::app::error::Error;
use crate::app::switching::Turn;
use crate::app::world::World;
use crate::judge;
use crate::moment::Date;
use crate::order::Line;
use crate::order::Order;
use crate::part::CallOut;
use crate::part::PartSpecification;
use crate::plan;
use crate::plan::Plan;
use crate::record::TestKind;
use crate::rulebook::EffectivePack;

/// Which line is planned, and what is known of the lot.
#[derive(Debug, Clone, Copy, Default)]
pub struct Request<'a> {
    /// Purchase order number.
    pub order: &'a str,
    /// Line of the order.
    pub line: &'a str,
    /// Part number, to be sure that it is the one the line names.
    pub part: Option<&'a str>,
    /// The grade, where it is known.
    pub grade: Option<&'a str>,
    /// Pieces of the lot; left out: those ordered.
    pub quantity: Option<u64>,
    /// The treatment the shop chose, where the order leaves the choice to it.
    pub treatment: Option<&'a str>,
    /// Tests the shop chose, where the order leaves the choice to it.
    pub tests: &'a [TestKind],
}

/// The papers of one order line.
pub struct Papers<'a> {
    /// The order.
    pub order: &'a Order,
    /// Its line.
    pub line: &'a Line,
    /// The part specification.
    pub part: &'a PartSpecification,
}

/// Whether a treatment is one that an order leaves to the shop.
fn chosen_treatment(
    name: &str,
    call_outs: &[&CallOut],
    packs: &[EffectivePack],
    order: &Order,
) -> Result<(), Error> {
    let mut known: Vec<&str> = Vec::new();
    for call in call_outs.iter().filter(|c| c.treatment.is_none()) {
        let named = call.standard.as_deref();
        let its = packs.iter().filter(|p| named.is_some_and(|n| p.pack.edition_in_force(order, n).is_some()));
        let treatments: Vec<_> = its.flat_map(|p| &p.pack.treatments).collect();
        if treatments.iter().any(|t| judge::treatment_is_named(t, name)) {
            return Ok(());
        }
        known.extend(treatments.iter().map(|t| t.name.as_str()));
    }
    let message = format!("`{name}` is no treatment that the order leaves to the shop");
    let mend = if known.is_empty() {
        "the order names its treatments: leave --treatment out".to_owned()
    } else {
        format!("it leaves: {}", known.join(", "))
    };
    Err(Error::cannot(message, &mend))
}

/// Packs, part specification and line with the clauses of purchasers standing for themselves: each call-out of them
/// names what is ordered under the standard they build on.
fn resolved(
    order: &Order,
    packs: &[EffectivePack],
    papers: &Papers,
    alloy: Option<&Alloy>,
) -> (Vec<EffectivePack>, PartSpecification, Line) {
    let (mut part, mut line) = (papers.part.clone(), papers.line.clone());
    let calls: Vec<&CallOut> = papers.part.calls_for.iter().chain(&papers.line.also_calls_for).collect();
    let (packs, built) = judge::asked_for(order, packs, &calls, alloy);
    let mut built = built.into_iter();
    for call in part.calls_for.iter_mut().chain(&mut line.also_calls_for) {
        built.next().into_iter().for_each(|one| *call = one);
    }
    (packs, part, line)
}

impl Book {
    /// Finds order, line and part specification.
    ///
    /// # Errors
    /// Where one of them is not on file, or the line names another part.
    pub fn papers(&self, request: &Request) -> Result<Papers<'_>, Error> {
        let order = self.orders.iter().map(|o| &o.document).find(|o| o.order == request.order);
        let order = order.ok_or_else(|| {
            let message = format!("there is no order `{}` in orders/", request.order);
            Error::cannot(message, "write the order first")
        })?;
        let line = order.lines.iter().find(|l| l.line == request.line).ok_or_else(|| {
            let lines: Vec<&str> = order.lines.iter().map(|l| l.line.as_str()).collect();
            Error::cannot(
                format!("order `{}` has no line `{}`", order.order, request.line),
                &format!("its lines are: {}", lines.join(", ")),
            )
        })?;
        if let Some(part) = request.part.filter(|part| *part != line.part) {
            let message =
                format!("line {} of order {} is for part {}, not {part}", line.line, order.order, line.part);
            return Err(Error::cannot(message, "name the line that orders it"));
        }
        let parts = self.parts.iter().map(|p| &p.document);
        let mut parts = parts
            .filter(|p| p.part == line.part && p.revision == line.revision && p.purchaser == order.purchaser);
        let part = parts.next().ok_or_else(|| {
            let message = format!(
                "there is no part specification for {} revision {} in parts/",
                line.part, line.revision
            );
            Error::cannot(message, "write and review it first")
        })?;
        Ok(Papers { order, line, part })
    }

    fn grade(&self, name: &str) -> Result<&Alloy, Error> {
        self.alloys.find(name).map_err(|unfound| {
            Error::cannot(
                format!("`{name}`: {unfound}"),
                "name it as the drawing does, by its UNS or its European number; or leave --grade out",
            )
        })
    }

    /// Plans an order line on a day.
    ///
    /// # Errors
    /// Where order, line, part specification or grade are not to be found.
    pub fn plan(&self, request: &Request, on: Date) -> Result<Plan, Error> {
        let papers = self.papers(request)?;
        let alloy = request.grade.map(|name| self.grade(name)).transpose()?;
        let quantity = request.quantity.unwrap_or(papers.line.quantity);
        if quantity == 0 {
            return Err(Error::cannot("a lot of no pieces cannot be planned", "give --quantity"));
        }
        let mut order = papers.order.clone();
        order.lines.retain(|l| l.line == papers.line.line);
        let call_outs: Vec<&CallOut> =
            papers.part.calls_for.iter().chain(&papers.line.also_calls_for).collect();
        let packs = self.packs_in_force(&call_outs, &order)?;
        if let Some(name) = request.treatment {
            chosen_treatment(name, &call_outs, &packs, &order)?;
        }
        for kind in request.tests {
            if call_outs.iter().any(|c| c.tests.contains(kind))
                || call_outs.iter().all(|c| !c.tests.is_empty())
            {
                let message =
                    format!("the choice of `{}` is not the shop's: the order names its tests", kind.name());
                return Err(Error::cannot(message, "leave --test out"));
            }
        }
        let approvals = judge::approvals_needed(&self.shop.approvals, papers.part, &order);
        let without_edition = self.without_edition(&call_outs, &order);
        let together = judge::together(&judge::Asked {
            part: papers.part,
            order: &order,
            line: &papers.line.line,
            packs: &packs,
            alloy,
            chromium: None,
            free_machining: None,
        });
        let (packs, part, line) = resolved(&order, &packs, &papers, alloy);
        order.lines = vec![line.clone()];
        let turn = Turn { purchaser: &order.purchaser, part: &part.part, record: None, day: on };
        let sampling = self.sampling_for(&turn, &call_outs)?;
        let input = plan::Input {
            part: &part,
            order: &order,
            line: &line,
            grade: request.grade,
            alloy,
            packs: &packs,
            without_edition: &without_edition,
            sampling: &sampling,
            approvals: &approvals,
            quantity,
            treatment: request.treatment,
            chosen: request.tests,
            on,
        };
        let mut plan = plan::plan(&input);
        plan.disagree(&together);
        Ok(plan)
    }

    /// Plans an order line for today.
    ///
    /// # Errors
    /// As [`Book::plan`].
    pub fn plan_today(&self, request: &Request, world: &World) -> Result<Plan, Error> {
        self.plan(request, world.today())
    }
}
