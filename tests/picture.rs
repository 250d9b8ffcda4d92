//! Charts as scenes and as SVG: kept pictures, geometry, well-formedness. All data is invented or generated.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops at the first surprise")]

use brightproof::picture;
use brightproof::picture::Anchor;
use brightproof::picture::BathLog;
use brightproof::picture::Drawing;
use brightproof::picture::Estimate;
use brightproof::picture::Form;
use brightproof::picture::OcCurve;
use brightproof::picture::Panel;
use brightproof::picture::Profile;
use brightproof::picture::Removal;
use brightproof::picture::Roughness;
use brightproof::picture::Shape;
use proptest::prelude::*;
use rust_decimal::Decimal;

fn d(text: &str) -> Decimal {
    text.parse().unwrap()
}

/// 2026-11-24T09:30-05:00 (Python's datetime).
const HALF_PAST_NINE: i64 = 1_795_530_600;

/// A bath that drifts, is topped up, and is not recorded for eight minutes. Invented.
fn bath(width: i64, second: bool) -> BathLog {
    let mut readings = Vec::new();
    let mut amps = Vec::new();
    for i in 0..160_i64 {
        let time = HALF_PAST_NINE + i * 20;
        // A slow wave in tenths: 129 to 152 °F, with a saw on it.
        let wave =
            [1_380, 1_400, 1_430, 1_470, 1_500, 1_518, 1_490, 1_450, 1_420, 1_390, 1_330, 1_290, 1_310];
        let (k, r) = ((i / 13) as usize, i % 13);
        let now = wave[k % 13] + (wave[(k + 1) % 13] - wave[k % 13]) * r / 13 + (i * 7 % 5) - 2;
        if !(84..108).contains(&i) {
            readings.push((time, Decimal::new(now, 1)));
        }
        amps.push((time, Decimal::new(if (30..132).contains(&i) { 4_800 + i * 11 % 90 } else { 0 }, 1)));
    }
    BathLog {
        title: "Nitric bath 2, run 14".into(),
        width,
        offset: -18_000,
        main: Panel {
            name: "Temperature".into(),
            unit: "°F".into(),
            readings,
            low: Some(d("130")),
            high: Some(d("150")),
        },
        second: second.then(|| Panel {
            name: "Current".into(),
            unit: "A".into(),
            readings: amps,
            low: None,
            high: Some(d("500")),
        }),
        immersed: Some((HALF_PAST_NINE + 600, HALF_PAST_NINE + 2_640)),
        longest_gap: Some(60),
    }
}

fn steady(width: i64) -> BathLog {
    let readings = (0..40).map(|i| (HALF_PAST_NINE + i * 60, Decimal::new(1_400 + i * 3 % 7, 1))).collect();
    let mut log = bath(width, false);
    log.main = Panel { readings, ..log.main };
    log.immersed = Some((HALF_PAST_NINE, HALF_PAST_NINE + 2_340));
    log
}

/// A surface in 0.001 µm from a fixed generator (Numerical Recipes' linear congruential one, as recalled).
fn surface(points: u32, size: i64, seed: u32) -> Vec<(Decimal, Decimal)> {
    let mut state = seed;
    let mut height = 0_i64;
    let point = |i: u32| {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        height = height * 3 / 4 + i64::from(state >> 16) % (2 * size + 1) - size;
        (Decimal::new(i64::from(i) * 4_800 / i64::from(points - 1), 3), Decimal::new(height, 3))
    };
    (0..points).map(point).collect()
}

fn oc(width: i64) -> OcCurve {
    // Poisson, np from 0 to 10, c = 2, worked with Python: exp(-m) (1 + m + m²/2), rounded to four places.
    let pa = [
        "1", "0.9856", "0.9197", "0.8088", "0.6767", "0.5438", "0.4232", "0.3208", "0.2381", "0.1736",
        "0.1247", "0.0884", "0.0620", "0.0430", "0.0296", "0.0203", "0.0138", "0.0093", "0.0062", "0.0042",
        "0.0028",
    ];
    // n = 80: np = 0.5 is 0.625 per cent.
    let points = pa.iter().zip(0..).map(|(pa, i)| (Decimal::new(625 * i, 3), d(pa))).collect();
    OcCurve {
        title: "What the plan lets through".into(),
        width,
        n: 80,
        ac: 2,
        points,
        aql: Some((d("1.0"), d("0.9526"))),
        ltpd: Some((d("6.5"), d("0.1088"))),
    }
}

