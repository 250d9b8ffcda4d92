//! From what the rows say to records: rows of one lot put together, run by run, in the house's way of writing.

use std::collections::BTreeMap;

use crate::app::book;
use crate::app::book::Book;
use crate::app::book::Sourced;
use crate::app::error::Error;
use crate::app::intake::cells::Value;
use crate::app::intake::fault::Faults;
use crate::app::intake::rows::Line;
use crate::app::intake::rows::Said;
use crate::columns::Block;
use crate::path::Path;
use crate::record::Record;
use crate::sheet::Place;
use crate::validate;
use crate::yaml;
use crate::yaml::Places;

/// A record as it would be written.
#[derive(Debug, Clone)]
pub(super) struct Draft {
    pub lot: String,
    pub text: String,
    pub record: Record,
}

/// One block of a run or of the lot, as it is written.
struct Piece {
    block: Block,
    /// Values in the order they are written; the second is the YAML.
    keys: Vec<(String, String, Place)>,
    place: Place,
}

#[derive(Default)]
struct Run {
    name: String,
    keys: BTreeMap<String, (Value, Place)>,
    steps: Vec<Piece>,
}

/// Puts together the records of all lots. Draft or faults, lot by lot.
///
/// `one_run` says that rows which name no run are steps of one run, as in a sheet with a row a step.
pub(super) fn drafts(
    lines: &[Line],
    one_run: bool,
    origin: &str,
    book: &Book,
    faults: &mut Faults,
) -> Vec<Draft> {
    let mut lots: Vec<(String, Vec<&Line>)> = Vec::new();
    for line in lines {
        let Some(said) = line.get(&Block::Lot, "lot") else {
            // A cell that could not be read is told already.
            if !faults.all.iter().any(|(place, _)| place.row == line.place.row) {
                faults.say(&line.place, "no lot", "the row's lot is expected", "write it in every row");
            }
            continue;
        };
        let name = said.value.shown();
        if name.is_empty() {
            continue;
        }
        if !is_file_name(&name) {
            let expected = "a lot number of letters, digits, `-`, `.` and `_` is expected";
            faults.say(&said.place, format!("`{name}`"), expected, "it names the record's file");
            continue;
        }
        match lots.iter_mut().find(|(lot, _)| *lot == name) {
            Some((_, all)) => all.push(line),
            None => lots.push((name, vec![line])),
        }
    }
    lots.iter().filter_map(|(lot, lines)| draft(lot, lines, one_run, origin, book, faults)).collect()
}

fn is_file_name(name: &str) -> bool {
    let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '.' | '_');
    name.len() <= 60 && name.chars().all(plain) && name.starts_with(|c: char| c.is_ascii_alphanumeric())
}

fn draft(
    lot: &str,
    lines: &[&Line],
    one_run: bool,
    origin: &str,
    book: &Book,
    faults: &mut Faults,
) -> Option<Draft> {
    let before = faults.all.len();
    let mut top: BTreeMap<(Block, String), (Value, Place)> = BTreeMap::new();
    let mut runs: Vec<Run> = Vec::new();
    let mut others: Vec<Piece> = Vec::new();
    for line in lines {
        for said in &line.said {
            if matches!(said.block, Block::Lot | Block::Order | Block::Material | Block::Counts) {
                agree(top.entry((said.block.clone(), said.key.clone())), said, faults);
            }
        }
        let name = match line.get(&Block::Run, "run") {
            Some(said) => said.value.shown(),
            None if lines.len() == 1 || one_run => "1".to_owned(),
            None => {
                let expected = "the run is expected: the lot has several rows";
                faults.say(&line.place, "no run", expected, "fill in, or map, a column `run`");
                continue;
            }
        };
        let pieces = blocks(line, &name, faults);
        let run_says = line.said.iter().any(|s| s.block == Block::Run && s.key != "run");
        if run_says || pieces.iter().any(|p| p.block.is_step()) {
            let at = runs.iter().position(|r| r.name == name).unwrap_or_else(|| {
                runs.push(Run { name: name.clone(), ..Run::default() });
                runs.len().saturating_sub(1)
            });
            if let Some(run) = runs.get_mut(at) {
                for said in line.said.iter().filter(|s| s.block == Block::Run && s.key != "run") {
                    agree(run.keys.entry(said.key.clone()), said, faults);
                }
                let (steps, rest): (Vec<Piece>, Vec<Piece>) =
                    pieces.into_iter().partition(|p| p.block.is_step());
                run.steps.extend(steps);
                others.extend(rest);
            }
        } else {
            others.extend(pieces);
        }
    }
    let first = lines.first().map(|l| l.place.clone())?;
    for (block, prefix) in
        [(Block::Order, "order."), (Block::Material, "material."), (Block::Counts, "counts.")]
    {
        for key in block.needs().filter(|key| !top.contains_key(&(block.clone(), (*key).to_owned()))) {
            missing(&first, &format!("{prefix}{key}"), faults);
        }
    }
    let of_material = |key: &str| top.get(&(Block::Material, key.to_owned()));
    if let (Some((_, place)), None) = (of_material("heats"), of_material("known")) {
        missing(place, "material.known", faults);
    }
    for run in runs.iter().filter(|r| !r.keys.contains_key("pieces")) {
        let place = run.steps.first().map_or(&first, |s| &s.place);
        missing(place, "pieces", faults);
    }
    if faults.all.len() > before || faults.all.iter().any(|(p, _)| lines.iter().any(|l| l.place.row == p.row))
    {
        return None;
    }
    let mut writer = Writer::default();
    let rows: Vec<String> = lines.iter().map(|l| l.place.row.to_string()).collect();
    let what = if first.lettered { "rows" } else { "lines" };
    writer.line(&format!("# {origin}, {what} {}.", rows.join(", ")));
    writer.record(lot, &first, &top, &runs, &others);
    finish(lot, writer, &first, book, faults)
}

