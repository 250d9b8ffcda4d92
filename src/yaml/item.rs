//! One more item in a list deep in a file that people wrote: everything else stays as it is.

use serde_yaml::Spanned;

use super::Node;
use super::Places;

/// The text with `item`, written on one line, at the end of the list `list` of the block in `blocks` whose first key
/// says `name`; with the list, where the block has none. `None` where the file is not written in block style; whoever
/// calls reads the result again before it is relied on.
pub fn append_item(text: &str, blocks: &str, name: &str, list: &str, item: &str) -> Option<String> {
    let places = Places::of(text);
    let root = &places.0.as_ref()?.value;
    let Node::Mapping(entries) = root else { return None };
    let (_, all) = entries.iter().find(|(key, _)| key.value == blocks)?;
    let Node::Sequence(items) = &all.value else { return None };
    let block = items.iter().find(|item| item.value.first_value().is_some_and(|first| first == name))?;
    let Node::Mapping(keys) = &block.value else { return None };
    let lines: Vec<&str> = text.split_inclusive('\n').collect();
    let (_, keys_at) = place(block)?;
    let found = keys.iter().find(|(key, _)| key.value == list);
    let (after, added) = match found {
        Some((_, value)) => {
            let Node::Sequence(items) = &value.value else { return None };
            let last = items.last()?;
            let (line, column) = place(last)?;
            let dash = column.checked_sub(2)?;
            // Behind a dash of its own, not between brackets.
            if !lines.get(line)?.get(dash..)?.starts_with('-') {
                return None;
            }
            (end(&lines, line, dash), format!("{}- {item}\n", " ".repeat(dash)))
        }
        None => {
            let (line, column) = place(block)?;
            let dash = column.checked_sub(2)?;
            if !lines.get(line)?.get(dash..)?.starts_with('-') {
                return None;
            }
            let indent = " ".repeat(keys_at);
            (end(&lines, line, dash), format!("{indent}{list}:\n{indent}  - {item}\n"))
        }
    };
    let mut new = String::with_capacity(text.len().saturating_add(added.len()));
    for (index, line) in lines.iter().enumerate() {
        new.push_str(line);
        if index == after {
            if !line.ends_with('\n') {
                new.push('\n');
            }
            new.push_str(&added);
        }
    }
    Some(new)
}

/// Line and column of a node, from 0.
fn place(node: &Spanned<Node>) -> Option<(usize, usize)> {
    let line = usize::try_from(node.referenced.line()).ok()?.checked_sub(1)?;
    Some((line, usize::try_from(node.referenced.column()).ok()?.checked_sub(1)?))
}

/// The last line of what begins behind a dash: all that follows and stands further in.
fn end(lines: &[&str], first: usize, dash: usize) -> usize {
    let inside = |line: &&str| {
        let indent = line.len().saturating_sub(line.trim_start_matches(' ').len());
        !line.trim().is_empty() && indent > dash
    };
    let more = lines.iter().skip(first.saturating_add(1)).take_while(|line| inside(line)).count();
    first.saturating_add(more)
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "# book\nbaths:\n  - bath: A\n    what: x\n  # about B\n  - bath: B # second\n    analyses:\n      - { at: 1,\n          of: 2 }\n      # later\n  - bath: C\n    analyses: [{ at: 1 }]\n";

    #[test]
    fn an_item_is_added_and_the_rest_stays() {
        let added = append_item(TEXT, "baths", "B", "analyses", "{ at: 3 }").unwrap();
        let (before, after) = TEXT.split_at(TEXT.find("  - bath: C").unwrap());
        // Right behind the last item; a remark that follows may be about what comes next.
        let before = before.trim_end_matches("      # later\n");
        assert_eq!(added, format!("{before}      - {{ at: 3 }}\n      # later\n{after}"));
        let added = append_item(TEXT, "baths", "A", "analyses", "{ at: 3 }").unwrap();
        let (before, after) = TEXT.split_at(TEXT.find("  # about B").unwrap());
        assert_eq!(added, format!("{before}    analyses:\n      - {{ at: 3 }}\n{after}"));
        assert_eq!(append_item(TEXT, "baths", "C", "analyses", "{ at: 3 }"), None);
        assert_eq!(append_item(TEXT, "baths", "D", "analyses", "{ at: 3 }"), None);
        assert_eq!(append_item("[", "baths", "D", "analyses", "{ at: 3 }"), None);
        let open = "baths:\n  - bath: A\n    analyses:\n      - { at: 1 }";
        assert_eq!(
            append_item(open, "baths", "A", "analyses", "{ at: 3 }").unwrap(),
            format!("{open}\n      - {{ at: 3 }}\n")
        );
    }
}
