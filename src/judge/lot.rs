//! Evidence about the lot as a whole, and about limits of the purchaser's own.

use rust_decimal::Decimal;

use crate::finding::Document;
use crate::finding::Place;
use crate::finding::Reason;
use crate::judge::Dossier;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::judge::Resolved;
use crate::judge::approvals;
use crate::judge::calibration::calibration;
use crate::judge::decided::Decided;
use crate::judge::decided::Side;
use crate::judge::estimates;
use crate::judge::family;
use crate::judge::gauges;
use crate::judge::heat;
use crate::judge::heat::chromium;
use crate::judge::later;
use crate::judge::line_of;
use crate::judge::ordered;
use crate::judge::orders;
use crate::judge::outside;
use crate::judge::papers;
use crate::judge::part;
use crate::judge::people;
use crate::judge::plausible;
use crate::judge::raw;
use crate::judge::rounds;
use crate::judge::runs;
use crate::judge::runs::FinalRun;
use crate::judge::runs::covered_runs;
use crate::judge::runs::final_runs;
use crate::judge::shared;
use crate::judge::switching;
use crate::pack::Subject;
use crate::part::CallOut;
use crate::part::RoughnessRule;
use crate::path::Path;
use crate::record::Measurement;
use crate::shop::InstrumentKind;
use crate::units::Quantity;
use crate::units::Unit;

/// Whether a subject of lot scope is judged for each call-out rather than once.
pub const fn is_per_call_out(subject: Subject) -> bool {
    matches!(
        subject,
        Subject::RuleAdopted
            | Subject::LimitReading
            | Subject::LimitCalibration
            | Subject::LimitPieces
            | Subject::LimitQualified
            | Subject::NextLimitCalibration
            | Subject::DeviationUsed
            | Subject::StatementFounded
            | Subject::FieldAnswered
            | Subject::EditionInForce
            | Subject::LimitsAskedTwice
            | Subject::CallOutsTogether
            | Subject::SamplingPlan
    )
}

/// Evidence for one subject of the lot.
pub fn evidence(dossier: &Dossier, resolved: Option<&Resolved>, subject: Subject) -> Vec<Evidence> {
    if let Some(evidence) = ordered::evidence(dossier, resolved, subject) {
        return vec![evidence];
    }
    vec![match subject {
        Subject::Roughness | Subject::MeanRoughness => return gauges::roughness(dossier, subject),
        Subject::CallOutsReviewed => return reviewed(dossier),
        Subject::ApprovalsHeld => return approvals::evidence(dossier),
        Subject::Rounds => return rounds::evidence(dossier, &runs::covered_runs(dossier)),
        Subject::OrderedQuantity => order_line(dossier),
        Subject::CountsReconcile => counts(dossier),
        Subject::PiecesTreated => treated(dossier),
        Subject::AlloyGrade => grade(dossier),
        Subject::AlloySeries => match &dossier.alloy {
            Some(alloy) => Evidence::record(grade_path(), Found::Words(vec![alloy.series.name().to_owned()])),
            None => unknown_grade(dossier),
        },
        Subject::Chromium => match chromium(dossier) {
            Some(value) => Evidence::record(Path::root().key("material"), Found::Quantity(value)),
            None => Evidence::record(
                Path::root().key("material"),
                Found::Missing(Reason::Unknown("the chromium content".to_owned())),
            ),
        },
        Subject::HeatAnalysis => heat::analysis(dossier),
        Subject::HeatChromium => heat::chromium_for_bath(dossier),
        Subject::HeatMachinability => heat::machines_freely(dossier),
        Subject::PartUse => use_of(dossier),
        Subject::OtherTests => other_tests(dossier),
        Subject::LotSpan => span(dossier),
        Subject::RuleAdopted => adopted(resolved),
        Subject::EditionInForce => orders::edition(resolved),
        Subject::SamplingPlan => return switching::plan(dossier, resolved),
        Subject::ReleaseNamed => orders::release(dossier),
        Subject::PiecesOrdered => orders::quantity(dossier),
        Subject::CountByWeight => orders::by_weight(dossier),
        Subject::FamilyLots => return family::lots(dossier),
        Subject::FamilyPieces => return family::pieces(dossier),
        Subject::FamilyMaterial => return family::material(dossier),
        Subject::PapersHeld => return papers::held(dossier),
        Subject::RawFilesRead => return raw::read(dossier),
        Subject::LogCovers => return raw::covers(dossier),
        Subject::FiguresAgree => return raw::agree(dossier),
        Subject::RoughnessFilter => return raw::filter(dossier),
        Subject::RemovalAgrees => return estimates::agree(dossier),
        Subject::RoughnessGain => return plausible::gain(dossier),
        Subject::UncertaintyRatio => return plausible::ratio(dossier),
        Subject::LoadCarried => return shared::loads(dossier),
        Subject::TestReports => return shared::reports(dossier),
        Subject::InspectionLot => return shared::one_kind(dossier),
        Subject::Subcontracted => return outside::allowed(dossier),
        Subject::PartSegregated => part::segregated(dossier),
        Subject::PartPieces => return part::pieces(dossier),
        _ => Evidence::missing(Path::root()),
    }]
}

