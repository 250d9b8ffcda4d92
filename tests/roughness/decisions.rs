//! Choice of the cut-off, acceptance, grades, RMS call-outs, gains.
#![allow(clippy::unwrap_used, reason = "a test stops at the first surprise")]

use brightproof::roughness::AcceptError;
use brightproof::roughness::Basis;
use brightproof::roughness::CutoffError;
use brightproof::roughness::CutoffRule;
use brightproof::roughness::Grade;
use brightproof::roughness::ImprovementWarning;
use brightproof::roughness::Limit;
use brightproof::roughness::Rule;
use brightproof::roughness::ShortOutcome;
use brightproof::roughness::Side;
use brightproof::roughness::improvement;
use brightproof::roughness::judge;
use brightproof::roughness::ordered;
use brightproof::roughness::rms_to_ra;
use brightproof::roughness::short_procedure;
use brightproof::roughness::stylus_row;
use brightproof::units::Quantity;

use super::q;

fn cutoff(rule: CutoffRule, value: &str) -> String {
    rule.choose(&q(value)).unwrap().cutoff.to_string()
}

/// Tables of ISO 4288:1996 (Ra and the lower Rz rows read in secondary texts, the upper Rz rows recalled),
/// ISO 21920-3:2021 (Rz read) and ASME B46.1 (read): a value inside each row, and each border.
#[test]
fn every_row_and_border() {
    use CutoffRule::AsmeRa;
    use CutoffRule::Iso4288RSm;
    use CutoffRule::Iso4288Ra;
    use CutoffRule::Iso4288Rz;
    use CutoffRule::Iso21920Ra;
    use CutoffRule::Iso21920Rz;
    for (rule, rows) in [
        (
            Iso4288Ra,
            "0.007 µm>0.08 0.02 µm>0.08 0.0201 µm>0.25 0.1 µm>0.25 0.1001 µm>0.8 2 µm>0.8 2.01 µm>2.5 10 \
            µm>2.5 \
                     10.1 µm>8 80 µm>8",
        ),
        (
            Iso4288Rz,
            "0.03 µm>0.08 0.1 µm>0.08 0.11 µm>0.25 0.5 µm>0.25 0.51 µm>0.8 10 µm>0.8 10.1 µm>2.5 50 µm>2.5 \
                     50.1 µm>8 200 µm>8",
        ),
        (
            Iso4288RSm,
            "0.014 mm>0.08 0.04 mm>0.08 41 µm>0.25 0.13 mm>0.25 0.2 mm>0.8 0.4 mm>0.8 1.3 mm>2.5 4 mm>8",
        ),
        (
            Iso21920Ra,
            "0.001 µm>0.08 0.02 µm>0.08 0.05 µm>0.25 0.1 µm>0.25 0.4 µm>0.8 2 µm>0.8 3.2 µm>2.5 12.5 µm>8 \
                      900 µm>8",
        ),
        (
            Iso21920Rz,
            "0.1 µm>0.08 0.16 µm>0.08 0.17 µm>0.25 0.8 µm>0.25 0.81 µm>0.8 16 µm>0.8 16.1 µm>2.5 80 µm>2.5 \
                      81 µm>8",
        ),
        (
            AsmeRa,
            "0.5 µin>0.08 0.8 µin>0.08 0.9 µin>0.25 4 µin>0.25 4.1 µin>0.8 80 µin>0.8 81 µin>2.5 400 \
            µin>2.5 401 µin>8",
        ),
    ] {
        let words: Vec<&str> = rows.split_whitespace().collect();
        for pair in words.chunks(2) {
            let (unit, expected) = pair[1].split_once('>').unwrap();
            let value = format!("{} {unit}", pair[0]);
            assert_eq!(cutoff(rule, &value), format!("{expected} mm"), "{}: {value}", rule.name());
        }
    }
    // The same roughness, two editions.
    assert_eq!(
        (cutoff(Iso4288Rz, "0.6 µm"), cutoff(Iso21920Rz, "0.6 µm")),
        ("0.8 mm".into(), "0.25 mm".into())
    );
    // Exactly compared across units: 4 µin is 0.1016 µm, above 0.1 µm, though charts take both for one.
    assert_eq!((cutoff(Iso4288Ra, "4 µin"), cutoff(AsmeRa, "4 µin")), ("0.8 mm".into(), "0.25 mm".into()));
}

