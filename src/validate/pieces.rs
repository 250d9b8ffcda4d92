//! What orders, records and slips may not say of pieces: releases, lots made from lots, parts of lots.

use crate::order::Line;
use crate::order::Order;
use crate::path::Path;
use crate::record::Record;
use crate::shipment::Shipment;
use crate::validate::Wrong;
use crate::validate::Wrongs;

/// Between slip and line in the name of a shipment: no slip may hold it.
const LINE: &str = " line ";

/// What an order may not say of the editions in force.
pub fn editions(wrongs: &mut Wrongs, order: &Order) {
    let path = Path::root().key("editions");
    for (standard, edition) in &order.editions {
        wrongs.text(path.clone(), standard);
        wrongs.text(path.key(standard), edition);
    }
}

/// What a line may not say of its releases.
pub fn releases(wrongs: &mut Wrongs, path: &Path, line: &Line) {
    let base = path.key("releases");
    wrongs.unique(&base, "release", line.releases.iter().map(|r| &r.release));
    for (i, release) in line.releases.iter().enumerate().filter(|(_, r)| r.quantity == 0) {
        let message = format!("release {} is of no piece", release.release);
        wrongs.say(base.index(i).key("quantity"), message, "give the pieces released, or remove it");
    }
}

/// What a record may not say of the lots it came from.
pub fn family(wrongs: &mut Wrongs, record: &Record) {
    let root = Path::root();
    if let Some(release) = &record.order.release {
        wrongs.text(root.key("order").key("release"), release);
    }
    if record.split_from.is_some() && !record.merged_from.is_empty() {
        let hint = "one lot it came from is `split_from`, several are `merged_from`";
        wrongs.say(root.key("merged_from"), "both split and merged", hint);
    }
    let split = record.split_from.iter().map(|p| (root.key("split_from"), p));
    let merged = record.merged_from.iter().enumerate().map(|(i, p)| (root.key("merged_from").index(i), p));
    for (i, (path, parent)) in split.chain(merged).enumerate() {
        wrongs.text(path.key("lot"), &parent.lot);
        if parent.lot == record.lot {
            wrongs.say(path.key("lot"), "a lot cannot come from itself", "name the lot it came from");
        }
        if parent.pieces == 0 {
            wrongs.say(path.key("pieces"), "no piece came from it", "give the pieces, or remove it");
        }
        if record.parents().take(i).any(|p| p.lot == parent.lot) {
            let message = format!("lot `{}` stands twice", parent.lot);
            wrongs.say(path.key("lot"), message, "add its pieces up in one entry");
        }
    }
}

/// What a packing slip may not say.
pub fn shipment(shipment: &Shipment) -> Vec<Wrong> {
    let mut wrongs = Wrongs::default();
    let root = Path::root();
    wrongs.text(root.key("slip"), &shipment.slip);
    if shipment.slip.contains(LINE) {
        let hint = "give the slip a number without the word `line`";
        wrongs.say(root.key("slip"), format!("`{}` reads like a slip and a line", shipment.slip), hint);
    }
    for (i, entry) in shipment.lots.iter().enumerate() {
        let path = root.key("lots").index(i);
        wrongs.text(path.key("lot"), &entry.lot);
        wrongs.twice(&path.key("runs"), &entry.runs);
        for (j, run) in entry.runs.iter().enumerate() {
            wrongs.text(path.key("runs").index(j), run);
        }
        if !entry.runs.is_empty() && entry.pieces.is_none() {
            let hint = "count the part that is sent: `pieces: 80`";
            wrongs.say(path.clone(), "a part of a lot without its pieces", hint);
        }
        if let Some(words) = &entry.segregated {
            wrongs.text(path.key("segregated"), words);
            if entry.runs.is_empty() {
                let hint = "name the runs that are sent, as in `runs: [\"1\"]`";
                wrongs.say(path.key("segregated"), "a part of a lot that does not say of which runs", hint);
            }
        }
    }
    wrongs.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn slip(text: &str) -> Vec<String> {
        let read: Shipment = serde_json::from_str(text).unwrap();
        shipment(&read).into_iter().map(|w| format!("{}: {}", w.path, w.message)).collect()
    }

    #[test]
    fn a_part_of_a_lot_names_its_runs_and_its_pieces() {
        let entry = |words: &str| {
            slip(&format!(r#"{{"slip":"S-1","purchaser":"p","lots":[{{"lot":"L-1"{words}}}]}}"#))
        };
        assert_eq!(entry(""), Vec::<String>::new());
        assert_eq!(entry(r#","pieces":3,"runs":["1"],"segregated":"bin 4""#), Vec::<String>::new());
        let refused = |words: &str, with: &str| entry(words).iter().any(|w| w.contains(with));
        assert!(refused(r#","runs":["1"]"#, "without its pieces"));
        assert!(refused(r#","pieces":3,"segregated":"bin 4""#, "of which runs"));
        assert!(refused(r#","pieces":3,"runs":["1","1"]"#, "stands twice"));
        assert!(
            slip(r#"{"slip":"S line 2","purchaser":"p","lots":[]}"#).iter().any(|w| w.contains("reads like"))
        );
    }
}
