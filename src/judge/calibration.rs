//! The calibration of an instrument on the day it was used, and whether it is an instrument for the purpose.

use crate::finding::Document;
use crate::finding::Reason;
use crate::judge::Dossier;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::judge::evidence::Uncertainty;
use crate::judge::step::not_in_book;
use crate::moment::Date;
use crate::path::Path;
use crate::shop::Instrument;
use crate::shop::InstrumentKind;

fn book_path(id: &str) -> Path {
    Path::root().key("instruments").key(id)
}

/// Whether the book says what kinds its instruments are.
fn says_kinds(dossier: &Dossier) -> bool {
    dossier.instruments.iter().any(|i| i.kind.is_some())
}

/// What is wrong with the kind of an instrument, when the book says kinds.
fn unfit(dossier: &Dossier, instrument: &Instrument, kinds: &[InstrumentKind]) -> Option<Evidence> {
    if !says_kinds(dossier) {
        return None;
    }
    let path = book_path(&instrument.instrument).key("kind");
    let Some(kind) = instrument.kind else {
        return Some(Evidence::at(Document::Instruments, path, Found::Missing(Reason::NotRecorded)));
    };
    (!kinds.contains(&kind)).then(|| {
        let observed = format!("{}: {}", instrument.instrument, kind.name());
        let found = Found::Own { observed, limit: kind_words(kinds), met: false };
        Evidence::at(Document::Instruments, path, found)
    })
}

fn kind_words(kinds: &[InstrumentKind]) -> String {
    kinds.iter().map(|k| k.name()).collect::<Vec<_>>().join(" or ")
}

/// The calibration of an instrument on a day; of a kind that can measure this, and in service.
pub fn calibration(
    dossier: &Dossier,
    id: &str,
    day: Date,
    named_at: Path,
    kinds: &[InstrumentKind],
) -> Evidence {
    let Some(instrument) = dossier.instruments.iter().find(|i| i.instrument == id) else {
        return not_in_book(named_at, "instrument", id);
    };
    if let Some(evidence) = unfit(dossier, instrument, kinds) {
        return evidence;
    }
    if let Some(out) = instrument.out_of_service_on(day) {
        let until = out.to.map_or_else(|| "until further notice".to_owned(), |to| format!("to {to}"));
        let found = Found::Own {
            observed: format!("{id}: out of service {} {until}, {}", out.from, out.why),
            limit: format!("in service on {day}"),
            met: false,
        };
        return Evidence::at(Document::Instruments, book_path(id).key("out_of_service"), found);
    }
    let path = book_path(id).key("calibrations");
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

/// The expanded uncertainty that the calibration in force on a day states; unknown where it states none, where no
/// instrument is named, or the book has none of that id.
pub fn uncertainty(dossier: &Dossier, id: Option<&str>, day: Option<Date>) -> Uncertainty {
    let Some(id) = id else { return Uncertainty::Unknown("the uncertainty of the reading".to_owned()) };
    let instrument = dossier.instruments.iter().find(|i| i.instrument == id);
    let stated = || instrument?.calibration_on(day?)?.1.uncertainty;
    stated().map_or_else(|| Uncertainty::Unknown(format!("the uncertainty of {id}")), Uncertainty::Known)
}

/// The kind of an instrument whose calibration nothing rests on: it must still be one made for this.
pub fn fitting(dossier: &Dossier, id: &str, named_at: Path, kinds: &[InstrumentKind]) -> Evidence {
    if !says_kinds(dossier) {
        return Evidence::record(named_at, Found::NotApplicable);
    }
    let Some(instrument) = dossier.instruments.iter().find(|i| i.instrument == id) else {
        return not_in_book(named_at, "instrument", id);
    };
    unfit(dossier, instrument, kinds).unwrap_or_else(|| {
        let kind = instrument.kind.map_or("", InstrumentKind::name);
        let found = Found::Own { observed: format!("{id}: {kind}"), limit: kind_words(kinds), met: true };
        Evidence::at(Document::Instruments, book_path(id).key("kind"), found)
    })
}
