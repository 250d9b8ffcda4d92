//! The fields a column may hold: a closed list.

use crate::columns::Becomes;
use crate::record::Characteristic;
use crate::record::TestKind;

/// What one field of a sheet is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Field {
    /// The block of the record it belongs to.
    pub block: Block,
    /// Which of several such blocks of one row, from 1.
    pub nth: u32,
    /// Its key within the block.
    pub key: String,
    /// How its cells are read.
    pub form: Form,
    /// Whether the block must have it.
    pub needed: bool,
}

/// The blocks a row can fill.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Block {
    /// The lot itself, and what steers how the row is read.
    Lot,
    /// Order line.
    Order,
    /// Material.
    Material,
    /// Piece counts.
    Counts,
    /// The run the row is about.
    Run,
    /// The step that the row's own cell names.
    Named,
    /// A bath step, by its key.
    Immersion(&'static str),
    /// A rinse.
    Rinse,
    /// The last rinse of a treatment.
    FinalRinse,
    /// Drying.
    Dry,
    /// A test.
    Test(TestKind),
    /// A look at the surface.
    Visual,
    /// Gauge readings.
    Measured(Characteristic),
    /// An analysis or a calibration.
    Entry,
}

/// How a cell is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// As it stands.
    Text,
    /// Names divided by commas or semicolons.
    Names,
    /// A whole number.
    Count,
    /// Number and unit.
    Quantity,
    /// Several of them, divided by semicolons.
    Quantities,
    /// A day and a time.
    Moment,
    /// A day.
    Day,
    /// Yes or no, passed or failed.
    Truth,
    /// An offset of the clock.
    Offset,
}

use Form::Count;
use Form::Day;
use Form::Moment;
use Form::Names;
use Form::Offset;
use Form::Quantities;
use Form::Quantity;
use Form::Text;
use Form::Truth;

