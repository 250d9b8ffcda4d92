//! What a record may not say of the day its pieces arrived.

use crate::path::Path;
use crate::record::Record;
use crate::record::Step;
use crate::validate::Wrongs;

/// Pieces arrive before they are treated: a later day would shorten the turn-round that is told of them.
pub fn received(wrongs: &mut Wrongs, record: &Record) {
    let Some(received) = record.received else { return };
    let first = record.runs.iter().flat_map(|run| &run.steps).filter_map(Step::begin).min();
    if let Some(first) = first.filter(|first| first.date() < received) {
        let message = format!("received {received}, but treatment begins {first}");
        wrongs.say(Path::root().key("received"), message, "write the day the pieces came in");
    }
}
