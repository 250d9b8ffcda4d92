//! Evidence about one run: its treatment, the bath at the time of use, rinses, looks.

use crate::evidence::Relied;
use crate::finding::Document;
use crate::finding::Reason;
use crate::judge::Dossier;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::judge::Resolved;
use crate::judge::beside;
use crate::judge::calibration::uncertainty;
use crate::judge::equipment;
use crate::judge::equipment::bath_calibration;
use crate::judge::equipment::rectifier;
use crate::judge::equipment::rinse_meter;
use crate::judge::immersion::metered;
use crate::judge::immersion::temperatures;
use crate::judge::immersion::time;
use crate::judge::later;
use crate::judge::looks;
use crate::judge::outside;
use crate::judge::periodic;
use crate::judge::raw;
use crate::judge::runs::FinalRun;
use crate::judge::strength::strength;
use crate::moment::Moment;
use crate::pack::Subject;
use crate::pack::Treatment;
use crate::pack::TreatmentStep;
use crate::path::Path;
use crate::record::Immersion;
use crate::record::Rinse;
use crate::record::Run;
use crate::record::Step;
use crate::shop::Bath;
use crate::shop::Constituent;
use crate::units::Quantity;

/// The treatment of one run under one call-out.
pub struct Treated<'a> {
    /// The treatment, when the order or the record names one of the pack's.
    treatment: Option<&'a Treatment>,
    /// The run (maybe an earlier one of the same pieces), the place of the step in it, and the step.
    step: Option<(usize, &'a Run, usize, &'a Immersion)>,
}

impl Treated<'_> {
    /// Id of the treatment.
    pub fn id(&self) -> Option<String> {
        self.treatment.map(|t| t.id.clone())
    }

    /// Name of the treatment.
    pub fn name(&self) -> Option<&str> {
        self.treatment.map(|t| t.name.as_str())
    }

    /// The kind of step it is carried out by.
    pub fn kind(&self) -> Option<TreatmentStep> {
        self.treatment.map(|t| t.step)
    }

    /// The paper relied on, where somebody else carried it out.
    fn relied(&self) -> Option<&Relied> {
        self.step.and_then(|(_, _, _, immersion)| immersion.evidence.as_ref())
    }

    /// Index of the run and of the step that carried it out.
    pub fn at(&self) -> Option<(usize, usize)> {
        self.step.map(|(run, _, step, _)| (run, step))
    }
}

/// Whether a name means this treatment.
pub fn is_named(treatment: &Treatment, name: &str) -> bool {
    matches(&treatment.name, name) || matches(&treatment.id, name)
}

/// Whether two names of a treatment are one, spaces and case apart.
pub fn matches(one: &str, other: &str) -> bool {
    let plain = |s: &str| s.chars().filter(|c| c.is_alphanumeric()).collect::<String>().to_lowercase();
    plain(one) == plain(other)
}

/// Finds the treatment of a run: the one ordered, else the one the record says was run; and the last step that
/// carries it out, in this run or in the nearest earlier one of the same pieces.
pub fn treatment<'a>(dossier: &'a Dossier, resolved: &Resolved<'a>, run: &FinalRun<'a>) -> Treated<'a> {
    let treatments = &resolved.pack.pack.treatments;
    let named = resolved.call_out.treatment.as_deref();
    let ordered = named.and_then(|name| treatments.iter().find(|t| is_named(t, name)));
    let chain = std::iter::once(run.index).chain(run.earlier.iter().copied());
    for index in chain {
        let Some(run) = dossier.record.runs.get(index) else { continue };
        for (position, step) in run.steps.iter().enumerate().rev() {
            let Some((kind, immersion)) = treating(step) else { continue };
            let run_as = immersion.run_as.as_deref();
            let said = run_as.and_then(|name| treatments.iter().find(|t| is_named(t, name)));
            // Ordered by name: only that name's kind of step. Left to the shop: the step must say what it ran,
            // unless the standard has a single treatment.
            let only = match treatments.as_slice() {
                [one] => Some(one),
                _ => None,
            };
            let candidate = if named.is_some() { ordered } else { said.or(only) };
            if let Some(treatment) = candidate.filter(|t| t.step == kind) {
                return Treated { treatment: Some(treatment), step: Some((index, run, position, immersion)) };
            }
            // The last bath the pieces were in does not say what it was: an earlier one that does is history.
            if named.is_none() && only.is_none() && treatments.iter().any(|t| t.step == kind) {
                return Treated { treatment: None, step: None };
            }
        }
        // A run that treats nothing does not treat pieces again: what was done before it is not looked up.
        if !run.steps.iter().any(|step| treating(step).is_some()) {
            break;
        }
    }
    Treated { treatment: ordered, step: None }
}

