//! What a record may be made to say. Baths, instruments and solutions are taken from the shop's book, as always.

use brightproof::record::Record;
use brightproof::record::Specimen;

use super::bath;
use super::expect;
use super::finals;
use super::forget_times;
use super::none_slips;
use super::shift;
use super::step;
use super::steps;
use crate::support::dossier;
use crate::support::later;
use crate::support::read;
use crate::support::through_book;

type Attack = (&'static str, &'static str, fn(&mut Record), &'static [&'static str]);

const TESTS: &[Attack] = &[
    (
        "the test was begun before the treatment",
        "L-26-0402",
        |r| r.tests[0].started = read("2026-10-07T08:00-05:00"),
        &["astm-a967/tests.made, lot: NoEvidence (TestTooEarly)"],
    ),
    (
        "the test was begun while the pieces were drying",
        "L-26-0402",
        |r| r.tests[0].started = read("2026-10-07T09:19-05:00"),
        &["astm-a967/tests.made, lot: NoEvidence (TestTooEarly)"],
    ),
    (
        "only one of two runs is tested",
        "L-26-0401",
        |r| r.tests[0].covers = vec!["1".to_owned()],
        &["astm-a967/tests.made, lot: NoEvidence (TestNotMade(\"run 2\"))"],
    ),
    (
        "one run is named twice instead of both",
        "L-26-0401",
        |r| r.tests[0].covers = vec!["1".to_owned(), "1".to_owned()],
        &["astm-a967/tests.made, lot: NoEvidence (TestNotMade(\"run 2\"))"],
    ),
    ("the test covers no run", "L-26-0402", |r| r.tests[0].covers.clear(), &["fault: tests[0].covers"]),
    (
        "the test covers a run that is not there",
        "L-26-0402",
        |r| r.tests[0].covers = vec!["2".to_owned()],
        &["fault: tests[0].covers[0]"],
    ),
    (
        "a failed test that nobody ordered",
        "L-26-0402",
        |r| {
            let mut other = r.tests[0].clone();
            other.test = brightproof::record::TestKind::WaterImmersion;
            other.failed = 1;
            r.tests.push(other);
        },
        &["house/tests.others, lot: NotMet [water immersion: 1 of 1 failed]"],
    ),
    ("no test at all", "L-26-0402", |r| r.tests.clear(), &["astm-a967/tests.made, lot: NoEvidence"]),
    (
        "another test than the one ordered",
        "L-26-0402",
        |r| r.tests[0].test = brightproof::record::TestKind::WaterImmersion,
        &["astm-a967/tests.made, lot: NoEvidence"],
    ),
    (
        "a failed test and then one that passes, with no treatment between",
        "L-26-0402",
        |r| {
            let mut again = r.tests[0].clone();
            again.started = later(&again.started, 1500);
            again.ended = again.ended.map(|at| later(&at, 1500));
            r.tests[0].failed = 1;
            r.tests.push(again);
        },
        &["astm-a967/practice-b.result, lot: NotMet [1 of 2 failed]"],
    ),
    (
        "a failed test moved back before the end of the treatment",
        "L-26-0402",
        |r| {
            let mut failed = r.tests[0].clone();
            failed.started = read("2026-10-07T08:50-05:00");
            failed.failed = 1;
            r.tests.push(failed);
        },
        &["astm-a967/retest.pieces, lot: NotMet [1 piece]"],
    ),
    (
        "treated again, and no more pieces tested than the first time",
        "L-26-0409",
        |r| r.tests[1].pieces = 1,
        &["astm-a967/retest.pieces, lot: NotMet [1 piece]"],
    ),
    (
        "treated again, and one test written down twice to make two",
        "L-26-0409",
        |r| {
            r.tests[1].pieces = 1;
            let twice = r.tests[1].clone();
            r.tests.push(twice);
        },
        &["fault: tests[2]: this entry stands twice"],
    ),
    (
        "treated again, and the pieces of another run counted as tested again",
        "L-26-0409",
        |r| {
            let mut third = r.runs[0].clone();
            third.run = "3".to_owned();
            r.runs.push(third);
            shift(r, 2, 400);
            r.counts.received += 100;
            r.counts.accepted += 100;
            let mut look = r.visual[1].clone();
            look.covers = vec!["3".to_owned()];
            look.at = read("2026-10-27T17:00-05:00");
            r.visual.push(look);
            let mut test = r.tests[1].clone();
            test.covers = vec!["3".to_owned()];
            test.pieces = 1;
            test.started = read("2026-10-27T17:10-05:00");
            test.ended = Some(read("2026-10-27T17:20-05:00"));
            r.tests[1].pieces = 1;
            r.tests.push(test);
        },
        &["astm-a967/retest.pieces, lot: NotMet [1 piece]"],
    ),
    (
        "only some of the pieces that failed are treated again",
        "L-26-0409",
        |r| r.runs[1].pieces = 60,
        &["astm-a967/practice-d.result, lot: NotMet"],
    ),
    (
        "treated again, and the look of the first round kept",
        "L-26-0409",
        |r| {
            r.visual.pop();
        },
        &["astm-a967/finish.clean, run 2: NoEvidence"],
    ),
    (
        "treated again, and the test of the first round called a pass",
        "L-26-0409",
        |r| {
            r.tests.pop();
            r.tests[0].failed = 0;
        },
        &["astm-a967/tests.made, lot: NoEvidence"],
    ),
    (
        "a test of no piece",
        "L-26-0402",
        |r| r.tests[0].pieces = 0,
        &["astm-a967/practice-b.result, lot: NotMet", "astm-a967/tests.pieces, lot: NotMet"],
    ),
    (
        "coupons, which the order does not allow",
        "L-26-0402",
        |r| r.tests[0].specimen = Specimen::Coupon,
        &["house/test.specimen, lot: NotMet [coupons]"],
    ),
    (
        "the end and the timer of a test tell two stories",
        "L-26-0406",
        |r| r.tests[0].time = Some(read("1 h")),
        &["astm-a967/practice-c.duration, lot: NoEvidence (Contradiction"],
    ),
    (
        "kept wet for longer than the test lasted",
        "L-26-0404",
        |r| r.tests[0].ended = Some(read("2026-10-13T13:32-05:00")),
        &["fault: tests[0].kept_wet"],
    ),
    (
        "the reading was made before the solution was put on",
        "L-26-0408",
        |r| r.tests[0].read_within = Some(read("-5 s")),
        &["fault: tests[0].read_within"],
    ),
    (
        "the chamber is in no book",
        "L-26-0402",
        |r| r.tests[0].instrument = Some("HC-9".to_owned()),
        &["house/test.instrument, lot: NoEvidence (NotInBook"],
    ),
    (
        "no chamber is named",
        "L-26-0402",
        |r| r.tests[0].instrument = None,
        &["house/test.instrument, lot: NoEvidence (NotRecorded)"],
    ),
    (
        "a solution of another test",
        "L-26-0404",
        |r| r.tests[0].solution = Some("FN-26-03".to_owned()),
        &["astm-a967/practice-d.copper-sulfate, lot: NoEvidence (Contradiction"],
    ),
    (
        "a solution that is in no book",
        "L-26-0404",
        |r| r.tests[0].solution = Some("CS-99-01".to_owned()),
        &["astm-a967/practice-d.solution-age, lot: NoEvidence (NotInBook"],
    ),
    (
        "a solution mixed after the test",
        "L-26-0404",
        |r| r.tests[0].solution = Some("CS-26-09".to_owned()),
        &["astm-a967/practice-d.solution-age, lot: NoEvidence (Contradiction"],
    ),
    (
        "the ferricyanide solution of yesterday",
        "L-26-0408",
        |r| {
            r.tests[0].started = read("2026-10-24T00:30-05:00");
            r.tests[0].ended = Some(read("2026-10-24T00:35-05:00"));
        },
        &["astm-a967/practice-e.same-day, lot: NotMet"],
    ),
    ("nobody tested", "L-26-0402", |r| r.tests[0].by = "  ".to_owned(), &["fault: tests[0].by"]),
];

