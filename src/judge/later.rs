//! What was found after use: the next analysis of a bath, the next calibration of an instrument. One that fails
//! says that the bath or the instrument was out at some time in between, and nobody can tell when.

use serde::Deserialize;
use serde::Serialize;

use crate::finding::Document;
use crate::finding::Finding;
use crate::finding::Reason;
use crate::finding::Verdict;
use crate::judge::Dossier;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::judge::Resolved;
use crate::judge::applies::Applies;
use crate::judge::applies::applies;
use crate::judge::compare;
use crate::judge::step::Here;
use crate::judge::step::Treated;
use crate::judge::step::bath_path;
use crate::judge::step::used_at;
use crate::moment::Date;
use crate::moment::Moment;
use crate::order::DecisionRule;
use crate::pack::Subject;
use crate::path::Path;
use crate::record::Immersion;
use crate::rulebook::Standing;
use crate::shop::Analysis;
use crate::shop::Bath;
use crate::shop::Calibration;
use crate::shop::Constituent;
use crate::shop::Instrument;

/// What the book holds that was found after use. Kept apart, so that what is entered later and shows nothing
/// amiss leaves the facts a certificate rests on as they were.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Later {
    /// Analyses drawn after use, by bath.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub baths: Vec<LaterAnalyses>,
    /// Calibrations made after use, by instrument.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub instruments: Vec<LaterCalibrations>,
}

/// Analyses of one bath after it was used.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LaterAnalyses {
    /// The bath.
    pub bath: String,
    /// For each use and constituent, the first that says it.
    pub analyses: Vec<Analysis>,
}

/// Calibrations of one instrument after it was used.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LaterCalibrations {
    /// The instrument.
    pub instrument: String,
    /// For each day of use, the next.
    pub calibrations: Vec<Calibration>,
}

impl Later {
    /// Whether nothing was found after use.
    pub fn is_empty(&self) -> bool {
        self.baths.is_empty() && self.instruments.is_empty()
    }
}

/// The first of these analyses drawn after `when` that says something of a constituent. One that leaves it out
/// proves nothing of it, and must not hide the next.
pub fn first_after<'a>(
    analyses: impl Iterator<Item = &'a Analysis>,
    when: &Moment,
    constituent: Constituent,
) -> Option<&'a Analysis> {
    analyses.filter(|a| a.at > *when && a.found.contains_key(&constituent)).min_by_key(|a| a.at)
}

/// The first of these calibrations made after `day`; of two made on one day, one found out of limits.
pub fn next_of<'a>(
    calibrations: impl Iterator<Item = &'a Calibration>,
    day: Date,
) -> Option<&'a Calibration> {
    calibrations.filter(|c| c.on > day).min_by_key(|c| (c.on, c.passed))
}

/// Why a failure found later holds what was done before it.
const UNTOLD: &str = "; since when it was out cannot be told";

/// The subjects that look at what was found after use.
pub const fn is_later(subject: Subject) -> bool {
    matches!(
        subject,
        Subject::NextAnalysis
            | Subject::NextBathCalibration
            | Subject::NextRectifierCalibration
            | Subject::NextRinseCalibration
            | Subject::NextTestCalibration
            | Subject::NextLimitCalibration
    )
}

/// Ids of the requirements that look at what was found after use.
pub fn later_requirements(dossier: &Dossier) -> Vec<String> {
    let all = dossier.packs.iter().flat_map(|p| p.pack.requirements.iter().map(move |r| (&p.pack.pack, r)));
    all.filter(|(_, r)| is_later(r.subject)).map(|(pack, r)| format!("{pack}/{}", r.id)).collect()
}

/// Dossier and findings without what was found after use: the facts that were there when it was used. What is
/// entered later and is in order does not make a shipment another one.
pub fn settled(dossier: &Dossier, findings: &[Finding]) -> (Dossier, Vec<Finding>) {
    let later = later_requirements(dossier);
    let mut facts = dossier.clone();
    facts.later = Later::default();
    (facts, findings.iter().filter(|f| !later.contains(&f.requirement)).cloned().collect())
}

