//! From a trace to a result: form off, short waves off, mean line, evaluation length, parameters.

use std::fmt;

use rust_decimal::Decimal;

use crate::numeric;
use crate::units::Quantity;
use crate::units::Unit;

use super::cutoff::stylus_row;
use super::filter::FilterError;
use super::filter::GaussianFilter;
use super::micrometres;
use super::parameters::Parameters;
use super::parameters::RawParameters;
use super::parameters::raw_parameters;
use super::parameters::stretch;
use super::profile::Form;
use super::profile::Profile;
use super::profile::real;

/// Points of a cut-off that any row of ISO 3274 has at least: 80 µm at 0.5 µm.
const POINTS_OF_A_CUTOFF: f64 = 160.0;
/// Most sampling lengths.
const MOST_LENGTHS: u32 = 1_000;

/// What is done where the weights of the filter reach beyond the trace.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Ends {
    /// The evaluation length lies in the middle; at least half a cut-off of run-in and run-out is left out.
    #[default]
    Drop,
    /// The evaluation length may reach to the ends; there the weights that meet the trace are divided by
    /// their sum.
    Normalise,
}

/// How a trace is evaluated.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Settings {
    /// Cut-off λc, which is the sampling length.
    pub cutoff: Quantity,
    /// Short-wave cut-off λs; `None` leaves short waves in.
    pub short_cutoff: Option<Quantity>,
    /// What is taken off first.
    pub form: Form,
    /// Sampling lengths of the evaluation length.
    pub lengths: u32,
    /// What is done at the ends.
    pub ends: Ends,
    /// Digits after the point of results in µm.
    pub places: u32,
}

impl Settings {
    /// The default for a cut-off: straight line off, no λs, five sampling lengths, run-in and run-out
    /// dropped, results to 0.0001 µm.
    pub const fn new(cutoff: Quantity) -> Self {
        Settings { cutoff, short_cutoff: None, form: Form::Line, lengths: 5, ends: Ends::Drop, places: 4 }
    }
}

/// What was done at the ends. Lengths in µm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum EndsDone {
    /// A cut-off or more was left out on each side: what the weights miss is below 10⁻⁷ of them.
    FullRunIn {
        /// Left out before the evaluation length.
        before: f64,
        /// Left out after it.
        after: f64,
    },
    /// Between half a cut-off and one was left out: at the very ends the weights miss up to 0.4 %.
    HalfRunIn {
        /// Left out before the evaluation length.
        before: f64,
        /// Left out after it.
        after: f64,
    },
    /// Weights were divided by the sum of those that meet the trace, as asked.
    Normalised {
        /// Left out before the evaluation length.
        before: f64,
        /// Left out after it.
        after: f64,
    },
}

impl fmt::Display for EndsDone {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            EndsDone::FullRunIn { before, after } => {
                write!(
                    f,
                    "run-in of {before:.1} µm and run-out of {after:.1} µm left out, at least one cut-off \
                    each"
                )
            }
            EndsDone::HalfRunIn { before, after } => write!(
                f,
                "run-in of {before:.1} µm and run-out of {after:.1} µm left out, at least half a cut-off \
                each; near the ends \
                 the filter's weights that meet the trace were divided by their sum"
            ),
            EndsDone::Normalised { before, after } => write!(
                f,
                "run-in of {before:.1} µm and run-out of {after:.1} µm left out, less than half a cut-off; \
                near the ends the \
                 filter's weights that meet the trace were divided by their sum, as asked"
            ),
        }
    }
}

/// Something about the result that its reader has to know.
#[derive(Debug, Clone, PartialEq)]
pub enum Warning {
    /// Points lie further apart than ISO 3274 allows for the cut-off (spacing recalled).
    Spacing {
        /// Found, in µm.
        found: f64,
        /// Allowed, in µm.
        most: f64,
    },
    /// Less run-in than a cut-off.
    ShortRunIn,
    /// Fewer or more than five sampling lengths.
    Lengths(u32),
    /// No short-wave cut-off was used.
    NoShortCutoff,
    /// Fewer than five points in the short-wave cut-off: its Gaussian is drawn by too few weights.
    CoarseShortCutoff,
    /// Ra at or below 0.1 µm with a cut-off above 0.25 mm.
    FineForCutoff,
}

