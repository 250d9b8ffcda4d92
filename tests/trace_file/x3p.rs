//! X3P files: what is read from them, against NumPy and another writer, and what each damaged one is told.

use brightproof::trace_file::X3pError;
use brightproof::trace_file::read_x3p;
use brightproof::trace_form::TraceUnit;

use super::made;
use super::made::HEIGHTS;
use super::made::doubles;
use crate::python;

const LINK: &str = "<DataLink>
      <PointDataLink>bindata/data.bin</PointDataLink>
      <MD5ChecksumPointData>DATA-MD5</MD5ChecksumPointData>
    </DataLink>";
const CZ: &str = "<CZ><AxisType>A</AxisType><DataType>D</DataType><Increment>1</Increment>";
const CX: &str = "<CX><AxisType>I</AxisType><DataType>D</DataType>";
const CY: &str = "<CY><AxisType>I</AxisType>";
const STEP: &str = "<Increment>5e-07</Increment>";

fn bits(values: &[f64]) -> Vec<u64> {
    values.iter().map(|v| v.to_bits()).collect()
}

/// What an edited file is told.
fn told(edits: &[(&str, &str)], data: &[u8], more: &[(&str, &[u8])]) -> String {
    read_x3p(&made::x3p(edits, data, more), None).unwrap_err().to_string()
}

#[test]
fn a_profile() {
    let trace = read_x3p(&made::whole(), None).unwrap();
    assert_eq!(bits(&trace.heights), bits(&HEIGHTS.map(|h| h * 1e6)));
    assert_eq!((trace.spacing, trace.unit_of_file), (0.5, TraceUnit::Metre));
    let told: Vec<_> = trace.told.iter().map(|t| (t.about.as_str(), t.says.as_str())).collect();
    let words = [
        ("Record1/Revision", "ISO5436 - 2000"),
        ("Record1/Axes/CX/Increment", "5e-07"),
        ("Record1/Axes/CZ/DataType", "D"),
        ("Record1/Axes/CZ/Increment", "1"),
        ("Record1/Axes/CZ/Offset", "0"),
        ("Record2/Date", "2026-10-05T08:30:00+01:00"),
        ("Record2/Instrument/Manufacturer", "Invented & Sons"),
        ("Record2/Instrument/Model", "S1"),
        ("Record2/Instrument/Serial", "7"),
        ("Record2/ProbingSystem/Type", "Contacting"),
        ("Record2/ProbingSystem/Identification", "2 µm, 0.75 mN"),
    ];
    assert_eq!(told, words);
    assert_eq!(read_x3p(&made::whole(), Some(1)).unwrap(), trace);
}

fn unhex(text: &str) -> Vec<u8> {
    let pairs = text.as_bytes().chunks(2);
    pairs.map(|pair| u8::from_str_radix(std::str::from_utf8(pair).unwrap(), 16).unwrap()).collect()
}

/// Files of every data type, written and worked out with Python's zipfile and NumPy: equal to the bit,
/// because both do the same operations of IEEE 754 in the same order.
#[test]
fn every_type_as_numpy_has_it() {
    let Some(out) = python::scipy(include_str!("x3p.py"), "") else { return };
    let mut names = Vec::new();
    for line in out.lines() {
        let [name, row, spacing, heights, file] = line.split('\t').collect::<Vec<_>>()[..] else {
            unreachable!("{line}")
        };
        let trace = read_x3p(&unhex(file), row.parse().ok()).unwrap_or_else(|e| unreachable!("{name}: {e}"));
        let expected: Vec<u64> =
            unhex(heights).chunks(8).map(|b| u64::from_le_bytes(b.try_into().unwrap())).collect();
        assert_eq!(bits(&trace.heights), expected, "{name}");
        assert_eq!(trace.spacing, spacing.parse::<f64>().unwrap(), "{name}");
        names.push(name.to_owned());
    }
    let all = [
        "D",
        "F",
        "L",
        "I",
        "stored",
        "inline",
        "valid",
        "surface row 2",
        "surface row 3",
        "positions",
        "inline x",
    ];
    assert_eq!(names, all);
}

