//! Call-outs read from the text of drawings: every line of the corpus as its rules say, and any text at all without
//! a surprise.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops at the first surprise")]

use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::sync::OnceLock;

use brightproof::app;
use brightproof::app::builtin;
use brightproof::callout;
use brightproof::callout::Ask;
use brightproof::callout::Assumption;
use brightproof::callout::Reading;
use brightproof::folder::Folder;
use brightproof::pack::Pack;
use brightproof::pack::SamplingPlans;
use brightproof::part::CallOut;
use brightproof::part::PartSpecification;
use brightproof::report::call_outs as report;
use brightproof::validate;
use brightproof::yaml;
use proptest::prelude::*;
use proptest::sample::Index;
use serde::Deserialize;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Line {
    text: String,
    reads: Vec<CallOut>,
    #[serde(default)]
    assumes: BTreeSet<String>,
    #[serde(default)]
    asks: BTreeSet<String>,
    /// For people.
    #[serde(default, rename = "why")]
    _why: String,
}

fn corpus() -> Vec<Line> {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/callouts/corpus.yaml");
    yaml::parse(&fs::read_to_string(file).unwrap()).unwrap()
}

fn packs() -> (Vec<Pack>, SamplingPlans) {
    (builtin::packs().unwrap(), builtin::sampling().unwrap())
}

fn assumed(reading: &Reading) -> BTreeSet<String> {
    reading.assumed.iter().map(|s| s.what.word().to_owned()).collect()
}

fn asked(reading: &Reading) -> BTreeSet<String> {
    reading.ask.iter().map(|s| s.what.word().to_owned()).collect()
}

/// A call-out with its lists sorted and its figures without zeros at the end, so that sets and quantities compare.
fn comparable(call_out: &CallOut) -> String {
    let mut call_out = call_out.clone();
    call_out.tests.sort_by_key(|t| t.name());
    call_out.options.sort();
    let mut plain = serde_json::to_value(&call_out).unwrap();
    for (key, quantity) in [("at_most", call_out.at_most), ("at_least", call_out.at_least)] {
        if let Some(quantity) = quantity {
            plain[key] = format!("{} {}", quantity.value().normalize(), quantity.unit().symbol()).into();
        }
    }
    plain.to_string()
}

fn set(call_outs: &[CallOut]) -> BTreeSet<String> {
    call_outs.iter().map(comparable).collect()
}

#[test]
fn every_line_of_the_corpus_is_read_as_its_rules_say() {
    let (packs, sampling) = packs();
    let mut wrong = Vec::new();
    for line in corpus() {
        let reading = callout::read(&line.text, &packs, &sampling).unwrap();
        let (reads, wanted) = (set(&reading.calls_for), set(&line.reads));
        if reads != wanted || assumed(&reading) != line.assumes || asked(&reading) != line.asks {
            wrong.push(format!(
                "{}\n  reads   {reads:?}\n  wanted  {wanted:?}\n  assumes {:?}\n  wanted  {:?}\n  asks    {:?}\n  wanted  {:?}",
                line.text,
                assumed(&reading),
                line.assumes,
                asked(&reading),
                line.asks
            ));
        }
    }
    assert!(wrong.is_empty(), "{} line(s):\n{}", wrong.len(), wrong.join("\n"));
}

/// The corpus knows every word the reader can say, and no other.
#[test]
fn the_corpus_uses_every_word() {
    let lines = corpus();
    let assumes: BTreeSet<&str> = lines.iter().flat_map(|l| &l.assumes).map(String::as_str).collect();
    assert_eq!(assumes, Assumption::ALL.iter().map(|a| a.word()).collect());
    let asks: BTreeSet<&str> = lines.iter().flat_map(|l| &l.asks).map(String::as_str).collect();
    assert_eq!(asks, Ask::ALL.iter().map(|a| a.word()).collect());
}

/// Every call-out read is one a part specification may have, written as the verb writes it.
#[test]
fn readings_are_accepted_in_a_part_specification() {
    let (packs, sampling) = packs();
    for line in corpus() {
        let reading = callout::read(&line.text, &packs, &sampling).unwrap();
        if reading.calls_for.is_empty() {
            continue;
        }
        let written = report::yaml(&Reading { calls_for: reading.calls_for.clone(), ..Reading::default() });
        let text = format!("part: QM-1\nrevision: A\ndescription: sleeve\npurchaser: quillmark\n{written}\n");
        let part: PartSpecification = yaml::parse(&text).unwrap_or_else(|fault| panic!("{fault}\n{text}"));
        assert_eq!(part.calls_for, reading.calls_for, "{text}");
        let wrong: Vec<String> = validate::part(&part).into_iter().map(|w| w.message).collect();
        assert_eq!(wrong, Vec::<String>::new(), "{text}");
    }
}

