//! What to machine so that the finished size is in tolerance.

use super::Worked;
use crate::app::error::Error;
use crate::removal;
use crate::removal::Band;
use crate::removal::Feature;
use crate::removal::Size;
use crate::units::Quantity;

/// What is sized.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Asked {
    /// A size of the part, to machine for.
    Size(Feature, Size),
    /// A 60° thread: only the change of its pitch diameter.
    Thread,
}

/// A finished size and what a run takes off.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct AllowanceRequest {
    /// What is sized.
    pub of: Asked,
    /// Removal per surface, from and to.
    pub removal: Band,
    /// Digits after the point of the size to machine to.
    pub digits: u32,
}

/// The size to machine to, rounded inward, or the change of a thread's pitch diameter.
///
/// # Errors
/// A band the tolerance cannot hold, limits the wrong way round, figures that are no lengths.
pub fn allowance(request: &AllowanceRequest) -> Result<Worked, Error> {
    let Band { from, to } = request.removal;
    match request.of {
        Asked::Thread => {
            let mut worked = Worked::new("allowance", "Change of the pitch diameter of a 60° thread");
            for (word, name, removal) in [("least", "least change", from), ("most", "greatest change", to)] {
                let change = removal::thread_pitch_change(&removal)?;
                worked.quantity(word, name, &change);
                worked.step(format!("{name} = {} · {removal} = {change}", removal::THREAD_FACTOR));
            }
            worked.source("four times the removal per surface for 60° threads: common practice");
            worked.mind("An outside thread gets smaller by it, an inside one larger.");
            Ok(worked)
        }
        Asked::Size(feature, finished) => {
            let size = removal::machine_to(feature, &finished, &request.removal, request.digits)?;
            let of =
                format!("Size to machine to: {feature} finished from {} to {}", finished.min, finished.max);
            let mut worked = Worked::new("allowance", of);
            worked.quantity("machine_from", "machine to at least", &size.min);
            worked.quantity("machine_to", "machine to at most", &size.max);
            let n = feature.surfaces();
            let (min, max) = (finished.min, finished.max);
            let (sign, low, high) = if feature.grows() { ('−', from, to) } else { ('+', to, from) };
            worked.step(format!("at least = {min} {sign} {n} · {low} = {}, rounded up", size.min));
            worked.step(format!("at most = {max} {sign} {n} · {high} = {}, rounded down", size.max));
            let way = if feature.grows() { "larger" } else { "smaller" };
            worked.source(format!(
                "removal is per surface, {n} of which lie across it; it gets {way} by polishing"
            ));
            worked.mind(
                "Both ends hold whatever the run takes off within its band, edges and corners excepted: more \
                         comes off there.",
            );
            Ok(worked)
        }
    }
}

/// A finished size: its two limits, or a nominal size and the same tolerance either way.
///
/// # Errors
/// Neither or both, and those of [`Size::nominal`].
pub fn finished(
    nominal: Option<(Quantity, Quantity)>,
    limits: Option<(Quantity, Quantity)>,
) -> Result<Size, Error> {
    match (nominal, limits) {
        (Some((size, tolerance)), None) => Ok(Size::nominal(size, tolerance)?),
        (None, Some((min, max))) => Ok(Size { min, max }),
        _ => Err(Error::cannot(
            "the finished size is not known",
            "give --size with --tolerance, or --min with --max; for a thread give --across thread alone",
        )),
    }
}
