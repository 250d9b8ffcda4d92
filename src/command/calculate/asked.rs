//! What the words of a command line ask for.

use std::path::Path;

use crate::app::calculate;
use crate::app::calculate::AllowanceRequest;
use crate::app::calculate::Asked;
use crate::app::calculate::ChanceRequest;
use crate::app::calculate::DepthRequest;
use crate::app::calculate::Layout;
use crate::app::calculate::Limits;
use crate::app::calculate::LogRequest;
use crate::app::calculate::MakeUpRequest;
use crate::app::calculate::Metal;
use crate::app::calculate::RatioRequest;
use crate::app::calculate::RemovalRequest;
use crate::app::calculate::RoughnessRequest;
use crate::app::calculate::SamplingRequest;
use crate::app::calculate::TraceRequest;
use crate::app::error::Error;
use crate::cli;
use crate::cli::Across;
use crate::cli::Ends;
use crate::cli::Machined;
use crate::removal::Band;
use crate::removal::Feature;
use crate::removal::document::Charge;
use crate::removal::document::Dimension;
use crate::removal::document::Weighed;
use crate::roughness;
use crate::sampling::Name;
use crate::solution::Analyte;
use crate::solution::Burette;
use crate::solution::Level;
use crate::solution::Titration;
use crate::solution::Uncertainty;
use crate::surface::SputterRate;
use crate::trace_form::Encoding;
use crate::trace_form::TraceForm;

pub fn limits(args: &cli::Limits) -> Limits {
    Limits { at_least: args.at_least, at_most: args.at_most }
}

pub fn titration(what: Analyte, args: &cli::Titrated) -> Titration {
    let uncertainty = match (args.sample_uncertainty, args.volume_uncertainty, args.titrant_uncertainty) {
        (Some(sample), Some(volume), Some(titrant)) => {
            Some(Uncertainty { sample, volume, titrant, density: args.density_uncertainty })
        }
        _ => None,
    };
    Titration {
        what,
        sample: args.sample,
        titrant: args.titrant,
        volume: args.volume,
        burette: args.burette_from.zip(args.burette_to).map(|(from, to)| Burette { from, to }),
        blank: args.blank,
        basis: args.basis,
        density: args.density,
        indicator: args.indicator,
        dissolved_metals: args.no_metals.then_some(false),
        uncertainty,
    }
}

pub fn make_up(args: &cli::MakeUp) -> MakeUpRequest {
    MakeUpRequest {
        bath: args.bath,
        strength: args.strength,
        target: args.target,
        window: limits(&args.window),
        concentrate: args.concentrate,
        level: args.fill_to.map(Level::EndsAt).or(args.tank.map(Level::RisesTo)),
    }
}

fn metal(args: &cli::Metal) -> Metal {
    Metal { grade: args.grade.clone(), composition: args.composition.clone(), density: args.density }
}

const fn feature(across: Across) -> Feature {
    match across {
        Across::Outside => Feature::Outside,
        Across::Bore => Feature::Bore,
        Across::Thickness => Feature::Thickness,
        Across::OneSide => Feature::OneSide,
    }
}

pub fn removal(args: &cli::Removal) -> Result<RemovalRequest, Error> {
    let passed = args.current.is_some() || args.current_density.is_some() || args.charge.is_some();
    let stray = args.time.or(args.area).filter(|_| !passed && args.mass_before.is_none());
    if let Some(stray) = stray {
        let message = format!("{stray} alone tells no removal");
        return Err(Error::cannot(message, "give --current, --current-density or --charge with it"));
    }
    let charge = passed.then(|| Charge {
        current: args.current,
        current_density: args.current_density,
        charge: args.charge,
        time: args.time,
        area: args.area,
        efficiency: args.efficiency,
        efficiency_uncertainty: args.efficiency_uncertainty,
        valences: args.valences.into(),
        current_uncertainty: args.current_uncertainty,
        time_uncertainty: args.time_uncertainty,
        area_uncertainty: args.area_uncertainty,
        equivalent_weight_uncertainty: args.equivalent_weight_uncertainty,
        density_uncertainty: args.density_uncertainty,
    });
    let weighed = match args.mass_before.zip(args.mass_after) {
        None => None,
        Some((before, after)) => {
            // A coupon has its own surface; only where no load is told of can --area be meant.
            let area = args.weighed_area.or(args.area.filter(|_| !passed));
            let area = area.ok_or_else(|| {
                Error::cannot("the surface of the piece weighed is not known", "give --weighed-area")
            })?;
            Some(Weighed {
                specimen: "as weighed".to_owned(),
                before,
                after,
                area,
                weighing_uncertainty: args.weighing_uncertainty,
                area_uncertainty: args.area_uncertainty,
                density_uncertainty: args.density_uncertainty,
            })
        }
    };
    let dimension = match (args.size_before, args.size_after, args.across) {
        (Some(before), Some(after), Some(across)) => {
            let kind = feature(across);
            let uncertainty = args.size_uncertainty;
            Some(Dimension { feature: "as measured".to_owned(), kind, before, after, uncertainty })
        }
        _ => None,
    };
    Ok(RemovalRequest { charge, weighed, dimension, metal: metal(&args.metal), limits: limits(&args.limits) })
}