fn grade_path() -> Path {
    Path::root().key("material").key("grade")
}

fn unknown_grade(dossier: &Dossier) -> Evidence {
    let grade = &dossier.record.material.grade;
    Evidence::record(grade_path(), Found::Missing(Reason::Unknown(format!("the alloy `{grade}`"))))
}

fn grade(dossier: &Dossier) -> Evidence {
    match &dossier.alloy {
        Some(alloy) => {
            let shown = format!("{} ({})", dossier.record.material.grade, alloy.uns);
            Evidence::record(grade_path(), Found::Fact { shown, holds: true })
        }
        None => unknown_grade(dossier),
    }
}

/// Both papers: the part specification and the order.
fn reviewed(dossier: &Dossier) -> Vec<Evidence> {
    let papers = [
        (Document::Part, "part", &dossier.part.reviewed),
        (Document::Order, "order", &dossier.order.reviewed),
    ];
    papers
        .into_iter()
        .map(|(document, what, review)| {
            let found = match review {
                Some(review) => {
                    Found::Fact { shown: format!("{what} by {} on {}", review.by, review.on), holds: true }
                }
                None => Found::Missing(Reason::NotRecorded),
            };
            Evidence::at(document, Path::root().key("reviewed"), found)
        })
        .collect()
}

fn order_line(dossier: &Dossier) -> Evidence {
    let record = &dossier.record;
    let place = Path::root().key("order");
    let Some((index, line)) = line_of(dossier) else {
        let reason =
            Reason::Contradiction(format!("order {} has no line {}", record.order.number, record.order.line));
        return Evidence::record(place, Found::Missing(reason));
    };
    let part = &dossier.part;
    let same = line.part == part.part && line.revision == part.revision;
    let purchaser = dossier.order.purchaser == part.purchaser;
    let path = Path::root().key("lines").index(index);
    let found = Found::Own {
        observed: format!("part {} {}", part.part, part.revision),
        limit: format!(
            "order {} line {}: part {} {}",
            dossier.order.order, line.line, line.part, line.revision
        ),
        met: same && purchaser && dossier.order.order == record.order.number,
    };
    Evidence::at(Document::Order, path, found)
}

fn counts(dossier: &Dossier) -> Evidence {
    let counts = &dossier.record.counts;
    let path = Path::root().key("counts");
    let Some(sum) = counts.accounted() else {
        return Evidence::record(
            path,
            Found::Missing(Reason::Contradiction("the counts are too large".to_owned())),
        );
    };
    let off = counts.by_weight.as_ref().map(|w| (w.tolerance, w.tolerance.of(counts.received)));
    let found = Found::Own {
        observed: format!("{sum} accounted for"),
        limit: match off {
            Some((share, pieces)) => {
                format!("{} received, give or take {pieces} ({share}, counted by weight)", counts.received)
            }
            None => format!("{} received", counts.received),
        },
        met: sum.abs_diff(counts.received) <= off.map_or(0, |(_, pieces)| pieces),
    };
    Evidence::record(path, found)
}