#[test]
fn a_choice_says_why() {
    let border = CutoffRule::Iso4288Ra.choose(&q("0.1 µm")).unwrap();
    assert_eq!(
        border.why,
        "ISO 4288:1996 by Ra measured: 0.1 µm lies in the row above 0.02 µm up to 0.1 µm; it is the upper \
        end of the row, \
         which belongs to it, so the shorter cut-off is taken"
    );
    assert!(border.on_border);
    assert!(border.warning.unwrap().contains("moves from 0.8 mm to 0.25 mm"));
    let plain = CutoffRule::Iso4288Ra.choose(&q("0.38 µm")).unwrap();
    assert_eq!((plain.on_border, plain.warning, plain.basis), (false, None, Some(Basis::Read)));
    assert_eq!(plain.evaluation, q("4 mm"));
    assert_eq!(CutoffRule::Iso4288Rz.choose(&q("6 µm")).unwrap().basis, Some(Basis::Recalled));
    let far = CutoffRule::Iso4288Ra.choose(&q("0.005 µm")).unwrap_err().to_string();
    assert_eq!(
        far,
        "0.005 µm is outside the table of ISO 4288:1996 by Ra measured, which holds above 0.006 µm up to \
        80 µm: let the \
         order name the cut-off"
    );
    assert!(matches!(CutoffRule::AsmeRa.choose(&q("5 °C")), Err(CutoffError::NotALength { .. })));
    assert!(matches!(CutoffRule::AsmeRa.choose(&q("0 µm")), Err(CutoffError::NotPositive { .. })));
}

/// Rows follow on each other without a gap, and evaluation lengths are 0.4, 1.25, 4, 12.5 and 40 mm (ISO
/// 4288:1996).
#[test]
fn tables_hang_together() {
    for rule in CutoffRule::ALL {
        let rows = rule.rows();
        for pair in rows.windows(2) {
            assert_eq!(pair[0].to, pair[1].above, "{}", rule.name());
        }
        let lengths = rows.map(|row| row.evaluation.to_string());
        assert_eq!(lengths, ["0.4 mm", "1.25 mm", "4 mm", "12.5 mm", "40 mm"]);
    }
}

#[test]
fn the_order_goes_first() {
    let choice = ordered(&q("800 µm")).unwrap();
    assert_eq!((choice.cutoff, choice.evaluation, choice.warning), (q("0.8 mm"), q("4 mm"), None));
    // 0.03 in is 0.762 mm: the inch name of 0.8 mm is not its length.
    let inch = ordered(&q("0.03 in")).unwrap();
    assert_eq!(inch.cutoff, q("0.762 mm"));
    assert!(inch.warning.is_some());
    for bad in ["0 mm", "-1 mm", "5 °C", "1001 mm", "999999999 in"] {
        assert!(ordered(&q(bad)).is_err(), "{bad}");
    }
}

/// ISO 3274:1996: λs 2.5 µm to λc 0.8 mm, then λc/300 rounded (read); spacing recalled.
#[test]
fn stylus_rows() {
    for (cutoff, short, spacing) in
        [(80, "2.5", "0.5"), (250, "2.5", "0.5"), (800, "2.5", "0.5"), (2500, "8", "1.5"), (8000, "25", "5")]
    {
        let row = stylus_row(cutoff.into()).unwrap();
        assert_eq!((row.short.to_string().as_str(), row.spacing.to_string().as_str()), (short, spacing));
    }
    assert_eq!(stylus_row(762.into()), None);
}

fn upper(limit: &str) -> Limit {
    Limit { side: Side::Upper, value: q(limit) }
}

fn values(text: &str, unit: &str) -> Vec<Quantity> {
    text.split_whitespace().map(|v| q(&format!("{v} {unit}"))).collect()
}

/// ISO 4288:1996, 5.2 (read in secondary texts): at most 16 %. By hand: 1 of 6 is 16.67 %, 1 of 7 14.29 %, 4
/// of 25 16 % exactly, 5 of 31 16.13 %.
#[test]
fn sixteen_percent() {
    for (beyond, of, met) in [
        (0, 5, true),
        (1, 5, false),
        (1, 6, false),
        (1, 7, true),
        (4, 25, true),
        (5, 31, false),
        (16, 100, true),
    ] {
        let mut list = vec![q("0.9 µm"); beyond];
        list.extend(vec![q("0.8 µm"); of - beyond]);
        let found = judge(Rule::SixteenPercent, &upper("0.8 µm"), &list).unwrap();
        assert_eq!((found.met, found.beyond, found.of), (met, beyond, of), "{beyond} of {of}");
    }
}

