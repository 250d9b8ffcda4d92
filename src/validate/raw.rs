//! What a record may not say of raw files: a trace nobody can tell how to read, a surface of no size.

use std::collections::BTreeSet;

use crate::logger::Loggers;
use crate::path::Path;
use crate::record::Immersion;
use crate::record::RawFile;
use crate::record::Record;
use crate::record::raw_files;
use crate::trace_form::TraceForms;
use crate::units::Dimension;
use crate::validate::Wrong;
use crate::validate::Wrongs;
use crate::validate::outside;

/// Every raw file lies in the shop folder, and it can be told how it is read.
pub(super) fn record(wrongs: &mut Wrongs, record: &Record) {
    for (path, raw) in raw_files(record) {
        outside::file(wrongs, &path.key("file"), raw.file());
        match raw {
            RawFile::Log(log) => wrongs.text(path.key("logger"), &log.logger),
            RawFile::Trace(trace) => {
                let says_itself = raw.file().path.to_lowercase().ends_with(".x3p");
                match (&trace.form, says_itself) {
                    (Some(_), true) => wrongs.say(
                        path.key("form"),
                        "an X3P file says itself how it is read",
                        "leave `form` out",
                    ),
                    (None, false) => wrongs.say(
                        path.clone(),
                        "how this trace is read is not said",
                        "add `form:` with an id of `loggers.yaml`, or name an X3P file",
                    ),
                    _ => {}
                }
            }
        }
    }
}

/// A map of loggers nobody could read by, or two of one id.
pub fn loggers(loggers: &Loggers) -> Vec<Wrong> {
    let faults = loggers.faults().into_iter();
    faults.map(|f| Wrong { path: f.path, message: f.fault.to_string(), hint: None }).collect()
}

/// A layout that cannot be used, or two of one id.
pub fn trace_forms(forms: &TraceForms) -> Vec<Wrong> {
    let mut wrongs = Wrongs::default();
    let mut seen = BTreeSet::new();
    for (i, form) in forms.traces.iter().enumerate() {
        let path = Path::root().key("traces").index(i);
        if !seen.insert(form.form.as_str()) {
            wrongs.say(
                path.key("form"),
                format!("`{}` stands twice", form.form),
                "give each an id of its own",
            );
        }
        if let Err(error) = form.layout.check() {
            wrongs.say(path.key("layout"), error.to_string(), "");
        }
    }
    wrongs.0
}

/// The surface in a bath, where it is written down.
pub(super) fn immersion(wrongs: &mut Wrongs, at: &Path, immersion: &Immersion) {
    wrongs.dimension(at.key("area"), immersion.area, Dimension::Area, "12.5 dm²");
    if immersion.area.is_some_and(|area| area.value() <= rust_decimal::Decimal::ZERO) {
        wrongs.say(at.key("area"), "a surface of no size", "give the surface of all pieces in the bath");
    }
}