fn missing(place: &Place, field: &str, faults: &mut Faults) {
    faults.say(place, format!("no `{field}`"), "it is expected", "fill it in");
}

/// Rows of one lot must not contradict each other.
fn agree<K: Ord>(
    entry: std::collections::btree_map::Entry<'_, K, (Value, Place)>,
    said: &Said,
    faults: &mut Faults,
) {
    let (value, place) = entry.or_insert_with(|| (said.value.clone(), said.place.clone()));
    let unread = |value: &Value| *value == Value::One(String::new());
    if *value != said.value && !unread(value) && !unread(&said.value) {
        let expected = format!("`{}` as in {place} is expected", value.shown());
        faults.say(&said.place, format!("`{}`", said.value.shown()), expected, "correct one of the two");
    }
}

/// The steps, tests, looks and readings a row tells of, in the order of its columns.
fn blocks(line: &Line, run: &str, faults: &mut Faults) -> Vec<Piece> {
    let mut pieces: Vec<(u32, Piece)> = Vec::new();
    for said in &line.said {
        if matches!(
            said.block,
            Block::Lot | Block::Order | Block::Material | Block::Counts | Block::Run | Block::Entry
        ) {
            continue;
        }
        let at = pieces.iter().position(|(nth, p)| *nth == said.nth && p.block == said.block);
        let at = at.unwrap_or_else(|| {
            let piece = Piece { block: said.block.clone(), keys: Vec::new(), place: said.place.clone() };
            pieces.push((said.nth, piece));
            pieces.len().saturating_sub(1)
        });
        if let Some((_, piece)) = pieces.get_mut(at) {
            let flow = piece.block.is_step();
            piece.keys.push((said.key.clone(), written(&said.key, &said.value, flow), said.place.clone()));
        }
    }
    for (_, piece) in &mut pieces {
        let lacking: Vec<&str> =
            piece.block.needs().filter(|need| !piece.keys.iter().any(|(key, _, _)| key == need)).collect();
        for key in lacking {
            missing(&piece.place, &format!("{}.{key}", name(&piece.block)), faults);
        }
        let speaks_for = matches!(piece.block, Block::Test(_) | Block::Visual | Block::Measured(_));
        if speaks_for && !piece.keys.iter().any(|(key, _, _)| key == "covers") {
            let covers = written("covers", &Value::Many(vec![run.to_owned()]), true);
            piece.keys.insert(0, ("covers".to_owned(), covers, line.place.clone()));
        }
        if !matches!(piece.block, Block::Dry | Block::Visual) {
            piece.keys.push(("source".to_owned(), "sheet".to_owned(), line.place.clone()));
        }
    }
    pieces.into_iter().map(|(_, piece)| piece).collect()
}

