//! The pages of a book, for everybody who would rather look than type: what is next and whose it is, a page for each job
//! and each person, what may be built, the calendar, the load of the shop.
//!
//! They are made from a plain view of facts ([`facts`]), judge nothing, fetch nothing and run nothing: filters are style. The
//! same facts give the same bytes. Pure: nothing here reads a file, a clock or a record.
//!
//! | file | what it is for |
//! |---|---|
//! | [`facts`] | what the pages say, before it is HTML |
//! | `frame` | what stands around each page: style, links, foot |
//! | `wording` | days, people and what is waited for, in words |
//! | `board` | the front page: whose turn it is, and the jobs by what matters |
//! | `job` | the page of a job |
//! | `job_parts` | its panels, approvals and tables |
//! | `lists` | what may be built, what is handed over, people |
//! | `days` | the calendar, and the load of the shop by week |

mod board;
mod days;
pub mod facts;
mod frame;
mod job;
mod job_parts;
mod lists;
mod wording;

use self::facts::{Book, Card};
pub(crate) use self::job::page as job;
pub(crate) use self::wording::day;

/// A page of a book: its file, from the front page's folder, and its text.
pub(crate) type Page = (String, String);

/// Every page that is made of many jobs.
#[must_use]
pub(crate) fn overviews(book: &Book, cards: &[Card]) -> Vec<Page> {
    let mut cards: Vec<&Card> = cards.iter().collect();
    cards.sort_by_cached_key(|card| board::order(card));
    let mut pages = vec![
        ("index.html".to_owned(), board::page(book, &cards)),
        ("released.html".to_owned(), lists::released(book, &cards)),
        ("calendar.html".to_owned(), days::calendar(book, &cards)),
        ("load.html".to_owned(), days::load(book, &cards)),
        ("people.html".to_owned(), lists::people(book, &cards)),
        ("done.html".to_owned(), lists::done(book, &cards)),
    ];
    // A date that no calendar can hold is no reason for no pages.
    pages.extend(days::file(book, &cards).map(|file| ("calendar.ics".to_owned(), file)));
    pages.extend(book.people.keys().map(|id| (person_file(id), lists::person(book, id, &cards))));
    pages
}

/// The file of a job's page.
#[must_use]
pub(crate) fn job_file(id: &str) -> String {
    format!("jobs/{id}.html")
}

/// The file of somebody's page.
#[must_use]
pub(crate) fn person_file(id: &str) -> String {
    format!("people/{id}.html")
}