/// The next calibration of an instrument after the day it was used. None yet: nothing to say.
pub fn next_calibration(dossier: &Dossier, id: &str, day: Date) -> Evidence {
    let path = Path::root().key("instruments").key(id).key("calibrations");
    let nothing = |path: Path| Evidence::at(Document::Instruments, path, Found::NotApplicable);
    // An instrument the book has not is the gap of its calibration.
    let Some(instrument) = dossier.instruments.iter().find(|i| i.instrument == id) else {
        return nothing(path);
    };
    let later = dossier.later.instruments.iter().filter(|l| l.instrument == id).flat_map(|l| &l.calibrations);
    let Some(next) = next_of(instrument.calibrations.iter().chain(later), day) else { return nothing(path) };
    let (state, since) = if next.passed { ("passed", "") } else { ("found out of limits", UNTOLD) };
    Evidence::at(
        Document::Instruments,
        path.key(&next.on.to_string()),
        Found::Own {
            observed: format!("{id}: {state} {}", next.on),
            limit: format!("in limits at the calibration after {day}{since}"),
            met: next.passed,
        },
    )
}

/// The strengths a standard may limit, each with the bath it is of.
fn strength_of<'a>(here: &Here<'a>, subject: Subject) -> Option<(&'a Immersion, Constituent)> {
    let own = here.immersion;
    Some(match subject {
        Subject::NitricAcid => (own, Constituent::NitricAcid),
        Subject::SodiumDichromate => (own, Constituent::SodiumDichromate),
        Subject::CitricAcid => (own, Constituent::CitricAcid),
        Subject::BathPh => (own, Constituent::Ph),
        Subject::PostDipNitric => (here.post_dip()?.2, Constituent::NitricAcid),
        Subject::PostTreatmentDichromate => (here.post_treatment()?.2, Constituent::SodiumDichromate),
        _ => return None,
    })
}

fn next_analysis<'a>(
    here: &Here<'a>,
    immersion: &Immersion,
    constituent: Constituent,
) -> Option<(&'a Bath, &'a Analysis)> {
    let dossier = here.dossier;
    let bath = here.bath(&immersion.bath)?;
    let when = used_at(immersion)?;
    let later = dossier.later.baths.iter().filter(|l| l.bath == bath.bath).flat_map(|l| &l.analyses);
    first_after(bath.analyses.iter().chain(later), &when, constituent).map(|a| (bath, a))
}

/// The next analysis of every bath whose strength the standard limits, against the same limits.
pub fn analyses(here: &Here, resolved: &Resolved, treated: &Treated) -> Vec<Evidence> {
    let mut all = Vec::new();
    for (position, requirement) in resolved.pack.pack.requirements.iter().enumerate() {
        let Some((immersion, constituent)) = strength_of(here, requirement.subject) else { continue };
        let when = &requirement.when;
        let of_treatment =
            when.treatments.is_empty() || treated.id().is_some_and(|id| when.treatments.contains(&id));
        let of_test = when.tests.is_empty() || when.tests.iter().any(|t| resolved.call_out.tests.contains(t));
        let absent = resolved.pack.standing.get(position) == Some(&Standing::Absent);
        if requirement.advice || absent || !of_treatment || !of_test {
            continue;
        }
        if matches!(applies(here.dossier, resolved.call_out, resolved.pack, when), Applies::No) {
            continue;
        }
        let Some((bath, analysis)) = next_analysis(here, immersion, constituent) else { continue };
        let Some(value) = analysis.found.get(&constituent) else { continue };
        let path = bath_path(&bath.bath).key("analyses").key(&analysis.at.to_string()).key("found");
        let reading = Evidence::at(Document::Baths, path.clone(), Found::Quantity(*value));
        let outcome = compare::outcome(&requirement.check, &[reading], DecisionRule::SimpleAcceptance);
        let standing = resolved.pack.standing.get(position);
        let found = match (outcome.verdict, outcome.reason) {
            // The strength itself is held by the same unknown figure.
            (Verdict::NoEvidence, Some(Reason::FigureUnsure))
                if !matches!(standing, Some(Standing::Confirmed | Standing::Own)) =>
            {
                continue;
            }
            (Verdict::NoEvidence, reason) => Found::Missing(reason.unwrap_or(Reason::NotRecorded)),
            (verdict, _) => {
                let met = verdict == Verdict::Met;
                let since = if met { "" } else { UNTOLD };
                let name = requirement.subject.name();
                Found::Own {
                    observed: format!("{value} in {}, drawn {}", bath.bath, analysis.at),
                    limit: format!("{name} {} at the next analysis too{since}", outcome.limit),
                    met,
                }
            }
        };
        all.push(Evidence::at(Document::Baths, path, found));
    }
    or_nothing(all, here.path.clone())
}

