//! The calculations as they are typed: published values, exit codes, what is refused and how, the shape of the JSON,
//! the pictures. All readings here are invented unless a source stands beside them.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops at the first surprise")]

mod files;
mod refused;
mod steps;

use std::path::Path;
use std::path::PathBuf;
use std::process::Command;

use rust_decimal::Decimal;
use serde_json::Value;

/// What a command line came to.
pub struct Ran {
    pub code: i32,
    pub out: String,
    pub err: String,
}

/// A line as a shell reads it: words, and words in quotes.
fn words(line: &str) -> Vec<String> {
    let (mut all, mut word, mut quoted, mut begun) = (Vec::new(), String::new(), false, false);
    for c in line.chars() {
        match c {
            '"' => (quoted, begun) = (!quoted, true),
            ' ' if !quoted => {
                if begun {
                    all.push(std::mem::take(&mut word));
                }
                begun = false;
            }
            c => {
                word.push(c);
                begun = true;
            }
        }
    }
    if begun {
        all.push(word);
    }
    all
}

/// Runs `brightproof` in the sample shop.
pub fn run(line: &str) -> Ran {
    run_in(&sample(), line)
}

pub fn run_in(folder: &Path, line: &str) -> Ran {
    let output = Command::new(env!("CARGO_BIN_EXE_brightproof"))
        .args(words(line))
        .current_dir(folder)
        .env("COLUMNS", "100")
        .output()
        .unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    Ran { code: output.status.code().unwrap(), out: text(output.stdout), err: text(output.stderr) }
}

pub fn sample() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("samples/larkspur")
}

/// An empty folder of this test's own.
pub fn scratch(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("calculate-{name}"));
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

pub fn json_in(folder: &Path, line: &str) -> Value {
    let ran = run_in(folder, &format!("calculate {line} --format json"));
    serde_json::from_str(&ran.out).unwrap_or_else(|e| panic!("{line}: {e}\n{}{}", ran.out, ran.err))
}

pub fn figure(report: &Value, word: &str) -> String {
    let figures = report["figures"].as_array().unwrap();
    let found =
        figures.iter().find(|f| f["figure"] == word).unwrap_or_else(|| panic!("no {word} in {report:#}"));
    format!("{} {}", found["value"].as_str().unwrap(), found["unit"].as_str().unwrap()).trim().to_owned()
}

