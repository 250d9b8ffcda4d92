//! calculate, pictures.

mod asked;

use std::path::Path;

use super::Answer;
use super::Exit;
use super::Output;
use super::Stop;
use crate::app::calculate;
use crate::app::calculate::Standing;
use crate::app::calculate::Worked;
use crate::app::error::Error;
use crate::app::pictures;
use crate::cli::Calculate;
use crate::cli::Pictures;
use crate::cli::Strength;
use crate::folder;
use crate::folder::Folder;
use crate::picture;
use crate::report::calculate as report;
use crate::solution::Analyte;

/// Carries out one calculation.
pub fn run(verb: &Calculate, folder: &Folder, as_json: bool, output: &mut Output) -> Answer {
    let (worked, picture) = match verb {
        Calculate::Strength(strength) => (of_strength(strength)?, None),
        Calculate::MakeUp(args) => (calculate::make_up(&asked::make_up(args))?, None),
        Calculate::Solids(args) => {
            (calculate::solids(&args.conductivity, args.factor, &asked::limits(&args.limits))?, None)
        }
        Calculate::Removal(args) => (calculate::removal(&asked::removal(args)?)?, Some(&args.draw)),
        Calculate::Allowance(args) => (calculate::allowance(&asked::allowance(args)?)?, None),
        Calculate::Sampling(args) => (calculate::sampling(&asked::sampling(args)?)?, Some(&args.draw)),
        Calculate::Chance(args) => (calculate::chance(&asked::chance(args))?, None),
        Calculate::Roughness(args) => {
            (calculate::roughness(folder, &asked::roughness(args)?)?, Some(&args.draw))
        }
        Calculate::Log(args) => (calculate::log(folder, &asked::log(args))?, Some(&args.draw)),
        Calculate::Pren(args) => (calculate::pren(&asked::pren(args), args.formula, args.at_least)?, None),
        Calculate::Ratio(args) => (calculate::ratio(&asked::ratio(args))?, None),
        Calculate::OxideDepth(args) => (calculate::oxide_depth(&asked::oxide_depth(args))?, None),
    };
    let picture = picture.and_then(|draw| draw.picture.as_deref());
    if let Some(file) = picture {
        draw(&worked, file)?;
    }
    if as_json {
        output.json(&report::json(&worked, picture))?;
    } else {
        output.say(report::text(&worked).trim_end())?;
    }
    if let Some(file) = picture {
        output.note(format_args!("written to {}", file.display()))?;
    }
    Ok(match worked.standing {
        None | Some(Standing::Inside(_)) => Exit::Good,
        Some(Standing::Outside(_)) => Exit::Gaps,
        Some(Standing::CannotTell(_)) => Exit::CouldNot,
    })
}

fn of_strength(strength: &Strength) -> Result<Worked, Error> {
    let (what, args) = match strength {
        Strength::Nitric(args) => (Analyte::NitricAcid, args),
        Strength::Citric(args) => (Analyte::CitricAcid, args),
        Strength::Dichromate(args) => (Analyte::SodiumDichromate, args),
        Strength::Chloride(args) => (Analyte::Chloride, args),
        Strength::ByDensity(args) => {
            let limits = asked::limits(&args.limits);
            return calculate::by_density(&args.density, &args.temperature, args.basis, &limits);
        }
    };
    calculate::strength(&asked::titration(what, args), &asked::limits(&args.limits))
}

/// Writes the picture whole, or nothing.
fn draw(worked: &Worked, file: &Path) -> Result<(), Stop> {
    let drawing = worked
        .drawing
        .as_ref()
        .ok_or_else(|| Error::cannot("there is nothing to draw here", "leave --picture out"))?;
    if !file.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("svg")) {
        let message = format!("{}: pictures are written as SVG", file.display());
        return Err(Error::cannot(message, "give --picture a name that ends in .svg").into());
    }
    Ok(folder::write_whole(file, picture::to_svg(drawing).as_bytes())?)
}

/// Writes the pictures of a lot or a certificate.
pub fn pictures(args: &Pictures, folder: &Folder, as_json: bool, output: &mut Output) -> Answer {
    let written = pictures::write(folder, &args.name, &args.out)?;
    if as_json {
        output.json(&report::pictures(&args.name, &written))?;
        return Ok(Exit::Good);
    }
    for picture in &written {
        output.say(format_args!("{}: {}", picture.file.display(), picture.title))?;
    }
    Ok(Exit::Good)
}
