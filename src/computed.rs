//! What was computed of a raw file: a logger's recording of a bath, a profile trace of a surface.
//!
//! The tool reads the file when a lot is judged; what came of it rides in the dossier with the file's digest, so that
//! the judgement can be repeated without the file, and the computation repeated with it.

use rust_decimal::Decimal;
use serde::Deserialize;
use serde::Serialize;

use crate::moment::Moment;
use crate::path::Path;
use crate::units::Quantity;
use crate::units::Unit;

/// One raw file, where the record names it, and what came of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Computed {
    /// Where it lay in the shop folder.
    pub path: String,
    /// SHA-256 of its bytes, hexadecimal; empty when it was not there.
    pub sha256: String,
    /// The entry of the whole record that names it: `runs[0].steps[1].passivate.log`.
    pub named_at: Path,
    /// What came of it.
    pub found: Reading,
}

/// What came of a raw file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Reading {
    /// A logger's recording.
    Log(Box<LogFigures>),
    /// A profile trace.
    Trace(Box<TraceFigures>),
    /// Nothing could be computed of it: what was found, what was expected, how to mend it.
    Unreadable(String),
}

/// What a logger recorded while pieces were in a bath.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LogFigures {
    /// The logger, by its id in the shop's book.
    pub logger: String,
    /// Readings in the file.
    pub rows: u64,
    /// Readings in the interval.
    pub inside: u64,
    /// When the interval begins.
    pub from: Moment,
    /// When it ends.
    pub to: Moment,
    /// How the interval was found, in words.
    pub interval: String,
    /// The longest time without a reading in the interval, its ends counted.
    pub longest_gap: Quantity,
    /// The longest time without a reading that this logger may leave.
    pub allowed_gap: Quantity,
    /// What it recorded, channel by channel.
    pub channels: Vec<ChannelFigures>,
}

/// One channel of a logger over the interval.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ChannelFigures {
    /// What it measures: `temperature`.
    pub measures: String,
    /// The calibrated sensor, by its id in the shop's book, where the logger names one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub instrument: Option<String>,
    /// The least reading.
    pub minimum: Quantity,
    /// When it was first read.
    pub minimum_at: Moment,
    /// The greatest reading.
    pub maximum: Quantity,
    /// When it was first read.
    pub maximum_at: Moment,
    /// The mean over time, one digit finer than the readings.
    pub mean: Quantity,
    /// The lower limit a call-out sets for it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_least: Option<Quantity>,
    /// The upper limit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_most: Option<Quantity>,
    /// Stretches beyond these limits.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub excursions: Vec<Excursion>,
    /// The integral of a current over the interval.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub charge: Option<Quantity>,
    /// Readings kept for the picture, no extreme left out: seconds from the interval's begin and value,
    /// `0 78.2;30 78.4`.
    pub curve: String,
}

/// A stretch of readings beyond a limit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Excursion {
    /// The limit.
    pub limit: Quantity,
    /// Whether the readings lie above it; else below.
    pub above: bool,
    /// When it begins.
    pub from: Moment,
    /// How long it lasts.
    pub lasts: Quantity,
    /// The reading furthest beyond.
    pub worst: Quantity,
}

/// What a profile trace comes to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TraceFigures {
    /// Points of the trace.
    pub points: u64,
    /// Distance of two points, in micrometres.
    pub spacing: String,
    /// Cut-off of the filter.
    pub cutoff: Quantity,
    /// Why that one.
    pub cutoff_by: String,
    /// Short-wave cut-off, where the cut-off has one in ISO 3274.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub short_cutoff: Option<Quantity>,
    /// Length evaluated.
    pub evaluated: Quantity,
    /// Sampling lengths in it.
    pub sampling_lengths: u64,
    /// How the ends of the trace were handled, in words.
    pub ends: String,
    /// Arithmetical mean deviation.
    pub ra: Quantity,
    /// Root mean square deviation.
    pub rq: Quantity,
    /// Mean height of the sampling lengths.
    pub rz: Quantity,
    /// Total height.
    pub rt: Quantity,
    /// Skewness.
    pub rsk: String,
    /// Kurtosis.
    pub rku: String,
    /// Ra of each sampling length.
    pub each_ra: Vec<Quantity>,
    /// What a reader should know: a coarse spacing, a short trace.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub warnings: Vec<String>,
    /// Points of the profile kept for the picture, no extreme left out: micrometres along and up, `0 0.12;4 0.15`.
    pub profile: String,
    /// The same of the mean line.
    pub mean_line: String,
}

/// How the interval was found where both its ends were written down.
pub const RECORDED: &str = "in and out as recorded";

impl LogFigures {
    /// Whether the log itself tells when the pieces were in, at one end or both.
    pub fn tells_times(&self) -> bool {
        self.interval != RECORDED
    }