fn name(block: &Block) -> &'static str {
    match block {
        Block::Immersion(step) => step,
        Block::Rinse => "rinse",
        Block::FinalRinse => "final rinse",
        Block::Dry => "dry",
        Block::Test(test) => test.name(),
        Block::Visual => "visual",
        Block::Measured(what) => what.name(),
        _ => "",
    }
}

/// A value as the file writes it. What looks like a number and is none is put in quotes.
fn written(key: &str, value: &Value, flow: bool) -> String {
    let text = |text: &String| {
        let named = matches!(key, "line" | "run" | "covers" | "treats_again" | "release");
        if named || text.parse::<f64>().is_ok() {
            format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\""))
        } else {
            yaml::scalar(text, flow)
        }
    };
    match value {
        Value::One(one) => text(one),
        Value::Count(number) => number.to_string(),
        Value::Truth(truth) => truth.to_string(),
        Value::Many(all) => {
            let all: Vec<String> = all
                .iter()
                .map(|one| if key == "covers" { text(one) } else { yaml::scalar(one, true) })
                .collect();
            format!("[{}]", all.join(", "))
        }
    }
}

/// The file as it grows, and which cell each place of it came from.
#[derive(Default)]
struct Writer {
    text: String,
    from: Vec<(Path, Place)>,
}

impl Writer {
    fn line(&mut self, line: &str) {
        self.text.push_str(line);
        self.text.push('\n');
    }

    fn flow(&mut self, path: &Path, keys: &[(String, String, Place)]) -> String {
        let mut parts = Vec::new();
        for (key, value, place) in keys {
            self.from.push((path.key(key), place.clone()));
            parts.push(format!("{key}: {value}"));
        }
        format!("{{ {} }}", parts.join(", "))
    }

    fn record(
        &mut self,
        lot: &str,
        first: &Place,
        top: &BTreeMap<(Block, String), (Value, Place)>,
        runs: &[Run],
        others: &[Piece],
    ) {
        let root = Path::root();
        self.from.push((root.clone(), first.clone()));
        let get = |block: Block, key: &str| top.get(&(block, key.to_owned()));
        let keys_of = |block: Block, order: &[&str]| -> Vec<(String, String, Place)> {
            let found = order.iter().filter_map(|key| {
                let (value, place) = get(block.clone(), key)?;
                Some(((*key).to_owned(), written(key, value, true), place.clone()))
            });
            found.collect()
        };
        let order = keys_of(Block::Order, &["number", "line", "release"]);
        let counts = keys_of(
            Block::Counts,
            &[
                "received",
                "accepted",
                "rejected",
                "destroyed_in_test",
                "held",
                "split_off",
                "returned_unprocessed",
                "missing",
                "by",
            ],
        );
        self.line(&format!("lot: {}", written("", &Value::One(lot.to_owned()), false)));
        self.top("purchaser_lot", get(Block::Lot, "purchaser_lot"));
        let order = self.flow(&root.key("order"), &order);
        self.line(&format!("order: {order}"));
        let mut material = keys_of_grade(top);
        if let Some((Value::Many(heats), place)) = get(Block::Material, "heats") {
            let known = get(Block::Material, "known").map(|(value, _)| value.shown()).unwrap_or_default();
            let each: Vec<String> = heats
                .iter()
                .map(|heat| {
                    let heat = written("", &Value::One(heat.clone()), true);
                    format!("{{ heat: {heat}, known: {} }}", yaml::scalar(&known, true))
                })
                .collect();
            material.push(("heats".to_owned(), format!("[{}]", each.join(", ")), place.clone()));
        }
        let material = self.flow(&root.key("material"), &material);
        self.line(&format!("material: {material}"));
        let counts = self.flow(&root.key("counts"), &counts);
        self.line(&format!("counts: {counts}"));
        self.runs(runs);
        let of = |wanted: fn(&Block) -> bool| others.iter().filter(move |p| wanted(&p.block));
        self.list("tests", "test", of(|b| matches!(b, Block::Test(_))));
        self.list("visual", "", of(|b| matches!(b, Block::Visual)));
        self.list("measurements", "what", of(|b| matches!(b, Block::Measured(_))));
        self.top("remarks", get(Block::Lot, "remarks"));
    }

    fn top(&mut self, key: &str, said: Option<&(Value, Place)>) {
        if let Some((value, place)) = said {
            self.from.push((Path::root().key(key), place.clone()));
            self.line(&format!("{key}: {}", written(key, value, false)));
        }
    }