impl fmt::Display for Warning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Warning::Spacing { found, most } => write!(
                f,
                "points lie {found} µm apart, at most {most} µm was expected for this cut-off (recalled of \
                ISO 3274): \
                 peaks between points are missed"
            ),
            Warning::ShortRunIn => f.write_str(
                "less than one cut-off of run-in or run-out: values at the \
            ends are less sure",
            ),
            Warning::Lengths(found) => {
                write!(
                    f,
                    "{found} sampling lengths instead of five: write their number beside the \
                parameter, as in Ra{found}"
                )
            }
            Warning::NoShortCutoff => f.write_str("no short-wave cut-off: noise counts as roughness"),
            Warning::CoarseShortCutoff => {
                f.write_str("fewer than five points in the short-wave cut-off: it is only roughly kept")
            }
            Warning::FineForCutoff => f.write_str(
                "Ra is 0.1 µm (about 4 µin) or less, where the default cut-off is 0.25 mm or shorter; a \
                longer one was \
                 used, as may be ordered, but values of other cut-offs do not compare",
            ),
        }
    }
}

/// Values of one sampling length in µm, rounded; what the 16 % rule counts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SamplingLength {
    /// Ra.
    pub ra: Decimal,
    /// Rq.
    pub rq: Decimal,
    /// Rz: highest peak and deepest valley together.
    pub rz: Decimal,
}

/// Curves over the evaluation length in µm, for pictures.
#[derive(Debug, Clone, PartialEq)]
pub struct Curves {
    /// Distance of two points.
    pub spacing: f64,
    /// Place of the first point of the evaluation length in the trace, from 0.
    pub first: usize,
    /// Primary profile: form and short waves off.
    pub primary: Vec<f64>,
    /// Mean line: the waviness.
    pub mean_line: Vec<f64>,
    /// Roughness profile: primary less mean line.
    pub roughness: Vec<f64>,
}

/// What a trace gave.
#[derive(Debug, Clone, PartialEq)]
pub struct Evaluation {
    /// How it was evaluated.
    pub settings: Settings,
    /// What was done at the ends.
    pub ends: EndsDone,
    /// Parameters over the evaluation length, rounded.
    pub parameters: Parameters,
    /// The same, not rounded.
    pub raw: RawParameters,
    /// One for each sampling length, in the order of the trace.
    pub each: Vec<SamplingLength>,
    /// The curves.
    pub curves: Curves,
    /// What to know about it.
    pub warnings: Vec<Warning>,
}

/// Why a trace cannot be evaluated.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum EvaluationError {
    /// A cut-off that is no length.
    #[error("{found} is no cut-off: expected a length above nought and at most 1 m, as in `0.8 mm`")]
    Cutoff {
        /// As found.
        found: String,
    },
    /// λs is not shorter than λc.
    #[error(
        "the short-wave cut-off {short} is not shorter than the cut-off {cutoff}: nothing would be left; \
        expected \
             2.5 µm for cut-offs up to 0.8 mm"
    )]
    Band {
        /// λs.
        short: String,
        /// λc.
        cutoff: String,
    },
    /// Sampling lengths.
    #[error("{0} sampling lengths: expected 1 to 1000, usually 5")]
    Lengths(u32),
    /// Digits.
    #[error("{0} digits after the point: expected 0 to 9, usually 3 or 4")]
    Places(u32),
    /// Shorter than the evaluation length.
    #[error(
        "the trace is {found:.1} µm long and the evaluation length is {expected:.1} µm ({lengths} sampling \
        lengths of \
             {cutoff}): trace a longer stretch, evaluate fewer sampling lengths, or take a shorter cut-off"
    )]
    Short {
        /// Length of the trace in µm.
        found: f64,
        /// Evaluation length in µm.
        expected: f64,
        /// Sampling lengths.
        lengths: u32,
        /// λc.
        cutoff: String,
    },
    /// No room for run-in.
    #[error(
        "the trace is {found:.1} µm long and {expected:.1} µm are needed ({lengths} sampling lengths of \
        {cutoff} and half \
             a cut-off of run-in and run-out): trace a longer stretch, evaluate fewer sampling lengths, or \
             ask for the \
             ends to be normalised"
    )]
    NoRunIn {
        /// Length of the trace in µm.
        found: f64,
        /// Length needed in µm.
        expected: f64,
        /// Sampling lengths.
        lengths: u32,
        /// λc.
        cutoff: String,
    },
    /// The filter cannot be made or used.
    #[error(transparent)]
    Filter(#[from] FilterError),
    /// A value beyond a decimal. Profiles within 1 m have none.
    #[error("a parameter is too large to state: expected a profile within 1 m")]
    TooLarge,
}

