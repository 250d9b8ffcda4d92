//! A plan in words: what to mind, what to ask first, the windows, the tests, the records.

use std::fmt::Write;

use serde_json::Value;

use crate::finding::Reason;
use crate::finding::Verdict;
use crate::pack::Subject;
use crate::pack::TreatmentStep;
use crate::plan::About;
use crate::plan::Allowance;
use crate::plan::Demand;
use crate::plan::Figure;
use crate::plan::Fit;
use crate::plan::Plan;
use crate::plan::PlannedCall;
use crate::plan::PlannedTest;
use crate::plan::PlannedTreatment;
use crate::plan::Question;
use crate::plan::Span;
use crate::plan::To;
use crate::plan::Why;
use crate::report::json::versioned;
use crate::report::packs;
use crate::rulebook::Standing;

/// A plan for machines.
pub fn json(plan: &Plan) -> Value {
    let mut value = versioned(plan);
    if let Some(members) = value.as_object_mut() {
        let cautions = plan.cautions.iter().map(|c| Value::from(c.words())).collect();
        members.insert("caution_words".to_owned(), Value::Array(cautions));
    }
    value
}

/// Where a demand comes from: standard, clause, how it is known, how it stands.
pub fn source(demand: &Demand) -> String {
    let standing = match demand.standing {
        Standing::Confirmed => String::new(),
        other => packs::standing(&other),
    };
    format!("{}, {}; {}{standing}", demand.standard, demand.clause, packs::basis(demand.basis))
}

/// Figures that are known otherwise than their demand, or not at all.
pub fn figure_notes(demand: &Demand) -> Vec<String> {
    let unit = |f: &Figure| f.unit.clone().unwrap_or_default();
    let mut notes = Vec::new();
    for figure in &demand.figures {
        if !figure.known {
            notes.push(format!("no figure in {}", unit(figure)));
        } else if figure.basis != demand.basis && demand.standing != Standing::Own {
            notes.push(format!("in {} {}", unit(figure), packs::basis(figure.basis)));
        }
    }
    notes
}

/// What is not known, in words; a grade nobody named has no name.
fn unknown(what: &str) -> String {
    if what == "the alloy ``" { "the grade is not known".to_owned() } else { format!("{what} is not known") }
}

fn why(all: &[Why]) -> String {
    let one = |why: &Why| {
        let found = match (&why.unknown, &why.observed) {
            (Some(what), _) => unknown(what),
            (None, Some(observed)) => observed.clone(),
            (None, None) => "nothing stands there".to_owned(),
        };
        format!("{}: {found}; asked: {} ({})", why.subject, why.limit, why.clause)
    };
    all.iter().map(one).collect::<Vec<_>>().join("; ")
}

/// Whether a treatment is permitted, in words.
pub fn treatment_fit(treatment: &PlannedTreatment) -> String {
    match &treatment.fit {
        Fit::Fits => "permitted".to_owned(),
        Fit::DoesNot(all) => format!("not permitted: {}", why(all)),
        Fit::CannotTell(all) => format!("cannot be told: {}", why(all)),
    }
}

/// Whether a test is valid, in words.
pub fn test_fit(test: &PlannedTest) -> String {
    match &test.fit {
        Fit::Fits => "valid here".to_owned(),
        Fit::DoesNot(all) => format!("not valid: {}", why(all)),
        Fit::CannotTell(all) => format!("cannot be told: {}", why(all)),
    }
}

/// A question in words.
pub fn question(question: &Question) -> String {
    let asked =
        if question.limit.is_empty() { String::new() } else { format!("; asked: {}", question.limit) };
    let said = match (&question.about, &question.reason) {
        (Some(About::NoFigureIn(units)), _) if question.holds => {
            format!("no figure is known (in {}); read it in your controlled copy", units.join(", "))
        }
        (Some(About::NoFigureIn(units)), _) => {
            format!(
                "no figure in {}: record in the other unit, or read it in your copy{asked}",
                units.join(", ")
            )
        }
        (Some(About::Option(option)), _) => format!(
            "`{}` is an option of the standard for this series and is not ordered; is it wanted?",
            option.name()
        ),
        (Some(About::HeatChromium(least)), _) => format!(
            "counted as {least}, the least of the grade; a heat's own analysis is judged in its place{asked}"
        ),
        (Some(About::NoTestFits), _) => "no test of the standard is valid for this alloy and use".to_owned(),
        (Some(About::Rests(what)), _) if what.is_empty() => "it names no evidence to rest on".to_owned(),
        (Some(About::Rests(what)), _) => format!("it rests on {what}, which nothing in this order asks"),
        (None, Some(Reason::Unknown(what))) => format!("{}{asked}", unknown(what)),
        (None, Some(Reason::NotInRulebook(what))) => format!("`{what}` is not in the rulebook"),
        (None, Some(Reason::NothingJudged)) => "nothing in the rulebook is judged for it".to_owned(),
        (None, Some(Reason::NoTestOrdered)) => {
            "the treatment is proven by passing a test, and the order names none".to_owned()
        }
        (None, Some(Reason::FigureUnsure)) => format!("no figure is known ({})", question.limit),
        (None, Some(Reason::NotAdopted)) => "not adopted by the shop".to_owned(),
        (None, Some(Reason::RuleChanged)) => "changed since the shop adopted it".to_owned(),
        (None, Some(Reason::NotInBook(what))) => format!("the shop's book has no {what}"),
        (None, Some(Reason::NotRecorded)) => format!("nothing stands there{asked}"),
        (None, _) => format!("{}{asked}", question.observed.as_deref().unwrap_or("it is open")),
    };
    let of = if question.treatments.is_empty() {
        String::new()
    } else {
        format!(" [for {}]", question.treatments.join(", "))
    };
    format!("{}: {said}{of}", question.subject)
}

