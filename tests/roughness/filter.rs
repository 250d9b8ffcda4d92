//! The mean line: transmission of waves, the plain sum, SciPy, the same bytes everywhere.
#![allow(clippy::unwrap_used, reason = "a test stops at the first surprise")]

use brightproof::roughness::FilterError;
use brightproof::roughness::GaussianFilter;

use super::gap;
use super::noise;

/// The definition, weight by weight: ISO 16610-21 (recalled), `exp(−π (k / (α Lc))²)`, α² = ln 2 / π, divided
/// by the sum of the weights that meet the trace.
fn plain(heights: &[f64], cutoff: f64) -> Vec<f64> {
    let reach = (1.4 * cutoff).floor() as i64;
    let alpha = (std::f64::consts::LN_2 / std::f64::consts::PI).sqrt();
    let weight = |k: i64| {
        let x = k as f64 / (alpha * cutoff);
        libm::exp(-std::f64::consts::PI * x * x)
    };
    let weights: Vec<f64> = (-reach..=reach).map(weight).collect();
    let at = |i: usize| {
        let (mut top, mut foot) = (0.0, 0.0);
        for (w, k) in weights.iter().zip(-reach..) {
            if let Some(z) = usize::try_from(i as i64 + k).ok().and_then(|j| heights.get(j)) {
                top += w * z;
                foot += w;
            }
        }
        top / foot
    };
    (0..heights.len()).map(at).collect()
}

/// Cut-offs on both sides of the border at 64 points, whole and broken, and those of usual traces.
const CUTOFFS: [f64; 16] =
    [2.0, 3.7, 5.0, 16.0, 63.9, 64.1, 65.0, 74.9, 85.2, 111.0, 160.0, 171.9, 200.0, 500.5, 511.3, 1600.0];

/// Published: the amplitude a wave keeps is 2^−((Lc/L)²), 50 % at the cut-off (ISO 16610-21, recalled;
/// handbooks print the rounded rows). The six digits fix the first tolerance; the second is the accuracy
/// promised for the filter.
#[test]
fn waves_pass_as_published() {
    let rows = [
        (0.25, 0.000_015),
        (1.0 / 3.0, 0.001_953),
        (0.5, 0.062_500),
        (0.75, 0.291_632),
        (1.0, 0.500_000),
        (1.5, 0.734_867),
        (2.0, 0.840_896),
        (3.0, 0.925_875),
        (5.0, 0.972_655),
    ];
    for cutoff in [36.0, 240.0, 1600.0] {
        let filter = GaussianFilter::new(cutoff, 1.0).unwrap();
        let half = (4.0 * cutoff) as usize;
        for (ratio, mean_line) in rows {
            let turn = 2.0 * std::f64::consts::PI / (ratio * cutoff);
            let wave: Vec<f64> = (0..=2 * half).map(|i| libm::cos(turn * (i as f64 - half as f64))).collect();
            let kept = filter.mean_line(&wave).unwrap()[half];
            assert!((kept - mean_line).abs() < 6e-7, "L/Lc {ratio}: {kept}");
            let exact = libm::exp2(-1.0 / (ratio * ratio));
            assert!((kept - exact).abs() < 1e-9, "L/Lc {ratio}: {kept} against {exact}");
        }
    }
}

/// Against the plain sum, on rough traces and on steps, from one cut-off long to several: at every point, the
/// ends among them, within 10⁻⁹ of the greatest height.
#[test]
fn as_the_plain_sum() {
    for (seed, cutoff) in CUTOFFS.into_iter().enumerate() {
        let filter = GaussianFilter::new(cutoff, 1.0).unwrap();
        // The plain sum of a long cut-off takes its time; ends and middle are both in 2.9 cut-offs.
        for lengths in if cutoff > 600.0 { vec![1.0, 2.9] } else { vec![1.0, 1.37, 2.9, 4.0] } {
            let count = (lengths * cutoff).ceil() as usize;
            let rough = noise(count, seed as u64 + 77);
            let step: Vec<f64> = (0..count).map(|i| if i % 97 < 40 { 1.0 } else { -1.0 }).collect();
            for heights in [rough, step] {
                let far = gap(&filter.mean_line(&heights).unwrap(), &plain(&heights, cutoff));
                assert!(far < 1e-9, "cut-off {cutoff}, {count} points: {far:e}");
            }
        }
    }
}

/// The bound for every trace there is: the line at a point is a sum of heights with weights, so its error is
/// at most the greatest height times the sum of what is wrong with the weights. A single peak shows all
/// weights it has; the filter treats the point that gives and the point that takes alike, so the sum over the
/// takers is that over the givers.
#[test]
fn all_wrong_weights_together() {
    let mut cutoffs: Vec<f64> = (0..60).map(|i| 64.3 + 5.37 * f64::from(i)).collect();
    cutoffs.extend([800.0, 1066.7, 1600.0]);
    for cutoff in cutoffs {
        let filter = GaussianFilter::new(cutoff, 1.0).unwrap();
        // Room for the weights to both sides, and for theirs, before an end changes any.
        let count = (10.0 * cutoff) as usize;
        // Peaks at several places of a block between two nodes; 23 is prime to their distance.
        for peak in (0..5).map(|i| count / 2 + 23 * i) {
            let mut heights = vec![0.0; count];
            heights[peak] = 1.0;
            let line = filter.mean_line(&heights).unwrap();
            let exact: Vec<f64> = gaussian_at(count, peak, cutoff);
            let wrong: f64 = line.iter().zip(&exact).map(|(a, b)| (a - b).abs()).sum();
            assert!(wrong < 1.5e-10, "cut-off {cutoff}, peak {peak}: {wrong:e}");
        }
    }
}

