//! Figures of a log: worked out by hand, held against SciPy, and properties that hold of any log. All logs
//! are invented or generated.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test stops at the first surprise")]

use std::fmt::Write;

use brightproof::bath_log::Channel;
use brightproof::bath_log::ChargeError;
use brightproof::bath_log::Correction;
use brightproof::bath_log::Excursion;
use brightproof::bath_log::Interval;
use brightproof::bath_log::Log;
use brightproof::bath_log::NO_READING;
use brightproof::bath_log::Reading;
use brightproof::bath_log::Side;
use brightproof::bath_log::Source;
use brightproof::bath_log::Trace;
use brightproof::bath_log::Window;
use brightproof::bath_log::charge;
use brightproof::bath_log::immersion;
use brightproof::bath_log::spoken_span;
use brightproof::bath_log::steepest_fall;
use brightproof::bath_log::summary;
use brightproof::bath_log::thin;
use brightproof::bath_log::within;
use brightproof::logger::Measures;
use brightproof::logger::Offset;
use brightproof::moment::Moment;
use brightproof::units::Quantity;
use brightproof::units::Unit;
use proptest::prelude::*;

fn log_of(measures: Measures, unit: Unit, places: u32, readings: &[(i64, i64)]) -> Log {
    let (times, values) = readings.iter().copied().unzip();
    Log::new(times, vec![Channel::new("x", measures, unit, places, values)], Offset::UTC).unwrap()
}

/// Seconds and tenths of a degree Celsius.
fn celsius(readings: &[(i64, i64)]) -> Log {
    let ms: Vec<_> = readings.iter().map(|(s, v)| (s * 1000, *v)).collect();
    log_of(Measures::Temperature, Unit::Celsius, 1, &ms)
}

fn amperes(readings: &[(i64, i64)]) -> Log {
    let ms: Vec<_> = readings.iter().map(|(s, v)| (s * 1000, *v)).collect();
    log_of(Measures::Current, Unit::Ampere, 1, &ms)
}

fn seconds(from: i64, to: i64) -> Interval {
    Interval::new(from * 1000, to * 1000).unwrap()
}

fn q(text: &str) -> Quantity {
    text.parse().unwrap()
}

fn window(lo: &str, hi: &str) -> Window {
    let limit = |text: &str| (!text.is_empty()).then(|| q(text));
    Window { lo: limit(lo), hi: limit(hi) }
}

fn shown(reading: Option<Reading>) -> String {
    reading.map_or("none".to_owned(), |r| format!("{} at {}", r.value, r.at))
}

/// By hand: 50.0, 52.0, 54.0, 50.0 °C at 0, 10, 20, 40 s; the interval is 5 to 30 s. The line is 51.0 at 5 s
/// and 52.0 at 30 s. Area: 5 s · (51 + 52)/2 = 257.5, 10 s · 53 = 530, 10 s · (54 + 52)/2 = 530; 1317.5 / 25
/// s = 52.7 °C.
#[test]
fn a_summary_by_hand() {
    let log = celsius(&[(0, 500), (10, 520), (20, 540), (40, 500)]);
    let trace = log.trace(0).unwrap();
    let found = summary(&trace, &seconds(5, 30), 20_000);
    assert_eq!(found.mean.unwrap().to_string(), "52.70");
    assert_eq!(shown(found.min), "52.0 at 10000");
    assert_eq!(shown(found.max), "54.0 at 20000");
    assert_eq!((shown(found.first), shown(found.last)), (shown(found.min), shown(found.max)));
    assert_eq!(found.readings, 2);
    assert_eq!(found.coverage.longest.unwrap().length(), 20_000);
    assert!(found.coverage.complete());
    // With 10 s allowed, the last line is a gap: 787.5 / 15 s = 52.5 °C over what is known.
    let found = summary(&trace, &seconds(5, 30), 10_000);
    assert_eq!(found.mean.unwrap().to_string(), "52.50");
    assert_eq!(found.coverage.covered, 15_000);
    assert_eq!((found.coverage.gaps[0].from, found.coverage.gaps[0].to), (20_000, 40_000));
    assert!(!found.coverage.complete());
}