/// The figures of each line, as the sources beside them publish them.
const PUBLISHED: &[(&str, &str, &str)] = &[
    // 5 mL of bath and 18.8 mL of 1.000 N are 3.76 mol/L, 25.1 vol% of 42 °Bé acid: a worked check of the trade's factor
    // 1.33 for 5 mL.
    (
        r#"strength nitric --sample "5 mL" --titrant "1.000 N" --volume "18.8 mL" --basis "42 Be""#,
        "amount",
        "3.760 mol/L",
    ),
    (
        r#"strength nitric --sample "5 mL" --titrant "1.000 N" --volume "18.8 mL" --basis "42 °Bé""#,
        "volume_percent",
        "25.07 vol%",
    ),
    // Published factor: 6.45 for 1 mL of sample and 1 mL of 1 N.
    (
        r#"strength nitric --sample "1 mL" --titrant "1.000 N" --volume "1 mL" --basis "15.5 mol/L""#,
        "volume_percent",
        "6.45 vol%",
    ),
    // The burette less the blank is the same volume.
    (
        r#"strength nitric --sample "5 mL" --titrant "1 N" --burette-from "1.05 mL" --burette-to "20.00 mL" --blank "0.15 mL" --basis "42 Be" --density "1.134 g/mL""#,
        "mass_percent",
        "20.89 wt%",
    ),
    // Published shop formula, 10 mL of sample, sg 1.030, 8.8 mL: 5.98 % as monohydrate, 5.47 % as anhydrous.
    (
        r#"strength citric --sample "10 mL" --titrant "1 N" --volume "8.8 mL" --basis monohydrate --density "1.030 g/mL""#,
        "mass_percent",
        "5.98 wt%",
    ),
    (
        r#"strength citric --sample "10 mL" --titrant "1 N" --volume "8.8 mL" --basis anhydrous --density "1.030 g/mL""#,
        "mass_percent",
        "5.47 wt%",
    ),
    // Published factor 2.483 for 2 mL of sample as dihydrate: %w/w = V · N · 2.483 / density.
    (
        r#"strength dichromate --sample "2 mL" --titrant "0.1 N" --volume "10 mL" --basis dihydrate --density "1.000 g/mL""#,
        "mass_percent",
        "2.48 wt%",
    ),
    // 1 mL of 0.0141 N silver nitrate is 0.5 mg of chloride (recalled of water methods).
    (
        r#"strength chloride --sample "100 mL" --titrant "0.0141 N" --volume "1.00 mL""#,
        "chloride",
        "5.0 mg/L",
    ),
    // A row of the handbook's table: 10 wt% at 1.0543 g/mL, 105.4 g/L, 1.67 mol/L.
    (r#"strength by-density --density "1.05430 g/mL" --temperature "20 °C""#, "mass_percent", "10.00 wt%"),
    (
        r#"strength by-density --density "1.05430 g/mL" --temperature "68 °F""#,
        "mass_in_a_litre",
        "105.43 g/L",
    ),
    (r#"strength by-density --density "1.05430 g/mL" --temperature "20 °C""#, "amount", "1.673 mol/L"),
    // By hand: 400 · (25 − 18) / (100 − 25) = 37.33.
    (r#"make-up --bath "400 L" --strength "18 vol%" --target "25 vol%""#, "concentrate", "37.33 L"),
    // By hand: 400 − 30 · 400 / 48 = 150 drawn off, and as much water.
    (
        r#"make-up --bath "400 L" --strength "48 vol%" --target "30 vol%" --fill-to "400 L""#,
        "draw_off",
        "150.00 L",
    ),
    (
        r#"make-up --bath "400 L" --strength "48 vol%" --target "30 vol%" --fill-to "400 L""#,
        "water",
        "150.00 L",
    ),
    // Empty tank, by hand: 25 % of 100 US gal.
    (
        r#"make-up --bath "0 US gal" --strength "0 vol%" --target "25 vol%" --fill-to "100 US gal""#,
        "concentrate",
        "25.00 US gal",
    ),
    // Factor tables printed in manuals: NaCl 0.4822 at 447 µS/cm; KCl 40.38 ppm at 84 µS/cm.
    (r#"solids --conductivity "447 uS/cm" --factor NaCl"#, "solids", "215.5 ppm"),
    (r#"solids --conductivity "84 µS/cm" --factor KCl"#, "solids", "40.4 ppm"),
    // 1 µS/cm is 1 MΩ·cm.
    (r#"solids --conductivity "1 µS/cm" --factor 0.64"#, "resistivity", "1.000 MΩ·cm"),
    // Equivalent weights of types 304 and 316 with the lowest valences (ASTM G102, recalled): 25.12 and 25.50.
    (
        r#"removal --composition "Cr 19, Ni 9.25" --density "7.94 g/cm³" --valences lowest --charge "90 A min" --area "1 dm2""#,
        "equivalent_weight",
        "25.12 g/mol",
    ),
    (
        r#"removal --grade 316 --valences lowest --charge "90 A min" --area "1 dm2""#,
        "equivalent_weight",
        "25.50 g/mol",
    ),
    // Faraday by hand: 0.0621856 · 25.50 / 7.98 µm an A·min/dm² (SciPy constants), 10 of them.
    (
        r#"removal --grade 316 --valences lowest --current "10 A" --time "60 s" --area "100 cm2""#,
        "removal",
        "1.99 µm",
    ),
    // By hand: 10⁴ · 0.7980 g / (7.98 g/cm³ · 100 cm²) = 10 µm.
    (
        r#"removal --density "7.98 g/cm³" --mass-before "100.7980 g" --mass-after "100.0000 g" --area "100 cm²""#,
        "removal",
        "10.00 µm",
    ),
    // By hand: a bore gets larger, 0.0008 in over two surfaces are 10.16 µm.
    (r#"removal --size-before "0.5000 in" --size-after "0.5008 in" --across bore"#, "removal", "10.16 µm"),
    // By hand: 11.980 mm + 2 · 15 µm to 12.020 mm + 2 · 8 µm.
    (
        r#"allowance --across outside --size "12.000 mm" --tolerance "0.020 mm" --removal-from "8 um" --removal-to "15 um""#,
        "machine_from",
        "12.010 mm",
    ),
    (
        r#"allowance --across bore --min "11.980 mm" --max "12.020 mm" --removal-from "8 um" --removal-to "15 um""#,
        "machine_to",
        "11.990 mm",
    ),
    // Common practice: four times the removal on the pitch diameter of a 60° thread.
    (r#"allowance --across thread --removal-from "0.0002 in" --removal-to "0.0004 in""#, "most", "0.0016 in"),
    // MIL-STD-105E tables I and II-A (recalled): a lot of 120 at level II is F, AQL 0.65: 20, 0, 1.
    (r#"sampling MIL-STD-105E level II AQL 0.65 --lot 120"#, "sample", "20 pieces"),
    // ASTM B602 level II is AQL 1.5 (read): a lot of 500 has the sample of H, 50, accept 2.
    (r#"sampling B602 level II --lot 500"#, "accept", "2"),
    // Exact rationals: N 200, D 10, n 41: 0.094959; N 1000, D 10, n 205: 0.099677.
    (r#"sampling "c=0 LTPD 5 % risk 10 %" --lot 200"#, "sample", "41 pieces"),
    (r#"sampling "c=0 LTPD 5 % risk 10 %" --lot 200"#, "consumers_risk", "9.50 %"),
    (r#"sampling "c=0 LTPD 1 % risk 10 %" --lot 1000"#, "sample", "205 pieces"),
    (r#"sampling "c=0 LTPD 1 % risk 10 %" --lot 1000"#, "consumers_risk", "9.97 %"),
    // JCGM 106:2012, 7.4: 13.6 with u = 1.8, limits 12.5 and 16.3; figures computed from its inputs.
    (
        r#"chance --reading "13.6 mm" --at-least "12.5 mm" --at-most "16.3 mm" --uncertainty "3.6 mm""#,
        "inside",
        "66.2630 %",
    ),
    (
        r#"chance --reading "13.6 mm" --at-least "12.5 mm" --at-most "16.3 mm" --uncertainty "3.6 mm""#,
        "below",
        "27.0563 %",
    ),
    // ILAC-G8:09/2019: a reading on the limit is wrong in half of all cases; U inside it in 2.275 %; 0.83 U in 4.846 %.
    (r#"chance --reading "3.00 mm" --at-most "3.00 mm" --uncertainty "1.0 mm""#, "outside", "50.0000 %"),
    (r#"chance --reading "2.00 mm" --at-most "3.00 mm" --uncertainty "1.0 mm""#, "outside", "2.2750 %"),
    (r#"chance --reading "2.17 mm" --at-most "3.00 mm" --uncertainty "1.0 mm""#, "outside", "4.8457 %"),
    // The same with U stated at k = 3: u is a third of it.
    (r#"chance --reading "2.00 mm" --at-most "3.00 mm" --uncertainty "1.5 mm" --k 3"#, "outside", "2.2750 %"),
    // By hand: (16.3 − 12.5) / (2 · 0.475) = 4 to one; |3 − 1| / 0.6 to a target.
    (
        r#"chance --reading "13.6 mm" --at-least "12.5 mm" --at-most "16.3 mm" --uncertainty "0.475 mm""#,
        "tur",
        "4.0000",
    ),
    (r#"chance --reading "2 mm" --at-most "3 mm" --uncertainty "0.6 mm" --target "1 mm""#, "tur", "3.3333"),
    // Arithmetic of the three formulas.
    (r#"pren --composition "Cr 22.5, Mo 3.2, N 0.17""#, "pren", "35.78"),
    (r#"pren --composition "Cr 22.5, Mo 3.2, N 0.17" --formula nitrogen"#, "pren", "38.16"),
    (r#"pren --composition "Cr 25, Mo 3.3, N 0.25, W 0.6" --formula tungsten"#, "pren", "40.88"),
    (r#"pren --grade 2205"#, "pren_least", "34.14"),
    // By hand.
    (
        r#"ratio --method XPS --elements "C 22, O 51, Cr 14.4, Fe 9.6, Ni 3" --oxide "Cr 12.4, Fe 6.2" --metal "Cr 2.0, Fe 3.4""#,
        "crox_feox",
        "2.00",
    ),
    (r#"ratio --method GD-OES --elements "C 22, O 51, Cr 14.4, Fe 9.6, Ni 3""#, "cr_fe", "1.50"),
];

#[test]
fn published_values() {
    let mut wrong = Vec::new();
    for (line, word, expected) in PUBLISHED {
        let found = figure(&json_in(&sample(), line), word);
        if found != *expected {
            wrong.push(format!("{line}\n  {word}: {found}, published {expected}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// MIL-STD-105E table X-F (recalled): qualities at which n = 20, c = 0 accepts with 99 to 1 %; three digits are
/// published.
#[test]
fn the_operating_characteristic_is_the_published_one() {
    let report = json_in(&sample(), "sampling MIL-STD-105E level II AQL 0.65 --lot 120");
    let rows = report["tables"][0]["rows"].as_array().unwrap();
    let published = ["0.0502", "0.256", "0.525", "1.43", "3.41", "6.70", "10.9", "13.9", "20.6"];
    assert_eq!(rows.len(), published.len());
    for (row, published) in rows.iter().zip(published) {
        let [found, published] = [row[0].as_str().unwrap(), published].map(|t| t.parse::<Decimal>().unwrap());
        // Both are rounded: the tool to 0.001 %.
        let half = Decimal::new(5, published.scale() + 1) + Decimal::new(5, 4);
        assert!((found - published).abs() <= half, "{found}, published {published}");
    }
}

/// Above AQL 10 nonconformities per hundred units are counted: by Poisson, and where every unit is looked at there is no
/// chance left.
#[test]
fn counts_per_hundred_units_are_no_shares() {
    let series = json_in(&sample(), "sampling MIL-STD-105E level S-4 AQL 15 --lot 3000");
    assert!(series["rests_on"].to_string().contains("(Poisson)"), "{series}");
    // Python's math module: 1 − Σ e^−4.8 · 4.8^k / k! for k = 0 to 10 is 0.0104168.
    assert_eq!(figure(&series, "producers_risk"), "1.04 %");
    let whole = json_in(&sample(), "sampling MIL-STD-105E level I AQL 1000 --lot 1");
    assert_eq!((figure(&whole, "sample").as_str(), &whole["tables"]), ("1 pieces", &serde_json::json!([])));
}

/// Exit codes: 0 met or nothing asked, 1 not met, 2 it cannot be told.
#[test]
fn exit_codes_say_how_it_stands() {
    let nitric = r#"strength nitric --sample "5 mL" --titrant "1 N" --volume "18.8 mL" --basis "42 Be""#;
    let weighed = r#"removal --density "7.98 g/cm³" --mass-before "100.7980 g" --mass-after "100 g" --weighed-area "100 cm²" --weighing-uncertainty "0.001 g""#;
    let charge = r#"removal --grade 316L --current-density "20 A/dm2" --time "10 min""#;
    let mean = r#"log logs/N-2-2026-11-25.csv --logger DL-1"#;
    for (line, code) in [
        (nitric.to_owned(), 0),
        (format!(r#"{nitric} --at-least "20 vol%" --at-most "45 vol%""#), 0),
        // A figure on its limit is met; g/L is given as well.
        (format!(r#"{nitric} --at-most "25.07 vol%""#), 0),
        (format!(r#"{nitric} --at-most "25.06 vol%""#), 1),
        (format!(r#"{nitric} --at-least "237 g/L""#), 1),
        (r#"solids --conductivity "120 uS/cm" --factor NaCl --at-most "54.7 ppm""#.to_owned(), 0),
        (r#"solids --conductivity "120 uS/cm" --factor NaCl --at-most "54.6 ppm""#.to_owned(), 1),
        // In µS/cm the conductivity itself is held.
        (r#"solids --conductivity "120 uS/cm" --factor NaCl --at-most "100 uS/cm""#.to_owned(), 1),
        (format!(r#"{weighed} --at-least "10 µm" --at-most "25 µm""#), 0),
        (format!(r#"{weighed} --at-most "0.0003 in""#), 1),
        // Another way that differs by more than the uncertainties allow.
        (
            format!(
                r#"{weighed} --size-before "12 mm" --size-after "11.960 mm" --across outside --size-uncertainty "2 um""#
            ),
            1,
        ),
        (
            format!(
                r#"{weighed} --size-before "12 mm" --size-after "11.980 mm" --across outside --size-uncertainty "2 um""#
            ),
            0,
        ),
        // Without an efficiency a charge is an upper bound: it meets a most, and tells nothing of a least.
        (format!(r#"{charge} --at-most "40 µm""#), 0),
        (format!(r#"{charge} --at-most "20 µm""#), 2),
        (format!(r#"{charge} --at-least "10 µm""#), 2),
        (format!(r#"{charge} --at-least "50 µm""#), 1),
        (r#"sampling MIL-STD-105E level II AQL 1.5 --lot 500 --failed 2"#.to_owned(), 0),
        (r#"sampling MIL-STD-105E level II AQL 1.5 --lot 500 --failed 3"#.to_owned(), 1),
        // Reduced, between Ac 1 and Re 3: accepted.
        (r#"sampling MIL-STD-105E level II AQL 1.5 --lot 500 --severity reduced --failed 2"#.to_owned(), 0),
        // A metrology page's example: limit 3, U 1: 1.7 passes, 2.5 lies in the guard band.
        (
            r#"chance --reading "1.7 mm" --at-most "3.0 mm" --uncertainty "1.0 mm" --guard-band 1"#
                .to_owned(),
            0,
        ),
        (
            r#"chance --reading "2.5 mm" --at-most "3.0 mm" --uncertainty "1.0 mm" --guard-band 1"#
                .to_owned(),
            1,
        ),
        (r#"chance --reading "2.5 mm" --at-most "3.0 mm" --uncertainty "1.0 mm""#.to_owned(), 0),
        (r#"chance --reading "-5.5 °C" --at-least "-5 °C" --uncertainty "0.1 °C""#.to_owned(), 1),
        (r#"pren --composition "Cr 16.8, Mo 2.07, N 0.05" --at-least 24.43"#.to_owned(), 0),
        (r#"pren --composition "Cr 16.8, Mo 2.07, N 0.05" --at-least 25"#.to_owned(), 1),
        (format!(r#"{mean} --at-least "70 °F" --at-most "90 °F""#), 1),
        // The same limits in the other scale, exactly; before the excursion nothing is out.
        (format!(r#"{mean} --to 2026-11-25T09:00:00-05:00 --at-least "21 °C" --at-most "33 °C""#), 0),
        (r#"log logs/N-2-2026-11-27.csv --logger DL-1 --at-least "70 °F" --at-most "90 °F""#.to_owned(), 2),
        (r#"roughness traces/L-26-0553-1.x3p --ra-at-most "0.38 um""#.to_owned(), 0),
        (r#"roughness traces/L-26-0553-1.x3p --ra-at-most "8 uin""#.to_owned(), 1),
    ] {
        let ran = run(&format!("calculate {line}"));
        assert_eq!(ran.code, code, "{line}\n{}{}", ran.out, ran.err);
    }
}

/// What a reader is warned of.
#[test]
fn warnings_are_given() {
    for (line, warned, not_warned) in [
        (
            r#"chance --reading "14 mm" --at-least "12.5 mm" --at-most "16.3 mm" --uncertainty "0.476 mm""#,
            "under the 4 to 1",
            r#"chance --reading "14 mm" --at-least "12.5 mm" --at-most "16.3 mm" --uncertainty "0.475 mm""#,
        ),
        (
            r#"strength nitric --sample "5 mL" --titrant "1 N" --volume "18.8 mL" --basis "42 Be" --indicator phenolphthalein"#,
            "phenolphthalein reads high",
            r#"strength nitric --sample "5 mL" --titrant "1 N" --volume "18.8 mL" --basis "42 Be" --indicator phenolphthalein --no-metals"#,
        ),
        (
            r#"make-up --bath "400 L" --strength "18 vol%" --target "25 vol%""#,
            "Add acid to water, slowly and stirred, never water to acid",
            r#"make-up --bath "400 L" --strength "25 vol%" --at-least "20 vol%" --at-most "45 vol%""#,
        ),
        (
            r#"make-up --bath "400 L" --strength "48 vol%" --target "30 vol%""#,
            "Here water goes into a bath that is acid",
            r#"make-up --bath "400 L" --strength "18 vol%" --target "25 vol%""#,
        ),
    ] {
        let mind = |line: &str| json_in(&sample(), line)["mind"].to_string();
        assert!(mind(line).contains(warned), "{line}");
        assert!(!mind(not_warned).contains(warned), "{not_warned}");
    }
}

/// One form for all calculations: the same keys, figures as texts.
#[test]
fn the_json_has_one_shape() {
    for line in [
        r#"strength nitric --sample "5 mL" --titrant "1 N" --volume "18.8 mL" --basis "42 Be" --sample-uncertainty "0.01 mL" --volume-uncertainty "0.03 mL" --titrant-uncertainty "0.001 N""#,
        r#"make-up --bath "400 L" --strength "18 vol%" --target "25 vol%""#,
        r#"solids --conductivity "120 uS/cm" --factor NaCl"#,
        r#"removal --grade 316L --charge "90 A min" --area "1 dm2" --efficiency "82 %""#,
        r#"allowance --across thread --removal-from "2 um" --removal-to "4 um""#,
        r#"sampling B602 level III --lot 90"#,
        r#"sampling 100 % --lot 90"#,
        r#"chance --reading "2 mm" --at-most "3 mm" --uncertainty "1 mm""#,
        r#"roughness traces/L-26-0553-1.x3p --before traces/L-26-0553-before.csv --form PR-1-text"#,
        r#"log logs/EP-1-2026-11-24.csv --logger DL-2 --measures current"#,
        r#"pren --grade 316L"#,
        r#"ratio --method AES --elements "C 22, O 51, Cr 14.4, Fe 9.6, Ni 3""#,
    ] {
        let report = json_in(&sample(), line);
        let object = report.as_object().unwrap();
        let optional = ["standing", "standing_words", "picture"];
        let keys: Vec<&str> =
            object.keys().map(String::as_str).filter(|key| !optional.contains(key)).collect();
        let mut expected =
            vec!["version", "calculation", "of", "figures", "tables", "to_do", "how", "rests_on", "mind"];
        let mut sorted = keys.clone();
        sorted.sort_unstable();
        expected.sort_unstable();
        assert_eq!(sorted, expected, "{line}");
        assert_eq!(report["version"], brightproof::report::json::VERSION);
        assert_eq!(report["calculation"], line.split(' ').next().unwrap());
        assert!(!report["how"].as_array().unwrap().is_empty() || line.starts_with("sampling 100"), "{line}");
        assert!(!report["rests_on"].as_array().unwrap().is_empty(), "{line}");
        let figures = report["figures"].as_array().unwrap();
        assert!(!figures.is_empty());
        for figure in figures {
            for key in ["figure", "name", "value", "unit"] {
                assert!(figure[key].is_string(), "{line}: {figure}");
            }
        }
        for table in report["tables"].as_array().unwrap() {
            let columns = table["columns"].as_array().unwrap().len();
            for row in table["rows"].as_array().unwrap() {
                assert_eq!(row.as_array().unwrap().len(), columns, "{line}");
            }
        }
    }
    let stated = json_in(
        &sample(),
        r#"strength nitric --sample "5 mL" --titrant "1 N" --volume "18.8 mL" --basis "42 Be" --sample-uncertainty "0.01 mL" --volume-uncertainty "0.03 mL" --titrant-uncertainty "0.001 N" --at-least "30 vol%""#,
    );
    assert_eq!(stated["standing"], "not met");
    assert_eq!(stated["figures"][0]["figure"], "volume_percent");
    // By hand: 25.0667 · 2 · √((0.03/18.8)² + (0.01/5)² + 0.001²) = 0.1377.
    assert_eq!(stated["figures"][0]["uncertainty"], "0.1377");
}
