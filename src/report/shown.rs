//! `rules show`: one pack for people to read, from its editions to its last requirement.

use std::fmt;

use crate::alloy::Series;
use crate::pack::NamedTest;
use crate::pack::Pack;
use crate::pack::TreatmentStep;
use crate::report;
use crate::rulebook;
use crate::rulebook::Standing;

/// How wide a line of words may grow.
const WIDTH: usize = 100;

/// A pack as it is shown.
#[derive(Debug)]
pub struct Shown<'a> {
    /// The pack; as the shop adopted it, where an edition was asked for.
    pub pack: &'a Pack,
    /// How each requirement stands in the shop, in their order; empty where no edition was asked for.
    pub standing: &'a [Standing],
}

impl fmt::Display for Shown<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let pack = self.pack;
        writeln!(f, "{} ({})", pack.designation, pack.pack)?;
        writeln!(f, "{}", wrapped(pack.about.trim(), ""))?;
        self.editions(f)?;
        if !pack.also_written.is_empty() {
            writeln!(f, "\nalso written: {}", pack.also_written.join(", "))?;
        }
        if let Some(base) = &pack.builds_on {
            writeln!(f, "\nbuilds on the pack {base}")?;
            for chosen in &pack.chooses_tests {
                let pieces = chosen.pieces.map_or_else(String::new, |n| format!(", {n} pieces"));
                writeln!(
                    f,
                    "  chooses {}{pieces}{}  [{}]",
                    chosen.test.name(),
                    for_series(&chosen.series),
                    chosen.clause
                )?;
            }
            for chosen in &pack.chooses_options {
                writeln!(
                    f,
                    "  chooses {}{}  [{}]",
                    chosen.option.name(),
                    for_series(&chosen.series),
                    chosen.clause
                )?;
            }
            if let Some(chosen) = &pack.chooses_class {
                writeln!(f, "  chooses class {}  [{}]", chosen.class, chosen.clause)?;
            }
        }
        self.treatments(f)?;
        self.tests(f)?;
        self.classes(f)?;
        self.requirements(f)
    }
}

/// The series a choice is made for, in words.
fn for_series(series: &[Series]) -> String {
    let names: Vec<&str> = series.iter().map(|s| s.name()).collect();
    if names.is_empty() { String::new() } else { format!(" for {}", names.join(" and ")) }
}

impl Shown<'_> {
    fn editions(&self, f: &mut fmt::Formatter) -> fmt::Result {
        let pack = self.pack;
        if pack.is_house() {
            return Ok(());
        }
        writeln!(f, "\neditions:")?;
        for edition in &pack.editions {
            write!(f, "  {}", pack.named(edition))?;
            match pack.superseded_by.get(edition) {
                Some(later) => writeln!(f, ", superseded by {}", pack.successor_named(later))?,
                None => writeln!(f)?,
            }
        }
        Ok(())
    }

    fn treatments(&self, f: &mut fmt::Formatter) -> fmt::Result {
        let all = &self.pack.treatments;
        if all.is_empty() {
            return Ok(());
        }
        writeln!(f, "\ntreatments an order may name:")?;
        let id = all.iter().map(|t| t.id.chars().count()).max().unwrap_or(0);
        let name = all.iter().map(|t| t.name.chars().count()).max().unwrap_or(0);
        for t in all {
            let step = match t.step {
                TreatmentStep::Passivate => "passivate",
                TreatmentStep::Electropolish => "electropolish",
            };
            writeln!(f, "  {:id$}  {:name$}  {step:13}  [{}]", t.id, t.name, t.clause)?;
        }
        Ok(())
    }

    fn tests(&self, f: &mut fmt::Formatter) -> fmt::Result {
        let pack = self.pack;
        if pack.tests.is_empty() {
            return Ok(());
        }
        writeln!(f, "\ntests an order may name:")?;
        let test = pack.tests.iter().map(|t| t.test.name().chars().count()).max().unwrap_or(0);
        // The standard's own name for it, where it has one.
        let called = |t: &NamedTest| {
            if t.name == t.test.name() { String::new() } else { format!("{}  ", t.name) }
        };
        let name = pack.tests.iter().map(|t| called(t).chars().count()).max().unwrap_or(0);
        for t in &pack.tests {
            writeln!(f, "  {:test$}  {:name$}[{}]", t.test.name(), called(t), t.clause)?;
        }
        if pack.shop_chooses_tests {
            writeln!(f, "  Where the order names none, the shop may choose among them.")?;
        }
        if let Some(pieces) = pack.test_pieces {
            let pieces = if pieces == 1 { "1 piece".to_owned() } else { format!("{pieces} pieces") };
            writeln!(f, "  Where the order says no number, {pieces} of the lot for each test.")?;
        }
        Ok(())
    }

    fn classes(&self, f: &mut fmt::Formatter) -> fmt::Result {
        let pack = self.pack;
        if pack.classes.is_empty() {
            return Ok(());
        }
        writeln!(f, "\nclasses an order may name:")?;
        let class = pack.classes.iter().map(|c| c.class.chars().count()).max().unwrap_or(0);
        let name = pack.classes.iter().map(|c| c.name.chars().count()).max().unwrap_or(0);
        for c in &pack.classes {
            let default = pack.default_class.as_ref() == Some(&c.class);
            let stands = if default { ", where the order names none" } else { "" };
            writeln!(f, "  {:class$}  {:name$}  [{}]{stands}", c.class, c.name, c.clause)?;
        }
        Ok(())
    }

    fn requirements(&self, f: &mut fmt::Formatter) -> fmt::Result {
        for (position, requirement) in self.pack.requirements.iter().enumerate() {
            let stands = self.standing.get(position).map(report::standing).unwrap_or_default();
            let advice = if requirement.advice { ", advice" } else { "" };
            let basis = report::basis(requirement.basis);
            // Of the house's own rules clause and basis are the same word.
            let known = match requirement.clause.as_str() {
                clause if clause == basis => basis.to_owned(),
                clause => format!("{clause}, {basis}"),
            };
            write!(
                f,
                "\n{}  [{known}{advice}{stands}]\n{}",
                requirement.id,
                wrapped(&report::requirement(requirement), "  ")
            )?;
            if let Some(note) = &requirement.note {
                write!(f, "\n{}", wrapped(note.trim(), "    "))?;
            }
            writeln!(f, "\n  digest {}", rulebook::judging_digest(requirement))?;
        }
        Ok(())
    }
}

/// Words on lines of no more than [`WIDTH`], each behind `indent`.
fn wrapped(text: &str, indent: &str) -> String {
    let mut lines: Vec<String> = Vec::new();
    let mut line = indent.to_owned();
    let mut empty = true;
    for word in text.split_whitespace() {
        let longer = line.chars().count().saturating_add(word.chars().count()).saturating_add(1);
        if !empty && longer > WIDTH {
            lines.push(std::mem::replace(&mut line, indent.to_owned()));
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(word);
        empty = false;
    }
    lines.push(line);
    lines.join("\n")
}
