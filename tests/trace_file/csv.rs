//! Tables of text: what is read from them, and what each damaged one is told. All of them are invented.

use brightproof::trace_file::Trace;
use brightproof::trace_file::read_csv;
use brightproof::trace_form::FormError;
use brightproof::trace_form::TraceForm;
use brightproof::trace_form::TraceUnit;

/// One column of heights in µm.
const HEIGHTS: &str = "{delimiter: ';', z: 1, unit_z: µm, spacing: 0.5 µm}";

/// Two columns under a header, in mm and µm, with decimal commas.
const TWO: &str =
    "{delimiter: ';', decimal: comma, skip_lines: 2, x: 'X [mm]', z: 'Z [µm]', unit_x: mm, unit_z: µm}";

fn form(text: &str) -> TraceForm {
    serde_yaml::from_str(text).unwrap()
}

fn read(layout: &str, text: &str) -> Trace {
    read_csv(text.as_bytes(), &form(layout)).unwrap()
}

fn said(trace: &Trace) -> Vec<(&str, &str)> {
    trace.told.iter().map(|t| (t.about.as_str(), t.says.as_str())).collect()
}

#[test]
fn one_column() {
    let trace = read(HEIGHTS, "0.25\r\n-1.5e-1\r\n\"3\"\r\n\r\n");
    assert_eq!(trace.heights, [0.25, -0.15, 3.0]);
    assert_eq!((trace.spacing, trace.unit_of_file), (0.5, TraceUnit::Micrometre));
    assert_eq!(trace.told, []);
    // A last empty cell of each line, and of the last one too.
    assert_eq!(
        read("{delimiter: tab, z: 1, unit_z: µm, spacing: 1 µm}", "1\t\n2\t\n \n\u{1a}").heights,
        [1.0, 2.0]
    );
}

#[test]
fn two_columns_under_a_header() {
    let text =
        "Instrument;S1\nProbe;\"2 µm\"\nNo;X [mm];Z [µm];\n1;0,0000;0,5;\n2;0,0005;-0,25;\n3;0,0010;1;\n";
    let trace = read(TWO, text);
    assert_eq!(trace.heights, [0.5, -0.25, 1.0]);
    assert_eq!(trace.spacing, 0.5);
    let told = [("line 1", "Instrument;S1"), ("line 2", "Probe;\"2 µm\""), ("line 3", "No;X [mm];Z [µm];")];
    assert_eq!(said(&trace), told);
}

/// 1 in = 25.4 mm (Federal Register 24 FR 5348, 1959): 1 µin = 0.0254 µm. Metric prefixes: SI brochure, table
/// 7.
#[test]
fn every_unit() {
    for (unit, height) in [
        ("nm", 0.001),
        ("µm", 1.0),
        ("\u{3bc}m", 1.0),
        ("um", 1.0),
        ("mm", 1000.0),
        ("m", 1e6),
        ("in", 25_400.0),
    ] {
        let layout = format!("{{delimiter: tab, z: 2, unit_z: {unit}, spacing: 20 µin}}");
        let trace = read(&layout, "a\t1\nb\t0\n");
        assert_eq!((trace.heights, trace.spacing), (vec![height, 0.0], 0.508), "{unit}");
    }
    for unit in ["µin", "uin"] {
        let layout = format!("{{delimiter: space, z: 1, unit_z: {unit}, spacing: 0.0005 mm}}");
        let trace = read(&layout, "  1000   x\n\t-500 y");
        assert_eq!((trace.heights, trace.spacing), (vec![25.4, -12.7], 0.5), "{unit}");
    }
}

#[test]
fn latin_1_is_read_when_the_layout_says_so() {
    let bytes = b"Z [\xb5m]\n1\n2\n";
    let layout = "{delimiter: tab, encoding: Latin-1, z: 'Z [µm]', unit_z: µm, spacing: 1 µm}";
    assert_eq!(read_csv(bytes, &form(layout)).unwrap().heights, [1.0, 2.0]);
    let layout = "{delimiter: tab, z: 'Z [µm]', unit_z: µm, spacing: 1 µm}";
    let error = read_csv(bytes, &form(layout)).unwrap_err().to_string();
    let words = "row 1: byte 4 of the line is no UTF-8: save the file as UTF-8, or say `encoding: Latin-1` \
        in the layout";
    assert_eq!(error, words);
}

