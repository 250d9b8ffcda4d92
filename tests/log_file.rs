//! Files of loggers: read exactly, and damaged ones refused with the very message. All files are invented or
//! generated.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test stops at the first surprise")]

use brightproof::bath_log::Log;
use brightproof::log_file::LogFault;
use brightproof::log_file::MOST_BYTES;
use brightproof::log_file::MOST_ROWS;
use brightproof::log_file::read;
use brightproof::logger::Logger;
use brightproof::logger::Loggers;
use brightproof::logger::TimeFormat;
use brightproof::moment::Moment;
use proptest::prelude::*;

/// A map with this delimiter, decimal mark, and time.
fn map(delimiter: &str, decimal: &str, time: &str) -> Logger {
    let text = format!(
        r#"loggers:
  - logger: L1
    what: invented
    delimiter: "{delimiter}"
    decimal: {decimal}
    time: {{ {time} }}
    columns:
      - {{ header: "Temp (°C)", measures: temperature, unit: °C }}
      - {{ header: Amps, measures: current, unit: A }}
    no_reading: ["---"]
    interval: 10 s
"#
    );
    serde_yaml::from_str::<Loggers>(&text).unwrap().loggers.remove(0)
}

const PLAIN: &str = r#"header: Time, format: "YYYY-MM-DD hh:mm:ss", offset: "-05:00""#;

fn plain() -> Logger {
    map(",", "point", PLAIN)
}

/// The log as text: times, then each channel's readings, which share the digits of the finest of them.
fn told(log: &Log) -> String {
    let times: Vec<_> =
        log.times().iter().map(|t| format!("{} {}", log.moment(*t).unwrap(), t % 1000)).collect();
    let channels: Vec<_> = log
        .traces()
        .map(|trace| trace.readings().map(|r| r.value.to_string()).collect::<Vec<_>>().join(" "))
        .collect();
    format!("{} | {}", times.join(", "), channels.join(" | "))
}

/// The same two rows in every dress a file may wear.
#[test]
fn the_same_readings_however_written() {
    let text = "Time,Temp (°C),Amps\n2026-11-24 09:40:00,50.0,7\n2026-11-24 09:40:10,50.25,-0.5\n";
    let told = |text: &[u8]| told(&read(text, &plain()).unwrap());
    let expected = "2026-11-24T09:40:00-05:00 0, 2026-11-24T09:40:10-05:00 0 | 50.00 50.25 | 7.0 -0.5";
    assert_eq!(told(text.as_bytes()), expected);
    let wide = |bytes: fn(u16) -> [u8; 2]| {
        std::iter::once(0xfeff).chain(text.encode_utf16()).flat_map(bytes).collect::<Vec<u8>>()
    };
    let latin = text.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect::<Vec<u8>>();
    for dressed in [
        format!("\u{feff}{text}").into_bytes(),
        text.replace('\n', "\r\n").into_bytes(),
        text.trim_end().as_bytes().to_vec(),
        format!("{text}\r\n\n \n").into_bytes(),
        text.replace(',', "\",\"")
            .replace("Time", "\"Time")
            .replace("Amps", "Amps\"")
            .replace("2026", "\"2026")
            .replace(",\"7", ",\"7\"")
            .replace("-0.5", "-0.5\"")
            .into_bytes(),
        text.replace(',', " , ").into_bytes(),
        text.replace('°', "º").into_bytes(),
        text.replace("°C", "℃").into_bytes(),
        wide(u16::to_le_bytes),
        wide(u16::to_be_bytes),
        latin,
    ] {
        assert_eq!(told(&dressed), expected, "{}", String::from_utf8_lossy(&dressed));
    }
    // Other columns, other order.
    let text = "No,Amps,Note,Time,Temp (°C)\n1,7.0,\"a, \"\"b\"\"\",2026-11-24 \
        09:40:00,50.00\n2,-0.5,,2026-11-24 09:40:10,50.25\n";
    assert_eq!(told(text.as_bytes()), expected);
}

