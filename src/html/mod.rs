//! The one place where text becomes HTML.
//!
//! Markup is a literal of this program and text is anything else, so that no text can become markup. Characters that
//! hide or turn others are replaced, and what people wrote is set apart in its own direction.
//!
//! | file | what it is for |
//! |---|---|
//! | [`document`] | a page from its first line to its last: what it may load, its style, its title |
//! | [`drawing`] | a sheet inside a page: its elements and nothing else |
//! | `base.css` | paper, ink and light, as every page has them |

pub mod document;
pub mod drawing;

use crate::markup::escaped;
use crate::visible::on_one_line;

/// HTML in the making.
#[derive(Clone, Debug, Default)]
pub(crate) struct Html(String);

impl Html {
    /// Markup of this program.
    pub(crate) fn raw(&mut self, markup: &'static str) -> &mut Self {
        self.0.push_str(markup);
        self
    }

    /// Text.
    pub(crate) fn text(&mut self, text: &str) -> &mut Self {
        self.0.push_str(&escaped(&on_one_line(text)));
        self
    }

    /// Text that somebody wrote, in its own direction.
    pub(crate) fn said(&mut self, text: &str) -> &mut Self {
        self.raw("<bdi>").text(text).raw("</bdi>")
    }

    /// Lines of text, each on its own, in the direction of the first letter.
    pub(crate) fn lines(&mut self, text: &str) -> &mut Self {
        for (number, line) in text.lines().enumerate() {
            self.raw(if number > 0 { "<br>" } else { "" }).text(line);
        }
        self
    }

    /// Begins an element.
    pub(crate) fn open(&mut self, name: &'static str, attributes: &[(&'static str, &str)]) -> &mut Self {
        self.0.push('<');
        self.0.push_str(name);
        for (key, value) in attributes {
            self.0.push(' ');
            self.0.push_str(key);
            self.0.push_str("=\"");
            self.text(value);
            self.0.push('"');
        }
        self.0.push('>');
        self
    }

    /// Ends an element.
    pub(crate) fn close(&mut self, name: &'static str) -> &mut Self {
        self.0.push_str("</");
        self.0.push_str(name);
        self.0.push('>');
        self
    }

    /// An element with text in it.
    pub(crate) fn of(&mut self, name: &'static str, text: &str) -> &mut Self {
        self.open(name, &[]).text(text).close(name)
    }

    /// What another part has made.
    pub(crate) fn with(&mut self, other: &Html) -> &mut Self {
        self.0.push_str(&other.0);
        self
    }

    /// Data for the script, as JSON that no end of an element can stand in.
    pub(crate) fn json(&mut self, value: &serde_json::Value) -> &mut Self {
        let text = crate::visible::escaped_json(&value.to_string());
        self.0.push_str(&text.replace('<', "\\u003c").replace('&', "\\u0026"));
        self
    }

    /// The whole.
    #[must_use]
    pub(crate) fn as_str(&self) -> &str {
        &self.0
    }
}

/// A text as part of a link (RFC 3986, 2.3: everything but the unreserved is escaped).
#[must_use]
pub(crate) fn in_link(text: &str) -> String {
    let plain = |b: u8| b.is_ascii_alphanumeric() || matches!(b, b'-' | b'.' | b'_' | b'~');
    let one = |b: u8| if plain(b) { char::from(b).to_string() } else { format!("%{b:02X}") };
    text.bytes().map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_is_never_markup() {
        let hostile = "</bdi><script>alert(1)</script>\u{202e}\u{200b}\"'&\u{0}\n";
        let mut html = Html::default();
        html.open("p", &[("title", hostile)]).said(hostile).lines("a\n<b>").close("p");
        let text = html.as_str();
        assert_eq!(text.matches('<').count(), 5, "p, bdi, /bdi, br and /p: {text}");
        assert!(!text.contains('\u{202e}') && !text.contains('\u{200b}'), "{text}");
        let mut json = Html::default();
        json.json(&serde_json::json!({ "a": "</script><!--\u{2028}\u{202e}&amp;" }));
        assert!(!json.as_str().contains(['<', '&', '\u{2028}', '\u{202e}']), "{}", json.as_str());
        let back: serde_json::Value = serde_json::from_str(json.as_str()).expect("JSON");
        assert_eq!(back["a"], "</script><!--\u{2028}\u{202e}&amp;");
    }

    #[test]
    fn a_link_holds_any_text() {
        assert_eq!(in_link("Ja, ü&?#\r\n"), "Ja%2C%20%C3%BC%26%3F%23%0D%0A");
    }
}
