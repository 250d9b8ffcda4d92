//! Raw files in the main job: what is computed of them is judged, what was typed must agree, and whoever holds the
//! evidence store computes it again. The shop and its readings are invented; limits are the sample papers' own.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops at the first surprise")]

mod currents;

use brightproof::app::computed::compute;
use brightproof::app::error::Error;
use brightproof::app::issue::Target;
use brightproof::app::verify;
use brightproof::app::verify::Anchor;
use brightproof::app::verify::Answer;
use brightproof::app::withheld;
use brightproof::certificate::Evidence;
use brightproof::computed::Reading;
use brightproof::finding::Verdict;
use brightproof::folder::Folder;
use brightproof::judge::Dossier;
use brightproof::judge::judge;
use brightproof::order::DecisionRule;
use brightproof::part::RoughnessRule;

use crate::demo;
use crate::support;
use crate::support::brief;
use crate::support::dossier;
use crate::support::read;

const LOGGED: &str = "L-26-0551";
const TRACED: &str = "L-26-0553";

fn bytes(path: &str) -> Result<Option<Vec<u8>>, Error> {
    Ok(std::fs::read(support::folder().join(path)).ok())
}

/// The dossier with one raw file changed.
fn with(lot: &str, change: impl Fn(&str, Vec<u8>) -> Option<Vec<u8>>) -> Dossier {
    let mut dossier = dossier(lot);
    let read = |path: &str| Ok(bytes(path)?.and_then(|bytes| change(path, bytes)));
    dossier.computed = compute(&dossier, &read).unwrap();
    dossier
}

fn edited(lot: &str, from: &str, to: &str) -> Dossier {
    with(lot, |_, bytes| {
        let text = String::from_utf8(bytes).unwrap();
        assert!(text.contains(from), "{from}");
        Some(text.replacen(from, to, 1).into_bytes())
    })
}

fn gaps(dossier: &Dossier) -> Vec<String> {
    judge(dossier).iter().filter(|f| f.is_gap()).map(brief).collect()
}

fn one(dossier: &Dossier, requirement: &str, words: &str) {
    let gaps = gaps(dossier);
    assert_eq!(gaps.len(), 1, "{gaps:#?}");
    assert!(gaps[0].contains(requirement) && gaps[0].contains(words), "{gaps:#?}");
}

#[test]
fn computed_again_it_comes_out_the_same() {
    for lot in [LOGGED, TRACED, "L-26-0552", "L-26-0554", "L-26-0555"] {
        let dossier = dossier(lot);
        assert!(!dossier.computed.is_empty(), "{lot}");
        assert_eq!(compute(&dossier, &bytes).unwrap(), dossier.computed, "{lot}");
    }
}

/// Every reading of the immersion is judged, not the one that was written down.
#[test]
fn one_reading_beyond_the_window_holds_the_lot() {
    let found = edited(LOGGED, "2026-11-24 10:00:00,7", "2026-11-24 10:00:00,9");
    one(&found, "astm-a967/nitric-2.temperature", "9");
    // Before the pieces went in it is nobody's affair.
    assert_eq!(gaps(&edited(LOGGED, "2026-11-24 08:00:00,7", "2026-11-24 08:00:00,9")), Vec::<String>::new());
}

/// The log's own excursions are told with length and worst reading.
#[test]
fn excursions_are_told() {
    let dossier = dossier("L-26-0552");
    let log = dossier.computed[0].log().unwrap();
    let temperature = log.channel("temperature").unwrap();
    assert_eq!(temperature.at_most, Some(read("90 °F")));
    let worst = temperature.excursions.iter().max_by_key(|e| e.worst.value()).unwrap();
    assert!(worst.above);
    assert_eq!(worst.worst, read("93.3 °F"));
    let minutes = worst.lasts.value_in(brightproof::units::Unit::Minute).unwrap();
    assert!(minutes > 5.into() && minutes < 12.into(), "{minutes}");
}