/// By hand. Equal to the limit is within, for either side, and units compare exactly: 32 µin is 0.8128 µm.
#[test]
fn maximum_and_mean() {
    let list = values("0.80 0.79 0.81", "µm");
    assert!(!judge(Rule::Maximum, &upper("0.8 µm"), &list).unwrap().met);
    assert!(judge(Rule::Mean, &upper("0.8 µm"), &list).unwrap().met);
    assert!(!judge(Rule::Mean, &upper("0.7999 µm"), &list).unwrap().met);
    assert!(judge(Rule::Maximum, &upper("32 µin"), &values("0.8128", "µm")).unwrap().met);
    assert!(!judge(Rule::Maximum, &upper("32 µin"), &values("0.8129", "µm")).unwrap().met);
    let lower = Limit { side: Side::Lower, value: q("0.2 µm") };
    assert!(judge(Rule::Maximum, &lower, &values("0.2 0.3", "µm")).unwrap().met);
    let found = judge(Rule::Maximum, &lower, &values("0.19 0.3", "µm")).unwrap();
    assert_eq!(found.to_string(), "maximum rule: not met; 1 of 2 values below the lower limit 0.2 µm");
    // 1/3 never ends, but the sums do: 0.1 + 0.1 + 0.2 against 3 · 0.1333.
    assert!(!judge(Rule::Mean, &upper("0.1333 µm"), &values("0.1 0.1 0.2", "µm")).unwrap().met);
    assert!(judge(Rule::Mean, &upper("0.1334 µm"), &values("0.1 0.1 0.2", "µm")).unwrap().met);
}

/// ISO 4288:1996 annex A (recalled), each step by hand.
#[test]
fn the_short_procedure_step_by_step() {
    use ShortOutcome::Measure;
    use ShortOutcome::Met;
    use ShortOutcome::NotMet;
    let limit = upper("1 µm");
    for (list, outcome) in [
        ("0.70", Met { after: 1 }),
        ("0.71", Measure { until: 3, have: 1 }),
        ("0.71 1", Measure { until: 3, have: 2 }),
        ("0.71 1 0.9", Met { after: 3 }),
        ("0.71 1.1", Measure { until: 6, have: 2 }),
        ("1.1 1 1 1 1 1", Met { after: 6 }),
        ("1.1 1.1 1 1 1 1", Measure { until: 12, have: 6 }),
        ("1.1 1 1 1.1 1 1 1 1 1 1 1 1", Met { after: 12 }),
        ("1.1 1 1 1.1 1 1 1 1 1 1 1 1.1", NotMet { after: 12, beyond: 3 }),
        ("1.1 1 1 1.1 1 1 1 1 1 1 1 1 5", Met { after: 12 }),
        ("1.1 1.1 1.1", NotMet { after: 3, beyond: 3 }),
        ("0.6 5 5 5", Met { after: 1 }),
    ] {
        assert_eq!(short_procedure(&limit, &values(list, "µm")).unwrap(), outcome, "{list}");
    }
    let lower = Limit { side: Side::Lower, value: q("1 µm") };
    assert_eq!(short_procedure(&lower, &values("5", "µm")).unwrap(), Measure { until: 3, have: 1 });
    assert_eq!(short_procedure(&lower, &values("5 1 1", "µm")).unwrap(), Met { after: 3 });
}

#[test]
fn what_cannot_be_judged_is_refused() {
    let limit = upper("1 µm");
    assert_eq!(judge(Rule::Mean, &limit, &[]), Err(AcceptError::NoValue));
    let error = judge(Rule::Maximum, &limit, &[q("5 °C")]).unwrap_err();
    assert!(error.to_string().starts_with("5 °C cannot be held against a roughness limit"));
    assert!(matches!(judge(Rule::Maximum, &limit, &[q("-1 µm")]), Err(AcceptError::Negative { .. })));
    assert!(matches!(judge(Rule::Mean, &limit, &[q("1 µm"), q("1 µin")]), Err(AcceptError::Units { .. })));
    assert!(matches!(short_procedure(&upper("1 wt%"), &[q("1 µm")]), Err(AcceptError::NotALength { .. })));
}