/// The next calibrations of instruments used, each on its day.
pub fn calibrations(dossier: &Dossier, used: &[(String, Date)], path: Path) -> Vec<Evidence> {
    let all = used.iter().map(|(id, day)| next_calibration(dossier, id, *day));
    or_nothing(all.filter(|e| !matches!(e.found, Found::NotApplicable)).collect(), path)
}

/// No later finding is no gap; the certificate's data say that there was none yet.
fn or_nothing(all: Vec<Evidence>, path: Path) -> Vec<Evidence> {
    if all.is_empty() { vec![Evidence::record(path, Found::NotApplicable)] } else { all }
}

/// The instruments as the dossier carries them; for gathering.
pub fn later_of(instrument: &Instrument, days: &[Date]) -> Option<LaterCalibrations> {
    let mut kept: Vec<Calibration> = Vec::new();
    for day in days {
        let next = next_of(instrument.calibrations.iter(), *day);
        kept.extend(next.filter(|c| !kept.contains(c)).cloned());
    }
    kept.sort_by_key(|c| c.on);
    (!kept.is_empty())
        .then(|| LaterCalibrations { instrument: instrument.instrument.clone(), calibrations: kept })
}

/// The analyses after each use, for each constituent the bath was ever analysed for; for gathering.
pub fn later_analyses(bath: &Bath, uses: &[Moment]) -> Option<LaterAnalyses> {
    let mut constituents: Vec<Constituent> =
        bath.analyses.iter().flat_map(|a| a.found.keys().copied()).collect();
    constituents.sort();
    constituents.dedup();
    let mut kept: Vec<Analysis> = Vec::new();
    for (when, constituent) in uses.iter().flat_map(|w| constituents.iter().map(move |c| (w, *c))) {
        let next = first_after(bath.analyses.iter(), when, constituent);
        kept.extend(next.filter(|a| !kept.contains(a)).cloned());
    }
    kept.sort_by_key(|a| a.at);
    (!kept.is_empty()).then(|| LaterAnalyses { bath: bath.bath.clone(), analyses: kept })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bath(analyses: &str) -> Bath {
        crate::yaml::parse(&format!("bath: B\nwhat: b\ningredients: []\nanalyses: {analyses}\n")).unwrap()
    }

    fn at(text: &str) -> Moment {
        text.parse().unwrap()
    }

    /// Each constituent has its own next analysis; one drawn at the moment of use is the one in force.
    #[test]
    fn the_next_analysis_is_the_first_that_says_it() {
        let b = bath(
            "[{ at: 2026-10-01T06:00Z, by: A, found: { citric acid: 5 wt% } }, \
             { at: 2026-10-02T06:00Z, by: A, found: { pH: pH 2.0 } }, \
             { at: 2026-10-03T06:00Z, by: A, found: { citric acid: 6 wt%, pH: pH 1.9 } }, \
             { at: 2026-10-04T06:00Z, by: A, found: { citric acid: 7 wt% } }]",
        );
        let next = |when: &str, c| first_after(b.analyses.iter(), &at(when), c).map(|a| a.at.to_string());
        let third = Some("2026-10-03T06:00+00:00".to_owned());
        assert_eq!(next("2026-10-01T06:00Z", Constituent::CitricAcid), third);
        assert_eq!(next("2026-10-02T06:00Z", Constituent::Ph), third);
        assert_eq!(next("2026-10-04T06:00Z", Constituent::CitricAcid), None);
        let kept = later_analyses(&b, &[at("2026-10-01T06:00Z")]).unwrap();
        assert_eq!(kept.analyses.len(), 2, "the second for its pH, the third for its acid");
        assert!(later_analyses(&b, &[at("2026-10-04T06:00Z")]).is_none());
        assert!(later_analyses(&b, &[]).is_none());
    }

    #[test]
    fn of_two_calibrations_on_one_day_the_failed_one_is_next() {
        let i: Instrument = crate::yaml::parse(
            "instrument: T\nwhat: t\ncalibrations:\n  \
             - { on: 2026-10-01, due: 2026-11-01, certificate: a, passed: true }\n  \
             - { on: 2026-11-01, due: 2026-12-01, certificate: b, passed: true }\n  \
             - { on: 2026-11-01, due: 2026-12-01, certificate: c, passed: false }\n",
        )
        .unwrap();
        let next =
            |day: &str| next_of(i.calibrations.iter(), day.parse().unwrap()).map(|c| c.certificate.clone());
        assert_eq!(next("2026-10-01").as_deref(), Some("c"));
        assert_eq!(next("2026-09-30").as_deref(), Some("a"));
        assert_eq!(next("2026-11-01"), None);
    }
}
