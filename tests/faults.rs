//! Damaged files: whatever is done to the text of a document, reading, validating and judging it never panics, and a
//! file that cannot be read says where. And what a person reads who made one of the usual slips.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test stops at the first surprise"
)]

use std::sync::OnceLock;

use brightproof::adoption::Adoption;
use brightproof::app::book::Sourced;
use brightproof::app::book::parse;
use brightproof::app::error::Error;
use brightproof::judge::judge;
use brightproof::order::Order;
use brightproof::part::PartSpecification;
use brightproof::record::Record;
use brightproof::shipment::Shipment;
use brightproof::shop::Baths;
use brightproof::shop::Instruments;
use brightproof::shop::People;
use brightproof::shop::Solutions;
use brightproof::validate;
use proptest::prelude::*;
use proptest::sample::Index;

use crate::support::book;
use crate::support::dossier;

/// What a damaged file is read as, judged where it can be.
fn use_file(file: &str, text: String) -> Result<(), Error> {
    let folder = file.split('/').next().unwrap();
    match folder {
        "lots" => {
            let record: Sourced<Record> = parse(file, text, validate::record)?;
            let case = book().case(record)?;
            for finding in judge(&case.dossier) {
                case.locate(book(), &finding.place);
            }
        }
        "parts" => {
            let mut dossier = dossier("L-26-0403");
            dossier.part = parse::<PartSpecification>(file, text, validate::part)?.document;
            judge(&dossier);
        }
        "orders" => {
            let mut dossier = dossier("L-26-0407");
            dossier.order = parse::<Order>(file, text, validate::order)?.document;
            judge(&dossier);
        }
        "baths.yaml" => {
            let mut dossier = dossier("L-26-0405");
            dossier.baths = parse::<Baths>(file, text, validate::baths)?.document.baths;
            judge(&dossier);
        }
        "instruments.yaml" => {
            let mut dossier = dossier("L-26-0403");
            dossier.instruments =
                parse::<Instruments>(file, text, validate::instruments)?.document.instruments;
            judge(&dossier);
        }
        "solutions.yaml" => {
            let mut dossier = dossier("L-26-0404");
            dossier.solutions = parse::<Solutions>(file, text, validate::solutions)?.document.solutions;
            judge(&dossier);
        }
        "people.yaml" => drop(parse::<People>(file, text, |_| Vec::new())?),
        "shipments" => drop(parse::<Shipment>(file, text, |_| Vec::new())?),
        "adopted" => {
            let adoption = parse::<Adoption>(file, text, validate::adoption)?.document;
            let pack = book().packs.iter().find(|p| p.pack == "astm-b912").unwrap();
            // An adoption that does not fit its pack is told by the requirement, not by a line.
            drop(brightproof::rulebook::effective(pack, "02(2018)", Some(&adoption)));
        }
        other => panic!("{other}"),
    }
    Ok(())
}

/// Every document of the sample shop, the small ones in full number, and an adoption.
fn files() -> &'static [(String, String)] {
    static FILES: OnceLock<Vec<(String, String)>> = OnceLock::new();
    FILES.get_or_init(|| {
        let folder = &book().folder;
        let mut names = Vec::new();
        for sub in ["lots", "parts", "orders", "shipments"] {
            names.extend(folder.yaml_files(sub).unwrap());
        }
        names.extend(["baths.yaml", "instruments.yaml", "solutions.yaml", "people.yaml"].map(str::to_owned));
        let mut all: Vec<(String, String)> =
            names.into_iter().map(|name| (name.clone(), folder.text(&name).unwrap())).collect();
        let adopted = book().adoptions.iter().find(|a| a.document.pack == "astm-b912").unwrap();
        all.push((adopted.file.clone(), adopted.text.clone()));
        all
    })
}

#[derive(Debug, Clone)]
enum Damage {
    Delete(Index, usize),
    Swap(Index, Index),
    Truncate(Index),
    DoubleLine(Index),
    DropLine(Index),
    SwapLines(Index, Index),
    Indent(Index, usize),
    Digit(Index, char),
    Insert(Index, String),
}