/// The treatment a step carries out, if it carries out one.
pub fn treating(step: &Step) -> Option<(TreatmentStep, &Immersion)> {
    match step {
        Step::Passivate(immersion) => Some((TreatmentStep::Passivate, immersion)),
        Step::Electropolish(immersion) => Some((TreatmentStep::Electropolish, immersion)),
        _ => None,
    }
}

/// Whether a subject looks at the treatment step: without one there is nothing more to say about it.
pub const fn needs_treatment(subject: Subject) -> bool {
    !matches!(subject, Subject::Visual | Subject::VisualCount | Subject::VisualLight)
}

fn step_path(run: usize, step: usize, kind: &Step) -> Path {
    Path::root().key("runs").index(run).key("steps").index(step).key(kind.key())
}

/// Everything known of the treatment step a subject may ask about.
pub(super) struct Here<'a> {
    pub(super) dossier: &'a Dossier,
    run_index: usize,
    pub(super) run: &'a Run,
    pub(super) step: usize,
    pub(super) immersion: &'a Immersion,
    pub(super) path: Path,
}

impl<'a> Here<'a> {
    /// The steps after the treatment up to the next treatment, with their places.
    pub(super) fn after(&self) -> impl Iterator<Item = (usize, &'a Step)> {
        let from = self.step.saturating_add(1);
        let run: &'a Run = self.run;
        run.steps.iter().enumerate().skip(from).take_while(|(_, s)| treating(s).is_none())
    }

    pub(super) fn path_of(&self, position: usize, step: &Step) -> Path {
        step_path(self.run_index, position, step)
    }

    /// The final rinse of this treatment: before any post-treatment, and when a further treatment follows in
    /// the same run without one, the run's own. Of several the last.
    pub(super) fn final_rinse(&self) -> Option<(usize, &'a Step, &'a Rinse)> {
        fn last((i, s): (usize, &Step)) -> Option<(usize, &Step, &Rinse)> {
            match s {
                Step::Rinse(rinse) if rinse.last => Some((i, s, rinse)),
                _ => None,
            }
        }
        let before_post = |(_, s): &(usize, &'a Step)| !matches!(s, Step::PostTreat(_));
        let own = self.after().take_while(before_post).filter_map(last).last();
        let from = self.step.saturating_add(1);
        let run: &'a Run = self.run;
        own.or_else(|| {
            run.steps.iter().enumerate().skip(from).take_while(before_post).filter_map(last).last()
        })
    }

    /// The step that makes a rinse not the final one: a bath or a rinse after it that belongs neither to a
    /// post-treatment nor to the preparation of a further treatment.
    fn wet_after(&self, rinse: usize) -> Option<&'a Step> {
        let run: &'a Run = self.run;
        let from = rinse.saturating_add(1);
        let treated_on = run.steps.iter().skip(from).any(|s| treating(s).is_some());
        for step in run.steps.iter().skip(from) {
            match step {
                Step::Dry(_) | Step::Bake(_) => {}
                Step::PostTreat(_) | Step::Passivate(_) | Step::Electropolish(_) => return None,
                Step::Clean(_) | Step::Descale(_) if treated_on => return None,
                other => return Some(other),
            }
        }
        None
    }

    /// The baths whose strength and temperature count for this treatment: its own, the dip and the
    /// post-treatment after it, each with its place.
    pub(super) fn baths_used(&self) -> Vec<(Path, &'a Immersion)> {
        let later = [self.post_dip(), self.post_treatment()].into_iter().flatten();
        let own = std::iter::once((self.path.clone(), self.immersion));
        own.chain(later.map(|(i, s, dip)| (self.path_of(i, s), dip))).collect()
    }