/// Written by the open-source Python library x3pio 2.0.0 from invented heights (`outside.py` beside the
/// files): int16, float32, and a list in `main.xml`. Equal to what that library reads back, to the bit of a
/// metre times 10⁶.
#[test]
fn files_of_another_writer() {
    let heights =
        |text: &str| -> Vec<f64> { text.lines().map(|l| l.parse::<f64>().unwrap() * 1e6).collect() };
    let cases: [(&[u8], &str); 3] = [
        (include_bytes!("outside_i.x3p"), include_str!("outside_i.txt")),
        (include_bytes!("outside_f.x3p"), include_str!("outside_f.txt")),
        (include_bytes!("outside_list.x3p"), include_str!("outside_list.txt")),
    ];
    for (file, text) in cases {
        let trace = read_x3p(file, None).unwrap();
        assert_eq!(bits(&trace.heights), bits(&heights(text)));
        assert_eq!(trace.spacing, 0.25);
        assert!(trace.told.iter().any(|t| t.says == "Invented Works"), "{:?}", trace.told);
    }
}

/// Edit of `main.xml` (its checksum right again), message.
#[test]
fn main_that_says_something_else() {
    let again = "export the trace again";
    let cases: &[(&[(&str, &str)], String)] = &[
        (
            &[("PRF", "SUR"), ("<SizeY>1", "<SizeY>3")],
            "the file holds a surface of 3 rows of 5 points: say which row \
            is the trace"
                .to_owned(),
        ),
        (
            &[("PRF", "PCL")],
            "main.xml says `PCL` in `Record1/FeatureType`: expected PRF (a profile) or SUR (a \
            surface)"
                .to_owned(),
        ),
        (
            &[("<SizeY>1", "<SizeY>2")],
            "main.xml says `2` in `Record3/MatrixDimension/SizeY`: expected 1 of a \
            profile"
                .to_owned(),
        ),
        (
            &[("<SizeZ>1", "<SizeZ>2")],
            "main.xml says `2` in `Record3/MatrixDimension/SizeZ`: expected 1, one \
            layer"
                .to_owned(),
        ),
        (
            &[("<SizeX>5", "<SizeX>-5")],
            "main.xml says `-5` in `Record3/MatrixDimension/SizeX`: expected a count from \
            1"
            .to_owned(),
        ),
        (&[("<SizeX>5", "<SizeX>1")], "the number of points is 1: expected from 2 to 5000000".to_owned()),
        (
            &[("<SizeX>5", "<SizeX>5000001")],
            "the number of points is 5000001: expected from 2 to 5000000".to_owned(),
        ),
        (
            &[("<SizeX>5", "<SizeX>6")],
            "`bindata/data.bin` has 40 bytes: expected 48 for 6 points; it is cut short or \
            of another type, copy or export the file again"
                .to_owned(),
        ),
        (
            &[("<SizeX>5", "<SizeX>4")],
            "`bindata/data.bin` has more bytes: expected 32 for 4 points; it is cut short or \
            of another type, copy or export the file again"
                .to_owned(),
        ),
        (
            &[(CZ, "<CZ><AxisType>I</AxisType><DataType>D</DataType><Increment>1</Increment>")],
            "main.xml says `I` in \
            `Record1/Axes/CZ/AxisType`: expected A, since the heights are stored"
                .to_owned(),
        ),
        (
            &[(CZ, "<CZ><AxisType>A</AxisType><DataType>Q</DataType><Increment>1</Increment>")],
            "main.xml says `Q` in \
            `Record1/Axes/CZ/DataType`: expected I, L, F or D"
                .to_owned(),
        ),
        (
            &[(CZ, "<CZ><AxisType>A</AxisType><DataType>D</DataType><Increment>0</Increment>")],
            "main.xml says `0` in \
            `Record1/Axes/CZ/Increment`: expected a number other than 0"
                .to_owned(),
        ),
        (
            &[(CZ, "<CZ><AxisType>A</AxisType><DataType>D</DataType><Increment>1e9</Increment>")],
            "point 0 lies at \
            1.25e2 m: expected less than 1 m; the increment of the axis is wrong"
                .to_owned(),
        ),
        (
            &[(STEP, "<Increment>-5e-07</Increment>")],
            "the step is -0.5 µm: expected from 0.000001 µm to 1 m, along \
            increasing x"
                .to_owned(),
        ),
        (
            &[(STEP, "<Increment>5e-07 m</Increment>")],
            "main.xml says `5e-07 m` in `Record1/Axes/CX/Increment`: \
            expected a number such as `5e-07`"
                .to_owned(),
        ),
        (&[(STEP, "")], format!("main.xml has no `Record1/Axes/CX/Increment`, or it is empty: {again}")),
        (
            &[("<FeatureType>PRF</FeatureType>", "")],
            format!(
                "main.xml has no `Record1/FeatureType`, or it is empty: \
            {again}"
            ),
        ),
        (
            &[(
                "<FeatureType>PRF</FeatureType>",
                "<FeatureType>PRF</FeatureType><FeatureType>SUR</FeatureType>",
            )],
            format!("main.xml has `Record1/FeatureType` twice: expected it once; {again}"),
        ),
        (
            &[(LINK, &format!("{LINK}<DataList/>"))],
            format!("main.xml has `Record3, the points` twice: expected it once; {again}"),
        ),
        (&[(LINK, "")], format!("main.xml has no `Record3/DataLink/PointDataLink`, or it is empty: {again}")),
        (
            &[("<Record4><ChecksumFile>md5checksum.hex</ChecksumFile></Record4>", "")],
            format!(
                "main.xml has no \
            `Record4/ChecksumFile`, or it is empty: {again}"
            ),
        ),
        (
            &[("DATA-MD5", "none")],
            "no MD5 checksum of `bindata/data.bin` is stated: found `none`, expected 32 \
            hexadecimal digits; export it again"
                .to_owned(),
        ),
        (
            &[("DATA-MD5", "d41d8cd98f00b204e9800998ecf8427e")],
            format!(
                "`bindata/data.bin` has the MD5 checksum {} and \
            d41d8cd98f00b204e9800998ecf8427e is stated: the file was changed or damaged after it was \
            written; copy or export it again",
                made::md5(&doubles(&HEIGHTS))
            ),
        ),
        (
            &[("bindata/data.bin", "bindata/other.bin")],
            format!(
                "the archive has no `bindata/other.bin`: expected it \
            as the format has it; {again}"
            ),
        ),
    ];
    for (edits, words) in cases {
        assert_eq!(told(edits, &doubles(&HEIGHTS), &[]), *words, "{edits:?}");
    }
    for link in
        ["/etc/passwd", "../data.bin", "bindata/../../x", "C:/data.bin", "http://x.invalid/d", "a\\b", "a//b"]
    {
        let words = format!(
            "`Record3/DataLink/PointDataLink` names `{link}`: expected a member of the archive, as in \
             `bindata/data.bin`, without `..`, `\\` or a drive"
        );
        assert_eq!(told(&[("bindata/data.bin", link)], &doubles(&HEIGHTS), &[]), words);
    }
}

