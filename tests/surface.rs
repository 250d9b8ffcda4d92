//! Surface analysis against worked numbers, the alloy table, and NumPy and SciPy. All analyses here are
//! invented.
#![allow(clippy::unwrap_used, reason = "a test stops at the first surprise")]

mod faults;
mod reference;

use std::cmp::Ordering;
use std::collections::BTreeMap;

use brightproof::surface::AtomicPercent;
use brightproof::surface::DepthProfile;
use brightproof::surface::Formula;
use brightproof::surface::Method;
use brightproof::surface::ProfileRow;
use brightproof::surface::ReferenceOxide;
use brightproof::surface::SputterRate;
use brightproof::surface::SurfaceRatio;
use brightproof::surface::oxide_depth;
use brightproof::surface::pren;
use brightproof::units::Quantity;
use brightproof::units::Unit;
use proptest::prelude::*;
use rust_decimal::Decimal;

pub fn d(text: &str) -> Decimal {
    text.parse().unwrap()
}

/// A chemistry from `Cr 17.0, Mo 2.1`.
pub fn chemistry(text: &str) -> BTreeMap<String, Quantity> {
    let element = |part: &str| {
        let (symbol, value) = part.trim().split_once(' ').unwrap();
        (symbol.to_owned(), Quantity::new(d(value), Unit::MassPercent))
    };
    text.split(',').map(element).collect()
}

pub const SOUND: &str = "method: XPS
take_off_angle: 45 deg
sum_within: 0.5 at%
elements:
  C: { total: 21.4 at% }
  O: { total: 50.2 at% }
  Cr: { total: 14.9 at%, oxide: 12.6 at%, metal: 2.3 at%, uncertainty: 0.3 at%, oxide_uncertainty: 0.4 at% }
  Fe: { total: 8.1 at%, oxide: 5.2 at%, metal: 2.9 at%, uncertainty: 0.2 at%, oxide_uncertainty: 0.3 at% }
  Ni: { total: 2.3 at% }
  Mo: { total: 1.2 at% }
  Si: { total: 1.9 at% }
";

pub fn analysis(text: &str) -> AtomicPercent {
    serde_yaml::from_str(text).unwrap()
}

/// The pitting number at mid-range of every grade of the alloy table (`surface/pren.csv`, taken from it), to
/// the one decimal the table has. The table counts an element only where both its limits are printed; so does
/// this.
#[test]
fn pren_of_every_grade() {
    let mut reader = csv::Reader::from_reader(include_str!("surface/pren.csv").as_bytes());
    let mut grades = 0;
    for row in reader.deserialize::<BTreeMap<String, String>>() {
        let row = row.unwrap();
        let mut heat = BTreeMap::new();
        for (symbol, low, high) in
            [("Cr", "cr_min", "cr_max"), ("Mo", "mo_min", "mo_max"), ("N", "n_min", "n_max")]
        {
            if !row[low].is_empty() && !row[high].is_empty() {
                let middle = (d(&row[low]) + d(&row[high])) / Decimal::TWO;
                heat.insert(symbol.to_owned(), Quantity::new(middle, Unit::MassPercent));
            }
        }
        let found = pren(&heat, Formula::N16).unwrap();
        let off = (found.value - d(&row["pren_mid"])).abs();
        assert!(off <= d("0.05"), "{}: {found}, table {}", row["grade"], row["pren_mid"]);
        grades += 1;
    }
    assert_eq!(grades, 129);
}

/// Worked by hand: a 2507-like heat, a tungsten duplex like UNS S32760, and what is not stated.
#[test]
fn pren_by_hand() {
    let duplex = chemistry("Cr 25.0, Mo 4.0, N 0.27");
    assert_eq!(pren(&duplex, Formula::N16).unwrap().to_string(), "42.52 (Cr + 3.3 Mo + 16 N)");
    assert_eq!(pren(&duplex, Formula::N30).unwrap().value, d("46.30"));
    let tungsten = chemistry("Cr 25.0, Mo 3.5, N 0.25, W 0.7");
    // 25 + 3.3 · 3.85 + 4 = 41.705, a half: to the even digit.
    assert_eq!(pren(&tungsten, Formula::Tungsten).unwrap().value, d("41.70"));
    assert_eq!(pren(&tungsten, Formula::N16).unwrap().value, d("40.55"));
    let plain = pren(&chemistry("Cr 18.2, Ni 8.1"), Formula::N16).unwrap();
    assert_eq!(plain.to_string(), "at least 18.20 (Cr + 3.3 Mo + 16 N); not stated: Mo, N");
}