    fn runs(&mut self, runs: &[Run]) {
        if runs.is_empty() {
            return;
        }
        self.line("runs:");
        for (i, run) in runs.iter().enumerate() {
            let path = Path::root().key("runs").index(i);
            self.line(&format!("  - run: {}", written("run", &Value::One(run.name.clone()), false)));
            for key in ["load", "pieces", "treats_again", "because"] {
                if let Some((value, place)) = run.keys.get(key) {
                    self.from.push((path.key(key), place.clone()));
                    self.line(&format!("    {key}: {}", written(key, value, false)));
                }
            }
            self.line(if run.steps.is_empty() { "    steps: []" } else { "    steps:" });
            for (j, step) in run.steps.iter().enumerate() {
                let (key, last) = match &step.block {
                    Block::FinalRinse => ("rinse", "final: true, "),
                    block => (name(block), ""),
                };
                let at = path.key("steps").index(j).key(key);
                self.from.push((at.clone(), step.place.clone()));
                let keys = self.flow(&at, &step.keys);
                let keys = keys.replacen("{ ", &format!("{{ {last}"), 1);
                self.line(&format!("      - {key}: {keys}"));
            }
        }
    }

    fn list<'p>(&mut self, key: &str, what: &str, pieces: impl Iterator<Item = &'p Piece>) {
        for (i, piece) in pieces.enumerate() {
            if i == 0 {
                self.line(&format!("{key}:"));
            }
            let path = Path::root().key(key).index(i);
            self.from.push((path.clone(), piece.place.clone()));
            let mut dash = "  - ";
            if !what.is_empty() {
                self.line(&format!("{dash}{what}: {}", name(&piece.block)));
                dash = "    ";
            }
            for (key, value, place) in &piece.keys {
                self.from.push((path.key(key), place.clone()));
                self.line(&format!("{dash}{key}: {value}"));
                dash = "    ";
            }
        }
    }

    /// The cell a place of the record came from, or that of the nearest block around it.
    fn cell(&self, path: &Path) -> Option<Place> {
        let mut here = Some(path.clone());
        while let Some(path) = here {
            if let Some((_, place)) = self.from.iter().find(|(p, _)| *p == path) {
                return Some(place.clone());
            }
            here = path.parent();
        }
        None
    }
}

fn keys_of_grade(top: &BTreeMap<(Block, String), (Value, Place)>) -> Vec<(String, String, Place)> {
    let grade = top.get(&(Block::Material, "grade".to_owned()));
    grade.iter().map(|(v, p)| ("grade".to_owned(), written("grade", v, true), p.clone())).collect()
}

/// Reads the draft again as any record is read, and tells its faults by their cells.
fn finish(lot: &str, writer: Writer, first: &Place, book: &Book, faults: &mut Faults) -> Option<Draft> {
    let place = |path: &Path| writer.cell(path).unwrap_or_else(|| first.clone());
    let file = format!("lots/{lot}.yaml");
    let record: Record = match yaml::parse(&writer.text) {
        Ok(record) => record,
        Err(fault) => {
            let path = Places::of(&writer.text).at(fault.line, fault.column).unwrap_or_default();
            let mend = fault.hint().unwrap_or_default();
            faults.say(&place(&path), fault.message, "a record is expected", &mend);
            return None;
        }
    };
    let wrongs = validate::record(&record);
    for wrong in &wrongs {
        let mend = wrong.hint.clone().unwrap_or_default();
        faults.say(&place(&wrong.path), wrong.message.clone(), format!("see `{}`", wrong.path), &mend);
    }
    if !wrongs.is_empty() {
        return None;
    }
    let sourced: Sourced<Record> = book::parse(&file, writer.text.clone(), validate::record).ok()?;
    if let Err(error) = book.case(sourced) {
        let hint = error.hint().unwrap_or_default();
        let (path, message) = match &error {
            Error::Reference { line, column, message, .. } => {
                (Places::of(&writer.text).at(*line, *column).unwrap_or_default(), message.clone())
            }
            other => (Path::root(), other.to_string()),
        };
        faults.say(&place(&path), message, "an order and a part on file are expected", &hint);
        return None;
    }
    Some(Draft { lot: lot.to_owned(), text: writer.text, record })
}
