//! call-outs.

use std::io;
use std::io::Read;

use super::Answer;
use super::Exit;
use super::Output;
use crate::app::call_outs;
use crate::app::error::Error;
use crate::cli::CallOuts;
use crate::folder::Folder;
use crate::report::call_outs as report;

pub fn run(args: &CallOuts, folder: &Folder, as_json: bool, output: &mut Output) -> Answer {
    let piped = args.text == "-";
    let text = if piped { standard_input()? } else { args.text.clone() };
    // On the command line the text is one note, whatever its lines.
    let lines: Vec<(usize, &str)> = if piped {
        text.lines().enumerate().map(|(i, line)| (i + 1, line)).collect()
    } else {
        vec![(1, &text)]
    };
    let lines: Vec<(usize, &str)> = lines.into_iter().filter(|(_, line)| !line.trim().is_empty()).collect();
    let notes = call_outs::read(folder, &lines)?;
    if as_json {
        output.json(&report::json(&notes))?;
    } else {
        for (i, note) in notes.iter().enumerate() {
            if piped {
                let gap = if i > 0 { "\n" } else { "" };
                output.say(format_args!("{gap}# {}: {}", note.line, note.text.trim()))?;
            }
            output.say(report::yaml(&note.reading))?;
        }
    }
    let clear = notes.iter().all(|note| note.reading.ask.is_empty());
    Ok(if clear { Exit::Good } else { Exit::Gaps })
}

fn standard_input() -> Result<String, Error> {
    let mut text = String::new();
    // One more than is allowed, so that too much is noticed.
    let read = io::stdin().lock().take(call_outs::MOST + 1).read_to_string(&mut text);
    read.map_err(|e| {
        Error::cannot(format!("standard input cannot be read: {e}"), "give plain text in UTF-8")
    })?;
    if text.len() as u64 > call_outs::MOST {
        let most = call_outs::MOST;
        return Err(Error::cannot(
            format!("more than {most} bytes on standard input"),
            "give the notes in parts",
        ));
    }
    Ok(text)
}
