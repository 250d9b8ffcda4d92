//! What to add to a bath to bring it to a strength.

use rust_decimal::Decimal;

use super::Limits;
use super::Standing;
use super::Worked;
use super::shown;
use crate::app::error::Error;
use crate::solution::Addition;
use crate::solution::Level;
use crate::solution::MakeUp;
use crate::solution::SAFETY;
use crate::solution::TankUnit;
use crate::solution::TankVolume;
use crate::units::Quantity;
use crate::units::Unit;

/// A bath and where it shall go.
#[derive(Debug, Clone, Copy)]
pub struct MakeUpRequest {
    /// Bath there is.
    pub bath: TankVolume,
    /// Its strength.
    pub strength: Quantity,
    /// The strength wanted; left out: the middle of the window.
    pub target: Option<Quantity>,
    /// The window.
    pub window: Limits,
    /// Strength of the concentrate; left out: 100 vol% where strengths are in vol%.
    pub concentrate: Option<Quantity>,
    /// Where the bath shall stand; left out: it may rise as far as it must.
    pub level: Option<Level>,
}

/// Largest tank the calculation takes: no limit where the tank's size is not given.
const ANY_TANK: u32 = 1_000_000;

/// What to draw off and to add. A bath inside its window, for which no target is given, is left alone.
///
/// # Errors
/// Neither target nor window, a target outside the window, and those of [`MakeUp::addition`].
pub fn make_up(request: &MakeUpRequest) -> Result<Worked, Error> {
    let MakeUpRequest { bath, strength, window, .. } = request;
    let mut worked = Worked::new("make-up", format!("Make-up of {bath} of bath at {strength}"));
    let now = window.standing(strength)?;
    let target = match request.target {
        Some(target) => {
            if let Some(Standing::Outside(words)) = window.standing(&target)? {
                return Err(Error::cannot(
                    format!("the target {words}"),
                    "give a --target inside the window",
                ));
            }
            target
        }
        None => {
            if let Some(Standing::Inside(words)) = now {
                worked.to_do.push("nothing need be added".to_owned());
                worked.quantity("strength", "strength", strength);
                worked.standing = Some(Standing::Inside(words));
                return Ok(worked);
            }
            middle(window)?
        }
    };
    let concentrate = concentrate(request.concentrate, &target)?;
    let any = TankVolume { value: Decimal::from(ANY_TANK), unit: bath.unit };
    let level = request.level.unwrap_or(Level::RisesTo(any));
    let make_up = MakeUp { volume: *bath, strength: *strength, target, concentrate, level };
    let addition = make_up.addition()?;
    let mut no = 0;
    let mut say = |words: String| {
        no += 1;
        worked.to_do.push(format!("{no}. {words}"));
    };
    if !addition.draw_off.value.is_zero() {
        say(format!("draw off {} of bath", both(addition.draw_off)));
    }
    if !addition.water.value.is_zero() {
        say(format!("add {} of water", both(addition.water)));
    }
    if !addition.concentrate.value.is_zero() {
        say(format!("add {} of concentrate ({concentrate}), slowly and stirred", both(addition.concentrate)));
    }
    say(format!("mix, let cool, titrate again: expected {target}"));
    let parts = [
        ("draw_off", "bath to draw off", addition.draw_off),
        ("water", "water to add", addition.water),
        ("concentrate", "concentrate to add", addition.concentrate),
        ("ends_at", "the bath then stands at", addition.ends_at),
    ];
    for (word, name, volume) in parts {
        worked.figure(word, name, volume.value, volume.unit.symbol());
    }
    worked.quantity("target", "strength wanted", &target);
    worked.step("V bath there is, c its strength, t strength wanted, s concentrate, W volume at the end");
    worked.step(formula(&make_up, &addition));
    if let Some(reached) = reached(&make_up, &addition) {
        worked.step(format!("check: {reached}"));
    }
    worked.source("volumes taken as adding up (ideal dilution); concentrated nitric acid shrinks a little");
    worked.mind(SAFETY);
    if addition.concentrate.value.is_zero() && !strength.value().is_zero() {
        worked.mind("Here water goes into a bath that is acid: slowly, stirred, and never into concentrate.");
    }
    worked.mind("Heed the code of the place: what may go into which drain, and how much acid may be stored.");
    Ok(worked)
}