/// Of equal readings and of equal gaps the first is named.
#[test]
fn of_equals_the_first() {
    let log = celsius(&[(0, 500), (10, 520), (20, 500), (30, 520), (40, 510)]);
    let found = summary(&log.trace(0).unwrap(), &seconds(0, 40), 20_000);
    assert_eq!((shown(found.min), shown(found.max)), ("50.0 at 0".to_owned(), "52.0 at 10000".to_owned()));
    assert_eq!(found.coverage.longest.unwrap().from, 0);
    let log = celsius(&[(0, 530), (10, 530), (20, 500)]);
    let found = within(&log.trace(0).unwrap(), &seconds(0, 20), &window("", "52 °C"), 10_000).unwrap();
    assert_eq!(shown(found.excursions[0].worst), "53.0 at 0");
}

/// By hand: readings from 10 s to 20 s do not reach an interval from 0 s to 30 s with 9 s allowed, with 10 s
/// they do; the ends stay unknown all the same.
#[test]
fn readings_must_reach_both_ends() {
    let log = celsius(&[(10, 500), (15, 500), (20, 500)]);
    let trace = log.trace(0).unwrap();
    for (allowed, reaches) in [(9_999, false), (10_000, true)] {
        let coverage = summary(&trace, &seconds(0, 30), allowed).coverage;
        assert_eq!((coverage.missing_before, coverage.missing_after), (10_000, 10_000));
        assert_eq!((coverage.reaches_start(), coverage.reaches_end()), (reaches, reaches));
        assert_eq!(coverage.complete(), reaches);
    }
    let inside = within(&trace, &seconds(0, 30), &window("40 °C", ""), 10_000).unwrap();
    assert_eq!((inside.inside, inside.unknown), (10_000, 20_000));
    // Nothing at all within the interval.
    let found = summary(&trace, &seconds(30, 40), 10_000);
    assert_eq!((found.readings, found.mean, found.coverage.missing_before), (0, None, 10_000));
    assert!(!found.coverage.complete());
}

/// By hand: 49.0, 53.0, 53.0, 47.0 °C at 0, 4, 8, 14 s, window 50 to 52 °C. A degree a second: in at 1 s, out
/// above at 3 s, back at 9 s, out below at 11 s. Inside 2 + 2 s, above 6 s, below 1 + 3 s.
#[test]
fn excursions_by_hand() {
    let log = celsius(&[(0, 490), (4, 530), (8, 530), (14, 470)]);
    let found = within(&log.trace(0).unwrap(), &seconds(0, 14), &window("50 °C", "52 °C"), 10_000).unwrap();
    assert_eq!((found.inside, found.above, found.below, found.unknown), (4_000, 6_000, 4_000, 0));
    let told: Vec<_> = found
        .excursions
        .iter()
        .map(|e| {
            format!("{:?} {}..{} worst {} by {}", e.side, e.start, e.end, shown(e.worst), e.beyond.unwrap())
        })
        .collect();
    assert_eq!(
        told,
        [
            "Below 0..1000 worst 49.0 at 0 by 1.0",
            "Above 3000..9000 worst 53.0 at 4000 by 1.0",
            "Below 11000..14000 worst 47.0 at 14000 by 3.0"
        ]
    );
}

/// By hand: a limit of 122 °F is 50 °C; 50.0 °C is inside, 49.9 °C is 0.1 °C below. 121 °F is 49.444… °C:
/// 49.4 °C lies 0.0444… °C below it, shown as 0.05 °C. The line from 49.4 to 49.5 °C over 9 s crosses 49.444…
/// °C after 4 s.
#[test]
fn limits_in_fahrenheit() {
    let log = celsius(&[(0, 500), (1, 499), (2, 500)]);
    let found = within(&log.trace(0).unwrap(), &seconds(0, 2), &window("122 °F", ""), 1_000).unwrap();
    assert_eq!((found.inside, found.below), (0, 2_000));
    assert_eq!(found.excursions[0].beyond.unwrap().to_string(), "0.1");
    let log = celsius(&[(0, 494), (9, 495)]);
    let found = within(&log.trace(0).unwrap(), &seconds(0, 9), &window("121 °F", ""), 9_000).unwrap();
    assert_eq!((found.below, found.inside), (4_000, 5_000));
    assert_eq!(found.excursions[0].beyond.unwrap().to_string(), "0.05");
    // The other way round: 50 °C is 122 °F.
    let log = log_of(Measures::Temperature, Unit::Fahrenheit, 0, &[(0, 121), (2_000, 123)]);
    let found = within(&log.trace(0).unwrap(), &seconds(0, 2), &window("50 °C", ""), 2_000).unwrap();
    assert_eq!((found.below, found.inside), (1_000, 1_000));
}

