//! Ratios of a passive film from atomic percentages, and the depth of its oxide from a sputter profile.

use std::collections::BTreeMap;
use std::path::PathBuf;

use rust_decimal::Decimal;

use super::Elements;
use super::Figure;
use super::Limits;
use super::Standing;
use super::Worked;
use crate::app::error::Error;
use crate::columns::Separator;
use crate::columns::heading;
use crate::folder;
use crate::logger::DecimalMark;
use crate::numeric;
use crate::sheet;
use crate::sheet::Cell;
use crate::surface;
use crate::surface::AtPercent;
use crate::surface::AtomicPercent;
use crate::surface::Content;
use crate::surface::DepthProfile;
use crate::surface::Method;
use crate::surface::ProfileRow;
use crate::surface::RatioKind;
use crate::surface::SputterRate;
use crate::surface::Sputtered;
use crate::surface::SurfaceRatio;
use crate::units::Quantity;
use crate::units::Unit;
use crate::units::plain_decimal;

/// One analysis of a surface.
#[derive(Debug, Clone)]
pub struct RatioRequest {
    /// How it was analysed.
    pub method: Method,
    /// at% of every element found.
    pub elements: Elements,
    /// Of them, as oxide.
    pub oxide: Option<Elements>,
    /// Of them, as metal.
    pub metal: Option<Elements>,
    /// Standard uncertainties (k = 1) of the elements.
    pub uncertainty: Option<Elements>,
    /// Standard uncertainties (k = 1) of the oxides.
    pub oxide_uncertainty: Option<Elements>,
    /// Take-off angle.
    pub take_off_angle: Option<Quantity>,
    /// Sputtered for so long before.
    pub sputtered: Option<Quantity>,
    /// How far the sum may lie from 100.
    pub sum_within: AtPercent,
    /// Least Cr/Fe.
    pub cr_fe: Option<Decimal>,
    /// Least CrOx/FeOx.
    pub oxide_ratio: Option<Decimal>,
}

fn at_percent(value: Decimal) -> Result<AtPercent, Error> {
    Ok(format!("{value} at%").parse::<AtPercent>()?)
}

impl RatioRequest {
    fn analysis(&self) -> Result<AtomicPercent, Error> {
        let lists = [&self.oxide, &self.metal, &self.uncertainty, &self.oxide_uncertainty];
        let named = lists.into_iter().flatten().flat_map(|list| list.0.keys());
        for symbol in named {
            if !self.elements.0.contains_key(symbol) {
                let message = format!("`{symbol}` is not among the elements found");
                return Err(Error::cannot(message, "give its at% in --elements"));
            }
        }
        let mut elements = BTreeMap::new();
        for (symbol, total) in &self.elements.0 {
            let of = |list: &Option<Elements>| {
                list.as_ref().and_then(|list| list.0.get(symbol)).copied().map(at_percent).transpose()
            };
            let content = Content {
                total: at_percent(*total)?,
                oxide: of(&self.oxide)?,
                metal: of(&self.metal)?,
                uncertainty: of(&self.uncertainty)?,
                oxide_uncertainty: of(&self.oxide_uncertainty)?,
            };
            elements.insert(symbol.clone(), content);
        }
        Ok(AtomicPercent {
            method: self.method,
            take_off_angle: self.take_off_angle,
            sputtered: self.sputtered.map(|time| Sputtered { time }),
            sum_within: self.sum_within,
            elements,
        })
    }
}

/// Chromium to iron, and both as oxides where they are told apart.
///
/// # Errors
/// Those of [`AtomicPercent::check`]; no ratio at all; a limit on a ratio that is not there.
pub fn ratio(request: &RatioRequest) -> Result<Worked, Error> {
    let analysis = request.analysis()?;
    let all = analysis.chromium_to_iron()?;
    let split = request.oxide.is_some();
    let oxides = if split { Some(analysis.oxide_ratio()?) } else { None };
    let way =
        |r: &SurfaceRatio| r.to_string().split_once(": ").map(|(way, _)| way.to_owned()).unwrap_or_default();
    let mut worked = Worked::new("ratio", "Chromium to iron of the surface");
    let mut held = Vec::new();
    let asked = [(Some(all), request.cr_fe), (oxides, request.oxide_ratio)];
    for (found, limit) in asked {
        let Some(found) = found else {
            if limit.is_some() {
                let message = "no CrOx/FeOx ratio: oxide and metal are not told apart";
                return Err(Error::cannot(message, "give --oxide and --metal of chromium and iron"));
            }
            continue;
        };
        let (word, of) = match found.kind {
            RatioKind::CrFe => ("cr_fe", ""),
            RatioKind::CrOxFeOx => ("crox_feox", " as oxide"),
        };
        let figure = Figure::new(word, &found.kind.to_string(), found.value, "").noted(way(&found));
        worked.figures.push(Figure { uncertainty: found.expanded.map(|u| u.to_string()), ..figure });
        let part = |symbol: &str| {
            let content = analysis.elements.get(symbol)?;
            if found.kind == RatioKind::CrFe { Some(content.total) } else { content.oxide }
        };
        if let (Some(cr), Some(fe)) = (part("Cr"), part("Fe")) {
            worked.step(format!(
                "{} = Cr{of} / Fe{of} = {} / {} = {}",
                found.kind,
                cr.value(),
                fe.value(),
                found.value
            ));
        }
        if let Some(limit) = limit {
            let limits = Limits { at_least: Some(Quantity::new(limit, Unit::Ratio)), at_most: None };
            let standing = limits.standing(&Quantity::new(found.value, Unit::Ratio))?;
            held.extend(standing.map(|s| (found.kind, s.without(" ratio"))));
        }
    }
    worked.standing = together(held);
    worked.source("ratios of atomic percentages as measured, rounded to 0.01");
    worked.mind("Ratios compare only where method, take-off angle and sputtering are the same.");
    Ok(worked)
}