/// Every piece that is shipped, tested to destruction or refused after treatment went through the line; and no
/// more pieces were treated than came in.
fn treated(dossier: &Dossier) -> Evidence {
    let counts = &dossier.record.counts;
    let runs = final_runs(&dossier.record);
    let through = runs.iter().fold(0_u64, |sum, r| sum.saturating_add(r.pieces));
    let least = counts.accepted.saturating_add(counts.destroyed_in_test);
    let most = counts.received.saturating_sub(counts.returned_unprocessed);
    let path = Path::root().key("runs");
    if dossier.record.runs.is_empty() {
        return Evidence::missing(path);
    }
    let found = Found::Own {
        observed: format!("{through} treated"),
        limit: if least == most { format!("{least} treated") } else { format!("{least} to {most} treated") },
        met: through >= least && through <= most && counts.accepted > 0,
    };
    Evidence::record(path, found)
}

fn use_of(dossier: &Dossier) -> Evidence {
    let path = Path::root().key("used_for");
    let found = match dossier.part.used_for.and_then(|u| serde_json::to_value(u).ok()) {
        Some(value) => Found::Words(value.as_str().map(str::to_owned).into_iter().collect()),
        None => Found::Missing(Reason::Unknown("what the part is used for".to_owned())),
    };
    Evidence::at(Document::Part, path, found)
}

/// A test nobody ordered that failed on the pieces as they are: evidence against the lot all the same. Tests that
/// were ordered are judged under their call-out.
fn other_tests(dossier: &Dossier) -> Evidence {
    let runs = covered_runs(dossier);
    let path = Path::root().key("tests");
    let line = line_of(dossier).map(|(_, line)| line.also_calls_for.as_slice()).unwrap_or_default();
    let ordered = |kind| dossier.part.calls_for.iter().chain(line).any(|call| call.tests.contains(&kind));
    let counts =
        |covers: &[String], at| runs.iter().any(|r| r.covered_by(covers) && r.end().is_some_and(|e| at >= e));
    let all = dossier.record.tests.iter().enumerate();
    match all.into_iter().find(|(_, t)| t.failed > 0 && !ordered(t.test) && counts(&t.covers, t.started)) {
        Some((i, test)) => Evidence::record(
            path.index(i).key("failed"),
            Found::Own {
                observed: format!("{}: {} of {} failed", test.test.name(), test.failed, test.pieces),
                limit: "none failed".to_owned(),
                met: false,
            },
        ),
        None => Evidence::record(path, Found::NotApplicable),
    }
}

fn span(dossier: &Dossier) -> Evidence {
    let path = Path::root().key("runs");
    let Some((first, last)) = dossier.record.processed() else { return Evidence::missing(path) };
    let days = last.days_since(first).saturating_add(1);
    Evidence::record(path, Found::Quantity(Quantity::new(Decimal::from(days), Unit::Day)))
}

fn adopted(resolved: Option<&Resolved>) -> Evidence {
    let path = Path::root();
    let found = match resolved.map(|r| (&r.pack.adopted, &r.name)) {
        Some((Some(adopted), name)) => {
            Found::Fact { shown: format!("{name} adopted {} by {}", adopted.on, adopted.by), holds: true }
        }
        Some((None, name)) => Found::Missing(Reason::NotInBook(format!("adoption of {name}"))),
        None => Found::Missing(Reason::NotAdopted),
    };
    Evidence::at(Document::Adoption, path, found)
}

