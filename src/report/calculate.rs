//! A calculation in words, and as JSON: figures, how they were found, what they rest on, what to mind.

use std::fmt::Write as _;
use std::path::Path;

use serde::Serialize;

use crate::app::calculate::Figure;
use crate::app::calculate::Standing;
use crate::app::calculate::Table;
use crate::app::calculate::Worked;
use crate::app::pictures::Written;
use crate::report::json::VERSION;

/// The answer in text.
pub fn text(worked: &Worked) -> String {
    let mut text = format!("{}\n", worked.of);
    let mut line = |words: &str| {
        let _ = writeln!(text, "{words}");
    };
    if !worked.figures.is_empty() {
        line("");
    }
    let wide = |cells: &mut dyn Iterator<Item = usize>| cells.max().unwrap_or(0);
    let names = wide(&mut worked.figures.iter().map(|f| f.name.chars().count()));
    let values = wide(&mut worked.figures.iter().map(|f| value(f).chars().count()));
    for figure in &worked.figures {
        let note = figure.note.as_deref().unwrap_or_default();
        line(format!("  {:names$}  {:values$}  {note}", figure.name, value(figure)).trim_end());
    }
    if let Some(standing) = &worked.standing {
        line("");
        let word = match standing {
            Standing::Inside(_) => "Met",
            Standing::Outside(_) => "Not met",
            Standing::CannotTell(_) => "Cannot tell",
        };
        line(&format!("{word}: {}", standing.words()));
    }
    for table in &worked.tables {
        line("");
        line(&table.name);
        rows(table).iter().for_each(|row| line(row));
    }
    let lists = [
        ("What to do", &worked.to_do),
        ("How", &worked.steps),
        ("Rests on", &worked.rests_on),
        ("Mind", &worked.mind),
    ];
    for (heading, words) in lists {
        if !words.is_empty() {
            line("");
            line(heading);
            words.iter().for_each(|words| line(&format!("  {words}")));
        }
    }
    text
}

/// `25.07 ± 0.12 vol%`.
fn value(figure: &Figure) -> String {
    let uncertainty = figure.uncertainty.as_ref().map(|u| format!(" ± {u}")).unwrap_or_default();
    format!("{}{uncertainty} {}", figure.value, figure.unit).trim_end().to_owned()
}

/// A table's lines, its columns under each other.
fn rows(table: &Table) -> Vec<String> {
    let heads: Vec<String> = table.columns.iter().map(|c| (*c).to_owned()).collect();
    let all: Vec<&Vec<String>> = std::iter::once(&heads).chain(&table.rows).collect();
    let widths: Vec<usize> = (0..heads.len())
        .map(|i| all.iter().filter_map(|row| row.get(i)).map(|c| c.chars().count()).max().unwrap_or(0))
        .collect();
    let line = |row: &&Vec<String>| {
        let cells = row.iter().zip(&widths).map(|(cell, width)| format!("{cell:width$}"));
        format!("  {}", cells.collect::<Vec<_>>().join("  ")).trim_end().to_owned()
    };
    all.iter().map(line).collect()
}

/// `calculate --format json`: one form for all calculations.
#[derive(Debug, Serialize)]
pub struct CalculationReport<'a> {
    /// Version of this form.
    pub version: u64,
    /// Which calculation, as on the command line.
    pub calculation: &'static str,
    /// What was worked out.
    pub of: &'a str,
    /// `met`, `not met` or `cannot tell`; absent where no limit was given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub standing: Option<&'static str>,
    /// The same in words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub standing_words: Option<&'a str>,
    /// The figures, the one asked for first.
    pub figures: Vec<FigureReport<'a>>,
    /// Lists of figures.
    pub tables: Vec<TableReport<'a>>,
    /// What is to be done, in its order.
    pub to_do: &'a [String],
    /// How the figures were found.
    pub how: &'a [String],
    /// What they rest on.
    pub rests_on: &'a [String],
    /// What to mind.
    pub mind: &'a [String],
    /// Where the picture was written.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub picture: Option<String>,
}

/// One figure.
#[derive(Debug, Serialize)]
pub struct FigureReport<'a> {
    /// Its word; it does not change.
    pub figure: &'static str,
    /// What it is, for people.
    pub name: &'a str,
    /// The number, with its trailing zeros; a name for a grade.
    pub value: &'a str,
    /// Its unit; empty for a plain number.
    pub unit: &'a str,
    /// Its expanded uncertainty (k = 2), in the same unit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub uncertainty: Option<&'a str>,
    /// What it must be read with.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<&'a str>,
}

/// One list.
#[derive(Debug, Serialize)]
pub struct TableReport<'a> {
    /// Its word; it does not change.
    pub table: &'static str,
    /// What it lists, for people.
    pub name: &'a str,
    /// Headings.
    pub columns: &'a [&'static str],
    /// Rows.
    pub rows: &'a [Vec<String>],
}

/// The answer for machines.
pub fn json<'a>(worked: &'a Worked, picture: Option<&Path>) -> CalculationReport<'a> {
    let figure = |f: &'a Figure| FigureReport {
        figure: f.figure,
        name: &f.name,
        value: &f.value,
        unit: &f.unit,
        uncertainty: f.uncertainty.as_deref(),
        note: f.note.as_deref(),
    };
    let table =
        |t: &'a Table| TableReport { table: t.table, name: &t.name, columns: &t.columns, rows: &t.rows };
    CalculationReport {
        version: VERSION,
        calculation: worked.calculation,
        of: &worked.of,
        standing: worked.standing.as_ref().map(|standing| match standing {
            Standing::Inside(_) => "met",
            Standing::Outside(_) => "not met",
            Standing::CannotTell(_) => "cannot tell",
        }),
        standing_words: worked.standing.as_ref().map(Standing::words),
        figures: worked.figures.iter().map(figure).collect(),
        tables: worked.tables.iter().map(table).collect(),
        to_do: &worked.to_do,
        how: &worked.steps,
        rests_on: &worked.rests_on,
        mind: &worked.mind,
        picture: picture.map(|file| file.display().to_string()),
    }
}

/// `pictures --format json`.
#[derive(Debug, Serialize)]
pub struct PicturesReport<'a> {
    /// Version of this form.
    pub version: u64,
    /// The lot or certificate.
    pub of: &'a str,
    /// The files written.
    pub pictures: Vec<PictureReport<'a>>,
}

/// One file.
#[derive(Debug, Serialize)]
pub struct PictureReport<'a> {
    /// Where it lies.
    pub file: String,
    /// What it shows.
    pub title: &'a str,
    /// The same in words, for those who cannot see it.
    pub description: &'a str,
}

/// The files for machines.
pub fn pictures<'a>(of: &'a str, written: &'a [Written]) -> PicturesReport<'a> {
    let picture = |w: &'a Written| PictureReport {
        file: w.file.display().to_string(),
        title: &w.title,
        description: &w.description,
    };
    PicturesReport { version: VERSION, of, pictures: written.iter().map(picture).collect() }
}