/// Edit of `main.xml` that makes it no XML of this kind, line, message.
#[test]
fn main_that_is_no_such_xml() {
    let deep = format!("{}{}<Record3>", "<a>".repeat(40), "</a>".repeat(40));
    let long = format!("<Comment>{}</Comment><ProbingSystem>", "x".repeat(70_000));
    let cases: &[(&str, &str, &str)] = &[
        (
            "?>\n",
            "?><!DOCTYPE p [<!ENTITY a \"aa\"><!ENTITY b \"&a;&a;\">]>\n",
            "line 1: it has a document type, which \
            this format has none of",
        ),
        ("S1", "&b;", "line 14: it uses an entity, which this format has none of"),
        ("encoding=\"UTF-8\"", "encoding=\"UTF-16\"", "line 1: it says an encoding other than UTF-8"),
        ("<Record3>", &deep, "line 18: elements are nested deeper than 16, or a name is longer than 64"),
        ("<ProbingSystem>", &long, "line 16: the text of an element is longer than 65536 bytes"),
        ("</p:ISO5436_2>\n", "", "line 26: it ends before its elements do"),
        ("<p:ISO5436_2 ", "<p:Other ", "line 2: the outermost element is not one `ISO5436_2`"),
        ("<p:ISO5436_2 ", "<html/><p:ISO5436_2 ", "line 2: the outermost element is not one `ISO5436_2`"),
    ];
    for (from, to, words) in cases {
        let words = format!("main.xml, {words}; export the trace again");
        assert_eq!(told(&[(from, to)], &doubles(&HEIGHTS), &[]), words);
    }
    let error =
        read_x3p(&made::x3p(&[("</Record1>", "</Record9>")], &doubles(&HEIGHTS), &[]), None).unwrap_err();
    assert!(matches!(error, X3pError::Xml { line: 11, .. }), "{error}");
}