/// A third of a second is rounded against the inside on both sides: the line from 0.0 to 0.3 °C over 1 s
/// reaches 0.1 °C after 333.3 ms and 0.2 °C after 666.6 ms; 332 ms of 333.3 count as inside (334 to 666).
#[test]
fn a_millisecond_in_doubt_is_not_inside() {
    let log = celsius(&[(0, 0), (1, 3)]);
    let found = within(&log.trace(0).unwrap(), &seconds(0, 1), &window("0.1 °C", "0.2 °C"), 1_000).unwrap();
    assert_eq!((found.below, found.inside, found.above), (334, 332, 334));
}

/// By hand: readings a second apart, but none from 2 s to 60 s. Whether it was hot between nobody knows; the
/// reading at 60 s, alone between two gaps, is an excursion without length.
#[test]
fn a_gap_hides_what_happened() {
    let log = celsius(&[(0, 500), (1, 500), (2, 500), (60, 530), (100, 500), (101, 500)]);
    let found = within(&log.trace(0).unwrap(), &seconds(0, 101), &window("49 °C", "52 °C"), 5_000).unwrap();
    assert_eq!((found.inside, found.above, found.unknown), (3_000, 0, 98_000));
    let only = &found.excursions[..];
    assert_eq!(only.len(), 1);
    assert_eq!((only[0].side, only[0].start, only[0].end), (Side::Above, 60_000, 60_000));
    assert_eq!(shown(only[0].worst), "53.0 at 60000");
    // A cell without reading makes the same gap.
    let log = celsius(&[(0, 500), (1, NO_READING), (2, NO_READING), (3, 500)]);
    let found = within(&log.trace(0).unwrap(), &seconds(0, 3), &window("49 °C", ""), 2_999).unwrap();
    assert_eq!((found.inside, found.unknown), (0, 3_000));
}

#[test]
fn windows_that_cannot_be_held_against_a_channel() {
    let log = celsius(&[(0, 500), (1, 500)]);
    let trace = log.trace(0).unwrap();
    let long = Quantity::new(rust_decimal::Decimal::new(1, 10), Unit::Celsius);
    let long = Window { lo: Some(long), hi: None };
    for (window, message) in [
        (window("", ""), "the window has no limit: give the least, the most, or both"),
        (window("5 A", ""), "the limit 5 A cannot be held against readings in °C: give a limit in °C"),
        (window("60 °C", "120 °F"), "the least, 60 °C, is more than the most, 120 °F: exchange them"),
        (long, "the limit 0.0000000001 °C has more than 9 digits before or after the point: round it"),
    ] {
        assert_eq!(within(&trace, &seconds(0, 1), &window, 1).unwrap_err().to_string(), message);
    }
}

/// By hand: 0 A to 10.0 A in 60 s is 5 A·min, 10.0 A for 120 s is 20 A·min, together 25 A·min; half the ramp
/// from 30 s on is (5 + 10)/2 A · 0.5 min = 3.75 A·min.
#[test]
fn charge_by_hand() {
    let log = amperes(&[(0, 0), (60, 100), (120, 100), (180, 100)]);
    let trace = log.trace(0).unwrap();
    for (from, to, ampere_minutes) in [(0, 180, "25.00"), (30, 60, "3.75"), (0, 1, "0.00"), (59, 61, "0.33")]
    {
        let found = charge(&trace, &seconds(from, to), 60_000).unwrap();
        assert_eq!(found.ampere_minutes.to_string(), ampere_minutes, "{from} to {to}");
        assert!(found.whole);
    }
    let found = charge(&trace, &seconds(0, 200), 60_000).unwrap();
    assert_eq!((found.covered, found.whole), (180_000, false));
    assert!(matches!(charge(&trace, &seconds(0, 60), 59_999), Err(ChargeError::Uncovered(_))));
    let heat = celsius(&[(0, 500), (1, 500)]);
    let error = charge(&heat.trace(0).unwrap(), &seconds(0, 1), 1_000).unwrap_err();
    assert_eq!(
        error.to_string(),
        "`x` is read in °C: a charge is the sum of a current over time, name a channel in A"
    );
}