/// Where a question comes from.
pub fn question_source(question: &Question) -> String {
    if question.clause.is_empty() || question.clause == "house" {
        question.standard.clone()
    } else {
        format!("{}, {}", question.standard, question.clause)
    }
}

fn span(span: &Span) -> String {
    let ends = |from: Option<crate::units::Quantity>, to: Option<crate::units::Quantity>| match (from, to) {
        (Some(from), Some(to)) => format!("{from} to {to}"),
        (Some(from), None) => format!("at least {from}"),
        (None, Some(to)) => format!("at most {to}"),
        (None, None) => String::new(),
    };
    let about = if span.exact { "" } else { "about " };
    let (own, other) = (ends(span.from, span.to), ends(span.other_from, span.other_to));
    if other.is_empty() { own } else { format!("{own} ({about}{other})") }
}

/// What electropolishing takes off, and what to add for it.
pub fn allowance(allowance: &Allowance) -> Vec<String> {
    let by = if allowance.by_limit {
        "by the limit ordered"
    } else {
        "common practice, no requirement; the purchaser's drawing decides"
    };
    let held = allowance.held_within.to.map(|q| q.to_string()).unwrap_or_default();
    let held_mm = allowance.held_within.other_to.map(|q| format!(" ({q})")).unwrap_or_default();
    vec![
        format!("taken off each surface: {} [{by}]", span(&allowance.per_surface)),
        format!("held to about {held}{held_mm} [common practice]; edges and corners lose more"),
        format!(
            "add before polishing: the same to each surface; to a diameter or a thickness polished on both sides {}",
            span(&allowance.per_diameter)
        ),
    ]
}

fn heading(text: &mut String, title: &str) {
    let _ = writeln!(text, "\n{title}");
}

/// A demand in one line.
fn demand(demand: &Demand) -> String {
    let notes = figure_notes(demand);
    let notes = if notes.is_empty() { String::new() } else { format!(" [{}]", notes.join("; ")) };
    let of = demand.test.map(|t| format!("{}, ", t.name())).unwrap_or_default();
    let unless = demand.unless_known.as_ref();
    let unless = unless.map(|what| format!("; applies or not: {what} is not known")).unwrap_or_default();
    let decided = match &demand.decided {
        Some(d) if d.verdict == Verdict::Met => {
            format!(" - {}, met", d.observed.as_deref().unwrap_or("stands"))
        }
        Some(d) if d.verdict == Verdict::NotMet => {
            format!(" - {}, NOT MET", d.observed.as_deref().unwrap_or("stands"))
        }
        Some(d) if d.verdict == Verdict::NoEvidence => " - open, see the questions".to_owned(),
        _ => String::new(),
    };
    format!("{of}{}: {}{notes}{decided}{unless}  ({})", demand.subject.name(), demand.limit, source(demand))
}

/// A plan in plain text.
pub fn text(plan: &Plan) -> String {
    let mut text = String::new();
    let _ = writeln!(
        text,
        "Plan of order {} line {}: {} pieces of part {} revision {} ({})",
        plan.order, plan.line, plan.quantity, plan.part, plan.revision, plan.description
    );
    let grade = match (&plan.grade, &plan.alloy) {
        (Some(named), Some(alloy)) => {
            let machining = if alloy.free_machining { ", free-machining" } else { "" };
            let chromium = alloy
                .least_chromium
                .map(|c| format!(", chromium counted as {c} until a heat analysis says more"));
            format!(
                "{named} ({}, {}{machining}{})",
                alloy.uns,
                alloy.series.name(),
                chromium.unwrap_or_default()
            )
        }
        (Some(named), None) => named.clone(),
        (None, _) => "not named: what depends on it is open (--grade)".to_owned(),
    };
    let _ = writeln!(text, "Grade: {grade}. For {}.", plan.on);
    heading(&mut text, "Cautions");
    for caution in &plan.cautions {
        let _ = writeln!(text, "  {}", caution.words());
    }
    for (to, holds, title) in [
        (To::Purchaser, true, "Ask the purchaser before work begins: each of these would hold the lot"),
        (To::Copy, true, "Read your controlled copy and adopt: each of these would hold the lot"),
        (To::Purchaser, false, "Worth asking; holds nothing"),
        (To::Copy, false, "Figures known in one unit only"),
    ] {
        let all: Vec<&Question> = plan.questions.iter().filter(|q| q.to == to && q.holds == holds).collect();
        if all.is_empty() {
            continue;
        }
        heading(&mut text, title);
        for one in all {
            let _ = writeln!(text, "  {}  ({})", question(one), question_source(one));
        }
    }
    for call in &plan.call_outs {
        call_out(&mut text, plan, call);
    }
    if let Some(found) = &plan.allowance {
        heading(&mut text, "Stock removal and size");
        allowance(found).iter().for_each(|line| {
            let _ = writeln!(text, "  {line}");
        });
    }
    heading(&mut text, "The shop's own records, by the house's rules");
    for need in &plan.needs {
        let _ = writeln!(text, "  {}: {}", need.subject, need.what.join("; "));
    }
    text.trim_end().to_owned()
}