fn damage() -> impl Strategy<Value = Damage> {
    let index = any::<Index>;
    let junk = prop_oneof![
        "[-:,{}\\[\\]#&*!|>'\"%@` \t\n]{1,3}",
        "\\PC{1,4}",
        Just("<<: *x".to_owned()),
        Just("!!binary ".to_owned()),
        Just("\u{0}".to_owned()),
        Just("\u{feff}".to_owned()),
        Just("---\n".to_owned()),
        Just("99999999999999999999".to_owned()),
        Just("-1".to_owned()),
        Just("1e309".to_owned()),
        Just("0000-00-00T00:00+00:00".to_owned()),
    ];
    prop_oneof![
        (index(), 1..12_usize).prop_map(|(at, many)| Damage::Delete(at, many)),
        (index(), index()).prop_map(|(a, b)| Damage::Swap(a, b)),
        index().prop_map(Damage::Truncate),
        index().prop_map(Damage::DoubleLine),
        index().prop_map(Damage::DropLine),
        (index(), index()).prop_map(|(a, b)| Damage::SwapLines(a, b)),
        (index(), 0..9_usize).prop_map(|(at, by)| Damage::Indent(at, by)),
        (index(), prop::char::range('0', '9')).prop_map(|(at, digit)| Damage::Digit(at, digit)),
        (index(), junk).prop_map(|(at, junk)| Damage::Insert(at, junk)),
    ]
}

fn damaged(text: &str, damage: &Damage) -> String {
    let mut chars: Vec<char> = text.chars().collect();
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    if chars.is_empty() || lines.is_empty() {
        return text.to_owned();
    }
    let joined = |lines: Vec<String>| lines.join("\n") + "\n";
    match damage {
        Damage::Delete(at, many) => {
            let at = at.index(chars.len());
            let to = (at + many).min(chars.len());
            chars.drain(at..to);
        }
        Damage::Swap(a, b) => {
            let (a, b) = (a.index(chars.len()), b.index(chars.len()));
            chars.swap(a, b);
        }
        Damage::Truncate(at) => chars.truncate(at.index(chars.len())),
        Damage::Digit(at, digit) => {
            let digits: Vec<usize> = (0..chars.len()).filter(|i| chars[*i].is_ascii_digit()).collect();
            if !digits.is_empty() {
                chars[digits[at.index(digits.len())]] = *digit;
            }
        }
        Damage::Insert(at, junk) => {
            let at = at.index(chars.len());
            chars.splice(at..at, junk.chars());
        }
        Damage::DoubleLine(at) => {
            let at = at.index(lines.len());
            lines.insert(at, lines[at].clone());
            return joined(lines);
        }
        Damage::DropLine(at) => {
            lines.remove(at.index(lines.len()));
            return joined(lines);
        }
        Damage::SwapLines(a, b) => {
            let (a, b) = (a.index(lines.len()), b.index(lines.len()));
            lines.swap(a, b);
            return joined(lines);
        }
        Damage::Indent(at, by) => {
            let at = at.index(lines.len());
            lines[at] = format!("{}{}", " ".repeat(*by), lines[at].trim_start());
            return joined(lines);
        }
    }
    chars.into_iter().collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 3000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn damaged_files_say_where_or_are_judged(
        file in any::<Index>(),
        damages in prop::collection::vec(damage(), 1..4),
    ) {
        let (name, text) = file.get(files());
        let text = damages.iter().fold(text.clone(), |text, damage| damaged(&text, damage));
        let lines = text.lines().count() as u64;
        match use_file(name, text) {
            Ok(()) => {}
            Err(Error::Fault { file, fault }) => {
                prop_assert_eq!(&file, name);
                prop_assert!((1..=lines + 1).contains(&fault.line), "{fault}: line {} of {lines}", fault.line);
                prop_assert!(fault.column >= 1, "{fault}");
                prop_assert!(!fault.message.is_empty() && !fault.message.contains('\n'), "{fault}");
            }
            Err(Error::Reference { file, line, column, message, .. }) => {
                prop_assert_eq!(&file, name);
                prop_assert!((1..=lines + 1).contains(&line) && column >= 1, "{message}");
            }
            Err(other) => prop_assert!(false, "{other}"),
        }
    }
}