fn removed(width: i64) -> Removal {
    let estimate = |name: &str, value: &str, most: Option<&str>| Estimate {
        name: name.into(),
        value: d(value),
        uncertainty: most.map(d),
    };
    Removal {
        title: "Metal removed from one surface".into(),
        width,
        estimates: vec![
            estimate("Charge passed", "14.2", Some("2.1")),
            estimate("Weighing", "12.85", Some("0.35")),
            estimate("Dimensions", "21", Some("3")),
        ],
        low: Some(d("10")),
        high: Some(d("20")),
    }
}

fn rough(before: &[(Decimal, Decimal)], after: &[(Decimal, Decimal)], width: i64) -> Drawing {
    let mean = |points: &[(Decimal, Decimal)]| -> Vec<(Decimal, Decimal)> {
        let each = points.chunks(60).map(|c| {
            let sum: Decimal = c.iter().map(|(_, z)| *z).sum();
            (c[0].0, (sum / Decimal::from(c.len())).round_dp(3))
        });
        each.collect()
    };
    let (first, last) = (mean(before), mean(after));
    let evaluation = Some((d("0.4"), d("4.4")));
    picture::roughness(&Roughness {
        title: "Profile of the inner wall",
        width,
        before: Some(Profile {
            name: "Before electropolishing",
            points: before,
            mean_line: &first,
            evaluation,
            ra: Some("0.62 µm"),
        }),
        after: Some(Profile {
            name: "After electropolishing",
            points: after,
            mean_line: &last,
            evaluation,
            ra: Some("0.18 µm"),
        }),
    })
}

/// Every kept picture by its name.
fn samples() -> Vec<(&'static str, Drawing)> {
    let (before, after) = (surface(2_400, 1_400, 7), surface(2_400, 420, 8));
    let empty =
        BathLog { main: Panel { readings: vec![], ..bath(0, false).main }, immersed: None, ..bath(0, false) };
    vec![
        ("bath_full", picture::bath_log(&bath(picture::FULL, true))),
        ("bath_half", picture::bath_log(&bath(picture::HALF, false))),
        ("bath_steady", picture::bath_log(&steady(picture::FULL))),
        ("bath_empty", picture::bath_log(&BathLog { width: picture::HALF, ..empty })),
        ("roughness_full", rough(&before, &after, picture::FULL)),
        ("roughness_half", rough(&before, &after, picture::HALF)),
        ("removal_full", picture::removal(&removed(picture::FULL))),
        ("removal_half", picture::removal(&removed(picture::HALF))),
        ("oc_full", picture::oc_curve(&oc(picture::FULL))),
        ("oc_half", picture::oc_curve(&oc(picture::HALF))),
    ]
}

/// The box of a text, by the widths the module gives.
fn text_box(shape: &Shape) -> Option<(i64, i64, i64, i64, &str)> {
    let Shape::Text { anchor, at: (x, y), size, bold, content } = shape else { return None };
    let width = picture::text_width(content, *size, *bold);
    let left = match anchor {
        Anchor::Start => *x,
        Anchor::Middle => x - width / 2,
        Anchor::End => x - width,
    };
    Some((left, y - size * 72 / 100, left + width, y + size / 5, content))
}

fn points(shape: &Shape) -> Vec<(i64, i64)> {
    match shape {
        Shape::Line { from, to, .. } => vec![*from, *to],
        Shape::Polyline { points, .. } | Shape::Polygon { points, .. } => points.clone(),
        Shape::Hatch { strokes, .. } => strokes.iter().flat_map(|(a, b)| [*a, *b]).collect(),
        Shape::Mark { at: (x, y), radius, .. } => vec![(x - radius, y - radius), (x + radius, y + radius)],
        Shape::Text { .. } => {
            let (left, top, right, bottom, _) = text_box(shape).unwrap();
            vec![(left, top), (right, bottom)]
        }
    }
}

