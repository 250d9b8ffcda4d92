//! The elements of `main.xml`, one after the other, with limits on depth and length and without entities.

use std::str;

use quick_xml::Reader;
use quick_xml::events::Event;

use super::super::number::cut;
use super::error::X3pError;

/// The member that describes the others.
pub(super) const MAIN: &str = "main.xml";

/// Name of the outermost element, whatever its prefix.
const ROOT: &str = "ISO5436_2";

/// Deepest nesting; the format itself needs five.
const DEEPEST: usize = 16;

/// Longest text of one element, in bytes.
const LONGEST: usize = 65_536;

/// The text of `main.xml`.
pub(super) fn text(bytes: &[u8]) -> Result<&str, X3pError> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    str::from_utf8(bytes).map_err(|error| {
        let good = bytes.get(..error.valid_up_to()).unwrap_or_default();
        let line = good.iter().filter(|b| **b == b'\n').count().saturating_add(1);
        X3pError::Xml { line, why: "it is no UTF-8".to_owned() }
    })
}

/// Calls `visit` with path and text of every element that holds no other, in the order of the file. The path
/// leaves out the outermost element: `Record1/Axes/CX/AxisType`.
pub(super) fn walk(
    text: &str,
    mut visit: impl FnMut(&str, &str) -> Result<(), X3pError>,
) -> Result<(), X3pError> {
    let mut reader = Reader::from_str(text);
    let mut open: Vec<(usize, bool)> = Vec::new();
    let (mut path, mut said, mut rooted) = (String::new(), String::new(), false);
    loop {
        let event = reader.read_event();
        let place = if event.is_err() { reader.error_position() } else { reader.buffer_position() };
        let fault = |why: &str| {
            let place = usize::try_from(place).unwrap_or(usize::MAX).min(text.len());
            let before = text.as_bytes().get(..place).unwrap_or_default();
            let line = before.iter().filter(|b| **b == b'\n').count().saturating_add(1);
            X3pError::Xml { line, why: why.to_owned() }
        };
        let event = event.map_err(|error| fault(&cut(&error.to_string(), 120)))?;
        let start = match &event {
            Event::Start(start) | Event::Empty(start) => Some(start),
            _ => None,
        };
        if let Some(start) = start {
            let name = start.local_name();
            let name = name.into_inner();
            if open.len() >= DEEPEST || name.len() > 64 {
                return Err(fault("elements are nested deeper than 16, or a name is longer than 64"));
            }
            if open.is_empty() && (rooted || name != ROOT) {
                return Err(fault("the outermost element is not one `ISO5436_2`"));
            }
            rooted = true;
            said.clear();
            if let Some(parent) = open.last_mut() {
                parent.1 = true;
            }
            open.push((path.len(), false));
            if open.len() > 1 {
                if !path.is_empty() {
                    path.push('/');
                }
                path.push_str(name);
            }
        }
        match event {
            Event::End(_) | Event::Empty(_) => close(&mut open, &mut path, &mut said, &mut visit)?,
            Event::Text(part) => said.push_str(&part.into_inner()),
            Event::CData(part) => said.push_str(&part.into_inner()),
            Event::GeneralRef(name) => match (name.resolve_char_ref(), &*name.into_inner()) {
                (Ok(Some(c)), _) => said.push(c),
                (_, "lt") => said.push('<'),
                (_, "gt") => said.push('>'),
                (_, "amp") => said.push('&'),
                (_, "apos") => said.push('\''),
                (_, "quot") => said.push('"'),
                _ => return Err(fault("it uses an entity, which this format has none of")),
            },
            Event::DocType(_) => return Err(fault("it has a document type, which this format has none of")),
            Event::Decl(decl) => {
                if let Some(Ok(encoding)) = decl.encoding()
                    && !encoding.eq_ignore_ascii_case("UTF-8")
                {
                    return Err(fault("it says an encoding other than UTF-8"));
                }
            }
            Event::Eof if rooted && open.is_empty() => return Ok(()),
            Event::Eof => return Err(fault("it ends before its elements do")),
            _ => {}
        }
        if said.len() > LONGEST {
            return Err(fault("the text of an element is longer than 65536 bytes"));
        }
    }
}

/// Closes the innermost element.
fn close(
    open: &mut Vec<(usize, bool)>,
    path: &mut String,
    said: &mut String,
    visit: &mut impl FnMut(&str, &str) -> Result<(), X3pError>,
) -> Result<(), X3pError> {
    let Some((length, holds)) = open.pop() else { return Ok(()) };
    if !holds {
        visit(path, said.trim())?;
    }
    said.clear();
    path.truncate(length);
    Ok(())
}