/// Evidence for a limit of the purchaser's own, with the words of the subject; `None` for subjects that have
/// nothing to say about limits.
pub fn limit_evidence(
    dossier: &Dossier,
    call_out: &CallOut,
    place: &Place,
    runs: &[FinalRun],
    subject: Subject,
) -> Option<(String, Vec<Evidence>)> {
    let what = call_out.limit?;
    let name = what.name();
    let path = Path::root().key("measurements");
    let made: Vec<(usize, &Measurement, bool)> = dossier
        .record
        .measurements
        .iter()
        .enumerate()
        .filter(|(_, m)| m.what == what)
        .map(|(i, m)| {
            let after =
                runs.iter().any(|r| r.covered_by(&m.covers) && r.end().is_some_and(|end| m.at >= end));
            (i, m, after)
        })
        .collect();
    let counting = || made.iter().filter(|(_, _, after)| *after);
    Some(match subject {
        Subject::LimitReading if call_out.rule == Some(RoughnessRule::SixteenPercent) => {
            (name.to_owned(), gauges::sixteen_percent(dossier, call_out, what, runs))
        }
        Subject::LimitReading => (
            name.to_owned(),
            gauges::readings(dossier, what, runs, |reading, known| {
                let rule = dossier.order.decision_rule;
                against(call_out, reading, &Decided { rule, uncertainty: known })
            }),
        ),
        Subject::LimitCalibration => {
            let all = counting()
                .map(|(i, m, _)| match &m.instrument {
                    Some(id) => calibration(
                        dossier,
                        id,
                        m.at.date(),
                        path.index(*i).key("instrument"),
                        InstrumentKind::for_measurement(what),
                    ),
                    None => Evidence::missing(path.index(*i).key("instrument")),
                })
                .collect::<Vec<_>>();
            if all.is_empty() {
                return None; // the missing reading is the gap
            }
            (format!("{name}, gauge calibration"), all)
        }
        Subject::LimitQualified => {
            let deeds: Vec<_> =
                counting().map(|(i, m, _)| people::of_measurement(m, &path.index(*i))).collect();
            if deeds.is_empty() {
                return None; // the missing reading is the gap
            }
            (format!("{name}, gauge users"), people::qualified(dossier, &deeds))
        }
        Subject::NextLimitCalibration => {
            counting().next()?;
            let used = counting().filter_map(|(_, m, _)| Some((m.instrument.clone()?, m.at.date())));
            let used: Vec<_> = used.collect();
            (format!("{name}, next gauge calibration"), later::calibrations(dossier, &used, path.clone()))
        }
        Subject::LimitPieces => {
            let own = || counting().filter(|(_, m, _)| part::speaks_for_part(dossier, &m.covers));
            let count = |i: usize, m: &Measurement| raw::readings(dossier, i, m).len() as u64;
            let pieces = own().fold(0_u64, |sum, (i, m, _)| sum.saturating_add(count(*i, m)));
            own().next().filter(|_| pieces > 0)?; // the missing reading is the gap
            let lot = runs.iter().fold(0_u64, |sum, r| sum.saturating_add(r.pieces));
            let ordered = call_out.pieces.unwrap_or(1);
            let counted = Found::Counted { pieces, ordered, lot };
            (
                format!("{name}, pieces measured"),
                vec![Evidence::at(place.document, place.path.clone(), counted)],
            )
        }
        _ => return None,
    })
}

/// One reading against the purchaser's limits, in the unit of the order.
fn against(call_out: &CallOut, reading: &Quantity, decided: &Decided) -> Found {
    let limits = [(call_out.at_least, Side::AtLeast), (call_out.at_most, Side::AtMost)];
    let mut met = true;
    let mut words = Vec::new();
    for (limit, side) in limits {
        let Some(limit) = limit else { continue };
        match decided.met(reading, &limit, side) {
            Ok(inside) => met &= inside,
            Err(reason) => return Found::Missing(reason),
        }
        let word = side.word();
        let converted = if reading.unit() == limit.unit() { "" } else { ", compared across units" };
        words.push(format!("{}{converted}", decided.words(format!("{word} {limit}"), &limit)));
    }
    if words.is_empty() {
        return Found::Missing(Reason::Contradiction("the call-out has no limit".to_owned()));
    }
    Found::Own { observed: reading.to_string(), limit: words.join(" and "), met }
}