/// Outside where one is.
fn together(held: Vec<(RatioKind, Standing)>) -> Option<Standing> {
    let outside = held.iter().any(|(_, s)| matches!(s, Standing::Outside(_)));
    let words: Vec<String> = held.iter().map(|(kind, s)| format!("{kind} {}", s.words())).collect();
    let words = words.join("; ");
    match (held.is_empty(), outside) {
        (true, _) => None,
        (false, true) => Some(Standing::Outside(words)),
        (false, false) => Some(Standing::Inside(words)),
    }
}

/// A sputter profile in a table.
#[derive(Debug, Clone)]
pub struct DepthRequest {
    /// The table: CSV or XLSX.
    pub file: PathBuf,
    /// Heading of the sputter time in minutes.
    pub time: String,
    /// Heading of the oxygen in at%.
    pub oxygen: String,
    /// What stands between cells of a CSV.
    pub separator: Separator,
    /// Decimal mark of a CSV.
    pub decimal: DecimalMark,
    /// How it was measured.
    pub method: Method,
    /// Rate on the reference oxide.
    pub rate: SputterRate,
    /// Deepest rows taken as bulk.
    pub bulk_rows: usize,
    /// Limits of the depth.
    pub limits: Limits,
}

/// The equivalent depth of the oxide where oxygen has fallen half way to the bulk.
///
/// # Errors
/// A file that cannot be read, a heading or figure that is not there, and those of [`surface::oxide_depth`].
pub fn oxide_depth(request: &DepthRequest) -> Result<Worked, Error> {
    let rows = rows(request)?;
    let count = rows.len();
    let DepthRequest { method, rate, bulk_rows, .. } = *request;
    let profile = DepthProfile { method, rate, bulk_rows, rows };
    let found = surface::oxide_depth(&profile)?;
    let depth = Quantity::new(found.angstrom, Unit::Angstrom);
    let mut worked =
        Worked::new("oxide-depth", format!("Oxide depth by a sputter profile of {count} rows, {method}"));
    let figure = Figure::of("depth", "oxide depth", &depth);
    worked.figures.push(figure.noted(format!("equivalent of {}", found.reference)));
    worked.figure("minutes", "sputter time there", found.minutes, "min");
    worked.figure("most", "most oxygen", found.most, "at%");
    worked.figure("bulk", "oxygen of the bulk", found.bulk, "at%");
    worked.step(format!(
        "oxygen falls half way from {} to {} at% after {} min, on the line between two rows",
        found.most, found.bulk, found.minutes
    ));
    let rate = rate.angstrom_per_minute;
    worked.step(format!("depth = time · rate = {} min · {rate} Å/min = {}", found.minutes, found.angstrom));
    worked.source(
        "half of the fall from most to bulk: common practice; the standards leave it to the \
        parties (recalled)",
    );
    worked.mind("The film sputters at another rate than the reference: state the depth as an equivalent.");
    if found.rises_again {
        worked.mind(
            "Oxygen rises above half again further in: noise, or a film in two layers; the first \
            fall counts.",
        );
    }
    worked.standing = request.limits.standing(&depth)?;
    Ok(worked)
}

fn rows(request: &DepthRequest) -> Result<Vec<ProfileRow>, Error> {
    let file = request.file.display().to_string();
    let told =
        |error: sheet::SheetError| Error::Cannot { message: format!("{file}: {error}"), hint: error.hint() };
    let form = sheet::form(&file).map_err(told)?;
    let bytes = folder::read(&request.file)?;
    let table = sheet::read(form, &bytes, request.separator.byte(), None).map_err(told)?;
    let mut all = table.rows.iter();
    let heads = all.next().map(|row| row.cells.as_slice()).unwrap_or_default();
    let heads: Vec<String> = heads
        .iter()
        .map(|cell| match cell {
            Cell::Text(text) | Cell::Number(text) => heading(text),
            _ => String::new(),
        })
        .collect();
    let column = |name: &str| {
        heads.iter().position(|h| *h == heading(name)).ok_or_else(|| {
            let message = format!("{file}: no column is headed `{name}`");
            Error::cannot(message, &format!("its headings are: {}", heads.join(", ")))
        })
    };
    let (time, oxygen) = (column(&request.time)?, column(&request.oxygen)?);
    all.map(|row| {
        let number = |at: usize, name: &str| {
            let cell = row.cells.get(at).cloned().unwrap_or_default();
            let value = match &cell {
                Cell::Number(text) => plain_decimal(text),
                Cell::Text(text) if request.decimal == DecimalMark::Comma => {
                    (!text.contains('.')).then(|| plain_decimal(&text.replace(',', "."))).flatten()
                }
                Cell::Text(text) => plain_decimal(text),
                _ => None,
            };
            value.map(numeric::number).ok_or_else(|| {
                let message = format!("{file}: line {}, `{name}` holds {}", row.number, cell.shown());
                Error::cannot(message, "expected a plain number; state its decimal mark with --decimal")
            })
        };
        Ok(ProfileRow { minutes: number(time, &request.time)?, oxygen: number(oxygen, &request.oxygen)? })
    })
    .collect()
}
