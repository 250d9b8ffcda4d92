//! Certificates that say another release judged or drew them: what that leaves open is told, and is no pass; what no
//! judge could have certified still fails.

use brightproof::app::verify::Overall;
use brightproof::certificate::Certificate;
use brightproof::finding::Verdict;
use brightproof::judge::JUDGE;
use brightproof::pdf::DRAWING;

use crate::demo;
use crate::demo::Demo;
use crate::demo::said;
use crate::tamper::forger;

/// Sealed by the shop's own key, so that nothing but the data's claims are other.
fn claimed(change: impl FnOnce(&mut Certificate)) -> brightproof::app::verify::Verification {
    let demo = Demo::get();
    let mut certificate = forger::certificate(demo.certificate(demo::SMALL_LOT).1);
    change(&mut certificate);
    let file = forger::sealed(&certificate, &demo::desk(&demo.folder).seal);
    demo::verify(&file, &demo.anchor(), None)
}

#[test]
fn another_drawing_is_told_and_is_no_pass() {
    demo::verifies(&claimed(|c| c.renderer.release = "9.9.9".to_owned()));
    for change in [
        (|c: &mut Certificate| c.renderer.drawing = DRAWING + 1) as fn(&mut Certificate),
        |c| c.renderer.template_sha256 = "0".repeat(64),
        |c| c.renderer.fonts_sha256 = "0".repeat(64),
    ] {
        let found = claimed(change);
        assert!(
            said(&found, "page").starts_with("not checked: it was drawn by release"),
            "{}",
            said(&found, "page")
        );
        assert_eq!(found.overall(), Overall::CouldNotTell);
    }
}

#[test]
fn another_judge_whose_findings_follow_passes() {
    demo::verifies(&claimed(|c| c.judge.judge = JUDGE - 1));
    demo::verifies(&claimed(|c| c.judge.release = "9.9.9".to_owned()));
}

#[test]
fn another_judge_whose_findings_do_not_follow_leaves_the_question_open() {
    let observed = |c: &mut Certificate| {
        let finding = c.lots[0].findings.iter_mut().find(|f| f.observed.is_some()).unwrap();
        finding.observed = Some("otherwise".to_owned());
    };
    let own = claimed(observed);
    assert!(said(&own, "judgement").starts_with("fail: "), "{}", said(&own, "judgement"));
    let other = claimed(|c| {
        observed(c);
        c.judge.judge = JUDGE + 1;
    });
    let judgement = said(&other, "judgement");
    assert!(
        judgement.starts_with("not checked: judge ") && judgement.contains("can judge it again"),
        "{judgement}"
    );
    assert_eq!(other.overall(), Overall::CouldNotTell);
    // No judge certifies a gap: there is not even a page for one.
    let demo = Demo::get();
    let mut gap = forger::certificate(demo.certificate(demo::SMALL_LOT).1);
    gap.lots[0].findings[0].verdict = Verdict::NotMet;
    gap.judge.judge = JUDGE + 1;
    assert!(forger::try_sealed(&gap, &demo::desk(&demo.folder).seal).is_none());
}
