//! evidence.

use std::path::Path;

use super::Answer;
use super::Exit;
use super::Output;
use crate::app::evidence;
use crate::folder::Folder;

/// Writes the evidence of a certificate to a new file.
pub fn hand_out(folder: &Folder, number: &str, out: &Path, as_json: bool, output: &mut Output) -> Answer {
    let handed = evidence::hand_out(folder, number, out)?;
    if as_json {
        output.json(&serde_json::json!({
            "version": crate::report::json::VERSION,
            "number": handed.number,
            "lots": handed.lots,
            "file": out.display().to_string(),
        }))?;
    } else {
        output.say(format_args!(
            "evidence of {}, with the record of {}: {}",
            handed.number,
            handed.lots.join(", "),
            out.display()
        ))?;
        output.note("it holds what the order withholds from the purchaser: give it to whom the shop chooses, and to nobody else")?;
    }
    Ok(Exit::Good)
}
