//! Roughness of one trace, and what a treatment improved.

use std::path::PathBuf;

use rust_decimal::Decimal;

use super::Figure;
use super::Limits;
use super::Standing;
use super::Table;
use super::Worked;
use crate::app::book;
use crate::app::error::Error;
use crate::folder;
use crate::folder::Folder;
use crate::numeric;
use crate::picture;
use crate::picture::Drawing;
use crate::roughness;
use crate::roughness::Basis;
use crate::roughness::Choice;
use crate::roughness::CutoffRule;
use crate::roughness::Ends;
use crate::roughness::Evaluation;
use crate::roughness::Grade;
use crate::roughness::Profile;
use crate::roughness::Settings;
use crate::trace_file;
use crate::trace_form::TraceForm;
use crate::trace_form::TraceForms;
use crate::units::Quantity;
use crate::units::Unit;
use crate::validate;

/// How a trace is written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Layout {
    /// As an X3P file; of a surface, this row.
    X3p(Option<u32>),
    /// As a form of the shop's `traces.yaml` says.
    Named(String),
    /// As stated.
    Stated(Box<TraceForm>),
}

/// One file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TraceRequest {
    /// The file.
    pub file: PathBuf,
    /// How it is written.
    pub layout: Layout,
}

/// A trace and how it is evaluated.
#[derive(Debug, Clone)]
pub struct RoughnessRequest {
    /// The trace.
    pub trace: TraceRequest,
    /// One taken before the treatment.
    pub before: Option<TraceRequest>,
    /// The cut-off; left out, it is chosen by the limit, or by the Ra found.
    pub cutoff: Option<Quantity>,
    /// Sampling lengths.
    pub lengths: u32,
    /// What is done at the ends of the trace.
    pub ends: Ends,
    /// Most Ra allowed.
    pub ra_at_most: Option<Quantity>,
    /// Most Rz allowed.
    pub rz_at_most: Option<Quantity>,
}

/// Points of a profile kept for the picture, as pairs.
const COLUMNS: usize = 400;
/// How a file that is no X3P is read.
const TABLE_HINT: &str = "a table of text needs --form, or its layout: --z, --unit-z and --spacing, or \
    --x and --unit-x";
/// Cut-offs tried until the Ra found chooses the one it was found with.
const TRIES: usize = 5;

/// Roughness parameters of a trace, with the cut-off and why it was taken.
///
/// # Errors
/// Files that cannot be read, a cut-off that cannot be chosen, a trace too short for it.
pub fn roughness(folder: &Folder, request: &RoughnessRequest) -> Result<Worked, Error> {
    let profile = read(folder, &request.trace)?;
    let before = request.before.as_ref().map(|trace| read(folder, trace)).transpose()?;
    let (choice, found) = evaluated(&profile, request)?;
    let file = request.trace.file.display();
    let mut worked = Worked::new("roughness", format!("Roughness of {file}"));
    let parameters = &found.parameters;
    let micrometre = |value: Decimal| Quantity::new(value, Unit::Micrometre);
    let ra = micrometre(parameters.ra);
    let rz = micrometre(parameters.rz);
    worked.quantity("ra", "Ra", &ra);
    worked.figure("ra_uin", "Ra", parameters.ra_microinches, Unit::Microinch.symbol());
    if let Some(grade) = Grade::holding(&ra) {
        let figure = Figure::new("grade", "grade", grade.name(), "");
        worked.figures.push(figure.noted(format!("the finest that holds it: Ra {}", grade.micrometres())));
    }
    worked
        .figures
        .push(Figure::of("rq", "Rq", &micrometre(parameters.rq)).noted("over the evaluation length"));
    worked.quantity("rz", "Rz", &rz);
    let single = Figure::of("rz_max", "Rz of the worst sampling length", &micrometre(parameters.rz_max));
    worked.figures.push(single);
    worked.quantity("rt", "Rt", &micrometre(parameters.rt));
    for (word, name, value) in [("rsk", "Rsk", parameters.rsk), ("rku", "Rku", parameters.rku)] {
        match value {
            Some(value) => worked.figure(word, name, value, ""),
            None => worked.mind(format!("{name} is not told: the profile is flat")),
        }
    }
    worked.figures.push(Figure::of("cutoff", "cut-off", &choice.cutoff).noted(choice.why.clone()));
    how(&profile, &found, &mut worked);
    let row = |(i, length): (usize, &roughness::SamplingLength)| {
        let number = i.saturating_add(1).to_string();
        vec![number, length.ra.to_string(), length.rq.to_string(), length.rz.to_string()]
    };
    worked.tables.push(Table {
        table: "sampling_lengths",
        name: "Each sampling length".to_owned(),
        columns: vec!["no.", "Ra, µm", "Rq, µm", "Rz, µm"],
        rows: found.each.iter().enumerate().map(row).collect(),
    });
    worked.mind.extend(choice.warning.iter().cloned());
    worked.mind.extend(found.warnings.iter().map(ToString::to_string));
    if let Some(basis) = choice.basis {
        let known = if basis == Basis::Read { "read in secondary texts" } else { "recalled" };
        worked.source(format!("the row of the table of cut-offs: {known}"));
    }
    worked.source("Gaussian filter of ISO 16610-21; parameters of ISO 4287 and ISO 21920-2 (recalled)");
    let earlier = before.map(|profile| evaluate(&profile, choice.cutoff, request)).transpose()?;
    if let Some(earlier) = &earlier {
        improved(earlier, &ra, &mut worked)?;
    }
    worked.standing = standing(request, &ra, &rz)?;
    worked.drawing = Some(drawing(earlier.as_ref(), &found, request)?);
    Ok(worked)
}