const TREATMENTS: &[Attack] = &[
    (
        "out before in",
        "L-26-0402",
        |r| bath(r, 0, "passivate").out_at = Some(read("2026-10-07T08:29-05:00")),
        &["fault: runs[0].steps[2].passivate.out"],
    ),
    (
        "the timer says more than the clock",
        "L-26-0402",
        |r| bath(r, 0, "passivate").time = Some(read("45 min")),
        &["astm-a967/citric-2.time, run 1: NoEvidence (Contradiction"],
    ),
    (
        "a negative time in the bath",
        "L-26-0402",
        |r| bath(r, 0, "passivate").time = Some(read("-14 min")),
        &["fault: runs[0].steps[2].passivate.time"],
    ),
    (
        "a timer and no day",
        "L-26-0402",
        |r| {
            let dip = bath(r, 0, "passivate");
            dip.in_at = None;
            dip.out_at = None;
            dip.time = Some(read("14 min"));
        },
        &["house/bath.analysis, run 1: NoEvidence", "astm-a967/citric-2.citric-acid, run 1: NoEvidence"],
    ),
    (
        "no step has a time, so nothing can come after it",
        "L-26-0402",
        |r| {
            forget_times(r, 0, &[]);
            bath(r, 0, "passivate").time = Some(read("14 min"));
        },
        &["astm-a967/tests.made, lot: NoEvidence", "astm-a967/finish.clean, run 1: NoEvidence"],
    ),
    (
        "tested while the pieces were still in the bath, by the timer",
        "L-26-0402",
        |r| {
            forget_times(r, 0, &["passivate", "clean"]);
            let dip = bath(r, 0, "passivate");
            dip.out_at = None;
            dip.time = Some(read("14 min"));
            r.tests[0].started = read("2026-10-07T08:35-05:00");
            r.tests[0].ended = Some(read("2026-10-08T08:40-05:00"));
        },
        &["astm-a967/tests.made, lot: NoEvidence (TestTooEarly)"],
    ),
    (
        "the temperature when the pieces came out is not looked at",
        "L-26-0402",
        |r| bath(r, 0, "passivate").temperature_out = Some(read("141 °F")),
        &["astm-a967/citric-2.temperature, run 1: NotMet [141 °F]"],
    ),
    (
        "31 °C is 87.8 °F",
        "L-26-0401",
        |r| {
            bath(r, 0, "passivate").temperature = Some(read("31 °C"));
            bath(r, 0, "passivate").temperature_out = None;
        },
        &["astm-a967/nitric-2.temperature, run 1: NotMet [31 °C]"],
    ),
    (
        "a temperature in minutes",
        "L-26-0402",
        |r| bath(r, 0, "passivate").temperature = Some(read("131 min")),
        &["fault: runs[0].steps[2].passivate.temperature"],
    ),
    (
        "another bath than the treatment's",
        "L-26-0402",
        |r| bath(r, 0, "passivate").bath = "N-2".to_owned(),
        &["astm-a967/citric-2.citric-acid, run 1: NoEvidence (NotAnalysed)"],
    ),
    (
        "a bath that is in no book",
        "L-26-0402",
        |r| bath(r, 0, "passivate").bath = "C-9".to_owned(),
        &["astm-a967/citric-2.citric-acid, run 1: NoEvidence (NotInBook"],
    ),
    (
        "before the first analysis of the bath",
        "L-26-0402",
        |r| shift(r, 0, -3 * 1440),
        &["house/bath.analysis, run 1: NoEvidence (NoAnalysis)"],
    ),
    (
        "run as another treatment than ordered",
        "L-26-0402",
        |r| bath(r, 0, "passivate").run_as = Some("Citric 3".to_owned()),
        &["astm-a967/treatment.named, run 1: NotMet [Citric 3]"],
    ),
    (
        "left to the shop, which does not say what it ran",
        "L-26-0411",
        |r| bath(r, 0, "passivate").run_as = None,
        &["astm-a967/treatment.named, run 1: NoEvidence"],
    ),
    (
        "left to the shop, which ran what no standard names",
        "L-26-0411",
        |r| bath(r, 0, "passivate").run_as = Some("Citric 9".to_owned()),
        &["astm-a967/treatment.named, run 1: NoEvidence"],
    ),
    (
        "left to the shop, which chose what only a test proves",
        "L-26-0411",
        |r| bath(r, 0, "passivate").run_as = Some("Citric 4".to_owned()),
        &["astm-a967/citric-4.test, lot: NoEvidence (NoTestOrdered)"],
    ),
    (
        "left to the shop: a good bath that is named, then a last one that is not",
        "L-26-0411",
        |r| {
            let dip = "{ passivate: { bath: AC-1, in: 2026-11-03T08:50-05:00, out: 2026-11-03T08:51-05:00, by: T. Quince } }";
            let rinse = steps(r, 0)[4].clone();
            steps(r, 0).splice(5..5, [step(dip)]);
            steps(r, 0).insert(6, rinse);
            finals(r, 0)[1].at = Some(read("2026-11-03T08:55-05:00"));
        },
        &["astm-a967/treatment.named, run 1: NoEvidence"],
    ),
    (
        "a second, short dip after the good one",
        "L-26-0402",
        |r| {
            let dip = "{ passivate: { bath: C-1, in: 2026-10-07T08:53-05:00, out: 2026-10-07T08:54-05:00, temperature: 131 °F, by: T. Quince } }";
            steps(r, 0).insert(5, step(dip));
        },
        &["astm-a967/citric-2.time, run 1: NotMet [1 min]", "astm-a967/citric.rinse, run 1: NotMet"],
    ),
    (
        "descaled in acid after the passivation",
        "L-26-0402",
        |r| {
            let dip = "{ descale: { bath: AC-1, in: 2026-10-07T09:00-05:00, out: 2026-10-07T09:05-05:00, by: T. Quince } }";
            steps(r, 0).insert(5, step(dip));
        },
        &["astm-a967/treatment.named, run 1: NotMet [Citric 2, then descale]"],
    ),
    (
        "descaled again in a run of its own after the passivation",
        "L-26-0409",
        |r| {
            let mut third = r.runs[1].clone();
            third.run = "3".to_owned();
            third.treats_again = Some("2".to_owned());
            third.steps = vec![
                step(
                    "{ descale: { bath: AC-1, in: 2026-10-27T12:30-05:00, out: 2026-10-27T12:35-05:00, by: T. Quince } }",
                ),
                step("{ dry: { at: 2026-10-27T12:50-05:00, by: T. Quince } }"),
            ];
            r.runs.push(third);
            for test in r.tests.iter_mut().skip(1) {
                test.covers = vec!["3".to_owned()];
            }
            r.visual[1].covers = vec!["3".to_owned()];
        },
        &["astm-a967/treatment.named, run 3: NoEvidence"],
    ),
    (
        "passivated first and electropolished after",
        "L-26-0407",
        |r| {
            let all = steps(r, 0);
            let electropolish: Vec<_> = all.drain(2..7).collect();
            let at = all.len() - 1;
            all.splice(at..at, electropolish);
            let clean = all[..2].to_vec();
            let run = all[2..].to_vec();
            *all = clean.into_iter().chain(run).collect();
            let mut minute = 0;
            let start = read("2026-10-20T08:04-05:00");
            for step in steps(r, 0).iter_mut().skip(2) {
                minute += 2;
                let at = Some(later(&start, minute));
                match step {
                    brightproof::record::Step::Rinse(rinse) => rinse.at = at,
                    brightproof::record::Step::Passivate(i)
                    | brightproof::record::Step::Electropolish(i)
                    | brightproof::record::Step::PostDip(i) => {
                        i.in_at = at;
                        minute += 8;
                        i.out_at = Some(later(&start, minute));
                    }
                    _ => {}
                }
            }
        },
        &["astm-a967/treatment.named, run 1: NotMet [Citric 1, then electropolish]"],
    ),
    (
        "two standards called out, one treatment done: not passivated",
        "L-26-0407",
        |r| {
            steps(r, 0).drain(7..10);
        },
        &["astm-a967/treatment.named, run 1: NoEvidence"],
    ),
    (
        "two standards called out, one treatment done: not electropolished",
        "L-26-0407",
        |r| {
            steps(r, 0).drain(2..7);
        },
        &["astm-b912/treatment.named, run 1: NoEvidence"],
    ),
    (
        "electropolished, and the film left on",
        "L-26-0403",
        |r| {
            steps(r, 0).drain(4..6);
        },
        &["astm-b912/post-dip, run 1: NoEvidence"],
    ),
    (
        "not cleaned",
        "L-26-0402",
        |r| {
            steps(r, 0).drain(0..2);
        },
        &["astm-a967/preparation, run 1: NoEvidence"],
    ),
    (
        "cleaned after the treatment",
        "L-26-0402",
        |r| {
            let clean: Vec<_> = steps(r, 0).drain(0..2).collect();
            steps(r, 0).splice(4..4, clean);
            shift_first(r);
        },
        &["astm-a967/preparation, run 1: NoEvidence"],
    ),
    (
        "called treated again, and only cleaned",
        "L-26-0409",
        |r| {
            steps(r, 1).drain(2..3);
        },
        &["astm-a967/treatment.named, run 2: NoEvidence"],
    ),
    (
        "treated again without cleaning away what made it fail",
        "L-26-0409",
        |r| {
            steps(r, 1).drain(0..2);
        },
        &["astm-a967/preparation, run 2: NoEvidence"],
    ),
    (
        "treated again before the first treatment ended",
        "L-26-0409",
        |r| shift(r, 1, -1440),
        &["fault: runs[1].treats_again: this begins"],
    ),
    (
        "treated again in a circle",
        "L-26-0409",
        |r| r.runs[0].treats_again = Some("2".to_owned()),
        &["fault: runs[0].treats_again"],
    ),
    (
        "more pieces treated again than there were",
        "L-26-0409",
        |r| {
            r.runs[1].pieces = 120;
            r.counts.received = 120;
            r.counts.accepted = 118;
        },
        &["fault: runs[1].pieces"],
    ),
    (
        "steps in no order of time",
        "L-26-0402",
        |r| finals(r, 0)[0].at = Some(read("2026-10-07T08:31-05:00")),
        &["fault: runs[0].steps[4].rinse"],
    ),
    (
        "no rinse after the bath",
        "L-26-0402",
        |r| drop(steps(r, 0).drain(3..5)),
        &["astm-a967/citric.rinse, run 1: NotMet", "astm-a967/citric.final-rinse, run 1: NoEvidence"],
    ),
    (
        "dried before it was rinsed",
        "L-26-0402",
        |r| {
            let mut dry = steps(r, 0)[5].clone();
            if let brightproof::record::Step::Dry(done) = &mut dry {
                done.at = Some(read("2026-10-07T08:45-05:00"));
            }
            steps(r, 0).insert(3, dry);
        },
        &["astm-a967/citric.rinse, run 1: NotMet"],
    ),
    (
        "a clean final rinse, then a dirty one",
        "L-26-0402",
        |r| {
            let mut dirty = steps(r, 0)[4].clone();
            if let brightproof::record::Step::Rinse(rinse) = &mut dirty {
                rinse.total_solids = Some(read("900 ppm"));
                rinse.at = Some(read("2026-10-07T08:58-05:00"));
            }
            steps(r, 0).insert(5, dirty);
        },
        &["astm-a967/citric.final-rinse-solids, run 1: NotMet [900 ppm]"],
    ),
    (
        "a final rinse, then another nobody measured",
        "L-26-0402",
        |r| steps(r, 0).insert(5, step("{ rinse: { at: 2026-10-07T08:58-05:00, by: I. Bramble } }")),
        &["astm-a967/citric.final-rinse, run 1: NoEvidence (Contradiction"],
    ),
    (
        "back into the cleaner after the final rinse",
        "L-26-0402",
        |r| {
            let again = steps(r, 0)[0].clone();
            steps(r, 0).insert(5, again);
            let clean = steps(r, 0)[5].clone();
            if let brightproof::record::Step::Clean(mut dip) = clean {
                dip.in_at = Some(read("2026-10-07T08:56-05:00"));
                dip.out_at = Some(read("2026-10-07T09:06-05:00"));
                steps(r, 0)[5] = brightproof::record::Step::Clean(dip);
            }
        },
        &["astm-a967/citric.final-rinse, run 1: NoEvidence (Contradiction"],
    ),
    (
        "the post-dip after the final rinse, and nothing after it",
        "L-26-0403",
        |r| {
            let dip = steps(r, 0).remove(4);
            steps(r, 0).insert(6, dip);
            bath(r, 0, "post-dip").in_at = Some(read("2026-10-09T08:30-05:00"));
            bath(r, 0, "post-dip").out_at = Some(read("2026-10-09T08:37-05:00"));
        },
        &["astm-b912/final-rinse, run 1: NoEvidence (Contradiction"],
    ),
    (
        "rinse water of less than nothing",
        "L-26-0402",
        |r| finals(r, 0)[0].total_solids = Some(read("-300 ppm")),
        &["fault: runs[0].steps[4].rinse.total_solids"],
    ),
    (
        "the rinse meter is in no book",
        "L-26-0402",
        |r| finals(r, 0)[0].instrument = Some("CM-9".to_owned()),
        &["house/rinse.meter, run 1: NoEvidence (NotInBook"],
    ),
    (
        "no final rinse before the dichromate, the one after it shown instead",
        "L-26-0405",
        |r| {
            steps(r, 0).remove(4);
        },
        &["astm-a967/nitric.final-rinse, run 1: NoEvidence"],
    ),
    (
        "the rinse after the dichromate read with nothing",
        "L-26-0405",
        |r| finals(r, 0)[1].instrument = None,
        &["house/rinse.meter, run 1: NoEvidence"],
    ),
    (
        "dried between dichromate and rinse, not after",
        "L-26-0405",
        |r| {
            let mut dry = steps(r, 0).pop().unwrap();
            if let brightproof::record::Step::Dry(done) = &mut dry {
                done.at = Some(read("2026-10-14T09:21-05:00"));
            }
            steps(r, 0).insert(6, dry);
        },
        &["astm-a967/dichromate.dried, run 1: NoEvidence"],
    ),
    (
        "the ordered dichromate treatment left out",
        "L-26-0405",
        |r| {
            steps(r, 0).drain(5..8);
        },
        &["astm-a967/dichromate.made, run 1: NoEvidence"],
    ),
    (
        "nobody ran the bath",
        "L-26-0402",
        |r| bath(r, 0, "passivate").by.clear(),
        &["fault: runs[0].steps[2].passivate.by"],
    ),
];