type Row = (&'static str, Form, bool);

/// The field whose cell names the step of a row.
pub const STEP: &str = "step";

const LOT: &[Row] = &[
    ("lot", Text, true),
    ("purchaser_lot", Text, false),
    ("remarks", Text, false),
    ("date", Day, false),
    ("offset", Offset, false),
    (STEP, Text, false),
];
const ORDER: &[Row] = &[("number", Text, true), ("line", Text, true), ("release", Text, false)];
const MATERIAL: &[Row] = &[("grade", Text, true), ("heats", Names, false), ("known", Text, false)];
const COUNTS: &[Row] = &[
    ("received", Count, true),
    ("accepted", Count, true),
    ("rejected", Count, false),
    ("destroyed_in_test", Count, false),
    ("held", Count, false),
    ("split_off", Count, false),
    ("returned_unprocessed", Count, false),
    ("missing", Count, false),
    ("by", Text, false),
];
const RUN: &[Row] = &[
    ("run", Text, false),
    ("load", Text, false),
    ("pieces", Count, true),
    ("treats_again", Text, false),
    ("because", Text, false),
];
const IMMERSION: &[Row] = &[
    ("date", Day, false),
    ("bath", Text, true),
    ("as", Text, false),
    ("in", Moment, false),
    ("out", Moment, false),
    ("time", Quantity, false),
    ("temperature", Quantity, false),
    ("temperature_out", Quantity, false),
    ("current_density", Quantity, false),
    ("voltage", Quantity, false),
    ("by", Text, true),
    ("note", Text, false),
];
const RINSE: &[Row] = &[
    ("date", Day, false),
    ("at", Moment, false),
    ("total_solids", Quantity, false),
    ("instrument", Text, false),
    ("how", Text, false),
    ("by", Text, true),
];
const DRY: &[Row] = &[("date", Day, false), ("at", Moment, false), ("by", Text, true), ("note", Text, false)];
const TEST: &[Row] = &[
    ("date", Day, false),
    ("covers", Names, false),
    ("pieces", Count, true),
    ("failed", Count, true),
    ("started", Moment, true),
    ("ended", Moment, false),
    ("time", Quantity, false),
    ("solution", Text, false),
    ("instrument", Text, false),
    ("water", Text, false),
    ("cycles", Count, false),
    ("wet", Quantity, false),
    ("dry", Quantity, false),
    ("temperature", Quantity, false),
    ("humidity", Quantity, false),
    ("salt", Quantity, false),
    ("acidity", Quantity, false),
    ("fallout", Quantity, false),
    ("collected_over", Quantity, false),
    ("angle", Quantity, false),
    ("tower_temperature", Quantity, false),
    ("tower_pressure", Quantity, false),
    ("conductivity", Quantity, false),
    ("density", Quantity, false),
    ("chromium_to_iron", Quantity, false),
    ("chromium_oxide_to_iron_oxide", Quantity, false),
    ("oxide_depth", Quantity, false),
    ("defects", Quantity, false),
    ("kept_wet", Quantity, false),
    ("read_within", Quantity, false),
    ("cleaned_with", Text, false),
    ("observed", Text, false),
    ("specimen", Text, false),
    ("by", Text, true),
];
const VISUAL: &[Row] = &[
    ("date", Day, false),
    ("covers", Names, false),
    ("at", Moment, true),
    ("pieces", Count, true),
    ("failed", Count, true),
    ("light", Quantity, false),
    ("observed", Text, false),
    ("by", Text, true),
];
const MEASURED: &[Row] = &[
    ("date", Day, false),
    ("covers", Names, false),
    ("at", Moment, true),
    ("instrument", Text, false),
    ("cutoff", Quantity, false),
    ("how", Text, false),
    ("readings", Quantities, true),
    ("before", Quantities, false),
    ("by", Text, true),
];
const ANALYSIS: &[Row] = &[
    ("date", Day, false),
    ("offset", Offset, false),
    ("bath", Text, true),
    ("at", Moment, true),
    ("by", Text, true),
    ("nitric acid", Quantity, false),
    ("sodium dichromate", Quantity, false),
    ("citric acid", Quantity, false),
    ("pH", Quantity, false),
    ("sulfuric acid", Quantity, false),
    ("phosphoric acid", Quantity, false),
    ("iron", Quantity, false),
];
const CALIBRATION: &[Row] = &[
    ("instrument", Text, true),
    ("on", Day, true),
    ("due", Day, true),
    ("certificate", Text, true),
    ("passed", Truth, true),
];

const BATH_STEPS: &[&str] =
    &["clean", "descale", "passivate", "electropolish", "post-dip", "neutralize", "post-treat", "bake"];
const CHARACTERISTICS: &[Characteristic] =
    &[Characteristic::Ra, Characteristic::Rq, Characteristic::Rz, Characteristic::StockRemoval];

impl Block {
    /// The block a name stands for, and which of several.
    pub fn named(name: &str) -> Option<(Block, u32)> {
        let (stem, nth) = match name.rsplit_once(' ') {
            Some((stem, digits)) => match digits.parse::<u32>() {
                Ok(nth) if (2..=20).contains(&nth) && !digits.starts_with(['0', '+']) => (stem, nth),
                _ => (name, 1),
            },
            None => (name, 1),
        };
        let block = match stem {
            "rinse" => Block::Rinse,
            "final rinse" => Block::FinalRinse,
            "dry" => Block::Dry,
            "visual" => Block::Visual,
            _ => {
                let step = BATH_STEPS.iter().find(|s| **s == stem).map(|s| Block::Immersion(s));
                let test = || TestKind::ALL.iter().find(|t| t.name() == stem).map(|t| Block::Test(*t));
                let gauge = || CHARACTERISTICS.iter().find(|c| c.name() == stem).map(|c| Block::Measured(*c));
                step.or_else(test).or_else(gauge)?
            }
        };
        Some((block, nth))
    }

    /// Its fields.
    fn rows(&self) -> &'static [Row] {
        match self {
            Block::Lot => LOT,
            Block::Order => ORDER,
            Block::Material => MATERIAL,
            Block::Counts => COUNTS,
            Block::Run => RUN,
            Block::Immersion(_) => IMMERSION,
            Block::Rinse | Block::FinalRinse => RINSE,
            Block::Dry => DRY,
            Block::Test(_) => TEST,
            Block::Visual => VISUAL,
            Block::Measured(_) => MEASURED,
            // A named step may be of any kind; which of its fields fit shows when its name is read.
            Block::Named | Block::Entry => &[],
        }
    }

    /// Keys without which the block cannot stand.
    pub fn needs(&self) -> impl Iterator<Item = &'static str> {
        self.rows().iter().filter(|(_, _, needed)| *needed).map(|(key, _, _)| *key)
    }

    /// How a key of the block is read; `None` when it has no such key.
    pub fn form(&self, key: &str) -> Option<Form> {
        self.rows().iter().find(|(k, _, _)| *k == key).map(|(_, form, _)| *form)
    }

    /// Whether it is a step of a run.
    pub const fn is_step(&self) -> bool {
        matches!(self, Block::Immersion(_) | Block::Rinse | Block::FinalRinse | Block::Dry)
    }
}

fn found(block: Block, nth: u32, rows: &[Row], key: &str) -> Option<Field> {
    let (key, form, needed) = rows.iter().find(|(k, _, _)| *k == key)?;
    Some(Field { block, nth, key: (*key).to_owned(), form: *form, needed: *needed })
}