fn middle(window: &Limits) -> Result<Quantity, Error> {
    let (Some(least), Some(most)) = (window.at_least, window.at_most) else {
        let message = "no strength to bring the bath to";
        return Err(Error::cannot(message, "give --target, or the window as --at-least and --at-most"));
    };
    let sum = (least.unit() == most.unit()).then(|| least.value().checked_add(most.value())).flatten();
    let half = sum.and_then(|sum| sum.checked_div(Decimal::TWO)).map(|half| half.round_dp(2).normalize());
    let half = half.ok_or_else(|| Error::cannot("the window has no middle", "give --target"))?;
    Ok(Quantity::new(half, least.unit()))
}

fn concentrate(given: Option<Quantity>, target: &Quantity) -> Result<Quantity, Error> {
    match given {
        Some(given) => Ok(given),
        None if target.unit() == Unit::VolumePercent => {
            Ok(Quantity::new(Decimal::ONE_HUNDRED, Unit::VolumePercent))
        }
        None => {
            let message = format!("no strength of the concentrate, and {target} does not say it");
            Err(Error::cannot(message, &format!("give --concentrate in {}", target.unit())))
        }
    }
}

/// A volume in its unit and the other.
fn both(volume: TankVolume) -> String {
    let other = if volume.unit == TankUnit::Litre { TankUnit::UsGallon } else { TankUnit::Litre };
    match volume.to(other) {
        Some(same) => format!("{volume} ({} {})", shown(same.value, 2), other.symbol()),
        None => volume.to_string(),
    }
}

/// The formula that gave an addition, with the numbers put in.
fn formula(make_up: &MakeUp, addition: &Addition) -> String {
    let (c, t, s) = (make_up.strength.value(), make_up.target.value(), make_up.concentrate.value());
    let (Level::RisesTo(level) | Level::EndsAt(level)) = make_up.level;
    let (v, w) = (make_up.volume.value, level.value);
    let Addition { draw_off, water, concentrate, .. } = addition;
    let fits = draw_off.value.is_zero();
    if fits && matches!(make_up.level, Level::RisesTo(_)) {
        return if c <= t {
            format!("concentrate = V · (t − c) / (s − t) = {v} · ({t} − {c}) / ({s} − {t}) = {concentrate}")
        } else {
            format!("water = V · (c − t) / t = {v} · ({c} − {t}) / {t} = {water}")
        };
    }
    if fits {
        return format!(
            "concentrate = (t · W − c · V) / s = ({t} · {w} − {c} · {v}) / {s} = {concentrate}; water = W \
            − V − \
             concentrate = {water}"
        );
    }
    if concentrate.value.is_zero() {
        return format!(
            "draw off V − t · W / c = {v} − {t} · {w} / {c} = {draw_off}, then fill up with water"
        );
    }
    format!(
        "draw off (t · W − c · V − s · (W − V)) / (s − c) = ({t} · {w} − {c} · {v} − {s} · ({w} − {v})) / \
        ({s} − {c}) \
         = {draw_off}, then fill up with concentrate"
    )
}

/// What the rounded volumes come to.
fn reached(make_up: &MakeUp, addition: &Addition) -> Option<String> {
    let (c, s) = (make_up.strength.value(), make_up.concentrate.value());
    let left = make_up.volume.value.checked_sub(addition.draw_off.value)?;
    let acid = addition.concentrate.value;
    let whole = left.checked_add(acid)?.checked_add(addition.water.value)?;
    let holds = c.checked_mul(left)?.checked_add(s.checked_mul(acid)?)?;
    let reached = shown(holds.checked_div(whole)?, 2);
    Some(format!("({c} · {left} + {s} · {acid}) / {whole} = {reached} {}", make_up.target.unit()))
}
