//! A page from its first line to its last. What it may load is sealed in its head: its own style, at most its own script,
//! and pictures from where they are said to lie.

use base64ct::{Base64, Encoding as _};
use sha2::{Digest as _, Sha256};

use super::Html;

/// Paper, ink and light, as every page has them: the beginning of each page's style.
pub(crate) const BASE: &str = include_str!("base.css");

/// What a page is made of besides its body.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Document<'d> {
    /// Its language, as a tag.
    pub language: &'d str,
    /// Its title.
    pub title: &'d str,
    /// Where its pictures lie, as a policy names it.
    pub pictures: &'d str,
    /// Its whole style.
    pub style: &'d str,
    /// Its script, where it has one.
    pub script: Option<&'d str>,
}

impl Document<'_> {
    /// The page with its body.
    #[must_use]
    pub(crate) fn around(&self, body: &Html) -> String {
        let Document { language, title, pictures, style, script } = self;
        let scripts = script.map_or_else(|| "'none'".to_owned(), |script| format!("'{}'", sealed(script)));
        let policy = format!(
            "default-src 'none'; img-src {pictures}; style-src '{}'; script-src {scripts}; base-uri 'none'; \
             form-action 'none'",
            sealed(style)
        );
        let mut start = Html::default();
        start.raw("<!doctype html>\n").open("html", &[("lang", language)]);
        start.raw("<head><meta charset=\"utf-8\">");
        start.open("meta", &[("http-equiv", "Content-Security-Policy"), ("content", &policy)]);
        start.raw(
            "<meta name=\"viewport\" content=\"width=device-width,initial-scale=1\"><meta name=\"color-scheme\" \
             content=\"light dark\"><meta name=\"referrer\" content=\"no-referrer\"><meta name=\"format-detection\" \
             content=\"telephone=no\"><link rel=\"icon\" href=\"data:,\">",
        );
        let script = script.map(|script| format!("<script>{script}</script>")).unwrap_or_default();
        start.of("title", title);
        format!(
            "{}<style>{style}</style></head>\n<body>{}{script}</body></html>\n",
            start.as_str(),
            body.as_str()
        )
    }
}

/// The digest by which a policy lets a style or a script in.
fn sealed(text: &str) -> String {
    format!("sha256-{}", Base64::encode_string(&Sha256::digest(text.as_bytes())))
}
