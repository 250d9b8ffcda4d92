//! The instruments around one treatment: the bath's thermometer, its rectifier, the meters of its rinses.

use crate::finding::Document;
use crate::finding::Reason;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::judge::calibration::calibration;
use crate::judge::step::Here;
use crate::judge::step::bath_path;
use crate::judge::step::not_in_book;
use crate::judge::step::used_at;
use crate::moment::Date;
use crate::pack::Subject;
use crate::path::Path;
use crate::record::Immersion;
use crate::record::Rinse;
use crate::record::Step;
use crate::shop::Bath;
use crate::shop::InstrumentKind;

/// The instruments used around one treatment, each on its day.
pub fn instruments(here: &Here, subject: Subject) -> Vec<(String, Date)> {
    let in_bath = |id: fn(&Bath) -> Option<&String>, dip: &Immersion| {
        Some((id(here.bath(&dip.bath)?)?.clone(), used_at(dip)?.date()))
    };
    match subject {
        Subject::NextBathCalibration => {
            here.baths_used().iter().filter_map(|(_, dip)| in_bath(|b| b.thermometer.as_ref(), dip)).collect()
        }
        Subject::NextRectifierCalibration if electropolishes(here) => {
            in_bath(|b| b.rectifier.as_ref(), here.immersion).into_iter().collect()
        }
        Subject::NextRinseCalibration => {
            let own = here.final_rinse().map(|(_, _, rinse)| (here.immersion, rinse));
            let post = here.post_treatment().and_then(|(i, _, dip)| {
                let (_, _, rinse) = here.last_rinse_after(i)?;
                Some((dip, rinse))
            });
            let rinses = own.into_iter().chain(post);
            rinses.filter_map(|(bath, r)| Some((r.instrument.clone()?, rinsed_on(bath, r)?))).collect()
        }
        _ => Vec::new(),
    }
}

fn electropolishes(here: &Here) -> bool {
    matches!(here.run.steps.get(here.step), Some(Step::Electropolish(_)))
}

/// The calibration of the rectifier, where its meters were read.
pub fn rectifier(here: &Here) -> Evidence {
    let immersion = here.immersion;
    if !electropolishes(here) || (immersion.current_density.is_none() && immersion.voltage.is_none()) {
        return Evidence::record(here.path.clone(), Found::NotApplicable);
    }
    let Some(bath) = here.bath(&immersion.bath) else {
        return not_in_book(here.path.key("bath"), "bath", &immersion.bath);
    };
    let Some(id) = &bath.rectifier else {
        let path = bath_path(&bath.bath).key("rectifier");
        return Evidence::at(Document::Baths, path, Found::Missing(Reason::NotRecorded));
    };
    let Some(when) = used_at(immersion) else { return Evidence::missing(here.path.key("in")) };
    calibration(here.dossier, id, when.date(), here.path.key("bath"), &[InstrumentKind::Rectifier])
}

pub fn bath_calibration(here: &Here, path: &Path, immersion: &Immersion) -> Evidence {
    let Some(bath) = here.bath(&immersion.bath) else {
        return not_in_book(path.key("bath"), "bath", &immersion.bath);
    };
    let Some(thermometer) = &bath.thermometer else {
        let path = bath_path(&bath.bath).key("thermometer");
        return Evidence::at(Document::Baths, path, Found::Missing(Reason::NotRecorded));
    };
    let Some(when) = used_at(immersion) else { return Evidence::missing(path.key("in")) };
    let kinds = &[InstrumentKind::Thermometer];
    calibration(here.dossier, thermometer, when.date(), path.key("bath"), kinds)
}

/// The day a rinse was read; without a time of its own, that of the bath before it.
fn rinsed_on(bath: &Immersion, rinse: &Rinse) -> Option<Date> {
    rinse.at.or(bath.out_at).or(bath.in_at).map(|m| m.date())
}

/// The calibration of the meter that read a rinse.
pub fn rinse_meter(here: &Here, bath: &Immersion, path: Path, rinse: &Rinse) -> Evidence {
    match (&rinse.instrument, rinsed_on(bath, rinse)) {
        (None, _) => Evidence::missing(path.key("instrument")),
        (_, None) => Evidence::missing(path.key("at")),
        (Some(id), Some(day)) => {
            let kinds = &[InstrumentKind::SolidsMeter];
            calibration(here.dossier, id, day, path.key("instrument"), kinds)
        }
    }
}
