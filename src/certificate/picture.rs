//! Pictures of what was computed, as data: the page and the SVG file are drawn from these, so that whoever holds the
//! certificate draws them again.

use rust_decimal::Decimal;
use serde::Deserialize;
use serde::Serialize;

use crate::certificate::sampled;
use crate::computed;
use crate::computed::ChannelFigures;
use crate::computed::Computed;
use crate::computed::LogFigures;
use crate::computed::TraceFigures;
use crate::judge;
use crate::judge::Dossier;
use crate::moment::Moment;
use crate::path::Path;
use crate::picture;
use crate::picture::BathLog;
use crate::picture::Drawing;
use crate::picture::Estimate;
use crate::picture::OcCurve;
use crate::picture::Panel;
use crate::picture::Profile;
use crate::picture::Removal;
use crate::picture::Roughness;
use crate::record::Characteristic;
use crate::record::Step;
use crate::units::Quantity;
use crate::units::Unit;

/// A picture's data.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Picture {
    /// A bath's log over an immersion.
    BathLog(LogPicture),
    /// Profiles before and after.
    Roughness(RoughnessPicture),
    /// Estimates of stock removal.
    Removal(RemovalPicture),
    /// How likely a sampling plan accepts a lot.
    OcCurve(OcPicture),
}

/// A bath's log.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LogPicture {
    /// What it shows.
    pub title: String,
    /// When the pieces went in.
    pub from: Moment,
    /// When they came out.
    pub to: Moment,
    /// Longest time between two readings joined by a line.
    pub joined_over: Quantity,
    /// The channel the limits are about.
    pub main: PanelData,
    /// A second one under it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub second: Option<PanelData>,
}

/// One channel.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PanelData {
    /// What was measured.
    pub name: String,
    /// In which unit.
    pub unit: Unit,
    /// Seconds from going in, and reading.
    pub curve: String,
    /// The lower limit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_least: Option<Quantity>,
    /// The upper limit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_most: Option<Quantity>,
}

/// Profiles of a surface.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RoughnessPicture {
    /// What it shows.
    pub title: String,
    /// Before treatment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub before: Option<ProfileData>,
    /// After it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub after: Option<ProfileData>,
}

/// One profile.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ProfileData {
    /// Micrometres along and up.
    pub profile: String,
    /// The same of the mean line.
    pub mean_line: String,
    /// Its Ra.
    pub ra: Quantity,
    /// Length evaluated, centred in what is drawn.
    pub evaluated: Quantity,
}

/// Estimates of stock removal.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RemovalPicture {
    /// What it shows.
    pub title: String,
    /// The estimates, in micrometres.
    pub estimates: Vec<EstimateData>,
    /// The lower limit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_least: Option<Quantity>,
    /// The upper limit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_most: Option<Quantity>,
}

/// One estimate.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EstimateData {
    /// The way it was found.
    pub by: String,
    /// Removal per surface.
    pub value: Quantity,
    /// Its expanded uncertainty.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uncertainty: Option<Quantity>,
}

/// A sampling plan's operating characteristic.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OcPicture {
    /// What it shows.
    pub title: String,
    /// Pieces looked at.
    pub sample: u64,
    /// Nonconforming pieces with which the lot is accepted.
    pub accept: u64,
    /// Per cent nonconforming and probability of acceptance.
    pub curve: String,
    /// The acceptance quality limit and the probability there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub aql: Option<String>,
    /// The tolerance and the probability there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ltpd: Option<String>,
}

/// Micrometres of a millimetre.
const MILLI: Decimal = Decimal::ONE_THOUSAND;

fn micrometres(limit: Option<&Quantity>) -> Option<Decimal> {
    limit?.value_in(Unit::Micrometre)
}

impl Picture {
    /// What it shows, in a line.
    pub fn title(&self) -> &str {
        match self {
            Picture::BathLog(of) => &of.title,
            Picture::Roughness(of) => &of.title,
            Picture::Removal(of) => &of.title,
            Picture::OcCurve(of) => &of.title,
        }
    }

