//! What to draw off, and how much concentrate and water to add, to bring a bath to its strength.

use std::fmt;
use std::str::FromStr;

use rust_decimal::Decimal;
use serde::Deserialize;
use serde::Deserializer;
use serde::Serialize;
use serde::Serializer;

use crate::solution::exact::half_even;
use crate::solution::exact::product;
use crate::solution::exact::quotient;
use crate::solution::fault::SolutionError;
use crate::units::Quantity;
use crate::units::Unit;
use crate::units::plain_decimal;

/// To be printed with every addition.
pub const SAFETY: &str = "Add acid to water, slowly and stirred, never water to acid. Work by the safety \
    data sheets of the concentrate and of the bath, and by the rules of the place for spent acid, \
    ventilation and protective clothing. Draw off before adding. Mix, let cool, and titrate again \
    before parts go in.";

/// Unit of a tank's volume.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum TankUnit {
    /// Litre.
    Litre,
    /// US liquid gallon, 3.785411784 L exactly (231 cubic inches).
    UsGallon,
}

impl TankUnit {
    /// As printed.
    pub const fn symbol(self) -> &'static str {
        match self {
            TankUnit::Litre => "L",
            TankUnit::UsGallon => "US gal",
        }
    }

    fn litres(self) -> Decimal {
        match self {
            TankUnit::Litre => Decimal::ONE,
            TankUnit::UsGallon => Decimal::new(3_785_411_784, 9),
        }
    }
}

/// A volume of bath: `400 L`, `100 US gal`.
#[derive(Debug, Clone, Copy)]
pub struct TankVolume {
    /// The number, with its trailing zeros.
    pub value: Decimal,
    /// The unit it was recorded in.
    pub unit: TankUnit,
}

impl PartialEq for TankVolume {
    /// Equal as recorded: same unit and same digits.
    fn eq(&self, other: &Self) -> bool {
        self.unit == other.unit && self.value.to_string() == other.value.to_string()
    }
}

impl Eq for TankVolume {}

impl TankVolume {
    /// In the other unit, to 0.001; `None` on overflow.
    pub fn to(self, unit: TankUnit) -> Option<TankVolume> {
        if unit == self.unit {
            return Some(self);
        }
        let exact = quotient(self.value.checked_mul(self.unit.litres())?, unit.litres())?;
        Some(TankVolume { value: half_even(exact, 3), unit })
    }
}

impl fmt::Display for TankVolume {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.value, self.unit.symbol())
    }
}

impl FromStr for TankVolume {
    type Err = SolutionError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let wrong = || SolutionError::TankVolume(text.to_owned());
        let trimmed = text.trim();
        let end = trimmed.find(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-')).ok_or_else(wrong)?;
        let (number, unit) = trimmed.split_at(end);
        let unit = match unit.trim() {
            "L" | "l" => TankUnit::Litre,
            "US gal" => TankUnit::UsGallon,
            _ => return Err(wrong()),
        };
        Ok(TankVolume { value: plain_decimal(number).ok_or_else(wrong)?, unit })
    }
}

impl Serialize for TankVolume {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for TankVolume {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

/// Where the bath shall stand after the addition.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Level {
    /// It rises by what is added, up to the tank's volume; if that is not enough room, it ends full.
    RisesTo(TankVolume),
    /// It ends at this volume, filled up with water; what has no room is drawn off first.
    EndsAt(TankVolume),
}

/// A bath to be brought to a strength. All strengths in one of vol%, g/L and mol/L; vol% on one basis.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MakeUp {
    /// Bath there is; nought for an empty tank that is filled to a level.
    pub volume: TankVolume,
    /// Its strength.
    pub strength: Quantity,
    /// Strength wanted.
    pub target: Quantity,
    /// Strength of the concentrate; `100 vol%` where per cent by volume is of this concentrate.
    pub concentrate: Quantity,
    /// Where it shall stand.
    pub level: Level,
}

/// What to do, in this order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Addition {
    /// Bath to draw off.
    pub draw_off: TankVolume,
    /// Water to add.
    pub water: TankVolume,
    /// Concentrate to add.
    pub concentrate: TankVolume,
    /// Where the bath then stands.
    pub ends_at: TankVolume,
}

/// Digits after the point of a volume to add, in the unit of the tank.
const PLACES: u32 = 2;