/// Positions printed to 0.1 µm at a step of 0.25 µm lie up to 0.05 µm, a fifth of the step, from their
/// places.
#[test]
fn coarsely_printed_positions_need_a_word() {
    let text = "0.0 1\n0.2 2\n0.5 1\n0.8 2\n1.0 1\n";
    let layout = "{delimiter: space, x: 1, z: 2, unit_x: µm, unit_z: µm}";
    let error = read_csv(text.as_bytes(), &form(layout)).unwrap_err().to_string();
    assert_eq!(
        error,
        "row 2: the step from the row before is 0.2 µm and the mean step 0.25 µm: expected positions within \
         0.01 of a step of an even grid; a point is missing or the file prints too few \
         digits (then say `uniform_within`)"
    );
    let layout = "{delimiter: space, x: 1, z: 2, unit_x: µm, unit_z: µm, uniform_within: 0.25 ratio}";
    assert_eq!(read(layout, text).spacing, 0.25);
}

/// Text, layout, message.
#[test]
fn damaged() {
    let x = "{delimiter: ',', x: 1, z: 2, unit_x: µm, unit_z: µm}";
    let named = "{delimiter: ',', z: Height, unit_z: µm, spacing: 1 µm}";
    let cases: &[(&str, &str, &str)] = &[
        (
            HEIGHTS,
            "",
            "the file has 0 lines and the layout skips 0: expected heights after them; mend \
            `skip_lines`, or export the trace again",
        ),
        (
            TWO,
            "a\nb\nc",
            "the file has 3 lines and the layout skips 2 and reads a header: expected heights after \
            them; mend `skip_lines`, or export the trace again",
        ),
        (HEIGHTS, "1\n", "the file holds one height: expected at least 2; export the trace again"),
        (
            HEIGHTS,
            "1\nNaN\n3\n",
            "row 2, column 1: `NaN` is no number: expected one such as `-0.25`; a hole in a \
            trace is not filled in, measure again",
        ),
        (
            HEIGHTS,
            "1\n2\ninf\n",
            "row 3, column 1: `inf` is no number: expected one such as `-0.25`; a hole in a \
            trace is not filled in, measure again",
        ),
        (
            HEIGHTS,
            "1\n0,5\n",
            "row 2, column 1: `0,5` is no number: expected one such as `-0.25`; if the file parts \
            decimals otherwise, mend `decimal` in the layout",
        ),
        (
            HEIGHTS,
            "1\n2\nEND",
            "row 3, column 1: `END` is no number: expected one such as `-0.25`; mend the cell, or \
            `skip_lines` and columns of the layout",
        ),
        (
            HEIGHTS,
            "1\n1e999\n",
            "row 2, column 1: `1e999` is no number: expected one such as `-0.25`; mend the \
            cell, or `skip_lines` and columns of the layout",
        ),
        (
            HEIGHTS,
            "1\n\n3\n",
            "row 2: the line is empty and heights follow: a hole in a trace is not closed up; \
            export the trace again",
        ),
        (
            HEIGHTS,
            "1\n2000000\n",
            "row 2, column 1: `2000000` µm is more than 1 m: mend the unit in the layout, or \
            the cell",
        ),
        (
            HEIGHTS,
            "1\n\"2\n3\n",
            "row 2, column 1: the quotes of the cell do not close before its end: mend the cell",
        ),
        (
            HEIGHTS,
            "1\n\"2\"3\n",
            "row 2, column 1: the quotes of the cell do not close before its end: mend the cell",
        ),
        (
            HEIGHTS,
            "1\n2;3\n",
            "row 2: found 2 cells, expected 1 as in row 1: a cell is missing or one too many; \
            export the trace again",
        ),
        (
            HEIGHTS,
            "PK\u{3}\u{4}",
            "the file is a ZIP archive: expected a table of text; read it as X3P, or export \
            it as text",
        ),
        (
            x,
            "0,1\n1,\n2,3\n",
            "row 2, column 2: the cell is empty: expected a number; a hole in a trace is not \
            filled in, measure again",
        ),
        (
            x,
            "0,1\n,2\n2,3\n",
            "row 2, column 1: the cell is empty: expected a number; a hole in a trace is not \
            filled in, measure again",
        ),
        (
            x,
            "0,1\n1,0,2\n2,3\n",
            "row 2: found 3 cells, expected 2 as in row 1: a cell is missing or one too many; \
            export the trace again",
        ),
        (
            x,
            "0\n1\n",
            "row 1: the line has 1 cell and the layout reads column 2: mend `delimiter` or the column",
        ),
        (
            x,
            "0,1\n1,2\n1,3\n",
            "row 3: the position does not lie beyond the one of the row before: expected \
            positions that increase; export the trace again, sorted and without repeats",
        ),
        (
            x,
            "0,1\n1,2\n2,3\n4,4\n5,5\n",
            "row 4: the step from the row before is 2 µm and the mean step 1.25 µm: \
            expected positions within 0.01 of a step of an even grid; a point is missing or the file prints \
            too few digits (then say `uniform_within`)",
        ),
        (
            x,
            "0,1\n1e-9,2\n",
            "the mean step is 0.000000001 µm: expected at least 0.000001 µm; mend `unit_x` in the layout",
        ),
        (
            named,
            "No,height\n1,2\n3,4\n",
            "row 1: no column is headed `Height` (did you mean `height`?): found `No`, \
            `height`; mend the layout",
        ),
        (
            named,
            "Height,Height\n1,2\n3,4\n",
            "row 1: columns 1 and 2 are both headed `Height`: name the column by \
            its number",
        ),
    ];
    for (layout, text, words) in cases {
        let error = read_csv(text.as_bytes(), &form(layout)).unwrap_err();
        assert_eq!(error.to_string(), *words, "{text:?}");
    }
    let wide = ",".repeat(300);
    let error = read_csv(wide.as_bytes(), &form(x)).unwrap_err().to_string();
    let words = "row 1: the line has more than 256 cells: mend `delimiter`, or export the one trace alone";
    assert_eq!(error, words);
    let error = read_csv(b"\xff\xfe1\0\n\0", &form(x)).unwrap_err().to_string();
    assert_eq!(error, "the file is coded as UTF-16: expected UTF-8 or Latin-1; save it as UTF-8 text");
}

