//! Raw files a record names: a logger's recording of a bath, a profile trace of a surface.

use serde::Deserialize;
use serde::Serialize;

use crate::evidence::FileName;
use crate::path::Path;
use crate::record::Record;

/// A logger's file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LogFile {
    /// Where it lies.
    pub file: FileName,
    /// Which logger wrote it, by its id in the shop's book.
    pub logger: String,
}

/// A profile trace.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TraceFile {
    /// Where it lies.
    pub file: FileName,
    /// How its text is read, by the id of the form in the shop's book; an X3P file says it itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub form: Option<String>,
}

/// A raw file a record names.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RawFile<'a> {
    /// A logger's, of a step.
    Log(&'a LogFile),
    /// A trace's, of a measurement.
    Trace(&'a TraceFile),
}

impl<'a> RawFile<'a> {
    /// Where it lies.
    pub const fn file(&self) -> &'a FileName {
        match self {
            RawFile::Log(log) => &log.file,
            RawFile::Trace(trace) => &trace.file,
        }
    }

    /// What it is, in words.
    pub fn words(&self) -> String {
        match self {
            RawFile::Log(log) => format!("log of {}", log.logger),
            RawFile::Trace(_) => "profile trace".to_owned(),
        }
    }
}

/// Every raw file a record names, with the entry that names it.
pub fn raw_files(record: &Record) -> Vec<(Path, RawFile<'_>)> {
    let mut all = Vec::new();
    for (i, run) in record.runs.iter().enumerate() {
        let steps = Path::root().key("runs").index(i).key("steps");
        for (j, step) in run.steps.iter().enumerate() {
            if let Some(log) = step.immersion().and_then(|dip| dip.log.as_ref()) {
                all.push((steps.index(j).key(step.key()).key("log"), RawFile::Log(log)));
            }
        }
    }
    for (i, measurement) in record.measurements.iter().enumerate() {
        let path = Path::root().key("measurements").index(i);
        for (key, traces) in [("traces", &measurement.traces), ("traces_before", &measurement.traces_before)]
        {
            let each = traces.iter().enumerate();
            all.extend(each.map(|(j, trace)| (path.key(key).index(j), RawFile::Trace(trace))));
        }
    }
    all
}