impl Field {
    /// The field a column is mapped to.
    pub fn named(becomes: Becomes, target: &str) -> Option<Field> {
        match becomes {
            Becomes::Analyses => return found(Block::Entry, 1, ANALYSIS, target),
            Becomes::Calibrations => return found(Block::Entry, 1, CALIBRATION, target),
            Becomes::Day => {}
        }
        let Some((block, key)) = target.split_once('.') else {
            return found(Block::Lot, 1, LOT, target).or_else(|| found(Block::Run, 1, RUN, target));
        };
        let (block, nth) = match block {
            "order" => (Block::Order, 1),
            "material" => (Block::Material, 1),
            "counts" => (Block::Counts, 1),
            STEP => {
                let all = [IMMERSION, RINSE, DRY, TEST, VISUAL, MEASURED];
                return all.iter().find_map(|rows| found(Block::Named, 1, rows, key));
            }
            other => Block::named(other)?,
        };
        let rows = block.rows();
        found(block, nth, rows, key)
    }

    /// Fields without which no such sheet can be read.
    pub fn needed(becomes: Becomes) -> &'static [&'static str] {
        match becomes {
            Becomes::Day => &[
                "lot",
                "order.number",
                "order.line",
                "material.grade",
                "counts.received",
                "counts.accepted",
                "pieces",
            ],
            Becomes::Analyses => &["bath", "at", "by"],
            Becomes::Calibrations => &["instrument", "on", "due", "certificate", "passed"],
        }
    }

    /// Fields spelt much like this.
    pub fn near(becomes: Becomes, target: &str) -> Vec<String> {
        let mut names: Vec<String> = Vec::new();
        let plain = |rows: &[Row]| rows.iter().map(|r| r.0.to_owned()).collect::<Vec<_>>();
        match becomes {
            Becomes::Analyses => names.extend(plain(ANALYSIS)),
            Becomes::Calibrations => names.extend(plain(CALIBRATION)),
            Becomes::Day => {
                names.extend(plain(LOT));
                names.extend(plain(RUN));
                let mut blocks: Vec<(String, &[Row])> = vec![
                    ("order".to_owned(), ORDER),
                    ("material".to_owned(), MATERIAL),
                    ("counts".to_owned(), COUNTS),
                ];
                blocks.extend(BATH_STEPS.iter().map(|s| ((*s).to_owned(), IMMERSION)));
                blocks.extend([("rinse".to_owned(), RINSE), ("final rinse".to_owned(), RINSE)]);
                blocks.extend([
                    ("dry".to_owned(), DRY),
                    ("visual".to_owned(), VISUAL),
                    (STEP.to_owned(), IMMERSION),
                ]);
                blocks.extend(TestKind::ALL.iter().map(|t| (t.name().to_owned(), TEST)));
                blocks.extend(CHARACTERISTICS.iter().map(|c| (c.name().to_owned(), MEASURED)));
                for (block, rows) in blocks {
                    names.extend(rows.iter().map(|r| format!("{block}.{}", r.0)));
                }
            }
        }
        let distance = |name: &String| strsim::damerau_levenshtein(name, target);
        let best = names.iter().map(distance).min().filter(|d| *d <= 3);
        best.map_or_else(Vec::new, |best| names.into_iter().filter(|n| distance(n) == best).take(4).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn targets_name_fields() {
        let form = |target: &str| Field::named(Becomes::Day, target).map(|f| (f.block, f.nth, f.form));
        assert_eq!(form("lot"), Some((Block::Lot, 1, Text)));
        assert_eq!(form("pieces"), Some((Block::Run, 1, Count)));
        assert_eq!(form("passivate.in"), Some((Block::Immersion("passivate"), 1, Moment)));
        assert_eq!(form("rinse 2.at"), Some((Block::Rinse, 2, Moment)));
        assert_eq!(form("final rinse.total_solids"), Some((Block::FinalRinse, 1, Quantity)));
        assert_eq!(form("water immersion.wet"), Some((Block::Test(TestKind::WaterImmersion), 1, Quantity)));
        assert_eq!(form("Ra.readings"), Some((Block::Measured(Characteristic::Ra), 1, Quantities)));
        assert_eq!(form("step.bath"), Some((Block::Named, 1, Text)));
        for target in
            ["passivate", "passivate.wet", "rinse 1.at", "rinse 02.at", "lot.lot", "treatment.in", ""]
        {
            assert_eq!(form(target), None, "{target}");
        }
        assert_eq!(Field::near(Becomes::Day, "passivate.temprature"), ["passivate.temperature"]);
    }
}
