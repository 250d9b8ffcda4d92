//! What the packs say of a grade by itself, before there is any lot: which tests are not valid on it, which treatments
//! they demand of it or advise, and what hangs on the heat. The same conditions and checks as in judging, held against
//! the alloy table's row.

use std::cmp::Ordering;

use crate::alloy::Alloy;
use crate::judge::shown::limit_words;
use crate::pack::Basis;
use crate::pack::Check;
use crate::pack::Requirement;
use crate::pack::Subject;
use crate::part::OrderOption;
use crate::record::TestKind;
use crate::rulebook::EffectivePack;
use crate::rulebook::Standing;
use crate::units::Quantity;

/// One requirement of a pack that has something to say of the grade.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Consequence {
    /// Id within the pack.
    pub requirement: String,
    /// Clause.
    pub clause: String,
    /// How the demand is known.
    pub basis: Basis,
    /// Whether it is advice.
    pub advice: bool,
    /// What it speaks of.
    pub about: About,
    /// Whether the grade meets it.
    pub answer: GradeAnswer,
    /// What it asks, in words.
    pub asks: String,
    /// The pack's word more.
    pub note: Option<String>,
}

/// What a requirement says something of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum About {
    /// The standard as a whole.
    Standard,
    /// Tests.
    Tests(Vec<TestKind>),
    /// Treatments, by id.
    Treatments(Vec<String>),
    /// Which treatment to choose.
    Choice,
    /// What the order may ask for beside it.
    Options(Vec<OrderOption>),
    /// Whether the order names a test.
    TestOrdered,
}

/// Whether a grade meets a requirement.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GradeAnswer {
    /// No, whatever the heat.
    No,
    /// It hangs on the heat's own analysis.
    ByTheHeat,
    /// Nothing to meet: something to do.
    ToDo,
}

/// Everything a pack says of the grade; what the grade simply meets is left out.
pub fn consequences(alloy: &Alloy, pack: &EffectivePack) -> Vec<Consequence> {
    let standing = |i: usize| pack.standing.get(i).copied();
    let of_edition = |r: &Requirement| r.when.editions.is_empty() || r.when.editions.contains(&pack.edition);
    let all = pack.pack.requirements.iter().enumerate();
    all.filter(|(i, r)| standing(*i) != Some(Standing::Absent) && of_edition(r))
        .filter_map(|(_, requirement)| consequence(alloy, requirement))
        .collect()
}

fn consequence(alloy: &Alloy, requirement: &Requirement) -> Option<Consequence> {
    let when = &requirement.when;
    let certain = applies(alloy, requirement)?;
    // A demand on every grade alike says nothing of this one.
    let of_grades = !when.series.is_empty() || when.free_machining.is_some() || when.chromium_below.is_some();
    let found = match (requirement.subject, &requirement.check) {
        (Subject::AlloySeries, Check::OneOf(series)) => {
            let named = series.iter().any(|s| s == alloy.series.name());
            (!named).then_some(GradeAnswer::No)?
        }
        (Subject::Chromium, Check::AtLeast(bounds)) => {
            let least = bounds.iter().find_map(|b| b.value)?;
            let chromium = alloy.element("Cr")?;
            if less(chromium.from, &least) == Some(false) {
                return None;
            }
            if less(chromium.to, &least) == Some(true) { GradeAnswer::No } else { GradeAnswer::ByTheHeat }
        }
        (Subject::TreatmentNamed, Check::OneOf(_))
        | (Subject::TestOrdered | Subject::TreatmentOrdered, _)
            if of_grades =>
        {
            if certain {
                GradeAnswer::ToDo
            } else {
                GradeAnswer::ByTheHeat
            }
        }
        _ => return None,
    };
    let about = match requirement.subject {
        Subject::TestOrdered => About::TestOrdered,
        Subject::TreatmentNamed | Subject::TreatmentOrdered => About::Choice,
        _ if !when.tests.is_empty() => About::Tests(when.tests.clone()),
        _ if !when.treatments.is_empty() => About::Treatments(when.treatments.clone()),
        _ if !when.options.is_empty() => About::Options(when.options.clone()),
        _ => About::Standard,
    };
    Some(Consequence {
        requirement: requirement.id.clone(),
        clause: requirement.clause.clone(),
        basis: requirement.basis,
        advice: requirement.advice,
        about,
        answer: found,
        asks: format!("{}: {}", requirement.subject.name(), limit_words(&requirement.check)),
        note: requirement.note.clone(),
    })
}

/// Whether a requirement's conditions hold of the grade: nothing when they do not, `false` when the heat decides.
fn applies(alloy: &Alloy, requirement: &Requirement) -> Option<bool> {
    let when = &requirement.when;
    if !when.series.is_empty() && !when.series.contains(&alloy.series)
        || when.free_machining.is_some_and(|wanted| wanted != alloy.free_machining)
    {
        return None;
    }
    let Some(below) = &when.chromium_below else { return Some(true) };
    let chromium = alloy.element("Cr")?;
    if less(chromium.to, below) == Some(true) {
        return Some(true);
    }
    (less(chromium.from, below) == Some(true)).then_some(false)
}

fn less(value: Option<Quantity>, than: &Quantity) -> Option<bool> {
    Some(value?.compare(than)? == Ordering::Less)
}
