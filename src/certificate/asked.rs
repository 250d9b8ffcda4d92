//! What is printed because the purchaser permits it or asks for it: deviations that were used, statements word for
//! word, particulars by name.

use crate::certificate::CertifiedLot;
use crate::certificate::Fact;
use crate::certificate::PrintedStatement;
use crate::deviation::Act;
use crate::deviation::Deviation;
use crate::finding::Finding;
use crate::finding::Permission;
use crate::judge;
use crate::judge::Dossier;

/// What figures in parentheses are.
pub const CONVERSIONS: &str = "Figures in parentheses are the reading before them in the other unit system, \
                               converted and rounded for the reader; only the reading as recorded was judged.";

/// The deviations used, and what each permitted.
pub fn deviations(dossier: &Dossier, findings: &[Finding]) -> Vec<String> {
    let used = |d: &&Deviation| under(findings, d).next().is_some();
    dossier.deviations.iter().filter(used).map(|d| one(d, findings)).collect()
}

fn under<'a>(
    findings: &'a [Finding],
    deviation: &'a Deviation,
) -> impl Iterator<Item = (&'a Finding, &'a Permission)> {
    findings
        .iter()
        .filter_map(|f| f.permission().map(|p| (f, p)))
        .filter(|(_, p)| p.deviation == deviation.deviation)
}

fn one(deviation: &Deviation, findings: &[Finding]) -> String {
    let reach = &deviation.reach;
    let mut text = format!("{}, given by {} on {}", deviation.deviation, deviation.given_by, deviation.on);
    let parts: Vec<String> = reach
        .parts
        .iter()
        .map(|p| p.revision.as_ref().map_or_else(|| p.part.clone(), |r| format!("{} {r}", p.part)))
        .collect();
    let mut bounds: Vec<String> = [("part", &parts), ("order", &reach.orders), ("lot", &reach.lots)]
        .iter()
        .filter(|(_, named)| !named.is_empty())
        .map(|(what, named)| format!("{what} {}", named.join(", ")))
        .collect();
    bounds.extend(reach.pieces.map(|n| format!("at most {n} pieces in all")));
    bounds.extend(reach.until.map(|day| format!("processing until {day}")));
    text.push_str(&format!(", for {}", bounds.join("; ")));
    let permitted: Vec<String> =
        under(findings, deviation).map(|(f, p)| permitted(f, p, &deviation.given_by)).collect();
    let letter: Vec<String> = deviation
        .letter
        .sha256
        .as_bytes()
        .chunks(8)
        .map(|c| String::from_utf8_lossy(c).into_owned())
        .collect();
    text.push_str(&format!(
        ": {}. Reason given: {} The letter's SHA-256: {}.",
        permitted.join("; "),
        closed(&deviation.why),
        letter.join(" ")
    ));
    text
}

/// A sentence that ends.
fn closed(text: &str) -> String {
    let text = text.trim();
    if text.ends_with(['.', '!', '?']) { text.to_owned() } else { format!("{text}.") }
}

fn permitted(finding: &Finding, permission: &Permission, given_by: &str) -> String {
    let place = match finding.place_in_lot.as_str() {
        "lot" => String::new(),
        place => format!(", {place}"),
    };
    let what = format!("{}{place} ({}, {})", finding.subject, finding.standard, finding.clause);
    match (permission.act, &permission.instead, &finding.observed) {
        (Act::Substitute, Some(other), _) => {
            format!("{what}: not performed, {other} made in its place, by permission of {given_by}")
        }
        (Act::Omit, _, None) => format!("{what}: not performed, by permission of {given_by}"),
        (Act::Omit, _, Some(found)) => {
            format!(
                "{what}: found {found}, asked {}, not required, by permission of {given_by}",
                finding.limit
            )
        }
        (_, instead, found) => format!(
            "{what}: found {}, asked {}, permitted {}",
            found.as_deref().unwrap_or("as recorded"),
            finding.limit,
            instead.as_deref().unwrap_or("as recorded")
        ),
    }
}

/// The statements that may be printed, each with whose word it is.
pub fn statements(dossier: &Dossier, findings: &[Finding]) -> Vec<PrintedStatement> {
    let asked = judge::statements(dossier).into_iter();
    asked
        .filter_map(|(statement, _)| {
            let ground = judge::ground(dossier, findings, statement)?;
            let needs: Vec<&str> = statement.needs.iter().map(String::as_str).collect();
            let needs: Vec<&str> = needs.into_iter().filter(|need| *need != crate::part::SIGNATORY).collect();
            let met = match ground.under.as_slice() {
                [] => "found met".to_owned(),
                under => format!("found met or accepted under deviation {}", under.join(", ")),
            };
            let mut marks = vec![match (needs.is_empty(), ground.signatory) {
                (false, false) => format!("rests on {}: {met}", needs.join(", ")),
                (false, true) => {
                    format!("rests on {}: {met}; the rest is the signatory's own word", needs.join(", "))
                }
                _ => "the signatory's own word; nothing of it was judged".to_owned(),
            }];
            marks.extend(statement.language.iter().map(|tag| format!("language: {tag}")));
            Some(PrintedStatement { text: statement.text.clone(), mark: marks.join("; ") })
        })
        .collect()
}

/// The particulars asked by name that the record answers.
pub fn fields(dossier: &Dossier) -> Vec<Fact> {
    let asked = judge::fields(dossier).into_iter();
    asked
        .filter_map(|(field, _)| {
            let value = judge::answer(&dossier.record, field).0.filter(|v| !v.trim().is_empty())?;
            Some(Fact { what: field.name.clone(), value })
        })
        .collect()
}

/// What the statement of conformity adds when a purchaser's permission was used for any lot.
pub fn under_deviations(lots: &[CertifiedLot]) -> Option<String> {
    let mut numbers: Vec<&str> = Vec::new();
    for permission in lots.iter().flat_map(|l| &l.findings).filter_map(Finding::permission) {
        if !numbers.contains(&permission.deviation.as_str()) {
            numbers.push(&permission.deviation);
        }
    }
    (!numbers.is_empty()).then(|| {
        let (word, end) = if numbers.len() == 1 { ("the deviation", "is") } else { ("the deviations", "are") };
        format!(
            "Where a requirement was not met or not performed, that was permitted by the purchaser under {word} \
             {}, which {end} listed below.",
            numbers.join(", ")
        )
    })
}