#[test]
fn damaged_files_are_gaps_with_row_and_column() {
    for (from, to, words) in [
        ("2026-11-24 10:00:00,7", "2026-11-24 10:00:00,NaN", "line"),
        ("2026-11-24 10:00:00,7", "2026-11-24 10:00:00;7", "line"),
        ("2026-11-24 10:00:00,7", "2026-11-24 09:00:00,7", "line"),
        ("N-2 (°F)", "N-2 (°C)", "°C"),
        ("Date and time,", "Other,", "Date and time"),
    ] {
        one(&edited(LOGGED, from, to), "house/raw-files.read", words);
    }
    one(&with(LOGGED, |_, _| Some(Vec::new())), "house/raw-files.read", "empty");
    // A log of another day.
    let other = with(LOGGED, |_, _| bytes("logs/N-2-2026-11-25.csv").unwrap());
    one(&other, "house/raw-files.read", "another time");
    // A trace cut short is told where the reading is asked for.
    let cut = with(TRACED, |path, bytes| {
        Some(if path.ends_with("-2.x3p") { bytes[..bytes.len() / 2].to_vec() } else { bytes })
    });
    let gaps = gaps(&cut);
    assert!(gaps.iter().any(|g| g.contains("house/raw-files.read")), "{gaps:#?}");
    assert!(gaps.iter().any(|g| g.contains("house/limit.reading")), "{gaps:#?}");
}

#[test]
fn what_was_typed_must_agree() {
    let mut typed = dossier(LOGGED);
    for step in &mut typed.record.runs[0].steps {
        if let Some(dip) = support::immersion(step).filter(|dip| dip.log.is_some()) {
            dip.temperature = Some(read("85 °F"));
        }
    }
    one(&typed, "house/figures.agree", "85 °F");
    let mut typed = dossier(TRACED);
    typed.record.measurements[0].readings[0] = read("0.27 µm");
    one(&typed, "house/figures.agree", "0.27 µm");
    // By hand: 1.355 g off 100 cm² of a metal of 8.0 g/cm³ are 17 µm.
    let mut typed = dossier(TRACED);
    typed.record.measurements[1].readings = vec![read("17 µm")];
    assert_eq!(gaps(&typed), Vec::<String>::new());
    typed.record.measurements[1].readings = vec![read("19 µm")];
    one(&typed, "house/figures.agree", "19 µm");
    // The titration of the bath gives 26.3 vol%, on 42 °Bé acid: 19.72 mL of 1 N in 5 mL, 100 · 3.944 / 15.0.
    let mut typed = dossier(LOGGED);
    let analysis = typed.baths.iter_mut().flat_map(|b| &mut b.analyses).find(|a| !a.titrations.is_empty());
    for found in analysis.unwrap().found.values_mut() {
        *found = read("24.9 vol%");
    }
    one(&typed, "house/figures.agree", "24.9 vol%");
}

/// The titration is judged, not the figure somebody wrote beside it: 14.70 mL of 1 N in 5 mL are 2.94 mol/L, on 42 °Bé
/// acid of 15.0 mol/L 19.6 vol%, by hand; Nitric 2 asks for 20 vol% (ASTM A967/A967M).
#[test]
fn the_titration_is_judged() {
    let analysed = |change: &dyn Fn(&mut brightproof::shop::Analysis)| {
        let mut dossier = dossier(LOGGED);
        let analyses = dossier.baths.iter_mut().flat_map(|b| &mut b.analyses);
        analyses.filter(|a| !a.titrations.is_empty()).for_each(change);
        dossier
    };
    let weak = analysed(&|analysis| {
        analysis.titrations[0].volume = Some(read("14.70 mL"));
        analysis.found.values_mut().for_each(|found| *found = read("19.6 vol%"));
    });
    let held = gaps(&weak);
    assert!(held.iter().any(|g| g.contains("nitric-2.") && g.contains("19.6")), "{held:#?}");
    assert!(!held.iter().any(|g| g.contains("figures.agree")), "{held:#?}");
    // Nothing was written beside it: what the titration gives is enough.
    assert_eq!(gaps(&analysed(&|analysis| analysis.found.clear())), Vec::<String>::new());
    // A titration that cannot be reckoned proves nothing.
    let unclear = analysed(&|analysis| analysis.titrations[0].basis = None);
    assert!(gaps(&unclear).iter().any(|g| g.contains("nitric-2.")), "{:#?}", gaps(&unclear));
}