/// A slip: the file, what is replaced by what (once), and what is said: place, message, hint.
const SLIPS: &[(&str, &str, &str, &str)] = &[
    (
        "lots/L-26-0401.yaml",
        "temperature: 78 °F",
        "temprature: 78 °F",
        "lots/L-26-0401.yaml:15:13: unknown key `temprature` | did you mean `temperature`?",
    ),
    (
        "lots/L-26-0401.yaml",
        "temperature: 78 °F",
        "temperature: 78",
        "lots/L-26-0401.yaml:15:26: `78` has no unit: expected a number and a unit, as in `78 °F` or `24.6 vol%`",
    ),
    (
        "lots/L-26-0401.yaml",
        "temperature: 78 °F",
        "temperature: 78 °K",
        "lots/L-26-0401.yaml:15:26: unknown unit `°K` (did you mean `°C` or `°F` or `deg`?)",
    ),
    (
        "lots/L-26-0401.yaml",
        "temperature: 78 °F",
        "temperature: 78,5 °F",
        "lots/L-26-0401.yaml:15:26: `78` has no unit: expected a number and a unit, as in `78 °F` or `24.6 vol%`",
    ),
    (
        "lots/L-26-0401.yaml",
        "temperature: 78 °F",
        "temperature: 78 min",
        "lots/L-26-0401.yaml:15:26: `runs[0].steps[2].passivate.temperature`: `78 min` does not measure this | write it as in `78 °F`",
    ),
    (
        "lots/L-26-0401.yaml",
        "total_solids: 58 ppm",
        "total_solids: -58 ppm",
        "lots/L-26-0401.yaml:17:73: `runs[0].steps[4].rinse.total_solids`: `-58 ppm` is less than nothing | write it as it was read",
    ),
    (
        "lots/L-26-0401.yaml",
        "in: 2026-10-06T08:00-05:00",
        "in: 2026-10-06T08:00",
        "lots/L-26-0401.yaml:14:37: `2026-10-06T08:00` is not a time: expected date, time and offset, as in 2026-11-24T09:40-05:00",
    ),
    (
        "lots/L-26-0401.yaml",
        "in: 2026-10-06T08:00-05:00",
        "in: 2026-10-36T08:00-05:00",
        "lots/L-26-0401.yaml:14:37: `2026-10-36` is not in the calendar",
    ),
    (
        "lots/L-26-0401.yaml",
        "out: 2026-10-06T08:34-05:00",
        "out: 2026-10-06T07:59-05:00",
        "lots/L-26-0401.yaml:14:66: `runs[0].steps[2].passivate.out`: out at 2026-10-06T07:59-05:00, before in at 2026-10-06T08:00-05:00 | correct one of the two times",
    ),
    (
        "lots/L-26-0401.yaml",
        "    pieces: 120\n",
        "    pieces: 120\n    pieces: 121\n",
        "lots/L-26-0401.yaml:11:5: the key `pieces` stands twice in one block | keep the right one and remove the other",
    ),
    (
        "lots/L-26-0401.yaml",
        "temperature_out: 79 °F, by: T. Quince }",
        "temperature_out: 79 °F }",
        "lots/L-26-0401.yaml:15:33: the key `by` is missing in this block | add `by:`",
    ),
    (
        "lots/L-26-0401.yaml",
        "- passivate:",
        "- pasivate:",
        "lots/L-26-0401.yaml:14:9: `pasivate` is not known here | did you mean `passivate`?",
    ),
    (
        "lots/L-26-0401.yaml",
        "test: water immersion",
        "test: water imersion",
        "lots/L-26-0401.yaml:30:11: `water imersion` is not known here | did you mean `water immersion`?",
    ),
    (
        "lots/L-26-0401.yaml",
        "final: true",
        "final: yes",
        "lots/L-26-0401.yaml:17:25: invalid boolean (strict mode expects true/false)",
    ),
    (
        "lots/L-26-0401.yaml",
        "    pieces: 2\n",
        "    pieces: two\n",
        "lots/L-26-0401.yaml:32:13: a whole number is expected here",
    ),
    (
        "lots/L-26-0401.yaml",
        "    pieces: 2\n",
        "    pieces: -2\n",
        "lots/L-26-0401.yaml:32:13: a whole number is expected here",
    ),
    (
        "lots/L-26-0401.yaml",
        "  - run: \"2\"",
        "  - run: \"1\"",
        "lots/L-26-0401.yaml:19:10: `runs[1].run`: `1` stands twice | give each its own name",
    ),
    (
        "lots/L-26-0401.yaml",
        "covers: [\"1\", \"2\"]",
        "covers: [\"1\", \"3\"]",
        "lots/L-26-0401.yaml:31:19: `tests[0].covers[1]`: there is no run `3` | the runs are: 1, 2",
    ),
    (
        "lots/L-26-0401.yaml",
        "number: QI-88231",
        "number: QI-88213",
        "lots/L-26-0401.yaml:5:18: there is no order `QI-88213` in orders/ | write the order, or correct the number",
    ),
    (
        "lots/L-26-0401.yaml",
        "line: \"1\"",
        "line: \"7\"",
        "lots/L-26-0401.yaml:5:34: order `QI-88231` has no line `7` | its lines are: 1, 2",
    ),
    (
        "lots/L-26-0401.yaml",
        "runs:\n",
        "\truns:\n",
        "lots/L-26-0401.yaml:8:2: while parsing a block mapping, did not find expected key",
    ),
    (
        "lots/L-26-0401.yaml",
        "purchaser_lot: QM-5512",
        "lot: QM-5512",
        "lots/L-26-0401.yaml:4:1: the key `lot` stands twice in one block | keep the right one and remove the other",
    ),
    (
        "lots/L-26-0401.yaml",
        "failed: 0\n",
        "failed: 3\n",
        "lots/L-26-0401.yaml:33:13: `tests[0].failed`: 3 failed of 2 pieces | correct one of the two counts",
    ),
    (
        "baths.yaml",
        "nitric acid: 26.8 vol%",
        "nitric acid: 26.8 wt%",
        "baths.yaml:17:54: `baths.N-2.analyses[0].found`: `26.8 wt%` does not measure this | write it as in `24.6 vol%`",
    ),
    (
        "baths.yaml",
        "nitric acid: 26.8 vol%",
        "nitric acid: 268 vol%",
        "baths.yaml:17:54: `baths.N-2.analyses[0].found`: `268 vol%` is more than the whole | write it as it was read",
    ),
    (
        "baths.yaml",
        "- bath: N-1",
        "- bath: N-2",
        "baths.yaml:25:11: `baths[2].bath`: `N-2` stands twice | give each its own name",
    ),
    (
        "instruments.yaml",
        "due: 2027-01-14",
        "due: 2025-01-14",
        "instruments.yaml:9:32: `instruments.TI-1.calibrations[0].due`: due 2025-01-14, before it was calibrated 2026-07-14 | correct one of the two days",
    ),
    (
        "solutions.yaml",
        "sulfuric acid: 2.0 mL",
        "sulfuric acid: 2.0 min",
        "solutions.yaml:8:5: `solutions.CS-26-07.recipe`: `2.0 min` is no amount | write grams or millilitres, as in `4.0 g`",
    ),
    (
        "parts/OS-VF40-D.yaml",
        "limit: Ra",
        "limit: Rb",
        "parts/OS-VF40-D.yaml:11:14: `Rb` is not known here | did you mean `Ra` or `Rq` or `Rz`?",
    ),
    (
        "parts/OS-VF40-D.yaml",
        "{ limit: Ra, at_most: 16 µin",
        "{ limit: Ra, at_most: 16 °F",
        "parts/OS-VF40-D.yaml:11:27: `calls_for[1].at_most`: `16 °F` does not measure this | write it as in `16 µin`",
    ),
    (
        "parts/OS-VF40-D.yaml",
        "limit: Ra,",
        "limit: Ra, standard: ASTM A967/A967M-17,",
        "parts/OS-VF40-D.yaml:11:5: `calls_for[1]`: a call-out is one standard or one limit | give exactly one of `standard:` and `limit:`",
    ),
    (
        "orders/QI-88231.yaml",
        "line: \"2\"",
        "line: \"1\"",
        "orders/QI-88231.yaml:10:13: `lines[1].line`: `1` stands twice | give each its own name",
    ),
];

#[test]
fn usual_slips_are_told_with_place_and_mend() {
    let mut failures = Vec::new();
    for (file, from, to, expected) in SLIPS {
        let text = book().folder.text(file).unwrap();
        assert!(text.contains(from), "{file} has no `{from}`");
        let said = match use_file(file, text.replacen(from, to, 1)) {
            Ok(()) => "taken".to_owned(),
            Err(error) => match error.hint() {
                Some(hint) => format!("{error} | {hint}"),
                None => error.to_string(),
            },
        };
        if said != *expected {
            failures.push(format!("{from} -> {to}\n   said: {said}\n   not:  {expected}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}
