//! Changing one value in a file that people wrote: everything else, comments and layout too, stays as it is.

use serde_yaml::Spanned;

use super::Node;
use super::Places;
use crate::path::Path;
use crate::path::Segment;

/// The text with another value at a path, which names a single value: one that stands there, or one that its block
/// lacks. `None` where the file is not written in a way that can be changed so; whoever calls reads the result
/// again before it is relied on.
pub fn set(text: &str, path: &Path, value: &str) -> Option<String> {
    let places = Places::of(text);
    let (last, blocks) = path.segments().split_last()?;
    let mut here = places.0.as_ref()?;
    for segment in blocks {
        here = child(here, segment)?;
    }
    let flow = is_flow(text, here) || inside_flow(text, &places, path);
    if let Some(old) = child(here, last) {
        let Node::Scalar(_) = &old.value else { return None };
        let (from, to) = span(text, old)?;
        return Some(splice(text, from..to, &scalar(value, flow)));
    }
    let (Segment::Key(key), Node::Mapping(entries)) = (last, &here.value) else { return None };
    let (first, _) = entries.first()?;
    let entry = format!("{}: {}", scalar(key, flow), scalar(value, flow));
    let (_, last_value) = entries.last()?;
    if flow {
        if let Node::Scalar(_) = &last_value.value {
            let (_, end) = span(text, last_value)?;
            return Some(splice(text, end..end, &format!(", {entry}")));
        }
        let start = byte(text, first.referenced.span().offset());
        return Some(splice(text, start..start, &format!("{entry}, ")));
    }
    let indent = " ".repeat(usize::try_from(first.referenced.column()).ok()?.checked_sub(1)?);
    // Behind the last plain value of the block; behind its line, for a comment may follow.
    let behind = entries.iter().rev().find(|(key, value)| {
        matches!(value.value, Node::Scalar(_)) && key.referenced.line() == value.referenced.line()
    });
    if let Some((_, value)) = behind {
        let (_, end) = span(text, value)?;
        let line = text.get(end..)?.find('\n').map_or(text.len(), |at| end.saturating_add(at));
        return Some(splice(text, line..line, &format!("\n{indent}{entry}")));
    }
    let start = byte(text, first.referenced.span().offset());
    Some(splice(text, start..start, &format!("{entry}\n{indent}")))
}

/// The text with one more block at the end of a list of blocks that stands at its outermost level; with the list, if
/// there is none. `None` where the list is not written in block style.
pub fn append(text: &str, list: &str, entry: &[(&str, &str)]) -> Option<String> {
    let block = |dashes: &str, keys: &str| {
        let mut block = String::new();
        for (index, (key, value)) in entry.iter().enumerate() {
            let before = if index == 0 { dashes } else { keys };
            block.push_str(&format!("{before}{key}: {}\n", scalar(value, false)));
        }
        block
    };
    let closed = |text: &str| if text.is_empty() || text.ends_with('\n') { "" } else { "\n" };
    let places = Places::of(text);
    let Node::Mapping(entries) = &places.0.as_ref()?.value else { return None };
    let Some(position) = entries.iter().position(|(key, _)| key.value == list) else {
        return Some(format!("{text}{}{list}:\n{}", closed(text), block("  - ", "    ")));
    };
    let (_, value) = entries.get(position)?;
    let Node::Sequence(items) = &value.value else { return None };
    if is_flow(text, value) {
        return None;
    }
    let item = items.first()?;
    let column = usize::try_from(item.referenced.column()).ok()?.checked_sub(1)?;
    // Blocks of an item are written behind its dash; a flow block stands there itself.
    let keys = " ".repeat(column);
    let dashes = format!("{}- ", " ".repeat(column.checked_sub(2)?));
    match entries.get(position.saturating_add(1)) {
        None => Some(format!("{text}{}{}", closed(text), block(&dashes, &keys))),
        Some((next, _)) => {
            let start = byte(text, next.referenced.span().offset());
            Some(splice(text, start..start, &block(&dashes, &keys)))
        }
    }
}

fn child<'a>(node: &'a Spanned<Node>, segment: &Segment) -> Option<&'a Spanned<Node>> {
    match (segment, &node.value) {
        (Segment::Key(key), Node::Mapping(entries)) => {
            entries.iter().find(|(k, _)| k.value == *key).map(|(_, value)| value)
        }
        (Segment::Index(index), Node::Sequence(items)) => items.get(*index),
        _ => None,
    }
}

/// Spans count characters.
fn byte(text: &str, characters: impl TryInto<usize>) -> usize {
    let characters = characters.try_into().unwrap_or(usize::MAX);
    text.char_indices().nth(characters).map_or(text.len(), |(at, _)| at)
}

fn span(text: &str, node: &Spanned<Node>) -> Option<(usize, usize)> {
    let span = node.referenced.span();
    let (from, length) = (usize::try_from(span.offset()).ok()?, usize::try_from(span.len()).ok()?);
    (length > 0).then(|| (byte(text, from), byte(text, from.saturating_add(length))))
}

fn is_flow(text: &str, node: &Spanned<Node>) -> bool {
    let at = byte(text, node.referenced.span().offset());
    !matches!(node.value, Node::Scalar(_)) && text.get(at..).is_some_and(|rest| rest.starts_with(['{', '[']))
}

