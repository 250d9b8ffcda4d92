//! A plan as a sheet that goes with the parts: what to mind at its head, the steps in order with each window beside
//! an empty box, the tests, the counts. It is filled in by hand and is no certificate.

use crate::finding::Verdict;
use crate::part::Review;
use crate::pdf::FormColumn;
use crate::pdf::FormRow;
use crate::pdf::Part;
use crate::pdf::Report;
use crate::plan::Entry;
use crate::plan::FIELD_ORDER;
use crate::plan::Fields;
use crate::plan::Plan;
use crate::plan::Spot;
use crate::plan::To;
use crate::plan::entries;
use crate::report::plan as words;
use crate::shop::Shop;

/// What a traveler says beside the plan.
pub struct Head<'a> {
    /// The shop.
    pub shop: &'a Shop,
    /// The purchaser's name.
    pub purchaser: &'a str,
    /// The lot, where it has its number.
    pub lot: Option<&'a str>,
    /// Control markings of part and order.
    pub controlled: Vec<&'a str>,
    /// Who compared the papers; nobody, where one of them was not.
    pub reviewed: Option<&'a Review>,
}

fn column(head: &str, share: u16, by_hand: bool) -> FormColumn {
    (head.to_owned(), share, by_hand)
}

/// The words at the tank for a field of the record.
fn label(key: &str) -> String {
    match key {
        "in" => "time in".to_owned(),
        "out" => "time out".to_owned(),
        "at" => "day and time".to_owned(),
        "as" => "treatment run".to_owned(),
        "started" => "begun, day and time".to_owned(),
        "ended" => "ended, day and time".to_owned(),
        "pieces" => "pieces".to_owned(),
        "failed" => "of them failed".to_owned(),
        "instrument" => "instrument".to_owned(),
        "observed" => "what was seen".to_owned(),
        "defects" => "defects in a photograph".to_owned(),
        other => other.replace('_', " "),
    }
}

/// Rows of a block, in the order they are written down; who did it signs every row.
fn rows(fields: &Fields) -> Vec<FormRow> {
    let keys = FIELD_ORDER.iter().filter(|key| fields.contains_key(*key) && **key != "by");
    keys.map(|key| {
        let limits = fields.get(key).map(|all| all.join("; ")).unwrap_or_default();
        FormRow::Fill(vec![label(key), limits])
    })
    .collect()
}

fn title(index: usize, entry: &Entry) -> String {
    let what = match entry.spot {
        Spot::FinalRinse => "final rinse".to_owned(),
        Spot::PostRinse => "final rinse after the chromate bath".to_owned(),
        Spot::PostDip => "dip after electropolishing".to_owned(),
        Spot::PostTreat => "chromate bath".to_owned(),
        _ => entry.key.to_owned(),
    };
    let of = if entry.treatments.is_empty() {
        String::new()
    } else {
        format!(": {}", entry.treatments.join(" or "))
    };
    format!("{}. {what}{of}", index.saturating_add(1))
}

fn form(rows: Vec<FormRow>) -> Part {
    let columns = vec![
        column("What", 20, false),
        column("Limit, and where it stands", 48, false),
        column("Reading", 24, true),
        column("Initials", 10, true),
    ];
    Part::Form(columns, rows)
}

fn counts() -> Part {
    let columns = vec![column("Pieces", 60, false), column("Count", 20, true), column("Initials", 12, true)];
    let lines = [
        "received",
        "accepted",
        "rejected",
        "used up by tests",
        "held",
        "split off into another lot",
        "sent back as they came",
        "missing",
    ];
    Part::Form(columns, lines.iter().map(|line| FormRow::Fill(vec![(*line).to_owned()])).collect())
}

fn open_questions(plan: &Plan, parts: &mut Vec<Part>) {
    for (to, title) in [
        (To::Purchaser, "Do not begin: the purchaser must answer first"),
        (To::Copy, "Do not begin: read the controlled copy and adopt first"),
    ] {
        let all: Vec<String> = plan
            .questions
            .iter()
            .filter(|q| q.holds && q.to == to)
            .map(|q| format!("{} ({})", words::question(q), words::question_source(q)))
            .collect();
        if !all.is_empty() {
            parts.push(Part::Frame(std::iter::once(title.to_owned()).chain(all).collect()));
        }
    }
}

/// What the papers already decide, and the choice of treatment, in small print.
fn decided(plan: &Plan) -> Vec<String> {
    let mut all = Vec::new();
    for call in &plan.call_outs {
        let met = |d: &&crate::plan::Demand| d.decided.as_ref().is_some_and(|d| d.verdict == Verdict::Met);
        let subjects: Vec<String> =
            call.demands.iter().filter(met).map(|d| format!("{}: {}", d.subject.name(), d.limit)).collect();
        let how = match (&call.limit, &call.pack) {
            (Some(_), _) => "limit of the purchaser's own".to_owned(),
            (None, Some(_)) if subjects.is_empty() => "standard".to_owned(),
            (None, Some(_)) => format!("met by the papers: {}", subjects.join("; ")),
            (None, None) => "not in the rulebook".to_owned(),
        };
        all.push(format!("{} ({how})", call.name));
    }
    all
}

