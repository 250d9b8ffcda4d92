//! What the purchaser may see, and control markings.

use crate::path::Path;
use crate::validate::Wrongs;

/// The longest marking: it is printed at the head of every page.
const LONGEST: usize = 160;

/// That a control marking is a line that fits the head of a page.
pub fn controlled(wrongs: &mut Wrongs, marking: Option<&String>) {
    let Some(marking) = marking else { return };
    let path = Path::root().key("controlled");
    if marking.trim().is_empty() || marking.chars().any(char::is_control) {
        let message = "a control marking is expected as one line of words";
        wrongs.say(path, message, "write the purchaser's marking, or leave `controlled:` out");
    } else if marking.chars().count() > LONGEST {
        let message = format!(
            "it has {} letters; at most {LONGEST} are printed on every page",
            marking.chars().count()
        );
        wrongs.say(path, message, "shorten the marking");
    }
}