/// By hand: 0 A, then 10 A at 20 s, 10 A at 40 s, 0 A at 60 s; 5 A is passed at 10 s and at 50 s.
#[test]
fn immersion_from_the_current() {
    let log = amperes(&[(0, 0), (20, 100), (40, 100), (60, 0), (80, 0)]);
    let trace = log.trace(0).unwrap();
    let threshold = q("5 A");
    let current = Some((&trace, &threshold));
    let moment = |text: &str| text.parse::<Moment>().unwrap();
    let (early, late) = (moment("1970-01-01T00:00:05Z"), moment("1970-01-01T00:01:15Z"));
    let found = immersion(None, None, current, 20_000).unwrap();
    // Above means above: the ends are rounded inwards of the window below the threshold, so outwards of the
    // current.
    assert_eq!((found.interval.from(), found.interval.to()), (10_000, 50_000));
    assert_eq!((found.start, found.end), (Source::Current, Source::Current));
    let found = immersion(Some(&early), None, current, 20_000).unwrap();
    assert_eq!((found.interval.from(), found.interval.to()), (5_000, 50_000));
    assert_eq!((found.start, found.end), (Source::Recorded, Source::Current));
    let found = immersion(Some(&early), Some(&late), None, 0).unwrap();
    assert_eq!((found.interval.from(), found.interval.to()), (5_000, 75_000));
    let twice = amperes(&[(0, 0), (20, 100), (40, 0), (60, 100), (80, 0)]);
    let heat = celsius(&[(0, 500), (1, 500)]);
    let hundred = q("100 A");
    for (result, message) in [
        (
            immersion(Some(&late), Some(&early), None, 0),
            "in at 1970-01-01T00:01:15+00:00 is not before out at 1970-01-01T00:00:05+00:00: correct the \
                record",
        ),
        (
            immersion(Some(&early), None, None, 0),
            "in or out is missing, and no current was logged to find it by: record both times",
        ),
        (
            immersion(None, None, Some((&twice.trace(0).unwrap(), &threshold)), 20_000),
            "the current was above 5 A 2 times there: record the times in and out of this run",
        ),
        (
            immersion(None, None, Some((&trace, &hundred)), 20_000),
            "the current was never above 100 A there: record the times in and out",
        ),
        (
            immersion(None, None, Some((&heat.trace(0).unwrap(), &threshold)), 20_000),
            "`x` is not a current in A: only a current tells when parts were treated",
        ),
    ] {
        assert_eq!(result.unwrap_err().to_string(), message);
    }
}

#[test]
fn the_steepest_fall_is_but_a_suggestion() {
    let log = celsius(&[(0, 500), (10, 495), (20, 470), (30, 480), (40, 455)]);
    let fall = steepest_fall(&log.trace(0).unwrap(), &seconds(0, 40)).unwrap();
    assert_eq!((fall.from, fall.to, fall.by.to_string().as_str()), (10_000, 20_000, "2.5"));
    let flat = celsius(&[(0, 500), (10, 500)]);
    assert_eq!(steepest_fall(&flat.trace(0).unwrap(), &seconds(0, 10)), None);
}

