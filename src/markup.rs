//! Text inside drawings: SVG is XML, and XML has its own signs.

/// A text as XML content or attribute, without characters that XML 1.0 forbids.
#[must_use]
pub(crate) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\t' | '\n' | '\r' => out.push(' '),
            '\u{0}'..='\u{1f}' | '\u{fffe}' | '\u{ffff}' => out.push('\u{fffd}'),
            _ => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// XML 1.0 (fifth edition), 2.2 and 2.4.
    #[test]
    fn signs_of_xml_are_escaped_and_forbidden_characters_replaced() {
        assert_eq!(escaped("a<b & \"c\"'\u{1}\n"), "a&lt;b &amp; &quot;c&quot;&#39;\u{fffd} ");
        let text = escaped("\u{0}\u{8}\u{fffe}é µ²");
        assert!(roxmltree::Document::parse(&format!("<t>{text}</t>")).is_ok(), "{text:?}");
    }
}