/// The whole answer is YAML: lists of one word and one sentence each.
#[test]
fn the_whole_answer_is_yaml() {
    #[derive(Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Whole {
        calls_for: Vec<CallOut>,
        #[serde(default)]
        assumed: Vec<BTreeMap<String, String>>,
        #[serde(default)]
        ask: Vec<BTreeMap<String, String>>,
    }
    let (packs, sampling) = packs();
    for line in corpus() {
        let reading = callout::read(&line.text, &packs, &sampling).unwrap();
        let text = report::yaml(&reading);
        let whole: Whole = yaml::parse(&text).unwrap_or_else(|fault| panic!("{fault}\n{text}"));
        assert_eq!(whole.calls_for, reading.calls_for);
        assert_eq!((whole.assumed.len(), whole.ask.len()), (reading.assumed.len(), reading.ask.len()));
        for (_, sentence) in whole.assumed.iter().chain(&whole.ask).flatten() {
            assert!(sentence.ends_with('.') && !sentence.contains('\n'), "{sentence}");
        }
    }
}

/// A purchaser's own standard needs nothing but its pack.
#[test]
fn an_own_pack_is_read_like_any_other() {
    let own = r#"
pack: halyard-hps-14
designation: Halyard HPS 14
also_written: [HPS 14]
editions: ["A", "B"]
superseded_by: { "A": "B" }
about: What an invented purchaser asks beside the standard.
treatments:
  - { id: room-nitric, name: Room nitric, clause: "3.1", step: passivate }
  - { id: grade-1, name: Grade 1, clause: "3.2", step: passivate }
  - { id: grade-2, name: Grade 2, clause: "3.2", step: passivate }
tests:
  - { test: copper sulfate, name: procedure K, clause: "4" }
classes:
  - { class: "7", name: Class 7, clause: "5" }
requirements:
  - { id: treatment.ordered, clause: "3", basis: read, subject: treatment ordered, check: present, remedy: ask the purchaser }
  - { id: grade-2.test, clause: "3", basis: read, when: { treatments: [grade-2] }, subject: test, check: present, remedy: ask the purchaser }
"#;
    let (mut packs, sampling) = packs();
    packs.push(yaml::parse(own).unwrap());
    let cases = [
        ("Passivate per Halyard HPS-14-B, room nitric", "Halyard HPS 14-B|Room nitric||", ""),
        (
            "PASSIVATE PER HPS 14-A GRADE II, PROCEDURE K, CLASS 7",
            "Halyard HPS 14-A|Grade 2|7|copper sulfate",
            "superseded",
        ),
        ("HPS 14-B GRADE 2", "Halyard HPS 14-B|Grade 2||", "test"),
        ("HPS 14-B GRADE 3", "Halyard HPS 14-B|||", "treatment unknown"),
        ("HPS 14 REV C", "Halyard HPS 14|||", "edition unknown treatment"),
        ("HPS 14-B GRADE 1 OR 2", "Halyard HPS 14-B|||", "alternative"),
    ];
    for (text, call_out, asks) in cases {
        let reading = callout::read(text, &packs, &sampling).unwrap();
        let shown: Vec<String> = reading
            .calls_for
            .iter()
            .map(|c| {
                let tests: Vec<&str> = c.tests.iter().map(|t| t.name()).collect();
                let word = |w: &Option<String>| w.clone().unwrap_or_default();
                format!("{}|{}|{}|{}", word(&c.standard), word(&c.treatment), word(&c.class), tests.join(" "))
            })
            .collect();
        assert_eq!(shown, [call_out], "{text}");
        assert_eq!(asked(&reading).into_iter().collect::<Vec<_>>().join(" "), asks, "{text}");
    }
}

#[test]
fn a_text_that_is_too_long_is_refused() {
    let (packs, sampling) = packs();
    let long = "A967 NITRIC 2 OR ".repeat(2000);
    let (most, _) = long.split_at(callout::LONGEST);
    assert!(callout::read(most, &packs, &sampling).is_ok());
    assert_eq!(
        callout::read(&long, &packs, &sampling),
        Err(callout::TooLong { found: long.chars().count() })
    );
}

/// What holds of every reading of every text.
fn sound(text: &str) -> Result<Reading, TestCaseError> {
    let (packs, sampling) = given();
    let reading = callout::read(text, packs, sampling).unwrap();
    prop_assert_eq!(&callout::read(text, packs, sampling).unwrap(), &reading);
    for call_out in &reading.calls_for {
        if let Some(standard) = &call_out.standard {
            let named = |p: &&Pack| p.is_designated(standard) || p.edition_named(standard).is_some();
            let fits: Vec<&Pack> = packs.iter().filter(named).collect();
            prop_assert!(!fits.is_empty(), "{standard}");
            if let Some(name) = &call_out.treatment {
                prop_assert!(fits.iter().any(|p| p.treatments.iter().any(|t| t.name == *name)), "{name}");
            }
            for test in &call_out.tests {
                prop_assert!(fits.iter().any(|p| p.tests.iter().any(|t| t.test == *test)), "{test:?}");
            }
            if let Some(class) = &call_out.class {
                prop_assert!(fits.iter().any(|p| p.classes.iter().any(|c| c.class == *class)), "{class}");
            }
        } else {
            prop_assert!(call_out.at_least.is_some() || call_out.at_most.is_some());
        }
    }
    Ok(reading)
}