/// A hole is named by its place along the trace, whichever way the file tells of it.
#[test]
fn holes() {
    let mut holed = HEIGHTS;
    holed[3] = f64::NAN;
    assert_eq!(
        told(&[], &doubles(&holed), &[]),
        "point 3 is not valid (NaN): a hole in a trace is not filled in; measure again"
    );
    holed[3] = f64::NEG_INFINITY;
    let words = "point 3 is not valid (infinite): a hole in a trace is not filled in; measure again";
    assert_eq!(told(&[], &doubles(&holed), &[]), words);

    let valid = "</MD5ChecksumPointData><ValidPointsLink>bindata/valid.bin</ValidPointsLink>";
    let edit = [("</MD5ChecksumPointData>", valid)];
    let with = |bits: &'static [u8]| {
        read_x3p(&made::x3p(&edit, &doubles(&HEIGHTS), &[("bindata/valid.bin", bits)]), None)
    };
    assert_eq!(with(&[0b0001_1111]).unwrap().heights.len(), 5);
    let words = "point 1 is not valid (its bit says so): a hole in a trace is not filled in; measure again";
    assert_eq!(with(&[0b1111_1101]).unwrap_err().to_string(), words);
    let words = "`bindata/valid.bin` has more bytes: expected 1 for 5 points; it is cut short or of another \
                 type, copy or export the file again";
    assert_eq!(with(&[0xff, 0xff]).unwrap_err().to_string(), words);
    let sum = format!("{valid}<MD5ChecksumValidPoints>{}</MD5ChecksumValidPoints>", made::md5(&[0xff]));
    let edit = [("</MD5ChecksumPointData>", sum.as_str())];
    let file = |bits: &'static [u8]| made::x3p(&edit, &doubles(&HEIGHTS), &[("bindata/valid.bin", bits)]);
    assert!(read_x3p(&file(&[0xff]), None).is_ok());
    assert!(matches!(read_x3p(&file(&[0x1f]), None), Err(X3pError::Checksum { .. })));

    let list = |data: &str| told(&[(LINK, &format!("<DataList>{data}</DataList>"))], &[], &[]);
    let four = "<Datum>1e-7</Datum>".repeat(4);
    let words =
        "point 4 is not valid (its datum is empty): a hole in a trace is not filled in; measure again";
    assert_eq!(list(&format!("{four}<Datum/>")), words);
    assert_eq!(list(&format!("{four}<Datum></Datum>")), words);
    let words = "point 4 is not valid (NaN): a hole in a trace is not filled in; measure again";
    assert_eq!(list(&format!("{four}<Datum>NaN</Datum>")), words);
    let words = "point 4 of the list in main.xml says `1;2`: expected 1 numbers with `;` between";
    assert_eq!(list(&format!("{four}<Datum>1;2</Datum>")), words);
    let words = "the list in main.xml has 4 points: expected 5; export the trace again";
    assert_eq!(list(&four), words);
    let words = "the list in main.xml has 0 points: expected 5; export the trace again";
    assert_eq!(list(""), words);
}