fn outside(drawing: &Drawing) -> Option<&Shape> {
    let inside = |(x, y): (i64, i64)| (0..=drawing.width).contains(&x) && (0..=drawing.height).contains(&y);
    drawing.shapes.iter().find(|s| !points(s).into_iter().all(inside))
}

fn colliding(drawing: &Drawing) -> Option<(&str, &str)> {
    let boxes: Vec<_> = drawing.shapes.iter().filter_map(text_box).collect();
    for (i, a) in boxes.iter().enumerate() {
        for b in boxes.iter().skip(i + 1) {
            if a.0 < b.2 && b.0 < a.2 && a.1 < b.3 && b.1 < a.3 {
                return Some((a.4, b.4));
            }
        }
    }
    None
}

fn texts(drawing: &Drawing) -> Vec<&str> {
    drawing.shapes.iter().filter_map(text_box).map(|t| t.4).collect()
}

/// The trace: the polylines of the pen for measured values.
fn trace(drawing: &Drawing) -> Vec<(i64, i64)> {
    let each = drawing.shapes.iter().filter_map(|s| match s {
        Shape::Polyline { points, pen } if pen.width == 100 => Some(points.clone()),
        _ => None,
    });
    each.flatten().collect()
}

/// `PICTURES=overwrite` writes them anew.
#[test]
fn pictures_are_as_kept() {
    let overwrite = std::env::var("PICTURES").is_ok_and(|v| v == "overwrite");
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/picture");
    for (name, drawing) in samples() {
        let path = folder.join(format!("{name}.svg"));
        let svg = picture::to_svg(&drawing);
        if overwrite {
            std::fs::write(&path, &svg).unwrap();
        }
        let kept = std::fs::read_to_string(&path).unwrap_or_default();
        assert!(kept == svg, "{name}.svg differs from what is drawn; look at it, then PICTURES=overwrite");
    }
}

#[test]
fn sample_pictures_have_no_collisions() {
    for (name, drawing) in samples() {
        assert_eq!(outside(&drawing), None, "{name}");
        assert_eq!(colliding(&drawing), None, "{name}");
    }
}

/// By the invented data: lowest reading during immersion, highest, and what lies beyond the window by hand.
#[test]
fn a_bath_says_what_happened() {
    let log = bath(picture::FULL, true);
    let drawing = picture::bath_log(&log);
    let found = texts(&drawing);
    for text in
        ["in 09:40", "out 10:14", "34 min", "max 150 °F", "min 130 °F", "Temperature, °F", "Current, A"]
    {
        assert!(found.contains(&text), "{text} missing in {found:?}");
    }
    let inside = log.main.readings.iter().filter(|(t, _)| (600..=2_640).contains(&(t - HALF_PAST_NINE)));
    let most = inside.map(|(_, v)| *v).max().unwrap();
    let named = format!("highest {most} (+{})", most - d("150"));
    assert!(found.contains(&named.as_str()), "{named} missing in {found:?}");
    assert!(found.iter().any(|t| t.starts_with("no record")), "{found:?}");
    assert!(drawing.shapes.iter().any(|s| matches!(s, Shape::Hatch { .. })));
}

/// A lost stretch is not bridged: no part of any trace runs through it.
#[test]
fn a_gap_stays_open() {
    let log = bath(picture::FULL, false);
    let drawing = picture::bath_log(&log);
    let traces = drawing.shapes.iter().filter_map(|s| match s {
        Shape::Polyline { points, pen } if pen.width == 100 => Some(points),
        _ => None,
    });
    assert_eq!(traces.count(), 2);
    let joined = picture::bath_log(&BathLog { longest_gap: None, ..log });
    let joined =
        joined.shapes.iter().filter(|s| matches!(s, Shape::Polyline { pen, .. } if pen.width == 100));
    assert_eq!(joined.count(), 1);
}

