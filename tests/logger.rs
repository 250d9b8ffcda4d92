//! Maps of loggers: read, refused, and each fault at its path. All loggers are invented.
#![allow(clippy::unwrap_used, reason = "a test stops at the first surprise")]

use brightproof::logger::Loggers;
use brightproof::logger::Offset;
use brightproof::logger::TimeFormat;
use brightproof::logger::span_ms;

pub const SOUND: &str = r#"loggers:
  - logger: L1
    what: invented logger of the nitric line
    instrument: TH-3
    delimiter: ";"
    decimal: comma
    skip_lines: 2
    time: { header: Datum, clock: Uhrzeit, format: "DD.MM.YYYY hh:mm:ss", offset: "+01:00" }
    columns:
      - { header: "Temp (°C)", measures: temperature, unit: °C, resolution: 0.1 °C }
      - { header: Leitwert, measures: conductivity, unit: µS/cm, instrument: CD-1 }
    no_reading: ["---", ""]
    interval: 10 s
"#;

fn faults(from: &str, to: &str) -> Vec<String> {
    assert!(from.is_empty() || SOUND.contains(from), "{from}");
    let text = if from.is_empty() { SOUND.to_owned() } else { SOUND.replacen(from, to, 1) };
    let loggers: Loggers = serde_yaml::from_str(&text).unwrap();
    loggers.faults().iter().map(ToString::to_string).collect()
}

#[test]
fn a_sound_map_is_read_and_written_back() {
    assert_eq!(faults("", ""), Vec::<String>::new());
    let loggers: Loggers = serde_yaml::from_str(SOUND).unwrap();
    let json = serde_json::to_string(&loggers).unwrap();
    assert_eq!(serde_json::from_str::<Loggers>(&json).unwrap(), loggers);
    for format in TimeFormat::ALL {
        let json = serde_json::to_string(format).unwrap();
        assert_eq!(json, format!("\"{}\"", format.word()));
        assert_eq!(serde_json::from_str::<TimeFormat>(&json).unwrap(), *format);
    }
}

