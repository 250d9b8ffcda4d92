//! A certificate's file with one reference, name or word altered, and no byte more or less: each way of leading a
//! viewer elsewhere is refused, and named.
#![allow(clippy::unwrap_used, reason = "a test stops at the first surprise")]

use brightproof::pdf::read_sealed;

use crate::demo::Demo;

/// The file with `to` in place of the first `from` after `mark`.
fn altered(file: &[u8], mark: &str, from: &str, to: &str) -> Vec<u8> {
    assert_eq!(from.len(), to.len(), "offsets must stay");
    let find =
        |bytes: &[u8], what: &str| bytes.windows(what.len()).position(|w| w == what.as_bytes()).unwrap();
    let start = find(file, mark);
    let at = start + find(&file[start..], from);
    [&file[..at], to.as_bytes(), &file[at + from.len()..]].concat()
}

/// What stands between `before` and `after` in the file's words.
fn between<'a>(file: &'a [u8], before: &str, after: char) -> &'a str {
    let at = file.windows(before.len()).position(|w| w == before.as_bytes()).unwrap() + before.len();
    let rest = &file[at..];
    std::str::from_utf8(&rest[..rest.iter().position(|b| *b == after as u8).unwrap()]).unwrap()
}

#[test]
fn each_way_of_leading_elsewhere_is_named() {
    let demo = Demo::get();
    let file = demo.files.values().next().unwrap();
    assert!(read_sealed(file).is_ok());
    let seal = between(file, "/FT/Sig", '>').split_once("/V ").unwrap().1.to_owned();
    let stream = between(file, "/EF<</F ", '/').to_owned();
    let spec = between(file, "/AF[", ']').to_owned();
    let info = between(file, "/Info ", '/').to_owned();
    let other = format!("/EF<</F {spec}/UF {spec}");
    let range = format!("/ByteRange[{}]{}", between(file, "/ByteRange[", ']'), " ".repeat(20));
    let two = range.rsplit_once(|c: char| c.is_ascii_digit()).unwrap().0.rsplit_once(' ').unwrap().0;
    let huge = format!("{:1$}", format!("{two} {}]", usize::MAX), range.len());
    assert_eq!((spec.len(), seal.len(), huge.len()), (stream.len(), stream.len(), range.len()));
    let encrypt = format!("/Encrypt {}", "1".repeat(format!("/Info {info}").len() - "/Encrypt ".len()));
    let cases = [
        ("/FT/Sig", format!("/V {seal}"), format!("/W {seal}"), "the seal's field holds no seal"),
        ("/FT/Sig", format!("/V {seal}"), format!("/V {spec}"), "refers to something else than the seal"),
        ("/Filespec", "/UF<FEFF".into(), "/UX<FEFF".into(), "it has no name"),
        (
            "/Filespec",
            "/UF<FEFF004C".into(),
            "/UF<FEFF004D".into(),
            "the list of attachments names something else",
        ),
        ("/Filespec", "/EF<</F ".into(), "/EF<</G ".into(), "it holds no file"),
        ("/EF<<", format!("/UF {stream}"), format!("/UF {spec}"), "it holds two files"),
        ("/Filespec", format!("/EF<</F {stream}/UF {stream}"), other, "it holds no stream"),
        ("/EmbeddedFile/", "/FlateDecode".into(), "/FlateDecodf".into(), "it is packed in an unknown way"),
        ("\ntrailer\n", format!("/Info {info}"), encrypt, "the file is encrypted"),
        ("/ByteRange", range, huge, "its range is not four whole numbers"),
    ];
    for (mark, from, to, why) in cases {
        let error = read_sealed(&altered(file, mark, &from, &to)).unwrap_err().to_string();
        assert!(error.contains(why), "{to}: {error}");
    }
}
