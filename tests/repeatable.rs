//! The same data, key and time make the same bytes: in any time zone, language, folder and number of threads, and
//! in another process.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a test stops at the first surprise"
)]

use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;

use brightproof::app::delivery;
use brightproof::app::delivery::Reissue;
use brightproof::app::delivery::Which;
use brightproof::app::desk::files;
use brightproof::app::issue::Target;
use brightproof::app::lookup;
use brightproof::app::lookup::AmendRequest;
use brightproof::app::lookup::Amended;
use brightproof::canonical::stamp;
use brightproof::certificate::AmendmentKind;
use brightproof::folder::Folder;

use crate::demo;
use crate::demo::Demo;

const WHERE: &str = "BRIGHTPROOF_TEST_REPEATABLE_FOLDER";

/// Makes the shop, issues everything, amends, reissues and withdraws, all at fixed times with fixed chance; answers
/// a line for each certificate, for the keys and for each entry.
fn make(folder: &Path) -> Vec<String> {
    let root = demo::begin(folder, "repeatable");
    let numbers =
        demo::issue_all(&mut demo::desk(folder), &demo::targets(), &demo::world(demo::ISSUED, "issue"));
    demo::correct(folder, "lots/L-26-0411.yaml", "temperature: 105 °F", "temperature: 106 °F");
    let world = demo::world(demo::AFTER, "after");
    let small = Target::Lot(demo::SMALL_LOT.to_owned());
    let number = &numbers[demo::targets().iter().position(|target| *target == small).unwrap()];
    let kind = AmendmentKind::Conformity;
    let request = AmendRequest { number, by: demo::RELEASES, why: "misread", kind };
    let mut desk = demo::desk(folder);
    let Amended::New { number: new, .. } = lookup::amend(&mut desk, &request, &world).unwrap() else {
        panic!("held")
    };
    brightproof::app::issue::write_out(&desk, &new, None).unwrap();
    drop(desk);
    let shop = Folder::new(folder);
    let sent = folder.join("sent");
    let (by, to) = ("D. Yarrow", "Quillmark Instruments");
    let request = Reissue { by, to, why: "lost", how: None, approved_by: Some("M. Sorrel"), out: &sent };
    delivery::reissue(&shop, &Which::Number(&numbers[0]), &request, &world).unwrap();
    lookup::withdraw(&shop, &numbers[1], "M. Sorrel", "not sent", "kept here", &world).unwrap();

    let mut lines = vec![format!("root {root}")];
    let digest = |path: PathBuf| stamp(&fs::read(path).unwrap());
    for number in numbers.iter().chain([&new]) {
        lines.push(format!("{number} {}", digest(folder.join(format!("certificates/{number}.pdf")))));
    }
    lines.push(format!("sent {}", digest(sent.join(format!("{}.pdf", numbers[0])))));
    for key in [files::ROOT, files::SEAL, files::SEAL_KEY, files::CHECKPOINT_KEY, files::HEAD] {
        lines.push(format!("{key} {}", digest(folder.join(key))));
    }
    let register = demo::register(folder);
    for position in 0..register.head().unwrap().size {
        let entry = register.entry(position).unwrap().unwrap();
        lines.push(format!("entry {position} {} {}", stamp(&entry.leaf), stamp(&entry.rest)));
    }
    lines
}

#[test]
fn another_process_in_another_place_makes_the_same_bytes() {
    let here = make(&demo::fresh("repeatable-here"));
    assert_eq!(here.len(), 1 + 13 + 1 + 5 + 6 + 12 + 3, "{here:#?}");
    for (name, environment) in [
        (
            "far east",
            &[("TZ", "Pacific/Kiritimati"), ("LC_ALL", "tr_TR.UTF-8"), ("RAYON_NUM_THREADS", "1")][..],
        ),
        (
            "größer",
            &[
                ("TZ", "America/St_Johns"),
                ("LANG", "ar_EG.UTF-8"),
                ("RAYON_NUM_THREADS", "7"),
                ("HOME", "/nowhere"),
            ],
        ),
    ] {
        let folder = demo::fresh("repeatable-elsewhere").join(name);
        fs::create_dir(&folder).unwrap();
        let child = Command::new(std::env::current_exe().unwrap())
            .args(["--ignored", "--exact", "--nocapture", "repeatable::the_lines_of_another_process"])
            .envs(environment.iter().copied())
            .env(WHERE, &folder)
            .current_dir(std::env::temp_dir())
            .output()
            .unwrap();
        let said = demo::printed(&child);
        assert!(child.status.success(), "{said}");
        let there: Vec<&str> = said.lines().filter_map(|l| l.strip_prefix("line: ")).collect();
        assert_eq!(there, here, "{name}");
    }
}

#[test]
#[ignore = "run by the test above, in a process of its own"]
fn the_lines_of_another_process() {
    let Some(folder) = std::env::var_os(WHERE) else { return };
    for line in make(Path::new(&folder)) {
        println!("line: {line}");
    }
}

/// The page is drawn again to verify it: wherever that is done, it must come out the same, and so must the findings.
#[test]
fn verifying_and_judging_do_not_depend_on_the_place() {
    let demo = Demo::get();
    let run = |environment: &[(&str, &str)], folder: &Path, arguments: &[&str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_brightproof"));
        let output =
            command.args(arguments).envs(environment.iter().copied()).current_dir(folder).output().unwrap();
        (output.status.code(), String::from_utf8(output.stdout).unwrap())
    };
    let shop = demo.folder.to_str().unwrap();
    let certificates = demo.folder.join("certificates");
    let verify = ["verify", certificates.to_str().unwrap(), "--trust", &demo.root, "--format", "json"];
    let check = ["--shop", shop, "check", "--format", "json"];
    let (verified, checked) = (run(&[], &demo.folder, &verify), run(&[], &demo.folder, &check));
    assert_eq!((verified.0, checked.0), (Some(0), Some(1)));
    for environment in [
        &[("TZ", "Pacific/Kiritimati"), ("LC_ALL", "tr_TR.UTF-8")][..],
        &[
            ("TZ", "Pacific/Marquesas"),
            ("LC_ALL", "C"),
            ("NO_COLOR", "1"),
            ("COLUMNS", "20"),
            ("TERM", "dumb"),
        ],
        &[("TZ", "nonsense"), ("LC_ALL", "xx_XX"), ("LANGUAGE", "de"), ("RAYON_NUM_THREADS", "1")],
    ] {
        assert!(run(environment, &std::env::temp_dir(), &verify) == verified, "{environment:?}");
        assert!(run(environment, &std::env::temp_dir(), &check) == checked, "{environment:?}");
    }
}
