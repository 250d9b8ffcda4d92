//! Whatever the bytes, an answer and no panic; a whole file cut or changed anywhere is refused or reads
//! the same.

use brightproof::trace_file::read_csv;
use brightproof::trace_file::read_x3p;
use brightproof::trace_form::TraceForm;
use proptest::collection::vec;
use proptest::prelude::any;
use proptest::prop_assert;
use proptest::prop_assert_eq;
use proptest::proptest;
use proptest::sample::Index;
use proptest::sample::select;

use super::made;

const LAYOUTS: [&str; 4] = [
    "{delimiter: ';', z: 1, unit_z: µm, spacing: 0.5 µm}",
    "{delimiter: ',', x: 1, z: 2, unit_x: mm, unit_z: nm}",
    "{delimiter: space, decimal: comma, encoding: Latin-1, skip_lines: 1, x: 1, z: 2, unit_x: in, \
      unit_z: µin}",
    "{delimiter: tab, x: X, z: Z, unit_x: m, unit_z: m}",
];

fn form(text: &str) -> TraceForm {
    serde_yaml::from_str(text).unwrap()
}

/// What every trace that was read keeps to.
fn sound(trace: &brightproof::trace_file::Trace, bytes: usize) -> bool {
    let heights = &trace.heights;
    (1e-6..=1e6).contains(&trace.spacing)
        && (2..=bytes.max(2)).contains(&heights.len())
        && heights.iter().all(|h| h.is_finite() && h.abs() <= 1e6)
        && trace.told.len() <= 40
        && trace.told.iter().all(|t| t.says.chars().count() <= 200)
}

proptest! {
    #[test]
    fn any_table(bytes in vec(any::<u8>(), 0..400), layout in select(&LAYOUTS[..])) {
        if let Ok(trace) = read_csv(&bytes, &form(layout)) {
            prop_assert!(sound(&trace, bytes.len()));
        }
    }

    /// Bytes a table is made of come much nearer to one.
    #[test]
    fn nearly_a_table(
        text in "(X\tZ\n)?([0-9eE,.;\t \"nan+-]{0,8}\r?\n){0,12}",
        layout in select(&LAYOUTS[..]),
    ) {
        if let Ok(trace) = read_csv(text.as_bytes(), &form(layout)) {
            prop_assert!(sound(&trace, text.len()));
        }
    }

    /// Heights written with all their digits come back to the bit.
    #[test]
    fn written_and_read(heights in vec(-1e5..1e5_f64, 2..50)) {
        let text: String = heights.iter().map(|h| format!("{h:e}\n")).collect();
        let trace = read_csv(text.as_bytes(), &form(LAYOUTS[0])).unwrap();
        prop_assert_eq!(trace.heights, heights);
    }

    #[test]
    fn any_archive(bytes in vec(any::<u8>(), 0..600)) {
        prop_assert!(read_x3p(&bytes, Some(1)).is_err());
    }

    /// One byte of a whole file changed: refused, or nothing of the trace changed.
    #[test]
    fn one_byte_changed(at in any::<Index>(), to in any::<u8>()) {
        let whole = made::whole();
        let trace = read_x3p(&whole, None).unwrap();
        let mut bytes = whole.clone();
        bytes[at.index(whole.len())] = to;
        if let Ok(read) = read_x3p(&bytes, None) {
            prop_assert_eq!(read, trace);
        }
    }

    #[test]
    fn cut_short(at in any::<Index>()) {
        let whole = made::whole();
        prop_assert!(read_x3p(&whole[..at.index(whole.len())], None).is_err());
    }

    /// `main.xml` with a piece taken out or put elsewhere, and its checksum made right again.
    #[test]
    fn main_changed(
        from in any::<Index>(),
        to in any::<Index>(),
        len in 0..40_usize,
        text in "[<>/&;IADx0-9e.-]{0,12}",
    ) {
        let data = made::doubles(&made::HEIGHTS);
        let main: Vec<char> = made::MAIN.chars().collect();
        let (from, to) = (from.index(main.len()), to.index(main.len()));
        let cut: String = main[..from].iter().chain(main.iter().skip(from + len)).collect();
        let at = cut.char_indices().map(|(i, _)| i).nth(to).unwrap_or(0);
        let changed = format!("{}{text}{}", &cut[..at], &cut[at..]).replace("DATA-MD5", &made::md5(&data));
        let sum = made::md5(changed.as_bytes());
        let members: [(&str, &[u8]); 3] = [
            ("main.xml", changed.as_bytes()),
            ("bindata/data.bin", &data),
            ("md5checksum.hex", sum.as_bytes()),
        ];
        if let Ok(trace) = read_x3p(&made::zip(&members), Some(1)) {
            prop_assert!(sound(&trace, 10));
        }
    }

    /// Points of any bits: read as finite numbers, or refused.
    #[test]
    fn any_points(data in vec(any::<u8>(), 40..=40)) {
        if let Ok(trace) = read_x3p(&made::x3p(&[], &data, &[]), None) {
            prop_assert!(sound(&trace, 10));
        }
    }
}
