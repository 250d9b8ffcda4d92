//! What the shop's books may not say: baths, instruments, test solutions.

use super::Wrong;
use super::Wrongs;
use super::people;
use crate::path::Path;
use crate::shop::Baths;
use crate::shop::Constituent;
use crate::shop::Instruments;
use crate::shop::Solutions;
use crate::units::Dimension;

/// What the book of baths may not say.
pub fn baths(book: &Baths) -> Vec<Wrong> {
    let mut wrongs = Wrongs::default();
    let base = Path::root().key("baths");
    wrongs.unique(&base, "bath", book.baths.iter().map(|b| &b.bath));
    for bath in &book.baths {
        let path = base.key(&bath.bath);
        wrongs.dimension(path.key("analysis_good_for"), bath.analysis_good_for, Dimension::Time, "7 d");
        for (j, analysis) in bath.analyses.iter().enumerate() {
            let at = path.key("analyses").index(j);
            wrongs.text(at.key("by"), &analysis.by);
            let twice = bath.analyses.iter().take(j).any(|a| a.at == analysis.at);
            if twice {
                wrongs.say(
                    at.key("at"),
                    format!("two analyses of one moment, {}", analysis.at),
                    "keep one, or correct its time",
                );
            }
            for (constituent, value) in &analysis.found {
                let (wanted, example) = match constituent {
                    Constituent::NitricAcid => (Dimension::VolumeFraction, "24.6 vol%"),
                    Constituent::Ph => (Dimension::Acidity, "pH 2.0"),
                    Constituent::SulfuricAcid | Constituent::PhosphoricAcid => {
                        if matches!(value.dimension(), Dimension::VolumeFraction | Dimension::MassFraction) {
                            wrongs.possible(at.key("found"), *value);
                            continue;
                        }
                        (Dimension::MassFraction, "45 wt%")
                    }
                    _ => (Dimension::MassFraction, "5.2 wt%"),
                };
                wrongs.dimension(at.key("found"), Some(*value), wanted, example);
            }
        }
    }
    wrongs.0
}

/// What the book of instruments may not say.
pub fn instruments(book: &Instruments) -> Vec<Wrong> {
    let mut wrongs = Wrongs::default();
    let base = Path::root().key("instruments");
    wrongs.unique(&base, "instrument", book.instruments.iter().map(|i| &i.instrument));
    people::kinds(&mut wrongs, &base, &book.instruments);
    for instrument in &book.instruments {
        people::out_of_service(&mut wrongs, &base.key(&instrument.instrument), instrument);
        for (j, calibration) in instrument.calibrations.iter().enumerate() {
            let at = base.key(&instrument.instrument).key("calibrations").index(j);
            wrongs.text(at.key("certificate"), &calibration.certificate);
            if calibration.due < calibration.on {
                let message = format!("due {}, before it was calibrated {}", calibration.due, calibration.on);
                wrongs.say(at.key("due"), message, "correct one of the two days");
            }
        }
    }
    wrongs.0
}

/// What the book of test solutions may not say.
pub fn solutions(book: &Solutions) -> Vec<Wrong> {
    let mut wrongs = Wrongs::default();
    let base = Path::root().key("solutions");
    wrongs.unique(&base, "solution", book.solutions.iter().map(|s| &s.solution));
    for solution in &book.solutions {
        wrongs.text(base.key(&solution.solution).key("by"), &solution.by);
        for value in solution.recipe.values() {
            if !matches!(value.dimension(), Dimension::Mass | Dimension::Volume) {
                let path = base.key(&solution.solution).key("recipe");
                wrongs.say(
                    path,
                    format!("`{value}` is no amount"),
                    "write grams or millilitres, as in `4.0 g`",
                );
            } else {
                wrongs.possible(base.key(&solution.solution).key("recipe"), *value);
            }
        }
    }
    wrongs.0
}