/// Stored positions must be an even grid along x.
#[test]
fn positions() {
    let stored = [(CX, "<CX><AxisType>A</AxisType><DataType>D</DataType>"), (STEP, "")];
    let points =
        |xs: [f64; 5]| doubles(&xs.iter().zip(HEIGHTS).flat_map(|(x, z)| [*x, z]).collect::<Vec<_>>());
    let even = points([0.0, 1e-6, 2e-6, 3e-6, 4e-6]);
    assert_eq!(read_x3p(&made::x3p(&stored, &even, &[]), None).unwrap().spacing, 1.0);
    let back = points([0.0, 1e-6, 2e-6, 2e-6, 4e-6]);
    let words = "point 3 does not lie beyond the one before it: expected positions that increase";
    assert_eq!(told(&stored, &back, &[]), words);
    let gap = points([0.0, 1e-6, 2e-6, 4e-6, 5e-6]);
    let words = "the step before point 3 is 2 µm and the mean step 1.25 µm: expected positions within 0.01 \
                 of a step of an even grid; measure again";
    assert_eq!(told(&stored, &gap, &[]), words);
    let oblique = [(CY, "<CY><AxisType>A</AxisType>")];
    let words = "the trace leaves its line at point 1: expected one y for all points; export it along x";
    assert_eq!(told(&oblique, &points([0.0, 1e-6, 2e-6, 3e-6, 4e-6]), &[]), words);
}