fn read(folder: &Folder, request: &TraceRequest) -> Result<Profile, Error> {
    let file = request.file.display().to_string();
    let bytes = folder::read(&request.file)?;
    let told = |why: String| Error::Cannot { message: format!("{file}: {why}"), hint: None };
    let trace = match &request.layout {
        Layout::X3p(row) => {
            let read = trace_file::read_x3p(&bytes, *row);
            read.map_err(|fault| Error::Cannot {
                message: format!("{file}: {fault}"),
                // A file that is called X3P is meant as one.
                hint: (!file.to_lowercase().ends_with(".x3p")).then(|| TABLE_HINT.to_owned()),
            })?
        }
        Layout::Named(form) => {
            trace_file::read_csv(&bytes, &named(folder, form)?).map_err(|fault| told(fault.to_string()))?
        }
        Layout::Stated(form) => {
            trace_file::read_csv(&bytes, form).map_err(|fault| told(fault.to_string()))?
        }
    };
    Profile::new(trace.spacing, trace.heights).map_err(|error| told(error.to_string()))
}

fn named(folder: &Folder, form: &str) -> Result<TraceForm, Error> {
    const FILE: &str = "traces.yaml";
    if !folder.has(FILE) {
        return Err(Error::cannot(
            format!("{} has no {FILE}", folder.root().display()),
            "name the shop folder with --shop, or state the layout with --z, --unit-z and --spacing",
        ));
    }
    let all = book::read::<TraceForms>(folder, FILE, validate::trace_forms)?.document.traces;
    let known: Vec<String> = all.iter().map(|f| f.form.clone()).collect();
    all.into_iter().find(|f| f.form == form).map(|f| f.layout).ok_or_else(|| {
        Error::cannot(format!("{FILE} has no form `{form}`"), &format!("it has: {}", known.join(", ")))
    })
}

/// The cut-off given; else by the upper limit given (ISO 21920-3); else by the Ra found with it (ISO 4288).
fn evaluated(profile: &Profile, request: &RoughnessRequest) -> Result<(Choice, Evaluation), Error> {
    let given = match (request.cutoff, request.ra_at_most, request.rz_at_most) {
        (Some(cutoff), ..) => {
            let choice = roughness::ordered(&cutoff)?;
            Some(Choice { why: "as given".to_owned(), ..choice })
        }
        (None, Some(limit), _) => Some(CutoffRule::Iso21920Ra.choose(&limit)?),
        (None, None, Some(limit)) => Some(CutoffRule::Iso21920Rz.choose(&limit)?),
        (None, None, None) => None,
    };
    if let Some(choice) = given {
        let found = evaluate(profile, choice.cutoff, request)?;
        return Ok((choice, found));
    }
    let mut cutoff = Quantity::new(Decimal::new(8, 1), Unit::Millimetre);
    let mut last = None;
    for _ in 0..TRIES {
        let found = evaluate(profile, cutoff, request)?;
        let ra = Quantity::new(found.parameters.ra, Unit::Micrometre);
        let choice = CutoffRule::Iso4288Ra.choose(&ra)?;
        if choice.cutoff == cutoff {
            return Ok((choice, found));
        }
        cutoff = choice.cutoff;
        last = Some(choice);
    }
    let why = last.map(|choice| choice.why).unwrap_or_default();
    let message = format!("no cut-off is its own choice: the last one tried came by {why}");
    Err(Error::cannot(message, "give --cutoff, as the drawing or the purchaser names it"))
}