/// By hand: 50.0 °C less 0.25 °C is 49.75 °C; the summary names the certificate.
#[test]
fn a_correction_is_named() {
    let log = celsius(&[(0, 500), (1, NO_READING), (2, 500)]);
    let correction = Correction {
        certificate: "K-17 (invented)".to_owned(),
        add: q("-0.25 °C"),
        expanded_uncertainty: Some(q("0.1 °C")),
        coverage_factor: Some("2".parse().unwrap()),
    };
    let plain = log.trace(0).unwrap();
    assert_eq!(summary(&plain, &seconds(0, 2), 2_000).correction, None);
    let corrected = plain.channel().corrected(&correction).unwrap();
    let found = summary(&log.trace_of(&corrected).unwrap(), &seconds(0, 2), 2_000);
    assert_eq!(found.min.unwrap().value.to_string(), "49.75");
    assert_eq!(found.readings, 2);
    assert_eq!(found.correction, Some(correction.clone()));
    let other = Correction { add: q("-0.25 °F"), ..correction.clone() };
    let negative = Correction { expanded_uncertainty: Some(q("-0.1 °C")), ..correction.clone() };
    for (result, message) in [
        (
            corrected.corrected(&correction),
            "`x` carries the correction of `K-17 (invented)` already: correct the readings as the logger \
                wrote them",
        ),
        (
            plain.channel().corrected(&other),
            "the correction `-0.25 °F` is not in °C, the unit of `x`: state it in °C",
        ),
        (
            plain.channel().corrected(&negative),
            "the uncertainty of the correction of `x` is negative, or its coverage factor is not above 0: \
                correct it",
        ),
    ] {
        assert_eq!(result.unwrap_err().to_string(), message);
    }
}

/// By hand: two buckets of 0 to 50 s and 50 to 100 s; of equal readings the first.
#[test]
fn thinned_by_hand() {
    let log = celsius(&[(0, 500), (10, 530), (20, 490), (30, 530), (50, 510), (60, 510), (100, 505)]);
    let points = thin(&log.trace(0).unwrap(), &seconds(0, 100), 2);
    let told: Vec<_> = points.iter().map(|(t, v)| format!("{} {v}", t / 1000)).collect();
    assert_eq!(told, ["10 53.0", "20 49.0", "50 51.0", "100 50.5"]);
    assert!(thin(&log.trace(0).unwrap(), &seconds(0, 100), 0).is_empty());
}

#[test]
fn logs_refused_and_times_shown() {
    let channel = |n: usize, v: i64| vec![Channel::new("x", Measures::Ph, Unit::Ph, 1, vec![v; n])];
    for (times, channels, message) in [
        (vec![], channel(0, 0), "no reading: expected at least one"),
        (
            vec![1, 1],
            channel(2, 0),
            "reading 1 (from 0) is not later than the one before it: expected times that only go forward",
        ),
        (vec![1, 2], channel(1, 0), "`x` has 1 readings, there are 2 times: give one reading a time"),
        (
            vec![1],
            channel(1, i64::MAX),
            "`x` has a reading of more than 9 digits before or after the point: correct the readings",
        ),
        (vec![i64::MAX], channel(1, 0), "a time lies outside the years 1 to 9999: correct the times"),
    ] {
        assert_eq!(Log::new(times, channels, Offset::UTC).unwrap_err().to_string(), message);
    }
    let times = vec![1_795_531_200_999];
    let log = Log::new(times, channel(1, 70), "-05:00".parse().unwrap()).unwrap();
    // By hand: 56 years from 1970 with 14 leap days are 20,454 d; 24 November is the 328th day, 20,781 d; and
    // 14:40.
    assert_eq!(log.moment(1_795_531_200_999).unwrap().to_string(), "2026-11-24T09:40:00-05:00");
    assert_eq!(spoken_span(120_000).to_string(), "2 min");
    assert_eq!(spoken_span(1_500).to_string(), "1.5 s");
}

/// Any log of some readings, with holes; and an interval that may lie anywhere about it.
fn any_log() -> impl Strategy<Value = (Vec<(i64, i64)>, i64, i64, i64)> {
    let reading = (1_i64..5_000, prop_oneof![9 => -400_i64..400, 1 => Just(NO_READING)]);
    let readings = prop::collection::vec(reading, 1..60).prop_map(|steps| {
        let mut at = 0;
        let walk = steps.into_iter().map(|(step, v)| {
            at += step;
            (at, v)
        });
        walk.collect()
    });
    (readings, -1_000_i64..100_000, 2_i64..100_000, 0_i64..6_000)
}