#[test]
fn the_cut_off_ordered_is_asked() {
    let mut other = dossier(TRACED);
    other.part.calls_for.iter_mut().for_each(|call| call.cutoff = call.cutoff.map(|_| read("0.25 mm")));
    one(&other, "house/roughness.filter", "0.8 mm");
}

/// Weighing, sizes and charge tell of one removal: 1.3550 g of 100 cm² at 7.98 g/cm³ are 16.98 µm, by hand.
#[test]
fn removal_found_in_several_ways() {
    let whole = dossier(TRACED);
    let told = brightproof::judge::removal_estimates(&whole, 1, &whole.record.measurements[1]);
    assert_eq!(told[0].1, read("16.98 µm"));
    assert_eq!(told.len(), 3);
    let mut other = whole.clone();
    other.record.measurements[1].weighed[0].after = read("150.6310 g"); // 1.8000 g: 22.6 µm
    one(&other, "house/removal.agrees", "removal");
    let mut thin = whole;
    thin.record.measurements[1].weighed[0].after = read("152.4310 g");
    assert!(gaps(&thin).iter().any(|g| g.contains("house/limit.reading")), "{:#?}", gaps(&thin));
}

/// Guard band of the thermometer's uncertainty: the log's highest reading is the one that counts.
#[test]
fn guard_bands_are_asked_of_every_reading() {
    let stated = |uncertainty: &str| {
        let mut dossier = dossier(LOGGED);
        dossier.order.decision_rule = DecisionRule::GuardBand;
        for calibration in dossier.instruments.iter_mut().flat_map(|i| &mut i.calibrations) {
            calibration.uncertainty = Some(read(uncertainty));
        }
        gaps(&dossier)
    };
    let temperature = |gaps: &[String]| gaps.iter().any(|g| g.contains("nitric-2.temperature"));
    assert!(!temperature(&stated("0.5 °F")));
    assert!(temperature(&stated("12 °F")));
    let mut silent = dossier(LOGGED);
    silent.order.decision_rule = DecisionRule::GuardBand;
    assert!(temperature(&gaps(&silent)), "nobody stated it");
}

/// By the 16 % rule one sampling length in fifteen may lie beyond the limit, three may not (ISO 4288:1996, recalled).
#[test]
fn the_sixteen_per_cent_rule() {
    let all: Vec<_> = {
        let dossier = dossier(TRACED);
        let each = dossier.computed.iter().filter(|c| c.named_at.to_string().contains("].traces["));
        let mut all: Vec<_> = each.flat_map(|c| c.trace().unwrap().each_ra.clone()).collect();
        all.sort_by_key(brightproof::units::Quantity::value);
        all
    };
    assert_eq!(all.len(), 15);
    let held = |beyond: usize| {
        let mut dossier = dossier(TRACED);
        for call in dossier.part.calls_for.iter_mut().filter(|c| c.cutoff.is_some()) {
            call.rule = Some(RoughnessRule::SixteenPercent);
            call.at_most = Some(all[14 - beyond]);
        }
        gaps(&dossier)
    };
    assert_eq!(held(2), Vec::<String>::new());
    assert_eq!(held(3).len(), 1, "{:#?}", held(3));
}