/// Where the evaluation length lies in a trace.
struct Window {
    /// First point.
    first: usize,
    /// Points.
    count: usize,
    /// First points of the sampling lengths from the start of the window, and the end.
    borders: Vec<usize>,
}

/// Evaluates a trace.
///
/// In this order: form off over the whole trace; Gaussian λs if asked; Gaussian mean line λc; the evaluation
/// length in the middle of the trace kept; roughness = primary less mean line; parameters. A sampling length
/// holds the points `i` with `⌊i · spacing / λc⌋` alike, so its number of points may differ by one where the
/// cut-off is no multiple of the spacing.
///
/// # Errors
/// Where settings make no sense, or the trace is too short or too coarse for them.
pub fn evaluate(profile: &Profile, settings: &Settings) -> Result<Evaluation, EvaluationError> {
    let cutoff = length(&settings.cutoff)?;
    let short = settings.short_cutoff.as_ref().map(length).transpose()?;
    if settings.lengths == 0 || settings.lengths > MOST_LENGTHS {
        return Err(EvaluationError::Lengths(settings.lengths));
    }
    if settings.places > 9 {
        return Err(EvaluationError::Places(settings.places));
    }
    if let (Some(um), Some(said)) = (short, &settings.short_cutoff)
        && um >= cutoff
    {
        return Err(EvaluationError::Band { short: said.to_string(), cutoff: settings.cutoff.to_string() });
    }
    let filter = GaussianFilter::new(numeric::number(cutoff), profile.spacing())?;
    let window = window(profile, filter.cutoff(), settings, cutoff)?;
    let ends = ends(profile, &window, filter.cutoff(), settings, cutoff)?;
    let mut primary = profile.without(settings.form);
    if let Some(short) = short {
        primary = GaussianFilter::new(numeric::number(short), profile.spacing())?.mean_line(&primary)?;
    }
    let mean_line = filter.mean_line(&primary)?;
    let curves = curves(profile, &window, &primary, &mean_line);
    let sections: Vec<&[f64]> =
        window.borders.windows(2).filter_map(|b| curves.roughness.get(*b.first()?..*b.last()?)).collect();
    let raw = raw_parameters(&curves.roughness, &sections).ok_or(EvaluationError::TooLarge)?;
    let parameters = raw.rounded(settings.places).ok_or(EvaluationError::TooLarge)?;
    let each = sections.iter().map(|s| sampling_length(s, settings.places)).collect::<Option<Vec<_>>>();
    let warnings = warnings(profile, settings, &ends, &parameters, (cutoff, short));
    Ok(Evaluation {
        settings: settings.clone(),
        ends,
        parameters,
        raw,
        each: each.ok_or(EvaluationError::TooLarge)?,
        curves,
        warnings,
    })
}

/// A cut-off in µm.
fn length(said: &Quantity) -> Result<Decimal, EvaluationError> {
    let good = |um: &Decimal| *um > Decimal::ZERO && *um <= Decimal::from(1_000_000);
    micrometres(said).filter(good).ok_or_else(|| EvaluationError::Cutoff { found: said.to_string() })
}

/// The evaluation length in the middle of the trace.
fn window(
    profile: &Profile,
    points: f64,
    settings: &Settings,
    cutoff: Decimal,
) -> Result<Window, EvaluationError> {
    // A hundred-millionth of a point is rounding, not length.
    let borders: Vec<usize> = (0..=settings.lengths).map(|s| ceiling(f64::from(s) * points - 1e-8)).collect();
    let count = borders.last().copied().unwrap_or(0);
    let there = profile.heights().len();
    if count > there {
        return Err(EvaluationError::Short {
            found: profile.length(),
            expected: f64::from(settings.lengths) * numeric::number(cutoff),
            lengths: settings.lengths,
            cutoff: settings.cutoff.to_string(),
        });
    }
    Ok(Window { first: (there - count) / 2, count, borders })
}

