//! What is typed wrongly is refused with what was found, what was expected and how to mend it; nothing is written.

use super::run;

/// A line, and words that its error must have.
const REFUSED: &[(&str, &[&str])] = &[
    (
        r#"strength nitric --sample 5 --titrant "1 N" --volume "18.8 mL" --basis "42 Be""#,
        &["`5` has no unit", "a number and a unit"],
    ),
    (
        r#"strength nitric --sample "5 g" --titrant "1 N" --volume "18.8 mL" --basis "42 Be""#,
        &["sample is 5 g", "expected a value in mL"],
    ),
    (r#"strength nitric --sample "5 mL" --titrant "1 N" --volume "18.8 mL""#, &["has no basis", "`42 °Bé`"]),
    (
        r#"strength nitric --sample "5 mL" --titrant "1 N" --volume "18.8 mL" --basis monohydrate"#,
        &["does not belong to a nitric acid titration", "`70 %`"],
    ),
    (
        r#"strength nitric --sample "5 mL" --titrant "1 N" --volume "18.8 mL" --basis "43 Be""#,
        &["one of: 42 °Bé", "`42 Be` will do"],
    ),
    (r#"strength nitric --sample "5 mL" --titrant "1 N" --basis "42 Be""#, &["no titrant volume"]),
    (
        r#"strength nitric --sample "5 mL" --titrant "1 N" --burette-from "20 mL" --burette-to "1 mL" --basis "42 Be""#,
        &["the burette reads 1 mL after 20 mL", "swapped"],
    ),
    (
        r#"strength citric --sample "5 mL" --titrant "1 N" --volume "8 mL" --basis anhydrous --indicator "methyl orange""#,
        &["does not show the end of a citric acid titration", "phenolphthalein"],
    ),
    (
        r#"strength nitric --sample "5 mL" --titrant "1 N" --volume "18.8 mL" --basis "42 Be" --at-least "20 wt%""#,
        &["cannot be held against the limit 20 wt%", "give --density"],
    ),
    (
        r#"strength nitric --sample "5 mL" --titrant "1 N" --volume "18.8 mL" --basis "42 Be" --at-least "45 vol%" --at-most "20 vol%""#,
        &["expected the smaller as --at-least", "exchange"],
    ),
    (
        r#"strength nitric --sample "5 mL" --titrant "1 N" --volume "18.8 mL" --basis "42 Be" --sample-uncertainty "0.01 mL""#,
        &["--volume-uncertainty"],
    ),
    (
        r#"strength by-density --density "1.0543 g/mL" --temperature "25 °C""#,
        &["was read at 25 °C", "bring the sample to 20 °C"],
    ),
    (
        r#"strength by-density --density "1.5 g/mL" --temperature "20 °C""#,
        &["lies outside the table", "nothing is read beyond its ends"],
    ),
    (
        r#"make-up --bath "400 gal" --strength "18 vol%" --target "25 vol%""#,
        &["is no volume of a tank", "`US gal`"],
    ),
    (r#"make-up --bath "400 L" --strength "18 vol%""#, &["no strength to bring the bath to", "--target"]),
    (
        r#"make-up --bath "400 L" --strength "18 vol%" --target "50 vol%" --at-least "20 vol%" --at-most "45 vol%""#,
        &["the target 50 vol% is above the limit", "inside the window"],
    ),
    (
        r#"make-up --bath "400 L" --strength "180 g/L" --target "250 g/L""#,
        &["no strength of the concentrate", "--concentrate in g/L"],
    ),
    (
        r#"make-up --bath "400 L" --strength "18 vol%" --target "25 vol%" --concentrate "24 vol%""#,
        &["cannot bring a bath to 25 vol%", "stronger than the target"],
    ),
    (
        r#"make-up --bath "400 L" --strength "18 vol%" --target "25 vol%" --tank "300 L""#,
        &["volume of the bath is 400 L", "at most the tank's 300 L"],
    ),
    (
        r#"solids --conductivity "50 uS/cm" --factor NaCl"#,
        &["lies outside the table, 84 µS/cm", "--factor 0.64"],
    ),
    (r#"solids --conductivity "50 uS/cm" --factor salt"#, &["`salt` is no factor", "`NaCl`"]),
    (r#"solids --conductivity "50 ppm" --factor 0.64"#, &["conductivity is 50 ppm", "µS/cm"]),
    (r#"removal"#, &["nothing to tell a removal by", "--mass-before", "--size-before"]),
    (r#"removal --time "10 min""#, &["10 min alone tells no removal", "--current"]),
    (
        r#"removal --grade 316L --current "10 A" --time "10 min""#,
        &["the charge is told by current, time", "expected one of"],
    ),
    (
        r#"removal --current-density "20 A/dm2" --time "10 min""#,
        &["no density to reckon a depth with", "--grade"],
    ),
    (r#"removal --grade 999L --current-density "20 A/dm2" --time "10 min""#, &["`999L`", "composition"]),
    (
        r#"removal --density "7.98 g/cm3" --current-density "20 A/dm2" --time "10 min""#,
        &["only for a known alloy", "--composition"],
    ),
    (
        r#"removal --density "7980 g/cm3" --composition "Cr 18" --current-density "20 A/dm2" --time "10 min""#,
        &["the density is 7980", "expected 6 to 10"],
    ),
    (
        r#"removal --composition "Cr 18, Xx 4" --density "8 g/cm3" --current-density "20 A/dm2" --time "10 min""#,
        &["unknown element `Xx`"],
    ),
    (
        r#"removal --composition "Cr; 18" --density "8 g/cm3" --current-density "20 A/dm2" --time "10 min""#,
        &["is no element and figure", "Cr 16.8"],
    ),
    (
        r#"removal --composition "Cr 18, Cr 19" --density "8 g/cm3" --current-density "20 A/dm2" --time "10 min""#,
        &["`Cr` is given twice"],
    ),
    (
        r#"removal --grade 316L --mass-before "10 g" --mass-after "11 g" --weighed-area "10 cm2""#,
        &["expected less after", "swapped"],
    ),
    (
        r#"removal --grade 316L --mass-before "11 g" --mass-after "10 g""#,
        &["surface of the piece weighed is not known", "--weighed-area"],
    ),
    (
        r#"removal --size-before "12.0 mm" --size-after "12.1 mm" --across outside"#,
        &["expected it smaller after"],
    ),
    (
        r#"removal --size-before "12.1 mm" --size-after "12.0 mm" --across thread"#,
        &["invalid value 'thread'", "one-side"],
    ),
    (
        r#"allowance --across outside --removal-from "8 um" --removal-to "15 um""#,
        &["the finished size is not known", "--min with --max"],
    ),
    (
        r#"allowance --across outside --size "12 mm" --tolerance "0.002 mm" --removal-from "8 um" --removal-to "15 um""#,
        &["may vary by 14 µm", "the tolerance is 4 µm"],
    ),
    (
        r#"allowance --across outside --size "12 mm" --tolerance "0.02 mm" --removal-from "15 um" --removal-to "8 um""#,
        &["runs from `15 µm` to `8 µm`", "swap"],
    ),
    (
        r#"allowance --across thread --min "1 in" --max "2 in" --removal-from "8 um" --removal-to "15 um""#,
        &["only the change of its pitch diameter", "leave the size out"],
    ),
    (r#"sampling MIL-STD-105E level II AQL 1.6 --lot 500"#, &["AQL `1.6`", "expected one of"]),
    (r#"sampling Z1.4 level II AQL 1.5 --lot 500"#, &["names no sampling plan", "`ANSI/ASQ Z1.4"]),
    (r#"sampling B602 level II --lot 0"#, &["a lot of 0 pieces"]),
    (r#"sampling B602 level II --lot 500 --severity reduced"#, &["has no reduced inspection"]),
    (
        r#"sampling ISO 2859-1 level II AQL 1.0 --lot 500 --severity reduced"#,
        &["is not known here", "controlled copy"],
    ),
    (r#"sampling B602 level II --lot 500 --failed 51"#, &["51 failed of a sample of 50"]),
    (r#"sampling B602 level II --lot 500 --bad 101"#, &["quality 101", "0 to 100 per cent"]),
    (r#"sampling B602 level II --lot 500 --good x"#, &["a number in per cent"]),
    (
        r#"chance --reading "70 °F" --at-least "20 °C" --uncertainty "1 °F""#,
        &["20 °C is in another unit", "all in °F"],
    ),
    (
        r#"sampling MIL-STD-105E level II AQL 15 --lot 3000 --this-lot"#,
        &["counts nonconformities per hundred units", "leave --this-lot out"],
    ),
    (r#"chance --reading "70 °F" --uncertainty "1 °F""#, &["expected at least one"]),
    (r#"chance --reading "70 °F" --at-least "60 °F" --uncertainty "0 °F""#, &["uncertainty 0", "above 0"]),
    (
        r#"chance --reading "70 °F" --at-least "60 °F" --uncertainty "1 °F" --k 0"#,
        &["coverage factor of 0", "calibration certificate"],
    ),
    (
        r#"chance --reading "70 °F" --at-least "60 °F" --at-most "61 °F" --uncertainty "1 °F" --guard-band 1"#,
        &["leaves nothing of 60 to 61", "finer gauge"],
    ),
    (r#"roughness traces/none.x3p"#, &["none.x3p"]),
    (r#"roughness traces/L-26-0553-before.csv"#, &["no sound ZIP archive", "--form"]),
    (
        r#"roughness traces/L-26-0553-before.csv --form PR-9"#,
        &["traces.yaml has no form `PR-9`", "PR-1-text"],
    ),
    (
        r#"roughness traces/L-26-0553-before.csv --z 1 --unit-z um --skip-lines 1"#,
        &["neither `spacing` nor `x`"],
    ),
    (r#"roughness traces/L-26-0553-before.csv --z 1 --unit-z feet --spacing "0.5 um""#, &["one of: nm"]),
    (r#"roughness traces/L-26-0553-1.x3p --cutoff "2.5 mm""#, &["the trace is", "a shorter cut-off"]),
    (r#"roughness traces/L-26-0553-1.x3p --cutoff "2 min""#, &["2 min cannot choose a cut-off", "a length"]),
    (r#"roughness traces/L-26-0553-1.x3p --lengths 0"#, &["0 sampling lengths"]),
    (r#"log logs/N-2-2026-11-25.csv --logger DL-7"#, &["has no logger `DL-7`", "DL-1, DL-2"]),
    (r#"log logs/N-2-2026-11-25.csv --logger DL-2"#, &["no column `Zeit`"]),
    (
        r#"log logs/N-2-2026-11-25.csv --logger DL-1 --measures voltage"#,
        &["does not measure voltage", "temperature"],
    ),
    (
        r#"log logs/N-2-2026-11-25.csv --logger DL-1 --at-least "2 V""#,
        &["cannot be held against readings in °F"],
    ),
    (
        r#"log logs/N-2-2026-11-25.csv --logger DL-1 --from 2026-11-25T10:00-05:00 --to 2026-11-25T09:00-05:00"#,
        &["has no length", "--from before --to"],
    ),
    (
        r#"log logs/N-2-2026-11-25.csv --logger DL-1 --from 2026-12-25T10:00-05:00 --to 2026-12-25T11:00-05:00"#,
        &["no reading of `N-2 (°F)`", "it reads from 2026-11-25T07:00:00-05:00"],
    ),
    (r#"log logs/N-2-2026-11-25.csv --logger DL-1 --allowed-gap "3 mm""#, &["a gap of 3 mm is no time"]),
    (r#"log logs/N-2-2026-11-25.csv --logger DL-1 --allowed-gap "2 d""#, &["more than a day"]),
    (r#"pren"#, &["no composition to reckon with", "--grade"]),
    (r#"pren --composition "Ni 10""#, &["has no Cr"]),
    (r#"pren --composition "Cr 120""#, &["Cr is 120 wt%", "0 to 100"]),
    (r#"ratio --method XPS --elements "Cr 60, Fe 40""#, &["leave out C"]),
    (
        r#"ratio --method XPS --elements "C 22, O 51, Cr 14.4, Fe 9.6""#,
        &["add up to 97.0 at%", "missing element"],
    ),
    (
        r#"ratio --method GD-OES --elements "C 22, O 51, Cr 14.4, Fe 9.6, Ni 3" --oxide "Cr 12.4" --metal "Cr 2.0""#,
        &["GD-OES does not tell Cr as oxide"],
    ),
    (
        r#"ratio --method XPS --elements "C 22, O 51, Cr 14.4, Fe 9.6, Ni 3" --crox-feox-at-least 2"#,
        &["oxide and metal are not told apart", "--oxide and --metal"],
    ),
    (
        r#"ratio --method XPS --elements "C 22, O 51, Cr 14.4, Fe 9.6, Ni 3" --uncertainty "Mo 1""#,
        &["`Mo` is not among the elements found"],
    ),
    (r#"ratio --method SIMS --elements "C 22, O 51, Cr 14.4, Fe 9.6, Ni 3""#, &["one of: XPS, AES, GD-OES"]),
];

#[test]
fn what_is_typed_wrongly_is_refused() {
    let mut wrong = Vec::new();
    for (line, words) in REFUSED {
        let ran = run(&format!("calculate {line}"));
        let missing: Vec<&&str> = words.iter().filter(|word| !ran.err.contains(**word)).collect();
        if ran.code != 2 || !ran.out.is_empty() || !missing.is_empty() {
            wrong.push(format!("{line}\n  exit {}, without {missing:?}\n  {}{}", ran.code, ran.out, ran.err));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Elsewhere than in a shop folder a map of the shop cannot be named.
#[test]
fn maps_of_the_shop_need_a_shop() {
    let nowhere = super::scratch("nowhere");
    std::fs::write(nowhere.join("a.csv"), "1\n2\n").unwrap();
    for (line, words) in [
        ("log a.csv --logger DL-1", "has no loggers.yaml"),
        ("roughness a.csv --form PR-1-text", "has no traces.yaml"),
    ] {
        let ran = super::run_in(&nowhere, &format!("calculate {line}"));
        assert_eq!(ran.code, 2, "{line}");
        assert!(ran.err.contains(words) && ran.err.contains("--shop"), "{}", ran.err);
    }
    let ran = super::run_in(&nowhere, "calculate pren --grade 316L --format csv");
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("--format text or json"), "{}", ran.err);
}