/// Archives that are damaged, forged or hold too much.
#[test]
fn archives() {
    let words = |bytes: &[u8]| read_x3p(bytes, None).unwrap_err().to_string();
    let data = doubles(&HEIGHTS);
    let main = made::main_with(&[], &data);
    let sum = made::md5(main.as_bytes());
    let again = "copy or export it again";
    assert_eq!(words(b""), format!("the file is no sound ZIP archive: it has no end record; {again}"));
    let whole = made::whole();
    let more = [&whole[..], b"x"].concat();
    let said =
        format!("the file is no sound ZIP archive: its end record does not end with the file; {again}");
    assert_eq!(words(&more), said);
    let before = [b"x", &whole[..]].concat();
    let said = format!(
        "the file is no sound ZIP archive: its directory does not end before its end record; {again}"
    );
    assert_eq!(words(&before), said);
    let mut forged = whole.clone();
    let end = forged.len() - 22;
    forged[end + 8..end + 12].copy_from_slice(&[0xff; 4]);
    let said = format!(
        "the file is no sound ZIP archive: it has more than 256 members, or parts elsewhere; {again}"
    );
    assert_eq!(words(&forged), said);

    // The directory made longer by a record of the kind for more than 4 GiB.
    let mut forged = whole.clone();
    let size = u32::from_le_bytes(forged[end + 12..end + 16].try_into().unwrap()) + 20;
    forged[end + 12..end + 16].copy_from_slice(&size.to_le_bytes());
    forged.splice(end..end, *b"PK\x06\x07\0\0\0\0\0\0\0\0\0\0\0\0\x01\0\0\0");
    let said = format!("the file is no sound ZIP archive: it is of the kind for more than 4 GiB; {again}");
    assert_eq!(words(&forged), said);
    let mut twice = made::zip(&[("main.xml", main.as_bytes()), ("xxxx.xml", main.as_bytes())]);
    for at in 0..twice.len() - 8 {
        if twice[at..].starts_with(b"xxxx.xml") {
            twice[at..at + 8].copy_from_slice(b"main.xml");
        }
    }
    assert_eq!(
        words(&twice),
        format!("the file is no sound ZIP archive: two members have one name; {again}")
    );

    let none = made::zip(&[("bindata/data.bin", &data)]);
    let said = "the archive has no `main.xml`: expected it as the format has it; export the trace again";
    assert_eq!(words(&none), said);
    let folder = made::zip(&[("trace/main.xml", main.as_bytes())]);
    let said = "the archive has no `main.xml`: found `trace/main.xml`, expected it outside of any folder; \
                export the trace again";
    assert_eq!(words(&folder), said);
    let no_data = made::zip(&[("main.xml", main.as_bytes()), ("md5checksum.hex", sum.as_bytes())]);
    let said =
        "the archive has no `bindata/data.bin`: expected it as the format has it; export the trace again";
    assert_eq!(words(&no_data), said);
    let no_sum = made::zip(&[("main.xml", main.as_bytes()), ("bindata/data.bin", &data)]);
    let said =
        "the archive has no `md5checksum.hex`: expected it as the format has it; export the trace again";
    assert_eq!(words(&no_sum), said);
    let sums = |sum: &str| {
        words(&made::zip(&[
            ("main.xml", main.as_bytes()),
            ("bindata/data.bin", &data),
            ("md5checksum.hex", sum.as_bytes()),
        ]))
    };
    let said =
        "no MD5 checksum of `main.xml` is stated: found ``, expected 32 hexadecimal digits; export it again";
    assert_eq!(sums(""), said);
    let other = made::md5(b"other");
    let said = format!(
        "`main.xml` has the MD5 checksum {sum} and {other} is stated: the file was changed or damaged after \
         it was written; copy or export it again"
    );
    assert_eq!(sums(&other.to_uppercase()), said);

    // 80 MB of zeros take 80 kB: the first byte too many ends the reading.
    let zeros = vec![0_u8; 80 * 1024 * 1024];
    let bomb = made::zip(&[("main.xml", &zeros)]);
    assert!(bomb.len() < 100_000);
    assert_eq!(words(&bomb), "`main.xml` has more than 67108864 bytes: export the one trace alone");
    let bomb = made::zip(&[
        ("main.xml", main.as_bytes()),
        ("md5checksum.hex", sum.as_bytes()),
        ("bindata/data.bin", &zeros),
    ]);
    let said = "`bindata/data.bin` has more bytes: expected 40 for 5 points; it is cut short or of another \
                type, copy or export the file again";
    assert_eq!(words(&bomb), said);
    let large = [("PRF", "SUR"), ("<SizeX>5", "<SizeX>4000000"), ("<SizeY>1", "<SizeY>100")];
    let error = read_x3p(&made::x3p(&large, &data, &[]), Some(1)).unwrap_err().to_string();
    assert_eq!(error, "`bindata/data.bin` has more than 536870912 bytes: export the one trace alone");
    let huge = [
        ("PRF", "SUR"),
        ("<SizeX>5", "<SizeX>999999999999999999"),
        ("<SizeY>1", "<SizeY>999999999999999999"),
    ];
    let error = read_x3p(&made::x3p(&huge, &data, &[]), Some(1)).unwrap_err().to_string();
    assert_eq!(error, "the matrix of points has more than 536870912 bytes: export the one trace alone");
}

#[test]
fn rows_count_from_one() {
    let surface = [("PRF", "SUR"), ("<SizeX>5", "<SizeX>2"), ("<SizeY>1", "<SizeY>2")];
    let file = made::x3p(&surface, &doubles(&[1e-6, 2e-6, 3e-6, 4e-6]), &[]);
    let heights = |row| read_x3p(&file, Some(row)).map(|t| t.heights).map_err(|e| e.to_string());
    assert_eq!(heights(1), Ok(vec![1e-6 * 1e6, 2e-6 * 1e6]));
    assert_eq!(heights(2), Ok(vec![3e-6 * 1e6, 4e-6 * 1e6]));
    for row in [0, 3] {
        let words = format!("row {row} is asked for and the file has 2: rows count from 1");
        assert_eq!(heights(row), Err(words));
    }
}
