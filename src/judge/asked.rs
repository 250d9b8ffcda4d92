//! What the purchaser wants to read on the certificate: statements word for word, and particulars by name.
//!
//! A statement is printed only when what it rests on was found. The one thing no finding can carry, the word of
//! whoever signs, is printed as that.

use crate::finding::Document;
use crate::finding::Finding;
use crate::finding::Place;
use crate::finding::Reason;
use crate::finding::Verdict;
use crate::judge::Dossier;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::judge::Judge;
use crate::judge::line_of;
use crate::judge::nothing_judged;
use crate::judge::permitted;
use crate::judge::standard_name;
use crate::pack::Remedy;
use crate::pack::Subject;
use crate::part::AskedField;
use crate::part::CALL_OUT;
use crate::part::FieldSource;
use crate::part::SIGNATORY;
use crate::part::Statement;
use crate::path::Path;
use crate::record::Knowledge;
use crate::record::Record;
use crate::rulebook::EffectivePack;

/// What a statement rests on, when it may be printed.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Ground {
    /// Whether the signatory answers for it.
    pub signatory: bool,
    /// Deviations under which something it rests on was accepted.
    pub under: Vec<String>,
}

/// Why a statement may not be printed.
struct Lacking {
    what: String,
    /// The way to mend the gap it rests on, where there is one.
    remedy: Option<Remedy>,
}

/// Statements and fields asked, each with where it stands: those of the part, then those of the order line.
fn asked<'a, T>(
    dossier: &'a Dossier,
    key: &str,
    of_part: &'a [T],
    of_line: impl Fn(&'a crate::order::Line) -> &'a [T],
) -> Vec<(&'a T, Place)> {
    let at = |document, path: Path, i| Place { document, path: path.key(key).index(i) };
    let part = of_part.iter().enumerate().map(|(i, one)| (one, at(Document::Part, Path::root(), i)));
    let line = line_of(dossier).into_iter().flat_map(|(j, line)| {
        let base = Path::root().key("lines").index(j);
        of_line(line).iter().enumerate().map(move |(i, one)| (one, at(Document::Order, base.clone(), i)))
    });
    part.chain(line).collect()
}

/// The statements asked.
pub fn statements(dossier: &Dossier) -> Vec<(&Statement, Place)> {
    asked(dossier, "statements", &dossier.part.statements, |line| &line.statements)
}

/// The particulars asked by name.
pub fn fields(dossier: &Dossier) -> Vec<(&AskedField, Place)> {
    asked(dossier, "fields", &dossier.part.fields, |line| &line.fields)
}

/// What a particular says, and where it stands in the record; nothing when the record does not say it.
pub fn answer(record: &Record, field: &AskedField) -> (Option<String>, Path) {
    let root = Path::root();
    match field.from {
        None => (record.fields.get(&field.name).cloned(), root.key("fields")),
        Some(FieldSource::Lot) => (Some(record.lot.clone()), root.key("lot")),
        Some(FieldSource::PurchaserLot) => (record.purchaser_lot.clone(), root.key("purchaser_lot")),
        Some(FieldSource::Grade) => (Some(record.material.grade.clone()), root.key("material").key("grade")),
        Some(FieldSource::Heats) => {
            let heats = &record.material.heats;
            let known = !heats.is_empty() && heats.iter().all(|h| h.known != Knowledge::NotSupplied);
            let names: Vec<&str> = heats.iter().map(|h| h.heat.as_str()).collect();
            (known.then(|| names.join(", ")), root.key("material").key("heats"))
        }
        Some(FieldSource::Processed) => {
            let days = record.processed().map(|(first, last)| {
                if first == last { first.to_string() } else { format!("{first} to {last}") }
            });
            (days, root.key("runs"))
        }
    }
}

/// What a statement rests on, by the findings; `None` when it may not be printed.
pub fn ground(dossier: &Dossier, findings: &[Finding], statement: &Statement) -> Option<Ground> {
    grounds(dossier, findings, statement).ok()
}

fn grounds(dossier: &Dossier, findings: &[Finding], statement: &Statement) -> Result<Ground, Lacking> {
    let mut ground = Ground::default();
    if statement.needs.is_empty() {
        return Err(Lacking { what: "it names no evidence".to_owned(), remedy: None });
    }
    for need in &statement.needs {
        if need == SIGNATORY {
            ground.signatory = true;
            continue;
        }
        let found = meant(dossier, findings, need);
        let bad = found.iter().find(|f| f.is_gap());
        let good = |f: &&&Finding| matches!(f.verdict, Verdict::Met | Verdict::Accepted);
        // Of one requirement every finding must be met; of a call-out, whatever applies.
        if let Some(relied) = found.iter().find(|f| f.verdict == Verdict::ReliedOn) {
            let on = relied.observed.clone().unwrap_or_default();
            return Err(Lacking { what: format!("{need} rests on {on} and was not judged"), remedy: None });
        }
        let whole = need.starts_with(CALL_OUT) || found.iter().all(|f| good(&f));
        if let Some(gap) = bad {
            let what = format!("{need} is not met");
            return Err(Lacking { what, remedy: gap.remedy });
        }
        if !whole || found.iter().filter(good).count() == 0 {
            return Err(Lacking { what: format!("{need} was not found met"), remedy: None });
        }
        for permission in found.iter().filter_map(|f| f.permission()) {
            if !ground.under.contains(&permission.deviation) {
                ground.under.push(permission.deviation.clone());
            }
        }
    }
    Ok(ground)
}