fn count(pieces: u64) -> String {
    if pieces == 1 { "1 piece".to_owned() } else { format!("{pieces} pieces") }
}

const fn step(step: TreatmentStep) -> &'static str {
    match step {
        TreatmentStep::Passivate => "passivate",
        TreatmentStep::Electropolish => "electropolish",
    }
}

fn call_out(text: &mut String, plan: &Plan, call: &PlannedCall) {
    let from = match call.origin {
        crate::plan::Origin::Part => "part specification",
        crate::plan::Origin::Order => "order line",
    };
    heading(text, &format!("{} (called out in the {from})", call.name));
    if let Some(limit) = &call.limit {
        let ends =
            [limit.at_least.map(|q| format!("at least {q}")), limit.at_most.map(|q| format!("at most {q}"))];
        let ends: Vec<String> = ends.into_iter().flatten().collect();
        let _ = writeln!(text, "  every reading {}, on {} pieces", ends.join(" and "), limit.pieces);
        return;
    }
    if call.pack.is_none() {
        let _ = writeln!(text, "  nothing in the rulebook is judged for it");
        return;
    }
    let _ = match &call.adopted {
        Some(by) => writeln!(text, "  adopted {} by {}, {}", by.on, by.by, by.copy),
        None => writeln!(text, "  not adopted: its figures below are not in force"),
    };
    if !call.treatments.is_empty() {
        let how = if call.treatment_named { "ordered" } else { "the shop chooses, and writes which" };
        let _ = writeln!(text, "  Treatments ({how})");
        for treatment in &call.treatments {
            let _ = writeln!(
                text,
                "    {} [{}], {}: {}{}",
                treatment.name,
                step(treatment.step),
                treatment.clause,
                treatment_fit(treatment),
                if treatment.advised == Some(true) { "; advised for such an alloy" } else { "" }
            );
            if !treatment.advice.is_empty() {
                let _ = writeln!(text, "      advice, holds nothing: {}", why(&treatment.advice));
            }
        }
    }
    for (title, wanted) in [("Decided by the papers", false), ("Windows and steps", true)] {
        let said = |d: &&Demand| {
            // The count stands in words below; advice on the choice of treatment beside each of them.
            d.subject != Subject::VisualCount && !(d.advice && d.subject == Subject::TreatmentNamed)
        };
        let of = |d: &&Demand| d.test.is_none() && d.is_work() == wanted && said(d);
        let all: Vec<&Demand> = call.demands.iter().filter(of).collect();
        if all.is_empty() {
            continue;
        }
        let _ = writeln!(text, "  {title}");
        for one in all {
            let treatments = if one.treatments.is_empty() || call.treatments.len() < 2 {
                String::new()
            } else {
                format!("{}: ", one.treatments.join(", "))
            };
            let advice = if one.advice { "advice: " } else { "" };
            let _ = writeln!(text, "    {advice}{treatments}{}", demand(one));
        }
    }
    if let Some(sampling) = &call.sampling {
        let _ = writeln!(text, "  Sampling by {sampling}");
    }
    if let Some((pieces, accept)) = call.looked_at {
        let _ = writeln!(text, "  Look at {pieces} of {}; {accept} may fail", count(plan.quantity));
    }
    if !call.tests.is_empty() {
        let how = if call.shop_chooses_tests { "the shop chooses" } else { "as ordered" };
        let _ = writeln!(text, "  Tests ({how})");
    }
    for test in &call.tests {
        let ordered = match (test.ordered, test.chosen) {
            (true, _) => ", ordered",
            (false, true) => ", chosen",
            _ => "",
        };
        let sample = match test.sample {
            Some((pieces, accept)) => format!("; {}, {accept} may fail", count(pieces)),
            None => "; nobody says how many pieces".to_owned(),
        };
        let name = if test.name == test.test.name() { String::new() } else { format!(" ({})", test.name) };
        let _ = writeln!(text, "    {}{name}{ordered}: {}{sample}", test.test.name(), test_fit(test));
        for one in call.demands.iter().filter(|d| d.test == Some(test.test)) {
            let advice = if one.advice { "advice: " } else { "" };
            let _ = writeln!(text, "      {advice}{}", demand(one));
        }
    }
}