    pub(super) fn find(&self, wanted: impl Fn(&Step) -> bool) -> Option<(usize, &'a Step, &'a Immersion)> {
        self.after().find(|(_, s)| wanted(s)).and_then(|(i, s)| s.immersion().map(|m| (i, s, m)))
    }

    pub(super) fn post_dip(&self) -> Option<(usize, &'a Step, &'a Immersion)> {
        self.find(|s| matches!(s, Step::PostDip(_)))
    }

    pub(super) fn post_treatment(&self) -> Option<(usize, &'a Step, &'a Immersion)> {
        self.find(|s| matches!(s, Step::PostTreat(_)))
    }

    /// The last rinse after a step, before the next treatment.
    pub(super) fn last_rinse_after(&self, position: usize) -> Option<(usize, &'a Step, &'a Rinse)> {
        let rinses = self.after().skip_while(|(i, _)| *i <= position).filter_map(|(i, s)| match s {
            Step::Rinse(rinse) => Some((i, s, rinse)),
            _ => None,
        });
        rinses.last()
    }

    pub(super) fn bath(&self, id: &str) -> Option<&'a Bath> {
        self.dossier.baths.iter().find(|b| b.bath == id)
    }
}

/// The path of a bath in the shop's book.
pub fn bath_path(id: &str) -> Path {
    Path::root().key("baths").key(id)
}

/// Evidence of one run for one subject.
pub fn evidence(
    dossier: &Dossier,
    resolved: &Resolved,
    runs: &[FinalRun],
    run: &FinalRun,
    treated: &Treated,
    subject: Subject,
) -> Vec<Evidence> {
    let run_path = Path::root().key("runs").index(run.index);
    match subject {
        Subject::TreatmentNamed => {
            let evidence = named(dossier, resolved, run, treated, run_path);
            return vec![outside::of_treatment(treated.relied(), evidence)];
        }
        Subject::Visual | Subject::VisualCount | Subject::VisualLight => {
            return looks::evidence(dossier, resolved, runs, run, subject);
        }
        _ => {}
    }
    let Some((run_index, at_run, step, immersion)) = treated.step else {
        return vec![Evidence::missing(run_path)];
    };
    let Some(kind) = at_run.steps.get(step) else { return vec![Evidence::missing(run_path)] };
    let here =
        Here { dossier, run_index, run: at_run, step, immersion, path: step_path(run_index, step, kind) };
    match subject {
        Subject::PeriodicTest => {
            let own = vec![periodic::evidence(&here, treated.name())];
            outside::of_step(&here, subject, own)
        }
        Subject::NextAnalysis => later::analyses(&here, resolved, treated),
        Subject::NextBathCalibration | Subject::NextRectifierCalibration | Subject::NextRinseCalibration => {
            later::calibrations(dossier, &equipment::instruments(&here, subject), here.path.clone())
        }
        _ => outside::of_step(&here, subject, one_step(&here, run, subject)),
    }
}

