//! What the command says, word for word: the transcripts in `tests/cli/` and the console blocks of the README,
//! run as they stand. `TRYCMD=overwrite cargo test transcripts` writes those in `tests/cli/` anew.

use std::fs;
use std::path::Path;

use trycmd::TestCases;

/// The command under test, in surroundings that do not depend on who runs it.
fn cases() -> TestCases {
    let cases = TestCases::new();
    cases
        .register_bin("brightproof", Path::new(env!("CARGO_BIN_EXE_brightproof")))
        .env("COLUMNS", "100")
        .env("NO_COLOR", "1");
    cases
}

#[test]
fn transcripts() {
    cases().case("tests/cli/*.md");
}