/// Hatching stands only where the trace lies beyond a limit, and none stands in a bath that kept to its
/// window.
#[test]
fn hatching_is_for_excursions() {
    let drawing = picture::bath_log(&steady(picture::FULL));
    assert!(!drawing.shapes.iter().any(|s| matches!(s, Shape::Hatch { .. })));
    let drawing = picture::bath_log(&bath(picture::FULL, false));
    let limits: Vec<i64> = drawing
        .shapes
        .iter()
        .filter_map(|s| match s {
            Shape::Line { from, pen, .. } if pen.dash == picture::Dash::Dashed => Some(from.1),
            _ => None,
        })
        .collect();
    let [high, low] = limits.as_slice() else { panic!("{limits:?}") };
    for shape in &drawing.shapes {
        if let Shape::Hatch { .. } = shape {
            assert!(points(shape).iter().all(|(_, y)| y <= high || y >= low));
        }
    }
}

#[test]
fn removal_says_which_side() {
    let drawing = picture::removal(&removed(picture::FULL));
    let found = texts(&drawing);
    for text in
        ["14.2 ± 2.1 µm", "12.85 ± 0.35 µm", "21 ± 3 µm", "above max", "min 10 µm", "max 20 µm", "in", "µm"]
    {
        assert!(found.contains(&text), "{text} missing in {found:?}");
    }
    assert_eq!(drawing.shapes.iter().filter(|s| matches!(s, Shape::Hatch { .. })).count(), 1);
}

/// 1 in = 25.4 mm exactly: the mark of 0.0004 in stands where 10.16 µm stands.
#[test]
fn inches_stand_where_micrometres_do() {
    let mut data = removed(picture::FULL);
    data.low = Some(d("10.16"));
    let drawing = picture::removal(&data);
    let inch = drawing.shapes.iter().find_map(|s| match s {
        Shape::Text { at, content, .. } if content == "0.0004" => Some(at.0),
        _ => None,
    });
    let limit = drawing.shapes.iter().find_map(|s| match s {
        Shape::Line { from, pen, .. } if pen.dash == picture::Dash::Dashed => Some(from.0),
        _ => None,
    });
    assert_eq!(inch.unwrap(), limit.unwrap());
}

/// Risks by hand: 1 − 0.9526 = 4.74 %; 10.88 %.
#[test]
fn a_plan_names_its_risks() {
    for width in [picture::FULL, picture::HALF] {
        let drawing = picture::oc_curve(&oc(width));
        let found = texts(&drawing);
        for text in
            ["n = 80, Ac = 2", "AQL 1.0 %", "producer's risk 4.74 %", "LTPD 6.5 %", "consumer's risk 10.88 %"]
        {
            assert!(found.contains(&text), "{text} missing in {found:?}");
        }
        for form in [Form::Dot, Form::Ring] {
            assert!(drawing.shapes.iter().any(|s| matches!(s, Shape::Mark { form: f, .. } if *f == form)));
        }
    }
}

#[test]
fn nothing_to_draw_is_said() {
    let log = bath(picture::HALF, false);
    let empty = BathLog { main: Panel { readings: vec![], ..log.main.clone() }, ..log.clone() };
    let none = Roughness { title: "Profile", width: 0, before: None, after: None };
    let bars = Removal { estimates: vec![], ..removed(picture::HALF) };
    let curve = OcCurve { points: vec![], ..oc(picture::HALF) };
    for (drawing, said) in [
        (picture::bath_log(&empty), "no readings"),
        (picture::roughness(&none), "no profile"),
        (picture::removal(&bars), "no estimate of metal removed"),
        (picture::oc_curve(&curve), "no curve"),
    ] {
        assert!(texts(&drawing).contains(&said), "{said}");
        assert_eq!(outside(&drawing), None);
    }
    let one =
        BathLog { main: Panel { readings: vec![(5, d("7"))], ..log.main.clone() }, immersed: None, ..log };
    let drawing = picture::bath_log(&one);
    assert!(drawing.shapes.iter().any(|s| matches!(s, Shape::Mark { form: Form::Dot, .. })));
    assert_eq!(outside(&drawing), None);
}

/// Python's own XML reader takes every file; SVG 1.1's names are used and nothing else.
#[test]
fn the_files_are_well_formed() {
    let mut log = bath(picture::FULL, true);
    log.title = "<bath> & \"acid\" \u{0}\u{8}\u{fffe} 'x' ]]> \u{1f9ea}".into();
    log.main.unit = "&<>".into();
    let mut files: Vec<String> = samples().iter().map(|(_, d)| picture::to_svg(d)).collect();
    files.push(picture::to_svg(&picture::bath_log(&log)));
    let input = serde_json::to_string(&files).unwrap();
    let Some(out) = crate::python::scipy(include_str!("picture/wellformed.py"), &input) else { return };
    assert_eq!(out.trim(), format!("{} files", files.len()));
}