fn evaluate(profile: &Profile, cutoff: Quantity, request: &RoughnessRequest) -> Result<Evaluation, Error> {
    let row = roughness::micrometres(&cutoff).and_then(roughness::stylus_row);
    let short_cutoff = row.map(|row| Quantity::new(row.short, Unit::Micrometre));
    let settings =
        Settings { short_cutoff, lengths: request.lengths, ends: request.ends, ..Settings::new(cutoff) };
    Ok(roughness::evaluate(profile, &settings)?)
}

fn how(profile: &Profile, found: &Evaluation, worked: &mut Worked) {
    let spacing =
        numeric::rounded(profile.spacing(), 6).map(|s| s.normalize().to_string()).unwrap_or_default();
    worked.step(format!("{} points, {spacing} µm apart", profile.heights().len()));
    worked.step(found.settings.form.words());
    if let Some(short) = found.settings.short_cutoff {
        worked.step(format!("short waves taken off by a Gaussian of {short} (ISO 3274)"));
    }
    worked.step(format!(
        "waviness taken off by a Gaussian of {}; {} sampling length(s) of it evaluated",
        found.settings.cutoff, found.settings.lengths
    ));
    worked.step(found.ends.to_string());
    worked.step(
        "Ra = Σ |z| / n; Rq = √(Σ z² / n); Rz mean of peak to valley of the sampling lengths; Rt \
        of all of them",
    );
}

fn improved(earlier: &Evaluation, ra: &Quantity, worked: &mut Worked) -> Result<(), Error> {
    let before = Quantity::new(earlier.parameters.ra, Unit::Micrometre);
    let gained = roughness::improvement(&before, ra)?;
    worked.quantity("ra_before", "Ra before", &before);
    worked.figure("improvement", "improvement", gained.percent, "%");
    worked.step(format!(
        "improvement = 100 · (before − after) / before = 100 · ({} − {}) / {} = {}, with the same cut-off",
        before.value(),
        ra.value(),
        before.value(),
        gained.percent
    ));
    worked.mind.extend(gained.warning.map(|warning| warning.to_string()));
    Ok(())
}

fn standing(request: &RoughnessRequest, ra: &Quantity, rz: &Quantity) -> Result<Option<Standing>, Error> {
    let (mut words, mut outside) = (Vec::new(), false);
    for (name, found, limit) in [("Ra", ra, request.ra_at_most), ("Rz", rz, request.rz_at_most)] {
        let limits = Limits { at_least: None, at_most: limit };
        let Some(standing) = limits.standing(found)? else { continue };
        outside |= matches!(standing, Standing::Outside(_));
        words.push(format!("{name} {}", standing.words()));
    }
    if words.is_empty() {
        return Ok(None);
    }
    let words = words.join("; ");
    Ok(Some(if outside { Standing::Outside(words) } else { Standing::Inside(words) }))
}

/// Curves of one trace in mm and µm.
struct Curves {
    name: String,
    points: Vec<(Decimal, Decimal)>,
    mean_line: Vec<(Decimal, Decimal)>,
    evaluation: Option<(Decimal, Decimal)>,
    ra: String,
}

impl Curves {
    fn of(name: &str, found: &Evaluation) -> Curves {
        // The curves cover the evaluation length, spacing in µm.
        let step = found.curves.spacing / 1000.0;
        let kept = |heights: &[f64]| picture::thin(heights, step, COLUMNS, (4, 3));
        let points = kept(&found.curves.primary);
        let evaluation = points.first().zip(points.last()).map(|(first, last)| (first.0, last.0));
        Curves {
            name: name.to_owned(),
            mean_line: kept(&found.curves.mean_line),
            points,
            evaluation,
            ra: format!("{} µm", found.parameters.ra),
        }
    }

    fn profile(&self) -> picture::Profile<'_> {
        picture::Profile {
            name: &self.name,
            points: &self.points,
            mean_line: &self.mean_line,
            evaluation: self.evaluation,
            ra: Some(&self.ra),
        }
    }
}

fn drawing(
    before: Option<&Evaluation>,
    after: &Evaluation,
    request: &RoughnessRequest,
) -> Result<Drawing, Error> {
    let before = before.map(|found| Curves::of("Before treatment", found));
    let name = if before.is_some() { "After treatment" } else { "Profile" };
    let after = Curves::of(name, after);
    let file = request.trace.file.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let title = format!("Roughness, {file}");
    Ok(picture::roughness(&picture::Roughness {
        title: &title,
        width: picture::FULL,
        before: before.as_ref().map(Curves::profile),
        after: Some(after.profile()),
    }))
}