#[test]
fn each_fault_stands_at_its_path() {
    for (from, to, fault) in [
        (
            "logger: L1",
            "logger: \" \"",
            "loggers[0].logger: nothing is written here: expected an id, as records write it",
        ),
        (
            "what: invented logger of the nitric line",
            "what: \"\"",
            "loggers[0].what: nothing is written here: expected what the logger is",
        ),
        (
            "\";\"",
            "\",\"",
            "loggers[0].decimal: a comma cannot stand both between cells and in numbers: look into the file \
                for `;` or a tab",
        ),
        (
            "skip_lines: 2",
            "skip_lines: 1001",
            "loggers[0].skip_lines: 1001 found, at most 1000 can be mapped",
        ),
        (
            "interval: 10 s",
            "interval: 10 V",
            "loggers[0].interval: `10 V` is no time between readings: expected more than nothing and at most \
                a day, such as `10 s`",
        ),
        (
            "interval: 10 s",
            "interval: 0 s",
            "loggers[0].interval: `0 s` is no time between readings: expected more than nothing and at most \
                a day, such as `10 s`",
        ),
        (
            ", offset: \"+01:00\"",
            "",
            "loggers[0].time: `DD.MM.YYYY hh:mm:ss` names no offset from UTC: add `offset`, such as -05:00, \
                to `time`",
        ),
        (
            "header: Datum",
            "header: \"\"",
            "loggers[0].time.header: nothing is written here: expected the header as the file writes it",
        ),
        (
            "header: Leitwert",
            "header: Datum",
            "loggers[0].columns[1].header: `Datum` is named twice: give each its own",
        ),
        (
            "unit: °C,",
            "unit: A,",
            "loggers[0].columns[0].unit: temperature is not measured in A: give a unit of temperature",
        ),
        (
            "Temp (°C)",
            "Temp (°F)",
            "loggers[0].columns[0].unit: the header says °F, the map says °C: correct whichever is wrong",
        ),
        (
            "0.1 °C",
            "0.1 °F",
            "loggers[0].columns[0].resolution: `0.1 °F` is no resolution here: expected a positive amount of \
                °C, such as `0.1 °C`",
        ),
        (
            "0.1 °C",
            "0.0 °C",
            "loggers[0].columns[0].resolution: `0.0 °C` is no resolution here: expected a positive amount of \
                °C, such as `0.1 °C`",
        ),
        (
            "\"---\"",
            "'a\"b'",
            "loggers[0].no_reading[0]: `a\"b` cannot stand in a cell as it is: leave out quotes and line \
                ends",
        ),
        (
            "offset: \"+01:00\"",
            "offset: \"+01:00\", changes: [{ at: 2026-10-25T01:00Z, offset: \"+01:00\" }, { at: \
                2026-03-29T01:00Z, offset: \"+02:00\" }]",
            "loggers[0].time.changes[1]: the change at 2026-03-29T01:00+00:00 does not come after the one \
                before it: list them oldest first",
        ),
    ] {
        let found = faults(from, to);
        assert_eq!(found.first().map(String::as_str), Some(fault));
    }
    let zoned = faults("DD.MM.YYYY hh:mm:ss", "YYYY-MM-DDThh:mm:ss+hh:mm");
    assert_eq!(
        zoned,
        [
            "loggers[0].time.offset: `YYYY-MM-DDThh:mm:ss+hh:mm` names the offset in the file: leave out \
                `offset` and `changes`",
            "loggers[0].time.clock: `YYYY-MM-DDThh:mm:ss+hh:mm` stands in one column: leave out `clock`, or \
                choose a format without offset"
        ]
    );
    let two: Loggers = serde_yaml::from_str(&format!("{SOUND}{}", SOUND.replace("loggers:\n", ""))).unwrap();
    let found: Vec<_> = two.faults().iter().map(ToString::to_string).collect();
    assert_eq!(found, ["loggers[1].logger: `L1` is named twice: give each its own"]);
    let mut none: Loggers = serde_yaml::from_str(SOUND).unwrap();
    none.loggers.iter_mut().for_each(|l| l.columns.clear());
    let found: Vec<_> = none.faults().iter().map(ToString::to_string).collect();
    assert_eq!(
        found,
        ["loggers[0].columns: no column is mapped: list at least one with its header, what it measures \
                and its unit"]
    );
}

#[test]
fn what_no_map_may_say() {
    for (from, to) in [
        ("decimal: comma", "decimal: dot"),
        ("delimiter: \";\"", "delimiter: \"|\""),
        ("DD.MM.YYYY hh:mm:ss", "DD.MM.YY hh:mm:ss"),
        ("measures: temperature", "measures: heat"),
        ("unit: °C", "unit: °X"),
        ("+01:00", "+1:00"),
        ("+01:00", "01:00"),
        ("+01:00", "+15:00"),
        ("instrument: TH-3", "sensor: TH-3"),
        ("instrument: CD-1", "probe: CD-1"),
    ] {
        assert!(SOUND.contains(from), "{from}");
        assert!(
            serde_yaml::from_str::<Loggers>(&SOUND.replacen(from, to, 1)).is_err(),
            "{to} must be refused"
        );
    }
}

#[test]
fn offsets_and_spans() {
    for text in ["-05:00", "+05:30", "+00:00", "-00:30", "+14:59"] {
        assert_eq!(text.parse::<Offset>().unwrap().to_string(), text);
    }
    assert_eq!("-05:30".parse::<Offset>().unwrap().seconds(), -19_800);
    for (text, ms) in [
        ("0.5 s", Some(500)),
        ("2 min", Some(120_000)),
        ("1 d", Some(86_400_000)),
        ("0.0001 s", None),
        ("-1 s", None),
        ("1 V", None),
        ("999999999 d", None),
    ] {
        assert_eq!(span_ms(&text.parse().unwrap()), ms, "{text}");
    }
}
