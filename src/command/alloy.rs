//! alloy.

use super::Answer;
use super::Exit;
use super::Output;
use crate::app::grade;
use crate::folder::Folder;
use crate::report;

pub fn show(folder: &Folder, name: &[String], as_json: bool, output: &mut Output) -> Answer {
    let name = name.join(" ");
    let found = grade::describe(folder, &name)?;
    if as_json {
        output.json(&report::alloy::json(&name, &found))?;
    } else {
        output.say(report::alloy::text(&name, &found).trim_end())?;
    }
    Ok(if found.is_ok() { Exit::Good } else { Exit::Gaps })
}
