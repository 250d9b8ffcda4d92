//! A million brackets within each other, in every language that the program reads.

use std::fs;

use super::pack;
use super::refused;
use super::run;
use super::shop;
use super::told;
use crate::demo;
use crate::demo::Demo;
use crate::tamper::forger;

const DEEP: usize = 1_000_000;

#[test]
fn a_million_brackets_in_a_record_or_pack_are_refused() {
    let forms = [
        ("[", "[".repeat(DEEP)),
        ("{a: ", format!("lot: {}", "{a: ".repeat(DEEP))),
        ("- ", "- ".repeat(DEEP)),
        ("? ", "? ".repeat(DEEP)),
        ("[ closed", format!("lot: {}{}", "[".repeat(DEEP), "]".repeat(DEEP))),
    ];
    let folder = shop("deep-yaml");
    for (what, text) in &forms {
        for (file, command) in [
            ("lots/L-26-0411.yaml", &["check", "L-26-0411"][..]),
            ("pack.yaml", &["rules", "check", "pack.yaml"]),
            ("orders/QI-88231.yaml", &["check", "L-26-0401"]),
        ] {
            let path = folder.join(file);
            let before = fs::read(&path);
            fs::write(&path, text).unwrap();
            refused(
                &format!("a million `{what}` in {file}"),
                &folder,
                command,
                file.rsplit('/').next().unwrap(),
            );
            if let Ok(before) = before {
                fs::write(&path, before).unwrap();
            }
        }
    }
}

#[test]
fn aliases_that_multiply_are_refused() {
    let mut text = String::from("a0: &a0 [x, x, x, x, x, x, x, x, x]\n");
    for turn in 1..30 {
        let before = format!("*a{}", turn - 1);
        text.push_str(&format!("a{turn}: &a{turn} [{}]\n", [before.as_str(); 9].join(", ")));
    }
    let folder = shop("aliases");
    for (file, command) in [
        ("lots/L-26-0411.yaml", &["check", "L-26-0411"][..]),
        ("pack.yaml", &["rules", "check", "pack.yaml"]),
    ] {
        fs::write(folder.join(file), &text).unwrap();
        refused(&format!("aliases of aliases in {file}"), &folder, command, file.rsplit('/').next().unwrap());
    }
}

#[test]
fn a_million_brackets_in_json_are_refused() {
    let folder = shop("deep-json");
    for (what, text) in [("[", "[".repeat(DEEP)), ("{\"a\":", "{\"a\":".repeat(DEEP))] {
        fs::write(folder.join("evidence.json"), &text).unwrap();
        let command = ["verify", "c.pdf", "--trust", "keys/root.pem", "--evidence", "evidence.json"];
        refused(&format!("a million `{what}` in a withheld record"), &folder, &command, "");
        // A journal is only added to by this command.
        fs::write(folder.join("journal/L-26-0432.jsonl"), format!("{text}\n")).unwrap();
        told(&format!("a million `{what}` in a journal"), &run(&folder, &["check", "L-26-0432"]));
    }
}

#[test]
fn a_million_brackets_in_a_certificate_are_refused() {
    let (_, whole) = Demo::get().certificate(demo::SMALL_LOT);
    let key = demo::desk(&Demo::get().folder).seal;
    let folder = shop("deep-pdf");
    let at = |mark: &[u8]| whole.windows(mark.len()).position(|window| window == mark).unwrap();
    for (what, open, close) in [("[", "[", "]"), ("<</A", "<</A ", ">>"), ("(", "(", ")")] {
        for closed in [true, false] {
            let nest = open.repeat(DEEP) + &if closed { close.repeat(DEEP) } else { String::new() };
            let bare = format!("%PDF-1.7\n1 0 obj\n{nest}\nendobj\n");
            fs::write(folder.join("c.pdf"), bare).unwrap();
            refused(
                &format!("a million `{what}` in a file, closed: {closed}"),
                &folder,
                &["verify", "c.pdf"],
                "c.pdf",
            );
            // In the catalog of a certificate that is sealed again with the stolen key.
            let catalog = at(b"/Type/Catalog");
            let spliced = forger::splice(whole, catalog..catalog, format!("/Z {nest}").as_bytes());
            fs::write(folder.join("c.pdf"), forger::reseal(&spliced, &key)).unwrap();
            let command = ["verify", "c.pdf", "--trust", "keys/root.pem"];
            refused(
                &format!("a million `{what}` in a sealed file, closed: {closed}"),
                &folder,
                &command,
                "c.pdf",
            );
        }
    }
}

#[test]
fn a_million_elements_in_a_trace_are_refused() {
    let folder = shop("deep-xml");
    let trace = fs::read(folder.join("traces/L-26-0553-1.x3p")).unwrap();
    for text in ["<a>".repeat(DEEP), "<a>".repeat(DEEP) + &"</a>".repeat(DEEP)] {
        let changed = pack::with(&trace, "main.xml", &pack::Member::stored(text.as_bytes()));
        fs::write(folder.join("t.x3p"), changed).unwrap();
        refused("a million elements in a trace", &folder, &["calculate", "roughness", "t.x3p"], "t.x3p");
    }
}