/// After steps changed places: gives every step of the first run a time in its new order.
fn shift_first(record: &mut Record) {
    let start = read("2026-10-07T08:20-05:00");
    let mut minute = 0;
    for step in steps(record, 0) {
        minute += 2;
        let at = Some(later(&start, minute));
        match step {
            brightproof::record::Step::Rinse(rinse) => rinse.at = at,
            brightproof::record::Step::Dry(done) => done.at = at,
            brightproof::record::Step::Clean(i) | brightproof::record::Step::Passivate(i) => {
                i.in_at = at;
                minute += 13;
                i.out_at = Some(later(&start, minute));
            }
            _ => {}
        }
    }
}

const PIECES: &[Attack] = &[
    (
        "a run listed twice",
        "L-26-0402",
        |r| {
            let run = r.runs[0].clone();
            r.runs.push(run);
        },
        &["fault: runs[1].run: `1` stands twice"],
    ),
    (
        "the same pieces as a second run under another name",
        "L-26-0402",
        |r| {
            let mut run = r.runs[0].clone();
            run.run = "2".to_owned();
            r.runs.push(run);
            r.tests[0].covers = vec!["1".to_owned(), "2".to_owned()];
            r.visual[0].covers = vec!["1".to_owned(), "2".to_owned()];
            r.visual[0].pieces = 240;
        },
        &["house/pieces.treated, lot: NotMet [240 treated]"],
    ),
    ("a run of no pieces", "L-26-0402", |r| r.runs[0].pieces = 0, &["fault: runs[0].pieces"]),
    ("no run at all", "L-26-0402", |r| r.runs.clear(), &["fault: tests[0].covers[0]"]),
    (
        "no run, no test, no look: nothing but numbers",
        "L-26-0411",
        |r| {
            r.runs.clear();
            r.visual.clear();
        },
        &["house/pieces.treated, lot: NoEvidence"],
    ),
    (
        "fewer pieces treated than shipped",
        "L-26-0402",
        |r| r.runs[0].pieces = 119,
        &["house/pieces.treated, lot: NotMet [119 treated]"],
    ),
    (
        "nothing accepted",
        "L-26-0402",
        |r| {
            r.counts.rejected = 122;
            r.counts.accepted = 0;
        },
        &["house/pieces.treated, lot: NotMet"],
    ),
    (
        "counts too large to add",
        "L-26-0402",
        |r| {
            r.counts.rejected = u64::MAX;
            r.counts.held = u64::MAX;
        },
        &["house/counts.reconcile, lot: NoEvidence"],
    ),
    ("one serial number twice", "L-26-0404", |r| r.serials[1] = r.serials[0].clone(), &["fault: serials[1]"]),
    (
        "fewer serial numbers than pieces",
        "L-26-0404",
        |r| {
            r.serials.pop();
        },
        &["fault: serials"],
    ),
    (
        "not every piece looked at",
        "L-26-0402",
        |r| r.visual[0].pieces = 119,
        &["astm-a967/finish.pieces, run 1: NotMet [119 pieces]"],
    ),
    (
        "two runs looked at, the pieces of one counted",
        "L-26-0401",
        |r| r.visual[0].pieces = 120,
        &["astm-a967/finish.pieces, run 1: NotMet [120 pieces]", "astm-a967/finish.pieces, run 2: NotMet"],
    ),
    (
        "one run's pieces looked at twice, the other's never",
        "L-26-0401",
        |r| {
            let mut again = r.visual[0].clone();
            again.covers = vec!["1".to_owned()];
            again.pieces = 120;
            again.at = later(&again.at, 30);
            r.visual[0].pieces = 10;
            r.visual.push(again);
        },
        &["astm-a967/finish.pieces, run 2: NotMet"],
    ),
    (
        "one run's pieces looked at over and over for the other's",
        "L-26-0401",
        |r| {
            let mut again = r.visual[0].clone();
            again.covers = vec!["1".to_owned()];
            again.pieces = 999;
            again.at = later(&again.at, 30);
            r.visual[0].pieces = 110;
            r.visual.push(again);
        },
        &["astm-a967/finish.pieces, run 2: NotMet"],
    ),
    (
        "looked at before the last treatment",
        "L-26-0402",
        |r| r.visual[0].at = read("2026-10-07T08:25-05:00"),
        &["astm-a967/finish.clean, run 1: NoEvidence"],
    ),
    (
        "more refused at the look than counted out",
        "L-26-0402",
        |r| r.visual[0].failed = 3,
        &["astm-a967/finish.clean, run 1: NotMet [3 of 120 failed]"],
    ),
    (
        "the pieces refused on arrival stand for those refused at the look",
        "L-26-0402",
        |r| r.visual[0].failed = 2,
        &["astm-a967/finish.clean, run 1: NotMet [2 of 120 failed]"],
    ),
    (
        "two looks, and the same refused pieces counted out for both",
        "L-26-0401",
        |r| {
            let mut second = r.visual[0].clone();
            second.covers = vec!["2".to_owned()];
            second.pieces = 120;
            second.failed = 2;
            r.visual[0].covers = vec!["1".to_owned()];
            r.visual[0].pieces = 120;
            r.visual[0].failed = 2;
            r.visual.push(second);
            r.counts.accepted = 238;
            r.counts.rejected = 2;
        },
        &["astm-a967/finish.clean, run 1: NotMet", "astm-a967/finish.clean, run 2: NotMet"],
    ),
    (
        "the same look written down twice",
        "L-26-0401",
        |r| {
            r.visual[0].pieces = 120;
            let twice = r.visual[0].clone();
            r.visual.push(twice);
        },
        &["fault: visual[1]: this entry stands twice"],
    ),
    (
        "a grade nobody knows",
        "L-26-0402",
        |r| r.material.grade = "3O4".to_owned(),
        &["house/alloy.grade, lot: NoEvidence"],
    ),
    (
        "a lean heat beside one that says nothing",
        "L-26-0419",
        |r| {
            let mut other = r.material.heats[0].clone();
            other.heat = "F2099".to_owned();
            other.chemistry.clear();
            r.material.heats.push(other);
        },
        &["astm-a967/practice-d.chromium, lot: NotMet [15.8 wt%]"],
    ),
    (
        "more chromium than metal",
        "L-26-0419",
        |r| {
            r.material.heats[0].chemistry.insert("Cr".to_owned(), read("158 wt%"));
        },
        &["fault: material.heats[0].chemistry.Cr"],
    ),
    (
        "a line the order does not have",
        "L-26-0402",
        |r| r.order.line = "9".to_owned(),
        &["fault: lots/changed.yaml:1:1: order `TF-5520` has no line `9`"],
    ),
    (
        "an order nobody wrote",
        "L-26-0402",
        |r| r.order.number = "TF-0000".to_owned(),
        &["fault: lots/changed.yaml:1:1: there is no order"],
    ),
];