#[test]
fn limits() {
    let large = vec![b'1'; 64 * 1024 * 1024 + 1];
    let error = read_csv(&large, &form(HEIGHTS)).unwrap_err().to_string();
    assert_eq!(error, "the file has 67108865 bytes: expected at most 67108864; export the one trace alone");
    let many = "1\n".repeat(5_000_001);
    let error = read_csv(many.as_bytes(), &form(HEIGHTS)).unwrap_err().to_string();
    let words = "row 5000001: the trace has more than 5000000 points: export fewer, or one trace alone";
    assert_eq!(error, words);
}

#[test]
fn layouts_that_do_not_go_together() {
    let check = |text: &str| form(text).check().unwrap_err();
    assert_eq!(check("{delimiter: tab, z: 1, unit_z: nm}"), FormError::NoSpacing);
    let both = "{delimiter: tab, x: 1, unit_x: mm, z: 2, unit_z: nm, spacing: 1 µm}";
    assert_eq!(check(both), FormError::SpacingTwice);
    assert_eq!(check("{delimiter: tab, x: 1, z: 2, unit_z: nm}"), FormError::NoUnitX);
    assert_eq!(check("{delimiter: tab, unit_x: mm, z: 2, unit_z: nm, spacing: 1 µm}"), FormError::UnitXAlone);
    assert_eq!(check("{delimiter: tab, z: 0, unit_z: nm, spacing: 1 µm}"), FormError::ColumnZero);
    assert_eq!(check("{delimiter: tab, x: 2, unit_x: mm, z: 2, unit_z: nm}"), FormError::OneColumn);
    let commas = "{delimiter: ',', decimal: comma, z: 2, unit_z: nm, spacing: 1 µm}";
    assert_eq!(check(commas), FormError::CommaTwice);
    for spacing in ["0 µm", "-1 µm", "3 min", "2000 in", "1001 mm"] {
        let error = check(&format!("{{delimiter: tab, z: 1, unit_z: nm, spacing: {spacing}}}")).to_string();
        if spacing == "2000 in" {
            assert!(error.contains("`spacing: 2000 in`"), "{error}");
        }
        assert!(error.ends_with("expected a length from 0.000001 µm to 1 m, as in `0.5 µm`"), "{error}");
    }
    for within in ["0 ratio", "0.5 ratio", "0.1 µm"] {
        let layout =
            format!("{{delimiter: tab, x: 1, unit_x: mm, z: 2, unit_z: nm, uniform_within: {within}}}");
        assert!(matches!(check(&layout), FormError::Within(_)), "{within}");
    }
    for bad in [
        "{delimiter: tab, z: 1, unit_z: nm, spacing: 1 µm, speed: 1}",
        "{delimiter: pipe, z: 1, unit_z: nm}",
        "{delimiter: tab, z: 1, unit_z: km}",
        "{delimiter: tab, unit_z: nm}",
        "{delimiter: tab, z: -1, unit_z: nm}",
    ] {
        assert!(serde_yaml::from_str::<TraceForm>(bad).is_err(), "{bad}");
    }
}

/// A layout written out and read again is the same.
#[test]
fn layouts_are_kept() {
    for text in [HEIGHTS, TWO] {
        let layout = form(text);
        let json = serde_json::to_string(&layout).unwrap();
        assert_eq!(serde_json::from_str::<TraceForm>(&json).unwrap(), layout, "{json}");
    }
}
