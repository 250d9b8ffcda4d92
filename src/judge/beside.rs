//! Steps beside the treatment itself: scale taken off before it, neutralisation and the bake against hydrogen
//! after it.

use crate::finding::Reason;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::judge::immersion::temperatures;
use crate::judge::immersion::time;
use crate::judge::step::Here;
use crate::judge::step::quantity;
use crate::pack::Subject;
use crate::record::Immersion;
use crate::record::Step;

/// Evidence of one treatment for one of these subjects.
pub(super) fn evidence(here: &Here, subject: Subject) -> Vec<Evidence> {
    match subject {
        Subject::Descaled => {
            let before = here.run.steps.iter().take(here.step);
            vec![match before.into_iter().find(|s| matches!(s, Step::Descale(_))) {
                Some(step) => done(here, step),
                None => Evidence::missing(here.path.clone()),
            }]
        }
        Subject::Neutralized => vec![match here.find(|s| matches!(s, Step::Neutralize(_))) {
            Some((_, step, _)) => done(here, step),
            None => Evidence::missing(here.path.clone()),
        }],
        _ => match here.find(|s| matches!(s, Step::Bake(_))) {
            Some((at, step, bake)) => baked(here, at, step, bake, subject),
            None => vec![Evidence::missing(here.path.clone())],
        },
    }
}

fn done(here: &Here, step: &Step) -> Evidence {
    Evidence::record(here.path.clone(), Found::Fact { shown: step.key().to_owned(), holds: true })
}

fn baked(here: &Here, at: usize, step: &Step, bake: &Immersion, subject: Subject) -> Vec<Evidence> {
    let path = here.path_of(at, step);
    match subject {
        Subject::HydrogenReliefTemperature => temperatures(here.dossier, bake, &path),
        Subject::HydrogenReliefTime => vec![time(bake, &path)],
        Subject::HydrogenReliefDelay => {
            let treated = here.immersion.out_at.or(here.immersion.in_at);
            let (Some(treated), Some(into)) = (treated, bake.in_at) else {
                return vec![quantity(None, path.key("in"))];
            };
            vec![Evidence::record(
                path.key("in"),
                match into.since(&treated) {
                    Some(delay) => Found::Quantity(delay),
                    None => Found::Missing(Reason::Contradiction(
                        "the bake begins before the treatment ends".to_owned(),
                    )),
                },
            )]
        }
        _ => vec![done(here, step)],
    }
}
