//! Customer service: whatever the caller remembers finds the certificate, and the copy is the very file.

use std::fs;
use std::process::Command;

use super::at;
use super::entries;
use crate::demo;
use crate::demo::Demo;

#[test]
fn a_certificate_is_found_by_whatever_is_remembered_of_it() {
    let demo = Demo::get();
    for (target, texts) in [
        ("PS-26-0311", &["QM-5512", "L-26-0409"][..]),
        ("PS-26-0311", &["PS-26-0311"]),
        ("PS-26-0311", &["7790-06"]),
        ("PS-26-0311", &["L-26-0409"]),
        ("PS-26-0315", &["R107"]),
        ("PS-26-0315", &["HA-7712"]),
        ("PS-26-0315", &["halyard"]),
        ("PS-26-0314", &["orrery", "OS-VF40"]),
        ("L-26-0410", &["H4488"]),
        ("L-26-0408", &["4410"]),
        (demo::WORDY_LOT, &["QI-88299"]),
        (demo::WORDY_LOT, &["7799", "2026-11-24", "quillmark"]),
    ] {
        let number = &demo.numbers[target];
        let done = at(&demo.folder, &[&["find"], texts].concat()).code(0).says(number);
        assert_eq!(done.out.matches("issued 2026-11-24T21:20:31Z").count(), 1, "{texts:?}: {}", done.out);
    }
    let (number, _) = demo.certificate(demo::SMALL_LOT);
    at(&demo.folder, &["find", number]).code(0).says("lot L-26-0411  heat H2250");
    at(&demo.folder, &["find", "L-26-0402"])
        .code(0)
        .says(&demo.numbers["PS-26-0312"])
        .says(&demo.numbers["PS-26-0313"]);
    let all = at(&demo.folder, &["find", "LBF-2026"]).code(0);
    assert_eq!(all.out.matches("issued ").count(), 12);
    assert_eq!(at(&demo.folder, &["find", "LBF-2026", "--limit", "3"]).out.matches("issued ").count(), 3);
    at(&demo.folder, &["find", "nowhere"]).code(1).warns("nothing found");
    at(&demo.folder, &["find", "quillmark", "HA-7712"]).code(1).warns("nothing found");
    at(&demo.folder, &["find", "H44", "--exact"]).code(1);
    at(&demo.folder, &["find", "h4488", "--exact"]).code(0);
    at(&demo.folder, &["find", "' OR 1=1 --", "\"", "*"]).code(1);
    at(&demo.folder, &["find"]).code(2);
    let json = at(&demo.folder, &["--format", "json", "find", "H4488"]).code(0).json();
    assert_eq!(
        (&json[0]["number"], json.as_array().unwrap().len()),
        (&demo.numbers["L-26-0410"].as_str().into(), 1)
    );
}

#[test]
fn a_reissue_is_the_same_bytes_and_an_entry() {
    let demo = Demo::get();
    let folder = demo.copy("journey-reissue");
    let (number, bytes) = demo.certificate(demo::SMALL_LOT);
    let before = entries(&folder);
    fs::remove_dir_all(folder.join("certificates")).unwrap();
    let reissue = |number: &str, why: &str| {
        at(
            &folder,
            &[
                "reissue",
                number,
                "--by",
                "D. Yarrow",
                "--to",
                "R. Fathom, receiving inspection",
                "--why",
                why,
                "--out",
                "sent",
            ],
        )
    };
    let done =
        reissue(number, "lost in the post").code(0).says(&format!("{number}: the same bytes, written to "));
    assert_eq!(done.err, "");
    assert_eq!(fs::read(folder.join(format!("sent/{number}.pdf"))).unwrap(), bytes);
    assert_eq!(entries(&folder), before + 1);
    let history = at(&folder, &["register", "history", number]).code(0).says("lost in the post").out;
    let kinds: Vec<&str> = history.lines().map(|l| l.split(' ').nth(2).unwrap()).collect();
    assert_eq!(kinds, ["issue", "reissue"]);
    for word in ["D. Yarrow", "R. Fathom, receiving inspection"] {
        assert!(history.contains(word), "{history}");
    }
    reissue("LBF-2026-000099", "lost").code(2).warns("the register has no certificate LBF-2026-000099");
    reissue(number, "  ").code(2).warns("a reissue needs who sends it, to whom and why");
    assert_eq!(entries(&folder), before + 1);

    // A superseded one is sent too, with a warning.
    at(&folder, &["withdraw", number, "--by", "M. Sorrel", "--why", "wrong lot", "--parts", "hold them"])
        .code(0);
    reissue(number, "for the file")
        .code(0)
        .warns(&format!("warning: {number} is "))
        .warns("tell R. Fathom, receiving inspection so");
    assert_eq!(fs::read(folder.join(format!("sent/{number}.pdf"))).unwrap(), bytes);
    at(&folder, &["find", number]).code(0).says("withdrawn");
    at(&folder, &["register", "audit"]).code(0);
}

#[test]
fn a_reader_that_goes_away_is_no_crash() {
    let demo = Demo::get();
    let root = demo.root.as_str();
    for arguments in [
        &["verify", "certificates", "--trust", root][..],
        &["--format", "json", "verify", "certificates", "--trust", root],
        &["find", "LBF"],
        &["check"],
        &["rules", "list"],
        &["rules", "show", "astm-a967"],
        &["register", "audit"],
        &["manual"],
        &["completions", "bash"],
        &["--help"],
        &["issue", "--all", "--by", "M. Sorrel"],
    ] {
        let folder = if arguments[0] == "issue" { demo.copy("journey-pipe") } else { demo.folder.clone() };
        // The reading end is closed before anything is written.
        let (reader, writer) = std::io::pipe().unwrap();
        drop(reader);
        let output = Command::new(env!("CARGO_BIN_EXE_brightproof"))
            .args(arguments)
            .current_dir(&folder)
            .stdin(std::process::Stdio::null())
            .stdout(writer)
            .stderr(std::process::Stdio::piped())
            .output()
            .unwrap();
        let err = String::from_utf8_lossy(&output.stderr);
        assert!(!err.contains("panicked"), "{arguments:?}: {err}");
        assert!(matches!(output.status.code(), Some(0..=2)), "{arguments:?}: {:?} {err}", output.status);
    }
    let script = r#""$0" verify certificates --trust "$1" | head -n 1"#;
    let mut shell = Command::new("sh");
    let output = shell
        .args(["-c", script, env!("CARGO_BIN_EXE_brightproof"), root])
        .current_dir(&demo.folder)
        .output()
        .unwrap();
    let said = demo::printed(&output);
    assert!(said.lines().count() == 1 && said.contains("verifies"), "{said}");
}