fn any_decimal() -> impl Strategy<Value = Decimal> {
    prop_oneof![
        4 => (-2_000_i64..2_000).prop_map(|v| Decimal::new(v, 1)),
        1 => any::<(i64, u8)>().prop_map(|(v, s)| Decimal::new(v, u32::from(s) % 29)),
        1 => prop_oneof![Just(Decimal::MAX), Just(Decimal::MIN), Just(Decimal::ZERO), Just(d("1e-28"))],
    ]
}

fn any_time() -> impl Strategy<Value = i64> {
    prop_oneof![6 => 0_i64..100_000, 1 => any::<i64>()]
}

fn any_panel() -> impl Strategy<Value = Panel> {
    let readings = proptest::collection::vec((any_time(), any_decimal()), 0..60);
    let limit = || proptest::option::of(any_decimal());
    (readings, limit(), limit(), ".{0,30}", ".{0,6}").prop_map(|(readings, low, high, name, unit)| Panel {
        name,
        unit,
        readings,
        low,
        high,
    })
}

fn any_log() -> impl Strategy<Value = BathLog> {
    let times = proptest::option::of((any_time(), any_time()));
    let gap = proptest::option::of(any_time());
    let width = prop_oneof![Just(picture::FULL), Just(picture::HALF), any::<i64>()];
    let offset = prop_oneof![-50_000_i64..50_000, any::<i64>()];
    (any_panel(), proptest::option::of(any_panel()), times, gap, width, offset, ".{0,60}").prop_map(
        |(main, second, immersed, longest_gap, width, offset, title)| BathLog {
            title,
            width,
            offset,
            main,
            second,
            immersed,
            longest_gap,
        },
    )
}

