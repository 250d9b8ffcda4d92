//! Call-outs read from the text of drawings: every line of the corpus as its rules say, and any text at all without
//! a surprise.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops at the first surprise")]

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use brightproof::app::builtin;
use brightproof::callout;
use brightproof::callout::Ask;
use brightproof::callout::Assumption;
use brightproof::callout::Reading;
use brightproof::pack::Pack;
use brightproof::pack::SamplingPlans;
use brightproof::part::CallOut;
use brightproof::yaml;
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
