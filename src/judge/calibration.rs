//! The calibration of an instrument on the day it was used.

use crate::finding::Document;
use crate::finding::Reason;
use crate::judge::Dossier;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::judge::step::not_in_book;
use crate::moment::Date;
use crate::path::Path;

/// The calibration of an instrument on a day.
pub fn calibration(dossier: &Dossier, id: &str, day: Date, named_at: Path) -> Evidence {
    let Some(instrument) = dossier.instruments.iter().find(|i| i.instrument == id) else {
        return not_in_book(named_at, "instrument", id);
    };
    let path = Path::root().key("instruments").key(id).key("calibrations");
    let Some((_, calibration)) = instrument.calibration_on(day) else {
        return Evidence::at(Document::Instruments, path, Found::Missing(Reason::NoCalibration));
    };
    let state = if calibration.passed { "passed" } else { "found out of limits" };
    Evidence::at(
        Document::Instruments,
        path.key(&calibration.on.to_string()),
        Found::Own {
            observed: format!("{id}: {state} {}, due {}", calibration.on, calibration.due),
            limit: format!("in force on {day}"),
            met: calibration.passed && calibration.due >= day,
        },
    )
}
