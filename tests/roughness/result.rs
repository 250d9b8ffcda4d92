//! Whole evaluations: analytic profiles, the ten-point profile, filtered waves, SciPy, what must not change a
//! result.
#![allow(clippy::unwrap_used, reason = "a test stops at the first surprise")]

use std::f64::consts::PI;

use brightproof::roughness::Ends;
use brightproof::roughness::EndsDone;
use brightproof::roughness::Evaluation;
use brightproof::roughness::EvaluationError;
use brightproof::roughness::Form;
use brightproof::roughness::Profile;
use brightproof::roughness::RawParameters;
use brightproof::roughness::Settings;
use brightproof::roughness::Warning;
use brightproof::roughness::evaluate;
use brightproof::roughness::microinches;
use brightproof::roughness::raw_parameters;

use super::q;
use super::surface;

fn parameters(heights: &[f64]) -> RawParameters {
    raw_parameters(heights, &[heights]).unwrap()
}

fn close(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "{found} against {expected}");
}

/// A wave of one period sampled at the middles of `n` equal parts.
fn wave(n: usize, shape: fn(f64) -> f64) -> Vec<f64> {
    (0..n).map(|i| shape((i as f64 + 0.5) / n as f64)).collect()
}

/// Calculus: a sine has Ra 2A/π, Rq A/√2, Rku 1.5; a triangle A/2, A/√3, 1.8; a square A, A, 1. Sampled sines
/// by `Σ |sin| / n` in closed form, `1 / (n/2 · sin(π/n))`; handbook ratios Rq/Ra 1.110721 and 1.154701.
#[test]
fn analytic_profiles() {
    for (n, ra) in [(8, 0.653_281), (16, 0.640_729), (100, 0.636_725), (1000, 0.636_621)] {
        let sine = parameters(&wave(n, |x| libm::sin(2.0 * PI * x)));
        close(sine.ra, ra, 6e-7);
        close(sine.ra, 1.0 / (n as f64 / 2.0 * libm::sin(PI / n as f64)), 1e-14);
        close(sine.rq, 0.5_f64.sqrt(), 1e-14);
        close(sine.rsk, 0.0, 1e-14);
        close(sine.rku, 1.5, 1e-13);
    }
    let sine = parameters(&wave(100_000, |x| libm::sin(2.0 * PI * x)));
    close(sine.ra, 2.0 / PI, 3e-7);
    close(sine.rq / sine.ra, 1.110_721, 5e-7);
    close(sine.rz, 2.0, 1e-8);
    let triangle = parameters(&wave(100_000, |x| 1.0 - 4.0 * (x - 0.5).abs()));
    close(triangle.ra, 0.5, 1e-9);
    close(triangle.rq / triangle.ra, 1.154_701, 5e-7);
    close(triangle.rku, 1.8, 1e-8);
    let square = parameters(&wave(1_000, |x| if x < 0.5 { 1.0 } else { -1.0 }));
    assert_eq!((square.ra, square.rq, square.rku), (1.0, 1.0, 1.0));
}

/// Normal heights: Rq/Ra = √(π/2) = 1.253314 (handbook), skewness 0, kurtosis 3. The heights are the
/// quantiles at the middles of 100,000 equal parts, found by halving; the tails beyond the outer middles are
/// missing, about 10⁻⁴ of Rq.
#[test]
fn normally_distributed_heights() {
    let quantile = |p: f64| {
        let (mut low, mut high) = (-10.0, 10.0);
        for _ in 0..60 {
            let z = 0.5 * (low + high);
            if brightproof::numeric::normal_cdf(z) < p { low = z } else { high = z }
        }
        0.5 * (low + high)
    };
    let heights: Vec<f64> = (0..100_000).map(|i| quantile((f64::from(i) + 0.5) / 1e5)).collect();
    let found = parameters(&heights);
    close(found.rq / found.ra, 1.253_314, 1e-4);
    close(found.rsk, 0.0, 1e-6);
    close(found.rku, 3.0, 2e-3);
}

/// Worked by hand, on ten heights in µm: Σ|z| = 1.6, Σz² = 0.34, Σz³ = −0.006, Σz⁴ = 0.0214.
#[test]
fn ten_points() {
    let heights = [0.1, -0.2, 0.3, -0.1, 0.0, 0.2, -0.3, 0.1, -0.2, 0.1];
    let found = parameters(&heights).rounded(6).unwrap();
    let shown = [found.ra, found.rq, found.rp, found.rv, found.rz, found.rt].map(|d| d.to_string());
    assert_eq!(shown, ["0.160000", "0.184391", "0.300000", "0.300000", "0.600000", "0.600000"]);
    assert_eq!(found.rsk.unwrap().to_string(), "-0.095705");
    assert_eq!(found.rku.unwrap().to_string(), "1.851211");
    // 0.16 / 0.0254 = 6.29921… µin.
    assert_eq!(found.ra_microinches.to_string(), "6.2992");
}