fn any_extreme() -> impl Strategy<Value = i64> {
    let most = 999_999_999_999_999_999_i64;
    prop_oneof![Just(most), Just(-most), any::<i32>().prop_map(i64::from)]
}

fn figures(trace: &Trace<'_>, from: i64, to: i64, window: &Window, allowed: i64) -> [i64; 5] {
    let interval = Interval::new(from, to).unwrap();
    let w = within(trace, &interval, window, allowed).unwrap();
    [w.inside, w.above, w.below, w.unknown, summary(trace, &interval, allowed).coverage.covered]
}

proptest! {
    /// The parts of an interval cut anywhere add up to the millisecond; excursions add up to the time
    /// outside.
    #[test]
    fn parts_add_up(
        (readings, from, length, allowed) in any_log(),
        cut in 0.0_f64..1.0,
        lo in -200_i64..100,
        wide in 0_i64..200,
    ) {
        let log = log_of(Measures::Temperature, Unit::Celsius, 1, &readings);
        let trace = log.trace(0).unwrap();
        let hundredths = |n: i64| rust_decimal::Decimal::new(n * 3 + 1, 2);
        let limit = |n: i64| Some(Quantity::new(hundredths(n), Unit::Fahrenheit));
        let window = Window { lo: limit(lo), hi: limit(lo + wide) };
        let to = from + length;
        let middle = (from + (length as f64 * cut) as i64).clamp(from + 1, to - 1);
        let whole = figures(&trace, from, to, &window, allowed);
        let a = figures(&trace, from, middle, &window, allowed);
        let b = figures(&trace, middle, to, &window, allowed);
        for i in 0..5 {
            prop_assert_eq!(whole[i], a[i] + b[i], "figure {}", i);
        }
        prop_assert_eq!(whole[0] + whole[1] + whole[2] + whole[3], length);
        prop_assert!(whole.iter().all(|f| *f >= 0));
        prop_assert_eq!(whole[4], length - whole[3]);
        let found = within(&trace, &Interval::new(from, to).unwrap(), &window, allowed).unwrap();
        let out: i64 = found.excursions.iter().map(|e| e.length()).sum();
        prop_assert_eq!(out, found.above + found.below);
        prop_assert!(found.excursions.windows(2).all(|e| e[0].end <= e[1].start));
        // Every reading that lies outside lies in an excursion of its side.
        for r in trace.readings().filter(|r| (from..=to).contains(&r.at)) {
            let value = Quantity::new(r.value, Unit::Celsius);
            let side = if value.compare(&window.lo.unwrap()).unwrap().is_lt() { Side::Below }
                else if value.compare(&window.hi.unwrap()).unwrap().is_gt() { Side::Above } else { continue };
            let holds = |e: &Excursion| e.side == side && (e.start..=e.end).contains(&r.at);
            prop_assert!(found.excursions.iter().any(holds));
        }
    }

    /// Thinning keeps the least and the greatest, goes forward in time, and stays within its number.
    #[test]
    fn thinning_keeps_what_stands_out((readings, from, length, _) in any_log(), buckets in 1_usize..20) {
        let log = log_of(Measures::Temperature, Unit::Celsius, 1, &readings);
        let trace = log.trace(0).unwrap();
        let interval = Interval::new(from, from + length).unwrap();
        let points = thin(&trace, &interval, buckets);
        let found = summary(&trace, &interval, 1);
        prop_assert!(points.len() <= 2 * buckets);
        prop_assert!(points.windows(2).all(|p| p[0].0 < p[1].0));
        prop_assert_eq!(points.iter().map(|p| p.1).min(), found.min.map(|r| r.value));
        prop_assert_eq!(points.iter().map(|p| p.1).max(), found.max.map(|r| r.value));
        let place = |t: i64| ((t - from) * buckets as i64 / length).min(buckets as i64 - 1);
        for bucket in 0..buckets as i64 {
            let here = |r: &Reading| (from..=from + length).contains(&r.at) && place(r.at) == bucket;
            let there: Vec<_> = trace.readings().filter(here).collect();
            let kept: Vec<_> = points.iter().filter(|p| place(p.0) == bucket).collect();
            prop_assert_eq!(there.iter().map(|r| r.value).max(), kept.iter().map(|p| p.1).max());
            prop_assert_eq!(there.iter().map(|r| r.value).min(), kept.iter().map(|p| p.1).min());
        }
    }

    /// Readings and limits at the edge of what they may be break nothing.
    #[test]
    fn extremes_never_panic(
        v in prop::collection::vec(any_extreme(), 2..6),
        places in 0_u32..=9,
        step in prop_oneof![Just(1_i64), Just(86_400_000), Just(40_000_000_000)],
        m in any::<i64>(),
        scale in 0_u32..=28,
    ) {
        let readings: Vec<_> = v.iter().enumerate().map(|(i, v)| (i as i64 * step, *v)).collect();
        let log = log_of(Measures::Temperature, Unit::Celsius, places, &readings);
        let trace = log.trace(0).unwrap();
        for interval in [log.span().unwrap(), Interval::new(-5, 1).unwrap()] {
            let _ = summary(&trace, &interval, i64::MAX);
            let _ = thin(&trace, &interval, usize::MAX);
            let _ = steepest_fall(&trace, &interval);
            for unit in [Unit::Celsius, Unit::Fahrenheit] {
                let limit = Some(Quantity::new(rust_decimal::Decimal::new(m, scale), unit));
                let _ = within(&trace, &interval, &Window { lo: limit, hi: None }, i64::MAX);
                let _ = within(&trace, &interval, &Window { lo: None, hi: limit }, i64::MIN);
            }
        }
    }
}