/// Worked by hand: 14.9 / 8.1 = 1.840, uncertainty 2 · 1.840 · √((0.3/14.9)² + (0.2/8.1)²) = 0.1172;
/// 12.6 / 5.2 = 2.423, 2 · 2.423 · √((0.4/12.6)² + (0.3/5.2)²) = 0.3191.
#[test]
fn ratios_by_hand() {
    let analysis = analysis(SOUND);
    let ratio = analysis.chromium_to_iron().unwrap();
    assert_eq!(ratio.to_string(), "XPS Cr/Fe at 45 deg: 1.84 ± 0.1172 (k = 2)");
    let ratio = analysis.oxide_ratio().unwrap();
    assert_eq!(ratio.to_string(), "XPS CrOx/FeOx at 45 deg: 2.42 ± 0.3191 (k = 2)");
    let back: AtomicPercent = serde_yaml::from_str(&serde_json::to_string(&analysis).unwrap()).unwrap();
    assert_eq!(back, analysis);
}

/// A film without chromium has a ratio, nought, and an uncertainty.
#[test]
fn no_chromium_is_a_figure() {
    let none = SOUND.replace("total: 14.9 at%, oxide: 12.6 at%, metal: 2.3 at%", "total: 0.0 at%");
    let ratio = analysis(&none.replace("50.2", "65.1")).chromium_to_iron().unwrap();
    assert_eq!((ratio.value, ratio.expanded), (d("0.00"), Some(d("0.0741"))));
}

/// Ratios of two methods, angles, depths or kinds never compare.
#[test]
fn only_like_compares_with_like() {
    let ratio = |text: &str| -> SurfaceRatio { analysis(text).chromium_to_iron().unwrap() };
    let xps = ratio(SOUND);
    let more = ratio(&SOUND.replace("total: 50.2", "total: 50.5").replace("total: 8.1", "total: 8.0"));
    assert_eq!(xps.compare(&more), Ok(Ordering::Less));
    assert_eq!(xps.compare(&xps), Ok(Ordering::Equal));
    let auger = SOUND.replace("XPS", "AES");
    let words = "XPS Cr/Fe at 45 deg does not compare with AES Cr/Fe at 45 deg: \
                 measure both in one way";
    assert_eq!(xps.compare(&ratio(&auger)).unwrap_err().to_string(), words);
    for other in [
        ratio(&SOUND.replace("45 deg", "20 deg")),
        ratio(&SOUND.replace("take_off_angle: 45 deg\n", "")),
        ratio(&SOUND.replace("take_off", "sputtered: { for: 30 s }\ntake_off")),
        analysis(SOUND).oxide_ratio().unwrap(),
    ] {
        assert!(xps.compare(&other).is_err(), "{other}");
    }
    let half_minute = ratio(&SOUND.replace("take_off", "sputtered: { for: 0.5 min }\ntake_off"));
    assert!(
        ratio(&SOUND.replace("take_off", "sputtered: { for: 30 s }\ntake_off")).compare(&half_minute).is_ok()
    );
}

pub fn profile(rows: &[(f64, f64)], bulk_rows: usize) -> DepthProfile {
    DepthProfile {
        method: Method::Aes,
        rate: SputterRate { angstrom_per_minute: d("40"), reference: ReferenceOxide::SiO2 },
        bulk_rows,
        rows: rows
            .iter()
            .map(|(minutes, oxygen)| ProfileRow { minutes: *minutes, oxygen: *oxygen })
            .collect(),
    }
}

/// Worked by hand: most 50, bulk 2, half 26, reached a third of the way from 0.5 min (34) to 0.8 min (10):
/// 0.6 min, 24 Å at 40 Å/min.
#[test]
fn depth_by_hand() {
    let rows = [(0.0, 44.0), (0.2, 50.0), (0.5, 34.0), (0.8, 10.0), (1.1, 4.0), (1.4, 2.5), (1.7, 1.5)];
    let found = oxide_depth(&profile(&rows, 2)).unwrap();
    assert_eq!((found.angstrom, found.minutes, found.rises_again), (d("24.0"), d("0.600"), false));
    assert_eq!(
        found.to_string(),
        "24.0 Å equivalent of SiO2 (AES, oxygen at half between 50.00 and 2.00 at%)"
    );
    // Two equal tops: the first counts, and the film's second layer is told. 50 to 10 passes 26 at 0.6 min.
    let layers = [(0.0, 50.0), (1.0, 10.0), (2.0, 50.0), (3.0, 10.0), (4.0, 2.0), (5.0, 2.0)];
    let found = oxide_depth(&profile(&layers, 2)).unwrap();
    assert_eq!((found.angstrom, found.minutes, found.rises_again), (d("24.0"), d("0.600"), true));
    let mut noisy = rows;
    noisy[4].1 = 30.0;
    let found = oxide_depth(&profile(&noisy, 2)).unwrap();
    assert_eq!((found.angstrom, found.rises_again), (d("24.0"), true));
}