const GAUGES: &[Attack] = &[
    (
        "a tenth of a microinch over",
        "L-26-0403",
        |r| r.measurements[0].readings[1] = read("16.1 µin"),
        &["house/limit.reading, lot: NotMet [16.1 µin]"],
    ),
    (
        "over in the other unit",
        "L-26-0403",
        |r| r.measurements[0].readings[1] = read("0.41 µm"),
        &["house/limit.reading, lot: NotMet [0.41 µm]"],
    ),
    (
        "a roughness in degrees",
        "L-26-0403",
        |r| r.measurements[0].readings[1] = read("16 °F"),
        &["fault: measurements[0].readings[1]"],
    ),
    (
        "rougher than smooth the other way",
        "L-26-0403",
        |r| r.measurements[0].readings[1] = read("-99 µin"),
        &["fault: measurements[0].readings[1]"],
    ),
    (
        "fewer readings than ordered",
        "L-26-0403",
        |r| {
            r.measurements[0].readings.pop();
        },
        &["house/limit.pieces, lot: NotMet [2 pieces]"],
    ),
    (
        "no readings",
        "L-26-0403",
        |r| r.measurements[0].readings.clear(),
        &["house/limit.reading, lot: NoEvidence"],
    ),
    ("no measurement", "L-26-0403", |r| r.measurements.clear(), &["house/limit.reading, lot: NoEvidence"]),
    (
        "another characteristic than ordered",
        "L-26-0403",
        |r| r.measurements[0].what = brightproof::record::Characteristic::Rq,
        &["house/limit.reading, lot: NoEvidence"],
    ),
    (
        "measured before it was electropolished",
        "L-26-0403",
        |r| r.measurements[0].at = read("2026-10-09T07:50-05:00"),
        &["house/limit.reading, lot: NoEvidence (TestTooEarly)"],
    ),
    (
        "measured with nothing",
        "L-26-0403",
        |r| r.measurements[0].instrument = None,
        &["house/limit.gauge, lot: NoEvidence"],
    ),
    (
        "measured before the gauge was ever calibrated",
        "L-26-0403",
        |r| r.measurements[0].instrument = Some("TI-99".to_owned()),
        &["house/limit.gauge, lot: NoEvidence"],
    ),
    (
        "one measurement written down twice",
        "L-26-0403",
        |r| {
            r.measurements[0].readings.truncate(2);
            let twice = r.measurements[0].clone();
            r.measurements.push(twice);
        },
        &["fault: measurements[1]: this entry stands twice"],
    ),
];