fn one_step(here: &Here, run: &FinalRun, subject: Subject) -> Vec<Evidence> {
    let immersion = here.immersion;
    match subject {
        Subject::Preparation => vec![preparation(here, run)],
        Subject::BathIngredients => vec![match here.bath(&immersion.bath) {
            None => not_in_book(here.path.key("bath"), "bath", &immersion.bath),
            Some(bath) => Evidence::at(
                Document::Baths,
                bath_path(&bath.bath).key("ingredients"),
                Found::Words(bath.ingredients.clone()),
            ),
        }],
        Subject::NitricAcid => strength(here, &here.path, immersion, Constituent::NitricAcid),
        Subject::SodiumDichromate => strength(here, &here.path, immersion, Constituent::SodiumDichromate),
        Subject::CitricAcid => strength(here, &here.path, immersion, Constituent::CitricAcid),
        Subject::BathPh => strength(here, &here.path, immersion, Constituent::Ph),
        Subject::BathTemperature => temperatures(here.dossier, immersion, &here.path),
        Subject::ImmersionTime => vec![time(immersion, &here.path)],
        Subject::AnalysisAge => {
            here.baths_used().iter().map(|(path, dip)| analysis_age(here, path, dip)).collect()
        }
        Subject::BathCalibration => {
            let used = here.baths_used();
            let own = used.iter().map(|(path, dip)| bath_calibration(here, path, dip));
            let logged = used.iter().flat_map(|(path, dip)| raw::sensors(here.dossier, path, dip));
            own.chain(logged).collect()
        }
        Subject::RectifierCalibration => vec![rectifier(here)],
        Subject::CurrentDensity => {
            let mut all = raw::current_densities(here.dossier, &here.path, immersion);
            if all.is_empty() || immersion.current_density.is_some() {
                all.push(quantity(immersion.current_density, here.path.key("current_density")));
            }
            by_rectifier(here, all)
        }
        Subject::Rinsed => vec![rinsed(here)],
        Subject::FinalRinse | Subject::FinalRinseSolids | Subject::RinseCalibration => {
            final_rinse(here, subject)
        }
        Subject::PostDip | Subject::PostDipNitric | Subject::PostDipTemperature | Subject::PostDipTime => {
            let Some((i, s, dip)) = here.post_dip() else {
                return vec![Evidence::missing(here.path.clone())];
            };
            dipped(here, here.path_of(i, s), dip, subject)
        }
        Subject::PostTreatment
        | Subject::PostTreatmentDelay
        | Subject::PostTreatmentDichromate
        | Subject::PostTreatmentTemperature
        | Subject::PostTreatmentTime
        | Subject::PostTreatmentRinseSolids
        | Subject::PostTreatmentDried => post_treatment(here, subject),
        Subject::Voltage => {
            let mut all = raw::extremes(here.dossier, immersion, &here.path, "voltage", None);
            if all.is_empty() || immersion.voltage.is_some() {
                all.push(quantity(immersion.voltage, here.path.key("voltage")));
            }
            by_rectifier(here, all)
        }
        Subject::Neutralized
        | Subject::Descaled
        | Subject::HydrogenRelief
        | Subject::HydrogenReliefTemperature
        | Subject::HydrogenReliefTime
        | Subject::HydrogenReliefDelay => beside::evidence(here, subject),
        // Subjects of another scope: the pack is wrong, and nothing passes on it.
        _ => vec![Evidence::missing(here.path.clone())],
    }
}

/// Readings off the rectifier's meters, with what is known of their uncertainty.
fn by_rectifier(here: &Here, readings: Vec<Evidence>) -> Vec<Evidence> {
    let rectifier = here.bath(&here.immersion.bath).and_then(|b| b.rectifier.as_deref());
    let known = metered(here.dossier, here.immersion, rectifier);
    readings.into_iter().map(|reading| reading.with(known.clone())).collect()
}

pub(super) fn quantity(value: Option<Quantity>, path: Path) -> Evidence {
    match value {
        Some(value) => Evidence::record(path, Found::Quantity(value)),
        None => Evidence::missing(path),
    }
}

pub fn not_in_book(path: Path, what: &str, id: &str) -> Evidence {
    Evidence::record(path, Found::Missing(Reason::NotInBook(format!("{what} `{id}`"))))
}

/// A bath that takes the treated surface off again, after the treatment, in its run or a later one of the same
/// pieces.
fn undone<'a>(dossier: &'a Dossier, run: &FinalRun, at: usize, step: usize) -> Option<&'a Step> {
    let strips = |s: &&Step| matches!(s, Step::Descale(_) | Step::Electropolish(_));
    let chain = std::iter::once(run.index).chain(run.earlier.iter().copied());
    let later = chain.take_while(|index| *index != at).filter_map(|index| dossier.record.runs.get(index));
    let own = dossier.record.runs.get(at).into_iter();
    own.flat_map(|r| r.steps.iter().skip(step.saturating_add(1)))
        .chain(later.flat_map(|r| &r.steps))
        .find(strips)
}