/// The findings a need names. A statement never rests on another.
fn meant<'a>(dossier: &Dossier, findings: &'a [Finding], need: &str) -> Vec<&'a Finding> {
    let standard = need.strip_prefix(CALL_OUT).map(|named| {
        let pack = dossier.packs.iter().filter(|p| !p.pack.is_house());
        let mut pack = pack.filter(|p| p.pack.edition_named(named).is_some_and(|e| e == p.edition));
        pack.next().map(standard_name)
    });
    let own = subject_id(dossier, Subject::StatementFounded);
    let judged = findings.iter().filter(|f| Some(&f.requirement) != own.as_ref());
    match standard {
        Some(name) => judged.filter(|f| Some(&f.standard) == name.as_ref()).collect(),
        None => judged.filter(|f| f.requirement == need).collect(),
    }
}

/// The id of the house's requirement on a subject.
fn subject_id(dossier: &Dossier, subject: Subject) -> Option<String> {
    let house = dossier.packs.iter().find(|p| p.pack.is_house())?;
    let requirement = house.pack.requirements.iter().find(|r| r.subject == subject)?;
    Some(format!("{}/{}", house.pack.pack, requirement.id))
}

/// Judges what is to be printed, once everything else is found: particulars, statements, unused permissions.
pub fn judge(judge: &Judge, house: &EffectivePack, findings: &mut Vec<Finding>) {
    let dossier = judge.dossier;
    for (field, place) in fields(dossier) {
        let (value, path) = answer(&dossier.record, field);
        let found = value.map_or(Found::Missing(Reason::NotRecorded), |value| Found::Words(vec![value]));
        let subject = format!("field {}", field.name);
        one(judge, house, Subject::FieldAnswered, &subject, Evidence::record(path, found), place, findings);
    }
    let before = findings.clone();
    for (statement, place) in statements(dossier) {
        let grounds = grounds(dossier, &before, statement);
        let carried: Vec<&str> =
            statement.needs.iter().map(String::as_str).filter(|need| *need != SIGNATORY).collect();
        let found = match &grounds {
            // The signatory's own word: nothing is judged, so nothing is met.
            Ok(_) if carried.is_empty() => Found::NotApplicable,
            Ok(_) => Found::Fact { shown: format!("found: {}", carried.join(", ")), holds: true },
            Err(lacking) => Found::Missing(Reason::Unfounded(lacking.what.clone())),
        };
        let subject = format!("statement \"{}\"", shortened(&statement.text));
        let evidence = Evidence::at(place.document, place.path.clone(), found);
        one(judge, house, Subject::StatementFounded, &subject, evidence, place, findings);
        // What is to be done is to close the gap it rests on, if that is what holds it.
        if let (Err(Lacking { remedy: Some(remedy), .. }), Some(last)) = (grounds, findings.last_mut()) {
            last.remedy = Some(remedy);
        }
    }
    for (subject, evidence) in permitted::unused(dossier, findings) {
        for (position, requirement) in house.pack.requirements.iter().enumerate() {
            if requirement.subject == Subject::DeviationUsed {
                judge.finding(house, position, requirement, "lot", &subject, &evidence, findings);
            }
        }
    }
}

/// Judges one thing asked. A book of rules that has nothing to say about it lets nothing pass.
fn one(
    judge: &Judge,
    house: &EffectivePack,
    wanted: Subject,
    subject: &str,
    evidence: Evidence,
    place: Place,
    findings: &mut Vec<Finding>,
) {
    let requirement = house.pack.requirements.iter().enumerate().find(|(_, r)| r.subject == wanted);
    match requirement {
        Some((position, requirement)) => {
            judge.finding(house, position, requirement, "lot", subject, &[evidence], findings);
        }
        None => findings.push(nothing_judged(judge.dossier, subject, place)),
    }
}

/// The beginning of a text, for a line of a list.
fn shortened(text: &str) -> String {
    const MOST: usize = 48;
    if text.chars().count() <= MOST {
        return text.to_owned();
    }
    let mut short: String = text.chars().take(MOST).collect();
    short.push('…');
    short
}