/// Whoever holds certificate and store computes every figure again.
#[test]
fn verify_computes_again_from_the_store() {
    let folder = demo::fresh("raw-store");
    let anchor = Anchor::read(&demo::begin(&folder, "raw-store")).unwrap();
    let target = [Target::Lot(TRACED.to_owned())];
    let world = demo::world("2026-11-30T09:00:00-05:00", "raw-store");
    let numbers = demo::issue_all(&mut demo::desk(&folder), &target, &world);
    let (store, pdf) = (folder.join("evidence"), demo::file(&folder, &numbers[0]));
    let line = |pdf: &[u8]| {
        let mut found = demo::verify(pdf, &anchor, None);
        verify::evidence(&mut found, pdf, &store, &[]).unwrap();
        found.lines.iter().find(|l| l.check == "figures").unwrap().answer.clone()
    };
    assert_eq!(line(&pdf), Answer::Pass);
    let dossier = dossier(TRACED);
    let trace = dossier.computed.iter().find(|c| matches!(c.found, Reading::Log(_))).unwrap();
    let (head, rest) = trace.sha256.split_at(2);
    let kept = store.join("sha256").join(head).join(rest);
    let text = String::from_utf8(std::fs::read(&kept).unwrap()).unwrap();
    std::fs::write(&kept, text.replacen("24.11.2026 08:00:00;67", "24.11.2026 08:00:00;57", 1)).unwrap();
    let Answer::Fail(why) = line(&pdf) else { unreachable!("an altered log must not pass") };
    assert!(why.contains("temperature"), "{why}");
    std::fs::remove_file(&kept).unwrap();
    assert!(matches!(line(&pdf), Answer::Fail(why) if why.contains("not in the shop folder")));
}

/// Where the record is withheld, nothing is computed again until its evidence is at hand; then all of it is.
#[test]
fn withheld_figures_are_computed_again_from_the_evidence() {
    let folder = demo::fresh("raw-withheld");
    let anchor = Anchor::read(&demo::begin(&folder, "raw-withheld")).unwrap();
    let order = folder.join("orders/OS-30466.yaml");
    let text = std::fs::read_to_string(&order).unwrap();
    let kept: Vec<&str> = text.lines().filter(|line| !line.starts_with("discloses:")).collect();
    assert_eq!(kept.len() + 1, text.lines().count());
    std::fs::write(&order, kept.join("\n") + "\n").unwrap();
    let world = demo::world("2026-11-30T09:00:00-05:00", "raw-withheld");
    let numbers = demo::issue_all(&mut demo::desk(&folder), &[Target::Lot(TRACED.to_owned())], &world);
    let (store, pdf) = (folder.join("evidence"), demo::file(&folder, &numbers[0]));
    let file = folder.join("handed.json");
    withheld::hand_out(&Folder::new(folder.clone()), &numbers[0], &file).unwrap();
    let handed = withheld::read(&[file]).unwrap();
    let lines = |handed: &[Evidence]| {
        let mut found = demo::verify(&pdf, &anchor, None);
        verify::evidence(&mut found, &pdf, &store, handed).unwrap();
        let of = |check: &str| found.lines.iter().find(|l| l.check == check).map(|l| l.answer.clone());
        (of("evidence"), of("figures"))
    };
    let (evidence, figures) = lines(&[]);
    assert!(matches!(evidence, Some(Answer::NotChecked(_))) && figures.is_none());
    assert_eq!(lines(&handed), (Some(Answer::Pass), Some(Answer::Pass)));
    // Evidence of another certificate opens nothing.
    let mut other = handed;
    other[0].number = "LBF-2026-000099".to_owned();
    assert!(matches!(lines(&other).0, Some(Answer::NotChecked(_))));
}

