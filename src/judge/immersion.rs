//! What a bath step says of itself: temperatures by log and by eye, time in the bath, and how well its meters read.

use crate::finding::Reason;
use crate::judge::Dossier;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::judge::calibration::uncertainty;
use crate::judge::compare::close;
use crate::judge::evidence::Uncertainty;
use crate::judge::raw;
use crate::judge::step::quantity;
use crate::judge::step::used_at;
use crate::path::Path;
use crate::record::Immersion;

/// Temperatures of a bath: the least and the greatest by its log where there is one, and what was read by eye.
pub(super) fn temperatures(dossier: &Dossier, immersion: &Immersion, path: &Path) -> Vec<Evidence> {
    let bath = dossier.baths.iter().find(|b| b.bath == immersion.bath);
    let gauge = bath.and_then(|b| b.thermometer.as_deref());
    let known = metered(dossier, immersion, gauge);
    let mut all = raw::extremes(dossier, immersion, path, "temperature", gauge);
    if all.is_empty() || immersion.temperature.is_some() {
        all.push(quantity(immersion.temperature, path.key("temperature")).with(known.clone()));
    }
    if let Some(out) = immersion.temperature_out {
        all.push(Evidence::record(path.key("temperature_out"), Found::Quantity(out)).with(known));
    }
    all
}

/// The uncertainty of a meter on the day of the step.
pub(super) fn metered(dossier: &Dossier, immersion: &Immersion, meter: Option<&str>) -> Uncertainty {
    uncertainty(dossier, meter, used_at(immersion).map(|at| at.date()))
}

/// Time in the bath: from going in to coming out, else by the timer; both must agree to the minute they are
/// written in.
pub(super) fn time(immersion: &Immersion, path: &Path) -> Evidence {
    let span = match (&immersion.in_at, &immersion.out_at) {
        (Some(into), Some(out)) => match out.since(into) {
            Some(span) => Some(span),
            None => {
                let reason = Reason::Contradiction("out before in".to_owned());
                return Evidence::record(path.key("out"), Found::Missing(reason));
            }
        },
        _ => None,
    };
    match (span, immersion.time) {
        (Some(span), Some(timer)) if !close(&span, &timer) => Evidence::record(
            path.key("time"),
            Found::Missing(Reason::Contradiction(format!("{span} from in to out, {timer} by the timer"))),
        ),
        // The shorter of two that agree: the one that could fail.
        (Some(span), Some(timer)) => {
            let shorter = if timer.compare(&span) == Some(std::cmp::Ordering::Less) { timer } else { span };
            Evidence::record(path.key("time"), Found::Quantity(shorter))
        }
        (Some(span), None) => Evidence::record(path.key("out"), Found::Quantity(span)),
        (None, Some(timer)) => Evidence::record(path.key("time"), Found::Quantity(timer)),
        (None, None) => Evidence::missing(path.key("out")),
    }
}