/// What is done at the ends, and whether it may be.
fn ends(
    profile: &Profile,
    window: &Window,
    points: f64,
    settings: &Settings,
    cutoff: Decimal,
) -> Result<EndsDone, EvaluationError> {
    let rest = profile.heights().len().saturating_sub(window.first).saturating_sub(window.count);
    let least = real(window.first.min(rest));
    let (before, after) = (real(window.first) * profile.spacing(), real(rest) * profile.spacing());
    // A point is what a trace of seven whole cut-offs may lack on one side, where it is no whole number of
    // points.
    if least + 1.0 >= points {
        return Ok(EndsDone::FullRunIn { before, after });
    }
    if least + 1.0 >= 0.5 * points {
        return Ok(EndsDone::HalfRunIn { before, after });
    }
    match settings.ends {
        Ends::Normalise => Ok(EndsDone::Normalised { before, after }),
        Ends::Drop => Err(EvaluationError::NoRunIn {
            found: profile.length(),
            expected: (f64::from(settings.lengths) + 1.0) * numeric::number(cutoff),
            lengths: settings.lengths,
            cutoff: settings.cutoff.to_string(),
        }),
    }
}

/// The part of the curves within the evaluation length.
fn curves(profile: &Profile, window: &Window, primary: &[f64], mean_line: &[f64]) -> Curves {
    let kept =
        |line: &[f64]| line.iter().skip(window.first).take(window.count).copied().collect::<Vec<f64>>();
    let (primary, mean_line) = (kept(primary), kept(mean_line));
    let roughness = primary.iter().zip(&mean_line).map(|(z, w)| z - w).collect();
    Curves { spacing: profile.spacing(), first: window.first, primary, mean_line, roughness }
}

/// The values of one sampling length.
fn sampling_length(heights: &[f64], places: u32) -> Option<SamplingLength> {
    let (ra, rq, top, foot) = stretch(heights);
    Some(SamplingLength {
        ra: numeric::rounded(ra, places)?,
        rq: numeric::rounded(rq, places)?,
        rz: numeric::rounded(top - foot, places)?,
    })
}

/// What the reader has to know.
fn warnings(
    profile: &Profile,
    settings: &Settings,
    ends: &EndsDone,
    parameters: &Parameters,
    (cutoff, short): (Decimal, Option<Decimal>),
) -> Vec<Warning> {
    let mut warnings = Vec::new();
    let most = match stylus_row(cutoff) {
        Some(row) => numeric::number(row.spacing),
        None => numeric::number(cutoff) / POINTS_OF_A_CUTOFF,
    };
    // A spacing read from a file may be off in its last binary digit.
    if profile.spacing() > most * (1.0 + 1e-9) {
        warnings.push(Warning::Spacing { found: profile.spacing(), most });
    }
    if !matches!(ends, EndsDone::FullRunIn { .. }) {
        warnings.push(Warning::ShortRunIn);
    }
    if settings.lengths != 5 {
        warnings.push(Warning::Lengths(settings.lengths));
    }
    match short {
        None => warnings.push(Warning::NoShortCutoff),
        Some(short) if numeric::number(short) < 5.0 * profile.spacing() * (1.0 - 1e-9) => {
            warnings.push(Warning::CoarseShortCutoff);
        }
        Some(_) => {}
    }
    if parameters.ra <= Decimal::new(1, 1) && cutoff > Decimal::from(250) {
        warnings.push(Warning::FineForCutoff);
    }
    warnings
}

/// The least whole number that is not below; 0 of anything negative.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "`as` saturates, and counts are bounded"
)]
fn ceiling(value: f64) -> usize {
    value.ceil() as usize
}

impl Evaluation {
    /// Ra of the sampling lengths, as the rules of acceptance take them.
    pub fn ra_values(&self) -> Vec<Quantity> {
        self.each.iter().map(|s| Quantity::new(s.ra, Unit::Micrometre)).collect()
    }

    /// Rz of the sampling lengths, as the rules of acceptance take them.
    pub fn rz_values(&self) -> Vec<Quantity> {
        self.each.iter().map(|s| Quantity::new(s.rz, Unit::Micrometre)).collect()
    }
}