fn given() -> &'static (Vec<Pack>, SamplingPlans) {
    static GIVEN: OnceLock<(Vec<Pack>, SamplingPlans)> = OnceLock::new();
    GIVEN.get_or_init(packs)
}

fn lines() -> &'static [String] {
    static LINES: OnceLock<Vec<String>> = OnceLock::new();
    LINES.get_or_init(|| corpus().into_iter().map(|line| line.text).collect())
}

fn settings(cases: u32) -> ProptestConfig {
    ProptestConfig { cases, failure_persistence: None, ..ProptestConfig::default() }
}

proptest! {
    #![proptest_config(settings(300))]

    #[test]
    fn any_text_is_read_without_a_surprise(text in prop::collection::vec(any::<char>(), 0..200)) {
        sound(&text.into_iter().collect::<String>())?;
    }

    /// Pieces of the trade's own lines in any order, with any marks between.
    #[test]
    fn shuffled_words_are_read_without_a_surprise(
        words in prop::collection::vec((any::<Index>(), any::<Index>(), 0..12_usize), 0..40),
    ) {
        const BETWEEN: [&str; 12] = [" ", " ", "", "-", " - ", ", ", "; ", "/", " OR ", "(", ")", "\n"];
        let mut text = String::new();
        for (line, word, mark) in words {
            let words: Vec<&str> = lines()[line.index(lines().len())].split_whitespace().collect();
            text.push_str(words[word.index(words.len())]);
            text.push_str(BETWEEN[mark]);
        }
        sound(&text)?;
    }

    #[test]
    fn damaged_lines_are_read_without_a_surprise(
        line in any::<Index>(),
        damages in prop::collection::vec((any::<Index>(), any::<char>(), 0..4_u8), 1..6),
    ) {
        let mut chars: Vec<char> = lines()[line.index(lines().len())].chars().collect();
        for (at, with, how) in damages {
            let at = at.index(chars.len().max(1));
            match how {
                _ if chars.is_empty() => chars.push(with),
                0 => { chars.remove(at); }
                1 => chars.insert(at, with),
                2 => chars[at] = with,
                _ => chars.truncate(at),
            }
        }
        sound(&chars.into_iter().collect::<String>())?;
    }
}

/// Case, runs of spaces and the kind of dash mean nothing.
#[test]
fn case_spaces_and_dashes_mean_nothing() {
    for line in lines() {
        let plain = sound(line).unwrap();
        let variants = [
            line.to_lowercase(),
            line.to_uppercase(),
            line.replace(' ', "   "),
            line.replace(' ', "\t"),
            line.replace('-', "–"),
            line.replace('µ', "μ"),
            format!("  {line}  "),
        ];
        for variant in variants {
            let other = sound(&variant).unwrap();
            assert_eq!(set(&other.calls_for), set(&plain.calls_for), "{variant}");
            assert_eq!((assumed(&other), asked(&other)), (assumed(&plain), asked(&plain)), "{variant}");
        }
    }
}

/// In a shop folder the shop's own packs are read by, else the built-in ones.
#[test]
fn the_shop_s_packs_are_used() {
    let shop = Path::new(env!("CARGO_TARGET_TMPDIR")).join("call-outs-shop");
    fs::create_dir_all(shop.join("rules")).unwrap();
    let larkspur = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples/larkspur");
    for entry in fs::read_dir(larkspur).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|e| e == "yaml") {
            fs::copy(&path, shop.join(path.file_name().unwrap())).unwrap();
        }
    }
    let own =
        "pack: halyard\ndesignation: Halyard HPS 20\neditions: [\"1\"]\nabout: Invented.\nrequirements: []\n";
    fs::write(shop.join("rules/halyard.yaml"), own).unwrap();
    let text = [(1, "CLEAN PER HALYARD HPS 20-1")];
    let read = |folder: &Path| app::call_outs::read(&Folder::new(folder), &text).unwrap();
    let standards = |folder: &Path| -> Vec<Option<String>> {
        read(folder)[0].reading.calls_for.iter().map(|c| c.standard.clone()).collect()
    };
    assert_eq!(standards(&shop), [Some("Halyard HPS 20-1".to_owned())]);
    assert_eq!(standards(&shop.join("rules")), []);
}

/// What cannot be read stops all, and says which line.
#[test]
fn unreadable_input_is_told() {
    let folder = Folder::new(Path::new(env!("CARGO_TARGET_TMPDIR")));
    let long = "A".repeat(callout::LONGEST + 1);
    let told = app::call_outs::read(&folder, &[(1, "PASSIVATE"), (7, &long)]).unwrap_err();
    assert_eq!(told.to_string(), "line 7: the text has 10001 characters; at most 10000 are read at once");
    assert!(told.hint().is_some());
    assert!(app::call_outs::read(&folder, &[]).is_err());
}
