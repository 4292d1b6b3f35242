//! Text from outside on somebody's screen: what a terminal would obey or hide instead of showing it.
//!
//! Names, titles, messages and questions come from anybody. They are kept as they are and made harmless once, where
//! they are printed. What is not here: letters that merely look like others; that is `lookalike`.

/// Shown in place of what is neutralised (U+FFFD).
pub(crate) const REPLACEMENT: char = '\u{fffd}';

/// True for a character that a screen obeys (control characters, escape, marks of direction) or that leaves no ink
/// and would hide a difference (zero width, separators, fillers, tags). Line feed and tab count here too.
#[must_use]
pub fn is_hidden(c: char) -> bool {
    c.is_control()
        || matches!(c,
            '\u{ad}' | '\u{34f}' | '\u{61c}' | '\u{115f}' | '\u{1160}' | '\u{17b4}' | '\u{17b5}'
            | '\u{180b}'..='\u{180f}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}' | '\u{3164}' | '\u{feff}' | '\u{ffa0}' | '\u{fff0}'..='\u{fffb}'
            | '\u{1d173}'..='\u{1d17a}' | '\u{e0000}'..='\u{e0fff}')
}

/// A text of one or several lines, each hidden character replaced; line feeds and tabs stay, and a carriage return
/// where a line feed follows.
#[must_use]
pub(crate) fn visible(text: &str) -> String {
    let mut shown = String::with_capacity(text.len());
    let mut rest = text.chars().peekable();
    while let Some(c) = rest.next() {
        let layout = c == '\n' || c == '\t' || (c == '\r' && rest.peek() == Some(&'\n'));
        shown.push(if is_hidden(c) && !layout { REPLACEMENT } else { c });
    }
    shown
}

/// A name or value that has to stay on its line: line feeds and tabs are replaced as well.
#[must_use]
pub(crate) fn on_one_line(text: &str) -> String {
    text.chars().map(|c| if is_hidden(c) { REPLACEMENT } else { c }).collect()
}

/// JSON as text in which each hidden character of a string stands as `\u....`, which every reader takes for the same.
#[must_use]
pub(crate) fn escaped_json(json: &str) -> String {
    let mut shown = String::with_capacity(json.len());
    for c in json.chars() {
        if is_hidden(c) && c != '\n' {
            // Outside strings JSON has no such character but the line feed; inside, a line feed is escaped already.
            for unit in c.encode_utf16(&mut [0; 2]) {
                shown.push_str(&format!("\\u{unit:04x}"));
            }
        } else {
            shown.push(c);
        }
    }
    shown
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_screen_obeys_is_shown_and_text_is_left_alone() {
        for plain in ["Quay bar, 2 × 3 m²", "åäö ñ 光 ✓", "a\tb\nc", "ab\r\ncd\r\n", ""] {
            assert_eq!(visible(plain), plain);
        }
        for (text, shown) in [
            ("\u{1b}[2Jx", "\u{fffd}[2Jx"),
            ("a\rb", "a\u{fffd}b"),
            ("\u{9b}31m", "\u{fffd}31m"),
            ("a\u{202e}b\u{2066}c\u{200f}d\u{61c}", "a\u{fffd}b\u{fffd}c\u{fffd}d\u{fffd}"),
            ("a\u{2028}b\u{2029}c\u{200b}d\u{feff}", "a\u{fffd}b\u{fffd}c\u{fffd}d\u{fffd}"),
            ("\u{7}\u{8}\u{0}\u{7f}", "\u{fffd}\u{fffd}\u{fffd}\u{fffd}"),
        ] {
            assert_eq!(visible(text), shown);
        }
        assert_eq!(on_one_line("a\nb\tc"), "a\u{fffd}b\u{fffd}c");
    }

    #[test]
    fn json_stays_the_same_value() {
        let value =
            serde_json::json!({ "by": "Tom\u{1b}[31m\u{202e}\u{9b}\u{e0041}\n\u{2028}", "plain": "ü" });
        for text in [format!("{value:#}"), value.to_string()] {
            let shown = escaped_json(&text);
            assert!(!shown.chars().any(|c| is_hidden(c) && c != '\n'), "{shown:?}");
            assert_eq!(serde_json::from_str::<serde_json::Value>(&shown).expect("JSON"), value);
        }
    }
}