fn named(
    dossier: &Dossier,
    resolved: &Resolved,
    of_run: &FinalRun,
    treated: &Treated,
    run_path: Path,
) -> Evidence {
    let ordered = resolved.call_out.treatment.as_deref();
    let known = ordered.is_none_or(|name| resolved.pack.pack.treatments.iter().any(|t| is_named(t, name)));
    if !known {
        let what = format!("{} of {}", ordered.unwrap_or_default(), resolved.name);
        return Evidence::at(
            resolved.place.document,
            resolved.place.path.key("treatment"),
            Found::Missing(Reason::NotInRulebook(what)),
        );
    }
    let (Some(treatment), Some((run, at_run, step, immersion))) = (treated.treatment, treated.step) else {
        return Evidence::missing(run_path.key("steps"));
    };
    let path = at_run.steps.get(step).map_or(run_path, |s| step_path(run, step, s));
    match immersion.run_as.as_deref() {
        Some(run_as) if !is_named(treatment, run_as) => Evidence::record(
            path.key("as"),
            Found::Own { observed: run_as.to_owned(), limit: treatment.name.clone(), met: false },
        ),
        _ => {
            let undone = undone(dossier, of_run, run, step);
            let observed = match undone {
                Some(step) => format!("{}, then {}", treatment.name, step.key()),
                None => treatment.name.clone(),
            };
            let met = undone.is_none();
            Evidence::record(path, Found::Own { observed, limit: treatment.name.clone(), met })
        }
    }
}

/// Cleaning since the pieces were last passivated: the steps before the treatment, backwards, through the runs
/// the same pieces went through earlier.
fn preparation(here: &Here, run: &FinalRun) -> Evidence {
    let chain = std::iter::once(run.index).chain(run.earlier.iter().copied());
    let earlier = chain.skip_while(|index| *index != here.run_index).skip(1);
    let earlier = earlier.filter_map(|index| here.dossier.record.runs.get(index));
    let before = here.run.steps.iter().take(here.step).rev();
    let cleaned = before
        .chain(earlier.flat_map(|r| r.steps.iter().rev()))
        .take_while(|s| !matches!(s, Step::Passivate(_) | Step::PostTreat(_)))
        .find(|s| matches!(s, Step::Clean(_) | Step::Descale(_) | Step::Electropolish(_)));
    match cleaned {
        Some(step) => {
            Evidence::record(here.path.clone(), Found::Fact { shown: step.key().to_owned(), holds: true })
        }
        None => Evidence::missing(here.path.clone()),
    }
}

/// When pieces were in a bath, for looking up what was in force: going in, else coming out.
pub fn used_at(immersion: &Immersion) -> Option<Moment> {
    immersion.in_at.or(immersion.out_at)
}

fn analysis_age(here: &Here, path: &Path, immersion: &Immersion) -> Evidence {
    let Some(bath) = here.bath(&immersion.bath) else {
        return not_in_book(path.key("bath"), "bath", &immersion.bath);
    };
    let book = bath_path(&bath.bath);
    let Some(when) = used_at(immersion) else { return Evidence::missing(path.key("in")) };
    let Some((_, analysis)) = bath.analysis_at(&when) else {
        return Evidence::at(Document::Baths, book.key("analyses"), Found::Missing(Reason::NoAnalysis));
    };
    let (Some(limit), Some(age)) = (bath.analysis_good_for, when.since(&analysis.at)) else {
        return Evidence::at(
            Document::Baths,
            book.key("analysis_good_for"),
            Found::Missing(Reason::NotRecorded),
        );
    };
    let met = matches!(age.compare(&limit), Some(std::cmp::Ordering::Less | std::cmp::Ordering::Equal));
    Evidence::at(
        Document::Baths,
        book.key("analyses").key(&analysis.at.to_string()),
        Found::Own {
            observed: format!("{} old, of {}", age.spoken(), analysis.at),
            limit: format!("at most {limit} old when used"),
            met,
        },
    )
}

fn rinsed(here: &Here) -> Evidence {
    let mut after = here.after().map(|(_, s)| s);
    let next = after.next();
    match next {
        Some(Step::Rinse(_)) => {
            Evidence::record(here.path.clone(), Found::Fact { shown: "rinsed next".to_owned(), holds: true })
        }
        Some(Step::PostDip(_)) if matches!(after.next(), Some(Step::Rinse(_))) => Evidence::record(
            here.path.clone(),
            Found::Fact { shown: "dipped, then rinsed".to_owned(), holds: true },
        ),
        // A separate neutralisation belongs to the rinsing, as long as water follows it.
        Some(Step::Neutralize(_)) if matches!(after.next(), Some(Step::Rinse(_))) => Evidence::record(
            here.path.clone(),
            Found::Fact { shown: "neutralised, then rinsed".to_owned(), holds: true },
        ),
        Some(other) => Evidence::record(
            here.path.clone(),
            Found::Fact { shown: format!("followed by {}", other.key()), holds: false },
        ),
        None => Evidence::missing(here.path.clone()),
    }
}

