//! What stands around each page: its style, the links to the others, and a foot that says as of when it holds.

use super::facts::Book;
use super::wording::day;
use crate::html::Html;
use crate::html::document::{BASE, Document};

const STYLE: &str = include_str!("pages.css");

/// The pages that every page leads to.
const LINKS: [(&str, &str); 6] = [
    ("index.html", "Jobs"),
    ("released.html", "May be built"),
    ("calendar.html", "Calendar"),
    ("load.html", "Shop load"),
    ("people.html", "People"),
    ("done.html", "Handed over"),
];

/// A page to be framed.
#[derive(Clone, Copy, Debug)]
pub(super) struct Framed<'p> {
    /// Its file.
    pub(super) file: &'p str,
    /// Its title.
    pub(super) title: &'p str,
    /// What stands under the shop's name at its head.
    pub(super) head: &'p Html,
    /// What stands in it.
    pub(super) main: &'p Html,
    /// Style of its own.
    pub(super) style: &'p str,
    /// False where it is the same on every day.
    pub(super) dated: bool,
}

/// How a page of a folder leads up to the front page's folder.
pub(super) fn up(file: &str) -> &'static str {
    if file.contains('/') { "../" } else { "" }
}

impl Framed<'_> {
    /// The whole page.
    pub(super) fn page(&self, book: &Book) -> String {
        let up = up(self.file);
        let mut body = Html::default();
        body.raw("<a class=\"skip\" href=\"#main\">To the page itself</a><header><p class=\"shop\">")
            .said(&book.shop);
        body.raw("</p><nav aria-label=\"Pages of the book\"><ul>");
        for (file, name) in LINKS {
            let link = format!("{up}{file}");
            let mut attributes = vec![("href", link.as_str())];
            if file == self.file {
                attributes.push(("aria-current", "page"));
            }
            body.raw("<li>").open("a", &attributes).text(name).raw("</a></li>");
        }
        body.raw("</ul></nav>").with(self.head).raw("</header><main id=\"main\">").with(self.main);
        body.raw("</main><footer><p>");
        if self.dated {
            body.raw("As of ").text(&day(book.day));
            if let Some(commit) = book.commit.as_ref().filter(|_| self.file == "index.html") {
                body.raw(", made from commit <code>").text(commit).raw("</code>");
            }
            body.raw(". ");
        }
        body.raw("These pages only show what the book says; they change nothing, send nothing and fetch nothing.</p>");
        if let Some(note) = &book.note {
            body.raw("<p>").said(note).raw("</p>");
        }
        body.raw("</footer>");
        let style = format!("{BASE}{STYLE}{}", self.style);
        let title = format!("{} · {}", self.title, book.shop);
        Document { language: "en", title: &title, pictures: "'self' data:", style: &style, script: None }
            .around(&body)
    }
}
