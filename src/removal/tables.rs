//! Tables the reckoning leans on: atomic weights, quantiles of Student's t, limits of Grubbs' test.

use rust_decimal::Decimal;

use super::Valences;

/// Atomic weight, g/mol, and whether the element dissolves as a metal that takes part in the equivalent
/// weight. IUPAC abridged standard atomic weights, 2021; recalled. Carbon, nitrogen, phosphorus, sulfur,
/// selenium, boron and hydrogen are known but take no part: they do not leave as ions that carry the current
/// (common practice).
const ELEMENTS: &[(&str, i64, u32)] = &[
    ("H", 1_008, 3),
    ("B", 1_081, 2),
    ("C", 12_011, 3),
    ("N", 14_007, 3),
    ("Al", 26_982, 3),
    ("Si", 28_085, 3),
    ("P", 30_974, 3),
    ("S", 3_206, 2),
    ("Ti", 47_867, 3),
    ("V", 50_942, 3),
    ("Cr", 51_996, 3),
    ("Mn", 54_938, 3),
    ("Fe", 55_845, 3),
    ("Co", 58_933, 3),
    ("Ni", 58_693, 3),
    ("Cu", 63_546, 3),
    ("Se", 78_971, 3),
    ("Nb", 92_906, 3),
    ("Mo", 9_595, 2),
    ("Ta", 18_095, 2),
    ("W", 18_384, 2),
];

/// Atomic weight of an element of stainless steels, g/mol; `None` for any other symbol. IUPAC abridged
/// standard atomic weights, 2021 (recalled).
pub fn atomic_weight(symbol: &str) -> Option<Decimal> {
    ELEMENTS.iter().find(|(s, ..)| *s == symbol).map(|(_, mantissa, scale)| Decimal::new(*mantissa, *scale))
}

/// Electrons an atom gives up under a valence set; `None` for an element that takes no part.
pub(crate) fn valence(symbol: &str, set: Valences) -> Option<u32> {
    let lowest = matches!(set, Valences::Lowest | Valences::LowestMo4);
    Some(match (symbol, set) {
        ("Fe", _) if lowest => 2,
        ("Fe", _) => 3,
        ("Cr", Valences::Fe3Cr6) => 6,
        ("Cr", _) => 3,
        ("Mo", Valences::Lowest) => 3,
        ("Mo", Valences::LowestMo4) => 4,
        ("Mo", _) => 6,
        ("Cu", _) if lowest => 1,
        ("Ni" | "Mn" | "Co" | "Cu", _) => 2,
        ("Al", _) => 3,
        ("Si" | "Ti", _) => 4,
        ("Nb" | "V" | "Ta", _) => 5,
        ("W", _) => 6,
        _ => return None,
    })
}

/// 97.5 % quantiles of Student's t for 1 to 30 degrees of freedom, in ten-thousandths. Any table of the t
/// distribution (JCGM 100 annex G holds such a one; recalled); each is held against scipy.stats.t by a test.
const T: [i64; 30] = [
    127_062, 43_027, 31_824, 27_764, 25_706, 24_469, 23_646, 23_060, 22_622, 22_281, 22_010, 21_788, 21_604,
    21_448, 21_314, 21_199, 21_098, 21_009, 20_930, 20_860, 20_796, 20_739, 20_687, 20_639, 20_595, 20_555,
    20_518, 20_484, 20_452, 20_423,
];

/// Quantiles beyond 30 degrees of freedom: from how many on, and the value.
const T_BEYOND: [(usize, i64); 3] = [(120, 19_799), (60, 20_003), (40, 20_211)];

/// Student's t for two-sided 95 %, to four decimals; between rows the next fewer degrees of freedom, which
/// errs to the wide side. `None` without a degree of freedom.
pub fn student_t(freedom: usize) -> Option<Decimal> {
    let row = T
        .get(freedom.checked_sub(1)?)
        .or_else(|| T_BEYOND.iter().find(|(from, _)| freedom >= *from).map(|(_, t)| t).or(T.last()));
    row.map(|t| Decimal::new(*t, 4))
}

/// Limits of Grubbs' test for one outlier, two-sided 5 %, for 3 to 30 values, in ten-thousandths: the
/// farthest value in standard deviations of the sample. From Student's t by Grubbs' formula (1950); held
/// against scipy by a test.
const GRUBBS: [i64; 28] = [
    11_543, 14_813, 17_150, 18_871, 20_200, 21_266, 22_150, 22_900, 23_547, 24_116, 24_620, 25_073, 25_483,
    25_857, 26_200, 26_516, 26_809, 27_082, 27_338, 27_577, 27_803, 28_016, 28_217, 28_408, 28_589, 28_762,
    28_927, 29_085,
];

/// Limit of Grubbs' test (two-sided 5 %) for this many values; beyond 30 that of 30. `None` below 3.
pub fn grubbs(values: usize) -> Option<Decimal> {
    let row = GRUBBS.get(values.checked_sub(3)?).or(GRUBBS.last());
    row.map(|g| Decimal::new(*g, 4))
}
