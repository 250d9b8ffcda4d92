//! What a text calls for, as lines of a part specification and as JSON.

use serde::Serialize;

use crate::app::call_outs::Note;
use crate::callout::Reading;
use crate::part::CallOut;
use crate::report::json::VERSION;
use crate::yaml::scalar;

/// A reading as YAML: `calls_for:` as a part specification has it, then what was assumed and what must be asked.
pub fn yaml(reading: &Reading) -> String {
    let mut lines = Vec::new();
    if reading.calls_for.is_empty() {
        lines.push("calls_for: []".to_owned());
    } else {
        lines.push("calls_for:".to_owned());
        lines.extend(reading.calls_for.iter().map(|call_out| format!("  - {}", line(call_out))));
    }
    let said = |word: &str, sentence: String| format!("  - {word}: {}", scalar(&sentence, false));
    if !reading.assumed.is_empty() {
        lines.push("assumed:".to_owned());
        lines.extend(reading.assumed.iter().map(|s| said(s.what.word(), s.what.sentence(&s.about))));
    }
    if !reading.ask.is_empty() {
        lines.push("ask:".to_owned());
        lines.extend(reading.ask.iter().map(|s| said(s.what.word(), s.what.sentence(&s.about))));
    }
    lines.join("\n")
}

/// One call-out on one line.
fn line(call_out: &CallOut) -> String {
    let mut fields: Vec<(&str, String)> = Vec::new();
    let mut text = |key, value: Option<String>| {
        fields.extend(value.map(|value| (key, scalar(&value, true))));
    };
    text("standard", call_out.standard.clone());
    text("treatment", call_out.treatment.clone());
    text("limit", call_out.limit.map(|limit| limit.name().to_owned()));
    text("at_most", call_out.at_most.map(|q| q.to_string()));
    text("at_least", call_out.at_least.map(|q| q.to_string()));
    // A class is a name, though it looks like a number.
    fields.extend(
        call_out.class.as_ref().map(|class| ("class", serde_json::Value::from(class.as_str()).to_string())),
    );
    let list = |names: Vec<&str>| {
        format!("[{}]", names.iter().map(|n| scalar(n, true)).collect::<Vec<_>>().join(", "))
    };
    if !call_out.tests.is_empty() {
        fields.push(("tests", list(call_out.tests.iter().map(|t| t.name()).collect())));
    }
    if !call_out.options.is_empty() {
        fields.push(("options", list(call_out.options.iter().map(|o| o.name()).collect())));
    }
    let plan = call_out.sampling.and_then(|plan| serde_json::to_value(plan).ok());
    fields.extend(plan.as_ref().and_then(|p| p.as_str()).map(|plan| ("sampling", scalar(plan, true))));
    let fields: Vec<String> = fields.iter().map(|(key, value)| format!("{key}: {value}")).collect();
    format!("{{ {} }}", fields.join(", "))
}

/// `call-outs --format json`.
#[derive(Debug, Serialize)]
pub struct CallOutsReport {
    /// Version of this form.
    pub version: u64,
    /// One for each note, in the order given.
    pub notes: Vec<NoteReport>,
}

/// One note.
#[derive(Debug, Serialize)]
pub struct NoteReport {
    /// Which line of the input, from one.
    pub line: usize,
    /// As it stands.
    pub text: String,
    /// Call-outs, as a part specification has them.
    pub calls_for: Vec<CallOut>,
    /// What was taken for granted.
    pub assumed: Vec<SaidReport>,
    /// What must be asked.
    pub ask: Vec<SaidReport>,
}

/// An assumption or a question.
#[derive(Debug, Serialize)]
pub struct SaidReport {
    /// Its short word, of a closed list.
    pub word: &'static str,
    /// For people.
    pub sentence: String,
}

/// The readings for machines.
pub fn json(notes: &[Note]) -> CallOutsReport {
    let said = |word, sentence| SaidReport { word, sentence };
    let note = |note: &Note| NoteReport {
        line: note.line,
        text: note.text.clone(),
        calls_for: note.reading.calls_for.clone(),
        assumed: note
            .reading
            .assumed
            .iter()
            .map(|s| said(s.what.word(), s.what.sentence(&s.about)))
            .collect(),
        ask: note.reading.ask.iter().map(|s| said(s.what.word(), s.what.sentence(&s.about))).collect(),
    };
    CallOutsReport { version: VERSION, notes: notes.iter().map(note).collect() }
}
