//! What is found or decided after a certificate was issued, and who may release for whom.

use super::at;
use super::entries;
use crate::demo;
use crate::demo::Demo;

const NEXT: &str =
    "      - { at: 2026-11-09T06:34-05:00, by: J. Teasel, found: { citric acid: 6.3 wt%, pH: 1.9 pH } }\n";
const LAST: &str =
    "      - { at: 2026-11-23T06:35-05:00, by: J. Teasel, found: { citric acid: 6.2 wt%, pH: 2.0 pH } }\n";

/// Lot 0411 went through C-1 on 2026-11-03, after the analysis of the day before.
#[test]
fn an_analysis_entered_after_issue_shows_in_check_and_leaves_the_certificate_as_it_is() {
    let folder = demo::fresh("journey-later");
    let root = demo::begin(&folder, "journey-later");
    demo::change(&folder, "baths.yaml", NEXT, "");
    demo::change(&folder, "baths.yaml", LAST, "");
    let issue = ["issue", "L-26-0411", "--by", "M. Sorrel"];
    at(&folder, &issue).code(0).says("LBF-2026-000001 issued: ");
    let (bytes, size) = (demo::file(&folder, "LBF-2026-000001"), entries(&folder));
    let before = "      - { at: 2026-11-02T06:36-05:00, by: J. Teasel, found: { citric acid: 6.5 wt%, pH: 1.9 pH } }\n";

    // The next analysis is in order: it is the same shipment, and a clerical amendment stays clerical.
    demo::change(&folder, "baths.yaml", before, &format!("{before}{NEXT}"));
    at(&folder, &issue).code(0).says("issued before; the same file written again");
    let amend = ["amend", "LBF-2026-000001", "--by", "M. Sorrel", "--why", "asked for", "--kind", "clerical"];
    at(&folder, &amend).code(2).warns("nothing that certificate LBF-2026-000001 says has changed");
    assert_eq!((demo::file(&folder, "LBF-2026-000001"), entries(&folder)), (bytes.clone(), size));

    // The next analysis fails.
    demo::change(&folder, "baths.yaml", "citric acid: 6.3 wt%", "citric acid: 3.9 wt%");
    at(&folder, &["check", "L-26-0411"])
        .code(1)
        .says("Ask the purchaser")
        .says("next bath analysis, run 1: 3.9 wt% in C-1, drawn 2026-11-09T06:34-05:00; asked: citric acid 4 wt%")
        .says("since when it was out cannot be told");
    at(&folder, &issue).code(1).says("held, nothing issued");
    at(&folder, &amend).code(1).warns("the old certificate still stands");
    assert_eq!((demo::file(&folder, "LBF-2026-000001"), entries(&folder)), (bytes, size));
    let verify =
        ["verify", "certificates/LBF-2026-000001.pdf", "--trust", &root, "--register", "register.sqlite"];
    at(&folder, &verify).code(0).says("verifies");
}

#[test]
fn a_clerical_amendment_after_the_next_analysis_names_only_what_was_corrected() {
    let folder = demo::fresh("journey-later-clerical");
    demo::begin(&folder, "journey-later-clerical");
    demo::change(&folder, "baths.yaml", LAST, "");
    demo::change(&folder, "baths.yaml", NEXT, "");
    at(&folder, &["issue", "L-26-0411", "--by", "M. Sorrel"]).code(0);
    let before = "      - { at: 2026-11-02T06:36-05:00, by: J. Teasel, found: { citric acid: 6.5 wt%, pH: 1.9 pH } }\n";
    demo::change(&folder, "baths.yaml", before, &format!("{before}{NEXT}"));
    demo::change(
        &folder,
        "lots/L-26-0411.yaml",
        "lot: L-26-0411\n",
        "lot: L-26-0411\npurchaser_lot: QM-77\n",
    );
    let amend = ["amend", "LBF-2026-000001", "--by", "M. Sorrel", "--why", "left out", "--kind", "clerical"];
    let done = at(&folder, &amend).code(0).says("purchaser lot: `nothing` became `QM-77`; left out");
    assert!(!done.out.contains("later") && !done.out.contains("next"), "{}", done.out);
}

#[test]
fn nobody_releases_for_a_purchaser_they_may_not() {
    let folder = demo::fresh("journey-scope");
    demo::begin(&folder, "journey-scope");
    let before = entries(&folder);
    at(&folder, &["issue", "L-26-0403", "--by", "R. Medlar"])
        .code(2)
        .warns("R. Medlar may not release shipments for Orrery Semicon Supply")
        .warns("people.yaml says for whom");
    at(&folder, &["issue", "--slip", "PS-26-0315", "--by", "R. Medlar"])
        .code(2)
        .warns("Halyard Aerostructures");
    assert_eq!(entries(&folder), before);
    at(&folder, &["issue", "L-26-0411", "--by", "R. Medlar"]).code(0).says("issued: ");
    // An amendment is a release too.
    demo::change(&folder, "people.yaml", "may_release: [quillmark, tarn-fell]", "may_release: [tarn-fell]");
    demo::change(
        &folder,
        "lots/L-26-0411.yaml",
        "lot: L-26-0411\n",
        "lot: L-26-0411\npurchaser_lot: QM-77\n",
    );
    let amend = ["amend", "LBF-2026-000001", "--by", "R. Medlar", "--why", "left out", "--kind", "clerical"];
    at(&folder, &amend).code(2).warns("R. Medlar may not release shipments for Quillmark Instruments");
    demo::change(&folder, "people.yaml", "may_release: [tarn-fell]", "may_release: [all]");
    at(&folder, &["check", "L-26-0411"]).code(2).warns("`all` is no purchaser");
}

#[test]
fn a_certificate_prints_the_approvals_that_cover_it() {
    let demo = Demo::get();
    let printed = |target: &str| -> Vec<String> {
        let (_, bytes) = demo.certificate(target);
        let data = brightproof::pdf::read_sealed(bytes).unwrap().attachment;
        let data: serde_json::Value = serde_json::from_slice(&data).unwrap();
        let all = data["issuer"]["approvals"].as_array().unwrap();
        all.iter().map(|a| a["number"].as_str().unwrap().to_owned()).collect()
    };
    assert_eq!(printed("PS-26-0314"), ["AP-031"]);
    assert_eq!(printed("PS-26-0315"), ["SP-1184"]);
    assert_eq!(printed("PS-26-0316"), ["AP-031", "SP-1184"]);
}
