//! Findings in words a shop can act on: the to-do list, grouped by what to do about it.

use std::fmt::Write;

use crate::app::verify::Answer;
use crate::app::verify::Overall;
use crate::app::verify::Verification;
use crate::deviation::Act;
use crate::finding::Finding;
use crate::finding::Permission;
use crate::finding::Place;
use crate::finding::Reason;
use crate::finding::Verdict;
use crate::judge::conforms;
use crate::pack::Remedy;
use crate::register::AuditReport;
use crate::register::Found;
use crate::register::Status;

pub mod alloy;
pub mod back;
pub mod calculate;
pub mod call_outs;
pub mod editions;
pub mod figures;
pub mod json;
pub mod lints;
mod packs;
pub mod plan;
pub mod release;
pub mod sheet;
mod shown;
pub mod traveler;

pub use packs::PackRow;
pub use packs::PackTable;
pub use packs::basis;
pub use packs::condition;
pub use packs::limit;
pub use packs::requirement;
pub use packs::standing;
pub use shown::Shown;

/// The order of the to-do list, and its headings.
const GROUPS: &[(Remedy, &str)] = &[
    (Remedy::ReTreat, "Re-treat, or ask the purchaser for a deviation"),
    (Remedy::Test, "Test it, and record it"),
    (Remedy::Record, "Record it, if it was done"),
    (Remedy::Ask, "Ask the purchaser"),
    (Remedy::Adopt, "Read your controlled copy, and adopt the rule"),
];

/// Words for a finding that is not plainly met: what was found, what was asked.
pub fn words(finding: &Finding) -> String {
    let limit = &finding.limit;
    let observed = finding.observed.as_deref();
    let compared =
        if finding.converted { " (compared across units: this unit is not printed there)" } else { "" };
    match &finding.reason {
        None if finding.verdict == Verdict::ReliedOn => observed.unwrap_or("another's paper").to_owned(),
        None => match observed {
            Some(observed) => format!("{observed}; limit {limit}{compared}"),
            None => format!("limit {limit}"),
        },
        Some(Reason::Outside) => format!("{}; asked: {limit}{compared}", observed.unwrap_or("nothing")),
        Some(Reason::NotRecorded) => format!("nothing is recorded; asked: {limit}"),
        Some(Reason::NotInBook(what)) => format!("the shop's book has no {what}"),
        Some(Reason::NoAnalysis) => {
            format!("the bath has no analysis drawn before it was used; asked: {limit}")
        }
        Some(Reason::NotAnalysed) => format!("the analysis in force does not say it; asked: {limit}"),
        Some(Reason::NoCalibration) => "no calibration made before it was used".to_owned(),
        Some(Reason::CalibrationFailed) => "the calibration found it out of limits".to_owned(),
        Some(Reason::TestNotMade(what)) if what.is_empty() => "ordered, no result".to_owned(),
        Some(Reason::TestNotMade(what)) => format!("ordered, no result for {what}"),
        Some(Reason::TestTooEarly) => {
            "made before the last treatment of these pieces; it does not count".to_owned()
        }
        Some(Reason::NoTestOrdered) => {
            "this treatment is proven by passing a test, and the order names none".to_owned()
        }
        Some(Reason::FigureUnsure) => match observed {
            Some(observed) => format!("{observed}, but the limit ({limit}) is in nobody's copy yet"),
            None => format!("the limit ({limit}) is in nobody's copy yet"),
        },
        Some(Reason::NotAdopted) => "the shop has not adopted this requirement".to_owned(),
        Some(Reason::RuleChanged) => "the requirement changed since the shop adopted it".to_owned(),
        Some(Reason::Unknown(what)) => format!("{what} is not known, so it cannot be told; asked: {limit}"),
        Some(Reason::Contradiction(what)) => format!("the entries contradict: {what}"),
        Some(Reason::NotValidHere) => "the test is not valid here".to_owned(),
        Some(Reason::NothingJudged) => format!("`{limit}`: nothing in the rulebook was judged for it"),
        Some(Reason::NotInRulebook(what)) => format!("`{what}` is not in the rulebook"),
        Some(Reason::Changed) if finding.subject.ends_with(": corrections") => {
            format!("{limit}; a correction stands for ever: put it back, and add a further one")
        }
        Some(Reason::Changed) => format!(
            "{limit}; now {}. Write the correction: at, was, now, by, when, why",
            observed.unwrap_or("nothing")
        ),
        Some(Reason::WrongUnit) => {
            format!("{} is in a unit that cannot be held against {limit}", observed.unwrap_or("the reading"))
        }
        Some(Reason::Permitted(permission)) => permitted(permission, observed, limit),
        Some(Reason::NotUsed(why)) => format!("not used: {why}"),
        Some(Reason::Unreadable(why)) => format!("nothing can be computed of it: {why}"),
        Some(Reason::Unfounded(what)) => format!("the certificate cannot say this: {what}"),
    }
}

/// Words for what the purchaser permits.
fn permitted(permission: &Permission, observed: Option<&str>, limit: &str) -> String {
    let found = observed.map(|o| format!("{o}; ")).unwrap_or_default();
    let under = format!("deviation {}", permission.deviation);
    match (permission.act, &permission.instead) {
        (Act::Omit, _) if observed.is_none() => format!("left out by {under}; asked: {limit}"),
        (Act::Omit, _) => format!("{found}asked: {limit}; not required by {under}"),
        (Act::Substitute, Some(other)) => format!("not made; {other} in its place by {under}"),
        (_, instead) => {
            let across = if permission.converted { " (compared across units)" } else { "" };
            format!("{found}asked: {limit}; {under} allows {}{across}", instead.as_deref().unwrap_or("it"))
        }
    }
}

