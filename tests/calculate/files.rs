//! Traces, logs and profiles whose figures are known beforehand; pictures written whole or not at all.

use std::fmt::Write as _;
use std::fs;
use std::path::Path;

use super::figure;
use super::json_in;
use super::run_in;
use super::sample;
use super::scratch;

/// A sine of so many µm, wavelength 0.1 mm, 8 mm long in steps of 0.5 µm, a height a line.
fn sine(folder: &Path, name: &str, amplitude: f64) {
    let mut text = String::new();
    for i in 0..16_000_u32 {
        let z = amplitude * (std::f64::consts::TAU * f64::from(i) * 0.5 / 100.0).sin();
        writeln!(text, "{z:.6}").unwrap();
    }
    fs::write(folder.join(name), text).unwrap();
}

const LAYOUT: &str = r#"--z 1 --unit-z um --spacing "0.5 um""#;

/// Of a sine of amplitude A far shorter than the cut-off: Ra = 2 A / π, Rq = A / √2, Rz = Rt = 2 A, Rsk 0, Rku 1.5
/// (calculus).
#[test]
fn a_sine_has_the_roughness_of_a_sine() {
    let folder = scratch("sine");
    sine(&folder, "after.txt", 1.0);
    sine(&folder, "before.txt", 2.0);
    sine(&folder, "rough.txt", 4.1);
    let report = json_in(&folder, &format!("roughness after.txt --before before.txt {LAYOUT}"));
    let number = |word: &str| figure(&report, word).split(' ').next().unwrap().parse::<f64>().unwrap();
    for (word, expected, within) in [
        ("ra", 2.0 / std::f64::consts::PI, 0.001),
        ("ra_uin", 2.0 / std::f64::consts::PI / 0.0254, 0.05),
        ("rq", 0.5_f64.sqrt(), 0.001),
        ("rz", 2.0, 0.003),
        ("rt", 2.0, 0.003),
        ("rsk", 0.0, 0.001),
        ("rku", 1.5, 0.001),
        ("improvement", 50.0, 0.1),
    ] {
        assert!((number(word) - expected).abs() <= within, "{word}: {}, expected {expected}", number(word));
    }
    assert_eq!(figure(&report, "grade"), "N6");
    // ISO 4288 has 0.8 mm for Ra above 0.1 to 2 µm.
    assert_eq!(figure(&report, "cutoff"), "0.8 mm");
    assert!(!report["mind"].to_string().contains("75 %"), "{report}");
    // From 4.1 to 1: 75.6 % are gone, which is asked about and held by nothing.
    let line = format!("roughness after.txt --before rough.txt {LAYOUT}");
    assert!(json_in(&folder, &line)["mind"].to_string().contains("more than 75 %"));
    assert_eq!(run_in(&folder, &format!("calculate {line}")).code, 0);
    let worse = json_in(&folder, &format!("roughness before.txt --before after.txt {LAYOUT}"));
    assert_eq!(figure(&worse, "improvement"), "-100.0 %");
    assert!(worse["mind"].to_string().contains("rougher after than before"));
}