/// A log as it comes: a reading every 10 to 60 s, values between 100.0 and 180.0.
fn usual_log() -> impl Strategy<Value = BathLog> {
    let readings = (proptest::collection::vec(1_000_i64..1_800, 2..2_000), 10_i64..60);
    (readings, 0_i64..86_400, any::<bool>(), 1_050_i64..1_400, 1_400_i64..1_750).prop_map(
        |((values, every), begin, half, low, high)| {
            let time = |i: usize| HALF_PAST_NINE + begin + every * i as i64;
            let readings: Vec<_> =
                values.iter().enumerate().map(|(i, v)| (time(i), Decimal::new(*v, 1))).collect();
            let last = values.len() - 1;
            let log = bath(if half { picture::HALF } else { picture::FULL }, false);
            BathLog {
                main: Panel {
                    readings,
                    low: Some(Decimal::new(low, 1)),
                    high: Some(Decimal::new(high, 1)),
                    ..log.main
                },
                immersed: Some((time(last / 4), time(last - last / 4))),
                ..log
            }
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn any_log_is_drawn_inside_its_box(log in any_log()) {
        let drawing = picture::bath_log(&log);
        prop_assert_eq!(outside(&drawing), None);
        prop_assert_eq!(picture::to_svg(&drawing), picture::to_svg(&picture::bath_log(&log)));
    }

    #[test]
    fn a_usual_log_is_legible_and_whole(log in usual_log()) {
        let drawing = picture::bath_log(&log);
        prop_assert_eq!(outside(&drawing), None);
        prop_assert_eq!(colliding(&drawing), None);
        // The limits' lines give the scale; the trace must reach where the extremes belong on it.
        let limits: Vec<i64> = drawing.shapes.iter().filter_map(|s| match s {
            Shape::Line { from, pen, .. } if pen.dash == picture::Dash::Dashed => Some(from.1),
            _ => None,
        }).collect();
        let (high, low) = (log.main.high.unwrap(), log.main.low.unwrap());
        if high > low {
            let per = Decimal::from(limits[1] - limits[0]) / (high - low);
            let values = || log.main.readings.iter().map(|(_, v)| *v);
            let trace = trace(&drawing);
            for (value, y) in [
                (values().max().unwrap(), trace.iter().map(|p| p.1).min().unwrap()),
                (values().min().unwrap(), trace.iter().map(|p| p.1).max().unwrap()),
            ] {
                let wanted = Decimal::from(limits[0]) + (high - value) * per;
                // The limits themselves are rounded to 0.01 pt; carried over to a span 40 times as long.
                prop_assert!((Decimal::from(y) - wanted).abs() <= Decimal::from(60), "{} {}", y, wanted);
            }
        }
    }

    #[test]
    fn any_profile_is_drawn_inside_its_box(
        points in proptest::collection::vec((any_decimal(), any_decimal()), 0..80),
        mean in proptest::collection::vec((any_decimal(), any_decimal()), 0..20),
        evaluation in proptest::option::of((any_decimal(), any_decimal())),
        ra in proptest::option::of(".{0,80}"), name in ".{0,80}", width in any::<i64>(),
    ) {
        let ra = ra.as_deref();
        let before = Profile { name: &name, points: &points, mean_line: &mean, evaluation, ra };
        let after = Profile { points: &mean, mean_line: &[], ..before };
        let (before, after) = (Some(before), Some(after));
        let drawing = picture::roughness(&Roughness { title: &name, width, before, after });
        prop_assert_eq!(outside(&drawing), None);
    }

    #[test]
    fn any_estimates_are_drawn_inside_their_box(
        bars in proptest::collection::vec(
            (".{0,50}", any_decimal(), proptest::option::of(any_decimal())), 0..15,
        ),
        low in proptest::option::of(any_decimal()), high in proptest::option::of(any_decimal()),
        width in any::<i64>(),
    ) {
        let estimates = bars.into_iter();
        let estimates = estimates
            .map(|(name, value, uncertainty)| Estimate { name, value, uncertainty })
            .collect();
        let drawing = picture::removal(&Removal { title: "x".into(), width, estimates, low, high });
        prop_assert_eq!(outside(&drawing), None);
    }

    #[test]
    fn usual_estimates_do_not_collide(
        values in proptest::collection::vec((0_i64..4_000, 0_i64..500), 1..6),
        low in proptest::option::of(0_i64..1_500), more in proptest::option::of(1_500_i64..4_000),
        half in any::<bool>(),
    ) {
        let mut data = removed(if half { picture::HALF } else { picture::FULL });
        data.estimates = values.into_iter().map(|(v, u)| Estimate {
            name: "Weighing".into(), value: Decimal::new(v, 2), uncertainty: Some(Decimal::new(u, 2)),
        }).collect();
        data.low = low.map(|v| Decimal::new(v, 2));
        data.high = more.map(|v| Decimal::new(v, 2));
        let drawing = picture::removal(&data);
        prop_assert_eq!(colliding(&drawing), None);
    }

    #[test]
    fn any_curve_is_drawn_inside_its_box(
        points in proptest::collection::vec((any_decimal(), any_decimal()), 0..60),
        aql in proptest::option::of((any_decimal(), any_decimal())),
        ltpd in proptest::option::of((any_decimal(), any_decimal())),
        width in any::<i64>(), n in any::<u64>(),
    ) {
        let drawing = picture::oc_curve(&OcCurve { title: "x".into(), width, n, ac: n, points, aql, ltpd });
        prop_assert_eq!(outside(&drawing), None);
        prop_assert_eq!(colliding(&drawing), None);
    }

    #[test]
    fn a_thinned_trace_keeps_its_extremes(
        heights in proptest::collection::vec(-1e3_f64..1e3, 1..3_000), columns in 1_usize..200,
    ) {
        let points = picture::thin(&heights, 0.000_5, columns, (4, 6));
        prop_assert!(points.len() <= 2 * columns);
        let most = heights.iter().copied().fold(f64::MIN, f64::max);
        let least = heights.iter().copied().fold(f64::MAX, f64::min);
        for end in [most, least] {
            let end = brightproof::numeric::rounded(end, 6).unwrap();
            prop_assert!(points.iter().any(|(_, z)| *z == end));
        }
    }
}