#[test]
fn no_record_slips_through() {
    let mut failures = Vec::new();
    for (name, lot, attack, expected) in [TESTS, TREATMENTS, PIECES, GAUGES].concat() {
        let mut record = dossier(lot).record;
        let untouched = record.clone();
        attack(&mut record);
        assert!(record != untouched, "{name}: nothing changed");
        failures.extend(expect(&format!("{name} ({lot})"), &through_book(record), expected));
    }
    none_slips(failures);
}

/// What is not wrong: the neighbours of attacks above.
#[test]
fn honest_neighbours_conform() {
    type Change = (&'static str, &'static str, fn(&mut Record));
    let honest: &[Change] = &[
        ("88 °F is in the window of its own unit", "L-26-0401", |r| {
            bath(r, 0, "passivate").temperature = Some(read("88 °F"));
        }),
        ("clock and timer that agree", "L-26-0402", |r| {
            bath(r, 0, "passivate").time = Some(read("14 min"));
        }),
        ("pieces refused at the look and counted out", "L-26-0402", |r| {
            r.visual[0].failed = 3;
            r.counts.accepted = 117;
            r.counts.rejected = 5;
        }),
        ("a look at each run", "L-26-0401", |r| {
            let mut second = r.visual[0].clone();
            second.covers = vec!["2".to_owned()];
            second.pieces = 120;
            r.visual[0].covers = vec!["1".to_owned()];
            r.visual[0].pieces = 120;
            r.visual.push(second);
        }),
        ("a look in two halves", "L-26-0401", |r| {
            let mut second = r.visual[0].clone();
            second.pieces = 100;
            second.at = later(&second.at, 20);
            r.visual[0].pieces = 140;
            r.visual.push(second);
        }),
        ("rinse and dry without a clock", "L-26-0402", |r| forget_times(r, 0, &["clean", "passivate"])),
        ("a test by the timer", "L-26-0406", |r| {
            r.tests[0].ended = None;
            r.tests[0].time = Some(read("125 min"));
        }),
    ];
    for (name, lot, change) in honest {
        let mut record = dossier(lot).record;
        change(&mut record);
        let came = through_book(record);
        assert!(!came.held(), "{name} ({lot}): {:#?}", came.gaps());
    }
}
