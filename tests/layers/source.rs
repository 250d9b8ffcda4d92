//! Rust source as the checks see it: comments and string contents blanked out line by line, what only
//! tests compile set apart, and the paths (`a::b::c`) that what is left names.

use std::fs;
use std::path::Path;
use std::path::PathBuf;

/// One file under `src/`.
#[derive(Debug, Clone)]
pub struct Source {
    /// From the project's folder, with `/`: `src/pdf/text.rs`.
    pub name: String,
    /// As it stands in the file.
    pub raw: String,
    /// Without comments and string contents.
    pub code: String,
    /// `code` without what only tests compile.
    pub shipped: String,
}

impl Source {
    /// A source from its text; whole files that only tests compile are told apart by [`tree`].
    pub fn new(name: &str, raw: &str) -> Source {
        let code = blank(raw);
        let shipped = without_tests(&code).0;
        Source { name: name.to_owned(), raw: raw.to_owned(), code, shipped }
    }

    /// The modules from the crate's root down to this file: `src/pdf/text.rs` is `pdf`, `text`.
    pub fn modules(&self) -> Vec<&str> {
        let inside = self.name.strip_prefix("src/").unwrap_or(&self.name);
        inside.strip_suffix(".rs").unwrap_or(inside).split('/').collect()
    }

    /// The module of `lib.rs` this file belongs to.
    pub fn module(&self) -> &str {
        self.modules()[0]
    }
}

/// Every `.rs` file under `src/`, in order of name.
pub fn tree() -> Vec<Source> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut found = Vec::new();
    walk(&root.join("src"), &mut found);
    let mut sources: Vec<Source> = found
        .iter()
        .map(|path| {
            let parts: Vec<&str> =
                path.strip_prefix(root).unwrap().iter().map(|p| p.to_str().unwrap()).collect();
            Source::new(&parts.join("/"), &fs::read_to_string(path).unwrap())
        })
        .collect();
    sources.sort_by(|a, b| a.name.cmp(&b.name));
    let tests: Vec<String> = sources.iter().flat_map(test_files).collect();
    for source in &mut sources {
        let stem = source.name.trim_end_matches(".rs");
        if tests.iter().any(|t| stem == t || stem.starts_with(&format!("{t}/"))) {
            source.shipped = String::new();
        }
    }
    sources
}

fn walk(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            walk(&path, found);
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
}

/// The files, without `.rs`, that this one declares as `#[cfg(test)] mod name;`.
fn test_files(source: &Source) -> Vec<String> {
    let folder = source.name.trim_end_matches(".rs");
    without_tests(&source.code).1.iter().map(|name| format!("{folder}/{name}")).collect()
}

/// Blanks comments and the contents of strings and characters, keeping every line break. Strings in
/// `#[serde(...)]` stay, since serde takes them for code.
pub fn blank(text: &str) -> String {
    let chars: Vec<char> = text.chars().collect();
    let at = |i: usize| chars.get(i).copied().unwrap_or('\0');
    let mut out = String::with_capacity(text.len());
    let mut i = 0;
    let mut serde_depth = 0_usize;
    while i < chars.len() {
        let start = i;
        let c = at(i);
        if c == '/' && at(i + 1) == '/' {
            while i < chars.len() && at(i) != '\n' {
                i += 1;
            }
        } else if c == '/' && at(i + 1) == '*' {
            let mut depth = 0;
            loop {
                let step = match (at(i), at(i + 1)) {
                    ('/', '*') => (2, 1),
                    ('*', '/') => (2, -1),
                    _ => (1, 0),
                };
                i += step.0;
                depth += step.1;
                if depth == 0 || i >= chars.len() {
                    break;
                }
            }
            out.extend(chars[start..i.min(chars.len())].iter().filter(|c| **c == '\n'));
        } else if c == '"' {
            i += 1;
            while i < chars.len() && at(i) != '"' {
                i += if at(i) == '\\' { 2 } else { 1 };
            }
            i += 1;
            push_string(&mut out, &chars[start..i.min(chars.len())], serde_depth > 0);
        } else if c == '\'' && (at(i + 1) == '\\' || at(i + 2) == '\'') {
            i += if at(i + 1) == '\\' { 3 } else { 2 };
            while i < chars.len() && at(i) != '\'' {
                i += 1;
            }
            i += 1;
            out.push_str("' '");
        } else if c.is_alphanumeric() || c == '_' {
            while at(i).is_alphanumeric() || at(i) == '_' {
                i += 1;
            }
            let word: String = chars[start..i].iter().collect();
            let hashes = (i..).take_while(|j| at(*j) == '#').count();
            if matches!(word.as_str(), "r" | "br" | "cr") && at(i + hashes) == '"' {
                i += hashes + 1;
                while i < chars.len() && !(at(i) == '"' && (1..=hashes).all(|h| at(i + h) == '#')) {
                    i += 1;
                }
                i += 1 + hashes;
                push_string(&mut out, &chars[start..i.min(chars.len())], serde_depth > 0);
            } else {
                out.push_str(&word);
            }
        } else {
            i += 1;
            let opens_serde =
                c == '[' && out.ends_with('#') && chars[i..].starts_with(&['s', 'e', 'r', 'd', 'e']);
            match c {
                '[' if serde_depth > 0 || opens_serde => serde_depth += 1,
                ']' => serde_depth = serde_depth.saturating_sub(1),
                _ => {}
            }
            out.push(c);
        }
    }
    out
}