pub fn allowance(args: &cli::Allowance) -> Result<AllowanceRequest, Error> {
    let removal = Band { from: args.removal_from, to: args.removal_to };
    let given = (args.size.zip(args.tolerance), args.min.zip(args.max));
    let sized = match args.across {
        Machined::Outside => Some(Feature::Outside),
        Machined::Bore => Some(Feature::Bore),
        Machined::Thickness => Some(Feature::Thickness),
        Machined::OneSide => Some(Feature::OneSide),
        Machined::Thread => None,
    };
    let of = match sized {
        Some(feature) => Asked::Size(feature, calculate::finished(given.0, given.1)?),
        None if given == (None, None) => Asked::Thread,
        None => {
            let message = "of a thread only the change of its pitch diameter is told";
            return Err(Error::cannot(
                message,
                "leave the size out, and take the change off the gauge's limits",
            ));
        }
    };
    Ok(AllowanceRequest { of, removal, digits: args.digits })
}

pub fn sampling(args: &cli::Sampling) -> Result<SamplingRequest, Error> {
    Ok(SamplingRequest {
        plan: args.plan.join(" ").parse::<Name>()?,
        lot: args.lot,
        severity: args.severity.map(Into::into),
        good: args.good,
        bad: args.bad,
        this_lot: args.this_lot,
        failed: args.failed,
    })
}

pub fn chance(args: &cli::Chance) -> ChanceRequest {
    ChanceRequest {
        reading: args.reading,
        limits: limits(&args.limits),
        uncertainty: args.uncertainty,
        factor: args.k,
        target: args.target,
        guard_band: args.guard_band,
    }
}

fn is_x3p(file: &Path) -> bool {
    file.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("x3p"))
}

/// An X3P file says itself how it is laid out, whatever the other file needs.
fn layout(file: &Path, form: Option<&str>, args: &cli::Roughness) -> Layout {
    let text = &args.layout;
    match (form, &text.z, text.unit_z) {
        _ if is_x3p(file) => Layout::X3p(args.row),
        (Some(form), ..) => Layout::Named(form.to_owned()),
        (None, Some(z), Some(unit_z)) => Layout::Stated(Box::new(TraceForm {
            delimiter: text.delimiter.into(),
            decimal: text.decimal.into(),
            encoding: if text.latin_1 { Encoding::Latin1 } else { Encoding::Utf8 },
            skip_lines: text.skip_lines,
            x: text.x.clone(),
            z: z.clone(),
            unit_x: text.unit_x,
            unit_z,
            spacing: text.spacing,
            uniform_within: None,
        })),
        _ => Layout::X3p(args.row),
    }
}

pub fn roughness(args: &cli::Roughness) -> Result<RoughnessRequest, Error> {
    let trace = |file: &Path, form: Option<&str>| TraceRequest {
        file: file.to_owned(),
        layout: layout(file, form, args),
    };
    let before_form = args.before_form.as_deref().or(args.form.as_deref());
    let before = args.before.as_deref().map(|file| trace(file, before_form));
    Ok(RoughnessRequest {
        trace: trace(&args.file, args.form.as_deref()),
        before,
        cutoff: args.cutoff,
        lengths: args.lengths,
        ends: match args.ends {
            Ends::Drop => roughness::Ends::Drop,
            Ends::Normalise => roughness::Ends::Normalise,
        },
        ra_at_most: args.ra_at_most,
        rz_at_most: args.rz_at_most,
    })
}

pub fn log(args: &cli::Log) -> LogRequest {
    LogRequest {
        file: args.file.clone(),
        logger: args.logger.clone(),
        measures: args.measures.clone(),
        from: args.from,
        to: args.to,
        window: limits(&args.window),
        allowed_gap: args.allowed_gap,
    }
}

pub fn pren(args: &cli::Pren) -> Metal {
    Metal { grade: args.grade.clone(), composition: args.composition.clone(), density: None }
}

pub fn ratio(args: &cli::Ratio) -> RatioRequest {
    RatioRequest {
        method: args.method,
        elements: args.elements.clone(),
        oxide: args.oxide.clone(),
        metal: args.metal.clone(),
        uncertainty: args.uncertainty.clone(),
        oxide_uncertainty: args.oxide_uncertainty.clone(),
        take_off_angle: args.take_off_angle,
        sputtered: args.sputtered,
        sum_within: args.sum_within,
        cr_fe: args.cr_fe_at_least,
        oxide_ratio: args.crox_feox_at_least,
    }
}

pub fn oxide_depth(args: &cli::OxideDepth) -> DepthRequest {
    DepthRequest {
        file: args.file.clone(),
        time: args.time.clone(),
        oxygen: args.oxygen.clone(),
        separator: args.delimiter.into(),
        decimal: args.decimal.into(),
        method: args.method,
        rate: SputterRate { angstrom_per_minute: args.rate, reference: args.reference },
        bulk_rows: args.bulk_rows,
        limits: limits(&args.limits),
    }
}