    /// The scene, as wide as a certificate's column.
    pub fn drawing(&self) -> Drawing {
        let width = picture::FULL;
        match self {
            Picture::BathLog(of) => of.drawing(width),
            Picture::Roughness(of) => of.drawing(width),
            Picture::Removal(of) => picture::removal(&Removal {
                title: of.title.clone(),
                width,
                estimates: of.estimates.iter().filter_map(EstimateData::drawn).collect(),
                low: micrometres(of.at_least.as_ref()),
                high: micrometres(of.at_most.as_ref()),
            }),
            Picture::OcCurve(of) => {
                let point = |text: &Option<String>| computed::curve(text.as_deref()?).first().copied();
                picture::oc_curve(&OcCurve {
                    title: of.title.clone(),
                    width,
                    n: of.sample,
                    ac: of.accept,
                    points: computed::curve(&of.curve),
                    aql: point(&of.aql),
                    ltpd: point(&of.ltpd),
                })
            }
        }
    }
}

impl EstimateData {
    fn drawn(&self) -> Option<Estimate> {
        Some(Estimate {
            name: self.by.clone(),
            value: micrometres(Some(&self.value))?.round_dp(2),
            uncertainty: self
                .uncertainty
                .and_then(|u| u.difference_in(Unit::Micrometre))
                .map(|u| u.round_dp(2)),
        })
    }
}

impl LogPicture {
    fn drawing(&self, width: i64) -> Drawing {
        let begin = self.from.instant();
        let panel = |data: &PanelData| {
            let limit = |limit: &Option<Quantity>| limit.and_then(|limit| limit.value_in(data.unit));
            let readings = computed::curve(&data.curve).into_iter().filter_map(|(along, value)| {
                use rust_decimal::prelude::ToPrimitive;
                Some((begin.timestamp().checked_add(along.to_i64()?)?, value))
            });
            Panel {
                name: data.name.clone(),
                unit: data.unit.symbol().to_owned(),
                readings: readings.collect(),
                low: limit(&data.at_least),
                high: limit(&data.at_most),
            }
        };
        let joined = self.joined_over.value_in(Unit::Second).and_then(|seconds| {
            use rust_decimal::prelude::ToPrimitive;
            seconds.to_i64()
        });
        picture::bath_log(&BathLog {
            title: self.title.clone(),
            width,
            offset: i64::from(begin.offset().local_minus_utc()),
            main: panel(&self.main),
            second: self.second.as_ref().map(panel),
            immersed: Some((begin.timestamp(), self.to.instant().timestamp())),
            longest_gap: joined,
        })
    }
}

impl ProfileData {
    fn points(text: &str) -> Vec<(Decimal, Decimal)> {
        let all = computed::curve(text).into_iter();
        all.filter_map(|(along, up)| Some((along.checked_div(MILLI)?, up))).collect()
    }

    fn evaluation(&self, points: &[(Decimal, Decimal)]) -> Option<(Decimal, Decimal)> {
        let (first, last) = (points.first()?.0, points.last()?.0);
        let length = self.evaluated.value_in(Unit::Millimetre)?;
        let begin = first.checked_add(last)?.checked_sub(length)?.checked_div(Decimal::TWO)?.max(first);
        Some((begin, begin.checked_add(length)?.min(last)))
    }
}

impl RoughnessPicture {
    fn drawing(&self, width: i64) -> Drawing {
        struct Read<'a> {
            name: &'a str,
            points: Vec<(Decimal, Decimal)>,
            mean_line: Vec<(Decimal, Decimal)>,
            evaluation: Option<(Decimal, Decimal)>,
            ra: String,
        }
        let read = |name, data: &ProfileData| {
            let points = ProfileData::points(&data.profile);
            let evaluation = data.evaluation(&points);
            let (mean_line, ra) = (ProfileData::points(&data.mean_line), data.ra.to_string());
            Read { name, points, mean_line, evaluation, ra }
        };
        let before = self.before.as_ref().map(|data| read("Before treatment", data));
        let after = self.after.as_ref().map(|data| read("After treatment", data));
        fn profile<'a>(of: &'a Read<'a>) -> Profile<'a> {
            Profile {
                name: of.name,
                points: &of.points,
                mean_line: &of.mean_line,
                evaluation: of.evaluation,
                ra: Some(&of.ra),
            }
        }
        picture::roughness(&Roughness {
            title: &self.title,
            width,
            before: before.as_ref().map(profile),
            after: after.as_ref().map(profile),
        })
    }
}