    /// Longest time between two points of a kept curve that one line joins, in seconds: a curve keeps a reading or two
    /// of each hundredth of the interval, so that neighbours without a gap lie up to two of these apart. Where the log
    /// has a gap longer than it may, no more than what it may is joined.
    pub fn joined_over(&self) -> Quantity {
        let allowed = self.allowed_gap.value_in(Unit::Second).unwrap_or_default().ceil();
        let whole = self.longest_gap.compare(&self.allowed_gap) != Some(std::cmp::Ordering::Greater);
        let lasts = self.to.instant().signed_duration_since(self.from.instant()).num_seconds().max(0);
        let apart = if whole { Decimal::from(lasts.saturating_add(49) / 50) } else { Decimal::ZERO };
        Quantity::new(allowed.checked_add(apart).unwrap_or(allowed), Unit::Second)
    }

    /// The channel that measures this.
    pub fn channel(&self, measures: &str) -> Option<&ChannelFigures> {
        self.channels.iter().find(|channel| channel.measures == measures)
    }
}

impl TraceFigures {
    /// A roughness parameter by its name, in micrometres.
    pub fn parameter(&self, name: &str) -> Option<Quantity> {
        match name {
            "Ra" => Some(self.ra),
            "Rq" => Some(self.rq),
            "Rz" => Some(self.rz),
            "Rt" => Some(self.rt),
            _ => None,
        }
    }
}

impl Computed {
    /// The log's figures, when it is one.
    pub const fn log(&self) -> Option<&LogFigures> {
        match &self.found {
            Reading::Log(figures) => Some(figures),
            _ => None,
        }
    }

    /// The trace's figures, when it is one.
    pub const fn trace(&self) -> Option<&TraceFigures> {
        match &self.found {
            Reading::Trace(figures) => Some(figures),
            _ => None,
        }
    }
}

/// A kept curve as numbers: pairs of what lies along and what was read.
pub fn curve(text: &str) -> Vec<(rust_decimal::Decimal, rust_decimal::Decimal)> {
    let pair = |point: &str| {
        let (along, value) = point.split_once(' ')?;
        Some((along.parse().ok()?, value.parse().ok()?))
    };
    text.split(';').filter_map(pair).collect()
}

/// The text of a curve.
pub fn curve_text(
    points: impl IntoIterator<Item = (rust_decimal::Decimal, rust_decimal::Decimal)>,
) -> String {
    let all: Vec<String> = points.into_iter().map(|(along, value)| format!("{along} {value}")).collect();
    all.join(";")
}

/// Whether a typed value and a computed one agree: they differ by no more than half a step of the last place of the
/// coarser of the two. `None` when they measure different things.
pub fn agree(typed: &Quantity, computed: &Quantity) -> Option<bool> {
    between(typed, computed, computed)
}

/// Whether a typed value lies between two computed ones, give or take half a step of the last place of the coarsest.
pub fn between(typed: &Quantity, least: &Quantity, most: &Quantity) -> Option<bool> {
    let unit = least.unit();
    let value = typed.value_in(unit)?;
    let halves = [typed.precision_in(unit)?, least.precision_in(unit)?, most.precision_in(unit)?];
    let precision = halves.into_iter().max()?;
    let low = least.value_in(unit)?.checked_sub(precision)?;
    let high = most.value_in(unit)?.checked_add(precision)?;
    Some(low <= value && value <= high)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn q(text: &str) -> Quantity {
        text.parse().unwrap()
    }

    /// By hand: half a step of the coarser value is all that reading it can have moved.
    #[test]
    fn typed_and_computed() {
        for (typed, computed, same) in [
            ("78 °F", "78.4 °F", true),
            ("78 °F", "78.5 °F", true),
            ("78 °F", "78.6 °F", false),
            ("78.0 °F", "78.4 °F", false),
            ("0.41 µm", "0.4149 µm", true),
            ("0.41 µm", "0.4151 µm", false),
            ("16 µin", "0.4064 µm", true),
            ("16 µin", "0.4192 µm", false),
            ("25 °C", "77.9 °F", true),
            ("25 °C", "78.0 °F", false),
        ] {
            assert_eq!(agree(&q(typed), &q(computed)), Some(same), "{typed} and {computed}");
        }
        assert_eq!(agree(&q("78 °F"), &q("78 min")), None);
        assert_eq!(between(&q("78 °F"), &q("70.1 °F"), &q("77.4 °F")), Some(false));
        assert_eq!(between(&q("78 °F"), &q("70.1 °F"), &q("77.6 °F")), Some(true));
    }

    #[test]
    fn a_curve_is_written_and_read_back() {
        let points = curve("0 78.20;30 -1.5");
        assert_eq!(curve_text(points.clone()), "0 78.20;30 -1.5");
        assert_eq!(points.len(), 2);
        assert_eq!(curve(""), []);
        assert_eq!(curve("1;a b;2 3").len(), 1);
    }
}