/// The weights around a peak, far from the ends.
fn gaussian_at(count: usize, peak: usize, cutoff: f64) -> Vec<f64> {
    let alpha = (std::f64::consts::LN_2 / std::f64::consts::PI).sqrt();
    let weight = |i: usize| {
        let x = (i as f64 - peak as f64) / (alpha * cutoff);
        if (i as f64 - peak as f64).abs() > 1.4 * cutoff {
            0.0
        } else {
            libm::exp(-std::f64::consts::PI * x * x)
        }
    };
    let weights: Vec<f64> = (0..count).map(weight).collect();
    let total: f64 = weights.iter().sum();
    weights.iter().map(|w| w / total).collect()
}

/// SciPy: scipy.signal.fftconvolve with the same weights, divided by what it makes of a trace of ones. Its
/// own rounding is about 10⁻¹⁵ of the height; ours is promised within 10⁻⁹.
#[test]
fn as_scipy() {
    let cases: Vec<(f64, Vec<f64>)> =
        [(5.0, 900), (160.0, 1_400), (511.3, 6_000), (1600.0, 8_000), (1600.0, 20_011)]
            .map(|(cutoff, count)| (cutoff, noise(count, count as u64)))
            .to_vec();
    let input = serde_json::to_string(&cases).unwrap();
    let Some(answer) = crate::python::scipy(include_str!("mean_line.py"), &input) else { return };
    let lines: Vec<Vec<f64>> = serde_json::from_str(&answer).unwrap();
    assert_eq!(lines.len(), cases.len());
    for ((cutoff, heights), line) in cases.iter().zip(&lines) {
        let ours = GaussianFilter::new(*cutoff, 1.0).unwrap().mean_line(heights).unwrap();
        let far = gap(&ours, line);
        assert!(far < 1e-9, "cut-off {cutoff}, {} points: {far:e}", heights.len());
    }
}

/// The same bytes on every machine and in every build: a check sum (FNV-1a) over all bits of two lines.
#[test]
fn the_same_bytes_everywhere() {
    let sum = |cutoff: f64| {
        let line = GaussianFilter::new(cutoff, 0.5).unwrap().mean_line(&noise(5_000, 3)).unwrap();
        let bytes = line.iter().flat_map(|z| z.to_bits().to_le_bytes());
        bytes.fold(0xCBF2_9CE4_8422_2325_u64, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x100_0000_01B3)
        })
    };
    assert_eq!((sum(2.5), sum(800.0)), (4_440_928_071_037_682_378, 8_049_754_389_934_357_938));
}

/// A level trace is its own mean line, and a height common to all points costs no digits.
#[test]
fn what_is_level_stays() {
    for cutoff in CUTOFFS {
        let filter = GaussianFilter::new(cutoff, 1.0).unwrap();
        let line = filter.mean_line(&vec![1e5; 4_000]).unwrap();
        assert!(line.iter().all(|z| (z - 1e5).abs() < 1e-10), "cut-off {cutoff}");
        let rough = noise(4_000, 9);
        let lifted: Vec<f64> = rough.iter().map(|z| z + 1e5).collect();
        let down: Vec<f64> = filter.mean_line(&lifted).unwrap().iter().map(|z| z - 1e5).collect();
        // 1e5 has 1.5e-11 between neighbouring doubles.
        assert!(gap(&down, &filter.mean_line(&rough).unwrap()) < 1e-9, "cut-off {cutoff}");
    }
}

/// A slope passes a symmetrical filter unchanged where no end is near (by symmetry of the weights).
#[test]
fn a_slope_passes_unchanged() {
    for cutoff in [16.0, 160.0, 500.5] {
        let slope: Vec<f64> = (0..4_000).map(|i| 0.01 * f64::from(i)).collect();
        let filter = GaussianFilter::new(cutoff, 1.0).unwrap();
        let line = filter.mean_line(&slope).unwrap();
        let inner = filter.reach()..slope.len() - filter.reach();
        assert!(gap(&line[inner.clone()], &slope[inner]) < 1e-9 * 20.0, "cut-off {cutoff}");
    }
}

#[test]
fn what_cannot_be_filtered_is_refused() {
    for bad in [0.0, -0.8, f64::NAN, f64::INFINITY, 2e6] {
        assert!(matches!(GaussianFilter::new(bad, 0.5), Err(FilterError::Cutoff(_))));
        assert!(matches!(GaussianFilter::new(800.0, bad), Err(FilterError::Spacing(_))));
    }
    assert!(matches!(GaussianFilter::new(2.5, 1.5), Err(FilterError::TooCoarse { .. })));
    assert!(matches!(GaussianFilter::new(8000.0, 1e-4), Err(FilterError::TooLong { .. })));
    let filter = GaussianFilter::new(800.0, 0.5).unwrap();
    assert_eq!(
        filter.mean_line(&[0.0; 1_599]).unwrap_err().to_string(),
        "the trace has 1599 points and the cut-off alone needs 1600: trace a longer stretch, or choose a \
        shorter cut-off"
    );
}