/// Grades of the ISO 1302 series (read in secondary charts).
#[test]
fn grades() {
    for (name, um, uin) in [
        ("N01", "0.006", "0.25"),
        ("N0", "0.012", "0.5"),
        ("N1", "0.025", "1"),
        ("N2", "0.05", "2"),
        ("N3", "0.1", "4"),
        ("N4", "0.2", "8"),
        ("N5", "0.4", "16"),
        ("N6", "0.8", "32"),
        ("N7", "1.6", "63"),
        ("N8", "3.2", "125"),
        ("N9", "6.3", "250"),
        ("N10", "12.5", "500"),
        ("N11", "25", "1000"),
        ("N12", "50", "2000"),
        ("N13", "100", ""),
        ("N14", "200", ""),
    ] {
        let grade = Grade::named(name).unwrap();
        assert_eq!(grade.name(), name);
        assert_eq!(grade.micrometres(), q(&format!("{um} µm")));
        let printed = (!uin.is_empty()).then(|| q(&format!("{uin} µin")));
        assert_eq!(grade.microinches(), printed);
        assert_eq!(Grade::of(&grade.micrometres()), Some(grade));
    }
    for (text, name) in [(" n 7 ", "N7"), ("N07", "N7"), ("N01", "N01"), ("N0", "N0"), ("n10", "N10")] {
        assert_eq!(Grade::named(text).unwrap().name(), name);
    }
    for text in ["", "N", "N15", "7", "N-1", "N00", "N010", "NN7", "N7.0", "µ"] {
        assert!(Grade::named(text).is_err(), "{text}");
    }
    let holding = |ra: &str| Grade::holding(&q(ra)).map(Grade::name);
    assert_eq!(holding("63 µin"), Some("N7"));
    assert_eq!(holding("1.6002 µm"), Some("N8"));
    assert_eq!(holding("0.38 µm"), Some("N5"));
    assert_eq!(holding("201 µm"), None);
    assert_eq!(holding("-1 µm"), None);
    assert_eq!(holding("5 °C"), None);
    assert_eq!(Grade::of(&q("1.6002 µm")), None);
    assert_eq!(Grade::of(&q("63 µin")).unwrap().name(), "N7");
}

/// Charts print RMS = 1.1 Ra and a range to 1.7; π/(2√2) = 1.1107 for a sine. 35.2/1.1 = 32 exactly; 35.2/1.7
/// = 20.7059; 35.2/1.110721 = 31.6911.
#[test]
fn an_rms_callout_stays_an_estimate() {
    let found = rms_to_ra(&q("35.2 µin"), 2).unwrap();
    assert_eq!((found.low, found.high, found.sine), (q("20.70 µin"), q("32.00 µin"), q("31.69 µin")));
    assert!(
        found
            .to_string()
            .starts_with("estimate, not a limit: Rq (RMS) 35.2 µin goes with Ra 20.70 µin to 32.00 µin")
    );
    for bad in ["0 µin", "-1 µin", "5 °C"] {
        assert_eq!(rms_to_ra(&q(bad), 2), None);
    }
}

/// By hand: 0.8 → 0.5 µm is 37.5 %; 32 µin → 0.4064 µm is 50 %; exactly 75 % is not above it.
#[test]
fn gains() {
    for (before, after, percent, warning) in [
        ("0.8 µm", "0.5 µm", "37.5", None),
        ("32 µin", "0.4064 µm", "50.0", None),
        ("0.8 µm", "0.2 µm", "75.0", None),
        ("0.8 µm", "0.1999 µm", "75.0", Some(ImprovementWarning::TooGood)),
        ("0.5 µm", "0.8 µm", "-60.0", Some(ImprovementWarning::Worse)),
        ("0.5 µm", "0.5 µm", "0.0", None),
        ("0.3 µm", "0.2 µm", "33.3", None),
    ] {
        let found = improvement(&q(before), &q(after)).unwrap();
        assert_eq!(
            (found.percent.to_string().as_str(), found.warning),
            (percent, warning),
            "{before} to {after}"
        );
    }
    for (before, after) in [("0 µm", "1 µm"), ("-1 µm", "1 µm"), ("1 µm", "5 °C"), ("999999999 in", "1 µm")]
    {
        assert!(improvement(&q(before), &q(after)).is_err(), "{before} to {after}");
    }
}