/// Whether any block on the way is in braces, where a comma ends a value.
fn inside_flow(text: &str, places: &Places, path: &Path) -> bool {
    let mut here = places.0.as_ref();
    for segment in path.segments() {
        let Some(node) = here else { return false };
        if is_flow(text, node) {
            return true;
        }
        here = child(node, segment);
    }
    false
}

/// A value as it is written in a file: plain where nobody can misread it, else in quotes.
pub fn scalar(value: &str, flow: bool) -> String {
    let plain = |c: char| {
        c.is_alphanumeric()
            || matches!(c, ' ' | '.' | '-' | '+' | '%' | '°' | '/' | 'µ' | '(' | ')' | ';' | '\'' | '_')
    };
    let more = |c: char| !flow && matches!(c, '[' | ']' | ',');
    // A colon is plain inside a time, where no blank follows it.
    let colons = !value.ends_with(':') && !value.contains(": ");
    let fine = value.chars().all(|c| plain(c) || more(c) || (c == ':' && colons))
        && value.chars().next().is_some_and(|c| c.is_alphanumeric())
        && !value.ends_with(' ')
        && !matches!(value.to_lowercase().as_str(), "null" | "true" | "false" | "yes" | "no" | "on" | "off");
    if fine { value.to_owned() } else { serde_json::Value::from(value).to_string() }
}

fn splice(text: &str, range: std::ops::Range<usize>, with: &str) -> String {
    let before = text.get(..range.start).unwrap_or_default();
    let after = text.get(range.end..).unwrap_or_default();
    format!("{before}{with}{after}")
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "# a lot\nlot: L-1\nruns:\n  - run: \"1\"  # first\n    pieces: 4\n    steps:\n      \
- dip: { bath: N-2, temperature: 91 °F, ids: [a, b] } # hot\n      - rinse: { at: 9 h }\ncounts:\n  kept: 4\n";

    fn changed(path: &str, value: &str) -> String {
        let new = set(TEXT, &path.parse().unwrap(), value).unwrap_or_default();
        let (old, new): (Vec<&str>, Vec<&str>) = (TEXT.lines().collect(), new.lines().collect());
        let gone = old.iter().filter(|line| !new.contains(line)).count();
        let fresh: Vec<&str> = new.into_iter().filter(|line| !old.contains(line)).collect();
        format!("{gone} {}", fresh.join("|"))
    }

    #[test]
    fn one_value_is_changed_and_the_rest_stays() {
        let cases = [
            ("lot", "L-2", "1 lot: L-2"),
            ("runs[0].run", "9", "1   - run: 9  # first"),
            (
                "runs[0].steps[0].dip.temperature",
                "89 °F",
                "1       - dip: { bath: N-2, temperature: 89 °F, ids: [a, b] } # hot",
            ),
            (
                "runs[0].steps[0].dip.ids[1]",
                "c, d",
                "1       - dip: { bath: N-2, temperature: 91 °F, ids: [a, \"c, d\"] } # hot",
            ),
            ("runs[0].steps[1].rinse.by", "T. Quince", "1       - rinse: { at: 9 h, by: T. Quince }"),
            (
                "runs[0].steps[0].dip.by",
                "T. Quince",
                "1       - dip: { by: T. Quince, bath: N-2, temperature: 91 °F, ids: [a, b] } # hot",
            ),
            ("runs[0].by", "yes", "0     by: \"yes\""),
            ("counts.by", "a: b", "0   by: \"a: b\""),
            ("counts.lost", "0", "0   lost: 0"),
            ("material", "x", "0 material: x"),
        ];
        for (path, value, expected) in cases {
            assert_eq!(changed(path, value), expected, "{path}");
        }
    }

    #[test]
    fn what_is_no_single_value_is_left_alone() {
        for path in
            ["runs", "runs[0].steps[0].dip", "runs[4].run", "runs[0].steps[0].dip.ids[7]", "lot.x", ""]
        {
            assert_eq!(set(TEXT, &path.parse().unwrap_or_default(), "x"), None, "{path}");
        }
        assert_eq!(set("[", &"a".parse().unwrap(), "x"), None);
    }

    #[test]
    fn a_block_is_put_at_the_end_of_its_list() {
        let entry = [("at", "runs[0].run"), ("was", "nothing"), ("why", "so: it is")];
        let block = "  - at: runs[0].run\n    was: nothing\n    why: \"so: it is\"\n";
        let once = append("lot: x", "corrections", &entry).unwrap();
        assert_eq!(once, format!("lot: x\ncorrections:\n{block}"));
        assert_eq!(append(&once, "corrections", &entry).unwrap(), format!("{once}{block}"));
        let before = "corrections:\n- at: a\n  was: b\nlot: x\n";
        let block = "- at: runs[0].run\n  was: nothing\n  why: \"so: it is\"\n";
        let expected = format!("corrections:\n- at: a\n  was: b\n{block}lot: x\n");
        assert_eq!(append(before, "corrections", &entry).unwrap(), expected);
        assert_eq!(append("corrections: [{at: b}]\n", "corrections", &entry), None);
        let braces = "corrections:\n  - { at: a }\n";
        let expected = format!("{braces}  - at: runs[0].run\n    was: nothing\n    why: \"so: it is\"\n");
        assert_eq!(append(braces, "corrections", &entry).unwrap(), expected);
    }
}
