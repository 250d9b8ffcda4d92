//! How strong a bath was when it was used: by the titration of the analysis in force where it is on record, else as
//! somebody wrote down; and that the two agree.

use crate::computed;
use crate::finding::Document;
use crate::finding::Reason;
use crate::judge::Dossier;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::judge::evidence::Uncertainty;
use crate::judge::step::Here;
use crate::judge::step::bath_path;
use crate::judge::step::not_in_book;
use crate::judge::step::used_at;
use crate::path::Path;
use crate::record::Immersion;
use crate::shop::Analysis;
use crate::shop::Constituent;
use crate::solution::Analyte;
use crate::units::Quantity;

/// The constituent a titration is of; none for what no bath is judged by.
const fn constituent_of(analyte: Analyte) -> Option<Constituent> {
    match analyte {
        Analyte::NitricAcid => Some(Constituent::NitricAcid),
        Analyte::CitricAcid => Some(Constituent::CitricAcid),
        Analyte::SodiumDichromate => Some(Constituent::SodiumDichromate),
        Analyte::Chloride => None,
    }
}

/// What a titration comes to in the measure a constituent is stated in, with its expanded uncertainty where one was
/// reckoned.
type Titrated = Result<(Quantity, Option<Quantity>), Reason>;

/// Titrations of one constituent, each with its place in the analysis.
fn titrated(analysis: &Analysis, constituent: Constituent) -> impl Iterator<Item = (usize, Titrated)> {
    let its = analysis.titrations.iter().enumerate();
    its.filter(move |(_, t)| constituent_of(t.what) == Some(constituent)).map(move |(j, titration)| {
        let answer = titration.answer().map_err(|error| Reason::Unreadable(error.to_string()));
        let dimension = dimension_of(constituent);
        let found = answer.and_then(|answer| {
            let mut strengths = answer.strengths.iter().filter_map(|s| Some((s.quantity()?, s.expanded)));
            let found = strengths.find(|(q, _)| Some(q.dimension()) == dimension);
            let lacking =
                || Reason::Unknown("the density the titration needs for per cent by mass".to_owned());
            let (value, expanded) = found.ok_or_else(lacking)?;
            Ok((value, expanded.map(|u| Quantity::new(u, value.unit()))))
        });
        (j, found)
    })
}

/// What a constituent is stated in, as [`Constituent`] says.
const fn dimension_of(constituent: Constituent) -> Option<crate::units::Dimension> {
    use crate::units::Dimension;
    match constituent {
        Constituent::NitricAcid => Some(Dimension::VolumeFraction),
        Constituent::CitricAcid | Constituent::SodiumDichromate => Some(Dimension::MassFraction),
        _ => None,
    }
}

/// Evidence for the strength of the bath a step was made in.
pub(super) fn strength(
    here: &Here,
    path: &Path,
    immersion: &Immersion,
    constituent: Constituent,
) -> Vec<Evidence> {
    let Some(bath) = here.bath(&immersion.bath) else {
        return vec![not_in_book(path.key("bath"), "bath", &immersion.bath)];
    };
    let Some(when) = used_at(immersion) else { return vec![Evidence::missing(path.key("in"))] };
    let book = bath_path(&bath.bath).key("analyses");
    let Some((_, analysis)) = bath.analysis_at(&when) else {
        return vec![Evidence::at(Document::Baths, book, Found::Missing(Reason::NoAnalysis))];
    };
    let place = book.key(&analysis.at.to_string());
    let computed = titrated(analysis, constituent).map(|(j, found)| {
        let at = place.key("titrations").index(j);
        match found {
            Ok((value, expanded)) => Evidence::at(Document::Baths, at, Found::Quantity(value))
                .with(expanded.map_or_else(unstated, Uncertainty::Known)),
            Err(reason) => Evidence::at(Document::Baths, at, Found::Missing(reason)),
        }
    });
    let computed: Vec<Evidence> = computed.collect();
    if !computed.is_empty() {
        return computed;
    }
    let place = place.key("found");
    vec![match analysis.found.get(&constituent) {
        Some(value) => Evidence::at(Document::Baths, place, Found::Quantity(*value)).with(unstated()),
        None => Evidence::at(Document::Baths, place, Found::Missing(Reason::NotAnalysed)),
    }]
}

fn unstated() -> Uncertainty {
    Uncertainty::Unknown("the uncertainty of the bath analysis".to_owned())
}

/// That what was written down agrees with the titrations it comes from.
pub(super) fn agree(dossier: &Dossier) -> Vec<Evidence> {
    let mut all = Vec::new();
    for bath in &dossier.baths {
        for analysis in &bath.analyses {
            let place = bath_path(&bath.bath).key("analyses").key(&analysis.at.to_string());
            for (constituent, typed) in &analysis.found {
                for (_, found) in titrated(analysis, *constituent) {
                    let Ok((value, _)) = found else { continue }; // its own gap, where the strength is judged
                    let found = Found::Own {
                        observed: format!("{}: {typed} typed", bath.bath),
                        limit: format!("{value} by the titration"),
                        met: computed::agree(typed, &value) == Some(true),
                    };
                    all.push(Evidence::at(Document::Baths, place.key("found"), found));
                }
            }
        }
    }
    all
}