/// Worked by hand: sampling lengths [1, −1, 1, −1] and [3, −1, 0, −2]. Rp (1+3)/2, Rv (1+2)/2, Rz (2+5)/2, Rt
/// 5, Ra 10/8, Rq √(18/8), mean of Rq (1 + √3.5)/2.
#[test]
fn sampling_lengths_by_hand() {
    let heights = [1.0, -1.0, 1.0, -1.0, 3.0, -1.0, 0.0, -2.0];
    let raw = raw_parameters(&heights, &[&heights[..4], &heights[4..]]).unwrap();
    assert_eq!((raw.rp, raw.rv, raw.rz, raw.rz_max, raw.rt, raw.ra), (2.0, 1.5, 3.5, 5.0, 5.0, 1.25));
    close(raw.rq, 2.25_f64.sqrt(), 1e-15);
    close(raw.rq_mean, (1.0 + 3.5_f64.sqrt()) / 2.0, 1e-15);
}

/// 1 µin = 0.0254 µm exactly: 0.4064 µm is 16 µin; 0.0127 µm a half, which goes to the even digit.
#[test]
fn microinches_are_exact() {
    for (um, places, uin) in
        [("0.4064", 2, "16.00"), ("0.0127", 0, "0"), ("0.0381", 0, "2"), ("1", 3, "39.370")]
    {
        assert_eq!(microinches(um.parse().unwrap(), places).unwrap().to_string(), uin);
    }
}

fn flat_settings() -> Settings {
    Settings { form: Form::None, ..Settings::new(q("0.8 mm")) }
}

/// A sine of 1 µm through λc 0.8 mm: Ra = 2/π · (1 − 2^−((Lc/L)²)) by ISO 16610-21; the rows were computed
/// apart from this code at 4 µm, with weights to one cut-off. 25 and 50 points a wave see a little less than
/// 2/π.
#[test]
fn filtered_waves() {
    for (length, ra) in
        [(100.0, "0.6358"), (200.0, "0.6358"), (400.0, "0.5966"), (800.0, "0.3183"), (1600.0, "0.1013")]
    {
        let heights = (0..1_400).map(|i| libm::sin(2.0 * PI * 4.0 * f64::from(i) / length)).collect();
        let found = evaluate(&Profile::new(4.0, heights).unwrap(), &flat_settings()).unwrap();
        close(found.raw.ra, ra.parse().unwrap(), 1.0e-4);
        assert!(
            matches!(found.ends, EndsDone::FullRunIn { before: 800.0, after: 800.0 }),
            "{:?}",
            found.ends
        );
    }
    // Sampled finely, the theory itself; 200 points a wave miss (π/200)²/3 of Ra, 5·10⁻⁵ µm.
    for (length, kept) in
        [(100.0, 1.0), (200.0, 0.999_985), (400.0, 0.937_5), (800.0, 0.5), (1600.0, 0.159_104)]
    {
        let heights = (0..11_200).map(|i| libm::sin(2.0 * PI * 0.5 * f64::from(i) / length)).collect();
        let found = evaluate(&Profile::new(0.5, heights).unwrap(), &flat_settings()).unwrap();
        close(found.raw.ra, 2.0 / PI * kept, 6e-5);
    }
}

fn settings() -> Settings {
    Settings { short_cutoff: Some(q("2.5 µm")), ..Settings::new(q("0.8 mm")) }
}

fn traced(count: usize, change: impl Fn(usize, f64) -> f64) -> Evaluation {
    let heights = surface(count, 0.5, 11).into_iter().enumerate().map(|(i, z)| change(i, z)).collect();
    evaluate(&Profile::new(0.5, heights).unwrap(), &settings()).unwrap()
}