proptest! {
    /// Whatever a file holds, a profile is read or refused; what is read lies within the film.
    #[test]
    fn a_profile_never_panics(
        rows in prop::collection::vec((any::<f64>(), any::<f64>()), 0..12),
        bulk in any::<usize>(), rate in any::<u64>(),
    ) {
        let mut any = profile(&rows, bulk % 8);
        any.rate.angstrom_per_minute = Decimal::from(rate);
        let _ = oxide_depth(&any);
        any.bulk_rows = bulk;
        let _ = oxide_depth(&any);
    }

    /// A falling profile: the depth lies between first and last row and grows with the rate.
    #[test]
    fn a_depth_lies_in_its_profile(
        falls in prop::collection::vec(0.1_f64..8.0, 6..12), step in 0.05_f64..2.0
    ) {
        let mut oxygen = 99.0;
        let mut rows = Vec::new();
        for (i, fall) in (0_u32..).zip(&falls) {
            rows.push((f64::from(i) * step, oxygen));
            oxygen -= fall;
        }
        let mut found = profile(&rows, 1);
        match oxide_depth(&found) {
            Ok(once) => {
                prop_assert!(once.minutes > Decimal::ZERO);
                prop_assert!(brightproof::numeric::number(once.minutes) <= rows.last().unwrap().0);
                found.rate.angstrom_per_minute = d("80");
                let twice = oxide_depth(&found).unwrap();
                prop_assert!((twice.angstrom - once.angstrom * Decimal::TWO).abs() <= d("0.2"));
            }
            // The last fall may be more than half of all.
            Err(fault) => prop_assert!(fault.to_string().contains("too short"), "{fault}"),
        }
    }

    /// Whatever decimals a chemistry has, it is counted or refused.
    #[test]
    fn a_chemistry_never_panics(
        parts in prop::collection::vec(any::<(u32, u32, u32, bool, u32)>(), 4),
    ) {
        let decimal = |(a, b, c, sign, scale): &_| Decimal::from_parts(*a, *b, *c, *sign, scale % 29);
        let values = parts.iter().map(decimal);
        let heat: BTreeMap<String, Quantity> = ["Cr", "Mo", "N", "W"]
            .into_iter()
            .zip(values)
            .map(|(symbol, value)| (symbol.to_owned(), Quantity::new(value, Unit::MassPercent)))
            .collect();
        for formula in [Formula::N16, Formula::N30, Formula::Tungsten] {
            let _ = pren(&heat, formula).map(|found| found.to_string());
        }
    }

    /// Whatever a record holds in its places, it is read or refused.
    #[test]
    fn an_analysis_never_panics(
        cr in "[0-9]{1,3}(\\.[0-9]{1,9})?", fe in "[0-9]{1,2}(\\.[0-9]{1,9})?", u in "0\\.[0-9]{1,9}",
        tolerance in "[0-9](\\.[0-9]{1,9})?", angle in "-?[0-9]{1,3}",
    ) {
        let text = SOUND
            .replace("total: 14.9", &format!("total: {cr}"))
            .replace("oxide: 12.6 at%, metal: 2.3 at%, ", "")
            .replace("total: 8.1", &format!("total: {fe}"))
            .replace("oxide: 5.2 at%, metal: 2.9 at%, ", "")
            .replace("uncertainty: 0.2", &format!("uncertainty: {u}"))
            .replace("within: 0.5", &format!("within: {tolerance}"))
            .replace("45 deg", &format!("{angle} deg"));
        if let Ok(record) = serde_yaml::from_str::<AtomicPercent>(&text) {
            let _ = record.chromium_to_iron().map(|ratio| ratio.to_string());
            let _ = record.oxide_ratio().map(|ratio| ratio.to_string());
        }
    }
}