fn push_string(out: &mut String, literal: &[char], keep: bool) {
    out.push('"');
    out.extend(literal.iter().filter(|c| keep && **c != '"' || **c == '\n'));
    out.push('"');
}

/// Blanks every item under `#[cfg(test)]`, and names the modules so declared that have files of their own.
fn without_tests(code: &str) -> (String, Vec<String>) {
    const MARK: &str = "#[cfg(test)]";
    let (mut out, mut files, mut rest) = (String::new(), Vec::new(), code);
    while let Some((before, after)) = rest.split_once(MARK) {
        out.push_str(before);
        let end = item_end(after);
        let item = &after[..end];
        if let Some(name) = item.trim().strip_suffix(';').and_then(|i| i.rsplit_once("mod ")) {
            files.push(name.1.trim().to_owned());
        }
        out.extend(item.chars().filter(|c| *c == '\n'));
        rest = &after[end..];
    }
    out.push_str(rest);
    (out, files)
}

/// Where the item ends that starts here, its other attributes included.
fn item_end(code: &str) -> usize {
    let mut depth = 0_i32;
    for (i, c) in code.char_indices() {
        match c {
            '(' | '[' | '{' => depth += 1,
            ')' | ']' | '}' => depth -= 1,
            _ => {}
        }
        if depth < 0 {
            return i;
        }
        if depth == 0 && matches!(c, ';' | '}') {
            return i + 1;
        }
    }
    code.len()
}

/// A path some code names.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Named<'a> {
    /// The line it starts on, from 1.
    pub line: usize,
    /// Its parts: `a::b` is `a`, `b`. A single word is a path too.
    pub parts: Vec<&'a str>,
    /// What follows when the path ends in `::`, as in `a::{`, `a::*`, `a::<`.
    pub open: Option<char>,
    /// The word just before it, such as `use`.
    pub after: Option<&'a str>,
}

/// The paths in blanked code.
pub fn paths(code: &str) -> Vec<Named<'_>> {
    let tokens = tokens(code);
    let token = |i: usize| tokens.get(i).map_or("", |t| t.1);
    let mut found = Vec::new();
    let mut i = 0;
    while i < tokens.len() {
        if !is_word(token(i)) {
            i += 1;
            continue;
        }
        let line = tokens[i].0;
        let after = i.checked_sub(1).map(token).filter(|t| is_word(t));
        let mut parts = vec![token(i)];
        i += 1;
        while token(i) == "::" && is_word(token(i + 1)) {
            parts.push(token(i + 1));
            i += 2;
        }
        let open = (token(i) == "::").then(|| token(i + 1).chars().next()).flatten();
        found.push(Named { line, parts, open, after });
    }
    found
}

fn is_word(token: &str) -> bool {
    token.starts_with(|c: char| c.is_alphanumeric() || c == '_')
}