/// SciPy, on a generated surface: numpy.polyfit for the line, fftconvolve for both filters, scipy.stats.skew
/// and kurtosis about the mean for the last two, whose mean is taken off in the script. The filter is
/// promised within 10⁻⁹ of the height (2 µm after the line is off); the rest is rounding. Rsk and Rku are
/// powers of it.
#[test]
fn as_scipy() {
    for (count, ends) in [(11_200, Ends::Drop), (12_001, Ends::Drop), (8_000, Ends::Normalise)] {
        let heights = surface(count, 0.5, count as u64);
        let input = serde_json::json!({"heights": heights, "spacing": 0.5, "cutoff": 800.0, "short": 2.5});
        let Some(answer) = crate::python::scipy(include_str!("evaluate.py"), &input.to_string()) else {
            return;
        };
        let theirs: std::collections::BTreeMap<String, f64> = serde_json::from_str(&answer).unwrap();
        let found = evaluate(&Profile::new(0.5, heights).unwrap(), &Settings { ends, ..settings() }).unwrap();
        let ours = found.raw;
        for (name, value, within) in [
            ("ra", ours.ra, 5e-9),
            ("rq", ours.rq, 5e-9),
            ("rq_mean", ours.rq_mean, 5e-9),
            ("rp", ours.rp, 1e-8),
            ("rv", ours.rv, 1e-8),
            ("rz", ours.rz, 1e-8),
            ("rt", ours.rt, 1e-8),
            ("rsk", ours.rsk, 1e-7),
            ("rku", ours.rku, 1e-7),
        ] {
            let expected = theirs[name];
            assert!((value - expected).abs() < within, "{count} points, {name}: {value} against {expected}");
        }
        // About their own mean, as SciPy's functions have it.
        let mean = found.curves.roughness.iter().sum::<f64>() / found.curves.roughness.len() as f64;
        let centred: Vec<f64> = found.curves.roughness.iter().map(|z| z - mean).collect();
        let about = parameters(&centred);
        close(about.rsk, theirs["skew"], 1e-7);
        close(about.rku, theirs["kurtosis"], 1e-7);
    }
}

/// Lifting a trace, tilting it, or turning it end to end changes no parameter; turning it over swaps peaks
/// and valleys; twice the height gives twice the values (definitions).
#[test]
fn what_must_not_change_a_result() {
    let plain = traced(11_200, |_, z| z);
    assert!(plain.warnings.is_empty(), "{:?}", plain.warnings);
    let lifted = traced(11_200, |_, z| z + 123.0);
    let tilted = traced(11_200, |i, z| z - 0.013 * i as f64);
    for other in [&lifted, &tilted] {
        assert_eq!(other.parameters, plain.parameters);
        assert_eq!(other.each, plain.each);
        close(other.raw.rku, plain.raw.rku, 1e-9);
    }
    let over = traced(11_200, |_, z| -z);
    close(over.raw.rp, plain.raw.rv, 1e-12);
    close(over.raw.rsk, -plain.raw.rsk, 1e-12);
    let double = traced(11_200, |_, z| 2.0 * z);
    close(double.raw.ra, 2.0 * plain.raw.ra, 1e-14);
    close(double.raw.rz, 2.0 * plain.raw.rz, 1e-14);
    let mut heights = surface(11_200, 0.5, 11);
    heights.reverse();
    let back = evaluate(&Profile::new(0.5, heights).unwrap(), &settings()).unwrap();
    close(back.raw.rq, plain.raw.rq, 1e-9);
    close(back.raw.rp, plain.raw.rp, 1e-9);
}

/// Rounded means of what is in the pictures; five sampling lengths of 1600 points.
#[test]
fn the_curves_hold_what_was_judged() {
    let found = traced(11_200, |_, z| z);
    assert_eq!((found.curves.first, found.curves.roughness.len(), found.each.len()), (1_600, 8_000, 5));
    let again = parameters(&found.curves.roughness);
    assert_eq!((again.ra.to_bits(), again.rt.to_bits()), (found.raw.ra.to_bits(), found.raw.rt.to_bits()));
    for i in [0, 4_321, 7_999] {
        let c = &found.curves;
        assert_eq!((c.primary[i] - c.mean_line[i]).to_bits(), c.roughness[i].to_bits());
    }
    assert_eq!(found.parameters.ra.scale(), 4);
    assert_eq!(found.ra_values().len(), 5);
    let mean: f64 = found.each.iter().map(|s| brightproof::numeric::number(s.ra)).sum::<f64>() / 5.0;
    close(mean, found.raw.ra, 1e-4);
}

