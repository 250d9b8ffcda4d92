//! What corrections may not say.

use super::Wrong;
use super::Wrongs;
use crate::correction;
use crate::correction::CorrectionFault;
use crate::correction::Corrections;
use crate::path::Path;
use crate::record::Record;

fn say(wrongs: &mut Wrongs, faults: Vec<CorrectionFault>) {
    for fault in faults {
        let path = Path::root().key("corrections").index(fault.index).key(fault.key);
        wrongs.say(path, fault.message, fault.hint);
    }
}

/// Those of a record, held against what it says.
pub(super) fn of_record(wrongs: &mut Wrongs, record: &Record) {
    if record.corrections.is_empty() {
        return;
    }
    match serde_json::to_value(record) {
        Ok(tree) => say(wrongs, correction::faults(&tree, &record.corrections)),
        Err(error) => wrongs.say(Path::root(), format!("this record has no tree: {error}"), ""),
    }
}

/// Those of the shop's book, each by itself.
pub fn corrections(corrections: &Corrections) -> Vec<Wrong> {
    let mut wrongs = Wrongs::default();
    say(&mut wrongs, correction::plain_faults(&corrections.corrections));
    wrongs.0
}