/// Held against `scipy.integrate.trapezoid` and linear interpolation on a fine grid (`numpy.interp`). Means:
/// both are the same rule, ours exact and rounded to 0.001; half of that and 10^-9 for binary sums. Times
/// inside: the grid of 1 ms takes each of its points for a millisecond, so that each crossing is off by 1 ms
/// at most, and ours gives up less than 1 ms at each crossing: 2 ms a crossing.
#[test]
fn as_scipy_says() {
    let mut state = 7_u64;
    let mut next = |below: u64| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((state >> 33) % below) as i64
    };
    let (mut input, mut ours) = (String::new(), Vec::new());
    for _ in 0..20 {
        let mut at = 0;
        let readings: Vec<_> = (0..60)
            .map(|_| {
                at += 200 + next(2_000);
                (at, 5_000 + next(600))
            })
            .collect();
        let (from, to) = (readings[2].0 + next(100), readings[55].0 + next(100));
        let log = log_of(Measures::Current, Unit::Ampere, 2, &readings);
        let (trace, interval) = (log.trace(0).unwrap(), Interval::new(from, to).unwrap());
        let found = summary(&trace, &interval, 10_000);
        let charged = charge(&trace, &interval, 10_000).unwrap();
        let inside = within(&trace, &interval, &window("51.5 A", "54.25 A"), 10_000).unwrap();
        let number = |d: rust_decimal::Decimal| brightproof::numeric::number(d);
        ours.push((number(found.mean.unwrap()), number(charged.ampere_minutes), inside));
        let (t, v): (Vec<_>, Vec<_>) = readings.iter().map(|(t, v)| (t.to_string(), v.to_string())).unzip();
        writeln!(input, "{from} {to} 5150 5425;{};{}", t.join(" "), v.join(" ")).unwrap();
    }
    let Some(theirs) = crate::python::scipy(include_str!("bath_log/figures.py"), &input) else { return };
    assert_eq!(theirs.lines().count(), ours.len());
    for (line, (mean, charged, inside)) in theirs.lines().zip(&ours) {
        let n: Vec<f64> = line.split(' ').map(|n| n.parse().unwrap()).collect();
        assert!((n[0] - mean).abs() <= 0.000_5 + 1e-9, "mean {} {mean}", n[0]);
        assert!((n[1] - charged).abs() <= 0.000_5 + 1e-9, "charge {} {charged}", n[1]);
        let crossings = n[5];
        assert!(crossings > 20.0);
        for (grid, exact) in [(n[2], inside.inside), (n[3], inside.above), (n[4], inside.below)] {
            assert!((grid - exact as f64).abs() <= 2.0 * crossings, "{grid} {exact} {crossings}");
        }
    }
}