/// Words, `::` and single signs, each with its line.
fn tokens(code: &str) -> Vec<(usize, &str)> {
    let mut found = Vec::new();
    let (mut line, mut rest) = (1, code);
    while let Some(c) = rest.chars().next() {
        let length = if is_word(rest) {
            rest.find(|c: char| !(c.is_alphanumeric() || c == '_')).unwrap_or(rest.len())
        } else if rest.starts_with("::") {
            2
        } else {
            c.len_utf8()
        };
        if c == '\n' {
            line += 1;
        }
        // The `r#` of a raw identifier is no part of its name.
        if rest.starts_with("r#") {
            rest = &rest[2..];
            continue;
        }
        if !c.is_whitespace() {
            found.push((line, &rest[..length]));
        }
        rest = &rest[length..];
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(code: &str) -> Vec<String> {
        paths(&blank(code)).iter().map(|p| p.parts.join("::")).collect()
    }

    #[test]
    fn comments_and_strings_are_no_code() {
        let quiet = [
            "// std::fs",
            "/* a /* std::fs */ std::fs */",
            r#""std::fs \" std::fs""#,
            r##"r#"std::fs " std::fs"#"##,
            r##"br#"std::fs"#"##,
            "'\"' // std::fs \"",
            r"'\'' // std::fs",
            r"'\u{1F600}' // std::fs",
        ];
        for code in quiet {
            assert!(!words(code).contains(&"std::fs".to_owned()), "{code}: {:?}", words(code));
            // and the lexer comes out of it again
            let after = format!("{code}\nstd::net");
            assert!(words(&after).contains(&"std::net".to_owned()), "{after}");
            assert_eq!(paths(&blank(&after)).last().unwrap().line, 2, "{after}");
        }
        assert!(words("fn f<'a>(x: &'a str) { std::fs::read(x) }").contains(&"std::fs::read".to_owned()));
        assert_eq!(blank("\"a\nb\"\n/* c\n */ d").lines().count(), 4);
    }

    #[test]
    fn serde_takes_strings_for_code() {
        assert!(words("#[serde(default = \"std::env::args\")] x: u8").contains(&"std::env::args".to_owned()));
        assert!(!words("#[error(\"std::env::args\")] x").contains(&"std::env::args".to_owned()));
        assert!(!words("#[serde(default)] x: &str = \"std::env\"").contains(&"std::env".to_owned()));
    }

    #[test]
    fn paths_are_read_whole() {
        let code = "use a :: b\n ::c; use d::{e}; use f::*; ::g::h(); r#type::i; j::<k>()";
        let found = paths(code);
        let want: Vec<(usize, &str, Option<char>)> = vec![
            (1, "a::b::c", None),
            (2, "d", Some('{')),
            (2, "f", Some('*')),
            (2, "g::h", None),
            (2, "type::i", None),
            (2, "j", Some('<')),
        ];
        let got: Vec<(usize, String, Option<char>)> = found
            .iter()
            .filter(|p| p.parts.len() > 1 || p.open.is_some())
            .map(|p| (p.line, p.parts.join("::"), p.open))
            .collect();
        assert_eq!(got, want.iter().map(|w| (w.0, w.1.to_owned(), w.2)).collect::<Vec<_>>());
        assert_eq!(found[1].after, Some("use"));
    }

    #[test]
    fn what_only_tests_compile_is_set_apart() {
        let code = "use a;\n#[cfg(test)]\n#[allow(x)]\nmod tests { fn f() { b::c(); } }\nuse d;\n\
                    #[cfg(test)]\nmod vectors;\n#[cfg(test)] const N: [u8; 2] = [e::F, 1]; fn g() {}";
        let (shipped, files) = without_tests(code);
        assert_eq!(files, ["vectors"]);
        for (word, kept) in
            [("use a", true), ("b::c", false), ("use d", true), ("e::F", false), ("fn g", true)]
        {
            assert_eq!(shipped.contains(word), kept, "{word} in {shipped}");
        }
        assert_eq!(shipped.lines().count(), code.lines().count());
        let source = Source::new("src/checkpoint/key.rs", code);
        assert_eq!(test_files(&source), ["src/checkpoint/key/vectors"]);
        assert_eq!(source.modules(), ["checkpoint", "key"]);
    }
}