/// The pictures of a lot whose dossier asks for them. `dossier` is whole.
pub(super) fn of_lot(dossier: &Dossier) -> Vec<Picture> {
    if !dossier.pictures {
        return Vec::new();
    }
    let mut all = logs(dossier);
    all.extend(profiles(dossier));
    all.extend(removals(dossier));
    all.extend(sampled::curves(dossier).into_iter().map(Picture::OcCurve));
    all
}

fn removals(dossier: &Dossier) -> Vec<Picture> {
    let line = dossier.order.lines.iter().find(|l| l.line == dossier.record.order.line);
    let also = line.map(|l| l.also_calls_for.as_slice()).unwrap_or_default();
    let asked = || {
        dossier.part.calls_for.iter().chain(also).filter(|c| c.limit == Some(Characteristic::StockRemoval))
    };
    let mut all = Vec::new();
    for (i, m) in dossier.record.measurements.iter().enumerate() {
        let estimates = judge::removal_estimates(dossier, i, m);
        if estimates.is_empty() {
            continue;
        }
        let runs: Vec<String> = m.covers.iter().map(|run| format!("run {run}")).collect();
        let each =
            estimates.into_iter().map(|(by, value, uncertainty)| EstimateData { by, value, uncertainty });
        all.push(Picture::Removal(RemovalPicture {
            title: format!("Stock removal a surface, {}", runs.join(", ")),
            estimates: each.collect(),
            at_least: asked().find_map(|c| c.at_least),
            at_most: asked().find_map(|c| c.at_most),
        }));
    }
    all
}

fn logs(dossier: &Dossier) -> Vec<Picture> {
    let mut all = Vec::new();
    for (i, run) in dossier.record.runs.iter().enumerate() {
        let steps = Path::root().key("runs").index(i).key("steps");
        for (j, step) in run.steps.iter().enumerate() {
            let entry = steps.index(j).key(step.key()).key("log");
            let log = dossier.computed.iter().find(|c| c.named_at == entry).and_then(Computed::log);
            all.extend(log.and_then(|log| log_picture(log, &run.run, step)));
        }
    }
    all
}

fn log_picture(log: &LogFigures, run: &str, step: &Step) -> Option<Picture> {
    let panel = |measures: &str, name: &str| log.channel(measures).map(|channel| panel_of(name, channel));
    let temperature = panel("temperature", "Temperature");
    let current = panel("current", "Current");
    let (main, second) = match (temperature, current) {
        (Some(main), second) => (main, second),
        (None, Some(main)) => (main, None),
        (None, None) => return None,
    };
    let bath = step.immersion().map(|dip| dip.bath.as_str()).unwrap_or_default();
    Some(Picture::BathLog(LogPicture {
        title: format!("Bath {bath}, run {run}, by its log"),
        from: log.from,
        to: log.to,
        joined_over: log.joined_over(),
        main,
        second,
    }))
}

fn panel_of(name: &str, channel: &ChannelFigures) -> PanelData {
    PanelData {
        name: name.to_owned(),
        unit: channel.minimum.unit(),
        curve: channel.curve.clone(),
        at_least: channel.at_least,
        at_most: channel.at_most,
    }
}

fn profiles(dossier: &Dossier) -> Vec<Picture> {
    let mut all = Vec::new();
    for (i, m) in dossier.record.measurements.iter().enumerate() {
        if m.what == Characteristic::StockRemoval {
            continue;
        }
        let path = Path::root().key("measurements").index(i);
        let trace = |key: &str, j: usize| {
            let entry = path.key(key).index(j);
            dossier.computed.iter().find(|c| c.named_at == entry).and_then(Computed::trace)
        };
        // The worst of the traces afterwards is the one to show.
        let after = (0..m.traces.len()).filter_map(|j| trace("traces", j));
        let after = after.max_by(|a, b| a.ra.value().cmp(&b.ra.value()));
        let before = (0..m.traces_before.len()).find_map(|j| trace("traces_before", j));
        if after.is_some() || before.is_some() {
            all.push(Picture::Roughness(RoughnessPicture {
                title: format!(
                    "Profile, {}",
                    m.covers.iter().map(|run| format!("run {run}")).collect::<Vec<_>>().join(", ")
                ),
                before: before.map(profile_of),
                after: after.map(profile_of),
            }));
        }
    }
    all
}

fn profile_of(trace: &TraceFigures) -> ProfileData {
    ProfileData {
        profile: trace.profile.clone(),
        mean_line: trace.mean_line.clone(),
        ra: trace.ra,
        evaluated: trace.evaluated,
    }
}
