//! Handing the evidence out.

use std::fs;
use std::process::Command;

use brightproof::app::issue;
use brightproof::app::issue::Outcome;
use brightproof::app::issue::Target;
use brightproof::app::withheld;
use brightproof::certificate::Evidence;
use brightproof::folder::Folder;

use super::CLOSED;
use super::CONTROLLED;
use super::OPEN;
use super::Shop;
use crate::demo;

#[test]
fn it_is_handed_out_once_to_a_new_private_file() {
    let shop = Shop::get();
    let folder = Folder::new(&shop.folder);
    let out = demo::fresh("withheld-out").join("evidence.json");
    let number = &shop.numbers[CLOSED];
    let handed = withheld::hand_out(&folder, number, &out).unwrap();
    assert_eq!((&handed.number, handed.lots), (number, vec![CLOSED.to_owned()]));
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        assert_eq!(fs::metadata(&out).unwrap().permissions().mode() & 0o777, 0o600);
    }
    let bytes = fs::read(&out).unwrap();
    let read = Evidence::parse(&bytes).unwrap();
    assert_eq!(read, shop.evidence(CLOSED));
    assert_eq!(read.stamp, brightproof::canonical::stamp(&shop.certificate(CLOSED).canonical().unwrap()));
    assert_eq!(withheld::read(std::slice::from_ref(&out)).unwrap(), [read]);
    let told = |result: Result<withheld::Handed, brightproof::app::error::Error>| match result {
        Ok(_) => panic!("handed out"),
        Err(error) => error.to_string(),
    };
    assert!(told(withheld::hand_out(&folder, number, &out)).contains("is there already"));
    let other = out.with_file_name("other.json");
    assert!(told(withheld::hand_out(&folder, &shop.numbers[OPEN], &other)).contains("withholds nothing"));
    assert!(told(withheld::hand_out(&folder, "LBF-2026-000999", &other)).contains("has no certificate"));
    assert!(!other.exists());
    fs::write(&other, b"{}").unwrap();
    assert!(withheld::read(&[other]).unwrap_err().to_string().contains("other.json"));
}

/// A name in the shop's own words of somebody the dossier does not tell of: refused, not printed.
#[test]
fn a_name_nobody_could_mask_is_not_certified() {
    let folder = demo::fresh("withheld-named");
    demo::begin(&folder, "withheld-named");
    demo::change(&folder, &format!("lots/{CLOSED}.yaml"), "seen by Medlar and T. Quince", "seen by S. Sedge");
    let world = demo::world(demo::ISSUED, "withheld-named");
    let mut desk = demo::desk(&folder);
    let targets = [Target::Lot(CLOSED.to_owned())];
    let outcomes = issue::issue(&mut desk, &targets, demo::RELEASES, None, &world, &|| {}).unwrap();
    let Outcome::Failed(error) = &outcomes[0] else { panic!("issued") };
    assert!(error.to_string().contains("S. Sedge is named in a text of it"), "{error}");
}

/// The two commands as typed, with their exit codes: handed out, judged again, and not this certificate's.
#[test]
fn an_auditor_judges_again_at_the_keyboard() {
    let shop = Shop::get();
    let folder = demo::fresh("withheld-typed");
    let run = |words: &[&str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_brightproof"));
        command.current_dir(&folder).env("NO_COLOR", "1").args(words);
        let output = command.output().unwrap();
        (output.status.code().unwrap(), demo::printed(&output))
    };
    let number = |lot: &str| shop.numbers[lot].as_str();
    let file = |lot: &str| format!("{}.pdf", number(lot));
    for lot in [CLOSED, CONTROLLED] {
        fs::write(folder.join(file(lot)), shop.file(lot)).unwrap();
    }
    let at_shop = shop.folder.to_str().unwrap();
    let (code, said) = run(&["--shop", at_shop, "evidence", "record", number(CLOSED), "--out", "e.json"]);
    assert_eq!(code, 0, "{said}");
    assert!(said.contains("with the record of L-26-0501: e.json"), "{said}");
    let (code, said) = run(&["--shop", at_shop, "evidence", "record", number(CLOSED), "--out", "e.json"]);
    assert!(code == 2 && said.contains("e.json is there already"), "{said}");
    let json =
        ["--format", "json", "--shop", at_shop, "evidence", "record", number(CONTROLLED), "--out", "f.json"];
    let (code, said) = run(&json);
    assert!(code == 0 && said.contains("\"L-26-0502\""), "{said}");
    let (code, said) = run(&["verify", &file(CLOSED), "--trust", &shop.root]);
    assert!(code == 0 && said.contains("judgement    not checked"), "{said}");
    let (code, said) = run(&["verify", &file(CLOSED), "--trust", &shop.root, "--evidence", "e.json"]);
    assert!(code == 0 && said.contains("judgement    pass"), "{said}");
    let (code, said) = run(&["verify", &file(CONTROLLED), "--trust", &shop.root, "--evidence", "e.json"]);
    assert!(code == 2 && said.contains("could not be told"), "{said}");
    let both = ["verify", ".", "--trust", &shop.root, "--evidence", "e.json", "--evidence", "f.json"];
    let (code, said) = run(&both);
    assert!(code == 0 && said.matches("judgement    pass").count() == 2, "{said}");
    let text = fs::read_to_string(folder.join("e.json")).unwrap();
    fs::write(folder.join("e.json"), text.replace("78 °F", "79 °F")).unwrap();
    let (code, said) = run(&["verify", &file(CLOSED), "--trust", &shop.root, "--evidence", "e.json"]);
    assert!(code == 1 && said.contains("is not what the certificate was made from"), "{said}");
}