fn final_rinse(here: &Here, subject: Subject) -> Vec<Evidence> {
    let Some((i, s, rinse)) = here.final_rinse() else { return vec![Evidence::missing(here.path.clone())] };
    let path = here.path_of(i, s);
    match subject {
        Subject::FinalRinseSolids => {
            let day = rinse.at.or_else(|| used_at(here.immersion)).map(|at| at.date());
            let known = uncertainty(here.dossier, rinse.instrument.as_deref(), day);
            vec![quantity(rinse.total_solids, path.key("total_solids")).with(known)]
        }
        Subject::RinseCalibration => {
            let post = here.post_treatment().and_then(|(i, _, dip)| {
                let (at, s, rinse) = here.last_rinse_after(i)?;
                Some(rinse_meter(here, dip, here.path_of(at, s), rinse))
            });
            std::iter::once(rinse_meter(here, here.immersion, path, rinse)).chain(post).collect()
        }
        _ => vec![match here.wet_after(i) {
            Some(step) => {
                let reason = Reason::Contradiction(format!("{} follows the final rinse", step.key()));
                Evidence::record(path, Found::Missing(reason))
            }
            None => Evidence::record(path, Found::Fact { shown: "rinsed".to_owned(), holds: true }),
        }],
    }
}

fn dipped(here: &Here, path: Path, dip: &Immersion, subject: Subject) -> Vec<Evidence> {
    match subject {
        Subject::PostDipNitric => strength(here, &path, dip, Constituent::NitricAcid),
        Subject::PostDipTemperature => temperatures(here.dossier, dip, &path),
        Subject::PostDipTime => vec![time(dip, &path)],
        _ => vec![Evidence::record(path, Found::Fact { shown: format!("bath {}", dip.bath), holds: true })],
    }
}

fn post_treatment(here: &Here, subject: Subject) -> Vec<Evidence> {
    let Some((i, s, dip)) = here.post_treatment() else { return vec![Evidence::missing(here.path.clone())] };
    let path = here.path_of(i, s);
    let after = || here.after().skip_while(move |(position, _)| *position <= i);
    match subject {
        Subject::PostTreatmentDelay => {
            let rinse = here.final_rinse();
            let (Some(rinsed), Some(into)) = (rinse.and_then(|(_, _, r)| r.at), dip.in_at) else {
                let missing = match (rinse, dip.in_at) {
                    (Some((at, step, _)), Some(_)) => here.path_of(at, step).key("at"),
                    _ => path.key("in"),
                };
                return vec![Evidence::missing(missing)];
            };
            vec![match into.since(&rinsed) {
                Some(delay) => Evidence::record(path.key("in"), Found::Quantity(delay)),
                None => Evidence::record(
                    path.key("in"),
                    Found::Missing(Reason::Contradiction(
                        "the treatment begins before the final rinse".to_owned(),
                    )),
                ),
            }]
        }
        Subject::PostTreatmentDichromate => strength(here, &path, dip, Constituent::SodiumDichromate),
        Subject::PostTreatmentTemperature => temperatures(here.dossier, dip, &path),
        Subject::PostTreatmentTime => vec![time(dip, &path)],
        Subject::PostTreatmentRinseSolids => match here.last_rinse_after(i) {
            Some((at, s, rinse)) => {
                vec![quantity(rinse.total_solids, here.path_of(at, s).key("total_solids"))]
            }
            None => vec![Evidence::missing(path)],
        },
        // After its rinse: what is rinsed again is wet again.
        Subject::PostTreatmentDried => match after()
            .skip_while(|(at, _)| here.last_rinse_after(i).is_some_and(|(rinse, _, _)| *at <= rinse))
            .find(|(_, s)| matches!(s, Step::Dry(_)))
        {
            Some((at, s)) => {
                vec![Evidence::record(
                    here.path_of(at, s),
                    Found::Fact { shown: "dried".to_owned(), holds: true },
                )]
            }
            None => vec![Evidence::missing(path)],
        },
        _ => vec![Evidence::record(path, Found::Fact { shown: format!("bath {}", dip.bath), holds: true })],
    }
}
