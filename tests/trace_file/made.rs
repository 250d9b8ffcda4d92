//! X3P files made here, whole and damaged. The profile is invented.

use std::fmt::Write as _;
use std::io::Cursor;
use std::io::Write as _;

use md5::Digest;
use md5::Md5;
use zip::CompressionMethod;
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

/// Heights of the profile below, in metres.
pub const HEIGHTS: [f64; 5] = [1.25e-7, -2.5e-7, 0.0, 3.0e-8, -1.0e-7];

/// A profile of five heights, D, 0.5 µm apart; `DATA-MD5` stands for the checksum of its points.
pub const MAIN: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<p:ISO5436_2 xmlns:p="http://www.opengps.eu/2008/ISO5436_2">
  <Record1>
    <Revision>ISO5436 - 2000</Revision>
    <FeatureType>PRF</FeatureType>
    <Axes>
      <CX><AxisType>I</AxisType><DataType>D</DataType><Increment>5e-07</Increment><Offset>0</Offset></CX>
      <CY><AxisType>I</AxisType><DataType>D</DataType><Increment>1</Increment><Offset>0</Offset></CY>
      <CZ><AxisType>A</AxisType><DataType>D</DataType><Increment>1</Increment><Offset>0</Offset></CZ>
    </Axes>
  </Record1>
  <Record2>
    <Date>2026-10-05T08:30:00+01:00</Date>
    <Instrument><Manufacturer>Invented &amp; Sons</Manufacturer><Model>S1</Model><Serial>7</Serial>
    </Instrument>
    <ProbingSystem><Type>Contacting</Type><Identification>2 µm, 0.75 mN</Identification></ProbingSystem>
  </Record2>
  <Record3>
    <MatrixDimension><SizeX>5</SizeX><SizeY>1</SizeY><SizeZ>1</SizeZ></MatrixDimension>
    <DataLink>
      <PointDataLink>bindata/data.bin</PointDataLink>
      <MD5ChecksumPointData>DATA-MD5</MD5ChecksumPointData>
    </DataLink>
  </Record3>
  <Record4><ChecksumFile>md5checksum.hex</ChecksumFile></Record4>
</p:ISO5436_2>
"#;

/// MD5, hexadecimal.
pub fn md5(bytes: &[u8]) -> String {
    let mut hex = String::new();
    for byte in Md5::digest(bytes) {
        write!(hex, "{byte:02x}").unwrap();
    }
    hex
}

/// Numbers as `D`.
pub fn doubles(values: &[f64]) -> Vec<u8> {
    values.iter().flat_map(|v| v.to_le_bytes()).collect()
}

/// An archive of these members.
pub fn zip(members: &[(&str, &[u8])]) -> Vec<u8> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    let options = SimpleFileOptions::default().compression_method(CompressionMethod::Deflated);
    for (name, bytes) in members {
        zip.start_file(*name, options).unwrap();
        zip.write_all(bytes).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

/// `main.xml` with some of it replaced; each piece must be there.
pub fn main_with(edits: &[(&str, &str)], data: &[u8]) -> String {
    let mut main = MAIN.to_owned();
    for (from, to) in edits {
        assert!(main.contains(from), "{from}");
        main = main.replacen(from, to, 1);
    }
    main.replace("DATA-MD5", &md5(data))
}

/// An X3P file of these points, `main.xml` edited, checksums right.
pub fn x3p(edits: &[(&str, &str)], data: &[u8], more: &[(&str, &[u8])]) -> Vec<u8> {
    let main = main_with(edits, data);
    let sum = format!("{} *main.xml\n", md5(main.as_bytes()));
    let mut members =
        vec![("main.xml", main.as_bytes()), ("bindata/data.bin", data), ("md5checksum.hex", sum.as_bytes())];
    members.extend_from_slice(more);
    zip(&members)
}

/// The profile, undamaged.
pub fn whole() -> Vec<u8> {
    x3p(&[], &doubles(&HEIGHTS), &[])
}