/// A rougher trace chooses its own, longer cut-off (ISO 4288, Ra above 2 µm: 2.5 mm), and a finer one a shorter.
#[test]
fn the_cutoff_follows_the_roughness_found() {
    let folder = scratch("cutoff");
    let long = |amplitude: f64| {
        let heights = (0..40_000_u32)
            .map(|i| format!("{:.6}\n", amplitude * (std::f64::consts::TAU * f64::from(i) / 100.0).sin()));
        heights.collect::<String>()
    };
    for (amplitude, cutoff) in [(4.0, "2.5 mm"), (1.0, "0.8 mm"), (0.1, "0.25 mm")] {
        fs::write(folder.join("t.txt"), long(amplitude)).unwrap();
        let line = r#"roughness t.txt --z 1 --unit-z um --spacing "1 um""#;
        let report = json_in(&folder, line);
        assert_eq!(figure(&report, "cutoff"), cutoff, "{amplitude}");
        assert!(
            report["how"].to_string().contains(&format!("taken off by a Gaussian of {cutoff};")),
            "{report}"
        );
        let given = json_in(&folder, &format!(r#"{line} --cutoff "0.8 mm""#));
        assert_eq!(figure(&given, "cutoff"), "0.8 mm");
        // A limit chooses by ISO 21920-3, whatever is found.
        let limit = json_in(&folder, &format!(r#"{line} --ra-at-most "0.38 um""#));
        assert_eq!(figure(&limit, "cutoff"), "0.8 mm");
    }
}

const LOGGER: &str = r#"loggers:
  - logger: T
    what: a recorder
    delimiter: ","
    decimal: point
    time: { header: time, format: "YYYY-MM-DD hh:mm:ss", offset: "+00:00" }
    columns:
      - { header: "bath (°F)", measures: temperature, unit: °F }
    interval: 1 min
"#;

/// By hand: 60, 70, 80 °F a minute apart, then nothing for ten minutes, then 70 and 70. Up to 80 it is above 75 °F for
/// half a minute; the mean over the three minutes covered is (65 + 75 + 70) / 3.
#[test]
fn a_log_by_hand() {
    let folder = scratch("log");
    fs::write(folder.join("loggers.yaml"), LOGGER).unwrap();
    let rows = [("00", "60"), ("01", "70"), ("02", "80"), ("12", "70"), ("13", "70")];
    let rows: String = rows.iter().map(|(m, v)| format!("2026-11-24 08:{m}:00,{v}\n")).collect();
    fs::write(folder.join("log.csv"), format!("time,bath (°F)\n{rows}")).unwrap();
    let report = json_in(&folder, r#"log log.csv --logger T --at-most "75 °F""#);
    for (word, expected) in [
        ("least", "60 °F"),
        ("most", "80 °F"),
        ("mean", "70.0 °F"),
        ("length", "780 s"),
        ("covered", "180 s"),
        ("inside", "150 s"),
        ("above", "30 s"),
        ("below", "0 s"),
        ("unknown", "600 s"),
        ("longest_gap", "600 s"),
    ] {
        assert_eq!(figure(&report, word), expected, "{word}");
    }
    let table = |word: &str| {
        let tables = report["tables"].as_array().unwrap();
        tables.iter().find(|t| t["table"] == word).unwrap()["rows"].clone()
    };
    assert_eq!(table("gaps"), serde_json::json!([["2026-11-24T08:02:00+00:00", "10 min"]]));
    assert_eq!(
        table("excursions"),
        serde_json::json!([["above 75 °F", "2026-11-24T08:01:30+00:00", "30 s", "80 °F", "5 °F"]])
    );
    assert_eq!(report["standing"], "not met");
    // With the gap allowed the line runs across it.
    let bridged = json_in(&folder, r#"log log.csv --logger T --at-most "85 °F" --allowed-gap "10 min""#);
    assert_eq!(
        (figure(&bridged, "unknown").as_str(), &bridged["standing"]),
        ("0 s", &serde_json::json!("met"))
    );
}

/// By hand: oxygen of 50 at% falls past 26.5, half way to a bulk of 3, between 1.0 min (40) and 1.5 min (20): at
/// 1.3375 min, at 20 Å/min 26.75 Å.
#[test]
fn an_oxide_depth_by_hand() {
    let folder = scratch("oxide");
    let rows = [(0.0, 48), (0.5, 50), (1.0, 40), (1.5, 20), (2.0, 8), (2.5, 4), (3.0, 3), (3.5, 3)];
    let point: String = rows.iter().map(|(t, o)| format!("{t:.1},{o},1\n")).collect();
    fs::write(folder.join("p.csv"), format!("min,O 1s (at%),Cr\n{point}")).unwrap();
    let comma: String =
        rows.iter().map(|(t, o)| format!("{};{o}\n", format!("{t:.1}").replace('.', ","))).collect();
    fs::write(folder.join("c.csv"), format!("min;O 1s (at%)\n{comma}")).unwrap();
    let rest = r#"--time min --oxygen "O 1s (at%)" --method AES --rate 20 --reference SiO2 --bulk-rows 2"#;
    for line in [format!("p.csv {rest}"), format!("c.csv {rest} --delimiter semicolon --decimal comma")] {
        let report = json_in(&folder, &format!("oxide-depth {line}"));
        assert_eq!(figure(&report, "depth"), "26.8 Å", "{line}");
        assert_eq!(figure(&report, "bulk"), "3.00 at%");
    }
    for (line, code, words) in [
        (format!(r#"p.csv {rest} --at-least "15 Å""#), 0, ""),
        (format!(r#"p.csv {rest} --at-least "27 Å""#), 1, ""),
        (format!("c.csv {rest} --delimiter semicolon"), 2, "line 2, `min` holds `0,0`"),
        (rest.replace("--time min", "p.csv --time seconds"), 2, "no column is headed `seconds`"),
        (format!("p.txt {rest}"), 2, "p.txt"),
    ] {
        let ran = run_in(&folder, &format!("calculate oxide-depth {line}"));
        assert_eq!(ran.code, code, "{line}\n{}", ran.err);
        assert!(ran.err.contains(words), "{line}\n{}", ran.err);
    }
}

/// Each picture is a whole SVG file; one that cannot be written leaves nothing behind, and no answer.
#[test]
fn pictures_are_whole_or_not_there() {
    let folder = scratch("pictures");
    let at = |name: &str| folder.join(name).display().to_string();
    for (name, line) in [
        ("oc.svg", "sampling B602 level II --lot 500"),
        ("zero.SVG", r#"sampling "c=0 LTPD 5 % risk 10 %" --lot 50"#),
        ("whole.svg", "sampling 100 % --lot 5"),
        ("log.svg", r#"log logs/N-2-2026-11-25.csv --logger DL-1 --at-most "100 °F""#),
        (
            "rough.svg",
            "roughness traces/L-26-0553-1.x3p --before traces/L-26-0553-before.csv --form PR-1-text",
        ),
        ("removal.svg", r#"removal --size-before "12 mm" --size-after "11.98 mm" --across outside"#),
    ] {
        let ran = run_in(&sample(), &format!("calculate {line} --picture \"{}\"", at(name)));
        assert_eq!(ran.code, 0, "{line}\n{}", ran.err);
        let text = fs::read_to_string(folder.join(name)).unwrap();
        assert!(text.starts_with("<?xml") && text.ends_with("</svg>\n"), "{name}");
        assert!(text.matches("<polyline").count() + text.matches("<polygon").count() > 0, "{name}");
        assert!(ran.err.contains("written to"), "{}", ran.err);
    }
    let before = fs::read_dir(&folder).unwrap().count();
    fs::create_dir(folder.join("taken.svg")).unwrap();
    for (name, words) in [("oc.png", "ends in .svg"), ("taken.svg", "taken.svg"), ("oc.svg/in.svg", "oc.svg")]
    {
        let line = format!("calculate sampling B602 level II --lot 500 --picture \"{}\"", at(name));
        let ran = run_in(&sample(), &line);
        assert_eq!((ran.code, ran.out.as_str()), (2, ""), "{name}");
        assert!(ran.err.contains(words), "{}", ran.err);
    }
    assert_eq!(fs::read_dir(&folder).unwrap().count(), before + 1);
}

/// A lot's pictures are drawn from its record, asked for by the order or not; what has none says so.
#[test]
fn pictures_of_a_lot() {
    let out = scratch("lot");
    let line = format!("pictures L-26-0553 --out \"{}\" --format json", out.display());
    let ran = run_in(&sample(), &line);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let report: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    let files: Vec<String> = report["pictures"]
        .as_array()
        .unwrap()
        .iter()
        .map(|p| Path::new(p["file"].as_str().unwrap()).file_name().unwrap().to_string_lossy().into_owned())
        .collect();
    let kinds = ["1-bath-log", "2-roughness", "3-removal", "4-oc-curve"];
    assert_eq!(files, kinds.map(|kind| format!("L-26-0553-{kind}.svg")));
    for file in files {
        assert!(fs::read_to_string(out.join(file)).unwrap().ends_with("</svg>\n"));
    }
    let empty = scratch("no-lot");
    for (name, words) in [
        ("L-26-0401", "has nothing to draw"),
        ("L-99", "neither a certificate of the register nor a lot"),
        ("../L-26-0553", "neither a certificate of the register nor a lot"),
    ] {
        let ran = run_in(&sample(), &format!("pictures {name} --out \"{}\"", empty.display()));
        assert_eq!(ran.code, 2, "{name}");
        assert!(ran.err.contains(words), "{}", ran.err);
    }
    assert_eq!(fs::read_dir(&empty).unwrap().count(), 0);
}