fn line(text: &mut String, left: &str, right: &str) {
    let width = left.chars().count();
    let gap = " ".repeat(78_usize.saturating_sub(width).max(2));
    // Writing to a String cannot fail.
    let _ = writeln!(text, "{left}{gap}{right}");
}

fn source(finding: &Finding) -> String {
    if finding.clause == "house" || finding.clause == "call-out" {
        finding.standard.clone()
    } else {
        format!("{}, {}", finding.standard, finding.clause)
    }
}

/// The report of one lot. `locate` turns a place into `file:line:column`.
pub fn lot(lot: &str, findings: &[Finding], locate: impl Fn(&Place) -> String) -> String {
    let gaps: Vec<&Finding> = findings.iter().filter(|f| f.is_gap()).collect();
    let advice: Vec<&Finding> = findings.iter().filter(|f| f.verdict == Verdict::Advice).collect();
    let mut text = String::new();
    let _ = if conforms(findings) {
        let met = findings.iter().filter(|f| matches!(f.verdict, Verdict::Met | Verdict::Accepted)).count();
        writeln!(text, "{lot}: conforms, {met} requirements met")
    } else {
        let plural = if gaps.len() == 1 { "gap" } else { "gaps" };
        writeln!(text, "{lot}: does not conform, {} {plural}", gaps.len())
    };
    for (remedy, heading) in GROUPS {
        let group: Vec<&&Finding> = gaps.iter().filter(|f| f.remedy == Some(*remedy)).collect();
        if group.is_empty() {
            continue;
        }
        let _ = writeln!(text, "\n{heading}");
        let mut last = String::new();
        for finding in group {
            let place = locate(&finding.place);
            if !last.is_empty() && last != place {
                let _ = writeln!(text, "    {last}");
            }
            let part = if finding.place_in_lot == "lot" {
                String::new()
            } else {
                format!(", {}", finding.place_in_lot)
            };
            line(&mut text, &format!("  {}{part}: {}", finding.subject, words(finding)), &source(finding));
            last = place;
        }
        let _ = writeln!(text, "    {last}");
    }
    let accepted: Vec<&Finding> = findings.iter().filter(|f| f.verdict == Verdict::Accepted).collect();
    if !accepted.is_empty() {
        let _ = writeln!(text, "\nAccepted under a deviation of the purchaser");
        for finding in accepted {
            line(
                &mut text,
                &format!("  {}, {}: {}", finding.subject, finding.place_in_lot, words(finding)),
                &source(finding),
            );
        }
    }
    let relied: Vec<&Finding> = findings.iter().filter(|f| f.verdict == Verdict::ReliedOn).collect();
    if !relied.is_empty() {
        let _ = writeln!(text, "\nRelied on, as the order allows; not judged");
        for finding in relied {
            let said = format!("  {}, {}: {}", finding.subject, finding.place_in_lot, words(finding));
            line(&mut text, &said, &source(finding));
        }
    }
    if !advice.is_empty() {
        let _ = writeln!(text, "\nWorth knowing (advice, holds nothing)");
        for finding in advice {
            line(
                &mut text,
                &format!("  {}, {}: {}", finding.subject, finding.place_in_lot, words(finding)),
                &source(finding),
            );
        }
    }
    text
}

/// What was found about one certificate, a check a line.
pub fn verification(found: &Verification) -> String {
    let mut text = String::new();
    let verdict = match found.overall() {
        Overall::Verifies => "verifies",
        Overall::DoesNotVerify => "DOES NOT VERIFY",
        Overall::CouldNotTell => "could not be told",
    };
    let number = found.number.as_deref().map(|n| format!(" ({n})")).unwrap_or_default();
    let _ = writeln!(text, "{}{number}: {verdict}", found.what);
    for line in &found.lines {
        let (word, why) = match &line.answer {
            Answer::Pass => ("pass", String::new()),
            Answer::Fail(why) => ("FAIL", format!("\n{:27}{why}", "")),
            Answer::NotChecked(why) => ("not checked", format!("\n{:27}{why}", "")),
        };
        let _ = writeln!(text, "  {:<11}  {:<11}  {}{why}", line.check, word, line.means);
    }
    text
}

/// One certificate found, on two lines.
pub fn found(found: &Found) -> String {
    use crate::register::Facet;
    let all = |facet: Facet| -> String {
        let values: Vec<&str> =
            found.facets.iter().filter(|(f, _)| *f == facet).map(|(_, v)| v.as_str()).collect();
        values.join(", ")
    };
    let status = match &found.status {
        Status::Current => String::new(),
        Status::Withdrawn { .. } if found.legacy => format!("  [{}; {}]", Status::Legacy, found.status),
        other => format!("  [{other}]"),
    };
    let issued = if found.legacy { format!("{}, as it says", all(Facet::Date)) } else { found.at.clone() };
    format!(
        "{}  issued {issued}  for {}{status}\n    order {}  part {}  lot {}  heat {}",
        found.number,
        all(Facet::Purchaser),
        all(Facet::PurchaseOrder),
        all(Facet::Part),
        all(Facet::Lot),
        all(Facet::Heat)
    )
}

/// What an audit of the register found.
pub fn audit(report: &AuditReport) -> String {
    let root: String = report.root.iter().map(|byte| format!("{byte:02x}")).collect();
    let mut text = format!(
        "{} entries, {} certificates and {} signed heads read and hashed again; root {root}",
        report.size, report.certificates, report.checkpoints
    );
    if report.is_sound() {
        text.push_str("\nsound: everything is as it was entered");
    }
    for problem in &report.problems {
        let _ = write!(text, "\nBAD {problem}");
    }
    text
}