/// What is done at the ends is told, and a default never shortens the run-in in silence.
#[test]
fn ends_are_told() {
    let trace = |count| Profile::new(0.5, surface(count, 0.5, 5)).unwrap();
    let drop = settings();
    let normalise = Settings { ends: Ends::Normalise, ..settings() };
    let full = evaluate(&trace(11_200), &drop).unwrap();
    assert_eq!(
        full.ends.to_string(),
        "run-in of 800.0 µm and run-out of 800.0 µm left out, at least one cut-off each"
    );
    let half = evaluate(&trace(9_600), &drop).unwrap();
    assert!(matches!(half.ends, EndsDone::HalfRunIn { .. }));
    assert!(half.warnings.contains(&Warning::ShortRunIn));
    // Half a cut-off is 800 points, of which one may be lost to rounding.
    assert!(matches!(evaluate(&trace(9_598), &drop).unwrap().ends, EndsDone::HalfRunIn { .. }));
    assert!(matches!(evaluate(&trace(9_597), &drop), Err(EvaluationError::NoRunIn { .. })));
    assert!(matches!(evaluate(&trace(11_198), &drop).unwrap().ends, EndsDone::FullRunIn { .. }));
    assert!(matches!(evaluate(&trace(11_197), &drop).unwrap().ends, EndsDone::HalfRunIn { .. }));
    // Seven cut-offs of 1142.86 points.
    let broken = evaluate(&Profile::new(0.7, surface(8_000, 0.7, 5)).unwrap(), &Settings::new(q("0.8 mm")));
    assert!(matches!(broken.unwrap().ends, EndsDone::FullRunIn { .. }));
    let none = evaluate(&trace(8_500), &drop).unwrap_err();
    assert_eq!(
        none.to_string(),
        "the trace is 4250.0 µm long and 4800.0 µm are needed (5 sampling lengths of 0.8 mm and half a \
        cut-off of run-in \
         and run-out): trace a longer stretch, evaluate fewer sampling lengths, or ask for the ends to be \
         normalised"
    );
    let asked = evaluate(&trace(8_000), &normalise).unwrap();
    assert!(matches!(asked.ends, EndsDone::Normalised { before: 0.0, after: 0.0 }));
    let short = evaluate(&trace(7_999), &normalise).unwrap_err();
    assert_eq!(
        short.to_string(),
        "the trace is 3999.5 µm long and the evaluation length is 4000.0 µm (5 sampling lengths of 0.8 \
        mm): trace a \
         longer stretch, evaluate fewer sampling lengths, or take a shorter cut-off"
    );
}

/// Spacing of ISO 3274 (recalled): 0.5 µm for cut-offs to 0.8 mm.
#[test]
fn warnings_are_values() {
    let coarse = Profile::new(1.0, surface(5_600, 1.0, 5)).unwrap();
    let found = evaluate(&coarse, &Settings::new(q("0.8 mm"))).unwrap();
    assert_eq!(found.warnings, [Warning::Spacing { found: 1.0, most: 0.5 }, Warning::NoShortCutoff]);
    let three = Settings { lengths: 3, ..Settings::new(q("0.8 mm")) };
    assert!(evaluate(&coarse, &three).unwrap().warnings.contains(&Warning::Lengths(3)));
    let fine: Vec<f64> = surface(11_200, 0.5, 5).iter().map(|z| 0.1 * z).collect();
    let found = evaluate(&Profile::new(0.5, fine.clone()).unwrap(), &settings()).unwrap();
    assert!(found.parameters.ra < "0.1".parse().unwrap());
    assert_eq!(found.warnings, [Warning::FineForCutoff]);
    let shorter = Settings { cutoff: q("0.25 mm"), ..settings() };
    assert!(evaluate(&Profile::new(0.5, fine).unwrap(), &shorter).unwrap().warnings.is_empty());
    let rough = Settings { short_cutoff: Some(q("2 µm")), ..settings() };
    assert!(traced_with(&rough).unwrap().warnings.contains(&Warning::CoarseShortCutoff));
}

fn traced_with(settings: &Settings) -> Result<Evaluation, EvaluationError> {
    evaluate(&Profile::new(0.5, surface(11_200, 0.5, 5)).unwrap(), settings)
}

#[test]
fn settings_that_make_no_sense_are_refused() {
    let base = settings();
    for cutoff in ["0 mm", "-0.8 mm", "2000 mm", "5 °C"] {
        let found = traced_with(&Settings { cutoff: q(cutoff), ..base.clone() });
        assert!(matches!(found, Err(EvaluationError::Cutoff { .. })), "{cutoff}");
    }
    let band = traced_with(&Settings { short_cutoff: Some(q("0.8 mm")), ..base.clone() }).unwrap_err();
    assert!(band.to_string().starts_with("the short-wave cut-off 0.8 mm is not shorter"), "{band}");
    assert!(matches!(
        traced_with(&Settings { lengths: 0, ..base.clone() }),
        Err(EvaluationError::Lengths(0))
    ));
    assert!(matches!(
        traced_with(&Settings { places: 10, ..base.clone() }),
        Err(EvaluationError::Places(10))
    ));
    let tiny = traced_with(&Settings { short_cutoff: Some(q("0.9 µm")), ..base }).unwrap_err();
    assert!(tiny.to_string().contains("holds 1.80 points"), "{tiny}");
}

/// An inch cut-off is the same length exactly: 0.03 in is 0.762 mm, not 0.8 mm; 1524 points a sampling
/// length.
#[test]
fn a_cutoff_in_inches() {
    let found = traced_with(&Settings { cutoff: q("0.03 in"), ..settings() }).unwrap();
    assert_eq!(found.curves.roughness.len(), 5 * 1_524);
}

/// A flat trace has no skewness to speak of.
#[test]
fn a_flat_trace() {
    let flat = Profile::new(0.5, vec![7.0; 11_200]).unwrap();
    let found = evaluate(&flat, &settings()).unwrap().parameters;
    assert_eq!((found.ra.to_string(), found.rsk, found.rku), ("0.0000".to_owned(), None, None));
}