/// What is worth a second look is told and holds nothing: gains beyond 75 %, ratios under 4 to 1 (both common practice).
#[test]
fn what_is_hardly_plausible_is_told_and_holds_nothing() {
    let found = |dossier: &Dossier, requirement: &str| {
        let all = judge(dossier).into_iter().filter(|f| f.requirement == requirement);
        all.map(|f| (f.verdict, f.observed.unwrap_or_default())).collect::<Vec<_>>()
    };
    let whole = dossier(TRACED);
    assert_eq!(found(&whole, "house/roughness.gain"), []);
    let mut steep = whole.clone();
    steep.record.measurements[0].before = vec![read("1.30 µm")];
    steep.record.measurements[0].traces_before.clear();
    steep.computed.retain(|c| !c.named_at.to_string().contains("traces_before"));
    let [(verdict, said)] = &found(&steep, "house/roughness.gain")[..] else { panic!("one gain") };
    assert_eq!(*verdict, Verdict::Advice, "{said}");
    assert!(said.contains("1.30 µm before") && said.contains("% less"), "{said}");
    assert_eq!(gaps(&steep), Vec::<String>::new());

    // 15 µm of tolerance; a surface known to 25 % makes U 4.2 µm of 17: 15 / 8.5 is under 2, by hand.
    assert_eq!(found(&whole, "house/reading.uncertainty-ratio"), []);
    let mut coarse = whole;
    coarse.record.measurements[1].weighed[0].area_uncertainty = Some("25 %".parse().unwrap());
    let [(verdict, said)] = &found(&coarse, "house/reading.uncertainty-ratio")[..] else {
        panic!("one ratio")
    };
    assert_eq!(*verdict, Verdict::Advice, "{said}");
    assert!(said.starts_with("1.7 to 1 with U = 4.2"), "{said}");
}

/// A long log without a gap is drawn as one line: a curve keeps a hundredth of the interval, here 3 min, of readings
/// 15 s apart. One with a gap is not joined over it.
#[test]
fn a_long_log_is_one_line() {
    let mut log = dossier(LOGGED).computed[0].log().unwrap().clone();
    log.from = "2026-11-24T09:00-05:00".parse().unwrap();
    log.to = "2026-11-24T14:00-05:00".parse().unwrap();
    (log.longest_gap, log.allowed_gap) = (read("15 s"), read("30 s"));
    assert_eq!(log.joined_over(), read("390 s"));
    log.longest_gap = read("20 min");
    assert_eq!(log.joined_over(), read("30 s"));
}

/// Nobody wrote down when the pieces went in and came out: the current of the log tells it, and everything that hangs
/// on the time (analysis and calibration in force, time in the bath, rinses in their order) is judged by it.
#[test]
fn an_immersion_is_found_from_the_current() {
    let folder = demo::fresh("raw-current");
    let anchor = Anchor::read(&demo::begin(&folder, "raw-current")).unwrap();
    let file = folder.join("lots/L-26-0553.yaml");
    let text = std::fs::read_to_string(&file).unwrap();
    let (from, to) = ("in: 2026-11-24T07:55-05:00, ", "out: 2026-11-24T08:05-05:00, ");
    assert!(text.contains(from) && text.contains(to));
    std::fs::write(&file, text.replace(from, "").replace(to, "")).unwrap();
    crate::journeys::at(&folder, &["check", TRACED]).code(0);
    let world = demo::world("2026-11-30T09:00:00-05:00", "raw-current");
    let numbers = demo::issue_all(&mut demo::desk(&folder), &[Target::Lot(TRACED.to_owned())], &world);
    let pdf = demo::file(&folder, &numbers[0]);
    let mut found = demo::verify(&pdf, &anchor, None);
    verify::evidence(&mut found, &pdf, &folder.join("evidence"), &[]).unwrap();
    assert!(found.lines.iter().all(|l| !matches!(l.answer, Answer::Fail(_))), "{:#?}", found.lines);
    assert!(found.lines.iter().any(|l| l.check == "figures" && l.answer == Answer::Pass));
    let data = String::from_utf8(brightproof::pdf::read_sealed(&pdf).unwrap().attachment).unwrap();
    assert!(data.contains("from where the current rises to where it falls"));
    // The log without its current tells nothing: the time in the bath is missing, and so is all that hangs on it.
    let loggers = folder.join("loggers.yaml");
    let text = std::fs::read_to_string(&loggers).unwrap();
    let lines = text.lines().filter(|line| !line.contains("measures: current"));
    std::fs::write(&loggers, lines.collect::<Vec<_>>().join("\n") + "\n").unwrap();
    crate::journeys::at(&folder, &["check", TRACED]).code(1).says("no current was logged to find it by");
}
