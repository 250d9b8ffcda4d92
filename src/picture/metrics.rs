//! How wide a text will be, before a face is chosen: widths of the usual sans serif faces.

/// Text in its usual size: 7 pt.
pub(super) const TEXT: i64 = 700;
/// Heading of a chart: 8.6 pt.
pub(super) const HEAD: i64 = 860;

/// Advance of a character in thousandths of the size: widths of the common sans serif of PDF viewers as
/// recalled from its public font metrics; everything else is taken to be wide.
const fn advance(c: char) -> i64 {
    match c {
        'i' | 'j' | 'l' | '\'' => 222,
        ' ' | '.' | ',' | ':' | ';' | '/' | '!' | 'I' | 'f' | 't' | '[' | ']' | '|' | '\\' | '·' => 278,
        '(' | ')' | '-' | 'r' | '`' => 333,
        '"' => 355,
        '*' => 389,
        '°' => 400,
        '^' => 469,
        'c' | 'k' | 's' | 'v' | 'x' | 'y' | 'z' | 'J' => 500,
        'a' | 'b' | 'd' | 'e' | 'g' | 'h' | 'n' | 'o' | 'p' | 'q' | 'u' | 'L' | '_' | '?' | '–' => 556,
        '0'..='9' | '$' | '#' => 556,
        '+' | '<' | '=' | '>' | '~' | '±' | '×' | '≤' | '≥' | '\u{2212}' => 584,
        'µ' | 'μ' => 576,
        'F' | 'T' | 'Z' => 611,
        'A' | 'B' | 'E' | 'K' | 'P' | 'S' | 'V' | 'X' | 'Y' | '&' => 667,
        'w' | 'C' | 'D' | 'H' | 'N' | 'R' | 'U' => 722,
        'G' | 'O' | 'Q' => 778,
        'm' | 'M' => 833,
        '%' => 889,
        'W' => 944,
        '\u{00c0}'..='\u{024f}' => 722,
        _ => 1_000,
    }
}

/// Estimated width of a text, hundredths of a point, for a size in hundredths of a point: the sum of the
/// characters' usual widths and 15 per cent, because some faces that viewers take are that much wider; bold 7
/// per cent more.
pub fn text_width(text: &str, size: i64, bold: bool) -> i64 {
    let thousandths = text.chars().fold(0_i64, |sum, c| sum.saturating_add(advance(c)));
    let plain = thousandths.saturating_mul(size.clamp(0, 100_000)) / 1_000;
    let plain = plain.saturating_mul(115) / 100;
    if bold { plain.saturating_add(plain / 14) } else { plain }
}

/// The text as it may be drawn: control characters and what XML cannot carry become spaces, ends are trimmed.
pub(super) fn clean(text: &str) -> String {
    let kept = |c: char| if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') { ' ' } else { c };
    text.chars().map(kept).collect::<String>().trim().to_owned()
}

/// The text, shortened with an ellipsis where it is wider than `room`; empty when not even that fits.
pub(super) fn clipped(text: &str, size: i64, bold: bool, room: i64) -> String {
    let text = clean(text);
    if text_width(&text, size, bold) <= room {
        return text;
    }
    let mut kept = String::new();
    for c in text.chars() {
        kept.push(c);
        if text_width(&format!("{kept}…"), size, bold) > room {
            kept.pop();
            break;
        }
    }
    let kept = kept.trim_end();
    if kept.is_empty() { String::new() } else { format!("{kept}…") }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: five figures of 556 thousandths at 10 pt are 27.8 pt, and 15 per cent are 31.97 pt.
    #[test]
    fn widths_by_hand() {
        assert_eq!(text_width("12345", 1_000, false), 3_197);
        assert!(text_width("12345", 1_000, true) > 3_197);
    }

    #[test]
    fn clipped_text_fits() {
        let long = "immersion bath number four, left tank";
        for room in [0, 300, 1_000, 4_000, 100_000] {
            let kept = clipped(long, TEXT, false, room);
            assert!(text_width(&kept, TEXT, false) <= room, "{room}: {kept}");
        }
        assert_eq!(clipped(long, TEXT, false, 100_000), long);
        assert!(clipped(long, TEXT, false, 4_000).ends_with('…'));
        assert_eq!(clean("a\u{0}b\n"), "a b");
    }
}