impl MakeUp {
    /// The smallest draw-off that leaves room, and what to add, each rounded to 0.01 by itself.
    ///
    /// With `V` volume, `c` strength, `t` target, `s` concentrate, `W` the final volume, volumes adding up
    /// (ideal dilution; concentrated nitric acid shrinks a little on dilution, so titrate again):
    /// - level rises: concentrate `V (t − c) / (s − t)`, or water `V (c − t) / t` into a bath that is too
    ///   strong;
    /// - level given: concentrate `(t W − c V) / s`, the rest water;
    /// - no room for that: draw off `(t W − c V − s (W − V)) / (s − c)`, then concentrate only;
    /// - too strong for that: draw off `V − t W / c`, then water only.
    ///
    /// Errors: strengths or volumes in different units, out of range, a concentrate not stronger than the
    /// target.
    pub fn addition(&self) -> Result<Addition, SolutionError> {
        let (Level::RisesTo(level) | Level::EndsAt(level)) = self.level;
        let (c, t, s) = self.strengths()?;
        if level.unit != self.volume.unit {
            return Err(SolutionError::TwoUnits { found: format!("{} and {level}", self.volume) });
        }
        let rises = matches!(self.level, Level::RisesTo(_));
        let v = held("volume of the bath", &self.volume, !rises)?;
        let tank = held("volume of the tank", &level, false)?;
        if rises && v > tank {
            return Err(SolutionError::Range {
                field: "volume of the bath",
                found: self.volume.to_string(),
                expected: format!("at most the tank's {level}"),
            });
        }
        let [draw, water, acid, end] = {
            let risen = if rises { rise(v, c, t, s) } else { None };
            match risen {
                Some(done @ [_, _, _, end]) if end <= tank => Some(done),
                _ => fill(v, c, t, s, tank),
            }
        }
        .ok_or(SolutionError::Overflow("the make-up"))?;
        let unit = self.volume.unit;
        let volume = |value: Decimal| TankVolume { value: half_even(value, PLACES), unit };
        Ok(Addition {
            draw_off: volume(draw),
            water: volume(water),
            concentrate: volume(acid),
            ends_at: volume(end),
        })
    }

    fn strengths(&self) -> Result<(Decimal, Decimal, Decimal), SolutionError> {
        let (bath, target, concentrate) = (self.strength, self.target, self.concentrate);
        let unit = target.unit();
        let known = [Unit::VolumePercent, Unit::GramPerLitre, Unit::MolePerLitre].contains(&unit);
        if !known || bath.unit() != unit || concentrate.unit() != unit {
            let found = format!("{bath}, {target} and {concentrate}");
            return Err(SolutionError::Unlike { found });
        }
        let most = Decimal::from(if unit == Unit::VolumePercent { 100 } else { 2000 });
        let check = |field: &'static str, q: Quantity, zero: bool| {
            let v = q.value();
            if v <= most && (v > Decimal::ZERO || (zero && v.is_zero())) {
                return Ok(v);
            }
            let least = if zero { "from 0" } else { "more than 0" };
            let expected = format!("{least} and at most {most} {unit}");
            Err(SolutionError::Range { field, found: q.to_string(), expected })
        };
        let c = check("strength of the bath", bath, true)?;
        let t = check("target", target, false)?;
        let s = check("strength of the concentrate", concentrate, false)?;
        if s <= t {
            return Err(SolutionError::Weak { concentrate, target });
        }
        Ok((c, t, s))
    }
}

/// A volume a tank may hold; nought only where `empty` allows it.
fn held(field: &'static str, found: &TankVolume, empty: bool) -> Result<Decimal, SolutionError> {
    let (value, most) = (found.value, Decimal::from(1_000_000));
    if value <= most && (value > Decimal::ZERO || (empty && value.is_zero())) {
        return Ok(value);
    }
    let least = if empty { "from 0" } else { "more than 0" };
    let expected = format!("{least} and at most {most} {}", found.unit.symbol());
    Err(SolutionError::Range { field, found: found.to_string(), expected })
}

/// Draw-off, water, concentrate, end. Nothing is drawn off, the bath rises.
fn rise(v: Decimal, c: Decimal, t: Decimal, s: Decimal) -> Option<[Decimal; 4]> {
    let (water, acid) = if c <= t {
        let lacking = v.checked_mul(t.checked_sub(c)?)?;
        (Decimal::ZERO, quotient(lacking, s.checked_sub(t)?)?)
    } else {
        (quotient(v.checked_mul(c.checked_sub(t)?)?, t)?, Decimal::ZERO)
    };
    Some([Decimal::ZERO, water, acid, v.checked_add(water)?.checked_add(acid)?])
}

/// Draw-off, water, concentrate, end. The bath ends at `w`, with the least drawn off.
fn fill(v: Decimal, c: Decimal, t: Decimal, s: Decimal, w: Decimal) -> Option<[Decimal; 4]> {
    let zero = Decimal::ZERO;
    let room = w.checked_sub(v)?;
    let lacking = product(&[t, w])?.checked_sub(product(&[c, v])?)?;
    let acid = quotient(lacking, s)?;
    let water = room.checked_sub(acid)?;
    if acid >= zero && water >= zero {
        return Some([zero, water, acid, w]);
    }
    if acid < zero && t <= c {
        // More acid than wanted: the bath keeps `t w / c` and takes water.
        let kept = quotient(product(&[t, w])?, c)?;
        return Some([v.checked_sub(kept)?, w.checked_sub(kept)?, zero, w]);
    }
    // No room for water: bath goes, concentrate comes. Here the concentrate is stronger than the bath, for
    // `s > t` and `(s − c) v > (s − t) w`.
    let draw = quotient(lacking.checked_sub(product(&[s, room])?)?, s.checked_sub(c)?)?;
    Some([draw, zero, room.checked_add(draw)?, w])
}