#[test]
fn decimal_comma_and_tab() {
    let semicolon =
        map(";", "comma", r#"header: Datum, clock: Zeit, format: "DD.MM.YYYY hh:mm:ss", offset: "-05:00""#);
    let text = "Datum;Temp (°C);Zeit;Amps\n24.11.2026;50,00;09:40:00;7,0\n24.11.2026;50,25;9:40:10;-0,5\n";
    let expected = "2026-11-24T09:40:00-05:00 0, 2026-11-24T09:40:10-05:00 0 | 50.00 50.25 | 7.0 -0.5";
    assert_eq!(told(&read(text.as_bytes(), &semicolon).unwrap()), expected);
    let tab = map("tab", "comma", r#"header: Datum, format: "DD.MM.YYYY hh:mm:ss", offset: "-05:00""#);
    let text = "Datum\tTemp (°C)\tAmps\n24.11.2026 09:40:00\t50,00\t7,0\n24.11.2026 09:40:10\t50,25\t-0,5\n";
    assert_eq!(told(&read(text.as_bytes(), &tab).unwrap()), expected);
}

#[test]
fn cells_without_reading() {
    let text = "Time,Temp (°C),Amps\n2026-11-24 09:40:00,---,7\n2026-11-24 09:40:10,50.25,-999.9\n";
    let mut numbered = plain();
    numbered.no_reading.push("-999.9".to_owned());
    let log = read(text.as_bytes(), &numbered).unwrap();
    assert!(told(&log).ends_with("| 50.25 | 7"), "{}", told(&log));
    let mut fahrenheit = plain();
    fahrenheit.columns[0].header = "Temp (°F)".to_owned();
    fahrenheit.columns[0].unit = "°F".parse().unwrap();
    fahrenheit.columns[0].resolution = Some("0.5 °F".parse().unwrap());
    fahrenheit.skip_lines = 2;
    let text = "made up\n\"no end,\nTime,Temp (°F),Amps\n2026-11-24 09:40:00,120.50,7\n";
    let log = read(text.as_bytes(), &fahrenheit).unwrap();
    assert_eq!(log.channels()[0].unit.symbol(), "°F");
    assert_eq!(log.channels()[0].mean_places(), 2);
    assert!(told(&log).ends_with("| 120.50 | 7"));
}

/// Every format, and what each of them refuses. The instants are held against the reader of moments.
#[test]
fn times_in_every_format() {
    let cases = [
        (TimeFormat::IsoZone, "2026-11-24T09:40:05-05:00", "2026-11-24T09:40:05-05:00"),
        (TimeFormat::IsoZone, "2026-11-24T14:40:05Z", "2026-11-24T14:40:05Z"),
        (TimeFormat::IsoZone, "2026-11-24T09:40:05.250-05:00", "2026-11-24T09:40:05-05:00"),
        (TimeFormat::IsoPlain, "2026-11-24T09:40:05", "2026-11-24T09:40:05-05:00"),
        (TimeFormat::YearSeconds, "2026-11-24 09:40:05", "2026-11-24T09:40:05-05:00"),
        (TimeFormat::YearSeconds, "2026-11-24 09:40:05.5", "2026-11-24T09:40:05-05:00"),
        (TimeFormat::YearSeconds, "0001-01-02 00:00:00", "0001-01-02T00:00:00-05:00"),
        (TimeFormat::YearMinutes, "2028-02-29 09:40", "2028-02-29T09:40-05:00"),
        (TimeFormat::YearSlashSeconds, "2026/11/24 23:59:59", "2026-11-24T23:59:59-05:00"),
        (TimeFormat::DotSeconds, "24.11.2026 09:40:05", "2026-11-24T09:40:05-05:00"),
        (TimeFormat::DotSeconds, "4.1.2026 9:40:05", "2026-01-04T09:40:05-05:00"),
        (TimeFormat::DotMinutes, "24.11.2026 09:40", "2026-11-24T09:40-05:00"),
        (TimeFormat::DaySeconds, "04/05/2026 09:40:05", "2026-05-04T09:40:05-05:00"),
        (TimeFormat::DayMinutes, "04/05/2026 09:40", "2026-05-04T09:40-05:00"),
        (TimeFormat::MonthSeconds, "04/05/2026 09:40:05", "2026-04-05T09:40:05-05:00"),
        (TimeFormat::MonthMinutes, "4/5/2026 9:40", "2026-04-05T09:40-05:00"),
        (TimeFormat::MonthSecondsHalf, "11/24/2026 09:40:05 PM", "2026-11-24T21:40:05-05:00"),
        (TimeFormat::MonthSecondsHalf, "11/24/2026 12:00:00 AM", "2026-11-24T00:00:00-05:00"),
        (TimeFormat::MonthSecondsHalf, "11/24/2026 12:00:00pm", "2026-11-24T12:00:00-05:00"),
        (TimeFormat::MonthMinutesHalf, "1/4/2026 9:40 AM", "2026-01-04T09:40-05:00"),
    ];
    for (format, text, moment) in cases {
        let moment: Moment = moment.parse().unwrap();
        let log = timed(format, &[text]).unwrap();
        assert_eq!(log.times()[0].div_euclid(1000), moment.instant().timestamp(), "{text}");
    }
    assert_eq!(timed(TimeFormat::YearSeconds, &["2026-11-24 09:40:05.5"]).unwrap().times()[0] % 1000, 500);
    for (format, text) in [
        (TimeFormat::YearSeconds, "2026-11-24 9:40:05"),
        (TimeFormat::YearSeconds, "2026-11-24T09:40:05"),
        (TimeFormat::YearSeconds, "2026-11-24 09:40"),
        (TimeFormat::YearSeconds, "2026-11-24 09:40:05.1234"),
        (TimeFormat::YearSeconds, "2026-11-24 09:40:05."),
        (TimeFormat::YearSeconds, "2026-11-24 09:40:05 PM"),
        (TimeFormat::YearSeconds, "24.11.2026 09:40:05"),
        (TimeFormat::YearSeconds, ""),
        (TimeFormat::YearMinutes, "2026-11-24 09:40:05"),
        (TimeFormat::DotSeconds, "24.11.26 09:40:05"),
        (TimeFormat::DotSeconds, "24/11/2026 09:40:05"),
        (TimeFormat::MonthSecondsHalf, "11/24/2026 09:40:05"),
        (TimeFormat::MonthSecondsHalf, "11/24/2026 09:40:05 XM"),
        (TimeFormat::IsoZone, "2026-11-24T09:40:05"),
        (TimeFormat::IsoZone, "2026-11-24T09:40:05-0500"),
    ] {
        let fault = timed(format, &[text]).unwrap_err();
        assert!(matches!(fault, LogFault::TimeForm { line: 2, .. }), "{text}: {fault}");
    }
    for (format, text) in [
        (TimeFormat::YearSeconds, "2026-11-24 24:00:00"),
        (TimeFormat::YearSeconds, "2026-11-24 09:60:00"),
        (TimeFormat::YearSeconds, "2026-11-24 09:40:60"),
        (TimeFormat::MonthSecondsHalf, "11/24/2026 13:40:05 PM"),
        (TimeFormat::MonthSecondsHalf, "11/24/2026 00:40:05 AM"),
        (TimeFormat::IsoZone, "2026-11-24T09:40:05-15:00"),
    ] {
        let fault = timed(format, &[text]).unwrap_err();
        assert!(matches!(fault, LogFault::NoSuchTime { line: 2, .. }), "{text}: {fault}");
    }
    for (format, text) in [
        (TimeFormat::YearSeconds, "2026-02-30 09:40:00"),
        (TimeFormat::MonthSeconds, "24/11/2026 09:40:05"),
        (TimeFormat::DaySeconds, "11/24/2026 09:40:05"),
        (TimeFormat::DotMinutes, "29.02.2027 09:40"),
        (TimeFormat::YearMinutes, "2026-00-10 09:40"),
    ] {
        let fault = timed(format, &[text]).unwrap_err();
        assert!(matches!(fault, LogFault::NoSuchDay { line: 2, .. }), "{text}: {fault}");
    }
}

fn timed(format: TimeFormat, times: &[&str]) -> Result<Log, LogFault> {
    let offset = if format.zone() { "" } else { r#", offset: "-05:00""# };
    let logger = map(",", "point", &format!("header: Time, format: \"{}\"{offset}", format.word()));
    let rows: String = times.iter().map(|t| format!("{t},1,2\n")).collect();
    read(format!("Time,Temp (°C),Amps\n{rows}").as_bytes(), &logger)
}

/// Clocks in the east of North America in 2026 (recalled): put forward on 8 March at 02:00, back on 1
/// November at 02:00, so that 02:30 never came in March and 01:30 came twice in November.
#[test]
fn a_clock_that_follows_summer_time() {
    let changes = "changes: [{ at: 2026-03-08T07:00Z, offset: \"-04:00\" }, { at: 2026-11-01T06:00Z, offset: \
        \"-05:00\" }]";
    let logger = map(",", "point", &format!("{PLAIN}, {changes}"));
    let times = |times: &[&str]| {
        let rows: String = times.iter().map(|t| format!("{t},1,2\n")).collect();
        let log = read(format!("Time,Temp (°C),Amps\n{rows}").as_bytes(), &logger);
        log.map(|l| l.times().windows(2).map(|t| (t[1] - t[0]) / 60_000).collect::<Vec<_>>())
    };
    assert_eq!(times(&["2026-03-08 01:59:00", "2026-03-08 03:00:00", "2026-03-08 03:01:00"]), Ok(vec![1, 1]));
    assert_eq!(times(&["2026-11-01 00:59:00", "2026-11-01 02:00:00"]), Ok(vec![121]));
    for (time, message) in [
        (
            "2026-03-08 02:30:00",
            "line 2, column `Time`: `2026-03-08 02:30:00` never came, the clock was put forward over it: \
                correct `changes` of the map",
        ),
        (
            "2026-11-01 01:30:00",
            "line 2, column `Time`: `2026-11-01 01:30:00` came twice, the clock was put back over it: nobody \
                can tell which is meant, export it with offsets or keep the logger on one time",
        ),
    ] {
        assert_eq!(times(&[time]).unwrap_err().to_string(), message);
    }
    let zoned = ["2026-11-01T01:59:30-04:00", "2026-11-01T01:00:00-05:00"];
    assert_eq!(timed(TimeFormat::IsoZone, &zoned).unwrap().times().len(), 2);
}

const HEAD: &str = "Time,Temp (°C),Amps\n";

#[test]
fn damaged_files() {
    let row = |cells: &str| format!("{HEAD}2026-11-24 09:40:00,50.0,7\n{cells}\n");
    let export = "expected each reading later than the one before";
    let cases: Vec<(String, String)> = vec![
        (String::new(), "the file is empty: expected headers and readings, export it again".into()),
        ("\r\n \n".into(), "the file is empty: expected headers and readings, export it again".into()),
        (
            HEAD.into(),
            "no reading below the headers up to line 1: expected at least one, export the time of \
            the run"
                .into(),
        ),
        (
            format!("{HEAD}\n\n"),
            "no reading below the headers up to line 2: expected at least one, export \
            the time of the run"
                .into(),
        ),
        (
            format!("\n{HEAD}"),
            "line 1 is empty or missing, expected headers there: correct `skip_lines` of \
            the map"
                .into(),
        ),
        (
            HEAD.replace("Amps", "Amp"),
            "line 1: no column `Amps` (did you mean `Amp`?), found `Time`, `Temp \
            (°C)`, `Amp`: correct the map or `skip_lines`, or export that column"
                .into(),
        ),
        (
            HEAD.replace("Temp (°C)", "Temp (°F)"),
            "line 1: no column `Temp (°C)` (did you mean `Temp (°F)`?), \
            found `Time`, `Temp (°F)`, `Amps`: correct the map or `skip_lines`, or export that \
            column"
                .into(),
        ),
        (
            HEAD.replace('\n', ",Amps\n"),
            "line 1: two columns `Amps`: nobody can tell which is meant, name \
            them apart in the logger"
                .into(),
        ),
        (
            HEAD.replace("Amps", "\"Amps"),
            "line 1: the quotes around `Amps` are not closed, or not at the end \
            of the cell: export it again"
                .into(),
        ),
        (
            row("2026-11-24 09:40:10,50.0"),
            "line 3: 2 cells, expected 3 as in the headers: cells are lost or \
            shifted, export it again"
                .into(),
        ),
        (
            row("2026-11-24 09:40:10,50.0,7,"),
            "line 3: 4 cells, expected 3 as in the headers: cells are lost \
            or shifted, export it again"
                .into(),
        ),
        (
            row("2026-11-24 09:40:10,50,0,7,0"),
            "line 3: 5 cells, expected 3 as in the headers: cells are lost \
            or shifted, export it again"
                .into(),
        ),
        (
            row("2026-11-24 09:40:10,x,50,7"),
            "line 3: 4 cells, expected 3 as in the headers: cells are lost \
            or shifted, export it again"
                .into(),
        ),
        (
            row("\n2026-11-24 09:40:10,50.0,7"),
            "line 3: 1 cells, expected 3 as in the headers: cells are lost \
            or shifted, export it again"
                .into(),
        ),
        (
            row("2026-11-24 09:40:10,\"50.0,7"),
            "line 3: the quotes around `50.0,7` are not closed, or not at \
            the end of the cell: export it again"
                .into(),
        ),
        (
            row("2026-11-24 09:40:10,\"50\".0,7"),
            "line 3: the quotes around `50` are not closed, or not at \
            the end of the cell: export it again"
                .into(),
        ),
        (
            row("2026-11-24 09:40:10,,7"),
            "line 3, column `Temp (°C)`: an empty cell, expected a number: if it \
            means no reading, list \"\" in `no_reading`"
                .into(),
        ),
        (
            row("2026-11-24 09:40:10,\"50,5\",7"),
            "line 3, column `Temp (°C)`: `50,5`, expected a decimal \
            point: correct `decimal` of the map"
                .into(),
        ),
        (row("2026-11-24 09:40:10,50.0,--"), number(3, "Amps", "--")),
        (row("2026-11-24 09:40:10,NaN,7"), number(3, "Temp (°C)", "NaN")),
        (row("2026-11-24 09:40:10,50.,7"), number(3, "Temp (°C)", "50.")),
        (row("2026-11-24 09:40:10,.5,7"), number(3, "Temp (°C)", ".5")),
        (row("2026-11-24 09:40:10,1.2.3,7"), number(3, "Temp (°C)", "1.2.3")),
        (row("2026-11-24 09:40:10,0.1234567890,7"), number(3, "Temp (°C)", "0.1234567890")),
        (row("2026-11-24 09:40:10,--1,7"), number(3, "Temp (°C)", "--1")),
        (
            row("2026-11-24 09:40:10,99999999999999999999999,7"),
            number(3, "Temp (°C)", "99999999999999999999999"),
        ),
        (row("2026-11-24 09:40:10,50.0,inf"), number(3, "Amps", "inf")),
        (row("2026-11-24 09:40:10,5e1,7"), number(3, "Temp (°C)", "5e1")),
        (row("2026-11-24 09:40:10,50.0 °C,7"), number(3, "Temp (°C)", "50.0 °C")),
        (row("2026-11-24 09:40:10,1234567890.0,7"), number(3, "Temp (°C)", "1234567890.0")),
        (
            row("2026-11-24 09:40:00,50.0,7"),
            format!(
                "line 3, column `Time`: `2026-11-24 09:40:00` is the \
            time of the line before again: {export}, choose a format with seconds or export it again"
            ),
        ),
        (
            row("2026-11-24 09:39:59,50.0,7"),
            format!(
                "line 3, column `Time`: `2026-11-24 09:39:59` is earlier \
            than the line before: {export}; if the clock was put back, export it with offsets or list \
            `changes` in the map"
            ),
        ),
        (
            row("2026-11-31 09:40:10,50.0,7"),
            "line 3, column `Time`: `2026-11-31 09:40:10` read as YYYY-MM-DD \
            hh:mm:ss is not in the calendar: correct `format` of the map, or the logger's clock"
                .into(),
        ),
        (
            row("11/24/2026 09:40:10,50.0,7"),
            "line 3, column `Time`: `11/24/2026 09:40:10` is not written \
            YYYY-MM-DD hh:mm:ss, as in 2026-11-24 09:40:00: correct `format` of the map"
                .into(),
        ),
        (
            row("2026-11-24 09:61:10,50.0,7"),
            "line 3, column `Time`: `2026-11-24 09:61:10` names an hour, \
            minute, second or offset that does not exist: the line is damaged, export it again"
                .into(),
        ),
        (
            row("2026-11-24 09:40:10,50.0,\u{0}7"),
            "line 3: a byte 0x00 that no text has: export the readings \
            as text, not in the logger's own form"
                .into(),
        ),
        (
            "PK\u{3}\u{4}".into(),
            "line 1: a byte 0x03 that no text has: export the readings as text, not in \
            the logger's own form"
                .into(),
        ),
        (
            HEAD.replace('\n', &",".repeat(1100)),
            "line 1: more than 1024 columns: this is no table of \
            readings, export it as text with delimiters"
                .into(),
        ),
    ];
    for (text, message) in cases {
        let fault = read(text.as_bytes(), &plain()).unwrap_err();
        assert_eq!(fault.to_string(), message, "{text}");
    }
    assert_eq!(
        read(&[0xff, 0xfe, b'T', 0, b'i'], &plain()).unwrap_err().to_string(),
        "the file begins as UTF-16 but breaks off within a character: it is damaged, export it again"
    );
}

fn number(line: u64, column: &str, found: &str) -> String {
    format!(
        "line {line}, column `{column}`: `{found}` is no number, expected digits as in 20.5 (at most 9 \
            before and 9 \
         after the mark): if it means no reading, list it in `no_reading`"
    )
}

#[test]
fn a_comma_map_and_a_map_at_fault() {
    let comma = map(";", "comma", PLAIN);
    let text = "Time;Temp (°C);Amps\n2026-11-24 09:40:00;50.5;7\n";
    assert_eq!(
        read(text.as_bytes(), &comma).unwrap_err().to_string(),
        "line 2, column `Temp (°C)`: `50.5`, expected a decimal comma: correct `decimal` of the map"
    );
    let mut wrong = plain();
    wrong.columns[0].unit = "°F".parse().unwrap();
    assert_eq!(
        read(HEAD.as_bytes(), &wrong).unwrap_err().to_string(),
        "the map of logger `L1` cannot be used: columns[0].unit: the header says °C, the map says °F: \
            correct whichever is wrong"
    );
}

#[test]
fn files_too_large() {
    let text = vec![b'x'; MOST_BYTES + 1];
    assert!(matches!(read(&text, &plain()), Err(LogFault::TooLarge { .. })));
    let logger = map(",", "point", r#"header: T, format: "YYYY-MM-DDThh:mm:ss", offset: "-05:00""#);
    let mut text = String::from("T,Temp (°C),Amps\n");
    for row in 0..=MOST_ROWS {
        let (day, s) = (row / 86_400, row % 86_400);
        let (h, m, s) = (s / 3600, s / 60 % 60, s % 60);
        text.push_str(&format!("2026-01-{:02}T{h:02}:{m:02}:{s:02},1,2\n", day + 1));
    }
    let fault = read(text.as_bytes(), &logger).unwrap_err();
    assert_eq!(fault.to_string(), "line 2000002: more than 2000000 readings: export a shorter time");
}

/// A cell as a program of tables would write it, with what `csv` of the crates reads from it.
fn any_cell() -> impl Strategy<Value = String> {
    prop_oneof![
        4 => (-99_999_i64..99_999, 0_u32..4).prop_map(|(m, s)| rust_decimal::Decimal::new(m, s).to_string()),
        1 => Just("---".to_owned()),
    ]
}

proptest! {
    /// Any bytes are read or refused, never more.
    #[test]
    fn any_bytes_are_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        let _ = read(&bytes, &plain());
    }

    /// The same of a good file with some bytes changed, taken out or cut off: what is read has times that go
    /// forward.
    #[test]
    fn damaged_bytes_are_read_or_refused(
        changes in prop::collection::vec((0_usize..200, any::<u8>(), 0_u8..3), 1..6),
        cut in 0_usize..400,
        which in 0_usize..3,
    ) {
        let time = [
            PLAIN,
            r#"header: Time, format: "YYYY-MM-DDThh:mm:ss+hh:mm""#,
            r#"header: Time, format: "MM/DD/YYYY hh:mm:ss AM", offset: "-05:00""#,
        ][which];
        let stamp = ["2026-11-24 09:40:", "2026-11-24T09:40:", "11/24/2026 09:40:"][which];
        let end = ["", "-05:00", " AM"][which];
        let logger = map(",", "point", time);
        let rows = [("00", "50.0,7"), ("10", "\"50.5\",---"), ("20", "51.0,7.25")];
        let rows: String = rows.iter().map(|(s, cells)| format!("{stamp}{s}{end},{cells}\n")).collect();
        let mut bytes = format!("{HEAD}{rows}").into_bytes();
        for (at, byte, how) in changes {
            let at = at % bytes.len().max(1);
            match how {
                0 if at < bytes.len() => bytes[at] = byte,
                1 if at < bytes.len() => { bytes.remove(at); }
                _ => bytes.insert(at.min(bytes.len()), b",;\"\n\r.-0T"[usize::from(byte) % 9]),
            }
        }
        bytes.truncate(cut);
        if let Ok(log) = read(&bytes, &logger) {
            prop_assert!(log.times().windows(2).all(|t| t[0] < t[1]));
        }
    }

    /// Each way to read a number, at once or cell by cell, reads and refuses the same, with the same message.
    #[test]
    fn both_ways_to_a_number_agree(cell in "[0-9]{0,11}[.]?[0-9.+ -]{0,11}", end in "(,7|, 7)(\r)?") {
        let mut numbered = plain();
        numbered.no_reading.push("123456789.987654321".to_owned());
        let text = format!("{HEAD}2026-11-24 09:40:10,{cell}{end}\n");
        prop_assert_eq!(read(text.as_bytes(), &numbered), read(text.as_bytes(), &plain()));
    }

    /// What a general reader of delimited text finds in a file is what we find, cell for cell; quoted or not.
    #[test]
    fn cells_as_the_csv_crate_reads_them(
        rows in prop::collection::vec((any_cell(), any_cell(), any::<bool>(), "[a-z,;\" ]{0,6}"), 1..20),
        crlf in any::<bool>(),
    ) {
        let mut writer = csv::WriterBuilder::new();
        writer.terminator(if crlf { csv::Terminator::CRLF } else { csv::Terminator::Any(b'\n') });
        let always = rows.iter().any(|r| r.2);
        writer.quote_style(if always { csv::QuoteStyle::Always } else { csv::QuoteStyle::Necessary });
        let mut writer = writer.from_writer(Vec::new());
        writer.write_record(["Note", "Time", "Temp (°C)", "Amps"]).unwrap();
        for (row, (a, b, _, note)) in rows.iter().enumerate() {
            writer.write_record([note.as_str(), &format!("2026-11-24 09:40:{row:02}"), a, b]).unwrap();
        }
        let bytes = writer.into_inner().unwrap();
        let log = read(&bytes, &plain()).unwrap();
        // A word that is a number takes the slow way for every cell.
        let mut numbered = plain();
        numbered.no_reading.push("123456789.987654321".to_owned());
        prop_assert_eq!(&read(&bytes, &numbered).unwrap(), &log);
        let mut reader = csv::Reader::from_reader(&bytes[..]);
        let theirs: Vec<_> = reader.records().map(Result::unwrap).collect();
        prop_assert_eq!(log.times().len(), theirs.len());
        for (position, column) in [(0, 2), (1, 3)] {
            let trace = log.trace(position).unwrap();
            let read: Vec<_> = trace.readings().map(|r| r.value).collect();
            let parsed = theirs.iter().filter_map(|r| r[column].parse::<rust_decimal::Decimal>().ok());
            let expected: Vec<_> = parsed.collect();
            prop_assert_eq!(read, expected);
        }
    }
}