/// The traveler of a plan.
pub fn traveler(plan: &Plan, head: &Head) -> Report {
    let entries = entries(plan);
    let mut parts = Vec::new();
    let mut cautions = vec!["Cautions: read before work begins".to_owned()];
    cautions.extend(plan.cautions.iter().map(|c| c.words().to_owned()));
    parts.push(Part::Frame(cautions));
    open_questions(plan, &mut parts);
    parts.push(Part::Heading("Called out".to_owned()));
    decided(plan).into_iter().for_each(|line| parts.push(Part::Text(line)));
    let choice: Vec<String> = plan
        .call_outs
        .iter()
        .filter(|c| !c.treatment_named && c.treatments.len() > 1)
        .flat_map(|c| &c.treatments)
        .map(|t| {
            let advised = if t.advised == Some(true) { ", advised" } else { "" };
            format!("{} ({}{advised})", t.name, words::treatment_fit(t))
        })
        .collect();
    if !choice.is_empty() {
        parts.push(Part::Text(format!(
            "The shop chooses the treatment and writes which: {}",
            choice.join("; ")
        )));
    }
    if let Some(found) = &plan.allowance {
        parts.push(Part::Heading("Stock removal and size".to_owned()));
        words::allowance(found).into_iter().for_each(|line| parts.push(Part::Text(line)));
    }
    parts.push(Part::Heading("Steps, in order (one sheet for each run)".to_owned()));
    let mut steps = vec![FormRow::Across("Run, load, pieces, grade and heat".to_owned())];
    let planned = plan.grade.as_ref().map(|g| format!("planned as {g}")).unwrap_or_default();
    let run = [
        ("run and load", String::new()),
        ("pieces in this run", format!("of {}", plan.quantity)),
        ("grade, and heat", planned),
    ];
    steps.extend(run.map(|(what, limit)| FormRow::Fill(vec![what.to_owned(), limit])));
    for (index, entry) in entries.steps.iter().enumerate() {
        steps.push(FormRow::Across(title(index, entry)));
        steps.extend(rows(&entry.fields));
    }
    parts.push(form(steps));
    if !entries.tests.is_empty() || !entries.choice.is_empty() {
        parts.push(Part::Heading("Tests, after the last treatment".to_owned()));
    }
    if !entries.choice.is_empty() {
        let names: Vec<&str> = entries.choice.iter().map(|t| t.name()).collect();
        parts.push(Part::Text(format!(
            "The order names no test; the shop makes one of: {}",
            names.join(", ")
        )));
    }
    if !entries.tests.is_empty() {
        let mut tests = Vec::new();
        for (kind, fields) in &entries.tests {
            tests.push(FormRow::Across(kind.name().to_owned()));
            tests.extend(rows(fields));
        }
        parts.push(form(tests));
    }
    let mut looks = Vec::new();
    if let Some(fields) = &entries.visual {
        looks.push(FormRow::Across("look at the surface".to_owned()));
        looks.extend(rows(fields));
    }
    for (what, fields) in &entries.measurements {
        looks.push(FormRow::Across(what.name().to_owned()));
        looks.extend(rows(fields));
    }
    if !looks.is_empty() {
        parts.push(Part::Heading("Looks and gauge readings, after the last treatment".to_owned()));
        parts.push(form(looks));
    }
    parts.push(Part::Heading("Counts: received is the sum of all the others".to_owned()));
    parts.push(counts());
    parts.push(Part::Heading("To have in order, by the house's rules".to_owned()));
    for need in &plan.needs {
        parts.push(Part::Small(format!("{}: {}", need.subject, need.what.join("; "))));
    }
    report(plan, head, parts)
}

fn report(plan: &Plan, head: &Head, parts: Vec<Part>) -> Report {
    let lot = head.lot.map_or_else(|| "lot ____________".to_owned(), |lot| format!("lot {lot}"));
    let mut under = vec![
        head.shop.name.clone(),
        format!(
            "Order {} line {} of {}; part {} revision {}, {}; {} pieces; {lot}",
            plan.order, plan.line, head.purchaser, plan.part, plan.revision, plan.description, plan.quantity
        ),
    ];
    under.push(match head.reviewed {
        Some(review) => format!(
            "Papers compared with the purchaser's by {} on {}; planned for {}",
            review.by, review.on, plan.on
        ),
        None => format!("Papers not yet compared with the purchaser's; planned for {}", plan.on),
    });
    under.extend(head.controlled.iter().map(|marking| (*marking).to_owned()));
    under.extend(head.shop.demo.clone());
    let mut foot: Vec<String> = vec![format!(
        "Traveler of order {} line {}, part {} {}; no certificate",
        plan.order, plan.line, plan.part, plan.revision
    )];
    foot.extend(head.controlled.iter().map(|marking| (*marking).to_owned()));
    foot.extend(head.shop.demo.clone());
    Report { title: "Traveler".to_owned(), under, foot: foot.join(" · "), parts }
}
